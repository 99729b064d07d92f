"""Generalised Maxwell series: integral transforms, time integration, limits, shift laws, shapes."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from glandwise.twofold import viscoelastic as ve
from hypothesis import given, settings
from hypothesis import strategies as st

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
        return float(ve.relaxation_modulus(t, EQUILIBRIUM, MODULI, TIMES)) - EQUILIBRIUM

    result = ve.complex_modulus(omega, EQUILIBRIUM, MODULI, TIMES)
    for weight, expected in (("sin", result.storage - EQUILIBRIUM), ("cos", result.loss)):
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
    assert load == pytest.approx(ve.relaxation_modulus(1.0, EQUILIBRIUM, MODULI, TIMES), rel=1e-6)

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
    expected = ve.complex_modulus(omega, EQUILIBRIUM, values.tolist(), times.tolist())
    assert (storage, loss) == pytest.approx(tuple(expected), rel=1e-5)


@settings(max_examples=100, deadline=None)
@given(branches, st.floats(0.1, 10.0), st.floats(-6.0, 6.0), st.floats(1.001, 100.0))
def test_invariants(
    series: tuple[list[float], list[float]], equilibrium: float, exponent: float, factor: float
) -> None:
    moduli, times = series
    glassy = ve.instantaneous_modulus(equilibrium, moduli)
    t = 10.0**exponent
    now, later = (ve.relaxation_modulus(s, equilibrium, moduli, times) for s in (t, t * factor))
    slack = 1e-12 * glassy
    assert equilibrium - slack <= later <= now + slack <= glassy + 2 * slack
    slow, fast = (ve.complex_modulus(w, equilibrium, moduli, times) for w in (t, t * factor))
    assert equilibrium - slack <= slow.storage <= fast.storage + slack <= glassy + 2 * slack
    assert slow.loss >= 0.0
    # magnitude rises with frequency: what makes the fastest shaft the hardest to follow
    assert math.hypot(*slow) <= math.hypot(*fast) * (1 + 1e-12)
    assert ve.relaxation_modulus(math.inf, equilibrium, moduli, times) == pytest.approx(equilibrium)
    assert ve.relaxation_modulus(0.0, equilibrium, moduli, times) == pytest.approx(glassy)
    assert 0.0 < ve.relaxed_load_ratio(t, 1.0, equilibrium, moduli, times) <= 1.0 + 1e-12


@settings(max_examples=50, deadline=None)
@given(branches, st.floats(-4.0, 4.0), st.floats(-3.0, 3.0))
def test_shift_is_a_change_of_clock(series: tuple[list[float], list[float]], exponent: float, shift: float) -> None:
    """Time over a_T is the same as every relaxation time multiplied by it; frequency likewise."""
    moduli, times = series
    t, a = 10.0**exponent, 10.0**shift
    moved = [tau * a for tau in times]
    assert ve.relaxed_load_ratio(t, a, 1.0, moduli, times) == pytest.approx(
        ve.relaxed_load_ratio(t, 1.0, 1.0, moduli, moved), rel=1e-9
    )
    assert ve.complex_modulus(t * a, 1.0, moduli, times) == pytest.approx(
        ve.complex_modulus(t, 1.0, moduli, moved), rel=1e-9
    )


def test_standard_solid_peak_is_the_maximum() -> None:
    from scipy.optimize import minimize_scalar

    peak = ve.standard_solid_loss_peak(300.0, 200.0, 0.01)
    found = minimize_scalar(
        lambda u: -ve.loss_factor(math.exp(u), 300.0, [200.0], [0.01]),
        bounds=(0.0, 10.0),
        method="bounded",
        options={"xatol": 1e-10},
    )
    assert peak.loss_factor == pytest.approx(-found.fun, rel=1e-12)
    assert peak.angular_frequency == pytest.approx(math.exp(found.x), rel=1e-6)


def test_arrhenius_shift() -> None:
    assert ve.arrhenius_shift(300.0, 300.0, 80e3) == 1.0
    # a rate that doubles from 298 K to 308 K needs 52.9 kJ/mol (textbook rule of thumb)
    assert 1 / ve.arrhenius_shift(308.0, 298.0, 52.9e3) == pytest.approx(2.0, rel=2e-3)
    hot, cold = ve.arrhenius_shift(350.0, 300.0, 80e3), ve.arrhenius_shift(250.0, 300.0, 80e3)
    assert hot < 1.0 < cold
    # chaining reference temperatures
    assert ve.arrhenius_shift(350.0, 320.0, 80e3) * ve.arrhenius_shift(320.0, 300.0, 80e3) == pytest.approx(hot)
    assert math.isnan(ve.arrhenius_shift(0.0, 300.0, 80e3))
    assert math.isnan(ve.arrhenius_shift(300.0, -1.0, 80e3))


def test_wlf_shift() -> None:
    assert ve.wlf_shift(373.0, 373.0, 17.44, 51.6) == 1.0
    assert math.log10(ve.wlf_shift(373.0 + 51.6, 373.0, 17.44, 51.6)) == pytest.approx(-17.44 / 2)
    assert math.isnan(ve.wlf_shift(373.0 - 51.6, 373.0, 17.44, 51.6))
    assert math.isnan(ve.wlf_shift(300.0, 373.0, 17.44, 51.6))
    temperatures = np.array([300.0, 373.0, 400.0])
    shifts = ve.wlf_shift(temperatures, 373.0, 17.44, 51.6)
    assert np.isnan(shifts[0])
    assert shifts[2] == pytest.approx(ve.wlf_shift(400.0, 373.0, 17.44, 51.6))


def test_tabulated_modulus() -> None:
    temperatures, moduli = [200.0, 296.0, 373.0, 473.0], [2.0e9, 600e6, 250e6, 100e6]
    for temperature, modulus in zip(temperatures, moduli, strict=True):
        assert ve.tabulated_modulus(temperature, temperatures, moduli) == pytest.approx(modulus, rel=1e-12)
    assert ve.tabulated_modulus(334.5, temperatures, moduli) == pytest.approx(math.sqrt(600e6 * 250e6))
    grid = np.linspace(200.0, 473.0, 500)
    values = ve.tabulated_modulus(grid, temperatures, moduli)
    assert np.all(np.diff(values) < 0)
    assert values[123] == pytest.approx(ve.tabulated_modulus(float(grid[123]), temperatures, moduli))
    assert math.isnan(ve.tabulated_modulus(199.9, temperatures, moduli))
    assert np.isnan(ve.tabulated_modulus(np.array([100.0, 500.0]), temperatures, moduli)).all()
    for bad in (([1.0], [1.0]), ([2.0, 1.0], [1.0, 1.0]), ([1.0, 2.0], [1.0, 0.0]), ([1.0, 2.0], [1.0])):
        with pytest.raises(ValueError, match="table"):
            ve.tabulated_modulus(1.5, *bad)


def test_set_is_not_given_back() -> None:
    assert ve.recoverable_interference(0.4e-3, 0.25) == pytest.approx(0.3e-3)
    whole = ve.relaxed_load_ratio(3600.0, 1.0, EQUILIBRIUM, MODULI, TIMES)
    assert ve.relaxed_load_ratio(3600.0, 1.0, EQUILIBRIUM, MODULI, TIMES, 0.25) == pytest.approx(0.75 * whole)
    assert whole == pytest.approx(EQUILIBRIUM / 500.0)
    assert math.isnan(ve.recoverable_interference(0.4e-3, 1.1))
    assert math.isnan(ve.relaxed_load_ratio(1.0, 0.0, 1.0, [1.0], [1.0]))
    assert math.isnan(ve.relaxed_load_ratio(1.0, 1.0, 1.0, [1.0], [1.0], -0.1))


def test_shapes_and_float_path() -> None:
    moduli, times = np.array(MODULI), np.array(TIMES)
    t = np.geomspace(1e-4, 100.0, 7)
    over_time = ve.relaxation_modulus(t, EQUILIBRIUM, MODULI, TIMES)
    assert over_time.shape == (7,)
    scale = np.array([[1.0], [2.0], [3.0]])
    over_both = ve.relaxation_modulus(t, EQUILIBRIUM * scale, moduli * scale[..., None], times)
    assert over_both.shape == (3, 7)
    assert over_both[2] == pytest.approx(3 * over_time)
    storage, loss = ve.complex_modulus(t, EQUILIBRIUM * scale, moduli * scale[..., None], times)
    assert storage.shape == loss.shape == (3, 7)
    for i, value in enumerate(t.tolist()):
        single: Any = ve.relaxation_modulus(value, EQUILIBRIUM, MODULI, TIMES)
        assert type(single) is float
        assert single == pytest.approx(over_time[i], rel=1e-13)
        pair = ve.complex_modulus(value, EQUILIBRIUM, MODULI, TIMES)
        assert type(pair.storage) is float
        assert tuple(pair) == pytest.approx((storage[0, i], loss[0, i]), rel=1e-13)
        assert ve.loss_factor(value, EQUILIBRIUM, MODULI, TIMES) == pytest.approx(loss[0, i] / storage[0, i])
    assert ve.instantaneous_modulus(EQUILIBRIUM * scale, moduli * scale[..., None]).shape == (3, 1)


def test_negative_time_and_frequency_are_nan() -> None:
    assert math.isnan(ve.relaxation_modulus(-1.0, 1.0, [1.0], [1.0]))
    assert np.isnan(ve.relaxation_modulus(np.array([-1.0, 1.0]), 1.0, [1.0], [1.0])).tolist() == [True, False]
    assert all(math.isnan(v) for v in ve.complex_modulus(-1.0, 1.0, [1.0], [1.0]))
    assert np.isnan(ve.complex_modulus(np.array([-1.0, 1.0]), 1.0, [1.0], [1.0]).storage).tolist() == [True, False]


def test_branches_and_times_go_together() -> None:
    for function in (ve.relaxation_modulus, ve.complex_modulus, ve.loss_factor):
        with pytest.raises(ValueError, match="zip"):
            function(1.0, 300.0, (200.0, 100.0), (0.01,))


def test_arrhenius_and_wlf_to_the_last_digit() -> None:
    gas = 1.380649e-23 * 6.02214076e23
    expected = math.exp(80.0e3 / gas * (1.0 / 350.0 - 1.0 / 296.15))
    assert ve.arrhenius_shift(350.0, 296.15, 80.0e3) == pytest.approx(expected, rel=1e-12)
    assert ve.wlf_shift(320.0, 296.15, 17.44, 51.6) == pytest.approx(10 ** (-17.44 * 23.85 / 75.45), rel=1e-11)


@pytest.mark.parametrize(
    ("temperatures", "moduli"),
    [
        ((300.0, 320.0), (5e8, -1e8)),
        ((300.0, 320.0), (5e8, 0.0)),
        ((300.0, 300.0), (5e8, 4e8)),
        ((320.0, 300.0), (5e8, 4e8)),
        ((300.0, 320.0, 310.0), (5e8, 4e8, 3e8)),
        ((300.0,), (5e8,)),
        ((300.0, 320.0), (5e8,)),
        ((), ()),
    ],
)
def test_a_table_that_is_none_is_refused(temperatures: tuple[float, ...], moduli: tuple[float, ...]) -> None:
    with pytest.raises(ValueError, match="modulus table"):
        ve.tabulated_modulus(310.0, temperatures, moduli)
