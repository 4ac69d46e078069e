"""The bench of what does not fit: faults nobody listed, and jobs in which exactly one reading was typed wrongly.

    python -m tests.bench.misfit --count 300 --jobs 2 --out misfit.jsonl

Even numbers have an unlisted fault, odd ones a mistyped reading. Wrongly found is: with an unlisted fault, found where
nothing is wrong; with a mistyped reading, found at another location than the fault's. A mistyped reading contradicts
the others when enough of them are there to tell: for every location that the job without it (at least two readings)
still holds above 0.1, and these together above 0.8, what was typed lies outside what the other readings made that
location expect (5-95 %) by more than the width of that range and ten of its units at least; and the likeliest fault
is none that comes and goes, which explains any one number, and no default nobody told explains it. It is named first
when it is the first the tool names.
"""

import traceback

import numpy as np

from .drive import END_STATES
from .figures import interval, upper_bound
from .long_run import heading, knowledge, parser, results
from .strange import listed_vehicle, mistyped, unlisted_vehicle

JOBS = 300
SETTINGS = {"bench": "misfit"}
MOST_READINGS = 12
MISTYPED_AMONG = 3
COUNTS_ABOVE = 0.01
TELLING_READINGS, TELLING_CHANCE, SURVIVES_ABOVE = 2, 0.8, 0.1
# Beyond these a number shown is an end of the scale.
ENDS_C = (-29.0, 117.0)
MARGIN = {"degC": 10.0, "V": 0.3, "ohm": 10.0}
WANTED = {"wrong": 0.03, "named": 0.75, "effective": 400.0}


def record(number):
    """One job as JSON values: how it ended, what was named, the smallest effective sample size met."""
    rng = np.random.default_rng([number, 717])
    told = is_told(number)
    if number % 2:
        vehicle = listed_vehicle(number)
        wrong, at = (vehicle.location,), int(rng.integers(0, MISTYPED_AMONG))
    else:
        (vehicle, wrong), at = unlisted_vehicle(number // 2), None
    out = {"number": number, "fault": vehicle.fault_id, "vehicle": vehicle.number, "told": told,
           "mistyped": at is not None}
    try:
        return out | _drive(vehicle, wrong, at, told, rng)
    except Exception:
        return out | {"state": "error", "trouble": traceback.format_exc(), "wrongly": False, "effective": None,
                      "contradicts": False, "named": None, "index": None}


def is_told(number):
    """Whether the circuit of a job of that number is told."""
    return number // 2 % 2 == 0


def _drive(vehicle, wrong, at, told, rng):
    """Follow the advice; from the first reading at `at` on that can be mistyped, exactly one is."""
    job = knowledge().job(vehicle.sensor, **vehicle.job_fields(told))
    index, named, effective, contradicts = None, None, [], False
    while True:
        verdict = job.verdict()
        effective.append(least_effective(job.belief))
        if index is not None and len(job.readings) > TELLING_READINGS:
            contradicts = contradicts or contradicts_others(job, verdict, index)
        named = verdict.misfit
        ended = verdict.state in END_STATES and (at is None or index is not None)
        if ended or (index is not None and named is not None) or len(job.readings) >= MOST_READINGS:
            break
        rows = job.advice()
        if not rows:
            break
        reading = vehicle.answer(rows[0].test, rows[0].ohm)
        spoilt = mistyped(reading, rng) if at is not None and index is None and len(job.readings) >= at else None
        if spoilt is not None:
            index = len(job.readings)
        job = job.record(rows[0].test, **(spoilt or reading))
    found = verdict.state == "found"
    # A mistyped job that was found before anything could be mistyped is no mistyped job.
    return {"state": verdict.state, "location": verdict.location, "readings": len(job.readings), "named": named,
            "index": index, "contradicts": contradicts, "effective": min(effective),
            "wrongly": found and verdict.location not in wrong}


def contradicts_others(job, verdict, index):
    """Whether the reading at `index` lies far from all that the other readings leave possible."""
    others = job.without(index).verdict().locations
    because = next(one for one in verdict.because if one.reading == index)
    typed, outside = _typed(job.readings[index]), 0.0
    if typed is None or _comes_and_goes(job, verdict):
        return False
    for location, chance in others.items():
        expected = because.expected.get(location)
        if chance < SURVIVES_ABOVE or not isinstance(expected, (list, tuple)):
            continue
        low, high = expected
        margin = max(high - low, MARGIN.get(because.unit, 10.0))
        if low - margin <= typed <= high + margin or _default(job, because.unit, (low + high) / 2, typed):
            return False
        outside += chance
    return outside >= TELLING_CHANCE


def _default(job, unit, expected, typed):
    """Whether a number of the module's own, which nobody told, would explain `typed` where an end is expected."""
    at_an_end = unit == "degC" and not ENDS_C[0] < expected < ENDS_C[1]
    return at_an_end and job.circuit.default_c is None and ENDS_C[0] < typed < ENDS_C[1]


def _comes_and_goes(job, verdict):
    """Whether the likeliest fault is one that shows in some readings only: to it no reading is a contradiction."""
    return {kind.id: kind for kind in job.faults}[verdict.faults[0].id].intermittent


def _typed(reading):
    for name in ("shows", "ohms", "signal_to_return_v"):
        value = getattr(reading, name)
        if isinstance(value, (int, float)):
            return value
    return None


def least_effective(belief):
    """Smallest effective sample size of the faults above 1 %, the rows of one fault (its curves) taken together."""
    kinds = np.array([kind.id for kind in belief.model.kinds])
    least = np.inf
    for fault in sorted(set(kinds)):
        rows = np.flatnonzero((kinds == fault) & (belief.effective > 0))
        total = belief.chance[rows].sum()
        if total > COUNTS_ABOVE:
            least = min(least, float(total**2 / (belief.chance[rows] ** 2 / belief.effective[rows]).sum()))
    return least


def table(records):
    """(text, kept) of the figures; kept says whether each is as it must be."""
    unlisted = [r for r in records if not r["mistyped"]]
    wrong_typed = [r for r in records if r["mistyped"] and r["index"] is not None]
    telling = [r for r in wrong_typed if r["contradicts"]]
    named = [r for r in telling if r["named"] == r["index"]]
    sizes = sorted((r["effective"], r["number"]) for r in records if r["effective"] is not None)
    lines, kept = [], []
    for title, mine in (("unlisted fault", unlisted), ("mistyped reading", wrong_typed), ("both", unlisted + wrong_typed)):
        wrongly = sum(r["wrongly"] for r in mine)
        states = ", ".join(f"{state} {sum(r['state'] == state for r in mine)}" for state in sorted({r["state"] for r in mine}))
        share = wrongly / max(len(mine), 1)
        kept.append(share <= WANTED["wrong"])
        lines.append(f"{title:<18} found wrongly {wrongly} of {len(mine)} = {100 * share:.2f} %"
                     f" (95 % upper bound {100 * upper_bound(wrongly, len(mine)):.2f} %); {states}")
    share = len(named) / max(len(telling), 1)
    low, high = interval(len(named), len(telling), 0.95) if telling else (0.0, 1.0)
    kept.append(share >= WANTED["named"])
    lines.append(f"mistyped reading named first: {len(named)} of {len(telling)} that contradict the others"
                 f" = {100 * share:.1f} % (95 % interval {100 * low:.1f}-{100 * high:.1f} %)")
    kept.append(bool(sizes) and sizes[0][0] >= WANTED["effective"])
    lines.append("smallest effective sample sizes of faults above 1 %: "
                 + ", ".join(f"{size:.0f} (job {number})" for size, number in sizes[:5]))
    lines += ["", *_by_fault(unlisted)]
    lines += [f"  wrongly found: job {r['number']} ({r['fault']}), said {r['location']}" for r in records if r["wrongly"]]
    lines += [f"  first error, job {r['number']}:\n{r['trouble']}" for r in records if r["state"] == "error"][:1]
    return "\n".join(lines), all(kept)


def _by_fault(records):
    rows = [f"{'unlisted fault':<46}{'jobs':>6}{'wrongly':>9}{'nothing fits':>14}"]
    for fault in sorted({r["fault"] for r in records}):
        mine = [r for r in records if r["fault"] == fault]
        rows.append(f"{fault:<46}{len(mine):>6}{sum(r['wrongly'] for r in mine):>9}"
                    f"{sum(r['state'] == 'nothing-fits' for r in mine):>14}")
    return rows


def main():
    """Read the command line and run."""
    chosen = parser(__doc__, JOBS).parse_args()
    records = results(chosen, record, SETTINGS)
    print(heading(f"{len(records)} jobs that do not fit"))
    print(f"```\n{table(records)[0]}\n```")


if __name__ == "__main__":
    main()
