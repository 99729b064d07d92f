"""Holding torques and extrusion as plain formulas."""

from __future__ import annotations

import math

from glandwise.mechanics import retention
from glandwise.twofold import retention as before

from tests.mechanics.support import sound, told

HEEL = {"t": (1e-4, 5e-3), "sigma": (1e6, 5e7), "tau": (1e6, 3e7), "n": (1.0, 2.0)}


def test_torque_of_an_o_ring() -> None:
    spans = {"q": (10.0, 1e4), "mu_i": (0.05, 0.9), "r_i": (0.01, 0.2), "mu_o": (0.05, 0.9), "r_o": (0.01, 0.2)}
    sound(retention.o_ring_slip_torque, spans, before.o_ring_slip_torque)


def test_torque_of_a_clamped_flange() -> None:
    spans = {"F": (10.0, 1e5), "mu": (0.05, 0.3), "r_i": (0.0, 0.1), "r_o": (0.1, 0.3), "n": (1.0, 2.0)}
    sound(retention.clamp_holding_torque, spans, before.clamp_holding_torque)


def test_torque_of_a_press_fit() -> None:
    spans = {"p": (0.0, 1e8), "mu": (0.05, 0.3), "r": (0.005, 0.3), "l": (1e-3, 0.05)}
    sound(retention.press_fit_holding_torque, spans, before.press_fit_holding_torque)


def test_extrusion_of_a_heel() -> None:
    sound(
        retention.extrusion_pressure, {"g": (1e-5, 1e-3), **HEEL}, lambda *given: before.extrusion_pressure(*given)[:3]
    )
    assert told(retention.extrusion_pressure, 0.0, 1e-3, 1e7, 5e6, 1.0)[:2] == (math.inf, math.inf)


def test_gap_that_a_heel_bridges() -> None:
    spans = {"p": (1e4, 5e6), **HEEL}
    sound(retention.bridged_gap, spans, before.allowable_gap)
    assert told(retention.bridged_gap, 0.0, 1e-3, 1e7, 5e6, 1.0) == math.inf
