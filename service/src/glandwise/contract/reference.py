"""Results of the reference resources: rule sets, materials, fluids, designs, sources."""

from __future__ import annotations

from datetime import date
from typing import Any

from pydantic import RootModel

from glandwise.contract.base import Name, ResultModel, RuleSetStamp
from glandwise.rules.model import (
    Alloy,
    Approval,
    Capacity,
    Compound,
    CriterionRule,
    Elastomer,
    Fluid,
    Option,
    ShaftMaterial,
    Source,
)


class RuleSetSummary(ResultModel):
    """A rule set the service holds."""

    name: str
    """Name to give in `rule_set`."""
    version: str
    """Version of the set."""
    title: str
    """What it is."""
    description: str
    """What it rests on."""
    digest: str
    """SHA-256 of its canonical content."""
    extends: str | None
    """Rule set it extends."""
    default: bool
    """Whether requests that name none are judged by it."""
    dates: list[date]
    """Dates at which a value comes into force."""
    approved_by: Approval | None
    """Who approved it, and when; null where nobody is named."""


class RuleSetList(ResultModel):
    """All rule sets."""

    rule_sets: list[RuleSetSummary]
    """All rule sets, by name."""


class RuleSetDetail(RuleSetSummary):
    """A rule set with its criteria and sources."""

    criteria: dict[Name, CriterionRule]
    """Criteria of an envelope check."""
    sources: dict[str, Source]
    """Sources by identifier."""
    evidence_counts: dict[str, int]
    """How many values rest on each level of evidence."""


class CompoundList(ResultModel):
    """PTFE compounds."""

    rule_set: RuleSetStamp
    """Rule set they belong to."""
    compounds: dict[Name, Compound]
    """Compounds by name."""


class FluidMatch(ResultModel):
    """A fluid that may be meant by what was looked for."""

    name: Name
    """Name to give in `fluid`."""
    title: str
    """Name in words."""
    matched: str
    """The name of it that is like what was looked for."""
    likeness: float
    """How like, of 100."""


class FluidList(ResultModel):
    """Fluids with their compatibility."""

    rule_set: RuleSetStamp
    """Rule set they belong to."""
    fluids: dict[Name, Fluid]
    """Fluids by name; of a search, those that it found, the likeliest first."""
    matches: list[FluidMatch] | None
    """Which name was found of each, and how like it is; null without a search."""


class FluidDetail(ResultModel):
    """One fluid."""

    rule_set: RuleSetStamp
    """Rule set it belongs to."""
    name: Name
    """Name to give in `fluid`."""
    other_names: list[str]
    """Other names that it is found by; only `name` is taken in a request."""
    fluid: Fluid
    """What the rules hold of it."""


class AlloyList(ResultModel):
    """Energizer alloys."""

    rule_set: RuleSetStamp
    """Rule set they belong to."""
    alloys: dict[Name, Alloy]
    """Alloys by UNS number."""


class ElastomerList(ResultModel):
    """O-ring elastomers."""

    rule_set: RuleSetStamp
    """Rule set they belong to."""
    elastomers: dict[Name, Elastomer]
    """Elastomers by ISO 1629 symbol."""


class ShaftMaterialList(ResultModel):
    """Shaft and housing materials."""

    rule_set: RuleSetStamp
    """Rule set they belong to."""
    shaft_materials: dict[Name, ShaftMaterial]
    """Materials by name."""


class DesignList(ResultModel):
    """Options of the two families and their rated capacities."""

    rule_set: RuleSetStamp
    """Rule set they belong to."""
    options: list[Option]
    """Options of each family and what they are for."""
    capacities: dict[Name, Capacity]
    """Rated capacities and the features they hold for."""


class RuleSchema(RootModel[dict[str, Any]]):
    """A JSON Schema (draft 7) of a file of a rule set."""


class HealthPart(ResultModel):
    """State of one part of the service."""

    name: str
    """`rules`, `kernels` (machine code of the formulas), `workers` or `queue`."""
    state: str
    """`ok`; `busy` where what comes next is put off; what is missing otherwise."""
    detail: str
    """What there is of it."""


class Health(ResultModel):
    """State of the service."""

    status: str
    """`ok`, or what is missing."""
    engine: str
    """Version of the engine."""
    rule_sets: list[str]
    """Rule sets loaded."""
    digests: dict[str, str] | None = None
    """Digest of each rule set; where readiness is asked for."""
    parts: list[HealthPart] | None = None
    """State of each part; where readiness is asked for."""


class ProblemKind(ResultModel):
    """Explanation of a kind of problem."""

    type: str
    """Identifier used in problem documents."""
    title: str
    """The kind of problem in words."""
    status: int
    """HTTP status code it comes with."""
    explanation: str
    """What it means and what to do."""
