"""Owns the dial sheet of three-wire sensors: for wanted values the ratio to divide by, and what volts and number follow."""

from typing import NamedTuple

import numpy as np

from engine.circuit import InputCircuit, feed
from engine.divider import WIPER_OHM, Rail, divided
from engine.errors import InputError
from engine.lines import Line
from engine.quantities import Quantity
from engine.stand_in import Meter, StandIn, contact_step, hand_step
from engine.survival import survival
from engine.behind import DOWN_LN_OHM
from engine.units import finite

MOST_ROWS = 60
SUPPLY_V = 5.0
# An input nobody knows: the light loads that are met, to ground or to its supply (common practice, no source).
LIGHTEST_OHM, HEAVIEST_OHM = 1e6, 5e4
# Two resistors that divide draw a milliampere or so: neither the supply nor the input is burdened.
LEAST_TOTAL_OHM, MOST_TOTAL_OHM = 1000.0, 20e3
REFERENCE_SHARE = 0.01
NEAR_WITHIN = 0.02


class DivideRow(NamedTuple):
    """One line of the sheet, values in the quantity's unit (percent or kPa); None where nothing can be set or said.

    `ratio` is what to set: ohms from the return leg to the wiper over the
    whole track, the input's load already made up for where it is known.
    `ohm` [ohm] is that as an ohmmeter shows it, `parts` the two resistors
    (return side, supply side) of a fixed divider. `reach` and `known` are
    half-widths of the value; `plug_v` [V] stands between signal and return;
    `other_leg` is what live data would show with the outer legs swapped.
    """

    value: float
    ratio: float
    ohm: float | None
    parts: tuple[float, ...]
    reach: float | None
    known: float | None
    share: float
    plug_v: float
    plug_v_band: tuple[float, float]
    shows: float
    shows_band: tuple[float, float]
    current_a: float
    survival: str
    remedy: str
    outside: bool
    other_leg: float
    note: str


def divide_sheet(circuit: InputCircuit, line: Line, stand_in: StandIn, meter: Meter, values: object,
                 scale: Quantity) -> tuple[DivideRow, ...]:
    """Rows for each of `values` (percent or kPa), in the order given.

    Raises InputError for more than 60 values, or one at which the line leaves
    its supply.
    """
    wanted = [finite(value, f"values[{i}]", -1e6, 1e6, f"a value in {scale.unit}") for i, value in enumerate(values)]
    if len(wanted) > MOST_ROWS:
        raise InputError("values", f"{len(wanted)} values", f"a sheet takes at most {MOST_ROWS}")
    for i, value in enumerate(wanted):
        if not 0.0 <= float(line.ratio(value)) <= 1.0:
            low, high = sorted((line.value(0.0), line.value(1.0)))
            raise InputError(f"values[{i}]", value, f"this line reaches from {low:g} to {high:g} {scale.unit}")
    return tuple(_row(circuit, line, stand_in, meter, value, scale) for value in wanted)


def loaded_share(ratio: object, track_ohm: float, input_ohm: float, up: bool = False) -> np.ndarray:
    """Share of the supply at the signal pin for a divider at `ratio` with 1 kohm in its wiper, on `input_ohm`.

    >>> round(float(loaded_share(0.5, 10e3, 100e3)), 3)
    0.483
    """
    fed = feed(1.0 if up else 0.0, input_ohm, 0.0)
    return divided(Rail(1.0, 0.0, 0.0, 0.0), fed, ratio, track_ohm, WIPER_OHM).signal_v


def ratio_for(share: float, track_ohm: float, input_ohm: float, up: bool = False) -> float:
    """Ratio to set so that the loaded divider puts out `share`; bisection, the share only rises with the ratio."""
    low, high = 0.0, 1.0
    for _ in range(50):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if loaded_share(middle, track_ohm, input_ohm, up) < share else (low, middle)
    return 0.5 * (low + high)


def settable_ratio(stand_in: StandIn, ratio: float) -> float | None:
    """`ratio` as the stand-in in hand gives it, None where it cannot divide or not within 0.02."""
    if stand_in.kind == "potentiometer":
        return ratio
    parts = _two_fixed(stand_in.ohms, ratio) if stand_in.kind == "fixed" else ()
    return parts[0] / sum(parts) if parts else None


def _row(circuit: InputCircuit, line: Line, stand_in: StandIn, meter: Meter, value: float, scale: Quantity) -> DivideRow:
    supply_v = circuit.reference_v or SUPPLY_V
    share = float(line.ratio(value))
    total = stand_in.end_to_end_ohm or 1e4
    known_load = circuit.source_ohm is not None and circuit.pull is not None
    aim = ratio_for(share, total, circuit.source_ohm, circuit.pull == "up") if known_load else share
    parts = _two_fixed(stand_in.ohms, aim) if stand_in.kind == "fixed" else ()
    if parts:
        total = sum(parts)
    settable = bool(parts) or (stand_in.kind == "potentiometer" and stand_in.end_to_end_ohm is not None)
    ratio = parts[0] / total if parts else aim
    reach = 0.0 if parts else hand_step(stand_in) / total
    known = _ratio_band(meter, ratio, total) + (0.0 if parts else contact_step(stand_in) / 4.0 / total)
    shares = _shares(circuit, ratio, total, known)
    middle = shares[len(shares) // 2]
    steps = 0.5 ** (circuit.bits or 9) / 2.0
    ends = line.value(np.array([min(shares) - steps, max(shares) + steps]))
    shown = [float(np.clip(v, scale.low_end, scale.high_end)) for v in (float(line.value(middle)), min(ends), max(ends))]
    half = abs(line.slope)
    alive = survival(stand_in, total, supply_v / total, parts)
    low_v, high_v = min(shares) * supply_v * (1 - REFERENCE_SHARE), max(shares) * supply_v * (1 + REFERENCE_SHARE)
    return DivideRow(value, ratio, ratio * total if settable else None, parts, reach * half if settable else None,
                     known * half if settable else None, middle, middle * supply_v, (low_v, high_v), shown[0],
                     (shown[1] - scale.whole / 2, shown[2] + scale.whole / 2), supply_v / total,
                     alive.state if settable else "refused", _remedy(stand_in, settable, alive.remedy),
                     _outside(circuit, middle * supply_v), float(np.clip(line.value(1.0 - middle), scale.low_end, scale.high_end)),
                     " ".join(_notes(circuit, line, value, middle * supply_v, known_load)))


def _notes(circuit: InputCircuit, line: Line, value: float, volts: float, known_load: bool) -> list[str]:
    out = [] if known_load else ["The input's own load may take a little off: read the volts on it."]
    learned = circuit.learned_v
    if learned is not None and value == line.value_low and abs(volts - learned) > circuit.learned_within_v:
        out.append(f"The module has learned {learned:.2f} V for this stop and takes it only within {circuit.learned_within_v:.2f} V: "
                   f"set {learned / (circuit.reference_v or SUPPLY_V):.3f} instead.")
    return out


def _shares(circuit: InputCircuit, ratio: float, total: float, known: float) -> list[float]:
    """Shares at the pin, in ascending order: each end of what is known of setting and load, and the middle."""
    if circuit.source_ohm is not None:
        loads = [circuit.source_ohm]
    else:
        loads = [HEAVIEST_OHM, float(np.exp(DOWN_LN_OHM)), LIGHTEST_OHM]
    ways = [circuit.pull == "up"] if circuit.pull is not None else [False, True]
    middle = float(loaded_share(ratio, total, loads[len(loads) // 2], ways[0]))
    ends = [float(loaded_share(np.clip(ratio + off, 0.0, 1.0), total, load, up))
            for off in (-known, known) for load in loads for up in ways]
    return [min(ends), middle, max(ends)]


def _ratio_band(meter: Meter, ratio: float, total: float) -> float:
    """Largest error of a ratio of two measured ohms: most of the meter's percent is common to both."""
    return float((meter.ohm_band(ratio * total) / max(ratio * total, 1.0) + meter.ohm_band(total) / total) * ratio * (1.0 - ratio))


def _two_fixed(ohms: tuple[float, ...], ratio: float) -> tuple[float, ...]:
    """Two of the resistors in hand (return side, supply side) nearest to `ratio`, () where none come within 0.02."""
    values = np.array(ohms)
    total = values[:, None] + values[None, :]
    off = np.abs(values[:, None] / total - ratio)
    off[(total < LEAST_TOTAL_OHM) | (total > MOST_TOTAL_OHM)] = np.inf
    below, above = np.unravel_index(int(np.argmin(off)), off.shape)
    return (float(values[below]), float(values[above])) if off[below, above] <= NEAR_WITHIN else ()


def _outside(circuit: InputCircuit, volts: float) -> bool:
    low, high = circuit.low_limit_v, circuit.high_limit_v
    return (low is not None and volts < low) or (high is not None and volts > high)


def _remedy(stand_in: StandIn, settable: bool, remedy: str) -> str:
    if settable:
        return remedy
    if stand_in.kind == "potentiometer":
        return "Measure the potentiometer end to end first."
    if stand_in.kind == "decade-box":
        return "A decade box alone cannot divide: use a potentiometer of 5 to 10 kohm, or two resistors."
    return "No two resistors in hand divide so: use a potentiometer of 5 to 10 kohm."
