"""Request and result of an enquiry: one call for a quoting system."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import model_validator

from glandwise.contract import quantities as q
from glandwise.contract.advice import Alternative, Requirement
from glandwise.contract.base import CalculationRequest, Result, ResultModel, Status
from glandwise.contract.blank import BlankResult, Quantity
from glandwise.contract.design import Design
from glandwise.contract.duty import Duty
from glandwise.contract.envelope import EnvelopeCheckResult
from glandwise.contract.gland import Gland, GlandCheckResult, check_gland_fits
from glandwise.contract.running import FrictionEstimateResult, HeatSurroundings, WearEstimateResult
from glandwise.contract.selection import AimWeights, Restrictions, SelectionResult
from glandwise.contract.thermal_fit import ThermalFitResult


class EnquiryRequest(CalculationRequest):
    """A duty, and a design if one is proposed: everything a quote needs."""

    duty: Duty
    """What the seal has to live with."""
    design: Design | None = None
    """Which seal is asked about; the best of a selection when absent."""
    restrict: Restrictions = Restrictions()
    """What may be chosen, when the service chooses."""
    aims: AimWeights = AimWeights()
    """What is wanted most, when the service chooses."""
    gland: Gland = Gland()
    """Dimensions of the gland as far as they are known."""
    surroundings: HeatSurroundings = HeatSurroundings()
    """What carries the heat away."""
    target_life: q.Duration | None = None
    """Life wanted; gives a verdict on wear, and a design that lasts as long is chosen."""
    pieces: Quantity = 1
    """Good pieces wanted."""

    @model_validator(mode="after")
    def _gland_fits(self) -> EnquiryRequest:
        if self.design is not None:
            check_gland_fits(self.duty, self.design, self.gland)
        return self


class Unanswered(ResultModel):
    """A part of the enquiry that could not be answered."""

    part: Literal["gland", "thermal_fit", "friction", "wear", "blank"]
    """Which part."""
    field: str
    """JSON pointer of the field at fault, from the root of the enquiry."""
    detail: str
    """Why."""
    accepted: str | None
    """What would be accepted there."""


class EnquiryResult(Result):
    """Everything a quote needs."""

    verdict: Status
    """The worst of check, gland, thermal fit, contact temperature and life; without a target a short life makes it `caution`."""
    summary: str
    """The enquiry in a few sentences: what decides it, and how long it may last."""
    chosen: Literal["given", "selected", "nearest"]
    """Given; the best that passes, of those that hold in gland and thermal fit and last; or, when none passes, the nearest."""
    design: dict[str, Any]
    """The design judged, ready to be sent to any other operation."""
    title: str
    """The design in words."""
    alternatives: list[Alternative]
    """Other kinds of seal that would do, or that are the sounder choice; empty where none is."""
    requirements: list[Requirement]
    """What has to stand on the drawing of the hardware for the verdict to hold."""
    selection: SelectionResult | None
    """The selection; null when a design was given."""
    check: EnvelopeCheckResult
    """Envelope check of the design."""
    gland: GlandCheckResult | None
    """Gland check; null where it could not be answered."""
    thermal_fit: ThermalFitResult | None
    """Thermal fit; null where it could not be answered."""
    friction: FrictionEstimateResult | None
    """Friction estimate; null where it could not be answered."""
    wear: WearEstimateResult | None
    """Wear estimate; null where it could not be answered."""
    blank: BlankResult | None
    """Blank and quote data; null where they could not be answered."""
    unanswered: list[Unanswered]
    """Parts that could not be answered, and why."""
