"""Owns faults: what each kind does to the circuit, how severe it may be, and how likely before measuring."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from engine.module import COLD_END_C

EFFECTS = ("none", "sensor-series-ohm", "sensor-parallel-ohm", "sensor-factor", "sensor-wrong-curve",
           "plug-series-ohm", "signal-series-ohm", "signal-leak-ground-ohm", "signal-leak-battery-ohm",
           "return-series-ohm", "return-raised-v", "input-ohm-factor", "supply-low-factor", "reading-frozen",
           "unit-mistaken", "kilohm-mistaken", "stand-in-beside", "temperature-true")
LOCATIONS = ("module", "none", "plug", "return", "sensor", "set-up", "signal", "supply")
UNITS = ("", "ohm", "V", "factor", "degC")
# Where a loose contact of this effect sits, seen from the test: on the sensor's side of the plug, or in the harness.
SENSOR_SIDE = ("sensor-series-ohm", "sensor-parallel-ohm", "sensor-factor", "sensor-wrong-curve", "plug-series-ohm")
HARNESS_SIDE = ("signal-series-ohm", "signal-leak-ground-ohm", "signal-leak-battery-ohm", "return-series-ohm",
                "return-raised-v")
# A contact that passes current through added ohms is seldom steady.
CONTACTS = ("sensor-series-ohm", "plug-series-ohm", "signal-series-ohm", "return-series-ohm")


@dataclass(frozen=True)
class FaultKind:
    """One thing that can be wrong.

    `effect` is one of EFFECTS, `location` one of LOCATIONS, `chance` the share
    before measuring (any positive weight). Severities are log-uniform from
    `severity_low` to `severity_high` in `unit`, uniform for degC; both None
    where there is nothing to grade. `proof` is the step that shows the repair
    worked; minutes and price are the shop's to edit. An `intermittent` fault
    comes and goes between readings.
    """

    id: str
    location: str
    label: str
    effect: str
    chance: float
    severity_low: float | None = None
    severity_high: float | None = None
    unit: str = ""
    repair: str = ""
    repair_minutes: float = 30.0
    repair_price: float = 0.0
    proof: str = ""
    intermittent: bool = False


class CircuitState(NamedTuple):
    """What the faults have made of sensor and circuit, arrays over fault rows f and samples s."""

    sensor_series_ohm: np.ndarray
    sensor_parallel_ohm: np.ndarray
    sensor_ln_factor: np.ndarray
    sensor_beta_k: np.ndarray
    plug_ohm: np.ndarray
    signal_ohm: np.ndarray
    leak_ground_ohm: np.ndarray
    leak_battery_ohm: np.ndarray
    return_ohm: np.ndarray
    return_v: np.ndarray
    input_factor: np.ndarray
    supply_factor: np.ndarray
    kilohm_factor: np.ndarray
    true_offset_c: np.ndarray


# What a circuit in order has: contact, wire and return ohms, no leaks (common practice, no source).
HEALTHY = {"sensor_series_ohm": 0.0, "sensor_parallel_ohm": 1e15, "sensor_ln_factor": 0.0, "sensor_beta_k": 0.0,
           "plug_ohm": 0.05, "signal_ohm": 0.2, "leak_ground_ohm": 1e15, "leak_battery_ohm": 1e15, "return_ohm": 0.3,
           "return_v": 0.0, "input_factor": 1.0, "supply_factor": 1.0, "kilohm_factor": 1.0, "true_offset_c": 0.0}
# Effect -> the quantity whose value it replaces, or adds to where that quantity is a series resistance.
_DIRECT = {"sensor-series-ohm": "sensor_series_ohm", "sensor-parallel-ohm": "sensor_parallel_ohm",
           "plug-series-ohm": "plug_ohm", "signal-series-ohm": "signal_ohm",
           "signal-leak-ground-ohm": "leak_ground_ohm", "signal-leak-battery-ohm": "leak_battery_ohm",
           "return-series-ohm": "return_ohm", "return-raised-v": "return_v", "input-ohm-factor": "input_factor",
           "supply-low-factor": "supply_factor", "temperature-true": "true_offset_c"}
_ADDS = {"plug_ohm", "signal_ohm", "return_ohm"}
# A sensor of another family: its beta differs as well, by this standard deviation [K].
WRONG_CURVE_BETA_K = 250.0
# Severities this near to a family's own value would not be another family.
WRONG_CURVE_GAP = 0.12
TRUE_GAP_C = 5.0
STUCK_COLD = 0.25
# A true reading may also be just what the surroundings are: nothing is wrong now.
IN_ORDER = 0.08


def severity(fault: FaultKind, share: np.ndarray) -> np.ndarray:
    """Severity in the fault's unit at `share` (0..1) of its range: log-uniform, uniform for degC.

    A wrong curve's severity is the factor on the 25 degC value, with a gap
    around 1; a true reading's is how far the temperature really is from the
    surroundings, either not at all or by more than a gap.
    """
    if fault.severity_low is None or fault.severity_high is None:
        return np.ones_like(share)
    low, high = fault.severity_low, fault.severity_high
    if fault.effect == "sensor-wrong-curve":
        below, above = np.log(low) + WRONG_CURVE_GAP, np.log(high) - WRONG_CURVE_GAP
        t = below + share * (above - below)
        return np.exp(np.where(t < 0, t - WRONG_CURVE_GAP, t + WRONG_CURVE_GAP))
    if fault.effect == "temperature-true":
        t = low + TRUE_GAP_C + (share - IN_ORDER) / (1.0 - IN_ORDER) * (high - low - 2 * TRUE_GAP_C)
        return np.where(share < IN_ORDER, 0.0, np.where(t < 0, t - TRUE_GAP_C, t + TRUE_GAP_C))
    if fault.unit == "degC":
        # A dead or unsupported item is stuck at the cold end more often than at any other number.
        return np.where(share < STUCK_COLD, COLD_END_C, low + (share - STUCK_COLD) / (1.0 - STUCK_COLD) * (high - low))
    return low * np.exp(share * np.log(high / low))


def stuck_share(fault: FaultKind, shown_c: float) -> float:
    """Share of the range at which a frozen reading is stuck at `shown_c` [degC]; inverse of `severity` for degC."""
    part = (shown_c - fault.severity_low) / (fault.severity_high - fault.severity_low)
    return float(np.clip(STUCK_COLD + (1.0 - STUCK_COLD) * part, 1e-6, 1.0 - 1e-6))


def circuit_state(faults: tuple[FaultKind, ...], share: np.ndarray, second: np.ndarray) -> CircuitState:
    """The circuit under each fault: `share` and `second` have shape (f, s); results too.

    `share` places the severity in its range, `second` is standard normal and
    grades what goes with it (the beta of a wrong curve).
    """
    values = {name: np.full(share.shape, value) for name, value in HEALTHY.items()}
    for row, fault in enumerate(faults):
        grade = severity(fault, share[row])
        if fault.effect in _DIRECT:
            name = _DIRECT[fault.effect]
            values[name][row] = values[name][row] + grade if name in _ADDS else grade
        elif fault.effect == "sensor-factor":
            values["sensor_ln_factor"][row] = np.log(grade)
        elif fault.effect == "sensor-wrong-curve":
            values["sensor_ln_factor"][row] = np.log(grade)
            values["sensor_beta_k"][row] = WRONG_CURVE_BETA_K * second[row]
        elif fault.effect == "kilohm-mistaken":
            values["kilohm_factor"][row] = np.where(share[row] < 0.7, 1000.0, 0.001)
    return CircuitState(**values)
