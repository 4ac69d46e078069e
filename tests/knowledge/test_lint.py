"""Owns the test of the check: nothing unacknowledged as it comes, and each rule broken once to see it caught."""

import pytest

from knowledge import build, load
from knowledge.knowledge_base import Knowledge
from knowledge.lint import RULES


def test_the_knowledge_passes_its_own_check(kb):
    findings = kb.lint()
    assert [finding for finding in findings if not finding.acknowledged] == []
    assert [finding.subject for finding in findings] == [
        "ntc-30k-25c-ambient 30 degC", "ntc-8100-20c-gearbox 150 degC", "ntc-3500-25c-gearbox 110 degC",
        "ntc-10k-25c-standard 40 degC"]


def test_an_acknowledged_finding_is_listed_and_says_so(kb):
    finding = kb.lint()[0]
    assert str(finding).endswith("(acknowledged)") and "23760 ohm" in finding.text


# Rule, file, what stands there, what breaks it, and the subject found.
BROKEN = [
    ("orphan", "tests.toml", '"heat-gently", ', "", "caution:heat-gently"),
    ("orphan", "sources.csv", "common-practice,common", 'unread,stated,"A book"\ncommon-practice,common', "source:unread"),
    ("dead-end", "codes.csv", "P0070,", "P0061,ambient and more,range,,,code-list-c\nP0070,", "code:P0061"),
    ("unrefused", "refusals.toml", 'sensor = "knock-sensor"', 'sensor = "throttle-position-serial"', "code:P0324 sensor:knock-sensor"),
    ("unrefused", "refusals.toml", 'sensor = "seat-occupancy"', 'sensor = "crash-sensor"', "symptom:passenger-airbag-off sensor:seat-occupancy"),
    ("family", "implications.csv", "P0A9D,high-voltage-temperature,", "P0A9D,battery-temperature,", "code:P0A9D sensor:battery-temperature"),
    ("family", "refusals.toml", 'sensor = "restraint-circuit"\nkind = "hazard"', 'sensor = "restraint-circuit"\nkind = "signal"',
     "code:B00xx sensor:restraint-circuit"),
    ("figures", "refusals.toml", "judges these loops in tenths of an ohm", "wants 2.2 ohm in these loops", "restraint-circuit"),
    ("figures", "sources.csv", "lie beside the battery's own voltage", "are 10 kohm at 25 degC", "high-voltage-temperature"),
    ("figures", "symptoms.csv", "no ready lamp;", "no ready lamp below 30 V;", "inverter-temperature"),
    ("live-items", "live_items.csv", "11,absolute throttle position,1,no,1,0.392157,0,no,0,100", "11,absolute throttle position,1,no,1,0.392157,0,no,0,120", "11"),
    ("live-items", "sensors.toml", 'live_item = "fuel level"\nlive_step_c = 0.392', 'live_item = "fuel level"\nlive_step_c = 0.5', "fuel-level"),
    ("curve-shape", "curves/ntc-4900-20c-evaporator.csv", "20,4892", "20,8892", "ntc-4900-20c-evaporator"),
    ("curve-shape", "curves/ntc-2060-25c-coolant.csv", "5880.3,5466", "5880.3,5966", "ntc-2060-25c-coolant 0 degC"),
    ("outlier", "curves/ntc-4900-20c-evaporator.csv", "20,4892", "20,4992", "ntc-4900-20c-evaporator 20 degC"),
    ("direction", "sender_families.csv", "level-73-10,low", "level-73-10,high", "level-73-10"),
    ("direction", "sender_families.csv", "level-33-240,high,level-240-33", "level-33-240,high,", "level-33-240"),
    ("severity", "faults.csv", "sensor-series-ohm,0.05", "sensor-sulking,0.05", "sensor-open"),
    ("severity", "faults.csv", "1e6,1e9", "1e9,1e6", "sensor-open"),
    ("severity", "faults.csv", "kilohm-mistaken,0.018365,,", "kilohm-mistaken,0.018365,1,2", "ohm-for-kilohm"),
    ("severity", "faults.csv", "signal-leak-ground-ohm,500,1e5", "signal-leak-ground-ohm,,1e5", "plug-and-splice-wet"),
    ("severity", "faults.csv", "reading-frozen,0.002755,-40,-40", "reading-frozen,0.002755,-40,-41", "unsupported-item"),
    ("shares", "faults.csv", "sensor-series-ohm,0.05", "sensor-series-ohm,0.15", "faults chances"),
    ("shares", "sensor_curves.csv", "ntc-4900-20c-evaporator,0.5", "ntc-4900-20c-evaporator,0.4", "curves of evaporator-temperature"),
    ("shares", "implications.csv", "P0118,coolant-temperature,1", "P0118,coolant-temperature,0.9", "sensors of P0118"),
    ("volts", "inputs.csv", "5,4.302,0.5", "5,4.302,4.5", "input-3k08-raised"),
    ("volts", "inputs.csv", "10000,909,51.7,", "10000,909,,", "input-10k-909"),
    ("volts", "inputs.csv", ",0.2,4.9,", ",0.2,5.9,", "input-1k-diesel"),
    ("uncited", "codes.csv", ",enable-level-range,", ",,", "codes P0461"),
    ("span", "sensors.toml", "beta_k = 3650.0\n", "", "coolant-temperature"),
    ("refusal", "sensors.toml", 'live_item = "knock retard"', 'live_item = "knock retard"\nohm_25 = 4.0', "knock-sensor"),
    ("refusal", "admissions.csv", "piezo-generator,substitute,refuses", "piezo-generator,substitute,admits", "knock-sensor"),
    ("danger", "sensors.toml", 'cautions = ["throttle-moves", "torque-input"]', "cautions = []", "throttle-position-serial"),
    ("danger", "sensors.toml", 'cautions = ["unintended-deployment"]', "cautions = []", "crash-sensor"),
    ("danger", "sensors.toml", 'cautions = ["body-drops"]', 'cautions = ["codes-will-set"]', "ride-height-coil"),
    ("danger", "sensors.toml", 'cautions = ["high-pressure-fuel", "rotating-parts"]\nsource = "refuse-rail"', 'cautions = []\nsource = "refuse-rail"',
     "diesel-rail-pressure"),
    ("torque", "sensors.toml", 'cautions = ["torque-input"]', 'cautions = ["throttle-moves"]', "pedal-position-pulse"),
    ("two-ways", "curves.csv", "The same pair is met the other way round: find out first which way an open plug goes.", "", "level-40-250"),
    ("by-hand", "tests.toml", "false_alarm = 0.02\n", "", "look"),
    ("by-hand", "test_bad.csv", "module-feeds,supply-low", "unplugged,supply-low", "unplugged"),
    ("proof", "admissions.csv", "two-wire-pulled-up,module-feeds,admits", "two-wire-pulled-up,module-feeds,refuses",
     "circuit kind:two-wire-pulled-up"),
    ("wording", "tests.toml", 'key = "Key off."', 'key = "Key off, whatever the posterior."', "tests look"),
    ("stale", "acknowledged.csv", "outlier ntc-30k", "outlier ntc-40k", "outlier ntc-40k-25c-ambient 30 degC"),
]


@pytest.mark.parametrize(("rule", "file", "old", "new", "subject"), BROKEN)
def test_each_rule_catches_what_breaks_it(edit, rule, file, old, new, subject):
    found = load(edit(file, old, new)).lint()
    assert (rule, subject) in {(finding.rule, finding.subject) for finding in found}, [str(finding) for finding in found]


def test_a_fault_no_test_can_show_is_caught(kb, monkeypatch):
    weights = build.outcome_weights

    def without(*arguments):
        return {edge: weight for edge, weight in weights(*arguments).items() if edge[2] != "supply-low"}
    monkeypatch.setattr(build, "outcome_weights", without)
    assert ("unrevealed", "fault:supply-low") in {(finding.rule, finding.subject) for finding in Knowledge(kb.tables).lint()}


def test_a_path_that_ends_before_a_test_is_caught(kb):
    tables = kb.tables.model_copy(update={"admissions": tuple(row for row in kb.tables.admissions if row.circuit_kind != "two-wire-level")})
    assert ("dead-end", "code:P0460 sensor:fuel-level") in {(finding.rule, finding.subject) for finding in Knowledge(tables).lint()}


def test_a_row_without_its_source_is_caught(kb):
    """Loading refuses such a row already; the rule holds for tables made in any other way."""
    tables = kb.tables.model_copy(update={"sources": tuple(
        source.model_copy(update={"citation": " "}) if source.id == "refuse-piezo" else source for source in kb.tables.sources)})
    found = {(finding.rule, finding.subject) for finding in Knowledge(tables).lint()}
    assert {("uncited", "sensors knock-sensor"), ("uncited", "circuit_kinds piezo-generator")} <= found


def test_every_rule_is_broken_here():
    broken = {row[0].replace("-", "_") for row in BROKEN} | {"uncited", "unrevealed"}
    assert {rule.__name__ for rule in RULES} == broken - {"stale"}
