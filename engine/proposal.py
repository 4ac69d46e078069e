"""Owns where samples are drawn: per row a density over severity and unknowns, fitted to the readings.

Severity is profiled on nodes that move to where the evidence is; at each node the unknowns get a Gauss-Newton fit and
its Gaussian. Samples come from that density, with a share from before measuring so that no weight can run away.
"""

from typing import NamedTuple

import numpy as np
from scipy.special import ndtri

from engine.faults import stuck_share
from engine.likelihood import Evidence
from engine.model import Z_NAMES
from engine.module import COLD_ENDS_FROM_C, HOT_ENDS_FROM_C

NODES = 28
# Leeway of each round, and how far behind the best (natural log) a row is given up after it.
ROUNDS = ((8.0, 60.0), (3.0, 40.0), (1.5, 30.0), (1.0, np.inf))
WIDEN = 1.15
KEEP_PRIOR = 0.2
STEP = 0.03
LARGEST_MOVE = 1.5
HUBER = 4.0
WHOLE_MIDDLE_C, WHOLE_SD_C = 0.25, 1.6 / 12.0**0.5


class Nodes(NamedTuple):
    """Per row f and node g: severity share, centre of the unknowns, Cholesky factor, log density, all ascending in share."""

    share: np.ndarray   # (f, g)
    centre: np.ndarray  # (f, g, a) active unknowns
    factor: np.ndarray  # (f, g, a, a) lower triangle
    ln: np.ndarray      # (f, g) unnormalised log density over share


def lattice(count: int, dimensions: int) -> np.ndarray:
    """Quasi-random points (count, dimensions) in the open unit cube: multiples of powers of the generalised golden ratio.

    Source: additive recurrence with the positive root of x^(d+1) = x + 1
    (M. Roberts 2018, "The unreasonable effectiveness of quasirandom sequences", from memory).
    """
    root = 2.0
    for _ in range(60):
        root = (1.0 + root) ** (1.0 / (dimensions + 1))
    steps = root ** -np.arange(1.0, dimensions + 1)
    return np.clip((0.5 + np.outer(np.arange(1, count + 1), steps)) % 1.0, 1e-9, 1.0 - 1e-9)


def fit_nodes(evidence: Evidence, rows: np.ndarray) -> Nodes:
    """Nodes of each of `rows`: severity shares placed by repeated, ever less tempered, profiling."""
    active = evidence.model.active
    # Even shares, a little off the ends of the range where every fault looks alike.
    share = np.tile((np.arange(NODES) + 0.5) / NODES, (len(rows), 1))
    for k in np.flatnonzero(evidence.model.rows_of("reading-frozen")[rows]):
        # A stuck number is sharp and shown as typed: look for it right there.
        typed = [t.value for t in evidence.terms if t.kind == "shows"][: NODES // 2]
        seeds = [stuck_share(evidence.model.kinds[rows[k]], value) for value in typed]
        share[k] = np.sort(np.concatenate([share[k, len(seeds):], seeds])) + 1e-9 * np.arange(NODES)
    nodes = Nodes(share, np.zeros((*share.shape, len(active))), np.tile(np.eye(len(active)), (*share.shape, 1, 1)),
                  np.zeros(share.shape))
    live = np.arange(len(rows))
    for heat, hopeless in ROUNDS:
        part = Nodes(*(a[live] for a in nodes))
        centre, factor, ln, fit = _profile(evidence, rows[live], part.share, part.centre, heat)
        for whole, new in zip(nodes, (part.share, centre, factor, ln), strict=True):
            whole[live] = new
        best = fit.max(axis=1) + evidence.model.ln_chance[rows[live]]
        # Rows far behind even when given leeway keep the nodes they have; their log density is the full one from here.
        nodes.ln[live] = np.where((best < best.max() - hopeless)[:, None], fit, ln)
        live = live[best >= best.max() - hopeless]
        if heat > 1.0:
            new = _requantile(nodes.share[live], nodes.ln[live])
            nodes.centre[live] = _between(nodes.centre[live], nodes.share[live], new)
            nodes.share[live] = new
    return nodes


def _profile(evidence: Evidence, rows: np.ndarray, share: np.ndarray, centre: np.ndarray,
              heat: float) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """One Gauss-Newton move of the unknowns at each node, then Laplace's log density there, tempered and in full."""
    active = evidence.model.active
    size = len(active)
    residual, jacobian = _linear(evidence, rows, share, centre)
    weight = 1.0 / (heat * (1.0 + np.square(residual / HUBER)))
    weighted = jacobian * weight[..., None]
    curvature = np.einsum("kfga,kfgb->fgab", weighted, jacobian) + np.eye(size)
    pull = np.einsum("kfga,kfg->fga", weighted, np.einsum("kfga,fga->kfg", jacobian, centre) - residual)
    covariance = np.linalg.inv(curvature)
    move = np.matmul(covariance, pull[..., None])[..., 0] - centre
    length = np.max(np.abs(move), axis=-1, keepdims=True)
    centre = centre + move * np.minimum(1.0, LARGEST_MOVE / np.maximum(length, 1e-9))
    factor = np.linalg.cholesky(covariance)
    z = _full(evidence, centre)
    fit = evidence.weigh(share, z, rows)[0]
    rest = (np.log(np.diagonal(factor, axis1=-2, axis2=-1)).sum(axis=-1) - 0.5 * np.square(centre).sum(axis=-1))
    return centre, factor, fit / heat + rest, fit + rest


def _linear(evidence: Evidence, rows: np.ndarray, share: np.ndarray,
            centre: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Residuals (k, f, g) of the numeric terms and their slopes (k, f, g, a), by forward differences in one batch."""
    size = centre.shape[-1]
    moved = np.repeat(centre[:, :, None, :], size + 1, axis=2)
    moved[:, :, np.arange(1, size + 1), np.arange(size)] += STEP
    f, g = share.shape
    if not evidence.terms:
        return np.zeros((0, f, g)), np.zeros((0, f, g, size))
    z = _full(evidence, moved.reshape(f, g * (size + 1), size))
    wide = np.repeat(share, size + 1, axis=1)
    shown = evidence.shown(wide, z, rows, steady=True, hook=evidence.readings_hook)
    out = []
    stuck = evidence.model.rows_of("reading-frozen")[rows][:, None, None]
    for term in evidence.terms:
        value, spread, typed = evidence.numbers(shown, term, rows)
        value = np.broadcast_to(value, wide.shape)
        if term.kind == "shows":
            value = np.clip(value, -60.0, 230.0)
            # The middle and the breadth of the whole degree a shown number stands for.
            typed, spread = typed + WHOLE_MIDDLE_C, np.hypot(spread, WHOLE_SD_C)
            # A number at an end only says "at least that far".
            value = np.where((typed >= HOT_ENDS_FROM_C) & (value >= typed), typed, value)
            value = np.where((typed <= COLD_ENDS_FROM_C) & (value <= typed), typed, value)
        difference = (value - typed).reshape(f, g, size + 1)
        if term.kind == "shows":
            # A stuck number says nothing about the circuit behind it.
            difference = np.where(stuck, 0.0, difference)
        scale = np.broadcast_to(spread, wide.shape).reshape(f, g, size + 1)[..., :1]
        out.append(difference / scale)
    all_terms = np.stack(out)
    return all_terms[..., 0], (all_terms[..., 1:] - all_terms[..., :1]) / STEP


def draw(evidence: Evidence, nodes: Nodes, points: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Samples (share (f, s), z (f, s, z)) and the log of prior over proposal density (f, s) for each.

    `points` (s, 2 + z) lie in the unit cube; their first coordinate chooses
    between the fitted density and the one before measuring.
    """
    f = len(nodes.share)
    edges, ln_density = _cells(nodes)
    prior = points[:, 0] < KEEP_PRIOR
    inverse = _inverse(edges, ln_density, points[:, 1])
    share = np.where(prior, points[:, 1], inverse)
    normal = ndtri(points[:, 2:])
    z = np.repeat(normal[None], f, axis=0)
    active = evidence.model.active
    left, mix = _locate(nodes.share, share)
    row = np.arange(f)[:, None]
    centre = _mix(nodes.centre[row, left], nodes.centre[row, left + 1], mix[..., None])
    factor = _mix(nodes.factor[row, left], nodes.factor[row, left + 1], mix[..., None, None]) * WIDEN
    fitted = centre + np.einsum("fsab,sb->fsa", factor, normal[:, active])
    z[:, :, active] = np.where(prior[:, None], z[:, :, active], fitted)
    mine = z[:, :, active]
    # Back to the fitted density's own standard normals; samples drawn from it had them to begin with.
    standard = np.repeat(normal[None][:, :, active], f, axis=0)
    standard[:, prior] = np.linalg.solve(factor[:, prior], (mine - centre)[:, prior, :, None])[..., 0]
    ln_fit = (-0.5 * np.square(standard).sum(axis=-1)
              - np.log(np.diagonal(factor, axis1=-2, axis2=-1)).sum(axis=-1) + _density_at(edges, ln_density, share))
    ln_prior = -0.5 * np.square(mine).sum(axis=-1)
    ln_proposal = np.logaddexp(np.log(KEEP_PRIOR) + ln_prior, np.log(1.0 - KEEP_PRIOR) + ln_fit)
    return share, z, ln_prior - ln_proposal


def _cells(nodes: Nodes) -> tuple[np.ndarray, np.ndarray]:
    """Cell edges (f, g+1) and log density (f, g) of a step density over severity share: one cell a node."""
    middle = 0.5 * (nodes.share[:, 1:] + nodes.share[:, :-1])
    edges = np.concatenate([np.zeros((len(middle), 1)), middle, np.ones((len(middle), 1))], axis=1)
    width = np.maximum(np.diff(edges, axis=1), 1e-12)
    # Neighbours' evidence is mixed in, so that a step between nodes is never starved.
    smooth = np.logaddexp(nodes.ln, np.log(0.25) + np.logaddexp(np.roll(nodes.ln, 1, 1), np.roll(nodes.ln, -1, 1)))
    smooth = smooth - smooth.max(axis=1, keepdims=True)
    mass = np.exp(smooth) * width
    mass = mass / mass.sum(axis=1, keepdims=True)
    mass = 0.95 * mass + 0.05 / mass.shape[1]
    return edges, np.log(mass / width)


def _inverse(edges: np.ndarray, ln_density: np.ndarray, u: np.ndarray) -> np.ndarray:
    """Severity share (f, s) at quantile `u` (s,) of each row's step density."""
    mass = np.exp(ln_density) * np.diff(edges, axis=1)
    total = np.concatenate([np.zeros((len(mass), 1)), np.cumsum(mass, axis=1)], axis=1)
    total /= total[:, -1:]
    return np.stack([np.interp(u, total[k], edges[k]) for k in range(len(edges))])


def _density_at(edges: np.ndarray, ln_density: np.ndarray, share: np.ndarray) -> np.ndarray:
    out = np.empty_like(share)
    for k in range(len(edges)):
        cell = np.clip(np.searchsorted(edges[k], share[k], side="right") - 1, 0, ln_density.shape[1] - 1)
        out[k] = ln_density[k, cell]
    return out


def _requantile(share: np.ndarray, ln: np.ndarray) -> np.ndarray:
    """New node shares: even quantiles of the present density, a quarter of them kept spread over the whole range."""
    nodes = Nodes(share, np.zeros((*share.shape, 0)), np.zeros((*share.shape, 0, 0)), ln)
    edges, ln_density = _cells(nodes)
    spread = NODES // 4
    inner = (np.arange(NODES - spread) + 0.5) / (NODES - spread)
    outer = np.tile((np.arange(spread) + 0.5) / spread, (len(share), 1))
    new = np.sort(np.concatenate([_inverse(edges, ln_density, inner), outer], axis=1), axis=1)
    # Equal neighbours would make an empty cell.
    return new + 1e-9 * np.arange(NODES)


def _between(centre: np.ndarray, old: np.ndarray, new: np.ndarray) -> np.ndarray:
    left, mix = _locate(old, new)
    row = np.arange(len(old))[:, None]
    return _mix(centre[row, left], centre[row, left + 1], mix[..., None])


def _locate(nodes: np.ndarray, share: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Left node and mixing share (0..1) of each value between its two nodes; ends are held."""
    left = np.stack([np.clip(np.searchsorted(nodes[k], share[k]) - 1, 0, nodes.shape[1] - 2)
                     for k in range(len(nodes))])
    row = np.arange(len(nodes))[:, None]
    a, b = nodes[row, left], nodes[row, left + 1]
    return left, np.clip((share - a) / np.maximum(b - a, 1e-15), 0.0, 1.0)


def _mix(a: np.ndarray, b: np.ndarray, t: np.ndarray) -> np.ndarray:
    return a + (b - a) * t


def _full(evidence: Evidence, active_values: np.ndarray) -> np.ndarray:
    """Active unknowns (f, s, a) as the full vector (f, s, z), the others at their mean."""
    z = np.zeros((*active_values.shape[:-1], len(Z_NAMES)))
    z[..., evidence.model.active] = active_values
    return z
