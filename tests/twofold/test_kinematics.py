"""Kinematics of the shaft surface."""

from __future__ import annotations

import math

import numpy as np
import pytest
from glandwise.twofold import kinematics
from hypothesis import given
from hypothesis import strategies as st

sizes = st.floats(1e-3, 2.0)
speeds = st.floats(0.0, 500.0)


@given(sizes, speeds)
def test_speed_from_turns_is_radians_times_the_radius_and_leads_back(diameter: float, turns: float) -> None:
    speed = kinematics.surface_speed(diameter, turns)
    assert speed == pytest.approx(2.0 * math.pi * turns * diameter / 2.0, rel=1e-14)
    assert kinematics.rotation_speed(diameter, speed) == pytest.approx(turns, rel=1e-14)


@given(sizes, st.floats(0.01, 6.0), st.floats(0.01, 50.0))
def test_oscillation_agrees_with_the_motion_integrated_numerically(
    diameter: float, half_amplitude: float, frequency: float
) -> None:
    # midpoint rule over one cycle of the sine motion; its error for a rectified cosine is below 2e-7 here
    phase = (np.arange(4000) + 0.5) / 4000 * 2 * np.pi
    speed = np.abs(half_amplitude * np.cos(phase) * 2 * np.pi * frequency * diameter / 2)
    mean = kinematics.oscillation_mean_speed(diameter, half_amplitude, frequency)
    peak = kinematics.oscillation_peak_speed(diameter, half_amplitude, frequency)
    assert mean == pytest.approx(speed.mean(), rel=1e-6)
    assert peak == pytest.approx(speed.max(), rel=1e-6)
    assert peak / mean == pytest.approx(math.pi / 2, rel=1e-14)


def test_oscillation_through_whole_turns_equals_turning_at_that_rate() -> None:
    # ±π once a second covers two turns a second
    assert kinematics.oscillation_mean_speed(0.04, math.pi, 1.0) == pytest.approx(
        kinematics.surface_speed(0.04, 2.0), rel=1e-14
    )


def test_distance_does_not_mind_the_sense_of_turning() -> None:
    assert kinematics.sliding_distance(-3.0, 10.0) == 30.0


def test_no_diameter_gives_no_finite_speed_and_no_exception() -> None:
    assert kinematics.rotation_speed(0.0, 1.0) == math.inf
    assert math.isnan(kinematics.rotation_speed(0.0, 0.0))


def test_arrays_give_what_floats_give() -> None:
    diameters, turns = np.array([0.01, 0.05, 0.3]), np.array([1.0, 50.0, 8.0])
    for function in (kinematics.surface_speed, kinematics.rotation_speed):
        assert list(function(diameters, turns)) == [function(d, n) for d, n in zip(diameters, turns, strict=True)]
    assert isinstance(kinematics.surface_speed(0.05, 50.0), float)
