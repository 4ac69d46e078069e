"""Owns a three-wire job made numeric: rows are a fault on a candidate line with its input pulled down or up."""

from functools import cached_property
from typing import NamedTuple

import numpy as np

from engine.curve_table import Table
from engine.faults import FaultKind
from engine.model import OPEN_SD, OPEN_UNKNOWN_SD, Model, Setup
from engine.packed import pack_job
from engine.points import Circuit
from engine.procedures import TestKind
from engine.readings import Reading
from engine.unknowns import Z

# So many inputs of three-wire signals are pulled down (published figures and from memory).
DOWN_SHARE = 0.75
TRACK_LN_SD, STAGE_LN_SD = 0.5, 0.1
# Percent of travel at the far stop.
FAR_STOP = 100.0
# Supply where nobody told it [V].
SUPPLY_V = 5.0
# A sweep that moved left its lowest number for that of the middle.
SWEEP_MIDDLE = 0.5


class NoCurves(NamedTuple):
    """In the place of a table of curves: a three-wire circuit has none, and none that is loose."""

    curves: tuple = ()
    loose: np.ndarray = np.zeros(0, bool)
    packed: Table = Table(*(np.float32(one) for one in (0.0, 1.0, 0.0, 1.0, 0.0, 0.0)), *(np.zeros(0, np.float32) for _ in range(3)))


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
        return np.array([getattr(Z, n) for n in names])

    @cached_property
    def circuit(self) -> Circuit:
        """The circuit and its rows, for compiled loops."""
        setup, wire = self.setup, self.setup.three_wire
        jobs = pack_job(setup, self.end_to_end_ohm)
        job, family = jobs[0], wire.family
        job["open_v"], job["active"] = setup.circuit.reference_v or SUPPLY_V, wire.active
        job["open_sd"] = OPEN_SD if setup.circuit.reference_v is not None else OPEN_UNKNOWN_SD
        job["source"] = setup.circuit.source_ohm or 0.0
        job["track_ohm"], job["track_ln_sd"] = wire.track_ohm, STAGE_LN_SD if wire.active else TRACK_LN_SD
        (job["line_low"], job["line_low_sd"]), (job["line_high"], job["line_high_sd"]) = family.ratio_low, family.ratio_high
        job["line_from"], job["line_to"], job["line_span_ln_sd"] = family.value_low, family.value_high, family.span_ln_sd
        return Circuit(jobs, self.table.packed, self._rows())

    def _rows(self) -> np.ndarray:
        """The rows, each on its line."""
        setup, listed = self.setup, [line for line, _ in self.setup.three_wire.lines]
        rows = self.pick(np.arange(len(self))).packed.copy()
        told = None if setup.surroundings_c is None else (setup.surroundings_c, setup.quantity.surroundings_sd)
        far = (FAR_STOP, setup.quantity.thermometer_sd)
        for row, index in zip(rows, self.curve.tolist(), strict=True):
            line = listed[index // 2] if index >= 0 else None
            row["coldest"], row["hottest"], row["unlisted"], row["up"] = -np.inf, np.inf, line is None, index % 2 == 1
            row["offset"], row["slope"] = (0.0, 1.0) if line is None else (line.offset, line.slope)
            row["clamp_low"], row["clamp_high"] = (0.0, 1.0) if line is None else line.clamps
            row["rest"], row["rest_sd"] = told or (line and line.rest) or setup.three_wire.rest
            row["stop"], row["stop_sd"] = (line and line.stop) or far
        return rows

    def sweep_low_end(self) -> tuple[TestKind, Reading]:
        """The hook-up a sweep comes from, as a test and a reading of it: the middle of the track."""
        return (TestKind("", "", "divider", "return", "shows", 0.0, "unplugged-key-on", pins=3),
                Reading("", ratio=SWEEP_MIDDLE))


def model_of(setup: Setup) -> Model:
    """The numeric model of `setup`, whichever circuit it has."""
    return Model(setup) if setup.three_wire is None else ThreeWireModel(setup)
