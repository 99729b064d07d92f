"""The canted coil as plain formulas."""

from __future__ import annotations

import math

import numpy as np
import pytest
from glandwise.mechanics import rods
from glandwise.numerics.compiled import compiled
from glandwise.numerics.trace import Working
from glandwise.twofold import rods as old

from tests.mechanics.support import as_before, draws, hostile, lives_agree, steps_hold, told

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
    (rods.canted_coil_load, LOAD),
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


# goes away with the old functions
def _old_turn(delta: float, p: float, a: float, b: float, beta: float, nu: float) -> tuple[float, ...]:
    wire = (64.0 / math.pi) ** 0.25  # of unit rigidity
    state = old.canted_coil_load(delta, p, a, b, beta, wire, 1.0, 1.0 / (2.0 * (1.0 + nu)))
    return state.share_of_linear, state.share_of_linear * state.flatness, state.equivalent_moment


def _old_load(*row: float) -> tuple[float, ...]:
    Delta, p, w, h, beta, d, E, nu, f_r = row
    shear = E / (2.0 * (1.0 + nu))
    state = old.canted_coil_load(Delta, p, 0.5 * (w - d), 0.5 * (h - d), beta, d, E, shear, f_r)
    return state.load_per_length, state.rate_per_length, state.equivalent_stress


@pytest.mark.parametrize(
    "formula,before,rows",
    [
        (rods.canted_coil_rate, old.canted_coil_linear_rate, RATE),
        (rods.canted_coil, _old_turn, TURN),
        (rods.canted_coil_load, _old_load, LOAD),
    ],
    ids=lambda item: getattr(item, "__name__", ""),
)
def test_nothing_changed(formula, before, rows) -> None:
    as_before(formula, before, rows, known=0.1)


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
