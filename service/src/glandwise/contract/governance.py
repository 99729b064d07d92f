"""Request and result of a review of a rule set: who answers for it, and what differs from another."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Literal

from pydantic import Field

from glandwise.contract.base import (
    INTEGRAL,
    Caution,
    Count,
    Evidence,
    Number,
    RequestModel,
    ResultModel,
    RuleSetStamp,
    Stamp,
    WrittenDate,
)
from glandwise.contract.comparison import CandidateRuleSet, NamedRuleSet, RuleChange

Days = Annotated[int, Field(strict=True, ge=0, le=36_500, json_schema_extra={"format": "int32"}), INTEGRAL]


class RuleSetReviewRequest(RequestModel):
    """A rule set: who approved it, does its version keep step, and which of its estimates are to be looked at again?"""

    base: NamedRuleSet
    """Rule set in force, with which the candidate is compared; the one reviewed when no candidate is given."""
    candidate: CandidateRuleSet | None = None
    """Rule set to review in place of the base."""
    from_date: WrittenDate | None = None
    """Day of the review, the current one (UTC) when absent; what differs is looked for on it and on every later date on which
    anything of either changes."""
    house_estimate_days: Days | None = None
    """Days after its `valid_from` by which an estimate of the house is to be looked at again, where no `review_by` stands beside
    it; null: those without are not told."""
    within_days: Days = 0
    """Values that are to be looked at within so many days are told as well as those overdue."""
    built_in: Annotated[bool, Field(strict=True)] = False
    """Tell values of sets that come with the service too."""


class RuleSetApproval(ResultModel):
    """Who stands for a version of a rule set."""

    who: str
    """Person or office."""
    on: date
    """Day of the approval."""
    version: str
    """Version that was approved."""


class ReviewedSet(ResultModel):
    """A set of the chain that does not come with the service."""

    name: str
    """What it is called."""
    version_before: str | None
    """Version in the base; null for a set that is not there."""
    version: str
    """Version in the candidate."""
    changes: Count
    """Values that it states otherwise than before."""
    needs: Literal["none", "patch", "minor", "major"]
    """Part of the version that such a change asks for: `major` where a name that requests use is gone, `minor` where a value that
    answers hang on changed, `patch` where only remarks, sources, evidence or dates did."""
    raised: Literal["none", "patch", "minor", "major", "lowered", "other"]
    """Part of the version that was raised; `other` where the versions differ and are no numbers by dots."""
    version_fault: str | None
    """What is wrong with the version, in words; null where nothing is."""
    approved_by: RuleSetApproval | None
    """Who approved it; null where nobody is named."""
    approval_fault: str | None
    """Why this version is not approved on the day of the review, in words; null where it is."""


class ReviewedValue(ResultModel):
    """A value that is to be looked at again."""

    key: str
    """Where it stands: file and keys, dotted."""
    rule_set: str
    """Set of the chain that states it."""
    value: Number | None
    """Number in `unit`; null for a table or a record."""
    unit: str | None
    """Unit of the number, or of the ordinates of a table."""
    evidence: Evidence
    """Level of its evidence."""
    source: str
    """Source it rests on."""
    valid_from: date
    """Date from which it holds."""
    review_by: date
    """Day by which it is to be looked at again."""
    stated: bool
    """Whether that day stands beside the value; else it follows from `house_estimate_days`."""
    overdue: bool
    """Whether the day is past."""
    days: Annotated[int, Field(json_schema_extra={"format": "int32"})]
    """Days until then; negative where it is past."""


class BeforeAfter(ResultModel):
    """A count under two rule sets."""

    before: Count
    """Under the base."""
    after: Count
    """Under the candidate."""


class ReviewedSource(ResultModel):
    """A source on which another number of values rests, or that is told otherwise."""

    id: str
    """Identifier in the rule set."""
    text: str
    """The reference."""
    standard: str | None
    """Designation of a standard; null for anything else."""
    read: Literal["read", "secondary", "from_memory", "definition", "none"]
    """How far it was read."""
    kind: Literal["added", "removed", "changed", "same"]
    """What happened to the entry itself."""
    values_before: Count
    """Values that rest on it under the base."""
    values_after: Count
    """Values that rest on it under the candidate."""


class RuleSetReviewResult(ResultModel):
    """Who answers for a rule set, and what differs from another."""

    verdict: Literal["pass", "caution"]
    """`caution` where a set is not approved, a version does not keep step, a review is overdue, or a value rests on weaker evidence
    than before; else `pass`."""
    summary: str
    """The review in one sentence."""
    base: RuleSetStamp
    """Rule set in force."""
    candidate: RuleSetStamp
    """Rule set reviewed."""
    from_date: date
    """Day of the review."""
    changes: list[RuleChange]
    """Values that differ; no case is judged, so what of them says how often they matter is null or zero."""
    stronger: Count
    """Changed values that rest on stronger evidence than before."""
    weaker: Count
    """Changed values that rest on weaker evidence than before."""
    by_evidence: dict[Evidence, BeforeAfter]
    """Values in force on the day by level of evidence, the strongest first."""
    sources: list[ReviewedSource]
    """Sources on which another number of values rests on the day, or that are told otherwise."""
    sets: list[ReviewedSet]
    """Sets of the chain that do not come with the service, the uppermost first."""
    reviews: list[ReviewedValue]
    """Values that are to be looked at again, the most overdue first."""
    overdue: Count
    """How many of them are overdue."""
    stamp: Stamp
    """Engine, the rule set reviewed, and fingerprint."""
    cautions: list[Caution]
    """Warnings that apply."""
