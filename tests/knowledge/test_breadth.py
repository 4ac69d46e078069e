"""Owns the test of breadth: how much is known, and that every path of the whole graph ends in a test and a repair or in a refusal."""

import re

import networkx as nx
import pytest

from engine.errors import RefusedError
from knowledge import load
from knowledge.complaint_records import RANKS
from knowledge.graph import next_nodes, node, of_kind

COMPLAINTS = ("symptom", "code")
# Families of SAE J2012 codes that are restraint or high-voltage in whole; from memory.
HAZARD_CODES = ("B0001", "b0012", "B00FF", "P0A00", "P0A7F", "P0A9D", "P0A9E", "P0A9F", "p0ab0", "P0B3C", "P0C4E", "P0D20")


def test_as_much_is_known_as_a_shop_meets(kb):
    """Counts agreed for this house; curves count sender families, inputs the circuits met in practice."""
    tables = kb.tables
    counts = {"sensors": 70, "symptoms": 60, "codes": 220, "inputs": 20, "lines": 30, "live_items": 40, "refusals": 60, "cautions": 40}
    assert {name: len(getattr(tables, name)) >= least for name, least in counts.items()} == dict.fromkeys(counts, True)


def test_every_sensor_kind_is_named_by_a_complaint_with_its_share(kb):
    named = {row.sensor for row in kb.tables.implications}
    assert {sensor.id for sensor in kb.tables.sensors} - named == set()
    assert all(0 < row.weight <= 1 for row in kb.tables.implications)


def test_every_path_of_the_graph_ends_in_a_test_and_a_repair_or_in_a_refusal(kb):
    """From every symptom and code to every sensor kind it points to: no exception."""
    ends = {}
    for sensor in of_kind(kb.graph, "sensor"):
        refusal = kb.graph.nodes[sensor]["refusal"]
        if refusal is not None:
            ends[sensor] = bool(refusal.reason and refusal.instead and refusal.caution)
            continue
        tests = [test for kind in next_nodes(kb.graph, sensor, "wired-as") for test in next_nodes(kb.graph, kind, "admits")]
        reached = set().union(*(nx.descendants(kb.graph, test) for test in tests)) if tests else set()
        ends[sensor] = any(kb.graph.nodes[end]["kind"] == "action" for end in reached)
    paths = [(start, sensor) for kind in COMPLAINTS for start in of_kind(kb.graph, kind)
             for sensor in next_nodes(kb.graph, start, "implicates")]
    assert len(paths) > 400
    assert [path for path in paths if not ends[path[1]]] == []
    assert [start for kind in COMPLAINTS for start in of_kind(kb.graph, kind) if not next_nodes(kb.graph, start, "implicates")] == []


def test_every_candidate_of_every_complaint_opens_a_job_or_is_refused(kb):
    for entry in kb.entries():
        for one in kb.candidates(entry.id):
            if one.refused:
                with pytest.raises(RefusedError):
                    kb.job(one.sensor, complaint=[entry.id])
            else:
                assert kb.tests(one.sensor)


@pytest.mark.parametrize("typed", HAZARD_CODES)
def test_a_restraint_or_high_voltage_code_opens_no_resistance_screen(kb, typed):
    found = kb.candidates(typed)
    assert found and all(one.refused and kb.refusal(one.sensor).kind == "hazard" for one in found)
    for sensor in ("battery-temperature", "coolant-temperature", "fuel-level"):
        with pytest.raises(RefusedError) as caught:
            kb.job(sensor, complaint=[typed])
        assert "licensed" in caught.value.caution
    with pytest.raises(RefusedError):
        kb.job("battery-temperature", complaint=["shows-minus-40", typed])


def test_another_complaint_that_names_the_kind_still_opens_it(kb):
    assert kb.job("coolant-temperature", complaint=["B0012", "P0118"]).sensor == "coolant-temperature"


def test_of_several_refusals_the_gravest_stands_first(kb, edit):
    folder = edit("refusals.toml", "# Sensor kinds", '[[refusal]]\nsensor = "crash-sensor"\nkind = "data"\nreason = "No figures."\n'
                  'instead = "Ask."\ncaution = "None."\nsource = "common-practice"\n\n# Sensor kinds')
    for text in ((folder / "refusals.toml").read_text(), _turned((folder / "refusals.toml").read_text())):
        (folder / "refusals.toml").write_text(text)
        assert load(folder).refusal("crash-sensor").kind == "hazard"
    assert RANKS == ("hazard", "signal", "data")


def _turned(text):
    head, *rows = text.split("[[refusal]]")
    return head + "[[refusal]]".join(["", *reversed([row.rstrip() + "\n\n" for row in rows])])


def test_every_refusal_says_why_what_instead_and_what_to_beware_of(kb):
    for row in kb.tables.refusals:
        assert len(row.reason) > 25 and len(row.instead) > 60 and len(row.caution) > 15, row.sensor
        assert row.reason.endswith(".") and row.instead.endswith(".") and row.caution.endswith("."), row.sensor
        assert kb.source(row.source).citation
        assert re.search(r"[Rr]ead|[Cc]ompare|[Mm]easure|[Cc]heck|[Ww]atch|[Ll]ook|scope|[Mm]eter|[Oo]hms|[Pp]ress|[Mm]ove|bridged|[Bb]racket|[Gg]auge|[Vv]olts", row.instead), row.sensor


def test_rows_from_memory_stay_marked(kb):
    standing = {source.id: source.standing for source in kb.tables.sources}
    memory = [code.id for code in kb.tables.codes if standing[code.source] == "from memory"]
    assert {"P0126", "P0128", "P0A9D", "P2228", "P0335"} - set(memory) == {"P0335"} and len(memory) > 60
    for item in kb.tables.live_items:
        assert (standing[item.source] == "from memory") == (item.id in FROM_MEMORY), item.id


# Items of live data whose formula or ends no second source gave.
FROM_MEMORY = {"1F", "22", "23", "2C", "2D", "2F", "32", "33", "3C-3F", "42", "46", "53", "54", "59", "5A", "5C", "7A-7B", "7C", "87"}


@pytest.mark.parametrize(("id", "count", "value"), [
    ("05", 0x3C, 20.0), ("05", 0, -40.0), ("0B", 0x65, 101.0), ("11", 0x1A, 10.196), ("42", 0x36B0, 14.0), ("78-79", 0x1130, 400.0)])
def test_items_of_live_data_give_the_worked_encodings(kb, id, count, value):
    """SAE J1979: 41 05 3C is 20 degC, 41 05 00 is -40 degC, 41 0B 65 is 101 kPa, 41 11 1A is 10.2 %, 41 42 36 B0 is 14 V, 0x1130 is 400 degC."""
    (item,) = [one for one in kb.tables.live_items if one.id == id]
    assert count * item.step + item.offset == pytest.approx(value, abs=1e-3)


@pytest.mark.parametrize(("typed", "first"), [
    ("ABS light", "abs-lamp"), ("no boost", "no-boost"), ("AdBlue fault", "adblue-no-restart"), ("click and nothing", "no-crank"),
    ("turns over no start", "cranks-no-start"), ("tyre light", "tyre-lamp"), ("low oil pressure", "oil-lamp-on"),
    ("reserve lamp dead", "fuel-reserve-lamp"), ("idle goes up and down", "idle-hunts"), ("memory seat wrong", "mirror-forgets"),
    ("revs hang at the clutch", "jerks-clutch"), ("sinks overnight", "car-hangs-low"), ("speedo drops out", "speedometer-dead"),
    ("passenger lamp", "passenger-airbag-off"), ("hybrid fault", "not-ready-hybrid"), ("dies in traffic", "dies-when-hot"),
    ("E85 trouble", "flex-fuel-trouble"), ("radar blocked", "assist-not-available"), ("hard pedal", "hard-brake-pedal")])
def test_what_the_customer_says_finds_the_symptom(kb, typed, first):
    assert kb.find(typed)[0].id == first


def test_each_entry_is_found_by_its_own_words_among_the_first(kb):
    # Codes are read and found alike: every eighth of them.
    codes = [entry for entry in kb.entries() if entry.kind == "code"][::8]
    for entry in [*(one for one in kb.entries() if one.kind != "code"), *codes]:
        for words in (entry.label, *entry.words):
            found = [one.id for one in kb.find(words)][:8]
            assert entry.id in found, (entry.id, words, found)


def test_a_kind_and_the_complaints_that_name_it_are_reached_by_edges(kb):
    assert kb.graph.has_edge(node("symptom", "abs-lamp"), node("sensor", "wheel-speed-active"))
    weights = [kb.graph.edges[start, end]["weight"] for start, end, kind in kb.graph.edges(data="kind") if kind == "implicates"]
    assert len(weights) == len(kb.tables.implications) and all(weight > 0 for weight in weights)
