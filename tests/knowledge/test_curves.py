"""Owns the test of the curves: every published row comes back, both ways, and warnings stay with their curve."""

import csv

import numpy as np
import pytest

from engine.curves import four_term_temperature
from knowledge.curve_forms import form_points
from knowledge.load import DATA

FILES = sorted((DATA / "curves").glob("*.csv"))


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_published_row_comes_back_both_ways(kb, path):
    curve = kb.curve(path.stem)
    with path.open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    value = "percent" if curve.quantity == "level" else "degc"
    values, ohms = (np.array([float(row[name]) for row in rows]) for name in (value, "ohm"))
    assert len(curve.points) == len(rows) >= 2
    assert curve.ohm_at(values) == pytest.approx(ohms, rel=1e-12)
    assert curve.temperature_at(ohms) == pytest.approx(values, abs=1e-9)
    if curve.quantity == "temperature":
        assert curve.rising == path.stem.startswith("pt")


@pytest.mark.parametrize(("curve", "degc", "ohm"), [
    ("pt100-iec60751", 100, 138.506), ("pt200-iec60751", 0, 200.0), ("pt1000-iec60751", -40, 842.707)])
def test_a_curve_by_formula_has_its_points_from_the_law(kb, curve, degc, ohm):
    assert kb.curve_row(curve).form == "iec60751" and kb.curve(curve).rising
    assert float(kb.curve(curve).ohm_at(degc)) == pytest.approx(ohm, abs=6e-4)


@pytest.mark.parametrize(("form", "coefficients", "degc", "ohm", "within"), [
    ("beta", (10000.0, 3977.0), 25.0, 10000.0, 1e-6),
    ("beta", (10000.0, 3977.0), 85.0, 10000.0 * np.exp(3977.0 * (1 / 358.15 - 1 / 298.15)), 1e-6),
    # github keidyz/steinhart-hart, README: 7000 ohm at 307.9031 K.
    ("steinhart-hart", (8.97554e-4, 2.50179e-4, 1.94834e-7), 307.9031 - 273.15, 7000.0, 1e-4),
    # Vishay NTCLE100E3, 10 kohm, four terms: 1070.3 ohm at 85 degC.
    ("four-term", (10000.0, 3.354016e-3, 2.569850e-4, 2.620131e-6, 6.383091e-8), 85.0, 1070.3, 1e-4)])
def test_every_form_gives_published_ohms(form, coefficients, degc, ohm, within):
    points = dict(form_points(form, coefficients, degc, degc + 20.0, 10.0))
    assert points[degc] == pytest.approx(ohm, rel=within) and len(points) == 3


def test_level_curves_run_straight_between_their_ends(kb):
    # A quarter of the way from 250 ohm empty to 40 ohm full.
    assert float(kb.curve("level-250-40").ohm_at(25.0)) == pytest.approx(197.5)
    assert kb.curve("level-16-158").rising and not kb.curve("level-410-15").rising


# Published rows, typed here a second time from the citation of each curve.
@pytest.mark.parametrize(("curve", "degc", "ohm", "band"), [
    ("ntc-2500-20c-coolant", 20, 2467.79, (2100, 2900)), ("ntc-2500-20c-coolant", 110, 149.666, (140, 160)),
    ("ntc-2060-25c-coolant", 25, 2053.73, (1941, 2173)), ("ntc-2450-20c-coolant", 80, 320, None),
    ("ntc-3400-20c-coolant", 100, 185, None), ("ntc-2600-20c-intake", -20, 14866.1, (13000, 17000)),
    ("ntc-3400-20c-intake-measured", 120, 106, None), ("ntc-3500-25c-gearbox", 110, 243.721, (220, 270)), ("ntc-4900-20c-evaporator", 0, 11360, None),
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
    for curve in ("ntc-8100-20c-gearbox", "ntc-10k-25c-standard"):
        assert "misprint" in kb.curve_row(curve).warning and "as printed" in kb.curve_row(curve).warning
    assert "other way round" in kb.curve_row("level-40-250").warning
    assert "approximate" in kb.curve_row("ntc-3400-20c-coolant").warning
    assert kb.source(kb.curve_row("ntc-10k-25c-b3977").source).standing == "derived"
