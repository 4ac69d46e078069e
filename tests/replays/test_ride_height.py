"""Owns retold service figures of ride height and levelling: level at half the supply, left and right the opposite way.

Source: published service figures, retold; no owner's case is known. 5 V supply, about 2.5 V level, 0.5 to 4.5 V; left and right move
in opposite directions; recalibrated after replacement; unplugged pins: supply 5, signal 0, return 0, each within 0.15 V. Another type
is an armature in a coil. Another was bench-fed with 4.5 V (shares of that are arithmetic).
"""

import pytest

from engine.divide_sheet import divide_sheet
from engine.errors import RefusedError

TRACK = {"end_to_end_ohm": 5000}
WAYS = {"height-050-450": 1.0, "height-450-050": -1.0}
HARNESS = ("signal", "return", "supply", "module")


def divided(kb, way, **circuit):
    """Half, then a little to both sides of it, on a module that reads by the line `way`."""
    job = kb.job("ride-height", ["car-hangs-low"], circuit=circuit or None, stand_in=TRACK)
    for ratio in (0.5, 0.4, 0.6):
        job = job.record("divide", ratio=ratio, shows=round(50.0 + WAYS[way] * (ratio - 0.5) / 0.8 * 100.0, 1))
    return job


@pytest.mark.parametrize("way", WAYS)
def test_level_is_half_the_supply_on_either_side_whatever_it_is_fed_with(kb, way):
    line = kb.line(way)
    assert float(line.ratio(50.0)) == pytest.approx(0.5)
    assert sorted(float(line.volts(end)) for end in (0.0, 100.0)) == pytest.approx([0.5, 4.5])
    # Fed with 4.5 V it is level at 2.25 V: the share counts, never the volts.
    assert float(line.value(2.25 / 4.5)) == pytest.approx(50.0)


def test_left_and_right_part_from_there_by_the_same(kb):
    left, right = (kb.line(way) for way in WAYS)
    assert float(left.ratio(20.0)) + float(right.ratio(20.0)) == pytest.approx(1.0)


@pytest.mark.parametrize("way", WAYS)
def test_half_then_a_little_to_both_sides_clears_harness_and_module_on_either_side(kb, way):
    verdict = divided(kb, way).verdict()
    assert verdict.misfit is None
    assert sum(verdict.locations[place] for place in HARNESS) < 0.05
    assert verdict.locations["sensor"] + verdict.locations["plug"] > 0.85


def test_a_side_taken_for_the_other_is_no_fault_of_the_vehicle(kb):
    # Told the left side's line and read on the right: the divider's legs, or the wrong side's line, and no part.
    verdict = divided(kb, "height-450-050", line="height-050-450").verdict()
    assert verdict.locations["set-up"] > 0.9 and verdict.faults[0].id == "outer-legs-swapped"


@pytest.mark.parametrize("signal_v", [0.0, 0.1, 0.15])
def test_unplugged_pins_within_their_tolerance_blame_nothing(kb, signal_v):
    job = kb.job("ride-height", ["car-hangs-low"], circuit={"pull": "down"})
    before = job.verdict().locations
    job = job.record("plug-volts", supply_to_return_v=5.0, supply_to_battery_v=5.02, signal_to_return_v=signal_v,
                     signal_to_battery_v=signal_v, return_to_battery_v=0.02)
    verdict = job.verdict()
    assert verdict.state == "open" and verdict.misfit is None
    assert all(verdict.locations[place] < before[place] + 0.1 for place in HARNESS)


def test_half_is_the_first_setting_of_the_sheet_and_the_body_is_made_safe_first(kb):
    job = kb.job("ride-height", circuit={"line": "height-050-450", "pull": "down", "input_ohm": 100000}, stand_in=TRACK)
    (level,) = divide_sheet(job.circuit, kb.line("height-050-450"), job.stand_in, job.meter, (50.0,), job.setup.quantity)
    # A little above half makes up for the input's load and the 1 kohm in the wiper's lead.
    assert 0.5 < level.ratio < 0.52
    caution = kb.cautions("ride-height")[0]
    assert (caution.id, caution.severity) == ("body-drops", "danger") and "nobody beneath" in caution.text
    said = kb.sensor("ride-height").summary
    assert "opposite directions" in said and "Calibrate after exchange" in said and "Support the body" in said


def test_the_type_with_a_coil_takes_no_stand_in(kb):
    refusal = kb.refusal("ride-height-coil")
    assert refusal.kind == "signal" and "same at every height" in refusal.reason
    with pytest.raises(RefusedError):
        kb.job("ride-height-coil")
