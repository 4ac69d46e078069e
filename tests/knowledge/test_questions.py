"""Owns the test of the questions: candidates with their path, search in everyday words, the fault tree as DOT and text."""

import re

import pytest

from engine.errors import InputError
from knowledge import build
from knowledge.fault_tree import TreeNode, to_dot, to_text


@pytest.mark.parametrize(("code", "sensor"), [
    ("P0118", "coolant-temperature"), ("p0113", "intake-air-temperature"), ("P0073", "ambient-temperature"),
    ("P0538", "evaporator-temperature"), ("P0327", "knock-sensor"), ("C0035", "wheel-speed-active"),
    ("P2122", "accelerator-pedal-position")])
def test_a_code_leads_to_its_sensor_kind_by_a_readable_path(kb, code, sensor):
    candidate, *others = kb.candidates(code)
    assert candidate.sensor == sensor and candidate.weight == (1.0 if not others else 0.6)
    assert candidate.path[1] == kb.sensor(sensor).label and len(candidate.path) == 3
    assert candidate.refused == (kb.refusal(sensor) is not None)


def test_a_symptom_leads_to_several_kinds_whose_shares_sum_to_one(kb):
    found = kb.candidates("shows-minus-40")
    assert [one.sensor for one in found][:4] == ["coolant-temperature", "intake-air-temperature", "ambient-temperature",
                                                 "evaporator-temperature"]
    assert sum(one.weight for one in found) == pytest.approx(1.0)


def test_a_second_complaint_narrows_the_first(kb):
    alone = {one.sensor: one.weight for one in kb.candidates("shows-minus-40")}
    both = {one.sensor: one.weight for one in kb.candidates("shows-minus-40", "P0113")}
    assert both["intake-air-temperature"] > 0.8 > alone["intake-air-temperature"]
    assert kb.candidates("P0113", "shows-minus-40")[0].weight == pytest.approx(both["intake-air-temperature"])


def test_a_sensor_kind_is_its_own_candidate(kb):
    (candidate,) = kb.candidates("coolant-temperature")
    assert candidate.path == ("coolant temperature sensor", "two wires, pulled up in the module")


@pytest.mark.parametrize(("typed", "near"), [("P0198x", "P0198"), ("shows-minus-4", "shows-minus-40"), ("\x00", "listed")])
def test_an_unknown_complaint_says_what_looks_like_it(kb, typed, near):
    with pytest.raises(InputError, match=re.escape("complaint[0]")) as caught:
        kb.candidates(typed)
    assert near in str(caught.value)


@pytest.mark.parametrize(("typed", "first"), [
    ("P0118", "P0118"), ("b0012", "B00xx"), ("minus 40", "shows-minus-40"), ("-40", "shows-minus-40"),
    ("radiator fan never stops", "fan-always-on"), ("pinking", "pings-under-load"), ("SRS light", "airbag-lamp"),
    ("thirsty", "black-smoke-thirsty"), ("aircon", "compressor-cuts-out"), ("IAT", "intake-air-temperature"),
    ("coolant temperature sensor", "coolant-temperature"), ("outside temprature wrong", "outside-too-warm")])
def test_what_the_customer_says_finds_it(kb, typed, first):
    assert kb.find(typed)[0].id == first


def test_search_is_quiet_about_nothing_and_nonsense(kb):
    assert kb.find("") == kb.find("   ") == kb.find("qqqq") == kb.find("$(rm -rf)<b>") == ()
    assert len(kb.find("p0" + "1" * 100000)) == 0


def test_entries_have_three_kinds_and_unique_ids(kb):
    entries = kb.entries()
    assert {entry.kind for entry in entries} == {"symptom", "code", "sensor"}
    assert len({entry.id for entry in entries}) == len(entries) and all(entry.label for entry in entries)
    assert sum(entry.kind == "symptom" for entry in entries) >= 15


def _walk(tree):
    yield tree
    for child in tree.children:
        yield from _walk(child)


def test_the_tree_goes_from_complaint_to_tests(kb):
    tree = kb.fault_tree(["P0118"])
    kinds = [tree.kind]
    below = tree
    while below.children:
        below = below.children[0]
        kinds.append(below.kind)
    assert kinds == ["complaint", "sensor", "location", "fault", "test"]
    (sensor,) = tree.children
    assert sum(location.chance for location in sensor.children) == pytest.approx(1.0)
    faults = [found for found in _walk(tree) if found.kind == "fault"]
    assert {found.id for found in faults} == set(build.faults_of(kb.graph, "coolant-temperature"))
    assert all(found.children for found in faults)
    chances = [location.chance for location in sensor.children]
    assert chances == sorted(chances, reverse=True)


def test_present_chances_stand_on_the_leaves_and_order_the_tree(kb):
    tree = kb.fault_tree(["P0118", "shows-minus-40"], {"return-open": 0.9, "plug-open": 0.1}, "coolant-temperature")
    (sensor,) = tree.children
    assert (sensor.children[0].id, sensor.children[0].chance) == ("return", 0.9)
    assert sensor.children[0].children[0].id == "return-open"
    assert sensor.children[1].id == "plug"


def test_a_tree_of_a_sensor_alone_and_of_a_sensor_nobody_complained_about(kb):
    assert kb.fault_tree([], None, "coolant-temperature").children[0].id == "coolant-temperature"
    assert [one.id for one in kb.fault_tree(["P0113"], None, "coolant-temperature").children] == ["coolant-temperature"]
    with pytest.raises(InputError, match="complaint is empty"):
        kb.fault_tree([])


def test_a_refused_kind_ends_in_its_refusal(kb):
    text = kb.fault_tree_text(kb.fault_tree(["B0012"]))
    assert "No stand-in." in text and "Instead:" in text and "ohm" not in text.split("No stand-in.")[0]
    assert not any(found.kind in ("fault", "test") for found in _walk(kb.fault_tree(["B0012"])))


def test_the_drawing_holds_each_fault_and_balanced_quotes(kb):
    dot = kb.fault_tree_dot(kb.fault_tree(["shows-minus-40"]))
    assert dot.startswith("digraph") and dot.rstrip().endswith("}")
    for line in dot.splitlines():
        assert len(re.findall(r'(?<!\\)"', line)) % 2 == 0
    names = re.findall(r"^  (n\d+) \[", dot, re.MULTILINE)
    assert len(names) == len(set(names))
    edges = re.findall(r"^  (n\d+) -> (n\d+);", dot, re.MULTILINE)
    assert {end for edge in edges for end in edge} == set(names)
    assert len(edges) == len(names) - 1


def test_labels_cannot_break_out_of_the_drawing():
    nasty = TreeNode("x", "complaint", 'a "quoted" \\ back\nline <b>&', 0.5, (TreeNode("y", "fault", '"]; evil [', None),))
    dot = to_dot(nasty)
    assert 'label="a \\"quoted\\" \\\\ back line <b>& (50 %)"' in dot and '\\"]; evil [' in dot
    assert to_text(nasty).splitlines() == ['a "quoted" \\ back line <b>& (50 %)', '  "]; evil [']
