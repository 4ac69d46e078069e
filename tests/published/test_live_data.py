"""Owns published live-data facts: the temperature byte of SAE J1979 and what modules show at their ends."""

import numpy as np
import pytest

from engine.circuit import InputCircuit
from engine.curves import Curve
from engine.dial_sheet import dial_sheet
from engine.errors import InputError
from engine.live_data import decode
from engine.module import COLD_END_C, HOT_END_C, pack_typed, shown_density
from engine.quantities import TEMPERATURE
from engine.stand_in import Meter, StandIn
from engine.units import from_degc
from tests.loaded import KB

NUMBERS = np.arange(-40.0, 216.0)


def shown(temperature_c, spread_c=0.05):
    return np.array([shown_density(pack_typed(number), temperature_c, spread_c, 0.0) for number in NUMBERS])


def test_the_ends_of_live_data_are_those_of_the_temperature_byte():
    # SAE J1979 / ISO 15031-5 service 01, items 05, 0F, 46: A - 40 degC. 41 05 00 is -40; the largest byte, FF, is 215.
    assert COLD_END_C == int("00", 16) - 40 == -40
    assert HOT_END_C == int("FF", 16) - 40 == 215


@pytest.mark.parametrize(("response", "value", "unit"), [
    ("41 05 3C", 20.0, "degC"), ("41 05 00", -40.0, "degC"), ("41 0B 65", 101.0, "kPa"), ("41 11 1A", 10.196, "%")])
def test_published_responses_decode(response, value, unit):
    # npm obd-utils (first), SAE J1979 formulas A - 40, A and A * 100 / 255 (the others, computed).
    got, got_unit = decode(response)
    assert (round(got, 3), got_unit) == (value, unit)


@pytest.mark.parametrize("response", ["", "41 05", "41 05 3C 00", "7F 01 12", "41 99 00", "41 05 ZZ", "41 05 1FF", None])
def test_what_is_no_response_is_said_in_one_sentence(response):
    with pytest.raises(InputError, match="^response is .*: it .*[.]$"):
        decode(response)


def test_live_data_shows_whole_degrees_only():
    # 41 05 3C is 20 degC (npm obd-utils prints this example), and no number lies between it and 41 05 3D, 21 degC: a
    # sensor at 20.4 shows 20, or 21 where half degrees round up, never a tenth.
    assert int("3C", 16) - 40 == 20
    chances = shown(20.4)
    assert set(NUMBERS[chances > 0.05]) <= {20.0, 21.0}
    assert NUMBERS[np.argmax(chances)] == 20.0


@pytest.mark.parametrize("byte", ["14", "3C", "78", "8C"])
def test_a_sensor_at_a_byte_shows_that_byte(byte):
    temperature = float(int(byte, 16) - 40)
    assert NUMBERS[np.argmax(shown(temperature + 0.2))] == temperature


def test_a_fahrenheit_display_of_the_byte_moves_in_steps_of_1_8():
    # Data kept in whole degC and shown in degF run in steps of about 2 degF; -40 needs no unit (public threads, retold).
    steps = np.diff([from_degc(float(degc), "degF") for degc in range(0, 40)])
    assert steps == pytest.approx(1.8)
    assert set(np.diff(np.round([from_degc(float(degc), "degF") for degc in range(0, 40)]))) == {1.0, 2.0}
    assert from_degc(-40.0, "degF") == -40.0


# Shorted inputs as published jumper tests accept them: > 128, 135, 138 or 142 degC (GM coolant and intake pages), 129
# (GM Aveo, G3), 149 and 150 degC (GM), gauge-fed fluid temperature 120 degC.
@pytest.mark.parametrize("hot_end_c", [120.0, 129.0, 139.0, 149.0, 150.0])
def test_a_short_may_show_any_published_hot_end(hot_end_c):
    assert hot_end_c >= TEMPERATURE.high_ends_from
    chances = shown(400.0)
    assert chances[NUMBERS == hot_end_c][0] > 0.005
    assert chances[NUMBERS == 77.0][0] < 1e-9


def test_an_open_shows_minus_40():
    # GM coolant and intake pages: scan value -40 degC with the plug off.
    chances = shown(-95.0)
    assert NUMBERS[np.argmax(chances)] == -40.0
    assert chances[NUMBERS == 20.0][0] < 1e-9


def test_a_49_kohm_element_on_1_kohm_stands_at_the_code_limit_and_at_minus_40():
    # Kia and Hyundai coolant code limit 4.90 V; on 1.0 kohm that is 49 kohm, which on the 2.5 kohm
    # family (20 % at the cold end) is -40 degC, -42 on its mean curve.
    sheet = dial_sheet(InputCircuit(open_v=5.0, short_v=0.0, source_ohm=1000.0, reference_v=5.0),
                       Curve("one", "one", ((-40.0, 49000.0), (20.0, 2500.0))), StandIn(end_to_end_ohm=50000.0), Meter(),
                       (-40.0,))
    assert sheet[0].plug_v == pytest.approx(4.90, abs=1e-6)
    assert float(KB.curve("ntc-2500-20c-coolant").temperature_at(49000.0)) == pytest.approx(-40.0, abs=3.0)
