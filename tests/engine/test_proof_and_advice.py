"""Owns the rules of proof and of advice at the level of whole jobs: what must be seen, what may be asked."""

import pytest

from engine import advice
from engine.stand_in import set_to
from tests.loaded import KB

CIRCUIT = {"reference_v": 5.0, "pull_up_ohm": 2200, "bits": 10,
           "curve": {"quantity": "temperature", "unit": "degC", "points": [[20, 2500], [80, 330]]}}
POTENTIOMETER = {"kind": "potentiometer", "end_to_end_ohm": 9400, "turns": 1, "watts": 0.2}
SURROUNDINGS = {"value": 70, "unit": "degF"}


def a_job(stand_in=POTENTIOMETER, complaint=()):
    return KB.job("coolant-temperature", complaint=complaint, circuit=CIRCUIT, stand_in=stand_in,
                  surroundings=SURROUNDINGS)


def frozen():
    """A number that stays at 80 whatever is done, at the plug and at the module's own pins, with the set-up right."""
    job = a_job().record("check-set-up", good=True).record("as-found", shows=80).record("unplugged", shows=80).record("shorted", shows=80)
    return job.record("substitute-at-module", ohm=330, shows=80).record("substitute-at-module", ohm=2500, shows=80)


def test_a_module_is_not_found_while_its_feeds_are_bad():
    # Feeds and grounds come before a module is condemned; a bad finding is mended and measured again.
    verdict = frozen().record("module-feeds", good=False).verdict()
    assert verdict.state == "open" and verdict.missing_proof == ("feeds",)
    assert frozen().record("module-feeds", good=False).advice()[0].test == "module-feeds"
    assert frozen().record("module-feeds", good=True).verdict().location == "module"


def test_feeds_read_bad_a_second_time_are_not_asked_a_third():
    once = frozen().record("module-feeds", good=False)
    twice = once.record("module-feeds", good=False)
    assert "module-feeds" not in [row.test for row in twice.advice()]
    # Two readings alike are one to the belief, wherever they stand in the list.
    assert twice.verdict().locations == once.verdict().locations
    first = a_job().record("module-feeds", good=False)
    for reading in frozen().readings + (twice.readings[-1],):
        first = first.record(reading.test, **{name: value for name, value in reading.to_dict().items() if name != "test"})
    assert (first.verdict().locations, first.advice()) == (twice.verdict().locations, twice.advice())


def test_a_sensor_is_not_found_before_plug_and_own_ohms_were_seen():
    job = a_job().record("as-found", shows=-40).record("substitute", ohm=330, shows=80)
    job = job.record("sensor-ohms", ohms="open", at=SURROUNDINGS)
    verdict = job.verdict()
    assert verdict.locations["sensor"] > 0.9 and verdict.state == "open"
    assert verdict.missing_proof == ("plug-seen",)
    assert KB.test(job.advice()[0].test).id in ("look", "terminal-fit")
    assert job.record("look", good=True).verdict().state == "found"


def test_one_reading_finds_nothing():
    for shows in (-40, 19, 74, 150):
        assert a_job().record("as-found", shows=shows).verdict().state == "open"


@pytest.mark.parametrize("stand_in", [
    POTENTIOMETER, {"kind": "potentiometer", "end_to_end_ohm": 100}, {"kind": "fixed", "ohms": [1000]},
    {"kind": "fixed", "ohms": [330, 2200, 10000]}, {"kind": "decade-box", "end_to_end_ohm": 1e6}])
def test_every_advised_value_can_be_set(stand_in):
    job = a_job(stand_in).record("as-found", shows=10).record("sensor-ohms", ohms=2400, at=SURROUNDINGS)
    for row in (*a_job(stand_in).advice(), *job.advice()):
        if row.ohm is not None:
            setting = set_to(job.stand_in, job.meter, row.ohm)
            assert setting is not None and setting.ohm == pytest.approx(row.ohm, rel=1e-3)
        if stand_in["kind"] == "fixed":
            assert row.test != "live-number", "fixed resistors cannot be swept"


@pytest.mark.parametrize("complaint", [[], ["P0118"], ["P0116"], ["P0117"]])
def test_everything_in_order_condemns_nothing(complaint):
    job = a_job(complaint=complaint).record("as-found", shows=21).record("unplugged", shows="minimum")
    job = job.record("shorted", shows="maximum").record("substitute", ohm=330, shows=80)
    job = job.record("substitute", ohm=2500, shows=20).record("sensor-ohms", ohms=2400, at=SURROUNDINGS)
    for test in ("look", "terminal-fit", "wiggle"):
        job = job.record(test, good=True)
    verdict = job.record("return-ohms", ohms=0.4).record("plug-volts", signal_to_return_v=5.0).verdict()
    assert verdict.state in ("open", "out-of-reach")
    assert verdict.misfit is None
    assert max(verdict.locations.values()) < 0.8


def test_advice_ends_when_the_fault_is_found():
    job = a_job().record("substitute", ohm=330, shows=61).record("substitute-to-chassis", ohm=330, shows=80)
    job = job.record("return-ohms", ohms=249).record("substitute-at-module", ohm=330, shows=80)
    assert job.verdict().state == "found" and job.advice() == ()


def test_a_reading_that_fits_nothing_is_named():
    job = a_job().record("substitute", ohm=330, shows=80).record("substitute", ohm=2500, shows=20)
    job = job.record("substitute-at-module", ohm=330, shows=-10)
    verdict = job.verdict()
    assert verdict.state == "nothing-fits" and verdict.misfit == 2


def test_a_three_degree_range_is_no_sweep():
    # Only a sweep may stop short of its end: a number between 60 and 63 is as sharp as one between 60 and 63.2.
    told = [a_job().record("substitute", ohm=330, shows=[60, top]).verdict().locations for top in (63.0, 63.2)]
    for name, chance in told[0].items():
        assert chance == pytest.approx(told[1][name], abs=0.02)


def test_a_test_that_proof_will_ask_for_comes_before_an_equal_one():
    # Its own ohms are asked of a sensor before it is condemned, and clear it where it is not: they serve twice.
    steps = [row.test for row in a_job().record("as-found", shows=10).record("unplugged", shows=-40).advice()]
    assert steps.index("sensor-ohms") < steps.index("shorted")


def test_tests_that_split_too_little_a_minute_leave_the_job_out_of_reach(monkeypatch):
    readings = (("as-found", {"shows": 21}), ("shorted", {"shows": 150}), ("terminal-fit", {"good": True}))

    def comes_and_goes():
        job = KB.job("coolant-temperature", complaint=("P0119",), circuit=CIRCUIT, stand_in=POTENTIOMETER,
                     surroundings=SURROUNDINGS)
        for test, typed in readings:
            job = job.record(test, **typed)
        return job

    offered = comes_and_goes()
    assert offered.advice() and offered.verdict().state == "open"
    monkeypatch.setattr(advice, "SPLITS_PER_MINUTE", 0.5)
    left = comes_and_goes()
    assert not left.advice() and left.verdict().state == "out-of-reach"


@pytest.mark.parametrize(("sensor", "readings"), [
    ("fuel-level-gauge", (("as-found", {"shows": "below E"}), ("substitute", {"ohm": 10, "shows": "above F"}))),
    ("throttle-position", (("as-found", {"shows": 100}), ("divide", {"ratio": 0.9, "shows": 97}))),
    ("manifold-pressure", (("as-found", {"shows": 255}), ("divide", {"ratio": 0.9, "shows": 240}))),
    ("coolant-temperature", (("as-found", {"shows": 150}), ("substitute", {"ohm": 20, "shows": 215})))])
def test_nothing_is_expected_beyond_the_ends_of_the_scale(sensor, readings):
    job = KB.job(sensor)
    for test, typed in readings:
        job = job.record(test, **typed)
    scale = job.setup.quantity
    shown = [pair for one in job.verdict().because if one.unit == scale.unit for pair in one.expected.values()]
    shown += [pair for one in job.advice() if one.unit == "degC" for pair in one.expect.values()]
    shown += [(one.estimate.low, one.estimate.high) for one in job.verdict().faults
              if one.estimate and KB.fault(one.id).effect in ("temperature-true", "reading-frozen")]
    assert shown and all(scale.low_end <= low <= high <= scale.high_end for low, high in shown)
