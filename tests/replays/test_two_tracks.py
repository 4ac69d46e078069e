"""Owns retold cases and published figures of two-track pedals and throttles.

Source: public thread, retold, confirmed: first track 0 to 4.9 V, second assumed 0.73 to 4.9 V; valid from 0 to 25 %, invalid
from 26 to 98 %; three pedals identical; cured by telling the module 4.1 V as the second track's top. Published service
figures: 0.98 to 3.68 V with 0.49 to 1.84 V; 0.269 V for 135 ms; equal within 0.2 V for 2 s counts as shorted together.
"""

import pytest

from engine.lines import Line
from engine.tracks import Tracks, alone, gap, pair_setting, parts_at, top_from_parting


def track(low_v, high_v):
    return Line(f"{low_v}-{high_v}", "", low_v / 5.0, 0.0, high_v / 5.0, 100.0)


BELIEVED = Tracks(track(0.0, 4.9), track(0.73, 4.9), limit_percent=5.0)


def test_the_tracks_part_at_26_percent():
    at = parts_at(BELIEVED, track(0.0, 4.9), track(0.73, 4.1))
    assert at == pytest.approx(26.0, abs=0.5)
    assert not gap(BELIEVED, 4.9 * 0.25, 0.73 + 3.37 * 0.25).disagree
    assert gap(BELIEVED, 4.9 * 0.27, 0.73 + 3.37 * 0.27).disagree


def test_the_place_of_parting_alone_gives_the_cure():
    assert top_from_parting(BELIEVED, 26.0) == pytest.approx(4.1, abs=0.01)
    cured = Tracks(BELIEVED.first, track(0.73, 4.1), limit_percent=5.0)
    assert parts_at(cured, track(0.0, 4.9), track(0.73, 4.1)) is None


def test_every_listed_pair_gives_settings_in_its_relation_or_the_refusal(kb):
    for row in kb.track_pairs("accelerator-pedal-position"):
        tracks, found = kb.tracks(row.id), pair_setting(kb.tracks(row.id), 30.0)
        if row.second is None:
            assert "pulses" in found.refused and found.first is None
        else:
            assert not gap(tracks, found.first_v, found.second_v).disagree
            assert alone(tracks, 60.0).disagree
        assert row.reaction and row.codes


def test_published_mid_values_and_sums_hold(kb):
    """Service figures: 0.50 + 4.45 = 4.25 + 0.70 = 4.95 V; 0.75/2 within 0.32 to 0.42 V, 4.10/2 within 1.93 to 2.17 V."""
    tracks = kb.tracks("sum-constant")
    for value in (0.0, 40.0, 100.0):
        assert float(tracks.first.volts(value) + tracks.second.volts(value)) == pytest.approx(4.95)
    half = kb.tracks("half")
    assert 0.32 <= half.partner_v(0.75) <= 0.42 and 1.93 <= half.partner_v(4.10) <= 2.17
    assert {row.id: kb.tracks(row.id).relation for row in kb.track_pairs("accelerator-pedal-position")} == {
        "sum-constant": "sum-constant", "half": "share", "half-throttle": "share", "offset": "offset", "same-start": "same-start",
        "with-pulses": "pulses"}


def test_three_pedals_alike_are_not_the_pedal(kb):
    job = kb.job("accelerator-pedal-position", ["P2138"]).record("track-agreement", good=False)
    before, after = job.verdict(), job.record("other-part", good=True).verdict()
    assert after.locations["sensor"] < before.locations["sensor"] - 0.25
    assert after.locations["module"] > 1.5 * before.locations["module"]


def test_published_ends_of_both_tracks_and_what_the_module_does(kb):
    tracks = kb.tracks("half-throttle")
    for line, ends in ((tracks.first, (0.98, 3.68)), (tracks.second, (0.49, 1.84))):
        assert [float(line.volts(end)) for end in (0.0, 100.0)] == pytest.approx(ends, abs=0.005)
    row = next(one for one in kb.track_pairs("accelerator-pedal-position") if one.id == "half-throttle")
    assert row.limit_v == 0.269 and row.apart_v == 0.2 and "0.14 s" in row.reaction and "half" in row.reaction


def test_equal_volts_are_a_short_between_the_tracks(kb):
    tracks = kb.tracks("half-throttle")
    assert gap(tracks, 1.4, 1.35).shorted and not gap(tracks, 1.4, 0.7).shorted


def test_a_pedal_is_worked_with_the_danger_said_first(kb):
    job = kb.job("accelerator-pedal-position", ["P2138"])
    assert any(one.severity == "danger" and "wheels chocked" in one.text for one in kb.cautions(job.sensor))
    assert "low stop" in next(one.text for one in kb.cautions(job.sensor) if one.id == "torque-input")
    assert "Engine off" in kb.sensor(job.sensor).key_state
