"""Request and result of runout allowances."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from glandwise.contract import quantities as q
from glandwise.contract.base import CalculationRequest, Number, Result, ResultModel, Status
from glandwise.contract.design import Design
from glandwise.contract.duty import Duty


class RunoutAllowanceRequest(CalculationRequest):
    """A duty, a design and speeds: how much dynamic runout does the lip follow?"""

    duty: Duty
    """What the seal has to live with; its motion gives the speed at which a stated runout is judged."""
    design: Design
    """Which seal is asked about."""
    rotational_speeds: Annotated[list[q.RotationalSpeed], Field(min_length=1, max_length=1000)] | None = None
    """Speeds of the curve; 25 speeds up to the rated surface speed (or the duty's, if higher) when absent."""
    service_time: q.Duration | None = None
    """Time under load after which the relaxed lip is judged; that of the rule set when absent."""


class RunoutPoint(ResultModel):
    """Allowance at one speed."""

    rotational_speed: q.WrittenRotationalSpeed
    """Rotational speed."""
    surface_speed: q.WrittenSurfaceSpeed
    """Surface speed."""
    allowed_runout: q.WrittenLength
    """Allowed dynamic runout, total indicator reading: the lesser of the two below."""
    followed_runout: q.WrittenLength
    """What the lip follows by the mechanics."""
    rated_runout: q.WrittenLength | None
    """Rated cap; null where the rules have none."""
    governs: Literal["recovery", "inertia", "rated_cap"]
    """What sets the allowance."""
    allowed_with_offset: q.WrittenLength | None
    """Allowed runout that is left with the stated shaft-to-bore offset; null when none is stated."""


class RunoutAllowanceResult(Result):
    """Allowed runout by speed."""

    verdict: Status
    """Verdict on the stated runout at the speed of the duty; `not_evaluated` when no runout is stated."""
    summary: str
    """The verdict in one sentence."""
    at_duty: RunoutPoint
    """Allowance at the speed of the duty."""
    utilization: Number | None
    """Stated runout over the allowance at the speed of the duty, offset included; null when no runout is stated."""
    curve: list[RunoutPoint]
    """Allowance by speed."""
    preload: q.WrittenLineLoad
    """Contact load that holds the relaxed lip to the shaft."""
    dynamic_stiffness: q.WrittenLineStiffness
    """Greatest dynamic stiffness of the lip up to the speed of the duty."""
    relaxed_share: Number
    """Share of the lip's own load left after the service time."""
