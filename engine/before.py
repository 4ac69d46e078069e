"""Owns draws from before measuring: no density is dearer to fit, and none surer, where readings leave much open."""

from functools import lru_cache

import numpy as np

from engine.likelihood import Evidence
from engine.slopes import full
from engine.straight import unit_points

FEWEST = 4095


class Before:
    """Severities and unknowns as they are before measuring."""

    def only(self, _: np.ndarray) -> "Before":
        """The same for any rows."""
        return self

    def draw(self, evidence: Evidence, rows: np.ndarray, count: int, start: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """As of any density drawn from."""
        share, z = (values[None, start:start + count] for values in
                    _points(1 << max(start + count - 1, FEWEST).bit_length(), tuple(evidence.active)))
        if len(rows) > 1:
            share, z = share.repeat(len(rows), axis=0), z.repeat(len(rows), axis=0)
        return share, z, np.zeros(share.shape)

    def ln_over_prior(self, _: Evidence, __: np.ndarray, share: np.ndarray, ___: np.ndarray) -> np.ndarray:
        """As of any density drawn from."""
        return np.zeros(share.shape)


@lru_cache(maxsize=16)
def _points(count: int, active: tuple[int, ...]) -> tuple[np.ndarray, np.ndarray]:
    """Share (count,) and z (count, z) of that many points, unknowns that are not `active` at their mean: never written to, though they
    could be, since loops would be compiled once more for arrays that cannot."""
    points = unit_points(count, 0)
    return points[:, 1].copy(), full(np.array(active), points[:, 2:2 + len(active)])
