"""Owns the rules of the check about what must not be done: refusals, hazards and the cautions they need."""

import re
from collections.abc import Iterator
from typing import TYPE_CHECKING

from knowledge import build
from knowledge.findings import Finding
from knowledge.graph import next_nodes, node, of_kind

if TYPE_CHECKING:
    from knowledge.knowledge_base import Knowledge

# What can hurt: a sensor kind that speaks of it needs a caution marked danger.
HURTS = re.compile(r"throttle|exhaust|fuel level|generator set|fuel pressure|rail pressure|airbag|restraint|squib|high.voltage|torque"
                   r"|suspension|steering|brake|clutch|pedal|crank|hydraulic|ride height|flap|by its motor|own motor", re.IGNORECASE)
# An input that asks the engine for power: its caution says how to connect.
TORQUE = re.compile(r"throttle position|throttle track|hand throttle|accelerator|pedal track|high.idle|power request", re.IGNORECASE)
TORQUE_CAUTION = "torque-input"
# Families of trouble codes that are restraint or high-voltage whatever their last digits.
HAZARD_CODES = re.compile(r"B00|P0[A-D]")
# A figure somebody could dial or measure towards.
FIGURE = re.compile(r"\d[\d.,]*\s*(?:k|M|m|kilo|mega|milli)?(?:ohms?|Ω|V|volts?|A|amperes?)\b")


def refusal(kb: "Knowledge") -> Iterator[Finding]:
    """A refused kind that can still be dialled: a value, a curve, an input or an admitted test."""
    for row in kb.tables.sensors:
        name = node("sensor", row.id)
        if kb.refusal(row.id) is None:
            continue
        values = row.ohm_25 is not None or row.assumed_input or row.low_c is not None or row.high_c is not None
        if values or next_nodes(kb.graph, name, "follows") or next_nodes(kb.graph, name, "met-on") or build.tests_of(kb.graph, row.id):
            yield Finding("refusal", row.id, "it is refused and still carries a value or a test: take those out.")


def unrefused(kb: "Knowledge") -> Iterator[Finding]:
    """A complaint that points to a kind whose circuit takes no stand-in, without the refusal that would say why."""
    for name in [*of_kind(kb.graph, "symptom"), *of_kind(kb.graph, "code")]:
        for sensor in next_nodes(kb.graph, name, "implicates"):
            if kb.graph.nodes[sensor]["refusal"] is None and takes_none(kb, sensor):
                yield Finding("unrefused", f"{name} {sensor}", "its circuit takes no stand-in: add the refusal with its reason.")


def family(kb: "Knowledge") -> Iterator[Finding]:
    """A code of a restraint or high-voltage family that points to a kind not refused as a hazard."""
    for name in of_kind(kb.graph, "code"):
        if HAZARD_CODES.match(kb.graph.nodes[name]["id"]):
            for sensor in next_nodes(kb.graph, name, "implicates"):
                found = kb.graph.nodes[sensor]["refusal"]
                if found is None or found.kind != "hazard":
                    yield Finding("family", f"{name} {sensor}", "this family of codes opens no job: point it to kinds refused as a hazard.")


def figures(kb: "Knowledge") -> Iterator[Finding]:
    """A kind refused as a hazard of which any text gives ohms, volts or amperes, or whose card asks for some."""
    for row in kb.tables.sensors:
        found = kb.refusal(row.id)
        if found is None or found.kind != "hazard":
            continue
        if found.worked_out:
            yield Finding("figures", row.id, "nothing is worked out of a kind refused as a hazard: take that off.")
        name = node("sensor", row.id)
        near = [kb.graph.nodes[target]["record"] for _, target in kb.graph.out_edges(name)]
        near += [kb.graph.nodes[start]["record"] for start, _ in kb.graph.in_edges(name)]
        for record in (row, found, kb.source(found.source), *near):
            said = " ".join(" ".join(value) if isinstance(value, tuple) else value for value in record.model_dump().values()
                            if isinstance(value, (str, tuple)))
            if FIGURE.search(said):
                yield Finding("figures", row.id, f"{FIGURE.search(said).group()} stands in what is said about it: a hazard gets no figure.")


def danger(kb: "Knowledge") -> Iterator[Finding]:
    """A sensor kind that speaks of force, heat, vapour, restraint or high voltage without a caution marked danger."""
    for row in kb.tables.sensors:
        speaks = HURTS.search(" ".join((row.id, row.label, row.summary, *row.words)))
        hazard = kb.refusal(row.id) is not None and kb.refusal(row.id).kind == "hazard"
        if (speaks or hazard) and not any(caution.severity == "danger" for caution in kb.cautions(row.id)):
            yield Finding("danger", row.id, "it can hurt and has no caution marked danger: add one.")


def torque(kb: "Knowledge") -> Iterator[Finding]:
    """A sensor kind that asks the engine for power without the caution that says how such an input is connected."""
    for row in kb.tables.sensors:
        if TORQUE.search(" ".join((row.label, *row.words))) and TORQUE_CAUTION not in row.cautions:
            yield Finding("torque", row.id, f"it commands torque: give it the caution {TORQUE_CAUTION}.")


def takes_none(kb: "Knowledge", sensor: str) -> bool:
    """Whether the circuit of the sensor node refuses tests and admits none."""
    kinds = next_nodes(kb.graph, sensor, "wired-as")
    return any(next_nodes(kb.graph, kind, "refuses") and not next_nodes(kb.graph, kind, "admits") for kind in kinds)
