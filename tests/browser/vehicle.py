"""Owns a vehicle to try the screens on: a coolant circuit with ohms too many in its return wire, in formulas of its own."""

from math import exp, log

PULL_UP_OHM, SUPPLY_V = 2200.0, 5.0
COLD, HOT = (20.0, 2500.0), (80.0, 330.0)
BETA_K = log(COLD[1] / HOT[1]) / (1 / (COLD[0] + 273.15) - 1 / (HOT[0] + 273.15))


class Vehicle:
    """Answers whatever test is asked, in degF and as text to type; `return_ohm` is the fault, `real_c` the coolant."""

    def __init__(self, return_ohm=249.0, real_c=21.0):
        self.return_ohm = return_ohm
        self.sensor_ohm = COLD[1] * exp(BETA_K * (1 / (real_c + 273.15) - 1 / (COLD[0] + 273.15)))

    def answer(self, test, ohm=None):
        """What the form takes after `test`: {field: text}, with `ohm` what was put on the plug."""
        if test in ("look", "terminal-fit", "module-feeds", "wiggle"):
            return {"good": "All good"}
        if test == "live-number":
            return {"low": self.shown(9400.0 + self.return_ohm), "high": self.shown(470.0 + self.return_ohm)}
        if test == "return-ohms":
            return {"ohms": f"{self.return_ohm:.0f}"}
        if test == "sensor-ohms":
            return {"ohms": f"{self.sensor_ohm:.0f}", "at": "70"}
        if test == "plug-volts":
            return {"signal_to_return_v": "5.00", "signal_to_battery_v": "5.00"}
        on_plug = {"as-found": self.sensor_ohm, "unplugged": None, "shorted": 0.0}.get(test, ohm)
        if on_plug is None:
            return {"number": -40}
        added = 0.0 if test in ("substitute-to-chassis", "substitute-at-module") else self.return_ohm
        return {"number": self.shown(on_plug + added)}

    @staticmethod
    def shown(ohm):
        """Live data [degF], whole degrees Celsius underneath, for `ohm` from the pin to ground."""
        volts = SUPPLY_V * ohm / (ohm + PULL_UP_OHM)
        seen = PULL_UP_OHM * volts / (SUPPLY_V - volts)
        degc = 1 / (1 / (COLD[0] + 273.15) + log(seen / COLD[1]) / BETA_K) - 273.15
        return round(min(215, max(-40, round(degc))) * 1.8 + 32)
