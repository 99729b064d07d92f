"""Heat paths, films, flash temperature and the fixed point."""

from __future__ import annotations

import json
import math
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ht
import numpy as np
import pytest
from fluids.atmosphere import ATMOSPHERE_1976
from glandwise.twofold import heat
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad, solve_bvp
from scipy.special import k0

diameters = st.floats(2e-3, 0.5)
conductivities = st.floats(10.0, 400.0)
films = st.floats(1.0, 2000.0)
lengths = st.floats(1e-3, 5.0)


# ------------------------------------------------------------------------------------------------------- shaft as fin


@pytest.mark.parametrize("length", [0.03, 0.1, 0.3])
@pytest.mark.parametrize("end_film", [0.0, 40.0, 500.0])
def test_fin_agrees_with_a_boundary_value_problem(length: float, end_film: float) -> None:
    diameter, k, h, flux = 0.05, 50.0, 40.0, 50.0
    area = math.pi * diameter**2 / 4

    # in the scaled coordinate xi = x/length, with the rise in units of flux length / k area
    square = 4 * h * length**2 / (k * diameter)

    def equations(xi: np.ndarray, y: np.ndarray) -> np.ndarray:
        return np.vstack([y[1], square * y[0]])

    def ends(near: np.ndarray, far: np.ndarray) -> np.ndarray:
        return np.array([near[1] + 1.0, far[1] + end_film * length / k * far[0]])

    xi = np.linspace(0.0, 1.0, 41)
    solution = solve_bvp(equations, ends, xi, np.ones((2, xi.size)), tol=1e-9, max_nodes=20_000)
    assert solution.success
    rise = flux / heat.fin_conductance(diameter, k, h, length, end_film)
    assert rise == pytest.approx(solution.sol(0.0)[0] * flux * length / (k * area), rel=1e-8)
    ratio = heat.fin_temperature_ratio(xi * length, diameter, k, h, length, end_film)
    assert ratio == pytest.approx(solution.sol(xi)[0] / solution.sol(0.0)[0], rel=1e-7)


@given(diameters, conductivities, films, lengths)
def test_fin_ends_bound_each_other(diameter: float, k: float, h: float, length: float) -> None:
    insulated = heat.fin_conductance(diameter, k, h, length)
    free = heat.fin_conductance(diameter, k, h, length, h)
    held = heat.fin_conductance(diameter, k, h, length, math.inf)
    endless = heat.fin_conductance(diameter, k, h)
    slack = 1e-12 * held
    assert 0.0 < insulated <= endless + slack
    assert endless <= held + slack
    assert insulated <= free + slack
    assert free <= held + slack
    # a free end loses less than an endless shaft as long as the one-dimensional model makes sense at all
    if h < heat.fin_parameter(diameter, k, h) * k:
        assert free <= endless + slack


@given(diameters, conductivities, films)
def test_short_insulated_shaft_loses_what_its_surface_can(diameter: float, k: float, h: float) -> None:
    m = heat.fin_parameter(diameter, k, h)
    length = 1e-3 / m
    surface = h * math.pi * diameter * length
    assert heat.fin_conductance(diameter, k, h, length) == pytest.approx(surface, rel=1e-6)
    # held at its end it conducts like a plain bar
    bar = heat.plane_wall_conductance(math.pi * diameter**2 / 4, length, k)
    assert heat.fin_conductance(diameter, k, h, length, math.inf) == pytest.approx(bar, rel=1e-6)


@given(diameters, conductivities, films, st.floats(0.05, 0.9999))
def test_long_shaft_length_gives_the_share_asked_for(diameter: float, k: float, h: float, share: float) -> None:
    length = heat.long_shaft_length(diameter, k, h, share)
    ratio = heat.fin_conductance(diameter, k, h, length) / heat.fin_conductance(diameter, k, h)
    assert ratio == pytest.approx(share, rel=1e-9)


def test_fin_temperature_stays_within_the_shaft() -> None:
    assert heat.fin_temperature_ratio(0.0, 0.05, 50.0, 40.0, 0.2) == 1.0
    assert math.isnan(heat.fin_temperature_ratio(0.21, 0.05, 50.0, 40.0, 0.2))
    assert math.isnan(heat.fin_temperature_ratio(-0.01, 0.05, 50.0, 40.0, 0.2))
    assert heat.fin_temperature_ratio(0.1, 0.05, 50.0, 40.0) == pytest.approx(math.exp(-0.8), rel=1e-14)


# ------------------------------------------------------------------------------------------------------- constriction


def finite_element_factor(width: float) -> float:
    """Constriction factor by axisymmetric finite elements on a shaft of radius one."""
    from skfem import Basis, BilinearForm, ElementTriP2, FacetBasis, LinearForm, MeshTri, asm, condense, solve
    from skfem.helpers import dot, grad
    from skfem.models.poisson import laplace  # noqa: F401

    # half a shaft from the middle of the ring; grid graded towards the edge of the ring on the surface
    half, length = width / 2, 5.0
    grading = half * np.geomspace(1e-2, 1.0, 14)
    beyond = half + np.concatenate([grading, np.geomspace(half * 1.25, length - half, 34)])
    z = np.unique(np.concatenate([[0.0, half], half - grading[:-1], beyond]))
    depth = np.concatenate([[0.0], np.geomspace(half * 1e-2, 1.0, 40)])
    r = np.sort(1.0 - depth)
    r[0] = 0.0
    mesh = MeshTri.init_tensor(r, z)
    basis = Basis(mesh, ElementTriP2(), intorder=5)

    @BilinearForm
    def conduction(u: Any, v: Any, w: Any) -> Any:
        return w.x[0] * dot(grad(u), grad(v))

    @LinearForm
    def load(v: Any, w: Any) -> Any:
        return w.x[0] * v

    ring = mesh.facets_satisfying(lambda x: (x[0] > 1 - 1e-9) & (x[1] < half + 1e-9), boundaries_only=True)
    cold = mesh.facets_satisfying(lambda x: x[1] > length - 1e-9, boundaries_only=True)
    surface = FacetBasis(mesh, ElementTriP2(), facets=ring, intorder=5)
    flux = asm(load, surface)
    solution = solve(*condense(asm(conduction, basis), flux, D=basis.get_dofs(cold)))
    mean = flux @ solution / half
    # unit flux over the half ring goes down a bar of area pi (2 pi cancels in the weak form)
    bar = 2.0 * half * (length - width / 3)
    return float((mean - bar) / width)


@pytest.mark.parametrize("width", [0.02, 0.1, 0.5])
def test_ring_constriction_agrees_with_finite_elements(width: float) -> None:
    factor = heat.ring_constriction(2.0, width, 1.0) * 2.0 * math.pi
    assert finite_element_factor(width) == pytest.approx(factor, rel=1e-4)


@given(st.floats(1e-5, 0.5), st.floats(1e-5, 0.5))
def test_narrower_rings_constrict_more(first: float, second: float) -> None:
    narrow, wide = sorted((first, second))
    assert heat.ring_constriction(1.0, narrow, 50.0) >= heat.ring_constriction(1.0, wide, 50.0) * (1 - 1e-12)


def test_ring_constriction_grows_by_the_logarithm_for_narrow_rings() -> None:
    factor = [heat.ring_constriction(2.0, w, 1.0) * 2 * math.pi for w in (1e-4, 1e-3)]
    assert factor[0] - factor[1] == pytest.approx(math.log(10) / math.pi, rel=1e-3)


def test_ring_constriction_outside_its_table_is_not_a_number() -> None:
    values = heat.ring_constriction(2.0, np.array([1e-6, 1e-5, 1.0, 1.1]), 1.0)
    assert list(np.isnan(values)) == [True, False, False, True]
    assert math.isnan(heat.ring_constriction(2.0, 1.1, 1.0))


def test_ring_table_is_what_the_solver_gives() -> None:
    for width in (2.3e-5, 7.1e-4, 1.3e-2, 0.31):
        table = heat.ring_constriction(2.0, width, 1.0) * 2 * math.pi
        assert table == pytest.approx(heat.exact_ring_factor(width), rel=2e-6)


# ------------------------------------------------------------------------------------------------------------ network


def test_walls_agree_with_a_general_library() -> None:
    resistance = ht.R_cylinder(Di=0.05, Do=0.08, k=0.25, L=0.03)
    assert heat.cylinder_wall_conductance(0.025, 0.04, 0.03, 0.25) == pytest.approx(1 / resistance, rel=1e-12)
    # film, two layers, film; the library answers per metre of length
    layers = ht.cylindrical_heat_transfer(
        Ti=400.0, To=300.0, hi=200.0, ho=15.0, Di=0.05, ts=[5e-3, 1e-2], ks=[0.25, 50.0]
    )
    conductance = heat.series(
        200.0 * math.pi * 0.05,
        heat.cylinder_wall_conductance(0.025, 0.030, 1.0, 0.25),
        heat.cylinder_wall_conductance(0.030, 0.040, 1.0, 50.0),
        15.0 * math.pi * 0.08,
    )
    assert conductance == pytest.approx(layers["UA"], rel=1e-12)


@given(st.lists(st.tuples(st.floats(0.01, 100.0), st.floats(200.0, 500.0)), min_size=1, max_size=5), st.floats(0, 1e3))
def test_contact_temperature_balances_the_heat(paths: list[tuple[float, float]], power: float) -> None:
    branches = [heat.HeatPath(*path) for path in paths]
    temperature = heat.contact_temperature(power, *branches)
    out = sum(path.conductance * (temperature - path.temperature) for path in branches)
    total = sum(path.conductance for path in branches)
    assert out == pytest.approx(power, abs=1e-9 * total * 500.0)


def test_resistance_in_front_adds_its_own_rise() -> None:
    path = heat.HeatPath(2.0, 300.0)
    assert heat.contact_temperature(10.0, heat.behind(3.0, path)) == pytest.approx(300.0 + 10.0 * (3.0 + 0.5))
    assert heat.behind(0.0, path).conductance == pytest.approx(2.0)


def test_no_way_out_gives_no_number() -> None:
    assert math.isnan(heat.contact_temperature(10.0, heat.HeatPath(0.0, 300.0)))
    assert heat.series(1.0, 0.0) == 0.0


# -------------------------------------------------------------------------------------------------------------- films

AIR = heat.Fluid(0.0263, 15.89e-6, 0.707, 1 / 300)


@given(st.floats(0.005, 0.3), st.floats(5.0, 300.0), st.floats(1.0, 200.0), st.sampled_from(sorted(heat.CORRELATIONS)))
def test_films_rise_with_speed_and_are_finite(d: float, n: float, rise: float, name: str) -> None:
    slow = heat.rotating_cylinder_film(d, n, AIR, rise, name)
    fast = heat.rotating_cylinder_film(d, 2 * n, AIR, rise, name)
    assert all(math.isfinite(value) for value in slow)
    assert fast.film > slow.film > 0.0
    assert fast.reynolds == pytest.approx(2 * slow.reynolds, rel=1e-14)


def test_correlations_agree_within_their_common_range() -> None:
    # 50 mm at 3000 turns a minute in air lies in the range of all six
    values = [heat.rotating_cylinder_film(0.05, 50.0, AIR, 50.0, name) for name in heat.CORRELATIONS]
    assert all(value.in_range for value in values)
    mean = sum(value.film for value in values) / len(values)
    assert max(abs(value.film / mean - 1) for value in values) < 0.2


def test_ranges_are_flagged() -> None:
    slow = heat.rotating_cylinder_film(0.05, 500 / 60, AIR, 50.0, "dropkin_carmi")
    assert not slow.in_range
    # hardly turning in strong buoyancy: no rotation law without a Grashof term applies
    assert not heat.rotating_cylinder_film(0.1, 0.05, AIR, 100.0, "anderson_saunders").in_range
    assert heat.rotating_cylinder_film(0.1, 0.05, AIR, 100.0, "etemad").in_range
    with pytest.raises(KeyError):
        heat.rotating_cylinder_film(0.1, 1.0, AIR, 100.0, "unheard_of")


@given(st.floats(0.005, 0.5), st.floats(0.5, 300.0))
def test_natural_film_equals_a_general_library(diameter: float, rise: float) -> None:
    film = heat.natural_cylinder_film(diameter, AIR, rise)
    other = ht.Nu_horizontal_cylinder_Churchill_Chu(Pr=AIR.prandtl, Gr=film.grashof)
    assert film.nusselt == pytest.approx(other, rel=1e-12)


def test_shaft_at_rest_keeps_natural_convection() -> None:
    still = heat.natural_cylinder_film(0.05, AIR, 50.0)
    assert heat.shaft_film(0.05, 0.0, AIR, 50.0).film == still.film
    assert heat.shaft_film(0.05, 50.0, AIR, 50.0) == heat.rotating_cylinder_film(0.05, 50.0, AIR, 50.0)
    both = heat.shaft_film(0.05, np.array([0.0, 50.0]), AIR, 50.0)
    assert both.film[0] == pytest.approx(still.film)


@pytest.mark.parametrize("name", heat.CORRELATIONS)
def test_coefficient_is_that_of_the_film(name: str) -> None:
    speeds = np.array([0.0, 0.01, 0.3, 2.0, 40.0])
    film = heat.shaft_film(0.05, speeds, AIR, 50.0, name, 0.4)
    assert np.array_equal(heat.shaft_coefficient(0.05, speeds, AIR, 50.0, name, 0.4), film.film)
    assert (
        heat.shaft_coefficient(0.05, 2.0, AIR, 50.0, name, 0.4) == heat.shaft_film(0.05, 2.0, AIR, 50.0, name, 0.4).film
    )
    with pytest.raises(KeyError):
        heat.shaft_coefficient(0.05, 2.0, AIR, 50.0, "unheard_of")


@given(st.floats(200.0, 600.0))
def test_air_equals_the_standard_atmosphere_of_a_general_library(temperature: float) -> None:
    air = heat.dry_air(temperature, 101_325.0)
    density = 101_325.0 / (287.05287 * temperature)
    assert air.viscosity * density == pytest.approx(ATMOSPHERE_1976.viscosity(temperature), rel=1e-12)
    assert air.conductivity == pytest.approx(ATMOSPHERE_1976.thermal_conductivity(temperature), rel=1e-12)
    assert 0.66 < air.prandtl < 0.75


# -------------------------------------------------------------------------------------------------------------- flash


@pytest.mark.parametrize("peclet", [0.02, 1.0, 30.0])
@pytest.mark.parametrize("position", [-1.0, -0.4, 0.3, 1.0])
def test_closed_band_integral_agrees_with_quadrature(peclet: float, position: float) -> None:
    x = position * peclet
    points = [0.0] if -peclet < -x < peclet else None
    integral = quad(
        lambda u: math.exp(-u) * k0(abs(u)) if u != 0.0 else 0.0,
        x - peclet,
        x + peclet,
        points=points,
        epsabs=1e-10,
        limit=400,
    )[0]
    assert heat.exact_band_rise(position, peclet) == pytest.approx(integral, abs=1e-7)


@pytest.mark.parametrize("peclet", [0.02, 1.0, 30.0])
def test_closed_band_mean_and_peak_agree_with_sampling(peclet: float) -> None:
    nodes, weights = np.polynomial.legendre.leggauss(200)
    rises = [heat.exact_band_rise(float(x), peclet) for x in nodes]
    assert heat.exact_band_mean(peclet) == pytest.approx(float(weights @ rises) / 2, rel=2e-5)
    peak = heat.exact_band_peak(peclet)
    highest = heat.exact_band_rise(peak, peclet)
    assert all(highest >= rise for rise in rises)
    assert highest > heat.exact_band_rise(peak - 1e-3, peclet)
    assert highest > heat.exact_band_rise(peak + 1e-3, peclet)


@settings(max_examples=40)
@given(st.floats(math.log(1e-3), math.log(1e4)))
def test_band_table_is_what_the_solver_gives(logarithm: float) -> None:
    peclet = math.exp(logarithm)
    result = heat.flash_band(1.0, 1.0, 2 * peclet, 1.0, 1.0)
    unit = 1 / (math.pi * peclet)
    peak = heat.exact_band_peak(peclet)
    assert result.maximum == pytest.approx(unit * heat.exact_band_rise(peak, peclet), rel=1e-6)
    assert result.mean == pytest.approx(unit * heat.exact_band_mean(peclet), rel=1e-6)
    assert result.peak_position == pytest.approx(peak, abs=1e-6)


def test_band_joins_its_limits_without_a_step() -> None:
    for edge in (1e-3, 1e4):
        below = heat.flash_band(1.0, 1.0, 2 * edge * (1 - 1e-9), 1.0, 1.0)
        above = heat.flash_band(1.0, 1.0, 2 * edge * (1 + 1e-9), 1.0, 1.0)
        assert below.maximum == pytest.approx(above.maximum, rel=5e-6)
        assert below.mean == pytest.approx(above.mean, rel=5e-6)
    fast = heat.flash_band(1e6, 1e-4, 1e5, 50.0, 1e-5)
    assert fast.maximum == pytest.approx(2e6 / 50.0 * math.sqrt(1e-5 * 2e-9 / math.pi), rel=1e-3)
    assert fast.mean / fast.maximum == pytest.approx(2 / 3, rel=1e-3)


@given(st.floats(1e-6, 1e7), st.floats(1.01, 10.0))
def test_faster_bands_heat_less_for_the_same_flux(speed: float, factor: float) -> None:
    slow = heat.flash_band(1e6, 1e-4, speed, 50.0, 1.25e-5)
    fast = heat.flash_band(1e6, 1e-4, speed * factor, 50.0, 1.25e-5)
    assert 0.0 < fast.mean < slow.mean
    assert 0.0 < fast.maximum < slow.maximum
    assert slow.mean < slow.maximum


def test_band_at_rest() -> None:
    assert heat.flash_band(1.0, 1e-4, 0.0, 50.0, 1e-5).maximum == math.inf
    assert heat.flash_band(0.0, 1e-4, 0.0, 50.0, 1e-5).maximum == 0.0
    mixed = heat.flash_band(np.array([1.0, 0.0, math.nan]), 1e-4, np.array([0.0, 0.0, 1.0]), 50.0, 1e-5)
    assert mixed.mean[0] == math.inf
    assert mixed.mean[1] == 0.0
    assert math.isnan(mixed.mean[2])


def test_circle_between_its_regimes_gives_a_bound_only() -> None:
    spot = heat.flash_circle(1.0, 0.5e-3, 0.1, 45.0, 1.25e-5)
    assert spot.peclet == pytest.approx(2.0)
    assert math.isnan(spot.mean)
    assert spot.bound == pytest.approx(0.308 / (45 * 0.5e-3) * math.sqrt(1.25e-5 / (0.1 * 0.5e-3)), rel=1e-12)
    assert heat.flash_circle(1.0, 0.5e-3, 0.0, 45.0, 1.25e-5).mean == pytest.approx(11.1111, abs=5e-5)
    assert heat.flash_circle(0.0, 0.5e-3, 0.0, 45.0, 1.25e-5).mean == 0.0


# -------------------------------------------------------------------------------------------------------- fixed point


@given(st.floats(-3.0, 0.9), st.floats(1.0, 200.0))
def test_linear_fixed_point_is_found(slope: float, push: float) -> None:
    result = heat.fixed_point(lambda t: 300.0 + push + slope * (t - 300.0), 300.0, 300.0, 1e5, 1e-6)
    assert result.converged
    assert result.value == pytest.approx(300.0 + push / (1.0 - slope), abs=1e-4)
    assert result.iterations <= 5


@pytest.mark.parametrize("power", [-8.0, -2.0, 0.5, 2.0, 4.0])
def test_curved_fixed_point_agrees_with_bisection(power: float) -> None:
    from scipy.optimize import brentq

    function: Callable[[float], float] = lambda t: 300.0 + 20.0 * (t / 300.0) ** power  # noqa: E731
    result = heat.fixed_point(function, 300.0, 300.0, 400.0, 1e-9)
    root = brentq(lambda t: function(t) - t, 300.0, 400.0, xtol=1e-12)
    assert result.converged
    assert result.value == pytest.approx(root, abs=1e-7)


def test_the_lower_of_two_balances_is_found_and_runaway_is_reported() -> None:
    # a convex heat curve crosses the cooling line twice, touches it, or passes above it
    def curve(push: float) -> Callable[[Any], Any]:
        return lambda t: 300.0 + push * np.exp((t - 300.0) / 50.0)

    # crossings where x exp(-x) = push / 50
    low = heat.fixed_point(curve(10.0), 300.0, 300.0, 500.0, 1e-8)
    assert low.converged
    assert low.value == pytest.approx(300.0 + 50.0 * 0.2591711018, abs=1e-5)
    runaway = heat.fixed_point(curve(20.0), 300.0, 300.0, 500.0, 1e-8)
    assert not runaway.converged
    assert runaway.value == 500.0
    assert runaway.residual > 0.0


def test_a_stiff_alternation_is_damped() -> None:
    # plain repetition diverges here: the slope at the solution is -9
    result = heat.fixed_point(lambda t: 300.0 + 100.0 * (300.0 / t) ** 40.0, 300.0, 300.0, 600.0, 1e-8)
    assert result.converged
    assert abs(300.0 + 100.0 * (300.0 / result.value) ** 40.0 - result.value) <= 1e-8


def test_not_a_number_and_few_iterations_end_without_convergence() -> None:
    assert not heat.fixed_point(lambda t: t * math.nan, 300.0, 300.0, 600.0, 1e-6).converged
    short = heat.fixed_point(lambda t: 300.0 + 20.0 * (t / 300.0) ** 3, 300.0, 300.0, 600.0, 1e-9, max_iterations=2)
    assert not short.converged
    assert short.iterations == 2
    assert 300.0 < short.value < 600.0


def test_arrays_and_floats_iterate_alike_and_one_bad_case_stops_no_other() -> None:
    pushes = np.array([10.0, 18.0, 20.0, -5.0, math.nan, 5.0])
    starts = np.full(6, 300.0)

    def batch(t: Any) -> Any:
        return 300.0 + pushes * np.exp((np.minimum(t, 2000.0) - 300.0) / 50.0)

    result = heat.fixed_point(batch, starts, 290.0, 500.0, 1e-8)
    assert list(result.converged) == [True, True, False, True, False, True]
    for i, push in enumerate(pushes):
        one = heat.fixed_point(
            lambda t, push=float(push): 300.0 + push * math.exp((t - 300.0) / 50.0), 300.0, 290.0, 500.0, 1e-8
        )
        assert one.converged == result.converged[i]
        assert one.iterations == result.iterations[i]
        assert one.value == pytest.approx(result.value[i], rel=1e-12)


def test_contact_temperature_with_friction_and_cooling_that_depend_on_it() -> None:
    speed, load, diameter = 7.85, 2000.0, 0.05

    def power(t: Any) -> Any:
        return (0.12 - 2e-4 * (t - 300.0)) * load * math.pi * diameter * speed

    def path(t: Any) -> heat.HeatPath:
        air = heat.dry_air(0.5 * (t + 300.0), 101_325.0)
        film = heat.shaft_film(diameter, 50.0, air, t - 300.0).film
        side = heat.fin_conductance(diameter, 50.0, film, 0.2)
        return heat.behind(
            heat.ring_constriction(diameter, 5e-4, 50.0),
            heat.join(heat.HeatPath(side, 300.0), heat.HeatPath(side, 330.0)),
        )

    result = heat.balance_temperature(power, path, 700.0, 1e-6)
    assert result.converged
    here = path(result.value)
    assert here.conductance * (result.value - here.temperature) == pytest.approx(power(result.value), rel=1e-7)
    fixed = heat.balance_temperature(power, here, 700.0, 1e-6)
    assert fixed.value == pytest.approx(result.value, abs=1e-5)
    batch = heat.balance_temperature(lambda t: power(t) * np.array([1.0, 0.5]), path, 700.0, 1e-6)
    assert batch.value[0] == pytest.approx(result.value, abs=1e-5)
    assert batch.value[1] < batch.value[0]


def test_float_path_is_quick() -> None:
    function: Callable[[float], float] = lambda t: 300.0 + 38.0 * (t / 300.0) ** 2  # noqa: E731
    count = heat.fixed_point(function, 300.0, 300.0, 600.0, 1e-9).iterations
    best = math.inf
    for _ in range(20):
        start = time.perf_counter()
        for _ in range(20):
            heat.fixed_point(function, 300.0, 300.0, 600.0, 1e-9)
        best = min(best, (time.perf_counter() - start) / 20)
    # the budget is 100 microseconds for ten evaluations
    assert best * 10 / count < 100e-6


# ------------------------------------------------------------------------------------------------------------- shapes


def test_arrays_give_what_floats_give() -> None:
    d, h, length = np.array([0.02, 0.05, 0.1]), np.array([20.0, 40.0, 300.0]), np.array([0.05, 0.2, math.inf])
    turns = np.array([0.0, 5.0, 80.0])
    grid: dict[str, Callable[[Any], Any]] = {
        "fin": lambda c: heat.fin_conductance(c[0], 50.0, c[1], c[2], c[1]),
        "ratio": lambda c: heat.fin_temperature_ratio(0.01, c[0], 50.0, c[1], c[2], c[1]),
        "ring": lambda c: heat.ring_constriction(c[0], 5e-4, 50.0),
        "film": lambda c: heat.shaft_film(c[0], c[3], heat.dry_air(300.0 + c[3], 1e5), c[1]).film,
        "band": lambda c: heat.flash_band(c[1], 1e-4, c[3], 50.0, 1e-5).mean,
        "circle": lambda c: heat.flash_circle(c[1], 1e-3, c[3], 50.0, 1e-5).bound,
        "wall": lambda c: heat.cylinder_wall_conductance(c[0], c[0] + 0.01, 0.02, 0.25),
    }
    for name, function in grid.items():
        together = function((d, h, length, turns))
        for i in range(3):
            one = function((float(d[i]), float(h[i]), float(length[i]), float(turns[i])))
            assert isinstance(one, float), name
            assert together[i] == pytest.approx(one, rel=1e-12), name


RANGES = {
    "anderson_saunders": (0.0, math.inf, True),
    "becker": (800.0, 1.0e5, True),
    "etemad": (0.0, math.inf, False),
    "kays_bjorklund": (0.0, math.inf, False),
    "dropkin_carmi": (15000.0, math.inf, True),
    "ozerdem": (2000.0, 40000.0, True),
}
"""Range of the Reynolds number, and whether the correlation has no term for buoyancy and needs rotation to rule."""


def at_reynolds(reynolds: float, name: str, rise: float = 0.0) -> heat.Film:
    diameter = 0.05
    return heat.rotating_cylinder_film(diameter, reynolds * AIR.viscosity / (math.pi * diameter**2), AIR, rise, name)


@pytest.mark.parametrize("name", RANGES)
def test_reynolds_range_ends_where_it_is_said_to(name: str) -> None:
    low, high, _ = RANGES[name]
    assert at_reynolds(low * (1 + 1e-9), name).in_range
    assert low == 0.0 or not at_reynolds(low * (1 - 1e-6), name).in_range
    assert at_reynolds(min(high, 1e9) * (1 - 1e-9), name).in_range
    assert high == math.inf or not at_reynolds(high * (1 + 1e-6), name).in_range
    assert RANGES.keys() == heat.CORRELATIONS.keys()


@pytest.mark.parametrize("name", RANGES)
def test_without_a_term_for_buoyancy_rotation_must_rule(name: str) -> None:
    low, high, rotation_alone = RANGES[name]
    inside = math.sqrt(low * min(high, 1e6)) if low else 1e4
    unit = at_reynolds(inside, name, 1.0)
    # the rise at which Re = 1.09 sqrt(Gr)
    critical = (inside / 1.09) ** 2 / unit.grashof
    assert at_reynolds(inside, name, 0.99 * critical).in_range
    assert at_reynolds(inside, name, 1.01 * critical).in_range is not rotation_alone


@pytest.mark.parametrize("rise", [0.0, 50.0])
def test_a_shaft_at_rest_has_no_reynolds_number(rise: float) -> None:
    film = heat.natural_cylinder_film(0.05, AIR, rise)
    assert film.reynolds == 0.0
    expansion, gravity = AIR.expansion, 9.80665
    assert film.grashof == pytest.approx(gravity * expansion * rise * 0.05**3 / AIR.viscosity**2, rel=1e-12)


@pytest.mark.parametrize("peclet", [1e-3, 1e4])
def test_flash_band_at_the_ends_of_its_table(peclet: float) -> None:
    # half-width, conductivity and diffusivity of one: the speed is twice the Péclet number
    band = heat.flash_band(1.0, 1.0, 2.0 * peclet, 1.0, 1.0)
    peak = heat.exact_band_peak(peclet)
    unit = 1.0 / (math.pi * peclet)
    assert band.peak_position == pytest.approx(peak, rel=1e-9)
    assert band.maximum == pytest.approx(unit * heat.exact_band_rise(peak, peclet), rel=1e-9)
    assert band.mean == pytest.approx(unit * heat.exact_band_mean(peclet), rel=1e-9)


def test_lengthened_step_is_limited() -> None:
    # slope 0.999: one plain step, then the secant would go a thousand steps ahead; ten are allowed
    def function(x: Any) -> Any:
        return 1.0 + 0.999 * x

    single = heat.fixed_point(function, 0.0, -1e9, 1e9, 1e-9, max_iterations=3)
    assert (single.iterations, single.converged) == (3, False)
    assert single.value == pytest.approx(1.0 + 10.0 * 0.999, rel=1e-12)
    many = heat.fixed_point(function, np.array([0.0, 1.0]), -1e9, 1e9, 1e-9, max_iterations=3)
    assert many.value[0] == pytest.approx(single.value, rel=1e-12)


def test_table_is_what_the_solvers_give(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    committed = json.loads(heat._TABLE.read_text(encoding="utf-8"))
    monkeypatch.setattr(heat, "_TABLE", tmp_path / "tables" / "heat.json")
    heat.build_table()
    rebuilt = json.loads(heat._TABLE.read_text(encoding="utf-8"))
    assert rebuilt.keys() == committed.keys()
    for name, table in committed.items():
        assert rebuilt[name]["axis"] == pytest.approx(table["axis"], rel=1e-12)
        assert np.array(rebuilt[name]["rows"]) == pytest.approx(np.array(table["rows"]), rel=1e-8)


def test_a_residual_of_just_the_tolerance_is_solved() -> None:
    single = heat.fixed_point(lambda x: x + 0.5, 1.0, 0.0, 9.0, 0.5)
    many = heat.fixed_point(lambda x: x + 0.5, np.array([1.0]), 0.0, 9.0, 0.5)
    assert single == (1.0, 0.5, 1, True)
    assert [field[0] for field in many] == list(single)
