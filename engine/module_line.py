"""Owns the module's own line from divided settings, and what differs: sensor, coding, or a feed back into the signal."""

from typing import NamedTuple

import numpy as np

from engine.curve_fits import checked
from engine.errors import InputError
from engine.lines import Line
from engine.readings import Reading

# How well a shown number and a measured share are known, as parts of a line's span and of the supply (common practice,
# no source); lines closer than three of those at both ends are one line.
SHOWN_SHARE, SHARE_SD = 0.006, 0.006
ALIKE = 3.0
# A pull-up or pull-down of a healthy input is lighter than this; anything heavier feeds the signal (published inputs).
HEAVY_OHM = 20e3
FEWEST, LEAST_APART = 2, 0.05


class ModuleLine(NamedTuple):
    """The line a module believes in: value = `offset` + `slope` x share, both with standard deviations."""

    offset: float
    slope: float
    offset_sd: float
    slope_sd: float

    def value(self, share: object) -> np.ndarray:
        """Value shown at `share` of the supply."""
        return self.offset + self.slope * np.asarray(share, float)


def module_line(shares: object, shown: object) -> ModuleLine:
    """The module's line from two or more divided settings: share of the supply measured at the signal, number shown.

    Least squares. Raises InputError for fewer than two, or shares that all but coincide.
    """
    x, y = checked(shares, "shares"), np.array([float(value) for value in shown])
    if len(x) != len(y) or len(x) < FEWEST:
        raise InputError("shown", f"{len(y)} numbers", f"one for each of {max(len(x), FEWEST)} shares, two at least")
    spread = float(np.sum(np.square(x - x.mean())))
    if np.ptp(x) < LEAST_APART:
        raise InputError("shares", "all the same", "two settings lie at least 0.05 of the supply apart")
    slope = float(np.sum((x - x.mean()) * (y - y.mean())) / spread)
    sd = abs(slope) * float(np.hypot(SHOWN_SHARE, SHARE_SD))
    return ModuleLine(float(y.mean() - slope * x.mean()), slope, sd * float(np.sqrt(1.0 / len(x) + x.mean()**2 / spread)),
                      sd / float(np.sqrt(spread)))


class Difference(NamedTuple):
    """What differs: `cause` is none, wrong-part, wrong-coding, back-feed, both or sensor-off; the line each side follows.

    `module_id` and `sensor_id` name listed lines that fit, "" where none does.
    """

    cause: str
    module_id: str
    sensor_id: str


def what_differs(expected: Line, module: ModuleLine, sensor_share: float, known_value: float,
                 listed: tuple[Line, ...] = (), feed: tuple[float, float] | None = None) -> Difference:
    """Which side is wrong, from the module's line, and the sensor's own share of its supply at a `known_value`.

    `known_value` is the day's air pressure for an absolute sensor. `feed` is
    what `input_from_divided` found of the input: a heavy one means that the
    volts on the wire are not the sensor's alone, and nothing else is judged.
    """
    if feed is not None and feed[1] < HEAVY_OHM:
        return Difference("back-feed", "", "")
    module_ok = _same_line(expected, module)
    sensor_ok = _puts_out(expected, sensor_share, known_value)
    module_id = expected.id if module_ok else next((line.id for line in listed if _same_line(line, module)), "")
    sensor_id = expected.id if sensor_ok else next((line.id for line in listed if _puts_out(line, sensor_share, known_value)), "")
    cause = {(True, True): "none", (False, True): "wrong-coding", (False, False): "both"}.get(
        (module_ok, sensor_ok), "wrong-part" if sensor_id else "sensor-off")
    return Difference(cause, module_id, sensor_id)


def input_from_divided(ratios: object, shares: object, track_ohm: float, wiper_ohm: float = 1000.0) -> tuple[float, float]:
    """What feeds the signal pin, as a share of the supply and ohms [ohm], from dividers set to `ratios` that gave `shares`.

    Each setting has t of the supply behind r(1-r) x track + wiper ohm: the
    current it lacks, (t - share) / ohm, falls straight with the share (Ohm's
    law). An input too light to be seen comes out at infinite ohms.
    """
    t, s = checked(ratios, "ratios"), checked(shares, "shares")
    if len(t) != len(s) or len(t) < FEWEST:
        raise InputError("shares", f"{len(s)} values", f"one for each of {max(len(t), FEWEST)} ratios, two at least")
    siemens = 1.0 / (t * (1.0 - t) * track_ohm + wiper_ohm)
    lost = (t - s) * siemens
    conductance = float(np.polyfit(s, lost, 1)[0])
    if conductance <= 1e-8:
        return 0.0, float("inf")
    return float(np.mean(s) - np.mean(lost) / conductance), 1.0 / conductance


def from_readings(readings: tuple[Reading, ...], expected: Line, listed: tuple[Line, ...],
                  track_ohm: float | None) -> Difference | None:
    """Which side differs, from a job's own readings: two dividers at the plug, and the sensor's share at a known value.

    Shares are those measured (signal over supply) where volts were typed, else
    the ratios set. None where the readings do not reach so far.
    """
    divided = [r for r in readings if r.test == "divide" and isinstance(r.shows, float) and r.ratio is not None and 0.0 < r.ratio < 1.0]
    known = [(share, r.at_c) for r in readings if r.at is not None and r.ratio is None and (share := _share(r)) is not None]
    shares = [_share(r) or r.ratio for r in divided]
    if len({r.ratio for r in divided}) < FEWEST or not known or np.ptp(shares) < LEAST_APART:
        return None
    metered = [(r.ratio, share) for r in divided if (share := _share(r)) is not None]
    feed = None
    if track_ohm is not None and len({ratio for ratio, _ in metered}) >= FEWEST:
        feed = input_from_divided(*zip(*metered, strict=True), track_ohm)
    return what_differs(expected, module_line(shares, [r.shows_c for r in divided]), *known[-1], listed, feed)


def _share(reading: Reading) -> float | None:
    """Signal over supply as measured in a reading, None where either is missing."""
    signal, supply = reading.signal_to_return_v, reading.supply_to_return_v
    return signal / supply if signal is not None and supply is not None and supply > 0.0 and signal > 0.0 else None


def _same_line(line: Line, module: ModuleLine) -> bool:
    """Whether the module's line is `line`, at both ends of the middle half of the supply."""
    ends = np.array([0.25, 0.75])
    off = np.abs(module.value(ends) - (line.offset + line.slope * ends))
    return bool(np.all(off <= ALIKE * np.hypot(SHOWN_SHARE, SHARE_SD) * abs(line.slope)))


def _puts_out(line: Line, share: float, value: float) -> bool:
    return abs(float(line.ratio(value)) - share) <= max(ALIKE * SHARE_SD, line.tolerance)
