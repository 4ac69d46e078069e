"""Owns bells laid about draws: mixtures of normal bells where earlier draws say the evidence is."""

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr, ndtri

from engine.batches import lattice, squared
from engine.compiled import ROOT_TWO_PI
from engine.gauss_newton import linear
from engine.likelihood import Evidence, numbers_of
from engine.unknowns import Z_NAMES

BELLS = 32
# Moves uphill from the heaviest draw, none longer than this; the bell's width; and what a reading must be left unexplained by
# (times exp of half its square) to count no more.
MOVES, LONGEST_MOVE, LOCAL_WIDTH, UNEXPLAINED = 3, 2.0, 1.15, 1e-4
# Bells as wide as this part of the fitted samples' own spread; and how many samples, in terms of the number of unknowns,
# that spread must rest on.
WIDTH, REST_ON = 0.9, 2.5
HALVINGS = 9
# Draws whose distances to all bells stay in the processor's near memory.
TOGETHER = 1024


@dataclass(frozen=True)
class Bells:
    """A mixture of normal bells per row, over the severity (as a standard normal) and the active unknowns: centres
    (f, b, d), and the root (f, d, d) of the spread they share."""

    centre: np.ndarray
    root: np.ndarray

    def only(self, keep: np.ndarray) -> "Bells":
        """The rows at `keep`."""
        return Bells(self.centre[keep], self.root[keep])

    def draw(self, evidence: Evidence, rows: np.ndarray, count: int, start: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """As of any density drawn from."""
        points = lattice(count, self.root.shape[1] + 1, start)
        bell = (points[:, 0] * self.centre.shape[1]).astype(int)
        y = self.centre[:, bell] + np.matmul(ndtri(points[:, 1:]), self.root.transpose(0, 2, 1))
        share, z = _from_normals(y, evidence.active)
        return share, z, self.ln_over_prior(evidence, rows, share, z)

    def ln_over_prior(self, evidence: Evidence, _: np.ndarray, share: np.ndarray, z: np.ndarray) -> np.ndarray:
        """As of any density drawn from."""
        y = as_normals(share, z, evidence.active)
        inverse = np.ascontiguousarray(np.linalg.inv(self.root).transpose(0, 2, 1))
        ln_volume = np.log(np.diagonal(self.root, axis1=1, axis2=2)).sum(axis=1)
        here, there = np.matmul(y, inverse), np.matmul(self.centre, inverse)
        ln = np.stack([_ln_bells(*both) for both in zip(here, there, strict=True)])
        return ln - np.log(self.centre.shape[1]) - ln_volume[:, None] + 0.5 * (squared(y) - squared(here))


def _ln_bells(here: np.ndarray, there: np.ndarray) -> np.ndarray:
    """Log (s,) of the sum over centres `there` (b, d) of exp(here . there - there^2 / 2), for `here` (s, d)."""
    out, size = np.empty(len(here)), squared(there)[:, None] / 2.0
    for start in range(0, len(here), TOGETHER):
        part = slice(start, start + TOGETHER)
        exponent = np.dot(there, np.ascontiguousarray(here[part].T)) - size
        top = exponent.max(axis=0)
        exponent -= top
        # Seven digits are plenty for a weight, and a quarter of the time.
        out[part] = np.log(np.exp(exponent.astype(np.float32)).sum(axis=0)) + top
    return out


def fitted(y: np.ndarray, ln_weight: np.ndarray) -> Bells:
    """Bells about samples `y` (f, s, d) of weights exp(`ln_weight`)."""
    f, _, d = y.shape
    weight = tempered(ln_weight, REST_ON * d)
    off = y - np.einsum("fs,fsd->fd", weight, y)[:, None]
    spread = np.matmul((off * weight[..., None]).transpose(0, 2, 1), off) + 1e-6 * np.eye(d)
    total = np.cumsum(weight, axis=1)
    at = (np.arange(BELLS) + 0.5) / BELLS
    pick = np.stack([np.searchsorted(total[k] / total[k, -1], at) for k in range(f)])
    return Bells(np.take_along_axis(y, pick[..., None], axis=1), np.linalg.cholesky(spread) * WIDTH)


def about_heaviest(evidence: Evidence, rows: np.ndarray, y: np.ndarray, ln_weight: np.ndarray) -> Bells:
    """One bell about the heaviest of samples `y` (f, s, d) of `rows`, moved uphill and as wide as the likelihood is curved
    there by the readings it explains."""
    centre = y[np.arange(len(y)), ln_weight.argmax(axis=1)]
    height = _ln_posterior(evidence, rows, centre)
    for _ in range(MOVES):
        precision, uphill = _curvature(evidence, rows, centre)
        move = np.linalg.solve(precision, uphill[..., None])[..., 0]
        length = np.sqrt(squared(move))[:, None]
        moved = centre + move * np.minimum(1.0, LONGEST_MOVE / np.maximum(length, 1e-9))
        there = _ln_posterior(evidence, rows, moved)
        better = there > height
        centre, height = np.where(better[:, None], moved, centre), np.where(better, there, height)
    precision, _ = _curvature(evidence, rows, centre)
    return Bells(centre[:, None], np.linalg.cholesky(np.linalg.inv(precision)) * LOCAL_WIDTH)


def _ln_posterior(evidence: Evidence, rows: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Log (f,) of likelihood times prior of one point `y` (f, d) a row."""
    share, z = _from_normals(y[:, None], evidence.active)
    return evidence.weigh(share, z, rows)[:, 0] - 0.5 * squared(y)


def _curvature(evidence: Evidence, rows: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Precision (f, d, d) and slope (f, d) of the log posterior at `y` (f, d), readings it leaves unexplained left out."""
    share, z = _from_normals(y[:, None], evidence.active)
    off, slope = linear(numbers_of(evidence, evidence.active), rows, share[:, 0], z[:, 0, evidence.active])
    steep = np.exp(-0.5 * np.square(y[:, 0])) / ROOT_TWO_PI
    slope = np.concatenate([slope[:, :, -1:] * steep[:, None, None], slope[:, :, :-1]], axis=2)
    weight = 1.0 / (1.0 + UNEXPLAINED * np.exp(np.minimum(0.5 * np.square(off), 60.0)))
    weighted = slope * weight[:, :, None]
    precision = np.einsum("nka,nkb->nab", weighted, slope) + np.eye(y.shape[1])
    return precision, -np.einsum("nka,nk->na", weighted, off) - y


def tempered(ln_weight: np.ndarray, least: float) -> np.ndarray:
    """Normalised weights (f, s), raised to the power (at most 1) at which they are worth `least` samples."""
    ln = ln_weight - ln_weight.max(axis=1, keepdims=True)
    low, high = np.zeros((len(ln), 1)), np.ones((len(ln), 1))
    power = high
    for _ in range(HALVINGS):
        weight = np.exp(ln * power)
        enough = np.square(weight.sum(axis=1)) / np.square(weight).sum(axis=1) >= least
        if enough.all() and power is high:
            break
        low, high = np.where(enough[:, None], power, low), np.where(enough[:, None], high, power)
        power = 0.5 * (low + high)
    weight = np.exp(ln * power)
    return weight / weight.sum(axis=1, keepdims=True)


def _from_normals(y: np.ndarray, active: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Share (f, s) and z (f, s, z) of points `y` (f, s, d)."""
    share = np.clip(ndtr(y[..., 0]), 1e-12, 1.0 - 1e-12)
    z = np.zeros((*share.shape, len(Z_NAMES)))
    z[..., active] = y[..., 1:]
    return share, z


def as_normals(share: np.ndarray, z: np.ndarray, active: np.ndarray) -> np.ndarray:
    """Points (f, s, d) of share (f, s) and z (f, s, z): the severity as a standard normal, then the active unknowns."""
    return np.concatenate([ndtri(np.clip(share, 1e-12, 1.0 - 1e-12))[..., None], z[..., active]], axis=-1)
