"""Owns preferred values: whole series, the value nearest or next above, and the best part or pair of a drawer."""

from time import perf_counter

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.errors import InputError
from engine.preferred_values import DECADES, nearest, nearest_parts, next_at_or_above, preferred

STEADY = settings(max_examples=120, deadline=None, derandomize=True)
DRAWER = (100.0, 150.0, 220.0, 330.0, 470.0, 680.0, 1000.0, 1500.0, 2200.0, 3300.0, 4700.0, 6800.0)


@pytest.mark.parametrize(("series", "count"), [("E12", 61), ("E24", 121), ("E96", 481)])
def test_a_drawer_over_five_decades(series, count):
    ohms = preferred(series, 10.0, 1e6)
    assert len(ohms) == count
    assert (ohms[0], ohms[-1]) == (10.0, 1e6)
    assert list(ohms) == sorted(set(ohms))


def test_a_drawer_is_as_wide_as_its_ends_and_holds_them():
    assert preferred("E24", 9.1, 11.0) == (9.1, 10.0, 11.0)
    assert preferred("E96", 0.1, 0.105) == (0.1, 0.102, 0.105)
    assert preferred("E24", 4.6e3, 4.65e3) == ()


@STEADY
@given(st.floats(1.0, 1e7), st.sampled_from(sorted(DECADES)))
def test_nearest_and_next_above_are_so(ohm, series):
    every = preferred(series, 0.1, 1e8)
    assert nearest(ohm, series)[0] == min(every, key=lambda value: (round(abs(np.log(value / ohm)), 12), value))
    assert next_at_or_above(ohm, series) == min(value for value in every if value >= ohm)
    three = nearest(ohm, series, 3)
    assert len(three) == 3
    assert nearest(ohm, series)[0] in three


@pytest.mark.parametrize(("wanted", "parts", "value"), [
    (330.0, (330.0,), 330.0),
    (430.0, (100.0, 330.0), 430.0),            # in series
    (500.0, (1000.0, 1000.0), 500.0),          # two alike, side by side
    (319.7, (470.0, 1000.0), 319.7279),        # 470 * 1000 / 1470
    (1e6, (4700.0, 6800.0), 11500.0),          # nothing near: the two largest in series
    (0.5, (100.0, 150.0), 60.0),               # nothing near: the two smallest side by side
])
def test_the_nearest_part_or_pair(wanted, parts, value):
    drawer = (*DRAWER, 1000.0)
    got = nearest_parts(drawer, wanted)
    assert (got.parts, got.ohm) == (parts, pytest.approx(value, abs=1e-4))


def test_two_alike_are_only_taken_where_two_are_listed():
    assert nearest_parts((1000.0,), 500.0).parts == (1000.0,)
    assert nearest_parts((1000.0, 1000.0), 500.0).parts == (1000.0, 1000.0)


@STEADY
@given(st.lists(st.one_of(st.floats(1.0, 1e6), st.sampled_from(DRAWER)), min_size=1, max_size=12), st.floats(1.0, 1e6))
def test_no_part_or_pair_is_nearer_than_the_one_named(ohms, wanted):
    got = nearest_parts(tuple(ohms), wanted)
    every = list(ohms)
    for i, a in enumerate(ohms):
        for b in ohms[i + 1:]:
            every += [a + b, 1.0 / (1.0 / a + 1.0 / b)]
    assert abs(np.log(got.ohm / wanted)) <= min(abs(np.log(v / wanted)) for v in every) + 2e-9
    taken = list(ohms)
    for part in got.parts:
        taken.remove(part)  # each part is in hand


def test_a_full_drawer_comes_within_half_a_percent_everywhere_and_is_fast():
    ohms = preferred("E24")
    wanted = np.geomspace(20.0, 5e5, 400)
    start = perf_counter()
    off = [abs(nearest_parts(ohms, float(ohm)).ohm / ohm - 1.0) for ohm in wanted]
    assert perf_counter() - start < 2.0  # about 0.1 s; a loop over 7260 pairs takes 10 s
    assert max(off) < 0.005


@pytest.mark.parametrize(("call", "where"), [
    (lambda: preferred("E25"), "series"), (lambda: preferred("E24", 0.0), "low_ohm"),
    (lambda: preferred("E24", 100.0, 10.0), "high_ohm"), (lambda: nearest(float("nan")), "ohm"),
    (lambda: next_at_or_above(1e9), "ohm")])
def test_what_is_no_series_or_value_is_turned_away(call, where):
    with pytest.raises(InputError) as caught:
        call()
    assert caught.value.where == where
