"""Owns a retold case: table values dialled in, the reading moves but is far off on every curve.

Source: public thread, retold; the answer there expected about 80 degC from 330 ohm on the common North American curve. The
volts follow from the divider: with a bias of 1.0 kohm where 2.49 kohm is assumed, 330 ohm is taken for 820 ohm.
"""

import numpy as np
import pytest

CIRCUIT = {"reference_v": 5.0, "pull_up_ohm": 2490, "curve": "ntc-3400-20c-coolant"}
REAL_OHM, ASSUMED_OHM = 1000.0, 2490.0


def _shown(kb, ohm: float) -> int:
    volts = 5.0 * ohm / (ohm + REAL_OHM)
    return round(float(kb.curve("ntc-3400-20c-coolant").temperature_at(ASSUMED_OHM * volts / (5.0 - volts))))


@pytest.fixture
def job(kb):
    job = kb.job("coolant-temperature", circuit=CIRCUIT)
    for ohm in (330, 3400, 185):
        job = job.record("substitute", ohm=ohm, shows=_shown(kb, ohm))
    return job


def test_moving_is_not_passing(kb, job):
    # "Every dialled point responds" is the trap: the module side leads, nothing is called good.
    verdict = job.verdict()
    assert verdict.locations["module"] > 0.9
    assert verdict.locations["none"] < 0.01


def test_the_bias_is_fitted_from_the_pairs(job):
    fault = job.verdict().faults[0]
    assert fault.id == "input-value-low"
    assert fault.estimate.low < REAL_OHM / ASSUMED_OHM < fault.estimate.high
    assert fault.estimate.high - fault.estimate.low < 0.05


def test_a_module_is_not_found_without_its_proof(job):
    verdict = job.verdict()
    assert verdict.state == "open"
    assert set(verdict.missing_proof) == {"feeds", "module-pins"}
    assert {a.test for a in job.advice()[:2]} <= {"module-feeds", "substitute-at-module"}


def test_no_consistent_bias_is_said(kb):
    # Values no single input gives: 330 ohm far too cold, 3400 far too hot, 185 right.
    job = kb.job("coolant-temperature", circuit=CIRCUIT)
    for ohm, shows in ((330, 40), (3400, 60), (185, 101)):
        job = job.record("substitute", ohm=ohm, shows=shows)
    verdict = job.verdict()
    assert verdict.state != "found"
    assert verdict.misfit is not None
    assert np.isclose(sum(verdict.locations.values()), 1.0)
