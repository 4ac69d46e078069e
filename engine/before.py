"""Owns draws from before measuring: no density is dearer to fit, and none surer, where readings leave much open."""

import numpy as np

from engine.likelihood import Evidence
from engine.slopes import full
from engine.straight import unit_points


class Before:
    """Severities and unknowns as they are before measuring."""

    def only(self, _: np.ndarray) -> "Before":
        """The same for any rows."""
        return self

    def draw(self, evidence: Evidence, rows: np.ndarray, count: int, start: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """As of any density drawn from."""
        points, shape = unit_points(count, start), (len(rows), count)
        z = full(evidence.active, points[:, 2:2 + len(evidence.active)])
        return np.broadcast_to(points[:, 1], shape), np.broadcast_to(z, (*shape, z.shape[1])), np.zeros(shape)

    def ln_over_prior(self, _: Evidence, __: np.ndarray, share: np.ndarray, ___: np.ndarray) -> np.ndarray:
        """As of any density drawn from."""
        return np.zeros(share.shape)
