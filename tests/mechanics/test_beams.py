"""V fingers as plain formulas."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest
from glandwise.mechanics import beams, tables
from glandwise.mechanics.solvers import finger_table, strip
from glandwise.numerics.compiled import compiled
from glandwise.numerics.over import Over
from glandwise.numerics.trace import Working, traced
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.integrate import cumulative_simpson, solve_bvp, solve_ivp
from scipy.optimize import minimize

from tests.mechanics.support import draws, hostile, leaves, lives_agree, steps_hold

plain = Over(beams)
"""Its formulas over arrays."""


INFINITE = math.inf
STRIP = {"t": 0.1e-3, "L": 3.0e-3, "psi": 0.4, "c": 0.7, "E": 200e9, "S": 1.0e9}


class Pressed(NamedTuple):
    """State of a finger, with what the answers do not tell of it."""

    load: Any
    tangent: Any
    recovery: Any
    elastic_root_curvature: Any
    root_moment: Any
    permanent_set: Any
    contact: Any
    bent: Any
    """curvature that the root moment would bend an elastic strip to"""

    @property
    def arm(self) -> Any:
        return self.bent / self.load


def press(psi: Any, chi: Any, yield_curvature: Any = INFINITE) -> Pressed:
    """Finger at a share of its free height."""
    state = plain._pressed(psi, chi, yield_curvature)
    bent = np.where(state.moment > 1.0, state.moment * np.minimum(yield_curvature, 1e300), state.curvature)
    found = plain.finger(psi, chi * np.sin(psi), yield_curvature)
    np.testing.assert_allclose(found.load, state.load, rtol=1e-9)
    return Pressed(*state[:3], state.curvature, state.moment, state.permanent_set, state.contact, bent)


def at(psi: float, deflection: float, yield_curvature: float) -> Pressed:
    """Finger at a deflection over its length."""
    return press(psi, deflection / math.sin(psi), yield_curvature)


ANGLES = (math.radians(0.5), math.radians(61.0))


# travel as a share of the free height: contact, hardly any, none, and more than the tables cover
FINGER = [
    (psi, share * math.sin(psi), math.exp(slack))
    for psi, share, slack in draws(ANGLES, (-0.05, 1.0), (-4.0, 2.0), count=400)
]


SPRING = [
    (2.0 * share * L * math.sin(psi), t, L, psi, c, E, S)
    for share, t, L, psi, c, E, S in draws(
        (-0.05, 1.0), (5e-5, 3e-4), (1e-3, 5e-3), ANGLES, (0.3, 1.0), (1.5e11, 2.2e11), (1e8, 3e9), count=300
    )
]


BENDING = draws((1.5e11, 2.2e11), (0.0, 0.5), (0.0, 1.0))


MASS = draws((7000.0, 9000.0), (0.3, 1.0), (5e-5, 3e-4), (1e-3, 5e-3))


CASES = [
    (beams.finger, FINGER),
    (beams.bending_modulus, BENDING),
    (beams.cantilever_v, SPRING),
    (beams.finger_mass, MASS),
]


BY_NAME = pytest.mark.parametrize("formula,rows", CASES, ids=[formula.__name__ for formula, _ in CASES])


def _field(name: str):
    return lambda *arguments: getattr(compiled(beams.finger)(*arguments), name)


READERS = {
    "finger_load": _field("load"),
    "finger_tangent": _field("tangent"),
    "finger_recovery": _field("recovery"),
    "finger_curvature": _field("curvature"),
    "finger_set": _field("permanent_set"),
}


@BY_NAME
def test_lives_agree(formula, rows) -> None:
    lives_agree(formula, rows[:150])
    lives_agree(formula, hostile(rows[:40]))


@BY_NAME
def test_a_reader_can_recompute_each_step(formula, rows) -> None:
    steps_hold(formula, rows[:50], READERS)
    steps_hold(formula, hostile(rows[:10]), READERS)


def test_a_spring_tells_its_equations() -> None:
    row = (6e-4, 1e-4, 3e-3, 0.5, 0.7, 2e11, 1.5e9)
    working = Working(traced(beams.cantilever_v)(*leaves(beams.cantilever_v, row)))
    told = {working.symbol(step): working.equation(step) for step in working.steps}
    assert told["kappa_y"] == "2 * S * L / (E * t)"
    assert told["alpha"] == "finger_load(psi, delta / L, kappa_y)"
    assert told["alpha_back"] == "finger_recovery(psi, delta / L, kappa_y)"
    assert told["q"] == "c * E * t**3 / (12 * L**2) * alpha"
    assert told["k_back"] == "c * E * t**3 / (24 * L**3) * alpha_back"
    assert told["sigma"] == "E * t * kappa_root / (2 * L)"
    assert told["h_set"] == "2 * L * finger_set(psi, delta / L, kappa_y)"


def test_a_load_rests_on_what_gave_it_alone() -> None:
    spring = traced(beams.cantilever_v)(*leaves(beams.cantilever_v, (6e-4, 1e-4, 3e-3, 0.5, 0.7, 2e11, 1.5e9)))
    working = Working(spring.line_load)
    assert "alpha_on" not in {working.symbol(step) for step in working.steps}


INFINITE = math.inf


angles = st.floats(math.radians(1.0), math.radians(60.0))


compressions = st.floats(1e-6, 0.95)


# --- dead load -------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("alpha", [0.3, 2.0, 10.0, 40.0])
def test_dead_load_agrees_with_a_boundary_value_solver(alpha: float) -> None:
    x = np.linspace(0.0, 1.0, 200)
    solution = solve_bvp(
        lambda _, y: np.vstack([y[1], -alpha * np.cos(y[0]), np.sin(y[0]), np.cos(y[0])]),
        lambda a, b: np.array([a[0], b[1], a[2], a[3]]),
        x,
        np.vstack([1.2 * np.sin(x), 1.2 * np.cos(x), x**2 / 2, x]),
        tol=1e-9,
        max_nodes=20000,
    )
    assert solution.success
    exact = strip.dead_load(alpha)
    slope, _, deflection, reach = solution.y[:, -1]
    assert exact.tip_slope == pytest.approx(slope, abs=1e-8)
    assert exact.deflection == pytest.approx(deflection, abs=1e-8)
    assert exact.shortening == pytest.approx(1.0 - reach, abs=1e-8)


@given(st.floats(0.0, 50.0))
def test_dead_load_stays_within_its_bounds(alpha: float) -> None:
    state = strip.dead_load(alpha)
    assert 0.0 <= state.deflection <= min(alpha / 3.0, 1.0)
    assert 0.0 <= state.tip_slope < math.pi / 2.0
    assert 0.0 <= state.shortening < 1.0


def test_dead_load_joins_its_leading_terms() -> None:
    below, above = strip.dead_load(np.array([0.99999e-4, 1.00001e-4])), strip.dead_load(1.00001e-4)
    for pair, single in zip(below, above, strict=True):
        assert pair[1] == single
        assert pair[0] / 0.99999 ** (2 if pair is below[2] else 1) == pytest.approx(single, rel=1e-4)


def test_dead_load_outside_its_range_is_nan() -> None:
    assert all(math.isnan(value) for value in strip.dead_load(-1.0))
    assert all(math.isnan(value) for value in strip.dead_load(51.0))


# --- elastic finger --------------------------------------------------------------------------------------------------
def test_table_agrees_with_the_elliptic_integrals() -> None:
    rng = np.random.default_rng(7)
    psi, chi = np.radians(rng.uniform(1.0, 60.0, 3000)), rng.uniform(1e-4, 0.95, 3000)
    _, tip = strip.solve_elastic_tip(psi, chi)
    lay = strip.solve_lay_down(psi)
    contact = (1.0 - chi) * np.sin(psi) / lay.height
    flat = contact < 1.0
    assert 0.3 < flat.mean() < 0.5
    state = press(psi, chi)
    np.testing.assert_allclose(state.load, np.where(flat, lay.load / contact**2, tip.load), rtol=1e-6)
    np.testing.assert_allclose(state.arm, np.where(flat, lay.arm * contact, tip.arm), rtol=2e-6)
    np.testing.assert_allclose(state.contact, np.minimum(contact, 1.0), rtol=1e-7)


@pytest.mark.parametrize(
    ("degrees", "chi"), [(5.0, 0.5), (30.0, 0.3), (30.0, 0.6), (58.0, 0.55), (5.0, 0.8), (30.0, 0.75), (58.0, 0.9)]
)
def test_moving_contact_agrees_with_a_boundary_value_solver(degrees: float, chi: float) -> None:
    """Unknown load, and unknown contact where the finger lies down, found by collocation."""
    psi = math.radians(degrees)
    height = (1.0 - chi) * math.sin(psi)
    state = press(psi, chi)
    lies = state.contact < 1.0
    x = np.linspace(0.0, 1.0, 100)

    def field(_: Any, y: NDArray[Any], p: NDArray[Any]) -> NDArray[Any]:
        contact = p[1] if lies else 1.0
        return contact * np.vstack([y[1], p[0] * np.cos(y[0]), np.sin(y[0])])

    def ends(a: NDArray[Any], b: NDArray[Any], p: NDArray[Any]) -> NDArray[Any]:
        conditions = [a[0] - psi, b[1], a[2], b[2] - height]
        return np.array([*conditions, b[0]] if lies else conditions)

    contact = 1.3 * (1.0 - chi) * 2.4 if lies else 1.0
    turn = psi if lies else 1.5 * chi * psi
    guess = np.vstack([psi - turn * (2 * x - x**2), -2 * turn * (1 - x), height * x])
    start = [4 * psi / contact**2, contact] if lies else [2 * turn]
    solution = solve_bvp(field, ends, x, guess, p=start, tol=1e-8, max_nodes=20000)
    assert solution.success
    assert state.load == pytest.approx(solution.p[0], rel=2e-6)
    assert state.elastic_root_curvature == pytest.approx(-solution.y[1, 0], rel=2e-6)
    if lies:
        assert state.contact == pytest.approx(solution.p[1], rel=2e-6)
    else:
        assert solution.y[0, -1] > 0.0


@pytest.mark.parametrize(("degrees", "chi"), [(20.0, 0.4), (40.0, 0.55), (25.0, 0.8)])
def test_contact_agrees_with_a_chain_of_links_under_a_wall(degrees: float, chi: float) -> None:
    """Least bending energy of a chain none of whose joints may pass the wall; nothing is assumed of the contact."""
    psi, links = math.radians(degrees), 50
    step = 1.0 / links
    lower = np.tril(np.ones((links, links)))

    def energy(theta: NDArray[Any]) -> tuple[float, NDArray[Any]]:
        bend = np.diff(theta) / step
        root = (theta[0] - psi) / (0.5 * step)
        gradient = np.zeros(links)
        gradient[1:] += bend
        gradient[:-1] -= bend
        gradient[0] += root
        return 0.5 * step * float(bend @ bend) + 0.25 * step * root**2, gradient

    def least(height: float) -> tuple[float, NDArray[Any]]:
        wall = {
            "type": "ineq",
            "fun": lambda theta: (height - step * lower @ np.sin(theta)) / height,
            "jac": lambda theta: -step * lower * np.cos(theta) / height,
        }
        start = np.full(links, math.asin(height))
        found = minimize(
            energy, start, jac=True, method="SLSQP", constraints=[wall], options={"ftol": 1e-13, "maxiter": 500}
        )
        assert found.success
        return float(found.fun), found.x

    free, move = math.sin(psi), 0.01
    above, _ = least((1.0 - chi + move) * free)
    below, theta = least((1.0 - chi - move) * free)
    state = press(psi, chi)
    assert (below - above) / (2.0 * move * free) == pytest.approx(state.load, rel=0.01)
    touching = np.nonzero((1.0 - chi - move) * free - step * lower @ np.sin(theta) < 1e-6)[0]
    assert (touching[0] + 1) * step == pytest.approx(press(psi, chi + move).contact, abs=1.5 * step)


@given(angles)
def test_small_deflections_are_those_of_a_cantilever(psi: float) -> None:
    deflection = 1e-7
    state = at(psi, deflection, INFINITE)
    assert state.load == pytest.approx(3.0 * deflection / math.cos(psi) ** 2, rel=2e-5)
    assert state.tangent == pytest.approx(3.0 / math.cos(psi) ** 2, rel=1e-4)
    assert state.arm == pytest.approx(math.cos(psi), rel=1e-4)


def test_a_finger_that_begins_to_lie_down_is_four_times_as_stiff() -> None:
    """3EI/L³ before, the 12EI/L³ of a guided beam after; exact for a small root angle."""
    psi = math.radians(1.0)
    before, after = press(psi, 0.6660), press(psi, 0.6675)
    assert (before.contact, after.contact < 1.0) == (1.0, True)
    assert before.tangent == pytest.approx(3.0, rel=2e-3)
    assert after.tangent == pytest.approx(12.0, rel=1e-2)


@given(angles, compressions, st.floats(1.0 + 1e-6, 1.5))
def test_elastic_load_grows_with_deflection(psi: float, chi: float, factor: float) -> None:
    more = min(chi * factor, 0.95)
    first, second = press(psi, chi), press(psi, more)
    assert second.load >= first.load > 0.0
    assert second.contact <= first.contact <= 1.0
    assert second.elastic_root_curvature >= first.elastic_root_curvature


def test_elastic_load_grows_without_a_dent_on_a_fine_grid() -> None:
    psi = np.radians(np.linspace(1.0, 60.0, 37))[:, None]
    chi = np.linspace(0.0, 0.95, 701)[None, :]
    state = press(*np.broadcast_arrays(psi, chi))
    assert (np.diff(state.load, axis=1) > 0.0).all()
    assert (state.tangent > 0.0).all()


@pytest.mark.parametrize(("degrees", "chi"), [(3.0, 0.3), (30.0, 0.5), (59.0, 0.2), (30.0, 0.8), (59.0, 0.9)])
def test_elastic_tangent_is_the_slope_of_the_load(degrees: float, chi: float) -> None:
    psi, h = math.radians(degrees), 1e-4
    rise = press(psi, chi + h).load - press(psi, chi - h).load
    assert press(psi, chi).tangent == pytest.approx(rise / (2.0 * h * math.sin(psi)), rel=1e-4)


@settings(max_examples=20)
@given(angles, compressions)
def test_elastic_work_is_the_strain_energy(psi: float, chi: float) -> None:
    """The work of the land up to ``chi`` is half the integral of the squared curvature of the final shape."""
    state = press(psi, chi)
    path = np.linspace(0.0, 1.0, 401) ** 2 * chi
    done = cumulative_simpson(press(np.full_like(path, psi), path).load, x=path * math.sin(psi))[-1]
    tip_angle = math.asin(max(math.sin(psi) - state.elastic_root_curvature**2 / (2.0 * state.load), -1.0))
    # With t = sqrt(sin(theta) - sin(tip)), ds = dtheta/kappa and kappa² = 2 alpha t²; half kappa² ds = kappa dtheta/2.
    x, w = np.polynomial.legendre.leggauss(60)
    q = 0.5 * (x + 1.0)
    theta = tip_angle + (psi - tip_angle) * q**2
    kappa = np.sqrt(2.0 * state.load * np.maximum(np.sin(theta) - math.sin(tip_angle), 0.0))
    stored = 0.5 * float((kappa * 2.0 * q * (psi - tip_angle) * 0.5 * w).sum())
    assert done == pytest.approx(stored, rel=1e-3)


# --- beyond yield ----------------------------------------------------------------------------------------------------
def test_yielded_table_agrees_with_its_solver() -> None:
    rng = np.random.default_rng(3)
    n = 400
    psi, chi = np.radians(rng.uniform(1.0, 60.0, n)), rng.uniform(1e-3, 0.94, n)
    kappa_y = press(psi, chi).elastic_root_curvature * rng.uniform(0.02, 1.0, n)
    load, rotation, tip = strip.solve_plastic_tip(psi, chi, kappa_y)
    height = (1.0 - chi) * np.sin(psi)
    scaled, flat = strip.solve_plastic_lay_down(psi, height * kappa_y)
    contact = flat.length / kappa_y
    lies = rotation > psi
    assert 0.05 < lies.mean() < 0.5
    assert ((contact < 1.0) == lies).all()
    left = np.where(lies, flat.released_height / kappa_y + (1.0 - contact) * np.sin(flat.released_angle), 0.0)
    left = np.where(lies, left, tip.released_height)
    state = press(psi, chi, kappa_y)
    np.testing.assert_allclose(state.load, np.where(lies, scaled * kappa_y**2, load), rtol=3e-4)
    np.testing.assert_allclose(state.permanent_set, np.sin(psi) - left, atol=3e-4, rtol=0)
    np.testing.assert_allclose(state.root_moment, np.where(lies, flat.root_moment, tip.root_moment), atol=4e-4)
    np.testing.assert_allclose(state.contact, np.where(lies, contact, 1.0), rtol=1e-4)


@pytest.mark.parametrize(
    ("tip_degrees", "load", "kappa_y"), [(10.0, 0.5, 0.35), (25.0, 0.6, 0.4), (2.0, 1.0, 0.9), (0.0, 1.5, 1.1)]
)
def test_yielded_finger_agrees_with_integration_from_its_tip(tip_degrees: float, load: float, kappa_y: float) -> None:
    """March the section law from the free end to the root; no first integral, no quadrature over the angle."""

    def curvature(moment: float) -> float:
        ratio = moment / kappa_y
        return moment if ratio <= 1.0 else kappa_y / math.sqrt(3.0 - 2.0 * ratio)

    tip = math.radians(tip_degrees)
    march = solve_ivp(
        lambda _, y: [curvature(y[1]), load * math.cos(y[0]), math.sin(y[0]), curvature(y[1]) - y[1]],
        (0.0, 1.0),
        [tip, 0.0, 0.0, 0.0],
        rtol=1e-9,
        atol=1e-11,
        max_step=0.01,
        dense_output=True,
    )
    psi, moment, height, turned = march.y[:, -1]
    assert 1.0 < moment / kappa_y < 1.5
    s = np.linspace(0.0, 1.0, 2001)
    residual = psi - (turned - march.sol(s)[3])
    free = float(cumulative_simpson(np.sin(residual), x=s)[-1])
    state = at(psi, math.sin(psi) - height, kappa_y)
    assert state.load == pytest.approx(load, rel=3e-4)
    assert state.root_moment == pytest.approx(moment / kappa_y, abs=4e-4)
    assert state.permanent_set == pytest.approx(math.sin(psi) - free, abs=3e-4 * (math.sin(psi) - height))


@pytest.mark.parametrize(
    ("degrees", "chi", "slack"), [(10.0, 0.3, 0.6), (30.0, 0.6, 0.6), (59.0, 0.4, 0.6), (20.0, 0.8, 0.6)]
)
def test_recovery_is_that_of_the_yielded_shape(degrees: float, chi: float, slack: float) -> None:
    """Step back from the yielded shape with its residual curvature built in, by collocation."""
    psi, sine = math.radians(degrees), math.sin(math.radians(degrees))
    kappa_y = press(psi, chi).elastic_root_curvature * slack
    state = press(psi, chi, kappa_y)
    assert 1.0 < state.root_moment < 1.5
    lies = state.contact < 1.0
    tip = 0.0
    if not lies:
        _, turn, _ = strip.solve_plastic_tip(*(np.array([v]) for v in (psi, chi, kappa_y)))
        tip = psi - float(turn[0])
    alpha = state.load

    def section(moment: Any) -> Any:
        ratio = np.minimum(moment / kappa_y, 1.4999)
        return np.where(ratio <= 1.0, moment, kappa_y / np.sqrt(3.0 - 2.0 * np.maximum(ratio, 1.0)))

    march = solve_ivp(
        lambda _, y: [float(section(y[1])), alpha * math.cos(y[0]), math.sin(y[0])],
        (0.0, state.contact),
        [tip, 0.0, 0.0],
        rtol=1e-9,
        atol=1e-11,
        max_step=0.01,
        dense_output=True,
    )
    root, _, height = march.y[:, -1]
    assert root == pytest.approx(psi, rel=5e-3)
    assert height == pytest.approx((1.0 - chi) * sine, rel=5e-3)
    x = np.linspace(0.0, 1.0, 300)
    shape = march.sol(state.contact * (1.0 - x))
    built_in = section(shape[1]) - shape[1]

    def solve(level: float) -> float:
        def field(at: Any, y: NDArray[Any], p: NDArray[Any]) -> NDArray[Any]:
            contact = p[1] if lies else state.contact
            natural = np.interp(at * contact / state.contact, x, built_in)
            return contact * np.vstack([-(y[1] + natural), -p[0] * np.cos(y[0]), np.sin(y[0])])

        def ends(a: NDArray[Any], b: NDArray[Any], _: NDArray[Any]) -> NDArray[Any]:
            conditions = [a[0] - root, a[2], b[1], b[2] - level]
            return np.array([*conditions, b[0]] if lies else conditions)

        start = [alpha, state.contact] if lies else [alpha]
        guess = np.vstack([shape[0], shape[1], height - shape[2]])
        solution = solve_bvp(field, ends, x, guess, p=start, tol=1e-6, max_nodes=50000)
        assert solution.success
        return float(solution.p[0])

    back = 2e-3 * sine
    assert solve(height) == pytest.approx(alpha, rel=1e-4)
    assert (solve(height) - solve(height + back)) / back == pytest.approx(state.recovery, rel=0.06)


def press_layered_chain(psi: float, kappa_y: float, levels: NDArray[Any]) -> list[tuple[float, float, float]]:
    """Load, set and contact of a chain whose joints are layers with their own plastic strain, pressed step by step.

    Path dependent, with unloading and a wall no joint may pass: shares nothing with the model but its assumptions of an
    inextensible finger and an ideally plastic section.
    """
    links, layers = 40, 24
    step = 1.0 / links
    lower = np.tril(np.ones((links, links)))
    lengths = np.full(links, step)
    lengths[0] = 0.5 * step
    z = (np.arange(layers) + 0.5) / layers * 2.0 - 1.0
    scale = 1.0 / np.mean(z * z)
    plastic = np.zeros((links, layers))

    def strain(theta: NDArray[Any]) -> NDArray[Any]:
        curvature = -np.diff(theta, prepend=psi) / lengths
        trial: NDArray[Any] = curvature[:, None] * z - plastic
        return trial

    def potential(theta: NDArray[Any]) -> tuple[float, NDArray[Any]]:
        trial = strain(theta)
        excess = np.maximum(np.abs(trial) - kappa_y, 0.0)
        energy = scale * np.mean(0.5 * (trial**2 - excess**2), axis=1)
        moment = scale * np.mean(z * np.clip(trial, -kappa_y, kappa_y), axis=1)
        return float(energy @ lengths), np.append(moment[1:], 0.0) - moment

    theta, found = np.full(links, psi), []
    for chi in levels:
        height = (1.0 - chi) * math.sin(psi)
        wall = {
            "type": "ineq",
            "fun": lambda t, height=height: (height - step * lower @ np.sin(t)) / height,
            "jac": lambda t, height=height: -step * lower * np.cos(t) / height,
        }
        options = {"ftol": 1e-14, "maxiter": 800}
        theta = minimize(potential, theta - 0.002, jac=True, method="SLSQP", constraints=[wall], options=options).x
        touching = height - step * lower @ np.sin(theta) < 1e-5
        push = np.linalg.lstsq((step * lower * np.cos(theta))[touching].T, -potential(theta)[1])[0]
        trial = strain(theta)
        plastic += np.sign(trial) * np.maximum(np.abs(trial) - kappa_y, 0.0)
        released = psi - np.cumsum(scale * np.mean(z * plastic, axis=1) * lengths)
        left = step * float(np.sin(released).sum())
        found.append((float(push.sum()), math.sin(psi) - left, (np.nonzero(touching)[0][0] + 1) * step))
    return found


@pytest.mark.slow
@pytest.mark.parametrize(("degrees", "kappa_y"), [(30.0, 0.35), (15.0, 0.25)])
def test_yielded_finger_agrees_with_a_layered_chain(degrees: float, kappa_y: float) -> None:
    """At the tip within 0.5 %; lying down the model ignores unloading, and its load is low by up to 3 %."""
    psi = math.radians(degrees)
    levels = np.linspace(0.0, 0.9, 61)[1:]
    for chi, (load, left, contact) in zip(levels[4::5], press_layered_chain(psi, kappa_y, levels)[4::5], strict=True):
        state = press(psi, float(chi), kappa_y)
        lies = contact < 0.99
        assert state.load == pytest.approx(load, rel=0.03 if lies else 0.005)
        assert state.permanent_set == pytest.approx(left, abs=(0.008 if lies else 0.002) * chi * math.sin(psi))
        assert state.contact == pytest.approx(contact, abs=0.06)
        if lies:
            assert state.load <= load * 1.005


def test_a_very_weak_finger_turns_about_a_hinge_at_its_root() -> None:
    """Rigid-plastic limit: the plastic moment over the arm, and all of the deflection stays."""
    psi = math.radians(40.0)
    for chi in (0.2, 0.5, 0.8):
        height, kappa_y = (1.0 - chi) * math.sin(psi), 1e-5
        state = press(psi, chi, kappa_y)
        assert state.load == pytest.approx(1.5 * kappa_y / math.sqrt(1.0 - height**2), rel=1e-3)
        assert state.permanent_set == pytest.approx(chi * math.sin(psi), rel=2e-3)


@given(angles, compressions, st.floats(1e-3, 10.0))
def test_yielding_only_takes_away(psi: float, chi: float, kappa_y: float) -> None:
    elastic, state = press(psi, chi), press(psi, chi, kappa_y)
    assert all(math.isfinite(value) for value in state)
    assert 0.0 < state.load <= elastic.load * (1.0 + 3e-4)
    assert state.root_moment <= 1.5 + 1e-6
    assert -3e-4 * chi * math.sin(psi) <= state.permanent_set <= chi * math.sin(psi) * (1.0 + 3e-4)
    assert 0.0 < state.contact <= 1.0
    assert state.recovery > 0.0
    if elastic.elastic_root_curvature <= kappa_y:
        assert (state.permanent_set, state.load) == (0.0, elastic.load)


def test_no_contact_is_no_load() -> None:
    state = plain.finger(0.5, -0.01, 1.0)
    assert (state.load, state.tangent, state.recovery, state.permanent_set) == (0.0, 0.0, 0.0, 0.0)
    at_touch = plain.finger(0.5, 0.0, 1.0)
    assert at_touch.load == 0.0
    assert at_touch.tangent == pytest.approx(3.0 / math.cos(0.5) ** 2, rel=1e-3)


@given(st.floats(1e-6, 2e-3), st.floats(0.5, 2.0))
def test_scaling_laws(gland: float, factor: float) -> None:
    """Exact at any deflection: load ∝ t³ E c, and ∝ 1/L² at the same shape."""
    strip = {**STRIP, "S": math.inf}
    base = plain.cantilever_v(gland, **strip).line_load
    thicker = plain.cantilever_v(gland, **{**strip, "t": factor * strip["t"]})
    stiffer = plain.cantilever_v(gland, **{**strip, "E": factor * strip["E"]})
    longer = plain.cantilever_v(gland * factor, **{**strip, "L": factor * strip["L"]})
    fewer = plain.cantilever_v(gland, **{**strip, "c": 0.35})
    assert thicker.line_load == pytest.approx(base * factor**3, rel=1e-9)
    assert stiffer.line_load == pytest.approx(base * factor, rel=1e-9)
    assert longer.line_load == pytest.approx(base / factor**2, rel=1e-9)
    assert fewer.line_load == pytest.approx(base / 2.0, rel=1e-9)


@given(st.floats(0.5, 2.0))
def test_small_deflection_goes_with_the_inverse_cube_of_length(factor: float) -> None:
    strip = {**STRIP, "S": math.inf}
    base = plain.cantilever_v(1e-7, **strip).line_load
    longer = plain.cantilever_v(1e-7, **{**strip, "L": factor * strip["L"]}).line_load
    assert longer == pytest.approx(base / factor**3, rel=1e-4)


def test_no_node_of_the_tables_is_missing() -> None:
    with np.load(tables.FOLDER / "beams.npz") as made:
        assert all(np.isfinite(values).all() for values in made.values())


@pytest.mark.parametrize("degrees", [1.0, 5.0, 30.0])
def test_a_finger_that_just_yields_at_a_slight_compression_has_a_tangent(degrees: float) -> None:
    psi = math.radians(degrees)
    deflection = 0.01 * math.sin(psi)
    elastic = at(psi, deflection, math.inf)
    for slack in (0.9999, 0.995, 0.985):
        state = at(psi, deflection, slack * elastic.elastic_root_curvature)
        assert state.root_moment > 1.0
        assert 0.98 * elastic.tangent < state.tangent < 1.001 * elastic.tangent


def test_table_is_what_the_solver_gives(tmp_path: Path) -> None:
    # every so many nodes of each axis: the same numbers as in the whole table, in a hundredth of the time
    counts = finger_table.Axes(2, 5, 3, 5, 7, 7)
    whole = finger_table.AXES
    step = [(axis[2] - 1) // (count - 1) for axis, count in zip(whole, counts, strict=True)]
    with np.load(tables.FOLDER / "beams.npz") as made:
        committed = dict(made)
    few = finger_table.Axes(*((*axis[:2], count) for axis, count in zip(whole, counts, strict=True)))
    finger_table.build(tmp_path / "beams.npz", few)
    angle, root, plastic_angle, plastic_root, slack, height = (slice(None, None, n) for n in step)
    with np.load(tmp_path / "beams.npz") as rebuilt:
        assert rebuilt["tip"] == pytest.approx(committed["tip"][angle, root], rel=1e-8)
        assert rebuilt["lay_down"] == pytest.approx(committed["lay_down"][angle], rel=1e-8)
        some = committed["plastic_tip"][plastic_angle, plastic_root, slack]
        assert rebuilt["plastic_tip"] == pytest.approx(some, rel=3e-6, abs=1e-9)
        some = committed["plastic_lay_down"][plastic_angle, height]
        assert rebuilt["plastic_lay_down"] == pytest.approx(some, rel=3e-6, abs=1e-9)


@pytest.mark.parametrize(("degrees", "chi", "kappa_y"), [(10.0, 0.8, 0.25), (20.0, 0.85, 0.5), (30.0, 0.9, 0.8)])
def test_tangent_of_a_yielded_finger_that_lies_down_is_the_slope_of_its_load(
    degrees: float, chi: float, kappa_y: float
) -> None:
    psi, step = math.radians(degrees), 1e-5
    deflection = chi * math.sin(psi)
    state = at(psi, deflection, kappa_y)
    assert state.contact < 1.0 < state.root_moment
    below, above = (plain.finger(psi, deflection + d, kappa_y).load for d in (-step, step))
    assert state.tangent == pytest.approx((above - below) / (2.0 * step), rel=5e-3)


@pytest.mark.parametrize(("degrees", "turn"), [(20.0, 5.0), (45.0, 30.0)])
def test_elastic_plastic_strip_below_yield_is_the_elastic_one(degrees: float, turn: float) -> None:
    psi, rotation = math.radians(degrees), math.radians(turn)
    elastic = strip.tip_contact(psi, rotation)
    root = elastic.load * elastic.arm
    state = strip.elastic_plastic(psi, rotation, elastic.load, 1.25 * root)
    assert float(state.root_moment) == pytest.approx(0.8, rel=1e-9)
    assert float(state.length) == pytest.approx(1.0, rel=1e-9)
    assert float(state.height) == pytest.approx(elastic.height, rel=1e-9)
    assert float(state.released_height) == pytest.approx(math.sin(psi), rel=1e-9)
    assert float(state.released_angle) == pytest.approx(psi, rel=1e-9)


@pytest.mark.parametrize(
    ("psi", "deflection", "kappa_y"),
    [
        (math.radians(0.999), 0.01, 1.0),
        (math.radians(60.001), 0.1, 1.0),
        (0.5, 0.951 * math.sin(0.5), 1.0),
        (0.5, 0.1, 0.0),
        (0.5, 0.1, -1.0),
        (math.nan, 0.1, 1.0),
        (0.5, math.nan, 1.0),
        (0.5, 0.1, math.nan),
        (0.5, math.inf, 1.0),
    ],
)
def test_beyond_the_tables_nothing_is_known(psi: float, deflection: float, kappa_y: float) -> None:
    assert all(math.isnan(value) for value in plain.finger(psi, deflection, kappa_y))


def test_the_ends_of_the_tables_are_known() -> None:
    for row in ((math.radians(1.0), 0.01, 1.0), (math.radians(60.0), 0.1, 1.0), (0.5, 0.95 * math.sin(0.5), 0.05)):
        assert all(math.isfinite(value) for value in plain.finger(*row)), row


def test_all_branches_are_met() -> None:
    """Elastic and yielded, touched at the tip and lying down, without contact and outside."""
    met = set()
    for psi, delta, kappa_y in FINGER:
        load = plain.finger(psi, delta, kappa_y).load
        if load > 0.0:
            state = at(psi, delta, kappa_y)
            met.add((state.contact < 1.0, state.root_moment > 1.0))
        else:
            met.add((load == 0.0, math.isnan(load)))
    assert met == {(False, False), (False, True), (True, False), (True, True)}
    loads = [plain.finger(*row).load for row in FINGER]
    assert any(map(math.isnan, loads))
    assert 0.0 in loads


# --- V energizer -----------------------------------------------------------------------------------------------------


def test_line_load_is_statics_of_two_fingers_in_series() -> None:
    """Small deflection: q = c 3 E I' delta/(L³ cos²psi) with delta half of the gland's."""
    gland = 1e-6
    v = plain.cantilever_v(gland, **STRIP)
    leg = 0.7 * 3.0 * STRIP["E"] * STRIP["t"] ** 3 / 12.0 / (STRIP["L"] ** 3 * math.cos(0.4) ** 2)
    assert v.line_load == pytest.approx(leg * gland / 2.0, rel=1e-3)
    assert v.loading_stiffness == pytest.approx(leg / 2.0, rel=1e-3)
    assert v.recovery_stiffness == pytest.approx(v.loading_stiffness, rel=1e-12)
    moment = v.line_load / 0.7 * STRIP["L"] * math.cos(0.4)
    assert v.root_stress == pytest.approx(6.0 * moment / STRIP["t"] ** 2, rel=1e-3)


def test_load_beyond_yield_levels_off_at_the_plastic_moment() -> None:
    gland = np.linspace(1e-6, 2.2e-3, 200)
    v = plain.cantilever_v(gland, **STRIP)
    yielded = v.root_stress > STRIP["S"]
    assert (v.permanent_set[yielded] > 0.0).any()
    assert (v.permanent_set[~yielded] == 0.0).all()
    kappa_y = 2.0 * STRIP["S"] * STRIP["L"] / (STRIP["E"] * STRIP["t"])
    state = press(np.full_like(gland, 0.4), 0.5 * gland / (STRIP["L"] * math.sin(0.4)), kappa_y)
    hinge = state.root_moment > 1.49
    assert hinge.sum() > 20
    plastic = 0.7 * STRIP["S"] * STRIP["t"] ** 2 / 4.0 / (state.arm * STRIP["L"])
    np.testing.assert_allclose(v.line_load[hinge], plastic[hinge], rtol=0.01)


# --- bending between beam and plate ----------------------------------------------------------------------------------


@pytest.mark.parametrize("width", [0.05e-3, 40e-3])
def test_bending_modulus_has_the_ends_of_the_strip_equation(width: float) -> None:
    """Transverse profile w of a strip bent to a radius R: D w'''' + E t w/R² = 0, free edges; moment by integration."""
    t, radius, nu, modulus = 0.1e-3, 8e-3, 0.3, 200e9
    rigidity = modulus * t**3 / (12.0 * (1.0 - nu**2))
    half = 0.5 * width
    scale = nu * half**2 / radius
    y = np.linspace(0.0, 1.0, 400)
    stiff = modulus * t / radius**2 * half**4 / rigidity
    solution = solve_bvp(
        lambda _, w: np.vstack([w[1], w[2], w[3], -stiff * w[0]]),
        lambda a, b: np.array([a[1], a[3], b[2] + nu * half**2 / (radius * scale), b[3]]),
        y,
        np.zeros((4, 400)),
        tol=1e-8,
        max_nodes=50000,
    )
    assert solution.success
    w = solution.sol(y) * scale
    moment = rigidity * (1.0 / radius + nu * w[2] / half**2) + modulus * t * w[0] ** 2 / radius
    mean = float(cumulative_simpson(moment, x=y)[-1]) * radius * 12.0 / t**3
    # a wide strip is a plate but for its two edges
    blend = 0.0 if width < 1e-3 else 1.0 - 1.5 * math.sqrt(radius * t) / ((3.0 * (1.0 - nu**2)) ** 0.25 * width)
    assert plain.bending_modulus(modulus, nu, blend) == pytest.approx(mean, rel=1e-5)
