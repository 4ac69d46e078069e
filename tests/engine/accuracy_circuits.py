"""Owns the circuit, faults and tests that the accuracy proofs share, and readings simulated from the engine's own physics.

The values are made up to cover every effect and every kind of test; they stand apart from the knowledge on purpose, so
that editing the knowledge never moves these proofs.
"""

import numpy as np

from engine.chances import spread_of
from engine.circuit import InputCircuit
from engine.curves import Curve
from engine.faults import FaultKind
from engine.likelihood import Evidence
from engine.model import Model, Setup
from engine.procedures import TestKind
from engine.readings import Reading
from engine.stand_in import Meter, StandIn

# id, location, effect, chance, severity low and high, unit.
_FAULTS = (
    ("sensor-open", "sensor", "sensor-series-ohm", 0.08, 1e6, 1e9, "ohm"),
    ("sensor-shorted", "sensor", "sensor-parallel-ohm", 0.05, 0.1, 5.0, "ohm"),
    ("sensor-high", "sensor", "sensor-factor", 0.07, 1.15, 4.0, "factor"),
    ("sensor-low", "sensor", "sensor-factor", 0.05, 0.25, 0.87, "factor"),
    ("sensor-wrong", "sensor", "sensor-wrong-curve", 0.05, 0.2, 5.0, "factor"),
    ("plug-contact", "plug", "plug-series-ohm", 0.14, 30.0, 1e6, "ohm"),
    ("plug-open", "plug", "plug-series-ohm", 0.08, 1e6, 1e9, "ohm"),
    ("signal-open", "signal", "signal-series-ohm", 0.05, 1e6, 1e9, "ohm"),
    ("signal-added", "signal", "signal-series-ohm", 0.03, 20.0, 1e5, "ohm"),
    ("signal-to-ground", "signal", "signal-leak-ground-ohm", 0.03, 0.5, 1e5, "ohm"),
    ("signal-to-battery", "signal", "signal-leak-battery-ohm", 0.01, 10.0, 3e5, "ohm"),
    ("return-open", "return", "return-series-ohm", 0.04, 1e6, 1e9, "ohm"),
    ("return-added", "return", "return-series-ohm", 0.04, 10.0, 1e5, "ohm"),
    ("return-raised", "return", "return-raised-v", 0.02, 0.1, 1.5, "V"),
    ("input-low", "module", "input-ohm-factor", 0.01, 0.3, 0.87, "factor"),
    ("input-high", "module", "input-ohm-factor", 0.01, 1.15, 3.0, "factor"),
    ("supply-low", "supply", "supply-factor", 0.03, 0.5, 0.93, "factor"),
    ("frozen", "module", "reading-frozen", 0.02, -40.0, 150.0, "degC"),
    ("true", "none", "temperature-true", 0.12, -60.0, 90.0, "degC"),
    ("unit", "set-up", "unit-mistaken", 0.02, None, None, ""),
    ("kilohm", "set-up", "kilohm-mistaken", 0.02, None, None, ""),
    ("beside", "set-up", "stand-in-beside", 0.02, None, None, ""),
    ("plug-loose", "plug", "plug-series-ohm", 0.02, 1e6, 1e9, "ohm"),
    ("signal-loose", "signal", "signal-series-ohm", 0.02, 1e6, 1e9, "ohm"),
)
# id, element, to, measures, minutes, state.
_TESTS = (
    ("look", "none", "", "good", 2.0, "plugged-key-on"),
    ("as-found", "sensor", "return", "shows", 1.0, "plugged-key-on"),
    ("unplugged", "open", "return", "shows", 2.0, "unplugged-key-on"),
    ("shorted", "short", "return", "shows", 2.0, "unplugged-key-on"),
    ("substitute", "stand-in", "return", "shows", 4.0, "unplugged-key-on"),
    ("substitute-to-chassis", "stand-in", "chassis", "shows", 4.0, "unplugged-key-on"),
    ("substitute-at-module", "stand-in", "module", "shows", 15.0, "module-key-on"),
    ("return-ohms", "none", "return", "return-ohms", 4.0, "unplugged-key-off"),
    ("sensor-ohms", "sensor", "", "sensor-ohms", 4.0, "unplugged-key-off"),
    ("plug-volts", "open", "return", "volts", 3.0, "unplugged-key-on"),
)
CURVE = Curve("usual", "usual", ((20.0, 2500.0), (80.0, 330.0)))
OTHER_CURVES = (Curve("lower", "lower", ((20.0, 2060.0), (80.0, 300.0))),
                Curve("higher", "higher", ((20.0, 3400.0), (100.0, 185.0))))
SURROUNDINGS_C = 21.0


def fault(fault_id: str) -> FaultKind:
    """The fault kind of that id."""
    name, location, effect, chance, low, high, unit = next(f for f in _FAULTS if f[0] == fault_id)
    return FaultKind(name, location, "", effect, chance, low, high, unit, intermittent=name.endswith("-loose"))


def tests() -> tuple[TestKind, ...]:
    """All test kinds; the look at the plug finds most bad contacts."""
    seen = (("plug-contact", 0.7), ("plug-open", 0.6), ("plug-loose", 0.5))
    return tuple(TestKind(name, "", element, to, measures, minutes, state, bad=seen if measures == "good" else ())
                 for name, element, to, measures, minutes, state in _TESTS)


def setup(known: bool = True, faults: tuple[str, ...] = (), signs: tuple[str, ...] = (),
          surroundings_c: float | None = SURROUNDINGS_C, bits: int | None = 10, default_c: float | None = None) -> Setup:
    """A job's set-up: input and curve `known`, or neither (three curves and the family); all faults unless named."""
    ids = faults or tuple(f[0] for f in _FAULTS)
    curves = ((CURVE, 1.0),) if known else ((CURVE, 0.3), *((c, 0.2) for c in OTHER_CURVES))
    return Setup(
        InputCircuit(5.0, 0.0, 2200.0 if known else None, 5.0, None, None, bits, 0.1, 4.9, default_c, 12.6),
        curves, 0.0 if known else 0.3, (float(np.log(2200.0)), 0.6), (3800.0, 200.0),
        StandIn("potentiometer", 9400.0, 1.0, 0.2), Meter(), surroundings_c, signs,
        tuple(fault(i) for i in ids), tests())


# The order a technician might test in, with what is put on the plug.
ROUND = (("as-found", None), ("unplugged", None), ("shorted", None), ("substitute", 330.0), ("substitute", 2500.0),
         ("plug-volts", None), ("substitute-to-chassis", 330.0), ("sensor-ohms", None), ("return-ohms", None),
         ("substitute-at-module", 330.0))


def simulated(model: Model, seed: int, steps: tuple[tuple[str, float | None], ...]) -> tuple[int, tuple[Reading, ...]]:
    """A vehicle drawn from `model` before measuring: the true row and what `steps` (test, ohms on the plug) would read."""
    rng = np.random.default_rng(seed)
    row = int(rng.choice(len(model), p=np.exp(model.ln_chance)))
    rows = np.array([row])
    share, z = rng.random((1, 1)), rng.standard_normal((1, 1, 11))
    at = (SURROUNDINGS_C, "degC")
    asked = tuple(Reading(test, ohm=ohm, at=at if test == "sensor-ohms" else None) for test, ohm in steps)
    evidence = Evidence(model, asked)
    picked = model.pick(rows)
    frozen = float(model.severity(share, rows)[0, 0]) if len(picked.having("reading-frozen")) else np.nan
    out = []
    for i, reading in enumerate(asked):
        # What comes and goes shows itself in about one reading of four.
        shown = evidence.shown(share, z, rows, bool(rng.random() > 0.25) and model.kinds[row].intermittent)
        measures, place = evidence.tests[i].measures, evidence.hooked.place.get(i)
        if measures == "shows":
            seen = (float(part[place, 0, 0]) for part in (shown.value, shown.slope, shown.share))
            spread = spread_of(model.circuit.job[0], model.circuit.rows[row], bool(evidence.hooked.hook.dialled[place]), *seen)
            number = float(shown.value[place, 0, 0]) + min(spread, 10.0) * rng.standard_normal()
            number = float(np.clip(round(number), -40, 150)) if np.isnan(frozen) else float(round(frozen))
            typed = {"shows": number, "unit": "degC"}
        elif measures == "volts":
            volts = float(shown.volts("volts-return", place)[0, 0])
            typed = {"signal_to_return_v": round(volts + 0.015 * rng.standard_normal(), 2)}
        else:
            ohm = float(shown.sensor_at(place)[0, 0] if measures == "sensor-ohms" else shown.return_ohm[0, 0])
            noisy = max(ohm * np.exp(0.008 * rng.standard_normal()), 0.1)
            typed = {"ohms": "open" if noisy > 4e6 else float(f"{noisy:.3g}")}
        out.append(Reading(reading.test, ohm=reading.ohm, at=reading.at, **typed))
    return row, tuple(out)
