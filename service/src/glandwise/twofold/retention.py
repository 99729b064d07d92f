"""Will it spin? Holding torque of a seal in its housing against the torque of its lips, and extrusion of its heel.

Friction coefficients, strengths and shares are arguments. The extrusion limits are engineering estimates by limit
analysis of a rigid-plastic heel, not a substitute for a test.
"""

from __future__ import annotations

from typing import NamedTuple

from glandwise.twofold import numeric as num
from glandwise.twofold.numeric import Real

# Collapse of a half-space pressed everywhere but on a strip (Prandtl's punch reversed): p/k = 2 + pi.
_STRIP_COLLAPSE = 2.0 + num.pi


class ExtrusionLimit(NamedTuple):
    """Pressure at which a heel over a gap yields, by mechanism."""

    shear: Real
    """Plug of the heel shearing into the gap over its whole thickness [Pa]."""
    bending: Real
    """Heel folding over the gap's edge as a cantilever [Pa]."""
    local: Real
    """Surface flowing into the gap whatever the thickness [Pa]."""
    allowable: Real
    """The least of the three [Pa]."""


def o_ring_holding_torque(line_load: Real, friction: Real, mean_radius: Real, slip_radius: Real) -> Real:
    r"""Return the torque at which a squeezed O-ring slips on one of its two surfaces.

    .. math:: T = \mu\, q\, 2\pi r_m\, r_s

    Parameters
    ----------
    line_load : float or array
        Radial load :math:`q` per unit of the ring's mean circumference, not negative. [N/m]
    friction : float or array
        Static friction coefficient :math:`\mu` on the surface looked at. [-]
    mean_radius : float or array
        Mean radius :math:`r_m` of the squeezed ring. [m]
    slip_radius : float or array
        Radius :math:`r_s` of the surface looked at: bore, or groove bottom. [m]

    Returns
    -------
    float or array
        Torque at slip. [N m]

    Notes
    -----
    The same radial force goes through both surfaces; evaluate both and take the lesser (usually the groove bottom of
    a PTFE body: smaller radius, lower friction). Side walls and pressure add to it and are left out, so the value is
    a lower one for a pressurised ring. The line load must be that of the state asked for: cold and at end-of-life
    squeeze it is least.

    References
    ----------
    Coulomb friction; elementary statics.
    """
    return friction * line_load * 2.0 * num.pi * mean_radius * slip_radius


def o_ring_slip_torque(
    line_load: Real,
    inner_friction: Real,
    inner_radius: Real,
    outer_friction: Real,
    outer_radius: Real,
) -> Real:
    r"""Return the torque that an O-ring in the outer diameter holds: the lesser of its two surfaces.

    .. math:: T = 2\pi r_m\, q\, \min(\mu_i r_i,\; \mu_o r_o), \qquad r_m = \tfrac12 (r_i + r_o)

    Parameters
    ----------
    line_load : float or array
        Radial load :math:`q` per unit of mean circumference. [N/m]
    inner_friction : float or array
        Static friction coefficient on the groove bottom. [-]
    inner_radius : float or array
        Groove bottom radius. [m]
    outer_friction : float or array
        Static friction coefficient on the bore. [-]
    outer_radius : float or array
        Bore radius. [m]

    Returns
    -------
    float or array
        Torque at slip. [N m]

    Notes
    -----
    As :func:`o_ring_holding_torque`, both surfaces at once.

    References
    ----------
    Coulomb friction; elementary statics.
    """
    mean = 0.5 * (inner_radius + outer_radius)
    return num.minimum(
        o_ring_holding_torque(line_load, inner_friction, mean, inner_radius),
        o_ring_holding_torque(line_load, outer_friction, mean, outer_radius),
    )


def clamp_friction_radius(inner_radius: Real, outer_radius: Real) -> Real:
    r"""Return the effective friction radius of a flange clamped with uniform pressure.

    .. math:: r_f = \frac{2}{3}\,\frac{r_o^3 - r_i^3}{r_o^2 - r_i^2}
        = \frac{2}{3}\,\frac{r_o^2 + r_o r_i + r_i^2}{r_o + r_i}

    Parameters
    ----------
    inner_radius : float or array
        Inner radius of the clamped face, not negative. [m]
    outer_radius : float or array
        Outer radius of the clamped face, above 0. [m]

    Returns
    -------
    float or array
        Friction radius. [m]

    Notes
    -----
    Exceeds the mean radius by :math:`(r_o-r_i)^2/(6(r_o+r_i))`: under 1 % for a face narrower than a third of its
    mean radius.

    References
    ----------
    Shigley's Mechanical Engineering Design, ch. 16, frictional-contact axial clutches, uniform pressure (published,
    from memory).
    """
    return (
        2.0
        / 3.0
        * (outer_radius * outer_radius + outer_radius * inner_radius + inner_radius * inner_radius)
        / (outer_radius + inner_radius)
    )


def clamp_holding_torque(
    clamp_force: Real, friction: Real, inner_radius: Real, outer_radius: Real, faces: Real, kept_share: Real = 1.0
) -> Real:
    r"""Return the torque at which a clamped flange slips.

    .. math:: T = n\, \mu\, \kappa F\, r_f

    Parameters
    ----------
    clamp_force : float or array
        Axial clamp force :math:`F`. [N]
    friction : float or array
        Static friction coefficient :math:`\mu` on the clamped faces. [-]
    inner_radius : float or array
        Inner radius of the clamped faces. [m]
    outer_radius : float or array
        Outer radius of the clamped faces. [m]
    faces : float or array
        Number of faces :math:`n` that must slip: 2 for a flange between two fixed faces. [-]
    kept_share : float or array
        Share :math:`\kappa` of the clamp force left after the flange has crept. [-]

    Returns
    -------
    float or array
        Torque at slip. [N m]

    Notes
    -----
    Uniform pressure. PTFE creeps under a clamp without a spring in the stack: the share is an engineering estimate.

    References
    ----------
    Shigley's Mechanical Engineering Design, ch. 16 (published, from memory).
    """
    return faces * friction * kept_share * clamp_force * clamp_friction_radius(inner_radius, outer_radius)


def press_fit_holding_torque(pressure: Real, friction: Real, radius: Real, length: Real) -> Real:
    r"""Return the torque at which a press fit slips.

    .. math:: T = 2\pi r^2 l\, \mu\, p

    Parameters
    ----------
    pressure : float or array
        Contact pressure :math:`p` of the fit. [Pa]
    friction : float or array
        Static friction coefficient :math:`\mu`. [-]
    radius : float or array
        Radius :math:`r` of the fit. [m]
    length : float or array
        Length :math:`l` of the fit. [m]

    Returns
    -------
    float or array
        Torque at slip. [N m]

    Notes
    -----
    Uniform pressure; no edge effects. The axial force at slip is the torque over the radius.

    References
    ----------
    Shigley's Mechanical Engineering Design, ch. 7, interference fits (published, from memory).
    """
    return 2.0 * num.pi * radius * radius * length * friction * pressure


def extrusion_pressure(
    gap: Real, heel_thickness: Real, tensile_strength: Real, shear_strength: Real, planes: Real = 1.0
) -> ExtrusionLimit:
    r"""Return the pressure at which the heel of a seal over an extrusion gap begins to flow into it.

    .. math:: p_s = \frac{n\,\tau\,t}{g}, \qquad p_b = \frac{\sigma\,t^2}{2 g^2}, \qquad p_l = (2+\pi)\,\tau, \qquad
        p = \min(p_s, p_b, p_l)

    Parameters
    ----------
    gap : float or array
        Radial gap :math:`g` on the low-pressure side at its worst, not negative. [m]
    heel_thickness : float or array
        Axial thickness :math:`t` of the heel over the gap. [m]
    tensile_strength : float or array
        Strength :math:`\sigma` in tension or bending at temperature and time (yield or creep). [Pa]
    shear_strength : float or array
        Strength :math:`\tau` in shear at temperature and time. [Pa]
    planes : float or array
        Shear planes :math:`n`: 1 where the shaft side is free, 2 for a gap between two walls. [-]

    Returns
    -------
    ExtrusionLimit
        Pressure for each mechanism and the least of them. [Pa]

    Notes
    -----
    Engineering estimate, to be proved by test. Rigid-plastic, plane strain (gap much smaller than radius).
    Shear: equilibrium of a plug of width g through the thickness. Bending: full plastic moment :math:`\sigma t^2/4`
    of a cantilever of length g. Local: a half-space pressed everywhere but on a strip of width g collapses at
    :math:`(2+\pi)\tau` whatever the width (Prandtl's punch reversed), which caps what a thick heel gains. Time enters
    through the strengths only: nibbling by shaft motion and pressure cycles is not covered. At zero gap the local
    limit remains; the caller decides whether a closed gap needs the criterion at all.

    References
    ----------
    L. Prandtl (1920); R. Hill, The Mathematical Theory of Plasticity (1950), ch. IX (published, from memory).
    """
    ratio = num.divide(heel_thickness, gap)
    shear = planes * shear_strength * ratio
    bending = 0.5 * tensile_strength * ratio * ratio
    local = _STRIP_COLLAPSE * shear_strength + 0.0 * (gap + heel_thickness)
    return ExtrusionLimit(shear, bending, local, num.minimum(num.minimum(shear, bending), local))


def allowable_gap(
    pressure: Real, heel_thickness: Real, tensile_strength: Real, shear_strength: Real, planes: Real = 1.0
) -> Real:
    r"""Return the greatest gap that a heel bridges at a pressure.

    .. math:: g = \min\left(\frac{n\,\tau\,t}{p},\; t\sqrt{\frac{\sigma}{2p}}\right) \;\text{if}\; p \le (2+\pi)\,\tau,
        \quad 0 \;\text{otherwise}

    Parameters
    ----------
    pressure : float or array
        Pressure :math:`p`. [Pa]
    heel_thickness : float or array
        Axial thickness :math:`t` of the heel. [m]
    tensile_strength : float or array
        Strength :math:`\sigma` in tension or bending at temperature and time. [Pa]
    shear_strength : float or array
        Strength :math:`\tau` in shear at temperature and time. [Pa]
    planes : float or array
        Shear planes :math:`n`. [-]

    Returns
    -------
    float or array
        Greatest radial gap; 0 where no gap holds, ``inf`` without pressure. [m]

    Notes
    -----
    Inverse of :func:`extrusion_pressure`, with the same limits of use.

    References
    ----------
    As :func:`extrusion_pressure`.
    """
    gap = num.minimum(
        planes * heel_thickness * num.divide(shear_strength, pressure),
        heel_thickness * num.sqrt(num.divide(0.5 * tensile_strength, pressure)),
    )
    return num.where(pressure <= _STRIP_COLLAPSE * shear_strength, num.where(pressure > 0.0, gap, num.inf), 0.0)
