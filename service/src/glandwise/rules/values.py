"""Sourced numbers and tables of which rule sets are made, with their units checked and their SI values worked out."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from dataclasses import field
from datetime import date
from typing import Annotated, Any, Literal, TypeAlias

import numpy as np
from pydantic import AfterValidator, ConfigDict, Strict, StringConstraints
from pydantic.dataclasses import dataclass
from pydantic.json_schema import SkipJsonSchema
from pydantic_core import PydanticCustomError

from glandwise import units
from glandwise.described import describe

Evidence: TypeAlias = Literal["standard", "published", "own_test", "common_practice", "house_estimate"]
EVIDENCE_ORDER: tuple[Evidence, ...] = ("standard", "published", "own_test", "common_practice", "house_estimate")
"""From strongest to weakest. A test of one's own is measured, which common practice is not; but nobody outside can read it."""

Name: TypeAlias = Annotated[str, StringConstraints(pattern=r"^[A-Za-z][A-Za-z0-9_]*$", max_length=64)]
SourceId: TypeAlias = Annotated[str, StringConstraints(pattern=r"^[a-z0-9][a-z0-9-]*$", max_length=64)]

Number: TypeAlias = Annotated[float, Strict()]
"""A number written as a number: neither text nor a truth value."""
Truth: TypeAlias = Annotated[bool, Strict()]
Date: TypeAlias = Annotated[date, Strict()]


def fault(key: str, fault: str, accepted: str) -> PydanticCustomError:
    """Return the error of one field of a record, for :mod:`glandwise.rules.explain`."""
    return PydanticCustomError("rule", "{fault}", {"fault": fault, "accepted": accepted, "key": key})


CONFIG = ConfigDict(extra="forbid", allow_inf_nan=False, json_schema_extra=describe)


@dataclass(frozen=True, slots=True, config=CONFIG)
class Datum:
    """One number: nominal ``value`` and, where the trade knows only a range, ``low`` and ``high``."""

    value: Number
    """Nominal value, in `unit`."""
    unit: str
    """Unit of the numbers."""
    source: SourceId
    """Identifier of the source, in the rule set's sources."""
    evidence: Evidence
    """How good the evidence is."""
    valid_from: Date
    """Date from which the value holds."""
    review_by: Date | None = None
    """Day by which an estimate of the house is to be looked at again."""
    low: Number | None = None
    """Lower end of the known range, in `unit`."""
    high: Number | None = None
    """Upper end of the known range, in `unit`."""
    note: str = ""
    """Remark."""
    dimension: SkipJsonSchema[str] = field(init=False, default="")
    si: SkipJsonSchema[float] = field(init=False, default=float("nan"))
    si_low: SkipJsonSchema[float] = field(init=False, default=float("nan"))
    si_high: SkipJsonSchema[float] = field(init=False, default=float("nan"))


@dataclass(frozen=True, slots=True, config=CONFIG)
class Curve:
    """A piecewise-linear table ``x`` (increasing) → ``y``, held constant beyond its ends."""

    x: list[Number]
    """Abscissae, increasing, in `x_unit`."""
    y: list[Number]
    """Ordinates, in `y_unit`."""
    x_unit: str
    """Unit of the abscissae."""
    y_unit: str
    """Unit of the ordinates."""
    source: SourceId
    """Identifier of the source, in the rule set's sources."""
    evidence: Evidence
    """How good the evidence is."""
    valid_from: Date
    """Date from which the table holds."""
    note: str = ""
    """Remark."""
    review_by: Date | None = None
    """Day by which an estimate of the house is to be looked at again."""
    x_dimension: SkipJsonSchema[str] = field(init=False, default="")
    y_dimension: SkipJsonSchema[str] = field(init=False, default="")
    si_x: SkipJsonSchema[Any] = field(init=False, default=None)
    si_y: SkipJsonSchema[Any] = field(init=False, default=None)
    array_x: SkipJsonSchema[Any] = field(init=False, default=None)
    array_y: SkipJsonSchema[Any] = field(init=False, default=None)


BandKey: TypeAlias = Annotated[
    str, StringConstraints(pattern=r"^[a-z][a-z0-9_]*(\.(\*|[A-Za-z0-9_]+))+$", max_length=200)
]
"""A dotted key of the rules in which ``*`` stands for any one part."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class Band:
    """What is believed of one kind of value; a value outside stops the start."""

    unit: str
    """Unit of the numbers."""
    reason: Annotated[str, StringConstraints(min_length=12)]
    """Why no more is believed, or why more is."""
    source: SourceId
    """Identifier of the source, in the rule set's sources."""
    evidence: Evidence
    """How good the evidence is."""
    valid_from: Date
    """Date from which the band holds."""
    review_by: Date | None = None
    """Day by which an estimate of the house is to be looked at again."""
    low: Number | None = None
    """Least number that is believed, in `unit`."""
    high: Number | None = None
    """Greatest number that is believed, in `unit`."""

    def __post_init__(self) -> None:
        if self.low is None and self.high is None:
            raise PydanticCustomError("band", "bounds nothing", {"accepted": "low, high or both", "key": "low"})
        if self.low is not None and self.high is not None and self.low > self.high:
            raise PydanticCustomError(
                "band", "low lies above high", {"accepted": f"at most {self.high:g} {self.unit}", "key": "low"}
            )


def check_unit(dimension: str, unit: str, key: str = "unit") -> None:
    """Refuse a unit that is not one of the dimension; ``key`` says which field it stands in."""
    accepted = units.DIMENSIONS[dimension].symbols
    if unit not in accepted:
        raise PydanticCustomError(
            "unit", "{unit} is not a unit of {dimension}",
            {"unit": repr(unit), "dimension": dimension.replace("_", " "), "accepted": ", ".join(accepted), "key": key},
        )  # fmt: skip


_POSITIVE = frozenset(
    {
        "density",
        "dynamic_viscosity",
        "heat_capacity",
        "heat_of_vaporization",
        "heat_transfer_coefficient",
        "molar_energy",
        "molar_mass",
        "pressure_velocity",
        "roughness",
        "specific_wear_rate",
        "stress",
        "temperature",
        "thermal_conductivity",
        "time",
    }
)
"""Dimensions whose numbers are above zero in SI; a temperature lies above absolute zero."""
_SIGNED = frozenset({"thermal_expansion"})
"""Dimensions whose numbers may be negative; all others are zero or more."""


def check_domain(dimension: str, value: float, unit: str, key: str) -> None:
    """Refuse a number that the dimension cannot have."""
    if dimension in _SIGNED:
        return
    si, zero = units.to_si(value, dimension, unit), units.from_si(0.0, dimension, unit)
    if si < 0.0 or (dimension in _POSITIVE and si == 0.0):
        raise PydanticCustomError(
            "domain", "{value} {unit} is no {dimension}",
            {
                "value": value,
                "unit": unit,
                "dimension": dimension.replace("_", " "),
                "accepted": f"{'more than' if dimension in _POSITIVE else 'at least'} {zero:g} {unit}",
                "key": key,
            },
        )  # fmt: skip


@dataclasses.dataclass(frozen=True)
class DatumIn:
    """Validator of a number of a dimension, which fills in its SI values.

    ``below`` and ``at_most`` are bounds in SI that the meaning of the number sets, beside those of its dimension.
    """

    dimension: str
    below: float | None = None
    at_most: float | None = None

    def __call__(self, datum: Datum) -> Datum:
        """Check the number and fill in its SI values."""
        check_unit(self.dimension, datum.unit)
        low = datum.value if datum.low is None else datum.low
        high = datum.value if datum.high is None else datum.high
        for key, value in (("value", datum.value), ("low", low), ("high", high)):
            check_domain(self.dimension, value, datum.unit, key)
            self._check_bounds(value, datum.unit, key)
        if not low <= datum.value <= high:
            raise PydanticCustomError(
                "range", "the range is not in order: low {low}, value {value}, high {high}",
                {
                    "low": low,
                    "value": datum.value,
                    "high": high,
                    "accepted": "low <= value <= high",
                    "key": "low" if low > datum.value else "high",
                },
            )  # fmt: skip
        object.__setattr__(datum, "dimension", self.dimension)
        for name, value in (("si", datum.value), ("si_low", low), ("si_high", high)):
            object.__setattr__(datum, name, units.to_si(value, self.dimension, datum.unit))
        return datum

    def _check_bounds(self, value: float, unit: str, key: str) -> None:
        si = units.to_si(value, self.dimension, unit)
        for refused, word, bound in (
            (self.below is not None and si >= self.below, "less than", self.below),
            (self.at_most is not None and si > self.at_most, "at most", self.at_most),
        ):
            if refused:
                limit = units.from_si(bound, self.dimension, unit)
                raise PydanticCustomError(
                    "domain", "{value} {unit} cannot be",
                    {"value": value, "unit": unit, "accepted": f"{word} {limit:g} {unit}", "key": key},
                )  # fmt: skip


MOST_POINTS = 128
"""Most points of a table: the formulas read tables from records of one size."""
MOST_BRANCHES = 40
"""Most branches of a relaxation, likewise."""


def check_count(count: int, most: int, key: str) -> None:
    """Refuse a table that is longer than the formulas can read."""
    if count > most:
        raise PydanticCustomError(
            "count", "there are {count} numbers", {"count": count, "accepted": f"at most {most}", "key": key}
        )


@dataclasses.dataclass(frozen=True)
class CurveIn:
    """Validator of a table of two dimensions, which fills in its SI values."""

    x_dimension: str
    y_dimension: str

    def __call__(self, curve: Curve) -> Curve:
        """Check the table and fill in its SI values."""
        check_unit(self.x_dimension, curve.x_unit, "x_unit")
        check_unit(self.y_dimension, curve.y_unit, "y_unit")
        if len(curve.x) != len(curve.y) or len(curve.x) < 2:
            raise PydanticCustomError(
                "curve", "x has {x} numbers, y has {y}",
                {"x": len(curve.x), "y": len(curve.y), "accepted": "as many in y as in x, at least 2", "key": "y"},
            )  # fmt: skip
        check_count(len(curve.x), MOST_POINTS, "x")
        for before, after in zip(curve.x, curve.x[1:], strict=False):
            if after <= before:
                raise PydanticCustomError(
                    "curve", "x does not increase: {before}, then {after}",
                    {"before": before, "after": after, "accepted": "increasing numbers", "key": "x"},
                )  # fmt: skip
        for dimension, values, unit, key in (
            (self.x_dimension, curve.x, curve.x_unit, "x"),
            (self.y_dimension, curve.y, curve.y_unit, "y"),
        ):
            for value in values:
                check_domain(dimension, value, unit, key)
        si_x = [units.to_si(value, self.x_dimension, curve.x_unit) for value in curve.x]
        si_y = [units.to_si(value, self.y_dimension, curve.y_unit) for value in curve.y]
        object.__setattr__(curve, "x_dimension", self.x_dimension)
        object.__setattr__(curve, "y_dimension", self.y_dimension)
        object.__setattr__(curve, "si_x", tuple(si_x))
        object.__setattr__(curve, "si_y", tuple(si_y))
        object.__setattr__(curve, "array_x", np.array(si_x))
        object.__setattr__(curve, "array_y", np.array(si_y))
        return curve


# One alias per dimension in use; the annotation carries the dimension to the validator and to the JSON Schema.
Density: TypeAlias = Annotated[Datum, AfterValidator(DatumIn("density"))]
Length: TypeAlias = Annotated[Datum, AfterValidator(DatumIn("length"))]
Roughness: TypeAlias = Annotated[Datum, AfterValidator(DatumIn("roughness"))]
Ratio: TypeAlias = Annotated[Datum, AfterValidator(DatumIn("ratio"))]
Share: TypeAlias = Annotated[Datum, AfterValidator(DatumIn("ratio", at_most=1.0))]
PoissonRatio: TypeAlias = Annotated[Datum, AfterValidator(DatumIn("ratio", below=0.5))]
Temperature: TypeAlias = Annotated[Datum, AfterValidator(DatumIn("temperature"))]
Pressure: TypeAlias = Annotated[Datum, AfterValidator(DatumIn("gauge_pressure"))]
Stress: TypeAlias = Annotated[Datum, AfterValidator(DatumIn("stress"))]
PressureVelocity: TypeAlias = Annotated[Datum, AfterValidator(DatumIn("pressure_velocity"))]
SurfaceSpeed: TypeAlias = Annotated[Datum, AfterValidator(DatumIn("surface_speed"))]
Conductivity: TypeAlias = Annotated[Datum, AfterValidator(DatumIn("thermal_conductivity"))]
TemperatureDifference: TypeAlias = Annotated[Datum, AfterValidator(DatumIn("temperature_difference"))]
FilmCoefficient: TypeAlias = Annotated[Datum, AfterValidator(DatumIn("heat_transfer_coefficient"))]
Expansion: TypeAlias = Annotated[Datum, AfterValidator(DatumIn("thermal_expansion"))]
WearRate: TypeAlias = Annotated[Datum, AfterValidator(DatumIn("specific_wear_rate"))]
HeatCapacity: TypeAlias = Annotated[Datum, AfterValidator(DatumIn("heat_capacity"))]
HeatOfVaporization: TypeAlias = Annotated[Datum, AfterValidator(DatumIn("heat_of_vaporization"))]
MolarMass: TypeAlias = Annotated[Datum, AfterValidator(DatumIn("molar_mass"))]
Viscosity: TypeAlias = Annotated[Datum, AfterValidator(DatumIn("dynamic_viscosity"))]
HardnessRockwellC: TypeAlias = Annotated[Datum, AfterValidator(DatumIn("hardness_hrc"))]
HardnessShoreA: TypeAlias = Annotated[Datum, AfterValidator(DatumIn("hardness_shore_a"))]
MolarEnergy: TypeAlias = Annotated[Datum, AfterValidator(DatumIn("molar_energy"))]
Duration: TypeAlias = Annotated[Datum, AfterValidator(DatumIn("time"))]
LineLoad: TypeAlias = Annotated[Datum, AfterValidator(DatumIn("line_load"))]
Angle: TypeAlias = Annotated[Datum, AfterValidator(DatumIn("angle"))]
Force: TypeAlias = Annotated[Datum, AfterValidator(DatumIn("force"))]
ModulusByTemperature: TypeAlias = Annotated[Curve, AfterValidator(CurveIn("temperature", "stress"))]
ViscosityByTemperature: TypeAlias = Annotated[Curve, AfterValidator(CurveIn("temperature", "dynamic_viscosity"))]
RatioByTemperature: TypeAlias = Annotated[Curve, AfterValidator(CurveIn("temperature", "ratio"))]
PressureVelocityBySpeed: TypeAlias = Annotated[Curve, AfterValidator(CurveIn("surface_speed", "pressure_velocity"))]
LengthBySpeed: TypeAlias = Annotated[Curve, AfterValidator(CurveIn("surface_speed", "length"))]
LengthByLength: TypeAlias = Annotated[Curve, AfterValidator(CurveIn("length", "length"))]


def weakest(evidence: Iterator[Evidence] | set[Evidence] | list[Evidence]) -> Evidence | None:
    """Return the weakest of some evidence levels, ``None`` of none."""
    return max(evidence, key=EVIDENCE_ORDER.index, default=None)
