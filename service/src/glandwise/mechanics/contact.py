"""Load, pressure and friction of a lip on the shaft.

Line loads are per unit of shaft circumference, pressures are gauge. The friction coefficient depends on compound,
counterface and lubrication, and is a range: it is always an argument.
"""

from __future__ import annotations

from math import pi
from typing import NamedTuple

from glandwise.numerics.arithmetic import greatest


class Friction(NamedTuple):
    """Friction of a lip on the shaft."""

    radial_load: float
    force: float
    torque: float
    power: float


def total_line_load(q_lip: float, q_spring: float, q_p: float) -> float:
    """Line load of a lip on the shaft.

    Loads at other diameters, as that of a garter spring, are referred to the circumference of the shaft before.

    Parameters
    ----------
    q_lip : N/m
        Load by the interference of the lip itself, relaxed if time has passed.
    q_spring : N/m
        Load by the energizer, 0 without.
    q_p : N/m
        Load by the sealed pressure; negative where it lifts the lip.

    Returns
    -------
    q : N/m
        Line load of the lip, never negative: a lip does not pull.

    References
    ----------
    Equilibrium.
    """
    return greatest(q_lip + q_spring + q_p, 0.0)


def pressure_line_load(p: float, L_p: float, b: float, f_p: float) -> float:
    """Line load that the sealed pressure adds to a lip.

    The load is taken wholly to the contact. A lip that hangs on a stiff heel passes part of it there, so this is an upper
    bound for a stiff lip.

    Parameters
    ----------
    p : Pa
        Sealed gauge pressure; negative for vacuum.
    L_p : m
        Axial length of lip whose outer face carries the pressure while its underside does not, from the edge of the contact
        on the side of high pressure towards the heel, the contact included; at least the contact width.
    b : m
        Axial contact width, >= 0.
    f_p : -
        Mean pressure under the contact over the sealed pressure, 0 to 1: a half for a liquid in an even gap.

    Returns
    -------
    q_p : N/m
        Line load by the sealed pressure.

    References
    ----------
    Radial equilibrium of the lip, the hydraulic balance of face seals applied to a lip (derived).
    """
    return p * (L_p - f_p * b)


def mean_contact_pressure(q: float, b: float) -> float:
    """Mean contact pressure.

    The peak under a rounded edge is 4/pi times it; a sharp corner has no finite peak in the elastic model.

    Parameters
    ----------
    q : N/m
        Line load, >= 0.
    b : m
        Axial contact width, > 0.

    Returns
    -------
    p_c : Pa
        Mean contact pressure; infinite for a loaded edge without width.

    References
    ----------
    Definition.
    """
    return q / b


def friction(mu: float, q: float, d: float, n: float) -> Friction:
    """Friction of a lip on the shaft.

    Coulomb friction, even around the shaft. At rest the torque is that of imminent sliding and there is no power. Torques
    and powers of several lips add.

    Parameters
    ----------
    mu : -
        Friction coefficient, >= 0.
    q : N/m
        Line load; a negative one counts as an open contact.
    d : m
        Shaft diameter, > 0.
    n : rev/s
        Rotational speed, whose sense does not matter; for oscillation the mean surface speed over the circumference.

    Returns
    -------
    F_r : N
        Radial load, all around.
    F_f : N
        Friction force at the shaft surface.
    M_f : N·m
        Friction torque on the shaft.
    P_f : W
        Heat made by friction.

    References
    ----------
    Definition of the friction coefficient.
    """
    F_r = greatest(q, 0.0) * (pi * d)  # radial load, all around
    F_f = mu * F_r  # friction force at the shaft surface
    M_f = 0.5 * d * F_f  # friction torque on the shaft
    return Friction(F_r, F_f, M_f, 2.0 * pi * abs(n) * M_f)
