"""Owns what the complaint says before any reading: a code's or a driver's sign, turned into chances per fault."""

import math
from typing import NamedTuple

import numpy as np

from engine.block import B, HOOK, ROOM, SEEN
from engine.compiled import called, exp_of, held_at, inlined
from engine.faults import CONTACTS, FaultKind
from engine.module import outside_limits
from engine.seen import SHARE, VALUE

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


# Signs whose odds follow from what the circuit shows.
_FOLLOW = ("signal-high", "signal-low", "reads-cold", "reads-hot", "stuck", "implausible", "general")
_HIGH, _LOW, _COLD, _HOT, _STUCK, _IMPLAUSIBLE, _GENERAL = range(len(_FOLLOW))
NO_SIGN = -1


class Signs(NamedTuple):
    """The complaint's signs for compiled loops: which of _FOLLOW each is (n,), its odds (n, f) by row where a fault brings its
    own (else nan), and the odds (f,) of all that hangs on the row alone."""

    which: np.ndarray
    own: np.ndarray
    by_row: np.ndarray


def pack_signs(signs: tuple[str, ...], kinds: tuple[FaultKind, ...]) -> Signs:
    """The complaint's `signs` under each row's kind of fault."""
    by_row = np.ones(len(kinds))
    for sign in (s for s in signs if s.startswith(TOGETHER)):
        by_row *= _together(sign, kinds)
    signs = tuple(s for s in signs if not s.startswith(TOGETHER))
    comes = np.array([kind.intermittent for kind in kinds], bool)
    if "intermittent" not in signs:
        by_row[comes] *= _COMES_AND_GOES ** len(signs)
    own = np.array([[_own_or_nan(kind, sign) for kind in kinds] for sign in signs]).reshape(len(signs), len(kinds))
    return Signs(np.array([_FOLLOW.index(s) if s in _FOLLOW else NO_SIGN for s in signs], int), own, by_row)


@called
def put_signs(job: object, signs: Signs, at: int, first: int, w: np.ndarray, n: int) -> None:
    """Puts the chance of all `signs` into ROOM.two, under the model's row number `at`, where hook-up `first` and the next are the
    sensor at the low and at the high value at which a complaint may have come up."""
    by_row = signs.by_row[at]
    for s in range(n):
        w[ROOM.two + s] = by_row
    for i in range(len(signs.which)):
        own = signs.own[i, at]
        if math.isnan(own):
            _put_met(job, signs.which[i], w, SEEN + first * HOOK, SEEN + (first + 1) * HOOK, n)
            for s in range(n):
                w[ROOM.two + s] *= UNSET + (SET - UNSET) * w[ROOM.one + s]
        else:
            for s in range(n):
                w[ROOM.two + s] *= own


def _together(sign: str, kinds: tuple[FaultKind, ...]) -> np.ndarray:
    """Chance (f,) that others are wrong too; `sign` may name the rails they share, "together supply return"."""
    rails = sign.split()[1:]
    return np.where([kind.rail in rails if rails else kind.rail != "" for kind in kinds], _BY_ONE, _BY_TWO)


def _own_or_nan(kind: FaultKind, sign: str) -> float:
    """The odds a fault brings of its own, nan where they follow from what it makes the circuit show."""
    own = _own(kind, sign)
    if own is not None:
        return own
    if sign == "intermittent":
        return SET if kind.intermittent else 0.12 if kind.effect in CONTACTS else UNSET
    return math.nan


def _own(kind: FaultKind, sign: str) -> float | None:
    """The odds a fault brings of its own, None where they follow from what it makes the circuit show."""
    if kind.location == "set-up":
        return _SET_UP.get(sign, _SET_UP_OTHER)
    if kind.effect in ("temperature-true", "none"):
        return _TRUE[sign]
    return _FROZEN[sign] if kind.effect == "reading-frozen" else None


@inlined
def _put_met(job: object, sign: int, w: np.ndarray, low: int, high: int, n: int) -> None:
    """Puts how far (0..1) the circuit shows the sign, by what it shows at a `low` value and at a `high` one, into ROOM.one."""
    cold, hot = w[low:low + HOOK], w[high:high + HOOK]
    limits = job.low_share, job.low_steep, job.high_share, job.high_steep
    plausible, low_at, high_at = job.plausible_within, job.sign_low, job.sign_high
    for s in range(n):
        low_share, high_share = cold[SHARE * B + s], hot[SHARE * B + s]
        low_outside = outside_limits(low_share, limits[0], limits[1], limits[2], limits[3])
        high_outside = outside_limits(high_share, limits[0], limits[1], limits[2], limits[3])
        low_off, high_off = cold[VALUE * B + s] - low_at, hot[VALUE * B + s] - high_at
        beyond = min(max(low_outside, high_outside), 1.0)
        if sign == _HIGH:
            met = min(max(low_outside if low_share > 0.5 else 0.0, high_outside if high_share > 0.5 else 0.0), 1.0)
        elif sign == _LOW:
            met = min(max(0.0 if low_share > 0.5 else low_outside, 0.0 if high_share > 0.5 else high_outside), 1.0)
        elif sign == _COLD:
            met = _soft(-min(low_off, high_off), plausible)
        elif sign == _HOT:
            met = _soft(max(low_off, high_off), plausible)
        elif sign == _STUCK:
            met = 0.5 * beyond
        else:
            met = _soft(max(abs(low_off), abs(high_off)), plausible)
            met = 0.6 * max(met, beyond) if sign == _GENERAL else met
        w[ROOM.one + s] = met


@inlined
def _soft(off: float, plausible: float) -> float:
    """0 to 1 over a few units about what is `plausible`."""
    return 1.0 / (1.0 + exp_of(-held_at((off - plausible) / (0.2 * plausible), -40.0, 40.0)))
