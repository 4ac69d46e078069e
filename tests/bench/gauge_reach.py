"""Whether a gauge that ended without a find was rightly left there: whether another fault answers every test alike.

At each other location the tool leaves, the bench draws its own faults by the hundred on the same gauge, keeps those
that answer every reading so far as it was typed, and compares what every test still offered would show on them and on
the true vehicle. One that no such test tells apart makes the end right. Eye and hand count where one fault is seen and
the other is not.
"""

import copy

import numpy as np

from .gauge_vehicle import EYE, FALSE_ALARM, FAULTS, INTERMITTENT

DRAWS = 120
AT_PERCENT = (5.0, 25.0, 50.0, 75.0, 95.0)
NEAR_PERCENT, NEAR_V, NEAR_RATIO, NEAR_OHM, EYE_SPLITS_FROM = 13.0, 0.4, 1.12, 1.0, 0.3
# An intermittent fault is in order most of the time: tests that ask once tell little of it.
WORDS = {"below E": -10.0, "above F": 110.0, "E": 0.0, "F": 100.0}


def judged(vehicle, job, verdict):
    """'rightly', or in a few words why not."""
    if verdict.state != "out-of-reach" or vehicle.location not in verdict.group:
        return "the true location is not among those left" if verdict.state == "out-of-reach" else "left open"
    rng = np.random.default_rng(vehicle.number)
    readings = [reading.to_dict() for reading in job.readings]
    others = [id for id, row in FAULTS.items() if row[0] in verdict.group and row[0] != vehicle.location]
    fits = 0
    for draw in range(DRAWS):
        for id in others:
            other = _with(vehicle, id, rng, draw)
            if all(_alike(_quiet(other, one), one) for one in readings if one["test"] not in EYE):
                fits += 1
                if not _split(vehicle, other, job):
                    return "rightly"
    return "an offered test splits it" if fits else "what is left does not fit the readings"


def _with(vehicle, fault_id, rng, draw):
    """The same vehicle with another fault, what is really there as far from the told one as people are."""
    other = copy.copy(vehicle)
    other.fault_id, (other.location, _, changed, span) = fault_id, FAULTS[fault_id]
    other.wiring = vehicle._draw_fault(rng, changed, span)
    told = vehicle.told_level
    if told is None and draw % 2:
        # What the sender says may be so.
        told = vehicle.gauge.percent(vehicle._sender_ohm(vehicle.wiring))
    other.true = float(rng.uniform(0, 100)) if told is None else float(np.clip(rng.normal(told, 8.0 if vehicle.told_level else 3.0), 0, 100))
    return other


def _quiet(vehicle, reading):
    """What the vehicle answers to the same test without errors; what comes and goes is in order."""
    still = copy.copy(vehicle)
    if vehicle.fault_id in INTERMITTENT:
        still.wiring, still.fault_id = type(vehicle.wiring)(), "none"
    return still.answer(reading["test"], reading.get("ohm"))


def _alike(one, other):
    """Whether two answers say the same within what eye and meter blur."""
    if "shows" in one and "shows" in other:
        return abs(_percent(one["shows"]) - _percent(other["shows"])) < NEAR_PERCENT
    if "signal_to_return_v" in one:
        return abs(one["signal_to_return_v"] - other["signal_to_return_v"]) < NEAR_V
    a, b = (1e9 if value == "open" else value for value in (one.get("ohms", 0.0), other.get("ohms", 0.0)))
    return abs(a - b) < NEAR_OHM or max(a, b) < NEAR_RATIO * max(min(a, b), 1e-6)


def _percent(shows):
    if isinstance(shows, float):
        return min(max(shows, 0.0), 100.0)
    if shows in WORDS:
        return min(max(WORDS[shows], 0.0), 100.0)
    count, out_of = shows.split("/") if "/" in shows else shows.split(" of ")
    return 100.0 * int(count) / int(out_of)


def _split(truth, other, job):
    """Whether any test offered tells the two apart."""
    done = {reading.test for reading in job.readings}
    for test in {kind.id for kind in job.tests}:
        if test in EYE:
            seen = [EYE[test].get(one.fault_id, FALSE_ALARM) for one in (truth, other)]
            if test not in done and abs(seen[0] - seen[1]) > EYE_SPLITS_FROM:
                return True
            continue
        dials = [truth.gauge.ohm(at) for at in AT_PERCENT] if test.startswith("substitute") and test != "substitute-sensor-ohms" else [None]
        if test == "substitute-sensor-ohms":
            dials = [one._sender_ohm(one.wiring) for one in (truth,) if one._sender_ohm(one.wiring) < 2000.0]
        for ohm in dials:
            asked = {"test": test, "ohm": ohm}
            if not _alike(_quiet(truth, asked), _quiet(other, asked)):
                return True
    return False
