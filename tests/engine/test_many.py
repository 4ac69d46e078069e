"""Numbers taken many at once are what numpy makes of the same ones (general-purpose reference library)."""

import numba
import numpy as np
import pytest
from engine.many import (
    MANY, all_of, evens, first_in_turn, following, last_in_turn, last_kept, many_at, minus, over, plus, put_many, root_of, times, wide)


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


@pytest.mark.parametrize("kind", [np.float32, np.float64])
def test_many_numbers_are_each_what_numpy_makes_of_them(kind):
    rng = np.random.default_rng(5)
    one, other = (rng.uniform(0.5, 2.0, 2 * MANY).astype(kind) for _ in range(2))
    out = np.zeros((12, MANY), kind)
    _worked(one, other, out.ravel())
    a, b = one[1:1 + MANY], other[2:2 + MANY]
    both = np.concatenate([a, b])
    turns = np.stack([a, b], axis=1).ravel()
    asked = [a + b, a - b, a * b, a / b, np.sqrt(a), a, np.full(MANY, one[3]), both[::2], both[1:MANY + 1], turns[:MANY], turns[MANY:],
             np.append(a[1:], a[-1])]
    np.testing.assert_array_equal(out, np.array(asked, kind))


def test_of_numbers_of_both_kinds_none_loses_digits():
    narrow, third = np.full(MANY, 3.0, np.float32), np.full(MANY, 1.0 / 3.0)

    @numba.njit
    def product(some, others, out):
        put_many(out, 0, times(many_at(some, 0), many_at(others, 0)))

    out = np.zeros(MANY)
    product(narrow, third, out)
    np.testing.assert_array_equal(out, 3.0 * third)
