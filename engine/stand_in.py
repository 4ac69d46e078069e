"""Owns what is put in the sensor's place: how near a hand can bring it to a value, and how well that value is known."""

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from engine.errors import InputError
from engine.units import finite

KINDS = ("potentiometer", "decade-box", "fixed")
# One hand movement of a knob is about 1.5 degrees of the 270 of a turn; winding and contact vary by about
# 1 % of the total or 3 ohm (common practice, no source).
HAND_STEP_DEGREES = 1.5
TURN_DEGREES = 270.0
CONTACT_SHARE, CONTACT_OHM = 0.001, 3.0
LEAD_OHM = 0.2
DECADE_STEP_OHM = 1.0
PAIRS_FROM = 24
# A curve value equal to the end-to-end value in print may differ in the last digit.
END_ROUNDING = 1.0 + 1e-9


@dataclass(frozen=True)
class StandIn:
    """A potentiometer (end to end as measured, turns, watts), a decade box, or fixed resistors `ohms` in hand."""

    kind: str = "potentiometer"
    end_to_end_ohm: float | None = None
    turns: float = 1.0
    watts: float = 0.25
    ohms: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise InputError("stand_in.kind", self.kind, f"it is one of {', '.join(KINDS)}")
        if self.end_to_end_ohm is not None:
            finite(self.end_to_end_ohm, "stand_in.end_to_end_ohm", 1.0, 1e8, "ohms from 1 to 1e8")
        finite(self.turns, "stand_in.turns", 0.5, 40.0, "turns from 0.5 to 40")
        finite(self.watts, "stand_in.watts", 0.01, 500.0, "watts from 0.01 to 500")
        if len(self.ohms) > 200:
            raise InputError("stand_in.ohms", f"{len(self.ohms)} values", "list at most 200 fixed resistors")
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
    """A value the stand-in can be brought to: `ohm` aimed at, `parts` used, `reach_ohm` how near a hand gets (+-),
    `known_ohm` how well the set value is known once measured (+-)."""

    ohm: float
    parts: tuple[float, ...]
    reach_ohm: float
    known_ohm: float


def set_to(stand_in: StandIn, meter: Meter, ohm: float) -> Setting | None:
    """How `stand_in` is set to `ohm`, or None where it cannot be brought there.

    A potentiometer reaches from about its contact's step to its end-to-end
    value; fixed resistors give the nearest single value, or pair in series or
    parallel, within 10 %.
    """
    known = meter.ohm_band(ohm) + LEAD_OHM
    if stand_in.kind == "fixed":
        parts, value = nearest_parts(stand_in.ohms, ohm)
        if abs(value / max(ohm, 1e-9) - 1.0) > 0.10:
            return None
        return Setting(value, parts, abs(value - ohm), meter.ohm_band(value) + LEAD_OHM)
    if stand_in.kind == "decade-box":
        top = stand_in.end_to_end_ohm or 1e6
        return Setting(float(np.round(ohm)), (), DECADE_STEP_OHM / 2, known) if DECADE_STEP_OHM <= ohm <= top else None
    if stand_in.end_to_end_ohm is None or not (
            contact_step(stand_in) <= ohm <= stand_in.end_to_end_ohm * END_ROUNDING):
        return None
    return Setting(ohm, (), hand_step(stand_in), known + contact_step(stand_in) / 4)


def hand_step(stand_in: StandIn) -> float:
    """Smallest change [ohm] of one hand movement: 1.5 degrees of knob, or one contact step, whichever is larger."""
    total = stand_in.end_to_end_ohm or 0.0
    turn = total * HAND_STEP_DEGREES / (TURN_DEGREES * stand_in.turns)
    return max(turn, contact_step(stand_in))


def contact_step(stand_in: StandIn) -> float:
    """What winding and wiper contact leave open [ohm]; finer on a multi-turn part."""
    total = stand_in.end_to_end_ohm or 0.0
    return max(total * CONTACT_SHARE, min(CONTACT_OHM, total * 0.01)) / max(1.0, stand_in.turns**0.5)


def outer_legs(end_to_end_ohm: float, share: object) -> tuple[np.ndarray, np.ndarray]:
    """Ohms from the wiper to each outer leg at `share` (0..1) of the sweep: one rises as the other falls, the sum stays."""
    first = end_to_end_ohm * np.asarray(share, float)
    return first, end_to_end_ohm - first


def nearest_parts(ohms: tuple[float, ...], wanted_ohm: float) -> tuple[tuple[float, ...], float]:
    """The fixed part, or pair (series or parallel), nearest to `wanted_ohm` in ratio, and its value [ohm].

    A single part wins over a pair that is no nearer.
    """
    options = [((ohm,), ohm) for ohm in sorted(set(ohms))]
    if len(ohms) <= 10 * PAIRS_FROM:
        for a, b in combinations(sorted(ohms), 2):
            options += [((a, b), a + b), ((a, b), a * b / (a + b))]
    return min(options, key=lambda o: (round(abs(np.log(o[1] / wanted_ohm)), 9), len(o[0]), o[0]))
