"""Owns numbers taken many at once, where a loop over arrays would first ask whether what is written lies upon what is read.

Loops over columns of one block need none of it. Whoever takes many sees to it that they are there: no index is looked at.
"""

from collections.abc import Callable

from llvmlite import ir
from numba import types
from numba.core.datamodel import models
from numba.extending import intrinsic, register_model

from engine.compiled import LOOSE

# How many: numbers of seven digits in the registers most processors have.
MANY = 8


class Many(types.Type):
    """MANY numbers of one kind."""

    def __init__(self, each: types.Type) -> None:
        self.each = each
        super().__init__(name=f"many({each})")


def _laid_out(each: types.Type) -> ir.Type:
    kinds = {types.float32: ir.FloatType(), types.float64: ir.DoubleType(), types.int32: ir.IntType(32)}
    return ir.VectorType(kinds[each], MANY)


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
def many_of(_: object, array: object, start: object, whole: object) -> tuple:
    """Numbers of `array`, each by itself: so many `whole` places behind `start`, none before it."""
    def code(context: object, builder: object, signature: object, given: tuple) -> object:
        kind, _, places = signature.args
        first, index = builder.gep(context.make_array(kind)(context, builder, given[0]).data, [given[1]]), ir.IntType(32)
        at = given[2] if places.each == types.int32 else builder.fptosi(given[2], ir.VectorType(index, MANY))
        out = ir.Constant(_laid_out(kind.dtype), ir.Undefined)
        for k in range(MANY):
            place = builder.zext(builder.extract_element(at, index(k)), ir.IntType(64))
            out = builder.insert_element(out, builder.load(builder.gep(first, [place])), index(k))
        return out
    return Many(array.dtype)(array, types.intp, whole), code


@intrinsic
def all_at(_: object, array: object, place: object) -> tuple:
    """The number at one `place` of `array`, of any shape, counted from its beginning, many times."""
    def code(context: object, builder: object, signature: object, given: tuple) -> object:
        data = context.make_array(signature.args[0])(context, builder, given[0]).data
        return _many_times(builder, builder.load(builder.gep(data, [given[1]])), signature.args[0].dtype)
    return Many(array.dtype)(array, types.intp), code


def _many_times(builder: object, number: object, kind: types.Type) -> object:
    one = builder.insert_element(ir.Constant(_laid_out(kind), ir.Undefined), number, ir.IntType(32)(0))
    return builder.shuffle_vector(one, one, ir.Constant(ir.VectorType(ir.IntType(32), MANY), [0] * MANY))


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
    return Many(number)(number), lambda _, builder, signature, given: _many_times(builder, *given, signature.args[0])


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
            both = (_as(builder, part, kind.each, wider) for part, kind in zip(given, signature.args, strict=True))
            return getattr(builder, name)(*both, flags=LOOSE)
        return Many(wider)(one, other), code
    return made


plus, minus, times, over = (_of_two(name) for name in ("fadd", "fsub", "fmul", "fdiv"))


def _of_one(name: str) -> Callable:
    """What the function `name` makes of each of many numbers."""
    @intrinsic
    def made(_: object, numbers: object) -> tuple:
        def code(_: object, builder: object, signature: object, given: tuple) -> object:
            kind = _laid_out(signature.args[0].each)
            whole = f"llvm.{name}.v{MANY}f{signature.args[0].each.bitwidth}"
            return builder.call(builder.module.declare_intrinsic(whole, (), ir.FunctionType(kind, (kind,))), given)
        return numbers(numbers), code
    return made


root_of, floor_of = _of_one("sqrt"), _of_one("floor")


@intrinsic
def either(_: object, which: object, one: object, other: object) -> tuple:
    """Each of `one` where `which` is something, else of the `other`, of the same kind."""
    def code(_: object, builder: object, signature: object, given: tuple) -> object:
        nothing = ir.Constant(_laid_out(signature.args[0].each), [0.0] * MANY)
        return builder.select(builder.fcmp_unordered("!=", given[0], nothing), given[1], given[2])
    return one(which, one, one), code


def _picked(*places: int) -> Callable:
    """Those at `places` of many numbers and, after them, as many others of their kind."""
    @intrinsic
    def made(_: object, one: object, other: object) -> tuple:
        def code(_: object, builder: object, __: object, given: tuple) -> object:
            return builder.shuffle_vector(*given, ir.Constant(ir.VectorType(ir.IntType(32), MANY), list(places)))
        return one(one, other), code
    return made


def _turned(builder: object, rows: list) -> list:
    """MANY `rows` of as many numbers with rows as columns: each time all rows are shuffled into each other half and half, a half of what
    tells rows and columns apart has changed its place."""
    kind, turn = ir.VectorType(ir.IntType(32), MANY), [[k // 2 + k % 2 * MANY for k in range(half, half + MANY)] for half in (0, MANY)]
    for _ in range(MANY.bit_length() - 1):
        rows = [builder.shuffle_vector(rows[k // 2], rows[k // 2 + MANY // 2], ir.Constant(kind, turn[k % 2])) for k in range(MANY)]
    return rows


def _turn(context: object, builder: object, kinds: tuple, had: tuple, into: tuple) -> object:
    """Puts what stands at MANY starts in an array (both in `had`) as columns at as many starts in another (in `into`), arrays of these `kinds`."""
    (had_in, from_starts), (put_in, to_starts), align = had, into, kinds[0].dtype.bitwidth // 8
    rows = [builder.load(_place(context, builder, kinds[:1], (had_in, start)), align=align) for start in from_starts]
    for row, start in zip(_turned(builder, rows), to_starts, strict=True):
        builder.store(row, _place(context, builder, kinds[1:], (put_in, start)), align=align)
    return context.get_dummy_value()


def _by_number(builder: object, numbers: object, each: object, first: object) -> list:
    """Where the lines of those many `numbers`, `each` long, have their number `first`."""
    places = [builder.zext(builder.extract_element(numbers, ir.IntType(32)(k)), ir.IntType(64)) for k in range(MANY)]
    return [builder.add(builder.mul(place, each), first) for place in places]


def _apart(builder: object, start: object, apart: object) -> list:
    return [builder.add(start, builder.mul(ir.IntType(64)(k), apart)) for k in range(MANY)]


@intrinsic
def put_in_lines(_: object, columns: object, start: object, apart: object, lines: object, numbers: object, each: object, first: object) -> tuple:
    """Puts many numbers of as many `columns`, from `start` on and so far `apart`, into `lines`, `each` long, of those many `numbers`, from
    the line's number `first` on."""
    def code(context: object, builder: object, _: object, given: tuple) -> object:
        return _turn(context, builder, (columns, lines), (given[0], _apart(builder, *given[1:3])), (given[3], _by_number(builder, *given[4:])))
    return types.none(columns, types.intp, types.intp, lines, numbers, types.intp, types.intp), code


@intrinsic
def put_in_columns(_: object, lines: object, numbers: object, each: object, first: object, columns: object, start: object, apart: object) -> tuple:
    """As `put_in_lines`, the other way."""
    def code(context: object, builder: object, _: object, given: tuple) -> object:
        return _turn(context, builder, (lines, columns), (given[0], _by_number(builder, *given[1:4])), (given[4], _apart(builder, *given[5:])))
    return types.none(lines, numbers, types.intp, types.intp, columns, types.intp, types.intp), code


# Every second one; each but the first, and the first of the others; and one and one in turn, of the first halves and of the second.
evens = _picked(*range(0, 2 * MANY, 2))
following = _picked(*range(1, MANY + 1))
first_in_turn = _picked(*(k // 2 + k % 2 * MANY for k in range(MANY)))
last_in_turn = _picked(*(k // 2 + k % 2 * MANY for k in range(MANY, 2 * MANY)))
last_kept = _picked(*range(1, MANY), MANY - 1)
