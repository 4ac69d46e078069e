"""Owns a reading: what one test showed, as typed, checked once and kept in SI beside its own words."""

from dataclasses import dataclass, fields

from engine.errors import ContradictionError, InputError
from engine.pointer import EXPECTED, pointer
from engine.units import PRESSURES, SAME_KIND, finite, parse_ohm, to_degc, unit_name

WORDS = ("maximum", "minimum", "did-not-move", "jumps", "drifts", "not-available")
COLDEST_SHOWN_C, HOTTEST_SHOWN_C = -100.0, 1500.0
LOWEST_SHOWN_PERCENT, HIGHEST_SHOWN_PERCENT = -10.0, 110.0
HIGHEST_V = 60.0
HIGHEST_MA = 10_000.0
LOWEST_SHOWN_KPA, HIGHEST_SHOWN_KPA = -120.0, 300_000.0
# Volts between the plug's pins, or from one of them to battery negative; the first two are all a two-wire plug has.
VOLTS = ("signal_to_return_v", "signal_to_battery_v", "supply_to_return_v", "supply_to_battery_v", "return_to_battery_v")
RESULTS = ("shows", "ohms", "good", *VOLTS, "signal_ma", "between")
MOST_BETWEEN = 45


@dataclass(frozen=True)
class Reading:
    """One reading under the names it was typed with; None where nothing was typed.

    `shows` is a number, a (low, high) pair, one of WORDS or where a pointer
    stands ("1/2", "3 of 8"), in `unit` (degC, degF or percent). `ohm` is what was put on the plug, `ohms` what was
    measured ("open" where the meter showed no path), `ohms_swapped` the same
    with the meter's leads swapped, `in_circuit` whether anything else hung on
    it. `at` is (value, unit), the temperature (or level) the part had.
    `signal_ma` [mA] is what an ammeter from signal to return showed. `ratio`
    is the share of its track a divider was set to, from the return end;
    `loaded` whether anything drew current from a supply that was measured,
    `between` the ohms among several grounds, (point, point, ohms) each.
    """

    test: str
    ohm: float | None = None
    shows: float | tuple[float, float] | str | None = None
    unit: str | None = None
    ohms: float | str | None = None
    good: bool | None = None
    at: tuple[float, str] | None = None
    signal_to_return_v: float | None = None
    signal_to_battery_v: float | None = None
    signal_ma: float | None = None
    ohms_swapped: float | str | None = None
    in_circuit: bool | None = None
    ratio: float | None = None
    supply_to_return_v: float | None = None
    supply_to_battery_v: float | None = None
    return_to_battery_v: float | None = None
    loaded: bool | None = None
    between: tuple[tuple[str, str, float], ...] | None = None

    @property
    def shows_c(self) -> float | tuple[float, float] | str | None:
        """`shows` with numbers in degC (or percent)."""
        if isinstance(self.shows, tuple):
            return to_degc(self.shows[0], self.unit or "degC"), to_degc(self.shows[1], self.unit or "degC")
        if isinstance(self.shows, (int, float)):
            return to_degc(self.shows, self.unit or "degC")
        return self.shows if self.shows is None or self.shows in WORDS else pointer(self.shows)

    @property
    def word(self) -> str | None:
        """The word of WORDS that `shows` is, or that a pointer beyond its scale comes to."""
        return self.shows_c if isinstance(self.shows_c, str) else None

    @property
    def at_c(self) -> float | None:
        """`at` in degC (or percent)."""
        return None if self.at is None else to_degc(*self.at)

    def to_dict(self) -> dict:
        """The reading as the case file holds it: what was typed and nothing else."""
        out: dict = {}
        for name in (f.name for f in fields(self)):
            value = getattr(self, name)
            if value is None:
                continue
            if name == "at":
                value = {"value": value[0], "unit": value[1]}
            out[name] = [list(one) if isinstance(one, tuple) else one for one in value] if isinstance(value, tuple) else value
        return out


def check_reading(test: str, takes: tuple[str, ...], typed: dict, where: str = "reading", unit: str = "degC",
                  needs_at: bool = False) -> Reading:
    """The Reading for what was `typed` (names as in Reading), or an InputError saying what would be right.

    `takes` lists the fields this test can hold; at least one of its results
    must be there, and `at` where the test `needs_at`. `unit` is what the
    sensor kind is read in: degC (degF is taken too) or percent.
    """
    known = {f.name for f in fields(Reading)} - {"test"}
    for name, value in typed.items():
        if name not in known:
            raise InputError(f"{where}.{name}", value, f"{test} takes {', '.join(takes)}")
        if value is not None and name not in takes:
            raise InputError(f"{where}.{name}", value, f"{test} takes {', '.join(takes)}")
    given = {name: value for name, value in typed.items() if value is not None}
    results = [name for name in takes if name in RESULTS]
    if not any(name in given for name in results):
        raise InputError(where, "without a result", f"{test} needs {' or '.join(results)}")
    if needs_at and "at" not in given:
        raise InputError(f"{where}.at", "missing", f"{test} needs the temperature the part had, read beside it")
    if unit != "degC" and isinstance(given.get("at"), dict):
        given["at"] = {"unit": unit, **given["at"]}
    clean = {name: _CHECKS[name](value, f"{where}.{name}") for name, value in given.items()}
    _check_units(clean, unit, where)
    shows = clean.get("shows")
    if isinstance(shows, str) and shows not in WORDS:
        if unit != "percent":
            raise InputError(f"{where}.shows", shows, f"it takes a number, a [low, high] pair or one of {', '.join(WORDS)}")
        clean.setdefault("unit", unit)
    if isinstance(shows, (float, tuple)):
        typed_unit = clean.setdefault("unit", unit)
        for value in shows if isinstance(shows, tuple) else (shows,):
            _shown_range(value, typed_unit, f"{where}.shows")
    elif "unit" in clean and shows is None:
        raise ContradictionError(f"{where}.unit", clean["unit"], "a unit goes with a shown number")
    if "ratio" in takes and "ratio" not in clean and set(results) & set(clean) - {"good"}:
        raise InputError(f"{where}.ratio", "missing", f"{test} needs the ratio the divider was set to, between 0 and 1")
    if "ohm" in takes and "ohm" not in clean and "shows" in clean:
        raise InputError(f"{where}.ohm", "missing", f"{test} needs the ohms that were put on the plug")
    return Reading(test=test, **clean)


def _shows(value: object, where: str) -> float | tuple[float, float] | str:
    if isinstance(value, str):
        word = value.strip().lower().replace(" ", "-")
        if word in WORDS:
            return word
        if pointer(value) is not None:
            return value.strip()
        raise InputError(where, value, f"it takes a number, a [low, high] pair, one of {', '.join(WORDS)}, or on a gauge {EXPECTED}")
    if isinstance(value, (list, tuple)):
        if len(value) != 2:
            raise InputError(where, value, "a range takes two numbers, low and high")
        low, high = (finite(v, where, -1e6, 1e6, "a number") for v in value)
        if low > high:
            raise InputError(where, value, "a range takes the lower number first")
        return low, high
    return finite(value, where, -1e6, 1e6, "a number")


def _check_units(clean: dict, unit: str, where: str) -> None:
    """Raises InputError where a unit does not belong to what the sensor kind measures."""
    given = {"unit": clean.get("unit"), "at.unit": clean["at"][1] if "at" in clean else None}
    for name, value in given.items():
        if value is not None and value not in SAME_KIND.get(unit, ("degC", "degF")):
            raise InputError(f"{where}.{name}", value, _UNIT_WANTED[unit])


def _shown_range(value: float, unit: str, where: str) -> None:
    if unit in PRESSURES:
        if not LOWEST_SHOWN_KPA <= to_degc(value, unit) <= HIGHEST_SHOWN_KPA:
            raise InputError(where, value, f"a shown pressure lies between {LOWEST_SHOWN_KPA:g} and {HIGHEST_SHOWN_KPA:g} kPa")
        return
    if unit == "percent":
        if not LOWEST_SHOWN_PERCENT <= value <= HIGHEST_SHOWN_PERCENT:
            raise InputError(where, value, f"a shown level or position lies between {LOWEST_SHOWN_PERCENT:g} and {HIGHEST_SHOWN_PERCENT:g} percent")
        return
    if not COLDEST_SHOWN_C <= to_degc(value, unit) <= HOTTEST_SHOWN_C:
        raise InputError(where, value, f"a shown temperature lies between {COLDEST_SHOWN_C:g} and {HOTTEST_SHOWN_C:g} degC")


def _ohms(value: object, where: str) -> float | str:
    if isinstance(value, str) and value.strip().lower() == "open":
        return "open"
    return parse_ohm(value, where)


def _good(value: object, where: str) -> bool:
    if isinstance(value, bool):
        return value
    raise InputError(where, value, "it takes true or false")


def _at(value: object, where: str) -> tuple[float, str]:
    if isinstance(value, dict) and set(value) <= {"value", "unit"} and "value" in value:
        unit = unit_name(value.get("unit", "degC"), f"{where}.unit")
        number = finite(value["value"], f"{where}.value", -1e6, 1e6, "a number")
        _shown_range(number, unit, f"{where}.value")
        return number, unit
    raise InputError(where, value, 'it takes {"value": 21, "unit": "degC"}')


def _volts(value: object, where: str) -> float:
    return finite(value, where, -HIGHEST_V, HIGHEST_V, f"volts between -{HIGHEST_V:g} and {HIGHEST_V:g}")


def _milliamps(value: object, where: str) -> float:
    return finite(value, where, -HIGHEST_MA, HIGHEST_MA, f"milliamperes between -{HIGHEST_MA:g} and {HIGHEST_MA:g}")


def _ratio(value: object, where: str) -> float:
    return finite(value, where, 0.0, 1.0, "a share of the track from 0 to 1, such as 0.5")


def _between(value: object, where: str) -> tuple[tuple[str, str, float], ...]:
    wanted = 'it takes up to 45 of [point, point, ohms], such as ["throttle", "battery", 0.8]'
    if not isinstance(value, (list, tuple)) or not 0 < len(value) <= MOST_BETWEEN:
        raise InputError(where, value, wanted)
    out = []
    for one in value:
        if not isinstance(one, (list, tuple)) or len(one) != 3 or not all(isinstance(p, str) and 0 < len(p) <= 40 for p in one[:2]):
            raise InputError(where, one, wanted)
        out.append((one[0], one[1], parse_ohm(one[2], where)))
    return tuple(out)


_UNIT_WANTED = {"percent": "a level or a position is in percent", "kPa": "a pressure is in kPa, bar, psi or another unit of pressure",
                "degC": "a temperature is in degC or degF"}
_CHECKS = {"signal_ma": _milliamps, "ohms_swapped": _ohms, "in_circuit": _good, "ohm": parse_ohm, "shows": _shows,
           "unit": unit_name, "ohms": _ohms, "good": _good, "at": _at, "ratio": _ratio, "loaded": _good,
           "between": _between, **dict.fromkeys(VOLTS, _volts)}
