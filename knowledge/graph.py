"""Owns the graph: the records as typed nodes and typed edges of one frozen networkx.DiGraph.

A node is named "kind:id" and carries `kind`, `id`, `label` and `record`; an
edge carries `kind` (implicates, wired-as, follows, met-on, admits, refuses,
takes, pairs, shows, speaks-for, sits-in, mended-by, shares, warned-by, cited-to) and
what goes with it (`weight`, `sign`, `reason`, `record`).
"""

from collections.abc import Iterable, Mapping

import networkx as nx

from knowledge.complaint_records import RANKS
from knowledge.records import Record
from knowledge.tables import Tables

# Kind of node -> family of records it is made from.
NODE_FAMILIES = {"source": "sources", "location": "locations", "caution": "cautions", "curve": "curves",
                 "input": "inputs", "line": "lines", "track pair": "track_pairs", "stand-in": "stand_ins", "circuit kind": "circuit_kinds", "action": "actions",
                 "fault": "faults", "test": "tests", "sensor": "sensors", "code": "codes", "symptom": "symptoms"}


def node(kind: str, id: str) -> str:
    """Name of a node.

    >>> node("sensor", "coolant-temperature")
    'sensor:coolant-temperature'
    """
    return f"{kind}:{id}"


def outcome_id(test: str, outcome: str) -> str:
    """Id of the outcome of a test."""
    return f"{test}/{outcome}"


def build_graph(tables: Tables, speaks: Mapping[tuple[str, str, str], float]) -> nx.DiGraph:
    """The frozen graph of `tables`; `speaks` gives (test, outcome, fault) -> weight (weights.speaks_for)."""
    graph = nx.DiGraph(version=tables.version)
    for kind, family in NODE_FAMILIES.items():
        for record in getattr(tables, family):
            _add(graph, kind, record.id, record.label, record)
    # The gravest is entered last and stays.
    refused = {refusal.sensor: refusal for refusal in sorted(tables.refusals, key=lambda one: -RANKS.index(one.kind))}
    for sensor in tables.sensors:
        graph.nodes[node("sensor", sensor.id)]["refusal"] = refused.get(sensor.id)
    _sensor_edges(graph, tables)
    _test_edges(graph, tables, speaks)
    _fault_edges(graph, tables)
    _cite(graph)
    return nx.freeze(graph)


def next_nodes(graph: nx.DiGraph, name: str, kind: str) -> list[str]:
    """Nodes that edges of `kind` lead to from `name`, in the order they were entered."""
    # Views of edges take five times as long, and every screen asks hundreds of times.
    return [target for target, edge in graph.adj[name].items() if edge["kind"] == kind]


def of_kind(graph: nx.DiGraph, kind: str) -> Iterable[str]:
    """Names of all nodes of `kind`, in the order they were entered."""
    return [name for name, found in graph.nodes(data="kind") if found == kind]


def _add(graph: nx.DiGraph, kind: str, id: str, label: str, record: Record) -> None:
    graph.add_node(node(kind, id), kind=kind, id=id, label=label, record=record)


def _sensor_edges(graph: nx.DiGraph, tables: Tables) -> None:
    codes = {code.id for code in tables.codes}
    for row in tables.implications:
        start = node("code" if row.complaint in codes else "symptom", row.complaint)
        graph.add_edge(start, node("sensor", row.sensor), kind="implicates", weight=row.weight, sign=row.sign)
    for sensor in tables.sensors:
        graph.add_edge(node("sensor", sensor.id), node("circuit kind", sensor.circuit_kind), kind="wired-as")
    for row in tables.sensor_curves:
        graph.add_edge(node("sensor", row.sensor), node("curve", row.curve), kind="follows", weight=row.weight)
    for row in tables.sensor_lines:
        graph.add_edge(node("sensor", row.sensor), node("line", row.line), kind="follows", weight=row.weight)
    for pair in tables.track_pairs:
        for sensor in pair.sensors:
            graph.add_edge(node("sensor", sensor), node("track pair", pair.id), kind="pairs")
        for track in (pair.first, pair.second):
            if track is not None:
                graph.add_edge(node("track pair", pair.id), node("line", track), kind="follows", weight=1.0)
    for row in tables.sensor_inputs:
        graph.add_edge(node("sensor", row.sensor), node("input", row.input), kind="met-on")
    for row in tables.shares:
        pair = node("sensor", row.sensor), node("sensor", row.partner)
        before = graph.edges[pair]["records"] if graph.has_edge(*pair) else ()
        graph.add_edge(*pair, kind="shares", records=(*before, row))
    for row in tables.admissions:
        graph.add_edge(node("circuit kind", row.circuit_kind), node("test", row.test), kind=row.answer,
                       reason=row.reason)


def _test_edges(graph: nx.DiGraph, tables: Tables, speaks: Mapping[tuple[str, str, str], float]) -> None:
    elsewhere: dict[str, set[str]] = {}
    for row in tables.test_wordings:
        elsewhere.setdefault(row.test, set()).add(row.measures)
    for test in tables.tests:
        if test.element == "stand-in":
            for stand_in in tables.stand_ins:
                graph.add_edge(node("test", test.id), node("stand-in", stand_in.id), kind="takes")
        for outcome in tables.outcomes:
            if outcome.measures in {test.measures, *elsewhere.get(test.id, ())}:
                id = outcome_id(test.id, outcome.id)
                _add(graph, "outcome", id, outcome.label, outcome)
                graph.add_edge(node("test", test.id), node("outcome", id), kind="shows")
    for (test, outcome, fault), weight in speaks.items():
        graph.add_edge(node("outcome", outcome_id(test, outcome)), node("fault", fault), kind="speaks-for",
                       weight=weight)


def _fault_edges(graph: nx.DiGraph, tables: Tables) -> None:
    for fault in tables.faults:
        graph.add_edge(node("fault", fault.id), node("location", fault.location), kind="sits-in")
        graph.add_edge(node("fault", fault.id), node("action", fault.action), kind="mended-by")
    for kind, rows in (("sensor", tables.sensors), ("test", tables.tests), ("action", tables.actions)):
        for row in rows:
            for caution in row.cautions:
                graph.add_edge(node(kind, row.id), node("caution", caution), kind="warned-by")


def _cite(graph: nx.DiGraph) -> None:
    for name, record in list(graph.nodes(data="record")):
        for column in ("source", "live_source", "enable_source"):
            if getattr(record, column, None) is not None:
                graph.add_edge(name, node("source", getattr(record, column)), kind="cited-to")
