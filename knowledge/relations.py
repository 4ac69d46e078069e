"""Owns the records of what goes together: faults others on a rail feel, and which way a sender family runs."""

from knowledge.records import Record


class RailFault(Record):
    """A fault that others on the same rail feel as well."""

    fault: str
    rail: str
    source: str


class SenderFamily(Record):
    """Which way a family of percent and ohms goes when its plug is open, as its source says, and whom it contradicts."""

    curve: str
    open_goes: str
    contradicts: str | None = None
    source: str
