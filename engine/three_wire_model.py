"""Owns a three-wire job made numeric: rows are a fault on a candidate line with its input pulled down or up."""

from functools import cached_property
from typing import NamedTuple

import numpy as np

from engine.faults import FaultKind
from engine.model import GROUND_SD_V, OPEN_SD, OPEN_UNKNOWN_SD, Z, Model, Setup
from engine.procedures import Circumstances, TestKind
from engine.readings import Reading
from engine.three_wire import Unknowns3, predict_three_wire

# Inputs of three-wire signals: a pull-down of 100 kohm to 1 Mohm on most, some pulled up, by a few kohm too (published
# figures and from memory).
DOWN_LN_OHM, UP_LN_OHM = (float(np.log(3e5)), 0.8), (float(np.log(6e4)), 1.2)
DOWN_SHARE = 0.75
TRACK_LN_SD = 0.5
# Tolerance of a sensor's ratio at one end, and over its span (common practice, no source).
RATIO_SD, RATIO_SPAN_SD = 0.008, 0.006
# Percent of travel at the far stop.
FAR_STOP = 100.0
# A sweep that moved left its lowest number for that of the middle.
SWEEP_MIDDLE = 0.5


class Lines(NamedTuple):
    """The lines of rows (f,): offset and slope of listed ones, clamps, whether unlisted, and whether pulled up; mean and
    spread (f, 2) of the value as found, and of the value at the far stop."""

    offset: np.ndarray
    slope: np.ndarray
    clamps: np.ndarray
    unlisted: np.ndarray
    up: np.ndarray
    rest: np.ndarray
    stop: np.ndarray


class NoCurves(NamedTuple):
    """In the place of a table of curves: a three-wire circuit has none, and none that is loose."""

    curves: tuple = ()
    loose: np.ndarray = np.zeros(0, bool)


class ThreeWireModel(Model):
    """Rows of a three-wire Setup; `curve` (f,) is twice the line's index, and one more where the input is pulled up.

    Unlisted lines have -2 and -1. Unknowns share the two-wire model's names:
    part is the track's ohms, sensor and sensor_beta the error of the ratio,
    family_ohm and family_beta an unlisted line's ends.
    """

    def __init__(self, setup: Setup) -> None:
        self.setup = setup
        self.table = NoCurves()
        wire = setup.three_wire
        pulls = {None: ((0, DOWN_SHARE), (1, 1.0 - DOWN_SHARE)), "down": ((0, 1.0),), "up": ((1, 1.0),)}[setup.circuit.pull]
        weights = [(2 * i + up, w * share) for i, (_, w) in enumerate(wire.lines) for up, share in pulls]
        weights += [(up - 2, wire.family_weight * share) for up, share in pulls]
        total_line = sum(w for _, w in weights)
        total = sum(fault.chance for fault in setup.faults)
        rows = [(line < 0, i, line, fault.chance / total * w / total_line)
                for i, fault in enumerate(setup.faults) for line, w in weights if w > 0]
        rows.sort(key=lambda row: row[:3])
        self.fault = np.array([r[1] for r in rows])
        self.curve = np.array([r[2] for r in rows])
        self.ln_chance = np.log([r[3] for r in rows])
        self.kinds: tuple[FaultKind, ...] = tuple(setup.faults[i] for i in self.fault)
        self.locations = np.array([k.location for k in self.kinds])
        # A line goes on beyond its ends.
        self.ranges = np.tile([(-np.inf, np.inf)], (2 * len(wire.lines) + 2, 1))
        self._picked = {}

    @cached_property
    def unlisted(self) -> np.ndarray:
        """True (f,) where the row's line is none of the listed ones."""
        return self.curve < 0

    @cached_property
    def active(self) -> np.ndarray:
        """Indices of the unknowns that the set-up leaves open at all."""
        names = ["part", "sensor", "sensor_beta", "true", "thermometer", "ground", "open"]
        if len(self.pick(np.arange(len(self))).needs_second):
            names.append("second")
        if self.setup.circuit.source_ohm is None:
            names.append("source")
        if (self.curve < 0).any():
            names += ["family_ohm", "family_beta"]
        return np.array([Z[n] for n in names])

    def around(self, rows: np.ndarray) -> Circumstances:
        """What stays the same over all readings, for `rows`."""
        return Circumstances(self.setup.circuit, self.table, self.pick(rows), self.end_to_end_ohm, False,
                             lambda *given: predict_three_wire(self.lines(rows), self.setup.three_wire.active, *given))

    def lines(self, rows: np.ndarray) -> Lines:
        """The lines of `rows`."""
        listed = [line for line, _ in self.setup.three_wire.lines]
        setup, index = self.setup, self.curve[rows]
        told = None if setup.surroundings_c is None else (setup.surroundings_c, setup.quantity.surroundings_sd)
        far = (FAR_STOP, setup.quantity.thermometer_sd)
        mine = [listed[i // 2] if i >= 0 else None for i in index]
        return Lines(np.array([0.0 if line is None else line.offset for line in mine]),
                     np.array([1.0 if line is None else line.slope for line in mine]),
                     np.array([(0.0, 1.0) if line is None else line.clamps for line in mine]), index < 0, index % 2 == 1,
                     np.array([told or (line and line.rest) or setup.three_wire.rest for line in mine]),
                     np.array([(line and line.stop) or far for line in mine]))

    def source_ohm(self, z: np.ndarray) -> object:
        """The input's load [ohm] where told; else what pull-downs have: `unknowns` tells the two apart."""
        known = self.setup.circuit.source_ohm
        return known if known is not None else np.exp(DOWN_LN_OHM[0] + DOWN_LN_OHM[1] * z[..., Z["source"]])

    def unknowns(self, z: np.ndarray) -> "Unknowns3":
        """The quantities behind standard normals `z` (f, s, z)."""
        setup, scale, wire = self.setup, self.setup.quantity, self.setup.three_wire
        open_sd = OPEN_SD if setup.circuit.reference_v is not None else OPEN_UNKNOWN_SD
        known, source = setup.circuit.source_ohm, z[..., Z["source"]]
        track_sd = 0.1 if wire.active else TRACK_LN_SD
        return Unknowns3(
            down_ohm=known if known is not None else np.exp(DOWN_LN_OHM[0] + DOWN_LN_OHM[1] * source),
            up_ohm=known if known is not None else np.exp(UP_LN_OHM[0] + UP_LN_OHM[1] * source),
            track_ohm=wire.track_ohm * np.exp(track_sd * z[..., Z["part"]]),
            supply_factor=1.0 + open_sd * z[..., Z["open"]],
            ratio_offset=RATIO_SD * z[..., Z["sensor"]], ratio_span=RATIO_SPAN_SD * z[..., Z["sensor_beta"]],
            true_z=z[..., Z["true"]], at_z=z[..., Z["thermometer"]], at_sd=scale.thermometer_sd,
            ground_v=GROUND_SD_V * z[..., Z["ground"]],
            family=wire.family.line(z[..., Z["family_ohm"]], z[..., Z["family_beta"]]))

    def sweep_low_end(self) -> tuple[TestKind, Reading]:
        """The hook-up a sweep comes from, as a test and a reading of it: the middle of the track."""
        return (TestKind("", "", "divider", "return", "shows", 0.0, "unplugged-key-on", pins=3),
                Reading("", ratio=SWEEP_MIDDLE))


def model_of(setup: Setup) -> Model:
    """The numeric model of `setup`, whichever circuit it has."""
    return Model(setup) if setup.three_wire is None else ThreeWireModel(setup)
