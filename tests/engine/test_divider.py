"""Owns the comparison of the three-wire circuit with exact fractions, node by node, and of its rules with published ones."""

from fractions import Fraction

import numpy as np
import pytest

from engine.circuit import feed, pin_volts
from engine.divider import Rail, divided, effective_supply_v, loaded, open_plug, put_out, return_is_bad, return_ohm_of


def solved(edges, fixed):
    """Exact node volts by Gauss-Jordan: `edges` (node, node, ohms), `fixed` {node: volts}."""
    free = sorted({node for edge in edges for node in edge[:2]} - set(fixed))
    rows = []
    for node in free:
        row = {other: Fraction(0) for other in free}
        right = Fraction(0)
        for a, b, ohm in edges:
            if node in (a, b):
                other = b if node == a else a
                siemens = 1 / Fraction(ohm)
                row[node] += siemens
                if other in fixed:
                    right += siemens * Fraction(fixed[other])
                else:
                    row[other] -= siemens
        rows.append([row[other] for other in free] + [right])
    for i in range(len(free)):
        pivot = next(k for k in range(i, len(free)) if rows[k][i] != 0)
        rows[i], rows[pivot] = rows[pivot], rows[i]
        rows[i] = [x / rows[i][i] for x in rows[i]]
        for k in range(len(free)):
            if k != i and rows[k][i] != 0:
                rows[k] = [x - rows[k][i] * y for x, y in zip(rows[k], rows[i], strict=True)]
    return {node: row[-1] for node, row in zip(free, rows, strict=True)}


@pytest.mark.parametrize("seed", range(40))
def test_a_track_on_a_loaded_input_is_exact(seed):
    rng = np.random.default_rng(seed)
    ohms = np.exp(rng.uniform(np.log(0.1), np.log(1e7), 7))
    supply_ohm, return_ohm, load_ohm, wire_ohm, wiper_ohm, leak_ohm, track_ohm = (float(x) for x in ohms)
    ratio, supply_v, lifted_v, pull_v = float(rng.uniform(0.01, 0.99)), 5.0, float(rng.uniform(0, 1)), float(rng.choice([0.0, 5.0]))
    fed = feed(pull_v, load_ohm, wire_ohm, 1.0 / leak_ohm, 12.6 / leak_ohm)
    found = divided(Rail(supply_v, supply_ohm, lifted_v, return_ohm), fed, ratio, track_ohm, wiper_ohm)
    exact = solved([("vs", "p", supply_ohm), ("p", "t", (1.0 - ratio) * track_ohm), ("t", "r", ratio * track_ohm),
                    ("r", "vr", return_ohm), ("t", "w", wiper_ohm), ("w", "pin", wire_ohm), ("pin", "pull", load_ohm),
                    ("w", "battery", leak_ohm)],
                   {"vs": supply_v, "vr": lifted_v, "pull": pull_v, "battery": 12.6})
    assert float(found.signal_v) == pytest.approx(float(exact["w"]), abs=1e-9)
    assert float(found.supply_v) == pytest.approx(float(exact["p"]), abs=1e-9)
    assert float(found.return_v) == pytest.approx(float(exact["r"]), abs=1e-9)
    assert float(pin_volts(fed, found.signal_v)) == pytest.approx(float(exact["pin"]), abs=1e-9)


@pytest.mark.parametrize("where", ["supply", "return"])
@pytest.mark.parametrize("seed", range(10))
def test_a_rail_others_draw_from_is_exact_with_ohms_on_either_side(seed, where):
    rng = np.random.default_rng(seed)
    ohm, others_ohm, track_ohm, load_ohm = (float(x) for x in np.exp(rng.uniform(np.log(30.0), np.log(1e6), 4)))
    ohms = (ohm, 0.0) if where == "supply" else (0.0, ohm)
    rail = loaded(Rail(5.0, ohms[0], 0.2, ohms[1]), others_ohm)
    found = divided(rail, feed(0.0, load_ohm, 0.0), 0.4, track_ohm, 50.0)
    track = [("p", "t", 0.6 * track_ohm), ("t", "r", 0.4 * track_ohm), ("t", "w", 50.0), ("w", "ground", load_ohm)]
    if where == "supply":
        exact = solved([("vs", "p", ohm), ("p", "r", others_ohm), *track], {"vs": 5.0, "r": 0.2, "ground": 0.0})
    else:
        exact = solved([("r", "vr", ohm), ("p", "r", others_ohm), *track], {"p": 5.0, "vr": 0.2, "ground": 0.0})
    assert float(found.signal_v) == pytest.approx(float(exact["w"]), abs=1e-9)


@pytest.mark.parametrize("seed", range(10))
def test_an_output_stage_takes_its_current_and_puts_out_its_share(seed):
    rng = np.random.default_rng(seed)
    supply_ohm, return_ohm, load_ohm = (float(x) for x in np.exp(rng.uniform(np.log(0.1), np.log(1e4), 3)))
    found = put_out(Rail(5.0, supply_ohm, 0.0, return_ohm), feed(0.0, 3e5, 0.2), 0.4, load_ohm)
    exact = solved([("vs", "p", supply_ohm), ("p", "r", load_ohm), ("r", "vr", return_ohm)], {"vs": 5.0, "vr": 0.0})
    assert float(found.supply_v) == pytest.approx(float(exact["p"]), abs=1e-9)
    assert float(found.return_v) == pytest.approx(float(exact["r"]), abs=1e-9)
    given = float(exact["r"]) + 0.4 * float(exact["p"] - exact["r"])
    assert float(found.signal_v) == pytest.approx(given * (3e5 + 0.2) / (3e5 + 0.2 + 100.0), abs=1e-9)


def test_a_10_kohm_track_with_1_kohm_in_its_wiper_on_100_kohm_turns_half_into_0_483():
    found = divided(Rail(5.0, 0.0, 0.0, 0.0), feed(0.0, 1e5, 0.0), 0.5, 10e3, 1e3)
    assert float(found.signal_v) / 5.0 == pytest.approx(0.483, abs=5e-4)


def test_the_open_plug_shows_which_way_the_input_pulls_and_a_feed_through_lifts_a_pulled_down_one():
    rail = Rail(5.0, 0.5, 0.0, 0.3)
    assert float(open_plug(rail, feed(0.0, 3e5, 0.2)).signal_v) == 0.0
    assert float(open_plug(rail, feed(5.0, 3e5, 0.2)).signal_v) == pytest.approx(5.0)
    assert float(open_plug(rail, feed(0.0, 3e5, 0.2), 5000.0).signal_v) == pytest.approx(5.0 * 3e5 / 305e3, rel=1e-4)
    # A grounded signal wire takes a milliampere, and the supply stands.
    grounded = open_plug(rail, feed(0.0, 3e5, 0.2, 1.0 / 0.5), 5000.0)
    assert float(grounded.signal_v) < 0.01 and float(grounded.supply_v) == pytest.approx(5.0, abs=0.001)


def test_a_track_s_own_current_sags_a_supply_that_is_fine_unloaded():
    rail = Rail(5.0, 2000.0, 0.0, 0.3)
    assert float(open_plug(rail, feed(0.0, 3e5, 0.2)).supply_v) == 5.0
    found = divided(rail, feed(0.0, 3e5, 0.2), 0.5, 5000.0, 50.0)
    assert float(found.supply_v) == pytest.approx(5.0 * 5000 / 7000, abs=0.01)
    # What the share implies is what is really across the track.
    assert effective_supply_v(float(found.signal_v), 0.5) == pytest.approx(float(found.supply_v), abs=0.03)


def test_a_bad_return_is_what_is_missing_between_two_readings_of_the_supply_as_ohms():
    # 5 kohm track, 5.00 V to battery negative, 4.55 V to the return: 0.45 V at 0.91 mA.
    assert return_ohm_of(4.55, 5.0, 5000.0) == pytest.approx(494.5, abs=0.1)
    assert return_is_bad(4.55, 5.0) and not return_is_bad(4.97, 5.0)
    # The module ground's own 0.06 V is no return's fault.
    assert return_is_bad(4.92, 5.0) and not return_is_bad(4.92, 5.0, ground_v=0.06)
