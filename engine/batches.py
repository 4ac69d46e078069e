"""Owns arithmetic on batches: quasi-random points, sums of logs."""

import numpy as np


def lattice(count: int, dimensions: int, start: int = 0) -> np.ndarray:
    """Quasi-random points (count, dimensions), from number `start` on, in the open unit cube: multiples of powers of the generalised golden ratio.

    Source: additive recurrence with the positive root of x^(d+1) = x + 1
    (M. Roberts 2018, "The unreasonable effectiveness of quasirandom sequences", from memory).
    """
    root = 2.0
    for _ in range(60):
        root = (1.0 + root) ** (1.0 / (dimensions + 1))
    steps = root ** -np.arange(1.0, dimensions + 1)
    return np.clip((0.5 + np.outer(np.arange(start + 1, start + count + 1), steps)) % 1.0, 1e-9, 1.0 - 1e-9)


def held(values: np.ndarray, low: object, high: object) -> np.ndarray:
    """`values` brought between `low` and `high`: as np.clip, which takes four times as long to begin."""
    return np.minimum(np.maximum(values, low), high)


def log_sum(ln: np.ndarray) -> np.ndarray:
    """Log (f,) of the sums of exp(`ln`) (f, n) along the last axis."""
    top = ln.max(axis=1)
    return top + np.log(np.exp(ln - top[:, None]).sum(axis=1))


def squared(values: np.ndarray) -> np.ndarray:
    """Squared lengths along the last axis."""
    return np.einsum("...a,...a->...", values, values)
