"""Owns the proof that what is typed into one field is read right, or refused in one sentence."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app import typed
from engine.errors import InputError


@pytest.mark.parametrize("text, read", [("330", [330.0]), ("330, 2.2k 4k7", [330.0, 2200.0, 4700.0]),
                                        ("1k;2,2k;\n10 kohm".replace(" k", "k"), [1000.0, 2200.0, 10000.0]),
                                        ("  470,  ", [470.0])])
def test_a_list_of_ohms(text, read):
    assert typed.ohm_list(text, "ohms") == read


def test_temperatures_are_read_in_their_unit():
    assert typed.temperatures("-40 32, 212", "degF") == (-40.0, 0.0, 100.0)
    assert typed.temperatures("\u221220 20", "degC") == (-20.0, 20.0)


def test_points_of_a_curve():
    assert typed.curve_points(" 20 2500\n80: 330\n100 = 0.18k ") == [[20.0, 2500.0], [80.0, 330.0], [100.0, 180.0]]


@pytest.mark.parametrize("call, sentence", [
    (lambda: typed.ohm_list("", "ohms"), "ohms is \"empty\": it takes at least one number."),
    (lambda: typed.ohm_list("1 " * 300, "ohms"), "ohms is \"300 numbers\": it takes at most 200."),
    (lambda: typed.temperatures("warm", "degC"), "a wanted temperature is \"warm\": temperatures are numbers such as -20 or 80."),
    (lambda: typed.temperatures("nan", "degC"), "a wanted temperature is \"nan\": temperatures are numbers such as -20 or 80."),
    (lambda: typed.curve_points("20"), "the curve is \"20\": a line takes one temperature and its ohms, such as 20 2500.")])
def test_mistakes_say_what_would_be_right(call, sentence):
    with pytest.raises(InputError) as caught:
        call()
    assert str(caught.value) == sentence


def test_open_and_empty():
    assert typed.ohms_or_open(" OL ", "ohms") == "open"
    assert typed.ohms_or_open("", "ohms") is None
    assert typed.ohms_or_open("249", "ohms") == 249.0
    assert typed.ohms_or_none(" ", "ohms") is None


@given(st.text(max_size=300), st.sampled_from(["degC", "degF"]))
def test_any_text_is_read_or_refused_in_one_sentence(text, unit):
    for read in (lambda: typed.ohm_list(text, "ohms"), lambda: typed.temperatures(text, unit),
                 lambda: typed.curve_points(text), lambda: typed.ohms_or_open(text, "ohms")):
        try:
            read()
        except InputError as mistake:
            assert str(mistake).endswith(".") and "\n" not in str(mistake) and len(str(mistake)) < 250
