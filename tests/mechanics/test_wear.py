"""Wear of a lip as plain formulas."""

from __future__ import annotations

import math

import pytest
from glandwise.mechanics import wear
from glandwise.numerics.trace import Working
from glandwise.twofold import wear as before

from tests.mechanics.support import sound, told

LOSING = {"K": (1e-17, 1e-13), "q_0": (10.0, 5e4), "k": (0.0, 1e8), "b": (1e-4, 2e-3), "h_a": (1e-5, 1e-3)}


def test_wear_rate() -> None:
    def old(K_0: float, f_c: float) -> float:
        return float(before.wear_rate_range(K_0, K_0, f_c).low)

    sound(wear.wear_rate, {"K_0": (1e-17, 1e-13), "f_c": (0.1, 20.0)}, old)


def test_depth_rate() -> None:
    spans = {"K": (1e-17, 1e-13), "p_c": (1e4, 1e8), "v": (-20.0, 20.0)}
    sound(wear.depth_rate, spans, before.depth_rate)


def test_wear_of_a_phase() -> None:
    def old(tau: float, h_dot: float) -> float:
        return float(before.duty_wear([tau], [h_dot]).depth_rate)

    sound(wear.phase_wear, {"tau": (0.0, 1.0), "h_dot": (1e-14, 1e-7)}, old)


def test_distance_to_an_allowance() -> None:
    sound(wear.relieved_distance, LOSING, before.relieved_distance)


def test_a_load_that_is_gone_before_the_allowance_lasts_without_end() -> None:
    assert told(wear.relieved_distance, 1e-15, 1000.0, 2e6, 5e-4, 1e-3) == math.inf


def test_a_load_that_stays_says_so() -> None:
    s = told(wear.relieved_distance, 1e-15, 1000.0, 0.0, 5e-4, 1e-3)
    assert s == pytest.approx(1e-3 * 5e-4 / (1e-15 * 1000.0))
    assert Working(s).because(s.tree) == "x <= 0"


def test_a_stiffness_that_is_not_known_is_not_taken_for_none() -> None:
    assert math.isnan(told(wear.relieved_distance, 1e-15, 1000.0, math.nan, 5e-4, 1e-3))
