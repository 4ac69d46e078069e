"""Owns what one job hooks up: hook-ups that are alike once, those that nothing typed hangs on not at all."""

from typing import NamedTuple

import numpy as np

from engine.model import Model
from engine.procedures import Hookup, TestKind, hookup
from engine.readings import Reading
from engine.terms import Term

# These hang on no volts: the return's ohms, measured with the module off, and a thermometer beside the part.
OFF_THE_CIRCUIT = ("return-ohms", "at")


class Hooked(NamedTuple):
    """The hook-ups of a job: in front those that numeric terms hang on, `numeric`; the signs' come last.

    `place` gives each reading's hook-up (none where nothing hangs on it), `low_end` by reading that of a sweep's low end,
    `plugged` the sensor's as found where a number may have been read on its way from there, `late` those it may be on its
    way to.
    """

    hook: Hookup
    numeric: Hookup
    place: dict[int, int]
    low_end: dict[int, int]
    plugged: int | None
    late: tuple[int, ...]


def everything(model: Model, readings: tuple[Reading, ...], tests: tuple[TestKind, ...]) -> Hookup:
    """Behind the readings' own hook-ups: the low end of each sweep, the plugged sensor as found, then at the signs' values."""
    dial, low_end = model.sweep_low_end()
    sweeps = sum(test.measures == "sweep" for test in tests)
    plugged = TestKind("", "", "sensor", "return", "shows", 0.0, "plugged-key-on", pins=dial.pins)
    at = tuple(Reading("", at=(t, model.setup.quantity.unit)) for t in model.setup.quantity.sign_at) if model.setup.signs else ()
    return hookup(tests + (dial,) * sweeps + (plugged,) * (1 + len(at)), (*readings, *(low_end,) * sweeps, Reading(""), *at),
                  model.end_to_end_ohm, model.setup.stand_in.lead_ohm)


def hooked(model: Model, readings: tuple[Reading, ...], tests: tuple[TestKind, ...], terms: tuple[Term, ...], whole: Hookup) -> Hooked:
    """Of the `whole` of hook-ups those that `terms`, words and signs hang on."""
    sweeps = [i for i, test in enumerate(tests) if test.measures == "sweep"]
    found = len(readings) + len(sweeps)
    early = [found] if len(model.pick(np.arange(len(model))).having("too-soon")) else []
    numbers = sorted({term.reading for term in terms if term.kind not in OFF_THE_CIRCUIT})
    words = [i for i, (reading, test) in enumerate(zip(readings, tests, strict=True))
             if test.measures not in ("good", "return-ohms") or reading.shows is not None]
    # What cannot be told apart has one place; nan would not be its own like.
    alike = [tuple(None if value != value else value for value in each)
             for each in zip(*(part.tolist() for part in whole), strict=True)]
    places: dict[tuple, int] = {}
    kept: list[int] = []
    for i in (*numbers, *early, *words):
        if places.setdefault(alike[i], len(kept)) == len(kept):
            kept.append(i)
    place = {i: places[alike[i]] for i in (*numbers, *words)}
    front = len({places[alike[i]] for i in (*numbers, *early)})
    low_end = {i: len(kept) + k for k, i in enumerate(sweeps)}
    hook = Hookup(*(part[[*kept, *range(len(readings), found), *range(found + 1, len(whole))]] for part in whole))
    late = dict.fromkeys(place[i] for i in place if not whole.sensor[i]) if early else ()
    return Hooked(hook, Hookup(*(part[:front] for part in hook)), place, low_end, places[alike[found]] if early else None, tuple(late))
