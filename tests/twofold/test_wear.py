"""Wear of a lip."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from glandwise.twofold import wear
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

rates = st.floats(1e-17, 1e-12)
pressures = st.floats(1e4, 5e7)


@given(rates, pressures, st.floats(0.01, 50.0), st.floats(1.0, 1e8))
def test_rate_depth_and_distance_tell_the_same(k: float, pressure: float, speed: float, time: float) -> None:
    depth = wear.depth_rate(k, pressure, speed) * time
    assert depth == pytest.approx(wear.wear_depth(k, pressure, speed * time), rel=1e-13)
    assert wear.wear_distance(k, pressure, depth) == pytest.approx(speed * time, rel=1e-13)


def test_range_and_factors() -> None:
    plain = wear.wear_rate_range(1e-16, 1e-14)
    assert plain.nominal == pytest.approx(1e-15, rel=1e-14)
    rough = wear.wear_rate_range(1e-16, 1e-14, counterface_factor=3.0, lubrication_factor=0.1)
    assert list(rough) == pytest.approx([0.3 * value for value in plain], rel=1e-14)
    assert wear.wear_rate_range(1e-16, 1e-14, nominal=2e-16).nominal == 2e-16


@given(rates, st.floats(1.0, 1e3), pressures, st.floats(0.01, 50.0))
def test_life_is_a_range_in_order(k: float, spread: float, pressure: float, speed: float) -> None:
    result = wear.life(1e-4, wear.wear_rate_range(k, k * spread), pressure, speed)
    assert 0.0 < result.short <= result.nominal <= result.long * (1 + 1e-12)
    assert result.long / result.short == pytest.approx(spread, rel=1e-12)


def test_standstill_lasts_for_ever_and_says_so() -> None:
    assert wear.life(1e-4, wear.wear_rate_range(1e-16, 1e-14), 1e6, 0.0) == (math.inf, math.inf, math.inf)


def test_duty_of_one_phase_is_that_phase() -> None:
    result = wear.duty_wear([1.0], [3e-12])
    assert result.depth_rate == 3e-12
    assert result.contributions == (1.0,)


def test_duty_adds_phases_and_names_the_worst() -> None:
    result = wear.duty_wear([0.5, 0.1, 0.2], [1e-12, 8e-12, 0.0])
    assert result.depth_rate == pytest.approx(1.3e-12, rel=1e-14)
    assert result.contributions == pytest.approx((5 / 13, 8 / 13, 0.0), rel=1e-14)


def test_impossible_shares_give_no_number() -> None:
    assert math.isnan(wear.duty_wear([0.8, 0.3], [1e-12, 1e-12]).depth_rate)
    assert math.isnan(wear.duty_wear([-0.1, 0.3], [1e-12, 1e-12]).depth_rate)
    assert wear.duty_wear([0.1] * 10, [1e-12] * 10).depth_rate == pytest.approx(1e-12, rel=1e-12)
    with pytest.raises(ValueError):
        wear.duty_wear([0.5], [1e-12, 1e-12])


def integrate_depth(rate: Callable[[float], float], distance: float) -> float:
    """Depth by numerical integration of dh/ds, scaled to micrometres and to the whole distance."""
    solution = solve_ivp(
        lambda _, y: [rate(y[0] * 1e-6) * distance * 1e6],
        (0.0, 1.0),
        [0.0],
        rtol=1e-10,
        atol=1e-12,
    )
    return float(solution.y[0, -1]) * 1e-6


@pytest.mark.parametrize("distance", [1e4, 1e6, 1e8])
def test_relieved_depth_is_the_solution_of_its_equation(distance: float) -> None:
    k, load, stiffness, width = 1e-15, 2000.0, 3e6, 5e-4
    depth = wear.relieved_depth(k, load, stiffness, width, distance)
    other = integrate_depth(lambda h: k * (load - stiffness * h) / width, distance)
    assert depth == pytest.approx(other, rel=1e-7)
    if depth < 0.9 * load / stiffness:
        assert wear.relieved_distance(k, load, stiffness, width, depth) == pytest.approx(distance, rel=1e-10)


@given(rates, st.floats(1.0, 1e4), st.floats(0.0, 1e8), st.floats(1.0, 1e9))
def test_relief_only_slows_wear_and_never_passes_the_load(k: float, load: float, stiffness: float, s: float) -> None:
    depth = wear.relieved_depth(k, load, stiffness, 5e-4, s)
    assert 0.0 < depth <= wear.wear_depth(k, load / 5e-4, s) * (1 + 1e-12)
    assert depth * stiffness <= load * (1 + 1e-12)


def test_without_stiffness_relief_is_plain_archard() -> None:
    assert wear.relieved_depth(1e-15, 2000.0, 0.0, 5e-4, 1e6) == wear.wear_depth(1e-15, 4e6, 1e6)
    assert wear.relieved_distance(1e-15, 2000.0, 0.0, 5e-4, 1e-4) == pytest.approx(
        wear.wear_distance(1e-15, 4e6, 1e-4), rel=1e-14
    )
    # and comes to it continuously
    assert wear.relieved_depth(1e-15, 2000.0, 1e-9, 5e-4, 1e6) == pytest.approx(4e-3, rel=1e-12)


def test_a_load_gone_before_the_allowance_never_reaches_it() -> None:
    assert wear.relieved_distance(1e-15, 2000.0, 3e6, 5e-4, 2000.0 / 3e6) == math.inf
    assert wear.relieved_distance(1e-15, 2000.0, 3e6, 5e-4, 1e-3) == math.inf
    # no load at all: nothing wears
    assert wear.relieved_distance(1e-15, 0.0, 3e6, 5e-4, 1e-3) == math.inf


def test_rounded_edge_depth_is_the_solution_of_its_equation() -> None:
    k, load, radius, distance = 1e-15, 2000.0, 2e-4, 1e5
    depth = wear.rounded_edge_depth(k, load, radius, distance)
    # started from the closed form a little way in, as the edge has no width at the outset
    start = wear.rounded_edge_depth(k, load, radius, 1e-3 * distance)
    solution = solve_ivp(
        lambda _, y: [k * load * distance / (2.0 * math.sqrt(2.0 * radius * y[0] * 1e-6)) * 1e6],
        (1e-3, 1.0),
        [start * 1e6],
        rtol=1e-10,
        atol=1e-12,
    )
    assert depth == pytest.approx(float(solution.y[0, -1]) * 1e-6, rel=1e-7)


def test_rounded_edge_scaling() -> None:
    one = wear.rounded_edge_depth(1e-15, 1000.0, 2e-4, 1e5)
    assert wear.rounded_edge_depth(1e-15, 1000.0, 2e-4, 8e5) / one == pytest.approx(4.0, rel=1e-12)
    assert wear.rounded_edge_depth(1e-15, 1000.0, 1.6e-3, 1e5) / one == pytest.approx(0.5, rel=1e-12)


def test_arrays_give_what_floats_give() -> None:
    stiffness = np.array([0.0, 1e-3, 3e6, 1e9])
    distance = np.array([1e3, 1e5, 1e7, 1e9])
    depth = wear.relieved_depth(1e-15, 2000.0, stiffness, 5e-4, distance)
    reach = wear.relieved_distance(1e-15, 2000.0, stiffness, 5e-4, 1e-4)
    mean = wear.duty_wear([np.array([0.2, 0.9]), 0.3], [1e-12, 2e-12])
    for i in range(4):
        k, s = float(stiffness[i]), float(distance[i])
        assert depth[i] == pytest.approx(wear.relieved_depth(1e-15, 2000.0, k, 5e-4, s), rel=1e-14)
        assert reach[i] == pytest.approx(wear.relieved_distance(1e-15, 2000.0, k, 5e-4, 1e-4), rel=1e-14)
    assert mean.depth_rate[0] == pytest.approx(8e-13, rel=1e-14)
    assert np.isnan(mean.depth_rate[1])


def test_factors_multiply() -> None:
    rate = wear.wear_rate_range(1e-16, 4e-15, 1.5, 0.3, nominal=5e-16)
    assert list(rate) == pytest.approx([0.45e-16, 2.25e-16, 18e-16], rel=1e-12)
