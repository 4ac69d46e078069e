"""Owns a retold case: a coolant signal that comes and goes; normal now must not mean passed.

Source: public thread, retold; confirmed by replaced wiring and connector after the number jumped when wires were flexed.
"""

import pytest

CIRCUIT = {"reference_v": 5.0, "pull_up_ohm": 2490, "curve": "ntc-2500-20c-coolant"}


@pytest.fixture
def normal_now(kb):
    job = kb.job("coolant-temperature", complaint=["P0118", "P0119"], circuit=CIRCUIT)
    return job.record("as-found", shows=88).record("plug-volts", signal_to_return_v=5.0).record("look", good=True)


def test_normal_now_is_not_passed(normal_now):
    verdict = normal_now.verdict()
    assert verdict.state == "open"
    assert verdict.locations["none"] < 0.05
    coming_and_going = sum(f.p for f in verdict.faults if f.id.endswith("-intermittent"))
    assert coming_and_going > 0.8


def test_flexing_with_a_fixed_stand_in_is_among_the_first_steps(normal_now):
    assert "wiggle" in [a.test for a in normal_now.advice()[:3]]


def test_a_number_that_still_jumps_clears_the_sensor(normal_now):
    jumping = normal_now.record("substitute", ohm=330, shows="jumps").verdict()
    assert jumping.locations["sensor"] < 0.05
    flexed = normal_now.record("wiggle", good=False).verdict()
    assert flexed.locations["sensor"] < 0.05
    # The confirmed repair: wiring and connector.
    assert flexed.locations["signal"] + flexed.locations["return"] + flexed.locations["plug"] > 0.95
