"""Owns a retold service text: jump signal to return, and if that fails to a good ground; ends differ by module.

Source: published service figures: open -40, shorted 139 degC and above; others 140, 160, 191 to 198 degC.
"""

import pytest

CIRCUIT = {"reference_v": 5.0, "pull_up_ohm": 2490, "curve": "ntc-2500-20c-coolant"}


@pytest.fixture
def dead_jumper(kb):
    job = kb.job("coolant-temperature", complaint=["P0118"], circuit=CIRCUIT)
    return job.record("as-found", shows=-40).record("shorted", shows=-40)


def test_a_failed_jumper_to_the_return_leaves_wire_and_return(dead_jumper):
    verdict = dead_jumper.verdict()
    assert verdict.locations["signal"] > 0.3 and verdict.locations["return"] > 0.3
    assert verdict.locations["sensor"] + verdict.locations["plug"] < 0.05
    assert dead_jumper.advice()[0].test in ("substitute-to-chassis", "return-ohms")


@pytest.mark.parametrize("hot_end", [139, 142, 160, 195])
def test_the_jumper_to_ground_that_works_says_return(dead_jumper, hot_end):
    verdict = dead_jumper.record("substitute-to-chassis", ohm=0, shows=hot_end).verdict()
    assert (verdict.state, verdict.location) == ("found", "return")


def test_the_jumper_to_ground_that_fails_says_signal_or_module(dead_jumper):
    verdict = dead_jumper.record("substitute-to-chassis", ohm=0, shows=-40).verdict()
    assert verdict.locations["return"] < 0.01
    assert verdict.locations["signal"] + verdict.locations["module"] > 0.98


@pytest.mark.parametrize("hot_end", [128, 140, 160, 198])
def test_every_hot_end_passes_the_wire(kb, hot_end):
    # Ends differ by module: none is built in.
    job = kb.job("coolant-temperature", circuit=CIRCUIT).record("as-found", shows=-40).record("shorted", shows=hot_end)
    verdict = job.verdict()
    assert verdict.locations["sensor"] + verdict.locations["plug"] > 0.85
    assert verdict.misfit is None
