"""Owns what may be typed for ohms, degrees and plain numbers, and what is turned away with one sentence."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.errors import ContradictionError, InputError, OhmwrightError, RefusedError
from engine.units import finite, from_degc, parse_ohm, to_degc, unit_name

STEADY = settings(max_examples=120, deadline=None, derandomize=True)


# Fixed points of the two scales: definition of the degree Fahrenheit, 1.8 degF to the degC, 32 degF at 0 degC.
@pytest.mark.parametrize(("degf", "degc"), [(32.0, 0.0), (212.0, 100.0), (-40.0, -40.0), (80.0, 26.6667), (98.6, 37.0)])
def test_fahrenheit_and_celsius(degf, degc):
    assert to_degc(degf, "degF") == pytest.approx(degc, abs=5e-5)
    assert from_degc(degc, "degF") == pytest.approx(degf, abs=1e-4)
    assert to_degc(degc, "degC") == degc == from_degc(degc, "degC")


@STEADY
@given(st.floats(-273.15, 2000.0))
def test_there_and_back_gives_the_same_temperature(degc):
    assert to_degc(from_degc(degc, "degF"), "degF") == pytest.approx(degc, abs=1e-9)


@pytest.mark.parametrize(("typed", "unit"), [
    ("degC", "degC"), ("c", "degC"), (" °C ", "degC"), ("Celsius", "degC"), ("F", "degF"), ("°f", "degF"),
    ("fahrenheit", "degF")])
def test_unit_names_as_people_write_them(typed, unit):
    assert unit_name(typed, "unit") == unit


@pytest.mark.parametrize("typed", ["K", "", "degrees", "F C", None, 1, True, [], "degC" * 1000])
def test_another_unit_is_one_sentence_saying_which_two_there_are(typed):
    with pytest.raises(InputError) as caught:
        unit_name(typed, "readings[3].unit")
    assert str(caught.value).startswith("readings[3].unit is ")
    assert caught.value.wanted == "a unit is degC or degF, percent for a level or position, kPa for a pressure"
    assert len(str(caught.value)) < 170


@pytest.mark.parametrize(("typed", "ohms"), [
    (330, 330.0), (0, 0.0), (4.7, 4.7), ("330", 330.0), ("330 ohm", 330.0), ("330 Ω", 330.0), ("330R", 330.0),
    ("4R7", 4.7), ("4k7", 4700.0), ("4K7", 4700.0), ("9.4k", 9400.0), ("9,4 k", 9400.0), ("2.2 kohm", 2200.0),
    ("1M", 1e6), ("1.2 Mohm", 1.2e6), ("1m5", 1.5e6), ("1e3", 1000.0), (" 10 k ", 10000.0)])
def test_ohms_as_technicians_write_them(typed, ohms):
    assert parse_ohm(typed) == pytest.approx(ohms, rel=1e-12)


@pytest.mark.parametrize("typed", [
    "", " ", "k", "ten", "10kk", "1.2.3", "-5", "5 V", "4k7k", "0x10", "1e9999", "nan", "inf", None, True, [10], {},
    float("nan"), float("inf"), -1, -0.001, 1e13, 10**400, "9" * 10000, "1" * 39 + "k", "5\u0000"])
def test_what_is_no_ohms_is_turned_away_by_name(typed):
    with pytest.raises(InputError) as caught:
        parse_ohm(typed, "stand_in.ohm")
    assert caught.value.where == "stand_in.ohm"
    assert "ohms" in caught.value.wanted
    assert len(str(caught.value)) < 200
    assert "\n" not in str(caught.value)


@STEADY
@given(st.floats(1e-3, 1e6))
def test_ohms_and_kilohms_name_the_same_value(value):
    text = f"{value:.6f}"
    assert parse_ohm(f"{text}k") == pytest.approx(1000.0 * parse_ohm(text), rel=1e-12)
    assert parse_ohm(f"{text} Mohm") == pytest.approx(1e6 * parse_ohm(text), rel=1e-12)


@STEADY
@given(st.one_of(st.text(max_size=60), st.integers(), st.floats(), st.none(), st.lists(st.integers(), max_size=3)))
def test_anything_typed_becomes_finite_ohms_or_an_input_error(typed):
    try:
        ohms = parse_ohm(typed)
    except InputError as error:
        assert error.where == "ohm"
    else:
        assert math.isfinite(ohms)
        assert 0.0 <= ohms <= 1e12


@pytest.mark.parametrize("value", [0.99, 2.01, float("nan"), float("-inf"), "1.5", None, True, 10**400])
def test_finite_turns_away_what_is_out_of_range_or_no_number(value):
    with pytest.raises(InputError) as caught:
        finite(value, "meter.volt_percent", 1.0, 2.0, "percent from 1 to 2")
    assert str(caught.value).startswith("meter.volt_percent is ")
    assert str(caught.value).endswith("it takes percent from 1 to 2.")


def test_finite_keeps_both_ends():
    assert finite(1, "x", 1.0, 2.0, "") == 1.0
    assert finite(2.0, "x", 1.0, 2.0, "") == 2.0


def test_a_message_shortens_what_was_typed_and_shows_no_control_characters():
    message = str(InputError("shows", "x" * 5000 + "\n\x1b[31m", "it takes a number"))
    assert len(message) < 120
    assert message.endswith(": it takes a number.")
    assert str(InputError("shows", "a\nb\x07c", "w")) == 'shows is "a b c": w.'


def test_the_family_can_be_caught_by_meaning():
    assert issubclass(ContradictionError, InputError)
    assert issubclass(InputError, OhmwrightError)
    refused = RefusedError("airbag squib", "It may fire.", "Use the maker's load tool.", "danger")
    assert str(refused) == "airbag squib takes no stand-in: It may fire. Instead: Use the maker's load tool."
