"""Owns the tests: what each one connects and measures, and what it would show for a whole batch of circuits."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from engine.circuit import JOINED_OHM, METER_OHM, NO_LEAK_OHM, OPEN_OHM, InputCircuit, NodeVolts, parallel, solve
from engine.curve_table import CurveTable
from engine.curves import KELVIN, T25_K
from engine.faults import CircuitState
from engine.module import assumed_ohm, converter_step_c, converter_volts
from engine.readings import Reading

ELEMENTS = ("none", "sensor", "open", "short", "stand-in")
MEASURES = ("shows", "sweep", "volts", "return-ohms", "sensor-ohms", "good")
STATES = ("plugged-key-on", "unplugged-key-on", "unplugged-key-off", "module-key-on")
# A jumper or stand-in clipped to a clean chassis point, and the lead a meter cannot null out (common practice).
CHASSIS_OHM = 0.1
LEAD_OHM = 0.2
# The sweep's low end: about one twentieth of the total (common practice, no source).
SWEEP_SHARE = 20.0


@dataclass(frozen=True)
class TestKind:
    """One thing a technician does that yields a reading.

    `element` sits on the plug, leading `to` the return, the chassis or, with
    the harness off, straight across the module's own pins. `measures` says
    what is read. `state` is what must be set up first; `proof` the proof rule
    the test serves. `bad` gives, for tests judged by eye or hand, the chance
    of a bad finding under each fault, `false_alarm` without cause.
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

    @property
    def unit(self) -> str:
        """Unit of this test's result: degC, V, ohm, or nothing where it is judged by eye or hand."""
        return {"volts": "V", "return-ohms": "ohm", "sensor-ohms": "ohm", "good": ""}.get(self.measures, "degC")

    @property
    def takes(self) -> tuple[str, ...]:
        """The fields a reading of this test may carry."""
        if self.measures == "good":
            return ("good", "shows", "unit") if self.element == "stand-in" else ("good",)
        if self.measures == "volts":
            return ("signal_to_return_v", "signal_to_battery_v")
        if self.measures == "return-ohms":
            return ("ohms",)
        if self.measures == "sensor-ohms":
            return ("ohms", "at")
        both = ("shows", "unit", "signal_to_return_v", "signal_to_battery_v", "at")
        return (("ohm", *both) if self.element == "stand-in" and self.measures == "shows" else both)


class Hookup(NamedTuple):
    """What sits on the plug for each of r readings, as arrays of shape (r, 1, 1) that broadcast over faults and samples."""

    sensor: np.ndarray      # True where the sensor is fitted
    element_ohm: np.ndarray  # ohms of what is fitted in its place
    dialled: np.ndarray     # True where those ohms were typed
    chassis: np.ndarray
    module: np.ndarray
    meter: np.ndarray       # True where a meter loads the plug
    at_c: np.ndarray        # the part's temperature where typed, else nan


class Unknowns(NamedTuple):
    """What is not exactly known of the circuit, arrays (f, s); `curve` is an index, -1 for the family."""

    source_ohm: np.ndarray   # the module's own idea of its input resistor
    part_factor: np.ndarray  # the real resistor over that idea
    open_factor: np.ndarray  # real reference volts over the nominal
    curve: np.ndarray
    family_ln_ohm: np.ndarray
    family_beta_k: np.ndarray
    sensor_ln: np.ndarray    # part tolerance of the sensor, on ln ohm
    sensor_beta_k: np.ndarray
    true_c: np.ndarray       # the sensor's temperature as found
    thermometer_c: np.ndarray
    ground_v: np.ndarray     # chassis against module ground


class Shown(NamedTuple):
    """Predictions, arrays (r, f, s)."""

    temperature_c: np.ndarray  # what live data would show before ends, limits and default
    converter_v: np.ndarray
    step_c: np.ndarray
    nodes: NodeVolts
    sensor_ohm: np.ndarray
    return_ohm: np.ndarray
    true_c: np.ndarray


def hookup(tests: tuple[TestKind, ...], readings: tuple[Reading, ...], end_to_end_ohm: float) -> Hookup:
    """The hook-up of each reading, in order; `tests` are the kinds of the same readings."""
    def column(values: list, kind: type) -> np.ndarray:
        return np.array(values, dtype=kind)[:, None, None]
    ohms, dialled = [], []
    for test, reading in zip(tests, readings, strict=True):
        typed = test.element == "stand-in" and reading.ohm is not None
        ohms.append({"open": OPEN_OHM, "short": JOINED_OHM}.get(
            test.element, max(float(reading.ohm), JOINED_OHM) if typed else end_to_end_ohm))
        dialled.append(typed)
    return Hookup(
        sensor=column([t.element in ("sensor", "none") for t in tests], bool),
        element_ohm=column(ohms, float), dialled=column(dialled, bool),
        chassis=column([t.to == "chassis" for t in tests], bool),
        module=column([t.to == "module" for t in tests], bool),
        meter=column([r.signal_to_return_v is not None or r.signal_to_battery_v is not None
                      or t.measures == "volts" for t, r in zip(tests, readings, strict=True)], bool),
        at_c=column([np.nan if r.at_c is None else r.at_c for r in readings], float))


def predict(hook: Hookup, circuit: InputCircuit, table: CurveTable, state: CircuitState, unknown: Unknowns,
            beside: np.ndarray) -> Shown:
    """What each reading r would show under each fault f and sample s.

    `beside` (f, 1) is True where the stand-in sits beside the sensor instead
    of in its place. Volts [V] are against module ground, temperatures [degC].
    """
    open_v = circuit.open_v if circuit.open_v is not None else 5.0
    short_v = circuit.short_v or 0.0
    sensor_ohm = _sensor_ohm(hook, table, state, unknown)
    fitted = sensor_ohm + state.plug_ohm
    dialled = np.where(hook.dialled, hook.element_ohm * state.kilohm_factor, hook.element_ohm)
    if beside.any():
        alongside = beside & ~hook.chassis & ~hook.module & (hook.element_ohm < OPEN_OHM)
        dialled = np.where(alongside, parallel(dialled, fitted), dialled)
    element = np.where(hook.sensor, fitted, dialled)
    if hook.meter.any():
        element = np.where(hook.meter, parallel(element, METER_OHM), element)
    to_return = ~(hook.chassis | hook.module)
    real_open = open_v * unknown.open_factor
    real_source = unknown.source_ohm * unknown.part_factor * state.input_factor
    circuit_now = {
        "open_v": real_open * state.supply_factor, "element_ohm": element,
        "signal_ohm": np.where(hook.module, 0.0, state.signal_ohm),
        "return_ohm": np.where(to_return, state.return_ohm, CHASSIS_OHM),
        "ground_v": np.where(hook.chassis, unknown.ground_v, np.where(hook.module, 0.0, state.return_v)),
        "leak_ground_ohm": np.where(hook.module, NO_LEAK_OHM, state.leak_ground_ohm),
        "leak_battery_ohm": np.where(hook.module, NO_LEAK_OHM, state.leak_battery_ohm),
        "battery_v": circuit.battery_v}
    nodes = solve(source_ohm=real_source, **circuit_now)
    shown_c, converter_v = _module_reads(nodes.pin_v, open_v, short_v, real_open, unknown, table, unknown.source_ohm)
    if circuit.second_source_ohm is not None and circuit.switch_at_c is not None:
        ratio = circuit.second_source_ohm / (circuit.source_ohm or circuit.second_source_ohm)
        warm = shown_c > circuit.switch_at_c
        second = solve(source_ohm=real_source * ratio, **circuit_now)
        warm_c, warm_v = _module_reads(second.pin_v, open_v, short_v, real_open, unknown, table, unknown.source_ohm * ratio)
        shown_c, converter_v = np.where(warm, warm_c, shown_c), np.where(warm, warm_v, converter_v)
        nodes = NodeVolts(*(np.where(warm, b, a) for a, b in zip(nodes, second, strict=True)))
    step_c = converter_step_c(converter_v, open_v, short_v, circuit.bits, shown_c)
    return Shown(shown_c, converter_v, step_c, nodes, sensor_ohm, state.return_ohm + LEAD_OHM,
                 unknown.true_c + state.true_offset_c)


def _module_reads(pin_v: np.ndarray, open_v: float, short_v: float, real_open: np.ndarray, unknown: Unknowns,
                  table: CurveTable, source_ohm: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Temperature [degC] the module works out, and its converter's volts on the nominal scale (it is ratiometric)."""
    nominal_v = np.clip(pin_v * (open_v / real_open), 0.0, open_v)
    converter_v = converter_volts(nominal_v, open_v, short_v)
    ohm = assumed_ohm(converter_v, open_v, short_v, source_ohm)
    inverse = table.inverse_kelvin(np.log(ohm), unknown.curve, unknown.family_ln_ohm, unknown.family_beta_k)
    return 1.0 / inverse - KELVIN, converter_v


def _sensor_ohm(hook: Hookup, table: CurveTable, state: CircuitState, unknown: Unknowns) -> np.ndarray:
    """The fitted sensor's own ohms (r, f, s), faults of its own included."""
    true_c = unknown.true_c + state.true_offset_c
    # Readings at one temperature share one sensor, and a job has one or two such temperatures.
    at, which = np.unique(hook.at_c[:, 0, 0], return_inverse=True)
    temperature = np.stack([true_c if np.isnan(t) else t + unknown.thermometer_c for t in at])
    inverse = 1.0 / (np.clip(temperature, -80.0, 300.0) + KELVIN)
    ln_ohm = table.ln_ohm(inverse, unknown.curve, unknown.family_ln_ohm, unknown.family_beta_k)
    tilt = (unknown.sensor_beta_k + state.sensor_beta_k) * (inverse - 1.0 / T25_K)
    healthy = np.exp(ln_ohm + unknown.sensor_ln + state.sensor_ln_factor + tilt)
    fitted = parallel(healthy + state.sensor_series_ohm, state.sensor_parallel_ohm)
    return np.broadcast_to(fitted, (len(which), *fitted.shape[1:])) if len(at) == 1 else fitted[which]
