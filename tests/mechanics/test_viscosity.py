"""Viscosity against temperature."""

from __future__ import annotations

import math

import numpy as np
import pytest
from fluids.atmosphere import ATMOSPHERE_1976
from glandwise.mechanics import viscosity
from glandwise.mechanics.choices import ViscosityForm

from tests.mechanics.support import draws, told, told_alike

ICE = 273.15
OIL = (313.15, 46e-6, 373.15, 6.8e-6)
"""ISO VG 46, viscosity index about 100."""


def water(celsius: float) -> float:
    """Viscosity of liquid water at 0.1 MPa after IAPWS, supplementary release of 2008 (from memory)."""
    t = (celsius + ICE) / 300.0
    return 1e-6 * (280.68 * t**-1.9 + 511.45 * t**-7.7 + 61.131 * t**-19.6 + 0.45903 * t**-40.0)


def by_three(celsius: float, *points: float) -> float:
    """Viscosity of water by three points of it, degrees Celsius."""
    given = [x for point in points for x in (point + ICE, water(point))]
    return float(viscosity.vogel_viscosity(celsius + ICE, *given))


def test_an_oil_by_two_points() -> None:
    spans = ((230.0, 500.0), (290.0, 320.0), (2e-6, 1e-3), (350.0, 400.0), (1e-6, 2e-6))
    told_alike(viscosity.walther_viscosity, draws(*spans))


def test_a_liquid_by_three_points() -> None:
    spans = ((280.0, 400.0), (270.0, 280.0), (3e-3, 9e-3), (300.0, 330.0), (1e-3, 2e-3), (360.0, 400.0), (3e-4, 9e-4))
    told_alike(viscosity.vogel_viscosity, draws(*spans))


def test_a_liquid_by_two_points() -> None:
    told_alike(
        viscosity.andrade_viscosity, draws((230.0, 450.0), (280.0, 300.0), (1e-3, 9e-3), (330.0, 400.0), (1e-4, 9e-4))
    )


@pytest.mark.parametrize("form", list(ViscosityForm))
def test_a_liquid_by_its_form(form: ViscosityForm) -> None:
    spans = (
        (280.0, 400.0), (270.0, 280.0), (3e-3, 9e-3), (300.0, 330.0), (1e-3, 2e-3), (360.0, 400.0), (3e-4, 9e-4),
        (700.0, 1200.0), (2e-4, 1e-3),
    )  # fmt: skip
    told_alike(viscosity.liquid_viscosity, [(form, *row) for row in draws(*spans, count=60)])


def test_density() -> None:
    told_alike(viscosity.liquid_density, draws((250.0, 450.0), (280.0, 300.0), (600.0, 1800.0), (1e-4, 1.5e-3)))


def test_a_gas() -> None:
    told_alike(viscosity.sutherland_viscosity, draws((150.0, 900.0), (250.0, 300.0), (8e-6, 3e-5), (70.0, 1100.0)))


def test_air_is_that_of_the_standard_atmosphere() -> None:
    reference = ATMOSPHERE_1976.viscosity(288.15)
    for T in np.linspace(200.0, 600.0, 21):
        found = viscosity.sutherland_viscosity(T, 288.15, reference, 110.4)
        assert found == pytest.approx(ATMOSPHERE_1976.viscosity(T), rel=1e-9)


def test_points_are_met() -> None:
    for T, nu in (OIL[:2], OIL[2:]):
        assert told(viscosity.walther_viscosity, T, *OIL) == pytest.approx(nu, rel=1e-12)
    for point in (5.0, 40.0, 95.0):
        assert by_three(point, 5.0, 40.0, 95.0) == pytest.approx(water(point), rel=1e-12)
    row = (280.0, 2e-3, 350.0, 5e-4)
    assert told(viscosity.andrade_viscosity, 350.0, *row) == pytest.approx(5e-4, rel=1e-12)


def test_water_by_three_points_is_within_one_per_cent() -> None:
    for celsius in np.linspace(0.0, 110.0, 56):
        assert by_three(celsius, 0.0, 40.0, 100.0) == pytest.approx(water(celsius), rel=0.011)


def test_two_points_do_not_hold_for_water() -> None:
    """Why water has a form of its own: the oils' form is unknown below 0.3 mm²/s, which water has above 97 °C."""
    assert math.isnan(told(viscosity.walther_viscosity, 350.0, 293.15, 1.004e-6, 393.15, 0.246e-6))
    found = viscosity.andrade_viscosity(40.0 + ICE, 20.0 + ICE, water(20.0), 100.0 + ICE, water(100.0))
    assert abs(found / water(40.0) - 1.0) > 0.04


@pytest.mark.parametrize("form", list(ViscosityForm))
def test_viscosity_falls_with_temperature_and_has_no_step(form: ViscosityForm) -> None:
    points = (293.15, 0.3, 333.15, 0.05, 373.15, 0.015, 880.0, 7e-4)
    temperatures = np.linspace(270.0, 470.0, 2001)
    values = np.log([viscosity.liquid_viscosity(form, T, *points) for T in temperatures])
    steps = np.diff(values)
    assert np.all(steps < 0.0)
    assert np.abs(np.diff(steps)).max() < 1e-4


def test_a_straight_logarithm_is_no_gap() -> None:
    """Bent a little up, straight, bent a little down: the same viscosity, though T_0 runs through infinity."""
    found = [
        told(viscosity.vogel_viscosity, 340.0, 300.0, 1e-2, 350.0, 1e-3 * f, 400.0, 1e-4)
        for f in (1 - 1e-9, 1.0, 1 + 1e-9)
    ]
    assert found == pytest.approx([10.0**-2.8] * 3, rel=1e-8)


def test_a_liquid_sets_in_the_cold() -> None:
    row = (273.15, 1.79e-3, 313.15, 6.53e-4, 373.15, 2.82e-4)
    assert told(viscosity.vogel_viscosity, 100.0, *row) == math.inf
    assert told(viscosity.vogel_viscosity, 160.0, *row) > 1e3
    assert math.isnan(told(viscosity.vogel_viscosity, 900.0, 300.0, 1e-2, 350.0, 9e-3, 400.0, 1e-4))
