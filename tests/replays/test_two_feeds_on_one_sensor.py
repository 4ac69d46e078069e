"""Owns a retold case: an instrument and a module both feed one sensor, and the input resistor worked out drifts.

Source: public thread, retold. Open: 4.78 V with the plug open, the resistor worked out from ohms and volts as 1095 ohm once and
as low as 760 ohm at other temperatures; one sensor on two gauges made each show about half. Worked example there: 5 V and
0.19 V on 790 ohm are 20 kohm. The pairs are arithmetic: 4.78 V behind 727 ohm, taken for 5 V, drifts by just that much.
"""

import pytest

from engine.input_fits import CAUSES, feeds_together, pull_up_from_pairs

OPEN_V, REAL_OHM = 4.78, 727.0
OHMS = (7300.0, 2500.0, 1000.0, 300.0)
VOLTS = tuple(round(OPEN_V * ohm / (ohm + REAL_OHM), 3) for ohm in OHMS)
CURVE = "ntc-3400-20c-coolant"


def test_the_drift_is_reported_and_never_averaged():
    got = pull_up_from_pairs(OHMS, VOLTS)
    assert got.each[0].mid == pytest.approx(1095.0, abs=5.0)
    assert got.each[-1].mid == pytest.approx(770.0, abs=10.0)
    assert not got.consistent
    assert got.together is None


def test_causes_come_in_the_order_to_check_them():
    got = pull_up_from_pairs(OHMS, VOLTS)
    assert tuple(cause.id for cause in got.causes) == CAUSES == ("supply", "switched", "moved", "second-load")
    assert got.best == "supply"
    assert got.causes[0].value == pytest.approx(OPEN_V, abs=0.01)


def test_with_the_open_volts_measured_the_pairs_agree():
    got = pull_up_from_pairs(OHMS, VOLTS, open_v=OPEN_V)
    assert got.consistent
    assert got.together.low < REAL_OHM < got.together.high


def test_two_pairs_show_the_drift_but_no_cause():
    # Three pairs at least: two leave nothing to judge a cause by.
    got = pull_up_from_pairs(OHMS[::3], VOLTS[::3])
    assert (got.consistent, got.together, got.best) == (False, None, "")


def test_the_worked_example_runs_both_ways():
    assert pull_up_from_pairs([790], [0.19], open_v=5.0).together.mid == pytest.approx(20000.0, rel=0.001)
    assert 5.0 * 790 / (790 + 20000) == pytest.approx(0.19, abs=0.0005)


def test_two_like_gauges_on_one_sensor_halve_the_resistor():
    assert feeds_together([5.0, 5.0], [1000.0, 1000.0]) == (pytest.approx(5.0), pytest.approx(500.0))


def test_one_sender_on_two_like_gauges_makes_each_show_about_half():
    # A sender of many times the coil: each of two coils gets about half the current one would, within a tenth.
    feed_v, coil_ohm, sender_ohm = 12.6, 30.0, 600.0
    alone = feed_v / (coil_ohm + sender_ohm)
    volts, ohm = feeds_together([feed_v, feed_v], [coil_ohm, coil_ohm])
    at_sender = volts * sender_ohm / (sender_ohm + ohm)
    assert (feed_v - at_sender) / coil_ohm == pytest.approx(0.5 * alone, rel=0.1)


def test_a_fixed_resistor_does_not_drift(kb):
    # With fixed resistors in place of the sensor, one resistor goes through all pairs, far from the average of the drift.
    job = kb.job("coolant-temperature", circuit={"open_v": OPEN_V, "curve": CURVE})
    for ohm, volts in zip(OHMS, VOLTS, strict=True):
        job = job.record("substitute", ohm=ohm, signal_to_return_v=volts)
    verdict = job.verdict()
    learned = verdict.learned["pull_up_ohm"]
    assert learned.low < REAL_OHM < learned.high
    assert learned.high - learned.low < 0.1 * REAL_OHM
    assert verdict.misfit is None


def _on_the_wire(kb, shown, feed_v, feed_ohm, told=False):
    """A module of 1 kohm to 5 V with another instrument's feed on its wire: fixed resistors, volts and numbers."""
    open_v, both_ohm = feeds_together([5.0, feed_v], [1000.0, feed_ohm])
    circuit = {"reference_v": 5.0, "pull_up_ohm": 1000, "curve": CURVE}
    if told:
        circuit["second_instrument"] = {"open_v": feed_v, "pull_up_ohm": feed_ohm}
    job = kb.job("coolant-temperature", circuit=circuit).record("plug-volts", signal_to_return_v=round(open_v, 2))
    for ohm in (2500, 1000, 300):
        volts = open_v * ohm / (ohm + both_ohm)
        job = job.record("substitute", ohm=ohm, signal_to_return_v=round(volts, 2),
                         shows=shown(CURVE, 1000.0 * volts / (5.0 - volts)), unit="degF")
    return job


def test_a_second_instrument_is_named_beside_the_module(kb, shown):
    job = _on_the_wire(kb, shown, 5.0, 4000.0)
    verdict = job.verdict()
    assert verdict.state == "open"
    assert verdict.locations["module"] + verdict.locations["signal"] > 0.98
    second = next(f for f in verdict.faults if f.id == "second-instrument")
    assert second.estimate.low < 4000.0 < second.estimate.high
    assert {"module", "signal"} <= set(job.advice()[0].splits)


def test_a_second_instrument_of_fewer_volts_is_found_at_the_modules_pins(kb, shown):
    # 4.2 V through 4 kohm beside 5 V through 1 kohm: 4.84 V with the plug open, which a smaller input resistor never gives.
    job = _on_the_wire(kb, shown, 4.2, 4000.0)
    right = job.record("substitute-at-module", ohm=1000, shows=shown(CURVE, 1000), unit="degF")
    verdict = right.verdict()
    assert verdict.misfit is None
    assert (verdict.state, verdict.location) == ("found", "signal")


@pytest.mark.parametrize("feed_v", [5.0, 4.2])
def test_a_second_instrument_that_was_told_is_in_order(kb, shown, feed_v):
    verdict = _on_the_wire(kb, shown, feed_v, 4000.0, told=True).verdict()
    assert verdict.misfit is None
    assert verdict.locations["module"] + verdict.locations["signal"] + verdict.locations["supply"] < 0.05


def test_a_feed_below_five_volts_is_on_the_list(kb):
    # The first cause to check: 4.78 V where 5 V was taken, to the return pin and to battery negative alike.
    job = kb.job("coolant-temperature", circuit={"reference_v": 5.0, "pull_up_ohm": 727, "curve": CURVE})
    job = job.record("plug-volts", signal_to_return_v=OPEN_V, signal_to_battery_v=OPEN_V)
    for ohm, volts in zip(OHMS[1:], VOLTS[1:], strict=True):
        job = job.record("substitute", ohm=ohm, signal_to_return_v=volts)
    verdict = job.verdict()
    assert verdict.misfit is None
    assert verdict.locations["supply"] > 0.3
