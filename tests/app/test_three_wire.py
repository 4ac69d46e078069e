"""Owns the proof that three-wire kinds are worked on screen: shares in place of ohms, three leads, volts of the rail."""

import json
from xml.etree import ElementTree

import pytest

from app import cached, three_lead_drawing
from app.answer import answer
from tests.app.screen import fine, job_of, opened, said

THROTTLE = {"format": 1, "sensor": "throttle-position", "complaint": ["P0122"],
            "circuit": {"reference_v": 5.0, "line": "throttle-050-425", "pull": "down", "input_ohm": 100000},
            "stand_in": {"kind": "potentiometer", "end_to_end_ohm": 10000, "turns": 1, "watts": 0.25}}
PRESSURE = {"format": 1, "sensor": "manifold-pressure", "circuit": {"line": "map-20-250"},
            "stand_in": {"kind": "potentiometer", "end_to_end_ohm": 9400}, "surroundings": {"value": 101.0, "unit": "kPa"}}


def words(drawing):
    return [node.text for node in ElementTree.fromstring(drawing).iter("{http://www.w3.org/2000/svg}text")]


@pytest.mark.parametrize("case", [THROTTLE, PRESSURE, {"format": 1, "sensor": "accelerator-pedal-position"},
                                  {"format": 1, "sensor": "egr-position"}])
@pytest.mark.parametrize("page", ["circuit", "dial_sheet", "next_step"])
def test_every_screen_opens_and_offers_no_unit_of_temperature(case, page):
    screen = fine(opened(page, job=job_of(case), unit="degF"))
    assert not [one for one in screen.segmented_control if one.key == "unit"]
    fields = [*screen.number_input, *screen.text_input, *screen.text_area]
    assert not [field.label for field in fields if "°" in field.label]


def test_the_dial_sheet_gives_shares_of_the_track_with_the_input_s_load_made_up_for():
    screen = fine(opened("dial_sheet", job=job_of(THROTTLE)))
    # A share at an end is written out, never "0." or "1.".
    assert "| 0 % | 0.10" in said(screen) and not [line for line in said(screen).splitlines() if "0.:" in line or "1.:" in line]
    # Half open is 0.475 of the supply; on 100 kohm the track has to stand a little higher.
    assert "| 50 % |" not in said(screen)
    screen.text_input(key="wanted-throttle-position-throttle-050-425").set_value("0 50 100").run()
    line = next(line for line in said(fine(screen)).splitlines() if line.startswith("| 50 % |"))
    assert "0.492: 4.92 kΩ to return" in line and "2.32 to 2.43 V" in line
    assert "1 kΩ stands in the wiper's lead" in said(screen)


def test_a_divided_reading_is_kept_with_its_share_and_the_rail_s_volts():
    job = job_of(THROTTLE)
    cached.shop_book().save(job, THROTTLE, {"event": "pins-known"})
    screen = opened("next_step", job=job)
    screen.selectbox(key="insist-0").set_value("divide").run()
    screen.number_input(key="ratio-0-divide").set_value(0.5)
    screen.number_input(key="number-0-divide-percent").set_value(51.0)
    screen.number_input(key="supply_to_return_v-0-divide").set_value(4.98)
    screen.button(key="save-0-divide").click().run()
    assert cached.shop_book().open(job)["readings"] == [
        {"test": "divide", "shows": 51.0, "unit": "percent", "ratio": 0.5, "supply_to_return_v": 4.98}]
    assert "divided at 0.50 of its track the number was 51 %, 4.98 V from supply to return" in said(fine(screen))


def test_dividing_and_feeding_through_are_locked_until_the_pins_are_known():
    screen = opened("next_step", job=job_of(THROTTLE))
    for test in ("divide", "feed-through"):
        screen.selectbox(key="insist-0").set_value(test).run()
        assert "Locked until the pins are known" in said(fine(screen))


def test_a_supply_fed_from_elsewhere_is_a_stop_sign():
    case = {**THROTTLE, "readings": [{"test": "supply-volts", "supply_to_return_v": 8.2}]}
    assert "Stop: the supply pin shows more than 5.5 V" in said(fine(opened("next_step", job=job_of(case))))
    case = {**THROTTLE, "readings": [{"test": "supply-volts", "supply_to_return_v": 4.97}]}
    assert "Stop:" not in said(fine(opened("next_step", job=job_of(case))))


def test_an_unloaded_supply_is_void_on_screen():
    case = {**THROTTLE, "readings": [{"test": "supply-volts", "supply_to_return_v": 4.9, "loaded": False}]}
    assert "This counts for nothing: a supply that nothing draws from may still collapse" in said(
        fine(opened("next_step", job=job_of(case))))


def test_the_line_form_takes_points_in_volts_and_the_pull():
    job = job_of({"format": 1, "sensor": "manifold-pressure"})
    screen = opened("circuit", job=job)
    screen.text_area(key="line-points-kPa").set_value("0.5 20\n4.5 250")
    screen.selectbox(key="line-pull").set_value("up")
    screen.number_input(key="line-rest-kPa").set_value(99.5)
    screen.button(key="line-save").click().run()
    kept = cached.shop_book().open(job)
    assert kept["circuit"] == {"pull": "up", "line": {"unit": "kPa", "points": [[0.5, 20.0], [4.5, 250.0]]}}
    assert kept["surroundings"] == {"value": 99.5, "unit": "kPa"}
    fine(screen)


def test_each_test_s_drawing_has_three_wires_and_what_the_hand_puts_there():
    kb = cached.knowledge()
    for kind in kb.tests("throttle-position"):
        assert {"supply", "signal", "return", "module", "plug"} <= set(words(three_lead_drawing.drawing(kind, 0.5))), kind.id
    kinds = {kind.id: kind for kind in kb.tests("throttle-position")}
    assert {"stand-in", "at 0.25", "1 kΩ"} <= set(words(three_lead_drawing.drawing(kinds["divide"], 0.25)))
    assert "5 kΩ" in words(three_lead_drawing.drawing(kinds["feed-through"]))
    assert "battery negative" in words(three_lead_drawing.drawing(kinds["substitute-to-chassis"], 0.5))


PEDAL = {"format": 1, "sensor": "accelerator-pedal-position", "stand_in": {"kind": "potentiometer", "end_to_end_ohm": 10000}}


def test_a_pedal_gets_both_settings_in_their_relation_and_the_codes_to_expect():
    screen = fine(opened("dial_sheet", job=job_of(PEDAL)))
    assert "| 50 % | 0.475, 2.38 V | 0.515, 2.58 V |" in said(screen)
    assert "Expect P2135" in said(screen) and "That code proves nothing" in said(screen)


def test_a_track_of_pulses_is_refused_with_the_reason():
    screen = opened("dial_sheet", job=job_of(PEDAL))
    pairs = cached.knowledge().track_pairs("accelerator-pedal-position")
    screen.selectbox(key="track-pair").set_value(next(pair for pair in pairs if pair.second is None)).run()
    assert "timed pulses" in said(fine(screen)) and "| 50 % | 0.475, 2.38 V" not in said(screen)


def test_the_headless_answer_names_the_return_and_gives_shares_to_divide_by():
    kb = cached.knowledge()
    case = {"format": 1, "sensor": "throttle-position", "circuit": {"line": "position-absolute"}, "readings": [
        {"test": "supply-volts", "supply_to_return_v": 1.73, "supply_to_battery_v": 5.0},
        {"test": "signal-volts", "signal_to_return_v": 0.29},
        {"test": "signal-volts", "signal_to_return_v": 1.08, "at": {"value": 100, "unit": "percent"}}]}
    found = json.loads(answer(kb, case))
    assert max(found["locations"], key=found["locations"].get) == "return"
    assert any("from supply to return" in one and "return" in one for one in found["verdict"]["because"])
    started = json.loads(answer(kb, {"format": 1, "sensor": "manifold-pressure", "complaint": ["P0107"]}))
    dividing = [one for one in started["next"] if one["test"] == "divide"]
    assert dividing and all(0.0 < one["ratio"] < 1.0 and one["ohm"] is None for one in dividing)
    assert all("ratio" not in one for one in started["next"] if one["test"] == "as-found")


def test_a_pressure_typed_in_another_unit_is_shown_as_typed():
    case = {**PRESSURE, "readings": [{"test": "barometer", "shows": 711, "unit": "mbar", "at": {"value": 14.5, "unit": "psi"}}]}
    found = said(fine(opened("next_step", job=job_of(case))))
    assert "the number was 711 mbar, 14.5 psi beside it" in found


@pytest.mark.parametrize(("line", "shown", "volts", "sentence"), [
    ("map-20-250", (85, 147), 1.80, "Module and sensor follow the same line"),
    ("map-20-250", (85, 147), 4.00, "a part for another range is fitted"),
    ("map-20-250", (32, 60), 1.80, "it is coded for another sensor")])
def test_which_side_differs_is_said_once_two_dividers_and_the_air_pressure_were_read(line, shown, volts, sentence):
    readings = [{"test": "divide", "ratio": ratio, "shows": number, "unit": "kPa"} for ratio, number in zip((0.3, 0.55), shown, strict=True)]
    known = {"test": "barometer", "shows": 100, "at": {"value": 100, "unit": "kPa"}, "signal_to_return_v": volts, "supply_to_return_v": 5.0}
    case = {**PRESSURE, "circuit": {"line": line}, "readings": readings}
    assert sentence not in said(fine(opened("next_step", job=job_of(case))))
    assert sentence in said(fine(opened("next_step", job=job_of({**case, "readings": [*readings, known]}))))
