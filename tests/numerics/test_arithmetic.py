"""Arithmetic that does not raise: as IEEE 754 and NumPy have it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from glandwise.numerics import arithmetic
from hypothesis import example, given
from hypothesis import strategies as st

any_number = st.floats(allow_nan=True, allow_infinity=True, width=64)
EDGES = (0.0, -0.0, 1.0, -1.0, 0.5, -0.5, 3.0, 1e300, -1e300, 1e-300, math.inf, -math.inf, math.nan, 710.0, -2.0)


def same(one: float, other: float) -> bool:
    return bool(np.isclose(float(one), float(other), rtol=1e-14, atol=0.0, equal_nan=True))


@given(any_number, any_number)
@example(0.0, -0.0)
@example(-1.0, -0.0)
def test_two_arguments(a: float, b: float) -> None:
    with np.errstate(all="ignore"):
        assert same(arithmetic.divide(a, b), np.divide(a, b))
        assert same(arithmetic.least(a, b), np.minimum(a, b))
        assert same(arithmetic.greatest(a, b), np.maximum(a, b))


def test_powers_and_functions_at_their_edges() -> None:
    names = {"asin": "arcsin", "acos": "arccos", "atan": "arctan"}
    with np.errstate(all="ignore"):
        for a in EDGES:
            for b in EDGES:
                if (a == 0.0 and b < 0.0) or a == -math.inf:
                    continue  # neither the sign of a zero nor that of an infinity is told
                assert same(arithmetic.power(a, b), np.power(np.float64(a), b)), (a, b)
            for name, function in arithmetic.FUNCTIONS.items():
                numpy = getattr(np, names.get(name, name), None)
                if numpy is not None:
                    assert same(function(a), numpy(a)), (name, a)


@pytest.mark.parametrize("x", [-1.5, 0.0, 2.0, 2.7, math.inf, math.nan])
def test_whole_numbers(x: float) -> None:
    assert same(arithmetic.whole_below(x), np.floor(x))
    assert same(arithmetic.whole_above(x), np.ceil(x))
