"""Owns the tests of the three-wire dial sheet: the load made up for, what cannot be set, what swapped legs would show."""

import pytest

from engine.circuit import InputCircuit
from engine.divide_sheet import divide_sheet, loaded_share
from engine.errors import InputError
from engine.lines import Line
from engine.preferred_values import preferred
from engine.quantities import POSITION
from engine.stand_in import Meter, StandIn

LINE = Line("throttle", "", 0.1, 0.0, 0.85, 100.0)
TRACK = StandIn(end_to_end_ohm=10e3)
KNOWN = InputCircuit(reference_v=5.0, open_v=5.0, short_v=0.0, source_ohm=1e5, pull="down")


def sheet(circuit=KNOWN, stand_in=TRACK, values=(0.0, 50.0, 100.0), line=LINE):
    return divide_sheet(circuit, line, stand_in, Meter(), values, POSITION)


def test_a_known_load_is_made_up_for():
    for row in sheet():
        assert float(loaded_share(row.ratio, 10e3, 1e5)) == pytest.approx(float(LINE.ratio(row.value)), abs=1e-9)
        assert row.ratio > float(LINE.ratio(row.value)) and row.plug_v == pytest.approx(5.0 * float(LINE.ratio(row.value)))
        assert row.shows == pytest.approx(row.value, abs=1e-6) and row.shows_band[0] < row.value < row.shows_band[1]


def test_an_unknown_load_leaves_a_band_and_says_so():
    (row,) = sheet(InputCircuit(reference_v=5.0), values=(50.0,))
    assert row.ratio == pytest.approx(0.475) and "load" in row.note
    assert row.plug_v_band[1] - row.plug_v_band[0] > 0.1


def test_swapped_outer_legs_read_the_other_way():
    (row,) = sheet(values=(20.0,))
    assert row.other_leg > 75.0


def test_two_fixed_resistors_divide_and_a_box_of_decades_does_not():
    (row,) = sheet(stand_in=StandIn(kind="fixed", ohms=preferred("E24", 100.0, 1e5)), values=(50.0,))
    assert len(row.parts) == 2 and 1000.0 <= sum(row.parts) <= 20e3
    assert row.parts[0] / sum(row.parts) == pytest.approx(0.49, abs=0.02) and row.reach == 0.0
    (row,) = sheet(stand_in=StandIn(kind="decade-box"), values=(50.0,))
    assert row.survival == "refused" and "cannot divide" in row.remedy and row.ohm is None


def test_a_track_nobody_measured_gives_the_share_alone():
    (row,) = sheet(stand_in=StandIn(), values=(50.0,))
    assert row.ohm is None and row.ratio > 0 and "end to end" in row.remedy


def test_a_small_track_takes_too_much_of_the_supply():
    (row,) = sheet(stand_in=StandIn(end_to_end_ohm=50.0, watts=0.1), values=(50.0,))
    assert row.survival != "fine"


def test_limits_and_values_beyond_the_line_are_said():
    circuit = InputCircuit(reference_v=5.0, source_ohm=1e5, pull="down", low_limit_v=0.7, high_limit_v=4.5)
    assert [row.outside for row in sheet(circuit)] == [True, False, False]
    with pytest.raises(InputError, match="this line reaches from"):
        sheet(values=(130.0,))
