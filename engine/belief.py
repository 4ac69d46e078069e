"""Owns belief: the chance of every row given the set of readings, with weighted samples of severity and unknowns."""

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from engine.batches import log_sum
from engine.compiled import compiled
from engine.drawn import Drawn, first_draws, worth
from engine.faults import LOCATIONS
from engine.likelihood import Evidence
from engine.model import Model, canonical
from engine.proposal import fit_rows
from engine.readings import Reading
from engine.refine import refine
from engine.slopes import full
from engine.straight import unit_points
from engine.unknowns import Z_NAMES

# Draws of one fault at first, shared among its curves, and how many independent ones they must be worth: by the fault's
# chance, as far as it is known from the fit, and afterwards. Rows of no account get the least.
FIRST = ((0.2, 2560), (0.05, 1024), (0.009, 640), (1e-3, 128), (0.0, 32))
WANTED = ((0.2, 1000.0), (0.05, 600.0), (0.009, 470.0), (0.0, 0.0))
LEAST_SAMPLES, PASSES = 32, 9
# Curves of a fault, and rows, of less than these parts are taken as the fit left them.
DROPPED_BELOW, DROPPED_PART = 1e-5, 0.001


@dataclass(frozen=True)
class Group:
    """Rows sampled alike: weighted samples with shapes share (f, s), z (f, s, z), weight (f, s), normalised per row."""

    rows: np.ndarray
    share: np.ndarray
    z: np.ndarray
    weight: np.ndarray


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
        model, chance = self.model, self.chance
        if even:
            before = np.bincount(model.places, np.exp(model.ln_chance))
            chance = _normalised(self.ln_evidence + model.ln_chance - np.log(before[model.places]))
        total = np.bincount(model.places, chance)
        return {LOCATIONS[place]: float(total[place]) for place in np.unique(model.places)}

    @cached_property
    def unlisted(self) -> "Belief":
        """The same belief if the curve were none of the listed ones; itself where the curve was told."""
        family = self.model.unlisted
        if family.all() or not family.any():
            return self
        other = replace(self)
        object.__setattr__(other, "chance", _normalised(np.where(family, self.ln_evidence + self.model.ln_chance, -np.inf)))
        return other

    @cached_property
    def doubted(self) -> "Belief":
        """Half as it is, half if the curve were none of the listed ones: to plan with where those two disagree."""
        other = replace(self)
        object.__setattr__(other, "chance", 0.5 * self.chance + 0.5 * self.unlisted.chance)
        return other

    def by_fault(self) -> dict[str, float]:
        """Chance of each fault, its curves added up, most likely first."""
        out: dict[str, float] = {}
        for k, kind in enumerate(self.model.kinds):
            out[kind.id] = out.get(kind.id, 0.0) + float(self.chance[k])
        return dict(sorted(out.items(), key=lambda item: (-round(item[1], 9), item[0])))

    def weighted(self, rows: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        """Samples of `rows` together: row (n,), share (n,), z (n, z) and weight (n,), weights adding up to their chance."""
        parts = self._parts(rows)
        if not parts:
            return np.zeros(0, int), np.zeros(0), np.zeros((0, len(Z_NAMES))), np.zeros(0)
        share, weight = self.shares(rows)
        return (np.repeat([row for _, row, _ in parts], [group.share.shape[1] for group, _, _ in parts]), share,
                np.concatenate([group.z[k] for group, _, k in parts]), weight)

    def shares(self, rows: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Share (n,) and weight (n,) of the samples of `rows` together, as `weighted`."""
        parts = self._parts(rows)
        if not parts:
            return np.zeros(0), np.zeros(0)
        return (np.concatenate([group.share[k] for group, _, k in parts]),
                np.concatenate([group.weight[k] * self.chance[row] for group, row, k in parts]))

    def _parts(self, rows: np.ndarray) -> list[tuple[Group, int, int]]:
        """Of each of `rows` that has samples its group, itself, and where it is there."""
        return [(self._place[row][0], row, self._place[row][1]) for row in rows.tolist() if row in self._place]

    @cached_property
    def _place(self) -> dict[int, tuple[Group, int]]:
        """Where the samples of each row are."""
        return {int(row): (group, k) for group in self.groups for k, row in enumerate(group.rows)}

    def weighty(self, above: float, part: float = 0.0) -> np.ndarray:
        """Rows (n,) of a chance `above`, and at least `part` of their fault's; the best row of each location in any case."""
        of_fault = _fault_chance(self.model, self.chance, np.arange(len(self.model)))
        drawn = np.flatnonzero(self.effective > 0)
        keep = (self.chance[drawn] >= above) & (self.chance[drawn] >= part * of_fault[drawn])
        return np.union1d(drawn[keep], _best_of_locations(self.model, drawn, self.ln_evidence))

    def equal_samples(self, rows: np.ndarray, count: int) -> tuple[np.ndarray, np.ndarray]:
        """`count` equally weighted samples of each of `rows` (n,): share (n, s) and z (n, s, z), by even resampling."""
        share, z = np.empty((len(rows), count)), np.empty((len(rows), count, len(Z_NAMES)))
        for group in self.groups:
            mine = np.flatnonzero(np.isin(rows, group.rows))
            if len(mine):
                at = np.searchsorted(group.rows, rows[mine])
                pick = _evenly(np.ascontiguousarray(group.weight), at, count)
                share[mine], z[mine] = group.share[at[:, None], pick], group.z[at[:, None], pick]
        return share, z


def believe(model: Model, readings: tuple[Reading, ...]) -> Belief:
    """Belief after `readings`, a function of their set alone: no history, so undo is to compute again.

    Importance sampling from a density fitted per row (see `proposal`), the
    same quasi-random points through each; rows whose draws were worth too
    little get more (see `refine`).
    """
    evidence = Evidence(model, canonical(readings))
    if not evidence.readings and not evidence.signs:
        return _before_measuring(model, evidence)
    fit = fit_rows(evidence)
    ln_evidence = fit.ln_evidence.copy()
    chance = _normalised(ln_evidence + model.ln_chance)
    rows = _worth_drawing(model, chance, fit.rows, ln_evidence)
    counts = _first_counts(model, chance, rows)
    drawn = []
    for count in np.unique(counts)[::-1]:
        mine = rows[counts == count]
        drawn.append(first_draws(evidence, fit.nodes.only(np.searchsorted(fit.rows, mine)), mine, int(count)))
        ln_evidence[drawn[-1].rows] = drawn[-1].ln_evidence()
    drawn = _enough(evidence, drawn, ln_evidence)
    effective = np.zeros(len(model))
    groups = []
    for part in drawn:
        ln = part.truncated()
        ln_evidence[part.rows], effective[part.rows] = log_sum(ln) - np.log(ln.shape[1]), worth(ln)
        groups.append(Group(part.rows, part.share, part.z, np.exp(ln - log_sum(ln)[:, None])))
    return Belief(model, evidence, ln_evidence, effective, tuple(groups))


def _before_measuring(model: Model, evidence: Evidence) -> Belief:
    """Belief where nothing was said: chances as they were, and even draws of what was thought before."""
    nothing, chance = np.zeros(len(model)), np.exp(model.ln_chance)
    rows = _worth_drawing(model, chance, np.arange(len(model)), nothing)
    counts = _first_counts(model, chance, rows)
    effective, groups = np.zeros(len(model)), []
    for count in np.unique(counts)[::-1]:
        mine, points = rows[counts == count], unit_points(int(count), 0)
        z = full(evidence.active, points[:, 2:2 + len(evidence.active)])
        shape = (len(mine), int(count))
        groups.append(Group(mine, np.broadcast_to(points[:, 1], shape), np.broadcast_to(z, (*shape, len(Z_NAMES))), np.full(shape, 1.0 / count)))
        effective[mine] = count
    return Belief(model, evidence, nothing, effective, tuple(groups))


def _worth_drawing(model: Model, chance: np.ndarray, among: np.ndarray, ln_evidence: np.ndarray) -> np.ndarray:
    """Those `among` all rows that count; of the others still the best of each location: reasons name every one."""
    part = chance[among] / np.maximum(_fault_chance(model, chance, among), 1e-300)
    return np.union1d(among[(chance[among] >= DROPPED_BELOW) & (part >= DROPPED_PART)], _best_of_locations(model, among, ln_evidence))


def _first_counts(model: Model, chance: np.ndarray, rows: np.ndarray) -> np.ndarray:
    """Draws (n,) of each row, of few sizes: a fault's are shared by the chance of its curves."""
    total = _fault_chance(model, chance, rows)
    wanted = np.array([_by_chance(FIRST, p) for p in total]) * chance[rows] / np.maximum(total, 1e-300)
    return np.maximum(LEAST_SAMPLES, 2 ** np.ceil(np.log2(np.maximum(wanted, 1.0)))).astype(int)


def _fault_chance(model: Model, chance: np.ndarray, rows: np.ndarray) -> np.ndarray:
    """Chance (n,) of each row's whole fault."""
    return np.bincount(model.fault[rows], weights=chance[rows], minlength=len(model.setup.faults))[model.fault[rows]]


def _by_chance(table: tuple[tuple[float, float], ...], chance: float) -> float:
    return next(count for above, count in table if chance >= above)


def _enough(evidence: Evidence, drawn: list[Drawn], ln_evidence: np.ndarray) -> list[Drawn]:
    """The draws, with more where a fault that counts was left with too few effective ones over all its curves."""
    model = evidence.model

    def wants(rows: np.ndarray, ln: np.ndarray, doubled: bool) -> np.ndarray:
        there = ln_evidence.copy()
        there[rows] = ln
        chance = _normalised(there + model.ln_chance)
        own, total = chance[rows], _fault_chance(model, chance, np.arange(len(model)))[rows]
        if doubled:
            more = 2.0 * own / (1.0 + own)
            own, total = more, (total - own) * (1.0 - more) / np.maximum(1.0 - own, 1e-12) + more
        # Together they are worth what the fault wants when each curve has its part of it.
        return np.array([_by_chance(WANTED, p) for p in total]) * own / np.maximum(total, 1e-300)

    for k in range(PASSES):
        # More draws may show that a row counts for more than it seemed: hence another pass.
        out = refine(evidence, drawn, wants, k == PASSES - 1)
        if out is drawn:
            break
        for part in out:
            ln_evidence[part.rows] = part.ln_evidence()
        drawn = out
    return drawn


@compiled
def _evenly(weight: np.ndarray, rows: np.ndarray, count: int) -> np.ndarray:
    """Which of the samples of `rows` (n,), of `weight` (f, s), stand for them all: `count` of each (n, count), evenly spread."""
    out = np.empty((len(rows), count), np.int64)
    for k in range(len(rows)):
        mine = weight[rows[k]]
        total, s = mine[0], 0
        whole = mine.sum()
        for i in range(count):
            while total < (i + 0.5) / count * whole and s < len(mine) - 1:
                s += 1
                total += mine[s]
            out[k, i] = s
    return out


def _best_of_locations(model: Model, rows: np.ndarray, ln_evidence: np.ndarray) -> np.ndarray:
    ln = ln_evidence[rows] + model.ln_chance[rows]
    places = model.places[rows]
    return np.array(sorted(rows[mine[np.argmax(ln[mine])]]
                           for mine in (np.flatnonzero(places == place) for place in np.unique(places))))


def _normalised(ln: np.ndarray) -> np.ndarray:
    weight = np.exp(ln - ln.max())
    return weight / weight.sum()
