"""Springs and O-rings as plain formulas."""

from __future__ import annotations

import math

import pytest
from glandwise.mechanics import springs
from glandwise.numerics.docstring import declared
from glandwise.numerics.trace import Working, traced
from glandwise.twofold import springs as old

from tests.mechanics.support import as_before, draws, hostile, leaves, lives_agree, steps_hold

SHEAR = draws((6e10, 2.2e11), (0.2, 0.45))
HELIX = draws((1e-4, 1e-3), (1.2e-3, 8e-3), (6e10, 9e10), (20.0, 900.0))
STRESS = draws((0.0, 30.0), (1e-4, 1e-3), (1.2e-3, 8e-3), (1.0, 1.5))
GARTER = draws(
    (1e-4, 5e-4), (4e-4, 4e-3), (6e10, 9e10), (50.0, 900.0), (0.15, 0.25), (0.0, 5.0), (0.02, 0.05), (0.02, 0.04)
)
MASS = draws((7000.0, 9000.0), (1e-4, 5e-4), (1e-3, 4e-3), (50.0, 900.0), (0.01, 0.2))
INDEX = draws((1e-4, 1e-3), (1e-4, 8e-3))
FACTOR = draws((-1.0, 15.0))
HARDNESS = draws((-10.0, 110.0))
O_RING = draws((1e-3, 8e-3), (-0.1, 0.4), (2e6, 2e7), (0.2, 0.35))

CASES = [
    (springs.shear_modulus, SHEAR),
    (springs.spring_index, INDEX),
    (springs.en13906_factor, FACTOR),
    (springs.helical_rate, HELIX),
    (springs.helical_shear_stress, STRESS),
    (springs.garter_ring, GARTER),
    (springs.garter_mass, MASS),
    (springs.gent_modulus, HARDNESS),
    (springs.o_ring_load, O_RING),
]
BY_NAME = pytest.mark.parametrize("formula,rows", CASES, ids=[formula.__name__ for formula, _ in CASES])


@BY_NAME
def test_lives_agree(formula, rows) -> None:
    lives_agree(formula, rows)
    lives_agree(formula, hostile(rows[:40]))


@BY_NAME
def test_a_reader_can_recompute_each_step(formula, rows) -> None:
    steps_hold(formula, rows[:50])
    steps_hold(formula, hostile(rows[:10]))


# goes away with the old functions
def _old_garter(*row: float) -> tuple[float, ...]:
    ring = old.garter_ring(*row)
    return ring.contact_line_load, ring.stiffness, ring.shear_stress


def _old_o_ring(*row: float) -> tuple[float, ...]:
    ring = old.oring_load(*row)
    return ring.line_load, ring.stiffness, ring.mean_pressure


@pytest.mark.parametrize(
    "formula,before,rows",
    [
        (springs.spring_index, old.spring_index, INDEX),
        (springs.en13906_factor, old.en13906_factor, FACTOR),
        (springs.helical_rate, old.helical_rate, HELIX),
        (springs.helical_shear_stress, old.helical_shear_stress, STRESS),
        (springs.garter_ring, _old_garter, GARTER),
        (springs.gent_modulus, old.gent_modulus, HARDNESS),
        (springs.o_ring_load, _old_o_ring, O_RING),
    ],
    ids=lambda item: getattr(item, "__name__", ""),
)
def test_nothing_changed(formula, before, rows) -> None:
    as_before(formula, before, rows)


def test_a_slack_garter_says_so() -> None:
    row = (3e-4, 1.6e-3, 7e10, 200.0, 0.3, 1.0, 0.03, 0.03)
    slack = traced(springs.garter_ring)(*leaves(springs.garter_ring, row))
    assert [float(value) for value in slack] == [0.0, 0.0, 0.0]
    titles = [step.title for step in Working(slack).steps]
    assert "tension in the garter, which is slack" in titles
    because = {Working(slack).because(step) for step in Working(slack).steps}
    assert "x <= 0" in because


def test_a_garter_tells_its_equations() -> None:
    row = (3e-4, 1.6e-3, 7e10, 200.0, 0.15, 1.0, 0.03, 0.028)
    ring = traced(springs.garter_ring)(*leaves(springs.garter_ring, row))
    working = Working(ring)
    told = {working.symbol(step): working.equation(step) for step in working.steps}
    assert told["k"] == "G * d**4 / (8 * D**3 * N)"
    assert told["x"] == "2 * pi * r_s - L_0"
    assert told["F"] == "F_0 + k * x"
    assert told["q"] == "F / r"
    assert told["k_q"] == "(2 * pi * k - q) / r"
    assert told["tau"] == "K * 8 * F * D / (pi * d**3)"


def test_the_load_of_an_o_ring_beyond_its_limit_is_not_known() -> None:
    o_ring = traced(springs.o_ring_load)(*leaves(springs.o_ring_load, (3e-3, 0.31, 8e6, 0.3)))
    assert all(map(math.isnan, o_ring))
    assert Working(o_ring).because(o_ring[0].tree) == "C > C_max"
    assert [q.unit for q in declared(springs.o_ring_load).results] == ["N/m", "N/m²", "Pa"]
