"""Owns reasons: what each reading says for and against locations, and what the readings taught about the circuit."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from engine.belief import Belief, Few
from engine.curves import KELVIN, T25_K
from engine.faults import HARNESS_SIDE
from engine.model import Model
from engine.packed import OF
from engine.points import Shown
from engine.procedures import AMMETER_OHM, MAIN_VOLTS, TestKind
from engine.quantities import Quantity
from engine.ranked import quantiles
from engine.three_wire import OF3
from engine.unknowns import Z

# With these the wiring or the input is not what it was made.
NOT_IN_ORDER = (*HARNESS_SIDE, "input-ohm-factor", "supply-factor", "input-offset-v", "switching-dead")
# A reading is a slip from this chance on; locations named are those above this one, and so many in any case.
SLIP_ABOVE, NAMED_ABOVE, NAMED_AT_LEAST = 0.5, 0.01, 4


@dataclass(frozen=True)
class Interval:
    """5 %, 50 % and 95 % points in `unit`."""

    low: float
    mid: float
    high: float
    unit: str


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


class Behind(NamedTuple):
    """What reasons are given from: the belief, the readings' order (r,) as typed, how likely each is a slip (r,), a few samples, and
    the log likelihood (r, n, s) of each reading on them."""

    belief: Belief
    order: list[int]
    slips: np.ndarray
    samples: Few
    by_reading: np.ndarray


def taught(behind: Behind) -> dict[str, Interval]:
    """What the readings taught about the circuit: input resistor, open volts, the curve's 25 degC value and beta.

    Ohms in a wire look just like ohms in the input; where wiring and input
    are more likely in order than not, they are taken to be.
    """
    belief, samples = behind.belief, behind.samples
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


def said(behind: Behind, chances: dict[str, float]) -> tuple[Because, ...]:
    """Each reading left out in turn: what the others made each location expect, and how well that was met."""
    belief, order, slips, samples, by_reading = behind
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
