"""Owns the worked case of the tests: a return wire with about 249 ohm too many."""

CASE = {
    "format": 1, "sensor": "coolant-temperature", "complaint": ["P0116"],
    "circuit": {"reference_v": 5.0, "pull_up_ohm": 2200, "bits": 10,
                "curve": {"quantity": "temperature", "unit": "degC", "points": [[20, 2500], [80, 330]]},
                "low_limit_v": 0.1, "high_limit_v": 4.9, "battery_v": 12.6},
    "stand_in": {"kind": "potentiometer", "end_to_end_ohm": 9400, "turns": 1, "watts": 0.2},
    "meter": {"ohm_percent": 0.8, "ohm_digits": 2, "volt_percent": 0.5},
    "surroundings": {"value": 21.0, "unit": "degC"},
    "readings": [{"test": "as-found", "shows": 19, "unit": "degC"},
                 {"test": "unplugged", "shows": -40, "unit": "degC"},
                 {"test": "shorted", "shows": 90, "unit": "degC"},
                 {"test": "substitute", "ohm": 330, "shows": 61, "unit": "degC"},
                 {"test": "substitute-to-chassis", "ohm": 330, "shows": 80, "unit": "degC"},
                 {"test": "substitute-at-module", "ohm": 330, "shows": 80, "unit": "degC"},
                 {"test": "return-ohms", "ohms": 249},
                 {"test": "sensor-ohms", "ohms": 2400, "at": {"value": 21, "unit": "degC"}}]}
WITHOUT_READINGS = {name: value for name, value in CASE.items() if name != "readings"}
