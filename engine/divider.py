"""Owns the three-wire circuit: supply, return and signal wire, with a track, a stand-in or an output stage between them."""

from typing import NamedTuple

import numpy as np

from engine.circuit import METER_OHM, Feed, parallel

# In series with a wiper that may meet the rail, and from supply to signal when feeding through (common practice, no source).
WIPER_OHM, FEED_THROUGH_OHM = 1000.0, 5000.0
# An output stage's own resistance (common practice, no source).
OUTPUT_OHM = 100.0
# Above this a 5 V supply is fed from elsewhere: nothing is connected (published code limits, 5.5 V).
STOP_ABOVE_V = 5.5


class Rail(NamedTuple):
    """The two ends the module gives a sensor: volts [V] against module ground and ohms in the way, arrays or numbers."""

    supply_v: np.ndarray
    supply_ohm: np.ndarray
    return_v: np.ndarray
    return_ohm: np.ndarray


class PlugVolts(NamedTuple):
    """Volts [V] against module ground at the plug's supply, return and signal side."""

    supply_v: np.ndarray
    return_v: np.ndarray
    signal_v: np.ndarray


def divided(rail: Rail, fed: Feed, ratio: object, track_ohm: object, wiper_ohm: object, top_ohm: object = 0.0,
            bottom_ohm: object = 0.0) -> PlugVolts:
    """A track of `track_ohm` between the rail's ends with its wiper at `ratio` from the return end, on the input `fed`.

    `wiper_ohm` leads from the wiper to the plug, `top_ohm` and `bottom_ohm`
    are added at the track's ends (contacts, breaks). One tree of resistors,
    folded (Thevenin, Millman): exact. Kirchhoff's laws; any circuit text.

    A 10 kohm track with its 1 kohm wiper lead on 100 kohm to ground:

    >>> from engine.circuit import feed
    >>> at = divided(Rail(5.0, 0.0, 0.0, 0.0), feed(0.0, 100e3, 0.0), 0.5, 10e3, 1e3)
    >>> round(float(at.signal_v) / 5.0, 3)
    0.483
    """
    above = rail.supply_ohm + top_ohm + np.multiply(np.subtract(1.0, ratio), track_ohm)
    below = rail.return_ohm + bottom_ohm + np.multiply(ratio, track_ohm)
    total = above + below
    safe = np.where(total > 0.0, total, 1.0)
    open_v = (rail.supply_v * below + rail.return_v * above) / safe
    own_ohm = above * below / safe + wiper_ohm
    signal_v = fed.plug_v(own_ohm, open_v)
    # The input's small current through the wiper moves the tap.
    tap_v = signal_v + (open_v - signal_v) * np.divide(wiper_ohm, np.where(own_ohm > 0.0, own_ohm, 1.0))
    supply_v = rail.supply_v - (rail.supply_v - tap_v) * rail.supply_ohm / np.where(above > 0.0, above, 1.0)
    return_v = rail.return_v + (tap_v - rail.return_v) * rail.return_ohm / np.where(below > 0.0, below, 1.0)
    return PlugVolts(supply_v, return_v, signal_v)


def loaded(rail: Rail, load_ohm: object) -> Rail:
    """The rail behind a splice where other sensors take `load_ohm` [ohm] from supply to return.

    Thevenin's theorem; exact where ohms lie in the supply or in the return, not
    in both. Others of 1 kohm leave half of 5 V where the supply wire has 1 kohm:

    >>> [round(float(x), 1) for x in loaded(Rail(5.0, 1000.0, 0.0, 0.0), 1000.0)]
    [2.5, 500.0, 0.0, 0.0]
    """
    total = rail.supply_ohm + load_ohm + rail.return_ohm
    down = (rail.supply_v - rail.return_v) / total
    return Rail(rail.supply_v - down * rail.supply_ohm, rail.supply_ohm * (total - rail.supply_ohm) / total,
                rail.return_v + down * rail.return_ohm, rail.return_ohm * (total - rail.return_ohm) / total)


def put_out(rail: Rail, fed: Feed, ratio: object, load_ohm: object, output_ohm: object = OUTPUT_OHM) -> PlugVolts:
    """A sensor with an output stage: it takes its current through `load_ohm` and puts out `ratio` of what it is given."""
    total = rail.supply_ohm + load_ohm + rail.return_ohm
    amps = (rail.supply_v - rail.return_v) / total
    supply_v, return_v = rail.supply_v - amps * rail.supply_ohm, rail.return_v + amps * rail.return_ohm
    signal_v = fed.plug_v(output_ohm, return_v + ratio * (supply_v - return_v))
    return PlugVolts(supply_v, return_v, signal_v)


def open_plug(rail: Rail, fed: Feed, through_ohm: float | None = None) -> PlugVolts:
    """Nothing on the plug, or `through_ohm` from its supply to its signal pin."""
    if through_ohm is None:
        return PlugVolts(rail.supply_v, rail.return_v, fed.volts)
    signal_v = fed.plug_v(through_ohm + rail.supply_ohm, rail.supply_v)
    supply_v = rail.supply_v - (rail.supply_v - signal_v) * rail.supply_ohm / (through_ohm + rail.supply_ohm)
    return PlugVolts(supply_v, rail.return_v, signal_v)


def across_open(rail: Rail, fed: Feed, battery_v: object, through_ohm: float | None = None) -> dict[str, np.ndarray]:
    """Volts a meter shows on such a plug between two of its pins, or a pin and battery negative at `battery_v`.

    Only the meter's own ohms draw current there: a broken supply or return
    leaves hardly any volts on it. Each is measured by itself (Thevenin; any
    circuit text).

    >>> from engine.circuit import feed
    >>> broken = Rail(5.0, 0.5, 0.0, 1e9)
    >>> round(float(across_open(broken, feed(0.0, 100e3, 0.0), 0.0)["supply-return"]), 2)
    0.05
    """
    at = open_plug(rail, fed, through_ohm)
    signal_ohm, supply_ohm = fed.ohm, rail.supply_ohm
    if through_ohm is not None:
        signal_ohm = parallel(fed.ohm, through_ohm + rail.supply_ohm)
        supply_ohm = parallel(rail.supply_ohm, through_ohm + fed.ohm)

    def shown(high_v: object, low_v: object, ohm: object) -> np.ndarray:
        return (high_v - low_v) * METER_OHM / (METER_OHM + ohm)
    return {"volts-return": shown(at.signal_v, at.return_v, signal_ohm + rail.return_ohm),
            "volts-battery": shown(at.signal_v, battery_v, signal_ohm),
            "supply-return": shown(at.supply_v, at.return_v, supply_ohm + rail.return_ohm),
            "supply-battery": shown(at.supply_v, battery_v, supply_ohm),
            "return-battery": shown(at.return_v, battery_v, rail.return_ohm)}


def effective_supply_v(signal_v: float, ratio: float) -> float:
    """Supply [V] across the track that a signal [V] at a known `ratio` implies: signal over ratio (Ohm's law)."""
    return signal_v / ratio


def return_ohm_of(supply_to_return_v: float, supply_to_battery_v: float, track_ohm: float, ground_v: float = 0.0) -> float:
    """Ohms [ohm] in a return wire from two readings of a loaded supply, the module ground's own offset taken off.

    The current through the track is `supply_to_return_v` over `track_ohm`; what
    is missing of the volts to battery negative drops in the return. Below
    0.05 V or 1 % of the supply it counts as good (common practice, no source).
    """
    missing = supply_to_battery_v - ground_v - supply_to_return_v
    return missing * track_ohm / supply_to_return_v if supply_to_return_v > 0.0 else float("inf")


def return_is_bad(supply_to_return_v: float, supply_to_battery_v: float, ground_v: float = 0.0) -> bool:
    """Whether a return drops more than 0.05 V or 1 % of the supply, whichever is more (common practice, no source)."""
    missing = supply_to_battery_v - ground_v - supply_to_return_v
    return missing > max(0.05, 0.01 * abs(supply_to_battery_v))
