"""What a healthy bench vehicle is made of: its module, harness, meter and stand-in, with tolerances."""

import math
from dataclasses import dataclass

from .thermistor import RisingSensor, Thermistor, draw_thermistor

CODES = {
    "coolant-temperature": {"high": "P0118", "low": "P0117", "implausible": "P0116",
        "intermittent": "P0119"},
    "intake-air-temperature": {"high": "P0113", "low": "P0112", "implausible": "P0111",
        "intermittent": "P0114"},
    "ambient-temperature": {"high": "P0073", "low": "P0072", "implausible": "P0071",
        "intermittent": "P0074"},
    "evaporator-temperature": {"high": "P0538", "low": "P0537", "implausible": "P0536",
        "intermittent": "P0539"},
}
"""Trouble code of each sensor kind: volts too high, too low, the reading absurd, or now and then wrong."""

NOMINAL_REFERENCE_V = 5.0


@dataclass(frozen=True)
class Module:
    """How the control unit turns volts at its pin into the number shown.

    curve is the law it believes in; whole_by is 'round', 'floor' or, for a module without steps to
    compare others with, 'exact'; default_c is the number shown when the volts leave the limits,
    None where it just runs into its ends; table_error is (from degC, to degC, kelvin added there).
    """

    curve: Thermistor
    nominal_pull_up_ohm: float
    bits: int
    low_limit_v: float
    high_limit_v: float
    default_c: int | None
    hottest_c: int
    whole_by: str
    table_error: tuple[float, float, float] | None = None

    def seen_fraction(self, fraction):
        """Pin volts over the converter's reference, clipped and in steps of the converter."""
        if self.whole_by == "exact":
            return min(max(fraction, 0.0), 1.0)
        top_count = 2**self.bits - 1
        return round(min(max(fraction, 0.0), 1.0) * top_count) / top_count

    def code(self, fraction):
        """'high' or 'low' when the volts leave the limits, else None."""
        volt = self.seen_fraction(fraction) * NOMINAL_REFERENCE_V
        if volt > self.high_limit_v:
            return "high"
        return "low" if volt < self.low_limit_v else None

    def shows_c(self, fraction):
        """The whole number of degC in live data for pin volts over converter reference."""
        if self.default_c is not None and self.code(fraction):
            return self.default_c
        seen = self.seen_fraction(fraction)
        if seen >= 1.0:
            return -40
        believed_c = self.curve.temperature_c(self.nominal_pull_up_ohm * seen / (1.0 - seen))
        if self.table_error and self.table_error[0] <= believed_c <= self.table_error[1]:
            believed_c += self.table_error[2]
        held_c = min(max(believed_c, -40.0), float(self.hottest_c))
        if self.whole_by == "exact":
            return held_c
        return math.floor(held_c) if self.whole_by == "floor" else math.floor(held_c + 0.5)


@dataclass(frozen=True)
class Wiring:
    """Everything between converter and sensor as it really is; a fault is a change of one of these.

    feeds are (volts, ohms) of other supplies that reach the signal wire at the plug; plug_leak_ohm lies
    across the pins of the mated plug, harness_leak_ohm between the two wires behind it;
    contact_knee_a is the current at which a filmed contact has lost half its ohms.
    """

    pull_up_ohm: float
    supply_v: float
    reference_v: float
    battery_v: float
    module_ground_v: float
    chassis_v: float
    signal_ohm: float
    return_ohm: float
    ground_path_ohm: float
    contact_ohm: float
    sensor: Thermistor | RisingSensor
    sensor_c: float
    sensor_series_ohm: float = 0.0
    sensor_own_ohm: float | None = None
    ground_leak_ohm: float = math.inf
    battery_leak_ohm: float = math.inf
    return_raised_v: float = 0.0
    frozen_c: int | None = None
    sensor_parallel_ohm: float = math.inf
    self_heating_k: float = 0.0
    plug_leak_ohm: float = math.inf
    harness_leak_ohm: float = math.inf
    feeds: tuple[tuple[float, float], ...] = ()
    input_offset_v: float = 0.0
    contact_knee_a: float | None = None


@dataclass(frozen=True)
class Instruments:
    """The technician's meter and potentiometer, with errors he does not know of."""

    ohm_gain: float
    volt_gain: float
    end_to_end_ohm: float
    end_ohm: float
    hand_ohm: float
    back_probes: bool


def three_digits(number):
    """The number to three digits, as a diagram prints it."""
    return float(f"{number:.3g}")


def draw_module(rng):
    """A module its maker could have sold: redrawn until each converter step is fine enough."""
    while True:
        curve = draw_thermistor(rng)
        pull_up_ohm = three_digits(math.exp(rng.uniform(math.log(900.0), math.log(12000.0))))
        bits = int(rng.choice([8, 10, 12], p=[0.15, 0.6, 0.25]))
        if _step_k(curve, pull_up_ohm, bits, 20.0) <= 1.0 and _step_k(curve, pull_up_ohm, bits, 90.0) <= 1.5:
            break
    hottest_c = int(rng.integers(119, 151))
    hot_v, cold_v = (NOMINAL_REFERENCE_V * _share(curve.ohm(t), pull_up_ohm) for t in (hottest_c, -40.0))
    default_c = int(rng.choice([-10, 20, 25, 40, 60, 80, 90])) if rng.random() < 0.25 else None
    return Module(
        curve=curve,
        nominal_pull_up_ohm=pull_up_ohm,
        bits=bits,
        low_limit_v=max(0.02, round(hot_v * rng.uniform(0.5, 0.9), 2)),
        high_limit_v=min(4.98, round(cold_v + (5.0 - cold_v) * rng.uniform(0.1, 0.6), 2)),
        default_c=default_c,
        hottest_c=hottest_c,
        whole_by=str(rng.choice(["round", "floor"])),
    )


def draw_wiring(rng, module, surroundings_c):
    """A healthy harness and sensor around a module, every part within its own tolerance."""
    reference_v = NOMINAL_REFERENCE_V * (1.0 + rng.uniform(-0.01, 0.01))
    part_tolerance, beta_tolerance = rng.uniform(0.01, 0.03), rng.uniform(0.005, 0.01)
    sensor = Thermistor(
        ohm_at_25=module.curve.ohm_at_25 * (1.0 + rng.uniform(-part_tolerance, part_tolerance)),
        beta_k=module.curve.beta_k * (1.0 + rng.uniform(-beta_tolerance, beta_tolerance)),
        bend_k2=module.curve.bend_k2,
    )
    return Wiring(
        pull_up_ohm=module.nominal_pull_up_ohm * (1.0 + rng.uniform(-0.01, 0.01)),
        supply_v=reference_v,
        reference_v=reference_v,
        battery_v=rng.uniform(12.2, 12.8),
        module_ground_v=abs(rng.normal(0.0, 0.02)),
        chassis_v=rng.normal(0.0, 0.008),
        signal_ohm=rng.uniform(0.05, 0.5),
        return_ohm=rng.uniform(0.05, 0.5),
        ground_path_ohm=rng.uniform(0.02, 0.2),
        contact_ohm=rng.uniform(0.01, 0.1),
        sensor=sensor,
        sensor_c=surroundings_c + rng.normal(0.0, 0.7),
    )


def draw_instruments(rng):
    """A meter inside its class and a '10 k' potentiometer as they come, turned by a hand."""
    end_to_end_ohm = rng.uniform(9000.0, 11000.0)
    return Instruments(
        ohm_gain=1.0 + rng.uniform(-0.008, 0.008),
        volt_gain=1.0 + rng.uniform(-0.005, 0.005),
        end_to_end_ohm=end_to_end_ohm,
        end_ohm=rng.uniform(1.0, 6.0),
        hand_ohm=end_to_end_ohm * rng.uniform(0.001, 0.005),
        back_probes=bool(rng.random() < 0.6),
    )


def _share(ohm, pull_up_ohm):
    """Share of the supply a healthy divider leaves at the pin."""
    return ohm / (ohm + pull_up_ohm)


def _step_k(curve, pull_up_ohm, bits, temperature_c):
    """Kelvin that one converter step is worth at a temperature [degC]."""
    warmer = _share(curve.ohm(temperature_c + 0.5), pull_up_ohm)
    colder = _share(curve.ohm(temperature_c - 0.5), pull_up_ohm)
    return 1.0 / (2**bits - 1) / (colder - warmer)
