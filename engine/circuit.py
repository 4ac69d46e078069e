"""Owns the two-wire circuit: the module's input, the harness and what sits on the plug, solved for whole batches."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from engine.compiled import everywhere, inlined

NO_LEAK_OHM = 1e15
OPEN_OHM = 1e12
JOINED_OHM = 0.02
METER_OHM = 1e7
# A jumper or stand-in clipped to a clean chassis point (common practice, no source).
CHASSIS_OHM = 0.1


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

    volts: float       # at the plug, nothing fitted
    ohm: float
    open_v: float      # behind the input resistor
    wire_share: float  # signal wire's part of input resistor and wire together


@inlined
def feed(open_v: float, source_ohm: float, signal_ohm: float, leak_siemens: float = 0.0, leak_amps: float = 0.0) -> Feed:
    """The feed at the plug: `open_v` through input resistor and signal wire, beside leaks of `leak_siemens` altogether
    that bring `leak_amps` into 0 V (for each leak its volts over its ohms).

    Only positive terms are added, so no digits are lost when a short stands
    beside an open.
    """
    per_path = 1.0 / (source_ohm + signal_ohm)
    ohm = 1.0 / (per_path + leak_siemens)
    return Feed((open_v * per_path + leak_amps) * ohm, ohm, open_v, signal_ohm * per_path)


@inlined
def plug_volts(fed: Feed, below_ohm: float, ground_v: float) -> float:
    """Volts [V] at the plug on `fed` with `below_ohm` from there to `ground_v`."""
    return (fed.volts * below_ohm + ground_v * fed.ohm) / (fed.ohm + below_ohm)


@inlined
def pin_volts(fed: Feed, plug_v: float) -> float:
    """Volts [V] at the module's pin on `fed` for `plug_v` at the plug."""
    return plug_v + (fed.open_v - plug_v) * fed.wire_share


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
    return NodeVolts(*everywhere(_solved, open_v, source_ohm, element_ohm, signal_ohm, return_ohm, ground_v, leak_ground_ohm,
                                 leak_battery_ohm, battery_v))


@inlined
def _solved(open_v: float, source_ohm: float, element_ohm: float, signal_ohm: float, return_ohm: float, ground_v: float,
            leak_ground_ohm: float, leak_battery_ohm: float, battery_v: float) -> tuple[float, float, float]:
    """As `solve`, of one circuit."""
    fed = feed(open_v, source_ohm, signal_ohm, 1.0 / leak_ground_ohm + 1.0 / leak_battery_ohm, battery_v / leak_battery_ohm)
    below_ohm = element_ohm + return_ohm
    plug_v = plug_volts(fed, below_ohm, ground_v)
    return_v = (plug_v * return_ohm + ground_v * element_ohm) / below_ohm if below_ohm > 0.0 else plug_v
    return pin_volts(fed, plug_v), plug_v, return_v


@inlined
def parallel(first_ohm: float, second_ohm: float) -> float:
    """Resistance [ohm] of two in parallel; 0 beside anything is 0.

    >>> round(parallel(20000.0, 1000.0), 2)
    952.38
    """
    total = first_ohm + second_ohm
    return first_ohm * second_ohm / total if total > 0.0 else 0.0
