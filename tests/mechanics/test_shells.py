"""Lip as a shell: its lives, its working and the formulas that it comes from."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from glandwise.mechanics import shells
from glandwise.numerics.arithmetic import FUNCTIONS
from glandwise.numerics.compiled import compiled
from glandwise.twofold import shells as old

from tests.mechanics.support import alike, as_before, draws, hostile, lives_agree, steps_hold

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


# goes away with the old functions
def _old_shell(r: float, t: float, L: float, nu: float) -> tuple[float, ...]:
    unit = old.lip_response(r, t, L, 1.0, nu, 0.0, 1.0)
    return unit.stiffness, unit.pressure_coefficient, abs(unit.clamp_bending_stress)


def test_as_before() -> None:
    as_before(shells.lip_shell, _old_shell, LIPS)
    as_before(shells.moving_mass, old.lip_effective_mass, MASSES)
    as_before(shells.held_root_share, old.held_root_share, LIPS)
