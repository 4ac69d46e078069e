"""Owns the proof that each screen does its job: from the complaint over circuit and dial sheet to the shop book."""

import logging
import subprocess
import sys

import pytest

from app import cached, wording
from knowledge.shop_book import ShopBook
from tests.app.case import CASE, WITHOUT_READINGS
from tests.app.screen import EVIL, MAIN, fine, job_of, opened, said


def find_entry(screen, text):
    screen.text_input(key="complaint-text").set_value(text).run()
    return fine(screen)


def test_a_code_leads_to_a_job_in_the_address():
    screen = find_entry(opened(), "P0118")
    screen.button(key="add-P0118").click().run()
    assert screen.text_input(key="complaint-text").value == ""
    assert "P0118 engine coolant temperature 1: signal voltage high → coolant temperature sensor" in said(screen)
    screen.button(key="start-coolant-temperature").click().run()
    job_id = screen.query_params["job"]
    assert cached.shop_book().open(job_id)["complaint"] == ["P0118"]
    assert screen.header[0].value == "Coolant temperature sensor"


def test_synonyms_find_a_symptom_and_it_can_be_taken_off_again():
    screen = find_entry(opened(), "boils over")
    screen.button(key="add-engine-overheats").click().run()
    assert "engine overheats" in said(screen)
    screen.button(key="off-engine-overheats").click().run()
    assert not [button for button in screen.button if button.key.startswith("start-")]


def test_where_a_low_fuel_lamp_switches_is_worked_out_beside_its_refusal():
    screen = find_entry(opened(), "low fuel warning wrong")
    screen.button(key="add-fuel-reserve-lamp").click().run()
    field = screen.text_area(key="lamp-tried-fuel-reserve-thermistor")
    assert "Try about 220 Ω" in said(fine(screen))
    field.set_value("56 lit\n68 dark").run()
    assert "switches between 56 Ω (lit) and 68 Ω (dark): wire, lamp and feed work. Try about 62 Ω" in said(fine(screen))
    screen.text_input(key="lamp-air-fuel-reserve-thermistor").set_value("500")
    screen.text_input(key="lamp-liquid-fuel-reserve-thermistor").set_value("900").run()
    assert "this thermistor no longer falls low enough" in said(fine(screen))
    screen.text_input(key="lamp-at-fuel-reserve-thermistor").set_value("160")
    screen.number_input(key="lamp-drop-fuel-reserve-thermistor").set_value(7.0).run()
    assert "In series with it: about 128 Ω." in said(fine(screen))
    screen.text_area(key="lamp-tried-fuel-reserve-thermistor").set_value("68 <b>lit</b>").run()
    assert "a line takes ohms and lit or dark" in said(fine(screen))
    screen.text_area(key="lamp-tried-fuel-reserve-thermistor").set_value("56 dark\n68 lit").run()
    assert "try both again" in said(fine(screen))


def test_a_restraint_code_is_refused_with_the_reason_and_never_a_value():
    screen = find_entry(opened(), "airbag lamp")
    screen.button(key="add-airbag-lamp").click().run()
    assert "No stand-in here." in screen.error[0].value.replace("\\", "")
    assert not [button for button in screen.button if button.key.startswith("start-")]
    assert "Ω" not in said(screen)


def test_the_shops_own_jobs_show_on_the_next_one():
    book = cached.shop_book()
    for location in ("plug", "sensor", "plug"):
        book.close(job_of({**WITHOUT_READINGS, "complaint": ["P0118"]}), location=location, repaired="", proof_passed=True)
    screen = find_entry(opened(), "P0118")
    screen.button(key="add-P0118").click().run()
    assert "3 shop jobs: plug twice, sensor once" in said(screen)


def test_the_fault_tree_is_drawn_and_readable():
    screen = find_entry(opened(), "P0118")
    screen.button(key="add-P0118").click().run()
    screen.session_state["tree"] = True
    screen.run()
    assert "sensor open inside" in screen.code[0].value
    assert screen.get("graphviz_chart")[0].proto.spec.startswith("digraph")
    screen.selectbox(key="tree-branch").set_value("everything").run()
    assert screen.code[0].value.startswith("P0118 engine coolant temperature")
    fine(screen)


@pytest.mark.parametrize("page", ["circuit", "dial_sheet", "next_step"])
@pytest.mark.parametrize("query", [{}, {"job": "00000000"}, {"job": "x" * 9000}, {"job": "'; drop table jobs; --"}])
def test_without_a_job_a_screen_says_what_to_do(page, query):
    screen = fine(opened(page, **query))
    assert "No job is open. Say first what brings the vehicle in." in said(screen)


def test_the_circuit_screen_says_how_far_a_stand_in_serves(kb):
    screen = fine(opened("circuit", job=job_of({"format": 1, "sensor": "coolant-temperature"})))
    assert kb.sensor("coolant-temperature").summary in said(screen)
    for caution in kb.cautions("coolant-temperature"):
        assert caution.text in said(screen)
    assert "| Input resistor | not known |" in said(screen)
    for row in kb.inputs("coolant-temperature"):
        assert kb.source(row.source).citation in said(screen)


def test_what_is_known_better_is_saved_as_typed_in_fahrenheit():
    job = job_of({"format": 1, "sensor": "coolant-temperature"})
    screen = opened("circuit", job=job, unit="degF")
    screen.text_input(key="circuit-pull_up_ohm").set_value("2.2k")
    screen.number_input(key="circuit-reference_v").set_value(5.0)
    screen.text_area(key="circuit-points-degF").set_value("68 2500\n176 330")
    screen.number_input(key="circuit-around-degF").set_value(70.0)
    screen.button(key="circuit-save").click().run()
    case = cached.shop_book().open(job)
    assert case["circuit"] == {"reference_v": 5.0, "pull_up_ohm": 2200.0,
                               "curve": {"quantity": "temperature", "unit": "degF", "points": [[68, 2500], [176, 330]]}}
    assert case["surroundings"] == {"value": 70.0, "unit": "degF"}
    assert "Saved." in said(fine(screen))
    assert "| Input resistor | 2.2 kΩ (typed) |" in said(screen)
    assert cached.shop_book().log(job)[-1]["event"] == "circuit"


@pytest.mark.parametrize("key, value, sentence", [
    ("circuit-pull_up_ohm", "two", 'The input resistor is "two": ohms are a number such as 330, 9.4k or 4k7.'),
    ("circuit-pull_up_ohm", "0", "The input resistor is 0.0: it takes ohms from 1 to 1e8."),
    ("circuit-pull_up_ohm", EVIL[:40], "The input resistor is "),
    ("circuit-points-degC", "20", 'The curve is "20": a line takes one temperature and its ohms, such as 20 2500.')])
def test_a_mistake_in_the_circuit_is_one_sentence_and_saves_nothing(key, value, sentence):
    job = job_of(WITHOUT_READINGS)
    screen = opened("circuit", job=job)
    (screen.text_area if "points" in key else screen.text_input)(key=key).set_value(value)
    screen.button(key="circuit-save").click().run()
    assert sentence in said(fine(screen))
    assert cached.shop_book().open(job) == WITHOUT_READINGS


def test_the_dial_sheet_reads_in_both_units():
    job = job_of(WITHOUT_READINGS)
    screen = fine(opened("dial_sheet", job=job))
    screen.text_input(key="wanted-coolant-temperature-degC").set_value("80").run()
    celsius = said(screen)
    assert "| 80 °C | 330 Ω" in celsius
    screen.segmented_control(key="unit").set_value("degF").run()
    screen.text_input(key="wanted-coolant-temperature-degF").set_value("176").run()
    assert "| 176 °F | 330 Ω" in said(fine(screen))
    assert screen.query_params["unit"] == "degF"


def test_the_stand_in_in_hand_is_saved():
    job = job_of({"format": 1, "sensor": "coolant-temperature"})
    screen = opened("dial_sheet", job=job)
    screen.text_input(key="stand-in-ends").set_value("9.4k")
    screen.number_input(key="stand-in-turns").set_value(10.0)
    screen.button(key="stand-in-save").click().run()
    assert cached.shop_book().open(job)["stand_in"] == {"kind": "potentiometer", "end_to_end_ohm": 9400.0, "turns": 10.0,
                                                        "watts": 0.25, "lead_ohm": 0.2}
    screen.segmented_control(key="stand-in-kind").set_value("fixed").run()
    screen.text_area(key="stand-in-ohms").set_value("330 1k")
    screen.button(key="stand-in-save").click().run()
    assert cached.shop_book().open(job)["stand_in"] == {"kind": "fixed", "ohms": [330.0, 1000.0], "watts": 0.25, "lead_ohm": 0.2}
    fine(screen)


@pytest.mark.parametrize("text", ["", "warm", "20 " * 70, "99999", EVIL])
def test_unusable_temperatures_are_one_sentence(text):
    screen = opened("dial_sheet", job=job_of(WITHOUT_READINGS))
    screen.text_input(key="wanted-coolant-temperature-degC").set_value(text[:400]).run()
    assert len(fine(screen).error) == 1


def test_a_reload_and_a_restart_go_on_with_the_job():
    job = job_of(CASE)
    cached.shop_book.clear()
    for page in ("circuit", "dial_sheet", "next_step"):
        screen = fine(opened(page, job=job, unit="degF"))
        assert f"Job {job} · coolant temperature sensor" in said(screen)
        assert screen.query_params["job"] == job


def test_what_was_typed_is_never_markup():
    job = job_of({**CASE, "complaint": ["P0116"]})
    cached.shop_book().close(job, location="return", repaired=EVIL, proof_passed=None, note=EVIL)
    screen = fine(opened("book"))
    assert any(node.value == EVIL for node in screen.text)
    for kind in ("markdown", "subheader", "header", "caption", "error", "warning", "info", "success"):
        for node in getattr(screen, kind):
            assert "stranger.example" not in node.value


def test_which_sensors_suit_is_computed_and_sorted(kb):
    screen = fine(opened("suits"))
    table = next(node.value for node in screen.markdown if "Faults noticed" in node.value)
    for sensor in kb.tables.sensors:
        assert (wording.plain(wording.title(sensor.label)) + " |" in table) == (kb.refusal(sensor.id) is None)
    picker = screen.selectbox(key="refused-kind")
    assert set(picker.options) >= {"Fuel composition sensor (no resistor makes this signal)", "Crankshaft sensor, coil (no resistor makes this signal)"}
    assert len(picker.options) == len({row.sensor for row in kb.tables.refusals})
    hazards = sum(kb.refusal(sensor.id) is not None and kb.refusal(sensor.id).kind == "hazard" for sensor in kb.tables.sensors)
    assert all("(danger)" in option for option in picker.options[:hazards]) and "(danger)" not in picker.options[hazards]
    for sensor in ("steering-torque", "flex-fuel", "knock-sensor"):
        picker = screen.selectbox(key="refused-kind")
        picker.set_value(sensor).run()
        assert all(text in said(screen) for text in (kb.refusal(sensor).reason, kb.refusal(sensor).instead, kb.refusal(sensor).caution))
    screen.segmented_control(key="suits-order").set_value("name").run()
    table = next(node.value for node in screen.markdown if "Faults noticed" in node.value)
    names = [line.split(" | ")[0] for line in table.splitlines()[2:]]
    assert names == sorted(names)


def test_an_unexpected_failure_is_one_sentence_and_no_trace(monkeypatch, caplog):
    monkeypatch.setattr(ShopBook, "find", lambda *_: 1 / 0)
    with caplog.at_level(logging.ERROR):
        screen = opened("book")
    assert not screen.exception
    assert screen.error[0].value == wording.PROBLEM
    assert "ZeroDivisionError" not in said(screen)
    assert "ZeroDivisionError" in caplog.text


def test_the_first_screen_loads_no_table_chart_or_statistics_library():
    code = ("import sys; from streamlit.testing.v1 import AppTest; "
            f"at = AppTest.from_file({str(MAIN)!r}, default_timeout=60).run(); assert not at.exception; "
            "assert at.header[0].value == 'What brings the vehicle in?'; "
            "print(sorted({'pandas', 'altair', 'scipy.stats'} & set(sys.modules)))")
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=120, check=False)
    assert done.stdout.strip() == "[]", done.stdout + done.stderr[-2000:]


def test_every_entry_of_the_complaint_field_leads_somewhere(kb):
    screen = opened()
    # Every symptom and sensor kind, and of the codes, which are drawn alike, one in two dozen.
    codes = [entry for entry in kb.entries() if entry.kind == "code"][::24]
    for entry in [*(one for one in kb.entries() if one.kind != "code"), *codes]:
        find_entry(screen, entry.label)
        assert not [button for button in screen.button if button.key.startswith("off-")]
        screen.button(key=f"add-{entry.id}").click().run()
        fine(screen)
        words = said(screen)
        assert "Which sensor?" in words and entry.label in words
        # Taken off in the same breath as the next one is typed.
        screen.button(key=f"off-{entry.id}").click()


def test_every_sensor_kind_that_takes_a_stand_in_can_be_worked(kb):
    for sensor in kb.tables.sensors:
        if kb.refusal(sensor.id):
            continue
        fine(opened("next_step", job=job_of({"format": 1, "sensor": sensor.id}), unit="degF"))


def test_every_kind_of_circuit_has_its_other_screens(kb):
    kinds = {sensor.circuit_kind: sensor.id for sensor in kb.tables.sensors if kb.refusal(sensor.id) is None}
    for sensor in kinds.values():
        job = job_of({"format": 1, "sensor": sensor})
        for page in ("circuit", "book"):
            fine(opened(page, job=job, unit="degF"))


def test_a_refused_kind_in_the_book_is_one_sentence():
    screen = fine(opened("next_step", job=job_of({"format": 1, "sensor": "restraint-circuit"})))
    assert len(screen.error) == 1
    assert "takes no stand-in" in said(screen)
