"""Owns the dial sheet against hand arithmetic: ohms to set, volts and degrees to expect, what a hand and a meter leave."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.circuit import InputCircuit
from engine.curves import Curve, beta_curve
from engine.dial_sheet import dial_sheet
from engine.errors import InputError
from engine.stand_in import Meter, StandIn

STEADY = settings(max_examples=60, deadline=None, derandomize=True)
# A plain 2.2 kohm pull-up to 5 V, and a curve with 330 ohm at exactly 80 degC.
INPUT = InputCircuit(open_v=5.0, short_v=0.0, source_ohm=2200.0, reference_v=5.0)
CURVE = Curve("c", "c", ((20.0, 2500.0), (80.0, 330.0), (100.0, 190.0)))
# Measured at the far ends of its leads, so that hand arithmetic holds to the last digit.
POT = StandIn(end_to_end_ohm=9300.0, lead_ohm=0.0)


def row(temperature_c, circuit=INPUT, curve=CURVE, stand_in=POT, meter=None):
    return dial_sheet(circuit, curve, stand_in, meter or Meter(), (temperature_c,))[0]


def test_330_ohm_on_2200_ohm_and_5_volts():
    # 5 * 330 / 2530 = 0.652 V; 5 / 2530 = 1.976 mA; 1.976 mA squared * 330 ohm = 1.289 mW.
    got = row(80.0)
    assert got.ohm == pytest.approx(330.0, rel=1e-9)
    assert got.plug_v == pytest.approx(0.652, abs=5e-4)
    assert got.current_a == pytest.approx(1.976e-3, abs=1e-6)
    assert got.watts == pytest.approx(1.289e-3, abs=1e-6)
    assert got.shows_c == pytest.approx(80.0, abs=1e-9)
    assert (got.temperature_c, got.survival) == (80.0, "fine")


def test_how_near_a_hand_gets_and_how_well_it_is_known():
    # One hand movement of 9300 ohm: 9300 * 1.5/270 = 51.7 ohm. Meter: 0.8 % of 330 + two 0.1 ohm digits = 2.84 ohm,
    # a quarter of the 9.3 ohm contact 2.33: 5.17 ohm.
    got = row(80.0)
    assert got.reach_ohm == pytest.approx(51.67, abs=0.01)
    assert got.known_ohm == pytest.approx(5.165, abs=0.001)
    # In degrees both ends on the curve: 278.3 ohm is 85.94 degC and 381.7 ohm 74.88 degC, half of the distance is 5.53.
    assert got.reach_c == pytest.approx(5.53, abs=0.01)
    assert got.known_c < got.reach_c / 5


def test_too_coarse_names_the_better_part():
    assert row(80.0).remedy == ("Coarse here: a potentiometer of about 660 ohm, a ten-turn one, or a fixed resistor of "
                                "330 ohm sets it finer.")
    assert row(20.0).remedy == ""


@pytest.mark.parametrize(("total", "ohm", "said"), [
    # 2250 ohm beyond 1 kohm: 1.8 kohm (1750 wanted) leaves the track its middle; 48100 ohm is too far for any one part.
    (1000.0, 2250.0, "Beyond this stand-in's 1000 ohm: put a fixed resistor of 1800 ohm in series with it."),
    (1000.0, 48100.0, "Beyond this stand-in's 1000 ohm: use fixed resistors of 1100 and 47000 ohm in series instead."),
    # 1 / (1/360 + 1/680) = 235.38 ohm; the nearest single one, 240, is 2 % off.
    (1e6, 235.4, "Below what this stand-in can hold: use fixed resistors of 360 and 680 ohm in parallel."),
])
def test_a_value_that_cannot_be_set_names_parts_a_shop_has(total, ohm, said):
    degc = float(CURVE.temperature_at(ohm))
    assert row(degc, stand_in=StandIn(end_to_end_ohm=total, lead_ohm=0.0)).remedy == said


def test_volts_band_holds_the_input_parts_and_the_setting():
    got = row(80.0)
    assert got.plug_v_band[0] < got.plug_v < got.plug_v_band[1]
    # Twice 1.2 % of the input resistor and 5.2 ohm of 330 move 0.652 V by about 0.02 V either way.
    assert got.plug_v_band[1] - got.plug_v_band[0] == pytest.approx(0.046, abs=0.006)


def test_the_band_on_live_data_is_at_least_a_whole_degree_wide():
    low, high = row(80.0).shows_band_c
    assert low < 79.5
    assert high > 80.5
    assert high - low < 6.0
    # A faultless meter and a 24-bit converter leave the module's parts (twice 1.2 %, 0.86 and 0.82 K on this curve) and
    # half a degree.
    part = StandIn(kind="fixed", ohms=(330.0,), lead_ohm=0.0)
    best = row(80.0, InputCircuit(open_v=5.0, short_v=0.0, source_ohm=2200.0, bits=24), CURVE, part, Meter(0.0, 0.0, 0.0))
    assert best.shows_band_c == pytest.approx((80.0 - 0.86 - 0.5, 80.0 + 0.82 + 0.5), abs=0.02)
    coarse = row(80.0, circuit=InputCircuit(open_v=5.0, short_v=0.0, source_ohm=2200.0, reference_v=5.0, bits=8))
    fine = row(80.0, circuit=InputCircuit(open_v=5.0, short_v=0.0, source_ohm=2200.0, reference_v=5.0, bits=12))
    assert np.ptp(coarse.shows_band_c) > np.ptp(fine.shows_band_c)


def test_an_unknown_input_widens_the_volts_not_the_degrees():
    known, unknown = row(20.0), row(20.0, circuit=InputCircuit())
    assert np.ptp(unknown.plug_v_band) > 5 * np.ptp(known.plug_v_band)
    assert unknown.plug_v_band[0] < known.plug_v < unknown.plug_v_band[1]
    assert unknown.shows_c == pytest.approx(20.0, abs=1e-9)


@pytest.mark.parametrize(("temperature_c", "shows_c"), [(-79.0, -40.0), (300.0, 215.0)])
def test_live_data_stops_at_its_ends(temperature_c, shows_c):
    # The temperature byte of SAE J1979 is A - 40: -40 to 215 degC.
    got = row(temperature_c)
    assert got.shows_c == shows_c
    assert -40.0 <= got.shows_band_c[0] <= got.shows_band_c[1] <= 215.0


def test_a_module_that_switches_its_pull_up_shows_other_volts_and_the_same_degrees():
    # Cylinder-head temperature: 20 kohm cold, 20 kohm beside 1 kohm = 952.38 ohm hot; 2750 ohm at 90 degC reads
    # 0.604 V or 3.714 V (Ford Windstar 2001 charts print 0.60 and 3.71).
    curve = beta_curve(30000.0, 3975.0)
    two = {"open_v": 5.0, "short_v": 0.0, "source_ohm": 20000.0, "reference_v": 5.0, "second_source_ohm": 952.38}
    ninety = float(curve.temperature_at(2750.0))
    part = StandIn(kind="fixed", ohms=(2750.0,), lead_ohm=0.0)
    before = row(ninety, InputCircuit(**two, switch_at_c=ninety + 1.0), curve, part)
    after = row(ninety, InputCircuit(**two, switch_at_c=ninety - 1.0), curve, part)
    assert before.plug_v == pytest.approx(0.604, abs=1e-3)
    assert after.plug_v == pytest.approx(3.714, abs=1e-3)
    assert before.shows_c == pytest.approx(after.shows_c, abs=1e-9)


@pytest.mark.parametrize(("stand_in", "temperature_c", "remedy"), [
    (StandIn(end_to_end_ohm=1000.0, lead_ohm=0.0), 20.0,
     "Beyond this stand-in's 1000 ohm: put a fixed resistor of 2000 ohm in series with it."),
    (StandIn(end_to_end_ohm=100000.0, turns=1.0), 190.0,
     "Below what this stand-in can hold: use "),
    (StandIn(), 80.0, "Measure the stand-in end to end first; 330 ohm is wanted here."),
    (StandIn(kind="fixed", ohms=(1000.0,), lead_ohm=0.0), 80.0, "No resistor or pair in hand comes within 10 % of 330 ohm: use a fixed resistor of 330 ohm."),
])
def test_what_cannot_be_set_still_has_its_numbers_and_says_what_would_do(stand_in, temperature_c, remedy):
    got = row(temperature_c, stand_in=stand_in)
    assert got.survival == "refused"
    assert got.remedy.startswith(remedy)
    assert (got.reach_ohm, got.reach_c, got.known_ohm, got.known_c) == (None, None, None, None)
    assert got.ohm == pytest.approx(float(CURVE.ohm_at(temperature_c)))
    assert got.plug_v == pytest.approx(5.0 * got.ohm / (got.ohm + 2200.0), abs=1e-6)


def test_fixed_parts_are_predicted_by_the_value_they_have_not_the_one_wanted():
    # 330 ohm wanted, 100 + 220 in hand: 5 * 320 / 2520 = 0.635 V and the curve's own degrees at 320 ohm.
    got = row(80.0, stand_in=StandIn(kind="fixed", ohms=(100.0, 220.0), lead_ohm=0.0))
    assert got.parts == (100.0, 220.0)
    assert got.ohm == 320.0
    assert got.plug_v == pytest.approx(0.6349, abs=1e-4)
    assert got.shows_c == pytest.approx(float(CURVE.temperature_at(320.0)), abs=1e-9)
    assert got.reach_ohm == pytest.approx(10.0)


def test_a_big_gauge_current_refuses_the_track():
    # 12.6 V behind 13 ohm: 0.5 A through a 0.25 W track of 100 ohm (50 mA).
    gauge = InputCircuit(open_v=12.6, short_v=0.0, source_ohm=13.0, reference_v=12.6)
    got = row(20.0, gauge, Curve("g", "g", ((0.0, 80.0), (20.0, 10.0))), StandIn(end_to_end_ohm=100.0, lead_ohm=0.0))
    assert got.current_a == pytest.approx(0.548, abs=0.001)
    assert got.survival == "refused"
    assert got.remedy == "Use a fixed resistor of about 10 ohm, 6 W or more."


@STEADY
@given(st.lists(st.floats(-40.0, 120.0), min_size=1, max_size=10))
def test_rows_come_in_the_order_asked_and_hotter_means_fewer_ohms_and_volts(temperatures):
    rows = dial_sheet(INPUT, CURVE, POT, Meter(), temperatures)
    assert [r.temperature_c for r in rows] == temperatures
    for first, second in zip(rows, rows[1:], strict=False):
        if first.temperature_c < second.temperature_c - 1e-6:
            assert first.ohm > second.ohm
            assert first.plug_v > second.plug_v
    for got in rows:
        assert got.shows_band_c[0] <= got.shows_c <= got.shows_band_c[1]
        assert got.plug_v_band[0] < got.plug_v < got.plug_v_band[1]


@pytest.mark.parametrize(("temperatures", "where"), [
    ((20.0,) * 61, "temperatures"), ((20.0, -81.0), "temperatures[1]"), ((1001.0,), "temperatures[0]"),
    ((float("nan"),), "temperatures[0]"), (("20",), "temperatures[0]"), ((None,), "temperatures[0]")])
def test_what_is_no_list_of_temperatures_is_turned_away(temperatures, where):
    with pytest.raises(InputError) as caught:
        dial_sheet(INPUT, CURVE, POT, Meter(), temperatures)
    assert caught.value.where == where


def test_no_temperatures_no_rows():
    assert dial_sheet(INPUT, CURVE, POT, Meter(), ()) == ()
