r"""Helical springs, the garter ring made of one, and the O-ring as a static seal or energizer."""

from __future__ import annotations

from typing import NamedTuple

from glandwise.twofold import numeric as num
from glandwise.twofold.numeric import Real


def spring_index(wire_diameter: Real, coil_diameter: Real) -> Real:
    r"""Index of a helical spring.

    .. math:: C = \frac{D}{d}

    Parameters
    ----------
    wire_diameter
        d, float or array, above 0 [m]
    coil_diameter
        mean coil diameter D, float or array, above d [m]

    Returns
    -------
    float or array
        C [-]

    Notes
    -----
    Springs are usually wound with C from 4 to 12; the stress factors below hold from about 3.

    References
    ----------
    Budynas, R. G. and Nisbett, J. K., Shigley's Mechanical Engineering Design, ch. 10 (published, from memory).
    """
    return coil_diameter / wire_diameter


def wahl_factor(index: Real) -> Real:
    r"""Stress factor of Wahl for curvature and direct shear.

    .. math:: K_W = \frac{4C-1}{4C-4} + \frac{0.615}{C}

    Parameters
    ----------
    index
        C, float or array, above 1 [-]

    Returns
    -------
    float or array
        factor [-]; ``nan`` for an index of 1 or less

    References
    ----------
    Wahl, A. M. (1963), Mechanical Springs, 2nd ed. (published, from memory).
    """
    index = num.where(index > 1.0, index, num.nan)
    return (4.0 * index - 1.0) / (4.0 * index - 4.0) + 0.615 / index


def bergstraesser_factor(index: Real) -> Real:
    r"""Stress factor of Bergsträsser.

    .. math:: K_B = \frac{4C+2}{4C-3}

    Parameters
    ----------
    index
        C, float or array, above 1 [-]

    Returns
    -------
    float or array
        factor [-]; ``nan`` for an index of 1 or less

    Notes
    -----
    The same as ``en13906_factor``, written differently; within 2 % of ``wahl_factor``.

    References
    ----------
    Budynas, R. G. and Nisbett, J. K., Shigley's Mechanical Engineering Design, ch. 10 (published, from memory).
    """
    index = num.where(index > 1.0, index, num.nan)
    return (4.0 * index + 2.0) / (4.0 * index - 3.0)


def en13906_factor(index: Real) -> Real:
    r"""Stress correction factor of the European standard for helical springs.

    .. math:: k = \frac{w + 0.5}{w - 0.75}, \qquad w = \frac{D}{d}

    Parameters
    ----------
    index
        w, float or array, above 1 [-]

    Returns
    -------
    float or array
        factor [-]; ``nan`` for an index of 1 or less

    References
    ----------
    EN 13906-1 and EN 13906-2, cylindrical helical springs, compression and extension (standard, from memory).
    """
    index = num.where(index > 1.0, index, num.nan)
    return (index + 0.5) / (index - 0.75)


def helical_rate(wire_diameter: Real, coil_diameter: Real, shear_modulus: Real, active_coils: Real) -> Real:
    r"""Rate of a close-wound helical spring.

    .. math:: k = \frac{G d^4}{8 D^3 N}

    Parameters
    ----------
    wire_diameter
        d, float or array, above 0 [m]
    coil_diameter
        mean coil diameter D, float or array, above d [m]
    shear_modulus
        G at the spring's temperature, float or array, above 0 [Pa]
    active_coils
        N, float or array, above 0 [-]

    Returns
    -------
    float or array
        k [N/m]

    Notes
    -----
    Torsion only; direct shear and coil curvature change it by order 1/C².

    References
    ----------
    Budynas, R. G. and Nisbett, J. K., Shigley's Mechanical Engineering Design, ch. 10 (published, from memory);
    EN 13906-2 (standard, from memory) gives the same.
    """
    square = wire_diameter * wire_diameter
    return shear_modulus * square * square / (8.0 * coil_diameter**3 * active_coils)


def active_coils_for_rate(wire_diameter: Real, coil_diameter: Real, shear_modulus: Real, rate: Real) -> Real:
    r"""Active coils that give a wanted rate.

    .. math:: N = \frac{G d^4}{8 D^3 k}

    Parameters
    ----------
    wire_diameter
        d, float or array, above 0 [m]
    coil_diameter
        mean coil diameter D, float or array, above d [m]
    shear_modulus
        G, float or array, above 0 [Pa]
    rate
        k, float or array, above 0 [N/m]

    Returns
    -------
    float or array
        N [-]

    References
    ----------
    As ``helical_rate``.
    """
    return helical_rate(wire_diameter, coil_diameter, shear_modulus, rate)


def hook_adjusted_coils(body_coils: Real, modulus: Real, shear_modulus: Real) -> Real:
    r"""Active coils of an extension spring with ordinary hooks.

    .. math:: N = N_b + \frac{G}{E}

    Parameters
    ----------
    body_coils
        coils of the body, float or array, above 0 [-]
    modulus
        Young's modulus E, float or array, above 0 [Pa]
    shear_modulus
        G, float or array, above 0 [Pa]

    Returns
    -------
    float or array
        N [-]

    Notes
    -----
    A garter ring is joined on itself and has no hooks: its active coils are those of the body less the joint.

    References
    ----------
    Budynas, R. G. and Nisbett, J. K., Shigley's Mechanical Engineering Design, ch. 10 (published, from memory).
    """
    return body_coils + shear_modulus / modulus


def closed_body_length(wire_diameter: Real, body_coils: Real) -> Real:
    r"""Length of the close-wound body of an extension spring.

    .. math:: L_b = d\,(N_b + 1)

    Parameters
    ----------
    wire_diameter
        d, float or array, above 0 [m]
    body_coils
        :math:`N_b`, float or array, above 0 [-]

    Returns
    -------
    float or array
        length [m]

    References
    ----------
    Mott, R. L. (2004), Machine Elements in Mechanical Design, 4th ed., sec. 19-7 (published).
    """
    return wire_diameter * (body_coils + 1.0)


def helical_shear_stress(force: Real, wire_diameter: Real, coil_diameter: Real, factor: Real = 1.0) -> Real:
    r"""Greatest shear stress in the wire of a helical spring.

    .. math:: \tau = K\,\frac{8 F D}{\pi d^3}

    Parameters
    ----------
    force
        F, float or array [N]
    wire_diameter
        d, float or array, above 0 [m]
    coil_diameter
        mean coil diameter D, float or array, above d [m]
    factor
        stress factor K, 1 for the uncorrected stress in which initial tension is stated, float or array [-]

    Returns
    -------
    float or array
        stress [Pa]

    References
    ----------
    As ``helical_rate``.
    """
    return factor * 8.0 * force * coil_diameter / (num.pi * wire_diameter**3)


def helical_force_for_stress(stress: Real, wire_diameter: Real, coil_diameter: Real, factor: Real = 1.0) -> Real:
    r"""Force that brings the wire of a helical spring to a given shear stress.

    .. math:: F = \frac{\pi d^3\,\tau}{8 K D}

    Parameters
    ----------
    stress
        :math:`\tau`, float or array [Pa]
    wire_diameter
        d, float or array, above 0 [m]
    coil_diameter
        mean coil diameter D, float or array, above d [m]
    factor
        stress factor K, float or array [-]

    Returns
    -------
    float or array
        force [N]

    References
    ----------
    As ``helical_rate``.
    """
    return num.pi * wire_diameter**3 * stress / (8.0 * factor * coil_diameter)


def wire_tensile_strength(
    wire_diameter: Real, strength_at_reference: Real, reference_diameter: Real, exponent: Real
) -> Real:
    r"""Tensile strength of spring wire, which falls with its diameter.

    .. math:: S_{ut} = S_{ref}\,\Bigl(\frac{d_{ref}}{d}\Bigr)^m

    Parameters
    ----------
    wire_diameter
        d, float or array, above 0 [m]
    strength_at_reference
        strength at the reference diameter, float or array, above 0 [Pa]
    reference_diameter
        float or array, above 0 [m]
    exponent
        m, float or array, at least 0 [-]

    Returns
    -------
    float or array
        strength [Pa]

    Notes
    -----
    Holds within the range of diameters for which the constants were fitted, which the caller knows.

    References
    ----------
    Budynas, R. G. and Nisbett, J. K., Shigley's Mechanical Engineering Design, ch. 10 (published, from memory).
    """
    return strength_at_reference * num.power(reference_diameter / wire_diameter, exponent)


def extension_length(force: Real, initial_tension: Real, rate: Real) -> Real:
    r"""Extension of a spring wound with initial tension.

    .. math:: y = \max\Bigl(0, \frac{F - F_i}{k}\Bigr)

    Parameters
    ----------
    force
        F, float or array [N]
    initial_tension
        :math:`F_i`, float or array, at least 0 [N]
    rate
        k, float or array, above 0 [N/m]

    Returns
    -------
    float or array
        y [m]; zero up to the initial tension, where the coils stay closed

    References
    ----------
    As ``helical_rate``.
    """
    return num.maximum(0.0, (force - initial_tension) / rate)


class GarterRing(NamedTuple):
    """State of a garter spring stretched on its seat."""

    rate: Real
    """rate of the whole spring [N/m]"""
    extension: Real
    """developed length on the seat less the free one; negative if the ring is slack [m]"""
    tension: Real
    """tension in the ring [N]"""
    line_load: Real
    """radial load per unit length of the spring's own axis [N/m]"""
    contact_line_load: Real
    """the same load per unit length of the contact it presses on [N/m]"""
    radial_total: Real
    """radial load summed around the circumference [N]"""
    stiffness: Real
    """slope of the contact line load as the ring grows in radius [N/m²]"""
    shear_stress: Real
    """greatest shear stress in the wire [Pa]"""


def garter_ring(
    wire_diameter: Real,
    coil_diameter: Real,
    shear_modulus: Real,
    active_coils: Real,
    free_length: Real,
    initial_tension: Real,
    ring_radius: Real,
    contact_radius: Real,
) -> GarterRing:
    r"""Tension and radial load of an extension spring closed on itself and stretched on a seat.

    .. math::
        T = F_i + k\,(2\pi r_s - L_0), \qquad q_s = \frac{T}{r_s}, \qquad q = \frac{T}{r}, \qquad
        F_r = 2\pi T, \qquad \frac{\mathrm dq}{\mathrm dr} = \frac{2\pi k}{r} - \frac{T}{r^2}

    Parameters
    ----------
    wire_diameter
        d, float or array, above 0 [m]
    coil_diameter
        mean coil diameter D, float or array, above d [m]
    shear_modulus
        G at the spring's temperature, float or array, above 0 [Pa]
    active_coils
        coils of the ring less those taken up by the joint, float or array, above 0 [-]
    free_length
        developed length :math:`L_0` of the joined ring, free, along its axis, float or array, above 0 [m]
    initial_tension
        :math:`F_i`, float or array, at least 0 [N]
    ring_radius
        radius :math:`r_s` of the spring's axis on the seat, float or array, above 0 [m]
    contact_radius
        radius r of the lip contact the load acts on, float or array, above 0 [m]

    Returns
    -------
    GarterRing
        rate [N/m], extension [m], tension [N], line load at the ring and at the contact [N/m], total [N], stiffness
        [N/m²], shear stress [Pa]; tension, loads, stiffness and stress are zero for a ring that is not stretched

    Notes
    -----
    A ring exactly as long as its seat may carry anything up to its initial tension; zero is taken, being all that can
    be relied upon. Bending of the close coil into a ring, and friction in its groove, are left out. The stiffness is
    for growth of the whole circumference; a shaft that runs out moves the ring sideways without lengthening it, to
    first order, and meets the load but not this stiffness. It is negative where a soft ring of high initial tension
    loses more by its growing radius than it gains in tension.

    References
    ----------
    Statics of a ring under tension (derived); spring as ``helical_rate``, stress by ``en13906_factor``.
    """
    rate = helical_rate(wire_diameter, coil_diameter, shear_modulus, active_coils)
    extension = 2.0 * num.pi * ring_radius - free_length
    stretched = extension > 0.0
    tension = num.where(stretched, initial_tension + rate * extension, 0.0 * extension)
    contact = tension / contact_radius
    factor = en13906_factor(spring_index(wire_diameter, coil_diameter))
    slope = (2.0 * num.pi * rate - contact) / contact_radius
    return GarterRing(
        rate,
        extension,
        tension,
        tension / ring_radius,
        contact,
        2.0 * num.pi * tension,
        num.where(stretched, slope, 0.0 * slope),
        helical_shear_stress(tension, wire_diameter, coil_diameter, factor),
    )


def garter_free_length(tension: Real, rate: Real, initial_tension: Real, ring_radius: Real) -> Real:
    r"""Free developed length that gives a wanted tension on a given seat.

    .. math:: L_0 = 2\pi r_s - \frac{T - F_i}{k}

    Parameters
    ----------
    tension
        T, float or array, above the initial tension [N]
    rate
        k, float or array, above 0 [N/m]
    initial_tension
        :math:`F_i`, float or array, at least 0 [N]
    ring_radius
        radius of the spring's axis on the seat, float or array, above 0 [m]

    Returns
    -------
    float or array
        :math:`L_0` [m]; ``nan`` for a tension not above the initial tension, which no stretch defines

    References
    ----------
    As ``garter_ring``.
    """
    stretch = (tension - initial_tension) / rate
    return 2.0 * num.pi * ring_radius - num.where(stretch > 0.0, stretch, num.nan)


def gent_modulus(shore_a: Real, slope: Real = 7.62336) -> Real:
    r"""Small-strain Young's modulus of rubber from its Shore A hardness.

    .. math:: E\,[\mathrm{MPa}] = \frac{0.0981\,(56 + 7.62336\,S)}{0.137505\,(254 - 2.54\,S)}

    Parameters
    ----------
    shore_a
        Shore A hardness S, float or array, 0 to below 100; meant for 40 to 90 [-]
    slope
        coefficient of S in the numerator, printed as 7.62336 and also as 7.66, float or array [-]

    Returns
    -------
    float or array
        E [Pa]; ``nan`` outside 0 to below 100

    Notes
    -----
    From the geometry of the indentor and a linear elastic half-space. The theory is stated for hardness above about 40;
    below, the formula still gives a number and the caller should say so. Hardness is read to about 2 points and modulus
    scatters for a given hardness: take the result to be no better than 25 % (common practice, no source).

    References
    ----------
    Gent, A. N. (1958), On the relation between indentation hardness and Young's modulus, Rubber Chemistry and
    Technology 31, 896-906 (published, from memory).
    """
    hardness = num.where((shore_a >= 0.0) & (shore_a < 100.0), shore_a, num.nan)
    return 1.0e6 * 0.0981 * (56.0 + slope * hardness) / (0.137505 * (254.0 - 2.54 * hardness))


def irhd_modulus(irhd: Real) -> Real:
    r"""Small-strain Young's modulus of rubber from its hardness in international rubber hardness degrees.

    .. math:: H = 100\,\Phi\!\left(\frac{\log_{10} M - 0.364}{0.7}\right) \;\Rightarrow\;
        M\,[\mathrm{MPa}] = 10^{\,0.364 + 0.7\,\Phi^{-1}(H/100)}

    Parameters
    ----------
    irhd
        hardness H, float or array, above 0 and below 100; meant for 30 to 95 [-]

    Returns
    -------
    float or array
        M [Pa]; ``nan`` outside that range

    Notes
    -----
    The degrees are defined through this probability curve with its midpoint at log10 M = 0.364 and a greatest slope of
    57 degrees per decade. Read Shore A as IRHD and the two moduli of this module differ by 2 to 15 % from 30 to 90.

    References
    ----------
    ISO 48 (standard, from memory).
    """
    return 1.0e6 * num.power(10.0, 0.364 + 0.7 * _normal_quantile(irhd / 100.0))


def irhd_hardness(modulus: Real) -> Real:
    r"""Hardness in international rubber hardness degrees of a rubber of given modulus.

    .. math:: H = 100\,\Phi\!\left(\frac{\log_{10} M - 0.364}{0.7}\right)

    Parameters
    ----------
    modulus
        M, float or array, above 0 [Pa]

    Returns
    -------
    float or array
        H, 0 to 100 [-]

    References
    ----------
    ISO 48 (standard, from memory).
    """
    z = (num.log10(modulus / 1.0e6) - 0.364) / 0.7
    if num.is_array(z):
        from scipy.special import ndtr

        return 100.0 * ndtr(z)
    import math

    return 50.0 * math.erfc(-z / math.sqrt(2.0))


def _normal_quantile(probability: Real) -> Real:
    """Inverse of the standard normal distribution; ``nan`` outside 0..1, both ends excluded."""
    if num.is_array(probability):
        from scipy.special import ndtri

        inside = (probability > 0.0) & (probability < 1.0)
        return num.where(inside, ndtri(num.where(inside, probability, 0.5)), num.nan)
    if not 0.0 < probability < 1.0:
        return num.nan
    from statistics import NormalDist

    return NormalDist().inv_cdf(probability)


def lindley_factor(squeeze_ratio: Real, squeeze_limit: Real) -> Real:
    r"""Dimensionless load of a squeezed O-ring.

    .. math:: \frac{F}{\pi D d E} = 1.25\,C^{1.5} + 50\,C^6

    Parameters
    ----------
    squeeze_ratio
        C, squeeze over section diameter, float or array, at least 0 [-]
    squeeze_limit
        greatest C for which the correlation is to be used, float or array; the published figure is not known here [-]

    Returns
    -------
    float or array
        factor [-]; zero for no squeeze, ``nan`` beyond the limit

    Notes
    -----
    See ``oring_load``.

    References
    ----------
    Lindley, P. B. (1967), Compression characteristics of laterally-unrestrained rubber O-rings, Journal of the
    Institution of the Rubber Industry 1 (published, from memory; pages not checked).
    """
    squeeze = num.where(squeeze_ratio <= squeeze_limit, num.maximum(squeeze_ratio, 0.0), num.nan)
    cube = squeeze * squeeze * squeeze
    return 1.25 * squeeze * num.sqrt(squeeze) + 50.0 * cube * cube


class ORingLoad(NamedTuple):
    """Load of a squeezed O-ring per unit circumference."""

    line_load: Real
    """load per unit of mean circumference [N/m]"""
    stiffness: Real
    """slope of the line load in the squeeze [N/m²]"""
    contact_width: Real
    """width of the band of contact [m]"""
    mean_pressure: Real
    """line load over contact width; zero without squeeze [Pa]"""


def oring_load(section: Real, squeeze_ratio: Real, modulus: Real, squeeze_limit: Real) -> ORingLoad:
    r"""Load, stiffness and contact width of an O-ring squeezed between two flats.

    .. math::
        q = d E\,(1.25\,C^{1.5} + 50\,C^6), \qquad
        k = E\,(1.875\,C^{0.5} + 300\,C^5), \qquad b = 2.4\,C\,d

    Parameters
    ----------
    section
        section diameter d as seated, float or array, above 0 [m]
    squeeze_ratio
        C, squeeze over section diameter, float or array [-]
    modulus
        small-strain Young's modulus E, float or array, above 0 [Pa]
    squeeze_limit
        greatest C for which the correlation is to be used, float or array [-]

    Returns
    -------
    ORingLoad
        line load [N/m], stiffness [N/m²], contact width [m], mean pressure [Pa]; zero for no squeeze, ``nan`` beyond
        the limit

    Notes
    -----
    A ring free to spread sideways, between flats without friction. It does not cover one that fills its groove or bears
    on its sides (compare the fill of its gland), nor relaxation: E is the modulus for the time asked about. For a ring
    squeezed radially it holds where the groove or bore backs the ring, so that the squeeze goes into the section and
    not into the diameter of the ring. Rubber of hardness 40 and more, as for ``gent_modulus``.

    References
    ----------
    Lindley (1967), as ``lindley_factor``. Contact width: the same author, from memory, compared by Green, I. and
    English, C. (1994) with finite elements up to 32 % squeeze (published; abstract only read).
    """
    factor = lindley_factor(squeeze_ratio, squeeze_limit)
    squeeze = num.where(squeeze_ratio <= squeeze_limit, num.maximum(squeeze_ratio, 0.0), num.nan)
    square = squeeze * squeeze
    load = section * modulus * factor
    width = 2.4 * squeeze * section
    return ORingLoad(
        load,
        modulus * (1.875 * num.sqrt(squeeze) + 300.0 * square * square * squeeze),
        width,
        num.where(squeeze > 0.0, num.divide(load, width), 0.0 * squeeze),
    )
