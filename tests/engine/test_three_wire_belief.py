"""Owns the comparison of belief on three-wire jobs with plain draws from before measuring, and of its predictions with limits."""

import numpy as np
import pytest

from engine.module import pack_typed, shown_density
from engine.points import shown_on
from engine.procedures import hookup
from engine.quantities import TEMPERATURE
from engine.readings import Reading
from engine.terms import Term, stood
from engine.unknowns import Z_NAMES

DRAWS = 6000
CASES = [("throttle-position", {"line": "throttle-050-425", "pull": "down"}, [("as-found", {"shows": 0.0}), ("feed-through", {"shows": 100.0})]),
         ("throttle-position", {"line": "throttle-050-425"}, [("supply-volts", {"supply_to_return_v": 4.1, "supply_to_battery_v": 5.0})]),
         ("manifold-pressure", {"line": "map-20-250", "pull": "down"}, [("as-found", {"shows": 20.0}), ("divide", {"ratio": 0.5, "shows": 133.0})])]


@pytest.mark.parametrize(("sensor", "circuit", "readings"), CASES)
def test_chances_agree_with_plain_draws(kb, sensor, circuit, readings):
    job = kb.job(sensor, circuit=circuit)
    for test, typed in readings:
        job = job.record(test, **typed)
    model, rng = job.model, np.random.default_rng(5)
    rows = np.arange(len(model))
    share = rng.random((len(rows), DRAWS))
    z = rng.normal(size=(len(rows), DRAWS, len(Z_NAMES)))
    ln = np.log(np.exp(job.belief.evidence.weigh(share, z, rows)).mean(axis=1)) + model.ln_chance
    plain = np.exp(ln - ln.max())
    plain /= plain.sum()
    for place in np.unique(model.locations):
        assert job.belief.by_location()[place] == pytest.approx(plain[model.locations == place].sum(), abs=0.04), place


def shown(job, test, **typed):
    """What a healthy circuit shows in a test, every unknown at its middle."""
    model = job.model
    rows = np.flatnonzero([kind.effect == "temperature-true" for kind in model.kinds])[:1]
    share, z = np.zeros((1, 1)), np.zeros((1, 1, len(Z_NAMES)))
    kind = next(kind for kind in job.tests if kind.id == test)
    found = shown_on(model.circuit, hookup((kind,), (Reading(test, **typed),), 10e3), rows, share, z)
    return float(found.value[0, 0, 0]), found


def test_a_circuit_in_order_shows_its_own_line(kb):
    job = kb.job("throttle-position", circuit={"line": "throttle-050-425", "pull": "down", "input_ohm": 1e6}, surroundings={"value": 0, "unit": "percent"})
    assert shown(job, "as-found")[0] == pytest.approx(0.0, abs=0.3)
    assert shown(job, "other-stop")[0] == pytest.approx(100.0, abs=0.3)
    assert shown(job, "divide", ratio=0.475)[0] == pytest.approx(50.0, abs=0.4)
    assert shown(job, "unplugged")[0] == pytest.approx(-13.3, abs=0.1)
    value, found = shown(job, "supply-volts", supply_to_return_v=5.0, supply_to_battery_v=5.0)
    assert float(found.volts("supply-return", 0)[0, 0]) == pytest.approx(5.0, abs=0.01)
    up = kb.job("throttle-position", circuit={"line": "throttle-050-425", "pull": "up", "input_ohm": 1e5})
    assert shown(up, "unplugged")[0] == pytest.approx(120.0, abs=0.1)


def test_a_display_of_the_share_itself_has_stops_of_its_own(kb):
    job = kb.job("throttle-position", circuit={"line": "position-absolute", "pull": "down", "input_ohm": 1e6})
    assert shown(job, "as-found")[0] == pytest.approx(13.0, abs=0.3) and shown(job, "other-stop")[0] == pytest.approx(83.0, abs=0.5)


def test_an_output_stage_is_at_the_day_s_air_pressure_at_key_on(kb):
    job = kb.job("manifold-pressure", circuit={"line": "map-20-250", "pull": "down"}, surroundings={"value": 97, "unit": "kPa"})
    assert shown(job, "as-found")[0] == pytest.approx(97.0, abs=0.5)
    assert shown(job, "barometer", at=(101.0, "kPa"))[0] == pytest.approx(101.0, abs=0.5)


@pytest.mark.parametrize(("fault", "supply_to_return_v", "supply_to_battery_v"), [
    ("three-supply-open", 0.0, 0.0), ("three-return-open", 0.0, 5.0), ("rail-supply-open", 0.0, 0.0), ("rail-return-open", 0.0, 5.0)])
def test_the_meter_is_all_that_loads_a_broken_wire_on_the_open_plug(kb, fault, supply_to_return_v, supply_to_battery_v):
    model = kb.job("throttle-position", circuit={"line": "throttle-050-425", "pull": "down"}).model
    rows = np.flatnonzero([kind.id == fault for kind in model.kinds])[:1]
    share, z = np.ones((1, 1)), np.zeros((1, 1, len(Z_NAMES)))
    kind = next(kind for kind in model.setup.tests if kind.id == "plug-volts")
    found = shown_on(model.circuit, hookup((kind,), (Reading("plug-volts", supply_to_return_v=0.0),), 10e3), rows, share, z)
    assert float(found.volts("supply-return", 0)[0, 0]) == pytest.approx(supply_to_return_v, abs=0.06)
    assert float(found.volts("supply-battery", 0)[0, 0]) == pytest.approx(supply_to_battery_v, abs=0.06)


def test_a_supply_is_proven_by_its_loaded_volts_and_once_with_the_sensor_off(kb):
    job = kb.job("throttle-position", complaint=["P0122", "P0107"], circuit={"line": "throttle-050-425", "pull": "down"})
    seen = job.record("signal-volts", signal_to_return_v=0.06, supply_to_return_v=0.6)
    assert seen.record("divide", ratio=0.5, shows=0).verdict().state == "found"
    assert seen.record("divide", ratio=0.5, shows=0).verdict().location == "supply"
    untold = job.record("signal-volts", signal_to_return_v=0.06).record("plug-volts", supply_to_battery_v=0.6, signal_to_battery_v=0.0)
    assert untold.verdict().missing_proof == ("volts",)


@pytest.mark.parametrize(("low_with_the_stand_in_too", "place"), [(True, "supply"), (False, "sensor")])
def test_a_known_load_in_the_sensor_s_place_tells_a_weak_supply_from_a_sensor_that_draws_too_much(kb, low_with_the_stand_in_too, place):
    # The signal is a tenth of the supply, as line throttle-050-425 has it closed. A supply of 600 ohm under a 4 kohm track, and under the 10 kohm stand-in (Ohm's law): 4.35 V and 4.72 V of 5 V.
    job = kb.job("throttle-position", complaint=["P0121"], circuit={"line": "throttle-050-425", "pull": "down"},
                 stand_in={"kind": "potentiometer", "end_to_end_ohm": 10e3})
    job = job.record("signal-volts", signal_to_return_v=0.43, supply_to_return_v=4.35, supply_to_battery_v=4.35)
    before = job.verdict().locations
    assert job.verdict().state == "open" and before["supply"] + before["sensor"] > 0.95
    volts = 4.72 if low_with_the_stand_in_too else 5.0
    after = job.record("loaded-supply", supply_to_return_v=volts, supply_to_battery_v=volts).verdict()
    assert after.locations[place] > 0.95


def test_an_output_stage_on_an_open_return_may_float_some_hundredths_of_a_volt(kb):
    # Its output keeps what the module's pull-down of 100 kohm draws, through its own kohm or so: 5 V / 100 = 0.05 V (Ohm's law).
    job = kb.job("manifold-pressure", complaint=["P0108"], circuit={"line": "map-20-250", "pull": "down"})
    job = job.record("signal-volts", signal_to_return_v=0.04, supply_to_return_v=0.05, supply_to_battery_v=5.0)
    # At the module 0.24 of the supply: 20 + 230 x (0.24 - 0.04) / 0.92 = 70 kPa on that line (its two published points).
    job = job.record("return-ohms", ohms="open").record("substitute-at-module", ratio=0.24, shows=70)
    verdict = job.verdict()
    assert (verdict.state, verdict.location) == ("found", "return")


def test_a_number_that_another_went_beyond_is_no_end_of_the_scale():
    # An item shows one top: 124 beside 130 is no "at least 124" (common practice, no source).
    one, other = Term(0, "shows", 124.0, 124.0), Term(1, "shows", 130.0, 130.0)
    assert stood(one, (one,), TEMPERATURE) == 1 and stood(other, (one, other), TEMPERATURE) == 1
    assert stood(one, (one, other), TEMPERATURE) == 0
    far = shown_density(pack_typed(124.0), 300.0, 1.0, 0.0)
    assert shown_density(pack_typed(124.0, stood=0), 300.0, 1.0, 0.0) < 0.1 * far
