"""Owns draws from straight bells: the severity from the nodes' step density, the unknowns from the bell there."""

import math
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from scipy.special import ndtri

from engine.batches import lattice
from engine.block import B
from engine.cells import APART, Nodes, ln_widths, step_density
from engine.drawing import WIDEN, Bells, Drawing, Sampled, draw_rows, ln_rows, room_to_draw, sampled
from engine.likelihood import Evidence, weighing_for
from engine.unknowns import Z_NAMES


@dataclass(frozen=True)
class Straight:
    """The density fitted to the readings, as straight bells about its `nodes`."""

    nodes: Nodes

    @cached_property
    def bells(self) -> Bells:
        """The nodes ready to be drawn from."""
        nodes, aside = self.nodes, self.nodes.aside
        tables = [_tables(each) for each in ((nodes,) if aside is None else (nodes, aside))]
        one = [np.concatenate(each) if aside is not None else each[0] for each in zip(*tables, strict=True)]
        part = np.ones(len(nodes.share)) if aside is None else nodes.part
        return Bells(*(np.ascontiguousarray(each, np.float32) for each in one), len(nodes.share), part.astype(np.float32))

    @property
    def _room(self) -> Drawing:
        """Room for samples."""
        return room_to_draw(self.nodes.share.shape[1])

    def only(self, keep: np.ndarray) -> "Straight":
        """The rows at `keep`."""
        mine = Straight(self.nodes.only(keep))
        if "bells" in vars(self):
            # Those aside lie behind all others.
            rows = np.arange(len(self.nodes.share))[keep]
            at = rows if self.nodes.aside is None else np.concatenate([rows, len(self.nodes.share) + rows])
            bells = self.bells
            vars(mine)["bells"] = Bells(*(each[at] for each in bells[:-2]), len(rows), bells.part[rows])
        return mine

    def draw(self, evidence: Evidence, rows: np.ndarray, count: int, start: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """As of any density drawn from."""
        f = len(rows)
        out = self._draw(evidence, rows, np.arange(f), np.full(f, start), np.full(f, count), False)
        return out.share.reshape(f, count), out.z.reshape(f, count, -1), out.ln.reshape(f, count)

    def sample(self, evidence: Evidence, rows: np.ndarray, at: np.ndarray, first: np.ndarray, counts: np.ndarray) -> Sampled:
        """`counts` (n,) samples of those of its rows `at` (n,), the model's `rows` (n,), from number `first` (n,) on, and weighed."""
        return self._draw(evidence, rows, at, first, counts, True)

    def _draw(self, evidence: Evidence, rows: np.ndarray, at: np.ndarray, first: np.ndarray, counts: np.ndarray, weighed: bool) -> Sampled:
        out, start = sampled(int(counts.sum())), np.concatenate([[0], np.cumsum(counts)])
        draw_rows(evidence.model.circuit, evidence.typed, weighing_for(evidence.typed), self.bells, self._room, rows, at, first, start,
                  even_points(int((first + counts).max(initial=1)) + B), evidence.active, weighed, out)
        return out

    def ln_over_prior(self, evidence: Evidence, rows: np.ndarray, share: np.ndarray, z: np.ndarray) -> np.ndarray:
        """As of any density drawn from."""
        ln = np.empty(share.shape)
        ln_rows(self.bells, self._room, even_points(1), np.ascontiguousarray(share), np.ascontiguousarray(z), evidence.active, ln)
        return ln


def _tables(nodes: Nodes) -> tuple[np.ndarray, ...]:
    """What `Bells` holds of `nodes`."""
    edges, ln_density, below = step_density(nodes.share, nodes.ln)
    ln_volume = math.log(WIDEN) * nodes.root.shape[2] - ln_widths(nodes.root)
    # Beyond the first and the last node centres are held.
    before, after = np.zeros(nodes.centre.shape), np.zeros(nodes.centre.shape)
    before[:, 1:] = after[:, :-1] = np.diff(nodes.centre, axis=1) / np.maximum(np.diff(nodes.share, axis=1), APART)[..., None]
    return nodes.share, nodes.centre, before, after, nodes.root, edges, below, ln_density - ln_volume


@lru_cache(maxsize=64)
def unit_points(count: int, start: int) -> np.ndarray:
    """Quasi-random points (count, 2 + z): the first coordinate, even in 0..1, chooses the part of a density drawn from, the
    second, even too, the severity; the others are standard normals for the unknowns."""
    points = lattice(count, 2 + len(Z_NAMES), start)
    points[:, 2:] = ndtri(points[:, 2:])
    points.setflags(write=False)
    return points


def even_points(count: int) -> np.ndarray:
    """At least `count` points of `unit_points`, one coordinate after another (2 + z, n)."""
    return _points_across(1 << max(count - 1, 2047).bit_length())


@lru_cache(maxsize=8)
def _points_across(count: int) -> np.ndarray:
    return np.ascontiguousarray(unit_points(count, 0).T, np.float32)
