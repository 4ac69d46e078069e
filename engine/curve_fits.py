"""Owns what few measured points say of a sensor: its curve with its uncertainty, rising or falling, and the unit shown."""

from typing import NamedTuple

import numpy as np
from scipy.special import expit, ndtr

from engine.curves import KELVIN, T25_K, Curve, beta_curve
from engine.errors import InputError
from engine.stand_in import Meter

# Two standard deviations, about 95 % (JCGM 100:2008, the GUM, clause 6); a limit stated by a maker counts as a rectangular
# distribution (clause 4.3.7).
COVERAGE = 2.0
RECTANGULAR = 3.0**-0.5
DECIDED = 0.95
MISREAD = 0.02
WHOLE_C = np.arange(-60, 1101)


class Estimate(NamedTuple):
    """A value with the ends of its 95 % band; the unit is the function's."""

    low: float
    mid: float
    high: float


class Direction(NamedTuple):
    """`kind` NTC, PTC or undecided (below 95 %), the chance that the likelier of the two is right, and change per kelvin."""

    kind: str
    confidence: float
    share_per_k: float


def rising_or_falling(first_c: float, first_ohm: float, second_c: float, second_ohm: float, meter: Meter | None = None,
                      temperature_sd_c: float = 1.0) -> Direction:
    """Whether ohms [ohm] rise (PTC) or fall (NTC) between two temperatures [degC] known to `temperature_sd_c`.

    The sign decides, never the size: an NTC falls 3 to 6 % a kelvin, silicon
    rises 0.7 to 0.8 %, platinum 0.3 to 0.4 % (data sheets). Raises InputError
    for ohms not above zero or equal temperatures.
    """
    (first, second), meter = checked([first_ohm, second_ohm], "ohms"), meter or Meter()
    if first_c == second_c:
        raise InputError("second_c", second_c, "the two temperatures differ")
    change = np.log(second / first)
    sd = RECTANGULAR * np.hypot(meter.ohm_band(first) / first, meter.ohm_band(second) / second)
    more, hotter = float(ndtr(change / max(sd, 1e-12))), float(ndtr((second_c - first_c) / (temperature_sd_c * 2.0**0.5)))
    rising = more * hotter + (1.0 - more) * (1.0 - hotter)
    confidence = max(rising, 1.0 - rising)
    kind = "undecided" if confidence < DECIDED else "PTC" if rising > 0.5 else "NTC"
    return Direction(kind, confidence, float(change / (second_c - first_c)))


class BetaFit(NamedTuple):
    """25 degC value [ohm] and beta [K] (negative for a PTC) with 95 % bands; `covariance` is that of ln ohm and beta."""

    ohm_25: Estimate
    beta_k: Estimate
    covariance: np.ndarray

    @property
    def curve(self) -> Curve:
        """The fitted law as a curve."""
        return beta_curve(self.ohm_25.mid, self.beta_k.mid, "fitted")


def fit_beta(temperatures_c: object, ohms: object, meter: Meter | None = None, temperature_sd_c: float = 1.0) -> BetaFit:
    """25 degC value and beta through two or more pairs, R = R25 exp(B (1/T - 1/T25)), weighted least squares.

    Errors are the meter's class and `temperature_sd_c` [degC] of the
    thermometer. Raises InputError for fewer than two temperatures.
    """
    ohm, meter = checked(ohms, "ohms"), meter or Meter()
    kelvin = np.asarray(temperatures_c, float) + KELVIN
    if kelvin.shape != ohm.shape or len(set(kelvin.tolist())) < 2 or not np.all(kelvin > 0.0):
        raise InputError("temperatures_c", temperatures_c, "two or more different temperatures, one for each value in ohms")
    matrix = np.stack([np.ones(len(ohm)), 1.0 / kelvin - 1.0 / T25_K], axis=1)
    meter_sd = RECTANGULAR * np.array([meter.ohm_band(one) / one for one in ohm])
    beta = 0.0
    for _ in range(3):  # the thermometer's error in ohms hangs on beta
        root = 1.0 / np.maximum(np.hypot(meter_sd, beta / kelvin**2 * temperature_sd_c), 1e-9)
        covariance = np.linalg.inv((matrix * root[:, None]).T @ (matrix * root[:, None]))
        ln_25, beta = (covariance @ matrix.T @ (root**2 * np.log(ohm))).tolist()
    ln_sd, beta_sd = np.sqrt(np.diag(covariance)).tolist()
    band = COVERAGE * beta_sd
    return BetaFit(ln_estimate(ln_25, ln_sd), Estimate(beta - band, beta, beta + band), covariance)


def error_along(fitted: BetaFit, believed: Curve, temperatures_c: object) -> tuple[Estimate, ...]:
    """How much too hot [degC] a gauge or module that believes in `believed` reads the fitted sensor, at each temperature."""
    errors = []
    for degc in temperatures_c:
        row = np.array([1.0, 1.0 / (degc + KELVIN) - 1.0 / T25_K])
        band = COVERAGE * float(np.sqrt(row @ fitted.covariance @ row))
        ohm = float(fitted.curve.ohm_at(degc)) * np.exp([-band, 0.0, band])
        shown = believed.temperature_at(ohm) - degc
        errors.append(Estimate(float(np.min(shown)), float(shown[1]), float(np.max(shown))))
    return tuple(errors)


class Unit(NamedTuple):
    """`unit` degC or degF where the pattern decides, "either" where not; `degf` the chance of whole degC shown as degF."""

    unit: str
    degf: float


def unit_of(values: object) -> Unit:
    """Which unit shown numbers stand in, by their pattern: whole degC shown as degF leave gaps, 5 of 9 numbers only.

    Rounded they run odd, then even (37 39 41 43 45 46 48 50); -40 is the same in
    both and counts for neither, and a number counts once however often it
    stands. Both units are equally likely before. SAE J1979: whole degC.

    >>> unit_of([68, 70, 72, 73, 75, 77, 79, 81]).unit
    'degF'
    """
    numbers = np.array(sorted(set(np.asarray(values, float).tolist()) - {-40.0}))
    if not np.all(np.isfinite(numbers)):
        raise InputError("values", values, "shown values are finite numbers")
    # A number shown in tenths is one of 18 that whole degC leave; a whole number one of 5 of 9, and which five depends on
    # whether the reader rounds or cuts off.
    degf = 1.8 * WHOLE_C + 32.0
    tenths = bool(np.any(numbers != np.round(numbers)))
    ways, gain = ([np.round(degf, 1)], 18.0) if tenths else ([np.round(degf), np.floor(degf + 1e-9)], 1.8)
    hits = np.array([np.isin(np.round(numbers, 1), way) for way in ways])
    weight = np.sum(np.where(hits, np.log((1.0 - MISREAD) * gain), np.log(MISREAD)), axis=1) - np.log(len(ways))
    chance = float(expit(np.logaddexp.reduce(weight)))
    return Unit("degF" if chance > DECIDED else "degC" if chance < 1.0 - DECIDED else "either", chance)


def checked(values: object, where: str) -> np.ndarray:
    """`values` as an array of one or more numbers above zero."""
    try:
        array = np.atleast_1d(np.asarray(values, dtype=float))
    except (TypeError, ValueError):
        raise InputError(where, values, "it takes numbers above zero") from None
    if array.ndim != 1 or not len(array) or not np.all(np.isfinite(array)) or np.any(array <= 0.0):
        raise InputError(where, values, "it takes numbers above zero")
    return array


def ln_estimate(mid: float, sd: float) -> Estimate:
    """The value whose natural log is `mid` with standard deviation `sd`."""
    return Estimate(*np.exp([mid - COVERAGE * sd, mid, mid + COVERAGE * sd]).tolist())
