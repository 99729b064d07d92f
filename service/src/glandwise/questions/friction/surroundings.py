"""What carries the heat away, as a request states it."""

from __future__ import annotations

from math import nan
from types import SimpleNamespace

import numpy as np

from glandwise.contract.running import HeatSurroundings
from glandwise.json_values import JsonObject
from glandwise.mechanics.choices import FilmCorrelation
from glandwise.numerics.docstring import declared
from glandwise.numerics.trace import Choice, leaf
from glandwise.physics import heat_balance
from glandwise.questions.arrays import Row, Table
from glandwise.units import UnitSystem

FIELDS = {
    "ambient_temperature": ("ambient", "temperature"),
    "shaft_conductivity": ("shaft_conductivity", "thermal_conductivity"),
    "shaft_length": ("shaft_length", "length"),
    "fluid_film": ("fluid_film", "heat_transfer_coefficient"),
}
"""Name in a formula and dimension by field of a request."""


def row_of(given: HeatSurroundings) -> Table:
    """Return what is stated as a table of one row."""
    table = np.zeros(1, heat_balance.AROUND)
    table[0]["boils_at"] = nan
    for field, (name, _) in FIELDS.items():
        value = getattr(given, field)
        table[0][name] = nan if value is None else value
    table[0]["correlation"] = -1 if given.correlation is None else FilmCorrelation[given.correlation]
    return table


def leaves_of(given: HeatSurroundings) -> SimpleNamespace:
    """Return what is stated as leaves of a trace."""
    quantities = declared(heat_balance.surroundings).results
    found: dict[str, float] = {"correlation": -1, "boils_at": nan}
    for (field, (name, _)), q in zip(FIELDS.items(), quantities, strict=False):
        value = getattr(given, field)
        found[name] = nan if value is None else leaf(value, q, "request")
    if given.correlation is not None:
        correlation = FilmCorrelation[given.correlation]
        found["correlation"] = Choice(correlation, "film correlation", correlation.name)
    return SimpleNamespace(**found)


def assumed(given: HeatSurroundings, around: Row, units: UnitSystem) -> list[JsonObject]:
    """Write what the rules supplied; ``around`` is a row of the surroundings that were used."""
    found: list[JsonObject] = [
        {
            "field": f"/surroundings/{field}",
            "value": units.quantity(dimension, float(around[name])),
            "rule": "fluids" if field == "fluid_film" else f"running.{field}",
        }
        for field, (name, dimension) in FIELDS.items()
        if getattr(given, field) is None
    ]
    if given.correlation is None:
        correlation = FilmCorrelation(around["correlation"]).name
        found.append({"field": "/surroundings/correlation", "value": correlation, "rule": "running.film_correlation"})
    return found
