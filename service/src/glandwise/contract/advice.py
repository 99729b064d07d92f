"""Advice beside a verdict: other kinds of seal, and what the drawing of the hardware has to say."""

from __future__ import annotations

from typing import Literal

from glandwise.contract.base import Evidence, ResultModel
from glandwise.contract.quantities import AnyQuantity


class Alternative(ResultModel):
    """Another kind of seal that would do for the duty, or that is the sounder choice."""

    id: Literal["elastomer_lip", "mechanical_face_seal", "packing", "labyrinth"]
    """Stable identifier of the kind."""
    title: str
    """The kind in words."""
    verdict: Literal["would_do", "sounder"]
    """`would_do`: it does as well, for less or as is usual; `sounder`: it is the sounder choice."""
    reason: str
    """Why, with the numbers of the duty and the limits."""
    evidence: Evidence | None
    """The weakest evidence it rests on."""
    sources: list[str]
    """Identifiers of the sources of the rule values used."""


class Expectation(ResultModel):
    """What to expect of the seal in running, beside the verdict."""

    id: Literal[
        "start_torque", "dry_run", "leakage_drop_tight", "leakage_weeping", "leakage_open", "leakage_gas"
    ]  # fmt: skip
    """Stable identifier; of leakage the class."""
    text: str
    """What to expect, with its numbers."""
    value: AnyQuantity | None
    """The number that it turns on; null where it has none. Leakage has none: it is a class."""
    reason: str
    """Why."""
    evidence: Evidence | None
    """The weakest evidence it rests on."""
    sources: list[str]
    """Identifiers of the sources of the rule values used."""


class Requirement(ResultModel):
    """What has to stand on the drawing of the hardware for the verdict to hold."""

    id: Literal[
        "throat_fit", "gap", "housing",
        "back_up_ring", "hardness", "coating", "finish", "lead", "chamfer", "shaft_guidance", "flange",
        "second_barrier", "purge", "quench", "food_declaration", "pressure_limits", "retention", "fitting", "air_side",
    ]  # fmt: skip
    """Stable identifier."""
    text: str
    """What is required, with its numbers."""
    value: AnyQuantity | None
    """The number that it turns on; null where it has none."""
    reason: str
    """Why."""
    evidence: Evidence | None
    """The weakest evidence it rests on."""
    sources: list[str]
    """Identifiers of the sources of the rule values used."""
