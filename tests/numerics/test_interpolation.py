"""Curves and tables between their points."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import pytest
from glandwise.numerics.interpolation import cubic_at, cubic_weights, curve_at, curve_inside, place
from hypothesis import given
from hypothesis import strategies as st


class Curve(NamedTuple):
    x: list[float]
    y: list[float]
    n: int


CURVE = Curve([1.0, 2.0, 4.0, 7.0, 0.0], [3.0, -1.0, 5.0, 5.5, 99.0], 4)


@given(st.floats(-5.0, 12.0))
def test_a_curve_agrees_with_numpy(x: float) -> None:
    expected = np.interp(x, CURVE.x[:4], CURVE.y[:4])
    assert curve_at(CURVE, x) == pytest.approx(expected, rel=1e-14, abs=1e-14)
    assert math.isnan(curve_inside(CURVE, x)) if not 1.0 <= x <= 7.0 else curve_inside(CURVE, x) == curve_at(CURVE, x)


def test_a_curve_meets_its_points_and_holds_its_ends() -> None:
    assert [curve_at(CURVE, x) for x in (*CURVE.x[:4], -math.inf, math.inf)] == [3.0, -1.0, 5.0, 5.5, 3.0, 5.5]
    assert math.isnan(curve_at(CURVE, math.nan))
    assert math.isnan(curve_at(Curve([], [], 0), 1.0))
    assert curve_at(Curve([2.0], [7.0], 1), 5.0) == 7.0


POINTS = np.linspace(-1.0, 2.0, 7)


@given(st.floats(-1.0, 2.0), st.lists(st.floats(-5.0, 5.0), min_size=4, max_size=4))
def test_cubics_are_read_exactly(x: float, coefficients: list[float]) -> None:
    values = np.polynomial.polynomial.polyval(POINTS, coefficients)
    expected = np.polynomial.polynomial.polyval(x, coefficients)
    assert cubic_at(values, *place(x, -1.0, 2.0, 7, 3)) == pytest.approx(expected, abs=1e-10)


def test_the_four_nearest_points_are_used_and_the_ends_are_held() -> None:
    for x, low in ((-9.0, 0), (-1.0, 0), (-0.3, 0), (0.1, 1), (0.75, 2), (1.4, 3), (2.0, 3), (math.inf, 3)):
        assert place(x, -1.0, 2.0, 7, 3)[0] == low, x
    values = np.arange(7.0) ** 2
    for i, x in enumerate(POINTS):
        assert cubic_at(values, *place(float(x), -1.0, 2.0, 7, 3)) == pytest.approx(i * i, abs=1e-12)
    assert cubic_at(values, *place(5.0, -1.0, 2.0, 7, 3)) == pytest.approx(36.0)
    assert math.isnan(cubic_at(values, *place(math.nan, -1.0, 2.0, 7, 3)))
    assert place(0.25, 0.0, 1.0, 3, 1) == (0, 0.5)


@given(st.floats(0.0, 3.0))
def test_weights_are_those_of_lagrange(t: float) -> None:
    assert sum(cubic_weights(t)) == pytest.approx(1.0, abs=1e-12)
    at = range(4)
    expected = [math.prod((t - j) / (i - j) for j in at if j != i) for i in at]
    assert cubic_weights(t) == pytest.approx(expected, abs=1e-12)
