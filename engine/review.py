"""Owns the review of a sensor kind: how much substitution alone detects and places, before anything is measured."""

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from engine.belief import believe
from engine.faults import LOCATIONS
from engine.information import Candidate, forecast
from engine.model import Setup
from engine.three_wire_model import model_of

SETTINGS_AT_C = (20.0, 80.0)
DIVIDED = (("divide", 0.3), ("divide", 0.7), ("substitute-to-chassis", 0.5), ("feed-through", None))


class Review(NamedTuple):
    """Shares (0..1) of the chance of a fault that substitution alone detects, and places in one location."""

    detected: float
    placed: float


def review(setup: Setup) -> Review:
    """Detected and placed shares for stand-ins at the plug alone, in the sense of IEEE 1522 fractions (simplified).

    As found, unplugged, shorted, and two substitutions to the return and one
    to the chassis are taken together. A fault is detected as far as its
    outcomes do not overlap with those of a vehicle in order, and placed as far
    as they do not overlap with those of a fault elsewhere; each outcome's
    chances come from the engine, none is typed.
    """
    # Detection is against a vehicle in order at the surroundings' temperature, not against any true reading.
    usual = 20.0 if setup.three_wire is None else setup.three_wire.rest[0]
    setup = replace(setup, signs=(), surroundings_c=setup.surroundings_c if setup.surroundings_c is not None else usual,
                    faults=tuple(replace(f, effect="none", severity_low=None, severity_high=None)
                                 if f.effect == "temperature-true" else f for f in setup.faults))
    belief = believe(model_of(setup), ())
    curve = setup.curves[0][0] if setup.curves else None
    ohms = [float(curve.ohm_at(t)) for t in SETTINGS_AT_C] if curve else [2500.0, 330.0]
    kinds = {t.id: t for t in setup.tests}
    wanted = [Candidate(kinds[name], None) for name in ("as-found", "unplugged", "shorted") if name in kinds]
    wanted += [Candidate(kinds["substitute"], ohm) for ohm in ohms if "substitute" in kinds]
    if setup.three_wire is not None:
        wanted += [Candidate(kinds[name], None, ratio) for name, ratio in DIVIDED if name in kinds]
    elif "substitute-to-chassis" in kinds:
        wanted.append(Candidate(kinds["substitute-to-chassis"], ohms[-1]))
    ahead = forecast(belief, tuple(wanted))
    # Overlap of two rows over all tests together: product of Bhattacharyya coefficients, 1 when nothing tells them apart.
    root = np.sqrt(ahead.outcome)
    overlap = np.prod(np.einsum("tfo,tgo->tfg", root, root), axis=0)
    healthy = ahead.locations == LOCATIONS.index("none")
    faulty = ~healthy & (ahead.locations != LOCATIONS.index("set-up"))
    chance = np.where(faulty, ahead.chance, 0.0)
    chance /= chance.sum()
    detected = 1.0 - (overlap[:, healthy].max(axis=1) if healthy.any() else np.zeros(len(overlap)))
    elsewhere = ahead.locations[:, None] != ahead.locations[None, :]
    confused = np.where(elsewhere & faulty[None, :], overlap, 0.0).max(axis=1)
    placed = np.minimum(detected, 1.0 - confused)
    return Review(float((chance * detected).sum()), float((chance * placed).sum()))
