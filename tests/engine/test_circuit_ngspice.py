"""Owns the comparison of the circuit with ngspice, node by node; left out, and said so, where it is not installed."""

import numpy as np
import pytest

from engine.circuit import solve

COUNT = 500
LOW_OHM, HIGH_OHM = 0.05, 1e9
# ngspice solves by conductances in double precision, so it loses digits where large and small ones meet at a node;
# up to this ratio it keeps 1e-8 V (6 V * 2.2e-16 * 3e6 is 4e-9 V). Beyond it exact fractions are the reference.
WIDEST_RATIO = 3e6
HEALTHY = {"signal_ohm": 0.2, "return_ohm": 0.3, "leak_ground_ohm": None, "leak_battery_ohm": None, "ground_v": 0.0}
NODES = ("pin", "plug", "ret")

pytestmark = pytest.mark.ngspice


def draw_circuits(seed):
    """Circuits of 50 milliohm to 1 gigaohm, one or two faults, whose ohms lie within WIDEST_RATIO of each other."""
    rng = np.random.default_rng(seed)
    circuits = []
    while len(circuits) < COUNT:
        middle = rng.uniform(np.log(LOW_OHM * 1e3), np.log(HIGH_OHM / 1e3))
        half = np.log(WIDEST_RATIO) / 2
        low, high = max(middle - half, np.log(LOW_OHM)), min(middle + half, np.log(HIGH_OHM))

        def ohms(low=low, high=high):
            return float(np.exp(rng.uniform(low, high)))
        circuit = {"open_v": float(rng.uniform(3.0, 5.5)), "battery_v": float(rng.uniform(9.0, 28.0)),
                   "source_ohm": ohms(), "element_ohm": ohms(), **HEALTHY}
        # Healthy wires scale with the rest, so that the ratio holds for high-ohm circuits too.
        circuit["signal_ohm"], circuit["return_ohm"] = (max(v, float(np.exp(low))) for v in (0.2, 0.3))
        for name in rng.choice(list(HEALTHY), size=rng.integers(1, 3), replace=False):
            circuit[str(name)] = float(rng.uniform(-0.5, 2.0)) if name == "ground_v" else ohms()
        circuits.append(circuit)
    return circuits


def netlist(circuits):
    """The lines of all circuits side by side; a missing leak is a missing resistor."""
    lines = []
    for i, c in enumerate(circuits):
        lines += [f"vo{i} open{i} 0 {c['open_v']!r}", f"vb{i} bat{i} 0 {c['battery_v']!r}",
                  f"vg{i} gnd{i} 0 {c['ground_v']!r}", f"rs{i} open{i} pin{i} {c['source_ohm']!r}",
                  f"rw{i} pin{i} plug{i} {c['signal_ohm']!r}", f"re{i} plug{i} ret{i} {c['element_ohm']!r}",
                  f"rr{i} ret{i} gnd{i} {c['return_ohm']!r}"]
        if c["leak_ground_ohm"] is not None:
            lines.append(f"rlg{i} plug{i} 0 {c['leak_ground_ohm']!r}")
        if c["leak_battery_ohm"] is not None:
            lines.append(f"rlb{i} plug{i} bat{i} {c['leak_battery_ohm']!r}")
    return lines


@pytest.fixture(scope="module")
def compared(spice):
    """(circuits, volts by ngspice of shape (circuit, node)): one process for all."""
    circuits = draw_circuits(seed=5)
    found = spice(netlist(circuits), [f"{node}{i}" for i in range(COUNT) for node in NODES])
    return circuits, np.reshape(found, (COUNT, len(NODES)))


def test_solve_agrees_with_ngspice_on_500_faulted_circuits(compared):
    circuits, volts = compared
    given = {name: np.array([c[name] if c[name] is not None else 1e30 for c in circuits]) for name in circuits[0]}
    error = np.abs(np.stack(solve(**given), axis=1) - volts)
    worst = int(np.argmax(error.max(axis=1)))
    assert float(error.max()) < 1e-8, (float(error.max()), circuits[worst])


def test_the_compared_circuits_hold_every_fault_and_a_wide_range(compared):
    circuits, volts = compared
    for name, healthy in HEALTHY.items():
        assert sum(c[name] != healthy for c in circuits) >= 100
    elements = [c["element_ohm"] for c in circuits]
    assert min(elements) < 1.0
    assert max(elements) > 1e8
    assert np.all(np.isfinite(volts))
