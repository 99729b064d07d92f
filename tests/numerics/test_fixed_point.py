"""The search for x = f(x), in a loop as formulas write it out."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

import pytest
from glandwise.numerics.fixed_point import next_guess
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq


class Found(NamedTuple):
    value: float
    passes: int
    solved: bool


def search(
    f: Callable[[float], float], start: float, low: float, high: float, tolerance: float, most: int = 50
) -> Found:
    x, f_low, f_high, side = start, 0.0, 0.0, 0.0
    for i in range(most):
        residual = f(x) - x
        if abs(residual) <= tolerance:
            return Found(x, i + 1, True)
        if residual != residual and x - low <= tolerance:
            return Found(x, i + 1, False)
        last = x
        x, low, f_low, high, f_high, side = next_guess(x, residual, low, f_low, high, f_high, side, tolerance)
        if x == last:
            return Found(x, i + 1, False)
    return Found(x, most, False)


@given(st.floats(-3.0, 0.9), st.floats(1.0, 200.0))
def test_a_straight_line_is_met_soon(slope: float, push: float) -> None:
    found = search(lambda t: 300.0 + push + slope * (t - 300.0), 300.0, 300.0, 1e5, 1e-6)
    assert found.solved
    assert found.value == pytest.approx(300.0 + push / (1.0 - slope), abs=1e-4)
    assert found.passes <= 12


def test_a_curve_agrees_with_bisection() -> None:
    for power in (-8.0, -2.0, 0.5, 2.0, 4.0):

        def curve(t: float, power: float = power) -> float:
            return 300.0 + 20.0 * (t / 300.0) ** power

        found = search(curve, 300.0, 300.0, 400.0, 1e-9)
        root = brentq(lambda t, f=curve: f(t) - t, 300.0, 400.0, xtol=1e-12)
        assert found.solved, power
        assert found.value == pytest.approx(root, abs=1e-7), power


def test_the_lower_of_two_balances_is_found_and_a_runaway_ends_at_the_bound() -> None:
    # a convex heat curve crosses the cooling line twice, or passes above it; crossings where x exp(-x) = push / 50
    low = search(lambda t: 300.0 + 10.0 * math.exp((t - 300.0) / 50.0), 300.0, 300.0, 500.0, 1e-8)
    assert low.solved
    assert low.value == pytest.approx(300.0 + 50.0 * 0.2591711018, abs=1e-5)
    runaway = search(lambda t: 300.0 + 20.0 * math.exp((t - 300.0) / 50.0), 300.0, 300.0, 500.0, 1e-8)
    assert (runaway.value, runaway.solved) == (500.0, False)


def test_a_guess_beyond_what_is_known_turns_back() -> None:
    def curve(end: float) -> Callable[[float], float]:
        return lambda t: 300.0 + 160.0 * (300.0 / t) ** 0.5 if t < end else math.nan

    root = brentq(lambda t: 300.0 + 160.0 * (300.0 / t) ** 0.5 - t, 300.0, 500.0, xtol=1e-12)
    for end in (root + 0.5, root + 20.0, 600.0):  # the first guess is 620
        found = search(curve(end), 300.0, 300.0, 1000.0, 1e-6)
        assert found.solved, end
        assert found.value == pytest.approx(root, abs=1e-5)
    beyond = search(curve(root - 1.0), 300.0, 300.0, 1000.0, 1e-6)
    assert not beyond.solved
    assert beyond.value == pytest.approx(root - 1.0, abs=1e-4)


def test_a_stiff_alternation_is_damped() -> None:
    # plain repetition diverges here: the slope at the solution is -9
    found = search(lambda t: 300.0 + 100.0 * (300.0 / t) ** 40.0, 300.0, 300.0, 600.0, 1e-8)
    assert found.solved
    assert abs(300.0 + 100.0 * (300.0 / found.value) ** 40.0 - found.value) <= 1e-8


@given(st.floats(0.5, 7.0), st.floats(-2.0, 6.0))
def test_a_residual_of_any_size_is_met(stiffness: float, decades: float) -> None:
    """As of a film that is a million times stiffer in the cold."""

    def heated(t: float) -> float:
        return 233.0 + 10.0**decades * (300.0 / t) ** (10.0 * stiffness)

    found = search(heated, 233.0, 233.0, 1000.0, 1e-2)
    if heated(1000.0) < 1000.0:
        assert found.solved
        assert found.value == pytest.approx(brentq(lambda t: heated(t) - t, 232.9, 1000.0), abs=0.02)
        assert found.passes <= 40
    else:
        assert (found.value, found.solved) == (1000.0, False)


def test_what_is_not_known_is_not_solved() -> None:
    assert not search(lambda t: t * math.nan, 300.0, 300.0, 600.0, 1e-6).solved
    assert search(lambda x: x + 0.5, 1.0, 0.0, 9.0, 0.5) == (1.0, 1, True)
