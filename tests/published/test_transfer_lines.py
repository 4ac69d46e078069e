"""Owns the proof that lines of three-wire sensors give their own printed points, and that those which do not are flagged.

Sources stand beside each; all are published service figures, data sheets or public threads, retold.
"""

import pytest

from engine.lines import Line
from engine.units import to_degc
from tests.loaded import KB

# Line, unit, (value, volts) as printed, half of the last printed digit [V].
PRINTED = [
    ("tank-667", "kPa", ((-6.67, 0.5), (0.0, 2.5), (6.67, 4.5)), 0.005),  # service information, tank vapour
    ("rail-20-mpa", "MPa", ((0, 0.5), (10, 2.5), (20, 4.5)), 0.005),  # service information, direct injection
    ("rail-482", "kPa", ((0, 0.5), (69, 1.1), (138, 1.6), (207, 2.2), (275, 2.8), (344, 3.4), (413, 3.9), (482, 4.5)), 0.06),
    ("height-050-450", "percent", ((0, 0.5), (50, 2.5), (100, 4.5)), 0.005),  # service figures, retold: 2.5 V level
    ("oil-10-bar", "bar", ((0, 0.5), (10, 4.5)), 0.005)]


@pytest.mark.parametrize(("id", "unit", "points", "within"), PRINTED, ids=[row[0] for row in PRINTED])
def test_every_printed_point_lies_on_its_line_within_the_printed_rounding(id, unit, points, within):
    line = KB.line(id)
    for value, volts in points:
        assert float(line.volts(to_degc(value, unit) if unit != "percent" else value)) == pytest.approx(volts, abs=within)


# Figures that disagree with their own row's formula: (line, value printed, unit, volts printed): each off by more than 20 mV.
CONTRADICTED = [("refrigerant-459", 363, "psi", 4.0), ("map-vacuum-285", 101.3 - 5 * 3.386, "kPa", 2.460),
                ("map-vacuum-300", 101.3 - 15 * 3.386, "kPa", 1.441), ("oil-10-bar", 10000 / 10, "bar", 4.5)]


@pytest.mark.parametrize(("id", "value", "unit", "volts"), CONTRADICTED)
def test_what_contradicts_its_own_line_is_flagged(id, value, unit, volts):
    (row,) = [one for one in KB.tables.lines if one.id == id]
    assert abs(float(KB.line(id).volts(to_degc(value, unit))) - volts) > 0.02
    assert row.warning


def test_a_printed_slope_that_misses_its_own_ends_is_flagged_and_the_ends_are_kept():
    """3 bar sensor: 328.24 is printed where the printed ends give 330.56 kPa per unit of share."""
    (row,) = [one for one in KB.tables.lines if one.id == "map-10-308"]
    assert "slope" in row.warning and KB.line("map-10-308").slope == pytest.approx(330.56, abs=0.01)


def test_the_two_and_a_half_bar_sensor_follows_its_data_sheet_and_no_open_code():
    """Vout = Vs (0.004 P - 0.04), 20 to 250 kPa (data sheet of the MPX4250A, Vs 5.1 V); open calibration code carries it as
    5.1 (0.00369 P + 0.04), which is a sixth of a volt off and more up to 150 kPa."""
    line = KB.line("map-20-250")
    for kpa in (20.0, 60.0, 100.0, 150.0, 250.0):
        assert float(line.ratio(kpa)) == pytest.approx(0.004 * kpa - 0.04, abs=1e-6)
        assert kpa > 150.0 or 5.1 * (0.00369 * kpa + 0.04) - float(line.volts(kpa)) > 1.0 / 6.0


def test_two_published_forms_of_one_sensor_both_stand_and_say_so():
    one, other = KB.line("map-vacuum-285"), KB.line("map-vacuum-300")
    assert float(other.volts(60.0) - one.volts(60.0)) == pytest.approx(0.15, abs=1e-6)
    for row in KB.tables.lines:
        if row.id.startswith("map-vacuum"):
            assert "second published form" in row.warning


def test_volts_headed_numbers_that_are_shares_give_half_a_volt_to_four_and_a_half():
    """0.025 P + 0.1 in kgf/cm2 is a share: 0.1 to 0.9 at 0 to 32 kgf/cm2 (455 psi)."""
    line = KB.line("refrigerant-455")
    assert line.slope == pytest.approx(98.0665 / 0.025, rel=0.001) and float(line.ratio(0.0)) == pytest.approx(0.1)


def test_two_tracks_keep_their_printed_relations():
    """0.50 + 4.45 = 4.25 + 0.70 = 4.95 V; 0.75 / 2 = 0.375 in 0.32 to 0.42 V and 4.10 / 2 = 2.05 in 1.93 to 2.17 V."""
    up, down = KB.line("throttle-050-425"), KB.line("throttle-445-070")
    for percent in (0, 25, 50, 100):
        assert float(up.volts(percent) + down.volts(percent)) == pytest.approx(4.95, abs=0.005)
    first, second = KB.line("pedal-075-410"), KB.line("pedal-037-205")
    for percent, low, high in ((0, 0.32, 0.42), (100, 1.93, 2.17)):
        assert low <= float(first.volts(percent)) / 2 <= high and low <= float(second.volts(percent)) <= high


def test_a_meter_of_ten_megohm_shows_what_feeds_the_probe():
    """0.45 V read as 0.32 V on 10 Mohm: the source has about 4.06 Mohm (service information, P0134)."""
    assert 10e6 * (0.45 / 0.32 - 1) == pytest.approx(4.06e6, rel=0.001)
    assert "0.45 to 0.32 V" in KB.refusal("oxygen-sensor").reason


def test_currents_of_a_wheel_sensor_agree_between_two_publications():
    """0.59 to 0.84 and 1.18 to 1.68 V on 100 ohm are 5.9 to 8.4 and 11.8 to 16.8 mA; another source says 4 to 8 and 11 to 16 mA."""
    low, high = ([volts / 100 * 1e3 for volts in pair] for pair in ((0.59, 0.84), (1.18, 1.68)))
    assert low == pytest.approx([5.9, 8.4]) and high == pytest.approx([11.8, 16.8])
    assert low[0] < 8 and high[0] < 16 and "7 and 14 mA" in KB.refusal("wheel-speed-active").reason


def test_there_are_thirty_lines_and_each_says_where_it_stands():
    assert len(KB.tables.lines) >= 30
    for row in KB.tables.lines:
        assert isinstance(KB.line(row.id), Line) and KB.source(row.source).citation
