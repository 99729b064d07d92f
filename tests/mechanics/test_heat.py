"""Ways of the heat as plain formulas."""

from __future__ import annotations

import math

import pytest
from glandwise.mechanics import heat
from glandwise.mechanics.choices import FilmCorrelation
from glandwise.numerics import sources
from glandwise.numerics.compiled import compiled
from glandwise.numerics.trace import Working
from glandwise.rules.model import FilmCorrelation as InRules
from glandwise.twofold import heat as before

from tests.mechanics.support import sound, told

SHAFT = {"d": (5e-3, 0.6), "k": (10.0, 400.0), "h": (2.0, 5e3), "L": (1e-2, 1.0)}
FILM = {
    "d": (5e-3, 0.6), "n": (0.0, 150.0), "k": (0.02, 0.05), "nu": (1e-5, 5e-5), "Pr": (0.68, 0.72),
    "beta": (1.6e-3, 4e-3), "Delta_T": (-50.0, 300.0),
}  # fmt: skip


def test_conductance_of_a_shaft() -> None:
    sound(heat.fin_conductance, SHAFT, before.fin_conductance)


def test_an_endless_shaft() -> None:
    ends = [told(heat.fin_conductance, 0.05, 50.0, 30.0, length) for length in (10.0, math.inf)]
    assert ends[1] == pytest.approx(before.fin_conductance(0.05, 50.0, 30.0), rel=1e-12)
    assert ends[0] == pytest.approx(ends[1], rel=1e-12)


def test_constriction_under_the_ring() -> None:
    spans = {"d": (5e-3, 0.6), "b": (1e-5, 3e-3), "k": (10.0, 400.0)}
    sound(heat.ring_constriction, spans, before.ring_constriction)


@pytest.mark.parametrize("epsilon", [0.9e-5, 1e-5, 1.001e-5, 0.5, 1.0, 1.0 + 2e-9, 1.2, 0.0, math.nan, math.inf])
def test_the_table_of_the_ring_is_not_left(epsilon: float) -> None:
    found = told(heat.ring_constriction, 1.0, 0.5 * epsilon, 1.0 / math.pi)
    assert found == pytest.approx(before.ring_constriction(1.0, 0.5 * epsilon, 1.0 / math.pi), rel=1e-12, nan_ok=True)


def test_machine_code_knows_the_table() -> None:
    assert any(path.name == "heat.json" for path in sources._files())


def test_conductance_of_a_wall() -> None:
    spans = {"A": (1e-6, 1.0), "t": (1e-4, 1e-1), "k": (0.2, 400.0)}
    sound(heat.plane_wall_conductance, spans, before.plane_wall_conductance)


def test_ways_in_a_row() -> None:
    spans = {"G_1": (1e-3, 1e2), "G_2": (1e-3, 1e2)}
    sound(heat.series, spans, before.series)
    sound(
        heat.behind,
        {"R": (1e-3, 10.0), "G": (1e-3, 1e2)},
        lambda r, g: before.behind(r, before.HeatPath(g, 300.0)).conductance,
    )
    assert told(heat.series, 0.0, 1.0) == 0.0


def test_ways_side_by_side() -> None:
    spans = {"G_1": (1e-3, 1e2), "T_1": (200.0, 600.0), "G_2": (1e-3, 1e2), "T_2": (200.0, 600.0)}
    sound(heat.join, spans, lambda a, t, b, u: before.join((a, t), (b, u)))


def test_dry_air() -> None:
    sound(heat.dry_air, {"T": (150.0, 1000.0), "p": (1e4, 1e6)}, before.dry_air)


def test_correlations_are_those_of_the_rules() -> None:
    assert {choice.name for choice in FilmCorrelation} == set(InRules.__args__) == set(before.CORRELATIONS)


@pytest.mark.parametrize("correlation", list(FilmCorrelation))
def test_film_of_a_shaft(correlation: FilmCorrelation) -> None:
    def old(
        d: float, n: float, k: float, nu: float, Pr: float, beta: float, rise: float, chosen: FilmCorrelation
    ) -> float:
        return float(before.shaft_coefficient(d, n, (k, nu, Pr, beta), rise, chosen.name))

    sound(heat.shaft_film, FILM, old, correlation)


def test_a_correlation_that_there_is_not() -> None:
    assert math.isnan(compiled(heat.turning_nusselt)(1e4, 1e5, 0.7, 17))


def test_the_working_of_a_film_names_whose_measurements_it_goes_by() -> None:
    h = told(heat.shaft_film, 0.05, 50.0, 0.03, 2e-5, 0.7, 3e-3, 80.0, FilmCorrelation.etemad)
    working = Working(h)
    by = {working.symbol(step): step for step in working.steps}
    assert "Etemad" in by["Nu"].source
    assert working.equation(by["h"]) == "max(Nu, Nu_0) * k / d"
