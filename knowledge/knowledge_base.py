"""Owns the one Knowledge object: the loaded tables and graph, and every question the house asks of them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

import networkx as nx

from engine.curves import Curve
from engine.errors import InputError, RefusedError
from engine.faults import FaultKind
from engine.job import Job
from engine.lines import Line
from engine.model import Setup
from engine.procedures import TestKind
from engine.quantities import QUANTITIES
from engine.tracks import Tracks
from knowledge import build, case_file, complaint_records, gauges, line_records, questions, records, three_wire
from knowledge import fault_tree as trees
from knowledge.graph import build_graph, next_nodes, node
from knowledge.lint import Finding, lint
from knowledge.load import load_tables
from knowledge.tables import Tables

if TYPE_CHECKING:
    from knowledge.review import ReviewRow

# A message names all that is listed up to this many, else a few that look like what was typed.
MOST_NAMED, FEW = 50, 5


@dataclass(frozen=True)
class TestText:
    """What a technician reads before a test: `hand` step by step, `connect` which leads go where, `key` the key state."""

    __test__ = False  # a record, not a test case

    id: str
    label: str
    hand: tuple[str, ...]
    connect: str
    key: str
    proves: str
    minutes: float
    cautions: tuple[records.Caution, ...]


class Knowledge:
    """Everything known, read once and frozen; built by load()."""

    def __init__(self, tables: Tables) -> None:
        self.tables = tables
        self.version = tables.version
        self._faults = build.all_faults(tables)
        self._tests = build.all_tests(tables)
        self._tests_there = build.tests_by_circuit(tables, self._tests)
        self.graph: nx.DiGraph = build_graph(tables, build.outcome_weights(tables, self._faults, self._tests))

    # What brings the vehicle in.

    @cached_property
    def _entries(self) -> tuple[questions.Entry, ...]:
        return questions.entries(self.graph)

    def entries(self) -> tuple[questions.Entry, ...]:
        """All symptoms, codes and sensor kinds: one searchable list."""
        return self._entries

    def find(self, text: str) -> tuple[questions.Entry, ...]:
        """Entries that answer `text`, best first."""
        return questions.find(self._entries, text)

    def candidates(self, *complaint_ids: str) -> tuple[questions.Candidate, ...]:
        """Sensor kinds the complaint implicates, likeliest first. Raises InputError for an id nobody listed."""
        return questions.candidates(self.graph, self._complaint_nodes(case_file.check_complaint(complaint_ids)))

    def fault_tree(self, complaint_ids: Sequence[str], chances: Mapping[str, float] | None = None,
                   sensor: str | None = None) -> trees.TreeNode:
        """The complaint's fault tree; `chances` {fault id: share} are the present ones, of `sensor` where named."""
        complaints = self._complaint_nodes(case_file.check_complaint(tuple(complaint_ids)))
        if sensor is not None and not any(one.sensor == sensor for one in questions.candidates(self.graph, complaints)):
            complaints = (*complaints, node("sensor", self.sensor(sensor).id))
        if not complaints:
            raise InputError("complaint", case_file.AsIs("empty"), "a fault tree starts from a code, symptom or sensor kind")
        return trees.fault_tree(self.graph, complaints, lambda kind, id, on: getattr(self, kind)(id, on).label, chances, sensor)

    def fault_tree_dot(self, tree: trees.TreeNode) -> str:
        """The tree as DOT text."""
        return trees.to_dot(tree)

    def fault_tree_text(self, tree: trees.TreeNode) -> str:
        """The tree as indented text."""
        return trees.to_text(tree)

    # Single records. Each raises InputError for an id nobody listed.

    def sensor(self, id: str) -> records.SensorKind:
        """A sensor kind."""
        return self._record("sensor", id, "sensor")

    def test(self, id: str, sensor: str | None = None) -> TestText:
        """What the hand does for a test; with `sensor`, in the words of its circuit kind."""
        row = self._record("test", id, "test")
        own = None
        if sensor is not None:
            kind = self.sensor(sensor).circuit_kind
            own = next((one for one in self.tables.test_wordings if (one.test, one.circuit_kind) == (id, kind)), None)
        cautions = self.cautions(id)
        if own is not None:
            cautions = _gravest_first({*cautions, *(self._record("caution", one, "caution") for one in own.cautions)})
        def said(field: str) -> object:
            return getattr(own, field, None) or getattr(row, field)
        return TestText(row.id, said("label"), said("hand"), said("connect"), row.key, said("proves"), row.minutes, cautions)

    def fault(self, id: str) -> FaultKind:
        """A fault as the engine's, with repair and proof."""
        return self._faults[self._record("fault", id, "fault").id]

    def action(self, fault_id: str) -> records.Action:
        """The repair that mends a fault, and its proof."""
        record = self._record("fault", fault_id, "fault")
        return self.graph.nodes[node("action", record.action)]["record"]

    def location(self, id: str, sensor: str | None = None) -> records.Location:
        """A location; with `sensor`, under the name it has on that kind."""
        row = self._record("location", id, "location")
        gauge = sensor is not None and self.sensor(sensor).quantity == "gauge"
        return row.model_copy(update={"label": row.gauge_label}) if gauge and row.gauge_label else row

    def curve(self, id: str) -> Curve:
        """A published curve as the engine's."""
        return build.curve(self.curve_row(id))

    def curve_row(self, id: str) -> records.CurveRow:
        """A published curve with its tolerance, warning and source."""
        return self._record("curve", id, "circuit.curve")

    def curves(self, sensor: str) -> tuple[Curve, ...]:
        """The curves a sensor kind usually follows, likeliest first."""
        if build.circuit_kind(self.graph, self.sensor(sensor).id).three_wire:
            return ()
        usual = build.usual_curves(self.graph, sensor)
        return tuple(curve for curve, _ in sorted(usual, key=lambda one: -one[1]))

    def input(self, id: str) -> records.InputRow:
        """A published module input."""
        return self._record("input", id, "input")

    def inputs(self, sensor: str) -> tuple[records.InputRow, ...]:
        """The inputs a sensor kind is met on."""
        self.sensor(sensor)
        return tuple(self.input(row.input) for row in self.tables.sensor_inputs if row.sensor == sensor)

    def input_fields(self, id: str) -> dict:
        """A published module input as the case file's `circuit` fields, all that is known of it."""
        return build.input_fields(self.input(id))

    def stand_in(self, id: str) -> records.StandInKind:
        """A kind of stand-in."""
        return self._record("stand-in", id, "stand_in.kind")

    def source(self, id: str) -> records.Source:
        """A source."""
        return self._record("source", id, "source")

    def refusal(self, sensor: str) -> complaint_records.Refusal | None:
        """Why a sensor kind takes no stand-in, or None; of several reasons the gravest."""
        self.sensor(sensor)
        return self.graph.nodes[node("sensor", sensor)]["refusal"]

    def cautions(self, id: str) -> tuple[records.Caution, ...]:
        """Cautions of a sensor kind, a test or a repair, gravest first."""
        found = {self.graph.nodes[target]["record"] for kind in ("sensor", "test", "action")
                 if node(kind, id) in self.graph
                 for _, target, edge in self.graph.out_edges(node(kind, id), data="kind") if edge == "warned-by"}
        return _gravest_first(found)

    def enable(self, code: str) -> str:
        """What must be so for `code` to set at all, as published; "" where nothing is. No code is never a pass."""
        (name,) = self._complaint_nodes((code,))
        return questions.enable(self.graph, name)

    def shares(self, sensor: str) -> tuple[records.Share, ...]:
        """What a sensor kind shares with others: the partner and a sentence about it."""
        return questions.shares(self.graph, self.sensor(sensor).id)

    # Jobs.

    def job(self, sensor: str, complaint: Sequence[str] = (), circuit: Mapping | None = None,
            stand_in: Mapping | None = None, meter: Mapping | None = None, surroundings: Mapping | None = None,
            readings: Sequence[Mapping] = ()) -> Job:
        """A new job on one sensor kind; the arguments are the case file's fields. Raises as open_case."""
        return self.open_case({"format": case_file.FORMAT, "sensor": sensor, "complaint": complaint,
                               "circuit": circuit, "stand_in": stand_in, "meter": meter,
                               "surroundings": surroundings, "readings": readings})

    def open_case(self, case: Mapping) -> Job:
        """The job of a case file.

        Raises RefusedError for a sensor kind that takes no stand-in, or one that
        complaints about nothing but hazards do not name, and InputError, one
        sentence naming the field, for anything that does not fit.
        """
        fields = case_file.check_case(case)
        sensor = self.sensor(case_file.text(fields["sensor"], "sensor", "a sensor kind as text"))
        self._refuse(self.refusal(sensor.id))
        complaint = case_file.check_complaint(fields.get("complaint"))
        nodes = self._complaint_nodes(complaint)
        self._refuse(questions.forbidden(self.graph, nodes, sensor.id))
        if build.circuit_kind(self.graph, sensor.id).three_wire:
            job = Job(sensor=sensor.id, complaint=complaint, setup=self._three_wire_setup(sensor, nodes, fields),
                      case=case_file.head(fields, self.version), knowledge=self.version)
            return self._recorded(job, fields)
        circuit, typed_curve = case_file.check_circuit(fields.get("circuit"), self._known_curve, sensor.quantity)
        family = build.family(sensor)
        curves = build.usual_curves(self.graph, sensor.id)
        if typed_curve is not None:
            curves, family["family_weight"] = ((typed_curve, 1.0),), 0.0
        stand_in, quantity = case_file.check_stand_in(fields.get("stand_in")), QUANTITIES[sensor.quantity]
        if sensor.quantity == "gauge":
            stand_in = gauges.wire_wound(stand_in, fields.get("stand_in") or {})
            circuit = gauges.fed_from_battery(circuit)
            goes = (fields.get("circuit") or {}).get("open_goes")
            curves = gauges.that_go(curves, goes)
            if typed_curve is None:
                curves, family["family_ln_ohm_25"] = gauges.with_unlisted(curves), (0.0, gauges.SHAPES_LN_SD)
                quantity = replace(quantity, reading_sd=gauges.UNTOLD_READING_SD)
        # How warm it is around a tank says nothing about how full it is.
        surroundings = case_file.check_surroundings(fields.get("surroundings"))
        setup = Setup(circuit=circuit, curves=curves, **family, stand_in=stand_in,
                      meter=case_file.check_meter(fields.get("meter")),
                      surroundings_c=surroundings if case_file.told_of(sensor, fields) else None,
                      signs=(*questions.signs(self.graph, nodes, sensor.id), *questions.together(self.graph, nodes, sensor.id)),
                      faults=tuple(self._faults[id] for id in build.faults_of(self.graph, sensor.id, circuit)),
                      tests=self.tests(sensor.id), quantity=quantity,
                      case_grounded=build.circuit_kind(self.graph, sensor.id).case_grounded)
        job = Job(sensor=sensor.id, complaint=complaint, setup=setup, case=case_file.head(fields, self.version),
                  knowledge=self.version)
        return self._recorded(job, fields)

    def _recorded(self, job: Job, fields: Mapping) -> Job:
        for reading in case_file.check_readings(fields.get("readings")):
            job = job.record(reading["test"], **{name: value for name, value in reading.items() if name != "test"})
        return job

    def _three_wire_setup(self, sensor: records.SensorKind, nodes: tuple[str, ...], fields: Mapping) -> Setup:
        quantity, kind = three_wire.quantity(sensor), build.circuit_kind(self.graph, sensor.id)
        circuit, told = three_wire.check_circuit(fields.get("circuit"), self._known_line, quantity.unit)
        return Setup(circuit=circuit, curves=(), family_weight=0.0, family_ln_ohm_25=(0.0, 1.0), family_beta_k=(3650.0, 250.0),
                     stand_in=case_file.check_stand_in(fields.get("stand_in")),
                     meter=case_file.check_meter(fields.get("meter")),
                     surroundings_c=three_wire.check_rest(fields.get("surroundings"), quantity.unit),
                     signs=(*questions.signs(self.graph, nodes, sensor.id), *questions.together(self.graph, nodes, sensor.id)),
                     faults=tuple(self._faults[id] for id in build.faults_of(self.graph, sensor.id, circuit)),
                     tests=self.tests(sensor.id), quantity=quantity,
                     three_wire=three_wire.three_wire(sensor, kind, three_wire.usual_lines(self.graph, sensor.id), told))

    def line(self, id: str) -> Line:
        """A published line of a three-wire sensor as the engine's."""
        return self._known_line(id, "circuit.line")

    def lines(self, sensor: str) -> tuple[Line, ...]:
        """The lines a three-wire sensor kind usually follows, likeliest first."""
        if not build.circuit_kind(self.graph, self.sensor(sensor).id).three_wire:
            return ()
        usual = three_wire.usual_lines(self.graph, sensor)
        return tuple(line for line, _ in sorted(usual, key=lambda one: -one[1]))

    def track_pairs(self, sensor: str) -> tuple[line_records.TrackPair, ...]:
        """The relations two tracks of a sensor kind are met in."""
        self.sensor(sensor)
        return tuple(pair for pair in self.tables.track_pairs if sensor in pair.sensors)

    def tracks(self, pair: str, supply_v: float = 5.0) -> Tracks:
        """A published pair of tracks as the engine's, fed from `supply_v` [V]."""
        lines = {row.id: row for row in self.tables.lines}
        return three_wire.tracks(self._record("track pair", pair, "pair"), lines, supply_v)

    def tests(self, sensor: str) -> tuple[TestKind, ...]:
        """The tests a sensor kind's circuit admits, as the engine's."""
        there = self._tests_there.get(self.sensor(sensor).circuit_kind, self._tests)
        return tuple(there[id] for id in build.tests_of(self.graph, sensor))

    def tests_on(self, circuit_kind: str) -> tuple[TestKind, ...]:
        """The tests circuits of a kind admit, as the engine's."""
        there = self._tests_there.get(circuit_kind, self._tests)
        admitted = next_nodes(self.graph, node("circuit kind", circuit_kind), "admits")
        return tuple(there[self.graph.nodes[name]["id"]] for name in admitted)

    # The knowledge as a whole.

    def usual_stand_in(self) -> dict:
        """The stand-in most have in hand, as the case file writes it."""
        row = self.tables.stand_ins[0]
        return {name: value for name in ("kind", "end_to_end_ohm", "turns", "watts")
                if (value := getattr(row, name)) is not None}

    def review(self, stand_in: Mapping | None = None) -> tuple["ReviewRow", ...]:
        """Which sensor kinds suit `stand_in` (as in a case file; default the usual one)."""
        from knowledge.review import review_all  # only its screen needs what it imports
        return review_all(self, self.usual_stand_in() if stand_in is None else stand_in)

    def lint(self) -> tuple[Finding, ...]:
        """What the check finds; acknowledged findings are marked."""
        return lint(self)

    def _refuse(self, refusal: complaint_records.Refusal | None) -> None:
        if refusal is not None:
            raise RefusedError(self.sensor(refusal.sensor).label, refusal.reason, refusal.instead, refusal.caution)

    def _known_line(self, id: str, where: str) -> Line:
        return three_wire.line(self._record("line", id, where))

    def _known_curve(self, id: str, where: str) -> Curve:
        return build.curve(self._record("curve", id, where))

    def _complaint_nodes(self, complaint: tuple[str, ...]) -> tuple[str, ...]:
        found = []
        for i, typed in enumerate(complaint):
            name = questions.complaint_node(self.graph, typed)
            if name is None:
                near = questions.similar(self.graph, typed)
                wanted = f"near it are {', '.join(near)}" if near else "it takes a code, symptom or sensor kind that is listed"
                raise InputError(f"complaint[{i}]", typed, f"nothing of that name is listed; {wanted}")
            found.append(name)
        return tuple(dict.fromkeys(found))

    def _record(self, kind: str, id: str, where: str) -> records.Record:
        name = node(kind, id) if isinstance(id, str) else ""
        if name not in self.graph:
            ids = [attributes["id"] for _, attributes in self.graph.nodes(data=True) if attributes["kind"] == kind]
            few = [*dict.fromkeys((*questions.near(str(id), ids), *ids))][:FEW]
            wanted = ", ".join(ids) if len(ids) <= MOST_NAMED else f"{len(ids)} listed names, such as {', '.join(few)}"
            raise InputError(where, case_file.shown(id), f"it takes one of {wanted}")
        return self.graph.nodes[name]["record"]


def _gravest_first(cautions: set[records.Caution]) -> tuple[records.Caution, ...]:
    order = ("danger", "warning", "note")
    return tuple(sorted(cautions, key=lambda caution: (order.index(caution.severity), caution.id)))


def load(path: Path | str | None = None) -> Knowledge:
    """The knowledge under `path` (default: what comes with the program). Raises KnowledgeError for a broken row."""
    return Knowledge(load_tables(path))
