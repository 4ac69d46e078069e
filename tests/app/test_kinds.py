"""Owns the proof that level, hot gas and one-wire kinds are read in their own unit and in their own words."""

from xml.etree import ElementTree

import pytest

from app import cached, hook_up
from tests.app.case import WITHOUT_READINGS
from tests.app.screen import fine, job_of, opened, said

# A tank sender of 10 to 180 ohm fed from the battery through 410 ohm.
LEVEL = {"format": 1, "sensor": "fuel-level", "complaint": ["fuel-number-jumps"],
         "circuit": {"reference_v": 12.6, "open_v": 12.6, "pull_up_ohm": 410, "curve": "level-10-180"},
         "stand_in": {"kind": "potentiometer", "end_to_end_ohm": 220, "turns": 1, "watts": 0.5}}
HOT = {"format": 1, "sensor": "exhaust-gas-temperature-pt200", "circuit": {"reference_v": 5.0, "pull_up_ohm": 1000},
       "stand_in": {"kind": "potentiometer", "end_to_end_ohm": 1000}}
ONE_WIRE = {"format": 1, "sensor": "coolant-temperature-one-wire"}


def words(drawing):
    return [node.text for node in ElementTree.fromstring(drawing).iter("{http://www.w3.org/2000/svg}text")]


@pytest.mark.parametrize("page", ["circuit", "dial_sheet", "next_step"])
def test_a_level_is_in_percent_and_has_no_unit_to_choose(page):
    screen = fine(opened(page, job=job_of(LEVEL), unit="degF"))
    assert not [one for one in screen.segmented_control if one.key == "unit"]
    fields = [*screen.number_input, *screen.text_input, *screen.text_area]
    assert not [field.label for field in fields if "°" in field.label]
    # What the knowledge warns of may name a temperature; what this job shows is in percent.
    assert page == "circuit" or "°" not in said(screen)


def test_the_dial_sheet_of_a_level_is_in_percent():
    screen = fine(opened("dial_sheet", job=job_of(LEVEL)))
    assert screen.text_input(key="wanted-fuel-level-percent").value == "0 25 50 75 100"
    assert "| 50 % | 94.8 Ω" in said(screen)
    assert "Wanted levels (%)" in said(screen)
    screen.text_input(key="wanted-fuel-level-percent").set_value("full").run()
    assert "levels are numbers such as 25 or 80" in said(fine(screen))


def test_a_level_reading_is_kept_in_percent():
    job = job_of(LEVEL)
    screen = opened("next_step", job=job, unit="degF")
    screen.selectbox(key="insist-0").set_value("substitute").run()
    screen.text_input(key="ohm-0-substitute").set_value("95")
    screen.number_input(key="number-0-substitute-percent").set_value(50.0)
    screen.button(key="save-0-substitute").click().run()
    assert cached.shop_book().open(job)["readings"] == [{"test": "substitute", "ohm": 95.0, "shows": 50.0, "unit": "percent"}]
    assert "with 95 Ω the number was 50 %" in said(fine(screen))
    assert "°" not in said(screen)


def test_the_circuit_of_a_level_takes_percent():
    job = job_of({"format": 1, "sensor": "fuel-level"})
    screen = opened("circuit", job=job)
    screen.text_area(key="circuit-points-percent").set_value("0 10\n100 180")
    screen.number_input(key="circuit-around-percent").set_value(50.0)
    screen.number_input(key="circuit-default-percent").set_value(0.0)
    screen.button(key="circuit-save").click().run()
    case = cached.shop_book().open(job)
    assert case["circuit"] == {"curve": {"quantity": "level", "unit": "percent", "points": [[0, 10], [100, 180]]}, "default": 0}
    assert case["surroundings"] == {"value": 50.0, "unit": "percent"}
    fine(screen)


def test_hot_gas_gets_a_sheet_that_fits_a_page():
    screen = fine(opened("dial_sheet", job=job_of(HOT), unit="degF"))
    wanted = screen.text_input(key="wanted-exhaust-gas-temperature-pt200-degF").value.split()
    assert 5 <= len(wanted) <= 12
    assert f"| {wanted[-1]} °F |" in said(screen)


def test_a_one_wire_sender_is_told_in_its_own_words(kb):
    screen = opened("next_step", job=job_of(ONE_WIRE))
    for test in ("substitute", "return-ohms", "plug-volts"):
        screen.selectbox(key="insist-0").set_value(test).run()
        own = kb.test(test, "coolant-temperature-one-wire")
        assert own.hand != kb.test(test).hand
        for line in (*own.hand, own.connect):
            assert line in said(fine(screen)), test


def test_a_one_wire_sender_is_drawn_with_its_body_as_the_return(kb):
    for kind in kb.tests("coolant-temperature-one-wire"):
        drawn = words(hook_up.drawing(kind, 330.0, one_wire=True))
        assert "return wire" not in drawn, kind.id
        assert kind.measures == "sensor-ohms" or any("engine block" in word for word in drawn), kind.id
    kinds = {kind.id: kind for kind in kb.tests("coolant-temperature-one-wire")}
    assert "battery negative" in words(hook_up.drawing(kinds["substitute-to-chassis"], 330.0, one_wire=True))


def test_the_ammeter_is_drawn_with_its_fuse_and_the_pin_finder_with_its_resistor(kb):
    kinds = {kind.id: kind for kind in kb.tests("coolant-temperature")}
    assert {"mA", "fuse 1 A"} <= set(words(hook_up.drawing(kinds["short-circuit-current"])))
    assert {"V", "1 kΩ", "battery negative"} <= set(words(hook_up.drawing(kinds["find-pins"])))


def test_the_feed_is_drawn_as_it_is_known(kb):
    kind = next(kind for kind in kb.tests("fuel-level") if kind.id == "substitute")
    assert "12.6 V" in words(hook_up.drawing(kind, 95.0, feed_v=12.6))
    assert "5 V" not in words(hook_up.drawing(kind, 95.0, feed_v=None))


def test_which_sensors_suit_says_levels_in_percent():
    drawer = {**LEVEL, "stand_in": {"kind": "fixed", "series": "E24", "low_ohm": 1, "watts": 5}}
    screen = fine(opened("suits", job=job_of(drawer), unit="degF"))
    table = next(node.value for node in screen.markdown if "Faults noticed" in node.value)
    line = next(line for line in table.splitlines() if line.startswith("| Fuel level"))
    assert "%" in line.split(" | ")[3] and "°" not in line


def test_what_a_kind_shares_with_others_and_its_curves_warnings_are_said(kb):
    case = {**WITHOUT_READINGS, "circuit": {"curve": "ntc-2450-20c-coolant"}}
    screen = fine(opened("circuit", job=job_of(case)))
    for shared in kb.shares("coolant-temperature"):
        assert shared.sentence in said(screen)
    warning = kb.curve_row("ntc-2450-20c-coolant").warning
    assert warning and warning in said(screen)
    assert warning in said(fine(opened("dial_sheet", job=job_of(case))))


def test_a_code_says_when_it_can_set_and_that_none_is_no_pass(kb):
    screen = opened()
    screen.text_input(key="complaint-text").set_value("P0117").run()
    screen.button(key="add-P0117").click().run()
    assert kb.enable("P0117") and kb.enable("P0117") in said(fine(screen))
    assert "No code never counts as passed." in said(screen)
