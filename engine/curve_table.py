"""Owns many curves at once: the candidate curves of a job on one grid, so that a batch can mix them sample by sample."""

import numpy as np

from engine.curves import KELVIN, T25_K, Curve

COLDEST_C, HOTTEST_C = -90.0, 320.0
GRID = 16384
# Beta of NTC material grows with temperature. Fitted to the four-term curve of a common 10 kohm part
# (R25/85 3977 K): ln(R/R25) = B x - BEND x^2 with x = 1/T - 1/T25, within 0.3 K from -40 to 125 degC.
BEND_K2 = 1.5e5


class CurveTable:
    """Curves c on a shared grid; index -1 stands for the continuous family (25 degC value and beta).

    All arrays broadcast. `ln_ohm` and `inverse_kelvin` are each other's
    inverse within 0.01 K.
    """

    def __init__(self, curves: tuple[Curve, ...]) -> None:
        self.curves = curves
        low, high = 1.0 / (HOTTEST_C + KELVIN), 1.0 / (COLDEST_C + KELVIN)
        grid = np.linspace(low, high, GRID)
        self._x0, self._dx = low, grid[1] - grid[0]
        forward = [np.log(curve.ohm_at(1.0 / grid - KELVIN)) for curve in curves] or [np.zeros(GRID)]
        self._forward = np.stack(forward)
        self._y0 = float(np.min(self._forward))
        self._dy = (float(np.max(self._forward)) - self._y0) / (GRID - 1) or 1e-3
        ohms = np.exp(self._y0 + self._dy * np.arange(GRID))
        inverse = [1.0 / (curve.temperature_at(ohms) + KELVIN) for curve in curves] or [np.zeros(GRID)]
        self._inverse = np.stack(inverse)

    def ln_ohm(self, inverse_kelvin: object, index: object, family_ln_ohm: object, family_beta: object) -> np.ndarray:
        """Natural log of the resistance [ohm] at 1/T [1/K] on curve `index`, or on the family where it is -1."""
        x = np.asarray(inverse_kelvin) - 1.0 / T25_K
        family = family_ln_ohm + (family_beta - BEND_K2 * x) * x
        if self.curves:
            return np.where(np.asarray(index) < 0, family, _pick(self._forward, index, inverse_kelvin, self._x0, self._dx))
        return family

    def inverse_kelvin(self, ln_ohm: object, index: object, family_ln_ohm: object, family_beta: object) -> np.ndarray:
        """1/T [1/K] at which curve `index`, or the family where it is -1, has exp(`ln_ohm`) ohm."""
        y = np.asarray(ln_ohm) - family_ln_ohm
        # The smaller root of the quadratic, written so that nothing cancels; far beyond the hot end the law turns
        # back, so the root is held at its turning point.
        root = np.sqrt(np.maximum(np.square(family_beta) - 4.0 * BEND_K2 * y, 1e4))
        family = np.clip(1.0 / T25_K + 2.0 * y / (family_beta + root),
                         1.0 / (HOTTEST_C + KELVIN), 1.0 / (COLDEST_C + KELVIN))
        if self.curves:
            return np.where(np.asarray(index) < 0, family, _pick(self._inverse, index, ln_ohm, self._y0, self._dy))
        return family


def _pick(table: np.ndarray, index: object, value: object, start: float, step: float) -> np.ndarray:
    """Straight-line look-up of `value` in row `index` of a table on an even grid, ends going on straight."""
    position = np.clip((np.asarray(value) - start) / step, -50.0, GRID + 50.0)
    left = np.clip(position.astype(np.int64), 0, GRID - 2)
    flat = table.reshape(-1)
    offset = np.maximum(index, 0) * GRID + left
    low = flat.take(offset)
    return low + (flat.take(offset + 1) - low) * (position - left)
