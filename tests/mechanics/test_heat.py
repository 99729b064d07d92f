"""Ways of the heat as plain formulas."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import ht
import numpy as np
import pytest
from fluids.atmosphere import ATMOSPHERE_1976
from glandwise.mechanics import heat, tables
from glandwise.mechanics.choices import FilmCorrelation
from glandwise.mechanics.solvers import ring_table
from glandwise.numerics import sources
from glandwise.numerics.compiled import compiled
from glandwise.numerics.over import Over
from glandwise.numerics.trace import Working
from glandwise.rules.model import FilmCorrelation as InRules
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_bvp

from tests.mechanics.support import sound, told

plain = Over(heat)
"""Its formulas over arrays."""


SHAFT = {"d": (5e-3, 0.6), "k": (10.0, 400.0), "h": (2.0, 5e3), "L": (1e-2, 1.0)}


FILM = {
    "d": (5e-3, 0.6), "n": (0.0, 150.0), "k": (0.02, 0.05), "nu": (1e-5, 5e-5), "Pr": (0.68, 0.72),
    "beta": (1.6e-3, 4e-3), "Delta_T": (-50.0, 300.0),
}  # fmt: skip


def test_constriction_under_the_ring() -> None:
    spans = {"d": (5e-3, 0.6), "b": (1e-5, 3e-3), "k": (10.0, 400.0)}
    sound(heat.ring_constriction, spans)


def test_machine_code_knows_the_table() -> None:
    assert any(path.name == "heat.json" for path in sources._files())


def test_conductance_of_a_wall() -> None:
    spans = {"A": (1e-6, 1.0), "t": (1e-4, 1e-1), "k": (0.2, 400.0)}
    sound(heat.plane_wall_conductance, spans)


def test_dry_air() -> None:
    sound(heat.dry_air, {"T": (150.0, 1000.0), "p": (1e4, 1e6)})


def test_correlations_are_those_of_the_rules() -> None:
    assert {choice.name for choice in FilmCorrelation} == set(InRules.__args__)


def test_a_correlation_that_there_is_not() -> None:
    assert math.isnan(compiled(heat.turning_nusselt)(1e4, 1e5, 0.7, 17))


def test_the_working_of_a_film_names_whose_measurements_it_goes_by() -> None:
    h = told(heat.shaft_film, 0.05, 50.0, 0.03, 2e-5, 0.7, 3e-3, 80.0, FilmCorrelation.etemad)
    working = Working(h)
    by = {working.symbol(step): step for step in working.steps}
    assert "Etemad" in by["Nu"].source
    assert working.equation(by["h"]) == "max(Nu, Nu_0) * k / d"


diameters = st.floats(2e-3, 0.5)


conductivities = st.floats(10.0, 400.0)


films = st.floats(1.0, 2000.0)


lengths = st.floats(1e-3, 5.0)


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
    factor = plain.ring_constriction(2.0, width, 1.0) * 2.0 * math.pi
    assert finite_element_factor(width) == pytest.approx(factor, rel=1e-4)


@given(st.floats(1e-5, 0.5), st.floats(1e-5, 0.5))
def test_narrower_rings_constrict_more(first: float, second: float) -> None:
    narrow, wide = sorted((first, second))
    assert plain.ring_constriction(1.0, narrow, 50.0) >= plain.ring_constriction(1.0, wide, 50.0) * (1 - 1e-12)


def test_ring_constriction_grows_by_the_logarithm_for_narrow_rings() -> None:
    factor = [plain.ring_constriction(2.0, w, 1.0) * 2 * math.pi for w in (1e-4, 1e-3)]
    assert factor[0] - factor[1] == pytest.approx(math.log(10) / math.pi, rel=1e-3)


def test_ring_table_is_what_the_solver_gives() -> None:
    for width in (2.3e-5, 7.1e-4, 1.3e-2, 0.31):
        table = plain.ring_constriction(2.0, width, 1.0) * 2 * math.pi
        assert table == pytest.approx(ring_table.factor(width), rel=2e-6)


@given(st.floats(200.0, 600.0))
def test_air_equals_the_standard_atmosphere_of_a_general_library(temperature: float) -> None:
    air = plain.dry_air(temperature, 101_325.0)
    density = 101_325.0 / (287.05287 * temperature)
    assert air.viscosity * density == pytest.approx(ATMOSPHERE_1976.viscosity(temperature), rel=1e-12)
    assert air.conductivity == pytest.approx(ATMOSPHERE_1976.thermal_conductivity(temperature), rel=1e-12)
    assert 0.66 < air.prandtl < 0.75


# ------------------------------------------------------------------------------------------------------- shaft as fin


@pytest.mark.parametrize("length", [0.03, 0.1, 0.3])
def test_fin_agrees_with_a_boundary_value_problem(length: float) -> None:
    diameter, k, h = 0.05, 50.0, 40.0
    # in the scaled coordinate xi = x/length, with the rise in units of flux length / k area
    square = 4 * h * length**2 / (k * diameter)
    xi = np.linspace(0.0, 1.0, 41)
    solution = solve_bvp(
        lambda _, y: np.vstack([y[1], square * y[0]]),
        lambda near, far: np.array([near[1] + 1.0, far[1]]),
        xi,
        np.ones((2, xi.size)),
        tol=1e-9,
        max_nodes=20_000,
    )
    assert solution.success
    area = math.pi * diameter**2 / 4
    rise = solution.sol(0.0)[0] * length / (k * area)
    assert 1.0 / plain.fin_conductance(diameter, k, h, length) == pytest.approx(rise, rel=1e-8)


@given(diameters, conductivities, films, lengths)
def test_a_shaft_conducts_between_its_limits(diameter: float, k: float, h: float, length: float) -> None:
    found, endless = (plain.fin_conductance(diameter, k, h, L) for L in (length, math.inf))
    m = math.sqrt(4.0 * h / (k * diameter))
    assert endless == pytest.approx(k * m * math.pi * diameter**2 / 4.0, rel=1e-12)
    assert 0.0 < found <= endless * (1.0 + 1e-12)
    assert found <= h * math.pi * diameter * length * (1.0 + 1e-12)
    # a short one loses what its surface can
    short = plain.fin_conductance(diameter, k, h, 1e-3 / m)
    assert short == pytest.approx(h * math.pi * diameter * 1e-3 / m, rel=1e-6)


def test_lives_of_a_shaft() -> None:
    sound(heat.fin_conductance, SHAFT)
    ends = [told(heat.fin_conductance, 0.05, 50.0, 30.0, length) for length in (10.0, math.inf)]
    assert ends[0] == pytest.approx(ends[1], rel=1e-12)


def test_the_table_of_the_ring_is_not_left() -> None:
    for epsilon in (1e-5, 1.001e-5, 0.5, 1.0):
        assert told(heat.ring_constriction, 1.0, 0.5 * epsilon, 1.0) > 0.0, epsilon
    for epsilon in (0.9e-5, 1.0 + 2e-9, 1.2, 0.0, math.nan, math.inf):
        assert math.isnan(told(heat.ring_constriction, 1.0, 0.5 * epsilon, 1.0)), epsilon


def test_table_is_what_the_solver_gives(tmp_path: Path) -> None:
    ring_table.build(tmp_path / "heat.json")
    rebuilt, made = (
        json.loads((folder / "heat.json").read_text("utf-8"))["ring"] for folder in (tmp_path, tables.FOLDER)
    )
    assert rebuilt["axis"] == pytest.approx(made["axis"], rel=1e-12)
    assert np.array(rebuilt["rows"]) == pytest.approx(np.array(made["rows"]), rel=1e-8)


# ------------------------------------------------------------------------------------------------------------ network


def test_lives_of_ways() -> None:
    sound(heat.series, {"G_1": (1e-3, 1e2), "G_2": (1e-3, 1e2)})
    sound(heat.behind, {"R": (1e-3, 10.0), "G": (1e-3, 1e2)})
    sound(heat.join, {"G_1": (1e-3, 1e2), "T_1": (200.0, 600.0), "G_2": (1e-3, 1e2), "T_2": (200.0, 600.0)})
    assert told(heat.series, 0.0, 1.0) == 0.0


def test_walls_agree_with_a_general_library() -> None:
    # film, two layers, film; the library answers per metre of length, here of a ring so wide that its walls are plane
    layers = ht.cylindrical_heat_transfer(
        Ti=400.0, To=300.0, hi=200.0, ho=15.0, Di=5e4, ts=[5e-3, 1e-2], ks=[0.25, 50.0]
    )
    area = math.pi * 5e4
    inner = plain.series(200.0 * area, plain.plane_wall_conductance(area, 5e-3, 0.25))
    outer = plain.series(plain.plane_wall_conductance(area, 1e-2, 50.0), 15.0 * area)
    assert plain.series(inner, outer) == pytest.approx(layers["UA"], rel=1e-6)


way = st.tuples(st.floats(0.01, 100.0), st.floats(200.0, 500.0))


@given(way, way, st.floats(0.0, 10.0), st.floats(0.0, 1e3))
def test_contact_temperature_balances_the_heat(
    one: tuple[float, float], other: tuple[float, float], front: float, power: float
) -> None:
    both = plain.join(*one, *other)
    joint = both.temperature + power / both.conductance
    out = sum(conductance * (joint - far) for conductance, far in (one, other))
    assert out == pytest.approx(power, abs=1e-9 * both.conductance * 500.0)
    # a resistance in front adds its own rise
    contact = both.temperature + power / plain.behind(front, both.conductance)
    assert contact == pytest.approx(joint + power * front, rel=1e-9)


# -------------------------------------------------------------------------------------------------------------- films

AIR = (0.0263, 15.89e-6, 0.707, 1 / 300)


@given(st.floats(0.005, 0.3), st.floats(5.0, 300.0), st.floats(1.0, 200.0), st.sampled_from(FilmCorrelation))
def test_films_rise_with_speed_and_are_finite(d: float, n: float, rise: float, name: FilmCorrelation) -> None:
    slow, fast, back = (plain.shaft_film(d, speed, *AIR, rise, name) for speed in (n, 2.0 * n, -n))
    assert fast >= slow > 0.0
    assert back == slow
    # at rest a shaft keeps its natural convection
    assert slow >= plain.shaft_film(d, 0.0, *AIR, rise, FilmCorrelation.ozerdem) > 0.0


def test_correlations_agree_within_their_common_range() -> None:
    # 50 mm at 3000 turns a minute in air lies in the range of all six
    values = [plain.shaft_film(0.05, 50.0, *AIR, 50.0, name) for name in FilmCorrelation]
    mean = sum(values) / len(values)
    assert max(abs(value / mean - 1) for value in values) < 0.2


@given(st.floats(0.005, 0.5), st.floats(0.1, 300.0))
def test_natural_film_equals_a_general_library(diameter: float, rise: float) -> None:
    k, nu, prandtl, beta = AIR
    grashof = 9.80665 * beta * rise * diameter**3 / nu**2
    library = ht.Nu_horizontal_cylinder_Churchill_Chu(Pr=prandtl, Gr=grashof)
    assert plain.still_nusselt(grashof, prandtl) == pytest.approx(library, rel=1e-12)
    film = plain.shaft_film(diameter, 0.0, *AIR, rise, FilmCorrelation.becker)
    assert film == pytest.approx(library * k / diameter, rel=1e-9)


@pytest.mark.parametrize("correlation", list(FilmCorrelation))
def test_lives_of_a_film(correlation: FilmCorrelation) -> None:
    sound(heat.shaft_film, FILM, correlation)


def test_time_to_a_rise_is_told_by_its_steps() -> None:
    spans = {
        "P": (1.0, 1e4),
        "d": (0.01, 0.5),
        "b": (1e-4, 2e-3),
        "k": (10.0, 60.0),
        "rho": (7e3, 8e3),
        "c": (400.0, 520.0),
    }
    sound(heat.time_to_rise, {**spans, "Delta_T": (-10.0, 300.0)})


def test_time_to_a_rise_is_that_of_a_half_space_under_a_steady_flux() -> None:
    """Marched by finite differences over one side of the shaft, without the constriction of the contact."""
    d, k, rho, c, P = 0.05, 45.0, 7850.0, 470.0, 400.0
    b = 0.4e-3
    narrow = P * heat.ring_constriction(d, b, k)
    found = heat.time_to_rise(P, d, b, k, rho, c, 50.0 + narrow)
    flux, alpha = 2.0 * P / (math.pi * d**2), k / (rho * c)
    n, length = 400, 8.0 * math.sqrt(alpha * found)
    dx = length / n
    dt, T, t = 0.4 * dx**2 / alpha, np.zeros(n), 0.0
    while T[0] + 0.5 * flux * dx / k < 50.0:
        edges = np.concatenate([[flux], k * (T[:-1] - T[1:]) / dx, [0.0]])
        T = T + dt * (edges[:-1] - edges[1:]) / (rho * c * dx)
        t += dt
    assert found == pytest.approx(t, rel=0.01)
    assert heat.time_to_rise(P, d, b, k, rho, c, 0.5 * narrow) == 0.0
