"""Owns the weights of outcome edges on circuits of three wires: how much each outcome speaks for each fault."""

import numpy as np

from engine.circuit import InputCircuit
from engine.faults import FaultKind
from engine.lines import ThreeWire
from engine.model import Setup
from engine.points import Shown, shown_on
from engine.procedures import MAIN_VOLTS, TestKind, hookup
from engine.quantities import Quantity
from engine.readings import Reading
from engine.stand_in import Meter, StandIn
from engine.three_wire_model import SWEEP_MIDDLE, ThreeWireModel
from engine.unknowns import Z_NAMES
from knowledge.weights import FLOOR, LEAST_WEIGHT, NEAR_SPAN, NEAR_V, SHARES, against, good_chances, means

DIVIDED_AT = 0.5
NEAR_VALUE_SHARE, NEAR_RETURN_OHM = 0.03, 8.0
STAND_IN_OHM = 10000.0


def speaks_for_three_wires(tests: tuple[TestKind, ...], faults: tuple[FaultKind, ...], wire: ThreeWire,
                           quantity: Quantity) -> dict[tuple[str, str, str], float]:
    """(test id, outcome id, fault id) -> natural log of the outcome's chance under the fault over its chance overall.

    As weights.speaks_for, on one typical circuit: the line of `wire`, pulled down.
    """
    healthy = FaultKind("healthy", "none", "", "none", 1e-9)
    setup = Setup(InputCircuit(reference_v=5.0, open_v=5.0, short_v=0.0, source_ohm=3e5, pull="down"), (), 0.0, (0.0, 1.0),
                  (3650.0, 250.0), StandIn(end_to_end_ohm=STAND_IN_OHM), Meter(), None, (), (*faults, healthy), tests, quantity,
                  three_wire=wire)
    model, chance, found = ThreeWireModel(setup), np.array([fault.chance for fault in faults]), {}
    for test in tests:
        shares = good_chances(test, setup.faults) if test.measures == "good" else _outcomes(test, model)
        for outcome, p in shares.items():
            comes = np.array([fault.intermittent for fault in setup.faults]) & (test.measures != "good")
            p = FLOOR + (1.0 - 2 * FLOOR) * np.where(comes, 0.5 * p + 0.5 * p[-1], p)[:-1]
            for fault, weight in zip(faults, np.log(p / float(chance @ p / chance.sum())), strict=True):
                if weight > LEAST_WEIGHT:
                    found[test.id, outcome, fault.id] = round(float(weight), 6)
    return found


def _outcomes(test: TestKind, model: ThreeWireModel) -> dict[str, np.ndarray]:
    """Chance of each outcome under each fault, the last being no fault at all."""
    scale, kinds = model.setup.quantity, model.kinds
    off = np.array([[kind.effect == "key-off"] for kind in kinds])
    near = NEAR_VALUE_SHARE * (scale.high_end - scale.low_end)
    if test.measures == "sweep":
        low, high = (_number(_shown(test, model, ratio), model) for ratio in (None, SWEEP_MIDDLE))
        span = np.abs(high - low)
        part = span / span[-1]
        follows = (part > NEAR_SPAN) & (np.abs(low - low[-1]) < near)
        return means({"follows": follows, "part": ~follows & (part > 0.1), "still": ~follows & (part <= 0.1)})
    shown = _shown(test, model, DIVIDED_AT)
    if test.measures == "shows":
        found = against(_number(shown, model), near, "too-hot", "too-cold")
        return {**{outcome: np.where(off[:, 0], 0.0, share) for outcome, share in found.items()}, "absent": off[:, 0] * 1.0}
    if test.measures in MAIN_VOLTS:
        return against(np.where(off, 0.0, shown.volts(MAIN_VOLTS[test.measures], 0)), NEAR_V, "too-high", "too-low")
    many = shown.return_ohm > NEAR_RETURN_OHM
    return means({"as-expected": ~many, "too-many": many})


def _shown(test: TestKind, model: ThreeWireModel, ratio: float | None) -> Shown:
    """The engine's prediction for one test under each fault and each severity, every unknown at its middle."""
    reading = Reading(test.id, ratio=ratio if test.element == "divider" else None)
    rows = np.arange(len(model))
    shares, z = np.tile(SHARES, (len(rows), 1)), np.zeros((len(rows), len(SHARES), len(Z_NAMES)))
    hook = hookup((test,), (reading,), STAND_IN_OHM)
    return shown_on(model.circuit, hook, rows, shares, z)


def _number(shown: Shown, model: ThreeWireModel) -> np.ndarray:
    """What live data shows, (f, s): held at its ends, frozen, or of another moment than typed."""
    rows = model.pick(np.arange(len(model)))
    seen = shown.value[0].copy()
    shares = np.tile(SHARES, (len(seen), 1))
    for row in rows.having("reading-frozen"):
        seen[row] = rows.severity(shares)[row]
    for row in rows.having("too-soon", "stand-in-moved"):
        seen[row] = model.setup.three_wire.rest[0]
    return np.clip(seen, model.setup.quantity.low_end, model.setup.quantity.high_end)
