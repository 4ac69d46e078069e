"""Figures of a whole bench run: shares, an upper bound, minutes and who was taken for whom."""

import math
import statistics
from collections import Counter

LOCATIONS = ("sensor", "plug", "signal", "return", "supply", "module", "none", "set-up")


def upper_bound(hits, tries, confidence=0.95):
    """Largest share that would still give so few hits with chance 1 - confidence (Clopper-Pearson, one-sided)."""
    if tries == 0 or hits >= tries:
        return 1.0
    low, high = hits / tries, 1.0
    for _ in range(60):
        middle = (low + high) / 2.0
        if _at_most(hits, tries, middle) > 1.0 - confidence:
            low = middle
        else:
            high = middle
    return high


def _at_most(hits, tries, share):
    """Chance of at most so many hits in so many tries."""
    return sum(math.comb(tries, k) * share**k * (1.0 - share) ** (tries - k) for k in range(hits + 1))


def minutes_ratio(pairs):
    """Advised minutes over classroom minutes, both summed over the vehicles that ended without an error."""
    clean = [(a, c) for a, c in pairs if a.state != "error" and c.state != "error"]
    classroom = sum(c.minutes for _, c in clean)
    return sum(a.minutes for a, _ in clean) / classroom if classroom else math.nan


def share_found(outcomes):
    """Share of all vehicles on which something was found."""
    return sum(o.found for o in outcomes) / len(outcomes)


def share_wrong(outcomes):
    """Share of the found that were found at the wrong location."""
    found = [o for o in outcomes if o.found]
    return sum(not o.right for o in found) / len(found) if found else 0.0


def report(pairs, known):
    """The whole table as text."""
    lines = [f"{len(pairs)} vehicles, circuit {'known' if known else 'unknown'}"]
    for title, outcomes in (("advised", [a for a, _ in pairs]), ("classroom", [c for _, c in pairs])):
        lines += _summary(title, outcomes)
    lines.append(f"minutes, advised over classroom: {minutes_ratio(pairs):.3f}")
    lines += ["", *_confusion([a for a, _ in pairs]), "", *_by_fault([a for a, _ in pairs])]
    lines += ["", *_worst([a for a, _ in pairs])]
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
        f"  {o.number}: {o.fault_id} at {o.location_true}, said {o.location_said or o.state},"
        f" {o.tests} tests, {o.minutes} min"
        for o in ranked[:count]
    ]
    troubles = [o for o in outcomes if o.trouble]
    if troubles:
        rows += ["", f"first error, vehicle {troubles[0].number}:", troubles[0].trouble]
    return rows
