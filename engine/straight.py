"""Owns draws from straight bells: the severity from the nodes' step density, the unknowns from the bell there."""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.special import ndtri

from engine.batches import lattice, ln_add
from engine.cells import Nodes, cell_at, put_between, share_at, step_density
from engine.compiled import compiled, inlined
from engine.gauss_newton import solve_turned
from engine.likelihood import Evidence
from engine.unknowns import Z_NAMES

# How much wider than fitted, and the share drawn from before measuring, so that no weight can run away.
WIDEN, KEEP_PRIOR = 1.15, 0.15
LN_PRIOR, LN_FITTED = math.log(KEEP_PRIOR), math.log(1.0 - KEEP_PRIOR)


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
    return ln_add(LN_PRIOR, LN_FITTED + ln_fit)


def _draw(evidence: Evidence, nodes: Nodes, points: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """As `draw`, with none aside."""
    edges, ln_density = step_density(nodes)
    share, cell = share_at(edges, ln_density, points[:, 1])
    return _drawn(nodes[:4], edges, ln_density, share, cell, points, evidence.active)


def _ln_bells(evidence: Evidence, nodes: Nodes, share: np.ndarray, z: np.ndarray) -> np.ndarray:
    """Log (f, s) of the fitted density over the one before measuring, with none aside."""
    return _ln_all(nodes[:4], *step_density(nodes), np.ascontiguousarray(share), np.ascontiguousarray(z), evidence.active)


@compiled
def _drawn(nodes: tuple, edges: np.ndarray, ln_density: np.ndarray, share: np.ndarray, cell: np.ndarray, points: np.ndarray,
           active: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Samples share (f, s), z (f, s, z) and the log (f, s) of their density over the one before measuring, for `points` (s, 2 + z)
    that lie at severities `share` (f, s) in cells `cell` of the `nodes`; some of them come from before measuring."""
    places, centres, roots, _ = nodes
    z, ln = np.zeros((*share.shape, len(Z_NAMES))), np.empty(share.shape)
    mine, middle = np.zeros(len(active)), np.zeros(len(active))
    for f in range(len(share)):
        volume = _ln_volumes(roots[f])
        for s in range(share.shape[1]):
            before = points[s, 0] < KEEP_PRIOR
            if before:
                share[f, s] = points[s, 1]
            at = cell_at(edges[f], share[f, s]) if before else cell[f, s]
            put_between(centres[f], places[f], share[f, s], at, middle)
            for a in range(len(active)):
                mine[a] = points[s, 2 + a] * (1.0 if before else WIDEN)
            size = 0.0
            if before:
                size = _squared_normals(roots[f, at], mine, middle) / WIDEN**2
            else:
                for a in range(len(active)):
                    size += points[s, 2 + a] * points[s, 2 + a]
                solve_turned(roots[f, at], mine)
                for a in range(len(active)):
                    mine[a] += middle[a]
            length = 0.0
            for a in range(len(active)):
                z[f, s, active[a]] = mine[a]
                length += mine[a] * mine[a]
            ln[f, s] = _with_prior(-0.5 * size + ln_density[f, at] - volume[at] + 0.5 * length)
    return share, z, ln


@compiled
def _ln_all(nodes: tuple, edges: np.ndarray, ln_density: np.ndarray, share: np.ndarray, z: np.ndarray, active: np.ndarray) -> np.ndarray:
    """Log (f, s) of the density of bells about `nodes` over the one before measuring, at share (f, s) and z (f, s, z)."""
    places, centres, roots, _ = nodes
    ln, mine, middle = np.empty(share.shape), np.zeros(len(active)), np.zeros(len(active))
    for f in range(len(share)):
        volume = _ln_volumes(roots[f])
        for s in range(share.shape[1]):
            at, length = cell_at(edges[f], share[f, s]), 0.0
            put_between(centres[f], places[f], share[f, s], at, middle)
            for a in range(len(active)):
                mine[a] = z[f, s, active[a]]
                length += mine[a] * mine[a]
            size = _squared_normals(roots[f, at], mine, middle) / WIDEN**2
            ln[f, s] = -0.5 * size + ln_density[f, at] - volume[at] + 0.5 * length
    return ln


@compiled
def _ln_volumes(roots: np.ndarray) -> np.ndarray:
    """Log (g,) of how much wider than standard normals the bells of `roots` (g, a, a) are."""
    out = np.zeros(len(roots))
    for g in range(len(roots)):
        for a in range(roots.shape[1]):
            out[g] += np.log(WIDEN / roots[g, a, a])
    return out


@inlined
def _squared_normals(root: np.ndarray, mine: np.ndarray, middle: np.ndarray) -> float:
    """Squared length of `mine` (a,) about `middle` (a,) in the normals of the bell of `root`."""
    size = 0.0
    for a in range(len(mine)):
        total = 0.0
        for b in range(a, len(mine)):
            total += root[b, a] * (mine[b] - middle[b])
        size += total * total
    return size


@inlined
def _with_prior(ln_fit: float) -> float:
    """As `with_prior`, of one number."""
    ln = LN_FITTED + ln_fit
    return max(LN_PRIOR, ln) + math.log1p(math.exp(-abs(LN_PRIOR - ln)))
