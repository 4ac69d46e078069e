"""Owns a retold case: a temperature gauge that knows only full cold and full hot, never between.

Source: public thread, retold: hot at key-on cold, unplugged zero, two senders tried; many resistances in the sender's place gave only
the ends; live data showed -40 of an item the vehicle does not support. Left open: values may have been of the wrong family.
"""

import pytest

FAMILY = {"curve": "gauge-temp-291-22"}


def job_with(kb, trials, **circuit):
    job = kb.job("coolant-temperature-gauge", complaint=["needle-only-ends"], circuit=circuit or FAMILY)
    job = job.record("as-found", shows="above F").record("unplugged", shows="below E")
    for ohm, stands in trials:
        job = job.record("substitute", ohm=ohm, shows=stands)
    return job


def test_kilohms_are_no_sweep_of_this_family(kb):
    """1 k to 10 k are beyond the cold end: that they all read cold condemns nothing."""
    verdict = job_with(kb, ((1000, "below E"), (2200, "below E"), (10000, "below E"))).verdict()
    assert verdict.location is None
    assert verdict.locations["module"] < 0.5


def test_values_worth_dialling_are_of_the_family(kb):
    asked = [one.ohm for one in job_with(kb, ()).advice() if one.test == "substitute"]
    assert asked and all(15 < ohm < 350 for ohm in asked)


@pytest.mark.parametrize("circuit", [FAMILY, {"open_goes": "low"}], ids=["family told", "untold"])
def test_a_flip_inside_the_family_is_the_gauge(kb, circuit):
    trials = ((150, "below E"), (100, "below E"), (75, "above F"), (60, "above F"), (40, "above F"))
    job = job_with(kb, trials, **circuit).record("module-feeds", good=True)
    for ohm, stands in ((100, "below E"), (60, "above F")):
        job = job.record("substitute-at-module", ohm=ohm, shows=stands)
    verdict = job.verdict()
    assert max(verdict.locations, key=verdict.locations.get) == "module"
    assert verdict.faults[0].id == "gauge-flips" or circuit != FAMILY
    if circuit == FAMILY:
        # Where it switches over: between 100 and 75 ohm, which are 38 and 48 % of this family's scale.
        size = verdict.faults[0].estimate
        assert 36.0 < size.low < size.mid < size.high < 50.0


def test_two_senders_with_the_same_needle_clear_the_sender(kb):
    job = job_with(kb, ())
    assert "other-part" not in [one.test for one in job.advice()]
    before, after = job.verdict().locations["sensor"], job.record("other-part", good=True).verdict().locations["sensor"]
    assert after < 0.3 * before


def test_the_feed_is_measured_before_the_gauge_is_condemned(kb):
    flips = job_with(kb, ((150, "below E"), (100, "below E"), (75, "above F"), (60, "above F"), (40, "above F")))
    verdict = flips.verdict()
    assert verdict.state == "open" and "feeds" in verdict.missing_proof
    assert flips.advice()[0].test == "module-feeds"


def test_a_scan_tools_minus_40_is_no_reading_of_a_gauge(kb):
    with pytest.raises(ValueError, match="percent"):
        kb.job("coolant-temperature-gauge").record("as-found", shows=-40, unit="degC")
