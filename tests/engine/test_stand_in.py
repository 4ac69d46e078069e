"""Owns what a stand-in can be brought to, how well its value is known, and what is turned away when typed."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.errors import InputError
from engine.preferred_values import preferred
from engine.stand_in import Meter, StandIn, contact_step, hand_step, other_leg_ohm, set_to

STEADY = settings(max_examples=80, deadline=None, derandomize=True)
POT = StandIn(end_to_end_ohm=9300.0)


def test_one_hand_movement_of_a_single_turn_track():
    # 1.5 of 270 degrees of 10 kohm: 55.6 ohm; of ten turns: 5.6, held at the contact's 10 / sqrt(10) = 3.2 ohm.
    assert hand_step(StandIn(end_to_end_ohm=10000.0)) == pytest.approx(55.56, abs=0.01)
    assert hand_step(StandIn(end_to_end_ohm=10000.0, turns=10.0)) == pytest.approx(5.556, abs=0.001)
    assert hand_step(StandIn(end_to_end_ohm=10000.0, turns=40.0)) == pytest.approx(10.0 / 40.0**0.5, abs=0.001)
    # A tenth of a percent of 10 kohm is 10 ohm; of 100 ohm 3 ohm would be too much: 1 %, 1 ohm.
    assert contact_step(StandIn(end_to_end_ohm=10000.0)) == pytest.approx(10.0)
    assert contact_step(StandIn(end_to_end_ohm=100.0)) == pytest.approx(1.0)


@STEADY
@given(st.floats(10.0, 1e6), st.floats(0.0, 1.0), st.sampled_from([1.0, 3.0, 10.0, 25.0]))
def test_a_potentiometer_is_set_anywhere_up_to_its_measured_end(total, share, turns):
    part = StandIn(end_to_end_ohm=total, turns=turns)
    ohm = contact_step(part) + share * (total - contact_step(part))
    setting = set_to(part, Meter(), min(ohm, total))
    assert setting.ohm == pytest.approx(ohm)
    assert setting.reach_ohm == hand_step(part)
    assert setting.known_ohm > Meter().ohm_band(ohm)
    assert set_to(part, Meter(), total * 1.0001) is None
    assert set_to(part, Meter(), contact_step(part) * 0.99) is None


def test_an_unmeasured_potentiometer_is_set_nowhere():
    assert set_to(StandIn(), Meter(), 1000.0) is None


def test_a_decade_box_is_set_to_whole_ohms():
    box = StandIn(kind="decade-box", end_to_end_ohm=999999.0)
    assert set_to(box, Meter(), 2467.8).ohm == 2468.0
    assert set_to(box, Meter(), 2467.8).reach_ohm == 0.5
    assert set_to(box, Meter(), 0.4) is None
    assert set_to(box, Meter(), 1e6) is None


def test_fixed_parts_further_off_than_ten_percent_are_not_offered():
    few = StandIn(kind="fixed", ohms=(330.0, 1000.0))
    assert set_to(few, Meter(), 363.0).ohm == 330.0      # 9.1 % off
    assert set_to(few, Meter(), 375.0) is None           # 12 % off
    assert set_to(few, Meter(), 600.0) is None
    setting = set_to(few, Meter(), 340.0)
    assert (setting.parts, setting.reach_ohm) == ((330.0,), 10.0)


@pytest.mark.parametrize(("ohm", "band"), [
    # 0.8 % of reading plus two digits of a 4000-count meter: 0.1 ohm digits up to 400 ohm, 1 ohm to 4 k, 10 ohm to 40 k.
    (100.0, 1.0), (399.0, 3.392), (1000.0, 10.0), (9300.0, 94.4), (0.0, 0.2)])
def test_meter_class_on_ohms(ohm, band):
    assert Meter().ohm_band(ohm) == pytest.approx(band, abs=1e-9)


def test_meter_class_on_volts():
    # 0.5 % of 4 V plus 5 mV: 25 mV, whichever way round the leads are.
    assert Meter().volt_band(4.0) == pytest.approx(0.025)
    assert Meter().volt_band(-4.0) == pytest.approx(0.025)


@STEADY
@given(st.floats(1.0, 1e6), st.floats(0.0, 1.0))
def test_outer_legs_always_sum_to_end_to_end(total, share):
    other = other_leg_ohm(StandIn(end_to_end_ohm=total), share * total)
    assert share * total + other == pytest.approx(total, rel=1e-12)
    assert other >= 0.0


@pytest.mark.parametrize("part", [StandIn(), StandIn(kind="decade-box", end_to_end_ohm=1e6),
                                  StandIn(kind="fixed", ohms=(330.0,)), StandIn(end_to_end_ohm=200.0)])
def test_what_has_no_track_to_that_value_has_no_other_leg(part):
    assert other_leg_ohm(part, 330.0) is None


def test_leads_stand_between_the_part_and_the_plug():
    # The ohmmeter on the part reads 10.0 ohm, the plug gets 10.2: 2 % on a fuel sender, nothing on a coolant sensor.
    part = StandIn(end_to_end_ohm=100.0, turns=10.0)
    setting = set_to(part, Meter(), 10.0)
    assert (setting.ohm, setting.plug_ohm) == (10.0, pytest.approx(10.2))
    at_the_ends = set_to(StandIn(end_to_end_ohm=100.0, turns=10.0, lead_ohm=0.0), Meter(), 10.0)
    assert at_the_ends.plug_ohm == at_the_ends.ohm == 10.0
    # Meter: 0.8 % of 10 and two 0.1 ohm digits, 0.28; a quarter of the 1 ohm / sqrt(10) contact, 0.079; leads 0.2.
    assert at_the_ends.known_ohm == pytest.approx(0.359, abs=0.001)
    assert setting.known_ohm == pytest.approx(0.559, abs=0.001)


@STEADY
@given(st.floats(20.0, 5e5), st.sampled_from(["E12", "E24", "E96"]))
def test_a_drawer_is_set_to_parts_it_has_and_says_how_far_off_they_are(ohm, series):
    ohms = preferred(series)
    setting = set_to(StandIn(kind="fixed", ohms=ohms), Meter(), ohm)
    assert set(setting.parts) <= set(ohms)
    assert len(setting.parts) in (1, 2)
    assert setting.reach_ohm == pytest.approx(abs(setting.ohm - ohm), abs=1e-9)
    assert setting.reach_ohm < 0.025 * ohm
    assert setting.plug_ohm == setting.ohm + 0.2


@pytest.mark.parametrize(("typed", "where", "wanted"), [
    ({"kind": "rheostat"}, "stand_in.kind", "potentiometer, decade-box, fixed"),
    ({"end_to_end_ohm": 0.5}, "stand_in.end_to_end_ohm", "ohms from 1 to 1e8"),
    ({"end_to_end_ohm": float("nan")}, "stand_in.end_to_end_ohm", "ohms from 1 to 1e8"),
    ({"end_to_end_ohm": "10k"}, "stand_in.end_to_end_ohm", "ohms from 1 to 1e8"),
    ({"turns": 0.0}, "stand_in.turns", "turns from 0.5 to 40"),
    ({"turns": float("inf")}, "stand_in.turns", "turns from 0.5 to 40"),
    ({"watts": 0.0}, "stand_in.watts", "watts from 0.01 to 500"),
    ({"watts": True}, "stand_in.watts", "watts from 0.01 to 500"),
    ({"kind": "fixed"}, "stand_in.ohms", "at least one value"),
    ({"kind": "fixed", "ohms": (330.0, 0.0)}, "stand_in.ohms[1]", "ohms from 0.1 to 1e8"),
    ({"kind": "fixed", "ohms": (100.0,) * 901}, "stand_in.ohms", "at most 900"),
    ({"lead_ohm": -0.1}, "stand_in.lead_ohm", "ohms from 0 to 10"),
    ({"lead_ohm": None}, "stand_in.lead_ohm", "ohms from 0 to 10"),
])
def test_a_stand_in_nobody_has_is_turned_away(typed, where, wanted):
    with pytest.raises(InputError) as caught:
        StandIn(**typed)
    assert caught.value.where == where
    assert wanted in caught.value.wanted


@pytest.mark.parametrize("name", ["ohm_percent", "ohm_digits", "volt_percent"])
@pytest.mark.parametrize("value", [-0.1, 101.0, float("nan"), None, "1"])
def test_a_meter_nobody_has_is_turned_away(name, value):
    with pytest.raises(InputError) as caught:
        Meter(**{name: value})
    assert caught.value.where == f"meter.{name}"
