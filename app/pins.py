"""Owns whether the pins of the plug are known, and which tests stay locked until they are."""

from collections.abc import Iterable, Mapping

FIND_PINS = "find-pins"
KNOWN_EVENT, TAKEN_BACK_EVENT = "pins-known", "pins-taken-back"


def known(job: object, log: Iterable[Mapping]) -> bool:
    """Whether the last find-pins reading was good, or the job's `log` says that the diagram names the pins."""
    found = [reading.good for reading in job.readings if reading.test == FIND_PINS]
    return bool(found and found[-1]) or from_diagram(log)


def from_diagram(log: Iterable[Mapping]) -> bool:
    """Whether the `log` says last that the diagram names the pins, and nobody took that back."""
    said = [event["event"] for event in log if event.get("event") in (KNOWN_EVENT, TAKEN_BACK_EVENT)]
    return bool(said) and said[-1] == KNOWN_EVENT


def locked(kind: object) -> bool:
    """Whether the test `kind` (engine TestKind) joins pins of the plug, which a wrong pin would not forgive."""
    return kind.element in ("short", "divider", "feed-through")
