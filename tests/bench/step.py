"""Times one whole step, belief and advice and verdict, on one core: each sensor kind, circuit told and unknown.

    python -m tests.bench.step --repeats 5

A step is one more reading, the last of so many, typed into a job whose advice and verdict stand, and asked for the next ones: what a
job computes once, at its start, is done. Reasons, severities and what was learned are reckoned where a page looks at them, and timed
apart. Times are the process's own processor time, best
and median of the repeats; the readings are drawn by `drawn`, of the named faults.
"""

import argparse
import statistics
import time
from dataclasses import replace

import numpy as np
from knowledge.memory import settle

from .drawn import draw_job, draw_truth, sensors, typed
from .long_run import heading, knowledge

COUNTS = (1, 4, 8, 12)
LIMIT_MS = 60.0
# Severities of faults above this chance are looked at.
LOOKED_AT = 0.01
FAULTS = ("plug-contact", "sensor-reads-high-ohms", "return-added-ohms")
ORDER = (("as-found", None), ("unplugged", None), ("substitute", 1500.0), ("look", None), ("plug-volts", None),
         ("substitute", 400.0), ("sensor-ohms", None), ("return-ohms", None), ("shorted", None),
         ("substitute-to-chassis", 400.0), ("terminal-fit", None), ("substitute-at-module", 400.0),
         ("live-number", None), ("module-feeds", None), ("substitute", 4000.0))
"""Tests in the order they are read; those a circuit does not admit are passed over."""


def jobs(kb, sensor, told, fault):
    """{count: job} with the first readings of the order, for one kind and one true fault."""
    rng = np.random.default_rng([len(sensor), told, len(fault)])
    job = start = draw_job(kb, sensor, told, rng)
    names = {kind.id for kind in start.faults}
    truth = draw_truth(start, rng, fault if fault in names else None)
    admitted = {test.id: test for test in start.tests}
    out = {}
    for name, ohm in ORDER:
        if name in admitted and len(job.readings) < max(COUNTS):
            job = job.record(name, **typed(job, truth, admitted[name], ohm, rng))
            out[len(job.readings)] = job
    return {count: out[count] for count in COUNTS if count in out}


def seconds(job, repeats):
    """Processor times [s] of the last reading's step, `repeats` times over, and of what is looked at after each."""
    steps, looks, last = [], [], job.readings[-1].to_dict()
    before = job.without(len(job.readings) - 1)
    for _ in range(repeats):
        stands = replace(before)
        stands.advice(), stands.verdict()
        began = time.process_time()
        step = stands.record(**last)
        for advice in step.advice()[:1]:
            advice.expect
        verdict = step.verdict()
        steps.append(time.process_time() - began)
        began = time.process_time()
        verdict.because, verdict.learned, [fault.estimate for fault in verdict.faults if fault.p >= LOOKED_AT]
        looks.append(time.process_time() - began)
    return steps, looks


def measure(repeats, kinds=None, faults=FAULTS):
    """Rows (sensor, told, count, fault, best, median, median of the looks) [s], one a step."""
    kb = knowledge()
    # As the program does at its start.
    settle()
    rows = []
    for sensor in kinds or sensors(kb):
        for told in (True, False):
            times = [(count, fault, seconds(job, repeats)) for fault in faults for count, job in jobs(kb, sensor, told, fault).items()]
            rows += [(sensor, told, count, fault, min(steps), statistics.median(steps), statistics.median(looks))
                     for count, fault, (steps, looks) in sorted(times)]
    return rows


def table(rows):
    """The rows as text, milliseconds best / median, of several faults the slowest; how many steps take how long; the largest kind."""
    lines = [f"{'sensor kind':<32}{'circuit':<9}" + "".join(f"{f'{count} readings':>16}" for count in COUNTS)]
    for sensor, told in dict.fromkeys((row[0], row[1]) for row in rows):
        slowest = {row[2]: row for row in sorted(rows, key=lambda row: row[5]) if row[:2] == (sensor, told)}
        cells = {count: f"{1000 * row[4]:.0f} / {1000 * row[5]:.0f}" for count, row in slowest.items()}
        lines.append(f"{sensor:<32}{'told' if told else 'unknown':<9}"
                     + "".join(f"{cells.get(count, '-'):>16}" for count in COUNTS))
    for told in (True, False):
        ms = np.array([1000 * row[5] for row in rows if row[1] == told])
        lines.append(f"circuit {'told' if told else 'unknown'}: {(ms <= LIMIT_MS).sum()} of {len(ms)} steps within {LIMIT_MS:.0f} ms;"
                     f" median {np.median(ms):.0f}, nine in ten within {np.quantile(ms, 0.9):.0f} ms")
    looks = np.array([1000 * row[6] for row in rows])
    lines.append(f"reasons, severities and what was learned, where they are looked at: median {np.median(looks):.0f} ms,"
                 f" largest {looks.max():.0f} ms")
    worst = max(rows, key=lambda row: row[5])
    lines.append(f"largest: {worst[0]}, circuit {'told' if worst[1] else 'unknown'}, {worst[2]} readings:"
                 f" best {1000 * worst[4]:.0f} ms, median {1000 * worst[5]:.0f} ms")
    return "\n".join(lines)


def main():
    """Read the command line and run."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--repeats", type=int, default=5, help="steps timed of each job")
    options.add_argument("--sensor", nargs="*", help="sensor kinds, all by default")
    chosen = options.parse_args()
    rows = measure(chosen.repeats, chosen.sensor)
    print(heading("milliseconds of one step, best / median"))
    print(f"```\n{table(rows)}\n```")


if __name__ == "__main__":
    main()
