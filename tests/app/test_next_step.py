"""Owns the proof that the working screen asks, takes readings, reaches a verdict and leads to a kept job."""

import re

import pytest

from app import cached, wording
from tests.app.case import CASE, WITHOUT_READINGS
from tests.app.screen import fine, job_of, opened, said


def test_the_next_step_says_what_why_and_how(kb):
    screen = fine(opened("next_step", job=job_of(WITHOUT_READINGS)))
    job = kb.open_case(WITHOUT_READINGS)
    first = job.advice()[0]
    words = kb.test(first.test)
    for part in (words.label, words.connect, words.proves, *words.hand):
        assert part in said(screen), part
    assert "Nothing measured yet: these are the chances before measuring." in said(screen)


def test_a_test_the_technician_insists_on_is_taken_as_typed():
    job = job_of(WITHOUT_READINGS)
    screen = opened("next_step", job=job, unit="degF")
    screen.selectbox(key="insist-0").set_value("substitute").run()
    screen.text_input(key="ohm-0-substitute").set_value("330")
    screen.number_input(key="number-0-substitute-degF").set_value(142.0)
    screen.number_input(key="signal_to_return_v-0-substitute").set_value(0.65)
    screen.button(key="save-0-substitute").click().run()
    assert cached.shop_book().open(job)["readings"] == [
        {"test": "substitute", "ohm": 330.0, "shows": 142.0, "unit": "degF", "signal_to_return_v": 0.65}]
    assert "Saved. 1 reading kept." in said(fine(screen))
    assert "with 330 Ω the number was 142 °F" in said(screen)


@pytest.mark.parametrize("word", ["did-not-move", "maximum", "minimum", "jumps", "drifts", "not-available"])
def test_a_word_is_a_reading_too(word):
    job = job_of(WITHOUT_READINGS)
    screen = opened("next_step", job=job)
    screen.selectbox(key="insist-0").set_value("as-found").run()
    screen.selectbox(key="word-0-as-found").set_value(word)
    screen.button(key="save-0-as-found").click().run()
    assert cached.shop_book().open(job)["readings"] == [{"test": "as-found", "shows": word}]
    assert wording.SHOWN_WORDS[word] in said(fine(screen))


def test_every_test_has_a_form_that_refuses_an_empty_reading(kb):
    job = job_of(WITHOUT_READINGS)
    cached.shop_book().save(job, WITHOUT_READINGS, {"event": "pins-known", "by": "diagram"})
    for kind in kb.open_case(WITHOUT_READINGS).tests:
        screen = opened("next_step", job=job)
        screen.selectbox(key="insist-0").set_value(kind.id).run()
        screen.button(key=f"save-0-{kind.id}").click().run()
        assert len(fine(screen).error) >= 1, kind.id
        assert cached.shop_book().open(job) == WITHOUT_READINGS


def test_the_worked_case_is_found_repaired_and_kept(kb):
    job = job_of(CASE)
    screen = fine(opened("next_step", job=job))
    assert screen.header[0].value == "Found"
    assert "The fault is in: return wire (over 99 % sure)." in said(screen)
    assert re.search(r"Ohms added in the return wire: about 2\d\d Ω \(2\d\d Ω to 2\d\d Ω\)", said(screen))
    action = kb.action("return-added-ohms")
    assert action.repair in said(screen) and action.proof in said(screen)
    screen.radio(key="cured").set_value("no").run()
    next(button for button in screen.button if button.label == "Next: keep this job").click().run()
    assert cached.shop_book().log(job)[-1] | {"at": ""} == {"at": "", "event": "verdict", "fault": "return-added-ohms",
                                                            "cured_by_connecting": False}
    screen.switch_page("screens/book.py").run()
    assert screen.selectbox(key="close-where").value == "return"
    screen.text_input(key="close-repaired").set_value("splice remade")
    screen.text_area(key="close-note").set_value("behind the left lamp")
    screen.button(key="close-save").click().run()
    assert f"Saved. Job {job} is in the shop book." in said(fine(screen))
    assert "No job open" in said(screen)
    assert "job" not in screen.query_params
    screen.text_input(key="book-words").set_value("left LAMP").run()
    assert "behind the left lamp" in said(screen)
    screen.text_input(key="book-words").set_value("nothing like it").run()
    assert "behind the left lamp" not in said(screen)


def test_connecting_may_itself_have_cured_it():
    screen = opened("next_step", job=job_of(CASE))
    screen.radio(key="cured").set_value("yes").run()
    assert "a contact was poor where you connected" in said(fine(screen))


def test_a_reading_taken_back_is_gone_from_the_job_and_stays_in_the_log():
    job = job_of(CASE)
    screen = opened("next_step", job=job)
    screen.button(key="undo-8-6").click().run()
    assert [reading["test"] for reading in cached.shop_book().open(job)["readings"]] == [
        reading["test"] for number, reading in enumerate(CASE["readings"]) if number != 6]
    assert cached.shop_book().log(job)[-1]["event"] == "taken-back"
    assert cached.shop_book().log(job)[-1]["reading"] == CASE["readings"][6]
    assert "Saved. Taken back; 7 readings kept." in said(fine(screen))


def test_an_older_knowledge_is_said():
    job = job_of({**WITHOUT_READINGS, "knowledge": "2020.01.01-1"})
    assert "Begun under knowledge 2020.01.01-1, worked now under" in said(opened("next_step", job=job))


def test_readings_that_fit_nothing_are_said_and_can_be_taken_again(kb):
    readings = [*CASE["readings"][:4], {"test": "substitute-to-chassis", "ohm": 330, "shows": 150, "unit": "degC"},
                *CASE["readings"][5:]]
    case = {**CASE, "readings": readings}
    verdict = kb.open_case(case).verdict()
    assert verdict.state == "nothing-fits"
    screen = fine(opened("next_step", job=job_of(case)))
    assert screen.header[0].value == "Nothing listed fits"
    assert "Check how that test was set up and take it again." in said(screen)
    misfit = readings[verdict.misfit]["test"]
    assert [button for button in screen.button if button.key == f"save-{len(readings)}-{misfit}"]
    screen.button(key=f"misfit-{len(readings)}").click().run()
    assert "Saved. Taken back; 7 readings kept." in said(fine(screen))
    assert screen.header[0].value != "Nothing listed fits"
