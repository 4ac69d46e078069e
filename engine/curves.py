"""Owns resistance curves, both ways, every form in use here: table, beta, Steinhart-Hart, four-term, straight level."""

from dataclasses import dataclass, field

import numpy as np

from engine.errors import InputError
from engine.units import ABSOLUTE_ZERO_C

KELVIN = -ABSOLUTE_ZERO_C
T25_K = 25.0 + KELVIN
# Beyond a curve's ends its last slope goes on, but never past what any resistor or engine has.
LN_OHM_ENDS, INVERSE_KELVIN_ENDS = (-25.0, 40.0), (1.0 / 2000.0, 1.0 / 50.0)
# Points laid into each segment of a rising curve.
BETWEEN = 16


@dataclass(frozen=True)
class Curve:
    """One sensor family: temperature [degC], or level [percent], against resistance [ohm].

    Between points of a falling temperature curve ln(ohm) runs straight against
    1/T (a local beta law), so two of them are exactly the beta law; between
    points of a level curve ohms run straight, between three or more of a rising
    temperature curve smoothly. Beyond the ends ln(ohm) goes on with the end segment's slope.
    `points` are (value, ohm), ascending in value, strictly monotone in ohm; of
    a `loose` curve only their ratios count.
    Sources: the beta law holds locally for NTC material; level tracks are
    linear; silicon and platinum go nearly as a parabola (data sheets).
    """

    id: str
    label: str
    points: tuple[tuple[float, float], ...]
    quantity: str = "temperature"
    loose: bool = False
    _x: np.ndarray = field(init=False, repr=False, compare=False)
    _y: np.ndarray = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        value, ohm = check_points(self.points, "curve.points")
        object.__setattr__(self, "points", tuple(zip(value.tolist(), ohm.tolist(), strict=True)))
        # Kept ascending in x (1/T, or level), as np.interp wants it.
        if self.quantity != "level" and self.rising and len(ohm) > 2:
            value, ohm = _bent(value, ohm)
        x, y = (value, ohm) if self.straight else (1.0 / (value + KELVIN)[::-1], np.log(ohm)[::-1])
        object.__setattr__(self, "_x", x.copy())
        object.__setattr__(self, "_y", y.copy())

    @property
    def straight(self) -> bool:
        """True where ohms run straight between points: a level track, or metal and silicon whose ohms rise with heat."""
        return self.quantity == "level" or self.rising

    @property
    def rising(self) -> bool:
        """True where ohms rise with the quantity (PTC)."""
        return self.points[-1][1] > self.points[0][1]

    @property
    def range_c(self) -> tuple[float, float]:
        """First and last value [degC or percent] the source states."""
        return self.points[0][0], self.points[-1][0]

    def ohm_at(self, value: object) -> np.ndarray:
        """Resistance [ohm] at `value` [degC or percent], any shape."""
        value = np.asarray(value, float)
        if self.straight:
            beyond = value - np.clip(value, *self.range_c)
            ohm = np.interp(value, self._x, self._y) * np.exp(np.clip(beyond * self._end_slope(value), -20.0, 20.0))
            return np.clip(ohm, *np.exp(LN_OHM_ENDS))
        return np.exp(np.clip(_line(1.0 / (value + KELVIN), self._x, self._y), *LN_OHM_ENDS))

    def temperature_at(self, ohm: object) -> np.ndarray:
        """Value [degC or percent] at which the curve has `ohm` [ohm], any shape; 0 ohm counts as 1e-9."""
        ohm = np.maximum(np.asarray(ohm, float), 1e-9)
        x, y = self._x, self._y
        if y[0] > y[-1]:
            x, y = x[::-1], y[::-1]
        if self.straight:
            held = np.clip(ohm, y[0], y[-1])
            value = np.interp(ohm, y, x)
            return value + np.where(ohm == held, 0.0, np.log(ohm / held) / self._end_slope(value))
        return 1.0 / np.clip(_line(np.log(ohm), y, x), *INVERSE_KELVIN_ENDS) - KELVIN

    def _end_slope(self, value: np.ndarray) -> np.ndarray:
        """d ln(ohm) / d value of the nearer end segment of a straight curve."""
        x, y = self._x, self._y
        first = (y[1] - y[0]) / (x[1] - x[0]) / y[0]
        last = (y[-1] - y[-2]) / (x[-1] - x[-2]) / y[-1]
        return np.where(value < 0.5 * (x[0] + x[-1]), first, last)

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


def _bent(value: np.ndarray, ohm: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """More points on the monotone cubic through rising points; slopes of the parabola through three neighbours, held where
    they would overshoot (Fritsch and Carlson 1980, SIAM J. Numer. Anal. 17:238)."""
    rise = np.diff(ohm) / np.diff(value)
    most = 3.0 * np.minimum(np.append(rise, rise[-1]), np.append(rise[0], rise))
    slope = np.clip(np.gradient(ohm, value, edge_order=2), 0.0, most)
    t = np.linspace(0.0, 1.0, BETWEEN, endpoint=False)
    width = np.diff(value)[:, None]
    bent = (ohm[:-1, None] + (ohm[1:] - ohm[:-1])[:, None] * t**2 * (3.0 - 2.0 * t)
            + width * t * (1.0 - t) * (slope[:-1, None] * (1.0 - t) - slope[1:, None] * t))
    at = value[:-1, None] + width * t
    return np.append(at.ravel(), value[-1]), np.append(bent.ravel(), ohm[-1])


def _line(x: np.ndarray, xs: np.ndarray, ys: np.ndarray) -> np.ndarray:
    """Piecewise straight line through ascending `xs`, going on beyond both ends."""
    first = (ys[1] - ys[0]) / (xs[1] - xs[0])
    last = (ys[-1] - ys[-2]) / (xs[-1] - xs[-2])
    inside = np.interp(x, xs, ys)
    below = ys[0] + first * (x - xs[0])
    above = ys[-1] + last * (x - xs[-1])
    return np.where(x < xs[0], below, np.where(x > xs[-1], above, inside))
