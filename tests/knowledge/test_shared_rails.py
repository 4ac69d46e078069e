"""Owns the test of shared rails of three-wire kinds: two complaints at once speak for what the two sensors share."""

import pytest

from tests.loaded import KB


@pytest.mark.parametrize(("sensor", "code", "other", "location"), [
    ("throttle-position", "P0122", "P0107", "supply"), ("throttle-position", "P0123", "P0108", "return"),
    ("manifold-pressure", "P0107", "P0192", "supply"), ("engine-oil-pressure", "P0522", "P0532", "supply")])
def test_a_second_low_or_high_signal_on_the_rail_speaks_for_the_rail(sensor, code, other, location):
    alone = KB.job(sensor, complaint=[code]).verdict().locations
    both = KB.job(sensor, complaint=[code, other]).verdict().locations
    assert both[location] > 1.4 * alone[location] and both[location] == max(both.values())
    # The sensor itself may be what drags the rail down; its signal wire is not.
    assert both["signal"] < 0.6 * alone["signal"]


def test_a_complaint_about_another_rail_changes_nothing():
    alone = KB.job("throttle-position", complaint=["P0122"]).verdict().locations
    assert KB.job("throttle-position", complaint=["P0122", "P0538"]).verdict().locations == alone


def test_what_is_shared_is_said_from_both_sides():
    for one, other in (("throttle-position", "manifold-pressure"), ("boost-pressure", "engine-oil-pressure")):
        said = {share.what for share in KB.shares(one)} & {share.what for share in KB.shares(other)}
        assert {"supply", "return"} <= said
