"""Owns the proof that a job solves each different hook-up once, and that leaving out what nothing hangs on moves nothing."""

import numpy as np
import pytest

from engine.information import Candidate, forecast
from engine.likelihood import Evidence
from engine.model import canonical
from engine.procedures import Hookup
from engine.readings import Reading as R
from engine.unknowns import Z_NAMES

COLD = (20.0, "degC")
READINGS = canonical((
    R("as-found", shows=12.0), R("substitute", ohm=330.0, shows=80.0), R("substitute", ohm=2500.0, shows=20.0, signal_to_return_v=2.6),
    R("substitute-to-chassis", ohm=330.0, shows=80.0), R("unplugged", shows="minimum"), R("shorted", shows=(60.0, 70.0)),
    R("plug-volts", signal_to_return_v=5.0), R("sensor-ohms", ohms=2500.0, at=COLD), R("return-ohms", ohms=0.4),
    R("look", good=True), R("terminal-fit", good=True), R("wiggle", shows="jumps", good=False)))


@pytest.fixture(scope="module")
def model(kb):
    return kb.job("coolant-temperature", ["P0118"]).model


def drawn(model, seed):
    rng, rows = np.random.default_rng(seed), np.arange(len(model))
    return rng.random((len(rows), 7)), rng.standard_normal((len(rows), 7, len(Z_NAMES))), rows


def test_what_cannot_be_told_apart_is_solved_once(model):
    evidence = Evidence(model, READINGS)
    place = {reading.test: evidence.hooked.place.get(i) for i, reading in enumerate(READINGS)}
    assert evidence.hooked.plugged == place["as-found"]
    assert all(place[name] is None for name in ("look", "terminal-fit", "return-ohms"))
    # As found, two substitutions (one with a meter on), one to the chassis, unplugged, shorted, plug volts, the sensor's own
    # ohms at 20 degC and wiggle; then both values that the sign stands for.
    assert len(evidence.hooked.hook) == 9 + 2
    # The unplugged one carries a word, wiggle no number: no slope is asked of them.
    assert len(evidence.hooked.numeric) == 7


@pytest.mark.parametrize("sensor", ["coolant-temperature", "fuel-level", "throttle-position"])
def test_each_reading_is_judged_as_if_it_stood_alone(kb, sensor):
    job = kb.job(sensor)
    admitted = {test.id for test in job.tests}
    readings = tuple(r for r in READINGS if r.test in admitted)
    together, at = Evidence(job.model, readings), drawn(job.model, 1)
    shown = together.shown(*at)
    for i, reading in enumerate(readings):
        alone = Evidence(job.model, (reading,))
        if i in together.hooked.place:
            assert np.array_equal(shown.value[together.hooked.place[i]], alone.shown(*at).value[alone.hooked.place[0]]), reading


def test_a_number_read_too_soon_is_part_of_the_way_from_the_plugged_one(model):
    early = np.array([k for k, kind in enumerate(model.kinds) if kind.effect == "too-soon"])
    share, z, _ = (part[early] for part in drawn(model, 2))
    readings = (R("as-found", shows=12.0), R("unplugged", shows=-40.0))
    evidence = Evidence(model, readings)
    # The same hook-ups under another name: what stands there at last.
    value, there = (evidence.shown(share, z, early, hook=hook).value for hook in (None, Hookup(*evidence.hooked.hook)))
    plugged, unplugged = (evidence.hooked.place[i] for i in (0, 1))
    late = model.severity(share, early)
    assert value[unplugged] == pytest.approx(there[plugged] + late * (there[unplugged] - there[plugged]), rel=1e-5)


@pytest.mark.parametrize("sensor", ["coolant-temperature", "fuel-level", "throttle-position"])
def test_what_is_judged_by_eye_is_forecast_without_a_circuit(kb, sensor):
    job = kb.job(sensor)
    (look,) = (test for test in job.tests if test.id == "look")
    ahead = forecast(job.belief, (Candidate(look, None),))
    bad = dict(look.bad)
    kinds = [job.model.kinds[row].id for row in ahead.rows]
    assert ahead.outcome[0, :, 0] == pytest.approx([bad.get(id, look.false_alarm) for id in kinds])
    assert ahead.outcome[0, :, :2].sum(axis=1) == pytest.approx(np.ones(len(kinds)))
