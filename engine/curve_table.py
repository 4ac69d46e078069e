"""Owns many curves at once: the candidate curves of a job on one grid, so that a batch can mix them row by row."""

import numpy as np

from engine.batches import held, single
from engine.curves import KELVIN, T25_K, Curve
from engine.quantities import TEMPERATURE, Quantity

GRID = 8192
# Beta of NTC material grows with temperature. Fitted to the four-term curve of a common 10 kohm part
# (R25/85 3977 K): ln(R/R25) = B x - BEND x^2 with x = 1/T - 1/T25, within 0.3 K from -40 to 125 degC.
BEND_K2 = 1.5e5


class CurveTable:
    """Curves c on a shared grid; index -1 stands for the continuous family (25 degC value and beta).

    `ln_ohm` and `value_at` are each other's inverse within 0.02 K. Levels
    [percent] go the same way as temperatures [degC].
    """

    def __init__(self, curves: tuple[Curve, ...], quantity: Quantity = TEMPERATURE) -> None:
        self.curves = curves
        # A loose curve is a shape alone: its ohms are as many times more as the family's ln ohm says.
        self.loose = np.array([curve.loose for curve in curves], bool)
        self._coldest, self._hottest = quantity.lowest, quantity.highest
        low, high = 1.0 / (self._hottest + KELVIN), 1.0 / (self._coldest + KELVIN)
        grid = np.linspace(low, high, GRID)
        self._x0, self._dx = low, (high - low) / (GRID - 1)
        forward = np.concatenate([np.log(curve.ohm_at(1.0 / grid - KELVIN)) for curve in curves] or [np.zeros(GRID)])
        self._y0 = float(forward.min())
        self._dy = (float(forward.max()) - self._y0) / (GRID - 1) or 1e-3
        self._forward = single(forward)
        ohms = np.exp(self._y0 + self._dy * np.arange(GRID))
        value = np.stack([np.clip(curve.temperature_at(ohms), self._coldest, self._hottest) for curve in curves]
                         or [np.zeros(GRID)])
        self._value = single(value.reshape(-1))
        self._step = single(np.diff(value, axis=1, append=value[:, -1:]).reshape(-1))

    def ln_ohm(self, inverse_kelvin: object, index: object, family_ln_ohm: object, family_beta: object) -> np.ndarray:
        """Natural log of the resistance [ohm] at 1/T [1/K] on curve `index`, or on the family where it is -1."""
        x = np.asarray(inverse_kelvin) - 1.0 / T25_K
        index = np.asarray(index)
        if np.all(index >= 0):
            found = self._look_up(inverse_kelvin, index)
            return found + np.where(self.loose[index], family_ln_ohm, 0.0) if self.loose.any() else found
        family = family_ln_ohm + (family_beta - BEND_K2 * x) * x
        return np.where(index < 0, family, self._look_up(inverse_kelvin, index)) if self.curves else family

    def _look_up(self, inverse_kelvin: object, index: object) -> np.ndarray:
        position = held((np.asarray(inverse_kelvin) - self._x0) / self._dx, 0.0, GRID - 1.0)
        left = np.minimum(position.astype(np.intp), GRID - 2)
        offset = np.maximum(index, 0) * GRID + left
        low = self._forward.take(offset)
        return low + (self._forward.take(offset + 1) - low) * (position - left.astype(position.dtype))

    def value_at(self, ln_ohm: np.ndarray, index: np.ndarray, family_ln_ohm: np.ndarray,
                 family_beta: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Value [degC or percent] at which each row's curve has exp(`ln_ohm`) ohm, and its slope against ln ohm.

        `ln_ohm` is (r, f, s), `index` (f,) with the family's rows, if any, last;
        the family's arrays are (f, s).
        """
        listed = int(np.count_nonzero(index >= 0))
        value, slope = np.empty_like(ln_ohm), np.empty_like(ln_ohm)
        if listed:
            of_shape = ln_ohm[:, :listed]
            if self.loose.any():
                of_shape = of_shape - np.where(self.loose[index[:listed], None], family_ln_ohm[:listed], 0.0)
            value[:, :listed], slope[:, :listed] = self._of_curves(of_shape, index[:listed])
        if listed < len(index):
            value[:, listed:], slope[:, listed:] = self._of_family(ln_ohm[:, listed:], family_ln_ohm[listed:],
                                                                   family_beta[listed:])
        return value, slope

    def _of_curves(self, ln_ohm: np.ndarray, index: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        position = (ln_ohm - self._y0) * (1.0 / self._dy)
        np.minimum(np.maximum(position, 0.0, out=position), GRID - 1.001, out=position)
        left = position.astype(np.intp)
        position -= left.astype(position.dtype)
        left += index[:, None] * GRID
        slope = self._step.take(left)
        position *= slope
        position += self._value.take(left)
        slope *= 1.0 / self._dy
        return position, slope

    def _of_family(self, ln_ohm: np.ndarray, family_ln_ohm: np.ndarray,
                   family_beta: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        y = ln_ohm - family_ln_ohm
        # The smaller root of the quadratic, written so that nothing cancels; far beyond the hot end the law turns
        # back, so the root is held at its turning point.
        root = np.sqrt(np.maximum(np.square(family_beta) - 4.0 * BEND_K2 * y, 1e4))
        kelvin = 1.0 / held(1.0 / T25_K + 2.0 * y / (family_beta + root), 1.0 / (self._hottest + KELVIN),
                               1.0 / (self._coldest + KELVIN))
        return kelvin - KELVIN, -np.square(kelvin) / root
