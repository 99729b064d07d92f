"""Request and result of an assessment of a duty spectrum."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from glandwise.contract import quantities as q
from glandwise.contract.base import (
    CalculationRequest,
    Governing,
    Name,
    Number,
    RequestModel,
    Result,
    ResultModel,
    Status,
)
from glandwise.contract.design import Design
from glandwise.contract.duty import Duty, Motion, Temperatures, one_target
from glandwise.contract.running import HeatSurroundings, LifeRange, WearRange

Starts = Annotated[
    float, Field(strict=True, ge=0.0, le=3600.0, allow_inf_nan=False, json_schema_extra={"format": "double"})
]
ROUNDING = 1e-9
"""Shares written in decimals may add up to a little more than one."""


class Phase(RequestModel):
    """A part of the service with its own motion, pressure and temperature."""

    name: Name | None = None
    """Name by which the answer calls the phase; its number, from 1, when absent."""
    share: q.Share
    """Share of calendar time; 0 for a rare event that is to be judged but wears nothing."""
    motion: Motion | None = None
    """How the shaft moves; as in the duty when absent."""
    pressure: q.GaugePressure | None = None
    """Fluid pressure less the pressure on the air side; as in the duty when absent."""
    temperature: Temperatures | None = None
    """Temperature of the fluid; as in the duty when absent."""
    starts_per_hour: Starts = 0.0
    """Starts from standstill in each hour of the phase."""


class SpectrumRequest(CalculationRequest):
    """A duty of several phases and a design: does the seal live in each, and how long altogether?"""

    duty: Duty
    """What holds in every phase; a phase's own motion, pressure and temperature take the place of these."""
    design: Design
    """Which seal is asked about."""
    phases: Annotated[list[Phase], Field(min_length=1, max_length=100)]
    """Phases; what their shares leave of the time is standstill without wear and heat."""
    surroundings: HeatSurroundings = HeatSurroundings()
    """What carries the heat away."""
    wear_allowance: q.SmallLength | None = None
    """Radial wear at which the seal is taken as worn out; by the rules when absent."""
    target_life: q.Duration | None = None
    """Life wanted, as calendar time; another place for that of the duty."""

    @model_validator(mode="after")
    def _phases_stand_together(self) -> SpectrumRequest:
        if sum(phase.share for phase in self.phases) > 1.0 + ROUNDING:
            raise PydanticCustomError(
                "out_of_domain", "the phases take more than all of the time",
                {"fields": ("phases",), "accepted": "shares that add up to at most 1"},
            )  # fmt: skip
        names = [phase.name for phase in self.phases if phase.name is not None]
        if len(set(names)) < len(names):
            raise PydanticCustomError(
                "out_of_domain", "two phases have the same name",
                {"fields": ("phases",), "accepted": "names that differ"},
            )  # fmt: skip
        return self

    @model_validator(mode="after")
    def _one_target(self) -> SpectrumRequest:
        one_target(self)
        return self


class PhaseCriterion(ResultModel):
    """A criterion in one phase."""

    id: str
    """Identifier of the criterion."""
    status: Status
    """Its status."""
    utilization: Number | None
    """Share of the capacity that is used; null for a criterion without a number."""


class PhaseResult(ResultModel):
    """How the seal fares in one phase."""

    name: str
    """Name of the phase."""
    share: Number
    """Share of calendar time."""
    verdict: Status
    """Verdict of the envelope check of the phase."""
    governing: Governing
    """The criterion that decides it."""
    criteria: list[PhaseCriterion]
    """Every criterion, in a fixed order."""
    surface_speed: q.WrittenSurfaceSpeed
    """Mean surface speed."""
    contact_temperature: q.WrittenTemperature | None
    """Temperature where the main lip rubs, with nominal friction; null without a balance of heat."""
    mean_contact_pressure: q.WrittenStress | None
    """Contact pressure of the running lip; null without a balance of heat."""
    torque: q.WrittenTorque | None
    """Friction torque, nominal; null without a balance of heat."""
    power: q.WrittenPower | None
    """Frictional heat, nominal; null without a balance of heat."""
    wear_share: Number | None
    """Share of this phase in the wear; null when nothing wears or the wear is not known."""


class SpectrumCriterion(ResultModel):
    """A criterion over the whole duty, by its worst phase."""

    id: str
    """Identifier of the criterion."""
    title: str
    """The criterion in words."""
    status: Status
    """Status in the worst phase; `not_evaluated` only where no phase could be evaluated."""
    utilization: Number | None
    """Utilization in the worst phase; null for a criterion without a number."""
    phase: str
    """Name of the worst phase; the first of those that are equally bad."""


class PowerRange(ResultModel):
    """Power as a range."""

    low: q.WrittenPower | None
    """Relaxed lip, low friction; null where a phase has no balance of heat."""
    nominal: q.WrittenPower | None
    """After a day, nominal friction; null where a phase has no balance of heat."""
    high: q.WrittenPower | None
    """New lip, high friction; null where a phase has no balance of heat."""


class Cycles(ResultModel):
    """How often the seal starts, and what each start swings through. No damage is computed from it."""

    starts_per_1000_h: Number
    """Starts in 1000 h of calendar time."""
    starts_in_life: Number | None
    """Starts in the nominal life; null when that is not known."""
    temperature_swing: q.WrittenTemperatureDifference | None
    """Greatest rise of the contact over the fluid among phases with starts; null when there is none or it is not known."""
    pressure_swing: q.WrittenGaugePressure | None
    """Greatest pressure, either way, among phases with starts, for a pressure that comes and goes with them; null when there is none."""
    phase_pressure_range: q.WrittenGaugePressure
    """Greatest less least pressure of all phases."""
    note: str
    """What follows from the count, and what does not."""


class SpectrumResult(Result):
    """A duty of several phases, judged phase by phase and altogether."""

    verdict: Status
    """The worst of all phases and of the life; without a target a short life makes it `caution`."""
    summary: str
    """The verdict in one sentence."""
    governing: Governing
    """The criterion that decides among all phases."""
    governing_phase: str
    """The phase in which it does."""
    criteria: list[SpectrumCriterion]
    """Every criterion by its worst phase."""
    phases: list[PhaseResult]
    """Each phase, in the order of the request."""
    rest_share: Number
    """Share of time that the phases leave for standstill."""
    mean_power: PowerRange
    """Frictional heat averaged over all time, standstill included."""
    mean_torque: q.WrittenTorque | None
    """Nominal friction torque averaged over the time of the phases; null where one is not known, or all shares are 0."""
    greatest_torque: q.WrittenTorque | None
    """Greatest torque of a running lip, new and with high friction; null where one is not known."""
    sliding_distance_per_1000_h: q.WrittenLength
    """Sliding distance in 1000 h of calendar time."""
    wear_allowance: q.WrittenLength
    """Radial wear at which the seal is taken as worn out."""
    allowance_by: str
    """What ends the life in the phase that uses most of it."""
    target_life: q.WrittenTime
    """Life that is wanted, as calendar time."""
    target_stated: bool
    """Whether the request states it; else it is that of the rules for the machine."""
    life_probability: Number | None
    """Probability that the target is reached; null when it is not known."""
    wear_per_1000_h: WearRange | None
    """Radial wear in the first 1000 h of calendar time; null when it is not known."""
    life: LifeRange | None
    """Calendar time to the end of life; null when it is not known."""
    life_verdict: Status
    """By the probability that the target is reached: one that was stated fails below 0.05; below 0.5 it is a caution."""
    life_reason: str
    """The life in one sentence."""
    cycles: Cycles
    """Starts and swings."""
    notes: list[str]
    """What the assessment takes for granted."""
