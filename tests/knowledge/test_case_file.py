"""Owns the test of case files: a good one round-trips, and each mistake is one sentence with place, value and remedy."""

import copy
import json
import math

import pytest

from engine.errors import ContradictionError, InputError, OhmwrightError, RefusedError

CASE = {
    "format": 1, "sensor": "coolant-temperature", "complaint": ["P0116"],
    "circuit": {"reference_v": 5.0, "pull_up_ohm": 2200, "second_pull_up_ohm": None, "switch_at": None, "open_v": None,
                "short_v": None, "bits": 10,
                "curve": {"quantity": "temperature", "unit": "degC", "points": [[20, 2500], [80, 330]]},
                "low_limit_v": 0.1, "high_limit_v": 4.9, "default": None, "battery_v": 12.6},
    "stand_in": {"kind": "potentiometer", "end_to_end_ohm": 9400, "turns": 1, "watts": 0.2},
    "meter": {"ohm_percent": 0.8, "ohm_digits": 2, "volt_percent": 0.5},
    "surroundings": {"value": 21.0, "unit": "degC"},
    "readings": [{"test": "as-found", "shows": 19, "unit": "degC"}, {"test": "substitute", "ohm": 330, "shows": 61, "unit": "degC"},
                 {"test": "return-ohms", "ohms": 249}]}


def test_a_case_becomes_a_job_and_comes_back(kb):
    job = kb.open_case(CASE)
    assert (job.circuit.source_ohm, job.circuit.open_v, job.circuit.short_v, job.circuit.bits) == (2200, 5.0, 0.0, 10)
    assert job.curves[0][0].points == ((20.0, 2500.0), (80.0, 330.0)) and job.setup.family_weight == 0.0
    assert job.surroundings_c == 21.0 and job.stand_in.end_to_end_ohm == 9400 and job.meter.ohm_percent == 0.8
    assert job.setup.signs == ("implausible",) and job.knowledge == kb.version
    written = json.loads(json.dumps(job.to_dict()))
    assert written["knowledge"] == kb.version and len(written["readings"]) == 3
    assert kb.open_case(written) == job
    assert {name: written[name] for name in CASE if name != "readings"} == {name: CASE[name] for name in CASE if name != "readings"}


def test_the_case_is_left_as_it_was(kb):
    case = copy.deepcopy(CASE)
    job = kb.open_case(case)
    job.to_dict()["circuit"]["bits"] = 12
    assert case == CASE


def test_only_the_sensor_is_needed(kb):
    job = kb.open_case({"sensor": "coolant-temperature"})
    assert job.circuit.source_ohm is job.circuit.open_v is job.circuit.short_v is job.circuit.reference_v is None
    assert sum(weight for _, weight in job.curves) + job.setup.family_weight == pytest.approx(1.0)
    assert len(job.curves) == 6 and len(job.tests) == 27
    assert 40 < len(job.faults) < len(kb.tables.faults)
    assert kb.job("coolant-temperature").setup == job.setup


def test_what_is_known_of_the_circuit_fills_in_the_rest(kb):
    def circuit(**typed):
        return kb.job("coolant-temperature", circuit=typed).circuit
    assert circuit(reference_v=5).open_v == 5.0 and circuit(reference_v=5).short_v is None
    assert circuit(pull_up_ohm="2k2").source_ohm == 2200 and circuit(pull_up_ohm=2200).short_v == 0.0
    raised = circuit(reference_v=5, open_v=4.302, short_v=0.5, pull_up_ohm=3084)
    assert (raised.open_v, raised.short_v, raised.reference_v) == (4.302, 0.5, 5.0)
    assert circuit(default={"value": 176, "unit": "degF"}).default_c == pytest.approx(80.0)
    assert circuit(pull_up_ohm=10000, second_pull_up_ohm=909, switch_at=52).second_source_ohm == 909


def test_a_curve_by_id_and_in_fahrenheit(kb):
    by_id = kb.job("coolant-temperature", circuit={"curve": "ntc-2500-20c-coolant"})
    assert [curve.id for curve, _ in by_id.curves] == ["ntc-2500-20c-coolant"] and by_id.setup.family_weight == 0.0
    points = {"unit": "degF", "points": [[68, 2500], [176, "330"]]}
    (curve, _), = kb.job("coolant-temperature", circuit={"curve": points}).curves
    assert curve.points == ((20.0, 2500.0), (80.0, 330.0))


def test_signs_are_those_of_this_sensor_kind_each_once(kb):
    job = kb.job("intake-air-temperature", complaint=["P0118", "p0113", "shows-minus-40", "intake-air-temperature"])
    # P0118 speaks of the coolant sensor alone, which may share its return wire.
    assert job.setup.signs == ("signal-high", "together return") and job.complaint == ("P0118", "p0113", "shows-minus-40", "intake-air-temperature")


@pytest.mark.parametrize("sensor", ["restraint-circuit", "throttle-position-serial", "knock-sensor"])
def test_refused_kinds_give_no_job_whatever_is_typed(kb, sensor):
    for case in ({"sensor": sensor}, {**CASE, "sensor": sensor}, {**CASE, "sensor": sensor, "circuit": {"pull_up_ohm": "x"}}):
        with pytest.raises(RefusedError) as caught:
            kb.open_case(case)
        assert caught.value.reason and caught.value.instead and caught.value.caution
        assert "2200" not in str(caught.value)


def _with(path, value):
    case = copy.deepcopy(CASE)
    *down, last = path
    place = case
    for step in down:
        place = place[step]
    place[last] = value
    return case


BAD = [
    (("format",), 2, "format", "2", "format 1"), (("format",), True, "format", "true", "format 1"),
    (("sensor",), None, "sensor", "missing", "as text"), (("sensor",), 7, "sensor", "7", "as text"),
    (("sensor",), "toaster", "sensor", "toaster", "coolant-temperature"), (("sensor",), "x" * 10000, "sensor", "xxx", "at most 200"),
    (("extra",), 1, "the case", "extra", "it knows format"), (("complaint",), "P0118", "complaint", "P0118", "a list"),
    (("complaint",), ["P0118"] * 21, "complaint", "a list of 21", "at most 20"), (("complaint",), [3], "complaint[0]", "3", "as text"),
    (("complaint",), ["P9999"], "complaint[0]", "P9999", "listed"), (("complaint",), ["<b>"], "complaint[0]", "<b>", "listed"),
    (("circuit",), [], "circuit", "a list of 0", "an object"), (("circuit", "volts"), 5, "circuit", "volts", "reference_v"),
    (("circuit", "reference_v"), "5", "circuit.reference_v", "5", "volts from 0.5 to 30"),
    (("circuit", "reference_v"), 0, "circuit.reference_v", "0", "volts from"),
    (("circuit", "reference_v"), math.nan, "circuit.reference_v", "nan", "volts from"),
    (("circuit", "battery_v"), math.inf, "circuit.battery_v", "inf", "volts from 6 to 60"),
    (("circuit", "battery_v"), 10**400, "circuit.battery_v", "too large", "volts from"),
    (("circuit", "pull_up_ohm"), -1, "circuit.pull_up_ohm", "-1", "ohms"), (("circuit", "pull_up_ohm"), 0, "circuit.pull_up_ohm", "0", "from 1"),
    (("circuit", "pull_up_ohm"), "2.2 kV", "circuit.pull_up_ohm", "2.2 kV", "9.4k"),
    (("circuit", "pull_up_ohm"), True, "circuit.pull_up_ohm", "True", "ohms"),
    (("circuit", "bits"), 10.5, "circuit.bits", "10.5", "whole number"), (("circuit", "bits"), 64, "circuit.bits", "64", "6 to 24"),
    (("circuit", "default"), "cold", "circuit.default", "cold", "degC as a number"),
    (("circuit", "default"), {"value": 20, "unit": "K"}, "circuit.default.unit", "K", "degC or degF"),
    (("circuit", "default"), -300, "circuit.default", "-300", "-100 to 1500"),
    (("circuit", "curve"), "ntc-9", "circuit.curve", "ntc-9", "ntc-2500-20c-coolant"),
    (("circuit", "curve"), 5, "circuit.curve", "5", "curve id"),
    (("circuit", "curve", "quantity"), "pressure", "circuit.curve.quantity", "pressure", "temperature"),
    (("circuit", "curve", "points"), None, "circuit.curve.points", "missing", "a list"),
    (("circuit", "curve", "points"), [[20, 2500]], "circuit.curve.points", "1 point", "2 to 500"),
    (("circuit", "curve", "points"), [[20, 2500, 1], [80, 330]], "circuit.curve.points[0]", "a list of 3", "a pair"),
    (("circuit", "curve", "points"), [[20, 2500], [20, 330]], "circuit.curve.points", "2 points", "stands once"),
    (("circuit", "curve", "points"), [[20, 2500], [40, 3000], [80, 330]], "circuit.curve.points", "3 points", "all along"),
    (("circuit", "curve", "points"), [["a", 2500], [80, 330]], "circuit.curve.points[0][0]", "a", "a temperature"),
    (("circuit", "curve", "points"), [[20, 2500], [80, math.nan]], "circuit.curve.points[1][1]", "nan", "ohms"),
    (("circuit", "curve", "points"), [[i, 1000 - i] for i in range(501)], "circuit.curve.points", "a list of 501", "at most 500"),
    (("stand_in",), "pot", "stand_in", "pot", "an object"), (("stand_in", "kind"), "trimmer", "stand_in.kind", "trimmer", "decade-box"),
    (("stand_in", "end_to_end_ohm"), 0.01, "stand_in.end_to_end_ohm", "0.01", "from 1"),
    (("stand_in", "turns"), 100, "stand_in.turns", "100", "0.5 to 40"), (("stand_in", "watts"), 0, "stand_in.watts", "0", "0.01 to 500"),
    (("stand_in", "ohms"), [330, -1], "stand_in.ohms[1]", "-1", "ohms"), (("stand_in", "ohms"), [1] * 201, "stand_in.ohms", "a list of 201", "at most 200"),
    (("stand_in",), {"kind": "fixed"}, "stand_in.ohms", "empty", "at least one"),
    (("meter", "ohm_percent"), 90, "meter.ohm_percent", "90", "0 to 20"), (("meter", "brand"), "x", "meter", "brand", "ohm_percent"),
    (("surroundings",), {"unit": "degC"}, "surroundings.value", "None", "a number"),
    (("surroundings", "value"), 9999, "surroundings", "9999", "-100 to 1500"),
    (("surroundings", "scale"), "x", "surroundings", "scale", "value, unit"),
    (("knowledge",), 3, "knowledge", "3", "version"),
    (("readings",), {}, "readings", "an object", "a list"), (("readings",), [{"test": "look", "good": True}] * 201, "readings", "a list of 201", "at most 200"),
    (("readings", 0), "cold", "readings[0]", "cold", "an object"), (("readings", 0), {"shows": 3}, "readings[0].test", "missing", "substitute"),
    (("readings", 0, "test"), "kick", "readings[0].test", "kick", "as-found"), (("readings", 0, "volts"), 3, "readings[0]", "volts", "it knows test"),
    (("readings", 1, "ohm"), "3 furlongs", "readings[1].ohm", "3 furlongs", "ohms"), (("readings", 1, "shows"), "warm", "readings[1].shows", "warm", "did-not-move"),
    (("readings", 1, "shows"), 5000, "readings[1].shows", "5000", "between"), (("readings", 1, "unit"), "K", "readings[1].unit", "K", "degF"),
    (("readings", 2, "ohms"), None, "readings[2]", "without a result", "ohms"), (("readings", 2, "good"), True, "readings[2].good", "True", "takes ohms"),
    (("readings", 2, "at"), 5, "readings[2].at", "5", "takes ohms"), (("readings", 0, "shows"), [5, 1], "readings[0].shows", "[5, 1]", "lower number first"),
]


@pytest.mark.parametrize(("path", "value", "where", "got", "wanted"), BAD, ids=lambda v: str(v)[:30])
def test_each_mistake_is_one_sentence_with_place_value_and_remedy(kb, path, value, where, got, wanted):
    with pytest.raises(InputError) as caught:
        kb.open_case(_with(path, value))
    sentence = str(caught.value)
    assert caught.value.where == where
    assert got in sentence and wanted in sentence, sentence
    assert sentence.endswith(".") and "\n" not in sentence and len(sentence) < 1200


FULL = {"reference_v": 5.0, "pull_up_ohm": 10000, "second_pull_up_ohm": 909, "switch_at": {"value": 125, "unit": "degF"},
        "switch_band": {"value": 9, "unit": "degF"}, "strobed": True, "latched": True, "settle_s": 5,
        "second_instrument": {"open_v": 5.0, "pull_up_ohm": "2k2"}, "default": [40, {"value": 176, "unit": "degF"}]}


def test_the_fields_of_a_switching_input_come_back(kb):
    job = kb.job("coolant-temperature", circuit=FULL)
    circuit = job.circuit
    assert (circuit.switch_at_c, circuit.switch_band_c, circuit.settle_s) == (pytest.approx(51.667, abs=1e-3), 5.0, 5.0)
    assert circuit.strobed is circuit.latched is True
    assert (circuit.second_instrument_v, circuit.second_instrument_ohm) == (5.0, 2200.0)
    assert circuit.default_c == (40.0, pytest.approx(80.0))
    written = json.loads(json.dumps(job.to_dict()))
    assert written["circuit"] == FULL and kb.open_case(written) == job
    plain = kb.job("coolant-temperature", circuit={}).circuit
    assert (plain.switch_band_c, plain.strobed, plain.latched, plain.settle_s, plain.second_instrument_v) == (6.0, False, False, None, None)


def test_a_level_curve_in_percent(kb):
    points = {"quantity": "level", "unit": "percent", "points": [[0, 250], [100, 40]]}
    job = kb.job("fuel-level", circuit={"curve": points, "default": [10, 20]})
    assert job.curves[0][0].quantity == "level" and float(job.curves[0][0].ohm_at(50)) == pytest.approx(145.0)
    assert job.circuit.default_c == (10.0, 20.0) and kb.open_case(job.to_dict()) == job


def test_a_drawer_of_preferred_values(kb):
    job = kb.job("coolant-temperature", stand_in={"kind": "fixed", "series": "E24"})
    # Five decades of 24 values and the last one, IEC 60063.
    assert len(job.stand_in.ohms) == 121 and job.stand_in.ohms[:2] == (10.0, 11.0) and job.stand_in.ohms[-1] == 1e6
    small = kb.job("coolant-temperature", stand_in={"kind": "fixed", "series": "E24", "low_ohm": "1k", "high_ohm": 1500})
    assert small.stand_in.ohms == (1000.0, 1100.0, 1200.0, 1300.0, 1500.0)
    assert kb.open_case(job.to_dict()) == job


def test_readings_of_current_and_of_swapped_leads(kb):
    job = kb.job("coolant-temperature").record("short-circuit-current", signal_ma=5.0)
    job = job.record("sensor-ohms", ohms=2400, ohms_swapped="open", at={"value": 21, "unit": "degC"}, in_circuit=True)
    job = job.record("sensor-sweep", ohms=330, at={"value": 80, "unit": "degC"})
    assert kb.open_case(json.loads(json.dumps(job.to_dict()))) == job
    assert job.to_dict()["readings"][0] == {"test": "short-circuit-current", "signal_ma": 5.0}


DEEP = [
    ({"switch_band": -1}, "circuit.switch_band", "0 to 100"), ({"switch_band": "wide"}, "circuit.switch_band", "degrees"),
    ({"switch_band": {"value": 9, "unit": "K"}}, "circuit.switch_band.unit", "degF"),
    ({"strobed": "yes"}, "circuit.strobed", "true or false"), ({"latched": 1}, "circuit.latched", "true or false"),
    ({"settle_s": -3}, "circuit.settle_s", "seconds from 0"), ({"settle_s": "long"}, "circuit.settle_s", "seconds"),
    ({"second_instrument": 5}, "circuit.second_instrument", "open_v, pull_up_ohm"),
    ({"second_instrument": {"open_v": 5}}, "circuit.second_instrument.pull_up_ohm", "goes with"),
    ({"second_instrument": {"pull_up_ohm": 2200}}, "circuit.second_instrument.open_v", "goes with"),
    ({"second_instrument": {}}, "circuit.second_instrument.open_v", "goes with"),
    ({"second_instrument": {"open_v": 50, "pull_up_ohm": 2200}}, "circuit.second_instrument.open_v", "0.1 to 30"),
    ({"second_instrument": {"volts": 5}}, "circuit.second_instrument", "it knows open_v"),
    ({"default": [80, 40]}, "circuit.default[0]", "below circuit.default[1]"), ({"default": [40]}, "circuit.default", "lowest and the highest"),
    ({"default": [40, "hot"]}, "circuit.default[1]", "degC as a number"), ({"switch_band": 5}, "circuit.switch_at", "goes with circuit.switch_band"),
    ({"curve": "level-0-90"}, "circuit.curve", "of temperature"),
    ({"curve": {"quantity": "level", "points": [[0, 1], [100, 90]]}}, "circuit.curve", "of temperature"),
    ({"curve": {"quantity": "level", "unit": "degC", "points": [[0, 1], [100, 90]]}}, "circuit.curve.unit", "in percent"),
    ({"curve": {"quantity": "level", "points": [[0, 1], [120, 90]]}}, "circuit.curve.points[1][0]", "percent from 0 to 100"),
]


@pytest.mark.parametrize(("circuit", "where", "wanted"), DEEP, ids=str)
def test_each_mistake_in_a_deeper_field_is_one_sentence(kb, circuit, where, wanted):
    with pytest.raises(InputError) as caught:
        kb.job("coolant-temperature", circuit=circuit)
    assert caught.value.where == where and wanted in str(caught.value) and "\n" not in str(caught.value), str(caught.value)


@pytest.mark.parametrize(("stand_in", "where", "wanted"), [
    ({"kind": "fixed", "series": "E25"}, "stand_in.series", "E24"), ({"kind": "potentiometer", "series": "E24"}, "stand_in.series", "kind fixed"),
    ({"kind": "fixed", "series": "E24", "ohms": [330]}, "stand_in.series", "no ohms"), ({"kind": "fixed", "ohms": [330], "low_ohm": 10}, "stand_in.series", "goes with"),
    ({"kind": "fixed", "series": "E24", "low_ohm": 2000, "high_ohm": 1000}, "stand_in.low_ohm", "below stand_in.high_ohm"),
    ({"kind": "fixed", "series": "E24", "low_ohm": "x"}, "stand_in.low_ohm", "ohms"), ({"lead_ohm": -1}, "stand_in.lead_ohm", "0 to 100")])
def test_each_mistake_in_a_drawer_is_one_sentence(kb, stand_in, where, wanted):
    with pytest.raises(InputError) as caught:
        kb.job("coolant-temperature", stand_in=stand_in)
    assert caught.value.where == where and wanted in str(caught.value), str(caught.value)


@pytest.mark.parametrize(("circuit", "where", "other"), [
    ({"second_pull_up_ohm": 909, "pull_up_ohm": 10000}, "circuit.switch_at", "second_pull_up_ohm"),
    ({"switch_at": 52, "pull_up_ohm": 10000}, "circuit.second_pull_up_ohm", "switch_at"),
    ({"second_pull_up_ohm": 909, "switch_at": 52}, "circuit.pull_up_ohm", "second_pull_up_ohm"),
    ({"open_v": 5.5, "reference_v": 5}, "circuit.open_v", "reference_v"),
    ({"short_v": 4.5, "open_v": 4.3}, "circuit.short_v", "open_v"), ({"short_v": 6, "reference_v": 5}, "circuit.short_v", "reference_v"),
    ({"low_limit_v": 4.9, "high_limit_v": 0.1}, "circuit.low_limit_v", "high_limit_v"),
    ({"high_limit_v": 5.2, "reference_v": 5}, "circuit.high_limit_v", "reference_v")])
def test_contradictions_name_both_fields(kb, circuit, where, other):
    with pytest.raises(ContradictionError) as caught:
        kb.job("coolant-temperature", circuit=circuit)
    assert caught.value.where == where and other in str(caught.value)


@pytest.mark.parametrize("case", [None, [], "P0118", 3, {}, {1: 2}, {"sensor": ["coolant-temperature"]},
                                  {"sensor": "coolant-temperature", "circuit": {"curve": {"points": [[[], {}], [{}, []]]}}}])
def test_what_is_no_case_at_all_is_said_so(kb, case):
    with pytest.raises(OhmwrightError) as caught:
        kb.open_case(case)
    assert "\n" not in str(caught.value)


def test_the_order_of_readings_is_kept_and_does_not_matter_to_the_belief(kb):
    turned = {**CASE, "readings": CASE["readings"][::-1]}
    assert kb.open_case(turned).to_dict()["readings"] == turned["readings"]
    assert kb.open_case(turned).verdict().locations == kb.open_case(CASE).verdict().locations
