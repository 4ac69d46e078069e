"""Owns the proof that every fault that counts rests on enough samples: at least 400 effective ones above 1 %."""

import numpy as np
import pytest

from engine.belief import Belief, believe
from engine.model import Model

from .accuracy_circuits import ROUND, setup, simulated

LEAST = 400.0
MODELS = tuple(Model(setup(known, signs=signs)) for known, signs in
               ((True, ()), (False, ()), (True, ("implausible",)), (False, ("signal-high",))))


def effective_by_fault(belief: Belief) -> dict[str, float]:
    """Effective sample size of each fault above 1 %, its curves' samples taken together by their chance."""
    out = {}
    for fault, chance in belief.by_fault().items():
        rows = np.array([i for i, kind in enumerate(belief.model.kinds) if kind.id == fault])
        drawn = rows[belief.effective[rows] > 0]
        if chance > 0.01:
            assert belief.chance[drawn].sum() > 0.99 * chance, fault
            share = belief.chance[drawn] / chance
            out[fault] = float(1.0 / (np.square(share) / belief.effective[drawn]).sum())
    return out


@pytest.mark.parametrize("seed", range(40))
def test_every_fault_above_one_percent_has_enough_samples(seed):
    """One to nine readings of a vehicle drawn before measuring; input and curve known where the seed is even."""
    model = MODELS[seed % 4]
    count = 1 + seed // 4 % 9
    picked = sorted(np.random.default_rng(seed).permutation(len(ROUND))[:count])
    _, readings = simulated(model, seed, tuple(ROUND[i] for i in picked))
    found = effective_by_fault(believe(model, readings))
    assert found
    assert min(found.values()) >= LEAST, found
