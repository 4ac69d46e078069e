"""Owns a retold case: table values dialled in, the reading moves but is far off on every curve.

Source: public thread, retold; the answer there expected about 80 degC from 330 ohm on the common North American curve. The
volts follow from the divider: with a bias of 1.0 kohm where 2.49 kohm is assumed, 330 ohm is taken for 820 ohm.

From the plug alone a smaller input resistor and a second 5 V feed on the wire are the same circuit: two feeds of equal volts
are one feed through both resistors side by side (Millman), so neither ohms, volts nor numbers taken there tell them apart.
What does: the stand-in at the module's own pins with the harness off, and looking for an added instrument.
"""

import numpy as np
import pytest

CURVE = "ntc-3400-20c-coolant"
CIRCUIT = {"reference_v": 5.0, "pull_up_ohm": 2490, "curve": CURVE}
REAL_OHM, ASSUMED_OHM = 1000.0, 2490.0
# 1 kohm is 2.49 kohm beside this much.
SECOND_FEED_OHM = 1.0 / (1.0 / REAL_OHM - 1.0 / ASSUMED_OHM)


@pytest.fixture
def job(kb, shown):
    job = kb.job("coolant-temperature", circuit=CIRCUIT)
    for ohm in (330, 3400, 185):
        job = job.record("substitute", ohm=ohm, shows=shown(CURVE, ohm, REAL_OHM, ASSUMED_OHM, "degC"))
    return job


def test_moving_is_not_passing(job):
    # "Every dialled point responds" is the trap: the module side leads, nothing is called good.
    verdict = job.verdict()
    assert verdict.state == "open"
    assert max(verdict.locations, key=verdict.locations.get) == "module"
    assert verdict.locations["module"] > 0.7
    assert verdict.locations["none"] < 0.01
    assert verdict.misfit is None


def test_the_harness_is_left_only_with_a_second_feed(job):
    # Neither added ohms nor a leak to ground fits three pairs: what is left on the wire is something that feeds it.
    verdict = job.verdict()
    assert verdict.locations["module"] + verdict.locations["signal"] > 0.99
    feeding = {f.id: f for f in verdict.faults if f.location == "signal" and f.p > 0.01}
    assert {"second-instrument", "signal-leak-supply"} <= set(feeding)
    assert all(name.startswith(("second-instrument", "signal-leak-supply")) for name in feeding)
    for name in ("second-instrument", "signal-leak-supply"):
        assert feeding[name].estimate.low < SECOND_FEED_OHM < feeding[name].estimate.high


def test_the_bias_is_fitted_from_the_pairs(job):
    fault = job.verdict().faults[0]
    assert fault.id == "input-value-low"
    assert fault.estimate.low < REAL_OHM / ASSUMED_OHM < fault.estimate.high
    assert fault.estimate.high - fault.estimate.low < 0.05


def test_volts_at_the_open_plug_do_not_split_them(job):
    before, after = job.verdict(), job.record("plug-volts", signal_to_return_v=5.0).verdict()
    assert after.state == "open"
    assert after.locations["module"] == pytest.approx(before.locations["module"], abs=0.1)


def test_the_next_step_splits_module_from_wire(job):
    # Looking for an added instrument, or the module's own pins: nothing else tells the two apart.
    first = job.advice()[0]
    assert first.test in ("look", "substitute-at-module")
    assert {"module", "signal"} <= set(first.splits)
    assert {"look", "substitute-at-module"} <= {a.test for a in job.advice()}


def test_wrong_at_the_modules_pins_too_is_the_module_and_its_proof_is_asked(job, shown):
    job = job.record("substitute-at-module", ohm=330, shows=shown(CURVE, 330, REAL_OHM, ASSUMED_OHM, "degC"))
    verdict = job.verdict()
    assert verdict.locations["module"] > 0.95
    # A module is not found before its feeds were measured.
    assert (verdict.state, verdict.missing_proof) == ("open", ("feeds",))
    assert (job.advice()[0].test, job.advice()[0].why) == ("module-feeds", "proof")
    proven = job.record("module-feeds", good=True).verdict()
    assert (proven.state, proven.location) == ("found", "module")


def test_right_at_the_modules_pins_is_the_second_feed(job, shown):
    verdict = job.record("substitute-at-module", ohm=330, shows=shown(CURVE, 330, unit="degC")).verdict()
    assert (verdict.state, verdict.location) == ("found", "signal")
    assert verdict.faults[0].id == "second-instrument"
    assert verdict.faults[0].estimate.low < SECOND_FEED_OHM < verdict.faults[0].estimate.high


def test_no_consistent_bias_is_said(kb):
    # Values no single input gives: 330 ohm far too cold, 3400 far too hot, 185 right.
    job = kb.job("coolant-temperature", circuit=CIRCUIT)
    for ohm, shows in ((330, 40), (3400, 60), (185, 101)):
        job = job.record("substitute", ohm=ohm, shows=shows)
    verdict = job.verdict()
    assert verdict.state != "found"
    assert verdict.misfit is not None
    assert np.isclose(sum(verdict.locations.values()), 1.0)
