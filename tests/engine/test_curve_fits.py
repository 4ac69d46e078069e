"""Owns what few points say of a sensor: curve and band, rising or falling, error against another curve, the unit shown."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.curve_fits import error_along, fit_beta, rising_or_falling, unit_of
from engine.curves import beta_curve
from engine.errors import InputError
from engine.stand_in import Meter

STEADY = settings(max_examples=60, deadline=None, derandomize=True)
EXACT = Meter(0.0, 0.0, 0.0)


@STEADY
@given(st.floats(100.0, 1e5), st.floats(3000.0, 5000.0),
       st.lists(st.floats(-30.0, 120.0), min_size=2, max_size=6, unique_by=lambda t: round(t / 8)))
def test_points_of_a_beta_law_give_it_back(ohm_25, beta_k, temperatures):
    got = fit_beta(temperatures, beta_curve(ohm_25, beta_k).ohm_at(temperatures))
    assert got.ohm_25.mid == pytest.approx(ohm_25, rel=1e-6)
    assert got.beta_k.mid == pytest.approx(beta_k, rel=1e-6)
    assert got.beta_k.low < beta_k < got.beta_k.high
    assert float(got.curve.ohm_at(60.0)) == pytest.approx(float(beta_curve(ohm_25, beta_k).ohm_at(60.0)), rel=1e-6)


def test_bands_hold_the_truth_about_19_times_in_20():
    draw, inside = np.random.default_rng(20), 0
    temperatures, real = np.array([10.0, 40.0, 85.0]), beta_curve(2500.0, 3600.0)
    for _ in range(400):
        got = fit_beta(temperatures, real.ohm_at(temperatures + draw.normal(0.0, 1.0, 3)), EXACT)
        inside += got.beta_k.low < 3600.0 < got.beta_k.high
    assert 0.92 < inside / 400 < 0.98


def test_points_further_apart_know_beta_better():
    real = beta_curve(2500.0, 3600.0)
    near, far = (fit_beta(t, real.ohm_at(t)).beta_k for t in ([20.0, 30.0], [20.0, 90.0]))
    assert far.high - far.low < 0.25 * (near.high - near.low)


def test_a_sensor_is_right_against_its_own_curve():
    real = beta_curve(2500.0, 3600.0)
    for error in error_along(fit_beta([20.0, 90.0], real.ohm_at([20.0, 90.0])), real, (0.0, 50.0, 110.0)):
        assert error.mid == pytest.approx(0.0, abs=1e-6)
        assert error.low < 0.0 < error.high


def test_at_a_measured_point_the_error_is_as_sure_as_the_thermometer():
    real = beta_curve(2500.0, 3600.0)
    at = error_along(fit_beta([20.0, 90.0], real.ohm_at([20.0, 90.0]), EXACT, 1.5), real, (20.0,))[0]
    assert (at.high - at.low) / 2.0 == pytest.approx(2 * 1.5, rel=0.02)


def test_the_error_is_least_sure_far_from_the_points():
    real = beta_curve(2500.0, 3600.0)
    within, beyond = error_along(fit_beta([20.0, 60.0], real.ohm_at([20.0, 60.0])), real, (40.0, 120.0))
    assert within.high - within.low < 0.4 * (beyond.high - beyond.low)


@pytest.mark.parametrize(("temperatures", "ohms"), [([20.0], [2500.0]), ([20.0, 20.0], [2500.0, 2490.0]),
                                                    ([20.0, 80.0], [2500.0]), ([-300.0, 20.0], [2500.0, 330.0])])
def test_fewer_than_two_points_are_no_curve(temperatures, ohms):
    with pytest.raises(InputError, match="two or more different temperatures"):
        fit_beta(temperatures, ohms)


@STEADY
@given(st.floats(-20.0, 60.0), st.floats(15.0, 60.0), st.sampled_from([(2500.0, 3600.0, "NTC"), (1000.0, -650.0, "PTC")]))
def test_rising_and_falling_are_told_apart_in_either_order(first_c, apart, sensor):
    ohm_25, beta_k, kind = sensor
    second_c = first_c + apart
    first, second = beta_curve(ohm_25, beta_k).ohm_at([first_c, second_c]).tolist()
    got, back = rising_or_falling(first_c, first, second_c, second), rising_or_falling(second_c, second, first_c, first)
    assert (got.kind, back.kind) == (kind, kind)
    assert got.confidence > 0.95
    assert got.share_per_k == pytest.approx(back.share_per_k, rel=1e-9)


@pytest.mark.parametrize(("second_c", "second_ohm"), [(26.0, 1002.0), (25.3, 990.0), (45.0, 1000.0)])
def test_changes_within_the_meters_or_the_thermometer_decide_nothing(second_c, second_ohm):
    got = rising_or_falling(25.0, 1000.0, second_c, second_ohm)
    assert got.kind == "undecided"
    assert 0.5 <= got.confidence < 0.95


def test_one_temperature_has_no_direction():
    with pytest.raises(InputError, match="the two temperatures differ"):
        rising_or_falling(25.0, 1000.0, 25.0, 900.0)


@STEADY
@given(st.integers(-30, 140), st.integers(8, 30), st.sampled_from([np.round, np.floor]))
def test_a_run_of_whole_degc_shown_as_degf_is_known_as_such(start, count, way):
    assert unit_of(way(1.8 * np.arange(start, start + count) + 32.0)).unit == "degF"


@STEADY
@given(st.integers(-30, 200), st.integers(6, 40))
def test_a_run_without_gaps_is_degc(start, count):
    assert unit_of(range(start, start + count)).unit == "degC"


@STEADY
@given(st.lists(st.integers(-40, 215), max_size=60))
def test_order_and_repeats_and_minus_40_count_for_nothing(numbers):
    assert unit_of(numbers) == unit_of([*reversed(numbers), *numbers, -40])
    assert 0.0 <= unit_of(numbers).degf <= 1.0


@pytest.mark.parametrize("numbers", [[], [-40], [87], [70, 72]])
def test_few_numbers_decide_nothing(numbers):
    assert unit_of(numbers).unit == "either"


def test_tenths_decide_sooner_and_nothing_overflows():
    assert unit_of([68.0, 69.8, 71.6]).unit == "degF"
    assert unit_of([20.1, 20.4, 20.8]).unit == "degC"
    assert unit_of(1.8 * np.arange(-40, 400) + 32.0).degf == pytest.approx(1.0)


def test_what_is_no_number_is_turned_away():
    with pytest.raises(InputError, match="finite numbers"):
        unit_of([20.0, float("nan")])
