"""Owns dense quadrature over a fault's severity and two unknowns: the reference the engine's sampling is held to.

The integrand is the engine's own likelihood; what is proven here is the integration, not the physics.
"""

from concurrent.futures import ThreadPoolExecutor
from typing import NamedTuple

import numpy as np

from engine.likelihood import Evidence
from engine.model import Model, Setup, canonical
from engine.readings import Reading
from engine.unknowns import Z, Z_NAMES

# Shares at which a severity jumps (see engine.grades); cells never straddle them.
JUMPS = (0.25, 0.7)
FARTHEST = 5.5
CHUNK = 8192
FIRST_SHARES, FIRST_NORMALS = 256, 11


class FewUnknowns(Model):
    """A model in which all but the named unknowns are held at their mean: nothing that is not active is ever moved from there."""

    def __init__(self, setup: Setup, free: tuple[str, ...]) -> None:
        super().__init__(setup)
        self.free = tuple(getattr(Z, name) for name in free)

    @property
    def active(self) -> np.ndarray:
        """Indices of the free unknowns."""
        return np.array(sorted(self.free))


class Row(NamedTuple):
    """One row integrated: log evidence, and cells of severity share with their weight."""

    ln_evidence: float
    share: np.ndarray
    weight: np.ndarray


def integrate(model: FewUnknowns, readings: tuple[Reading, ...], shares: int = 450,
              normals: int = 17) -> tuple[np.ndarray, tuple[Row, ...]]:
    """Chance (f,) of every row and its severity shares, by midpoints on `shares` x `normals` x `normals` cells.

    A first even grid finds where the mass is; the second grid's cells are
    laid so that three quarters of them share that mass evenly. Rows the first
    grid gives less than 1e-5 keep its value.
    """
    evidence = Evidence(model, canonical(readings))
    even = np.linspace(-FARTHEST, FARTHEST, FIRST_NORMALS + 1)

    def first(row: int) -> tuple[Row, list[np.ndarray]]:
        return _over(evidence, row, [_with_jumps(np.linspace(0.0, 1.0, _shares(model, row, FIRST_SHARES) + 1)), even, even])

    def second(item: tuple[int, list[np.ndarray], list[np.ndarray]]) -> Row:
        row, edges, marginals = item
        count = (_shares(model, row, shares), normals, normals)
        finer = [_laid(e, m, n) for e, m, n in zip(edges, marginals, count, strict=True)]
        return _over(evidence, row, [_with_jumps(finer[0]), *finer[1:]])[0]

    with ThreadPoolExecutor(2) as pool:
        coarse = list(pool.map(first, range(len(model))))
        ln = np.array([c[0].ln_evidence for c in coarse]) + model.ln_chance
        worth = np.flatnonzero(ln > ln.max() + np.log(1e-5))
        edges = {r: [_with_jumps(np.linspace(0.0, 1.0, _shares(model, r, FIRST_SHARES) + 1)), even, even] for r in worth}
        fine = dict(zip(worth, pool.map(second, [(r, edges[r], coarse[r][1]) for r in worth]), strict=True))
    rows = tuple(fine.get(r, coarse[r][0]) for r in range(len(model)))
    ln = np.array([r.ln_evidence for r in rows]) + model.ln_chance
    chance = np.exp(ln - ln.max())
    return chance / chance.sum(), rows


def median_severity(model: Model, row: int, cells: Row) -> float:
    """The severity at which half the row's weight is reached, straight within a cell."""
    at = np.interp(0.5, (np.cumsum(cells.weight) - 0.5 * cells.weight) / cells.weight.sum(), cells.share)
    return float(model.severity(np.array([[at]]), np.array([row]))[0, 0])


def _shares(model: Model, row: int, count: int) -> int:
    kind = model.kinds[row]
    # Where nothing is graded one cell is exact.
    return count if kind.severity_low is not None else 1


def _with_jumps(edges: np.ndarray) -> np.ndarray:
    return np.unique(np.concatenate([edges, JUMPS]))


def _over(evidence: Evidence, row: int, edges: list[np.ndarray]) -> tuple[Row, list[np.ndarray]]:
    """Midpoint rule over the cells between `edges`: the row, and the mass of each cell along each dimension."""
    middle = [0.5 * (e[1:] + e[:-1]) for e in edges]
    ln_size = [np.log(np.diff(e)) for e in edges]
    for k in (1, 2):
        ln_size[k] = ln_size[k] - 0.5 * np.square(middle[k]) - 0.5 * np.log(2 * np.pi)
    s, u, v = (part.ravel() for part in np.meshgrid(*middle, indexing="ij"))
    ln = sum(part for part in np.meshgrid(*ln_size, indexing="ij")).ravel()
    first, second = evidence.model.free
    for start in range(0, len(s), CHUNK):
        part = slice(start, start + CHUNK)
        z = np.zeros((1, len(s[part]), len(Z_NAMES)))
        z[0, :, first], z[0, :, second] = u[part], v[part]
        rows = np.array([row])
        ln[part] += evidence.weigh(s[None, part], z, rows)[0]
    mass = np.exp(ln - ln.max()).reshape([len(m) for m in middle])
    ln_evidence = float(np.log(mass.sum()) + ln.max())
    marginals = [mass.sum(axis=tuple(j for j in range(3) if j != k)) / mass.sum() for k in range(3)]
    return Row(ln_evidence, middle[0], marginals[0]), marginals


def _laid(edges: np.ndarray, mass: np.ndarray, count: int) -> np.ndarray:
    """Edges of `count` cells: three quarters share the mass (a little blurred) evenly, the rest the range."""
    if count == 1:
        return edges[[0, -1]]
    padded = np.concatenate([mass[:1], mass, mass[-1:]])
    blurred = padded[:-2] + 2.0 * padded[1:-1] + padded[2:]
    density = 0.75 * blurred / blurred.sum() + 0.25 * np.diff(edges) / (edges[-1] - edges[0])
    total = np.concatenate([[0.0], np.cumsum(density)])
    return np.interp(np.linspace(0.0, total[-1], count + 1), total, edges)
