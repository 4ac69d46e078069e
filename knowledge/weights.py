"""Owns the weights of outcome edges: how much each outcome of a test speaks for each fault, worked out by the engine."""

from functools import lru_cache

import numpy as np

from engine.circuit import InputCircuit
from engine.curve_table import CurveTable
from engine.curves import Curve
from engine.faults import FaultKind, Rows, severity
from engine.model import Setup
from engine.packed import pack_job
from engine.points import Circuit, Shown, shown_on
from engine.procedures import TestKind, hookup
from engine.readings import Reading
from engine.stand_in import Meter, StandIn
from engine.units import from_degc
from engine.unknowns import Z_NAMES

# A typical circuit: sensor at this temperature, stand-in at the ohms of the second, seven grades of severity.
SENSOR_C, DIALLED_C = 20.0, 60.0
SHARES = np.linspace(0.05, 0.95, 7)
STAND_IN_OHM = 10000.0
# How far a result may stray and still be as expected (common practice, no source).
NEAR_C, NEAR_V, NEAR_RETURN_OHM, NEAR_RATIO, NEAR_SPAN = 4.0, 0.15, 8.0, 1.12, 0.85
NEAR_CURRENT_RATIO = 1.05
# A stand-in that moved has left the ohms typed by this factor, either way alike.
MOVED = 1.6
# Chances are mixed with this much of ignorance, so that no outcome is ever proof by itself.
FLOOR = 0.02
# Edges weaker than this say nothing worth drawing.
LEAST_WEIGHT = 0.2
SHOWN_ENDS_C = (-40.0, 150.0)


def speaks_for(tests: tuple[TestKind, ...], faults: tuple[FaultKind, ...], circuit: InputCircuit,
               curve: Curve, common: frozenset[str]) -> dict[tuple[str, str, str], float]:
    """(test id, outcome id, fault id) -> natural log of the outcome's chance under the fault over its chance overall.

    Worked out on one typical `circuit` and `curve` by the engine's own
    prediction; `common` names the faults such a circuit has, whose chances make
    the outcome's chance overall. Only outcomes that speak for a fault (weight above
    LEAST_WEIGHT) are kept.
    """
    healthy = FaultKind("healthy", "none", "", "none", 0.0)
    rows = (*faults, healthy)
    chance = np.array([fault.chance if fault.id in common else 0.0 for fault in faults])
    found = {}
    for test in tests:
        share = good_chances(test, rows) if test.measures == "good" else _outcome_chances(test, rows, circuit, curve)
        for outcome, p in share.items():
            coming_and_going = np.array([fault.intermittent for fault in rows]) & (test.measures != "good")
            p = np.where(coming_and_going, 0.5 * p + 0.5 * p[-1], p)[:-1]
            p = FLOOR + (1.0 - 2 * FLOOR) * p
            overall = float(chance @ p / chance.sum())
            for fault, weight in zip(faults, np.log(p / overall), strict=True):
                if weight > LEAST_WEIGHT:
                    found[test.id, outcome, fault.id] = round(float(weight), 6)
    return found


def good_chances(test: TestKind, rows: tuple[FaultKind, ...]) -> dict[str, np.ndarray]:
    """Chances of good and of bad of a test judged by eye or hand, under each fault of `rows`."""
    bad = dict(test.bad)
    p = np.array([bad.get(fault.id, test.false_alarm) for fault in rows])
    return {"good": 1.0 - p, "bad": p}


def _outcome_chances(test: TestKind, rows: tuple[FaultKind, ...], circuit: InputCircuit,
                     curve: Curve) -> dict[str, np.ndarray]:
    """Chance of each outcome under each fault of `rows`, the last being no fault at all."""
    if test.measures == "sweep":
        ends = [_seen(test, rows, circuit, curve, ohm) for ohm in (STAND_IN_OHM / 20, STAND_IN_OHM)]
        span = np.abs(ends[0] - ends[1])
        part = span / span[-1]
        follows = (part > NEAR_SPAN) & (np.abs(ends[0] - ends[0][-1]) < NEAR_C)
        return means({"follows": follows, "part": ~follows & (part > 0.1), "still": ~follows & (part <= 0.1)})
    dialled = float(curve.ohm_at(DIALLED_C))
    if test.measures == "shows":
        off = np.array([[fault.effect == "key-off"] for fault in rows])
        found = against(_seen(test, rows, circuit, curve, dialled), NEAR_C, "too-hot", "too-cold")
        return {**{outcome: np.where(off[:, 0], 0.0, share) for outcome, share in found.items()}, "absent": off[:, 0] * 1.0}
    at_c = test.at_c if test.at_c is not None else SENSOR_C
    shown = _shown(test, rows, circuit, curve, dialled, at_c)
    off = np.array([[fault.effect == "key-off"] for fault in rows])
    if test.measures == "volts":
        return against(np.where(off, 0.0, shown.volts("volts-return", 0)), NEAR_V, "too-high", "too-low")
    if test.measures == "current":
        # The ammeter is so many ohms: the volts left across it are the current.
        current = np.where(off, 1e-9, np.maximum(shown.volts("volts-return", 0), 1e-9))
        return against(np.log(current), float(np.log(NEAR_CURRENT_RATIO)), "too-high", "too-low")
    if test.measures == "return-ohms":
        many = shown.return_ohm > NEAR_RETURN_OHM
        return means({"as-expected": ~many, "too-many": many})
    return against(np.log(shown.sensor_at(0)), float(np.log(NEAR_RATIO)), "too-many", "too-few")


def _shown(test: TestKind, rows: tuple[FaultKind, ...], circuit: InputCircuit, curve: Curve, ohm: float,
           at_c: float = SENSOR_C) -> Shown:
    """The engine's prediction for one test under each fault of `rows` and each severity."""
    reading = Reading(test.id, ohm=ohm if test.element == "stand-in" else None,
                      at=(at_c, "degC") if test.measures == "sensor-ohms" else None)
    at = np.arange(len(rows))
    shares = np.tile(SHARES, (len(rows), 1))
    return shown_on(_typical(rows, circuit, curve), hookup((test,), (reading,), STAND_IN_OHM), at, shares,
                    np.zeros((*shares.shape, len(Z_NAMES))))


@lru_cache(maxsize=16)
def _typical(rows: tuple[FaultKind, ...], circuit: InputCircuit, curve: Curve) -> Circuit:
    """A typical circuit under each fault of `rows`, every unknown at its middle."""
    setup = Setup(circuit, (), 0.0, (float(np.log(curve.ohm_25)), 0.0), (curve.beta_25_85, 0.0), StandIn(end_to_end_ohm=STAND_IN_OHM),
                  Meter(), SENSOR_C, (), rows, ())
    return Circuit(pack_job(setup, STAND_IN_OHM), CurveTable((curve,)).packed, Rows(np.arange(len(rows)), rows, np.zeros(len(rows), int)).packed)


def _seen(test: TestKind, rows: tuple[FaultKind, ...], circuit: InputCircuit, curve: Curve, ohm: float) -> np.ndarray:
    """What live data shows [degC], (f, s): held at its ends, frozen, in the wrong unit, or of another hook-up than typed."""
    seen = _shown(test, rows, circuit, curve, ohm).value[0].copy()
    for row, fault in enumerate(rows):
        if fault.effect == "too-soon" and test.element != "sensor":
            seen[row] = SENSOR_C
        elif fault.effect == "stand-in-moved" and test.element == "stand-in":
            seen[row] = _shown(test, rows[row:row + 1], circuit, curve, MOVED * ohm).value[0]
        elif fault.effect == "reading-frozen":
            seen[row] = severity(fault, SHARES)
    seen = np.clip(seen, *SHOWN_ENDS_C)
    for row, fault in enumerate(rows):
        if fault.effect == "unit-mistaken":
            seen[row] = from_degc(seen[row], "degF")
    return seen


def against(value: np.ndarray, near: float, above: str, below: str) -> dict[str, np.ndarray]:
    """Chances of as expected, `above` and `below`, by distance from the last row, which has no fault."""
    off = value - value[-1]
    return means({"as-expected": np.abs(off) <= near, above: off > near, below: off < -near})


def means(outcomes: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    """Chance of each outcome over all severities."""
    return {outcome: np.mean(happens, axis=1) for outcome, happens in outcomes.items()}
