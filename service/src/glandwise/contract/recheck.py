"""Request and result of a recheck."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field

from glandwise.contract.base import Caution, Count, RequestModel, ResultModel, Stamp
from glandwise.contract.comparison import RuleChange

StoredOperation = Literal[
    "check_envelope",
    "allow_runout",
    "estimate_energizer_load",
    "estimate_friction",
    "estimate_wear",
    "select_design",
    "check_gland",
    "check_thermal_fit",
    "map_operation",
    "assess_spectrum",
    "estimate_blank",
    "answer_enquiry",
]


class RecheckRequest(RequestModel):
    """A stored result: does it still hold under today's rules and engine?"""

    operation: StoredOperation
    """Operation that gave the result."""
    stored_request: Annotated[dict[str, Any], Field(max_length=50)]
    """The request as it was sent."""
    stored_result: Annotated[dict[str, Any], Field(max_length=100)]
    """The answer as it was stored, with its stamp."""
    pin_date: Annotated[bool, Field(strict=True)] = False
    """Keep the date of the stored rules, to verify the old answer rather than to judge anew."""


class Difference(ResultModel):
    """A value of the answer that differs."""

    pointer: str
    """JSON pointer into the answer."""
    before: Any
    """Stored value; null when it was not there."""
    after: Any
    """Value now; null when it is not there any more."""


class RecheckResult(ResultModel):
    """Whether a stored result still holds, and what changed and why."""

    same: bool
    """Whether the answer is the same but for its stamps."""
    verdict_before: str | None
    """Stored verdict; null where the stored answer has none."""
    verdict_after: str | None
    """Verdict now."""
    fingerprint_matches: bool
    """Whether the same question was put to the same rules and engine."""
    engine_changed: bool
    """Whether the engine's version differs."""
    rules_changed: bool
    """Whether the rules differ, by content or by date."""
    summary: str
    """The recheck in one sentence."""
    differences: list[Difference]
    """What differs, at most 500 values."""
    difference_count: Count
    """How many values differ."""
    rule_changes: list[RuleChange]
    """Rule values that differ between then and now, where the rules of then are still held."""
    rules_of_then_held: bool
    """Whether the rules of the stored result are held, so that what changed in them can be told."""
    result: dict[str, Any]
    """The answer now."""
    stamp: Stamp
    """Stamp of the answer now."""
    cautions: list[Caution]
    """Warnings that apply."""
