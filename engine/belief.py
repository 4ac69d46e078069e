"""Owns belief: the chance of every row given the set of readings, with weighted samples of severity and unknowns."""

from dataclasses import dataclass, field

import numpy as np

from engine.likelihood import Evidence
from engine.model import Z, Z_NAMES, Model, canonical
from engine.proposal import Nodes, draw, fit_nodes, lattice
from engine.readings import Reading

SAMPLES = 2048
# Many rows that count (several curves) share this many draws; together they are as good.
MOST_SAMPLES = 40_000
MINOR_SAMPLES = 256
# Rows below these shares of the whole get fewer samples, or none beyond their fit.
MINOR_BELOW, DROPPED_BELOW = 2e-3, 1e-6
# Faults above each chance get as many draws as it takes to be worth so many independent ones, within reason: the few
# that lead set the digits of every chance shown.
WANTED = ((0.05, 3000.0), (0.008, 450.0))
MOST_REFILL, MOST_DRAWS = 40, 80_000


@dataclass(frozen=True)
class Group:
    """Rows sampled alike: weighted samples with shapes (f, s), z (f, s, z), readings (r, f, s)."""

    rows: np.ndarray
    share: np.ndarray
    z: np.ndarray
    weight: np.ndarray   # normalised per row
    by_reading: np.ndarray
    slip: np.ndarray


@dataclass(frozen=True)
class Belief:
    """What the readings say.

    `chance` (f,) per row; `ln_evidence` (f,) log likelihood of all readings
    per row, chances before measuring left out; `effective` (f,) the effective
    sample size; `groups` the samples behind them; `evidence` the readings in
    canonical order.
    """

    model: Model
    evidence: Evidence
    ln_evidence: np.ndarray
    effective: np.ndarray
    groups: tuple[Group, ...]
    chance: np.ndarray = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "chance", _normalised(self.ln_evidence + self.model.ln_chance))

    def by_location(self, even: bool = False) -> dict[str, float]:
        """Chance of each location; with `even`, as if all locations had been equally likely before measuring."""
        model, out = self.model, {}
        names = sorted({str(n) for n in model.locations})
        chance = self.chance
        if even:
            before = {n: np.exp(model.ln_chance[model.locations == n]).sum() for n in names}
            chance = _normalised(self.ln_evidence + model.ln_chance
                                 - np.log([before[n] for n in model.locations]))
        for name in names:
            out[name] = float(chance[model.locations == name].sum())
        return out

    def by_fault(self) -> dict[str, float]:
        """Chance of each fault, its curves added up, most likely first."""
        out: dict[str, float] = {}
        for k, kind in enumerate(self.model.kinds):
            out[kind.id] = out.get(kind.id, 0.0) + float(self.chance[k])
        return dict(sorted(out.items(), key=lambda item: (-round(item[1], 9), item[0])))

    def weighted(self, rows: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        """Samples of `rows` together: row (n,), share (n,), z (n, z) and weight (n,), weights adding up to their chance."""
        parts = []
        for group in self.groups:
            keep = np.isin(group.rows, rows)
            if keep.any():
                s = group.share.shape[1]
                parts.append((np.repeat(group.rows[keep], s), group.share[keep].ravel(),
                              group.z[keep].reshape(-1, len(Z_NAMES)),
                              (group.weight[keep] * self.chance[group.rows[keep]][:, None]).ravel()))
        if not parts:
            return np.zeros(0, int), np.zeros(0), np.zeros((0, len(Z_NAMES))), np.zeros(0)
        return tuple(np.concatenate(column) for column in zip(*parts, strict=True))

    def slips(self) -> np.ndarray:
        """Chance (r,) that each reading, in canonical order, is a slip or nothing listed explains it."""
        total = np.zeros(len(self.evidence.readings))
        for group in self.groups:
            mean = (group.slip * group.weight).sum(axis=2)
            total += mean @ self.chance[group.rows]
        return total


def believe(model: Model, readings: tuple[Reading, ...], samples: int = SAMPLES) -> Belief:
    """Belief after `readings`, a function of their set alone: no history, so undo is to compute again.

    Importance sampling from a density fitted per row (see `proposal`), the
    same quasi-random points through each.
    """
    evidence = Evidence(model, canonical(readings))
    everything = np.arange(len(model))
    nodes = fit_nodes(evidence, everything)
    width = np.diff(np.concatenate([np.zeros((len(model), 1)), 0.5 * (nodes.share[:, 1:] + nodes.share[:, :-1]),
                                    np.ones((len(model), 1))], axis=1), axis=1)
    ln_evidence = _log_sum(nodes.ln + np.log(np.maximum(width, 1e-12)))
    share = _normalised(ln_evidence + model.ln_chance)
    effective = np.zeros(len(model))
    groups = []
    major = (share >= MINOR_BELOW) | np.isin(everything, np.argsort(-share, kind="stable")[:2])
    # The best row of each location is always drawn, so that the reasons can say what ruled it out.
    best = np.array([max(np.flatnonzero(model.locations == n), key=lambda k: (share[k], -k))
                     for n in np.unique(model.locations)])
    minor = ~major & ((share >= DROPPED_BELOW) | np.isin(everything, best))
    each = int(np.clip(MOST_SAMPLES // major.sum(), MINOR_SAMPLES * 2, samples))
    for rows, count in ((everything[major], each), (everything[minor], MINOR_SAMPLES)):
        if len(rows):
            group, ln_evidence[rows], effective[rows] = _sample(evidence, nodes, rows, count)
            groups.append(group)
    if samples >= SAMPLES:
        _refill(evidence, nodes, groups, ln_evidence, effective)
    return Belief(model, evidence, ln_evidence, effective, tuple(groups))


def _refill(evidence: Evidence, nodes: Nodes, groups: list[Group], ln_evidence: np.ndarray,
            effective: np.ndarray) -> None:
    """Draws again, and more, where a fault that counts was left with too few effective samples over all its curves."""
    chance = _normalised(ln_evidence + evidence.model.ln_chance)
    for fault in np.unique(evidence.model.fault):
        rows = np.flatnonzero((evidence.model.fault == fault) & (effective > 0))
        total = chance[rows].sum()
        wanted = next((count for above, count in WANTED if total > above), 0.0)
        together = total**2 / max((np.square(chance[rows]) / np.maximum(effective[rows], 1.0)).sum(), 1e-300)
        if together >= wanted:
            continue
        rows = rows[chance[rows] > 0.02 * total]
        more = min(MOST_REFILL, int(np.ceil(1.3 * wanted / together)), max(MOST_DRAWS // (len(rows) * SAMPLES), 2))
        for k, group in enumerate(groups):
            keep = ~np.isin(group.rows, rows)
            mine = group.rows[~keep]
            if len(mine):
                bigger, ln_evidence[mine], effective[mine] = _sample(evidence, nodes, mine, group.share.shape[1] * more)
                groups[k] = bigger
                if keep.any():
                    groups.append(Group(*(part[keep] for part in (group.rows, group.share, group.z, group.weight)),
                                        group.by_reading[:, keep], group.slip[:, keep]))


def _sample(evidence: Evidence, nodes: Nodes, rows: np.ndarray, count: int) -> tuple[Group, np.ndarray, np.ndarray]:
    points = lattice(count, 2 + len(Z_NAMES))
    mine = Nodes(*(part[rows] for part in nodes))
    share, z, ln_ratio = draw(evidence, mine, points)
    ln_fit, by_reading, slip = evidence.weigh(share, z, rows)
    ln_weight = ln_fit + ln_ratio
    ln_evidence = _log_sum(ln_weight) - np.log(count)
    weight = np.exp(ln_weight - ln_weight.max(axis=1, keepdims=True))
    weight /= weight.sum(axis=1, keepdims=True)
    effective = 1.0 / np.square(weight).sum(axis=1)
    return Group(rows, share, z, weight, by_reading, slip), ln_evidence, effective


def quantiles(value: np.ndarray, weight: np.ndarray, at: tuple[float, ...]) -> tuple[float, ...]:
    """Weighted quantiles of `value` (n,), straight between half-weights."""
    order = np.argsort(value, kind="stable")
    cumulative = np.cumsum(weight[order])
    middle = (cumulative - 0.5 * weight[order]) / cumulative[-1]
    return tuple(float(q) for q in np.interp(at, middle, value[order]))


def unknown_index(name: str) -> int:
    """Column of the unknown `name` in z."""
    return Z[name]


def _log_sum(ln: np.ndarray) -> np.ndarray:
    top = ln.max(axis=1)
    return top + np.log(np.exp(ln - top[:, None]).sum(axis=1))


def _normalised(ln: np.ndarray) -> np.ndarray:
    weight = np.exp(ln - ln.max())
    return weight / weight.sum()
