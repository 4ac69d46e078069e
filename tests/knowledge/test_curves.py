"""Owns the test of the curves: every published row comes back, both ways, and warnings stay with their curve."""

import csv

import numpy as np
import pytest

from engine.curves import four_term_temperature
from knowledge.load import DATA

FILES = sorted((DATA / "curves").glob("*.csv"))


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_published_row_comes_back_both_ways(kb, path):
    curve = kb.curve(path.stem)
    with path.open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    degrees, ohms = (np.array([float(row[name]) for row in rows]) for name in ("degc", "ohm"))
    assert len(curve.points) == len(rows) >= 2
    assert curve.ohm_at(degrees) == pytest.approx(ohms, rel=1e-12)
    assert curve.temperature_at(ohms) == pytest.approx(degrees, abs=1e-9)
    assert not curve.rising


# Published rows, typed here a second time from the citation of each curve.
@pytest.mark.parametrize(("curve", "degc", "ohm", "band"), [
    ("ntc-2500-20c-coolant", 20, 2467.79, (2100, 2900)), ("ntc-2500-20c-coolant", 110, 149.666, (140, 160)),
    ("ntc-2060-25c-coolant", 25, 2053.73, (1941, 2173)), ("ntc-2450-20c-coolant", 80, 320, None),
    ("ntc-3400-20c-coolant", 100, 185, None), ("ntc-2600-20c-intake", -20, 14866.1, (13000, 17000)),
    ("ntc-3400-20c-intake-measured", 120, 106, None), ("ntc-4900-20c-evaporator", 0, 11360, None),
    ("ntc-10k-25c-b3977", 85, 1070.3, None), ("ntc-30k-25c-ambient", 30, 23760, None)])
def test_published_points(kb, curve, degc, ohm, band):
    point = next(point for point in kb.curve_row(curve).points if point.degc == degc)
    assert point.ohm == ohm
    if band:
        assert (point.ohm_low, point.ohm_high) == band
        # A stated range is kept as its geometric mean.
        assert point.ohm == pytest.approx((band[0] * band[1]) ** 0.5, rel=1e-5)


def test_the_computed_curve_follows_its_data_sheet_formula(kb):
    """Vishay NTCLE100E3, B25/85 3977 K: the four coefficients of its citation give every row within 0.01 K."""
    curve = kb.curve("ntc-10k-25c-b3977")
    degrees, ohms = np.array(curve.points).T
    worked = four_term_temperature(ohms, 10000.0, 3.354016e-3, 2.569850e-4, 2.620131e-6, 6.383091e-8)
    assert worked == pytest.approx(degrees, abs=0.01)
    assert curve.beta_25_85 == pytest.approx(3976.95, abs=0.1)


def test_warnings_stay_with_their_curve(kb):
    assert "misprint" in kb.curve_row("ntc-30k-25c-ambient").warning
    assert "approximate" in kb.curve_row("ntc-3400-20c-coolant").warning
    assert kb.source(kb.curve_row("ntc-10k-25c-b3977").source).standing == "derived"
