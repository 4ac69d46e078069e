"""Owns the verdict: found, open, nothing fits or out of reach, and the severities of faults."""

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from engine.belief import Belief
from engine.procedures import MAIN_VOLTS, TestKind
from engine.ranked import quantiles
from engine.readings import Reading
from engine.reasons import SLIP_ABOVE, Because, Behind, Interval, said, taught
from engine.void import Void, void_readings

FOUND_ABOVE, FOUND_EVEN_ABOVE, FOUND_UNLISTED_ABOVE = 0.95, 0.85, 0.75
# One number may be a coincidence.
FEWEST_READINGS = 2
GROUP_SHARE = 0.95
# Reasons are given from a few samples of every row above this chance and this part of its fault's, from so many times as many of
# the likeliest.
DETAIL_ABOVE, DETAIL_PART, DETAIL_TIMES = 1e-4, 0.05, 4
# What must have been seen before a location is called found: proof roles of tests (see the procedures). Circuits whose
# tests serve no such role, do without it.
SET_UP_CHECKED = "set-up-checked"
PROOFS = {"sensor": ("plug-seen", "sensor-own-ohms"), "module": ("feeds", "module-pins"), "supply": ("volts", "sensor-off"),
          "plug": ("terminals-felt",), "set-up": (SET_UP_CHECKED,),
          "none": ("sensor-own-ohms",)}
# Without a supply wire at the plug volts tell less: not a feed from the coil or the leak behind it, nor a contact that was
# open once from a sensor.
NO_SUPPLY_WIRE = {"supply": ("feeds",), "plug": ("plug-seen",)}
# How many shown numbers overrule a set-up that looked right; not where its ohms were measured again, which explain any number.
OVERLOOKED_AT, MEASURED_AGAIN = 3, "stand-in-moved"
# Their severity is a value on the shown scale, and ends with it.
SHOWN_VALUES = ("temperature-true", "reading-frozen")
# From here up a series resistance is an open: how many ohms it has is beyond a hand meter.
OPEN_FROM_OHM = 1e6


@dataclass(frozen=True)
class FaultChance:
    """One fault and its chance."""

    id: str
    location: str
    p: float
    belief: Belief = field(repr=False, compare=False)

    @cached_property
    def estimate(self) -> Interval | None:
        """Its severity, where it has one; reckoned when it is looked at."""
        model, scale = self.belief.model, self.belief.model.setup.quantity
        index, kind = next((i, kind) for i, kind in enumerate(model.setup.faults) if kind.id == self.id)
        rows = np.flatnonzero(model.fault == index)
        if kind.severity_low is None or (kind.unit == "ohm" and kind.severity_low >= OPEN_FROM_OHM):
            return None
        share, weight = self.belief.shares(rows)
        if weight.sum() <= 0:
            return None
        value = model.severity(share[None, :], rows[:1])[0]
        if kind.effect in SHOWN_VALUES:
            value = np.clip(value, scale.low_end, scale.high_end)
        return Interval(*quantiles(value, weight, (0.05, 0.5, 0.95)), kind.unit)


@dataclass(frozen=True)
class Verdict:
    """`state` is found, open, nothing-fits or out-of-reach; `location` the leading one (None where none leads).

    `missing_proof` lists proof roles without a reading; `misfit` the reading
    nothing explains; `group` the locations left together; `void` the
    measurements that say nothing and are to be taken again. Reasons, severities
    and what was learned are reckoned when they are looked at.
    """

    state: str
    location: str | None
    locations: dict[str, float]
    faults: tuple[FaultChance, ...]
    missing_proof: tuple[str, ...]
    misfit: int | None
    group: tuple[str, ...]
    void: tuple[Void, ...]
    behind: Behind = field(repr=False, compare=False)

    @cached_property
    def because(self) -> tuple[Because, ...]:
        """Each reading's say."""
        return said(self.behind, self.locations)

    @cached_property
    def learned(self) -> dict[str, Interval]:
        """What the readings taught about the circuit."""
        return taught(self.behind)


def judge(belief: Belief, typed: tuple[Reading, ...], splits_left: bool) -> Verdict:
    """The verdict on `belief`; `typed` are the readings as entered, `splits_left` whether any test can still split."""
    chances = belief.by_location()
    lead = leading(belief)
    place = {reading: i for i, reading in reversed(list(enumerate(typed)))}
    order = [place[r] for r in belief.evidence.readings]
    samples = belief.few(DETAIL_ABOVE, DETAIL_PART, DETAIL_TIMES)
    by_reading, slip = belief.evidence.by_reading(samples.share, samples.z, samples.rows)
    share = samples.chance / samples.chance.sum()
    slips = slip.mean(axis=2) @ share
    # Of two readings that contradict each other one is a slip, whichever it is.
    some = len(slips) and slip.max(axis=0).mean(axis=1) @ share > SLIP_ABOVE
    misfit = order[int(np.argmax(np.round(slips, 6)))] if some else None
    sure = is_sure(belief, lead)
    missing = missing_proof(belief, lead) if sure else ()
    group = _group(chances)
    if misfit is not None:
        state = "nothing-fits"
    elif sure and not missing and not too_few(typed, lead):
        state = "found"
    elif sure or splits_left:
        state = "open"
    else:
        state = "out-of-reach"
    location = {kind.id: kind.location for kind in belief.model.setup.faults}
    faults = tuple(FaultChance(name, location[name], chance, belief) for name, chance in belief.by_fault().items())
    return Verdict(state, lead if state == "found" or sure else None, chances, faults, missing, misfit, group, void_readings(typed),
                   Behind(belief, order, slips, samples, by_reading))


def too_few(readings: tuple[Reading, ...], location: str) -> bool:
    """Whether `readings` are too few to find `location` by."""
    # A mistake in the set-up is there to be seen in what is shown: a bad look beside one such reading can be put right, but
    # explains nothing yet.
    counted = [reading for reading in readings if location != "set-up" or reading.shows is not None]
    return len(counted) < FEWEST_READINGS


def leading(belief: Belief) -> str:
    """The likeliest location."""
    chances = belief.by_location()
    return max(chances, key=lambda k: (round(chances[k], 9), k))


def likely_enough(belief: Belief, location: str) -> bool:
    """Whether `location` is likely enough to be found with the chances given and with even ones."""
    return belief.by_location()[location] > FOUND_ABOVE and belief.by_location(even=True)[location] > FOUND_EVEN_ABOVE


def is_sure(belief: Belief, location: str) -> bool:
    """Whether `location` is likely enough, also if the curve were none of the listed ones: what holds on those alone may
    be a coincidence."""
    return likely_enough(belief, location) and belief.unlisted.by_location()[location] > FOUND_UNLISTED_ABOVE


def missing_proof(belief: Belief, location: str) -> tuple[str, ...]:
    """Proof roles `location` still lacks among the tests that have a reading.

    A finding by eye or hand proves only if it is what the likeliest fault of
    the location makes it: an unexpected bad one asks to be mended and looked
    at again, an unexpected good one to be doubted.
    """
    kinds = belief.model.kinds
    mine = np.flatnonzero(belief.model.locations == location)
    likeliest = kinds[mine[np.argmax(belief.chance[mine])]]
    done = {test.proof for i, (test, reading) in enumerate(zip(belief.evidence.tests, belief.evidence.readings, strict=True))
            if i not in belief.evidence.void and not _without_supply(test, reading)
            and (reading.good is None or reading.good == (dict(test.bad).get(likeliest.id, 0.0) <= 0.5))}
    readings = belief.evidence.readings
    if sum(reading.shows is not None for reading in readings) >= OVERLOOKED_AT and likeliest.effect != MEASURED_AGAIN:
        # So many numbers that only a mistake of the set-up explains: it was looked at and overlooked.
        done |= {test.proof for test in belief.evidence.tests if test.proof == SET_UP_CHECKED}
    served = {test.proof for test in belief.model.setup.tests}
    roles = (*PROOFS.get(location, ()), *(NO_SUPPLY_WIRE.get(location, ()) if belief.model.setup.three_wire is None else ()))
    return tuple(role for role in roles if role in served and role not in done)


def _without_supply(test: TestKind, reading: Reading) -> bool:
    """Whether volts on a three-wire plug were taken without those of its supply, which prove nothing of it."""
    return (test.pins == 3 and test.measures in MAIN_VOLTS
            and reading.supply_to_return_v is None and reading.supply_to_battery_v is None)


def _group(chances: dict[str, float]) -> tuple[str, ...]:
    out, total = [], 0.0
    for name in sorted(chances, key=lambda k: (-round(chances[k], 9), k)):
        out.append(name)
        total += chances[name]
        if total >= GROUP_SHARE:
            break
    return tuple(out)
