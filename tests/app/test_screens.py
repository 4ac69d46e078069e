"""Owns the proof that each screen does its job: from the complaint to a proven repair in the shop book."""

import logging
import re
import subprocess
import sys
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

import app
from app import cached, wording
from knowledge import load
from knowledge.shop_book import ShopBook
from tests.app.case import CASE, WITHOUT_READINGS

MAIN = Path(app.__file__).with_name("main.py")
BANNED = re.compile(r"source ohms|thevenin|posterior|\bprior\b|traceback", re.IGNORECASE)
EVIL = ("<script>alert(1)</script> <b>x</b> **bold** _em_ `code` $x^2$ :smile: :red[hot] :material/home: "
        "![i](http://stranger.example/i.png) [l](javascript:alert(1)) https://stranger.example www.stranger.example "
        "a@b.example\x07\x1b[31m\u202e # head\n- item\n| a | b |")


@pytest.fixture(autouse=True)
def own_book(data_dir):
    """The cached shop book belongs to the data directory of this test."""
    cached.shop_book.clear()
    yield
    cached.shop_book.clear()


@pytest.fixture(scope="module")
def kb():
    return load()


def opened(page=None, **query):
    screen = AppTest.from_file(str(MAIN), default_timeout=30)
    for name, value in query.items():
        screen.query_params[name] = value
    screen.run()
    return screen.switch_page(f"screens/{page}.py").run() if page else screen


def job_of(case):
    return cached.shop_book().new_job(case)


def said(screen):
    """Every word on the screen, for looking through; escapes taken off."""
    nodes = [*screen.main, *screen.sidebar]
    words = [str(getattr(node, "value", "")) + str(getattr(node, "label", "")) for node in _walk(nodes)]
    return re.sub(r"\\(.)", r"\1", "\n".join(words)).replace("\u2060", "").replace("\u00a0", " ")


def _walk(nodes):
    for node in nodes:
        if hasattr(node, "children"):
            yield from _walk(node.children.values())
        yield node


def fine(screen):
    """No trace on the screen and no word that does not belong there."""
    assert not screen.exception
    assert wording.PROBLEM not in said(screen)
    assert not BANNED.search(said(screen)), BANNED.search(said(screen))
    return screen


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
                                                        "watts": 0.25}
    screen.segmented_control(key="stand-in-kind").set_value("fixed").run()
    screen.text_area(key="stand-in-ohms").set_value("330 1k")
    screen.button(key="stand-in-save").click().run()
    assert cached.shop_book().open(job)["stand_in"] == {"kind": "fixed", "ohms": [330.0, 1000.0], "watts": 0.25}
    fine(screen)


@pytest.mark.parametrize("text", ["", "warm", "20 " * 70, "99999", EVIL])
def test_unusable_temperatures_are_one_sentence(text):
    screen = opened("dial_sheet", job=job_of(WITHOUT_READINGS))
    screen.text_input(key="wanted-coolant-temperature-degC").set_value(text[:400]).run()
    assert len(fine(screen).error) == 1


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
    assert re.search(r"ohms added in the return wire: about 2\d\d Ω \(2\d\d Ω to 2\d\d Ω\)", said(screen))
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


def test_a_reload_and_a_restart_go_on_with_the_job():
    job = job_of(CASE)
    cached.shop_book.clear()
    for page in ("circuit", "dial_sheet", "next_step"):
        screen = fine(opened(page, job=job, unit="degF"))
        assert f"Job {job} · coolant temperature sensor" in said(screen)
        assert screen.query_params["job"] == job


def test_an_older_knowledge_is_said():
    job = job_of({**WITHOUT_READINGS, "knowledge": "2020.01.01-1"})
    assert "Begun under knowledge 2020.01.01-1, worked now under" in said(opened("next_step", job=job))


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
        assert wording.plain(wording.title(sensor.label)) in table
    assert table.count("refused") == 3
    for row in kb.review():
        if row.refused:
            assert kb.refusal(row.sensor).reason in said(screen)
    screen.segmented_control(key="suits-order").set_value("name").run()
    table = next(node.value for node in screen.markdown if "Faults noticed" in node.value)
    names = [line.split(" | ")[0] for line in table.splitlines()[2:-3]]
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
