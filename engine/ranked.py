"""Owns weighted quantiles, found without putting everything in order."""

from collections.abc import Sequence

import numpy as np

from engine.compiled import compiled, inlined

# So few are put in order; from so many on they are sorted into buckets first.
FEW, MANY, BUCKETS = 24, 256, 128


def quantiles(value: np.ndarray, weight: np.ndarray, at: Sequence[float]) -> tuple[float, ...]:
    """Weighted quantiles of `value` (n,), straight between half-weights."""
    return tuple(_quantiles(np.array(value, float), np.array(weight, float), np.array(at, float)).tolist())


@compiled
def _quantiles(v: np.ndarray, w: np.ndarray, at: np.ndarray) -> np.ndarray:
    """As `quantiles`; where there are many, only those of the bucket a quantile lies in and of the next ones are looked at."""
    out, low, high = np.empty(len(at)), v.min(), v.max()
    width = (high - low) / BUCKETS
    if len(v) < MANY or not 0.0 < width < np.inf:
        total = w.sum()
        for q in range(len(at)):
            out[q] = _quantile(v, w, at[q] * total)
        return out
    bucket, sums, some, some_w = np.empty(len(v), np.int64), np.zeros(BUCKETS), np.empty(len(v)), np.empty(len(v))
    for i in range(len(v)):
        bucket[i] = min(int((v[i] - low) / width), BUCKETS - 1)
        sums[bucket[i]] += w[i]
    total = sums.sum()
    for q in range(len(at)):
        here, below = 0, 0.0
        while here < BUCKETS - 1 and below + sums[here] < at[q] * total:
            below += sums[here]
            here += 1
        first, last = here - 1, here + 1
        while first > 0 and sums[first] == 0.0:
            first -= 1
        while last < BUCKETS - 1 and sums[last] == 0.0:
            last += 1
        if first >= 0:
            below -= sums[first]
        count = 0
        for i in range(len(v)):
            some[count], some_w[count] = v[i], w[i]
            count += 1 if first <= bucket[i] <= last else 0
        out[q] = _quantile(some[:count], some_w[:count], at[q] * total - below)
    return out


@inlined
def _quantile(v: np.ndarray, w: np.ndarray, wanted: float) -> float:
    """The value at which half-weights add up to `wanted`; values `v` and weights `w` (n,) are put in another order.

    Values are parted about one of them, and only the side where the quantile
    lies is looked at again (Hoare 1961, "Algorithm 65: Find").
    """
    start, end, below = 0, len(v), 0.0
    # The nearest on either side of what is still looked at, and where their half-weights lie.
    under, under_at, over, over_at = np.nan, 0.0, np.nan, 0.0
    while end - start > FEW:
        cut = _parted(v, w, start, end)
        if cut == end:
            break
        left = 0.0
        for i in range(start, cut):
            left += w[i]
        if wanted < below + left:
            nearest = cut
            for i in range(cut, end):
                nearest = i if v[i] < v[nearest] else nearest
            end, over, over_at = cut, v[nearest], below + left + 0.5 * w[nearest]
        else:
            nearest = start
            for i in range(start, cut):
                nearest = i if v[i] > v[nearest] else nearest
            start, below, under, under_at = cut, below + left, v[nearest], below + left - 0.5 * w[nearest]
    if end - start <= FEW:
        _put_in_order(v, w, start, end)
    for i in range(start, end):
        at = below + 0.5 * w[i]
        if wanted <= at:
            return v[i] if np.isnan(under) else under + (v[i] - under) * (wanted - under_at) / max(at - under_at, 1e-300)
        below += w[i]
        under, under_at = v[i], at
    return under if np.isnan(over) else under + (over - under) * (wanted - under_at) / max(over_at - under_at, 1e-300)


@inlined
def _parted(v: np.ndarray, w: np.ndarray, start: int, end: int) -> int:
    """Puts what lies below the middle one of the first, the middle and the last in front; where nothing does, what does not lie
    above it. Where all that is ends, then."""
    a, b, c = v[start], v[(start + end) // 2], v[end - 1]
    pivot, cut = max(min(a, b), min(max(a, b), c)), start
    for equal in range(2):
        if cut == start:
            for i in range(start, end):
                here, weight = v[i], w[i]
                # Always exchanged: where it goes is anyone's guess, and a wrong guess takes longer.
                v[i], w[i], v[cut], w[cut] = v[cut], w[cut], here, weight
                cut += 1 if here < pivot or (equal == 1 and here == pivot) else 0
    return cut


@inlined
def _put_in_order(v: np.ndarray, w: np.ndarray, start: int, end: int) -> None:
    for i in range(start + 1, end):
        here, weight, j = v[i], w[i], i
        while j > start and v[j - 1] > here:
            v[j], w[j] = v[j - 1], w[j - 1]
            j -= 1
        v[j], w[j] = here, weight
