"""Owns vehicles to try the screens on, each with one fault and formulas of its own."""

from math import exp, log

SUPPLY_V = 5.0
GOOD = ("look", "check-set-up", "second-reader", "terminal-fit", "module-feeds", "find-pins", "wiggle", "warm-harness",
        "load-switching", "engine-running", "plugged-again")
FOUND = {**dict.fromkeys(("wiggle", "warm-harness", "load-switching", "engine-running"), "Normal now"),
         "find-pins": "Signal and return found", "plugged-again": "As wrong as before"}


class Vehicle:
    """A coolant circuit with ohms too many in its return; answers any test in degF, as text to type.

    `return_ohm` is the fault, `real_c` the coolant; `cold` and `hot` are two
    points (degC, ohm) of the curve sensor and module share.
    """

    pull_up_ohm, end_to_end_ohm = 2200.0, 9400.0
    cold, hot = (20.0, 2500.0), (80.0, 330.0)

    def __init__(self, return_ohm=249.0, real_c=21.0):
        self.return_ohm, self.real_c = return_ohm, real_c
        kelvin = [1 / (degc + 273.15) for degc, _ in (self.cold, self.hot)]
        self.beta_k = log(self.cold[1] / self.hot[1]) / (kelvin[0] - kelvin[1])

    def answer(self, test, ohm=None):
        """What the form takes after `test`: {field: text}, with `ohm` what was put on the plug."""
        if test in GOOD:
            return {"good": FOUND.get(test, "All good")}
        if test == "live-number":
            return {"low": self.shown(self.end_to_end_ohm + self.return_ohm), "high": self.shown(self.end_to_end_ohm / 20 + self.return_ohm)}
        if test == "return-ohms":
            return {"ohms": f"{self.return_ohm:.0f}"}
        if test in ("sensor-ohms", "sensor-sweep"):
            at = self.real_c if test == "sensor-ohms" else 80.0
            return {"ohms": f"{self.sensor_ohm(at):.0f}", "at": self.typed(at)}
        if test == "plug-volts":
            return {"signal_to_return_v": "5.00", "signal_to_battery_v": "5.00"}
        if test == "short-circuit-current":
            return {"ma": f"{SUPPLY_V / (self.pull_up_ohm + self.return_ohm) * 1e3:.2f}"}
        found = {"number": self._number(test, ohm)}
        return {**found, "at": self.typed(self.real_c)} if test == "compare-cold" else found

    def _number(self, test, ohm):
        if test == "unplugged":
            return self.typed(-40.0)
        on_plug = {"as-found": self.sensor_ohm(self.real_c), "compare-cold": self.sensor_ohm(self.real_c), "shorted": 0.0}.get(test, ohm)
        added = 0.0 if test in ("substitute-to-chassis", "substitute-at-module") else self.return_ohm
        return self.shown(on_plug + added)

    def sensor_ohm(self, degc):
        """The sensor's own ohms at `degc`."""
        return self.cold[1] * exp(self.beta_k * (1 / (degc + 273.15) - 1 / (self.cold[0] + 273.15)))

    def shown(self, ohm):
        """Live data as typed, whole degrees Celsius underneath, for `ohm` from the pin to ground."""
        volts = SUPPLY_V * ohm / (ohm + self.pull_up_ohm)
        seen = self.pull_up_ohm * volts / (SUPPLY_V - volts)
        degc = 1 / (1 / (self.cold[0] + 273.15) + log(max(seen, 1.0) / self.cold[1]) / self.beta_k) - 273.15
        return self.typed(min(215, max(-40, round(degc))))

    @staticmethod
    def typed(degc):
        """A temperature as this technician types it: degF."""
        return round(degc * 1.8 + 32)


class Boat(Vehicle):
    """A launch's one-wire sender on 1 kohm: thread tape puts 40 ohm between its body and the block; read in degC."""

    pull_up_ohm, end_to_end_ohm = 1000.0, 2000.0
    cold, hot = (25.0, 544.0), (80.0, 75.0)

    def __init__(self):
        super().__init__(return_ohm=40.0, real_c=22.0)

    @staticmethod
    def typed(degc):
        """A temperature as this technician types it: degC."""
        return round(degc)


class Tank:
    """A van's tank sender of 10 to 180 ohm fed from the battery through 410 ohm; its plug has 60 ohm too many."""

    battery_v, pull_up_ohm, plug_ohm, real_percent = 12.6, 410.0, 60.0, 50.0

    def answer(self, test, ohm=None):
        """What the form takes after `test`: {field: text}, with `ohm` what was put on the plug."""
        if test in ("look", "terminal-fit"):
            return {"good": "Something is wrong"}
        if test in GOOD:
            return {"good": FOUND.get(test, "All good")}
        if test == "live-number":
            return {"low": 0, "high": 100}
        if test == "return-ohms":
            return {"ohms": "0.4"}
        if test == "sensor-ohms":
            return {"ohms": f"{self.own_ohm:.0f}", "at": f"{self.real_percent:.0f}"}
        if test == "plug-volts":
            return {"signal_to_return_v": "12.60", "signal_to_battery_v": "12.60"}
        if test == "short-circuit-current":
            return {"ma": f"{self.battery_v / self.pull_up_ohm * 1e3:.1f}"}
        ohms = {"as-found": self.own_ohm + self.plug_ohm, "unplugged": 1e9, "shorted": 0.0}
        return {"number": self.shown(ohms.get(test, ohm))}

    @property
    def own_ohm(self):
        """The sender's own ohms at the level the tank has."""
        return 10.0 + 1.7 * self.real_percent

    @staticmethod
    def shown(ohm):
        """Live data in percent for `ohm` on the plug."""
        return round(min(100.0, max(0.0, (ohm - 10.0) / 1.7)))
