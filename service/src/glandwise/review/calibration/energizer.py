"""Load of metal energizers over their deflection: the modulus that a spring of an alloy works with.

Found is a factor on the elastic modulus of the alloy with which the formula of the spring gives the loads that were measured:
it holds what dimensions and the model do not, besides the modulus itself.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import exp, isfinite
from typing import Any

import numpy as np

from glandwise.contract.quantities import Measured
from glandwise.mechanics.beams import cantilever_v
from glandwise.mechanics.rods import canted_coil_load
from glandwise.review.calibration.estimates import factor_of, prior_of
from glandwise.review.calibration.found import Asked, Kind, Range, Value, grouped, shown, signed
from glandwise.review.calibration.located import located
from glandwise.review.calibration.records import Column, Records, Row
from glandwise.review.calibration.wear import TEMPERATURE
from glandwise.rules.model import Alloy, Curve, RuleSetData

_SMALL = Measured("length", "positive", 1e-6, 0.1)
_ANGLE = Measured("angle", "positive", 1e-3, 1.5)
_NEEDS: Mapping[str, tuple[str, ...]] = {
    "cantilever_v": ("strip_thickness", "finger_length", "root_angle", "coverage"),
    "canted_coil": ("wire_diameter", "coil_height", "coil_width", "pitch", "cant_angle", "contact_diameter"),
}
"""Dimensions by kind of energizer."""


def columns() -> Mapping[str, Column]:
    """Return the columns of records of energizers."""
    return {
        "specimen": Column("label of the energizer; the readings of one have the same"),
        "energizer": Column("kind", words=tuple(_NEEDS)),
        "alloy": Column("its name in the rules", names="alloys", what="alloy"),
        "temperature": Column("of the test", measured=TEMPERATURE),
        "deflection": Column("from the free state", measured=_SMALL),
        "line_load": Column("load per circumference", measured=Measured("line_load", "positive", 1.0, 1e6)),
        "strip_thickness": Column("of a cantilever V", needed=False, measured=_SMALL),
        "finger_length": Column("of a cantilever V", needed=False, measured=_SMALL),
        "root_angle": Column("of a cantilever V, half its opening", needed=False, measured=_ANGLE),
        "coverage": Column(
            "of a cantilever V, share of the circumference",
            needed=False,
            measured=Measured("ratio", "positive", 0.01, 1.0),
        ),
        "wire_diameter": Column("of a canted coil", needed=False, measured=_SMALL),
        "coil_height": Column("of a canted coil", needed=False, measured=_SMALL),
        "coil_width": Column("of a canted coil", needed=False, measured=_SMALL),
        "pitch": Column("of a canted coil", needed=False, measured=_SMALL),
        "cant_angle": Column("of a canted coil", needed=False, measured=_ANGLE),
        "contact_diameter": Column(
            "of a canted coil, to which the load refers",
            needed=False,
            measured=Measured("length", "positive", 1e-3, 3.0),
        ),
    }


def _at(curve: Curve, temperature: float) -> float:
    return float(np.interp(temperature, curve.array_x, curve.array_y))


def load(row: Row, alloy: Alloy, factor: float) -> float:
    """Return the line load that the formula of the energizer gives with a factor on the modulus; NaN beyond its range."""
    E = factor * _at(alloy.elastic_modulus, row["temperature"])
    if row.texts["energizer"] == "cantilever_v":
        return cantilever_v(
            row["deflection"], row["strip_thickness"], row["finger_length"], row["root_angle"], row["coverage"], E,
            _at(alloy.yield_strength, row["temperature"]),
        ).line_load  # fmt: skip
    d, h = row["contact_diameter"], row["coil_height"]
    return canted_coil_load(
        row["deflection"], row["pitch"], row["coil_width"], h, row["cant_angle"], row["wire_diameter"], E,
        alloy.poisson_ratio.si, (d + h) / d,
    ).line_load  # fmt: skip


def _whole(records: Records, rules: RuleSetData) -> None:
    """Refuse rows without the dimensions of their kind, and such as the formula does not cover."""
    first: dict[str, Row] = {}
    for row in records.taken():
        kind = row.texts["energizer"]
        missing = [name for name in _NEEDS[kind] if name not in row.numbers]
        if missing:
            records.refuse(row, missing[0], "missing", f"a number, for a {kind}")
            continue
        held = first.setdefault(row.texts["specimen"], row)
        alike = all(row.texts[name] == held.texts[name] for name in ("energizer", "alloy")) and all(
            row[name] == held[name] for name in _NEEDS[kind]
        )
        if not alike:
            records.refuse(
                row, "specimen", "not as in the first row of this specimen", "one energizer for all its rows"
            )
            continue
        expected = load(row, rules.alloys[row.texts["alloy"]], 1.0)
        if not (isfinite(expected) and expected > 0.0):
            records.refuse(
                row, "deflection", "beyond what the model of the energizer covers", "see the models of energizers"
            )


def fit(records: Records, rules: RuleSetData, asked: Asked) -> list[Value]:
    """Return the factor on the modulus of every alloy that the records speak of."""
    _whole(records, rules)
    scatter = rules.sizing.energizer.metal_modulus_scatter.si
    values = []
    for (name,), rows in grouped(records.taken(), "alloy").items():
        alloy = rules.alloys[name]
        found: dict[str, float] = {}
        for (specimen,), own in grouped(rows, "specimen").items():

            def residuals(u: float, own: list[Row] = own, alloy: Alloy = alloy) -> Any:
                made = np.array([load(row, alloy, exp(u)) for row in own])
                seen = np.array([row["line_load"] for row in own])
                # beyond what the formula covers no factor is any good
                return np.where(made > 0.0, np.log(seen / np.where(made > 0.0, made, 1.0)), 10.0)

            found[specimen] = exp(factor_of(residuals))
        value = located(
            ("alloys", name, "elastic_modulus"), f"Elastic modulus of {name} as springs work with it: factor on the house's",
            "ratio", "1", None, found, len(rows), asked, {}, "energizer_load",
            prior_of(1.0, 1.0 - scatter, 1.0 + scatter), rules.calibration.factor.energizer_load,
        )  # fmt: skip
        value.house, value.house_evidence = Range(1.0, 1.0 - scatter, 1.0 + scatter), alloy.elastic_modulus.evidence
        if value.record is not None and value.found is not None:
            value.record = _record(alloy.elastic_modulus, value, asked)
        values.append(value)
    return values


def _record(curve: Curve, value: Value, asked: Asked) -> dict[str, Any]:
    assert value.found is not None
    low, high = shown(value.found.low), shown(value.found.high)
    note = f"The house's curve times {shown(value.found.value)} ({low} to {high}): {value.method}."
    return {
        "x": list(curve.x), "y": [shown(value.found.value * y) for y in curve.y], "x_unit": curve.x_unit,
        "y_unit": curve.y_unit, **signed(asked, note),
    }  # fmt: skip


KIND = Kind("Energizer load", columns, fit)
