"""Request and result of a blank estimate."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, StringConstraints, model_validator
from pydantic_core import PydanticCustomError

from glandwise.contract import quantities as q
from glandwise.contract.base import (
    INTEGRAL,
    CalculationRequest,
    Count,
    Number,
    RequestModel,
    Result,
    ResultModel,
    Status,
)
from glandwise.contract.design import Design
from glandwise.contract.duty import Duty

Quantity = Annotated[int, Field(strict=True, ge=1, le=1_000_000, json_schema_extra={"format": "int32"}), INTEGRAL]
Amount = Annotated[
    float, Field(strict=True, ge=0.0, le=1e9, allow_inf_nan=False, json_schema_extra={"format": "double"})
]
Currency = Annotated[str, StringConstraints(pattern=r"^[A-Z]{3}$")]
Form = Literal["tube", "rod"]


class Stock(RequestModel):
    """Stock at hand; each field by the rules when absent."""

    form: Form | None = None
    """Tube or rod; tube where its bore can be had, when absent."""
    outer_diameter: q.BoreDiameter | None = None
    """Outer diameter."""
    inner_diameter: q.BoreDiameter | None = None
    """Bore of a tube."""
    length: q.AxialLength | None = None
    """Length of one piece of stock."""

    @model_validator(mode="after")
    def _is_a_tube_or_a_rod(self) -> Stock:
        if self.form == "rod" and self.inner_diameter is not None:
            raise PydanticCustomError(
                "out_of_domain", "a rod has no bore",
                {"fields": ("inner_diameter",), "accepted": "none for a rod"},
            )  # fmt: skip
        if (
            self.inner_diameter is not None
            and self.outer_diameter is not None
            and self.inner_diameter >= self.outer_diameter
        ):
            raise PydanticCustomError(
                "out_of_domain", "the tube has no wall",
                {"fields": ("inner_diameter",), "accepted": "less than the outer diameter"},
            )  # fmt: skip
        return self


class Allowances(RequestModel):
    """What machining takes beyond the part; each by the rules when absent."""

    outer: q.Clearance | None = None
    """Radial allowance on the outer diameter."""
    inner: q.Clearance | None = None
    """Radial allowance in the bore."""
    face: q.Clearance | None = None
    """Axial allowance on each face."""
    parting: q.Clearance | None = None
    """Width of the cut that parts a piece off."""
    chucking: q.Clearance | None = None
    """Length of each piece of stock that stays in the chuck."""
    reject_share: Annotated[float, q.Measured("ratio", "zero_or_more", 0.0, 0.9)] | None = None
    """Share of pieces that are set up on, tested or lost."""


class MassRate(RequestModel):
    """Money per mass."""

    amount: Amount
    """Money."""
    per: Literal["kg", "g", "lb"]
    """Unit of mass it buys."""


class Rates(RequestModel):
    """Rates and times of the caller's; the service only multiplies them with its quantities."""

    currency: Currency
    """Three capital letters; repeated in the answer and not interpreted."""
    material: MassRate | None = None
    """Price of the stock by mass."""
    machine_per_hour: Amount | None = None
    """Rate of the machine per hour."""
    machine_time_per_piece: q.Duration | None = None
    """Machine time of one piece."""
    setup_time: q.Duration | None = None
    """Machine time of setting up, once."""

    @model_validator(mode="after")
    def _machine_rate_has_a_time(self) -> Rates:
        if self.machine_per_hour is not None and self.machine_time_per_piece is None and self.setup_time is None:
            raise PydanticCustomError(
                "out_of_domain", "a machine rate without a time gives no money",
                {"fields": ("machine_time_per_piece",), "accepted": "a time per piece, a time of setting up, or both"},
            )  # fmt: skip
        return self


class BlankRequest(CalculationRequest):
    """A seal and a number of pieces: what does it take to machine them?"""

    duty: Duty
    """Gives shaft and bore diameter; the rest only brings cautions."""
    design: Design
    """Which seal is to be made."""
    pieces: Quantity
    """Good pieces wanted."""
    axial_width: q.SmallLength | None = None
    """Axial width of the finished seal; by the series of nominal sizes when absent."""
    stock: Stock = Stock()
    """Stock at hand."""
    allowances: Allowances = Allowances()
    """What machining takes beyond the part."""
    rates: Rates | None = None
    """Rates of the caller's; without them no money is computed."""


class FinishedSeal(ResultModel):
    """Size of the finished part as machined."""

    outer_diameter: q.WrittenLength
    """Outer diameter of the PTFE part: that of the body, which is smaller than the bore by its clearance or its case."""
    inner_diameter: q.WrittenLength
    """Diameter of the lip as made."""
    axial_width: q.WrittenLength
    """Axial width of the PTFE part: of the seal less the wall of a case, more where its lip stands out of the body."""
    volume: q.WrittenVolume
    """Volume of the part: its drawn section as made, turned about the axis."""
    mass: q.WrittenMass
    """Mass of one part."""


class BlankSize(ResultModel):
    """The stock and what one piece takes of it."""

    form: Form
    """Tube or rod."""
    outer_diameter: q.WrittenLength
    """Outer diameter of the stock."""
    inner_diameter: q.WrittenLength | None
    """Bore of the stock; null for a rod."""
    least_outer_diameter: q.WrittenLength
    """Outer diameter that gives every allowance."""
    greatest_inner_diameter: q.WrittenLength | None
    """Bore that gives every allowance; null where only rod does."""
    length_per_piece: q.WrittenLength
    """Stock length that one piece takes: width, faces and parting."""
    stock_length: q.WrittenLength
    """Length of one piece of stock."""
    chucking_remnant: q.WrittenLength
    """Length of each piece of stock that stays in the chuck."""


class Allocation(ResultModel):
    """Pieces, lengths and masses of the whole order."""

    pieces: Count
    """Good pieces wanted."""
    pieces_to_make: Count
    """Pieces to machine, rejects included."""
    pieces_per_length: Count
    """Pieces that one length of stock gives."""
    stock_lengths: Count
    """Lengths of stock to take."""
    used_length: q.WrittenLength
    """Stock length used up: all pieces, and one chucking remnant per length."""
    blank_mass: q.WrittenMass
    """Mass of the stock length that one piece takes."""
    used_mass: q.WrittenMass
    """Mass of the stock length used up."""
    stock_mass: q.WrittenMass
    """Mass of the whole lengths to take."""
    net_mass: q.WrittenMass
    """Mass of the good pieces."""
    yield_of_used: Number
    """Net mass over used mass."""
    yield_of_stock: Number
    """Net mass over the mass of whole lengths."""


class Feature(ResultModel):
    """A feature to machine."""

    feature: str
    """Identifier of the feature."""
    title: str
    """The feature in words."""
    count: Count
    """How often it is on one piece."""


class Cost(ResultModel):
    """The caller's rates times the quantities; nothing else."""

    currency: str
    """Currency as given."""
    material: Number | None
    """Rate by mass times the mass of whole lengths; null without such a rate."""
    machining: Number | None
    """Rate per hour times the times given; null without such a rate."""
    total: Number
    """Sum of what is known."""
    per_piece: Number
    """Sum over the good pieces."""


class BlankResult(Result):
    """What machining a number of seals takes."""

    verdict: Status
    """`pass` when the stock gives every allowance, `caution` when it holds the part but with less."""
    summary: str
    """The estimate in one sentence."""
    density: q.WrittenDensity
    """Density of the compound."""
    finished: FinishedSeal
    """Size of the finished part."""
    blank: BlankSize
    """The stock."""
    allocation: Allocation
    """The whole order."""
    features: list[Feature]
    """Features of one piece, in the order of the section from the lip to the outer diameter."""
    cost: Cost | None
    """Money by the rates of the request; null without rates."""
    notes: list[str]
    """What the estimate takes for granted."""
