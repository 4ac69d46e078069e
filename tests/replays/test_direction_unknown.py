"""Owns retold level scales that run both ways: the direction is a fact of its own and never inferred from ohms.

Source: public threads and a hobby compilation, retold: 40 to 250 ohm is met both ways, one vendor's text prints 240 ohm as empty and as full.
"""

from engine.curves import Curve


def ends(kb, curve):
    """Ohms empty and full."""
    points = kb.curve(curve).points
    return points[0][1], points[-1][1]


def test_the_same_pair_stands_both_ways_and_both_are_flagged(kb):
    assert ends(kb, "level-40-250") == tuple(reversed(ends(kb, "level-250-40")))
    for curve in ("level-40-250", "level-250-40"):
        assert "other way round" in kb.curve_row(curve).warning


def test_the_vendor_that_contradicts_itself_is_flagged(kb):
    assert "swapped" in kb.curve_row("level-240-33").warning and ends(kb, "level-240-33") == (240.0, 33.0)


def test_scales_of_both_directions_compete_until_a_reading_tells(kb):
    curves = [curve for curve, _ in kb.job("fuel-level").curves]
    rising = [curve for curve in curves if isinstance(curve, Curve) and curve.points[0][1] < curve.points[-1][1]]
    assert 3 <= len(rising) <= len(curves) - 3


def test_open_says_which_way_a_scale_runs(kb):
    """An open plug reads the end with the most ohms: empty on a falling scale, full on a rising one."""
    for curve, end in (("level-240-33", 0.0), ("level-10-180", 100.0), ("level-410-15", 0.0), ("level-0-90", 100.0)):
        assert min(max(float(kb.curve(curve).temperature_at(1e7)), 0.0), 100.0) == end
