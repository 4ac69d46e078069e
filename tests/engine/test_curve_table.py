"""Owns the curve table against its curves: the same degrees and ohms, curve by curve, and the continuous family."""

import numpy as np
import pytest

from engine.compiled import everywhere
from engine.curve_table import GRID, CurveTable, place_of, put_values, value_of_family
from engine.curves import KELVIN, Curve, beta_curve, four_term_temperature
from engine.quantities import LEVEL
from engine.many import MANY

# Four-term coefficients of a common 10 kohm NTC, beta 3977 K (Vishay NTCLE100E3 data sheet).
FOUR_TERM = (3.354016e-3, 2.569850e-4, 2.620131e-6, 6.383091e-8)
SMOOTH = (beta_curve(2100.0, 3500.0, "a"), beta_curve(10000.0, 3977.0, "b"), beta_curve(30000.0, 4200.0, "c"))
# Printed charts: kinked where a row is rounded.
KINKED = (Curve("coarse", "coarse", ((-40, 100700), (-18, 25000), (-7, 13500), (4, 7500), (20, 3400), (38, 1600),
                                     (70, 450), (100, 185))),
          Curve("rising", "rising", ((-55, 490), (25, 1000), (100, 1696))))
TABLE = CurveTable(SMOOTH + KINKED)
WIDE_C = np.linspace(-60.0, 200.0, 1301)


def degrees_and_slope(table, ln_ohm, index, family_ln_ohm=0.0, family_beta=3700.0):
    packed, ln = table.packed, np.ravel(ln_ohm) - (family_ln_ohm if index < 0 or table.loose[index] else 0.0)
    if index < 0:
        return everywhere(lambda one: value_of_family(packed.lowest, packed.highest, one, family_beta), ln)
    n = len(ln) + -len(ln) % MANY
    # One column after another: places, values and slopes.
    columns = np.zeros(3 * n, np.float32)
    columns[:len(ln)] = everywhere(lambda one: place_of(one, packed.y0, 1.0 / packed.dy), ln)
    put_values(packed, index * GRID, columns, 0, n, 2 * n, n)
    return columns[n:n + len(ln)].astype(float), columns[2 * n:2 * n + len(ln)].astype(float)


def degrees(table, *args, **family):
    return degrees_and_slope(table, *args, **family)[0]


def degrees_back(table, temperature_c, index, family_ln_ohm=0.0, family_beta=3700.0):
    inverse = 1.0 / (temperature_c + KELVIN)
    return degrees(table, table.ln_ohm(inverse, index, family_ln_ohm, family_beta), index, family_ln_ohm, family_beta)


# Row by row: what the grid leaves. Where a chart has a kink the look-up cuts the corner, most of all on a PTC, whose
# few ohms share the grid with NTC curves of many decades.
WITHIN_C = ((0, 0.01), (1, 0.01), (2, 0.01), (3, 0.03), (4, 0.06))


@pytest.mark.parametrize(("index", "within_c"), WITHIN_C)
def test_ohms_and_degrees_are_each_others_inverse(index, within_c):
    assert np.max(np.abs(degrees_back(TABLE, WIDE_C, index) - WIDE_C)) < within_c


@pytest.mark.parametrize(("index", "within_c"), WITHIN_C)
def test_ohms_are_those_of_the_curve(index, within_c):
    ohm = np.exp(TABLE.ln_ohm(1.0 / (WIDE_C + KELVIN), index, 0.0, 3700.0))
    assert np.max(np.abs(TABLE.curves[index].temperature_at(ohm) - WIDE_C)) < within_c


@pytest.mark.parametrize(("index", "within_c"), WITHIN_C)
def test_degrees_are_those_of_the_curve(index, within_c):
    ohm = TABLE.curves[index].ohm_at(WIDE_C)
    got = degrees(TABLE, np.log(ohm), index)
    assert np.max(np.abs(got - WIDE_C)) < within_c


def test_a_chart_kinked_row_by_row_stays_within_a_tenth_of_a_degree():
    # Seven hot rows of a hobby measurement, 2 to 9 K apart and rounded to 1 ohm (GM manifold-air-temperature table).
    rows = ((82.22, 317), (85, 289), (87.22, 260), (89.44, 248), (93.33, 230), (95, 206), (104.44, 162))
    table = CurveTable((Curve("hobby", "hobby", rows),))
    inside = np.linspace(82.22, 104.44, 500)
    assert np.max(np.abs(degrees_back(table, inside, 0) - inside)) < 0.01


def test_curves_mix_sample_by_sample():
    index = np.array([[0, 1, 2], [2, -1, 1]])
    inverse = 1.0 / (np.array([0.0, 25.0, 80.0]) + KELVIN)
    mixed = TABLE.ln_ohm(inverse, index, np.log(5000.0), 3600.0)
    for row, column in np.ndindex(index.shape):
        alone = TABLE.ln_ohm(inverse[column], index[row, column], np.log(5000.0), 3600.0)
        assert float(mixed[row, column]) == float(alone)


@pytest.mark.parametrize("beta", [3200.0, 3700.0, 4300.0])
def test_the_family_has_its_own_ohms_at_25_degrees_and_goes_both_ways(beta):
    assert float(np.exp(TABLE.ln_ohm(1 / 298.15, -1, np.log(2500.0), beta))) == pytest.approx(2500.0, rel=1e-9)
    assert np.max(np.abs(degrees_back(TABLE, WIDE_C, -1, np.log(2500.0), beta) - WIDE_C)) < 0.01


def test_the_family_bends_like_a_published_four_term_curve():
    # Beta 3977 K between 25 and 85 degC; the slope at 25 degC that this asks of the family is 3977 + bend * dx.
    beta_at_25 = 3977.0 + 1.5e5 * (1 / 358.15 - 1 / 298.15)
    temperatures = np.linspace(-40.0, 125.0, 34)
    ohm = np.exp(TABLE.ln_ohm(1.0 / (temperatures + KELVIN), -1, np.log(10000.0), beta_at_25))
    assert np.max(np.abs(four_term_temperature(ohm, 10000.0, *FOUR_TERM) - temperatures)) < 0.3


def test_a_job_without_listed_curves_has_the_family_alone():
    with np.errstate(over="ignore"):
        table = CurveTable(())
    assert np.array_equal(table.ln_ohm(1 / 300.0, -1, 8.0, 3700.0), TABLE.ln_ohm(1 / 300.0, -1, 8.0, 3700.0))
    assert np.array_equal(degrees(table, 8.5, -1, 8.0), degrees(TABLE, 8.5, -1, 8.0))


def test_far_beyond_the_ends_values_are_held():
    for index in (-1, 0, 3):
        hot, cold = degrees(TABLE, np.log(np.array([1e-2, 1e9])), index, np.log(2500.0))
        assert hot >= 190.0
        assert cold <= -80.0


def test_the_slope_is_that_of_the_curve():
    ln_ohm = np.log(np.array([300.0, 2000.0, 9000.0]))
    for index in (-1, 0, 1, 4):
        slope = degrees_and_slope(TABLE, ln_ohm, index, np.log(2500.0))[1]
        near = [degrees(TABLE, ln_ohm + off, index, np.log(2500.0)) for off in (-0.01, 0.01)]
        assert slope == pytest.approx((near[1] - near[0]) / 0.02, rel=0.02)


def test_a_level_runs_straight_in_ohms_both_ways():
    level = Curve("level", "level", ((0.0, 240.0), (100.0, 33.0)), "level")
    table = CurveTable((level,), LEVEL)
    assert float(level.ohm_at(50.0)) == pytest.approx(136.5)
    assert degrees(table, np.log(136.5), 0) == pytest.approx(50.0, abs=0.02)
    assert float(level.temperature_at(level.ohm_at(110.0))) == pytest.approx(110.0)
    assert float(level.temperature_at(level.ohm_at(-20.0))) == pytest.approx(-20.0)
