"""Request and result of energizer loads."""

from __future__ import annotations

import math
from typing import Annotated, Literal

from pydantic import Discriminator, Field, model_validator
from pydantic_core import PydanticCustomError

from glandwise.contract import quantities as q
from glandwise.contract.base import (
    INTEGRAL,
    AlloyName,
    CalculationRequest,
    Count,
    ElastomerName,
    Number,
    RequestModel,
    Result,
    ResultModel,
    Status,
)


class TolerancedLength(RequestModel):
    """A length with its tolerances."""

    nominal: q.SmallLength
    """Nominal value."""
    plus: q.Tolerance | None = None
    """Upper deviation from the nominal; none when absent."""
    minus: q.Tolerance | None = None
    """Lower deviation from the nominal, as a positive length; none when absent."""

    @model_validator(mode="after")
    def _stays_positive(self) -> TolerancedLength:
        if self.minus is not None and self.minus >= self.nominal:
            raise PydanticCustomError(
                "out_of_domain", "the lower deviation leaves no length",
                {"fields": ("minus",), "accepted": "less than the nominal value"},
            )  # fmt: skip
        return self

    @property
    def low(self) -> float:
        """Least value."""
        return self.nominal - (self.minus or 0.0)

    @property
    def high(self) -> float:
        """Greatest value."""
        return self.nominal + (self.plus or 0.0)


class ByDeflection(RequestModel):
    """Compression by its amount."""

    kind: Literal["deflection"]
    """The deflection is given."""
    deflection: TolerancedLength
    """Deflection from the free state."""


class ByGland(RequestModel):
    """Compression by the free height and the gland it goes into."""

    kind: Literal["gland"]
    """Free height and gland are given."""
    free_height: TolerancedLength
    """Free height across which the energizer is compressed."""
    gland_height: TolerancedLength
    """Space it is compressed into."""

    @model_validator(mode="after")
    def _compresses(self) -> ByGland:
        if self.gland_height.nominal >= self.free_height.nominal:
            raise PydanticCustomError(
                "out_of_domain", "the gland does not compress the energizer",
                {"fields": ("gland_height",), "accepted": "less than the free height"},
            )  # fmt: skip
        return self


Compression = Annotated[ByDeflection | ByGland, Discriminator("kind")]


class _Metal(RequestModel):
    alloy: AlloyName | None = None
    """Alloy by its UNS number, from `/v1/alloys`; the rule set's usual one when absent."""
    elastic_modulus: q.Stress | None = None
    """Young's modulus at the temperature, in place of the alloy's."""
    poisson_ratio: Annotated[float, q.Measured("ratio", "positive", 0.0, 0.49)] | None = None
    """Poisson's ratio, in place of the alloy's."""
    yield_strength: q.Stress | None = None
    """Yield strength at the temperature, in place of the alloy's."""


class CantileverVEnergizer(_Metal):
    """V-shaped strip of separate fingers."""

    kind: Literal["cantilever_v"]
    """Cantilever V."""
    strip_thickness: TolerancedLength
    """Thickness of the strip."""
    finger_length: TolerancedLength
    """Free length of a finger."""
    root_angle: q.Angle
    """Half the opening angle of the free V; the model covers 1 to 60 degrees."""
    coverage: Annotated[float, q.Measured("ratio", "positive", 0.0, 1.0)]
    """Share of the circumference taken up by fingers."""
    plate_blend: q.Share | None = None
    """Share of the plate stiffening of wide fingers: 0 narrow strip, 1 anticlastic bending suppressed; 0 when absent."""
    compression: Compression
    """Closing of the V, both legs together."""

    @model_validator(mode="after")
    def _strip_is_slender(self) -> CantileverVEnergizer:
        if self.strip_thickness.high >= self.finger_length.low:
            raise PydanticCustomError(
                "out_of_domain", "the strip is thicker than its fingers are long",
                {"fields": ("strip_thickness",), "accepted": "less than the finger length"},
            )  # fmt: skip
        opening = 2.0 * self.finger_length.nominal * math.sin(self.root_angle)
        c = self.compression
        closing = (
            c.deflection.nominal if isinstance(c, ByDeflection) else c.free_height.nominal - c.gland_height.nominal
        )
        if closing >= opening:
            raise PydanticCustomError(
                "out_of_domain", "the deflection closes the V entirely",
                {"fields": ("compression",), "accepted": "less than the opening 2 L sin(root angle) of the free V"},
            )  # fmt: skip
        return self


class CantedCoilEnergizer(_Metal):
    """Closed wire coil whose turns lean, compressed across."""

    kind: Literal["canted_coil"]
    """Canted coil."""
    wire_diameter: TolerancedLength
    """Wire diameter."""
    coil_height: TolerancedLength
    """Overall height of the free coil."""
    coil_width: TolerancedLength
    """Overall width of the free coil."""
    pitch: TolerancedLength
    """Distance of turns along the circumference."""
    cant_angle: q.Angle
    """Angle by which the coil plane leans; the finite-deflection model covers 15 to 60 degrees."""
    compression: Compression
    """Compression across the coil."""

    @model_validator(mode="after")
    def _turns_fit(self) -> CantedCoilEnergizer:
        wire = self.wire_diameter.high
        for name, refused, accepted in (
            ("coil_height", self.coil_height.low <= 2.0 * wire, "more than twice the wire diameter"),
            ("coil_width", self.coil_width.low <= 2.0 * wire, "more than twice the wire diameter"),
            ("pitch", self.pitch.low < wire, "at least the wire diameter"),
        ):
            if refused:
                raise PydanticCustomError(
                    "out_of_domain", "the coil cannot have these dimensions", {"fields": (name,), "accepted": accepted}
                )
        c = self.compression
        travel = c.deflection.nominal if isinstance(c, ByDeflection) else c.free_height.nominal - c.gland_height.nominal
        if travel >= self.coil_height.nominal - 2.0 * self.wire_diameter.nominal:
            raise PydanticCustomError(
                "out_of_domain", "the compression leaves no room between the wires",
                {"fields": ("compression",), "accepted": "less than the coil height less two wire diameters"},
            )  # fmt: skip
        return self


class GarterEnergizer(_Metal):
    """Extension spring closed on itself, stretched on the lip."""

    kind: Literal["garter"]
    """Garter spring."""
    wire_diameter: TolerancedLength
    """Wire diameter."""
    mean_coil_diameter: TolerancedLength
    """Mean diameter of the coil."""
    active_coils: Annotated[float, q.Measured("ratio", "positive", 1.0, 1e5)]
    """Coils of the ring less those taken up by the joint."""
    free_length: Annotated[float, q.Measured("length", "positive", 1e-3, 30.0)]
    """Developed length of the joined spring at rest."""
    initial_tension: q.Force
    """Force at which the coils begin to open."""
    ring_diameter: TolerancedLength
    """Diameter of the coil axis on its seat."""

    @model_validator(mode="after")
    def _coil_larger_than_wire(self) -> GarterEnergizer:
        if self.mean_coil_diameter.low <= self.wire_diameter.high:
            raise PydanticCustomError(
                "out_of_domain", "the mean coil diameter is not larger than the wire",
                {"fields": ("mean_coil_diameter",), "accepted": "more than the wire diameter"},
            )  # fmt: skip
        return self


class ORingEnergizer(RequestModel):
    """Elastomer ring squeezed between two flats, backed by its groove."""

    kind: Literal["o_ring"]
    """O-ring."""
    section: TolerancedLength
    """Section diameter as made."""
    inside_diameter: q.BoreDiameter
    """Inside diameter as made."""
    seat_diameter: q.BoreDiameter | None = None
    """Diameter the ring is stretched on; its inside diameter when absent."""
    gland_height: TolerancedLength
    """Depth of the gland it is squeezed into."""
    elastomer: ElastomerName | None = None
    """Elastomer by its ISO 1629 symbol, from `/v1/elastomers`; the rule set's usual one when absent."""
    hardness: q.HardnessShoreA | None = None
    """Hardness, in place of the elastomer's."""
    elastic_modulus: q.Stress | None = None
    """Small-strain Young's modulus, in place of the one estimated from the hardness."""

    @model_validator(mode="after")
    def _can_be_squeezed(self) -> ORingEnergizer:
        if self.section.nominal >= self.inside_diameter:
            raise PydanticCustomError(
                "out_of_domain", "the section is not smaller than the inside diameter",
                {"fields": ("section",), "accepted": "less than the inside diameter"},
            )  # fmt: skip
        if self.gland_height.nominal >= self.section.nominal:
            raise PydanticCustomError(
                "out_of_domain", "the gland does not squeeze the ring",
                {"fields": ("gland_height",), "accepted": "less than the section diameter"},
            )  # fmt: skip
        if self.seat_diameter is not None and self.seat_diameter < 0.9 * self.inside_diameter:
            raise PydanticCustomError(
                "out_of_domain", "the seat is much smaller than the ring, which would buckle",
                {"fields": ("seat_diameter",), "accepted": "at least 0.9 times the inside diameter"},
            )  # fmt: skip
        return self


Energizer = Annotated[
    CantileverVEnergizer | CantedCoilEnergizer | GarterEnergizer | ORingEnergizer, Discriminator("kind")
]


class Sampling(RequestModel):
    """Number, seed and distribution of random samples."""

    samples: Annotated[int, Field(strict=True, ge=100, le=100_000, json_schema_extra={"format": "int32"}), INTEGRAL] = (
        10_000
    )
    """Number of samples."""
    seed: Annotated[int, Field(strict=True, ge=0, le=2**31 - 1, json_schema_extra={"format": "int32"}), INTEGRAL] = 1
    """Seed of the random numbers: the same seed gives the same answer."""
    distribution: Literal["normal", "uniform"] = "normal"
    """`normal`: each tolerance is three standard deviations, cut off there; `uniform`: evenly between the limits."""


class EnergizerLoadRequest(CalculationRequest):
    """An energizer, its space and its temperature: what load does it give?"""

    energizer: Energizer
    """Kind and dimensions."""
    contact_diameter: q.ShaftDiameter
    """Diameter of the contact to which loads per length refer (the shaft, for a lip)."""
    temperature: q.Temperature
    """Temperature of the energizer."""
    modulus_scatter: Annotated[float, q.Measured("ratio", "zero_or_more", 0.0, 0.9)] | None = None
    """Relative scatter of the elastic modulus either way; that of the rule set when absent."""
    sampling: Sampling = Sampling()
    """How tolerances are sampled."""


class LoadSpread(ResultModel):
    """Load per length at the ends of the tolerances; null where the model or what is known of the material does not reach."""

    minimum: q.WrittenLineLoad | None
    """Least over all combinations of extreme dimensions."""
    nominal: q.WrittenLineLoad | None
    """With nominal dimensions."""
    maximum: q.WrittenLineLoad | None
    """Greatest over all combinations of extreme dimensions."""
    percentile_5: q.WrittenLineLoad | None
    """Below it lie 5 % of the samples."""
    percentile_95: q.WrittenLineLoad | None
    """Below it lie 95 % of the samples."""


class Sensitivity(ResultModel):
    """How much the load follows one input."""

    input: str
    """Name of the input."""
    exponent: Number
    """Relative change of load per relative change of the input, at nominal dimensions."""
    swing: Number
    """Relative change of load from the lower to the upper limit of this input, the others nominal."""


class LoadPoint(ResultModel):
    """One point of the load curve."""

    deflection: q.WrittenLength
    """Deflection from the free state (for a garter: growth of the ring diameter over its free one)."""
    line_load: q.WrittenLineLoad
    """Load per length of the contact."""
    stiffness: q.WrittenLineStiffness
    """Slope of the load."""
    stress: q.WrittenStress
    """Greatest stress of a metal energizer, mean contact pressure of an O-ring."""


class WorkingRange(ResultModel):
    """Band of deflection in which the load of a canted coil stays within a share of its middle."""

    lower: q.WrittenLength
    """Least deflection of the band."""
    upper: q.WrittenLength
    """Greatest deflection of the band."""
    load_share: Number
    """Share of the middle load by which it may differ within the band."""


class EnergizerLoadResult(Result):
    """Load, stiffness and stress of an energizer."""

    verdict: Status
    """On stress, load and temperature. `pass`: elastic throughout (an O-ring: squeezed no further than the model holds), at
    a temperature its material stands. `caution`: yields, goes slack or leaves the model at an extreme of tolerance. `fail`:
    yields or is slack with nominal dimensions, or its alloy or elastomer does not stand the temperature. `not_evaluated`:
    outside the model, beyond the temperatures at which the alloy's properties are known, or an O-ring of which no elastomer is
    named."""
    summary: str
    """The verdict in words."""
    load: LoadSpread
    """Load per length of the contact."""
    total_load: q.WrittenForce | None
    """Nominal load summed round the circumference; null where the model does not reach."""
    stiffness: q.WrittenLineStiffness | None
    """Slope of the load at the nominal deflection; null where the model does not reach."""
    deflection: q.WrittenLength
    """Nominal deflection."""
    stress: q.WrittenStress | None
    """Greatest stress at the nominal deflection, elastic; null for an O-ring."""
    stress_limit: q.WrittenStress | None
    """Stress at which the energizer yields; null for an O-ring, and where the yield strength is not known."""
    utilization: Number | None
    """Stress over its limit; null where either is."""
    temperature_minimum: q.WrittenTemperature | None
    """Lowest temperature the alloy or elastomer stands; null where none is named or supplied."""
    temperature_maximum: q.WrittenTemperature | None
    """Highest temperature the alloy or elastomer stands; null where none is named or supplied."""
    permanent_set: q.WrittenLength | None
    """Loss of free height after yielding, nominal; null where the model has none."""
    working_range: WorkingRange | None
    """Flat band of a canted coil; null for other kinds."""
    squeeze: Number | None
    """Squeeze of an O-ring over its section; null for other kinds."""
    sensitivities: list[Sensitivity]
    """By falling swing."""
    curve: list[LoadPoint]
    """Load over deflection, nominal dimensions."""
    samples: Count
    """Samples taken."""
    notes: list[str]
    """Validity of the model in this case."""
