"""Numbers taken many at once are what numpy makes of the same ones (general-purpose reference library)."""

import numba
import numpy as np
import pytest
from engine.many import (
    MANY, all_at, all_of, either, evens, first_in_turn, floor_of, following, last_in_turn, last_kept, many_at, many_of, minus, over, plus,
    put_in_columns, put_in_lines, put_many, root_of, times, wide)


@numba.njit
def _worked(one, other, out):
    """Puts each of the ways to take `one` and `other` together into a row of `out`, as flat numbers."""
    a, b = many_at(one, 1), many_at(other, 2)
    put_many(out, 0 * MANY, plus(a, b))
    put_many(out, 1 * MANY, minus(a, b))
    put_many(out, 2 * MANY, times(a, b))
    put_many(out, 3 * MANY, over(a, b))
    put_many(out, 4 * MANY, root_of(a))
    put_many(out, 5 * MANY, wide(a))
    put_many(out, 6 * MANY, all_of(one[3]))
    put_many(out, 7 * MANY, evens(a, b))
    put_many(out, 8 * MANY, following(a, b))
    put_many(out, 9 * MANY, first_in_turn(a, b))
    put_many(out, 10 * MANY, last_in_turn(a, b))
    put_many(out, 11 * MANY, last_kept(a, b))
    put_many(out, 12 * MANY, floor_of(minus(a, b)))
    put_many(out, 13 * MANY, either(floor_of(a), a, b))
    put_many(out, 14 * MANY, all_at(one, 4))
    put_many(out, 15 * MANY, many_of(other, 1, floor_of(times(a, all_of(other[0])))))


@pytest.mark.parametrize("kind", [np.float32, np.float64])
def test_many_numbers_are_each_what_numpy_makes_of_them(kind):
    rng = np.random.default_rng(5)
    one, other = (rng.uniform(0.5, 2.0, 2 * MANY).astype(kind) for _ in range(2))
    other[0] = MANY / 4
    out = np.zeros((16, MANY), kind)
    _worked(one, other, out.ravel())
    a, b = one[1:1 + MANY], other[2:2 + MANY]
    both = np.concatenate([a, b])
    turns = np.stack([a, b], axis=1).ravel()
    asked = [a + b, a - b, a * b, a / b, np.sqrt(a), a, np.full(MANY, one[3]), both[::2], both[1:MANY + 1], turns[:MANY], turns[MANY:],
             np.append(a[1:], a[-1]), np.floor(a - b), np.where(np.floor(a) != 0.0, a, b), np.full(MANY, one[4]),
             other[1 + np.floor(a * other[0]).astype(int)]]
    np.testing.assert_array_equal(out, np.array(asked, kind))


def test_of_numbers_of_both_kinds_none_loses_digits():
    narrow, third = np.full(MANY, 3.0, np.float32), np.full(MANY, 1.0 / 3.0)

    @numba.njit
    def product(some, others, out):
        put_many(out, 0, times(many_at(some, 0), many_at(others, 0)))

    out = np.zeros(MANY)
    product(narrow, third, out)
    np.testing.assert_array_equal(out, 3.0 * third)


def test_columns_become_lines_of_any_numbers_and_lines_columns():
    each, apart, first = MANY + 3, MANY + 5, 2
    numbers = np.array([5, 0, 7, 2, 3, 11, 4, 9][:MANY], np.int32)

    @numba.njit
    def turned(columns, lines, numbers):
        put_in_lines(columns, 1, apart, lines, many_at(numbers, 0), each, first)

    @numba.njit
    def turned_back(lines, numbers, columns):
        put_in_columns(lines, many_at(numbers, 0), each, first, columns, 1, apart)

    columns = np.arange(MANY * apart, dtype=np.float32)
    lines, back = np.zeros((12, each), np.float32), np.zeros_like(columns)
    turned(columns, lines.ravel(), numbers)
    mine = columns.reshape(MANY, apart)[:, 1:1 + MANY]
    np.testing.assert_array_equal(lines[numbers, first:first + MANY], mine.T)
    assert np.count_nonzero(lines) == MANY * MANY
    turned_back(lines.ravel(), numbers, back)
    np.testing.assert_array_equal(back.reshape(MANY, apart)[:, 1:1 + MANY], mine)
    assert np.count_nonzero(back) == MANY * MANY
