"""Lip shell: limits, scaling, a boundary value solver, and axisymmetric solid finite elements."""

from __future__ import annotations

import math
import time
from typing import Any

import numpy as np
import pytest
from glandwise.twofold import shells
from hypothesis import given, settings
from hypothesis import strategies as st

MODULUS, POISSON = 600.0e6, 0.46
LIP = {"radius": 25e-3, "thickness": 0.5e-3, "free_length": 5e-3, "modulus": MODULUS, "poisson_ratio": POISSON}

radii = st.floats(3e-3, 0.3)
thicknesses = st.floats(0.1e-3, 2e-3)
lengths = st.floats(1e-3, 60e-3)
interferences = st.floats(0.0, 2e-3)
pressures = st.floats(-2e6, 5e6)


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
    rigid = [shells.flexural_rigidity(MODULUS, POISSON, t) for t, _ in segments]
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


@pytest.mark.parametrize(
    ("radius", "thickness", "length"),
    [(25e-3, 0.5e-3, 5e-3), (12e-3, 0.5e-3, 4e-3), (60e-3, 1.2e-3, 3e-3), (8e-3, 0.3e-3, 12e-3)],
)
@pytest.mark.parametrize(("delta", "pressure"), [(0.4e-3, 0.0), (0.0, 0.3e6), (0.3e-3, 1.0e6)])
def test_agrees_with_boundary_value_solver(
    radius: float, thickness: float, length: float, delta: float, pressure: float
) -> None:
    reaction, moment, shape = boundary_value([(thickness, length)], radius, delta, pressure)
    lip = shells.lip_response(radius, thickness, length, MODULUS, POISSON, delta, pressure)
    assert lip.raw_reaction == pytest.approx(reaction, rel=1e-6)
    assert lip.clamp_bending_stress == pytest.approx(6 * moment / thickness**2, rel=1e-6)
    stations = np.linspace(0.0, 1.0, 11)
    profile = shells.lip_profile(stations, radius, thickness, length, MODULUS, POISSON, delta, pressure)
    assert profile.deflection == pytest.approx(shape(stations), abs=1e-6 * np.abs(shape(stations)).max())


@pytest.mark.parametrize(("share", "within"), [(0.05, 0.005), (0.1, 0.005), (0.2, 0.025), (0.3, 0.06), (0.4, 0.125)])
@pytest.mark.parametrize("slenderness", [5.0, 20.0])
def test_agrees_with_solid_elements_as_documented(share: float, within: float, slenderness: float) -> None:
    """Thin to thick: the shell error grows with t/L as the page of the model states, and never beyond."""
    length = 5e-3
    radius, thickness = slenderness * length, share * length
    lip = shells.lip_response(radius, thickness, length, MODULUS, POISSON, 0.0)
    stiffness, coefficient = solid_ring(radius, thickness, length, MODULUS, POISSON)
    assert lip.stiffness == pytest.approx(stiffness, rel=within)
    assert lip.pressure_coefficient == pytest.approx(coefficient, rel=within)


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


@pytest.mark.parametrize(("ratio", "share"), [(2.0, 0.6), (3.0, 0.4), (4.0, 0.2), (0.7, 0.5)])
def test_banded_lip_agrees_with_boundary_value_solver(ratio: float, share: float) -> None:
    length, thickness, radius = 6e-3, 0.5e-3, 25e-3
    segments = [(ratio * thickness, share * length), (thickness, (1 - share) * length)]
    for delta, pressure in ((1e-4, 0.0), (0.0, 2e5), (3e-4, 2e5)):
        reaction, moment, _ = boundary_value(segments, radius, delta, pressure)
        lip = shells.banded_lip_response(
            radius, thickness, length, MODULUS, POISSON, share, ratio * thickness, delta, pressure
        )
        assert lip.raw_reaction == pytest.approx(reaction, rel=1e-6)
        assert lip.clamp_bending_stress == pytest.approx(6 * moment / (ratio * thickness) ** 2, rel=1e-6)


@settings(max_examples=60, deadline=None)
@given(radii, thicknesses, lengths, st.floats(0.0, 0.9), interferences, pressures)
def test_band_as_thick_as_the_lip_changes_nothing(
    radius: float, thickness: float, length: float, share: float, delta: float, pressure: float
) -> None:
    plain = shells.lip_response(radius, thickness, length, MODULUS, POISSON, delta, pressure)
    banded = shells.banded_lip_response(radius, thickness, length, MODULUS, POISSON, share, thickness, delta, pressure)
    if plain.length_parameter > 20.0:
        assert math.isnan(banded.stiffness)
        return
    # a chain of matrices loses digits as exp(λL); 2e-15 of it was the worst of 200,000 lips
    loss = 5e-15 * math.exp(plain.length_parameter)
    assert banded.stiffness == pytest.approx(plain.stiffness, rel=loss)
    assert banded.pressure_coefficient == pytest.approx(plain.pressure_coefficient, rel=loss)
    station = shells.lip_profile(share, radius, thickness, length, MODULUS, POISSON, delta, pressure)
    largest = shells.lip_peak_stress(radius, thickness, length, MODULUS, POISSON, delta, pressure).bending_stress
    assert banded.clamp_bending_stress == pytest.approx(plain.clamp_bending_stress, abs=10 * loss * largest + 1e-3)
    assert banded.step_bending_stress == pytest.approx(station.bending_stress, abs=10 * loss * largest + 1e-3)


def test_very_thick_band_is_a_clamp() -> None:
    lip = (25e-3, 0.5e-3, 6e-3, MODULUS, POISSON)
    banded = shells.banded_lip_response(*lip, 0.4, 20 * 0.5e-3, 3e-4, 2e5)
    rigid = shells.lip_response(25e-3, 0.5e-3, shells.banded_free_length(6e-3, 0.4), MODULUS, POISSON, 3e-4, 2e5)
    assert banded.stiffness == pytest.approx(rigid.stiffness, rel=1e-3)
    assert banded.pressure_coefficient == pytest.approx(rigid.pressure_coefficient, rel=1e-3)
    assert banded.step_bending_stress == pytest.approx(rigid.clamp_bending_stress, rel=2e-3)


@pytest.mark.parametrize(
    ("ratio", "share", "excess"), [(2.0, 0.2, 0.009), (2.0, 0.4, 0.111), (2.0, 0.6, 0.800), (4.0, 0.4, 0.019)]
)
def test_rigid_band_overstates_stiffness_as_documented(ratio: float, share: float, excess: float) -> None:
    lip = (25e-3, 0.5e-3, 6e-3, MODULUS, POISSON)
    banded = shells.banded_lip_response(*lip, share, ratio * 0.5e-3, 0.0)
    rigid = shells.lip_response(25e-3, 0.5e-3, shells.banded_free_length(6e-3, share), MODULUS, POISSON, 0.0)
    assert rigid.stiffness / banded.stiffness - 1 == pytest.approx(excess, abs=0.0006)


def test_band_floats_and_arrays_agree_and_nan_outside() -> None:
    share = np.array([0.0, 0.3, 0.6, 1.0])
    batch = shells.banded_lip_response(25e-3, 0.5e-3, np.array(6e-3), MODULUS, POISSON, share, 1e-3, 3e-4, 2e5)
    for row in range(3):
        single = shells.banded_lip_response(25e-3, 0.5e-3, 6e-3, MODULUS, POISSON, float(share[row]), 1e-3, 3e-4, 2e5)
        assert [float(np.broadcast_to(values, 4)[row]) for values in batch] == pytest.approx(list(single), rel=1e-10)
    assert np.isnan(batch.stiffness[3])
    assert all(math.isnan(v) for v in shells.banded_lip_response(0.0, 1e-3, 1e-2, 1e8, 0.4, 0.2, 1e-3, 1e-4))
    lost = shells.banded_lip_response(25e-3, 0.5e-3, 6e-3, MODULUS, POISSON, 0.3, 1e-3, -1e-3)
    assert lost.raw_reaction < 0 == lost.reaction


def test_long_shell_limit() -> None:
    lip = shells.lip_response(25e-3, 0.5e-3, 1.0, MODULUS, POISSON, 1e-4, 1e5)
    decay = shells.decay_parameter(POISSON, 25e-3, 0.5e-3)
    rigidity = shells.flexural_rigidity(MODULUS, POISSON, 0.5e-3)
    assert lip.stiffness == pytest.approx(2 * rigidity * decay**3, rel=1e-12)
    assert lip.pressure_coefficient == pytest.approx(1 / (2 * decay), rel=1e-12)
    # clamp of a long cylinder under pressure: M = p/(2 λ²)
    assert lip.clamp_bending_stress == pytest.approx(-6 * 1e5 / (2 * decay**2) / 0.5e-3**2, rel=1e-12)


@pytest.mark.parametrize("radius", [math.inf, 1e6])
def test_flat_strip_limit(radius: float) -> None:
    lip = shells.lip_response(radius, 0.5e-3, 5e-3, MODULUS, POISSON, 2e-4, 1e5)
    rigidity = shells.flexural_rigidity(MODULUS, POISSON, 0.5e-3)
    assert lip.stiffness == pytest.approx(3 * rigidity / 5e-3**3, rel=1e-9)
    assert lip.pressure_coefficient == pytest.approx(3 / 8 * 5e-3, rel=1e-9)
    moment = 3 * rigidity * 2e-4 / 5e-3**2 - 1e5 * 5e-3**2 / 8
    assert lip.clamp_bending_stress == pytest.approx(6 * moment / 0.5e-3**2, rel=1e-9)
    mass = shells.lip_effective_mass(radius, 0.5e-3, 5e-3, POISSON, 2200.0)
    assert mass == pytest.approx(33 / 140 * 2200 * 0.5e-3 * 5e-3, rel=1e-9)


@pytest.mark.parametrize("length", [1e-3, 5e-3, 40e-3])
def test_short_beam_functions_of_the_handbook_form(length: float) -> None:
    """k = 2 D λ³ (2 + C11)/C13 with C11 = sinh² - sin², C13 = cosh sinh - cos sin (Hetényi; Roark, from memory)."""
    x = shells.decay_parameter(POISSON, 25e-3, 0.5e-3) * length
    c11 = math.sinh(x) ** 2 - math.sin(x) ** 2
    c13 = math.cosh(x) * math.sinh(x) - math.cos(x) * math.sin(x)
    expected = 2 * shells.flexural_rigidity(MODULUS, POISSON, 0.5e-3) * (x / length) ** 3 * (2 + c11) / c13
    lip = shells.lip_response(25e-3, 0.5e-3, length, MODULUS, POISSON, 0.0)
    assert lip.stiffness == pytest.approx(expected, rel=1e-11)


def test_series_and_exponential_forms_meet() -> None:
    decay = shells.decay_parameter(POISSON, 25e-3, 0.5e-3)
    below, above = (
        shells.lip_response(25e-3, 0.5e-3, x / decay, MODULUS, POISSON, 1e-4, 1e5) for x in (1 - 1e-12, 1 + 1e-12)
    )
    assert below == pytest.approx(above, rel=1e-10)
    for station in (0.1, 0.5, 0.9):
        low, high = (
            shells.lip_profile(station, 25e-3, 0.5e-3, x / decay, MODULUS, POISSON, 1e-4, 1e5)
            for x in (1 - 1e-12, 1 + 1e-12)
        )
        assert low == pytest.approx(high, rel=1e-9)


@settings(max_examples=60, deadline=None)
@given(radii, thicknesses, lengths, interferences, pressures)
def test_profile_meets_its_ends_and_the_equation(
    radius: float, thickness: float, length: float, delta: float, pressure: float
) -> None:
    lip = (radius, thickness, length, MODULUS, POISSON, delta, pressure)
    response = shells.lip_response(*lip)
    stations = np.linspace(0.0, 1.0, 4001)
    profile = shells.lip_profile(stations, *lip)
    size = np.abs(profile.deflection).max() + 1e-12
    assert profile.deflection[0] == pytest.approx(0.0, abs=1e-9 * size)
    assert profile.deflection[-1] == pytest.approx(response.edge_deflection, abs=1e-9 * size)
    bend = np.abs(profile.bending_stress).max() + 1e-6
    assert profile.bending_stress[0] == pytest.approx(response.clamp_bending_stress, abs=1e-8 * bend)
    assert profile.bending_stress[-1] == pytest.approx(0.0, abs=1e-7 * bend)
    # radial balance of the whole lip: edge reaction + clamp shear = pressure + hoop resultant
    step = length / 4000
    moment = profile.bending_stress * thickness**2 / 6
    clamp_shear = (-11 * moment[0] + 18 * moment[1] - 9 * moment[2] + 2 * moment[3]) / (6 * step)
    hoop = np.trapezoid(profile.hoop_stress * thickness / radius, dx=step)
    largest = max(abs(part) for part in (response.reaction, clamp_shear, pressure * length, hoop)) + 1e-9
    assert response.reaction + clamp_shear == pytest.approx(pressure * length + hoop, abs=2e-4 * largest)


@settings(max_examples=80, deadline=None)
@given(radii, thicknesses, lengths, interferences, pressures)
def test_invariants(radius: float, thickness: float, length: float, delta: float, pressure: float) -> None:
    lip = shells.lip_response(radius, thickness, length, MODULUS, POISSON, delta, pressure)
    assert all(math.isfinite(value) for value in lip)
    assert lip.reaction == max(lip.raw_reaction, 0.0)
    rigidity = shells.flexural_rigidity(MODULUS, POISSON, thickness)
    decay = shells.decay_parameter(POISSON, radius, thickness)
    # never softer than the flat strip; a finite shell is also stiffer than 0.95 of the long one
    assert lip.stiffness >= 3 * rigidity / length**3 * (1 - 1e-12)
    assert lip.stiffness >= 0.95 * 2 * rigidity * decay**3
    assert 0.0 < lip.pressure_coefficient <= 0.375 * length * (1 + 1e-12)
    # linearity and superposition
    alone = shells.lip_response(radius, thickness, length, MODULUS, POISSON, delta).raw_reaction
    pressed = shells.lip_response(radius, thickness, length, MODULUS, POISSON, 0.0, pressure).raw_reaction
    assert lip.raw_reaction == pytest.approx(alone + pressed, rel=1e-9, abs=1e-9)
    # similar lips: load per length scales with size, stresses stay
    twin = shells.lip_response(2 * radius, 2 * thickness, 2 * length, MODULUS, POISSON, 2 * delta, pressure)
    assert twin.raw_reaction == pytest.approx(2 * lip.raw_reaction, rel=1e-9, abs=1e-9)
    assert twin.clamp_bending_stress == pytest.approx(lip.clamp_bending_stress, rel=1e-9, abs=1e-3)
    mass = shells.lip_effective_mass(radius, thickness, length, POISSON, 2200.0)
    assert 0.0 < mass <= 33 / 140 * 2200 * thickness * length * (1 + 1e-9) or decay * length > 1.0
    assert mass < 0.25 * 2200 * thickness * length


@settings(max_examples=40, deadline=None)
@given(radii, thicknesses, lengths, st.floats(1.01, 2.0))
def test_stiffness_is_monotone(radius: float, thickness: float, length: float, factor: float) -> None:
    def stiffness(r: float, t: float, modulus: float) -> float:
        return float(shells.lip_response(r, t, length, modulus, POISSON, 0.0).stiffness)

    base = stiffness(radius, thickness, MODULUS)
    assert stiffness(radius, thickness * factor, MODULUS) > base
    assert stiffness(radius * factor, thickness, MODULUS) < base * (1 + 1e-9)
    assert stiffness(radius, thickness, MODULUS * factor) == pytest.approx(base * factor)


def test_loss_of_contact_frees_the_edge() -> None:
    lip = shells.lip_response(**LIP, interference=-0.2e-3, pressure=0.1e6)
    assert lip.raw_reaction > 0  # pressure closes a clearance of 0.2 mm
    lip = shells.lip_response(**LIP, interference=-0.5e-3, pressure=0.1e6)
    assert lip.raw_reaction < 0 == lip.reaction
    assert -0.5e-3 < lip.edge_deflection < 0
    # a free edge under pressure alone: same state whatever the clearance
    wider = shells.lip_response(**LIP, interference=-1e-3, pressure=0.1e6)
    assert wider.clamp_bending_stress == lip.clamp_bending_stress
    # reverse pressure lifts the lip off
    lifted = shells.lip_response(**LIP, interference=0.1e-3, pressure=-0.5e6)
    assert lifted.reaction == 0.0
    assert lifted.edge_deflection > 0.1e-3


def test_peak_stress_bounds_the_profile() -> None:
    rng = np.random.default_rng(5)
    n = 300
    lip = (rng.uniform(8e-3, 0.1, n), rng.uniform(0.3e-3, 1.5e-3, n), rng.uniform(2e-3, 9e-3, n))
    load = (rng.uniform(0.0, 1e-3, n), rng.uniform(0.0, 3e6, n))
    peak = shells.lip_peak_stress(*lip, MODULUS, POISSON, *load)
    x = shells.decay_parameter(POISSON, lip[0], lip[1]) * lip[2]
    within = np.where(x <= 4, 0.003, 0.012)
    assert x.max() < 8
    _, axial, membrane = shells.lip_profile(
        np.linspace(0, 1, 1025), *(v[:, None] for v in lip), MODULUS, POISSON, *(v[:, None] for v in load)
    )
    faces = [membrane + side * POISSON * axial for side in (1, -1)]
    hoop = np.max(np.abs(faces), axis=(0, 2))
    mises = np.max(
        [np.sqrt(axial**2 - side * axial * face + face**2) for side, face in zip((1, -1), faces, strict=True)],
        axis=(0, 2),
    )
    for found, exact in (
        (peak.bending_stress, np.abs(axial).max(axis=1)),
        (peak.hoop_stress, hoop),
        (peak.equivalent_stress, mises),
    ):
        assert np.all(found <= exact * (1 + 1e-9))
        assert np.all(found >= exact * (1 - within))


@pytest.mark.parametrize("poisson", [-0.3, 0.0, 0.46])
def test_peak_stress_takes_either_sign_of_poisson_ratio(poisson: float) -> None:
    lip = (25e-3, 0.5e-3, 6e-3, MODULUS, poisson, 0.1e-3, 1e6)
    _, axial, membrane = shells.lip_profile(np.linspace(0, 1, 33), *lip)
    faces = [(side * axial, membrane + side * poisson * axial) for side in (1, -1)]
    peak = shells.lip_peak_stress(*lip)
    assert peak.hoop_stress == pytest.approx(max(np.abs(hoop).max() for _, hoop in faces))
    assert peak.equivalent_stress == pytest.approx(max(np.sqrt(a * a - a * b + b * b).max() for a, b in faces))


def test_effective_mass_is_the_integral_of_the_shape() -> None:
    stations = np.linspace(0, 1, 4001)
    for length in (1e-3, 3e-3, 5e-3, 20e-3):
        shape = shells.lip_profile(stations, 25e-3, 0.5e-3, length, MODULUS, POISSON, 1.0).deflection
        expected = 2200 * 0.5e-3 * length * np.trapezoid(shape**2, stations)
        assert shells.lip_effective_mass(25e-3, 0.5e-3, length, POISSON, 2200.0) == pytest.approx(expected, rel=1e-5)


def test_floats_and_arrays_agree() -> None:
    rng = np.random.default_rng(7)
    n = 60
    columns = [
        rng.uniform(5e-3, 0.2, n),
        rng.uniform(0.2e-3, 1.5e-3, n),
        rng.uniform(1e-3, 30e-3, n),
        rng.uniform(1e8, 1e9, n),
        rng.uniform(0.3, 0.49, n),
        rng.uniform(-0.3e-3, 1e-3, n),
        rng.uniform(-1e6, 3e6, n),
    ]
    arrays = [shells.lip_response(*columns), shells.lip_peak_stress(*columns), shells.lip_profile(0.3, *columns)]
    for row in range(n):
        case = [float(column[row]) for column in columns]
        floats = [shells.lip_response(*case), shells.lip_peak_stress(*case), shells.lip_profile(0.3, *case)]
        for batch, single in zip(arrays, floats, strict=True):
            assert all(type(value) is float for value in single)
            assert [float(values[row]) for values in batch] == pytest.approx(list(single), rel=1e-12)
    masses = shells.lip_effective_mass(columns[0], columns[1], columns[2], columns[4], 2200.0)
    assert masses[3] == pytest.approx(shells.lip_effective_mass(*(float(columns[i][3]) for i in (0, 1, 2, 4)), 2200.0))


@pytest.mark.parametrize(
    "wrong",
    [{"radius": 0.0}, {"thickness": -1e-3}, {"free_length": 0.0}, {"poisson_ratio": 1.0}, {"modulus": math.nan}],
)
def test_outside_validity_is_nan_and_never_raises(wrong: dict[str, float]) -> None:
    assert all(math.isnan(value) for value in shells.lip_response(**{**LIP, **wrong}, interference=1e-4))
    assert all(math.isnan(value) for value in shells.lip_peak_stress(**{**LIP, **wrong}, interference=1e-4))
    batch = shells.lip_response(**{**LIP, **wrong}, interference=np.array([1e-4, 2e-4]))
    assert all(np.isnan(np.broadcast_to(values, 2)).all() for values in batch)


def test_station_and_band_outside_range_are_nan() -> None:
    assert math.isnan(shells.lip_profile(1.1, **LIP, interference=1e-4).deflection)
    assert math.isnan(shells.banded_free_length(5e-3, 1.0))
    assert math.isnan(shells.banded_free_length(5e-3, -0.1))
    assert shells.banded_free_length(5e-3, 0.4) == pytest.approx(3e-3)
    assert math.isnan(shells.lip_effective_mass(25e-3, 0.5e-3, 5e-3, POISSON, 0.0))


def test_float_path_is_fast() -> None:
    """Bound of 200 µs: an order above what it takes (about 10 µs), so that a busy machine does not fail it."""
    shortest = math.inf
    for _ in range(5):
        start = time.perf_counter()
        for _ in range(200):
            shells.lip_response(**LIP, interference=1e-4, pressure=1e5)
        shortest = min(shortest, (time.perf_counter() - start) / 200)
    assert shortest < 200e-6


@given(radii, thicknesses, lengths, interferences, pressures)
def test_hoop_stress_at_the_edge_is_that_of_a_ring_moved_by_its_deflection(
    radius: float, thickness: float, length: float, interference: float, pressure: float
) -> None:
    lip = shells.lip_response(radius, thickness, length, MODULUS, POISSON, interference, pressure)
    assert lip.edge_hoop_stress == pytest.approx(MODULUS * lip.edge_deflection / radius, rel=1e-12)
    end = shells.lip_profile(1.0, radius, thickness, length, MODULUS, POISSON, interference, pressure)
    scale = MODULUS * (abs(lip.edge_deflection) + abs(pressure) * radius**2 / (MODULUS * thickness)) / radius
    assert end.hoop_stress == pytest.approx(lip.edge_hoop_stress, abs=1e-9 * scale + 1e-6)


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
    share = shells.held_root_share(radius, thickness, length, POISSON)
    assert share * root + (1 - share) * free == pytest.approx(solution.y[0, -1], abs=1e-6 * abs(free))


@pytest.mark.parametrize(("share", "within"), [(0.05, 0.003), (0.1, 0.01), (0.2, 0.015), (0.3, 0.03), (0.4, 0.07)])
@pytest.mark.parametrize("slenderness", [2.5, 5.0, 10.0, 20.0])
def test_held_root_agrees_with_solid_elements_as_documented(share: float, within: float, slenderness: float) -> None:
    """Differences are of the strain between root and free ring; the page of the model lists them."""
    length = 5e-3
    radius, thickness = slenderness * length, share * length
    found = shells.held_root_share(radius, thickness, length, POISSON)
    assert found == pytest.approx(heated_ring(radius, thickness, length, POISSON), abs=within)


def test_heated_elements_have_converged() -> None:
    coarse, fine = (heated_ring(25e-3, 1e-3, 5e-3, POISSON, across=across) for across in (4, 8))
    assert coarse == pytest.approx(fine, abs=1e-3)


def length_of(x: float) -> float:
    """Free length of a lip of the given λL."""
    return x / float(shells.decay_parameter(POISSON, 25e-3, 0.5e-3))


def held(x: float) -> float:
    return float(shells.held_root_share(25e-3, 0.5e-3, length_of(x), POISSON))


def test_a_short_lip_follows_its_root_and_a_long_one_does_not_feel_it() -> None:
    # 1 - x⁴/2 + ..., from the series of the closed form
    for x in (1e-3, 1e-2, 0.1):
        assert 1.0 - held(x) == pytest.approx(x**4 / 2, rel=1e-2, abs=1e-15)
    assert shells.held_root_share(math.inf, 0.5e-3, 5e-3, POISSON) == 1.0
    # of a long one 4 exp(-x) cos x is left
    for x in (8.0, 12.0, 20.0):
        assert held(x) == pytest.approx(4 * math.exp(-x) * math.cos(x), rel=1e-5)


def test_very_long_lips_overflow_nowhere() -> None:
    lengths = np.array([1.0, 10.0, 1e3, 1e6])
    with np.errstate(over="raise", invalid="raise"):
        shares = shells.held_root_share(25e-3, 0.5e-3, lengths, POISSON)
        assert np.abs(shares).max() < 1e-100
        for single, share in zip(lengths.tolist(), shares.tolist(), strict=True):
            assert shells.held_root_share(25e-3, 0.5e-3, single, POISSON) == share


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
    share = shells.held_root_share(radius, thickness, length, POISSON)
    scaled = shells.held_root_share(factor**2 * radius, thickness, factor * length, POISSON)
    assert scaled == pytest.approx(share, rel=1e-9, abs=1e-12)
