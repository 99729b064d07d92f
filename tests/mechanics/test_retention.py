"""Holding torques and extrusion as plain formulas."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from glandwise.mechanics import fits, retention
from glandwise.numerics.over import Over
from hypothesis import given
from hypothesis import strategies as st

from tests.mechanics.support import sound, told

plain = Over(retention)
"""Its formulas over arrays."""


def least(limit: retention.ExtrusionLimit) -> float:
    """Pressure that all three bounds allow."""
    return min(limit)


HEEL = {"t": (1e-4, 5e-3), "sigma": (1e6, 5e7), "tau": (1e6, 3e7), "n": (1.0, 2.0)}


def test_torque_of_an_o_ring() -> None:
    spans = {"q": (10.0, 1e4), "mu_i": (0.05, 0.9), "r_i": (0.01, 0.2), "mu_o": (0.05, 0.9), "r_o": (0.01, 0.2)}
    sound(retention.o_ring_slip_torque, spans)


def test_torque_of_a_clamped_flange() -> None:
    spans = {"F": (10.0, 1e5), "mu": (0.05, 0.3), "r_i": (0.0, 0.1), "r_o": (0.1, 0.3), "n": (1.0, 2.0)}
    sound(retention.clamp_holding_torque, spans)


def test_torque_of_a_press_fit() -> None:
    spans = {"p": (0.0, 1e8), "mu": (0.05, 0.3), "r": (0.005, 0.3), "l": (1e-3, 0.05)}
    sound(retention.press_fit_holding_torque, spans)


def test_extrusion_of_a_heel() -> None:
    sound(retention.extrusion_pressure, {"g": (1e-5, 1e-3), **HEEL})
    assert told(retention.extrusion_pressure, 0.0, 1e-3, 1e7, 5e6, 1.0)[:2] == (math.inf, math.inf)


def test_gap_that_a_heel_bridges() -> None:
    spans = {"p": (1e4, 5e6), **HEEL}
    sound(retention.bridged_gap, spans)
    assert told(retention.bridged_gap, 0.0, 1e-3, 1e7, 5e6, 1.0) == math.inf


lengths = st.floats(1e-5, 1e-2)


strengths = st.floats(1e5, 1e8)


def test_press_fit_torque_of_a_steel_case() -> None:
    """Chain of two models: interference to pressure to torque; slip force from the same pressure over the surface."""
    fit = Over(fits).interference_fit(40e-6, 0.036, 0.035, 0.05, 207e9, 0.292, 207e9, 0.292)
    torque = plain.press_fit_holding_torque(fit.pressure, 0.12, 0.036, 0.008)
    area = 2 * math.pi * 0.036 * 0.008
    assert torque == pytest.approx(fit.pressure * area * 0.12 * 0.036)
    assert plain.press_fit_holding_torque(0.0, 0.12, 0.036, 0.008) == 0.0


# ------------------------------------------------------------------------------------------------------------ extrusion
def strip_collapse_upper_bound(triangles: int) -> float:
    """Least p/k of a rigid-block mechanism for a strip of a half-space: 45-degree wedges and a fan of triangles.

    Half of the symmetric mechanism, strip half-width 1. Each block slides on the ground below it; the sum of length
    times velocity jump over all sliding lines is what the pressure on the strip must supply.
    """
    radius = math.sqrt(0.5)
    fan = [math.radians(225.0 + 90.0 * i / triangles) for i in range(triangles + 1)]
    rim = [np.array([1.0 + radius * math.cos(a), radius * math.sin(a)]) for a in fan]
    edge = np.array([1.0, 0.0])
    # Ground lines from the axis to the surface again; block i slides along line i.
    ground = [np.array([0.0, 0.0]), *rim, np.array([2.0, 0.0])]
    direction = (ground[1] - ground[0]) / np.linalg.norm(ground[1] - ground[0])
    velocity = direction / abs(direction[1])  # unit vertical speed of the strip
    total = np.linalg.norm(velocity) * np.linalg.norm(ground[1] - ground[0])
    for start, end in pairwise(ground[1:]):
        along = (end - start) / np.linalg.norm(end - start)
        between = (start - edge) / np.linalg.norm(start - edge)
        # next velocity is parallel to its ground line and differs from the last along the common line only
        speed, jump = np.linalg.solve(np.column_stack([along, -between]), velocity)
        total += abs(speed) * np.linalg.norm(end - start) + abs(jump) * np.linalg.norm(start - edge)
        velocity = speed * along
    return float(total)


def test_local_limit_against_upper_bounds_of_block_mechanisms() -> None:
    bounds = [strip_collapse_upper_bound(n) for n in (1, 2, 4, 16, 64)]
    assert bounds == sorted(bounds, reverse=True)
    limit = plain.extrusion_pressure(1e-9, 1.0, 1.0, 1.0, 1.0).local
    assert all(bound > limit for bound in bounds)
    assert bounds[-1] == pytest.approx(limit, rel=2e-4)


def test_plug_shear_is_equilibrium() -> None:
    limit = plain.extrusion_pressure(0.5e-3, 1e-3, 10e6, 5.77e6, 1.0)
    assert limit.shear * 0.5e-3 == pytest.approx(5.77e6 * 1e-3)
    assert plain.extrusion_pressure(0.5e-3, 1e-3, 10e6, 5.77e6, 2.0).shear == pytest.approx(2 * limit.shear)


def test_bending_is_the_full_plastic_moment_of_a_cantilever() -> None:
    """Moment at the edge by integration of the pressure, capacity by integration of the yield stress."""
    from scipy.integrate import quad

    gap, thickness, strength = 1.2e-3, 0.8e-3, 10e6
    limit = plain.extrusion_pressure(gap, thickness, strength, 5.77e6, 1.0)
    moment, _ = quad(lambda x: limit.bending * x, 0.0, gap)
    capacity, _ = quad(lambda y: 2.0 * strength * y, 0.0, thickness / 2)
    assert moment == pytest.approx(capacity)
    assert min(limit) == limit.bending


@given(lengths, lengths, strengths, st.floats(0.3, 0.7), st.floats(1.0, 4.0))
def test_allowable_pressure_is_monotonic(gap: float, heel: float, strength: float, ratio: float, more: float) -> None:
    base = least(plain.extrusion_pressure(gap, heel, strength, ratio * strength, 1.0))
    assert base > 0.0
    assert least(plain.extrusion_pressure(gap * more, heel, strength, ratio * strength, 1.0)) <= base * (1 + 1e-12)
    assert least(plain.extrusion_pressure(gap, heel * more, strength, ratio * strength, 1.0)) >= base * (1 - 1e-12)
    hotter = least(plain.extrusion_pressure(gap, heel, strength / more, ratio * strength / more, 1.0))
    assert hotter == pytest.approx(base / more)


@given(st.floats(1e4, 1e8), lengths, strengths, st.floats(0.3, 0.7), st.sampled_from([1.0, 2.0]))
def test_allowable_gap_is_the_inverse(p: float, heel: float, strength: float, ratio: float, planes: float) -> None:
    gap = plain.bridged_gap(p, heel, strength, ratio * strength, planes)
    limit = plain.extrusion_pressure(gap, heel, strength, ratio * strength, planes)
    assert min(limit.shear, limit.bending) == pytest.approx(p, rel=1e-9)
    assert plain.bridged_gap(1.1 * p, heel, strength, ratio * strength, planes) <= gap


def test_extrusion_limits_at_the_ends() -> None:
    assert plain.bridged_gap(0.0, 1e-3, 1e7, 5e6, 1.0) == math.inf
    closed = plain.extrusion_pressure(0.0, 1e-3, 1e7, 5e6, 1.0)
    assert closed.shear == math.inf
    assert min(closed) == closed.local


def test_the_least_pressure_already_limits_the_gap() -> None:
    gap = plain.bridged_gap(0.5, 2e-3, 10e6, 5e6, 1.0)
    assert gap == pytest.approx(2e-3 * math.sqrt(10e6 / (2 * 0.5)), rel=1e-12)
    assert plain.bridged_gap(0.0, 2e-3, 10e6, 5e6, 1.0) == math.inf


@given(st.floats(10.0, 1e4), st.floats(0.05, 1.0), st.floats(0.05, 1.0), st.floats(0.01, 0.2), st.floats(1.0, 1.3))
def test_the_weaker_surface_slips(q: float, mu_in: float, mu_out: float, r: float, ratio: float) -> None:
    """The ring's radial force is the line load over its mean circumference, the same on both surfaces."""
    force = q * 2.0 * math.pi * 0.5 * (r + r * ratio)
    slips = min(force * mu_in * r, force * mu_out * r * ratio)
    assert plain.o_ring_slip_torque(q, mu_in, r, mu_out, r * ratio) == pytest.approx(slips, rel=1e-12)


@given(st.floats(1e-3, 0.3), st.floats(1e-3, 0.3))
def test_friction_radius_against_the_integral(a: float, b: float) -> None:
    from scipy.integrate import quad

    inner, outer = sorted((a, b))
    radius = plain.clamp_holding_torque(1.0, 1.0, inner, outer, 1.0)
    assert inner * (1 - 1e-12) <= radius <= outer * (1 + 1e-12)
    if outer - inner > 1e-4:
        moment, _ = quad(lambda r: r * r, inner, outer)
        area, _ = quad(lambda r: r, inner, outer)
        assert radius == pytest.approx(moment / area, rel=1e-7)


def test_clamp_torque_scales_with_everything_it_is_made_of() -> None:
    assert plain.clamp_holding_torque(1.0, 1.0, 0.0, 0.03, 1.0) == pytest.approx(0.02)
    base = plain.clamp_holding_torque(1000.0, 0.1, 0.03, 0.036, 2.0)
    assert base == pytest.approx(2 * 0.1 * 1000 * 0.03309, rel=1e-3)
    assert plain.clamp_holding_torque(2000.0, 0.1, 0.03, 0.036, 1.0) == pytest.approx(base)
