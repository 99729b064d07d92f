"""Film coefficients beyond the turning shaft in one phase."""

from __future__ import annotations

import math

import ht
import numpy as np
import pytest
from glandwise.mechanics import films, heat
from glandwise.mechanics.choices import FilmCorrelation

from tests.mechanics.support import draws, told, told_alike

STEAM = (0.06, 0.68, 2.8e-4, 958.0, 0.6, 2.257e6)
"""Shaft of 60 mm; condensate and steam at 100 °C."""
NITROGEN = (5.0, 5000.0, 200.0)
AIR = (0.0289652, 288.15, 1.7894e-5, 110.4, 1006.0, 0.71)


def test_lives() -> None:
    told_alike(films.prandtl_number, draws((1e3, 5e3), (1e-5, 1.0), (0.02, 0.7)))
    told_alike(films.liquid_properties, draws((1e-4, 1.0), (600.0, 1500.0), (0.1, 0.7), (1e3, 4.2e3), (1e-4, 1e-3)))
    spans = (
        (200.0, 600.0),
        (1e4, 1e7),
        (2e-3, 0.15),
        (250.0, 300.0),
        (8e-6, 3e-5),
        (70.0, 1100.0),
        (5e2, 1.4e4),
        (0.6, 1.0),
    )
    told_alike(films.gas_properties, draws(*spans))
    spans = ((5e-3, 0.5), (0.1, 0.7), (1e-4, 1e-3), (600.0, 1000.0), (0.1, 50.0), (1e5, 2.5e6), (0.1, 60.0))
    told_alike(films.condensing_film, draws(*spans))
    told_alike(films.saturation_temperature, draws((1e3, 3e6), (9e4, 1.1e5), (77.0, 400.0), (2e-3, 0.1), (1e5, 2.5e6)))
    told_alike(films.boiling_film, draws((-5.0, 100.0), (3.0, 10.0), (2e3, 1e4), (1e2, 5e2)))
    told_alike(films.condensing_share, draws((300.0, 450.0), (300.0, 450.0), (5.0, 40.0)))
    told_alike(films.wetted_film, draws((0.0, 1.0), (1e2, 2e4), (10.0, 1e2)))
    told_alike(films.packed_film, draws((0.1, 0.3), (1e-3, 1e-2)))


def test_condensation_is_to_a_plate_as_the_theory_says() -> None:
    """A library's vertical plate of the height of the diameter, by the ratio 0.729 to 2 sqrt(2)/3 of the same group."""
    d, k, eta, rho, rho_v, h_fg = STEAM
    plate = ht.Nusselt_laminar(Tsat=373.15, Tw=363.15, rhog=rho_v, rhol=rho, kl=k, mul=eta, Hvap=h_fg, L=d)
    found = told(films.condensing_film, *STEAM, 10.0)
    assert found / plate == pytest.approx(0.729 / (2.0 * math.sqrt(2.0) / 3.0), rel=1e-4)


def test_nothing_condenses_on_a_warm_shaft() -> None:
    assert math.isnan(told(films.condensing_film, *STEAM, 0.0))


def test_becker_is_the_film_of_liquids() -> None:
    """Water at 42 °C on 30 mm at 2900 turns a minute."""
    film = films.liquid_properties(6.3e-4, 991.0, 0.634, 4179.0, 3.9e-4)
    Re = math.pi * (2900 / 60) * 0.03**2 / film.viscosity
    by_hand = 0.133 * Re ** (2 / 3) * film.prandtl ** (1 / 3) * 0.634 / 0.03
    assert heat.shaft_film(0.03, 2900 / 60, *film, 5.0, FilmCorrelation.becker) == pytest.approx(by_hand, rel=1e-12)


def test_air_of_a_gas_is_dry_air() -> None:
    known, found = heat.dry_air(300.0, 1.01325e5), films.gas_properties(300.0, 1.01325e5, *AIR)
    assert found.viscosity == pytest.approx(known.viscosity, rel=2e-3)
    assert found.conductivity == pytest.approx(known.conductivity, rel=1.5e-2)
    assert found.expansion == known.expansion


def test_pressure_of_a_gas_cools() -> None:
    """By the power 2/3 of the density, where the flow is forced."""

    def film(p: float) -> float:
        properties = films.gas_properties(300.0, p, *AIR)
        return heat.shaft_film(0.05, 50.0, *properties, 10.0, FilmCorrelation.becker)

    assert film(2e6) / film(1e5) == pytest.approx(20.0 ** (2 / 3), rel=1e-9)


def bromley(
    k_v: float, rho_v: float, rho_l: float, h_fg: float, c_v: float, eta_v: float, d: float, rise: float
) -> float:
    """Film boiling on a horizontal cylinder after Bromley (constant 0.62, from memory)."""
    latent = h_fg + 0.4 * c_v * rise
    return float(0.62 * (k_v**3 * rho_v * (rho_l - rho_v) * 9.80665 * latent / (eta_v * d * rise)) ** 0.25)


def test_correlations_of_boiling_nitrogen_against_the_measured_values() -> None:
    """Cooper's bubbles at 5 K lie within the 2 500 to 10 000 W/(m²·K) that were measured on steel.

    Bromley's film at 100 K does not lie within the measured 100 to 250: 80 for a shaft of 35 mm at rest. A laminar film is the
    low side for such a diameter; the order agrees, no more.
    """
    bubbles = ht.boiling_nucleic.Cooper(P=101325.0, Pc=3.396e6, MW=28.0134, Te=5.0, Rp=1e-6)
    assert 2500.0 < bubbles < 10000.0
    vapour = bromley(0.012, 2.6, 807.0, 1.99e5, 1040.0, 8.8e-6, 0.035, 100.0)
    assert 0.5 * 100.0 < vapour < 250.0


def test_boiling_has_no_step_and_its_flux_never_falls() -> None:
    rises = np.linspace(-5.0, 1000.0, 40001)
    values = np.array([films.boiling_film(rise, *NITROGEN) for rise in rises])
    assert values[0] == pytest.approx(5000.0)
    assert values[-1] == pytest.approx(200.0)
    assert np.all(np.diff(values) <= 0.0)
    assert np.abs(np.diff(np.log(values))).max() < 0.01
    assert np.all(np.diff(values * np.maximum(rises, 0.0)) >= -1e-9)


def test_vapour_condenses_less_the_more_it_is_superheated() -> None:
    shares = [films.condensing_share(T, 400.0, 20.0) for T in (350.0, 400.0, 405.0, 410.0, 420.0, 500.0)]
    assert shares == pytest.approx([1.0, 1.0, 0.75, 0.5, 0.0, 0.0])
    assert films.condensing_share(500.0, math.inf, 20.0) == 1.0


@pytest.mark.parametrize(
    ("bar", "celsius", "apart"),
    [(0.1, 45.8, 2.0), (1.01325, 100.0, 0.01), (5.0, 151.8, 1.0), (10.0, 179.9, 1.5), (30.0, 233.9, 4.0)],
)
def test_water_boils_as_in_the_steam_tables(bar: float, celsius: float, apart: float) -> None:
    """Boiling points of water from memory; the law is known to be low far from its reference, and says by how much."""
    found = told(films.saturation_temperature, bar * 1e5, 1.01325e5, 373.15, 0.018015, 2.257e6)
    assert found - 273.15 == pytest.approx(celsius, abs=apart)


def test_ends_of_a_wetted_surface() -> None:
    assert told(films.wetted_film, 0.0, 1500.0, 50.0) == 50.0
    assert told(films.wetted_film, 1.0, 1500.0, 50.0) == 1500.0
