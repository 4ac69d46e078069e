"""Smoke runs of the long benches, in parts that run side by side.

A hundred jobs each of matched, foreign and misfit, those soonest done. The figures to quote come from the long runs kept in
RESULTS.md; so few jobs only show that the tool and the benches still understand each other and that nothing is grossly
off. Bounds here are those of chance at so few jobs.
"""

import functools
from pathlib import Path

import pytest

from . import foreign, matched, misfit, rails, step
from .figures import interval, report, surprise
from .long_run import knowledge, run
from .reach import Suspect, field_misses, splitting_test
from .soonest import SOONEST
from .vehicle import Vehicle

PARTS = 10
# Three-wire vehicles have a bench of their own, with fewer here.
RAILS_EACH = 1
# How much faster than in class is a figure of thousands: the long run's.
NEVER = 10**9


def part(bench, number):
    """Job numbers of one part of a bench."""
    return SOONEST[bench][number::PARTS]


def test_so_many_jobs_of_each_bench_are_run():
    assert {bench: len({n for k in range(PARTS) for n in part(bench, k)}) for bench in SOONEST} == {"matched": 100, "foreign": 100, "misfit": 100}


@pytest.mark.parametrize("number", range(PARTS))
def test_what_is_claimed_on_matched_jobs_is_about_as_often_so(number):
    records = run(matched.record, part("matched", number))
    text, _ = matched.tables(records)
    claims = [(p, place == r["location"]) for r in records for place, p in r["claims"].items()]
    assert all(sum(r["claims"].values()) == pytest.approx(1.0, abs=1e-6) for r in records)
    leading = [max(r["claims"].items(), key=lambda item: item[1]) for r in records]
    so = [(p, place == r["location"]) for (place, p), r in zip(leading, records, strict=True)]
    assert abs(surprise(so)) < 3.5, text
    assert len(claims) > len(records)
    inside = [r["low"] <= r["severity"] <= r["high"] for r in records if "severity" in r and r["p"] > matched.NAMED_ABOVE]
    assert not inside or interval(sum(inside), len(inside), 0.999)[1] >= 0.9, text


@pytest.mark.parametrize("number", range(PARTS))
def test_foreign_vehicles_are_found_rightly(number):
    pairs = foreign.run(part("foreign", number), known=True, class_every=NEVER)
    advised, table = [pair[0] for pair in pairs], report(pairs, True)
    assert not [outcome.trouble for outcome in advised if outcome.state == "error"], table
    count = len(advised)
    assert interval(sum(o.found and not o.right for o in advised), count)[0] <= 0.01, table
    assert interval(sum(o.right or o.out_of_reach for o in advised), count)[1] >= 0.95, table


@pytest.mark.parametrize("number", range(PARTS))
def test_what_does_not_fit_is_seldom_found_wrongly(number):
    records = run(misfit.record, part("misfit", number))
    text, _ = misfit.table(records)
    assert not [r["trouble"] for r in records if r["state"] == "error"], text
    assert interval(sum(r["wrongly"] for r in records), len(records))[0] <= 0.03, text


def test_the_time_of_a_step_is_told_for_each_number_of_readings():
    rows = step.measure(1, kinds=("battery-temperature",), faults=("plug-contact",))
    assert [(row[1], row[2]) for row in rows] == [(told, count) for told in (True, False) for count in step.COUNTS]
    assert all(0.0 < best <= median and look > 0.0 for *_, best, median, look in rows)
    assert "largest: battery-temperature" in step.table(rows)


@pytest.mark.parametrize("command", ["foreign", "matched", "misfit", "rails", "shared_rail", "step", "tracks"])
def test_each_bench_says_how_it_is_called(command):
    text = (Path(__file__).parent / f"{command}.py").read_text(encoding="utf-8")
    assert f"python -m tests.bench.{command}" in text


def reached(fault_id, suspected, tests):
    """A vehicle with a fault, its job after `tests`, and the tool's fault `suspected` to be tried in its place."""
    vehicle = Vehicle(5, fault_id)
    job = knowledge().job(vehicle.sensor, **vehicle.job_fields(True))
    for test, ohm in tests:
        job = job.record(test, **vehicle.answer(test, ohm))
    kind = {kind.id: kind for kind in job.faults}[suspected]
    return job, Suspect(vehicle, kind, None, known=True), [reading.to_dict() for reading in job.readings]


def test_ohms_in_the_return_answer_like_ohms_in_the_signal_until_a_test_splits_them():
    # The two wires are in series for everything between them: only an ohmmeter or the chassis tells.
    tests = [("as-found", None), ("unplugged", None), ("substitute", 1500.0)]
    job, suspect, readings = reached("signal-added-ohms", "return-added-ohms", tests)
    assert suspect.answering(readings) is not None
    assert splitting_test(suspect, readings, job) in {"return-ohms", "substitute-to-chassis", "plug-volts"}


def test_what_cannot_answer_the_readings_is_no_alternative():
    tests = [("as-found", None), ("substitute", 1500.0), ("return-ohms", None)]
    _, suspect, readings = reached("signal-added-ohms", "return-added-ohms", tests)
    assert suspect.answering(readings) is None


def test_a_test_that_only_narrows_a_suspect_does_not_split():
    # The module's resistor told, another family in the sensor or in the module's table: each fits the other's numbers.
    tests = [("as-found", None), ("substitute", 1500.0)]
    job, suspect, readings = reached("module-wrong-curve", "module-wrong-curve", tests)
    assert suspect.answering(readings) is not None
    assert splitting_test(suspect, readings, job) is None


def test_both_ends_of_a_range_are_compared_whatever_is_answered():
    typed = {"shows": [-5, 76]}
    assert [len(field_misses({"shows": answered}, typed)) for answered in ([0, 50], [40, 41], 40, "did-not-move")] == [2] * 4


@pytest.mark.parametrize("number", range(PARTS))
def test_foreign_three_wire_vehicles_are_found_rightly(number):
    records = run(functools.partial(rails.drive, known=number % 2 == 0), range(1 + number * RAILS_EACH, 1 + (number + 1) * RAILS_EACH))
    text = rails.report(records)
    assert not [r["trouble"] for r in records if r["state"] == "error"], text
    wrong = sum(r["state"] == "found" and r["said"] != r["true"] for r in records)
    assert interval(wrong, len(records), 0.999)[0] <= 0.05, text
