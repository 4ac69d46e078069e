"""Owns a retold case: scales that run both ways, and a source that contradicts itself.

Source: public threads, retold. Empty to full: 1 to 88 (open beyond full), 0 to 30, 22 to 145, 0 to 190, 240 to 33, 73 to 10, 112 to 4,
300 to 0, 40 to 250; 410 to 15 with two 820 ohm side by side to the battery. One vendor says 240 is empty and lists 240 as full.
"""

import pytest

from knowledge.gauges import open_end


def left(job):
    """Chance of each direction, and of each family, on the job's belief."""
    belief = job.belief
    share = {}
    for row, chance in enumerate(belief.chance):
        curve = belief.model.table.curves[belief.model.curve[row]]
        share[curve.id] = share.get(curve.id, 0.0) + float(chance)
    ways = {"low": 0.0, "high": 0.0}
    for curve in belief.model.table.curves:
        ways[open_end(curve)] += share.get(curve.id, 0.0)
    return ways, share


def test_nothing_is_assumed_before_an_open_plug_was_seen(kb):
    ways, _ = left(kb.job("fuel-level-gauge"))
    assert 0.25 < ways["low"] < 0.75


@pytest.mark.parametrize(("stands", "goes"), [("below E", "low"), ("above F", "high")])
def test_an_open_plug_tells_the_direction(kb, stands, goes):
    ways, _ = left(kb.job("fuel-level-gauge").record("unplugged", shows=stands))
    assert ways[goes] > 0.8


def test_open_tells_no_family_and_one_mid_value_does(kb):
    job = kb.job("fuel-level-gauge").record("unplugged", shows="below E")
    _, before = left(job)
    _, after = left(job.record("substitute", ohm=103, shows="1/2"))
    assert before["level-240-33"] < 0.6 < after["level-240-33"] / sum(v for k, v in after.items() if not k.startswith("unlisted"))
    assert after["level-73-10"] < 0.1 * before["level-73-10"]


def test_the_pair_a_vendor_prints_both_ways_is_told_apart_by_the_open_plug(kb):
    _, empty = left(kb.job("fuel-level-gauge").record("unplugged", shows="below E"))
    _, full = left(kb.job("fuel-level-gauge").record("unplugged", shows="above F"))
    assert empty["level-240-33"] > 10 * empty["level-33-240"] and full["level-33-240"] > full["level-240-33"] / 5
    assert "other way round" in kb.curve_row("level-33-240").warning


def test_two_820_ohm_to_the_battery_agree_with_410_empty():
    assert 820 / 2 == pytest.approx(410) and 410 / (410 + 820 / 2) == pytest.approx(0.5)
