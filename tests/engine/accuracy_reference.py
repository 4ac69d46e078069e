"""Owns the plain Monte Carlo reference: ten million vehicles drawn before measuring, weighed by the likelihood alone.

`python tests/engine/accuracy_reference.py` (from the project's root) computes it anew, in a few minutes on two cores,
and writes accuracy_reference.json beside this file. To be run again whenever the likelihood or the circuit changes;
the tests tell.
"""

import json
import os
import platform
import sys
from concurrent.futures import ProcessPoolExecutor
from datetime import date
from pathlib import Path

import numpy as np

if __name__ == "__main__":
    from accuracy_circuits import setup
else:
    from .accuracy_circuits import setup
from engine.likelihood import Evidence
from engine.model import Model, Setup, canonical
from engine.batches import lattice
from engine.readings import Reading as R
from engine.unknowns import Z_NAMES

FILE = Path(__file__).with_suffix(".json")
DRAWS, CHUNK = 10_000_000, 16_384
# name: set-up, readings, seed.
CASES = {
    "known input and curve": (
        setup(signs=("implausible",)),
        (R("as-found", shows=9.0), R("unplugged", shows=-40.0), R("substitute", ohm=330.0, shows=(75.0, 79.0))), 20261101),
    "cold end and a jump": (
        setup(surroundings_c=None, default_c=-40.0),
        (R("look", good=True), R("as-found", shows="jumps"), R("as-found", shows=-40.0),
         R("shorted", shows="maximum")), 20261102),
    "unknown input and curve": (
        setup(known=False, signs=("reads-cold",)),
        (R("as-found", shows=(2.0, 8.0)), R("unplugged", shows=-40.0),
         R("substitute", ohm=2500.0, shows=(8.0, 16.0))), 20261103),
}


def fingerprint(made: Setup, readings: tuple[R, ...]) -> float:
    """A number that moves with the likelihood: the mean of its log over a few fixed points of every row."""
    model = Model(made)
    evidence = Evidence(model, canonical(readings))
    points = lattice(32, 1 + len(Z_NAMES))
    share = np.repeat(points[None, :, 0], len(model), axis=0)
    z = np.repeat(4.0 * points[None, :, 1:] - 2.0, len(model), axis=0)
    rows = np.arange(len(model))
    return float(evidence.weigh(share, z, rows).mean())


def plain_monte_carlo(name: str) -> dict:
    """Location chances of one case with their own standard errors, and the effective number of draws."""
    made, readings, seed = CASES[name]
    model = Model(made)
    evidence = Evidence(model, canonical(readings))
    rng = np.random.default_rng(seed)
    counts = rng.multinomial(DRAWS, np.exp(model.ln_chance) / np.exp(model.ln_chance).sum())
    total, square = np.zeros(len(model)), np.zeros(len(model))
    for row, count in enumerate(counts):
        for start in range(0, count, CHUNK):
            shape = (1, min(CHUNK, count - start))
            share, z = rng.random(shape), rng.standard_normal((*shape, len(Z_NAMES)))
            rows = np.array([row])
            ln = evidence.weigh(share, z, rows)
            weight = np.exp(ln)
            total[row] += weight.sum()
            square[row] += np.square(weight).sum()
    all_weight = total.sum()
    locations, errors = {}, {}
    for place in np.unique(model.locations):
        mine = model.locations == place
        p = total[mine].sum() / all_weight
        # Error of a ratio of two sums over the same draws.
        spread = np.sqrt(square[mine].sum() * (1.0 - p)**2 + square[~mine].sum() * p**2) / all_weight
        locations[str(place)], errors[str(place)] = float(p), float(spread)
    return {"seed": seed, "draws": DRAWS, "locations": locations, "standard_error": errors,
            "effective_draws": float(all_weight**2 / square.sum()), "fingerprint": fingerprint(made, readings)}


def main() -> None:
    """Computes all cases and stores them with date and machine."""
    with ProcessPoolExecutor(min(2, os.cpu_count() or 1)) as pool:
        cases = dict(zip(CASES, pool.map(plain_monte_carlo, CASES), strict=True))
    made = {"made": date.today().isoformat(), "cores": os.cpu_count(), "python": platform.python_version(),
            "numpy": np.__version__, "cases": cases}
    FILE.write_text(json.dumps(made, indent=1) + "\n", encoding="utf-8")
    for name, case in cases.items():
        sys.stdout.write(f"{name}: {case['effective_draws']:.0f} effective draws, "
                         f"standard error at most {max(case['standard_error'].values()):.5f}\n")


if __name__ == "__main__":
    main()
