"""Owns the review of sensor kinds as rows of text, and the orders they can be sorted in."""

from collections.abc import Callable, Sequence

from app import wording

HEAD = ("Sensor", "Faults noticed", "Placed in one spot", "Range with this stand-in", "Set within", "Beware")
# What is no temperature has a unit of its own.
OWN_UNIT = {"level": "percent", "position": "percent", "pressure": "kPa"}
ORDERS: dict[str, Callable[[object], tuple]] = {
    "placed": lambda row: (-(row.placed or 0.0), row.label),
    "noticed": lambda row: (-(row.detected or 0.0), row.label),
    "set within": lambda row: (row.near_c if row.near_c is not None else float("inf"), row.label),
    "name": lambda row: (row.label,)}


def lines(kb: object, rows: Sequence[object], order: str, unit: str) -> list[tuple[str, ...]]:
    """A line under HEAD for each ReviewRow that takes a stand-in, in the order named; `unit` is that of temperatures."""
    taken = sorted((row for row in rows if not row.refused), key=ORDERS[order])
    return [_line(row, OWN_UNIT.get(kb.sensor(row.sensor).quantity, unit)) for row in taken]


def _line(row: object, unit: str) -> tuple[str, ...]:
    span = "cannot be set" if row.low_c is None else wording.temperature_band((row.low_c, row.high_c), unit)
    near = "cannot be set" if row.near_c is None else wording.degrees(row.near_c, unit)
    return (wording.title(row.label), wording.chance(row.detected), wording.chance(row.placed), span, near,
            ", ".join(row.hazards))
