"""Owns a retold fright: a lead on the wrong terminal of a high-idle input raced the engine until it was switched off.

Source: public thread, retold: 1800 rpm that stayed, the parking brake did not cancel it; event confirmed, cause probably 5 V and return joined.
"""

import pytest

from knowledge.lint_hazards import TORQUE

COMMANDS_TORQUE = ("throttle-position", "accelerator-pedal-position", "hand-throttle", "pedal-position-pulse", "hitch-position", "cruise-switches")


@pytest.mark.parametrize("sensor", COMMANDS_TORQUE)
def test_whatever_commands_torque_says_so_as_a_danger(kb, sensor):
    (caution,) = [one for one in kb.cautions(sensor) if one.id == "torque-input"]
    assert caution.severity == "danger"
    for rule in ("engine off", "wheels chocked", "before key-on", "low stop", "1 kΩ in series", "key off only", "wrong terminal"):
        assert rule in caution.text


@pytest.mark.parametrize("typed", ["revs by itself", "high idle stays on"])
def test_the_event_is_found_in_everyday_words(kb, typed):
    found = [one.id for one in kb.find(typed)][:4]
    assert {"idle-hunts", "races-by-itself"} & set(found)
    assert "hand-throttle" in {one.sensor for one in kb.candidates("races-by-itself")}


def test_the_check_of_the_knowledge_asks_for_that_caution(kb):
    for sensor in kb.tables.sensors:
        said = " ".join((sensor.label, *sensor.words))
        if TORQUE.search(said) and kb.refusal(sensor.id) is None:
            assert "torque-input" in sensor.cautions, sensor.id
