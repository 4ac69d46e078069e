"""Owns the test of what a battery-fed gauge asks of the engine: its pointer, a kit of resistors, what survives on it."""

from fractions import Fraction

import numpy as np
import pytest

from engine.circuit import InputCircuit
from engine.curves import Curve
from engine.kit import nearest_value, test_points, values
from engine.pointer import FRACTIONS, pointer
from engine.readings import check_reading
from engine.stand_in import Meter, StandIn, set_to
from engine.survival import on_gauge
from tests.loaded import KB

# 33 ohm full, 100 about half, 233 = 33 + 100 + 100 empty; 68.75, 133 and 253 ohm from 33, 100 and 220 (public threads, retold).
AMERICAN = Curve("american", "240 to 33 ohm", ((0.0, 240.0), (50.0, 103.0), (100.0, 33.0)), quantity="level")


@pytest.mark.parametrize(("text", "stands"), [
    ("1/2", (43.75, 56.25)), ("3/4", (68.75, 81.25)), ("E", (0.0, 2.0)), ("full", (98.0, 100.0)), ("below E", "minimum"),
    ("Above F", "maximum"), ("below-empty", "minimum"), ("3 of 8", (31.25, 43.75)), ("8 of 8 segments", (98.0, 100.0)),
    ("0 of 8", (0.0, 2.0)), ("9 of 8", None), ("1/0", None), ("half", None), ("", None), ("1/2/3", None)])
def test_where_a_pointer_stands(text, stands):
    assert pointer(text) == stands


def test_every_fraction_of_the_screen_rises():
    middles = [sum(pointer(one)) / 2 for one in FRACTIONS]
    assert middles == sorted(middles) and len(set(middles)) == len(FRACTIONS)


def test_a_pointer_is_a_reading_in_percent_alone():
    takes = ("shows", "unit")
    reading = check_reading("as-found", takes, {"shows": "1/4"}, unit="percent")
    assert (reading.shows, reading.unit, reading.shows_c, reading.word) == ("1/4", "percent", (18.75, 31.25), None)
    assert check_reading("as-found", takes, {"shows": "above F"}, unit="percent").word == "maximum"
    with pytest.raises(ValueError, match="one of maximum"):
        check_reading("as-found", takes, {"shows": "1/4"})


def test_three_resistors_make_the_published_test_points():
    made = [round(one.ohm, 2) for one in values((33.0, 100.0, 220.0))]
    assert {33.0, 68.75, 100.0, 133.0, 220.0, 253.0} <= set(made) and made == sorted(made) and len(made) == 10
    assert nearest_value((33.0, 100.0, 100.0), 233.0).parts == (33.0, 100.0, 100.0)
    points = test_points(AMERICAN, (33.0, 100.0, 220.0))
    assert len(points) == 5 and points[0].percent < 10 and points[-1].percent > 95
    assert max(np.diff([point.percent for point in points])) < 40
    assert [p.percent for p in points] == pytest.approx([float(AMERICAN.temperature_at(p.ohm)) for p in points])


def test_a_kit_sets_three_in_series():
    setting = set_to(StandIn("fixed", ohms=(33.0, 100.0, 100.0), watts=5.0), Meter(), 233.0)
    assert setting.ohm == 233.0 and setting.parts == (33.0, 100.0, 100.0)


def test_what_a_gauge_drives_through_ten_ohms():
    """12.6 V, a coil of 13 ohm and 10 ohm: 0.55 A and 3 W (derived from published coils)."""
    circuit = InputCircuit(open_v=12.6, source_ohm=13.0, pointer=True)
    track = on_gauge(StandIn("potentiometer", 1000.0, watts=0.25), circuit, 10.0)
    exact = Fraction("12.6") / 23
    assert track.state == "refused" and track.current_a == pytest.approx(float(exact)) and round(track.current_a, 2) == 0.55
    assert track.watts == pytest.approx(float(exact**2 * 10)) and round(track.watts) == 3
    assert "6 W" in track.remedy
    assert on_gauge(StandIn("fixed", ohms=(10.0,), watts=5.0), circuit, 10.0, (10.0,)).state == "fine"
    # Nobody measured the coil: the least published is taken.
    assert on_gauge(StandIn("potentiometer", 1000.0), InputCircuit(pointer=True), 10.0).current_a == track.current_a


def test_a_stand_in_that_would_burn_is_never_advised():
    job = KB.job("fuel-level-gauge", stand_in={"kind": "potentiometer", "end_to_end_ohm": 10000, "watts": 0.25})
    assert all(one.ohm is None for one in job.advice())
    kit = KB.job("fuel-level-gauge", stand_in={"kind": "fixed", "ohms": [33, 100, 220]})
    assert any(one.ohm for one in kit.advice()) and kit.stand_in.watts == 5.0


def shown(faults, test, ohm=None, **circuit):
    """Pointer (f,) that the engine predicts under `faults` {id: severity share} on the American family, nothing else off."""
    from engine.likelihood import Evidence
    from engine.model import Model
    from engine.readings import Reading
    from engine.unknowns import Z_NAMES
    job = KB.job("fuel-level-gauge", circuit={"pull_up_ohm": 60, "curve": {"quantity": "level", "unit": "percent", "points": AMERICAN.points},
                                              **circuit}, stand_in={"kind": "fixed", "ohms": [100], "lead_ohm": 0.0})
    model = Model(job.setup)
    evidence = Evidence(model, (Reading(test, ohm=ohm, shows=50.0, unit="percent"),))
    at = [next(k for k, kind in enumerate(model.kinds) if kind.id == id) for id in faults]
    order = np.argsort(at)
    rows = np.array(at)[order]
    share = np.array(list(faults.values()))[order][:, None]
    value = evidence.shown(share, np.zeros((len(rows), 1, len(Z_NAMES))), rows).value[0, :, 0]
    grade = model.severity(share, rows)[:, 0]
    back = np.argsort(order)
    return value[back], grade[back]


def test_a_gauge_in_order_shows_its_stand_in():
    (value,), _ = shown({"gauge-true": 0.5}, "substitute", 100.0)
    assert value == pytest.approx(float(AMERICAN.temperature_at(100.5)), abs=0.2)


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9])
def test_a_pointer_follows_the_current_of_its_coil(share):
    """By exact arithmetic: the scale takes coil current I for the sender R = V / I - Rc."""
    faults = ("gauge-supply-low", "gauge-supply-high", "gauge-coil-high", "sender-ground-poor")
    values_, grades = shown(dict.fromkeys(faults, share), "substitute", 100.0)
    coil, feed = Fraction(60), Fraction(126, 10)
    for name, value, grade in zip(faults, values_, grades, strict=True):
        grade = Fraction(float(grade))
        wire = Fraction("0.2") + (grade if name == "sender-ground-poor" else 0) + Fraction("0.3")
        supply = feed * (grade if "supply" in name else 1)
        current = supply / (coil * (grade if "coil" in name else 1) + wire + 100)
        believed = feed / current - coil
        if believed > 0:
            stands = max(float(AMERICAN.temperature_at(float(believed))), -60.0)
            assert value == pytest.approx(stands, abs=0.2), name


def test_too_much_feed_sends_every_needle_to_its_low_ohm_end():
    (high,), _ = shown({"gauge-supply-high": 0.5}, "substitute", 100.0)
    (low,), _ = shown({"gauge-supply-low": 0.5}, "substitute", 100.0)
    (right,), _ = shown({"gauge-true": 0.5}, "substitute", 100.0)
    assert high > right + 5 and low < right - 5


def test_a_gauge_that_knows_its_ends_alone_never_stands_between():
    (value,), (at,) = shown({"gauge-flips": 0.5}, "substitute", 100.0)
    right = float(AMERICAN.temperature_at(100.0))
    assert value == (120.0 if right > at else -20.0)
