"""The gap behind a seal at its worst, and the pressure that its heel bridges."""

from __future__ import annotations

from math import inf, pi
from typing import TYPE_CHECKING, NamedTuple

from glandwise.case.choices import Family, Heel
from glandwise.case.sizing import chosen_or
from glandwise.mechanics.fits import bore_growth, radial_gap
from glandwise.mechanics.retention import extrusion_pressure
from glandwise.numerics.arithmetic import greatest, least
from glandwise.numerics.interpolation import curve_at, step_at
from glandwise.numerics.lives import opaque
from glandwise.physics.constants import UNIT_PRESSURE
from glandwise.physics.strains import housing_strain, shaft_strain

if TYPE_CHECKING:
    from glandwise.case.gland_numbers import GlandRules
    from glandwise.case.hardware import Hardware
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case

TOP = 1.0e9
"""Pressure beyond which a heel is taken to hold any [Pa]."""
TOLERANCE = 1.0e-9
"""What the search for the pressure that a heel bridges may leave of it."""


class Opening(NamedTuple):
    """What the gap behind a seal depends on besides the pressure."""

    growth: float
    """Of the radius of the opening per pressure [m/Pa]."""
    offset: float
    """Distance of the axes [m]; NaN where none is stated."""
    housing: float
    """Strain."""
    shaft: float
    """Strain."""


class Throat(NamedTuple):
    """The closest opening behind a seal that the rules ask for, where the hardware is not stated."""

    reference: float
    """Temperature at which dimensions hold [K]."""
    shaft_low: float
    throat_high: float
    bore_high: float
    housing: float
    """Outer diameter [m]."""
    heel: float
    """Thickness of what bridges the gap [m]."""
    shaft_metal: int
    housing_metal: int


if TYPE_CHECKING:
    Opened = Hardware | Throat


class Strength(NamedTuple):
    """Strength that a heel may see for its life [Pa]."""

    tension: float
    shear: float


def opening_at(case: Case, hardware: Opened, gland: GlandRules, T: float) -> Opening:
    """What the gap behind a seal depends on at a temperature, besides the pressure.

    The opening is taken to grow in proportion to the pressurised bore beside it: more than it does.

    Returns
    -------
    u_p : m/Pa
        Growth of the radius of the opening per pressure.
    e : m
        Distance of the axes.
    epsilon_H : -
        Strain of the housing.
    epsilon_d : -
        Strain of the shaft.

    References
    ----------
    Lame's thick-walled cylinders (models/fits).
    """
    metal = gland.metals[hardware.housing_metal]
    u_1 = bore_growth(
        UNIT_PRESSURE, 0.5 * hardware.bore_high, 0.5 * hardware.housing, metal.elastic_modulus, metal.poisson_ratio
    )
    u_p = u_1 / UNIT_PRESSURE * (hardware.throat_high / hardware.bore_high)  # growth of the opening per pressure
    e = case.offset
    if case.runout == case.runout:
        e = case.offset + 0.5 * case.runout  # distance of the axes, with half the runout
    epsilon_H = housing_strain(hardware, gland, T)  # strain of the housing
    epsilon_d = shaft_strain(hardware, gland, T)  # strain of the shaft
    return Opening(u_p, e, epsilon_H, epsilon_d)


def _gap(H: float, d: float, u_p: float, e: float, epsilon_H: float, epsilon_d: float, p: float) -> float:
    """Greatest radial gap under a pressure; where no offset is stated the shaft touches the other side."""
    if e != e:
        return radial_gap(H, d, 0.0, u_p * p, epsilon_H, epsilon_d).worst
    return radial_gap(H, d, e, u_p * p, epsilon_H, epsilon_d).actual


def gap_under(hardware: Opened, opening: Opening, p: float) -> float:
    """Greatest radial gap between shaft and opening under a pressure: tolerances, temperature and offset at their worst.

    Parameters
    ----------
    p : Pa
        Pressure, >= 0.
    """
    H_hi, d_lo = hardware.throat_high, hardware.shaft_low
    return _gap(H_hi, d_lo, opening.growth, opening.offset, opening.housing, opening.shaft, p)


def widened(hardware: Opened, opening: Opening) -> float:
    """How much wider the clearance is at a temperature than where dimensions hold, whatever the pressure.

    Returns
    -------
    w : m
        Widening of the clearance on the diameter; negative where it narrows.
    """
    return hardware.throat_high * opening.housing - hardware.shaft_low * opening.shaft


def heel_strength(case: Case, rules: Rules, gland: GlandRules, T: float) -> Strength:
    """Strength of the heel that it may see for its life.

    Returns
    -------
    sigma : Pa
        Strength of the heel in tension.
    tau : Pa
        Strength of the heel in shear.
    """
    S = curve_at(rules.compounds[case.compound].yield_strength, T)
    sigma = S * gland.constants[0].strength_share  # strength of the heel in tension
    return Strength(sigma, sigma * gland.constants[0].shear_share)


def _words(*_: float) -> str:
    return "found by a search; the steps that follow prove it"


@opaque(search=True, words=_words)
def balanced_pressure(
    tau: float, sigma: float, t: float, n: float, H: float, d: float, u_p: float, e: float, eps_H: float, eps_d: float
) -> tuple[float, float]:  # fmt: skip
    """Pressure that shears or folds a heel into a gap that grows with it, and 1 where there is one; else infinity."""
    low, high = 0.0, _folded(tau, sigma, t, n, H, d, u_p, e, eps_H, eps_d, 0.0)
    if _folded(tau, sigma, t, n, H, d, u_p, e, eps_H, eps_d, least(high, TOP)) > TOP:
        return inf, 0.0
    high = least(high, TOP)
    for _ in range(60):
        middle = 0.5 * (low + high)
        if _folded(tau, sigma, t, n, H, d, u_p, e, eps_H, eps_d, middle) > middle:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high), 1.0


def _folded(
    tau: float, sigma: float, t: float, n: float, H: float, d: float, u_p: float, e: float, eps_H: float, eps_d: float,
    p: float,
) -> float:  # fmt: skip
    """Pressure that shears or folds a heel into the gap that is open under a pressure."""
    found = extrusion_pressure(_gap(H, d, u_p, e, eps_H, eps_d, p), t, sigma, tau, n)
    return least(found.shear, found.bending)


def bridged_pressure(hardware: Opened, gland: GlandRules, opening: Opening, heel: Strength, t: float) -> float:
    """Pressure that shears or folds a heel into the gap, which itself grows with that pressure.

    Parameters
    ----------
    t : m
        Thickness of the heel.

    Returns
    -------
    p_br : Pa
        Pressure that the heel bridges; infinite where the gap stays closed.

    References
    ----------
    Heel in shear and bending over the gap (models/retention).
    """
    H_hi, d_lo, n = hardware.throat_high, hardware.shaft_low, gland.constants[0].planes
    p_br, is_found = balanced_pressure(
        heel.shear, heel.tension, t, n, H_hi, d_lo, opening.growth, opening.offset, opening.housing, opening.shaft
    )
    if is_found == 0.0:
        return inf
    g_br = gap_under(hardware, opening, p_br)  # gap under that pressure
    found = extrusion_pressure(g_br, t, heel.tension, heel.shear, n)
    p_pr = least(found.shear, found.bending)  # pressure that shears or folds the heel into that gap
    if abs(p_pr - p_br) <= TOLERANCE * p_br:
        return p_br
    return p_br


def bridged_at(case: Case, hardware: Opened, rules: Rules, gland: GlandRules, T: float) -> float:
    """Pressure that the heel bridges over the gap at a temperature.

    Returns
    -------
    p_br : Pa
        Pressure that the heel bridges; infinite where the gap stays closed.
    """
    opening = opening_at(case, hardware, gland, T)
    heel = heel_strength(case, rules, gland, T)
    return bridged_pressure(hardware, gland, opening, heel, hardware.heel)


def usual_heel(case: Case, rules: Rules) -> float:
    """Thickness of what bridges the gap where none is stated: the heel of an energized lip, a flexible lip itself.

    Returns
    -------
    t_h : m
        Thickness of what bridges the gap.
    """
    if case.family == Family.flexible_lip:
        return case.lip_thickness
    sizing = rules.energized[0]
    t_h0 = curve_at(sizing.heel_thickness, case.shaft_diameter)  # thickness of a standard heel
    if case.heel == Heel.extended:
        return t_h0 * sizing.extended_heel_ratio
    return t_h0


def closest_throat(case: Case, rules: Rules, gland: GlandRules) -> Throat:
    """The closest opening behind a seal that the rules ask for; not known beyond the tables of tolerances.

    It widens in proportion to itself, so that the bore beside it need not be known, only how much thicker the housing is.

    Returns
    -------
    T_ref : K
        Temperature at which dimensions hold.
    d_lo : m
        Shaft, lower limit.
    H_hi : m
        Opening of the housing, upper limit.
    D_hi : m
        Opening of the housing as a bore of its own.
    D_o : m
        Outer diameter of the housing.
    t_h : m
        Thickness of what bridges the gap.
    m_d : -
        Material of the shaft.
    m_H : -
        Material of the housing.

    References
    ----------
    Limits of size, ISO 286-1.
    """
    usual, d = gland.throats[0], case.shaft_diameter
    d_lo = d + step_at(usual.shaft_lower, d)  # shaft, lower limit
    H_hi = d + step_at(usual.throat_upper, d)  # opening of the housing, upper limit
    D_o = gland.constants[0].housing_ratio * H_hi  # outer diameter of the housing
    t_h = usual_heel(case, rules)  # thickness of what bridges the gap
    m_d = chosen_or(case.shaft_material, usual.shaft_metal)
    m_H = chosen_or(case.housing_material, usual.housing_metal)
    return Throat(gland.constants[0].reference_temperature, d_lo, H_hi, H_hi, D_o, t_h, m_d, m_H)


def flow_pressure(heel: Strength) -> float:
    """Pressure at which the surface of a heel flows into any gap, whatever its thickness.

    Returns
    -------
    p_flow : Pa
        Pressure at which the surface flows into any gap.

    References
    ----------
    Prandtl's punch reversed (models/retention).
    """
    return (2.0 + pi) * heel.shear


def sealed(case: Case) -> float:
    """Sealed pressure, a vacuum counting as none.

    Returns
    -------
    p_in : Pa
        Sealed pressure, a vacuum counting as none.
    """
    return greatest(case.pressure, 0.0)
