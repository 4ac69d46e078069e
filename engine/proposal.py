"""Owns where samples are to be drawn: per row a density over severity and unknowns, fitted to the readings.

Severity is profiled on nodes that move to where the evidence is; at each node the unknowns get a Gauss-Newton fit and
its Gaussian. Rows whose draws turn out to be worth too little get more nodes, where those draws say they belong.
"""

from typing import NamedTuple

import numpy as np
from scipy.special import expit

from engine.batches import among, held, log_sum, squared
from engine.ranked import quantiles
from engine.cells import (
    APART, AS_WIDE, Nodes, between, embedded, embedded_centre, empty_nodes, ln_widths, put, relaid, share_at, step_density, widths)
from engine.gauss_newton import Moved, moved_all, off_all
from engine.likelihood import Evidence, numbers_of
from engine.unknowns import Z_NAMES

# Nodes of the first look at every row, and of the rounds after it, a quarter of them kept spread over the range.
FIRST_NODES, NODES, SPREAD = 8, 12, 3
# Leeway of each round, and how far behind the best (natural log) a row is left as it is from there on; rows as far
# behind as GIVEN_UP are not drawn from at all.
ROUNDS = ((8.0, 36.0), (3.0, 20.0), (1.0, 16.0), (1.0, 11.0), (1.0, 0.0))
GIVEN_UP = 32.0
# So few numbers are soon followed. A needle is read so coarsely, and stands still for so many reasons, that rows come back from far behind.
FEW_NUMBERS, ROUNDS_OF_FEW = 4, ((5.0, 36.0), (1.0, 18.0), (1.0, 0.0))
ROUNDS_OF_NEEDLE = ((8.0, 60.0), (3.0, 45.0), (1.0, 30.0), (1.0, 20.0), (1.0, 0.0))
# The first rounds leave the small unknowns at their mean.
FOLLOWED = 2
SMALL = ("part", "sensor_beta", "thermometer", "ground", "open")
# A stuck number gets a node, and one on either side to make its cell as narrow as it is.
STUCK_ASIDE = (-0.012, 0.0, 0.012)
# Bells as if no thermometer were believed, and of two numbers that contradict each other not the first: for rows how far behind, how
# little either kind may count.
ASIDE_WITHIN, ASIDE_ENDS = 12.0, (0.2, 0.8)
# Nodes of the finer fit, half of them laid by the fit so far, half by the draws.
FINE = 56
# Moves of the unknowns to where they belong with the severity held: only then what is still unexplained is let go.
SETTLING, FINE_SETTLING = 2, 7
# A term so many deviations off is unexplained; doubted where so much of the draws' weight says so, and as much does not.
SLIPPED, EVEN = 4.0, 0.04
# The severity share of no node is nearer to its end than this: so many are laid a little apart.
LAST = 1.0 - 2e-5


class Left(NamedTuple):
    """Rows (n,), ascending, left as they are from some round on, the nodes of that round, in all unknowns, or without the small ones, and
    where theirs (n,) are among those: few of them are ever drawn from."""

    rows: np.ndarray
    nodes: Nodes
    at: np.ndarray


class Aside(NamedTuple):
    """Bells as if some terms were not believed: of `rows` (n,), ascending, their nodes, and how much (n,) the others count beside these;
    the terms (k,) that are not believed."""

    rows: np.ndarray
    nodes: Nodes
    part: np.ndarray
    doubted: np.ndarray


class Fit(NamedTuple):
    """Rows (n,) worth drawing from, ascending, what rows were left with, what lies aside if anything does, the log evidence (f,) of all rows
    of the model as far as they were followed, and the indices (a,) of all unknowns."""

    rows: np.ndarray
    left: tuple[Left, ...]
    aside: Aside | None
    ln_evidence: np.ndarray
    active: np.ndarray

    def nodes_of(self, rows: np.ndarray) -> Nodes:
        """The nodes of `rows` (k,), ascending."""
        whole = empty_nodes(len(rows), NODES, len(self.active))
        for left in self.left:
            here, at = among(rows, left.rows)
            mine, nodes = np.flatnonzero(here), left.nodes.only(left.at[at[here]])
            put(whole, mine, nodes if nodes.centre.shape[2] == len(self.active) else embedded(nodes, _large(self.active), len(self.active)))
        if self.aside is None:
            return whole
        aside, part = Nodes(*(values.copy() for values in whole[:4])), np.full(len(rows), 0.5)
        here, at = among(rows, self.aside.rows)
        mine, of = np.flatnonzero(here), at[here]
        put(aside, mine, self.aside.nodes.only(of))
        part[mine] = self.aside.part[of]
        return whole._replace(aside=aside._replace(doubted=np.tile(self.aside.doubted, (len(rows), 1))), part=part)


def _large(active: np.ndarray) -> np.ndarray:
    """Positions among the `active` unknowns of those that are followed from the first."""
    return np.array([at for at, k in enumerate(active) if Z_NAMES[k] not in SMALL], int)


def fit_rows(evidence: Evidence) -> Fit:
    """Fits all rows, those the readings leave behind less often; the best row of each location is never given up."""
    model, active, large = evidence.model, evidence.active, _large(evidence.active)
    rows, dims = np.arange(len(model)), active[large]
    share = np.tile((np.arange(FIRST_NODES) + 0.5) / FIRST_NODES, (len(rows), 1))
    _seed_stuck(evidence, rows, share)
    centre, ln_evidence, left = np.zeros((*share.shape, len(dims))), np.zeros(len(model)), []
    rounds, at = _rounds(evidence), _thermometers(evidence)
    for step, (heat, behind) in enumerate(rounds):
        last = step == len(rounds) - 1
        # No row is left behind at first for what a thermometer shows, which may be another temperature than the vehicle's.
        moved = (_settled(evidence, rows, share, centre, SETTLING) if last else
                 _moved(evidence, rows, share, centre, dims, heat, True, np.tile(at, (len(rows), 1)) if step < FOLLOWED else None))
        nodes, fit, bell = _profile(evidence, rows, moved, dims, heat)
        width = widths(nodes.share)
        if last:
            ln_evidence[rows] = log_sum(fit + np.log(width))
            left.append(Left(rows, nodes, np.arange(len(rows))))
            break
        width = np.minimum(width, np.maximum(AS_WIDE * bell / np.sqrt(heat), 1e-9))
        ln_evidence[rows] = log_sum(fit + np.log(width))
        keep = _worth(evidence, rows, ln_evidence, behind)
        if step >= FOLLOWED - 1 and not keep.all():
            # Rows left behind from here on are drawn from as they are, in full.
            left.append(Left(rows[~keep], nodes._replace(ln=fit), np.flatnonzero(~keep)))
        rows, had, centre = rows[keep], nodes.share[keep], nodes.centre[keep]
        if step == FOLLOWED - 1:
            # From here on small unknowns count too.
            centre, dims = embedded_centre(centre, large, len(active)), active
        share = relaid(had, nodes.ln[keep], bell[keep], NODES - SPREAD, SPREAD)
        _seed_stuck(evidence, rows, share)
        centre = between(centre, had, share)
    followed = np.sort(np.concatenate([each.rows for each in left]))
    fit = Fit(followed, tuple(left), None, ln_evidence, active)
    doubted = at | (np.arange(len(at)) == contradicted(evidence))
    if doubted.any():
        fit = fit._replace(aside=_aside(evidence, fit, doubted))
    return fit._replace(rows=followed[_worth(evidence, followed, ln_evidence, GIVEN_UP)])


def _rounds(evidence: Evidence) -> tuple[tuple[float, float], ...]:
    """Leeway and how far behind rows are left, of each round."""
    if evidence.model.setup.circuit.pointer:
        return ROUNDS_OF_NEEDLE
    # A thermometer is not believed at first: it takes more than a few rounds to come back to it.
    few = len(evidence.terms) <= FEW_NUMBERS and not _thermometers(evidence).any()
    return ROUNDS_OF_FEW if few else ROUNDS


def _aside(evidence: Evidence, fit: Fit, doubted: np.ndarray) -> Aside:
    """Bells aside of those of `fit`, whose log evidence they add to, as if terms `doubted` (k,) were not believed: what a thermometer beside
    the part shows may be another temperature than the vehicle's, and of two numbers that contradict each other either may be the slip."""
    rows = fit.rows[_worth(evidence, fit.rows, fit.ln_evidence, ASIDE_WITHIN)]
    nodes = fit.nodes_of(rows)
    moved = _settled(evidence, rows, nodes.share, nodes.centre, SETTLING, np.tile(doubted, (len(rows), 1)))
    nodes, full_fit, _ = _profile(evidence, rows, moved, evidence.active, 1.0)
    beside = log_sum(full_fit + np.log(widths(nodes.share)))
    part = held(expit(fit.ln_evidence[rows] - beside), *ASIDE_ENDS)
    fit.ln_evidence[rows] = np.logaddexp(fit.ln_evidence[rows], beside)
    return Aside(rows, nodes, part, doubted)


def _thermometers(evidence: Evidence) -> np.ndarray:
    """Which terms (k,) are a thermometer's beside the part."""
    return np.array([term.kind == "at" for term in evidence.terms], bool)


def finer(evidence: Evidence, nodes: Nodes, rows: np.ndarray, share: np.ndarray, z: np.ndarray, weight: np.ndarray) -> Nodes:
    """FINE nodes of `rows`, laid by their `nodes` and by draws share (f, s), z (f, s, z) of `weight` (f, s); where some leave a
    term unexplained, nodes aside do not believe it."""
    at = (np.arange(FINE // 2) + 0.5) / (FINE // 2)
    edges, _, below = step_density(nodes.share, nodes.ln)
    by_fit, _ = share_at(edges, below, at)
    by_draws = np.clip([quantiles(*each, at) for each in zip(share, weight, strict=True)], 1e-6, LAST)
    # Equal neighbours would make an empty cell.
    laid = np.sort(np.concatenate([by_fit, by_draws], axis=1), axis=1) + APART * np.arange(FINE)
    _seed_stuck(evidence, rows, laid)
    mine, doubted = _at(evidence, rows, nodes, laid, None), _doubted(evidence, nodes, rows, share, z, weight)
    if doubted is None:
        return mine
    aside = _at(evidence, rows, nodes.aside or nodes, laid, doubted)
    here, beside = (log_sum(each.ln + np.log(widths(each.share))) for each in (mine, aside))
    return mine._replace(aside=aside, part=np.clip(expit(here - beside), *ASIDE_ENDS))


def _at(evidence: Evidence, rows: np.ndarray, nodes: Nodes, share: np.ndarray, doubted: np.ndarray | None) -> Nodes:
    """Nodes at `share` (f, g), their unknowns moved from between `nodes` to where they belong by all terms but those doubted."""
    centre = between(nodes.centre, nodes.share, share)
    moved = _settled(evidence, rows, share, centre, FINE_SETTLING, doubted)
    return _profile(evidence, rows, moved, evidence.active, 1.0)[0]._replace(doubted=doubted)


def _doubted(evidence: Evidence, nodes: Nodes, rows: np.ndarray, share: np.ndarray, z: np.ndarray,
             weight: np.ndarray) -> np.ndarray | None:
    """The terms (f, k) not to be believed aside: one that another of the same hook-up contradicts; else a thermometer's; else of
    each row the one that draws of `weight` (f, s) explain and leave unexplained about as often. None where no row has any."""
    first = contradicted(evidence)
    if first is not None:
        return np.tile(np.arange(len(evidence.terms)) == first, (len(rows), 1))
    if nodes.aside is not None:
        return nodes.aside.doubted
    slipped = np.einsum("fsk,fs->fk", np.abs(off_all(numbers_of(evidence, evidence.active), rows, share, z[..., evidence.active])) > SLIPPED,
                        weight)
    even = np.minimum(slipped, 1.0 - slipped)
    some = even.max(axis=1) > EVEN
    return (np.arange(even.shape[1]) == even.argmax(axis=1)[:, None]) & some[:, None] if some.any() else None


def contradicted(evidence: Evidence) -> int | None:
    """The first shown number (index of its term) that another of the same hook-up plainly contradicts, if any."""
    readings, apart = evidence.readings, SLIPPED * (evidence.scale.reading_sd + evidence.scale.whole)
    shown = [(k, term) for k, term in enumerate(evidence.terms) if term.kind == "shows"]
    return next((k for k, one in shown for _, other in shown
                 if readings[one.reading].test == readings[other.reading].test and readings[one.reading].ohm == readings[other.reading].ohm
                 and abs(one.value - other.value) > apart), None)


def _worth(evidence: Evidence, rows: np.ndarray, ln_evidence: np.ndarray, hopeless: float) -> np.ndarray:
    """Mask of the rows within `hopeless` of the best, and the best of each location, so that reasons can name it."""
    model = evidence.model
    ln = ln_evidence[rows] + model.ln_chance[rows]
    keep = ln >= ln.max() - hopeless
    places = model.places[rows]
    for place in np.unique(places):
        mine = np.flatnonzero(places == place)
        keep[mine[np.argmax(ln[mine])]] = True
    return keep


def _seed_stuck(evidence: Evidence, rows: np.ndarray, share: np.ndarray) -> None:
    """A stuck number is sharp and shown as typed: puts a node right there."""
    stuck, where = evidence.stuck
    mine, at = among(rows, stuck)
    if mine.any():
        seeds = (where[at[mine], : share.shape[1] // 4, None] + np.array(STUCK_ASIDE)).reshape(mine.sum(), -1)
        kept = share[mine, seeds.shape[1]:]
        share[mine] = np.sort(np.concatenate([kept, held(seeds, 1e-6, LAST)], axis=1), axis=1) + APART * np.arange(share.shape[1])


def _profile(evidence: Evidence, rows: np.ndarray, moved: Moved, dims: np.ndarray, heat: float) -> tuple[Nodes, np.ndarray, np.ndarray]:
    """Nodes of `rows`, `moved` in the unknowns `dims`, with Laplace's log density, tempered; it in full (f, g); and the standard
    deviation (f, g) of the severity share, tempered too."""
    fit = evidence.weigh(moved.share, moved.centre, rows, dims)
    rest = -ln_widths(moved.root) - 0.5 * squared(moved.centre)
    return Nodes(*moved[:3], fit / heat + rest), fit + rest, moved.bell


def _moved(evidence: Evidence, rows: np.ndarray, share: np.ndarray, centre: np.ndarray, dims: np.ndarray, heat: float,
           free: bool, doubted: np.ndarray | None = None, moves: int = 1) -> Moved:
    """Nodes at `share` (f, g) moved in the unknowns `dims` from `centre` (f, g, a); see `moved_all`."""
    if doubted is None:
        doubted = np.zeros((len(rows), len(evidence.terms)), bool)
    return moved_all(numbers_of(evidence, dims), rows, share, centre, heat, free, doubted, moves)


def _settled(evidence: Evidence, rows: np.ndarray, share: np.ndarray, centre: np.ndarray, moves: int,
             doubted: np.ndarray | None = None) -> Moved:
    """Nodes at `share` (f, g), moved so many times in all unknowns from `centre` (f, g, a); what is unexplained is let go at last."""
    return _moved(evidence, rows, share, centre, evidence.active, 1.0, False, doubted, moves)
