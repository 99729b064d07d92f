"""Request and result of gland checks."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Discriminator, Field, StringConstraints, model_validator
from pydantic_core import PydanticCustomError

from glandwise.contract import quantities as q
from glandwise.contract.base import (
    INTEGRAL,
    CalculationRequest,
    Count,
    Criterion,
    Governing,
    MaterialName,
    Number,
    RequestModel,
    Result,
    ResultModel,
    Status,
)
from glandwise.contract.design import Design
from glandwise.contract.duty import Duty
from glandwise.contract.energizer import TolerancedLength

Deviation = Annotated[float, q.Measured("length", "any", -0.02, 0.02)]


class Deviations(RequestModel):
    """Limit deviations from the nominal size."""

    kind: Literal["deviations"]
    """The deviations are given."""
    upper: Deviation
    """Upper limit deviation."""
    lower: Deviation
    """Lower limit deviation."""

    @model_validator(mode="after")
    def _ordered(self) -> Deviations:
        if self.upper < self.lower:
            raise PydanticCustomError(
                "out_of_domain", "the upper deviation lies below the lower one",
                {"fields": ("upper",), "accepted": "at least the lower deviation"},
            )  # fmt: skip
        return self


class ShaftClass(RequestModel):
    """Tolerance class of a shaft by ISO 286."""

    kind: Literal["class"]
    """The class is named."""
    name: Annotated[str, StringConstraints(pattern=r"^[a-z]{1,2}[0-9]{1,2}$")]
    """Letter and grade, such as `h11`."""


class BoreClass(RequestModel):
    """Tolerance class of a bore by ISO 286."""

    kind: Literal["class"]
    """The class is named."""
    name: Annotated[str, StringConstraints(pattern=r"^[A-Z]{1,2}[0-9]{1,2}$")]
    """Letter and grade, such as `H8`."""


ShaftTolerance = Annotated[ShaftClass | Deviations, Discriminator("kind")]
BoreTolerance = Annotated[BoreClass | Deviations, Discriminator("kind")]


class ORingByDash(RequestModel):
    """O-ring by its AS568 dash number (the same sections as ISO 3601-1)."""

    kind: Literal["as568"]
    """A size of the series."""
    dash: Annotated[int, Field(strict=True, ge=1, le=999, json_schema_extra={"format": "int32"}), INTEGRAL]
    """Dash number."""


class ORingByDimensions(RequestModel):
    """O-ring by its dimensions."""

    kind: Literal["dimensions"]
    """The dimensions are given."""
    inner_diameter: TolerancedLength
    """Inner diameter as made."""
    section: TolerancedLength
    """Section diameter as made."""

    @model_validator(mode="after")
    def _is_a_ring(self) -> ORingByDimensions:
        if self.section.nominal >= self.inner_diameter.nominal:
            raise PydanticCustomError(
                "out_of_domain", "the section is not smaller than the inner diameter",
                {"fields": ("section",), "accepted": "less than the inner diameter"},
            )  # fmt: skip
        return self


ORingSize = Annotated[ORingByDash | ORingByDimensions, Discriminator("kind")]


class Groove(RequestModel):
    """O-ring groove in the outside of the seal body."""

    diameter: TolerancedLength
    """Diameter of the groove bottom."""
    width: TolerancedLength
    """Width of the groove."""


class Clamp(RequestModel):
    """Clamped flange of the seal body."""

    force: q.Force | None = None
    """Axial clamp force; proposed when absent."""
    inner_diameter: q.BoreDiameter | None = None
    """Inner diameter of the clamped faces; by the rule set when absent."""
    outer_diameter: q.BoreDiameter | None = None
    """Outer diameter of the clamped faces; the bore when absent."""

    @model_validator(mode="after")
    def _is_a_ring(self) -> Clamp:
        if (
            self.inner_diameter is not None
            and self.outer_diameter is not None
            and self.inner_diameter >= self.outer_diameter
        ):
            raise PydanticCustomError(
                "out_of_domain", "the clamped face has no width",
                {"fields": ("inner_diameter",), "accepted": "less than the outer diameter"},
            )  # fmt: skip
        return self


class MetalCase(RequestModel):
    """Pressed-in metal case."""

    outer_diameter: TolerancedLength | None = None
    """Outside diameter of the case; bore plus the usual interference when absent."""
    wall_thickness: q.SmallLength | None = None
    """Wall thickness; by the rule set when absent."""
    length: q.AxialLength | None = None
    """Length of the fit; by the rule set when absent."""
    material: MaterialName | None = None
    """Name from `/v1/shaft-materials`; the rule set's usual one when absent."""
    yield_strength: q.Stress | None = None
    """Yield strength; that of the rule set when absent."""


class Gland(RequestModel):
    """The space the seal goes into and what holds it there; whatever is left out is proposed."""

    shaft_tolerance: ShaftTolerance | None = None
    """Tolerance of the shaft; the rule set's usual class when absent."""
    bore_tolerance: BoreTolerance | None = None
    """Tolerance of the bore; the rule set's usual class when absent."""
    seal_width: q.SmallLength | None = None
    """Axial width of the seal; by the series of nominal sizes when absent."""
    body_diameter: TolerancedLength | None = None
    """Outside diameter of the seal body; the bore less the usual clearance when absent."""
    o_ring: ORingSize | None = None
    """O-ring in the outer diameter; proposed when absent."""
    groove: Groove | None = None
    """Groove of that O-ring; proposed when absent."""
    clamp: Clamp | None = None
    """Clamped flange."""
    case: MetalCase | None = None
    """Pressed-in metal case."""
    heel_thickness: q.SmallLength | None = None
    """Axial thickness of the heel behind the lip; by the sizing rule when absent."""
    throat_diameter: TolerancedLength | None = None
    """Opening of the housing behind the seal, through which the shaft passes; by the rule set when absent."""
    housing_outer_diameter: Annotated[float, q.Measured("length", "positive", 1e-3, 10.0)] | None = None
    """Outside diameter of the housing about the seal; by the rule set when absent."""

    @model_validator(mode="after")
    def _groove_in_body(self) -> Gland:
        if (
            self.groove is not None
            and self.body_diameter is not None
            and self.groove.diameter.high >= self.body_diameter.low
        ):
            raise PydanticCustomError(
                "out_of_domain", "the groove is not in the body",
                {"fields": ("groove", "diameter"), "accepted": "less than the body diameter"},
            )  # fmt: skip
        return self


def check_gland_fits(duty: Duty, design: Design, gland: Gland) -> None:
    """Refuse a gland that contradicts its duty or its design."""
    for part, retention in (
        ("o_ring", "o_ring"),
        ("groove", "o_ring"),
        ("clamp", "clamped_flange"),
        ("case", "press_fit_case"),
    ):
        if getattr(gland, part) is not None and design.retention != retention:
            raise PydanticCustomError(
                "out_of_domain", "another retention is chosen in the design",
                {"fields": ("gland", part), "accepted": f"design/retention {retention}, or none of this"},
            )  # fmt: skip
    d, bore = duty.shaft_diameter, duty.bore.diameter
    if gland.throat_diameter is not None and gland.throat_diameter.low <= d:
        raise PydanticCustomError(
            "out_of_domain", "the shaft does not pass through the opening",
            {"fields": ("gland", "throat_diameter"), "accepted": "more than the shaft diameter"},
        )  # fmt: skip
    if bore is None:
        return
    for name, value, bad, accepted in (
        ("housing_outer_diameter", gland.housing_outer_diameter, lambda x: x <= bore, "more than the bore diameter"),
        ("throat_diameter", gland.throat_diameter, lambda x: x.high >= bore, "less than the bore diameter"),
        ("body_diameter", gland.body_diameter, lambda x: not d < x.nominal <= bore, "between shaft and bore diameter"),
        ("groove", gland.groove, lambda x: not d < x.diameter.low or x.diameter.high >= bore,
         "a bottom diameter between shaft and bore diameter"),
    ):  # fmt: skip
        if value is not None and bad(value):
            raise PydanticCustomError(
                "out_of_domain", "the dimension does not go with shaft and bore",
                {"fields": ("gland", name), "accepted": accepted},
            )  # fmt: skip


class GlandCheckRequest(CalculationRequest):
    """A duty, a design and a gland: does it fit, hold and stay put?"""

    duty: Duty
    """What the seal has to live with; its bore is proposed when absent."""
    design: Design
    """Which seal is asked about; its retention decides what holds it."""
    gland: Gland = Gland()
    """Dimensions of the gland as far as they are known."""

    @model_validator(mode="after")
    def _gland_fits(self) -> GlandCheckRequest:
        check_gland_fits(self.duty, self.design, self.gland)
        return self


class LimitsOfSize(ResultModel):
    """A size with its limits at 20 degC."""

    nominal: q.WrittenLength
    """Nominal size."""
    tolerance_class: str | None
    """Tolerance class by ISO 286; null where deviations were given."""
    upper_deviation: q.WrittenLength
    """Upper limit deviation."""
    lower_deviation: q.WrittenLength
    """Lower limit deviation."""
    maximum: q.WrittenLength
    """Upper limit of size."""
    minimum: q.WrittenLength
    """Lower limit of size."""


class ShaftLeadIn(ResultModel):
    """Lead-in chamfer of the shaft end."""

    reduction: q.WrittenLength
    """Reduction of the diameter over the chamfer."""
    small_diameter: q.WrittenLength
    """Diameter at the small end."""
    least_angle: q.WrittenAngle
    """Least angle to the axis."""
    greatest_angle: q.WrittenAngle
    """Greatest angle to the axis."""
    least_length: q.WrittenLength
    """Axial length at the greatest angle."""
    greatest_length: q.WrittenLength
    """Axial length at the least angle."""


class BoreShape(ResultModel):
    """Proportions of the housing bore."""

    least_depth: q.WrittenLength
    """Least depth."""
    least_chamfer: q.WrittenLength
    """Least axial length of the lead-in chamfer."""
    greatest_chamfer: q.WrittenLength
    """Greatest axial length of the lead-in chamfer."""
    greatest_corner_radius: q.WrittenLength
    """Greatest radius in the bottom corner."""
    least_roughness: q.WrittenRoughness
    """Least roughness Ra."""
    greatest_roughness: q.WrittenRoughness
    """Greatest roughness Ra."""


class ORingState(ResultModel):
    """The O-ring at one temperature and one end of the tolerances."""

    temperature: q.WrittenTemperature
    """Temperature of the whole assembly."""
    tolerances: Literal["nominal", "loosest", "tightest"]
    """Nominal dimensions, or the corner of all tolerances with the least or the most squeeze."""
    squeeze: q.WrittenLength
    """Squeeze of the section; negative when the ring does not touch."""
    squeeze_ratio: Number
    """Squeeze over the section as stretched."""
    stretch: Number
    """Stretch of the inner diameter on the groove."""
    fill: Number | None
    """Section area over gland area; null when the gland closes."""


class TolerancedSize(ResultModel):
    """A length with its limits."""

    nominal: q.WrittenLength
    """Nominal value."""
    maximum: q.WrittenLength
    """Greatest value."""
    minimum: q.WrittenLength
    """Least value."""


class ORingGlandResult(ResultModel):
    """O-ring and groove."""

    dash: Count | None
    """AS568 dash number; null for a ring by dimensions."""
    inner_diameter: TolerancedSize
    """Inner diameter of the ring."""
    section: TolerancedSize
    """Section diameter of the ring."""
    groove_diameter: TolerancedSize
    """Bottom diameter of the groove."""
    groove_width: TolerancedSize
    """Width of the groove."""
    ring_proposed: bool
    """True when the service chose the ring."""
    groove_proposed: bool
    """True when the service chose the groove."""
    states: list[ORingState]
    """At 20 degC and at the least, normal and greatest temperature: nominal, loosest, tightest."""


class PressFitState(ResultModel):
    """The pressed-in case at one temperature and one end of the tolerances."""

    temperature: q.WrittenTemperature
    """Temperature of the whole assembly."""
    tolerances: Literal["loosest", "tightest"]
    """End of the tolerances."""
    interference: q.WrittenLength
    """Diametral interference; negative when it is loose."""
    pressure: q.WrittenStress
    """Contact pressure by Lamé, not above what makes the case yield."""
    case_stress: q.WrittenStress
    """Hoop stress at the inside of the case by elastic theory, negative in compression."""
    bore_stress: q.WrittenStress
    """Hoop stress of the housing at the bore."""
    case_yields: bool
    """True when the elastic pressure would make the case yield."""


class PressFitResult(ResultModel):
    """Pressed-in case."""

    outer_diameter: TolerancedSize
    """Outside diameter of the case."""
    wall_thickness: q.WrittenLength
    """Wall thickness of the case."""
    length: q.WrittenLength
    """Length of the fit."""
    states: list[PressFitState]
    """At 20 degC and at the least, normal and greatest temperature."""


class ClampResult(ResultModel):
    """Clamped flange."""

    force: q.WrittenForce
    """Clamp force."""
    proposed: bool
    """True when the service proposed the force."""
    inner_diameter: q.WrittenLength
    """Inner diameter of the clamped faces."""
    outer_diameter: q.WrittenLength
    """Outer diameter of the clamped faces."""
    pressure: q.WrittenStress
    """Face pressure."""
    allowed_pressure: q.WrittenStress
    """Face pressure that the hot compound stands."""


class ExtrusionState(ResultModel):
    """The gap behind the seal at one temperature."""

    temperature: q.WrittenTemperature
    """Temperature of the whole assembly."""
    gap: q.WrittenLength
    """Greatest radial gap at the sealed pressure, tolerances at their worst."""
    allowed_gap: q.WrittenLength | None
    """Greatest gap the heel bridges at the sealed pressure; null where it is larger than the bore, or without pressure."""
    allowed_pressure: q.WrittenGaugePressure | None
    """Greatest pressure for the gap, which itself grows with pressure; null when the gap is closed."""
    surface_flow_pressure: q.WrittenGaugePressure
    """Pressure from which the surface of the heel flows into any gap, whatever its thickness."""


class HeelComparison(ResultModel):
    """What the heel is worth at the worst temperature."""

    heel: Literal["standard", "extended", "given"]
    """Heel of the sizing rule, or the thickness given."""
    thickness: q.WrittenLength
    """Axial thickness."""
    allowed_pressure: q.WrittenGaugePressure | None
    """Greatest pressure for the gap; null when the gap is closed."""


class ExtrusionResult(ResultModel):
    """Extrusion into the gap between shaft and housing behind the seal."""

    throat: TolerancedSize
    """Opening of the housing behind the seal."""
    heel_thickness: q.WrittenLength
    """Thickness of the part that bridges the gap."""
    eccentric: bool
    """True when no offset is stated and the shaft is taken to touch the opening on one side."""
    states: list[ExtrusionState]
    """At the least, normal and greatest temperature."""
    heels: list[HeelComparison]
    """What a standard and an extended heel stand; one entry where there is no choice."""


class RotationState(ResultModel):
    """Will the seal turn in its bore in this state?"""

    state: Literal["cold_start", "hot_running", "end_of_life_start"]
    """Start at the least temperature, running at the greatest, start at the least temperature after the service time."""
    pressure: q.WrittenGaugePressure
    """Sealed pressure: none, and that of the duty."""
    temperature: q.WrittenTemperature
    """Temperature of the assembly."""
    friction_coefficient: Number
    """Friction coefficient of the lips."""
    lip_torque: q.WrittenTorque
    """Torque of the lips on the seal."""
    holding_torque: q.WrittenTorque | None
    """Torque at which the seal turns; null where the model of the O-ring load does not reach."""
    margin: Number | None
    """Holding over lip torque; null where either is zero or not known."""


class RotationResult(ResultModel):
    """Holding torque against lip torque."""

    means: Literal["o_ring", "clamped_flange", "press_fit_case"]
    """What holds the seal."""
    margin_needed: Number
    """Margin asked for."""
    states: list[RotationState]
    """Every state looked at."""


class GlandCheckResult(Result):
    """Verdict on a gland, with its dimensions."""

    verdict: Status
    """The worst criterion; a pass with criteria that could not be evaluated is a `caution`."""
    summary: str
    """The verdict in one sentence."""
    governing: Governing
    """The criterion that decides."""
    criteria: list[Criterion]
    """Every criterion, in a fixed order."""
    shaft: LimitsOfSize
    """Limits of the shaft."""
    bore: LimitsOfSize
    """Limits of the bore."""
    body: LimitsOfSize
    """Limits of the outside diameter of the seal body."""
    seal_width: q.WrittenLength
    """Axial width of the seal."""
    shaft_lead_in: ShaftLeadIn | None
    """Lead-in chamfer of the shaft; null outside the table."""
    bore_shape: BoreShape | None
    """Depth, chamfer and corner of the bore; null outside the table."""
    o_ring: ORingGlandResult | None
    """O-ring and groove; null for another retention."""
    press_fit: PressFitResult | None
    """Pressed-in case; null for another retention."""
    clamp: ClampResult | None
    """Clamped flange; null for another retention."""
    extrusion: ExtrusionResult
    """Gap behind the seal."""
    rotation: RotationResult
    """Holding torque against lip torque."""
