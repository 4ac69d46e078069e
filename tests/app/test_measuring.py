"""Owns the proof that measurements are taken whole: void ones said, locked ones explained, provoked ones not called passed."""

import re

import pytest

from app import cached
from tests.app.case import CASE, WITHOUT_READINGS
from tests.app.screen import fine, job_of, opened, said

AT_21 = {"value": 21, "unit": "degC"}
JUMPS = {**WITHOUT_READINGS, "complaint": ["number-jumps"]}


def wanted(case, test):
    """The working screen of a new job on `case` with `test` insisted on, and the job's id."""
    job = job_of(case)
    screen = opened("next_step", job=job)
    number = len(case.get("readings", ()))
    return screen.selectbox(key=f"insist-{number}").set_value(test).run(), job


def labels(screen):
    return [re.sub(r"\\(.)", r"\1", button.label).replace("\u2060", "") for button in screen.button]


def test_ohms_both_ways_round_and_what_was_still_plugged_on_are_kept():
    screen, job = wanted(WITHOUT_READINGS, "return-ohms")
    screen.text_input(key="ohms-0-return-ohms").set_value("3")
    screen.text_input(key="swapped-0-return-ohms").set_value("open")
    screen.checkbox(key="in-circuit-0-return-ohms").check()
    screen.button(key="save-0-return-ohms").click().run()
    assert cached.shop_book().open(job)["readings"] == [
        {"test": "return-ohms", "ohms": 3.0, "ohms_swapped": "open", "in_circuit": True}]
    assert "the meter showed 3 Ω, open with its leads swapped, something else still on it" in said(fine(screen))


def test_milliamperes_are_kept():
    case = {**WITHOUT_READINGS, "readings": [{"test": "find-pins", "good": True}]}
    screen, job = wanted(case, "short-circuit-current")
    screen.number_input(key="ma-1-short-circuit-current").set_value(2.27)
    screen.button(key="save-1-short-circuit-current").click().run()
    assert cached.shop_book().open(job)["readings"][1] == {"test": "short-circuit-current", "signal_ma": 2.27}
    assert "the meter showed 2.27 mA" in said(fine(screen))


@pytest.mark.parametrize("test, field, what", [
    ("sensor-sweep", "ohms", "temperature of the sensor then"), ("compare-cold", "number", "the other sensor's number")])
def test_a_test_that_needs_the_temperature_beside_it_asks_for_it(test, field, what):
    screen, job = wanted(WITHOUT_READINGS, test)
    if field == "ohms":
        screen.text_input(key=f"ohms-0-{test}").set_value("330")
    else:
        screen.number_input(key=f"number-0-{test}-degC").set_value(20.0)
    screen.button(key=f"save-0-{test}").click().run()
    assert f"{what} is \"empty\": this test says nothing without it".lower() in said(fine(screen)).lower()
    assert cached.shop_book().open(job) == WITHOUT_READINGS
    screen.number_input(key=f"at-0-{test}-degC").set_value(80.0)
    screen.button(key=f"save-0-{test}").click().run()
    assert cached.shop_book().open(job)["readings"][0]["at"] == {"value": 80.0, "unit": "degC"}


@pytest.mark.parametrize("readings, sentence", [
    ([{"test": "return-ohms", "ohms": 3, "ohms_swapped": 40}], "a voltage is in the way"),
    ([{"test": "sensor-ohms", "ohms": 900, "in_circuit": True, "at": AT_21}], "the meter measured that as well"),
    ([{"test": "return-ohms", "ohms": 3}, {"test": "return-ohms", "ohms": 90}], "no mean is taken")])
def test_a_void_measurement_is_said_and_can_be_taken_back(readings, sentence):
    job = job_of({**WITHOUT_READINGS, "readings": readings})
    screen = fine(opened("next_step", job=job))
    assert sentence in said(screen)
    screen.button(key=f"void-{len(readings)}-0").click().run()
    assert cached.shop_book().open(job)["readings"] == readings[1:]


@pytest.mark.parametrize("test", ["shorted", "short-circuit-current"])
def test_bridging_stays_locked_until_the_pins_are_known(test, kb):
    screen, job = wanted(WITHOUT_READINGS, test)
    assert "Locked until the pins are known" in said(fine(screen))
    assert "Save the reading" not in labels(screen)
    for caution in kb.test(test).cautions:
        assert caution.text in said(screen)
    screen.button(key="lock-find-0").click().run()
    assert kb.test("find-pins").label in [node.value for node in screen.subheader]
    screen.radio(key="good-0-find-pins").set_value("good")
    screen.button(key="save-0-find-pins").click().run()
    screen.selectbox(key="insist-1").set_value(test).run()
    assert "Save the reading" in labels(fine(screen))


def test_the_diagram_opens_the_lock_for_good():
    screen, job = wanted(WITHOUT_READINGS, "shorted")
    screen.button(key="lock-diagram-0").click().run()
    assert "Pins known from the diagram." in said(fine(screen))
    cached.shop_book.clear()
    screen = opened("next_step", job=job)
    screen.selectbox(key="insist-0").set_value("shorted").run()
    assert "Save the reading" in labels(screen)
    assert cached.shop_book().log(job)[-1]["event"] == "pins-known"


def test_a_mistaken_tap_on_the_diagram_can_be_taken_back():
    screen, job = wanted(WITHOUT_READINGS, "shorted")
    screen.button(key="lock-diagram-0").click().run()
    screen.selectbox(key="insist-0").set_value("shorted").run()
    screen.button(key="lock-back-0").click().run()
    assert "the diagram does not count as naming the pins" in said(fine(screen))
    screen.selectbox(key="insist-0").set_value("shorted").run()
    assert "Locked until the pins are known" in said(screen) and "Save the reading" not in labels(screen)
    # Tapped again it counts again; pins found by the test need no take-back, which taking the reading back is.
    screen.button(key="lock-diagram-0").click().run()
    screen.selectbox(key="insist-0").set_value("shorted").run()
    assert "Save the reading" in labels(fine(screen))
    screen, _ = wanted({**WITHOUT_READINGS, "readings": [{"test": "find-pins", "good": True}]}, "shorted")
    assert "Save the reading" in labels(screen) and "Take that back" not in labels(screen)


def test_pins_found_bad_lock_again():
    readings = [{"test": "find-pins", "good": True}, {"test": "find-pins", "good": False}]
    screen, _ = wanted({**WITHOUT_READINGS, "readings": readings}, "shorted")
    assert "Locked until the pins are known" in said(fine(screen))


def test_what_comes_and_goes_is_provoked_and_never_called_passed():
    job = job_of(JUMPS)
    screen = fine(opened("next_step", job=job))
    for condition in ("Bumps and shaking", "Heat", "Lights and loads", "Engine running"):
        assert condition in labels(screen)
    screen.button(key="provoke-0-warm-harness").click().run()
    assert "Blow warm air" in said(fine(screen))
    screen.radio(key="good-0-warm-harness").set_value("good")
    screen.button(key="save-0-warm-harness").click().run()
    assert "Heat: normal now, not passed" in labels(fine(screen))
    assert "normal now, not passed" in said(screen)


def test_a_steady_fault_is_not_provoked():
    assert "Bumps and shaking" not in labels(opened("next_step", job=job_of(CASE)))
