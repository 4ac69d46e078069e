"""Owns the next step: which test saves most minutes on the way to a proven repair."""

from dataclasses import dataclass, field
from functools import cached_property
from typing import NamedTuple

import numpy as np

from engine.ranked import quantiles
from engine.belief import Belief
from engine.divide_sheet import settable_ratio
from engine.faults import LOCATIONS
from engine.information import Candidate, Forecast, forecast, split_bits
from engine.procedures import MA_FLOOR, TestKind
from engine.proposal import contradicted
from engine.readings import Reading
from engine.stand_in import set_to
from engine.survival import on_gauge
from engine.unknowns import Z
from engine.verdict import SET_UP_CHECKED, is_sure, leading, likely_enough, missing_proof, too_few
from engine.void import void_readings

MOST_SETTINGS = 3
# A bad feed is mended and measured once more; asked a third time, the same step would only go round in circles.
MOST_REPEATS = 2
# How near the stand-in must come: to a temperature worth asking about, and to the sensor's own ohms.
SETTING_WITHIN, OWN_OHMS_WITHIN = 0.10, 0.03
SMALLEST_DIAL_OHM = 1.0
# Ratios worth dividing by, inside every published window, and how far apart two must lie.
DIVIDED_AT, DIVIDED_WITHIN, RATIOS_APART = (0.5, 0.25, 0.7), (0.06, 0.94), 0.06
# A test splits only from so many bits up, and as long as one of them gives so many a minute: what comes and goes would
# otherwise keep one measuring for an hour in the hope of catching it.
SPLITS_FROM_BITS, SPLITS_PER_MINUTE = 0.03, 0.01
# How much of a test's minutes is not charged where proof will ask for it anyhow, once a few readings say of what.
PROOF_SHARE = 0.9
# What several sensors share is measured first from this chance of it up: likelier than all else together.
RAIL_VOLTS, RAIL_FIRST_ABOVE = "supply-volts", 0.5
READER_AGREES = "reader-agrees"
# One minute of a technician's hour against the price of a part (editable by the shop; common practice, no source).
PRICE_PER_MINUTE = 1.5
# Worth counts wrong repairs; a found location also asks for certainty, and each bit of it takes about this many
# minutes of tests. Without it a cheap repair would never be proven.
MINUTES_PER_BIT = 60.0
NAMED_ABOVE = 0.02


@dataclass(frozen=True)
class Advice:
    """One next step: the test, ohms to put on, minutes, `worth` in minutes saved.

    `why` is "proof" for a step that proof still asks for, "reader" where two
    numbers of one hook-up put the reader first, "splits" otherwise; `splits`
    names the locations it tells apart. `ratio` is what to set a divider to.
    """

    test: str
    ohm: float | None
    minutes: float
    worth: float
    unit: str
    why: str
    splits: tuple[str, ...]
    ratio: float | None
    ahead: "Ahead" = field(repr=False, compare=False)

    @cached_property
    def expect(self) -> dict[str, tuple[float, float] | str]:
        """What each location would show: (low, high) in `unit`, or "good"/"bad"; reckoned when it is looked at."""
        return _expected(*self.ahead)


class Ahead(NamedTuple):
    """Where what a test would show is found: number `t` of a forecast, and its outcomes with locations (o, l)."""

    forecast: Forecast
    test: TestKind
    t: int
    joint: np.ndarray


def candidates(belief: Belief, typed: tuple[Reading, ...]) -> tuple[Candidate, ...]:
    """Tests still worth asking, with settings the stand-in can reach; a test already read at these ohms is not asked again.

    Counted are the readings as `typed`: the belief, a function of their set,
    holds one of two that are alike.
    """
    out = []
    # A void measurement has to be taken again.
    void = {one.reading for one in void_readings(typed)}
    readings = tuple(r for i, r in enumerate(typed) if i not in void)
    done = [(r.test, r.ohm) for r in readings]
    states = {test.id: test.state for test in belief.model.setup.tests}
    plug_was_off = any(states[r.test].startswith("unplugged") for r in readings)
    for test in belief.model.setup.tests:
        past = [ohm for name, ohm in done if name == test.id]
        # What a second part in hand showed can be typed in; nobody is sent to buy one.
        if test.needs == "known-good-part" or (test.needs == "plug-was-off" and not plug_was_off):
            continue
        if test.element == "divider" and test.measures == "shows":
            ratios = [r.ratio for r in readings if r.test == test.id]
            out += [Candidate(test, None, ratio) for ratio in _ratios(belief) if len(ratios) < MOST_SETTINGS
                    and all(abs(ratio - past_one) > RATIOS_APART for past_one in ratios)]
            continue
        if test.element == "divider" and not _ratios(belief):
            continue
        if test.needs == "sensor-ohms-known":
            measured = sorted(r.ohms for r in readings if isinstance(r.ohms, float) and r.test == "sensor-ohms")
            if measured and not past:
                out += [Candidate(test, ohm) for ohm in _settable(belief, measured[-1], OWN_OHMS_WITHIN)]
        elif test.element == "stand-in" and test.measures == "shows":
            out += [Candidate(test, ohm) for ohm in _settings(belief)
                    if len(past) < MOST_SETTINGS and all(abs(np.log(ohm / max(p, 1e-3))) > 0.2 for p in past)]
        elif test.measures == "sweep" and belief.model.setup.stand_in.kind == "fixed":
            continue
        elif not past or (len(past) < MOST_REPEATS and _looked_at_again(belief, readings, test)):
            out.append(Candidate(test, None))
    return tuple(out)


def _ratios(belief: Belief) -> tuple[float, ...]:
    """Ratios worth dividing by: the likeliest line's at a few values where it is listed, as the stand-in in hand gives them."""
    setup = belief.model.setup
    best = int(belief.model.curve[belief.chance.argmax()])
    wanted = DIVIDED_AT
    if best >= 0:
        line = setup.three_wire.lines[best // 2][0]
        inside = [round(float(line.ratio(value)), 2) for value in setup.quantity.settings_at]
        wanted = tuple(ratio for ratio in inside if DIVIDED_WITHIN[0] <= ratio <= DIVIDED_WITHIN[1]) or DIVIDED_AT
    found = (settable_ratio(setup.stand_in, ratio) for ratio in wanted)
    return tuple(dict.fromkeys(round(ratio, 4) for ratio in found if ratio is not None))


def _looked_at_again(belief: Belief, readings: tuple[Reading, ...], test: TestKind) -> bool:
    """Whether a test done is worth doing once more: bad feeds are mended first, a set-up that all numbers speak against is
    looked at with that in mind."""
    if test.proof == "feeds":
        return not any(r.test == test.id and r.good is not False for r in readings)
    return test.proof == SET_UP_CHECKED and test.proof in _proof_wanted(belief)


def _settable(belief: Belief, ohm: float, within: float) -> tuple[float, ...]:
    """`ohm` as the stand-in in hand gives it, or nothing where that is not `within` a share of it."""
    setup = belief.model.setup
    if setup.stand_in.kind != "fixed" and setup.stand_in.end_to_end_ohm is None:
        return (float(f"{ohm:.4g}"),) if ohm >= SMALLEST_DIAL_OHM else ()
    setting = set_to(setup.stand_in, setup.meter, ohm) if ohm >= SMALLEST_DIAL_OHM else None
    if setting is None or abs(setting.ohm / ohm - 1.0) > within:
        return ()
    if setup.circuit.pointer and on_gauge(setup.stand_in, setup.circuit, setting.ohm, setting.parts).state == "refused":
        return ()
    return (float(f"{setting.ohm:.4g}"),)


def advise(belief: Belief, typed: tuple[Reading, ...]) -> tuple[tuple[Advice, ...], bool]:
    """Ranked next steps after the readings as `typed`, best first, and whether any of them can still split the locations.

    Worth is one-step value of information: the expected minutes of repairing
    in order of chance per cost now, less the same after the test's outcome.
    """
    options = candidates(belief, typed)
    if not options:
        return (), False
    lead = leading(belief)
    if likely_enough(belief, lead) and not is_sure(belief, lead):
        belief = belief.doubted
    ahead = forecast(belief, options)
    joint = ahead.by_location()
    bits = split_bits(joint)
    cost = _repair_minutes(belief)
    now = _in_order(joint.sum(axis=1)[:1], cost)[0]
    after = (joint.sum(axis=2) * _in_order(joint / np.maximum(joint.sum(axis=2, keepdims=True), 1e-300), cost)).sum(axis=1)
    worth = np.maximum(now - after, 0.0)
    minutes = np.array([c.test.minutes for c in options])
    few = too_few(belief.evidence.readings, lead)
    charged = minutes if few else minutes - PROOF_SHARE * _owed(belief, options)
    rate = (worth + MINUTES_PER_BIT * bits) / charged
    wanted = _proof_wanted(belief)
    enough = bits > SPLITS_FROM_BITS
    enough &= (enough & (bits > SPLITS_PER_MINUTE * minutes)).any()
    proof = np.array([c.test.proof in wanted and c.test.proof != "" for c in options])
    reader, rail = _reader_first(belief, options), _rail_first(belief, options)
    order = sorted(range(len(options)), key=lambda t: (
        not reader[t], not proof[t], not rail[t], minutes[t] if proof[t] else 0.0, -round(float(rate[t]), 9), options[t].test.id, options[t].ohm or options[t].ratio or 0))
    rows = tuple(_row(ahead, options, t, joint, float(worth[t]), "reader" if reader[t] else "proof" if proof[t] else "splits")
                 for t in order if reader[t] or proof[t] or enough[t] or few)
    rows = tuple(row for row in rows if row.splits or row.why != "splits" or few)
    return rows, few or any(row.splits for row in rows)


def _reader_first(belief: Belief, options: tuple[Candidate, ...]) -> np.ndarray:
    """Mask (t,) of the tests that show whether the reader is right, where it gave two numbers for one hook-up: the reader is
    looked at before anything on the vehicle is touched (common practice, no source)."""
    two = contradicted(belief.evidence) is not None
    return np.array([two and c.test.proof == READER_AGREES for c in options])


def _rail_first(belief: Belief, options: tuple[Candidate, ...]) -> np.ndarray:
    """Mask (t,) of the tests of a loaded supply's own volts, where what several sensors share is likelier at fault than
    anything of one alone, and its volts were not read yet: all of them hang on it (common practice, no source)."""
    shared = sum(belief.chance[k] for k, kind in enumerate(belief.model.kinds) if kind.rail)
    read = any(test.element == "sensor" and reading.supply_to_battery_v is not None
               for test, reading in zip(belief.evidence.tests, belief.evidence.readings, strict=True))
    return np.array([(c.test.measures, c.test.element) == (RAIL_VOLTS, "sensor") and shared > RAIL_FIRST_ABOVE and not read
                     for c in options])


def _owed(belief: Belief, options: tuple[Candidate, ...]) -> np.ndarray:
    """Minutes (t,) each candidate saves later because proof of the location that is true will ask for it anyhow."""
    cheapest: dict[str, float] = {}
    for test in belief.model.setup.tests:
        if test.proof:
            cheapest[test.proof] = min(cheapest.get(test.proof, np.inf), test.minutes)
    asked: dict[str, float] = {}
    for location, chance in belief.by_location().items():
        for role in missing_proof(belief, location):
            asked[role] = asked.get(role, 0.0) + chance
    return np.array([asked.get(c.test.proof, 0.0) * min(cheapest.get(c.test.proof, 0.0), c.test.minutes) for c in options])


def _settings(belief: Belief) -> tuple[float, ...]:
    """Ohms worth dialling: the likeliest curve's values at a few temperatures, brought into the stand-in's reach."""
    setup = belief.model.setup
    best = int(belief.chance.argmax())
    curve = belief.model.curve[best]
    scale = 1.0
    if curve >= 0 and belief.model.table.loose[curve]:
        _, _, z, weight = belief.weighted(np.array([best]))
        scale = float(np.exp(setup.family_ln_ohm_25[1] * np.average(z[:, Z.family_ohm], weights=weight)))
    out: list[float] = []
    for at_c in setup.quantity.settings_at:
        if curve >= 0:
            ohm = float(belief.model.table.curves[curve].ohm_at(at_c)) * scale
        else:
            family = (setup.family_ln_ohm_25[0], setup.family_beta_k[0])
            ohm = float(np.exp(belief.model.table.ln_ohm(1.0 / (at_c + 273.15), -1, *family)))
        out += _settable(belief, float(f"{ohm:.2g}"), SETTING_WITHIN)
    return tuple(dict.fromkeys(out))


def _proof_wanted(belief: Belief) -> tuple[str, ...]:
    lead = leading(belief)
    return missing_proof(belief, lead) if is_sure(belief, lead) else ()


def _repair_minutes(belief: Belief) -> np.ndarray:
    """Minutes (l,) to mend each location: its faults' minutes and prices, weighed by their chance."""
    model, share = belief.model, belief.chance + 1e-9
    faults = np.array([kind.repair_minutes + kind.repair_price / PRICE_PER_MINUTE for kind in model.setup.faults])
    total = np.bincount(model.places, share * faults[model.fault], len(LOCATIONS))
    weight = 1e-12 + np.bincount(model.places, share, len(LOCATIONS))
    return np.maximum(total / weight, 1.0)


def _in_order(p: np.ndarray, cost: np.ndarray) -> np.ndarray:
    """Expected minutes (...) of mending locations in order of chance per cost; `p` (..., l), `cost` (l,).

    Optimal for one fault and independent repairs (Kadane and Simon 1977).
    """
    order = np.argsort(-p / cost, axis=-1, kind="stable")
    sorted_p = np.take_along_axis(p, order, axis=-1)
    before = np.cumsum(sorted_p, axis=-1) - sorted_p
    return (cost[order] * np.maximum(1.0 - before, 0.0) * (1.0 - before > 1e-3)).sum(axis=-1)


def _row(ahead: Forecast, options: tuple[Candidate, ...], t: int, joint: np.ndarray, worth: float, why: str) -> Advice:
    test: TestKind = options[t].test
    return Advice(test.id, options[t].ohm, test.minutes, worth, test.unit, why, _told_apart(joint[t], joint[t].sum(axis=0)), options[t].ratio,
                  Ahead(ahead, test, t, joint[t]))


def _expected(ahead: Forecast, test: TestKind, t: int, joint: np.ndarray) -> dict[str, tuple[float, float] | str]:
    """As `Advice.expect`."""
    expect: dict = {}
    location = joint.sum(axis=0)
    for i, name in enumerate(LOCATIONS):
        rows = ahead.locations == i
        if location[i] < NAMED_ABOVE:
            continue
        if test.measures == "good":
            bad = float(joint[0, i] / location[i])
            expect[name] = "bad" if bad > 0.5 else "good"
            continue
        weight = np.repeat(ahead.chance[rows], ahead.value.shape[2])
        low, high = quantiles(ahead.value[t][rows].ravel(), weight, (0.05, 0.95))
        if test.measures == "current":
            low, high = float(np.sinh(low)) * MA_FLOOR, float(np.sinh(high)) * MA_FLOOR
        if test.measures in ("return-ohms", "sensor-ohms"):
            low, high = float(np.exp(low)), float(np.exp(high))
            if test.measures == "return-ohms":
                low, high = max(low - 1.0, 0.0), high - 1.0
        expect[name] = (low, high)
    return expect


def _told_apart(joint: np.ndarray, location: np.ndarray) -> tuple[str, ...]:
    """Locations whose chance this test would move most, likeliest first."""
    outcome = np.maximum(joint.sum(axis=1, keepdims=True), 1e-300)
    moved = (outcome * np.abs(joint / outcome - location)).sum(axis=0)
    order = sorted(range(len(LOCATIONS)), key=lambda i: (-round(float(moved[i]), 9), i))
    return tuple(LOCATIONS[i] for i in order if moved[i] > 0.02)
