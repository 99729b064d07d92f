"""Holding torque, margin and heel extrusion."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from glandwise.twofold import fits, retention
from hypothesis import given
from hypothesis import strategies as st

lengths = st.floats(1e-5, 1e-2)
strengths = st.floats(1e5, 1e8)


def test_o_ring_torque_is_force_times_friction_times_radius() -> None:
    """The ring's radial force is the line load over its mean circumference, the same on both surfaces."""
    angles = np.linspace(0.0, 2.0 * math.pi, 721)[:-1]
    force = 2000.0 * 0.035 * (angles[1] - angles[0])  # on each slice
    assert retention.o_ring_holding_torque(2000.0, 0.2, 0.035, 0.0335) == pytest.approx(
        sum(0.2 * force * 0.0335 for _ in angles)
    )


@given(st.floats(10.0, 1e4), st.floats(0.05, 1.0), st.floats(0.05, 1.0), st.floats(0.01, 0.2), st.floats(1.0, 1.3))
def test_the_weaker_surface_slips(q: float, mu_in: float, mu_out: float, r: float, ratio: float) -> None:
    both = retention.o_ring_slip_torque(q, mu_in, r, mu_out, r * ratio)
    mean = 0.5 * (r + r * ratio)
    inner = retention.o_ring_holding_torque(q, mu_in, mean, r)
    outer = retention.o_ring_holding_torque(q, mu_out, mean, r * ratio)
    assert both == min(inner, outer)
    if mu_in <= mu_out:
        assert both == inner


@given(st.floats(1e-3, 0.3), st.floats(1e-3, 0.3))
def test_friction_radius_against_the_integral(a: float, b: float) -> None:
    from scipy.integrate import quad

    inner, outer = sorted((a, b))
    radius = retention.clamp_friction_radius(inner, outer)
    assert inner * (1 - 1e-12) <= radius <= outer * (1 + 1e-12)
    if outer - inner > 1e-4:
        moment, _ = quad(lambda r: r * r, inner, outer)
        area, _ = quad(lambda r: r, inner, outer)
        assert radius == pytest.approx(moment / area, rel=1e-7)
        assert radius - 0.5 * (inner + outer) == pytest.approx((outer - inner) ** 2 / 6 / (outer + inner), rel=1e-6)


def test_friction_radius_limits() -> None:
    assert retention.clamp_friction_radius(0.0, 0.03) == pytest.approx(0.02)
    assert retention.clamp_friction_radius(0.03, 0.03) == pytest.approx(0.03)
    mean, width = 0.03, 0.01  # a third of the mean radius: the statement of the docstring
    assert retention.clamp_friction_radius(mean - width / 2, mean + width / 2) / mean - 1.0 < 0.0095


def test_clamp_torque_scales_with_everything_it_is_made_of() -> None:
    base = retention.clamp_holding_torque(1000.0, 0.1, 0.03, 0.036, 2.0)
    assert base == pytest.approx(2 * 0.1 * 1000 * 0.03309, rel=1e-3)
    assert retention.clamp_holding_torque(1000.0, 0.1, 0.03, 0.036, 2.0, 0.5) == pytest.approx(base / 2)
    assert retention.clamp_holding_torque(2000.0, 0.1, 0.03, 0.036, 1.0) == pytest.approx(base)


def test_press_fit_torque_of_a_steel_case() -> None:
    """Chain of two models: interference to pressure to torque; slip force from the same pressure over the surface."""
    fit = fits.interference_fit(40e-6, 0.036, 0.035, 0.05, 207e9, 0.292, 207e9, 0.292)
    torque = retention.press_fit_holding_torque(fit.pressure, 0.12, 0.036, 0.008)
    area = 2 * math.pi * 0.036 * 0.008
    assert torque == pytest.approx(fit.pressure * area * 0.12 * 0.036)
    assert retention.press_fit_holding_torque(0.0, 0.12, 0.036, 0.008) == 0.0


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
    limit = retention.extrusion_pressure(1e-9, 1.0, 1.0, 1.0).local
    assert all(bound > limit for bound in bounds)
    assert bounds[-1] == pytest.approx(limit, rel=2e-4)


def test_plug_shear_is_equilibrium() -> None:
    limit = retention.extrusion_pressure(0.5e-3, 1e-3, 10e6, 5.77e6)
    assert limit.shear * 0.5e-3 == pytest.approx(5.77e6 * 1e-3)
    assert retention.extrusion_pressure(0.5e-3, 1e-3, 10e6, 5.77e6, 2.0).shear == pytest.approx(2 * limit.shear)


def test_bending_is_the_full_plastic_moment_of_a_cantilever() -> None:
    """Moment at the edge by integration of the pressure, capacity by integration of the yield stress."""
    from scipy.integrate import quad

    gap, thickness, strength = 1.2e-3, 0.8e-3, 10e6
    limit = retention.extrusion_pressure(gap, thickness, strength, 5.77e6)
    moment, _ = quad(lambda x: limit.bending * x, 0.0, gap)
    capacity, _ = quad(lambda y: 2.0 * strength * y, 0.0, thickness / 2)
    assert moment == pytest.approx(capacity)
    assert limit.allowable == limit.bending


@given(lengths, lengths, strengths, st.floats(0.3, 0.7), st.floats(1.0, 4.0))
def test_allowable_pressure_is_monotonic(gap: float, heel: float, strength: float, ratio: float, more: float) -> None:
    base = retention.extrusion_pressure(gap, heel, strength, ratio * strength).allowable
    assert base > 0.0
    assert retention.extrusion_pressure(gap * more, heel, strength, ratio * strength).allowable <= base * (1 + 1e-12)
    assert retention.extrusion_pressure(gap, heel * more, strength, ratio * strength).allowable >= base * (1 - 1e-12)
    hotter = retention.extrusion_pressure(gap, heel, strength / more, ratio * strength / more).allowable
    assert hotter == pytest.approx(base / more)


@given(st.floats(1e4, 1e8), lengths, strengths, st.floats(0.3, 0.7), st.sampled_from([1.0, 2.0]))
def test_allowable_gap_is_the_inverse(p: float, heel: float, strength: float, ratio: float, planes: float) -> None:
    gap = retention.allowable_gap(p, heel, strength, ratio * strength, planes)
    if gap > 0.0:
        limit = retention.extrusion_pressure(gap, heel, strength, ratio * strength, planes)
        assert min(limit.shear, limit.bending) == pytest.approx(p, rel=1e-9)
        assert limit.allowable >= p * (1 - 1e-9) or p == pytest.approx(limit.local)
        assert retention.allowable_gap(1.1 * p, heel, strength, ratio * strength, planes) <= gap
    else:
        assert retention.extrusion_pressure(1e-12, heel, strength, ratio * strength, planes).allowable < p


def test_extrusion_limits_at_the_ends() -> None:
    assert retention.allowable_gap(0.0, 1e-3, 1e7, 5e6) == math.inf
    closed = retention.extrusion_pressure(0.0, 1e-3, 1e7, 5e6)
    assert closed.shear == math.inf
    assert closed.allowable == closed.local


def test_float_and_array_paths_agree() -> None:
    gaps = np.array([0.0, 1e-5, 1e-4, 1e-3, 1e-2])
    together = retention.extrusion_pressure(gaps, 1e-3, 1e7, 5.77e6)
    pressures = np.array([0.0, 1e6, 1e7, 5e7])
    allowed = retention.allowable_gap(pressures, 1e-3, 1e7, 5.77e6)
    for index, gap in enumerate(gaps):
        alone = retention.extrusion_pressure(float(gap), 1e-3, 1e7, 5.77e6)
        np.testing.assert_array_equal([value[index] for value in together], alone)
    for index, pressure in enumerate(pressures):
        assert allowed[index] == retention.allowable_gap(float(pressure), 1e-3, 1e7, 5.77e6)
    radius = np.array([0.03, 0.05])
    assert retention.o_ring_slip_torque(1e3, 0.1, radius, 0.2, radius + 3e-3)[1] == retention.o_ring_slip_torque(
        1e3, 0.1, 0.05, 0.2, 0.053
    )


def test_the_least_pressure_already_limits_the_gap() -> None:
    gap = retention.allowable_gap(0.5, 2e-3, 10e6, 5e6)
    assert gap == pytest.approx(2e-3 * math.sqrt(10e6 / (2 * 0.5)), rel=1e-12)
    assert retention.allowable_gap(0.0, 2e-3, 10e6, 5e6) == math.inf


def test_beyond_the_collapse_of_the_strip_no_gap_is_allowed_and_at_it_one_still_is() -> None:
    shear = 5.0e6
    collapse = retention.extrusion_pressure(1e-4, 2e-3, 10e6, shear).local
    at, beyond = (retention.allowable_gap(factor * collapse, 2e-3, 10e6, shear) for factor in (1.0, 1.0 + 1e-12))
    assert at > 0.0
    assert beyond == 0.0
