"""Owns the technician's words: results and errors as sentences, numbers with their units."""

import math
import re
from collections.abc import Mapping, Sequence

from engine.readings import VOLTS
from engine.units import PRESSURES, from_degc, to_degc

DEGREE = {"degC": "°C", "degF": "°F", "percent": "%", **{unit: unit for unit in PRESSURES}}
# What a number in each unit is of.
MEASURED = {"degC": "temperature", "degF": "temperature", "percent": "level", "kPa": "pressure"}
SHOWN_WORDS = {"did-not-move": "did not move", "maximum": "went to its maximum", "minimum": "went to its minimum",
               "jumps": "jumped about", "drifts": "drifted", "not-available": "was not available"}
# Conditions a fault that comes and goes is provoked with, and the test that does it.
PROVOKING = {"wiggle": "Bumps and shaking", "warm-harness": "Heat", "load-switching": "Lights and loads",
             "engine-running": "Engine running"}
FOUND_WORDS = {(False, True): "it was good", (False, False): "it was bad", (True, True): "normal now, not passed",
               (True, False): "the number jumped or walked"}
# Tests judged by eye whose two answers have words of their own, good and bad.
_AS_BEFORE = ("As wrong as before", "It reads right now")
JUDGED = {"find-pins": ("Signal and return found", "Not as it should be"), "other-gauge": ("The others read right", "Another one is wrong too"),
          "plugged-again": _AS_BEFORE, "other-part": _AS_BEFORE, "other-module": _AS_BEFORE,
          **dict.fromkeys(PROVOKING, ("Normal now", "It jumped or walked"))}
STATE = {"found": "Found", "open": "Still open", "nothing-fits": "Nothing listed fits",
         "out-of-reach": "Out of reach of these tests"}
PROBLEM = "Something went wrong here. What was saved is safe: reload the page to go on."
# The space between a number and its unit.
_APART = re.compile(r"(?<=\d) (?=[°kMΩVmAW%]|\\%)|(?<=±) ")
# Field paths of the case file under the words of the screens.
_FIELDS = {"complaint": "the complaint", "circuit.pull_up_ohm": "the input resistor",
           "circuit.second_pull_up_ohm": "the second input resistor",
           "circuit.reference_v": "the reference volts", "circuit.open_v": "the volts unplugged",
           "circuit.short_v": "the volts with the pins bridged", "circuit.low_limit_v": "the lower code limit",
           "circuit.high_limit_v": "the upper code limit", "circuit.battery_v": "the battery voltage",
           "circuit.switch_at": "the switching temperature", "circuit.default": "the number after a code",
           "circuit.bits": "the converter bits", "circuit.curve": "the curve",
           "circuit.switch_band": "the width it switches within", "circuit.settle_s": "the settle time",
           "circuit.line": "the line", "circuit.pull": "which way the input pulls", "circuit.input_ohm": "the input's load",
           "reading.ratio": "the share the stand-in is set to", "circuit.second_instrument": "the second instrument", "stand_in.lead_ohm": "the leads' ohms",
           "stand_in.low_ohm": "the lowest value", "stand_in.high_ohm": "the highest value",
           "stand_in.end_to_end_ohm": "end to end", "stand_in.ohms": "the list of fixed resistors",
           "stand_in.turns": "the turns", "stand_in.watts": "the watts", "meter.ohm_percent": "the meter's percent",
           "meter.ohm_digits": "the meter's digits", "reading.ohm": "the ohms on the stand-in",
           "reading.ohms": "the ohms measured", "reading.shows": "the number shown", "reading.at": "the temperature then",
           "reading.good": "what was found", "reading.signal_ma": "the milliamperes",
           "reading.ohms_swapped": "the ohms with the leads swapped", "reading": "the reading", "surroundings": "the temperature around"}
# Other fields a mistake may name.
_PATH = re.compile(r"\b(?:circuit|stand_in|meter)(?:\.[a-z0-9_]+)+")
# Marks that turn text into something else even when escaped; a word joiner after the first letter defuses them.
_LIVE = re.compile(r"(?<=[:@<])|(?<=[wW][wW][wW])(?=\.)|(?<=-)(?=[->])")
CANNOT_BE_SET = "cannot be set"
# Below this, in degrees or percent, nothing on a display moves.
SMALLEST_SAID = 0.1
# What a hand meter of 4000 counts shows as open or close to it.
OPEN_FROM_OHM = 1e6
# An estimate of a size whose ends lie further apart than this tells no size.
TELLS_WITHIN = 100.0
_UNTOLD = {"ohm": "how many ohms", "factor": "how many times"}
_JOINER = "\u2060"


def plain(text: object) -> str:
    """`text` made inert for places that read Markdown: nothing in it becomes a link, picture, formula or colour."""
    letters = "".join(letter if letter.isprintable() else " " for letter in str(text))
    return re.sub(r"([!-/:-@\[-`{-~])", r"\\\1", _LIVE.sub(_JOINER, letters))


def together(text: str) -> str:
    """`text` with each number kept on one line with its unit."""
    return _APART.sub("\u00a0", text)


def mistake(problem: object) -> str:
    """An OhmwrightError as one sentence in the words of the screens."""
    said, where = str(problem), getattr(problem, "where", "")
    path = re.sub(r"^readings\[\d+\]", "reading", where)
    named = next((one for one in (path, path.rpartition(".")[0], path.partition("[")[0]) if one in _FIELDS), None)
    said = said.replace(where, _FIELDS[named], 1) if named else said
    return title(_PATH.sub(_field, said))


def _field(path: re.Match) -> str:
    return _FIELDS.get(path[0]) or _FIELDS.get(path[0].rpartition(".")[0], path[0])


def ohms(value: float | str | None, digits: int = 3) -> str:
    """Ohms as a technician writes them, to `digits` figures: 330 Ω, 2.2 kΩ, 1.5 MΩ, open."""
    if value is None:
        return "not known"
    if isinstance(value, str):
        return value
    for limit, divisor, unit in ((999.5, 1.0, "Ω"), (999.5e3, 1e3, "kΩ"), (math.inf, 1e6, "MΩ")):
        if abs(value) < limit:
            return f"{_figures(value / divisor, digits)} {unit}"
    return "open"


def parts(ohm: float, fixed: Sequence[float]) -> str:
    """The fixed resistors that make `ohm` together: "1.6 Ω and 8.2 Ω in series"; "" where none are used."""
    joined = "" if len(fixed) < 2 else " in series" if ohm > max(fixed) else " in parallel"
    first = ", ".join(ohms(part) for part in fixed[:-1])
    return " and ".join(one for one in (first, *(ohms(part) for part in fixed[-1:])) if one) + joined


def volts(value: float | None) -> str:
    """Volts to a hundredth."""
    return "not known" if value is None else f"{value:.2f} V"


def share(value: float) -> str:
    """A share of a track, or of a supply, to a thousandth where it has one: 0.50, 1.00, 0.125."""
    return f"{value:.3f}".removesuffix("0")


def ratio(value: float) -> str:
    """What to set a divider to: "0.25 of its track"."""
    return f"{share(value)} of its track"


def amps(value: float) -> str:
    """Current in mA below one ampere."""
    return f"{value:.2f} A" if value >= 1.0 else f"{_figures(value * 1e3, 2)} mA"


def watts(value: float) -> str:
    """Power in mW below one watt."""
    return f"{_figures(value, 2)} W" if value >= 1.0 else f"{_figures(value * 1e3, 2)} mW"


def temperature(value_c: float, unit: str = "degC") -> str:
    """A temperature [degC] in the unit the technician reads; a level stays in percent."""
    return f"{_whole(from_degc(value_c, unit))} {DEGREE[unit]}"


def reread(value: float, written_in: str, unit: str) -> float:
    """A typed temperature for a field in another unit; untouched when the unit is the same."""
    return float(value) if written_in == unit else round(from_degc(to_degc(value, written_in), unit), 1)


def ladder(low_c: float, high_c: float, unit: str = "degC") -> list[float]:
    """Round temperatures [degC], or levels, from `low_c` to `high_c`, for a first dial sheet."""
    step_c = 25.0 if unit == "percent" else next((step for step in (20.0, 50.0) if high_c - low_c <= 10 * step), 100.0)
    first, last = math.ceil(low_c / step_c), math.floor(high_c / step_c)
    return [step_c * number for number in range(first, last + 1)]


def temperature_band(band_c: Sequence[float], unit: str = "degC") -> str:
    """A band of temperatures [degC]: "58 to 64 °C"."""
    low, high = (_whole(from_degc(value, unit)) for value in band_c)
    return f"{low} {DEGREE[unit]}" if low == high else f"{low} to {high} {DEGREE[unit]}"


def degree_step(unit: str) -> float:
    """How many of `unit` one degC, or one percent, is as a difference."""
    return from_degc(1.0, unit) - from_degc(0.0, unit)


def degrees(step_c: float, unit: str = "degC") -> str:
    """A difference of temperatures [degC], as +- in the technician's unit."""
    step = step_c * degree_step(unit)
    # Uncertainties carry one figure, two where the first is a one.
    figures = 2 if f"{step:e}".startswith("1") else 1
    if step < SMALLEST_SAID:
        return f"under ± {SMALLEST_SAID:g} {DEGREE[unit]}"
    return f"± {_figures(step, figures)} {DEGREE[unit]}"


def within(hand: float | None, meter: float | None, unit: str) -> str:
    """How near the hand sets a value and how near the meter then knows it, one after the other."""
    return CANNOT_BE_SET if hand is None or meter is None else f"{degrees(hand, unit)} / {degrees(meter, unit)}"


def default_shown(default_c: float | Sequence[float] | None, unit: str = "degC") -> str:
    """What a module shows after a code, one number or a span; "" where nobody knows."""
    if default_c is None:
        return ""
    return temperature_band(default_c if isinstance(default_c, (tuple, list)) else (default_c, default_c), unit)


def volt_band(band: Sequence[float]) -> str:
    """A band of volts."""
    low, high = (f"{value:.2f}" for value in band)
    return f"{low} V" if low == high else f"{low} to {high} V"


def chance(share: float) -> str:
    """A chance as percent, never claiming 0 or 100."""
    if share < 0.01:
        return "under 1 %"
    if share > 0.99:
        return "over 99 %"
    return f"{share * 100:.0f} %"


def minutes(value: float) -> str:
    """Minutes as a technician plans them."""
    return f"about {max(1, round(value))} min"


def quantity(value: float, unit: str, shown: str = "degC") -> str:
    """`value` in `unit` ("ohm", "V", "mA", "degC", "percent", "K", "factor" or ""), temperatures in the unit `shown`."""
    writers = {"ohm": ohms, "V": volts, "degC": lambda number: temperature(number, shown),
               "percent": lambda number: temperature(number, "percent"), "kPa": lambda number: temperature(number, "kPa"),
               "share": lambda number: f"{_whole(number * 100)} % of the supply",
               "mA": lambda number: f"{_three(number)} mA", "K": lambda number: f"{number:.0f} K",
               "factor": lambda number: f"{_three(number)} times"}
    return writers.get(unit, _three)(value)


def tells(found: object) -> bool:
    """Whether an engine Interval is narrow enough to be shown as a number."""
    return found.unit not in _UNTOLD or found.high <= TELLS_WITHIN * found.low


def interval(found: object, shown: str = "degC") -> str:
    """An engine Interval: "about 249 Ω (230 Ω to 268 Ω)", or in words where its ends lie too far apart for a number."""
    if found.unit == "ohm" and found.low >= OPEN_FROM_OHM:
        return "open"
    if not tells(found):
        return f"{_UNTOLD[found.unit]}, these readings do not tell"
    mid, low, high = (quantity(value, found.unit, shown) for value in (found.mid, found.low, found.high))
    return f"about {mid} ({low} to {high})"


def expected(value: object, unit: str, shown: str = "degC") -> str:
    """What a location would make a test show: a word, or a (low, high) pair in `unit` ("" counts as degC)."""
    if isinstance(value, str):
        return value.replace("-", " ")
    if unit in ("degC", "percent", "kPa", ""):
        # A level or a pressure is read in its own unit, whatever temperatures are read in.
        return temperature_band(value, unit if unit in ("percent", "kPa") else shown)
    if unit == "V":
        return volt_band(value)
    if unit == "ohm" and value[1] >= OPEN_FROM_OHM:
        return "open" if value[0] >= OPEN_FROM_OHM else f"{ohms(value[0])} or more"
    low, high = (quantity(number, unit, shown) for number in value)
    return low if low == high else f"{low} to {high}"


def result(reading: object, pointer: bool = False) -> str:
    """What a reading showed, as it was typed: "with 330 Ω the number was 61 °C"; on a gauge a `pointer` stood there."""
    at = f"divided at {ratio(reading.ratio)} " if reading.ratio is not None else ""
    what = "the needle" if pointer else "the number"
    parts = [f"with {ohms(reading.ohm, 5)} {what}" if reading.ohm is not None else f"{at}{what}"]
    if isinstance(reading.shows, str):
        parts.append(SHOWN_WORDS.get(reading.shows) or f"stood at {reading.shows}")
    elif isinstance(reading.shows, tuple):
        verb = "went from" if reading.test == "live-number" else "stood from"
        parts.append(f"{verb} {_typed(reading.shows[0])} to {_typed(reading.shows[1])} {_degree(reading)}")
    elif reading.shows is not None:
        parts.append(f"was {_typed(reading.shows)} {_degree(reading)}")
    said = [" ".join(parts)] if reading.shows is not None else []
    if reading.at and reading.ohms is None:
        said.append(f"{_typed(reading.at[0])} {DEGREE[reading.at[1]]} beside it")
    if reading.ohms is not None:
        at = f" at {_typed(reading.at[0])} {DEGREE[reading.at[1]]}" if reading.at else ""
        swapped = "" if reading.ohms_swapped is None else f", {ohms(reading.ohms_swapped, 5)} with its leads swapped"
        beside = ", something else still on it" if reading.in_circuit else ""
        said.append(f"the meter showed {ohms(reading.ohms, 5)}{swapped}{beside}{at}")
    said += [f"{ohms(ohm)} between {a} and {b}" for a, b, ohm in reading.between or ()]
    if reading.signal_ma is not None:
        said.append(f"the meter showed {_typed(reading.signal_ma)} mA")
    if reading.good is not None:
        said.append(judged(reading))
    for name in VOLTS:
        if (value := getattr(reading, name)) is not None:
            said.append(f"{volts(value)} from {name.removesuffix('_v').replace('_', ' ').replace('battery', 'battery negative')}")
    return ", ".join(said)


def judged(reading: object) -> str:
    """What eye or hand found, in the words of the test: "as wrong as before"."""
    if reading.test in PROVOKING or reading.test not in JUDGED:
        return FOUND_WORDS[reading.test in PROVOKING, reading.good]
    said = JUDGED[reading.test][not reading.good]
    return said[:1].lower() + said[1:]


def title(text: str) -> str:
    """`text` with a capital first letter."""
    return text[:1].upper() + text[1:]


def stand_in(kb: object, described: Mapping) -> str:
    """A stand-in of the case file in a few words: "potentiometer, 9.4 kΩ end to end, 1 turn, 0.25 W"."""
    said = [kb.stand_in(described["kind"]).label]
    if described.get("end_to_end_ohm") is not None:
        said.append(f"{ohms(described['end_to_end_ohm'], 4)} end to end")
    if described.get("series"):
        said[0] = f"a drawer of {described['series']} values"
    if described.get("ohms"):
        said.append(" ".join(ohms(value, 4) for value in described["ohms"]))
    if described.get("turns") is not None:
        said.append(f"{described['turns']:g} {'turn' if described['turns'] == 1 else 'turns'}")
    if described.get("watts") is not None:
        said.append(f"{described['watts']:g} W")
    if described.get("lead_ohm"):
        said.append(f"{ohms(described['lead_ohm'])} of leads")
    return ", ".join(said)


def place(kb: object, location: str, sensor: str) -> str:
    """The name of a location on screen, as the sensor kind has it."""
    return kb.location(location, sensor).label


def places(kb: object, locations: Sequence[str], sensor: str) -> str:
    """Names of several locations in one phrase, in the order of their ids."""
    names = [place(kb, location, sensor) for location in sorted(locations)]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _degree(reading: object) -> str:
    return DEGREE[reading.unit or "degC"]


def _typed(value: float) -> str:
    return f"{value:g}"


def _whole(value: float) -> str:
    # Adding zero turns "-0" into "0".
    return f"{round(value) + 0:d}"


def _three(value: float) -> str:
    return _figures(value, 3)


def _figures(value: float, digits: int) -> str:
    """`digits` significant figures without an exponent."""
    if value == 0 or not math.isfinite(value):
        return "0" if value == 0 else "no end"
    value = float(f"{value:.{digits}g}")
    decimals = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    text = f"{value:.{min(decimals, 9)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
