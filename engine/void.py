"""Owns which measurements are void: taken so that their number says nothing, to be asked again and never averaged."""

from typing import NamedTuple

from engine.ground_ohms import impossible
from engine.readings import Reading

# The same resistance both ways round, give or take the meter and the leads (common practice, no source).
SWAPPED_WITHIN, SWAPPED_WITHIN_OHM = 1.10, 2.0
# Two measurements of one thing that differ more than contacts and meter explain.
SAME_WITHIN, SAME_WITHIN_OHM = 1.25, 3.0
SAME_AT_C = 3.0


class Void(NamedTuple):
    """A void reading by its index, and why: swapped, in-circuit, impossible, unloaded or contradictory."""

    reading: int
    reason: str


def void_readings(readings: tuple[Reading, ...]) -> tuple[Void, ...]:
    """Void readings among `readings`, in order.

    Ohms that differ with the meter's leads swapped have a voltage in the
    way; ohms taken in circuit measure what hangs beside; ohms between
    several grounds that no network has are all void; a supply that nothing
    draws from says nothing of what it holds under load; two values of one
    resistance that contradict each other are both void.
    """
    out = []
    for i, reading in enumerate(readings):
        if reading.in_circuit:
            out.append(Void(i, "in-circuit"))
        elif reading.between and impossible(reading.between):
            out.append(Void(i, "impossible"))
        elif reading.loaded is False:
            out.append(Void(i, "unloaded"))
        elif reading.ohms_swapped is not None and not _alike(reading.ohms, reading.ohms_swapped, SWAPPED_WITHIN,
                                                             SWAPPED_WITHIN_OHM):
            out.append(Void(i, "swapped"))
    gone = {void.reading for void in out}
    left = [(i, r) for i, r in enumerate(readings) if r.ohms is not None and i not in gone]
    for i, reading in left:
        if any(_same_thing(reading, other) and not _alike(reading.ohms, other.ohms, SAME_WITHIN, SAME_WITHIN_OHM)
               for j, other in left if j != i):
            out.append(Void(i, "contradictory"))
    return tuple(sorted(out))


def _same_thing(first: Reading, second: Reading) -> bool:
    if first.test != second.test:
        return False
    if first.at is None or second.at is None:
        # A sensor's ohms at a temperature nobody wrote down may have been another temperature's.
        return first.at is second.at and "open" not in (first.ohms, second.ohms)
    return abs(first.at_c - second.at_c) < SAME_AT_C and "open" not in (first.ohms, second.ohms)


def _alike(first: float | str | None, second: float | str, within: float, within_ohm: float) -> bool:
    if isinstance(first, str) or isinstance(second, str) or first is None:
        return first == second
    low, high = sorted((first, second))
    return high - low <= within_ohm or high <= within * low
