"""Request and result of an enquiry: one call for a quoting system."""

from __future__ import annotations

from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field, StringConstraints, model_validator
from pydantic_core import PydanticCustomError

from glandwise.contract import quantities as q
from glandwise.contract.advice import Alternative, Expectation, Requirement
from glandwise.contract.base import LINE, CalculationRequest, Evidence, Result, ResultModel, Stamp, Status, refuse_range
from glandwise.contract.blank import Allocation, Allowances, BlankResult, Cost, Quantity, Rates, Stock
from glandwise.contract.design import Design
from glandwise.contract.duty import Duty, one_target
from glandwise.contract.envelope import EnvelopeCheckResult
from glandwise.contract.gland import Gland, GlandCheckResult, check_gland_fits
from glandwise.contract.running import FrictionEstimateResult, HeatSurroundings, WearEstimateResult
from glandwise.contract.seal import SealDimensions
from glandwise.contract.selection import AimWeights, Restrictions, SelectionResult
from glandwise.contract.thermal_fit import ThermalFitResult
from glandwise.contract.unknowns import Confidence, Question

Part = Literal["selection", "check", "gland", "thermal_fit", "friction", "wear", "blank"]
PARTS: tuple[Part, ...] = ("selection", "check", "gland", "thermal_fit", "friction", "wear", "blank")
"""Answers of single operations that an enquiry holds."""

Reference = Annotated[str, StringConstraints(min_length=1, max_length=200, pattern=LINE)]


class EnquiryRequest(CalculationRequest):
    """A duty, and a design if one is proposed: everything a quote needs."""

    carries_ranges: ClassVar[bool] = True

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
    target_life: q.RangedDuration | None = None
    """Life wanted, another place for that of the duty."""
    axial_width: q.SmallLength | None = None
    """Axial width of the finished seal, the same as `gland/seal_width`; by the rules when absent."""
    pieces: Quantity = 1
    """Good pieces wanted; the first of `quantity_breaks` when absent, 1 without."""
    quantity_breaks: Annotated[list[Quantity], Field(min_length=1, max_length=50)] | None = None
    """Quantities to be quoted side by side, each once; only `pieces` when absent."""
    stock: Stock = Stock()
    """Stock at hand."""
    allowances: Allowances = Allowances()
    """What machining takes beyond the part."""
    rates: Rates | None = None
    """Rates of the caller's; without them no money is computed."""
    reference: Reference | None = None
    """The caller's own name of the enquiry, such as a quote number; repeated in the answer and not interpreted."""
    detail: Literal["full", "summary", "verdict"] = "full"
    """`summary` leaves out the answers of the single operations; `verdict` all but the verdict, its sentence and the design."""
    parts: Annotated[list[Part], Field(max_length=7)] | None = None
    """Which answers of single operations a `full` answer holds; all when absent."""
    questions: q.Bool = True
    """Whether to say what to ask the customer back, and how sure the verdict is without the answers; a `verdict` alone never
    does. How sure it is is told as well where something is stated with a range."""

    @model_validator(mode="before")
    @classmethod
    def _first_break_is_wanted(cls, data: Any) -> Any:
        if not isinstance(data, dict) or data.get("pieces") is not None:
            return data
        breaks = data.get("quantity_breaks")
        if not isinstance(breaks, list) or not breaks or type(breaks[0]) is not int or breaks[0] < 1:
            return data  # a fault is told where it stands
        return {**data, "pieces": breaks[0]}

    @model_validator(mode="after")
    def _gland_fits(self) -> EnquiryRequest:
        if self.design is not None:
            check_gland_fits(self.duty, self.design, self.gland)
        return self

    @model_validator(mode="after")
    def _one_width(self) -> EnquiryRequest:
        width = self.gland.seal_width
        if self.axial_width is not None and width is not None and self.axial_width != width:
            raise PydanticCustomError(
                "out_of_domain", "the seal has another width in the gland",
                {"fields": ("axial_width",), "accepted": "the same as gland/seal_width, or one of the two"},
            )  # fmt: skip
        return self

    @model_validator(mode="after")
    def _each_break_once(self) -> EnquiryRequest:
        if self.quantity_breaks is not None and len(set(self.quantity_breaks)) < len(self.quantity_breaks):
            raise PydanticCustomError(
                "out_of_domain", "a quantity is listed twice",
                {"fields": ("quantity_breaks",), "accepted": "each quantity once"},
            )  # fmt: skip
        return self

    @model_validator(mode="after")
    def _parts_of_a_full_answer(self) -> EnquiryRequest:
        if self.parts is not None and self.detail != "full":
            raise PydanticCustomError(
                "out_of_domain", "only a full answer holds parts",
                {"fields": ("parts",), "accepted": 'none, or detail "full"'},
            )  # fmt: skip
        if self.working and self.detail != "full":
            raise PydanticCustomError(
                "out_of_domain", "only a full answer has a working",
                {"fields": ("working",), "accepted": 'false, or detail "full"'},
            )  # fmt: skip
        return self

    @model_validator(mode="after")
    def _one_target(self) -> EnquiryRequest:
        one_target(self)
        return self

    @model_validator(mode="after")
    def _ranges_have_words(self) -> EnquiryRequest:
        if self.ranges and self.detail == "verdict":
            refuse_range(next(iter(self.ranges)), 'value and unit alone, or detail "full" or "summary"')
        return self


class QuantityBreak(Allocation):
    """What one quantity takes."""

    cost: Cost | None
    """Money by the rates of the request; null without rates."""


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


class EnquiryVerdict(ResultModel):
    """The answer of detail `verdict`: what it holds stands in the full answer by the same names, with the same values."""

    detail: Literal["verdict"]
    """Which detail this is."""
    reference: str | None
    """The caller's own name of the enquiry."""
    verdict: Status
    """The worst of check, gland, thermal fit, contact temperature and life; without a target a short life makes it `caution`."""
    summary: str
    """The enquiry in a few sentences: what decides it, and how long it may last."""
    chosen: Literal["given", "selected", "nearest"]
    """Given; the best that passes; or, when none passes, the nearest."""
    design: dict[str, Any]
    """The design judged, ready to be sent to any other operation."""
    title: str
    """The design in words."""
    evidence: Evidence | None
    """The weakest evidence the verdict rests on."""
    stamp: Stamp
    """Rule set, engine and fingerprint; those of the full answer."""
    notice: str
    """Where the cautions are that belong to the verdict."""


class EnquiryResult(Result):
    """Everything a quote needs. Parts that were not asked for are null."""

    detail: Literal["full", "summary"]
    """Which detail this is."""
    reference: str | None
    """The caller's own name of the enquiry."""
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
    questions: list[Question] | None
    """What to ask the customer back, the most important first, over envelope, gland and thermal fit; null where it was not
    asked for."""
    confidence: Confidence | None
    """How sure the verdict of the envelope is without the answers, gland and thermal fit left aside; null where it was not
    asked for and nothing is stated with a range, or where everything is stated."""
    expectations: list[Expectation]
    """What to expect in running: torque to start, how long it may run dry, class of leakage."""
    dimensions: SealDimensions
    """The seal and the hardware it needs in numbers, each with its tolerance and where it comes from."""
    quantity_breaks: list[QuantityBreak]
    """What each of the quantities takes, in the order asked; empty where no blank could be found."""
    selection: SelectionResult | None
    """The selection; null when a design was given."""
    check: EnvelopeCheckResult | None
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
