"""Owns the loops that draw from straight bells and say how dense these lie.

Samples of one cell are worked on together, so that its bell is one and the same for all of them.
"""

import math
from typing import NamedTuple

import numpy as np

from engine.block import B, POINT, Z_AT, lanes
from engine.compiled import called, exp_of, inlined, log_of
from engine.likelihood import AllTyped, Weighing, put_fit
from engine.many import MANY, all_at, all_of, either, many_at, many_of, minus, over, plus, put_in_columns, put_in_lines, put_many, times
from engine.points import Circuit
from engine.unknowns import Z_NAMES

# How much wider than fitted, and the share drawn from before measuring, so that no weight can run away.
WIDEN, KEEP_PRIOR = 1.1, 0.15
LN_PRIOR, LN_FITTED = math.log(KEEP_PRIOR), math.log(1.0 - KEEP_PRIOR)
# So many samples of a row are worked on at once, room for those that fill up lanes, and what they were drawn from.
MOST = 2048
PLACES = MOST + B
# The unknowns of a sample lie together: so many numbers, a line of the cache.
ROW = 16
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
    """Room for samples of a row: their shares (n,), unknowns (n ROW,), the log (n,) of their density and of that aside, what they come from
    and their cells (n,), their numbers cell after cell (n,) and where each cell's begin; and for a block of one cell's: their numbers (B,),
    how far before and after the node they are (B,), whether they are drawn (B,), points about the middle, how they were and moved
    (ROW B,), squared lengths (B,)."""

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


def room_to_draw(cells: int) -> Drawing:
    """Room for samples among so many `cells`."""
    single = [np.empty(count * PLACES, np.float32) for count in (1, ROW, 1, 1, 1)]
    whole = [*(np.empty(PLACES, np.int32) for _ in range(2)), np.empty(cells + 1, np.int64), np.empty(B, np.int32)]
    return Drawing(*single, *whole, *(np.empty(count * B, np.float32) for count in (1, 1, 1, ROW, ROW, 1)))


def sampled(count: int) -> Sampled:
    """Room for `count` samples."""
    return Sampled(np.empty(count), np.empty((count, len(Z_NAMES))), np.empty(count), np.empty(count))


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
def _put_moved(root: np.ndarray, drawing: Drawing, s: int) -> None:
    """Puts points drawn from a bell of this `root` about its middle in the place of the normals in `drawing.moved`, many of the block's from
    number `s` on."""
    moved, size = drawing.moved, len(root)
    for a in range(size - 1, -1, -1):
        point = times(all_of(WIDEN), many_at(moved, a * B + s))
        for b in range(a + 1, size):
            point = minus(point, times(all_at(root, b * size + a), many_at(moved, b * B + s)))
        put_many(moved, a * B + s, times(point, over(all_of(1.0), all_at(root, a * size + a))))


@inlined
def _put_squares(root: np.ndarray, drawing: Drawing, s: int) -> None:
    """Puts the squared lengths of what `drawing.off` is by a bell of this `root` into `drawing.sum`, many of the block's from number `s` on."""
    off, size, squares = drawing.off, len(root), all_of(0.0)
    for a in range(size):
        total = all_of(0.0)
        for b in range(a, size):
            total = plus(total, times(all_at(root, b * size + a), many_at(off, b * B + s)))
        squares = plus(squares, times(total, total))
    put_many(drawing.sum, s, squares)


@inlined
def _put_numbers(drawing: Drawing, here: float, drawn: int, start: int, end: int, n: int) -> None:
    """Puts the numbers of a block's `n` samples, in order from `start` to `end`, the last one again where that fills up lanes; how far
    they are from the node `here`; and which of them come from what is `drawn`."""
    number, order = drawing.number, drawing.order
    for s in range(min(n, end - start)):
        number[s] = order[start + s]
    for s in range(end - start, n):
        number[s] = order[end - 1]
    for s in range(0, n, MANY):
        which = many_at(number, s)
        put_many(drawing.short, s, many_of(drawing.share, 0, which))
        put_many(drawing.mine, s, many_of(drawing.source, 0, which))
    for s in range(n):
        behind = drawing.short[s] - here
        drawing.short[s], drawing.past[s] = min(behind, 0.0), max(behind, 0.0)
        drawing.mine[s] = 1.0 if drawing.mine[s] == drawn else 0.0


@inlined
def _put_points(points: np.ndarray, at: int, drawing: Drawing, size: int, drawn: int, n: int) -> None:
    """Puts normals of a block's samples, those of `points` behind `at`, into `drawing.moved` where anything is `drawn`, and their unknowns
    into `drawing.off`; where those of the first bells are, no others have been drawn: theirs are those normals."""
    for s in range(0, n, MANY):
        number = many_at(drawing.number, s)
        for a in range(size if drawn != FROM_NONE else 0):
            normals = many_of(points[2 + a], at, number)
            put_many(drawing.moved, a * B + s, normals)
            put_many(drawing.off, a * B + s, normals)
        for a in range(0, 0 if drawn == FROM_FIRST else size, MANY):
            put_in_columns(drawing.z, number, ROW, a, drawing.off, a * B + s, B)


@called
def _pass(bells: Bells, f: int, points: np.ndarray, at: int, drawing: Drawing, first: int, last: int, drawn: int, ln: np.ndarray, n: int) -> None:
    """Puts the log of the density of row `f` of `bells`, that of the unknowns' normals left out, into `ln` at those of the `n` samples that
    come from `first` to `last` of what there is; draws the unknowns of those that come from `drawn` before that, of `points` behind `at`."""
    size, number = bells.centre.shape[2], drawing.number
    _put_order(bells.edges[f], drawing, first, last, n)
    for g in range(bells.share.shape[1]):
        top, root, end, node = bells.ln_top[f, g], bells.root[f, g], drawing.begin[g + 1], (f * bells.share.shape[1] + g) * size
        for start in range(drawing.begin[g], end, B):
            count = lanes(min(B, end - start))
            _put_numbers(drawing, bells.share[f, g], drawn, start, end, count)
            _put_points(points, at, drawing, size, drawn, count)
            for s in range(0, count, MANY):
                if drawn != FROM_NONE:
                    _put_moved(root, drawing, s)
                short, past, mine = many_at(drawing.short, s), many_at(drawing.past, s), many_at(drawing.mine, s)
                for a in range(size):
                    middle = plus(plus(all_at(bells.centre, node + a), times(all_at(bells.before, node + a), short)),
                                  times(all_at(bells.after, node + a), past))
                    there = either(mine, plus(many_at(drawing.moved, a * B + s), middle), many_at(drawing.off, a * B + s))
                    put_many(drawing.moved, a * B + s, there)
                    put_many(drawing.off, a * B + s, minus(there, middle))
                for a in range(0, size if drawn != FROM_NONE else 0, MANY):
                    put_in_lines(drawing.moved, a * B + s, B, drawing.z, many_at(number, s), ROW, a)
                _put_squares(root, drawing, s)
            for s in range(count):
                drawing.sum[s] = top - 0.5 / (WIDEN * WIDEN) * drawing.sum[s]
            for s in range(count):
                ln[number[s]] = drawing.sum[s]


@inlined
def _put_both(bells: Bells, f: int, drawing: Drawing, at: int, n: int) -> None:
    """Makes of the logs of the densities of row `f`, and of what lies aside of it, at the `n` samples of a block from number `at` on that
    over the density before measuring, a part of which is kept in it; and puts their unknowns into `drawing.off`."""
    size, off = bells.centre.shape[2], drawing.off
    ln, beside = drawing.ln[at:at + B], drawing.beside[at:at + B]
    for s in range(n):
        drawing.number[s] = at + s
    for a in range(0, size, MANY):
        for s in range(0, n, MANY):
            put_in_columns(drawing.z, many_at(drawing.number, s), ROW, a, off, a * B + s, B)
    if len(bells.share) > bells.rows:
        part = bells.part[f]
        for s in range(n):
            top = max(ln[s], beside[s])
            ln[s] = top + log_of(part * exp_of(ln[s] - top) + (1.0 - part) * exp_of(beside[s] - top))
    for s in range(0, n, MANY):
        squares = many_at(ln, s)
        for a in range(size):
            there = many_at(off, a * B + s)
            squares = plus(squares, times(times(all_of(0.5), there), there))
        put_many(ln, s, squares)
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


@called
def draw_rows(circuit: Circuit, typed: AllTyped, put_in: Weighing, bells: Bells, drawing: Drawing, rows: np.ndarray, which: np.ndarray,
              first: np.ndarray, start: np.ndarray, points: np.ndarray, active: np.ndarray, weighed: bool, out: Sampled) -> None:
    """Puts samples of the rows `which` (n,) of `bells`, the model's `rows` (n,), into `out`, each row's between two of `start`
    (n + 1,), those of `points` from number `first` (n,) on; and weighs them if they are to be `weighed`."""
    w = put_in.room.block
    for k in range(len(which)):
        for begin in range(start[k], start[k + 1], MOST):
            n = min(MOST, start[k + 1] - begin)
            # Samples that fill up the lanes are the next ones, which there are always enough of.
            _draw(bells, which[k], points, first[k] + begin - start[k], drawing, lanes(n))
            for at in range(0, n, B):
                count = min(B, n - at)
                _put_both(bells, which[k], drawing, at, lanes(count))
                for s in range(count):
                    out.share[begin + at + s], out.ln[begin + at + s] = drawing.share[at + s], drawing.ln[at + s]
                for s in range(count):
                    for a in range(out.z.shape[1]):
                        out.z[begin + at + s, a] = 0.0
                    for a in range(len(active)):
                        out.z[begin + at + s, active[a]] = drawing.off[a * B + s]
                if weighed:
                    for s in range(lanes(count)):
                        w[POINT.share + s] = drawing.share[at + s]
                    for a in range(len(active)):
                        for s in range(0, lanes(count), MANY):
                            put_many(w, Z_AT[0] + active[a] * B + s, many_at(drawing.off, a * B + s))
                    put_fit(circuit, typed, rows[k], put_in, n < 0, lanes(count))
                    for s in range(count):
                        out.ln_weight[begin + at + s] = put_in.ln[s] - drawing.ln[at + s]


@called
def ln_rows(bells: Bells, drawing: Drawing, points: np.ndarray, share: np.ndarray, z: np.ndarray, active: np.ndarray, ln: np.ndarray) -> None:
    """Puts the log (f, s) of the density of `bells` over the one before measuring, at share (f, s) and z (f, s, z), into `ln`; nothing of
    `points` is looked at."""
    for f in range(len(share)):
        for start in range(0, share.shape[1], MOST):
            n = min(MOST, share.shape[1] - start)
            for s in range(lanes(n)):
                at = start + min(s, n - 1)
                drawing.share[s], drawing.source[s] = share[f, at], FROM_BEFORE
                for a in range(len(active)):
                    drawing.z[s * ROW + a] = z[f, at, active[a]]
            for turn in range(2 if len(bells.share) > bells.rows else 1):
                _pass(bells, f + turn * bells.rows, points, 0, drawing, FROM_BEFORE, FROM_BEFORE, FROM_NONE,
                      drawing.beside if turn == 1 else drawing.ln, lanes(n))
            for at in range(0, n, B):
                count = min(B, n - at)
                _put_both(bells, f, drawing, at, lanes(count))
                for s in range(count):
                    ln[f, start + at + s] = drawing.ln[at + s]
