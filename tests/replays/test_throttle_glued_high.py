"""Owns a retold case: a throttle signal near 5 V with any sensor.

Source: public thread, retold; open, with the expert's rule: supply 5.0 V, return 0.2 V, signal 0.5 to 4.5 V at the sensor; a
broken signal wire lets the module's pull-up show 5.0 V. Both volts near 5 at the sensor: the return is open.
"""

import pytest


@pytest.fixture
def glued(kb):
    return kb.job("throttle-position", ["P0123"]).record("as-found", shows=100)


def test_right_volts_at_the_sensor_and_5_on_the_reader_is_the_signal_wire(glued):
    verdict = glued.record("signal-volts", signal_to_return_v=0.7, supply_to_return_v=5.0).verdict()
    assert verdict.locations["signal"] > 0.85
    assert verdict.learned["pulled_up"].mid > 0.9


def test_5_at_the_sensor_too_leaves_the_return_side_and_asks_for_its_volts(glued):
    job = glued.record("signal-volts", signal_to_battery_v=4.98, supply_to_battery_v=5.0)
    verdict = job.verdict()
    assert verdict.state == "open" and verdict.locations["module"] < 0.02
    assert {"return-drop", "return-ohms", "divide"} & {one.test for one in job.advice()[:4]}
    assert job.record("return-drop", return_to_battery_v=4.97).verdict().locations["return"] > 0.95
    # The return is good: a wiper, a track or a contact at the sensor is left, and no wire.
    assert job.record("return-drop", return_to_battery_v=0.01).verdict().locations["return"] < 0.02


def test_an_open_plug_without_volts_between_supply_and_return_is_the_return_wire(kb, glued):
    # 5 V from the supply pin to battery negative and next to nothing to the return pin: only the meter joins the two.
    job = glued.record("plug-volts", supply_to_return_v=0.05, supply_to_battery_v=5.0)
    verdict = job.verdict()
    assert verdict.location == "return" and verdict.locations["return"] > 0.95
    # Nothing to either is the supply.
    dead = kb.job("throttle-position", ["P0122"]).record("plug-volts", supply_to_return_v=0.02, supply_to_battery_v=0.03).verdict()
    assert dead.location == "supply"


def test_a_second_sensor_with_the_same_number_clears_the_sensor(glued):
    before, after = glued.verdict().locations["sensor"], glued.record("other-part", good=True).verdict().locations["sensor"]
    assert after < 0.3 * before


def test_two_sensors_alike_do_not_hide_a_signal_rubbed_into_the_supply(glued):
    job = glued.record("unplugged", shows=100, signal_to_battery_v=5.01)
    job = job.record("divide", ratio=0.3, shows=98, signal_to_return_v=4.9, supply_to_return_v=5.0)
    verdict = job.verdict()
    assert verdict.locations["signal"] + verdict.locations["plug"] > 0.9
