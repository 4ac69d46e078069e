"""One simulated vehicle with a battery-fed gauge and one fault: its needle, its meter and its technician, by a netlist.

Three gauges that share nothing with the tool: a thermal one follows the current of its coil, a balanced one the ratio of
two coils' currents, an electronic one the share of its own feed. Families are published ones bent by a few percent,
or nobody's.
"""

import zlib
from dataclasses import dataclass, field, replace

import numpy as np

from .netlist import Netlist

KINDS = {"fuel-level-gauge": "needle-wrong-fuel", "coolant-temperature-gauge": "needle-wrong-temperature",
         "oil-pressure-gauge": "needle-wrong-oil"}
FAMILIES = {"fuel-level-gauge": ((240, 103, 33), (0.5, 45, 90), (73, 23, 10), (10, 95, 180), (16, 87, 158), (250, 145, 40), (105, 55, 5)),
            "coolant-temperature-gauge": ((291, 70, 22), (322, 62, 19), (1305, 207, 50), (73, 23, 10)),
            "oil-pressure-gauge": ((10, 95, 180), (240, 136, 33), (3, 82, 160), (73, 23, 10))}
NOBODYS = 0.15
WRONG_FROM = 14.0
INF = float("inf")
# Fault -> location, chance, the wiring's field it changes and the range it does so in (by ratio where both are above 0).
FAULTS = {
    "sensor-open": ("sensor", 7, "sensor_series", (1e7, 1e9)), "sensor-worn": ("sensor", 6, "sensor_series", (15, 2000)),
    "sensor-shorted": ("sensor", 4, "sensor_beside", (0.1, 1.5)), "sensor-stuck": ("sensor", 10, "stuck_at", (1, 99)),
    "sensor-other-family": ("sensor", 6, "other_family", (0, 1)), "sensor-dead-spot": ("sensor", 4, "sensor_series", (1e5, 1e9)),
    "plug-contact": ("plug", 8, "contact", (8, 3000)), "plug-open": ("plug", 7, "contact", (1e7, 1e9)),
    "plug-intermittent": ("plug", 4, "contact", (1e5, 1e9)),
    "signal-open": ("signal", 6, "wire", (1e7, 1e9)), "signal-ohms": ("signal", 4, "wire", (8, 1500)),
    "signal-to-ground": ("signal", 5, "ground_leak", (0.2, 150)), "signal-to-battery": ("signal", 2, "battery_leak", (1, 200)),
    "signal-intermittent": ("signal", 2, "wire", (1e5, 1e9)),
    "return-poor": ("return", 9, "ground_wire", (5, 1500)), "return-open": ("return", 6, "ground_wire", (1e7, 1e9)),
    "return-raised": ("return", 2, "ground_lift_v", (1.0, 4.0)),
    "supply-missing": ("supply", 4, "feed", (0.01, 0.15)), "supply-low": ("supply", 3, "feed", (0.45, 0.85)),
    "supply-high": ("supply", 4, "feed", (1.2, 1.6)),
    "module-coil-open": ("module", 3, "coil", (100, 1e5)), "module-stuck": ("module", 5, "stuck_needle", (-5, 105)),
    "module-off-by": ("module", 3, "off_by", (15, 40)), "module-ground": ("module", 3, "cluster_ground_v", (1.0, 5.0)),
    "module-flips": ("module", 2, "flips_at", (20, 80)),
    "none": ("none", 8, "", (0, 1)), "set-up-too-soon": ("set-up", 2, "too_soon", (0.1, 0.5)),
    "set-up-beside": ("set-up", 2, "beside", (0, 1)),
}
INTERMITTENT = ("sensor-dead-spot", "plug-intermittent", "signal-intermittent")
UNSEEN = (*INTERMITTENT, "none", "set-up-too-soon", "set-up-beside")
SHARED = ("supply-missing", "supply-low", "supply-high", "module-ground")
EYE = {"look": {"plug-contact": 0.4, "plug-open": 0.45, "plug-intermittent": 0.25, "signal-open": 0.15, "signal-to-ground": 0.2,
                "return-poor": 0.3, "return-open": 0.35},
       "terminal-fit": {"plug-contact": 0.9, "plug-open": 0.9, "plug-intermittent": 0.5},
       "module-feeds": {"supply-missing": 1.0, "supply-low": 0.9, "supply-high": 0.9}, "cluster-ground": {"module-ground": 0.95},
       "wiggle": {"signal-intermittent": 0.65, "plug-intermittent": 0.3},
       "load-switching": {"return-raised": 0.9, "module-ground": 0.6},
       "check-set-up": {"set-up-too-soon": 0.5, "set-up-beside": 0.7},
       "plugged-again": {"plug-contact": 0.45, "plug-open": 0.45, "plug-intermittent": 0.5, "signal-intermittent": 0.3,
                         "sensor-dead-spot": 0.3, "return-poor": 0.2, "return-open": 0.2},
       "other-gauge": dict.fromkeys(SHARED, 0.8)}
FALSE_ALARM, SHOWS_ITSELF = 0.03, 0.3


@dataclass(frozen=True)
class Wiring:
    """What may be wrong; the defaults are in order (ohms, volts, shares)."""

    sensor_series: float = 0.0
    sensor_beside: float = INF
    stuck_at: float | None = None
    other_family: bool = False
    contact: float = 0.05
    wire: float = 0.25
    ground_leak: float = INF
    battery_leak: float = INF
    ground_wire: float = 0.2
    ground_lift_v: float = 0.0
    feed: float = 1.0
    coil: float = 1.0
    stuck_needle: float | None = None
    off_by: float = 0.0
    cluster_ground_v: float = 0.0
    flips_at: float | None = None
    too_soon: float | None = None
    beside: bool = False


@dataclass(frozen=True)
class Gauge:
    """How a needle comes about: `law` thermal, balanced or electronic, coils [ohm], nominal feed [V], family."""

    law: str
    family: tuple
    coil: float
    second_coil: float
    feed_v: float
    calibration: float

    def percent(self, ohm):
        """Where the needle stands for `ohm` of sender, straight between low end, middle and high end."""
        low, middle, high = self.family
        way = 1.0 if high > low else -1.0
        if way * (ohm - low) < 0 or way * (ohm - high) > 0:
            # Beyond an end the needle goes on by the ratio of ohms, as far as its peg.
            end, at = (low, 0.0) if way * (ohm - low) < 0 else (high, 100.0)
            return float(np.clip(at + (1 if at else -1) * 25.0 * abs(np.log(max(ohm, 1e-3) / end)), -15.0, 115.0))
        return float(np.interp(way * ohm, [way * low, way * middle, way * high], [0.0, 50.0, 100.0]))

    def ohm(self, percent):
        """The sender's ohms at `percent`."""
        return float(np.interp(percent, [0.0, 50.0, 100.0], self.family))


@dataclass
class GaugeVehicle:
    """A vehicle of a given number: the number fixes everything about it, fault and answers included."""

    number: int
    fault_id: str | None = None
    law: str | None = None
    steps: list = field(default_factory=list)

    def __post_init__(self):
        rng = np.random.default_rng([self.number, 4211])
        self.sensor = str(rng.choice(list(KINDS)))
        self._read_by = str(rng.choice(["eighths", "segments", "percent"]))
        chances = np.array([row[1] for row in FAULTS.values()], float)
        self.fault_id = self.fault_id or str(rng.choice(list(FAULTS), p=chances / chances.sum()))
        self.location, _, changed, span = FAULTS[self.fault_id]
        while True:
            self.gauge = self._draw_gauge(rng)
            self.true = float(rng.uniform(8.0, 92.0))
            self.tolerance = float(rng.normal(1.0, 0.03))
            self.other = tuple(FAMILIES[self.sensor][rng.integers(len(FAMILIES[self.sensor]))])
            self.wiring = self._draw_fault(rng, changed, span)
            if self.fault_id in UNSEEN or abs(self._needle(self.wiring) - self.true) >= WRONG_FROM:
                break
        self.told_level = round(self.true + float(rng.normal(0.0, 6.0))) if rng.random() < 0.7 and self.fault_id != "none" else None
        self.two_complaints = self.fault_id in SHARED and rng.random() < 0.5
        self.comes_and_goes = self.fault_id in INTERMITTENT and rng.random() < 0.75
        self.battery_v = float(rng.uniform(12.0, 12.8))

    def _draw_gauge(self, rng):
        law = self.law or str(rng.choice(["thermal", "balanced", "electronic"]))
        if rng.random() < NOBODYS:
            ends = np.exp(rng.uniform(np.log([5.0, 90.0]), np.log([30.0, 400.0])))
            middle = float(np.exp(rng.uniform(0.45, 0.6) * np.log(ends[1] / ends[0]) + np.log(ends[0])))
            family = (float(ends[0]), middle, float(ends[1]))
            family = family if rng.random() < 0.5 else family[::-1]
        else:
            family = tuple(np.array(FAMILIES[self.sensor][rng.integers(len(FAMILIES[self.sensor]))], float) * rng.normal(1.0, 0.02))
        if law == "thermal" and family[2] > family[0]:
            # Heat moves it up: without current it lies low, so its senders' ohms fall.
            family = family[::-1]
        coil = {"thermal": rng.uniform(13, 60), "balanced": rng.uniform(40, 150), "electronic": rng.uniform(100, 500)}[law]
        feed_v = {"thermal": float(rng.choice([10.0, 12.5])), "balanced": 12.5, "electronic": float(rng.choice([5.0, 8.0, 12.5]))}[law]
        return Gauge(law, family, float(coil), float(rng.uniform(60, 200)), feed_v, float(rng.normal(0.0, 2.5)))

    def _draw_fault(self, rng, changed, span):
        if not changed:
            return Wiring()
        low, high = span
        value = low * (high / low) ** rng.random() if low > 0 else rng.uniform(low, high)
        if changed == "off_by" and rng.random() < 0.5:
            value = -value
        return replace(Wiring(), **{changed: True if changed in ("other_family", "beside") else float(value)})

    # The circuit.

    def _sender_ohm(self, wiring):
        level = wiring.stuck_at if wiring.stuck_at is not None else self.true
        own = float(np.interp(level, [0, 50, 100], self.other)) if wiring.other_family else self.gauge.ohm(level)
        own = own * self.tolerance + wiring.sensor_series
        return own if wiring.sensor_beside == INF else own * wiring.sensor_beside / (own + wiring.sensor_beside)

    def _volts(self, wiring, on="sensor", ohm=None, to="ground_wire", meter=False):
        """Node volts against battery negative; `on` the wire is the sensor, an element of `ohm`, or nothing."""
        gauge, net = self.gauge, Netlist("negative")
        net.source("battery", "negative", getattr(self, "battery_v", 12.5))
        net.source("feed", "negative", gauge.feed_v * wiring.feed)
        net.source("cluster", "negative", wiring.cluster_ground_v)
        net.source("lift", "negative", wiring.ground_lift_v)
        net.resistor("feed", "pin", gauge.coil * wiring.coil)
        if gauge.law == "balanced":
            net.resistor("pin", "cluster", gauge.second_coil)
        if to != "module":
            net.resistor("pin", "wire", wiring.wire)
            net.resistor("wire", "negative", wiring.ground_leak)
            net.resistor("wire", "battery", wiring.battery_leak)
        net.resistor("lift", "ground_wire", wiring.ground_wire)
        if on == "sensor" or (wiring.beside and on == "stand-in" and to != "module"):
            net.resistor("wire", "sender", wiring.contact)
            net.resistor("sender", "ground_wire", self._sender_ohm(wiring))
        if on in ("stand-in", "short"):
            net.resistor("pin" if to == "module" else "wire", {"ground_wire": "ground_wire", "module": "cluster"}.get(to, "negative"), ohm)
        if meter:
            net.resistor("wire", "ground_wire", 1e7)
        return net.volts()

    def _needle(self, wiring, **put):
        """Where the needle comes to rest [percent]."""
        if wiring.stuck_needle is not None:
            return wiring.stuck_needle
        gauge, volts = self.gauge, self._volts(wiring, **put)
        drop = volts["feed"] - volts["pin"]
        if gauge.law == "thermal":
            current = drop / (gauge.coil * wiring.coil)
            believed = gauge.feed_v / max(current, 1e-6) - gauge.coil
        elif gauge.law == "balanced":
            first, second = drop / (gauge.coil * wiring.coil), (volts["pin"] - volts["cluster"]) / gauge.second_coil
            believed = gauge.second_coil / max(first / max(second, 1e-9) - 1.0, 1e-6) if first > 1e-3 else INF
        else:
            own = volts["feed"] - volts["cluster"]
            seen = (volts["pin"] - volts["cluster"]) / max(own, 1e-6)
            believed = gauge.coil * seen / max(1.0 - seen, 1e-6) if wiring.feed > 0.4 else INF
        stands = gauge.percent(min(max(believed, 1e-3), 1e9)) + gauge.calibration + wiring.off_by
        if wiring.feed <= 0.4 and gauge.law != "thermal":
            return -10.0
        if wiring.flips_at is not None:
            stands = 112.0 if stands > wiring.flips_at else -12.0
        return float(np.clip(stands, -12.0, 112.0))

    # The job and its tests.

    def job_fields(self, known):
        """Keyword arguments that open a job: the gauge's family and coil where known."""
        low, middle, high = self.gauge.family
        told = {"curve": {"quantity": "level", "unit": "percent", "points": [[0, low], [50, middle], [100, high]]}}
        if self.gauge.law == "thermal":
            told["pull_up_ohm"] = self.gauge.coil
        complaints = ["needle-jumps" if self.comes_and_goes else KINDS[self.sensor]] + [next(c for s, c in KINDS.items() if s != self.sensor)] * self.two_complaints
        return {"complaint": complaints, "circuit": told if known else {},
                "stand_in": {"kind": "fixed", "series": "E12", "low_ohm": 4.7, "high_ohm": 1000, "watts": 5},
                "surroundings": None if self.told_level is None else {"value": self.told_level, "unit": "percent"}}

    def answer(self, test, ohm=None, times=0):
        """What the technician types after a test done `times` before."""
        rng = np.random.default_rng([self.number, zlib.crc32(test.encode()), int(ohm or 0), times])
        wiring = self.wiring
        if self.fault_id in INTERMITTENT and rng.random() > SHOWS_ITSELF:
            wiring = Wiring()
        if test in EYE:
            return {"good": bool(rng.random() >= EYE[test].get(self.fault_id, FALSE_ALARM))}
        if test in ("as-found", "unplugged", "shorted"):
            put = {"as-found": {}, "unplugged": {"on": "none"}, "shorted": {"on": "short", "ohm": 0.1}}[test]
            return self._typed(wiring, put, rng)
        if test.startswith("substitute"):
            to = {"substitute-to-chassis": "negative", "substitute-at-module": "module"}.get(test, "ground_wire")
            real = ohm * float(rng.normal(1.0, 0.005)) + 0.2
            shown = self._typed(wiring, {"on": "stand-in", "ohm": real, "to": to}, rng)
            return shown if test == "substitute-sensor-ohms" and ohm is None else {"ohm": float(f"{ohm:.4g}"), **shown}
        if test == "plug-volts":
            volts = self._volts(wiring, on="none", meter=True)
            return {"signal_to_return_v": round((volts["wire"] - volts["ground_wire"]) * float(rng.normal(1.0, 0.003)), 2)}
        ohms = wiring.ground_wire + 0.2 if test == "return-ohms" else self._sender_ohm(wiring)
        typed = {"ohms": "open" if ohms > 2e7 else round(ohms * float(rng.normal(1.0, 0.003)) + 0.1 * float(rng.random()), 1)}
        if test == "sensor-ohms" and self.told_level is not None:
            typed["at"] = {"value": self.told_level, "unit": "percent"}
        return typed

    def _typed(self, wiring, put, rng):
        stands = self._needle(wiring, **put)
        if wiring.too_soon is not None and put.get("on"):
            before = self._needle(wiring)
            stands = before + wiring.too_soon * (stands - before)
        stands += float(rng.normal(0.0, 1.5))
        if stands < -4.0 or stands > 104.0:
            return {"shows": "below E" if stands < 0 else "above F"}
        if self._read_by == "percent":
            return {"shows": float(min(max(round(stands), 0), 100)), "unit": "percent"}
        steps = 8
        count = min(max(round(stands / 100.0 * steps), 0), steps)
        if self._read_by == "segments":
            return {"shows": f"{count} of {steps}"}
        return {"shows": {0: "E", steps: "F"}.get(count, f"{count}/{steps}")}
