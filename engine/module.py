"""Owns the module's side: from volts at the pin to what live data shows, and how far that may stray."""

import math
from typing import NamedTuple

import numpy as np

from engine.compiled import ROOT_TWO_PI, bell, below_normal, exp_of, held_at, inlined, log_of, tail_times
from engine.live_data import TEMPERATURE as TEMPERATURE_ITEM
from engine.quantities import TEMPERATURE, Quantity

COLD_END_C, HOT_END_C = TEMPERATURE_ITEM.ends
UNKNOWN_BITS = 9
# How often a module nobody knows better shows a number of its own beyond its limits (common practice, no source).
UNTOLD_DEFAULT = 0.1
# A latched default may still stand when the next test is read.
STILL_LATCHED = 0.05
LOW_LIMIT_SHARE, HIGH_LIMIT_SHARE = 0.025, 0.975
TOLD_LIMIT_SOFT_V, UNTOLD_LIMIT_SOFT_V = 0.07, 0.17
SMALLEST_OHM, LARGEST_OHM = 1e-2, 1e9
COARSEST_STEP = 60.0
# Whole numbers may be rounded or cut off: the middle and the breadth of what a shown one stands for, in steps shown.
WHOLE_MIDDLE, WHOLE_SD = 0.25, 1.6 / 12.0**0.5
HALF_A_WHOLE = 0.5 / WHOLE_MIDDLE
DEFAULT_WITHIN = 1.2
# How often a default that moves is read at an end of its range: right after key-on, or once it has run (published designs).
AT_AN_END = 0.6
# Most modules' low end is the scale's own; the others' lie anywhere above it. What lies just there shows the end, but for so much of
# its own density: both together come to about one.
AT_LOW_END, NEAR_LOW_END = 0.85, 0.3
# A number that another went beyond is the end all the same where that other was a slip.
END_ALL_THE_SAME = 0.02
# Density of an end already known, per whole number shown.
WHOLE_AT_END = 0.8


class Typed(NamedTuple):
    """A typed number of live data: whether an item can hold it; its middle and breadth as a whole number; which end of the scale it
    may be, what is left of its own density there, the density of standing for anything beyond, and that over its own;
    how often and how likely the module shows it as its own, and how often it still does inside its limits."""

    held: float
    shows: float
    middle: float
    breadth: float
    side: float
    near: float
    beyond: float
    flat: float
    own_share: float
    own: float
    still: float


TYPED = np.dtype([(name, "f4") for name in Typed._fields])


def converter_volts(pin_v: object, open_v: object, short_v: object) -> np.ndarray:
    """Volts [V] the converter sees for `pin_v`: linear, `short_v` at 0 V and `open_v` at the open pin."""
    return np.multiply(short_v, 1.0 - np.divide(pin_v, open_v)) + pin_v


def assumed_ohm(converter_v: object, open_v: object, short_v: object, source_ohm: object) -> np.ndarray:
    """Resistance [ohm] the module takes to be on its pin, by its own nominal input values.

    R = Rp (V - Vshort) / (Vopen - V); Ohm's law. Ends are held at 10 milliohm
    and 1 gigaohm.
    """
    above = np.maximum(np.subtract(converter_v, short_v), 1e-9)
    below = np.maximum(np.subtract(open_v, converter_v), 1e-9)
    return np.clip(source_ohm * above / below, SMALLEST_OHM, LARGEST_OHM)


def step_of(open_v: float, short_v: float, bits: int | None) -> float:
    """One converter step as a share of the open volts."""
    return 0.5 ** (bits or UNKNOWN_BITS) * open_v / (open_v - short_v)


@inlined
def converter_step(share: float, slope: float, step: float) -> float:
    """Size of one converter step in the quantity's unit: `step` as a share of open, times dlnR/dshare, times the curve's slope.

    `share` is the pin's volts over its open volts; dlnR = dshare / (share (1 - share)).
    """
    room = max(share, step / 2) * max(1.0 - share, step / 2)
    return min(abs(slope) * (step / room), COARSEST_STEP)


def limits_of(open_v: float, short_v: float, low_limit_v: float | None, high_limit_v: float | None) -> tuple[float, float, float, float]:
    """Limits as shares of open, each with one over the breadth over which it counts: low and high; unknown ones lie at 2.5 and 97.5 %."""
    scale = open_v - short_v
    steep = scale / (TOLD_LIMIT_SOFT_V if low_limit_v is not None else UNTOLD_LIMIT_SOFT_V)
    return ((low_limit_v - short_v) / scale if low_limit_v is not None else LOW_LIMIT_SHARE, steep,
            (high_limit_v - short_v) / scale if high_limit_v is not None else HIGH_LIMIT_SHARE, steep)


@inlined
def outside_limits(share: float, low: float, low_steep: float, high: float, high_steep: float) -> float:
    """Chance that pin volts, given as `share` of open, count as out of limits (see `limits_of`)."""
    return held_at((low - share) * low_steep + 0.5, 0.0, 1.0) + held_at((share - high) * high_steep + 0.5, 0.0, 1.0)


def pack_typed(shows: float, scale: Quantity = TEMPERATURE, default: float | tuple[float, float] | None = None,
               default_share: float = 0.8, latched: bool = False, stood: int = 1) -> Typed:
    """The number `shows` of live data as a Typed: what of it is an end, and how likely it is the module's own.

    Beyond the ends the module shows its end; which end it has is not known at
    the high side, but it is one and the same for all readings: where `stood` of
    them show this number they share the surprise, and with 0 another went
    beyond it, so that it is none. Outside its limits it shows `default` (a
    number or a range) in `default_share` of the cases, or, where none is known,
    now and then any mid-scale number. What no item can hold, none shows.
    """
    side, near, beyond = _end(shows, scale, stood)
    # What the item cannot hold was mistyped, or is of another unit.
    held = scale.low_end - scale.whole <= shows <= (scale.item_top or scale.high_end) + scale.whole
    if default is None:
        inside = scale.low_ends_from < shows < scale.high_ends_from
        at_bottom = AT_LOW_END / scale.whole if scale.bottom_beyond and shows <= scale.low_ends_from else 0.0
        own = UNTOLD_DEFAULT, 1.0 / (scale.high_ends_from - scale.low_ends_from) if inside else at_bottom, 0.0
    else:
        low, high = default if isinstance(default, tuple) else (default, default)
        # A default that moves starts at one end of its range and stops at the other.
        at_ends = sum(abs(shows - end) < DEFAULT_WITHIN for end in (low, high)) / 2
        low, high = low - DEFAULT_WITHIN, high + DEFAULT_WITHIN
        even = 1.0 / (high - low) if low < shows < high else 0.0
        own = (default_share, AT_AN_END * at_ends / (2.0 * DEFAULT_WITHIN) + (1.0 - AT_AN_END) * even,
               STILL_LATCHED / default_share if latched else 0.0)
    return Typed(float(held), float(shows), WHOLE_MIDDLE * scale.whole, WHOLE_SD * scale.whole, float(side), near, beyond,
                 beyond / near * ROOT_TWO_PI, *own)


@inlined
def shown_density(typed: Typed, value: float, spread: float, outside: float) -> float:
    """Density, per unit of the scale, of live data showing what was `typed` when the volts stand for `value`.

    `spread` is the standard deviation of everything not modelled, `outside`
    the chance that the volts are out of limits. Whole numbers may be rounded or
    cut off.
    """
    density = typed.held * bell(value - (typed.shows + typed.middle), math.sqrt(spread * spread + typed.breadth * typed.breadth))
    if typed.side != 0.0:
        # Numbers are cut off rather than rounded at the low end: half a whole one more lies beyond it.
        past = typed.side * (value - typed.shows) + (HALF_A_WHOLE * typed.middle if typed.side < 0.0 else 0.0)
        density = density * typed.near + typed.held * below_normal(past / spread) * typed.beyond
    return density + typed.own_share * max(min(outside, 1.0), typed.still) * (typed.own - density)


@inlined
def end_residual(side: float, flat: float, relative: float, spread: float) -> float:
    """What `relative`, off the shown number in standard deviations `spread`, comes to where that may be the end on this `side` and
    says only "at least so far": minus half its square is the log of the density over its largest, flat beyond the end; `flat`
    is how likely it stands for all beyond, over the density of its own."""
    past, flat = side * relative, flat * spread
    half, tail = 0.5 * past * past, tail_times(abs(past), 0.0)
    # Short of the end the bell is taken out of both, lest nothing be left of them.
    short = past <= 0.0
    density = 1.0 + flat * tail if short else flat + exp_of(-half) * (1.0 - flat * tail)
    size = math.sqrt(2.0 * max(log_of(max(1.0 + 0.5 * flat, flat) / density) + (half if short else 0.0), 0.0))
    return side * (-size if past < 0.0 or flat >= 1.0 else size)


def _end(shows: float, scale: Quantity, stood: int) -> tuple[int, float, float]:
    """Which end of the scale `shows` may be (1 high, -1 low, 0 none), what is left of its own density, and the density of
    its standing for anything beyond."""
    side = 1 if shows >= scale.high_ends_from else -1 if shows <= scale.low_ends_from else 0
    even = 1.0 / _ends(scale.high_ends_from, scale.high_end, scale) / scale.whole
    if side and not stood:
        return side, 1.0 - END_ALL_THE_SAME, END_ALL_THE_SAME * even
    if side > 0:
        left = float(np.clip((scale.high_end - shows) * even, 0.02, 1.0))
        return side, left, even ** (1.0 / stood) * (WHOLE_AT_END / scale.whole) ** (1.0 - 1.0 / stood)
    if side < 0:
        others = _ends(scale.low_end, scale.low_ends_from, scale) - 1
        if abs(shows - scale.low_end) < 0.5 * scale.whole:
            return side, NEAR_LOW_END, (AT_LOW_END if others else 1.0) / scale.whole
        if others:
            even = (1.0 - AT_LOW_END) / others / scale.whole
            return side, min(AT_LOW_END + max(shows - scale.low_end, 0.0) * even, 1.0), even
        # Not even one number beside the scale's own may be an end: this one is none.
        side = 0
    return side, 1.0, 0.0


def _ends(lowest: float, highest: float, scale: Quantity) -> int:
    """How many numbers from `lowest` to `highest` a scale may end at."""
    return int((highest - lowest) / scale.whole + 1e-9) + 1
