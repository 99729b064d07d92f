"""Request and result of a comparison of rule sets."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any, Literal

from pydantic import Discriminator, Field, StringConstraints, model_validator

from glandwise.contract import quantities as q
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
    refuse_range,
)
from glandwise.contract.blank import Quantity
from glandwise.contract.design import Design
from glandwise.contract.duty import Duty
from glandwise.contract.gland import Gland, check_gland_fits
from glandwise.contract.quantities import ranges_in
from glandwise.contract.running import HeatSurroundings

Outcome = Literal["same", "shifted", "better", "worse", "refused"]
CaseStatus = Literal["pass", "caution", "fail", "not_evaluated", "refused"]
ComparedOperation = Literal[
    "check_envelope", "check_gland", "check_thermal_fit", "estimate_friction", "estimate_wear", "select_design",
    "estimate_blank", "answer_enquiry",
]  # fmt: skip
Effect = Literal["worse", "better", "changed"]
TransitionKind = Literal["verdict", "criterion", "margin", "evidence", "design", "life", "torque", "quantity"]
Gate = Literal["verdict", "design", "worse"]
ChangedShare = Annotated[
    float, Field(strict=True, ge=0.0, le=10.0, allow_inf_nan=False, json_schema_extra={"format": "double"})
]
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
    gland: Gland = Gland()
    """Dimensions of the gland as far as they were known; read by all operations but the envelope."""
    surroundings: HeatSurroundings = HeatSurroundings()
    """What carries the heat away; read by friction, wear and the whole enquiry."""
    target_life: q.Duration | None = None
    """Life that was wanted; read by wear and the whole enquiry."""
    pieces: Quantity = 1
    """Good pieces that were wanted; read by the blank and the whole enquiry."""

    @model_validator(mode="after")
    def _no_range(self) -> ComparedCase:
        for place, _ in ranges_in(self):
            refuse_range(place)
        return self

    @model_validator(mode="after")
    def _gland_fits(self) -> ComparedCase:
        check_gland_fits(self.duty, self.design, self.gland)
        return self


class ComparisonThresholds(RequestModel):
    """From how much on a change of what was told is listed as a transition; each a share."""

    margin_loss: ChangedShare = 0.1
    """Margin lost, as share of the capacity, while the status stays."""
    life_change: ChangedShare = 0.1
    """Change of the nominal life, as share of the life before."""
    torque_change: ChangedShare = 0.1
    """Change of the nominal torque, as share of the torque before."""
    quantity_change: ChangedShare = 0.01
    """Change of any other quantity of an answer, as share of what it was before; a temperature counts from absolute zero."""


class RuleSetComparisonRequest(RequestModel):
    """Two rule sets and cases: what does the change turn over?"""

    base: NamedRuleSet
    """Rule set before the change."""
    candidate: CandidateRuleSet
    """Rule set after the change."""
    cases: Annotated[list[ComparedCase], Field(min_length=1, max_length=5000)]
    """Past quotes."""
    operations: Annotated[list[ComparedOperation], Field(min_length=1, max_length=8)] = ["check_envelope"]  # noqa: RUF012
    """What each case is judged by: the envelope always, and the operations named besides. Those answer each case whole under
    both sets, which takes some ten milliseconds for each; so at most 500 cases then."""
    thresholds: ComparisonThresholds = ComparisonThresholds()
    """From how much on a change is listed as a transition."""
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
    evidence_before: Evidence | None
    """Level of its evidence before; null when it was added."""
    fields: list[str]
    """Fields of a sourced value that differ; empty for anything else, and for what was added or removed."""
    as_of: date | None
    """First date looked at on which it differs so; null where it differs on earlier dates only."""
    exercised: bool | None
    """Whether a criterion of a judged case hangs on it. False: that no case differs says nothing about it (other calculations
    read it, no case has the compound, something else governs, or only source, evidence, date or remark differ). Null where
    no case was judged."""
    cases: Count
    """Cases of which it, made alone, changes a criterion of the envelope, or whether they can be judged; and of the other
    operations an answer, as far as the answer differs in the end."""


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
    alone: list[str]
    """Changes each of which, made alone, has the same effect on it."""
    jointly: list[list[str]]
    """Where no change alone has the effect: the smallest combinations that have it."""


class CaseTransition(ResultModel):
    """What changed of one answer to a case."""

    kind: TransitionKind
    """What changed: the verdict, a criterion, its margin, the evidence, the proposed design, life, torque, or any other
    quantity."""
    subject: str | None
    """Identifier of the criterion, or name of the quantity; null for anything that an answer has one of."""
    effect: Effect
    """Whether that is worse or better for who was told the answer, or neither. A criterion of a case that failed before and
    fails after is `changed`."""
    before: str | None
    """Word before; null for a quantity."""
    after: str | None
    """Word after; null for a quantity."""
    value_before: Number | None
    """Number before; null for a word, or where there is none."""
    value_after: Number | None
    """Number after; null for a word, or where there is none."""
    unit: str | None
    """Unit of the numbers; null for a word."""
    alone: list[str]
    """Changes each of which, made alone, has the same effect on it."""
    caused_by: list[str]
    """Changes each of which, taken back alone, undoes it."""
    jointly: list[list[str]]
    """Where no change alone has the effect: the smallest combinations that have it."""


class AnswerComparison(ResultModel):
    """An answer that differs, of an operation beside the envelope."""

    operation: ComparedOperation
    """Which operation answers."""
    outcome: Outcome
    """What happened to the answer."""
    verdict_before: CaseStatus | None
    """Verdict under the base; null where the operation gives none."""
    verdict_after: CaseStatus | None
    """Verdict under the candidate; null where the operation gives none."""
    as_of: date
    """Date of both: of those looked at, the first on which it stands worst."""
    fault: str | None
    """Why it was not answered under one of the sets; null when it was."""
    transitions: list[CaseTransition]
    """What changed of it, worst first."""


class VerdictTransition(ResultModel):
    """How many answers changed in one way."""

    operation: ComparedOperation
    """Which operation answers."""
    kind: TransitionKind
    """What changed."""
    subject: str | None
    """Identifier of the criterion, or name of the quantity; null for anything that an answer has one of."""
    effect: Effect
    """Whether that is worse or better, or neither."""
    before: str | None
    """Word before; null for a quantity."""
    after: str | None
    """Word after; null for a quantity."""
    cases: Count
    """Cases of which it is so."""


class CaseComparison(ResultModel):
    """A case that differs."""

    case_id: str
    """Identifier of the case."""
    outcome: Outcome
    """What happened to it over all operations asked for: a criterion that turns worse makes the case worse, unless the answer
    failed before and fails after; that is `shifted`."""
    verdict_before: CaseStatus
    """Verdict under the base."""
    verdict_after: CaseStatus
    """Verdict under the candidate."""
    as_of: date
    """Date of both verdicts: of those looked at, the first on which the case stands worst."""
    fault: str | None
    """Why it was refused; null when it was not."""
    criteria: list[CriterionComparison]
    """Criteria of the envelope that differ."""
    answers: list[AnswerComparison]
    """Answers of the other operations asked for that differ."""
    caused_by: list[str]
    """Where one of the sets alone can judge the case: changes each of which, taken back alone, undoes that; else empty."""
    alone: list[str]
    """Where one of the sets alone can judge the case: changes each of which, made alone, has that effect; else empty."""
    jointly: list[list[str]]
    """Where no change alone has that effect: the smallest combinations that have it."""
    trips: list[Gate]
    """Gates that the case trips: `verdict` (a verdict turns worse, or is lost), `design` (besides, another design is
    proposed), `worse` (anything turns worse by more than the thresholds)."""


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
    transitions: list[VerdictTransition]
    """How many answers changed in which way, worst first."""
    trips: dict[Gate, Count]
    """Cases that trip each gate."""
    by_operation: dict[str, OutcomeCounts]
    """Cases by outcome for each operation."""
    by_criterion: dict[str, OutcomeCounts]
    """Outcome of each criterion of the envelope over the cases."""
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
