"""Owns published thermistor coefficients and the tables they belong to, and the mistakes that circulate with them."""

import numpy as np
import pytest

from engine.curves import four_term_temperature, steinhart_hart_coefficients, steinhart_hart_temperature
from tests.loaded import KB

# Vishay NTCLE100E3 data sheet, 10 kohm, B25/85 = 3977 K: A1, B1, C1, D1.
FOUR_TERM = (3.354016e-3, 2.569850e-4, 2.620131e-6, 6.383091e-8)


def kelvin(ohm, *coefficients):
    return float(steinhart_hart_temperature(ohm, *coefficients)) + 273.15


def test_three_points_give_the_published_steinhart_hart_coefficients():
    # github keidyz/steinhart-hart, README: -25 degC 87041, 0 degC 27326, 25 degC 10000 ohm.
    a, b, c = steinhart_hart_coefficients(((-25.0, 87041.0), (0.0, 27326.0), (25.0, 10000.0)))
    assert a == pytest.approx(8.97554e-4, abs=0.5e-9)
    assert b == pytest.approx(2.50179e-4, abs=0.5e-9)
    assert c == pytest.approx(1.94834e-7, abs=0.5e-12)
    # The README prints 307.9031 K for 7000 ohm.
    assert kelvin(7000.0, a, b, c) == pytest.approx(307.9031, abs=5e-5)


@pytest.mark.parametrize(("degc", "ohm"), [
    (25.0, 10000.0), (-40.0, 332094.9), (0.0, 32541.4), (85.0, 1070.3), (125.0, 338.7)])
def test_the_four_term_form_of_a_10_kohm_part(degc, ohm):
    # Vishay NTCLE100E3: ohms to a tenth, worth at most 6 mK at the hot end.
    assert float(four_term_temperature(ohm, 10000.0, *FOUR_TERM)) == pytest.approx(degc, abs=0.01)


def test_the_10_kohm_curve_has_the_published_beta():
    # B25/85 3976.95 K by the coefficients, 3977 K on the data sheet.
    curve = KB.curve("ntc-10k-25c-b3977")
    assert curve.beta_25_85 == pytest.approx(3976.95, abs=0.1)
    assert curve.ohm_25 == pytest.approx(10000.0, abs=0.05)


def test_between_its_rows_the_10_kohm_curve_stays_on_the_four_term_form():
    temperatures = np.arange(-37.5, 125.0, 5.0)
    ohm = KB.curve("ntc-10k-25c-b3977").ohm_at(temperatures)
    assert np.max(np.abs(four_term_temperature(ohm, 10000.0, *FOUR_TERM) - temperatures)) < 0.02


def test_c1_and_d1_with_wrong_exponents_are_told_apart():
    # One open firmware carries C1 and D1 with wrong exponents: exact at 25 degC, and off by degrees when cold.
    a1, b1, c1, d1 = FOUR_TERM
    wrong = four_term_temperature(np.array([10000.0, 332094.9]), 10000.0, a1, b1, 10 * c1, 10 * d1)
    assert float(wrong[0]) == pytest.approx(25.0, abs=0.001)
    assert abs(float(wrong[1]) + 40.0) > 5.0


# ILX Lightwave LDT-5525 manual, appendix A, a common 10 kohm thermistor.
LDT = ((0.0, 32128.0), (10.0, 19549.0), (20.0, 12262.0), (25.0, 9814.0), (30.0, 7908.0), (50.0, 3542.0))


def test_a_printed_table_follows_its_law_within_millikelvins():
    coefficients = steinhart_hart_coefficients((LDT[0], LDT[3], LDT[5]))
    for degc, ohm in LDT:
        # A least-squares fit leaves 0.0013 K; three points laid exactly leave a little more elsewhere.
        assert float(steinhart_hart_temperature(ohm, *coefficients)) == pytest.approx(degc, abs=0.005)


def test_the_printed_5331_ohm_at_40_degrees_is_wrong():
    # The rest of the table gives 5231 ohm at 40 degC: the print is off by 100 ohm, 0.45 K, a hundred times the rest.
    coefficients = steinhart_hart_coefficients((LDT[0], LDT[3], LDT[5]))
    assert float(steinhart_hart_temperature(5231.0, *coefficients)) == pytest.approx(40.0, abs=0.01)
    assert abs(float(steinhart_hart_temperature(5331.0, *coefficients)) - 40.0) > 0.4


# Mercedes-Benz 005 542 10 17, A 0.001763 B 0.0002380 C 1.83e-7 as published: ohms, what the fit gives, what is printed.
@pytest.mark.parametrize(("ohm", "fitted_c", "printed_c"), [
    (1922.0, 1.45, 1.55), (287.9, 44.92, 44.7), (155.2, 61.62, 59.8), (95.1, 75.97, 79.3), (43.5, 101.28, 100.0)])
def test_a_published_fit_that_misses_its_own_table(ohm, fitted_c, printed_c):
    got = float(steinhart_hart_temperature(ohm, 0.001763, 0.0002380, 1.83e-7))
    assert got == pytest.approx(fitted_c, abs=0.006)
    assert abs(got - printed_c) < 3.4  # the published fit is off by up to 3.3 K: the fit is wrong, not the arithmetic


def test_coefficients_under_the_wrong_name():
    # Often labelled "GM", but exactly 25 degC at 10 kohm: a generic 10 k part. A GM sensor has 3520 ohm at 20 degC.
    generic = (1.129148e-3, 2.34125e-4, 8.76741e-8)
    assert float(steinhart_hart_temperature(10000.0, *generic)) == pytest.approx(25.000, abs=5e-4)
    assert float(steinhart_hart_temperature(3520.0, *generic)) == pytest.approx(50.6, abs=0.05)
    # A second set in circulation under the same name is 0.3 K away at the same ohms.
    second = (1.009249522e-3, 2.378405444e-4, 2.019202697e-7)
    assert float(steinhart_hart_temperature(10000.0, *second)) == pytest.approx(24.68, abs=0.005)
