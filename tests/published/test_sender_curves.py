"""Owns the published rows of platinum, level and one-wire senders, against their laws and the curves in use."""

import numpy as np
import pytest

from knowledge.curve_forms import form_points, iec60751_ohm
from tests.loaded import KB
from tests.published.test_gauge_families import FAMILIES

# IEC 60751 tables at the coefficients A 3.9083e-3, B -5.775e-7, C -4.183e-12, three decimals: degC, ohms.
IEC60751 = {
    100: ((-200, 18.52), (-150, 39.723), (-100, 60.256), (-50, 80.306), (0, 100), (50, 119.397), (100, 138.505),
          (150, 157.325), (200, 175.856), (250, 194.098), (300, 212.051), (350, 229.716), (400, 247.092),
          (450, 264.179), (500, 280.978), (550, 297.487), (600, 313.708), (650, 329.64), (700, 345.284),
          (750, 360.638), (800, 375.704), (850, 390.481)),
    200: ((0, 200), (80, 261.794), (160, 322.109), (240, 380.946), (320, 438.304), (400, 494.184), (480, 548.586),
          (560, 601.509), (640, 652.954), (720, 702.92), (800, 751.408)),
    1000: ((-50, 803.063), (0, 1000), (50, 1193.971), (100, 1385.055), (150, 1573.251), (200, 1758.56),
          (250, 1940.981), (300, 2120.515), (350, 2297.161), (400, 2470.92), (450, 2641.791), (500, 2809.775))}
# Beckhoff infosys 9827313675 prints these three of the Pt100; the positive ones follow from the coefficients.
CHECKED = ((-200, 18.520), (-100, 60.256), (-80, 68.325), (0, 100.0), (100, 138.506), (200, 175.856), (400, 247.092),
           (600, 313.708), (850, 390.481))


@pytest.mark.parametrize(("degc", "ohm"), CHECKED)
def test_the_platinum_law_gives_the_printed_ohms(degc, ohm):
    # 138.5055 at 100 degC is the only one on the edge of its rounding.
    assert float(iec60751_ohm(degc, 100.0)) == pytest.approx(ohm, abs=6e-4)


@pytest.mark.parametrize("ohm_0", IEC60751)
def test_the_platinum_law_gives_every_row_of_its_tables(ohm_0):
    degrees, ohms = np.array(IEC60751[ohm_0], float).T
    assert iec60751_ohm(degrees, float(ohm_0)) == pytest.approx(ohms, abs=6e-4)


@pytest.mark.parametrize("ohm_0", IEC60751)
def test_the_curves_by_formula_stand_on_those_tables(ohm_0):
    row, curve = KB.curve_row(f"pt{ohm_0}-iec60751"), KB.curve(f"pt{ohm_0}-iec60751")
    rows = [(degc, ohm) for degc, ohm in IEC60751[ohm_0] if row.low_c <= degc <= row.high_c]
    degrees, ohms = np.array(rows, float).T
    assert len(rows) > 8
    # Between its points the curve runs on a line of its own: a hundredth of a degree is a hundredth of the rounding of a meter.
    assert curve.temperature_at(ohms) == pytest.approx(degrees, abs=0.03)
    assert curve.rising


def test_one_degree_on_a_pt1000():
    # stm32world: 1003.9 ohm at 1 degC.
    assert float(iec60751_ohm(1.0, 1000.0)) == pytest.approx(1003.9, abs=0.05)


# Mercedes-Benz M447 hLAG description, page 48, exhaust sensor: degC, printed ohms, what the standard law would give.
@pytest.mark.parametrize(("degc", "printed", "standard"), [
    (-40, 170, 168.5), (0, 200, 200.0), (200, 349, 351.7), (400, 488, 494.2), (600, 618, 627.4), (700, 679, 690.6),
    (800, 738, 751.4), (1000, 849, 866.2)])
def test_an_exhaust_sensor_of_200_ohm_is_not_a_standard_one(degc, printed, standard):
    assert float(KB.curve("pt200-exhaust").ohm_at(degc)) == pytest.approx(printed, abs=1e-6)
    assert float(iec60751_ohm(degc, 200.0)) == pytest.approx(standard, abs=0.06)


def test_the_exhaust_sensor_on_the_standard_law_would_be_read_thirty_degrees_wrong():
    # 849 ohm is 1000 degC on its own table; the standard law has 849 ohm near 970 degC.
    degrees = np.arange(900.0, 1001.0, 0.5)
    standard = float(np.interp(849.0, iec60751_ohm(degrees, 200.0), degrees))
    assert 25.0 < 1000.0 - standard < 40.0
    # Least squares on the eight rows, as a law of its own: A 3.837e-3, B -5.925e-7, within 0.9 ohm.
    for degc, ohm in KB.curve("pt200-exhaust").points:
        assert 200.0 * (1.0 + 3.837e-3 * degc - 5.925e-7 * degc**2) == pytest.approx(ohm, abs=0.95)
    assert "below the standard" in KB.curve_row("pt200-exhaust").warning


# Level senders: id, ohms empty, ohms full, each with its printed source.
LEVELS = (
    ("level-0-90", 0.5, 90),       # printed 0 to 90, hobby compilation; 90 full by Pontiac Firebird 1999 and 2000
    ("level-40-250", 40, 250),     # hobby compilation, 1998 and up
    ("level-250-40", 250, 40),     # direction by GM service text 2004 to 2009, ohms from memory
    ("level-16-158", 16, 158),     # hobby compilation, Ford 1987 and up
    ("level-10-180", 10, 180),     # hobby compilation, VDO
    ("level-240-33", 240, 33),     # Kanardia Daqu manual and hobby compilation
    ("level-410-15", 410, 15),     # Toyota Camry, service information
    ("level-112-4", 112, 4),       # Mitsubishi Eclipse Spyder 1998, service information
    ("level-110-3", 110, 3),       # Mitsubishi Lancer 2006, service information
    ("level-177-9", 176.6, 8.7),   # Subaru Forester, Outback, Legacy 2020 to 2024, sub sender
    ("level-139-9", 139.1, 8.7),   # Subaru WRX STI 2015, main sender
    ("level-32-2", 31.9, 2.0),     # Subaru Outback 2012, main sender
    ("level-303-35", 303, 35),     # public thread, retold: also 209 ohm at 20 and 138 at 40 of 55 litres
)


@pytest.mark.parametrize(("id", "empty", "full"), LEVELS)
def test_level_senders_stand_as_printed(id, empty, full):
    curve = KB.curve(id)
    assert (float(curve.ohm_at(0.0)), float(curve.ohm_at(100.0))) == pytest.approx((empty, full))
    assert curve.quantity == "level" and curve.rising == (full > empty)
    assert float(curve.temperature_at((curve.points[0][1] + curve.points[1][1]) / 2)) == pytest.approx(curve.points[1][0] / 2)


def test_every_level_curve_is_here():
    assert {row.id for row in KB.tables.curves if row.quantity == "level"} == {id for id, *_ in (*LEVELS, *FAMILIES)}


def test_the_same_pair_of_ohms_runs_both_ways():
    """Open reads full on one and empty on the other: the direction is never inferred from ohms."""
    up, down = KB.curve("level-40-250"), KB.curve("level-250-40")
    assert float(up.temperature_at(145.0)) == pytest.approx(float(down.temperature_at(145.0))) == pytest.approx(50.0)
    assert float(up.temperature_at(200.0)) > 70.0 and float(down.temperature_at(200.0)) < 30.0


def test_an_empty_tank_takes_half_of_the_battery():
    # Toyota Camry: two 820 ohm in parallel to the battery, 410 ohm empty, 15 ohm full: half and 3.5 percent of its volts.
    pull_up = 820.0 / 2.0
    assert KB.input("input-410-battery").pull_up_ohm == pull_up
    assert 410.0 / (410.0 + pull_up) == pytest.approx(0.5)
    assert 15.0 / (15.0 + pull_up) == pytest.approx(0.035, abs=5e-4)


def test_the_truck_sender_is_printed_in_fahrenheit():
    # 100 degF is 37.8 and 260 degF is 126.7 degC; the 47 and 123 printed beside them are wrong.
    (cold, _), (hot, _) = KB.curve("ntc-1305-38c-sender").points
    assert (cold, hot) == pytest.approx(((100 - 32) / 1.8, (260 - 32) / 1.8), abs=0.006)
    assert "wrong" in KB.curve_row("ntc-1305-38c-sender").warning


def test_a_silicon_sensor_rises_by_its_printed_ratios():
    # KTY81-110: R100/R25 1.696, R-55/R25 0.490.
    curve = KB.curve("ptc-silicon-1k-25c")
    assert float(curve.ohm_at(100.0) / curve.ohm_at(25.0)) == pytest.approx(1.696)
    assert float(curve.ohm_at(-55.0) / curve.ohm_at(25.0)) == pytest.approx(0.490)


# Published switching inputs: id, cold ohms, hot ohms, a 10 kohm or classic sensor's ohms at the switch, volts before and after.
@pytest.mark.parametrize(("id", "cold", "hot", "ohm", "before", "after"), [
    ("input-10k-909", 10000.0, 909.0, 3372.0, 1.26, 3.94),   # 1990s service text; a 10 kohm part at 51.7 degC
    ("input-3998-348", 3998.0, 348.0, 973.0, 0.98, 3.68),    # 1996 list; a classic 3.4 kohm part at 50 degC
    ("input-20k-952", 20000.0, 952.38, 2750.0, 0.60, 3.71)])  # Windstar 2001 chart at 90 degC
def test_one_temperature_has_two_voltages_where_the_input_switches(id, cold, hot, ohm, before, after):
    row = KB.input(id)
    assert (row.pull_up_ohm, row.second_pull_up_ohm) == (cold, hot)
    assert 5.0 * ohm / (ohm + cold) == pytest.approx(before, abs=0.006)
    assert 5.0 * ohm / (ohm + hot) == pytest.approx(after, abs=0.006)


# Published or derived input resistors: id, least and most its source gives.
@pytest.mark.parametrize(("id", "low", "high"), [
    ("input-1k-decided", 985.0, 1040.0),      # Infiniti QX55, QX56, M37 reference data
    ("input-1k-diesel", 1000.0, 1000.0),      # Saab 9-5 2004 V6 diesel, stated
    ("input-1k-bus", 996.0, 1001.0),          # Mercedes-Benz M447 hLAG, oil and coolant
    ("input-2k2-bus", 2200.0, 2200.0),        # the same, charge air and gas, stated
    ("input-1k-exhaust", 990.0, 1004.0),      # the same, exhaust gas
    ("input-1k-open-gauge", 470.0, 2200.0),   # open gauge firmware: 1 kohm default, 470 ohm to 2.2 kohm offered
    ("input-4k6-oil", 4600.0, 4600.0),        # Bosch PST-F1, recommended
    ("input-10k-board", 10000.0, 10000.0),    # open engine controller
    ("input-30k-evaporator", 29866.0, 30126.0)])  # Kia JD evaporator
def test_the_published_inputs_stand_within_their_sources(id, low, high):
    assert low <= KB.input(id).pull_up_ohm <= high


def test_published_defaults_and_limits_stay_with_their_input():
    # Nissan Maxima 2017 shows 40 rising to 80 degC of its own; Saab 9-5 diesel -20 or +60, limits 0.2 and 4.9 V.
    decided, diesel = KB.input("input-1k-decided"), KB.input("input-1k-diesel")
    assert (decided.default_low_c, decided.default_high_c) == (40.0, 80.0)
    assert (diesel.default_low_c, diesel.default_high_c, diesel.low_limit_v, diesel.high_limit_v) == (-20.0, 60.0, 0.2, 4.9)
    # Ford Windstar 2001: both meanings are printed from 85 to 100 degC.
    switching = KB.input("input-20k-952")
    ends = (switching.switch_at_c - switching.switch_band_c / 2, switching.switch_at_c + switching.switch_band_c / 2)
    assert ends == (85.0, 100.0)


def test_a_form_has_its_ends():
    points = form_points("iec60751", (100.0,), -100.0, 850.0, 10.0)
    assert (points[0][0], points[-1][0], len(points)) == (-100.0, 850.0, 96)
