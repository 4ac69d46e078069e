"""Owns the records of three-wire sensors: published lines, which kinds follow them, pairs of tracks."""

from knowledge.records import Record


class LineRow(Record):
    """A published straight line of a three-wire sensor: what share of its supply it puts out at two values.

    `supply_v` is the supply it was published at; outside the clamp ratios the
    sensor, or the module on it, holds still. Rest and stop are the value, and
    its spread, at the two ends of travel where those are not the line's own.
    """

    id: str
    label: str
    quantity: str
    unit: str
    ratio_low: float
    value_low: float
    ratio_high: float
    value_high: float
    supply_v: float
    low_clamp_ratio: float | None = None
    high_clamp_ratio: float | None = None
    tolerance_percent: float | None = None
    rest_value: float | None = None
    rest_sd: float | None = None
    stop_value: float | None = None
    stop_sd: float | None = None
    warning: str = ""
    source: str


class UsualLine(Record):
    """A line a three-wire sensor kind usually follows, with its share among the listed ones."""

    sensor: str
    line: str
    weight: float
    source: str


class TrackPair(Record):
    """Two tracks on one shaft: the line of each, and what the module allows between them.

    They disagree once the values the two lines give are further apart than
    `limit_percent`, or the volts further from the relation than `limit_v`;
    closer together than `apart_v` they count as shorted to each other.
    `second` blank: the second track sends timed pulses.
    """

    id: str
    label: str
    sensors: tuple[str, ...]
    first: str
    second: str | None = None
    limit_percent: float | None = None
    limit_v: float | None = None
    apart_v: float | None = None
    reaction: str
    codes: tuple[str, ...] = ()
    source: str
