"""Owns a retold case: the intake air shows 77 degC, plugged or unplugged: a fallback is suspected, not a temperature.

Source: public thread, retold; the answer there notes that the curve file substitutes 77 degC at the 5 V end, and proposes
2.7 kohm and 10 kohm as known values.
"""

import pytest


@pytest.fixture
def stuck(kb):
    return kb.job("intake-air-temperature", complaint=["P0111"]).record("as-found", shows=77).record(
        "unplugged", shows=77)


def test_the_number_is_not_taken_for_a_temperature(stuck):
    verdict = stuck.verdict()
    assert verdict.state == "open"
    assert verdict.locations["none"] < 0.1
    # An open circuit behind a fallback stays possible at every place it can be.
    assert verdict.locations["sensor"] + verdict.locations["plug"] + verdict.locations["signal"] > 0.5
    assert verdict.locations["module"] > 0.02


def test_the_next_step_is_a_value_in_range_or_the_volts(stuck):
    tests = [a.test for a in stuck.advice()[:4]]
    assert {"substitute", "live-number", "plug-volts"} & set(tests)


def test_moving_with_known_values_clears_the_input(stuck, kb):
    curve = kb.curve("ntc-10k-25c-b3977")
    job = stuck.record("substitute", ohm=10000, shows=round(float(curve.temperature_at(10000))))
    job = job.record("substitute", ohm=2700, shows=round(float(curve.temperature_at(2700))))
    verdict = job.verdict()
    assert verdict.locations["module"] < 0.05
    assert verdict.locations["sensor"] + verdict.locations["plug"] > 0.5


def test_not_moving_at_all_is_the_input(stuck):
    verdict = stuck.record("substitute", ohm=10000, shows=77).record("substitute", ohm=2700, shows=77).verdict()
    assert max(verdict.locations, key=verdict.locations.get) == "module"
    assert verdict.faults[0].id == "reading-frozen"
    # The module is not called found before its feeds were measured and its own pins tried.
    assert verdict.state == "open"
