"""Owns the proof of what numbers are compared with when a row is fitted, and that no row is given up that would have come back.

Identities, no source: what comes and goes is there or is not, one of two pull-ups is on, and whichever of these the number looks
more like is what it is held against, as sharply as that one can be read.
"""

from dataclasses import replace

import numpy as np
import pytest

from engine import proposal, wanted
from engine.gauss_newton import off_all
from engine.likelihood import Evidence, numbers_of
from engine.model import Model
from engine.readings import Reading
from engine.seen import BRANCH
from engine.unknowns import Z, Z_NAMES
from tests.loaded import KB

from .accuracy_circuits import setup

SHARE = np.array([[0.4]])
# Made up, since what is proven is that one engine agrees with itself: a needle that rests, 7 V at the plug, and ohms of a full tank.
NEEDLE = (("as-found", {"shows": 55}), ("unplugged", {"shows": 0}), ("substitute", {"ohm": 1500, "shows": 0}), ("look", {"good": True}),
          ("plug-volts", {"signal_to_return_v": 7.39, "signal_to_battery_v": 7.41}), ("substitute", {"ohm": 400, "shows": 0}),
          ("sensor-ohms", {"ohms": 31.9, "at": {"value": 91.5, "unit": "percent"}}))


def off(model, fault, readings, z=None):
    """How far the numbers of `readings` are off (k,) under `fault`, the unknowns at their means but for `z`."""
    evidence = Evidence(model, readings)
    row = np.array([k for k, kind in enumerate(model.kinds) if kind.id == fault][:1])
    point = np.zeros((1, 1, len(Z_NAMES)))
    for name, value in (z or {}).items():
        point[..., getattr(Z, name)] = value
    return off_all(numbers_of(evidence, evidence.active), row, SHARE, point[..., evidence.active])[0, 0]


@pytest.mark.parametrize("true", [-0.6, 0.0, 0.8])
def test_what_comes_and_goes_is_held_against_the_circuit_it_looks_more_like(true):
    model = Model(setup(faults=("plug-open", "plug-loose", "beside")))
    for shows, like in ((24.0, "beside"), (-38.0, "plug-open")):
        readings = (Reading("as-found", shows=shows, unit="degC"),)
        assert off(model, "plug-loose", readings, {"true": true}) == pytest.approx(off(model, like, readings, {"true": true}), abs=1e-9)
    assert abs(off(model, "plug-loose", (Reading("as-found", shows=24.0, unit="degC"),))[0]) > 0.1


def test_a_number_is_held_against_the_pull_up_it_was_read_on():
    # Where the return is raised, one and the same resistor is read as two temperatures.
    told = setup(faults=("return-raised", "sensor-open"))
    model = Model(replace(told, circuit=replace(told.circuit, second_source_ohm=350.0, switch_at_c=50.0)))
    row, z, apart = np.array([k for k, kind in enumerate(model.kinds) if kind.id == "return-raised"]), np.zeros((1, 1, len(Z_NAMES))), []
    for ohm in (600.0, 700.0, 800.0, 900.0, 1000.0):
        shown = [Evidence(model, (Reading("substitute", ohm=ohm),)).shown(SHARE, z, row, above=np.full((1, 1), above)) for above in (2.0, -1.0)]
        numbers = [float(one.value[0, 0, 0]) for one in shown]
        if 0.02 < shown[0].seen[BRANCH][0, 0, 0] < 0.98:
            apart.append(abs(numbers[0] - numbers[1]))
            for number in numbers:
                # What is shown is cut off: half a whole number lies beyond it.
                assert abs(off(model, "return-raised", (Reading("substitute", ohm=ohm, shows=number - 0.5, unit="degC"),))[0]) < 1.0
    assert apart and min(apart) > 3.0


def test_no_row_of_a_needle_is_given_up_that_would_have_come_back(monkeypatch):
    job = KB.job("fuel-level-gauge", circuit={}, surroundings={"value": -2, "unit": "degC"})
    for test, typed in NEEDLE:
        job = job.record(test, **typed)
    found = job.belief.by_fault()
    monkeypatch.setattr(proposal, "ROUNDS_OF_NEEDLE", tuple((heat, 10.0 * behind) for heat, behind in proposal.ROUNDS_OF_NEEDLE))
    every = job.without(0).record(*NEEDLE[0][:1], **NEEDLE[0][1]).belief.by_fault()
    assert 0.5 * sum(abs(found.get(fault, 0.0) - chance) for fault, chance in every.items()) < 0.05


# Made up as well: a lone number that a wire which comes and goes explains, and one that only a module's other curve does.
RARE = {
    "signal-intermittent": ("battery-temperature", {"circuit": {}}, (
        ("as-found", {"shows": -40}), ("shorted", {"shows": -40}), ("substitute-to-chassis", {"ohm": 1300, "shows": 76, "signal_to_return_v": 0.512}))),
    "module-wrong-curve": ("evaporator-temperature", {
        "circuit": {"reference_v": 5.0, "pull_up_ohm": 20000, "curve": "ntc-4900-20c-evaporator", "bits": 10, "low_limit_v": 0.15, "high_limit_v": 4.85},
        "surroundings": {"value": 22.5, "unit": "degC"}, "complaint": ["P0538"]}, (
        ("shorted", {"shows": 156}), ("as-found", {"shows": 43}), ("sensor-ohms", {"ohms": 4228}),
        ("plug-volts", {"signal_to_return_v": 4.976, "signal_to_battery_v": 4.976}), ("live-number", {"shows": [30, 215]})))}


@pytest.mark.parametrize("fault", RARE)
def test_what_a_fit_misses_is_found_by_first_draws(fault, monkeypatch):
    sensor, head, readings = RARE[fault]
    job = KB.job(sensor, **head)
    for test, typed in readings:
        job = job.record(test, **typed)
    found = job.belief.by_fault()[fault]
    monkeypatch.setattr(wanted, "FIRST", ((0.0, 8192),))
    many = job.without(0).record(readings[0][0], **readings[0][1]).belief.by_fault()[fault]
    assert many > 0.01 and found == pytest.approx(many, rel=0.4)
