"""What carries heat off the wetted shaft: the fluid's own properties, its pressure, its boiling point."""

from __future__ import annotations

import math
from typing import Any

import fluids
import ht
import numpy as np
import pytest
from glandwise.mechanics import films
from glandwise.physics import fluid_film

from tests.questions.plain import Plain, run
from tests.questions.support import case_of, flexible, merged, q, rules


def wetted(fluid: str, d: float, rpm: float, celsius: float, bar: float = 0.0, **duty: Any) -> fluid_film.Wetted:
    """Film coefficient of an invented shaft."""
    request = merged(
        flexible(),
        duty={
            "shaft_diameter": q(d, "mm"), "motion": {"kind": "rotation", "rotational_speed": q(rpm, "rpm")}, "fluid": fluid,
            "temperature": {"normal": q(celsius, "degC")}, "pressure": q(bar, "bar"), **duty,
        },
    )  # fmt: skip
    plain = Plain(case_of(request))
    return run(fluid_film.wetted_shaft, plain.row, plain.rules)


@pytest.mark.parametrize(
    ("fluid", "d", "rpm", "celsius", "expected"),
    [
        ("water", 30, 2900, 20, 13500), ("water", 60, 60, 60, 1730), ("mineral_oil_hydraulic", 50, 3000, 60, 1630),
        ("mineral_oil_gear", 50, 3000, 80, 1300), ("mineral_oil_gear", 50, 300, 80, 280),
    ],
)  # fmt: skip
def test_liquids_are_as_worked_by_hand_from_tables(
    fluid: str, d: float, rpm: float, celsius: float, expected: float
) -> None:
    """Becker with properties from tables, as in the published cases; those of the rules differ by a few hundredths."""
    assert wetted(fluid, d, rpm, celsius).film == pytest.approx(expected, rel=0.05)


def test_water_is_to_a_library_of_cylinders_in_cross_flow_as_a_turning_shaft_is() -> None:
    """Churchill and Bernstein for the same Reynolds number: another flow, so the order only."""
    d, n = 0.03, 2900 / 60
    nu, Pr, k = 1.0e-6, 7.0, 0.6
    Re = fluids.Reynolds(V=math.pi * d * n, D=d, nu=nu)
    across = ht.Nu_cylinder_Churchill_Bernstein(Re, Pr) * k / d
    assert 0.5 < wetted("water", 30, 2900, 20).film / across < 2.0


def test_a_gas_cools_by_its_pressure_and_no_less_in_a_vacuum() -> None:
    still, dense = wetted("nitrogen", 50, 3000, 40), wetted("nitrogen", 50, 3000, 40, 20.0)
    assert 30.0 < still.film < 70.0
    assert dense.film / still.film == pytest.approx((20.0e5 / 101325.0 + 1.0) ** (2.0 / 3.0), rel=1e-3)
    assert 200.0 < dense.film < 600.0
    assert wetted("nitrogen", 50, 3000, 40, -0.9) == still


def test_steam_condenses_at_its_boiling_point_and_not_far_above() -> None:
    saturated, hot = wetted("steam", 60, 60, 165, 6.0).film, wetted("steam", 60, 60, 220, 3.0).film
    assert saturated > 7500.0
    assert hot < 70.0
    temperatures = np.arange(140.0, 180.0, 0.25)
    found = [wetted("steam", 60, 60, T, 3.0).film for T in temperatures]
    assert found == sorted(found, reverse=True)
    assert max(abs(np.diff(found))) < 0.02 * found[0]


def test_the_condensing_film_of_the_rules_is_nusselts() -> None:
    """Condensate at 100 and 165 degC on 60 mm, 2 to 30 K: properties of water and steam from memory."""
    rule = rules().data.running.fluid_film.condensing
    for k, eta, rho, rho_v, h_fg in ((0.68, 2.8e-4, 958.0, 0.6, 2.257e6), (0.68, 1.65e-4, 902.0, 3.7, 2.066e6)):
        for rise in (2.0, 10.0, 30.0):
            assert rule.si_low <= run(films.condensing_film, 0.06, k, eta, rho, rho_v, h_fg, rise) <= rule.si_high


def test_grease_conducts_and_does_not_hang_on_speed() -> None:
    slow, fast = wetted("grease_lithium", 50, 30, 60).film, wetted("grease_lithium", 50, 3000, 60).film
    assert slow == fast
    assert 20.0 < slow < 150.0


def test_splash_wets_a_part_of_the_shaft_and_air_the_rest() -> None:
    """Flooded, mist, starved, dry: 50 to 400 W/m2K of oil in splash, as worked by hand; no worse than in air, nor better flooded."""
    duty = ("mineral_oil_hydraulic", 50, 3000, 60)
    flooded, mist, starved, dry = (
        wetted(*duty, lubrication=name).film for name in ("flooded", "mist", "starved", "dry")
    )
    assert flooded == wetted(*duty).film
    air = wetted("air", 50, 3000, 60).film
    assert dry == pytest.approx(air, rel=0.05)
    assert flooded > mist > starved > dry
    assert 50.0 < mist < 400.0
    rule = rules().data.running.fluid_film
    assert mist == pytest.approx(rule.wetted_mist.si * flooded + (1.0 - rule.wetted_mist.si) * dry, rel=1e-12)
    assert starved == pytest.approx(rule.wetted_starved.si * flooded + (1.0 - rule.wetted_starved.si) * dry, rel=1e-12)
    # grease under the lip says nothing of the shaft beside it, and what is dry by nature floods it all the same
    assert wetted(*duty, lubrication="grease").film == flooded
    assert wetted("sodium_molten", 60, 300, 200).film == rule.liquid.si
    slow = [wetted("mineral_oil_gear", 400, 0.01, 20, lubrication=name).film for name in ("flooded", "mist", "dry")]
    assert slow == sorted(slow, reverse=True)


def test_a_liquefied_gas_boils_away_and_a_liquid_does_not() -> None:
    cold = wetted("nitrogen_liquid", 35, 1500, -196, 0.0)
    assert cold.boils_at == pytest.approx(77.35, abs=0.01)
    assert 1500.0 < cold.film < 10000.0
    assert wetted("nitrogen_liquid", 35, 1500, -196, 5.0).boils_at > 90.0
    assert wetted("water", 35, 1500, 20).boils_at == math.inf


def test_every_fluid_has_a_film() -> None:
    for name, fluid in rules().data.fluids.items():
        low = -273.15 if fluid.temperature_min is None else fluid.temperature_min.si - 273.15
        high = 1000.0 if fluid.temperature_max is None else fluid.temperature_max.si - 273.15
        found = wetted(name, 50, 500, min(max(20.0, low + 1e-3), high - 1e-3))
        assert 2.0 < found.film < 5e4, name
        assert found.boils_at > 0.0
