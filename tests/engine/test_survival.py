"""Owns whether a stand-in survives: the rated current of the whole track, three answers, and the remedy named."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.stand_in import StandIn
from engine.survival import survival

STEADY = settings(max_examples=80, deadline=None, derandomize=True)
POT = StandIn(end_to_end_ohm=10000.0, watts=0.2)


@pytest.mark.parametrize("ohm", [10000.0, 5000.0, 100.0])
def test_a_track_carries_its_rated_current_wherever_the_wiper_stands(ohm):
    # sqrt(0.2 W / 10000 ohm) = 4.47 mA, about 4.5 mA.
    assert survival(POT, ohm, 0.001).limit_a == pytest.approx(4.472e-3, abs=1e-6)


@pytest.mark.parametrize(("current_a", "state"), [
    (0.0044, "fine"), (0.0045, "ten-seconds"), (0.0134, "ten-seconds"), (0.0135, "refused"), (0.55, "refused")])
def test_fine_for_ten_seconds_and_refused(current_a, state):
    # 4.472 mA is the limit, three times that 13.416 mA.
    assert survival(POT, 200.0, current_a).state == state


def test_watts_are_current_squared_times_ohms_and_the_remedy_doubles_them():
    # A gauge coil: 12.6 V over 13 + 10 ohm is 0.548 A, 3.0 W in the 10 ohm; the part named carries twice that.
    current = 12.6 / 23.0
    got = survival(POT, 10.0, current)
    assert got.watts == pytest.approx(3.001, abs=0.001)
    assert got.state == "refused"
    assert got.remedy == "Use a fixed resistor of about 10 ohm, 6 W or more."


def test_the_middle_answer_says_how_long():
    got = survival(POT, 200.0, 0.01)
    assert got.remedy.startswith("Under ten seconds only. Use a fixed resistor of about 200 ohm")


def test_a_module_input_never_hurts_a_common_potentiometer():
    # A dead short on 5 V through 1 kohm: 5 mA, just above a 0.2 W 10 k track; 2.3 mA through 2.2 kohm is fine.
    assert survival(POT, 0.0, 5.0 / 1000.0).state == "ten-seconds"
    assert survival(POT, 0.0, 5.0 / 2200.0).state == "fine"


def test_a_fixed_resistor_carries_by_its_own_ohms():
    # sqrt(0.25 W / 100 ohm) = 50 mA.
    part = StandIn(kind="fixed", ohms=(100.0,))
    assert survival(part, 100.0, 0.049).state == "fine"
    assert survival(part, 100.0, 0.051).state == "ten-seconds"


@pytest.mark.parametrize(("parts", "ohm", "limit_a"), [
    ((100.0,), 100.0, 0.0500),           # sqrt(0.25 / 100)
    ((100.0, 150.0), 250.0, 0.0408),     # in series the 150 ohm is the first to reach 0.25 W: sqrt(0.25 / 150)
    ((100.0, 150.0), 60.0, 0.0833),      # side by side both have 5.0 V at the limit of the 100 ohm: 5.0 / 60
])
def test_of_a_pair_the_part_that_takes_most_sets_the_limit(parts, ohm, limit_a):
    drawer = StandIn(kind="fixed", ohms=(100.0, 150.0))
    assert survival(drawer, ohm, 0.01, parts).limit_a == pytest.approx(limit_a, abs=5e-5)


def test_a_decade_box_carries_by_the_ohms_set():
    box = StandIn(kind="decade-box", end_to_end_ohm=999999.0, watts=0.5)
    assert survival(box, 200.0, 0.01).limit_a == pytest.approx(0.05)


@STEADY
@given(st.floats(10.0, 1e6), st.floats(0.05, 50.0), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_fine_never_means_more_than_the_rated_watts(total, watts, share, load):
    part = StandIn(end_to_end_ohm=total, watts=watts)
    got = survival(part, share * total, load * 4.0 * (watts / total) ** 0.5)
    if got.state == "fine":
        assert got.watts <= watts * (1 + 1e-9)
        assert got.remedy == ""
    else:
        assert got.current_a > got.limit_a
        assert "Use a fixed resistor" in got.remedy
