"""Owns a retold case: two sources give two numbers for one coolant temperature; the reader is looked at before the car.

Source: public threads, retold. A logger flips between 94 and -12 degC while dash and another reader hold 94 (open); a library
multiplied by -40 instead of subtracting, so that byte 2B gave -1720 instead of 3 degC (confirmed by its repair); a reader showed the
coolant 14 degC above a correct intake on a cold bench (confirmed by its repair).
"""

import pytest

from engine.errors import InputError
from engine.live_data import decode

CURVE = "ntc-2500-20c-coolant"
CIRCUIT = {"reference_v": 5.0, "pull_up_ohm": 2490, "curve": CURVE}
COLD = {"value": 20, "unit": "degC"}


def test_the_raw_byte_says_what_the_number_must_be():
    assert decode("41 05 2B") == (3.0, "degC")
    assert decode("41 05 86") == (94.0, "degC")
    # Multiplied instead of subtracted.
    assert 0x2B * -40 == -1720


def test_a_number_no_sensor_gives_is_refused_with_the_range(kb):
    with pytest.raises(InputError, match="-1720"):
        kb.job("coolant-temperature").record("as-found", shows=-1720)


def test_of_two_numbers_none_is_simply_trusted(kb):
    # The trap trusts the one number typed in. One circuit does not give both: the reading that does not fit is named.
    job = kb.job("coolant-temperature", circuit=CIRCUIT).record("as-found", shows=94).record("as-found", shows=-12)
    verdict = job.verdict()
    assert verdict.state == "nothing-fits"
    assert verdict.misfit in (0, 1)
    assert max(verdict.locations.values()) < 0.5


@pytest.mark.parametrize("circuit", [CIRCUIT, {}])
def test_two_numbers_of_one_hook_up_put_the_reader_before_the_car(kb, circuit):
    job = kb.job("coolant-temperature", circuit=circuit).record("as-found", shows=94)
    assert job.advice()[0].test != "second-reader"
    job = job.record("as-found", shows=-12)
    assert (job.advice()[0].test, job.advice()[0].why) == ("second-reader", "reader")
    # Once the readers agree the car is looked at.
    assert job.record("second-reader", good=True).advice()[0].test != "second-reader"


def test_the_same_number_in_both_units_is_one_number(kb):
    job = kb.job("coolant-temperature", circuit=CIRCUIT).record("as-found", shows=94).record("as-found", shows=201, unit="degF")
    verdict = job.verdict()
    assert verdict.misfit is None
    assert verdict.state == "open"
    assert job.advice()[0].test != "second-reader"
    assert "wrong-unit" not in [f.id for f in verdict.faults if f.p > 0.01]


@pytest.fixture
def apart_when_cold(kb):
    return kb.job("coolant-temperature", circuit=CIRCUIT, surroundings=COLD).record("compare-cold", shows=34, at=COLD)


def test_cold_soaked_inputs_that_disagree_are_a_finding_not_a_location(apart_when_cold):
    verdict = apart_when_cold.verdict()
    assert verdict.state == "open"
    assert verdict.locations["none"] < 0.02
    assert max(verdict.locations.values()) < 0.5


def test_the_readers_are_compared_before_anything_is_unplugged(kb):
    assert "second reader" in " ".join(kb.test("compare-cold", "coolant-temperature").hand)
    assert "before anything is unplugged" in " ".join(kb.test("compare-cold", "coolant-temperature").hand)
    said = " ".join(kb.test("second-reader", "coolant-temperature").hand)
    assert "raw byte" in said and "plus 40" in said and "dash" in said


def test_a_sensor_with_the_right_ohms_is_not_changed(apart_when_cold):
    job = apart_when_cold.record("sensor-ohms", ohms=2500, at=COLD)
    verdict = job.verdict()
    assert verdict.state == "open"
    assert verdict.locations["sensor"] < 0.1


def test_right_volts_under_a_wrong_number_leave_the_number_itself(apart_when_cold):
    # 2.5 kohm on 2.49 kohm is 2.51 V, and 0.33 kohm 0.59 V: the volts are right, the number is 14 degC up at both.
    job = apart_when_cold.record("sensor-ohms", ohms=2500, at=COLD).record("plug-volts", signal_to_return_v=5.0)
    for ohm, shows, volts in ((2500, 34, 2.51), (330, 94, 0.59)):
        job = job.record("substitute", ohm=ohm, shows=shows, signal_to_return_v=volts)
    verdict = job.verdict()
    assert sum(verdict.locations[place] for place in ("sensor", "plug", "signal", "return", "supply")) < 0.05
    # What scales it: the reader's own arithmetic stands beside the module's.
    assert verdict.locations["set-up"] > 0.1
    assert verdict.state != "found"


def test_a_second_reader_parts_the_reader_from_the_module(kb):
    # One number whatever is dialled: the module's, or that of an item read by mistake. Nothing at the plug tells the two apart.
    job = kb.job("coolant-temperature", circuit=CIRCUIT).record("as-found", shows=76)
    for ohm in (3400, 1200, 330):
        job = job.record("substitute", ohm=ohm, shows=76)
    assert "second-reader" in [a.test for a in job.advice()]
    agree, differ = (job.record("second-reader", good=good).verdict().locations for good in (True, False))
    assert agree["module"] > 0.9 and agree["set-up"] < 0.1
    assert differ["set-up"] > 0.9
