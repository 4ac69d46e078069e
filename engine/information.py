"""Owns what a test not yet done would tell: outcome tables and how much they split the locations.

Axes, in this order everywhere: t candidate test, f row, s sample, o outcome, l location.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.special import ndtri

from engine.batches import lattice
from engine.belief import Belief
from engine.by_hand import bad_chance
from engine.chances import outside_of, spread_of
from engine.compiled import compiled, held_at, log_of
from engine.curves import KELVIN
from engine.faults import LOCATIONS, Rows
from engine.grades import stuck_at
from engine.items import OHM_FLOOR
from engine.likelihood import SHOWS_ITSELF
from engine.packed import OF
from engine.points import Circuit, Shown
from engine.procedures import MA_FLOOR, MAIN_VOLTS, Hookup, TestKind, hookup
from engine.ranked import quantiles
from engine.readings import Reading
from engine.seen import SHARE, SLOPE, VALUE

# Rows forecast for: of at least this chance, and this part of their fault's; how many times as many samples of the likeliest.
ROWS_ABOVE, PART_OF_FAULT, MOST_TIMES = 2e-4, 0.08, 3
OUTCOMES = 24
# Half a degree of a thermometer is about 2 % of an NTC's ohms; a part this many times the surroundings' spread away
# is plainly so.
THERMOMETER_LN, AWAY_SD, AWAY_LN = 0.025, 3.0, 9.0
COARSE_SD = 6.0
# Widths of the finest outcome bins.
# Volts read beside the test's own are told apart at these distances from the likeliest.
ALSO_APART_V = (-0.6, -0.1, 0.1, 0.6)
STEPS = {"degC": 2.5, "percent": 1.5, "kPa": 2.5, "V": 0.12, "ohm": 0.08, "mA": 0.08}


@dataclass(frozen=True)
class Candidate:
    """A test that could be done next, with the ohms to put on or the ratio to divide by where it needs any."""

    test: TestKind
    ohm: float | None
    ratio: float | None = None


@dataclass(frozen=True)
class Forecast:
    """Predicted results of candidates: `value` (t, f, s) in degC, volt or ln ohm (0 where judged by eye or hand), `outcome`
    (t, f, o) chances of binned results, `rows` (f,), several times where there are more samples of one, `chance` (f,) of each,
    adding up to one."""

    rows: np.ndarray
    chance: np.ndarray
    value: np.ndarray
    outcome: np.ndarray
    locations: np.ndarray  # (f,) index into LOCATIONS

    def by_location(self) -> np.ndarray:
        """Chance of each outcome together with each location, (t, o, l)."""
        joint = self.outcome * self.chance[None, :, None]
        out = np.zeros((*joint.shape[::2], len(LOCATIONS)))
        for i in range(len(LOCATIONS)):
            out[..., i] = joint[:, self.locations == i].sum(axis=1)
        return out


def forecast(belief: Belief, candidates: tuple[Candidate, ...]) -> Forecast:
    """What each candidate would show under each row still worth counting, from samples of the belief."""
    few = belief.few(ROWS_ABOVE, PART_OF_FAULT, MOST_TIMES)
    index, share, z = few[:3]
    model, evidence = belief.model, belief.evidence
    rows = model.pick(index)
    # What is judged by eye or hand hangs on no volts.
    read = tuple(c for c in candidates if c.test.measures != "good")
    readings = tuple(Reading(c.test.id, ohm=c.ohm, ratio=c.ratio, at=_at(belief, c.test)) for c in read)
    hook = hookup(tuple(c.test for c in read), readings, model.end_to_end_ohm, model.setup.stand_in.lead_ohm)
    points = _points(share.shape[1])[few.turn]
    # What comes and goes is in order in most samples.
    absent = np.zeros(share.shape, bool)
    absent[rows.intermittent] = points[rows.intermittent, :, 0] > SHOWS_ITSELF
    shown = evidence.shown(share, z, index, absent, hook, points[..., 0])
    values, tables = [], []
    for candidate in candidates:
        if candidate.test.measures == "good":
            values.append(np.zeros(share.shape, shown.value.dtype))
            tables.append(_good_table(candidate.test, rows))
            continue
        t = read.index(candidate)
        value, spread = _result(belief, candidate.test, shown, t, rows, share, hook, points[..., 1])
        told = _against_curve(belief, shown, t, rows, z) if candidate.test.measures == "sensor-ohms" else value
        values.append(value)
        tables.append(_table(told + spread * points[..., 2], STEPS[candidate.test.unit], few.chance,
                             _also_measured(candidate.test, shown, t)))
    outcome = np.zeros((len(tables), len(index), max(table.shape[1] for table in tables)))
    for own, table in zip(outcome, tables, strict=True):
        own[:, :table.shape[1]] = table
    return Forecast(index, few.chance / few.chance.sum(), np.stack(values), outcome, model.places[index])


def _at(belief: Belief, test: TestKind) -> tuple[float, str] | None:
    """The part's value in a test that brings it to one, or that is read beside a known one."""
    setup = belief.model.setup
    if test.at_c is None and test.pins == 3 and test.needs == "at":
        return (setup.surroundings_c if setup.surroundings_c is not None else setup.three_wire.rest[0]), setup.quantity.unit
    return None if test.at_c is None else (test.at_c, "degC")


@lru_cache(maxsize=4)
def _points(count: int) -> np.ndarray:
    """Quasi-random (MOST_TIMES, count, 3): two even in 0..1, the last standard normal."""
    points = lattice(count * MOST_TIMES, 3).reshape(MOST_TIMES, count, 3)
    points[..., 2] = ndtri(points[..., 2])
    return points


def split_bits(joint: np.ndarray) -> np.ndarray:
    """Information (t,) [bit] that each candidate gives about the location; `joint` (t, o, l)."""
    location = joint.sum(axis=1)
    return _entropy(location) - (joint.sum(axis=2) * _entropy(joint / np.maximum(joint.sum(axis=2, keepdims=True), 1e-300))
                                 ).sum(axis=1)


def _entropy(p: np.ndarray) -> np.ndarray:
    return -(p * np.log2(np.maximum(p, 1e-300))).sum(axis=-1)


def _against_curve(belief: Belief, shown: Shown, t: int, rows: Rows, z: np.ndarray) -> np.ndarray:
    """Log (f, s) of the sensor's ohms over its curve's at the temperature a thermometer beside it shows.

    That thermometer also tells a temperature that really is not the
    surroundings': such results are set well apart from the others.
    """
    model, scale = belief.model, belief.model.setup.quantity
    of = model.unknowns(z.reshape(-1, z.shape[-1])).reshape(*z.shape[:2], -1)
    at = shown.true_value
    candidate = belief.model.setup.surroundings_c
    away = np.abs(at - candidate) > AWAY_SD * scale.surroundings_sd if candidate is not None else np.zeros(at.shape, bool)
    inverse = 1.0 / (np.clip(at, scale.lowest + 10.0, scale.highest) + KELVIN)
    curve = model.table.ln_ohm(inverse, rows.curve[:, None], of[..., OF.family_ln_ohm], of[..., OF.family_beta_k])
    return np.log(shown.sensor_at(t) + OHM_FLOOR) - curve + np.where(away, AWAY_LN, 0.0)


def _result(belief: Belief, test: TestKind, shown: Shown, t: int, rows: Rows, share: np.ndarray, hook: Hookup,
            u: np.ndarray) -> tuple[np.ndarray, np.ndarray | float]:
    """Value (f, s) a candidate would yield and its standard deviation, in the quantity's unit, volt, or ln ohm or mA."""
    if test.measures == "return-ohms":
        return np.log1p(shown.return_ohm), 0.05
    if test.measures == "sensor-ohms":
        return np.log(shown.sensor_at(t) + OHM_FLOOR), THERMOMETER_LN + belief.model.setup.meter.ohm_percent / 200.0
    if test.measures in MAIN_VOLTS:
        return shown.volts(MAIN_VOLTS[test.measures], t), 0.03
    if test.measures == "current":
        return np.arcsinh(shown.volts("volts-return", t) / float(hook.element_ohm[t]) * 1e3 / MA_FLOOR), 0.03
    evidence = belief.evidence
    default = np.nan if evidence.default is None else float(np.mean(evidence.default))
    return _number_shown(belief.model.circuit, rows.index, shown.seen, t, share, bool(hook.dialled[t]), u, default, evidence.default_share)


@compiled
def _number_shown(circuit: Circuit, rows: np.ndarray, seen: np.ndarray, t: int, share: np.ndarray, dialled: bool, u: np.ndarray,
                  default: float, default_share: float) -> tuple[np.ndarray, np.ndarray]:
    """The number (f, s) live data would show where hook-ups show what is `seen` (w, r, f, s), on number `t` of them, and its standard
    deviation; outside its limits `default` (nan where there is none) in `default_share` of the cases."""
    job, value, spread = circuit.job[0], np.empty(share.shape), np.empty(share.shape)
    # The ends of live data, and a high end nobody knows, make everything beyond look alike.
    low, high = job.low_end, min(job.high_ends_from + 8.0, job.high_end)
    for f in range(len(rows)):
        row = circuit.rows[rows[f]]
        for s in range(share.shape[1]):
            if row.frozen:
                value[f, s], spread[f, s] = stuck_at(row, share[f, s]), 0.5
                continue
            there = seen[VALUE, t, f, s]
            spread[f, s] = min(spread_of(job, row, dialled, there, seen[SLOPE, t, f, s], seen[SHARE, t, f, s]), COARSE_SD)
            if not np.isnan(default) and u[f, s] < default_share * min(outside_of(job, seen[SHARE, t, f, s]), 1.0):
                there = default
            value[f, s] = held_at(there, low, high)
    return value, spread


def _also_measured(test: TestKind, shown: Shown, t: int) -> tuple[np.ndarray, ...]:
    """The supply's volts (f, s) that a meter on a three-wire plug reads besides the test's own, each to another point."""
    if test.pins != 3 or test.measures not in ("volts", "supply-volts"):
        return ()
    names = ("supply-return", "supply-battery") if (test.measures, test.element) == ("volts", "sensor") else ("supply-battery",)
    return tuple(shown.volts(name, t) for name in names)


def _table(value: np.ndarray, step: float, chance: np.ndarray, also: tuple[np.ndarray, ...] = ()) -> np.ndarray:
    """Chances (f, o) of binned results: fine near the likeliest value, coarse far away; each sample shared by two bins.

    What `also` (f, s) [V] is read in the same test parts each bin by how far that is from the likeliest.
    """
    reference = quantiles(value.ravel(), np.repeat(chance, value.shape[1]), (0.5,))[0]
    middle = np.abs(value.ravel() - reference).argmin() if also else 0
    beside = np.stack([volts - volts.ravel()[middle] for volts in also]) if also else np.zeros((0, *value.shape))
    return _binned(np.ascontiguousarray(value), reference, step, beside)


@compiled
def _binned(value: np.ndarray, reference: float, step: float, beside: np.ndarray) -> np.ndarray:
    """As `_table`, for values about a `reference` and what is `beside` them (a, f, s) [V]."""
    parts, last = 1, OUTCOMES - 1.001
    for _ in range(len(beside)):
        parts *= len(ALSO_APART_V) + 1
    out, position = np.full((len(value), OUTCOMES * parts), 0.02 / parts), np.empty(value.shape[1])
    for f in range(len(value)):
        for s in range(value.shape[1]):
            # The inverse hyperbolic sine, written so that eight of them are computed at once.
            off = abs(value[f, s] - reference) / step
            position[s] = 2.0 * log_of(off + math.sqrt(off * off + 1.0))
        for s in range(value.shape[1]):
            here = held_at((position[s] if value[f, s] > reference else -position[s]) + OUTCOMES / 2, 0.0, last)
            left = int(here)
            part, outcome, size = here - left, left, OUTCOMES
            for a in range(len(beside)):
                apart = 0
                for bound in ALSO_APART_V:
                    apart += 1 if beside[a, f, s] >= bound else 0
                outcome += size * apart
                size *= len(ALSO_APART_V) + 1
            out[f, outcome] += 1.0 - part
            out[f, outcome + 1] += part
        out[f] /= out[f].sum()
    return out


def _good_table(test: TestKind, rows: Rows) -> np.ndarray:
    table = np.zeros((len(rows.kinds), OUTCOMES))
    table[:, 0] = bad_chance(test, rows, True)
    table[:, 1] = 1.0 - table[:, 0]
    return table
