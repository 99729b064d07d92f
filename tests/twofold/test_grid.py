"""Tables on uniform grids: exact for the polynomials they stand for, held at their ends, the same in both shapes."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from glandwise.twofold.grid import UniformGrid
from hypothesis import given
from hypothesis import strategies as st

AXES = [(-1.0, 2.0, 7), (0.0, 0.5, 6), (10.0, 14.0, 5)]


def nodes(axis: tuple[float, float, int]) -> Any:
    return np.linspace(*axis)


def smooth(x: Any, y: Any, z: Any) -> tuple[Any, ...]:
    """Cubic in x and y, linear in z: what orders 3, 3, 1 read without error."""
    return (
        (1.0 + x - 2.0 * x**2 + 0.7 * x**3) * (2.0 - 3.0 * y + y**3) * (z - 9.0),
        x * y**2 + 0.25 * z * x**3,
    )


def grid(orders: tuple[int, int, int] = (3, 3, 1)) -> UniformGrid:
    mesh = np.meshgrid(*[nodes(axis) for axis in AXES], indexing="ij")
    return UniformGrid(AXES, np.stack(smooth(*mesh), axis=-1), orders)


inside = st.tuples(st.floats(-1.0, 2.0), st.floats(0.0, 0.5), st.floats(10.0, 14.0))
anywhere = st.tuples(st.floats(-3.0, 4.0), st.floats(-0.5, 1.0), st.floats(8.0, 16.0))


@given(inside)
def test_polynomials_of_its_order_are_read_exactly(point: tuple[float, float, float]) -> None:
    for found, expected in zip(grid()(*point), smooth(*point), strict=True):
        assert type(found) is float
        assert found == pytest.approx(float(expected), rel=1e-11, abs=1e-11)


@given(anywhere, st.sampled_from([(3, 3, 1), (1, 3, 3), (3, 1, 3), (1, 1, 1), (3, 3, 3)]))
def test_both_shapes_agree_and_the_ends_hold(point: tuple[float, float, float], orders: tuple[int, int, int]) -> None:
    table = grid(orders)
    held = [min(max(x, first), last) for x, (first, last, _) in zip(point, AXES, strict=True)]
    single = table(*point)
    assert single == pytest.approx(table(*held), rel=1e-12, abs=1e-12)
    many = table(*[np.array([x, 0.5 * (first + last)]) for x, (first, last, _) in zip(point, AXES, strict=True)])
    mixed = table(point[0], np.array([point[1], 0.2]), point[2])
    for one, two, three in zip(single, many, mixed, strict=True):
        assert two.shape == three.shape == (2,)
        assert two[0] == pytest.approx(one, rel=1e-11, abs=1e-11)
        assert three[0] == pytest.approx(one, rel=1e-11, abs=1e-11)


@pytest.mark.parametrize("orders", [(3, 3, 1), (1, 1, 1), (3, 3, 3)])
def test_nodes_are_met(orders: tuple[int, int, int]) -> None:
    table = grid(orders)
    mesh = np.meshgrid(*[nodes(axis) for axis in AXES], indexing="ij")
    for found, expected in zip(table(*mesh), smooth(*mesh), strict=True):
        assert found.shape == mesh[0].shape
        assert found == pytest.approx(expected, rel=1e-11, abs=1e-11)
    for corner in [(-1.0, 0.0, 10.0), (2.0, 0.5, 14.0), (-1.0, 0.5, 10.0), (0.5, 0.3, 13.0)]:
        assert table(*corner) == pytest.approx([float(v) for v in smooth(*corner)], rel=1e-11, abs=1e-11)


def test_linear_order_is_the_straight_line() -> None:
    table = UniformGrid([(0.0, 3.0, 4)], np.array([[0.0], [1.0], [5.0], [2.0]]), [1])
    x = np.array([-1.0, 0.0, 0.25, 1.0, 1.5, 2.0, 2.9, 3.0, 9.0])
    expected = np.interp(x, [0.0, 1.0, 2.0, 3.0], [0.0, 1.0, 5.0, 2.0])
    assert table(x)[0] == pytest.approx(expected, rel=1e-14)
    assert [table(float(v))[0] for v in x] == pytest.approx(expected.tolist(), rel=1e-14)


def test_cubic_order_uses_the_four_nearest_points() -> None:
    # one node out of line: its reach is two steps to either side, the shares are Lagrange's at the middle of a step
    values = np.zeros((9, 1))
    values[4] = 1.0
    table = UniformGrid([(0.0, 8.0, 9)], values, [3])
    x = np.array([1.5, 2.5, 3.5, 4.0, 4.5, 5.5, 6.5])
    expected = [0.0, -1 / 16, 9 / 16, 1.0, 9 / 16, -1 / 16, 0.0]
    assert table(x)[0] == pytest.approx(expected, abs=1e-14)
    assert [table(float(v))[0] for v in x] == pytest.approx(expected, abs=1e-14)


def test_cubic_order_leans_on_the_end_points() -> None:
    # the outer cells use the same four points as the cell beside them
    values = np.array([[1.0], [0.0], [0.0], [0.0], [0.0], [2.0]])
    table = UniformGrid([(0.0, 5.0, 6)], values, [3])
    for x, expected in ((0.5, 5 / 16), (1.5, -1 / 16), (2.5, 0.0), (3.5, -1 / 8), (4.5, 5 / 8)):
        assert table(x)[0] == pytest.approx(expected, abs=1e-14)
        assert table(np.array([x]))[0][0] == pytest.approx(expected, abs=1e-14)


@pytest.mark.parametrize("axis", [0, 1, 2])
def test_nan_stays_in_its_case(axis: int) -> None:
    point = [0.1, 0.2, 12.0]
    point[axis] = math.nan
    found = grid()(*point)
    assert len(found) == 2
    assert all(math.isnan(value) for value in found)
    columns = [np.array([x, good]) for x, good in zip(point, (0.1, 0.2, 12.0), strict=True)]
    for value, expected in zip(grid()(*columns), smooth(0.1, 0.2, 12.0), strict=True):
        assert math.isnan(value[0])
        assert value[1] == pytest.approx(float(expected), rel=1e-11)


def test_infinity_is_held_at_the_end() -> None:
    table = UniformGrid([(0.0, 3.0, 4)], np.array([[4.0], [1.0], [5.0], [2.0]]), [3])
    assert table(math.inf)[0] == pytest.approx(2.0)
    assert table(-math.inf)[0] == pytest.approx(4.0)


def test_shape_of_the_point_is_kept() -> None:
    found = grid()(np.zeros((2, 3)), 0.2, np.full((3,), 12.0))
    assert [value.shape for value in found] == [(2, 3), (2, 3)]


@pytest.mark.parametrize("shape", [(7, 6, 4, 2), (6, 7, 5, 2), (7, 6, 2)])
def test_a_table_that_does_not_fit_is_refused(shape: tuple[int, ...]) -> None:
    with pytest.raises(ValueError, match="does not fit"):
        UniformGrid(AXES, np.zeros(shape), (3, 3, 1))


def test_point_orders_and_axes_go_together() -> None:
    with pytest.raises(ValueError, match="zip"):
        grid()(0.1, 0.2)
    with pytest.raises(ValueError, match="zip"):
        grid()(np.array([0.1]), 0.2)
    with pytest.raises(ValueError, match="zip"):
        UniformGrid(AXES, np.zeros((7, 6, 5, 2)), (3, 3))
