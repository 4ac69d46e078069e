"""Owns the complaint's fault tree: the graph unrolled from the complaint to the tests, as a tree, as DOT, as text."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import networkx as nx

from knowledge.build import faults_of, tests_of
from knowledge.graph import next_nodes, node
from knowledge.questions import candidates, readable

# How many tests are named for each fault: those whose outcome speaks for it most.
TESTS_SHOWN = 3
_SHAPES = {"complaint": "box", "sensor": "ellipse", "location": "ellipse", "fault": "box", "test": "plaintext",
           "refusal": "octagon"}


@dataclass(frozen=True)
class TreeNode:
    """One node of the tree; `kind` is complaint, sensor, location, fault, test or refusal.

    `chance` is a share among the siblings' parent's cases: of a sensor kind
    among the complaint's, of a location or fault within its sensor kind.
    """

    id: str
    kind: str
    label: str
    chance: float | None
    children: tuple["TreeNode", ...] = ()


def fault_tree(graph: nx.DiGraph, complaints: tuple[str, ...], called: Callable[[str, str, str], str],
               chances: Mapping[str, float] | None = None, sensor: str | None = None) -> TreeNode:
    """The tree of the complaint nodes: sensor kinds, locations, faults, and the tests that reveal each.

    `called` (kind, id, sensor kind) is what a location or test is called
    there; `chances` {fault id: share} are the present ones (default: before
    measuring); `sensor` keeps to the one kind they belong to.
    """
    found = [one for one in candidates(graph, complaints) if sensor in (None, one.sensor)]
    children = tuple(_sensor(graph, one.sensor, one.weight if len(found) > 1 else None, called, chances) for one in found)
    label = "; ".join(readable(graph, name) for name in complaints)
    return TreeNode(" ".join(graph.nodes[name]["id"] for name in complaints), "complaint", label, None, children)


def to_dot(tree: TreeNode) -> str:
    """The tree as DOT text, left to right, every label escaped."""
    lines = ["digraph fault_tree {", '  rankdir="LR";', '  node [fontname="sans-serif", fontsize="11"];']
    _dot(tree, lines)
    return "\n".join([*lines, "}"]) + "\n"


def to_text(tree: TreeNode, depth: int = 0) -> str:
    """The tree as indented lines, one node each."""
    line = "  " * depth + _one_line(tree.label) + _percent(tree.chance)
    return "\n".join([line, *(to_text(child, depth + 1) for child in tree.children)])


def _sensor(graph: nx.DiGraph, sensor: str, weight: float | None, called: Callable[[str, str, str], str],
            chances: Mapping[str, float] | None) -> TreeNode:
    name = node("sensor", sensor)
    refusal = graph.nodes[name]["refusal"]
    if refusal is not None:
        stop = TreeNode(f"refusal {sensor}", "refusal", f"No stand-in. {refusal.reason} Instead: {refusal.instead}", None)
        return TreeNode(sensor, "sensor", graph.nodes[name]["label"], weight, (stop,))
    faults = faults_of(graph, sensor)
    if chances is None:
        shares = {fault: graph.nodes[node("fault", fault)]["record"].chance for fault in faults}
        total = sum(shares.values())
        shares = {fault: share / total for fault, share in shares.items()}
    else:
        # A job may have faults that only its own circuit can have.
        faults = (*faults, *(fault for fault in chances if fault not in faults and node("fault", fault) in graph))
        shares = {fault: float(chances.get(fault, 0.0)) for fault in faults}
    by_location: dict[str, list[str]] = {}
    for fault in faults:
        by_location.setdefault(next_nodes(graph, node("fault", fault), "sits-in")[0], []).append(fault)
    tests = {test: called("test", test, sensor) for test in tests_of(graph, sensor)}
    locations = [_location(graph, place, called("location", graph.nodes[place]["id"], sensor), found, shares, tests)
                 for place, found in by_location.items()]
    return TreeNode(sensor, "sensor", graph.nodes[name]["label"], weight, _ranked(locations))


def _location(graph: nx.DiGraph, place: str, label: str, faults: Sequence[str], shares: Mapping[str, float],
              tests: Mapping[str, str]) -> TreeNode:
    children = [TreeNode(fault, "fault", graph.nodes[node("fault", fault)]["label"], shares[fault],
                         _tests(graph, fault, tests)) for fault in faults]
    return TreeNode(graph.nodes[place]["id"], "location", label, sum(shares[fault] for fault in faults), _ranked(children))


def _tests(graph: nx.DiGraph, fault: str, admitted: Mapping[str, str]) -> tuple[TreeNode, ...]:
    """The tests whose outcome speaks most for `fault`, with that outcome, by following the edges backwards.

    `admitted` {id: label} are those the circuit admits.
    """
    best: dict[str, tuple[float, str]] = {}
    for outcome, _, edge in graph.in_edges(node("fault", fault), data=True):
        if edge["kind"] == "speaks-for":
            test = graph.nodes[outcome]["id"].split("/")[0]
            best[test] = max(best.get(test, (0.0, "")), (edge["weight"], outcome))
    ranked = sorted((-weight, test, outcome) for test, (weight, outcome) in best.items() if test in admitted)
    return tuple(TreeNode(test, "test", f"{admitted[test]}: {graph.nodes[outcome]['label']}", None)
                 for _, test, outcome in ranked[:TESTS_SHOWN])


def _ranked(children: list[TreeNode]) -> tuple[TreeNode, ...]:
    return tuple(sorted(children, key=lambda child: (-round(child.chance or 0.0, 9), child.id)))


def _dot(tree: TreeNode, lines: list[str]) -> str:
    """Adds `tree` and what hangs on it to `lines`; its name. A fault's tests share one node, or nothing could be read."""
    name = f"n{len(lines)}"
    lines.append(f'  {name} [shape="{_SHAPES[tree.kind]}", label="{_escaped(tree.label)}{_percent(tree.chance)}"];')
    if tree.kind == "fault" and tree.children:
        tests = "".join(_escaped(child.label) + "\\l" for child in tree.children)
        leaf = f"n{len(lines)}"
        lines += [f'  {leaf} [shape="plaintext", label="{tests}"];', f"  {name} -> {leaf};"]
        return name
    for child in tree.children:
        lines.append(f"  {name} -> {_dot(child, lines)};")
    return name


def _one_line(label: str) -> str:
    return "".join(letter if letter.isprintable() else " " for letter in label)


def _escaped(label: str) -> str:
    return _one_line(label).replace("\\", "\\\\").replace('"', '\\"')


def _percent(chance: float | None) -> str:
    return "" if chance is None else f" ({chance * 100:.0f} %)"
