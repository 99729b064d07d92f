"""What every request and every result share."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from typing import Annotated, Any, ClassVar, Literal, NamedTuple, TypeAlias

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    GetJsonSchemaHandler,
    PrivateAttr,
    StringConstraints,
    create_model,
    model_validator,
)
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, PydanticCustomError

from glandwise import units
from glandwise.contract.quantities import NO_RANGE, AnyQuantity, Bool, Ranged, ranges_in, with_number
from glandwise.contract.reading import DecimalSign
from glandwise.described import describe

Status: TypeAlias = Literal["pass", "caution", "fail", "not_evaluated"]
Evidence: TypeAlias = Literal["standard", "published", "own_test", "common_practice", "house_estimate"]


class _NameForm(NamedTuple):
    pattern: re.Pattern[str]
    longest: int


NAME = _NameForm(re.compile(r"^[A-Za-z][A-Za-z0-9_]*$"), 64)
"""What a name looks like."""
LINE = r"^[^\x00-\x1f\x7f]+$"
"""A line of text: no control characters."""
Name: TypeAlias = Annotated[str, StringConstraints(pattern=NAME.pattern.pattern, max_length=NAME.longest)]


@dataclass(frozen=True)
class NameOf:
    """Annotation of a field that holds a name: in which table of the rules it is looked up."""

    table: str
    """Field of the rule set's data, or :data:`RULE_SETS`."""
    what: str
    """What bears the name, in words."""
    only_where: tuple[str, str] | None = None
    """Field beside it and the value (its default) with which the name is looked up; always where ``None``."""


RULE_SETS, RULE_SET = "rule_sets", "rule set"
"""Table of the rule sets themselves, and what bears a name of it."""
FluidName: TypeAlias = Annotated[Name, NameOf("fluids", "fluid")]
CompoundName: TypeAlias = Annotated[Name, NameOf("compounds", "compound")]
AlloyName: TypeAlias = Annotated[Name, NameOf("alloys", "alloy")]
ElastomerName: TypeAlias = Annotated[Name, NameOf("elastomers", "elastomer")]
MaterialName: TypeAlias = Annotated[Name, NameOf("shaft_materials", "material")]
RuleSetName: TypeAlias = Annotated[
    str,
    StringConstraints(pattern=r"^[A-Za-z0-9][A-Za-z0-9_.-]*$", max_length=64),
    NameOf(RULE_SETS, RULE_SET),
]


def _written_date(value: Any) -> Any:
    """Let only RFC 3339 dates through: left alone, numbers and times of day would pass for dates too."""
    if (
        value is None
        or type(value) is date
        or (isinstance(value, str) and re.fullmatch(r"\d{4}-\d\d-\d\d", value, re.ASCII))
    ):
        return value
    raise PydanticCustomError("date_format", "not a date", {"accepted": "a date such as 2026-01-31"})


WrittenDate: TypeAlias = Annotated[date, BeforeValidator(_written_date)]
Number: TypeAlias = Annotated[float, Field(json_schema_extra={"format": "double"})]


def _integral(value: Any) -> Any:
    return int(value) if isinstance(value, float) and value.is_integer() else value


INTEGRAL = BeforeValidator(_integral)
"""Takes 10.0 for 10, as JSON Schema does: JSON has one kind of number."""
Count: TypeAlias = Annotated[int, Field(json_schema_extra={"format": "int32"})]


class RequestModel(BaseModel):
    """An object of a request: unknown fields are refused, and null stands for any optional field that is left out."""

    model_config = ConfigDict(
        extra="forbid", frozen=True, allow_inf_nan=False, hide_input_in_errors=True, json_schema_extra=describe
    )

    @model_validator(mode="before")
    @classmethod
    def _null_is_left_out(cls, data: Any) -> Any:
        if not isinstance(data, dict) or None not in data.values():
            return data
        fields = cls.model_fields
        return {
            name: value
            for name, value in data.items()
            if value is not None or name not in fields or fields[name].is_required()
        }

    @classmethod
    def __get_pydantic_json_schema__(cls, core: CoreSchema, handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        """Let every optional field be null in the contract, too."""
        written = handler(core)
        schema = handler.resolve_ref_schema(written)
        needed = schema.get("required", ())
        for name, field in schema.get("properties", {}).items():
            if name not in needed and {"type": "null"} not in field.get("anyOf", ()):
                kept = {key: field.pop(key) for key in ("title", "description", "default") if key in field}
                schema["properties"][name] = {"anyOf": [field, {"type": "null"}], **kept}
        return written


class ResultModel(BaseModel):
    """An object of a result. Readers must tolerate fields that a later version adds."""

    model_config = ConfigDict(extra="forbid", json_schema_extra=describe)


def _preference_fields() -> dict[str, Any]:
    fields: dict[str, Any] = {}
    for dimension in units.DIMENSIONS.values():
        names: Any = Literal.__getitem__(tuple(unit.symbol for unit in dimension.units))
        fields[dimension.name] = (names | None, Field(None, description=f"Unit of {dimension.title} in the answer."))
    return fields


_Preferences: Any = create_model("_Preferences", __base__=RequestModel, **_preference_fields())


class AnswerUnits(_Preferences):  # type: ignore[misc]
    """Units of the answer: a system, and single units that differ from it."""

    system: Annotated[Literal["si", "us"], Field(description="`si`: mm, MPa, degC ...; `us`: in, psi, degF ...")] = "si"

    def system_of_units(self) -> units.UnitSystem:
        """Return the unit system that writes the answer."""
        if self.model_fields_set <= _SYSTEM_ONLY:
            return SYSTEMS[self.system]
        overrides = {name: unit for name, unit in self if name != "system" and unit is not None}
        return units.UnitSystem(self.system, overrides) if overrides else SYSTEMS[self.system]


_SYSTEM_ONLY = frozenset({"system"})
SYSTEMS = {"si": units.UnitSystem("si"), "us": units.UnitSystem("us")}


def read_as(raw: Any) -> dict[str, Any] | None:
    """Return the context in which a request is validated: the decimal sign that it states for its texts."""
    sign = raw.get("decimal_sign") if isinstance(raw, dict) else None
    return {"decimal_sign": sign} if sign in {"point", "comma"} else None


RANGES_TAKEN = "value and unit alone; check_envelope and answer_enquiry take a range"
"""What is accepted in place of a range where none is carried."""


class CalculationRequest(RequestModel):
    """Fields of every calculation request."""

    carries_ranges: ClassVar[bool] = False
    """Whether the operation says what becomes of its answer over the ranges of what is stated."""
    _ranges: dict[tuple[str, ...], Ranged] = PrivateAttr(default_factory=dict)

    units: AnswerUnits = AnswerUnits()
    """Units of the answer; never changes a verdict."""
    rule_set: RuleSetName | None = None
    """Rule set to judge by; the service's default when absent (see `/v1/rule-sets`)."""
    as_of: WrittenDate | None = None
    """Take the rule values in force on this date; the newest ones when absent."""
    working: Bool = False
    """Return the ordered steps of the calculation as well."""
    decimal_sign: DecimalSign | None = None
    """Decimal sign of quantities that are written as text, such as `8,5 bar`; a point when absent, and what could be read in
    two ways is refused."""

    @property
    def ranges(self) -> dict[tuple[str, ...], Ranged]:
        """The numbers that are stated with a range, by their places; everywhere else they stand as their values."""
        return self._ranges

    @model_validator(mode="after")
    def _set_ranges_apart(self) -> CalculationRequest:
        found = dict(ranges_in(self))
        if found and not self.carries_ranges:
            refuse_range(next(iter(found)))
        known = {place: number for place, number in found.items() if number.low < number.high}
        self._ranges.update(known)
        for place, number in found.items():
            name, *rest = place
            plain = with_number(getattr(self, name), rest, float(number)) if rest else float(number)
            object.__setattr__(self, name, plain)
        return self


def refuse_range(place: tuple[str, ...], accepted: str = RANGES_TAKEN) -> None:
    """Refuse a range that an operation, or a detail of it, does not carry."""
    raise PydanticCustomError("out_of_domain", NO_RANGE, {"fields": (*place, "low"), "accepted": accepted})


class Working(ResultModel):
    """One step of a calculation, to be recomputed by hand."""

    symbol: str
    """Symbol of the result."""
    title: str
    """What it is."""
    equation: str
    """Equation in plain text, with the symbols of `inputs` in SI units."""
    inputs: dict[str, Number]
    """The numbers that went in, by symbol, in SI units."""
    value: Number | None
    """The number that came out, in SI units; null when it is not finite."""
    unit: str
    """SI unit of `value`; `1` for a plain number."""
    source: str
    """Where the equation comes from."""
    because: str | None = None
    """What decided between the branches of a formula, in symbols; null where there was nothing to decide."""


class Remedy(ResultModel):
    """A change of the design or of the duty that cures a failing criterion."""

    change: str
    """Identifier of the change."""
    title: str
    """The change in words."""
    design: dict[str, Any]
    """Design fields to set; empty when the change concerns the duty or the hardware."""
    evaluated: bool
    """True when the changed design was evaluated."""
    cures: bool
    """True when with this change the criterion is met."""
    utilization: Number | None
    """Utilization of the criterion after the change; null when it has none."""
    verdict: Status
    """Verdict of the whole check after the change."""


class Criterion(ResultModel):
    """One requirement: what the duty demands, what the design can give, and why."""

    id: str
    """Stable identifier of the criterion."""
    title: str
    """The criterion in words."""
    status: Status
    """`pass`, `caution` (close to the limit or conditional), `fail`, or `not_evaluated` (something is not known)."""
    demand: AnyQuantity | None
    """What the duty asks for; null for a criterion without a number."""
    capacity: AnyQuantity | None
    """What the design can give; null for a criterion without a number."""
    utilization: Number | None
    """Share of the capacity that is used: 1 is the limit. Null for a criterion without a number."""
    reason: str
    """The verdict in one sentence."""
    evidence: Evidence | None
    """The weakest evidence the verdict rests on."""
    sources: list[str]
    """Identifiers of the sources of the rule values used."""
    remedies: list[Remedy]
    """For a failing criterion: changes that have been evaluated, those that cure it first."""


class Governing(ResultModel):
    """The criterion closest to, or furthest beyond, its limit."""

    id: str
    """Identifier of the criterion."""
    title: str
    """The criterion in words."""
    status: Status
    """Its status."""
    utilization: Number | None
    """Its utilization."""


class Assumption(ResultModel):
    """A value the request left out and the service supplied."""

    field: str
    """JSON pointer of the field in the request."""
    value: AnyQuantity | str
    """The value used."""
    rule: str
    """The rule that supplied it."""


class Caution(ResultModel):
    """A warning that goes with the result."""

    id: str
    """Identifier of the caution."""
    text: str
    """The caution in words."""


class RuleSetStamp(ResultModel):
    """Which rules the result rests on."""

    name: str
    """Name of the rule set."""
    version: str
    """Version of the rule set."""
    digest: str
    """SHA-256 of its canonical content."""
    as_of: date
    """Date by which values were chosen."""


class Stamp(ResultModel):
    """What makes a result verifiable years later."""

    engine: str
    """The engine: its version, and behind a plus the beginning of the SHA-256 of all its formulas."""
    rule_set: RuleSetStamp
    """Rules used."""
    fingerprint: str
    """SHA-256 over request, rule set and engine: the same fingerprint means the same question to the same rules."""


class Result(ResultModel):
    """Fields of every result."""

    stamp: Stamp
    """Rule set, engine and fingerprint."""
    assumptions: list[Assumption]
    """What the request left out and the service supplied."""
    cautions: list[Caution]
    """Warnings that apply."""
    evidence: Evidence | None
    """The weakest evidence the result rests on."""
    working: list[Working] | None = None
    """Ordered steps of the calculation, on request."""
