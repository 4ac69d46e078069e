"""Owns the test of the review: every sensor kind in one table, refused ones with their reason and never a value."""

import pytest

from engine.errors import InputError


def test_every_kind_stands_in_the_table_refused_ones_last(kb):
    rows = kb.review()
    assert {row.sensor for row in rows} == {sensor.id for sensor in kb.tables.sensors}
    assert [row.refused for row in rows] == sorted(row.refused for row in rows)
    for row in rows:
        if row.refused:
            assert row.reason and row.instead
            assert row.detected is row.placed is row.low_c is row.high_c is row.near_c is None
        else:
            assert 0 <= row.placed <= row.detected <= 1 and (row.low_c is None or row.low_c < row.high_c)
    assert [row.sensor for row in rows if row.low_c is None and not row.refused and not kb.sensor(row.sensor).in_percent] == []


def test_the_stand_in_in_hand_sets_the_reach(kb):
    large = {row.sensor: row for row in kb.review({"kind": "potentiometer", "end_to_end_ohm": 100000, "turns": 1})}
    fine = {row.sensor: row for row in kb.review({"kind": "potentiometer", "end_to_end_ohm": 10000, "turns": 10})}
    usual = {row.sensor: row for row in kb.review()}
    assert large["coolant-temperature"].low_c < usual["coolant-temperature"].low_c
    assert fine["coolant-temperature"].near_c < usual["coolant-temperature"].near_c


def test_a_stand_in_nobody_measured_reaches_nothing(kb):
    row = next(row for row in kb.review({"kind": "potentiometer"}) if row.sensor == "coolant-temperature")
    assert row.low_c is None and row.near_c is None and row.detected > 0


def test_a_bad_stand_in_is_said_so(kb):
    with pytest.raises(InputError, match="stand_in.kind"):
        kb.review({"kind": "brick"})
