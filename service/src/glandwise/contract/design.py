"""The design: which seal is asked about."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Literal

from pydantic import Discriminator, Field, model_validator
from pydantic_core import PydanticCustomError

from glandwise.contract import quantities as q
from glandwise.contract.base import AlloyName, CompoundName, Name, NameOf, RequestModel
from glandwise.contract.faults import Misfit, refuse

_OTHER_KIND = (
    "dimensions of another kind of energizer are given",
    "dimensions of the energizer named in the field energizer",
)
OF_ANOTHER: Mapping[str, tuple[str, str]] = {
    "cantilever_v": _OTHER_KIND,
    "canted_coil": _OTHER_KIND,
    "garter": ("a plain tip cannot hold a garter", "a garter with lip_tip upturned_with_garter, or none"),
}
"""What is wrong with dimensions of an energizer that the design does not have, and what is accepted."""
NO_SPRING = ("a plain tip has no spring", "a place with lip_tip upturned_with_garter, or none")
"""What is wrong with the place of a spring of a lip without one, and what is accepted."""


def garter_misfits(size: Mapping[str, Any]) -> Iterator[Misfit]:
    """Look at the dimensions of a garter, or of many."""
    yield Misfit("mean_coil_diameter", size["mean_coil_diameter"] <= size["wire_diameter"],
                 "the mean coil diameter is not larger than the wire", "more than the wire diameter")  # fmt: skip


def strip_misfits(size: Mapping[str, Any], sine: Any) -> Iterator[Misfit]:
    """Look at the dimensions of a V energizer, or of many; ``sine`` is that of the root angle."""
    yield Misfit("deflection", size["deflection"] >= 2.0 * size["finger_length"] * sine, "the deflection closes the V entirely",
                 "less than the opening 2 L sin(root angle) of the free V")  # fmt: skip
    yield Misfit("strip_thickness", size["strip_thickness"] >= size["finger_length"],
                 "the strip is thicker than its fingers are long", "less than the finger length")  # fmt: skip


def coil_misfits(size: Mapping[str, Any]) -> Iterator[Misfit]:
    """Look at the dimensions of a canted coil, or of many."""
    wire, height, said = size["wire_diameter"], size["coil_height"], "the coil cannot have these dimensions"
    yield Misfit("coil_height", height <= 2.0 * wire, said, "more than twice the wire diameter")
    yield Misfit("coil_width", size["coil_width"] <= 2.0 * wire, said, "more than twice the wire diameter")
    yield Misfit("pitch", size["pitch"] < wire, said, "at least the wire diameter")
    yield Misfit("deflection", size["deflection"] >= height - 2.0 * wire, said,
                 "less than the coil height less two wire diameters")  # fmt: skip


class GarterDimensions(RequestModel):
    """Garter spring: an extension spring closed to a ring."""

    wire_diameter: q.SmallLength
    """Wire diameter."""
    mean_coil_diameter: q.SmallLength
    """Mean diameter of the coil."""
    free_length: q.AxialLength
    """Developed length of the joined spring at rest."""
    initial_tension: q.Force
    """Force at which the coils begin to open."""
    active_coils: Annotated[float, q.Measured("ratio", "positive", 1.0, 1e5)]
    """Number of active coils."""

    @model_validator(mode="after")
    def _coil_larger_than_wire(self) -> GarterDimensions:
        refuse(garter_misfits(self.__dict__))
        return self


class CantileverVDimensions(RequestModel):
    """V-shaped strip energizer of separate fingers."""

    strip_thickness: q.SmallLength
    """Thickness of the strip."""
    finger_length: q.SmallLength
    """Free length of a finger."""
    root_angle: q.Angle
    """Half the opening angle of the free V: inclination of a finger to the seal axis."""
    coverage: q.Share
    """Share of the circumference taken up by fingers."""
    deflection: q.SmallLength
    """Closing of the V, both legs together, when installed on the nominal shaft."""

    @model_validator(mode="after")
    def _v_stays_open(self) -> CantileverVDimensions:
        refuse(strip_misfits(self.__dict__, math.sin(self.root_angle)))
        return self


class CantedCoilDimensions(RequestModel):
    """Canted coil energizer: a closed wire coil whose turns lean."""

    wire_diameter: q.SmallLength
    """Wire diameter."""
    coil_height: q.SmallLength
    """Overall height of the free coil across which it is compressed."""
    coil_width: q.SmallLength
    """Overall width of the free coil."""
    pitch: q.SmallLength
    """Distance of turns along the circumference."""
    cant_angle: q.Angle
    """Angle by which the coil plane leans."""
    deflection: q.SmallLength
    """Compression when installed on the nominal shaft."""

    @model_validator(mode="after")
    def _turns_fit(self) -> CantedCoilDimensions:
        refuse(coil_misfits(self.__dict__))
        return self


class NumberRange(RequestModel):
    """A number known as a range, in the unit named by its field."""

    low: Annotated[float, q.Measured("ratio", "positive", 1e-6, 10.0)]
    """Favourable end."""
    nominal: Annotated[float, q.Measured("ratio", "positive", 1e-6, 10.0)]
    """Nominal value."""
    high: Annotated[float, q.Measured("ratio", "positive", 1e-6, 10.0)]
    """Unfavourable end."""

    @model_validator(mode="after")
    def _ordered(self) -> NumberRange:
        if not self.low <= self.nominal <= self.high:
            raise PydanticCustomError(
                "out_of_domain",
                "the range is not in order",
                {"fields": ("nominal",), "accepted": "low <= nominal <= high"},
            )
        return self


WearRateValue = Annotated[float, q.Measured("specific_wear_rate", "positive", 1e-20, 1e-9)]


class WearRateRange(RequestModel):
    """A specific wear rate known as a range."""

    low: WearRateValue
    """Favourable end."""
    nominal: WearRateValue
    """Nominal value."""
    high: WearRateValue
    """Unfavourable end."""

    @model_validator(mode="after")
    def _ordered(self) -> WearRateRange:
        if not self.low <= self.nominal <= self.high:
            raise PydanticCustomError(
                "out_of_domain",
                "the range is not in order",
                {"fields": ("nominal",), "accepted": "low <= nominal <= high"},
            )
        return self


class RelaxationBranch(RequestModel):
    """One branch of a generalised Maxwell model."""

    share: Annotated[float, q.Measured("ratio", "positive", 0.0, 1.0)]
    """Share of the instantaneous modulus that relaxes with this time."""
    time: Annotated[float, q.Measured("time", "positive", 1e-9, 1e12)]
    """Relaxation time at the reference temperature."""


class Relaxation(RequestModel):
    """Relaxation of a compound; what the branches leave over never relaxes."""

    branches: Annotated[list[RelaxationBranch], Field(min_length=1, max_length=40)]
    """Branches of the model."""
    reference_temperature: q.Temperature
    """Temperature at which the relaxation times hold."""
    activation_energy: Annotated[float, q.Measured("molar_energy", "positive", 1e3, 1e6)]
    """Activation energy of the shift of time with temperature (Arrhenius)."""

    @model_validator(mode="after")
    def _something_is_left(self) -> Relaxation:
        if sum(branch.share for branch in self.branches) >= 1.0:
            raise PydanticCustomError(
                "out_of_domain", "the branches leave nothing that does not relax",
                {"fields": ("branches",), "accepted": "shares that add up to less than 1"},
            )  # fmt: skip
        return self


class CompoundProperties(RequestModel):
    """Properties of the compound as the caller knows them; each takes the place of the rule set's value."""

    elastic_modulus: q.Stress | None = None
    """Instantaneous Young's modulus, taken for every temperature of the request."""
    poisson_ratio: Annotated[float, q.Measured("ratio", "positive", 0.0, 0.49)] | None = None
    """Poisson's ratio."""
    yield_strength: q.Stress | None = None
    """Yield strength, taken for every temperature of the request."""
    density: Annotated[float, q.Measured("density", "positive", 100.0, 20000.0)] | None = None
    """Density."""
    thermal_conductivity: Annotated[float, q.Measured("thermal_conductivity", "positive", 0.01, 100.0)] | None = None
    """Thermal conductivity."""
    relaxation: Relaxation | None = None
    """Relaxation of the modulus."""
    friction_coefficient: NumberRange | None = None
    """Friction coefficient as measured in this duty: taken as it is, no film is counted on top."""
    specific_wear_rate: WearRateRange | None = None
    """Specific wear rate as measured in this duty: taken as it is, no film and no factor is counted on top."""


class _Common(RequestModel):
    compound: CompoundName
    """Name from `/v1/compounds`."""
    compound_properties: CompoundProperties | None = None
    """Properties of the compound as the caller knows them; those of the rule set where absent."""
    o_ring_elastomer: Annotated[Name, NameOf("elastomers", "elastomer", ("retention", "o_ring"))] | None = None
    """Elastomer of the outer-diameter O-ring by its ISO 1629 symbol; the rule set's usual one when absent."""
    lip_thickness: q.RangedSmallLength | None = None
    """Thickness of the lip; by the sizing rule when absent."""
    lip_length: q.RangedSmallLength | None = None
    """Free length of the lip from its root to the edge; by the sizing rule when absent."""
    interference: q.RangedClearance | None = None
    """Diametral interference of the lip on the shaft as made; by the sizing rule when absent."""
    contact_width: q.RangedSmallLength | None = None
    """Axial width of the lip contact in running. When absent, the width of a worn-in lip by the sizing rule, and more where
    pressure lays the lip down; never less than the hot compound needs to bear the load."""
    bore_angle: Annotated[float, q.Measured("angle", "zero_or_more", 0.0, 0.6, ranged=True)] | None = None
    """Angle of the bore face of the free lip to the axis. With interference and length it gives the clearance at the root:
    when absent, that of the sizing rule."""
    spring_place: q.RangedShare | None = None
    """Place of the spring on the lip, from its root, over the free length; by the sizing rule when absent."""
    lip_direction: Literal["toward", "away"] = "toward"
    """Where the tip points: toward the sealed pressure, which presses the lip on, or away from it, which lifts the lip."""


class FlexibleLip(_Common):
    """Light machined lip for high speed and low pressure."""

    family: Literal["flexible_lip"]
    """Light machined lip."""
    second_lip: Literal["none", "excluder", "redundant"] = "excluder"
    """What stands before the main lip: an excluder against dirt, or a redundant lip for fluid retention."""
    lip_tip: Literal["plain", "upturned_with_garter"] = "plain"
    """An upturned tip carries a small garter, which buys some runout."""
    reinforcing_band: q.Bool = False
    """A metal band that reinforces the lip against pressure."""
    retention: Literal["o_ring", "clamped_flange", "press_fit_case"] = "o_ring"
    """What seals and holds the seal in the bore."""
    garter: GarterDimensions | None = None
    """Garter of the upturned tip; by the sizing rule when absent."""

    @model_validator(mode="after")
    def _garter_needs_its_tip(self) -> FlexibleLip:
        if self.garter is not None and self.lip_tip != "upturned_with_garter":
            refuse([Misfit("garter", True, *OF_ANOTHER["garter"])])
        if self.spring_place is not None and self.lip_tip != "upturned_with_garter":
            refuse([Misfit("spring_place", True, *NO_SPRING)])
        return self


class EnergizedLip(_Common):
    """Spring-loaded U-section for high pressure and low speed."""

    family: Literal["energized_lip"]
    """Spring-loaded U-section."""
    lip_form: Literal["plain", "scraper", "tapered"] = "plain"
    """A scraper lip scrapes fluid and keeps contaminants out; a tapered lip seals better with less friction."""
    energizer: Literal["cantilever_v", "canted_coil"] = "cantilever_v"
    """Kind of spring; a canted coil loads the lip less than a cantilever V."""
    energizer_alloy: AlloyName | None = None
    """Alloy by its UNS number, from `/v1/alloys`; the rule set's usual one when absent."""
    retention: Literal["o_ring", "clamped_flange"] = "o_ring"
    """What seals and holds the seal in the bore; a flange keeps it from turning."""
    heel: Literal["standard", "extended"] = "standard"
    """An extended heel is more rigid and bridges the extrusion gap at high pressure."""
    cantilever_v: CantileverVDimensions | None = None
    """Dimensions of a cantilever V energizer; by the sizing rule when absent."""
    canted_coil: CantedCoilDimensions | None = None
    """Dimensions of a canted coil energizer; by the sizing rule when absent."""

    @model_validator(mode="after")
    def _dimensions_fit_kind(self) -> EnergizedLip:
        for kind in ("cantilever_v", "canted_coil"):
            if getattr(self, kind) is not None and self.energizer != kind:
                refuse([Misfit(kind, True, *OF_ANOTHER[kind])])
        return self


Design = Annotated[FlexibleLip | EnergizedLip, Discriminator("family")]
