"""Owns the two-wire circuit: the module's input, the harness and what sits on the plug, solved for whole batches."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

NO_LEAK_OHM = 1e15
OPEN_OHM = 1e12
JOINED_OHM = 0.02
METER_OHM = 1e7


@dataclass(frozen=True)
class InputCircuit:
    """What the module's signal pin looks like from outside; None means not known.

    `open_v` and `short_v` [V] are what the converter sees with the pin open
    and with it held at module ground; a plain pull-up has `short_v` 0 and
    `open_v` equal to `reference_v`, the converter's full scale [V].
    `source_ohm` [ohm] is the input resistor. Some modules switch to
    `second_source_ohm` [ohm] once their own reading passes
    `switch_at_c` [degC], give or take half of `switch_band_c`. Outside
    `low_limit_v` and `high_limit_v` [V] a code sets and the module may show
    `default_c` (a number or a range, in the unit of the reading), if `latched`
    until the code is cleared and the key cycled, `settle_s` [s] after it.
    `bits` is the converter's width, `battery_v` [V] the vehicle's supply. A
    `strobed` input is fed in pulses: a meter shows an average. A second
    instrument on the same wire feeds it from `second_instrument_v` [V] through
    `second_instrument_ohm` [ohm]. A `pointer` follows the current in its coil
    (`source_ohm`), fed from the battery or a regulator. The input of a
    three-wire sensor is a light load: `pull` says "up" or "down" where it is
    known, `source_ohm` how many ohms, `reference_v` the sensor's supply. A
    module that has learned the stop takes it only within `learned_within_v` of
    `learned_v` [V] (published: 0.12 V).
    """

    open_v: float | None = None
    short_v: float | None = None
    source_ohm: float | None = None
    reference_v: float | None = None
    second_source_ohm: float | None = None
    switch_at_c: float | None = None
    bits: int | None = None
    low_limit_v: float | None = None
    high_limit_v: float | None = None
    default_c: float | tuple[float, float] | None = None
    battery_v: float = 12.6
    switch_band_c: float = 6.0
    strobed: bool = False
    latched: bool = False
    settle_s: float | None = None
    second_instrument_v: float | None = None
    second_instrument_ohm: float | None = None
    pointer: bool = False
    pull: str | None = None
    learned_v: float | None = None
    learned_within_v: float = 0.12


class NodeVolts(NamedTuple):
    """Volts [V] against module ground at the module's pin, the plug's signal side and its return side."""

    pin_v: np.ndarray
    plug_v: np.ndarray
    return_v: np.ndarray


class Feed(NamedTuple):
    """All that feeds the plug, as one: open volts, ohms, and what the pin sees of the plug's volts."""

    volts: np.ndarray       # at the plug, nothing fitted
    ohm: np.ndarray
    open_v: np.ndarray      # behind the input resistor
    wire_share: np.ndarray  # signal wire's part of input resistor and wire together

    def pin_v(self, plug_v: object) -> np.ndarray:
        """Volts [V] at the module's pin for `plug_v` at the plug."""
        return plug_v + (self.open_v - plug_v) * self.wire_share

    def plug_v(self, below_ohm: object, ground_v: object = 0.0) -> np.ndarray:
        """Volts [V] at the plug with `below_ohm` from there to `ground_v`."""
        return (self.volts * below_ohm + np.multiply(ground_v, self.ohm)) / (self.ohm + below_ohm)


def feed(open_v: object, source_ohm: object, signal_ohm: object, leak_siemens: object = 0.0,
         leak_amps: object = 0.0) -> Feed:
    """The feed at the plug: `open_v` through input resistor and signal wire, beside leaks of `leak_siemens` altogether
    that bring `leak_amps` into 0 V (for each leak its volts over its ohms).

    Only positive terms are added, so no digits are lost when a short stands
    beside an open.
    """
    path_ohm = np.add(source_ohm, signal_ohm)
    ohm = 1.0 / (1.0 / path_ohm + leak_siemens)
    return Feed((np.divide(open_v, path_ohm) + leak_amps) * ohm, ohm, open_v, signal_ohm / path_ohm)


def solve(*, open_v: object, source_ohm: object, element_ohm: object, signal_ohm: object = 0.0,
          return_ohm: object = 0.0, ground_v: object = 0.0, leak_ground_ohm: object = NO_LEAK_OHM,
          leak_battery_ohm: object = NO_LEAK_OHM, battery_v: object = 12.6) -> NodeVolts:
    """Node volts [V] of one pulled-up two-wire circuit, or of a batch (arguments broadcast).

    The pin is fed from `open_v` through `source_ohm`; `signal_ohm` leads to the
    plug, where leaks to ground and to battery sit; `element_ohm` joins the
    plug to the return side, and `return_ohm` leads from there to `ground_v`.
    Method: all feeds folded into one (Thevenin and Millman), within 1e-12 V of
    exact rational arithmetic from 50 milliohm to 1 gigaohm. Kirchhoff's laws;
    any circuit text.

    >>> round(float(solve(open_v=5.0, source_ohm=1000.0, element_ohm=250.0).pin_v), 3)
    1.0
    """
    fed = feed(open_v, source_ohm, signal_ohm, np.divide(1.0, leak_ground_ohm) + np.divide(1.0, leak_battery_ohm),
               np.divide(battery_v, leak_battery_ohm))
    below_ohm = np.add(element_ohm, return_ohm)
    plug_v = fed.plug_v(below_ohm, ground_v)
    with np.errstate(invalid="ignore"):
        return_v = np.where(below_ohm > 0.0,
                            (plug_v * return_ohm + np.multiply(ground_v, element_ohm))
                            / np.where(below_ohm > 0.0, below_ohm, 1.0), plug_v)
    return NodeVolts(fed.pin_v(plug_v), plug_v, return_v)


def parallel(first_ohm: object, second_ohm: object) -> np.ndarray:
    """Resistance [ohm] of two in parallel; 0 beside anything is 0.

    >>> float(parallel(20000.0, 1000.0)).__round__(2)
    952.38
    """
    total = np.add(first_ohm, second_ohm)
    return np.multiply(first_ohm, second_ohm) / np.where(total > 0.0, total, 1.0)
