"""Request and result of thermal fits."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from glandwise.contract import quantities as q
from glandwise.contract.base import CalculationRequest, Criterion, Governing, Number, Result, ResultModel, Status
from glandwise.contract.design import Design
from glandwise.contract.duty import Duty
from glandwise.contract.gland import Gland, check_gland_fits


class ThermalFitRequest(CalculationRequest):
    """A duty, a design and a gland: what does temperature do to their fits?"""

    duty: Duty
    """What the seal has to live with; the verdict covers its temperatures."""
    design: Design
    """Which seal is asked about."""
    gland: Gland = Gland()
    """Dimensions of the gland as far as they are known; whatever is left out is proposed as in a gland check."""
    assembly_temperature: q.Temperature | None = None
    """Temperature at which all parts were measured and put together; that of the rule set (20 degC) when absent."""
    temperatures: Annotated[list[q.Temperature], Field(min_length=1, max_length=1000)] | None = None
    """Temperatures of the curve; 40 from -253 degC to the top of the compound when absent."""

    @model_validator(mode="after")
    def _gland_fits(self) -> ThermalFitRequest:
        check_gland_fits(self.duty, self.design, self.gland)
        return self


class ThermalFitPoint(ResultModel):
    """The fits at one temperature of the whole assembly, nominal dimensions, every part growing as if free."""

    temperature: q.WrittenTemperature
    """Temperature."""
    mark: Literal["assembly", "minimum", "normal", "maximum"] | None
    """What the temperature is to the duty, its normal one first; null for a point of the curve only."""
    phase: Literal["II", "IV", "I"]
    """Phase of PTFE at this temperature and one atmosphere: II below about 20 degC, I above about 30 degC."""
    seal_strain: Number
    """Strain of the compound from the assembly temperature."""
    shaft_strain: Number
    """Strain of the shaft."""
    housing_strain: Number
    """Strain of the housing."""
    shaft_diameter: q.WrittenLength
    """Diameter of the shaft."""
    lip_diameter: q.WrittenLength
    """Diameter of the free lip."""
    interference: q.WrittenLength
    """Diametral interference of the lip on the shaft; negative when the free lip is larger."""
    lip_load: q.WrittenLineLoad
    """Load of that interference per length of contact before it relaxes; zero without interference. Where the cold has drawn
    the whole lip onto the shaft, so that its root touches, the load is at least this: that at which the root just stands
    free."""
    bore_diameter: q.WrittenLength
    """Diameter of the bore."""
    body_diameter: q.WrittenLength
    """Outside diameter of the free seal body."""
    body_clearance: q.WrittenLength
    """Diametral clearance of the body in the bore; negative when the bore confines it."""
    o_ring_squeeze: Number | None
    """Squeeze of the O-ring over its section, body centred; null without an O-ring."""
    case_interference: q.WrittenLength | None
    """Diametral interference of the case in the bore; null without a pressed-in case."""
    energizer_deflection: q.WrittenLength | None
    """Deflection of the energizer, stretch of the developed length for a garter; null without one."""
    energizer_load: q.WrittenLineLoad | None
    """Load of the energizer per length of contact; null without one, or where its model does not reach."""


class Transition(ResultModel):
    """The transitions of PTFE near room temperature, which no curve resolves."""

    lower: q.WrittenTemperature
    """Lower transition (II to IV) at one atmosphere."""
    upper: q.WrittenTemperature
    """Upper transition (IV to I) at one atmosphere."""
    lower_at_pressure: q.WrittenTemperature | None
    """Lower transition at the sealed pressure; null outside what was measured."""
    upper_at_pressure: q.WrittenTemperature | None
    """Upper transition at the sealed pressure; null outside what was measured."""
    crossed: bool
    """True when the seal works, at any temperature of the duty, in another phase than that in which it was measured."""
    least_length_change: Number
    """Least relative change of length over both transitions."""
    length_change: Number
    """Usual relative change of length."""
    greatest_length_change: Number
    """Greatest relative change of length."""
    lip_diameter_change: q.WrittenLength
    """What the usual change makes of the lip diameter: doubt about the interference within the band."""


class AfterHeat(ResultModel):
    """The seal body after it has once been at the greatest temperature in its bore."""

    body_diameter: q.WrittenLength
    """Outside diameter at the assembly temperature."""
    lost_diameter: q.WrittenLength
    """Diameter lost because the bore confined the hot body and it crept."""
    body_clearance: q.WrittenLength
    """Diametral clearance in the bore at the assembly temperature."""


class ThermalFitResult(Result):
    """Fits over temperature, and whether they hold."""

    verdict: Status
    """The worst criterion over the temperatures of the duty."""
    summary: str
    """The verdict in one sentence."""
    governing: Governing
    """The criterion that decides."""
    criteria: list[Criterion]
    """Every criterion, in a fixed order."""
    assembly_temperature: q.WrittenTemperature
    """Temperature at which the dimensions hold."""
    points: list[ThermalFitPoint]
    """Fits by temperature, increasing."""
    transition: Transition
    """The transitions of PTFE near room temperature."""
    after_heat: AfterHeat
    """What confined heating leaves of the body."""
