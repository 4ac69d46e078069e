"""Owns the proof that belief is a function of the set of readings: no order, no history, no chance in it."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from engine.belief import believe
from engine.job import Job
from engine.model import Model
from engine.readings import Reading

from .accuracy_circuits import setup

FEW = settings(max_examples=5, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
SETUP = setup(faults=("sensor-open", "sensor-high", "plug-contact", "signal-added", "signal-to-ground", "return-added",
                      "supply-low", "frozen", "true", "beside", "plug-loose"))
MODEL = Model(SETUP)
number = st.floats(-40.0, 140.0).map(lambda v: float(round(v)))
one = st.one_of(
    number.map(lambda v: Reading("as-found", shows=v)),
    st.sampled_from(("maximum", "minimum", "jumps", "did-not-move")).map(lambda w: Reading("unplugged", shows=w)),
    st.tuples(st.sampled_from((330.0, 2500.0)), number).map(lambda v: Reading("substitute", ohm=v[0], shows=v[1])),
    st.floats(0.0, 3.5).map(lambda v: Reading("return-ohms", ohms=round(10.0**v, 1))),
    st.floats(0.0, 5.0).map(lambda v: Reading("plug-volts", signal_to_return_v=round(v, 2))),
    st.booleans().map(lambda g: Reading("look", good=g)))
several = st.lists(one, min_size=1, max_size=5, unique=True).map(tuple)


def recorded(readings: tuple[Reading, ...]) -> Job:
    job = Job("made-up", (), SETUP, {}, "1")
    for reading in readings:
        job = job.record(**reading.to_dict())
    return job


def same(a, b) -> bool:
    """Whether two beliefs agree to the last digit."""
    return np.array_equal(a.chance, b.chance) and np.array_equal(a.effective, b.effective)


@FEW
@given(several, st.randoms(use_true_random=False))
def test_the_order_of_readings_does_not_matter(readings, random):
    mixed = list(readings)
    random.shuffle(mixed)
    assert same(believe(MODEL, readings), believe(MODEL, tuple(mixed)))


@FEW
@given(several)
def test_the_same_readings_give_the_same_digits(readings):
    assert same(believe(MODEL, readings), believe(Model(SETUP), readings))


@FEW
@given(several, one, st.integers(0, 4))
def test_undo_equals_never_having_recorded(readings, extra, at):
    at = min(at, len(readings))
    longer = recorded((*readings[:at], extra, *readings[at:]))
    back, never = longer.without(at), recorded(readings)
    assert back.readings == never.readings
    assert back.to_dict() == never.to_dict()
    assert same(back.belief, never.belief)


@FEW
@given(several)
def test_chances_add_up_to_one_over_every_location(readings):
    belief = believe(MODEL, readings)
    for even in (False, True):
        chances = belief.by_location(even=even)
        assert set(chances) == {f.location for f in SETUP.faults}
        assert sum(chances.values()) == pytest.approx(1.0, abs=1e-12)
        assert min(chances.values()) >= 0.0
    assert sum(belief.by_fault().values()) == pytest.approx(1.0, abs=1e-12)
    assert belief.effective.shape == (len(MODEL),)
    assert np.isfinite(belief.ln_evidence).all()


def test_no_reading_and_no_complaint_leave_the_chances_as_they_were():
    found = believe(MODEL, ()).by_fault()
    total = sum(f.chance for f in SETUP.faults)
    for fault in SETUP.faults:
        assert found[fault.id] == pytest.approx(fault.chance / total, abs=1e-3)


def test_where_nothing_was_said_draws_are_even(kb):
    job = kb.job("coolant-temperature")
    belief = believe(job.model, ())
    assert belief.chance == pytest.approx(np.exp(job.model.ln_chance), rel=1e-12)
    rows = belief.weighty(0.005)
    row, share, z, weight = belief.weighted(rows)
    active = z[:, belief.evidence.active]
    # A row has 32 quasi-random points or more: their means lie nearer than those of as many random ones (deviation 0.18).
    for k in rows:
        mine = row == k
        assert weight[mine].sum() == pytest.approx(belief.chance[k], rel=1e-9)
        assert np.average(share[mine], weights=weight[mine]) == pytest.approx(0.5, abs=0.03)
        assert np.average(active[mine], axis=0, weights=weight[mine]) == pytest.approx(np.zeros(active.shape[1]), abs=0.15)
        assert np.average(np.square(active[mine]), axis=0, weights=weight[mine]) == pytest.approx(np.ones(active.shape[1]), abs=0.25)
