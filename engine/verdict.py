"""Owns the verdict: found, open, nothing fits or out of reach, with severities, what was learned, and the reasons."""

from dataclasses import dataclass

import numpy as np

from engine.ranked import quantiles
from engine.belief import Belief, Few
from engine.curves import KELVIN, T25_K
from engine.faults import HARNESS_SIDE
from engine.model import Model
from engine.packed import OF
from engine.points import Shown
from engine.procedures import AMMETER_OHM, MAIN_VOLTS, TestKind
from engine.quantities import Quantity
from engine.readings import Reading
from engine.three_wire import OF3
from engine.unknowns import Z
from engine.void import Void, void_readings

FOUND_ABOVE, FOUND_EVEN_ABOVE, FOUND_UNLISTED_ABOVE = 0.95, 0.85, 0.75
SLIP_ABOVE = 0.5
# One number may be a coincidence.
FEWEST_READINGS = 2
GROUP_SHARE = 0.95
NAMED_ABOVE = 0.01
NAMED_AT_LEAST = 4
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
# With these the wiring or the input is not what it was made.
NOT_IN_ORDER = (*HARNESS_SIDE, "input-ohm-factor", "supply-factor", "input-offset-v", "switching-dead")
# Their severity is a value on the shown scale, and ends with it.
SHOWN_VALUES = ("temperature-true", "reading-frozen")
# From here up a series resistance is an open: how many ohms it has is beyond a hand meter.
OPEN_FROM_OHM = 1e6


@dataclass(frozen=True)
class Interval:
    """5 %, 50 % and 95 % points in `unit`."""

    low: float
    mid: float
    high: float
    unit: str


@dataclass(frozen=True)
class FaultChance:
    """One fault, its chance and, where it has one, its severity."""

    id: str
    location: str
    p: float
    estimate: Interval | None


@dataclass(frozen=True)
class Because:
    """One reading's say: what each surviving location expected, how much it spoke for it (natural log, against the
    average of the others), and whether any of them explains it. `reading` indexes the job's readings."""

    reading: int
    test: str
    expected: dict[str, tuple[float, float] | str]
    unit: str
    weight: dict[str, float]
    fits: bool


@dataclass(frozen=True)
class Verdict:
    """`state` is found, open, nothing-fits or out-of-reach; `location` the leading one (None where none leads).

    `missing_proof` lists proof roles without a reading; `misfit` the reading
    nothing explains; `group` the locations left together; `void` the
    measurements that say nothing and are to be taken again.
    """

    state: str
    location: str | None
    locations: dict[str, float]
    faults: tuple[FaultChance, ...]
    because: tuple[Because, ...]
    learned: dict[str, Interval]
    missing_proof: tuple[str, ...]
    misfit: int | None
    group: tuple[str, ...]
    void: tuple[Void, ...] = ()


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
    return Verdict(state, lead if state == "found" or sure else None, chances, _faults(belief),
                   _because(belief, order, slips, chances, samples, by_reading), _learned(belief, samples), missing, misfit, group,
                   void_readings(typed))


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


def _faults(belief: Belief) -> tuple[FaultChance, ...]:
    out = []
    kinds, scale = {k.id: (i, k) for i, k in enumerate(belief.model.setup.faults)}, belief.model.setup.quantity
    for name, chance in belief.by_fault().items():
        index, kind = kinds[name]
        estimate = None
        rows = np.flatnonzero(belief.model.fault == index)
        graded = kind.severity_low is not None and not (kind.unit == "ohm" and kind.severity_low >= OPEN_FROM_OHM)
        share, weight = belief.shares(rows) if graded else (np.zeros(0), np.zeros(0))
        if weight.sum() > 0:
            value = belief.model.severity(share[None, :], rows[:1])[0]
            if kind.effect in SHOWN_VALUES:
                value = np.clip(value, scale.low_end, scale.high_end)
            estimate = Interval(*quantiles(value, weight, (0.05, 0.5, 0.95)), kind.unit)
        out.append(FaultChance(name, kind.location, chance, estimate))
    return tuple(out)


def _learned(belief: Belief, samples: Few) -> dict[str, Interval]:
    """What the readings taught about the circuit: input resistor, open volts, the curve's 25 degC value and beta.

    Ohms in a wire look just like ohms in the input; where wiring and input
    are more likely in order than not, they are taken to be.
    """
    model = belief.model
    if model.setup.three_wire is not None:
        return _learned_three_wire(belief, samples)
    in_order = np.array([k for k, kind in enumerate(model.kinds) if kind.effect not in NOT_IN_ORDER], int)
    rows = in_order if belief.chance[in_order].sum() > 0.5 else np.arange(len(model))
    row, share, z, weight = samples.of(rows)
    points = (0.05, 0.5, 0.95)
    setup, out, of = model.setup, {}, model.unknowns(z)
    if setup.circuit.source_ohm is None:
        # What the meter sees is the resistor itself, its own tolerance or fault included, not the module's idea of it.
        ohm = of[:, OF.source_ohm] * of[:, OF.part_factor]
        for k in np.unique(row):
            if model.kinds[k].effect == "input-ohm-factor":
                mine = row == k
                ohm[mine] *= model.severity(share[mine][None, :], np.array([k]))[0]
        out["pull_up_ohm"] = Interval(*quantiles(ohm, weight, points), "ohm")
    volts = (setup.circuit.open_v or 5.0) * of[:, OF.open_factor]
    out["open_v"] = Interval(*quantiles(volts, weight, points), "V")
    if setup.circuit.pointer:
        for end in (0.0, 100.0):
            shift = setup.family_ln_ohm_25[1] * z[:, Z.family_ohm]
            ohms = np.exp(model.table.ln_ohm(1.0 / (end + KELVIN), model.curve[row], shift, 0.0))
            out[f"curve_ohm_{end:.0f}"] = Interval(*quantiles(ohms, weight, points), "ohm")
    elif len(set(model.curve)) > 1 or (model.curve < 0).any():
        args = (model.curve[row], of[:, OF.family_ln_ohm], of[:, OF.family_beta_k])
        at_25 = model.table.ln_ohm(1.0 / T25_K, *args)
        at_85 = model.table.ln_ohm(1.0 / (85.0 + KELVIN), *args)
        out["curve_ohm_25"] = Interval(*quantiles(np.exp(at_25), weight, points), "ohm")
        beta = (at_25 - at_85) / (1.0 / T25_K - 1.0 / (85.0 + KELVIN))
        out["curve_beta"] = Interval(*quantiles(beta, weight, points), "K")
    return out


def _learned_three_wire(belief: Belief, samples: Few) -> dict[str, Interval]:
    """The module's supply, its input's load, and how likely that pulls up: 1 is up, 0 is down."""
    model = belief.model
    row, _, z, weight = samples.of(np.arange(len(model)))
    points, unknown = (0.05, 0.5, 0.95), model.unknowns(z)
    up = model.curve[row] % 2 == 1
    out = {"open_v": Interval(*quantiles((model.setup.circuit.reference_v or 5.0) * unknown[:, OF3.supply_factor], weight, points), "V"),
           "pulled_up": Interval(*(float((weight * up).sum() / weight.sum()),) * 3, "")}
    if model.setup.circuit.source_ohm is None:
        out["input_ohm"] = Interval(*quantiles(np.where(up, unknown[:, OF3.up_ohm], unknown[:, OF3.down_ohm]), weight, points), "ohm")
    return out


def _because(belief: Belief, order: list[int], slips: np.ndarray, chances: dict[str, float], samples: Few,
             by_reading: np.ndarray) -> tuple[Because, ...]:
    """Each reading left out in turn: what the others made each location expect, and how well that was met."""
    readings, model = belief.evidence.readings, belief.model
    if not readings:
        return ()
    ranked = sorted(chances, key=lambda k: (-round(chances[k], 9), k))
    named = sorted(n for i, n in enumerate(ranked) if chances[n] >= NAMED_ABOVE or i < NAMED_AT_LEAST)
    shown = belief.evidence.shown(samples.share, samples.z, samples.rows)
    weight = np.repeat(samples.chance[:, None] / samples.share.shape[1], samples.share.shape[1], axis=1)
    places = model.locations[samples.rows]
    out = []
    for r, reading in enumerate(readings):
        if r in belief.evidence.void:
            continue
        test = belief.evidence.tests[r]
        value = _shown_as(shown, belief.evidence.hooked.place.get(r), test, samples.share.shape, model.setup.quantity)
        expected, score = {}, {}
        for name in named:
            mine = places == name
            without = weight[mine] * np.exp(-by_reading[r][mine])
            score[name] = float(np.log(max(weight[mine].sum(), 1e-300)) - np.log(max(without.sum(), 1e-300)))
            if test.measures == "good":
                expected[name] = "good" if score[name] >= np.log(0.5) and reading.good else "either"
            elif mine.any():
                expected[name] = quantiles(value[mine].ravel(), without.ravel(), (0.05, 0.95))
        mean = {n: _mean_of_others(score, chances, n) for n in named}
        out.append(Because(order[r], reading.test, expected, _unit(test, model), {n: score[n] - mean[n] for n in named},
                           bool(slips[r] <= SLIP_ABOVE)))
    return tuple(sorted(out, key=lambda b: b.reading))


def _unit(test: TestKind, model: Model) -> str:
    return model.setup.quantity.unit if test.unit == "degC" else test.unit


def _shown_as(shown: Shown, r: int | None, test: TestKind, shape: tuple[int, int], scale: Quantity) -> np.ndarray | None:
    """What a test would show (f, s) on hook-up r, in its unit; nothing where it is judged by eye or hand."""
    if test.measures == "good":
        return None
    if test.measures in MAIN_VOLTS:
        return shown.volts(MAIN_VOLTS[test.measures], r)
    if test.measures == "current":
        return shown.volts("volts-return", r) / AMMETER_OHM * 1e3
    if test.measures == "sensor-ohms":
        return shown.sensor_at(r)
    if test.measures == "return-ohms":
        return shown.return_ohm
    return np.clip(shown.value[r], scale.low_end, scale.high_end)


def _mean_of_others(score: dict[str, float], chances: dict[str, float], name: str) -> float:
    others = [n for n in score if n != name]
    if not others:
        return score[name]
    # Ruled-out locations still count a little: they are what the reading spoke against.
    share = {n: max(chances[n], 1e-9) for n in others}
    return float(np.log(sum(share[n] * np.exp(score[n]) for n in others) / sum(share.values())))
