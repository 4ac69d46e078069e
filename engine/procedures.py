"""Owns the tests: what each one connects and measures, and what it would show for a whole batch of circuits."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from engine.batches import different, exp, held, log
from engine.circuit import JOINED_OHM, METER_OHM, OPEN_OHM, Feed, InputCircuit, feed, parallel
from engine.curve_table import CurveTable
from engine.curves import KELVIN, T25_K
from engine.faults import OTHER_SUPPLY_V, CircuitState, Rows
from engine.readings import VOLTS, Reading

ELEMENTS = ("none", "sensor", "open", "short", "stand-in", "divider", "feed-through")
MEASURES = ("shows", "sweep", "volts", "supply-volts", "return-volts", "current", "return-ohms", "sensor-ohms", "good")
# Between which points a test's one value lies, of all the volts it can carry.
MAIN_VOLTS = {"volts": "volts-return", "supply-volts": "supply-return", "return-volts": "return-battery"}
MIDDLE = dict.fromkeys(MAIN_VOLTS, 0.5)  # where a divider stands whose number is not read
STATES = ("plugged-key-on", "unplugged-key-on", "unplugged-key-off", "module-key-on")
# A jumper or stand-in clipped to a clean chassis point, the lead a meter cannot null out, an ammeter with its fuse
# (common practice, no source).
CHASSIS_OHM, LEAD_OHM, AMMETER_OHM = 0.1, 0.2, 1.5
# The sweep's low end: about one twentieth of the total (common practice, no source).
SWEEP_SHARE = 20.0
# A silicon PTC gains about 0.78 % of its 25 degC value per kelvin (published pair: 1.01 kohm at 25 degC, from memory).
RISING_PER_K = 0.0078
TYPICAL_BETA_K, TYPICAL_LN_OHM_25 = 3700.0, 8.0
# Currents are compared by ratio, small ones and either direction too: arcsinh of the current over this [mA].
MA_FLOOR = 0.04
# A gauge that knows only its ends goes this far beyond them.
FLIPPED_TO = (120.0, -20.0)
SHARE_ENDS = (1e-7, 1.0 - 1e-7)


@dataclass(frozen=True)
class TestKind:
    """One thing a technician does that yields a reading.

    `element` sits on the plug, leading `to` the return, the chassis or, with
    the harness off, straight across the module's own pins. `measures` says
    what is read. `state` is what must be set up first; `proof` the proof rule
    the test serves. `bad` gives, for tests judged by eye or hand, the chance
    of a bad finding under each fault, `false_alarm` without cause. `at_c` is
    the temperature (or value) the part is brought to in this test, where it
    is; `pins` how many the plug has: three with a supply of their own.
    """

    __test__ = False  # not a pytest class

    id: str
    label: str
    element: str
    to: str
    measures: str
    minutes: float
    state: str
    proof: str = ""
    needs: str = ""
    bad: tuple[tuple[str, float], ...] = ()
    false_alarm: float = 0.02
    at_c: float | None = None
    pins: int = 2

    @property
    def unit(self) -> str:
        """Unit of this test's result: degC (or the quantity's own), V, mA, ohm, or nothing where judged by eye or hand."""
        return {**dict.fromkeys(MAIN_VOLTS, "V"), "current": "mA", "return-ohms": "ohm", "sensor-ohms": "ohm", "good": ""}.get(
            self.measures, "degC")

    @property
    def takes(self) -> tuple[str, ...]:
        """The fields a reading of this test may carry."""
        volts = VOLTS if self.pins == 3 else VOLTS[:2]
        if self.measures == "good":
            return ("good", "shows", "unit") if self.element in ("stand-in", "divider") else ("good",)
        if self.measures in MAIN_VOLTS:
            return volts if self.pins == 2 else (*volts, "at", "loaded")
        if self.measures == "current":
            return ("signal_ma",)
        if self.measures == "return-ohms":
            return ("ohms", "ohms_swapped", "in_circuit", "between")
        if self.measures == "sensor-ohms":
            return ("ohms", "ohms_swapped", "in_circuit", "at")
        both = ("shows", "unit", *volts, "at")
        dialled = {"stand-in": ("ohm",), "divider": ("ratio",)}.get(self.element, ()) if self.measures == "shows" else ()
        return (*dialled, *both)


class Hookup(NamedTuple):
    """What sits on the plug for each of r readings; index arrays and values per reading."""

    sensor: np.ndarray       # (r,) True where the sensor is fitted
    element_ohm: np.ndarray  # (r,) ohms of what is fitted in its place
    dialled: np.ndarray      # (r,) True where those ohms were typed
    chassis: np.ndarray      # (r,)
    module: np.ndarray       # (r,)
    meter: np.ndarray        # (r,) True where a meter loads the plug
    at_c: np.ndarray         # (r,) the part's temperature where typed, else nan
    stand_in: np.ndarray     # (r,) True where the stand-in is on
    lead_ohm: np.ndarray     # (r,) the leads' part of its ohms
    element: np.ndarray      # (r,) one of ELEMENTS
    ratio: np.ndarray        # (r,) share of its track a divider was set to, else nan

    def __len__(self) -> int:
        return len(self.sensor)


class Unknowns(NamedTuple):
    """What is not exactly known of the circuit, arrays (f, s), or numbers where told."""

    source_ohm: np.ndarray   # the module's own idea of its input resistor
    part_factor: np.ndarray  # the real resistor over that idea
    open_factor: np.ndarray  # real reference volts over the nominal
    family_ln_ohm: np.ndarray
    family_beta_k: np.ndarray
    sensor_ln: np.ndarray    # part tolerance of the sensor, on ln ohm
    sensor_beta_k: np.ndarray
    true_value: np.ndarray   # the quantity as found
    thermometer: np.ndarray
    ground_v: np.ndarray     # chassis against module ground


class Shown(NamedTuple):
    """Predictions: arrays (r, f, s) unless said otherwise."""

    value: np.ndarray        # what live data would show before ends, limits and default [degC or percent]
    slope: np.ndarray        # its slope against ln ohm
    share: np.ndarray        # pin volts over the converter's own reference, 0..1
    sensor_ohm: np.ndarray   # (r', f, s), one for each temperature; see `sensor_at`
    at: np.ndarray           # (r,) which of them
    return_ohm: np.ndarray   # (f, s) or number
    true_value: np.ndarray   # (f, s)
    to_return_v: dict[int, np.ndarray]   # of metered readings
    to_battery_v: dict[int, np.ndarray]
    branch: np.ndarray | None  # chance that the module is on its second pull-up, where it has one
    other: "Shown | None"      # the same on the second pull-up
    rail_v: dict[str, dict[int, np.ndarray]] | None = None  # of three-wire plugs: volts of supply and return

    def sensor_at(self, r: int) -> np.ndarray:
        """The sensor's own ohms (f, s) in reading r."""
        return self.sensor_ohm[self.at[r]]

    def volts(self, between: str, r: int) -> np.ndarray:
        """Volts (f, s) of metered reading r `between` the points of a term kind such as volts-return."""
        own = {"volts-return": self.to_return_v, "volts-battery": self.to_battery_v}
        return (own[between] if between in own else self.rail_v[between])[r]

    def on_one(self, above: object = 0.5) -> "Shown":
        """The same on one pull-up: the second where its chance is `above`; itself where there is only one."""
        if self.branch is None:
            return self
        warm = self.branch > above
        arrays = {name: np.where(warm, getattr(self.other, name), getattr(self, name)) for name in ("value", "slope", "share")}
        volts = {name: {i: np.where(warm[i], getattr(self.other, name)[i], here) for i, here in getattr(self, name).items()}
                 for name in ("to_return_v", "to_battery_v")}
        return self._replace(**arrays, **volts, branch=None, other=None)


class Circumstances(NamedTuple):
    """What stays the same over all readings of a job."""

    circuit: InputCircuit
    table: CurveTable
    rows: Rows
    end_to_end_ohm: float
    case_grounded: bool
    predict: Callable | None = None  # what circuits of three wires show, in place of the below


def hookup(tests: tuple[TestKind, ...], readings: tuple[Reading, ...], end_to_end_ohm: float,
           lead_ohm: float = 0.0) -> Hookup:
    """The hook-up of each reading, in order; `tests` are the kinds of the same readings. A stand-in measured by itself
    comes with `lead_ohm` more on the plug."""
    ohms, dialled, pairs = [], [], tuple(zip(tests, readings, strict=True))
    for test, reading in pairs:
        typed = test.element == "stand-in" and reading.ohm is not None
        turned = test.element == "divider" and reading.ratio is not None
        fixed = {"open": OPEN_OHM, "short": AMMETER_OHM if test.measures == "current" else JOINED_OHM}
        ohms.append(fixed.get(test.element, max(float(reading.ohm) + lead_ohm, JOINED_OHM) if typed else end_to_end_ohm))
        dialled.append(typed or turned)
    return Hookup(
        sensor=np.array([t.element in ("sensor", "none") for t in tests], bool), element_ohm=np.array(ohms, float),
        dialled=np.array(dialled, bool), chassis=np.array([t.to == "chassis" for t in tests], bool),
        module=np.array([t.to == "module" for t in tests], bool),
        meter=np.array([any(getattr(r, name) is not None for name in VOLTS) or t.measures in (*MAIN_VOLTS, "current")
                        for t, r in pairs], bool), at_c=np.array([_at(t, r) for t, r in pairs], float),
        stand_in=np.array([t.element in ("stand-in", "divider") for t in tests], bool),
        lead_ohm=np.array([lead_ohm if typed else 0.0 for typed in dialled]),
        element=np.array([t.element for t in tests], str),
        ratio=np.array([MIDDLE.get(t.measures, np.nan) if r.ratio is None else r.ratio for t, r in pairs], float))


def _at(test: TestKind, reading: Reading) -> float:
    """The part's value in a reading where it was typed, or where the test brings a three-wire part to one; else nan."""
    if reading.at_c is not None:
        return reading.at_c
    return test.at_c if test.pins == 3 and test.at_c is not None else np.nan


def predict(hook: Hookup, around: Circumstances, state: CircuitState, unknown: Unknowns,
            shape: tuple[int, int]) -> Shown:
    """What each reading r would show under each row f and sample s of `shape`.

    Volts [V] are against module ground inside, against return and battery
    negative in the result.
    """
    if around.predict is not None:
        return around.predict(hook, around, state, unknown, shape)
    circuit = around.circuit
    own_ohm, fed_ohm, at = _sensor_ohm(hook, around, state, unknown, shape)
    element = _elements(hook, around, state, fed_ohm, at, shape)
    open_v = circuit.open_v if circuit.open_v is not None else 5.0
    real_open = open_v * unknown.open_factor
    now_open = real_open * state.supply_factor
    source = unknown.source_ohm * unknown.part_factor * state.input_factor
    ground = _grounds(hook, around, state, unknown)
    below = element + CHASSIS_OHM
    to_return = ~(hook.chassis | hook.module)
    below[to_return] += state.return_ohm + state.module_return_ohm - CHASSIS_OHM
    below[hook.module] += state.module_return_ohm

    def through(ratio: float, real_ratio: float) -> Shown:
        plug_v, pin_v = _volts(hook, around, state, below, ground, now_open, source * real_ratio,
                              unknown.ground_v - state.module_ground_v)
        seen = pin_v + state.offset_v
        if circuit.pointer:
            # A pointer takes what its coil draws for what its scale was drawn with.
            seen = real_open - (now_open - seen) * (unknown.source_ohm * ratio / (source * real_ratio))
        share = held(seen / real_open, *SHARE_ENDS)
        ln_ohm = log(share / (1.0 - share))
        ln_ohm += log(np.asarray(unknown.source_ohm * ratio, ln_ohm.dtype))
        value, slope = around.table.value_at(_believed(ln_ohm, state), around.rows.curve, unknown.family_ln_ohm,
                                             unknown.family_beta_k)
        value += state.shown_offset
        flips = around.rows.having("pointer-flips")
        if len(flips):
            value[:, flips] = np.where(value[:, flips] > state.flips_at[flips], *FLIPPED_TO)
        metered = np.flatnonzero(hook.meter)
        to_battery = {int(i): plug_v[i] + state.module_ground_v for i in metered}
        to_return_v = {int(i): (plug_v[i] - ground.get(int(i), 0.0)) * (element[i] / below[i]) for i in metered}
        return Shown(value, slope, share, own_ohm, at, state.return_ohm + state.module_return_ohm + LEAD_OHM,
                     unknown.true_value + state.true_offset, to_return_v, to_battery, None, None)

    shown = through(1.0, 1.0)
    if circuit.second_source_ohm is None or circuit.switch_at_c is None:
        return shown
    ratio = circuit.second_source_ohm / (circuit.source_ohm or circuit.second_source_ohm)
    dead = np.ones((shape[0], 1), below.dtype)
    dead[around.rows.having("switching-dead")] = 1.0 / ratio
    second = through(ratio, ratio * dead)
    # Between its two switching points the module stays on whichever pull-up it last was.
    warm = held((shown.value - circuit.switch_at_c) / max(circuit.switch_band_c, 1e-6) + 0.5, 0.0, 1.0)
    return shown._replace(branch=warm, other=second)


def _believed(ln_ohm: np.ndarray, state: CircuitState) -> np.ndarray:
    """Log of the ohms the module looks up: its own idea, shifted where it believes in another curve."""
    if isinstance(state.module_ln_factor, np.ndarray):
        # Another beta turns the curve about its 25 degC value, taken as a usual one here.
        turn = np.asarray(state.module_beta_k) / TYPICAL_BETA_K
        return ln_ohm + state.module_ln_factor + turn * (ln_ohm - TYPICAL_LN_OHM_25)
    return ln_ohm


def _volts(hook: Hookup, around: Circumstances, state: CircuitState, below: np.ndarray, ground: dict[int, np.ndarray],
           open_v: np.ndarray, source_ohm: np.ndarray, chassis_v: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    circuit = around.circuit
    siemens = 1.0 / state.leak_ground_ohm + 1.0 / state.leak_battery_ohm + 1.0 / state.leak_supply_ohm
    amps = ((circuit.battery_v - state.module_ground_v) / state.leak_battery_ohm + state.other_supply_v / state.leak_supply_ohm
            + chassis_v / state.leak_ground_ohm)
    if circuit.second_instrument_ohm is not None:
        siemens = siemens + 1.0 / circuit.second_instrument_ohm
        amps = amps + (circuit.second_instrument_v or OTHER_SUPPLY_V) / circuit.second_instrument_ohm
    fed = feed(open_v, source_ohm, state.signal_ohm, siemens, amps)
    plug_v = fed.plug_v(below)
    for i, volts in ground.items():
        plug_v[i] += volts * (fed.ohm / (fed.ohm + below[i]))
    pin_v = fed.pin_v(plug_v)
    if hook.module.any():
        bare: Feed = feed(open_v, source_ohm, 0.0)
        for i in np.flatnonzero(hook.module):
            plug_v[i] = pin_v[i] = bare.plug_v(below[i])
    return plug_v, pin_v


def _grounds(hook: Hookup, around: Circumstances, state: CircuitState, unknown: Unknowns) -> dict[int, np.ndarray]:
    """Volts against module ground of what each reading's element leads to, where they are not nothing."""
    chassis_v = unknown.ground_v - state.module_ground_v
    raised = isinstance(state.return_v, np.ndarray)
    out = {}
    for i in range(len(hook)):
        if hook.chassis[i]:
            out[i] = chassis_v
        elif not hook.module[i] and (raised or around.case_grounded):
            out[i] = state.return_v + chassis_v if around.case_grounded else state.return_v
    return out


def _elements(hook: Hookup, around: Circumstances, state: CircuitState, fed_ohm: np.ndarray, at: np.ndarray,
              shape: tuple[int, int]) -> np.ndarray:
    """Ohms (r, f, s) between the plug's signal side and whatever the element leads to, meter included."""
    fitted = fed_ohm + state.plug_ohm
    if isinstance(state.plug_leak_ohm, np.ndarray):
        fitted = parallel(fitted, state.plug_leak_ohm)
    rows = around.rows
    beside, legs, off = rows.having("stand-in-beside"), rows.having("wrong-legs"), rows.having("lead-off")
    kilohm = rows.having("kilohm-mistaken")
    element = np.empty((len(hook), *shape), fed_ohm.dtype)
    for i in range(len(hook)):
        if hook.sensor[i]:
            element[i] = fitted[at[i]]
            continue
        element[i] = ohm = float(hook.element_ohm[i])
        if hook.dialled[i] and len(kilohm):
            leads = float(hook.lead_ohm[i])
            element[i, kilohm] = (ohm - leads) * state.kilohm_factor[kilohm] + leads
        if hook.stand_in[i]:
            element[i, legs], element[i, off] = around.end_to_end_ohm, OPEN_OHM
        if len(beside) and ohm < OPEN_OHM and not hook.chassis[i] and not hook.module[i]:
            element[i, beside] = parallel(element[i, beside], fitted[at[i], beside])
    for i in np.flatnonzero(hook.meter):
        element[i] = parallel(element[i], METER_OHM)
    return element


def _sensor_ohm(hook: Hookup, around: Circumstances, state: CircuitState, unknown: Unknowns,
                shape: tuple[int, int]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The sensor's own ohms and its ohms while fed, (r', f, s) for each of the job's temperatures, and which each reading has."""
    true_value = unknown.true_value + state.true_offset
    values, at = different(hook.at_c.tobytes())
    own = np.empty((len(values), *shape), np.asarray(unknown.sensor_ln).dtype)
    for k, value in enumerate(values.tolist()):
        own[k] = true_value if np.isnan(value) else value + unknown.thermometer
    def ohms(value: np.ndarray) -> np.ndarray:
        inverse = 1.0 / (held(value, -80.0, 1290.0) + KELVIN)
        ln_ohm = around.table.ln_ohm(inverse, around.rows.curve[:, None], unknown.family_ln_ohm, unknown.family_beta_k)
        ln_ohm += unknown.sensor_ln + state.sensor_ln_factor
        ln_ohm += (unknown.sensor_beta_k + state.sensor_beta_k) * (inverse - 1.0 / T25_K)
        ohm = exp(ln_ohm)
        if isinstance(state.sensor_rising_ohm, np.ndarray):
            rising = state.sensor_rising_ohm * np.maximum(1.0 + RISING_PER_K * (value - 25.0), 0.3)
            ohm = np.where(np.isnan(state.sensor_rising_ohm), ohm, rising)
        ohm += state.sensor_series_ohm
        return parallel(ohm, state.sensor_parallel_ohm) if isinstance(state.sensor_parallel_ohm, np.ndarray) else ohm

    cold = ohms(own)
    hot = ohms(own + state.self_heating_c) if isinstance(state.self_heating_c, np.ndarray) else cold
    return cold, hot, at
