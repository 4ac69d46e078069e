"""Owns the module's side against outside numbers: volts to assumed ohms, converter steps, ends, limits and defaults."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import log_ndtr

from engine.circuit import solve
from engine.module import (COLD_END_C, HOT_END_C, assumed_ohm, converter_step, converter_volts, end_residual, limits_of,
                           outside_limits, pack_typed, shown_density, step_of)
from engine.quantities import QUANTITIES

STEADY = settings(max_examples=80, deadline=None, derandomize=True)
# An input that is no plain pull-up: 0.500 V shorted, 4.302 V open, 3084 ohm, fitted to a published table of ohms,
# volts and 8-bit counts of a manifold-air-temperature input (GM; hobby measurement).
OPEN_V, SHORT_V, SOURCE_OHM = 4.302, 0.500, 3084.0
RAISED_ROWS = ((93000.0, 4.18, 214), (5736.0, 2.97, 152), (557.0, 1.08, 55), (64.0, 0.58, 30))


def through_module(element_ohm, open_v=OPEN_V, short_v=SHORT_V, source_ohm=SOURCE_OHM):
    pin = solve(open_v=open_v, source_ohm=source_ohm, element_ohm=element_ohm).pin_v
    return converter_volts(pin, open_v, short_v)


@pytest.mark.parametrize(("ohm", "volts", "counts"), RAISED_ROWS)
def test_a_raised_input_shows_its_published_volts_and_counts(ohm, volts, counts):
    got = float(through_module(ohm))
    assert got == pytest.approx(volts, abs=0.005)
    assert abs(got / 5.0 * 256.0 - counts) < 0.6  # half a count, and the fit's own 5 mV


def test_a_raised_input_has_its_own_ends():
    assert float(through_module(1e12)) == pytest.approx(4.302, abs=1e-6)
    assert float(through_module(0.0)) == pytest.approx(0.500, abs=1e-9)


@STEADY
@given(st.floats(1.0, 1e6), st.floats(3.0, 5.5), st.floats(0.0, 1.0), st.floats(300.0, 30000.0))
def test_the_module_finds_the_ohms_that_are_there(ohm, open_v, short_v, source):
    volts = through_module(ohm, open_v, short_v, source)
    assert float(assumed_ohm(volts, open_v, short_v, source)) == pytest.approx(ohm, rel=1e-5)


def test_volts_at_and_beyond_the_ends_are_held():
    assert float(assumed_ohm(0.5, OPEN_V, SHORT_V, SOURCE_OHM)) == pytest.approx(0.01)
    assert float(assumed_ohm(5.0, OPEN_V, SHORT_V, SOURCE_OHM)) == pytest.approx(1e9)
    assert float(assumed_ohm(-1.0, OPEN_V, SHORT_V, SOURCE_OHM)) == pytest.approx(0.01)


def test_one_converter_step_in_the_middle_of_the_scale():
    # 10 bits on 5 V: 4.883 mV. At half scale dlnR = dV * 5 / (2.5 * 2.5) = 3.906e-3; at 25 degC T^2/B with
    # B = 3700 K is 24.025 K per unit of ln R, so a step is 0.094 K.
    assert converter_step(0.5, -24.025, step_of(5.0, 0.0, 10)) == pytest.approx(0.0938, abs=2e-4)


@STEADY
@given(st.floats(0.01, 0.99), st.floats(5.0, 60.0))
def test_a_step_is_coarser_towards_both_ends_and_with_fewer_bits(share, slope):
    def step_at(place, bits):
        return converter_step(place, slope, step_of(5.0, 0.0, bits))

    step = step_at(share, 10)
    assert step >= step_at(0.5, 10) - 1e-12
    assert step_at(share, 8) >= step
    assert step <= 60.0


def test_known_limits_are_sharp_and_unknown_ones_lie_near_the_ends():
    def outside(volts, low_v, high_v):
        return outside_limits(volts / 5.0, *limits_of(5.0, 0.0, low_v, high_v))

    # A limit itself is a coin toss; 0.1 V inside or outside is certain.
    assert outside(0.2, 0.2, 4.9) == pytest.approx(0.5, abs=1e-6)
    assert outside(0.3, 0.2, 4.9) < 1e-5
    assert outside(0.1, 0.2, 4.9) > 0.99999
    assert outside(4.99, 0.2, 4.9) > 0.99999
    assert outside(2.5, None, None) < 1e-9
    assert outside(0.0, None, None) > 0.99
    assert outside(5.0, None, None) > 0.99


def density(shows_c, temperature_c, spread_c=0.5, outside=0.0, default_c=None):
    return shown_density(pack_typed(float(shows_c), default=default_c), temperature_c, spread_c, outside)


@pytest.mark.parametrize("temperature_c", [0.0, 26.66, 80.0, 99.5])
def test_the_whole_degrees_shown_add_up_to_one_and_peak_at_the_temperature(temperature_c):
    numbers = np.arange(-28, 117)
    chances = np.array([density(n, temperature_c) for n in numbers])
    assert chances.sum() == pytest.approx(1.0, abs=0.02)
    assert abs(numbers[np.argmax(chances)] - temperature_c) <= 1.0
    # Rounded or cut off, never 3 K away.
    assert chances[np.abs(numbers - temperature_c) > 3.0].sum() < 0.01


@pytest.mark.parametrize("quantity", QUANTITIES)
def test_the_numbers_of_every_scale_add_up_to_one_near_its_ends_and_beyond(quantity):
    # An identity of arithmetic, no source. At an end that is one number broad, what shows it is known to a fifth or so.
    scale = QUANTITIES[quantity]
    whole, low, high = scale.whole, scale.low_end, scale.high_end
    numbers = [pack_typed(float(number), scale) for number in np.arange(low, high + whole / 2, whole)]
    for value in (low - 5 * whole, low, low + whole, low + 4 * whole, scale.low_ends_from, (low + high) / 2, scale.high_ends_from,
                  (scale.high_ends_from + high) / 2, high - whole, high, high + 5 * whole):
        total = whole * sum(shown_density(number, value, 0.4 * whole, 0.0) for number in numbers)
        assert total == pytest.approx(1.0, abs=0.23), value


def test_beyond_the_cold_end_the_module_shows_its_end():
    # The temperature byte of SAE J1979 is A - 40: 0x00 is -40, 0xFF is 215 degC.
    assert (COLD_END_C, HOT_END_C) == (0x00 - 40, 0xFF - 40)
    assert density(-40.0, -90.0) > 20.0 * density(-35.0, -90.0)
    assert density(-40.0, 20.0) < 1e-9


def test_beyond_the_hot_end_any_hot_end_may_show_but_nothing_cool():
    ends = [density(float(n), 300.0) for n in (119, 128, 140, 150, 215)]
    assert min(ends) > 0.005
    assert max(ends) - min(ends) < 1e-9
    assert density(90.0, 300.0) < 1e-12


def test_outside_its_limits_a_module_may_show_its_default():
    # A known default takes most of the chance (about one degree wide); without one a little stays everywhere.
    assert 0.2 < density(80.0, -90.0, outside=1.0, default_c=80.0) < 0.5
    assert density(60.0, -90.0, outside=1.0, default_c=80.0) < 1e-9
    assert 1e-4 < density(60.0, -90.0, outside=1.0) < 5e-3
    assert density(60.0, -90.0, outside=0.0) < 1e-9
    assert density(60.0, 60.0, outside=0.0, default_c=80.0) == density(60.0, 60.0)


@STEADY
@given(side=st.sampled_from((-1.0, 1.0)), flat=st.floats(1e-4, 30.0), relative=st.floats(-60.0, 60.0), spread=st.floats(0.05, 20.0))
def test_a_number_that_may_be_an_end_is_off_by_what_its_density_lacks(side, flat, relative, spread):
    # An identity, no source: a bell beside all that lies beyond, by SciPy's normal; where it is densest it is not off at all.
    beyond = flat * spread
    ln_density = np.logaddexp(-0.5 * relative**2, np.log(beyond) + log_ndtr(side * relative))
    lacks = max(np.log(max(1.0 + 0.5 * beyond, beyond)) - ln_density, 0.0)
    off = end_residual(side, flat, relative, spread)
    assert 0.5 * off * off == pytest.approx(lacks, abs=1e-6, rel=1e-6)
    # Short of the end it pulls towards it, never away.
    assert off * side <= 0.0 or side * relative > 0.0
