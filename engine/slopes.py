"""Owns residuals of the numeric readings and their slopes: what moves a fit, by forward differences in one batch."""

import numpy as np

from engine.batches import single
from engine.likelihood import Evidence
from engine.model import Z_NAMES
from engine.module import end_residual

STEP, SHARE_STEP = 0.03, 0.004
# So many points at once stay in the processor's near memory, however many readings: a void one must not move a last digit.
TOGETHER = 16_000


def linear(evidence: Evidence, rows: np.ndarray, share: np.ndarray, centre: np.ndarray,
           dims: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Residuals (k, n) of the numeric terms at share (f, g) and `centre` (f, g, a), and their slopes (k, a + 1, n) against
    the unknowns `dims` and, last, the severity share; n runs over f and g."""
    f, g, size = centre.shape
    z = np.empty((size, f, size + 2, g), np.float32)
    z[:] = centre.transpose(2, 0, 1)[:, :, None]
    z[np.arange(size), :, np.arange(1, size + 1)] += np.float32(STEP)
    wide = np.repeat(single(share)[:, None], size + 2, axis=1)
    aside = np.where(share < 0.5, SHARE_STEP, -SHARE_STEP)
    wide[:, -1] += single(aside)
    found = _residuals(evidence, rows, wide, full(dims, z.transpose(1, 2, 3, 0)))
    slope = (found[:, :, 1:] - found[:, :, :1]) / STEP
    slope[:, :, -1] *= STEP / aside
    return found[:, :, 0].reshape(-1, f * g), slope.transpose(0, 2, 1, 3).reshape(-1, size + 1, f * g)


def along(evidence: Evidence, rows: np.ndarray, share: np.ndarray, z: np.ndarray,
          directions: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Residuals (k, f, s) of the numeric terms at share (f, s) and z (f, s, z), and their slopes (k, f, d, s) along
    `directions` (f, s, d, z)."""
    moved = np.concatenate([z[:, None], z[:, None] + STEP * directions.transpose(0, 2, 1, 3)], axis=1)
    found = _residuals(evidence, rows, np.repeat(share[:, None], moved.shape[1], axis=1), moved)
    return found[:, :, 0], (found[:, :, 1:] - found[:, :, :1]) / STEP


def off(evidence: Evidence, rows: np.ndarray, share: np.ndarray, z: np.ndarray) -> np.ndarray:
    """How far each numeric term is off (k, f, s), in its standard deviations, at share (f, s) and z (f, s, z)."""
    return _residuals(evidence, rows, share[:, None], z[:, None])[:, :, 0]


def _residuals(evidence: Evidence, rows: np.ndarray, share: np.ndarray, z: np.ndarray) -> np.ndarray:
    """How far each numeric term is off (k, f, c, s), in its standard deviations where c is 0, for share (f, c, s) and
    z (f, c, s, z); what comes and goes is there, or is not, whichever the term looks more like where c is 0."""
    if not evidence.terms:
        return np.zeros((0, *share.shape))
    size = max(1, TOGETHER // share[0].size)
    return np.concatenate([_of_some(evidence, rows[k:k + size], share[k:k + size], z[k:k + size]) for k in range(0, len(rows), size)], axis=1)


def _of_some(evidence: Evidence, rows: np.ndarray, share: np.ndarray, z: np.ndarray) -> np.ndarray:
    """As _residuals, for as many rows as the processor's near memory holds."""
    f, copies, s = share.shape
    wide, z = share.reshape(f, copies * s), z.reshape(f, copies * s, -1)
    shown = evidence.shown(wide, z, rows, hook=evidence.hooked.numeric).on_one()
    picked = evidence.model.pick(rows)
    stuck, comes = picked.having("reading-frozen", "key-off"), picked.intermittent
    steady = evidence.shown(wide[comes], z[comes], rows[comes], True, evidence.hooked.numeric).on_one() if len(comes) else None
    out = []
    for term in evidence.terms:
        off, spread = evidence.off(shown, term, picked)
        scale = np.broadcast_to(spread, wide.shape).reshape(share.shape)[:, :1]
        relative = np.broadcast_to(off, wide.shape).reshape(share.shape) / scale
        if term.kind == "shows":
            relative = end_residual(relative, scale, term.value, evidence.scale, evidence.stood[term])
            # A stuck number says nothing about the circuit behind it.
            relative[stuck] = 0.0
        if steady is not None:
            off, _ = evidence.off(steady, term, evidence.model.pick(rows[comes]))
            still = np.broadcast_to(off, wide[comes].shape).reshape(share[comes].shape) / scale[comes]
            if term.kind == "shows":
                still = end_residual(still, scale[comes], term.value, evidence.scale, evidence.stood[term])
            relative[comes] = np.where(np.abs(still[:, :1]) < np.abs(relative[comes][:, :1]), still, relative[comes])
        out.append(relative)
    return np.stack(out)


def full(dims: np.ndarray, values: np.ndarray) -> np.ndarray:
    """Unknowns `dims` at `values` (..., a) as the full vector (..., z), the others at their mean."""
    # Laid out one unknown after another: that is how they are read.
    z = np.zeros((len(Z_NAMES), *values.shape[:-1]), values.dtype)
    z[dims] = np.moveaxis(values, -1, 0)
    return np.moveaxis(z, 0, -1)
