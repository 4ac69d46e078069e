"""Owns what every curve must do: both ways, monotone, beyond its ends, and turn bad points away with one sentence."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.curves import (Curve, beta_curve, check_points, four_term_temperature, steinhart_hart_coefficients,
                           steinhart_hart_temperature)
from engine.errors import InputError

STEADY = settings(max_examples=80, deadline=None, derandomize=True)
GOOD = ((-40.0, 45000.0), (20.0, 2500.0), (100.0, 180.0))


@st.composite
def curve_points(draw):
    """Two to twelve points between -60 and 300 degC, at least 2 K and 2 % apart, falling or rising."""
    count = draw(st.integers(2, 12))
    temperatures = -60.0 + np.cumsum([draw(st.floats(2.0, 30.0)) for _ in range(count)])
    steps = [draw(st.floats(1.02, 3.0)) for _ in range(count)]
    ohms = draw(st.floats(0.5, 50.0)) * np.cumprod(steps)
    if draw(st.booleans()):
        ohms = ohms[::-1]
    return tuple(zip(temperatures.tolist(), ohms.tolist(), strict=True))


@STEADY
@given(curve_points(), st.floats(0.0, 1.0))
def test_temperature_to_ohms_and_back(points, share):
    curve = Curve("c", "c", points)
    low, high = curve.range_c
    temperature = low + share * (high - low)
    assert float(curve.temperature_at(curve.ohm_at(temperature))) == pytest.approx(temperature, abs=1e-6)


@STEADY
@given(curve_points(), st.floats(0.0, 1.0))
def test_ohms_to_temperature_and_back(points, share):
    curve = Curve("c", "c", points)
    ohms = sorted(ohm for _, ohm in points)
    ohm = ohms[0] * (ohms[-1] / ohms[0]) ** share
    assert float(curve.ohm_at(curve.temperature_at(ohm))) == pytest.approx(ohm, rel=1e-9)


@STEADY
@given(curve_points())
def test_every_point_is_met_and_the_curve_is_monotone_within_and_beyond(points):
    curve = Curve("c", "c", points)
    assert [float(curve.ohm_at(t)) for t, _ in points] == pytest.approx([ohm for _, ohm in points], rel=1e-9)
    grid = np.linspace(max(points[0][0] - 50.0, -200.0), points[-1][0] + 50.0, 200)
    steps = np.diff(curve.ohm_at(grid))
    # Far beyond the ends ohms are held at what a resistor can have; between the ends they always move.
    within = (grid[:-1] >= points[0][0]) & (grid[1:] <= points[-1][0])
    rise = steps if curve.rising else -steps
    assert np.all(rise >= 0) and np.all(rise[within] > 0)
    assert curve.rising == (points[0][1] < points[-1][1])
    assert curve.range_c == (points[0][0], points[-1][0])


def test_two_points_are_the_beta_law():
    # R = 10000 exp(3977 (1/T - 1/298.15)) by hand: at 0 degC 10000 * exp(3977 * 3.069860e-4) = 33899 ohm.
    curve = beta_curve(10000.0, 3977.0)
    assert float(curve.ohm_at(0.0)) == pytest.approx(10000.0 * np.exp(3977.0 * (1 / 273.15 - 1 / 298.15)), rel=1e-9)
    assert float(curve.ohm_at(0.0)) == pytest.approx(33899.0, abs=2.0)
    assert curve.ohm_25 == pytest.approx(10000.0, rel=1e-12)
    assert curve.beta_25_85 == pytest.approx(3977.0, rel=1e-9)


def test_between_points_ln_ohms_run_straight_against_one_over_kelvin():
    # Half way in 1/T between 20 and 100 degC the ohms are the geometric mean of 2500 and 180: 670.82.
    curve = Curve("c", "c", GOOD)
    middle_c = 2.0 / (1 / 293.15 + 1 / 373.15) - 273.15
    assert float(curve.ohm_at(middle_c)) == pytest.approx((2500.0 * 180.0) ** 0.5, rel=1e-9)
    assert float(curve.temperature_at(670.8204)) == pytest.approx(middle_c, abs=1e-4)


def test_beyond_the_ends_the_last_slope_goes_on():
    curve = Curve("c", "c", GOOD)
    hot = Curve("h", "h", GOOD[1:])
    cold = Curve("k", "k", GOOD[:2])
    assert float(curve.ohm_at(140.0)) == pytest.approx(float(hot.ohm_at(140.0)), rel=1e-12)
    assert float(curve.temperature_at(200000.0)) == pytest.approx(float(cold.temperature_at(200000.0)), abs=1e-9)


def test_a_dead_short_and_an_open_end_stay_finite():
    curve = Curve("c", "c", GOOD)
    hot, cold = curve.temperature_at([0.0, 1e12])
    assert np.isfinite(hot)
    assert 300.0 < hot <= 2000.0
    assert np.isfinite(cold)
    assert -273.15 < cold < -90.0


def test_shapes_are_kept():
    curve = Curve("c", "c", GOOD)
    assert curve.ohm_at(np.zeros((2, 3))).shape == (2, 3)
    assert curve.temperature_at(np.ones((4, 1))).shape == (4, 1)
    assert np.shape(curve.ohm_at(20.0)) == ()


def test_points_in_any_order_make_the_same_curve():
    assert Curve("c", "c", GOOD[::-1]) == Curve("c", "c", GOOD)
    assert Curve("c", "c", GOOD[::-1]).points == GOOD


@pytest.mark.parametrize(("points", "wanted"), [
    ((), "2 to 500 pairs"), (((20, 2500),), "2 to 500 pairs"), (tuple((t, 600 - t) for t in range(501)), "2 to 500 pairs"),
    (((1, 2, 3), (4, 5, 6)), "2 to 500 pairs"), ("abc", "pairs of temperature and ohms"),
    ((("a", "b"), ("c", "d")), "pairs of temperature and ohms"), (None, "pairs of temperature and ohms"),
    (((20, 10**400), (30, 1)), "pairs of temperature and ohms"),
    (((20, float("nan")), (30, 5)), "finite number"), (((float("inf"), 1), (30, 5)), "finite number"),
    (((-101, 5), (20, 1)), "between -100 and 1500 degC"), (((0, 5), (1501, 1)), "between -100 and 1500 degC"),
    (((0, 0.0), (20, 1)), "above 0 and up to 1e9"), (((0, 2e9), (20, 1)), "above 0 and up to 1e9"),
    (((0, 5), (0, 4)), "each temperature stands once"),
    (((0, 5), (10, 4), (20, 4)), "fall all along"), (((0, 5), (10, 4), (20, 6)), "fall all along"),
])
def test_bad_points_are_turned_away_saying_what_would_be_right(points, wanted):
    with pytest.raises(InputError) as caught:
        check_points(points, "circuit.curve.points")
    assert caught.value.where == "circuit.curve.points"
    assert wanted in caught.value.wanted
    assert len(str(caught.value)) < 220
    with pytest.raises(InputError):
        Curve("c", "c", points)


@STEADY
@given(st.one_of(st.none(), st.text(max_size=9), st.lists(st.one_of(st.none(), st.floats(), st.text(max_size=3),
       st.lists(st.one_of(st.floats(), st.integers(), st.none()), max_size=3)), max_size=4)))
def test_whatever_comes_as_points_only_an_input_error_comes_back(points):
    try:
        temperature, ohm = check_points(points, "points")
    except InputError as error:
        assert error.where == "points"
    else:
        assert np.all(np.diff(temperature) > 0)
        assert np.all(ohm > 0)


@STEADY
@given(st.floats(1e-4, 2e-3), st.floats(1e-4, 3e-4), st.floats(1e-8, 3e-7))
def test_steinhart_hart_coefficients_come_back_from_three_of_their_own_points(a, b, c):
    ohms = (30000.0, 3000.0, 300.0)
    points = tuple((float(steinhart_hart_temperature(r, a, b, c)), r) for r in ohms)
    if points[0][0] < -100.0 or points[-1][0] > 1500.0:
        return
    assert steinhart_hart_coefficients(points) == pytest.approx((a, b, c), rel=1e-6, abs=1e-12)


def test_steinhart_hart_takes_exactly_three_points():
    with pytest.raises(InputError, match="exactly three points"):
        steinhart_hart_coefficients(GOOD[:2])


def test_the_four_term_form_is_exact_at_its_own_resistance():
    # At R = R25 only A1 remains: 1/T = A1.
    assert float(four_term_temperature(10000.0, 10000.0, 1 / 298.15, 2.5e-4, 2e-6, 6e-8)) == pytest.approx(25.0, abs=1e-9)
