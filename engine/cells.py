"""Owns nodes along the severity share, each with a bell over the unknowns, and the step density of one cell a node."""

from typing import NamedTuple

import numpy as np

from engine.compiled import compiled, exp_of, held_at, log_of, normal_at

# The next nodes are laid at quantiles of each node's bell, a little wider than it is; a cell is no wider than so many of its bells.
BELL, BELL_ENDS, AS_WIDE = 1.4, 0.03, 2.5
# How far apart nodes are at least: seven digits tell shares next to one apart from there.
APART = 2e-7


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


@compiled
def ln_widths(root: np.ndarray) -> np.ndarray:
    """Log (f, g) of the products of the diagonals of `root` (f, g, a, a): how much narrower bells are than unit ones."""
    f, g, size = root.shape[:3]
    out = np.zeros((f, g))
    for i in range(f):
        for j in range(g):
            for a in range(size):
                out[i, j] += log_of(root[i, j, a, a])
    return out


@compiled
def step_density(share: np.ndarray, ln: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Cell edges (f, g+1), log density (f, g) and how much (f, g+1) lies below each edge, of a step density over severity share: one cell a
    node at `share` (f, g) of log density `ln` (f, g)."""
    f, g = share.shape
    edges, density, below = np.zeros((f, g + 1)), np.empty((f, g)), np.zeros((f, g + 1))
    for i in range(f):
        top = -np.inf
        for j in range(g):
            edges[i, j + 1] = 0.5 * (share[i, j] + share[i, j + 1]) if j < g - 1 else 1.0
            top = max(top, ln[i, j])
        total = 0.0
        for j in range(g):
            # Neighbours' evidence is mixed in, so that a step between nodes is never starved.
            smooth = exp_of(ln[i, j] - top) + 0.25 * (exp_of(ln[i, j - 1] - top) + exp_of(ln[i, (j + 1) % g] - top))
            density[i, j] = smooth * max(edges[i, j + 1] - edges[i, j], 1e-12)
            total += density[i, j]
        for j in range(g):
            mass = 0.95 * density[i, j] / total + 0.05 / g
            below[i, j + 1] = below[i, j] + mass
            density[i, j] = log_of(mass / max(edges[i, j + 1] - edges[i, j], 1e-12))
        for j in range(g):
            below[i, j + 1] /= below[i, g]
    return edges, density, below


def share_at(edges: np.ndarray, total: np.ndarray, u: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Severity share and cell (f, s) at quantile `u` (s,) of each row's step density, of which `total` (f, g+1) lies below its `edges`
    (f, g+1)."""
    cell = _count_below(total[:, 1:-1], np.broadcast_to(u, (len(edges), len(u))))
    low, below = of_cells(edges, cell), of_cells(total, cell)
    part = (u - below) / (of_cells(total, cell + 1) - below)
    return low + part * (of_cells(edges, cell + 1) - low), cell


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


@compiled
def between(centre: np.ndarray, nodes: np.ndarray, share: np.ndarray) -> np.ndarray:
    """Centres (f, s, a) at `share` (f, s), straight between those `centre` (f, g, a) of ascending `nodes` (f, g); ends are held."""
    f, count = share.shape
    size = centre.shape[2]
    out = np.empty((f, count, size))
    for i in range(f):
        for s in range(count):
            left = 0
            while left < nodes.shape[1] - 2 and nodes[i, left + 1] <= share[i, s]:
                left += 1
            part = held_at((share[i, s] - nodes[i, left]) / max(nodes[i, left + 1] - nodes[i, left], 1e-15), 0.0, 1.0)
            for a in range(size):
                out[i, s, a] = centre[i, left, a] + part * (centre[i, left + 1, a] - centre[i, left, a])
    return out


@compiled
def relaid(had: np.ndarray, ln: np.ndarray, bell: np.ndarray, count: int, spread: int) -> np.ndarray:
    """New node shares (f, count + spread), ascending: even quantiles of the bells, of log density `ln` (f, g) and this wide (f, g), about the
    nodes `had` (f, g), and so many more `spread` over the range."""
    f, g = had.shape
    out, total = np.empty((f, count + spread)), np.empty(g + 1)
    for i in range(f):
        top = -np.inf
        for j in range(g):
            low = 0.5 * (had[i, j - 1] + had[i, j]) if j > 0 else 0.0
            high = 0.5 * (had[i, j] + had[i, j + 1]) if j < g - 1 else 1.0
            total[j + 1] = ln[i, j] + log_of(min(high - low, AS_WIDE * bell[i, j]))
            top = max(top, total[j + 1])
        total[0] = 0.0
        for j in range(g):
            total[j + 1] = total[j] + exp_of(total[j + 1] - top)
        which = 0
        for k in range(count):
            at = (k + 0.5) / count * total[g]
            while which < g - 1 and total[which + 1] <= at:
                which += 1
            part = (at - total[which]) / max(total[which + 1] - total[which], 1e-12 * total[g])
            off = BELL * bell[i, which] * normal_at(held_at(part, BELL_ENDS, 1.0 - BELL_ENDS))
            out[i, k] = held_at(had[i, which] + off, 1e-4, 1.0 - 1e-4)
        for k in range(spread):
            out[i, count + k] = (k + 0.5) / spread
        out[i].sort()
        for k in range(count + spread):
            # Equal neighbours would make an empty cell.
            out[i, k] += APART * k
    return out
