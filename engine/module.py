"""Owns the module's side: from volts at the pin to what live data shows, and how far that may stray."""

import numpy as np
from scipy.special import log_ndtr, ndtr

from engine.batches import exp, held
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
DEFAULT_WITHIN = 1.2
# How often a default that moves is read at an end of its range: right after key-on, or once it has run (published designs).
AT_AN_END = 0.6
# Most modules' low end is the scale's own; the others' lie anywhere above it.
AT_LOW_END, ABOVE_LOW_END = 0.85, 0.014
# A number that another went beyond is the end all the same where that other was a slip.
END_ALL_THE_SAME = 0.02
# Density of an end already known, per whole number shown.
WHOLE_AT_END = 0.8
ROOT_TWO_PI = float(np.sqrt(2.0 * np.pi))


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


def converter_step(share: np.ndarray, slope: np.ndarray, open_v: float, short_v: float, bits: int | None) -> np.ndarray:
    """Size of one converter step in the quantity's unit: dV as a share of open, times dlnR/dV, times the curve's slope.

    `share` is the pin's volts over its open volts; dlnR = dshare / (share (1 - share)).
    """
    step = 0.5 ** (bits or UNKNOWN_BITS) * open_v / (open_v - short_v)
    room = np.maximum(share, step / 2) * np.maximum(1.0 - share, step / 2)
    return np.minimum(np.abs(slope) * (step / room), COARSEST_STEP)


def outside_limits(share: np.ndarray, open_v: float, short_v: float, low_limit_v: float | None,
                   high_limit_v: float | None) -> np.ndarray:
    """Chance that pin volts, given as `share` of open, count as out of limits; unknown limits lie at 2.5 and 97.5 %."""
    scale = open_v - short_v
    soft = (TOLD_LIMIT_SOFT_V if low_limit_v is not None else UNTOLD_LIMIT_SOFT_V) / scale
    low = (low_limit_v - short_v) / scale if low_limit_v is not None else LOW_LIMIT_SHARE
    high = (high_limit_v - short_v) / scale if high_limit_v is not None else HIGH_LIMIT_SHARE
    return held((low - share) / soft + 0.5, 0.0, 1.0) + held((share - high) / soft + 0.5, 0.0, 1.0)


def shown_density(shows: float, value: np.ndarray, spread: np.ndarray, outside: np.ndarray,
                  default: float | tuple[float, float] | None, default_share: float = 0.8,
                  scale: Quantity = TEMPERATURE, latched: bool = False, stood: int = 1) -> np.ndarray:
    """Density, per unit of `scale`, of live data showing `shows` when the volts stand for `value`.

    `spread` is the standard deviation of everything not modelled. Whole
    numbers may be rounded or cut off. Beyond the ends the module shows its end;
    which end it has is not known at the high side, but it is one and the same
    for all readings: where `stood` of them show this number they share the
    surprise, and with 0 another went beyond it, so that it is none. Outside its limits it shows `default` (a number or a range) in
    `default_share` of the cases, or, where none is known, now and then any
    mid-scale number. What no item can hold, none shows.
    """
    whole = np.sqrt(np.square(spread) + (WHOLE_SD * scale.whole)**2)
    density = exp(-0.5 * np.square((value - (shows + WHOLE_MIDDLE * scale.whole)) / whole)) / (whole * ROOT_TWO_PI)
    side, near, beyond = _end(shows, scale, stood)
    if side:
        density = density * near + ndtr((side * (value - shows) + (0.5 if side < 0 else 0.0)) / spread) * beyond
    if not scale.low_end - scale.whole <= shows <= (scale.item_top or scale.high_end) + scale.whole:
        # The item cannot hold such a number: it was mistyped, or is of another unit.
        density = np.zeros_like(density)
    return _with_default(shows, density, outside, default, default_share, scale, latched)


def end_residual(relative: np.ndarray, spread: np.ndarray, shows: float, scale: Quantity, stood: int) -> np.ndarray:
    """What `relative`, off the shown number in standard deviations `spread`, comes to where that may be an end and says only
    "at least so far": minus half its square is the log of the density over its largest, flat beyond the end."""
    side, near, beyond = _end(shows, scale, stood)
    if not side:
        return relative
    past, flat = side * relative, spread * (beyond / near * ROOT_TWO_PI)
    ln = np.logaddexp(-0.5 * np.square(past), np.log(flat) + log_ndtr(past))
    size = np.sqrt(2.0 * np.maximum(np.log(np.maximum(1.0 + 0.5 * flat, flat)) - ln, 0.0))
    return side * np.where((past < 0.0) | (flat >= 1.0), -size, size)


def _end(shows: float, scale: Quantity, stood: int) -> tuple[int, float, float]:
    """Which end of the scale `shows` may be (1 high, -1 low, 0 none), what is left of its own density, and the density of
    its standing for anything beyond."""
    room = scale.high_end - scale.high_ends_from
    side = 1 if shows >= scale.high_ends_from else -1 if shows <= scale.low_ends_from else 0
    if side and not stood:
        return side, 1.0 - END_ALL_THE_SAME, END_ALL_THE_SAME / room
    if side > 0:
        left = float(np.clip((scale.high_end - shows) / room, 0.02, 1.0))
        return side, left, (1.0 / room) ** (1.0 / stood) * (WHOLE_AT_END / scale.whole) ** (1.0 - 1.0 / stood)
    if side < 0:
        return side, 0.3, AT_LOW_END if abs(shows - scale.low_end) < 0.6 * scale.whole else ABOVE_LOW_END
    return side, 1.0, 0.0


def _with_default(shows: float, density: np.ndarray, outside: np.ndarray, default: float | tuple[float, float] | None,
                  share: float, scale: Quantity, latched: bool) -> np.ndarray:
    outside = np.minimum(outside, 1.0)
    if default is None:
        share = UNTOLD_DEFAULT
        inside = scale.low_ends_from < shows < scale.high_ends_from
        at_bottom = AT_LOW_END if scale.bottom_beyond and shows <= scale.low_ends_from else 0.0
        instead = 1.0 / (scale.high_ends_from - scale.low_ends_from) if inside else at_bottom
    else:
        low, high = default if isinstance(default, tuple) else (default, default)
        # A default that moves starts at one end of its range and stops at the other.
        near = sum(abs(shows - end) < DEFAULT_WITHIN for end in (low, high)) / 2
        low, high = low - DEFAULT_WITHIN, high + DEFAULT_WITHIN
        even = 1.0 / (high - low) if low < shows < high else 0.0
        instead = AT_AN_END * near / (2.0 * DEFAULT_WITHIN) + (1.0 - AT_AN_END) * even
        if latched:
            outside = np.maximum(outside, STILL_LATCHED / share)
    return density + share * outside * (instead - density)
