"""Owns a retold case: a gauge high on an engine that is not hot, the replacement sender of another family.

Source: public thread, retold, measured side by side: original sender 300 ohm at 75 degF and 100 ohm at 115 degF, a common replacement
190 and 50 ohm at the same temperatures; about 25 such parts were met. Own arithmetic: on the original curve 190 ohm is 91 degF and
50 ohm 143 degF.
"""

import numpy as np
import pytest

from engine.curves import Curve

COLD, WARM = (75 - 32) / 1.8, (115 - 32) / 1.8
ORIGINAL = Curve("original", "300 ohm at 75 degF", ((COLD, 300.0), (WARM, 100.0)))
REPLACEMENT = Curve("replacement", "190 ohm at 75 degF", ((COLD, 190.0), (WARM, 50.0)))
# The gauge's scale from 75 degF up, in percent, on the original sender.
SCALE = {"curve": {"quantity": "level", "unit": "percent", "points": [[0, 300], [23, 100], [50, 36], [100, 10]]}}


def test_two_values_make_the_error_and_it_grows_with_heat():
    assert float(ORIGINAL.temperature_at(190.0)) * 1.8 + 32 == pytest.approx(91, abs=1)
    assert float(ORIGINAL.temperature_at(50.0)) * 1.8 + 32 == pytest.approx(143, abs=1)
    at_c = np.array([COLD, WARM, 80.0])
    error = ORIGINAL.temperature_at(REPLACEMENT.ohm_at(at_c)) - at_c
    assert np.all(np.diff(error) > 0) and error[0] > 5


def test_right_with_both_book_values_is_the_sender(kb):
    job = kb.job("coolant-temperature-gauge", complaint=["needle-wrong-temperature"], circuit=SCALE)
    job = job.record("as-found", shows="3/8").record("substitute", ohm=300, shows="E").record("substitute", ohm=100, shows="1/4")
    chances = job.verdict().locations
    assert chances["module"] + chances["supply"] + chances["signal"] + chances["return"] < 0.3
    verdict = job.record("sensor-ohms", ohms=50, at={"value": 23, "unit": "percent"}).record("look", good=True).verdict()
    assert verdict.location == "sensor"
    assert {fault.id for fault in verdict.faults[:2]} == {"sender-wrong-family", "sender-reads-low-ohms"}


def test_ohms_that_fall_with_heat_are_no_proof_of_the_right_family(kb):
    job = kb.job("coolant-temperature-gauge", complaint=["needle-wrong-temperature"], circuit=SCALE)
    job = job.record("as-found", shows="3/8").record("sensor-ohms", ohms=190, at={"value": 0, "unit": "percent"})
    job = job.record("sensor-ohms", ohms=50, at={"value": 23, "unit": "percent"})
    assert job.verdict().locations["none"] < 0.05 and job.verdict().locations["sensor"] > 0.6
