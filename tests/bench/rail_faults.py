"""The faults of the three-wire bench: what each changes, how likely it is here, and how often an eye or hand sees it."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

OPEN_OHM = 1e10
FALSE_ALARM = 0.015


@dataclass(frozen=True)
class Kind:
    """One fault: location, weight, change(rng, rail, vehicle) -> rail; `told_rest` is what the tool is told of the value."""

    location: str
    weight: float
    change: Callable
    visible: bool = True
    intermittent: bool = False
    mistake: str | None = None
    only: str = ""
    told_rest: Callable | None = None


def _log(rng, low, high):
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def _set(**ranges):
    """A change that draws each named field log-uniformly."""
    return lambda rng, rail, vehicle: replace(rail, **{name: _log(rng, *ends) if isinstance(ends, tuple) else ends
                                                       for name, ends in ranges.items()})


def _shift(rng, rail, vehicle):
    return replace(rail, ratio_shift=rail.ratio_shift + rng.choice([-1.0, 1.0]) * float(rng.uniform(0.05, 0.3)))


def _gain(rng, rail, vehicle):
    return replace(rail, ratio_gain=rail.ratio_gain * (_log(rng, 1.25, 2.0) if rng.random() < 0.4 else _log(rng, 0.4, 0.8)))


def _stuck(rng, rail, vehicle):
    return replace(rail, ratio_stuck=float(rng.choice([0.0, 1.0, rng.uniform(0.05, 0.95)])))


def _dragged(rng, rail, vehicle):
    return replace(rail, supply_v=rail.supply_v * float(rng.uniform(0.05, 0.88)))


def _fed(rng, rail, vehicle):
    return replace(rail, supply_v=rail.supply_v * float(rng.uniform(1.12, 2.2)))


def _burden(rng, rail, vehicle):
    # A rail behind a regulator that gives in: its volts fall with what the sensor draws.
    return replace(rail, burden_ohm=_log(rng, 1.0, 60.0), supply_ohm=rail.supply_ohm + 25.0)


def _dead(rng, rail, vehicle):
    return replace(rail, dead_share=float(rng.choice([0.0, 1.0, rng.uniform(0.0, 1.0)])))


def _coded(rng, rail, vehicle):
    return replace(rail, gain=_log(rng, 1.2, 2.2) if rng.random() < 0.5 else _log(rng, 0.45, 0.82))


def _frozen(rng, rail, vehicle):
    low, high = vehicle.scale.ends
    while True:
        frozen = float(round(rng.uniform(low, high)))
        if abs(frozen - vehicle.rest) > 0.08 * (high - low):
            return replace(rail, frozen=frozen)


def _ground(rng, rail, vehicle):
    return replace(rail, ground_v=_log(rng, 0.15, 1.0))


def _truly(rng, rail, vehicle):
    away = -float(rng.uniform(25.0, 65.0)) if vehicle.active else float(rng.uniform(12.0, 60.0))
    vehicle.rest = vehicle.rest + away
    return replace(rail, value=vehicle.rest)


def _usual(vehicle):
    """What the tool is told of the value at rest although it really is another."""
    return 99.0 if vehicle.active else 12.0 if vehicle.scale.low_share == 0.0 else 0.0


def _same(rng, rail, vehicle):
    return rail


KINDS = {
    "sensor-worn": Kind("sensor", 8, _set(wiper_ohm=(3e5, 1e9)), intermittent=True, only="track"),
    "sensor-wiper-open": Kind("sensor", 3, _set(wiper_ohm=OPEN_OHM), only="track"),
    "sensor-top-open": Kind("sensor", 2, _set(top_ohm=OPEN_OHM), only="track"),
    "sensor-bottom-open": Kind("sensor", 2, _set(bottom_ohm=OPEN_OHM), only="track"),
    "sensor-shifted": Kind("sensor", 7, _shift),
    "sensor-other-part": Kind("sensor", 5, _gain),
    "sensor-stuck": Kind("sensor", 5, _stuck),
    "sensor-burdens": Kind("sensor", 2, _burden),
    "plug-signal": Kind("plug", 5, _set(contact_signal_ohm=(5e4, 1e10))),
    "plug-supply": Kind("plug", 6, _set(contact_supply_ohm=(80.0, 1e9))),
    "plug-return": Kind("plug", 6, _set(contact_return_ohm=(80.0, 1e9))),
    "plug-intermittent": Kind("plug", 3, _set(contact_supply_ohm=(1e6, 1e9)), intermittent=True),
    "signal-open": Kind("signal", 5, _set(signal_ohm=OPEN_OHM)),
    "signal-ground": Kind("signal", 4, _set(leak_ground_ohm=(0.5, 3000.0))),
    "signal-battery": Kind("signal", 2, _set(leak_battery_ohm=(0.5, 8000.0))),
    "signal-supply": Kind("signal", 2, _set(leak_supply_ohm=(0.5, 4000.0))),
    "signal-intermittent": Kind("signal", 2, _set(signal_ohm=OPEN_OHM), intermittent=True),
    "return-open": Kind("return", 5, _set(return_ohm=OPEN_OHM)),
    "return-ohms": Kind("return", 6, _set(return_ohm=(60.0, 40000.0))),
    "return-lifted": Kind("return", 2, _set(lifted_v=(0.3, 1.2))),
    "return-intermittent": Kind("return", 2, _set(return_ohm=OPEN_OHM), intermittent=True),
    "supply-open": Kind("supply", 4, _set(supply_ohm=OPEN_OHM)),
    "supply-ohms": Kind("supply", 4, _set(supply_ohm=(60.0, 40000.0))),
    "supply-dragged": Kind("supply", 5, _dragged),
    "supply-fed": Kind("supply", 1, _fed),
    "module-dead": Kind("module", 2, _dead),
    "module-coded": Kind("module", 2, _coded),
    "module-frozen": Kind("module", 3, _frozen, visible=False),
    "module-ground": Kind("module", 1, _ground, visible=False),
    "none": Kind("none", 5, _truly, visible=False, told_rest=_usual),
    "set-up-legs": Kind("set-up", 2, _same, visible=False, mistake="legs"),
    "set-up-lead": Kind("set-up", 1, _same, visible=False, mistake="lead"),
    "set-up-moved": Kind("set-up", 1, _same, visible=False, mistake="moved"),
}

EYES = {
    "look": {"plug": 0.35, "signal": 0.2, "return": 0.12, "supply-open": 0.12, "supply-ohms": 0.1},
    "terminal-fit": {"plug": 0.7},
    "module-feeds": {"module-ground": 0.95, "supply-dragged": 0.25, "supply-fed": 0.3},
    "wiggle": {"signal-intermittent": 0.6, "return-intermittent": 0.6, "plug-intermittent": 0.25},
    "load-switching": {"return-lifted": 0.9, "module-ground": 0.8},
    "find-pins": {"supply-open": 0.95, "supply-ohms": 0.4, "supply-dragged": 0.6, "supply-fed": 0.9, "return-open": 0.9,
                  "return-ohms": 0.35, "return-lifted": 0.3, "signal-battery": 0.6, "signal-supply": 0.4},
    "check-set-up": {"set-up-legs": 0.85, "set-up-lead": 0.85, "set-up-moved": 0.6},
    "second-reader": {},
    "plugged-again": {"plug": 0.4, "sensor-worn": 0.3, "signal-intermittent": 0.3, "return-intermittent": 0.3},
    "sensor-sweep": {"sensor-worn": 0.92, "sensor-wiper-open": 0.97, "sensor-top-open": 0.97, "sensor-bottom-open": 0.97,
                     "sensor-shifted": 0.8, "sensor-other-part": 0.75, "sensor-stuck": 0.95, "sensor-burdens": 0.8},
    "unplug-others": {"supply-dragged": 0.93, "return-lifted": 0.3, "supply-fed": 0.3},
    "track-agreement": {"sensor-worn": 0.8, "sensor-wiper-open": 0.95, "sensor-top-open": 0.95, "sensor-bottom-open": 0.95,
                        "sensor-shifted": 0.7, "sensor-other-part": 0.8, "sensor-stuck": 0.6},
}


def draw_fault(rng, active):
    """One fault id, by the bench's own weights; those of a track only where there is one."""
    ids = [name for name, kind in KINDS.items() if not (active and kind.only == "track")]
    weights = np.array([KINDS[name].weight for name in ids], float)
    return ids[int(rng.choice(len(ids), p=weights / weights.sum()))]
