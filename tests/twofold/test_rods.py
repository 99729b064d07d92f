"""Canted coil spring: limits, scaling, both shapes, and routes that share no code with the model."""

from __future__ import annotations

import itertools
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from glandwise.mechanics import rods as formulas
from glandwise.mechanics.solvers import coil as coil_solver
from glandwise.mechanics.solvers import coil_table
from glandwise.twofold import rods
from hypothesis import given, settings
from hypothesis import strategies as st

E = 200e9
G = E / 2.6
COIL_A = {
    "pitch": 1.0e-3,
    "half_width": 2.0e-3,
    "half_height": 1.8e-3,
    "cant_angle": math.radians(35.0),
    "wire_diameter": 0.4e-3,
    "elastic_modulus": E,
    "shear_modulus": G,
}

coils = st.fixed_dictionaries(
    {
        "pitch": st.floats(0.3e-3, 1.2e-3),
        "half_width": st.floats(0.9e-3, 1.6e-3),
        "half_height": st.just(1.0e-3),
        "cant_angle": st.floats(math.radians(20.0), math.radians(55.0)),
        "wire_diameter": st.floats(0.05e-3, 0.25e-3),
        "elastic_modulus": st.just(E),
        "shear_modulus": st.floats(E / 2.7, E / 2.5),
    }
)


@given(coils, st.floats(0.2, 5.0))
def test_linear_rate_scales_with_wire_size_and_modulus(coil: dict[str, float], factor: float) -> None:
    rate = rods.canted_coil_linear_rate(**coil)
    assert rate > 0.0
    thicker = coil | {"wire_diameter": factor * coil["wire_diameter"]}
    assert rods.canted_coil_linear_rate(**thicker) == pytest.approx(rate * factor**4, rel=1e-12)
    larger = coil | {name: factor * coil[name] for name in ("pitch", "half_width", "half_height")}
    assert rods.canted_coil_linear_rate(**larger) == pytest.approx(rate / factor**3, rel=1e-9)
    stiffer = coil | {name: factor * coil[name] for name in ("elastic_modulus", "shear_modulus")}
    assert rods.canted_coil_linear_rate(**stiffer) == pytest.approx(rate * factor, rel=1e-12)


@given(coils)
def test_added_flexibility_softens(coil: dict[str, float]) -> None:
    bare = rods.canted_coil_linear_rate(**coil)
    stretch = rods.canted_coil_linear_rate(**coil, axial_flexibility=1.0)
    both = rods.canted_coil_linear_rate(**coil, axial_flexibility=1.0, shear_flexibility=10 / 9)
    assert bare > stretch > both > 0.0


def test_linear_rate_takes_arrays() -> None:
    cant = np.radians(np.linspace(0.0, 60.0, 1500)).reshape(3, 500)
    rates = rods.canted_coil_linear_rate(**COIL_A | {"cant_angle": cant})
    assert rates.shape == cant.shape
    for index in ((0, 0), (1, 499), (2, 100)):
        alone = rods.canted_coil_linear_rate(**COIL_A | {"cant_angle": float(cant[index])})
        assert isinstance(alone, float)
        assert rates[index] == pytest.approx(alone, rel=1e-13)


@pytest.mark.parametrize(
    "change",
    [{"pitch": 0.0}, {"half_width": -1.0}, {"half_height": 0.0}, {"cant_angle": 1.6}, {"wire_diameter": -1e-4}],
)
def test_no_geometry_gives_nan(change: dict[str, float]) -> None:
    assert math.isnan(rods.canted_coil_linear_rate(**COIL_A | change))
    name, value = next(iter(change.items()))
    mixed = rods.canted_coil_linear_rate(**COIL_A | {name: np.array([value, COIL_A[name]])})
    assert np.isnan(mixed[0])
    assert np.isfinite(mixed[1])


def _frame_rate(coil: dict[str, float], elements: int, stretch: float = 1.0) -> float:
    """Half coil of straight Euler-Bernoulli elements (12 degrees of freedom); ``stretch`` 1 is the real EA."""
    p, a, b, beta, d, e, g = (coil[name] for name in COIL_A)
    theta = np.linspace(-math.pi / 2, math.pi / 2, elements + 1)
    nodes = np.stack(
        (p * theta / (2 * math.pi) + b * np.cos(theta) * math.tan(beta), a * np.sin(theta), b * np.cos(theta)), axis=1
    )
    area, inertia = math.pi * d**2 / 4, math.pi * d**4 / 64
    size = 6 * (elements + 1)
    stiffness = np.zeros((size, size))
    for i in range(elements):
        chord = nodes[i + 1] - nodes[i]
        length = float(np.linalg.norm(chord))
        t = chord / length
        v = np.cross(t, [0.0, 0.0, 1.0] if abs(t[2]) < 0.9 else [0.0, 1.0, 0.0])
        v /= np.linalg.norm(v)
        frame = np.stack((t, v, np.cross(t, v)))
        local = np.zeros((12, 12))
        for dofs, value in (((0, 6), e * area / (stretch * length)), ((3, 9), 2 * g * inertia / length)):
            local[np.ix_(dofs, dofs)] += value * np.array([[1, -1], [-1, 1]])
        k = e * inertia / length**3
        block = k * np.array(
            [
                [12, 6 * length, -12, 6 * length],
                [6 * length, 4 * length**2, -6 * length, 2 * length**2],
                [-12, -6 * length, 12, -6 * length],
                [6 * length, 2 * length**2, -6 * length, 4 * length**2],
            ]
        )
        sign = np.diag([1, -1, 1, -1])
        local[np.ix_((1, 5, 7, 11), (1, 5, 7, 11))] += block
        local[np.ix_((2, 4, 8, 10), (2, 4, 8, 10))] += sign @ block @ sign
        turn = np.kron(np.eye(4), frame)
        where = slice(6 * i, 6 * i + 12)
        stiffness[where, where] += turn.T @ local @ turn
    last = size - 6
    held = [0, 2, 3, 5, last, last + 1, last + 2, last + 3, last + 5]  # two-fold axes, and y once
    free = np.setdiff1d(np.arange(size), held)
    load = np.zeros(size)
    crest = 6 * (elements // 2) + 2
    load[crest] = -1.0
    moved = np.zeros(size)
    moved[free] = np.linalg.solve(stiffness[np.ix_(free, free)], load[free])
    return float(-0.5 / moved[crest])


@settings(max_examples=6, deadline=None)
@given(coils)
def test_linear_rate_agrees_with_a_frame_of_straight_elements(coil: dict[str, float]) -> None:
    coarse, fine = _frame_rate(coil, 40), _frame_rate(coil, 80)
    frame = fine + (fine - coarse) / 3.0  # straight elements converge with the square of their length
    assert rods.canted_coil_linear_rate(**coil, axial_flexibility=1.0) == pytest.approx(frame, rel=3e-4)


@pytest.mark.parametrize(("elements", "printed"), [(40, 1.164717), (80, 1.163558), (160, 1.163267)])
def test_frame_reproduces_the_computed_reference_rows(elements: int, printed: float) -> None:
    # 1e-3 of the real stretch: less would lose digits to the conditioning of the frame.
    assert _frame_rate(COIL_A, elements, stretch=1e-3) / 1e3 == pytest.approx(printed, abs=5e-6)


# --- Finite deflection ---------------------------------------------------------------------------------------------

COIL_C = COIL_A | {
    "pitch": 1.5e-3,
    "half_width": 2.25e-3,
    "half_height": 2.25e-3,
    "cant_angle": math.radians(45.0),
    "wire_diameter": 0.5e-3,
}
COIL_D = COIL_A | {
    "pitch": 0.6e-3,
    "half_width": 1.2e-3,
    "half_height": 1.0e-3,
    "cant_angle": math.radians(30.0),
    "wire_diameter": 0.2e-3,
}
LEVELS = (0.05, 0.10, 0.15, 0.20, 0.25, 0.30, 0.36, 0.40)


def _rod(coil: dict[str, float], levels: tuple[float, ...], moving: bool = True, steps: int = 32) -> coil_solver.Path:
    """Exact path of one coil; load in N, moments in N·mm, at the given shares of the free height."""
    p, a, b, beta, d, e, g = (coil[name] for name in COIL_A)
    one = [np.array([value]) for value in (a / b, p / b, beta, e / (2 * g) - 1)]
    path = coil_solver.compress(coil_solver.Coils(*one), np.array(levels) * (2 * b + d) / b, steps, moving)
    rigidity = e * math.pi * d**4 / 64
    return path._replace(load=path.load[:, 0] * rigidity / b**2, moment=1e3 * path.moment[:, 0] * rigidity / b)


@pytest.mark.parametrize(
    ("coil", "levels", "printed"),
    [
        (COIL_A, (0.01, *LEVELS), (0.04460, 0.19101, 0.32267, 0.41696, 0.48596, 0.53694, 0.57458, 0.60658, 0.62171)),
        (COIL_C, LEVELS, (0.20836, 0.37151, 0.50065, 0.60351, 0.68564, 0.75113, 0.81212, 0.84404)),
        (COIL_D, LEVELS, (0.05842, 0.09505, 0.11962, 0.13671, 0.14877, 0.15728, 0.16412, 0.16713)),
    ],
    ids=["A", "C", "D"],
)
def test_rod_reproduces_the_boundary_value_rows(
    coil: dict[str, float], levels: tuple[float, ...], printed: tuple[float, ...]
) -> None:
    np.testing.assert_allclose(_rod(coil, levels).load, printed, rtol=0.0, atol=0.51e-5)


def test_rod_reproduces_the_rows_with_the_load_held_at_the_crest() -> None:
    printed = (0.04460, 0.19094, 0.32250, 0.41673, 0.48571, 0.53672, 0.57442, 0.60650, 0.62169)
    np.testing.assert_allclose(_rod(COIL_A, (0.01, *LEVELS), moving=False).load, printed, rtol=0.0, atol=0.51e-5)


def test_rod_reproduces_the_moment_rows() -> None:
    printed = (0.2682, 1.2606, 2.3530, 3.3164, 4.1758, 4.9484, 5.6465, 6.3988, 6.8542)
    np.testing.assert_allclose(_rod(COIL_A, (0.01, *LEVELS)).moment, printed, rtol=0.0, atol=0.51e-4)


def test_rod_has_converged_in_its_steps() -> None:
    coarse, fine = (_rod(COIL_A, (0.05, 0.20, 0.40), steps=steps).load for steps in (24, 96))
    np.testing.assert_allclose(coarse, fine, rtol=1e-6)


def _turn(q: Any, v: Any) -> Any:
    """Vectors ``v`` (3, n) turned by unit quaternions ``q`` (4, n); holds for complex steps too."""
    c = np.stack((q[2] * v[2] - q[3] * v[1], q[3] * v[0] - q[1] * v[2], q[1] * v[1] - q[2] * v[0]))
    d = np.stack((q[2] * c[2] - q[3] * c[1], q[3] * c[0] - q[1] * c[2], q[1] * c[1] - q[2] * c[0]))
    return v + 2.0 * (q[0] * c + d)


def _product(p: Any, q: Any) -> Any:
    return np.stack(
        (
            p[0] * q[0] - p[1] * q[1] - p[2] * q[2] - p[3] * q[3],
            p[0] * q[1] + p[1] * q[0] + p[2] * q[3] - p[3] * q[2],
            p[0] * q[2] + p[2] * q[0] + p[3] * q[1] - p[1] * q[3],
            p[0] * q[3] + p[3] * q[0] + p[1] * q[2] - p[2] * q[1],
        )
    )


def _turned_further(q: Any, phi: Any) -> Any:
    """``q`` followed by the small spatial rotation ``phi`` (equal to the exponential to second order)."""
    scale = 1.0 / np.sqrt(1.0 + 0.25 * (phi * phi).sum(axis=0))
    return _product(np.concatenate((np.ones_like(phi[:1]), 0.5 * phi)) * scale, q)


def _discrete_rod(coil: dict[str, float], drops: list[float], segments: int) -> list[float]:
    """Load per coil of a chain of rigid links with elastic joints, least energy at each crest drop (load at crest).

    Unknowns are the rotations of the links and, about y only, of the two ends; the constraints are the ends on the
    coil axis and the height of the crest, whose multiplier is the load. Newton on the Lagrangian; the joint energies
    are differentiated by complex steps.
    """
    p, a, b, beta, d, e, g = (coil[name] for name in COIL_A)
    bend, twist = e * math.pi * d**4 / 64, g * math.pi * d**4 / 32
    theta = np.linspace(-math.pi / 2, math.pi / 2, segments + 1)
    nodes = np.stack(
        (p * theta / (2 * math.pi) + b * np.cos(theta) * math.tan(beta), a * np.sin(theta), b * np.cos(theta))
    )
    chords = np.diff(nodes, axis=1)
    lengths = np.linalg.norm(chords, axis=0)
    spans = np.concatenate(([lengths[0] / 2], (lengths[1:] + lengths[:-1]) / 2, [lengths[-1] / 2]))
    tau = np.stack((p / (2 * math.pi) - b * np.sin(theta) * math.tan(beta), a * np.cos(theta), -b * np.sin(theta)))
    tau /= np.linalg.norm(tau, axis=0)
    count = segments + 2  # end, links, end

    def energies(left: Any, right: Any) -> Any:
        w = _product(right, left * np.array([1.0, -1.0, -1.0, -1.0])[:, None])[1:]
        s2 = (w * w).sum(axis=0)
        w = 2.0 * w * (1.0 + s2 / 6.0 + 3.0 * s2**2 / 40.0 + 15.0 * s2**3 / 336.0)  # arcsin(s)/s
        t = _turn(left, tau) + _turn(right, tau)
        along2 = (w * t).sum(axis=0) ** 2 / (t * t).sum(axis=0)
        return 0.5 * (bend * ((w * w).sum(axis=0) - along2) + twist * along2) / spans

    def gradient(left: Any, right: Any) -> Any:
        columns = []
        for j in range(6):
            phi = np.zeros((6, spans.size), dtype=complex)
            phi[j] = 1e-30j
            columns.append(energies(_turned_further(left, phi[:3]), _turned_further(right, phi[3:])).imag / 1e-30)
        return np.stack(columns)

    sums = np.zeros((3, segments))
    sums[:2] = 1.0
    sums[2, : segments // 2] = 1.0
    axes = np.array([[1.0, 0, 0], [0, 0, 1.0], [0, 0, 1.0]])
    free = np.concatenate(([1], np.arange(3, 3 * count - 3), [3 * count - 2]))
    q = np.zeros((4, count))
    q[0] = 1.0
    multipliers = np.zeros(3)
    loads = []
    for drop in drops:
        target = np.array([p / 2, 0.0, b - drop])
        for _ in range(40):
            left, right = q[:, :-1], q[:, 1:]
            slope = gradient(left, right)
            step = 1e-6
            blocks = []
            for j in range(6):
                phi = np.zeros((6, spans.size))
                phi[j] = step
                up = gradient(_turned_further(left, phi[:3]), _turned_further(right, phi[3:]))
                down = gradient(_turned_further(left, -phi[:3]), _turned_further(right, -phi[3:]))
                blocks.append((up - down) / (2 * step))
            local = np.stack(blocks)
            total, hessian = np.zeros(3 * count), np.zeros((3 * count, 3 * count))
            for i in range(spans.size):
                where = slice(3 * i, 3 * i + 6)
                total[where] += slope[:, i]
                hessian[where, where] += 0.5 * (local[:, :, i] + local[:, :, i].T)
            turned = _turn(q[:, 1:-1], chords)
            miss = (axes @ turned * sums).sum(axis=1) - target
            rows = np.zeros((3, 3 * count))
            for c in range(3):
                for i in range(segments):
                    if sums[c, i]:
                        t = turned[:, i]
                        at = slice(3 * i + 3, 3 * i + 6)
                        rows[c, at] = np.cross(t, axes[c])
                        curved = 0.5 * (np.outer(axes[c], t) + np.outer(t, axes[c])) - (axes[c] @ t) * np.eye(3)
                        hessian[at, at] += multipliers[c] * curved
            scale = bend / b  # keeps both parts of the matrix of one order
            matrix = np.block(
                [[hessian[np.ix_(free, free)] / scale, rows[:, free].T / b], [rows[:, free] / b, np.zeros((3, 3))]]
            )
            right_side = -np.concatenate((total[free] / scale, miss / b))
            solved = np.linalg.solve(matrix, right_side)
            move = np.zeros(3 * count)
            move[free] = solved[:-3]
            move *= min(1.0, 0.2 / np.abs(move).max())
            q = _turned_further(q, move.reshape(count, 3).T)
            multipliers = solved[-3:] * scale / b
            if np.abs(move).max() < 1e-9:
                break
        else:
            raise AssertionError(f"no equilibrium at drop {drop}")
        loads.append(float(multipliers[2]))
    return loads


@pytest.mark.slow
@pytest.mark.parametrize("coil", [COIL_A, COIL_D], ids=["A", "D"])
def test_rod_agrees_with_a_discrete_rod_of_least_energy(coil: dict[str, float]) -> None:
    levels = (0.10, 0.20, 0.30, 0.40)
    drops = [0.5 * level * (2 * coil["half_height"] + coil["wire_diameter"]) for level in levels]
    coarse, fine = (np.array(_discrete_rod(coil, drops, segments)) for segments in (24, 48))
    np.testing.assert_allclose(fine + (fine - coarse) / 3.0, _rod(coil, levels, moving=False).load, rtol=2e-6)


def _random_coils(count: int, seed: int) -> tuple[np.ndarray, ...]:
    generator = np.random.default_rng(seed)
    low, high = np.array(coil_table.LOW[:4]), np.array(coil_table.HIGH[:4])
    return tuple(generator.uniform(low[:, None], high[:, None], (4, count)))


def test_table_agrees_with_the_solver_off_its_nodes() -> None:
    corners = np.array(list(itertools.product(*zip(coil_table.LOW[:4], coil_table.HIGH[:4], strict=True)))).T
    cases = np.concatenate((np.stack(_random_coils(60, 20261125)), corners), axis=1)
    xi = np.linspace(0.03, 0.54, 18)
    exact = coil_table.solve(*cases, xi, steps=24)
    secant, _, moment, equivalent, gap = rods._reduced(xi[:, None], *cases)
    ours = (secant, moment / xi[:, None], equivalent / xi[:, None], gap / cases[2])
    for mine, true, allowed in zip(ours, exact, (1.5e-4, 1e-3, 1e-3, 6e-3), strict=True):
        assert np.abs(mine / true - 1.0).max() < allowed


@pytest.mark.slow
def test_committed_table_is_what_the_solver_gives(tmp_path: Path) -> None:
    coil_table.build(tmp_path / "canted_coil.npz")
    rebuilt = np.load(tmp_path / "canted_coil.npz")
    committed = np.load(rods._TABLE)
    for name in ("low", "high", "coefficients"):
        np.testing.assert_allclose(rebuilt[name], committed[name], rtol=0.0, atol=2e-6)


def _within(factor: float = 0.54) -> st.SearchStrategy[float]:
    return st.floats(1e-4, factor)


@given(coils, _within())
def test_load_keeps_its_physical_bounds(coil: dict[str, float], xi: float) -> None:
    delta = 2.0 * coil["half_height"] * xi
    state = rods.canted_coil_load(delta, **coil)
    assert all(isinstance(value, float) and math.isfinite(value) for value in state)
    assert 0.0 < state.share_of_linear < 1.0
    assert state.load_per_coil > 0.0
    assert state.flatness < 1.0
    assert math.sqrt(0.75) * state.stress_bound <= state.equivalent_stress <= state.stress_bound * (1.0 + 1e-3)
    further = rods.canted_coil_load(0.99 * delta, **coil)
    assert state.share_of_linear < further.share_of_linear
    assert state.equivalent_stress > further.equivalent_stress


@given(coils, _within(), st.floats(0.5, 2.0))
def test_load_scales(coil: dict[str, float], xi: float, factor: float) -> None:
    delta = 2.0 * coil["half_height"] * xi
    base = rods.canted_coil_load(delta, **coil)
    thicker = rods.canted_coil_load(delta, **coil | {"wire_diameter": factor * coil["wire_diameter"]})
    assert thicker.load_per_coil == pytest.approx(base.load_per_coil * factor**4, rel=1e-9)
    assert thicker.equivalent_stress == pytest.approx(base.equivalent_stress * factor, rel=1e-9)
    lengths = ("pitch", "half_width", "half_height")
    larger = rods.canted_coil_load(factor * delta, **coil | {name: factor * coil[name] for name in lengths})
    assert larger.load_per_coil == pytest.approx(base.load_per_coil / factor**2, rel=1e-6)
    moduli = ("elastic_modulus", "shear_modulus")
    stiffer = rods.canted_coil_load(delta, **coil | {name: factor * coil[name] for name in moduli})
    assert stiffer.load_per_coil == pytest.approx(base.load_per_coil * factor, rel=1e-9)
    assert stiffer.flatness == pytest.approx(base.flatness, abs=1e-9)


@given(coils, st.floats(0.01, 0.53))
def test_tangent_stiffness_is_the_slope_of_the_load(coil: dict[str, float], xi: float) -> None:
    delta, step = 2e-3 * xi, 1e-7
    state = rods.canted_coil_load(delta, **coil)
    up, down = (rods.canted_coil_load(delta + s, **coil).load_per_length for s in (step, -step))
    start = rods.canted_coil_linear_rate(**coil) / coil["pitch"]
    assert state.rate_per_length == pytest.approx((up - down) / (2 * step), abs=1e-5 * start)
    assert state.flatness == pytest.approx(state.rate_per_length * delta / state.load_per_length, abs=1e-9)


@given(coils)
def test_small_deflection_is_the_linear_rate(coil: dict[str, float]) -> None:
    rate = rods.canted_coil_linear_rate(**coil)
    state = rods.canted_coil_load(1e-10, **coil)
    assert state.load_per_coil / 1e-10 == pytest.approx(rate, rel=1e-5)
    assert state.flatness == pytest.approx(1.0, abs=1e-5)
    rest = rods.canted_coil_load(0.0, **coil)
    assert rest.load_per_coil == 0.0
    assert rest.share_of_linear == 1.0


def test_gap_of_the_free_coil_is_that_of_its_centreline() -> None:
    theta = np.linspace(-math.pi, 3 * math.pi, 4001)
    p, a, b, beta, d = (COIL_A[name] for name in list(COIL_A)[:5])
    curve = np.stack(
        (p * theta / (2 * math.pi) + b * np.cos(theta) * math.tan(beta), a * np.sin(theta), b * np.cos(theta)), axis=1
    )
    one, other = curve[theta < math.pi], curve[theta > math.pi]
    between = np.linalg.norm(one[::4, None, :] - other[None, :, :], axis=2)
    apart = np.abs(theta[theta < math.pi][::4, None] + 2 * math.pi - theta[None, theta > math.pi]) < math.pi / 2
    free = between[apart].min()
    assert rods.canted_coil_load(0.0, **COIL_A).turn_clearance == pytest.approx(free - d, abs=3e-3 * free)


def touching(coil: dict[str, float]) -> float:
    """Compression at which turns of a coil touch."""
    p, a, b, beta, d, E_w, G_w = (coil[name] for name in COIL_A)
    return formulas.canted_coil_touching(p, a, b, beta, d, 0.5 * E_w / G_w - 1.0)


def band(share: float, upper: float, coil: dict[str, float]) -> float:
    """Least compression of the flat band of a coil."""
    p, a, b, beta, _, E_w, G_w = (coil[name] for name in COIL_A)
    return formulas.canted_coil_band(share, upper, p, a, b, beta, 0.5 * E_w / G_w - 1.0)


@given(coils, st.floats(0.02, 0.3), st.floats(0.05, 0.54))
def test_working_range_keeps_its_promise(coil: dict[str, float], share: float, xi: float) -> None:
    upper = 2e-3 * xi
    lower = band(share, upper, coil)
    assert 0.0 < lower < upper
    load = rods.canted_coil_load(np.linspace(lower, upper, 200), **coil).load_per_coil
    assert load.max() / load.min() == pytest.approx((1.0 + share) / (1.0 - share), rel=4e-3)
    assert band(1.2 * share, upper, coil) < lower


def test_flatness_figures_of_the_three_coils() -> None:
    for coil, rise in ((COIL_A, 0.25), (COIL_C, 0.35), (COIL_D, 0.20)):
        height = 2 * coil["half_height"] + coil["wire_diameter"]
        low, high = (rods.canted_coil_load(level * height, **coil).load_per_coil for level in (0.20, 0.36))
        assert high / low - 1.0 == pytest.approx(rise, abs=0.005)


@given(coils)
def test_turns_touch_where_their_clearance_ends(coil: dict[str, float]) -> None:
    touch = touching(coil)
    if touch == math.inf:
        assert rods.canted_coil_load(2e-3 * 0.5399, **coil).turn_clearance > 0.0
    elif touch == 0.0:
        assert rods.canted_coil_load(0.0, **coil).turn_clearance <= 0.0
    else:
        clearance = rods.canted_coil_load(touch, **coil).turn_clearance
        assert clearance == pytest.approx(0.0, abs=1e-3 * coil["half_height"])


def test_finite_deflection_takes_arrays() -> None:
    xi = np.linspace(0.0, 0.6, 1300)
    cant = np.radians(np.linspace(10.0, 65.0, 1300))
    coil = COIL_A | {"cant_angle": cant}
    many = rods.canted_coil_load(2 * COIL_A["half_height"] * xi, **coil, radius_ratio=1.1)
    for i in range(0, 1300, 61):
        alone = COIL_A | {"cant_angle": float(cant[i])}
        one = rods.canted_coil_load(2 * COIL_A["half_height"] * float(xi[i]), **alone, radius_ratio=1.1)
        np.testing.assert_allclose([field[i] for field in many], one, rtol=1e-9, atol=1e-12)
    assert many.load_per_coil.shape == (1300,)


@pytest.mark.parametrize(
    "change",
    [
        {"cant_angle": math.radians(14.0)},
        {"cant_angle": math.radians(61.0)},
        {"half_width": 1.3e-3},
        {"half_width": 3.3e-3},
        {"pitch": 0.3e-3},
        {"pitch": 2.6e-3},
        {"shear_modulus": E / 2.3},
        {"wire_diameter": 0.0},
        {"wire_diameter": math.nan},
        {"half_height": 0.0},
    ],
)
def test_outside_the_table_is_nan(change: dict[str, float]) -> None:
    coil = COIL_A | change
    name, value = next(iter(change.items()))
    arrays = COIL_A | {name: np.array([value, COIL_A[name]])}
    alone, both = rods.canted_coil_load(0.4e-3, **coil), rods.canted_coil_load(0.4e-3, **arrays)
    assert np.isnan(np.array(alone)).all()
    assert all(np.isnan(np.broadcast_to(field, 2)[0]) for field in both)
    assert all(not np.isnan(np.broadcast_to(field, 2)[1]) for field in both)
    assert math.isnan(touching(coil))
    if name != "wire_diameter":  # on which the flatness does not hang
        assert math.isnan(band(0.1, 1.2e-3, coil))


@pytest.mark.parametrize("delta", [-1e-6, 2.0e-3, math.nan, math.inf])
def test_deflection_beyond_the_table_is_nan(delta: float) -> None:
    state = rods.canted_coil_load(delta, **COIL_A)
    assert math.isnan(state.load_per_coil)
    assert math.isnan(state.equivalent_stress)
    assert math.isnan(band(0.1, delta, COIL_A))


def test_ring_carries_the_load_of_its_coils() -> None:
    straight = rods.canted_coil_load(0.5e-3, **COIL_A)
    ring, lip = 27e-3, 25e-3
    curved = rods.canted_coil_load(0.5e-3, **COIL_A, radius_ratio=ring / lip)
    coils_in_ring = 2 * math.pi * ring / COIL_A["pitch"]
    assert curved.load_per_length * 2 * math.pi * lip == pytest.approx(coils_in_ring * straight.load_per_coil)


def test_coils_that_are_alike_are_evaluated_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """A batch of few coils in many orders gives each its own answer, from as many rows of the table as there are coils."""
    rng = np.random.default_rng(5)
    which = rng.integers(0, 4, 300)
    pitch, cant = np.array([0.8, 1.0, 1.0, 1.2]) * 1e-3, np.radians([35.0, 35.0, 40.0, 20.0])
    moduli = rng.uniform(150e9, 210e9, which.size)  # of several alloys: they scale the load only
    rows: list[int] = []
    read = rods._rows

    def counted(*arguments: Any) -> Any:
        rows.append(len(arguments[0]))
        return read(*arguments)

    monkeypatch.setattr(rods, "_rows", counted)
    coil = COIL_A | {
        "pitch": pitch[which],
        "cant_angle": cant[which],
        "elastic_modulus": moduli,
        "shear_modulus": moduli / 2.6,
    }
    together = rods.canted_coil_load(0.6e-3, **coil)
    monkeypatch.undo()
    # the ratio of the moduli may differ in its last digit
    assert 4 <= sum(rows) <= 16
    for i in range(0, which.size, 23):
        alone = rods.canted_coil_load(
            0.6e-3, **{key: float(np.broadcast_to(value, 300)[i]) for key, value in coil.items()}
        )
        for mine, theirs in zip(alone, together, strict=True):
            assert theirs[i] == pytest.approx(mine, rel=1e-12)
