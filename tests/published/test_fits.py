"""Owns published and retold pairs against the fits: input resistors, a foreign curve, a PTC, the unit shown, a misprint."""

from types import SimpleNamespace

import numpy as np
import pytest

from engine.curve_fits import error_along, fit_beta, rising_or_falling, unit_of
from engine.input_fits import feeds_together, other_feed_ohm, pull_up_from_pairs, pull_up_from_short
from engine.units import from_degc, to_degc
from knowledge.lint import outlier


def cause(got, id):
    return next(c for c in got.causes if c.id == id)


# Mercedes-Benz M447 hLAG engine management description, page 48: coolant on 1 kohm, ohms and volts as printed.
def test_a_published_coolant_table_gives_1_kohm():
    got = pull_up_from_pairs([49000, 16241, 7475, 3808, 429, 241, 126, 89],
                             [4.90, 4.71, 4.41, 3.96, 1.5, 0.97, 0.56, 0.41], 5.0)
    assert got.consistent
    assert got.together.mid == pytest.approx(1000.0, rel=0.005)
    assert [each.mid for each in got.each] == pytest.approx([1000.0] * 8, rel=0.025)


def test_a_published_pair_gives_20_kohm_both_ways():
    # Worked example of a public thread: 5 V, 0.19 V on 790 ohm is 20 kohm. Ford FRPT sensor table: 30.000 kohm at 3.00 V.
    assert pull_up_from_pairs([790.0], [0.19]).together.mid == pytest.approx(20000.0, rel=1e-3)
    assert pull_up_from_pairs([30000.0], [3.00]).together.mid == pytest.approx(20000.0)


def test_a_published_table_with_one_wrong_row_points_at_it():
    # Ford Windstar charts, hot end: 3215, 2750, 542 ohm at 3.86, 3.71, 1.81 V are 952 ohm; 78 ohm printed 0.35 V should be
    # 0.378. The row is pointed at, and nothing is averaged over it.
    got = pull_up_from_pairs([3215.0, 2750.0, 542.0, 78.0], [3.86, 3.71, 1.81, 0.35], 5.0)
    assert (got.consistent, got.together, got.odd) == (False, None, 3)
    mended = pull_up_from_pairs([3215.0, 2750.0, 542.0, 78.0], [3.86, 3.71, 1.81, 0.378], 5.0)
    assert mended.consistent
    assert mended.together.low < 952.38 < mended.together.high


def test_both_ranges_of_a_published_input_are_told_apart():
    # The same charts with the cold end: 20 kohm, and 20 kohm beside 1 kohm.
    got = pull_up_from_pairs([96255.0, 30000.0, 10850.0, 2034.0, 1155.0, 542.0],
                             [4.14, 3.00, 1.76, 3.41, 2.74, 1.81], 5.0)
    assert got.together is None
    assert got.best == "switched"
    assert cause(got, "switched").value == pytest.approx(952.38, rel=0.01)


def test_an_input_that_drifts_from_1095_to_760_ohm_has_4_78_volts_not_5():
    # Public thread, retold: open 4.78 V, input worked out with 5 V as 1095 ohm once and about 760 at other temperatures.
    # Own arithmetic: 727 ohm to 4.78 V gives just that, R (5 - V) / V, from 7.3 kohm down to nothing.
    ohms = np.array([7277.0, 2500.0, 1000.0, 300.0, 100.0])
    volts = np.round(4.78 * ohms / (ohms + 727.0), 3)
    assumed, measured = pull_up_from_pairs(ohms, volts), pull_up_from_pairs(ohms, volts, 4.78)
    assert assumed.each[0].mid == pytest.approx(1095.0, abs=5.0)
    assert assumed.each[-1].mid == pytest.approx(765.0, abs=5.0)
    assert (assumed.consistent, assumed.together, assumed.best) == (False, None, "supply")
    assert cause(assumed, "supply").value == pytest.approx(4.78, abs=0.01)
    assert not cause(assumed, "switched").fits
    assert measured.consistent
    assert measured.together.mid == pytest.approx(727.0, rel=0.005)


def test_one_sensor_on_two_modules():
    # Public thread, retold: bias to assume 2490 ohm alone, 1544 ohm beside the original module, 790 ohm beside it with its
    # own bias resistor changed. Own arithmetic: the original adds 4.06 kohm.
    assert other_feed_ohm(1544.0, 2490.0) == pytest.approx(4064.0, abs=1.0)
    assert other_feed_ohm(790.0, 2490.0) == pytest.approx(1157.0, abs=1.0)
    assert feeds_together([5.0, 5.0], [2490.0, 4064.0]) == pytest.approx((5.0, 1544.0), abs=0.1)
    # Seen through pairs it is one plain input of 1544 ohm, which agrees with itself and with neither module.
    ohms = np.array([6000.0, 2000.0, 300.0])
    got = pull_up_from_pairs(ohms, 5.0 * ohms / (ohms + 1544.0))
    assert got.consistent
    assert got.together.high < 2490.0


def test_short_circuit_current_gives_the_input():
    # Retold service text: 5 V at the plug and about 5 mA into an ammeter.
    got = pull_up_from_short(5.0, 0.005)
    assert got.mid == 1000.0
    assert got.high - got.low < 60.0


def test_a_foreign_sender_and_its_error_along_the_scale():
    # Measured side by side in a public thread, retold: original 300 ohm at 75 degF and 100 at 115, common replacement 190
    # and 50 ohm. Own arithmetic: beta 4690 and 5700 K; 190 ohm is 91 degF and 50 ohm 143 degF on the original curve.
    at = [to_degc(75.0, "degF"), to_degc(115.0, "degF")]
    original, fitted = fit_beta(at, [300.0, 100.0]), fit_beta(at, [190.0, 50.0])
    assert original.beta_k.mid == pytest.approx(4690.0, abs=5.0)
    assert fitted.beta_k.mid == pytest.approx(5700.0, abs=5.0)
    errors = error_along(fitted, original.curve, [*at, 80.0])
    assert from_degc(at[0] + errors[0].mid, "degF") == pytest.approx(91.0, abs=0.3)
    assert from_degc(at[1] + errors[1].mid, "degF") == pytest.approx(143.5, abs=0.7)
    assert 0.0 < errors[0].mid < errors[1].mid < errors[2].mid  # it grows with heat
    assert errors[0].low > 0.0


def test_a_ptc_rises_and_an_ntc_falls():
    # KTY81-110 data sheet, 1000 ohm at 25 and 1696 at 100 degC: 0.7 % a kelvin. Trionic T7 coolant: 2500 at 20, 330 at 80.
    ptc, ntc = rising_or_falling(25.0, 1000.0, 100.0, 1696.0), rising_or_falling(20.0, 2500.0, 80.0, 330.0)
    assert (ptc.kind, ntc.kind) == ("PTC", "NTC")
    assert ptc.share_per_k == pytest.approx(0.007, abs=0.0005)
    assert ntc.share_per_k == pytest.approx(-0.034, abs=0.001)
    assert min(ptc.confidence, ntc.confidence) > 0.999


def test_whole_degc_shown_as_degf_run_odd_then_even():
    # Public threads, retold: 1 to 9 odd, 10 to 18 even, and so on; -40 is the same in both.
    shown = [*range(1, 10, 2), *range(10, 19, 2)]
    assert unit_of(shown).unit == "degF"
    assert unit_of(range(1, 11)).unit == "degC"
    assert unit_of([-40]) == ("either", 0.5)
    assert unit_of([-40, *shown]) == unit_of(shown)


# Tables with a row their own law contradicts: name -> rows (degC, ohm), the row, and about how far it is off [K].
MISPRINTED = {
    # ILX Lightwave LDT-5525 manual, appendix A: 5331 ohm printed, 5231 by the rest.
    "ldt-5525": (((0, 32128), (10, 19549), (20, 12262), (25, 9814), (30, 7908), (40, 5331), (50, 3542)), 40, 0.45),
    # Kia TF 2011/2012 ambient sensor: 23.76 kohm printed, 24.27 by the rest, 24.25 in a Ford table of the same part.
    "ambient": (((-30, 480410), (-20, 271210), (-10, 158180), (0, 95100), (10, 58800), (20, 37320), (30, 23760),
                 (40, 16130), (50, 10950)), 30, 0.48),
    # Kia K900 2020 transmission fluid sensor: 160 ohm printed at 150 degC, about 200 by the rest.
    "gearbox": (((-40, 139500), (-20, 47400), (0, 18600), (20, 8100), (40, 3800), (60, 1980), (80, 1080),
                 (100, 630), (120, 380), (140, 250), (150, 160)), 150, 11.3),
}


def suspected(rows):
    points = tuple(SimpleNamespace(degc=float(degc), ohm=float(ohm)) for degc, ohm in rows)
    return list(outlier(SimpleNamespace(tables=SimpleNamespace(curves=(SimpleNamespace(id="table", points=points, quantity="temperature"),)))))


@pytest.mark.parametrize("name", MISPRINTED)
def test_a_misprinted_row_is_warned_of_and_no_other(name):
    # Least squares of three terms through the others, own arithmetic: how far off the row is.
    rows, degc, off_k = MISPRINTED[name]
    found = suspected(rows)
    assert [finding.subject for finding in found] == [f"table {degc} degC"]
    assert f"by {off_k:.1f} K" in found[0].said
    assert suspected([row for row in rows if row[0] != degc]) == []


def test_a_published_fit_with_3_kelvin_of_error_is_no_misprint():
    # Mercedes-Benz 005 542 10 17: its printed coefficients miss its own rows by up to 3.3 K, all along, so no row stands out.
    assert suspected(((1.55, 1922), (20.0, 820), (44.7, 287.9), (59.8, 155.2), (79.3, 95.1), (100.0, 43.5))) == []
