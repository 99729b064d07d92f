"""Lubrication as a state."""

from __future__ import annotations

import math

import numpy as np
import pytest
from glandwise.mechanics import lubrication
from glandwise.mechanics.choices import Motion
from scipy.integrate import quad

from tests.mechanics.support import draws, told, told_alike
from tests.published import checks

G_0, F_0, C, MU_B = 1e-7, 0.1, 10.0, 0.08
SHARE = ((0.0, 1e-5), (3e-8, 3e-7), (0.03, 0.3))
SWING = {"swing": lubrication.swing_mean}


def friction(G: float) -> float:
    """Coefficient of friction at a duty number."""
    phi = lubrication.film_share(G, G_0, F_0)
    return lubrication.mixed_friction(phi, MU_B, lubrication.film_friction(C, G))


def test_lives() -> None:
    told_alike(lubrication.viscous_stress, draws((0.0, 1.0), (1e-5, 1.0), (-400.0, 400.0)))
    told_alike(lubrication.duty_number, draws((0.0, 10.0), (50.0, 3e4), (1e-5, 4e-3)))
    told_alike(lubrication.film_share, draws(*SHARE))
    told_alike(lubrication.slow_share, draws((0.0, 1.0), (-2.0, 2.0), (0.05, 0.2), (0.3, 0.7)))
    told_alike(lubrication.boiling_share, draws((300.0, 500.0), (300.0, 500.0), (10.0, 30.0)))
    told_alike(lubrication.floor_share, draws((0.0, 1.0), (0.0, 1.0)))
    told_alike(lubrication.film_friction, draws((5.0, 20.0), (0.0, 1e-5)))
    told_alike(lubrication.mixed_friction, draws((0.0, 1.0), (0.03, 0.3), (0.0, 0.3)))
    told_alike(lubrication.mixed_wear_rate, draws((0.0, 1.0), (1e-18, 1e-13)))


def test_lives_of_a_swing() -> None:
    told_alike(lubrication.swing_mean, [(g,) for g in (0.01, 0.0199, 0.0201, 0.9999, 1.0, 1.0001, 30.0, 1e16, 1e18)])
    told_alike(lubrication.swing_share, draws(*SHARE), SWING)
    for motion in Motion:
        told_alike(lubrication.share_of, [(motion, *row) for row in draws(*SHARE, count=60)], SWING)


@pytest.mark.parametrize("g", [0.0, 1e-6, 0.005, 0.0199999, 0.0200001, 0.3, 0.999999, 1.0, 1.000001, 3.0, 1e3, 1e6])
def test_a_swing_is_the_mean_over_its_way(g: float) -> None:
    mean = quad(
        lambda a: math.cos(a) / (1.0 + g * math.cos(a)), 0.0, 0.5 * math.pi, epsabs=0.0, epsrel=1e-12, limit=500
    )[0]
    assert lubrication.swing_mean(g) == pytest.approx(mean, rel=1e-10)


def test_ends_of_the_share() -> None:
    assert lubrication.film_share(0.0, G_0, F_0) == 1.0
    assert lubrication.film_share(G_0, G_0, 0.0) == 0.5
    assert lubrication.film_share(math.inf, G_0, F_0) == F_0
    assert lubrication.swing_share(0.0, G_0, F_0) == 1.0
    assert lubrication.swing_mean(math.inf) == 0.0


def test_gas_carries_no_lip() -> None:
    S = lubrication.viscous_stress(0.0, 1.8e-5, 1e3)
    assert told(lubrication.film_share, lubrication.duty_number(S, 100.0, 1e-3), G_0, F_0) == 1.0


def test_friction_has_one_least_value_where_the_derivative_says() -> None:
    """With x = G/G_0 the least value is where mu_b = C G_0^(1/3) (4 x^(1/3) + x^(4/3))/3."""
    numbers = np.geomspace(1e-12, 1e-3, 3001)
    steps = np.diff([friction(G) for G in numbers])
    turns = np.flatnonzero((steps[:-1] < 0.0) != (steps[1:] < 0.0))
    assert len(turns) == 1
    assert steps[0] < 0.0 < steps[-1]
    x = numbers[turns[0] + 1] / G_0
    assert C * G_0 ** (1 / 3) * (4 * x ** (1 / 3) + x ** (4 / 3)) / 3 == pytest.approx(MU_B, rel=0.02)


def test_friction_falls_before_it_rises_with_speed() -> None:
    """An oil-wetted lip of 50 mm: 0.1, 10 and 3000 turns a minute; boundary at the one end, film at the other."""

    def at(rpm: float) -> float:
        S = lubrication.viscous_stress(1.0, 0.01, rpm * math.pi / 30)
        return friction(lubrication.duty_number(S, 200.0, 1e-3))

    assert at(0.1) == pytest.approx(MU_B, rel=0.02)
    assert at(10.0) < at(0.1)
    assert at(3000.0) > at(10.0)


def test_the_share_falls_and_share_times_speed_rises() -> None:
    """A steeper share would let a faster seal wear less; this one is the steepest that does not."""
    numbers = np.geomspace(1e-12, 1e-2, 2001)
    for share in (lubrication.film_share, lubrication.swing_share):
        phi = np.array([share(G, G_0, 0.0) for G in numbers])
        assert np.all(np.diff(phi) < 0.0)
        assert np.all(np.diff(phi * numbers) > 0.0)
    wear = [lubrication.film_share(G, G_0, 0.0) ** 1.05 * G for G in numbers]
    assert np.any(np.diff(wear) < 0.0)


def test_a_swing_leaves_more_to_solid_contact_than_turning_at_its_greatest_speed() -> None:
    for G in np.geomspace(1e-10, 1e-3, 50):
        assert lubrication.swing_share(G, G_0, F_0) > lubrication.film_share(G, G_0, F_0)


def test_a_slow_swing_has_a_floor_without_a_step() -> None:
    assert told(lubrication.slow_share, 0.1, 0.05, 0.1, 0.5) == 0.5
    assert told(lubrication.slow_share, 0.8, 0.05, 0.1, 0.5) == 0.8
    assert told(lubrication.slow_share, 0.1, 0.0, 0.1, 0.5) == 0.5
    assert told(lubrication.slow_share, 0.1, 50.0, 0.1, 0.5) == 0.1
    assert lubrication.slow_share(0.1, 0.1 * (1 + 1e-9), 0.1, 0.5) == pytest.approx(0.5, rel=1e-8)


def test_a_contact_that_boils_has_no_film() -> None:
    assert told(lubrication.boiling_share, 373.15, 373.15, 20.0) == 1.0
    assert told(lubrication.boiling_share, 500.0, 373.15, 20.0) == 1.0
    assert told(lubrication.boiling_share, 353.15, 373.15, 20.0) == 0.0
    assert told(lubrication.boiling_share, 363.15, 373.15, 20.0) == pytest.approx(0.5)
    assert told(lubrication.boiling_share, 500.0, math.inf, 20.0) == 0.0
    assert lubrication.floor_share(F_0, 1.0) == 1.0
    phi, w = lubrication.film_share(2e-7, G_0, F_0), 0.3
    raised = lubrication.film_share(2e-7, G_0, lubrication.floor_share(F_0, w))
    assert raised == pytest.approx(phi + (1.0 - phi) * w, rel=1e-14)


def chain(
    viscosity: float, speed: float, load: float, width: float, supply: float, boiling: float
) -> tuple[float, float]:
    """Friction and wear share of a duty."""
    G = lubrication.duty_number(lubrication.viscous_stress(supply, viscosity, speed), load, width)
    phi = lubrication.film_share(G, G_0, lubrication.floor_share(F_0, lubrication.boiling_share(360.0, boiling, 20.0)))
    return lubrication.mixed_friction(phi, MU_B, lubrication.film_friction(C, G)), phi


@pytest.mark.parametrize("index", range(6))
def test_nothing_jumps(index: int) -> None:
    """Sweeps of each argument from gas to syrup, from rest to 50 m/s, from dry to flooded, through boiling."""
    low = [1e-6, 1e-4, 10.0, 1e-6, 1e-6, 340.0]
    high = [10.0, 2e3, 5e4, 5e-3, 1.0, 420.0]
    middle = [1e-3, 100.0, 300.0, 4e-4, 1.0, 400.0]
    sweep = np.linspace(low[5], high[5], 4001) if index == 5 else np.geomspace(low[index], high[index], 4001)
    values = np.array([chain(*middle[:index], x, *middle[index + 1 :]) for x in sweep])
    assert np.all(np.isfinite(values))
    assert np.abs(np.diff(np.log(values), axis=0)).max() < 0.01


def test_torque_of_a_light_lip_is_a_third_to_all_of_an_elastomer_lips() -> None:
    """Gearbox of 50 mm at 3000 turns a minute: 0.11 N/mm on 0.38 mm, oil ISO VG 220, 100 °C at the contact (16 mPa·s).

    The formulas for elastomer lips are remembered and say the order of magnitude, as does the ratio of 0.3 to 1.
    """
    found = checks.lip_torque(0.05, 3000.0, 16e-3, 110.0, 0.38e-3, 0.08, 10.0)
    for elastomer in (
        checks.elastomer_torque(0.05, 3.737e-3),
        checks.elastomer_power_torque(0.05, 3000.0, 80.0, 220.0),
    ):
        assert 0.25 < found / elastomer < 1.0


@pytest.mark.parametrize("diameter", [0.085, 0.1])
@pytest.mark.parametrize("rpm", [2000.0, 4000.0, 6000.0])
def test_torque_of_a_crank_seal_is_of_the_order_that_is_remembered(diameter: float, rpm: float) -> None:
    """0.2 to 0.6 N·m at 100 to 120 °C in oil (5 mPa·s), from memory; at 2000 turns a minute within a fifth of the low end."""
    found = checks.lip_torque(diameter, rpm, 5e-3, 100.0, 0.4e-3, 0.08, 10.0)
    assert 0.2 / 1.2 < found < 0.6
