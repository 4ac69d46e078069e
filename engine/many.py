"""Owns numbers taken many at once, where a loop over arrays would first ask whether what is written lies upon what is read.

Loops over columns of one block need none of it. Whoever takes many sees to it that they are there: no index is looked at.
"""

from collections.abc import Callable

from llvmlite import ir
from numba import types
from numba.core.datamodel import models
from numba.extending import intrinsic, register_model

# How many: numbers of seven digits in the registers most processors have.
MANY = 8


class Many(types.Type):
    """MANY numbers of one kind."""

    def __init__(self, each: types.Type) -> None:
        self.each = each
        super().__init__(name=f"many({each})")


def _laid_out(each: types.Type) -> ir.Type:
    return ir.VectorType(ir.FloatType() if each == types.float32 else ir.DoubleType(), MANY)


@register_model(Many)
class _Model(models.PrimitiveModel):
    """How they are kept: in one register, or a few."""

    def __init__(self, manager: object, kind: Many) -> None:
        super().__init__(manager, kind, _laid_out(kind.each))


def _place(context: object, builder: object, kinds: tuple, given: tuple) -> object:
    """Where in an array of numbers, given first, that many stand from the index given next on."""
    first = context.make_array(kinds[0])(context, builder, given[0]).data
    return builder.bitcast(builder.gep(first, [given[1]]), _laid_out(kinds[0].dtype).as_pointer())


def _as(builder: object, given: object, had: types.Type, wanted: types.Type) -> object:
    """Many `given` numbers of the kind they `had` as ones of that `wanted`."""
    if had == wanted:
        return given
    return (builder.fpext if wanted == types.float64 else builder.fptrunc)(given, _laid_out(wanted))


@intrinsic
def many_at(_: object, array: object, start: object) -> tuple:
    """Many numbers of `array`, in one piece, from number `start` on."""
    def code(context: object, builder: object, signature: object, given: tuple) -> object:
        return builder.load(_place(context, builder, signature.args, given), align=signature.args[0].dtype.bitwidth // 8)
    return Many(array.dtype)(array, types.intp), code


@intrinsic
def put_many(_: object, array: object, start: object, numbers: object) -> tuple:
    """Puts many `numbers` into `array`, in one piece, from number `start` on."""
    def code(context: object, builder: object, signature: object, given: tuple) -> object:
        kind, _, had = signature.args
        builder.store(_as(builder, given[2], had.each, kind.dtype), _place(context, builder, signature.args, given),
                      align=kind.dtype.bitwidth // 8)
        return context.get_dummy_value()
    return types.none(array, types.intp, numbers), code


@intrinsic
def all_of(_: object, number: object) -> tuple:
    """One `number` many times."""
    def code(_: object, builder: object, signature: object, given: tuple) -> object:
        kind = _laid_out(signature.args[0])
        one = builder.insert_element(ir.Constant(kind, ir.Undefined), given[0], ir.IntType(32)(0))
        return builder.shuffle_vector(one, one, ir.Constant(ir.VectorType(ir.IntType(32), MANY), [0] * MANY))
    return Many(number)(number), code


@intrinsic
def wide(_: object, numbers: object) -> tuple:
    """Many `numbers` to sixteen digits."""
    return Many(types.float64)(numbers), lambda _, builder, signature, given: _as(builder, *given, signature.args[0].each, types.float64)


def _of_two(name: str) -> Callable:
    """What the instruction `name` makes of many numbers and as many others, of the wider kind of both."""
    @intrinsic
    def made(_: object, one: object, other: object) -> tuple:
        wider = one.each if one.each.bitwidth >= other.each.bitwidth else other.each

        def code(_: object, builder: object, signature: object, given: tuple) -> object:
            return getattr(builder, name)(*(_as(builder, part, kind.each, wider) for part, kind in zip(given, signature.args, strict=True)))
        return Many(wider)(one, other), code
    return made


plus, minus, times, over = (_of_two(name) for name in ("fadd", "fsub", "fmul", "fdiv"))


@intrinsic
def root_of(_: object, numbers: object) -> tuple:
    """Square root of each of many `numbers`."""
    def code(_: object, builder: object, signature: object, given: tuple) -> object:
        kind = _laid_out(signature.args[0].each)
        name = f"llvm.sqrt.v{MANY}f{signature.args[0].each.bitwidth}"
        return builder.call(builder.module.declare_intrinsic(name, (), ir.FunctionType(kind, (kind,))), given)
    return numbers(numbers), code


def _picked(*places: int) -> Callable:
    """Those at `places` of many numbers and, after them, as many others of their kind."""
    @intrinsic
    def made(_: object, one: object, other: object) -> tuple:
        def code(_: object, builder: object, __: object, given: tuple) -> object:
            return builder.shuffle_vector(*given, ir.Constant(ir.VectorType(ir.IntType(32), MANY), list(places)))
        return one(one, other), code
    return made


# Every second one; each but the first, and the first of the others; and one and one in turn, of the first halves and of the second.
evens = _picked(*range(0, 2 * MANY, 2))
following = _picked(*range(1, MANY + 1))
first_in_turn = _picked(*(k // 2 + k % 2 * MANY for k in range(MANY)))
last_in_turn = _picked(*(k // 2 + k % 2 * MANY for k in range(MANY, 2 * MANY)))
last_kept = _picked(*range(1, MANY), MANY - 1)
