"""Owns the way from graph to engine: nodes become curves, circuits, faults and tests by following edges."""

import math
from dataclasses import replace

import networkx as nx

from engine.circuit import InputCircuit
from engine.curves import Curve
from engine.faults import FaultKind
from engine.procedures import TestKind
from knowledge.graph import next_nodes, node, of_kind
from knowledge.records import Action, CircuitKind, CurveRow, Fault, InputRow, SensorKind, Test, TestWording
from knowledge.tables import Tables
from knowledge.three_wire import line, quantity, three_wire
from knowledge.three_wire_weights import speaks_for_three_wires
from knowledge.weights import speaks_for

# What only circuits of three wires have.
THREE_WIRE_NEEDS = ("three-wire", "track", "output-stage")


def curve(row: CurveRow) -> Curve:
    """The engine's curve of a published table."""
    return Curve(row.id, row.label, tuple((point.value, point.ohm) for point in row.points), quantity=row.quantity)


def input_circuit(row: InputRow) -> InputCircuit:
    """The engine's circuit of a published input."""
    default = None if row.default_low_c is None else (row.default_low_c, row.default_high_c)
    known = {"switch_band_c": row.switch_band_c, "strobed": row.strobed, "latched": row.latched}
    return InputCircuit(open_v=row.open_v, short_v=row.short_v, source_ohm=row.pull_up_ohm, reference_v=row.reference_v,
                        second_source_ohm=row.second_pull_up_ohm, switch_at_c=row.switch_at_c,
                        low_limit_v=row.low_limit_v, high_limit_v=row.high_limit_v, default_c=default,
                        settle_s=row.settle_s, **{name: value for name, value in known.items() if value is not None})


def input_fields(row: InputRow) -> dict[str, object]:
    """The case file's `circuit` fields of a published input, only what is known of it."""
    fields = {"reference_v": row.reference_v, "open_v": row.open_v, "short_v": row.short_v, "pull_up_ohm": row.pull_up_ohm,
              "second_pull_up_ohm": row.second_pull_up_ohm, "switch_at": row.switch_at_c, "switch_band": row.switch_band_c,
              "strobed": row.strobed, "latched": row.latched, "settle_s": row.settle_s, "low_limit_v": row.low_limit_v,
              "high_limit_v": row.high_limit_v,
              "default": None if row.default_low_c is None else [row.default_low_c, row.default_high_c]}
    return {name: value for name, value in fields.items() if value is not None}


def fault_kind(row: Fault, action: Action, rail: str = "") -> FaultKind:
    """The engine's fault, with the repair and proof of its action; `rail` where others feel it as well."""
    return FaultKind(id=row.id, location=row.location, label=row.label, effect=row.effect, chance=row.chance,
                     severity_low=row.severity_low, severity_high=row.severity_high, unit=row.unit, needs=row.needs,
                     also=None if None in (row.also_low, row.also_high) else (row.also_effect, row.also_low, row.also_high, row.also_unit),
                     repair=action.label, repair_minutes=action.minutes, repair_price=action.price,
                     proof=action.proof, intermittent=row.intermittent, rail=rail)


def test_kind(row: Test, bad: tuple[tuple[str, float], ...]) -> TestKind:
    """The engine's test; `bad` are the chances of a bad finding, by fault id."""
    return TestKind(id=row.id, label=row.label, element=row.element, to=row.to, measures=row.measures,
                    minutes=row.minutes, state=row.state, proof=row.proof, needs=row.needs, bad=bad, at_c=row.at_c,
                    false_alarm=row.false_alarm if row.false_alarm is not None else 0.0)


def all_faults(tables: Tables) -> dict[str, FaultKind]:
    """Every fault as the engine's, by id."""
    actions = {action.id: action for action in tables.actions}
    rails = {row.fault: row.rail for row in tables.rail_faults}
    return {row.id: fault_kind(row, actions[row.action], rails.get(row.id, "")) for row in tables.faults}


def all_tests(tables: Tables) -> dict[str, TestKind]:
    """Every test as the engine's, by id."""
    bad: dict[str, list[tuple[str, float]]] = {}
    for row in tables.test_bad:
        bad.setdefault(row.test, []).append((row.fault, row.chance))
    return {row.id: test_kind(row, tuple(bad.get(row.id, ()))) for row in tables.tests}


def tests_by_circuit(tables: Tables, tests: dict[str, TestKind]) -> dict[str, dict[str, TestKind]]:
    """Circuit kind -> test id -> the test as it is done there; only kinds of three wires do any of them otherwise."""
    out = {}
    for kind in tables.circuit_kinds:
        if kind.three_wire:
            own = {row.test: row for row in tables.test_wordings if row.circuit_kind == kind.id}
            out[kind.id] = {id: _done_there(test, own.get(id)) for id, test in tests.items()}
    return out


def _done_there(test: TestKind, row: TestWording | None) -> TestKind:
    if row is None:
        return replace(test, pins=3)
    return replace(test, pins=3, element=row.element or test.element, measures=row.measures or test.measures,
                   proof=row.proof or test.proof, at_c=None if row.measures else test.at_c, needs="" if row.measures else test.needs)


def outcome_weights(tables: Tables, faults: dict[str, FaultKind],
                    tests: dict[str, TestKind]) -> dict[tuple[str, str, str], float]:
    """Weights of the outcome edges, on the first sensor kind whose input and curve are known well enough to stand for all.

    Faults of a second pull-up are weighed on the first published input that has one.
    """
    inputs = {row.id: row for row in tables.inputs}
    curves = {row.id: row for row in tables.curves}
    first = {row.sensor: row.curve for row in reversed(tables.sensor_curves)}
    typical = next((sensor for sensor in tables.sensors if sensor.assumed_input and sensor.id in first), None)
    three = three_wire_weights(tables, faults, tests)
    of_three = {kind.id for kind in tables.circuit_kinds if kind.three_wire}
    elsewhere = {row.test for row in tables.admissions if row.circuit_kind not in of_three}
    tests = {id: test for id, test in tests.items() if id in elsewhere}
    if typical is None:
        return three
    usual = curve(curves[first[typical.id]])
    common = frozenset(row.id for row in tables.faults if row.needs in ("", "return-wire") and row.quantity not in ("level", "gauge"))
    faults = {id: fault for id, fault in faults.items() if fault.needs not in THREE_WIRE_NEEDS}
    of_switching = frozenset(row.id for row in tables.faults if row.needs == "second-pull-up")
    kinds = tuple(tests.values()), tuple(faults.values())
    found = speaks_for(*kinds, input_circuit(inputs[typical.assumed_input]), usual, common)
    switching = next((row for row in tables.inputs if row.second_pull_up_ohm is not None), None)
    if switching is None:
        return found | three
    weighed = speaks_for(*kinds, input_circuit(switching), usual, common | of_switching)
    return ({edge: weight for edge, weight in found.items() if edge[2] not in of_switching}
            | {edge: weight for edge, weight in weighed.items() if edge[2] in of_switching} | three)


def three_wire_weights(tables: Tables, faults: dict[str, FaultKind],
                       tests: dict[str, TestKind]) -> dict[tuple[str, str, str], float]:
    """Weights of the outcome edges of each circuit kind of three wires, on the first sensor kind wired so."""
    rows, lines, out = {row.id: row for row in tables.lines}, {}, {}
    for usual in reversed(tables.sensor_lines):
        lines[usual.sensor] = rows[usual.line]
    for kind in tables.circuit_kinds:
        sensor = next((row for row in tables.sensors if row.circuit_kind == kind.id and row.id in lines), None)
        if not kind.three_wire or sensor is None:
            continue
        needs = {"three-wire", "output-stage" if kind.three_wire == "output-stage" else "track"}
        admitted = {row.test for row in tables.admissions if (row.circuit_kind, row.answer) == (kind.id, "admits")}
        done = [test for id, test in tests_by_circuit(tables, tests)[kind.id].items() if id in admitted]
        told = line(lines[sensor.id])
        found = speaks_for_three_wires(tuple(done), tuple(f for f in faults.values() if f.needs in needs),
                                       three_wire(sensor, kind, (), told), quantity(sensor))
        out |= {edge: weight for edge, weight in found.items() if edge not in out}
    return out


def usual_curves(graph: nx.DiGraph, sensor: str) -> tuple[tuple[Curve, float], ...]:
    """Curves a sensor kind follows, with shares that sum to what the family of unlisted curves leaves."""
    name = node("sensor", sensor)
    left = 1.0 - (graph.nodes[name]["record"].family_weight or 0.0)
    followed = [(target, graph.edges[name, target]["weight"]) for target in next_nodes(graph, name, "follows")]
    total = sum(weight for _, weight in followed)
    return tuple((curve(graph.nodes[target]["record"]), left * weight / total) for target, weight in followed)


def tests_of(graph: nx.DiGraph, sensor: str) -> tuple[str, ...]:
    """Ids of the tests the sensor kind's circuit admits: sensor -wired-as-> circuit kind -admits-> test.

    Tests of a held number are for kinds whose display holds it.
    """
    held = graph.nodes[node("sensor", sensor)]["record"].held
    found = [graph.nodes[test]["record"] for circuit in next_nodes(graph, node("sensor", sensor), "wired-as")
             for test in next_nodes(graph, circuit, "admits")]
    return tuple(test.id for test in found if held or test.needs != "held-number")


def faults_of(graph: nx.DiGraph, sensor: str, circuit: InputCircuit | None = None) -> tuple[str, ...]:
    """Ids of the faults those tests can speak for and this sensor kind can have, in the order of the data.

    test -shows-> outcome -speaks-for-> fault; `circuit` (default: nothing
    known of it) and the kind must have what a fault needs.
    """
    reached = {fault for test in tests_of(graph, sensor)
               for outcome in next_nodes(graph, node("test", test), "shows")
               for fault in next_nodes(graph, outcome, "speaks-for")}
    has = _has(graph, sensor, circuit)
    record = graph.nodes[node("sensor", sensor)]["record"]
    quantity = record.quantity.replace("hot-gas", "temperature")
    followed = () if circuit_kind(graph, sensor).three_wire else next_nodes(graph, node("sensor", sensor), "follows")
    usual = [graph.nodes[target]["record"].points for target in followed]
    falls = any(points[0].ohm > points[-1].ohm for points in usual)
    rows = [graph.nodes[name]["record"] for name in of_kind(graph, "fault") if name in reached]
    # What a quantity has of its own stands for the general faults of the same place and effect.
    own = {(fault.location, fault.effect) for fault in rows if fault.quantity == quantity}
    return tuple(fault.id for fault in rows if fault.needs in has and fault.quantity in ("", quantity)
                 and (fault.quantity or (fault.location, fault.effect) not in own)
                 and (falls or fault.effect != "sensor-rising"))


def _has(graph: nx.DiGraph, sensor: str, circuit: InputCircuit | None) -> set[str]:
    """What faults may need, as far as this sensor kind and circuit have it."""
    kind = circuit_kind(graph, sensor)
    if kind.three_wire:
        return {"three-wire", "output-stage" if kind.three_wire == "output-stage" else "track"}
    has = {"", "body-ground" if kind.case_grounded else "return-wire"}
    if circuit is not None and circuit.second_source_ohm is not None:
        has.add("second-pull-up")
    if graph.nodes[node("sensor", sensor)]["record"].held:
        has.add("held-number")
    return has


def circuit_kind(graph: nx.DiGraph, sensor: str) -> CircuitKind:
    """How the sensor kind is wired."""
    return graph.nodes[next_nodes(graph, node("sensor", sensor), "wired-as")[0]]["record"]


def family(sensor: SensorKind) -> dict[str, object]:
    """The continuous family of curves nobody listed: share, and mean and spread of ln R25 and of beta [K]."""
    return {"family_weight": sensor.family_weight or 0.0,
            "family_ln_ohm_25": (math.log(sensor.ohm_25 or 1.0), sensor.ln_ohm_25_sd or 1.0),
            "family_beta_k": (sensor.beta_k or 3650.0, sensor.beta_sd_k or 250.0)}
