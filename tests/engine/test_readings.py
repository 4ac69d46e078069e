"""Owns what a reading may say: every field good, out of range, of the wrong kind, missing or against another."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.errors import ContradictionError, InputError
from engine.readings import WORDS, Reading, check_reading

STEADY = settings(max_examples=120, deadline=None, derandomize=True)
SHOWN = ("ohm", "shows", "unit", "signal_to_return_v", "signal_to_battery_v", "at")
VOLTS = ("signal_to_return_v", "signal_to_battery_v")
SENSOR = ("ohms", "at")
LONG = "9" * 5000


def refused(takes, **typed):
    """The one sentence for what was typed; fails where it is taken, spread over lines or over-long."""
    with pytest.raises(InputError) as caught:
        check_reading("the-test", takes, typed, "readings[2]")
    message = str(caught.value)
    assert message.startswith(caught.value.where + " is ")
    assert caught.value.where.startswith("readings[2]")
    assert message.endswith(".")
    assert "\n" not in message
    assert len(message) < 250
    assert caught.value.wanted in message
    return caught.value


def test_a_full_reading_keeps_its_words_and_gives_si():
    got = check_reading("substitute", SHOWN, {"ohm": "9.3k", "shows": 80, "unit": "F", "signal_to_return_v": 4.04,
                                              "at": {"value": 68, "unit": "degF"}})
    assert got == Reading("substitute", ohm=9300.0, shows=80.0, unit="degF", at=(68.0, "degF"), signal_to_return_v=4.04)
    assert got.shows_c == pytest.approx(26.667, abs=1e-3)
    assert got.at_c == pytest.approx(20.0)
    assert got.to_dict() == {"test": "substitute", "ohm": 9300.0, "shows": 80.0, "unit": "degF",
                             "at": {"value": 68.0, "unit": "degF"}, "signal_to_return_v": 4.04}


def test_a_number_without_a_unit_is_degrees_celsius():
    assert check_reading("as-found", SHOWN[1:], {"shows": 21}).unit == "degC"
    assert check_reading("as-found", SHOWN[1:], {"shows": 21}).shows_c == 21.0


def test_a_range_and_a_word():
    band = check_reading("live-number", SHOWN[1:], {"shows": [68, 86], "unit": "degF"})
    assert band.shows_c == pytest.approx((20.0, 30.0))
    assert band.to_dict()["shows"] == [68.0, 86.0]
    for word in WORDS:
        typed = word.upper().replace("-", " ")
        assert check_reading("live-number", SHOWN[1:], {"shows": f" {typed} "}).shows_c == word


def test_ohms_may_be_open_and_a_finding_good_or_bad():
    assert check_reading("return-ohms", ("ohms",), {"ohms": " Open "}).ohms == "open"
    assert check_reading("return-ohms", ("ohms",), {"ohms": "0.3 ohm"}).ohms == 0.3
    assert check_reading("look", ("good",), {"good": False}).good is False


@pytest.mark.parametrize("shows", [
    "hot", "", LONG, True, {}, [], [1], [1, 2, 3], [1, "2"], [2, 1], [1, float("nan")], float("nan"), float("inf"),
    -101.0, 1501.0, 1e300, 10**400, [20, 1e9], b"80", object()])
def test_what_shows_cannot_be(shows):
    assert refused(SHOWN[1:], shows=shows).where == "readings[2].shows"


def test_the_shown_range_is_judged_in_its_own_unit():
    assert check_reading("as-found", SHOWN[1:], {"shows": 2700, "unit": "degF"}).shows_c == pytest.approx(1482.2, abs=0.1)
    assert refused(SHOWN[1:], shows=2700, unit="degC").wanted == "a shown temperature lies between -100 and 1500 degC"
    assert refused(SHOWN[1:], shows=2800, unit="degF").where == "readings[2].shows"
    assert refused(SHOWN[1:], shows=[-200, 20], unit="degF").where == "readings[2].shows"


@pytest.mark.parametrize("unit", ["K", "", LONG, 5, True, [], "kohm", float("nan")])
def test_what_a_unit_cannot_be(unit):
    error = refused(SHOWN[1:], shows=20, unit=unit)
    assert (error.where, error.wanted) == ("readings[2].unit", "a unit is degC or degF, percent for a level or position, kPa for a pressure")


@pytest.mark.parametrize("ohm", ["ten", "-5", LONG, -1, 1e13, float("nan"), float("inf"), 10**400, True, [], {}, "5 V", "open"])
def test_what_the_ohms_put_on_cannot_be(ohm):
    error = refused(SHOWN, ohm=ohm, shows=20)
    assert error.where == "readings[2].ohm"
    assert "ohms" in error.wanted


@pytest.mark.parametrize("ohms", ["shut", -0.1, 1e13, float("nan"), LONG, False, [5], {"ohm": 5}])
def test_what_measured_ohms_cannot_be(ohms):
    assert refused(SENSOR, ohms=ohms).where == "readings[2].ohms"


@pytest.mark.parametrize("name", VOLTS)
@pytest.mark.parametrize("value", [60.1, -60.1, float("nan"), float("-inf"), "5", True, [5], 10**400])
def test_what_volts_cannot_be(name, value):
    error = refused(VOLTS, **{name: value})
    assert error.where == f"readings[2].{name}"
    assert error.wanted == "it takes volts between -60 and 60"


@pytest.mark.parametrize("good", ["yes", 1, 0, 0.0, [], LONG])
def test_what_a_finding_cannot_be(good):
    assert refused(("good",), good=good).wanted == "it takes true or false"


@pytest.mark.parametrize(("at", "where"), [
    (20, "at"), ("20 degC", "at"), ({}, "at"), ({"unit": "degC"}, "at"), ({"value": 20, "scale": "C"}, "at"), ([20, "degC"], "at"),
    ({"value": "20"}, "at.value"), ({"value": float("nan")}, "at.value"), ({"value": 1501}, "at.value"),
    ({"value": -101}, "at.value"), ({"value": 10**400}, "at.value"), ({"value": 20, "unit": "K"}, "at.unit"),
    ({"value": 20, "unit": None}, "at.unit"), ({"value": LONG}, "at.value")])
def test_what_a_part_temperature_cannot_be(at, where):
    assert refused(SENSOR, ohms=2500, at=at).where == f"readings[2].{where}"


def test_a_field_the_test_does_not_take_and_one_nobody_knows():
    error = refused(VOLTS, signal_to_return_v=2.0, ohm=330)
    assert (error.where, error.wanted) == ("readings[2].ohm", "the-test takes signal_to_return_v, signal_to_battery_v")
    assert refused(VOLTS, signal_to_return_v=2.0, colour="red").where == "readings[2].colour"
    assert refused(VOLTS, signal_to_return_v=2.0, test="look").where == "readings[2].test"


def test_nothing_measured_is_no_reading():
    error = refused(SENSOR, at={"value": 20})
    assert (error.where, error.wanted) == ("readings[2]", "the-test needs ohms")
    assert refused(VOLTS).wanted == "the-test needs signal_to_return_v or signal_to_battery_v"
    assert refused(VOLTS, signal_to_return_v=None).where == "readings[2]"


def test_a_shown_number_of_a_substitution_needs_the_ohms_it_was_shown_at():
    error = refused(SHOWN, shows=80)
    assert (error.where, error.wanted) == ("readings[2].ohm", "the-test needs the ohms that were put on the plug")


def test_a_unit_without_a_shown_number_contradicts():
    with pytest.raises(ContradictionError) as caught:
        check_reading("as-found", SHOWN[1:], {"unit": "degF", "signal_to_return_v": 2.0}, "readings[0]")
    assert str(caught.value) == 'readings[0].unit is "degF": a unit goes with a shown number.'


def test_nulls_count_as_not_typed():
    got = check_reading("as-found", SHOWN[1:], {"shows": 20, "unit": None, "at": None, "ohm": None})
    assert got.to_dict() == {"test": "as-found", "shows": 20.0, "unit": "degC"}


scalars = st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=30),
                    st.sampled_from([*WORDS, "open", "degC", "F", "4k7", 10**400]))
values = st.recursive(scalars, lambda inner: st.one_of(
    st.lists(inner, max_size=3), st.dictionaries(st.sampled_from(["value", "unit", "x"]), inner, max_size=3)), max_leaves=5)
names = st.sampled_from(["ohm", "shows", "unit", "ohms", "good", "at", *VOLTS, "test", "x"])


@STEADY
@given(st.dictionaries(names, values, max_size=5), st.sampled_from([SHOWN, SHOWN[1:], VOLTS, SENSOR, ("ohms",), ("good",)]))
def test_whatever_is_typed_only_an_input_error_comes_back(typed, takes):
    try:
        got = check_reading("t", takes, typed, "r")
    except InputError as error:
        assert error.where.startswith("r")
        assert "\n" not in str(error)
        assert len(str(error)) < 400
    else:
        # What was taken goes into the case file and comes back the same.
        again = {name: value for name, value in got.to_dict().items() if name != "test"}
        assert check_reading("t", takes, again, "r") == got


@STEADY
@given(st.floats(-99.0, 1499.0), st.sampled_from(["degC", "degF"]))
def test_a_typed_number_is_kept_to_the_last_digit(value, unit):
    got = check_reading("as-found", SHOWN[1:], {"shows": value, "unit": unit})
    assert got.shows == value
    assert got.shows_c == pytest.approx(value if unit == "degC" else (value - 32.0) / 1.8, abs=1e-9)
