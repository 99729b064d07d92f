"""A compound with properties of the caller's in place of the rule set's.

Values of a request count as estimates: the service cannot know what they rest on. Their source is ``request``.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import numpy as np

from glandwise import units
from glandwise.contract.design import CompoundProperties
from glandwise.rules.model import Compound, Curve, Datum, Prony

GIVEN = "request"
"""Source of a value of the caller's."""
_GIVEN: dict[str, Any] = {"source": GIVEN, "evidence": "house_estimate", "valid_from": date.min}


def _datum(dimension: str, unit: str, si: float, low: float | None = None, high: float | None = None) -> Datum:
    def written(value: float | None) -> float | None:
        return None if value is None else float(units.from_si(value, dimension, unit))

    datum = Datum(
        value=float(units.from_si(si, dimension, unit)), unit=unit, low=written(low), high=written(high), **_GIVEN
    )
    for name, value in (("si", si), ("si_low", si if low is None else low), ("si_high", si if high is None else high)):
        object.__setattr__(datum, name, value)
    return datum


def _constant(si: float) -> Curve:
    curve = Curve(x=[1.0, 1000.0], y=[si, si], x_unit="K", y_unit="Pa", **_GIVEN)
    for name, value in (("si_x", (1.0, 1000.0)), ("si_y", (si, si))):
        object.__setattr__(curve, name, value)
        object.__setattr__(curve, name.replace("si", "array"), np.array(value))
    return curve


def overridden(compound: Compound, given: CompoundProperties | None, medium: str) -> Compound:
    """Return the compound with the given properties."""
    if given is None:
        return compound
    changes: dict[str, Any] = {}
    for name in ("elastic_modulus", "yield_strength"):
        if (value := getattr(given, name)) is not None:
            changes[name] = _constant(value)
    for name, dimension, unit in (
        ("poisson_ratio", "ratio", "1"),
        ("density", "density", "kg/m3"),
        ("thermal_conductivity", "thermal_conductivity", "W/m/K"),
    ):
        if (value := getattr(given, name)) is not None:
            changes[name] = _datum(dimension, unit, value)
    if (relaxation := given.relaxation) is not None:
        changes["relaxation"] = Prony(
            ratios=[branch.share for branch in relaxation.branches],
            times_s=[branch.time for branch in relaxation.branches],
            reference_temperature=_datum("temperature", "K", relaxation.reference_temperature),
            activation_energy=_datum("molar_energy", "J/mol", relaxation.activation_energy),
            **_GIVEN,
        )
    if (mu := given.friction_coefficient) is not None:
        changes["friction"] = replace(compound.friction, **{medium: _datum("ratio", "1", mu.nominal, mu.low, mu.high)})
    if (k := given.specific_wear_rate) is not None:
        changes["wear"] = replace(
            compound.wear, **{medium: _datum("specific_wear_rate", "mm3/N/m", k.nominal, k.low, k.high)}
        )
    return replace(compound, **changes)
