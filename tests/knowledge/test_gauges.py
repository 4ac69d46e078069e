"""Owns the test of what is known of gauges: families with their direction as a fact, and what several complaints share."""

import pytest

from engine.errors import ContradictionError, InputError
from knowledge.gauges import open_end

GAUGES = ("fuel-level-gauge", "coolant-temperature-gauge", "oil-pressure-gauge")


def test_direction_is_a_fact_of_its_own_for_every_family(kb):
    families = {row.curve: row for row in kb.tables.sender_families}
    assert set(families) == {row.id for row in kb.tables.curves if row.quantity == "level"}
    for id, row in families.items():
        assert row.open_goes == open_end(kb.curve(id)), id
        assert row.contradicts is None or families[row.contradicts].contradicts == id


def test_sources_that_contradict_each_other_both_stand(kb):
    pairs = {(row.curve, row.contradicts) for row in kb.tables.sender_families if row.contradicts}
    assert {("level-40-250", "level-250-40"), ("level-240-33", "level-33-240")} <= pairs
    for one, other in pairs:
        assert kb.curve_row(one).warning and kb.curve_row(other).warning
        assert open_end(kb.curve(one)) != open_end(kb.curve(other))


@pytest.mark.parametrize("goes", ["low", "high"])
def test_which_way_open_goes_leaves_the_families_that_go_so(kb, goes):
    job = kb.job("fuel-level-gauge", circuit={"open_goes": goes})
    assert job.curves and all(open_end(curve) == goes for curve, _ in job.curves)
    assert len(job.curves) < len(kb.curves("fuel-level-gauge"))


def test_open_goes_is_for_gauges_and_agrees_with_a_curve_typed(kb):
    with pytest.raises(InputError, match="low or high"):
        kb.job("fuel-level-gauge", circuit={"open_goes": "up"})
    with pytest.raises(InputError, match="on a gauge"):
        kb.job("fuel-level", circuit={"open_goes": "low"})
    with pytest.raises(ContradictionError, match="goes low with the plug open"):
        kb.job("fuel-level-gauge", circuit={"open_goes": "high", "curve": "level-240-33"})


@pytest.mark.parametrize("id", GAUGES)
def test_a_gauge_has_faults_of_its_own_and_none_of_a_module(kb, id):
    faults = {fault.id: fault for fault in kb.job(id).faults}
    assert {"sender-dead-spot", "gauge-wire-open", "sender-ground-poor", "gauge-supply-high", "gauge-flips"} <= set(faults)
    said = " ".join(fault.label for fault in faults.values())
    assert "5 V too" not in said and "input resistor" not in said and "engine block lifted" not in said
    assert {fault.rail for fault in faults.values()} == {"", "supply", "return", "cluster"}


@pytest.mark.parametrize("id", GAUGES)
def test_a_gauge_is_never_swept_with_a_potentiometer(kb, id):
    tests = {test.id for test in kb.tests(id)}
    assert "other-gauge" in tests and not tests & {"live-number", "short-circuit-current", "second-reader"}
    for test in tests - {"other-gauge", "check-set-up", "terminal-fit"}:
        said = " ".join(kb.test(test, id).hand).casefold()
        assert "live data" not in said and "potentiometer" not in said and "clear codes" not in said, test
    cautions = {caution.id: caution for caution in kb.cautions(id)}
    assert cautions["gauge-current"].severity == "danger" and "0.55 A" in cautions["gauge-current"].text


def test_a_complaint_about_another_gauge_of_the_cluster_speaks_for_what_they_share(kb):
    alone = kb.job("fuel-level-gauge", complaint=["needle-wrong-fuel"])
    both = kb.job("fuel-level-gauge", complaint=["needle-wrong-fuel", "needle-wrong-temperature"])
    assert both.setup.signs == ("implausible", "together cluster supply")

    def shared(job):
        return sum(fault.p for fault in job.verdict().faults if kb.fault(fault.id).rail in ("supply", "cluster"))
    assert shared(both) > 0.5 > 2 * shared(alone)


def test_a_complaint_of_another_vehicle_part_shares_nothing(kb):
    job = kb.job("fuel-level-gauge", complaint=["needle-wrong-fuel", "P0118"])
    assert job.setup.signs == ("implausible",)


def test_two_temperatures_on_one_return_speak_for_the_return(kb):
    one = kb.job("coolant-temperature", complaint=["P0118"])
    two = kb.job("coolant-temperature", complaint=["P0118", "P0113"])
    assert two.verdict().locations["return"] > 3 * one.verdict().locations["return"]


def test_what_should_be_there_counts_for_a_gauge_in_percent(kb):
    assert kb.job("fuel-level-gauge", surroundings={"value": 50, "unit": "percent"}).surroundings_c == 50.0
    assert kb.job("fuel-level-gauge", surroundings={"value": 20, "unit": "degC"}).surroundings_c is None
