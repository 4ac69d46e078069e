"""Owns the proof that the bench's gauges are what they say, and that a few of them driven are not found wrongly."""

import pytest

from .gauge_vehicle import FAULTS, GaugeVehicle, Wiring
from .gauges import figures, run


@pytest.mark.parametrize("law", ["thermal", "balanced", "electronic"])
def test_a_gauge_in_order_stands_where_its_sender_is(law):
    for number in range(1, 8):
        vehicle = GaugeVehicle(number, "none", law)
        stands = vehicle._needle(Wiring()) - vehicle.gauge.calibration
        assert stands == pytest.approx(min(max(vehicle.true, 0.0), 100.0), abs=6.0)


@pytest.mark.parametrize("law", ["thermal", "balanced", "electronic"])
def test_open_and_short_move_any_gauge_to_opposite_ends(law):
    for number in range(1, 6):
        vehicle = GaugeVehicle(number, "none", law)
        rising = vehicle.gauge.family[2] > vehicle.gauge.family[0]
        ends = vehicle._needle(Wiring(), on="none"), vehicle._needle(Wiring(), on="short", ohm=0.1)
        assert (ends[0] > 95.0, ends[1] < 8.0) == (rising, rising) or (ends[0] < 8.0, ends[1] > 95.0) == (not rising, not rising)


def test_a_number_fixes_everything():
    one, other = GaugeVehicle(5), GaugeVehicle(5)
    assert one.answer("as-found") == other.answer("as-found") and one.wiring == other.wiring


def test_every_fault_can_be_drawn():
    for fault_id, (location, *_) in FAULTS.items():
        law = "thermal" if fault_id.startswith("supply") else "balanced" if fault_id == "module-ground" else None
        assert GaugeVehicle(3, fault_id, law).location == location


def test_a_few_driven_are_settled_and_not_wrong():
    outcomes = run(range(100, 104), True)
    assert not [outcome for outcome in outcomes if outcome.trouble]
    assert not [outcome for outcome in outcomes if outcome.found and not outcome.right]
    assert figures(outcomes)[1] >= 0.5
