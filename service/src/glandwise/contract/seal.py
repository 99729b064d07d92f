"""The proposed seal as numbers that a quoting system or a drawing can take over."""

from __future__ import annotations

from typing import Literal

from glandwise.contract import quantities as q
from glandwise.contract.base import Count, ResultModel

Origin = Literal["stated", "rules", "derived"]


class Dimension(ResultModel):
    """A length of the seal or its hardware, with its limits and where it comes from."""

    nominal: q.WrittenLength
    """Nominal value."""
    minimum: q.WrittenLength | None
    """Least value; null where no tolerance is known."""
    maximum: q.WrittenLength | None
    """Greatest value; null where no tolerance is known."""
    tolerance_class: str | None
    """Tolerance class by ISO 286; null where there is none."""
    origin: Origin
    """`stated` in the request, supplied by the `rules`, or `derived` from other dimensions."""
    rule: str | None
    """The rule that supplied it; null where it was stated or derived."""
    given_in: str | None
    """JSON pointer where an enquiry states it; null where it cannot be stated."""


class SpringNumber(ResultModel):
    """A number of an energizer, with its unit and where it comes from."""

    name: str
    """Name of the number, as the design of a request has it."""
    value: q.AnyQuantity
    """The number with its unit."""
    origin: Origin
    """`stated` in the request, or supplied by the `rules`."""
    rule: str | None
    """The rule that supplied it; null where it was stated."""
    given_in: str | None
    """JSON pointer where an enquiry states it."""


class EnergizerDimensions(ResultModel):
    """The energizer."""

    kind: Literal["cantilever_v", "canted_coil", "garter"]
    """Kind of the energizer."""
    alloy: str | None
    """UNS number of its alloy."""
    numbers: list[SpringNumber]
    """Its dimensions and numbers."""


class ORingDimensions(ResultModel):
    """The O-ring and its groove in the outside of the seal."""

    elastomer: str | None
    """ISO 1629 symbol of its elastomer."""
    dash: Count | None
    """AS568 dash number; null for a ring by dimensions."""
    inner_diameter: Dimension
    """Inner diameter of the ring."""
    section: Dimension
    """Section diameter of the ring."""
    groove_diameter: Dimension
    """Bottom diameter of the groove."""
    groove_width: Dimension
    """Width of the groove."""


class CaseDimensions(ResultModel):
    """The metal case that is pressed in."""

    outer_diameter: Dimension
    """Outside diameter."""
    wall_thickness: Dimension
    """Wall thickness."""
    length: Dimension
    """Length of the fit."""


class ClampDimensions(ResultModel):
    """The clamped flange."""

    inner_diameter: Dimension
    """Inner diameter of the clamped faces."""
    outer_diameter: Dimension
    """Outer diameter of the clamped faces."""


class SealDimensions(ResultModel):
    """Dimensions of the seal and of the hardware it needs; what could not be found is null."""

    shaft_diameter: Dimension
    """Shaft."""
    bore_diameter: Dimension | None
    """Bore of the housing."""
    body_diameter: Dimension | None
    """Outside of the seal body."""
    throat_diameter: Dimension | None
    """Opening of the housing behind the seal."""
    axial_width: Dimension | None
    """Axial width of the seal."""
    heel_thickness: Dimension | None
    """Thickness of the part that bridges the gap."""
    lip_bore: Dimension | None
    """Diameter of the lip as made, free."""
    lip_thickness: Dimension
    """Lip thickness."""
    lip_length: Dimension
    """Lip length."""
    interference: Dimension
    """Interference on the diameter, free."""
    contact_width: Dimension
    """Contact width."""
    energizer: EnergizerDimensions | None
    """The energizer; null for a plain lip."""
    o_ring: ORingDimensions | None
    """O-ring and groove; null for another retention, or where none was found."""
    case: CaseDimensions | None
    """Metal case; null for another retention."""
    clamp: ClampDimensions | None
    """Clamped flange; null for another retention."""
