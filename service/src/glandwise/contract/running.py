"""Requests and results of friction and wear estimates."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import model_validator

from glandwise.contract import quantities as q
from glandwise.contract.base import CalculationRequest, Count, Number, RequestModel, Result, ResultModel, Status
from glandwise.contract.design import Design
from glandwise.contract.duty import Duty, one_target
from glandwise.contract.energizer import Sampling, Sensitivity
from glandwise.contract.quantities import AnyQuantity


class HeatSurroundings(RequestModel):
    """What carries the frictional heat away; each field by the rules when absent."""

    ambient_temperature: q.Temperature | None = None
    """Temperature on the air side."""
    shaft_conductivity: Annotated[float, q.Measured("thermal_conductivity", "positive", 0.1, 1000.0)] | None = None
    """Thermal conductivity of the shaft; that of the shaft material when absent."""
    shaft_length: q.AxialLength | None = None
    """Length of shaft each side of the seal that carries heat away; its end is taken as insulated."""
    fluid_film: Annotated[float, q.Measured("heat_transfer_coefficient", "positive", 1.0, 1e6)] | None = None
    """Film coefficient of the wetted shaft."""
    correlation: (
        Literal["anderson_saunders", "becker", "etemad", "kays_bjorklund", "dropkin_carmi", "ozerdem"] | None
    ) = None
    """Correlation of the film coefficient of a shaft turning in air."""


class LipTolerances(RequestModel):
    """Tolerances of what makes the load, each either way."""

    shaft_diameter: q.Tolerance | None = None
    """Of the shaft diameter; changes the interference."""
    lip_bore: q.Tolerance | None = None
    """Of the diameter of the lip as made; changes the interference."""
    lip_thickness: q.Tolerance | None = None
    """Of the lip thickness."""
    lip_length: q.Tolerance | None = None
    """Of the free length of the lip."""
    contact_width: q.Tolerance | None = None
    """Of the contact width."""
    energizer_deflection: q.Tolerance | None = None
    """Of the deflection of the energizer."""


class FrictionEstimateRequest(CalculationRequest):
    """A duty and a design: what load, torque, power and contact temperature?"""

    duty: Duty
    """What the seal has to live with."""
    design: Design
    """Which seal is asked about."""
    surroundings: HeatSurroundings = HeatSurroundings()
    """What carries the heat away."""
    tolerances: LipTolerances | None = None
    """Tolerances; with them the spread of interference, load, torque and temperature is given."""
    sampling: Sampling = Sampling()
    """How tolerances are sampled."""


class LoadParts(ResultModel):
    """Contact load of the main lip by what makes it."""

    lip: q.WrittenLineLoad
    """By the interference of the lip, relaxed."""
    energizer: q.WrittenLineLoad
    """By the energizer."""
    pressure: q.WrittenLineLoad
    """By the sealed pressure."""
    total: q.WrittenLineLoad
    """All together, never below zero."""
    solid: q.WrittenLineLoad
    """Borne by solid contact: the sealed pressure in the film under the lip bears the rest, at most half."""


class LipFriction(ResultModel):
    """Friction of one lip."""

    lip: Literal["main", "excluder", "redundant"]
    """Which lip."""
    line_load: q.WrittenLineLoad
    """Contact load per circumference."""
    contact_width: q.WrittenLength
    """Axial width of the contact: pressure spreads it, and a hot compound does not bear its load on less."""
    friction_coefficient: Number
    """As this lip runs: the film of a second lip is that of its own load."""
    mean_contact_pressure: q.WrittenStress
    """Load over contact width."""
    torque: q.WrittenTorque
    """Friction torque."""
    power: q.WrittenPower
    """Frictional heat."""


class FrictionLevel(ResultModel):
    """Friction at one end of what is known, or at its nominal."""

    level: Literal["low", "nominal", "high"]
    """`low`: relaxed lip, low friction; `nominal`: after a day; `high`: new lip, high friction."""
    time: q.WrittenTime
    """Time under load at which it is taken."""
    boundary_friction_coefficient: Number
    """Friction coefficient where solid contact bears all of the load."""
    friction_coefficient: Number
    """Friction coefficient of the main lip as it runs: solid contact and film side by side; that of solid contact without a balance."""
    film_share: Number | None
    """Share of the load that a film carries: 0 dry and at rest, near 0.9 at speed in oil."""
    duty_number: Number | None
    """Viscosity times angular speed over mean contact pressure, as far as the lip is supplied."""
    viscosity: q.WrittenDynamicViscosity | None
    """Viscosity of the fluid where the lip rubs; null where nothing wets it."""
    converged: bool
    """Whether heat made and heat carried away balance; without a balance the numbers are null."""
    iterations: Count
    """Evaluations used to find the balance."""
    contact_temperature: q.WrittenTemperature | None
    """Temperature where the main lip rubs."""
    torque: q.WrittenTorque | None
    """Friction torque of all lips."""
    power: q.WrittenPower | None
    """Frictional heat of all lips."""
    conductance: q.WrittenThermalConductance | None
    """Heat carried away per difference to the heat sink."""
    lip_state: Literal["edge", "laid", "lifted", "no_contact"] | None
    """How the main lip stands: on the edge of its tip, laid down on the shaft, lifted by pressure, or off the shaft because
    it has grown more than its interference."""
    load: LoadParts | None
    """Contact load of the main lip; each part is what it adds to those before."""
    lips: list[LipFriction]
    """Each lip; empty without a balance."""


class Spread(ResultModel):
    """A quantity at the ends of the tolerances."""

    minimum: AnyQuantity | None
    """Least over all combinations of extremes; null where the model does not reach."""
    nominal: AnyQuantity | None
    """With nominal values."""
    maximum: AnyQuantity | None
    """Greatest over all combinations of extremes."""
    percentile_5: AnyQuantity | None
    """Below it lie 5 % of the samples."""
    percentile_95: AnyQuantity | None
    """Below it lie 95 % of the samples."""


class FrictionSpread(ResultModel):
    """What tolerances and the range of friction do, after a day of running."""

    interference: Spread
    """Diametral interference of the lip on the shaft."""
    line_load: Spread
    """Contact load of the main lip."""
    torque: Spread
    """Friction torque of all lips."""
    contact_temperature: Spread
    """Contact temperature."""
    sensitivities: list[Sensitivity]
    """Of the torque, by falling swing."""
    samples: Count
    """Samples taken."""


class FrictionEstimateResult(Result):
    """Load, torque, power and contact temperature as a range."""

    verdict: Status
    """On the contact temperature: `fail` when the nominal one is beyond its limit, `caution` when the high one is."""
    summary: str
    """The estimate in one sentence."""
    levels: list[FrictionLevel]
    """Low, nominal, high."""
    surface_speed: q.WrittenSurfaceSpeed
    """Mean surface speed."""
    temperature_limit: q.WrittenTemperature
    """Highest temperature of the contact."""
    temperature_limit_by: Literal["compound", "fluid"]
    """What sets it: the compound, or what wets the lip, which leaves hard deposits above it."""
    spread: FrictionSpread | None
    """What tolerances do; null when none are given."""


class WearEstimateRequest(CalculationRequest):
    """A duty and a design: how fast does the lip wear, how long may it last?"""

    duty: Duty
    """What the seal has to live with."""
    design: Design
    """Which seal is asked about."""
    surroundings: HeatSurroundings = HeatSurroundings()
    """What carries the heat away."""
    wear_allowance: q.SmallLength | None = None
    """Radial wear at which the seal is taken as worn out; by the rules when absent."""
    target_life: q.Duration | None = None
    """Life wanted, another place for that of the duty."""

    @model_validator(mode="after")
    def _one_target(self) -> WearEstimateRequest:
        one_target(self)
        return self


class WearRange(ResultModel):
    """Wear, which is only known as a range."""

    low: q.WrittenLength
    """Favourable end."""
    nominal: q.WrittenLength
    """Nominal."""
    high: q.WrittenLength
    """Unfavourable end."""


class LifeRange(ResultModel):
    """Life as a range; two digits are more than is known."""

    short: q.WrittenTime | None
    """Nineteen in twenty seals live longer; null when wear does not govern."""
    sure: q.WrittenTime | None
    """Four in five seals live longer; null when wear does not govern."""
    nominal: q.WrittenTime | None
    """Median: half of the seals live longer; null when wear does not govern."""
    long: q.WrittenTime | None
    """One in twenty seals lives longer; null when wear does not govern."""
    longest: q.WrittenTime
    """Longest life that is estimated: an end that equals it is this or more."""


class WearEstimateResult(Result):
    """Wear as a range; a range is all that is known."""

    verdict: Status
    """By the probability that the target is reached: a target that was stated fails below 0.05; below 0.5, and where the contact
    presses harder than wear was measured at, it is a caution."""
    summary: str
    """The estimate in a few sentences."""
    target_life: q.WrittenTime
    """Life that is wanted."""
    target_stated: bool
    """Whether the request states it; else it is that of the rules for the machine."""
    life_probability: Number | None
    """Probability that the target is reached; null when it is not known."""
    specific_wear_rate_low: q.WrittenSpecificWearRate | None
    """Favourable specific wear rate where solid contact bears all of the load, with all factors of this duty."""
    specific_wear_rate_nominal: q.WrittenSpecificWearRate | None
    """Nominal specific wear rate where solid contact bears all of the load, with all factors of this duty."""
    specific_wear_rate_high: q.WrittenSpecificWearRate | None
    """Unfavourable specific wear rate where solid contact bears all of the load, with all factors of this duty."""
    film_share: Number | None
    """Share of the load that a film carries after running in; it does not wear."""
    mean_contact_pressure: q.WrittenStress | None
    """Contact pressure after running in."""
    contact_temperature: q.WrittenTemperature | None
    """Contact temperature of the running lip."""
    wear_allowance: q.WrittenLength
    """Radial wear at which the seal is taken as worn out, if it has not lost its load before."""
    allowance_by: str
    """What ends the life."""
    wear_per_1000_h: WearRange | None
    """Radial wear in the first 1000 h of running at the rate after running in, with the range of the wear rate; null when it is
    not known."""
    life: LifeRange | None
    """Running time to the end of life; null when it is not known."""
    to_half_load: q.WrittenTime | None
    """Median running time to half of the load of a new lip; null when another end comes before."""
    to_lost_load: q.WrittenTime | None
    """Median running time to the load that counts as lost; null when another end comes before."""
    sliding_distance_per_1000_h: q.WrittenLength
    """Sliding distance in 1000 h."""
