"""Owns whether the pins of the plug are known, and which tests stay locked until they are."""

from collections.abc import Iterable, Mapping

FIND_PINS = "find-pins"
KNOWN_EVENT = "pins-known"


def known(job: object, log: Iterable[Mapping]) -> bool:
    """Whether the last find-pins reading was good, or the job's `log` says that the diagram names the pins."""
    found = [reading.good for reading in job.readings if reading.test == FIND_PINS]
    return bool(found and found[-1]) or any(event.get("event") == KNOWN_EVENT for event in log)


def locked(kind: object) -> bool:
    """Whether the test `kind` (engine TestKind) joins pins of the plug, which a wrong pin would not forgive."""
    return kind.element in ("short", "divider", "feed-through")
