"""Request and result of an operating map."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Discriminator, Field, model_validator
from pydantic_core import PydanticCustomError

from glandwise.contract import quantities as q
from glandwise.contract.base import (
    INTEGRAL,
    CalculationRequest,
    Count,
    Governing,
    Number,
    RequestModel,
    Result,
    ResultModel,
    Status,
)
from glandwise.contract.design import Design
from glandwise.contract.duty import Duty
from glandwise.contract.quantities import AnyQuantity

Points = Annotated[int, Field(strict=True, ge=10, le=200, json_schema_extra={"format": "int32"}), INTEGRAL]


class _Axis(RequestModel):
    @model_validator(mode="after")
    def _ordered(self) -> _Axis:
        low, high = getattr(self, "low", None), getattr(self, "high", None)
        if low is not None and high is not None and low >= high:
            raise PydanticCustomError(
                "out_of_domain", "the range is empty", {"fields": ("high",), "accepted": "more than the lower end"}
            )
        return self


class PressureAxis(_Axis):
    """Sealed pressure."""

    kind: Literal["pressure"]
    """Field `/duty/pressure`."""
    low: q.GaugePressure | None = None
    """Lower end; zero, or for a vacuum duty beyond the rated vacuum, when absent."""
    high: q.GaugePressure | None = None
    """Upper end; a fifth beyond what passes at the mild end of the other axis when absent."""
    points: Points = 60
    """Points of the grid along this axis."""


class SurfaceSpeedAxis(_Axis):
    """Mean surface speed; of an oscillation, by way of its frequency."""

    kind: Literal["surface_speed"]
    """Field `/duty/motion`, by mean surface speed."""
    low: q.SurfaceSpeed | None = None
    """Lower end; zero when absent."""
    high: q.SurfaceSpeed | None = None
    """Upper end; a fifth beyond what passes at the mild end of the other axis when absent."""
    points: Points = 60
    """Points of the grid along this axis."""


class RotationalSpeedAxis(_Axis):
    """Rotational speed; not for an oscillation."""

    kind: Literal["rotational_speed"]
    """Field `/duty/motion`, by rotational speed."""
    low: q.RotationalSpeed | None = None
    """Lower end; zero when absent."""
    high: q.RotationalSpeed | None = None
    """Upper end; a fifth beyond what passes at the mild end of the other axis when absent."""
    points: Points = 60
    """Points of the grid along this axis."""


class FrequencyAxis(_Axis):
    """Frequency of an oscillation, at the half-amplitude of the duty."""

    kind: Literal["frequency"]
    """Field `/duty/motion/frequency`."""
    low: q.Frequency | None = None
    """Lower end; zero when absent."""
    high: q.Frequency | None = None
    """Upper end; a fifth beyond what passes at the mild end of the other axis when absent."""
    points: Points = 60
    """Points of the grid along this axis."""


class MaximumTemperatureAxis(_Axis):
    """Highest temperature of the fluid; the normal and the lowest one stay those of the duty."""

    kind: Literal["maximum_temperature"]
    """Field `/duty/temperature/maximum`."""
    low: q.Temperature | None = None
    """Lower end, at least the normal temperature of the duty; that when absent."""
    high: q.Temperature | None = None
    """Upper end; a fifth beyond what passes at the mild end of the other axis when absent."""
    points: Points = 60
    """Points of the grid along this axis."""


class RunoutAxis(_Axis):
    """Dynamic runout of the shaft, total indicator reading."""

    kind: Literal["runout"]
    """Field `/duty/runout`."""
    low: q.Clearance | None = None
    """Lower end; zero when absent."""
    high: q.Clearance | None = None
    """Upper end; a fifth beyond what passes at the mild end of the other axis when absent."""
    points: Points = 60
    """Points of the grid along this axis."""


Axis = Annotated[
    PressureAxis | SurfaceSpeedAxis | RotationalSpeedAxis | FrequencyAxis | MaximumTemperatureAxis | RunoutAxis,
    Discriminator("kind"),
]
SPEEDS = frozenset({"surface_speed", "rotational_speed", "frequency"})


class OperatingMapRequest(CalculationRequest):
    """A duty and a design: where over two of its numbers does the seal live, and what limits it where?"""

    duty: Duty
    """What the seal has to live with; what is not on an axis stays as it is."""
    design: Design
    """Which seal is asked about."""
    x: Axis = SurfaceSpeedAxis(kind="surface_speed")
    """Horizontal axis; the surface speed when absent."""
    y: Axis = PressureAxis(kind="pressure")
    """Vertical axis, another one; the pressure when absent."""

    @model_validator(mode="after")
    def _two_axes(self) -> OperatingMapRequest:
        if self.x.kind == self.y.kind or {self.x.kind, self.y.kind} <= SPEEDS:
            raise PydanticCustomError(
                "out_of_domain", "both axes are the same quantity",
                {"fields": ("y", "kind"), "accepted": "a quantity that does not follow from the other axis"},
            )  # fmt: skip
        return self


AxisKind = Literal["pressure", "surface_speed", "rotational_speed", "frequency", "maximum_temperature", "runout"]


class MapAxis(ResultModel):
    """One axis of the grid."""

    kind: AxisKind
    """What varies along it."""
    title: str
    """The same in words."""
    unit: str
    """Unit of the numbers."""
    values: list[Number]
    """Numbers of the grid, increasing."""


class MapCriterion(ResultModel):
    """A criterion to which the map refers by position."""

    id: str
    """Identifier of the criterion."""
    title: str
    """The criterion in words."""
    caution_at: Number
    """Utilization from which it turns from pass to caution."""


class LimitingCriterion(ResultModel):
    """A criterion that sets a limit."""

    id: str
    """Identifier of the criterion."""
    title: str
    """The criterion in words."""


class MapRegion(ResultModel):
    """One closed polygon round duties that do not fail; its last vertex joins its first.

    The vertices lie on the boundary, solved by bisection; between them the boundary is taken as straight. Polygons
    that lie in one another count by the even-odd rule.
    """

    x: list[Number]
    """Horizontal coordinates of the vertices, in the unit of the axis."""
    y: list[Number]
    """Vertical coordinates of the vertices, in the unit of the axis."""
    governing: list[Count | None]
    """For the side from each vertex to the next: position of the criterion that fails beyond it; null on the map's edge."""


class DutyPoint(ResultModel):
    """The duty of the request on the map."""

    x: Number | None
    """Horizontal coordinate, in the unit of the axis; null when the duty does not state it."""
    y: Number | None
    """Vertical coordinate, in the unit of the axis; null when the duty does not state it."""
    verdict: Status
    """Verdict of the envelope check of the duty."""
    governing: Governing
    """The criterion that decides it."""


class DutyLimit(ResultModel):
    """How far one number of the duty may go while all others stay as they are."""

    id: Literal[
        "greatest_speed",
        "greatest_pressure",
        "deepest_vacuum",
        "greatest_runout",
        "greatest_temperature",
        "least_temperature",
    ]
    """What is asked."""
    title: str
    """The same in words."""
    value: AnyQuantity | None
    """The last value that does not fail; null when no value passes."""
    surface_speed: q.WrittenSurfaceSpeed | None
    """For the greatest speed: the mean surface speed that goes with `value`; null otherwise."""
    bounded: bool
    """False when nothing fails up to the end of the range the service answers for; `value` is then that end."""
    governing: LimitingCriterion | None
    """The criterion that fails beyond; null when nothing does."""


class OperatingMapResult(Result):
    """Where the seal lives over two numbers of its duty, and what limits it where."""

    verdict: Status
    """Verdict of the duty as it stands."""
    summary: str
    """The verdict and the room to each side in one sentence."""
    x: MapAxis
    """Horizontal axis."""
    y: MapAxis
    """Vertical axis."""
    criteria: list[MapCriterion]
    """Criteria by position."""
    statuses: list[Status]
    """Statuses by code."""
    status: list[list[Count]]
    """Code of the verdict at each point of the grid: one row for each vertical value, of one entry for each horizontal one."""
    governing: list[list[Count]]
    """Position of the criterion that decides at each point of the grid, in the same order."""
    utilization: list[list[Number | None]]
    """Utilization of that criterion, to five digits, in the same order; null where it has no number."""
    region: list[MapRegion]
    """Where nothing fails; empty when something fails everywhere. Criteria that lack an input do not count."""
    duty_point: DutyPoint
    """The duty of the request on the map."""
    limits: list[DutyLimit]
    """How far each number of the duty may go by itself."""
