"""Figures of a whole bench run: shares, an upper bound, minutes and who was taken for whom."""

import math
import statistics
from collections import Counter

from scipy.special import betaincinv

LOCATIONS = ("sensor", "plug", "signal", "return", "supply", "module", "none", "set-up")


def upper_bound(hits, tries, confidence=0.95):
    """Largest share that would still give so few hits with chance 1 - confidence (Clopper-Pearson, one-sided)."""
    return 1.0 if hits >= tries else float(betaincinv(hits + 1, tries - hits, confidence))


def interval(hits, tries, confidence=0.99):
    """Two-sided (low, high) of the share behind so many hits in so many tries (Clopper-Pearson)."""
    tail = (1.0 - confidence) / 2.0
    low = 0.0 if hits == 0 else float(betaincinv(hits, tries - hits + 1, tail))
    return low, upper_bound(hits, tries, 1.0 - tail)


def calibration(title, claims, bins=10):
    """(table, kept) of claimed chances against truth; `claims` are (chance, whether it was so) pairs.

    In each bin the 99 % interval of the share that was so must contain the mean claim; kept says all do.
    """
    rows = [title, f"{'claimed':>12}{'claims':>8}{'mean claim':>12}{'was so':>9}{'99 % interval':>18}  kept"]
    all_kept = True
    for place in range(bins):
        mine = [(p, so) for p, so in claims if min(int(p * bins), bins - 1) == place]
        if not mine:
            continue
        mean, hits = statistics.fmean(p for p, _ in mine), sum(so for _, so in mine)
        low, high = interval(hits, len(mine))
        kept = low <= mean <= high
        all_kept &= kept
        rows.append(f"{place / bins:>6.1f}-{(place + 1) / bins:.1f} {len(mine):>8}{mean:>12.4f}{hits / len(mine):>9.4f}"
                    f"{low:>10.4f}-{high:.4f}  {'yes' if kept else 'NO'}")
    return "\n".join(rows), all_kept


def surprise(claims):
    """How far the truths stray from the claims altogether, in standard deviations; `claims` are (chance, so) pairs."""
    spread = math.sqrt(sum(p * (1.0 - p) for p, _ in claims))
    return sum(so - p for p, so in claims) / max(spread, 1e-9)


def covered(title, inside, wanted=(0.87, 0.93)):
    """(line, kept): share of severities inside their 5-95 % estimates, and whether that is as wanted."""
    if not inside:
        return f"{title}: no graded severity", True
    share = sum(inside) / len(inside)
    low, high = interval(sum(inside), len(inside))
    line = f"{title:<40}{len(inside):>6}{100 * share:>8.1f} %  (99 % interval {100 * low:.1f}-{100 * high:.1f})"
    return line, wanted[0] <= share <= wanted[1]


def minutes_ratio(pairs):
    """Advised minutes over classroom minutes, both summed over the vehicles driven both ways without an error."""
    clean = [(a, c) for a, c in pairs if c and a.state != "error" and c.state != "error"]
    classroom = sum(c.minutes for _, c in clean)
    return sum(a.minutes for a, _ in clean) / classroom if classroom else math.nan


def share_found(outcomes):
    """Share of all vehicles on which something was found."""
    return sum(o.found for o in outcomes) / len(outcomes)


def share_wrong(outcomes):
    """Share of the found that were found at the wrong location."""
    found = [o for o in outcomes if o.found]
    return sum(not o.right for o in found) / len(found) if found else 0.0


def share_settled(outcomes):
    """Share of all vehicles found rightly or rightly left out of reach."""
    return sum(o.right or o.out_of_reach for o in outcomes) / len(outcomes)


def report(pairs, known):
    """The whole table as text."""
    lines = [f"{len(pairs)} vehicles, circuit {'known' if known else 'unknown'}"]
    for title, outcomes in (("advised", [a for a, _ in pairs]), ("classroom", [c for _, c in pairs if c])):
        lines += _summary(title, outcomes) if outcomes else []
    advised = [a for a, _ in pairs]
    left = Counter(o.reach for o in advised if o.reach)
    lines.append(f"found rightly or rightly out of reach: {100 * share_settled(advised):.2f} %"
                 f" ({sum(o.out_of_reach for o in advised)} rightly out of reach)")
    lines += [f"           left open: {count} x {why}" for why, count in left.most_common()]
    in_class = sum(c is not None for _, c in pairs)
    lines.append(f"minutes, advised over classroom: {minutes_ratio(pairs):.3f} ({in_class} driven both ways)")
    lines += ["", *_confusion(advised), "", *_by_fault(advised), "", *_worst(advised)]
    return "\n".join(lines)


def _summary(title, outcomes):
    found = [o for o in outcomes if o.found]
    wrong = [o for o in found if not o.right]
    minutes = [o.minutes for o in outcomes if o.state != "error"] or [0]
    states = ", ".join(f"{state} {count}" for state, count in Counter(o.state for o in outcomes).most_common())
    return [
        f"{title:>9}: found {100 * share_found(outcomes):.1f} %, wrong among found {len(wrong)} of {len(found)}"
        f" = {100 * share_wrong(outcomes):.2f} % (95 % upper bound {100 * upper_bound(len(wrong), len(found)):.2f} %)",
        f"{'':>9}  states: {states}",
        f"{'':>9}  minutes: median {statistics.median(minutes):.0f}, mean {statistics.mean(minutes):.1f}"
        f"; tests: mean {statistics.mean(o.tests for o in outcomes):.1f}",
    ]


def _confusion(outcomes):
    """True location down, said location across; the rest ended otherwise."""
    columns = (*LOCATIONS, "otherwise")
    counts = Counter((o.location_true, o.location_said or "otherwise") for o in outcomes)
    rows = ["true \\ said " + "".join(f"{c:>10}" for c in columns)]
    rows += [f"{t:<12}" + "".join(f"{counts[t, s] or '.':>10}" for s in columns) for t in LOCATIONS]
    return rows


def _by_fault(outcomes):
    rows = [f"{'fault':<26}{'vehicles':>9}{'found':>7}{'wrong':>7}{'mean minutes':>14}"]
    for fault_id in sorted({o.fault_id for o in outcomes}):
        of_it = [o for o in outcomes if o.fault_id == fault_id]
        found = sum(o.found for o in of_it)
        wrong = found - sum(o.right for o in of_it)
        mean_minutes = statistics.mean(o.minutes for o in of_it)
        rows.append(f"{fault_id:<26}{len(of_it):>9}{found:>7}{wrong:>7}{mean_minutes:>14.1f}")
    return rows


def _worst(outcomes, count=25):
    """Wrong first, then not found, then the slowest; each can be shown again by its number."""
    ranked = sorted(outcomes, key=lambda o: (o.right, not o.found, -o.minutes, o.number))
    rows = ["worst (replay one with --show NUMBER):"]
    rows += [
        f"  {o.number}: {o.fault_id} at {o.location_true}, said {o.location_said or o.state}"
        f"{f' ({o.reach})' if o.reach else ''}, {o.tests} tests, {o.minutes} min"
        for o in ranked[:count]
    ]
    troubles = [o for o in outcomes if o.trouble]
    if troubles:
        rows += ["", f"first error, vehicle {troubles[0].number}:", troubles[0].trouble]
    return rows
