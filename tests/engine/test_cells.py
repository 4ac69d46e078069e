"""Owns the proof of how nodes are laid anew along the severity, and of what is taken for their centres there.

Identities, no source: NumPy's own straight interpolation, and quantiles of bells by SciPy.
"""

import numpy as np
import pytest
from scipy.stats import norm

from engine.cells import BELL, between, cell_edges, relaid

NODES = np.array([[0.1, 0.25, 0.6, 0.9]])


def test_centres_lie_straight_between_nodes_and_are_held_at_the_ends():
    rng = np.random.default_rng(4)
    centre, share = rng.normal(size=(1, 4, 2)), np.linspace(0.0, 1.0, 41)[None]
    found = between(centre, NODES, share)
    for a in range(2):
        np.testing.assert_allclose(found[0, :, a], np.interp(share[0], NODES[0], centre[0, :, a]), atol=1e-12)


def test_new_nodes_are_even_quantiles_of_the_only_bell_that_counts():
    ln, bell = np.array([[-80.0, -80.0, 0.0, -80.0]]), np.full((1, 4), 0.02)
    laid = relaid(NODES, ln, bell, 9, 0)[0]
    np.testing.assert_allclose(laid, 0.6 + BELL * 0.02 * norm.ppf((np.arange(9) + 0.5) / 9), atol=1e-5)


@pytest.mark.parametrize("spread", [0, 3])
def test_nodes_go_where_the_evidence_is_and_some_everywhere(spread):
    # Wide bells: each node counts for its cell, one of them for half of all.
    width = np.diff(cell_edges(NODES), axis=1)
    part = np.array([[0.2, 0.1, 0.5, 0.2]])
    laid = relaid(NODES, np.log(part / width), np.full((1, 4), 10.0), 10, spread)[0]
    assert len(laid) == 10 + spread and (np.diff(laid) > 0.0).all()
    for where in (np.arange(spread) + 0.5) / max(spread, 1):
        assert np.abs(laid - where).min() < 1e-5
    narrow = relaid(NODES, np.log(part / 0.0025), np.full((1, 4), 0.001), 10, 0)[0]
    near = [int((np.abs(narrow - node) < 0.01).sum()) for node in NODES[0]]
    assert near == [2, 1, 5, 2]
