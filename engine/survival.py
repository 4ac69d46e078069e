"""Owns whether a stand-in survives: current, watts, and the plain remedy where it does not."""

from typing import NamedTuple

import numpy as np

from engine.stand_in import StandIn

# Above its rated current a track is used for seconds only; above three times that it is refused
# (common practice, no source).
REFUSED_FROM = 3.0
FIXED_WATTS = 0.25


class Survival(NamedTuple):
    """`state` is fine, ten-seconds or refused; `limit_a` the rated current [A]; `remedy` one plain sentence or ''."""

    state: str
    current_a: float
    watts: float
    limit_a: float
    remedy: str


def survival(stand_in: StandIn, ohm: float, current_a: float) -> Survival:
    """Whether `stand_in` set to `ohm` [ohm] carries `current_a` [A].

    A power rating holds for the whole track, so I_max = sqrt(P / R_total)
    wherever the wiper stands (10 kohm at 0.2 W: 4.5 mA). A fixed resistor
    carries sqrt(P / R).
    """
    total = stand_in.end_to_end_ohm if stand_in.kind == "potentiometer" and stand_in.end_to_end_ohm else ohm
    limit = float(np.sqrt(stand_in.watts / max(total, 1e-6)))
    watts = current_a**2 * ohm
    if current_a <= limit:
        return Survival("fine", current_a, watts, limit, "")
    need = max(2.0 * watts, FIXED_WATTS)
    remedy = f"Use a fixed resistor of about {ohm:.3g} ohm, {need:.2g} W or more."
    if current_a <= REFUSED_FROM * limit:
        return Survival("ten-seconds", current_a, watts, limit, f"Under ten seconds only. {remedy}")
    return Survival("refused", current_a, watts, limit, remedy)
