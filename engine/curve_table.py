"""Owns many curves at once: the candidate curves of a job on one grid, so that a batch can mix them row by row."""

import math
from typing import NamedTuple

import numpy as np

from engine.compiled import compiled, held_at, inlined
from engine.curves import KELVIN, T25_K, Curve
from engine.many import MANY, all_of, floor_of, many_at, many_of, minus, plus, put_many, times
from engine.quantities import TEMPERATURE, Quantity

GRID = 8192
# Beta of NTC material grows with temperature. Fitted to the four-term curve of a common 10 kohm part
# (R25/85 3977 K): ln(R/R25) = B x - BEND x^2 with x = 1/T - 1/T25, within 0.3 K from -40 to 125 degC.
BEND_K2 = 1.5e5


class Table(NamedTuple):
    """Curves on a grid, one behind the other, for compiled loops: ln ohm at `x0` + i `dx` [1/K], value and its step at `y0` + i
    `dy` [ln ohm], held between `lowest` and `highest`."""

    x0: float
    dx: float
    y0: float
    dy: float
    lowest: float
    highest: float
    forward: np.ndarray
    value: np.ndarray
    step: np.ndarray


class CurveTable:
    """Curves c on a shared grid; index -1 stands for the continuous family (25 degC value and beta).

    Its two grids are each other's inverse within 0.02 K. Levels
    [percent] go the same way as temperatures [degC].
    """

    def __init__(self, curves: tuple[Curve, ...], quantity: Quantity = TEMPERATURE) -> None:
        self.curves = curves
        # A loose curve is a shape alone: its ohms are as many times more as the family's ln ohm says.
        self.loose = np.array([curve.loose for curve in curves], bool)
        low, high = 1.0 / (quantity.highest + KELVIN), 1.0 / (quantity.lowest + KELVIN)
        grid = np.linspace(low, high, GRID)
        forward = np.concatenate([np.log(curve.ohm_at(1.0 / grid - KELVIN)) for curve in curves] or [np.zeros(GRID)])
        y0 = float(forward.min())
        dy = (float(forward.max()) - y0) / (GRID - 1) or 1e-3
        ohms = np.exp(y0 + dy * np.arange(GRID))
        value = np.stack([np.clip(curve.temperature_at(ohms), quantity.lowest, quantity.highest) for curve in curves]
                         or [np.zeros(GRID)])
        step = np.diff(value, axis=1, append=value[:, -1:])
        self.packed = Table(*(np.float32(one) for one in (low, (high - low) / (GRID - 1), y0, dy, quantity.lowest, quantity.highest)),
                            *(part.reshape(-1).astype(np.float32) for part in (forward, value, step)))

    def ln_ohm(self, inverse_kelvin: object, index: object, family_ln_ohm: object, family_beta: object) -> np.ndarray:
        """Natural log of the resistance [ohm] at 1/T [1/K] on curve `index`, or on the family where it is -1."""
        loose = np.append(self.loose, False)
        given = np.broadcast_arrays(index, inverse_kelvin, family_ln_ohm, family_beta)
        curve, *numbers = (np.ravel(part).astype(kind) for part, kind in zip(given, (int, float, float, float), strict=True))
        return _ln_ohms(self.packed, loose, curve, *numbers).reshape(given[0].shape)


@compiled
def _ln_ohms(table: Table, loose: np.ndarray, curve: np.ndarray, inverse_kelvin: np.ndarray, family_ln_ohm: np.ndarray,
             family_beta: np.ndarray) -> np.ndarray:
    """As CurveTable.ln_ohm, at each of n places."""
    out = np.empty(len(curve))
    for i in range(len(curve)):
        out[i] = ln_ohm_of(table, curve[i], loose[curve[i]], inverse_kelvin[i], family_ln_ohm[i], family_beta[i])
    return out


@inlined
def ln_ohm_of(table: Table, curve: int, loose: bool, inverse_kelvin: float, family_ln_ohm: float, family_beta: float) -> float:
    """As CurveTable.ln_ohm, of one curve, `loose` or not."""
    if curve < 0:
        return ln_ohm_of_family(inverse_kelvin, family_ln_ohm, family_beta)
    ln_ohm = ln_ohm_at(table.forward, curve * GRID, place_of(inverse_kelvin, table.x0, 1.0 / table.dx))
    return ln_ohm + (family_ln_ohm if loose else 0.0)


@inlined
def place_of(at: float, first: float, per_step: float) -> float:
    """Where `at` lies on a grid that begins at `first`, in steps; ends are held."""
    return held_at((at - first) * per_step, 0.0, GRID - 1.001)


@inlined
def ln_ohm_at(forward: np.ndarray, start: int, place: float) -> float:
    """Natural log of a curve's ohms at `place` on the grid; its part of `forward` begins at `start`."""
    whole = np.floor(place)
    left = int(whole)
    low = forward[start + left]
    return low + (forward[start + left + 1] - low) * (place - whole)


@inlined
def put_ln_ohms(forward: np.ndarray, start: int, w: np.ndarray, places: int, out: int, n: int) -> None:
    """As `ln_ohm_at`, for the first `n` places, a multiple of MANY, in the column of `w` at `places`, into that at `out`."""
    for s in range(0, n, MANY):
        place = many_at(w, places + s)
        whole = floor_of(place)
        low = many_of(forward, start, whole)
        put_many(w, out + s, plus(low, times(minus(many_of(forward, start + 1, whole), low), minus(place, whole))))


@inlined
def put_values(table: Table, start: int, w: np.ndarray, places: int, out: int, slopes: int, n: int) -> None:
    """Puts the values [degC or percent] of a curve at the first `n` places, a multiple of MANY, on the grid of ln ohm, in the column of
    `w` at `places`, into that at `out`, and their slopes against ln ohm into that at `slopes`; the curve's part begins at `start`."""
    per_step = 1.0 / table.dy
    for s in range(0, n, MANY):
        place = many_at(w, places + s)
        whole = floor_of(place)
        step = many_of(table.step, start, whole)
        put_many(w, out + s, plus(many_of(table.value, start, whole), times(minus(place, whole), step)))
        put_many(w, slopes + s, times(step, all_of(per_step)))


@inlined
def ln_ohm_of_family(inverse_kelvin: float, family_ln_ohm: float, family_beta: float) -> float:
    """As `ln_ohm_of`, of the continuous family."""
    x = inverse_kelvin - 1.0 / T25_K
    return family_ln_ohm + (family_beta - BEND_K2 * x) * x


@inlined
def value_of_family(lowest: float, highest: float, y: float, family_beta: float) -> tuple[float, float]:
    """Value [degC] of the continuous family at `y`, ln ohm less the family's, held between `lowest` and `highest`, and its slope
    against ln ohm."""
    # The smaller root of the quadratic, written so that nothing cancels; far beyond the hot end the law turns
    # back, so the root is held at its turning point.
    root = math.sqrt(max(family_beta * family_beta - 4.0 * BEND_K2 * y, 1e4))
    kelvin = 1.0 / held_at(1.0 / T25_K + 2.0 * y / (family_beta + root), 1.0 / (highest + KELVIN), 1.0 / (lowest + KELVIN))
    return kelvin - KELVIN, -kelvin * kelvin / root
