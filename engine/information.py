"""Owns what a test not yet done would tell: outcome tables and how much they split the locations.

Axes, in this order everywhere: t candidate test, f row, s sample, o outcome, l location.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from engine.belief import Belief
from engine.curves import KELVIN
from engine.faults import HEALTHY, LOCATIONS, CircuitState
from engine.likelihood import SHOWS_ITSELF
from engine.module import outside_limits
from engine.procedures import Hookup, Shown, TestKind, hookup, predict
from engine.proposal import lattice
from engine.readings import Reading

DRAWS = 128
ROWS_ABOVE = 2e-4
OUTCOMES = 24
# Half a degree of a thermometer is about 2 % of an NTC's ohms; a part this far from the surroundings is plainly so.
THERMOMETER_LN, AWAY_C, AWAY_LN = 0.025, 4.5, 9.0


@dataclass(frozen=True)
class Candidate:
    """A test that could be done next, with the ohms to put on where it needs any."""

    test: TestKind
    ohm: float | None


@dataclass(frozen=True)
class Forecast:
    """Predicted results of candidates: `value` (t, f, s) in degC, volt or ln ohm, `outcome` (t, f, o) chances of binned
    results, `rows` (f,), `chance` (f,) of those rows, adding up to one."""

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
    rows, share, z = _equal_samples(belief)
    model, evidence = belief.model, belief.evidence
    readings = tuple(Reading(c.test.id, ohm=c.ohm) for c in candidates)
    hook = hookup(tuple(c.test for c in candidates), readings, evidence.end_to_end_ohm)
    points = lattice(DRAWS, 3)
    state = _come_and_go(belief, model.state(share, z, rows), rows, points[:, 0])
    beside = model.rows_of("stand-in-beside")[rows][:, None]
    shown = predict(hook, model.setup.circuit, model.table, state, model.unknowns(z, rows), beside)
    frozen = evidence.stuck_c(share, rows)
    values, tables = [], []
    for t, candidate in enumerate(candidates):
        value, spread = _result(belief, candidate.test, shown, t, rows, hook, frozen, points[:, 1])
        told = _against_curve(belief, shown, t, rows, z) if candidate.test.measures == "sensor-ohms" else value
        noisy = told + spread * ndtri(points[:, 2])
        values.append(value)
        tables.append(_good_table(candidate.test, belief, rows) if candidate.test.measures == "good"
                      else _table(noisy, candidate.test.unit, belief.chance[rows]))
    chance = belief.chance[rows]
    places = np.array([LOCATIONS.index(model.kinds[i].location) for i in rows])
    return Forecast(rows, chance / chance.sum(), np.stack(values), np.stack(tables), places)


def split_bits(joint: np.ndarray) -> np.ndarray:
    """Information (t,) [bit] that each candidate gives about the location; `joint` (t, o, l)."""
    location = joint.sum(axis=1)
    return _entropy(location) - (joint.sum(axis=2) * _entropy(joint / np.maximum(joint.sum(axis=2, keepdims=True), 1e-300))
                                 ).sum(axis=1)


def _entropy(p: np.ndarray) -> np.ndarray:
    return -(p * np.log2(np.maximum(p, 1e-300))).sum(axis=-1)


def _equal_samples(belief: Belief) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Equally weighted samples of the rows that count: rows (f,), share (f, s), z (f, s, z), by even resampling."""
    rows, shares, zs = [], [], []
    for group in belief.groups:
        for k, row in enumerate(group.rows):
            if belief.chance[row] < ROWS_ABOVE:
                continue
            total = np.cumsum(group.weight[k])
            pick = np.searchsorted(total / total[-1], (np.arange(DRAWS) + 0.5) / DRAWS)
            rows.append(row)
            shares.append(group.share[k, pick])
            zs.append(group.z[k, pick])
    return np.array(rows), np.stack(shares), np.stack(zs)


def _come_and_go(belief: Belief, state: CircuitState, rows: np.ndarray, u: np.ndarray) -> CircuitState:
    """Intermittent rows are in order in most samples."""
    absent = belief.model.intermittent[rows][:, None] & (u > SHOWS_ITSELF)[None, :]
    if not absent.any():
        return state
    return CircuitState(**{name: np.where(absent, HEALTHY[name], getattr(state, name)) for name in HEALTHY})


def _against_curve(belief: Belief, shown: Shown, t: int, rows: np.ndarray, z: np.ndarray) -> np.ndarray:
    """Log (f, s) of the sensor's ohms over its curve's at the temperature a thermometer beside it shows.

    That thermometer also tells a temperature that really is not the
    surroundings': such results are set well apart from the others.
    """
    model = belief.model
    unknown = model.unknowns(z, rows)
    inverse = 1.0 / (np.clip(shown.true_c, -80.0, 300.0) + KELVIN)
    curve = model.table.ln_ohm(inverse, unknown.curve, unknown.family_ln_ohm, unknown.family_beta_k)
    surroundings = model.setup.surroundings_c
    away = np.abs(shown.true_c - surroundings) > AWAY_C if surroundings is not None else np.zeros(curve.shape, bool)
    return np.log(shown.sensor_ohm[t] + 0.4) - curve + np.where(away, AWAY_LN, 0.0)


def _result(belief: Belief, test: TestKind, shown: Shown, t: int, rows: np.ndarray, hook: Hookup, frozen: np.ndarray,
            u: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Value (f, s) a candidate would yield and its standard deviation, in degC, volt or ln ohm."""
    circuit, meter = belief.model.setup.circuit, belief.model.setup.meter
    if test.measures == "return-ohms":
        value = np.log1p(np.broadcast_to(shown.return_ohm, shown.temperature_c.shape[1:]))
        return value, np.full_like(value, 0.05)
    if test.measures == "sensor-ohms":
        return (np.log(shown.sensor_ohm[t] + 0.4),
                np.full(shown.sensor_ohm[t].shape, THERMOMETER_LN + meter.ohm_percent / 200.0))
    if test.measures == "volts":
        return shown.nodes.plug_v[t] - shown.nodes.return_v[t], np.full(shown.nodes.plug_v[t].shape, 0.03)
    temperature = shown.temperature_c[t]
    spread = belief.evidence.spread_c(shown, t, rows, bool(hook.dialled[t].item()))
    if belief.evidence.default_c is not None:
        outside = outside_limits(shown.converter_v[t], circuit.open_v or 5.0, circuit.low_limit_v, circuit.high_limit_v)
        shown_instead = u < belief.evidence.default_share * np.minimum(outside, 1.0)
        temperature = np.where(shown_instead, belief.evidence.default_c, temperature)
    # The ends of live data, and a hot end nobody knows, make everything beyond look alike.
    temperature = np.where(np.isnan(frozen), np.clip(temperature, -40.0, 125.0), frozen)
    return temperature, np.where(np.isnan(frozen), np.minimum(spread, 6.0), 0.5)


def _table(value: np.ndarray, unit: str, chance: np.ndarray) -> np.ndarray:
    """Chances (f, o) of binned results: fine near the likeliest value, coarse far away; each sample shared by two bins."""
    step = {"degC": 2.5, "V": 0.12, "ohm": 0.08}[unit]
    weight = np.repeat(chance, value.shape[1])
    order = np.argsort(value.ravel(), kind="stable")
    total = np.cumsum(weight[order])
    reference = value.ravel()[order][np.searchsorted(total, 0.5 * total[-1])]
    position = np.clip(np.arcsinh((value - reference) / step) * 2.0 + OUTCOMES / 2, 0.0, OUTCOMES - 1.001)
    left = position.astype(int)
    part = position - left
    table = np.full((len(value), OUTCOMES), 0.02)
    row = np.repeat(np.arange(len(value)), value.shape[1])
    np.add.at(table, (row, left.ravel()), 1.0 - part.ravel())
    np.add.at(table, (row, left.ravel() + 1), part.ravel())
    return table / table.sum(axis=1, keepdims=True)


def _good_table(test: TestKind, belief: Belief, rows: np.ndarray) -> np.ndarray:
    table = np.zeros((len(rows), OUTCOMES))
    bad = dict(test.bad)
    for k, row in enumerate(rows):
        table[k, 0] = bad.get(belief.model.kinds[row].id, test.false_alarm)
    table[:, 1] = 1.0 - table[:, 0]
    return table
