"""Owns first draws: of each row as many from straight bells as its fault wants, in one list, row after row."""

from typing import NamedTuple

import numpy as np

from engine.batches import among
from engine.compiled import compiled, exp_of
from engine.drawn import worth
from engine.likelihood import Evidence
from engine.drawing import Sampled
from engine.straight import Straight


class Part(NamedTuple):
    """Samples drawn at once: those of `rows` (n,), the model's, lie between two of `start` (n + 1,)."""

    rows: np.ndarray
    start: np.ndarray
    share: np.ndarray
    z: np.ndarray
    ln_weight: np.ndarray


class First:
    """Draws of `rows` (f,), ascending, from `straight` bells: how many (f,) each has, the logs (f,) of the sums of their weights, of
    those squared and of those times the likelihood, and the samples in parts."""

    def __init__(self, evidence: Evidence, straight: Straight, rows: np.ndarray) -> None:
        self._evidence, self.straight, self.rows = evidence, straight, rows
        self.counts = np.zeros(len(rows), int)
        self._ln_sum, self._ln_squares, self._ln_likely = (np.full(len(rows), -np.inf) for _ in range(3))
        self.parts: list[Part] = []

    def more(self, at: np.ndarray, counts: np.ndarray) -> None:
        """`counts` (n,) more draws of those of the rows `at` (n,)."""
        drawn: Sampled = self.straight.sample(self._evidence, self.rows[at], at, self.counts[at], counts)
        start = np.concatenate([[0], np.cumsum(counts)])
        for kept, new in zip((self._ln_sum, self._ln_squares, self._ln_likely), sums(drawn.ln_weight, drawn.ln, start), strict=True):
            kept[at] = np.logaddexp(kept[at], new)
        self.counts[at] += counts
        self.parts.append(Part(self.rows[at], start, drawn.share, drawn.z, drawn.ln_weight))

    @property
    def ln_evidence(self) -> np.ndarray:
        """Log (f,) of each row's evidence."""
        return self._ln_sum - np.log(self.counts)

    @property
    def effective(self) -> np.ndarray:
        """Effective sample size (f,) of each row."""
        return np.exp(2.0 * self._ln_sum - self._ln_squares)

    def held(self, at: np.ndarray) -> np.ndarray:
        """Effective sample size (n,) of the rows `at` (n,), no draw counting for more than the belief will let it."""
        found: list[list[np.ndarray]] = [[] for _ in at]
        for part in self.parts:
            here, k = among(self.rows[at], part.rows)
            for i in np.flatnonzero(here):
                found[i].append(part.ln_weight[part.start[k[i]]:part.start[k[i] + 1]])
        pieces = [piece for each in found for piece in each]
        return worth(np.concatenate(pieces), np.concatenate([[0], np.cumsum(self.counts[at])])) if pieces else np.zeros(0)

    @property
    def worth_before(self) -> np.ndarray:
        """How many samples (f,) a draw from before measuring would be worth, by these ones."""
        return np.exp(2.0 * self._ln_sum - self._ln_likely) / self.counts

    def of(self, row: int, count: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """At most the first `count` draws of `row`, the model's: share (s,), z (s, z) and log weight (s,)."""
        found, left = [], count
        for part in self.parts:
            k = int(np.searchsorted(part.rows, row))
            if left and k < len(part.rows) and part.rows[k] == row:
                begin, end = part.start[k], min(part.start[k + 1], part.start[k] + left)
                found.append((part.share[begin:end], part.z[begin:end], part.ln_weight[begin:end]))
                left -= end - begin
        share, z, ln_weight = (np.concatenate(each) for each in zip(*found, strict=True))
        return share, z, ln_weight


def sums(ln_weight: np.ndarray, ln: np.ndarray, start: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Logs (n,) of the sums of exp(`ln_weight`) (s,), of its squares and of its product with the likelihood, its own by exp(`ln`) (s,),
    between two of `start` (n + 1,) each."""
    top, total, squares, top_fit, likely = _sums(ln_weight, ln, start)
    return top + np.log(total), 2.0 * top + np.log(squares), top + top_fit + np.log(likely)


@compiled
def _sums(ln_weight: np.ndarray, ln: np.ndarray, start: np.ndarray) -> tuple[np.ndarray, ...]:
    n = len(start) - 1
    top, total, squares, top_fit, likely = np.empty(n), np.zeros(n), np.zeros(n), np.full(n, -np.inf), np.zeros(n)
    for k in range(n):
        mine = ln_weight[start[k]:start[k + 1]]
        top[k] = mine.max()
        for s in range(start[k], start[k + 1]):
            top_fit[k] = max(top_fit[k], ln_weight[s] + ln[s])
        for s in range(start[k], start[k + 1]):
            weight = exp_of(ln_weight[s] - top[k])
            total[k] += weight
            squares[k] += weight * weight
            likely[k] += weight * exp_of(ln_weight[s] + ln[s] - top_fit[k])
    return top, total, squares, top_fit, likely
