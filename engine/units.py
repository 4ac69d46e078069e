"""Owns conversions at the edge: what a person types or reads, to and from SI."""

import math
import re

from engine.errors import InputError

ABSOLUTE_ZERO_C = -273.15
MAX_TEXT = 40
_PREFIX = {"": 1.0, "r": 1.0, "ohm": 1.0, "ohms": 1.0, "k": 1e3, "kohm": 1e3, "kohms": 1e3,
           "kiloohm": 1e3, "kilohm": 1e3, "m": 1e6, "mohm": 1e6, "megohm": 1e6}
_UNIT_NAMES = {"degc": "degC", "c": "degC", "°c": "degC", "celsius": "degC",
               "degf": "degF", "f": "degF", "°f": "degF", "fahrenheit": "degF",
               "percent": "percent", "%": "percent", "kpa": "kPa", "mpa": "MPa", "bar": "bar", "mbar": "mbar",
               "hpa": "mbar", "psi": "psi", "inhg": "inHg", "mmhg": "mmHg"}
# Kilopascal in one of each unit of pressure (exact by definition; mercury at 0 degC, ISO 31-3).
PRESSURES = {"kPa": 1.0, "MPa": 1000.0, "bar": 100.0, "mbar": 0.1, "psi": 6.894757293168, "inHg": 3.386388640341,
             "mmHg": 0.133322387415}
# What may be typed for a sensor read in a unit.
SAME_KIND = {"degC": ("degC", "degF"), "percent": ("percent",), "kPa": tuple(PRESSURES)}


def unit_name(text: object, where: str) -> str:
    """Canonical unit of a shown value: ``degC``, ``degF``, ``percent`` or one of PRESSURES; InputError names `where` otherwise."""
    if isinstance(text, str) and text.strip().lower() in _UNIT_NAMES:
        return _UNIT_NAMES[text.strip().lower()]
    raise InputError(where, text, "a unit is degC or degF, percent for a level or position, kPa for a pressure")


def to_degc(value: float, unit: str) -> float:
    """Temperature in degC from `value` in `unit` (degC or degF), pressure in kPa (exact by definition); percent stays itself.

    >>> to_degc(212, "degF")
    100.0
    """
    return (value - 32.0) / 1.8 if unit == "degF" else float(value) * PRESSURES.get(unit, 1.0)


def from_degc(value_c: float, unit: str) -> float:
    """Temperature in `unit` from degC, or pressure from kPa.

    >>> from_degc(-40, "degF")
    -40.0
    """
    return value_c * 1.8 + 32.0 if unit == "degF" else float(value_c) / PRESSURES.get(unit, 1.0)


def parse_ohm(text: object, where: str = "ohm") -> float:
    """Ohms from what a technician writes: 330, "330 ohm", "9.4k", "4k7", "1.2 M".

    >>> parse_ohm("4k7")
    4700.0
    """
    if isinstance(text, bool) or text is None:
        raise InputError(where, text, "ohms are a number such as 330, 9.4k or 4k7")
    if isinstance(text, (int, float)):
        return finite(text, where, 0.0, 1e12, "ohms from 0 to 1e12")
    cleaned = str(text)[: MAX_TEXT + 1].strip().lower().replace("ω", "ohm").replace("Ω", "ohm")
    if len(cleaned) > MAX_TEXT:
        raise InputError(where, text, "ohms are a number such as 330, 9.4k or 4k7")
    middle = re.fullmatch(r"(\d+)([kmr])(\d+)", cleaned)
    if middle:
        cleaned = f"{middle[1]}.{middle[3]} {middle[2]}"
    match = re.fullmatch(r"(\d+(?:[.,]\d+)?(?:e[+-]?\d{1,3})?)\s*([a-z]*)", cleaned)
    if not match or match[2] not in _PREFIX:
        raise InputError(where, text, "ohms are a number such as 330, 9.4k or 4k7")
    value = float(match[1].replace(",", ".")) * _PREFIX[match[2]]
    return finite(value, where, 0.0, 1e12, "ohms from 0 to 1e12")


def finite(value: object, where: str, low: float, high: float, wanted: str) -> float:
    """`value` as a float within [low, high]; otherwise an InputError saying `wanted`."""
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise InputError(where, value, f"it takes {wanted}")
    try:
        number = float(value)
    except OverflowError:
        raise InputError(where, "a number too large", f"it takes {wanted}") from None
    if not math.isfinite(number) or not low <= number <= high:
        raise InputError(where, value, f"it takes {wanted}")
    return number
