"""Whether a job that ended without a find was rightly left there: whether no offered test splits what is left.

The bench takes the tool's surviving faults at other locations, builds a vehicle with each at the tool's estimate, lets
its tolerances and severity move until it answers every reading so far as the true vehicle did, and then compares what
every test still offered would show on both. Only if no answer differs by more than its own noise, for any survivor
that fits, was the true location out of reach. A survivor that cannot be made to fit should have been ruled out.
"""

import math
from dataclasses import replace

import numpy as np
from scipy.optimize import least_squares
from scipy.special import ndtr

from .eyes import EYE, MINUTES, bad_chance
from .thermistor import RisingSensor
from .vehicle import STAND_IN_ENDS

SURVIVES_ABOVE, MOST_SURVIVORS = 0.005, 6
FITS_WITHIN = 3.5
EYE_SPLITS_FROM = 0.2
DIAL_AT_C = (0.0, 20.0, 50.0, 80.0, 110.0)
NOISE_C, NOISE_AT_C, NOISE_V, NOISE_OHM, NOISE_SHARE = 0.8, 1.0, 0.015, 0.5, 0.009
MOVES_FROM_C = 2.5
# How many standard deviations apart two words count, or a word and a number.
WORDS_APART = 20.0
# Standard deviations of a part within tolerance; without a circuit told, of what nobody knows.
TOLD = {"pull_up": 0.012, "curve": 1e-3, "beta": 1e-3, "bend": 500.0}
UNTOLD = {"pull_up": 0.85, "curve": 0.7, "beta": 0.08, "bend": 52000.0}
SENSOR_SD, SENSOR_C_SD, SUPPLY_SD = 0.022, 1.5, 0.008
# Families of thermistors differ in beta by about so much (the spread of the bench's own).
FAMILY_BETA_K = 220.0
# Unknowns beside the severity, and steps a fit is given.
PARTS, MOST_STEPS = 8, 60

# The tool's effect -> what a severity makes of (wiring, module).
EFFECTS = {
    "none": lambda w, m, s: (w, m),
    "sensor-series-ohm": lambda w, m, s: (replace(w, sensor_series_ohm=s), m),
    "sensor-parallel-ohm": lambda w, m, s: (replace(w, sensor_parallel_ohm=s), m),
    "sensor-factor": lambda w, m, s: (replace(w, sensor=_scaled(w.sensor, s)), m),
    "sensor-wrong-curve": lambda w, m, s: (replace(w, sensor=_scaled(w.sensor, s)), m),
    "sensor-rising": lambda w, m, s: (replace(w, sensor=RisingSensor(s, 0.0055)), m),
    "sensor-self-heating": lambda w, m, s: (replace(w, self_heating_k=s), m),
    "plug-series-ohm": lambda w, m, s: (replace(w, contact_ohm=s), m),
    "plug-leak-ohm": lambda w, m, s: (replace(w, plug_leak_ohm=s), m),
    "signal-series-ohm": lambda w, m, s: (replace(w, signal_ohm=s), m),
    "signal-leak-ground-ohm": lambda w, m, s: (replace(w, ground_leak_ohm=s), m),
    "signal-leak-battery-ohm": lambda w, m, s: (replace(w, battery_leak_ohm=s), m),
    "signal-leak-supply-ohm": lambda w, m, s: (replace(w, feeds=((5.0, s),)), m),
    "return-series-ohm": lambda w, m, s: (replace(w, return_ohm=s), m),
    "return-raised-v": lambda w, m, s: (replace(w, return_raised_v=s), m),
    "input-ohm-factor": lambda w, m, s: (replace(w, pull_up_ohm=w.pull_up_ohm * s), m),
    "input-offset-v": lambda w, m, s: (replace(w, input_offset_v=s), m),
    "module-curve-factor": lambda w, m, s: (w, replace(m, curve=_scaled(m.curve, s))),
    "module-ground-v": lambda w, m, s: (replace(w, module_ground_v=s), m),
    "supply-factor": lambda w, m, s: (replace(w, supply_v=w.supply_v * s), m),
    "supply-low-factor": lambda w, m, s: (replace(w, supply_v=w.supply_v * s), m),
    "reading-frozen": lambda w, m, s: (replace(w, frozen_c=s), m),
    "temperature-true": lambda w, m, s: (replace(w, sensor_c=w.sensor_c + s), m),
    "unit-mistaken": lambda w, m, s: (w, m),
    "kilohm-mistaken": lambda w, m, s: (w, m),
    "stand-in-beside": lambda w, m, s: (w, m),
}
MISTAKES = {"unit-mistaken": "wrong-unit", "kilohm-mistaken": "ohm-for-kilohm", "stand-in-beside": "beside-sensor"}


def judged(vehicle, job, verdict, known):
    """'rightly', or in a few words why the job was not rightly left: which test splits, or what should be ruled out."""
    if vehicle.location not in verdict.group:
        return "the true location is not among those left"
    kinds = {kind.id: kind for kind in job.faults}
    survivors = [fault for fault in verdict.faults if fault.location != vehicle.location and fault.p > SURVIVES_ABOVE]
    survivors = [fault for fault in survivors if kinds[fault.id].effect in EFFECTS][:MOST_SURVIVORS]
    if not survivors:
        return "nothing is left at another location"
    readings = [reading.to_dict() for reading in job.readings]
    for fault in survivors:
        suspect = Suspect(vehicle, kinds[fault.id], fault.estimate, known)
        if suspect.answering(readings) is not None:
            test = splitting_test(suspect, readings, job)
            return "rightly" if test is None else f"{test} splits it"
    return "what is left does not fit the readings"


class Suspect:
    """A fault `kind` the tool has left, to be tried in the vehicle's place; estimate is the tool's own (low, mid, high)
    of its severity, where to start from."""

    def __init__(self, vehicle, kind, estimate, known):
        self.vehicle, self.kind, self.spreads = vehicle, kind, TOLD if known else UNTOLD
        graded = kind.severity_low is not None and not kind.intermittent
        self.low, self.high = (kind.severity_low, kind.severity_high) if graded else (0.0, 1.0)
        start = min(max(estimate.mid, self.low), self.high) if graded and estimate else (self.low + self.high) / 2.0
        self.shares = tuple(dict.fromkeys((round(_share(self.low, self.high, start), 6), 0.5)))

    def answering(self, readings):
        """A vehicle with this fault that answers `readings`, as they were typed, within their noise; else None."""

        def misses(x):
            states = (self._built(x), self._broken(x)) if self.kind.intermittent else (self._built(x),)
            return np.concatenate([x[1:], _misses(states, readings)])

        bounds = ([0.0] + [-4.0] * PARTS, [1.0] + [4.0] * PARTS)
        # Where nobody told the input resistor the valley is long: from one side of it the other is not found.
        for pull_up in (0.0,) if self.spreads is TOLD else (0.0, 0.7, -0.7):
            for share in self.shares:
                first = np.array([min(max(share, 1e-3), 1.0 - 1e-3), pull_up] + [0.0] * (PARTS - 1))
                found = least_squares(misses, first, bounds=bounds, diff_step=2e-3, max_nfev=MOST_STEPS)
                if np.abs(misses(found.x)).max() <= FITS_WITHIN:
                    return self._built(found.x)
        return None

    def _built(self, x):
        return _built(self.vehicle, self.kind, _graded(self.low, self.high, x[0]), x[1:], self.spreads)

    def _broken(self, x):
        """At the moments when a fault that comes and goes is there, at its worst."""
        there = replace(self.kind, intermittent=False)
        return _built(self.vehicle, there, self.kind.severity_high or 1.0, x[1:], self.spreads)


def splitting_test(suspect, readings, job):
    """Id of a test still offered whose answer on the true vehicle the suspect could not give as well, or None.

    What the suspect would answer is not fixed: its severity and tolerances may move to meet the new answer too.
    """
    truth, other = _still_truth(suspect.vehicle), suspect.answering(readings)
    done = {reading["test"] for reading in readings}
    for test in sorted({kind.id for kind in job.tests} & set(MINUTES)):
        # A test without settings is offered once: where it was done, both vehicles have met its answer.
        if test in done and test not in STAND_IN_ENDS:
            continue
        if test in EYE:
            chances = [bad_chance(test, truth.fault_id, truth.location),
                       bad_chance(test, suspect.kind.id, suspect.kind.location)]
            if abs(chances[0] - chances[1]) > EYE_SPLITS_FROM:
                return test
            continue
        if test == "substitute-sensor-ohms" and "sensor-ohms" not in done:
            continue
        for ohm in _settings(truth, job) if test in STAND_IN_ENDS else (None,):
            answer = truth.answer(test, ohm)
            if _worst_miss(other.answer(test, ohm), answer) > 2.0 * 2.0**0.5:
                if suspect.answering([*readings, {"test": test, "ohm": ohm, **answer}]) is None:
                    return test
    return None


def _settings(truth, job):
    """Ohms a stand-in might be brought to: those of a few temperatures, as far as it reaches."""
    reach_ohm = job.stand_in.end_to_end_ohm or math.inf
    return [ohm for ohm in (truth.told.curve.ohm(at_c) for at_c in DIAL_AT_C) if 10.0 < ohm <= reach_ohm]


def _still_truth(vehicle):
    """The true vehicle without errors; one whose fault comes and goes as it mostly is."""
    wiring = vehicle.healthy if vehicle.kind.intermittent else vehicle.wiring
    return vehicle.still(wiring, vehicle.module, vehicle.mistake)


def _built(vehicle, kind, grade, x, spreads):
    """The vehicle with another fault: x are its parts' deviations in standard deviations, the seventh grades what goes
    with the fault: the second severity of a pair, or the beta of another family."""
    told, base = vehicle.told, vehicle.healthy
    pull_up, curve, beta = (math.exp(x[i] * spreads[name]) for i, name in enumerate(("pull_up", "curve", "beta")))
    # Told, the resistor strays from what the module believes; untold, nobody knows what it believes.
    nominal = told.nominal_pull_up_ohm * (pull_up if spreads is UNTOLD else 1.0)
    law = replace(told.curve, ohm_at_25=told.curve.ohm_at_25 * curve, beta_k=told.curve.beta_k * beta,
                  bend_k2=told.curve.bend_k2 + spreads["bend"] * x[7])
    module = replace(told, nominal_pull_up_ohm=nominal, curve=law)
    wiring = replace(base, pull_up_ohm=told.nominal_pull_up_ohm * pull_up,
                     sensor=_scaled(law, math.exp(SENSOR_SD * x[3])),
                     sensor_c=vehicle.surroundings_c + SENSOR_C_SD * x[4],
                     supply_v=base.reference_v * (1.0 + SUPPLY_SD * x[5]))
    if kind.intermittent:
        return vehicle.still(wiring, module, MISTAKES.get(kind.effect))
    wiring, module = EFFECTS[kind.effect](wiring, module, grade)
    if kind.effect == "sensor-wrong-curve":
        wiring = replace(wiring, sensor=_turned(wiring.sensor, x[6]))
    elif kind.effect == "module-curve-factor":
        module = replace(module, curve=_turned(module.curve, x[6]))
    if kind.also is not None and kind.also[0] in EFFECTS:
        wiring, module = EFFECTS[kind.also[0]](wiring, module, _graded(kind.also[1], kind.also[2], float(ndtr(x[6]))))
    return vehicle.still(wiring, module, MISTAKES.get(kind.effect))


def _misses(states, readings):
    """How far the vehicle's answers lie from the readings, in standard deviations; each in the state nearest to it."""
    out = []
    for reading in readings:
        if reading["test"] not in EYE:
            each = [field_misses(_again(state, reading), reading) for state in states]
            out += min(each, key=lambda misses: sum(miss * miss for miss in misses))
    return np.array(out)


def _again(other, reading):
    """What another vehicle answers to the test of a reading, as it was set up then."""
    if reading["test"] == "sensor-sweep":
        other.swept_to_c = reading["at"]["value"]
    # One who types kilohm for ohm has put on a thousand times what he typed.
    ohm = reading.get("ohm")
    return other.answer(reading["test"], ohm * 1000.0 if ohm and other.mistake == "ohm-for-kilohm" else ohm)


def _worst_miss(one, other):
    return max((abs(miss) for miss in field_misses(one, other)), default=0.0)


def field_misses(one, other):
    """Differences of two answers field by field, each over its noise; words that differ are far apart."""
    out = []
    for name in ("shows", "signal_to_return_v", "signal_to_battery_v", "signal_ma", "ohms"):
        a, b = one.get(name), other.get(name)
        if a is None or b is None:
            continue
        a, b = (_standing(value) for value in (a, b))
        if isinstance(b, (list, tuple)):
            # As many differences whatever is answered: a fit compares them step by step.
            ends = a if isinstance(a, (list, tuple)) else None
            out += [(x - y) / NOISE_C for x, y in zip(ends, b, strict=True)] if ends else [WORDS_APART] * len(b)
        elif not isinstance(a, (int, float)) or not isinstance(b, (int, float)):
            out.append(0.0 if a == b else WORDS_APART)
        else:
            noise = {"shows": NOISE_C, "ohms": NOISE_OHM + NOISE_SHARE * abs(b),
                     "signal_ma": 0.01 + NOISE_SHARE * abs(b)}.get(name, NOISE_V + 0.004 * abs(b))
            out.append(_compressed((a - b) / noise))
    if "at" in one and "at" in other:
        out.append((one["at"]["value"] - other["at"]["value"]) / NOISE_AT_C)
    return out


def _compressed(miss):
    """Far misses count by their logarithm, so that a fit still sees which way is down."""
    return math.copysign(min(abs(miss), 50.0) + 10.0 * math.log(max(abs(miss) / 50.0, 1.0)), miss)


def _standing(value):
    """A sweep's range, or in a word that it stood still."""
    if isinstance(value, (list, tuple)) and value[1] - value[0] < MOVES_FROM_C:
        return "did-not-move"
    return value


def _scaled(law, factor):
    return replace(law, ohm_at_25=law.ohm_at_25 * factor)


def _turned(law, x):
    """The law of another family: its beta differs as well, by x standard deviations."""
    return replace(law, beta_k=law.beta_k + FAMILY_BETA_K * x)


def _graded(low, high, share):
    """Severity at a share of its range: by ratio where both ends are positive."""
    return low * (high / low) ** share if low > 0.0 else low + share * (high - low)


def _share(low, high, grade):
    return math.log(grade / low) / math.log(high / low) if low > 0.0 else (grade - low) / (high - low)
