"""The names that formulas are written with: floats and arrays alike, inside and outside the domain of each."""

from __future__ import annotations

import math
import warnings
from typing import Any

import numpy as np
import pytest
from glandwise.twofold import numeric as num
from hypothesis import assume, example, given
from hypothesis import strategies as st

UNARY = {
    "sqrt": math.sqrt,
    "exp": math.exp,
    "expm1": math.expm1,
    "sin": math.sin,
    "cos": math.cos,
    "tan": math.tan,
    "arctan": math.atan,
    "arcsin": math.asin,
    "arccos": math.acos,
    "sinh": math.sinh,
    "cosh": math.cosh,
    "tanh": math.tanh,
    "log": math.log,
    "log1p": math.log1p,
    "log10": math.log10,
}
EDGES = [0.0, -0.0, 1.0, -1.0, 1.0000001, -1.0000001, 709.0, 711.0, -711.0, 1e-300, 1e300, -1e300]
EDGES += [math.inf, -math.inf, math.nan]

floats = st.floats() | st.sampled_from(EDGES)
reasonable = st.floats(-1e6, 1e6)


def same(one: Any, other: Any) -> bool:
    """Equal, both nan, or apart by the rounding of two libraries of elementary functions."""
    return bool(other == pytest.approx(one, rel=4e-15, abs=0.0, nan_ok=True))


@pytest.mark.parametrize("name", UNARY)
@given(x=floats)
@example(x=0.0)
@example(x=-1.0)
@example(x=711.0)
@example(x=-711.0)
@example(x=math.inf)
@example(x=math.nan)
def test_one_argument_alike_in_both_shapes(name: str, x: float) -> None:
    function = getattr(num, name)
    assume(name not in {"sin", "cos", "tan"} or not math.isfinite(x) or abs(x) < 1e9)
    single, many = function(x), function(np.array([x]))
    assert type(single) is float
    assert many.shape == (1,)
    assert same(single, many[0])
    assert same(single, function(np.float64(x)))
    try:
        assert single == UNARY[name](x) or math.isnan(x)
    except (ValueError, OverflowError):
        assert not math.isfinite(single)


@pytest.mark.parametrize(
    ("name", "x", "value"),
    [
        ("sqrt", -1e-300, math.nan),
        ("exp", 710.0, math.inf),
        ("exp", -1e4, 0.0),
        ("expm1", 710.0, math.inf),
        ("expm1", -1e4, -1.0),
        ("sinh", 711.0, math.inf),
        ("sinh", -711.0, -math.inf),
        ("cosh", 711.0, math.inf),
        ("cosh", -711.0, math.inf),
        ("tanh", 1e4, 1.0),
        ("arcsin", 1.0000001, math.nan),
        ("arccos", -1.0000001, math.nan),
        ("arctan", math.inf, math.pi / 2),
        ("sin", math.inf, math.nan),
        ("cos", math.inf, math.nan),
        ("tan", -math.inf, math.nan),
        ("log", 0.0, -math.inf),
        ("log", -0.0, -math.inf),
        ("log", -1e-300, math.nan),
        ("log", math.inf, math.inf),
        ("log10", 0.0, -math.inf),
        ("log10", -1e-300, math.nan),
        ("log10", 1e-2, -2.0),
        ("log1p", -1.0, -math.inf),
        ("log1p", -1.0000001, math.nan),
        ("log1p", -0.5, math.log(0.5)),
        ("log1p", 1e-20, 1e-20),
    ],
)
def test_beyond_the_domain(name: str, x: float, value: float) -> None:
    function = getattr(num, name)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert same(value, function(x))
        assert same(value, function(np.array([x]))[0])


@pytest.mark.parametrize("name", ["divide", "minimum", "maximum"])
@given(a=floats, b=floats)
def test_two_arguments_alike_in_both_shapes(name: str, a: float, b: float) -> None:
    function = getattr(num, name)
    single = function(a, b)
    for many in (function(np.array([a]), b), function(a, np.array([b])), function(np.array([a]), np.array([b]))):
        assert same(single, many[0])


@given(x=floats, exponent=floats)
@example(x=0.0, exponent=-1.0)
@example(x=-0.0, exponent=-3.0)
@example(x=-0.0, exponent=-2.0)
@example(x=-8.0, exponent=1 / 3)
@example(x=-1e200, exponent=3.0)
@example(x=-1e200, exponent=2.0)
@example(x=-1e-200, exponent=-3.0)
def test_power_alike_in_both_shapes(x: float, exponent: float) -> None:
    # NumPy takes the root of minus infinity for nan and the C library for infinity: no case of either here
    assume(x != -math.inf or exponent != 0.5)
    single = num.power(x, exponent)
    assert type(single) is float
    for base, raised in ((np.array([x]), exponent), (x, np.array([exponent])), (np.array([x]), np.array([exponent]))):
        found = num.power(base, raised)[0]
        assert found == pytest.approx(single, rel=1e-13, abs=1e-300, nan_ok=True)


@pytest.mark.parametrize(
    ("x", "exponent", "value"),
    [
        (-8.0, 1 / 3, math.nan),
        (-8.0, 3.0, -512.0),
        (2.0, 0.5, math.sqrt(2.0)),
        (0.0, -1.0, math.inf),
        (-0.0, -1.0, -math.inf),
        (-0.0, -2.0, math.inf),
        (0.0, 0.0, 1.0),
        (10.0, 400.0, math.inf),
        (-10.0, 401.0, -math.inf),
        (-10.0, 400.0, math.inf),
        (-1e-10, -41.0, -math.inf),
    ],
)
def test_power(x: float, exponent: float, value: float) -> None:
    assert same(value, num.power(x, exponent))
    assert same(value, num.power(np.array([x]), exponent)[0])


@pytest.mark.parametrize(
    ("a", "b", "value"),
    [
        (6.0, 3.0, 2.0),
        (1.0, 0.0, math.inf),
        (-1.0, 0.0, -math.inf),
        (1.0, -0.0, -math.inf),
        (-1.0, -0.0, math.inf),
        (math.inf, 0.0, math.inf),
        (0.0, 0.0, math.nan),
        (-0.0, 0.0, math.nan),
        (math.nan, 0.0, math.nan),
        (1.0, math.inf, 0.0),
        (0, 0, math.nan),
        (1, 0, math.inf),
    ],
)
def test_divide(a: float, b: float, value: float) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert same(value, num.divide(a, b))
        assert same(value, num.divide(np.array([float(a)]), b)[0])


def test_integers_do_not_turn_into_arrays() -> None:
    assert type(num.minimum(1, 2)) is int
    assert type(num.maximum(1, 2)) is int
    for value in (num.divide(6, 3), num.power(2, 3), num.interp(2, [1, 3], [10, 30])):
        assert type(value) is float


def test_lesser_and_greater() -> None:
    assert (num.minimum(1.0, 2.0), num.minimum(2.0, 1.0)) == (1.0, 1.0)
    assert (num.maximum(1.0, 2.0), num.maximum(2.0, 1.0)) == (2.0, 2.0)
    for function in (num.minimum, num.maximum):
        assert math.isnan(function(math.nan, 1.0))
        assert math.isnan(function(1.0, math.nan))
        assert function(1.5, 1.5) == 1.5


@given(x=reasonable, low=reasonable, width=st.floats(0.0, 1e6))
def test_clip_holds(x: float, low: float, width: float) -> None:
    high = low + width
    held = num.clip(x, low, high)
    assert low <= held <= high
    assert held == x or x < low or x > high
    assert num.clip(np.array([x]), low, high)[0] == held
    assert math.isnan(num.clip(math.nan, low, high))


def test_upper_bound_wins_where_bounds_cross() -> None:
    assert num.clip(5.0, 3.0, 1.0) == 1.0
    assert num.clip(np.array([5.0]), 3.0, 1.0)[0] == 1.0


def test_where_takes_one_of_two() -> None:
    assert num.where(True, 1.0, 2.0) == 1.0
    assert num.where(False, 1.0, 2.0) == 2.0
    assert num.where(np.array([True, False]), 1.0, 2.0).tolist() == [1.0, 2.0]
    assert num.where(True, np.array([1.0, 3.0]), 2.0).tolist() == [1.0, 3.0]
    assert num.where(False, 1.0, np.array([2.0, 4.0])).tolist() == [2.0, 4.0]


def test_isfinite_and_absolute() -> None:
    for x, finite in ((1.0, True), (math.inf, False), (-math.inf, False), (math.nan, False)):
        assert num.isfinite(x) is finite
        assert num.isfinite(np.array([x]))[0] == finite
    assert num.absolute(-2.5) == 2.5
    assert num.absolute(3 + 4j) == 5.0
    assert num.absolute(np.array([-2.5, 3 + 4j])).tolist() == [2.5, 5.0]


def test_only_arrays_and_numpy_scalars_are_arrays() -> None:
    assert num.is_array(np.zeros(2))
    assert num.is_array(np.float64(1.0))
    assert num.is_array(1.0, "a", np.zeros(()))
    assert not num.is_array()
    assert not num.is_array(1.0, 2, None, [1.0, 2.0], (3.0,))


TABLE_X, TABLE_Y = [1.0, 2.0, 2.5, 4.0, 8.0], [10.0, -5.0, 0.0, 0.0, 7.0]


@given(x=st.floats(-2.0, 12.0) | st.sampled_from([*TABLE_X, math.nan, math.inf, -math.inf]))
def test_interp_agrees_with_numpy(x: float) -> None:
    expected = float(np.interp(x, TABLE_X, TABLE_Y))
    for xp, fp in ((TABLE_X, TABLE_Y), (np.array(TABLE_X), np.array(TABLE_Y)), (tuple(TABLE_X), tuple(TABLE_Y))):
        single = num.interp(x, xp, fp)
        assert type(single) is float
        assert single == pytest.approx(expected, rel=1e-14, abs=1e-14, nan_ok=True)
        assert num.interp(np.array([x]), xp, fp)[0] == pytest.approx(expected, rel=1e-14, nan_ok=True)


def test_interp_meets_its_nodes_and_holds_its_ends() -> None:
    for x, y in zip(TABLE_X, TABLE_Y, strict=True):
        assert num.interp(x, TABLE_X, TABLE_Y) == y
    assert num.interp(-1e9, TABLE_X, TABLE_Y) == 10.0
    assert num.interp(1e9, TABLE_X, TABLE_Y) == 7.0
    assert num.interp(1.5, TABLE_X, TABLE_Y) == 2.5
    assert num.interp(6.0, TABLE_X, TABLE_Y) == 3.5
    assert num.interp(3.0, [3.0], [9.0]) == 9.0
    assert num.interp(3.0, [1.0, 5.0], [0.0, 8.0]) == 4.0
    assert math.isnan(num.interp(math.nan, TABLE_X, TABLE_Y))


class _Counted(list[float]):
    """A table that counts how often it is read."""

    reads = 0

    def __getitem__(self, index: Any) -> Any:
        self.reads += 1
        return super().__getitem__(index)


def test_interp_halves_its_way() -> None:
    xp = _Counted(float(i) for i in range(1025))
    assert num.interp(700.25, xp, xp) == 700.25
    assert xp.reads <= 2 + 10 + 4


@given(coefficients=st.lists(st.floats(-10, 10), max_size=6), x=st.floats(-3, 3))
def test_polynomial_in_ascending_powers(coefficients: list[float], x: float) -> None:
    expected = math.fsum(c * x**i for i, c in enumerate(coefficients))
    scale = 1.0 + math.fsum(abs(c * x**i) for i, c in enumerate(coefficients))
    assert num.polyval(coefficients, x) == pytest.approx(expected, abs=1e-13 * scale)
    assert num.polyval(coefficients, np.array([x, x]))[1] == pytest.approx(expected, abs=1e-13 * scale)


def test_constants() -> None:
    assert (num.pi, num.inf) == (math.pi, math.inf)
    assert math.isnan(num.nan)


@pytest.mark.parametrize("name", [*UNARY, "isfinite", "absolute"])
def test_names_are_kept(name: str) -> None:
    function = getattr(num, name)
    assert function.__name__ in {name, name.replace("arc", "a")}
