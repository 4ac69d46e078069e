"""Owns whether ohms measured between several points can all be so: resistances between points obey the triangle rule."""

from typing import NamedTuple

# The leads' own ohms, which drift, and the meter's error, on each number (common practice, no source).
LEADS_OHM, METER_SHARE = 1.5, 0.03


class Impossible(NamedTuple):
    """Three points whose ohms cannot hold together: `far` [ohm] is more than the way over the third point."""

    points: tuple[str, str, str]
    far: float
    round_about: float


def impossible(between: tuple[tuple[str, str, float], ...]) -> tuple[Impossible, ...]:
    """Triples of `between` (point, point, ohms) that contradict each other, worst first.

    In any network of resistors the ohms between two points are at most those
    over a third one: R(a, c) <= R(a, b) + R(b, c) (the resistance distance is
    a metric: Klein and Randic 1993, from memory).
    """
    ohms = {frozenset((a, b)): ohm for a, b, ohm in between}
    points, out = sorted({point for pair in ohms for point in pair}), []
    for i, a in enumerate(points):
        for j, b in enumerate(points[i + 1:], start=i + 1):
            for c in points[j + 1:]:
                sides = [ohms.get(frozenset(pair)) for pair in ((a, b), (b, c), (a, c))]
                if None in sides:
                    continue
                far = max(sides)
                rest = sum(sides) - far
                if far * (1.0 - METER_SHARE) > rest * (1.0 + METER_SHARE) + 2.0 * LEADS_OHM:
                    out.append(Impossible((a, b, c), far, rest))
    return tuple(sorted(out, key=lambda one: (one.round_about - one.far, one.points)))
