"""Owns how many draws rows get at first and how many independent ones they must be worth, by the chance of their fault."""

import numpy as np

from engine.model import Model

# Draws of one fault at first, shared among its curves, and how many independent ones they must be worth: by the fault's
# chance, as far as it is known from the fit, and afterwards. Rows of no account get the least, but no fault so few that what a
# fit has missed, and one draw in a hundred finds, stays unseen.
FIRST = ((0.2, 4096), (0.05, 1024), (0.009, 640), (0.0, 512))
WANTED = ((0.2, 1000.0), (0.05, 480.0), (0.009, 450.0), (0.0, 0.0))
LEAST_SAMPLES = 32


class Wanted:
    """What rows of a `model` want to be worth, as far as the log evidence (f,) of all of them is known."""

    def __init__(self, model: Model, ln_evidence: np.ndarray) -> None:
        self._model, self._ln = model, ln_evidence.copy()
        self._known: tuple[np.ndarray, np.ndarray] | None = None

    def told(self, rows: np.ndarray, ln_evidence: np.ndarray) -> None:
        """The log evidence (n,) of `rows` (n,) is known better."""
        self._ln[rows], self._known = ln_evidence, None

    def of(self, rows: np.ndarray) -> np.ndarray:
        """How many samples (n,) `rows` (n,) want to be worth."""
        if self._known is None:
            chance = normalised(self._ln + self._model.ln_chance)
            self._known = chance, fault_chance(self._model, chance, np.arange(len(chance)))
        own, total = (values[rows] for values in self._known)
        # Together they are worth what the fault wants when each curve has its part of it.
        return _by_chance(WANTED, total) * own / np.maximum(total, 1e-300)


def first_counts(model: Model, chance: np.ndarray, rows: np.ndarray) -> np.ndarray:
    """Draws (n,) of each of `rows` at first: a fault's are shared by the `chance` (f,) of its curves."""
    total = fault_chance(model, chance, rows)
    wanted = _by_chance(FIRST, total) * chance[rows] / np.maximum(total, 1e-300)
    return LEAST_SAMPLES * np.ceil(np.maximum(wanted, 1.0) / LEAST_SAMPLES).astype(int)


def fault_chance(model: Model, chance: np.ndarray, rows: np.ndarray) -> np.ndarray:
    """Chance (n,) of each row's whole fault, of what is among `rows` (n,)."""
    return np.bincount(model.fault[rows], weights=chance[rows], minlength=len(model.setup.faults))[model.fault[rows]]


def normalised(ln: np.ndarray) -> np.ndarray:
    """Chances (n,) of log weights (n,)."""
    weight = np.exp(ln - ln.max())
    return weight / weight.sum()


def _by_chance(table: tuple[tuple[float, float], ...], chance: np.ndarray) -> np.ndarray:
    above, count = np.array(table[::-1]).T
    return count[np.searchsorted(above, chance, side="right") - 1]
