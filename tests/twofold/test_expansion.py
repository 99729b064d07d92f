"""Thermal strain of PTFE and metals, its transitions, and fits at temperature."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from glandwise.twofold import expansion
from hypothesis import given
from hypothesis import strategies as st

RULES = Path(__file__).parents[2] / "service/src/glandwise/rules/data/baseline/expansion.toml"
DATA = tomllib.loads(RULES.read_text(encoding="utf-8"))
TEMPERATURES = [t + 273.15 for t in DATA["ptfe_unfilled"]["temperature"]]
MEANS = [1e-6 * a for a in DATA["ptfe_unfilled"]["mean_coefficient"]]
REFERENCE = DATA["ptfe_unfilled"]["reference_temperature"] + 273.15
NIST = [1e-5 * c for c in DATA["cryogenic"]["ptfe_expansion"]["coefficients"]]
STEEL = [1e-5 * c for c in DATA["cryogenic"]["austenitic_steel_expansion"]["coefficients"]]


def table(temperature: Any) -> Any:
    return expansion.strain_from_mean_coefficients(temperature, TEMPERATURES, MEANS, REFERENCE)


def spliced(temperature: Any, scale: float = 1.0) -> Any:
    return expansion.spliced_strain(temperature, TEMPERATURES, MEANS, REFERENCE, NIST, 20.0, scale)


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


def test_outside_the_sources_there_is_no_strain() -> None:
    assert math.isnan(spliced(19.9))
    assert math.isnan(spliced(573.3))
    assert math.isnan(table(83.0))
    assert math.isnan(expansion.strain_from_polynomial(301.0, NIST, 4.0, 300.0))
    assert math.isnan(expansion.log_polynomial(3.9, [0.0, 1.0], 4.0, 300.0))
    assert np.isnan(spliced(np.array([10.0, 600.0]))).all()


@given(st.lists(st.floats(5.0, 600.0), min_size=1, max_size=6))
def test_float_and_array_paths_agree(values: list[float]) -> None:
    array = np.array(values)
    for function in (
        table,
        spliced,
        lambda t: expansion.strain_from_polynomial(t, NIST, 4.0, 300.0, 23.0),
        lambda t: expansion.log_polynomial(t, [0.1, 0.2, -0.03], 4.0, 300.0),
        lambda t: expansion.transition_pressure(t, "II-IV"),
        lambda t: expansion.transition_temperature(1e5 * t, "IV-I"),
        lambda t: expansion.crosses_transition(298.15, t, 1e6, "II-IV"),
    ):
        np.testing.assert_allclose(function(array), [function(v) for v in values], rtol=1e-13, atol=1e-16)


def test_the_two_sources_join_without_a_step() -> None:
    join = TEMPERATURES[0]
    assert spliced(join - 1e-6) == pytest.approx(spliced(join + 1e-6), abs=1e-9)
    # Below the join the increments are the fit's own.
    assert spliced(77.0) - spliced(20.0) == pytest.approx((-1943.5488 + 2119.1852) * 1e-5, abs=1e-9)
    assert spliced(20.0) == pytest.approx(-0.02051, abs=2e-5)


@pytest.mark.parametrize(
    ("celsius", "fit_mean", "table_mean"), [(-190, 94.5, 86), (-100, 125.3, 112), (-50, 157, 135), (0, 206.9, 200)]
)
def test_how_far_the_two_sources_disagree(celsius: float, fit_mean: float, table_mean: float) -> None:
    """Mean coefficient from 25 deg C by each source (derived): they differ by 3 to 17 %, which the notes state."""
    kelvin = celsius + 273.15
    strain = expansion.strain_from_polynomial(kelvin, NIST, 4.0, 300.0) - expansion.strain_from_polynomial(
        REFERENCE, NIST, 4.0, 300.0
    )
    assert 1e6 * strain / (kelvin - REFERENCE) == pytest.approx(fit_mean, abs=0.5 if fit_mean == 157 else 0.05)
    assert 1e6 * table(kelvin) / (kelvin - REFERENCE) == pytest.approx(table_mean, abs=1e-9)
    assert 1.03 <= fit_mean / table_mean <= 1.17


def test_the_table_is_the_integral_of_its_local_coefficient() -> None:
    """Independent route: integrate the local coefficient of the broken line with SciPy."""
    from scipy.integrate import quad

    temperatures, strains = expansion.strain_curve(TEMPERATURES, MEANS, REFERENCE)

    def local(t: float) -> float:
        return (table(t + 0.01) - table(t - 0.01)) / 0.02

    for low, high in ((120.0, 410.0), (150.0, 310.0)):
        inner = temperatures[(temperatures > low) & (temperatures < high)]
        integral, _ = quad(local, low, high, points=list(inner), limit=200)
        assert integral == pytest.approx(table(high) - table(low), rel=1e-4)
    assert (np.diff(strains) > 0.0).all()


@given(st.floats(20.0, 573.0), st.floats(0.3, 1.0))
def test_filler_scales_the_strain(temperature: float, scale: float) -> None:
    assert spliced(temperature, scale) == pytest.approx(scale * spliced(temperature), rel=1e-12, abs=1e-18)


@given(st.floats(-0.03, 0.06), st.floats(-0.03, 0.06))
def test_changing_the_reference_temperature_is_exact(a: float, b: float) -> None:
    assert (1.0 + expansion.strain_between(a, b)) * (1.0 + b) == pytest.approx(1.0 + a, rel=1e-14)
    assert expansion.strain_between(a, a) == 0.0


def test_a_metal_goes_from_its_cryogenic_fit_to_its_mean_coefficient() -> None:
    def steel(t: float) -> Any:
        return expansion.spliced_strain(t, [293.15, 573.15], [17.2e-6, 17.2e-6], 293.15, STEEL, 4.0, flat_below=23.0)

    assert steel(293.15) == 0.0
    assert steel(393.15) == pytest.approx(1.72e-3, rel=1e-9)
    assert steel(77.0) == pytest.approx(-2.82e-3, abs=3e-5)
    assert steel(10.0) == steel(23.0)


# ---------------------------------------------------------------------------------------------------------- transitions


@given(st.floats(0.0, 68.6e6), st.sampled_from(["II-IV", "IV-I"]))
def test_transition_formulas_are_inverse(pressure: float, transition: str) -> None:
    temperature = expansion.transition_temperature(pressure, transition)
    assert 292.0 < temperature < 315.0
    assert expansion.transition_pressure(temperature, transition) == pytest.approx(pressure, rel=1e-9, abs=1.0) or (
        pressure < 1.0 or pressure > 68.5e6
    )


@given(st.floats(0.0, 68.6e6), st.floats(0.0, 68.6e6))
def test_pressure_raises_both_transitions_and_keeps_their_order(a: float, b: float) -> None:
    low, high = sorted((a, b))
    for transition in ("II-IV", "IV-I"):
        assert expansion.transition_temperature(low, transition) <= expansion.transition_temperature(high, transition)
    assert expansion.transition_temperature(low, "II-IV") < expansion.transition_temperature(low, "IV-I")


def test_transitions_are_not_extrapolated() -> None:
    assert math.isnan(expansion.transition_temperature(70e6, "II-IV"))
    assert math.isnan(expansion.transition_temperature(-1.0, "II-IV"))
    assert math.isnan(expansion.transition_pressure(273.15 + 10, "II-IV"))
    assert math.isnan(expansion.transition_pressure(273.15 + 51, "IV-I"))
    assert math.isnan(expansion.crosses_transition(293.15, 350.0, 70e6, "II-IV"))
    with pytest.raises(KeyError):
        expansion.transition_temperature(1e5, "I-II")


def test_crossing_depends_on_pressure() -> None:
    """At 23 deg C PTFE is above its main transition at rest, and below it at 20 MPa."""
    at = 273.15 + 23.0
    assert expansion.crosses_transition(at, at, 101325.0, "II-IV") == 0.0
    assert expansion.crosses_transition(at, at, 20e6, "II-IV") == 1.0
    assert expansion.crosses_transition(at, 273.15 - 40, 101325.0, "II-IV") == 1.0
    assert expansion.crosses_transition(at, 273.15 + 25, 101325.0, "IV-I") == 0.0


# --------------------------------------------------------------------------------------------------------------- fits


@given(st.floats(0.01, 0.5), st.floats(-1e-3, 1e-3), st.floats(-0.02, 0.04), st.floats(-0.004, 0.006))
def test_fit_change_is_the_difference_of_two_fits(d: float, gap: float, inner: float, outer: float) -> None:
    cold = expansion.fit_at_temperature(d, d + gap, inner, outer)
    apart = expansion.fit_at_temperature(d, d + gap, 0, 0).interference
    assert cold.change == pytest.approx(cold.interference - apart, rel=1e-9, abs=1e-15)
    assert cold.inner_diameter - cold.outer_diameter == pytest.approx(2 * cold.interference, abs=1e-15)


def test_equal_strain_only_scales_the_fit() -> None:
    assert expansion.fit_at_temperature(0.05, 0.0499, 0.003, 0.003).interference == pytest.approx(5e-5 * 1.003)


def test_cold_shrinks_ptfe_onto_the_shaft_and_loosens_it_in_the_bore() -> None:
    ptfe, steel = spliced(150.0), -2.2e-3
    lip = expansion.fit_at_temperature(50e-3, 49.5e-3, steel, ptfe)
    bore = expansion.fit_at_temperature(72.2e-3, 72.0e-3, ptfe, steel)
    assert lip.change > 0.0
    assert bore.change < 0.0
    assert bore.interference < 0.0
    # By hand: -190 C bore loosening of a 72 mm body at mean 86e-6/K over 215 K against steel 2.8e-3.
    body = expansion.fit_at_temperature(72e-3, 72e-3, table(TEMPERATURES[0]), -2.8e-3)
    assert body.interference == pytest.approx(-36e-3 * (86e-6 * 215 - 2.8e-3), rel=1e-9)


@given(st.floats(0.0, 1.0), st.floats(0.0, 0.03))
def test_set_in_a_hot_bore(kept: float, strain: float) -> None:
    after = expansion.diameter_after_confined_heating(72e-3, 72e-3, strain, 1e-3, kept)
    assert after <= 72e-3
    if strain <= 1e-3 or kept == 0.0:
        assert after == pytest.approx(72e-3)
    all_set = expansion.diameter_after_confined_heating(72e-3, 72e-3, strain, 1e-3, 1.0)
    # All creeps away: hot again it just fits the bore.
    if strain > 1e-3:
        assert all_set * (1 + strain) == pytest.approx(72e-3 * 1.001)


def test_energizer_space() -> None:
    space = expansion.energizer_space(72e-3, 50e-3, 2e-3, 1e-3, 9e-3, 0.0, 0.0, 0.0, 0.0)
    assert space.height == pytest.approx(8e-3)
    assert space.deflection == pytest.approx(1e-3)
    assert space.change == 0.0
    cold = expansion.energizer_space(72e-3, 50e-3, 2e-3, 1e-3, 9e-3, -2.2e-3, -2.2e-3, -0.016, -2.2e-3)
    assert cold.height == pytest.approx(11e-3 * (1 - 2.2e-3) - 3e-3 * (1 - 0.016))
    assert cold.change == pytest.approx(cold.deflection - 1e-3)
    assert cold.change < 0.0  # thinner PTFE walls leave the energizer more room
    loose = expansion.energizer_space(72e-3, 50e-3, 2e-3, 1e-3, 7e-3, 0.0, 0.0, 0.0, 0.0)
    assert loose.deflection == 0.0
    one_metal = expansion.energizer_space(72e-3, 50e-3, 0.0, 0.0, 12e-3, 1e-3, 1e-3, 0.0, 1e-3)
    assert one_metal.deflection == pytest.approx(1e-3 * 1.001)


@pytest.mark.parametrize("transition", ["II-IV", "IV-I"])
@pytest.mark.parametrize("pressure", [0.5, 1e5, 5e6, 68.5e6])
def test_transition_pressure_and_temperature_are_inverse(transition: str, pressure: float) -> None:
    at = expansion.transition_temperature(pressure, transition)
    assert expansion.transition_pressure(at, transition) == pytest.approx(pressure, rel=1e-9, abs=1e-2)


def test_the_second_transition_has_no_branch_below_zero_celsius() -> None:
    # the fitted parabola turns positive again there
    assert math.isnan(expansion.transition_pressure(273.15 - 5.0, "IV-I"))


def test_a_loose_energizer_stays_undeflected() -> None:
    space = expansion.energizer_space(0.06, 0.05, 0.8e-3, 0.7e-3, 3.0e-3, 0.0, 0.0, 0.0, 0.0)
    assert space.height == pytest.approx(3.5e-3, rel=1e-12)
    assert (space.deflection, space.change) == (0.0, 0.0)
    # loose when cold, held when warm: all of the deflection is change
    warm = expansion.energizer_space(0.06, 0.05, 0.8e-3, 0.7e-3, 3.4e-3, 0.0, 0.01, 0.0, 0.0)
    assert warm.deflection == pytest.approx(3.4e-3 - 3.25e-3, rel=1e-9)
    assert warm.change == warm.deflection


@pytest.mark.parametrize(("away", "crossed"), [(1e-8, 1.0), (-1e-8, 0.0)])
def test_a_part_is_measured_at_one_standard_atmosphere(away: float, crossed: float) -> None:
    measured = expansion.transition_temperature(101325.0, "II-IV") + away
    assert expansion.crosses_transition(measured, 280.0, 1e5, "II-IV") == crossed
