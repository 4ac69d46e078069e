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
from numba.core import ir as numba_ir
from numba.core.compiler import CompilerBase, DefaultPassBuilder
from numba.core.compiler_machinery import FunctionPass, register_pass
from numba.core.untyped_passes import ReconstructSSA
from numba.extending import intrinsic

ROOT_HALF, ROOT_TWO, ROOT_TWO_PI = math.sqrt(0.5), math.sqrt(2.0), math.sqrt(2.0 * math.pi)
LN_2, LOG2_E = math.log(2.0), 1.0 / math.log(2.0)
# The largest log, either way, whose exp is a number: of sixteen digits, and of seven.
LARGEST_LN, LARGEST_LN_SINGLE = 700.0, 80.0
# Taylor's series of exp, from the square on.
SERIES = 1 / 2, 1 / 6, 1 / 24, 1 / 120, 1 / 720, 1 / 5040


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


def _is_single(kind: types.Type) -> bool:
    """Whether numbers to seven digits are in what is handed over, an argument of this `kind`."""
    if isinstance(kind, types.Array):
        return _is_single(kind.dtype)
    if isinstance(kind, types.Record):
        return any(_is_single(field.type) for field in kind.fields.values())
    if isinstance(kind, types.BaseTuple):
        return any(_is_single(each) for each in kind.types)
    return kind == types.float32


def _to_single(value: object) -> object:
    if type(value) is float:
        return np.float32(value)
    return tuple(_to_single(each) for each in value) if type(value) is tuple else value


@register_pass(mutates_CFG=False, analysis_only=False)
class _Single(FunctionPass):
    """Makes of all numbers written in a loop those to seven digits, where that is what it is given: they would make it work to sixteen."""

    _name = "single"

    def __init__(self) -> None:
        FunctionPass.__init__(self)

    def run_pass(self, state: object) -> bool:
        """As numba asks for it: whether anything was changed."""
        if not any(_is_single(kind) for kind in state.args):
            return False
        for block in state.func_ir.blocks.values():
            for assigned in block.find_insts(numba_ir.Assign):
                value = assigned.value
                if isinstance(value, (numba_ir.Const, numba_ir.Global, numba_ir.FreeVar)):
                    value.value = _to_single(value.value)
        return True


class _Compiler(CompilerBase):
    """Compiles as usual, and what is given to seven digits to seven."""

    def define_pipelines(self) -> list:
        """As numba asks for it: its own passes and one more."""
        passes = DefaultPassBuilder.define_nopython_pipeline(self.state)
        passes.add_pass_after(_Single, ReconstructSSA)
        passes.finalize()
        return [passes]


# What loops may do to arithmetic: a product and a sum in one step, a division as a product, and nothing is nothing whatever its sign. Sums
# stay in their order, and what is infinite or no number at all stays what it is.
LOOSE = ("contract", "arcp", "nsz")
HOW = {"error_model": "numpy", "nogil": True, "fastmath": set(LOOSE), "pipeline_class": _Compiler}


def compiled(function: Callable) -> Callable:
    """`function` as machine code: compiled when first called, kept for the next start. Nothing divides by zero loudly."""
    return numba.njit(cache=True, **HOW)(function)


def called(function: Callable) -> Callable:
    """As `compiled`, for what makes no arrays, so that references to those it is given are not counted: loops that fill them, and what
    loops call once a block of samples, by itself lest it be compiled again within each of them."""
    return numba.njit(cache=True, _nrt=False, **HOW)(function)


def laid_in(function: Callable) -> Callable:
    """As `inlined`, for what one loop alone calls: never compiled by itself."""
    return numba.njit(inline="always", **HOW)(function)


def inlined(function: Callable) -> Callable:
    """As `compiled`, for what loops call: laid out in place, since handing over many numbers takes longer than most of it; it
    makes no arrays."""
    return numba.njit(cache=True, forceinline=True, _nrt=False, **HOW)(function)


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


def _layout(kind: types.Type) -> tuple[ir.Type, ir.Type, int, int]:
    """How a number of this `kind` is laid out: the type of its bits and its own, how many of the lowest are its fraction's, and what its
    power is kept more by."""
    return (ir.IntType(32), ir.FloatType(), 23, 127) if kind == types.float32 else (ir.IntType(64), ir.DoubleType(), 52, 1023)


@intrinsic
def _raised(_: object, number: object, turns: object) -> tuple:
    """`number` times two to the power `turns`, a whole number with `_rounds` added to it."""
    def code(context: object, builder: object, signature: object, given: tuple) -> object:
        whole, own, fraction, more = _layout(signature.args[0])
        power = builder.shl(builder.add(builder.bitcast(given[1], whole), whole(more)), whole(fraction))
        return builder.fmul(given[0], builder.bitcast(power, own))
    return number(number, number), code


@intrinsic
def _rounds(_: object, number: object) -> tuple:
    """Added to a number and taken off again it rounds to a whole one, whose bits are then the lowest."""
    def code(context: object, builder: object, signature: object, given: tuple) -> object:
        _, own, fraction, _ = _layout(signature.args[0])
        return own(1.5 * 2.0**fraction)
    return number(number), code


@intrinsic
def _largest(_: object, number: object) -> tuple:
    """Log of a number well within range."""
    return number(number), lambda context, builder, signature, given: (
        ir.FloatType()(LARGEST_LN_SINGLE) if signature.args[0] == types.float32 else ir.DoubleType()(LARGEST_LN))


@intrinsic
def _split(_: object, number: object) -> tuple:
    """A positive `number` as a power of two and the rest, 0.7 to 1.4."""
    def code(context: object, builder: object, signature: object, given: tuple) -> object:
        whole, own, fraction, _ = _layout(signature.args[0])
        middle = int.from_bytes(struct.pack(*((">f", ROOT_HALF) if fraction == 23 else (">d", ROOT_HALF))), "big")
        bits = builder.bitcast(given[0], whole)
        power = builder.ashr(builder.sub(bits, whole(middle)), whole(fraction))
        rest = builder.bitcast(builder.sub(bits, builder.shl(power, whole(fraction))), own)
        return context.make_tuple(builder, signature.return_type, (builder.sitofp(power, own), rest))
    return types.UniTuple(number, 2)(number), code


@inlined
def exp_of(at: float) -> float:
    """exp(`at`) within 1e-8 of itself, or 2e-6 where `at` has seven digits, written so that many of them are computed at once: powers of
    two, and a Taylor series between them."""
    held, rounds = min(max(at, -_largest(at)), _largest(at)), _rounds(at)
    turns = held * LOG2_E + rounds
    rest = held - (turns - rounds) * LN_2
    small = SERIES[2] + rest * (SERIES[3] + rest * (SERIES[4] + rest * SERIES[5]))
    return _raised(1.0 + rest * (1.0 + rest * (SERIES[0] + rest * (SERIES[1] + rest * small))), turns)


@inlined
def log_of(at: float) -> float:
    """Natural log of `at`, a positive number, within 1e-9, or seven digits, as `exp_of`: its power of two, and the series of the inverse
    hyperbolic tangent for the rest."""
    power, rest = _split(at)
    part = (rest - 1.0) / (rest + 1.0)
    square = part * part
    return power * LN_2 + 2.0 * part * (1.0 + square * (1 / 3 + square * (1 / 5 + square * (1 / 7 + square * (1 / 9)))))


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
