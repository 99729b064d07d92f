"""V fingers as plain formulas."""

from __future__ import annotations

import math

import numpy as np
import pytest
from glandwise.mechanics import beams
from glandwise.numerics.compiled import compiled
from glandwise.numerics.trace import Working, traced
from glandwise.twofold import beams as old

from tests.mechanics.support import as_before, draws, hostile, leaves, lives_agree, steps_hold

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


def test_all_branches_are_met() -> None:
    """Elastic and yielded, touched at the tip and lying down, without contact and outside."""
    met = set()
    for psi, delta, kappa_y in FINGER:
        state = old.finger(psi, delta, kappa_y)
        met.add((state.contact < 1.0, state.root_moment > 1.0, state.load == 0.0, math.isnan(state.load)))
    assert len(met) == 6


# goes away with the old functions
def _old_finger(*row: float) -> tuple[float, ...]:
    state = old.finger(*row)
    return state.load, state.tangent, state.recovery, state.elastic_root_curvature, state.permanent_set


def _old_spring(*row: float) -> tuple[float, ...]:
    v = old.cantilever_v(*row)
    return v.line_load, v.gland_stiffness, v.recovery_stiffness, v.root_stress, 2.0 * v.permanent_set


@pytest.mark.parametrize(
    "formula,before,rows",
    [
        (beams.finger, _old_finger, FINGER),
        (beams.bending_modulus, old.bending_modulus, BENDING),
        (beams.cantilever_v, _old_spring, SPRING),
    ],
    ids=lambda item: getattr(item, "__name__", ""),
)
def test_nothing_changed(formula, before, rows) -> None:
    as_before(formula, before, rows, apart=[4] if before is not old.bending_modulus else [])


def test_nothing_changed_of_the_set() -> None:
    """A loss of height is a difference of heights: it is as sure as they are."""
    finger, met = compiled(beams.finger), 0
    for psi, delta, kappa_y in FINGER:
        found, before = finger(psi, delta, kappa_y).permanent_set, old.finger(psi, delta, kappa_y).permanent_set
        np.testing.assert_allclose(found, before, rtol=1e-12, atol=1e-14, equal_nan=True)
        met += found > 0.0
    assert met > 100


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
