"""Helical spring, garter ring and O-ring load: identities, limits, inverses and shapes."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from glandwise.twofold import springs
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import norm

indices = st.floats(3.0, 20.0)
GARTER: dict[str, Any] = {
    "wire_diameter": 0.4e-3,
    "coil_diameter": 2.0e-3,
    "shear_modulus": 78.5e9,
    "active_coils": 150.0,
    "free_length": 0.24,
    "initial_tension": 0.6,
    "ring_radius": 0.041,
    "contact_radius": 0.038,
}


@given(indices)
def test_the_standard_factor_is_bergstraessers(index: float) -> None:
    assert springs.en13906_factor(index) == pytest.approx(springs.bergstraesser_factor(index), rel=1e-14)


@given(indices)
def test_the_two_stress_factors_agree_and_fall_to_one(index: float) -> None:
    wahl, other = springs.wahl_factor(index), springs.bergstraesser_factor(index)
    assert 1.0 < other <= wahl <= 1.02 * other
    assert springs.wahl_factor(1.1 * index) < wahl


def test_stress_factors_need_an_index_above_one() -> None:
    for factor in (springs.wahl_factor, springs.bergstraesser_factor, springs.en13906_factor):
        assert math.isnan(factor(1.0))
        assert np.isnan(factor(np.array([0.5, 1.0]))).all()
        assert factor(1e9) == pytest.approx(1.0, abs=1e-8)


@given(st.floats(0.1e-3, 1e-3), indices, st.floats(5.0, 300.0), st.floats(0.5, 2.0))
def test_rate_scales_with_wire_coil_and_number(wire: float, index: float, coils: float, factor: float) -> None:
    base = springs.helical_rate(wire, index * wire, 80e9, coils)
    assert springs.helical_rate(factor * wire, index * wire, 80e9, coils) == pytest.approx(base * factor**4)
    assert springs.helical_rate(wire, factor * index * wire, 80e9, coils) == pytest.approx(base / factor**3)
    assert springs.helical_rate(wire, index * wire, 80e9, factor * coils) == pytest.approx(base / factor)
    assert springs.active_coils_for_rate(wire, index * wire, 80e9, base) == pytest.approx(coils)


def test_rate_is_that_of_a_wire_in_torsion() -> None:
    """Castigliano: the torque F D/2 along the wire, G J = G pi d⁴/32, gives the compliance."""
    wire, coil, shear, coils = 0.4e-3, 2e-3, 80e9, 30.0
    compliance, _ = quad(lambda _: (coil / 2.0) ** 2 / (shear * math.pi * wire**4 / 32.0), 0.0, math.pi * coil * coils)
    assert springs.helical_rate(wire, coil, shear, coils) == pytest.approx(1.0 / compliance, rel=1e-12)


@given(st.floats(0.0, 50.0), st.floats(0.0, 20.0))
def test_initial_tension_holds_the_coils_closed(force: float, initial: float) -> None:
    extension = springs.extension_length(force, initial, 200.0)
    assert extension >= 0.0
    assert (extension > 0.0) == (force > initial)
    if extension > 0.0:
        assert initial + 200.0 * extension == pytest.approx(force)


def test_stress_and_force_are_inverse() -> None:
    stress = springs.helical_shear_stress(7.0, 0.4e-3, 2e-3, 1.2)
    assert springs.helical_force_for_stress(stress, 0.4e-3, 2e-3, 1.2) == pytest.approx(7.0)


# --- garter ----------------------------------------------------------------------------------------------------------


def test_radial_total_is_the_same_at_ring_and_contact() -> None:
    """q acts at the spring's axis; brought to the contact radius its integral around the circumference is unchanged."""
    ring = springs.garter_ring(**GARTER)
    assert 2.0 * math.pi * 0.041 * ring.line_load == pytest.approx(ring.radial_total, rel=1e-14)
    assert 2.0 * math.pi * 0.038 * ring.contact_line_load == pytest.approx(ring.radial_total, rel=1e-14)


def test_radial_load_balances_a_half_ring() -> None:
    """The radial load over a half ring, resolved, is held by the tension at its two ends."""
    ring = springs.garter_ring(**GARTER)
    held, _ = quad(lambda angle: ring.line_load * 0.041 * math.sin(angle), 0.0, math.pi)
    assert held == pytest.approx(2.0 * ring.tension, rel=1e-12)


@given(st.floats(0.0385, 0.06))
def test_garter_stiffness_is_the_slope_of_its_load(radius: float) -> None:
    offset, h = 0.003, 1e-7
    loads = [
        springs.garter_ring(**{**GARTER, "ring_radius": radius + s, "contact_radius": radius + s - offset})
        for s in (-h, 0.0, h)
    ]
    slope = (loads[2].contact_line_load - loads[0].contact_line_load) / (2.0 * h)
    assert loads[1].stiffness == pytest.approx(slope, rel=1e-5)
    assert loads[0].tension < loads[1].tension < loads[2].tension


def test_a_slack_ring_carries_nothing() -> None:
    free = 2.0 * math.pi * 0.041
    for length in (free, 1.1 * free):
        ring = springs.garter_ring(**{**GARTER, "free_length": length})
        assert ring.extension <= 0.0
        assert (ring.tension, ring.line_load, ring.radial_total, ring.stiffness, ring.shear_stress) == (0.0,) * 5
    just = springs.garter_ring(**{**GARTER, "free_length": free * (1.0 - 1e-9)})
    assert just.tension == pytest.approx(0.6, rel=1e-6)


def test_garter_stress_is_that_of_its_tension() -> None:
    ring = springs.garter_ring(**GARTER)
    tau = 8.0 * ring.tension * 2.0e-3 / (math.pi * 0.4e-3**3) * (5.0 + 0.5) / (5.0 - 0.75)
    assert ring.shear_stress == pytest.approx(tau, rel=1e-12)


def test_free_length_gives_the_tension_back() -> None:
    rate = springs.garter_ring(**GARTER).rate
    length = springs.garter_free_length(3.0, rate, 0.6, 0.041)
    assert springs.garter_ring(**{**GARTER, "free_length": length}).tension == pytest.approx(3.0)
    assert math.isnan(springs.garter_free_length(0.6, rate, 0.6, 0.041))


def test_a_ring_moved_sideways_keeps_its_length_to_first_order() -> None:
    """Eccentricity e of seat and ring alike: the developed length of an offset circle does not change."""
    e, radius = 1e-4, 0.041

    def length(angle: float) -> float:
        r = e * math.cos(angle) + math.sqrt(radius**2 - (e * math.sin(angle)) ** 2)
        slope = -e * math.sin(angle) - e**2 * math.sin(angle) * math.cos(angle) / math.sqrt(
            radius**2 - (e * math.sin(angle)) ** 2
        )
        return math.hypot(r, slope)

    developed, _ = quad(length, 0.0, 2.0 * math.pi)
    assert developed == pytest.approx(2.0 * math.pi * radius, rel=1e-10)


# --- O-ring ----------------------------------------------------------------------------------------------------------


@given(st.floats(0.001, 0.39))
def test_oring_stiffness_is_the_slope_of_its_load(squeeze: float) -> None:
    d, h = 3.53e-3, 1e-6
    low, mid, high = (springs.oring_load(d, squeeze + s, 5.5e6, 0.5) for s in (-h, 0.0, h))
    assert mid.stiffness == pytest.approx((high.line_load - low.line_load) / (2.0 * h * d), rel=1e-5)
    assert high.line_load > mid.line_load > 0.0
    assert mid.mean_pressure == pytest.approx(mid.line_load / mid.contact_width)


@pytest.mark.parametrize(("squeeze", "low", "high"), [(0.03, 0.55, 0.60), (0.10, 0.75, 0.82), (0.20, 0.84, 0.88)])
def test_oring_load_against_line_contact(squeeze: float, low: float, high: float) -> None:
    """Ratio to an incompressible cylinder between rigid flats, plane strain, small strain: of the same order, and less.

    Johnson (1985), Contact Mechanics, eq. 5.57: both contacts approach by 4 P (1 - nu²)/(pi E) [ln(4R/a) - 1/2]. The
    fit lies a seventh below at 20 % squeeze, a fifth at 10 % and two fifths at 3 %; the bounds record what was found.
    """
    plane, radius, load = 1.0 / 0.75, 0.5, 1e-3
    for _ in range(200):
        a = math.sqrt(4.0 * load * radius / (math.pi * plane))
        load = squeeze * math.pi * plane / (4.0 * (math.log(4.0 * radius / a) - 0.5))
    assert low < springs.lindley_factor(squeeze, 0.5) / load < high


def test_oring_limits() -> None:
    assert springs.oring_load(3.53e-3, 0.0, 5.5e6, 0.4) == (0.0, 0.0, 0.0, 0.0)
    assert springs.oring_load(3.53e-3, -0.1, 5.5e6, 0.4) == (0.0, 0.0, 0.0, 0.0)
    assert all(math.isnan(value) for value in springs.oring_load(3.53e-3, 0.41, 5.5e6, 0.4))
    assert math.isnan(springs.lindley_factor(math.nan, 0.4))
    assert math.isfinite(springs.lindley_factor(0.4, 0.4))


@given(st.floats(1.0, 99.0))
def test_irhd_and_its_inverse(irhd: float) -> None:
    modulus = springs.irhd_modulus(irhd)
    assert springs.irhd_hardness(modulus) == pytest.approx(irhd, rel=1e-9)
    assert irhd == pytest.approx(100.0 * norm.cdf((math.log10(modulus / 1e6) - 0.364) / 0.7), rel=1e-9)


def test_irhd_slope_at_its_midpoint_is_57_per_decade() -> None:
    middle = 10.0**0.364 * 1e6
    assert springs.irhd_hardness(middle) == pytest.approx(50.0, rel=1e-12)
    rise = springs.irhd_hardness(middle * 10.0**0.01) - springs.irhd_hardness(middle * 10.0**-0.01)
    assert rise / 0.02 == pytest.approx(57.0, abs=0.05)


@given(st.floats(40.0, 90.0))
def test_hardness_to_modulus_rises_and_the_two_scales_agree(hardness: float) -> None:
    gent, irhd = springs.gent_modulus(hardness), springs.irhd_modulus(hardness)
    assert springs.gent_modulus(hardness + 0.5) > gent
    assert springs.irhd_modulus(hardness + 0.5) > irhd
    assert irhd < gent < 1.15 * irhd


def test_gent_is_a_punch_on_a_half_space() -> None:
    """E = F (1 - nu²)/(2 a h), nu = 1/2, with the spring force 0.55 N + 0.075 N a degree and the depth 0.025 mm a degree.

    The radius is the mean of the truncated cone, whose diameters are 0.79 and 1.27 mm. The printed coefficients agree to
    2.5 %, so that a slip in one of them would show.
    """
    for hardness in (40.0, 60.0, 80.0):
        force, depth = 0.55 + 0.075 * hardness, 0.025e-3 * (100.0 - hardness)
        radius = 0.25 * (0.79e-3 + 1.27e-3)
        assert springs.gent_modulus(hardness) == pytest.approx(0.75 * force / (2.0 * radius * depth), rel=0.025)


def test_hardness_out_of_range_is_nan() -> None:
    for value in (-1.0, 100.0, 120.0, math.nan):
        assert math.isnan(springs.gent_modulus(value))
        assert np.isnan(springs.gent_modulus(np.array([value]))).all()
    for value in (0.0, -5.0, 100.0, math.nan):
        assert math.isnan(springs.irhd_modulus(value))
        assert np.isnan(springs.irhd_modulus(np.array([value]))).all()


# --- both shapes -----------------------------------------------------------------------------------------------------


def test_floats_and_arrays_agree() -> None:
    rng = np.random.default_rng(2)
    n = 50
    garter = {key: value * rng.uniform(0.95, 1.05, n) for key, value in GARTER.items()}
    ring = springs.garter_ring(**garter)
    assert (ring.tension == 0.0).any()
    squeeze, shore = rng.uniform(-0.1, 0.5, n), rng.uniform(5.0, 99.0, n)
    oring = springs.oring_load(3.53e-3, squeeze, 5.5e6, 0.4)
    for k in range(n):
        alone = springs.garter_ring(**{key: float(value[k]) for key, value in garter.items()})
        assert all(isinstance(value, float) for value in alone)
        np.testing.assert_allclose(alone, [column[k] for column in ring], rtol=1e-12)
        single = springs.oring_load(3.53e-3, float(squeeze[k]), 5.5e6, 0.4)
        np.testing.assert_allclose(single, [column[k] for column in oring], rtol=1e-12)
        for function in (springs.gent_modulus, springs.irhd_modulus, springs.irhd_hardness):
            argument = shore * (1e6 if function is springs.irhd_hardness else 1.0)
            assert function(float(argument[k])) == pytest.approx(function(argument)[k], rel=1e-11)


def test_gent_to_the_last_digit() -> None:
    for slope in (7.62336, 7.66):
        expected = 1e6 * 0.0981 * (56.0 + slope * 60.0) / (0.137505 * (254.0 - 2.54 * 60.0))
        assert springs.gent_modulus(60.0, slope) == pytest.approx(expected, rel=1e-12)
