"""Owns when a row has draws enough, and the second look at rows whose first ones are worth too little.

They are drawn from before measuring where that is cheap; or else from a finer fit about where the draws say the evidence is; or
from bells laid about draws, round after round, until fresh draws from all of it together would be worth enough.
"""

import numpy as np

from engine.batches import tempered
from engine.before import Before
from engine.bells import about_draws
from engine.drawn import Drawn, Mixture, draws_of, drawn_from
from engine.first import First
from engine.likelihood import Evidence
from engine.proposal import finer
from engine.straight import Straight
from engine.wanted import Wanted

# Fewest draws that tell how well a density fits.
FEW = 128
# So many first draws stay beside better ones: where numbers contradict each other they may know of what those miss.
KEPT = 256
# Draws that show how much better finer nodes do, what share of them must be worth anything, and how many samples the severities must
# rest on about which they are laid.
TRIAL, GOOD_TRIAL, LAID_ON = 256, 0.012, 25.0
# Rounds of bells, and draws of each; they will do when this share of fresh draws would be worth anything.
ROUNDS, PILOT, GOOD_ROUND = 3, 256, 0.1
# So many draws of those that were not worth enough are plenty to lay bells about: each is weighed by every bell.
ABOUT = 1024
# Least share that bells are taken to be worth, so that no more than so many draws are asked for at first.
LEAST_ROUND = 0.02
# Draws worth this share of their number are worth taking more of the same, and so are any of which so many will do. So many draws of a
# row at most, so many passes over them all: more draws may show that a row counts for more than it seemed.
LEAST_SHARE, CHEAP, MORE, MOST, PASSES = 0.01, 49_152, 1.25, 131_072, 12
# More of the same than this is dearer than to look for a better density.
MOST_OF_FIRST, MOST_OF_SAME = 6144, 8192
# A draw from before measuring costs less than half of any other. Where so many of them do, no better density is looked for; rows that are
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
        effective[short] = first.held(np.flatnonzero(short))
        short &= effective < wanted
        # So few draws do not tell how well the density fits.
        few = first.counts < FEW
        missing = np.where(few, FEW - first.counts, _missing(effective, first.counts, wanted))
        before = _whole(MORE * wanted / first.worth_before)
        worth_more = (missing <= MOST_OF_FIRST) & ((missing <= MORE_THAN_FEW) | (before > np.minimum(BEFORE_PER_FIRST * missing, MOST_BEFORE)))
        good = short & (worth_more | few | at_last | (not evidence.terms))
        again = _again(evidence, better, wants, at_last)
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


def _anew(evidence: Evidence, first: First, at: np.ndarray, wants: Wanted) -> list[Drawn]:
    """The rows `at` of `first` drawn from a better density: from straight bells about finer nodes beside what they had, or from bells
    about draws where those are worth too little."""
    out, counts = [], np.minimum(first.counts[at], KEPT)
    for count in np.unique(counts):
        mine = at[counts == count]
        share, z, ln_weight = (np.stack(each) for each in zip(*(first.of(row, count) for row in first.rows[mine]), strict=True))
        nodes, rows = first.straight.nodes.only(mine), first.rows[mine]
        base = drawn_from(evidence, Straight(nodes), rows, share, z, ln_weight)
        found = base.beside(evidence, Straight(finer(evidence, nodes, rows, share, z, tempered(ln_weight, LAID_ON))), TRIAL)
        gained = found.effective - base.effective
        poor = (gained < GOOD_TRIAL * TRIAL) & (found.effective < wants.of(rows))
        out += [_filled(evidence, found.only(k), gained[k[0]], wants) for k in np.flatnonzero(~poor)[:, None]]
        if poor.any():
            out += _bells(evidence, found.only(poor), wants)
    return out


def _filled(evidence: Evidence, drawn: Drawn, gained: float, wants: Wanted) -> Drawn:
    """`drawn`, the latest of them worth `gained` of a trial, with as many more draws as it wants, but for a few at once."""
    had = drawn.effective[0]
    left, share = wants.of(drawn.rows)[0] - had, max(gained / TRIAL, had / drawn.share.shape[1], LEAST_SHARE)
    return drawn if left <= 0.0 else drawn.more(evidence, min(int(_whole(MORE * left / share)), MOST_OF_SAME))


def _again(evidence: Evidence, better: list[Drawn], wants: Wanted, at_last: bool) -> list[Drawn]:
    """Of `better` draws of one row each, those that are worth less than it wants with more of them, or with ones from bells."""
    out = []
    for part in better:
        wanted, effective, had = wants.of(part.rows), part.effective, part.share.shape[1]
        if effective[0] >= wanted[0] or had >= MOST:
            out.append(part)
        elif effective[0] >= LEAST_SHARE * had or MORE * wanted[0] * had <= CHEAP * effective[0] or at_last:
            most = MOST_BEFORE if isinstance(part.laid[-1], Before) else had + MOST_OF_SAME
            out.append(part.more(evidence, min(int(_missing(effective, had, wanted)[0]), most)))
        else:
            out += _bells(evidence, part.latest(evidence, ABOUT), wants, part)
    return out


def _bells(evidence: Evidence, drawn: Drawn, wants: Wanted, seen: Drawn | None = None) -> list[Drawn]:
    """Rows of `drawn` drawn afresh, from rounds of bells laid about the draws there are: one after another. At first about all that were
    `seen` of the same rows, where `drawn` are some of those."""
    out = []
    for k in range(ROUNDS):
        about = seen if k == 0 and seen is not None else drawn
        drawn = drawn.beside(evidence, about_draws(evidence, drawn.rows, about.share, about.z, about.ln_weight), PILOT)
        parts, share = drawn.best_parts()
        done = (share >= GOOD_ROUND) | (k == ROUNDS - 1)
        used = drawn.share.shape[1] + (0 if seen is None else _used(seen))
        out += [_afresh(evidence, drawn.only(at), parts[at[0]], share[at[0]], wants, used) for at in np.flatnonzero(done)[:, None]]
        if done.all():
            break
        drawn = drawn.only(~done)
    return out


def _used(drawn: Drawn) -> int:
    """So many numbers of draws are used up, at most: bells laid about a draw must not meet it again."""
    return drawn.share.shape[1] + max((density.used for density in drawn.laid if isinstance(density, Mixture)), default=0)


def _afresh(evidence: Evidence, drawn: Drawn, parts: np.ndarray, share: float, wants: Wanted, used: int) -> Drawn:
    """The one row of `drawn` drawn afresh from what it was drawn from, in these `parts`, of which such a `share` of draws is worth
    anything; numbers of draws below `used` were drawn before."""
    wants.told(drawn.rows, drawn.ln_evidence)
    laid, kept = zip(*((density, part) for density, part in zip(drawn.laid, parts, strict=True) if part > 0.0), strict=True)
    count = _whole(MORE * max(wants.of(drawn.rows)[0], FEW) / max(share, LEAST_ROUND))
    return draws_of(evidence, Mixture(laid, kept, used), drawn.rows, int(min(count, MOST_OF_SAME)))


def _missing(effective: np.ndarray, had: np.ndarray | int, wanted: np.ndarray) -> np.ndarray:
    """How many more draws (f,) make `had` that are worth `effective` (f,) worth what is `wanted` (f,)."""
    times = MORE * wanted / np.maximum(effective, 1e-9)
    return _whole(np.minimum(had * np.maximum(times - 1.0, 0.01), MOST)).astype(int)


def _whole(count: np.ndarray | float) -> np.ndarray:
    """At least `count` draws, and as many as are drawn together."""
    return TOGETHER * np.ceil(count / TOGETHER)
