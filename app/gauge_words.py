"""Owns the words of a gauge: the places a needle is tapped at, and what is said of the other gauges."""

from engine.pointer import FRACTIONS

# As typed into a case -> as shown on the button; scales of oil and temperature have ends too, but no E and F.
PLACES = {"below E": "below", "E": "low end", **{name: name for name in FRACTIONS if "/" in name}, "F": "high end", "above F": "beyond"}
# Tests judged by eye whose two answers have words of their own.
JUDGED = {"other-gauge": {"good": "The others read right", "bad": "Another one is wrong too"}}
