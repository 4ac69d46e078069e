"""Owns the loops that draw from straight bells and say how dense these lie.

Samples of one cell are worked on together, so that its bell is one and the same for all of them.
"""

import math
from typing import NamedTuple

import numpy as np

from engine.block import B, POINT, Z_AT, lanes
from engine.compiled import called, exp_of, inlined, log_of
from engine.likelihood import AllTyped, Weighing, put_fit
from engine.points import Circuit
from engine.unknowns import Z_NAMES

# How much wider than fitted, and the share drawn from before measuring, so that no weight can run away.
WIDEN, KEEP_PRIOR = 1.15, 0.15
LN_PRIOR, LN_FITTED = math.log(KEEP_PRIOR), math.log(1.0 - KEEP_PRIOR)
# So many samples of a row are worked on at once, room for those that fill up lanes, and what they were drawn from.
MANY = 2048
PLACES = MANY + B
FROM_BEFORE, FROM_FIRST, FROM_ASIDE, FROM_NONE = range(4)


class Bells(NamedTuple):
    """Nodes ready to be drawn from, those aside behind all others: shares (f, g), centres (f, g, a) and how they run (f, g, a) towards
    the node before and the one after, lower roots (f, g, a, a) of the precision, edges (f, g + 1), how much of the mass (f, g + 1) lies
    below each, and the log (f, g) of the density at a bell's middle; how many rows there are, and how much (f,) the first of a row's
    two counts."""

    share: np.ndarray
    centre: np.ndarray
    before: np.ndarray
    after: np.ndarray
    root: np.ndarray
    edges: np.ndarray
    total: np.ndarray
    ln_top: np.ndarray
    rows: int
    part: np.ndarray


class Drawing(NamedTuple):
    """Room for samples of a row: their shares (n,), unknowns (a n,), the log (n,) of their density and of that aside, what they come from
    and their cells (n,), their numbers cell after cell (n,) and where each cell's begin; and for a block of one cell's: their numbers (B,),
    how far before and after the node they are (B,), whether they are drawn (B,), points about the middle and moved (a B,), sums (B,)."""

    share: np.ndarray
    z: np.ndarray
    ln: np.ndarray
    beside: np.ndarray
    source: np.ndarray
    cell: np.ndarray
    order: np.ndarray
    begin: np.ndarray
    number: np.ndarray
    short: np.ndarray
    past: np.ndarray
    mine: np.ndarray
    off: np.ndarray
    moved: np.ndarray
    sum: np.ndarray


class Sampled(NamedTuple):
    """Samples of rows one after another, for compiled loops: share (n,), z (n, z), the log (n,) of the density drawn from over the
    one before measuring, and of likelihood over that."""

    share: np.ndarray
    z: np.ndarray
    ln: np.ndarray
    ln_weight: np.ndarray


def room_to_draw(size: int, cells: int) -> Drawing:
    """Room for samples of `size` unknowns among so many `cells`."""
    single = [np.zeros(count * PLACES, np.float32) for count in (1, size, 1, 1)]
    whole = [np.zeros(PLACES, np.int32) for _ in range(2)] + [np.zeros(PLACES, np.int64), np.zeros(cells + 1, np.int64), np.zeros(B, np.int64)]
    return Drawing(*single, *whole, *(np.zeros(count * B, np.float32) for count in (1, 1, 1, size, size, 1)))


def sampled(count: int) -> Sampled:
    """Room for `count` samples."""
    return Sampled(np.empty(count), np.zeros((count, len(Z_NAMES))), np.empty(count), np.empty(count))


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
def _put_order(edges: np.ndarray, drawing: Drawing, first: int, last: int, n: int) -> None:
    """Puts the numbers of samples that come from `first` to `last` of what there is into order, cell after cell."""
    cell, begin, order, source = drawing.cell, drawing.begin, drawing.order, drawing.source
    _put_cells(edges[1:-1], drawing.share, cell, n)
    for g in range(len(begin)):
        begin[g] = 0
    for s in range(n):
        if first <= source[s] <= last:
            begin[cell[s]] += 1
    count = 0
    for g in range(len(begin)):
        count, begin[g] = count + begin[g], count
    for s in range(n):
        if first <= source[s] <= last:
            order[begin[cell[s]]] = s
            begin[cell[s]] += 1
    # Each beginning has moved on to the next one.
    for g in range(len(begin) - 1, 0, -1):
        begin[g] = begin[g - 1]
    begin[0] = 0


@inlined
def _put_moved(root: np.ndarray, points: np.ndarray, at: int, drawing: Drawing, n: int) -> None:
    """Puts points drawn from a bell of this `root` about its middle into `drawing.moved`, of the block's numbers behind `at`."""
    moved, number, size = drawing.moved, drawing.number, len(root)
    for a in range(size - 1, -1, -1):
        m, normal = moved[a * B:a * B + B], points[2 + a]
        for s in range(n):
            m[s] = WIDEN * normal[at + number[s]]
        for b in range(a + 1, size):
            entry, other = root[b, a], moved[b * B:b * B + B]
            for s in range(n):
                m[s] -= entry * other[s]
        per = 1.0 / root[a, a]
        for s in range(n):
            m[s] *= per


@inlined
def _put_squares(root: np.ndarray, drawing: Drawing, out: np.ndarray, n: int) -> None:
    """Puts the squared lengths of what `drawing.off` is by a bell of this `root` into `out`."""
    off, total, size = drawing.off, drawing.sum, len(root)
    for s in range(n):
        out[s] = 0.0
    for a in range(size):
        for s in range(n):
            total[s] = 0.0
        for b in range(a, size):
            entry, o = root[b, a], off[b * B:b * B + B]
            for s in range(n):
                total[s] += entry * o[s]
        for s in range(n):
            out[s] += total[s] * total[s]


@called
def _pass(bells: Bells, f: int, points: np.ndarray, at: int, drawing: Drawing, first: int, last: int, drawn: int, ln: np.ndarray, n: int) -> None:
    """Puts the log of the density of row `f` of `bells`, that of the unknowns' normals left out, into `ln` at those of the `n` samples that
    come from `first` to `last` of what there is; draws the unknowns of those that come from `drawn` before that, of `points` behind `at`."""
    size, number, z = bells.centre.shape[2], drawing.number, drawing.z
    _put_order(bells.edges[f], drawing, first, last, n)
    for g in range(bells.share.shape[1]):
        here, top, root = bells.share[f, g], bells.ln_top[f, g], bells.root[f, g]
        end = drawing.begin[g + 1]
        for start in range(drawing.begin[g], end, B):
            count = lanes(min(B, end - start))
            for s in range(count):
                number[s] = drawing.order[min(start + s, end - 1)]
            for s in range(count):
                behind = drawing.share[number[s]] - here
                drawing.short[s], drawing.past[s] = min(behind, 0.0), max(behind, 0.0)
                drawing.mine[s] = 1.0 if drawing.source[number[s]] == drawn else 0.0
            if drawn != FROM_NONE:
                _put_moved(root, points, at, drawing, count)
            for a in range(size):
                centre, before, after = bells.centre[f, g, a], bells.before[f, g, a], bells.after[f, g, a]
                m, o, column = drawing.moved[a * B:a * B + B], drawing.off[a * B:a * B + B], z[a * PLACES:a * PLACES + PLACES]
                for s in range(count):
                    o[s] = column[number[s]]
                for s in range(count):
                    middle = centre + before * drawing.short[s] + after * drawing.past[s]
                    drawing.sum[s] = m[s] + middle if drawing.mine[s] != 0.0 else o[s]
                    o[s] = drawing.sum[s] - middle
                if drawn != FROM_NONE:
                    for s in range(count):
                        column[number[s]] = drawing.sum[s]
            _put_squares(root, drawing, drawing.mine, count)
            for s in range(count):
                ln[number[s]] = top - 0.5 / (WIDEN * WIDEN) * drawing.mine[s]


@inlined
def _put_both(bells: Bells, f: int, drawing: Drawing, n: int) -> None:
    """Makes of the logs of the densities of row `f`, and of what lies aside of it, at `n` samples that over the density before measuring,
    a part of which is kept in it."""
    ln, beside, size = drawing.ln, drawing.beside, bells.centre.shape[2]
    if len(bells.share) > bells.rows:
        part = bells.part[f]
        for s in range(n):
            top = max(ln[s], beside[s])
            ln[s] = top + log_of(part * exp_of(ln[s] - top) + (1.0 - part) * exp_of(beside[s] - top))
    for a in range(size):
        column = drawing.z[a * PLACES:a * PLACES + PLACES]
        for s in range(n):
            ln[s] += 0.5 * column[s] * column[s]
    for s in range(n):
        fitted = LN_FITTED + ln[s]
        ln[s] = max(fitted, LN_PRIOR) + log_of(1.0 + exp_of(-abs(fitted - LN_PRIOR)))


@inlined
def _put_shares(edges: np.ndarray, total: np.ndarray, u: np.ndarray, drawing: Drawing, source: int, n: int) -> None:
    """Puts the severity shares at quantiles `u` of a step density where samples come from this `source`."""
    cell, share = drawing.cell, drawing.share
    _put_cells(total[1:-1], u, cell, n)
    for s in range(n):
        part = (u[s] - total[cell[s]]) / (total[cell[s] + 1] - total[cell[s]])
        at = edges[cell[s]] + part * (edges[cell[s] + 1] - edges[cell[s]])
        share[s] = at if drawing.source[s] == source else share[s]


@inlined
def _draw(bells: Bells, f: int, points: np.ndarray, at: int, drawing: Drawing, n: int) -> None:
    """Draws `n` samples of row `f` of `bells`, those of `points` from number `at` on: from before measuring, from its bells, or from those
    aside; and puts the log of the density over the one before measuring into `drawing.ln`."""
    which, u, part, aside = points[0, at:at + n], points[1, at:at + n], bells.part[f], f + bells.rows
    for s in range(n):
        of_first = (which[s] - KEEP_PRIOR) / (1.0 - KEEP_PRIOR) < part
        drawing.source[s] = FROM_BEFORE if which[s] < KEEP_PRIOR else FROM_FIRST if of_first else FROM_ASIDE
        drawing.share[s] = u[s]
    for a in range(bells.centre.shape[2]):
        column, normal = drawing.z[a * PLACES:a * PLACES + PLACES], points[2 + a, at:at + n]
        for s in range(n):
            column[s] = normal[s]
    _put_shares(bells.edges[f], bells.total[f], u, drawing, FROM_FIRST, n)
    if len(bells.share) > bells.rows:
        _put_shares(bells.edges[aside], bells.total[aside], u, drawing, FROM_ASIDE, n)
        for turn in range(3):
            # Unknowns from aside are drawn before the first bells say how dense they lie there.
            _pass(bells, aside if turn == 1 else f, points, at, drawing, FROM_ASIDE if turn == 2 else FROM_BEFORE,
                  FROM_FIRST if turn == 0 else FROM_ASIDE, FROM_FIRST if turn == 0 else FROM_ASIDE if turn == 1 else FROM_NONE,
                  drawing.beside if turn == 1 else drawing.ln, n)
    else:
        _pass(bells, f, points, at, drawing, FROM_BEFORE, FROM_FIRST, FROM_FIRST, drawing.ln, n)
    _put_both(bells, f, drawing, n)


@called
def draw_rows(circuit: Circuit, typed: AllTyped, put_in: Weighing, bells: Bells, drawing: Drawing, rows: np.ndarray, which: np.ndarray,
              first: np.ndarray, start: np.ndarray, points: np.ndarray, active: np.ndarray, weighed: bool, out: Sampled) -> None:
    """Puts samples of the rows `which` (n,) of `bells`, the model's `rows` (n,), into `out`, each row's between two of `start`
    (n + 1,), those of `points` from number `first` (n,) on; and weighs them if they are to be `weighed`."""
    w = put_in.room.block
    for k in range(len(which)):
        for begin in range(start[k], start[k + 1], MANY):
            n = min(MANY, start[k + 1] - begin)
            # Samples that fill up the lanes are the next ones, which there are always enough of.
            _draw(bells, which[k], points, first[k] + begin - start[k], drawing, lanes(n))
            for s in range(n):
                out.share[begin + s], out.ln[begin + s] = drawing.share[s], drawing.ln[s]
            for a in range(len(active)):
                column = drawing.z[a * PLACES:a * PLACES + PLACES]
                for s in range(n):
                    out.z[begin + s, active[a]] = column[s]
            for at in range(0, n if weighed else 0, B):
                count = min(B, n - at)
                for s in range(lanes(count)):
                    w[POINT.share + s] = drawing.share[at + s]
                for a in range(len(active)):
                    into, column = w[Z_AT[0] + active[a] * B:Z_AT[0] + active[a] * B + B], drawing.z[a * PLACES + at:a * PLACES + at + B]
                    for s in range(lanes(count)):
                        into[s] = column[s]
                put_fit(circuit, typed, rows[k], put_in, n < 0, lanes(count))
                for s in range(count):
                    out.ln_weight[begin + at + s] = put_in.ln[s] - drawing.ln[at + s]


@called
def ln_rows(bells: Bells, drawing: Drawing, points: np.ndarray, share: np.ndarray, z: np.ndarray, active: np.ndarray, ln: np.ndarray) -> None:
    """Puts the log (f, s) of the density of `bells` over the one before measuring, at share (f, s) and z (f, s, z), into `ln`; nothing of
    `points` is looked at."""
    for f in range(len(share)):
        for start in range(0, share.shape[1], MANY):
            n = min(MANY, share.shape[1] - start)
            for s in range(lanes(n)):
                at = start + min(s, n - 1)
                drawing.share[s], drawing.source[s] = share[f, at], FROM_BEFORE
                for a in range(len(active)):
                    drawing.z[a * PLACES + s] = z[f, at, active[a]]
            for turn in range(2 if len(bells.share) > bells.rows else 1):
                _pass(bells, f + turn * bells.rows, points, 0, drawing, FROM_BEFORE, FROM_BEFORE, FROM_NONE,
                      drawing.beside if turn == 1 else drawing.ln, lanes(n))
            _put_both(bells, f, drawing, lanes(n))
            for s in range(n):
                ln[f, start + s] = drawing.ln[s]
