"""Drives one vehicle through a job: in the order the tool advises, or in the classroom's order."""

import traceback
from dataclasses import dataclass

from .eyes import MINUTES
from .reach import judged
from .vehicle import Vehicle

MOST_TESTS = 25
END_STATES = ("found", "nothing-fits", "out-of-reach")
CLASSROOM_ORDER = (
    "look", "as-found", "unplugged", "shorted", "plug-volts", 20.0, 50.0, 80.0, "return-ohms",
    "sensor-ohms", "terminal-fit", "substitute-at-module", "module-feeds",
)
"""The order taught in class; a number is a substitution at that many degC of the curve."""


@dataclass(frozen=True)
class Outcome:
    """How one drive ended. right and location_said compare locations, never faults.

    state is the verdict's, or 'error' with the traceback in trouble. steps are the readings.
    reach says, where the tool gave up, whether it did so rightly (see reach).
    """

    number: int
    fault_id: str
    location_true: str
    state: str
    location_said: str | None
    minutes: int
    tests: int
    steps: tuple = ()
    trouble: str | None = None
    reach: str = ""

    @property
    def out_of_reach(self):
        """Rightly left open: no offered test splits what is left."""
        return self.reach == "rightly"

    @property
    def found(self):
        return self.state == "found"

    @property
    def right(self):
        return self.found and self.location_said == self.location_true


def drive_advised(vehicle, kb, known, watch=None, reach=judged):
    """Do the tool's first advice, test after test, until it says it is done; `reach` judges where it gave up."""
    return _drive(vehicle, kb, known, _advised_tests, END_STATES, watch, reach=reach)


def drive_classroom(vehicle, kb, known, watch=None):
    """The fixed order with the same belief; it stops early only when the tool says found."""
    return _drive(vehicle, kb, known, _classroom_tests, ("found",), watch)


def drive_both(number, kb, known, class_every=1):
    """(advised, classroom) outcomes of one vehicle; only every so many vehicles are driven in class, the others give None."""
    vehicle = Vehicle(number)
    in_class = drive_classroom(vehicle, kb, known) if number % class_every == 0 else None
    return drive_advised(vehicle, kb, known), in_class


def _drive(vehicle, kb, known, next_test, end_states, watch, reach=None):
    """Record answers until the verdict is an end state or the order runs out.

    Only an Exception of the tool ends a drive as 'error': the other vehicles still count.
    """
    steps = []
    state, said, trouble, rightly = "error", None, None, ""
    try:
        job = kb.job(vehicle.sensor, **vehicle.job_fields(known))
        while True:
            verdict = job.verdict()
            state, said = verdict.state, verdict.location
            wanted = None if state in end_states else next_test(vehicle, job, len(steps))
            if wanted is None:
                break
            test, ohm = wanted
            reading = vehicle.answer(test, ohm, sum(done == test for done, _ in steps))
            steps.append((test, reading))
            if watch:
                watch(job, test, ohm, reading)
            job = job.record(test, **reading)
        if reach and state in ("open", "out-of-reach"):
            rightly = reach(vehicle, job, verdict, known)
    except Exception:
        state, said, trouble = "error", None, traceback.format_exc()
    return Outcome(
        number=vehicle.number,
        fault_id=vehicle.fault_id,
        location_true=vehicle.location,
        state=state,
        location_said=said if state == "found" else None,
        minutes=sum(MINUTES[test] for test, _ in steps),
        tests=len(steps),
        steps=tuple(steps),
        trouble=trouble,
        reach=rightly,
    )


def _advised_tests(vehicle, job, done):
    """The tool's first row, None when it has none or enough was done."""
    rows = job.advice() if done < MOST_TESTS else []
    return (rows[0].test, rows[0].ohm) if rows else None


def _classroom_tests(vehicle, job, done):
    if done >= len(CLASSROOM_ORDER):
        return None
    entry = CLASSROOM_ORDER[done]
    if isinstance(entry, float):
        return "substitute", vehicle.told.curve.ohm(entry)
    return entry, vehicle.told.curve.ohm(50.0) if entry == "substitute-at-module" else None
