"""Shape of a rule set: every number with its unit, source, evidence and date.

A rule set is a folder of TOML files; the field names of :class:`RuleSetData` are the file names. A value that is not
there is ``None`` and leads to a verdict of ``not_evaluated``: never zero, never infinity.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import field, fields, is_dataclass
from datetime import date
from typing import Annotated, Any, Literal, TypeAlias

import numpy as np
from pydantic import AfterValidator, ConfigDict, StringConstraints
from pydantic.dataclasses import dataclass
from pydantic.json_schema import SkipJsonSchema
from pydantic_core import PydanticCustomError

from glandwise import units

Evidence: TypeAlias = Literal["standard", "published", "common_practice", "house_estimate"]
EVIDENCE_ORDER: tuple[Evidence, ...] = ("standard", "published", "common_practice", "house_estimate")
"""From strongest to weakest."""

Compatibility: TypeAlias = Literal["compatible", "caution", "incompatible"]
Filler: TypeAlias = Literal[
    "glass", "carbon", "graphite", "bronze", "mineral", "molybdenum_disulfide", "peek", "polyimide"
]
Lubrication: TypeAlias = Literal["dry", "boundary", "lubricated"]
Family: TypeAlias = Literal["flexible_lip", "energized_lip"]
Name: TypeAlias = Annotated[str, StringConstraints(pattern=r"^[A-Za-z][A-Za-z0-9_]*$", max_length=64)]
SourceId: TypeAlias = Annotated[str, StringConstraints(pattern=r"^[a-z0-9][a-z0-9-]*$", max_length=64)]

_config = ConfigDict(extra="forbid", allow_inf_nan=False, use_attribute_docstrings=True)


@dataclass(frozen=True, slots=True, config=_config)
class Datum:
    """One number: nominal ``value`` and, where the trade knows only a range, ``low`` and ``high``."""

    value: float
    """Nominal value, in `unit`."""
    unit: str
    """Unit of the numbers."""
    source: SourceId
    """Identifier of the source, in the rule set's sources."""
    evidence: Evidence
    """How good the evidence is."""
    valid_from: date
    """Date from which the value holds."""
    low: float | None = None
    """Lower end of the known range, in `unit`."""
    high: float | None = None
    """Upper end of the known range, in `unit`."""
    note: str = ""
    """Remark."""
    si: SkipJsonSchema[float] = field(init=False, default=float("nan"))
    si_low: SkipJsonSchema[float] = field(init=False, default=float("nan"))
    si_high: SkipJsonSchema[float] = field(init=False, default=float("nan"))


@dataclass(frozen=True, slots=True, config=_config)
class Curve:
    """A piecewise-linear table ``x`` (increasing) → ``y``, held constant beyond its ends."""

    x: list[float]
    """Abscissae, increasing, in `x_unit`."""
    y: list[float]
    """Ordinates, in `y_unit`."""
    x_unit: str
    """Unit of the abscissae."""
    y_unit: str
    """Unit of the ordinates."""
    source: SourceId
    """Identifier of the source, in the rule set's sources."""
    evidence: Evidence
    """How good the evidence is."""
    valid_from: date
    """Date from which the table holds."""
    note: str = ""
    """Remark."""
    si_x: SkipJsonSchema[Any] = field(init=False, default=None)
    si_y: SkipJsonSchema[Any] = field(init=False, default=None)
    array_x: SkipJsonSchema[Any] = field(init=False, default=None)
    array_y: SkipJsonSchema[Any] = field(init=False, default=None)


def _check_unit(dimension: str, unit: str) -> None:
    accepted = units.DIMENSIONS[dimension].symbols
    if unit not in accepted:
        raise PydanticCustomError(
            "unit", "unit {unit} is not one of {dimension}; accepted: {accepted}",
            {"unit": repr(unit), "dimension": dimension, "accepted": ", ".join(accepted)},
        )  # fmt: skip


def _datum(dimension: str) -> Callable[[Datum], Datum]:
    def convert(datum: Datum) -> Datum:
        _check_unit(dimension, datum.unit)
        low = datum.value if datum.low is None else datum.low
        high = datum.value if datum.high is None else datum.high
        if not low <= datum.value <= high:
            raise PydanticCustomError("range", "low <= value <= high must hold", {})
        for name, value in (("si", datum.value), ("si_low", low), ("si_high", high)):
            object.__setattr__(datum, name, units.to_si(value, dimension, datum.unit))
        return datum

    return convert


def _curve(x_dimension: str, y_dimension: str) -> Callable[[Curve], Curve]:
    def convert(curve: Curve) -> Curve:
        _check_unit(x_dimension, curve.x_unit)
        _check_unit(y_dimension, curve.y_unit)
        if len(curve.x) != len(curve.y) or len(curve.x) < 2:
            raise PydanticCustomError("curve", "x and y need the same length, at least 2", {})
        if any(b <= a for a, b in zip(curve.x, curve.x[1:], strict=False)):
            raise PydanticCustomError("curve", "x must increase", {})
        si_x = [units.to_si(value, x_dimension, curve.x_unit) for value in curve.x]
        si_y = [units.to_si(value, y_dimension, curve.y_unit) for value in curve.y]
        object.__setattr__(curve, "si_x", tuple(si_x))
        object.__setattr__(curve, "si_y", tuple(si_y))
        object.__setattr__(curve, "array_x", np.array(si_x))
        object.__setattr__(curve, "array_y", np.array(si_y))
        return curve

    return convert


# One alias per dimension in use; the annotation carries the dimension to the validator and to the JSON Schema.
Density: TypeAlias = Annotated[Datum, AfterValidator(_datum("density"))]
Length: TypeAlias = Annotated[Datum, AfterValidator(_datum("length"))]
Roughness: TypeAlias = Annotated[Datum, AfterValidator(_datum("roughness"))]
Ratio: TypeAlias = Annotated[Datum, AfterValidator(_datum("ratio"))]
Temperature: TypeAlias = Annotated[Datum, AfterValidator(_datum("temperature"))]
Pressure: TypeAlias = Annotated[Datum, AfterValidator(_datum("gauge_pressure"))]
Stress: TypeAlias = Annotated[Datum, AfterValidator(_datum("stress"))]
SurfaceSpeed: TypeAlias = Annotated[Datum, AfterValidator(_datum("surface_speed"))]
Conductivity: TypeAlias = Annotated[Datum, AfterValidator(_datum("thermal_conductivity"))]
FilmCoefficient: TypeAlias = Annotated[Datum, AfterValidator(_datum("heat_transfer_coefficient"))]
Expansion: TypeAlias = Annotated[Datum, AfterValidator(_datum("thermal_expansion"))]
WearRate: TypeAlias = Annotated[Datum, AfterValidator(_datum("specific_wear_rate"))]
Viscosity: TypeAlias = Annotated[Datum, AfterValidator(_datum("dynamic_viscosity"))]
HardnessRockwellC: TypeAlias = Annotated[Datum, AfterValidator(_datum("hardness_hrc"))]
HardnessShoreA: TypeAlias = Annotated[Datum, AfterValidator(_datum("hardness_shore_a"))]
MolarEnergy: TypeAlias = Annotated[Datum, AfterValidator(_datum("molar_energy"))]
Duration: TypeAlias = Annotated[Datum, AfterValidator(_datum("time"))]
Angle: TypeAlias = Annotated[Datum, AfterValidator(_datum("angle"))]
Force: TypeAlias = Annotated[Datum, AfterValidator(_datum("force"))]
ModulusByTemperature: TypeAlias = Annotated[Curve, AfterValidator(_curve("temperature", "stress"))]
RatioByTemperature: TypeAlias = Annotated[Curve, AfterValidator(_curve("temperature", "ratio"))]
ExpansionByTemperature: TypeAlias = Annotated[Curve, AfterValidator(_curve("temperature", "thermal_expansion"))]
PressureVelocityBySpeed: TypeAlias = Annotated[Curve, AfterValidator(_curve("surface_speed", "pressure_velocity"))]
LengthBySpeed: TypeAlias = Annotated[Curve, AfterValidator(_curve("surface_speed", "length"))]
LengthByLength: TypeAlias = Annotated[Curve, AfterValidator(_curve("length", "length"))]


@dataclass(frozen=True, slots=True, config=_config)
class Source:
    """A reference: who, what, when, and how far it was read."""

    text: str
    """The reference: who, what, when."""
    read: Literal["read", "secondary", "from_memory", "none"]
    """How far it was read: `read` itself, in a `secondary` source, `from_memory`, or `none` (no document)."""


@dataclass(frozen=True, slots=True, config=_config)
class FrictionByLubrication:
    """Friction coefficient against the shaft by lubrication; each a range."""

    dry: Ratio | None = None
    """Running dry."""
    boundary: Ratio | None = None
    """Boundary lubrication."""
    lubricated: Ratio | None = None
    """Fully lubricated."""


@dataclass(frozen=True, slots=True, config=_config)
class WearByLubrication:
    """Specific wear rate against the reference counterface by lubrication; each a range."""

    dry: WearRate | None = None
    """Running dry."""
    boundary: WearRate | None = None
    """Boundary lubrication."""
    lubricated: WearRate | None = None
    """Fully lubricated."""


@dataclass(frozen=True, slots=True, config=_config)
class Prony:
    """Relaxation of the modulus as shares of the instantaneous one; what is left over is the long-term share."""

    ratios: list[float]
    """Share of the instantaneous modulus that each branch holds."""
    times_s: list[float]
    """Relaxation time of each branch at the reference temperature, in seconds."""
    reference_temperature: Temperature
    """Temperature to which the times refer."""
    activation_energy: MolarEnergy
    """Activation energy of the Arrhenius shift of the times."""
    source: SourceId
    """Identifier of the source, in the rule set's sources."""
    evidence: Evidence
    """How good the evidence is."""
    valid_from: date
    """Date from which the series holds."""
    note: str = ""
    """Remark."""


@dataclass(frozen=True, slots=True, config=_config)
class Compound:
    """A PTFE compound of the seal."""

    title: str
    """Name in words."""
    fillers: list[Filler]
    """Fillers; empty for unfilled PTFE."""
    density: Density
    """Density."""
    elastic_modulus: ModulusByTemperature
    """Young's modulus by temperature."""
    poisson_ratio: Ratio
    """Poisson's ratio."""
    yield_strength: ModulusByTemperature
    """Yield strength by temperature."""
    relaxation: Prony
    """Relaxation of the modulus."""
    set_fraction: Ratio
    """Share of a deformation that stays after long load."""
    thermal_conductivity: Conductivity
    """Thermal conductivity."""
    expansion_ratio: Ratio
    """Thermal expansion over that of unfilled PTFE."""
    temperature_min: Temperature
    """Lowest service temperature."""
    temperature_max: Temperature
    """Highest service temperature."""
    limiting_pv: PressureVelocityBySpeed
    """Limiting product of contact pressure and surface speed, by surface speed."""
    pv_derating: RatioByTemperature
    """Factor on the limiting product by temperature."""
    friction: FrictionByLubrication
    """Coefficient of friction by lubrication."""
    wear: WearByLubrication
    """Specific wear rate by lubrication."""
    shaft_hardness_min: HardnessRockwellC
    """Least shaft hardness that the fillers ask for."""
    shaft_roughness_min: Roughness
    """Least shaft roughness Ra."""
    shaft_roughness_max: Roughness
    """Greatest shaft roughness Ra."""
    food_contact: Literal["base_resin_listed", "filler_needs_clearance", "not_evaluated"]
    """Standing for food contact."""
    note: str = ""
    """Remark."""


@dataclass(frozen=True, slots=True, config=_config)
class FluidCompatibility:
    """What the fluid does to each material; a material not named is not evaluated."""

    ptfe: Compatibility | None = None
    """What the fluid does to PTFE."""
    fillers: dict[Filler, Compatibility] = field(default_factory=dict)
    """What it does to each filler."""
    alloys: dict[Name, Compatibility] = field(default_factory=dict)
    """What it does to each alloy."""
    elastomers: dict[Name, Compatibility] = field(default_factory=dict)
    """What it does to each elastomer."""


@dataclass(frozen=True, slots=True, config=_config)
class Fluid:
    """A sealed fluid by its generic name."""

    title: str
    """Name in words."""
    category: Literal[
        "oil",
        "grease",
        "water",
        "steam",
        "fuel",
        "acid",
        "alkali",
        "solvent",
        "gas",
        "oxidizer",
        "cryogen",
        "refrigerant",
        "food",
        "other",
    ]
    """Kind of fluid."""
    phase: Literal["liquid", "gas", "grease", "paste", "liquefied_gas"]
    """Phase in service."""
    lubrication: Lubrication
    """Lubrication it gives a lip contact."""
    hazards: list[
        Literal[
            "oxygen", "cryogen", "flammable", "toxic", "corrosive", "steam", "food", "fluorine_attack", "alkali_metal"
        ]
    ]
    """Hazards that bring cautions."""
    source: SourceId
    """Identifier of the source, in the rule set's sources."""
    evidence: Evidence
    """How good the evidence is."""
    valid_from: date
    """Date from which the record holds."""
    compatibility: FluidCompatibility
    """What it does to each material."""
    dynamic_viscosity: Viscosity | None = None
    """Dynamic viscosity at room temperature; null when not known."""
    note: str = ""
    """Remark."""


@dataclass(frozen=True, slots=True, config=_config)
class Alloy:
    """An energizer alloy by its UNS number."""

    title: str
    """Name in words."""
    density: Density
    """Density."""
    elastic_modulus: ModulusByTemperature
    """Young's modulus by temperature."""
    poisson_ratio: Ratio
    """Poisson's ratio."""
    yield_strength: ModulusByTemperature
    """Yield strength by temperature."""
    mean_expansion: Expansion
    """Mean thermal expansion."""
    temperature_min: Temperature
    """Lowest service temperature."""
    temperature_max: Temperature
    """Highest service temperature."""
    note: str = ""
    """Remark."""


@dataclass(frozen=True, slots=True, config=_config)
class Elastomer:
    """An O-ring elastomer by its ISO 1629 symbol."""

    title: str
    """Name in words."""
    hardness: HardnessShoreA
    """Hardness."""
    temperature_min: Temperature
    """Lowest service temperature."""
    temperature_max: Temperature
    """Highest service temperature."""
    mean_expansion: Expansion
    """Mean thermal expansion."""
    friction_dry: Ratio
    """Coefficient of friction on metal, dry."""
    friction_lubricated: Ratio
    """Coefficient of friction on metal, lubricated."""
    compression_set: Ratio
    """Share of the squeeze lost over the service time."""
    note: str = ""
    """Remark."""


@dataclass(frozen=True, slots=True, config=_config)
class ShaftMaterial:
    """A shaft (or sleeve, or housing) material with its surface."""

    title: str
    """Name in words."""
    thermal_conductivity: Conductivity
    """Thermal conductivity."""
    mean_expansion: Expansion
    """Mean thermal expansion."""
    elastic_modulus: Stress
    """Young's modulus."""
    poisson_ratio: Ratio
    """Poisson's ratio."""
    wear_factor: Ratio
    """Factor on the wear rate of the lip against the reference counterface."""
    hardness: HardnessRockwellC | None = None
    """Surface hardness; null when it depends on the part."""
    coated: bool = False
    """Whether the surface is a coating."""
    note: str = ""
    """Remark."""


Feature: TypeAlias = Literal[
    "family",
    "second_lip",
    "lip_tip",
    "reinforcing_band",
    "retention",
    "lip_form",
    "energizer",
    "heel",
    "lubrication",
    "filled",
]
FeatureValue: TypeAlias = str | bool

CAPACITY_DIMENSION: dict[str, str] = {
    "surface_speed": "surface_speed",
    "pressure": "gauge_pressure",
    "vacuum": "gauge_pressure",
    "pressure_velocity": "pressure_velocity",
    "runout": "length",
    "offset": "length",
}
CapacityCriterion: TypeAlias = Literal["surface_speed", "pressure", "vacuum", "pressure_velocity", "runout", "offset"]


@dataclass(frozen=True, slots=True, config=_config)
class Capacity:
    """A rated capacity, or a factor on one, for designs that have the features named in ``when``.

    Of several ``limit`` entries that match, the one with the most features named wins; every matching ``factor`` is
    applied to it. A ``limit_by_speed`` is a limit that depends on the surface speed.
    """

    criterion: CapacityCriterion
    """Criterion it is a capacity of."""
    when: dict[Feature, FeatureValue]
    """Features of the designs it holds for."""
    title: str
    """In words."""
    limit: Datum | None = None
    """The limit."""
    limit_by_speed: LengthBySpeed | None = None
    """The limit by surface speed."""
    factor: Ratio | None = None
    """Factor on the limit."""

    def __post_init__(self) -> None:
        if sum(item is not None for item in (self.limit, self.limit_by_speed, self.factor)) != 1:
            raise PydanticCustomError("capacity", "give one of limit, limit_by_speed and factor", {})
        if self.limit is not None:
            object.__setattr__(self, "limit", _datum(CAPACITY_DIMENSION[self.criterion])(self.limit))

    @property
    def record(self) -> Datum | Curve:
        """The sourced record of this entry."""
        record = self.limit or self.limit_by_speed or self.factor
        assert record is not None
        return record


@dataclass(frozen=True, slots=True, config=_config)
class Option:
    """One option of a family with what it is for."""

    family: Family
    """Family the option belongs to."""
    field: str
    """Field of the design."""
    value: FeatureValue
    """Value of the field."""
    title: str
    """In words."""
    effect: str
    """What it is for and what it costs."""


@dataclass(frozen=True, slots=True, config=_config)
class Designs:
    """File ``designs.toml``: options of the families and their rated capacities."""

    options: list[Option]
    capacities: dict[str, Capacity]


@dataclass(frozen=True, slots=True, config=_config)
class CriterionRule:
    """How a criterion is called and when it turns from pass to caution."""

    title: str
    """The criterion in words."""
    caution_at: Ratio
    """Utilization from which a pass becomes a caution."""
    meaning: str
    """What it guards against."""


@dataclass(frozen=True, slots=True, config=_config)
class Usual:
    """A name taken where the request leaves a choice open."""

    name: Name
    source: SourceId
    evidence: Evidence
    valid_from: date
    note: str = ""


@dataclass(frozen=True, slots=True, config=_config)
class FlexibleLipSizing:
    """Sizing rule of the flexible lip by shaft diameter."""

    lip_thickness: LengthByLength
    lip_length: LengthByLength
    interference: LengthByLength
    contact_width: LengthByLength
    radial_section: LengthByLength
    axial_width: LengthByLength
    band_length_share: Ratio
    garter_wire_diameter: LengthByLength
    garter_coil_ratio: Ratio
    garter_stretch: Ratio
    garter_initial_stress: Stress


@dataclass(frozen=True, slots=True, config=_config)
class EnergizedLipSizing:
    """Sizing rule of the energized lip by shaft diameter."""

    lip_thickness: LengthByLength
    lip_length: LengthByLength
    interference: LengthByLength
    contact_width: LengthByLength
    radial_section: LengthByLength
    axial_width: LengthByLength
    heel_thickness: LengthByLength
    extended_heel_ratio: Ratio
    strip_thickness: LengthByLength
    finger_length: LengthByLength
    finger_angle: Angle
    finger_coverage: Ratio
    finger_deflection: LengthByLength
    coil_wire_diameter: LengthByLength
    coil_height: LengthByLength
    coil_width_ratio: Ratio
    coil_pitch_ratio: Ratio
    coil_cant_angle: Angle
    coil_deflection_share: Ratio


@dataclass(frozen=True, slots=True, config=_config)
class LipFormEffect:
    """What the form of an energized lip does to contact width and line load."""

    contact_width_factor: Ratio
    load_factor: Ratio


@dataclass(frozen=True, slots=True, config=_config)
class FollowingRule:
    """Constants of the runout model."""

    service_time: Duration


@dataclass(frozen=True, slots=True, config=_config)
class PressureLoadRule:
    """How sealed pressure loads the lip."""

    contact_pressure_share: Ratio
    energized_length_share: Ratio


@dataclass(frozen=True, slots=True, config=_config)
class EnergizerRule:
    """Constants of the energizer models."""

    metal_modulus_scatter: Ratio
    elastomer_modulus_scatter: Ratio
    working_load_share: Ratio
    o_ring_squeeze_limit: Ratio
    shear_yield_ratio: Ratio


@dataclass(frozen=True, slots=True, config=_config)
class Sizing:
    """File ``sizing.toml``: dimensions and choices a request may leave out, and the constants of the lip models."""

    energizer_alloy: Usual
    o_ring_elastomer: Usual
    garter_alloy: Usual
    flexible_lip: FlexibleLipSizing
    energized_lip: EnergizedLipSizing
    lip_forms: dict[Literal["plain", "scraper", "tapered"], LipFormEffect]
    following: FollowingRule
    pressure_load: PressureLoadRule
    energizer: EnergizerRule


@dataclass(frozen=True, slots=True, config=_config)
class FluidFilms:
    """Film coefficient on the wetted shaft by the phase of the fluid."""

    liquid: FilmCoefficient
    gas: FilmCoefficient
    grease: FilmCoefficient
    paste: FilmCoefficient
    liquefied_gas: FilmCoefficient


@dataclass(frozen=True, slots=True, config=_config)
class WearRule:
    """How much wear a lip has to give."""

    lip_allowance_share: Ratio
    energizer_allowance_share: Ratio
    interference_allowance_share: Ratio


FilmCorrelation: TypeAlias = Literal[
    "anderson_saunders", "becker", "etemad", "kays_bjorklund", "dropkin_carmi", "ozerdem"
]


@dataclass(frozen=True, slots=True, config=_config)
class Running:
    """File ``running.toml``: constants of friction, heat and wear."""

    fresh_time: Duration
    nominal_time: Duration
    excluder_load_share: Ratio
    redundant_load_share: Ratio
    ambient_temperature: Temperature
    shaft_conductivity: Conductivity
    shaft_length_ratio: Ratio
    housing_length_ratio: Ratio
    film_correlation: FilmCorrelation
    fluid_film: FluidFilms
    wear: WearRule


@dataclass(frozen=True, slots=True, config=_config)
class CautionRule:
    """A warning and when it applies; with no condition it always does."""

    text: str
    hazards: list[str] = field(default_factory=list)
    pressure_above: Pressure | None = None
    temperature_above: Temperature | None = None
    temperature_below: Temperature | None = None
    food_contact: bool = False


@dataclass(frozen=True, slots=True, config=_config)
class Change:
    """A change that may cure a criterion: design fields to set, or duty fields brought to the capacity."""

    title: str
    criteria: list[str]
    design: dict[str, FeatureValue] = field(default_factory=dict)
    family: Family | None = None
    to_capacity: str | None = None
    rank: int = 100


@dataclass(frozen=True, slots=True, config=_config)
class Header:
    """File ``rule_set.toml``: what the set is called."""

    name: str
    version: str
    title: str
    description: str
    extends: str | None = None


@dataclass(frozen=True, slots=True, config=_config)
class RuleSetData:
    """A whole rule set at one date; the field names are the file names."""

    rule_set: Header
    sources: dict[SourceId, Source]
    compounds: dict[Name, Compound]
    fluids: dict[Name, Fluid]
    alloys: dict[Name, Alloy]
    elastomers: dict[Name, Elastomer]
    shaft_materials: dict[Name, ShaftMaterial]
    designs: Designs
    criteria: dict[Name, CriterionRule]
    sizing: Sizing
    running: Running
    cautions: dict[Name, CautionRule]
    changes: dict[Name, Change]
    gland: dict[str, Any]
    o_rings: dict[str, Any]
    expansion: dict[str, Any]


def walk(value: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    """Yield ``(dotted path, record)`` for every record of a rule set that carries a source."""
    if is_dataclass(value) and not isinstance(value, type):
        if hasattr(value, "source") and hasattr(value, "evidence"):
            yield path, value
        for item in fields(value):
            if item.init:
                yield from walk(getattr(value, item.name), f"{path}.{item.name}" if path else item.name)
    elif isinstance(value, dict):
        for key, entry in value.items():
            yield from walk(entry, f"{path}.{key}" if path else str(key))
    elif isinstance(value, list):
        for index, entry in enumerate(value):
            yield from walk(entry, f"{path}[{index}]")


def weakest(evidence: Iterator[Evidence] | set[Evidence] | list[Evidence]) -> Evidence | None:
    """Return the weakest of some evidence levels, ``None`` of none."""
    return max(evidence, key=EVIDENCE_ORDER.index, default=None)
