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

from engine.batches import squared, tempered
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
# So many products are added up at once.
FOUR = 4
# Severities no nearer to either end.
LEAST_SHARE, MOST_SHARE = 1e-9, 1.0 - 1e-9


class Shape(NamedTuple):
    """One row's bells for compiled loops: their centres (b, d) and upper roots (b, d, d), the inverses (b, d, d + FOUR) of these with nothing
    behind them, the centres (b, d) as these have them, and the log (b,) of a bell's height at its middle."""

    centre: np.ndarray
    root: np.ndarray
    inverse: np.ndarray
    there: np.ndarray
    ln_top: np.ndarray


@dataclass(frozen=True)
class Bells:
    """A mixture of normal bells per row, over the severity (as a standard normal) and the active unknowns: centres
    (f, b, d), and the lower roots (f, b, d, d) of their precisions."""

    centre: np.ndarray
    root: np.ndarray

    @cached_property
    def shapes(self) -> tuple[Shape, ...]:
        """The bells of each row, ready for loops."""
        return tuple(_shape(centre, root) for centre, root in zip(self.centre, self.root, strict=True))

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


def _shape(centre: np.ndarray, root: np.ndarray) -> Shape:
    """Bells of one row about `centre` (b, d), of precisions with these lower roots (b, d, d)."""
    b, d = centre.shape
    shape = Shape(centre.astype(np.float32), *(np.zeros(size, np.float32) for size in ((b, d, d), (b, d, d + FOUR), (b, d), b)))
    _put_shape(centre, root, shape)
    return shape


@compiled
def _put_shape(centre: np.ndarray, root: np.ndarray, shape: Shape) -> None:
    """As `_shape`."""
    b, d = centre.shape
    upper = np.zeros((d, d))
    for k in range(b):
        shape.ln_top[k] = -math.log(b)
        for a in range(d):
            shape.ln_top[k] += math.log(root[k, a, a])
            upper[a, a] = 1.0 / root[k, a, a]
            there = 0.0
            for c in range(a, d):
                shape.inverse[k, a, c] = root[k, c, a]
                there += root[k, c, a] * centre[k, c]
            shape.there[k, a] = there
        for a in range(d - 1, -1, -1):
            for c in range(a + 1, d):
                total = 0.0
                for e in range(a + 1, c + 1):
                    total += root[k, e, a] * upper[e, c]
                upper[a, c] = -total * upper[a, a]
            for c in range(a, d):
                shape.root[k, a, c] = upper[a, c]


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
            for c in range(a - a % FOUR, d, FOUR):
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
    d, out, room = shape.there.shape[1], np.empty(B, np.float32), np.empty(3 * B, np.float32)
    y, each = np.zeros((d + FOUR) * B, np.float32), np.empty(len(shape.there) * B, np.float32)
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
    y, each, out = np.zeros((d + FOUR) * B, np.float32), np.empty(bells * B, np.float32), np.empty(B, np.float32)
    room, normal = np.empty(3 * B, np.float32), np.empty(B, np.float32)
    for start in range(0, len(share), B):
        n = min(B, len(share) - start)
        which = points[0, first + start:first + start + B]
        for s in range(lanes(n)):
            normal[s] = normal_at(points[1, first + start + s])
        for s in range(lanes(n)):
            b = int(which[s] * bells)
            for a in range(d):
                total = shape.centre[b, a] + (shape.root[b, 0, 0] * normal[s] if a == 0 else 0.0)
                for c in range(max(a, 1), d):
                    total += shape.root[b, a, c] * points[1 + c, first + start + s]
                y[a * B + s] = total
        _put_ln(shape, y, room, each, out, lanes(n))
        for s in range(n):
            # To sixteen digits: seven of a share next to one would tell too little of how far out it is.
            share[start + s], ln[start + s] = held_at(below_normal(np.float64(y[s])), LEAST_SHARE, MOST_SHARE), out[s]
            for a in range(1, d):
                z[start + s, active[a - 1]] = y[a * B + s]


def about_draws(evidence: Evidence, rows: np.ndarray, share: np.ndarray, z: np.ndarray, ln_weight: np.ndarray) -> Bells:
    """Bells of `rows` about some of their samples share (f, s), z (f, s, z) of weights exp(`ln_weight`) (f, s): wide ones, each moved
    uphill and as wide as the readings it explains leave it there, and narrow ones that stay nearer to where they were."""
    total = np.cumsum(tempered(ln_weight, PICKED_FROM), axis=1)
    kinds = [kind(evidence, rows, _picked(share, z[..., evidence.active], total, count)) for kind, count in ((_wide, WIDE), (_narrow, NARROW))]
    centre, root = (np.concatenate(each, axis=1) for each in zip(*kinds, strict=True))
    return Bells(centre, root / WIDER)


def _picked(share: np.ndarray, z: np.ndarray, total: np.ndarray, count: int) -> np.ndarray:
    """So many (f, count, d) of the samples share (f, s) and z (f, s, a), evenly by their weights' running sums `total` (f, s), as points:
    the severity as a standard normal, then the unknowns."""
    at = (np.arange(count) + 0.5) / count
    pick = np.stack([np.searchsorted(each / each[-1], at) for each in total])
    normal = ndtri(np.clip(np.take_along_axis(share, pick, axis=1), LEAST_SHARE, MOST_SHARE))
    return np.concatenate([normal[..., None], np.take_along_axis(z, pick[..., None], axis=1)], axis=-1)


def _wide(evidence: Evidence, rows: np.ndarray, centre: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Centres (f, b, d) of bells at the tops above points `centre` (f, b, d), and the roots (f, b, d, d) of their precisions."""
    height = _ln_posterior(evidence, rows, centre)
    for _ in range(MOVES):
        moved = centre + _held(_curvature(evidence, rows, centre, 0.0).step)
        there = _ln_posterior(evidence, rows, moved)
        better = there > height
        centre, height = np.where(better[..., None], moved, centre), np.where(better, there, height)
    return centre, _curvature(evidence, rows, centre, 0.0).root


def _narrow(evidence: Evidence, rows: np.ndarray, centre: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Centres (f, b, d) of bells about points `centre` (f, b, d), each brought to where readings want it, and the roots (f, b, d, d) of
    their precisions."""
    curved = _curvature(evidence, rows, centre, NARROWER)
    moved = centre + _held(curved.step - KEEP * curved.again)
    here, there = (_ln_posterior(evidence, rows, each) for each in (centre, moved))
    return np.where((there > here - LOST)[..., None], moved, centre), curved.root


def _held(step: np.ndarray) -> np.ndarray:
    """Steps (f, b, d) no longer than the longest."""
    return step * np.minimum(1.0, LONGEST_MOVE / np.maximum(np.sqrt(squared(step))[..., None], 1e-9))


def _ln_posterior(evidence: Evidence, rows: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Log (f, b) of likelihood times prior of points `y` (f, b, d) of `rows`."""
    return evidence.weigh(_shares(y), y[..., 1:], rows, evidence.active) - 0.5 * squared(y)


class Curved(NamedTuple):
    """How the log posterior curves at points: the step (f, b, d) to its top, what its spread makes of that step (f, b, d), and the lower
    root (f, b, d, d) of its precision."""

    step: np.ndarray
    again: np.ndarray
    root: np.ndarray


def _curvature(evidence: Evidence, rows: np.ndarray, y: np.ndarray, more: float) -> Curved:
    """The log posterior about points `y` (f, b, d), readings they leave unexplained left out; the root is of a precision so much `more` than
    it has."""
    off, slope = linear(numbers_of(evidence, evidence.active), rows, _shares(y), y[..., 1:])
    out = Curved(np.empty(y.shape), np.empty(y.shape), np.zeros((*y.shape, y.shape[2])))
    _put_curved(y, off, slope, more, out)
    return out


@compiled
def _put_curved(y: np.ndarray, off: np.ndarray, slope: np.ndarray, more: float, out: Curved) -> None:
    """As `_curvature`, of points `y` where numbers are `off` (f, b, k) and run by `slope` (f, b, k, d), the severity share's last."""
    f, bells, d = y.shape
    run, precision = np.zeros(d), np.zeros((d, d))
    for i in range(f):
        for b in range(bells):
            steep, step, again, root = exp_of(-0.5 * y[i, b, 0] * y[i, b, 0]) / ROOT_TWO_PI, out.step[i, b], out.again[i, b], out.root[i, b]
            for a in range(d):
                step[a] = -y[i, b, a]
                for c in range(a + 1):
                    precision[a, c] = 1.0 if a == c else 0.0
            for k in range(off.shape[2]):
                far = off[i, b, k]
                weight = 1.0 / (1.0 + UNEXPLAINED * exp_of(min(0.5 * far * far, 60.0)))
                run[0] = slope[i, b, k, d - 1] * steep
                for a in range(1, d):
                    run[a] = slope[i, b, k, a - 1]
                for a in range(d):
                    step[a] -= weight * run[a] * far
                    for c in range(a + 1):
                        precision[a, c] += weight * run[a] * run[c]
            _put_root(precision, 0.0, root)
            _solve(root, step)
            for a in range(d):
                again[a] = step[a]
            _solve(root, again)
            if more > 0.0:
                _put_root(precision, more, root)


@inlined
def _put_root(precision: np.ndarray, more: float, root: np.ndarray) -> None:
    """Puts the lower root of `precision` (d, d), and so much `more` of each, into `root` (Cholesky)."""
    for a in range(len(precision)):
        for c in range(a + 1):
            total = precision[a, c] + (more if a == c else 0.0)
            for e in range(c):
                total -= root[a, e] * root[c, e]
            root[a, c] = math.sqrt(total) if a == c else total / root[c, c]


@inlined
def _solve(root: np.ndarray, of: np.ndarray) -> None:
    """Puts what a precision of this lower `root` makes of itself into `of` (d,)."""
    d = len(of)
    for a in range(d):
        for c in range(a):
            of[a] -= root[a, c] * of[c]
        of[a] /= root[a, a]
    for a in range(d - 1, -1, -1):
        for c in range(a + 1, d):
            of[a] -= root[c, a] * of[c]
        of[a] /= root[a, a]


def _shares(y: np.ndarray) -> np.ndarray:
    """Severity shares (f, s) of points `y` (f, s, d)."""
    return np.clip(ndtr(y[..., 0]), LEAST_SHARE, MOST_SHARE)
