"""Shape of a rule set: every number with its unit, source, evidence and date.

A rule set is a folder of TOML files; the field names of :class:`RuleSetData` are the file names. A value that is not
there is ``None`` and leads to a verdict of ``not_evaluated``: never zero, never infinity.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import field, fields, is_dataclass
from datetime import date
from functools import cache
from typing import Annotated, Any, Literal, TypeAlias

from pydantic import Strict, StringConstraints
from pydantic.dataclasses import dataclass
from pydantic.json_schema import SkipJsonSchema
from pydantic_core import PydanticCustomError

from glandwise.rules.advice_model import Alternatives, Beliefs, FillerRule, Requirements, Unknowns
from glandwise.rules.blank_model import Blank
from glandwise.rules.features import FEATURES, SITUATIONS
from glandwise.rules.gland_model import Gland, ORings, ThermalExpansion
from glandwise.rules.values import (
    CONFIG,
    MOST_BRANCHES,
    Angle,
    Band,
    BandKey,
    Conductivity,
    Curve,
    Date,
    Datum,
    DatumIn,
    Density,
    Duration,
    Evidence,
    Expansion,
    FilmCoefficient,
    HardnessRockwellC,
    HardnessShoreA,
    HeatCapacity,
    HeatOfVaporization,
    Length,
    LengthByLength,
    LengthBySpeed,
    LineLoad,
    ModulusByTemperature,
    MolarEnergy,
    MolarMass,
    Name,
    Number,
    PoissonRatio,
    Pressure,
    PressureVelocityBySpeed,
    Ratio,
    RatioByTemperature,
    Roughness,
    Share,
    SourceId,
    Stress,
    SurfaceSpeed,
    Temperature,
    TemperatureDifference,
    Truth,
    Viscosity,
    ViscosityByTemperature,
    WearRate,
    check_count,
    fault,
    weakest,
)

__all__ = ["Curve", "Datum", "Evidence", "Name", "SourceId", "weakest"]
"""Names of the building blocks that are taken from here; what this module defines is public by its name."""

Compatibility: TypeAlias = Literal["compatible", "caution", "incompatible"]
Filler: TypeAlias = Literal[
    "glass", "carbon", "carbon_fibre", "graphite", "bronze", "mineral", "molybdenum_disulfide", "peek", "polyimide"
]
Lubrication: TypeAlias = Literal["flooded", "grease", "mist", "starved", "dry"]
Medium: TypeAlias = Literal["dry", "aqueous", "oil", "solvent", "fuel"]
Family: TypeAlias = Literal["flexible_lip", "energized_lip"]
Hazard: TypeAlias = Literal[
    "oxygen",
    "cryogen",
    "flammable",
    "toxic",
    "corrosive",
    "steam",
    "food",
    "fluorine_attack",
    "alkali_metal",
    "abrasive",
]
Count: TypeAlias = Annotated[int, Strict()]


def _ordered(record: Any, low: str, high: str) -> None:
    """Refuse a record whose lower limit is not below its upper one."""
    least, greatest = getattr(record, low), getattr(record, high)
    if least.si >= greatest.si:
        raise fault(low, f"is not below {high}", f"less than {greatest.value:g} {greatest.unit}")


BODIES = (
    "ABNT", "AFNOR", "AGMA", "ANSI", "API", "AS", "ASME", "ASTM", "BS", "CEN", "CFR", "CSA", "DIN", "EN", "GB", "GOST", "IEC",
    "IS", "ISO", "JIS", "KS", "MIL", "NAS", "NBR", "NF", "NORSOK", "ÖNORM", "SAE", "SIS", "SN", "SNV", "SS", "UNE", "UNI",
    "VDI",
)  # fmt: skip
"""Bodies and series by which standards and regulations are called."""
STANDARD = rf"^(\d+ )?(({'|'.join(BODIES)})[ /-])+[A-Z]{{0,4}}[ -]?\d[A-Za-z0-9.:/ -]*$"


@dataclass(frozen=True, slots=True, config=CONFIG)
class OwnRecords:
    """Records of a house's own that a source is: which, made on what, and how many."""

    rig: Annotated[str, StringConstraints(min_length=3, max_length=200)]
    """What they were made on, or where they were collected."""
    closed_on: Date
    """Day on which they were closed."""
    specimens: Annotated[int, Strict()]
    """Specimens, or seals, that they speak of."""
    sha256: Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]
    """SHA-256 of the file that holds them, by which they are known again."""

    def __post_init__(self) -> None:
        if self.specimens < 1:
            raise fault("specimens", "there is none", "1 or more")


@dataclass(frozen=True, slots=True, config=CONFIG)
class Source:
    """A reference: who, what, when, and how far it was read."""

    text: str
    """The reference: who, what, when."""
    read: Literal["read", "secondary", "from_memory", "definition", "none"]
    """How far it was read: `read` itself, in a `secondary` source, `from_memory`; `definition` needs no document, `none`
    has none."""
    standard: Annotated[str, StringConstraints(pattern=STANDARD)] | None = None
    """Designation, where the source is a standard or a regulation: its body and number, as in ISO 6194-1:2007."""
    records: OwnRecords | None = None
    """Where the source is a test of one's own: its records, on which alone `own_test` can rest."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class FrictionByMedium:
    """Friction coefficient against the shaft where solid contact bears all of the load, by the medium; each a range."""

    dry: Ratio | None = None
    """In gas, vapour or nothing at all."""
    aqueous: Ratio | None = None
    """In water, what is mostly water, and thin organic liquids."""
    oil: Ratio | None = None
    """In oil, grease and what lubricates as they do."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class WearByMedium:
    """Specific wear rate against the reference counterface where solid contact bears all of the load; each a range."""

    dry: WearRate | None = None
    """In gas, vapour or nothing at all."""
    aqueous: WearRate | None = None
    """In water, what is mostly water, and thin organic liquids."""
    oil: WearRate | None = None
    """In oil, grease and what lubricates as they do."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class Prony:
    """Relaxation of the modulus as shares of the instantaneous one; what is left over is the long-term share."""

    ratios: list[Number]
    """Share of the instantaneous modulus that each branch holds."""
    times_s: list[Number]
    """Relaxation time of each branch at the reference temperature, in seconds."""
    reference_temperature: Temperature
    """Temperature to which the times refer."""
    activation_energy: MolarEnergy
    """Activation energy of the Arrhenius shift of the times."""
    source: SourceId
    """Identifier of the source, in the rule set's sources."""
    evidence: Evidence
    """How good the evidence is."""
    valid_from: Date
    """Date from which the series holds."""
    note: str = ""
    """Remark."""
    review_by: Date | None = None
    """Day by which an estimate of the house is to be looked at again."""
    equilibrium: SkipJsonSchema[float] = field(init=False, default=float("nan"))
    branches: SkipJsonSchema[Any] = field(init=False, default=())
    times: SkipJsonSchema[Any] = field(init=False, default=())

    def __post_init__(self) -> None:
        if len(self.ratios) != len(self.times_s):
            raise fault(
                "times_s", f"there are {len(self.ratios)} ratios and {len(self.times_s)} times", "as many as ratios"
            )
        check_count(len(self.ratios), MOST_BRANCHES, "ratios")
        if any(ratio <= 0.0 for ratio in self.ratios):
            raise fault("ratios", "a share is not positive", "shares of more than 0")
        if any(time <= 0.0 for time in self.times_s):
            raise fault("times_s", "a time is not positive", "times of more than 0 s")
        if sum(self.ratios) >= 1.0:
            raise fault("ratios", "the branches leave nothing that does not relax", "shares that add up to less than 1")
        object.__setattr__(self, "equilibrium", 1.0 - sum(self.ratios))
        object.__setattr__(self, "branches", tuple(self.ratios))
        object.__setattr__(self, "times", tuple(self.times_s))


@dataclass(frozen=True, slots=True, config=CONFIG)
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
    poisson_ratio: PoissonRatio
    """Poisson's ratio."""
    yield_strength: ModulusByTemperature
    """Yield strength by temperature."""
    relaxation: Prony
    """Relaxation of the modulus."""
    set_fraction: Share
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
    friction: FrictionByMedium
    """Coefficient of friction by medium."""
    wear: WearByMedium
    """Specific wear rate by medium."""
    shaft_hardness_min: HardnessRockwellC
    """Least shaft hardness that the fillers ask for."""
    shaft_roughness_min: Roughness
    """Least shaft roughness Ra."""
    shaft_roughness_max: Roughness
    """Greatest shaft roughness Ra."""
    food_contact: Literal["base_resin_listed", "filler_needs_clearance", "not_evaluated"]
    """Standing for food contact; with `filler_needs_clearance` what is known of its fillers decides."""
    note: str = ""
    """Remark."""

    def __post_init__(self) -> None:
        _ordered(self, "temperature_min", "temperature_max")
        _ordered(self, "shaft_roughness_min", "shaft_roughness_max")


@dataclass(frozen=True, slots=True, config=CONFIG)
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


@dataclass(frozen=True, slots=True, config=CONFIG)
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
    hazards: list[Hazard]
    """Hazards that bring cautions."""
    source: SourceId
    """Identifier of the source, in the rule set's sources."""
    evidence: Evidence
    """How good the evidence is."""
    valid_from: Date
    """Date from which the record holds."""
    compatibility: FluidCompatibility
    """What it does to each material."""
    review_by: Date | None = None
    """Day by which an estimate of the house is to be looked at again."""
    temperature_min: Temperature | None = None
    """Least temperature for which the record holds; null: no bound is known."""
    temperature_max: Temperature | None = None
    """Greatest temperature for which the record holds; null: no bound is known."""
    film: Literal["liquid", "packed", "gas", "condensing", "boiling"] = "liquid"
    """How it takes heat from a wetted shaft: as a liquid that flows, packed around it, as a gas, as a vapour that condenses or
    a liquid that boils."""
    lubrication: Lubrication = "flooded"
    """How far it gets under the lip where a request does not say; gas and vapour carry no lip: `dry`."""
    medium: Medium = "dry"
    """What it is to friction and wear. Of a `solvent` and of a thin `fuel` none are known: those in water and in oil are taken, the
    wear with a factor."""
    solids: Literal["powder", "dough", "chips", "slurry"] | None = None
    """Solids that it carries; null: none."""
    crystallises: Truth = False
    """Whether what dries at the lip leaves hard crystals there."""
    dry_inert: Truth = False
    """Whether it is an inert gas with hardly any water, in which graphite does not lubricate."""
    film_floor: Share | None = None
    """Share of the load that solid contact bears at the least; null: that of clean fluids."""
    viscosity_form: Literal["walther", "vogel", "andrade", "sutherland"] | None = None
    """Law by which its viscosity goes from its points to another temperature; null when not known."""
    viscosity: ViscosityByTemperature | None = None
    """Dynamic viscosity at two temperatures, for `vogel` at three; null for a gas and when not known."""
    viscosity_factor: Ratio | None = None
    """Range of what goes by this name over the viscosity stated; null: that of a pure substance."""
    reference_temperature: Temperature | None = None
    """Temperature of the reference of a gas."""
    reference_viscosity: Viscosity | None = None
    """Dynamic viscosity of a gas there."""
    sutherland_temperature: Temperature | None = None
    """Sutherland's temperature of a gas."""
    density: Density | None = None
    """Density at the first point of the viscosity."""
    volume_expansion: Expansion | None = None
    """Volume expansion."""
    thermal_conductivity: Conductivity | None = None
    """Thermal conductivity of the liquid."""
    heat_capacity: HeatCapacity | None = None
    """Heat capacity at constant pressure."""
    deposit_temperature: Temperature | None = None
    """Temperature of the lip from which it leaves hard deposits there, as an oil that cokes; null: none is known."""
    prandtl_number: Ratio | None = None
    """Prandtl number of a gas."""
    boiling_point: Temperature | None = None
    """Temperature at which it boils at one atmosphere; null: it does not, or it is not known."""
    heat_of_vaporization: HeatOfVaporization | None = None
    """Heat of vaporization at the boiling point."""
    molar_mass: MolarMass | None = None
    """Molar mass."""
    note: str = ""
    """Remark."""

    def __post_init__(self) -> None:
        if self.viscosity is not None:
            wanted = {"walther": 2, "andrade": 2, "vogel": 3}.get(self.viscosity_form or "")
            if wanted is None:
                raise fault("viscosity_form", "is not that of a liquid", "walther, vogel or andrade")
            if len(self.viscosity.x) != wanted:
                raise fault("viscosity", f"has {len(self.viscosity.x)} points", f"{wanted} for {self.viscosity_form}")
            if self.viscosity_form == "walther" and (self.density is None or self.volume_expansion is None):
                raise fault("density", "is missing", "density and volume_expansion beside a viscosity by walther")
        if self.temperature_min is not None and self.temperature_max is not None:
            _ordered(self, "temperature_min", "temperature_max")


@dataclass(frozen=True, slots=True, config=CONFIG)
class Alloy:
    """An energizer alloy by its UNS number."""

    title: str
    """Name in words."""
    density: Density
    """Density."""
    elastic_modulus: ModulusByTemperature
    """Young's modulus by temperature."""
    poisson_ratio: PoissonRatio
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

    def __post_init__(self) -> None:
        _ordered(self, "temperature_min", "temperature_max")


@dataclass(frozen=True, slots=True, config=CONFIG)
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
    compression_set: Share
    """Share of the squeeze lost over the service time."""
    note: str = ""
    """Remark."""

    def __post_init__(self) -> None:
        _ordered(self, "temperature_min", "temperature_max")


@dataclass(frozen=True, slots=True, config=CONFIG)
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
    poisson_ratio: PoissonRatio
    """Poisson's ratio."""
    wear_factor: Ratio
    """Factor on the wear rate of the lip against the reference counterface."""
    hardness: HardnessRockwellC | None = None
    """Surface hardness; null when it depends on the part."""
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
    "medium",
    "filled",
]
FeatureValue: TypeAlias = Annotated[str, Strict()] | Truth

_MATERIALS = ("compound", "energizer_alloy", "o_ring_elastomer")
"""Fields of a design that hold a name of the rule set, and which a change may set too."""


def written(value: str | bool) -> str:
    """Write a value as TOML."""
    return json.dumps(value, ensure_ascii=False)


def _check_features(
    features: dict[Any, Any], key: str, family: str | None = None, beside: tuple[str, ...] = ()
) -> None:
    """Refuse features or values that no design has, and such as no design has together."""
    family = features.get("family", family)
    if family is not None and family not in FEATURES:
        raise fault(f"{key}.family", f"there is no family {family!r}", ", ".join(f'"{name}"' for name in FEATURES))
    families = [family] if family is not None else list(FEATURES)
    for name, value in features.items():
        if name == "family" or name in beside:
            continue
        holders = [item for item in families if name in FEATURES[item]]
        values = [*SITUATIONS.get(name, ())] if not beside else []
        values += [item for holder in holders for item in FEATURES[holder][name] if item not in values]
        if not values:
            known = dict.fromkeys([*beside, *(item for holder in families for item in FEATURES[holder])])
            raise fault(f"{key}.{name}", f"no design of {' or '.join(families)} has it", ", ".join(known))
        if not any(value is item or (value == item and type(value) is type(item)) for item in values):
            raise fault(f"{key}.{name}", f"{written(value)} is not a value of it", ", ".join(map(written, values)))
        families = [item for item in families if item in holders] if holders else families


CAPACITY_DIMENSION: dict[str, str] = {
    "surface_speed": "surface_speed",
    "pressure": "gauge_pressure",
    "vacuum": "gauge_pressure",
    "pressure_velocity": "pressure_velocity",
    "runout": "length",
    "offset": "length",
}
CapacityCriterion: TypeAlias = Literal["surface_speed", "pressure", "vacuum", "pressure_velocity", "runout", "offset"]


@dataclass(frozen=True, slots=True, config=CONFIG)
class Capacity:
    """A rated capacity, or a factor on one, for designs that have the features named in ``when``.

    Of several limits that match a design the most special one holds: the one that holds for the fewest designs, all of
    them among those of each other one (:mod:`glandwise.rules.features`). A set in which that does not decide is refused.
    Every matching ``factor`` is applied to it. A ``limit_by_speed`` is a limit that depends on the surface speed.
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
            raise fault("", "gives not one of limit, limit_by_speed and factor", "exactly one of them")
        _check_features(self.when, "when")
        if self.limit_by_speed is not None and self.criterion not in {"runout", "offset"}:
            raise fault("limit_by_speed", f"is a length, which {self.criterion} is not", "limit or factor")
        if self.limit is not None:
            try:
                limit = DatumIn(CAPACITY_DIMENSION[self.criterion])(self.limit)
            except PydanticCustomError as error:
                context = error.context or {}
                raise fault(f"limit.{context['key']}", error.message(), context["accepted"]) from None
            object.__setattr__(self, "limit", limit)

    @property
    def record(self) -> Datum | Curve:
        """The sourced record of this entry."""
        record = self.limit or self.limit_by_speed or self.factor
        assert record is not None
        return record


@dataclass(frozen=True, slots=True, config=CONFIG)
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

    def __post_init__(self) -> None:
        values = FEATURES[self.family].get(self.field)
        if values is None:
            raise fault("field", f"{self.family} has no field {self.field!r}", ", ".join(FEATURES[self.family]))
        if self.value not in values or type(self.value) is not type(values[0]):
            raise fault("value", f"{written(self.value)} is not a value of it", ", ".join(map(written, values)))


@dataclass(frozen=True, slots=True, config=CONFIG)
class Designs:
    """File ``designs.toml``: options of the families and their rated capacities."""

    options: list[Option]
    """Options of both families and what they are for."""
    capacities: dict[Name, Capacity]
    """Rated capacities and the features they hold for."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class CriterionRule:
    """How a criterion is called and when it turns from pass to caution."""

    title: str
    """The criterion in words."""
    caution_at: Ratio
    """Utilization from which a pass becomes a caution."""
    meaning: str
    """What it guards against."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class Usual:
    """A name taken where the request leaves a choice open."""

    name: Name
    source: SourceId
    evidence: Evidence
    valid_from: Date
    note: str = ""
    review_by: Date | None = None
    """Day by which an estimate of the house is to be looked at again."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class FlexibleLipSizing:
    """Sizing rule of the flexible lip by shaft diameter."""

    lip_length: Length
    """Free length at the reference diameter; it grows as a power of the shaft diameter."""
    interference: Length
    """On the diameter, while running, at the reference diameter."""
    root_clearance: Length
    """Radial clearance at the root of the free lip, at the reference diameter."""
    slenderness: Ratio
    """Free length over thickness that the root bears at a pressure and a strength."""
    slenderness_pressure: Pressure
    slenderness_strength: Stress
    slenderness_min: Ratio
    slenderness_max: Ratio
    thickness_share_max: Share
    """Greatest thickness over free length."""
    contact_width: LengthByLength
    radial_section: LengthByLength
    axial_width: LengthByLength
    band_length_share: Share
    band_slenderness: Ratio
    band_interference: Length
    band_clearance: Length
    garter_place: Share
    garter_wire_diameter: LengthByLength
    garter_coil_ratio: Ratio
    garter_stretch: Ratio
    garter_initial_stress: Stress


@dataclass(frozen=True, slots=True, config=CONFIG)
class EnergizedLipSizing:
    """Sizing rule of the energized lip by shaft diameter."""

    light_pressure: Pressure
    """Up to which the lip is long and slender, and the spring light."""
    heavy_pressure: Pressure
    """From which the lip is short and thick, and above which the spring is heavy."""
    lip_length_light: Length
    """Free length at the reference diameter and low pressure; it grows as a power of the shaft diameter."""
    lip_length_heavy: Length
    slenderness_light: Ratio
    slenderness_heavy: Ratio
    interference: Length
    """On the diameter, while running, at the reference diameter."""
    cold_share: Ratio
    """Share of the interference that shrinking in lasting cold brings that the lip is made without."""
    least_share: Ratio
    """Least share of the running interference that it is made with for all that."""
    bore_angle: Angle
    spring_load_light: LineLoad
    """Line load of the spring of a lip at low pressure."""
    spring_load_medium: LineLoad
    spring_load_heavy: LineLoad
    coil_load_share: Ratio
    """Line load of a canted coil over that of a cantilever V of its class."""
    spring_place: Share
    contact_width: LengthByLength
    radial_section: LengthByLength
    axial_width: LengthByLength
    heel_thickness: LengthByLength
    extended_heel_ratio: Ratio
    strip_thickness: LengthByLength
    finger_length: LengthByLength
    finger_angle: Angle
    finger_coverage: Share
    finger_deflection: LengthByLength
    coil_wire_diameter: LengthByLength
    coil_height: LengthByLength
    coil_width_ratio: Ratio
    coil_pitch_ratio: Ratio
    coil_cant_angle: Angle
    coil_deflection_share: Share


@dataclass(frozen=True, slots=True, config=CONFIG)
class LipFormEffect:
    """What the form of an energized lip does to contact width and line load."""

    contact_width_factor: Ratio
    load_factor: Ratio


@dataclass(frozen=True, slots=True, config=CONFIG)
class FollowingRule:
    """Constants of the runout model."""

    service_time: Duration


@dataclass(frozen=True, slots=True, config=CONFIG)
class LipRule:
    """What the sizes of lips of both families have in common."""

    reference_diameter: Length
    """Shaft diameter at which sizes are given."""
    length_power: Ratio
    interference_power: Ratio
    clearance_power: Ratio
    reference_modulus: Stress
    """Modulus at room temperature for which the slenderness is given."""
    runout_share: Ratio
    """Radial interference that a relaxed lip needs, over the runout that it follows."""
    hot_share: Ratio
    """Share of the interference lost in the heat that is made up for."""
    wander_margin: Length
    cold_margin: Length
    bore_angle_max: Angle


@dataclass(frozen=True, slots=True, config=CONFIG)
class ContactRule:
    """Limits of the contact of a lip with its shaft."""

    plastic_ratio: Ratio
    """Mean contact pressure at which a compound flows, over its yield strength."""
    least_load: LineLoad
    """Load below which a lip is not taken to touch."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class EnergizerRule:
    """Constants of the energizer models."""

    metal_modulus_scatter: Ratio
    elastomer_modulus_scatter: Ratio
    working_load_share: Ratio
    o_ring_squeeze_limit: Ratio
    shear_yield_ratio: Ratio


@dataclass(frozen=True, slots=True, config=CONFIG)
class Sizing:
    """File ``sizing.toml``: dimensions and choices a request may leave out, and the constants of the lip models."""

    energizer_alloy: Usual
    o_ring_elastomer: Usual
    garter_alloy: Usual
    flexible_lip: FlexibleLipSizing
    energized_lip: EnergizedLipSizing
    lip_forms: dict[Literal["plain", "scraper", "tapered"], LipFormEffect]
    """Effect of each form of lip."""
    following: FollowingRule
    lip: LipRule
    contact: ContactRule
    energizer: EnergizerRule

    def __post_init__(self) -> None:
        missing = [name for name in FEATURES["energized_lip"]["lip_form"] if name not in self.lip_forms]
        if missing:
            raise fault("lip_forms", f"{missing[0]} is missing", "plain, scraper and tapered")


@dataclass(frozen=True, slots=True, config=CONFIG)
class FluidFilms:
    """Film coefficient on the wetted shaft: what is taken by phase where a property of the fluid is not known, and constants."""

    liquid: FilmCoefficient
    gas: FilmCoefficient
    grease: FilmCoefficient
    paste: FilmCoefficient
    liquefied_gas: FilmCoefficient
    packed_thickness: Length
    """Thickness of grease or paste around the shaft through which heat is conducted."""
    condensing: FilmCoefficient
    """Where vapour condenses on the shaft."""
    condensing_superheat: TemperatureDifference
    """Superheat of a vapour from which nothing condenses on the shaft."""
    boiling_superheat: TemperatureDifference
    """Superheat of the shaft to which bubbles form and leave."""
    vapour: FilmCoefficient
    """Under a film of vapour."""
    wetted_mist: Share
    """Share of the shaft that splash and mist wet."""
    wetted_starved: Share
    """The same where little gets to the lip."""
    viscosity_reach: TemperatureDifference
    """How far beyond its points a viscosity is continued."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class DryRun:
    """The shaft that takes up the heat of a lip that runs dry."""

    shaft_density: Density
    shaft_heat_capacity: HeatCapacity


@dataclass(frozen=True, slots=True, config=CONFIG)
class LubricationRule:
    """Constants of the film between lip and shaft."""

    duty_number_half: Ratio
    """Duty number at which half of what a film may carry is carried."""
    full_film_share: Share
    """Share of the load that solid contact bears in a full film."""
    full_film_share_particles: Share
    """The same where the fluid carries solids."""
    film_friction_factor: Ratio
    """Friction coefficient of a full film over the cube root of the duty number."""
    supply_grease: Share
    """Duty number in grease over that of a flooded lip."""
    supply_mist: Share
    """The same in oil mist and splash."""
    supply_starved: Share
    """The same where little gets to the lip."""
    boiling_distance: TemperatureDifference
    """Distance below boiling from which the film is lost."""
    reversal_floor: Share
    """Share of the load that solid contact bears at the least in a slow swing."""
    reversal_speed: SurfaceSpeed
    """Mean speed up to which that holds."""
    greatest_viscosity: Viscosity
    """Viscosity beyond which nothing more is gained."""
    reach_cold: TemperatureDifference
    """How far below its coldest point a viscosity is continued."""
    reach_hot: TemperatureDifference
    """How far above its hottest point a viscosity is continued."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class SolidsFactors:
    """Factors of solids in the fluid on wear."""

    powder: Ratio
    dough: Ratio
    chips: Ratio
    """Sugar, chips, pigments."""
    slurry: Ratio


@dataclass(frozen=True, slots=True, config=CONFIG)
class FluidFactors:
    """Factors on wear of fluids that protect less than what stands for them, or that leave crystals at the lip."""

    fuel: Ratio
    """Thin fuels, over oil."""
    solvent: Ratio
    """Thin organic liquids, over water."""
    crystals: Ratio
    """Solutions that dry to hard crystals."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class DryInertFactors:
    """Factors of an inert gas without water on wear, by filler; of several fillers the greatest counts."""

    carbon_or_graphite: Ratio
    glass: Ratio
    carbon_fibre: Ratio
    other: Ratio


@dataclass(frozen=True, slots=True, config=CONFIG)
class TargetLives:
    """Lives that are wanted of a seal, by the machine."""

    gearbox: Duration
    electric_motor: Duration
    compressor: Duration
    process_pump: Duration
    hygienic_machine: Duration
    mixer: Duration
    rotary_union: Duration
    spindle: Duration
    engine: Duration
    heavy_slow_shaft: Duration
    not_stated: Duration


@dataclass(frozen=True, slots=True, config=CONFIG)
class WearRule:
    """How much wear a lip has to give."""

    lip_allowance_share: Share
    """Share of the lip thickness that may wear."""
    energizer_allowance_share: Share
    """Share of the travel of the energizer that wear may use up."""
    lost_load_share: Share
    """Share of the load that is left where a lip is taken as worn out."""
    solid_load_floor: Share
    """Least share of the load that solid contact bears, whatever the pressure under it."""
    temperature_filled: RatioByTemperature
    """Factor of the temperature of the contact on the wear of filled PTFE; four points."""
    temperature_unfilled: RatioByTemperature
    """The same for unfilled PTFE, at the same points."""
    finish_roughness: Roughness
    """Roughness up to which the finish of the shaft does not count."""
    finish_exponent: Ratio
    """Power of the roughness beyond it with which wear grows."""
    mild_speed: SurfaceSpeed
    """Sliding speed up to which dry unfilled PTFE wears mildly."""
    severe_speed: SurfaceSpeed
    """Sliding speed from which on it wears severely, as its rate says."""
    mild_factor: Share
    """Rate of its mild wear over that of its severe wear."""
    known_pressure: Stress
    """Mean contact pressure up to which wear was measured."""
    fluids: FluidFactors
    """Factors of fluids on wear."""
    solids: SolidsFactors
    """Factors of solids in the fluid on wear."""
    dry_inert: DryInertFactors
    """Factors of an inert gas without water on wear, by filler."""
    seal_scatter: Ratio
    """Ratio of the ends of life between which nine in ten seals of one kind lie."""
    probability_fail: Share
    """Probability of a life that is asked for, below which it is failed."""
    probability_caution: Share
    """Probability of a life below which it is a caution."""
    targets: TargetLives
    """Lives that are wanted where a request states none, by the machine."""
    longest_life: Duration
    """Longest life that is estimated; a longer one is told as this or more."""

    def __post_init__(self) -> None:
        if len(self.temperature_filled.x) != 4:
            raise fault("temperature_filled", f"has {len(self.temperature_filled.x)} points", "four points")
        if self.temperature_unfilled.si_x != self.temperature_filled.si_x:
            raise fault("temperature_unfilled", "has other temperatures", "those of temperature_filled")
        if self.severe_speed.si <= self.mild_speed.si:
            raise fault("severe_speed", "not above mild_speed", "a speed above it")
        if self.probability_fail.si >= self.probability_caution.si:
            raise fault("probability_fail", "is not below probability_caution", "less than probability_caution")


DutyField: TypeAlias = Literal[
    "surface_speed", "pressure", "runout", "offset", "shaft.hardness", "shaft.roughness", "shaft.machining_lead"
]
"""Fields of a duty that can be brought to a capacity."""
RuleSetName: TypeAlias = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9][A-Za-z0-9_.-]*$", max_length=64)]
FilmCorrelation: TypeAlias = Literal[
    "anderson_saunders", "becker", "etemad", "kays_bjorklund", "dropkin_carmi", "ozerdem"
]


@dataclass(frozen=True, slots=True, config=CONFIG)
class Running:
    """File ``running.toml``: constants of friction, heat and wear."""

    fresh_time: Duration
    nominal_time: Duration
    excluder_load_share: Ratio
    redundant_load_share: Ratio
    ambient_temperature: Temperature
    air_side_below: TemperatureDifference
    """How far the air side lies below the fluid at most, where the request states no temperature there."""
    shaft_conductivity: Conductivity
    shaft_length_ratio: Ratio
    housing_length_ratio: Ratio
    film_correlation: FilmCorrelation
    pressure_rating_temperature: Temperature
    """To which the rated pressure of an energized lip holds; beyond, it falls with the strength of the hot compound."""
    dry_pv_factor: Ratio
    """Limiting PV of a dry contact over that of the compound."""
    wet_pv_factor: Ratio
    """Limiting PV of a wet contact over that of the compound, on what solid contact bears."""
    root_stress_share: Ratio
    """Stress that the root of a lip bears for long, over the yield strength at short time."""
    fluid_film: FluidFilms
    dry_run: DryRun
    lubricant: Usual
    """Fluid that wets a lip in a gas where a request says that the lip is lubricated."""
    lubrication: LubricationRule
    wear: WearRule


@dataclass(frozen=True, slots=True, config=CONFIG)
class AimWeights:
    """Weights of the aims by which passing designs are ranked."""

    margin: Ratio
    """Distance of the worst criterion from its limit."""
    friction: Ratio
    """Low friction torque."""
    life: Ratio
    """Long life."""
    simplicity: Ratio
    """Few features to machine and fit."""
    practice: Ratio
    """A family that is usual in such a duty."""
    evidence: Ratio
    """Rated capacities that rest on more than an estimate."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class Practice:
    """Where the trade takes either family: wholly usual at one end, not at all at the other."""

    flexible_pressure_usual: Pressure
    """Pressure up to which a flexible lip is usual."""
    flexible_pressure_unusual: Pressure
    """Pressure from which it is not; in between by the logarithm."""
    flexible_vacuum_usual: Pressure
    """Vacuum up to which a flexible lip is usual."""
    flexible_vacuum_unusual: Pressure
    """Vacuum from which it is not."""
    energized_speed_usual: SurfaceSpeed
    """Surface speed up to which an energized lip is usual."""
    energized_speed_unusual: SurfaceSpeed
    """Surface speed from which it is not; in between by the logarithm."""
    flexible_cold_usual: Temperature
    """Lowest temperature down to which a flexible lip is usual."""
    flexible_cold_unusual: Temperature
    """Lowest temperature from which on it is not."""
    flexible_hot_usual: Temperature
    """Normal temperature up to which a flexible lip is usual."""
    flexible_hot_unusual: Temperature
    """Normal temperature from which on it is not."""

    def __post_init__(self) -> None:
        pairs = (
            ("flexible_pressure_usual", "flexible_pressure_unusual"), ("energized_speed_usual", "energized_speed_unusual"),
            ("flexible_vacuum_usual", "flexible_vacuum_unusual"),
            ("flexible_cold_unusual", "flexible_cold_usual"), ("flexible_hot_usual", "flexible_hot_unusual"),
        )  # fmt: skip
        for lower, upper in pairs:
            if not getattr(self, lower).si < getattr(self, upper).si:
                raise fault(upper, f"is not above {lower}", f"more than {lower}")
        for name in ("flexible_pressure_usual", "energized_speed_usual"):
            if getattr(self, name).si <= 0.0:
                raise fault(name, "is not above zero", "more than 0")


@dataclass(frozen=True, slots=True, config=CONFIG)
class Aims:
    """File ``aims.toml``: how passing designs are ranked."""

    weights: AimWeights
    """Weights where a request gives none."""
    least_life: Duration
    """Nominal life up to which the aim of a long life earns nothing."""
    ample_life: Duration
    """Nominal life from which on it earns all; in between by the logarithm."""
    alike_life: Ratio
    """Share of the longest life from which on lives count as alike, where no design lasts as long as is wanted."""
    material_in_doubt: Ratio
    """Share of the score that each material takes that is not known to stand the fluid."""
    near_limit: Ratio
    """Share of the score that each criterion with numbers takes that passes with care only."""
    practice: Practice
    """Where the trade takes either family."""
    effort: dict[Name, Ratio]
    """Effort of each option beyond the plainest seal, by ``field_value``."""

    def __post_init__(self) -> None:
        if self.least_life.si >= self.ample_life.si:
            raise fault("ample_life", "is not longer than least_life", "more than least_life")


@dataclass(frozen=True, slots=True, config=CONFIG)
class AuditRule:
    """File ``audit.toml``: how rule sets are audited. Each range is the envelope that is sampled."""

    max_jump: Ratio
    """Relative jump from which a table counts as having a cliff."""
    shaft_diameter: Length
    """Range of shaft diameters, and the plain one."""
    surface_speed: SurfaceSpeed
    """Range of surface speeds, and the plain one."""
    pressure: Pressure
    """Range of pressures, and the plain one."""
    temperature: Temperature
    """Range of temperatures, and the plain one."""
    runout: Length
    """Range of runouts, and the plain one."""
    offset: Length
    """Range of offsets, and the plain one."""
    hardness: HardnessRockwellC
    """Range of shaft hardness, and the plain one."""
    roughness: Roughness
    """Range of shaft roughness, and the plain one."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class CautionRule:
    """A warning and when it applies; with no condition it always does."""

    text: str
    hazards: list[Hazard] = field(default_factory=list)
    pressure_above: Pressure | None = None
    temperature_above: Temperature | None = None
    temperature_below: Temperature | None = None
    food_contact: Truth = False


@dataclass(frozen=True, slots=True, config=CONFIG)
class Change:
    """A change that may cure a criterion: design fields to set, or duty fields brought to the capacity."""

    title: str
    """The change in words."""
    criteria: list[str]
    """Criteria it may cure."""
    design: dict[str, FeatureValue] = field(default_factory=dict)
    """Design fields to set."""
    family: Family | None = None
    """Family of the designs it can be made on."""
    to_capacity: DutyField | None = None
    """Field of the duty to bring to what the criterion allows."""
    rank: Count = 100
    """Place among the proposals: lower first."""

    def __post_init__(self) -> None:
        if bool(self.design) == (self.to_capacity is not None):
            raise fault("", "gives not one of design and to_capacity", "exactly one of them")
        _check_features(self.design, "design", self.family, (*_MATERIALS, "lip_direction"))
        way = self.design.get("lip_direction", "toward")
        if way not in {"toward", "away"}:
            raise fault("design.lip_direction", f"{written(way)} is not a value of it", '"toward", "away"')


@dataclass(frozen=True, slots=True, config=CONFIG)
class Approval:
    """Who stands for a version of a rule set."""

    who: Annotated[str, StringConstraints(min_length=2, max_length=200, strip_whitespace=True)]
    """Person or office."""
    on: Date
    """Day of the approval."""
    version: str
    """Version that was approved: of another version it is none."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class Header:
    """File ``rule_set.toml``: what the set is called, what it extends and from when it holds."""

    name: RuleSetName
    """Name to give in the `rule_set` of a request."""
    version: str
    """Version of the set."""
    title: str
    """What it is."""
    description: str
    """What it rests on."""
    extends: str | None = None
    """Rule set of which this one takes everything that it does not state itself."""
    valid_from: Date | None = None
    """Date from which the set can be asked; taken from the extended set where absent."""
    remove: list[str] = field(default_factory=list)
    """What is left out of the extended set, as dotted keys that begin with the name of the file."""
    approved_by: Approval | None = None
    """Who approved it, and when."""


@dataclass(frozen=True, slots=True, config=CONFIG)
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
    aims: Aims
    audit: AuditRule
    cautions: dict[Name, CautionRule]
    changes: dict[Name, Change]
    gland: Gland
    o_rings: ORings
    expansion: ThermalExpansion
    blank: Blank
    alternatives: Alternatives
    requirements: Requirements
    unknowns: Unknowns
    calibration: Beliefs
    fillers: dict[Filler, FillerRule]
    bands: dict[BandKey, Band]
    """What is believed of each kind of value; see :mod:`glandwise.rules.plausibility`."""


_LEAVES = frozenset({str, float, int, bool, date, type(None)})
"""Types of what holds nothing else."""


@cache
def _within(kind: type) -> tuple[bool, tuple[str, ...]] | None:
    """Tell whether a record of some type carries a source, and name its fields; ``None`` for what is no record."""
    if not is_dataclass(kind):
        return None
    names = tuple(item.name for item in fields(kind) if item.init)
    return all(name in names or hasattr(kind, name) for name in ("source", "evidence")), names


def walk(value: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    """Yield ``(dotted path, record)`` for every record of a rule set that carries a source."""
    record = _within(type(value))  # type: ignore[arg-type, unused-ignore]
    entries: Iterable[tuple[str, Any]] = ()
    if record is not None:
        sourced, names = record
        if sourced:
            yield path, value
        entries = ((f"{path}.{name}" if path else name, getattr(value, name)) for name in names)
    elif isinstance(value, dict):
        entries = ((f"{path}.{key}" if path else str(key), entry) for key, entry in value.items())
    elif isinstance(value, list):
        entries = ((f"{path}[{index}]", entry) for index, entry in enumerate(value))
    for place, entry in entries:
        if type(entry) not in _LEAVES:
            yield from walk(entry, place)
