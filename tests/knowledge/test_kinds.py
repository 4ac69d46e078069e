"""Owns the test of the sensor kinds: each opens a job with a dial sheet, in the words and with the faults of its circuit."""

import re
from dataclasses import replace

import pytest

from engine.dial_sheet import dial_sheet
from engine.errors import InputError
from knowledge import build
from tests.loaded import KB

THREE_WIRE = [sensor.id for sensor in KB.tables.sensors if build.circuit_kind(KB.graph, sensor.id).three_wire]
TAKEN = [sensor.id for sensor in KB.tables.sensors if KB.refusal(sensor.id) is None and sensor.id not in THREE_WIRE]
ONE_WIRE = [id for id in TAKEN if KB.sensor(id).circuit_kind == "one-wire-case-grounded"]
# What two or one wires can have wrong, a name each; those of a level or a held display apart.
PAIRS = {"plug-and-splice-wet", "plug-corroded-wet", "sensor-drifted-plug-ohms", "sensor-wrong-plug-ohms", "sensor-cracked",
         "harness-chafed", "harness-pulled", "supply-low-ground-raised"}


def fault_ids(sensor, **circuit):
    return {fault.id for fault in KB.job(sensor, circuit=circuit).faults}


@pytest.mark.parametrize("id", TAKEN)
def test_every_kind_opens_a_job_and_gives_a_dial_sheet(id):
    sensor = KB.sensor(id)
    for row in KB.inputs(id):
        circuit = {**build.input_fields(row), "curve": KB.curves(id)[0].id}
        job = KB.job(id, circuit=circuit, stand_in={"kind": "fixed", "series": "E24", "low_ohm": 1})
        assert replace(job.setup.circuit, pointer=False) == build.input_circuit(row)
        assert job.setup.circuit.pointer == (sensor.quantity == "gauge")
        middle = (sensor.low_c + sensor.high_c) / 2
        sheet = dial_sheet(job.circuit, job.curves[0][0], job.stand_in, job.meter, (middle, sensor.high_c))
        assert [line.ohm > 0 for line in sheet] == [True, True]
        assert KB.open_case(job.to_dict()) == job
    assert {fault.location for fault in job.faults} == {"sensor", "plug", "signal", "return", "supply", "module", "none", "set-up"}
    assert sum(weight for _, weight in KB.job(id).setup.curves) + KB.job(id).setup.family_weight == pytest.approx(1.0)


@pytest.mark.parametrize("id", TAKEN)
def test_every_kind_has_words_inputs_curves_cautions_and_a_code_or_symptom(id):
    sensor = KB.sensor(id)
    assert len(sensor.words) >= 4 and KB.inputs(id) and KB.curves(id) and sensor.assumed_input in {row.id for row in KB.inputs(id)}
    assert all((curve.quantity == "level") == sensor.in_percent for curve in KB.curves(id))
    assert KB.cautions(id) and sensor.key_state and len(sensor.summary) > 40
    assert any(row.sensor == id for row in KB.tables.implications)


@pytest.mark.parametrize(("typed", "first"), [
    ("intercooler temperature", "charge-air-temperature"), ("EGT", "exhaust-gas-temperature"), ("Pt200", "exhaust-gas-temperature-pt200"),
    ("ATF temperature", "transmission-fluid-temperature"), ("CHT", "cylinder-head-temperature"), ("in-car temperature", "cabin-temperature"),
    ("fuel sender", "fuel-level"), ("boat engine temperature", "coolant-temperature-one-wire"), ("battery tray", "battery-temperature"),
    ("HV battery temperature", "high-voltage-temperature"), ("sump temperature", "engine-oil-temperature"),
    ("diesel temperature", "fuel-temperature"), ("tractor oil temperature", "oil-temperature-one-wire")])
def test_everyday_names_find_their_kind(typed, first):
    assert next(entry.id for entry in KB.find(typed) if entry.kind == "sensor") == first


def test_all_published_curves_and_inputs_belong_to_a_kind():
    assert {row.curve for row in KB.tables.sensor_curves} == {row.id for row in KB.tables.curves}
    assert {row.input for row in KB.tables.sensor_inputs} == {row.id for row in KB.tables.inputs}


@pytest.mark.parametrize("code", ["P0A9D", "P0A9E", "P0A9F"])
def test_a_high_voltage_code_ends_in_a_refusal_and_a_12_volt_one_does_not(code):
    (candidate,) = KB.candidates(code)
    assert candidate.refused and "licensed" in KB.refusal(candidate.sensor).caution
    assert KB.candidates("P0516")[0].sensor == "battery-temperature" and not KB.candidates("P0516")[0].refused


# Faults and what they need of circuit or kind.

def test_a_second_pull_up_can_be_dead_only_where_there_is_one():
    assert "switching-dead" not in fault_ids("coolant-temperature", pull_up_ohm=2200)
    assert "switching-dead" in fault_ids("coolant-temperature", pull_up_ohm=10000, second_pull_up_ohm=909, switch_at=52)


def test_a_number_is_held_only_where_the_display_holds_it():
    assert "number-held" in fault_ids("ambient-temperature")
    assert all("number-held" not in fault_ids(id) for id in TAKEN if id != "ambient-temperature")


@pytest.mark.parametrize("id", TAKEN)
def test_the_return_is_a_wire_or_a_body(id):
    job = KB.job(id)
    wire = {fault for fault in fault_ids(id) if fault.startswith("return-")}
    body = {fault for fault in fault_ids(id) if fault.startswith(("body-", "sender-ground-"))}
    assert job.setup.case_grounded == (id in ONE_WIRE or job.circuit.pointer) == bool(body) == (not wire)
    assert len(wire | body) == 4


def test_only_a_falling_temperature_sensor_can_be_a_rising_one_by_mistake():
    assert "sensor-rising" in fault_ids("coolant-temperature")
    for id in ("exhaust-gas-temperature-pt200", "fuel-level"):
        assert "sensor-rising" not in fault_ids(id)


def test_a_level_has_faults_of_its_own():
    level = fault_ids("fuel-level")
    assert {"level-true", "level-frozen"} <= level
    assert not level & {"wrong-unit", "reading-true", "reading-frozen", "unsupported-item", "sensor-self-heating"}
    assert KB.job("fuel-level").setup.quantity.unit == "percent"


@pytest.mark.parametrize("id", ["coolant-temperature", "coolant-temperature-one-wire", "fuel-level"])
def test_pairs_carry_two_effects_and_name_both(id):
    # The volts behind a second feed are its second grade, not another fault beside it.
    pairs = {fault.id: fault for fault in KB.job(id).faults if fault.also is not None and fault.also[0] != "other-supply-v"}
    assert set(pairs) == PAIRS - ({"harness-pulled"} if id in ONE_WIRE else set())
    for fault in pairs.values():
        effect, low, high, unit = fault.also
        assert low < high and unit in ("ohm", "V") and effect != fault.effect
        assert re.search(r"\band\b|:", fault.label)


def test_set_up_mistakes_are_all_there():
    found = {fault.effect for fault in KB.job("ambient-temperature").faults if fault.location == "set-up"}
    assert found == {"unit-mistaken", "kilohm-mistaken", "stand-in-beside", "wrong-legs", "lead-off", "key-off", "stand-in-moved",
                     "too-soon", "reading-frozen", "shown-offset"}


def test_every_fault_has_a_repair_with_time_price_and_proof():
    for fault in KB.tables.faults:
        action = KB.action(fault.id)
        assert len(action.repair) > 20 and len(action.proof) > 15 and action.minutes > 0 and action.price >= 0


# Tests in the words of the circuit.

@pytest.mark.parametrize("id", ONE_WIRE)
def test_a_one_wire_sender_is_never_asked_for_a_return_pin(id):
    for test in KB.tests(id):
        text = KB.test(test.id, id)
        said = " ".join((*text.hand, text.connect, text.label))
        assert not re.search(r"return pin(?!\))", said.replace("it has no return pin", "")), (test.id, said)


@pytest.mark.parametrize("id", TAKEN)
def test_every_test_says_what_the_hand_does(id):
    for test in KB.tests(id):
        text = KB.test(test.id, id)
        assert len(text.hand) >= 2 and text.connect and text.key and text.proves
    plain = KB.test("substitute")
    assert plain == KB.test("substitute", "coolant-temperature") and KB.test("substitute", ONE_WIRE[0]) != plain


@pytest.mark.parametrize("test", ["live-number", "unplugged", "shorted", "substitute", "substitute-to-chassis", "substitute-at-module",
                                  "substitute-sensor-ohms"])
@pytest.mark.parametrize("id", ["coolant-temperature", "coolant-temperature-one-wire"])
def test_substitution_clears_codes_first_and_waits(test, id):
    said = " ".join(KB.test(test, id).hand).casefold()
    assert "clear codes" in said and "key off 30 s" in said and "settle" in said


def test_bridging_and_dialling_wait_for_the_pins():
    assert "ammeter-fused" in {caution.id for caution in KB.test("short-circuit-current").cautions}
    assert "find-pins has passed" in KB.test("short-circuit-current").hand[0]
    assert KB.test("short-circuit-current").cautions[0].severity == "danger"


def test_a_level_refuses_what_cannot_be_done_with_it():
    tests = {test.id for test in KB.tests("fuel-level")}
    assert not tests & {"sensor-sweep", "compare-cold"} and "short-circuit-current" in tests


def test_the_sweep_brings_the_part_to_80_degrees():
    (sweep,) = [test for test in KB.tests("coolant-temperature") if test.id == "sensor-sweep"]
    assert (sweep.measures, sweep.at_c, sweep.needs) == ("sensor-ohms", 80.0, "at")
    (current,) = [test for test in KB.tests("coolant-temperature") if test.id == "short-circuit-current"]
    assert current.unit == "mA" and "signal_ma" in current.takes


# What a code needs, what a sensor shares.

def test_what_a_code_needs_to_set_is_said_where_it_is_published():
    assert "warmer than 0" in KB.enable("P0118") and "colder than 50" in KB.enable("p0117")
    assert "241 km" in KB.enable("P0461") and KB.enable("P0329") == KB.enable("shows-minus-40") == ""
    with pytest.raises(InputError):
        KB.enable("P9999")
    for code in KB.tables.codes:
        assert not code.enable or KB.source(code.enable_source).citation


def test_two_in_one_housing_say_so_from_both_sides():
    for one, other in (("fuel-level", "fuel-temperature"), ("coolant-temperature", "coolant-temperature-one-wire")):
        assert {share.sentence for share in KB.shares(one)} & {share.sentence for share in KB.shares(other)}
    assert any(share.what == "housing" and "air meter" in share.sentence for share in KB.shares("intake-air-temperature"))


@pytest.mark.parametrize(("id", "caution"), [
    ("exhaust-gas-temperature", "hot-exhaust"), ("coolant-temperature-one-wire", "starts-by-itself"),
    ("oil-temperature-one-wire", "bilge-vapour"), ("fuel-level", "fuel-vapour"), ("battery-temperature", "battery-acid"),
    ("coolant-temperature", "fan-may-start"), ("fuel-temperature", "high-pressure-fuel"), ("transmission-fluid-temperature", "vehicle-may-move")])
def test_cautions_stand_where_the_hand_acts(id, caution):
    (found,) = [one for one in KB.cautions(id) if one.id == caution]
    assert found.severity == "danger"
