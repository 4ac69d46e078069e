"""The bench's command: drives many vehicles both ways and prints the figures, or shows one of them.

    python -m tests.bench.run --vehicles 300 --first 1 --jobs 2
    python -m tests.bench.run --unknown
    python -m tests.bench.run --show 17
"""

import argparse
import functools
import multiprocessing

from .drive import drive_advised, drive_both, drive_classroom
from .figures import report
from .vehicle import Vehicle


@functools.cache
def _knowledge():
    """Loaded once in each process, and only where a job is really opened."""
    from knowledge import load

    return load()


def _pair(number, known):
    return drive_both(number, _knowledge(), known)


def run(numbers, known, processes=1):
    """(advised, classroom) outcomes of every vehicle, in the order of their numbers."""
    work = functools.partial(_pair, known=known)
    if processes == 1:
        return [work(number) for number in numbers]
    with multiprocessing.Pool(processes) as pool:
        return pool.map(work, numbers, chunksize=1)


def show(number, known, classroom):
    """Print one vehicle, then every step of its drive."""
    vehicle = Vehicle(number)
    print(f"vehicle {number}: {vehicle.sensor}, {vehicle.complaint}; {vehicle.fault_id} at {vehicle.location}")
    for part in (vehicle.wiring, vehicle.module, vehicle.instruments, vehicle.job_fields(known)):
        print(f"  {part}")
    drive = drive_classroom if classroom else drive_advised
    outcome = drive(vehicle, _knowledge(), known, watch=_print_step)
    print(f"{outcome.state}: said {outcome.location_said}, {outcome.tests} tests, {outcome.minutes} min")
    if outcome.trouble:
        print(outcome.trouble)


def _print_step(job, test, ohm, reading):
    verdict = job.verdict()
    asked = f"{test} at {ohm:.0f} ohm" if ohm else test
    print(f"{verdict.state:>12} ({verdict.location}); {asked} -> {reading}")


def main():
    """Read the command line and run."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--vehicles", type=int, default=300, help="how many")
    parser.add_argument("--first", type=int, default=1, help="number of the first; the number fixes the vehicle")
    parser.add_argument("--unknown", action="store_true", help="do not tell the tool the circuit")
    parser.add_argument("--jobs", type=int, default=1, help="processes at once")
    parser.add_argument("--show", type=int, metavar="NUMBER", help="replay one vehicle step by step")
    parser.add_argument("--classroom", action="store_true", help="with --show: in the classroom's order")
    chosen = parser.parse_args()
    known = not chosen.unknown
    if chosen.show is not None:
        show(chosen.show, known, chosen.classroom)
        return
    numbers = range(chosen.first, chosen.first + chosen.vehicles)
    print(report(run(numbers, known, chosen.jobs), known))


if __name__ == "__main__":
    main()
