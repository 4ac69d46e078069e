"""Owns the comparison of the three-wire circuit with ngspice: a track, an output stage, a divider or nothing on the plug.

Faults lie in every wire. An output stage puts out its share of what it is given, whatever the input takes from it.
"""

import numpy as np
import pytest

from engine.circuit import CHASSIS_OHM, METER_OHM
from engine.circuit_state import OTHER_SUPPLY_V, CircuitState
from engine.divider import FEED_THROUGH_OHM, OUTPUT_OHM, WIPER_OHM
from engine.grades import ROW
from engine.packed import JOB, pack_hooks
from engine.procedures import TestKind, hookup
from engine.readings import Reading
from engine.seen import BETWEEN as COLUMN, SHARE, WIDTH
from engine.three_wire import ACTIVE_ENDS, OF3, predict_three_wire

from .doubles import doubles

pytestmark = pytest.mark.ngspice

COUNT = 60
END_TO_END_OHM, BATTERY_V, SUPPLY_V, RATIO = 9400.0, 12.6, 5.0, 0.35
# Ohms from 50 milliohm to a meter's 10 megohm meet at one node, so ngspice keeps fewer digits than in the two-wire comparison.
AGREES_WITHIN_V = 2e-6
NOTHING_OHM, TRACK_CONTACT_OHM = 1e-6, 50.0
HEALTHY = {"supply_ohm": 0.5, "return_ohm": 0.3, "signal_ohm": 0.2, "plug_ohm": 0.05, "plug_supply_ohm": 0.05, "plug_return_ohm": 0.05,
           "wiper_ohm": 0.0, "top_ohm": 0.0, "bottom_ohm": 0.0, "leak_ground_ohm": 1e15, "leak_battery_ohm": 1e15,
           "leak_supply_ohm": 1e15, "return_v": 0.0, "module_ground_v": 0.0, "ratio_offset": 0.0}
BETWEEN = {"volts-return": ("sig", "ret"), "volts-battery": ("sig", "bat"), "supply-return": ("sup", "ret"),
           "supply-battery": ("sup", "bat"), "return-battery": ("ret", "bat")}
ALL_VOLTS = dict.fromkeys(("signal_to_return_v", "supply_to_return_v"), 1.0)
# What sits on the plug, where it leads, and the reading that says so.
DONE = (("sensor", "return", Reading("", **ALL_VOLTS)), ("divider", "return", Reading("", ratio=0.3, **ALL_VOLTS)),
        ("divider", "chassis", Reading("", ratio=0.7, **ALL_VOLTS)), ("divider", "module", Reading("", ratio=0.5, **ALL_VOLTS)),
        ("open", "return", Reading("", **ALL_VOLTS)), ("feed-through", "return", Reading("", **ALL_VOLTS)),
        ("output-stage", "return", Reading("", **ALL_VOLTS)))


@pytest.fixture(scope="module")
def drawn():
    """{what: values (2, COUNT)}: the first row's input is pulled down, the second's up; one to three faults each."""
    rng, shape = np.random.default_rng(11), (2, COUNT)
    found = {name: np.full(shape, healthy) for name, healthy in HEALTHY.items()}
    for at in np.ndindex(shape):
        for name in rng.choice(list(HEALTHY), size=rng.integers(1, 4), replace=False):
            low, high = (0.3, 1e6) if name.startswith("leak") else (0.1, 1e7)
            found[str(name)][at] = rng.uniform(-0.2, 1.5) if name in ("return_v", "module_ground_v", "ratio_offset") else np.exp(
                rng.uniform(np.log(low), np.log(high)))
    for name, low, high in (("load_ohm", 5e3, 1e6), ("track_ohm", 1e3, 1e4), ("supply_factor", 0.9, 1.1), ("ground_v", -0.05, 0.05)):
        found[name] = np.exp(rng.uniform(np.log(low), np.log(high), shape)) if low > 0 else rng.uniform(low, high, shape)
    return found


@pytest.fixture(scope="module")
def predicted(drawn):
    """What the engine puts into `seen` (2, COUNT, hook-up, .): shares at the converter, and what a meter shows between the pins."""
    tests = tuple(TestKind("", "", "sensor" if element == "output-stage" else element, to, "shows" if element == "divider" else "volts",
                           1.0, "", pins=3) for element, to, _ in DONE)
    hooks = doubles(pack_hooks(hookup(tests, tuple(reading for _, _, reading in DONE), END_TO_END_OHM)))
    stage = np.array([element == "output-stage" for element, _, _ in DONE])
    # An own line of offset 0 and slope 1: the quantity is the ratio itself.
    jobs, rows = doubles(np.zeros(2, JOB)), doubles(np.zeros(2, ROW))
    jobs["open_v"], jobs["battery_v"], jobs["end_to_end_ohm"], jobs["active"] = SUPPLY_V, BATTERY_V, END_TO_END_OHM, (False, True)
    rows["slope"], rows["clamp_high"], rows["rest"], rows["up"] = 1.0, 1.0, RATIO, (False, True)
    found = np.full((2, COUNT, len(DONE), WIDTH), np.nan)
    for at in np.ndindex((2, COUNT)):
        state, of = np.array(CircuitState(**{name: drawn[name][at] for name in HEALTHY})), np.zeros(len(OF3))
        of[[OF3.down_ohm, OF3.up_ohm]] = drawn["load_ohm"][at]
        for name in ("track_ohm", "supply_factor", "ground_v"):
            of[getattr(OF3, name)] = drawn[name][at]
        for job, asked in zip(jobs, (~stage, stage), strict=True):
            predict_three_wire(job, rows[at[0]], hooks, asked, state, of, found[at])
    return found


def circuit(name, drawn, at, element, to, ratio):
    """Netlist lines of one circuit without a meter; its nodes carry `name`."""
    value = {what: values[at] for what, values in drawn.items()}
    own_v, battery_v = SUPPLY_V * value["supply_factor"], value["ground_v"] - value["module_ground_v"]
    ends = {"chassis": (value["supply_ohm"], battery_v, CHASSIS_OHM), "module": (0.5, 0.0, 0.1)}
    supply_ohm, return_v, return_ohm = ends.get(to, (value["supply_ohm"], value["return_v"], value["return_ohm"]))
    parts = [("vs", "top", "0", own_v), ("vr", "low", "0", return_v), ("vb", "bat", "0", battery_v), ("vp", "pull", "0", own_v if at[0] else 0.0),
             ("rs", "top", "sup", supply_ohm), ("rr", "ret", "low", return_ohm), ("ri", "pull", "pin", value["load_ohm"]),
             ("rw", "pin", "sig", NOTHING_OHM if to == "module" else value["signal_ohm"])]
    if to != "module":
        parts += [("va", "other", "0", BATTERY_V - value["module_ground_v"]), ("vo", "five", "0", OTHER_SUPPLY_V),
                  ("rg", "sig", "0", value["leak_ground_ohm"]), ("rb", "sig", "other", value["leak_battery_ohm"]),
                  ("rf", "sig", "five", value["leak_supply_ohm"])]
    if element == "feed-through":
        parts.append(("rt", "sup", "sig", FEED_THROUGH_OHM))
    if element == "sensor":
        share = np.clip(RATIO + value["ratio_offset"], 0.0, 1.0)
        parts += [("rh", "sup", "tap", value["top_ohm"] + value["plug_supply_ohm"] + (1.0 - share) * value["track_ohm"]),
                  ("rl", "tap", "ret", value["bottom_ohm"] + value["plug_return_ohm"] + share * value["track_ohm"]),
                  ("rx", "tap", "sig", TRACK_CONTACT_OHM + value["plug_ohm"] + value["wiper_ohm"])]
    stage = []
    if element == "output-stage":
        share = np.clip(RATIO + value["ratio_offset"], *ACTIVE_ENDS)
        parts += [("rh", "sup", "fed", value["top_ohm"] + value["plug_supply_ohm"]), ("rl", "given", "ret", value["bottom_ohm"] + value["plug_return_ohm"]),
                  ("rt", "fed", "given", value["track_ohm"]), ("rx", "out", "sig", OUTPUT_OHM + value["plug_ohm"] + value["wiper_ohm"])]
        stage = [f"bo{name} out{name} 0 v={share:.17g}*v(fed{name})+{1.0 - share:.17g}*v(given{name})"]
    if element == "divider":
        parts += [("rh", "sup", "tap", (1.0 - ratio) * END_TO_END_OHM), ("rl", "tap", "ret", ratio * END_TO_END_OHM), ("rx", "tap", "sig", WIPER_OHM)]
    return stage + [f"{part}{name} {first}{name} {second if second == '0' else second + name} {number:.17g}" for part, first, second, number in parts]


@pytest.fixture(scope="module")
def compared(spice, drawn):
    """[(hook-up, row, sample, what is measured, volts by ngspice)]: one process for all circuits."""
    lines, asked = [], []
    for i, (element, to, reading) in enumerate(DONE):
        for at in np.ndindex((2, COUNT)):
            name = f"x{i}y{at[0]}z{at[1]}"
            lines += circuit(name, drawn, at, element, to, reading.ratio)
            # The signal is metered while the number is read, unless the meter sits at the module's own pins.
            if to != "module":
                lines.append(f"rm{name} sig{name} 0 {METER_OHM}")
            asked += [(i, *at, "share", f"pin{name}", None)]
            for what, (high, low) in BETWEEN.items():
                own = name
                if element in ("open", "feed-through"):
                    # Each pair of pins has the meter for itself there.
                    own = f"{name}{what.replace('-', '')}"
                    lines += [*circuit(own, drawn, at, element, to, reading.ratio), f"rm{own} {high}{own} {low}{own} {METER_OHM}"]
                asked.append((i, *at, what, f"{high}{own}", f"{low}{own}"))
    nodes = list(dict.fromkeys(node for one in asked for node in one[4:] if node))
    volts = dict(zip(nodes, spice(lines, nodes), strict=True))
    return [(i, f, s, what, volts[high] - (volts[low] if low else 0.0)) for i, f, s, what, high, low in asked]


def test_the_three_wire_circuit_agrees_with_ngspice_on_faults_of_every_wire(compared, predicted, drawn):
    worst = 0.0
    for i, f, s, what, volts in compared:
        if what == "share":
            own = SUPPLY_V * drawn["supply_factor"][f, s]
            mine, seen = predicted[f, s, i, SHARE], np.clip(volts / own, 1e-7, 1.0 - 1e-7)
        else:
            mine, seen = predicted[f, s, i, COLUMN[what]], volts
        assert mine == pytest.approx(seen, abs=AGREES_WITHIN_V), (DONE[i][:2], what, f, s, {n: float(v[f, s]) for n, v in drawn.items()})
        worst = max(worst, abs(mine - seen))
    assert len(compared) == 2 * COUNT * len(DONE) * 6 and worst > 0.0


def test_every_fault_was_drawn_and_the_volts_differ(compared, drawn):
    assert all((drawn[name] != healthy).sum() >= 10 for name, healthy in HEALTHY.items())
    assert np.std([volts for *_, what, volts in compared if what == "supply-return"]) > 0.5
