"""Helical springs, the garter ring made of one, and the O-ring as a static seal or energizer."""

from __future__ import annotations

from math import nan, pi
from typing import NamedTuple

from glandwise.numerics.arithmetic import greatest
from glandwise.numerics.lives import Constant


def shear_modulus(E: float, nu: float) -> float:
    """Shear modulus of an isotropic material.

    Parameters
    ----------
    E : Pa
        Young's modulus, > 0.
    nu : -
        Poisson ratio, 0 to 0.5.

    Returns
    -------
    G : Pa
        Shear modulus.

    References
    ----------
    Isotropic elasticity (derived).
    """
    return E / (2.0 * (1.0 + nu))


def spring_index(d: float, D: float) -> float:
    """Index of a helical spring.

    Springs are usually wound with an index from 4 to 12; the stress factor below holds from about 3.

    Parameters
    ----------
    d : m
        Wire diameter, > 0.
    D : m
        Mean coil diameter, > d.

    Returns
    -------
    w : -
        Index of the spring.

    References
    ----------
    Budynas, R. G. and Nisbett, J. K., Shigley's Mechanical Engineering Design, ch. 10 (published, from memory).
    """
    return D / d


def en13906_factor(w: float) -> float:
    """Stress correction factor of the European standard for helical springs.

    Not known for an index of 1 or less.

    Parameters
    ----------
    w : -
        Index of the spring, > 1.

    Returns
    -------
    K : -
        Stress correction factor of the wire.

    References
    ----------
    EN 13906-1 and EN 13906-2, cylindrical helical springs, compression and extension (standard, from memory).
    """
    if w > 1.0:
        return (w + 0.5) / (w - 0.75)
    return nan


def helical_rate(d: float, D: float, G: float, N: float) -> float:
    """Rate of a close-wound helical spring.

    Torsion only; direct shear and coil curvature change it by the order of one over the square of the index.

    Parameters
    ----------
    d : m
        Wire diameter, > 0.
    D : m
        Mean coil diameter, > d.
    G : Pa
        Shear modulus at the spring's temperature, > 0.
    N : -
        Active coils, > 0.

    Returns
    -------
    k : N/m
        Rate of the spring.

    References
    ----------
    Budynas, R. G. and Nisbett, J. K., Shigley's Mechanical Engineering Design, ch. 10 (published, from memory); EN 13906-2
    (standard, from memory) gives the same.
    """
    return G * d**4 / (8.0 * D**3 * N)


def helical_shear_stress(F: float, d: float, D: float, K: float) -> float:
    """Greatest shear stress in the wire of a helical spring.

    Parameters
    ----------
    F : N
        Force along the axis of the spring.
    d : m
        Wire diameter, > 0.
    D : m
        Mean coil diameter, > d.
    K : -
        Stress correction factor.

    Returns
    -------
    tau : Pa
        Corrected shear stress of the wire.

    References
    ----------
    Budynas, R. G. and Nisbett, J. K., Shigley's Mechanical Engineering Design, ch. 10 (published, from memory).
    """
    return K * 8.0 * F * D / (pi * d**3)


class GarterRing(NamedTuple):
    """State of a garter spring stretched on its seat."""

    line_load: float
    """radial load per unit length of the contact it presses on [N/m]"""
    stiffness: float
    """slope of the line load as the ring grows in radius [N/m²]"""
    shear_stress: float
    """greatest shear stress in the wire [Pa]"""


def garter_ring(d: float, D: float, G: float, N: float, L_0: float, F_0: float, r_s: float, r: float) -> GarterRing:
    """Radial load of an extension spring closed on itself and stretched on a seat.

    A ring exactly as long as its seat may carry anything up to its initial tension; zero is taken, being all that can be
    relied upon. Bending of the close coil into a ring, and friction in its groove, are left out. The stiffness is for growth
    of the whole circumference; a shaft that runs out moves the ring sideways without lengthening it, to first order, and
    meets the load but not this stiffness. It is negative where a soft ring of high initial tension loses more by its growing
    radius than it gains in tension. All three are zero for a ring that is not stretched.

    Parameters
    ----------
    d : m
        Wire diameter, > 0.
    D : m
        Mean coil diameter, > d.
    G : Pa
        Shear modulus at the spring's temperature, > 0.
    N : -
        Coils of the ring less those taken up by the joint, > 0.
    L_0 : m
        Developed length of the joined ring, free, along its axis, > 0.
    F_0 : N
        Initial tension, at least 0.
    r_s : m
        Radius of the spring's axis on the seat, > 0.
    r : m
        Radius of the contact the load acts on, > 0.

    Returns
    -------
    q : N/m
        Load of the garter per circumference of the contact.
    k_q : N/m²
        Stiffness of the garter as its ring grows.
    tau : Pa
        Corrected shear stress of the wire.

    References
    ----------
    Statics of a ring under tension (derived); helical spring after Shigley, ch. 10 (published, from memory).
    """
    k = helical_rate(d, D, G, N)  # rate of the garter
    x = 2.0 * pi * r_s - L_0  # extension of the garter on its seat
    w = spring_index(d, D)  # index of the garter
    K = en13906_factor(w)  # stress correction factor of the garter
    if x > 0.0:
        F = F_0 + k * x  # tension in the garter
        q = F / r
        k_q = (2.0 * pi * k - q) / r
    else:
        F = 0.0 * k * x  # tension in the garter, which is slack
        q = F / r
        k_q = 0.0 * k / r
    return GarterRing(q, k_q, helical_shear_stress(F, d, D, K))


def garter_mass(rho: float, d: float, D: float, N: float, r: float) -> float:
    """Mass of a garter over the circumference of the contact.

    Parameters
    ----------
    rho : kg/m³
        Density of the wire, > 0.
    d : m
        Wire diameter, > 0.
    D : m
        Mean coil diameter, > d.
    N : -
        Coils of the ring, > 0.
    r : m
        Radius of the contact, > 0.

    Returns
    -------
    m : kg/m
        Mass of the garter per circumference of the contact.

    References
    ----------
    Volume of the wire, its lead left out (derived).
    """
    V = pi * d**2 / 4.0 * pi * D * N  # volume of the wire
    return rho * V / (2.0 * pi * r)


MPa = Constant(1.0e6, "MPa", "Pa", "Definition", "One megapascal")


def gent_modulus(S: float) -> float:
    """Small-strain Young's modulus of rubber from its Shore A hardness.

    From the geometry of the indentor and a linear elastic half-space. The theory is stated for hardness above about 40;
    below, the formula still gives a number and the caller should say so. Hardness is read to about 2 points and modulus
    scatters for a given hardness: take the result to be no better than 25 % (common practice, no source). The coefficient of
    the hardness is printed as 7.62336 and also as 7.66. Not known outside 0 to below 100.

    Parameters
    ----------
    S : -
        Shore A hardness, 0 to below 100; meant for 40 to 90.

    Returns
    -------
    E : Pa
        Young's modulus of the rubber.

    References
    ----------
    Gent, A. N. (1958), On the relation between indentation hardness and Young's modulus, Rubber Chemistry and Technology 31,
    896-906 (published, from memory).
    """
    if S >= 0.0 and S < 100.0:
        return MPa * 0.0981 * (56.0 + 7.62336 * S) / (0.137505 * (254.0 - 2.54 * S))
    return nan


class ORingLoad(NamedTuple):
    """Load of a squeezed O-ring per unit circumference."""

    line_load: float
    """load per unit of mean circumference [N/m]"""
    stiffness: float
    """slope of the line load in the squeeze [N/m²]"""
    mean_pressure: float
    """line load over contact width; zero without squeeze [Pa]"""


def o_ring_load(d: float, C: float, E: float, C_max: float) -> ORingLoad:
    """Load, stiffness and mean contact pressure of an O-ring squeezed between two flats.

    A ring free to spread sideways, between flats without friction. It does not cover one that fills its groove or bears on
    its sides (compare the fill of its gland), nor relaxation: the modulus is that for the time asked about. For a ring
    squeezed radially it holds where the groove or bore backs the ring, so that the squeeze goes into the section and not into
    the diameter of the ring. Rubber of hardness 40 and more, as for the modulus after Gent. All three
    are zero without squeeze, and not known beyond the greatest.

    Parameters
    ----------
    d : m
        Section diameter as seated, > 0.
    C : -
        Squeeze over section diameter.
    E : Pa
        Small-strain Young's modulus, > 0.
    C_max : -
        Greatest squeeze for which the correlation is to be used; the published figure is not known here.

    Returns
    -------
    q : N/m
        Load per mean circumference.
    k : N/m²
        Stiffness per mean circumference.
    p : Pa
        Mean pressure over the width of the contact.

    References
    ----------
    Lindley, P. B. (1967), Compression characteristics of laterally-unrestrained rubber O-rings, Journal of the Institution of
    the Rubber Industry 1 (published, from memory; pages not checked). Contact width: the same author, from memory, compared
    by Green, I. and English, C. (1994) with finite elements up to 32 % squeeze (published; abstract only read).
    """
    if C > C_max:
        return ORingLoad(nan, nan, nan)
    C_s = greatest(C, 0.0)  # squeeze over section diameter, of a ring that is squeezed
    q = d * E * (1.25 * C_s**1.5 + 50.0 * C_s**6)
    k = E * (1.875 * C_s**0.5 + 300.0 * C_s**5)
    b = 2.4 * C_s * d  # width of the contact
    p = q / b if C_s > 0.0 else 0.0 * q / d
    return ORingLoad(q, k, p)
