"""Owns the published ends of gauge and sender families, their laws where points follow from two, and a meter's own load."""

import numpy as np
import pytest

from engine.circuit import METER_OHM, solve
from engine.curves import beta_curve
from tests.loaded import KB

# Id, ohms at the low end, at the middle where printed, at the high end, each with its source.
FAMILIES = (
    ("level-0-30", 0.5, None, 30),           # printed 0 to 30, hobby compilation, GM to 1964
    ("level-73-10", 73, 23, 10),             # hobby compilation, Ford to 1986; 23 at half by a market-place page
    ("level-1-88", 1, 44, 88),               # hobby compilation, Jeep 1980s, half 44 ohm; public thread, retold
    ("level-105-5", 105, None, 5),           # hobby compilation, Jeep 1991 and up
    ("level-22-145", 22, None, 145),         # public thread, retold
    ("level-0-190", 0.5, None, 190),         # printed 0 to 190, public thread, retold
    ("level-300-0", 300, None, 0.5),         # printed 300 to 0, public thread, retold
    ("level-33-240", 33, None, 240),         # vendor's list, against its own prose; public thread, retold
    ("gauge-oil-10-180", 10, None, 180),     # Kanardia Daqu manual page 36, VDO 0 to 10 bar
    ("gauge-oil-3-160", 3, None, 160),       # Kanardia Daqu manual page 36
    ("gauge-oil-240-33", 240, None, 33),     # Kanardia Daqu manual page 36, reversed
    ("gauge-temp-291-22", 291.46, 70.12, 22.44),       # VDO 120 degC sender at 40, 80 and 120 degC
    ("gauge-temp-291-22-flat", 291.46, None, 22.44),   # the same, needle flat from 75 to 105 degC
    ("gauge-temp-322-19", 322.17, 61.92, 18.59),       # VDO 150 degC sender at 50, 100 and 150 degC
    ("gauge-temp-1305-50", 1305, None, 49.5),          # GMC K2500 2000 at 100 and 260 degF
    ("gauge-temp-133-6", 133, None, 6.3),              # thermal gauge's sender by its law, see below
)


@pytest.mark.parametrize(("id", "low", "middle", "high"), FAMILIES)
def test_families_stand_as_printed(id, low, middle, high):
    curve = KB.curve(id)
    assert (float(curve.ohm_at(0.0)), float(curve.ohm_at(100.0))) == pytest.approx((low, high))
    assert middle is None or float(curve.ohm_at(50.0)) == pytest.approx(middle, rel=0.01)
    assert curve.rising == (high > low)


@pytest.mark.parametrize(("id", "sender", "cold_c", "hot_c"), [
    ("gauge-temp-291-22", "ntc-gauge-120c", 40.0, 120.0), ("gauge-temp-322-19", "ntc-gauge-150c", 50.0, 150.0)])
def test_a_scale_in_percent_stands_on_its_senders_table(id, sender, cold_c, hot_c):
    for percent, ohm in KB.curve(id).points:
        assert ohm == pytest.approx(float(KB.curve(sender).ohm_at(cold_c + percent / 100.0 * (hot_c - cold_c))), rel=1e-3)


def test_the_flat_band_lies_on_the_same_sender():
    flat = dict(KB.curve("gauge-temp-291-22-flat").points)
    assert (flat[45.0], flat[55.0]) == pytest.approx(tuple(KB.curve("ntc-gauge-120c").ohm_at([75.0, 105.0])), rel=1e-3)


def test_the_truck_gauge_follows_the_beta_law_of_its_two_points():
    # 1305 ohm at 100 degF and 49.5 ohm at 260 degF, GMC K2500 2000, service information.
    for percent, ohm in KB.curve("gauge-temp-1305-50").points:
        assert ohm == pytest.approx(float(KB.curve("ntc-1305-38c-sender").ohm_at(37.78 + percent / 100.0 * 88.89)), rel=0.01)


def test_the_thermal_senders_law():
    """300 ohm at 75 degF and 100 ohm at 115 degF (public thread, retold): beta about 4690 K, carried on to 40 to 120 degC."""
    cold, warm = (75 - 32) / 1.8, (115 - 32) / 1.8
    beta = np.log(300 / 100) / (1 / (cold + 273.15) - 1 / (warm + 273.15))
    assert beta == pytest.approx(4690, rel=0.005)
    at_25 = 300 * np.exp(beta * (1 / 298.15 - 1 / (cold + 273.15)))
    law = beta_curve(at_25, beta)
    for percent, ohm in KB.curve("gauge-temp-133-6").points:
        assert ohm == pytest.approx(float(law.ohm_at(40 + 0.8 * percent)), rel=0.03)


def test_gauge_coils_and_regulator():
    # Coils of 13, 12.8 and 12.9 ohm (public thread, retold); 77:23 at 13 V and 87 % at 11.5 V are both about 10 V.
    assert KB.input("input-13-gauge").pull_up_ohm == pytest.approx(12.9, abs=0.11)
    assert 0.77 * 13.0 == pytest.approx(0.87 * 11.5, abs=0.02) == pytest.approx(10.0, abs=0.02)


def test_a_weak_source_is_pulled_down_by_the_meter():
    """0.45 V of bias read as 0.32 V on a 10 Mohm meter: about 4.06 Mohm behind it (Buick Park Avenue 1995)."""
    source = METER_OHM * (0.45 - 0.32) / 0.32
    assert source / 1e6 == pytest.approx(4.06, abs=0.01)
    assert float(solve(open_v=0.45, source_ohm=4.06e6, element_ohm=METER_OHM).pin_v) == pytest.approx(0.32, abs=0.005)
