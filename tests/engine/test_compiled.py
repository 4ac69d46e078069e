"""Owns the arithmetic of compiled loops against numpy and scipy, and quantiles against values put in order."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import log_ndtr, ndtr, ndtri

from engine.compiled import below_normal, bell, compiled, everywhere, exp_of, log_of, normal_at, tail_times
from engine.ranked import quantiles

STEADY = settings(max_examples=200, deadline=None, derandomize=True)
WIDE = np.linspace(-37.0, 37.0, 1481)


def test_powers_and_logs_are_those_of_numpy():
    assert everywhere(exp_of, WIDE * 18.0) == pytest.approx(np.exp(WIDE * 18.0), rel=1e-8)
    powers = np.exp(WIDE * 18.0)
    assert everywhere(log_of, powers) == pytest.approx(np.log(powers), abs=1e-9)


def test_what_is_given_to_seven_digits_is_worked_out_to_seven():
    @compiled
    def half_as_much_again(at):
        return 1.5 * at, exp_of(at), log_of(at)

    for given, digits in ((np.float32, 3e-6), (np.float64, 2e-8)):
        at = given(3.7)
        more, power, log = half_as_much_again(at)
        assert half_as_much_again.overloads[half_as_much_again.signatures[-1]].signature.return_type.dtype.name == np.dtype(given).name
        assert more == pytest.approx(1.5 * float(at), rel=1e-7)
        assert power == pytest.approx(np.exp(float(at)), rel=digits) and log == pytest.approx(np.log(float(at)), rel=digits)


def test_what_is_beyond_any_power_is_held_and_no_error():
    assert 0.0 <= exp_of(-1e9) < 1e-300
    assert exp_of(1e9) > 1e300


def test_the_normal_is_that_of_scipy_far_into_its_tails():
    assert everywhere(below_normal, WIDE) == pytest.approx(ndtr(WIDE), rel=2e-7)
    out = np.abs(WIDE)
    assert everywhere(tail_times, out, 0.0) == pytest.approx(np.exp(0.5 * np.square(out) + log_ndtr(-out)), rel=2e-7)
    assert tail_times(500.0, 0.0) == pytest.approx(np.exp(125e3 + log_ndtr(-500.0)), rel=2e-7)


def test_where_so_much_of_the_normal_lies_below_is_told_as_scipy_does():
    below = np.concatenate([np.linspace(0.001, 0.999, 999), 10.0 ** np.arange(-7.0, -3.0), 1.0 - 10.0 ** np.arange(-7.0, -3.0)])
    assert everywhere(normal_at, below) == pytest.approx(ndtri(below), rel=2e-6, abs=1e-6)
    assert everywhere(normal_at, np.array([1e-9, 1.0 - 1e-9])) == pytest.approx(ndtri([1e-9, 1.0 - 1e-9]), rel=1e-3)
    assert everywhere(below_normal, everywhere(normal_at, below)) == pytest.approx(below, rel=2e-5)


def test_a_bell_holds_one_in_all():
    step = 0.01
    assert sum(bell(float(x), 1.7) for x in np.arange(-17.0, 17.0, step)) * step == pytest.approx(1.0, abs=1e-6)


def in_order(value, weight, at):
    """Quantiles straight between half-weights, everything put in order first."""
    order = np.argsort(value, kind="stable")
    half = np.cumsum(weight[order]) - 0.5 * weight[order]
    return np.interp(np.asarray(at) * weight.sum(), half, value[order])


@STEADY
@given(st.integers(1, 3000), st.integers(0, 10**6))
def test_quantiles_are_those_of_values_put_in_order(count, seed):
    rng = np.random.default_rng(seed)
    value, weight = rng.normal(size=count), rng.random(count) ** 4 + 1e-9
    at = (0.0, 0.05, 0.5, 0.95, 1.0)
    assert quantiles(value, weight, at) == pytest.approx(in_order(value, weight, at), abs=1e-9)


@STEADY
@given(st.lists(st.integers(-3, 3), min_size=1, max_size=200))
def test_quantiles_of_few_values_many_times_over(values):
    value, weight = np.array(values, float), np.ones(len(values))
    assert quantiles(value, weight, (0.05, 0.5, 0.95)) == pytest.approx(in_order(value, weight, (0.05, 0.5, 0.95)), abs=1e-9)


def test_what_is_given_stays_as_it_was():
    value, weight = np.arange(100.0)[::-1].copy(), np.ones(100)
    assert quantiles(value, weight, (0.5,)) == pytest.approx((49.5,))
    assert np.array_equal(value, np.arange(100.0)[::-1])
