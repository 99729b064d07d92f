"""Request and result of a recheck."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field

from glandwise.contract.base import Caution, Count, RequestModel, ResultModel, Stamp
from glandwise.contract.comparison import RuleChange


class RecheckRequest(RequestModel):
    """A stored result: does it still hold under today's rules and engine?"""

    operation: str
    """Operation that gave the result."""
    stored_request: Annotated[dict[str, Any], Field(max_length=50)]
    """The request as it was sent."""
    stored_result: Annotated[dict[str, Any], Field(max_length=100)]
    """The answer as it was stored, whole or in part, with its stamp. Only what is there is compared; of the stamp, the
    fingerprint is enough."""
    pin_date: Annotated[bool, Field(strict=True)] = False
    """Keep the date of the stored rules, to verify the old answer rather than to judge anew."""
    detail: Literal["full", "differences"] = "full"
    """`differences` leaves out the answer now: whether it is the same, and what differs."""


class Difference(ResultModel):
    """A value of the answer that differs."""

    pointer: str
    """JSON pointer into the answer."""
    before: Any
    """Stored value; null for an entry that a stored list did not have."""
    after: Any
    """Value now; null when it is not there any more."""


class RecheckedRuleChange(RuleChange):
    """A rule value that differs between then and now, and what it does to this answer."""

    moves: Count | None
    """Values of the answer now that would be others if this change alone were taken back; null where that cannot be told:
    the value of then cannot stand among the others of now, or more than 40 values changed."""
    pointers: list[str]
    """JSON pointers to them in the answer now, at most 20."""
    verdict_without: str | None
    """Verdict if this change alone were taken back; null where that cannot be told, or an answer has no verdict."""


class RecheckResult(ResultModel):
    """Whether a stored result still holds, and what changed and why."""

    same: bool
    """Whether all that was stored besides stamps is the same; with a stamp alone, whether its fingerprint matches."""
    verdict_before: str | None
    """Stored verdict; null where none was stored."""
    verdict_after: str | None
    """Verdict now."""
    fingerprint_matches: bool
    """Whether the same question was put to the same rules and engine."""
    stamp_holds: bool | None
    """Whether the stored fingerprint is that of the stored request under the engine and rules which the stamp names;
    null where that cannot be told: the stamp names neither, or another engine."""
    engine_changed: bool | None
    """Whether the engine is another, by its version or by its formulas; null where the stored stamp does not tell."""
    rules_changed: bool | None
    """Whether the rules differ, by content or by date; null where the stored stamp does not tell."""
    summary: str
    """The recheck in one sentence."""
    differences: list[Difference]
    """What differs, at most 500 values."""
    difference_count: Count
    """How many values differ."""
    rule_changes: list[RecheckedRuleChange]
    """Rule values that differ between then and now, where the rules of then are still held."""
    rules_of_then_held: bool
    """Whether the rules of the stored result are held, among the rule sets or in the archive, so that what changed in them can be told."""
    result: dict[str, Any] | None
    """The answer now; null where only the differences were asked for."""
    question: str
    """The question now, as the text of which the fingerprint of the stamp is the SHA-256 (in UTF-8): operation, request in SI
    with defaults filled in, digest and date of the rules, engine."""
    stamp: Stamp
    """Stamp of the answer now."""
    cautions: list[Caution]
    """Warnings that apply."""
