"""Owns retold findings at high-voltage batteries and inverters: no value, and a number there may belong to nothing.

Source: public threads, retold: sensors inside the pack; an inverter's coolant sensor its board never read (confirmed by tracing); a drive
that runs on with its motor sensor unplugged and shows a wildly negative number.
"""

import re

import pytest

from engine.errors import RefusedError

KINDS = ("high-voltage-temperature", "inverter-temperature", "drive-motor-temperature", "charging-inlet-temperature", "high-voltage-current")


@pytest.mark.parametrize("typed", [2000, 10000, 2230, "2k", 0])
@pytest.mark.parametrize("sensor", KINDS)
def test_no_value_whatever_is_typed(kb, sensor, typed):
    with pytest.raises(RefusedError) as caught:
        kb.job(sensor, circuit={"pull_up_ohm": typed or 1, "curve": {"points": [[25, 2000], [50, 773]], "unit": "degC"}},
               readings=[{"test": "sensor-ohms", "ohms": typed}])
    assert not re.search(r"\d", str(caught.value)) and "licensed" in caught.value.caution


@pytest.mark.parametrize("code", ["P0A9D", "P0A9F", "P0A2A", "P0A3C", "P0BCD"])
def test_the_codes_open_no_job_on_the_twelve_volt_sensor_either(kb, code):
    with pytest.raises(RefusedError, match="takes no stand-in"):
        kb.job("battery-temperature", complaint=[code])
    assert not kb.candidates("P0516")[0].refused


def test_a_sensor_nothing_reads_and_a_drive_without_protection_are_told(kb):
    assert "never read" in kb.sensor("inverter-temperature").summary
    assert "run on unprotected" in kb.refusal("drive-motor-temperature").reason
