"""Shape of the rule data of blanks: file ``blank.toml``."""

from __future__ import annotations

from pydantic.dataclasses import dataclass

from glandwise.rules.values import CONFIG, Length, LengthByLength, Share


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
