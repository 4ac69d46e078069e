"""One simulated vehicle with one fault: it answers every test by solving its own netlist.

Nothing here knows how the tool reasons. Each answer is what a technician would type, with the
errors of his meter, hand and eye; the same test asked twice gets the same answer.
"""

import copy
import zlib
from dataclasses import replace

import numpy as np

from .circuits import (
    CODES,
    NOMINAL_REFERENCE_V,
    Instruments,
    draw_instruments,
    draw_module,
    draw_wiring,
)
from .eyes import EYE, MINUTES, bad_chance
from .faults import FAULT_KINDS, draw_fault_id
from .physics import AT_MODULE, PLUG, largest_error_k, pin_fraction, return_ohms, sensor_pins_ohm, shows_c, solve

METER_LOAD_OHM = 1e7
OPEN_READS_ABOVE_OHM = 2e7
JUMPER_OHM, AMMETER_OHM, LOAD_OHM = 0.1, 1.5, 1000.0
SMALLEST_ERROR_K = 6.0
SWEPT_TO_C = 80.0
SHOWS_ITSELF = 0.3
"""Share of the readings in which an intermittent fault is there."""

STAND_IN_ENDS = {
    "substitute": PLUG,
    "substitute-to-chassis": ("plug_signal", "chassis"),
    "substitute-at-module": AT_MODULE,
}
IDEAL = Instruments(ohm_gain=1.0, volt_gain=1.0, end_to_end_ohm=1e9, end_ohm=0.0, hand_ohm=0.0, back_probes=True)


class Still:
    """Chance held at its middle: with it a vehicle answers without any error of reading, hand or meter."""

    def normal(self, middle=0.0, spread=1.0):
        """The middle."""
        return middle

    def uniform(self, low=0.0, high=1.0):
        """The middle of the range."""
        return (low + high) / 2.0

    def random(self):
        """Nothing rare happens."""
        return 0.5


class Vehicle:
    """A vehicle of a given number: the number fixes everything about it, fault and answers included.

    kind is a fault of the caller's own in place of the listed one that fault_id names.
    """

    def __init__(self, number, fault_id=None, kind=None):
        self.number = number
        rng = np.random.default_rng([number, 7919])
        self.sensor = str(rng.choice(list(CODES)))
        self.fault_id = fault_id or draw_fault_id(rng)
        self.kind = kind or FAULT_KINDS[self.fault_id]
        self.location = self.kind.location
        self.mistake = self.kind.mistake
        self.surroundings_c = round(float(rng.uniform(5.0, 32.0)), 1)
        self._draw_until_it_matters(rng)
        self.instruments = draw_instruments(rng)
        self.errors = None
        self.swept_to_c = SWEPT_TO_C
        self.complaint = CODES[self.sensor][self._code_it_sets()]

    def _draw_until_it_matters(self, rng):
        """Module as told and as it is, wiring in order and faulty, wrong enough for somebody to complain."""
        while True:
            self.told = draw_module(rng)
            self.healthy = draw_wiring(rng, self.told, self.surroundings_c)
            for _ in range(50):
                self.module = self.kind.recode(rng, self.told) if self.kind.recode else self.told
                self.wiring = self.kind.change(rng, self.healthy)
                if (not self.kind.visible_in_volts
                        or largest_error_k(self.module, self.wiring) >= SMALLEST_ERROR_K):
                    return

    def _code_it_sets(self):
        """'high', 'low', 'intermittent' or 'implausible': what the module would store between 20 and 90 degC."""
        if self.kind.intermittent:
            return "intermittent"
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
        module = self.told
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

    def still(self, wiring, module, mistake=None):
        """This vehicle with other insides, answering without errors and in degrees not made whole."""
        twin = copy.copy(self)
        twin.wiring, twin.module, twin.mistake = wiring, replace(module, whole_by="exact"), mistake
        twin.healthy, twin.errors = wiring, Still()
        twin.instruments = replace(IDEAL, end_to_end_ohm=self.instruments.end_to_end_ohm)
        return twin

    def answer(self, test, ohm=None, times=0):
        """What the technician types after a test done `times` before, as keyword arguments of the job's record()."""
        again = [times] if times else []
        rng = self.errors or np.random.default_rng([self.number, zlib.crc32(test.encode()), int(ohm or 0), *again])
        if test in EYE:
            return {"good": bool(rng.random() >= bad_chance(test, self.fault_id, self.location))}
        return self._now(rng)._measured(test, ohm, rng)

    def _now(self, rng):
        """The vehicle as it is during one test: what comes and goes is mostly gone."""
        if not self.kind.intermittent or rng.random() < SHOWS_ITSELF:
            return self
        in_order = copy.copy(self)
        in_order.wiring = self.healthy
        return in_order

    def _measured(self, test, ohm, rng):
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
            "sensor-sweep": self._sensor_sweep,
            "short-circuit-current": self._short_circuit_current,
            "find-pins": self._find_pins,
            "compare-cold": self._compare_cold,
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
        measured_ohm = sensor_pins_ohm(self.wiring) * self.instruments.ohm_gain
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
        ohms = return_ohms(self.wiring) * self.instruments.ohm_gain
        return {"ohms": "open" if ohms > OPEN_READS_ABOVE_OHM else self._tenths(ohms + rng.uniform(0.0, 0.2))}

    def _sensor_ohms(self, rng):
        """The sensor's pins on the ohmmeter, and the temperature of a thermometer held to its body."""
        return self._ohms_at(self.wiring, rng)

    def _sensor_sweep(self, rng):
        """The same out of the vehicle, in water brought near 80 degC."""
        return self._ohms_at(replace(self.wiring, sensor_c=self.swept_to_c + float(rng.normal(0.0, 4.0))), rng)

    def _ohms_at(self, wiring, rng):
        ohms = sensor_pins_ohm(wiring) * self.instruments.ohm_gain
        return {
            "ohms": "open" if ohms > OPEN_READS_ABOVE_OHM else self._tenths(ohms),
            "at": {"value": self._whole(wiring.sensor_c + float(rng.normal(0.0, 0.5)), 1), "unit": "degC"},
        }

    def _short_circuit_current(self, rng):
        """A fused ammeter from signal to return in the sensor's place [mA]."""
        volts = solve(self.wiring, sensor_fitted=False, stand_in=(*PLUG, AMMETER_OHM))
        ampere = (volts["plug_signal"] - volts["plug_return"]) / AMMETER_OHM
        return {"signal_ma": self._whole(1000.0 * ampere * (1.0 + rng.uniform(-0.01, 0.01)), 2)}

    def _find_pins(self, rng):
        """Good where one pin holds about 5 V and sags under 1 kohm, and the other stays near battery negative."""
        bare = solve(self.wiring, sensor_fitted=False, stand_in=("plug_signal", "battery_negative", METER_LOAD_OHM))
        loaded = solve(self.wiring, sensor_fitted=False, stand_in=("plug_signal", "battery_negative", LOAD_OHM))
        sags = loaded["plug_signal"] < 0.97 * bare["plug_signal"]
        return {"good": bool(3.0 < bare["plug_signal"] < 6.0 and sags and abs(bare["plug_return"]) < 0.3)}

    def _compare_cold(self, rng):
        """After a night: the number shown, and beside it another sensor's of the same cold vehicle."""
        cold = replace(self.wiring, sensor_c=self.surroundings_c + float(rng.normal(0.0, 0.5)))
        other_c = self._whole(cold.sensor_c + float(rng.normal(0.0, 0.8)))
        return {**self._typed_temperature(solve(cold), cold), "at": {"value": other_c, "unit": "degC"}}

    # The technician's hand and pen.

    def _with_stand_in(self, ends, real_ohm):
        """Volts with the stand-in on; the one who makes that mistake leaves the sensor beside it."""
        beside = self.mistake == "beside-sensor" and ends != AT_MODULE
        return solve(self.wiring, sensor_fitted=beside, stand_in=(*ends, real_ohm), harness=ends != AT_MODULE)

    def _dial(self, wanted_ohm, rng, most_ohm=None):
        """Ohms really set and ohms typed: set near the wanted value, then measured before fitting."""
        most_ohm = most_ohm or self.instruments.end_to_end_ohm
        set_ohm = wanted_ohm + float(rng.normal(0.0, self.instruments.hand_ohm))
        real_ohm = min(max(set_ohm, self.instruments.end_ohm), most_ohm)
        measured_ohm = round(self._digits(real_ohm * self.instruments.ohm_gain), 1)
        moved_ohm = float(rng.normal(0.0, 0.3 + 0.0005 * real_ohm))
        if self.mistake == "ohm-for-kilohm":
            measured_ohm = round(measured_ohm / 1000.0, 4)
        return max(real_ohm + moved_ohm, 0.1), measured_ohm

    def _typed_temperature(self, volts, wiring=None):
        shown_c = shows_c(self.module, wiring or self.wiring, volts)
        if self.mistake == "wrong-unit":
            shown_c = shown_c * 1.8 + 32.0
            shown_c = self._whole(shown_c)
        return {"shows": shown_c, "unit": "degC"}

    def _typed_volts(self, volt):
        volt = float(volt) * self.instruments.volt_gain
        return self._whole(volt, 2)

    def _digits(self, number):
        return number if self.errors else four_digits(number)

    def _tenths(self, ohms):
        return self._whole(self._digits(ohms), 1)

    def _whole(self, number, places=None):
        """The number as typed; without errors it is not rounded, so that a fit sees which way is down."""
        return number if self.errors else round(number, places)


def four_digits(number):
    """The number to four digits, as a hand meter shows it."""
    return float(f"{number:.4g}")
