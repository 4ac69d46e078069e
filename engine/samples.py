"""Owns weighted samples of rows: how a belief keeps what it drew, and equally weighted ones of them."""

import numpy as np

from engine.compiled import compiled, exp_of
from engine.drawn import heaviest
from engine.first import Part


class Samples:
    """Samples in `parts`, none of a row (f,) that is not `kept` among those of the part it comes from.

    `rows` (m,) have samples, ascending; `share` (n,) and `weight` (n,),
    normalised per row, lie in pieces, several a row. `ln_evidence` and
    `effective` (m,) are theirs, no draw weighing more than the `heaviest`.
    """

    def __init__(self, parts: list[tuple[Part, np.ndarray]]) -> None:
        self.share, ln_weight = (np.concatenate([getattr(part, name) for part, _ in parts]) for name in ("share", "ln_weight"))
        offsets = np.cumsum([0, *(len(part.share) for part, _ in parts)])
        # Of a hundred samples one is looked at again: to lay all their unknowns together would take as long as to draw them.
        self._z, self._offsets = [part.z for part, _ in parts], offsets
        found = [np.stack([part.rows, part.start[:-1] + offset, part.start[1:] + offset])[:, kept]
                 for (part, kept), offset in zip(parts, offsets, strict=False)]
        pieces = np.concatenate(found, axis=1)
        pieces = pieces[:, np.argsort(pieces[0], kind="stable")]
        self.rows, first = np.unique(pieces[0], return_index=True)
        self._begin, self._end = np.ascontiguousarray(pieces[1]), np.ascontiguousarray(pieces[2])
        self._first = np.append(first, pieces.shape[1])
        self.weight, self.ln_evidence, self.effective = _weights(ln_weight, self._begin, self._end, self._first)

    def of(self, rows: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Row (n,) and number (n,) of each sample of `rows`, one row after another; rows without samples are left out."""
        at = self._at(rows)
        pieces = np.concatenate([np.arange(self._first[k], self._first[k + 1]) for k in at]) if len(at) else np.zeros(0, int)
        sizes = self._end[pieces] - self._begin[pieces]
        ends = np.cumsum(sizes)
        numbers = np.arange(ends[-1] if len(ends) else 0) + np.repeat(self._begin[pieces] - ends + sizes, sizes)
        return np.repeat(np.repeat(self.rows[at], self._first[at + 1] - self._first[at]), sizes), numbers

    def z(self, numbers: np.ndarray) -> np.ndarray:
        """The unknowns (..., z) of the samples of those `numbers` (...)."""
        flat = numbers.ravel()
        part = np.searchsorted(self._offsets, flat, side="right") - 1
        out = np.empty((len(flat), self._z[0].shape[1]))
        order = np.argsort(part, kind="stable")
        ends = np.searchsorted(part[order], np.arange(len(self._z) + 1))
        for k in np.flatnonzero(np.diff(ends)):
            mine = order[ends[k]:ends[k + 1]]
            out[mine] = self._z[k][flat[mine] - self._offsets[k]]
        return out.reshape(*numbers.shape, out.shape[1])

    def equal(self, rows: np.ndarray, times: np.ndarray, count: int) -> np.ndarray:
        """Numbers (sum of `times`, count) of equally weighted samples of `rows` (n,), all of which have samples, by even resampling: so
        many `times` (n,) each, every time from all over the row."""
        return _evenly(self.weight, self._begin, self._end, self._first, self._at(rows), times, count)

    def _at(self, rows: np.ndarray) -> np.ndarray:
        """Where those of `rows` that have samples are among all that have."""
        at = np.searchsorted(self.rows, rows)
        return at[self.rows[np.minimum(at, len(self.rows) - 1)] == rows]


@compiled
def _weights(ln_weight: np.ndarray, begin: np.ndarray, end: np.ndarray, first: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Weights (n,) of samples of log weights (n,), normalised over each row's pieces, log evidence and effective size (m,)."""
    weight, rows = np.zeros(len(ln_weight)), len(first) - 1
    ln_evidence, effective = np.empty(rows), np.empty(rows)
    for k in range(rows):
        top, count = -np.inf, 0
        for p in range(first[k], first[k + 1]):
            top, count = max(top, ln_weight[begin[p]:end[p]].max()), count + end[p] - begin[p]
        total = 0.0
        for p in range(first[k], first[k + 1]):
            for s in range(begin[p], end[p]):
                weight[s] = exp_of(ln_weight[s] - top)
                total += weight[s]
        most, whole, squares = heaviest(total, count), 0.0, 0.0
        for p in range(first[k], first[k + 1]):
            for s in range(begin[p], end[p]):
                weight[s] = min(weight[s], most)
                whole += weight[s]
                squares += weight[s] * weight[s]
        ln_evidence[k], effective[k] = top + np.log(whole / count), whole * whole / squares
        for p in range(first[k], first[k + 1]):
            for s in range(begin[p], end[p]):
                weight[s] /= whole
    return weight, ln_evidence, effective


@compiled
def _evenly(weight: np.ndarray, begin: np.ndarray, end: np.ndarray, first: np.ndarray, at: np.ndarray, times: np.ndarray,
            count: int) -> np.ndarray:
    """As `Samples.equal`, of the rows `at` (n,)."""
    out, entry = np.empty((times.sum(), count), np.int64), 0
    for k in range(len(at)):
        p, last, many = first[at[k]], first[at[k] + 1] - 1, times[k] * count
        s = begin[p]
        total = weight[s]
        for i in range(many):
            while total < (i + 0.5) / many and (s < end[p] - 1 or p < last):
                s += 1
                if s == end[p]:
                    p += 1
                    s = begin[p]
                total += weight[s]
            out[entry + i % times[k], i // times[k]] = s
        entry += times[k]
    return out
