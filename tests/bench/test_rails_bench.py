"""Owns the proof that vehicles of shared rails and of two tracks are what they say, and that a few driven are not found wrongly."""

from dataclasses import replace

import pytest

from .rail_faults import KINDS
from .rails import drive, found_early
from .shared_rail import SharedRailVehicle
from .tracks import CODES, PART_V, TrackVehicle


@pytest.mark.parametrize("fault_id", ["supply-open", "return-open"])
def test_a_broken_rail_is_complained_of_by_all_who_share_it(fault_id):
    for number in range(1, 6):
        vehicle = SharedRailVehicle(number, fault_id)
        felt = sum(one.shares_return or fault_id == "supply-open" for one in vehicle.neighbours)
        assert len(vehicle.complaints) >= 1 + felt


def test_behind_a_broken_supply_its_open_plug_is_dead_and_behind_its_ohms_low():
    for number in range(1, 6):
        dead = SharedRailVehicle(number, "supply-open").answer("plug-volts")
        assert abs(dead["supply_to_battery_v"]) < 0.1
        ohms = SharedRailVehicle(number, "supply-ohms")
        load = 1.0 / sum(1.0 / one.track_ohm for one in ohms.neighbours)
        left = ohms.own_v * load / (load + ohms.rail.supply_ohm)
        assert ohms.answer("plug-volts")["supply_to_battery_v"] == pytest.approx(left, abs=0.06)


def test_two_tracks_in_order_keep_their_relation_and_both_numbers_the_travel():
    relations = set()
    for number in range(1, 25):
        vehicle = TrackVehicle(number, "set-up-legs")
        relations.add(vehicle.relation)
        assert vehicle._volts_part() < PART_V
        assert max(map(abs, vehicle._numbers_off())) < 6.0
        assert vehicle.complaints == [CODES[vehicle.sensor][3]]
    assert relations == {"falls", "half", "offset", "same-start"}


def test_a_fault_of_one_track_leaves_the_other_and_one_of_a_shared_rail_does_not():
    for number in range(1, 12):
        own = TrackVehicle(number, "sensor-wiper-open")
        assert abs(own._numbers_off()[1]) < 6.0 < abs(own._numbers_off()[0])
        rail = TrackVehicle(number, "return-open")
        both = "return_ohm" in rail.shared
        assert (abs(rail._numbers_off()[1]) > 6.0) == both


@pytest.mark.parametrize("make", [SharedRailVehicle, TrackVehicle])
def test_a_number_fixes_everything_and_every_fault_can_be_drawn(make):
    one, other = make(5), make(5)
    assert (one.complaints, one.rail, one.answer("signal-volts")) == (other.complaints, other.rail, other.answer("signal-volts"))
    for fault_id, kind in KINDS.items():
        if kind.only != "track" or not make(3, fault_id).active:
            assert make(3, fault_id).location == kind.location


def test_a_meter_is_all_that_loads_a_broken_return_on_the_open_plug():
    vehicle = SharedRailVehicle(4, "supply-dragged")
    vehicle.neighbours = ()
    broken = replace(vehicle.healthy, return_ohm=1e10)
    found = vehicle._volts(("supply_to_return_v", "supply_to_battery_v"), broken, plugged=False)
    assert found["supply_to_return_v"] == pytest.approx(0.0, abs=0.02) and found["supply_to_battery_v"] == pytest.approx(5.0, abs=0.1)


@pytest.mark.parametrize(("make", "fault_id", "number"), [(SharedRailVehicle, "supply-ohms", 12), (SharedRailVehicle, "return-open", 7),
                                                          (TrackVehicle, "supply-dragged", 18)])
def test_a_few_driven_are_found_early(make, fault_id, number):
    record = drive(number, True, make=lambda it: make(it, fault_id))
    assert record["trouble"] is None and found_early(record), record
