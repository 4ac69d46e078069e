"""Owns the test of reading: what is there, and one sentence for each way a row can be broken."""

import csv
import re
import subprocess
import sys

import pytest

from engine.dial_sheet import dial_sheet
from engine.divide_sheet import divide_sheet
from engine.errors import KnowledgeError
from knowledge import load
from knowledge.load import DATA, FAMILIES, load_tables


def test_version_has_a_date_and_a_number(kb):
    date, number = kb.version.rsplit("-", 1)
    assert [len(part) for part in date.split(".")] == [4, 2, 2] and number.isdigit()


def test_each_family_has_rows(kb):
    assert all(getattr(kb.tables, family) for family in FAMILIES)


def test_schema_lists_exactly_the_fields_of_the_records(kb):
    with (DATA / "columns.csv").open(encoding="utf-8") as file:
        schema = {}
        for row in csv.DictReader(file):
            schema.setdefault(row["file"], set()).add(row["column"])
            assert row["meaning"].strip(), row
    for file, record in FAMILIES.values():
        assert schema[file] == set(record.model_fields) - {"points"}, file


def test_every_data_file_is_described():
    described = {file for file, _ in FAMILIES.values()} | {"columns.csv", "VERSION"}
    assert {path.name for path in DATA.iterdir() if path.is_file()} == described


def test_every_row_has_a_source_that_stands_somewhere(kb):
    listed = {source.id for source in kb.tables.sources}
    assert {source.standing for source in kb.tables.sources} <= {"stated", "derived", "common practice", "from memory"}
    for family in FAMILIES:
        for row in getattr(kb.tables, family):
            assert not hasattr(row, "source") or row.source in listed


def test_names_of_makers_stand_in_citations_alone(kb):
    """Every capitalised word of a citation that is no ordinary word counts as a name."""
    ordinary = {"brakes", "computed", "exhaust", "fuel", "generator", "hobby", "instrument", "ladder", "many", "mohm", "never", "open", "parking",
                "published", "rain", "resistance", "resistor", "restraint", "sensors", "speed", "sun", "switch", "temperature", "the", "trouble",
                "wheel", "wiring"}
    names = {word.casefold() for source in kb.tables.sources
             for word in re.findall(r"\b[A-Z][a-z]{2,}\b|\bGM\b|\bVW\b", source.citation)} - ordinary
    assert len(names) > 20
    for path in sorted(DATA.rglob("*")):
        if path.is_file() and path.name != "sources.csv":
            words = re.findall(r"[^\W\d_]+", path.read_text(encoding="utf-8").casefold())
            assert not names & set(words), path.name


def test_records_are_frozen(kb):
    with pytest.raises(Exception, match="frozen"):
        kb.sensor("coolant-temperature").label = "x"


@pytest.mark.parametrize(("file", "old", "new", "said"), [
    ("curves.csv", "ntc-2060-25c-coolant,", "ntc 2060,", ("curves.csv line 3", "id", "letters, digits and hyphens")),
    ("curves.csv", ",5,The table ends", ",500,The table ends", ("tolerance_percent", "'500'", "from 0 to 60")),
    ("curves.csv", "curve-30k-ambient", "nowhere", ("ntc-30k-25c-ambient", "source", "'nowhere'", "sources.csv")),
    ("curves/ntc-30k-25c-ambient.csv", "30,23760", "thirty,23760", ("line 8", "degc", "'thirty'", "number")),
    ("curves/ntc-30k-25c-ambient.csv", "30,23760", "30,nan", ("ohm", "'nan'", "number")),
    ("curves/ntc-30k-25c-ambient.csv", "30,23760,,", "30,23760,", ("line 8", "fewer cells")),
    ("curves.csv", "ntc-exhaust,", "level-exhaust,", ("level-exhaust.csv is missing",)),
    ("curves/level-112-4.csv", "100,4", "110,4", ("line 3", "percent", "'110'", "from 0 to 100 percent")),
    ("curves/level-112-4.csv", "percent,ohm,", "degc,ohm,", ("level-112-4.csv line 2", "'degc'", "columns.csv")),
    ("curves.csv", "iec60751,100,-100", "iec60751,100;2,-100", ("pt100-iec60751", "takes 1 coefficients", "ohms at 0 degC")),
    ("curves.csv", "iec60751,100,-100", "iec60751,hot,-100", ("pt100-iec60751", "coefficients", "'hot'", "numbers")),
    ("curves.csv", "iec60751,100,-100", "platinum,100,-100", ("form", "'platinum'", "steinhart-hart")),
    ("curves.csv", "iec60751,1000,-50,500", "iec60751,1000,500,-50", ("pt1000-iec60751", "low_c below high_c")),
    ("inputs.csv", ",0.2,4.9,", ",low,4.9,", ("input-1k-diesel", "low_limit_v", "'low'", "number")),
    ("faults.csv", ",second-pull-up,", ",second-hand,", ("switching-dead", "needs", "'second-hand'", "return-wire")),
    ("sensors.toml", 'quantity = "level"', 'quantity = "depth"', ("fuel-level", "quantity", "'depth'", "temperature, hot-gas, level")),
    ("sensors.toml", "held = true", 'held = "often"', ("ambient-temperature", "held", "'often'", "yes or no")),
    ("shares.csv", ",housing,", ",friendship,", ("shares.csv line 2", "what", "'friendship'", "housing")),
    ("codes.csv", ",enable-level-range,", ",nowhere,", ("P0461", "enable_source", "'nowhere'", "sources.csv")),
    ("test_wordings.toml", 'test = "shorted"', 'test = "shouted"', ("test", "'shouted'", "tests.toml")),
    ("faults.csv", "sensor-open,sensor", "sensor-open,nose", ("sensor-open", "location", "'nose'", "locations.csv")),
    ("faults.csv", "sensor-shorted,", "sensor-open,", ("sensor-open", "a second time")),
    ("faults.csv", ",no,replace-sensor", ",perhaps,replace-sensor", ("intermittent", "'perhaps'", "yes or no")),
    ("faults.csv", "id,location", "id,place", ("faults.csv", "'place'", "columns.csv")),
    ("tests.toml", 'element = "open"', 'element = "ajar"', ("tests.toml number 4 (unplugged)", "element", "'ajar'", "stand-in")),
    ("tests.toml", 'key = "Key off."\n', "", ("tests.toml number 1 (look)", "key is missing")),
    ("tests.toml", "[[test]]", "[[tests]]", ("tests.toml", "[[test]]")),
    ("tests.toml", "minutes = 2.0", "minutes = = 2.0", ("tests.toml", "TOML")),
    ("sensors.toml", 'cautions = ["hot-coolant"', 'cautions = ["hot-cocoa"', ("cautions", "'hot-cocoa'", "cautions.csv")),
    ("implications.csv", "P0118,coolant-temperature", "P0118,toaster", ("sensor", "'toaster'", "sensors.toml")),
    ("implications.csv", "P0118,coolant-temperature", "P9999,coolant-temperature", ("complaint", "'P9999'", "codes.csv or symptoms.csv")),
    ("columns.csv", "file,column,type", "file,columns,type", ("columns.csv line 2", "it takes file, column, type")),
    ("VERSION", "2026", "", ()),
])
def test_a_broken_row_is_one_sentence_that_says_what_would_be_right(edit, file, old, new, said):
    folder = edit(file, old, new)
    if not said:
        (folder / file).write_text("")
        said = ("VERSION is empty", "2026.11.25-1")
    with pytest.raises(KnowledgeError) as caught:
        load_tables(folder)
    sentence = str(caught.value)
    assert all(piece in sentence for piece in said), sentence
    assert sentence.endswith(".") and "\n" not in sentence


def test_a_missing_file_is_named(copy):
    (copy / "faults.csv").unlink()
    with pytest.raises(KnowledgeError, match="faults.csv is missing"):
        load_tables(copy)


def test_a_new_kind_takes_data_rows_alone(copy):
    """A sensor kind, a curve, a code and a test: four additions to files, no line of Python."""
    (copy / "curves" / "ntc-test.csv").write_text("degc,ohm,ohm_low,ohm_high\n0,6000,,\n80,300,,\n")
    additions = {
        "curves.csv": 'ntc-test,"6000 ohm at 0 °C",temperature,,,,,,,,common-practice\n',
        "sensor_curves.csv": "seat-temperature,ntc-test,1,common-practice\n",
        "codes.csv": "P9B40,seat temperature: circuit fault,general,,,common-practice\n",
        "implications.csv": "P9B40,seat-temperature,1,general,common-practice\n",
        "admissions.csv": "two-wire-pulled-up,second-look,admits,,common-practice\n",
        "test_bad.csv": "second-look,plug-open,0.4,common-practice\n"}
    for file, row in additions.items():
        with (copy / file).open("a", encoding="utf-8") as out:
            out.write(row)
    with (copy / "sensors.toml").open("a", encoding="utf-8") as out:
        out.write('\n[[sensor]]\nid = "seat-temperature"\nlabel = "seat temperature sensor"\nwords = []\nquantity = "temperature"\nheld = false\n'
                  'circuit_kind = "two-wire-pulled-up"\nassumed_input = "input-10k"\nlive_item = "seat temperature"\n'
                  'low_c = 0.0\nhigh_c = 60.0\nohm_25 = 2000.0\nln_ohm_25_sd = 0.5\nbeta_k = 3600.0\nbeta_sd_k = 200.0\n'
                  'family_weight = 0.2\nkey_state = "Key on."\nsummary = "Two wires."\ncautions = []\nsource = "common-practice"\n')
    with (copy / "tests.toml").open("a", encoding="utf-8") as out:
        out.write('\n[[test]]\nid = "second-look"\nlabel = "Look again"\nelement = "none"\nmeasures = "good"\nminutes = 1.0\n'
                  'state = "unplugged-key-off"\nfalse_alarm = 0.02\nhand = ["Look again."]\nconnect = "Nothing."\n'
                  'key = "Key off."\nproves = "What the eye sees."\ncautions = []\nsource = "common-practice"\n')
    kb = load(copy)
    assert [finding for finding in kb.lint() if not finding.acknowledged] == []
    (candidate,) = kb.candidates("p9b40")
    job = kb.job(candidate.sensor, complaint=["P9B40"], circuit={"reference_v": 5, "pull_up_ohm": 10000})
    assert "second-look" in {test.id for test in job.tests}
    assert [curve.id for curve, _ in job.curves] == ["ntc-test"]
    sheet = dial_sheet(job.circuit, job.curves[0][0], job.stand_in, job.meter, (20, 40))
    assert [line.ohm for line in sheet] == pytest.approx([float(job.curves[0][0].ohm_at(value)) for value in (20, 40)], rel=0.02)


def test_a_new_three_wire_kind_takes_data_rows_alone(copy):
    """A line and a sensor kind that follows it: three additions to files, and a sheet of shares."""
    for file, row in {"lines.csv": 'tilt-050-450,"tilt, 0.5 to 4.5 V",position,percent,0.1,0,0.9,100,5,,,,,,,,,common-practice\n',
                      "sensor_lines.csv": "tilt-position,tilt-050-450,1,common-practice\n",
                      "implications.csv": "P9B41,tilt-position,1,general,common-practice\n",
                      "codes.csv": "P9B41,tilt: circuit fault,general,,,common-practice\n"}.items():
        with (copy / file).open("a", encoding="utf-8") as out:
            out.write(row)
    with (copy / "sensors.toml").open("a", encoding="utf-8") as out:
        out.write('\n[[sensor]]\nid = "tilt-position"\nlabel = "tilt sensor"\nwords = []\nquantity = "position"\n'
                  'circuit_kind = "three-wire-divider"\nlive_item = "tilt"\nlow_c = 0.0\nhigh_c = 100.0\nfamily_weight = 0.2\n'
                  'track_ohm = 5000.0\nrest = 50.0\nrest_sd = 10.0\nkey_state = "Key on."\nsummary = "Three wires."\n'
                  'cautions = []\nsource = "common-practice"\n')
    kb = load(copy)
    assert [finding for finding in kb.lint() if not finding.acknowledged] == []
    job = kb.job("tilt-position", complaint=["P9B41"], circuit={"reference_v": 5.0})
    (row,) = divide_sheet(job.circuit, kb.line("tilt-050-450"), job.stand_in, job.meter, (50,), job.setup.quantity)
    assert row.share == pytest.approx(0.5, abs=0.01) and row.plug_v == pytest.approx(2.5, abs=0.1)


def test_loading_leaves_the_slow_libraries_alone():
    """Only what the command line needs: the screens' and the shop book's libraries load where they are used."""
    code = ("import sys; from knowledge import load; load(); "
            "print(*(name for name in ('pandas', 'altair', 'scipy.stats', 'streamlit', 'sqlalchemy') if name in sys.modules))")
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.strip() == ""
