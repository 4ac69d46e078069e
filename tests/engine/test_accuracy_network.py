"""Owns the proof that on a discretised copy, outcome tables and nothing else, chances equal an exact Bayesian network's."""

from dataclasses import replace

import numpy as np
import pyagrum as gum
import pytest

from engine.belief import believe
from engine.faults import LOCATIONS
from engine.information import OUTCOMES, Candidate, Forecast, forecast, split_bits
from engine.model import Model
from engine.readings import Reading

from .accuracy_circuits import setup

ASKED = (("look", None), ("unplugged", None), ("shorted", None), ("substitute", 330.0), ("plug-volts", None),
         ("return-ohms", None))


@pytest.fixture(scope="module")
def ahead() -> Forecast:
    belief = believe(Model(setup()), (Reading("as-found", shows=9.0),))
    tests = {t.id: t for t in belief.model.setup.tests}
    return forecast(belief, tuple(Candidate(tests[name], ohm) for name, ohm in ASKED))


@pytest.fixture(scope="module")
def network(ahead: Forecast) -> gum.BayesNet:
    """Fault row -> location, and fault row -> outcome of every test."""
    net = gum.BayesNet("faults")
    net.add(gum.LabelizedVariable("row", "", len(ahead.rows)))
    net.cpt("row").fillWith(list(ahead.chance))
    net.add(gum.LabelizedVariable("place", "", len(LOCATIONS)))
    net.addArc("row", "place")
    for t in range(len(ASKED)):
        net.add(gum.LabelizedVariable(f"test{t}", "", OUTCOMES))
        net.addArc("row", f"test{t}")
    for k, place in enumerate(ahead.locations):
        net.cpt("place")[{"row": k}] = [float(i == place) for i in range(len(LOCATIONS))]
        for t in range(len(ASKED)):
            net.cpt(f"test{t}")[{"row": k}] = list(ahead.outcome[t, k])
    return net


def observed(ahead: Forecast, t: int, outcome: int) -> Forecast:
    """The forecast once test t has shown that outcome."""
    chance = ahead.chance * ahead.outcome[t, :, outcome]
    return replace(ahead, chance=chance / chance.sum())


def test_one_outcome_gives_the_networks_location_chances(ahead, network):
    joint = ahead.by_location()
    engine = gum.LazyPropagation(network)
    for t in range(len(ASKED)):
        for outcome in range(OUTCOMES):
            if joint[t, outcome].sum() == 0.0:
                continue
            engine.setEvidence({f"test{t}": outcome})
            engine.makeInference()
            exact = engine.posterior("place").toarray()
            assert joint[t, outcome] / joint[t, outcome].sum() == pytest.approx(exact, abs=1e-9)


def test_outcomes_one_after_another_give_the_networks_location_chances(ahead, network):
    rng = np.random.default_rng(5)
    engine = gum.LazyPropagation(network)
    for _ in range(20):
        row = rng.choice(len(ahead.rows), p=ahead.chance)
        now, seen = ahead, {}
        for t in range(len(ASKED)):
            seen[f"test{t}"] = int(rng.choice(OUTCOMES, p=ahead.outcome[t, row]))
            now = observed(now, t, seen[f"test{t}"])
        engine.setEvidence(seen)
        engine.makeInference()
        assert now.by_location()[0].sum(axis=0) == pytest.approx(engine.posterior("place").toarray(), abs=1e-9)


def test_information_about_the_location_equals_the_networks(ahead, network):
    bits = split_bits(ahead.by_location())
    engine = gum.LazyPropagation(network)
    for t in range(len(ASKED)):
        exact = gum.InformationTheory(engine, "place", f"test{t}").mutualInformationXY()
        assert bits[t] == pytest.approx(exact, abs=1e-9)
