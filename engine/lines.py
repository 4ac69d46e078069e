"""Owns the straight lines of three-wire sensors: share of the supply put out against the quantity, and back."""

from dataclasses import dataclass

import numpy as np

from engine.errors import InputError
from engine.units import finite

SMALLEST_SPAN = 0.02


@dataclass(frozen=True)
class Line:
    """A sensor's line: it puts out `ratio_low` of its supply at `value_low` and `ratio_high` at `value_high`.

    Values are percent (position) or kPa (pressure); `value_low` lies below
    `value_high`, the ratio may fall. Beyond `low_clamp` and `high_clamp` the
    shown value stands still. `tolerance` is the largest stated error as a share
    of the supply, `supply_v` [V] what it was published at.

    >>> round(float(Line("a", "", 0.1, 0.0, 0.85, 100.0).value(0.475)), 6)
    50.0
    """

    id: str
    label: str
    ratio_low: float
    value_low: float
    ratio_high: float
    value_high: float
    quantity: str = "position"
    supply_v: float = 5.0
    low_clamp: float | None = None
    high_clamp: float | None = None
    tolerance: float = 0.0
    rest: tuple[float, float] | None = None
    stop: tuple[float, float] | None = None

    def __post_init__(self) -> None:
        for name in ("ratio_low", "ratio_high"):
            finite(getattr(self, name), f"line.{name}", -0.1, 1.1, "a share of the supply from 0 to 1")
        if not self.value_low < self.value_high:
            raise InputError("line.value_low", self.value_low, f"it lies below the line's other value, {self.value_high:g}")
        if abs(self.ratio_high - self.ratio_low) < SMALLEST_SPAN:
            raise InputError("line.ratio_high", self.ratio_high, "the two shares of the supply lie at least 0.02 apart")

    @property
    def slope(self) -> float:
        """Value per share of the supply; below zero where the volts fall."""
        return (self.value_high - self.value_low) / (self.ratio_high - self.ratio_low)

    @property
    def offset(self) -> float:
        """Value at no volts at all."""
        return self.value_low - self.slope * self.ratio_low

    @property
    def clamps(self) -> tuple[float, float]:
        """Shares of the supply beyond which the shown value stands still."""
        return (0.0 if self.low_clamp is None else self.low_clamp, 1.0 if self.high_clamp is None else self.high_clamp)

    def value(self, ratio: object) -> np.ndarray:
        """Value at `ratio` of the supply, held at the clamps."""
        return self.offset + self.slope * np.clip(ratio, *self.clamps)

    def ratio(self, value: object) -> np.ndarray:
        """Share of the supply at `value`, beyond the ends too."""
        return (np.asarray(value, float) - self.offset) / self.slope

    def volts(self, value: object, supply_v: float | None = None) -> np.ndarray:
        """Signal [V] at `value` on `supply_v` [V] (default: the published supply)."""
        return self.ratio(value) * (self.supply_v if supply_v is None else supply_v)


def line_through(points: object, supply_v: float | None, quantity: str, id: str = "points") -> Line:
    """The line through the first and last of `points` (ratio, value); volts instead of ratios where `supply_v` is given.

    Raises InputError for fewer than two points, or points off the line by more
    than 3 % of the supply.
    """
    pairs = sorted(((r / supply_v if supply_v else r), v) for r, v in points)
    if len(pairs) < 2:
        raise InputError("line.points", f"{len(pairs)} points", "a line takes two or more")
    first, last = sorted((pairs[0], pairs[-1]), key=lambda pair: pair[1])
    line = Line(id, f"{len(pairs)} points as typed", first[0], first[1], last[0], last[1], quantity, supply_v or 5.0)
    for ratio, value in pairs:
        if abs(float(line.ratio(value)) - ratio) > 0.03:
            raise InputError("line.points", f"{ratio:g} at {value:g}", "all points lie on one straight line, within 3 % of the supply")
    return line


@dataclass(frozen=True)
class LineFamily:
    """Lines nobody listed: mean and spread of the ratio at `value_low` and at `value_high`, and spread of the natural log
    of the values' span."""

    value_low: float = 0.0
    value_high: float = 100.0
    ratio_low: tuple[float, float] = (0.13, 0.05)
    ratio_high: tuple[float, float] = (0.82, 0.08)
    span_ln_sd: float = 0.0


@dataclass(frozen=True)
class ThreeWire:
    """What makes a circuit a three-wire one: candidate `lines` with weights, those nobody listed, and the sensor's kind.

    `active`: the sensor has an output stage of its own. `track_ohm` [ohm] is
    its usual resistance from supply to return, `rest` the mean and spread of
    its value as found at key-on.
    """

    lines: tuple[tuple[Line, float], ...]
    family_weight: float
    family: LineFamily
    active: bool = False
    track_ohm: float = 5000.0
    rest: tuple[float, float] = (0.0, 6.0)
