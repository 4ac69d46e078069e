"""Owns the verdict: found, open, nothing fits or out of reach, with severities, what was learned, and the reasons."""

from dataclasses import dataclass

import numpy as np

from engine.belief import Belief, quantiles, unknown_index
from engine.curves import KELVIN, T25_K
from engine.faults import HARNESS_SIDE
from engine.model import OPEN_SD, OPEN_UNKNOWN_SD, PART_SD, SOURCE_LN_MEAN, SOURCE_LN_SD
from engine.readings import Reading

FOUND_ABOVE, FOUND_EVEN_ABOVE = 0.95, 0.85
SLIP_ABOVE = 0.5
# One number may be a coincidence.
FEWEST_READINGS = 2
GROUP_SHARE = 0.95
NAMED_ABOVE = 0.01
NAMED_AT_LEAST = 4
# What must have been seen before a location is called found: proof roles of tests (see the procedures).
PROOFS = {"sensor": ("plug-seen", "sensor-own-ohms"), "module": ("feeds", "module-pins"), "supply": ("volts",),
          "none": ("sensor-own-ohms",)}
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
    nothing explains; `group` the locations left together.
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


def judge(belief: Belief, typed: tuple[Reading, ...], splits_left: bool) -> Verdict:
    """The verdict on `belief`; `typed` are the readings as entered, `splits_left` whether any test can still split."""
    chances = belief.by_location()
    even = belief.by_location(even=True)
    lead = max(chances, key=lambda k: (round(chances[k], 9), k))
    place = {reading: i for i, reading in reversed(list(enumerate(typed)))}
    order = [place[r] for r in belief.evidence.readings]
    slips = belief.slips()
    worst = int(np.argmax(slips)) if len(slips) else 0
    misfit = order[worst] if len(slips) and slips[worst] > SLIP_ABOVE else None
    sure = chances[lead] > FOUND_ABOVE and even[lead] > FOUND_EVEN_ABOVE
    missing = missing_proof(belief, lead) if sure else ()
    group = _group(chances)
    if misfit is not None:
        state = "nothing-fits"
    elif sure and not missing and len(typed) >= FEWEST_READINGS:
        state = "found"
    elif sure or splits_left:
        state = "open"
    else:
        state = "out-of-reach"
    return Verdict(state, lead if state == "found" or sure else None, chances, _faults(belief),
                   _because(belief, order, slips, chances), _learned(belief), missing, misfit, group)


def missing_proof(belief: Belief, location: str) -> tuple[str, ...]:
    """Proof roles `location` still lacks among the tests that have a reading."""
    # A bad finding proves nothing: it asks to be mended and looked at again.
    done = {test.proof for test, reading in zip(belief.evidence.tests, belief.evidence.readings, strict=True)
            if reading.good is not False}
    return tuple(role for role in PROOFS.get(location, ()) if role not in done)


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
    kinds = {k.id: k for k in belief.model.setup.faults}
    for name, chance in belief.by_fault().items():
        kind = kinds[name]
        estimate = None
        rows = np.array([i for i, k in enumerate(belief.model.kinds) if k.id == name])
        row, share, _, weight = belief.weighted(rows)
        graded = kind.severity_low is not None and not (kind.unit == "ohm" and kind.severity_low >= OPEN_FROM_OHM)
        if graded and len(row) and weight.sum() > 0:
            value = belief.model.severity(share[None, :], rows[:1])[0]
            estimate = Interval(*quantiles(value, weight, (0.05, 0.5, 0.95)), kind.unit)
        out.append(FaultChance(name, kind.location, chance, estimate))
    return tuple(out)


def _learned(belief: Belief) -> dict[str, Interval]:
    """What the readings taught about the circuit: input resistor, open volts, the curve's 25 degC value and beta.

    Ohms in a wire look just like ohms in the input; where wiring and input
    are more likely in order than not, they are taken to be.
    """
    model = belief.model
    in_order = np.flatnonzero(~model.rows_of(*HARNESS_SIDE, "input-ohm-factor", "supply-low-factor"))
    rows = in_order if belief.chance[in_order].sum() > 0.5 else np.arange(len(model))
    row, share, z, weight = belief.weighted(rows)
    points = (0.05, 0.5, 0.95)
    setup, out = model.setup, {}
    if setup.circuit.source_ohm is None:
        # What the meter sees is the resistor itself, its own tolerance or fault included, not the module's idea of it.
        ohm = np.exp(SOURCE_LN_MEAN + SOURCE_LN_SD * z[:, unknown_index("source")] + PART_SD * z[:, unknown_index("part")])
        for k in np.flatnonzero(model.rows_of("input-ohm-factor")):
            mine = row == k
            ohm[mine] *= model.severity(share[mine][None, :], np.array([k]))[0]
        out["pull_up_ohm"] = Interval(*quantiles(ohm, weight, points), "ohm")
    open_sd = OPEN_SD if setup.circuit.open_v is not None else OPEN_UNKNOWN_SD
    volts = (setup.circuit.open_v or 5.0) * (1.0 + open_sd * z[:, unknown_index("open")])
    out["open_v"] = Interval(*quantiles(volts, weight, points), "V")
    if len(set(model.curve)) > 1 or (model.curve < 0).any():
        args = (model.curve[row], setup.family_ln_ohm_25[0] + setup.family_ln_ohm_25[1] * z[:, unknown_index("family_ohm")],
                setup.family_beta_k[0] + setup.family_beta_k[1] * z[:, unknown_index("family_beta")])
        at_25 = model.table.ln_ohm(1.0 / T25_K, *args)
        at_85 = model.table.ln_ohm(1.0 / (85.0 + KELVIN), *args)
        out["curve_ohm_25"] = Interval(*quantiles(np.exp(at_25), weight, points), "ohm")
        beta = (at_25 - at_85) / (1.0 / T25_K - 1.0 / (85.0 + KELVIN))
        out["curve_beta"] = Interval(*quantiles(beta, weight, points), "K")
    return out


def _because(belief: Belief, order: list[int], slips: np.ndarray, chances: dict[str, float]) -> tuple[Because, ...]:
    """Each reading left out in turn: what the others made each location expect, and how well that was met."""
    readings, model = belief.evidence.readings, belief.model
    if not readings:
        return ()
    ranked = sorted(chances, key=lambda k: (-round(chances[k], 9), k))
    named = sorted(n for i, n in enumerate(ranked) if chances[n] >= NAMED_ABOVE or i < NAMED_AT_LEAST)
    parts = []
    for group in belief.groups:
        shown = belief.evidence.shown(group.share, group.z, group.rows)
        parts.append((group, shown, group.weight * belief.chance[group.rows][:, None]))
    out = []
    for r, reading in enumerate(readings):
        test = belief.evidence.tests[r]
        expected, score = {}, {}
        for name in named:
            value, without, predictive = _left_out(parts, model, r, name, test.measures)
            score[name] = predictive
            if test.measures == "good":
                expected[name] = "good" if predictive >= np.log(0.5) and reading.good else "either"
            elif value is not None:
                low, high = quantiles(value, without, (0.05, 0.95))
                expected[name] = (low, high)
        mean = {n: _mean_of_others(score, chances, n) for n in named}
        out.append(Because(order[r], reading.test, expected, test.unit, {n: score[n] - mean[n] for n in named},
                           bool(slips[r] <= SLIP_ABOVE)))
    return tuple(sorted(out, key=lambda b: b.reading))


def _left_out(parts: list, model: object, r: int, name: str,
              measures: str) -> tuple[np.ndarray | None, np.ndarray, float]:
    """Predictions (n,) and weights (n,) of a location without reading r, and the log density it gave that reading."""
    values, weights, total, inverse = [], [], 0.0, 0.0
    for group, shown, weight in parts:
        mine = model.locations[group.rows] == name
        if not mine.any():
            continue
        without = weight[mine] * np.exp(-group.by_reading[r][mine])
        total += weight[mine].sum()
        inverse += without.sum()
        value = {"volts": shown.nodes.plug_v[r] - shown.nodes.return_v[r], "sensor-ohms": shown.sensor_ohm[r],
                 "return-ohms": np.broadcast_to(shown.return_ohm, group.share.shape)}.get(
                     measures, np.clip(shown.temperature_c[r], -40.0, 215.0))
        values.append(value[mine].ravel())
        weights.append(without.ravel())
    predictive = float(np.log(max(total, 1e-300)) - np.log(max(inverse, 1e-300)))
    if not values:
        return None, np.zeros(0), predictive
    return np.concatenate(values), np.concatenate(weights), predictive


def _mean_of_others(score: dict[str, float], chances: dict[str, float], name: str) -> float:
    others = [n for n in score if n != name]
    if not others:
        return score[name]
    # Ruled-out locations still count a little: they are what the reading spoke against.
    share = {n: max(chances[n], 1e-9) for n in others}
    return float(np.log(sum(share[n] * np.exp(score[n]) for n in others) / sum(share.values())))
