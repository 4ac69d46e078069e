"""The bench of foreign three-wire vehicles: drives many by the tool's advice and prints the figures, or shows one of them.

    python -m tests.bench.rails --count 500 --jobs 2 --out rails.jsonl
    python -m tests.bench.rails --count 500 --unknown
    python -m tests.bench.rails --show 17

Foreign means that the vehicles have their own chances, tolerances and arithmetic, none of them the engine's.
"""

import functools
import traceback
from collections import Counter

from .figures import LOCATIONS, upper_bound
from .long_run import heading, knowledge, parser, results
from .rail_faults import KINDS
from .rail_vehicle import RailVehicle

VEHICLES, MOST_TESTS, FIRST_TESTS = 500, 25, 3
END_STATES = ("found", "nothing-fits", "out-of-reach")
NAMED_GROUP = 2
"""A tool that stops with the true place among so few is counted as rightly out of reach."""


def drive(number, known, watch=None, make=RailVehicle):
    """Record of one vehicle that `make` draws: what was said, after how many tests, and when the true place first led."""
    vehicle = make(number)
    out = {"number": number, "sensor": vehicle.sensor, "complaints": vehicle.complaints, "fault": vehicle.fault_id,
           "true": vehicle.location, "state": "error", "said": None, "tests": 0, "group": [], "led_after": None, "trouble": None}
    try:
        job = knowledge().job(vehicle.sensor, **vehicle.job_fields(known))
        steps = []
        while True:
            verdict = job.verdict()
            lead = max(verdict.locations, key=verdict.locations.get)
            if out["led_after"] is None and lead == vehicle.location and steps:
                out["led_after"] = len(steps)
            advice = () if verdict.state in END_STATES or len(steps) >= MOST_TESTS else job.advice()
            if not advice:
                break
            test, ratio = advice[0].test, advice[0].ratio
            reading = vehicle.answer(test, ratio, sum(done == test for done in steps))
            if watch:
                watch(verdict, test, reading)
            steps.append(test)
            job = job.record(test, **reading)
        out |= {"state": verdict.state, "said": verdict.location, "tests": len(steps), "group": list(verdict.group),
                "p": round(verdict.locations[vehicle.location], 4)}
    except Exception:
        out["trouble"] = traceback.format_exc()
    return out


def report(records):
    """The figures as text."""
    found = [r for r in records if r["state"] == "found"]
    wrong = [r for r in found if r["said"] != r["true"]]
    out_of_reach = [r for r in records if rightly_out(r)]
    good = len(found) - len(wrong) + len(out_of_reach)
    rail = [r for r in records if r["true"] in ("supply", "return")]
    steady = [r for r in rail if not KINDS[r["fault"]].intermittent]
    leading = sum(r["led_after"] is not None and r["led_after"] <= FIRST_TESTS for r in rail)
    lines = [f"vehicles {len(records)}, errors {sum(r['state'] == 'error' for r in records)}",
             f"found {len(found)}, wrong {len(wrong)}: 95 % upper bound of wrong among found {upper_bound(len(wrong), len(found)):.3f}",
             f"found rightly or rightly out of reach {good / len(records):.3f} (out of reach {len(out_of_reach)})",
             f"supply or return at fault {len(rail)}: within the first {FIRST_TESTS} tests found {_share_early(rail):.3f}"
             f" ({_share_early(steady):.3f} of those that do not come and go), leading {leading / max(len(rail), 1):.3f}; tests until found {_tests_until_found(rail)}",
             f"tests a vehicle {sum(r['tests'] for r in records) / len(records):.1f}",
             f"states {dict(Counter(r['state'] for r in records))}"]
    for place in LOCATIONS:
        mine = [r for r in records if r["true"] == place]
        said = Counter(r["said"] if r["state"] == "found" else r["state"] for r in mine)
        lines.append(f"  {place:8} {len(mine):4}  {dict(said.most_common())}")
    return "\n".join(lines)


def found_early(record):
    """Whether the true place was found within the first tests; tests count from the first one advised, complaints do not."""
    return record["state"] == "found" and record["said"] == record["true"] and record["tests"] <= FIRST_TESTS


def _share_early(records):
    return sum(map(found_early, records)) / max(len(records), 1)


def _tests_until_found(records):
    """{tests: vehicles} of the rightly found, and under "never" the others."""
    counts = Counter(r["tests"] if r["state"] == "found" and r["said"] == r["true"] else "never" for r in records)
    return {tests: counts[tests] for tests in sorted(counts, key=lambda t: (t == "never", t if t != "never" else 0))}


def rightly_out(record):
    """Whether the tool gave up with the true place among the few it named."""
    return record["state"] in ("out-of-reach", "open") and record["true"] in record["group"] and len(record["group"]) <= NAMED_GROUP


def command(text, name, title, make):
    """Read the command line of one bench of three-wire vehicles and run it; `make` draws a vehicle from its number."""
    options = parser(text, VEHICLES)
    options.add_argument("--unknown", action="store_true", help="do not tell the tool the circuit")
    options.add_argument("--show", type=int, metavar="NUMBER", help="replay one vehicle step by step")
    chosen = options.parse_args()
    known = not chosen.unknown
    if chosen.show is not None:
        vehicle = make(chosen.show)
        print(vehicle.sensor, vehicle.complaints, vehicle.fault_id, vehicle.scale, vehicle.rail, vehicle.job_fields(known), sep="\n  ")
        print(drive(chosen.show, known, lambda verdict, test, reading: print(
            verdict.state, {k: round(p, 3) for k, p in verdict.locations.items() if p > 0.01}, test, reading), make))
        return
    records = results(chosen, functools.partial(drive, known=known, make=make), {"bench": name, "known": known})
    print(heading(f"{len(records)} {title}, circuit {'known' if known else 'unknown'}"))
    print(f"```\n{report(records)}\n```")


if __name__ == "__main__":
    command(__doc__, "rails", "foreign three-wire vehicles", RailVehicle)
