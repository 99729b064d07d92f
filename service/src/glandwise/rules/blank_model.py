"""Shape of the rule data of blanks: file ``blank.toml``."""

from __future__ import annotations

from pydantic.dataclasses import dataclass

from glandwise.rules.values import CONFIG, Length, LengthByLength, Share


@dataclass(frozen=True, slots=True, config=CONFIG)
class DrawnShares:
    """What a section has where nothing is stated and no question asks for it: shares of what is known of the seal."""

    spring_place: Share
    """Place of a spring on its lip where none is known, from the root over the free length."""
    root_over_interference: Share
    """Clearance at the root of a lip whose bore angle is not known, over its radial interference."""
    least_clearance: Share
    """Clearance at the root of a lip at least, over its length."""
    fillet: Share
    """Fillet of the cavity over the lip thickness."""
    chamfer: Share
    """Chamfer of the body over its width."""
    recess: Share
    """How far a flexible lip stands back from the face, over the width."""
    web: Share
    """Web between two lips over the length behind the main lip."""
    second_lip_thickness: Share
    """Thickness of a second lip over that of the main one."""
    second_interference: Share
    """Interference of a second lip over that of the main one."""
    band_thickness: Share
    """Thickness of a band over that of the lip."""
    taper: Share
    """How much thinner a tapered lip is at its edge."""
    lead_in: Share
    """Rise of the lead-in of an energized lip over its length."""


@dataclass(frozen=True, slots=True, config=CONFIG)
class Blank:
    """File ``blank.toml``: what turning a seal from tube or rod takes beyond the part itself."""

    outer_allowance: LengthByLength
    """Radial allowance on the outer diameter, by finished outer diameter."""
    inner_allowance: LengthByLength
    """Radial allowance in the bore, by finished outer diameter."""
    face_allowance: LengthByLength
    """Axial allowance on each face, by finished outer diameter."""
    parting_width: LengthByLength
    """Width of the cut that parts a piece off, by finished outer diameter."""
    chucking_remnant: LengthByLength
    """Length that stays in the chuck, by finished outer diameter."""
    diameter_step: Length
    """Step to which stock diameters are rounded, outward."""
    tube_bore_min: Length
    """Least bore of a tube; what needs a smaller one is turned from rod."""
    tube_length: Length
    """Usual length of tube."""
    rod_length: Length
    """Usual length of rod."""
    reject_share: Share
    """Share of pieces that are set up on, tested or lost."""
    outer_wall_share: Share
    """Share of the radial section that the outer wall of a flexible lip's body takes beside its lip."""
    drawn: DrawnShares
    """Shares of what is drawn, and weighed, without a dimension."""
