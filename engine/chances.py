"""Owns how likely what was typed is for one sample: the density of each number and word, robust against a slip of the pen."""

import math

import numpy as np

from engine.block import B, HOOK, POINT, ROOM, SEEN
from engine.compiled import bell, bell_per, below_normal, called, held_at, inlined, log_of
from engine.grades import stuck_at
from engine.items import BY_ROW, LN_ADDED_OHM, LN_OHM, MEASURED, MILLIAMPS, MOVED, OHM_FLOOR, OPEN, SHOWS, SLIP, THERMOMETER, UNIT_SLIP, WORD, Items
from engine.module import Typed, converter_step, outside_limits, shown_density
from engine.procedures import MA_FLOOR
from engine.seen import BRANCH, OTHER, RETURN_OHM, SHARE, SLOPE, TRUE, VALUE

AT_SD = 1.0
SHORT_OF_END, STOPS_WITHIN = 0.15, 50.0
TABLE_SD_PER_K = 0.05
OPEN_FROM_OHM = 1.5e6
# A sensor with an output stage floats on an open return: what its signal still draws leaves some hundredths of a volt across it.
FLOATING_SD, FLOATS_FROM_OHM = 0.05, 1e5
STUCK_SD = 0.8
PEGGED_WITHIN = 6.0
# A stand-in that moved after it was set is off by about this much (standard deviation of ln ohm); what shows with the
# key off is nothing, and only by mistake a number.
MOVED_LN_SD = 0.4
KEY_OFF_NUMBER = 0.05


@called
def reading_chances(job: object, typed: Items, row: object, at: int, w: np.ndarray, each: np.ndarray, slip: np.ndarray, slips: bool, n: int) -> None:
    """Puts the chance of each reading into `each` (i B,) and, where `slips` are asked for, of its being one into `slip` (i B,), for `row`,
    the model's row number `at`, of the first `n` samples of block `w`."""
    for i in range(typed.readings * B):
        each[i] = 1.0
        if slips:
            slip[i] = 0.0
    for k in range(len(typed.items)):
        item = typed.items[k]
        here = item.reading * B
        if item.kind == SHOWS:
            _shown_fit(job, typed, k, row, w, n)
            _multiply(w, each, slip, slips, here, 1.0 - SLIP - UNIT_SLIP, SLIP / item.span, UNIT_SLIP, n)
        elif item.kind == MEASURED:
            _measured_fit(job, item, row, w, n)
            _multiply(w, each, slip, slips, here, 1.0 - SLIP - UNIT_SLIP, SLIP / item.span, UNIT_SLIP, n)
        elif item.kind == THERMOMETER:
            number, flat = item.typed[0], 0.5 / item.span
            e = each[here:here + B]
            for s in range(n):
                # A thermometer at the part tells its temperature in the vehicle too, unless it was heated on the bench.
                e[s] *= 0.5 * bell(number - w[SEEN + TRUE * B + s], AT_SD) + flat
        elif item.kind == WORD:
            _word(job, item.high, row, w, SEEN + item.place * HOOK + VALUE * B, n)
            _multiply(w, each, slip, slips, here, 1.0, SLIP, 0.0, n)
        elif item.kind == MOVED:
            _moved(job, item, row, w, n)
            _multiply(w, each, slip, slips, here, 1.0, SLIP, 0.0, n)
        elif item.kind == OPEN:
            put_compared(item, w, _column(item), ROOM.one, n)
            for s in range(n):
                w[ROOM.one + s] = 0.99 * below_normal(log_of(w[ROOM.one + s] / OPEN_FROM_OHM) / 0.4)
            _multiply(w, each, slip, slips, here, 1.0, 0.002, 0.0, n)
        elif item.kind == BY_ROW:
            chance = typed.by_row[item.table, at]
            for s in range(n):
                each[here + s] *= chance


@inlined
def _multiply(w: np.ndarray, each: np.ndarray, slip: np.ndarray, slips: bool, here: int, part: float, slipped: float, other: float,
              n: int) -> None:
    """Multiplies into `each` from `here` on the chances in ROOM.one, of this `part`, with those `slipped`, and in the `other` unit
    as in ROOM.two."""
    e, p = each[here:here + B], slip[here:here + B]
    for s in range(n):
        w[ROOM.position + s] = slipped + (other * w[ROOM.two + s] if other != 0.0 else 0.0)
        w[ROOM.at + s] = part * w[ROOM.one + s] + w[ROOM.position + s]
    for s in range(n):
        e[s] *= w[ROOM.at + s]
    if slips:
        for s in range(n):
            p[s] = max(p[s], w[ROOM.position + s] / w[ROOM.at + s])


@inlined
def spread_of(job: object, row: object, dialled: bool, value: float, slope: float, share: float) -> float:
    """Standard deviation of live data about `value`: converter, table, setting, rest."""
    return math.sqrt(variance_of(job.step, variance_apart(job), set_apart(job, row, dialled), row.coldest, row.hottest, value, slope, share))


@inlined
def variance_apart(job: object) -> float:
    """What live data varies by whatever they show."""
    return job.reading_sd * job.reading_sd


@inlined
def set_apart(job: object, row: object, dialled: bool) -> float:
    """How far ohms that were set vary, as a variance of their log: as well as a hand and a meter bring them there."""
    if not dialled:
        return 0.0
    return job.dial_share * job.dial_share + (MOVED_LN_SD * MOVED_LN_SD if row.moved else 0.0)


@inlined
def variance_of(step: float, apart: float, dialled: float, coldest: float, hottest: float, value: float, slope: float, share: float) -> float:
    """Variance of live data about `value`: converter, table, setting, rest."""
    size, beyond = converter_step(share, slope, step), TABLE_SD_PER_K * max(max(coldest - value, value - hottest), 0.0)
    return size * size / 12.0 + apart + beyond * beyond + dialled * slope * slope


@inlined
def outside_of(job: object, share: float) -> float:
    """Chance that the pin's `share` of open is out of limits."""
    return outside_limits(share, job.low_share, job.low_steep, job.high_share, job.high_steep)


@inlined
def _shown_fit(job: object, typed: Items, k: int, row: object, w: np.ndarray, n: int) -> None:
    """Puts densities of shown number `k` as typed into ROOM.one, in the other unit into ROOM.two, on both pull-ups of a module that
    switches."""
    item = typed.items[k]
    seen, both = SEEN + item.place * HOOK, item.others or row.unit_mistaken
    if row.frozen:
        # A needle is read no better where it is stuck.
        pointer = job.pointer
        sd = math.hypot(0.5 * job.reading_sd, item.width) if pointer else STUCK_SD
        shows, other = typed.shown[k, 0].shows, typed.shown[k, 1].shows
        lowest, highest = job.low_end - 0.5 * job.whole, job.high_end + 0.5 * job.whole
        for s in range(n):
            at = stuck_at(row, w[POINT.share + s])
            # What a module shows never leaves its scale: at an end that takes a part of the bell away, never more than half where the
            # stuck number is on the scale itself. A needle may leave it.
            held = 1.0 if pointer else max(below_normal((highest - at) / sd) - below_normal((lowest - at) / sd), 0.5)
            w[ROOM.one + s], w[ROOM.two + s] = bell(shows - at, sd) / held, item.runs * bell(other - at, sd) / held if item.others else 0.0
        return
    _put_spread(job, item, row, w, seen, n)
    _put_density(job, typed, k, 0, w, seen, ROOM.one, n)
    if both:
        _put_density(job, typed, k, 1, w, seen, ROOM.two, n)
    if job.switches:
        v = w[seen:seen + HOOK]
        _put_spread(job, item, row, w, seen + OTHER * B, n)
        _put_density(job, typed, k, 0, w, seen + OTHER * B, ROOM.position, n)
        _put_density(job, typed, k, 1, w, seen + OTHER * B, ROOM.at, n)
        for s in range(n):
            part = v[BRANCH * B + s]
            w[ROOM.one + s] = (1.0 - part) * w[ROOM.one + s] + part * w[ROOM.position + s]
            w[ROOM.two + s] = (1.0 - part) * w[ROOM.two + s] + part * w[ROOM.at + s]
    # The chance is that of typing just this number: in the finer unit there are more of them to a degree.
    for s in range(n):
        w[ROOM.two + s] *= item.runs
    if row.unit_mistaken:
        for s in range(n):
            w[ROOM.one + s], w[ROOM.two + s] = w[ROOM.two + s], w[ROOM.one + s]
    if row.key_off:
        for s in range(n):
            w[ROOM.one + s] = KEY_OFF_NUMBER / job.span
    if not item.others:
        for s in range(n):
            w[ROOM.two + s] = 0.0


@inlined
def _put_spread(job: object, item: object, row: object, w: np.ndarray, seen: int, n: int) -> None:
    """Puts the standard deviation of a number shown, of what is `seen`, into ROOM.plug_v."""
    v = w[seen:seen + HOOK]
    step, apart, dialled, coldest, hottest = job.step, variance_apart(job), set_apart(job, row, item.dialled), row.coldest, row.hottest
    apart += item.width * item.width
    for s in range(n):
        w[ROOM.plug_v + s] = math.sqrt(variance_of(step, apart, dialled, coldest, hottest, v[VALUE * B + s],
                                                   v[SLOPE * B + s], v[SHARE * B + s]))


@inlined
def _put_density(job: object, typed: Items, k: int, unit: int, w: np.ndarray, seen: int, out: int, n: int) -> None:
    """Puts the density of shown number `k`, as typed or in the other `unit`, of what is `seen` into column `out`; ROOM.plug_v holds how
    far it varies."""
    item, number, v = typed.items[k], typed.shown[k, unit], w[seen:seen + HOOK]
    o = w[out:out + B]
    low, low_steep, high, high_steep = job.low_share, job.low_steep, job.high_share, job.high_steep
    # Numbers of their own, lest each sample look them up again.
    shown = Typed(number.held, number.shows, number.middle, number.breadth, number.side, number.near, number.beyond, number.flat,
                   number.own_share, number.own, number.still)
    for s in range(n):
        outside = outside_limits(v[SHARE * B + s], low, low_steep, high, high_steep)
        o[s] = shown_density(shown, v[VALUE * B + s], w[ROOM.plug_v + s], outside)
    if item.sweep:
        shows = number.shows
        for s in range(n):
            # A hand may stop short of the end of the track.
            past, sd = shows - v[VALUE * B + s], w[ROOM.plug_v + s]
            within = below_normal(past / sd) - below_normal((past - STOPS_WITHIN) / sd)
            o[s] = (1.0 - SHORT_OF_END) * o[s] + SHORT_OF_END * within / STOPS_WITHIN


@inlined
def _column(item: object) -> int:
    """Where what `item` measures is seen."""
    return SEEN + (0 if item.what == RETURN_OHM else item.place * HOOK) + item.what * B


@inlined
def put_compared(item: object, w: np.ndarray, column: int, out: int, n: int) -> None:
    """Puts what was measured in `column` into column `out` as `item` is compared: in volts, ln ohm, or currents by ratio."""
    v, o = w[column:column + B], w[out:out + B]
    for s in range(n):
        o[s] = v[s]
    if item.law == LN_OHM:
        for s in range(n):
            o[s] = log_of(o[s] + OHM_FLOOR)
    elif item.law == LN_ADDED_OHM:
        for s in range(n):
            o[s] = log_of(1.0 + o[s])
    elif item.law == MILLIAMPS:
        scale = 1e3 / MA_FLOOR / item.element_ohm
        for s in range(n):
            ratio = abs(o[s] * scale)
            o[s] = math.copysign(log_of(ratio + math.sqrt(ratio * ratio + 1.0)), o[s])


@inlined
def put_number(item: object, w: np.ndarray, out: int, n: int) -> None:
    """Puts what `item` measures into column `out`, as it is compared."""
    put_compared(item, w, _column(item), out, n)


@inlined
def typed_as(kilohm: bool, typed: float, kilo: float, number: float) -> float:
    """What was typed, as it is compared: one who types ohm for `kilohm` on the stand-in may do so here too, or not."""
    return kilo if kilohm and number > (typed + kilo) / 2 else typed


@inlined
def spread_at(floats: bool, spread: float, return_ohm: float) -> float:
    """Standard deviation of what was measured."""
    extra = FLOATING_SD * return_ohm / (return_ohm + FLOATS_FROM_OHM) if floats else 0.0
    return math.sqrt(spread * spread + extra * extra)


@inlined
def _measured_fit(job: object, item: object, row: object, w: np.ndarray, n: int) -> None:
    """Puts densities of a measured value as typed into ROOM.one and, for ohms, a thousand times off into ROOM.two, on both pull-ups
    of a module that switches."""
    put_number(item, w, ROOM.position, n)
    _put_bell(item, row, 0, w, ROOM.position, ROOM.one, n)
    for s in range(n):
        w[ROOM.two + s] = 0.0
    if item.metered and job.switches:
        put_compared(item, w, _column(item) + OTHER * B, ROOM.at, n)
        _put_bell(item, row, 0, w, ROOM.at, ROOM.plug_v, n)
        branch = SEEN + item.place * HOOK + BRANCH * B
        v = w[branch:branch + B]
        for s in range(n):
            part = v[s]
            w[ROOM.one + s] = (1.0 - part) * w[ROOM.one + s] + part * w[ROOM.plug_v + s]
    if item.others:
        for unit in range(1, 3):
            _put_bell(item, row, unit, w, ROOM.position, ROOM.plug_v, n)
            for s in range(n):
                w[ROOM.two + s] += w[ROOM.plug_v + s] / 2.0
    if item.law == LN_OHM or item.law == LN_ADDED_OHM:
        _put_no_less_than_nothing(item, w, n)


@inlined
def _put_no_less_than_nothing(item: object, w: np.ndarray, n: int) -> None:
    """Divides densities of ohms in ROOM.one and ROOM.two by the part of them above no ohms at all: a meter shows nothing less."""
    nothing, spread = log_of(OHM_FLOOR) if item.law == LN_OHM else 0.0, item.spread[0]
    for s in range(n):
        above = below_normal((w[ROOM.position + s] - nothing) / spread)
        w[ROOM.one + s] /= above
        w[ROOM.two + s] /= above


@inlined
def _put_bell(item: object, row: object, unit: int, w: np.ndarray, number: int, out: int, n: int) -> None:
    """Puts the density of `item` typed in this `unit` into column `out`, where its own number is in column `number`."""
    typed, kilo, spread, floats = item.typed[unit], item.kilo[unit], item.spread[unit], item.floats
    kilohm = row.kilohm_mistaken and item.law == LN_OHM
    v, o, as_often, per = w[number:number + B], w[out:out + B], 0.5 if kilohm else 1.0, 1.0 / spread
    if floats:
        for s in range(n):
            off = typed_as(kilohm, typed, kilo, v[s]) - v[s]
            o[s] = as_often * bell(off, spread_at(floats, spread, w[SEEN + RETURN_OHM * B + s]))
    else:
        for s in range(n):
            o[s] = as_often * bell_per(typed_as(kilohm, typed, kilo, v[s]) - v[s], per)


@inlined
def _word(job: object, high: bool, row: object, w: np.ndarray, value: int, n: int) -> None:
    """Puts the chance of "maximum" where it is `high`, else of "minimum", but for a slip, into ROOM.one."""
    high_end, low_end, high_from, low_from, pointer = job.high_end, job.low_end, job.high_ends_from, job.low_ends_from, job.pointer
    if row.frozen or row.key_off:
        for s in range(n):
            w[ROOM.one + s] = 0.02 - SLIP
            if row.frozen and pointer:
                # A dead needle may well lie at or beyond one of its ends.
                at = stuck_at(row, w[POINT.share + s])
                w[ROOM.one + s] += 0.9 if (at - high_end if high else low_end - at) > -PEGGED_WITHIN else 0.0
        return
    v = w[value:value + B]
    for s in range(n):
        w[ROOM.one + s] = 0.95 * below_normal((v[s] - high_from if high else low_from - v[s]) / 2.0)


@inlined
def _moved(job: object, item: object, row: object, w: np.ndarray, n: int) -> None:
    """Puts the chance that the number moved between what was there before and what is there now, or that it did not, but for a
    slip, into ROOM.one."""
    low, high, moves_from = job.low_end, min(job.high_end, job.high_ends_from + 33.0), job.moves_from
    here, before, moves = SEEN + item.place * HOOK + VALUE * B, SEEN + max(item.before, 0) * HOOK + VALUE * B, item.moves
    now, then = w[here:here + B], w[before:before + B]
    for s in range(n):
        change = abs(held_at(now[s], low, high) - held_at(then[s], low, high))
        chance = 0.5 if item.before < 0 else below_normal((change - moves_from) / (0.6 * moves_from))
        chance = 0.01 if row.frozen or row.key_off else 0.02 + 0.96 * chance
        w[ROOM.one + s] = (chance if moves else 1.0 - chance) - SLIP
