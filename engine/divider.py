"""Owns the three-wire circuit: supply, return and signal wire, with a track, a stand-in or an output stage between them."""

from typing import NamedTuple

from engine.circuit import METER_OHM, Feed, parallel, plug_volts
from engine.compiled import inlined

# In series with a wiper that may meet the rail, and from supply to signal when feeding through (common practice, no source).
WIPER_OHM, FEED_THROUGH_OHM = 1000.0, 5000.0
# An output stage's own resistance (common practice, no source).
OUTPUT_OHM = 100.0
# Above this a 5 V supply is fed from elsewhere: nothing is connected (published code limits, 5.5 V).
STOP_ABOVE_V = 5.5


class Rail(NamedTuple):
    """The two ends the module gives a sensor: volts [V] against module ground and ohms in the way."""

    supply_v: float
    supply_ohm: float
    return_v: float
    return_ohm: float


class PlugVolts(NamedTuple):
    """Volts [V] against module ground at the plug's supply, return and signal side."""

    supply_v: float
    return_v: float
    signal_v: float


class PinVolts(NamedTuple):
    """Volts [V] between a plug's pins, or a pin and battery negative."""

    to_return: float
    to_battery: float
    supply_to_return: float
    supply_to_battery: float
    return_to_battery: float


@inlined
def _over(part: float, whole: float) -> float:
    """`part` over `whole`; over nothing, `part` itself."""
    return part / whole if whole > 0.0 else part


@inlined
def divided(rail: Rail, fed: Feed, ratio: float, track_ohm: float, wiper_ohm: float, top_ohm: float = 0.0,
            bottom_ohm: float = 0.0) -> PlugVolts:
    """A track of `track_ohm` between the rail's ends with its wiper at `ratio` from the return end, on the input `fed`.

    `wiper_ohm` leads from the wiper to the plug, `top_ohm` and `bottom_ohm`
    are added at the track's ends (contacts, breaks). One tree of resistors,
    folded (Thevenin, Millman): exact. Kirchhoff's laws; any circuit text.

    A 10 kohm track with its 1 kohm wiper lead on 100 kohm to ground:

    >>> from engine.circuit import feed
    >>> at = divided(Rail(5.0, 0.0, 0.0, 0.0), feed(0.0, 100e3, 0.0), 0.5, 10e3, 1e3)
    >>> round(at.signal_v / 5.0, 3)
    0.483
    """
    above = rail.supply_ohm + top_ohm + (1.0 - ratio) * track_ohm
    below = rail.return_ohm + bottom_ohm + ratio * track_ohm
    open_v = _over(rail.supply_v * below + rail.return_v * above, above + below)
    own_ohm = _over(above * below, above + below) + wiper_ohm
    signal_v = plug_volts(fed, own_ohm, open_v)
    # The input's small current through the wiper moves the tap.
    tap_v = signal_v + (open_v - signal_v) * _over(wiper_ohm, own_ohm)
    supply_v = rail.supply_v - (rail.supply_v - tap_v) * _over(rail.supply_ohm, above)
    return_v = rail.return_v + (tap_v - rail.return_v) * _over(rail.return_ohm, below)
    return PlugVolts(supply_v, return_v, signal_v)


@inlined
def loaded(rail: Rail, load_ohm: float) -> Rail:
    """The rail behind a splice where other sensors take `load_ohm` [ohm] from supply to return.

    Thevenin's theorem; exact where ohms lie in the supply or in the return, not
    in both. Others of 1 kohm leave half of 5 V where the supply wire has 1 kohm:

    >>> [round(x, 1) for x in loaded(Rail(5.0, 1000.0, 0.0, 0.0), 1000.0)]
    [2.5, 500.0, 0.0, 0.0]
    """
    total = rail.supply_ohm + load_ohm + rail.return_ohm
    down = (rail.supply_v - rail.return_v) / total
    return Rail(rail.supply_v - down * rail.supply_ohm, rail.supply_ohm * (total - rail.supply_ohm) / total,
                rail.return_v + down * rail.return_ohm, rail.return_ohm * (total - rail.return_ohm) / total)


@inlined
def put_out(rail: Rail, fed: Feed, ratio: float, load_ohm: float, output_ohm: float = OUTPUT_OHM) -> PlugVolts:
    """A sensor with an output stage: it takes its current through `load_ohm` and puts out `ratio` of what it is given."""
    total = rail.supply_ohm + load_ohm + rail.return_ohm
    amps = (rail.supply_v - rail.return_v) / total
    supply_v, return_v = rail.supply_v - amps * rail.supply_ohm, rail.return_v + amps * rail.return_ohm
    signal_v = plug_volts(fed, output_ohm, return_v + ratio * (supply_v - return_v))
    return PlugVolts(supply_v, return_v, signal_v)


@inlined
def open_plug(rail: Rail, fed: Feed, through_ohm: float = 0.0) -> PlugVolts:
    """Nothing on the plug, or `through_ohm`, if any, from its supply to its signal pin."""
    if through_ohm == 0.0:
        return PlugVolts(rail.supply_v, rail.return_v, fed.volts)
    signal_v = plug_volts(fed, through_ohm + rail.supply_ohm, rail.supply_v)
    supply_v = rail.supply_v - (rail.supply_v - signal_v) * rail.supply_ohm / (through_ohm + rail.supply_ohm)
    return PlugVolts(supply_v, rail.return_v, signal_v)


@inlined
def across_open(rail: Rail, fed: Feed, battery_v: float, through_ohm: float = 0.0) -> PinVolts:
    """Volts a meter shows on such a plug between two of its pins, or a pin and battery negative at `battery_v`.

    Only the meter's own ohms draw current there: a broken supply or return
    leaves hardly any volts on it. Each is measured by itself (Thevenin; any
    circuit text).

    >>> from engine.circuit import feed
    >>> broken = Rail(5.0, 0.5, 0.0, 1e9)
    >>> round(across_open(broken, feed(0.0, 100e3, 0.0), 0.0).supply_to_return, 2)
    0.05
    """
    at = open_plug(rail, fed, through_ohm)
    signal_ohm, supply_ohm = fed.ohm, rail.supply_ohm
    if through_ohm != 0.0:
        signal_ohm = parallel(fed.ohm, through_ohm + rail.supply_ohm)
        supply_ohm = parallel(rail.supply_ohm, through_ohm + fed.ohm)
    return PinVolts(_metered(at.signal_v - at.return_v, signal_ohm + rail.return_ohm), _metered(at.signal_v - battery_v, signal_ohm),
                    _metered(at.supply_v - at.return_v, supply_ohm + rail.return_ohm), _metered(at.supply_v - battery_v, supply_ohm),
                    _metered(at.return_v - battery_v, rail.return_ohm))


@inlined
def _metered(volts: float, ohm: float) -> float:
    """What a meter shows of `volts` behind `ohm`."""
    return volts * METER_OHM / (METER_OHM + ohm)


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
