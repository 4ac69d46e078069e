"""One simulated vehicle with a three-wire sensor and one fault: it answers every test by solving its own netlist.

Chances, tolerances and arithmetic are this bench's own. What a technician would type comes with the errors of his meter,
hand and eye; the same test asked twice gets the same answer.
"""

import math
import zlib
from dataclasses import dataclass, replace

import numpy as np

from .netlist import Netlist
from .rail_faults import EYES, FALSE_ALARM, KINDS, draw_fault

OPEN_OHM = 1e10
METER_OHM, CHASSIS_OHM, LEAD_OHM = 1e7, 0.05, 0.2
SHOWS_ITSELF = 0.3
SMALLEST_ERROR = 0.05
"""Share of the span by which a complaint must be off, at rest or at the far end."""

POINTS = {"signal_to_return_v": ("plug_signal", "plug_return"), "signal_to_battery_v": ("plug_signal", "battery_negative"),
          "supply_to_return_v": ("plug_supply", "plug_return"), "supply_to_battery_v": ("plug_supply", "battery_negative"),
          "return_to_battery_v": ("plug_return", "battery_negative")}
CODES = {"throttle-position": ("P0122", "P0123", "P0121", "P0124"), "accelerator-pedal-position": ("P2122", "P2123", "P2138", None),
         "manifold-pressure": ("P0107", "P0108", "P0106", "P0109"), "egr-position": ("P0405", "P0406", None, None)}
SENSORS = (("throttle-position", 0.35), ("accelerator-pedal-position", 0.25), ("manifold-pressure", 0.25), ("egr-position", 0.15))


@dataclass(frozen=True)
class Rail:
    """Everything between module and sensor, in volts and ohms; faults change it."""

    supply_v: float = 5.0
    supply_ohm: float = 0.3
    signal_ohm: float = 0.3
    return_ohm: float = 0.3
    module_return_ohm: float = 0.02
    lifted_v: float = 0.0
    leak_ground_ohm: float = math.inf
    leak_battery_ohm: float = math.inf
    leak_supply_ohm: float = math.inf
    contact_supply_ohm: float = 0.02
    contact_signal_ohm: float = 0.02
    contact_return_ohm: float = 0.02
    track_ohm: float = 4000.0
    wiper_ohm: float = 100.0
    top_ohm: float = 0.0
    bottom_ohm: float = 0.0
    burden_ohm: float = math.inf
    pull_v: float = 0.0
    pull_ohm: float = 3e5
    ground_v: float = 0.01
    added_v: float = 0.0
    dead_share: float | None = None
    ratio_gain: float = 1.0
    ratio_shift: float = 0.0
    ratio_stuck: float | None = None
    gain: float = 1.0
    frozen: float | None = None
    value: float = 0.0


@dataclass(frozen=True)
class Scale:
    """The module's line and display: share at two values, step, ends, and what it shows beyond its limits."""

    low_share: float
    low: float
    high_share: float
    high: float
    step: float
    ends: tuple
    limits: tuple
    default: float | None

    def share(self, value):
        """Share of the supply at a value."""
        return self.low_share + (value - self.low) * (self.high_share - self.low_share) / (self.high - self.low)

    def shown(self, share, gain=1.0):
        """What live data shows for a share of the module's own supply; a module coded otherwise has its number `gain` times."""
        if self.default is not None and not self.limits[0] / 5.0 <= share <= self.limits[1] / 5.0:
            return self.default
        value = self.low + (share - self.low_share) * (self.high - self.low) / (self.high_share - self.low_share)
        return float(np.clip(round(value * gain / self.step) * self.step, *self.ends))


class RailVehicle:
    """A vehicle of a given number: the number fixes everything about it, fault and answers included."""

    sensors = SENSORS

    def __init__(self, number, fault_id=None):
        self.number = number
        rng = np.random.default_rng([number, 104729])
        names, weights = zip(*self.sensors, strict=True)
        self.sensor = str(rng.choice(names, p=weights))
        self.active = self.sensor == "manifold-pressure"
        self.fault_id = fault_id or draw_fault(rng, self.active)
        self.kind = KINDS[self.fault_id]
        self.location, self.mistake = self.kind.location, self.kind.mistake
        self.scale = self._draw_scale(rng)
        self.own_v = 5.0 * (1.0 + float(rng.normal(0.0, 0.004)))
        self.rest = float(rng.normal(99.0, 2.0)) if self.active else float(abs(rng.normal(0.0, 0.8)))
        self.other_end = 100.0 - float(abs(rng.normal(0.0, 0.8)))
        self._draw_until_it_matters(rng)
        self.ohm_gain, self.volt_gain = 1.0 + float(rng.normal(0.0, 0.003)), 1.0 + float(rng.normal(0.0, 0.0015))
        self.track = float(rng.uniform(4500.0, 11000.0))
        self.complaints = self._complaints(rng)

    def _draw_scale(self, rng):
        default = None if rng.random() < 0.8 else 0.0
        if self.active:
            top = float(rng.choice([105.0, 115.0, 200.0, 250.0]))
            return Scale(float(rng.uniform(0.02, 0.12)), float(rng.uniform(10.0, 20.0)), float(rng.uniform(0.85, 0.96)), top, 1.0,
                         (0.0, 255.0), (0.15, 4.9), None if default is None else 101.0)
        if rng.random() < 0.4:
            # An absolute display: the share itself.
            return Scale(0.0, 0.0, 1.0, 100.0, 100.0 / 255.0, (0.0, 100.0), (0.2, 4.8), default)
        low, high = float(rng.uniform(0.08, 0.2)), float(rng.uniform(0.62, 0.92))
        if rng.random() < 0.2:
            low, high = 1.0 - low, 1.0 - high
        return Scale(low, 0.0, high, 100.0, 100.0 / 255.0, (0.0, 100.0), (0.2, 4.8), default)

    def _draw_until_it_matters(self, rng):
        up = rng.random() < 0.2
        if not self.active and self.scale.low_share == 0.0:
            # On an absolute display the stop itself reads 10 to 18 %.
            self.rest, self.other_end = float(rng.uniform(9.0, 18.0)), float(rng.uniform(75.0, 92.0))
        while True:
            healthy = Rail(
                supply_v=self.own_v, pull_v=self.own_v if up else 0.0,
                pull_ohm=float(np.exp(rng.uniform(np.log(8e3), np.log(3e5)))) if up else float(np.exp(rng.uniform(np.log(9e4), np.log(1e6)))),
                track_ohm=float(rng.uniform(500.0, 1500.0)) if self.active else float(np.exp(rng.uniform(np.log(1200.0), np.log(9000.0)))),
                wiper_ohm=float(rng.uniform(30.0, 400.0)), ground_v=float(rng.uniform(0.0, 0.02)),
                ratio_gain=1.0 + float(rng.normal(0.0, 0.004)), ratio_shift=float(rng.normal(0.0, 0.004)), value=self.rest)
            self.healthy, self.rail = healthy, self.kind.change(rng, healthy, self)
            if not self.kind.visible or self._off() >= SMALLEST_ERROR:
                return

    def _off(self):
        """Largest error of the number at both ends, as a share of the span."""
        span = self.scale.high - self.scale.low
        return max(abs(self._number(self._solve(replace(self.rail, value=value)), self.rail)
                       - self._number(self._solve(replace(self.healthy, value=value)), self.healthy)) / span
                   for value in ((self.rest, 45.0) if self.active else (self.rest, self.other_end)))

    def _complaints(self, rng):
        """Codes entered, this sensor's own first."""
        mine = self._own_code()
        return [mine] if mine else []

    def _own_code(self):
        low, high, implausible, intermittent = CODES[self.sensor]
        if self.kind.intermittent:
            return intermittent
        share = self._solve(self.rail)["pin"] / self.own_v
        return low if share < 0.04 else high if share > 0.96 else implausible

    # What the tool is told before the first test.

    def job_fields(self, known):
        """Keyword arguments that open a job; circuit is empty where nobody knows it."""
        circuit = {}
        if known:
            scale = self.scale
            circuit = {"reference_v": 5.0, "pull": "up" if self.healthy.pull_v else "down",
                       "line": {"unit": "kPa" if self.active else "percent",
                                "points": [[round(scale.low_share, 4), round(scale.low, 2)], [round(scale.high_share, 4), scale.high]]},
                       "low_limit_v": scale.limits[0], "high_limit_v": scale.limits[1]}
            if scale.default is not None:
                circuit["default"] = scale.default
        fields = {"complaint": self.complaints, "circuit": circuit,
                  "stand_in": {"kind": "potentiometer", "end_to_end_ohm": round(self.track * self.ohm_gain), "turns": 1}}
        told = self.rest if self.kind.told_rest is None else self.kind.told_rest(self)
        if self.active:
            fields["surroundings"] = {"value": round(told, 1), "unit": "kPa"}
        elif known:
            fields["surroundings"] = {"value": round(told), "unit": "percent"}
        return fields

    # Physics.

    def _solve(self, rail, *, plugged=True, divider=None, through=False, to="return", meter=()):
        """Volts of every node against battery negative, and of the module's pin against its own ground."""
        share = np.clip(rail.ratio_stuck if rail.ratio_stuck is not None
                        else self.scale.share(rail.value) * rail.ratio_gain + rail.ratio_shift, 0.0, 1.0)
        given = None
        for _ in range(4 if self.active and plugged else 1):
            net = self._net(rail, plugged, divider, through, to, meter, float(share), given)
            volts = net.volts()
            if self.active and plugged:
                given = float(share) * (volts["own_supply"] - volts["own_return"])
        volts["pin"] = volts["module_pin"] - volts["module_ground"] + rail.added_v
        return volts

    def _net(self, rail, plugged, divider, through, to, meter, share, given):
        net = Netlist("battery_negative")
        net.source("module_ground", "battery_negative", rail.ground_v)
        net.source("chassis", "battery_negative", 0.0)
        net.source("own_supply_rail", "module_ground", rail.supply_v)
        net.source("lifted", "module_ground", rail.lifted_v)
        net.source("pull", "module_ground", rail.pull_v)
        net.source("battery", "battery_negative", 12.6)
        net.source("other_5v", "module_ground", 5.0)
        net.resistor("module_pin", "pull", rail.pull_ohm)
        at_module = to == "module"
        self._to_plug(net, rail, at_module)
        net.resistor("module_pin", "plug_signal", 0.05 if at_module else rail.signal_ohm)
        if not at_module:
            for node, ohm in (("chassis", rail.leak_ground_ohm), ("battery", rail.leak_battery_ohm), ("other_5v", rail.leak_supply_ohm)):
                net.resistor("plug_signal", node, ohm)
        if plugged:
            self._sensor(net, rail, share, given)
        elif divider is not None:
            track, ratio, wiper = divider
            low = "chassis" if to == "chassis" else "plug_return"
            net.resistor("plug_supply", "tap", (1.0 - ratio) * track)
            net.resistor("tap", low, ratio * track + (CHASSIS_OHM if to == "chassis" else 0.0))
            net.resistor("tap", "plug_signal", wiper)
        elif through:
            net.resistor("plug_supply", "plug_signal", 5000.0)
        if meter:
            net.resistor(*meter, METER_OHM)
        return net

    def _to_plug(self, net, rail, at_module):
        """Supply and return from the module to the plug, or to its own pins."""
        net.resistor("own_supply_rail", "plug_supply", 0.05 if at_module else rail.supply_ohm)
        net.resistor("lifted", "plug_return", (0.05 if at_module else rail.return_ohm) + rail.module_return_ohm)

    def _sensor(self, net, rail, share, given):
        net.resistor("plug_supply", "own_supply", rail.contact_supply_ohm)
        net.resistor("plug_return", "own_return", rail.contact_return_ohm)
        net.resistor("own_supply", "own_return", rail.burden_ohm)
        if self.active:
            net.resistor("own_supply", "own_return", rail.track_ohm + rail.top_ohm)
            net.source("output", "own_return", 0.0 if given is None else given)
            net.resistor("output", "plug_signal", rail.wiper_ohm + rail.contact_signal_ohm)
            return
        net.resistor("own_supply", "track", rail.top_ohm + (1.0 - share) * rail.track_ohm)
        net.resistor("track", "own_return", rail.bottom_ohm + share * rail.track_ohm)
        net.resistor("track", "plug_signal", rail.wiper_ohm + rail.contact_signal_ohm)

    def _number(self, volts, rail):
        if rail.frozen is not None:
            return rail.frozen
        share = volts["pin"] / self.own_v if rail.dead_share is None else rail.dead_share
        return self.scale.shown(float(np.clip(share, 0.0, 1.0)), rail.gain)

    # What a test shows.

    def answer(self, test, ratio=None, times=0):
        """What the technician types, as keyword arguments of the job's record()."""
        rng = np.random.default_rng([self.number, zlib.crc32(test.encode()), int(1000 * (ratio or 0)), times])
        if test in EYES:
            chance = EYES[test].get(self.fault_id, EYES[test].get(self.location, FALSE_ALARM))
            return {"good": bool(rng.random() >= chance)}
        rail = self.rail if not self.kind.intermittent or rng.random() < SHOWS_ITSELF else self.healthy
        return getattr(self, "_" + test.replace("-", "_"))(rail, ratio, rng)

    def _typed(self, number):
        return {"shows": round(number, 1) if not self.active else number, "unit": "kPa" if self.active else "percent"}

    def _volts(self, names, rail, **hook):
        """What the meter shows between the points each of `names` says, laid on one pair after the other."""
        out = {}
        for name in names:
            high, low = POINTS[name]
            volts = self._solve(rail, meter=(high, low), **hook)
            out[name] = round((volts[high] - volts[low]) * self.volt_gain, 2)
        return out

    def _as_found(self, rail, ratio, rng):
        return self._typed(self._number(self._solve(rail), rail))

    def _other_stop(self, rail, ratio, rng):
        there = replace(rail, value=self.other_end)
        return {**self._typed(self._number(self._solve(there), there)), "at": {"value": round(self.other_end), "unit": "percent"}}

    def _signal_volts(self, rail, ratio, rng):
        return self._volts(("signal_to_return_v", "supply_to_return_v", "supply_to_battery_v"), rail)

    def _supply_volts(self, rail, ratio, rng):
        return self._volts(("supply_to_return_v", "supply_to_battery_v"), rail)

    def _loaded_supply(self, rail, ratio, rng):
        return self._volts(("supply_to_return_v", "supply_to_battery_v"), rail, plugged=False, divider=(self.track, 0.5, 1000.0))

    def _return_drop(self, rail, ratio, rng):
        return self._volts(("return_to_battery_v",), rail)

    def _unplugged(self, rail, ratio, rng):
        return self._typed(self._number(self._solve(rail, plugged=False), rail))

    def _plug_volts(self, rail, ratio, rng):
        return self._volts(("signal_to_battery_v", "signal_to_return_v", "supply_to_battery_v", "supply_to_return_v"), rail, plugged=False)

    def _feed_through(self, rail, ratio, rng):
        return self._typed(self._number(self._solve(rail, plugged=False, through=True), rail))

    def _dialled(self, rail, ratio, rng, to="return"):
        real = float(np.clip(ratio + rng.normal(0.0, 0.006), 0.001, 0.999))
        typed = round(real + float(rng.normal(0.0, 0.002)), 3)
        if self.mistake == "moved":
            real = float(np.clip(real + rng.choice([-1.0, 1.0]) * rng.uniform(0.08, 0.2), 0.01, 0.99))
        if self.mistake == "legs":
            real = 1.0 - real
        divider = (self.track, real, OPEN_OHM if self.mistake == "lead" else 1000.0)
        return {"ratio": typed, **self._typed(self._number(self._solve(rail, plugged=False, divider=divider, to=to), rail))}

    def _divide(self, rail, ratio, rng):
        return self._dialled(rail, ratio, rng)

    def _substitute_to_chassis(self, rail, ratio, rng):
        return self._dialled(rail, ratio, rng, "chassis")

    def _substitute_at_module(self, rail, ratio, rng):
        return self._dialled(rail, ratio, rng, "module")

    def _live_number(self, rail, ratio, rng):
        shown = [self._dialled(rail, step, rng)["shows"] for step in np.linspace(0.03, 0.97, 9)]
        if max(shown) - min(shown) < 0.5:
            return {"shows": "did-not-move"}
        return {"shows": [min(shown), max(shown)], "unit": "kPa" if self.active else "percent"}

    def _return_ohms(self, rail, ratio, rng):
        ohms = rail.return_ohm + rail.module_return_ohm + float(rng.uniform(0.0, 0.4))
        return {"ohms": "open" if ohms > 2e7 else float(f"{ohms * self.ohm_gain:.4g}")}

    def _barometer(self, rail, ratio, rng):
        there = replace(rail, value=self.rest)
        volts = self._solve(there, meter=("plug_signal", "plug_return"))
        return {**self._typed(self._number(volts, rail)), "at": {"value": round(self.rest + float(rng.normal(0.0, 0.3)), 1), "unit": "kPa"},
                **self._volts(("signal_to_return_v", "supply_to_return_v"), there)}
