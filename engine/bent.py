"""Owns draws along bent sheets: where readings hold a curve of unknowns together that no straight bell follows.

What the readings hardly hold is drawn from the fitted bell; what they hold tightly is moved, for every draw, to where the
readings want it, and scattered about there as widely as they are sharp. Wherever a point came from, its density can be
had by making the same move.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from engine.batches import ln_add
from engine.block import B, Z_AT, lanes
from engine.cells import Nodes, cell_at, put_between, share_at, step_density
from engine.compiled import compiled, inlined, laid_in
from engine.gauss_newton import HUBER, LARGEST_MOVE, lower_root, solve_lower, solve_turned
from engine.likelihood import Evidence, numbers_of
from engine.points import put_samples
from engine.slopes import STEP, Numbers, Offs, offs_for, put_off
from engine.straight import KEEP_PRIOR, WIDEN, unit_points, with_prior
from engine.unknowns import Z_NAMES

# At most so many directions are held, those where the bell is no wider than this; so many moves bring them to the readings.
HELD, TIGHT_SD, MOVES = 3, 0.5, 2
LN_2 = np.log(2.0)


@dataclass(frozen=True)
class Bent:
    """The density fitted to the readings, bent along them between its `nodes`; where nodes lie aside, half along either."""

    nodes: Nodes

    def only(self, keep: np.ndarray) -> "Bent":
        """The rows at `keep`."""
        return Bent(self.nodes.only(keep))

    def draw(self, evidence: Evidence, rows: np.ndarray, count: int, start: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """As of any density drawn from."""
        points = unit_points(count, start)
        prior = points[:, 0] < KEEP_PRIOR
        if self.nodes.aside is None:
            share, z, ln = _draw(evidence, self.nodes, rows, points, prior)
            return share, z, with_prior(ln)
        even = np.where(prior, points[:, 0] / KEEP_PRIOR, (points[:, 0] - KEEP_PRIOR) / (1.0 - KEEP_PRIOR)) < 0.5
        share, z, ln = np.empty((len(rows), count)), np.empty((len(rows), count, len(Z_NAMES))), np.empty((len(rows), count))
        for at, mine, other in ((even, self.nodes, self.nodes.aside), (~even, self.nodes.aside, self.nodes)):
            if not at.any():
                continue
            share[:, at], z[:, at], here = _draw(evidence, mine, rows, points[at], prior[at])
            there = _ln_bent(evidence, other, rows, share[:, at], z[:, at])
            ln[:, at] = ln_add(here, there) - LN_2
        return share, z, with_prior(ln)

    def ln_over_prior(self, evidence: Evidence, rows: np.ndarray, share: np.ndarray, z: np.ndarray) -> np.ndarray:
        """As of any density drawn from."""
        ln = _ln_bent(evidence, self.nodes, rows, share, z)
        if self.nodes.aside is not None:
            ln = ln_add(ln, _ln_bent(evidence, self.nodes.aside, rows, share, z)) - LN_2
        return with_prior(ln)


class _Sheet(NamedTuple):
    """Room for a block of points: how many directions are held, their means and the readings' wish, how far off normals lie
    (s, d), lower roots (s, d, d) of their precision, the held axes (s, d, a) and the point (s, a) with nothing held moved; the
    log (s,) of the density of all else over a standard normal's; one point's middle."""

    tight: np.ndarray
    mean: np.ndarray
    wish: np.ndarray
    normal: np.ndarray
    root: np.ndarray
    axis: np.ndarray
    base: np.ndarray
    ln_rest: np.ndarray
    middle: np.ndarray


class _Laid(NamedTuple):
    """Where sheets lie: shares (f, g), centres (f, g, a) and lower roots (f, g, a, a) of nodes, the tightest axes (f, g, d, a) with
    the variances (f, g, d) along them, edges (f, g + 1) and log density (f, g) over the severity share, and the numbers (f, k)
    that are not believed."""

    share: np.ndarray
    centre: np.ndarray
    root: np.ndarray
    axes: np.ndarray
    variance: np.ndarray
    edges: np.ndarray
    ln_density: np.ndarray
    doubted: np.ndarray


def _laid(evidence: Evidence, nodes: Nodes) -> _Laid:
    d = min(HELD, len(evidence.terms), nodes.centre.shape[-1])
    precise, turned = np.linalg.eigh(nodes.root @ nodes.root.swapaxes(-1, -2))
    axes = np.ascontiguousarray(turned.swapaxes(-1, -2)[:, :, ::-1][:, :, :d])
    doubted = np.zeros((len(nodes.share), len(evidence.terms)), bool) if nodes.doubted is None else nodes.doubted
    return _Laid(*nodes[:3], axes, 1.0 / np.ascontiguousarray(precise[:, :, ::-1][:, :, :d]), *step_density(nodes), doubted)


def _room(laid: _Laid) -> _Sheet:
    d, size = laid.axes.shape[2:]
    return _Sheet(np.zeros(B, np.int64), *(np.zeros((B, d)) for _ in range(3)), np.zeros((B, d, d)), np.zeros((B, d, size)),
                  np.zeros((B, size)), np.zeros(B), np.zeros(size))


def _draw(evidence: Evidence, nodes: Nodes, rows: np.ndarray, points: np.ndarray,
          prior: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Samples share (f, s) and z (f, s, z) along the readings that `nodes` believe, those of `prior` (s,) from before
    measuring, and their log density (f, s) over the one before measuring."""
    laid, numbers = _laid(evidence, nodes), numbers_of(evidence, evidence.active)
    share, _ = share_at(laid.edges, laid.ln_density, points[:, 1])
    share[:, prior] = points[prior, 1]
    z = np.zeros((*share.shape, len(Z_NAMES)))
    z[..., evidence.active] = points[:, 2:2 + len(evidence.active)]
    return share, z, _along(numbers, offs_for(numbers), _room(laid), laid, rows, share, z, prior, True)


def _ln_bent(evidence: Evidence, nodes: Nodes, rows: np.ndarray, share: np.ndarray, z: np.ndarray) -> np.ndarray:
    """Log (f, s) of the density along the readings that `nodes` believe, over the one before measuring."""
    laid, numbers = _laid(evidence, nodes), numbers_of(evidence, evidence.active)
    return _along(numbers, offs_for(numbers), _room(laid), laid, rows, np.ascontiguousarray(share), np.ascontiguousarray(z),
                  np.zeros(share.shape[1], bool), False)


@compiled
def _along(numbers: Numbers, offs: Offs, sheet: _Sheet, laid: _Laid, rows: np.ndarray, share: np.ndarray, z: np.ndarray,
           prior: np.ndarray, drawing: bool) -> np.ndarray:
    """Log (f, s) of the density along the readings over the one before measuring, at share (f, s) and z (f, s, z); where it is
    `drawing`, z are standard normals first, put along the readings here but for those that are as before measuring, `prior` (s,)."""
    ln, w = np.empty(share.shape), offs.room.block
    for f in range(len(rows)):
        for start in range(0, share.shape[1], B):
            n = min(B, share.shape[1] - start)
            for s in range(n):
                _put_sheet(numbers.dims, laid, f, share[f, start + s], z[f, start + s], drawing and not prior[start + s], sheet, s)
            put_samples(share[f], z[f], start, n, w)
            for _ in range(MOVES):
                _move_sheet(numbers, offs, sheet, laid.doubted[f], rows[f], n)
            for s in range(n):
                if drawing and not prior[start + s]:
                    _put_draw(numbers.dims, sheet, s, z[f, start + s])
                cell = cell_at(laid.edges[f], share[f, start + s])
                ln[f, start + s] = laid.ln_density[f, cell] + _ln_over_prior(numbers.dims, sheet, s, z[f, start + s])
    return ln


@inlined
def _put_sheet(dims: np.ndarray, laid: _Laid, f: int, share: float, z: np.ndarray, drawing: bool, sheet: _Sheet, s: int) -> None:
    """Puts point s of a block into `sheet`: `z` (z,), or where it is `drawing` standard normals brought to the bell there."""
    cell, size = cell_at(laid.edges[f], share), len(dims)
    root, middle = laid.root[f, cell], sheet.middle
    put_between(laid.centre[f], laid.share[f], share, cell, middle)
    point = sheet.base[s]
    for a in range(size):
        point[a] = z[dims[a]] * (WIDEN if drawing else 1.0)
    if drawing:
        solve_turned(root, point)
        for a in range(size):
            point[a] += middle[a]
    rest, ln_volume, sheet.tight[s] = 0.0, 0.0, 0
    for a in range(size):
        total = 0.0
        for b in range(a, size):
            total += root[b, a] * (point[b] - middle[b])
        rest += total * total
        ln_volume += np.log(WIDEN / root[a, a])
    for i in range(laid.axes.shape[2]):
        variance = laid.variance[f, cell, i]
        if variance < TIGHT_SD * TIGHT_SD:
            axis, along = sheet.axis[s, sheet.tight[s]], 0.0
            for a in range(size):
                axis[a] = laid.axes[f, cell, i, a]
                along += axis[a] * (point[a] - middle[a])
            rest -= along * along / variance
            ln_volume -= np.log(WIDEN * np.sqrt(variance))
            sheet.normal[s, sheet.tight[s]] = along / (WIDEN * np.sqrt(variance))
            sheet.mean[s, sheet.tight[s]] = 0.0
            sheet.tight[s] += 1
    # What all held directions take away is taken off at last, so that each is measured against the whole point.
    for i in range(sheet.tight[s]):
        along = 0.0
        for a in range(size):
            along += sheet.axis[s, i, a] * (point[a] - middle[a])
        for a in range(size):
            point[a] -= along * sheet.axis[s, i, a]
    sheet.ln_rest[s] = -0.5 * rest / WIDEN**2 - ln_volume


@inlined
def _put_points(dims: np.ndarray, sheet: _Sheet, w: np.ndarray, moved: int, step: float, n: int) -> None:
    """Puts the sheet's points into block `w`, the held directions at their means, direction `moved` by `step` beyond."""
    for s in range(lanes(n)):
        p = min(s, n - 1)
        for a in range(len(dims)):
            at = sheet.base[p, a]
            for i in range(sheet.tight[p]):
                at += sheet.axis[p, i, a] * (sheet.mean[p, i] + (step if i == moved else 0.0))
            w[Z_AT[0] + dims[a] * B + s] = at


@laid_in
def _move_sheet(numbers: Numbers, offs: Offs, sheet: _Sheet, doubted: np.ndarray, row: int, n: int) -> None:
    """Moves the held directions of the sheet's first `n` points to where the readings want them."""
    dims, w, d, count = numbers.dims, offs.room.block, sheet.mean.shape[1], numbers.typed.numbers * B
    for i in range(-1, d):
        _put_points(dims, sheet, w, i, STEP, n)
        put_off(numbers, row, numbers.hooks.all, i < 0, offs, offs.moved, lanes(n))
        for s in range(count):
            if i < 0:
                offs.off[s] = offs.moved[s]
            else:
                offs.slope[i * count + s] = (offs.moved[s] - offs.off[s]) / STEP
    for s in range(n):
        root, wish, held = sheet.root[s], sheet.wish[s], sheet.tight[s]
        for i in range(held):
            wish[i] = 0.0
            for a in range(len(dims)):
                here = sheet.base[s, a]
                for j in range(held):
                    here += sheet.axis[s, j, a] * sheet.mean[s, j]
                wish[i] -= sheet.axis[s, i, a] * here
            for j in range(i + 1):
                root[i, j] = 1.0 if i == j else 0.0
        for k in range(numbers.typed.numbers):
            if not doubted[k]:
                off = offs.off[k * B + s]
                weight = 1.0 / (1.0 + off * off / (HUBER * HUBER))
                for i in range(held):
                    part = weight * offs.slope[i * count + k * B + s]
                    wish[i] -= part * off
                    for j in range(i + 1):
                        root[i, j] += part * offs.slope[j * count + k * B + s]
        lower_root(root[:held, :held])
        solve_lower(root[:held, :held], wish[:held])
        solve_turned(root[:held, :held], wish[:held])
        longest = 0.0
        for i in range(held):
            longest = max(longest, abs(wish[i]))
        for i in range(held):
            sheet.mean[s, i] += wish[i] * min(1.0, LARGEST_MOVE / max(longest, 1e-9))


@inlined
def _put_draw(dims: np.ndarray, sheet: _Sheet, s: int, z: np.ndarray) -> None:
    """Puts point s, scattered about where the readings want it as widely as they are sharp, into `z` (z,)."""
    held, normal = sheet.tight[s], sheet.normal[s]
    for i in range(held):
        normal[i] *= WIDEN
    solve_turned(sheet.root[s, :held, :held], normal[:held])
    for a in range(len(dims)):
        at = sheet.base[s, a]
        for i in range(held):
            at += sheet.axis[s, i, a] * (sheet.mean[s, i] + normal[i])
        z[dims[a]] = at


@inlined
def _ln_over_prior(dims: np.ndarray, sheet: _Sheet, s: int, z: np.ndarray) -> float:
    """Log of the density at `z` (z,) over the one before measuring, the severity's left out."""
    held, off = sheet.tight[s], sheet.normal[s]
    ln = sheet.ln_rest[s]
    for i in range(held):
        off[i] = -sheet.mean[s, i]
        for a in range(len(dims)):
            off[i] += sheet.axis[s, i, a] * (z[dims[a]] - sheet.base[s, a])
    for i in range(held):
        standard = 0.0
        for j in range(i, held):
            standard += sheet.root[s, j, i] * off[j]
        ln += np.log(sheet.root[s, i, i] / WIDEN) - 0.5 * standard * standard / WIDEN**2
    for a in range(len(dims)):
        ln += 0.5 * z[dims[a]] * z[dims[a]]
    return ln
