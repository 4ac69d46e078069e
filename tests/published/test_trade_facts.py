"""Owns facts every technician of the trade knows; each is common practice, no source, unless its line says otherwise."""

import numpy as np
import pytest

from engine.circuit import InputCircuit
from engine.dial_sheet import dial_sheet
from engine.module import pack_typed, shown_density
from engine.stand_in import Meter, StandIn, hand_step, set_to
from engine.units import from_degc, to_degc
from tests.loaded import KB

TEN_K = "ntc-10k-25c-b3977"
CIRCUIT = {"reference_v": 5.0, "pull_up_ohm": 2200.0, "curve": "ntc-2600-20c-intake"}
POT = {"kind": "potentiometer", "end_to_end_ohm": 9300.0}
INPUT = InputCircuit(open_v=5.0, short_v=0.0, source_ohm=2200.0, reference_v=5.0)


def rows(end_to_end_ohm, temperatures, curve=TEN_K, turns=1.0):
    part = StandIn(end_to_end_ohm=end_to_end_ohm, turns=turns, lead_ohm=0.0)
    return dial_sheet(INPUT, KB.curve(curve), part, Meter(), temperatures)


def intake_job(complaint=("P0113",)):
    return KB.job("intake-air-temperature", complaint, circuit=CIRCUIT, stand_in=POT,
                  surroundings={"value": 20.0, "unit": "degC"})


def swept(job):
    """Both ends as the dial sheet predicts them, and the job after live data followed from one to the other."""
    curve = KB.curve(CIRCUIT["curve"])
    cold, hot = (round(float(curve.temperature_at(ohm))) for ohm in (9300.0, 9300.0 / 20.0))
    return cold, hot, job.record("live-number", shows=[cold, hot])


def test_a_10_k_potentiometer_may_measure_7_percent_under_its_print():
    # Common practice, no source: printed 10 k, measured 9.3 k. The sheet goes by what was measured: 10 kohm (25 degC)
    # cannot be set, 9.0 kohm (27.4 degC) can, and nothing is predicted from the print.
    beyond, within = rows(9300.0, (25.0, 27.4))
    assert beyond.survival == "refused"
    assert beyond.remedy.startswith("Beyond this stand-in's 9300 ohm")
    assert within.survival == "fine"
    assert within.ohm == pytest.approx(9000.0, abs=20.0)
    # A track that really had its print would be set there.
    assert rows(10000.0, (25.1,))[0].survival == "fine"
    # The curve's 10 kohm at 25 degC is the end of the track itself.
    assert rows(10000.0, (25.0,))[0].survival == "fine"
    assert rows(9300.0, (25.1,))[0].survival == "refused"


def test_the_measured_end_is_what_the_job_predicts_from():
    # Common practice, no source: on a 2.6 kohm intake curve 9.3 kohm is about -10 degC, 10 kohm would be about -12.
    curve = KB.curve(CIRCUIT["curve"])
    assert intake_job().stand_in.end_to_end_ohm == 9300.0
    assert float(curve.temperature_at(9300.0)) == pytest.approx(-10.1, abs=0.1)
    assert float(curve.temperature_at(10000.0)) == pytest.approx(-11.6, abs=0.2)


def test_about_9_3_kohm_on_an_input_made_for_10_k_at_25_degrees_shows_80_degf():
    # Common practice, no source: 9300 ohm is 26.66 degC, which is 80.0 degF. Live data holds whole degC: 27 degC is
    # 80.6 degF, shown as 80 without decimals; 26 degC would be 78.8.
    temperature = float(KB.curve(TEN_K).temperature_at(9300.0))
    assert temperature == pytest.approx(26.66, abs=0.01)
    assert round(from_degc(temperature, "degF")) == 80
    assert round(temperature) == 27
    assert int(from_degc(27.0, "degF")) == 80
    density = {degf: shown_density(pack_typed(to_degc(degf, "degF")), temperature, 0.5, 0.0) for degf in (70.0, 80.0, 90.0)}
    assert density[80.0] > 0.4
    assert max(density[70.0], density[90.0]) < 1e-6


def test_the_dial_sheet_says_80_degf_for_9_3_kohm():
    # Common practice, no source: plug volts by Ohm's law, 5 * 9300 / 11500 = 4.043 V.
    got = rows(9300.5, (float(KB.curve(TEN_K).temperature_at(9300.0)),))[0]
    assert got.ohm == pytest.approx(9300.0, rel=1e-9)
    assert got.plug_v == pytest.approx(4.0435, abs=1e-4)
    assert round(from_degc(got.shows_c, "degF")) == 80
    assert from_degc(got.shows_band_c[0], "degF") < 78.8
    assert from_degc(got.shows_band_c[1], "degF") > 80.6


@pytest.mark.parametrize("id", [row.id for row in KB.tables.curves if row.id.startswith("ntc-")])
def test_fewer_ohms_read_hotter_on_an_ntc(id):
    # Common practice, no source.
    temperatures = KB.curve(id).temperature_at([50000.0, 10000.0, 2000.0, 500.0, 100.0])
    assert np.all(np.diff(temperatures) > 5.0)


def test_the_two_outer_legs_sweep_opposite_ways_and_end_to_end_stays():
    # Common practice, no source: wiper to one leg falls as wiper to the other rises; both legs together never change, so
    # the same turn of the knob goes hotter on one leg and colder on the other.
    part, curve = StandIn(end_to_end_ohm=9300.0, lead_ohm=0.0), KB.curve(TEN_K)
    sheet = dial_sheet(INPUT, curve, part, Meter(), (30.0, 40.0, 60.0, 80.0))
    other = [got.other_leg_c for got in sheet]
    assert np.all(np.diff([got.shows_c for got in sheet]) > 5.0)
    assert np.all(np.diff(other) < -0.1)
    for got in sheet:
        assert float(curve.ohm_at(got.other_leg_c)) + got.ohm == pytest.approx(9300.0)
    # With 2790 ohm on the leg in use, 6510 ohm stand on the other.
    warm = dial_sheet(INPUT, curve, part, Meter(), (float(curve.temperature_at(2790.0)),))[0]
    assert float(curve.ohm_at(warm.other_leg_c)) == pytest.approx(6510.0)


def test_a_multi_turn_part_sets_finer_than_a_single_turn_one():
    # Common practice, no source. In ohms for the hand, in degrees on the sheet; and the coarse one is told so.
    assert hand_step(StandIn(end_to_end_ohm=9300.0, turns=10.0)) < hand_step(StandIn(end_to_end_ohm=9300.0)) / 5
    one, ten = (rows(9300.0, (100.0,), turns=turns)[0] for turns in (1.0, 10.0))
    assert ten.reach_c < one.reach_c / 5
    assert "ten-turn" in one.remedy
    assert ten.remedy == ""
    assert set_to(StandIn(end_to_end_ohm=9300.0, turns=10.0), Meter(), 677.3).reach_ohm < 10.0


@pytest.mark.parametrize("complaint", [("P0113",), ("P0111",), ("P0112",), ()])
def test_a_sweep_that_live_data_follows_proves_wire_return_and_input(complaint):
    # Common practice, no source: what is on the vehicle's side of the plug passed the whole range through; what is left
    # is the sensor and its contact in the plug.
    before = intake_job(complaint)
    cold, hot, after = swept(before)
    assert (cold, hot) == (-10, 71)
    was, now = before.verdict().locations, after.verdict().locations
    assert now["signal"] + now["return"] + now["module"] < 0.10
    assert now["signal"] + now["return"] + now["module"] < 0.5 * (was["signal"] + was["return"] + was["module"])
    assert now["sensor"] + now["plug"] > 1.2 * (was["sensor"] + was["plug"])
    assert now["sensor"] + now["plug"] > 0.7


def test_a_followed_sweep_alone_does_not_condemn_the_sensor():
    # Common practice, no source: before the plug was looked at and the sensor's own ohms were taken, nothing is found.
    verdict = swept(intake_job())[2].verdict()
    assert verdict.state == "open"
    assert verdict.location is None
    assert verdict.locations["plug"] > 0.2


def test_a_sweep_that_nothing_follows_speaks_for_the_vehicle_side():
    # Common practice, no source.
    before = intake_job().verdict().locations
    after = intake_job().record("live-number", shows="did-not-move").verdict().locations
    side = ("signal", "return", "module", "supply")
    assert sum(after[name] for name in side) > 0.9
    assert after["sensor"] + after["plug"] < 0.2 * (before["sensor"] + before["plug"])
