"""Owns how far the numeric readings are off, in their standard deviations, and their slopes: what moves a fit."""

from typing import NamedTuple

import numpy as np

from engine.behind import put_quantities
from engine.block import B, HOOK, POINT, ROOM, SEEN, Z_AT, lanes
from engine.chances import AT_SD, put_number, set_apart, spread_at, typed_as, variance_apart, variance_of
from engine.compiled import called, held_at, inlined, laid_in
from engine.grades import NOWHERE
from engine.items import LN_OHM, SHOWS, THERMOMETER, Items
from engine.many import (
    MANY, all_of, evens, first_in_turn, following, last_in_turn, last_kept, many_at, minus, over, plus, put_many, times)
from engine.module import end_residual
from engine.points import Circuit, Hooks, Room, on_one, put_seen, room_for
from engine.seen import BRANCH, RETURN_OHM, SHARE, SLOPE, TRUE, VALUE
from engine.unknowns import Z, Z_NAMES

STEP, SHARE_STEP = 0.03, 0.004
NOTHING, WITH_SENSOR, EVERYTHING = range(3)
# Any chance of a second pull-up is above this; a pull-up of less than this chance is hardly on, and so far off.
ALWAYS, HARDLY, FAR = -1.0, 0.02, 1e9


class Numbers(NamedTuple):
    """What numeric readings hang on, for compiled loops: the circuit, their hook-ups, what was typed, the unknowns (a,) that
    may move."""

    circuit: Circuit
    hooks: Hooks
    typed: Items
    dims: np.ndarray


class Offs(NamedTuple):
    """Room for a block: the block itself; of each number (k B,) its standard deviation there, on which of the circuits there may be
    it lies best, how far off in its own unit, how far it is off, that at every first or second sample, and moved; one circuit's standard
    deviation and how far it is off there; its slopes ((a + 1) k B,) against unknowns and severity share, and what of them moves
    anything (a + 1,); the unknowns and the share ((a + 1) B,) as they were, and at every first or second sample; and how far an unknown is
    moved, and the share (2 B,)."""

    room: Room
    spread: np.ndarray
    which: np.ndarray
    far: np.ndarray
    off: np.ndarray
    near: np.ndarray
    moved: np.ndarray
    wide: np.ndarray
    tried: np.ndarray
    slope: np.ndarray
    moves: np.ndarray
    base: np.ndarray
    thin: np.ndarray
    step: np.ndarray


def offs_for(numbers: Numbers) -> Offs:
    """Room for points of `numbers`."""
    k, m = max(numbers.typed.numbers, 1) * B, len(numbers.dims) + 1
    return Offs(room_for(numbers.hooks), *(np.zeros(k, np.float32) for _ in range(8)), np.zeros(k * m, np.float32), np.zeros(m, int),
                *(np.zeros(m * B, np.float32) for _ in range(2)), np.full(2 * B, STEP, np.float32))


@called
def put_off(numbers: Numbers, at: int, asked: np.ndarray, first: bool, offs: Offs, out: np.ndarray, n: int) -> None:
    """Puts how far each number on hook-ups `asked` for (r,) is off into `out` (k B,), at the block's first `n` samples of the
    model's row `at`, in its standard deviations where it was `first` asked; what comes and goes is there, or is not, and a second
    pull-up is on, or is not, whichever the number looked more like there."""
    job, row, w, count = numbers.circuit.job[0], numbers.circuit.rows[at], offs.room.block, numbers.typed.numbers * B
    several = row.comes or job.switches
    put_quantities(job, w, n)
    for healthy in range(2 if row.comes else 1):
        put_seen(numbers.circuit, row, numbers.hooks, asked, healthy == 1, offs.room, n)
        for second in range(2 if job.switches else 1):
            if second == 1:
                on_one(job, numbers.hooks, w, ALWAYS, n)
            if not several:
                _compare(job, numbers.typed, row, asked, w, first, offs.spread, out, n)
                continue
            for s in range(count):
                offs.tried[s] = out[s]
            _compare(job, numbers.typed, row, asked, w, first, offs.wide if first else offs.spread, offs.tried, n)
            _choose(job, numbers.typed, w, 2 * healthy + second, first, offs, out)


@inlined
def _choose(job: object, typed: Items, w: np.ndarray, which: int, first: bool, offs: Offs, out: np.ndarray) -> None:
    """Takes what was tried last, circuit number `which`, into `out`: where the numbers lie best on it of all so far if they are `first`
    asked, or else where they were so then."""
    for k in range(typed.numbers):
        place, second = max(typed.items[k].place, 0), which % 2 == 1
        for s in range(k * B, k * B + B):
            mine = offs.which[s] == which
            if first:
                on = w[SEEN + place * HOOK + BRANCH * B + s - k * B] if job.switches else 0.0
                # How far off in its own unit: as a share of what is known of it, a circuit that shows anything would always do.
                far = abs(offs.tried[s]) * offs.wide[s] + (FAR if (on if second else 1.0 - on) < HARDLY else 0.0)
                mine = which == 0 or far < offs.far[s]
                if mine:
                    offs.far[s], offs.which[s], offs.spread[s] = far, which, offs.wide[s]
            if mine:
                out[s] = offs.tried[s]


@inlined
def _compare(job: object, typed: Items, row: object, asked: np.ndarray, w: np.ndarray, first: bool, spread: np.ndarray, out: np.ndarray,
             n: int) -> None:
    for k in range(typed.numbers):
        item, here = typed.items[k], k * B
        if item.place >= 0 and not asked[item.place]:
            continue
        if item.kind == SHOWS:
            _compare_shown(job, typed, k, row, w, first, spread, out, n)
        elif item.kind == THERMOMETER:
            number = item.typed[0]
            o = out[here:here + B]
            for s in range(n):
                o[s] = (w[SEEN + TRUE * B + s] - number) / AT_SD
        else:
            put_number(item, w, ROOM.one, n)
            kilohm, number, kilo, sd, floats = (row.kilohm_mistaken and item.law == LN_OHM, item.typed[0], item.kilo[0], item.spread[0],
                                                item.floats)
            o, wide = out[here:here + B], spread[here:here + B]
            if first:
                for s in range(n):
                    wide[s] = spread_at(floats, sd, w[SEEN + RETURN_OHM * B + s])
            for s in range(n):
                o[s] = (w[ROOM.one + s] - typed_as(kilohm, number, kilo, w[ROOM.one + s])) / wide[s]


@inlined
def _compare_shown(job: object, typed: Items, k: int, row: object, w: np.ndarray, first: bool, spread: np.ndarray, out: np.ndarray,
                   n: int) -> None:
    item, number, seen, here = typed.items[k], typed.shown[k, 1 if row.unit_mistaken else 0], SEEN + typed.items[k].place * HOOK, k * B
    v, o, wide = w[seen:seen + HOOK], out[here:here + B], spread[here:here + B]
    if first:
        step, dialled, coldest, hottest = job.step, set_apart(job, row, item.dialled), row.coldest, row.hottest
        apart = variance_apart(job) + item.width * item.width + number.breadth * number.breadth
        for s in range(n):
            wide[s] = np.sqrt(variance_of(step, apart, dialled, coldest, hottest, v[VALUE * B + s], v[SLOPE * B + s], v[SHARE * B + s]))
    lowest, highest, middle = job.lowest, job.highest, number.shows + number.middle
    # A stuck number says nothing about the circuit behind it.
    counts = 0.0 if row.frozen or row.key_off else 1.0
    for s in range(n):
        o[s] = counts * (held_at(v[VALUE * B + s], lowest, highest) - middle) / wide[s]
    side, flat = typed.shown[k, 0].side, typed.shown[k, 0].flat
    if side != 0.0 and counts != 0.0:
        for s in range(n):
            o[s] = end_residual(side, flat, o[s], wide[s])


@inlined
def _moves(job: object, row: object, unknown: int) -> int:
    """What `unknown` (an index of Z) moves under `row`: nothing, what is measured with the sensor on, or everything."""
    if unknown == Z.second:
        return EVERYTHING if row.beta != NOWHERE or row.also != NOWHERE else NOTHING
    if unknown == Z.family_ohm or unknown == Z.family_beta:
        return EVERYTHING if row.unlisted or row.loose else NOTHING
    sensors = (unknown == Z.sensor or unknown == Z.sensor_beta or unknown == Z.true or unknown == Z.thermometer
               or (unknown == Z.part and not job.two_wires))
    return WITH_SENSOR if sensors and not row.beside and not row.too_soon else EVERYTHING


@inlined
def _start(numbers: Numbers, a: int) -> int:
    """Where in a block unknown number `a` of those free to move starts; the severity share comes after them."""
    return POINT.share if a == len(numbers.dims) else Z_AT[0] + numbers.dims[a] * B


@laid_in
def put_linear(numbers: Numbers, at: int, offs: Offs, every: int, n: int) -> None:
    """Puts how far each number is off into `offs.off` and its slopes into `offs.slope`, at the block's first `n` samples of the
    model's row `at`, by forward differences at `every` first or second of them, straight between these; the block's samples are as before
    afterwards.

    As many moved copies of the samples as there is room for are looked at together.
    """
    job, row, w, size = numbers.circuit.job[0], numbers.circuit.rows[at], offs.room.block, len(numbers.dims)
    count, whole = numbers.typed.numbers * B, lanes(n)
    m = whole // every
    copies = B // m
    # Asked as a question: a plain "yes" would be compiled once more by itself.
    put_off(numbers, at, numbers.hooks.all, n > 0, offs, offs.off, whole)
    for a in range(size + 1):
        for s in range(0, whole, MANY):
            put_many(offs.base, a * B + s, many_at(w, _start(numbers, a) + s))
        for s in range(0, m, MANY):
            put_many(offs.thin, a * B + s, _thinned(offs.base, a * B, s, every))
        offs.moves[a] = (_moves(job, row, numbers.dims[a]) if a < size
                         else EVERYTHING if row.quantity != NOWHERE or row.also != NOWHERE else NOTHING)
        if offs.moves[a] == NOTHING:
            for s in range(count):
                offs.slope[a * count + s] = 0.0
    for s in range(m):
        offs.step[B + s] = SHARE_STEP if offs.thin[size * B + s] < 0.5 else -SHARE_STEP
    for k in range(0, count, B):
        for s in range(0, m, MANY):
            put_many(offs.near, k + s, _thinned(offs.off, k, s, every))
            spread, which = _thinned(offs.spread, k, s, every), _thinned(offs.which, k, s, every)
            put_many(offs.spread, k + s, spread)
            put_many(offs.which, k + s, which)
        for s in range(m, copies * m, MANY):
            put_many(offs.spread, k + s, many_at(offs.spread, k + s - m))
            put_many(offs.which, k + s, many_at(offs.which, k + s - m))
    for moves in (WITH_SENSOR, EVERYTHING):
        asked, first, taken = numbers.hooks.all if moves == EVERYTHING else numbers.hooks.with_sensor, 0, 0
        for a in range(size + 1):
            if offs.moves[a] == moves:
                for b in range(size + 1):
                    for s in range(0, m, MANY):
                        here = many_at(offs.thin, b * B + s)
                        put_many(w, _start(numbers, b) + taken * m + s, plus(here, many_at(offs.step, _step(a, size) + s)) if a == b else here)
                taken += 1
            if taken == copies or (a == size and taken > 0):
                _put_moved(numbers, at, asked, offs, m, taken)
                taken = 0
                for b in range(first, a + 1):
                    if offs.moves[b] == moves:
                        _put_slope(numbers, offs, b, every, m, taken)
                        taken += 1
                first, taken = a + 1, 0
    for a in range(size + 1):
        for s in range(0, whole, MANY):
            put_many(w, _start(numbers, a) + s, many_at(offs.base, a * B + s))


@inlined
def _step(a: int, size: int) -> int:
    """Where in `offs.step` it stands how far unknown number `a` of so many is moved, or the severity share after them."""
    return B if a == size else 0


@inlined
def _thinned(array: np.ndarray, start: int, s: int, every: int) -> object:
    """Many numbers of `array`, `every` first or second from `start` on, those from number `s` on."""
    if every == 1:
        return many_at(array, start + s)
    return evens(many_at(array, start + 2 * s), many_at(array, start + 2 * s + MANY))


@laid_in
def _put_moved(numbers: Numbers, at: int, asked: np.ndarray, offs: Offs, m: int, copies: int) -> None:
    """Puts how far each number on hook-ups `asked` for is off at so many moved `copies` of `m` samples into `offs.moved`."""
    for k in range(0, numbers.typed.numbers * B, B):
        for copy in range(copies):
            for s in range(0, m, MANY):
                put_many(offs.moved, k + copy * m + s, many_at(offs.near, k + s))
    put_off(numbers, at, asked, m < 0, offs, offs.moved, lanes(copies * m))


@inlined
def _put_slope(numbers: Numbers, offs: Offs, a: int, every: int, m: int, copy: int) -> None:
    """Puts slopes against unknown number `a`, moved in this `copy` of `m` samples, `every` first or second of all, into `offs.slope`:
    straight between, the last as the one before."""
    count, size = numbers.typed.numbers * B, len(numbers.dims)
    for k in range(0, count, B):
        moved, slope = k + copy * m, a * count + k
        for s in range(0, m, MANY):
            put_many(offs.moved, moved + s, over(minus(many_at(offs.moved, moved + s), many_at(offs.near, k + s)),
                                                 many_at(offs.step, _step(a, size) + s)))
        if every == 1:
            for s in range(0, m, MANY):
                put_many(offs.slope, slope + s, many_at(offs.moved, moved + s))
            continue
        for s in range(0, m, MANY):
            here = many_at(offs.moved, moved + s)
            after = following(here, many_at(offs.moved, moved + s + MANY)) if s + MANY < m else last_kept(here, here)
            between = times(plus(here, after), all_of(0.5))
            put_many(offs.slope, slope + 2 * s, first_in_turn(here, between))
            put_many(offs.slope, slope + 2 * s + MANY, last_in_turn(here, between))


def full(dims: np.ndarray, values: np.ndarray) -> np.ndarray:
    """Unknowns `dims` at `values` (..., a) as the full vector (..., z), the others at their mean."""
    z = np.zeros((*values.shape[:-1], len(Z_NAMES)))
    z[..., dims] = values
    return z
