"""Owns draws of rows, weighed against the mixture of all densities they came from, so that none counts more than it should.

Cornuet, Marin, Mira, Robert 2012, "Adaptive multiple importance sampling" (from memory). A density laid about draws makes
those very draws count for too little: what it says of the evidence holds for fresh ones alone.
"""

from dataclasses import dataclass
from functools import cached_property, reduce
from typing import Protocol

import numpy as np

from engine.batches import ln_add, log_sum
from engine.likelihood import Evidence

# Fresh draws from the densities before the latest, as a part of those from the latest.
PART_BEFORE = 0.25


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
    """Rows drawn alike: share (f, s), z (f, s, z), log likelihood (f, s), log (f, s) of the sum of all densities drawn from
    over the prior's, each as many times as it has draws, the latest one's log (f, s) alone, the densities and their numbers
    of draws."""

    rows: np.ndarray
    share: np.ndarray
    z: np.ndarray
    ln_fit: np.ndarray
    ln_mixture: np.ndarray
    ln_latest: np.ndarray
    laid: tuple[Density, ...]
    counts: tuple[int, ...]

    @cached_property
    def ln_weight(self) -> np.ndarray:
        """Log of likelihood times prior over the mixture of all densities (f, s)."""
        return self.ln_fit - self.ln_mixture + np.log(sum(self.counts))

    @cached_property
    def ln_evidence(self) -> np.ndarray:
        """Log (f,) of each row's evidence."""
        return log_sum(self.ln_weight) - np.log(self.ln_weight.shape[1])

    @cached_property
    def effective(self) -> np.ndarray:
        """Effective sample size (f,) of each row."""
        return worth(self.ln_weight)

    def only(self, keep: np.ndarray) -> "Drawn":
        """The rows at `keep`."""
        return Drawn(self.rows[keep], self.share[keep], self.z[keep], self.ln_fit[keep], self.ln_mixture[keep],
                     self.ln_latest[keep], tuple(density.only(keep) for density in self.laid), self.counts)

    def by_first(self, evidence: Evidence) -> "Drawn":
        """The draws from the first density alone."""
        density, count = self.laid[0], self.counts[0]
        share, z = self.share[:, :count], self.z[:, :count]
        return _alone(self.rows, share, z, self.ln_fit[:, :count], density, density.ln_over_prior(evidence, self.rows, share, z))

    def more(self, evidence: Evidence, count: int) -> "Drawn":
        """`count` more draws of each row from the latest density."""
        had = self.counts[-1]
        share, z, own = self.laid[-1].draw(evidence, self.rows, count, sum(self.counts))
        before = self.ln_mixture + np.log1p(count / had) if len(self.counts) == 1 else ln_add(self.ln_mixture, np.log(count) + self.ln_latest)
        return self._with(evidence, share, z, before, self.ln_latest, own, np.log(had + count), self.laid[:-1],
                          self.laid, (*self.counts[:-1], had + count))

    def beside(self, evidence: Evidence, density: Density, count: int) -> "Drawn":
        """`count` more draws of each row from another `density`."""
        share, z, own = density.draw(evidence, self.rows, count, sum(self.counts))
        latest = density.ln_over_prior(evidence, self.rows, self.share, self.z)
        return self._with(evidence, share, z, ln_add(self.ln_mixture, np.log(count) + latest), latest, own, np.log(count),
                          self.laid, (*self.laid, density), (*self.counts, count))

    def afresh(self, evidence: Evidence, count: int, since: int) -> "Drawn":
        """`count` fresh draws of each row and none of those had: from the densities laid `since` that many, and a part from
        those before them."""
        ours = self.counts[since:]
        before = [n * PART_BEFORE * sum(ours) / sum(self.counts[:since]) for n in self.counts[:since]]
        return draws_of(evidence, Mixture(self.laid, (*before, *ours), sum(self.counts)), self.rows, count)

    def _with(self, evidence: Evidence, share: np.ndarray, z: np.ndarray, before: np.ndarray, latest: np.ndarray,
              own: np.ndarray, ln_count: float, others: tuple[Density, ...], laid: tuple[Density, ...],
              counts: tuple[int, ...]) -> "Drawn":
        """Fresh draws share (f, s), z (f, s, z) of log density `own` put behind the draws had, now of log mixture `before`."""
        fresh = ln_count + own
        for count, density in zip(self.counts, others, strict=False):
            fresh = ln_add(fresh, np.log(count) + density.ln_over_prior(evidence, self.rows, share, z))
        ln_fit = evidence.weigh(share, z, self.rows)
        both = [np.concatenate(pair, axis=1) for pair in ((self.share, share), (self.z, z), (self.ln_fit, ln_fit), (before, fresh),
                                                          (latest, own))]
        return Drawn(self.rows, *both, laid, counts)


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
        ln = [np.log(count / sum(self.counts)) + density.ln_over_prior(evidence, rows, share, z)
              for density, count in zip(self.laid, self.counts, strict=True)]
        return reduce(ln_add, ln)


def worth(ln_weight: np.ndarray) -> np.ndarray:
    """Effective sample size (f,) of draws of log weights (f, s)."""
    weight = np.exp(ln_weight - ln_weight.max(axis=1, keepdims=True))
    return np.square(weight.sum(axis=1)) / np.square(weight).sum(axis=1)


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
    count = share.shape[1]
    return Drawn(rows, share, z, ln_fit, np.log(count) + ln, ln, (density,), (count,))
