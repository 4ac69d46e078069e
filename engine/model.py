"""Owns a job made numeric: the rows (fault and curve) to weigh, and what is not exactly known as standard normals."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from engine.circuit import InputCircuit
from engine.curve_table import CurveTable
from engine.curves import Curve
from engine.faults import CircuitState, FaultKind, circuit_state, severity
from engine.procedures import TestKind, Unknowns
from engine.readings import Reading
from engine.stand_in import Meter, StandIn

# Axes used throughout: f row (a fault on one candidate curve), s sample, r reading, z unknown.
Z_NAMES = ("part", "sensor", "sensor_beta", "true", "thermometer", "ground", "open", "second", "source", "family_ohm",
           "family_beta")
Z = {name: i for i, name in enumerate(Z_NAMES)}
# Standard deviations of what a data sheet would call tolerance (common practice, no source).
PART_SD = 0.012
SENSOR_LN_SD = 0.022
SENSOR_BETA_SD_K = 35.0
SURROUNDINGS_SD_C = 1.5
THERMOMETER_SD_C = 0.6
GROUND_SD_V = 0.02
OPEN_SD, OPEN_UNKNOWN_SD = 0.006, 0.012
# Input resistors met on vehicles run from about 0.9 to 30 kohm, most near 1 to 5 (published input tables).
SOURCE_LN_MEAN, SOURCE_LN_SD = float(np.log(2700.0)), 0.85
NO_SURROUNDINGS_C, NO_SURROUNDINGS_SD_C = 35.0, 25.0


@dataclass(frozen=True)
class Setup:
    """All that a job knows before the first reading; the engine's input, built by the knowledge."""

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


class Model:
    """The rows of a Setup and the mapping from unknowns to circuit quantities.

    `fault` (f,) indexes `setup.faults`, `curve` (f,) the curve (-1 the
    family), `ln_chance` (f,) the log of the row's chance before measuring.
    Rows of intermittent faults have a companion in order; `companion` (f,) is
    the index, in the list that goes through the circuit, of each row's
    companion or of the row itself.
    """

    def __init__(self, setup: Setup) -> None:
        self.setup = setup
        self.table = CurveTable(tuple(curve for curve, _ in setup.curves))
        weights = [w for _, w in setup.curves] + [setup.family_weight]
        total_curve = sum(weights)
        total = sum(f.chance for f in setup.faults)
        rows = [(i, c if c < len(setup.curves) else -1, f.chance / total * w / total_curve)
                for i, f in enumerate(setup.faults) for c, w in enumerate(weights) if w > 0]
        self.fault = np.array([r[0] for r in rows])
        self.curve = np.array([r[1] for r in rows])
        self.ln_chance = np.log([r[2] for r in rows])
        self.kinds = tuple(setup.faults[i] for i in self.fault)
        self.locations = np.array([k.location for k in self.kinds])
        self.ranges = np.array([c.range_c for c in self.table.curves] + [(-40.0, 130.0)])

    def __len__(self) -> int:
        return len(self.fault)

    def rows_of(self, *effects: str) -> np.ndarray:
        """Mask (f,) of the rows whose effect is one of `effects`."""
        return np.array([k.effect in effects for k in self.kinds])

    @cached_property
    def intermittent(self) -> np.ndarray:
        """Mask (f,) of the rows that come and go."""
        return np.array([k.intermittent for k in self.kinds])

    @cached_property
    def active(self) -> np.ndarray:
        """Indices of the unknowns that the set-up leaves open at all."""
        names = ["part", "sensor", "sensor_beta", "true", "thermometer", "ground", "open"]
        if self.rows_of("sensor-wrong-curve").any():
            names.append("second")
        if self.setup.circuit.source_ohm is None:
            names.append("source")
        if (self.curve < 0).any():
            names += ["family_ohm", "family_beta"]
        return np.array([Z[n] for n in names])

    def source_ohm(self, z: np.ndarray) -> np.ndarray:
        """The module's own idea of its input resistor [ohm], (f, s)."""
        known = self.setup.circuit.source_ohm
        if known is not None:
            return np.full(z.shape[:2], known)
        return np.exp(SOURCE_LN_MEAN + SOURCE_LN_SD * z[..., Z["source"]])

    def unknowns(self, z: np.ndarray, rows: np.ndarray) -> Unknowns:
        """The quantities behind standard normals `z` (f, s, z) for `rows`."""
        setup = self.setup
        mean_c, sd_c = ((setup.surroundings_c, SURROUNDINGS_SD_C) if setup.surroundings_c is not None
                        else (NO_SURROUNDINGS_C, NO_SURROUNDINGS_SD_C))
        open_sd = OPEN_SD if setup.circuit.open_v is not None else OPEN_UNKNOWN_SD
        ln_mean, ln_sd = setup.family_ln_ohm_25
        beta_mean, beta_sd = setup.family_beta_k
        return Unknowns(
            source_ohm=self.source_ohm(z), part_factor=np.exp(PART_SD * z[..., Z["part"]]),
            open_factor=1.0 + open_sd * z[..., Z["open"]], curve=self.curve[rows][:, None],
            family_ln_ohm=ln_mean + ln_sd * z[..., Z["family_ohm"]],
            family_beta_k=np.maximum(beta_mean + beta_sd * z[..., Z["family_beta"]], 1500.0),
            sensor_ln=SENSOR_LN_SD * z[..., Z["sensor"]], sensor_beta_k=SENSOR_BETA_SD_K * z[..., Z["sensor_beta"]],
            true_c=mean_c + sd_c * z[..., Z["true"]], thermometer_c=THERMOMETER_SD_C * z[..., Z["thermometer"]],
            ground_v=GROUND_SD_V * z[..., Z["ground"]])

    def state(self, share: np.ndarray, z: np.ndarray, rows: np.ndarray) -> CircuitState:
        """The circuit under the faults of `rows`, severities at `share` (f, s)."""
        return circuit_state(tuple(self.kinds[i] for i in rows), share, z[..., Z["second"]])

    def severity(self, share: np.ndarray, rows: np.ndarray) -> np.ndarray:
        """Severity (f, s) in each row's own unit."""
        return np.stack([severity(self.kinds[i], share[k]) for k, i in enumerate(rows)])


def canonical(readings: tuple[Reading, ...]) -> tuple[Reading, ...]:
    """The readings as a set in one fixed order: belief must not know who typed what first."""
    return tuple(sorted(set(readings), key=lambda r: (r.test, repr(r))))
