"""Owns the proof that numbers and sentences come out as a technician writes them, and that typed text stays inert."""

import math
import re
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app import sentences, wording


@pytest.mark.parametrize("value, said", [(0.0, "0 Ω"), (0.2, "0.2 Ω"), (249.4, "249 Ω"), (330, "330 Ω"), (999.4, "999 Ω"),
                                         (999.6, "1 kΩ"), (2200, "2.2 kΩ"), (9400, "9.4 kΩ"), (99950, "100 kΩ"),
                                         (1e6, "1 MΩ"), (math.inf, "open"), ("open", "open"), (None, "not known")])
def test_ohms(value, said):
    assert wording.ohms(value) == said


@pytest.mark.parametrize("degc, unit, said", [(-40, "degF", "-40 °F"), (61, "degC", "61 °C"), (100, "degF", "212 °F"),
                                              (-0.4, "degC", "0 °C"), (-17.8, "degF", "0 °F")])
def test_temperature(degc, unit, said):
    assert wording.temperature(degc, unit) == said


def test_a_difference_of_temperatures_has_no_offset():
    assert wording.degrees(0.5, "degC") == "± 0.5 °C"
    assert wording.degrees(0.5, "degF") == "± 0.9 °F"


def test_a_number_stays_on_a_line_with_its_unit_also_in_tables():
    assert wording.together(wording.plain("100 %")) == "100\u00a0\\%"
    assert wording.together("61 °C") == "61\u00a0°C"


def test_bands_and_chances():
    assert wording.temperature_band((57.6, 64.2)) == "58 to 64 °C"
    assert wording.temperature_band((57.6, 64.2), "degF") == "136 to 148 °F"
    assert wording.temperature_band((60.1, 60.2)) == "60 °C"
    assert [wording.chance(share) for share in (0.0, 0.004, 0.13, 0.985, 0.999)] == [
        "under 1 %", "under 1 %", "13 %", "98 %", "over 99 %"]


def test_an_interval_is_read_in_the_technicians_unit():
    ohm = SimpleNamespace(low=230.2, mid=249.0, high=268.4, unit="ohm")
    assert wording.interval(ohm) == "about 249 Ω (230 Ω to 268 Ω)"
    hot = SimpleNamespace(low=0.0, mid=10.0, high=20.0, unit="degC")
    assert wording.interval(hot, "degF") == "about 50 °F (32 °F to 68 °F)"


@pytest.mark.parametrize("value, said", [(0.0, "0.00"), (1.0, "1.00"), (0.5, "0.50"), (0.25, "0.25"), (0.125, "0.125")])
def test_a_share_of_a_track_is_a_whole_number_of_hundredths_at_least(value, said):
    assert wording.share(value) == said


def test_an_estimate_wider_than_a_factor_of_a_hundred_is_no_number():
    wide = SimpleNamespace(low=70.8e3, mid=8.46e6, high=581e6, unit="ohm")
    assert wording.interval(wide) == "how many ohms, these readings do not tell"
    assert wording.interval(SimpleNamespace(low=0.01, mid=0.3, high=2.0, unit="factor")) == "how many times, these readings do not tell"
    assert wording.interval(SimpleNamespace(low=10.0, mid=100.0, high=1000.0, unit="ohm")) == "about 100 Ω (10 Ω to 1 kΩ)"
    # A temperature about zero has no factor.
    assert wording.interval(SimpleNamespace(low=0.0, mid=10.0, high=90.0, unit="degC")) == "about 10 °C (0 °C to 90 °C)"
    assert sentences.learned({"pull_up_ohm": wide}, "degC") == ""


def test_ohms_that_may_be_open_have_no_upper_end():
    assert wording.expected((48.4e3, 687e6), "ohm") == "48.4 kΩ or more"
    assert wording.expected((5e6, 687e6), "ohm") == "open"
    assert wording.expected((98.6, 130.0), "ohm") == "98.6 Ω to 130 Ω"


def test_what_was_learned_of_a_gauge_is_said_of_the_gauge_and_a_told_family_is_nothing_learned():
    def size(low, mid, high, unit="ohm"):
        return SimpleNamespace(low=low, mid=mid, high=high, unit=unit)
    feed, coil = size(12.0, 12.6, 13.0, "V"), size(40.0, 60.0, 90.0)
    told = {"pull_up_ohm": coil, "open_v": feed, "curve_ohm_0": size(240.0, 240.0, 240.0), "curve_ohm_100": size(33.0, 33.0, 33.0)}
    assert sentences.learned(told, "percent") == "The gauge looks like 60 Ω on 12.6 V (40 Ω to 90 Ω)."
    seen = {**told, "curve_ohm_0": size(200.0, 240.0, 260.0)}
    assert "its family like 240 Ω at the low end (200 Ω to 260 Ω)" in sentences.learned(seen, "percent")


def test_a_level_and_a_pressure_keep_their_unit_where_temperatures_are_read():
    assert wording.expected((12.0, 40.0), "percent", "degF") == "12 to 40 %"
    assert wording.expected((20.0, 101.0), "kPa") == "20 to 101 kPa"


def test_the_shop_counts_like_a_person():
    kb = SimpleNamespace(location=lambda name, sensor: SimpleNamespace(label=name))
    assert sentences.shop_jobs(kb, {"sensor": 1, "plug": 2}, "coolant-temperature") == "3 shop jobs: plug twice, sensor once"
    assert sentences.shop_jobs(kb, {"plug": 1}, "coolant-temperature") == "1 shop job: plug once"
    assert sentences.shop_jobs(kb, {"signal": 4}, "coolant-temperature") == "4 shop jobs: signal 4 times"
    assert sentences.shop_jobs(kb, {}, "coolant-temperature") == ""


@given(st.text(max_size=200))
def test_plain_leaves_no_letter_out_and_no_mark_unescaped(text):
    inert = wording.plain(text)
    assert not any(not letter.isprintable() for letter in inert.replace("\u2060", ""))
    unescaped = re.sub(r"\\[!-/:-@\[-`{-~]", "", inert)
    assert not re.search(r"[!-/:-@\[-`{-~]", unescaped)
    shown = re.sub(r"\\(.)", r"\1", inert.replace("\u2060", ""))
    assert shown == "".join(letter if letter.isprintable() else " " for letter in text).replace("\u2060", "")
