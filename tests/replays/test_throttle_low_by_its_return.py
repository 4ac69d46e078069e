"""Owns a retold case: a throttle signal that is low at the plug because its return is bad.

Source: public thread, retold; near confirmed. 1.73 V from supply to return pin, 0.29 V closed and 1.08 V open from signal to
return, 5.0 V from supply pin to battery negative; with the return jumped to battery negative 0.85 V closed and nearly 5 V
open. Shares are arithmetic on those: 0.29/1.73 and 0.85/5.0 are both 0.17.
"""

import pytest

OPEN = {"value": 100, "unit": "percent"}


@pytest.fixture
def four_numbers(kb):
    job = kb.job("throttle-position").record("supply-volts", supply_to_return_v=1.73, supply_to_battery_v=5.0)
    return job.record("signal-volts", signal_to_return_v=0.29).record("signal-volts", signal_to_return_v=1.08, at=OPEN)


def test_the_first_four_numbers_say_return(four_numbers):
    verdict = four_numbers.verdict()
    assert max(verdict.locations, key=verdict.locations.get) == verdict.location == "return"
    assert verdict.locations["return"] > 0.95
    assert verdict.locations["supply"] < 0.01 and verdict.locations["sensor"] < 0.02
    ohms = next(fault for fault in verdict.faults if fault.id == "three-return-ohms")
    assert ohms.estimate.low > 1000


def test_the_share_was_right_all_along_and_a_clean_ground_shows_it(kb):
    assert 0.29 / 1.73 == pytest.approx(0.85 / 5.0, abs=0.003)
    job = kb.job("throttle-position", circuit={"line": "position-absolute"})
    job = job.record("supply-volts", supply_to_return_v=1.73, supply_to_battery_v=5.0).record("divide", ratio=0.17, shows=72)
    right = job.record("substitute-to-chassis", ratio=0.17, shows=17)
    assert right.verdict().location == "return" and right.verdict().locations["return"] > 0.95


def test_the_module_sees_high_where_the_local_meter_sees_low(kb):
    job = kb.job("throttle-position", ["P0123"], circuit={"line": "position-absolute"})
    job = job.record("supply-volts", supply_to_return_v=1.73, supply_to_battery_v=5.0)
    # 5.0 - 1.73 + 0.29 V at the module's own ground.
    high = job.record("as-found", shows=71, signal_to_return_v=0.29)
    assert high.verdict().locations["return"] > 0.9
    assert high.verdict().misfit is None
