"""Owns a retold case: the repair happened while the rheostat was fitted.

Source: public thread, retold; confirmed: dirt on a ground terminal of a temperature sender, gone when new terminals were crimped on
while a rheostat was put on beside the sender; with it the gauge stood at 110 against 95 degC of the engine's own module, and could not
be set below 80; it was taken out, and the gauge was right. Ohms and needle between are arithmetic on a published family.
"""

import pytest

from engine.circuit import parallel

FAMILY = "gauge-temp-291-22"
AT_HALF = {"value": 50, "unit": "percent"}


@pytest.fixture
def too_cold(kb):
    """The needle low, the engine warm, the sender's own ohms in order."""
    job = kb.job("coolant-temperature-gauge", ["needle-wrong-temperature"], circuit={"curve": FAMILY}).record("as-found", shows="1/8")
    return job.record("sensor-ohms", ohms=70, at=AT_HALF)


@pytest.fixture
def right_with_it(too_cold):
    return too_cold.record("substitute", ohm=70, shows="1/2")


def test_nothing_is_plugged_back_on_before_it_was_taken_off(kb):
    fresh = kb.job("coolant-temperature-gauge", circuit={"curve": FAMILY}).record("as-found", shows="1/8")
    assert "plugged-again" not in [one.test for one in fresh.advice()]


def test_once_the_plug_was_off_the_original_is_tried_again_before_any_part(right_with_it):
    # Right with a resistor in its place, and its own ohms right: terminals felt, looked at, or simply plugged on again.
    steps = [one.test for one in right_with_it.advice()]
    assert {"look", "terminal-fit", "plugged-again"} & set(steps[:2])
    assert right_with_it.verdict().locations["sensor"] < 0.05


def test_right_after_plugging_on_again_is_a_contact_and_no_part(right_with_it):
    verdict = right_with_it.record("plugged-again", good=False).verdict()
    assert verdict.misfit is None
    assert verdict.locations["plug"] + verdict.locations["return"] > 0.95
    assert verdict.locations["sensor"] + verdict.locations["module"] < 0.03


def test_as_wrong_as_before_leaves_what_was_likely(right_with_it):
    before, after = right_with_it.verdict().locations, right_with_it.record("plugged-again", good=True).verdict().locations
    assert after["plug"] < before["plug"] and after["module"] + after["signal"] > before["module"] + before["signal"]


def test_the_same_on_a_module_s_own_sensor(kb):
    circuit = {"reference_v": 5.0, "pull_up_ohm": 2490, "curve": "ntc-3400-20c-coolant"}
    job = kb.job("coolant-temperature", circuit=circuit).record("as-found", shows=60).record("substitute", ohm=240, shows=90)
    job = job.record("sensor-ohms", ohms=240, at={"value": 90, "unit": "degC"})
    again = job.record("plugged-again", good=False)
    # Plain draws, 20,000 of each fault, give the plug 0.78, and the sensor, the signal and the return that come and go 0.05 to 0.08 each.
    assert 0.7 < again.verdict().locations["plug"] < 0.86 and again.verdict().locations["sensor"] < 0.1
    comes_and_goes = {"plug-intermittent", "sensor-intermittent", "signal-intermittent", "return-intermittent"}
    assert sum(one.p for one in again.verdict().faults if one.id in comes_and_goes) > 0.4
    assert again.record("look", good=False).verdict().locations["plug"] > 0.9
    # Typed as a second number as found, before and after: what comes and goes, and plugging on again is asked for.
    twice = job.record("as-found", shows=90)
    assert twice.verdict().locations["plug"] > 0.35 and twice.verdict().misfit is None
    # Either of the two numbers may be the slip. By plain draws, three million of each (arithmetic on the project's own model), they are
    # e^-1.430 times as likely with a circuit in order as with a plug that comes and goes, before measuring 2.40 times as likely.
    by_fault = twice.belief.by_fault()
    assert by_fault["reading-true"] / by_fault["plug-intermittent"] == pytest.approx(0.574, rel=0.15)
    assert "plugged-again" in [one.test for one in twice.advice()[:3]]


def test_a_resistor_beside_it_masks_one_temperature_and_spoils_a_cured_gauge(kb):
    # Beside the sender it can only lower the ohms: the gauge reads hotter, and never below what it makes.
    curve = kb.curve(FAMILY)
    beside = [float(curve.temperature_at(parallel(70.0, rheostat))) for rheostat in (100.0, 300.0, 1000.0)]
    assert all(shown > 50.0 for shown in beside) and beside[0] > beside[1] > beside[2]
    masking = next(one.text for one in kb.test("plugged-again", "coolant-temperature").cautions if one.id == "masking-resistor")
    assert "one temperature only" in masking and "only lower the ohms" in masking and "only raise them" in masking


def test_no_resistor_is_left_in_and_the_original_goes_back_on(kb):
    for fault in ("sender-reads-high-ohms", "sender-wrong-family", "gauge-wrong-family"):
        assert "masking-resistor" in {caution.id for caution in kb.cautions(kb.action(fault).id)}
    assert "back on" in kb.action("sender-ground-poor").proof
    assert "never trim" in kb.action("sender-wrong-family").repair
