"""Owns the dial sheet on inputs and curves that are not plain: two ranges, pulses, a second instrument, limits, PTC, level."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.circuit import InputCircuit
from engine.curves import Curve, beta_curve
from engine.dial_sheet import STROBED, TWO_VOLTS, dial_sheet
from engine.errors import InputError
from engine.preferred_values import preferred
from engine.stand_in import Meter, StandIn

STEADY = settings(max_examples=60, deadline=None, derandomize=True)
BOX = StandIn(kind="decade-box", end_to_end_ohm=1e7, lead_ohm=0.0)
# Cylinder-head temperature: 20 kohm cold, 20 kohm beside 1 kohm = 952.38 ohm hot, either of them from 85 to 100 degC (Ford
# Windstar 2001 charts): 3215 ohm at 85 degC is 0.69 or 3.86 V, 2750 at 90 is 0.60 or 3.71 V, 542 at 150 is 1.81 V.
TWO = InputCircuit(open_v=5.0, short_v=0.0, source_ohm=20000.0, reference_v=5.0, second_source_ohm=20000.0 / 21.0,
                   switch_at_c=92.5, switch_band_c=15.0)
HEAD = Curve("h", "h", ((20.0, 37300.0), (85.0, 3215.0), (90.0, 2750.0), (100.0, 2034.0), (150.0, 542.0)))
# Silicon PTC: KTY81-110 data sheet, 490, 1000 and 1696 ohm at -55, 25 and 100 degC.
SILICON = Curve("s", "s", ((-55.0, 490.0), (25.0, 1000.0), (100.0, 1696.0)))
PLAIN = {"open_v": 5.0, "short_v": 0.0, "reference_v": 5.0}


def row(value, circuit, curve, stand_in=BOX, meter=None):
    return dial_sheet(circuit, curve, stand_in, meter or Meter(), (value,))[0]


@pytest.mark.parametrize(("degc", "cold", "hot"), [(86.0, 0.67, 3.83), (90.0, 0.60, 3.71)])
def test_in_the_overlap_both_voltages_are_listed_and_one_temperature(degc, cold, hot):
    got = row(degc, TWO, HEAD)
    assert got.plug_v == pytest.approx(cold, abs=0.006)
    assert got.other_plug_v == pytest.approx(hot, abs=0.006)
    assert got.plug_v_band[0] < got.plug_v < got.other_plug_v < got.plug_v_band[1]
    assert got.shows_c == pytest.approx(degc, abs=0.1)
    assert np.ptp(got.shows_band_c) < 7.0
    assert got.note == TWO_VOLTS


def test_past_the_middle_of_the_overlap_the_hot_range_comes_first():
    got = row(98.0, TWO, HEAD)
    assert got.plug_v > 3.0 > 1.0 > got.other_plug_v


def test_in_the_overlap_the_worse_of_both_ranges_counts():
    low, high = (InputCircuit(**{**PLAIN, "bits": 8}, source_ohm=20000.0, second_source_ohm=20000.0 / 21.0, switch_at_c=92.5,
                              switch_band_c=15.0, **limits) for limits in ({"low_limit_v": 0.7}, {"high_limit_v": 3.8}))
    # At 86 degC 0.67 V is below the one limit, 3.83 V above the other.
    assert row(86.0, low, HEAD).outside
    got = row(86.0, high, HEAD)
    assert got.outside
    assert got.current_a == pytest.approx(got.other_plug_v / got.ohm)
    # The cold range has the coarser converter steps on either side of the switch.
    for degc in (86.0, 98.0):
        cold, hot = (row(degc, InputCircuit(**{**PLAIN, "bits": 8}, source_ohm=ohm), HEAD) for ohm in (20000.0, 20000.0 / 21.0))
        assert np.ptp(cold.shows_band_c) > np.ptp(hot.shows_band_c)
        assert row(degc, high, HEAD).shows_band_c == pytest.approx(cold.shows_band_c)


@pytest.mark.parametrize(("degc", "volts"), [(20.0, 3.254), (150.0, 1.813)])
def test_far_from_the_switch_one_voltage_stands(degc, volts):
    # 37300 ohm on 20 kohm: 3.254 V; 542 ohm on 952.38: 1.813 V.
    got = row(degc, TWO, HEAD)
    assert got.plug_v == pytest.approx(volts, abs=0.002)
    assert (got.other_plug_v, got.note) == (None, "")
    assert np.ptp(got.plug_v_band) < 0.2


def test_a_coarse_setting_widens_the_overlap():
    # A 1 Mohm track is known to 250 ohm at best: 84 degC may be 88. A decade box is not that coarse.
    assert row(84.0, TWO, HEAD).other_plug_v is None
    assert row(84.0, TWO, HEAD, StandIn(end_to_end_ohm=1e6)).other_plug_v is not None


def test_where_the_switch_lies_is_unknown_both_voltages_are_possible_anywhere():
    unknown = InputCircuit(**PLAIN, source_ohm=20000.0, second_source_ohm=952.38)
    assert [row(degc, unknown, HEAD).other_plug_v is None for degc in (20.0, 90.0, 150.0)] == [False] * 3


@pytest.mark.parametrize(("switch_c", "before_v", "after_v"), [(51.7, 1.26, 3.94)])
def test_a_published_switch_point(switch_c, before_v, after_v):
    # 1990s service text, coolant theory: 10 kohm, 909 ohm from about 125 degF on; a 10 kohm part has about 3.4 kohm there.
    circuit = InputCircuit(**PLAIN, source_ohm=10000.0, second_source_ohm=909.0, switch_at_c=switch_c)
    got = row(switch_c, circuit, beta_curve(10000.0, 3977.0))
    assert {round(got.plug_v, 1), round(got.other_plug_v, 1)} == {round(before_v, 1), round(after_v, 1)}


def test_a_pulsed_input_says_that_a_meter_shows_an_average():
    got = row(20.0, InputCircuit(**PLAIN, source_ohm=2200.0, strobed=True), HEAD)
    assert got.note == STROBED
    assert got.plug_v == row(20.0, InputCircuit(**PLAIN, source_ohm=2200.0), HEAD).plug_v


def test_a_second_instrument_on_the_wire_moves_volts_and_live_data():
    # 2490 ohm alone, 1544 ohm with another module's 4064 beside it (public thread, retold). 2500 ohm: 5 * 2500 / 4044 =
    # 3.091 V, which the module takes for 2490 * 3.091 / 1.909 = 4032 ohm: it reads colder.
    curve = beta_curve(2000.0, 3600.0)
    circuit = InputCircuit(**PLAIN, source_ohm=2490.0, second_instrument_v=5.0, second_instrument_ohm=4064.0)
    degc = float(curve.temperature_at(2500.0))
    got, alone = row(degc, circuit, curve), row(degc, InputCircuit(**PLAIN, source_ohm=2490.0), curve)
    assert got.ohm == alone.ohm == 2500.0
    assert got.plug_v == pytest.approx(3.091, abs=0.001)
    assert got.shows_c == pytest.approx(float(curve.temperature_at(4032.0)), abs=0.02)
    assert got.shows_c < alone.shows_c - 9.0
    assert got.shows_band_c[0] < got.shows_c < got.shows_band_c[1]
    assert got.current_a == pytest.approx(3.091 / 2500.0, rel=1e-3)


def test_a_second_instrument_makes_live_data_less_sure():
    # Two instruments' parts instead of one, even where the second is too weak to move the volts: 1.2 % becomes 1.7 %.
    curve, part = beta_curve(2000.0, 3600.0), StandIn(kind="fixed", ohms=(2000.0,), lead_ohm=0.0)
    alone, both = (row(25.0, InputCircuit(**PLAIN, source_ohm=2490.0, bits=24, second_instrument_ohm=ohm), curve, part,
                       Meter(0.0, 0.0, 0.0)) for ohm in (None, 1e12))
    assert both.plug_v == pytest.approx(alone.plug_v, abs=1e-6)
    assert (np.ptp(both.shows_band_c) - 1.0) / (np.ptp(alone.shows_band_c) - 1.0) == pytest.approx(2**0.5, rel=0.01)


def test_the_converter_counts_over_its_own_full_scale():
    # An input open at 4.302 V on a 5 V, 6-bit converter: 78 mV a step, not 67.
    part, curve = StandIn(kind="fixed", ohms=(3084.0,), lead_ohm=0.0), beta_curve(3084.0, 3600.0)
    bands = [np.ptp(row(25.0, InputCircuit(open_v=4.302, short_v=0.5, source_ohm=3084.0, reference_v=full_v, bits=6), curve,
                        part, Meter(0.0, 0.0, 0.0)).shows_band_c) for full_v in (None, 5.0)]
    # At half way a step of dV is 4 dV / 3.802 V in ln ohm, a hundredth of which is 0.247 K here.
    assert bands[1] - bands[0] == pytest.approx((5.0 - 4.302) / 64 * 4 / 3.802 * 24.7, rel=0.01)


def test_a_second_instrument_fed_from_battery_can_drive_the_input_out_of_its_limits():
    circuit = InputCircuit(**PLAIN, source_ohm=2490.0, high_limit_v=4.9, second_instrument_v=12.6,
                           second_instrument_ohm=1000.0)
    got = row(0.0, circuit, beta_curve(2000.0, 3600.0))
    assert got.outside
    assert got.shows_c == -40.0


@pytest.mark.parametrize(("degc", "outside"), [(-39.0, False), (-41.0, True), (20.0, False)])
def test_dialling_minus_40_on_1_kohm_sets_the_code(degc, outside):
    # Kia and Hyundai coolant limit 4.90 V: on 1.0 kohm it trips above 49 kohm, which the 2.5 kohm family has at -40 degC.
    circuit = InputCircuit(**PLAIN, source_ohm=1000.0, low_limit_v=0.1, high_limit_v=4.90, default_c=80.0)
    got = row(degc, circuit, Curve("c", "c", ((-40.0, 49000.0), (20.0, 2500.0), (140.0, 80.0))))
    assert got.outside is outside
    assert got.shows_c == pytest.approx(max(degc, -40.0), abs=0.1)  # the number stays, the row says a default may stand
    assert (got.ohm > 49000.0) is outside


def test_the_low_limit_and_limits_nobody_knows():
    hot = Curve("c", "c", ((20.0, 2500.0), (140.0, 80.0), (200.0, 10.0)))
    assert row(200.0, InputCircuit(**PLAIN, source_ohm=1000.0, low_limit_v=0.2), hot).outside
    assert not row(200.0, InputCircuit(**PLAIN, source_ohm=1000.0), hot).outside


def test_a_rising_curve_gives_more_ohms_and_volts_when_hotter():
    rows = dial_sheet(InputCircuit(**PLAIN, source_ohm=2200.0), SILICON, BOX, Meter(), (-30.0, 25.0, 100.0))
    assert rows[1].ohm == 1000.0
    assert rows[1].plug_v == pytest.approx(5.0 * 1000.0 / 3200.0, abs=1e-4)
    assert rows[0].plug_v < rows[1].plug_v < rows[2].plug_v
    for got in rows:
        assert got.shows_c == pytest.approx(got.temperature_c, abs=0.1)
        assert got.shows_band_c[0] < got.shows_c < got.shows_band_c[1]
    # Bent through its points it gains 0.786 % a degree at 25: twice 1.2 % of the module's parts are 3.1 degC, three times what they
    # are on an NTC; half a degree each way for live data.
    fine = row(25.0, InputCircuit(**PLAIN, source_ohm=2200.0, bits=16), SILICON,
               StandIn(kind="fixed", ohms=(1000.0,), lead_ohm=0.0), Meter(0.0, 0.0, 0.0))
    assert np.ptp(fine.shows_band_c) == pytest.approx(3.05 + 3.05 + 1.0, abs=0.03)


def test_an_exhaust_sensor_reads_past_the_temperature_byte():
    # Exhaust Pt200: 200, 488 and 849 ohm at 0, 400 and 1000 degC (bus engine management description, page 48).
    exhaust = Curve("e", "e", ((0.0, 200.0), (400.0, 488.0), (1000.0, 849.0)))
    got = row(800.0, InputCircuit(**PLAIN, source_ohm=1000.0), exhaust)
    assert got.shows_c == pytest.approx(800.0, abs=1.0)
    assert got.shows_band_c[1] > 800.0


# Fuel sender on 410 ohm from battery: 410 ohm empty is half of battery, 15 ohm full 3.5 % of it (published for one maker).
LEVEL = Curve("l", "l", ((0.0, 410.0), (50.0, 180.0), (100.0, 15.0)), quantity="level")
FUEL = InputCircuit(open_v=12.6, short_v=0.0, source_ohm=410.0, reference_v=12.6)


@pytest.mark.parametrize(("percent", "ohm", "share"), [(0.0, 410.0, 0.5), (25.0, 295.0, 0.418), (100.0, 15.0, 0.0353)])
def test_a_level_curve(percent, ohm, share):
    got = row(percent, FUEL, LEVEL)
    assert got.ohm == pytest.approx(ohm)
    assert got.plug_v / 12.6 == pytest.approx(share, abs=5e-4)
    assert got.shows_c == pytest.approx(percent, abs=1e-6)
    assert 0.0 <= got.shows_band_c[0] <= got.shows_c <= got.shows_band_c[1] <= 100.0


@pytest.mark.parametrize("percent", [-1.0, 101.0])
def test_a_level_beyond_its_ends_is_turned_away(percent):
    with pytest.raises(InputError, match="a level from 0 to 100 percent"):
        row(percent, FUEL, LEVEL)


@pytest.mark.parametrize("degc", [-81.0, 1001.0])
def test_a_temperature_beyond_what_any_sensor_has_is_turned_away(degc):
    with pytest.raises(InputError, match="a temperature from -80 to 1000 degC"):
        row(degc, TWO, HEAD)


def test_the_wrong_outer_leg_has_the_same_leads():
    part = StandIn(end_to_end_ohm=100.0, turns=10.0, lead_ohm=2.0, watts=5.0)
    got = row(float(LEVEL.temperature_at(42.0)), FUEL, LEVEL, part)
    assert got.ohm == pytest.approx(40.0)
    assert float(LEVEL.ohm_at(got.other_leg_c)) == pytest.approx(62.0)


def test_leads_count_where_ohms_are_few():
    # 15 ohm wanted on the plug: 14.8 on the part and 0.2 in the leads; forgotten they are 0.06 % of level here.
    track = StandIn(end_to_end_ohm=100.0, turns=10.0, watts=5.0)
    got = row(100.0, FUEL, LEVEL, track)
    assert got.ohm == pytest.approx(14.8)
    assert got.plug_v == pytest.approx(12.6 * 15.0 / 425.0, abs=1e-4)
    fixed = row(100.0, FUEL, LEVEL, StandIn(kind="fixed", ohms=(15.0,), watts=5.0))
    assert fixed.plug_v == pytest.approx(12.6 * 15.2 / 425.2, abs=1e-4)


def test_a_drawer_serves_a_whole_sheet():
    sheet = dial_sheet(InputCircuit(**PLAIN, source_ohm=2200.0), beta_curve(2000.0, 3600.0),
                       StandIn(kind="fixed", ohms=preferred("E24")), Meter(), np.arange(-40.0, 131.0, 10.0).tolist())
    for got in sheet:
        assert got.reach_c < 0.2
        assert got.shows_c == pytest.approx(got.temperature_c, abs=0.35)
        assert got.survival == "fine"
        assert got.other_leg_c is None


@STEADY
@given(st.floats(-30.0, 140.0), st.floats(-20.0, 120.0), st.floats(0.0, 30.0))
def test_of_two_ranges_the_degrees_never_jump(degc, switch_c, band_c):
    circuit = InputCircuit(**PLAIN, source_ohm=10000.0, second_source_ohm=909.0, switch_at_c=switch_c, switch_band_c=band_c)
    got = row(degc, circuit, beta_curve(10000.0, 3977.0))
    assert got.shows_c == pytest.approx(degc, abs=0.5)
    volts = [5.0 * got.ohm / (got.ohm + source) for source in (10000.0, 909.0)]
    assert min(abs(got.plug_v - v) for v in volts) < 1e-9
    if got.other_plug_v is None:
        assert abs(float(beta_curve(10000.0, 3977.0).temperature_at(got.ohm)) - switch_c) > band_c / 2
    else:
        assert sorted([got.plug_v, got.other_plug_v]) == pytest.approx(sorted(volts))
