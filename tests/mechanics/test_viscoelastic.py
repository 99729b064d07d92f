"""Relaxation: its lives, its working, its limits and the formulas that it comes from."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from glandwise.mechanics import viscoelastic
from glandwise.numerics.arithmetic import FUNCTIONS
from glandwise.numerics.compiled import compiled
from glandwise.numerics.trace import Working, traced
from glandwise.twofold import viscoelastic as old

from tests.mechanics.support import (
    Record,
    alike,
    as_before,
    draws,
    hostile,
    leaves,
    lives_agree,
    relaxation,
    steps_hold,
)

SHIFT = draws((200.0, 550.0), (280.0, 310.0), (0.0, 2e5))
SERIES = [
    relaxation(0.6, [0.2, 0.1, 0.1], [1e-3, 10.0, 1e6]),
    relaxation(0.35, [0.15, 0.15, 0.15, 0.1, 0.1], [0.1, 1e2, 1e4, 1e6, 1e8], 303.0, 6e4),
    relaxation(0.9, [0.1], [50.0], activation_energy=0.0),
    relaxation(1.0, [], []),
]
HELD = [
    (SERIES[at % len(SERIES)], temperature, 10.0**time)
    for at, (temperature, time) in enumerate(draws((200.0, 550.0), (-4.0, 9.0)))
]


def test_lives_agree() -> None:
    for formula, rows in ((viscoelastic.shift_factor, SHIFT), (viscoelastic.relaxed_share, HELD)):
        lives_agree(formula, rows)
        lives_agree(formula, hostile(rows[:40]))


def test_a_reader_can_recompute_each_step() -> None:
    steps_hold(viscoelastic.shift_factor, SHIFT[:50])
    steps_hold(viscoelastic.shift_factor, hostile(SHIFT[:10]))
    for working in steps_hold(viscoelastic.relaxed_share, HELD[:50]):
        last = working.steps[-1]
        words = working.words(last)
        alike(eval(words, {"__builtins__": {}}, {**FUNCTIONS, **working.inputs(last)}), last.value, words)


def test_a_working_names_what_the_share_rests_on() -> None:
    working = Working(traced(viscoelastic.relaxed_share)(*leaves(viscoelastic.relaxed_share, HELD[1])))
    symbols = {working.symbol(step) for step in working.steps}
    assert symbols == {"g_inf", "T", "T_0", "T_held", "t", "T_ref", "H_a", "R", "a_max", "a_T", "t_red", "f_t"}


@pytest.mark.parametrize("series", SERIES)
def test_at_first_all_is_there_and_at_last_what_does_not_relax(series: Record) -> None:
    share = compiled(viscoelastic.relaxed_share)
    assert share(series.packed, 350.0, 0.0) == pytest.approx(1.0, rel=1e-15)
    assert share(series.packed, 350.0, math.inf) == series.packed.equilibrium
    assert math.isnan(share(series.packed, 350.0, -1.0))


def test_near_absolute_zero_nothing_relaxes() -> None:
    share = compiled(viscoelastic.relaxed_share)
    assert [share(SERIES[0].packed, T, 1e12) for T in (-300.0, 0.0, 0.5)] == [pytest.approx(1.0, rel=1e-15)] * 3
    assert compiled(viscoelastic.shift_factor)(1.0, 296.0, 8e4) == viscoelastic.FROZEN


def test_the_shift_has_no_value_without_a_reference() -> None:
    assert all(math.isnan(compiled(viscoelastic.shift_factor)(300.0, bad, 8e4)) for bad in (0.0, -1.0, math.nan))


# goes away with the old functions
def _old_shift(T: float, T_ref: float, H_a: float) -> float:
    return min(old.arrhenius_shift(max(T, 1.0), T_ref, H_a), 1e30)


def _old_share(series: Record, T: float, t: float) -> Any:
    p = series.packed
    shift = _old_shift(T, float(p.reference_temperature), float(p.activation_energy))
    branches, times = p.shares[: p.n].tolist(), p.times[: p.n].tolist()
    return old.relaxation_modulus(float(np.divide(t, shift)), float(p.equilibrium), branches, times)


def test_as_before() -> None:
    as_before(viscoelastic.shift_factor, _old_shift, SHIFT)
    as_before(viscoelastic.relaxed_share, _old_share, HELD)
    assert viscoelastic.GAS_CONSTANT == old.GAS_CONSTANT
