"""Owns the module's side: from volts at the pin to what live data shows, and how far that may stray."""

import numpy as np
from scipy.special import ndtr

from engine.curves import KELVIN
from engine.live_data import TEMPERATURE

COLD_END_C, HOT_END_C = TEMPERATURE.ends
# Modules stop showing hotter readings somewhere from about here up (published jumper tests accept > 119..150 degC).
HOT_ENDS_FROM_C = 117.0
COLD_ENDS_FROM_C = -29.0
# Typical beta [K], used only to turn an error in ohms or volts into degC; NTC parts lie between 3300 and 4200.
TYPICAL_BETA_K = 3700.0
UNKNOWN_BITS = 9
# How often a module nobody knows better shows a number of its own beyond its limits (common practice, no source).
UNTOLD_DEFAULT = 0.1
LOW_LIMIT_SHARE, HIGH_LIMIT_SHARE = 0.025, 0.975
SMALLEST_OHM, LARGEST_OHM = 1e-2, 1e9


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


def converter_step_c(converter_v: object, open_v: object, short_v: object, bits: int | None,
                     temperature_c: object) -> np.ndarray:
    """Size [degC] of one step of the converter at this reading: dT = T^2/B dlnR, dlnR = dV (Vo-Vs)/((V-Vs)(Vo-V))."""
    step_v = np.divide(open_v, 2.0 ** (bits or UNKNOWN_BITS))
    above = np.maximum(np.subtract(converter_v, short_v), step_v / 2)
    below = np.maximum(np.subtract(open_v, converter_v), step_v / 2)
    kelvin = np.clip(temperature_c, -60.0, 260.0) + KELVIN
    return np.minimum(kelvin**2 / TYPICAL_BETA_K * step_v * np.subtract(open_v, short_v) / (above * below), 60.0)


def outside_limits(converter_v: object, open_v: object, low_limit_v: float | None,
                   high_limit_v: float | None) -> np.ndarray:
    """Chance that the volts count as out of limits, soft by 20 mV; unknown limits lie at about 2.5 and 97.5 % of open."""
    soft = 0.02 if low_limit_v is not None else 0.05
    low = low_limit_v if low_limit_v is not None else np.multiply(open_v, LOW_LIMIT_SHARE)
    high = high_limit_v if high_limit_v is not None else np.multiply(open_v, HIGH_LIMIT_SHARE)
    return ndtr((low - converter_v) / soft) + ndtr((converter_v - high) / soft)


def shown_density(shows_c: object, temperature_c: np.ndarray, spread_c: np.ndarray, outside: np.ndarray,
                  default_c: float | None, default_share: float = 0.8) -> np.ndarray:
    """Density [1/degC] of live data showing `shows_c` when the volts stand for `temperature_c`.

    `spread_c` is the standard deviation of everything not modelled. Whole
    degrees may be rounded or cut off, so a shown value stands for half a
    degree below to one above. Beyond the ends the module shows its end; which
    end it has is not known at the hot side. Outside its limits it shows `default_c`
    in `default_share` of the cases, or, where none is known, now and then any mid-scale number.
    """
    inside = (ndtr((shows_c + 1.05 - temperature_c) / spread_c)
              - ndtr((shows_c - 0.55 - temperature_c) / spread_c)) / 1.6
    hot = np.asarray(shows_c) >= HOT_ENDS_FROM_C
    cold = np.asarray(shows_c) <= COLD_ENDS_FROM_C
    left = np.clip((HOT_END_C - shows_c) / (HOT_END_C - HOT_ENDS_FROM_C), 0.02, 1.0)
    hot_end = ndtr((temperature_c - shows_c) / spread_c) / (HOT_END_C - HOT_ENDS_FROM_C)
    share = np.where(np.abs(shows_c - COLD_END_C) < 1.2, 0.4, 0.01)
    cold_end = share * ndtr((shows_c - temperature_c + 0.5) / spread_c)
    density = np.where(hot, inside * left + hot_end, np.where(cold, inside * 0.3 + cold_end, inside))
    return _with_default(shows_c, density, outside, default_c, default_share)


def _with_default(shows_c: object, density: np.ndarray, outside: np.ndarray, default_c: float | None,
                  share: float) -> np.ndarray:
    outside = np.minimum(outside, 1.0)
    if default_c is None:
        middle = (np.asarray(shows_c) > COLD_ENDS_FROM_C) & (np.asarray(shows_c) < HOT_ENDS_FROM_C)
        anything = np.where(middle, 1.0 / (HOT_ENDS_FROM_C - COLD_ENDS_FROM_C), 0.0)
        return (1.0 - UNTOLD_DEFAULT * outside) * density + UNTOLD_DEFAULT * outside * anything
    shown_default = np.where(np.abs(shows_c - default_c) < 1.2, 1.0 / 2.4, 0.0)
    return (1.0 - share * outside) * density + share * outside * shown_default
