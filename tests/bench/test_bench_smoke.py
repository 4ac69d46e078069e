"""Checks of the bench itself, and a smoke run of ten vehicles through the tool.

The figures to quote come from `python -m tests.bench.run --vehicles 300`; ten vehicles only
show that the tool and the bench still understand each other.
"""

import ast
import math
from dataclasses import replace
from pathlib import Path

import pytest

from .circuits import NOMINAL_REFERENCE_V
from .faults import FAULT_KINDS
from .figures import minutes_ratio, report, share_found, share_wrong, upper_bound
from .netlist import Netlist
from .run import run
from .thermistor import Thermistor
from .vehicle import MINUTES, PLUG, Vehicle, largest_error_k, pin_fraction, solve


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
        for test in MINUTES:
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


def test_the_bench_takes_nothing_from_the_engine():
    for path in Path(__file__).parent.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            names += [node.module] if isinstance(node, ast.ImportFrom) else []
            assert not any(name.split(".")[0] == "engine" for name in names), path.name


def test_ten_vehicles_are_found_rightly_and_faster_than_in_class():
    pairs = run(range(1, 11), known=True, processes=1)
    advised = [pair[0] for pair in pairs]
    table = report(pairs, known=True)
    assert share_wrong(advised) == 0.0, table
    assert share_found(advised) >= 0.80, table
    assert minutes_ratio(pairs) <= 0.70, table
