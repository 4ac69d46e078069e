"""Owns the module's input from measured pairs: the input resistor, whether the pairs agree, and why they do not."""

from typing import NamedTuple

import numpy as np

from engine.curve_fits import COVERAGE, RECTANGULAR, Estimate, checked, ln_estimate
from engine.errors import InputError
from engine.stand_in import Meter
from engine.units import finite

# Where nobody measured the open volts, 5 V within 1 % is taken (common practice, no source).
ASSUMED_OPEN_V, ASSUMED_SHARE = 5.0, 0.01
# Pairs whose scatter is more than this many times the meter's are told apart, not averaged.
CONSISTENT_WITHIN = 2.0
# What a cause must look like to be believed: 5 V supplies are watched from 4.5 to 5.5 V (published code limits); published
# second input resistors are a tenth of the first; a sensor seldom cools by more than 10 K, 4 % each, between two meters'
# readings; a load that takes more than a third of the open volts would not have gone unseen (common practice, no source).
SUPPLY_SHARE, SWITCH_FACTOR, MOVED_LN, LOAD_SHARE = 0.1, 3.0, 0.4, 1.0 / 3.0
CAUSES = ("supply", "switched", "moved", "second-load")


class Cause(NamedTuple):
    """One reason for a drifting input resistor.

    `misfit` is the scatter left in meter uncertainties, `score` what ranks it
    (minus twice the log likelihood; each fits two values, less is better),
    `fits` whether it explains the pairs by something that occurs. `value` is
    what it takes: supply [V], second input resistor [ohm], scatter of the
    sensor [ln ohm], load [ohm].
    """

    id: str
    misfit: float
    score: float
    value: float
    fits: bool


class PullUp(NamedTuple):
    """Input resistor [ohm] of each pair and, only where they agree, of all `together`.

    `spread` is the scatter about one common value in meter uncertainties. Where
    the pairs do not agree, `causes` stands in the order to check them and
    `best` names the one that fits best, "" where none can be told. `odd` is the
    index of the one pair without which all others agree, where neither supply,
    switch nor load explains them: a misprint or a slip.
    """

    each: tuple[Estimate, ...]
    together: Estimate | None
    consistent: bool
    spread: float
    causes: tuple[Cause, ...] = ()
    best: str = ""
    odd: int | None = None


def pull_up_from_pairs(ohms: object, volts: object, open_v: float | None = None, meter: Meter | None = None) -> PullUp:
    """Input resistor from pairs of ohms on the plug [ohm] and volts there [V]: R (Vopen - V) / V, Ohm's law.

    `open_v` [V] is the volts measured with the plug open; without it 5 V within
    1 % is taken. Values that drift are never averaged: causes are wrong supply,
    a second input resistor switched in, ohms taken at another temperature than
    volts, a second load on the wire. Raises InputError for pairs that cannot be.

    >>> round(pull_up_from_pairs([790], [0.19]).together.mid, -1)
    20000.0
    """
    pairs = _Pairs(ohms, volts, open_v, meter or Meter())
    y, own = pairs.ln_pull_up(pairs.open_v), pairs.ln_sd(pairs.open_v)
    # The error of the open volts is common to all pairs.
    shared = pairs.open_sd * pairs.open_slope(pairs.open_v)
    mid, sd, misfit = _mean(y, np.diag(own**2) + np.outer(shared, shared))
    each = tuple(ln_estimate(one, float(s)) for one, s in zip(y, np.hypot(own, shared), strict=True))
    if misfit <= CONSISTENT_WITHIN:
        return PullUp(each, ln_estimate(mid, sd), True, misfit)
    causes = (_supply(pairs), _switched(pairs), _moved(pairs), _second_load(pairs))
    fitting = [cause for cause in causes if cause.fits]
    best = min(fitting, key=lambda cause: (round(cause.score, 6), CAUSES.index(cause.id))).id if fitting else ""
    return PullUp(each, None, False, misfit, causes, best, _odd(y, own) if best in ("moved", "") else None)


def feeds_together(volts: object, ohms: object) -> tuple[float, float]:
    """Open volts [V] and resistance [ohm] of several feeds on one wire (Millman's theorem; any circuit text).

    >>> feeds_together([5.0, 5.0], [20000.0, 1000.0])[1].__round__(2)
    952.38
    """
    conductance = 1.0 / np.asarray(ohms, float)
    return float(np.sum(np.asarray(volts, float) * conductance) / np.sum(conductance)), float(1.0 / np.sum(conductance))


def other_feed_ohm(together_ohm: float, own_ohm: float) -> float:
    """Resistance [ohm] of the other feed on a wire that has `own_ohm` alone and `together_ohm` with both.

    Raises InputError unless the two together are below the one alone.
    """
    if not 0.0 < together_ohm < own_ohm:
        raise InputError("together_ohm", together_ohm, f"two feeds together lie below the {own_ohm:g} ohm of one")
    return 1.0 / (1.0 / together_ohm - 1.0 / own_ohm)


def pull_up_from_short(open_v: float, short_a: float, meter: Meter | None = None, current_percent: float = 1.0,
                       burden_ohm: float = 10.0) -> Estimate:
    """Input resistor [ohm] from open volts [V] and the current [A] into an ammeter from signal to return: Ohm's law.

    `current_percent` is the ammeter's class; its own resistance, up to
    `burden_ohm` [ohm] (common practice, no source), counts against the low end.
    Raises InputError unless volts and current are above zero.

    >>> pull_up_from_short(5.0, 0.005).mid
    1000.0
    """
    if not (open_v > 0.0 and short_a > 0.0):
        raise InputError("short_a", short_a, "open volts and current are above zero")
    band = np.hypot((meter or Meter()).volt_band(open_v) / open_v, current_percent / 100.0) * RECTANGULAR * COVERAGE
    mid = open_v / short_a
    return Estimate(max(float(mid * (1.0 - band)) - burden_ohm, 0.0), mid, float(mid * (1.0 + band)))


class _Pairs:
    """Checked pairs and how well each is measured."""

    def __init__(self, ohms: object, volts: object, open_v: float | None, meter: Meter) -> None:
        self.ohm, self.volt = checked(ohms, "ohms"), checked(volts, "volts")
        self.open_v = ASSUMED_OPEN_V if open_v is None else finite(open_v, "open_v", 0.1, 60.0, "volts from 0.1 to 60")
        self.measured = open_v is not None
        if len(self.ohm) != len(self.volt):
            raise InputError("volts", f"{len(self.volt)} values", f"one for each of the {len(self.ohm)} ohms")
        if np.any(self.volt >= self.open_v):
            raise InputError("volts", float(np.max(self.volt)), f"volts lie below the {self.open_v:g} V of the open plug")
        self.open_sd = RECTANGULAR * (meter.volt_band(self.open_v) if self.measured else ASSUMED_SHARE * self.open_v)
        self.ohm_ln_sd = RECTANGULAR * np.array([meter.ohm_band(ohm) / ohm for ohm in self.ohm])
        self.volt_sd = RECTANGULAR * np.array([meter.volt_band(volt) for volt in self.volt])

    def ln_pull_up(self, open_v: float) -> np.ndarray:
        """Natural log of each pair's input resistor [ohm]."""
        return np.log(self.ohm * (open_v - self.volt) / self.volt)

    def ln_sd(self, open_v: float) -> np.ndarray:
        """Its standard deviation by the meter alone."""
        return np.hypot(self.ohm_ln_sd, self.volt_sd * open_v / (self.volt * (open_v - self.volt)))

    def open_slope(self, open_v: float) -> np.ndarray:
        """Change of that log with the open volts [1/V]."""
        return 1.0 / (open_v - self.volt)


def _mean(y: np.ndarray, covariance: np.ndarray) -> tuple[float, float, float]:
    """Weighted mean, its standard deviation, and the scatter in standard deviations (0 for a single value)."""
    weight = np.linalg.inv(covariance)
    mean = float(np.sum(weight @ y) / np.sum(weight))
    left = y - mean
    misfit = float(np.sqrt(left @ weight @ left / max(len(y) - 1, 1)))
    return mean, float(np.sum(weight) ** -0.5), misfit


def _odd(y: np.ndarray, sd: np.ndarray) -> int | None:
    """Index of the only value without which three or more others agree."""
    if len(y) < 4:
        return None
    agree = [i for i in range(len(y)) if _mean(np.delete(y, i), np.diag(np.delete(sd, i) ** 2))[2] <= CONSISTENT_WITHIN]
    return agree[0] if len(agree) == 1 else None


def _cause(id: str, chi2: float, value: float, likely: bool, pairs: _Pairs) -> Cause:
    """A cause with its score; two values are fitted, so that two pairs leave nothing to judge it by."""
    free = len(pairs.ohm) - 2
    misfit = float(np.sqrt(chi2 / free)) if free > 0 else 0.0
    return Cause(id, misfit, chi2, value,
                 bool(likely) and free > 0 and misfit <= CONSISTENT_WITHIN)


def _best_open(pairs: _Pairs) -> tuple[float, float]:
    """Open volts [V] at which the pairs agree best, and the chi-squared left."""
    low, high = float(np.max(pairs.volt)) * (1 + 1e-4), 1.5 * pairs.open_v
    for _ in range(4):
        grid = np.linspace(low, high, 101)
        left = [_chi2(pairs.ln_pull_up(v), pairs.ln_sd(v)) for v in grid]
        at = int(np.argmin(left))
        low, high = float(grid[max(at - 1, 0)]), float(grid[min(at + 1, 100)])
    return float(grid[at]), left[at]


def _chi2(y: np.ndarray, sd: np.ndarray) -> float:
    mean = np.sum(y / sd**2) / np.sum(sd**-2.0)
    return float(np.sum(((y - mean) / sd) ** 2))


def _supply(pairs: _Pairs) -> Cause:
    """Open volts other than assumed; where they were measured the fitted ones must be those."""
    open_v, chi2 = _best_open(pairs)
    off = abs(open_v - pairs.open_v)
    likely = off <= COVERAGE * pairs.open_sd if pairs.measured else off <= SUPPLY_SHARE * pairs.open_v
    return _cause("supply", chi2, open_v, likely, pairs)


def _second_load(pairs: _Pairs) -> Cause:
    """A load from the wire to ground that goes with the sensor: V' = V RL / (RL + Rp), R' = Rp RL / (Rp + RL)."""
    open_v, chi2 = _best_open(pairs)
    sd = pairs.ln_sd(open_v)
    joined = float(np.exp(np.sum(pairs.ln_pull_up(open_v) / sd**2) / np.sum(sd**-2.0)))
    off = pairs.open_v - open_v
    load = joined * pairs.open_v / off if off > 0.0 else float("inf")
    return _cause("second-load", chi2, load, COVERAGE * pairs.open_sd < off <= LOAD_SHARE * pairs.open_v, pairs)


def _switched(pairs: _Pairs) -> Cause:
    """A second, smaller input resistor on one side of some ohms: the best split of the pairs in two."""
    order = np.argsort(pairs.ohm)
    y, sd = pairs.ln_pull_up(pairs.open_v)[order], pairs.ln_sd(pairs.open_v)[order]
    splits = [(_chi2(y[:k], sd[:k]) + _chi2(y[k:], sd[k:]), k) for k in range(1, len(y))]
    chi2, k = min(splits)
    hot, cold = (float(np.sum(y[part] / sd[part] ** 2) / np.sum(sd[part] ** -2.0)) for part in (slice(k), slice(k, None)))
    return _cause("switched", chi2, float(np.exp(min(hot, cold))), abs(cold - hot) >= np.log(SWITCH_FACTOR), pairs)


def _moved(pairs: _Pairs) -> Cause:
    """Ohms that were not those of the moment of the volts: scatter of its own on each pair, at its most likely size."""
    y, sd = pairs.ln_pull_up(pairs.open_v), pairs.ln_sd(pairs.open_v)
    sizes = np.linspace(0.0, 2.0, 401)
    scores = [_chi2(y, np.hypot(sd, s)) + 2.0 * float(np.sum(np.log(np.hypot(sd, s) / sd))) for s in sizes]
    at = int(np.argmin(scores))
    scatter = float(sizes[at])
    left = _cause("moved", _chi2(y, np.hypot(sd, scatter)), scatter, scatter <= MOVED_LN, pairs)
    return left._replace(score=scores[at])
