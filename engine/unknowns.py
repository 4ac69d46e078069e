"""Owns which things are not exactly known of a circuit: each a standard normal."""

from collections import namedtuple

Z_NAMES = ("part", "sensor", "sensor_beta", "true", "thermometer", "ground", "open", "second", "source", "family_ohm",
           "family_beta")
Z = namedtuple("Z", Z_NAMES)(*range(len(Z_NAMES)))
