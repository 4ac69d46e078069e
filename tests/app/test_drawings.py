"""Owns the proof that drawings and paper are whole documents that show what is to be set and run nothing."""

import csv
import io
import itertools
from types import SimpleNamespace
from xml.etree import ElementTree

import pytest

from app import cached, charts, dial_table, hook_up, print_sheet, three_lead_drawing
from engine.procedures import ELEMENTS, MEASURES, STATES, TestKind

SVG = "{http://www.w3.org/2000/svg}"


def words(drawing):
    return [node.text for node in ElementTree.fromstring(drawing).iter(f"{SVG}text")]


def test_every_hook_up_can_be_drawn():
    for element, measures, state, to in itertools.product(ELEMENTS, MEASURES, STATES, ("", "return", "chassis", "module")):
        kind = TestKind("t", "t", element, to, measures, 1.0, state)
        assert "module" in words(hook_up.drawing(kind, 330.0)), kind


def test_the_value_to_set_is_on_the_drawing():
    kind = TestKind("substitute", "t", "stand-in", "return", "shows", 1.0, "unplugged-key-on")
    assert "330 Ω" in words(hook_up.drawing(kind, 330.0))
    assert "set it first" in words(hook_up.drawing(kind))
    chassis = TestKind("c", "t", "stand-in", "chassis", "shows", 1.0, "unplugged-key-on")
    assert "chassis" in words(hook_up.drawing(chassis, 330.0))


def test_a_refused_setting_differs_in_shape_not_only_in_colour():
    marks = [charts.Mark(20, 2500, "fine"), charts.Mark(80, 330, "ten-seconds"), charts.Mark(140, 60, "refused")]
    chart = ElementTree.fromstring(charts.dial_chart(marks, "degF"))
    assert len(list(chart.iter(f"{SVG}circle"))) == 1
    assert len(list(chart.iter(f"{SVG}path"))) == 2
    assert {"68", "176", "284", "temperature, °F"} <= set(words(charts.dial_chart(marks, "degF")))


def test_one_temperature_alone_makes_a_chart():
    ElementTree.fromstring(charts.dial_chart([charts.Mark(20, 1000, "fine")], "degC"))


def test_paper_escapes_every_word():
    evil = "<script>alert(1)</script>&\"'"
    page = print_sheet.page(evil, [evil], [((evil,), ((evil,),))], charts.svg(10, 10, [], evil))
    assert "<script" not in page
    assert page.count("&lt;script&gt;") == 6
    assert "http" not in page.replace("http://www.w3.org/2000/svg", "").replace("http-equiv", "")


def test_csv_reads_back():
    text = print_sheet.comma_separated(("a", "b"), [("x,y", "1"), ('"', "2")])
    assert list(csv.reader(io.StringIO(text))) == [["a", "b"], ["x,y", "1"], ['"', "2"]]


@pytest.mark.parametrize(("test", "ring"), [("second-reader", False), ("plugged-again", False), ("other-module", True), ("look", True)])
def test_what_is_read_with_everything_plugged_in_shows_the_sensor_on_its_plug(test, ring):
    kb = cached.knowledge()
    for sensor, draw in (("coolant-temperature", hook_up.drawing), ("throttle-position", three_lead_drawing.drawing)):
        kind = next(one for one in kb.tests(sensor) if one.id == test)
        shown = words(draw(kind))
        assert ("here" in shown) == ring and ("sensor" in shown) == (test != "look"), (sensor, shown)


def test_a_dial_row_in_fahrenheit():
    row = SimpleNamespace(temperature_c=80.0, ohm=330.0, parts=(), reach_ohm=9.0, reach_c=0.8, known_ohm=4.0, known_c=0.4,
                          plug_v=0.652, plug_v_band=(0.64, 0.66), shows_c=80.0, shows_band_c=(79.0, 81.0),
                          current_a=0.00198, watts=0.0013, survival="fine", remedy="", other_plug_v=None, outside=False, other_leg_c=120.0, note="")
    assert dial_table.rows([row], "degF") == [("176 °F", "330 Ω", "174 to 178 °F", "0.65 V")]
    near, carried = (rows for _head, rows in dial_table.fine_tables([row], "degF"))
    assert (near, carried) == ([("176 °F", "± 1.4 °F / ± 0.7 °F", "248 °F")], [("176 °F", "2 mA, 1.3 mW")])
    written = dict(zip(dial_table.CSV_HEAD, dial_table.csv_rows([row], "degF")[0], strict=True))
    assert (written["temperature"], written["shows_low"], written["known_degrees"]) == ("176", "174.2", "0.72")


def test_what_cannot_be_set_says_so():
    row = SimpleNamespace(temperature_c=-40.0, ohm=48100.0, parts=(), reach_ohm=None, reach_c=None, known_ohm=None,
                          known_c=None, plug_v=4.73, plug_v_band=(4.7, 4.8), shows_c=-40.0, shows_band_c=(-40.0, -39.0),
                          current_a=0.0000983, watts=0.00047, survival="refused", remedy="Beyond this stand-in.",
                          other_plug_v=None, outside=False, other_leg_c=None, note="")
    assert dial_table.rows([row], "degC")[0][1] == "48.1 kΩ (cannot be set)"
    assert dial_table.fine_tables([row], "degC")[0][1] == [("-40 °C", "cannot be set")]
    assert dial_table.remedies([row], "degC") == ["-40 °C: Beyond this stand-in."]
    written = dict(zip(dial_table.CSV_HEAD, dial_table.csv_rows([row], "degC")[0], strict=True))
    assert (written["reach_ohm"], written["known_degrees"], written["ohm"]) == ("", "", "48100")


def test_a_level_is_drawn_straight_and_everything_else_over_decades():
    marks = [charts.Mark(0, 10, "fine"), charts.Mark(50, 95, "fine"), charts.Mark(100, 180, "fine")]

    def heights(unit):
        return [float(node.get("cy")) for node in ElementTree.fromstring(charts.dial_chart(marks, unit)).iter(f"{SVG}circle")]
    empty, half, full = heights("percent")
    assert abs((empty - half) - (half - full)) < 0.2
    assert {"level, %", "0 Ω", "200 Ω"} <= set(words(charts.dial_chart(marks, "percent")))
    assert (heights("degC")[0] - heights("degC")[1]) > 2 * (heights("degC")[1] - heights("degC")[2])


def test_the_wrong_outer_leg_is_left_out_where_there_is_none():
    row = SimpleNamespace(temperature_c=50.0, ohm=95.0, parts=(95.0,), reach_ohm=0.0, reach_c=0.00001, known_ohm=1.0, known_c=0.7,
                          current_a=0.025, watts=0.059, survival="fine", other_leg_c=None)
    (head, rows), (_, carried) = dial_table.fine_tables([row], "percent")
    assert head == ("At", "Hand / meter within")
    assert (rows, carried) == ([("50 %", "under ± 0.1 % / ± 0.7 %")], [("50 %", "25 mA, 59 mW")])
