"""Owns one Gauss-Newton move of the unknowns of a node, and the bell that the readings leave there."""

from typing import NamedTuple

import numpy as np

from engine.block import B, POINT, Z_AT, lanes
from engine.compiled import called, exp_of, held_at, inlined
from engine.many import MANY, all_of, many_at, minus, over, plus, put_many, root_of, times, wide
from engine.slopes import NOTHING, Numbers, Offs, offs_for, put_linear, put_off

LARGEST_MOVE = 3.0
HUBER, UNEXPLAINED = 4.0, 1e-5
# The severity share lies even in its range, which is about this precise a bell.
EVEN_PRECISION = 4.0
# A node moves no nearer to the edge of its cell than this part of the way.
INSIDE = 0.98


class Moved(NamedTuple):
    """Nodes moved, as of Nodes without their density; and the standard deviation `bell` (f, g) of the severity share."""

    share: np.ndarray
    centre: np.ndarray
    root: np.ndarray
    bell: np.ndarray


class Solver(NamedTuple):
    """Room for the moves of a block: per node s the precision's lower root ((a + 1) (a + 1) B,), the move and which way unknowns
    go with the severity share ((a + 1) B,); of each number (k B,) its weight, how far off it would be with all unknowns at their mean
    and its part in one row of the precision; and which numbers (k,) count."""

    root: np.ndarray
    move: np.ndarray
    along: np.ndarray
    weight: np.ndarray
    ahead: np.ndarray
    part: np.ndarray
    count: np.ndarray


def _solver_for(unknowns: int, numbers: int) -> Solver:
    """Room for so many unknowns, the severity share among them, and numbers."""
    return Solver(*(np.zeros(many * B) for many in (unknowns * unknowns, unknowns, unknowns, numbers, numbers, numbers)),
                  np.zeros(numbers, int))


@inlined
def _put_weight(off: np.ndarray, start: int, heat: float, letting_go: bool, weight: np.ndarray, n: int) -> None:
    """Puts how much a number, `off` from `start` on, moves into `weight` there: what stays unexplained is let go, a slip moves nothing any
    more; or far ones pull less."""
    if letting_go:
        for s in range(start, start + n):
            weight[s] = 1.0 / (1.0 + UNEXPLAINED * exp_of(min(0.5 * off[s] * off[s], 60.0)))
    else:
        for s in range(start, start + n):
            weight[s] = 1.0 / (heat * (1.0 + off[s] * off[s] / (HUBER * HUBER)))


@inlined
def _put_precision(numbers: Numbers, offs: Offs, solver: Solver, heat: float, letting_go: bool, doubted: np.ndarray, n: int) -> None:
    """Puts the precision's lower triangle into `solver.root` and the readings' pull into `solver.move`, all numbers but those
    `doubted` (k,)."""
    size, counted, w = len(numbers.dims), 0, offs.room.block
    step, slopes, moves = numbers.typed.numbers * B, offs.slope, offs.moves
    for k in range(numbers.typed.numbers):
        if not doubted[k]:
            solver.count[counted] = k * B
            counted += 1
            _put_weight(offs.off, k * B, heat, letting_go, solver.weight, n)
    for s in range(0, n, MANY):
        for c in range(counted):
            k = solver.count[c] + s
            ahead = wide(many_at(offs.off, k))
            for a in range(size):
                if moves[a] != NOTHING:
                    ahead = minus(ahead, times(many_at(slopes, a * step + k), many_at(w, Z_AT[0] + numbers.dims[a] * B + s)))
            put_many(solver.ahead, k, ahead)
        for a in range(size + 1):
            pull = wide(all_of(0.0))
            for c in range(counted if moves[a] != NOTHING else 0):
                k = solver.count[c] + s
                part = times(many_at(solver.weight, k), many_at(slopes, a * step + k))
                put_many(solver.part, k, part)
                pull = minus(pull, times(part, many_at(solver.ahead, k)))
            put_many(solver.move, a * B + s, pull)
            for b in range(a + 1):
                entry = wide(all_of((EVEN_PRECISION if a == size else 1.0) if a == b else 0.0))
                for c in range(counted if moves[a] != NOTHING and moves[b] != NOTHING else 0):
                    k = solver.count[c] + s
                    entry = plus(entry, times(many_at(solver.part, k), many_at(slopes, b * step + k)))
                put_many(solver.root, (a * (size + 1) + b) * B + s, entry)


@inlined
def _solve(size: int, moves: np.ndarray, w: np.ndarray, dims: np.ndarray, solver: Solver, n: int) -> None:
    """Puts the lower root in the place of the precision, the move from where unknowns are in the place of the pull, and which way
    they go with the severity share.

    What moves nothing stands by itself: beside the diagonal there is nothing, and nothing is taken off.
    """
    m, root = size + 1, solver.root
    for s in range(0, n, MANY):
        _put_root(m, moves, root, s)
        for a in range(m):
            move = many_at(solver.move, a * B + s)
            for b in range(a if moves[a] != NOTHING else 0):
                if moves[b] != NOTHING:
                    move = minus(move, times(many_at(root, (a * m + b) * B + s), many_at(solver.move, b * B + s)))
            put_many(solver.move, a * B + s, over(move, many_at(root, (a * m + a) * B + s)))
        for a in range(m - 1, -1, -1):
            move, along = many_at(solver.move, a * B + s), wide(all_of(1.0 if a == size else 0.0))
            for b in range(a + 1, m if moves[a] != NOTHING else 0):
                if moves[b] != NOTHING:
                    beside = many_at(root, (b * m + a) * B + s)
                    move = minus(move, times(beside, many_at(solver.move, b * B + s)))
                    along = minus(along, times(beside, many_at(solver.along, b * B + s)))
            pivot = many_at(root, (a * m + a) * B + s)
            put_many(solver.move, a * B + s, over(move, pivot))
            put_many(solver.along, a * B + s, over(along, pivot))
        for a in range(size):
            put_many(solver.move, a * B + s, minus(many_at(solver.move, a * B + s), many_at(w, Z_AT[0] + dims[a] * B + s)))


@inlined
def _put_root(m: int, moves: np.ndarray, root: np.ndarray, s: int) -> None:
    """Puts the lower root of many nodes, from number `s` on, in the place of the precision of `m` unknowns."""
    for j in range(m):
        pivot = many_at(root, (j * m + j) * B + s)
        for k in range(j if moves[j] != NOTHING else 0):
            if moves[k] != NOTHING:
                before = many_at(root, (j * m + k) * B + s)
                pivot = minus(pivot, times(before, before))
        pivot = root_of(pivot)
        put_many(root, (j * m + j) * B + s, pivot)
        per = over(all_of(1.0), pivot)
        for i in range(j + 1, m if moves[j] != NOTHING else 0):
            if moves[i] != NOTHING:
                entry = many_at(root, (i * m + j) * B + s)
                for k in range(j):
                    if moves[k] != NOTHING:
                        entry = minus(entry, times(many_at(root, (i * m + k) * B + s), many_at(root, (j * m + k) * B + s)))
                put_many(root, (i * m + j) * B + s, times(entry, per))


def moved_all(numbers: Numbers, rows: np.ndarray, share: np.ndarray, centre: np.ndarray, heat: float, free: bool, doubted: np.ndarray,
              moves: int) -> Moved:
    """So many moves of the unknowns of nodes of `rows` at `share` (f, g) from `centre` (f, g, a), and of the severity if it is `free`,
    within each node's own cell, by all numbers but those `doubted` (f, k), every other along slopes looked at anew; what stays
    unexplained after a first move is let go in the last."""
    return _worked(numbers, rows, share, centre, heat, free, doubted, moves, 0)[0]


def linear(numbers: Numbers, rows: np.ndarray, share: np.ndarray, centre: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """How far numbers are off (f, g, k) at share (f, g) and `centre` (f, g, a) of `rows`, and their slopes (f, g, k, a + 1) against the
    unknowns `numbers.dims` and, last, the severity share."""
    doubted = np.zeros((len(rows), numbers.typed.numbers), bool)
    return _worked(numbers, rows, share, centre, 1.0, False, doubted, 1, share.shape[1])[1:]


def off_all(numbers: Numbers, rows: np.ndarray, share: np.ndarray, centre: np.ndarray) -> np.ndarray:
    """How far each number is off (f, g, k), in its standard deviations, at share (f, g) and `centre` (f, g, a) of `rows`."""
    doubted = np.zeros((len(rows), numbers.typed.numbers), bool)
    return _worked(numbers, rows, share, centre, 1.0, False, doubted, 0, share.shape[1])[1]


def _worked(numbers: Numbers, rows: np.ndarray, share: np.ndarray, centre: np.ndarray, heat: float, free: bool, doubted: np.ndarray,
            moves: int, looked_at: int) -> tuple[Moved, np.ndarray, np.ndarray]:
    """The nodes moved; how far numbers (f, looked_at, k) were off before that at the first nodes of each row, so many as are
    `looked_at`, and, if they moved, their slopes (f, looked_at, k, a + 1) there."""
    m, k = centre.shape[2] + 1, numbers.typed.numbers
    out = Moved(share.copy(), centre.copy(), np.zeros((*centre.shape, m - 1)), np.zeros(share.shape))
    off, slope = np.zeros((len(rows), looked_at, k)), np.zeros((len(rows), min(moves, 1) * looked_at, k, m))
    _move(numbers, offs_for(numbers), _solver_for(m, max(k, 1)), rows, np.ascontiguousarray(share), np.ascontiguousarray(centre),
          heat, free, doubted, moves, out, off, slope)
    return out, off, slope


@called
def _move(numbers: Numbers, offs: Offs, solver: Solver, rows: np.ndarray, share: np.ndarray, centre: np.ndarray, heat: float, free: bool,
          doubted: np.ndarray, moves: int, out: Moved, off: np.ndarray, slope: np.ndarray) -> None:
    """As `_worked`, into `out`, and `off` and `slope` where there is room."""
    f, g, size = centre.shape
    w, count = offs.room.block, numbers.typed.numbers
    for i in range(f):
        for start in range(0, g, B):
            n = min(B, g - start)
            # Slopes at every second node: the last one's are as those of the one before, if it is not one of these.
            last = (n - 1) // 2 * 2 if free else n - 1
            for move in range(max(moves, 1)):
                for s in range(n):
                    w[POINT.share + s] = share[i, start + s]
                for s in range(n, lanes(n)):
                    w[POINT.share + s] = share[i, start + last]
                for a in range(size):
                    column = w[Z_AT[0] + numbers.dims[a] * B:Z_AT[0] + numbers.dims[a] * B + B]
                    for s in range(n):
                        column[s] = out.centre[i, start + s, a]
                    for s in range(n, lanes(n)):
                        column[s] = out.centre[i, start + last, a]
                # Every other move goes along the slopes there are.
                if move % 2 == 0 and moves > 0:
                    put_linear(numbers, rows[i], offs, 2 if free else 1, n)
                else:
                    put_off(numbers, rows[i], numbers.hooks.all, moves == 0, offs, offs.off, lanes(n))
                for k in range(count):
                    for j in range(start, min(start + n, off.shape[1])):
                        off[i, j, k] = offs.off[k * B + j - start]
                    for a in range(size + 1):
                        for j in range(start, min(start + n, slope.shape[1])):
                            slope[i, j, k, a] = offs.slope[(a * count + k) * B + j - start]
                if moves == 0:
                    continue
                _put_precision(numbers, offs, solver, heat, move > 0 and move == moves - 1, doubted[i], lanes(n))
                _solve(size, offs.moves, w, numbers.dims, solver, lanes(n))
                for j in range(start, start + n):
                    kept = 0.0
                    if free:
                        low = 0.5 * (share[i, j - 1] + share[i, j]) if j > 0 else 0.0
                        high = 0.5 * (share[i, j] + share[i, j + 1]) if j < g - 1 else 1.0
                        kept = INSIDE * held_at(solver.move[size * B + j - start], low - share[i, j], high - share[i, j])
                    _put_node(solver, kept, i, j, j - start, out)


@inlined
def _put_node(solver: Solver, kept: float, i: int, j: int, s: int, out: Moved) -> None:
    """Moves node j of row i, s of its block: its severity share by what is `kept` of the move, its unknowns to where they are
    likeliest there."""
    size = out.centre.shape[2]
    longest, shift = 0.0, (kept - solver.move[size * B + s]) / solver.along[size * B + s]
    for a in range(size):
        longest = max(longest, abs(solver.move[a * B + s] + solver.along[a * B + s] * shift))
    part = min(1.0, LARGEST_MOVE / max(longest, 1e-9))
    out.share[i, j] += kept
    out.bell[i, j] = 1.0 / solver.root[(size * (size + 1) + size) * B + s]
    for a in range(size):
        out.centre[i, j, a] += (solver.move[a * B + s] + solver.along[a * B + s] * shift) * part
        for b in range(a + 1):
            out.root[i, j, a, b] = solver.root[(a * (size + 1) + b) * B + s]
