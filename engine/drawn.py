"""Owns draws of rows, weighed against the mixture of all densities they came from, so that none counts more than it should.

Cornuet, Marin, Mira, Robert 2012, "Adaptive multiple importance sampling" (from memory). A density laid about draws makes
those very draws count for too little: what it says of the evidence holds for fresh ones alone.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np

from engine.batches import log_sum
from engine.compiled import compiled, exp_of, inlined, log_of
from engine.likelihood import Evidence

# Turns in which the parts of a mixture settle; the least part that is drawn from at all, and the first density's in any case.
TURNS, LEAST_PART, PART_OF_FIRST = 8, 0.03, 0.1


class Density(Protocol):
    """What draws of rows come from."""

    def only(self, keep: np.ndarray) -> "Density":
        """The rows at `keep`."""

    def draw(self, evidence: Evidence, rows: np.ndarray, count: int, start: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """`count` samples share (f, s) and z (f, s, z) of each of `rows`, from number `start` on, and the log (f, s) of the
        density drawn from over the one before measuring."""

    def ln_over_prior(self, evidence: Evidence, rows: np.ndarray, share: np.ndarray, z: np.ndarray) -> np.ndarray:
        """Log (f, s) of the density over the one before measuring, of `rows` at share (f, s) and z (f, s, z)."""


@dataclass
class Drawn:
    """Rows drawn alike: share (f, s), z (f, s, z), log likelihood (f, s), the log (f, s) of each density drawn from over the one before
    measuring, the densities and their numbers of draws."""

    rows: np.ndarray
    share: np.ndarray
    z: np.ndarray
    ln_fit: np.ndarray
    ln_each: tuple[np.ndarray, ...]
    laid: tuple[Density, ...]
    counts: tuple[float, ...]

    @cached_property
    def ln_weight(self) -> np.ndarray:
        """Log of likelihood times prior over the mixture of all densities (f, s)."""
        return self.ln_fit - _mixed(self.ln_each, self.counts) + np.log(sum(self.counts))

    @cached_property
    def ln_evidence(self) -> np.ndarray:
        """Log (f,) of each row's evidence."""
        return log_sum(self.ln_weight) - np.log(self.ln_weight.shape[1])

    @cached_property
    def effective(self) -> np.ndarray:
        """Effective sample size (f,) of each row."""
        f, count = self.ln_weight.shape
        return worth(self.ln_weight.ravel(), np.arange(f + 1) * count)

    def best_parts(self) -> tuple[np.ndarray, np.ndarray]:
        """The parts (f, k) in which fresh draws had better come from each density, by how these ones weigh, but for a part from the
        first in any case; and what share (f,) of draws from that mixture is worth anything (Cappe and others 2008, "Adaptive importance
        sampling in general mixture classes", from memory)."""
        return _best_parts(np.stack(self.ln_each), self.ln_fit, self.ln_weight, self.ln_evidence, np.array(self.counts, float))

    def only(self, keep: np.ndarray) -> "Drawn":
        """The rows at `keep`."""
        return Drawn(self.rows[keep], self.share[keep], self.z[keep], self.ln_fit[keep], tuple(ln[keep] for ln in self.ln_each),
                     tuple(density.only(keep) for density in self.laid), self.counts)

    def latest(self, evidence: Evidence, count: int) -> "Drawn":
        """At most `count` draws from the latest density alone, from all over it; of a mixture as from each of its parts."""
        had, density = self.counts[-1], self.laid[-1]
        # A mixture's draws lie part after part.
        mine = round(sum(self.counts[:-1])) + np.arange(min(count, had)) * had // min(count, had)
        share, z, ln_fit = self.share[:, mine], self.z[:, mine], self.ln_fit[:, mine]
        if not isinstance(density, Mixture):
            return _alone(self.rows, share, z, ln_fit, density, self.ln_each[-1][:, mine])
        each = tuple(part.ln_over_prior(evidence, self.rows, share, z) for part in density.laid)
        return Drawn(self.rows, share, z, ln_fit, each, density.laid, tuple(part / sum(density.counts) * len(mine) for part in density.counts))

    def more(self, evidence: Evidence, count: int) -> "Drawn":
        """`count` more draws of each row from the latest density."""
        fresh = self.laid[-1].draw(evidence, self.rows, count, self.share.shape[1])
        return self._with(evidence, *fresh, self.ln_each, self.laid, (*self.counts[:-1], self.counts[-1] + count))

    def beside(self, evidence: Evidence, density: Density, count: int) -> "Drawn":
        """`count` more draws of each row from another `density`."""
        fresh = density.draw(evidence, self.rows, count, self.share.shape[1])
        ln_each = (*self.ln_each, density.ln_over_prior(evidence, self.rows, self.share, self.z))
        return self._with(evidence, *fresh, ln_each, (*self.laid, density), (*self.counts, count))

    def _with(self, evidence: Evidence, share: np.ndarray, z: np.ndarray, own: np.ndarray, ln_each: tuple[np.ndarray, ...],
              laid: tuple[Density, ...], counts: tuple[int, ...]) -> "Drawn":
        """Fresh draws share (f, s), z (f, s, z) from the latest of those `laid`, of log density `own`, put behind the draws had, of log
        densities `ln_each`."""
        fresh = [*(density.ln_over_prior(evidence, self.rows, share, z) for density in laid[:-1]), own]
        both = [np.concatenate(pair, axis=1) for pair in ((self.share, share), (self.z, z), (self.ln_fit, evidence.weigh(share, z, self.rows)),
                                                          *zip(ln_each, fresh, strict=True))]
        return Drawn(self.rows, *both[:3], tuple(both[3:]), laid, counts)


@dataclass(frozen=True)
class Mixture:
    """Several densities as one, drawn from in proportion to `counts`; numbers of draws below `used` were drawn before."""

    laid: tuple[Density, ...]
    counts: tuple[float, ...]
    used: int

    def only(self, keep: np.ndarray) -> "Mixture":
        """The rows at `keep`."""
        return Mixture(tuple(density.only(keep) for density in self.laid), self.counts, self.used)

    def draw(self, evidence: Evidence, rows: np.ndarray, count: int, start: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """As of any density drawn from."""
        ends = np.round(np.cumsum(self.counts) / sum(self.counts) * count).astype(int)
        parts = [density.draw(evidence, rows, int(end - begin), self.used + start)
                 for density, begin, end in zip(self.laid, (0, *ends[:-1]), ends, strict=True) if end > begin]
        share, z = (np.concatenate([part[k] for part in parts], axis=1) for k in (0, 1))
        return share, z, self.ln_over_prior(evidence, rows, share, z)

    def ln_over_prior(self, evidence: Evidence, rows: np.ndarray, share: np.ndarray, z: np.ndarray) -> np.ndarray:
        """As of any density drawn from."""
        each = tuple(density.ln_over_prior(evidence, rows, share, z) for density in self.laid)
        return _mixed(each, self.counts) - np.log(sum(self.counts))


def _mixed(ln_each: tuple[np.ndarray, ...], counts: tuple[float, ...]) -> np.ndarray:
    """Log (f, s) of the sum of densities of logs `ln_each` (f, s), each so many times."""
    return _ln_sum(np.stack(ln_each), np.log(counts))


@compiled
def _ln_sum(ln_each: np.ndarray, ln_counts: np.ndarray) -> np.ndarray:
    """Log (f, s) of the sum of exp of `ln_each` (k, f, s) and `ln_counts` (k,)."""
    many, f, count = ln_each.shape
    out, top = np.empty((f, count)), np.empty(count)
    for i in range(f):
        total = out[i]
        for s in range(count):
            top[s], total[s] = -np.inf, 0.0
        for k in range(many):
            ln, more = ln_each[k, i], ln_counts[k]
            for s in range(count):
                top[s] = max(top[s], ln[s] + more)
        for k in range(many):
            ln, more = ln_each[k, i], ln_counts[k]
            for s in range(count):
                total[s] += exp_of(ln[s] + more - top[s])
        for s in range(count):
            total[s] = top[s] + log_of(total[s])
    return out


@compiled
def _best_parts(ln_each: np.ndarray, ln_fit: np.ndarray, ln_weight: np.ndarray, ln_evidence: np.ndarray,
                counts: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """As `Drawn.best_parts`, of densities of logs `ln_each` (k, f, s)."""
    many, f, count = ln_each.shape
    parts, share = np.empty((f, many)), np.empty(f)
    top, weight, mix, each = np.empty(count), np.empty(count), np.empty(count), np.empty((many, count))
    for i in range(f):
        most, whole, part = ln_weight[i].max(), 0.0, parts[i]
        for s in range(count):
            top[s], weight[s] = -np.inf, exp_of(ln_weight[i, s] - most)
            whole += weight[s]
        for k in range(many):
            part[k] = counts[k] / counts.sum()
            for s in range(count):
                top[s] = max(top[s], ln_each[k, i, s])
        for k in range(many):
            for s in range(count):
                each[k, s] = exp_of(ln_each[k, i, s] - top[s])
        for turn in range(TURNS + 1):
            if turn == TURNS:
                for k in range(many):
                    part[k] = 0.0 if part[k] < LEAST_PART else part[k]
                part *= (1.0 - PART_OF_FIRST) / part.sum()
                part[0] += PART_OF_FIRST
            for s in range(count):
                mix[s] = 0.0
            for k in range(many):
                own = each[k]
                for s in range(count):
                    mix[s] += part[k] * own[s]
            for k in range(many if turn < TURNS else 0):
                own, total = each[k], 0.0
                for s in range(count):
                    total += own[s] * weight[s] / mix[s]
                part[k] *= total / whole
        # Draws of these weights stand for the evidence; ones from the mixture weigh likelihood over its density.
        worth_of_all = 0.0
        for s in range(count):
            worth_of_all += weight[s] / whole * exp_of(ln_fit[i, s] - top[s] - log_of(mix[s]) - ln_evidence[i])
        share[i] = 1.0 / worth_of_all
    return parts, share


@inlined
def heaviest(total: float, count: int) -> float:
    """What a draw weighs at most of `count` that weigh as much in `total`: the root of their number times the mean. Where one draw in
    thousands still weighs as much as all others, it is luck more often than not (Ionides 2008, "Truncated importance sampling", from memory)."""
    return total / np.sqrt(count)


@compiled
def worth(ln_weight: np.ndarray, start: np.ndarray) -> np.ndarray:
    """Effective sample size (n,) of the draws between two of `start` (n + 1,) each, of log weights (s,), none of which counts for more than
    the `heaviest` does: a belief lets none, and to look for what one draw in thousands has hit takes as many more."""
    out = np.empty(len(start) - 1)
    for k in range(len(out)):
        mine = ln_weight[start[k]:start[k + 1]]
        top, total, whole, squares = mine.max(), 0.0, 0.0, 0.0
        weight = np.empty(len(mine))
        for s in range(len(mine)):
            weight[s] = exp_of(mine[s] - top)
        for s in range(len(mine)):
            total += weight[s]
        most = heaviest(total, len(mine))
        for s in range(len(mine)):
            each = min(weight[s], most)
            whole += each
            squares += each * each
        out[k] = whole * whole / squares
    return out


def drawn_from(evidence: Evidence, density: Density, rows: np.ndarray, share: np.ndarray, z: np.ndarray, ln_weight: np.ndarray) -> Drawn:
    """Draws of `rows` from one `density` as one made them, share (f, s) and z (f, s, z) of log weight (f, s)."""
    ln = density.ln_over_prior(evidence, rows, share, z)
    return _alone(rows, share, z, ln_weight + ln, density, ln)


def draws_of(evidence: Evidence, density: Density, rows: np.ndarray, count: int, start: int = 0) -> Drawn:
    """`count` draws of each of `rows` from one `density`, from number `start` on."""
    share, z, ln = density.draw(evidence, rows, count, start)
    return _alone(rows, share, z, evidence.weigh(share, z, rows), density, ln)


def _alone(rows: np.ndarray, share: np.ndarray, z: np.ndarray, ln_fit: np.ndarray, density: Density, ln: np.ndarray) -> Drawn:
    """Draws from one density of this log (f, s)."""
    return Drawn(rows, share, z, ln_fit, (ln,), (density,), (share.shape[1],))
