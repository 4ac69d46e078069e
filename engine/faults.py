"""Owns faults: what each kind does to the circuit, how severe it may be, and how likely before measuring."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.special import ndtr

from engine.batches import exp
from engine.quantities import TEMPERATURE, Quantity

# Effect -> the quantity of CircuitState it replaces, or adds to where that quantity is a series resistance.
_DIRECT = {"sensor-series-ohm": "sensor_series_ohm", "sensor-parallel-ohm": "sensor_parallel_ohm",
           "sensor-rising": "sensor_rising_ohm", "sensor-self-heating": "self_heating_c",
           "plug-series-ohm": "plug_ohm", "plug-leak-ohm": "plug_leak_ohm", "signal-series-ohm": "signal_ohm",
           "signal-leak-ground-ohm": "leak_ground_ohm", "signal-leak-battery-ohm": "leak_battery_ohm",
           "signal-leak-supply-ohm": "leak_supply_ohm", "other-supply-v": "other_supply_v",
           "return-series-ohm": "return_ohm", "shown-offset": "shown_offset",
           "return-raised-v": "return_v", "input-ohm-factor": "input_factor", "input-offset-v": "offset_v",
           "supply-factor": "supply_factor", "module-return-ohm": "module_return_ohm",
           "supply-series-ohm": "supply_ohm", "rail-load-ohm": "rail_load_ohm", "plug-supply-ohm": "plug_supply_ohm", "plug-return-ohm": "plug_return_ohm",
           "sensor-wiper-ohm": "wiper_ohm", "sensor-top-ohm": "top_ohm", "sensor-bottom-ohm": "bottom_ohm",
           "sensor-ratio-offset": "ratio_offset", "sensor-ratio-factor": "ratio_factor",
           "sensor-stuck-ratio": "stuck_ratio", "sensor-drags-supply": "plugged_supply_factor",
           "module-scale-factor": "scale_factor", "input-dead": "dead_share",
           "module-ground-v": "module_ground_v", "temperature-true": "true_offset", "too-soon": "late_share",
           "pointer-flips": "flips_at"}
_LOGARITHMIC = {"sensor-factor": "sensor_ln_factor", "sensor-wrong-curve": "sensor_ln_factor",
                "module-curve-factor": "module_ln_factor"}
_ADDS = {"plug_ohm", "signal_ohm", "return_ohm", "supply_ohm", "plug_supply_ohm", "plug_return_ohm"}
# Effects that are there or not; the engine asks for them by name.
_MARKS = ("none", "reading-frozen", "unit-mistaken", "kilohm-mistaken", "stand-in-beside", "wrong-legs", "lead-off",
          "key-off", "stand-in-moved", "switching-dead")
EFFECTS = (*_DIRECT, *_LOGARITHMIC, *_MARKS)
LOCATIONS = ("module", "none", "plug", "return", "sensor", "set-up", "signal", "supply")
UNITS = ("", "ohm", "V", "factor", "degC", "percent", "kPa", "share")
# What a fault asks of the circuit before it can be there at all.
NEEDS = ("", "second-pull-up", "held-number", "return-wire", "body-ground", "three-wire", "track", "output-stage")
# Where a loose contact of this effect sits, seen from the test: on the sensor's side of the plug, or in the harness.
SENSOR_SIDE = ("sensor-series-ohm", "sensor-parallel-ohm", "sensor-factor", "sensor-wrong-curve", "sensor-rising",
               "sensor-self-heating", "plug-series-ohm", "plug-leak-ohm", "plug-supply-ohm", "plug-return-ohm",
               "sensor-wiper-ohm", "sensor-top-ohm", "sensor-bottom-ohm", "sensor-ratio-offset", "sensor-ratio-factor",
               "sensor-stuck-ratio", "sensor-drags-supply")
HARNESS_SIDE = ("signal-series-ohm", "signal-leak-ground-ohm", "signal-leak-battery-ohm", "signal-leak-supply-ohm",
                "return-series-ohm", "return-raised-v", "supply-series-ohm")
# A contact that passes current through added ohms is seldom steady.
CONTACTS = ("sensor-series-ohm", "plug-series-ohm", "signal-series-ohm", "return-series-ohm", "supply-series-ohm",
            "plug-supply-ohm", "plug-return-ohm", "sensor-wiper-ohm")
# A sensor, or a coded curve, of another family: its beta differs as well, by this standard deviation [K].
WRONG_CURVE_BETA_K = 250.0
# Severities this near to a family's own value would not be another family.
WRONG_CURVE_GAP = 0.12
TRUE_GAP = 5.0
# An offset of a sensor's ratio smaller than this is its tolerance.
RATIO_GAP = 0.02
STUCK_LOW = 0.25
# A dead input reads nothing at all so often, else anything (common practice, no source).
DEAD_LOW = 0.25
# A true reading may also be just what the surroundings are: nothing is wrong now.
IN_ORDER = 0.08
KILOHM_UP = 0.7
# The other supply a signal wire may be rubbed into, or another instrument's feed.
OTHER_SUPPLY_V = 5.0
_NOWHERE = np.zeros(0, int)


@dataclass(frozen=True)
class FaultKind:
    """One thing that can be wrong.

    `effect` is one of EFFECTS, `location` one of LOCATIONS, `chance` the share
    before measuring (any positive weight). Severities are log-uniform from
    `severity_low` to `severity_high` in `unit`, uniform for degC; both None
    where there is nothing to grade. `also` is the second effect of a pair that
    goes together: effect, low, high, unit. `needs` is one of NEEDS. `rail` names
    what it does to others as well: supply, return or cluster. `proof` is
    the step that shows the repair worked; minutes and price are the shop's to
    edit. An `intermittent` fault comes and goes between readings.
    """

    id: str
    location: str
    label: str
    effect: str
    chance: float
    severity_low: float | None = None
    severity_high: float | None = None
    unit: str = ""
    repair: str = ""
    repair_minutes: float = 30.0
    repair_price: float = 0.0
    proof: str = ""
    intermittent: bool = False
    also: tuple[str, float, float, str] | None = None
    needs: str = ""
    rail: str = ""


@dataclass
class CircuitState:
    """What faults have made of sensor and circuit: numbers where all rows are alike, else arrays (f, s).

    The defaults are a circuit in order: contact, wire and return ohms, no
    leaks (common practice, no source). A rising sensor's ohms are nan on rows
    that have none.
    """

    sensor_series_ohm: object = 0.0
    sensor_parallel_ohm: object = 1e15
    sensor_rising_ohm: object = np.nan
    sensor_ln_factor: object = 0.0
    sensor_beta_k: object = 0.0
    self_heating_c: object = 0.0
    plug_ohm: object = 0.05
    plug_leak_ohm: object = 1e15
    signal_ohm: object = 0.2
    leak_ground_ohm: object = 1e15
    leak_battery_ohm: object = 1e15
    leak_supply_ohm: object = 1e15
    other_supply_v: object = OTHER_SUPPLY_V
    return_ohm: object = 0.3
    return_v: object = 0.0
    input_factor: object = 1.0
    offset_v: object = 0.0
    supply_factor: object = 1.0
    module_ln_factor: object = 0.0
    module_beta_k: object = 0.0
    module_ground_v: object = 0.0
    module_return_ohm: object = 0.0
    kilohm_factor: object = 1.0
    true_offset: object = 0.0
    shown_offset: object = 0.0
    late_share: object = 0.0
    flips_at: object = 50.0
    # Of three wires: the supply's way to the plug, what others take from supply to return there, the sensor's track or output, the module's own scale.
    supply_ohm: object = 0.5
    rail_load_ohm: object = 1e15
    plug_supply_ohm: object = 0.05
    plug_return_ohm: object = 0.05
    wiper_ohm: object = 0.0
    top_ohm: object = 0.0
    bottom_ohm: object = 0.0
    ratio_offset: object = 0.0
    ratio_factor: object = 1.0
    stuck_ratio: object = np.nan
    plugged_supply_factor: object = 1.0
    scale_factor: object = 1.0
    dead_share: object = np.nan


STATE_NAMES = tuple(CircuitState.__dataclass_fields__)


@dataclass(frozen=True)
class Rows:
    """Faults laid out for arithmetic: row f is fault `kinds[f]` on curve `curve[f]` (-1 the family), shown in `quantity`."""

    index: np.ndarray
    kinds: tuple[FaultKind, ...]
    curve: np.ndarray
    quantity: Quantity = TEMPERATURE

    def having(self, *effects: str) -> np.ndarray:
        """Positions (n,) of the rows with one of `effects`, as their first effect."""
        if effects not in self._found:
            found = [self._effects[effect] for effect in effects if effect in self._effects]
            self._found[effects] = np.sort(np.concatenate(found)) if found else _NOWHERE
        return self._found[effects]

    @cached_property
    def _found(self) -> dict[tuple[str, ...], np.ndarray]:
        """What `having` found, by its arguments."""
        return {}

    @cached_property
    def intermittent(self) -> np.ndarray:
        """Positions of the rows that come and go."""
        return np.array([k for k, kind in enumerate(self.kinds) if kind.intermittent], int)

    @cached_property
    def _effects(self) -> dict[str, np.ndarray]:
        return _positions([kind.effect for kind in self.kinds])

    @cached_property
    def _places(self) -> dict[str, slice | np.ndarray]:
        """The rows of each effect, to be looked up quickly."""
        return {effect: _together(rows) for effect, rows in self._effects.items()}

    @cached_property
    def _pairs(self) -> dict[str, tuple[slice | np.ndarray, np.ndarray, np.ndarray]]:
        """The rows of each second effect, and the ends (n, 1) of its range."""
        found = _positions([kind.also[0] if kind.also else None for kind in self.kinds])
        return {effect: (_together(rows), *(np.array([[self.kinds[k].also[i]] for k in rows]) for i in (1, 2)))
                for effect, rows in found.items() if effect is not None}

    @cached_property
    def needs_second(self) -> np.ndarray:
        """Positions of the rows graded by the second unknown as well: other families, and pairs."""
        return np.array([k for k, kind in enumerate(self.kinds)
                         if kind.also is not None or kind.effect in ("sensor-wrong-curve", "module-curve-factor")], int)

    @cached_property
    def _range(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Low ends, log of high over low where the range runs by ratio (else 0), breadth where it runs evenly (else 0),
        each (f, 1)."""
        low = np.array([1.0 if k.severity_low is None else k.severity_low for k in self.kinds])[:, None]
        high = np.array([1.0 if k.severity_high is None else k.severity_high for k in self.kinds])[:, None]
        even = (low <= 0.0) | (high <= 0.0)
        even[self.having("sensor-self-heating", "too-soon", "temperature-true", "reading-frozen", "input-dead", "sensor-stuck-ratio",
                         "sensor-ratio-offset")] = True
        return low, np.log(np.where(even, 1.0, high) / np.where(even, 1.0, low)), np.where(even, high - low, 0.0)

    def severity(self, share: np.ndarray) -> np.ndarray:
        """Severity (f, s) in each fault's unit at `share` (0..1) of its range: log-uniform, uniform for degC.

        A wrong curve's severity is the factor on its ohms, with a gap around
        1; a true reading's is how far the quantity really is from the
        surroundings, either not at all or by more than a gap; a stuck number
        is at the low end of the scale more often than at any other, a dead input
        at nothing.
        """
        low, ln_ratio, span = (part.astype(share.dtype, copy=False) for part in self._range)
        out = exp(share * ln_ratio)
        out *= low
        out += share * span
        rows = self.having("sensor-wrong-curve", "module-curve-factor", "sensor-ratio-factor", "module-scale-factor")
        if len(rows):
            t = np.log(low[rows]) + WRONG_CURVE_GAP + share[rows] * (ln_ratio[rows] - 2.0 * WRONG_CURVE_GAP)
            out[rows] = exp(t + np.copysign(WRONG_CURVE_GAP, t))
        rows = self.having("temperature-true")
        if len(rows):
            t = low[rows] + TRUE_GAP + (share[rows] - IN_ORDER) / (1.0 - IN_ORDER) * (span[rows] - 2.0 * TRUE_GAP)
            out[rows] = np.where(share[rows] < IN_ORDER, 0.0, t + np.copysign(TRUE_GAP, t))
        rows = self.having("sensor-ratio-offset")
        if len(rows):
            t = low[rows] + RATIO_GAP + share[rows] * (span[rows] - 2.0 * RATIO_GAP)
            out[rows] = t + np.copysign(RATIO_GAP, t)
        rows = self.having("input-dead")
        if len(rows):
            out[rows] = low[rows] + span[rows] * np.maximum((share[rows] - DEAD_LOW) / (1.0 - DEAD_LOW), 0.0)
        rows = self.having("reading-frozen")
        if len(rows):
            out[rows] = self.stuck_at(share)
        return out

    def stuck_at(self, share: np.ndarray) -> np.ndarray:
        """The number (n, s) at which each row with a frozen reading is stuck, at `share` (f, s) of its range."""
        out = []
        for k in self.having("reading-frozen"):
            bottom, top = self._stuck_range(k)
            low_end = STUCK_LOW if bottom <= self.quantity.low_end else 0.0
            out.append(bottom + np.maximum((share[k] - low_end) / (1.0 - low_end), 0.0) * (top - bottom))
        return np.stack(out)

    def _stuck_range(self, k: int) -> tuple[float, float]:
        kind, scale = self.kinds[k], self.quantity
        if kind.severity_low == kind.severity_high:
            return kind.severity_low, kind.severity_high
        return max(kind.severity_low, scale.low_end), min(kind.severity_high, scale.high_end)

    def stuck_share(self, k: int, shown: float) -> float:
        """Share of the range at which row k's frozen reading is stuck at `shown`; inverse of `severity`."""
        bottom, top = self._stuck_range(k)
        part = (shown - bottom) / max(top - bottom, 1e-9)
        if bottom <= self.quantity.low_end:
            part = STUCK_LOW + (1.0 - STUCK_LOW) * part
        return min(max(part, 1e-6), 1.0 - 1e-6)

    def state(self, share: np.ndarray, second: np.ndarray) -> CircuitState:
        """The circuit under each row's fault: `share` (f, s) places its severity, `second` (f, s) is standard normal
        and grades what goes with it (the beta of a wrong curve, the second severity of a pair)."""
        state = CircuitState()
        grade = self.severity(share)
        for effect, rows in self._places.items():
            if effect in _DIRECT:
                _put(state, _DIRECT[effect], rows, grade[rows], share)
            elif effect in _LOGARITHMIC:
                _put(state, _LOGARITHMIC[effect], rows, np.log(grade[rows]), share)
                if effect != "sensor-factor":
                    name = "sensor_beta_k" if effect.startswith("sensor") else "module_beta_k"
                    _put(state, name, rows, WRONG_CURVE_BETA_K * second[rows], share)
            elif effect == "kilohm-mistaken":
                _put(state, "kilohm_factor", rows, np.where(share[rows] < KILOHM_UP, 1000.0, 0.001), share)
        for effect, (rows, low, high) in self._pairs.items():
            low, high = low.astype(share.dtype), high.astype(share.dtype)
            also = low * np.exp(ndtr(second[rows]) * np.log(high / low))
            _put(state, _DIRECT.get(effect) or _LOGARITHMIC[effect], rows,
                 np.log(also) if effect in _LOGARITHMIC else also, share)
        return state


def _positions(names: list[str | None]) -> dict[str | None, np.ndarray]:
    """Where each name stands, in the order of first appearance."""
    places: dict[str | None, list[int]] = {}
    for k, name in enumerate(names):
        places.setdefault(name, []).append(k)
    return {name: np.array(rows, int) for name, rows in places.items()}


def _together(rows: np.ndarray) -> slice | np.ndarray:
    """`rows`, as a slice where one follows the other: that is looked up in a fraction of the time."""
    return slice(int(rows[0]), int(rows[-1]) + 1) if rows[-1] - rows[0] == len(rows) - 1 else rows


def _put(state: CircuitState, name: str, rows: slice | np.ndarray, value: np.ndarray, like: np.ndarray) -> None:
    whole = getattr(state, name)
    if not isinstance(whole, np.ndarray):
        whole = np.full_like(like, whole)
        setattr(state, name, whole)
    whole[rows] = whole[rows] + value if name in _ADDS else value


def in_order(state: CircuitState, where: object) -> CircuitState:
    """`state` with a circuit in order at `where`: row positions (n, 1) or a mask (f, s)."""
    healthy = CircuitState()
    changed = {}
    for name, value in vars(state).items():
        if isinstance(value, np.ndarray):
            value = value.copy()
            if isinstance(where, np.ndarray) and where.dtype == bool:
                value[where] = getattr(healthy, name)
            else:
                value[where[:, 0]] = getattr(healthy, name)
            changed[name] = value
    return CircuitState(**{**vars(state), **changed})


def severity(fault: FaultKind, share: np.ndarray) -> np.ndarray:
    """Severity of one fault, in its unit, at `share` (0..1, any shape) of its range."""
    rows = Rows(np.zeros(1, int), (fault,), np.zeros(1, int))
    return rows.severity(np.reshape(share, (1, -1))).reshape(np.shape(share))
