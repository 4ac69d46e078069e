"""Owns retold low-fuel lamps: a potentiometer finds where the lamp switches and so clears the circuit, never the thermistor.

Source: public threads, retold: lamp below 160 ohm with 116 ohm in series; 56 ohm lights it and 68 does not; threshold 850 ohm against a
part of about 1.8 kohm cold, confirmed by a new part.
"""

import pytest

from engine.errors import RefusedError


@pytest.mark.parametrize("typed", ["reserve lamp dead", "low fuel warning wrong", "fuel light always on"])
def test_the_customers_words_lead_to_the_thermistor_first(kb, typed):
    symptom = kb.find(typed)[0]
    assert symptom.id == "fuel-reserve-lamp" and kb.candidates(symptom.id)[0].sensor == "fuel-reserve-thermistor"


def test_the_threshold_is_bracketed_and_cold_ohms_say_nothing(kb):
    refusal = kb.refusal("fuel-reserve-thermistor")
    assert refusal.kind == "signal" and "cold ohms against a table say nothing" in refusal.reason
    assert "bracket by halves" in refusal.instead and "in air and then in liquid" in refusal.instead


def test_no_table_judges_it(kb):
    assert kb.curves("fuel-reserve-thermistor") == ()
    with pytest.raises(RefusedError):
        kb.job("fuel-reserve-thermistor", readings=[{"test": "sensor-ohms", "ohms": 1800}])


def test_fuel_vapour_is_warned_of_as_a_danger(kb):
    assert ("fuel-vapour", "danger") in {(one.id, one.severity) for one in kb.cautions("fuel-reserve-thermistor")}
    assert "body's plug alone" in kb.refusal("fuel-reserve-thermistor").caution
