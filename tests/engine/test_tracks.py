"""Owns the tests of two tracks: the published relations, where they part, settings that keep them, refusals."""

import pytest

from engine.errors import InputError
from engine.lines import Line
from engine.tracks import PULSES, Tracks, alone, gap, pair_setting, parts_at, top_from_parting


def line(low_v, high_v):
    return Line(f"{low_v}-{high_v}", "", low_v / 5.0, 0.0, high_v / 5.0, 100.0)


SUM = Tracks(line(0.50, 4.25), line(4.45, 0.70), limit_percent=6.5)
HALF = Tracks(line(0.98, 3.68), line(0.49, 1.84), limit_v=0.269, apart_v=0.2)
OFFSET = Tracks(line(0.8, 3.55), line(1.6, 4.35), apart_v=0.02)
SAME_START = Tracks(line(0.5, 4.5), line(0.5, 2.0))
PULSED = Tracks(line(0.5, 4.0), None)


@pytest.mark.parametrize(("tracks", "relation"), [(SUM, "sum-constant"), (HALF, "share"), (OFFSET, "offset"),
                                                  (SAME_START, "same-start"), (PULSED, "pulses"),
                                                  (Tracks(line(0.75, 4.10), line(0.37, 2.05)), "share")])
def test_the_published_relations_are_named(tracks, relation):
    assert tracks.relation == relation


@pytest.mark.parametrize("tracks", [SUM, HALF, OFFSET, SAME_START])
@pytest.mark.parametrize("value", [0.0, 30.0, 100.0])
def test_a_pair_of_settings_keeps_the_relation(tracks, value):
    found = pair_setting(tracks, value)
    seen = gap(tracks, found.first_v, found.second_v)
    assert not found.refused and seen.percent == pytest.approx(0.0, abs=1e-9) and not seen.disagree


def test_a_track_of_pulses_is_refused_with_the_reason():
    found = pair_setting(PULSED, 30.0)
    assert found.refused == PULSES and found.first is None
    assert alone(PULSED, 30.0) is None
    with pytest.raises(InputError):
        PULSED.partner_v(1.0)


@pytest.mark.parametrize("tracks", [SUM, HALF, OFFSET, SAME_START])
def test_one_track_alone_is_expected_to_disagree(tracks):
    assert alone(tracks, 50.0).disagree and not alone(tracks, 0.0).disagree


def test_a_coarse_hand_leaves_no_room_in_a_narrow_limit():
    assert pair_setting(HALF, 50.0, within=0.005).room > 0.5
    assert pair_setting(Tracks(line(0.75, 4.1), line(0.37, 2.05), limit_v=0.02), 50.0, within=0.02).room < 0.0


def test_tracks_shorted_together_are_told_by_their_equal_volts():
    """Published: within 0.02 V of each other, or 0.2 V on another, counts as shorted together."""
    assert gap(OFFSET, 1.50, 1.51).shorted and not gap(OFFSET, 0.8, 1.6).shorted
    assert gap(HALF, 1.2, 1.1).shorted


def test_tracks_that_part_nowhere_or_from_the_start():
    assert parts_at(SUM, SUM.first, SUM.second) is None
    assert parts_at(SUM, SUM.first, line(3.9, 0.70)) == 0.0


def test_the_place_of_parting_gives_the_top_back():
    believed = Tracks(line(0.0, 4.9), line(0.73, 4.9), limit_percent=5.0)
    at = parts_at(believed, believed.first, line(0.73, 4.1))
    assert top_from_parting(believed, at) == pytest.approx(4.1, abs=1e-9)
