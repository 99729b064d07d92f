"""Lip as a shell: its lives, its working and the formulas that it comes from."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from glandwise.mechanics import shells
from glandwise.numerics.arithmetic import FUNCTIONS
from glandwise.numerics.compiled import compiled
from glandwise.numerics.over import Over
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.mechanics.support import alike, draws, hostile, lives_agree, steps_hold

plain = Over(shells)
"""Its formulas over arrays."""


def rigidity(thickness: float) -> float:
    return MODULUS * thickness**3 / (12.0 * (1.0 - POISSON**2))


MASSES = draws((3e-3, 0.3), (2e-4, 4e-3), (5e-4, 0.08), (-0.3, 0.49), (500.0, 4000.0))


LIPS = [row[:4] for row in MASSES]


FORMULAS = [
    (shells.length_parameter, LIPS),
    (shells.lip_shell, LIPS),
    (shells.moving_mass, MASSES),
    (shells.held_root_share, LIPS),
]


BY_NAME = pytest.mark.parametrize("formula,rows", FORMULAS, ids=[formula.__name__ for formula, _ in FORMULAS])


@BY_NAME
def test_lives_agree(formula: Any, rows: Any) -> None:
    lives_agree(formula, rows)
    lives_agree(formula, hostile(rows[:40]))


@BY_NAME
def test_a_reader_can_recompute_each_step(formula: Any, rows: Any) -> None:
    steps_hold(formula, hostile(rows[:10]))
    for working in steps_hold(formula, rows[:60]):
        for step in working.steps:
            # the closed form of an end function loses digits for a short lip and overflows for a long one
            if step.words and 0.3 < working.inputs(step)["x"] < 100.0:
                words = working.words(step)
                closed = eval(words.partition(", ")[0], {"__builtins__": {}}, {**FUNCTIONS, **working.inputs(step)})
                alike(closed, step.value, words, 1e-10)


def test_end_functions_meet_where_their_form_changes() -> None:
    below, above = (compiled(shells.end_functions)(x) for x in (math.nextafter(1.0, 0.0), 1.0))
    np.testing.assert_allclose(below, above, rtol=1e-13)
    assert compiled(shells.mass_share)(math.nextafter(1.0, 0.0)) == pytest.approx(
        compiled(shells.mass_share)(1.0), rel=1e-12
    )


def test_a_flat_strip_is_a_propped_beam() -> None:
    t, L, nu = 1e-3, 8e-3, 0.46
    lip = compiled(shells.lip_shell)(math.inf, t, L, nu)
    assert lip.stiffness_per_modulus == pytest.approx(3.0 * t**3 / (12.0 * (1.0 - nu**2)) / L**3, rel=1e-14)
    assert lip.pressure_length == pytest.approx(3.0 * L / 8.0, rel=1e-14)
    assert lip.clamp_stress_per_pressure == pytest.approx(6.0 * L**2 / 8.0 / t**2, rel=1e-14)
    assert compiled(shells.moving_mass)(math.inf, t, L, nu, 2200.0) == pytest.approx(2200.0 * t * L * 33.0 / 140.0)


@pytest.mark.parametrize("at", range(5))
@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan])
def test_what_is_no_shell_has_no_response(at: int, bad: float) -> None:
    row = [0.03, 1e-3, 8e-3, 0.46, 2200.0]
    row[at] = bad if at != 3 else bad - 1.0
    assert math.isnan(compiled(shells.moving_mass)(*row))
    if at < 4:
        assert all(map(math.isnan, (*compiled(shells.lip_shell)(*row[:4]), compiled(shells.held_root_share)(*row[:4]))))


MODULUS, POISSON = 600.0e6, 0.46


radii = st.floats(3e-3, 0.3)


thicknesses = st.floats(0.1e-3, 2e-3)


lengths = st.floats(1e-3, 60e-3)


def solid_ring(
    radius: float, thickness: float, length: float, modulus: float, poisson: float, harmonic: int = 0, across: int = 4
) -> tuple[float, float]:
    """Stiffness and pressure coefficient of the lip as a three-dimensional elastic ring, by finite elements.

    Displacements vary as cos(nθ), sin(nθ), cos(nθ) round the circumference (n = ``harmonic``). The contact load is
    spread over the end face, and the edge deflection is the mean over that face, weighted likewise.
    """
    import skfem

    along = max(16, math.ceil(4 * length / thickness))
    r = np.linspace(radius - thickness / 2, radius + thickness / 2, across + 1)
    z = length * (1 - np.cos(np.linspace(0, np.pi, along + 1))) / 2
    mesh = skfem.MeshQuad.init_tensor(r, z)
    element = skfem.ElementVector(skfem.ElementQuad2(), 3)
    basis = skfem.Basis(mesh, element, intorder=5)
    lame = modulus * poisson / ((1 + poisson) * (1 - 2 * poisson))
    shear = modulus / (2 * (1 + poisson))
    n = harmonic

    def strain(u: Any, r: Any) -> tuple[Any, ...]:
        g = u.grad
        return (
            g[0, 0],
            (u[0] + n * u[1]) / r,
            g[2, 1],
            g[0, 1] + g[2, 0],
            -n * u[0] / r + g[1, 0] - u[1] / r,
            g[1, 1] - n * u[2] / r,
        )

    def energy(u: Any, v: Any, w: Any) -> Any:
        a, b = strain(u, w.x[0]), strain(v, w.x[0])
        volume = lame * sum(a[:3]) * sum(b[:3])
        direct = 2 * shear * sum(x * y for x, y in zip(a[:3], b[:3], strict=True))
        sliding = shear * sum(x * y for x, y in zip(a[3:], b[3:], strict=True))
        return w.x[0] * (volume + direct + sliding)

    matrix = skfem.BilinearForm(energy).assemble(basis)
    near = 1e-9 * length
    end = skfem.FacetBasis(mesh, element, facets=mesh.facets_satisfying(lambda x: np.abs(x[1] - length) < near))
    outside = skfem.FacetBasis(mesh, element, facets=mesh.facets_satisfying(lambda x: np.abs(x[0] - r[-1]) < near))
    ring_load = skfem.LinearForm(lambda v, w: v[0] * w.x[0] / (radius * thickness)).assemble(end)
    pressed = skfem.LinearForm(lambda v, w: -v[0] * w.x[0] / radius).assemble(outside)
    held = basis.get_dofs(lambda x: np.abs(x[1]) < near).all()
    if n == 0:  # the circumferential displacement is idle
        held = np.unique(np.concatenate([held, basis.get_dofs(lambda x: x[0] > 0).all(["u^2"])]))
    by_load = skfem.solve(*skfem.condense(matrix, ring_load, D=held))
    by_pressure = skfem.solve(*skfem.condense(matrix, pressed, D=held))
    flexibility = ring_load @ by_load
    return 1 / (flexibility * radius), -(ring_load @ by_pressure) / flexibility


def heated_ring(radius: float, thickness: float, length: float, poisson: float, across: int = 4) -> float:
    """Share of the root's strain in that of the end face of an elastic ring that is held at its root, by finite elements.

    The ring is heated by one unit of free strain (an initial strain, alike in all directions) and its root face does not
    move; what its end face lacks of the free strain, as a mean over the face, is the share.
    """
    import skfem

    along = max(16, math.ceil(4 * length / thickness))
    r = np.linspace(radius - thickness / 2, radius + thickness / 2, across + 1)
    z = length * (1 - np.cos(np.linspace(0, np.pi, along + 1))) / 2
    mesh = skfem.MeshQuad.init_tensor(r, z)
    element = skfem.ElementVector(skfem.ElementQuad2())
    basis = skfem.Basis(mesh, element, intorder=5)
    shear = 1.0
    lame = 2 * shear * poisson / (1 - 2 * poisson)

    def strain(u: Any, r: Any) -> tuple[Any, ...]:
        return u.grad[0, 0], u[0] / r, u.grad[1, 1], u.grad[0, 1] + u.grad[1, 0]

    def energy(u: Any, v: Any, w: Any) -> Any:
        a, b = strain(u, w.x[0]), strain(v, w.x[0])
        direct = 2 * shear * sum(x * y for x, y in zip(a[:3], b[:3], strict=True))
        return w.x[0] * (lame * sum(a[:3]) * sum(b[:3]) + direct + shear * a[3] * b[3])

    matrix = skfem.BilinearForm(energy).assemble(basis)
    swell = (3 * lame + 2 * shear) * skfem.LinearForm(lambda v, w: w.x[0] * sum(strain(v, w.x[0])[:3])).assemble(basis)
    near = 1e-9 * length
    end = skfem.FacetBasis(mesh, element, facets=mesh.facets_satisfying(lambda x: np.abs(x[1] - length) < near))
    mean = skfem.LinearForm(lambda v, w: v[0] * w.x[0] / (radius * thickness)).assemble(end)
    held = basis.get_dofs(lambda x: np.abs(x[1]) < near).all()
    return float(1.0 - mean @ skfem.solve(*skfem.condense(matrix, swell, D=held)) / radius)


def boundary_value(
    segments: list[tuple[float, float]], radius: float, delta: float, pressure: float
) -> tuple[float, float, Any]:
    """Edge reaction, clamp moment and deflection of the first segment by ``solve_bvp``.

    ``segments`` are (thickness, length) from the clamp outward.
    """
    from scipy.integrate import solve_bvp

    n = len(segments)
    unit = sum(length for _, length in segments)
    rigid = [rigidity(t) for t, _ in segments]
    # unknowns per segment: y, slope, moment, shear; scaled to stay of order one
    scale_y, scale_m = 1e-3, max(rigid) * 1e-3 / unit**2

    def equations(s: Any, state: Any) -> Any:
        out = np.empty_like(state)
        for i, (t, length) in enumerate(segments):
            y, slope, moment, force = state[4 * i : 4 * i + 4]
            out[4 * i] = slope * length / unit
            out[4 * i + 1] = moment * scale_m * unit / (rigid[i] * scale_y) * length
            out[4 * i + 2] = force * length / unit
            out[4 * i + 3] = (-pressure - MODULUS * t / radius**2 * y * scale_y) * unit * length / scale_m
        return out

    def ends(a: Any, b: Any) -> Any:
        joints = [b[4 * i + j] - a[4 * i + 4 + j] for i in range(n - 1) for j in range(4)]
        return np.array([a[0], a[1], b[4 * n - 4] - delta / scale_y, b[4 * n - 2], *joints])

    grid = np.linspace(0, 1, 41)
    solution = solve_bvp(equations, ends, grid, np.zeros((4 * n, grid.size)), tol=1e-9, max_nodes=20000)
    assert solution.success
    return (
        float(-solution.y[4 * n - 1, -1] * scale_m / unit),
        float(solution.y[2, 0] * scale_m),
        lambda share: solution.sol(share)[0] * scale_y,
    )


def test_solid_elements_have_converged() -> None:
    coarse = solid_ring(25e-3, 1e-3, 5e-3, MODULUS, POISSON)
    fine = solid_ring(25e-3, 1e-3, 5e-3, MODULUS, POISSON, across=8)
    assert coarse == pytest.approx(fine, rel=1e-3)


def test_a_lip_shifted_sideways_is_about_as_stiff_as_one_expanded() -> None:
    """Runout moves the ring as cos θ; the documented difference to the axisymmetric stiffness is under 3 %."""
    for slenderness in (5.0, 20.0):
        even, _ = solid_ring(slenderness * 5e-3, 0.5e-3, 5e-3, MODULUS, POISSON)
        sideways, _ = solid_ring(slenderness * 5e-3, 0.5e-3, 5e-3, MODULUS, POISSON, harmonic=1)
        assert sideways == pytest.approx(even, rel=0.03)


# ------------------------------------------------------------------------------------------------ held at its root
HELD = [
    (25e-3, 0.5e-3, 5e-3),
    (12e-3, 0.5e-3, 4e-3),
    (60e-3, 1.2e-3, 3e-3),
    (8e-3, 0.3e-3, 12e-3),
    (250e-3, 1.7e-3, 9e-3),
]


@pytest.mark.parametrize(("radius", "thickness", "length"), HELD)
@pytest.mark.parametrize(("root", "free"), [(1.5e-3, 1.2e-2), (-3e-3, -2.1e-2), (0.0, 1.0)])
def test_held_root_agrees_with_boundary_value_solver(
    radius: float, thickness: float, length: float, root: float, free: float
) -> None:
    """The shell on the foundation of its hoops: held at r ε_root without slope, neither moment nor shear at the edge."""
    from scipy.integrate import solve_bvp

    # lengths in units of the decay length, so that the state stays of one size; E t/r² over D is 4 of them
    end = length * (3 * (1 - POISSON**2) / (radius * thickness) ** 2) ** 0.25

    def equation(_: Any, w: Any) -> Any:
        return np.vstack([w[1:], 4 * (free - w[:1])])

    def ends(a: Any, b: Any) -> Any:
        return np.array([a[0] - root, a[1], b[2], b[3]])

    grid = np.linspace(0.0, end, 41)
    solution = solve_bvp(equation, ends, grid, np.zeros((4, grid.size)), tol=1e-8, max_nodes=20000)
    assert solution.success
    share = plain.held_root_share(radius, thickness, length, POISSON)
    assert share * root + (1 - share) * free == pytest.approx(solution.y[0, -1], abs=1e-6 * abs(free))


@pytest.mark.parametrize(("share", "within"), [(0.05, 0.003), (0.1, 0.01), (0.2, 0.015), (0.3, 0.03), (0.4, 0.07)])
@pytest.mark.parametrize("slenderness", [2.5, 5.0, 10.0, 20.0])
def test_held_root_agrees_with_solid_elements_as_documented(share: float, within: float, slenderness: float) -> None:
    """Differences are of the strain between root and free ring; the page of the model lists them."""
    length = 5e-3
    radius, thickness = slenderness * length, share * length
    found = plain.held_root_share(radius, thickness, length, POISSON)
    assert found == pytest.approx(heated_ring(radius, thickness, length, POISSON), abs=within)


def test_heated_elements_have_converged() -> None:
    coarse, fine = (heated_ring(25e-3, 1e-3, 5e-3, POISSON, across=across) for across in (4, 8))
    assert coarse == pytest.approx(fine, abs=1e-3)


def length_of(x: float) -> float:
    """Free length of a lip of the given λL."""
    return x / float(plain.length_parameter(25e-3, 0.5e-3, 1.0, POISSON))


def held(x: float) -> float:
    return float(plain.held_root_share(25e-3, 0.5e-3, length_of(x), POISSON))


def test_a_short_lip_follows_its_root_and_a_long_one_does_not_feel_it() -> None:
    # 1 - x⁴/2 + ..., from the series of the closed form
    for x in (1e-3, 1e-2, 0.1):
        assert 1.0 - held(x) == pytest.approx(x**4 / 2, rel=1e-2, abs=1e-15)
    assert plain.held_root_share(math.inf, 0.5e-3, 5e-3, POISSON) == 1.0
    # of a long one 4 exp(-x) cos x is left
    for x in (8.0, 12.0, 20.0):
        assert held(x) == pytest.approx(4 * math.exp(-x) * math.cos(x), rel=1e-5)


def test_very_long_lips_overflow_nowhere() -> None:
    lengths = np.array([1.0, 10.0, 1e3, 1e6])
    assert np.abs(plain.held_root_share(25e-3, 0.5e-3, lengths, POISSON)).max() < 1e-100


def test_the_edge_swings_at_most_a_quarter_beyond_the_free_ring() -> None:
    shares = np.array([held(x) for x in np.linspace(0.01, 20.0, 20001)])
    lowest = int(np.argmin(shares))
    assert 0.01 + lowest * 19.99 / 20000 == pytest.approx(2.365, abs=1e-3)
    assert shares[lowest] == pytest.approx(-0.2611, abs=1e-4)
    assert shares.max() <= 1.0
    assert held(math.pi / 2) == pytest.approx(0.0, abs=1e-15)


@settings(max_examples=60, deadline=None)
@given(radii, thicknesses, lengths, st.floats(0.5, 2.0))
def test_only_length_over_root_of_radius_and_thickness_matters(
    radius: float, thickness: float, length: float, factor: float
) -> None:
    share = plain.held_root_share(radius, thickness, length, POISSON)
    scaled = plain.held_root_share(factor**2 * radius, thickness, factor * length, POISSON)
    assert scaled == pytest.approx(share, rel=1e-9, abs=1e-12)


# ------------------------------------------------------------------------------------------------ held by the shaft


@pytest.mark.parametrize(
    ("radius", "thickness", "length"),
    [(25e-3, 0.5e-3, 5e-3), (12e-3, 0.5e-3, 4e-3), (60e-3, 1.2e-3, 3e-3), (8e-3, 0.3e-3, 12e-3)],
)
def test_agrees_with_boundary_value_solver(radius: float, thickness: float, length: float) -> None:
    lip = plain.lip_shell(radius, thickness, length, POISSON)
    for delta, pressure in ((0.4e-3, 0.0), (0.0, 0.3e6), (0.3e-3, 1.0e6)):
        reaction, moment, shape = boundary_value([(thickness, length)], radius, delta, pressure)
        carried = MODULUS * lip.stiffness_per_modulus * delta + lip.pressure_length * pressure
        assert carried == pytest.approx(reaction, rel=1e-6), (delta, pressure)
        if delta == 0.0:
            bending = 6.0 * moment / thickness**2
            assert lip.clamp_stress_per_pressure * pressure == pytest.approx(abs(bending), rel=1e-6)
        if pressure == 0.0:
            stations = np.linspace(0.0, 1.0, 4001)
            moving = 2200.0 * thickness * length * np.trapezoid((shape(stations) / delta) ** 2, stations)
            assert plain.moving_mass(radius, thickness, length, POISSON, 2200.0) == pytest.approx(moving, rel=1e-5)


@pytest.mark.parametrize(("share", "within"), [(0.05, 0.005), (0.1, 0.005), (0.2, 0.025), (0.3, 0.06), (0.4, 0.125)])
@pytest.mark.parametrize("slenderness", [5.0, 20.0])
def test_agrees_with_solid_elements_as_documented(share: float, within: float, slenderness: float) -> None:
    """Thin to thick: the shell error grows with t/L as the page of the model states, and never beyond."""
    length = 5e-3
    radius, thickness = slenderness * length, share * length
    lip = plain.lip_shell(radius, thickness, length, POISSON)
    stiffness, coefficient = solid_ring(radius, thickness, length, MODULUS, POISSON)
    assert MODULUS * lip.stiffness_per_modulus == pytest.approx(stiffness, rel=within)
    assert lip.pressure_length == pytest.approx(coefficient, rel=within)


def test_long_shell_limit() -> None:
    lip = plain.lip_shell(25e-3, 0.5e-3, 1.0, POISSON)
    decay = plain.length_parameter(25e-3, 0.5e-3, 1.0, POISSON)
    assert MODULUS * lip.stiffness_per_modulus == pytest.approx(2 * rigidity(0.5e-3) * decay**3, rel=1e-12)
    assert lip.pressure_length == pytest.approx(1 / (2 * decay), rel=1e-12)
    # clamp of a long cylinder under pressure: M = p/(2 lambda²)
    assert lip.clamp_stress_per_pressure == pytest.approx(6 / (2 * decay**2) / 0.5e-3**2, rel=1e-12)
    assert plain.mass_share(decay) == pytest.approx(3.0 / (8.0 * decay), rel=1e-12)


@pytest.mark.parametrize("length", [1e-3, 5e-3, 40e-3])
def test_short_beam_functions_of_the_handbook_form(length: float) -> None:
    """k = 2 D lambda³ (2 + C11)/C13 with C11 = sinh² - sin², C13 = cosh sinh - cos sin (Hetényi; Roark, from memory)."""
    x = plain.length_parameter(25e-3, 0.5e-3, length, POISSON)
    c11 = math.sinh(x) ** 2 - math.sin(x) ** 2
    c13 = math.cosh(x) * math.sinh(x) - math.cos(x) * math.sin(x)
    expected = 2 * rigidity(0.5e-3) * (x / length) ** 3 * (2 + c11) / c13
    found = MODULUS * plain.lip_shell(25e-3, 0.5e-3, length, POISSON).stiffness_per_modulus
    assert found == pytest.approx(expected, rel=1e-11)


@settings(max_examples=80)
@given(radii, thicknesses, lengths, st.floats(1.01, 2.0))
def test_invariants(radius: float, thickness: float, length: float, factor: float) -> None:
    lip = plain.lip_shell(radius, thickness, length, POISSON)
    assert all(math.isfinite(value) for value in lip)
    x = plain.length_parameter(radius, thickness, length, POISSON)
    bending = rigidity(thickness) / MODULUS
    # never softer than the flat strip; a finite shell is also stiffer than 0.95 of the long one
    assert lip.stiffness_per_modulus >= 3 * bending / length**3 * (1 - 1e-12)
    assert lip.stiffness_per_modulus >= 0.95 * 2 * bending * (x / length) ** 3
    assert 0.0 < lip.pressure_length <= 0.375 * length * (1 + 1e-12)
    # similar lips: stiffness and stress per pressure stay, lengths scale
    twin = plain.lip_shell(factor * radius, factor * thickness, factor * length, POISSON)
    assert twin.stiffness_per_modulus == pytest.approx(lip.stiffness_per_modulus, rel=1e-9)
    assert twin.pressure_length == pytest.approx(factor * lip.pressure_length, rel=1e-9)
    assert twin.clamp_stress_per_pressure == pytest.approx(lip.clamp_stress_per_pressure, rel=1e-9)
    # thicker is stiffer, a wider ring is softer
    assert plain.lip_shell(radius, factor * thickness, length, POISSON)[0] > lip.stiffness_per_modulus
    assert plain.lip_shell(factor * radius, thickness, length, POISSON)[0] < lip.stiffness_per_modulus * (1 + 1e-9)
    mass = plain.moving_mass(radius, thickness, length, POISSON, 2200.0)
    assert 0.0 < mass <= 33 / 140 * 2200 * thickness * length * (1 + 1e-9) or x > 1.0
    assert mass < 0.25 * 2200 * thickness * length
