"""Request and result of a calibration: rule values out of a house's own records."""

from __future__ import annotations

from typing import Annotated, Any, Literal, get_args

from pydantic import BeforeValidator, Field, StringConstraints
from pydantic_core import PydanticCustomError

from glandwise.contract.base import (
    LINE,
    Assumption,
    Caution,
    Count,
    Evidence,
    Number,
    RequestModel,
    ResultModel,
    RuleSetName,
    Stamp,
    Status,
    WrittenDate,
)
from glandwise.contract.comparison import ComparedCase, ComparedOperation, RuleSetComparisonResult

LEAKAGE = frozenset({"leakage", "leakage_onset", "leak"})


def _rests_on_a_rule(kind: Any) -> Any:
    """Refuse records on which no rule value rests, and say so."""
    if isinstance(kind, str) and kind in LEAKAGE:
        raise PydanticCustomError(
            "out_of_domain", "no rule value rests on the onset of leakage", {"accepted": ", ".join(get_args(_Kind))}
        )
    return kind


_Kind = Literal["wear", "friction", "relaxation", "energizer_load", "life", "pv_steps"]
RecordKind = Annotated[_Kind, BeforeValidator(_rests_on_a_rule)]
Line = Annotated[str, StringConstraints(min_length=3, max_length=200, pattern=LINE)]


class CalibrationRequest(RequestModel):
    """Records of a test rig, or of the field: which rule values do they give?"""

    kind: RecordKind
    """What the records are of; it says which columns they have."""
    records: Annotated[str, StringConstraints(min_length=1, max_length=4_000_000)]
    """The records as a table of comma-separated values with a line of headings, the unit of a number in its heading:
    `depth [um]`. The columns of each kind are in the guide to calibration."""
    rig: Line
    """What the records were made on, or where they were collected."""
    closed_on: WrittenDate
    """Day on which the records were closed; what is found holds from it on."""
    report: Line | None = None
    """Report in which they stand, if there is one."""
    rule_set: RuleSetName | None = None
    """Rule set that the values are to be laid over; the service's default when absent."""
    as_of: WrittenDate | None = None
    """Compare with the rule values in force on this date; the newest ones when absent."""
    name: Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9][A-Za-z0-9_.-]*$", max_length=64)] = "own-tests"
    """Name of the rule set that is made."""
    confidence: Annotated[float, Field(strict=True, ge=0.5, le=0.99, json_schema_extra={"format": "double"})] = 0.9
    """Share of intervals that hold the true value; that of the ranges of the rules is nine in ten."""
    method: Literal["least_squares", "bayes"] = "least_squares"
    """How values are found: by `least_squares`, robust, from three specimens on, with what the house believes taken in only where
    they are few; or as a posterior (`bayes`) from one specimen on, whose prior is the range of the house, with what it believes
    of the scatter."""
    against: Annotated[list[ComparedCase], Field(max_length=500)] = Field(default_factory=list)
    """Past quotes: what do the values found do to them?"""
    operations: Annotated[list[ComparedOperation], Field(min_length=1, max_length=8)] = [  # noqa: RUF012
        "check_envelope", "estimate_friction", "estimate_wear",
    ]  # fmt: skip
    """What each past quote is judged by: the envelope always, and the operations named besides."""
    from_date: WrittenDate | None = None
    """First date on which past quotes are compared, the current one (UTC) when absent; later ones as in a comparison."""


class CalibratedRange(ResultModel):
    """A number with its ends."""

    value: Number
    """Nominal value."""
    low: Number
    """Lower end."""
    high: Number
    """Upper end."""


class CalibrationOutlier(ResultModel):
    """A specimen, or one of its readings, that stands far off the others."""

    specimen: str
    """Label of the specimen."""
    line: Count | None
    """Line of the reading in the table; null where the specimen as a whole stands off."""
    reason: str
    """How far off it is."""


class CalibrationAxis(ResultModel):
    """What is drawn along an axis."""

    title: str
    """In words."""
    unit: str
    """Its unit; `1` for a plain number."""


class CalibrationPoint(ResultModel):
    """What one specimen, or one of its readings, says of a value, in the units of the axes."""

    specimen: str
    """Label of the specimen."""
    line: Count | None
    """Line of the reading in the table; null of a specimen as a whole."""
    x: Number | None
    """Where it lies along `x` of the value; null where it lies nowhere on it: there is no such axis, or the life goes on."""
    seen: Number | None
    """What the records say; null where they say only between what it lies."""
    low: Number | None
    """Lower end of what is known, where `seen` is null; null where it is open."""
    high: Number | None
    """Upper end of what is known, where `seen` is null; null where it is open."""
    fitted: Number
    """What the fit has in its place."""


class CalibratedValue(ResultModel):
    """A value that the records speak of."""

    key: str | None
    """Where it stands in the rules: file and keys, dotted; null where no rule takes it."""
    title: str
    """What it is."""
    unit: str
    """Unit of the numbers."""
    found: CalibratedRange | None
    """What the records tell, the ends those of its interval; null where they tell too little."""
    house: CalibratedRange | None
    """What the rule set has; null where it has nothing."""
    house_evidence: Evidence | None
    """Level of evidence of what the rule set has."""
    replaces: bool
    """Whether it takes the place of the rule set's value."""
    stays: str | None
    """Why the rule set's value stays; null where it is replaced."""
    specimens: Count
    """Specimens that it rests on."""
    readings: Count
    """Rows that it rests on."""
    method: str
    """How value and interval were made."""
    scatter: Number | None
    """Standard deviation of the logarithm from specimen to specimen, without outliers; null where it is not known."""
    own_share: Number | None
    """Share of the precision that the records contribute, the rest being the range of the house; null where nothing was
    found."""
    outliers: list[CalibrationOutlier]
    """Specimens and readings that stand far off."""
    lack_of_fit: list[str]
    """Where the records do not do what the model does."""
    x: CalibrationAxis | None
    """Over which the points are drawn; null where only their order counts, or there are none."""
    y: CalibrationAxis | None
    """What the points are; null where there are none."""
    points: list[CalibrationPoint]
    """What the value rests on, as the plot has it: specimens, or readings; empty where it was found with another value, or not."""


class RefusedRecord(ResultModel):
    """A row that cannot be taken."""

    line: Count
    """Line of the table on which it begins; the headings stand on the first."""
    reason: str
    """Column, what is wrong, and what is accepted."""


class CalibrationRecords(ResultModel):
    """The records as they were read."""

    rows: Count
    """Rows below the heading."""
    taken: Count
    """Rows that were taken."""
    specimens: Count
    """Specimens among them."""
    sha256: str
    """SHA-256 of the table in UTF-8."""


class CalibrationGate(ResultModel):
    """Whether the rule set that is made can be used."""

    accepted: bool
    """True when it loads as any rule set, bands and laws of values included."""
    faults: list[str]
    """Where it does not: each fault with what is accepted."""


class CalibrationResult(ResultModel):
    """Rule values out of records, as a rule set of its own to be laid over another."""

    verdict: Status
    """`pass` when values were found, every row was taken and nothing stands off; `caution` when something is to be looked at;
    `fail` when the rule set that is made cannot be used; `not_evaluated` when the records tell no value."""
    summary: str
    """The calibration in one sentence."""
    records: CalibrationRecords
    """What was read."""
    refused: list[RefusedRecord]
    """Rows that could not be taken, each with its reason."""
    values: list[CalibratedValue]
    """Values that the records speak of."""
    rule_set: dict[str, Any] | None
    """The rule set that is made, as content of its files: the `rule_set` of a candidate of kind `whole`; null where no value
    is replaced."""
    files: dict[str, str]
    """The same as files of TOML, by their name; empty where no value is replaced."""
    gate: CalibrationGate
    """Whether it can be used."""
    comparison: RuleSetComparisonResult | None
    """What it does to the past quotes; null where none were given, or there is nothing to compare."""
    stamp: Stamp
    """Engine, rule set and fingerprint."""
    assumptions: list[Assumption]
    """What the request left out and the service supplied."""
    cautions: list[Caution]
    """Warnings that apply."""
    evidence: Evidence | None
    """Level of evidence of the values that are replaced; null where none is."""
