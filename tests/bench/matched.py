"""The bench of matched jobs: whether the tool's claims are as often true as it says, on jobs drawn from its own chances.

    python -m tests.bench.matched --count 2500 --jobs 2 --out matched.jsonl
    python -m tests.bench.matched --count 0 --with part1.jsonl part2.jsonl

A job is stopped after one to seven readings; most follow the tool's advice, every fourth any tests at random. Even
numbers are told the circuit, odd ones are not; all sensor kinds take turns. Held against the truth: the claimed chance
of the leading location, that of every location, and the 5-95 % estimate of the true fault's severity.
"""

import numpy as np

from .drawn import draw_job, draw_truth, sensors, typed
from .figures import calibration, covered
from .long_run import heading, knowledge, parser, results

JOBS = 2500
SETTINGS = {"bench": "matched"}
MOST_READINGS = 7
RANDOM_EVERY = 4
NAMED_ABOVE = 0.05
LEAST_DIAL_OHM = 60.0


def record(number):
    """One job as JSON values: what was claimed after its last reading, and what was so."""
    rng = np.random.default_rng([number, 4242])
    kb = knowledge()
    kinds = sensors(kb)
    told = number % 2 == 0
    sensor = kinds[number // 2 % len(kinds)]
    start = draw_job(kb, sensor, told, rng)
    truth = draw_truth(start, rng)
    wanted = int(rng.integers(1, MOST_READINGS + 1))
    job = start
    while len(job.readings) < wanted:
        following = _any(job, rng) if at_random(number) else _advised(job)
        if following is None:
            break
        test, ohm = following
        job = job.record(test.id, **typed(job, truth, test, ohm, rng))
    return {"number": number, "sensor": sensor, "told": told, "at_random": at_random(number), "readings": len(job.readings),
            **_claims(job, truth)}


def at_random(number):
    """Whether a job of that number follows any tests at random."""
    return number // 2 // len(sensors(knowledge())) % RANDOM_EVERY == RANDOM_EVERY - 1


def _claims(job, truth):
    verdict, kind = job.verdict(), job.model.kinds[truth.row]
    fault = next(fault for fault in verdict.faults if fault.id == kind.id)
    out = {"location": kind.location, "fault": kind.id, "claims": verdict.locations, "p": fault.p, "state": verdict.state}
    if fault.estimate is not None:
        out |= {"severity": truth.severity(job.model), "low": fault.estimate.low, "high": fault.estimate.high}
    return out


def _advised(job):
    rows = job.advice()
    if not rows:
        return None
    return {test.id: test for test in job.tests}[rows[0].test], rows[0].ohm


def _any(job, rng):
    """A test the circuit admits, not done yet, or done at other ohms."""
    measured = [reading.ohms for reading in job.readings if reading.test == "sensor-ohms"]
    reach_ohm = job.stand_in.end_to_end_ohm
    options = []
    for test in job.tests:
        if test.needs == "sensor-ohms-known":
            if measured and isinstance(measured[-1], float) and LEAST_DIAL_OHM < measured[-1] < reach_ohm:
                options.append((test, measured[-1]))
        elif test.element == "stand-in" and test.measures == "shows":
            options.append((test, float(f"{np.exp(rng.uniform(np.log(LEAST_DIAL_OHM), np.log(reach_ohm))):.3g}")))
        else:
            options.append((test, None))
    done = {(reading.test, reading.ohm) for reading in job.readings}
    options = [option for option in options if (option[0].id, option[1]) not in done]
    return options[int(rng.integers(len(options)))] if options else None


def tables(records):
    """(text, kept) of all figures; kept says whether each is as it must be."""
    parts, kept = [], []
    halves = (("all", records), ("circuit told", [r for r in records if r["told"]]),
              ("circuit unknown", [r for r in records if not r["told"]]))
    for name, mine in halves:
        text, good = calibration(f"chance of the leading location, {name}", [_lead(r) for r in mine])
        parts.append(text)
        kept.append(good)
    every = [(p, place == r["location"]) for r in records for place, p in r["claims"].items()]
    text, good = calibration("chance of every location", every)
    parts.append(text)
    kept.append(good)
    graded = [r for r in records if "severity" in r and r["p"] > NAMED_ABOVE]
    line, good = covered("severity within its 5-95 % estimate", [_inside(r) for r in graded])
    kept.append(good)
    lines = [f"{line}  kept: {'yes' if good else 'NO'}"]
    lines += [covered(f"  {fault}", [_inside(r) for r in graded if r["fault"] == fault])[0]
              for fault in sorted({r["fault"] for r in graded})]
    return "\n\n".join([*parts, "\n".join(lines)]), all(kept)


def _lead(found):
    place = max(found["claims"], key=lambda name: (round(found["claims"][name], 9), name))
    return found["claims"][place], place == found["location"]


def _inside(found):
    return found["low"] <= found["severity"] <= found["high"]


def main():
    """Read the command line and run."""
    chosen = parser(__doc__, JOBS).parse_args()
    records = results(chosen, record, SETTINGS)
    print(heading(f"{len(records)} matched jobs"))
    print(f"```\n{tables(records)[0]}\n```")


if __name__ == "__main__":
    main()
