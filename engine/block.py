"""Owns how a block of samples of one row is laid out: one column of numbers a quantity, so that loops take eight at once.

A block is one flat array; quantity q of sample s stands at q + s. Columns are known before anything runs, which is what lets
loops be made of many lanes: nothing that is written can lie upon what is read.
"""

from collections import namedtuple

import numpy as np

from engine.circuit_state import AT, HEALTHY
from engine.compiled import inlined
from engine.packed import OF
from engine.seen import WIDTH
from engine.three_wire import OF3
from engine.unknowns import Z

# Samples of a block, a multiple of the lanes; these hold twice as many as `engine.many` takes, so that every second one is many too.
B, LANES = 64, 16


def _columns(names: tuple[str, ...], start: int) -> tuple[tuple, int]:
    """Columns of `names` from `start` on, and where the next ones start."""
    return namedtuple("Columns", names)(*range(start, start + len(names) * B, B)), start + len(names) * B


# The severity share and the unknowns as standard normals; the quantities behind them; the circuit; what feeds the plug, on the
# first pull-up and on a second, and what else hook-ups share; room for one hook-up; then what hook-ups show.
POINT, _next = _columns(("share", "healthy"), 0)
Z_AT, _next = _columns(Z._fields, _next)
OF_AT, _end = _columns(OF._fields, _next)
OF3_AT, _next = _columns(OF3._fields, _next)
_next = max(_end, _next)
STATE, _next = _columns(AT._fields, _next)
FEED, _next = _columns(("volts", "ohm", "open_v", "wire_share", "real_open_v", "per_open", "source_ohm", "ln_source",
                        "chassis_v", "siemens", "amps"), _next)
ROOM, SEEN = _columns(("at", "inverse", "ln_ohm", "position", "own", "element", "below", "ground_v", "plug_v", "share", "one", "two"), _next)
HOOK = WIDTH * B
# A circuit in order, in every sample.
IN_ORDER = np.repeat(HEALTHY, B)


def block_of(hooks: int) -> np.ndarray:
    """Room for a block on so many hook-ups, its circuit in order."""
    block = np.zeros(SEEN + max(hooks, 1) * HOOK, np.float32)
    block[STATE[0]:STATE[0] + len(IN_ORDER)] = IN_ORDER
    return block


@inlined
def lanes(count: int) -> int:
    """How many samples are computed where `count` are asked for: whole lanes."""
    return (count + LANES - 1) // LANES * LANES
