"""Owns retold low-fuel lamps: resistors find where the lamp switches and so clear the circuit, never the thermistor.

Source: public threads, retold. One: lit below 160 ohm, 116 ohm in series by the volts over the potentiometer, the original thermistor no
longer falls that low. Another: 56 ohm lights it and 68 does not; a 1 kohm part stayed above 500 ohm after 15 minutes; with 68 ohm
beside it the lamp lit 20 s after it left the fuel. A third: threshold 850 ohm, a part of about 1.8 kohm cold, confirmed by a new part.
"""

import pytest

from engine.circuit import parallel
from engine.errors import ContradictionError, InputError, RefusedError
from engine.lamp_switch import Trial, bracket, most_watts, series_ohm, thermistor


def halved(threshold_ohm):
    """Trials as the next step asks for them, until the bracket is narrow."""
    trials = ()
    while (ohm := bracket(trials).next_ohm) is not None:
        trials = (*trials, Trial(ohm, ohm < threshold_ohm))
    return trials


@pytest.mark.parametrize("typed", ["reserve lamp dead", "low fuel warning wrong", "fuel light always on"])
def test_the_customers_words_lead_to_the_thermistor_first(kb, typed):
    symptom = kb.find(typed)[0]
    assert symptom.id == "fuel-reserve-lamp" and kb.candidates(symptom.id)[0].sensor == "fuel-reserve-thermistor"


@pytest.mark.parametrize("threshold_ohm", [62.0, 160.0, 850.0])
def test_halving_brackets_the_threshold_in_a_few_resistors(threshold_ohm):
    trials = halved(threshold_ohm)
    found = bracket(trials)
    assert len(trials) <= 7
    assert found.lit_ohm < threshold_ohm <= found.dark_ohm and found.dark_ohm < 1.11 * found.lit_ohm
    # In any order, and with trials that tell nothing new.
    assert bracket(tuple(reversed(trials)) + (Trial(10.0, True),)) == found


def test_56_lights_and_68_does_not():
    found = bracket((Trial(56.0, True), Trial(68.0, False)))
    assert (found.lit_ohm, found.dark_ohm) == (56.0, 68.0)
    assert 56.0 < found.next_ohm < 68.0


def test_a_lamp_lit_above_ohms_at_which_it_was_dark_is_a_contradiction():
    with pytest.raises(ContradictionError, match="let it settle and try both again"):
        bracket((Trial(56.0, False), Trial(68.0, True)))


def test_the_volts_over_the_resistor_give_what_is_in_series():
    # 160 ohm, of 12 V 6.96 V left on it: 116 ohm.
    assert series_ohm(160.0, 6.957, 12.0) == pytest.approx(116.0, abs=0.1)
    with pytest.raises(InputError, match="between 0 and the feed"):
        series_ohm(160.0, 12.6, 12.0)


def test_the_thermistor_is_judged_in_air_and_in_liquid_under_its_own_current():
    found = bracket((Trial(56.0, True), Trial(68.0, False)))
    # The 1 kohm part stayed above 500 ohm after 15 minutes in air: the circuit is in order, the part is not.
    assert thermistor(found, 500.0, 900.0) == "never-lights"
    assert thermistor(found, 50.0, 900.0) == "works"
    assert thermistor(found, 40.0, 50.0) == "never-goes-out"
    # In the gap between lit and dark nobody knows.
    assert thermistor(found, 60.0, 900.0) == "open"
    # The new part of the third: cold 1.8 kohm, hot below 850.
    assert thermistor(bracket((Trial(820.0, True), Trial(870.0, False))), 400.0, 1500.0) == "works"


def test_a_resistor_left_beside_it_only_moves_its_ohms_down():
    found = bracket((Trial(56.0, True), Trial(68.0, False)))
    beside = float(parallel(500.0, 68.0))
    assert beside < found.dark_ohm
    # The same resistor leaves hardly anything between air and liquid: 60 and 63 ohm.
    assert float(parallel(900.0, 68.0)) - beside < 5.0


def test_cold_ohms_against_a_table_judge_nothing(kb):
    refusal = kb.refusal("fuel-reserve-thermistor")
    assert refusal.kind == "signal" and refusal.worked_out == "lamp-switch"
    assert "cold ohms against a table say nothing" in refusal.reason
    assert "bracket by halves" in refusal.instead and "in air and then in liquid" in refusal.instead
    assert kb.curves("fuel-reserve-thermistor") == ()
    with pytest.raises(RefusedError):
        kb.job("fuel-reserve-thermistor", readings=[{"test": "sensor-ohms", "ohms": 1800}])


def test_what_goes_in_its_place_does_not_burn_and_fuel_vapour_is_a_danger(kb):
    # 4 W lamp in series on 12 V: a resistor of 56 ohm never carries more than 12 V can put on it.
    assert most_watts(56.0, 12.0) == pytest.approx(2.57, abs=0.01)
    assert "5 W or more" in kb.refusal("fuel-reserve-thermistor").instead
    assert ("fuel-vapour", "danger") in {(one.id, one.severity) for one in kb.cautions("fuel-reserve-thermistor")}
    assert "body's plug alone" in kb.refusal("fuel-reserve-thermistor").caution
