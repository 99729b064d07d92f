"""Thermal expansion as plain formulas."""

from __future__ import annotations

import itertools
import math
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from glandwise.case import expansion_numbers
from glandwise.mechanics import expansion
from glandwise.mechanics.choices import PtfeTransition
from glandwise.numerics.compiled import compiled
from glandwise.numerics.docstring import Quantity
from glandwise.numerics.over import Over
from glandwise.numerics.trace import TracedCurve, Working, calm, leaf, records, traced
from glandwise.rules.loader import RuleStore
from hypothesis import given
from hypothesis import strategies as st

from tests.mechanics.support import alike, sound, told

plain = Over(expansion)
"""Its formulas over arrays."""


DATA = RuleStore().trees["baseline"].newest().data
TABLE = DATA.expansion.ptfe_unfilled
TEMPERATURES, MEANS, REFERENCE = TABLE.si_temperature, TABLE.si_coefficient, TABLE.si_reference


CURVE = np.dtype([("x", "f8", (32,)), ("y", "f8", (32,)), ("n", "i8")])


class Lives:
    """One curve as each life of a formula takes it."""

    def __init__(self, x: Any, y: Any, record: Any) -> None:
        self.table = np.zeros(1, CURVE)
        self.table["x"][0, : len(x)], self.table["y"][0, : len(y)], self.table["n"][0] = x, y, len(x)
        self.machine: Any = self.table[0]
        self.plain = SimpleNamespace(x=np.array(x), y=np.array(y), n=len(x))
        self.told = TracedCurve(Quantity("epsilon_c", "-", "Strain"), list(x), list(y), "rule", record)


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
    sound(expansion.strain_between, {"epsilon": (-0.02, 0.06), "epsilon_0": (-0.02, 0.06)})


def test_fit_at_temperature() -> None:
    spans = {"d_i": (0.01, 0.5), "d_o": (0.01, 0.5), "epsilon_i": (-0.02, 0.04), "epsilon_o": (-0.02, 0.04)}
    sound(expansion.fit_at_temperature, spans)


def test_a_body_squeezed_hot() -> None:
    spans = {
        "D": (0.05, 0.0502), "D_b": (0.05, 0.0505), "epsilon_s": (0.0, 0.04), "epsilon_b": (0.0, 0.004), "kappa": (0.0, 1.0),
    }  # fmt: skip
    sound(expansion.diameter_after_confined_heating, spans)
    assert told(expansion.diameter_after_confined_heating, 0.05, 0.051, 0.0, 0.0, 1.0) == 0.05


def test_room_for_an_energizer() -> None:
    spans = {
        "D_b": (0.06, 0.07), "d": (0.05, 0.055), "t_o": (5e-4, 1e-3), "t_i": (5e-4, 1e-3), "H_0": (2e-3, 8e-3),
        "epsilon_b": (-3e-3, 4e-3), "epsilon_d": (-3e-3, 4e-3), "epsilon_s": (-0.02, 0.03), "epsilon_e": (-3e-3, 4e-3),
    }  # fmt: skip
    sound(expansion.energizer_space, spans)


def test_strain_returns_the_mean_coefficient_at_each_row() -> None:
    for temperature, mean in zip(TEMPERATURES, MEANS, strict=True):
        assert table(temperature) / (temperature - REFERENCE) == pytest.approx(mean, rel=1e-12)
    assert table(REFERENCE) == 0.0


@given(st.floats(20.0, 573.0), st.floats(20.0, 573.0))
def test_ptfe_grows_with_temperature_over_the_whole_range(a: float, b: float) -> None:
    low, high = sorted((a, b))
    assert spliced(low) <= spliced(high)
    if high - low > 1e-3:
        assert spliced(low) < spliced(high)


def test_the_two_sources_join_without_a_step() -> None:
    join = TEMPERATURES[0]
    assert spliced(join - 1e-6) == pytest.approx(spliced(join + 1e-6), abs=1e-9)
    # Below the join the increments are the fit's own.
    assert spliced(77.0) - spliced(20.0) == pytest.approx((-1943.5488 + 2119.1852) * 1e-5, abs=1e-9)
    assert spliced(20.0) == pytest.approx(-0.02051, abs=2e-5)


@given(st.floats(20.0, 573.0), st.floats(0.3, 1.0))
def test_filler_scales_the_strain(temperature: float, scale: float) -> None:
    assert spliced(temperature, scale) == pytest.approx(scale * spliced(temperature), rel=1e-12, abs=1e-18)


@given(st.floats(-0.03, 0.06), st.floats(-0.03, 0.06))
def test_changing_the_reference_temperature_is_exact(a: float, b: float) -> None:
    assert (1.0 + plain.strain_between(a, b)) * (1.0 + b) == pytest.approx(1.0 + a, rel=1e-14)
    assert plain.strain_between(a, a) == 0.0


@given(st.floats(0.0, 68.6e6), st.floats(0.0, 68.6e6))
def test_pressure_raises_both_transitions_and_keeps_their_order(a: float, b: float) -> None:
    low, high = sorted((a, b))
    for transition in (PtfeTransition.II_IV, PtfeTransition.IV_I):
        assert plain.transition_temperature(low, transition) <= plain.transition_temperature(high, transition)
    assert plain.transition_temperature(low, PtfeTransition.II_IV) < plain.transition_temperature(
        low, PtfeTransition.IV_I
    )


def test_crossing_depends_on_pressure() -> None:
    """At 23 deg C PTFE is above its main transition at rest, and below it at 20 MPa."""
    at = 273.15 + 23.0
    assert plain.crosses_transition(at, at, 101325.0, PtfeTransition.II_IV) == 0.0
    assert plain.crosses_transition(at, at, 20e6, PtfeTransition.II_IV) == 1.0
    assert plain.crosses_transition(at, 273.15 - 40, 101325.0, PtfeTransition.II_IV) == 1.0
    assert plain.crosses_transition(at, 273.15 + 25, 101325.0, PtfeTransition.IV_I) == 0.0


# --------------------------------------------------------------------------------------------------------------- fits
@given(st.floats(0.01, 0.5), st.floats(-1e-3, 1e-3), st.floats(-0.02, 0.04), st.floats(-0.004, 0.006))
def test_fit_change_is_the_difference_of_two_fits(d: float, gap: float, inner: float, outer: float) -> None:
    cold = plain.fit_at_temperature(d, d + gap, inner, outer)
    apart = plain.fit_at_temperature(d, d + gap, 0.0, 0.0).interference
    assert cold.change == pytest.approx(cold.interference - apart, rel=1e-9, abs=1e-15)
    assert cold.inner_diameter - cold.outer_diameter == pytest.approx(2 * cold.interference, abs=1e-15)


def test_equal_strain_only_scales_the_fit() -> None:
    assert plain.fit_at_temperature(0.05, 0.0499, 0.003, 0.003).interference == pytest.approx(5e-5 * 1.003)


def test_cold_shrinks_ptfe_onto_the_shaft_and_loosens_it_in_the_bore() -> None:
    ptfe, steel = spliced(150.0), -2.2e-3
    lip = plain.fit_at_temperature(50e-3, 49.5e-3, steel, ptfe)
    bore = plain.fit_at_temperature(72.2e-3, 72.0e-3, ptfe, steel)
    assert lip.change > 0.0
    assert bore.change < 0.0
    assert bore.interference < 0.0
    # By hand: -190 C bore loosening of a 72 mm body at mean 86e-6/K over 215 K against steel 2.8e-3.
    body = plain.fit_at_temperature(72e-3, 72e-3, table(TEMPERATURES[0]), -2.8e-3)
    assert body.interference == pytest.approx(-36e-3 * (86e-6 * 215 - 2.8e-3), rel=1e-9)


def test_energizer_space() -> None:
    space = plain.energizer_space(72e-3, 50e-3, 2e-3, 1e-3, 9e-3, 0.0, 0.0, 0.0, 0.0)
    assert space.height == pytest.approx(8e-3)
    assert space.deflection == pytest.approx(1e-3)
    assert space.change == 0.0
    cold = plain.energizer_space(72e-3, 50e-3, 2e-3, 1e-3, 9e-3, -2.2e-3, -2.2e-3, -0.016, -2.2e-3)
    assert cold.height == pytest.approx(11e-3 * (1 - 2.2e-3) - 3e-3 * (1 - 0.016))
    assert cold.change == pytest.approx(cold.deflection - 1e-3)
    assert cold.change < 0.0  # thinner PTFE walls leave the energizer more room
    loose = plain.energizer_space(72e-3, 50e-3, 2e-3, 1e-3, 7e-3, 0.0, 0.0, 0.0, 0.0)
    assert loose.deflection == 0.0
    one_metal = plain.energizer_space(72e-3, 50e-3, 0.0, 0.0, 12e-3, 1e-3, 1e-3, 0.0, 1e-3)
    assert one_metal.deflection == pytest.approx(1e-3 * 1.001)


def test_a_loose_energizer_stays_undeflected() -> None:
    space = plain.energizer_space(0.06, 0.05, 0.8e-3, 0.7e-3, 3.0e-3, 0.0, 0.0, 0.0, 0.0)
    assert space.height == pytest.approx(3.5e-3, rel=1e-12)
    assert (space.deflection, space.change) == (0.0, 0.0)
    # loose when cold, held when warm: all of the deflection is change
    warm = plain.energizer_space(0.06, 0.05, 0.8e-3, 0.7e-3, 3.4e-3, 0.0, 0.01, 0.0, 0.0)
    assert warm.deflection == pytest.approx(3.4e-3 - 3.25e-3, rel=1e-9)
    assert warm.change == warm.deflection


@pytest.mark.parametrize(("away", "crossed"), [(1e-8, 1.0), (-1e-8, 0.0)])
def test_a_part_is_measured_at_one_standard_atmosphere(away: float, crossed: float) -> None:
    measured = plain.transition_temperature(101325.0, PtfeTransition.II_IV) + away
    assert plain.crosses_transition(measured, 280.0, 1e5, PtfeTransition.II_IV) == crossed


PTFE = Lives(*expansion_numbers.strain_curve(TABLE), TABLE)


def spliced(T: float, scale: float = 1.0) -> float:
    """Strain of PTFE from its reference temperature."""
    fit = DATA.expansion.cryogenic.ptfe_expansion
    cold = fit_of("ptfe_expansion")
    machine = compiled(expansion.ptfe_strain)
    return float(machine(PTFE.machine, cold.machine, float(fit.lowest_k), float(scale), float(T)))


table = spliced


def test_strain_of_ptfe() -> None:
    fit = DATA.expansion.cryogenic.ptfe_expansion
    for s in (1.0, 0.6):
        for T in (*np.linspace(4.0, 573.15, 40), 3.9, 573.2, 0.0, -1.0, math.nan, math.inf, 1e300):
            found = agreed(
                expansion.ptfe_strain, [PTFE, fit_of("ptfe_expansion")], ["K", "-", "K"], fit.lowest_k, s, float(T)
            )
            assert math.isnan(found) == (not fit.lowest_k <= T <= TEMPERATURES[-1]), (s, T)


def test_strain_of_a_metal() -> None:
    rule, alpha = DATA.expansion.metals, 12e-6
    for name in ("stainless_austenitic_316", "aluminium_alloy", "N07750", "carbon_steel"):
        own = rule.fits.get(name)
        fit = getattr(DATA.expansion.cryogenic, own or rule.other)
        curve, T_0 = fit_of(own or rule.other), rule.reference_temperature.si
        f_lent = 1.0
        if own is None:
            f_lent = agreed(expansion.lent_fit_scale, [curve], ["1/K", "K", "K"], alpha, T_0, rule.shape_span.si)

        def strain(T: float, rest: Any = (curve, fit, f_lent, T_0)) -> float:
            curve, fit, f_lent, T_0 = rest
            return agreed(
                expansion.metal_strain, [curve], ["K", "K", "-", "1/K", "K", "K"],
                fit.lowest_k, fit.flat_below_k, f_lent, alpha, T_0, T,
            )  # fmt: skip

        assert strain(T_0) == pytest.approx(0.0, abs=1e-9)
        assert strain(T_0 + 100.0) == pytest.approx(100.0 * alpha, rel=1e-9)
        ways = [strain(float(T)) for T in np.linspace(fit.lowest_k, 600.0, 60)]
        assert all(later >= sooner - 1e-6 for sooner, later in itertools.pairwise(ways)), name
        for T in (0.99 * fit.lowest_k, math.nan, -1.0):
            assert math.isnan(strain(T)), (name, T)
        if fit.flat_below_k > fit.lowest_k:
            assert strain(fit.lowest_k) == strain(fit.flat_below_k)


@pytest.mark.parametrize(
    ("celsius", "fit_mean", "table_mean"), [(-190, 94.5, 86), (-100, 125.3, 112), (-50, 157, 135), (0, 206.9, 200)]
)
def test_how_far_the_two_sources_disagree(celsius: float, fit_mean: float, table_mean: float) -> None:
    """Mean coefficient from 25 deg C by each source (derived): they differ by 3 to 17 %, which the notes state."""
    kelvin = celsius + 273.15
    cold = compiled(expansion.polynomial_at)
    fit = fit_of("ptfe_expansion").machine
    strain = cold(fit, kelvin) - cold(fit, REFERENCE)
    assert 1e6 * strain / (kelvin - REFERENCE) == pytest.approx(fit_mean, abs=0.5 if fit_mean == 157 else 0.05)
    assert 1e6 * table(kelvin) / (kelvin - REFERENCE) == pytest.approx(table_mean, abs=1e-6)
    assert 1.03 <= fit_mean / table_mean <= 1.17


MEASURED = {PtfeTransition.II_IV: (-820.0, 26.9, 0.68), PtfeTransition.IV_I: (-91.0, -57.8, 1.99)}
"""Pressure [bar] of a transition by the temperature [deg C], as Martin and Eby (1968) print it."""


@pytest.mark.parametrize("transition", list(PtfeTransition))
def test_transition_of_ptfe(transition: PtfeTransition) -> None:
    sound(expansion.transition_temperature, {"p": (-5e6, 8e7)}, transition)
    sound(expansion.crosses_transition, {"T_m": (280.0, 315.0), "T": (270.0, 330.0), "p": (-5e6, 8e7)}, transition)
    for p in (0.5, 1e5, 5e6, 68.5e6):
        celsius = plain.transition_temperature(p, transition) - 273.15
        assert 18.0 < celsius < 42.0
        back = 1e5 * np.polynomial.polynomial.polyval(celsius, MEASURED[transition])
        assert back == pytest.approx(p, rel=1e-9, abs=1e-2)
    for p in (70e6, -1.0, 68.61e6):
        assert math.isnan(plain.transition_temperature(p, transition))
        assert math.isnan(plain.crosses_transition(293.15, 350.0, p, transition))


@given(st.floats(0.0, 1.0), st.floats(0.0, 0.03))
def test_set_in_a_hot_bore(kept: float, strain: float) -> None:
    after = plain.diameter_after_confined_heating(72e-3, 72e-3, strain, 1e-3, kept)
    assert after <= 72e-3
    if strain <= 1e-3 or kept == 0.0:
        assert after == pytest.approx(72e-3)
    # all creeps away: hot again it just fits the bore
    if strain > 1e-3:
        all_set = plain.diameter_after_confined_heating(72e-3, 72e-3, strain, 1e-3, 1.0)
        assert all_set * (1 + strain) == pytest.approx(72e-3 * 1.001)
