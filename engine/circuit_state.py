"""Owns what faults can make of a sensor and its circuit: every quantity of it, by name, and what each is in order."""

from collections import namedtuple
from typing import NamedTuple

import numpy as np

# The other supply a signal wire may be rubbed into, or another instrument's feed.
OTHER_SUPPLY_V = 5.0


class CircuitState(NamedTuple):
    """What a fault may change of sensor and circuit, and what it is in a circuit in order: contact, wire and return ohms,
    no leaks (common practice, no source). A rising sensor's ohms, a stuck ratio and a dead input are nan where there is none."""

    sensor_series_ohm: float = 0.0
    sensor_parallel_ohm: float = 1e15
    sensor_rising_ohm: float = np.nan
    sensor_ln_factor: float = 0.0
    sensor_beta_k: float = 0.0
    self_heating_c: float = 0.0
    plug_ohm: float = 0.05
    plug_leak_ohm: float = 1e15
    signal_ohm: float = 0.2
    leak_ground_ohm: float = 1e15
    leak_battery_ohm: float = 1e15
    leak_supply_ohm: float = 1e15
    other_supply_v: float = OTHER_SUPPLY_V
    return_ohm: float = 0.3
    return_v: float = 0.0
    input_factor: float = 1.0
    offset_v: float = 0.0
    supply_factor: float = 1.0
    module_ln_factor: float = 0.0
    module_beta_k: float = 0.0
    module_ground_v: float = 0.0
    module_return_ohm: float = 0.0
    kilohm_factor: float = 1.0
    true_offset: float = 0.0
    shown_offset: float = 0.0
    late_share: float = 0.0
    flips_at: float = 50.0
    # Of three wires: the supply's way to the plug, what others take from supply to return there, the sensor's track or output, the module's own scale.
    supply_ohm: float = 0.5
    rail_load_ohm: float = 1e15
    plug_supply_ohm: float = 0.05
    plug_return_ohm: float = 0.05
    wiper_ohm: float = 0.0
    top_ohm: float = 0.0
    bottom_ohm: float = 0.0
    ratio_offset: float = 0.0
    ratio_factor: float = 1.0
    stuck_ratio: float = np.nan
    plugged_supply_factor: float = 1.0
    scale_factor: float = 1.0
    dead_share: float = np.nan


# Where each quantity stands in a circuit's row of numbers, and the row in order.
AT = namedtuple("AT", CircuitState._fields)(*range(len(CircuitState._fields)))
HEALTHY = np.array(CircuitState(), np.float32)
