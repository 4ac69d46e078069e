"""Owns the case file: a plain dict, checked field by field, becomes what a job is made of; one sentence for each mistake."""

from collections.abc import Callable, Mapping

from engine.circuit import InputCircuit
from engine.curves import Curve
from engine.errors import ContradictionError, InputError
from engine.preferred_values import DECADES, DRAWER_HIGH_OHM, DRAWER_LOW_OHM, preferred
from engine.readings import VOLTS
from engine.stand_in import KINDS, Meter, StandIn
from engine.units import finite, parse_ohm, to_degc, unit_name
from knowledge.records import SensorKind

FORMAT = 1
MOST_READINGS = 200
MOST_COMPLAINTS = 20
MOST_POINTS = 500
LONGEST_TEXT = 200
COLDEST_C, HOTTEST_C = -100.0, 1500.0
CASE_FIELDS = ("format", "sensor", "complaint", "circuit", "stand_in", "meter", "surroundings", "readings", "knowledge")
READING_FIELDS = ("test", "ohm", "ratio", "shows", "unit", "ohms", "good", "at", *VOLTS, "signal_ma", "ohms_swapped",
                  "in_circuit", "loaded", "between")
_OHM = (1.0, 1e8)
# Field of `circuit` -> low, high and unit of its number.
_VOLTS = {"reference_v": (0.5, 30.0), "open_v": (0.1, 30.0), "short_v": (0.0, 30.0), "low_limit_v": (0.0, 30.0),
          "high_limit_v": (0.0, 30.0), "battery_v": (6.0, 60.0)}
CIRCUIT_FIELDS = (*_VOLTS, "pull_up_ohm", "second_pull_up_ohm", "switch_at", "switch_band", "strobed", "latched", "settle_s",
                  "second_instrument", "bits", "curve", "default", "open_goes")
STAND_IN_FIELDS = ("kind", "end_to_end_ohm", "turns", "watts", "ohms", "lead_ohm", "series", "low_ohm", "high_ohm")
METER_FIELDS = ("ohm_percent", "ohm_digits", "volt_percent")


def check_case(case: object) -> Mapping:
    """`case` as a mapping with known fields and the right format; its parts are checked by the functions below."""
    fields = mapping(case, "case", CASE_FIELDS)
    if fields.get("format", FORMAT) is not FORMAT:
        raise InputError("format", shown(fields["format"]), f"this program reads format {FORMAT}")
    if "sensor" not in fields:
        raise InputError("sensor", shown(None), "a case names its sensor kind, such as coolant-temperature")
    if fields.get("knowledge") is not None:
        text(fields["knowledge"], "knowledge", "the version of the knowledge as text")
    return fields


def check_complaint(value: object) -> tuple[str, ...]:
    """The complaint as trimmed texts."""
    if value is None:
        return ()
    items = sequence(value, "complaint", MOST_COMPLAINTS, "codes, symptoms or sensor kinds")
    return tuple(text(item, f"complaint[{i}]", "a code, symptom or sensor kind as text") for i, item in enumerate(items))


def check_circuit(value: object, known_curve: Callable[[str, str], Curve],
                  quantity: str = "temperature") -> tuple[InputCircuit, Curve | None]:
    """The input circuit, None where nothing was typed, and the curve if one was; `known_curve` finds one by id."""
    fields = mapping(value, "circuit", CIRCUIT_FIELDS)
    volts = {name: optional(fields, name, "circuit", lambda v, w, ends=ends: finite(v, w, *ends, f"volts from {ends[0]:g} to {ends[1]:g}"))
             for name, ends in _VOLTS.items()}
    pull_up = optional(fields, "pull_up_ohm", "circuit", ohm)
    second = optional(fields, "second_pull_up_ohm", "circuit", ohm)
    switch = optional(fields, "switch_at", "circuit", temperature)
    typed = {"switch_band_c": optional(fields, "switch_band", "circuit", _span),
             "strobed": optional(fields, "strobed", "circuit", yes), "latched": optional(fields, "latched", "circuit", yes),
             "settle_s": optional(fields, "settle_s", "circuit", lambda v, w: finite(v, w, 0.0, 3600.0, "seconds from 0 to 3600")),
             "bits": optional(fields, "bits", "circuit", bits), "battery_v": volts["battery_v"],
             "default_c": optional(fields, "default", "circuit", lambda v, w: _default(v, w, quantity)),
             **_second_instrument(fields)}
    _check_circuit_agrees(volts, pull_up, second, switch)
    if typed["switch_band_c"] is not None and switch is None:
        raise ContradictionError("circuit.switch_at", AsIs("missing"), "it goes with circuit.switch_band, which is given")
    open_v = volts["open_v"] if volts["open_v"] is not None else volts["reference_v"]
    short_v = volts["short_v"] if volts["short_v"] is not None else 0.0 if pull_up is not None else None
    circuit = InputCircuit(open_v=open_v, short_v=short_v, source_ohm=pull_up, reference_v=volts["reference_v"],
                           second_source_ohm=second, switch_at_c=switch, low_limit_v=volts["low_limit_v"],
                           high_limit_v=volts["high_limit_v"],
                           **{name: known for name, known in typed.items() if known is not None})
    curve = optional(fields, "curve", "circuit", lambda v, w: check_curve(v, w, known_curve))
    wanted = "level" if quantity in ("level", "gauge") else "temperature"
    if fields.get("open_goes") is not None:
        if quantity != "gauge" or fields["open_goes"] not in ("low", "high"):
            raise InputError("circuit.open_goes", shown(fields["open_goes"]), "on a gauge it is low or high: the end the needle goes to with the plug open")
    if curve is not None and curve.quantity != wanted:
        raise ContradictionError("circuit.curve", AsIs(f"of {curve.quantity}"), f"this sensor kind's curve is of {wanted}")
    return circuit, curve


def check_curve(value: object, where: str, known_curve: Callable[[str, str], Curve]) -> Curve:
    """A curve by id or by points."""
    if isinstance(value, str):
        return known_curve(text(value, where, "a curve id as text"), where)
    fields = mapping(value, where, ("quantity", "unit", "points"), "a curve id, or an object with unit and points")
    quantity = fields.get("quantity", "temperature")
    if quantity not in ("temperature", "level"):
        raise InputError(f"{where}.quantity", shown(quantity), "a curve here is of temperature or of level")
    level = quantity == "level"
    if level and fields.get("unit", "percent") != "percent":
        raise InputError(f"{where}.unit", shown(fields["unit"]), "a level is in percent")
    unit = "degC" if level else unit_name(fields.get("unit", "degC"), f"{where}.unit")
    points = []
    for i, pair in enumerate(sequence(fields.get("points"), f"{where}.points", MOST_POINTS, f"pairs of {quantity} and ohms")):
        place = f"{where}.points[{i}]"
        if not isinstance(pair, (list, tuple)) or len(pair) != 2:
            raise InputError(place, shown(pair), f"a point is a pair of {quantity} and ohms, such as [20, 2500]")
        number = _percent(pair[0], f"{place}[0]") if level else finite(pair[0], f"{place}[0]", -1e4, 1e4, "a temperature as a number")
        points.append((to_degc(number, unit), parse_ohm(pair[1], f"{place}[1]")))
    try:
        return Curve("points", f"{len(points)} points as typed", tuple(points), quantity=quantity)
    except InputError as error:
        wrong = f"{len(points)} {'point' if len(points) == 1 else 'points'}"
        raise InputError(f"{where}.points", AsIs(wrong), error.wanted) from None


def check_stand_in(value: object) -> StandIn:
    """The stand-in in hand; a potentiometer nobody measured where nothing was typed."""
    if value is None:
        return StandIn()
    fields = mapping(value, "stand_in", STAND_IN_FIELDS)
    kind = fields.get("kind", "potentiometer")
    if kind not in KINDS:
        raise InputError("stand_in.kind", shown(kind), f"it is one of {', '.join(KINDS)}")
    typed = {"end_to_end_ohm": optional(fields, "end_to_end_ohm", "stand_in", ohm),
             "turns": optional(fields, "turns", "stand_in", lambda v, w: finite(v, w, 0.5, 40.0, "turns from 0.5 to 40")),
             "watts": optional(fields, "watts", "stand_in", lambda v, w: finite(v, w, 0.01, 500.0, "watts from 0.01 to 500")),
             "lead_ohm": optional(fields, "lead_ohm", "stand_in", lambda v, w: finite(v, w, 0.0, 100.0, "ohms from 0 to 100"))}
    ohms = _drawer(fields, kind)
    if fields.get("ohms") is not None:
        items = sequence(fields["ohms"], "stand_in.ohms", 200, "ohms of the fixed resistors")
        ohms = tuple(finite(parse_ohm(one, f"stand_in.ohms[{i}]"), f"stand_in.ohms[{i}]", 0.1, 1e8, "ohms from 0.1 to 1e8")
                     for i, one in enumerate(items))
    return StandIn(kind=kind, ohms=ohms, **{name: number for name, number in typed.items() if number is not None})


def _drawer(fields: Mapping, kind: str) -> tuple[float, ...]:
    """The values of a drawer of preferred values, () where no series was typed."""
    ends = {name: optional(fields, name, "stand_in", lambda v, w: finite(parse_ohm(v, w), w, 0.1, 1e8, "ohms from 0.1 to 1e8"))
            for name in ("low_ohm", "high_ohm")}
    series = fields.get("series")
    if series is None:
        for name, ohm in ends.items():
            if ohm is not None:
                raise ContradictionError("stand_in.series", AsIs("missing"), f"it goes with stand_in.{name}, which is given")
        return ()
    if series not in DECADES:
        raise InputError("stand_in.series", shown(series), f"it is one of {', '.join(DECADES)}")
    if kind != "fixed" or fields.get("ohms") is not None:
        other = "kind" if kind != "fixed" else "ohms"
        raise ContradictionError("stand_in.series", series, f"it takes kind fixed and no ohms; stand_in.{other} says otherwise")
    low, high = (ends[name] if ends[name] is not None else usual
                 for name, usual in (("low_ohm", DRAWER_LOW_OHM), ("high_ohm", DRAWER_HIGH_OHM)))
    if low >= high:
        raise ContradictionError("stand_in.low_ohm", low, f"it must lie below stand_in.high_ohm, which is {high:g}")
    return preferred(series, low, high)


def check_meter(value: object) -> Meter:
    """The meter's class; the usual hand meter where nothing was typed."""
    if value is None:
        return Meter()
    fields = mapping(value, "meter", METER_FIELDS)
    return Meter(**{name: number for name, number in fields.items() if number is not None})


def told_of(sensor: SensorKind, fields: Mapping) -> bool:
    """Whether the surroundings typed are what this sensor kind measures: how warm it is around a tank says nothing of its level."""
    unit = fields["surroundings"].get("unit") if isinstance(fields.get("surroundings"), Mapping) else None
    return sensor.quantity != "level" and sensor.in_percent == (unit in ("percent", "%"))


def check_surroundings(value: object) -> float | None:
    """Temperature around the sensor [degC], or None."""
    return None if value is None else temperature(value, "surroundings")


def check_readings(value: object) -> tuple[Mapping, ...]:
    """Readings as mappings with known fields; what a test can hold is checked when it is recorded."""
    if value is None:
        return ()
    items = sequence(value, "readings", MOST_READINGS, "readings")
    checked = []
    for i, item in enumerate(items):
        fields = mapping(item, f"readings[{i}]", READING_FIELDS)
        if "test" not in fields:
            raise InputError(f"readings[{i}].test", shown(None), "a reading names its test, such as substitute")
        text(fields["test"], f"readings[{i}].test", "a test's name as text")
        checked.append(fields)
    return tuple(checked)


def temperature(value: object, where: str) -> float:
    """A temperature [degC] from a number (degC) or {"value", "unit"}."""
    if isinstance(value, Mapping):
        fields = mapping(value, where, ("value", "unit"))
        number = finite(fields.get("value"), f"{where}.value", -1e4, 1e4, "a temperature as a number")
        unit = unit_name(fields.get("unit", "degC"), f"{where}.unit")
    else:
        number, unit = finite(value, where, -1e4, 1e4, 'degC as a number, or {"value": 21, "unit": "degC"}'), "degC"
    return finite(to_degc(number, unit), where, COLDEST_C, HOTTEST_C, "a temperature from -100 to 1500 degC")


def mapping(value: object, where: str, known: tuple[str, ...], wanted: str = "") -> Mapping:
    """`value` as a mapping whose fields are all among `known`."""
    if value is None and where in ("circuit",):
        return {}
    if not isinstance(value, Mapping):
        raise InputError(where, shown(value), f"it takes {wanted or 'an object with ' + ', '.join(known)}")
    for name in value:
        if name not in known:
            raise InputError(where if where != "case" else "the case", AsIs(f"given the field {shown(name)!r}"),
                             f"it knows {', '.join(known)}")
    return value


def sequence(value: object, where: str, most: int, wanted: str) -> list | tuple:
    """`value` as a list of at most `most` items."""
    if not isinstance(value, (list, tuple)):
        raise InputError(where, shown(value), f"it takes a list of {wanted}")
    if len(value) > most:
        raise InputError(where, AsIs(f"a list of {len(value)}"), f"it takes at most {most} {wanted}")
    return value


def text(value: object, where: str, wanted: str) -> str:
    """`value` as trimmed text of at most LONGEST_TEXT characters."""
    if not isinstance(value, str) or not value.strip():
        raise InputError(where, shown(value), f"it takes {wanted}")
    if len(value) > LONGEST_TEXT:
        raise InputError(where, value, f"it takes {wanted}, of at most {LONGEST_TEXT} characters")
    return value.strip()


def optional(fields: Mapping, name: str, where: str, check: Callable[[object, str], object]) -> object:
    """The checked field, or None where it is absent or null."""
    return None if fields.get(name) is None else check(fields[name], f"{where}.{name}")


def head(fields: Mapping, version: str) -> dict:
    """The case without its readings as plain JSON values, as typed; `version` of the knowledge where none was typed."""
    kept = {"format": FORMAT, **{name: _plain(value) for name, value in fields.items()
                                 if name != "readings" and value is not None}}
    kept.setdefault("knowledge", version)
    return kept


class AsIs:
    """Text that an error says without quotes."""

    def __init__(self, said: str) -> None:
        self._said = said

    def __repr__(self) -> str:
        return self._said


def shown(value: object) -> object:
    """`value` as an error can say it in a few words: numbers and text themselves, anything else by what it is."""
    if isinstance(value, str):
        return value
    if value is None:
        return AsIs("missing")
    if isinstance(value, bool):
        return AsIs("true" if value else "false")
    if isinstance(value, (int, float)):
        return value if abs(value) < 1e300 else AsIs("a number too large")
    if isinstance(value, Mapping):
        return AsIs("an object")
    return AsIs(f"a list of {len(value)}") if isinstance(value, (list, tuple)) else AsIs("something else")


def _plain(value: object) -> object:
    """A copy of checked JSON values in which tuples are lists."""
    if isinstance(value, Mapping):
        return {name: _plain(inner) for name, inner in value.items()}
    return [_plain(inner) for inner in value] if isinstance(value, (list, tuple)) else value


def ohm(value: object, where: str) -> float:
    """Ohms from 1 to 1e8, as a technician writes them."""
    return finite(parse_ohm(value, where), where, *_OHM, "ohms from 1 to 1e8")


def yes(value: object, where: str) -> bool:
    """Yes or no."""
    if not isinstance(value, bool):
        raise InputError(where, shown(value), "it takes true or false")
    return value


def _percent(value: object, where: str) -> float:
    return finite(value, where, 0.0, 100.0, "percent from 0 to 100")


def _span(value: object, where: str) -> float:
    """A width [degC] from a number (degC) or {"value", "unit"}; a Fahrenheit degree is five ninths of it."""
    fields = mapping(value, where, ("value", "unit")) if isinstance(value, Mapping) else {"value": value}
    number = finite(fields.get("value"), f"{where}.value" if isinstance(value, Mapping) else where, 0.0, 100.0, "degrees from 0 to 100")
    return number * 5.0 / 9.0 if unit_name(fields.get("unit", "degC"), f"{where}.unit") == "degF" else number


def _default(value: object, where: str, quantity: str) -> float | tuple[float, float]:
    """What the module shows instead: one value, or [low, high]; degC, or percent of a level."""
    one = _percent if quantity in ("level", "gauge") else temperature
    if not isinstance(value, (list, tuple)):
        return one(value, where)
    if len(value) != 2:
        raise InputError(where, AsIs(f"a list of {len(value)}"), "it takes one value, or the lowest and the highest")
    low, high = (one(end, f"{where}[{i}]") for i, end in enumerate(value))
    if low >= high:
        raise ContradictionError(f"{where}[0]", low, f"it must lie below {where}[1], which is {high:g}")
    return low, high


def _second_instrument(fields: Mapping) -> dict[str, float | None]:
    """Feed of another instrument on the same signal wire: volts open and resistor, both or neither."""
    if fields.get("second_instrument") is None:
        return {}
    where = "circuit.second_instrument"
    typed = mapping(fields["second_instrument"], where, ("open_v", "pull_up_ohm"))
    found = {"second_instrument_v": optional(typed, "open_v", where, lambda v, w: finite(v, w, 0.1, 30.0, "volts from 0.1 to 30")),
             "second_instrument_ohm": optional(typed, "pull_up_ohm", where, ohm)}
    for name, other in (("open_v", "pull_up_ohm"), ("pull_up_ohm", "open_v")):
        if typed.get(name) is None and (typed.get(other) is not None or name == "open_v"):
            raise ContradictionError(f"{where}.{name}", AsIs("missing"), f"it goes with {where}.{other}")
    return found


def bits(value: object, where: str) -> int:
    """A whole number of bits."""
    number = finite(value, where, 6, 24, "a whole number of bits from 6 to 24")
    if number != int(number):
        raise InputError(where, value, "it takes a whole number of bits from 6 to 24")
    return int(number)


def _check_circuit_agrees(volts: Mapping, pull_up: float | None, second: float | None, switch: float | None) -> None:
    """Raises ContradictionError where two fields of the circuit cannot both hold."""
    if (second is None) != (switch is None):
        has, lacks = ("second_pull_up_ohm", "switch_at") if switch is None else ("switch_at", "second_pull_up_ohm")
        raise ContradictionError(f"circuit.{lacks}", AsIs("missing"), f"it goes with circuit.{has}, which is given")
    if second is not None and pull_up is None:
        raise ContradictionError("circuit.pull_up_ohm", AsIs("missing"), "it goes with circuit.second_pull_up_ohm, which is given")
    order = (("short_v", "open_v"), ("short_v", "reference_v"), ("low_limit_v", "high_limit_v"),
             ("low_limit_v", "reference_v"))
    for low, high in order:
        if volts[low] is not None and volts[high] is not None and volts[low] >= volts[high]:
            raise ContradictionError(f"circuit.{low}", volts[low], f"it must lie below circuit.{high}, which is {volts[high]:g}")
    for low, high in (("open_v", "reference_v"), ("high_limit_v", "reference_v")):
        if volts[low] is not None and volts[high] is not None and volts[low] > volts[high]:
            raise ContradictionError(f"circuit.{low}", volts[low], f"it cannot lie above circuit.{high}, which is {volts[high]:g}")
