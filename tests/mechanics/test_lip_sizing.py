"""Sizes of a lip: lives, working, the forms themselves, and what lips of these sizes do by the law of contact."""

from __future__ import annotations

import math
from typing import Any

import pytest
from glandwise.mechanics import lip_contact, lip_sizing
from glandwise.mechanics.choices import FilmPressure, LipDirection, LipState
from glandwise.mechanics.lip_contact import LipContact
from glandwise.numerics.compiled import compiled

from tests.mechanics.support import draws, hostile, lives_agree, steps_hold

P, S = (-1e5, 3e7), (1.0, 20.0)
FORMULAS: list[tuple[Any, list[tuple[float, ...]]]] = [
    (lip_sizing.sized_by_diameter, draws((5e-3, 0.6), (0.02, 0.1), (1e-4, 1e-2), (-1.0, 1.0))),
    (lip_sizing.plain_slenderness, draws(P, (1e6, 4e7), S, (1e4, 1e6), (1e6, 4e7), (3.0, 6.0), (8.0, 12.0))),
    (lip_sizing.even_in_logarithm, draws(P, (1e5, 2e6), (1e-3, 1e-2), (3e6, 2e7), (1e-3, 1e-2))),
    (lip_sizing.scaled_section, draws((5e-5, 1e-3), (50.0, 5e3), (-10.0, 5e3))),
    (lip_sizing.energized_slenderness, draws(P, (1e5, 2e6), S, (3e6, 2e7), S)),
    (lip_sizing.thickness_by_modulus, draws((1e-3, 1e-2), S, (5e7, 2e9), (5e7, 2e9), (0.1, 0.5))),
    (lip_sizing.running_interference, draws((0.0, 1e-3), (0.0, 1.0), (0.0, 1e-3), (0.1, 1.0))),
    (lip_sizing.hot_interference, draws((0.0, 1.0), (-1e-3, 3e-3))),
    (lip_sizing.cold_interference, draws((0.0, 1.0), (-1e-3, 3e-3), (0.0, 1e-3), (0.0, 1.0))),
    (lip_sizing.root_clearance, draws((0.0, 1e-3), (0.0, 5e-4), (0.0, 5e-4), (0.0, 2e-4), (-1e-4, 2e-3), (0.0, 2e-4))),
    (lip_sizing.bore_angle, draws((-1e-4, 1e-3), (0.0, 1e-3), (1e-3, 1e-2))),
    (lip_sizing.spring_load, draws(P, (1e5, 2e6), (3e6, 2e7), (0.0, 1e3), (0.0, 1e3), (0.0, 3e3))),
]  # fmt: skip


@pytest.mark.parametrize("formula,rows", FORMULAS, ids=[formula.__name__ for formula, _ in FORMULAS])
def test_lives_agree_and_steps_hold(formula: Any, rows: Any) -> None:
    lives_agree(formula, rows)
    lives_agree(formula, hostile(rows[:40]))
    steps_hold(formula, hostile(rows[:10]))
    steps_hold(formula, rows[:60])


# the forms, with the nominal numbers of the proposal

BAR, MM = 1e5, 1e-3


def slenderness(p: float, sigma_y: float = 9.5e6) -> float:
    return lip_sizing.plain_slenderness(p, sigma_y, 12.5, BAR, 9.5e6, 5.0, 11.0)


def test_slenderness_of_a_plain_lip() -> None:
    assert [round(slenderness(p * BAR), 1) for p in (-1.0, 0.0, 1.3, 2.0, 3.4, 5.0)] == [
        11.0,
        11.0,
        11.0,
        8.8,
        6.8,
        5.6,
    ]
    assert slenderness(100.0 * BAR) == 5.0
    assert slenderness(3.4 * BAR, 2.0 * 9.5e6) == pytest.approx(math.sqrt(2.0) * slenderness(3.4 * BAR))
    assert math.isnan(slenderness(math.nan))
    assert math.isnan(slenderness(BAR, 0.0))


def test_slenderness_of_an_energized_lip_is_even_in_the_logarithm() -> None:
    def at(p: float) -> float:
        return lip_sizing.energized_slenderness(p * BAR, 10.0 * BAR, 6.3, 100.0 * BAR, 2.5)

    assert [at(p) for p in (-1.0, 0.0, 10.0, 100.0, 300.0)] == [6.3, 6.3, 6.3, 2.5, 2.5]
    assert at(math.sqrt(1000.0)) == pytest.approx(4.4)
    assert at(math.nextafter(10.0, 11.0)) == pytest.approx(6.3, rel=1e-12)
    assert at(math.nextafter(100.0, 99.0)) == pytest.approx(2.5, rel=1e-12)
    assert math.isnan(at(math.nan))


def test_lengths_go_as_slenderness_does() -> None:
    def at(p: float) -> float:
        return lip_sizing.even_in_logarithm(p * BAR, 10.0 * BAR, 3.8 * MM, 100.0 * BAR, 2.5 * MM)

    assert [at(p) for p in (-1.0, 0.0, 10.0, 100.0, 300.0)] == pytest.approx([3.8e-3, 3.8e-3, 3.8e-3, 2.5e-3, 2.5e-3])
    assert at(math.sqrt(1000.0)) == pytest.approx(3.15 * MM)


def test_a_section_is_scaled_by_the_cube_root_of_the_load() -> None:
    assert lip_sizing.scaled_section(0.1 * MM, 800.0, 100.0) == pytest.approx(0.2 * MM)
    assert lip_sizing.scaled_section(0.1 * MM, 800.0, math.nan) == 0.1 * MM


def test_thickness_keeps_the_stiffness_until_the_lip_is_thick() -> None:
    one = lip_sizing.thickness_by_modulus(5.0 * MM, 10.0, 575e6, 575e6, 1.0 / 6.0)
    two = lip_sizing.thickness_by_modulus(5.0 * MM, 10.0, 200e6, 575e6, 1.0 / 6.0)
    assert one == pytest.approx(0.5 * MM)
    assert 200e6 * two**3 == pytest.approx(575e6 * one**3)
    assert lip_sizing.thickness_by_modulus(5.0 * MM, 10.0, 50e6, 575e6, 1.0 / 6.0) == pytest.approx(5.0 * MM / 6.0)


def test_interference_and_clearance() -> None:
    by_diameter = lip_sizing.sized_by_diameter(0.1, 0.05, 0.30 * MM, 0.4)
    assert by_diameter == pytest.approx(0.396 * MM, rel=1e-3)
    assert lip_sizing.running_interference(by_diameter, 0.65, 0.2 * MM, 0.5) == by_diameter
    assert lip_sizing.running_interference(by_diameter, 0.65, 0.5 * MM, 0.5) == pytest.approx(0.65 * MM)
    assert lip_sizing.hot_interference(0.6, (9e-5 - 1.1e-5) * 100.0 * 0.025) == pytest.approx(0.1185 * MM)
    assert lip_sizing.hot_interference(0.6, -0.1 * MM) == 0.0
    assert lip_sizing.cold_interference(0.6, -0.1 * MM, 0.15 * MM, 0.33) == 0.0
    assert lip_sizing.cold_interference(0.6, 0.1 * MM, 0.15 * MM, 0.33) == pytest.approx(0.06 * MM)
    assert lip_sizing.cold_interference(0.6, 0.5 * MM, 0.15 * MM, 0.33) == pytest.approx(0.67 * 0.15 * MM)
    clearance = [
        lip_sizing.root_clearance(0.5 * MM, offset * MM, 0.2 * MM, 0.1 * MM, cold * MM, 0.15 * MM)
        for offset, cold in ((0.1, 0.1), (0.4, 0.1), (0.1, 0.9))
    ]
    assert clearance == pytest.approx([0.5 * MM, 0.6 * MM, 1.05 * MM])
    assert math.degrees(lip_sizing.bore_angle(0.37 * MM, 0.5 * MM, 5.0 * MM)) == pytest.approx(9.87, abs=0.01)


def test_springs_come_in_classes() -> None:
    loads = [
        lip_sizing.spring_load(p * BAR, 10 * BAR, 100 * BAR, 400.0, 700.0, 1000.0) for p in (-1, 10, 10.1, 100, 101)
    ]
    assert loads == [400.0, 400.0, 700.0, 700.0, 1000.0]
    assert math.isnan(lip_sizing.spring_load(math.nan, 10 * BAR, 100 * BAR, 400.0, 700.0, 1000.0))


# what lips of these sizes do; the material figures are those of the house estimates of the rules for PTFE with carbon and
# graphite (modulus at 20 °C at once, at 80 °C after 1000 h, yield strength at 80 °C)

GROWTH = 78e-6
MODULUS = {20.0: 918e6, 80.0: 383e6}
YIELD = 9.8e6


def law(d: float, t: float, L: float, a: float, i: float, E: float, p: float = 0.0, F: float = 0.0) -> LipContact:
    found: LipContact = compiled(lip_contact.lip_contact)(
        d, t, L, a, i, E, 0.44, p, F, 0.75 * L, 0.0, 0.0, math.inf, LipDirection.toward, FilmPressure.none
    )
    return found


def flexible(T: float, p: float, L_t: float, d: float = 0.05, g_0: float = 0.5 * MM) -> LipContact:
    """Lip of the nominal sizes that was made up for 80 °C, at a temperature and a pressure."""
    L = lip_sizing.sized_by_diameter(d, 0.05, 5.0 * MM, 0.35)
    made = lip_sizing.sized_by_diameter(d, 0.05, 0.3 * MM, 0.4)
    made += lip_sizing.hot_interference(0.6, GROWTH * 60.0 * d / 2.0)
    a = lip_sizing.bore_angle(made, lip_sizing.sized_by_diameter(d, 0.05, g_0, 0.2), L)
    return law(d, L / L_t, L, a, made - GROWTH * (T - 20.0) * d / 2.0, MODULUS[T], p)


def test_the_flexible_lip_of_fifty_millimetres() -> None:
    """Loads of the proposal: 0.34 N/mm new, 0.11 hot and relaxed (0.10 here), 0.9 at 3.4 bar, laid down by 1.5 to 2.3 mm."""
    assert flexible(20.0, 0.0, 11.0).load == pytest.approx(340.0, rel=0.03)
    assert flexible(80.0, 0.0, 11.0).load == pytest.approx(110.0, rel=0.15)
    pressed = flexible(80.0, 3.4 * BAR, 11.0)
    assert pressed.load == pytest.approx(900.0, rel=0.03)
    assert pressed.state == LipState.laid
    assert 1.1 * MM < pressed.width < 2.3 * MM


@pytest.mark.parametrize("d", [0.015, 0.05, 0.1, 0.4])
def test_slenderness_at_which_the_root_comes_to_its_limit(d: float) -> None:
    """13 over the root of the pressure in bar, for shafts of 15 to 400 mm within 8 % (the proposal says 5 %)."""
    low, high = 2.0, 40.0
    for _ in range(50):
        middle = 0.5 * (low + high)
        stress = flexible(80.0, 3.45 * BAR, middle, d).root_stress
        low, high = (low, middle) if stress > 0.8 * YIELD else (middle, high)
    assert low * math.sqrt(3.45) == pytest.approx(13.0, rel=0.08)


@pytest.mark.parametrize(
    ("p", "L", "load"), [(0.0, 2.5, 0.4), (3.0, 2.5, 0.8), (10.0, 2.5, 1.8), (100.0, 2.5, 13.0), (200.0, 2.5, 30.0)]
)
def test_the_energized_lip_of_fifty_millimetres(p: float, L: float, load: float) -> None:
    """Loads of the proposal within a quarter: 0.35 to 0.5 N/mm without pressure, 0.8 at 3 bar, 1.8, 13 and 30."""
    L *= MM
    t = L / lip_sizing.energized_slenderness(p * BAR, 10.0 * BAR, 6.3, 100.0 * BAR, 2.5)
    spring = lip_sizing.spring_load(p * BAR, 10.0 * BAR, 100.0 * BAR, 400.0, 700.0, 1000.0)
    for T in MODULUS:
        found = law(0.05, t, L, math.radians(8.0), 0.15 * MM, MODULUS[T], p * BAR, spring)
        assert found.load == pytest.approx(1e3 * load, rel=0.25)
