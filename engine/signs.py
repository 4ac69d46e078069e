"""Owns what the complaint says before any reading: a code's or a driver's sign, turned into chances per fault."""

import numpy as np

from engine.faults import CONTACTS, FaultKind

# A code was set at some earlier temperature; these two stand for cold and warm.
SIGN_AT_C = (10.0, 85.0)
PLAUSIBLE_WITHIN_C = 7.0
# How often a sign appears where the fault would cause it, and where it would not (common practice, no source).
SET, UNSET = 0.9, 0.03
# A true reading, a frozen number and a set-up mistake bring their own odds of each sign.
_TRUE = {"signal-high": 0.02, "signal-low": 0.02, "implausible": 0.25, "intermittent": 0.03, "reads-cold": 0.45,
         "reads-hot": 0.45, "stuck": 0.05, "general": 0.1}
_FROZEN = {"signal-high": 0.1, "signal-low": 0.1, "implausible": 0.6, "intermittent": 0.03, "reads-cold": 0.4,
           "reads-hot": 0.4, "stuck": 0.9, "general": 0.4}
# A set-up mistake does not set a circuit code; a complaint of a wrong number may well have been one.
_SET_UP = {"signal-high": 0.06, "signal-low": 0.06, "intermittent": 0.06}
_SET_UP_OTHER = 0.3
# What comes and goes mostly brings its own sign; another sign alone speaks for it less.
_COMES_AND_GOES = 0.08


def sign_likelihood(signs: tuple[str, ...], kinds: tuple[FaultKind, ...], temperature_c: np.ndarray,
                    outside: np.ndarray, high_side: np.ndarray) -> np.ndarray:
    """Log chance (f, s) of the complaint's `signs` under each row.

    `temperature_c`, `outside` (chance out of limits) and `high_side` have
    shape (2, f, s): the sensor at SIGN_AT_C.
    """
    true_c = np.array(SIGN_AT_C)[:, None, None]
    off = temperature_c - true_c
    met = {"signal-high": np.max(outside * high_side, axis=0), "signal-low": np.max(outside * ~high_side, axis=0),
           "implausible": _soft(np.max(np.abs(off), axis=0) - PLAUSIBLE_WITHIN_C),
           "reads-cold": _soft(-np.min(off, axis=0) - PLAUSIBLE_WITHIN_C),
           "reads-hot": _soft(np.max(off, axis=0) - PLAUSIBLE_WITHIN_C),
           "stuck": 0.5 * np.max(outside, axis=0)}
    met["general"] = np.maximum(met["implausible"], np.max(outside, axis=0)) * 0.6
    total = np.zeros(temperature_c.shape[1:])
    for sign in signs:
        for row, kind in enumerate(kinds):
            chance = _chance(sign, kind, met, row)
            if kind.intermittent and "intermittent" not in signs:
                chance = chance * _COMES_AND_GOES
            total[row] += np.log(chance)
    return total


def _chance(sign: str, kind: FaultKind, met: dict[str, np.ndarray], row: int) -> np.ndarray | float:
    if kind.location == "set-up":
        return _SET_UP.get(sign, _SET_UP_OTHER)
    if kind.effect in ("temperature-true", "none"):
        return _TRUE[sign]
    if kind.effect == "reading-frozen":
        return _FROZEN[sign]
    if sign == "intermittent":
        return SET if kind.intermittent else 0.12 if kind.effect in CONTACTS else UNSET
    return UNSET + (SET - UNSET) * met[sign][row]


def _soft(excess_c: np.ndarray) -> np.ndarray:
    """0 to 1 over a few degrees about zero."""
    return 1.0 / (1.0 + np.exp(-np.clip(excess_c / 1.5, -40, 40)))
