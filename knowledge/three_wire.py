"""Owns what three-wire sensor kinds are made of: lines and their families from the records, and the case file's fields."""

from collections.abc import Callable, Mapping

import networkx as nx

from engine.circuit import InputCircuit
from engine.errors import ContradictionError, InputError
from engine.lines import Line, LineFamily, ThreeWire, line_through
from engine.quantities import QUANTITIES, Quantity, pressure_up_to
from engine.tracks import Tracks
from engine.units import SAME_KIND, finite, to_degc, unit_name
from knowledge import case_file
from knowledge.graph import next_nodes, node
from knowledge.line_records import LineRow, TrackPair
from knowledge.records import CircuitKind, SensorKind

CIRCUIT_FIELDS = ("reference_v", "line", "pull", "input_ohm", "low_limit_v", "high_limit_v", "default", "battery_v", "bits",
                  "latched", "settle_s", "learned_v", "learned_within_v")
PULLS = ("up", "down")
MOST_POINTS = 100
# Lines nobody listed: pressures start anywhere near the kind's low end and reach up to half or double its span.
PRESSURE_SPAN_LN_SD = 0.45
_VOLTS = {"reference_v": (1.0, 30.0), "low_limit_v": (0.0, 30.0), "high_limit_v": (0.0, 30.0), "battery_v": (6.0, 60.0), "learned_v": (0.0, 30.0), "learned_within_v": (0.0, 2.0)}


def line(row: LineRow) -> Line:
    """The engine's line of a published one, pressures in kPa."""
    low, high = (to_degc(value, row.unit) for value in (row.value_low, row.value_high))
    ends = [None if None in pair else pair for pair in ((row.rest_value, row.rest_sd), (row.stop_value, row.stop_sd))]
    return Line(row.id, row.label, row.ratio_low, low, row.ratio_high, high, row.quantity, row.supply_v, row.low_clamp_ratio,
                row.high_clamp_ratio, (row.tolerance_percent or 0.0) / 100.0, *ends)


def usual_lines(graph: nx.DiGraph, sensor: str) -> tuple[tuple[Line, float], ...]:
    """Lines a sensor kind usually follows, with shares that sum to what the family of unlisted lines leaves."""
    name = node("sensor", sensor)
    left = 1.0 - (graph.nodes[name]["record"].family_weight or 0.0)
    found = [(target, graph.edges[name, target]["weight"]) for target in next_nodes(graph, name, "follows")]
    total = sum(weight for _, weight in found)
    return tuple((line(graph.nodes[target]["record"]), left * weight / total) for target, weight in found)


def quantity(sensor: SensorKind) -> Quantity:
    """What the kind's live data shows; pressures beyond one byte have a scale of their own."""
    if sensor.quantity == "pressure":
        return pressure_up_to(sensor.high_c if sensor.high_c is not None else 255.0, sensor.low_c or 0.0)
    return QUANTITIES[sensor.quantity]


def three_wire(sensor: SensorKind, kind: CircuitKind, lines: tuple[tuple[Line, float], ...],
               told: Line | None = None) -> ThreeWire:
    """The engine's ThreeWire of a sensor kind; a `told` line leaves no other."""
    family = LineFamily()
    if sensor.quantity == "pressure":
        family = LineFamily(sensor.low_c, sensor.high_c, (0.06, 0.04), (0.9, 0.05), PRESSURE_SPAN_LN_SD)
    return ThreeWire(lines=((told, 1.0),) if told is not None else lines,
                     family_weight=0.0 if told is not None else sensor.family_weight or 0.0, family=family,
                     active=kind.three_wire == "output-stage", track_ohm=sensor.track_ohm or 5000.0,
                     rest=(sensor.rest or 0.0, sensor.rest_sd or 6.0))


def check_circuit(value: object, known_line: Callable[[str, str], Line], unit: str) -> tuple[InputCircuit, Line | None]:
    """The input of a three-wire sensor, None where nothing was typed, and the line if one was; `known_line` finds one by id."""
    fields = case_file.mapping(value, "circuit", CIRCUIT_FIELDS)
    volts = {name: case_file.optional(fields, name, "circuit", lambda v, w, ends=ends: finite(
        v, w, *ends, f"volts from {ends[0]:g} to {ends[1]:g}")) for name, ends in _VOLTS.items()}
    typed = {"pull": case_file.optional(fields, "pull", "circuit", _pull),
             "source_ohm": case_file.optional(fields, "input_ohm", "circuit", case_file.ohm),
             "bits": case_file.optional(fields, "bits", "circuit", case_file.bits), "battery_v": volts["battery_v"],
             "learned_v": volts["learned_v"], "learned_within_v": volts["learned_within_v"],
             "latched": case_file.optional(fields, "latched", "circuit", case_file.yes),
             "settle_s": case_file.optional(fields, "settle_s", "circuit", lambda v, w: finite(v, w, 0.0, 3600.0, "seconds from 0 to 3600")),
             "default_c": case_file.optional(fields, "default", "circuit", lambda v, w: _default(v, w, unit))}
    low, high = volts["low_limit_v"], volts["high_limit_v"]
    if low is not None and high is not None and low >= high:
        raise ContradictionError("circuit.low_limit_v", low, f"it must lie below circuit.high_limit_v, which is {high:g}")
    told = case_file.optional(fields, "line", "circuit", lambda v, w: check_line(v, w, known_line, unit, volts["reference_v"]))
    reference = volts["reference_v"]
    circuit = InputCircuit(open_v=reference, short_v=0.0, reference_v=reference, low_limit_v=low, high_limit_v=high,
                           **{name: known for name, known in typed.items() if known is not None})
    return circuit, told


def check_line(value: object, where: str, known_line: Callable[[str, str], Line], unit: str,
               reference_v: float | None) -> Line:
    """A line by id or by points [[ratio or volts, value], ...]: numbers above 1.1 make all of them volts."""
    if isinstance(value, str):
        found = known_line(case_file.text(value, where, "a line's id as text"), where)
    else:
        fields = case_file.mapping(value, where, ("unit", "points"), "a line's id, or an object with unit and points")
        typed_unit = unit_name(fields.get("unit", unit), f"{where}.unit")
        if typed_unit not in SAME_KIND[unit]:
            raise InputError(f"{where}.unit", typed_unit, f"this sensor kind is read in {unit}")
        points = []
        for i, pair in enumerate(case_file.sequence(fields.get("points"), f"{where}.points", MOST_POINTS, "pairs of ratio and value")):
            place = f"{where}.points[{i}]"
            if not isinstance(pair, (list, tuple)) or len(pair) != 2:
                raise InputError(place, case_file.shown(pair), "a point is a pair of ratio, or volts, and value, such as [0.5, 50]")
            points.append((finite(pair[0], f"{place}[0]", -0.5, 30.0, "a ratio or volts as a number"),
                           to_degc(finite(pair[1], f"{place}[1]", -1e6, 1e6, "a value as a number"), typed_unit)))
        volts = any(ratio > 1.1 for ratio, _ in points)
        found = line_through(points, (reference_v or 5.0) if volts else None, _QUANTITY_OF[unit])
    if found.quantity != _QUANTITY_OF[unit]:
        raise ContradictionError(where, case_file.AsIs(f"of {found.quantity}"), f"this sensor kind's line is of {_QUANTITY_OF[unit]}")
    return found


def tracks(pair: TrackPair, lines: Mapping[str, LineRow], supply_v: float = 5.0) -> Tracks:
    """The engine's two tracks of a published pair, fed from `supply_v` [V]."""
    return Tracks(line(lines[pair.first]), None if pair.second is None else line(lines[pair.second]), pair.limit_percent, pair.limit_v,
                  pair.apart_v, supply_v)


def check_rest(value: object, unit: str) -> float | None:
    """The value the sensor has as found (the day's air pressure, the learned stop) from a number or {"value", "unit"}."""
    if value is None:
        return None
    fields = case_file.mapping(value, "surroundings", ("value", "unit")) if isinstance(value, Mapping) else {"value": value}
    typed_unit = unit_name(fields.get("unit", unit), "surroundings.unit")
    if typed_unit not in SAME_KIND[unit]:
        # How warm it is around the vehicle says nothing of a position or a pressure.
        return None
    return to_degc(finite(fields.get("value"), "surroundings.value", -1e6, 1e6, "a value as a number"), typed_unit)


def _pull(value: object, where: str) -> str:
    if value not in PULLS:
        raise InputError(where, case_file.shown(value), "it takes up or down: which way the open plug's signal goes")
    return value


def _default(value: object, where: str, unit: str) -> float | tuple[float, float]:
    if not isinstance(value, (list, tuple)):
        return to_degc(finite(value, where, -1e6, 1e6, f"a value in {unit}"), unit)
    if len(value) != 2:
        raise InputError(where, case_file.AsIs(f"a list of {len(value)}"), "it takes one value, or the lowest and the highest")
    low, high = (finite(end, f"{where}[{i}]", -1e6, 1e6, f"a value in {unit}") for i, end in enumerate(value))
    if low >= high:
        raise ContradictionError(f"{where}[0]", low, f"it must lie below {where}[1], which is {high:g}")
    return low, high


_QUANTITY_OF = {"percent": "position", "kPa": "pressure"}
