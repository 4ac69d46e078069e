"""One simulated vehicle with one fault: it answers every test by solving its own netlist.

Nothing here knows how the tool reasons. Each answer is what a technician would type, with the
errors of his meter, hand and eye; the same test asked twice gets the same answer.
"""

import zlib
from dataclasses import replace

import numpy as np

from .circuits import (
    CODES,
    NOMINAL_REFERENCE_V,
    draw_instruments,
    draw_module,
    draw_wiring,
)
from .faults import FAULT_KINDS, draw_fault_id
from .netlist import Netlist

MINUTES = {
    "look": 2, "as-found": 1, "live-number": 3, "unplugged": 2, "shorted": 2, "substitute": 4,
    "substitute-to-chassis": 4, "substitute-at-module": 15, "substitute-sensor-ohms": 5,
    "plug-volts": 3, "return-ohms": 4, "sensor-ohms": 4, "terminal-fit": 4, "module-feeds": 12,
    "wiggle": 4,
}
"""Minutes each test takes a technician; the keys are the tests this bench can answer."""

METER_LOAD_OHM = 1e7
OPEN_READS_ABOVE_OHM = 2e7
JUMPER_OHM = 0.1
SMALLEST_ERROR_K = 6.0
PLUG = ("plug_signal", "plug_return")
AT_MODULE = ("pin", "module_return")
STAND_IN_ENDS = {
    "substitute": PLUG,
    "substitute-to-chassis": ("plug_signal", "chassis"),
    "substitute-at-module": AT_MODULE,
}
EYE = {
    "look": {"plug": 0.35, "signal": 0.20, "return": 0.20},
    "terminal-fit": {"plug": 0.90},
    "wiggle": {"plug": 0.50, "signal": 0.25, "return": 0.25},
    "module-feeds": {"supply": 1.00},
}
"""Chance that eye or hand sees a fault sitting at a location; elsewhere it is a false alarm."""

FALSE_ALARM = 0.02


class Vehicle:
    """A vehicle of a given number: the number fixes everything about it, fault and answers included."""

    def __init__(self, number, fault_id=None):
        self.number = number
        rng = np.random.default_rng([number, 7919])
        self.sensor = str(rng.choice(list(CODES)))
        self.fault_id = fault_id or draw_fault_id(rng)
        self.kind = FAULT_KINDS[self.fault_id]
        self.location = self.kind.location
        self.surroundings_c = round(float(rng.uniform(5.0, 32.0)), 1)
        self.module, self.wiring = self._draw_until_it_matters(rng)
        self.instruments = draw_instruments(rng)
        self.complaint = CODES[self.sensor][self._code_it_sets()]

    def _draw_until_it_matters(self, rng):
        """Module and faulty wiring whose reading is wrong enough for somebody to complain."""
        while True:
            module = draw_module(rng)
            healthy = draw_wiring(rng, module, self.surroundings_c)
            for _ in range(50):
                faulty = self.kind.change(rng, healthy)
                if not self.kind.visible_in_volts or largest_error_k(module, faulty) >= SMALLEST_ERROR_K:
                    return module, faulty

    def _code_it_sets(self):
        """'high', 'low' or 'implausible': what the module would store between 20 and 90 degC."""
        for sensor_c in (self.wiring.sensor_c, *range(20, 91, 10)):
            volts = solve(replace(self.wiring, sensor_c=float(sensor_c)))
            code = self.module.code(pin_fraction(self.wiring, volts))
            if code:
                return code
        return "implausible"

    # What the tool is told before the first test.

    def job_fields(self, known):
        """Keyword arguments that open a job; circuit is empty where nobody knows the circuit."""
        ohms = self.instruments.end_to_end_ohm * self.instruments.ohm_gain
        return {
            "complaint": [self.complaint],
            "circuit": self._circuit_told() if known else {},
            "stand_in": {"kind": "potentiometer", "end_to_end_ohm": four_digits(ohms), "turns": 1, "watts": 0.2},
            "meter": {"ohm_percent": 0.8, "ohm_digits": 2, "volt_percent": 0.5},
            "surroundings": {"value": self.surroundings_c, "unit": "degC"},
        }

    def _circuit_told(self):
        module = self.module
        return {
            "reference_v": NOMINAL_REFERENCE_V,
            "pull_up_ohm": module.nominal_pull_up_ohm,
            "bits": module.bits,
            "curve": {"quantity": "temperature", "unit": "degC", "points": module.curve.points()},
            "low_limit_v": module.low_limit_v,
            "high_limit_v": module.high_limit_v,
            "default": module.default_c,
            "battery_v": 12.6,
        }

    # What a test shows.

    def answer(self, test, ohm=None):
        """What the technician types after a test, as keyword arguments of the job's record()."""
        rng = np.random.default_rng([self.number, zlib.crc32(test.encode()), int(ohm or 0)])
        if test in EYE:
            seen = EYE[test].get(self.location, FALSE_ALARM)
            return {"good": bool(rng.random() >= seen)}
        if test in STAND_IN_ENDS:
            if ohm is None:
                raise ValueError(f"{test} needs the ohms to set")
            return self._substitute(test, ohm, rng)
        plain = {
            "as-found": self._as_found,
            "live-number": self._live_number,
            "unplugged": self._unplugged,
            "shorted": self._shorted,
            "substitute-sensor-ohms": self._substitute_sensor_ohms,
            "plug-volts": self._plug_volts,
            "return-ohms": self._return_ohms,
            "sensor-ohms": self._sensor_ohms,
        }
        if test not in plain:
            raise ValueError(f"the bench has no answer to {test}; it answers {', '.join(sorted(MINUTES))}")
        return plain[test](rng)

    def _as_found(self, rng):
        return self._typed_temperature(solve(self.wiring))

    def _unplugged(self, rng):
        return self._typed_temperature(solve(self.wiring, sensor_fitted=False))

    def _shorted(self, rng):
        return self._typed_temperature(solve(self.wiring, sensor_fitted=False, stand_in=(*PLUG, JUMPER_OHM)))

    def _live_number(self, rng):
        """Lowest and highest number while the knob goes from a twentieth of its track to all of it."""
        total_ohm = self.instruments.end_to_end_ohm
        shown = [
            self._typed_temperature(self._with_stand_in(PLUG, float(ohm)))["shows"]
            for ohm in np.geomspace(total_ohm / 20.0, total_ohm, 25)
        ]
        moved = max(shown) > min(shown)
        return {"shows": [min(shown), max(shown)] if moved else "did-not-move", "unit": "degC"}

    def _substitute(self, test, ohm, rng):
        real_ohm, typed_ohm = self._dial(ohm, rng)
        volts = self._with_stand_in(STAND_IN_ENDS[test], real_ohm)
        typed = {"ohm": typed_ohm, **self._typed_temperature(volts)}
        if test == "substitute" and self.instruments.back_probes:
            typed["signal_to_return_v"] = self._typed_volts(volts["plug_signal"] - volts["plug_return"])
        return typed

    def _substitute_sensor_ohms(self, rng):
        """The sensor's own measured ohms, set on the potentiometer with a fixed resistor where it is too small."""
        measured_ohm = self._sensor_pins_ohm() * self.instruments.ohm_gain
        if measured_ohm > OPEN_READS_ABOVE_OHM:
            return {"ohm": four_digits(self.instruments.end_to_end_ohm), "shows": "not-available"}
        real_ohm, typed_ohm = self._dial(measured_ohm, rng, most_ohm=measured_ohm * 1.05)
        return {"ohm": typed_ohm, **self._typed_temperature(self._with_stand_in(PLUG, real_ohm))}

    def _plug_volts(self, rng):
        """Two measurements at the unplugged plug, each with the meter's own load across its leads."""
        to_return = solve(self.wiring, sensor_fitted=False, stand_in=(*PLUG, METER_LOAD_OHM))
        to_negative = ("plug_signal", "battery_negative", METER_LOAD_OHM)
        to_battery = solve(self.wiring, sensor_fitted=False, stand_in=to_negative)
        return {
            "signal_to_return_v": self._typed_volts(to_return["plug_signal"] - to_return["plug_return"]),
            "signal_to_battery_v": self._typed_volts(to_battery["plug_signal"]),
        }

    def _return_ohms(self, rng):
        """Key off, plug's return to battery negative: nothing feeds the network but the meter."""
        net = Netlist("battery_negative")
        net.resistor("plug_return", "module_return", self.wiring.return_ohm)
        net.resistor("module_return", "module_ground", 0.02)
        net.resistor("module_ground", "battery_negative", self.wiring.ground_path_ohm)
        ohms = net.ohms_between("plug_return", "battery_negative") * self.instruments.ohm_gain
        return {"ohms": "open" if ohms > OPEN_READS_ABOVE_OHM else round(four_digits(ohms + rng.uniform(0.0, 0.2)), 1)}

    def _sensor_ohms(self, rng):
        """The sensor's pins on the ohmmeter, and the temperature of a thermometer held to its body."""
        ohms = self._sensor_pins_ohm() * self.instruments.ohm_gain
        return {
            "ohms": "open" if ohms > OPEN_READS_ABOVE_OHM else round(four_digits(ohms), 1),
            "at": {"value": round(self.wiring.sensor_c + float(rng.normal(0.0, 0.5)), 1), "unit": "degC"},
        }

    # The technician's hand and pen.

    def _sensor_pins_ohm(self):
        net = Netlist("sensor_return")
        add_sensor(net, self.wiring)
        return net.ohms_between("sensor_signal", "sensor_return")

    def _with_stand_in(self, ends, real_ohm):
        """Volts with the stand-in on; the one who makes that mistake leaves the sensor beside it."""
        beside = self.kind.mistake == "beside-sensor" and ends != AT_MODULE
        return solve(self.wiring, sensor_fitted=beside, stand_in=(*ends, real_ohm), harness=ends != AT_MODULE)

    def _dial(self, wanted_ohm, rng, most_ohm=None):
        """Ohms really set and ohms typed: set near the wanted value, then measured before fitting."""
        most_ohm = most_ohm or self.instruments.end_to_end_ohm
        set_ohm = wanted_ohm + float(rng.normal(0.0, self.instruments.hand_ohm))
        real_ohm = min(max(set_ohm, self.instruments.end_ohm), most_ohm)
        measured_ohm = round(four_digits(real_ohm * self.instruments.ohm_gain), 1)
        moved_ohm = float(rng.normal(0.0, 0.3 + 0.0005 * real_ohm))
        if self.kind.mistake == "ohm-for-kilohm":
            measured_ohm = round(measured_ohm / 1000.0, 4)
        return max(real_ohm + moved_ohm, 0.1), measured_ohm

    def _typed_temperature(self, volts):
        shown_c = shows_c(self.module, self.wiring, volts)
        if self.kind.mistake == "wrong-unit":
            shown_c = round(shown_c * 1.8 + 32.0)
        return {"shows": shown_c, "unit": "degC"}

    def _typed_volts(self, volt):
        return round(float(volt) * self.instruments.volt_gain, 2)


def add_sensor(net, wiring):
    """Put the sensor between its own two pins."""
    own_ohm = wiring.sensor.ohm(wiring.sensor_c) if wiring.sensor_own_ohm is None else wiring.sensor_own_ohm
    net.resistor("sensor_signal", "sensor_return", own_ohm + wiring.sensor_series_ohm)


def solve(wiring, sensor_fitted=True, stand_in=None, harness=True):
    """Volts of every node against battery negative, key on [V].

    stand_in is (node, node, ohm), anything put on with leads; harness is False with the module
    unplugged from it and measured at its own pins.
    """
    net = Netlist("battery_negative")
    net.source("battery_positive", "battery_negative", wiring.battery_v)
    net.source("module_ground", "battery_negative", wiring.module_ground_v)
    net.source("chassis", "battery_negative", wiring.chassis_v)
    net.source("rail", "module_ground", wiring.supply_v)
    net.resistor("rail", "pin", wiring.pull_up_ohm)
    net.resistor("module_return", "module_ground", 0.02)
    if harness:
        net.resistor("pin", "plug_signal", wiring.signal_ohm)
        net.resistor("plug_signal", "chassis", wiring.ground_leak_ohm)
        net.resistor("plug_signal", "battery_positive", wiring.battery_leak_ohm)
        net.resistor("plug_return", "return_splice", wiring.return_ohm)
        # Foreign current through the shared last stretch of return lifts its harness end.
        net.source("return_splice", "module_return", wiring.return_raised_v)
    if sensor_fitted:
        net.resistor("plug_signal", "sensor_signal", wiring.contact_ohm)
        add_sensor(net, wiring)
        net.resistor("sensor_return", "plug_return", wiring.contact_ohm / 10.0)
    if stand_in:
        net.resistor(*stand_in)
    return net.volts()


def pin_fraction(wiring, volts):
    """Volts at the module's pin over the converter's reference."""
    return (volts["pin"] - volts["module_ground"]) / wiring.reference_v


def shows_c(module, wiring, volts):
    """The whole number of degC the module shows for solved volts."""
    return wiring.frozen_c if wiring.frozen_c is not None else module.shows_c(pin_fraction(wiring, volts))


def largest_error_k(module, wiring):
    """How far the number shown strays from the sensor's true temperature between 20 and 90 degC [K]."""
    errors = []
    for true_c in range(20, 91, 10):
        here = replace(wiring, sensor_c=float(true_c))
        errors.append(abs(shows_c(module, here, solve(here)) - true_c))
    return max(errors)


def four_digits(number):
    """The number to four digits, as a hand meter shows it."""
    return float(f"{number:.4g}")
