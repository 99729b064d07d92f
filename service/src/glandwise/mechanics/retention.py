"""Will it spin? Torque that holds a seal in its housing, and extrusion of its heel.

The extrusion limits are engineering estimates by limit analysis of a rigid-plastic heel, no substitute for a test.
"""

from __future__ import annotations

from math import pi, sqrt
from typing import NamedTuple

from glandwise.numerics.arithmetic import least


class ExtrusionLimit(NamedTuple):
    """Pressure at which a heel over a gap yields, by mechanism."""

    shear: float
    bending: float
    local: float


def o_ring_slip_torque(q: float, mu_i: float, r_i: float, mu_o: float, r_o: float) -> float:
    """Torque at which an O-ring in the outer diameter slips, on whichever of its two surfaces holds less.

    The same radial force goes through both surfaces. Side walls and pressure add to it and are left out, so the value is a
    lower one for a ring under pressure. The line load is that of the state asked for: cold and at the end of life it is least.

    Parameters
    ----------
    q : N/m
        Radial load per mean circumference of the ring, >= 0.
    mu_i : -
        Static friction coefficient on the bottom of the groove.
    r_i : m
        Radius of the bottom of the groove.
    mu_o : -
        Static friction coefficient on the bore.
    r_o : m
        Radius of the bore.

    Returns
    -------
    M : N·m
        Torque at which the O-ring slips.

    References
    ----------
    Coulomb friction; elementary statics.
    """
    r_m = 0.5 * (r_i + r_o)  # mean radius of the squeezed ring
    return least(mu_i * q * 2.0 * pi * r_m * r_i, mu_o * q * 2.0 * pi * r_m * r_o)


def clamp_holding_torque(F: float, mu: float, r_i: float, r_o: float, n: float) -> float:
    """Torque at which a clamped flange slips, under even pressure.

    Parameters
    ----------
    F : N
        Axial clamp force that is left: PTFE creeps under a clamp without a spring in the stack.
    mu : -
        Static friction coefficient on the clamped faces.
    r_i : m
        Inner radius of the clamped faces, >= 0.
    r_o : m
        Outer radius of the clamped faces, > 0.
    n : -
        Number of faces that have to slip: 2 for a flange between two fixed faces.

    Returns
    -------
    M : N·m
        Torque at which the flange slips.

    References
    ----------
    Shigley's Mechanical Engineering Design, ch. 16, frictional-contact axial clutches, uniform pressure (published, from
    memory).
    """
    r_f = 2.0 / 3.0 * (r_o**2 + r_o * r_i + r_i**2) / (r_o + r_i)  # friction radius under even pressure
    return n * mu * F * r_f


def press_fit_holding_torque(p: float, mu: float, r: float, l: float) -> float:  # noqa: E741
    """Torque at which a press fit slips, under even pressure.

    Parameters
    ----------
    p : Pa
        Contact pressure of the fit.
    mu : -
        Static friction coefficient.
    r : m
        Radius of the fit.
    l : m
        Length of the fit.

    Returns
    -------
    M : N·m
        Torque at which the press fit slips; over the radius it is the axial force.

    References
    ----------
    Shigley's Mechanical Engineering Design, ch. 7, interference fits (published, from memory).
    """
    return 2.0 * pi * r**2 * l * mu * p


def extrusion_pressure(g: float, t: float, sigma: float, tau: float, n: float) -> ExtrusionLimit:
    """Pressure at which the heel of a seal begins to flow into the gap behind it.

    Rigid-plastic, plane strain, the gap much smaller than the radius. Shear: equilibrium of a plug as wide as the gap through
    the thickness. Bending: full plastic moment of a cantilever as long as the gap. Surface: a half-space pressed everywhere
    but on a strip collapses at (2 + pi) tau whatever the width of the strip (Prandtl's punch reversed), which caps what a
    thick heel gains. Time enters through the strengths alone: nibbling by motion of the shaft and by cycles of pressure is
    not covered.

    Parameters
    ----------
    g : m
        Radial gap on the side of low pressure at its worst, >= 0.
    t : m
        Axial thickness of the heel over the gap.
    sigma : Pa
        Strength of the heel in tension or bending at temperature and time.
    tau : Pa
        Strength of the heel in shear at temperature and time.
    n : -
        Shear planes: 1 where the shaft side is free, 2 for a gap between two walls.

    Returns
    -------
    p_s : Pa
        Pressure that shears a plug of the heel into the gap.
    p_b : Pa
        Pressure that folds the heel over the edge of the gap.
    p_l : Pa
        Pressure at which the surface flows into a gap whatever the thickness; without a gap it is no limit.

    References
    ----------
    L. Prandtl (1920); R. Hill, The Mathematical Theory of Plasticity (1950), ch. IX (published, from memory). An engineering
    estimate, to be proved by test.
    """
    return ExtrusionLimit(n * tau * t / g, sigma * t**2 / (2.0 * g**2), (2.0 + pi) * tau)


def bridged_gap(p: float, t: float, sigma: float, tau: float, n: float) -> float:
    """Greatest gap that a heel bridges at a pressure, unless its surface flows.

    Parameters
    ----------
    p : Pa
        Pressure, >= 0.
    t : m
        Axial thickness of the heel.
    sigma : Pa
        Strength of the heel in tension or bending at temperature and time.
    tau : Pa
        Strength of the heel in shear at temperature and time.
    n : -
        Shear planes.

    Returns
    -------
    g : m
        Greatest radial gap; infinite without pressure.

    References
    ----------
    Inverse of the pressures that shear and fold a heel.
    """
    return least(n * t * tau / p, t * sqrt(0.5 * sigma / p))
