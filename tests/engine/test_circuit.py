"""Owns the circuit's outside references: exact rational arithmetic, hand arithmetic and the laws a divider obeys."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.circuit import InputCircuit, parallel, solve

STEADY = settings(max_examples=80, deadline=None, derandomize=True)
COUNT = 500
LOW_OHM, HIGH_OHM = 0.05, 1e9
HEALTHY = {"signal_ohm": 0.2, "return_ohm": 0.3, "leak_ground_ohm": 1e15, "leak_battery_ohm": 1e15, "ground_v": 0.0}
OHMS = ("source_ohm", "element_ohm", "signal_ohm", "return_ohm", "leak_ground_ohm", "leak_battery_ohm")


def draw_circuits(seed, count=COUNT):
    """`count` circuits with one or two faults; every ohm value log-uniform from 50 milliohm to 1 gigaohm."""
    rng = np.random.default_rng(seed)

    def ohms():
        return float(np.exp(rng.uniform(np.log(LOW_OHM), np.log(HIGH_OHM))))
    circuits = []
    for _ in range(count):
        circuit = {"open_v": float(rng.uniform(3.0, 5.5)), "source_ohm": ohms(), "element_ohm": ohms(),
                   "battery_v": float(rng.uniform(9.0, 28.0)), **HEALTHY}
        for name in rng.choice(list(HEALTHY), size=rng.integers(1, 3), replace=False):
            circuit[str(name)] = float(rng.uniform(-0.5, 2.0)) if name == "ground_v" else ohms()
        circuits.append(circuit)
    return circuits


def exact_volts(circuit):
    """Pin, plug and return volts as exact fractions.

    Kirchhoff's current law: at every node the sum of (V there - V here) / R
    is nought. Three nodes, three equations, eliminated without rounding.
    """
    value = {name: Fraction(number) for name, number in circuit.items()}
    pin, plug, ret = range(3)
    branches = [(pin, plug, value["signal_ohm"]), (plug, ret, value["element_ohm"])]
    feeds = [(pin, value["open_v"], value["source_ohm"]), (plug, Fraction(0), value["leak_ground_ohm"]),
             (plug, value["battery_v"], value["leak_battery_ohm"]), (ret, value["ground_v"], value["return_ohm"])]
    rows = [[Fraction(0)] * 4 for _ in range(3)]
    for a, b, ohm in branches:
        for here, there in ((a, b), (b, a)):
            rows[here][here] += 1 / ohm
            rows[here][there] -= 1 / ohm
    for node, volts, ohm in feeds:
        rows[node][node] += 1 / ohm
        rows[node][3] += volts / ohm
    for step in range(3):
        rows[step] = [x / rows[step][step] for x in rows[step]]
        for other in range(3):
            if other != step:
                rows[other] = [x - rows[other][step] * y for x, y in zip(rows[other], rows[step], strict=True)]
    return [row[3] for row in rows]


def as_batch(circuits):
    return {name: np.array([c[name] for c in circuits]) for name in circuits[0]}


def test_the_rational_reference_itself_solves_a_textbook_divider():
    # 5 V over 1000 + 250 ohm: 1 V across the 250 ohm, exactly; the two wires split nothing off.
    circuit = {"open_v": 5.0, "source_ohm": 999.0, "signal_ohm": 1.0, "element_ohm": 249.0, "return_ohm": 1.0,
               "ground_v": 0.0, "leak_ground_ohm": 1e300, "leak_battery_ohm": 1e300, "battery_v": 12.0}
    assert float(exact_volts(circuit)[1]) == pytest.approx(1.0, abs=1e-15)


def test_solve_agrees_with_exact_rational_arithmetic_on_500_faulted_circuits():
    circuits = draw_circuits(seed=20)
    got = np.stack(solve(**as_batch(circuits)), axis=1)
    for circuit, volts in zip(circuits, got, strict=True):
        error = max(abs(Fraction(float(v)) - exact) for v, exact in zip(volts, exact_volts(circuit), strict=True))
        assert error <= Fraction(1, 10**12), (float(error), circuit)


def test_the_500_circuits_hold_every_fault_and_both_ends_of_the_range():
    circuits = draw_circuits(seed=20)
    for name, healthy in HEALTHY.items():
        assert sum(c[name] != healthy for c in circuits) >= 100
    ohms = [c[name] for c in circuits for name in OHMS if c[name] != HEALTHY.get(name)]
    assert min(ohms) < 0.06
    assert max(ohms) > 8e8


def test_the_worst_case_a_short_beside_an_open_keeps_its_digits():
    # A 50 milliohm element on a 1 gigaohm return, fed through 1 gigaohm: ordinary nodal elimination loses 1e-6 V here.
    circuit = {"open_v": 5.0, "source_ohm": 1e9, "element_ohm": 0.05, "battery_v": 12.6, **HEALTHY, "return_ohm": 1e9}
    for got, exact in zip(solve(**circuit), exact_volts(circuit), strict=True):
        assert abs(Fraction(float(got)) - exact) < Fraction(1, 10**12)


@pytest.mark.parametrize(("given", "pin", "plug", "ret"), [
    # Kirchhoff by hand, 5 V and 1 kohm throughout.
    ({"element_ohm": 1000.0}, 2.5, 2.5, 0.0),
    # 1 kohm more in the signal wire: 3000 ohm in all, a third of 5 V on each.
    ({"element_ohm": 1000.0, "signal_ohm": 1000.0}, 10 / 3, 5 / 3, 0.0),
    # The same 1 kohm in the return lifts the plug, not only the pin.
    ({"element_ohm": 1000.0, "return_ohm": 1000.0}, 10 / 3, 10 / 3, 5 / 3),
    # A leak of 1 kohm beside the element: 500 ohm in all.
    ({"element_ohm": 1000.0, "leak_ground_ohm": 1000.0}, 5 / 3, 5 / 3, 0.0),
    # Three equal ohms to 5 V, 12 V and ground: the mean, 17/3.
    ({"element_ohm": 1000.0, "leak_battery_ohm": 1000.0, "battery_v": 12.0}, 17 / 3, 17 / 3, 0.0),
    # The same leak with the battery left at its usual 12.6 V: 17.6 / 3.
    ({"element_ohm": 1000.0, "leak_battery_ohm": 1000.0}, 17.6 / 3, 17.6 / 3, 0.0),
    # Ground raised by 1 V: halfway between 5 and 1.
    ({"element_ohm": 1000.0, "ground_v": 1.0}, 3.0, 3.0, 1.0),
    # A bolted short: everything at ground.
    ({"element_ohm": 0.0}, 0.0, 0.0, 0.0),
])
def test_hand_arithmetic(given, pin, plug, ret):
    got = solve(open_v=5.0, source_ohm=1000.0, **given)
    assert [float(v) for v in got] == pytest.approx([pin, plug, ret], abs=1e-9)


def test_a_stand_in_to_a_chassis_below_module_ground_reads_hotter():
    # 190 ohm on 2.2 kohm to 5 V: 5*190/2390 = 0.39749 V; chassis 0.1 V lower takes 0.1*2200/2390 = 0.09205 V off.
    to_return = solve(open_v=5.0, source_ohm=2200.0, element_ohm=190.0)
    to_chassis = solve(open_v=5.0, source_ohm=2200.0, element_ohm=190.0, ground_v=-0.1)
    assert float(to_return.pin_v) == pytest.approx(0.39749, abs=1e-5)
    assert float(to_chassis.pin_v) == pytest.approx(0.30544, abs=1e-5)


def test_a_batch_is_each_of_its_circuits_bit_for_bit():
    circuits = draw_circuits(seed=21, count=60)
    batch = np.stack(solve(**as_batch(circuits)), axis=1)
    single = np.array([[float(v) for v in solve(**c)] for c in circuits])
    assert np.array_equal(batch, single)


def test_arguments_broadcast_to_a_grid():
    sources, elements = np.array([1000.0, 2000.0, 3000.0])[:, None], np.array([500.0, 1000.0])[None, :]
    grid = solve(open_v=5.0, source_ohm=sources, element_ohm=elements).pin_v
    assert grid.shape == (3, 2)
    assert float(grid[1, 0]) == pytest.approx(1.0, abs=1e-9)  # 5 V * 500 / 2500


ohm = st.floats(np.log(LOW_OHM), np.log(HIGH_OHM)).map(lambda x: float(np.exp(x)))
circuit_values = st.fixed_dictionaries({
    "open_v": st.floats(3.0, 5.5), "source_ohm": ohm, "element_ohm": ohm, "signal_ohm": ohm, "return_ohm": ohm,
    "ground_v": st.floats(-0.5, 2.0), "leak_ground_ohm": ohm, "leak_battery_ohm": ohm,
    "battery_v": st.floats(9.0, 28.0)})


@STEADY
@given(circuit_values, st.floats(1.0, 1e3))
def test_more_element_ohms_never_lower_the_plug_while_the_feed_stands_above_ground(circuit, factor):
    circuit = {**circuit, "ground_v": 0.0}
    low = float(solve(**circuit).plug_v)
    high = float(solve(**{**circuit, "element_ohm": circuit["element_ohm"] * factor}).plug_v)
    assert high >= low - 1e-12


@STEADY
@given(circuit_values, st.floats(1.0, 1e3))
def test_more_leak_ohms_let_the_plug_away_from_the_leak(circuit, factor):
    before = float(solve(**circuit).plug_v)
    less_ground = float(solve(**{**circuit, "leak_ground_ohm": circuit["leak_ground_ohm"] * factor}).plug_v)
    less_battery = float(solve(**{**circuit, "leak_battery_ohm": circuit["leak_battery_ohm"] * factor}).plug_v)
    assert (less_ground - before) * before >= -1e-12         # away from 0 V, whichever side the plug is on
    assert (less_battery - before) * (before - circuit["battery_v"]) >= -1e-11


@STEADY
@given(circuit_values, st.floats(0.0, 5.0))
def test_raising_the_ground_or_the_feed_never_lowers_a_node(circuit, rise):
    before = np.array(solve(**circuit), float)
    for name in ("ground_v", "open_v", "battery_v"):
        after = np.array(solve(**{**circuit, name: circuit[name] + rise}), float)
        assert np.all(after >= before - 1e-12)
        assert np.all(after <= before + rise + 1e-12)


@STEADY
@given(circuit_values, st.integers(-10, 10))
def test_volts_do_not_change_when_every_ohm_is_scaled(circuit, power):
    scaled = {name: value * 2.0**power if name in OHMS else value for name, value in circuit.items()}
    assert np.array_equal(solve(**circuit), solve(**scaled))
    tenfold = {name: value * 10.0 if name in OHMS else value for name, value in circuit.items()}
    assert np.allclose(solve(**circuit), solve(**tenfold), rtol=0.0, atol=1e-12)


@STEADY
@given(circuit_values)
def test_every_node_lies_between_the_sources(circuit):
    volts = np.array(solve(**circuit), float)
    sources = (0.0, circuit["open_v"], circuit["battery_v"], circuit["ground_v"])
    assert min(sources) - 1e-12 <= volts.min()
    assert volts.max() <= max(sources) + 1e-12


@STEADY
@given(circuit_values)
def test_without_leaks_volts_fall_from_feed_to_ground(circuit):
    plain = {name: v for name, v in circuit.items() if not name.startswith("leak")} | {"leak_ground_ohm": 1e30,
                                                                                    "leak_battery_ohm": 1e30}
    pin, plug, ret = (float(v) for v in solve(**plain))
    chain = [plain["open_v"], pin, plug, ret, plain["ground_v"]]
    assert all(a >= b - 1e-12 for a, b in zip(chain, chain[1:], strict=False))
    # One current through the whole chain (Ohm's law on the outer two resistors).
    total = plain["source_ohm"] + plain["signal_ohm"] + plain["element_ohm"] + plain["return_ohm"]
    current = (plain["open_v"] - plain["ground_v"]) / total
    assert pin == pytest.approx(plain["open_v"] - current * plain["source_ohm"], abs=1e-9)


@STEADY
@given(ohm, ohm)
def test_two_in_parallel(first, second):
    both = float(parallel(first, second))
    assert both == pytest.approx(float(parallel(second, first)), rel=1e-15)
    assert both < min(first, second)
    assert 1.0 / both == pytest.approx(1.0 / first + 1.0 / second, rel=1e-12)


def test_nothing_beside_a_short_is_a_short_and_two_shorts_are_one():
    assert float(parallel(0.0, 1e9)) == 0.0
    assert float(parallel(0.0, 0.0)) == 0.0


def test_what_is_not_known_of_an_input_is_none_and_the_battery_stands_at_12_6_volts():
    circuit = InputCircuit()
    assert circuit.battery_v == 12.6
    assert {circuit.open_v, circuit.short_v, circuit.source_ohm, circuit.bits, circuit.default_c} == {None}
