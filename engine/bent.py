"""Owns draws along bent sheets: where readings hold a curve of unknowns together that no straight bell follows.

What the readings hardly hold is drawn from the fitted bell; what they hold tightly is moved, for every draw, to where the
readings want it, and scattered about there as widely as they are sharp. Wherever a point came from, its density can be
had by making the same move.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from engine.batches import cholesky, inverse_lower, ln_add, squared
from engine.cells import Nodes, between, cell_of, of_cells, share_at, step_density
from engine.likelihood import Evidence
from engine.model import Z_NAMES
from engine.proposal import HUBER, LARGEST_MOVE
from engine.slopes import along, full
from engine.straight import KEEP_PRIOR, WIDEN, unit_points, with_prior

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
    """Where the held directions go at every point of a batch: `base` (f, s, a) with nothing held moved, axes `held`
    (f, s, d, a), which of them are `tight` (f, s, d) and not as loose as all else, their means (f, s, d) and lower roots
    (f, s, d, d) of their precision, and the log (f, s) of the density of all else over a standard normal's."""

    base: np.ndarray
    held: np.ndarray
    tight: np.ndarray
    mean: np.ndarray
    root: np.ndarray
    ln_rest: np.ndarray


def _draw(evidence: Evidence, nodes: Nodes, rows: np.ndarray, points: np.ndarray,
          prior: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Samples share (f, s) and z (f, s, z) along the readings that `nodes` believe, those of `prior` (s,) from before
    measuring, and their log density (f, s) over the one before measuring."""
    size = len(evidence.active)
    edges, ln_density = step_density(nodes)
    share, cell = share_at(edges, ln_density, points[:, 1])
    share[:, prior] = points[prior, 1]
    cell[:, prior] = cell_of(edges, share[:, prior])
    normal = points[:, 2:2 + size]
    axes, spread, centre = _bells(nodes, share, cell)
    mine = centre + np.einsum("fsba,fsb->fsa", axes, WIDEN * np.sqrt(spread) * normal)
    mine[:, prior] = normal[prior]
    sheet = _sheet(evidence, rows, share, mine, centre, axes, spread, nodes.doubted)
    held = sheet.mean.shape[-1]
    off = WIDEN * _solved(sheet.root, np.where(sheet.tight, normal[:, :held], 0.0))
    bent = sheet.base + np.einsum("fsda,fsd->fsa", sheet.held, sheet.mean + off)
    mine[:, ~prior] = bent[:, ~prior]
    return share, full(evidence.active, mine), _ln_over_prior(sheet, mine, of_cells(ln_density, cell))


def _ln_bent(evidence: Evidence, nodes: Nodes, rows: np.ndarray, share: np.ndarray, z: np.ndarray) -> np.ndarray:
    """Log (f, s) of the density along the readings that `nodes` believe, over the one before measuring."""
    edges, ln_density = step_density(nodes)
    cell = cell_of(edges, share)
    axes, spread, centre = _bells(nodes, share, cell)
    mine = z[..., evidence.active]
    sheet = _sheet(evidence, rows, share, mine, centre, axes, spread, nodes.doubted)
    return _ln_over_prior(sheet, mine, of_cells(ln_density, cell))


def _bells(nodes: Nodes, share: np.ndarray, cell: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Principal axes (f, s, a, a) of the bells at `share` in `cell` (f, s), one a row, the tightest first, the variances
    (f, s, a) along them and the centres (f, s, a)."""
    spread, turned = np.linalg.eigh(nodes.spread @ nodes.spread.swapaxes(-1, -2))
    axes, spread = of_cells(turned.swapaxes(-1, -2), cell), of_cells(np.maximum(spread, 1e-12), cell)
    return axes, spread, between(nodes.centre, nodes.share, share, cell)


def _sheet(evidence: Evidence, rows: np.ndarray, share: np.ndarray, mine: np.ndarray, centre: np.ndarray, axes: np.ndarray,
           spread: np.ndarray, doubted: np.ndarray | None) -> _Sheet:
    """The sheet at points `mine` (f, s, a) about `centre`, their bells' `axes` (f, s, a, a) and `spread` (f, s, a)."""
    d = min(HELD, len(evidence.terms), mine.shape[-1])
    held, tight = axes[..., :d, :], spread[..., :d] < TIGHT_SD**2
    loose = np.concatenate([~tight, np.ones((*share.shape, spread.shape[-1] - d), bool)], axis=-1)
    along_loose = np.where(loose, np.einsum("fsba,fsa->fsb", axes, mine - centre), 0.0)
    base = centre + np.einsum("fsba,fsb->fsa", axes, along_loose)
    wide = WIDEN**2 * spread
    ln_rest = -0.5 * np.where(loose, np.square(along_loose) / wide + np.log(wide), 0.0).sum(axis=-1)
    mean, directions = np.zeros((*share.shape, d)), full(evidence.active, held)
    for _ in range(MOVES):
        here = base + np.einsum("fsda,fsd->fsa", held, mean)
        residual, slope = along(evidence, rows, share, full(evidence.active, here), directions)
        slope = slope * tight.transpose(0, 2, 1)
        weight = 1.0 / (1.0 + np.square(residual / HUBER))
        if doubted is not None:
            weight[doubted.T] = 0.0
        weighted = slope * weight[:, :, None]
        precision = np.einsum("kfds,kfes->defs", weighted, slope)
        precision[np.arange(d), np.arange(d)] += 1.0
        uphill = -np.einsum("kfds,kfs->dfs", weighted, residual) - np.einsum("fsda,fsa->dfs", held, here)
        uphill *= tight.transpose(2, 0, 1)
        root = cholesky(precision.reshape(d, d, -1))
        inverse = inverse_lower(root)
        move = np.einsum("ban,bn->an", inverse, np.einsum("abn,bn->an", inverse, uphill.reshape(d, -1)))
        length = np.max(np.abs(move), axis=0, initial=0.0)
        mean = mean + (move * np.minimum(1.0, LARGEST_MOVE / np.maximum(length, 1e-9))).T.reshape(mean.shape)
    return _Sheet(base, held, tight, mean, root.transpose(2, 0, 1).reshape(*share.shape, d, d), ln_rest)


def _solved(root: np.ndarray, normal: np.ndarray) -> np.ndarray:
    """Standard normals (f, s, d) as wide as the precision of lower `root` (f, s, d, d) lets them be: root^T out = normal."""
    out = np.empty(normal.shape)
    for i in reversed(range(normal.shape[-1])):
        rest = normal[..., i] - np.einsum("fsb,fsb->fs", root[..., i + 1:, i], out[..., i + 1:])
        out[..., i] = rest / root[..., i, i]
    return out


def _ln_over_prior(sheet: _Sheet, mine: np.ndarray, ln_density: np.ndarray) -> np.ndarray:
    """Log (f, s) of the density at `mine` (f, s, a) over the one before measuring."""
    off = np.where(sheet.tight, np.einsum("fsda,fsa->fsd", sheet.held, mine - sheet.base) - sheet.mean, 0.0)
    standard = np.einsum("fsba,fsb->fsa", sheet.root, off) / WIDEN
    ln_volume = sheet.tight.sum(axis=-1) * np.log(WIDEN) - np.log(np.diagonal(sheet.root, axis1=-2, axis2=-1)).sum(axis=-1)
    return ln_density + sheet.ln_rest - 0.5 * squared(standard) - ln_volume + 0.5 * squared(mine)
