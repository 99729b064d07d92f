"""Relaxation: its lives, its working, its limits and the formulas that it comes from."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from glandwise.mechanics import following, viscoelastic
from glandwise.numerics.arithmetic import FUNCTIONS
from glandwise.numerics.compiled import compiled
from glandwise.numerics.over import Over
from glandwise.numerics.trace import Working, traced
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.mechanics.support import (
    Record,
    alike,
    draws,
    hostile,
    leaves,
    lives_agree,
    relaxation,
    steps_hold,
)

plain = Over(viscoelastic)
"""Its formulas over arrays."""


def modulus_after(t: float, equilibrium: float, moduli: Any, times: Any) -> float:
    """Relaxation modulus of branches with moduli of their own."""
    return float(compiled(viscoelastic.relaxed_series)(equilibrium, float(t), relaxation(1.0, moduli, times).packed))


def complex_modulus(omega: float, equilibrium: float, moduli: Any, times: Any) -> tuple[float, float]:
    """Storage and loss modulus, as the following of a runout takes them."""
    series = relaxation(1.0, moduli, times).packed
    storage, loss = compiled(following.storage_and_loss)(omega, equilibrium, 1.0, 1.0, series)
    return float(storage), float(loss)


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


# synthetic, not PTFE
EQUILIBRIUM, MODULI, TIMES = 250.0, [100.0, 80.0, 70.0], [1e-3, 0.1, 10.0]


branches = st.lists(st.tuples(st.floats(0.0, 10.0), st.floats(-6.0, 6.0)), min_size=0, max_size=6).map(
    lambda pairs: ([modulus for modulus, _ in pairs], [10.0**exponent for _, exponent in pairs])
)


@pytest.mark.parametrize("omega", [0.3, 7.0, 200.0])
def test_complex_modulus_is_the_transform_of_relaxation(omega: float) -> None:
    """E' - E_inf = ω ∫ (E(t) - E_inf) sin ωt dt, E'' likewise with cos, by numerical Fourier integrals."""
    from scipy.integrate import quad

    def relaxing(t: float) -> float:
        return float(modulus_after(t, EQUILIBRIUM, MODULI, TIMES)) - EQUILIBRIUM

    result = complex_modulus(omega, EQUILIBRIUM, MODULI, TIMES)
    for weight, expected in (("sin", result[0] - EQUILIBRIUM), ("cos", result[1])):
        # many short panels to 30 longest relaxation times, then nothing is left
        edges = np.concatenate([[0.0], np.geomspace(1e-4, 300.0, 40)])
        total = sum(
            quad(relaxing, a, b, weight=weight, wvar=omega, epsabs=1e-9, limit=200)[0] for a, b in pairwise(edges)
        )
        assert omega * total == pytest.approx(expected, rel=1e-6)


def test_step_and_sine_by_time_integration() -> None:
    """Maxwell branches integrated in time: load after a step, and in-phase and quadrature parts of a sine."""
    from scipy.integrate import solve_ivp

    tau, moduli = np.array(TIMES), np.array(MODULI)
    step = solve_ivp(lambda _, v: (1 - v) / tau, (0, 1.0), np.zeros(3), method="Radau", rtol=1e-9, atol=1e-12)
    load = EQUILIBRIUM + moduli @ (1 - step.y[:, -1])
    assert load == pytest.approx(modulus_after(1.0, EQUILIBRIUM, MODULI, TIMES), rel=1e-6)

    omega, times, values = 60.0, np.array([1e-3, 0.02]), np.array([100.0, 80.0])
    period = 2 * math.pi / omega
    run = solve_ivp(
        lambda t, v: (math.sin(omega * t) - v) / times,
        (0, 12 * period),
        np.zeros(2),
        method="Radau",
        rtol=1e-9,
        atol=1e-11,
        dense_output=True,
    )
    t = np.linspace(11 * period, 12 * period, 2001)[:-1]
    strain = np.sin(omega * t)
    stress = EQUILIBRIUM * strain + values @ (strain - run.sol(t))
    storage, loss = 2 * np.mean(stress * strain), 2 * np.mean(stress * np.cos(omega * t))
    expected = complex_modulus(omega, EQUILIBRIUM, values.tolist(), times.tolist())
    assert (storage, loss) == pytest.approx(tuple(expected), rel=1e-5)


def test_standard_solid_peak_is_the_maximum() -> None:
    from scipy.optimize import minimize_scalar

    found = minimize_scalar(
        lambda u: -np.divide(*complex_modulus(math.exp(u), 300.0, [200.0], [0.01])[::-1]),
        bounds=(0.0, 10.0),
        method="bounded",
        options={"xatol": 1e-10},
    )
    assert -found.fun == pytest.approx(100.0 / math.sqrt(300.0 * 500.0), rel=1e-12)
    assert math.exp(found.x) == pytest.approx(math.sqrt(300.0 / 500.0) / 0.01, rel=1e-6)


@settings(max_examples=100)
@given(branches, st.floats(0.1, 10.0), st.floats(-6.0, 6.0), st.floats(1.001, 100.0))
def test_invariants(
    series: tuple[list[float], list[float]], equilibrium: float, exponent: float, factor: float
) -> None:
    moduli, times = series
    glassy = equilibrium + sum(moduli)
    t = 10.0**exponent
    now, later = (modulus_after(s, equilibrium, moduli, times) for s in (t, t * factor))
    slack = 1e-12 * glassy
    assert equilibrium - slack <= later <= now + slack <= glassy + 2 * slack
    slow, fast = (complex_modulus(w, equilibrium, moduli, times) for w in (t, t * factor))
    assert equilibrium - slack <= slow[0] <= fast[0] + slack <= glassy + 2 * slack
    assert slow[1] >= 0.0
    # magnitude rises with frequency: what makes the fastest shaft the hardest to follow
    assert math.hypot(*slow) <= math.hypot(*fast) * (1 + 1e-12)
    assert modulus_after(math.inf, equilibrium, moduli, times) == pytest.approx(equilibrium)
    assert modulus_after(0.0, equilibrium, moduli, times) == pytest.approx(glassy)


@settings(max_examples=50)
@given(branches, st.floats(-4.0, 4.0), st.floats(240.0, 500.0))
def test_shift_is_a_change_of_clock(series: tuple[list[float], list[float]], exponent: float, T: float) -> None:
    """Time over the shift is the same as every relaxation time multiplied by it."""
    moduli, times = series
    shift = plain.shift_factor(T, 296.0, 8e4)
    share = plain.relaxed_share(relaxation(1.0, moduli, times).packed, T, 10.0**exponent)
    moved = modulus_after(10.0**exponent, 1.0, moduli, [tau * shift for tau in times])
    assert share == pytest.approx(moved, rel=1e-9)


def test_arrhenius_shift() -> None:
    assert plain.shift_factor(300.0, 300.0, 80e3) == 1.0
    # a rate that doubles from 298 K to 308 K needs 52.9 kJ/mol (textbook rule of thumb)
    assert 1 / plain.shift_factor(308.0, 298.0, 52.9e3) == pytest.approx(2.0, rel=2e-3)
    hot, cold = plain.shift_factor(350.0, 300.0, 80e3), plain.shift_factor(250.0, 300.0, 80e3)
    assert hot < 1.0 < cold
    # chaining reference temperatures
    assert plain.shift_factor(350.0, 320.0, 80e3) * plain.shift_factor(320.0, 300.0, 80e3) == pytest.approx(hot)
    gas = 1.380649e-23 * 6.02214076e23
    expected = math.exp(80.0e3 / gas * (1.0 / 350.0 - 1.0 / 296.15))
    assert plain.shift_factor(350.0, 296.15, 80.0e3) == pytest.approx(expected, rel=1e-12)
