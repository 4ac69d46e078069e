"""Owns a job as plain numbers for compiled loops: its circuit, its scale, what is not exactly known, its hook-ups."""

import math
from collections import namedtuple
from typing import TYPE_CHECKING

import numpy as np

from engine.circuit_state import CircuitState
from engine.module import limits_of, step_of
from engine.procedures import ELEMENTS, Hookup

if TYPE_CHECKING:
    from engine.model import Setup

# Unknowns of a two-wire circuit: the module's own idea of its input resistor, the real one over that, real reference volts
# over the nominal; a family nobody listed; the part's tolerance on ln ohm and on beta; the quantity as found, the error of a
# thermometer beside it; chassis against module ground.
OF = namedtuple("OF", ("source_ohm", "part_factor", "open_factor", "family_ln_ohm", "family_beta_k", "sensor_ln", "sensor_beta_k",
                       "true_value", "thermometer", "ground_v"))(*range(10))
_WHOLE = ("two_wires", "pointer", "switches", "case_grounded", "latched", "told_default", "active", "percent", "source_told")
_NUMBERS = (
    # The circuit, and the volts and siemens of another instrument on it.
    "open_v", "battery_v", "other_siemens", "other_amps", "switch_ratio", "switch_at_c", "switch_band_c", "end_to_end_ohm",
    # One converter step as a share of open, and where a code sets.
    "step", "low_share", "low_steep", "high_share", "high_steep",
    # Live data and its scale.
    "lowest", "highest", "low_end", "high_end", "low_ends_from", "high_ends_from", "whole", "reading_sd", "span", "moves_from",
    "plausible_within", "sign_low", "sign_high", "dial_share", "default_share",
    # What is not exactly known, as middle and spread.
    "source", "source_ln_sd", "open_sd", "family_ln_ohm", "family_ln_sd", "family_beta_k", "family_beta_sd", "true_mean", "true_sd",
    "thermometer_sd",
    # Of three wires: nominal supply, the track, lines nobody listed.
    "track_ohm", "track_ln_sd", "line_low", "line_low_sd", "line_high", "line_high_sd", "line_from", "line_to", "line_span_ln_sd")
JOB = np.dtype([(name, "?") for name in _WHOLE] + [(name, "f4") for name in _NUMBERS])
HOOK = np.dtype([(name, "?") for name in ("sensor", "dialled", "chassis", "module", "meter", "stand_in")]
                + [("element", "i8")] + [(name, "f4") for name in ("element_ohm", "at_c", "lead_ohm", "ratio")])
ELEMENT = {name: i for i, name in enumerate(ELEMENTS)}


def pack_job(setup: "Setup", end_to_end_ohm: float) -> np.ndarray:
    """`setup` as one JOB; the model adds what its own kind of circuit has."""
    out = np.zeros(1, JOB)
    job, circuit, scale = out[0], setup.circuit, setup.quantity
    switches = circuit.second_source_ohm is not None and circuit.switch_at_c is not None
    job["two_wires"], job["pointer"], job["switches"] = setup.three_wire is None, circuit.pointer, switches
    job["case_grounded"], job["latched"], job["percent"] = setup.case_grounded, circuit.latched, scale.unit == "percent"
    open_v, short_v = circuit.open_v if circuit.open_v is not None else 5.0, circuit.short_v or 0.0
    job["open_v"], job["battery_v"] = open_v, circuit.battery_v
    if circuit.second_instrument_ohm is not None:
        other_v = circuit.second_instrument_v or CircuitState().other_supply_v
        job["other_siemens"], job["other_amps"] = 1.0 / circuit.second_instrument_ohm, other_v / circuit.second_instrument_ohm
    if switches:
        job["switch_ratio"] = circuit.second_source_ohm / (circuit.source_ohm or circuit.second_source_ohm)
        job["switch_at_c"], job["switch_band_c"] = circuit.switch_at_c, max(circuit.switch_band_c, 1e-6)
    job["end_to_end_ohm"] = end_to_end_ohm
    job["step"] = step_of(circuit.open_v or 5.0, short_v, circuit.bits)
    job["low_share"], job["low_steep"], job["high_share"], job["high_steep"] = limits_of(
        circuit.open_v or 5.0, short_v, circuit.low_limit_v, circuit.high_limit_v)
    for name in ("lowest", "highest", "low_end", "high_end", "low_ends_from", "high_ends_from", "whole", "reading_sd", "span",
                 "moves_from", "plausible_within", "thermometer_sd"):
        job[name] = getattr(scale, name)
    job["sign_low"], job["sign_high"] = scale.sign_at
    job["dial_share"] = setup.meter.ohm_percent / 100.0 / 3.0**0.5
    job["source_told"] = circuit.source_ohm is not None
    job["source"], job["source_ln_sd"] = ((circuit.source_ohm, 0.0) if circuit.source_ohm is not None
                                          else (math.log(scale.source_ohm), scale.source_ln_sd))
    job["open_sd"] = setup.open_sd
    job["family_ln_ohm"], job["family_ln_sd"] = setup.family_ln_ohm_25
    job["family_beta_k"], job["family_beta_sd"] = setup.family_beta_k
    job["true_mean"], job["true_sd"] = ((setup.surroundings_c, scale.surroundings_sd) if setup.surroundings_c is not None
                                        else (scale.true_mean, scale.true_sd))
    return out


def pack_hooks(hook: Hookup) -> np.ndarray:
    """Hook-ups (r,) as HOOKs."""
    out = np.zeros(len(hook), HOOK)
    for name in HOOK.names:
        out[name] = [ELEMENT[each] for each in hook.element] if name == "element" else getattr(hook, name)
    return out
