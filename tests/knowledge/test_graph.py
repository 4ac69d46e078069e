"""Owns the test of the graph: typed, frozen, complete from every complaint to a repair or a refusal."""

import subprocess
import sys

import networkx as nx
import pytest

from engine.faults import LOCATIONS
from knowledge.graph import next_nodes, node, of_kind

KINDS = {"symptom", "code", "sensor", "circuit kind", "curve", "input", "line", "track pair", "stand-in", "test", "outcome", "fault", "location",
         "action", "caution", "source"}
# Edge kind -> kinds of node it leads from and to.
EDGES = {"implicates": ({"symptom", "code"}, {"sensor"}), "wired-as": ({"sensor"}, {"circuit kind"}),
         "follows": ({"sensor", "track pair"}, {"curve", "line"}), "pairs": ({"sensor"}, {"track pair"}), "met-on": ({"sensor"}, {"input"}), "admits": ({"circuit kind"}, {"test"}),
         "refuses": ({"circuit kind"}, {"test"}), "shares": ({"sensor"}, {"sensor"}), "takes": ({"test"}, {"stand-in"}), "shows": ({"test"}, {"outcome"}),
         "speaks-for": ({"outcome"}, {"fault"}), "sits-in": ({"fault"}, {"location"}), "mended-by": ({"fault"}, {"action"}),
         "warned-by": ({"sensor", "test", "action"}, {"caution"}), "cited-to": (KINDS - {"source"}, {"source"})}


def test_nodes_and_edges_are_typed(kb):
    graph = kb.graph
    assert {kind for _, kind in graph.nodes(data="kind")} == KINDS
    assert {kind for *_, kind in graph.edges(data="kind")} == set(EDGES)
    for start, end, kind in graph.edges(data="kind"):
        sources, targets = EDGES[kind]
        assert graph.nodes[start]["kind"] in sources and graph.nodes[end]["kind"] in targets


def test_the_graph_is_frozen(kb):
    with pytest.raises(nx.NetworkXError):
        kb.graph.add_node("x")


def test_every_complaint_reaches_a_repair_or_a_refusal(kb):
    complaints = [*of_kind(kb.graph, "symptom"), *of_kind(kb.graph, "code")]
    assert len(complaints) >= 60
    for complaint in complaints:
        sensors = next_nodes(kb.graph, complaint, "implicates")
        assert sensors, complaint
        for sensor in sensors:
            refusal = kb.graph.nodes[sensor]["refusal"]
            if refusal is not None:
                assert refusal.reason and refusal.instead and refusal.caution
                continue
            tests = [test for kind in next_nodes(kb.graph, sensor, "wired-as") for test in next_nodes(kb.graph, kind, "admits")]
            assert len(tests) >= 15
            assert any(kb.graph.nodes[end]["kind"] == "action" for end in nx.descendants(kb.graph, tests[0]))


def test_every_fault_is_revealed_placed_and_mended(kb):
    faults = list(of_kind(kb.graph, "fault"))
    assert {next_nodes(kb.graph, fault, "sits-in")[0] for fault in faults} == {node("location", id) for id in LOCATIONS}
    for fault in faults:
        assert len(next_nodes(kb.graph, fault, "mended-by")) == 1
        assert any(edge == "speaks-for" for *_, edge in kb.graph.in_edges(fault, data="kind")), fault


def test_chances_before_measuring_sum_to_one(kb):
    """Those that need nothing of the circuit; what some circuits alone can have comes on top."""
    free = [fault for fault in kb.tables.faults if not fault.needs]
    for other in ("level", "temperature"):
        total = sum(fault.chance for fault in free if fault.quantity not in (other, "gauge"))
        assert total == pytest.approx(1.0, abs=1e-6 if other == "level" else 0.06)


@pytest.mark.parametrize(("test", "outcome", "fault"), [
    ("return-ohms", "too-many", "return-added-ohms"), ("return-ohms", "too-many", "return-open"),
    ("unplugged", "too-hot", "signal-leak-ground"), ("sensor-ohms", "too-many", "sensor-open"),
    ("sensor-ohms", "as-expected", "plug-contact"), ("substitute-to-chassis", "as-expected", "return-open"),
    ("live-number", "still", "reading-frozen"), ("live-number", "follows", "sensor-reads-high-ohms"),
    ("terminal-fit", "bad", "plug-open"), ("find-pins", "bad", "pins-crossed"), ("load-switching", "bad", "module-ground-raised"),
    ("short-circuit-current", "too-low", "signal-added-ohms"), ("sensor-sweep", "too-many", "sensor-open"), ("warm-harness", "bad", "plug-opens-warm"),
    ("shorted", "absent", "key-off"), ("substitute", "too-cold", "lead-off"), ("module-feeds", "bad", "supply-low"), ("plug-volts", "too-low", "return-open"),
    ("substitute", "too-hot", "stand-in-beside"), ("substitute", "as-expected", "plug-contact")])
def test_outcomes_speak_for_what_a_technician_expects(kb, test, outcome, fault):
    """Common practice, no source; the weight itself is the engine's."""
    assert kb.graph.edges[node("outcome", f"{test}/{outcome}"), node("fault", fault)]["weight"] > 0.2


@pytest.mark.parametrize(("test", "outcome", "fault"), [
    ("return-ohms", "too-many", "sensor-open"), ("unplugged", "too-hot", "sensor-shorted"),
    ("substitute", "too-cold", "sensor-open"), ("substitute-to-chassis", "too-cold", "return-open"),
    ("sensor-ohms", "too-many", "plug-open")])
def test_outcomes_do_not_speak_for_what_they_clear(kb, test, outcome, fault):
    assert not kb.graph.has_edge(node("outcome", f"{test}/{outcome}"), node("fault", fault))


def test_the_same_graph_in_two_processes(kb):
    code = ("import hashlib; from knowledge import load; kb = load(); "
            "print(hashlib.sha256(repr((list(kb.graph.nodes), list(kb.graph.edges(data=True)), kb.find('coolent'), "
            "kb.fault_tree_dot(kb.fault_tree(['P0118'])))).encode()).hexdigest())")
    runs = {subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True,
                           env={"PYTHONHASHSEED": seed, "PATH": ""}).stdout for seed in ("1", "2")}
    assert len(runs) == 1
