"""Owns a retold case: manifold pressure whose volts follow while the number does not.

Source: public threads, retold. (a) data sheet 0.5 V at 50 kPa and 4.5 V at 400 kPa, measured 1.08 V at 102.2 kPa; (b) 711 mbar
shown at key-on with a 5 bar sensor; (c) thought inverted at 203 kPa and 0 V, measured 0.8 V idle and 2.9 V at air pressure:
it rises (confirmed); (d) a board fed 5 V back into the signal (confirmed by its fix).
"""

import pytest

from engine.divide_sheet import loaded_share
from engine.lines import Line, line_through
from engine.module_line import input_from_divided, module_line, what_differs

FIVE_BAR = {"unit": "kPa", "points": [[0.5, 0], [4.5, 500]]}


def test_the_data_sheet_line_and_the_measured_one_differ_as_printed():
    sheet = line_through([(0.5, 50.0), (4.5, 400.0)], 5.0, "pressure")
    assert float(sheet.value(1.08 / 5.0)) == pytest.approx(100.75, abs=0.01)
    measured = Line("measured", "", 1.08 / 5.0, 102.2, 4.5 / 5.0, 5.0 + 90.0 * 4.5, "pressure")
    assert float(measured.value(4.5 / 5.0)) == pytest.approx(410.0) and float(sheet.value(0.9)) == pytest.approx(400.0)


def test_a_wrong_number_at_the_day_s_air_pressure_with_right_volts_is_the_module(kb):
    job = kb.job("manifold-pressure", circuit={"line": FIVE_BAR}, surroundings={"value": 100, "unit": "kPa"})
    job = job.record("barometer", shows=711, unit="mbar", at={"value": 100, "unit": "kPa"}, signal_to_return_v=1.30, supply_to_return_v=5.0)
    assert job.verdict().locations["sensor"] < 0.05
    # Two divided settings: the module's own line has 0.71 of the slope.
    job = job.record("divide", ratio=0.3, shows=88).record("divide", ratio=0.6, shows=222)
    verdict = job.verdict()
    assert verdict.location == "module" and verdict.faults[0].id == "three-scale-wrong"
    assert verdict.faults[0].estimate.low < 0.72 < verdict.faults[0].estimate.high
    # Proven only once its feeds and its own pins were tried.
    assert set(verdict.missing_proof) == {"feeds", "module-pins"}


def test_volts_that_change_do_not_clear_a_sensor_of_another_range(kb):
    job = kb.job("manifold-pressure", circuit={"line": "map-10-105"}, surroundings={"value": 100, "unit": "kPa"})
    job = job.record("barometer", shows=52, at={"value": 100, "unit": "kPa"}, signal_to_return_v=2.2, supply_to_return_v=5.0)
    job = job.record("divide", ratio=0.5, shows=57)
    verdict = job.verdict()
    assert verdict.locations["module"] < 0.02 and verdict.locations["sensor"] > 0.7
    module = module_line([0.3, 0.5], [38, 57])
    listed = tuple(kb.lines("manifold-pressure"))
    found = what_differs(kb.line("map-10-105"), module, 2.2 / 5.0, 100.0, listed)
    assert found.cause in ("wrong-part", "sensor-off") and found.module_id == "map-10-105"


def test_two_voltages_say_that_it_rises():
    assert line_through([(0.8, 35.0), (2.9, 100.0)], 5.0, "pressure").slope > 0


def test_a_feed_back_into_the_signal_is_seen_from_two_settings(kb):
    shares = [float(loaded_share(ratio, 10e3, 4700.0, True)) for ratio in (0.3, 0.6)]
    feed = input_from_divided((0.3, 0.6), shares, 10e3)
    found = what_differs(kb.line("map-20-250"), module_line(shares, [100.0, 170.0]), 0.5, 100.0, (), feed)
    assert found.cause == "back-feed" and feed[0] == pytest.approx(1.0, abs=0.01)
