"""Owns what each test shows on a three-wire circuit: volts at the plug, the converter's share, the number."""

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from engine.circuit import METER_OHM, Feed, feed
from engine.divider import FEED_THROUGH_OHM, OUTPUT_OHM, WIPER_OHM, PlugVolts, Rail, across_open, divided, loaded, open_plug, put_out
from engine.faults import CircuitState
from engine.procedures import CHASSIS_OHM, LEAD_OHM, SHARE_ENDS, Circumstances, Hookup, Shown

if TYPE_CHECKING:
    from engine.three_wire_model import Lines

# A sweep's ends: short of the rail, as a hand stops (common practice, no source).
SWEEP_RATIOS = (0.03, 0.97)
ACTIVE_ENDS = (0.005, 0.995)
SUPPLY_V = 5.0
# Elements under which the sensor is on its plug.
PLUGGED = ("sensor", "none")


class Unknowns3(NamedTuple):
    """What is not exactly known of a three-wire circuit: arrays (f, s), or numbers where told."""

    down_ohm: np.ndarray       # the input's load to ground
    up_ohm: np.ndarray         # or to its supply
    track_ohm: np.ndarray
    supply_factor: np.ndarray  # the module's own supply over its nominal volts
    ratio_offset: np.ndarray   # error of the sensor's ratio
    ratio_span: np.ndarray     # and of its span
    true_z: np.ndarray         # where the quantity as found lies in its spread
    at_z: np.ndarray           # and the error of a value typed beside a reading
    at_sd: float
    ground_v: np.ndarray       # battery negative, and chassis, against module ground
    family: tuple[np.ndarray, np.ndarray]  # offset and slope of an unlisted line


def predict_three_wire(lines: "Lines", active: bool, hook: Hookup, around: Circumstances, state: CircuitState,
                       unknown: Unknowns3, shape: tuple[int, int]) -> Shown:
    """What each reading r would show under each row f and sample s of `shape`; the module's number is a line of signal
    over the module's own supply."""
    nominal = around.circuit.reference_v or SUPPLY_V
    own_v = nominal * unknown.supply_factor
    offset = np.where(lines.unlisted[:, None], unknown.family[0], lines.offset[:, None])
    slope = np.where(lines.unlisted[:, None], unknown.family[1], lines.slope[:, None])
    true_value = lines.rest[:, :1] + lines.rest[:, 1:] * unknown.true_z + state.true_offset
    battery_v = unknown.ground_v - state.module_ground_v
    value, share = np.empty((len(hook), *shape)), np.empty((len(hook), *shape))
    between = {name: {} for name in ("volts-return", "volts-battery", "supply-return", "supply-battery", "return-battery")}
    for i in range(len(hook)):
        at = true_value if np.isnan(hook.at_c[i]) else _beside(hook.at_c[i], around, lines, unknown)
        plug, fed = _plug(i, hook, around, lines, active, state, unknown, own_v, (at - offset) / slope, battery_v)
        pin_v = plug.signal_v if hook.module[i] else fed.pin_v(plug.signal_v)
        seen = (pin_v + state.offset_v) / own_v
        if isinstance(state.dead_share, np.ndarray):
            seen = np.where(np.isnan(state.dead_share), seen, state.dead_share)
        share[i] = np.clip(seen, *SHARE_ENDS)
        held = np.clip(share[i], lines.clamps[:, :1], lines.clamps[:, 1:])
        value[i] = (offset + slope * held) * state.scale_factor + state.shown_offset
        if hook.meter[i]:
            for name, volts in _metered(i, hook, around, lines, state, unknown, own_v, plug, battery_v).items():
                between[name][i] = np.broadcast_to(volts, shape)
    logit_slope = slope * state.scale_factor * share * (1.0 - share)
    return Shown(value, logit_slope, share, np.ones((1, *shape)), np.zeros(len(hook), int),
                 state.return_ohm + state.module_return_ohm + LEAD_OHM, np.broadcast_to(true_value, shape),
                 between.pop("volts-return"), between.pop("volts-battery"), None, None, between)


def _beside(typed: float, around: Circumstances, lines: "Lines", unknown: Unknowns3) -> np.ndarray:
    """The value (f, s) the part really has where `typed` is given beside the reading; 100 % of travel is the far stop."""
    if around.rows.quantity.unit == "percent" and typed >= around.rows.quantity.high_ends_from:
        return lines.stop[:, :1] + lines.stop[:, 1:] * unknown.at_z
    return typed + unknown.at_sd * unknown.at_z


def _plug(i: int, hook: Hookup, around: Circumstances, lines: "Lines", active: bool, state: CircuitState,
          unknown: Unknowns3, own_v: np.ndarray, sensor_ratio: np.ndarray,
          chassis_v: np.ndarray) -> tuple[PlugVolts, Feed]:
    """Volts at the plug in reading i, and the input's feed there."""
    element, at_module = hook.element[i], bool(hook.module[i])
    rail = _rail(i, hook, state, own_v, chassis_v)
    fed = _input(around, lines, state, unknown, own_v, at_module, bool(hook.meter[i]))
    if element in PLUGGED:
        return _sensor(active, state, unknown, rail, fed, sensor_ratio), fed
    if element == "divider":
        return _stand_in(i, hook, around, rail, fed, lines, unknown), fed
    return open_plug(rail, fed, _through_ohm(element)), fed


def _rail(i: int, hook: Hookup, state: CircuitState, own_v: np.ndarray, chassis_v: np.ndarray) -> Rail:
    """The supply and return that the plug, or the module's own pins, have in reading i."""
    rail_v = own_v * state.supply_factor * (state.plugged_supply_factor if hook.element[i] in PLUGGED else 1.0)
    if hook.module[i]:
        return Rail(rail_v, 0.5, 0.0, state.module_return_ohm + 0.1)
    rail = loaded(Rail(rail_v, state.supply_ohm, state.return_v, state.return_ohm + state.module_return_ohm), state.rail_load_ohm)
    return rail._replace(return_v=chassis_v, return_ohm=CHASSIS_OHM) if hook.chassis[i] else rail


def _through_ohm(element: str) -> float | None:
    return FEED_THROUGH_OHM if element == "feed-through" else None


def _metered(i: int, hook: Hookup, around: Circumstances, lines: "Lines", state: CircuitState, unknown: Unknowns3,
             own_v: np.ndarray, plug: PlugVolts, battery_v: np.ndarray) -> dict[str, np.ndarray]:
    """Volts a meter shows between the pins in reading i; on an open plug its own ohms are all that draws from the rails."""
    if hook.element[i] in PLUGGED or hook.element[i] == "divider":
        return {"volts-return": plug.signal_v - plug.return_v, "volts-battery": plug.signal_v - battery_v,
                "supply-return": plug.supply_v - plug.return_v, "supply-battery": plug.supply_v - battery_v,
                "return-battery": plug.return_v - battery_v}
    fed = _input(around, lines, state, unknown, own_v, bool(hook.module[i]), metered=False)
    return across_open(_rail(i, hook, state, own_v, battery_v), fed, battery_v, _through_ohm(hook.element[i]))


def _input(around: Circumstances, lines: "Lines", state: CircuitState, unknown: Unknowns3, own_v: np.ndarray,
           at_module: bool, metered: bool) -> Feed:
    """The input with its wire and leaks, seen from the plug."""
    up = lines.up[:, None]
    load_ohm = np.where(up, unknown.up_ohm, unknown.down_ohm) * state.input_factor
    open_v = np.where(up, own_v, 0.0)
    if at_module:
        return feed(open_v, load_ohm, 0.0)
    siemens = (1.0 / state.leak_ground_ohm + 1.0 / state.leak_battery_ohm + 1.0 / state.leak_supply_ohm
               + (1.0 / METER_OHM if metered else 0.0))
    amps = ((around.circuit.battery_v - state.module_ground_v) / state.leak_battery_ohm
            + state.other_supply_v / state.leak_supply_ohm)
    return feed(open_v, load_ohm, state.signal_ohm, siemens, amps)


def _sensor(active: bool, state: CircuitState, unknown: Unknowns3, rail: Rail, fed: Feed, ratio: np.ndarray) -> PlugVolts:
    """The sensor on its plug; its contacts are part of it."""
    ratio = ratio * state.ratio_factor * (1.0 + unknown.ratio_span) + unknown.ratio_offset + state.ratio_offset
    ratio = np.clip(ratio, *(ACTIVE_ENDS if active else (0.0, 1.0)))
    if isinstance(state.stuck_ratio, np.ndarray):
        ratio = np.where(np.isnan(state.stuck_ratio), ratio, np.clip(state.stuck_ratio, 0.0, 1.0))
    if active:
        # Contacts in its feed drop its own current; they sit outside the pins a meter can reach.
        inner = rail._replace(supply_ohm=rail.supply_ohm + state.plug_supply_ohm + state.top_ohm,
                              return_ohm=rail.return_ohm + state.plug_return_ohm + state.bottom_ohm)
        seen = put_out(inner, fed, ratio, unknown.track_ohm, OUTPUT_OHM + state.plug_ohm + state.wiper_ohm)
        part = (rail.supply_v - rail.return_v) / (inner.supply_ohm + unknown.track_ohm + inner.return_ohm)
        return PlugVolts(rail.supply_v - part * rail.supply_ohm, rail.return_v + part * rail.return_ohm, seen.signal_v)
    return divided(rail, fed, ratio, unknown.track_ohm, 50.0 + state.plug_ohm + state.wiper_ohm,
                   state.top_ohm + state.plug_supply_ohm, state.bottom_ohm + state.plug_return_ohm)


def _stand_in(i: int, hook: Hookup, around: Circumstances, rail: Rail, fed: Feed, lines: "Lines",
              unknown: Unknowns3) -> PlugVolts:
    """A potentiometer as a divider on the plug, its wiper behind a resistor; set-up mistakes included."""
    legs, off = around.rows.having("wrong-legs"), around.rows.having("lead-off")
    if np.isnan(hook.ratio[i]):
        # The end of a sweep that gives the lowest number.
        falls = np.where(lines.unlisted[:, None], unknown.family[1], lines.slope[:, None]) < 0.0
        ratio = np.where(falls, SWEEP_RATIOS[1], SWEEP_RATIOS[0])
    else:
        ratio = np.full((len(lines.up), 1), hook.ratio[i])
    ratio[legs] = 1.0 - ratio[legs]
    wiper_ohm = np.full((len(lines.up), 1), WIPER_OHM)
    wiper_ohm[off] = 1e12
    return divided(rail, fed, ratio, around.end_to_end_ohm, wiper_ohm)
