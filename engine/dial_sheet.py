"""Owns the dial sheet: for wanted temperatures, what to set, how nearly, and what volts and live data will show."""

from typing import NamedTuple

import numpy as np

from engine.circuit import InputCircuit, solve
from engine.curves import Curve
from engine.errors import InputError
from engine.model import PART_SD, SOURCE_LN_MEAN, SOURCE_LN_SD
from engine.module import COLD_END_C, HOT_END_C, converter_step_c, converter_volts
from engine.stand_in import Meter, Setting, StandIn, set_to
from engine.survival import survival
from engine.units import finite

MOST_ROWS = 60
# Two standard deviations, 95 % by linear propagation (JCGM 100:2008, the GUM, clause 6).
COVERAGE = 2.0
WHOLE_DEGREE_C = 0.5
ASSUMED_REFERENCE_V = 5.0


class DialRow(NamedTuple):
    """One line of the sheet; `+-` figures are half-widths, None where nothing can be set or said.

    `reach_c` and `known_c` [degC] come from both ends on the curve.
    `shows_band_c` is where live data honestly may stand.
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


def dial_sheet(circuit: InputCircuit, curve: Curve, stand_in: StandIn, meter: Meter,
               temperatures_c: object) -> tuple[DialRow, ...]:
    """Rows for each of `temperatures_c` [degC], in the order given.

    A value the stand-in cannot be brought to still has its volts and reading,
    with `survival` "refused" and a remedy saying what part would do. Raises
    InputError for more than 60 temperatures or one beyond -80..1000 degC.
    """
    wanted = [finite(t, f"temperatures[{i}]", -80.0, 1000.0, "a temperature from -80 to 1000 degC")
              for i, t in enumerate(temperatures_c)]
    if len(wanted) > MOST_ROWS:
        raise InputError("temperatures", f"{len(wanted)} values", f"a sheet takes at most {MOST_ROWS}")
    return tuple(_row(circuit, curve, stand_in, meter, t) for t in wanted)


def _row(circuit: InputCircuit, curve: Curve, stand_in: StandIn, meter: Meter, temperature_c: float) -> DialRow:
    aim = float(curve.ohm_at(temperature_c))
    setting = set_to(stand_in, meter, aim)
    ohm = setting.ohm if setting else aim
    known = setting.known_ohm if setting else meter.ohm_band(ohm)
    open_v = circuit.open_v if circuit.open_v is not None else circuit.reference_v or ASSUMED_REFERENCE_V
    sources = _sources(circuit, temperature_c)
    volts = [float(solve(open_v=open_v, source_ohm=s, element_ohm=o).plug_v)
             for s, o in ((sources[1], ohm), (sources[2], ohm - known), (sources[0], ohm + known))]
    current = (open_v - volts[0]) / sources[1]
    shows = float(np.clip(curve.temperature_at(ohm), COLD_END_C, HOT_END_C))
    alive = survival(stand_in, ohm, current)
    state, remedy = (alive.state, alive.remedy) if setting else ("refused", _better(stand_in, aim))
    if setting and state == "fine":
        remedy = _coarse(curve, stand_in, setting)
    return DialRow(temperature_c, ohm, setting.parts if setting else (), setting.reach_ohm if setting else None,
                   _half_c(curve, ohm, setting.reach_ohm) if setting else None, known if setting else None,
                   _half_c(curve, ohm, known) if setting else None, volts[0], (min(volts[1:]), max(volts[1:])), shows,
                   _band(circuit, curve, ohm, known, open_v, sources[1]), current, alive.watts, state, remedy)


def _sources(circuit: InputCircuit, temperature_c: float) -> tuple[float, float, float]:
    """Low, likely and high input resistor [ohm]; the second one where the module has switched over."""
    known = circuit.source_ohm
    if known is None:
        mid = float(np.exp(SOURCE_LN_MEAN))
        spread = float(np.exp(SOURCE_LN_SD * 1.5))
        return mid / spread, mid, mid * spread
    if circuit.second_source_ohm is not None and circuit.switch_at_c is not None and temperature_c > circuit.switch_at_c:
        known = circuit.second_source_ohm
    return known * (1 - COVERAGE * PART_SD), known, known * (1 + COVERAGE * PART_SD)


def _band(circuit: InputCircuit, curve: Curve, ohm: float, known: float, open_v: float,
          source: float) -> tuple[float, float]:
    """Where live data may stand: the set value, the module's parts, one converter step and whole degrees together."""
    spread = COVERAGE * float(np.hypot(known / max(ohm, 1e-6) / np.sqrt(3.0), PART_SD))
    ends = curve.temperature_at(ohm * np.exp([-spread, spread]))
    short_v = circuit.short_v or 0.0
    pin = float(solve(open_v=open_v, source_ohm=source, element_ohm=ohm).pin_v)
    step = float(converter_step_c(converter_volts(pin, open_v, short_v), open_v, short_v, circuit.bits,
                                  float(curve.temperature_at(ohm))))
    extra = WHOLE_DEGREE_C + step / 2
    return (float(np.clip(min(ends) - extra, COLD_END_C, HOT_END_C)),
            float(np.clip(max(ends) + extra, COLD_END_C, HOT_END_C)))


def _half_c(curve: Curve, ohm: float, half_ohm: float) -> float:
    """Half the distance [degC] between both ends of ohm +- half_ohm, evaluated on the curve."""
    low, high = curve.temperature_at([max(ohm - half_ohm, ohm * 0.05), ohm + half_ohm])
    return abs(float(high - low)) / 2.0


def _coarse(curve: Curve, stand_in: StandIn, setting: Setting) -> str:
    """A plain remedy where one hand movement is worth more than two degrees."""
    if stand_in.kind != "potentiometer" or _half_c(curve, setting.ohm, setting.reach_ohm) <= 2.0:
        return ""
    return (f"Coarse here: a potentiometer of about {_round(setting.ohm * 2)} ohm, a ten-turn one, or a fixed resistor "
            f"near {_round(setting.ohm)} ohm sets it finer.")


def _better(stand_in: StandIn, aim: float) -> str:
    if stand_in.kind == "fixed":
        return f"No resistor or pair in hand comes within 10 %: {_round(aim)} ohm is wanted."
    total = stand_in.end_to_end_ohm
    if total is None:
        return f"Measure the stand-in end to end first; {_round(aim)} ohm is wanted here."
    if aim > total:
        return f"Beyond this stand-in's {_round(total)} ohm: add a fixed resistor of about {_round(aim - total / 2)} ohm in series."
    return f"Below what this stand-in can hold: use a fixed resistor of about {_round(aim)} ohm."


def _round(ohm: float) -> str:
    return f"{float(f'{ohm:.2g}'):g}"
