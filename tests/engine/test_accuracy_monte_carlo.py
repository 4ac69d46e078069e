"""Owns the proof that whole cases, nothing held fixed, agree within 0.01 with ten million plain Monte Carlo draws."""

import json

import pytest

from engine.belief import believe
from engine.model import Model

from .accuracy_reference import CASES, FILE, fingerprint

REFERENCE = json.loads(FILE.read_text(encoding="utf-8"))


@pytest.mark.parametrize("name", CASES)
def test_location_chances_agree_with_plain_monte_carlo(name):
    made, readings, _ = CASES[name]
    case = REFERENCE["cases"][name]
    assert fingerprint(made, readings) == pytest.approx(case["fingerprint"], abs=1e-5), (
        "the likelihood has changed since the reference was made: run python tests/engine/accuracy_reference.py")
    assert max(case["standard_error"].values()) < 0.002
    assert case["effective_draws"] > 50_000
    found = believe(Model(made), readings).by_location()
    assert set(found) == set(case["locations"])
    for location, p in case["locations"].items():
        assert found[location] == pytest.approx(p, abs=0.01), location
