"""Speeds of a shaft surface as plain formulas."""

from __future__ import annotations

import math

import numpy as np
import pytest
from glandwise.mechanics import kinematics
from glandwise.numerics.over import Over
from hypothesis import given
from hypothesis import strategies as st

from tests.mechanics.support import sound

plain = Over(kinematics)
"""Its formulas over arrays."""


TURNING = {"d": (5e-3, 0.6), "n": (-50.0, 100.0)}


SWINGING = {"d": (5e-3, 0.6), "theta": (0.0, 3.0), "f": (1e-2, 50.0)}


def test_surface_speed() -> None:
    sound(kinematics.surface_speed, TURNING)
    assert plain.surface_speed(0.05, -3.0) == plain.surface_speed(0.05, 3.0)


def test_rotation_speed() -> None:
    sound(kinematics.rotation_speed, {"d": (5e-3, 0.6), "v": (0.0, 30.0)})


def test_mean_speed_of_an_oscillating_shaft() -> None:
    sound(kinematics.oscillation_mean_speed, SWINGING)


def test_peak_speed_of_an_oscillating_shaft() -> None:
    sound(kinematics.oscillation_peak_speed, SWINGING)


sizes = st.floats(1e-3, 2.0)


speeds = st.floats(0.0, 500.0)


@given(sizes, speeds)
def test_speed_from_turns_is_radians_times_the_radius_and_leads_back(diameter: float, turns: float) -> None:
    speed = plain.surface_speed(diameter, turns)
    assert speed == pytest.approx(2.0 * math.pi * turns * diameter / 2.0, rel=1e-14)
    assert plain.rotation_speed(diameter, speed) == pytest.approx(turns, rel=1e-14)


@given(sizes, st.floats(0.01, 6.0), st.floats(0.01, 50.0))
def test_oscillation_agrees_with_the_motion_integrated_numerically(
    diameter: float, half_amplitude: float, frequency: float
) -> None:
    # midpoint rule over one cycle of the sine motion; its error for a rectified cosine is below 2e-7 here
    phase = (np.arange(4000) + 0.5) / 4000 * 2 * np.pi
    speed = np.abs(half_amplitude * np.cos(phase) * 2 * np.pi * frequency * diameter / 2)
    mean = plain.oscillation_mean_speed(diameter, half_amplitude, frequency)
    peak = plain.oscillation_peak_speed(diameter, half_amplitude, frequency)
    assert mean == pytest.approx(speed.mean(), rel=1e-6)
    assert peak == pytest.approx(speed.max(), rel=1e-6)
    assert peak / mean == pytest.approx(math.pi / 2, rel=1e-14)


def test_oscillation_through_whole_turns_equals_turning_at_that_rate() -> None:
    # ±π once a second covers two turns a second
    assert plain.oscillation_mean_speed(0.04, math.pi, 1.0) == pytest.approx(plain.surface_speed(0.04, 2.0), rel=1e-14)
