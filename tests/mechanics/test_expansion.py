"""Thermal expansion as plain formulas."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from glandwise.mechanics import expansion
from glandwise.mechanics.choices import PtfeTransition
from glandwise.numerics.compiled import compiled
from glandwise.numerics.docstring import Quantity
from glandwise.numerics.trace import TracedCurve, Working, calm, leaf, records, traced
from glandwise.rules.loader import RuleStore
from glandwise.twofold import expansion as before

from tests.mechanics.support import alike, sound, told

DATA = RuleStore().trees["baseline"].newest().data
NAMES = {PtfeTransition.II_IV: "II-IV", PtfeTransition.IV_I: "IV-I"}
CURVE = np.dtype([("x", "f8", (32,)), ("y", "f8", (32,)), ("n", "i8")])


class Lives:
    """One curve as each life of a formula takes it."""

    def __init__(self, x: Any, y: Any, record: Any) -> None:
        self.table = np.zeros(1, CURVE)
        self.table["x"][0, : len(x)], self.table["y"][0, : len(y)], self.table["n"][0] = x, y, len(x)
        self.machine: Any = self.table[0]
        self.plain = SimpleNamespace(x=np.array(x), y=np.array(y), n=len(x))
        self.told = TracedCurve(Quantity("epsilon_c", "-", "Strain"), list(x), list(y), "rule", record)


TABLE = DATA.expansion.ptfe_unfilled
PTFE = Lives(*before.strain_curve(TABLE.si_temperature, TABLE.si_coefficient, TABLE.si_reference), TABLE)


def fit_of(name: str) -> Lives:
    fit = getattr(DATA.expansion.cryogenic, name)
    return Lives([float(i) for i in range(len(fit.si_coefficients))], fit.si_coefficients, fit)


def agreed(formula: Any, curves: list[Lives], units: list[str], *row: float) -> float:
    """Value of a formula with curves of the rules before its numbers, the same in each of its lives."""
    with np.errstate(all="ignore"):
        plain = calm(formula)(*[c.plain for c in curves], *map(np.float64, row))
    leaves = [
        leaf(value, Quantity(f"x_{i}", unit), "given") for i, (value, unit) in enumerate(zip(row, units, strict=True))
    ]
    by_trace = traced(formula)(*[c.told for c in curves], *leaves)
    alike(compiled(formula)(*[c.machine for c in curves], *row), plain, row)
    alike(by_trace, plain, row)
    steps = Working(by_trace).steps
    assert not [step.fault for step in steps if step.fault]
    if math.isfinite(plain):
        assert {id(c.told.record) for c in curves} >= {id(r) for r in records(by_trace)}
    return float(plain)


@pytest.mark.parametrize("T", [*np.linspace(4.0, 573.15, 40), 3.9, 573.2, 0.0, -1.0, math.nan, math.inf, 1e300])
@pytest.mark.parametrize("s", [1.0, 0.6])
def test_strain_of_ptfe(T: float, s: float) -> None:
    fit = DATA.expansion.cryogenic.ptfe_expansion
    found = agreed(expansion.ptfe_strain, [PTFE, fit_of("ptfe_expansion")], ["K", "-", "K"], fit.lowest_k, s, float(T))
    old = before.spliced_strain(
        float(T), TABLE.si_temperature, TABLE.si_coefficient, TABLE.si_reference, fit.si_coefficients, fit.lowest_k, s
    )
    assert found == pytest.approx(old, rel=1e-12, nan_ok=True)


@pytest.mark.parametrize(
    "T", [*np.linspace(4.0, 290.0, 20), *np.linspace(294.0, 600.0, 10), 3.9, 2001.0, math.nan, -1.0]
)
@pytest.mark.parametrize("name", ["stainless_austenitic_316", "aluminium_alloy", "N07750", "carbon_steel"])
def test_strain_of_a_metal(T: float, name: str) -> None:
    rule, alpha = DATA.expansion.metals, 12e-6
    own = rule.fits.get(name)
    fit = getattr(DATA.expansion.cryogenic, own or rule.other)
    curve, T_0 = fit_of(own or rule.other), rule.reference_temperature.si
    f_lent = 1.0
    if own is None:
        f_lent = agreed(expansion.lent_fit_scale, [curve], ["1/K", "K", "K"], alpha, T_0, rule.shape_span.si)
    found = agreed(
        expansion.metal_strain, [curve], ["K", "K", "-", "1/K", "K", "K"],
        fit.lowest_k, fit.flat_below_k, f_lent, alpha, T_0, float(T),
    )  # fmt: skip
    scaled = tuple(f_lent * value for value in fit.si_coefficients)
    old = before.spliced_strain(
        float(T), (T_0, 2000.0), (alpha, alpha), T_0, scaled, fit.lowest_k, 1.0, fit.flat_below_k
    )
    assert found == pytest.approx(old, rel=1e-12, nan_ok=True)


def test_the_working_of_a_strain_names_both_its_sources() -> None:
    cold = fit_of("ptfe_expansion")
    T = leaf(50.0, Quantity("T", "K"), "given")
    one = leaf(1.0, Quantity("s", "-"), "given")
    low = leaf(4.0, Quantity("T_low", "K"), "given")
    strain = traced(expansion.ptfe_strain)(PTFE.told, cold.told, low, one, T)
    assert set(map(id, records(strain))) == {id(TABLE), id(cold.told.record)}
    words = [step.words for step in Working(strain).steps if step.words]
    assert any("{0}**4" in text for text in words)


def test_strain_between_two_temperatures() -> None:
    sound(expansion.strain_between, {"epsilon": (-0.02, 0.06), "epsilon_0": (-0.02, 0.06)}, before.strain_between)


@pytest.mark.parametrize("transition", list(PtfeTransition))
def test_transition_of_ptfe(transition: PtfeTransition) -> None:
    def temperature(p: float, choice: PtfeTransition) -> float:
        return float(before.transition_temperature(p, NAMES[choice]))

    def crossed(T_m: float, T: float, p: float, choice: PtfeTransition) -> float:
        return float(before.crosses_transition(T_m, T, p, NAMES[choice]))

    sound(expansion.transition_temperature, {"p": (-5e6, 8e7)}, temperature, transition)
    spans = {"T_m": (280.0, 315.0), "T": (270.0, 330.0), "p": (-5e6, 8e7)}
    sound(expansion.crosses_transition, spans, crossed, transition)


def test_fit_at_temperature() -> None:
    spans = {"d_i": (0.01, 0.5), "d_o": (0.01, 0.5), "epsilon_i": (-0.02, 0.04), "epsilon_o": (-0.02, 0.04)}
    sound(expansion.fit_at_temperature, spans, before.fit_at_temperature)


def test_a_body_squeezed_hot() -> None:
    spans = {
        "D": (0.05, 0.0502), "D_b": (0.05, 0.0505), "epsilon_s": (0.0, 0.04), "epsilon_b": (0.0, 0.004), "kappa": (0.0, 1.0),
    }  # fmt: skip
    sound(expansion.diameter_after_confined_heating, spans, before.diameter_after_confined_heating)
    assert told(expansion.diameter_after_confined_heating, 0.05, 0.051, 0.0, 0.0, 1.0) == 0.05


def test_room_for_an_energizer() -> None:
    spans = {
        "D_b": (0.06, 0.07), "d": (0.05, 0.055), "t_o": (5e-4, 1e-3), "t_i": (5e-4, 1e-3), "H_0": (2e-3, 8e-3),
        "epsilon_b": (-3e-3, 4e-3), "epsilon_d": (-3e-3, 4e-3), "epsilon_s": (-0.02, 0.03), "epsilon_e": (-3e-3, 4e-3),
    }  # fmt: skip
    sound(expansion.energizer_space, spans, before.energizer_space)
