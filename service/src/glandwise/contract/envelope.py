"""Request and result of an envelope check."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import model_validator
from pydantic_core import PydanticCustomError

from glandwise.contract import quantities as q
from glandwise.contract.base import (
    CalculationRequest,
    Criterion,
    Evidence,
    Governing,
    Number,
    Result,
    ResultModel,
    Stamp,
    Status,
    refuse_range,
)
from glandwise.contract.design import Design
from glandwise.contract.duty import Duty
from glandwise.contract.unknowns import Confidence, Question


class EnvelopeCheckRequest(CalculationRequest):
    """A duty and a design: would this seal live there?"""

    carries_ranges: ClassVar[bool] = True

    duty: Duty
    """What the seal has to live with."""
    design: Design
    """Which seal is asked about."""
    detail: Literal["full", "verdict"] = "full"
    """`verdict` leaves out all words, and so the cautions, which stand in the `full` answer; it is much quicker."""
    questions: q.Bool = False
    """Whether to say what to ask the customer back, and how sure the verdict is without the answers; how sure it is is told as
    well where something is stated with a range."""

    @model_validator(mode="after")
    def _questions_have_words(self) -> EnvelopeCheckRequest:
        if self.questions and self.detail == "verdict":
            raise PydanticCustomError(
                "out_of_domain", "a verdict alone asks nothing back",
                {"fields": ("questions",), "accepted": 'false, or detail "full"'},
            )  # fmt: skip
        return self

    @model_validator(mode="after")
    def _ranges_have_words(self) -> EnvelopeCheckRequest:
        if self.ranges and self.detail == "verdict":
            refuse_range(next(iter(self.ranges)), 'value and unit alone, or detail "full"')
        return self

    @model_validator(mode="after")
    def _working_has_words(self) -> EnvelopeCheckRequest:
        if self.working and self.detail == "verdict":
            raise PydanticCustomError(
                "out_of_domain", "a verdict alone has no working",
                {"fields": ("working",), "accepted": 'false, or detail "full"'},
            )  # fmt: skip
        return self


class EnvelopeCheckResult(Result):
    """Verdict with every criterion."""

    verdict: Status
    """The worst criterion; a pass with criteria that could not be evaluated is a `caution`."""
    summary: str
    """The verdict in one sentence."""
    governing: Governing
    """The criterion that decides."""
    criteria: list[Criterion]
    """Every criterion, in a fixed order."""
    questions: list[Question] | None
    """What to ask the customer back, the most important first; null where it was not asked for."""
    confidence: Confidence | None
    """How sure the verdict is without the answers; null where it was not asked for and nothing is stated with a range, or where
    everything is stated."""


class CriterionVerdict(ResultModel):
    """How one criterion came out."""

    id: str
    """Identifier of the criterion."""
    status: Status
    """Its status."""
    utilization: Number | None
    """Share of the capacity that is used: 1 is the limit. Null where there is none."""


class EnvelopeVerdict(ResultModel):
    """The answer of detail `verdict`: what it holds stands in the full answer by the same names, with the same values."""

    detail: Literal["verdict"]
    """Which detail this is."""
    verdict: Status
    """The worst criterion; a pass with criteria that could not be evaluated is a `caution`."""
    governing: CriterionVerdict
    """The criterion that decides."""
    criteria: list[CriterionVerdict]
    """Every criterion, in a fixed order."""
    evidence: Evidence | None
    """The weakest evidence the verdict rests on."""
    stamp: Stamp
    """Rule set, engine and fingerprint; those of the full answer."""
    notice: str
    """Where the cautions are that belong to the verdict."""
