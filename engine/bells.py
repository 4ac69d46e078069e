"""Owns bells laid about draws: mixtures of normal bells where earlier draws say the evidence is.

Raftery and Bao 2010, "Estimating and projecting trends in HIV/AIDS" (incremental mixtures), and Liu and West 2001, "Combined
parameter and state estimation" (shrunken kernels), both from memory.
"""

import math
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from scipy.special import ndtr, ndtri

from engine.batches import squared
from engine.block import B, lanes
from engine.compiled import ROOT_TWO_PI, below_normal, compiled, exp_of, held_at, inlined, log_of, normal_at
from engine.gauss_newton import linear
from engine.likelihood import Evidence, numbers_of
from engine.straight import even_points
from engine.unknowns import Z_NAMES

# Bells of either kind about a row's draws, which are picked as if so many of them were worth anything.
WIDE, NARROW, PICKED_FROM = 6, 12, 24.0
# Moves of wide bells uphill, none longer than this; how much wider bells are than the evidence is there; and what a reading must be
# left unexplained by (times exp of half its square) to count no more.
MOVES, LONGEST_MOVE, WIDER, UNEXPLAINED = 3, 2.0, 1.15, 1e-4
# Narrow bells keep such a part of the way to where they were in what readings do not hold, and are narrower by as much as if they
# held that once more: many of them follow what one wide one cannot. A move that loses more than this (natural log) is not made.
KEEP, NARROWER, LOST = 0.7, 1.0, 1.0
HALVINGS = 9
# So many products are added up at once.
FOUR = 4
# Severities no nearer to either end.
LEAST_SHARE = 1e-9


class Shape(NamedTuple):
    """One row's bells for compiled loops: their centres (b, d) and roots (b, d, d), the inverses (b, d, d + FOUR) of these with nothing
    behind them, the centres (b, d) as these have them, and the log (b,) of a bell's height at its middle."""

    centre: np.ndarray
    root: np.ndarray
    inverse: np.ndarray
    there: np.ndarray
    ln_top: np.ndarray


@dataclass(frozen=True)
class Bells:
    """A mixture of normal bells per row, over the severity (as a standard normal) and the active unknowns: centres
    (f, b, d), and the roots (f, b, d, d) of their spreads."""

    centre: np.ndarray
    root: np.ndarray

    @cached_property
    def shapes(self) -> tuple[Shape, ...]:
        """The bells of each row, ready for loops."""
        inverse = np.linalg.inv(self.root)
        there = np.matmul(inverse, self.centre[..., None])[..., 0]
        ln_top = -np.log(np.diagonal(self.root, axis1=2, axis2=3)).sum(axis=2) - math.log(self.centre.shape[1])
        each = self.centre, self.root, np.pad(inverse, ((0, 0), (0, 0), (0, 0), (0, FOUR))), there, ln_top
        return tuple(Shape(*(np.ascontiguousarray(part) for part in row)) for row in zip(*each, strict=True))

    def only(self, keep: np.ndarray) -> "Bells":
        """The rows at `keep`."""
        return Bells(self.centre[keep], self.root[keep])

    def draw(self, evidence: Evidence, rows: np.ndarray, count: int, start: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """As of any density drawn from."""
        share, ln, z = np.empty((len(rows), count)), np.empty((len(rows), count)), np.zeros((len(rows), count, len(Z_NAMES)))
        for f, shape in enumerate(self.shapes):
            _draw_bells(shape, evidence.active, even_points(start + count + B), start, share[f], z[f], ln[f])
        return share, z, ln

    def ln_over_prior(self, evidence: Evidence, _: np.ndarray, share: np.ndarray, z: np.ndarray) -> np.ndarray:
        """As of any density drawn from."""
        ln = np.empty(share.shape)
        for f, shape in enumerate(self.shapes):
            _ln_bells(shape, evidence.active, np.ascontiguousarray(share[f]), np.ascontiguousarray(z[f]), ln[f])
        return ln


@inlined
def _put_ln(shape: Shape, y: np.ndarray, room: np.ndarray, each: np.ndarray, out: np.ndarray, n: int) -> None:
    """Puts the log of the density at a block's points `y` (d B,), over a standard normal's into `out`, by way of the log of `each` bell
    (b B,)."""
    bells, d = shape.there.shape
    h, top, total = room[:B], room[B:2 * B], room[2 * B:3 * B]
    for s in range(n):
        top[s], total[s], out[s] = -np.inf, 0.0, 0.0
    for b in range(bells):
        ln = each[b * B:b * B + B]
        for s in range(n):
            ln[s] = shape.ln_top[b]
        for a in range(d):
            at, part = shape.there[b, a], shape.inverse[b, a]
            for s in range(n):
                h[s] = -at
            # Four at once: what is added up is fetched and put back a quarter as often.
            for c in range(0, a + 1, FOUR):
                one, two, three, four = part[c], part[c + 1], part[c + 2], part[c + 3]
                y1, y2, y3, y4 = y[c * B:c * B + B], y[c * B + B:c * B + 2 * B], y[c * B + 2 * B:c * B + 3 * B], y[c * B + 3 * B:c * B + 4 * B]
                for s in range(n):
                    h[s] += one * y1[s] + two * y2[s] + three * y3[s] + four * y4[s]
            for s in range(n):
                ln[s] -= 0.5 * h[s] * h[s]
        for s in range(n):
            top[s] = max(top[s], ln[s])
    for b in range(bells):
        ln = each[b * B:b * B + B]
        for s in range(n):
            total[s] += exp_of(ln[s] - top[s])
    for a in range(d):
        own = y[a * B:a * B + B]
        for s in range(n):
            out[s] += 0.5 * own[s] * own[s]
    for s in range(n):
        out[s] += top[s] + log_of(total[s])


@compiled
def _ln_bells(shape: Shape, active: np.ndarray, share: np.ndarray, z: np.ndarray, ln: np.ndarray) -> None:
    """Puts the log of the density over the one before measuring, at share (s,) and z (s, z), into `ln` (s,)."""
    d, out, room = shape.there.shape[1], np.empty(B), np.empty(3 * B)
    y, each = np.zeros((d + FOUR) * B), np.empty(len(shape.there) * B)
    for start in range(0, len(share), B):
        n = min(B, len(share) - start)
        for s in range(lanes(n)):
            at = start + min(s, n - 1)
            y[s] = normal_at(share[at])
            for a in range(1, d):
                y[a * B + s] = z[at, active[a - 1]]
        _put_ln(shape, y, room, each, out, lanes(n))
        for s in range(n):
            ln[start + s] = out[s]


@compiled
def _draw_bells(shape: Shape, active: np.ndarray, points: np.ndarray, first: int, share: np.ndarray, z: np.ndarray, ln: np.ndarray) -> None:
    """Puts as many samples as there is room for, those of `points` (2 + z, n) from number `first` on, into `share` (s,) and `z` (s, z), and
    the log of their density over the one before measuring into `ln` (s,)."""
    bells, d = shape.there.shape
    y, each, out, room, normal = np.zeros((d + FOUR) * B), np.empty(bells * B), np.empty(B), np.empty(3 * B), np.empty(B)
    for start in range(0, len(share), B):
        n = min(B, len(share) - start)
        which = points[0, first + start:first + start + B]
        for s in range(lanes(n)):
            normal[s] = normal_at(points[1, first + start + s])
        for s in range(lanes(n)):
            b = int(which[s] * bells)
            for a in range(d):
                y[a * B + s] = shape.centre[b, a] + shape.root[b, a, 0] * normal[s]
                for c in range(1, a + 1):
                    y[a * B + s] += shape.root[b, a, c] * points[1 + c, first + start + s]
        _put_ln(shape, y, room, each, out, lanes(n))
        for s in range(n):
            share[start + s], ln[start + s] = held_at(below_normal(y[s]), LEAST_SHARE, 1.0 - LEAST_SHARE), out[s]
            for a in range(1, d):
                z[start + s, active[a - 1]] = y[a * B + s]


def about_draws(evidence: Evidence, rows: np.ndarray, share: np.ndarray, z: np.ndarray, ln_weight: np.ndarray) -> Bells:
    """Bells of `rows` about some of their samples share (f, s), z (f, s, z) of weights exp(`ln_weight`) (f, s): wide ones, each moved
    uphill and as wide as the readings it explains leave it there, and narrow ones that stay nearer to where they were."""
    y, total = as_normals(share, z, evidence.active), np.cumsum(tempered(ln_weight, PICKED_FROM), axis=1)
    kinds = [kind(evidence, rows, _picked(y, total, count)) for kind, count in ((_wide, WIDE), (_narrow, NARROW))]
    centre, root = (np.concatenate(each, axis=1) for each in zip(*kinds, strict=True))
    return Bells(centre, WIDER * root)


def _picked(y: np.ndarray, total: np.ndarray, count: int) -> np.ndarray:
    """So many (f, count, d) of the points `y` (f, s, d), evenly by their weights' running sums `total` (f, s)."""
    at = (np.arange(count) + 0.5) / count
    pick = np.stack([np.searchsorted(each / each[-1], at) for each in total])
    return np.take_along_axis(y, pick[..., None], axis=1)


def _wide(evidence: Evidence, rows: np.ndarray, picked: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Centres (f, b, d) and roots (f, b, d, d) of bells at the tops above the points `picked` (f, b, d)."""
    f, count, d = picked.shape
    centre, every = picked.reshape(-1, d), np.repeat(rows, count)
    height = _ln_posterior(evidence, every, centre)
    for _ in range(MOVES):
        precision, uphill = _curvature(evidence, every, centre)
        step = np.linalg.solve(precision, uphill[..., None])[..., 0]
        moved = centre + _held(step)
        there = _ln_posterior(evidence, every, moved)
        better = there > height
        centre, height = np.where(better[:, None], moved, centre), np.where(better, there, height)
    precision, _ = _curvature(evidence, every, centre)
    return centre.reshape(f, count, d), np.linalg.cholesky(np.linalg.inv(precision)).reshape(f, count, d, d)


def _narrow(evidence: Evidence, rows: np.ndarray, picked: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Centres (f, b, d) and roots (f, b, d, d) of bells about the points `picked` (f, b, d), each brought to where readings want it."""
    f, count, d = picked.shape
    centre, every = picked.reshape(-1, d), np.repeat(rows, count)
    precision, uphill = _curvature(evidence, every, centre)
    spread = np.linalg.inv(precision)
    step = np.matmul(spread, uphill[..., None])
    moved = centre + _held((step - KEEP * np.matmul(spread, step))[..., 0])
    here, there = (_ln_posterior(evidence, every, each) for each in (centre, moved))
    centre = np.where((there > here - LOST)[:, None], moved, centre)
    root = np.linalg.cholesky(np.linalg.inv(precision + NARROWER * np.eye(d)))
    return centre.reshape(f, count, d), root.reshape(f, count, d, d)


def _held(step: np.ndarray) -> np.ndarray:
    """Steps (n, d) no longer than the longest."""
    return step * np.minimum(1.0, LONGEST_MOVE / np.maximum(np.sqrt(squared(step))[:, None], 1e-9))


def _ln_posterior(evidence: Evidence, rows: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Log (f,) of likelihood times prior of one point `y` (f, d) a row."""
    share, z = _from_normals(y[:, None], evidence.active)
    return evidence.weigh(share, z, rows)[:, 0] - 0.5 * squared(y)


def _curvature(evidence: Evidence, rows: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Precision (f, d, d) and slope (f, d) of the log posterior at `y` (f, d), readings it leaves unexplained left out."""
    share, z = _from_normals(y[:, None], evidence.active)
    off, slope = linear(numbers_of(evidence, evidence.active), rows, share[:, 0], z[:, 0, evidence.active])
    steep = np.exp(-0.5 * np.square(y[:, 0])) / ROOT_TWO_PI
    slope = np.concatenate([slope[:, :, -1:] * steep[:, None, None], slope[:, :, :-1]], axis=2)
    weight = 1.0 / (1.0 + UNEXPLAINED * np.exp(np.minimum(0.5 * np.square(off), 60.0)))
    weighted = slope * weight[:, :, None]
    precision = np.einsum("nka,nkb->nab", weighted, slope) + np.eye(y.shape[1])
    return precision, -np.einsum("nka,nk->na", weighted, off) - y


def tempered(ln_weight: np.ndarray, least: float) -> np.ndarray:
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


def _from_normals(y: np.ndarray, active: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Share (f, s) and z (f, s, z) of points `y` (f, s, d)."""
    share = np.clip(ndtr(y[..., 0]), LEAST_SHARE, 1.0 - LEAST_SHARE)
    z = np.zeros((*share.shape, len(Z_NAMES)))
    z[..., active] = y[..., 1:]
    return share, z


def as_normals(share: np.ndarray, z: np.ndarray, active: np.ndarray) -> np.ndarray:
    """Points (f, s, d) of share (f, s) and z (f, s, z): the severity as a standard normal, then the active unknowns."""
    return np.concatenate([ndtri(np.clip(share, LEAST_SHARE, 1.0 - LEAST_SHARE))[..., None], z[..., active]], axis=-1)
