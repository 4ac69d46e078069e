"""Owns the comparison of the listed lines with the figures printed for them.

Sources: data sheets of absolute pressure sensors of 1 and 2.5 bar; service information of a 1 bar manifold sensor (three
points), of two-track pedals and throttles, and of valve position sensors.
"""

import pytest

from engine.lines import line_through
from engine.tracks import gap
from tests.loaded import KB


@pytest.mark.parametrize(("line", "value", "volts"), [
    ("map-20-250", 20.0, 0.204), ("map-20-250", 250.0, 4.896), ("map-15-115", 15.0, 0.204), ("map-15-115", 115.0, 4.794),
    ("map-20-101", 20.0, 0.79), ("map-20-101", 46.66, 1.84), ("map-20-101", 101.32, 4.00),
    ("throttle-050-425", 0.0, 0.50), ("throttle-050-425", 100.0, 4.25), ("throttle-445-070", 0.0, 4.45),
    ("throttle-445-070", 100.0, 0.70), ("egr-400-100", 0.0, 4.00), ("egr-400-100", 100.0, 1.00)])
def test_a_line_gives_its_printed_volts_at_its_own_supply(line, value, volts):
    digits = 3 if f"{volts:g}".count(".") and len(f"{volts:g}".split(".")[1]) == 3 else 2
    assert float(KB.line(line).volts(value)) == pytest.approx(volts, abs=0.51 * 10**-digits)


def test_three_printed_points_have_two_slopes_of_39_4_and_39_5_millivolt_a_kilopascal():
    points = ((0.79, 20.0), (1.84, 46.66), (4.00, 101.32))
    slopes = [1000.0 * (v2 - v1) / (p2 - p1) for (v1, p1), (v2, p2) in zip(points, points[1:], strict=False)]
    assert slopes == [pytest.approx(39.4, abs=0.05), pytest.approx(39.5, abs=0.05)]
    assert line_through(points, 5.0, "pressure").slope == pytest.approx(KB.line("map-20-101").slope, rel=1e-6)


def test_a_pressure_in_another_unit_is_kept_in_kilopascal():
    line = KB.line("map-2000-mmhg")
    assert float(line.value(1.0)) == pytest.approx(266.64, abs=0.01)
    assert float(line.volts(100.0 * 0.133322387415)) == pytest.approx(0.25)


def test_a_two_track_limit_is_met_where_it_is_printed():
    """Service figures: faults once half the first is more than 0.094 to 0.134 V off the second."""
    tracks = KB.tracks("half")
    second = tracks.partner_v(2.0)
    assert not gap(tracks, 2.0, second + 0.05).disagree and gap(tracks, 2.0, second + 0.15).disagree
