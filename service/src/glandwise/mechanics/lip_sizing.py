"""Dimensions of a lip where none are given: gentle at low pressure, thicker or shorter as pressure asks.

The forms of the rules stand here; their numbers are arguments, since they are rule data. All of them are proposals of ours
(house estimate) that come from one requirement: the moment at the root, with interference and pressure together, stays
below yield by a margin.
"""

from __future__ import annotations

from math import atan, log, nan

from glandwise.numerics.arithmetic import greatest, least


def sized_by_diameter(d: float, d_0: float, y_0: float, n: float) -> float:
    """Dimension of a lip that grows as a power of the shaft diameter.

    Parameters
    ----------
    d : m
        Shaft diameter, > 0.
    d_0 : m
        Shaft diameter at which the dimension is known, > 0.
    y_0 : m
        Dimension there.
    n : -
        Power.

    Returns
    -------
    y : m
        Dimension at the diameter.

    References
    ----------
    A power law; its numbers are rule data (house estimate).
    """
    return y_0 * (d / d_0) ** n


def plain_slenderness(
    p: float, sigma_y: float, s_0: float, p_0: float, sigma_0: float, s_low: float, s_high: float
) -> float:
    """Free length over thickness of a lip without spring, by pressure and yield strength.

    The bending stress of a held strip grows as pressure times slenderness squared, so that a given share of the yield
    strength makes the slenderness fall as the square root of pressure over strength.

    Parameters
    ----------
    p : Pa
        Sealed gauge pressure; a vacuum counts as none.
    sigma_y : Pa
        Yield strength at temperature, > 0.
    s_0 : -
        Slenderness at a pressure and a strength, > 0.
    p_0 : Pa
        That pressure, > 0.
    sigma_0 : Pa
        That strength, > 0.
    s_low : -
        Least slenderness, > 0.
    s_high : -
        Greatest slenderness.

    Returns
    -------
    s : -
        Free length over thickness.

    References
    ----------
    Bending of a held strip (derived); the numbers are rule data (house estimate).
    """
    if not (sigma_y > 0.0):
        return nan
    p_some = greatest(p, p_0 / 1e6)  # pressure, more than none
    x = p_0 / p_some * sigma_y / sigma_0  # strength over pressure, referred
    s_p = s_0 * x**0.5  # free length over thickness that the root bears
    return greatest(least(s_p, s_high), s_low)


def even_in_logarithm(p: float, p_1: float, y_1: float, p_2: float, y_2: float) -> float:
    """Dimension of an energized lip, even in the logarithm of the pressure between two.

    Parameters
    ----------
    p : Pa
        Sealed gauge pressure; a vacuum counts as none.
    p_1 : Pa
        Pressure up to which the dimension is the first, > 0.
    y_1 : m
        Dimension up to there.
    p_2 : Pa
        Pressure from which it is the second, > p_1.
    y_2 : m
        Dimension from there.

    Returns
    -------
    y : m
        Dimension at the pressure.

    References
    ----------
    The numbers are rule data (house estimate).
    """
    x = log(greatest(least(p, p_2), p_1) / p_1) / log(p_2 / p_1)  # share of the way from one pressure to the other
    return y_1 + (y_2 - y_1) * x


def energized_slenderness(p: float, p_1: float, s_1: float, p_2: float, s_2: float) -> float:
    """Free length over thickness of an energized lip, even in the logarithm of the pressure between two.

    Parameters
    ----------
    p : Pa
        Sealed gauge pressure; a vacuum counts as none.
    p_1 : Pa
        Pressure up to which the lip is the most slender, > 0.
    s_1 : -
        Slenderness up to there, > 0.
    p_2 : Pa
        Pressure from which the lip is the least slender, > p_1.
    s_2 : -
        Slenderness from there, > 0.

    Returns
    -------
    s : -
        Free length over thickness.

    References
    ----------
    The numbers are rule data (house estimate).
    """
    x = log(greatest(least(p, p_2), p_1) / p_1) / log(p_2 / p_1)  # share of the way from one pressure to the other
    return s_1 + (s_2 - s_1) * x


def thickness_by_modulus(L: float, s: float, E: float, E_0: float, f_max: float) -> float:
    """Thickness of a lip of given slenderness whose stiffness does not depend on the compound.

    Parameters
    ----------
    L : m
        Free length, > 0.
    s : -
        Free length over thickness at the reference modulus, > 0.
    E : Pa
        Modulus of the compound, > 0.
    E_0 : Pa
        Reference modulus, > 0.
    f_max : -
        Greatest thickness over free length.

    Returns
    -------
    t : m
        Thickness.

    References
    ----------
    Stiffness of a strip goes with modulus and cube of the thickness (derived); the numbers are rule data (house estimate).
    """
    t_E = L / s * (E_0 / E) ** (1.0 / 3.0)  # thickness of equal stiffness
    return least(t_E, f_max * L)


def running_interference(i_d: float, f_TIR: float, TIR: float, phi: float) -> float:
    """Radial interference that a lip needs while it runs: by diameter, and by what it has to follow.

    Parameters
    ----------
    i_d : m
        Radial interference by diameter, >= 0.
    f_TIR : -
        Share of the runout that the relaxed lip has to have in hand.
    TIR : m
        Runout of the shaft, total indicator reading, >= 0.
    phi : -
        Share of the load that is left of a relaxed lip, > 0.

    Returns
    -------
    i_run : m
        Radial interference while running.

    References
    ----------
    The numbers are rule data (house estimate).
    """
    i_TIR = f_TIR * TIR / phi  # radial interference that follows the runout
    return greatest(i_d, i_TIR)


def hot_interference(s: float, w_hot: float) -> float:
    """Radial interference that makes up for what the lip grows more than the shaft.

    Never below zero: a lip is not made larger because it is used in the cold.

    Parameters
    ----------
    s : -
        Share of the growth that is made up for, 0 to 1.
    w_hot : m
        Radial growth of the lip over that of the shaft in the heat.

    Returns
    -------
    i_hot : m
        Radial interference for the heat.

    References
    ----------
    The share is rule data (house estimate).
    """
    return greatest(s * w_hot, 0.0)


def cold_interference(s: float, w_cold: float, i_run: float, s_least: float) -> float:
    """Radial interference that an energized lip is made without, since it shrinks onto the shaft where it runs.

    The spring keeps the lip on the shaft until it is cold; a share of the interference stays, so that it seals while warm.

    Parameters
    ----------
    s : -
        Share of the shrinking that is taken off, 0 to 1.
    w_cold : m
        Radial shrinking of the lip over that of the shaft at the temperature that lasts.
    i_run : m
        Radial interference while running, >= 0.
    s_least : -
        Least share of it that the lip is made with, 0 to 1.

    Returns
    -------
    i_cold : m
        Radial interference that the cold brings.

    References
    ----------
    Both shares are rule data (house estimates).
    """
    return least(greatest(s * w_cold, 0.0), (1.0 - s_least) * i_run)


def root_clearance(g_d: float, a: float, TIR: float, m: float, w_cold: float, m_cold: float) -> float:
    """Radial clearance at the root of a lip: by diameter, by what the shaft wanders, and by what the lip shrinks in the cold.

    A root without clearance shrinks the whole lip onto the shaft. The clearance also decides whether the lip stands on its
    edge or lies down.

    Parameters
    ----------
    g_d : m
        Radial clearance by diameter, >= 0.
    a : m
        Offset of the shaft, >= 0.
    TIR : m
        Runout of the shaft, total indicator reading, >= 0.
    m : m
        Margin beside the wandering shaft, >= 0.
    w_cold : m
        Radial shrinkage of the lip over that of the shaft in the cold.
    m_cold : m
        Margin beside the cold lip, >= 0.

    Returns
    -------
    g_0 : m
        Radial clearance at the root.

    References
    ----------
    Geometry; the numbers are rule data (house estimate).
    """
    g_shaft = a + 0.5 * TIR + m  # radial clearance for the wandering shaft
    g_cold = w_cold + m_cold  # radial clearance for the cold lip
    return greatest(greatest(g_d, g_shaft), g_cold)


def bore_angle(i: float, g_0: float, L: float) -> float:
    """Angle of the bore face of a lip to the axis, by interference at the tip and clearance at the root.

    Parameters
    ----------
    i : m
        Radial interference at the edge of the tip.
    g_0 : m
        Radial clearance at the root.
    L : m
        Free length along the axis, > 0.

    Returns
    -------
    a : rad
        Angle of the bore face.

    References
    ----------
    Geometry.
    """
    return atan((i + g_0) / L)


def spring_load(p: float, p_1: float, p_2: float, F_1: float, F_2: float, F_3: float) -> float:
    """Line load of the spring of an energized lip, by the class of its pressure: springs come in classes.

    Parameters
    ----------
    p : Pa
        Sealed gauge pressure; a vacuum counts as none.
    p_1 : Pa
        Greatest pressure of the lightest class.
    p_2 : Pa
        Greatest pressure of the middle class, > p_1.
    F_1 : N/m
        Line load of the lightest class.
    F_2 : N/m
        Line load of the middle class.
    F_3 : N/m
        Line load of the heaviest class.

    Returns
    -------
    F : N/m
        Line load of the spring.

    References
    ----------
    The numbers are rule data (house estimate, from memory).
    """
    if p != p:
        return nan
    is_middle = 1.0 if p > p_1 else 0.0
    is_heavy = 1.0 if p > p_2 else 0.0
    return F_1 + (F_2 - F_1) * is_middle + (F_3 - F_2) * is_heavy


def scaled_section(t: float, F: float, q: float) -> float:
    """Wire or strip of a spring that gives another load at the same deflection: load goes with the cube of it.

    That of a strip does, and that of a coil whose pitch is a multiple of its wire.

    Parameters
    ----------
    t : m
        Wire or strip, > 0.
    F : N/m
        Load that is wanted, > 0.
    q : N/m
        Load with that wire or strip; where it is not known the section stays as it is.

    Returns
    -------
    t_F : m
        Wire or strip for the load wanted.

    References
    ----------
    Bending of a strip and of a wire (derived).
    """
    if q > 0.0:
        return t * (F / q) ** (1.0 / 3.0)
    return t
