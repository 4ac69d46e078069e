"""Owns preferred resistor values (IEC 60063), and the nearest part or pair to a wanted value."""

import math
from typing import NamedTuple

import numpy as np

from engine.errors import InputError
from engine.units import finite

# E96 follows 10^(k/96) to three figures; E24 was laid down before the rule and departs from 10^(k/24) at eight values
# (2.7 3.0 3.3 3.6 3.9 4.3 4.7 8.2), so it is written out. E12 is every second one of E24 (IEC 60063).
_E24 = (10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91)
# Series -> one decade as whole numbers, so that 4.7 kohm is 4700 and not 4699.999...
DECADES: dict[str, tuple[int, ...]] = {"E12": _E24[::2], "E24": _E24,
                                       "E96": tuple(round(100 * 10 ** (k / 96)) for k in range(96))}
SMALLEST_OHM, LARGEST_OHM = 0.1, 1e8
DRAWER_LOW_OHM, DRAWER_HIGH_OHM = 10.0, 1e6
# Ratios closer than this count as equal, so that no rounding of a sum decides between a part and a pair.
SAME_LN = 9


class Parts(NamedTuple):
    """One part or two: their ohms `parts` and what they make together, `ohm` [ohm]."""

    parts: tuple[float, ...]
    ohm: float


def preferred(series: str = "E24", low_ohm: float = DRAWER_LOW_OHM, high_ohm: float = DRAWER_HIGH_OHM) -> tuple[float, ...]:
    """All values [ohm] of `series` (E12, E24 or E96, IEC 60063) from `low_ohm` to `high_ohm`, rising.

    Raises InputError for another series, or ends beyond 0.1 ohm to 100 Mohm or the wrong way round.

    >>> preferred("E12", 100, 220)
    (100.0, 120.0, 150.0, 180.0, 220.0)
    """
    if series not in DECADES:
        raise InputError("series", series, f"it is one of {', '.join(DECADES)}")
    low = finite(low_ohm, "low_ohm", SMALLEST_OHM, LARGEST_OHM, "ohms from 0.1 to 1e8")
    high = finite(high_ohm, "high_ohm", low, LARGEST_OHM, "ohms from low_ohm to 1e8")
    steps = DECADES[series]
    decades = range(math.floor(math.log10(low)) - 1, math.ceil(math.log10(high)) + 1)
    every = [_scaled(step, decade - (1 if steps[0] == 10 else 2)) for decade in decades for step in steps]
    return tuple(ohm for ohm in every if low <= ohm <= high)


def nearest(ohm: float, series: str = "E24", count: int = 1) -> tuple[float, ...]:
    """The `count` values of `series` nearest to `ohm` [ohm] in ratio, as tolerances are ratios; rising.

    >>> nearest(5000, "E24", 3)
    (4700.0, 5100.0, 5600.0)
    """
    around = _around(ohm, series, count)
    return tuple(sorted(sorted(around, key=lambda value: (abs(math.log(value / ohm)), value))[:count]))


def next_at_or_above(ohm: float, series: str = "E24") -> float:
    """The first value [ohm] of `series` that is not below `ohm` [ohm].

    >>> next_at_or_above(184, "E96")
    187.0
    """
    return next(value for value in _around(ohm, series, 1) if value >= ohm)


def nearest_parts(ohms: tuple[float, ...], wanted_ohm: float, pairs: bool = True) -> Parts:
    """The part among `ohms`, or with `pairs` also two of them in series or parallel, nearest to `wanted_ohm` [ohm] in ratio.

    A value stands for as many parts as it is listed. A single part wins over a
    pair that is no nearer. For each part only its best partners are looked at
    (the sum and the parallel value rise with the partner), so a full E24 drawer
    takes about 0.2 ms. Kirchhoff's laws; any circuit text.
    """
    part = np.sort(np.asarray(ohms, float))
    options = [(self_ohm, (self_ohm,)) for self_ohm in part[_window(part, np.array([wanted_ohm]))[0]].tolist()]
    if pairs and len(part) > 1:
        with np.errstate(divide="ignore"):
            beside = np.where(part > wanted_ohm, 1.0 / np.maximum(1.0 / wanted_ohm - 1.0 / part, 0.0), np.inf)
        for joined, partner in ((np.add, wanted_ohm - part), (_parallel, beside)):
            other = _window(part, partner)
            ohm = joined(part[:, None], part[other])
            off = np.where(other == np.arange(len(part))[:, None], np.inf, np.abs(np.log(ohm / wanted_ohm)))
            first, second = np.nonzero(np.round(off, SAME_LN) == np.round(off.min(), SAME_LN))
            options += [(float(ohm[i, j]), tuple(sorted((float(part[i]), float(part[other[i, j]])))))
                        for i, j in zip(first, second, strict=True)]
    value, parts = min(options, key=lambda o: (round(abs(math.log(o[0] / wanted_ohm)), SAME_LN), len(o[1]), o[1]))
    return Parts(parts, value)


def _window(part: np.ndarray, target: np.ndarray) -> np.ndarray:
    """Indices of the four parts around each target: two on either side, so that one may be the part itself."""
    return np.clip(np.searchsorted(part, target)[:, None] + np.arange(-2, 2), 0, len(part) - 1)


def _parallel(first: np.ndarray, second: np.ndarray) -> np.ndarray:
    return first * second / (first + second)


def _around(ohm: float, series: str, count: int) -> tuple[float, ...]:
    value = finite(ohm, "ohm", SMALLEST_OHM * 10.0, LARGEST_OHM / 10.0, "ohms from 1 to 1e7")
    wide = 10.0 ** (1 + count // 12)
    return preferred(series, max(SMALLEST_OHM, value / wide), min(LARGEST_OHM, value * wide))


def _scaled(step: int, power: int) -> float:
    return float(step * 10**power) if power >= 0 else step / 10**-power
