"""Owns turning what is typed into one line or box into values: ohms, temperatures, curve points."""

import re

from app.wording import MEASURED
from engine.errors import InputError
from engine.lamp_switch import Trial
from engine.units import finite, parse_ohm, to_degc

MOST = 200
_LAMP = {"lit": True, "on": True, "dark": False, "off": False}
_BETWEEN = re.compile(r"[\s;]+|,\s+|,$")


def ohm_list(text: str, where: str) -> list[float]:
    """Ohms from "330, 2.2k 4k7"; InputError when none or too many are there.

    >>> ohm_list("330, 2.2k 4k7", "stand_in.ohms")
    [330.0, 2200.0, 4700.0]
    """
    return [parse_ohm(word, where) for word in _words(text, where)]


def temperatures(text: str, unit: str) -> tuple[float, ...]:
    """Temperatures [degC], or levels, from "-20 0 20 80" written in `unit`.

    >>> temperatures("32, 212", "degF")
    (0.0, 100.0)
    """
    what = MEASURED[unit]
    return tuple(to_degc(_number(word, f"a wanted {what}", unit), unit) for word in _words(text, f"the list of {what}s"))


def curve_points(text: str, unit: str = "degC") -> list[list[float]]:
    """Pairs of temperature, or level, and ohms, a pair a line: "20 2500".

    >>> curve_points("20 2500\\n80: 330")
    [[20.0, 2500.0], [80.0, 330.0]]
    """
    pairs = []
    for line in text.strip().splitlines():
        words = _words(line.replace(":", " ").replace("=", " "), "the curve")
        if len(words) != 2:
            raise InputError("the curve", line, f"a line takes one {MEASURED[unit]} and its ohms, such as 20 2500")
        pairs.append([_number(words[0], "the curve", unit), parse_ohm(words[1], "the curve")])
    return pairs


def line_points(text: str, unit: str) -> list[list[float]]:
    """Pairs of volts, or share of the supply, and value in `unit`, a pair a line: "0.5 0".

    >>> line_points("0.5 0\\n4.5: 100", "percent")
    [[0.5, 0.0], [4.5, 100.0]]
    """
    pairs = []
    for line in text.strip().splitlines():
        words = _words(line.replace(":", " ").replace("=", " "), "the line")
        if len(words) != 2:
            raise InputError("the line", line, "a line of text takes one share or volts and its value, such as 0.5 0")
        pairs.append([_number(words[0], "the line", unit), _number(words[1], "the line", unit)])
    return pairs


def between(text: str) -> list[list] | None:
    """Ohms among several places, "throttle battery 0.8" a line; None for an empty box.

    >>> between("throttle battery 0.8")
    [['throttle', 'battery', 0.8]]
    """
    found = []
    for line in text.strip().splitlines():
        words = _words(line, "the ohms among other grounds")
        if len(words) != 3:
            raise InputError("the ohms among other grounds", line, "a line takes two places and ohms, such as throttle battery 0.8")
        found.append([words[0], words[1], parse_ohm(words[2], "the ohms among other grounds")])
    return found or None


def trials(text: str) -> tuple[Trial, ...]:
    """Ohms and whether a lamp lit, a trial a line: "56 lit"; none for an empty box.

    >>> trials("56 lit\\n68: dark")
    (Trial(ohm=56.0, lit=True), Trial(ohm=68.0, lit=False))
    """
    found = []
    for line in text.strip().splitlines():
        words = _words(line.replace(":", " ").replace("=", " "), "the ohms tried")
        if len(words) != 2 or words[1].lower() not in _LAMP:
            raise InputError("the ohms tried", line, "a line takes ohms and lit or dark, such as 56 lit")
        found.append(Trial(parse_ohm(words[0], "the ohms tried"), _LAMP[words[1].lower()]))
    return tuple(found)


def ohms_or_open(text: str, where: str) -> float | str | None:
    """Ohms, the word "open", or None for an empty field."""
    cleaned = text.strip()
    if not cleaned:
        return None
    return "open" if cleaned.lower() in ("open", "ol", "o.l", "o.l.") else parse_ohm(cleaned, where)


def ohms_or_none(text: str, where: str) -> float | None:
    """Ohms, or None for an empty field."""
    return parse_ohm(text, where) if text.strip() else None


def _words(text: str, where: str) -> list[str]:
    words = [word for word in _BETWEEN.split(text.strip()) if word]
    if not words:
        raise InputError(where, "empty", "it takes at least one number")
    if len(words) > MOST:
        raise InputError(where, f"{len(words)} numbers", f"it takes at most {MOST}")
    return words


def _number(word: str, where: str, unit: str) -> float:
    cleaned = word.replace("\u2212", "-").replace(",", ".")
    if not re.fullmatch(r"[+-]?\d{1,9}(\.\d{1,9})?", cleaned):
        raise InputError(where, word, f"{MEASURED[unit]}s are numbers such as {25 if unit == 'percent' else -20} or 80")
    return finite(float(cleaned), where, -1000.0, 10000.0, f"a {MEASURED[unit]} as a number")
