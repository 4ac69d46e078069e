"""Owns two retold cases: three resistors that prove a fuel gauge, and five test points made from three.

Source: public threads, retold. Family 240 ohm empty, 103 half, 33 full. One: 33, 100 and 233 (33 + 100 + 100) ohm read full, half
and empty; the sender had 320 ohm, more than its own end. Other: stuck at 3/4 while 110 gallons went in; unplugged it went empty;
33, 103 and 240, then 68.75, 133 and 253 ohm in series and side by side.
"""

import pytest

from engine.kit import test_points, values

FAMILY = {"curve": "level-240-33"}
KIT = {"kind": "fixed", "ohms": [33, 100, 100]}


@pytest.fixture
def proven(kb):
    job = kb.job("fuel-level-gauge", complaint=["fuel-shows-empty"], circuit=FAMILY, stand_in=KIT)
    job = job.record("as-found", shows="E")
    for ohm, stands in ((33, "F"), (100, "1/2"), (233, "E")):
        job = job.record("substitute", ohm=ohm, shows=stands)
    return job


def test_three_right_values_clear_wire_ground_feed_and_gauge(proven):
    chances = proven.verdict().locations
    assert sum(chances[place] for place in ("signal", "return", "supply", "module")) < 0.05
    assert chances["sensor"] + chances["plug"] + chances["none"] > 0.9


def test_a_sender_beyond_its_own_end_is_found(proven):
    verdict = proven.record("sensor-ohms", ohms=320, at={"value": 50, "unit": "percent"}).record("look", good=True).verdict()
    assert verdict.location == "sensor" and verdict.state == "found"


def test_without_the_family_told_the_sender_leads_too(kb):
    job = kb.job("fuel-level-gauge", complaint=["fuel-shows-empty"], stand_in=KIT).record("as-found", shows="E")
    for ohm, stands in ((33, "F"), (100, "1/2"), (233, "E")):
        job = job.record("substitute", ohm=ohm, shows=stands)
    verdict = job.record("sensor-ohms", ohms=320, at={"value": 50, "unit": "percent"}).verdict()
    assert max(verdict.locations, key=verdict.locations.get) == "sensor"
    low, high = verdict.learned["curve_ohm_0"], verdict.learned["curve_ohm_100"]
    assert low.mid == pytest.approx(240, rel=0.15) and high.mid < 60


def test_the_kit_makes_the_test_points_of_the_thread():
    made = [round(one.ohm, 2) for one in values((33.0, 100.0, 220.0))]
    assert {68.75, 133.0, 253.0} <= set(made)


def test_five_points_spread_over_the_scale(kb):
    points = test_points(kb.curve("level-240-33"), (33.0, 103.0, 240.0))
    assert len(points) == 5
    assert points[0].percent < 10 and points[-1].percent > 90


def test_unplugged_goes_empty_proves_little(kb):
    """Open moves any gauge: it must not clear the gauge as three mid values do."""
    job = kb.job("fuel-level-gauge", complaint=["needle-wrong-fuel"], circuit=FAMILY).record("as-found", shows="3/4")
    after_open = job.record("unplugged", shows="below E").verdict().locations
    mid = job
    for ohm, stands in ((33, "F"), (103, "1/2"), (68.75, "3/4")):
        mid = mid.record("substitute", ohm=ohm, shows=stands)
    after_mid = mid.verdict().locations
    assert after_mid["module"] + after_mid["supply"] < 0.3 * (after_open["module"] + after_open["supply"])


def test_a_gauge_that_follows_and_a_sender_that_stands_still_is_the_sender(kb):
    job = kb.job("fuel-level-gauge", complaint=["needle-wrong-fuel"], circuit=FAMILY).record("as-found", shows="3/4")
    for ohm, stands in ((33, "F"), (103, "1/2"), (240, "E")):
        job = job.record("substitute", ohm=ohm, shows=stands)
    # 110 gallons went in: the tank is full.
    verdict = job.record("sensor-ohms", ohms=68, at={"value": 98, "unit": "percent"}).record("look", good=True).verdict()
    assert verdict.location == "sensor"
