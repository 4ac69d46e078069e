"""Owns a kit of a few fixed resistors: what values they make, and which of them test a scale from end to end."""

from itertools import combinations
from typing import NamedTuple

import numpy as np

from engine.curves import Curve
from engine.preferred_values import Parts

# Beyond so many parts a pair is near enough to anything, and three in series are not needed.
MOST_IN_KIT = 6
# Two test points closer than this on the scale [percent] tell the same.
APART = 6.0


class TestPoint(NamedTuple):
    """A value the kit makes: its `parts` and `ohm` [ohm] together, and the `percent` of the scale it stands for."""

    __test__ = False  # not a pytest class

    percent: float
    ohm: float
    parts: tuple[float, ...]


def values(ohms: tuple[float, ...]) -> tuple[Parts, ...]:
    """All that `ohms` [ohm] make alone, two in series or side by side, or three in series; rising, each value once.

    Three resistors make ten values. Kirchhoff's laws; any circuit text.

    >>> [round(made.ohm, 2) for made in values((33.0, 100.0, 220.0))]
    [24.81, 28.7, 33.0, 68.75, 100.0, 133.0, 220.0, 253.0, 320.0, 353.0]
    """
    parts = tuple(sorted(float(ohm) for ohm in ohms))
    made = {ohm: (ohm,) for ohm in parts}
    for pair in combinations(parts, 2):
        for ohm in (sum(pair), pair[0] * pair[1] / sum(pair)):
            made.setdefault(round(ohm, 9), pair)
    if len(parts) <= MOST_IN_KIT:
        for three in combinations(parts, 3):
            made.setdefault(round(sum(three), 9), three)
    return tuple(Parts(made[ohm], ohm) for ohm in sorted(made))


def nearest_value(ohms: tuple[float, ...], wanted_ohm: float) -> Parts:
    """What `ohms` make nearest to `wanted_ohm` [ohm] in ratio, with as few parts as do it."""
    return min(values(ohms), key=lambda made: (round(abs(float(np.log(made.ohm / wanted_ohm))), 9), len(made.parts)))


def test_points(curve: Curve, ohms: tuple[float, ...], count: int = 5) -> tuple[TestPoint, ...]:
    """Up to `count` values of the kit on the scale of `curve` [percent], spread over it as evenly as they lie; rising.

    Both ends of what lies on the scale are taken, then always the value
    farthest from those taken: mid values tell a family, ends move any gauge.
    """
    points = [TestPoint(float(curve.temperature_at(made.ohm)), made.ohm, made.parts) for made in values(ohms)]
    left = sorted((p for p in points if -1.0 <= p.percent <= 101.0), key=lambda p: (p.percent, len(p.parts)))
    taken = left[:1] + left[-1:] if len(left) > 1 else left
    while len(taken) < min(count, len(left)):
        far = max(left, key=lambda p: (round(min(abs(p.percent - t.percent) for t in taken), 6), -len(p.parts)))
        if min(abs(far.percent - t.percent) for t in taken) < APART:
            break
        taken.append(far)
    return tuple(sorted(taken))


test_points.__test__ = False  # not a pytest case
