"""Request and result of a comparison of rule sets."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any, Literal

from pydantic import Discriminator, Field, StringConstraints

from glandwise.contract.base import (
    Assumption,
    Caution,
    Count,
    Evidence,
    Number,
    RequestModel,
    ResultModel,
    RuleSetName,
    RuleSetStamp,
    Stamp,
    Status,
    WrittenDate,
)
from glandwise.contract.design import Design
from glandwise.contract.duty import Duty

Outcome = Literal["same", "shifted", "better", "worse", "refused"]
CaseStatus = Literal["pass", "caution", "fail", "not_evaluated", "refused"]
CaseId = Annotated[str, StringConstraints(min_length=1, max_length=128, pattern=r"^[\x20-\x7E]+$")]


class NamedRuleSet(RequestModel):
    """A rule set the service holds."""

    kind: Literal["name"]
    """A rule set the service holds."""
    name: RuleSetName
    """Its name, from `/v1/rule-sets`."""
    as_of: WrittenDate | None = None
    """Look at the values in force on this date as well; for the other set too, unless it states a date of its own."""


class PatchedRuleSet(RequestModel):
    """The base with a patch applied."""

    kind: Literal["patch"]
    """The base with a patch applied."""
    patch: Annotated[dict[str, Any], Field(max_length=100)]
    """JSON merge patch (RFC 7396) on the content of the rule files, keyed by file name; null removes."""


class WholeRuleSet(RequestModel):
    """A whole rule set sent along."""

    kind: Literal["whole"]
    """A whole rule set sent along."""
    rule_set: Annotated[dict[str, Any], Field(max_length=100)]
    """Content of every rule file, keyed by file name; of one that extends another, what its own files state."""
    parents: Annotated[list[Annotated[dict[str, Any], Field(max_length=100)]], Field(max_length=16)] = Field(
        default_factory=list
    )
    """Rule sets that it extends, in the same form, as they stand beside it; only a built-in one or the base is taken from
    the service."""


CandidateRuleSet = Annotated[NamedRuleSet | PatchedRuleSet | WholeRuleSet, Discriminator("kind")]


class ComparedCase(RequestModel):
    """A past quote."""

    case_id: CaseId
    """Identifier that the answer repeats."""
    duty: Duty
    """What the seal has to live with."""
    design: Design
    """Which seal was quoted."""


class RuleSetComparisonRequest(RequestModel):
    """Two rule sets and cases: what does the change turn over?"""

    base: NamedRuleSet
    """Rule set before the change."""
    candidate: CandidateRuleSet
    """Rule set after the change."""
    cases: Annotated[list[ComparedCase], Field(min_length=1, max_length=5000)]
    """Past quotes."""
    from_date: WrittenDate | None = None
    """First date looked at, the current one (UTC) when absent: the sets are compared on it and on every later date on which
    anything of either changes."""
    attribute: Annotated[bool, Field(strict=True)] = True
    """Find which changed value caused each difference, by taking back one change at a time; of at most 200 of them."""
    include_unchanged: Annotated[bool, Field(strict=True)] = False
    """List cases that stay the same as well."""


class RuleChange(ResultModel):
    """A value that differs between the two rule sets."""

    key: str
    """Where it stands: file and keys, dotted."""
    kind: Literal["changed", "added", "removed"]
    """What happened to it."""
    before: Any
    """What the base has; null when it was added."""
    after: Any
    """What the candidate has; null when it was removed."""
    unit: str | None
    """Unit of a number."""
    source: str | None
    """Source it rests on."""
    evidence: Evidence | None
    """Level of its evidence."""
    fields: list[str]
    """Fields of a sourced value that differ; empty for anything else, and for what was added or removed."""
    as_of: date | None
    """First date looked at on which it differs so; null where it differs on earlier dates only."""
    exercised: bool | None
    """Whether a criterion of a judged case hangs on it. False: that no case differs says nothing about it (other calculations
    read it, no case has the compound, something else governs, or only source, evidence, date or remark differ). Null where
    no case was judged."""
    cases: Count
    """Cases of which it changed a criterion by itself."""


class CriterionComparison(ResultModel):
    """A criterion that differs."""

    id: str
    """Identifier of the criterion."""
    outcome: Outcome
    """What happened to it."""
    status_before: CaseStatus
    """Status under the base."""
    status_after: CaseStatus
    """Status under the candidate."""
    utilization_before: Number | None
    """Utilization under the base; null when it has none."""
    utilization_after: Number | None
    """Utilization under the candidate; null when it has none."""
    margin_shift: Number | None
    """Margin gained (negative: lost), as share of the capacity; null when there is none to compare."""
    as_of: date
    """Date on which it stands so: of those looked at, the first on which it stands worst."""
    caused_by: list[str]
    """Changes each of which, taken back alone, restores it; empty when several act together."""


class CaseComparison(ResultModel):
    """A case that differs."""

    case_id: str
    """Identifier of the case."""
    outcome: Outcome
    """What happened to it: a criterion that turns worse makes the case worse."""
    verdict_before: CaseStatus
    """Verdict under the base."""
    verdict_after: CaseStatus
    """Verdict under the candidate."""
    as_of: date
    """Date of both verdicts: of those looked at, the first on which the case stands worst."""
    fault: str | None
    """Why it was refused; null when it was not."""
    criteria: list[CriterionComparison]
    """Criteria that differ."""


class OutcomeCounts(ResultModel):
    """How many stayed and changed."""

    same: Count
    """Nothing changed."""
    shifted: Count
    """Margins changed, no status."""
    better: Count
    """Turned better."""
    worse: Count
    """Turned worse."""
    refused: Count
    """Could not be judged under one of the rule sets."""


class RuleSetComparisonResult(ResultModel):
    """What a change of rules does to the cases."""

    verdict: Status
    """`fail` when a case turns worse or cannot be judged; `caution` when cases change otherwise, or a changed value was not
    exercised; else `pass`."""
    summary: str
    """The comparison in one sentence."""
    base: RuleSetStamp
    """Rule set before."""
    candidate: RuleSetStamp
    """Rule set after."""
    same_version: bool
    """Whether the content differs though name and version are the same."""
    from_date: date
    """First date looked at."""
    dates: list[date]
    """Dates looked at: the first, every later one on which anything of either set changes, and those asked for."""
    changes: list[RuleChange]
    """Values that differ, also such as differ in source, evidence, date or remark alone, or in the past."""
    counts: OutcomeCounts
    """Cases by outcome."""
    by_criterion: dict[str, OutcomeCounts]
    """Outcome of each criterion over the cases."""
    by_family: dict[str, OutcomeCounts]
    """Cases by outcome for each family."""
    by_compound: dict[str, OutcomeCounts]
    """Cases by outcome for each compound."""
    cases: list[CaseComparison]
    """Cases that differ (all of them on request)."""
    stamp: Stamp
    """Engine, base rule set and fingerprint."""
    assumptions: list[Assumption]
    """Nothing: what the service supplies for a case is as in a check of that case."""
    cautions: list[Caution]
    """Warnings that apply."""
