"""Owns published copper wire tables and the exhaust sensor that is no IEC 60751 platinum resistor."""

import numpy as np
import pytest

from engine.curves import Curve
from engine.errors import InputError
from engine.wire import wire_ohm

FOOT_M = 0.3048


# ASTM B258 geometry with 0.017241 ohm mm2/m; tables as printed by HyperPhysics (wire gauge page), ohm per 1000 ft.
@pytest.mark.parametrize(("gauge", "per_m", "per_1000_ft"), [
    (14, 0.00829, 2.525), (16, 0.01317, 4.016), (18, 0.02095, 6.385), (20, 0.03331, 10.15), (22, 0.05296, 16.14),
    (24, 0.08421, 25.67)])
def test_copper_wire_has_its_printed_ohms(gauge, per_m, per_1000_ft):
    assert wire_ohm(gauge, 1.0) == pytest.approx(per_m, abs=5.1e-6)
    assert wire_ohm(gauge, 1000.0 * FOOT_M) == pytest.approx(per_1000_ft, rel=1e-3)


def test_the_page_prints_two_values_for_awg_10():
    # HyperPhysics prints 0.999 and 0.9989 ohm per 1000 ft: both are the law within their last digit.
    assert wire_ohm(10, 1000.0 * FOOT_M) == pytest.approx(0.999, abs=6e-4)


def test_a_harness_of_thin_wire_stays_inside_the_published_limits():
    # Published limits: 1.5 ohm (one maker), end to end below 2 ohm (another): 6 m of AWG 20 are 0.2 ohm, so a wire at its
    # limit has a bad contact, not a long way. Two leads of a metre in AWG 24 are 0.17 ohm.
    assert wire_ohm(20, 6.0) == pytest.approx(0.20, abs=0.005)
    assert 2 * wire_ohm(24, 1.0) == pytest.approx(0.17, abs=0.005)
    assert wire_ohm(20, 6.0, 100.0) == pytest.approx(wire_ohm(20, 6.0) * 1.314, rel=1e-3)  # 0.393 % a kelvin


@pytest.mark.parametrize(("gauge", "length_m"), [(41, 1.0), (-4, 1.0), (20, -1.0), (20, float("nan"))])
def test_no_such_wire(gauge, length_m):
    with pytest.raises(InputError):
        wire_ohm(gauge, length_m)


# Exhaust sensor, bus engine management description M447 hLAG, page 48: degC and ohms as printed.
PRINTED = ((-40.0, 170.0), (0.0, 200.0), (200.0, 349.0), (400.0, 488.0), (600.0, 618.0), (700.0, 679.0), (800.0, 738.0),
           (1000.0, 849.0))
# IEC 60751 Pt200 at the same temperatures, by its Callendar-Van Dusen coefficients (1000 degC beyond the standard's 850).
IEC = (168.5, 200.0, 351.7, 494.2, 627.4, 690.6, 751.4, 866.2)


def platinum(degc, a, b, c=0.0):
    below = np.minimum(degc, 0.0)
    return 200.0 * (1.0 + a * degc + b * degc**2 + c * (below - 100.0) * below**3)


def test_the_exhaust_sensor_is_not_iec_platinum():
    degc, ohm = np.array(PRINTED).T
    assert platinum(degc, 3.9083e-3, -5.775e-7, -4.183e-12) == pytest.approx(np.array(IEC), abs=0.06)
    assert platinum(degc, 3.837e-3, -5.925e-7) == pytest.approx(ohm, abs=0.95)  # its own coefficients, fitted
    exhaust = Curve("e", "e", PRINTED)
    assert exhaust.rising
    # Read on the wrong one, 849 ohm: about 970 degC on IEC platinum where the sensor has 1000.
    wrong = Curve("i", "i", tuple(zip(degc.tolist(), IEC, strict=True)))
    assert float(wrong.temperature_at(849.0)) == pytest.approx(970.0, abs=3.0)


@pytest.mark.parametrize("degc", [300.0, 500.0, 650.0, 900.0])
def test_between_its_hot_rows_the_exhaust_curve_follows_its_own_law(degc):
    # 2 % is what the source states when hot (20 K at 1000 degC).
    got = float(Curve("e", "e", PRINTED).ohm_at(degc))
    assert got == pytest.approx(float(platinum(degc, 3.837e-3, -5.925e-7)), rel=0.02)


# IEC 60751 Pt100 (first three printed by Beckhoff infosys 9827313675, the others computed), and Pt1000 at 1 degC, 1003.9
# ohm (stm32world).
@pytest.mark.parametrize(("degc", "ohm"), [(-200.0, 18.520), (-100.0, 60.256), (-80.0, 68.325), (0.0, 100.0), (100.0, 138.506),
                                           (200.0, 175.856), (400.0, 247.092), (600.0, 313.708), (850.0, 390.481)])
def test_the_law_used_here_is_iec_60751(degc, ohm):
    assert float(platinum(degc, 3.9083e-3, -5.775e-7, -4.183e-12)) / 2.0 == pytest.approx(ohm, abs=6e-4)
    assert float(platinum(1.0, 3.9083e-3, -5.775e-7)) * 5.0 == pytest.approx(1003.9, abs=0.05)
