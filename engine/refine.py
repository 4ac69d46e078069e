"""Owns when a row has draws enough, and the second look at rows whose first ones are worth too little.

They get better densities, one after another, until they are worth enough: first a finer fit about where the draws say the
evidence is, then sheets bent along the readings, then bells about the draws themselves.
"""

import numpy as np

from engine.before import Before
from engine.bells import about_heaviest, as_normals, fitted, tempered
from engine.bent import Bent
from engine.cells import Nodes
from engine.drawn import Density, Drawn, Mixture, draws_of, drawn_from
from engine.first import First
from engine.likelihood import Evidence
from engine.proposal import finer
from engine.straight import Straight
from engine.wanted import Wanted

# Fewest draws that tell how well a density fits, and draws that show how much better another does.
FEW, PILOT = 128, 256
# So many first draws stay beside better ones: where numbers contradict each other they may know of what those miss.
KEPT = 256
# How many samples the severities must rest on about which finer nodes are laid.
LAID_ON = 25.0
# Rounds of bells: draws of each in terms of the first's. Where readings contradict each other each of them may be the slip:
# rounds about the heaviest draw find such places one by one (Raftery and Bao 2010, "Estimating and projecting trends in
# HIV/AIDS", incremental mixtures, from memory). After so many of them bells are laid over all draws once more: a long bent
# ridge asks for both. So many turns at most.
ROUNDS = (1.0, 1.5, 2.0)
LAST_ROUNDS, LAST_DRAWS, LAST_TURNS = 8, 512, 4
BELLS_AT_FIRST, BELLS_PER_WANTED = (128, 512, 2048), 3.0
# Draws worth this share of their number are worth taking more of the same: of first densities, and of better ones, where it
# takes bells to do better; a bent sheet is taken instead of those from its own share up. It costs so many times as much as
# straight bells. So many draws of a row at most, so many passes over them all: more draws may show that a row counts for more
# than it seemed.
GOOD_SHARE, LEAST_SHARE, BELLS_SHARE, GOOD_BENT, MORE = 0.01, 0.01, 0.005, 0.08, 1.25
BENT_COST, MOST, PASSES = 10.0, 65_536, 12
# What a draw from before measuring is worth is known beforehand: only where that was luck it is given up, for bells at once, since no
# fit knew of where it tells.
LEAST = {Mixture: BELLS_SHARE, Before: 0.002}
# More of the same than this is dearer than to look for a better density.
MOST_OF_FIRST, MOST_OF_SAME, MOST_OF_BENT = 8192, 8192, 1024
# A draw from before measuring costs a fifth of any other. Where so many of them do, no better density is looked for; rows that are
# drawn well change to them too, if they miss more than a few and would take less than so many times as many of these.
MOST_BEFORE, BEFORE_PER_FIRST, MORE_THAN_FEW = 24_576, 3.0, 512
# More draws are asked for in so many at once.
TOGETHER = 32


def enough(evidence: Evidence, first: First, wants: Wanted) -> tuple[np.ndarray, list[Drawn]]:
    """Adds to `first` draws, of rows that are worth less than they want, until they are; which of its rows (f,) are left with
    them, and better draws of the others."""
    still, better = np.ones(len(first.rows), bool), []
    for k in range(PASSES):
        at_last = k == PASSES - 1
        wants.told(first.rows[still], first.ln_evidence[still])
        effective, wanted = first.effective, wants.of(first.rows)
        short = still & (effective < wanted) & (first.counts < MOST)
        # So few draws do not tell how well the density fits.
        few = first.counts < FEW
        missing = np.where(few, FEW - first.counts, _missing(effective, first.counts, wanted))
        before = _whole(MORE * wanted / first.worth_before)
        worth = (effective >= GOOD_SHARE * first.counts) & (missing <= MOST_OF_FIRST)
        worth &= (missing <= MORE_THAN_FEW) | (before > np.minimum(BEFORE_PER_FIRST * missing, MOST_BEFORE))
        good = short & (worth | few | at_last | (not evidence.terms))
        again = [_more_or_bells(evidence, part, wants, at_last) for part in better]
        if not short.any() and all(one is part for one, part in zip(again, better, strict=True)):
            break
        better = again
        if good.any():
            at = np.flatnonzero(good)
            first.more(at, missing[at])
        poor = np.flatnonzero(short & ~good)
        still[poor] = False
        cheap = before[poor] <= MOST_BEFORE
        better += [draws_of(evidence, Before(), first.rows[k], int(before[k[0]])) for k in poor[cheap][:, None]]
        better += _anew(evidence, first, poor[~cheap], wants)
        for part in better:
            wants.told(part.rows, part.ln_evidence)
    return still, better


def _more_or_bells(evidence: Evidence, part: Drawn, wants: Wanted, at_last: bool) -> Drawn:
    """`part`, draws of one row, or more of them, from better densities if theirs is poor, where it is worth less than it wants."""
    wanted, effective, had = wants.of(part.rows), part.effective, part.share.shape[1]
    if effective[0] >= wanted[0] or had >= MOST:
        return part
    latest = part.laid[-1]
    if effective[0] >= LEAST.get(type(latest), LEAST_SHARE) * had or at_last:
        return part.more(evidence, min(int(_missing(effective, had, wanted)[0]), had + _most_of(latest)))
    if isinstance(latest, Straight):
        bent = part.by_first(evidence).beside(evidence, Bent(latest.nodes), PILOT)
        if bent.effective[0] >= GOOD_BENT * PILOT:
            return _filled(evidence, bent, bent.effective[0], wants)
    return _bells(evidence, part, wants)


def _anew(evidence: Evidence, first: First, at: np.ndarray, wants: Wanted) -> list[Drawn]:
    """The rows `at` of `first`, each beside draws from a better density: finer nodes, or sheets bent between them."""
    out = []
    counts = np.minimum(first.counts[at], KEPT)
    for count in np.unique(counts):
        mine = at[counts == count]
        share, z, ln_weight = (np.stack(each) for each in zip(*(first.of(row, count) for row in first.rows[mine]), strict=True))
        nodes, rows = first.straight.nodes.only(mine), first.rows[mine]
        base = drawn_from(evidence, Straight(nodes), rows, share, z, ln_weight)
        fine = finer(evidence, nodes, rows, share, z, tempered(ln_weight, LAID_ON))
        out += [_better(evidence, base.only(k), fine.only(k), wants) for k in np.arange(len(mine))[:, None]]
    return out


def _better(evidence: Evidence, base: Drawn, nodes: Nodes, wants: Wanted) -> Drawn:
    """`base`, draws of one row, beside as many as it wants from straight bells about finer `nodes`, or from sheets bent between them
    where those are worth what they cost."""
    had, wanted = base.effective, wants.of(base.rows, True)
    found = base.beside(evidence, Straight(nodes), PILOT)
    gained = found.effective - had
    if gained[0] < GOOD_SHARE * PILOT and found.effective[0] < wanted[0]:
        bent = base.beside(evidence, Bent(nodes), PILOT)
        if bent.effective[0] - had[0] > BENT_COST * gained[0]:
            found, gained = bent, bent.effective - had
    return _filled(evidence, found, gained[0], wants)


def _filled(evidence: Evidence, drawn: Drawn, gained: float, wants: Wanted) -> Drawn:
    """`drawn`, the latest of them worth `gained` of a trial, with as many more draws as it wants, but for a few at once."""
    had = drawn.effective[0]
    left, share = wants.of(drawn.rows)[0] - had, max(gained / PILOT, had / drawn.share.shape[1], LEAST_SHARE)
    return drawn if left <= 0.0 else drawn.more(evidence, min(int(_whole(MORE * left / share)), _most_of(drawn.laid[-1])))


def _bells(evidence: Evidence, drawn: Drawn, wants: Wanted) -> Drawn:
    """The one row of `drawn` drawn afresh, once rounds of bells are worth what it `wants` or rounds run out."""
    # Bent sheets say where bells belong, and no more: to weigh every other draw by them is dearer than those draws are worth.
    all_of_it, drawn = drawn, drawn.by_first(evidence) if any(isinstance(density, Bent) for density in drawn.laid) else drawn
    since, asked = len(drawn.laid), BELLS_PER_WANTED * wants.of(drawn.rows)[0]
    count = next(count for count in BELLS_AT_FIRST if count >= asked or count == BELLS_AT_FIRST[-1])
    rounds = [(_fitted, int(count * times)) for times in ROUNDS]
    rounds += ([(_about_heaviest, LAST_DRAWS)] * LAST_ROUNDS + [(_fitted, int(count * ROUNDS[-1]))]) * LAST_TURNS
    for lay, more in rounds:
        drawn = drawn.beside(evidence, lay(evidence, all_of_it if len(drawn.laid) == since else drawn), more)
        wants.told(drawn.rows, drawn.ln_evidence)
        if drawn.effective[0] >= wants.of(drawn.rows, True)[0]:
            break
    return drawn.afresh(evidence, count, since)


def _fitted(evidence: Evidence, drawn: Drawn) -> Density:
    return fitted(as_normals(drawn.share, drawn.z, evidence.active), drawn.ln_weight)


def _about_heaviest(evidence: Evidence, drawn: Drawn) -> Density:
    return about_heaviest(evidence, drawn.rows, as_normals(drawn.share, drawn.z, evidence.active), drawn.ln_weight)


def _most_of(density: Density) -> int:
    """Most draws asked of a `density` at once."""
    return {Bent: MOST_OF_BENT, Before: MOST_BEFORE}.get(type(density), MOST_OF_SAME)


def _missing(effective: np.ndarray, had: np.ndarray | int, wanted: np.ndarray) -> np.ndarray:
    """How many more draws (f,) make `had` that are worth `effective` (f,) worth what is `wanted` (f,)."""
    times = MORE * wanted / np.maximum(effective, 1e-9)
    return _whole(np.minimum(had * np.maximum(times - 1.0, 0.01), MOST)).astype(int)


def _whole(count: np.ndarray | float) -> np.ndarray:
    """At least `count` draws, and as many as are drawn together."""
    return TOGETHER * np.ceil(count / TOGETHER)
