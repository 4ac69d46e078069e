"""The bench of foreign gauges: drives many as advised and prints the figures, or shows one of them.

    python -m tests.bench.gauges --count 500 --jobs 2 --out gauges.jsonl
    python -m tests.bench.gauges --unknown
    python -m tests.bench.gauges --show 17

Without --unknown the gauge's own family is told, and a thermal one's coil; with it nothing but the complaint.
"""

import functools
from collections import Counter
from dataclasses import asdict

from .drive import Outcome, drive_advised
from .figures import report, share_settled, share_wrong, upper_bound
from .gauge_reach import judged
from .gauge_vehicle import SHARED, GaugeVehicle
from .long_run import heading, knowledge, parser, results

VEHICLES = 500
FIRST_TESTS = 3


def _record(number, known):
    return {"number": number, "advised": asdict(drive_advised(GaugeVehicle(number), knowledge(), known, reach=_reach))}


def _reach(vehicle, job, verdict, _known):
    return judged(vehicle, job, verdict)


def outcomes_of(records):
    """Outcomes of records."""
    return [Outcome(**record["advised"]) for record in records]


def run(numbers, known):
    """Outcomes of every gauge, in the order of their numbers."""
    return outcomes_of([_record(number, known) for number in numbers])


def figures(outcomes):
    """(95 % upper bound of wrong among found, share settled)."""
    found = [outcome for outcome in outcomes if outcome.found]
    return upper_bound(round(share_wrong(outcomes) * len(found)), len(found)), share_settled(outcomes)


def shared_early(outcomes):
    """How soon a fault of feed or cluster was seen: (within FIRST_TESTS tests a test of the shared feed was done, all of them)."""
    mine = [outcome for outcome in outcomes if outcome.fault_id in SHARED]
    looked = ("other-gauge", "module-feeds", "plug-volts")
    return sum(any(test in looked for test, _ in outcome.steps[:FIRST_TESTS]) for outcome in mine), len(mine)


def show(number, known):
    """Print one vehicle, then every step of its drive."""
    vehicle = GaugeVehicle(number)
    print(f"vehicle {number}: {vehicle.sensor}, {vehicle.gauge}, true {vehicle.true:.0f}; {vehicle.fault_id} at {vehicle.location}")
    print(f"  {vehicle.wiring}\n  {vehicle.job_fields(known)}")
    outcome = drive_advised(vehicle, knowledge(), known, watch=_print_step, reach=_reach)
    print(f"{outcome.state} {outcome.reach}: said {outcome.location_said}, {outcome.tests} tests, {outcome.minutes} min")
    if outcome.trouble:
        print(outcome.trouble)


def _print_step(job, test, ohm, reading):
    verdict = job.verdict()
    leading = sorted(verdict.faults, key=lambda fault: -fault.p)[:3]
    print(f"{verdict.state:>12}: {', '.join(f'{one.id} {one.p:.2f}' for one in leading)}; {test} at {ohm} -> {reading}")


def main():
    """Read the command line and run."""
    options = parser(__doc__, VEHICLES)
    options.add_argument("--unknown", action="store_true", help="do not tell the tool the gauge's family")
    options.add_argument("--show", type=int, metavar="NUMBER", help="replay one vehicle step by step")
    chosen = options.parse_args()
    known = not chosen.unknown
    if chosen.show is not None:
        show(chosen.show, known)
        return
    records = results(chosen, functools.partial(_record, known=known), {"bench": "gauges", "known": known})
    outcomes = outcomes_of(records)
    print(heading(f"{len(records)} gauges, family {'known' if known else 'unknown'}"))
    print(f"```\n{report([(outcome, None) for outcome in outcomes], known)}")
    bound, settled = figures(outcomes)
    print(f"wrong among found, upper bound {100 * bound:.2f} %; settled {100 * settled:.1f} %; shared feed looked at within"
          f" {FIRST_TESTS} tests in {shared_early(outcomes)}; states {Counter(one.state for one in outcomes)}\n```")


if __name__ == "__main__":
    main()
