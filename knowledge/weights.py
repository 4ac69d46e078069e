"""Owns the weights of outcome edges: how much each outcome of a test speaks for each fault, worked out by the engine."""

import numpy as np

from engine.circuit import InputCircuit
from engine.curve_table import CurveTable
from engine.curves import Curve
from engine.faults import FaultKind, circuit_state, severity
from engine.procedures import Shown, TestKind, Unknowns, hookup, predict
from engine.readings import Reading
from engine.units import from_degc

# A typical circuit: sensor at this temperature, stand-in at the ohms of the second, seven grades of severity.
SENSOR_C, DIALLED_C = 20.0, 60.0
SHARES = np.linspace(0.05, 0.95, 7)
STAND_IN_OHM = 10000.0
# How far a result may stray and still be as expected (common practice, no source).
NEAR_C, NEAR_V, NEAR_RETURN_OHM, NEAR_RATIO, NEAR_SPAN = 4.0, 0.15, 8.0, 1.12, 0.85
# Chances are mixed with this much of ignorance, so that no outcome is ever proof by itself.
FLOOR = 0.02
# Edges weaker than this say nothing worth drawing.
LEAST_WEIGHT = 0.2
SHOWN_ENDS_C = (-40.0, 150.0)


def speaks_for(tests: tuple[TestKind, ...], faults: tuple[FaultKind, ...], circuit: InputCircuit,
               curve: Curve) -> dict[tuple[str, str, str], float]:
    """(test id, outcome id, fault id) -> natural log of the outcome's chance under the fault over its chance overall.

    Worked out on one typical `circuit` and `curve` by the engine's own
    prediction; only outcomes that speak for a fault (weight above
    LEAST_WEIGHT) are kept.
    """
    healthy = FaultKind("healthy", "none", "", "none", 0.0)
    rows = (*faults, healthy)
    chance = np.array([fault.chance for fault in faults])
    found = {}
    for test in tests:
        share = _good_chances(test, rows) if test.measures == "good" else _outcome_chances(test, rows, circuit, curve)
        for outcome, p in share.items():
            coming_and_going = np.array([fault.intermittent for fault in rows]) & (test.measures != "good")
            p = np.where(coming_and_going, 0.5 * p + 0.5 * p[-1], p)[:-1]
            p = FLOOR + (1.0 - 2 * FLOOR) * p
            overall = float(chance @ p / chance.sum())
            for fault, weight in zip(faults, np.log(p / overall), strict=True):
                if weight > LEAST_WEIGHT:
                    found[test.id, outcome, fault.id] = round(float(weight), 6)
    return found


def _good_chances(test: TestKind, rows: tuple[FaultKind, ...]) -> dict[str, np.ndarray]:
    bad = dict(test.bad)
    p = np.array([bad.get(fault.id, test.false_alarm) for fault in rows])
    return {"good": 1.0 - p, "bad": p}


def _outcome_chances(test: TestKind, rows: tuple[FaultKind, ...], circuit: InputCircuit,
                     curve: Curve) -> dict[str, np.ndarray]:
    """Chance of each outcome under each fault of `rows`, the last being no fault at all."""
    if test.measures == "sweep":
        ends = [_seen(_shown(test, rows, circuit, curve, ohm), rows) for ohm in (STAND_IN_OHM / 20, STAND_IN_OHM)]
        span = np.abs(ends[0] - ends[1])
        part = span / span[-1]
        follows = (part > NEAR_SPAN) & (np.abs(ends[0] - ends[0][-1]) < NEAR_C)
        return _means({"follows": follows, "part": ~follows & (part > 0.1), "still": ~follows & (part <= 0.1)})
    shown = _shown(test, rows, circuit, curve, float(curve.ohm_at(DIALLED_C)))
    if test.measures == "volts":
        return _against(shown.nodes.plug_v[0] - shown.nodes.return_v[0], NEAR_V, "too-high", "too-low")
    if test.measures == "return-ohms":
        many = np.broadcast_to(shown.return_ohm, shown.sensor_ohm.shape[1:]) > NEAR_RETURN_OHM
        return _means({"as-expected": ~many, "too-many": many})
    if test.measures == "sensor-ohms":
        return _against(np.log(shown.sensor_ohm[0]), float(np.log(NEAR_RATIO)), "too-many", "too-few")
    return _against(_seen(shown, rows), NEAR_C, "too-hot", "too-cold")


def _shown(test: TestKind, rows: tuple[FaultKind, ...], circuit: InputCircuit, curve: Curve, ohm: float) -> Shown:
    """The engine's prediction for one test under each fault of `rows` and each severity."""
    reading = Reading(test.id, ohm=ohm if test.element == "stand-in" else None,
                      at=(SENSOR_C, "degC") if test.measures == "sensor-ohms" else None)
    shares = np.tile(SHARES, (len(rows), 1))
    state = circuit_state(rows, shares, np.zeros_like(shares))
    beside = np.array([[fault.effect == "stand-in-beside"] for fault in rows])
    one, zero = np.ones((1, 1)), np.zeros((1, 1))
    unknown = Unknowns(source_ohm=one * circuit.source_ohm, part_factor=one, open_factor=one,
                       curve=np.zeros((1, 1), dtype=np.int64), family_ln_ohm=one * np.log(curve.ohm_25),
                       family_beta_k=one * curve.beta_25_85, sensor_ln=zero, sensor_beta_k=zero,
                       true_c=one * SENSOR_C, thermometer_c=zero, ground_v=zero)
    return predict(hookup((test,), (reading,), STAND_IN_OHM), circuit, CurveTable((curve,)), state, unknown, beside)


def _seen(shown: Shown, rows: tuple[FaultKind, ...]) -> np.ndarray:
    """What live data shows [degC], (f, s): held at its ends, frozen, or written in the wrong unit."""
    seen = np.clip(shown.temperature_c[0], *SHOWN_ENDS_C)
    for row, fault in enumerate(rows):
        if fault.effect == "reading-frozen":
            seen[row] = severity(fault, SHARES)
        elif fault.effect == "unit-mistaken":
            seen[row] = from_degc(seen[row], "degF")
    return seen


def _against(value: np.ndarray, near: float, above: str, below: str) -> dict[str, np.ndarray]:
    """Chances of as expected, `above` and `below`, by distance from the last row, which has no fault."""
    off = value - value[-1]
    return _means({"as-expected": np.abs(off) <= near, above: off > near, below: off < -near})


def _means(outcomes: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    return {outcome: np.mean(happens, axis=1) for outcome, happens in outcomes.items()}
