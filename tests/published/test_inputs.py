"""Owns published module inputs: printed pairs of ohms and volts against the circuit, within the rounding of the print."""

import pytest

from engine.circuit import parallel, solve
from engine.module import assumed_ohm, converter_volts
from tests.loaded import KB


def volts(ohm, pull_up_ohm, supply_v=5.0):
    return float(solve(open_v=supply_v, source_ohm=pull_up_ohm, element_ohm=ohm).pin_v)


# Saab 9-3 2002 Trionic T7 technical data, coolant sensor (202) on 1.0 kohm: ohms, exact volts, printed volts.
@pytest.mark.parametrize(("ohm", "exact", "printed", "rounding"), [
    (2468.0, 3.558, 3.6, 0.05), (250.0, 1.000, 1.0, 0.05), (150.0, 0.652, 0.65, 0.005)])
def test_trionic_coolant_input(ohm, exact, printed, rounding):
    assert volts(ohm, 1000.0) == pytest.approx(exact, abs=5e-4)
    assert abs(volts(ohm, 1000.0) - printed) <= rounding


# The same element on the intake input (407) of the same car, 2.74 kohm.
def test_trionic_intake_input():
    assert volts(2468.0, 2740.0) == pytest.approx(2.369, abs=5e-4)
    assert abs(volts(2468.0, 2740.0) - 2.4) <= 0.05
    assert volts(250.0, 2740.0) == pytest.approx(0.418, abs=5e-4)


def test_the_printed_0_41_volts_is_not_the_middle_of_its_row():
    # Row (407) at 90 degC prints 240-260 ohm and 0.41 V. The middle gives 0.418, which rounds to 0.42: the print was cut
    # off, or taken at 245 ohm. It lies within the row's own range.
    assert round(volts(250.0, 2740.0), 2) == 0.42
    assert volts(240.0, 2740.0) < 0.41 < volts(260.0, 2740.0)
    assert volts(245.0, 2740.0) == pytest.approx(0.41, abs=0.001)


# Mercedes-Benz M447 hLAG engine management description, page 48, oil and coolant on 1 kohm: ohms, exact, printed, rounding.
@pytest.mark.parametrize(("ohm", "exact", "printed", "rounding"), [
    (49000.0, 4.900, 4.9, 0.05), (16241.0, 4.710, 4.71, 0.005), (7475.0, 4.410, 4.41, 0.005),
    (3808.0, 3.960, 3.96, 0.005), (429.0, 1.501, 1.5, 0.05), (241.0, 0.971, 0.97, 0.005),
    (126.0, 0.560, 0.56, 0.005), (89.0, 0.409, 0.41, 0.005)])
def test_bus_engine_coolant_input(ohm, exact, printed, rounding):
    assert volts(ohm, 1000.0) == pytest.approx(exact, abs=6e-4)
    assert abs(volts(ohm, 1000.0) - printed) <= rounding
    # The pair alone gives back the pull-up, as far as its volts are printed.
    ends = [ohm * (5.0 - v) / v for v in (printed - rounding, printed + rounding)]
    assert min(ends) <= 1000.0 <= max(ends)


def test_fuel_rail_pair_gives_back_its_pull_up():
    # Ford FRPT sensor table: 30.000 kohm at 3.00 V; the 21 rows of the table give 19.86 to 20.16 kohm.
    pull_up = 30000.0 * (5.0 - 3.00) / 3.00
    assert pull_up == pytest.approx(20000.0)
    assert volts(30000.0, pull_up) == pytest.approx(3.00, abs=1e-9)
    assert volts(30000.0, 20160.0) < 2.995 < 3.00 < 3.005 < volts(30000.0, 19860.0)
    assert float(assumed_ohm(3.00, 5.0, 0.0, 20000.0)) == pytest.approx(30000.0, rel=1e-9)


# Ford Windstar 2001 charts, cylinder head temperature: degC, ohms, printed volts on 20 kohm and on 20 k beside 1 k.
@pytest.mark.parametrize(("ohm", "cold", "hot"), [(2750.0, 0.60, 3.71), (3215.0, 0.69, 3.86)])
def test_two_range_input(ohm, cold, hot):
    assert round(volts(ohm, 20000.0), 2) == cold
    assert round(volts(ohm, float(parallel(20000.0, 1000.0))), 2) == hot


def test_two_range_input_at_its_hot_end_and_the_row_to_reject():
    # 150 degC, 542 ohm: 1.81 V as printed. 250 degC, 78 ohm: 0.3785 V; the printed 0.35 V is wrong (it is 72 ohm).
    hot = float(parallel(20000.0, 1000.0))
    assert hot == pytest.approx(952.38, abs=0.005)
    assert round(volts(542.0, hot), 2) == 1.81
    assert volts(78.0, hot) == pytest.approx(0.3785, abs=5e-5)
    assert volts(72.0, hot) == pytest.approx(0.35, abs=0.002)
    assert abs(volts(78.0, hot) - 0.35) > 5 * 0.005


# GM manifold-air-temperature table with converter volts and 8-bit counts (hobby measurement): an input that is no plain
# pull-up, fitted by 0.500 V shorted, 4.302 V open, 3084 ohm.
@pytest.mark.parametrize(("ohm", "printed_v", "counts"), [
    (93000.0, 4.18, 214), (5736.0, 2.97, 152), (557.0, 1.08, 55), (64.0, 0.58, 30)])
def test_raised_input(ohm, printed_v, counts):
    pin = solve(open_v=4.302, source_ohm=3084.0, element_ohm=ohm).pin_v
    seen = float(converter_volts(pin, 4.302, 0.500))
    assert abs(seen - printed_v) <= 0.005
    assert round(printed_v / 5.0 * 256.0) == counts
    assert float(assumed_ohm(seen, 4.302, 0.500, 3084.0)) == pytest.approx(ohm, rel=1e-6)


# Kia QBR 2015 evaporator sensor, service information: kohm and volts, row by row; the pairs give 9.95 to 10.0 kohm.
@pytest.mark.parametrize(("ohm", "printed"), [
    (29420.0, 3.736), (18010.0, 3.221), (11360.0, 2.665), (7362.0, 2.125), (4892.0, 1.647), (3326.0, 1.248),
    (2309.0, 0.941), (1635.0, 0.704)])
def test_evaporator_input(ohm, printed):
    # 9960 ohm stands for all eight; a row's own pull-up strays by 40 ohm, worth up to 4 mV.
    assert abs(volts(ohm, KB.input("input-10k").pull_up_ohm) - printed) < 0.004


# The inputs as the knowledge holds them: id, open volts, shorted volts, ohms, each with its printed source above or here.
@pytest.mark.parametrize(("id", "open_v", "short_v", "pull_up_ohm"), [
    ("input-1k", 5.0, 0.0, 1000.0),           # Saab 9-3 T7 coolant sensor (202): 1.00 kohm stated
    ("input-2k2", 5.0, 0.0, 2200.0),          # Saab 9000 1991 intake sensor: 2.2 kohm stated
    ("input-2k49", 5.0, 0.0, 2490.0),         # open engine controller firmware and board: 2.49 kohm
    ("input-2k7", 5.0, 0.0, 2700.0),          # open engine controller, stored tune: 2.7 kohm
    ("input-2k74", 5.0, 0.0, 2740.0),         # Saab 9-3 T7 intake sensor (407): 2.74 kohm stated
    ("input-10k", 5.0, 0.0, 9960.0),          # Kia QBR and Hyundai VF evaporator: 9939 to 9999 ohm derived
    ("input-20k", 5.0, 0.0, 20000.0),         # Ford Windstar evaporator chart: 20027 ohm derived
    ("input-3k08-raised", 4.302, 0.5, 3084.0),  # GM manifold-air-temperature table, fitted
])
def test_the_knowledge_holds_the_published_inputs(id, open_v, short_v, pull_up_ohm):
    row = KB.input(id)
    assert (row.open_v, row.short_v, row.pull_up_ohm) == (open_v, short_v, pull_up_ohm)
