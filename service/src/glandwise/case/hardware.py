"""The record of the hardware around a seal: shaft, bore and body with their limits, and what holds the seal.

One row stands beside each row of a table of cases. Dimensions hold at the reference temperature. What does not belong to
the retention of the case is NaN; an O-ring or a groove that is NaN is looked for, a clamp force that is NaN is proposed.
"""

from __future__ import annotations

from glandwise.case.shape import Shape


class Hardware:
    """What surrounds one seal, and the outside of its body."""

    reference: float
    """T_ref [K]: Temperature at which dimensions hold"""
    shaft: float
    """d [m]: Shaft, nominal"""
    shaft_low: float
    """d_lo [m]: Shaft, lower limit"""
    shaft_high: float
    """d_hi [m]: Shaft, upper limit"""
    bore: float
    """D [m]: Bore, nominal"""
    bore_low: float
    """D_lo [m]: Bore, lower limit"""
    bore_high: float
    """D_hi [m]: Bore, upper limit"""
    body: float
    """B [m]: Body of the seal, nominal"""
    body_low: float
    """B_lo [m]: Body of the seal, lower limit"""
    body_high: float
    """B_hi [m]: Body of the seal, upper limit"""
    throat: float
    """H [m]: Opening of the housing, nominal"""
    throat_low: float
    """H_lo [m]: Opening of the housing, lower limit"""
    throat_high: float
    """H_hi [m]: Opening of the housing, upper limit"""
    housing: float
    """D_o [m]: Outer diameter of the housing"""
    width: float
    """w [m]: Width of the seal"""
    heel: float
    """t_h [m]: Thickness of what bridges the gap"""
    heel_standard: float
    """t_h0 [m]: Thickness of a standard heel"""
    heel_extended: float
    """t_h1 [m]: Thickness of an extended heel"""
    ring_inner: float
    """d_i [m]: Inner diameter of the O-ring, nominal"""
    ring_inner_low: float
    """d_i_lo [m]: Inner diameter of the O-ring, lower limit"""
    ring_inner_high: float
    """d_i_hi [m]: Inner diameter of the O-ring, upper limit"""
    ring_section: float
    """d_s [m]: Section of the O-ring, nominal"""
    ring_section_low: float
    """d_s_lo [m]: Section of the O-ring, lower limit"""
    ring_section_high: float
    """d_s_hi [m]: Section of the O-ring, upper limit"""
    groove: float
    """G [m]: Groove bottom, nominal"""
    groove_low: float
    """G_lo [m]: Groove bottom, lower limit"""
    groove_high: float
    """G_hi [m]: Groove bottom, upper limit"""
    groove_width: float
    """W [m]: Groove width, nominal"""
    groove_width_low: float
    """W_lo [m]: Groove width, lower limit"""
    groove_width_high: float
    """W_hi [m]: Groove width, upper limit"""
    case: float
    """K [m]: Case, nominal"""
    case_low: float
    """K_lo [m]: Case, lower limit"""
    case_high: float
    """K_hi [m]: Case, upper limit"""
    case_wall: float
    """w_K [m]: Wall of the case"""
    case_length: float
    """L_K [m]: Length of the case"""
    case_strength: float
    """S_K [Pa]: Yield strength of the case"""
    clamp_inner: float
    """d_f [m]: Clamped face, inner diameter"""
    clamp_outer: float
    """D_f [m]: Clamped face, outer diameter"""
    clamp_force: float
    """F_f [N]: Clamp force"""
    retention: int
    """[Retention]: Retention"""
    shaft_metal: int
    """[Name]: Material of the shaft"""
    housing_metal: int
    """[Name]: Material of the housing"""
    case_metal: int
    """[Name]: Material of the case"""
    dash: int
    """[Name]: Number of the O-ring in its series"""


SHAPE = Shape(Hardware)
"""Rows and leaves of hardware."""
