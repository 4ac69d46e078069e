"""Owns resistance-temperature curves, both ways, every form in use here: table, beta, Steinhart-Hart, four-term."""

from dataclasses import dataclass, field

import numpy as np

from engine.errors import InputError
from engine.units import ABSOLUTE_ZERO_C

KELVIN = -ABSOLUTE_ZERO_C
T25_K = 25.0 + KELVIN
# Beyond a curve's ends its last slope goes on, but never past what any resistor or engine has.
LN_OHM_ENDS, INVERSE_KELVIN_ENDS = (-25.0, 40.0), (1.0 / 2000.0, 1.0 / 50.0)


@dataclass(frozen=True)
class Curve:
    """One sensor family: temperature [degC] against resistance [ohm].

    Between points ln(ohm) runs straight against 1/T (a local beta law), beyond
    the ends it goes on with the end segment's slope. Two points are therefore
    exactly the beta law. `points` are (degC, ohm), ascending in degC, strictly
    monotone in ohm. Source of the interpolation: the beta law holds locally
    for NTC material (common practice, no source).
    """

    id: str
    label: str
    points: tuple[tuple[float, float], ...]
    inverse_kelvin: np.ndarray = field(init=False, repr=False, compare=False)
    ln_ohm: np.ndarray = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        temperature, ohm = check_points(self.points, "curve.points")
        object.__setattr__(self, "points", tuple(zip(temperature.tolist(), ohm.tolist(), strict=True)))
        # Kept ascending in 1/T, as np.interp wants it.
        object.__setattr__(self, "inverse_kelvin", (1.0 / (temperature + KELVIN))[::-1].copy())
        object.__setattr__(self, "ln_ohm", np.log(ohm)[::-1].copy())

    @property
    def rising(self) -> bool:
        """True where ohms rise with temperature (PTC)."""
        return bool(self.ln_ohm[0] > self.ln_ohm[-1])

    @property
    def range_c(self) -> tuple[float, float]:
        """First and last temperature [degC] the source states."""
        return self.points[0][0], self.points[-1][0]

    def ohm_at(self, temperature_c: object) -> np.ndarray:
        """Resistance [ohm] at `temperature_c` [degC], any shape."""
        inverse = 1.0 / (np.asarray(temperature_c, float) + KELVIN)
        return np.exp(np.clip(_line(inverse, self.inverse_kelvin, self.ln_ohm), *LN_OHM_ENDS))

    def temperature_at(self, ohm: object) -> np.ndarray:
        """Temperature [degC] at which the curve has `ohm` [ohm], any shape; 0 ohm counts as 1e-9."""
        ln_ohm = np.log(np.maximum(np.asarray(ohm, float), 1e-9))
        x, y = self.ln_ohm, self.inverse_kelvin
        if self.rising:
            x, y = x[::-1], y[::-1]
        return 1.0 / np.clip(_line(ln_ohm, x, y), *INVERSE_KELVIN_ENDS) - KELVIN

    @property
    def ohm_25(self) -> float:
        """Resistance [ohm] at 25 degC."""
        return float(self.ohm_at(25.0))

    @property
    def beta_25_85(self) -> float:
        """Beta [K] between 25 and 85 degC (negative for a PTC)."""
        ratio = float(self.ohm_at(25.0) / self.ohm_at(85.0))
        return float(np.log(ratio) / (1.0 / T25_K - 1.0 / (85.0 + KELVIN)))


def beta_curve(ohm_25: float, beta_k: float, id: str = "beta", label: str = "") -> Curve:
    """The beta law R = R25 exp(B (1/T - 1/T25)) as a curve; `ohm_25` [ohm], `beta_k` [K].

    >>> round(float(beta_curve(10000, 3977).ohm_at(25)))
    10000
    """
    def ohm(temperature_c: float) -> float:
        return ohm_25 * float(np.exp(beta_k * (1.0 / (temperature_c + KELVIN) - 1.0 / T25_K)))
    return Curve(id, label or f"{ohm_25:g} ohm at 25 degC, beta {beta_k:g} K",
                 ((25.0, ohm(25.0)), (85.0, ohm(85.0))))


def steinhart_hart_temperature(ohm: object, a: float, b: float, c: float) -> np.ndarray:
    """Temperature [degC] by 1/T = A + B ln R + C (ln R)^3 (Steinhart and Hart 1968, Deep-Sea Research 15:497)."""
    ln_ohm = np.log(np.asarray(ohm, float))
    return 1.0 / (a + b * ln_ohm + c * ln_ohm**3) - KELVIN


def steinhart_hart_coefficients(points: object) -> tuple[float, float, float]:
    """A, B, C through three (degC, ohm) points, by solving the three linear equations."""
    temperature, ohm = check_points(points, "points")
    if len(ohm) != 3:
        raise InputError("points", len(ohm), "Steinhart-Hart takes exactly three points")
    ln_ohm = np.log(ohm)
    matrix = np.stack([np.ones(3), ln_ohm, ln_ohm**3], axis=1)
    a, b, c = np.linalg.solve(matrix, 1.0 / (temperature + KELVIN))
    return float(a), float(b), float(c)


def four_term_temperature(ohm: object, ohm_25: float, a1: float, b1: float, c1: float, d1: float) -> np.ndarray:
    """Temperature [degC] by 1/T = A1 + B1 ln(R/R25) + C1 ln^2 + D1 ln^3 (data sheets of 10 kohm NTC, four-term form)."""
    x = np.log(np.asarray(ohm, float) / ohm_25)
    return 1.0 / (a1 + b1 * x + c1 * x**2 + d1 * x**3) - KELVIN


def check_points(points: object, where: str) -> tuple[np.ndarray, np.ndarray]:
    """Temperatures [degC] and ohms of `points`, ascending in degC.

    Raises InputError when there are fewer than two or more than 500, when a
    value is not finite or out of range (-100..1500 degC, above 0 to 1e9 ohm),
    when a temperature stands twice, or when ohms are not strictly monotone.
    """
    try:
        array = np.array(points, dtype=float)
    except (TypeError, ValueError, OverflowError):
        raise InputError(where, points, "a curve takes pairs of temperature and ohms") from None
    if array.ndim != 2 or array.shape[1] != 2 or not 2 <= len(array) <= 500:
        raise InputError(where, points, "a curve takes 2 to 500 pairs of temperature and ohms")
    if not np.all(np.isfinite(array)):
        raise InputError(where, points, "every temperature and every ohm value must be a finite number")
    array = array[np.argsort(array[:, 0], kind="stable")]
    temperature, ohm = array[:, 0], array[:, 1]
    if temperature[0] < -100 or temperature[-1] > 1500:
        raise InputError(where, points, "temperatures lie between -100 and 1500 degC")
    if np.any(ohm <= 0) or np.any(ohm > 1e9):
        raise InputError(where, points, "ohms lie above 0 and up to 1e9")
    if np.any(np.diff(temperature) <= 0):
        raise InputError(where, points, "each temperature stands once")
    steps = np.diff(ohm)
    if not (np.all(steps < 0) or np.all(steps > 0)):
        raise InputError(where, points, "ohms must fall all along with temperature, or rise all along")
    return temperature, ohm


def _line(x: np.ndarray, xs: np.ndarray, ys: np.ndarray) -> np.ndarray:
    """Piecewise straight line through ascending `xs`, going on beyond both ends."""
    first = (ys[1] - ys[0]) / (xs[1] - xs[0])
    last = (ys[-1] - ys[-2]) / (xs[-1] - xs[-2])
    inside = np.interp(x, xs, ys)
    below = ys[0] + first * (x - xs[0])
    above = ys[-1] + last * (x - xs[-1])
    return np.where(x < xs[0], below, np.where(x > xs[-1], above, inside))
