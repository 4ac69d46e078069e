"""Jobs whose truth and readings come from the tool's own chances: what the claims of a belief are held against.

Everything is drawn from the engine's own model: a row (a fault on a candidate curve) by its chance and the complaint's
sign, the severity and all unknowns as they are before measuring, and each typed value from the engine's density of it
given that truth (converter, whole degrees, ends, default, meter, slips, faults that come and go). So a claim of 0.8
must be so in 80 of 100 jobs; whether the engine's physics is right is for the foreign vehicles to say.
"""

import copy
from dataclasses import dataclass
from functools import cache

import numpy as np

from engine.likelihood import Evidence
from engine.model import canonical
from engine.procedures import MA_FLOOR
from engine.readings import HOTTEST_SHOWN_C, Reading
from engine.terms import own_number, stood
from engine.units import from_degc
from engine.unknowns import Z_NAMES
from engine.void import SAME_WITHIN

COMPLAINTS = {
    "coolant-temperature": ("P0118", "P0117", "P0116"),
    "intake-air-temperature": ("P0113", "P0112", "P0111"),
    "ambient-temperature": ("P0073", "P0072", "P0071"),
    "evaporator-temperature": ("P0538", "P0537", "P0536"),
}
TRIES = 256
BACK_PROBED = 0.3
THERMOMETER_HELD = 0.7
# Every value that could be typed: whole numbers of live data, and steps of little more than a meter's standard
# deviation (even then a normal density adds up to the same wherever it lies on the grid, to a part in a thousand).
AT = {"degC": np.arange(-60.0, 140.0, 0.5), "percent": np.arange(0.0, 100.5, 0.5)}
VOLT_STEP, LN_OHM_STEP = 0.018, 0.008
OHMS = np.exp(np.arange(np.log(0.03), np.log(2e7), LN_OHM_STEP))
VOLTS = np.arange(-1.0, 31.0, VOLT_STEP)
MA_STEP = 0.01
MILLIAMPERES = MA_FLOOR * np.sinh(np.arange(-np.arcsinh(300.0 / MA_FLOOR), np.arcsinh(300.0 / MA_FLOOR), MA_STEP))
# Densities of ohms are of ln(ohm + floor): what leads and contacts leave open.
FLOOR_OHM = {"sensor-ohms": 0.4, "return-ohms": 1.0}
# Far from where the engine predicts a value only its slips lie, evenly: every so many steps are enough there. Should
# most of the density lie elsewhere after all, all steps are taken.
NEAR_SHARE, NEAR_V, COARSE, MOSTLY = 0.12, 1.6, 16, 0.5


@dataclass(frozen=True)
class Truth:
    """What really is so: `row` of the job's model, severity `share` (1, 1) of its range, unknowns `z` (1, 1, z)."""

    row: int
    share: np.ndarray
    z: np.ndarray

    def severity(self, model):
        """Severity in the fault's own unit."""
        return float(model.severity(self.share, np.array([self.row]))[0, 0])


@cache
def sensors(kb):
    """Ids of the sensor kinds a resistor may replace; three-wire kinds are no matter of this bench."""
    return tuple(entry.id for entry in kb.entries()
                 if entry.kind == "sensor" and kb.refusal(entry.id) is None and not kb.lines(entry.id))


def draw_job(kb, sensor, told, rng):
    """A job on a sensor kind with a circuit as the knowledge lists them, told or not, and with or without a complaint."""
    circuit = {}
    if told:
        inputs, curves = kb.inputs(sensor), kb.curves(sensor)
        chosen = inputs[int(rng.integers(len(inputs)))]
        circuit = {"reference_v": chosen.reference_v, "open_v": chosen.open_v, "short_v": chosen.short_v,
                   "pull_up_ohm": chosen.pull_up_ohm, "curve": curves[int(rng.integers(len(curves)))].id}
        if rng.random() < 0.7:
            circuit["bits"] = int(rng.choice([8, 10, 12]))
        if rng.random() < 0.5:
            circuit |= {"low_limit_v": 0.15, "high_limit_v": 4.85 if (chosen.open_v or 5.0) > 4.9 else None}
    complaints = COMPLAINTS.get(sensor, ())
    complaint = (str(rng.choice(complaints)),) if complaints and rng.random() < 0.5 else ()
    around = {"value": round(float(rng.uniform(-5.0, 35.0)), 1), "unit": "degC"} if rng.random() < 0.8 else None
    if kb.sensor(sensor).quantity == "level":
        around = None
    stand_in = {"kind": "potentiometer", "end_to_end_ohm": round(float(rng.uniform(9000.0, 11000.0))), "turns": 1}
    return kb.job(sensor, complaint=complaint, circuit=circuit, stand_in=stand_in, surroundings=around)


def draw_truth(job, rng, fault=None):
    """A Truth by the job's chances before measuring, its complaint counted; of one `fault` id where given."""
    model = job.model
    chance = np.exp(model.ln_chance)
    if fault is not None:
        chance = chance * np.array([kind.id == fault for kind in model.kinds])
    rows = np.sort(rng.choice(len(model), size=TRIES, p=chance / chance.sum()))
    share, z = rng.random((TRIES, 1)), rng.standard_normal((TRIES, 1, len(Z_NAMES)))
    # The complaint makes some truths likelier: one of many drawn before it, by how well each explains it.
    fit = np.exp(Evidence(model, ()).weigh(share, z, rows)[:, 0])
    chosen = int(rng.choice(TRIES, p=fit / fit.sum()))
    return Truth(int(rows[chosen]), share[[chosen]], z[[chosen]])


def typed(job, truth, test, ohm, rng):
    """What is typed after `test` (a TestKind), as keyword arguments of the job's record()."""
    takes, fields = test.takes, {} if ohm is None else {"ohm": ohm}
    if test.measures == "good":
        return {"good": bool(rng.random() < _chance(job, truth, test, fields, "good", (True,))[0])}
    if "at" in takes and (test.needs == "at" or (test.measures == "sensor-ohms" and rng.random() < THERMOMETER_HELD)):
        unit = job.setup.quantity.unit
        at = _draw(job, truth, test, fields, "at", tuple((float(t), unit) for t in AT[unit]), np.ones(len(AT[unit])), rng)
        fields["at"] = at
    if test.measures in ("shows", "sweep"):
        fields |= _shown(job, truth, test, fields, rng)
    if "ohms" in takes:
        fields["ohms"] = _ohms(job, truth, test, fields, rng)
    for name in ("signal_to_return_v", "signal_to_battery_v"):
        if name in takes and (test.measures == "volts" or (name == "signal_to_return_v" and test.element == "stand-in"
                                                           and rng.random() < BACK_PROBED)):
            fields[name] = round(_draw_near(job, truth, test, fields, name, VOLTS, np.full(len(VOLTS), VOLT_STEP), rng), 3)
    if "signal_ma" in takes:
        fields["signal_ma"] = _draw(job, truth, test, fields, "signal_ma", MILLIAMPERES, np.full(len(MILLIAMPERES), MA_STEP), rng)
    if "at" in fields:
        fields["at"] = {"value": fields["at"][0], "unit": fields["at"][1]}
    return fields


def numbers_shown(scale, mistaken=False):
    """Every whole number that could be typed of live data, where the unit is `mistaken` throughout those of the other one."""
    return np.arange(scale.low_end, (min(from_degc(scale.high_end, "degF"), HOTTEST_SHOWN_C) if mistaken else scale.high_end) + 1.0)


def _shown(job, truth, test, fields, rng):
    unit, shown = job.setup.quantity.unit, numbers_shown(job.setup.quantity, job.model.kinds[truth.row].id == "wrong-unit")
    fields = {**fields, "unit": unit}
    if rng.random() < _chance(job, truth, test, fields, "shows", ("not-available",))[0]:
        return {"shows": "not-available"}
    if test.measures != "sweep":
        return {"unit": unit, "shows": _draw(job, truth, test, fields, "shows", shown, np.ones(len(shown)), rng)}
    if rng.random() < _chance(job, truth, test, fields, "shows", ("did-not-move",))[0]:
        return {"shows": "did-not-move"}
    # The engine reads a sweep's first end only; the other is as far as any number goes.
    ends = tuple((float(low), float(shown[-1])) for low in shown)
    return {"unit": unit, "shows": _draw(job, truth, test, fields, "shows", ends, np.ones(len(ends)), rng)}


def _ohms(job, truth, test, fields, rng):
    if rng.random() < _chance(job, truth, test, fields, "ohms", ("open",))[0]:
        return "open"
    width = LN_OHM_STEP * OHMS / (OHMS + FLOOR_OHM[test.measures])
    return _draw_near(job, truth, test, fields, "ohms", OHMS, width, rng)


def _draw_near(job, truth, test, fields, name, values, width, rng):
    """As _draw, looking closely only where the engine predicts the value."""
    near = np.zeros(len(values), bool)
    for centre in _centres(job, truth, test, fields, name):
        near |= np.abs(values - centre) < (NEAR_V if name.startswith("signal") else NEAR_SHARE * (centre + 4.0 * max(FLOOR_OHM.values())))
    keep = near | (np.arange(len(values)) % COARSE == 0)
    weight = _chance(job, truth, test, fields, name, tuple(values[keep])) * np.where(near, width, COARSE * width)[keep]
    if weight.sum() < MOSTLY:
        return _draw(job, truth, test, fields, name, values, width, rng)
    return float(values[keep][int(rng.choice(keep.sum(), p=weight / weight.sum()))])


def _centres(job, truth, test, fields, name):
    """Where the engine predicts a value: its fault there or away for now, ohms also a thousand times off."""
    # Any number stands for the one looked for, so that its meter is on.
    evidence, rows = Evidence(job.model, (Reading(test.id, **fields, **{name: 1.0}),)), np.array([truth.row])
    out, place = [], evidence.hooked.place.get(0)
    for healthy in (False, job.model.kinds[truth.row].intermittent):
        shown = evidence.shown(truth.share, truth.z, rows, healthy)
        value = {"signal_to_return_v": lambda s: s.volts("volts-return", place),
                 "signal_to_battery_v": lambda s: s.volts("volts-battery", place),
                 "ohms": lambda s: s.sensor_at(place) if test.measures == "sensor-ohms" else s.return_ohm}[name](shown)
        centre = float(np.ravel(value)[0])
        out += [centre] if name != "ohms" else [centre, centre / 1000.0, centre * 1000.0]
    return out


def _draw(job, truth, test, fields, name, values, width, rng):
    """One of `values` for the field `name`, by the engine's density times `width`."""
    values = values if isinstance(values, tuple) else tuple(float(v) for v in values)
    weight = _chance(job, truth, test, fields, name, values) * width
    return values[int(rng.choice(len(values), p=weight / weight.sum()))]


def _chance(job, truth, test, fields, name, values):
    """The engine's density (n,) of each of `values` in field `name`, given the truth and the fields already typed."""
    readings = (*(Reading(test.id, **{**fields, name: value}) for value in values), Reading(test.id, **fields))
    jobs = _uncontradicted(readings) if name == "ohms" else (readings,)
    before = Evidence(job.model, canonical(job.readings))
    ln = np.concatenate([_ln_by_reading(job, truth, together, before) for together in jobs])
    return np.exp(ln[:-1] - ln[-1])


def _uncontradicted(readings):
    """`readings` of ascending ohms in groups: two ohms of one thing far apart contradict each other, and a job would ask for
    both again."""
    groups = []
    for reading in readings:
        first = groups[-1][0].ohms if groups else None
        if isinstance(first, float) and isinstance(reading.ohms, float) and reading.ohms <= first * SAME_WITHIN:
            groups[-1] += (reading,)
        else:
            groups.append((reading,))
    return groups


def _as_if(evidence, **what):
    """The same evidence with `what` (its own attributes) as if it were so."""
    out = copy.copy(evidence)
    vars(out).pop("typed", None)
    vars(out).update(what)
    return out


def _ln_by_reading(job, truth, readings, before):
    """The engine's log density (n,) of each of several readings together with what the job's readings showed, `before`, given the
    truth."""
    out, ln_of_had = np.empty(len(readings)), {}
    for own, mine in _by_own_number(job, readings, before).items():
        evidence = Evidence(job.model, tuple(readings[i] for i in mine))
        # All that could be typed stands here side by side: each by itself is beside the numbers had, where it may show an end once
        # more, go beyond one, or be what a module shows of its own.
        shown, had = {term.reading: term for term in evidence.stood}, tuple(before.stood)
        evidence = _as_if(evidence, default=own[0], default_share=own[1],
                          stood={term: stood(term, (*had, term), evidence.scale) for term in shown.values()})
        out[mine] = evidence.by_reading(truth.share, truth.z, np.array([truth.row]))[0][:, 0, 0]
        for k, i in enumerate(mine):
            terms = (*had, shown[k]) if k in shown else had
            counts = tuple(stood(one, terms, before.scale) for one in had)
            if (own, counts) not in ln_of_had:
                there = _as_if(before, default=own[0], default_share=own[1], stood=dict(zip(had, counts, strict=True)))
                ln_of_had[own, counts] = float(there.by_reading(truth.share, truth.z, np.array([truth.row]))[0].sum())
            out[i] += ln_of_had[own, counts]
    return out


def _by_own_number(job, readings, before):
    """Which of `readings` (indices) make each number the module's own, beside those `before`: {(number, how surely): [index, ...]}."""
    evidence, out = Evidence(job.model, readings), {}
    shown = {term.reading: term for term in evidence.stood}
    for i, test in enumerate(evidence.tests):
        one = (shown[i]._replace(reading=len(before.tests)),) if i in shown else ()
        own = own_number((*before.terms, *one), (*before.tests, test), evidence.model.setup.circuit.default_c, evidence.scale)
        out.setdefault(own, []).append(i)
    return out
