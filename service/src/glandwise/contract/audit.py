"""Request and result of an audit of a rule set."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any, Literal

from pydantic import Field

from glandwise.contract.base import (
    INTEGRAL,
    Caution,
    Count,
    RequestModel,
    ResultModel,
    RuleSetStamp,
    Stamp,
    WrittenDate,
)
from glandwise.contract.comparison import CandidateRuleSet, NamedRuleSet


class RuleSetAuditRequest(RequestModel):
    """A rule set: do the laws hold that must hold for any sane one?"""

    base: NamedRuleSet
    """Rule set a patch applies to; the one audited when no candidate is given."""
    candidate: CandidateRuleSet | None = None
    """Rule set to audit in place of the base."""
    from_date: WrittenDate | None = None
    """First date looked at, the current one (UTC) when absent: the laws are held on it and on every later date on which the
    rule set changes, and on the `as_of` of the rule set where given."""
    samples: Annotated[int, Field(strict=True, ge=64, le=16384, json_schema_extra={"format": "int32"}), INTEGRAL] = 2048
    """Points sampled over the envelope, rounded up to a power of two."""
    seed: Annotated[int, Field(strict=True, ge=0, le=2**31 - 1, json_schema_extra={"format": "int32"}), INTEGRAL] = 1
    """Seed of the scrambled Sobol sequence."""


class Counterexample(ResultModel):
    """A case in which a law does not hold, made as plain as it can be."""

    text: str
    """What is wrong, in words."""
    keys: list[str]
    """Rule values concerned, where they are known."""
    case: dict[str, Any]
    """The case, as a flat row in SI units; empty for a law read off the data."""
    changed: dict[str, Any]
    """The numbers that grow more demanding, from and to, in SI units; empty for a law read off the data."""
    as_of: date
    """Date on which the law does not hold."""


class LawResult(ResultModel):
    """A law and whether it holds."""

    id: str
    """Identifier of the law."""
    title: str
    """The law in words."""
    statement: str
    """What must hold."""
    status: Literal["pass", "fail"]
    """Whether it holds everywhere it was looked at."""
    checked: Count
    """Places looked at."""
    breaches: Count
    """Places where it does not hold."""
    counterexamples: list[Counterexample]
    """Up to five of them, the plainest first."""


class RuleSetAuditResult(ResultModel):
    """Laws and whether they hold."""

    verdict: Literal["pass", "fail"]
    """`pass` when every law holds."""
    summary: str
    """The audit in one sentence."""
    rule_set: RuleSetStamp
    """Rule set audited, on the first of the dates."""
    from_date: date
    """First date asked for."""
    dates: list[date]
    """Dates looked at."""
    laws: list[LawResult]
    """Every law."""
    stamp: Stamp
    """Engine, base rule set and fingerprint."""
    cautions: list[Caution]
    """Warnings that apply."""
