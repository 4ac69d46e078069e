"""Owns draws from straight bells: the severity from the nodes' step density, the unknowns from the bell there."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.special import ndtri

from engine.batches import lattice, ln_add, squared
from engine.cells import Nodes, between, cell_of, of_cells, share_at, step_density
from engine.likelihood import Evidence
from engine.model import Z_NAMES
from engine.slopes import full

# How much wider than fitted, and the share drawn from before measuring, so that no weight can run away.
WIDEN, KEEP_PRIOR = 1.15, 0.15


@dataclass(frozen=True)
class Straight:
    """The density fitted to the readings, as straight bells about its `nodes`."""

    nodes: Nodes

    def only(self, keep: np.ndarray) -> "Straight":
        """The rows at `keep`."""
        return Straight(self.nodes.only(keep))

    def draw(self, evidence: Evidence, rows: np.ndarray, count: int, start: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """As of any density drawn from."""
        nodes, points = self.nodes, unit_points(count, start)
        share, z, ln = _draw(evidence, nodes, points)
        if nodes.aside is None:
            return share, z, ln
        other_share, other_z, _ = _draw(evidence, nodes.aside, points)
        other = (points[:, 0] - KEEP_PRIOR) / (1.0 - KEEP_PRIOR) >= nodes.part[:, None]
        share, z = np.where(other, other_share, share), np.where(other[..., None], other_z, z)
        return share, z, self.ln_over_prior(evidence, rows, share, z)

    def ln_over_prior(self, evidence: Evidence, rows: np.ndarray, share: np.ndarray, z: np.ndarray) -> np.ndarray:
        """As of any density drawn from."""
        nodes = self.nodes
        ln = _ln_bells(evidence, nodes, share, z)
        if nodes.aside is not None:
            ln = ln_add(np.log(nodes.part)[:, None] + ln, np.log1p(-nodes.part)[:, None] + _ln_bells(evidence, nodes.aside, share, z))
        return with_prior(ln)


@lru_cache(maxsize=64)
def unit_points(count: int, start: int) -> np.ndarray:
    """Quasi-random points (count, 2 + z): the first coordinate, even in 0..1, chooses the part of a density drawn from, the
    second, even too, the severity; the others are standard normals for the unknowns."""
    points = lattice(count, 2 + len(Z_NAMES), start)
    points[:, 2:] = ndtri(points[:, 2:])
    points.setflags(write=False)
    return points


def with_prior(ln_fit: np.ndarray) -> np.ndarray:
    """The log density `ln_fit` over the one before measuring, with a part of that kept in it."""
    return ln_add(np.log(KEEP_PRIOR), np.log(1.0 - KEEP_PRIOR) + ln_fit)


def _draw(evidence: Evidence, nodes: Nodes, points: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """As `draw`, with none aside."""
    edges, ln_density = step_density(nodes)
    active = evidence.active
    prior = points[:, 0] < KEEP_PRIOR
    share, cell = share_at(edges, ln_density, points[:, 1])
    share[:, prior] = points[prior, 1]
    cell[:, prior] = cell_of(edges, share[:, prior])
    normal = points[:, 2:2 + len(active)]
    centre = between(nodes.centre, nodes.share, share, cell)
    mine = centre + np.einsum("fsab,sb->fsa", of_cells(nodes.spread, cell), WIDEN * normal)
    mine[:, prior] = normal[prior]
    size = np.tile(squared(normal), (len(share), 1))
    back = np.einsum("fsab,fsb->fsa", of_cells(nodes.inverse, cell[:, prior]), normal[prior] - centre[:, prior])
    size[:, prior] = squared(back) / WIDEN**2
    return share, full(active, mine), with_prior(_ln_over_prior(nodes, ln_density, cell, size, mine))


def _ln_bells(evidence: Evidence, nodes: Nodes, share: np.ndarray, z: np.ndarray) -> np.ndarray:
    """Log (f, s) of the fitted density over the one before measuring, with none aside."""
    edges, ln_density = step_density(nodes)
    cell = cell_of(edges, share)
    mine = z[..., evidence.active]
    off = mine - between(nodes.centre, nodes.share, share, cell)
    standard = np.einsum("fsab,fsb->fsa", of_cells(nodes.inverse, cell), off)
    return _ln_over_prior(nodes, ln_density, cell, squared(standard) / WIDEN**2, mine)


def _ln_over_prior(nodes: Nodes, ln_density: np.ndarray, cell: np.ndarray, size: np.ndarray, mine: np.ndarray) -> np.ndarray:
    """As _ln_bells, for unknowns `mine` of squared length `size` in their bell's own normals."""
    ln_volume = np.log(np.diagonal(nodes.spread, axis1=-2, axis2=-1)).sum(axis=-1) + mine.shape[-1] * np.log(WIDEN)
    return -0.5 * size + of_cells(ln_density - ln_volume, cell) + 0.5 * squared(mine)
