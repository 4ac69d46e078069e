"""What needs no netlist: the minutes each test takes, and how often eye or hand sees a fault."""

MINUTES = {
    "look": 2, "as-found": 1, "live-number": 3, "unplugged": 2, "shorted": 2, "substitute": 4,
    "substitute-to-chassis": 4, "substitute-at-module": 15, "substitute-sensor-ohms": 5,
    "plug-volts": 3, "return-ohms": 4, "sensor-ohms": 4, "terminal-fit": 4, "module-feeds": 12,
    "wiggle": 4, "find-pins": 6, "sensor-sweep": 12, "short-circuit-current": 3, "load-switching": 5,
    "engine-running": 5, "warm-harness": 8, "compare-cold": 2, "check-set-up": 2,
    "second-reader": 3, "dial-after-hold": 15, "other-gauge": 1, "cluster-ground": 6,
    "plugged-again": 3,
}
"""Minutes each test takes a technician; the keys are the tests the vehicles of these benches can answer."""
GAUGE_ONLY = {"other-gauge", "cluster-ground"}

# With a fixed stand-in on the plug nothing of the sensor itself can show, whatever shakes it.
EYE = {
    "look": {"plug": 0.35, "signal": 0.20, "return": 0.20, "plug-water": 0.60, "signal-second-instrument": 0.30},
    "terminal-fit": {"plug": 0.90, "plug-water": 0.30, "plug-intermittent": 0.50},
    "wiggle": {"plug": 0.50, "signal": 0.25, "return": 0.25, "plug-water": 0.05, "plug-intermittent": 0.30,
               "signal-intermittent": 0.65, "return-intermittent": 0.65},
    "module-feeds": {"supply": 1.00, "module-ground": 0.95},
    "load-switching": {"return-raised": 0.90, "module-ground": 0.70, "module-crosstalk": 0.30},
    "check-set-up": {"set-up": 0.80},
    "second-reader": {"set-up-wrong-unit": 0.90},
    "dial-after-hold": {"module-frozen": 0.97, "signal-open": 0.95, "return-open": 0.95},
    "engine-running": {"plug-intermittent": 0.50, "signal-intermittent": 0.45, "return-intermittent": 0.45,
                       "plug-contact": 0.20},
    "plugged-again": {"plug": 0.40, "plug-water": 0.10, "sensor-intermittent": 0.30, "signal-intermittent": 0.30,
                      "return-intermittent": 0.30},
    "warm-harness": {"plug-intermittent": 0.40, "signal-intermittent": 0.30, "return-intermittent": 0.25,
                     "plug-contact": 0.20},
}
"""Chance that eye or hand sees a fault, by its id or else by its location; elsewhere it is a false alarm."""

FALSE_ALARM = 0.02


def bad_chance(test, fault_id, location):
    """Chance of a bad finding in a test judged by eye or hand."""
    seen = EYE[test]
    return seen.get(fault_id, seen.get(location, FALSE_ALARM))
