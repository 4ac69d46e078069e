"""Owns how severe a fault is at a share of its range, and what that makes of the circuit: single numbers, for compiled loops."""

import math

import numpy as np

from engine.block import B, POINT, ROOM, STATE, Z_AT
from engine.circuit_state import HEALTHY
from engine.compiled import below_normal, compiled, exp_of, inlined, log_of

# A sensor, or a coded curve, of another family: its beta differs as well, by this standard deviation [K].
WRONG_CURVE_BETA_K = 250.0
# Severities this near to a family's own value would not be another family.
WRONG_CURVE_GAP = 0.12
TRUE_GAP = 5.0
# An offset of a sensor's ratio smaller than this is its tolerance.
RATIO_GAP = 0.02
STUCK_LOW = 0.25
# A dead input reads nothing at all so often, else anything (common practice, no source).
DEAD_LOW = 0.25
# A true reading may also be just what the surroundings are: nothing is wrong now.
IN_ORDER = 0.08
KILOHM_UP = 0.7
# How a severity lies in its range: by ratio or evenly, with a gap about 1 or 0, or more often at its low end.
EVEN, RATIO_ASIDE, TRUE_ASIDE, OFFSET_ASIDE, OFTEN_LOW = range(5)
# What it does with the quantity it is of.
REPLACES, ADDS, LN_FACTOR, KILOHM = range(4)
NOWHERE = -1

# A row, a fault on one candidate curve or line, as numbers: how its severity lies (`law`, from `low`, `ln_ratio` wide by
# ratio, `span` evenly, at its low end in `often_low`), which quantity it changes and how, a beta that goes with it, the
# second effect of a pair; its marks; curve and line.
ROW = np.dtype(
    [("law", "i8"), ("low", "f4"), ("ln_ratio", "f4"), ("span", "f4"), ("often_low", "f4"),
     ("quantity", "i8"), ("does", "i8"), ("beta", "i8"),
     ("also", "i8"), ("also_does", "i8"), ("also_low", "f4"), ("also_ln_ratio", "f4")]
    + [(name, "?") for name in ("comes", "frozen", "key_off", "unit_mistaken", "kilohm_mistaken", "beside", "wrong_legs", "lead_off",
                                "moved", "too_soon", "switching_dead", "flips", "loose", "unlisted", "up")]
    + [("curve", "i8")]
    + [(name, "f4") for name in ("coldest", "hottest", "offset", "slope", "clamp_low", "clamp_high", "rest", "rest_sd", "stop",
                                 "stop_sd")])


@inlined
def stuck_at(row: object, share: float) -> float:
    """The number at which a row with a frozen reading is stuck, at `share` of its range, or what a dead input reads: more often at
    the low end than anywhere."""
    return row.low + max((share - row.often_low) / (1.0 - row.often_low), 0.0) * row.span


@inlined
def graded(row: object, share: float) -> float:
    """Severity of `row` in its fault's unit at `share` (0..1) of its range: log-uniform, uniform for degC.

    A wrong curve's severity is the factor on its ohms, with a gap around 1; a
    true reading's is how far the quantity really is from the surroundings,
    either not at all or by more than a gap; a stuck number is at the low end
    of the scale more often than at any other, a dead input at nothing.
    """
    if row.law == EVEN:
        out = row.low
        if row.ln_ratio != 0.0:
            out *= math.exp(share * row.ln_ratio)
        return out + share * row.span
    if row.law == RATIO_ASIDE:
        at = math.log(row.low) + WRONG_CURVE_GAP + share * (row.ln_ratio - 2.0 * WRONG_CURVE_GAP)
        return math.exp(at + math.copysign(WRONG_CURVE_GAP, at))
    if row.law == TRUE_ASIDE:
        if share < IN_ORDER:
            return 0.0
        at = row.low + TRUE_GAP + (share - IN_ORDER) / (1.0 - IN_ORDER) * (row.span - 2.0 * TRUE_GAP)
        return at + math.copysign(TRUE_GAP, at)
    if row.law == OFFSET_ASIDE:
        at = row.low + RATIO_GAP + share * (row.span - 2.0 * RATIO_GAP)
        return at + math.copysign(RATIO_GAP, at)
    return stuck_at(row, share)


@inlined
def put(row: object, w: np.ndarray, n: int) -> None:
    """Puts `row`'s fault into the first `n` circuits of block `w`, at each one's share of its range. The second unknown, standard normal, grades what goes with a fault."""
    if row.quantity != NOWHERE:
        if row.does == KILOHM:
            for s in range(n):
                w[ROOM.one + s] = 1000.0 if w[POINT.share + s] < KILOHM_UP else 0.001
        else:
            _put_grade(row, w, n)
        _become(w, row.quantity, row.does, n)
    if row.beta != NOWHERE:
        for s in range(n):
            w[ROOM.one + s] = WRONG_CURVE_BETA_K * w[Z_AT.second + s]
        _become(w, row.beta, REPLACES, n)
    if row.also != NOWHERE:
        low, ln_ratio = row.also_low, row.also_ln_ratio
        for s in range(n):
            w[ROOM.one + s] = low * exp_of(below_normal(w[Z_AT.second + s]) * ln_ratio)
        _become(w, row.also, row.also_does, n)


@inlined
def _put_grade(row: object, w: np.ndarray, n: int) -> None:
    """Puts severities into ROOM.one."""
    low, ln_ratio, span = row.low, row.ln_ratio, row.span
    if row.law == EVEN:
        for s in range(n):
            w[ROOM.one + s] = low * exp_of(w[POINT.share + s] * ln_ratio) + w[POINT.share + s] * span
    else:
        for s in range(n):
            w[ROOM.one + s] = graded(row, w[POINT.share + s])


@inlined
def _become(w: np.ndarray, quantity: int, does: int, n: int) -> None:
    """Makes of severities in ROOM.one what they make of the circuit's `quantity`."""
    if does == LN_FACTOR:
        for s in range(n):
            w[ROOM.one + s] = log_of(w[ROOM.one + s])
    start, added = STATE[0] + quantity * B, HEALTHY[quantity] if does == ADDS else 0.0
    column = w[start:start + B]
    for s in range(n):
        column[s] = w[ROOM.one + s] + added


@inlined
def mend(row: object, w: np.ndarray) -> None:
    """Takes out of block `w` what `row` put there."""
    _mend_one(w, row.quantity)
    _mend_one(w, row.beta)
    _mend_one(w, row.also)


@inlined
def _mend_one(w: np.ndarray, quantity: int) -> None:
    if quantity != NOWHERE:
        start, healthy = STATE[0] + quantity * B, HEALTHY[quantity]
        column = w[start:start + B]
        for s in range(B):
            column[s] = healthy


@compiled
def graded_all(rows: np.ndarray, share: np.ndarray) -> np.ndarray:
    """Severities (f, s) of `rows` (f,) at `share` (f, s)."""
    out = np.empty(share.shape)
    for f in range(len(rows)):
        for s in range(share.shape[1]):
            out[f, s] = graded(rows[f], share[f, s])
    return out
