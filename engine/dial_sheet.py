"""Owns the dial sheet: for wanted temperatures or levels, what to set, how nearly, and what volts and live data will show."""

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np

from engine.circuit import InputCircuit, solve
from engine.curves import Curve
from engine.errors import InputError
from engine.input_fits import feeds_together
from engine.quantities import GAUGE, TEMPERATURE, Quantity
from engine.module import COLD_END_C, HOT_END_C, UNKNOWN_BITS, assumed_ohm, converter_volts
from engine.preferred_values import nearest_parts, preferred
from engine.stand_in import Meter, Setting, StandIn, other_leg_ohm, set_to
from engine.survival import Survival, survival
from engine.units import finite
from engine.behind import PART_SD

MOST_ROWS = 60
# Two standard deviations, 95 % by linear propagation (JCGM 100:2008, the GUM, clause 6).
COVERAGE = 2.0
# Live data moves in whole degrees, and in 100/255 percent (SAE J1979): half a step.
HALF_STEP_C, HALF_STEP_PERCENT = 0.5, 50.0 / 255.0
WIDEST_CONVERTER_HALF_C = 30.0
# What any parts shop has: E24 from 1 ohm to 10 Mohm.
SHOP_DRAWER = preferred("E24", 1.0, 1e7)
ASSUMED_REFERENCE_V = 5.0
TWO_VOLTS = "Two voltages are right here: which one depends on the range the module was in before."
STROBED = "The module feeds this input in pulses: a scope sees these volts, a meter shows an average."


class DialRow(NamedTuple):
    """One line of the sheet; `+-` figures are half-widths, None where nothing can be set or said.

    On a level curve all that is named degC is percent. `ohm` is what an
    ohmmeter reads on the stand-in; volts and live data are those with its
    leads. `reach_c` and `known_c` [degC] come from both ends on the curve.
    `plug_v` [V] is what a scope sees; where a module that switches its input
    resistor may be in either range, `other_plug_v` is the other voltage and
    `plug_v_band` holds both. `shows_band_c` is where live data honestly may
    stand; `outside` says that a code sets there and a default may be shown
    instead. `other_leg_c` is what live data would show with the lead on the
    wrong outer leg, `note` a plain sentence on the volts or "".
    """

    temperature_c: float
    ohm: float
    parts: tuple[float, ...]
    reach_ohm: float | None
    reach_c: float | None
    known_ohm: float | None
    known_c: float | None
    plug_v: float
    plug_v_band: tuple[float, float]
    shows_c: float
    shows_band_c: tuple[float, float]
    current_a: float
    watts: float
    survival: str
    remedy: str
    other_plug_v: float | None = None
    outside: bool = False
    other_leg_c: float | None = None
    note: str = ""


def dial_sheet(circuit: InputCircuit, curve: Curve, stand_in: StandIn, meter: Meter,
               temperatures_c: object) -> tuple[DialRow, ...]:
    """Rows for each of `temperatures_c` [degC, or percent on a level curve], in the order given.

    A value the stand-in cannot be brought to still has its volts and reading,
    with `survival` "refused" and a remedy saying what part would do. Raises
    InputError for more than 60 temperatures or one beyond -80..1000 degC, or
    a level beyond 0..100 percent.
    """
    low, high, said = ((0.0, 100.0, "a level from 0 to 100 percent") if curve.quantity == "level"
                       else (-80.0, 1000.0, "a temperature from -80 to 1000 degC"))
    wanted = [finite(t, f"temperatures[{i}]", low, high, said) for i, t in enumerate(temperatures_c)]
    if len(wanted) > MOST_ROWS:
        raise InputError("temperatures", f"{len(wanted)} values", f"a sheet takes at most {MOST_ROWS}")
    module = _Module(circuit, curve)
    return tuple(_row(module, stand_in, meter, t) for t in wanted)


def _row(module: "_Module", stand_in: StandIn, meter: Meter, temperature_c: float) -> DialRow:
    curve = module.curve
    aim = float(curve.ohm_at(temperature_c))
    setting = set_to(stand_in, meter, aim - stand_in.lead_ohm)
    ohm, plug_ohm, known = ((setting.ohm, setting.plug_ohm, setting.known_ohm) if setting
                            else (aim, aim, meter.ohm_band(aim)))
    ranges = module.ranges(plug_ohm, _half_c(curve, plug_ohm, known))
    volts = [module.plug_v(source, plug_ohm) for source in ranges]
    edges = [module.plug_v(source * (1.0 + module.source_share) ** way, plug_ohm - way * known)
             for source in ranges for way in (1, -1)]
    bands = [module.shows_band_c(source, plug_ohm, known) for source in ranges]
    alive = survival(stand_in, ohm, max(volts) / plug_ohm, setting.parts if setting else ())
    state, remedy = _remedy(curve, stand_in, setting, aim, alive)
    other = other_leg_ohm(stand_in, ohm) if setting else None
    notes = [TWO_VOLTS] * (len(ranges) > 1) + [STROBED] * module.circuit.strobed
    return DialRow(temperature_c, ohm, setting.parts if setting else (), setting.reach_ohm if setting else None,
                   _half_c(curve, plug_ohm, setting.reach_ohm) if setting else None, known if setting else None,
                   _half_c(curve, plug_ohm, known) if setting else None, volts[0], (min(edges), max(edges)),
                   module.shows_c(ranges[0], plug_ohm),
                   (min(low for low, _ in bands), max(high for _, high in bands)), alive.current_a, alive.watts, state,
                   remedy, volts[1] if len(volts) > 1 else None, any(map(module.outside, volts)),
                   None if other is None else module.shows_c(ranges[0], other + stand_in.lead_ohm), " ".join(notes))


@dataclass(frozen=True)
class _Module:
    """A circuit and curve as the dial sheet sees them; `source` [ohm] is the input resistor of the range it is in."""

    circuit: InputCircuit
    curve: Curve

    @cached_property
    def open_v(self) -> float:
        """Volts of the module's own feed [V]."""
        return self.circuit.open_v if self.circuit.open_v is not None else self.circuit.reference_v or ASSUMED_REFERENCE_V

    @property
    def scale(self) -> Quantity:
        """What reads it: a pointer behind its coil, or a module."""
        return GAUGE if self.circuit.pointer else TEMPERATURE

    @property
    def source_share(self) -> float:
        """How far the input resistor may stray up, as a share of it, and by the same factor down."""
        return COVERAGE * PART_SD if self.circuit.source_ohm is not None else float(np.expm1(self.scale.source_ln_sd * 1.5))

    @property
    def ends(self) -> tuple[float, float]:
        """What live data can show: the temperature byte's ends, or beyond where the curve itself is stated beyond."""
        if self.curve.quantity == "level":
            return 0.0, 100.0
        return COLD_END_C, max(HOT_END_C, self.curve.range_c[1])

    def ranges(self, ohm: float, known_c: float) -> tuple[float, ...]:
        """Input resistors [ohm] the module may be using with `ohm` on the plug: the likely one first."""
        circuit = self.circuit
        first = circuit.source_ohm if circuit.source_ohm is not None else self.scale.source_ohm
        second = circuit.second_source_ohm
        if second is None:
            return (first,)
        if circuit.switch_at_c is None:
            return first, second
        # Ohms to temperature first: the volts mean nothing before the range is known.
        past = float(self.curve.temperature_at(self.seen_ohm(first, ohm))) - circuit.switch_at_c
        likely = (first, second) if past <= 0.0 else (second, first)
        return likely if abs(past) <= circuit.switch_band_c / 2 + known_c else likely[:1]

    def plug_v(self, source: float, ohm: float) -> float:
        """Volts [V] at the plug with `ohm` on it; another instrument's feed on the same wire counts beside the module's."""
        feed_v, feed_ohm, other_ohm = self.open_v, source, self.circuit.second_instrument_ohm
        if other_ohm is not None:
            other_v = self.circuit.second_instrument_v
            feed_v, feed_ohm = feeds_together([self.open_v, self.open_v if other_v is None else other_v], [source, other_ohm])
        return float(solve(open_v=feed_v, source_ohm=feed_ohm, element_ohm=max(ohm, 0.0)).plug_v)

    def converter_v(self, pin_v: float) -> float:
        """Volts [V] the converter sees."""
        return float(converter_volts(pin_v, self.open_v, self.circuit.short_v or 0.0))

    def seen_ohm(self, source: float, ohm: object) -> np.ndarray:
        """Ohms [ohm] the module takes to be on its plug: those that are there, unless another instrument feeds the wire."""
        if self.circuit.second_instrument_ohm is None:
            return np.asarray(ohm, float)
        seen = [self.converter_v(self.plug_v(source, float(one))) for one in np.atleast_1d(ohm)]
        return assumed_ohm(seen, self.open_v, self.circuit.short_v or 0.0, source).reshape(np.shape(ohm))

    def shows_c(self, source: float, ohm: float) -> float:
        """What live data shows [degC] with `ohm` on the plug."""
        return float(np.clip(self.curve.temperature_at(self.seen_ohm(source, ohm)), *self.ends))

    def shows_band_c(self, source: float, ohm: float, known: float) -> tuple[float, float]:
        """Where live data may stand: the set value, the module's parts, one converter step and one step of live data."""
        feeds = 1 if self.circuit.second_instrument_ohm is None else 2
        spread = COVERAGE * float(np.hypot(known / max(ohm, 1e-6) / np.sqrt(3.0), PART_SD * np.sqrt(feeds)))
        ends = self.curve.temperature_at(self.seen_ohm(source, ohm * np.exp([-spread, spread])))
        half_v = (self.circuit.reference_v or self.open_v) / 2.0 ** (self.circuit.bits or UNKNOWN_BITS) / 2.0
        pin = self.converter_v(self.plug_v(source, ohm)) + np.array([-half_v, half_v])
        step = self.curve.temperature_at(assumed_ohm(pin, self.open_v, self.circuit.short_v or 0.0, source))
        extra = min(float(np.ptp(step)) / 2.0, WIDEST_CONVERTER_HALF_C)
        extra += HALF_STEP_PERCENT if self.curve.quantity == "level" else HALF_STEP_C
        low, high = np.clip([np.min(ends) - extra, np.max(ends) + extra], *self.ends)
        return float(low), float(high)

    def outside(self, plug_v: float) -> bool:
        """Whether the module sets a code at these volts, where its limits are known."""
        volts, low, high = self.converter_v(plug_v), self.circuit.low_limit_v, self.circuit.high_limit_v
        return (low is not None and volts < low) or (high is not None and volts > high)


def _remedy(curve: Curve, stand_in: StandIn, setting: Setting | None, aim: float, alive: Survival) -> tuple[str, str]:
    """Whether the stand-in may be connected, and what would serve better."""
    if setting is None:
        return "refused", _better(stand_in, aim)
    return alive.state, _coarse(curve, stand_in, setting) if alive.state == "fine" else alive.remedy


def _half_c(curve: Curve, ohm: float, half_ohm: float) -> float:
    """Half the distance [degC] between both ends of ohm +- half_ohm, evaluated on the curve."""
    low, high = curve.temperature_at([max(ohm - half_ohm, ohm * 0.05), ohm + half_ohm])
    return abs(float(high - low)) / 2.0


def _coarse(curve: Curve, stand_in: StandIn, setting: Setting) -> str:
    """A plain remedy where one hand movement is worth more than two degrees."""
    if stand_in.kind != "potentiometer" or _half_c(curve, setting.ohm, setting.reach_ohm) <= 2.0:
        return ""
    smaller = f"a potentiometer of about {_round(setting.ohm * 2)} ohm"
    return f"Coarse here: {smaller}, a ten-turn one, or {_fixed(setting.ohm)} sets it finer."


def _better(stand_in: StandIn, aim: float) -> str:
    """What part would reach `aim` [ohm] where this one cannot."""
    if stand_in.kind == "fixed":
        return f"No resistor or pair in hand comes within 10 % of {_round(aim)} ohm: use {_fixed(aim)}."
    total = stand_in.end_to_end_ohm
    if total is None:
        return f"Measure the stand-in end to end first; {_round(aim)} ohm is wanted here."
    if aim > total:
        add = nearest_parts(SHOP_DRAWER, aim - total / 2, pairs=False).ohm
        best = (f"put a fixed resistor of {add:.12g} ohm in series with it" if abs(add - aim + total / 2) < 0.45 * total
                else f"use {_fixed(aim)} instead")
        return f"Beyond this stand-in's {_round(total)} ohm: {best}."
    return f"Below what this stand-in can hold: use {_fixed(aim)}."


def _fixed(ohm: float) -> str:
    """The E24 part nearest to `ohm` [ohm] where it is within 1 %, otherwise the nearest pair."""
    one = nearest_parts(SHOP_DRAWER, ohm, pairs=False)
    if abs(one.ohm / ohm - 1.0) <= 0.01:
        return f"a fixed resistor of {one.ohm:.12g} ohm"
    pair = nearest_parts(SHOP_DRAWER, ohm)
    if len(pair.parts) == 1:
        return f"a fixed resistor of about {_round(ohm)} ohm"
    joined = "in series" if pair.ohm > max(pair.parts) else "in parallel"
    return f"fixed resistors of {pair.parts[0]:.12g} and {pair.parts[1]:.12g} ohm {joined}"


def _round(ohm: float) -> str:
    return f"{float(f'{ohm:.2g}'):g}"
