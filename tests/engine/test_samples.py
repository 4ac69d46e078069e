"""Owns the proof that kept samples stand for what was drawn: arithmetic against numpy on samples made for the purpose, no source."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.first import Part
from engine.samples import Samples
from engine.unknowns import Z_NAMES

RNG = np.random.default_rng(5)


def part(rows, counts, ln_weight=None):
    """Samples of `rows`, so many each, numbered in their share."""
    start = np.concatenate([[0], np.cumsum(counts)])
    n = int(start[-1])
    ln = RNG.normal(0.0, 1.5, n) if ln_weight is None else np.asarray(ln_weight, float)
    return Part(np.asarray(rows), start, RNG.random(n), RNG.normal(size=(n, len(Z_NAMES))), ln)


def test_evidence_and_weights_are_those_of_all_draws_of_a_row():
    one, two = part([3, 5, 9], [40, 64, 8]), part([5, 9], [32, 200])
    samples = Samples([(one, np.array([True, True, False])), (two, np.array([True, True]))])
    assert samples.rows.tolist() == [3, 5, 9]
    drawn = {3: one.ln_weight[:40], 5: np.concatenate([one.ln_weight[40:104], two.ln_weight[:32]]), 9: two.ln_weight[32:]}
    for k, row in enumerate(samples.rows):
        weight = np.exp(drawn[row])
        held = np.minimum(weight, weight.mean() * np.sqrt(len(weight)))
        assert samples.ln_evidence[k] == pytest.approx(np.log(held.mean()), abs=1e-7)
        assert samples.effective[k] == pytest.approx(held.sum() ** 2 / (held**2).sum(), rel=1e-6)
        rows, at = samples.of(np.array([row]))
        assert (rows == row).all() and samples.weight[at] == pytest.approx(held / held.sum(), rel=1e-6)


def test_samples_of_rows_come_row_by_row_and_rows_without_any_are_left_out():
    one = part([1, 4], [3, 2])
    samples = Samples([(one, np.ones(2, bool)), (part([4], [4]), np.ones(1, bool))])
    rows, at = samples.of(np.array([0, 1, 4, 7]))
    assert rows.tolist() == [1] * 3 + [4] * 6
    np.testing.assert_array_equal(samples.share[at[:3]], one.share[:3])
    np.testing.assert_array_equal(samples.z(at[::-1].reshape(3, 3)).reshape(9, -1)[::-1][:3], one.z[:3])
    rows, at = samples.of(np.array([0, 7]))
    assert len(rows) == len(at) == 0 and samples.z(at).shape == (0, len(Z_NAMES))


@given(st.lists(st.integers(1, 4), min_size=1, max_size=5), st.integers(0, 10**6))
def test_equally_weighted_samples_are_as_heavy_as_their_weights(times, seed):
    rng = np.random.default_rng(seed)
    rows, times = np.arange(len(times)), np.array(times)
    counts = rng.integers(1, 60, len(rows))
    samples = Samples([(part(rows, counts), np.ones(len(rows), bool))])
    picked = samples.equal(rows, times, 32)
    assert picked.shape == (times.sum(), 32)
    for k, row in enumerate(rows):
        mine = picked[times[:k].sum():times[:k + 1].sum()].ravel()
        _, at = samples.of(np.array([row]))
        assert np.isin(mine, at).all()
        often = np.bincount(mine - at[0], minlength=len(at)) / len(mine)
        # Even resampling: each sample comes as often as it is heavy, to within one time.
        assert np.abs(often - samples.weight[at]).max() <= 1.0 / len(mine) + 1e-9
