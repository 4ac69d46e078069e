"""Owns the second look at rows whose first draws were worth too little: bells laid about the draws that fitted.

Adaptive importance sampling: each round draws from bells centred on samples of the round before, and all rounds' draws
are weighed against the mixture they came from, so that none counts more than it should (Cornuet, Marin, Mira, Robert
2012, "Adaptive multiple importance sampling", from memory).
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property, lru_cache

import numpy as np
from scipy.special import ndtr, ndtri

from engine.batches import lattice, ln_add, squared
from engine.likelihood import Evidence
from engine.model import Z_NAMES
from engine.module import ROOT_TWO_PI
from engine.proposal import Nodes, draw, ln_density_over_prior
from engine.slopes import linear

BELLS, ROUND_DRAWS = 32, (2048, 3072, 4096)
# Draws of a first round by what a row is wanted to be worth, and fewest draws that tell how well a density fits.
PER_WANTED, FEW = 3.0, 128
# Where readings contradict each other each of them may be the slip: rounds about the heaviest draw find such places one by
# one (Raftery and Bao 2010, "Estimating and projecting trends in HIV/AIDS", incremental mixtures, from memory). After so many
# of them bells are laid over all draws once more: a long bent ridge asks for both. So many turns at most.
LAST_ROUNDS, LAST_DRAWS, LAST_TURNS = 8, 512, 4
# Moves uphill from there, none longer than this; the bell's width; and what a reading must be left unexplained by (times
# exp of half its square) to count no more.
MOVES, LONGEST_MOVE, LOCAL_WIDTH, UNEXPLAINED = 3, 2.0, 1.15, 1e-4
# Rows whose draws were worth this share of their number just get more of the same.
GOOD_SHARE, MORE, MOST_MORE = 0.12, 1.25, 12
# Bells as wide as this part of the fitted samples' own spread; and how many samples, in terms of the number of unknowns,
# that spread must rest on.
WIDTH, REST_ON = 0.9, 2.5
HALVINGS = 9
# Draws whose distances to all bells stay in the processor's near memory.
TOGETHER = 1024


@dataclass
class Drawn:
    """Rows drawn alike: share (f, s), z (f, s, z), log likelihood (f, s), log (f, s) of the mixture of all rounds' densities
    over the prior's at every draw, each round's as many times as it has draws, and those numbers of draws."""

    rows: np.ndarray
    share: np.ndarray
    z: np.ndarray
    ln_fit: np.ndarray
    ln_mixture: np.ndarray
    counts: tuple[int, ...]
    bells: list["_Bells"] = field(default_factory=list)

    @cached_property
    def ln_weight(self) -> np.ndarray:
        """Log of likelihood times prior over the mixture of all rounds (f, s)."""
        return self.ln_fit - self.ln_mixture + np.log(sum(self.counts))

    def effective(self) -> np.ndarray:
        """Effective sample size (f,) of each row."""
        ln = self.ln_weight
        weight = np.exp(ln - ln.max(axis=1, keepdims=True))
        return np.square(weight.sum(axis=1)) / np.square(weight).sum(axis=1)

    def joined(self, more: "Drawn") -> "Drawn":
        """Both draws as one, of the same rows and the same density."""
        (had,), (count,) = self.counts, more.counts
        longer = np.log((had + count) / np.array([had, count]))
        both = [np.concatenate(pair, axis=1) for pair in ((self.share, more.share), (self.z, more.z), (self.ln_fit, more.ln_fit),
                                                          (self.ln_mixture + longer[0], more.ln_mixture + longer[1]))]
        return Drawn(self.rows, *both, (had + count,))

    def only(self, keep: np.ndarray) -> "Drawn":
        """The rows at `keep`."""
        return Drawn(self.rows[keep], self.share[keep], self.z[keep], self.ln_fit[keep], self.ln_mixture[keep], self.counts,
                     [bells.only(keep) for bells in self.bells])


@dataclass
class _Bells:
    """A mixture of normal bells per row, over the severity (as a standard normal) and the active unknowns: centres
    (f, b, d), and the root (f, d, d) of the spread they share."""

    centre: np.ndarray
    root: np.ndarray

    def only(self, keep: np.ndarray) -> "_Bells":
        """The rows at `keep`."""
        return _Bells(self.centre[keep], self.root[keep])

    def draw(self, count: int) -> np.ndarray:
        """`count` draws (f, s, d) of each row."""
        points = lattice(count, self.root.shape[1] + 1)
        bell = (points[:, 0] * self.centre.shape[1]).astype(int)
        return self.centre[:, bell] + np.matmul(ndtri(points[:, 1:]), self.root.transpose(0, 2, 1))

    def ln_over_prior(self, y: np.ndarray) -> np.ndarray:
        """Log of the mixture's density over the standard normal prior's, (f, s)."""
        inverse = np.ascontiguousarray(np.linalg.inv(self.root).transpose(0, 2, 1))
        ln_volume = np.log(np.diagonal(self.root, axis1=1, axis2=2)).sum(axis=1)
        here, there = np.matmul(y, inverse), np.matmul(self.centre, inverse)
        ln = np.stack([_ln_bells(*both) for both in zip(here, there, strict=True)])
        return ln - np.log(self.centre.shape[1]) - ln_volume[:, None] + 0.5 * (squared(y) - squared(here))


def _ln_bells(here: np.ndarray, there: np.ndarray) -> np.ndarray:
    """Log (s,) of the sum over centres `there` (b, d) of exp(here . there - there^2 / 2), for `here` (s, d)."""
    out, size = np.empty(len(here)), squared(there)[:, None] / 2.0
    for start in range(0, len(here), TOGETHER):
        part = slice(start, start + TOGETHER)
        exponent = np.dot(there, np.ascontiguousarray(here[part].T)) - size
        top = exponent.max(axis=0)
        exponent -= top
        # Seven digits are plenty for a weight, and a quarter of the time.
        out[part] = np.log(np.exp(exponent.astype(np.float32)).sum(axis=0)) + top
    return out


def _fitted(_: Evidence, __: np.ndarray, y: np.ndarray, ln_weight: np.ndarray) -> _Bells:
    """Bells about samples `y` (f, s, d) of weights exp(`ln_weight`)."""
    f, _, d = y.shape
    weight = _tempered(ln_weight, REST_ON * d)
    off = y - np.einsum("fs,fsd->fd", weight, y)[:, None]
    spread = np.matmul((off * weight[..., None]).transpose(0, 2, 1), off) + 1e-6 * np.eye(d)
    total = np.cumsum(weight, axis=1)
    at = (np.arange(BELLS) + 0.5) / BELLS
    pick = np.stack([np.searchsorted(total[k] / total[k, -1], at) for k in range(f)])
    return _Bells(np.take_along_axis(y, pick[..., None], axis=1), np.linalg.cholesky(spread) * WIDTH)


def _about_heaviest(evidence: Evidence, rows: np.ndarray, y: np.ndarray, ln_weight: np.ndarray) -> _Bells:
    """One bell about the heaviest of samples `y` (f, s, d) of `rows`, moved uphill and as wide as the likelihood is curved
    there by the readings it explains."""
    centre = y[np.arange(len(y)), ln_weight.argmax(axis=1)]
    height = _ln_posterior(evidence, rows, centre)
    for _ in range(MOVES):
        precision, uphill = _curvature(evidence, rows, centre)
        move = np.linalg.solve(precision, uphill[..., None])[..., 0]
        length = np.sqrt(squared(move))[:, None]
        moved = centre + move * np.minimum(1.0, LONGEST_MOVE / np.maximum(length, 1e-9))
        there = _ln_posterior(evidence, rows, moved)
        better = there > height
        centre, height = np.where(better[:, None], moved, centre), np.where(better, there, height)
    precision, _ = _curvature(evidence, rows, centre)
    return _Bells(centre[:, None], np.linalg.cholesky(np.linalg.inv(precision)) * LOCAL_WIDTH)


def _ln_posterior(evidence: Evidence, rows: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Log (f,) of likelihood times prior of one point `y` (f, d) a row."""
    share, z = _from_normals(y[:, None], evidence.active)
    return evidence.weigh(share, z, rows)[:, 0] - 0.5 * squared(y)


def _curvature(evidence: Evidence, rows: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Precision (f, d, d) and slope (f, d) of the log posterior at `y` (f, d), readings it leaves unexplained left out."""
    share, z = _from_normals(y[:, None], evidence.active)
    residual, jacobian = linear(evidence, rows, share, z[..., evidence.active], evidence.active)
    slope = np.exp(-0.5 * np.square(y[:, 0])) / ROOT_TWO_PI
    jacobian = np.concatenate([jacobian[:, -1:] * slope, jacobian[:, :-1]], axis=1)
    weight = 1.0 / (1.0 + UNEXPLAINED * np.exp(np.minimum(0.5 * np.square(residual), 60.0)))
    weighted = jacobian * weight[:, None]
    precision = np.einsum("kan,kbn->nab", weighted, jacobian) + np.eye(y.shape[1])
    return precision, -np.einsum("kan,kn->na", weighted, residual) - y


def _tempered(ln_weight: np.ndarray, least: float) -> np.ndarray:
    """Normalised weights (f, s), raised to the power (at most 1) at which they are worth `least` samples."""
    ln = ln_weight - ln_weight.max(axis=1, keepdims=True)
    low, high = np.zeros((len(ln), 1)), np.ones((len(ln), 1))
    power = high
    for _ in range(HALVINGS):
        weight = np.exp(ln * power)
        enough = np.square(weight.sum(axis=1)) / np.square(weight).sum(axis=1) >= least
        if enough.all() and power is high:
            break
        low, high = np.where(enough[:, None], power, low), np.where(enough[:, None], high, power)
        power = 0.5 * (low + high)
    weight = np.exp(ln * power)
    return weight / weight.sum(axis=1, keepdims=True)


def refine(evidence: Evidence, nodes: Nodes, drawn: Drawn, wanted: np.ndarray) -> list[Drawn]:
    """`drawn` with as many draws added to each row as make it worth `wanted` (f,) samples, within reason."""
    effective, had = drawn.effective(), drawn.share.shape[1]
    short = effective < wanted
    out = [drawn.only(np.flatnonzero(~short))] if (~short).any() else []
    if had < FEW and not drawn.bells and short.any():
        # So few draws do not tell how well the density fits.
        keep = np.flatnonzero(short)
        return out + refine(evidence, nodes.only(keep), _longer(evidence, nodes.only(keep), drawn.only(keep), FEW - had),
                            wanted[keep])
    same = short & (effective >= GOOD_SHARE * had)
    counts = np.array([_step_up(had * (min(MORE * w / e, MOST_MORE) - 1.0)) for w, e in zip(wanted, effective, strict=True)])
    for count in np.unique(counts[same]):
        keep = np.flatnonzero(same & (counts == count))
        out.append(_longer(evidence, nodes.only(keep), drawn.only(keep), int(count)))
    poor = np.flatnonzero(short & ~same)
    counts = np.array([_step_up(min(max(PER_WANTED * w, FEW), ROUND_DRAWS[0])) for w in wanted])
    for count in np.unique(counts[poor]):
        keep = poor[counts[poor] == count]
        out += _rounds(evidence, nodes.only(keep), drawn.only(keep), wanted[keep], int(count))
    return out


def _longer(evidence: Evidence, nodes: Nodes, drawn: Drawn, count: int) -> Drawn:
    """`drawn` with `count` more draws from the density fitted at first; those alone where bells were laid since."""
    more = first_draws(evidence, nodes, drawn.rows, count, drawn.share.shape[1])
    return drawn.joined(more) if not drawn.bells else more


def _rounds(evidence: Evidence, nodes: Nodes, drawn: Drawn, wanted: np.ndarray, count: int) -> list[Drawn]:
    """`drawn` with rounds of draws from bells, `count` in the first, until each row is worth `wanted` or rounds run out."""
    out = []
    laid = [(_fitted, count * more // ROUND_DRAWS[0]) for more in ROUND_DRAWS]
    laid += ([(_about_heaviest, LAST_DRAWS)] * LAST_ROUNDS + [(_fitted, ROUND_DRAWS[-1])]) * LAST_TURNS
    for lay, more in laid:
        drawn = _one_more(evidence, nodes, drawn, more, lay)
        enough = drawn.effective() >= wanted
        if enough.any():
            out.append(drawn.only(np.flatnonzero(enough)))
        poor = np.flatnonzero(~enough)
        if not len(poor):
            return out
        drawn, wanted, nodes = drawn.only(poor), wanted[poor], nodes.only(poor)
    return [*out, drawn]


def first_draws(evidence: Evidence, nodes: Nodes, rows: np.ndarray, count: int, start: int = 0) -> Drawn:
    """`count` draws of each of `rows` from the density fitted to it, from number `start` on."""
    share, z, ln_over_prior = draw(evidence, nodes, _points(count, start))
    return Drawn(rows, share, z, evidence.weigh(share, z, rows), np.log(count) + ln_over_prior, (count,))


@lru_cache(maxsize=64)
def _points(count: int, start: int) -> np.ndarray:
    return lattice(count, 2 + len(Z_NAMES), start)


def _step_up(count: float) -> int:
    """The next of few counts, each about half as much again, so that rows can be drawn together."""
    return 64 * round(2 ** (np.ceil(2 * np.log2(max(count / 64.0, 1.0))) / 2))


def _one_more(evidence: Evidence, nodes: Nodes, drawn: Drawn, count: int,
              lay: Callable[[Evidence, np.ndarray, np.ndarray, np.ndarray], _Bells]) -> Drawn:
    active = evidence.active
    y = _as_normals(drawn.share, drawn.z, active)
    bells = lay(evidence, drawn.rows, y, drawn.ln_weight)
    fresh = bells.draw(count)
    share, z = _from_normals(fresh, active)
    ln_fit = evidence.weigh(share, z, drawn.rows)
    of_fresh = ln_density_over_prior(evidence, nodes, share, z) + np.log(drawn.counts[0])
    for had, laid in zip(drawn.counts[1:], drawn.bells, strict=True):
        of_fresh = ln_add(of_fresh, np.log(had) + laid.ln_over_prior(fresh))
    before = np.concatenate([drawn.ln_mixture, of_fresh], axis=1)
    mixture = ln_add(before, np.log(count) + bells.ln_over_prior(np.concatenate([y, fresh], axis=1)))
    share, z, ln_fit = (np.concatenate(both, axis=1) for both in ((drawn.share, share), (drawn.z, z), (drawn.ln_fit, ln_fit)))
    return Drawn(drawn.rows, share, z, ln_fit, mixture, (*drawn.counts, count), [*drawn.bells, bells])


def _from_normals(y: np.ndarray, active: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Share (f, s) and z (f, s, z) of points `y` (f, s, d)."""
    share = np.clip(ndtr(y[..., 0]), 1e-12, 1.0 - 1e-12)
    z = np.zeros((*share.shape, len(Z_NAMES)))
    z[..., active] = y[..., 1:]
    return share, z


def _as_normals(share: np.ndarray, z: np.ndarray, active: np.ndarray) -> np.ndarray:
    return np.concatenate([ndtri(np.clip(share, 1e-12, 1.0 - 1e-12))[..., None], z[..., active]], axis=-1)
