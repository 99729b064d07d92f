"""What a file of duties holds: invented duties of one trade, each with a request and what an engineer expects."""

from __future__ import annotations

import tomllib
from datetime import date
from functools import cache
from pathlib import Path
from typing import Annotated, Any, Literal, TypeAlias

from pydantic import BaseModel, ConfigDict, Field, model_validator

FOLDER = Path(__file__).parent
NOT_YET = FOLDER / "not_yet.toml"

TRADES = (
    "gearbox", "electric_motor", "pressure_washer", "rotary_union", "compressor", "blower", "water_pump", "chemical_pump",
    "cryogenic_pump", "food", "agitator", "machine_tool", "robot_joint", "valve_stem", "steam_joint", "engine",
    "heavy_shaft", "vacuum",
)  # fmt: skip
"""Trades that must be covered, one file each."""

Text: TypeAlias = Annotated[str, Field(min_length=10)]
Verdict: TypeAlias = Literal["pass", "caution", "fail"]
Requirement: TypeAlias = Literal[
    "throat_fit", "gap", "back_up_ring", "hardness", "finish", "lead", "coating", "shaft_guidance", "flange",
    "second_barrier", "purge", "food_declaration",
]  # fmt: skip
Alternative: TypeAlias = Literal["elastomer_lip", "mechanical_face_seal", "packing", "labyrinth"]


class Strict(BaseModel):
    """Nothing that is not known."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class Band(Strict):
    """Between which ends a number is expected, and why."""

    low: float | None = None
    high: float | None = None
    unit: str
    basis: Annotated[str, Field(min_length=30)]

    @model_validator(mode="after")
    def _can_fail(self) -> Band:
        if self.low is None and self.high is None:
            raise ValueError("a band without an end cannot fail")
        if self.low is not None and self.high is not None and not self.low < self.high:
            raise ValueError("the ends are not in order")
        return self


class Expectation(Strict):
    """What an engineer expects of the answer."""

    verdict: Annotated[list[Verdict], Field(min_length=1, max_length=2)]
    stopped_by: list[str] = []
    families: list[Literal["flexible_lip", "energized_lip"]] = []
    compounds: list[str] = []
    not_compounds: list[str] = []
    options: dict[str, list[str]] = {}
    not_options: dict[str, list[str]] = {}
    requirements: list[Requirement] = []
    alternatives: list[Alternative] = []
    not_alternatives: list[Alternative] = []
    torque: Band | None = None
    contact_temperature: Band | None = None
    contact_pressure: Band | None = None
    line_load: Band | None = None
    life: Band | None = None
    life_probability: Band | None = None

    @model_validator(mode="after")
    def _goes_together(self) -> Expectation:
        if self.stopped_by and "fail" not in self.verdict:
            raise ValueError("nothing stops a seal that does not fail")
        if set(self.alternatives) & set(self.not_alternatives):
            raise ValueError("an alternative is both wanted and not wanted")
        return self


class Change(Strict):
    """An expectation that was changed after it was first written."""

    date: date
    what: Text
    why: Text


class Duty(Strict):
    """An invented duty."""

    id: Annotated[str, Field(pattern=r"^[a-z0-9]+(_[a-z0-9]+)+$")]
    title: Text
    reason: Annotated[str, Field(min_length=60)]
    changed: list[Change]
    request: dict[str, Any]
    expect: Expectation


class Apart(Strict):
    """A duty whose answer does not agree with its expectation yet."""

    disagrees: Annotated[list[str], Field(min_length=1)]
    """Items that do not agree."""
    signed: bool
    """Whether an engineer would sign the answer all the same."""
    why: Annotated[str, Field(min_length=40)]
    """Why the two differ, and by how much."""


class DutyFile(Strict):
    """The duties of a trade."""

    trade: str
    invented: Literal[True]
    duty: Annotated[list[Duty], Field(min_length=3)]


@cache
def files() -> tuple[DutyFile, ...]:
    """Every file of duties, in the order of the trades."""
    return tuple(
        DutyFile.model_validate(tomllib.loads((FOLDER / f"{trade}.toml").read_text(encoding="utf-8")))
        for trade in TRADES
    )


@cache
def not_yet() -> dict[str, Apart]:
    """Duties that do not agree yet, by their id."""
    found = tomllib.loads(NOT_YET.read_text(encoding="utf-8"))
    return {name: Apart.model_validate(entry) for name, entry in found.items()}
