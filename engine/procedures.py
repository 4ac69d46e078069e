"""Owns the tests: what each one connects and measures."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from engine.circuit import JOINED_OHM, OPEN_OHM
from engine.readings import VOLTS, Reading

ELEMENTS = ("none", "sensor", "open", "short", "stand-in", "divider", "feed-through")
MEASURES = ("shows", "sweep", "volts", "supply-volts", "return-volts", "current", "return-ohms", "sensor-ohms", "good")
# Between which points a test's one value lies, of all the volts it can carry.
MAIN_VOLTS = {"volts": "volts-return", "supply-volts": "supply-return", "return-volts": "return-battery"}
MIDDLE = dict.fromkeys(MAIN_VOLTS, 0.5)  # where a divider stands whose number is not read
STATES = ("plugged-key-on", "unplugged-key-on", "unplugged-key-off", "module-key-on")
# An ammeter with its fuse (common practice, no source).
AMMETER_OHM = 1.5
# The sweep's low end: about one twentieth of the total (common practice, no source).
SWEEP_SHARE = 20.0
# Currents are compared by ratio, small ones and either direction too: arcsinh of the current over this [mA].
MA_FLOOR = 0.04


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
