"""Wear of a lip as plain formulas."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from glandwise.mechanics import wear
from glandwise.numerics.over import Over
from glandwise.numerics.trace import Working
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from tests.mechanics.support import sound, told

plain = Over(wear)
"""Its formulas over arrays."""


LOSING = {"K": (1e-17, 1e-13), "q_0": (10.0, 5e4), "k": (0.0, 1e8), "b": (1e-4, 2e-3), "h_a": (1e-5, 1e-3)}


def test_wear_rate() -> None:
    sound(wear.wear_rate, {"K_0": (1e-17, 1e-13), "f_c": (0.1, 20.0)})
    assert plain.wear_rate(2e-15, 3.0) == pytest.approx(6e-15, rel=1e-15)


def test_depth_rate() -> None:
    spans = {"K": (1e-17, 1e-13), "p_c": (1e4, 1e8), "v": (-20.0, 20.0)}
    sound(wear.depth_rate, spans)


def test_distance_to_an_allowance() -> None:
    sound(wear.relieved_distance, LOSING)


def test_a_load_that_is_gone_before_the_allowance_lasts_without_end() -> None:
    assert told(wear.relieved_distance, 1e-15, 1000.0, 2e6, 5e-4, 1e-3) == math.inf


def test_a_load_that_stays_says_so() -> None:
    s = told(wear.relieved_distance, 1e-15, 1000.0, 0.0, 5e-4, 1e-3)
    assert s == pytest.approx(1e-3 * 5e-4 / (1e-15 * 1000.0))
    assert Working(s).because(s.tree) == "x <= 0"


def test_a_stiffness_that_is_not_known_is_not_taken_for_none() -> None:
    assert math.isnan(told(wear.relieved_distance, 1e-15, 1000.0, math.nan, 5e-4, 1e-3))


rates = st.floats(1e-17, 1e-12)


pressures = st.floats(1e4, 5e7)


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


def test_a_load_gone_before_the_allowance_never_reaches_it() -> None:
    assert plain.relieved_distance(1e-15, 2000.0, 3e6, 5e-4, 2000.0 / 3e6) == math.inf
    assert plain.relieved_distance(1e-15, 2000.0, 3e6, 5e-4, 1e-3) == math.inf
    # no load at all: nothing wears
    assert plain.relieved_distance(1e-15, 0.0, 3e6, 5e-4, 1e-3) == math.inf


@given(rates, pressures, st.floats(0.01, 50.0), st.floats(1.0, 1e8))
def test_depth_rate_and_distance_tell_the_same(k: float, pressure: float, speed: float, time: float) -> None:
    depth, width = plain.depth_rate(k, pressure, speed) * time, 5e-4
    distance = plain.relieved_distance(k, pressure * width, 0.0, width, depth)
    assert distance == pytest.approx(speed * time, rel=1e-13)
    assert plain.depth_rate(k, pressure, -speed) * time == depth


@pytest.mark.parametrize("distance", [1e4, 1e6, 1e8])
def test_distance_is_the_inverse_of_the_depth_integrated(distance: float) -> None:
    k, load, stiffness, width = 1e-15, 2000.0, 3e6, 5e-4
    depth = integrate_depth(lambda h: k * (load - stiffness * h) / width, distance)
    if depth < 0.999 * load / stiffness:
        assert plain.relieved_distance(k, load, stiffness, width, depth) == pytest.approx(distance, rel=1e-6)
    else:  # the load is gone long before
        assert depth == pytest.approx(load / stiffness, rel=1e-9)
        assert plain.relieved_distance(k, load, stiffness, width, 0.999 * load / stiffness) < 0.1 * distance


@given(rates, st.floats(1.0, 1e4), st.floats(0.0, 1e8), st.floats(1e-6, 1e-3))
def test_relief_only_slows_wear(k: float, load: float, stiffness: float, depth: float) -> None:
    kept = plain.relieved_distance(k, load, 0.0, 5e-4, depth)
    assert plain.relieved_distance(k, load, stiffness, 5e-4, depth) >= kept * (1.0 - 1e-12)
    # and comes to it continuously
    assert plain.relieved_distance(k, load, 1e-9 * load / depth, 5e-4, depth) == pytest.approx(kept, rel=1e-8)
