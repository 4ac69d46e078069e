"""Owns draws from straight bells: the severity from the nodes' step density, the unknowns from the bell there.

Whatever is drawn or weighed is so in blocks, the nodes' entries taken sample by sample: that is what lets loops take many
samples at once.
"""

import math
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import NamedTuple

import numpy as np
from scipy.special import ndtri

from engine.batches import lattice, ln_add
from engine.block import B, POINT, Z_AT, lanes
from engine.cells import Nodes, mass_below, step_density
from engine.compiled import compiled, exp_of, held_at, inlined, log_of
from engine.likelihood import AllTyped, Evidence, Weighing, put_fit, weighing_for
from engine.points import Circuit, put_samples
from engine.unknowns import Z_NAMES

# How much wider than fitted, and the share drawn from before measuring, so that no weight can run away.
WIDEN, KEEP_PRIOR = 1.15, 0.15
LN_PRIOR, LN_FITTED = math.log(KEEP_PRIOR), math.log(1.0 - KEEP_PRIOR)


class Bells(NamedTuple):
    """Nodes ready to be drawn from, those aside behind all others: shares (f, g), centres (f, g a), lower roots (f, g a a) of the
    precision, edges (f, g + 1), how much of the mass (f, g + 1) lies below each, and the log (f, g) of the density at a bell's
    middle; how many rows there are, and how much (f,) the first of a row's two counts."""

    share: np.ndarray
    centre: np.ndarray
    root: np.ndarray
    edges: np.ndarray
    total: np.ndarray
    ln_top: np.ndarray
    rows: int
    part: np.ndarray


class Drawing(NamedTuple):
    """Room for a block: cells (B,), where their roots and the centres on their left start (B,), how far (B,) a point is from those to
    the next ones; points about their middles and moved (a B,); the log of a density and of that aside, and sums (B,)."""

    cell: np.ndarray
    root_at: np.ndarray
    left_at: np.ndarray
    part: np.ndarray
    off: np.ndarray
    moved: np.ndarray
    ln: np.ndarray
    beside: np.ndarray
    sum: np.ndarray


class Sampled(NamedTuple):
    """Samples of rows one after another, for compiled loops: share (n,), z (n, z), the log (n,) of the density drawn from over the
    one before measuring, and of likelihood over that."""

    share: np.ndarray
    z: np.ndarray
    ln: np.ndarray
    ln_weight: np.ndarray


def room_to_draw(size: int) -> Drawing:
    """Room for a block of `size` unknowns."""
    return Drawing(*(np.zeros(B, np.int64) for _ in range(3)), np.zeros(B), np.zeros(size * B), np.zeros(size * B),
                   *(np.zeros(B) for _ in range(3)))


def sampled(count: int) -> Sampled:
    """Room for `count` samples."""
    return Sampled(np.empty(count), np.zeros((count, len(Z_NAMES))), np.empty(count), np.empty(count))


@dataclass(frozen=True)
class Straight:
    """The density fitted to the readings, as straight bells about its `nodes`."""

    nodes: Nodes

    @cached_property
    def bells(self) -> Bells:
        """The nodes ready to be drawn from."""
        nodes, aside = self.nodes, self.nodes.aside
        tables = [_tables(each) for each in ((nodes,) if aside is None else (nodes, aside))]
        one = [np.concatenate(each) if aside is not None else each[0] for each in zip(*tables, strict=True)]
        return Bells(*one, len(nodes.share), np.ones(len(nodes.share)) if aside is None else nodes.part)

    def only(self, keep: np.ndarray) -> "Straight":
        """The rows at `keep`."""
        return Straight(self.nodes.only(keep))

    def draw(self, evidence: Evidence, rows: np.ndarray, count: int, start: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """As of any density drawn from."""
        f = len(rows)
        out = self._draw(evidence, rows, np.arange(f), np.full(f, start), np.full(f, count), False)
        return out.share.reshape(f, count), out.z.reshape(f, count, -1), out.ln.reshape(f, count)

    def sample(self, evidence: Evidence, rows: np.ndarray, at: np.ndarray, first: np.ndarray, counts: np.ndarray) -> Sampled:
        """`counts` (n,) samples of those of its rows `at` (n,), the model's `rows` (n,), from number `first` (n,) on, and weighed."""
        return self._draw(evidence, rows, at, first, counts, True)

    def _draw(self, evidence: Evidence, rows: np.ndarray, at: np.ndarray, first: np.ndarray, counts: np.ndarray, weighed: bool) -> Sampled:
        out, start = sampled(int(counts.sum())), np.concatenate([[0], np.cumsum(counts)])
        _draw_rows(evidence.model.circuit, evidence.typed, weighing_for(evidence.typed), self.bells, room_to_draw(len(evidence.active)),
                   rows, at, first, start, even_points(int((first + counts).max(initial=1)) + B), evidence.active, weighed, out)
        return out

    def ln_over_prior(self, evidence: Evidence, rows: np.ndarray, share: np.ndarray, z: np.ndarray) -> np.ndarray:
        """As of any density drawn from."""
        ln = np.empty(share.shape)
        _ln_rows(self.bells, room_to_draw(len(evidence.active)), np.ascontiguousarray(share), np.ascontiguousarray(z), evidence.active, ln)
        return ln


def _tables(nodes: Nodes) -> tuple[np.ndarray, ...]:
    """What `Bells` holds of `nodes`."""
    edges, ln_density = step_density(nodes)
    ln_volume = math.log(WIDEN) * nodes.root.shape[2] - np.log(np.diagonal(nodes.root, axis1=2, axis2=3)).sum(axis=2)
    f = len(nodes.share)
    return nodes.share, nodes.centre.reshape(f, -1), nodes.root.reshape(f, -1), edges, mass_below(edges, ln_density), ln_density - ln_volume


@lru_cache(maxsize=64)
def unit_points(count: int, start: int) -> np.ndarray:
    """Quasi-random points (count, 2 + z): the first coordinate, even in 0..1, chooses the part of a density drawn from, the
    second, even too, the severity; the others are standard normals for the unknowns."""
    points = lattice(count, 2 + len(Z_NAMES), start)
    points[:, 2:] = ndtri(points[:, 2:])
    points.setflags(write=False)
    return points


def even_points(count: int) -> np.ndarray:
    """At least `count` points of `unit_points`, one coordinate after another (2 + z, n)."""
    return _points_across(1 << max(count - 1, 2047).bit_length())


@lru_cache(maxsize=8)
def _points_across(count: int) -> np.ndarray:
    return np.ascontiguousarray(unit_points(count, 0).T)


def with_prior(ln_fit: np.ndarray) -> np.ndarray:
    """The log density `ln_fit` over the one before measuring, with a part of that kept in it."""
    return ln_add(LN_PRIOR, LN_FITTED + ln_fit)


@inlined
def _put_cells(bounds: np.ndarray, value: np.ndarray, cell: np.ndarray, n: int) -> None:
    """Puts how many of ascending `bounds` lie at or below each `value` into `cell`."""
    for s in range(n):
        cell[s] = 0
    for k in range(len(bounds)):
        bound = bounds[k]
        for s in range(n):
            cell[s] += 1 if value[s] >= bound else 0


@inlined
def _put_places(bells: Bells, f: int, drawing: Drawing, w: np.ndarray, size: int, n: int) -> None:
    """Puts where the roots of the block's cells and the centres about its shares are, for row `f` of `bells`, into `drawing`; beyond
    the first and the last node their centres are held."""
    places, last, cell = bells.share[f], bells.share.shape[1] - 2, drawing.cell
    for s in range(n):
        here = w[POINT.share + s]
        left = min(max(cell[s] - (1 if here < places[cell[s]] else 0), 0), last)
        drawing.part[s] = held_at((here - places[left]) / max(places[left + 1] - places[left], 1e-15), 0.0, 1.0)
        drawing.root_at[s], drawing.left_at[s] = cell[s] * size * size, left * size


@inlined
def _put_ln(bells: Bells, f: int, drawing: Drawing, w: np.ndarray, active: np.ndarray, out: np.ndarray, n: int) -> None:
    """Puts the log of the density of row `f` of `bells` at the block's samples over the one before measuring into `out`, that of
    the unknowns' normals left out."""
    cell, off, root, top, size = drawing.cell, drawing.off, bells.root[f], bells.ln_top[f], len(active)
    centres, left_at, root_at, part, total = bells.centre[f], drawing.left_at, drawing.root_at, drawing.part, drawing.sum
    _put_cells(bells.edges[f, 1:-1], w[POINT.share:POINT.share + B], cell, n)
    _put_places(bells, f, drawing, w, size, n)
    for a in range(size):
        column, o = w[Z_AT[0] + active[a] * B:Z_AT[0] + active[a] * B + B], off[a * B:a * B + B]
        for s in range(n):
            left, right = centres[left_at[s] + a], centres[left_at[s] + size + a]
            o[s] = column[s] - (left + part[s] * (right - left))
    for s in range(n):
        out[s] = 0.0
    for a in range(size):
        for s in range(n):
            total[s] = 0.0
        for b in range(a, size):
            o = off[b * B:b * B + B]
            for s in range(n):
                total[s] += root[root_at[s] + b * size + a] * o[s]
        for s in range(n):
            out[s] += total[s] * total[s]
    for s in range(n):
        out[s] = top[cell[s]] - 0.5 / (WIDEN * WIDEN) * out[s]


@inlined
def _put_both(bells: Bells, f: int, drawing: Drawing, w: np.ndarray, active: np.ndarray, n: int) -> None:
    """Puts the log of the density at the block's samples over the one before measuring into `drawing.ln`: of row `f`, of what lies
    aside of it, and a part from before measuring."""
    ln, beside = drawing.ln, drawing.beside
    _put_ln(bells, f, drawing, w, active, ln, n)
    if len(bells.share) > bells.rows:
        _put_ln(bells, f + bells.rows, drawing, w, active, beside, n)
        part = bells.part[f]
        for s in range(n):
            ln[s] = max(ln[s], beside[s]) + log_of(part * exp_of(ln[s] - max(ln[s], beside[s]))
                                                   + (1.0 - part) * exp_of(beside[s] - max(ln[s], beside[s])))
    for s in range(n):
        beside[s] = 0.0
    for a in range(len(active)):
        column = w[Z_AT[0] + active[a] * B:Z_AT[0] + active[a] * B + B]
        for s in range(n):
            beside[s] += 0.5 * column[s] * column[s]
    for s in range(n):
        fitted = LN_FITTED + ln[s] + beside[s]
        ln[s] = max(fitted, LN_PRIOR) + log_of(1.0 + exp_of(-abs(fitted - LN_PRIOR)))


@inlined
def _put_shares(bells: Bells, f: int, u: np.ndarray, drawing: Drawing, w: np.ndarray, n: int) -> None:
    """Puts the severity share at quantile `u` of row `f` into the block, and the cells."""
    edges, total, cell = bells.edges[f], bells.total[f], drawing.cell
    _put_cells(total[1:-1], u, cell, n)
    for s in range(n):
        part = (u[s] - total[cell[s]]) / (total[cell[s] + 1] - total[cell[s]])
        w[POINT.share + s] = edges[cell[s]] + part * (edges[cell[s] + 1] - edges[cell[s]])


@inlined
def _put_moved(bells: Bells, f: int, points: np.ndarray, at: int, drawing: Drawing, w: np.ndarray, size: int, n: int) -> None:
    """Puts unknowns drawn from the bells of row `f` at the block's shares and cells into `drawing.moved`, from points number `at` on."""
    moved, root, centres = drawing.moved, bells.root[f], bells.centre[f]
    left_at, root_at, part = drawing.left_at, drawing.root_at, drawing.part
    _put_places(bells, f, drawing, w, size, n)
    for a in range(size - 1, -1, -1):
        m, normal = moved[a * B:a * B + B], points[2 + a, at:at + B]
        for s in range(n):
            m[s] = WIDEN * normal[s]
        for b in range(a + 1, size):
            other = moved[b * B:b * B + B]
            for s in range(n):
                m[s] -= root[root_at[s] + b * size + a] * other[s]
        for s in range(n):
            m[s] /= root[root_at[s] + a * size + a]
    for a in range(size):
        m = moved[a * B:a * B + B]
        for s in range(n):
            left, right = centres[left_at[s] + a], centres[left_at[s] + size + a]
            m[s] += left + part[s] * (right - left)


@inlined
def _draw_block(bells: Bells, f: int, points: np.ndarray, at: int, drawing: Drawing, w: np.ndarray, active: np.ndarray, n: int) -> None:
    """Puts samples of row `f` of `bells` into the block, those of `points` from number `at` on: from before measuring, from its bells,
    or from those aside."""
    which, u, part = points[0, at:at + B], points[1, at:at + B], bells.part[f]
    for s in range(n):
        w[POINT.share + s] = u[s]
    for a in range(len(active)):
        column, normal = w[Z_AT[0] + active[a] * B:Z_AT[0] + active[a] * B + B], points[2 + a, at:at + B]
        for s in range(n):
            column[s] = normal[s]
    for aside in range(2 if len(bells.share) > bells.rows else 1):
        for s in range(n):
            drawing.beside[s] = w[POINT.share + s]
        _put_shares(bells, f + aside * bells.rows, u, drawing, w, n)
        _put_moved(bells, f + aside * bells.rows, points, at, drawing, w, len(active), n)
        for s in range(n):
            mine = which[s] >= KEEP_PRIOR and ((which[s] - KEEP_PRIOR) / (1.0 - KEEP_PRIOR) >= part) == (aside == 1)
            drawing.sum[s] = 1.0 if mine else 0.0
            w[POINT.share + s] = w[POINT.share + s] if mine else drawing.beside[s]
        for a in range(len(active)):
            column, m = w[Z_AT[0] + active[a] * B:Z_AT[0] + active[a] * B + B], drawing.moved[a * B:a * B + B]
            for s in range(n):
                column[s] = m[s] if drawing.sum[s] != 0.0 else column[s]


@compiled
def _draw_rows(circuit: Circuit, typed: AllTyped, put_in: Weighing, bells: Bells, drawing: Drawing, rows: np.ndarray, which: np.ndarray,
               first: np.ndarray, start: np.ndarray, points: np.ndarray, active: np.ndarray, weighed: bool, out: Sampled) -> None:
    """Puts samples of the rows `which` (n,) of `bells`, the model's `rows` (n,), into `out`, each row's between two of `start`
    (n + 1,), those of `points` from number `first` (n,) on; and weighs them if they are to be `weighed`."""
    w = put_in.room.block
    for k in range(len(which)):
        for begin in range(start[k], start[k + 1], B):
            n = min(B, start[k + 1] - begin)
            # Samples that fill up the lanes are the next ones, which there are always enough of.
            _draw_block(bells, which[k], points, first[k] + begin - start[k], drawing, w, active, lanes(n))
            _put_both(bells, which[k], drawing, w, active, lanes(n))
            for s in range(n):
                out.share[begin + s], out.ln[begin + s] = w[POINT.share + s], drawing.ln[s]
            for a in range(len(active)):
                column = w[Z_AT[0] + active[a] * B:Z_AT[0] + active[a] * B + B]
                for s in range(n):
                    out.z[begin + s, active[a]] = column[s]
            if weighed:
                put_fit(circuit, typed, rows[k], put_in, n < 0, lanes(n))
                for s in range(n):
                    out.ln_weight[begin + s] = put_in.ln[s] - drawing.ln[s]


@compiled
def _ln_rows(bells: Bells, drawing: Drawing, share: np.ndarray, z: np.ndarray, active: np.ndarray, ln: np.ndarray) -> None:
    """Puts the log (f, s) of the density of `bells` over the one before measuring, at share (f, s) and z (f, s, z), into `ln`."""
    w = np.zeros(Z_AT[0] + len(Z_NAMES) * B)
    for f in range(len(share)):
        for start in range(0, share.shape[1], B):
            n = min(B, share.shape[1] - start)
            put_samples(share[f], z[f], start, n, w)
            _put_both(bells, f, drawing, w, active, lanes(n))
            for s in range(n):
                ln[f, start + s] = drawing.ln[s]
