"""Owns what a test not yet done would tell: outcome tables and how much they split the locations.

Axes, in this order everywhere: t candidate test, f row, s sample, o outcome, l location.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.special import ndtri

from engine.batches import lattice
from engine.belief import Belief
from engine.by_hand import bad_chance
from engine.curves import KELVIN
from engine.faults import LOCATIONS, Rows, in_order
from engine.likelihood import SHOWS_ITSELF
from engine.module import outside_limits
from engine.procedures import MA_FLOOR, MAIN_VOLTS, Hookup, Shown, TestKind, hookup
from engine.readings import Reading

DRAWS = 96
# Rows forecast for: of at least this chance, and this part of their fault's.
ROWS_ABOVE, PART_OF_FAULT = 2e-4, 0.08
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
    (t, f, o) chances of binned results, `rows` (f,), `chance` (f,) of those rows, adding up to one."""

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
    index = belief.weighty(ROWS_ABOVE, PART_OF_FAULT)
    share, z = belief.equal_samples(index, DRAWS)
    model, evidence = belief.model, belief.evidence
    rows = model.pick(index)
    # What is judged by eye or hand hangs on no volts.
    read = tuple(c for c in candidates if c.test.measures != "good")
    readings = tuple(Reading(c.test.id, ohm=c.ohm, ratio=c.ratio, at=_at(belief, c.test)) for c in read)
    hook = hookup(tuple(c.test for c in read), readings, model.end_to_end_ohm, model.setup.stand_in.lead_ohm)
    points = _points()
    state = model.state(share, z, index)
    if len(rows.intermittent):
        # What comes and goes is in order in most samples.
        absent = np.zeros(share.shape, bool)
        absent[rows.intermittent] = points[:, 0] > SHOWS_ITSELF
        state = in_order(state, absent)
    shown = evidence.shown(share, z, index, hook=hook, state=state).on_one(points[:, 0])
    values, tables = [], []
    for candidate in candidates:
        if candidate.test.measures == "good":
            values.append(np.zeros(share.shape, shown.value.dtype))
            tables.append(_good_table(candidate.test, rows))
            continue
        t = read.index(candidate)
        value, spread = _result(belief, candidate.test, shown, t, rows, share, hook, points[:, 1])
        told = _against_curve(belief, shown, t, rows, z) if candidate.test.measures == "sensor-ohms" else value
        values.append(value)
        tables.append(_table(told + spread * points[:, 2], STEPS[candidate.test.unit], belief.chance[index],
                             _also_measured(candidate.test, shown, t)))
    widest = max(table.shape[1] for table in tables)
    tables = [np.pad(table, ((0, 0), (0, widest - table.shape[1]))) for table in tables]
    chance = belief.chance[index]
    places = np.array([LOCATIONS.index(kind.location) for kind in rows.kinds])
    return Forecast(index, chance / chance.sum(), np.stack(values), np.stack(tables), places)


def _at(belief: Belief, test: TestKind) -> tuple[float, str] | None:
    """The part's value in a test that brings it to one, or that is read beside a known one."""
    setup = belief.model.setup
    if test.at_c is None and test.pins == 3 and test.needs == "at":
        return (setup.surroundings_c if setup.surroundings_c is not None else setup.three_wire.rest[0]), setup.quantity.unit
    return None if test.at_c is None else (test.at_c, "degC")


@lru_cache(maxsize=1)
def _points() -> np.ndarray:
    """Quasi-random (DRAWS, 3): two even in 0..1, the last standard normal."""
    points = lattice(DRAWS, 3)
    points[:, 2] = ndtri(points[:, 2])
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
    unknown = model.unknowns(z)
    at = shown.true_value
    candidate = belief.model.setup.surroundings_c
    away = np.abs(at - candidate) > AWAY_SD * scale.surroundings_sd if candidate is not None else np.zeros(at.shape, bool)
    inverse = 1.0 / (np.clip(at, scale.lowest + 10.0, scale.highest) + KELVIN)
    curve = model.table.ln_ohm(inverse, rows.curve[:, None], unknown.family_ln_ohm, unknown.family_beta_k)
    return np.log(shown.sensor_at(t) + 0.4) - curve + np.where(away, AWAY_LN, 0.0)


def _result(belief: Belief, test: TestKind, shown: Shown, t: int, rows: Rows, share: np.ndarray, hook: Hookup,
            u: np.ndarray) -> tuple[np.ndarray, np.ndarray | float]:
    """Value (f, s) a candidate would yield and its standard deviation, in the quantity's unit, volt, or ln ohm or mA."""
    circuit, meter, scale = belief.model.setup.circuit, belief.model.setup.meter, belief.model.setup.quantity
    shape = share.shape
    if test.measures == "return-ohms":
        return np.log1p(np.broadcast_to(shown.return_ohm, shape)), 0.05
    if test.measures == "sensor-ohms":
        return np.log(shown.sensor_at(t) + 0.4), THERMOMETER_LN + meter.ohm_percent / 200.0
    if test.measures in MAIN_VOLTS:
        return shown.volts(MAIN_VOLTS[test.measures], t), 0.03
    if test.measures == "current":
        return np.arcsinh(shown.to_return_v[t] / float(hook.element_ohm[t]) * 1e3 / MA_FLOOR), 0.03
    value = shown.value[t]
    spread = np.minimum(belief.evidence.spread(shown, t, rows, bool(hook.dialled[t])), COARSE_SD)
    default = belief.evidence.default
    if default is not None:
        outside = outside_limits(shown.share[t], circuit.open_v or 5.0, circuit.short_v or 0.0, circuit.low_limit_v,
                                 circuit.high_limit_v)
        instead = u < belief.evidence.default_share * np.minimum(outside, 1.0)
        value = np.where(instead, np.mean(default), value)
    # The ends of live data, and a high end nobody knows, make everything beyond look alike.
    value = np.clip(value, scale.low_end, min(scale.high_ends_from + 8.0, scale.high_end))
    stuck = rows.having("reading-frozen")
    if len(stuck):
        value[stuck], spread[stuck] = rows.stuck_at(share), 0.5
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
    # Every eighth sample is enough to see about where the likeliest values are.
    few = value[:, ::8]
    order = np.argsort(few.ravel(), kind="stable")
    total = np.cumsum(np.repeat(chance, few.shape[1])[order])
    middle = order[np.searchsorted(total, 0.5 * total[-1])]
    reference = few.ravel()[middle]
    position = np.clip(np.arcsinh((value - reference) / step) * 2.0 + OUTCOMES / 2, 0.0, OUTCOMES - 1.001)
    left = position.astype(int)
    part = position - left
    rows, outcomes = len(value), OUTCOMES
    for volts in also:
        left = left + outcomes * np.digitize(volts - volts[:, ::8].ravel()[middle], ALSO_APART_V)
        outcomes *= len(ALSO_APART_V) + 1
    place = (np.arange(rows)[:, None] * outcomes + left).ravel()
    table = (np.bincount(place, (1.0 - part).ravel(), rows * outcomes)
             + np.bincount(place + 1, part.ravel(), rows * outcomes)).reshape(rows, outcomes) + 0.02 * OUTCOMES / outcomes
    return table / table.sum(axis=1, keepdims=True)


def _good_table(test: TestKind, rows: Rows) -> np.ndarray:
    table = np.zeros((len(rows.kinds), OUTCOMES))
    table[:, 0] = bad_chance(test, rows, True)
    table[:, 1] = 1.0 - table[:, 0]
    return table
