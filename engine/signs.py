"""Owns what the complaint says before any reading: a code's or a driver's sign, turned into chances per fault."""

import numpy as np

from engine.faults import CONTACTS, FaultKind
from engine.quantities import TEMPERATURE, Quantity

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
# Another sensor on the same rail wrong at the same time: how often by one fault they share, how often by two of their own.
TOGETHER = "together"
_BY_ONE, _BY_TWO = 0.9, 0.05


def sign_likelihood(signs: tuple[str, ...], kinds: tuple[FaultKind, ...], value: np.ndarray, outside: np.ndarray,
                    high_side: np.ndarray, scale: Quantity = TEMPERATURE) -> np.ndarray:
    """Chance (f, s) of the complaint's `signs` under each row.

    `value`, `outside` (chance out of limits) and `high_side` have shape
    (2, f, s): the sensor at the quantity's `sign_at`.
    """
    total = np.ones(value.shape[1:], value.dtype)
    for sign in (s for s in signs if s.startswith(TOGETHER)):
        total *= _together(sign, kinds)
    signs = tuple(s for s in signs if not s.startswith(TOGETHER))
    off = value - np.array(scale.sign_at, value.dtype)[:, None, None]
    plain = np.array([k for k, kind in enumerate(kinds) if _own(kind, signs[0]) is None], int) if signs else None
    for sign in signs:
        met = _met(sign, off, outside, high_side, scale)
        chance = np.empty_like(total)
        chance[plain] = UNSET + (SET - UNSET) * met[plain]
        for k, kind in enumerate(kinds):
            own = _own(kind, sign)
            if own is not None:
                chance[k] = own
            elif sign == "intermittent":
                chance[k] = SET if kind.intermittent else 0.12 if kind.effect in CONTACTS else UNSET
            if kind.intermittent and "intermittent" not in signs:
                chance[k] *= _COMES_AND_GOES
        total *= chance
    return total


def _together(sign: str, kinds: tuple[FaultKind, ...]) -> np.ndarray:
    """Chance (f, 1) that others are wrong too; `sign` may name the rails they share, "together supply return"."""
    rails = sign.split()[1:]
    by_one = [kind.rail in rails if rails else kind.rail != "" for kind in kinds]
    return np.where(by_one, _BY_ONE, _BY_TWO)[:, None]


def _own(kind: FaultKind, sign: str) -> float | None:
    """The odds a fault brings of its own, None where they follow from what it makes the circuit show."""
    if kind.location == "set-up":
        return _SET_UP.get(sign, _SET_UP_OTHER)
    if kind.effect in ("temperature-true", "none"):
        return _TRUE[sign]
    return _FROZEN[sign] if kind.effect == "reading-frozen" else None


def _met(sign: str, off: np.ndarray, outside: np.ndarray, high_side: np.ndarray, scale: Quantity) -> np.ndarray:
    """How far (0..1) the circuit shows the sign."""
    beyond = np.minimum(np.max(outside, axis=0), 1.0)
    if sign == "signal-high":
        return np.minimum(np.max(outside * high_side, axis=0), 1.0)
    if sign == "signal-low":
        return np.minimum(np.max(outside * ~high_side, axis=0), 1.0)
    if sign == "reads-cold":
        return _soft(-np.min(off, axis=0) - scale.plausible_within, scale)
    if sign == "reads-hot":
        return _soft(np.max(off, axis=0) - scale.plausible_within, scale)
    if sign == "stuck":
        return 0.5 * beyond
    wrong = _soft(np.max(np.abs(off), axis=0) - scale.plausible_within, scale)
    return 0.6 * np.maximum(wrong, beyond) if sign == "general" else wrong


def _soft(excess: np.ndarray, scale: Quantity) -> np.ndarray:
    """0 to 1 over a few units about zero."""
    return 1.0 / (1.0 + np.exp(-np.clip(excess / (0.2 * scale.plausible_within), -40, 40)))
