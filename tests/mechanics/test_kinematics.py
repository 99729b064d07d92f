"""Speeds of a shaft surface as plain formulas."""

from __future__ import annotations

from glandwise.mechanics import kinematics
from glandwise.twofold import kinematics as before

from tests.mechanics.support import sound

TURNING = {"d": (5e-3, 0.6), "n": (-50.0, 100.0)}
SWINGING = {"d": (5e-3, 0.6), "theta": (0.0, 3.0), "f": (1e-2, 50.0)}


def test_surface_speed() -> None:
    sound(kinematics.surface_speed, TURNING, lambda d, n: abs(before.surface_speed(d, n)))


def test_rotation_speed() -> None:
    sound(kinematics.rotation_speed, {"d": (5e-3, 0.6), "v": (0.0, 30.0)}, before.rotation_speed)


def test_mean_speed_of_an_oscillating_shaft() -> None:
    sound(kinematics.oscillation_mean_speed, SWINGING, before.oscillation_mean_speed)


def test_peak_speed_of_an_oscillating_shaft() -> None:
    sound(kinematics.oscillation_peak_speed, SWINGING, before.oscillation_peak_speed)
