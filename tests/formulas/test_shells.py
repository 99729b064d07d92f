"""Lip as a shell: its lives, its working and the formulas that it comes from."""

from __future__ import annotations

import itertools
import math
from typing import Any

import numpy as np
import pytest
from glandwise.formulas import shells
from glandwise.mechanics import shells as old
from glandwise.numerics.arithmetic import FUNCTIONS
from glandwise.numerics.compiled import compiled
from glandwise.numerics.docstring import declared
from glandwise.numerics.trace import Working, calm, leaf, traced

SPANS = {"r": (3e-3, 0.3), "t": (2e-4, 4e-3), "L": (5e-4, 0.08), "nu": (-0.3, 0.49), "rho": (500.0, 4000.0)}
HOSTILE = (0.0, -1.0, math.nan, math.inf, -math.inf, 1e300, 1e-300, 1.0)
FORMULAS = (shells.length_parameter, shells.lip_shell, shells.moving_mass, shells.held_root_share)


def sensible(formula: Any, count: int = 200) -> list[tuple[float, ...]]:
    random = np.random.default_rng(5)
    spans = [SPANS[name] for name in declared(formula).given]
    return [tuple(random.uniform(low, high) for low, high in spans) for _ in range(count)]


def hostile(formula: Any) -> list[tuple[float, ...]]:
    rows = itertools.cycle(sensible(formula, 20))
    one = [
        (*row[:i], bad, *row[i + 1 :]) for bad in HOSTILE for i, row in zip(range(len(next(rows))), rows, strict=False)
    ]
    return one + [(bad,) * len(one[0]) for bad in HOSTILE]


def flat(result: Any) -> list[float]:
    return [float(x) for x in result] if isinstance(result, tuple) else [float(result)]


def told(formula: Any, row: tuple[float, ...]) -> Any:
    given = declared(formula).given.values()
    return traced(formula)(*(leaf(x, q, "given") for x, q in zip(row, given, strict=True)))


@pytest.mark.parametrize("formula", FORMULAS)
def test_lives_agree(formula: Any) -> None:
    for row in sensible(formula) + hostile(formula):
        with np.errstate(all="ignore"):
            expected = flat(calm(formula)(*map(np.float64, row)))
        for found in (compiled(formula)(*row), told(formula, row)):
            np.testing.assert_allclose(flat(found), expected, rtol=1e-12, err_msg=str(row))


@pytest.mark.parametrize("formula", FORMULAS)
def test_a_reader_can_recompute_each_step(formula: Any) -> None:
    for row in sensible(formula, 60):
        working = Working(told(formula, row))
        for step in working.steps:
            assert not step.fault
            # the closed form of an end function loses digits for a short lip and overflows for a long one
            equation, _, by = step.words.partition(", ") if step.words else (working.equation(step), "", "")
            numbers = working.inputs(step) or {"": step.value}
            if by and not 0.3 < numbers["x"] < 100.0:
                continue
            value = eval(equation, {"__builtins__": {}}, {**FUNCTIONS, **numbers})
            np.testing.assert_allclose(value, step.value, rtol=1e-10 if by else 1e-12, err_msg=equation)


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
    before = {
        shells.lip_shell: _old_shell,
        shells.moving_mass: old.lip_effective_mass,
        shells.held_root_share: old.held_root_share,
    }
    for formula, function in before.items():
        for row in sensible(formula):
            np.testing.assert_allclose(flat(compiled(formula)(*row)), flat(function(*row)), rtol=1e-12)
