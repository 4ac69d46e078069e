"""Owns the test of the three-wire sensor kinds: each opens a job with a dial sheet, with the dangers said and the fields checked."""

import pytest

from engine.divide_sheet import divide_sheet
from engine.errors import InputError
from knowledge import build
from tests.loaded import KB

KINDS = [sensor.id for sensor in KB.tables.sensors if build.circuit_kind(KB.graph, sensor.id).three_wire]
TORQUE = ("throttle-position", "accelerator-pedal-position")


@pytest.mark.parametrize("id", KINDS)
def test_every_kind_opens_a_job_and_gives_a_dial_sheet_on_each_of_its_lines(id):
    sensor = KB.sensor(id)
    for line in KB.lines(id):
        job = KB.job(id, circuit={"line": line.id}, stand_in={"end_to_end_ohm": 10000})
        low, high = sorted((float(line.value(0.05)), float(line.value(0.95))))
        values = [value for value in (sensor.low_c, (sensor.low_c + sensor.high_c) / 2, sensor.high_c) if low <= value <= high]
        assert values
        for row in divide_sheet(job.circuit, line, job.stand_in, job.meter, values, job.setup.quantity):
            assert 0.0 <= row.ratio <= 1.0 and row.reach is not None and row.plug_v_band[0] <= row.plug_v <= row.plug_v_band[1]
        assert KB.open_case(job.to_dict()) == job
    job = KB.job(id)
    assert {fault.location for fault in job.faults} == {"sensor", "plug", "signal", "return", "supply", "module", "none", "set-up"}
    assert sum(weight for _, weight in job.setup.three_wire.lines) + job.setup.three_wire.family_weight == pytest.approx(1.0)


@pytest.mark.parametrize("id", KINDS)
def test_every_kind_has_words_cautions_and_a_code_or_symptom(id):
    sensor = KB.sensor(id)
    assert len(sensor.words) >= 4 and KB.cautions(id) and sensor.key_state and len(sensor.summary) > 40
    assert any(row.sensor == id for row in KB.tables.implications)
    assert {"never-to-the-rail", "stop-above-supply"} <= {one.id for one in KB.cautions(id)}


@pytest.mark.parametrize("id", TORQUE)
def test_what_commands_torque_says_so_first(id):
    """Public thread, retold: a stand-in clipped to a running vehicle raised its idle and held it there."""
    first = KB.cautions(id)[0]
    said = " ".join(one.text for one in KB.cautions(id) if one.severity == "danger")
    assert first.severity == "danger"
    for wanted in ("engine off", "wheels chocked", "Connect before key-on", "low stop first", "key off only"):
        assert wanted in said


@pytest.mark.parametrize("id", KINDS)
def test_nothing_bridges_the_pins_and_every_divider_has_its_resistor(id):
    tests = {kind.id: kind for kind in KB.tests(id)}
    assert not {"shorted", "substitute", "short-circuit-current"} & set(tests)
    for name, kind in tests.items():
        assert kind.pins == 3
        if kind.element == "divider" and name in ("divide", "substitute-to-chassis", "live-number"):
            words = KB.test(name, id)
            assert "1 kohm" in words.connect and "never-to-the-rail" in {one.id for one in words.cautions}
    assert tests["unplugged"].element == "open" and tests["supply-volts"].element == "sensor"


def test_an_output_stage_is_never_swept_or_measured_in_ohms():
    tests = {kind.id for kind in KB.tests("manifold-pressure")}
    assert "barometer" in tests and not {"sensor-sweep", "sensor-ohms", "other-stop"} & tests
    assert "never the element" in next(kind for kind in KB.tables.circuit_kinds if kind.id == "active-three-wire").summary


@pytest.mark.parametrize(("circuit", "field"), [
    ({"pull": "sideways"}, "circuit.pull"), ({"pull_up_ohm": 1000}, "circuit"), ({"line": "no-such-line"}, "circuit.line"),
    ({"line": {"points": [[0.1, 0]]}}, "line.points"), ({"line": "map-10-105"}, "circuit.line"), ({"line": {"points": [[0.1]]}}, "circuit.line.points[0]"),
    ({"low_limit_v": 4.0, "high_limit_v": 1.0}, "circuit.low_limit_v"), ({"input_ohm": -5}, "circuit.input_ohm"),
    ({"default": [5, 1]}, "circuit.default[0]"), ({"line": {"unit": "kPa", "points": [[0.1, 0], [0.9, 100]]}}, "circuit.line.unit")])
def test_a_field_that_cannot_be_is_named_in_one_sentence(circuit, field):
    with pytest.raises(InputError) as caught:
        KB.job("throttle-position", circuit=circuit)
    assert caught.value.where == field


@pytest.mark.parametrize(("test", "typed", "field"), [
    ("divide", {"shows": 50}, "readings[0].ratio"), ("divide", {"shows": 50, "ratio": 1.5}, "readings[0].ratio"),
    ("divide", {"shows": 50, "ratio": 0.5, "ohm": 500}, "readings[0].ohm"), ("as-found", {"shows": 20, "unit": "degC"}, "readings[0].unit"),
    ("supply-volts", {"supply_to_return_v": 500}, "readings[0].supply_to_return_v"), ("shorted", {"shows": 1}, "readings[0].test"),
    ("return-ohms", {"between": [["a", "b"]]}, "readings[0].between")])
def test_a_reading_that_cannot_be_is_named_in_one_sentence(test, typed, field):
    with pytest.raises(InputError) as caught:
        KB.job("throttle-position").record(test, **typed)
    assert caught.value.where == field


def test_a_pressure_may_be_typed_in_the_unit_it_was_read_in():
    jobs = [KB.job("manifold-pressure", circuit={"line": "map-20-250"}).record("as-found", shows=shows, unit=unit)
            for shows, unit in ((100.0, "kPa"), (1000.0, "mbar"), (1.0, "bar"), (14.503773773, "psi"))]
    chances = [job.verdict().locations for job in jobs]
    for other in chances[1:]:
        # The last digit of a conversion moves samples a little.
        assert other == pytest.approx(chances[0], abs=1e-3)


def test_a_level_of_another_sensor_says_nothing_of_a_position():
    cold = KB.job("throttle-position", surroundings={"value": 21, "unit": "degC"})
    assert cold.surroundings_c is None
    assert KB.job("manifold-pressure", surroundings={"value": 1, "unit": "bar"}).surroundings_c == pytest.approx(100.0)


def test_several_codes_on_one_rail_point_to_the_rail_before_any_measuring():
    one, both = KB.job("throttle-position", ["P0122"]), KB.job("throttle-position", ["P0122", "P0107"])
    rail = [sum(fault.p for fault in job.verdict().faults if fault.id in ("three-supply-dragged", "track-drags-supply")) for job in (one, both)]
    assert rail[1] > 2.0 * rail[0]
    assert {share.what for share in KB.shares("throttle-position") if "manifold-pressure" in (share.sensor, share.partner)} == {"supply", "return"}
