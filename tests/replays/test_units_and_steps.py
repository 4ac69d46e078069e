"""Owns a retold case: whole degrees C shown in degrees F move in steps of about two, and the unit shows in the pattern.

Source: public thread, retold; confirmed by the posters' arithmetic. Data kept as a byte less 40 in degC: shown in degF, numbers run
odd from 1 to 9, even from 10 to 18; some clusters know degC only; -40 is the same in both.
"""

import pytest

from engine.curve_fits import unit_of
from engine.units import from_degc, to_degc

CURVE = "ntc-3400-20c-coolant"
CIRCUIT = {"reference_v": 5.0, "pull_up_ohm": 2490, "curve": CURVE}
OHMS = (3400, 1200, 330)
AT_FAULT = ("sensor", "plug", "signal", "return", "supply", "module", "set-up")
WIRES_AND_MODULE = ("signal", "return", "supply", "module", "set-up")


def test_runs_of_odd_and_even_numbers_are_degrees_f():
    shown = [round(from_degc(c, "degF")) for c in range(-17, -7)]
    assert shown == [1, 3, 5, 7, 9, 10, 12, 14, 16, 18]
    assert unit_of(shown).unit == "degF"
    assert unit_of(list(range(20, 28))).unit == "degC"


def test_one_number_and_minus_40_decide_nothing():
    assert unit_of([87]).unit == unit_of([-40]).unit == unit_of([-40, -40, 87]).unit == "either"


def test_minus_40_needs_no_unit(kb):
    assert to_degc(-40, "degF") == -40.0
    answers = {unit: kb.job("coolant-temperature", circuit=CIRCUIT).record("unplugged", shows=-40, unit=unit).verdict()
               for unit in ("degC", "degF")}
    assert answers["degC"].locations == answers["degF"].locations


def _off_by(kb, shown, degf):
    job = kb.job("coolant-temperature", circuit=CIRCUIT)
    for ohm in OHMS:
        job = job.record("substitute", ohm=ohm, shows=shown(CURVE, ohm) + degf, unit="degF")
    return job.verdict()


@pytest.mark.parametrize("degf", [-2, -1, 0, 1, 2])
def test_one_or_two_degrees_f_are_no_fault(kb, shown, degf):
    # The trap flags them: one step of the data is 1.8 degF.
    verdict = _off_by(kb, shown, degf)
    assert verdict.misfit is None
    assert sum(verdict.locations[place] for place in WIRES_AND_MODULE) < 0.15


def test_ten_degrees_f_are(kb, shown):
    assert sum(_off_by(kb, shown, 10).locations[place] for place in WIRES_AND_MODULE) > 0.9


def test_a_single_87_is_not_taken_for_one_unit(kb):
    # 87 typed without its unit where the part stands at 31 degC: degF mixed up leads, and is not called found.
    job = kb.job("coolant-temperature", circuit=CIRCUIT, surroundings={"value": 31, "unit": "degC"}).record("as-found", shows=87)
    verdict = job.verdict()
    assert verdict.faults[0].id == "wrong-unit"
    assert verdict.state == "open"


def test_a_bad_look_beside_one_reading_of_live_data_is_not_found(kb):
    # 21 degC on a part at 21 degC, and something was wrong with the set-up: put right, the complaint is as open as before.
    job = kb.job("coolant-temperature", complaint=["P0116"], surroundings={"value": 21.3, "unit": "degC"})
    job = job.record("as-found", shows=21).record("check-set-up", good=False)
    assert (job.verdict().location, job.verdict().state) == ("set-up", "open")
    # What is asked for next are numbers.
    assert job.advice()[0].test != "check-set-up"


def test_degrees_f_typed_as_degrees_c_are_found_by_the_second_value(kb, shown):
    job = kb.job("coolant-temperature", circuit=CIRCUIT).record("substitute", ohm=330, shows=shown(CURVE, 330))
    assert job.verdict().state == "open"
    job = job.record("substitute", ohm=1200, shows=shown(CURVE, 1200))
    verdict = job.verdict()
    # One look at the set-up is all that is left to do.
    assert (verdict.location, verdict.missing_proof) == ("set-up", ("set-up-checked",))
    assert verdict.faults[0].id == "wrong-unit"
    assert job.record("check-set-up", good=False).verdict().state == "found"
    # Found in order, it is looked at once more: both numbers speak against it.
    once = job.record("check-set-up", good=True)
    assert [(row.test, row.why) for row in once.advice()[:1]] == [("check-set-up", "proof")]
    assert "check-set-up" not in [row.test for row in once.record("check-set-up", good=True).advice()]
    # A third number that only the other unit explains overrules the look.
    assert once.record("substitute", ohm=2500, shows=shown(CURVE, 2500)).verdict().state == "found"


def test_the_same_values_typed_with_their_unit_are_in_order(kb, shown):
    job = kb.job("coolant-temperature", circuit=CIRCUIT)
    for ohm in OHMS:
        job = job.record("substitute", ohm=ohm, shows=shown(CURVE, ohm), unit="degF")
    verdict = job.verdict()
    assert sum(verdict.locations[place] for place in WIRES_AND_MODULE) < 0.06
