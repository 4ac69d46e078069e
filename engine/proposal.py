"""Owns where samples are drawn: per row a density over severity and unknowns, fitted to the readings.

Severity is profiled on nodes that move to where the evidence is; at each node the unknowns get a Gauss-Newton fit and
its Gaussian. Samples come from that density, with a share from before measuring so that no weight can run away.
"""

from typing import NamedTuple

import numpy as np
from scipy.special import expit, ndtri

from engine.batches import cholesky, inverse_lower, ln_add, log_sum, squared
from engine.likelihood import Evidence
from engine.model import Z_NAMES
from engine.slopes import full, linear

# Nodes of the first look at every row, and of the rounds after it.
FIRST_NODES, NODES = 8, 14
# Leeway of each round, and how far behind the best (natural log) a row is left as it is from there on; rows as far
# behind as GIVEN_UP are not drawn from at all.
ROUNDS = ((8.0, 25.0), (3.0, 16.0), (1.0, 12.0), (1.0, 7.0), (1.0, 0.0))
GIVEN_UP = 16.0
# The first rounds leave the small unknowns at their mean.
FOLLOWED = 2
SMALL = ("part", "sensor_beta", "thermometer", "ground", "open")
# Quantiles at which the next round's nodes are laid into each node's bell, a little wider than it is.
BELL, BELL_ENDS = 1.4, 0.03
# A stuck number gets a node, and one on either side to make its cell as narrow as it is.
STUCK_ASIDE = (-0.012, 0.0, 0.012)
# Bells as if no thermometer were believed: for rows how far behind, moves to where they belong, how little either kind may count.
ASIDE_WITHIN, ASIDE_MOVES, ASIDE_ENDS = 12.0, 2, (0.2, 0.8)
WIDEN = 1.15
KEEP_PRIOR = 0.15
LARGEST_MOVE = 3.0
HUBER, UNEXPLAINED = 4.0, 1e-5


class Nodes(NamedTuple):
    """Per row f and node g: severity share, centre of the unknowns, factors and log density, ascending in share.

    `spread` (f, g, a, a) maps standard normals to the active unknowns about
    their centre, `inverse` back. `aside` are the same rows' nodes as if no
    thermometer were believed, `part` (f,) how much these here count beside them.
    """

    share: np.ndarray
    centre: np.ndarray
    spread: np.ndarray
    inverse: np.ndarray
    ln: np.ndarray
    aside: "Nodes | None" = None
    part: np.ndarray | None = None

    def only(self, keep: np.ndarray) -> "Nodes":
        """The rows at `keep`."""
        mine = Nodes(*(values[keep] for values in self[:5]))
        return mine if self.aside is None else mine._replace(aside=self.aside.only(keep), part=self.part[keep])


class Fit(NamedTuple):
    """Rows (n,) still worth drawing from, their nodes, and the log evidence (f,) of all rows as far as they were followed."""

    rows: np.ndarray
    nodes: Nodes
    ln_evidence: np.ndarray


def fit_rows(evidence: Evidence) -> Fit:
    """Fits all rows, those the readings leave behind less often; the best row of each location is never given up."""
    model = evidence.model
    rows = np.arange(len(model))
    share = np.tile((np.arange(FIRST_NODES) + 0.5) / FIRST_NODES, (len(rows), 1))
    _seed_stuck(evidence, rows, share)
    dims = np.array([k for k in evidence.active if Z_NAMES[k] not in SMALL], int)
    centre = np.zeros((*share.shape, len(dims)))
    ln_evidence = np.zeros(len(model))
    whole = None
    for step, (heat, behind) in enumerate(ROUNDS):
        last = step == len(ROUNDS) - 1
        # No row is left behind at first for what a thermometer shows, which may be another temperature than the vehicle's.
        nodes, fit, bell = _profile(evidence, rows, share, centre, dims, heat, not last, "at" if step < FOLLOWED else "")
        width = _widths(nodes.share)
        if not last:
            width = np.minimum(width, np.maximum(2.5 * bell / np.sqrt(heat), 1e-9))
        ln_evidence[rows] = log_sum(fit + np.log(width))
        if step == FOLLOWED - 1:
            # Rows left behind from here on are drawn from as they are, in full; from here on small unknowns count too.
            nodes = _embedded(nodes, np.searchsorted(evidence.active, dims), len(evidence.active))
            dims, followed, whole = evidence.active, rows, Nodes(*nodes[:4], fit)
        elif step >= FOLLOWED:
            _put(whole, np.searchsorted(followed, rows), nodes, fit)
        if not last:
            keep = _worth(evidence, rows, ln_evidence, behind)
            rows, nodes, bell = rows[keep], nodes.only(keep), bell[keep]
            share = _laid(nodes, bell)
            _seed_stuck(evidence, rows, share)
            centre = _between(nodes.centre, nodes.share, share, _cell_of(_edges(nodes.share), share))
    if any(term.kind == "at" for term in evidence.terms):
        whole = _with_aside(evidence, whole, followed, ln_evidence)
    drawn = _worth(evidence, followed, ln_evidence, GIVEN_UP)
    return Fit(followed[drawn], whole.only(drawn), ln_evidence)


def _put(whole: Nodes, at: np.ndarray, nodes: Nodes, fit: np.ndarray) -> None:
    """Puts `nodes` of log density `fit` in the place of rows `at` of `whole`."""
    for kept, new in zip(whole[:5], (*nodes[:4], fit), strict=True):
        kept[at] = new


def _with_aside(evidence: Evidence, whole: Nodes, followed: np.ndarray, ln_evidence: np.ndarray) -> Nodes:
    """`whole`, the nodes of the rows `followed`, with bells aside as if no thermometer were believed: what one beside the part
    shows may be another temperature than the vehicle's."""
    at = np.flatnonzero(_worth(evidence, followed, ln_evidence, ASIDE_WITHIN))
    rows, nodes = followed[at], whole.only(at)
    for _ in range(ASIDE_MOVES):
        nodes, fit, _ = _profile(evidence, rows, nodes.share, nodes.centre, evidence.active, 1.0, False, "at")
    aside, part = Nodes(*(values.copy() for values in whole[:5])), np.full(len(followed), 0.5)
    _put(aside, at, nodes, fit)
    beside = log_sum(fit + np.log(_widths(nodes.share)))
    part[at] = np.clip(expit(ln_evidence[rows] - beside), *ASIDE_ENDS)
    ln_evidence[rows] = np.logaddexp(ln_evidence[rows], beside)
    return whole._replace(aside=aside, part=part)


def _embedded(nodes: Nodes, at: np.ndarray, size: int) -> Nodes:
    """Nodes of the unknowns at positions `at` among all `size`, the others as before measuring."""
    shape = nodes.share.shape
    centre, spread = np.zeros((*shape, size)), np.tile(np.eye(size), (*shape, 1, 1))
    centre[..., at] = nodes.centre
    inverse = spread.copy()
    square = np.ix_(range(shape[0]), range(shape[1]), at, at)
    spread[square], inverse[square] = nodes.spread, nodes.inverse
    return Nodes(nodes.share, centre, spread, inverse, nodes.ln)


def _worth(evidence: Evidence, rows: np.ndarray, ln_evidence: np.ndarray, hopeless: float) -> np.ndarray:
    """Mask of the rows within `hopeless` of the best, and the best of each location, so that reasons can name it."""
    model = evidence.model
    ln = ln_evidence[rows] + model.ln_chance[rows]
    keep = ln >= ln.max() - hopeless
    places = model.places[rows]
    for place in np.unique(places):
        mine = np.flatnonzero(places == place)
        keep[mine[np.argmax(ln[mine])]] = True
    return keep


def _seed_stuck(evidence: Evidence, rows: np.ndarray, share: np.ndarray) -> None:
    """A stuck number is sharp and shown as typed: puts a node right there."""
    picked = evidence.model.pick(rows)
    typed = list(dict.fromkeys(t.value for t in evidence.terms if t.kind == "shows"))[: share.shape[1] // 4]
    for k in picked.having("reading-frozen"):
        seeds = [np.clip(picked.stuck_share(k, value) + off, 1e-6, 1.0 - 1e-6) for value in typed for off in STUCK_ASIDE]
        share[k] = np.sort(np.concatenate([share[k, len(seeds):], seeds])) + 1e-9 * np.arange(share.shape[1])


def _profile(evidence: Evidence, rows: np.ndarray, share: np.ndarray, centre: np.ndarray, dims: np.ndarray, heat: float,
             free: bool, but: str = "") -> tuple[Nodes, np.ndarray, np.ndarray]:
    """One Gauss-Newton move of the unknowns `dims`, and of the severity if it is `free`, within each node's own cell, by all
    terms `but` those of one kind.

    Gives nodes with Laplace's log density, tempered; it in full (f, g); and
    the standard deviation (f, g) of the severity share, tempered too.
    """
    f, g, size = centre.shape
    residual, jacobian = linear(evidence, rows, share, centre, dims)
    # Behind here the nodes run along the last axis, (k, n) and (k, a, n), and the severity share is the last unknown.
    flat = np.concatenate([centre.reshape(f * g, size).T, share.reshape(1, f * g)])
    # At last a reading that stays unexplained was a slip, and moves nothing any more.
    weight = (1.0 / (heat * (1.0 + np.square(residual / HUBER))) if free
              else 1.0 / (1.0 + UNEXPLAINED * np.exp(np.minimum(0.5 * np.square(residual), 60.0))))
    weight[[term.kind == but for term in evidence.terms]] = 0.0
    weighted = jacobian * weight[:, None]
    precision = np.einsum("kan,kbn->abn", weighted, jacobian)
    precision[np.arange(size), np.arange(size)] += 1.0
    # The share lies even in its range, which is about this much of a bell.
    precision[size, size] += 4.0
    start = flat - np.concatenate([np.zeros((size, f * g)), share.reshape(1, f * g)])
    pull = np.einsum("kan,kn->an", weighted, np.einsum("kan,an->kn", jacobian, start) - residual)
    root = cholesky(precision)
    inverse = inverse_lower(root)
    move = np.einsum("ban,bn->an", inverse, np.einsum("abn,bn->an", inverse, pull)) - start
    bell = inverse[size, size]
    if free:
        edges = _edges(share)
        kept = np.clip(move[size].reshape(f, g), edges[:, :-1] - share, edges[:, 1:] - share) * 0.98
    else:
        kept = np.zeros((f, g))
    # The unknowns go where they are likeliest with the severity at its place.
    move = move[:size] + inverse[size, :size] / bell * (kept.reshape(-1) - move[size])
    length = np.max(np.abs(move), axis=0, initial=0.0)
    moved = (flat[:size] + move * np.minimum(1.0, LARGEST_MOVE / np.maximum(length, 1e-9))).T.reshape(f, g, size)
    share = share + kept
    inverse, root = inverse[:size, :size], root[:size, :size]
    ln_volume = np.log(np.diagonal(inverse)).sum(axis=1).reshape(f, g)
    fit = evidence.weigh(share, full(dims, moved), rows)
    rest = ln_volume - 0.5 * squared(moved)
    # Rows of the roots become columns: z = centre + inverse^T normal, normal = root^T (z - centre).
    nodes = Nodes(share, moved, np.ascontiguousarray(inverse.transpose(2, 1, 0)).reshape(f, g, size, size),
                  np.ascontiguousarray(root.transpose(2, 1, 0)).reshape(f, g, size, size), fit / heat + rest)
    return nodes, fit + rest, bell.reshape(f, g)


def draw(evidence: Evidence, nodes: Nodes, points: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Samples share (f, s) and z (f, s, z) of each row's fitted density, some from before measuring, and the log (f, s)
    of the density drawn from over the one before measuring.

    `points` (s, 2 + z) lie in the unit cube; their first coordinate chooses
    between the fitted density, the one aside and the one before measuring.
    """
    share, z, ln = _draw(evidence, nodes, points)
    if nodes.aside is None:
        return share, z, ln
    other_share, other_z, _ = _draw(evidence, nodes.aside, points)
    other = (points[:, 0] - KEEP_PRIOR) / (1.0 - KEEP_PRIOR) >= nodes.part[:, None]
    share, z = np.where(other, other_share, share), np.where(other[..., None], other_z, z)
    return share, z, ln_density_over_prior(evidence, nodes, share, z)


def _draw(evidence: Evidence, nodes: Nodes, points: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """As `draw`, with none aside."""
    edges, ln_density = _cells(nodes)
    active = evidence.active
    prior = points[:, 0] < KEEP_PRIOR
    share, cell = _inverse(edges, ln_density, points[:, 1])
    share[:, prior] = points[prior, 1]
    cell[:, prior] = _cell_of(edges, share[:, prior])
    normal = ndtri(points[:, 2:2 + len(active)])
    row = np.arange(len(share))[:, None]
    centre = _between(nodes.centre, nodes.share, share, cell)
    z = np.zeros((*share.shape, len(Z_NAMES)))
    mine = centre + np.einsum("fsab,sb->fsa", nodes.spread[row, cell], WIDEN * normal)
    mine[:, prior] = normal[prior]
    z[..., active] = mine
    size = np.tile(squared(normal), (len(share), 1))
    back = np.einsum("fsab,fsb->fsa", nodes.inverse[row, cell[:, prior]], normal[prior] - centre[:, prior])
    size[:, prior] = squared(back) / WIDEN**2
    return share, z, _kept(_ln_over_prior(nodes, ln_density, row, cell, size, mine))


def ln_density_over_prior(evidence: Evidence, nodes: Nodes, share: np.ndarray, z: np.ndarray) -> np.ndarray:
    """Log (f, s) of the density `draw` draws from over the one before measuring."""
    ln = _ln_bells(evidence, nodes, share, z)
    if nodes.aside is not None:
        ln = ln_add(np.log(nodes.part)[:, None] + ln, np.log1p(-nodes.part)[:, None] + _ln_bells(evidence, nodes.aside, share, z))
    return _kept(ln)


def _ln_bells(evidence: Evidence, nodes: Nodes, share: np.ndarray, z: np.ndarray) -> np.ndarray:
    """Log (f, s) of the fitted density over the one before measuring, with none aside."""
    edges, ln_density = _cells(nodes)
    cell = _cell_of(edges, share)
    row = np.arange(len(share))[:, None]
    mine = z[..., evidence.active]
    off = mine - _between(nodes.centre, nodes.share, share, cell)
    standard = np.einsum("fsab,fsb->fsa", nodes.inverse[row, cell], off)
    return _ln_over_prior(nodes, ln_density, row, cell, squared(standard) / WIDEN**2, mine)


def _kept(ln_fit: np.ndarray) -> np.ndarray:
    """The log density `ln_fit` over the one before measuring, with a part of that kept in it."""
    return ln_add(np.log(KEEP_PRIOR), np.log(1.0 - KEEP_PRIOR) + ln_fit)


def _ln_over_prior(nodes: Nodes, ln_density: np.ndarray, row: np.ndarray, cell: np.ndarray, size: np.ndarray,
                   mine: np.ndarray) -> np.ndarray:
    """As _ln_bells, for unknowns `mine` of squared length `size` in their bell's own normals."""
    ln_volume = np.log(np.diagonal(nodes.spread, axis1=-2, axis2=-1)).sum(axis=-1) + mine.shape[-1] * np.log(WIDEN)
    return -0.5 * size + (ln_density - ln_volume)[row, cell] + 0.5 * squared(mine)


def _widths(share: np.ndarray) -> np.ndarray:
    """Width (f, g) of the cell about each node."""
    return np.diff(_edges(share), axis=1)


def _edges(share: np.ndarray) -> np.ndarray:
    middle = 0.5 * (share[:, 1:] + share[:, :-1])
    return np.concatenate([np.zeros((len(middle), 1)), middle, np.ones((len(middle), 1))], axis=1)


def _cells(nodes: Nodes) -> tuple[np.ndarray, np.ndarray]:
    """Cell edges (f, g+1) and log density (f, g) of a step density over severity share: one cell a node."""
    edges = _edges(nodes.share)
    width = np.maximum(np.diff(edges, axis=1), 1e-12)
    # Neighbours' evidence is mixed in, so that a step between nodes is never starved.
    smooth = np.logaddexp(nodes.ln, np.log(0.25) + np.logaddexp(np.roll(nodes.ln, 1, 1), np.roll(nodes.ln, -1, 1)))
    smooth = smooth - smooth.max(axis=1, keepdims=True)
    mass = np.exp(smooth) * width
    mass = mass / mass.sum(axis=1, keepdims=True)
    mass = 0.95 * mass + 0.05 / mass.shape[1]
    return edges, np.log(mass / width)


def _inverse(edges: np.ndarray, ln_density: np.ndarray, u: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Severity share and cell (f, s) at quantile `u` (s,) of each row's step density."""
    mass = np.exp(ln_density) * np.diff(edges, axis=1)
    total = np.concatenate([np.zeros((len(mass), 1)), np.cumsum(mass, axis=1)], axis=1)
    total /= total[:, -1:]
    cell = _count_below(total[:, 1:-1], np.broadcast_to(u, (len(edges), len(u))))
    row = np.arange(len(edges))[:, None]
    low, high = edges[row, cell], edges[row, cell + 1]
    part = (u - total[row, cell]) / (total[row, cell + 1] - total[row, cell])
    return low + part * (high - low), cell


def _cell_of(edges: np.ndarray, share: np.ndarray) -> np.ndarray:
    return _count_below(edges[:, 1:-1], share)


def _count_below(bounds: np.ndarray, value: np.ndarray) -> np.ndarray:
    """How many of each row's `bounds` (f, b) lie at or below each `value` (f, s)."""
    out = np.zeros(value.shape, np.intp)
    for bound in bounds.T:
        out += value >= bound[:, None]
    return out


def _laid(nodes: Nodes, bell: np.ndarray) -> np.ndarray:
    """New node shares (f, NODES): even quantiles of the nodes' bells, a quarter of them kept spread over the range."""
    ln = nodes.ln + np.log(np.minimum(_widths(nodes.share), 2.5 * bell))
    weight = np.exp(ln - ln.max(axis=1, keepdims=True))
    total = np.concatenate([np.zeros((len(ln), 1)), np.cumsum(weight, axis=1)], axis=1)
    total /= total[:, -1:]
    spread = NODES // 4
    inner = (np.arange(NODES - spread) + 0.5) / (NODES - spread)
    which = (inner[None, :, None] >= total[:, None, 1:-1]).sum(axis=2)
    row = np.arange(len(ln))[:, None]
    part = (inner - total[row, which]) / np.maximum(total[row, which + 1] - total[row, which], 1e-12)
    off = BELL * bell[row, which] * ndtri(np.clip(part, BELL_ENDS, 1.0 - BELL_ENDS))
    laid = np.clip(nodes.share[row, which] + off, 1e-4, 1.0 - 1e-4)
    outer = np.tile((np.arange(spread) + 0.5) / spread, (len(ln), 1))
    # Equal neighbours would make an empty cell.
    return np.sort(np.concatenate([laid, outer], axis=1), axis=1) + 1e-9 * np.arange(NODES)


def _between(centre: np.ndarray, nodes: np.ndarray, share: np.ndarray, cell: np.ndarray) -> np.ndarray:
    """Centres (f, s, a) at `share` (f, s) in `cell` (f, s), straight between the nodes; ends are held."""
    row = np.arange(len(nodes))[:, None]
    left = np.clip(cell - (share < nodes[row, cell]), 0, nodes.shape[1] - 2)
    a, b = nodes[row, left], nodes[row, left + 1]
    part = np.clip((share - a) / np.maximum(b - a, 1e-15), 0.0, 1.0)[..., None]
    return centre[row, left] + (centre[row, left + 1] - centre[row, left]) * part
