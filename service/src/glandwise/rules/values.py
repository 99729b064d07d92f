"""Sourced numbers and tables of which rule sets are made, with their units checked and their SI values worked out."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import field
from datetime import date
from typing import Annotated, Any, Literal, TypeAlias

import numpy as np
from pydantic import AfterValidator, ConfigDict, StringConstraints
from pydantic.dataclasses import dataclass
from pydantic.json_schema import SkipJsonSchema
from pydantic_core import PydanticCustomError

from glandwise import units

Evidence: TypeAlias = Literal["standard", "published", "common_practice", "house_estimate"]
EVIDENCE_ORDER: tuple[Evidence, ...] = ("standard", "published", "common_practice", "house_estimate")
"""From strongest to weakest."""

Name: TypeAlias = Annotated[str, StringConstraints(pattern=r"^[A-Za-z][A-Za-z0-9_]*$", max_length=64)]
SourceId: TypeAlias = Annotated[str, StringConstraints(pattern=r"^[a-z0-9][a-z0-9-]*$", max_length=64)]

CONFIG = ConfigDict(extra="forbid", allow_inf_nan=False, use_attribute_docstrings=True)


@dataclass(frozen=True, slots=True, config=CONFIG)
class Datum:
    """One number: nominal ``value`` and, where the trade knows only a range, ``low`` and ``high``."""

    value: float
    """Nominal value, in `unit`."""
    unit: str
    """Unit of the numbers."""
    source: SourceId
    """Identifier of the source, in the rule set's sources."""
    evidence: Evidence
    """How good the evidence is."""
    valid_from: date
    """Date from which the value holds."""
    low: float | None = None
    """Lower end of the known range, in `unit`."""
    high: float | None = None
    """Upper end of the known range, in `unit`."""
    note: str = ""
    """Remark."""
    si: SkipJsonSchema[float] = field(init=False, default=float("nan"))
    si_low: SkipJsonSchema[float] = field(init=False, default=float("nan"))
    si_high: SkipJsonSchema[float] = field(init=False, default=float("nan"))


@dataclass(frozen=True, slots=True, config=CONFIG)
class Curve:
    """A piecewise-linear table ``x`` (increasing) → ``y``, held constant beyond its ends."""

    x: list[float]
    """Abscissae, increasing, in `x_unit`."""
    y: list[float]
    """Ordinates, in `y_unit`."""
    x_unit: str
    """Unit of the abscissae."""
    y_unit: str
    """Unit of the ordinates."""
    source: SourceId
    """Identifier of the source, in the rule set's sources."""
    evidence: Evidence
    """How good the evidence is."""
    valid_from: date
    """Date from which the table holds."""
    note: str = ""
    """Remark."""
    si_x: SkipJsonSchema[Any] = field(init=False, default=None)
    si_y: SkipJsonSchema[Any] = field(init=False, default=None)
    array_x: SkipJsonSchema[Any] = field(init=False, default=None)
    array_y: SkipJsonSchema[Any] = field(init=False, default=None)


def check_unit(dimension: str, unit: str) -> None:
    """Refuse a unit that is not one of the dimension."""
    accepted = units.DIMENSIONS[dimension].symbols
    if unit not in accepted:
        raise PydanticCustomError(
            "unit", "unit {unit} is not one of {dimension}; accepted: {accepted}",
            {"unit": repr(unit), "dimension": dimension, "accepted": ", ".join(accepted)},
        )  # fmt: skip


def datum_in(dimension: str) -> Callable[[Datum], Datum]:
    """Return the validator of a number of a dimension, which fills in its SI values."""

    def convert(datum: Datum) -> Datum:
        check_unit(dimension, datum.unit)
        low = datum.value if datum.low is None else datum.low
        high = datum.value if datum.high is None else datum.high
        if not low <= datum.value <= high:
            raise PydanticCustomError("range", "low <= value <= high must hold", {})
        for name, value in (("si", datum.value), ("si_low", low), ("si_high", high)):
            object.__setattr__(datum, name, units.to_si(value, dimension, datum.unit))
        return datum

    return convert


def curve_in(x_dimension: str, y_dimension: str) -> Callable[[Curve], Curve]:
    """Return the validator of a table of two dimensions, which fills in its SI values."""

    def convert(curve: Curve) -> Curve:
        check_unit(x_dimension, curve.x_unit)
        check_unit(y_dimension, curve.y_unit)
        if len(curve.x) != len(curve.y) or len(curve.x) < 2:
            raise PydanticCustomError("curve", "x and y need the same length, at least 2", {})
        if any(b <= a for a, b in zip(curve.x, curve.x[1:], strict=False)):
            raise PydanticCustomError("curve", "x must increase", {})
        si_x = [units.to_si(value, x_dimension, curve.x_unit) for value in curve.x]
        si_y = [units.to_si(value, y_dimension, curve.y_unit) for value in curve.y]
        object.__setattr__(curve, "si_x", tuple(si_x))
        object.__setattr__(curve, "si_y", tuple(si_y))
        object.__setattr__(curve, "array_x", np.array(si_x))
        object.__setattr__(curve, "array_y", np.array(si_y))
        return curve

    return convert


# One alias per dimension in use; the annotation carries the dimension to the validator and to the JSON Schema.
Density: TypeAlias = Annotated[Datum, AfterValidator(datum_in("density"))]
Length: TypeAlias = Annotated[Datum, AfterValidator(datum_in("length"))]
Roughness: TypeAlias = Annotated[Datum, AfterValidator(datum_in("roughness"))]
Ratio: TypeAlias = Annotated[Datum, AfterValidator(datum_in("ratio"))]
Temperature: TypeAlias = Annotated[Datum, AfterValidator(datum_in("temperature"))]
Pressure: TypeAlias = Annotated[Datum, AfterValidator(datum_in("gauge_pressure"))]
Stress: TypeAlias = Annotated[Datum, AfterValidator(datum_in("stress"))]
SurfaceSpeed: TypeAlias = Annotated[Datum, AfterValidator(datum_in("surface_speed"))]
Conductivity: TypeAlias = Annotated[Datum, AfterValidator(datum_in("thermal_conductivity"))]
FilmCoefficient: TypeAlias = Annotated[Datum, AfterValidator(datum_in("heat_transfer_coefficient"))]
Expansion: TypeAlias = Annotated[Datum, AfterValidator(datum_in("thermal_expansion"))]
WearRate: TypeAlias = Annotated[Datum, AfterValidator(datum_in("specific_wear_rate"))]
Viscosity: TypeAlias = Annotated[Datum, AfterValidator(datum_in("dynamic_viscosity"))]
HardnessRockwellC: TypeAlias = Annotated[Datum, AfterValidator(datum_in("hardness_hrc"))]
HardnessShoreA: TypeAlias = Annotated[Datum, AfterValidator(datum_in("hardness_shore_a"))]
MolarEnergy: TypeAlias = Annotated[Datum, AfterValidator(datum_in("molar_energy"))]
Duration: TypeAlias = Annotated[Datum, AfterValidator(datum_in("time"))]
Angle: TypeAlias = Annotated[Datum, AfterValidator(datum_in("angle"))]
Force: TypeAlias = Annotated[Datum, AfterValidator(datum_in("force"))]
ModulusByTemperature: TypeAlias = Annotated[Curve, AfterValidator(curve_in("temperature", "stress"))]
RatioByTemperature: TypeAlias = Annotated[Curve, AfterValidator(curve_in("temperature", "ratio"))]
ExpansionByTemperature: TypeAlias = Annotated[Curve, AfterValidator(curve_in("temperature", "thermal_expansion"))]
PressureVelocityBySpeed: TypeAlias = Annotated[Curve, AfterValidator(curve_in("surface_speed", "pressure_velocity"))]
LengthBySpeed: TypeAlias = Annotated[Curve, AfterValidator(curve_in("surface_speed", "length"))]
LengthByLength: TypeAlias = Annotated[Curve, AfterValidator(curve_in("length", "length"))]


def weakest(evidence: Iterator[Evidence] | set[Evidence] | list[Evidence]) -> Evidence | None:
    """Return the weakest of some evidence levels, ``None`` of none."""
    return max(evidence, key=EVIDENCE_ORDER.index, default=None)
