"""Checks of the bench itself: its netlist, vehicles and figures against hand arithmetic and published numbers."""

import ast
import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from .circuits import NOMINAL_REFERENCE_V
from .eyes import GAUGE_ONLY, MINUTES
from .faults import FAULT_KINDS
from .figures import calibration, interval, upper_bound
from .long_run import run as run_numbers
from .netlist import Netlist
from .physics import PLUG, largest_error_k, pin_fraction, solve
from .strange import PAIRS, UNLISTED, mistyped, unlisted_vehicle
from .thermistor import Thermistor
from .vehicle import Vehicle


def healthy_wiring(**changes):
    """A vehicle's wiring with every error taken out, so that hand arithmetic applies."""
    wiring = Vehicle(1, "set-up-wrong-unit").wiring
    ideal = {
        "supply_v": 5.0, "reference_v": 5.0, "module_ground_v": 0.0, "chassis_v": 0.0, "signal_ohm": 0.0,
        "return_ohm": 0.0, "contact_ohm": 0.0,
    }
    return replace(wiring, **{**ideal, **changes})


def test_a_divider_halves_and_thirds():
    net = Netlist("ground")
    net.source("top", "ground", 9.0)
    net.resistor("top", "middle", 1000.0)
    net.resistor("middle", "ground", 500.0)
    assert net.volts()["middle"] == pytest.approx(3.0, abs=1e-8)


def test_a_loaded_divider_is_the_textbook_figure():
    # 10 k track at half, 1 k wiper lead, 100 k input: 0.483 of the supply, not 0.500.
    net = Netlist("ground")
    net.source("top", "ground", 1.0)
    net.resistor("top", "wiper", 5000.0)
    net.resistor("wiper", "ground", 5000.0)
    net.resistor("wiper", "input", 1000.0)
    net.resistor("input", "ground", 100000.0)
    assert net.volts()["input"] == pytest.approx(0.483, abs=5e-4)


def test_a_balanced_wheatstone_bridge_has_nothing_across_it():
    net = _bridge(unknown_ohm=300.0)
    assert net.volts()["left"] == pytest.approx(net.volts()["right"], abs=1e-8)


def test_an_unbalanced_wheatstone_bridge():
    # 100/200 on the left, 150/330 on the right at 12 V: 8 V and 8.25 V where the branch is 1 Gohm.
    volts = _bridge(unknown_ohm=330.0).volts()
    assert volts["right"] - volts["left"] == pytest.approx(0.25, abs=1e-5)


def _bridge(unknown_ohm):
    net = Netlist("bottom")
    net.source("top", "bottom", 12.0)
    net.resistor("top", "left", 100.0)
    net.resistor("left", "bottom", 200.0)
    net.resistor("top", "right", 150.0)
    net.resistor("right", "bottom", unknown_ohm)
    net.resistor("left", "right", 1e9)
    return net


def test_an_ohmmeter_reads_parallel_and_series_and_refuses_a_fed_network():
    net = Netlist("ground")
    net.resistor("a", "b", 300.0)
    net.resistor("a", "b", 600.0)
    net.resistor("b", "ground", 50.0)
    assert net.ohms_between("a", "ground") == pytest.approx(250.0, rel=1e-9)
    net.source("a", "ground", 5.0)
    with pytest.raises(ValueError, match="nothing else feeds"):
        net.ohms_between("a", "ground")


@pytest.mark.parametrize(
    ("pull_up_ohm", "sensor_ohm", "volt"),
    [
        (1000.0, 2468.0, 3.56), (1000.0, 250.0, 1.000), (1000.0, 150.0, 0.652),
        (2740.0, 2468.0, 2.369), (2740.0, 250.0, 0.418),
    ],
)
def test_volts_of_published_input_tables(pull_up_ohm, sensor_ohm, volt):
    # Published service figures, coolant and intake input tables of one maker (202), (407).
    volts = solve(healthy_wiring(pull_up_ohm=pull_up_ohm, sensor_own_ohm=sensor_ohm))
    assert volts["pin"] == pytest.approx(volt, abs=2e-3)


def test_a_chassis_below_module_ground_reads_hotter_than_the_return():
    # 190 ohm on 2.2 k: chassis 0.1 V below module ground lowers the pin by 0.1 V * 2200 / 2390.
    wiring = healthy_wiring(pull_up_ohm=2200.0, chassis_v=-0.1)
    to_return = solve(wiring, sensor_fitted=False, stand_in=(*PLUG, 190.0))["pin"]
    to_chassis = solve(wiring, sensor_fitted=False, stand_in=("plug_signal", "chassis", 190.0))["pin"]
    assert to_return - to_chassis == pytest.approx(0.1 * 2200.0 / 2390.0, abs=1e-4)


def test_a_return_of_249_ohm_adds_to_the_sensor():
    # 330 + 249 ohm on 2.2 k: 5 V * 579 / 2779.
    wiring = healthy_wiring(pull_up_ohm=2200.0, sensor_own_ohm=330.0, return_ohm=249.0)
    assert solve(wiring)["pin"] == pytest.approx(5.0 * 579.0 / 2779.0, abs=1e-4)


def test_the_thermistor_law_goes_both_ways_and_is_exact_at_25():
    law = Thermistor(ohm_at_25=2500.0, beta_k=3700.0, bend_k2=-8e4)
    assert law.ohm(25.0) == pytest.approx(2500.0)
    # Hand arithmetic without bend: ln ratio at 80 degC is 3700 * (1/353.15 - 1/298.15) = -1.932726.
    straight = replace(law, bend_k2=0.0)
    assert straight.ohm(80.0) == pytest.approx(2500.0 * math.exp(-1.932726), rel=1e-5)
    for temperature_c in (-40.0, 0.0, 21.3, 90.0, 140.0):
        assert law.temperature_c(law.ohm(temperature_c)) == pytest.approx(temperature_c, abs=1e-3)


def test_a_healthy_vehicle_shows_its_own_temperature():
    for number in range(1, 40):
        vehicle = Vehicle(number, "set-up-ohm-for-kilohm")
        assert vehicle.answer("as-found")["shows"] == pytest.approx(vehicle.wiring.sensor_c, abs=3.0)
        assert abs(vehicle.wiring.sensor_c - vehicle.surroundings_c) < 4.0


def test_an_open_and_a_short_run_into_the_ends_or_the_default():
    for number in range(1, 40):
        vehicle = Vehicle(number, "plug-contact")
        module = vehicle.module
        cold, hot = vehicle.answer("unplugged")["shows"], vehicle.answer("shorted")["shows"]
        if module.default_c is None:
            assert (cold, hot) == (-40, module.hottest_c)
        else:
            assert (cold, hot) == (module.default_c, module.default_c)


@pytest.mark.parametrize("fault_id", FAULT_KINDS)
def test_every_fault_is_worth_a_complaint_and_answers_every_test(fault_id):
    for number in range(1, 6):
        vehicle = Vehicle(number, fault_id)
        if FAULT_KINDS[fault_id].visible_in_volts:
            assert largest_error_k(vehicle.module, vehicle.wiring) >= 6.0
        for test in sorted(set(MINUTES) - GAUGE_ONLY):
            ohm = 500.0 if test.startswith("substitute") else None
            assert vehicle.answer(test, ohm) == Vehicle(number, fault_id).answer(test, ohm)


def test_the_code_set_follows_from_the_volts():
    assert Vehicle(3, "sensor-open").complaint.endswith(("8", "3"))
    assert Vehicle(3, "sensor-shorted").complaint.endswith(("7", "2"))
    vehicle = Vehicle(3, "module-frozen")
    fraction = pin_fraction(vehicle.wiring, solve(vehicle.wiring))
    assert vehicle.module.low_limit_v < fraction * NOMINAL_REFERENCE_V < vehicle.module.high_limit_v


def test_the_upper_bound_is_the_published_rule_of_three_and_more():
    # None in 300 gives 1 - 0.05^(1/300) = 0.994 %; five in 100 gives 10.23 % (Clopper-Pearson tables).
    assert upper_bound(0, 300) == pytest.approx(1.0 - 0.05 ** (1.0 / 300.0), abs=1e-9)
    assert upper_bound(5, 100) == pytest.approx(0.1023, abs=2e-4)


def test_the_two_sided_interval_is_the_published_one():
    # Clopper-Pearson, 5 of 100 at 95 %: 1.64 % to 11.28 % (any table of exact binomial limits).
    low, high = interval(5, 100, 0.95)
    assert (low, high) == (pytest.approx(0.0164, abs=1e-4), pytest.approx(0.1128, abs=1e-4))
    assert interval(0, 10)[0] == 0.0
    assert interval(10, 10)[1] == 1.0


def test_a_calibration_table_tells_an_honest_claim_from_a_boast():
    honest, kept = calibration("honest", [(0.75, i % 4 != 0) for i in range(400)])
    assert kept, honest
    boast, kept = calibration("boast", [(0.95, i % 4 != 0) for i in range(400)])
    assert not kept, boast


def test_the_vehicles_take_nothing_from_the_engine():
    on_the_engine = {"drawn", "matched", "step", "test_bench_smoke", "test_drawn"}
    for path in Path(__file__).parent.glob("*.py"):
        if path.stem in on_the_engine:
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            names += [node.module] if isinstance(node, ast.ImportFrom) else []
            assert not any(name.split(".")[0] in {"engine", *on_the_engine} for name in names), path.name


def test_a_run_goes_on_where_it_was_stopped(tmp_path):
    out, asked = tmp_path / "part.jsonl", []

    def work(number):
        asked.append(number)
        return {"number": number, "square": number * number}

    run_numbers(work, range(1, 4), out=out, settings={"bench": "squares"})
    with out.open("a", encoding="utf-8") as file:
        file.write('{"number": 4, "squ')
    records = run_numbers(work, range(1, 6), out=out, settings={"bench": "squares"})
    assert asked == [1, 2, 3, 4, 5]
    assert [record["square"] for record in records] == [1, 4, 9, 16, 25]
    assert run_numbers(work, range(1, 6), out=out, settings={"bench": "squares"}) == records
    assert asked == [1, 2, 3, 4, 5]
    with pytest.raises(SystemExit, match="give another file"):
        run_numbers(work, range(1, 6), out=out, settings={"bench": "cubes"})


def test_short_circuit_current_is_volts_over_the_pull_up():
    # 5 V over 2.2 kohm and the ammeter's own 1.5 ohm: 2.271 mA.
    vehicle = Vehicle(1, "set-up-wrong-unit")
    still = vehicle.still(healthy_wiring(pull_up_ohm=2200.0), vehicle.module)
    assert still.answer("short-circuit-current")["signal_ma"] == pytest.approx(2.271, abs=0.006)


def test_water_in_the_plug_dries_up_when_it_is_unplugged():
    wiring = healthy_wiring(pull_up_ohm=1000.0, sensor_own_ohm=1000.0, plug_leak_ohm=1000.0)
    assert solve(wiring)["pin"] == pytest.approx(5.0 * 500.0 / 1500.0, abs=1e-3)
    assert solve(wiring, sensor_fitted=False, stand_in=(*PLUG, 1000.0))["pin"] == pytest.approx(2.5, abs=1e-3)


def test_another_supply_pulls_the_signal_up():
    # 5 V through 1 kohm beside the module's own 1 kohm: 500 ohm against a sensor of 500 ohm.
    wiring = healthy_wiring(pull_up_ohm=1000.0, sensor_own_ohm=500.0, feeds=((5.0, 1000.0),))
    assert solve(wiring)["pin"] == pytest.approx(2.5, abs=1e-3)


def test_a_filmed_contact_has_fewer_ohms_the_more_current_flows():
    film = {"pull_up_ohm": 1000.0, "contact_ohm": 2000.0, "contact_knee_a": 5e-4}
    ohms = []
    for sensor_ohm in (100.0, 10000.0):
        volts = solve(healthy_wiring(sensor_own_ohm=sensor_ohm, **film))
        ampere = (5.0 - volts["pin"]) / 1000.0
        ohms.append((volts["plug_signal"] - volts["sensor_signal"]) / ampere)
        assert ohms[-1] == pytest.approx(2000.0 / (1.0 + ampere / 5e-4), rel=1e-3)
    assert ohms[0] < ohms[1]


def test_a_fault_that_comes_and_goes_shows_in_some_readings_only():
    shown = [Vehicle(number, "plug-intermittent").answer("as-found")["shows"] for number in range(1, 60)]
    healthy = [vehicle.surroundings_c for vehicle in (Vehicle(n, "plug-intermittent") for n in range(1, 60))]
    in_order = sum(abs(a - b) < 6.0 for a, b in zip(shown, healthy, strict=True))
    assert 30 <= in_order <= 52


@pytest.mark.parametrize("number", range(2, 2 * len([*UNLISTED, *PAIRS]) + 1))
def test_an_unlisted_fault_is_worth_a_complaint(number):
    vehicle, wrong = unlisted_vehicle(number)
    assert largest_error_k(vehicle.module, vehicle.wiring) >= 6.0
    assert wrong


def test_what_a_hand_mistypes():
    rng = np.random.default_rng(1)
    assert mistyped({"good": True}, rng) is None
    ways = {json.dumps(mistyped({"shows": 20, "unit": "degC", "ohm": 330.0}, rng)) for _ in range(40)}
    assert '{"shows": 68, "unit": "degC", "ohm": 330.0}' in ways
    assert '{"shows": 20, "unit": "degC", "ohm": 0.33}' in ways
    assert mistyped({"ohms": 249.0}, rng) == {"ohms": 0.249}
