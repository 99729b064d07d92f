"""Quantities on the wire.

A request field declared ``Annotated[float, Measured("length", ...)]`` takes ``{"value": 50, "unit": "mm"}``, is checked
for sign by the JSON Schema, converted to SI, and held as a plain float; a value outside the accepted range is refused
with the range in the caller's own unit. Results carry ``{"value", "unit"}`` objects written by
:class:`glandwise.units.UnitSystem`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Annotated, Any, Literal, NamedTuple, NoReturn, NotRequired, TypeAlias, TypeVar, get_args

from pydantic import BaseModel, ConfigDict, Field, GetCoreSchemaHandler, StrictBool
from pydantic_core import PydanticCustomError, core_schema
from typing_extensions import TypedDict

from glandwise import units
from glandwise.contract import reading
from glandwise.contract.faults import OUTSIDE

B = TypeVar("B", bound=BaseModel)
Sign: TypeAlias = Literal["any", "zero_or_more", "positive"]

DIGITS = 12
"""Significant digits in SI to which a number of a request is held."""


def held_to_digits(si: float) -> float:
    """Return a number as a request would hold it."""
    return float(f"{si:.{DIGITS}g}")


_PREFIX: dict[Sign, str] = {"any": "", "zero_or_more": "NonNegative", "positive": "Positive"}
_BOUND: dict[Sign, dict[str, float]] = {"any": {}, "zero_or_more": {"ge": 0.0}, "positive": {"gt": 0.0}}


def _unit_text(unlisted: list[str]) -> str:
    more = f" Taken as well, though not listed: {', '.join(unlisted)}." if unlisted else ""
    return f"Unit, or a code that stands for it.{more}"


_ENDS = {
    "low": "Least number of units that it may be, where it is known as a range; `high` goes with it.",
    "high": "Greatest number of units that it may be.",
}
_RANGE_NOTE = (
    "An envelope check and an enquiry take a range with it, `low` and `high` in the same unit around the value: the value is judged, "
    "the range goes into `questions` and `confidence`. Other operations refuse a range."
)


def _wire_type(dimension: units.Dimension, sign: Sign, ranged: bool = False) -> Any:
    name = f"{_PREFIX[sign]}{dimension.title}{'WithRange' if ranged else ''}"
    unlisted = [symbol for symbol in dimension.symbols if symbol not in dimension.published]
    bounds: Any = _BOUND[sign]

    def number(description: str) -> Any:
        told: Any = Field(
            strict=True,
            allow_inf_nan=False,
            description=description,
            json_schema_extra={"format": "double"},
            **bounds,
        )
        return Annotated[float, told]

    unit: Any = Annotated[
        Literal.__getitem__(dimension.symbols),
        Field(
            description=_unit_text(unlisted), json_schema_extra={"enum": list(dimension.published)} if unlisted else {}
        ),
    ]
    fields: dict[str, Any] = {"value": number("Number of units."), "unit": unit}
    note = dimension.note
    if ranged:
        fields |= {end: NotRequired[number(text)] for end, text in _ENDS.items()}
        note = f"{note} {_RANGE_NOTE}".strip()
    wire = TypedDict(name, fields)  # type: ignore[misc]
    wire.__pydantic_config__ = ConfigDict(  # type: ignore[attr-defined]
        extra="forbid",
        title=name,
        json_schema_extra={"description": f"{dimension.title} with its unit. {note}".strip()},
    )
    return wire


WIRE: dict[tuple[str, Sign], Any] = {
    (dimension.name, sign): _wire_type(dimension, sign)
    for dimension in units.DIMENSIONS.values()
    for sign in ("any", "zero_or_more", "positive")
}

RANGED_WIRE: dict[tuple[str, Sign], Any] = {
    (dimension.name, sign): _wire_type(dimension, sign, ranged=True)
    for dimension in units.DIMENSIONS.values()
    for sign in ("any", "zero_or_more", "positive")
}
"""Quantities that may come with a range."""


class Ranged(float):
    """A number in SI that is known as a range; it counts as its value."""

    low: float
    high: float

    def __new__(cls, value: float, low: float, high: float) -> Ranged:
        """Make a number with its ends."""
        found = super().__new__(cls, value)
        found.low, found.high = low, high
        return found

    def __getnewargs__(self) -> tuple[float, float, float]:  # type: ignore[override]
        """Be copied whole."""
        return float(self), self.low, self.high


def ends(number: float) -> tuple[float, float]:
    """Return the least and the greatest that a number may be: itself where it has no range."""
    return (number.low, number.high) if type(number) is Ranged else (number, number)


NO_RANGE = "a range where a single number is asked for"
NOT_HERE = "value and unit alone; numbers of the duty but for the bore take a range, and sizes of the lip"


def accepted_range(
    dimension: str, low: float | None, high: float | None, unit: str, *, above: bool = False, digits: int = 4
) -> str:
    """Say in words, in ``unit``, which values are accepted; what is said is, however it was rounded.

    ``above``: the low end itself is not.
    """

    def number(si: float, upper: bool) -> str:
        written = units.format_bound(units.from_si(si, dimension, unit), upper=upper, digits=digits)
        return written if unit == "1" else f"{written} {unit}"

    if low is not None and high is not None:
        least, most = number(low, False), number(high, True)
        return f"more than {least}, at most {most}" if above else f"{least} to {most}"
    if low is not None:
        return f"{'more than' if above else 'at least'} {number(low, False)}"
    return f"at most {number(high, True)}" if high is not None else "any finite number"


@dataclass(frozen=True)
class Measured:
    """Annotation of a float field that stands on the wire as a quantity of ``dimension``.

    ``low`` and ``high`` (SI) bound what the service is willing to answer for: its domain of validity, stated in the
    refusal. ``sign`` goes into the JSON Schema. ``ranged``: it may come with a range, and is held as :class:`Ranged` then.
    """

    dimension: str
    sign: Sign = "any"
    low: float | None = None
    high: float | None = None
    ranged: bool = False

    def reading(self, unit: str) -> tuple[float, float, float, float]:
        """Return scale and offset of a unit, and the least and greatest number taken in SI."""
        scale, offset = units.factor(self.dimension, unit)
        low = -math.inf if self.low is None else self.low
        high = math.inf if self.high is None else self.high
        # a relative slack of 1e-12 lets a bound through that was itself given in another unit
        return (
            scale,
            offset,
            low - 1e-12 * max(abs(low), abs(offset)),
            high + 1e-12 * max(abs(high), abs(offset)),
        )

    def accepted(self, unit: str) -> str:
        """Say in words, in ``unit``, which values are accepted."""
        low = 0.0 if self.low is None and self.sign != "any" else self.low
        return accepted_range(self.dimension, low, self.high, unit, above=self.sign == "positive" and low == 0.0)

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        inner = handler.generate_schema((RANGED_WIRE if self.ranged else WIRE)[self.dimension, self.sign])
        low = -math.inf if self.low is None else self.low
        high = math.inf if self.high is None else self.high
        table = {symbol: self.reading(symbol) for symbol in units.factors(self.dimension)}

        def to_si(quantity: dict[str, Any]) -> float:
            unit: str = quantity["unit"]
            scale, offset, below, above = table[unit]
            si: float = quantity["value"] * scale + offset
            if si < below or si > above:
                raise PydanticCustomError("out_of_domain", OUTSIDE, {"accepted": self.accepted(unit)})
            # conversions differ in the last digit: 2 in and 50.8 mm must be one number, one verdict, one fingerprint
            si = held_to_digits(si)
            si = low if si < low else high if si > high else si
            return si if len(quantity) == 2 else self._with_range(si, quantity, to_si)

        plain = core_schema.simple_ser_schema("float")
        read = core_schema.with_info_before_validator_function(self._read, inner)
        return core_schema.no_info_after_validator_function(to_si, read, serialization=plain)

    @staticmethod
    def _with_range(si: float, quantity: dict[str, Any], to_si: Callable[[dict[str, Any]], float]) -> float:
        """Return a number with the range it came with, which lies around it."""
        for missing, other in (("low", "high"), ("high", "low")):
            if missing not in quantity:
                _refuse_end(missing, "a range with one end only", f"{missing} beside {other}, or neither")
        found = {}
        for end in ("low", "high"):
            try:
                found[end] = to_si({"value": quantity[end], "unit": quantity["unit"]})
            except PydanticCustomError as error:
                _refuse_end(end, error.message(), str((error.context or {})["accepted"]))
        if found["low"] > si:
            _refuse_end("low", "the range begins above the value", "at most the value")
        if found["high"] < si:
            _refuse_end("high", "the range ends below the value", "at least the value")
        return Ranged(si, **found)

    def _read(self, value: Any, info: core_schema.ValidationInfo) -> Any:
        """Take what people write for what it means; a plain quantity passes at once."""
        if type(value) is dict:
            if len(value) > 2 and not self.ranged and (end := next((e for e in _ENDS if e in value), None)):
                _refuse_end(end, NO_RANGE, NOT_HERE)
            unit = value.get("unit")
            if type(unit) is not str or unit in units.factors(self.dimension):
                return value  # a unit that is no text is refused by the schema
        return reading.quantity(value, self.dimension, info.context and info.context.get("decimal_sign"))


def _refuse_end(end: str, detail: str, accepted: str) -> NoReturn:
    raise PydanticCustomError("out_of_domain", detail, {"fields": (end,), "accepted": accepted})  # type: ignore[arg-type, unused-ignore]


class _Places(NamedTuple):
    """Fields of a model that may hold a range, and those of parts that may hold such fields."""

    numbers: tuple[str, ...]
    parts: tuple[str, ...]


@cache
def _places(model: type[BaseModel]) -> _Places:
    fields = model.model_fields
    held = {name: measured(model, name) for name in fields}
    numbers = tuple(name for name, how in held.items() if how is not None and how.ranged)
    parts = tuple(name for name, how in held.items() if how is None and _may_range(fields[name].annotation))
    return _Places(numbers, parts)


def _may_range(annotation: Any) -> bool:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return any(_places(annotation))
    return any(_may_range(item) for item in get_args(annotation))


def ranges_in(model: BaseModel, path: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], Ranged]]:
    """Yield the numbers of a request that are known as a range, with their places."""
    places = _places(type(model))
    for name in places.numbers:
        value = getattr(model, name)
        if type(value) is Ranged:
            yield (*path, name), value
    for name in places.parts:
        part = getattr(model, name)
        if isinstance(part, BaseModel):
            yield from ranges_in(part, (*path, name))
        elif isinstance(part, list):
            for k, item in enumerate(part):
                yield from ranges_in(item, (*path, name, str(k)))


def with_number(model: B, path: Sequence[str], value: float) -> B:
    """Return a part of a request with one of its numbers replaced."""
    name, *rest = path
    found = with_number(getattr(model, name), rest, value) if rest else value
    return model.model_copy(update={name: found})


def measured(model: type[BaseModel], name: str) -> Measured | None:
    """Find how a field of a model is measured; ``None`` where it is no quantity."""
    field = model.model_fields[name]
    return next((item for item in field.metadata if isinstance(item, Measured)), None) or _measured(field.annotation)


def _measured(annotation: Any) -> Measured | None:
    """Find how a field is measured, also where it is optional."""
    for item in getattr(annotation, "__metadata__", ()):
        if isinstance(item, Measured):
            return item
    for item in get_args(annotation):
        if isinstance(item, Measured):
            return item
        if (found := _measured(item)) is not None:
            return found
    return None


def written(model: BaseModel) -> dict[str, Any]:
    """Write a part of a request as it would be sent: numbers with their unit again, absent fields left out."""
    result: dict[str, Any] = {}
    for name in type(model).model_fields:
        value = getattr(model, name)
        if value is None:
            continue
        if isinstance(value, BaseModel):
            result[name] = written(value)
        elif isinstance(value, list):
            result[name] = [written(item) if isinstance(item, BaseModel) else item for item in value]
        else:
            held = measured(type(model), name)
            if held is None or isinstance(value, bool):
                result[name] = value
            else:
                unit = units.DIMENSIONS[held.dimension].si_system
                number = units.from_si(value, held.dimension, unit)
                result[name] = {"value": float(f"{number:.{DIGITS}g}"), "unit": unit}
    return result


@dataclass(frozen=True)
class Written:
    """Annotation of a result field that holds a written quantity of ``dimension``."""

    dimension: str

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        return handler.generate_schema(WIRE[self.dimension, "any"])


_AnyUnit: Any = Literal.__getitem__(
    tuple(dict.fromkeys(unit.symbol for dimension in units.DIMENSIONS.values() for unit in dimension.units))
)


class AnyQuantity(TypedDict):
    """A number with its unit; the unit tells the dimension, "1" stands for a plain ratio."""

    __pydantic_config__ = ConfigDict(extra="forbid", title="Quantity")  # type: ignore[misc]

    value: Annotated[float, Field(description="Number of units.", json_schema_extra={"format": "double"})]
    unit: Annotated[_AnyUnit, Field(description="Unit.")]


# Acceptance domains. They bound what the models are meant for, with room; rule data set the limits that matter.
ShaftDiameter = Annotated[float, Measured("length", "positive", 1e-3, 3.0)]
BoreDiameter = Annotated[float, Measured("length", "positive", 1e-3, 4.0)]
SmallLength = Annotated[float, Measured("length", "positive", 1e-6, 1.0)]
AxialLength = Annotated[float, Measured("length", "positive", 1e-6, 10.0)]
Clearance = Annotated[float, Measured("length", "zero_or_more", 0.0, 0.1)]
Tolerance = Annotated[float, Measured("length", "zero_or_more", 0.0, 0.05)]
RotationalSpeed = Annotated[float, Measured("rotational_speed", "zero_or_more", 0.0, 5000.0)]
SurfaceSpeed = Annotated[float, Measured("surface_speed", "zero_or_more", 0.0, 500.0)]
Frequency = Annotated[float, Measured("frequency", "zero_or_more", 0.0, 1000.0)]
SwingAngle = Annotated[float, Measured("angle", "positive", 1e-4, 6.283185307179586)]
GaugePressure = Annotated[float, Measured("gauge_pressure", "any", -101325.0, 500e6)]
Temperature = Annotated[float, Measured("temperature", "any", 0.0, 1000.0)]
RoughnessRa = Annotated[float, Measured("roughness", "positive", 1e-9, 1e-4)]
HardnessHRC = Annotated[float, Measured("hardness_hrc", "positive", 1.0, 80.0)]
HardnessShoreA = Annotated[float, Measured("hardness_shore_a", "positive", 30.0, 95.0)]
Stress = Annotated[float, Measured("stress", "positive", 1e3, 1e12)]
Ratio = Annotated[float, Measured("ratio", "positive", 1e-9, 1e3)]
Share = Annotated[float, Measured("ratio", "zero_or_more", 0.0, 1.0)]
Angle = Annotated[float, Measured("angle", "zero_or_more", 0.0, 1.5533430342749532)]
Force = Annotated[float, Measured("force", "zero_or_more", 0.0, 1e7)]
LineLoad = Annotated[float, Measured("line_load", "zero_or_more", 0.0, 1e6)]
Duration = Annotated[float, Measured("time", "positive", 1e-3, 1e10)]
Viscosity = Annotated[float, Measured("dynamic_viscosity", "positive", 1e-7, 1e5)]
Bool = StrictBool


def _ranged(kind: Any) -> Measured:
    """Say how a kind of number is measured that may come with a range."""
    held: Measured = kind.__metadata__[0]
    return replace(held, ranged=True)


# Numbers of duty and design that may come with a range.
RangedShaftDiameter = Annotated[float, _ranged(ShaftDiameter)]
RangedSmallLength = Annotated[float, _ranged(SmallLength)]
RangedClearance = Annotated[float, _ranged(Clearance)]
RangedRotationalSpeed = Annotated[float, _ranged(RotationalSpeed)]
RangedSurfaceSpeed = Annotated[float, _ranged(SurfaceSpeed)]
RangedFrequency = Annotated[float, _ranged(Frequency)]
RangedSwingAngle = Annotated[float, _ranged(SwingAngle)]
RangedGaugePressure = Annotated[float, _ranged(GaugePressure)]
RangedTemperature = Annotated[float, _ranged(Temperature)]
RangedRoughnessRa = Annotated[float, _ranged(RoughnessRa)]
RangedHardnessHRC = Annotated[float, _ranged(HardnessHRC)]
RangedShare = Annotated[float, _ranged(Share)]
RangedDuration = Annotated[float, _ranged(Duration)]

# Written quantities of results.
WrittenLength = Annotated[dict[str, Any], Written("length")]
WrittenRoughness = Annotated[dict[str, Any], Written("roughness")]
WrittenVolume = Annotated[dict[str, Any], Written("volume")]
WrittenRotationalSpeed = Annotated[dict[str, Any], Written("rotational_speed")]
WrittenSurfaceSpeed = Annotated[dict[str, Any], Written("surface_speed")]
WrittenAngle = Annotated[dict[str, Any], Written("angle")]
WrittenGaugePressure = Annotated[dict[str, Any], Written("gauge_pressure")]
WrittenStress = Annotated[dict[str, Any], Written("stress")]
WrittenTemperature = Annotated[dict[str, Any], Written("temperature")]
WrittenTemperatureDifference = Annotated[dict[str, Any], Written("temperature_difference")]
WrittenForce = Annotated[dict[str, Any], Written("force")]
WrittenLineLoad = Annotated[dict[str, Any], Written("line_load")]
WrittenLineStiffness = Annotated[dict[str, Any], Written("line_stiffness")]
WrittenTorque = Annotated[dict[str, Any], Written("torque")]
WrittenPower = Annotated[dict[str, Any], Written("power")]
WrittenDensity = Annotated[dict[str, Any], Written("density")]
WrittenMass = Annotated[dict[str, Any], Written("mass")]
WrittenTime = Annotated[dict[str, Any], Written("time")]
WrittenThermalConductance = Annotated[dict[str, Any], Written("thermal_conductance")]
WrittenDynamicViscosity = Annotated[dict[str, Any], Written("dynamic_viscosity")]
WrittenSpecificWearRate = Annotated[dict[str, Any], Written("specific_wear_rate")]
