"""Contact load, pressure and friction of a lip."""

from __future__ import annotations

import math

import numpy as np
import pytest
from glandwise.twofold import contact
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq

loads = st.floats(0.0, 2e4)


def test_a_lip_does_not_pull() -> None:
    assert contact.total_line_load(500.0, 200.0, -900.0) == 0.0
    assert contact.total_line_load(500.0, 200.0, -100.0) == 600.0
    assert list(contact.total_line_load(np.array([500.0, 1.0]), 0.0, -2.0)) == [498.0, 0.0]


def test_pressure_load_is_what_a_cut_through_the_lip_carries() -> None:
    # pressure on the outer face less a linear film pressure under the contact, summed by quadrature
    pressure, length, width = 2e6, 1.5e-3, 0.4e-3
    outer = pressure * length
    film = quad(lambda x: pressure * (1 - x / width), 0.0, width)[0]
    load = contact.pressure_line_load(pressure, length, width, contact.LINEAR_PROFILE)
    assert load == pytest.approx(outer - film, rel=1e-12)


@given(st.floats(1e4, 1e8), st.floats(1e-4, 1e-2), st.floats(0.0, 1.0))
def test_pressure_load_lies_between_its_two_bounds(pressure: float, length: float, share: float) -> None:
    width = share * length
    tight, linear, open_ = (
        contact.pressure_line_load(pressure, length, width, factor)
        for factor in (contact.NO_PROFILE, contact.LINEAR_PROFILE, contact.UNIFORM_PROFILE)
    )
    assert tight >= linear >= open_ >= 0.0


def test_vacuum_lifts_an_energized_lip() -> None:
    assert contact.pressure_line_load(-1e5, 1e-3, 2e-4, 0.5) < 0.0


@given(st.floats(1e5, 1e8), st.floats(0.0, 0.999))
def test_gas_profile_is_the_mean_of_the_root_profile(high: float, ratio: float) -> None:
    low = ratio * high
    mean = quad(lambda x: math.sqrt(high**2 + (low**2 - high**2) * x), 0.0, 1.0)[0]
    assert contact.gas_profile_factor(high, low) == pytest.approx((mean - low) / (high - low), rel=1e-6)


def test_gas_profile_limits() -> None:
    assert contact.gas_profile_factor(1e5, 1e5) == pytest.approx(0.5, rel=1e-15)
    assert contact.gas_profile_factor(1e7, 0.0) == pytest.approx(2 / 3, rel=1e-15)


@given(st.floats(0.0, 1.0), loads, st.floats(1e-3, 1.0), st.floats(-100.0, 100.0))
def test_friction_is_consistent_in_itself(mu: float, load: float, diameter: float, turns: float) -> None:
    result = contact.friction(mu, load, diameter, turns)
    speed = math.pi * diameter * abs(turns)
    assert result.force == pytest.approx(mu * result.radial_load, rel=1e-14)
    assert result.torque == pytest.approx(mu * load * 2 * math.pi * (diameter / 2) ** 2, rel=1e-13)
    assert result.power == pytest.approx(result.force * speed, rel=1e-13)
    assert min(result) >= 0.0


def test_torque_grows_with_the_square_of_the_diameter_and_power_with_speed() -> None:
    one, two = contact.friction(0.1, 1000.0, 0.02, 10.0), contact.friction(0.1, 1000.0, 0.04, 10.0)
    assert two.torque / one.torque == pytest.approx(4.0, rel=1e-15)
    assert contact.friction(0.1, 1000.0, 0.02, 30.0).power / one.power == pytest.approx(3.0, rel=1e-15)


def test_an_open_contact_has_no_friction() -> None:
    assert contact.friction(0.1, -50.0, 0.02, 10.0) == (0.0, 0.0, 0.0, 0.0)


def test_pressure_without_width_is_infinite_and_harmless() -> None:
    assert contact.mean_contact_pressure(100.0, 0.0) == math.inf
    assert contact.mean_contact_pressure(100.0, 5e-4) == 2e5


def punch_load(half: float, half_land: float, radius: float, modulus: float) -> float:
    """Load that a half-width needs, from the integral equation of frictionless line contact."""
    # x = half sin(angle) takes the root out of the denominator and leaves a smooth integrand for Gauss
    start = math.asin(half_land / half)
    nodes, weights = np.polynomial.legendre.leggauss(40)
    x = half * np.sin(start + (math.pi / 2 - start) * (nodes + 1) / 2)
    return float(modulus * weights @ (x * (x - half_land)) / radius * (math.pi / 2 - start) / 2)


@pytest.mark.parametrize("load", [50.0, 1000.0, 20_000.0])
def test_hertz_width_solves_the_integral_equation(load: float) -> None:
    radius, modulus, nu = 0.2e-3, 5e8, 0.46
    reduced = modulus / (1 - nu**2)
    result = contact.rounded_edge_contact(load, radius, modulus, nu)
    assert punch_load(result.width / 2, 0.0, radius, reduced) == pytest.approx(load, rel=1e-9)
    # the elliptic pressure carries the load
    half = result.width / 2
    carried = quad(lambda x: result.peak_pressure * math.sqrt(1 - (x / half) ** 2), -half, half)[0]
    assert carried == pytest.approx(load, rel=1e-6)
    assert result.mean_pressure * result.width == pytest.approx(load, rel=1e-14)


@pytest.mark.parametrize("load", [1e-3, 1.0, 50.0, 1000.0, 20_000.0])
@pytest.mark.parametrize("land", [1e-5, 1e-4, 1e-3])
def test_width_of_a_rounded_land_solves_the_integral_equation(load: float, land: float) -> None:
    radius, modulus, nu = 0.2e-3, 5e8, 0.46
    width = contact.rounded_land_width(load, land, radius, modulus, nu)
    excess = lambda half: punch_load(half, land / 2, radius, modulus / (1 - nu**2)) - load  # noqa: E731
    # bracketed by the land and by land plus Hertz, which is a claim of its own
    hertz = contact.rounded_edge_contact(load, radius, modulus, nu).width
    other = 2 * brentq(excess, land / 2 * (1 + 1e-12), (land + hertz) / 2, xtol=1e-18, rtol=1e-12)
    assert width == pytest.approx(other, rel=1e-7)


@given(loads, loads, st.floats(0.0, 2e-3), st.floats(1e-5, 1e-3), st.floats(1e8, 2e9))
def test_width_grows_with_load_and_stays_between_its_bounds(
    first: float, second: float, land: float, radius: float, modulus: float
) -> None:
    low, high = sorted((first, second))
    narrow = contact.rounded_land_width(low, land, radius, modulus, 0.46)
    wide = contact.rounded_land_width(high, land, radius, modulus, 0.46)
    hertz = contact.rounded_edge_contact(high, radius, modulus, 0.46).width
    slack = 1e-8 * max(wide, 1e-9)
    assert narrow <= wide + slack
    assert max(land, hertz) - slack <= wide <= land + hertz + slack


def test_land_width_at_its_ends() -> None:
    hertz = contact.rounded_edge_contact(1000.0, 2e-4, 5e8, 0.46).width
    assert contact.rounded_land_width(1000.0, 0.0, 2e-4, 5e8, 0.46) == pytest.approx(hertz, rel=1e-14)
    assert contact.rounded_land_width(1000.0, 1e-12, 2e-4, 5e8, 0.46) == pytest.approx(hertz, rel=1e-6)
    assert contact.rounded_land_width(0.0, 1e-3, 2e-4, 5e8, 0.46) == pytest.approx(1e-3, rel=1e-9)
    assert contact.rounded_land_width(1000.0, 1e-3, 0.0, 5e8, 0.46) == pytest.approx(1e-3, rel=1e-9)
    assert contact.rounded_land_width(0.0, 0.0, 2e-4, 5e8, 0.46) == 0.0


def test_arrays_give_what_floats_give() -> None:
    load = np.array([0.0, 10.0, 1000.0, -5.0, 1e4])
    land = np.array([1e-3, 0.0, 1e-4, 1e-3, 1e-5])
    array = contact.rounded_land_width(load, land, 2e-4, 5e8, 0.46)
    edge = contact.rounded_edge_contact(load, 2e-4, 5e8, 0.46)
    rings = contact.friction(0.1, load, 0.05, 20.0)
    for i in range(len(load)):
        q, a = float(load[i]), float(land[i])
        assert array[i] == pytest.approx(contact.rounded_land_width(q, a, 2e-4, 5e8, 0.46), rel=1e-12)
        one = contact.rounded_edge_contact(q, 2e-4, 5e8, 0.46)
        assert [field[i] for field in edge] == pytest.approx(list(one), rel=1e-14)
        assert [field[i] for field in rings] == pytest.approx(list(contact.friction(0.1, q, 0.05, 20.0)), rel=1e-14)
    assert isinstance(contact.rounded_land_width(10.0, 1e-3, 2e-4, 5e8, 0.46), float)


@pytest.mark.parametrize("load", [1e-3, 0.5, 2000.0])
def test_mean_pressure_is_load_over_width_however_light_the_load(load: float) -> None:
    touch = contact.rounded_edge_contact(load, 0.2e-3, 6e8, 0.46)
    assert touch.mean_pressure == pytest.approx(load / touch.width, rel=1e-12)


@pytest.mark.parametrize("load", [0.0, -5.0])
def test_no_load_is_no_pressure(load: float) -> None:
    assert contact.rounded_edge_contact(load, 0.2e-3, 6e8, 0.46) == (0.0, 0.0, 0.0)
    many = contact.rounded_edge_contact(np.array([load, 2000.0]), 0.2e-3, 6e8, 0.46)
    assert [field[0] for field in many] == [0.0, 0.0, 0.0]
