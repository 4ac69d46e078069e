"""Owns the check of the knowledge: one function per rule, each finding a sentence; acknowledged ones are listed, not counted."""

import re
from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from engine.curves import KELVIN
from engine.errors import InputError
from engine.faults import EFFECTS, UNITS
from knowledge import build
from knowledge.findings import Finding
from knowledge.graph import next_nodes, node, of_kind
from knowledge.lint_hazards import danger, family, figures, refusal, takes_none, torque, unrefused
from knowledge.load import FAMILIES

if TYPE_CHECKING:
    from knowledge.knowledge_base import Knowledge

# A left-out point stands out when it misses by this many times the others' rms, and by this much [K]; tried on 26
# published tables, a lower limit flags honest wide bands.
OUTLIER_TIMES, OUTLIER_K, OUTLIER_FLOOR_K, OUTLIER_ROWS = 20.0, 0.3, 0.02, 6
SUM_WITHIN = 0.005
# Ends of two sender families closer than this share of each other are the same pair.
SAME_OHM = 0.08
# The chances of a kind's faults before measuring are set to sum to 1 to this many places.
CHANCES_WITHIN = 1e-6
NO_SEVERITY = ("none", "unit-mistaken", "kilohm-mistaken", "stand-in-beside", "switching-dead", "wrong-legs", "lead-off",
               "key-off", "stand-in-moved")
# Severities in these units run evenly and may be negative or stand at one value; all others are factors of each other.
EVEN_UNITS = ("degC", "percent", "kPa", "share")
PROOFS = ("plug-seen", "sensor-own-ohms", "feeds", "module-pins")
# Words a technician never meets on screen.
NEVER_SHOWN = re.compile(r"source ohms|th[eé]venin|posterior|\bprior\b", re.IGNORECASE)


def lint(kb: "Knowledge") -> tuple[Finding, ...]:
    """All findings of all rules, in the order of RULES; acknowledged ones are marked."""
    known = {row.finding for row in kb.tables.acknowledged}
    found = [replace(finding, acknowledged=f"{finding.rule} {finding.subject}" in known)
             for rule in RULES for finding in rule(kb)]
    return (*found, *_stale(known, found))


def orphan(kb: "Knowledge") -> Iterator[Finding]:
    """A node nothing but its citation hangs on; a source no row cites."""
    cited = {row.source for family in FAMILIES for row in getattr(kb.tables, family) if hasattr(row, "source")}
    for name, attributes in kb.graph.nodes(data=True):
        outward = [edge for _, _, edge in kb.graph.out_edges(name, data="kind") if edge != "cited-to"]
        if not outward and not kb.graph.in_degree(name) and attributes["id"] not in cited:
            yield Finding("orphan", name, f"nothing leads to this {attributes['kind']} or on from it: use it or take it out.")


def dead_end(kb: "Knowledge") -> Iterator[Finding]:
    """A complaint that leads to a sensor kind with neither test and repair nor refusal, or to none at all."""
    ends = {sensor: kb.graph.nodes[sensor]["refusal"] is not None or takes_none(kb, sensor) or _mended(kb, sensor)
            for sensor in of_kind(kb.graph, "sensor")}
    for name in [*of_kind(kb.graph, "symptom"), *of_kind(kb.graph, "code")]:
        sensors = next_nodes(kb.graph, name, "implicates")
        if not sensors:
            yield Finding("dead-end", name, "it leads to no sensor kind: add a row to implications.csv.")
        for sensor in sensors:
            if not ends[sensor]:
                yield Finding("dead-end", f"{name} {sensor}",
                              "the path ends before a test and a repair: admit a test, or add the refusal with its reason.")


def uncited(kb: "Knowledge") -> Iterator[Finding]:
    """A row whose source is not there or says nothing."""
    said = {source.id for source in kb.tables.sources if source.citation.strip()}
    for family in FAMILIES:
        for number, row in enumerate(getattr(kb.tables, family), start=1):
            if hasattr(row, "source") and row.source not in said:
                yield Finding("uncited", f"{family} {getattr(row, 'id', number)}", "its source is not listed: name one of sources.csv.")
    for row in kb.tables.codes:
        if bool(row.enable) != (row.enable_source is not None):
            yield Finding("uncited", f"codes {row.id}", "enable and enable_source go together: give both or neither.")


def curve_shape(kb: "Knowledge") -> Iterator[Finding]:
    """A table whose ohms do not run one way, or leave their own stated range."""
    for row in kb.tables.curves:
        try:
            build.curve(row)
        except InputError as error:
            yield Finding("curve-shape", row.id, f"{error.wanted}.")
        for point in row.points:
            low, high = point.ohm_low or point.ohm, point.ohm_high or point.ohm
            if not low <= point.ohm <= high:
                yield Finding("curve-shape", f"{row.id} {point.value:g} {'percent' if row.quantity == 'level' else 'degC'}", "its ohms lie outside the range stated beside them.")


def outlier(kb: "Knowledge") -> Iterator[Finding]:
    """A point that the rest of its table contradicts: a suspected misprint, to be warned of and never corrected."""
    for row in kb.tables.curves:
        if row.quantity == "level":
            continue
        temperature = np.array([point.degc for point in row.points])
        ln_ohm = np.log([point.ohm for point in row.points])
        if len(temperature) < OUTLIER_ROWS or np.any(np.diff(ln_ohm) >= 0):
            continue
        for i, point in enumerate(row.points):
            miss, rms = _left_out(temperature, ln_ohm, i)
            if miss > OUTLIER_K and miss > OUTLIER_TIMES * max(rms, OUTLIER_FLOOR_K):
                yield Finding("outlier", f"{row.id} {point.degc:g} degC",
                              f"{point.ohm:g} ohm misses the curve of the other points by {miss:.1f} K: warn of it, never correct it.")


def direction(kb: "Knowledge") -> Iterator[Finding]:
    """A family in percent without its own word on where an open plug goes, against its own ohms, or against another's unsaid."""
    families = {row.curve: row for row in kb.tables.sender_families}
    known = {}
    for row in kb.tables.curves:
        if row.quantity == "level":
            family, first, last = families.get(row.id), row.points[0].ohm, row.points[-1].ohm
            if family is None or (family.open_goes == "high") != (last > first):
                yield Finding("direction", row.id, "its row in sender_families.csv is missing or goes the other way than its ohms: read the source again.")
            else:
                known[row.id] = (first, last)
    followed = {row.sensor: [one.curve for one in kb.tables.sensor_curves if one.sensor == row.sensor and one.curve in known]
                for row in kb.tables.sensor_curves}
    turned = {(one, other) for curves in followed.values() for one in curves for other in curves if known[one] == known[other][::-1]}
    for one, other in sorted(turned):
        if families[one].contradicts is None:
            yield Finding("direction", one, f"{other} has the same ohms the other way round: name it under contradicts; both stand.")


def severity(kb: "Knowledge") -> Iterator[Finding]:
    """A fault whose effect, unit or severity range the engine cannot use."""
    for row in kb.tables.faults:
        parts = [(row.effect, row.severity_low, row.severity_high, row.unit)]
        if row.also_effect or row.also_low is not None or row.also_high is not None or row.also_unit:
            parts.append((row.also_effect, row.also_low, row.also_high, row.also_unit))
        for effect, low, high, unit in parts:
            wrong = _severity_wrong(effect, low, high, unit)
            if wrong:
                yield Finding("severity", row.id, wrong)


def _severity_wrong(effect: str, low: float | None, high: float | None, unit: str) -> str:
    """What is wrong with one effect and its range, or nothing."""
    if effect not in EFFECTS or unit not in UNITS:
        return f"the engine knows the effects {', '.join(EFFECTS)} and units {', '.join(UNITS[1:])}."
    if effect in NO_SEVERITY:
        return f"{effect} has no severity: leave both ends blank." if low is not None or high is not None else ""
    stands = effect == "reading-frozen" and low is not None and low == high
    if low is None or high is None or (low >= high and not stands) or (unit not in EVEN_UNITS and low <= 0):
        return "it takes a low end below the high end, above zero unless in degC, percent, kPa or a share."
    return ""


def shares(kb: "Knowledge") -> Iterator[Finding]:
    """Shares that should sum to 1 and do not: chances of the faults that need nothing, a kind's curves, a complaint's sensors."""
    sums = {"faults chances": sum(row.chance for row in kb.tables.faults if not row.needs and row.quantity not in ("level", "gauge"))}
    for row in kb.tables.sensor_curves:
        sums[f"curves of {row.sensor}"] = sums.get(f"curves of {row.sensor}", 0.0) + row.weight
    for row in kb.tables.sensor_lines:
        sums[f"lines of {row.sensor}"] = sums.get(f"lines of {row.sensor}", 0.0) + row.weight
    for row in kb.tables.implications:
        sums[f"sensors of {row.complaint}"] = sums.get(f"sensors of {row.complaint}", 0.0) + row.weight
    for subject, total in sums.items():
        if abs(total - 1.0) > (CHANCES_WITHIN if subject == "faults chances" else SUM_WITHIN):
            yield Finding("shares", subject, f"they sum to {total:.7g}: they must sum to 1.")


def volts(kb: "Knowledge") -> Iterator[Finding]:
    """An input whose volts cannot be: shorted below open, open at most the reference."""
    for row in kb.tables.inputs:
        if not row.short_v < row.open_v <= row.reference_v:
            yield Finding("volts", row.id, "volts shorted must lie below volts open, and those not above the reference.")
        for one, other in (("second_pull_up_ohm", "switch_at_c"), ("default_low_c", "default_high_c")):
            if (getattr(row, one) is None) != (getattr(row, other) is None):
                yield Finding("volts", row.id, f"{one} and {other} go together: give both or neither.")
        limits = (row.low_limit_v, row.high_limit_v)
        if any(limit is not None and not 0 < limit < row.reference_v for limit in limits):
            yield Finding("volts", row.id, "its limits must lie between 0 V and the reference.")


def span(kb: "Knowledge") -> Iterator[Finding]:
    """A sensor kind that takes a stand-in and lacks what a dial sheet needs."""
    always, unlisted = ("low_c", "high_c", "family_weight", "assumed_input"), ("ohm_25", "ln_ohm_25_sd", "beta_k", "beta_sd_k")
    of_three = ("low_c", "high_c", "family_weight", "track_ohm", "rest", "rest_sd")
    for row in kb.tables.sensors:
        if kb.refusal(row.id) is None:
            needs = (*always, *unlisted) if row.family_weight else always
            if build.circuit_kind(kb.graph, row.id).three_wire:
                needs = of_three
            lacks = [name for name in needs if getattr(row, name) is None]
            if lacks or not row.low_c < row.high_c:
                yield Finding("span", row.id, f"it needs {', '.join(lacks) or 'its coldest value below its hottest'}.")


def live_items(kb: "Knowledge") -> Iterator[Finding]:
    """An item of live data whose printed ends its own formula does not give, or that a sensor kind steps differently."""
    for row in kb.tables.live_items:
        for printed, worked in zip((row.low, row.high), row.ends, strict=True):
            if abs(printed - worked) > max(row.step / 2, 0.05):
                yield Finding("live-items", row.id, f"{printed:g} is printed, its own formula gives {worked:g}: one of them is wrong.")
    steps = {row.label: row.step for row in kb.tables.live_items}
    for sensor in kb.tables.sensors:
        step = steps.get(sensor.live_item)
        if step is not None and sensor.live_step_c is not None and abs(step - sensor.live_step_c) > 0.001:
            yield Finding("live-items", sensor.id, f"its step is {sensor.live_step_c:g}, that of the item of live data {step:g}: one of them is wrong.")


def two_ways(kb: "Knowledge") -> Iterator[Finding]:
    """A pair of ohms met both ways round, or named twice, without a warning on both: the direction is never inferred from ohms."""
    ends = {row.id: (row.points[0].ohm, row.points[-1].ohm) for row in kb.tables.curves if row.quantity == "level"}
    for row in kb.tables.curves:
        turned = [other for other, pair in ends.items() if row.id in ends and np.allclose(pair[::-1], ends[row.id], rtol=SAME_OHM)]
        if turned and not row.warning:
            yield Finding("two-ways", row.id, f"{turned[0]} has the same ohms the other way round: warn of it on both.")


def by_hand(kb: "Knowledge") -> Iterator[Finding]:
    """A test judged by eye or hand without its chances, or another test with them."""
    listed = {row.test for row in kb.tables.test_bad}
    elsewhere = {row.test for row in kb.tables.test_wordings if row.measures == "good"}
    for row in kb.tables.tests:
        judged = row.measures == "good" or row.id in elsewhere
        if judged != (row.id in listed) or judged != (row.false_alarm is not None):
            yield Finding("by-hand", row.id, "tests that measure good have rows in test_bad.csv and a false_alarm, others neither.")


def proof(kb: "Knowledge") -> Iterator[Finding]:
    """A circuit kind with tests that lacks one serving a proof rule."""
    for name in of_kind(kb.graph, "circuit kind"):
        tests = kb.tests_on(kb.graph.nodes[name]["id"])
        lacks = [rule for rule in PROOFS if tests and rule not in {test.proof for test in tests}]
        if lacks:
            yield Finding("proof", name, f"no admitted test serves {', '.join(lacks)}: nothing could ever be proven there.")


def unrevealed(kb: "Knowledge") -> Iterator[Finding]:
    """A fault no outcome of any test speaks for."""
    for name in of_kind(kb.graph, "fault"):
        if not any(edge == "speaks-for" for _, _, edge in kb.graph.in_edges(name, data="kind")):
            yield Finding("unrevealed", name, "no outcome of any test speaks for it: add a test, or take it out.")


def wording(kb: "Knowledge") -> Iterator[Finding]:
    """A shown text with a word no technician uses."""
    for family in FAMILIES:
        if family == "sources":
            continue
        for number, row in enumerate(getattr(kb.tables, family), start=1):
            texts = [value for value in row.model_dump().values() if isinstance(value, (str, tuple))]
            if any(isinstance(one, str) and NEVER_SHOWN.search(one) for text in texts
                   for one in (text if isinstance(text, tuple) else (text,))):
                yield Finding("wording", f"{family} {getattr(row, 'id', number)}", "say input resistor, chance or before measuring.")


RULES = (orphan, dead_end, uncited, curve_shape, outlier, direction, severity, shares, volts, span, live_items, refusal, unrefused, family,
         figures, danger, torque, two_ways, by_hand, proof, unrevealed, wording)


def _stale(known: set[str], found: list[Finding]) -> Iterator[Finding]:
    """An acknowledgement of something the check no longer finds."""
    for name in sorted(known - {f"{finding.rule} {finding.subject}" for finding in found}):
        yield Finding("stale", name, "it is acknowledged and no longer found: take its row out of acknowledged.csv.")


def _mended(kb: "Knowledge", sensor: str) -> bool:
    """Whether a path leads from the sensor node over a test and a fault to a repair."""
    id = kb.graph.nodes[sensor]["id"]
    return any(next_nodes(kb.graph, node("fault", fault), "mended-by") for fault in build.faults_of(kb.graph, id))


def _left_out(temperature_c: np.ndarray, ln_ohm: np.ndarray, i: int) -> tuple[float, float]:
    """Error [K] at point `i` of the Steinhart-Hart fit to the others, and the rms [K] of the others."""
    others = np.arange(len(ln_ohm)) != i
    columns = np.stack([np.ones_like(ln_ohm), ln_ohm, ln_ohm**3], axis=1)
    fit, *_ = np.linalg.lstsq(columns[others], 1.0 / (temperature_c[others] + KELVIN), rcond=None)
    miss = np.abs(1.0 / (columns @ fit) - KELVIN - temperature_c)
    return float(miss[i]), float(np.sqrt(np.mean(np.square(miss[others]))))
