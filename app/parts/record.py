"""Owns taking a reading into the job: checked by the engine, saved as typed, acknowledged after."""

from app.parts import keep, problem
from engine.errors import OhmwrightError


def show(case: dict, job: object, test: str, found: dict) -> None:
    """Record `found` (names of Job.record) for `test` and save it; a mistake is shown and nothing is lost."""
    try:
        reading = job.record(test, **found).readings[-1].to_dict()
    except OhmwrightError as mistake:
        problem.show(mistake)
        return
    readings = [*case.get("readings", ()), reading]
    keep.show({**case, "readings": readings}, {"event": "reading", "reading": reading},
              f"Saved. {len(readings)} {'reading' if len(readings) == 1 else 'readings'} kept.")
