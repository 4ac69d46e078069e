"""Owns curves given by formula: the laws that turn published coefficients into points."""

from collections.abc import Callable

import numpy as np

from engine.curves import KELVIN, beta_curve, four_term_temperature, steinhart_hart_temperature

# IEC 60751:2008, industrial platinum resistance thermometers: coefficients of the Callendar-Van Dusen law.
IEC60751_A, IEC60751_B, IEC60751_C = 3.9083e-3, -5.775e-7, -4.183e-12
# Laws that give degC for ohms are turned round on ohms from one end to the other, this far beyond both.
_OHMS = np.exp(np.linspace(np.log(1e-1), np.log(1e8), 200_001))
# Form -> how many coefficients it takes, and what they are.
FORMS = {"iec60751": (1, "ohms at 0 degC"), "beta": (2, "ohms at 25 degC; beta"), "steinhart-hart": (3, "A; B; C"),
         "four-term": (5, "ohms at 25 degC; A1; B1; C1; D1")}


def iec60751_ohm(temperature_c: object, ohm_0: float) -> np.ndarray:
    """Resistance [ohm] of a platinum thermometer at `temperature_c` [degC, -200..850] with `ohm_0` [ohm] at 0 degC.

    R = R0 (1 + A t + B t^2), below 0 degC + C (t - 100) t^3. Source: IEC 60751.

    >>> round(float(iec60751_ohm(200.0, 100.0)), 3)
    175.856
    """
    t = np.asarray(temperature_c, float)
    cold = np.where(t < 0.0, IEC60751_C * (t - 100.0) * t**3, 0.0)
    return ohm_0 * (1.0 + IEC60751_A * t + IEC60751_B * t**2 + cold)


def form_points(form: str, coefficients: tuple[float, ...], low_c: float, high_c: float,
                step_c: float) -> tuple[tuple[float, float], ...]:
    """Points (degC, ohm) of a curve by formula from `low_c` to `high_c` every `step_c` [degC], both ends included.

    `form` is one of FORMS, `coefficients` as listed there. The laws and their
    sources stand with them: here, or in engine.curves.
    """
    degrees = np.append(np.arange(low_c, high_c - 1e-9, step_c), high_c)
    return tuple(zip(degrees.tolist(), _ohms(form, coefficients, degrees).tolist(), strict=True))


def _ohms(form: str, coefficients: tuple[float, ...], degrees: np.ndarray) -> np.ndarray:
    if form == "iec60751":
        return iec60751_ohm(degrees, *coefficients)
    if form == "beta":
        return beta_curve(*coefficients).ohm_at(degrees)
    law: Callable = {"steinhart-hart": steinhart_hart_temperature, "four-term": four_term_temperature}[form]
    inverse = 1.0 / (law(_OHMS, *coefficients) + KELVIN)
    order = np.argsort(inverse)
    return np.exp(np.interp(1.0 / (degrees + KELVIN), inverse[order], np.log(_OHMS)[order]))
