"""Owns a job made numeric: the rows (fault and curve) to weigh, and what is not exactly known as standard normals."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from engine.circuit import InputCircuit
from engine.curve_table import CurveTable
from engine.curves import Curve
from engine.faults import LOCATIONS, FaultKind, Rows
from engine.grades import graded_all
from engine.lines import ThreeWire
from engine.packed import pack_job
from engine.points import Circuit
from engine.procedures import SWEEP_SHARE, TestKind
from engine.quantities import TEMPERATURE, Quantity
from engine.readings import Reading
from engine.stand_in import Meter, StandIn
from engine.behind import quantities_all
from engine.unknowns import Z

# Axes used throughout: f row (a fault on one candidate curve), s sample, r reading, z unknown.
# Standard deviations of open volts, told and not (common practice, no source).
OPEN_SD, OPEN_UNKNOWN_SD = 0.006, 0.012
# What feeds a gauge may be the battery at rest or charging, or a regulator that pulses it to some 10 V on average; with a
# second coil to ground an open wire has a part of it.
BATTERY_FED_SD = 0.25
UNKNOWN_END_TO_END_OHM = 1e4


@dataclass(frozen=True)
class Setup:
    """All that a job knows before the first reading; the engine's input, built by the knowledge.

    `surroundings_c` is the quantity's value around the sensor [degC or
    percent], None where nobody told; `case_grounded` where the sensor's body is
    its return. A `three_wire` circuit has lines in place of curves.
    """

    circuit: InputCircuit
    curves: tuple[tuple[Curve, float], ...]
    family_weight: float
    family_ln_ohm_25: tuple[float, float]
    family_beta_k: tuple[float, float]
    stand_in: StandIn
    meter: Meter
    surroundings_c: float | None
    signs: tuple[str, ...]
    faults: tuple[FaultKind, ...]
    tests: tuple[TestKind, ...]
    quantity: Quantity = TEMPERATURE
    case_grounded: bool = False
    three_wire: ThreeWire | None = None

    @property
    def open_sd(self) -> float:
        """How far the volts that feed the sensor may be from the nominal ones, as a share (standard deviation)."""
        if self.circuit.pointer and self.circuit.reference_v is None:
            return BATTERY_FED_SD
        return OPEN_SD if self.circuit.open_v is not None else OPEN_UNKNOWN_SD


class Model:
    """The rows of a Setup and the mapping from unknowns to circuit quantities.

    `fault` (f,) indexes `setup.faults`, `curve` (f,) the curve (-1 the
    family, last), `ln_chance` (f,) the log of the row's chance before measuring.
    """

    def __init__(self, setup: Setup) -> None:
        self.setup = setup
        self.table = CurveTable(tuple(curve for curve, _ in setup.curves), setup.quantity)
        weights = [w for _, w in setup.curves] + [setup.family_weight]
        total_curve = sum(weights)
        possible = [i for i, f in enumerate(setup.faults) if self._possible(f)]
        total = sum(setup.faults[i].chance for i in possible)
        rows = [(c == len(setup.curves), i, c, setup.faults[i].chance / total * w / total_curve)
                for i in possible for c, w in enumerate(weights) if w > 0]
        rows.sort(key=lambda row: row[:3])
        self.fault = np.array([r[1] for r in rows])
        self.curve = np.array([-1 if r[0] else r[2] for r in rows])
        self.ln_chance = np.log([r[3] for r in rows])
        self.kinds = tuple(setup.faults[i] for i in self.fault)
        self.locations = np.array([k.location for k in self.kinds])
        self.ranges = np.array([c.range_c for c in self.table.curves] + [(-40.0, 130.0)])
        self._picked: dict[bytes, Rows] = {}

    def _possible(self, fault: FaultKind) -> bool:
        return fault.effect != "switching-dead" or self.setup.circuit.second_source_ohm is not None

    @cached_property
    def places(self) -> np.ndarray:
        """Index (f,) into LOCATIONS of each row's location."""
        return np.array([LOCATIONS.index(kind.location) for kind in self.kinds])

    @cached_property
    def unlisted(self) -> np.ndarray:
        """True (f,) where the row's curve is none of the listed ones: the continuous family, or a loose one."""
        return (self.curve < 0) | np.append(self.table.loose, False)[self.curve]

    def __len__(self) -> int:
        return len(self.fault)

    @property
    def end_to_end_ohm(self) -> float:
        """The stand-in's total [ohm]; a usual one where nobody measured it."""
        return self.setup.stand_in.end_to_end_ohm or UNKNOWN_END_TO_END_OHM

    def pick(self, rows: np.ndarray) -> Rows:
        """The Rows at positions `rows` (n,), which are ascending."""
        key = rows.tobytes()
        if key not in self._picked:
            self._picked[key] = Rows(rows, tuple(self.kinds[i] for i in rows), self.curve[rows], self.setup.quantity)
        return self._picked[key]

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
        elif self.table.loose.any():
            names.append("family_ohm")
        return np.array([getattr(Z, n) for n in names])

    @cached_property
    def circuit(self) -> Circuit:
        """The circuit and its rows, for compiled loops."""
        rows = self.pick(np.arange(len(self))).packed.copy()
        rows["coldest"], rows["hottest"] = self.ranges[self.curve].T
        rows["loose"], rows["unlisted"] = np.append(self.table.loose, False)[self.curve], self.curve < 0
        return Circuit(pack_job(self.setup, self.end_to_end_ohm), self.table.packed, rows)

    def unknowns(self, z: np.ndarray) -> np.ndarray:
        """The quantities (n, .) behind standard normals `z` (n, z): columns as of `engine.packed.OF`."""
        return quantities_all(self.circuit.job, np.ascontiguousarray(z))

    def sweep_low_end(self) -> tuple[TestKind, Reading]:
        """The hook-up at the low end of a sweep, as a test and a reading of it."""
        return (TestKind("", "", "stand-in", "return", "shows", 0.0, "unplugged-key-on"),
                Reading("", ohm=self.end_to_end_ohm / SWEEP_SHARE))

    def severity(self, share: np.ndarray, rows: np.ndarray) -> np.ndarray:
        """Severity (f, s) in each row's own unit."""
        return graded_all(self.circuit.rows[rows], np.ascontiguousarray(share, float))


def canonical(readings: tuple[Reading, ...]) -> tuple[Reading, ...]:
    """The readings as a set in one fixed order: belief must not know who typed what first."""
    return tuple(sorted(set(readings), key=lambda r: (r.test, repr(r))))
