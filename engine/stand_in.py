"""Owns what is put in the sensor's place: how near a hand can bring it to a value, and how well that value is known."""

from dataclasses import dataclass

import numpy as np

from engine.errors import InputError
from engine.kit import MOST_IN_KIT, nearest_value
from engine.preferred_values import nearest_parts
from engine.units import finite

KINDS = ("potentiometer", "decade-box", "fixed")
# One hand movement of a knob is about 1.5 degrees of the 270 of a turn. Winding and contact vary by about 1 % of the total
# or 3 ohm over a whole turn; one small movement meets a tenth of the former, or of a small total no more than 1 % of it
# (common practice, no source).
HAND_STEP_DEGREES = 1.5
TURN_DEGREES = 270.0
CONTACT_SHARE, CONTACT_OHM = 0.001, 3.0
DECADE_STEP_OHM, DECADE_TOP_OHM = 1.0, 1e6
# A drawer of E96 values from 0.1 ohm to 100 Mohm holds 865.
MOST_PARTS = 900
# A curve value equal to the end-to-end value in print may differ in the last digit.
END_ROUNDING = 1.0 + 1e-9


@dataclass(frozen=True)
class StandIn:
    """A potentiometer (end to end as measured, turns, watts), a decade box, or fixed resistors `ohms` in hand.

    A drawer is kind "fixed" with the values of a series (engine.preferred_values).
    `lead_ohm` [ohm] is what the leads add between the part as measured and the
    plug: 0 where the value is taken at the leads' far ends (common practice,
    no source: two leads of a metre with their clips are about 0.2 ohm).
    """

    kind: str = "potentiometer"
    end_to_end_ohm: float | None = None
    turns: float = 1.0
    watts: float = 0.25
    ohms: tuple[float, ...] = ()
    lead_ohm: float = 0.2

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise InputError("stand_in.kind", self.kind, f"it is one of {', '.join(KINDS)}")
        if self.end_to_end_ohm is not None:
            finite(self.end_to_end_ohm, "stand_in.end_to_end_ohm", 1.0, 1e8, "ohms from 1 to 1e8")
        finite(self.turns, "stand_in.turns", 0.5, 40.0, "turns from 0.5 to 40")
        finite(self.watts, "stand_in.watts", 0.01, 500.0, "watts from 0.01 to 500")
        finite(self.lead_ohm, "stand_in.lead_ohm", 0.0, 10.0, "ohms from 0 to 10")
        if len(self.ohms) > MOST_PARTS:
            raise InputError("stand_in.ohms", f"{len(self.ohms)} values", f"list at most {MOST_PARTS} fixed resistors")
        for i, ohm in enumerate(self.ohms):
            finite(ohm, f"stand_in.ohms[{i}]", 0.1, 1e8, "ohms from 0.1 to 1e8")
        if self.kind == "fixed" and not self.ohms:
            raise InputError("stand_in.ohms", "empty", "fixed resistors need at least one value")


@dataclass(frozen=True)
class Meter:
    """A hand meter's class: percent of reading plus digits [ohm at the lowest range], and percent on volts."""

    ohm_percent: float = 0.8
    ohm_digits: float = 2.0
    volt_percent: float = 0.5

    def __post_init__(self) -> None:
        finite(self.ohm_percent, "meter.ohm_percent", 0.0, 20.0, "percent from 0 to 20")
        finite(self.ohm_digits, "meter.ohm_digits", 0.0, 100.0, "digits from 0 to 100")
        finite(self.volt_percent, "meter.volt_percent", 0.0, 20.0, "percent from 0 to 20")

    def ohm_band(self, ohm: float) -> float:
        """Largest error [ohm] when measuring `ohm`: percent of reading plus digits of a 4000-count range."""
        step = 0.1 * 10.0 ** max(0.0, np.ceil(np.log10(max(ohm, 1.0) / 400.0)))
        return ohm * self.ohm_percent / 100.0 + self.ohm_digits * float(step)

    def volt_band(self, volts: float) -> float:
        """Largest error [V] when measuring `volts`: percent of reading plus 5 mV."""
        return abs(volts) * self.volt_percent / 100.0 + 0.005


@dataclass(frozen=True)
class Setting:
    """A value the stand-in can be brought to: `ohm` as measured on the part, `parts` used, `reach_ohm` how near a hand
    gets (+-), `plug_ohm` what the plug then has, leads included, and `known_ohm` how well that is known (+-)."""

    ohm: float
    parts: tuple[float, ...]
    reach_ohm: float
    known_ohm: float
    plug_ohm: float


def set_to(stand_in: StandIn, meter: Meter, ohm: float) -> Setting | None:
    """How `stand_in` is set so that an ohmmeter on the part reads `ohm` [ohm], or None where it cannot be brought there.

    A potentiometer reaches from about its contact's step to its end-to-end
    value; fixed resistors give the nearest single value, or pair in series or
    parallel, of a small kit three in series too, within 10 %. Known is the meter's class, the leads and, on a
    track, the contact's drift.
    """
    if stand_in.kind == "fixed":
        few = len(stand_in.ohms) <= MOST_IN_KIT
        parts, value = (nearest_value if few else nearest_parts)(stand_in.ohms, max(ohm, 1e-9))
        miss, drift = abs(value - ohm), 0.0
        if miss > 0.10 * ohm:
            return None
    elif stand_in.kind == "decade-box":
        parts, value, miss, drift = (), float(np.round(ohm)), DECADE_STEP_OHM / 2, 0.0
        if not DECADE_STEP_OHM <= ohm <= (stand_in.end_to_end_ohm or DECADE_TOP_OHM):
            return None
    else:
        parts, value, miss, drift = (), ohm, hand_step(stand_in), contact_step(stand_in) / 4
        if stand_in.end_to_end_ohm is None or not (
                contact_step(stand_in) <= ohm <= stand_in.end_to_end_ohm * END_ROUNDING):
            return None
    return Setting(value, parts, miss, meter.ohm_band(value) + stand_in.lead_ohm + drift, value + stand_in.lead_ohm)


def hand_step(stand_in: StandIn) -> float:
    """Smallest change [ohm] of one hand movement: 1.5 degrees of knob, or one contact step, whichever is larger."""
    total = stand_in.end_to_end_ohm or 0.0
    turn = total * HAND_STEP_DEGREES / (TURN_DEGREES * stand_in.turns)
    return max(turn, contact_step(stand_in))


def contact_step(stand_in: StandIn) -> float:
    """What winding and wiper contact leave open [ohm]; finer on a multi-turn part."""
    total = stand_in.end_to_end_ohm or 0.0
    return max(total * CONTACT_SHARE, min(CONTACT_OHM, total * 0.01)) / max(1.0, stand_in.turns**0.5)


def other_leg_ohm(stand_in: StandIn, ohm: float) -> float | None:
    """Ohms [ohm] from the wiper to the other outer leg while the leg in use has `ohm`, or None where it has no track.

    As one leg rises the other falls, and both together stay end to end: with
    the lead on the wrong outer leg the same turn of the knob goes the other
    way, and this is what the plug gets instead.
    """
    if stand_in.kind != "potentiometer" or stand_in.end_to_end_ohm is None or ohm > stand_in.end_to_end_ohm * END_ROUNDING:
        return None
    return max(stand_in.end_to_end_ohm - ohm, 0.0)
