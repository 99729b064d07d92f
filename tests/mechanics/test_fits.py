"""Limits and fits as plain formulas, and what is looked up for them."""

from __future__ import annotations

import itertools
import math
from typing import Any

import numpy as np
import pytest
from glandwise.case import tolerances
from glandwise.mechanics import fits
from glandwise.mechanics.choices import ToleranceZone
from glandwise.numerics.over import Over
from glandwise.numerics.trace import calm
from glandwise.rules.loader import RuleStore
from hypothesis import given
from hypothesis import strategies as st

from tests.mechanics.support import draws, hostile, lives_agree, sound, steps_hold

plain = Over(fits)
"""Its formulas over arrays."""


GLAND = RuleStore().trees["baseline"].newest().data.gland
GRADES, SHAFTS = GLAND.it_grades, GLAND.shaft_fundamental_deviations
TABLES = (GRADES.si_over, GRADES.si_up_to, GRADES.si_columns, SHAFTS.si_columns)
SECTION = {"d": (1.5e-3, 7e-3), "d_i": (0.02, 0.3), "D_g": (0.018, 0.33)}
ACCEPTED = tolerances.accepted_classes(GRADES.si_columns, SHAFTS.si_columns)


def step(size: float, grade: str) -> float:
    return tolerances.size_step_value(size, GRADES.si_over, GRADES.si_up_to, GRADES.si_columns[grade])


def limits(tolerance_class: str, size: float) -> fits.Deviations:
    return tolerances.class_deviations(tolerance_class, size, *TABLES)


@pytest.mark.parametrize("zone", list(ToleranceZone))
def test_limit_deviations(zone: ToleranceZone) -> None:
    rows = [(*row, zone) for row in draws((1e-6, 1e-3), (-5e-4, 5e-4), (0.0, 1e-4))]
    lives_agree(fits.limit_deviations, [*rows, *hostile(rows[:30])])
    steps_hold(fits.limit_deviations, rows[:30])
    for row in rows:
        upper, lower = calm(fits.limit_deviations)(*row)
        assert upper - lower == pytest.approx(row[0], rel=1e-9)


sizes = st.floats(1.0e-3, 0.5)


radii = st.lists(st.floats(0.002, 0.3), min_size=3, max_size=3, unique=True).map(sorted)


@given(sizes, st.sampled_from(ACCEPTED))
def test_every_accepted_class_spans_its_own_tolerance(size: float, tolerance_class: str) -> None:
    deviations = limits(tolerance_class, size)
    grade = "IT" + tolerance_class.lstrip("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ")
    width = step(size, grade)
    assert deviations.upper - deviations.lower == pytest.approx(width, abs=1e-12)


@given(sizes, sizes, st.integers(5, 12))
def test_tolerance_grows_with_size_and_grade(a: float, b: float, grade: int) -> None:
    low, high = sorted((a, b))
    name = f"IT{grade}"
    assert step(low, name) <= step(high, name)
    assert step(low, name) < step(low, f"IT{grade + 1}")


@given(sizes, st.sampled_from("defgh"), st.integers(5, 13))
def test_clearance_holes_mirror_their_shafts(size: float, letter: str, grade: int) -> None:
    shaft, hole = limits(f"{letter}{grade}", size), limits(f"{letter.upper()}{grade}", size)
    assert (hole.upper, hole.lower) == pytest.approx((-shaft.lower, -shaft.upper), abs=1e-15)


@given(sizes, st.sampled_from(["K", "M", "N"]), st.integers(6, 8))
def test_hole_and_shaft_basis_give_the_same_fit(size: float, letter: str, grade: int) -> None:
    """The correction makes e.g. H7/m6 and M7/h6 one fit, apart from the tabulated exception M6 over 250 mm."""
    if size <= 3e-3 or grade == 8 or (letter == "M" and grade == 6):
        return
    hole_basis = limits(f"H{grade}", size).lower - limits(f"{letter.lower()}{grade - 1}", size).upper
    shaft_basis = limits(f"{letter}{grade}", size).lower - limits(f"h{grade - 1}", size).upper
    assert hole_basis == pytest.approx(shaft_basis, abs=1e-12)


@pytest.mark.parametrize(
    "tolerance_class", ["r6", "H14", "H4", "hH7", "x", "", "H", "7", "j6", "K9", "K5", "Js7", "h11 "]
)
def test_what_the_tables_do_not_support_is_refused_with_what_they_do(tolerance_class: str) -> None:
    with pytest.raises(tolerances.ToleranceClassError) as caught:
        limits(tolerance_class, 0.05)
    assert {"h11", "H8", "JS7", "K7", "p6"} <= set(caught.value.accepted)
    for accepted in caught.value.accepted:
        assert math.isfinite(limits(accepted, 0.05).upper)


# -------------------------------------------------------------------------------------------------- interference fits
def test_interference_fit_against_a_boundary_value_problem() -> None:
    from scipy.integrate import solve_bvp

    for delta, interface, inner, outer, e_i, n_i, e_o, n_o in (
        (20e-6, 0.025, 0.010, 0.050, 207e9, 0.292, 207e9, 0.292),
        (100e-6, 0.040, 0.037, 0.050, 0.5e9, 0.46, 207e9, 0.292),
    ):

        def stress(u: Any, du: Any, r: Any, e: float, n: float) -> Any:
            return e / (1 - n * n) * (du + n * u / r)

        spans = ((inner, interface), (interface, outer))

        def system(s: Any, y: Any, spans: Any = spans) -> Any:
            rows = []
            for k, (a, b) in enumerate(spans):
                r = a + (b - a) * s
                rows += [(b - a) * y[2 * k + 1], (b - a) * (y[2 * k] / r**2 - y[2 * k + 1] / r)]
            return np.array(rows)

        scale = e_i * delta / interface

        def boundary(a: Any, b: Any, c: Any = (delta, interface, inner, outer, e_i, n_i, e_o, n_o, scale)) -> Any:
            delta, interface, inner, outer, e_i, n_i, e_o, n_o, scale = c
            return np.array(
                [
                    stress(a[0], a[1], inner, e_i, n_i) / scale,
                    stress(b[2], b[3], outer, e_o, n_o) / scale,
                    (a[2] - b[0] - delta) / delta,
                    (stress(b[0], b[1], interface, e_i, n_i) - stress(a[2], a[3], interface, e_o, n_o)) / scale,
                ]
            )

        mesh = np.linspace(0, 1, 21)
        solution = solve_bvp(system, boundary, mesh, np.full((4, 21), 1e-7), tol=1e-9, max_nodes=20000)
        assert solution.success
        start, end = solution.y[:, 0], solution.y[:, -1]
        fit = plain.interference_fit(delta, interface, inner, outer, e_i, n_i, e_o, n_o)

        def hoop(u: float, du: float, r: float, e: float, n: float) -> float:
            return e / (1 - n * n) * (u / r + n * du)

        assert -stress(end[0], end[1], interface, e_i, n_i) == pytest.approx(fit.pressure, rel=1e-6)
        assert hoop(start[2], start[3], interface, e_o, n_o) == pytest.approx(fit.outer_bore_hoop, rel=1e-6)
        assert hoop(start[0], start[1], inner, e_i, n_i) == pytest.approx(fit.inner_bore_hoop, rel=1e-6)
        assert start[2] == pytest.approx(plain.bore_growth(fit.pressure, interface, outer, e_o, n_o), rel=1e-6)


def test_thin_rings_tend_to_the_membrane_formula() -> None:
    fit = plain.interference_fit(10e-6, 0.05, 0.05 - 1e-5, 0.05 + 1e-5, 207e9, 0.3, 207e9, 0.3)
    hoop = 207e9 * 5e-6 / 0.05
    assert fit.outer_bore_hoop == pytest.approx(hoop, rel=1e-3)
    assert fit.inner_bore_hoop == pytest.approx(-hoop, rel=1e-3)


# -------------------------------------------------------------------------------------------------------------- O-ring
@given(st.floats(1e-3, 7e-3), st.floats(5e-3, 0.4), st.floats(-0.05, 0.3))
def test_stretched_section_keeps_the_volume(section: float, inner: float, stretch: float) -> None:
    groove = inner * (1.0 + stretch)
    installed = plain.stretched_section(section, inner, groove)
    assert installed**2 * (max(groove, inner) + installed) == pytest.approx(section**2 * (inner + section), rel=1e-12)
    assert installed <= section * (1 + 1e-12)
    if stretch > 0.0:
        # d' = d sqrt(D/D') with the mean diameters
        assert installed == pytest.approx(section * math.sqrt((inner + section) / (groove + installed)), rel=1e-12)


def test_stretching_a_ring_by_two_percent_thins_a_thin_ring_by_one() -> None:
    assert plain.stretched_section(1e-3, 0.4, 0.408) == pytest.approx(1e-3 / math.sqrt(1.02), rel=1e-4)


def test_o_ring_gland_by_hand() -> None:
    """3.53 mm section, 2.8 mm deep, 4.8 mm wide, ring 2 % stretched: figures worked by hand."""
    gland = plain.o_ring_gland(72.0e-3, 66.4e-3, 4.8e-3, 66.4e-3 / 1.02, 3.53e-3, 0.0)
    section = 3.53 * math.sqrt((66.4 / 1.02 + 3.53) / (66.4 + 3.4976))
    assert gland.stretch == pytest.approx(0.02)
    assert gland.section * 1e3 == pytest.approx(section, abs=2e-4)
    assert gland.depth == pytest.approx(2.8e-3)
    assert gland.squeeze_ratio == pytest.approx(1.0 - 2.8 / section, abs=1e-4)
    assert gland.fill == pytest.approx(math.pi * section**2 / 4 / (2.8 * 4.8), abs=1e-4)


def test_a_gland_without_depth_has_no_fill() -> None:
    assert math.isnan(plain.o_ring_gland(0.05, 0.05, 4e-3, 0.048, 3.53e-3, 0.0).fill)


def test_accepted_classes_follow_the_tables_at_hand() -> None:
    grades = {"IT7": [25e-6], "IT8": [39e-6], "IT9": [62e-6], "IT11": [160e-6]}
    some = {"f": [-25e-6], "k": [2e-6], "m": [9e-6], "n": [17e-6], "p": [26e-6], "z": [1.0]}
    numbers = (7, 8, 9, 11)
    expected = [f"{letter}{n}" for letter in ("F", "H", "JS") for n in numbers]
    # a corrected hole needs the next finer grade; P goes without from IT8
    expected += ["K8", "M8", "N8", "P8", "P9", "P11"]
    expected += [f"{letter}{n}" for letter in ("f", "h", "js", "k", "m", "n", "p") for n in numbers]
    assert tolerances.accepted_classes(grades, some) == tuple(expected)
    for name in expected:
        tolerances.class_deviations(name, 0.04, [0.03], [0.05], grades, some)
    for name in ("K7", "K9", "M7", "M9", "M11", "N7", "N9", "P7", "e8", "H6"):
        with pytest.raises(tolerances.ToleranceClassError):
            tolerances.class_deviations(name, 0.04, [0.03], [0.05], grades, some)


def test_holes_of_coarse_grades_with_and_without_correction() -> None:
    grades = {"IT8": [39e-6], "IT9": [62e-6]}
    p8 = tolerances.class_deviations("P8", 0.04, [0.03], [0.05], grades, {"p": [26e-6]})
    assert p8 == pytest.approx((-26e-6, -65e-6), rel=1e-9)
    for name in ("K9", "M9", "N9"):
        with pytest.raises(tolerances.ToleranceClassError):
            tolerances.class_deviations(name, 0.04, [0.03], [0.05], grades, {"k": [2e-6], "m": [9e-6], "n": [17e-6]})


@pytest.mark.parametrize("edge", [3, 6, 10, 18, 30, 50, 80, 120, 180, 250, 315, 400, 500, 800, 1250, 2500, 3150])
def test_a_size_on_the_edge_belongs_to_the_lower_step(edge: float) -> None:
    column = GRADES.si_columns["IT8"]
    at = [round(1e3 * value) for value in GRADES.si_up_to].index(edge)
    for size in (edge * 1e-3, edge / 25.4 * 0.0254, edge / 1e3):
        assert step(size, "IT8") == column[at]
    above = step(edge * 1e-3 * 1.00001, "IT8")
    assert above == column[at + 1] if edge < 3150 else math.isnan(above)


def test_sizes_outside_the_table_are_not_extrapolated() -> None:
    for size in (0.0, -0.01, 3.151, 5.0, math.nan, math.inf):
        assert math.isnan(step(size, "IT8")), size
    holes = [0.01, 0.02, 0.04], [0.02, 0.03, 0.05], [1.0, math.nan, 3.0]
    found = [tolerances.size_step_value(size, *holes) for size in (0.01, 0.02, 0.03, 0.035, 0.04, 0.05, 0.06)]
    np.testing.assert_array_equal(found, [math.nan, 1.0, math.nan, math.nan, math.nan, 3.0, math.nan])


def test_grades_and_deviations_above_500_mm_follow_the_formulas_of_the_standard() -> None:
    """Tolerance unit I = 0.004 D + 2.1 um, D the geometric mean of a step; deviations by their own formulas; rounded since."""
    multiples = {6: 10, 7: 16, 8: 25, 9: 40, 10: 64, 11: 100, 12: 160, 13: 250}
    deviations = {
        "d": lambda D: -16.0 * D**0.44, "e": lambda D: -11.0 * D**0.41, "f": lambda D: -5.5 * D**0.41,
        "g": lambda D: -2.5 * D**0.34, "k": lambda _: 0.0, "m": lambda D: 0.024 * D + 12.6,
        "n": lambda D: 0.04 * D + 21.0, "p": lambda D: 0.072 * D + 37.8,
    }  # fmt: skip
    steps = [(a * 1e3, b * 1e3) for a, b in zip(GRADES.si_over, GRADES.si_up_to, strict=True) if a >= 0.4999]
    assert len(steps) == 8
    for over, up_to in steps:
        D = math.sqrt(over * up_to)
        for grade, multiple in multiples.items():
            assert step(up_to * 1e-3, f"IT{grade}") * 1e6 == pytest.approx(multiple * (0.004 * D + 2.1), rel=0.03)
        for letter, formula in deviations.items():
            found = tolerances.size_step_value(up_to * 1e-3, *TABLES[:2], TABLES[3][letter])
            assert found * 1e6 == pytest.approx(formula(D), rel=0.05), letter
    hole = tolerances.class_deviations("N8", 0.55, *TABLES)
    assert hole.upper == pytest.approx(-44e-6)  # no correction above 500 mm


def test_classes_without_a_table_of_deviations() -> None:
    accepted = tolerances.accepted_classes(GRADES.si_columns, {})
    assert {name.rstrip("0123456789") for name in accepted} == {"h", "H", "js", "JS"}
    assert tolerances.class_deviations("js7", 0.05, *TABLES[:3], {}) == pytest.approx((12.5e-6, -12.5e-6))
    with pytest.raises(tolerances.ToleranceClassError):
        tolerances.class_deviations("f7", 0.05, *TABLES[:3], {})


def lame(r: float, inner: float, outer: float, inside: float, outside: float) -> tuple[float, float]:
    """Radial and hoop stress in a cylinder by the equation of Lamé."""
    spread = outer**2 - inner**2
    mean = (inside * inner**2 - outside * outer**2) / spread
    change = (inside - outside) * inner**2 * outer**2 / (spread * r**2)
    return mean - change, mean + change


@given(radii, st.floats(1e-7, 1e-3), st.floats(1e8, 3e11), st.floats(1e8, 3e11), st.floats(0.0, 0.49))
def test_interference_is_shared_out_in_full(r: list[float], delta: float, e_i: float, e_o: float, nu: float) -> None:
    inner, interface, outer = r
    if interface - inner < 1e-4 or outer - interface < 1e-4:
        return
    fit = plain.interference_fit(delta, interface, inner, outer, e_i, nu, e_o, nu)
    assert fit.pressure > 0.0
    twice = plain.interference_fit(2 * delta, interface, inner, outer, e_i, nu, e_o, nu)
    assert twice.pressure == pytest.approx(2 * fit.pressure)
    # the equation of Lamé reproduces the closed forms, and the two displacements make up the interference
    hub = lame(interface, interface, outer, fit.pressure, 0.0)
    sleeve = lame(interface, inner, interface, 0.0, fit.pressure)
    assert hub == pytest.approx((-fit.pressure, fit.outer_bore_hoop), rel=1e-6)
    assert lame(inner, inner, interface, 0.0, fit.pressure)[1] == pytest.approx(fit.inner_bore_hoop, rel=1e-6)
    grown = interface * (hub[1] - nu * hub[0]) / e_o
    shrunk = interface * (sleeve[1] - nu * sleeve[0]) / e_i
    assert grown - shrunk == pytest.approx(delta, rel=1e-6)
    assert plain.bore_growth(fit.pressure, interface, outer, e_o, nu) == pytest.approx(grown, rel=1e-6)
    # of one material: Shigley, ch. 3 (from memory)
    same = plain.interference_fit(delta, interface, inner, outer, e_o, nu, e_o, nu).pressure
    spreads = (outer**2 - interface**2) * (interface**2 - inner**2) / (2.0 * interface**2 * (outer**2 - inner**2))
    assert same == pytest.approx(e_o * delta / interface * spreads, rel=1e-6)


def test_clearance_gives_no_pressure_and_impossible_radii_give_nan() -> None:
    assert plain.interference_fit(-1e-6, 0.02, 0.01, 0.03, 2e11, 0.3, 2e11, 0.3).pressure == 0.0
    for inner, outer in ((0.02, 0.03), (0.01, 0.02), (0.025, 0.03), (-0.01, 0.03)):
        assert math.isnan(plain.interference_fit(1e-6, 0.02, inner, outer, 2e11, 0.3, 2e11, 0.3).pressure)
    assert math.isnan(plain.bore_growth(1e6, 0.02, 0.02, 2e11, 0.3))
    assert plain.bore_growth(1e6, 0.02, math.inf, 1e11, 0.34) == pytest.approx(1e6 * 0.02 / 1e11 * 1.34)
    solid = plain.interference_fit(2e-5, 0.025, 0.0, 0.05, 2e11, 0.3, 7e10, 0.33)
    assert solid.inner_bore_hoop == -solid.pressure  # no doubling at a bore


@given(st.floats(0.0, 1e-3), st.floats(0.0, 1e-3), st.floats(0.0, 5e-4), st.floats(0.0, 1e-4))
def test_gap_grows_with_clearance_offset_and_bore_growth(c: float, more: float, offset: float, growth: float) -> None:
    base = plain.radial_gap(0.05 + c, 0.05, offset, 0.0, 0.0, 0.0)
    assert base.concentric <= base.actual <= base.worst + 1e-15
    assert (base.worst, base.concentric) == pytest.approx((c, c / 2), abs=1e-15)
    for wider in (
        plain.radial_gap(0.05 + c + more, 0.05, offset, 0.0, 0.0, 0.0),
        plain.radial_gap(0.05 + c, 0.05, offset + more, 0.0, 0.0, 0.0),
        plain.radial_gap(0.05 + c, 0.05, offset, growth, 0.0, 0.0),
        plain.radial_gap(0.05 + c, 0.05, offset, 0.0, 1e-3, 0.0),
        plain.radial_gap(0.05 + c, 0.05, offset, 0.0, 0.0, -1e-3),
    ):
        assert wider.actual >= base.actual
        assert wider.worst >= base.worst
    grown = plain.radial_gap(0.05 + c, 0.05, 0.0, growth, 0.0, 0.0)
    assert grown.worst - plain.radial_gap(0.05 + c, 0.05, 0.0, 0.0, 0.0, 0.0).worst == pytest.approx(
        2 * growth, abs=1e-15
    )
    assert plain.radial_gap(0.0499, 0.05, 1e-4, 0.0, 0.0, 0.0) == (0.0, 0.0, 0.0)


def test_a_warm_ring_is_the_cold_one_grown() -> None:
    bore, groove, width, inner, section = 0.072, 0.0662, 4.8e-3, 0.064, 3.53e-3
    warm = plain.o_ring_gland(bore, groove, width, inner, section, 1e-2)
    assert warm == pytest.approx(plain.o_ring_gland(bore, groove, width, inner * 1.01, section * 1.01, 0.0), rel=1e-12)
    assert warm.squeeze > plain.o_ring_gland(bore, groove, width, inner, section, 0.0).squeeze


def test_lives_of_gaps_and_grooves() -> None:
    sound(
        fits.bore_growth,
        {"p": (0.0, 5e7), "R": (0.01, 0.2), "r_o": (0.01, 0.3), "E": (5e10, 2.1e11), "nu": (0.2, 0.4)},
    )
    for hole in ((0.0, 0.045), (0.0, 0.0)):
        spans = {
            "delta": (-5e-5, 2e-4), "R": (0.03, 0.06), "r_i": hole, "r_o": (0.05, 0.1),
            "E_i": (5e8, 2.1e11), "nu_i": (0.2, 0.45), "E_o": (5e10, 2.1e11), "nu_o": (0.2, 0.4),
        }  # fmt: skip
        sound(fits.interference_fit, spans)
    spans = {
        "D": (0.05, 0.051), "d": (0.0495, 0.0505), "e": (-2e-4, 2e-4), "u": (0.0, 5e-5),
        "epsilon_D": (-3e-3, 4e-3), "epsilon_d": (-3e-3, 4e-3),
    }  # fmt: skip
    sound(fits.radial_gap, spans)
    sound(fits.stretched_section, SECTION)
    spans = {
        "D_b": (0.06, 0.068), "D_g": (0.052, 0.061), "w": (3e-3, 6e-3), "d_i": (0.048, 0.055), "d": (3e-3, 5e-3),
        "epsilon": (-0.02, 0.05),
    }  # fmt: skip
    sound(fits.o_ring_gland, spans, functions={"stretched_section": plain.stretched_section})
    sound(fits.shaft_lead_in, {"d_1": (0.005, 0.5), "Delta": (1e-3, 1e-2), "beta": (0.2, 0.6)})
    sound(fits.bore_depth, {"b": (0.005, 0.03), "Delta_t": (3e-4, 1e-3)})


def test_lead_in_keeps_its_triangle_and_a_bore_is_deeper_than_its_seal() -> None:
    lead = plain.shaft_lead_in(0.05, 3.5e-3, math.radians(20))
    assert lead.small_diameter == pytest.approx(0.0465)
    assert lead.length * math.tan(math.radians(20)) == pytest.approx(3.5e-3 / 2)
    assert plain.bore_depth(10e-3, 0.9e-3) == pytest.approx(10.9e-3)


def test_two_corners_of_the_tolerances_are_the_extremes_of_all_32() -> None:
    ranges = ((72.0e-3, 72.046e-3), (66.3e-3, 66.4e-3), (4.7e-3, 4.9e-3), (63.0e-3, 64.0e-3), (3.43e-3, 3.63e-3))
    corners = [plain.o_ring_gland(*corner, 0.01) for corner in itertools.product(*ranges)]
    ends = [
        tuple(pair[at] for pair, at in zip(ranges, ends, strict=True)) for ends in ((1, 0, 1, 0, 0), (0, 1, 0, 1, 1))
    ]
    loosest, tightest = (plain.o_ring_gland(*corner, 0.01) for corner in ends)
    for field in ("squeeze", "squeeze_ratio", "fill"):
        found = [getattr(gland, field) for gland in corners]
        assert min(found) == pytest.approx(getattr(loosest, field), rel=1e-12), field
        assert max(found) == pytest.approx(getattr(tightest, field), rel=1e-12), field
