"""Owns the proof that a reading typed wrongly is named, and moves the finding nowhere else.

Readings are a reader's whole degC for ohms on a published curve (Ohm's law and that curve alone), one of them changed the way
hands do: degF under degC, ohm for kilohm (common practice, no source).
"""

import pytest

from engine.units import from_degc
from tests.loaded import KB

from .test_accuracy_effective import LEAST, effective_by_fault

CURVE = "ntc-2500-20c-coolant"
CIRCUIT = {"reference_v": 5.0, "pull_up_ohm": 2490, "curve": CURVE}
OHMS = (330.0, 700.0, 2500.0)


def shown(ohm):
    return round(float(KB.curve(CURVE).temperature_at(ohm)))


@pytest.mark.parametrize("wrong", range(len(OHMS)))
def test_one_number_in_the_other_unit_is_named(wrong):
    job = KB.job("coolant-temperature", circuit=CIRCUIT)
    for i, ohm in enumerate(OHMS):
        job = job.record("substitute", ohm=ohm, shows=round(from_degc(shown(ohm), "degF")) if i == wrong else shown(ohm))
    verdict = job.verdict()
    assert (verdict.state, verdict.misfit) == ("nothing-fits", wrong)
    assert min(effective_by_fault(job.belief).values()) >= LEAST


def test_ohm_for_kilohm_on_the_meter_is_named_and_shorts_no_sensor():
    # Two cold numbers from a sensor whose ohms are right would be the contact's; 2.5 ohm would be a shorted sensor's, which reads hot.
    job = KB.job("coolant-temperature", circuit=CIRCUIT, surroundings={"value": 20, "unit": "degC"}).record("as-found", shows=-3)
    job = job.record("compare-cold", shows=-3, at={"value": 20, "unit": "degC"})
    job = job.record("sensor-ohms", ohms=2.5, at={"value": 20, "unit": "degC"})
    verdict = job.verdict()
    assert verdict.misfit == 2
    assert verdict.locations["plug"] > verdict.locations["sensor"]


def test_a_number_no_item_can_hold_is_of_another_unit():
    """One byte less 40 ends at 215 degC (SAE J1979); 282 is 139 degC read in degF."""
    job = KB.job("coolant-temperature", circuit=CIRCUIT, surroundings={"value": 20, "unit": "degC"})
    beyond, within = (job.record("shorted", shows=number).verdict() for number in (282, 139))
    assert beyond.faults[0].id == "wrong-unit" and beyond.faults[0].p > 5.0 * dict((f.id, f.p) for f in within.faults)["wrong-unit"]


def test_the_same_number_twice_with_the_sensor_on_is_no_number_of_the_modules_own():
    job = KB.job("coolant-temperature", circuit=CIRCUIT)
    on = job.record("as-found", shows=40).record("compare-cold", shows=40, at={"value": 20, "unit": "degC"})
    assert on.belief.evidence.default is None
    assert job.record("as-found", shows=40).record("unplugged", shows=40).belief.evidence.default == pytest.approx(40.0)


def test_a_right_set_of_readings_names_nothing():
    job = KB.job("coolant-temperature", circuit=CIRCUIT)
    for ohm in OHMS:
        job = job.record("substitute", ohm=ohm, shows=shown(ohm))
    verdict = job.verdict()
    assert verdict.misfit is None and all(one.fits for one in verdict.because)
