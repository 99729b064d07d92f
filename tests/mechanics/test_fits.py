"""Limits and fits as plain formulas, and what is looked up for them."""

from __future__ import annotations

import math

import numpy as np
import pytest
from glandwise.case import tolerances
from glandwise.mechanics import fits
from glandwise.mechanics.choices import ToleranceZone
from glandwise.numerics.trace import calm
from glandwise.rules.loader import RuleStore
from glandwise.twofold import fits as before

from tests.mechanics.support import draws, hostile, lives_agree, sound, steps_hold, told

GLAND = RuleStore().trees["baseline"].newest().data.gland
GRADES, SHAFTS = GLAND.it_grades, GLAND.shaft_fundamental_deviations
TABLES = (GRADES.si_over, GRADES.si_up_to, GRADES.si_columns, SHAFTS.si_columns)
SECTION = {"d": (1.5e-3, 7e-3), "d_i": (0.02, 0.3), "D_g": (0.018, 0.33)}


@pytest.mark.parametrize("name", tolerances.accepted_classes(GRADES.si_columns, SHAFTS.si_columns))
def test_deviations_of_every_class(name: str) -> None:
    edges = [edge * share for edge in GRADES.si_up_to for share in (1.0 - 1e-12, 1.0, 1.0 + 1e-12, 1.01)]
    for size in [*edges, 0.001, 0.003, 0.0031, 0.28, 0.0, -0.01, math.nan, 10.0]:
        found = tolerances.class_deviations(name, size, *TABLES)
        old = before.limit_deviations(name, size, *TABLES)
        assert found == pytest.approx(old, rel=1e-12, nan_ok=True), (name, size)


@pytest.mark.parametrize("name", ["x9", "H99", "h", "9", "Js7", "js99", "K12", "N9", "IT7", "", "hh7", "H8 "])
def test_a_class_beyond_the_tables_is_refused_with_what_they_hold(name: str) -> None:
    with pytest.raises(tolerances.ToleranceClassError) as found:
        tolerances.class_deviations(name, 0.05, *TABLES)
    with pytest.raises(before.ToleranceClassError) as old:
        before.limit_deviations(name, 0.05, *TABLES)
    assert found.value.accepted == old.value.accepted


@pytest.mark.parametrize("zone", list(ToleranceZone))
def test_limit_deviations(zone: ToleranceZone) -> None:
    rows = [(*row, zone) for row in draws((1e-6, 1e-3), (-5e-4, 5e-4), (0.0, 1e-4))]
    lives_agree(fits.limit_deviations, [*rows, *hostile(rows[:30])])
    steps_hold(fits.limit_deviations, rows[:30])
    for row in rows:
        upper, lower = calm(fits.limit_deviations)(*row)
        assert upper - lower == pytest.approx(row[0], rel=1e-9)


def test_growth_of_a_bore() -> None:
    spans = {"p": (0.0, 5e7), "R": (0.01, 0.2), "r_o": (0.01, 0.3), "E": (5e10, 2.1e11), "nu": (0.2, 0.4)}
    sound(fits.bore_growth, spans, before.bore_growth)
    assert told(fits.bore_growth, 1e6, 0.05, math.inf, 2e11, 0.3) == before.bore_growth(1e6, 0.05, math.inf, 2e11, 0.3)


@pytest.mark.parametrize("hole", [(0.0, 0.045), (0.0, 0.0)])
def test_interference_fit(hole: tuple[float, float]) -> None:
    def old(*given: float) -> tuple[float, ...]:
        found = before.interference_fit(*given)
        return found.pressure, found.outer_bore_hoop, found.inner_bore_hoop

    spans = {
        "delta": (-5e-5, 2e-4), "R": (0.03, 0.06), "r_i": hole, "r_o": (0.05, 0.1),
        "E_i": (5e8, 2.1e11), "nu_i": (0.2, 0.45), "E_o": (5e10, 2.1e11), "nu_o": (0.2, 0.4),
    }  # fmt: skip
    sound(fits.interference_fit, spans, old)


def test_radial_gap() -> None:
    def old(*given: float) -> tuple[float, ...]:
        found = before.radial_gap(*given)
        assert found.worst == found.diametral_clearance
        return found.worst, found.concentric, found.actual

    spans = {
        "D": (0.05, 0.051), "d": (0.0495, 0.0505), "e": (-2e-4, 2e-4), "u": (0.0, 5e-5),
        "epsilon_D": (-3e-3, 4e-3), "epsilon_d": (-3e-3, 4e-3),
    }  # fmt: skip
    sound(fits.radial_gap, spans, old)


def test_section_on_a_groove() -> None:
    sound(fits.stretched_section, SECTION, before.stretched_section)


def test_o_ring_in_its_groove() -> None:
    def old(D_b: float, D_g: float, w: float, d_i: float, d: float, epsilon: float) -> before.ORingGland:
        return before.o_ring_gland(D_b, D_g, w, d_i, d, ring_strain=epsilon)

    def section(*given: float) -> float:
        return float(calm(fits.stretched_section)(*map(np.float64, given)))

    spans = {
        "D_b": (0.06, 0.068), "D_g": (0.052, 0.061), "w": (3e-3, 6e-3), "d_i": (0.048, 0.055), "d": (3e-3, 5e-3),
        "epsilon": (-0.02, 0.05),
    }  # fmt: skip
    sound(fits.o_ring_gland, spans, old, functions={"stretched_section": section})


def test_lead_in_of_a_shaft() -> None:
    def old(d_1: float, Delta: float, beta: float) -> tuple[float, float]:
        found = before.shaft_lead_in(d_1, beta, [0.0], [1.0], [Delta])
        return found.small_diameter, found.length

    sound(fits.shaft_lead_in, {"d_1": (0.005, 0.5), "Delta": (1e-3, 1e-2), "beta": (0.2, 0.6)}, old)


def test_depth_of_a_bore() -> None:
    def old(b: float, Delta_t: float) -> float:
        return float(before.housing_bore(b, [0.0], [1.0], [Delta_t], [0.0], [0.0], [0.0]).depth)

    sound(fits.bore_depth, {"b": (0.005, 0.03), "Delta_t": (3e-4, 1e-3)}, old)


@pytest.mark.parametrize(
    "size", [0.0, 0.01, 0.02, 0.03, 0.03000000001, 0.035, 0.04, 0.05, 0.06, -1.0, math.nan, math.inf]
)
def test_value_of_a_size_step(size: float) -> None:
    table = [0.01, 0.02, 0.04], [0.02, 0.03, 0.05], [1.0, math.nan, 3.0]
    found = tolerances.size_step_value(size, *table)
    assert found == pytest.approx(before.size_step_value(size, *table), nan_ok=True)
