"""Owns the second look at rows whose first draws were worth too little: better densities, one after another, until they are.

First a finer fit about where the draws say the evidence is, then sheets bent along the readings, then bells about the
draws themselves.
"""

from collections.abc import Callable, Iterator

import numpy as np

from engine.bells import about_heaviest, as_normals, fitted, tempered
from engine.bent import Bent
from engine.drawn import Density, Drawn, Mixture, together
from engine.likelihood import Evidence
from engine.proposal import finer
from engine.straight import Straight

# Draws of a density by what a row is wanted to be worth, and fewest draws that tell how well one fits.
PER_WANTED, AT_FIRST, FEW = 3.0, (128, 512, 2048), 128
# So many first draws stay beside better ones: where numbers contradict each other they may know of what those miss.
KEPT = 512
# How many samples the severities must rest on about which finer nodes are laid.
LAID_ON = 25.0
# Rounds of bells: draws of each in terms of the first's. Where readings contradict each other each of them may be the slip:
# rounds about the heaviest draw find such places one by one (Raftery and Bao 2010, "Estimating and projecting trends in
# HIV/AIDS", incremental mixtures, from memory). After so many of them bells are laid over all draws once more: a long bent
# ridge asks for both. So many turns at most.
ROUNDS = (1.0, 1.5, 2.0)
LAST_ROUNDS, LAST_DRAWS, LAST_TURNS = 8, 512, 4
# Draws worth this share of their number are worth taking more of the same: of first densities, and of better ones, where it
# takes bells to do better. A bent sheet costs so many times as much as straight bells. So many draws of a row at most.
GOOD_SHARE, LEAST_SHARE, BELLS_SHARE, MORE, MOST_MORE = 0.06, 0.04, 0.01, 1.25, 6
BENT_COST, MOST = 3.0, 65_536

# How many samples (f,) rows (f,) of log evidence (f,) want to be worth; or would want, each at twice its evidence.
Wants = Callable[[np.ndarray, np.ndarray, bool], np.ndarray]


def refine(evidence: Evidence, parts: list[Drawn], wants: Wants, at_last: bool) -> list[Drawn]:
    """The draws in `parts`, with as many added to each row as bring it nearer to being worth what it `wants`, `at_last` from
    the densities there are; `parts` themselves where nothing is short."""
    out, poor, drew = [], [], False
    for part in parts:
        effective, had = part.effective(), part.share.shape[1]
        wanted = wants(part.rows, part.ln_evidence(), False)
        short = (effective < wanted) & (had < MOST)
        drew |= short.any()
        if (~short).any():
            out.append(part.only(np.flatnonzero(~short)))
        first = evidence.terms and part.is_first()
        # So few draws do not tell how well the density fits.
        least = GOOD_SHARE if first else BELLS_SHARE if isinstance(part.laid[-1], Mixture) else LEAST_SHARE
        same = short & ((effective >= least * had) | (had < FEW) | at_last)
        for count, keep in _alike(_missing(effective, had, wanted) if had >= FEW else np.full(len(wanted), FEW - had), same):
            out.append(part.only(keep).more(evidence, count))
        keep = np.flatnonzero(short & ~same)
        if len(keep) and first:
            poor.append(part.only(keep).first(min(had, KEPT)))
        elif len(keep):
            out.append(_bells(evidence, part.only(keep), _at_first(wanted[keep]).max(), wants))
    for part in together(poor):
        out += _anew(evidence, part, wants)
    return together(out) if drew else parts


def _anew(evidence: Evidence, drawn: Drawn, wants: Wants) -> list[Drawn]:
    """`drawn`, draws from first densities, beside draws from a better one: finer nodes, or sheets bent between them."""
    out = []
    fine = finer(evidence, drawn.laid[0].nodes, drawn.rows, drawn.share, drawn.z, tempered(drawn.ln_weight, LAID_ON))
    for count, keep in _alike(_at_first(wants(drawn.rows, drawn.ln_evidence(), True)), np.ones(len(drawn.rows), bool)):
        base, nodes = drawn.only(keep), fine.only(keep)
        straight = base.beside(evidence, Straight(nodes), count)
        gained = straight.effective() - base.effective()
        # One heavy draw among few may have made a row seem to count for more than it does: so it is asked again.
        poor = (gained < GOOD_SHARE * count) & (straight.effective() < wants(straight.rows, straight.ln_evidence(), True))
        if poor.any():
            at = np.flatnonzero(poor)
            bent = base.only(at).beside(evidence, Bent(nodes.only(at)), count)
            better = bent.effective() - base.effective()[at] > BENT_COST * gained[at]
            poor[at[~better]] = False
            out += [bent.only(np.flatnonzero(better))] if better.any() else []
        out += [straight.only(np.flatnonzero(~poor))] if not poor.all() else []
    return out


def _bells(evidence: Evidence, drawn: Drawn, count: int, wants: Wants) -> Drawn:
    """The rows of `drawn` drawn afresh, once rounds of bells, `count` draws in the first, are worth what each row `wants` or
    rounds run out."""
    since = len(drawn.laid)
    rounds = [(_fitted, int(count * times)) for times in ROUNDS]
    rounds += ([(_about_heaviest, LAST_DRAWS)] * LAST_ROUNDS + [(_fitted, int(count * ROUNDS[-1]))]) * LAST_TURNS
    for lay, more in rounds:
        drawn = drawn.beside(evidence, lay(evidence, drawn), more)
        if (drawn.effective() >= wants(drawn.rows, drawn.ln_evidence(), True)).all():
            break
    return drawn.afresh(evidence, count, since)


def _fitted(evidence: Evidence, drawn: Drawn) -> Density:
    return fitted(as_normals(drawn.share, drawn.z, evidence.active), drawn.ln_weight)


def _about_heaviest(evidence: Evidence, drawn: Drawn) -> Density:
    return about_heaviest(evidence, drawn.rows, as_normals(drawn.share, drawn.z, evidence.active), drawn.ln_weight)


def _at_first(wanted: np.ndarray) -> np.ndarray:
    """Draws (f,) of a density by what rows are wanted (f,) to be worth."""
    return np.array([next(count for count in AT_FIRST if count >= PER_WANTED * w or count == AT_FIRST[-1]) for w in wanted])


def _missing(effective: np.ndarray, had: int, wanted: np.ndarray) -> np.ndarray:
    """How many more draws (f,) make `had` that are worth `effective` (f,) worth what is `wanted` (f,): to the next power of
    two, so that rows can be drawn together."""
    times = np.minimum(MORE * wanted / np.maximum(effective, 1e-9), MOST_MORE)
    return 2 ** np.ceil(np.log2(np.maximum(had * times, had + 1.0))).astype(int) - had


def _alike(counts: np.ndarray, among: np.ndarray) -> Iterator[tuple[int, np.ndarray]]:
    """Each of `counts` (f,) with the rows `among` (f,) that have it."""
    for count in np.unique(counts[among]):
        yield int(count), np.flatnonzero(among & (counts == count))
