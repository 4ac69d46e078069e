"""Owns belief: the chance of every row given the set of readings, with weighted samples of severity and unknowns."""

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np

from engine.faults import LOCATIONS
from engine.first import First, Part
from engine.likelihood import Evidence
from engine.model import Model, canonical
from engine.proposal import fit_rows
from engine.readings import Reading
from engine.refine import enough
from engine.samples import Samples
from engine.slopes import full
from engine.straight import Straight, unit_points
from engine.wanted import Wanted, fault_chance, first_counts, normalised

# Curves of a fault, and rows, of less than these parts are taken as the fit left them.
DROPPED_BELOW, DROPPED_PART = 1e-5, 0.001
# Where a few samples of a row do, and from which chance up there are twice as many, and so on.
FEW, MORE_FROM = 32, 0.02


class Few(NamedTuple):
    """Equally weighted samples, share (n, s) and z (n, s, z), of `rows` (n,), ascending, likely ones several times: the chance (n,)
    they stand for, and which `turn` (n,) of its row each is."""

    rows: np.ndarray
    share: np.ndarray
    z: np.ndarray
    chance: np.ndarray
    turn: np.ndarray

    def of(self, rows: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        """The samples of `rows`, one after another: row (n,), share (n,), z (n, z) and weight (n,)."""
        mine, count = np.isin(self.rows, rows), self.share.shape[1]
        return (np.repeat(self.rows[mine], count), self.share[mine].ravel(), self.z[mine].reshape(-1, self.z.shape[2]),
                np.repeat(self.chance[mine] / count, count))


@dataclass(frozen=True)
class Belief:
    """What the readings say.

    `chance` (f,) per row; `ln_evidence` (f,) log likelihood of all readings
    per row, chances before measuring left out; `effective` (f,) the effective
    sample size; `samples` what lies behind them; `evidence` the readings in
    canonical order.
    """

    model: Model
    evidence: Evidence
    ln_evidence: np.ndarray
    effective: np.ndarray
    samples: Samples
    chance: np.ndarray = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "chance", normalised(self.ln_evidence + self.model.ln_chance))

    def by_location(self, even: bool = False) -> dict[str, float]:
        """Chance of each location; with `even`, as if all locations had been equally likely before measuring."""
        model, chance = self.model, self.chance
        if even:
            before = np.bincount(model.places, np.exp(model.ln_chance))
            chance = normalised(self.ln_evidence + model.ln_chance - np.log(before[model.places]))
        total = np.bincount(model.places, chance)
        return {LOCATIONS[place]: float(total[place]) for place in np.unique(model.places)}

    @cached_property
    def unlisted(self) -> "Belief":
        """The same belief if the curve were none of the listed ones; itself where the curve was told."""
        family = self.model.unlisted
        if family.all() or not family.any():
            return self
        other = replace(self)
        object.__setattr__(other, "chance", normalised(np.where(family, self.ln_evidence + self.model.ln_chance, -np.inf)))
        return other

    @cached_property
    def doubted(self) -> "Belief":
        """Half as it is, half if the curve were none of the listed ones: to plan with where those two disagree."""
        other = replace(self)
        object.__setattr__(other, "chance", 0.5 * self.chance + 0.5 * self.unlisted.chance)
        return other

    def by_fault(self) -> dict[str, float]:
        """Chance of each fault, its curves added up, most likely first."""
        model = self.model
        total = np.bincount(model.fault, self.chance, len(model.setup.faults))
        out = {model.setup.faults[k].id: float(total[k]) for k in np.unique(model.fault)}
        return dict(sorted(out.items(), key=lambda item: (-round(item[1], 9), item[0])))

    def weighted(self, rows: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        """Samples of `rows` together: row (n,), share (n,), z (n, z) and weight (n,), weights adding up to their chance."""
        row, at = self.samples.of(rows)
        return row, self.samples.share[at], self.samples.z(at), self.samples.weight[at] * self.chance[row]

    def shares(self, rows: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Share (n,) and weight (n,) of the samples of `rows` together, as `weighted`."""
        row, at = self.samples.of(rows)
        return self.samples.share[at], self.samples.weight[at] * self.chance[row]

    def weighty(self, above: float, part: float = 0.0) -> np.ndarray:
        """Rows (n,) of a chance `above`, and at least `part` of their fault's; the best row of each location in any case."""
        of_fault = fault_chance(self.model, self.chance, np.arange(len(self.model)))
        drawn = np.flatnonzero(self.effective > 0)
        keep = (self.chance[drawn] >= above) & (self.chance[drawn] >= part * of_fault[drawn])
        return np.union1d(drawn[keep], _best_of_locations(self.model, drawn, self.ln_evidence))

    def few(self, above: float, part: float, most: int) -> Few:
        """A few equally weighted samples of the `weighty` rows: of likely ones up to `most` times as many as of others."""
        rows = self.weighty(above, part)
        times = np.minimum(1 + self.chance[rows] // MORE_FROM, most).astype(int)
        times[np.isin(rows, _best_of_locations(self.model, rows, self.ln_evidence))] = most
        at, turn = self.samples.equal(rows, times, FEW), np.concatenate([np.arange(many) for many in times])
        return Few(np.repeat(rows, times), self.samples.share[at], self.samples.z(at), np.repeat(self.chance[rows] / times, times), turn)


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
    chance = normalised(fit.ln_evidence + model.ln_chance)
    rows = _worth_drawing(model, chance, fit.rows, fit.ln_evidence)
    first = First(evidence, Straight(fit.nodes_of(rows)), rows)
    first.more(np.arange(len(rows)), first_counts(model, chance, rows))
    still, better = enough(evidence, first, Wanted(model, fit.ln_evidence))
    mine = rows[still]
    parts = [(part, np.isin(part.rows, mine)) for part in first.parts]
    parts += [(Part(part.rows, np.array([0, part.share.size]), part.share[0], part.z[0], part.ln_weight[0]), np.ones(1, bool))
              for part in better]
    return _of_samples(model, evidence, fit.ln_evidence, Samples(parts))


def _of_samples(model: Model, evidence: Evidence, ln_evidence: np.ndarray, samples: Samples) -> Belief:
    """Belief by `samples`; rows without any are of this log evidence (f,)."""
    ln_evidence, effective = ln_evidence.copy(), np.zeros(len(model))
    ln_evidence[samples.rows], effective[samples.rows] = samples.ln_evidence, samples.effective
    return Belief(model, evidence, ln_evidence, effective, samples)


def _before_measuring(model: Model, evidence: Evidence) -> Belief:
    """Belief where nothing was said: chances as they were, and even draws of what was thought before."""
    nothing, chance = np.zeros(len(model)), np.exp(model.ln_chance)
    rows = _worth_drawing(model, chance, np.arange(len(model)), nothing)
    counts = first_counts(model, chance, rows)
    start, number = np.concatenate([[0], np.cumsum(counts)]), np.concatenate([np.arange(count) for count in counts])
    points = unit_points(int(counts.max()), 0)[number]
    part = Part(rows, start, points[:, 1], full(evidence.active, points[:, 2:2 + len(evidence.active)]), np.zeros(len(points)))
    return _of_samples(model, evidence, nothing, Samples([(part, np.ones(len(rows), bool))]))


def _worth_drawing(model: Model, chance: np.ndarray, among: np.ndarray, ln_evidence: np.ndarray) -> np.ndarray:
    """Those `among` all rows that count; of the others still the best of each location: reasons name every one."""
    part = chance[among] / np.maximum(fault_chance(model, chance, among), 1e-300)
    return np.union1d(among[(chance[among] >= DROPPED_BELOW) & (part >= DROPPED_PART)], _best_of_locations(model, among, ln_evidence))


def _best_of_locations(model: Model, rows: np.ndarray, ln_evidence: np.ndarray) -> np.ndarray:
    ln = ln_evidence[rows] + model.ln_chance[rows]
    places = model.places[rows]
    return np.array(sorted(rows[mine[np.argmax(ln[mine])]]
                           for mine in (np.flatnonzero(places == place) for place in np.unique(places))))
