"""The canted coil as plain formulas."""

from __future__ import annotations

import itertools
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from glandwise.mechanics import rods, tables
from glandwise.mechanics.solvers import coil as coil_solver
from glandwise.mechanics.solvers import coil_table
from glandwise.numerics.compiled import compiled
from glandwise.numerics.over import Over
from glandwise.numerics.trace import Working
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.mechanics.support import draws, hostile, lives_agree, steps_hold, told

plain = Over(rods)
"""Its formulas over arrays."""


coils = st.fixed_dictionaries(
    {
        "pitch": st.floats(0.3e-3, 1.2e-3),
        "half_width": st.floats(0.9e-3, 1.6e-3),
        "half_height": st.just(1.0e-3),
        "cant_angle": st.floats(math.radians(20.0), math.radians(55.0)),
        "wire_diameter": st.floats(0.05e-3, 0.25e-3),
        "elastic_modulus": st.just(200e9),
        "shear_modulus": st.floats(200e9 / 2.7, 200e9 / 2.5),
    }
)


def shape(coil: dict[str, float]) -> list[float]:
    """Pitch, half width, half height and cant angle."""
    return [coil[name] for name in ("pitch", "half_width", "half_height", "cant_angle")]


def poisson(coil: dict[str, float]) -> float:
    return 0.5 * coil["elastic_modulus"] / coil["shear_modulus"] - 1.0


def rate(coil: dict[str, float]) -> float:
    """Load per coil and compression at a small one."""
    return float(plain.canted_coil_rate(*(coil[name] for name in COIL_A)))


def load_per_coil(delta: Any, coil: dict[str, float]) -> Any:
    return rate(coil) * plain.canted_coil(delta, *shape(coil), poisson(coil)).share * delta


def pressed(delta: float, coil: dict[str, float], over: float = 1.0) -> rods.CantedCoil:
    """Load, stiffness and stress at the dimensions over the wire."""
    p, a, b, beta = shape(coil)
    d = coil["wire_diameter"]
    found: rods.CantedCoil = plain.canted_coil_load(
        delta, p, 2.0 * a + d, 2.0 * b + d, beta, d, coil["elastic_modulus"], poisson(coil), over
    )
    return found


def touching(coil: dict[str, float]) -> float:
    """Compression at which turns of a coil touch."""
    return float(plain.canted_coil_touching(*shape(coil), coil["wire_diameter"], poisson(coil)))


def band(share: float, upper: float, coil: dict[str, float]) -> float:
    """Least compression of the flat band of a coil."""
    return float(plain.canted_coil_band(share, upper, *shape(coil), poisson(coil)))


CANT = (math.radians(14.0), math.radians(61.0))


# shapes are drawn in half heights b, so that most of them lie in the range of the model
SHAPES = [
    (b, aspect * b, pitch * b, wire * b, beta, nu)
    for b, aspect, pitch, wire, beta, nu in draws(
        (4e-4, 3e-3), (0.78, 1.82), (0.19, 1.41), (0.05, 0.5), CANT, (0.195, 0.405), count=200
    )
]


MORE = draws((-0.01, 0.56), (1.7e11, 2.2e11), (1.0, 1.3), (-0.02, 0.5), count=200, seed=2)


RATE = [
    (p, a, b, beta, d, E, E / (2 * (1 + nu))) for (b, a, p, d, beta, nu), (_, E, _, _) in zip(SHAPES, MORE, strict=True)
]


TURN = [(2 * b * xi, p, a, b, beta, nu) for (b, a, p, d, beta, nu), (xi, _, _, _) in zip(SHAPES, MORE, strict=True)]


LOAD = [
    (2 * b * xi, p, 2 * a + d, 2 * b + d, beta, d, E, nu, f)
    for (b, a, p, d, beta, nu), (xi, E, f, _) in zip(SHAPES, MORE, strict=True)
]


MASS = draws((7000.0, 9000.0), (1e-4, 5e-4), (2e-3, 6e-3), (2e-3, 6e-3), (3e-4, 2e-3))


TOUCH = [(p, a, b, beta, d, nu) for b, a, p, d, beta, nu in SHAPES]


BAND = [(f, 2 * b * xi, p, a, b, beta, nu) for (b, a, p, _, beta, nu), (xi, _, _, f) in zip(SHAPES, MORE, strict=True)]


CASES = [
    (rods.canted_coil_rate, RATE),
    (rods.canted_coil, TURN),
    (rods.canted_coil_share, TURN),
    (rods.canted_coil_load, LOAD),
    (rods.line_load_of_coil, LOAD),
    (rods.canted_coil_mass, MASS),
    (rods.canted_coil_touching, TOUCH),
    (rods.canted_coil_band, BAND),
]


BY_NAME = pytest.mark.parametrize("formula,rows", CASES, ids=[formula.__name__ for formula, _ in CASES])


def _field(name: str):
    return lambda *arguments: getattr(compiled(rods.canted_coil)(*arguments), name)


READERS = {
    "canted_coil_rate": lambda *arguments: compiled(rods.canted_coil_rate)(*arguments),
    "canted_coil_share": _field("share"),
    "canted_coil_tangent": _field("tangent"),
    "canted_coil_moment": _field("moment"),
}


@BY_NAME
def test_lives_agree(formula, rows) -> None:
    lives_agree(formula, rows[:100])
    lives_agree(formula, hostile(rows[:30]))


@BY_NAME
def test_a_reader_can_recompute_each_step(formula, rows) -> None:
    steps_hold(formula, rows[:50], READERS)
    steps_hold(formula, hostile(rows[:10]), READERS)


def test_the_range_of_the_model_is_met_on_both_sides() -> None:
    found = np.array([compiled(rods.canted_coil_load)(*row) for row in LOAD])
    assert 0.6 < np.isfinite(found).mean() < 0.95


def test_a_compression_on_the_limit_is_inside() -> None:
    """Height over wire times 0.54, over that height again, is more than 0.54 for one coil in four hundred."""
    met = 0
    for tenth in range(1000, 6000):
        h, d = 1e-6 * tenth, 2.5e-4
        b, most = (h - d) / 2.0, 0.54 * (h - d)
        if most / (2.0 * b) > 0.54:
            met += 1
            shape = (b, b, b, 0.6, 0.3)
            assert math.isfinite(compiled(rods.canted_coil)(most, *shape).share)
            assert math.isfinite(compiled(rods.canted_coil_band)(0.1, most, *shape))
    assert met > 0


def test_a_flat_band_is_known_within_its_range_alone() -> None:
    b = 1e-3
    shape = (1e-3, 1.2e-3, b, 0.6, 0.3)
    for share, upper in ((1e-6, b), (0.999, b), (0.1, 1e-6), (0.1, 0.54 * 2.0 * b)):
        assert math.isfinite(compiled(rods.canted_coil_band)(share, upper, *shape)), (share, upper)
    for share, upper in ((0.0, b), (1.0, b), (-0.1, b), (1.1, b), (0.1, 0.0), (0.1, 0.5401 * 2.0 * b)):
        assert math.isnan(compiled(rods.canted_coil_band)(share, upper, *shape)), (share, upper)


def test_turns_touch_at_rest_later_or_not_at_all() -> None:
    found = [compiled(rods.canted_coil_touching)(*row) for row in TOUCH]
    known = [delta for delta in found if not math.isnan(delta)]
    assert 0.0 in known
    assert math.inf in known
    assert any(0.0 < delta < math.inf for delta in known)


def test_a_coil_tells_its_equations() -> None:
    row = (4e-4, 5e-4, 2.4e-3, 2e-3, 0.6, 2.5e-4, 2e11, 0.3, 1.1)
    working = Working(told(rods.canted_coil_load, *row))
    said = {working.symbol(step): working.equation(step) for step in working.steps}
    assert said["b"] == "(h - d) / 2"
    assert said["G"] == "E / (2 * (1 + nu))"
    assert said["k"] == "canted_coil_rate(p, a, b, beta, d, E, G)"
    assert said["w_turn"] == "canted_coil_share(Delta, p, a, b, beta, nu)"
    assert said["w_slope"] == "canted_coil_tangent(Delta, p, a, b, beta, nu)"
    assert said["m_turn"] == "canted_coil_moment(Delta, p, a, b, beta, nu)"
    assert said["F"] == "k * w_turn * Delta"
    assert said["q"] == "F / p * f_r"
    assert said["k_q"] == "k * w_slope / p * f_r"
    assert said["sigma"] == "m_turn * E * d / 2"
    assert [working.because(step) for step in working.steps] == [""] * len(working.steps)


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


def _frame_rate(coil: dict[str, float], elements: int, stretch: float = 1e-3) -> float:
    """Half coil of straight Euler-Bernoulli elements (12 degrees of freedom); ``stretch`` 1 is the real EA, 1e-3 nearly none."""
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


@pytest.mark.parametrize(("elements", "printed"), [(40, 1.164717), (80, 1.163558), (160, 1.163267)])
def test_frame_reproduces_the_computed_reference_rows(elements: int, printed: float) -> None:
    # 1e-3 of the real stretch: less would lose digits to the conditioning of the frame.
    assert _frame_rate(COIL_A, elements) / 1e3 == pytest.approx(printed, abs=5e-6)


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


@pytest.mark.slow
def test_committed_table_is_what_the_solver_gives(tmp_path: Path) -> None:
    coil_table.build(tmp_path / "canted_coil.npz")
    rebuilt = np.load(tmp_path / "canted_coil.npz")
    committed = np.load(tables.FOLDER / "canted_coil.npz")
    for name in ("low", "high", "coefficients"):
        np.testing.assert_allclose(rebuilt[name], committed[name], rtol=0.0, atol=2e-6)


@settings(max_examples=25)
@given(coils, st.floats(0.02, 0.3), st.floats(0.05, 0.54))
def test_working_range_keeps_its_promise(coil: dict[str, float], share: float, xi: float) -> None:
    upper = 2e-3 * xi
    lower = band(share, upper, coil)
    assert 0.0 < lower < upper
    load = load_per_coil(np.linspace(lower, upper, 200), coil)
    assert load.max() / load.min() == pytest.approx((1.0 + share) / (1.0 - share), rel=4e-3)
    assert band(1.2 * share, upper, coil) < lower


def test_flatness_figures_of_the_three_coils() -> None:
    for coil, rise in ((COIL_A, 0.25), (COIL_C, 0.35), (COIL_D, 0.20)):
        height = 2 * coil["half_height"] + coil["wire_diameter"]
        low, high = (load_per_coil(level * height, coil) for level in (0.20, 0.36))
        assert high / low - 1.0 == pytest.approx(rise, abs=0.005)


# --- Small deflection ----------------------------------------------------------------------------------------------


@given(coils, st.floats(0.2, 5.0))
def test_linear_rate_scales_with_wire_size_and_modulus(coil: dict[str, float], factor: float) -> None:
    k = rate(coil)
    assert k > 0.0
    assert rate(coil | {"wire_diameter": factor * coil["wire_diameter"]}) == pytest.approx(k * factor**4, rel=1e-12)
    larger = coil | {name: factor * coil[name] for name in ("pitch", "half_width", "half_height")}
    assert rate(larger) == pytest.approx(k / factor**3, rel=1e-9)
    stiffer = coil | {name: factor * coil[name] for name in ("elastic_modulus", "shear_modulus")}
    assert rate(stiffer) == pytest.approx(k * factor, rel=1e-12)


def test_what_is_no_coil_has_no_rate() -> None:
    for change in (
        {"pitch": 0.0}, {"half_width": -1e-3}, {"half_height": 0.0}, {"cant_angle": -1e-9}, {"cant_angle": math.pi / 2},
        {"wire_diameter": -1e-4}, {"wire_diameter": 0.0}, {"shear_modulus": 0.0}, {"elastic_modulus": -E},
    ):  # fmt: skip
        assert math.isnan(rate(COIL_A | change)), change
    for angle in (0.0, math.radians(89.0)):
        assert math.isfinite(rate(COIL_A | {"cant_angle": angle}))


@settings(max_examples=4)
@given(coils)
def test_linear_rate_agrees_with_a_frame_of_straight_elements(coil: dict[str, float]) -> None:
    coarse, fine = _frame_rate(coil, 40), _frame_rate(coil, 80)
    frame = fine + (fine - coarse) / 3.0  # straight elements converge with the square of their length
    assert rate(coil) == pytest.approx(frame, rel=3e-4)


# --- Table ---------------------------------------------------------------------------------------------------------


def test_table_agrees_with_the_solver_off_its_nodes() -> None:
    corners = np.array(list(itertools.product(*zip(coil_table.LOW[:4], coil_table.HIGH[:4], strict=True)))).T
    cases = np.concatenate((np.stack(_random_coils(30, 20261125)), corners), axis=1)
    xi = np.linspace(0.03, 0.54, 9)
    secant, _, equivalent, _ = coil_table.solve(*cases, xi, steps=24)
    beta, aspect, pitch, nu = cases
    turn = plain.canted_coil(2.0 * xi[:, None], pitch, aspect, 1.0, beta, nu)
    assert np.abs(turn.share / secant - 1.0).max() < 1.5e-4
    assert np.abs(turn.moment / xi[:, None] / equivalent - 1.0).max() < 1e-3


def test_turns_touch_where_the_gap_of_the_solver_is_the_wire() -> None:
    met = 0
    for beta, aspect, pitch, nu in zip(*_random_coils(24, 7), strict=True):
        delta = plain.canted_coil_touching(pitch, aspect, 1.0, beta, 0.5 * pitch, nu)
        if 0.0 < delta < math.inf:
            met += 1
            one = (np.array([value]) for value in (beta, aspect, pitch, nu))
            gap = coil_table.solve(*one, [0.5 * delta], steps=24)[3]
            assert gap.item() == pytest.approx(0.5, rel=1e-2)
    assert met > 5


def test_turns_of_the_free_coil_touch_with_its_centreline() -> None:
    theta = np.linspace(-math.pi, 3 * math.pi, 4001)
    p, a, b, beta = shape(COIL_A)
    curve = np.stack(
        (p * theta / (2 * math.pi) + b * np.cos(theta) * math.tan(beta), a * np.sin(theta), b * np.cos(theta)), axis=1
    )
    one, other = curve[theta < math.pi], curve[theta > math.pi]
    between = np.linalg.norm(one[::4, None, :] - other[None, :, :], axis=2)
    apart = np.abs(theta[theta < math.pi][::4, None] + 2 * math.pi - theta[None, theta > math.pi]) < math.pi / 2
    free = between[apart].min()
    assert touching(COIL_A | {"wire_diameter": 1.003 * free}) == 0.0
    assert touching(COIL_A | {"wire_diameter": 0.997 * free}) > 0.0


# --- Load ----------------------------------------------------------------------------------------------------------


@given(coils, st.floats(1e-4, 0.54))
def test_load_keeps_its_physical_bounds(coil: dict[str, float], xi: float) -> None:
    delta = 2e-3 * xi
    turn = plain.canted_coil(delta, *shape(coil), poisson(coil))
    assert 0.0 < turn.share < 1.0
    assert turn.tangent < turn.share
    assert turn.share < plain.canted_coil(0.99 * delta, *shape(coil), poisson(coil)).share
    state = pressed(delta, coil)
    assert state.line_load > 0.0
    assert state.stress > pressed(0.99 * delta, coil).stress


@given(coils, st.floats(1e-4, 0.54), st.floats(0.5, 2.0))
def test_load_scales(coil: dict[str, float], xi: float, factor: float) -> None:
    delta = 2e-3 * xi
    base = pressed(delta, coil)
    thicker = pressed(delta, coil | {"wire_diameter": factor * coil["wire_diameter"]})
    assert thicker.line_load == pytest.approx(base.line_load * factor**4, rel=1e-9)
    assert thicker.stress == pytest.approx(base.stress * factor, rel=1e-9)
    larger = pressed(
        factor * delta, coil | {name: factor * coil[name] for name in ("pitch", "half_width", "half_height")}
    )
    assert larger.line_load == pytest.approx(base.line_load / factor**3, rel=1e-6)
    stiffer = pressed(delta, coil | {name: factor * coil[name] for name in ("elastic_modulus", "shear_modulus")})
    assert stiffer.line_load == pytest.approx(base.line_load * factor, rel=1e-9)


@given(coils, st.floats(0.01, 0.53))
def test_tangent_stiffness_is_the_slope_of_the_load(coil: dict[str, float], xi: float) -> None:
    delta, step = 2e-3 * xi, 1e-7
    up, down = (pressed(delta + s, coil).line_load for s in (step, -step))
    start = rate(coil) / coil["pitch"]
    assert pressed(delta, coil).stiffness == pytest.approx((up - down) / (2 * step), abs=1e-5 * start)


@given(coils)
def test_small_deflection_is_the_linear_rate(coil: dict[str, float]) -> None:
    assert load_per_coil(1e-10, coil) / 1e-10 == pytest.approx(rate(coil), rel=1e-5)
    rest = plain.canted_coil(0.0, *shape(coil), poisson(coil))
    assert (rest.share, rest.moment) == (1.0, 0.0)
    assert pressed(0.0, coil).line_load == 0.0


def test_outside_the_table_is_nan() -> None:
    for change in (
        {"cant_angle": math.radians(14.99)}, {"cant_angle": math.radians(60.01)}, {"half_width": 1.3e-3},
        {"half_width": 3.3e-3}, {"pitch": 0.3e-3}, {"pitch": 2.6e-3}, {"shear_modulus": E / 2.3}, {"half_height": 0.0},
    ):  # fmt: skip
        coil = COIL_A | change
        found = (*pressed(0.4e-3, coil), touching(coil), band(0.1, 1.2e-3, coil))
        assert all(map(math.isnan, found)), change
    for wire in (0.0, -1e-4, math.nan):
        assert math.isnan(touching(COIL_A | {"wire_diameter": wire})), wire
    for delta in (-1e-6, 2.0e-3, math.nan, math.inf):
        assert all(map(math.isnan, (*pressed(delta, COIL_A), band(0.1, delta, COIL_A)))), delta


def test_ring_carries_the_load_of_its_coils() -> None:
    straight = load_per_coil(0.5e-3, COIL_A)
    ring, lip = 27e-3, 25e-3
    coils_in_ring = 2 * math.pi * ring / COIL_A["pitch"]
    curved = pressed(0.5e-3, COIL_A, ring / lip)
    assert curved.line_load * 2 * math.pi * lip == pytest.approx(coils_in_ring * straight)
