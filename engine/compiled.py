"""Owns how loops are compiled, where what was compiled is kept, and the arithmetic of single numbers that loops share."""

import importlib.resources
import math
import struct
from collections.abc import Callable
from hashlib import sha256
from importlib.resources.abc import Traversable

import numba
import numpy as np
from llvmlite import ir
from numba import types
from numba.extending import intrinsic

ROOT_HALF, ROOT_TWO, ROOT_TWO_PI = math.sqrt(0.5), math.sqrt(2.0), math.sqrt(2.0 * math.pi)
LN_2, LOG2_E = math.log(2.0), 1.0 / math.log(2.0)
# Added to a number and taken off again it rounds to a whole one, whose bits are then the lowest.
ROUNDS = 1.5 * 2.0**52
LARGEST_LN = 700.0
BITS_OF_ROOT_HALF = int.from_bytes(struct.pack(">d", ROOT_HALF), "big")


def _place() -> Traversable:
    """Where what is compiled is kept. Code holds what those it calls said when it was compiled, so it goes by all sources."""
    digest, found = sha256(), importlib.resources.files("engine")
    for source in sorted((each for each in found.iterdir() if each.name.endswith(".py")), key=lambda each: each.name):
        digest.update(source.read_bytes())
    return found / "__pycache__" / f"compiled-{digest.hexdigest()[:16]}"


PLACE = _place()
numba.config.CACHE_DIR = str(PLACE)


def kept() -> bool:
    """Whether an earlier start kept anything it compiled."""
    return PLACE.is_dir()


def compiled(function: Callable) -> Callable:
    """`function` as machine code: compiled when first called, kept for the next start. Nothing divides by zero loudly."""
    return numba.njit(cache=True, error_model="numpy", nogil=True)(function)


def called(function: Callable) -> Callable:
    """As `compiled`, for what loops call once a block of samples: by itself, lest it be compiled again within each of them."""
    return numba.njit(cache=True, error_model="numpy", nogil=True, _nrt=False)(function)


def laid_in(function: Callable) -> Callable:
    """As `inlined`, for what one loop alone calls: never compiled by itself."""
    return numba.njit(error_model="numpy", nogil=True, inline="always")(function)


def inlined(function: Callable) -> Callable:
    """As `compiled`, for what loops call: laid out in place, since handing over many numbers takes longer than most of it; it
    makes no arrays."""
    return numba.njit(cache=True, error_model="numpy", nogil=True, forceinline=True, _nrt=False)(function)


def everywhere(function: Callable, *given: object) -> np.ndarray | tuple[np.ndarray, ...]:
    """`function` of single numbers at every place of what is `given` (arrays or numbers, broadcast): its results in their
    shape, as many arrays as it has results."""
    where = np.broadcast_arrays(*(np.asarray(part, float) for part in given))
    found = [function(*one) for one in zip(*(part.ravel().tolist() for part in where), strict=True)]
    if found and isinstance(found[0], tuple):
        return tuple(np.reshape(np.array(part, float), where[0].shape) for part in zip(*found, strict=True))
    return np.reshape(np.array(found, float), where[0].shape)


@inlined
def held_at(value: float, low: float, high: float) -> float:
    """`value` brought between `low` and `high`."""
    return min(max(value, low), high)


@intrinsic
def _bits_of(_: object, __: object) -> tuple:
    """The bits of a number, as a whole one."""
    return types.int64(types.float64), lambda context, builder, signature, given: builder.bitcast(given[0], ir.IntType(64))


@intrinsic
def _of_bits(_: object, __: object) -> tuple:
    """The number of such bits."""
    return types.float64(types.int64), lambda context, builder, signature, given: builder.bitcast(given[0], ir.DoubleType())


@inlined
def exp_of(at: float) -> float:
    """exp(`at`) within 1e-8 of itself, written so that eight of them are computed at once: powers of two, and a Taylor series
    between them."""
    turns = min(max(at, -LARGEST_LN), LARGEST_LN) * LOG2_E + ROUNDS
    rest = min(max(at, -LARGEST_LN), LARGEST_LN) - (turns - ROUNDS) * LN_2
    series = 1.0 + rest * (1.0 + rest * (1 / 2 + rest * (1 / 6 + rest * (1 / 24 + rest * (1 / 120 + rest * (1 / 720 + rest / 5040))))))
    return series * _of_bits((_bits_of(turns) + 1023) << 52)


@inlined
def log_of(at: float) -> float:
    """Natural log of `at`, a positive number, within 1e-9, as `exp_of`: its power of two, and the series of the inverse hyperbolic
    tangent for the rest."""
    bits = _bits_of(at)
    power = (bits - BITS_OF_ROOT_HALF) >> 52
    rest = _of_bits(bits - (power << 52))
    part = (rest - 1.0) / (rest + 1.0)
    square = part * part
    return float(power) * LN_2 + 2.0 * part * (1.0 + square * (1 / 3 + square * (1 / 5 + square * (1 / 7 + square / 9))))


@inlined
def tail_times(out: float, ln: float) -> float:
    """Chance that a standard normal lies beyond `out`, not below 0, over exp of minus half its square and times exp(`ln`): within 1.2e-7
    of itself (Press and others, "Numerical Recipes", section 6.2, a Chebyshev fit of the complementary error function; from memory)."""
    t = 1.0 / (1.0 + 0.5 * ROOT_HALF * out)
    fit = (1.00002368 + t * (0.37409196 + t * (0.09678418 + t * (-0.18628806 + t * (0.27886807 + t * (
        -1.13520398 + t * (1.48851587 + t * (-0.82215223 + t * 0.17087277))))))))
    return 0.5 * t * exp_of(ln - 1.26551223 + t * fit)


@inlined
def below_normal(at: float) -> float:
    """Chance that a standard normal lies below `at`."""
    tail = tail_times(abs(at), -0.5 * at * at)
    return 1.0 - tail if at > 0.0 else tail


# Rising powers of the logarithm's own distance from the middle of either fit.
NEAR = (2.81022636e-08, 3.43273939e-07, -3.5233877e-06, -4.39150654e-06, 0.00021858087, -0.00125372503, -0.00417768164, 0.246640727,
        1.50140941)
FAR = (-0.000200214257, 0.000100950558, 0.00134934322, -0.00367342844, 0.00573950773, -0.0076224613, 0.00943887047, 1.00167406,
       2.83297682)


@inlined
def normal_at(below: float) -> float:
    """Where so much of a standard normal lies `below`, within 2e-6 of itself, nearer than 1e-7 to either end within a thousandth (Giles
    2010, "Approximating the erfinv function", from memory)."""
    ln = -log_of(4.0 * below * (1.0 - below))
    near, far = ln - 2.5, math.sqrt(max(ln, 1.0)) - 3.0
    one, other = 0.0, 0.0
    for k in range(len(NEAR)):
        one, other = NEAR[k] + one * near, FAR[k] + other * far
    return ROOT_TWO * (2.0 * below - 1.0) * (one if ln < 5.0 else other)


@inlined
def bell(off: float, spread: float) -> float:
    """Density of a normal of standard deviation `spread`, `off` from its middle."""
    return bell_per(off, 1.0 / spread)


@inlined
def bell_per(off: float, per: float) -> float:
    """As `bell`, `per` standard deviation."""
    ratio = off * per
    return exp_of(-0.5 * ratio * ratio) * (per * (1.0 / ROOT_TWO_PI))
