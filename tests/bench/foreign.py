"""The bench of foreign vehicles: drives many both ways and prints the figures, or shows one of them.

    python -m tests.bench.foreign --count 2000 --jobs 2 --out foreign.jsonl
    python -m tests.bench.foreign --unknown
    python -m tests.bench.foreign --show 17

Foreign means that the vehicles have their own chances, tolerances, curves and arithmetic, none of them the engine's.
"""

import functools
from dataclasses import asdict

from .drive import Outcome, drive_advised, drive_both, drive_classroom
from .figures import report
from .long_run import heading, knowledge, parser, results
from .long_run import run as run_numbers
from .vehicle import Vehicle

VEHICLES = 2000


def _record(number, known, class_every):
    advised, classroom = drive_both(number, knowledge(), known, class_every)
    return {"number": number, "advised": asdict(advised), "classroom": classroom and asdict(classroom)}


def pairs_of(records):
    """(advised, classroom) outcomes of records; None for vehicles not driven in class."""
    return [(Outcome(**record["advised"]), record["classroom"] and Outcome(**record["classroom"])) for record in records]


def run(numbers, known, processes=1, class_every=1):
    """(advised, classroom) outcomes of every vehicle, in the order of their numbers."""
    return pairs_of(run_numbers(functools.partial(_record, known=known, class_every=class_every), numbers, processes))


def show(number, known, classroom):
    """Print one vehicle, then every step of its drive."""
    vehicle = Vehicle(number)
    print(f"vehicle {number}: {vehicle.sensor}, {vehicle.complaint}; {vehicle.fault_id} at {vehicle.location}")
    for part in (vehicle.wiring, vehicle.module, vehicle.instruments, vehicle.job_fields(known)):
        print(f"  {part}")
    drive = drive_classroom if classroom else drive_advised
    outcome = drive(vehicle, knowledge(), known, watch=_print_step)
    print(f"{outcome.state} {outcome.reach}: said {outcome.location_said}, {outcome.tests} tests, {outcome.minutes} min")
    if outcome.trouble:
        print(outcome.trouble)


def _print_step(job, test, ohm, reading):
    verdict = job.verdict()
    asked = f"{test} at {ohm:.0f} ohm" if ohm else test
    print(f"{verdict.state:>12} ({verdict.location}); {asked} -> {reading}")


def main():
    """Read the command line and run."""
    options = parser(__doc__, VEHICLES)
    options.add_argument("--unknown", action="store_true", help="do not tell the tool the circuit")
    options.add_argument("--show", type=int, metavar="NUMBER", help="replay one vehicle step by step")
    options.add_argument("--classroom", action="store_true", help="with --show: in the classroom's order")
    options.add_argument("--class-every", type=int, default=1, metavar="N", help="drive only every Nth vehicle in class too")
    chosen = options.parse_args()
    known = not chosen.unknown
    if chosen.show is not None:
        show(chosen.show, known, chosen.classroom)
        return
    record = functools.partial(_record, known=known, class_every=chosen.class_every)
    records = results(chosen, record, {"bench": "foreign", "known": known})
    print(heading(f"{len(records)} foreign vehicles, circuit {'known' if known else 'unknown'}"))
    print(f"```\n{report(pairs_of(records), known)}\n```")


if __name__ == "__main__":
    main()
