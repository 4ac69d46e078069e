"""The bench's faults: how often each occurs, where it sits and what it changes in the wiring or the module."""

import math
from dataclasses import dataclass, replace
from typing import Callable

from .circuits import NOMINAL_REFERENCE_V
from .thermistor import RisingSensor, draw_thermistor

OPEN_OHM = 1e9
"""An open joint: damp insulation, not nothing."""


@dataclass(frozen=True)
class FaultKind:
    """One fault: its location, its weight among the others, and change(rng, wiring) -> wiring.

    mistake names what the technician does wrongly; visible_in_volts is False where the reading
    itself is right or stuck, so that no severity has to be large enough. recode(rng, module) -> module
    is what is wrong inside the module; an intermittent fault is there in some readings only.
    """

    location: str
    weight: float
    change: Callable
    mistake: str | None = None
    visible_in_volts: bool = True
    recode: Callable | None = None
    intermittent: bool = False


def _log_uniform(rng, low, high):
    return float(math.exp(rng.uniform(math.log(low), math.log(high))))


def _sensor_open(rng, wiring):
    return replace(wiring, sensor_own_ohm=_log_uniform(rng, 3e7, OPEN_OHM))


def _sensor_shorted(rng, wiring):
    return replace(wiring, sensor_own_ohm=_log_uniform(rng, 0.2, 8.0))


def _scaled_sensor(wiring, factor):
    return replace(wiring, sensor=replace(wiring.sensor, ohm_at_25=wiring.sensor.ohm_at_25 * factor))


def _sensor_high(rng, wiring):
    # A cracked lead adds ohms; an aged element multiplies them.
    if rng.random() < 0.4:
        return replace(wiring, sensor_series_ohm=_log_uniform(rng, 40.0, 5000.0))
    return _scaled_sensor(wiring, _log_uniform(rng, 1.2, 5.0))


def _sensor_low(rng, wiring):
    return _scaled_sensor(wiring, _log_uniform(rng, 0.15, 0.85))


def _wrong_curve(rng, wiring):
    while True:
        other = draw_thermistor(rng)
        ratio = other.ohm_at_25 / wiring.sensor.ohm_at_25
        if not 0.65 < ratio < 1.5:
            return replace(wiring, sensor=other)


def _plug_contact(rng, wiring):
    ohm = OPEN_OHM if rng.random() < 0.2 else _log_uniform(rng, 30.0, 60000.0)
    return replace(wiring, contact_ohm=ohm)


def _signal_open(rng, wiring):
    return replace(wiring, signal_ohm=OPEN_OHM)


def _signal_added(rng, wiring):
    return replace(wiring, signal_ohm=_log_uniform(rng, 30.0, 20000.0))


def _leak_to_ground(rng, wiring):
    hard = rng.random() < 0.35
    return replace(wiring, ground_leak_ohm=_log_uniform(rng, 0.3, 5.0) if hard else _log_uniform(rng, 60.0, 20000.0))


def _leak_to_battery(rng, wiring):
    hard = rng.random() < 0.3
    return replace(wiring, battery_leak_ohm=_log_uniform(rng, 0.5, 10.0) if hard else _log_uniform(rng, 500.0, 1e5))


def _return_open(rng, wiring):
    return replace(wiring, return_ohm=OPEN_OHM)


def _return_added(rng, wiring):
    return replace(wiring, return_ohm=_log_uniform(rng, 30.0, 20000.0))


def _return_raised(rng, wiring):
    return replace(wiring, return_raised_v=_log_uniform(rng, 0.1, 1.0))


def _input_off(rng, wiring):
    while True:
        factor = _log_uniform(rng, 0.5, 2.0)
        if not 0.88 < factor < 1.12:
            return replace(wiring, pull_up_ohm=wiring.pull_up_ohm * factor)


def _supply_low(rng, wiring):
    # The converter keeps its own reference: only what feeds the pull-up has sagged.
    return replace(wiring, supply_v=rng.uniform(3.0, 4.5))


def _frozen(rng, wiring):
    while True:
        shown_c = int(rng.choice([-40, -20, 0, 20, 40, 60, 80, 90, 100, int(rng.integers(-30, 110))]))
        if abs(shown_c - wiring.sensor_c) > 8.0:
            return replace(wiring, frozen_c=shown_c)


def _truly_so(rng, wiring):
    away_k = rng.uniform(9.0, 35.0) * (1.0 if rng.random() < 0.8 else -1.0)
    return replace(wiring, sensor_c=wiring.sensor_c + away_k)


def _sensor_rising(rng, wiring):
    return replace(wiring, sensor=RisingSensor(_log_uniform(rng, 90.0, 3000.0), rng.uniform(0.0035, 0.008)))


def _self_heating(rng, wiring):
    return replace(wiring, self_heating_k=rng.uniform(7.0, 25.0))


def _water_in_plug(rng, wiring):
    return replace(wiring, plug_leak_ohm=_log_uniform(rng, 200.0, 30000.0))


def _leak_to_supply(rng, wiring):
    return replace(wiring, feeds=((NOMINAL_REFERENCE_V + rng.uniform(-0.05, 0.05), _log_uniform(rng, 50.0, 30000.0)),))


def _second_instrument(rng, wiring):
    volt = wiring.battery_v if rng.random() < 0.5 else NOMINAL_REFERENCE_V
    return replace(wiring, feeds=((volt, _log_uniform(rng, 1000.0, 30000.0)),))


def _supply_high(rng, wiring):
    return replace(wiring, supply_v=rng.uniform(5.4, 6.5))


def _crosstalk(rng, wiring):
    return replace(wiring, input_offset_v=_log_uniform(rng, 0.08, 0.8) * (1.0 if rng.random() < 0.5 else -1.0))


def _module_ground(rng, wiring):
    return replace(wiring, module_ground_v=_log_uniform(rng, 0.15, 1.0))


def _other_curve_coded(rng, module):
    factor = _log_uniform(rng, 1.25, 3.0) ** (1.0 if rng.random() < 0.5 else -1.0)
    return replace(module, curve=replace(module.curve, ohm_at_25=module.curve.ohm_at_25 * factor))


def _sensor_breaks(rng, wiring):
    return replace(wiring, sensor_own_ohm=OPEN_OHM)


def _plug_breaks(rng, wiring):
    return replace(wiring, contact_ohm=OPEN_OHM)


def _as_it_was(rng, wiring):
    return wiring


FAULT_KINDS = {
    "sensor-open": FaultKind("sensor", 6, _sensor_open),
    "sensor-shorted": FaultKind("sensor", 3, _sensor_shorted),
    "sensor-reads-high": FaultKind("sensor", 9, _sensor_high),
    "sensor-reads-low": FaultKind("sensor", 7, _sensor_low),
    "sensor-wrong-curve": FaultKind("sensor", 5, _wrong_curve),
    "plug-contact": FaultKind("plug", 19, _plug_contact),
    "signal-open": FaultKind("signal", 7, _signal_open),
    "signal-added-ohms": FaultKind("signal", 5, _signal_added),
    "signal-leak-to-ground": FaultKind("signal", 4, _leak_to_ground),
    "signal-leak-to-battery": FaultKind("signal", 3, _leak_to_battery),
    "return-open": FaultKind("return", 4, _return_open),
    "return-added-ohms": FaultKind("return", 7, _return_added),
    "return-raised": FaultKind("return", 3, _return_raised),
    "module-input-off": FaultKind("module", 3, _input_off),
    "supply-low": FaultKind("supply", 2, _supply_low),
    "module-frozen": FaultKind("module", 3, _frozen, visible_in_volts=False),
    "none": FaultKind("none", 4, _truly_so, visible_in_volts=False),
    "set-up-wrong-unit": FaultKind("set-up", 2, _as_it_was, "wrong-unit", False),
    "set-up-ohm-for-kilohm": FaultKind("set-up", 2, _as_it_was, "ohm-for-kilohm", False),
    "set-up-beside-sensor": FaultKind("set-up", 2, _as_it_was, "beside-sensor", False),
    "sensor-rising": FaultKind("sensor", 0.5, _sensor_rising),
    "sensor-self-heating": FaultKind("sensor", 0.5, _self_heating),
    "plug-water": FaultKind("plug", 1.5, _water_in_plug),
    "signal-leak-to-supply": FaultKind("signal", 1, _leak_to_supply),
    "signal-second-instrument": FaultKind("signal", 0.5, _second_instrument),
    "supply-high": FaultKind("supply", 0.5, _supply_high),
    "module-crosstalk": FaultKind("module", 0.5, _crosstalk),
    "module-wrong-curve": FaultKind("module", 0.5, _as_it_was, recode=_other_curve_coded),
    "module-ground": FaultKind("module", 0.5, _module_ground, visible_in_volts=False),
    "sensor-intermittent": FaultKind("sensor", 1, _sensor_breaks, intermittent=True),
    "plug-intermittent": FaultKind("plug", 2, _plug_breaks, intermittent=True),
    "signal-intermittent": FaultKind("signal", 1, _signal_open, intermittent=True),
    "return-intermittent": FaultKind("return", 1, _return_open, intermittent=True),
}


def draw_fault_id(rng):
    """One fault id, by the bench's own weights."""
    ids = list(FAULT_KINDS)
    weights = [FAULT_KINDS[fault_id].weight for fault_id in ids]
    return ids[int(rng.choice(len(ids), p=[w / sum(weights) for w in weights]))]
