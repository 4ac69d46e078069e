"""What the tool has no name for: faults nobody listed, and readings of which one was typed wrongly."""

from dataclasses import replace

import numpy as np

from .faults import FAULT_KINDS, FaultKind, draw_fault_id
from .vehicle import Vehicle

FAR_K = 12.0


def _log_uniform(rng, low, high):
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def _filmed_contact(rng, wiring):
    return replace(wiring, contact_ohm=_log_uniform(rng, 500.0, 30000.0), contact_knee_a=_log_uniform(rng, 5e-5, 1e-3))


def _stepped_sensor(rng, wiring):
    factor = _log_uniform(rng, 1.5, 5.0) ** (1.0 if rng.random() < 0.5 else -1.0)
    return replace(wiring, sensor=replace(wiring.sensor, step=(rng.uniform(30.0, 65.0), factor)))


def _leak_to_24_v(rng, wiring):
    return replace(wiring, feeds=((24.0 + rng.uniform(0.0, 4.0), _log_uniform(rng, 1000.0, 1e5)),))


def _two_across(rng, wiring):
    return replace(wiring, plug_leak_ohm=_log_uniform(rng, 500.0, 10000.0),
                   harness_leak_ohm=_log_uniform(rng, 500.0, 10000.0))


def _as_it_was(rng, wiring):
    return wiring


def _range_error(rng, module):
    low_c = rng.uniform(15.0, 60.0)
    away_k = rng.uniform(9.0, 25.0) * (1.0 if rng.random() < 0.5 else -1.0)
    return replace(module, table_error=(low_c, low_c + rng.uniform(20.0, 40.0), away_k))


UNLISTED = {
    "filmed-contact": (FaultKind("plug", 1, _filmed_contact), ("plug",)),
    "sensor-with-a-step": (FaultKind("sensor", 1, _stepped_sensor), ("sensor",)),
    "leak-to-24-v": (FaultKind("signal", 1, _leak_to_24_v), ("signal",)),
    "two-resistors-across": (FaultKind("plug", 1, _two_across), ("plug", "signal", "return")),
    "module-table-off-in-one-range": (FaultKind("module", 1, _as_it_was, recode=_range_error), ("module",)),
}
"""Fault id -> the fault, and the locations at which something is wrong."""

PAIRS = (
    ("sensor-reads-high", "signal-leak-to-ground"), ("sensor-reads-low", "return-added-ohms"),
    ("sensor-wrong-curve", "signal-added-ohms"), ("plug-contact", "signal-leak-to-battery"),
    ("module-input-off", "plug-contact"), ("supply-low", "sensor-reads-high"), ("return-raised", "sensor-reads-low"),
    ("module-input-off", "return-added-ohms"), ("supply-low", "signal-leak-to-ground"),
)
"""Two faults that have nothing to do with each other."""


def unlisted_vehicle(number):
    """(vehicle, locations at which something is wrong) with a fault, or two at once, that no list holds."""
    rng = np.random.default_rng([number, 515])
    names = [*UNLISTED, *(f"{one}+{other}" for one, other in PAIRS)]
    name = names[number % len(names)]
    if name in UNLISTED:
        kind, wrong = UNLISTED[name]
    else:
        one, other = (FAULT_KINDS[part] for part in name.split("+"))
        kind = FaultKind(one.location, 1, lambda r, wiring: other.change(r, one.change(r, wiring)))
        wrong = (one.location, other.location)
    return Vehicle(int(rng.integers(1, 10**6)), name, kind), wrong


def listed_vehicle(number):
    """A vehicle with one listed fault that is no mistake of the technician's, for a reading of it to be mistyped."""
    rng = np.random.default_rng([number, 616])
    while True:
        fault_id = draw_fault_id(rng)
        if FAULT_KINDS[fault_id].location != "set-up" and not FAULT_KINDS[fault_id].intermittent:
            return Vehicle(int(rng.integers(1, 10**6)), fault_id)


def mistyped(reading, rng):
    """The reading with one number wrong in a way hands make, or None where it holds none to mistype."""
    ways = []
    shows = reading.get("shows")
    if isinstance(shows, (int, float)):
        # Near -40 both scales show the same number.
        ways += [_fahrenheit, _other_item] if abs(shows * 0.8 + 32.0) > FAR_K else [_other_item]
    if isinstance(reading.get("ohm"), (int, float)):
        ways.append(_kilohm)
    if isinstance(reading.get("ohms"), (int, float)):
        ways.append(_kilohm_measured)
    if not ways:
        return None
    return ways[int(rng.integers(len(ways)))](reading, rng)


def _fahrenheit(reading, rng):
    return {**reading, "shows": round(reading["shows"] * 1.8 + 32.0)}


def _other_item(reading, rng):
    while True:
        other = int(rng.integers(-20, 110))
        if abs(other - reading["shows"]) > FAR_K:
            return {**reading, "shows": other}


def _kilohm(reading, rng):
    return {**reading, "ohm": round(reading["ohm"] / 1000.0, 4)}


def _kilohm_measured(reading, rng):
    return {**reading, "ohms": round(reading["ohms"] / 1000.0, 4)}
