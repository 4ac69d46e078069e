"""Owns the published preferred values of IEC 60063 and worked examples of public tools that use them."""

import pytest

from engine.preferred_values import DECADES, nearest, next_at_or_above, preferred

# IEC 60063 as listed in public copies (a gist of the E-series lists; iec60063.m of a public function collection).
E12 = (1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2)
E24 = (1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0, 3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2,
       9.1)
E96 = (1.00, 1.02, 1.05, 1.07, 1.10, 1.13, 1.15, 1.18, 1.21, 1.24, 1.27, 1.30, 1.33, 1.37, 1.40, 1.43, 1.47, 1.50, 1.54,
       1.58, 1.62, 1.65, 1.69, 1.74, 1.78, 1.82, 1.87, 1.91, 1.96, 2.00, 2.05, 2.10, 2.15, 2.21, 2.26, 2.32, 2.37, 2.43,
       2.49, 2.55, 2.61, 2.67, 2.74, 2.80, 2.87, 2.94, 3.01, 3.09, 3.16, 3.24, 3.32, 3.40, 3.48, 3.57, 3.65, 3.74, 3.83,
       3.92, 4.02, 4.12, 4.22, 4.32, 4.42, 4.53, 4.64, 4.75, 4.87, 4.99, 5.11, 5.23, 5.36, 5.49, 5.62, 5.76, 5.90, 6.04,
       6.19, 6.34, 6.49, 6.65, 6.81, 6.98, 7.15, 7.32, 7.50, 7.68, 7.87, 8.06, 8.25, 8.45, 8.66, 8.87, 9.09, 9.31, 9.53,
       9.76)


@pytest.mark.parametrize(("series", "printed"), [("E12", E12), ("E24", E24), ("E96", E96)])
def test_the_series_stand_as_printed(series, printed):
    assert preferred(series, 1.0, 9.99) == printed
    assert preferred(series, 1e4, 9.99e4) == tuple(pytest.approx(1e4 * value) for value in printed)


def test_eight_values_of_e24_do_not_follow_the_rule():
    # 10^(k/24) to two figures gives 2.6 2.9 3.2 3.5 3.8 4.2 4.6 8.3 where IEC 60063 has these.
    ruled = [round(10 ** (k / 24), 1) for k in range(24)]
    departing = {has: rule for has, rule in zip(E24, ruled, strict=True) if has != rule}
    assert departing == {2.7: 2.6, 3.0: 2.9, 3.3: 3.2, 3.6: 3.5, 3.9: 3.8, 4.3: 4.2, 4.7: 4.6, 8.2: 8.3}
    assert [step / 10 for step in DECADES["E24"]] == list(E24)


@pytest.mark.parametrize(("ohm", "series", "value"), [(16834.2, "E96", 16900.0), (319.0, "E24", 330.0)])
def test_published_nearest_values(ohm, series, value):
    # 16834.2 ohm to 16.9 kohm: worked example of an E-series list; 319 to 330: documentation of eseries (PyPI).
    assert nearest(ohm, series) == (value,)


def test_published_neighbours():
    # Documentation of eseries (PyPI): the next E96 at or above 184, and the three E24 values nearest to 5000.
    assert next_at_or_above(184.0, "E96") == 187.0
    assert nearest(5000.0, "E24", 3) == (4700.0, 5100.0, 5600.0)
