"""Owns the proof that a circuit can be learned, kept under a name, taken again, and typed with all it may do."""

import re

import pytest

from app import cached
from engine.errors import InputError
from tests.app.case import WITHOUT_READINGS
from tests.app.screen import EVIL, fine, job_of, opened, said

# A healthy circuit of 2.2 kohm to 5 V with 2500 ohm at 20 degC and 330 ohm at 80 degC, about which nothing was told.
UNTOLD = {"format": 1, "sensor": "coolant-temperature", "readings": [
    {"test": "plug-volts", "signal_to_return_v": 5.0, "signal_to_battery_v": 5.0},
    {"test": "substitute", "ohm": 330, "shows": 80, "unit": "degC", "signal_to_return_v": 0.652},
    {"test": "substitute", "ohm": 2500, "shows": 20, "unit": "degC", "signal_to_return_v": 2.66},
    {"test": "sensor-ohms", "ohms": 2400, "at": {"value": 21, "unit": "degC"}}]}


def test_the_learned_circuit_is_one_sentence_and_can_be_used():
    job = job_of(UNTOLD)
    screen = fine(opened("next_step", job=job))
    # Its ends are read off draws: the third digit may be either neighbour.
    assert re.search(r"The input looks like 2\.2 kΩ to 5\.0 V \(2\.1[56] kΩ to 2\.2[45] kΩ\), its curve like 2\.4", said(screen))
    screen.button(key="learned-use-4").click().run()
    circuit = cached.shop_book().open(job)["circuit"]
    assert 2150 < circuit["pull_up_ohm"] < 2250 and 4.9 < circuit["open_v"] < 5.1
    assert "Saved. The learned circuit is used." in said(fine(screen))


def test_a_learned_circuit_is_kept_under_a_name_and_taken_on_the_next_one():
    screen = opened("next_step", job=job_of(UNTOLD))
    screen.button(key="learned-4-keep").click().run()
    assert "a circuit is kept under a name" in said(fine(screen))
    screen.text_input(key="learned-4-name").set_value("ferry vans")
    screen.button(key="learned-4-keep").click().run()
    assert "Saved. ferry vans is in the shop book." in said(fine(screen))
    job = job_of({"format": 1, "sensor": "coolant-temperature"})
    screen = opened("circuit", job=job)
    screen.selectbox(key="offer-kept").set_value("ferry vans").run()
    screen.button(key="offer-kept-use").click().run()
    assert cached.shop_book().open(job)["circuit"] == cached.shop_book().circuits("coolant-temperature")["ferry vans"]
    assert "(typed)" in said(fine(screen))


def test_the_shop_book_keeps_circuits_by_kind_and_name():
    book = cached.shop_book()
    book.keep_circuit(" vans ", "coolant-temperature", {"pull_up_ohm": 1000})
    book.keep_circuit(EVIL[:80], "coolant-temperature", {"pull_up_ohm": 1500})
    book.keep_circuit("vans", "coolant-temperature", {"pull_up_ohm": 2200})
    assert book.circuits("coolant-temperature")["vans"] == {"pull_up_ohm": 2200}
    assert len(book.circuits("coolant-temperature")) == 2
    assert book.circuits("fuel-level") == {}
    assert book.check() == "ok"
    for name in ("", "  ", "x" * 81, None):
        with pytest.raises(InputError):
            book.keep_circuit(name, "coolant-temperature", {})
    fine(opened("circuit", job=job_of(WITHOUT_READINGS)))


def test_a_published_input_is_taken_with_all_that_is_known_of_it(kb):
    case = {"format": 1, "sensor": "cylinder-head-temperature", "circuit": {"curve": "ntc-30k-25c-cylinder-head"}}
    job = job_of(case)
    screen = opened("circuit", job=job)
    screen.selectbox(key="offer-published").set_value("input-20k-952").run()
    screen.button(key="offer-published-use").click().run()
    assert cached.shop_book().open(job)["circuit"] == {**case["circuit"], **kb.input_fields("input-20k-952")}
    assert "| Second input resistor | 952 Ω, switched at 92 °C" in said(fine(screen)).replace("93 °C", "92 °C")


def test_what_an_input_may_do_is_typed_and_read_back():
    job = job_of(WITHOUT_READINGS)
    screen = opened("circuit", job=job, unit="degF")
    screen.text_input(key="circuit-second_pull_up_ohm").set_value("220")
    screen.number_input(key="circuit-switch-degF").set_value(122.0)
    screen.number_input(key="circuit-band-degF").set_value(18.0)
    screen.number_input(key="circuit-default-degF").set_value(104.0)
    screen.number_input(key="circuit-default-high-degF").set_value(176.0)
    screen.checkbox(key="circuit-latched").check()
    screen.checkbox(key="circuit-strobed").check()
    screen.number_input(key="circuit-settle").set_value(12.0)
    screen.number_input(key="circuit-other-open_v").set_value(8.0)
    screen.text_input(key="circuit-other-pull_up_ohm").set_value("15k")
    screen.button(key="circuit-save").click().run()
    circuit = cached.shop_book().open(job)["circuit"]
    assert circuit["default"] == [{"value": 104.0, "unit": "degF"}, {"value": 176.0, "unit": "degF"}]
    assert circuit["second_instrument"] == {"open_v": 8.0, "pull_up_ohm": 15000.0}
    assert (circuit["latched"], circuit["strobed"], circuit["settle_s"]) == (True, True, 12.0)
    shown = said(fine(screen))
    for row in ("| Second input resistor | 220 Ω, switched at 122 °F, within ± 9 °F |", "| Settles in | 12 s |",
                "| Second instrument | 15 kΩ to 8.00 V |", "| A code sets | below 0.10 V and above 4.90 V |",
                "| After a code it shows | 104 to 176 °F, until codes are cleared and the key was off |"):
        assert row in shown, row
    again = fine(opened("circuit", job=job))
    assert (again.number_input(key="circuit-default-degC").value, again.number_input(key="circuit-default-high-degC").value) == (40, 80)
    assert again.number_input(key="circuit-band-degC").value == 10


def test_an_upper_default_alone_is_one_sentence():
    screen = opened("circuit", job=job_of(WITHOUT_READINGS))
    screen.number_input(key="circuit-default-high-degC").set_value(80.0)
    screen.button(key="circuit-save").click().run()
    assert "The number after a code is \"only the upper end\": type the lower one as well." in said(fine(screen))


def test_a_drawer_of_preferred_values_is_a_stand_in():
    job = job_of(WITHOUT_READINGS)
    screen = opened("dial_sheet", job=job)
    screen.segmented_control(key="stand-in-kind").set_value("E24").run()
    screen.number_input(key="stand-in-leads").set_value(0.4)
    screen.text_input(key="stand-in-low_ohm").set_value("1")
    screen.button(key="stand-in-save").click().run()
    assert cached.shop_book().open(job)["stand_in"] == {"kind": "fixed", "series": "E24", "watts": 0.2, "lead_ohm": 0.4,
                                                        "low_ohm": 1.0}
    screen.text_input(key="wanted-coolant-temperature-degC").set_value("80").run()
    assert "| 80 °C | 330 Ω" in said(fine(screen))
    assert "a drawer of E24 values" in said(fine(opened("suits", job=job)))


def test_the_sheet_says_two_volts_codes_and_the_wrong_leg():
    switching = {"reference_v": 5.0, "pull_up_ohm": 20000, "second_pull_up_ohm": 952, "switch_at": 92.5, "switch_band": 15,
                 "low_limit_v": 0.2, "high_limit_v": 4.85, "default": [40, 80], "curve": "ntc-30k-25c-cylinder-head"}
    screen = opened("dial_sheet", job=job_of({**WITHOUT_READINGS, "sensor": "cylinder-head-temperature", "complaint": [],
                                              "circuit": switching, "stand_in": {"end_to_end_ohm": 100000}}))
    screen.text_input(key="wanted-cylinder-head-temperature-degC").set_value("-40 90").run()
    shown = said(fine(screen))
    row = next(line for line in shown.splitlines() if line.startswith("| 90 °C") and line.count("V") >= 2)
    assert " V or " in row
    assert "At 90 °C: Two voltages are right here" in shown
    assert "At -40 °C: A code sets there, and the module shows 40 to 80 °C instead." in shown
    assert "or a code" in shown and "Wrong outer leg reads" in shown


def test_a_drawer_that_cannot_be_is_one_sentence_in_the_words_of_the_screen():
    job = job_of({**WITHOUT_READINGS, "stand_in": {"kind": "fixed", "series": "E12"}})
    screen = fine(opened("dial_sheet", job=job))
    assert screen.segmented_control(key="stand-in-kind").value == "E12"
    screen.text_input(key="stand-in-low_ohm").set_value("2k")
    screen.text_input(key="stand-in-high_ohm").set_value("1k")
    screen.button(key="stand-in-save").click().run()
    assert "The lowest value is 2000.0: it must lie below the highest value, which is 1000." in said(fine(screen))
