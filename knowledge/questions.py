"""Owns the questions put to the graph: what to search, which sensor kinds a complaint implicates, by which path."""

import difflib
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import NamedTuple

import networkx as nx

from knowledge.complaint_records import Refusal
from knowledge.graph import next_nodes, node, of_kind
from knowledge.records import Share

# A complaint that does not name a sensor kind speaks against it only this far.
UNNAMED = 0.05
LONGEST_QUERY = 200
CLOSE = 0.8


@dataclass(frozen=True)
class Entry:
    """One thing the complaint field finds; `kind` is symptom, code or sensor."""

    id: str
    kind: str
    label: str
    words: tuple[str, ...] = ()

    @cached_property
    def own(self) -> frozenset[str]:
        """All single words it is found by."""
        return frozenset(_words(" ".join((self.id, self.label, *self.words))))

    @cached_property
    def of_label(self) -> frozenset[str]:
        """Those of its id and label."""
        return frozenset(_words(f"{self.id} {self.label}"))

    @cached_property
    def phrases(self) -> tuple[str, ...]:
        """Its label and its words as they stand, whatever their case."""
        return tuple(phrase.casefold() for phrase in (self.label, *self.words))


@dataclass(frozen=True)
class Candidate:
    """A sensor kind a complaint implicates: share, the path as readable labels, and whether a stand-in is refused."""

    sensor: str
    label: str
    weight: float
    path: tuple[str, ...]
    refused: bool


def entries(graph: nx.DiGraph) -> tuple[Entry, ...]:
    """All symptoms, sensor kinds and codes, in that order: of equals the fewer come first."""
    return tuple(Entry(graph.nodes[name]["id"], kind, graph.nodes[name]["label"],
                       getattr(graph.nodes[name]["record"], "words", ()))
                 for kind in ("symptom", "sensor", "code") for name in of_kind(graph, kind))


def find(everything: tuple[Entry, ...], text: str) -> tuple[Entry, ...]:
    """Those of `everything` that answer `text`, best first: the id itself, then how many typed words are met, and how well."""
    typed = text[:LONGEST_QUERY].strip()
    wanted = _words(typed)
    if not wanted:
        return ()
    vocabulary = _vocabulary(everything)
    close = {word: _Near(frozenset(one for one in vocabulary if one.startswith(word)),
                         _alike(word, vocabulary) if len(word) > 3 else frozenset()) for word in wanted}
    scored = []
    for order, entry in enumerate(everything):
        score = _score(entry, typed, close)
        if score > 0:
            scored.append((-score, order, entry))
    return tuple(entry for _, _, entry in sorted(scored, key=lambda found: found[:2]))


@lru_cache(maxsize=4)
def _vocabulary(everything: tuple[Entry, ...]) -> tuple[str, ...]:
    return tuple(sorted({word for entry in everything for word in entry.own}))


@lru_cache(maxsize=4096)
def _alike(word: str, vocabulary: tuple[str, ...]) -> frozenset[str]:
    # No shorter or longer word can come that close: most need not be compared.
    near_it = [one for one in vocabulary if 2.0 * min(len(one), len(word)) >= CLOSE * (len(one) + len(word))]
    return frozenset(difflib.get_close_matches(word, near_it, n=2, cutoff=CLOSE))


def complaint_node(graph: nx.DiGraph, typed: str) -> str | None:
    """Node of the code, symptom or sensor kind `typed`, or None; codes in any case, family codes by their pattern."""
    text = typed.strip()
    for name in (node("code", text.upper()), node("code", text), node("symptom", text.lower()), node("sensor", text.lower())):
        if name in graph:
            return name
    for name in of_kind(graph, "code"):
        if "x" in graph.nodes[name]["id"] and _covers(graph.nodes[name]["id"], text):
            return name
    return None


def similar(graph: nx.DiGraph, typed: str) -> tuple[str, ...]:
    """Up to three ids of entries that look like `typed`."""
    return near(typed, [entry.id for entry in entries(graph)])


def near(typed: str, ids: Sequence[str]) -> tuple[str, ...]:
    """Up to three of `ids` that look like `typed`."""
    lower = {id.lower(): id for id in ids}
    return tuple(lower[one] for one in difflib.get_close_matches(typed[:LONGEST_QUERY].lower(), lower, n=3, cutoff=0.5))


def candidates(graph: nx.DiGraph, complaints: tuple[str, ...]) -> tuple[Candidate, ...]:
    """Sensor kinds the complaint nodes implicate, likeliest first, ties by id.

    Several complaints are weighed together: each multiplies a kind's share,
    one that does not name it counting UNNAMED. Shares sum to 1.
    """
    implied = [_implied(graph, name) for name in complaints]
    named = sorted({sensor for one in implied for sensor in one})
    weights = {sensor: 1.0 for sensor in named}
    for one in implied:
        for sensor in named:
            weights[sensor] *= max(one.get(sensor, 0.0), UNNAMED)
    total = sum(weights.values())
    found = [Candidate(sensor=graph.nodes[sensor]["id"], label=graph.nodes[sensor]["label"],
                       weight=weights[sensor] / total, path=_path(graph, complaints, sensor),
                       refused=graph.nodes[sensor]["refusal"] is not None) for sensor in named]
    return tuple(sorted(found, key=lambda one: (-round(one.weight, 9), one.sensor)))


def forbidden(graph: nx.DiGraph, complaints: tuple[str, ...], sensor: str) -> Refusal | None:
    """The hazard that forbids a job on `sensor` for these complaint nodes, or None.

    A complaint that points to nothing but hazards, such as a code of a restraint
    or high-voltage family, opens no job on a kind that no complaint names:
    it would lend that kind's values to a circuit that must not be touched.
    """
    implied = [_implied(graph, name) for name in complaints]
    if any(node("sensor", sensor) in one for one in implied):
        return None
    for one in implied:
        refused = [graph.nodes[name]["refusal"] for name in sorted(one, key=lambda name: (-one[name], name))]
        if refused and all(refusal is not None and refusal.kind == "hazard" for refusal in refused):
            return refused[0]
    return None


def signs(graph: nx.DiGraph, complaints: tuple[str, ...], sensor: str) -> tuple[str, ...]:
    """What the complaints say about the signal of `sensor`, each sign once."""
    target = node("sensor", sensor)
    found = [graph.edges[name, target]["sign"] for name in complaints if graph.has_edge(name, target)]
    return tuple(dict.fromkeys(found))


def together(graph: nx.DiGraph, complaints: tuple[str, ...], sensor: str) -> tuple[str, ...]:
    """A sign for each complaint that speaks of others alone which share a supply, a return or a cluster with `sensor`."""
    rails: dict[str, set[str]] = {}
    for row in shares(graph, sensor):
        if row.what != "housing":
            rails.setdefault(node("sensor", row.partner if row.sensor == sensor else row.sensor), set()).add(row.what)
    found = []
    for implied in (_implied(graph, name) for name in complaints):
        shared = set().union(*(rails[other] for other in implied if other in rails))
        if node("sensor", sensor) not in implied and shared:
            found.append(" ".join(("together", *sorted(shared))))
    return tuple(dict.fromkeys(found))


def enable(graph: nx.DiGraph, code: str) -> str:
    """What must be so for the code node to set at all, as published; "" where nothing is.

    Where nothing is known either, "no code" is still no proof: codes set only
    under running conditions of their own.
    """
    record = graph.nodes[code]["record"]
    return record.enable if graph.nodes[code]["kind"] == "code" else ""


def shares(graph: nx.DiGraph, sensor: str) -> tuple[Share, ...]:
    """What `sensor` shares with other sensor kinds, from either side."""
    name = node("sensor", sensor)
    edges = [*graph.out_edges(name, data=True), *graph.in_edges(name, data=True)]
    return tuple(dict.fromkeys(row for *_, edge in edges if edge["kind"] == "shares" for row in edge["records"]))


def readable(graph: nx.DiGraph, name: str) -> str:
    """A node's label, with the code in front of a code's."""
    attributes = graph.nodes[name]
    return f"{attributes['id']} {attributes['label']}" if attributes["kind"] == "code" else attributes["label"]


def _implied(graph: nx.DiGraph, complaint: str) -> dict[str, float]:
    if graph.nodes[complaint]["kind"] == "sensor":
        return {complaint: 1.0}
    return {target: graph.edges[complaint, target]["weight"] for target in next_nodes(graph, complaint, "implicates")}


def _path(graph: nx.DiGraph, complaints: tuple[str, ...], sensor: str) -> tuple[str, ...]:
    """Labels from the first complaint that implicates `sensor` to its circuit kind."""
    start = next(name for name in complaints if name == sensor or graph.has_edge(name, sensor))
    nodes = [start] if start == sensor else [start, sensor]
    return tuple(readable(graph, name) for name in nodes + next_nodes(graph, sensor, "wired-as"))


def _covers(pattern: str, code: str) -> bool:
    """Whether a family code such as B00xx covers `code`."""
    return re.fullmatch(pattern.replace("x", "[0-9A-F]"), code.upper()) is not None


def _words(text: str) -> tuple[str, ...]:
    return tuple(re.findall(r"[^\W_]+", text.casefold()))


class _Near(NamedTuple):
    """The single words that start with a typed one, and those that look like it."""

    starting: frozenset[str]
    alike: frozenset[str]


def _score(entry: Entry, typed: str, wanted: dict[str, _Near]) -> float:
    """How well `entry` answers: `wanted` gives each typed word with the words near it."""
    if typed.casefold() == entry.id.casefold() or (entry.kind == "code" and _covers(entry.id, typed)):
        return 1000.0
    own, label = entry.own, entry.of_label
    met = []
    for word, near_it in wanted.items():
        if word in own:
            met.append(2.0 if word in label else 1.8)
        elif not near_it.starting.isdisjoint(own):
            met.append(1.3 if near_it.starting.isdisjoint(label) else 1.5)
        elif not near_it.alike.isdisjoint(own):
            met.append(1.0)
    whole = any(typed.casefold() in phrase for phrase in entry.phrases)
    # Half the words must be met at least: one letter that stands somewhere is no answer to three words.
    if 2 * len(met) < len(wanted) or sum(met) < 0.6 * len(wanted):
        return 0.0
    return sum(met) / len(wanted) + (1.0 if whole else 0.0)
