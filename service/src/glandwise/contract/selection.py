"""Request and result of a selection."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field

from glandwise.contract import quantities as q
from glandwise.contract.advice import Alternative
from glandwise.contract.base import (
    INTEGRAL,
    AlloyName,
    CalculationRequest,
    CompoundName,
    Count,
    ElastomerName,
    Governing,
    Number,
    RequestModel,
    Result,
    ResultModel,
    Status,
)
from glandwise.contract.duty import Duty

Weight = Annotated[
    float, Field(strict=True, ge=0.0, le=100.0, allow_inf_nan=False, json_schema_extra={"format": "double"})
]


class AimWeights(RequestModel):
    """Weights of the aims; only their proportion counts. Those of the rule set where absent."""

    margin: Weight | None = None
    """Distance of the worst criterion from its limit."""
    friction: Weight | None = None
    """Low friction torque."""
    life: Weight | None = None
    """Long life by wear."""
    simplicity: Weight | None = None
    """Few features to machine and fit."""
    practice: Weight | None = None
    """A family that the trade usually takes at such a pressure, speed and temperature."""
    evidence: Weight | None = None
    """Rated capacities that rest on more than an estimate."""


class Restrictions(RequestModel):
    """What may be chosen; everything the rules know where absent."""

    families: Annotated[list[Literal["flexible_lip", "energized_lip"]], Field(min_length=1, max_length=2)] | None = None
    """Families to choose from."""
    compounds: Annotated[list[CompoundName], Field(min_length=1, max_length=100)] | None = None
    """Compounds to choose from."""
    energizer_alloys: Annotated[list[AlloyName], Field(min_length=1, max_length=100)] | None = None
    """Energizer alloys to choose from."""
    o_ring_elastomers: Annotated[list[ElastomerName], Field(min_length=1, max_length=100)] | None = None
    """O-ring elastomers to choose from."""
    retentions: (
        Annotated[list[Literal["o_ring", "clamped_flange", "press_fit_case"]], Field(min_length=1, max_length=3)] | None
    ) = None
    """Ways to hold the seal in the bore to choose from."""


class SelectionRequest(CalculationRequest):
    """A duty: which designs would live there, in which order, and what would have to change for the others?"""

    duty: Duty
    """What the seal has to live with."""
    restrict: Restrictions = Restrictions()
    """What may be chosen."""
    aims: AimWeights = AimWeights()
    """What is wanted most."""
    limit: Annotated[int, Field(strict=True, ge=1, le=200, json_schema_extra={"format": "int32"}), INTEGRAL] = 10
    """How many passing designs to list."""
    near_miss_limit: Annotated[
        int, Field(strict=True, ge=0, le=50, json_schema_extra={"format": "int32"}), INTEGRAL
    ] = 5
    """How many near misses to list."""


class AimScores(ResultModel):
    """Scores of a design by aim, 0 worst to 1 best."""

    margin: Number
    """One less the utilization of its worst criterion."""
    friction: Number
    """Least torque of all passing designs over its own."""
    life: Number
    """Its nominal life between the least and the ample life of the rules, by the logarithm; 0 where the life is not known."""
    simplicity: Number
    """One over one plus its effort."""
    practice: Number
    """How usual its family is at this pressure, speed and temperature."""
    evidence: Number
    """Share of its rated capacities that rest on more than an estimate."""


class RankedDesign(ResultModel):
    """A design that passes."""

    rank: Count
    """Place in the list."""
    score: Number
    """Weighted mean of the scores, less the share of each material that is not known to stand the fluid."""
    scores: AimScores
    """Score by aim."""
    design: dict[str, Any]
    """The design, ready to be sent to any other operation."""
    title: str
    """The design in words."""
    verdict: Status
    """`pass`, or `caution` when a criterion is close to its limit or not evaluated."""
    governing: Governing
    """The criterion that decides."""
    torque: q.WrittenTorque | None
    """Nominal friction torque."""
    wear_per_1000_h: q.WrittenLength | None
    """Radial wear in 1000 h of running, nominal, at the load of the start; null where it is not known."""
    life: q.WrittenTime | None
    """Nominal running time to the wear allowance; at most the longest life that is
    estimated; null where nothing wears, the load is lost before, or it is not known."""
    reason: str
    """Why it stands at this place."""


class SmallestChange(ResultModel):
    """The smallest change that makes a design pass."""

    kind: Literal["design", "duty"]
    """Whether the design or the duty (or hardware) has to change."""
    title: str
    """The change in words."""
    design: dict[str, Any]
    """Design fields to set; empty for a change of the duty."""
    verdict: Status
    """Verdict with the change, evaluated."""


class NearMiss(ResultModel):
    """A design that fails by little."""

    design: dict[str, Any]
    """The design, ready to be sent to any other operation."""
    title: str
    """The design in words."""
    failing: list[str]
    """Criteria it fails."""
    governing: Governing
    """The criterion it fails by most."""
    change: SmallestChange | None
    """The smallest change that makes it pass; null when none was found."""


class GoverningCount(ResultModel):
    """How many designs a criterion stops."""

    criterion: str
    """Identifier of the criterion."""
    title: str
    """The criterion in words."""
    governs: Count
    """Designs that fail and are governed by it."""
    fails: Count
    """Designs that fail it, governed by it or not."""


class Obstacle(ResultModel):
    """What in the duty stands in the way when nothing passes."""

    criterion: str
    """Identifier of the criterion."""
    title: str
    """The criterion in words."""
    fails: Count
    """Designs that fail it."""
    best_utilization: Number | None
    """Lowest utilization any design reaches; null for a criterion without a number."""
    reason: str
    """By how much, in words."""


class SelectionCounts(ResultModel):
    """How the designs fare."""

    evaluated: Count
    """Designs evaluated."""
    passing: Count
    """Designs that pass with nothing to add."""
    with_caution: Count
    """Designs that pass with care: close to a limit, or a criterion not evaluated."""
    failing: Count
    """Designs that fail."""
    not_evaluated: Count
    """Designs of which nothing could be evaluated."""


class SelectionResult(Result):
    """Every coherent design judged, those that pass in order."""

    verdict: Status
    """Best verdict any design reaches."""
    summary: str
    """The selection in one sentence."""
    alternatives: list[Alternative]
    """Other kinds of seal that would do, or that are the sounder choice; empty where none is."""
    counts: SelectionCounts
    """How the designs fare."""
    ranked: list[RankedDesign]
    """Designs that pass, best first."""
    failures: list[GoverningCount]
    """What stops the others."""
    near_misses: list[NearMiss]
    """Designs that fail by little, with the smallest change that would make each pass."""
    obstacles: list[Obstacle]
    """When nothing passes: what in the duty stands in the way."""
    o_ring_elastomer: str | None
    """Elastomer chosen for the designs with an O-ring; null when they were excluded."""
    weights: AimScores
    """Weights used, adding up to 1."""
