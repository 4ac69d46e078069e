"""Owns the proof that a gauge is read by tap or segments, in its own words, and that a stand-in that burns is said to."""

import json
import re

import pytest

from app import answer, cached, hook_up
from app.gauge_words import PLACES
from engine.pointer import pointer
from tests.app.screen import fine, job_of, opened, said

FUEL = {"format": 1, "sensor": "fuel-level-gauge", "complaint": ["needle-wrong-fuel"],
        "stand_in": {"kind": "fixed", "ohms": [33, 100, 220]}}
TRACK = {**FUEL, "stand_in": {"kind": "potentiometer", "end_to_end_ohm": 10000, "watts": 0.25}}


def test_every_place_that_can_be_tapped_is_understood():
    assert all(pointer(place) is not None for place in PLACES)


def test_a_needle_is_entered_by_one_tap_and_kept_as_it_stands():
    job = job_of(FUEL)
    screen = opened("next_step", job=job)
    screen.selectbox(key="insist-0").set_value("as-found").run()
    assert not screen.segmented_control or all(one.key != "unit" for one in screen.segmented_control)
    screen.segmented_control(key="needle-0-as-found").set_value("3/4")
    screen.button(key="save-0-as-found").click().run()
    assert cached.shop_book().open(job)["readings"] == [{"test": "as-found", "shows": "3/4", "unit": "percent"}]
    assert "the needle stood at 3/4" in said(fine(screen))


def test_segments_are_counted():
    job = job_of(FUEL)
    screen = opened("next_step", job=job)
    screen.selectbox(key="insist-0").set_value("as-found").run()
    screen.number_input(key="lit-0-as-found").set_value(3)
    screen.number_input(key="out-of-0-as-found").set_value(8)
    screen.button(key="save-0-as-found").click().run()
    assert cached.shop_book().open(job)["readings"][0]["shows"] == "3 of 8"


def test_nothing_tapped_is_asked_for():
    job = job_of(FUEL)
    screen = opened("next_step", job=job)
    screen.selectbox(key="insist-0").set_value("as-found").run()
    screen.button(key="save-0-as-found").click().run()
    assert "tap it, type the segments" in said(fine(screen)) and not cached.shop_book().open(job).get("readings")


def test_a_potentiometer_that_would_burn_is_said_so():
    screen = opened("next_step", job=job_of(TRACK))
    screen.selectbox(key="insist-0").set_value("substitute").run()
    assert "0.5" in said(screen) and "Use a fixed resistor" in said(fine(screen))


def test_test_points_are_offered_where_a_resistor_goes_on_and_nowhere_else():
    screen = opened("next_step", job=job_of({**FUEL, "circuit": {"curve": "level-240-33"}}))
    for test, offered in (("substitute", True), ("look", False)):
        screen.selectbox(key="insist-0").set_value(test).run()
        assert ("Test points from your parts" in said(fine(screen))) == offered


def test_the_other_gauge_is_judged_in_its_own_words():
    screen = opened("next_step", job=job_of(FUEL))
    screen.selectbox(key="insist-0").set_value("other-gauge").run()
    assert "Another one is wrong too" in screen.radio(key="good-0-other-gauge").options


@pytest.mark.parametrize("page", ["circuit", "dial_sheet", "next_step"])
def test_a_gauge_is_in_percent_of_its_scale(page):
    screen = fine(opened(page, job=job_of(FUEL), unit="degF"))
    assert not [field.label for field in (*screen.number_input, *screen.text_input) if "°" in field.label]


def test_the_drawing_names_a_gauge():
    kind = next(test for test in cached.knowledge().tests("fuel-level-gauge") if test.id == "substitute")
    drawn = hook_up.drawing(kind, 100.0, one_wire=True, feed_v=12.6, reader="gauge")
    assert ">gauge<" in drawn and "sender's ground" in drawn.replace("&apos;", "'").replace("&#x27;", "'") and "engine block" not in drawn


def test_the_answer_of_a_gauge_case():
    case = {**FUEL, "circuit": {"open_goes": "low"},
            "readings": [{"test": "as-found", "shows": "below E"}, {"test": "substitute", "ohm": 100, "shows": "1/2"}]}
    found = json.loads(answer.answer(cached.knowledge(), case))
    assert found["verdict"]["state"] == "open" and found["locations"]["signal"] < 0.05
    assert {"curve_ohm_0", "curve_ohm_100"} <= set(found["learned"])


def test_which_way_open_goes_is_asked_and_kept():
    job = job_of(FUEL)
    screen = opened("circuit", job=job)
    screen.radio(key="circuit-open-goes").set_value("low")
    screen.button(key="circuit-save").click().run()
    fine(screen)
    assert cached.shop_book().open(job)["circuit"] == {"open_goes": "low"}


def test_grounding_a_gauge_waits_for_the_diagram_alone():
    """A gauge wire takes no pin finding: only the diagram opens the lock."""
    screen = opened("next_step", job=job_of(FUEL))
    screen.selectbox(key="insist-0").set_value("shorted").run()
    assert not [one for one in screen.button if one.key == "lock-find-0"]
    screen.button(key="lock-diagram-0").click().run()
    assert [one for one in fine(screen).segmented_control if one.key == "needle-0-shorted"]


@pytest.mark.parametrize("sensor", ["fuel-level-gauge", "coolant-temperature-gauge", "oil-pressure-gauge"])
@pytest.mark.parametrize("page", ["circuit", "dial_sheet", "next_step"])
def test_no_screen_of_a_gauge_speaks_of_a_module_or_of_live_data(sensor, page):
    readings = [{"test": "as-found", "shows": "3/4"}, {"test": "substitute", "ohm": 100, "shows": "1/2"}]
    screen = fine(opened(page, job=job_of({**FUEL, "sensor": sensor, "readings": readings})))
    # The note on clean work at its terminals and the navigation name both kinds of reader.
    words = said(screen).replace("At module or cluster", "")
    assert not re.search(r"[^.\n]*\b(modules?|live data)\b[^.\n]*", words, re.IGNORECASE), words
    if page == "next_step":
        assert "gauge or cluster" in words and "gauge's feed" in words


def test_each_test_and_repair_of_a_gauge_speaks_of_the_gauge(kb):
    job = kb.job("fuel-level-gauge")
    texts = [" ".join((words.label, *words.hand, words.connect, words.proves)) for words in (kb.test(test.id, job.sensor) for test in job.tests)]
    texts += [" ".join((kb.fault(fault.id).label, action.label, action.repair, action.proof))
              for fault in job.faults for action in [kb.action(fault.id)]]
    texts += [kb.fault_tree_text(kb.fault_tree(["needle-wrong-fuel"], None, job.sensor))]
    assert not [text for text in texts if re.search(r"\b(modules?|live data)\b", text, re.IGNORECASE)]


def test_what_gauges_share_is_said_once():
    screen = fine(opened("circuit", job=job_of(FUEL)))
    assert len([one for one in screen.info if "One instrument regulator often feeds both gauges" in one.value]) == 1
