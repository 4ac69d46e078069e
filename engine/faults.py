"""Owns faults: what each kind does to the circuit, how severe it may be, and how likely before measuring."""

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from engine.circuit_state import AT
from engine.grades import (
    ADDS, DEAD_LOW, EVEN, KILOHM, LN_FACTOR, NOWHERE, OFFSET_ASIDE, OFTEN_LOW, RATIO_ASIDE, REPLACES, ROW, STUCK_LOW, TRUE_ASIDE, graded_all)
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
# How a severity lies in its range where that is not by ratio, or evenly where it starts at nothing.
_LAWS = {**dict.fromkeys(("sensor-wrong-curve", "module-curve-factor", "sensor-ratio-factor", "module-scale-factor"), RATIO_ASIDE),
         "temperature-true": TRUE_ASIDE, "sensor-ratio-offset": OFFSET_ASIDE, "input-dead": OFTEN_LOW, "reading-frozen": OFTEN_LOW}
_EVENLY = ("sensor-self-heating", "too-soon", "temperature-true", "reading-frozen", "input-dead", "sensor-stuck-ratio", "sensor-ratio-offset")
# The betas that go with another family's ohms.
_BETAS = {"sensor-wrong-curve": "sensor_beta_k", "module-curve-factor": "module_beta_k"}
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
    def needs_second(self) -> np.ndarray:
        """Positions of the rows graded by the second unknown as well: other families, and pairs."""
        return np.array([k for k, kind in enumerate(self.kinds)
                         if kind.also is not None or kind.effect in ("sensor-wrong-curve", "module-curve-factor")], int)

    @cached_property
    def packed(self) -> np.ndarray:
        """The rows (f,) as numbers, dtype ROW; what hangs on their curve or line is for the model to add."""
        out = np.zeros(len(self.kinds), ROW)
        marks = {"reading-frozen": "frozen", "key-off": "key_off", "unit-mistaken": "unit_mistaken", "kilohm-mistaken": "kilohm_mistaken",
                 "stand-in-beside": "beside", "wrong-legs": "wrong_legs", "lead-off": "lead_off", "stand-in-moved": "moved",
                 "too-soon": "too_soon", "switching-dead": "switching_dead", "pointer-flips": "flips"}
        packed: dict[str, np.void] = {}
        for k, kind in enumerate(self.kinds):
            # A fault is the same on every curve.
            if kind.id not in packed:
                row = packed[kind.id] = out[k]
                row["quantity"], row["does"] = _change(kind.effect)
                row["beta"] = getattr(AT, _BETAS[kind.effect]) if kind.effect in _BETAS else NOWHERE
                row["also"], row["also_does"] = _change(kind.also[0]) if kind.also else (NOWHERE, REPLACES)
                if kind.also:
                    row["also_low"], row["also_ln_ratio"] = kind.also[1], math.log(kind.also[2] / kind.also[1])
                row["comes"] = kind.intermittent
                if kind.effect in marks:
                    row[marks[kind.effect]] = True
                self._lay(row, kind)
            out[k] = packed[kind.id]
        out["curve"] = self.curve
        return out

    def _lay(self, row: np.void, kind: FaultKind) -> None:
        """Puts into `row` how the severity of `kind` lies in its range."""
        low, high = (1.0 if end is None else end for end in (kind.severity_low, kind.severity_high))
        row["law"], even = _LAWS.get(kind.effect, EVEN), low <= 0.0 or high <= 0.0 or kind.effect in _EVENLY
        if kind.effect == "reading-frozen":
            low, high = self._stuck_range(kind)
            row["often_low"] = STUCK_LOW if low <= self.quantity.low_end else 0.0
        elif kind.effect == "input-dead":
            row["often_low"] = DEAD_LOW
        row["low"], row["span"], row["ln_ratio"] = low, high - low if even else 0.0, 0.0 if even else math.log(high / low)

    def severity(self, share: np.ndarray) -> np.ndarray:
        """Severity (f, s) in each fault's unit at `share` (0..1) of its range; see `grades`."""
        return graded_all(self.packed, np.ascontiguousarray(share, float))

    def _stuck_range(self, kind: FaultKind) -> tuple[float, float]:
        if kind.severity_low == kind.severity_high:
            return kind.severity_low, kind.severity_high
        return max(kind.severity_low, self.quantity.low_end), min(kind.severity_high, self.quantity.high_end)

    def stuck_share(self, k: int, shown: float) -> float:
        """Share of the range at which row k's frozen reading is stuck at `shown`; inverse of `severity`."""
        bottom, top = self._stuck_range(self.kinds[k])
        part = (shown - bottom) / max(top - bottom, 1e-9)
        if bottom <= self.quantity.low_end:
            part = STUCK_LOW + (1.0 - STUCK_LOW) * part
        return min(max(part, 1e-6), 1.0 - 1e-6)


def _change(effect: str) -> tuple[int, int]:
    """Which quantity of the circuit an effect is of, and what it does with it."""
    if effect == "kilohm-mistaken":
        return AT.kilohm_factor, KILOHM
    name = _DIRECT.get(effect) or _LOGARITHMIC.get(effect)
    if name is None:
        return NOWHERE, REPLACES
    return getattr(AT, name), LN_FACTOR if effect in _LOGARITHMIC else ADDS if name in _ADDS else REPLACES


def _positions(names: list[str | None]) -> dict[str | None, np.ndarray]:
    """Where each name stands, in the order of first appearance."""
    places: dict[str | None, list[int]] = {}
    for k, name in enumerate(names):
        places.setdefault(name, []).append(k)
    return {name: np.array(rows, int) for name, rows in places.items()}


def severity(fault: FaultKind, share: np.ndarray) -> np.ndarray:
    """Severity of one fault, in its unit, at `share` (0..1, any shape) of its range."""
    rows = Rows(np.zeros(1, int), (fault,), np.zeros(1, int))
    return rows.severity(np.reshape(share, (1, -1))).reshape(np.shape(share))
