"""Owns the tests of lines: both ways, falling ones, clamps, points as typed, families."""

from dataclasses import replace

import numpy as np
import pytest

from engine.errors import InputError
from engine.lines import Line, LineFamily, line_through
from engine.three_wire import OF3
from engine.three_wire_model import ThreeWireModel
from engine.unknowns import Z, Z_NAMES

RISING = Line("rising", "", 0.1, 0.0, 0.85, 100.0)
FALLING = Line("falling", "", 0.89, 0.0, 0.14, 100.0)


@pytest.mark.parametrize("line", [RISING, FALLING])
def test_a_line_goes_both_ways(line):
    for value in (0.0, 12.5, 50.0, 100.0):
        assert float(line.value(line.ratio(value))) == pytest.approx(value)
    assert float(line.ratio(0.0)) == pytest.approx(line.ratio_low) and float(line.ratio(100.0)) == pytest.approx(line.ratio_high)


def test_the_shown_value_stands_still_beyond_the_clamps():
    held = Line("held", "", 0.14, 0.0, 0.9, 100.0, low_clamp=0.14, high_clamp=0.9)
    assert float(held.value(0.02)) == pytest.approx(0.0) and float(held.value(0.98)) == pytest.approx(100.0)


def test_points_in_volts_or_in_shares_make_one_line():
    shares = line_through([(0.1, 20.0), (0.5, 135.0), (0.9, 250.0)], None, "pressure")
    volts = line_through([(4.5, 250.0), (0.5, 20.0)], 5.0, "pressure")
    assert shares.slope == pytest.approx(volts.slope) and shares.offset == pytest.approx(volts.offset)


@pytest.mark.parametrize("points", [[(0.1, 20.0)], [(0.1, 20.0), (0.5, 200.0), (0.9, 250.0)], [(0.1, 20.0), (0.1, 30.0)],
                                    [(0.1, 20.0), (0.9, 20.0)]])
def test_points_that_make_no_line_are_refused(points):
    with pytest.raises(InputError):
        line_through(points, None, "pressure")


def test_an_unlisted_line_starts_at_its_low_value_and_rises(kb):
    family = LineFamily(15.0, 105.0, (0.06, 0.04), (0.9, 0.05), 0.45)
    setup = kb.job("manifold-pressure").setup
    z = np.zeros((3, len(Z_NAMES)))
    z[:, Z.family_ohm], z[:, Z.family_beta] = (0.0, 2.0, -2.0), (0.0, -3.0, 3.0)
    of = ThreeWireModel(replace(setup, three_wire=replace(setup.three_wire, family=family))).unknowns(z)
    offset, slope = of[:, OF3.line_offset], of[:, OF3.line_slope]
    assert np.all(slope > 0) and offset[0] + slope[0] * 0.06 == pytest.approx(15.0)
