"""Owns whether a stand-in survives: current, watts, and the plain remedy where it does not."""

from typing import NamedTuple

import numpy as np

from engine.circuit import InputCircuit
from engine.stand_in import StandIn

# Above its rated current a track is used for seconds only; above three times that it is refused
# (common practice, no source).
REFUSED_FROM = 3.0
FIXED_WATTS = 0.25
# Published coils of gauges: 12.8 to 13 ohm.
LEAST_COIL_OHM = 13.0


class Survival(NamedTuple):
    """`state` is fine, ten-seconds or refused; `limit_a` the rated current [A]; `remedy` one plain sentence or ''."""

    state: str
    current_a: float
    watts: float
    limit_a: float
    remedy: str


def survival(stand_in: StandIn, ohm: float, current_a: float, parts: tuple[float, ...] = ()) -> Survival:
    """Whether `stand_in` set to `ohm` [ohm] carries `current_a` [A].

    A power rating holds for the whole track, so I_max = sqrt(P / R_total)
    wherever the wiper stands (10 kohm at 0.2 W: 4.5 mA). A fixed resistor or a
    decade box carries sqrt(P / R); of two fixed `parts` [ohm] in series the
    larger takes more, side by side the smaller.
    """
    limit = _rated_a(stand_in, max(ohm, 1e-6), parts)
    watts = current_a**2 * ohm
    if current_a <= limit:
        return Survival("fine", current_a, watts, limit, "")
    need = max(2.0 * watts, FIXED_WATTS)
    remedy = f"Use a fixed resistor of about {ohm:.3g} ohm, {need:.2g} W or more."
    if current_a <= REFUSED_FROM * limit:
        return Survival("ten-seconds", current_a, watts, limit, f"Under ten seconds only. {remedy}")
    return Survival("refused", current_a, watts, limit, remedy)


def on_gauge(stand_in: StandIn, circuit: InputCircuit, ohm: float, parts: tuple[float, ...] = ()) -> Survival:
    """Whether `stand_in` set to `ohm` [ohm] carries what a gauge drives through it: battery volts over coil and stand-in.

    A coil nobody measured is taken at the least that is published. At 12.6 V, 13 ohm
    of coil and 10 ohm flow 0.55 A and make 3 W.
    """
    coil = circuit.source_ohm if circuit.source_ohm is not None else LEAST_COIL_OHM
    return survival(stand_in, ohm, max(circuit.open_v or 0.0, circuit.battery_v) / (coil + ohm), parts)


def _rated_a(stand_in: StandIn, ohm: float, parts: tuple[float, ...]) -> float:
    """Largest current [A] into the whole stand-in at which none of its parts exceeds its watts."""
    if stand_in.kind == "potentiometer" and stand_in.end_to_end_ohm:
        return float(np.sqrt(stand_in.watts / stand_in.end_to_end_ohm))
    if len(parts) > 1 and ohm < min(parts):
        return float(np.sqrt(stand_in.watts * min(parts))) / ohm
    return float(np.sqrt(stand_in.watts / max(parts, default=ohm)))
