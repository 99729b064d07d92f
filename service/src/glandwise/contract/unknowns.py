"""What to ask back, and how sure a verdict is without the answers."""

from __future__ import annotations

from typing import Literal

from glandwise.contract.base import Evidence, Number, ResultModel, Status
from glandwise.contract.quantities import AnyQuantity


class Turning(ResultModel):
    """A criterion that a verdict turns on."""

    id: str
    """Identifier of the criterion."""
    title: str
    """The criterion in words."""
    share: Number
    """Share of the plausible cases in which the verdict is worse and this criterion decides."""


class Question(ResultModel):
    """Something to ask the customer: it is not stated, or stated with a range, and what it is could change a verdict: that of the
    envelope and, in an enquiry, of gland or thermal fit."""

    id: Literal[
        "runout", "offset", "shaft_hardness", "shaft_roughness", "minimum_temperature", "maximum_temperature", "target_life",
        "machining_lead", "contaminants", "lubrication", "shaft_diameter", "rotational_speed", "surface_speed", "half_amplitude",
        "frequency", "pressure", "normal_temperature", "lip_thickness", "lip_length", "interference", "contact_width", "bore_angle",
        "spring_place", "throat_diameter", "housing_outer_diameter", "bore_diameter", "bore_tolerance", "shaft_material",
        "housing_material",
    ]  # fmt: skip
    """Stable identifier."""
    field: str
    """JSON pointer of the field of the request that takes the answer."""
    text: str
    """The question in words, for the customer."""
    reason: str
    """Within what the verdict stands with this design, what turns it beyond, and what would help there."""
    parts: list[Literal["envelope", "gland", "thermal_fit"]]
    """Parts whose verdict an answer may change; of an envelope check, the envelope."""
    holds_from: AnyQuantity | None
    """Least value with which no verdict of these parts is worse than told, of a size with tolerances the upper limit; null where
    it holds from the least that is plausible, of a choice, and where no plausible value keeps it."""
    holds_to: AnyQuantity | None
    """Greatest such value; null where it holds up to the greatest that is plausible, of a choice, and where none keeps it."""
    holds_for: list[str] | None
    """Choices with which no verdict of these parts is worse than told; null of a number."""
    turns: Number
    """Share of what is plausible that makes one of these verdicts worse, by which questions are ranked; 0 where an answer could only make
    it better."""
    worst: Status
    """Worst verdict of these parts together that a plausible answer brings."""
    best: Status
    """Best verdict of these parts together that a plausible answer brings."""
    evidence: Evidence | None
    """The weakest evidence of what is taken as plausible."""
    sources: list[str]
    """Identifiers of the sources of that."""


class SpreadOf(ResultModel):
    """How a number spreads over the cases."""

    low: AnyQuantity | None
    """End below which (1 - share)/2 of the cases lie; null where it could be worked out in no case."""
    median: AnyQuantity | None
    """Half of the cases lie below."""
    high: AnyQuantity | None
    """End above which (1 - share)/2 of the cases lie."""
    known: Number
    """Share of the cases in which it could be worked out; the others are not counted in."""


class UncertaintySpread(ResultModel):
    """How life, torque and contact temperature spread over the cases: each by its nominal value there, so that what friction and
    wear scatter in one and the same case comes on top."""

    text: str
    """In words."""
    share: Number
    """Share of the cases between low and high."""
    life: SpreadOf
    """Median life, none longer than the longest that is estimated."""
    torque: SpreadOf
    """Friction torque after running in."""
    contact_temperature: SpreadOf
    """Temperature of the contact after running in."""


class Confidence(ResultModel):
    """How the verdict of the envelope stands over what is plausible where the request does not say, and over what is stated with a
    range, whose values count all alike. Gland and thermal fit are not judged over these cases."""

    text: str
    """In words: in how many of the plausible cases it holds, and what it turns on."""
    holds: Number
    """Share of the plausible cases in which the verdict is no worse than told."""
    lives: Number
    """Share of them in which no criterion fails."""
    cases: int
    """How many cases were evaluated, spread evenly over all that is not stated, or stated with a range, at once."""
    turns_on: list[Turning]
    """Criteria that make it worse, the one that does so most often first."""
    spread: UncertaintySpread | None = None
    """How life, torque and contact temperature spread over these cases; null where nothing is stated with a range."""
