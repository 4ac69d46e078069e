"""Owns the words of a gauge: the places a needle is tapped at."""

from engine.pointer import FRACTIONS

# As typed into a case -> as shown on the button; scales of oil and temperature have ends too, but no E and F.
PLACES = {"below E": "below", "E": "low end", **{name: name for name in FRACTIONS if "/" in name}, "F": "high end", "above F": "beyond"}
