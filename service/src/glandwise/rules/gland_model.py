"""Shape of the rule data of glands: files ``gland.toml``, ``o_rings.toml`` and ``expansion.toml``."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import field
from datetime import date
from itertools import pairwise
from typing import Annotated, Any, Literal, TypeAlias

from pydantic import AfterValidator
from pydantic.dataclasses import dataclass
from pydantic.json_schema import SkipJsonSchema
from pydantic_core import PydanticCustomError

from glandwise import units
from glandwise.rules.values import (
    CONFIG,
    MOST_POINTS,
    Angle,
    Evidence,
    Length,
    LengthByLength,
    Name,
    Pressure,
    Ratio,
    Roughness,
    SourceId,
    Stress,
    Temperature,
    check_count,
    check_unit,
)


def _increasing(numbers: list[float], what: str) -> None:
    check_count(len(numbers), MOST_POINTS - 1, what)  # a strain has one point more, at its reference
    if any(b <= a for a, b in pairwise(numbers)):
        raise PydanticCustomError("table", "{what} must increase", {"what": what})


def _same_length(columns: dict[str, list[Any]], length: int) -> None:
    for name, column in columns.items():
        if len(column) != length:
            raise PydanticCustomError(
                "table",
                "{name} has {found} entries for {length} rows",
                {"name": name, "found": len(column), "length": length},
            )


@dataclass(frozen=True, slots=True, config=CONFIG)
class StepTable:
    """Values by steps of a nominal size, "over ... up to and including ...": a size on an edge is of the lower step."""

    size_unit: str
    """Unit of the sizes."""
    over: list[float]
    """Lower bound of each step, exclusive."""
    up_to: list[float]
    """Upper bound of each step, inclusive."""
    unit: str
    """Unit of the values."""
    columns: dict[Name, list[float]]
    """Values by column, one for each step."""
    source: SourceId
    """Identifier of the source, in the rule set's sources."""
    evidence: Evidence
    """How good the evidence is."""
    valid_from: date
    """Date from which the table holds."""
    note: str = ""
    """Remark."""
    review_by: date | None = None
    """Day by which an estimate of the house is to be looked at again."""
    si_over: SkipJsonSchema[Any] = field(init=False, default=None)
    si_up_to: SkipJsonSchema[Any] = field(init=False, default=None)
    si_columns: SkipJsonSchema[Any] = field(init=False, default=None)


def _steps(required: tuple[str, ...] = ()) -> Callable[[StepTable], StepTable]:
    def convert(table: StepTable) -> StepTable:
        check_unit("length", table.size_unit, "size_unit")
        check_unit("length", table.unit)
        _increasing(table.over, "over")
        _same_length({"up_to": table.up_to, **table.columns}, len(table.over))
        if table.over[1:] != table.up_to[:-1] or table.up_to[-1] <= table.over[-1]:
            raise PydanticCustomError("table", "each step must begin where the one before ends", {})
        missing = [name for name in required if name not in table.columns]
        if missing:
            raise PydanticCustomError("table", "columns are missing: {missing}", {"missing": ", ".join(missing)})

        def si(values: list[float], unit: str) -> tuple[float, ...]:
            return tuple(units.to_si(value, "length", unit) for value in values)

        object.__setattr__(table, "si_over", si(table.over, table.size_unit))
        object.__setattr__(table, "si_up_to", si(table.up_to, table.size_unit))
        object.__setattr__(
            table, "si_columns", {name: si(column, table.unit) for name, column in table.columns.items()}
        )
        return table

    return convert


ToleranceGrades: TypeAlias = Annotated[StepTable, AfterValidator(_steps(("IT8", "IT11")))]
FundamentalDeviations: TypeAlias = Annotated[StepTable, AfterValidator(_steps())]
LeadInTable: TypeAlias = Annotated[StepTable, AfterValidator(_steps(("reduction",)))]
HousingBoreTable: TypeAlias = Annotated[
    StepTable, AfterValidator(_steps(("extra_depth", "chamfer_min", "chamfer_max", "corner_radius")))
]
CaseInterferenceTable: TypeAlias = Annotated[StepTable, AfterValidator(_steps(("lower", "upper")))]


@dataclass(frozen=True, slots=True, config=CONFIG)
class NominalSizes:
    """Shaft diameter, bore diameter and seal width that go together."""

    unit: str
    """Unit of the sizes."""
    shaft: list[float]
    """Shaft diameters, not decreasing."""
    bore: list[float]
    """Bore diameter of each row."""
    width: list[float]
    """Seal width of each row."""
    source: SourceId
    """Identifier of the source, in the rule set's sources."""
    evidence: Evidence
    """How good the evidence is."""
    valid_from: date
    """Date from which the series holds."""
    note: str = ""
    """Remark."""
    review_by: date | None = None
    """Day by which an estimate of the house is to be looked at again."""
    rows: SkipJsonSchema[Any] = field(init=False, default=None)
    """Rows of shaft, bore and width in metres."""

    def __post_init__(self) -> None:
        check_unit("length", self.unit)
        _same_length({"bore": self.bore, "width": self.width}, len(self.shaft))
        rows = [
            tuple(units.to_si(value, "length", self.unit) for value in row)
            for row in zip(self.shaft, self.bore, self.width, strict=True)
        ]
        if rows != sorted(rows) or any(bore <= shaft for shaft, bore, _ in rows):
            raise PydanticCustomError("table", "rows must be in order, and each bore larger than its shaft", {})
        object.__setattr__(self, "rows", tuple(rows))


@dataclass(frozen=True, slots=True, config=CONFIG)
class UsualClass:
    """Tolerance class taken where the request names none."""

    name: Name
    """Letter and grade."""
    source: SourceId
    """Identifier of the source, in the rule set's sources."""
    evidence: Evidence
    """How good the evidence is."""
    valid_from: date
    """Date from which it holds."""
    note: str = ""
    """Remark."""
    review_by: date | None = None
    """Day by which an estimate of the house is to be looked at again."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class UsualClasses:
    """Tolerance classes where the request names none."""

    shaft: UsualClass
    """Shaft under the lip."""
    housing_bore: UsualClass
    """Housing bore."""
    throat: UsualClass
    """Opening of the housing behind the seal, through which the shaft passes."""
    body: UsualClass
    """Outside diameter of the seal body."""
    groove_diameter: UsualClass
    """Bottom diameter of the O-ring groove in the body."""
    groove_width: UsualClass
    """Width of that groove."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class UsualMaterial:
    """Material taken where the request names none."""

    name: Name
    """Name of a shaft material."""
    source: SourceId
    """Identifier of the source, in the rule set's sources."""
    evidence: Evidence
    """How good the evidence is."""
    valid_from: date
    """Date from which it holds."""
    note: str = ""
    """Remark."""
    review_by: date | None = None
    """Day by which an estimate of the house is to be looked at again."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class ThroatFit:
    """Fit of shaft and throat from a pressure on, where the request names neither."""

    pressure_from: Pressure
    """Pressure from which on it is asked for."""
    shaft: UsualClass
    """Shaft under the lip and in the throat."""
    throat: UsualClass
    """Opening of the housing behind the seal, of the nominal diameter of the shaft."""
    housing: UsualMaterial
    """Material of the housing."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class LeadInAngle:
    """Permitted angle of a lead-in chamfer to the axis."""

    min: Angle
    """Least."""
    max: Angle
    """Greatest."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class BoreRoughnessRule:
    """Roughness of the housing bore."""

    ra_min: Roughness
    """Least Ra."""
    ra_max: Roughness
    """Greatest Ra."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class BodyRule:
    """Seal body in its bore, where the request says nothing of it."""

    clearance_ratio: Ratio
    """Diametral clearance of the body in the bore over the bore diameter."""
    offset_share: Ratio
    """Share of the radial clearance by which the body sits off centre in the bore, carried by its O-ring."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class ORingGlandRule:
    """Limits of squeeze, stretch and fill of an O-ring in the outer diameter."""

    squeeze_max: Ratio
    """Greatest squeeze over section as assembled."""
    squeeze_min: Ratio
    """Least squeeze over section as assembled."""
    squeeze_min_absolute: Length
    """Least squeeze as assembled."""
    squeeze_service_max: Ratio
    """Greatest squeeze over section at any temperature."""
    squeeze_service_min: Ratio
    """Least squeeze over section at any temperature."""
    stretch_min: Ratio
    """Least stretch on the groove."""
    stretch_target: Ratio
    """Stretch aimed at."""
    stretch_max: Ratio
    """Greatest stretch on the groove."""
    fill_target: Ratio
    """Fill aimed at with nominal dimensions."""
    fill_max: Ratio
    """Greatest fill."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class ORingChoiceRule:
    """How an O-ring and its groove are proposed."""

    depth_share: Ratio
    """Greatest groove depth over the radial distance of shaft and bore."""
    width_share: Ratio
    """Greatest groove width over the seal width."""
    aim: Ratio
    """Share of a limit of squeeze and fill up to which the proposal goes by itself."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class StaticFrictionRule:
    """Friction of parts that must not move; each a range."""

    elastomer_on_ptfe: Ratio
    """O-ring in its groove, dry."""
    elastomer_on_ptfe_lubricated: Ratio
    """O-ring in its groove, wetted."""
    ptfe_on_metal: Ratio
    """PTFE against a machined metal face."""
    metal_on_metal: Ratio
    """Press fit."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class RetentionRule:
    """Constants of seal rotation."""

    margin_min: Ratio
    """Least holding torque over lip torque."""
    breakaway_factor: Ratio
    """Friction of a lip after standing over that in running."""
    seating_share: Ratio
    """Share of the force of the sealed pressure on the body that presses it on its shoulder."""
    clamp_force_kept: Ratio
    """Share of a clamp force left after creep."""
    clamp_pressure_share: Ratio
    """Face pressure a clamped flange may see over the yield strength at temperature."""
    clamp_aim: Ratio
    """Share of that pressure for which a clamp force is proposed."""
    clamp_face_share: Ratio
    """Radial width of the clamped face over the radial distance of shaft and bore."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class PressFitRule:
    """Pressed-in metal case, where the request says nothing of it."""

    material: UsualMaterial
    """Material of the case."""
    wall_thickness: LengthByLength
    """Wall thickness by bore diameter."""
    length_share: Ratio
    """Length of the fit over the seal width."""
    yield_strength: Stress
    """Yield strength of the case."""
    interference_min: Length
    """Least diametral interference that keeps the case tight."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class HousingRule:
    """Housing, where the request says nothing of it."""

    shaft_material: UsualMaterial
    """Material of the shaft."""
    material: UsualMaterial
    """Material of the housing."""
    outer_diameter_ratio: Ratio
    """Outside diameter of the housing over the bore."""
    throat_clearance: LengthByLength
    """Diametral clearance of the shaft in the opening behind the seal, by shaft diameter."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class ExtrusionRule:
    """Constants of extrusion into the gap behind the seal."""

    shear_over_yield: Ratio
    """Yield stress in shear over that in tension."""
    planes: Ratio
    """Shear planes of the heel."""
    strength_share: Ratio
    """Share of the short-time yield strength that a heel may see for its life."""
    gap_max: Length
    """Greatest radial gap behind a seal for which a throat fit is chosen."""
    fit_share: Ratio
    """Share of the gap that a heel bridges up to which a throat fit is kept."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class Gland:
    """File ``gland.toml``: tolerances, shaft and housing, O-ring gland, retention and extrusion."""

    it_grades: ToleranceGrades
    shaft_fundamental_deviations: FundamentalDeviations
    tolerance_class: UsualClasses
    throat_fits: dict[Name, ThroatFit]
    nominal_sizes: NominalSizes
    shaft_lead_in: LeadInTable
    shaft_lead_in_angle: LeadInAngle
    housing_bore: HousingBoreTable
    case_interference: CaseInterferenceTable
    bore_roughness: BoreRoughnessRule
    body: BodyRule
    o_ring_gland: ORingGlandRule
    o_ring_choice: ORingChoiceRule
    static_friction: StaticFrictionRule
    retention: RetentionRule
    press_fit: PressFitRule
    housing: HousingRule
    extrusion: ExtrusionRule


# ------------------------------------------------------------------------------------------------------------ O-rings


@dataclass(frozen=True, slots=True, config=CONFIG)
class ORing:
    """One size of O-ring, in metres."""

    dash: int
    """Dash number."""
    inner_diameter: float
    """Inner diameter [m]."""
    inner_diameter_tolerance: float
    """Plus and minus [m]."""
    section: float
    """Section diameter [m]."""
    section_tolerance: float
    """Plus and minus [m]."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class ORingSeries:
    """O-rings of one section."""

    unit: str
    """Unit of the dimensions."""
    section: float
    """Section diameter."""
    section_tolerance: float
    """Plus and minus."""
    dash: list[int]
    """Dash numbers, increasing."""
    inner_diameter: list[float]
    """Inner diameter of each."""
    inner_diameter_tolerance: list[float]
    """Plus and minus, of each."""
    source: SourceId
    """Identifier of the source, in the rule set's sources."""
    evidence: Evidence
    """How good the evidence is."""
    valid_from: date
    """Date from which the sizes hold."""
    note: str = ""
    """Remark."""
    review_by: date | None = None
    """Day by which an estimate of the house is to be looked at again."""
    rings: SkipJsonSchema[Any] = field(init=False, default=None)
    """The sizes in metres."""

    def __post_init__(self) -> None:
        check_unit("length", self.unit)
        _same_length(
            {"inner_diameter": self.inner_diameter, "inner_diameter_tolerance": self.inner_diameter_tolerance},
            len(self.dash),
        )
        _increasing([float(number) for number in self.dash], "dash")
        _increasing(self.inner_diameter, "inner_diameter")

        def si(value: float) -> float:
            return float(units.to_si(value, "length", self.unit))

        rings = tuple(
            ORing(number, si(inner), si(tolerance), si(self.section), si(self.section_tolerance))
            for number, inner, tolerance in zip(
                self.dash, self.inner_diameter, self.inner_diameter_tolerance, strict=True
            )
        )
        object.__setattr__(self, "rings", rings)


@dataclass(frozen=True, slots=True, config=CONFIG)
class ORings:
    """File ``o_rings.toml``: sizes of O-rings."""

    as568: dict[Name, ORingSeries]


# ---------------------------------------------------------------------------------------------------------- expansion


@dataclass(frozen=True, slots=True, config=CONFIG)
class MeanExpansion:
    """Mean coefficient of linear expansion between a reference temperature and others."""

    unit: str
    """Unit of the coefficients."""
    temperature_unit: str
    """Unit of the temperatures."""
    reference_temperature: float
    """Temperature from which the coefficients are means."""
    temperature: list[float]
    """Temperatures, increasing."""
    mean_coefficient: list[float]
    """Mean coefficient to each of them."""
    source: SourceId
    """Identifier of the source, in the rule set's sources."""
    evidence: Evidence
    """How good the evidence is."""
    valid_from: date
    """Date from which the table holds."""
    note: str = ""
    """Remark."""
    review_by: date | None = None
    """Day by which an estimate of the house is to be looked at again."""
    si_reference: SkipJsonSchema[float] = field(init=False, default=float("nan"))
    si_temperature: SkipJsonSchema[Any] = field(init=False, default=None)
    si_coefficient: SkipJsonSchema[Any] = field(init=False, default=None)

    def __post_init__(self) -> None:
        check_unit("thermal_expansion", self.unit)
        check_unit("temperature", self.temperature_unit, "temperature_unit")
        _same_length({"mean_coefficient": self.mean_coefficient}, len(self.temperature))
        _increasing(self.temperature, "temperature")
        object.__setattr__(
            self, "si_reference", units.to_si(self.reference_temperature, "temperature", self.temperature_unit)
        )
        object.__setattr__(
            self,
            "si_temperature",
            tuple(units.to_si(value, "temperature", self.temperature_unit) for value in self.temperature),
        )
        object.__setattr__(
            self,
            "si_coefficient",
            tuple(units.to_si(value, "thermal_expansion", self.unit) for value in self.mean_coefficient),
        )


@dataclass(frozen=True, slots=True, config=CONFIG)
class Transition:
    """Change of length of PTFE over its transitions at room temperature."""

    length_change: Ratio
    """Relative change of length over both transitions."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class CryogenicFit:
    """Polynomial fit of the thermal strain at low temperature, in kelvin."""

    unit: Literal["1e-5"]
    """Unit of the strain."""
    coefficients: list[float]
    """Coefficients in ascending powers of temperature."""
    lowest_k: float
    """Lowest temperature of the fit, in kelvin."""
    highest_k: float
    """Highest temperature of the fit, in kelvin."""
    source: SourceId
    """Identifier of the source, in the rule set's sources."""
    evidence: Evidence
    """How good the evidence is."""
    valid_from: date
    """Date from which the fit holds."""
    review_by: date | None = None
    """Day by which an estimate of the house is to be looked at again."""
    flat_below_k: float = 0.0
    """Temperature below which a strain is constant, in kelvin."""
    note: str = ""
    """Remark."""
    si_coefficients: SkipJsonSchema[Any] = field(init=False, default=None)

    def __post_init__(self) -> None:
        check_count(len(self.coefficients), MOST_POINTS, "coefficients")
        if not 0.0 <= self.lowest_k < self.highest_k:
            raise PydanticCustomError("range", "0 <= lowest_k < highest_k must hold", {})
        object.__setattr__(self, "si_coefficients", tuple(1e-5 * value for value in self.coefficients))


@dataclass(frozen=True, slots=True, config=CONFIG)
class CryogenicFits:
    """Low-temperature fits."""

    ptfe_expansion: CryogenicFit
    austenitic_steel_expansion: CryogenicFit
    aluminium_6061_expansion: CryogenicFit
    nickel_718_expansion: CryogenicFit


MetalFit: TypeAlias = Literal["austenitic_steel_expansion", "aluminium_6061_expansion", "nickel_718_expansion"]


@dataclass(frozen=True, slots=True, config=CONFIG)
class MetalCurves:
    """Which low-temperature fit gives the shape of the expansion curve of a metal."""

    fits: dict[Name, MetalFit]
    """Fit by name of a shaft material or alloy."""
    other: MetalFit
    """Fit for all others, scaled by their mean coefficient."""
    reference_temperature: Temperature
    """Temperature from which mean coefficients of metals count."""
    shape_span: Temperature
    """Lower temperature of the span in which the fit's own mean coefficient is taken for the scale."""
    source: SourceId
    """Identifier of the source, in the rule set's sources."""
    evidence: Evidence
    """How good the evidence is."""
    valid_from: date
    """Date from which the assignment holds."""
    note: str = ""
    """Remark."""
    review_by: date | None = None
    """Day by which an estimate of the house is to be looked at again."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class EnergizerTravel:
    """Limits of the deflection of an energizer."""

    least_share: Ratio
    """Least deflection over that as assembled."""
    greatest_share: Ratio
    """Greatest deflection over that at which the energizer closes."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class ThermalExpansion:
    """File ``expansion.toml``: expansion curves and what a fit must keep over the temperatures."""

    ptfe_unfilled: MeanExpansion
    ptfe_transition: Transition
    cryogenic: CryogenicFits
    metals: MetalCurves
    energizer_travel: EnergizerTravel

    def __post_init__(self) -> None:
        low = {
            item: getattr(self.cryogenic, item)
            for item in ("ptfe_expansion", self.metals.other, *self.metals.fits.values())
        }
        for name, fit in low.items():
            begins = (
                self.ptfe_unfilled.si_temperature[0]
                if name == "ptfe_expansion"
                else self.metals.reference_temperature.si
            )
            if fit.highest_k < begins:
                fault = f"does not reach to {units.format_bound(begins, upper=False)} K, where the mean coefficient takes over"
                raise PydanticCustomError(
                    "rule",
                    "{fault}",
                    {
                        "fault": fault,
                        "accepted": f"at least {units.format_bound(begins, upper=False)}",
                        "key": f"cryogenic.{name}.highest_k",
                    },
                )
