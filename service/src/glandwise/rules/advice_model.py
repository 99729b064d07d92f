"""Shape of the rule data of advice: files ``alternatives.toml``, ``requirements.toml``, ``unknowns.toml``, ``calibration.toml`` and
``fillers.toml``."""

from __future__ import annotations

from datetime import date
from typing import Literal, TypeAlias

from pydantic.dataclasses import dataclass

from glandwise.rules.values import (
    CONFIG,
    Angle,
    Duration,
    Evidence,
    HardnessRockwellC,
    Length,
    Name,
    Pressure,
    PressureVelocity,
    Ratio,
    Roughness,
    SourceId,
    SurfaceSpeed,
    Temperature,
    TemperatureDifference,
    fault,
)

FoodContact: TypeAlias = Literal["candidate", "not_a_candidate", "not_known"]


@dataclass(frozen=True, slots=True, config=CONFIG)
class Rubber:
    """Limits of a rubber in a standard lip seal, in oil or grease that it stands."""

    temperature_min: Temperature
    """Lowest temperature."""
    temperature_max: Temperature
    """Highest temperature for a usual life."""
    surface_speed_max: SurfaceSpeed
    """Highest speed in oil; above the lower end of the range only where the oil is plenty."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class ElastomerLip:
    """When a standard elastomer lip seal would do."""

    title: str
    """What it is."""
    pressure_max: Pressure
    """Greatest pressure, either way."""
    eccentricity_max: Length
    """Greatest runout of the bore against the shaft, total indicator reading."""
    rubbers: dict[Name, Rubber]
    """Limits by elastomer, the usual one first."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class FaceSeal:
    """Product of sealed pressure and speed above which a mechanical face seal is sounder."""

    title: str
    """What it is."""
    liquid: PressureVelocity
    """In a liquid that is no lubricant."""
    oil: PressureVelocity
    """In a lubricating liquid."""
    oil_speed: SurfaceSpeed
    """Speed above which that holds in a lubricating liquid: slow swivels are sealed by lips at any pressure."""
    toxic: PressureVelocity
    """In a toxic liquid that is no lubricant."""
    dry: PressureVelocity
    """In a gas or steam."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class Packing:
    """When a packing would do or is sounder."""

    title: str
    """What it is."""
    temperature_above: Temperature
    """Temperature above which it is sounder at any pressure."""
    temperature_under_pressure: Temperature
    """Temperature above which it is sounder under `pressure_when_hot`."""
    pressure_when_hot: Pressure
    """Pressure above which it is sounder when hot."""
    stem_speed: SurfaceSpeed
    """Mean speed up to which a shaft counts as a stem."""
    stem_pressure: Pressure
    """Pressure from which a stem is packed."""
    solids_speed: SurfaceSpeed
    """Speed up to which a packing runs in a fluid with solids."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class Labyrinth:
    """When a seal that does not touch would do or is sounder."""

    title: str
    """What it is."""
    dry_speed: SurfaceSpeed
    """Speed above which a lip without lubrication wears away within weeks."""
    abrasive_speed: SurfaceSpeed
    """Speed above which solids wear any lip."""
    open_speed: SurfaceSpeed
    """Speed above which one is usual where next to no pressure is sealed."""
    open_pressure: Pressure
    """Pressure up to which that holds, either way."""
    any_speed: SurfaceSpeed
    """Speed above which it is sounder in any fluid."""
    heat: PressureVelocity
    """Product of sealed pressure and speed above which nothing that rubs is cooled."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class Alternatives:
    """File ``alternatives.toml``: where another kind of seal would do, or is sounder."""

    elastomer_lip: ElastomerLip
    mechanical_face_seal: FaceSeal
    packing: Packing
    labyrinth: Labyrinth


@dataclass(frozen=True, slots=True, config=CONFIG)
class Requirements:
    """File ``requirements.toml``: what has to stand on the drawing of the hardware."""

    hardness: HardnessRockwellC
    """Least hardness of the shaft at low speed."""
    hardness_fast: HardnessRockwellC
    """Least hardness of the shaft above `fast`."""
    fast: SurfaceSpeed
    """Speed above which the shaft has to be harder."""
    hardness_solids: HardnessRockwellC
    """Least hardness of the surface where solids come under the lip."""
    finish_oil: Roughness
    """Ra of the shaft in oil or grease."""
    finish_other: Roughness
    """Ra of the shaft in water, gas and other fluids."""
    lead_angle: Angle
    """Greatest angle of a lead."""
    back_up_ring_above: Pressure
    """Pressure above which a ring behind the heel is asked for."""
    barrier_vacuum: Pressure
    """Vacuum, as pressure below that of the air, from which on a single lip between liquid and air does not do."""
    leak_slit: Roughness
    """Height of the slit that stands for the roughness of a contact, for the order in which gas passes."""
    bearing_play_share: Ratio
    """Share of the runout at the lip that the play of the bearings may take."""
    fitting_stretch: Ratio
    """Stretch of a lip over its shaft above which it is warmed before it is fitted."""
    fitting_temperature: Temperature
    """Temperature to which it is warmed."""
    fitting_angle: Angle
    """Greatest angle of a fitting cone to the axis."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class Unknowns:
    """File ``unknowns.toml``: what an enquiry that leaves something out may plausibly mean.

    Of a number the range from low to high is what may plausibly be; of a choice how many of such enquiries mean it.
    """

    runout: Length
    """Runout of the shaft, total indicator reading."""
    offset: Length
    """Offset of the shaft from its bore."""
    shaft_hardness: HardnessRockwellC
    """Hardness of the shaft."""
    shaft_roughness: Roughness
    """Roughness Ra of the shaft."""
    colder: TemperatureDifference
    """How far the lowest temperature lies below the normal one."""
    hotter: TemperatureDifference
    """How far the highest temperature lies above the normal one."""
    target_life: Duration
    """Life of running that is wanted."""
    lead_present: Ratio
    """Share of shafts that have a machining lead."""
    dusty: Ratio
    """Share of duties with dust on the air side."""
    abrasive: Ratio
    """Share of duties with abrasive dirt there."""
    wet: Ratio
    """That it is rain, splash or a hose."""
    mist: Ratio
    """Share of lips in a liquid that are wetted by mist or splash."""
    starved: Ratio
    """Share of lips in a liquid or grease to which little gets."""
    throat_clearance: Ratio
    """Clearance of the opening behind the seal over the usual one."""
    bore_class: dict[Name, Ratio]
    """Share of bores that are made to a tolerance class."""
    shaft_material: dict[Name, Ratio]
    """Share of shafts of a material."""
    housing_material: dict[Name, Ratio]
    """Share of housings of a material."""

    def __post_init__(self) -> None:
        for name in ("runout", "offset", "shaft_roughness", "target_life", "throat_clearance"):
            if not getattr(self, name).si_low > 0.0:
                raise fault(name, "has a range that does not begin above zero", "low and high, low more than 0")
        for names in (("dusty", "abrasive", "wet"), ("mist", "starved"), ("lead_present",)):
            if sum(getattr(self, name).si for name in names) > 1.0:
                raise fault(names[0], "is more than a whole with what goes beside it", "shares of at most 1 in all")
        for name in ("bore_class", "shaft_material", "housing_material"):
            if not sum(share.si for share in getattr(self, name).values()) > 0.0:
                raise fault(name, "says of nothing how many mean it", "at least one share above 0")
        for name in self.bore_class:
            if not (name[:1].isupper() and name[-1:].isdigit()):
                raise fault("bore_class", f"{name!r} is no tolerance class of a bore", "such as H8")


def _with_ranges(record: object, *names: str) -> None:
    """Refuse numbers without a range above zero: it is what is believed."""
    for name in names:
        datum = getattr(record, name)
        if not 0.0 < datum.si_low < datum.si_high:
            raise fault(name, "has no range above zero", "low and high, low more than 0 and less than high")


@dataclass(frozen=True, slots=True, config=CONFIG)
class Scatter:
    """How specimens scatter around the value of their kind, as standard deviations of logarithms."""

    wear: Ratio
    """Of specific wear rates."""
    friction: Ratio
    """Of friction coefficients."""
    relaxation: Ratio
    """Of shares that relax."""
    energizer_load: Ratio
    """Of loads of energizers of one kind."""
    pv_steps: Ratio
    """Of limiting PV."""

    def __post_init__(self) -> None:
        _with_ranges(self, *self.__slots__)


@dataclass(frozen=True, slots=True, config=CONFIG)
class Readings:
    """How readings of one specimen scatter around its line, as standard deviations of logarithms."""

    relaxation: Ratio
    """Of shares of a load that are left."""

    def __post_init__(self) -> None:
        _with_ranges(self, *self.__slots__)


@dataclass(frozen=True, slots=True, config=CONFIG)
class OffBy:
    """Factors by which what the house has without a range may be off."""

    relaxation: Ratio
    """On the shares of the series of a compound."""
    energizer_load: Ratio
    """On the elastic modulus with which springs work."""
    limiting_pv: Ratio
    """On the limiting PV of a compound."""

    def __post_init__(self) -> None:
        _with_ranges(self, *self.__slots__)


@dataclass(frozen=True, slots=True, config=CONFIG)
class Beliefs:
    """File ``calibration.toml``: what is believed before records are looked at; each range is nine in ten."""

    scatter: Scatter
    """How specimens scatter."""
    readings: Readings
    """How readings of a specimen scatter."""
    factor: OffBy
    """How far what has no range may be off."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class FillerRule:
    """What is known of a filler whatever the compound."""

    title: str
    """Name in words."""
    food_contact: FoodContact
    """Whether a compound with it is a candidate for food contact; none is cleared by that."""
    regulation: str
    """Regulation that names it, or that none is known."""
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
