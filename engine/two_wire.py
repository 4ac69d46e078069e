"""Owns what a block of samples of one two-wire row shows on each hook-up: node volts, the ohms its module takes it for, the number."""

import math

import numpy as np

from engine.block import B, FEED, HOOK, OF_AT, ROOM, SEEN, STATE
from engine.circuit import CHASSIS_OHM, METER_OHM, OPEN_OHM, feed, parallel
from engine.circuit_state import AT
from engine.compiled import exp_of, held_at, inlined, log_of
from engine.curve_table import GRID, Table, ln_ohm_of_family, place_of, put_ln_ohms, put_values, value_of_family
from engine.curves import KELVIN, T25_K
from engine.seen import BRANCH, OTHER, OWN, SHARE, SHARE_ENDS, SLOPE, TO_BATTERY, TO_RETURN, VALUE

# A silicon PTC gains about 0.78 % of its 25 degC value per kelvin (published pair: 1.01 kohm at 25 degC, from memory).
RISING_PER_K = 0.0078
TYPICAL_BETA_K, TYPICAL_LN_OHM_25 = 3700.0, 8.0
COLDEST_C, HOTTEST_C = -80.0, 1290.0
# A gauge that knows only its ends goes this far beyond them.
FLIPPED_LOW, FLIPPED_HIGH = -20.0, 120.0


@inlined
def predict_two_wire(job: object, table: Table, row: object, hooks: np.ndarray, asked: np.ndarray, w: np.ndarray, n: int) -> None:
    """Puts into block `w` what each of `hooks` (r,) that is `asked` for shows of its first `n` circuits.

    Volts [V] are against module ground inside, against return and battery
    negative in the result.
    """
    _put_shared(job, w, n)
    _put_feed(w, n, 1.0, 1.0)
    for r in range(len(hooks)):
        if asked[r]:
            hook, seen = hooks[r], SEEN + r * HOOK
            _put_element(job, table, row, hook, w, seen, n)
            _put_below(job, hook, w, n)
            if job.switches:
                _put_feed(w, n, 1.0, 1.0)
            _through(job, table, row, hook, w, seen, n, 1.0)
            if job.switches:
                _put_feed(w, n, 1.0 if row.switching_dead else job.switch_ratio, job.switch_ratio)
                _through(job, table, row, hook, w, seen + OTHER * B, n, job.switch_ratio)
                switch_at, band = job.switch_at_c, job.switch_band_c
                v = w[seen:seen + HOOK]
                for s in range(n):
                    # Between its two switching points the module stays on whichever pull-up it last was.
                    v[BRANCH * B + s] = held_at((v[VALUE * B + s] - switch_at) / band + 0.5, 0.0, 1.0)


@inlined
def _put_shared(job: object, w: np.ndarray, n: int) -> None:
    """Puts what all hook-ups share: leaks, the module's open volts."""
    battery_v, nominal_v, siemens, amps = job.battery_v, job.open_v, job.other_siemens, job.other_amps
    for s in range(n):
        chassis_v = w[OF_AT.ground_v + s] - w[STATE.module_ground_v + s]
        to_ground, to_battery = 1.0 / w[STATE.leak_ground_ohm + s], 1.0 / w[STATE.leak_battery_ohm + s]
        to_supply = 1.0 / w[STATE.leak_supply_ohm + s]
        w[FEED.siemens + s] = to_ground + to_battery + to_supply + siemens
        w[FEED.amps + s] = ((battery_v - w[STATE.module_ground_v + s]) * to_battery + w[STATE.other_supply_v + s] * to_supply
                            + chassis_v * to_ground + amps)
        w[FEED.chassis_v + s] = chassis_v
        w[FEED.real_open_v + s] = nominal_v * w[OF_AT.open_factor + s]
        w[FEED.per_open + s] = 1.0 / w[FEED.real_open_v + s]
        w[FEED.open_v + s] = w[FEED.real_open_v + s] * w[STATE.supply_factor + s]


@inlined
def _put_feed(w: np.ndarray, n: int, real_ratio: float, ratio: float) -> None:
    """Puts what feeds the plug, and the module's own pins, through a pull-up of `real_ratio` times the first one, taken for
    `ratio` times it."""
    ln_ratio = math.log(ratio)
    for s in range(n):
        source = w[OF_AT.source_ohm + s] * w[OF_AT.part_factor + s] * w[STATE.input_factor + s] * real_ratio
        fed = feed(w[FEED.open_v + s], source, w[STATE.signal_ohm + s], w[FEED.siemens + s], w[FEED.amps + s])
        w[FEED.volts + s], w[FEED.ohm + s], w[FEED.wire_share + s] = fed.volts, fed.ohm, fed.wire_share
        w[FEED.source_ohm + s] = source
        w[FEED.ln_source + s] = log_of(w[OF_AT.source_ohm + s]) + ln_ratio


@inlined
def _through(job: object, table: Table, row: object, hook: object, w: np.ndarray, seen: int, n: int, ratio: float) -> None:
    """Puts what one hook-up shows through one pull-up, taken for `ratio` times the first one."""
    pointer, at_module = job.pointer, hook.module
    for s in range(n):
        ohm = w[FEED.source_ohm + s] if at_module else w[FEED.ohm + s]
        open_v = w[FEED.open_v + s]
        volts = open_v if at_module else w[FEED.volts + s]
        below = w[ROOM.below + s]
        plug_v = (volts * below + w[ROOM.ground_v + s] * ohm) / (ohm + below)
        pin_v = plug_v if at_module else plug_v + (open_v - plug_v) * w[FEED.wire_share + s]
        pin_v += w[STATE.offset_v + s]
        if pointer:
            # A pointer takes what its coil draws for what its scale was drawn with.
            pin_v = w[FEED.real_open_v + s] - (open_v - pin_v) * (w[OF_AT.source_ohm + s] * ratio / w[FEED.source_ohm + s])
        share = held_at(pin_v * w[FEED.per_open + s], SHARE_ENDS[0], SHARE_ENDS[1])
        w[ROOM.plug_v + s], w[ROOM.share + s] = plug_v, share
        w[ROOM.ln_ohm + s] = log_of(share / (1.0 - share)) + w[FEED.ln_source + s]
    if row.quantity == AT.module_ln_factor or row.also == AT.module_ln_factor:
        for s in range(n):
            # Another beta turns the curve about its 25 degC value, taken as a usual one here.
            turn = w[STATE.module_beta_k + s] / TYPICAL_BETA_K
            w[ROOM.ln_ohm + s] += w[STATE.module_ln_factor + s] + turn * (w[ROOM.ln_ohm + s] - TYPICAL_LN_OHM_25)
    _look_up_value(table, row, w, n)
    v = w[seen:seen + HOOK]
    for s in range(n):
        v[VALUE * B + s] = w[ROOM.one + s] + w[STATE.shown_offset + s]
    for s in range(n):
        v[SLOPE * B + s] = w[ROOM.two + s]
    for s in range(n):
        v[SHARE * B + s] = w[ROOM.share + s]
    if row.flips:
        for s in range(n):
            v[VALUE * B + s] = FLIPPED_HIGH if v[VALUE * B + s] > w[STATE.flips_at + s] else FLIPPED_LOW
    if hook.meter:
        for s in range(n):
            part = w[ROOM.element + s] / w[ROOM.below + s]
            v[TO_RETURN * B + s] = (w[ROOM.plug_v + s] - w[ROOM.ground_v + s]) * part
            v[TO_BATTERY * B + s] = w[ROOM.plug_v + s] + w[STATE.module_ground_v + s]


@inlined
def _look_up_value(table: Table, row: object, w: np.ndarray, n: int) -> None:
    """Puts the value at `ROOM.ln_ohm` into `ROOM.one`, its slope into `ROOM.two`."""
    lowest, highest = table.lowest, table.highest
    if row.curve < 0:
        for s in range(n):
            value, slope = value_of_family(lowest, highest, w[ROOM.ln_ohm + s] - w[OF_AT.family_ln_ohm + s], w[OF_AT.family_beta_k + s])
            w[ROOM.one + s], w[ROOM.two + s] = value, slope
        return
    # A loose curve is a shape alone: its ohms are as many times more as the family's ln ohm says.
    y0, per_step, loose, start = table.y0, 1.0 / table.dy, 1.0 if row.loose else 0.0, row.curve * GRID
    for s in range(n):
        w[ROOM.position + s] = place_of(w[ROOM.ln_ohm + s] - loose * w[OF_AT.family_ln_ohm + s], y0, per_step)
    put_values(table, start, w, ROOM.position, ROOM.one, ROOM.two, n)


@inlined
def _put_below(job: object, hook: object, w: np.ndarray, n: int) -> None:
    """Puts the ohms from the plug through its element to whatever that leads to, and the volts against module ground there."""
    to_return, to_chassis = not (hook.module or hook.chassis), hook.chassis or (job.case_grounded and not hook.module)
    for s in range(n):
        ohm, volts = CHASSIS_OHM, 0.0
        if to_return:
            ohm, volts = w[STATE.return_ohm + s] + w[STATE.module_return_ohm + s], w[STATE.return_v + s]
        if hook.module:
            ohm += w[STATE.module_return_ohm + s]
        if to_chassis:
            volts += w[FEED.chassis_v + s]
        w[ROOM.below + s], w[ROOM.ground_v + s] = w[ROOM.element + s] + ohm, volts


@inlined
def _put_element(job: object, table: Table, row: object, hook: object, w: np.ndarray, seen: int, n: int) -> None:
    """Puts the ohms between the plug's signal side and whatever the element leads to, meter included; the sensor's own go into
    what is seen."""
    beside = row.beside and hook.element_ohm < OPEN_OHM and not hook.chassis and not hook.module and not hook.sensor
    if hook.sensor or beside:
        _put_fitted(table, row, hook, w, seen, n)
    if not hook.sensor:
        ohm, leads = hook.element_ohm, hook.lead_ohm
        kilohm = hook.dialled and row.kilohm_mistaken
        if hook.stand_in and row.wrong_legs:
            ohm = job.end_to_end_ohm
        if hook.stand_in and row.lead_off:
            ohm = OPEN_OHM
        for s in range(n):
            on = (ohm - leads) * w[STATE.kilohm_factor + s] + leads if kilohm else ohm
            w[ROOM.element + s] = parallel(on, w[ROOM.element + s]) if beside else on
    if hook.meter:
        for s in range(n):
            w[ROOM.element + s] = parallel(w[ROOM.element + s], METER_OHM)


@inlined
def _put_fitted(table: Table, row: object, hook: object, w: np.ndarray, seen: int, n: int) -> None:
    """Puts the sensor's ohms while fed, plug included; its own, not fed, go into what is seen."""
    typed, as_found = hook.at_c, math.isnan(hook.at_c)
    for s in range(n):
        w[ROOM.at + s] = w[OF_AT.true_value + s] + w[STATE.true_offset + s] if as_found else typed + w[OF_AT.thermometer + s]
    _put_sensor_ohm(table, row, w, n)
    v = w[seen:seen + HOOK]
    for s in range(n):
        v[OWN * B + s] = w[ROOM.own + s]
    if row.quantity == AT.self_heating_c or row.also == AT.self_heating_c:
        for s in range(n):
            w[ROOM.at + s] += w[STATE.self_heating_c + s]
        _put_sensor_ohm(table, row, w, n)
    for s in range(n):
        w[ROOM.element + s] = parallel(w[ROOM.own + s] + w[STATE.plug_ohm + s], w[STATE.plug_leak_ohm + s])


@inlined
def _put_sensor_ohm(table: Table, row: object, w: np.ndarray, n: int) -> None:
    """Puts the sensor's own ohms at `ROOM.at` [degC or percent] into `ROOM.own`."""
    for s in range(n):
        w[ROOM.inverse + s] = 1.0 / (held_at(w[ROOM.at + s], COLDEST_C, HOTTEST_C) + KELVIN)
    if row.curve < 0:
        for s in range(n):
            w[ROOM.ln_ohm + s] = ln_ohm_of_family(w[ROOM.inverse + s], w[OF_AT.family_ln_ohm + s], w[OF_AT.family_beta_k + s])
    else:
        x0, per_step, loose, start = table.x0, 1.0 / table.dx, 1.0 if row.loose else 0.0, row.curve * GRID
        for s in range(n):
            w[ROOM.position + s] = place_of(w[ROOM.inverse + s], x0, per_step)
        put_ln_ohms(table.forward, start, w, ROOM.position, ROOM.ln_ohm, n)
        for s in range(n):
            w[ROOM.ln_ohm + s] += loose * w[OF_AT.family_ln_ohm + s]
    for s in range(n):
        ln_ohm = w[ROOM.ln_ohm + s] + w[OF_AT.sensor_ln + s] + w[STATE.sensor_ln_factor + s]
        ln_ohm += (w[OF_AT.sensor_beta_k + s] + w[STATE.sensor_beta_k + s]) * (w[ROOM.inverse + s] - 1.0 / T25_K)
        w[ROOM.own + s] = exp_of(ln_ohm)
    if row.quantity == AT.sensor_rising_ohm:
        for s in range(n):
            if not math.isnan(w[STATE.sensor_rising_ohm + s]):
                w[ROOM.own + s] = w[STATE.sensor_rising_ohm + s] * max(1.0 + RISING_PER_K * (w[ROOM.at + s] - 25.0), 0.3)
    for s in range(n):
        w[ROOM.own + s] = parallel(w[ROOM.own + s] + w[STATE.sensor_series_ohm + s], w[STATE.sensor_parallel_ohm + s])
