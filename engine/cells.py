"""Owns nodes along the severity share, each with a bell over the unknowns, and the step density of one cell a node."""

from typing import NamedTuple

import numpy as np

from engine.batches import held


class Nodes(NamedTuple):
    """Per row f and node g: severity share, centre of the unknowns, their bell and log density, ascending in share.

    `root` (f, g, a, a) is the lower root of the bell's precision: it turned maps
    the active unknowns about their centre to standard normals. `aside` are the same rows' nodes as if some
    numeric terms were not believed, `part` (f,) how much these here count
    beside them; `doubted` (f, k) are the terms these do not believe, if any.
    """

    share: np.ndarray
    centre: np.ndarray
    root: np.ndarray
    ln: np.ndarray
    aside: "Nodes | None" = None
    part: np.ndarray | None = None
    doubted: np.ndarray | None = None

    def only(self, keep: np.ndarray) -> "Nodes":
        """The rows at `keep`."""
        mine = Nodes(*(values[keep] for values in self[:4]), doubted=None if self.doubted is None else self.doubted[keep])
        return mine if self.aside is None else mine._replace(aside=self.aside.only(keep), part=self.part[keep])


def empty_nodes(rows: int, count: int, size: int) -> Nodes:
    """Room for `count` nodes of each of `rows`, with bells over `size` unknowns."""
    shape = (rows, count)
    return Nodes(np.empty(shape), np.empty((*shape, size)), np.empty((*shape, size, size)), np.empty(shape))


def put(whole: Nodes, at: np.ndarray, nodes: Nodes) -> None:
    """Puts `nodes` in the place of the rows `at` of `whole`."""
    for kept, new in zip(whole[:4], nodes[:4], strict=True):
        kept[at] = new


def embedded(nodes: Nodes, at: np.ndarray, size: int) -> Nodes:
    """Nodes of the unknowns at positions `at` among all `size`, the others as before measuring."""
    root = np.tile(np.eye(size), (*nodes.share.shape, 1, 1))
    root[..., at[:, None], at] = nodes.root
    return Nodes(nodes.share, embedded_centre(nodes.centre, at, size), root, nodes.ln)


def embedded_centre(centre: np.ndarray, at: np.ndarray, size: int) -> np.ndarray:
    """Centres (f, g, a) of the unknowns at positions `at` among all `size`, the others at their mean."""
    out = np.zeros((*centre.shape[:-1], size))
    out[..., at] = centre
    return out


def widths(share: np.ndarray) -> np.ndarray:
    """Width (f, g) of the cell about each node."""
    return np.diff(cell_edges(share), axis=1)


def cell_edges(share: np.ndarray) -> np.ndarray:
    """Edges (f, g+1) of the cells about the nodes: midway between them."""
    middle = 0.5 * (share[:, 1:] + share[:, :-1])
    return np.concatenate([np.zeros((len(middle), 1)), middle, np.ones((len(middle), 1))], axis=1)


def step_density(nodes: Nodes) -> tuple[np.ndarray, np.ndarray]:
    """Cell edges (f, g+1) and log density (f, g) of a step density over severity share: one cell a node."""
    edges = cell_edges(nodes.share)
    width = np.maximum(np.diff(edges, axis=1), 1e-12)
    # Neighbours' evidence is mixed in, so that a step between nodes is never starved.
    smooth = np.logaddexp(nodes.ln, np.log(0.25) + np.logaddexp(np.roll(nodes.ln, 1, 1), np.roll(nodes.ln, -1, 1)))
    smooth = smooth - smooth.max(axis=1, keepdims=True)
    mass = np.exp(smooth) * width
    mass = mass / mass.sum(axis=1, keepdims=True)
    mass = 0.95 * mass + 0.05 / mass.shape[1]
    return edges, np.log(mass / width)


def mass_below(edges: np.ndarray, ln_density: np.ndarray) -> np.ndarray:
    """How much (f, g + 1) of each row's step density lies below each of its edges: 0 at the first, 1 at the last."""
    mass = np.exp(ln_density) * np.diff(edges, axis=1)
    total = np.concatenate([np.zeros((len(mass), 1)), np.cumsum(mass, axis=1)], axis=1)
    return total / total[:, -1:]


def share_at(edges: np.ndarray, ln_density: np.ndarray, u: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Severity share and cell (f, s) at quantile `u` (s,) of each row's step density."""
    total = mass_below(edges, ln_density)
    cell = _count_below(total[:, 1:-1], np.broadcast_to(u, (len(edges), len(u))))
    low, below = of_cells(edges, cell), of_cells(total, cell)
    part = (u - below) / (of_cells(total, cell + 1) - below)
    return low + part * (of_cells(edges, cell + 1) - low), cell


def cell_of(edges: np.ndarray, share: np.ndarray) -> np.ndarray:
    """The cell (f, s) each `share` (f, s) lies in."""
    return _count_below(edges[:, 1:-1], share)


def _count_below(bounds: np.ndarray, value: np.ndarray) -> np.ndarray:
    """How many of each row's ascending `bounds` (f, b) lie at or below each `value` (f, s)."""
    if len(bounds) <= bounds.shape[1]:
        return np.stack([np.searchsorted(*each, side="right") for each in zip(bounds, value, strict=True)])
    out = np.zeros(value.shape, np.intp)
    for bound in bounds.T:
        out += value >= bound[:, None]
    return out


def of_cells(values: np.ndarray, cell: np.ndarray) -> np.ndarray:
    """`values` (f, g, ...) of each row's `cell` (f, s)."""
    f, g = values.shape[:2]
    # Whole items lie together: taking them is a third of the work of looking up both indices.
    found = values.reshape(f * g, -1).take(cell + g * np.arange(f)[:, None], axis=0)
    return found.reshape(*cell.shape, *values.shape[2:])


def between(centre: np.ndarray, nodes: np.ndarray, share: np.ndarray, cell: np.ndarray) -> np.ndarray:
    """Centres (f, s, a) at `share` (f, s) in `cell` (f, s), straight between the nodes; ends are held."""
    left = held(cell - (share < of_cells(nodes, cell)), 0, nodes.shape[1] - 2)
    a, b = of_cells(nodes, left), of_cells(nodes, left + 1)
    part = held((share - a) / np.maximum(b - a, 1e-15), 0.0, 1.0)[..., None]
    out, start = of_cells(centre, left + 1), of_cells(centre, left)
    out -= start
    out *= part
    out += start
    return out
