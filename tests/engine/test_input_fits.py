"""Owns the input resistor from pairs: its band, when pairs agree, and which cause is named when they do not."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.errors import InputError
from engine.input_fits import CAUSES, feeds_together, other_feed_ohm, pull_up_from_pairs, pull_up_from_short
from engine.stand_in import Meter

STEADY = settings(max_examples=60, deadline=None, derandomize=True)
OHMS = np.array([7277.0, 2500.0, 1000.0, 300.0])


def volts(ohms, pull_up_ohm, open_v=5.0):
    return open_v * ohms / (ohms + pull_up_ohm)


def cause(got, id):
    return next(c for c in got.causes if c.id == id)


@STEADY
@given(st.lists(st.floats(100.0, 3e4), min_size=1, max_size=6, unique=True), st.floats(300.0, 30000.0))
def test_pairs_of_one_input_agree_and_give_it_back(ohms, pull_up):
    ohms = np.array(ohms)
    got = pull_up_from_pairs(ohms, volts(ohms, pull_up), 5.0)
    assert got.consistent
    assert (got.causes, got.best, got.odd) == ((), "", None)
    assert got.together.mid == pytest.approx(pull_up, rel=1e-6)
    for each in (*got.each, got.together):
        assert each.low < pull_up < each.high


@STEADY
@given(st.integers(0, 2**32 - 1), st.floats(500.0, 20000.0))
def test_the_band_holds_the_truth_whatever_the_meter_does_within_its_class(seed, pull_up):
    draw, meter = np.random.default_rng(seed), Meter()
    real = draw.uniform(0.2, 5.0, 4) * pull_up
    off = draw.uniform(-1.0, 1.0, (3, 4))
    read = real + off[0] * np.array([meter.ohm_band(ohm) for ohm in real])
    at_plug = volts(real, pull_up)
    seen = at_plug + off[1] * np.array([meter.volt_band(v) for v in at_plug])
    got = pull_up_from_pairs(read, seen, 5.0 + float(off[2, 0]) * meter.volt_band(5.0))
    assert got.spread < 3.0
    for each in got.each:
        assert each.low * 0.97 < pull_up < each.high * 1.03


def test_several_pairs_know_it_better_than_one():
    one, four = pull_up_from_pairs(OHMS[:1], volts(OHMS[:1], 1000.0), 5.0), pull_up_from_pairs(OHMS, volts(OHMS, 1000.0), 5.0)
    assert four.together.high - four.together.low < 0.5 * (one.together.high - one.together.low)


def test_a_wrong_supply_is_named_with_the_right_one():
    got = pull_up_from_pairs(OHMS, volts(OHMS, 1000.0, 4.7))
    assert not got.consistent
    assert got.together is None  # never an average of values that drift
    assert [c.id for c in got.causes] == list(CAUSES)
    assert got.best == "supply"
    assert cause(got, "supply").value == pytest.approx(4.7, abs=0.002)


def test_a_switched_input_is_named_with_its_second_resistor():
    # 10 kohm, 909 ohm once warm (1990s service text).
    ohms = np.array([20000.0, 8000.0, 3200.0, 1500.0, 700.0])
    got = pull_up_from_pairs(ohms, np.where(ohms > 1800.0, volts(ohms, 10000.0), volts(ohms, 909.0)), 5.0)
    assert got.best == "switched"
    assert cause(got, "switched").value == pytest.approx(909.0, rel=1e-6)
    assert not cause(got, "supply").fits


def test_ohms_of_another_moment_are_named_where_nothing_regular_fits():
    got = pull_up_from_pairs(OHMS * np.exp([0.15, -0.10, 0.20, -0.05]), volts(OHMS, 1000.0), 5.0)
    assert got.best == "moved"
    assert cause(got, "moved").value == pytest.approx(0.13, abs=0.03)  # about 3 K at 4 % a kelvin


def test_a_scatter_no_cooling_engine_has_names_no_cause():
    got = pull_up_from_pairs(OHMS, volts(OHMS, 1000.0 * np.exp([0.9, -0.8, 0.7, -0.9])), 5.0)
    assert cause(got, "moved").value > 0.4
    assert (got.consistent, got.best) == (False, "")


def test_open_volts_nobody_measured_widen_what_all_pairs_say_together():
    measured, assumed = (pull_up_from_pairs(OHMS, volts(OHMS, 1000.0), open_v).together for open_v in (5.0, None))
    assert assumed.high - assumed.low > 1.05 * (measured.high - measured.low)
    # Their error is common to all pairs: a hundred of them do not average it out.
    many = pull_up_from_pairs(np.full(100, 1000.0), np.full(100, 2.5)).together
    # 1 % of 5 V as a rectangle is 0.0289 V, over 5 - 2.5 V: 1.15 %, twice that either way.
    assert many.high / many.mid - 1.0 > 0.023


def test_a_second_load_is_told_from_a_wrong_supply_by_the_measured_open_volts():
    beside = 1.0 / (1.0 / OHMS + 1.0 / 20000.0)
    measured, assumed = (pull_up_from_pairs(OHMS, volts(beside, 1000.0), open_v) for open_v in (5.0, None))
    assert measured.best == "second-load"
    assert cause(measured, "second-load").value == pytest.approx(20000.0, rel=0.01)
    # Pairs alone cannot tell the two apart, so the one to check first is named.
    assert assumed.best == "supply"
    assert cause(assumed, "second-load").fits


def test_two_pairs_that_disagree_name_no_cause():
    got = pull_up_from_pairs(OHMS[[0, 3]], volts(OHMS[[0, 3]], 1000.0, 4.7))
    assert (got.consistent, got.together, got.best) == (False, None, "")
    assert not any(c.fits for c in got.causes)


@pytest.mark.parametrize("index", range(4))
def test_one_slip_among_good_pairs_is_pointed_at(index):
    seen = volts(OHMS, 1000.0)
    seen[index] *= 0.9
    got = pull_up_from_pairs(OHMS, seen, 5.0)
    assert got.odd == index
    assert got.together is None


def test_of_two_pairs_either_of_which_may_be_the_slip_none_is_pointed_at():
    # One pair is 2.7 meter uncertainties (1 % each) high, one as much low: without either the other three agree.
    got = pull_up_from_pairs(np.full(4, 1000.0), volts(1000.0, 1000.0 * np.exp(0.00993 * np.array([0.0, 0.0, 2.7, -2.7]))), 5.0)
    assert (got.consistent, got.odd) == (False, None)


def test_three_pairs_point_at_none():
    seen = volts(OHMS[:3], 1000.0) * [1.0, 0.9, 1.0]
    assert pull_up_from_pairs(OHMS[:3], seen, 5.0).odd is None


@STEADY
@given(st.permutations(range(4)), st.floats(4.55, 4.85))
def test_the_order_of_pairs_does_not_matter(order, open_v):
    seen = volts(OHMS, 800.0, open_v)
    first, second = pull_up_from_pairs(OHMS, seen), pull_up_from_pairs(OHMS[order], seen[order])
    assert (first.best, first.consistent) == (second.best, second.consistent)
    assert first.spread == pytest.approx(second.spread, rel=1e-9)


@pytest.mark.parametrize(("ohms", "seen", "open_v", "where"), [
    ([], [], None, "ohms"), ([330.0], [0.65, 0.7], None, "volts"), ([330.0], [5.2], None, "volts"),
    ([330.0], [5.0], 5.0, "volts"), ([-1.0], [0.65], None, "ohms"), ([330.0], [float("nan")], None, "volts"),
    (["x"], [0.65], None, "ohms"), ([330.0], [0.65], 0.0, "open_v")])
def test_pairs_that_cannot_be_are_turned_away(ohms, seen, open_v, where):
    with pytest.raises(InputError) as caught:
        pull_up_from_pairs(ohms, seen, open_v)
    assert caught.value.where == where


@STEADY
@given(st.floats(4.0, 14.0), st.floats(4.0, 14.0), st.floats(100.0, 1e5), st.floats(100.0, 1e5), st.floats(10.0, 1e5))
def test_two_feeds_act_as_one(first_v, second_v, first_ohm, second_ohm, element_ohm):
    # Kirchhoff's current law at the wire, solved by hand for two feeds and one element.
    node = (first_v / first_ohm + second_v / second_ohm) / (1.0 / first_ohm + 1.0 / second_ohm + 1.0 / element_ohm)
    open_v, source_ohm = feeds_together([first_v, second_v], [first_ohm, second_ohm])
    assert open_v * element_ohm / (element_ohm + source_ohm) == pytest.approx(node, rel=1e-12)
    assert other_feed_ohm(source_ohm, first_ohm) == pytest.approx(second_ohm, rel=1e-6)


def test_feeds_together_are_never_above_one_alone():
    with pytest.raises(InputError, match="two feeds together lie below the 2490 ohm of one"):
        other_feed_ohm(2600.0, 2490.0)


def test_short_circuit_current_has_the_ammeter_in_it():
    got = pull_up_from_short(5.0, 5.0 / 1008.0)  # 8 ohm of ammeter in series with 1 kohm
    assert got.low < 1000.0 < got.high
    assert pull_up_from_short(5.0, 0.005, burden_ohm=0.0).low > pull_up_from_short(5.0, 0.005).low
    with pytest.raises(InputError, match="above zero"):
        pull_up_from_short(5.0, 0.0)
