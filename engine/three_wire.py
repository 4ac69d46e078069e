"""Owns what one three-wire circuit shows on each hook-up: volts at the plug, the converter's share, the number."""

import math
from collections import namedtuple

import numpy as np

from engine.circuit import CHASSIS_OHM, METER_OHM, Feed, feed, pin_volts
from engine.circuit_state import AT
from engine.compiled import called, held_at, inlined
from engine.divider import (
    FEED_THROUGH_OHM, OUTPUT_OHM, WIPER_OHM, PinVolts, PlugVolts, Rail, across_open, divided, loaded, open_plug, put_out)
from engine.packed import ELEMENT
from engine.seen import (
    RETURN_TO_BATTERY, SHARE, SHARE_ENDS, SLOPE, SUPPLY_TO_BATTERY, SUPPLY_TO_RETURN, TO_BATTERY, TO_RETURN, VALUE)

# Unknowns: the input's load to ground or to its supply; the track; the module's own supply over its nominal volts; the error of
# the sensor's ratio and of its span; where the quantity as found lies in its spread, and the error of a value typed beside a
# reading; battery negative, and chassis, against module ground; offset and slope of an unlisted line.
OF3 = namedtuple("OF3", ("down_ohm", "up_ohm", "track_ohm", "supply_factor", "ratio_offset", "ratio_span", "true_z", "at_z", "ground_v",
                         "line_offset", "line_slope"))(*range(11))
# A sweep's ends: short of the rail, as a hand stops (common practice, no source).
SWEEP_RATIOS = (0.03, 0.97)
ACTIVE_ENDS = (0.005, 0.995)
TRACK_CONTACT_OHM = 50.0
DIVIDER, FEED_THROUGH = ELEMENT["divider"], ELEMENT["feed-through"]
LIFTED_OHM = 1e12


@called
def predict_three_wire(job: object, row: object, hooks: np.ndarray, asked: np.ndarray, state: np.ndarray, of: np.ndarray,
                       seen: np.ndarray) -> None:
    """Puts into `seen` (r, .) what each of `hooks` (r,) that is `asked` for shows of a circuit in `state` with unknowns `of`; the module's number
    is a line of signal over the module's own supply."""
    own_v = job.open_v * of[OF3.supply_factor]
    offset, slope = (of[OF3.line_offset], of[OF3.line_slope]) if row.unlisted else (row.offset, row.slope)
    battery_v = of[OF3.ground_v] - state[AT.module_ground_v]
    for r in range(len(hooks)):
        if not asked[r]:
            continue
        hook = hooks[r]
        at = true_value3(row, state, of) if math.isnan(hook.at_c) else _beside(job, row, hook.at_c, of)
        rail = _rail(hook, state, own_v, battery_v)
        fed = _input(job, row, hook, state, of, own_v, hook.meter)
        plug = _plug(job, row, hook, state, of, rail, fed, (at - offset) / slope, slope)
        pin_v = plug.signal_v if hook.module else pin_volts(fed, plug.signal_v)
        share = (pin_v + state[AT.offset_v]) / own_v
        if not math.isnan(state[AT.dead_share]):
            share = state[AT.dead_share]
        share = held_at(share, SHARE_ENDS[0], SHARE_ENDS[1])
        seen[r, SHARE] = share
        seen[r, VALUE] = (offset + slope * held_at(share, row.clamp_low, row.clamp_high)) * state[AT.scale_factor] + state[AT.shown_offset]
        seen[r, SLOPE] = slope * state[AT.scale_factor] * share * (1.0 - share)
        if hook.meter:
            volts = _metered(job, row, hook, state, of, own_v, plug, rail, battery_v)
            seen[r, TO_RETURN], seen[r, TO_BATTERY] = volts.to_return, volts.to_battery
            seen[r, SUPPLY_TO_RETURN], seen[r, SUPPLY_TO_BATTERY] = volts.supply_to_return, volts.supply_to_battery
            seen[r, RETURN_TO_BATTERY] = volts.return_to_battery


@inlined
def true_value3(row: object, state: np.ndarray, of: np.ndarray) -> float:
    """The quantity as found."""
    return row.rest + row.rest_sd * of[OF3.true_z] + state[AT.true_offset]


@inlined
def _beside(job: object, row: object, typed: float, of: np.ndarray) -> float:
    """The value the part really has where `typed` is given beside the reading; 100 % of travel is the far stop."""
    if job.percent and typed >= job.high_ends_from:
        return row.stop + row.stop_sd * of[OF3.at_z]
    return typed + job.thermometer_sd * of[OF3.at_z]


@inlined
def _plug(job: object, row: object, hook: object, state: np.ndarray, of: np.ndarray, rail: Rail, fed: Feed, sensor_ratio: float,
          slope: float) -> PlugVolts:
    """Volts at the plug, or at the module's own pins."""
    if hook.sensor:
        return _sensor(job, state, of, rail, fed, sensor_ratio)
    if hook.element == DIVIDER:
        return _stand_in(job, row, hook, rail, fed, slope)
    return open_plug(rail, fed, FEED_THROUGH_OHM if hook.element == FEED_THROUGH else 0.0)


@inlined
def _rail(hook: object, state: np.ndarray, own_v: float, chassis_v: float) -> Rail:
    """The supply and return that the plug, or the module's own pins, have."""
    rail_v = own_v * state[AT.supply_factor] * (state[AT.plugged_supply_factor] if hook.sensor else 1.0)
    if hook.module:
        return Rail(rail_v, 0.5, 0.0, state[AT.module_return_ohm] + 0.1)
    rail = loaded(Rail(rail_v, state[AT.supply_ohm], state[AT.return_v], state[AT.return_ohm] + state[AT.module_return_ohm]),
                  state[AT.rail_load_ohm])
    return Rail(rail.supply_v, rail.supply_ohm, chassis_v, CHASSIS_OHM) if hook.chassis else rail


@inlined
def _metered(job: object, row: object, hook: object, state: np.ndarray, of: np.ndarray, own_v: float, plug: PlugVolts, rail: Rail,
             battery_v: float) -> PinVolts:
    """Volts a meter shows between the pins; on an open plug its own ohms are all that draws from the rails."""
    if hook.sensor or hook.element == DIVIDER:
        return PinVolts(plug.signal_v - plug.return_v, plug.signal_v - battery_v, plug.supply_v - plug.return_v,
                        plug.supply_v - battery_v, plug.return_v - battery_v)
    fed = _input(job, row, hook, state, of, own_v, False)
    return across_open(rail, fed, battery_v, FEED_THROUGH_OHM if hook.element == FEED_THROUGH else 0.0)


@inlined
def _input(job: object, row: object, hook: object, state: np.ndarray, of: np.ndarray, own_v: float, metered: bool) -> Feed:
    """The input with its wire and leaks, seen from the plug."""
    load_ohm = (of[OF3.up_ohm] if row.up else of[OF3.down_ohm]) * state[AT.input_factor]
    open_v = own_v if row.up else 0.0
    if hook.module:
        return feed(open_v, load_ohm, 0.0, 0.0, 0.0)
    siemens = (1.0 / state[AT.leak_ground_ohm] + 1.0 / state[AT.leak_battery_ohm] + 1.0 / state[AT.leak_supply_ohm]
               + (1.0 / METER_OHM if metered else 0.0))
    amps = ((job.battery_v - state[AT.module_ground_v]) / state[AT.leak_battery_ohm]
            + state[AT.other_supply_v] / state[AT.leak_supply_ohm])
    return feed(open_v, load_ohm, state[AT.signal_ohm], siemens, amps)


@inlined
def _sensor(job: object, state: np.ndarray, of: np.ndarray, rail: Rail, fed: Feed, ratio: float) -> PlugVolts:
    """The sensor on its plug; its contacts are part of it."""
    ratio = ratio * state[AT.ratio_factor] * (1.0 + of[OF3.ratio_span]) + of[OF3.ratio_offset] + state[AT.ratio_offset]
    ratio = held_at(ratio, ACTIVE_ENDS[0], ACTIVE_ENDS[1]) if job.active else held_at(ratio, 0.0, 1.0)
    if not math.isnan(state[AT.stuck_ratio]):
        ratio = held_at(state[AT.stuck_ratio], 0.0, 1.0)
    if not job.active:
        return divided(rail, fed, ratio, of[OF3.track_ohm], TRACK_CONTACT_OHM + state[AT.plug_ohm] + state[AT.wiper_ohm],
                       state[AT.top_ohm] + state[AT.plug_supply_ohm], state[AT.bottom_ohm] + state[AT.plug_return_ohm])
    # Contacts in its feed drop its own current; they sit outside the pins a meter can reach.
    inner = Rail(rail.supply_v, rail.supply_ohm + state[AT.plug_supply_ohm] + state[AT.top_ohm],
                 rail.return_v, rail.return_ohm + state[AT.plug_return_ohm] + state[AT.bottom_ohm])
    seen = put_out(inner, fed, ratio, of[OF3.track_ohm], OUTPUT_OHM + state[AT.plug_ohm] + state[AT.wiper_ohm])
    part = (rail.supply_v - rail.return_v) / (inner.supply_ohm + of[OF3.track_ohm] + inner.return_ohm)
    return PlugVolts(rail.supply_v - part * rail.supply_ohm, rail.return_v + part * rail.return_ohm, seen.signal_v)


@inlined
def _stand_in(job: object, row: object, hook: object, rail: Rail, fed: Feed, slope: float) -> PlugVolts:
    """A potentiometer as a divider on the plug, its wiper behind a resistor; set-up mistakes included."""
    ratio = hook.ratio
    if math.isnan(ratio):
        # The end of a sweep that gives the lowest number.
        ratio = SWEEP_RATIOS[1] if slope < 0.0 else SWEEP_RATIOS[0]
    if row.wrong_legs:
        ratio = 1.0 - ratio
    return divided(rail, fed, ratio, job.end_to_end_ohm, LIFTED_OHM if row.lead_off else WIPER_OHM, 0.0, 0.0)
