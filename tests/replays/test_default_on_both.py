"""Owns a retold case: coolant and intake air both show the default on the car, and both sweep on a simulator.

Source: public thread, retold; open. On the simulator 32 to 215 degF are followed and 170 degF stands beyond; on the car both
stand at 170. An older module reads right on the same harness. Ohms and numbers between are arithmetic on the curves.
"""

import pytest

DEFAULT = {"value": 170, "unit": "degF"}
CURVES = {"coolant-temperature": "ntc-3400-20c-coolant", "intake-air-temperature": "ntc-3400-20c-intake-measured"}
MID_OHM = 1200


@pytest.fixture(params=CURVES)
def sensor(request):
    return request.param


@pytest.fixture
def at_default(kb, sensor):
    circuit = {"reference_v": 5.0, "pull_up_ohm": 2490, "curve": CURVES[sensor], "default": DEFAULT}
    return kb.job(sensor, circuit=circuit).record("as-found", shows=170, unit="degF")


@pytest.fixture
def still_default(at_default):
    return at_default.record("substitute", ohm=MID_OHM, shows=170, unit="degF")


def test_the_default_is_not_taken_for_a_temperature(at_default):
    verdict = at_default.verdict()
    assert verdict.state == "open"
    assert verdict.locations["none"] < 0.1
    assert max(verdict.locations.values()) < 0.5


def test_two_numbers_at_once_point_to_what_they_share(kb, sensor):
    assert any(share.what == "return" and {share.sensor, share.partner} == set(CURVES) for share in kb.shares(sensor))


def test_codes_for_both_raise_what_they_share(kb, sensor):
    codes = {"coolant-temperature": "P0118", "intake-air-temperature": "P0113"}
    alone, both = (kb.job(sensor, complaint).verdict().locations["return"] for complaint in ([codes[sensor]], list(codes.values())))
    assert both > 2.5 * alone


def test_an_older_module_that_reads_right_on_the_same_harness_clears_sensor_and_wires(still_default):
    # The comparison is typed in where somebody made it; nobody is sent for a second module.
    assert "other-module" not in [one.test for one in still_default.advice()]
    verdict = still_default.record("other-module", good=False).verdict()
    assert verdict.locations["module"] > still_default.verdict().locations["module"]
    as_before = still_default.record("other-module", good=True).verdict()
    assert as_before.locations["signal"] + as_before.locations["return"] > 0.9


def test_unplugging_teaches_nothing_while_the_default_stands(at_default):
    before, after = at_default.verdict().locations, at_default.record("unplugged", shows=170, unit="degF").verdict().locations
    assert all(after[place] == pytest.approx(before[place], abs=0.05) for place in before)


def test_a_mid_value_is_among_the_first_steps(at_default):
    assert "substitute" in [a.test for a in at_default.advice()[:3]]


def test_a_mid_value_still_at_default_clears_both_sensors(still_default):
    # A simulator that sweeps is no proof against the module's side: it blames both sensors, the trap.
    verdict = still_default.verdict()
    assert verdict.state == "open"
    assert verdict.locations["sensor"] + verdict.locations["plug"] < 0.02
    assert verdict.locations["signal"] + verdict.locations["return"] > 0.8


def test_then_to_the_chassis_instead_of_the_return(still_default):
    first = still_default.advice()[0]
    assert first.test == "substitute-to-chassis"
    assert {"signal", "return"} <= set(first.splits)


def test_right_to_the_chassis_is_the_return(still_default, shown, sensor):
    # The return wire, or the module's own end of it: right at the module's own pins clears the module.
    right = shown(CURVES[sensor], MID_OHM)
    job = still_default.record("substitute-to-chassis", ohm=MID_OHM, shows=right, unit="degF")
    verdict = job.verdict()
    assert verdict.locations["return"] + verdict.locations["module"] > 0.95
    assert verdict.faults[0].id == "return-open"
    assert any({"return", "module"} <= set(step.splits) for step in job.advice())
    verdict = job.record("substitute-at-module", ohm=MID_OHM, shows=right, unit="degF").verdict()
    assert (verdict.state, verdict.location) == ("found", "return")


def test_default_to_the_chassis_too_clears_the_return(still_default):
    verdict = still_default.record("substitute-to-chassis", ohm=MID_OHM, shows=170, unit="degF").verdict()
    assert verdict.state == "open"
    assert verdict.locations["return"] < 0.01
    assert verdict.locations["signal"] + verdict.locations["module"] > 0.9


def test_default_at_the_modules_own_pins_is_its_return_path(still_default, shown, sensor):
    # The harness is off here, and an older module reads right on it: the open return sits inside this module.
    job = still_default.record("substitute-to-chassis", ohm=MID_OHM, shows=shown(CURVES[sensor], MID_OHM), unit="degF")
    verdict = job.record("substitute-at-module", ohm=MID_OHM, shows=170, unit="degF").verdict()
    assert max(verdict.locations, key=verdict.locations.get) == "module"
    assert verdict.locations["module"] > 0.9
    assert verdict.misfit is None
