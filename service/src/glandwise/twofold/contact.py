"""Load, pressure and friction of a seal lip on the shaft.

Line loads are per unit of shaft circumference, pressures are gauge, rotational speed is in turns per second. The
friction coefficient is always an argument: it depends on compound, counterface and lubrication, and is a range.
"""

from __future__ import annotations

from typing import NamedTuple

from glandwise.twofold import numeric as num

UNIFORM_PROFILE = 1.0
"""Mean pressure under the contact over sealed pressure when the sealed pressure reaches the low-pressure edge. [-]"""
LINEAR_PROFILE = 0.5
"""The same for a linear (triangular) fall across the contact: a liquid in a gap of even height. [-]"""
NO_PROFILE = 0.0
"""The same for a contact that is tight at its high-pressure edge. [-]"""


class Friction(NamedTuple):
    """Friction of a lip ring, or the sum over several."""

    radial_load: num.Real
    """Line load times circumference [N]"""
    force: num.Real
    """Tangential force at the shaft surface [N]"""
    torque: num.Real
    """Torque on the shaft [N·m]"""
    power: num.Real
    """Heat made per second [W]"""


class LineContact(NamedTuple):
    """Elastic contact of a rounded edge pressed on a rigid shaft."""

    width: num.Real
    """Whole axial width of the contact [m]"""
    mean_pressure: num.Real
    """Line load over width [Pa]"""
    peak_pressure: num.Real
    """Greatest pressure, in the middle [Pa]"""


def total_line_load(lip: num.Real, energizer: num.Real, pressure: num.Real) -> num.Real:
    r"""Contact line load of a lip.

    .. math:: q = \max(0,\ q_\mathrm{lip} + q_\mathrm{energizer} + q_\mathrm{pressure})

    Parameters
    ----------
    lip : float or array
        Load from the interference of the lip itself, relaxed if time has passed. [N/m]
    energizer : float or array
        Load from the energizer, 0 if none. [N/m]
    pressure : float or array
        Load from the sealed pressure, see `pressure_line_load`; negative where pressure lifts the lip. [N/m]

    Returns
    -------
    float or array
        Contact load :math:`q`, never negative: a lip does not pull. [N/m]

    Notes
    -----
    The three are added as forces at the contact. Loads at other diameters (a garter's coil axis) are referred to the
    shaft circumference first.

    References
    ----------
    Equilibrium; no constant is drawn from a publication.
    """
    return num.maximum(lip + energizer + pressure, 0.0)


def pressure_line_load(
    pressure: num.Real, pressurised_length: num.Real, contact_width: num.Real, profile_factor: num.Real
) -> num.Real:
    r"""Line load that the sealed pressure adds to an energized lip.

    .. math:: q_p = p \,(L_p - \lambda b)

    Parameters
    ----------
    pressure : float or array
        Sealed gauge pressure :math:`p` above the low-pressure side; negative for vacuum. [Pa]
    pressurised_length : float or array
        Axial length :math:`L_p` of lip whose outer face carries the sealed pressure while its underside does not:
        from the high-pressure edge of the contact towards the heel, the contact included, >= ``contact_width``. [m]
    contact_width : float or array
        Axial contact width :math:`b`, >= 0. [m]
    profile_factor : float or array
        Mean pressure under the contact over sealed pressure :math:`\lambda`, 0..1: `LINEAR_PROFILE` for a liquid
        in an even gap, `gas_profile_factor` for a gas, `UNIFORM_PROFILE` or `NO_PROFILE` as bounds. [-]

    Returns
    -------
    float or array
        Line load :math:`q_p`. [N/m]

    Notes
    -----
    The load is taken wholly to the contact; a lip that hangs on a stiff heel passes part of it there, which the shell
    model gives and this balance does not. It is thus an upper bound for a stiff lip.

    References
    ----------
    Radial equilibrium of the lip, the hydraulic balance of face-seal practice applied to a lip; derived. Which
    :math:`\lambda` and :math:`L_p` belong to a lip form is rule data.
    """
    return pressure * (pressurised_length - profile_factor * contact_width)


def gas_profile_factor(high_pressure: num.Real, low_pressure: num.Real) -> num.Real:
    r"""Mean pressure under the contact over sealed pressure for an isothermal gas in an even gap.

    .. math:: \lambda = \frac{1}{p_1 - p_2}
              \left( \frac{2}{3}\,\frac{p_1^3 - p_2^3}{p_1^2 - p_2^2} - p_2 \right)
              = \frac{2 p_1 + p_2}{3 (p_1 + p_2)}

    Parameters
    ----------
    high_pressure : float or array
        Absolute sealed pressure :math:`p_1`, > 0. [Pa]
    low_pressure : float or array
        Absolute pressure of the other side :math:`p_2`, >= 0. [Pa]

    Returns
    -------
    float or array
        :math:`\lambda`: 1/2 for a small difference, 2/3 for a large one. [-]

    Notes
    -----
    Laminar, isothermal, ideal gas: the absolute pressure squared falls linearly along the gap.

    References
    ----------
    Derived from Reynolds' equation for a compressible film of even height.
    """
    return num.divide(2.0 * high_pressure + low_pressure, 3.0 * (high_pressure + low_pressure))


def mean_contact_pressure(line_load: num.Real, contact_width: num.Real) -> num.Real:
    r"""Mean contact pressure.

    .. math:: p_c = \frac{q}{b}

    Parameters
    ----------
    line_load : float or array
        Contact line load :math:`q`, >= 0. [N/m]
    contact_width : float or array
        Axial contact width :math:`b`, > 0. [m]

    Returns
    -------
    float or array
        :math:`p_c`; infinite for a loaded edge without width. [Pa]

    Notes
    -----
    A mean: the peak of a rounded edge is 4/π times it, a sharp corner has no finite peak in the elastic model.

    References
    ----------
    Definition.
    """
    return num.divide(line_load, contact_width)


def friction(
    friction_coefficient: num.Real, line_load: num.Real, diameter: num.Real, rotation_speed: num.Real
) -> Friction:
    r"""Friction force, torque and power of a lip ring.

    .. math:: F = \mu q \pi d, \qquad T = \mu q\,2\pi r^2 = F\,\frac{d}{2}, \qquad P = 2\pi n T = F v

    Parameters
    ----------
    friction_coefficient : float or array
        :math:`\mu`, >= 0. [-]
    line_load : float or array
        Contact line load :math:`q`; a negative value counts as an open contact, 0. [N/m]
    diameter : float or array
        Shaft diameter :math:`d = 2r`, > 0. [m]
    rotation_speed : float or array
        Turns per second :math:`n`; the magnitude counts. For oscillation pass the mean surface speed over
        :math:`\pi d`. [rev/s]

    Returns
    -------
    Friction
        Radial load, force, torque, power. [N], [N], [N·m], [W]

    Notes
    -----
    Coulomb friction, even around the shaft. At rest the torque is that of imminent sliding and the power is zero.
    Several lips: add their torques and powers.

    References
    ----------
    Definition of the friction coefficient.
    """
    radial_load = num.maximum(line_load, 0.0) * (num.pi * diameter)
    force = friction_coefficient * radial_load
    torque = 0.5 * diameter * force
    return Friction(radial_load, force, torque, 2.0 * num.pi * num.absolute(rotation_speed) * torque)


def pressure_velocity(contact_pressure: num.Real, surface_speed: num.Real) -> num.Real:
    r"""Product of contact pressure and sliding speed.

    .. math:: PV = p_c\,|v|

    Parameters
    ----------
    contact_pressure : float or array
        Mean contact pressure :math:`p_c`, >= 0. [Pa]
    surface_speed : float or array
        Sliding speed :math:`v`. [m/s]

    Returns
    -------
    float or array
        Power density of friction for a coefficient of one. [Pa·m/s = W/m²]

    Notes
    -----
    One number stands for two independent limits, wear and heat, and misleads when taken alone: compare with the
    limiting value at the speed in question.

    References
    ----------
    Definition. Caution after Neale, The Tribology Handbook, 2nd ed., section A5 (published, read in a summary copy).
    """
    return contact_pressure * num.absolute(surface_speed)


def rounded_edge_contact(
    line_load: num.Real, edge_radius: num.Real, modulus: num.Real, poisson_ratio: num.Real
) -> LineContact:
    r"""Contact of a rounded lip edge on a rigid shaft by Hertz's line contact.

    .. math:: a = \sqrt{\frac{4 q R}{\pi E^*}}, \quad b = 2a, \quad E^* = \frac{E}{1-\nu^2}, \quad
              \hat p = \frac{2q}{\pi a}, \quad \bar p = \frac{q}{2a}

    Parameters
    ----------
    line_load : float or array
        Contact line load :math:`q`; negative counts as 0. [N/m]
    edge_radius : float or array
        Radius :math:`R` of the lip edge in the axial plane, > 0; the shaft is straight there. [m]
    modulus : float or array
        Modulus :math:`E` of the lip at its temperature and time, > 0. [Pa]
    poisson_ratio : float or array
        Poisson ratio :math:`\nu` of the lip, 0..0.5. [-]

    Returns
    -------
    LineContact
        Width, mean and peak pressure. [m], [Pa], [Pa]

    Notes
    -----
    Elastic half space, plane strain around the circumference, shaft rigid beside the polymer. Holds while the width
    is small beside the edge radius and the lip thickness; a peak pressure near the yield strength means the edge
    flattens further. A worn edge is flat: use `rounded_land_width`.

    References
    ----------
    Hertz (1882); Johnson, Contact Mechanics (1985), section 4.2(c). Published; the form is from memory and is derived
    again in the tests from the integral equation.
    """
    q = num.maximum(line_load, 0.0)
    half = num.sqrt(4.0 * q * edge_radius * (1.0 - poisson_ratio * poisson_ratio) / (num.pi * modulus))
    width = 2.0 * half
    mean = num.where(q > 0.0, num.divide(q, width), 0.0)
    return LineContact(width, mean, 4.0 / num.pi * mean)


def rounded_land_width(
    line_load: num.Real, land_width: num.Real, edge_radius: num.Real, modulus: num.Real, poisson_ratio: num.Real
) -> num.Real:
    r"""Contact width of a flat land with rounded edges, growing with load.

    .. math:: \frac{4 q R}{E^* a_0^2} = \frac{\pi - 2\varphi - \sin 2\varphi}{\sin^2\varphi}, \qquad
              b = \frac{2 a_0}{\sin\varphi}

    Parameters
    ----------
    line_load : float or array
        Contact line load :math:`q`; negative counts as 0. [N/m]
    land_width : float or array
        Width of the flat :math:`2 a_0`, >= 0 (0 gives Hertz's width). [m]
    edge_radius : float or array
        Radius :math:`R` of both edges in the axial plane, >= 0. [m]
    modulus : float or array
        Modulus :math:`E` of the lip, > 0. [Pa]
    poisson_ratio : float or array
        Poisson ratio :math:`\nu` of the lip, 0..0.5. [-]

    Returns
    -------
    float or array
        Contact width :math:`b`, between the land and land plus Hertz's width. [m]

    Notes
    -----
    Same assumptions as `rounded_edge_contact`. A lip that rounds on one side only grows by about half as much.

    References
    ----------
    Derived from the load integral of frictionless line contact,
    :math:`q = E^* \int_0^a x\,h'(x)/\sqrt{a^2-x^2}\,dx`; the same problem is treated by Ciavarella, Hills and Monno,
    Proc. Inst. Mech. Eng. C 212 (1998) 319 (citation from memory, not used for a number).
    """
    q = num.maximum(line_load, 0.0)
    half_land = 0.5 * land_width
    load = 4.0 * q * edge_radius * (1.0 - poisson_ratio * poisson_ratio) / modulus
    # below 1e-14 the width differs from the land by less than 1e-9 of it, and rounding would rule the iteration
    ratio = num.clip(num.divide(load, half_land * half_land), 1.0e-14, 1.0e12)
    # start between both limits of the equation, cube law for a wide land and Hertz for a narrow one
    angle = 0.5 * num.pi - num.arctan(num.power(0.75 * ratio, 1.0 / 3.0) + num.sqrt(ratio / num.pi))
    for _ in range(_NEWTON_STEPS):
        sine, cosine = num.sin(angle), num.cos(angle)
        excess = num.pi - 2.0 * angle - 2.0 * sine * cosine - ratio * sine * sine
        slope = 4.0 * cosine * cosine + 2.0 * ratio * sine * cosine
        angle = num.minimum(angle + num.where(slope > 0.0, num.divide(excess, slope), 0.0), 0.5 * num.pi)
    # beyond 1e12 the land is lost in Hertz's width to the precision of a double; without a land only that is left
    return num.where(ratio < 1.0e12, num.divide(land_width, num.sin(angle)), 2.0 * num.sqrt(load / num.pi))


_NEWTON_STEPS = 8
"""Enough for full precision from the start value; the tests check the residual over the whole range."""
