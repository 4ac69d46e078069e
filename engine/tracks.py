"""Owns two tracks on one shaft: their relation, where along the travel they part, settings that keep it, or the refusal."""

from dataclasses import dataclass
from typing import NamedTuple

from engine.errors import InputError
from engine.lines import Line
from engine.units import finite

# Two relations are the same when they agree to this share of the supply; a module that says nothing allows 5 % of the
# travel (a public thread, retold).
SAME_RATIO, USUAL_LIMIT_PERCENT = 0.01, 5.0
SUPPLY_V = 5.0
PULSES = ("The second track sends timed pulses: no resistor can make those. Leave it connected and read its number; "
          "move the pedal itself.")
ONE_ALONE = "One stand-in moves one track: the module sees them disagree at once. Set both, in this relation, engine off."


@dataclass(frozen=True)
class Tracks:
    """What the module believes of two tracks: a line each, and how far they may part.

    `second` is None where that track sends timed pulses. They disagree beyond
    `limit_percent` of travel or `limit_v` [V] off the relation, whichever is
    told; nearer than `apart_v` [V] to each other they count as shorted
    together. `supply_v` [V] feeds both.
    """

    first: Line
    second: Line | None
    limit_percent: float | None = None
    limit_v: float | None = None
    apart_v: float | None = None
    supply_v: float = SUPPLY_V

    @property
    def relation(self) -> str:
        """sum-constant, share, offset, same-start, pulses, or straight where it is none of those."""
        if self.second is None:
            return "pulses"
        low, high = ((self.first.ratio(value), self.second.ratio(value)) for value in (self.first.value_low, self.first.value_high))
        if abs(low[0] + low[1] - high[0] - high[1]) <= SAME_RATIO:
            return "sum-constant"
        if abs(low[0] - low[1] - high[0] + high[1]) <= SAME_RATIO:
            return "offset"
        if min(low[0], high[0]) > SAME_RATIO and abs(low[1] / low[0] - high[1] / high[0]) <= 2.0 * SAME_RATIO:
            return "share"
        return "same-start" if abs(low[0] - low[1]) <= SAME_RATIO else "straight"

    def partner_v(self, first_v: float) -> float:
        """Volts [V] the second track has when the first has `first_v`. Raises InputError where it sends pulses."""
        if self.second is None:
            raise InputError("tracks", "a second track of timed pulses", "its partner has no volts to compare with")
        return float(self.second.ratio(self.first.offset + self.first.slope * first_v / self.supply_v)) * self.supply_v


class Gap(NamedTuple):
    """How far two measured volts are from the relation: `percent` of travel, `volts` on the second track; what it means."""

    percent: float
    volts: float
    disagree: bool
    shorted: bool


def gap(tracks: Tracks, first_v: float, second_v: float) -> Gap:
    """How far `first_v` and `second_v` [V] lie from the relation, and whether the module calls it disagreement or a short."""
    off_v = second_v - tracks.partner_v(first_v)
    percent = off_v / tracks.supply_v * tracks.second.slope
    return Gap(percent, off_v, _beyond(tracks, percent, off_v), tracks.apart_v is not None and abs(first_v - second_v) < tracks.apart_v)


def parts_at(believed: Tracks, first: Line, second: Line, travel: tuple[float, float] = (0.0, 100.0)) -> float | None:
    """Travel [percent], from its low end up, at which tracks that really follow `first` and `second` start to disagree.

    None where they agree all the way. Both are straight in the travel, so the
    gap is too: d0 + d1 x meets the limit once on either side.
    """
    def off(value: float) -> Gap:
        return gap(believed, float(first.ratio(value)) * believed.supply_v, float(second.ratio(value)) * believed.supply_v)

    low, high = travel
    at_low, at_high = off(low), off(high)
    if at_low.disagree:
        return low
    found = []
    limits = [("percent", believed.limit_percent), ("volts", believed.limit_v)]
    if believed.limit_percent is None and believed.limit_v is None:
        limits = [("percent", USUAL_LIMIT_PERCENT)]
    for name, limit in limits:
        start, end = getattr(at_low, name), getattr(at_high, name)
        if limit is None or start == end:
            continue
        for bound in (limit, -limit):
            part = (bound - start) / (end - start)
            if 0.0 <= part <= 1.0:
                found.append(low + part * (high - low))
    return min(found, default=None)


def top_from_parting(believed: Tracks, at_percent: float) -> float:
    """Volts [V] the second track really has at full travel, where it was right at rest and parts at `at_percent` below.

    At the parting the gap is the limit: (1 - limit / at) of the believed span is there.
    """
    at = finite(at_percent, "at_percent", 0.1, 100.0, "percent of travel from 0.1 to 100")
    limit = believed.limit_percent or USUAL_LIMIT_PERCENT
    rest, top = (float(believed.second.ratio(value)) * believed.supply_v for value in (0.0, 100.0))
    return rest + (1.0 - limit / at) * (top - rest)


class PairSetting(NamedTuple):
    """Two dividers that keep the relation at `value`: ratios and volts of both; with `refused` said, nothing to set.

    `room` is how much of the module's limit a setting error of `within` on
    each ratio leaves, as a share: below zero no hand sets it near enough.
    """

    value: float
    first: float | None
    second: float | None
    first_v: float | None
    second_v: float | None
    room: float | None
    refused: str


def pair_setting(tracks: Tracks, value: float, within: float = 0.005) -> PairSetting:
    """Ratios for both tracks at `value` [percent] of travel, with a hand that sets each to `within` a share of its track."""
    if tracks.second is None:
        return PairSetting(value, None, None, None, None, None, PULSES)
    first, second = float(tracks.first.ratio(value)), float(tracks.second.ratio(value))
    if not (0.0 <= first <= 1.0 and 0.0 <= second <= 1.0):
        return PairSetting(value, None, None, None, None, None, "Beyond what these tracks can put out.")
    off = abs(tracks.first.slope) * within + abs(tracks.second.slope) * within
    off_v = within * tracks.supply_v * (1.0 + abs(tracks.first.slope / tracks.second.slope))
    used = max((off / tracks.limit_percent) if tracks.limit_percent else 0.0, (off_v / tracks.limit_v) if tracks.limit_v else 0.0,
               0.0 if tracks.limit_percent or tracks.limit_v else off / USUAL_LIMIT_PERCENT)
    return PairSetting(value, first, second, first * tracks.supply_v, second * tracks.supply_v, 1.0 - used, "")


def alone(tracks: Tracks, value: float, rest: float = 0.0) -> Gap | None:
    """What the module sees when a stand-in brings the first track to `value` and the second stays at `rest`; None for pulses."""
    if tracks.second is None:
        return None
    return gap(tracks, float(tracks.first.ratio(value)) * tracks.supply_v, float(tracks.second.ratio(rest)) * tracks.supply_v)


def _beyond(tracks: Tracks, percent: float, volts: float) -> bool:
    if tracks.limit_percent is None and tracks.limit_v is None:
        return abs(percent) > USUAL_LIMIT_PERCENT
    return ((tracks.limit_percent is not None and abs(percent) > tracks.limit_percent)
            or (tracks.limit_v is not None and abs(volts) > tracks.limit_v))
