"""Owns the tests of the module's own line: a wrong part, a wrong coding and a feed into the signal are told apart."""

import numpy as np
import pytest

from engine.divide_sheet import loaded_share
from engine.errors import InputError
from engine.lines import Line
from engine.module_line import input_from_divided, module_line, what_differs

ONE_BAR = Line("one-bar", "", 0.04, 15.0, 0.94, 115.0, "pressure")
TWO_BAR = Line("two-bar", "", 0.04, 20.0, 0.96, 250.0, "pressure")
THREE_BAR = Line("three-bar", "", 0.05, 10.0, 0.95, 307.5, "pressure")
LISTED = (ONE_BAR, TWO_BAR, THREE_BAR)
SHARES = (0.25, 0.70)


def shown(line):
    return [round(float(line.value(share))) for share in SHARES]


@pytest.mark.parametrize(("module", "sensor", "cause", "ids"), [
    (TWO_BAR, TWO_BAR, "none", ("two-bar", "two-bar")),
    (TWO_BAR, ONE_BAR, "wrong-part", ("two-bar", "one-bar")),
    (THREE_BAR, TWO_BAR, "wrong-coding", ("three-bar", "two-bar")),
    (ONE_BAR, THREE_BAR, "both", ("one-bar", "three-bar"))])
def test_part_and_coding_are_told_apart(module, sensor, cause, ids):
    found = what_differs(TWO_BAR, module_line(SHARES, shown(module)), float(sensor.ratio(100.0)), 100.0, LISTED)
    assert (found.cause, found.module_id, found.sensor_id) == (cause, *ids)


def test_a_sensor_off_every_line_is_not_given_a_name():
    found = what_differs(TWO_BAR, module_line(SHARES, shown(TWO_BAR)), 0.66, 100.0, LISTED)
    assert (found.cause, found.sensor_id) == ("sensor-off", "")


@pytest.mark.parametrize(("load_ohm", "up", "heavy"), [(3e5, False, False), (3e3, True, True), (5e3, False, True)])
def test_the_input_is_learned_from_two_settings(load_ohm, up, heavy):
    ratios = (0.3, 0.6)
    shares = [float(loaded_share(ratio, 10e3, load_ohm, up)) for ratio in ratios]
    feeds, ohm = input_from_divided(ratios, shares, 10e3)
    assert ohm == pytest.approx(load_ohm, rel=1e-6) and feeds == pytest.approx(1.0 if up else 0.0, abs=1e-6)
    found = what_differs(TWO_BAR, module_line(shares, [float(TWO_BAR.value(share)) for share in shares]), 0.36, 100.0, LISTED, (feeds, ohm))
    assert (found.cause == "back-feed") == heavy


def test_a_line_takes_two_settings_apart():
    with pytest.raises(InputError):
        module_line([0.5, 0.52], [60, 61])
    with pytest.raises(InputError):
        module_line([0.5], [60])
    line = module_line([0.2, 0.5, 0.8], [10.0, 40.0, 70.0])
    assert (line.slope, line.offset) == (pytest.approx(100.0), pytest.approx(-10.0)) and line.slope_sd > 0 and np.isfinite(line.offset_sd)
