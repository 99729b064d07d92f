"""Limits and fits: deviations after ISO 286, press fits after Lamé, gaps, O-rings in their groove, lead-ins."""

from __future__ import annotations

from math import nan, pi, tan
from typing import NamedTuple

from glandwise.mechanics.choices import ToleranceZone
from glandwise.numerics.arithmetic import greatest, least
from glandwise.numerics.lives import opaque


class Deviations(NamedTuple):
    """Limit deviations from the nominal size."""

    upper: float
    lower: float


class InterferenceFit(NamedTuple):
    """Pressure and stresses of an interference fit, tension positive."""

    pressure: float
    outer_bore_hoop: float
    inner_bore_hoop: float


class RadialGap(NamedTuple):
    """Radial gap between a bore and a round part in it."""

    worst: float
    concentric: float
    actual: float


class ORingGland(NamedTuple):
    """Condition of an O-ring in a groove closed by a bore."""

    stretch: float
    section: float
    depth: float
    squeeze: float
    squeeze_ratio: float
    fill: float


class LeadIn(NamedTuple):
    """Lead-in chamfer of a shaft end."""

    small_diameter: float
    length: float


def limit_deviations(IT: float, e: float, Delta: float, zone: int) -> Deviations:
    """Limit deviations of a tolerance class.

    js and JS keep half micrometres, where the standard permits some to be rounded.

    Parameters
    ----------
    IT : m
        Standard tolerance of the grade.
    e : m
        Fundamental deviation of the shaft of the same letter, with its sign; 0 for h, of no account for js.
    Delta : m
        Correction of a hole K to P: the tolerance less that of the next finer grade; of no account elsewhere.
    zone : ToleranceZone
        Place of the tolerance zone.

    Returns
    -------
    e_up : m
        Upper limit deviation.
    e_lo : m
        Lower limit deviation.

    References
    ----------
    ISO 286-1:2010, rules for fundamental deviations (standard, from memory).
    """
    if zone == ToleranceZone.symmetric:
        return Deviations(0.5 * IT, -0.5 * IT)
    if zone == ToleranceZone.shaft_below:
        return Deviations(e, e - IT)
    if zone == ToleranceZone.hole_above:
        return Deviations(IT - e, 0.0 - e)
    if zone == ToleranceZone.shaft_above:
        return Deviations(e + IT, e)
    return Deviations(Delta - e, Delta - e - IT)


def bore_growth(p: float, R: float, r_o: float, E: float, nu: float) -> float:
    """Radial growth of the bore of a housing under pressure.

    Long cylinder with open ends, pressure over its whole length: an upper value for a short length under pressure.

    Parameters
    ----------
    p : Pa
        Gauge pressure inside.
    R : m
        Radius of the bore.
    r_o : m
        Outer radius of the housing, above that of the bore; infinite for a block.
    E : Pa
        Young's modulus of the housing.
    nu : -
        Poisson's ratio of the housing.

    Returns
    -------
    u : m
        Radial growth of the bore; not known if the outer radius is not the greater.

    References
    ----------
    G. Lamé (1852); Shigley's Mechanical Engineering Design, ch. 3 (published, from memory).
    """
    if r_o <= R:
        return nan
    x = (R / r_o) ** 2
    return R / E * p * ((1.0 + x) / (1.0 - x) + nu)


def interference_fit(
    delta: float, R: float, r_i: float, r_o: float, E_i: float, nu_i: float, E_o: float, nu_o: float
) -> InterferenceFit:
    """Pressure and hoop stresses of an interference fit of two rings.

    Plane stress (free ends), linear elastic, equal lengths. As a hole in the inner part shrinks to nothing, its stress tends
    to twice that of a solid part: the two cases differ.

    Parameters
    ----------
    delta : m
        Interference on the radius; negative is clearance.
    R : m
        Common radius.
    r_i : m
        Radius of the hole of the inner part, 0 if it is solid.
    r_o : m
        Outer radius of the outer part.
    E_i : Pa
        Young's modulus of the inner part.
    nu_i : -
        Poisson's ratio of the inner part.
    E_o : Pa
        Young's modulus of the outer part.
    nu_o : -
        Poisson's ratio of the outer part.

    Returns
    -------
    p : Pa
        Contact pressure; 0 where the parts clear each other, not known unless r_i < R < r_o.
    sigma_o : Pa
        Hoop stress in the outer part at the common radius.
    sigma_i : Pa
        Hoop stress in the inner part at its hole; the even stress of a solid part.

    References
    ----------
    Shigley's Mechanical Engineering Design, ch. 3, press and shrink fits; Roark's Formulas for Stress and Strain, thick-walled
    cylinders (published, from memory).
    """
    if not (r_i >= 0.0 and r_i < R and R < r_o):
        return InterferenceFit(nan, nan, nan)
    x_o = (r_o**2 + R**2) / (r_o**2 - R**2)  # hoop stress over pressure in the outer part
    x_i = (R**2 + r_i**2) / (R**2 - r_i**2)  # hoop stress over pressure in the inner part
    p = greatest(delta / (R / E_o * (x_o + nu_o) + R / E_i * (x_i - nu_i)), 0.0)  # contact pressure of the fit
    if r_i > 0.0:
        return InterferenceFit(p, p * x_o, -p * (x_i + 1.0))
    return InterferenceFit(p, p * x_o, -p)


def radial_gap(D: float, d: float, e: float, u: float, epsilon_D: float, epsilon_d: float) -> RadialGap:
    """Radial gap of a round part in a bore: at worst, with common axes, and at an offset of the axes.

    The part cannot be offset by more than the gap with common axes. Give the largest bore and the smallest part for the end
    of the tolerances.

    Parameters
    ----------
    D : m
        Bore diameter at the reference temperature.
    d : m
        Diameter of the part at the reference temperature.
    e : m
        Distance of the axes; the sign does not matter.
    u : m
        Radial growth of the bore under pressure.
    epsilon_D : -
        Thermal strain of the bore from the reference temperature.
    epsilon_d : -
        Thermal strain of the part.

    Returns
    -------
    c : m
        Clearance on the diameter, which is the radial gap where the part touches the bore on the other side; 0 where they
        interfere.
    g_0 : m
        Radial gap with common axes.
    g : m
        Greatest radial gap at the offset.

    References
    ----------
    Geometry.
    """
    c = greatest(D * (1.0 + epsilon_D) + 2.0 * u - d * (1.0 + epsilon_d), 0.0)  # clearance on the diameter
    g_0 = 0.5 * c  # radial gap with common axes
    return RadialGap(c, g_0, g_0 + least(abs(e), g_0))


@opaque(name="stretched_section")
def stretched_section(d: float, d_i: float, D_g: float) -> float:
    """Section diameter of an O-ring stretched on a groove.

    Constant volume, the section stays round: d' d' (D_g + d') = d d (d_i + d).

    Parameters
    ----------
    d : m
        Free section diameter.
    d_i : m
        Free inner diameter.
    D_g : m
        Diameter of the bottom of the groove.

    Returns
    -------
    d_s : m
        Section diameter on the groove; the free one where the ring is not stretched.

    References
    ----------
    Constant volume.
    """
    groove = greatest(D_g, d_i)
    volume = d * d * (d_i + d)
    x = d
    # convex and increasing, started above the root: Newton's steps fall to it without overshoot; 5 reach rounding
    for _ in range(5):
        x = x - (x * x * (groove + x) - volume) / (x * (2.0 * groove + 3.0 * x))
    return x


def o_ring_gland(D_b: float, D_g: float, w: float, d_i: float, d: float, epsilon: float) -> ORingGland:
    """Stretch, squeeze and fill of an O-ring in the outer diameter of a seal.

    Sections taken as areas: mean diameters of ring and gland are not told apart. A ring looser than its groove, of negative
    stretch, keeps its free section.

    Parameters
    ----------
    D_b : m
        Diameter of the bore.
    D_g : m
        Diameter of the bottom of the groove.
    w : m
        Width of the groove.
    d_i : m
        Free inner diameter of the ring at the reference temperature.
    d : m
        Free section diameter of the ring at the reference temperature.
    epsilon : -
        Thermal strain of the ring, with its swelling.

    Returns
    -------
    s : -
        Stretch of the inner diameter on the groove; negative where the ring is loose on it.
    d_s : m
        Section diameter of the ring on its groove, unsqueezed.
    h : m
        Radial depth between the bottom of the groove and the bore.
    z : m
        Compression of the section across the gland; negative where it does not touch.
    C : -
        Compression over the section on the groove.
    Phi : -
        Section area of the ring over that of the gland; not known where the depth is not positive.

    References
    ----------
    Geometry and constant volume; ISO 3601-2 defines the terms (standard, not consulted).
    """
    d_iT = d_i * (1.0 + epsilon)  # free inner diameter of the ring at temperature
    d_s = stretched_section(d * (1.0 + epsilon), d_iT, D_g)  # section of the ring on its groove
    h = 0.5 * (D_b - D_g)  # radial depth of the gland
    z = d_s - h  # compression of the section
    s = D_g / d_iT - 1.0  # stretch of the ring
    if h > 0.0:
        return ORingGland(s, d_s, h, z, z / d_s, pi / 4.0 * d_s**2 / (h * w))
    return ORingGland(s, d_s, h, z, z / d_s, nan)


def shaft_lead_in(d_1: float, Delta: float, beta: float) -> LeadIn:
    """Lead-in chamfer of a shaft end.

    Parameters
    ----------
    d_1 : m
        Shaft diameter.
    Delta : m
        Reduction of diameter over the chamfer.
    beta : rad
        Angle of the chamfer to the axis, 0 to pi/2.

    Returns
    -------
    d_3 : m
        Diameter at the small end.
    l_3 : m
        Axial length of the chamfer.

    References
    ----------
    ISO 6194-1, shaft lead-in chamfer (standard, from memory).
    """
    return LeadIn(d_1 - Delta, 0.5 * Delta / tan(beta))


def bore_depth(b: float, Delta_t: float) -> float:
    """Least depth of a housing bore for a seal width.

    Parameters
    ----------
    b : m
        Nominal width of the seal.
    Delta_t : m
        Least depth beyond it.

    Returns
    -------
    t : m
        Least depth of the bore.

    References
    ----------
    ISO 6194-1, housing bore dimensions (standard, from memory).
    """
    return b + Delta_t
