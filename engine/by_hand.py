"""Owns results that are no number: good or bad by eye or hand, and a shown number that will not stand still."""

import numpy as np

from engine.faults import CONTACTS, HARNESS_SIDE, SENSOR_SIDE, Rows
from engine.procedures import TestKind
from engine.readings import Reading

# How often a number jumps: by contacts that pass current through added ohms, by anything else, by what comes and goes
# in the current's way (common practice, no source).
CONTACT_JUMPS, ANYTHING_JUMPS, COMING_AND_GOING = 0.06, 0.006, 0.3


def unsteady(test: TestKind, rows: Rows) -> np.ndarray:
    """Chance (f,) of a jumping number; next to nothing for what comes and goes, whose own chance `jumps` gives."""
    out = np.array([CONTACT_JUMPS if kind.effect in CONTACTS and _in_path(test, kind.effect) else ANYTHING_JUMPS
                    for kind in rows.kinds])
    out[rows.intermittent] = 1e-13
    return out


def jumps(tests: tuple[TestKind, ...], readings: tuple[Reading, ...], rows: Rows) -> np.ndarray:
    """Chance (r, n) that each reading jumps by each intermittent row; 0 where it did not jump."""
    out = np.zeros((len(readings), len(rows.intermittent)))
    for i, (test, reading) in enumerate(zip(tests, readings, strict=True)):
        if reading.shows in ("jumps", "drifts"):
            out[i] = [COMING_AND_GOING if _in_path(test, rows.kinds[k].effect) else ANYTHING_JUMPS
                      for k in rows.intermittent]
    return out


def _in_path(test: TestKind, effect: str) -> bool:
    """Whether a fault of this effect lies in the current's way in this test."""
    if effect in SENSOR_SIDE:
        return test.element == "sensor"
    if effect in HARNESS_SIDE:
        return test.to != "module" and not (effect.startswith("return") and test.to == "chassis")
    return True


def bad_chance(test: TestKind, rows: Rows, bad: bool) -> np.ndarray:
    """Chance (f,) of a bad finding (or, with `bad` False, of a good one) of a test judged by eye or hand."""
    table = dict(test.bad)
    chance = np.array([table.get(kind.id, test.false_alarm) for kind in rows.kinds])
    return chance if bad else 1.0 - chance
