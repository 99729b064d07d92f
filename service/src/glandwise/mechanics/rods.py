"""Canted coil spring energizer: a closed-wound wire row leaning at an angle and compressed across its axis.

The wire is a slender elastic rod in bending and torsion. The centreline of one coil, with the angle θ along the wire,

    x = p θ/2π + b cos θ tan β,    y = a sin θ,    z = b cos θ

has the coil axis along x and the load along z. An infinite row of equal coils between two smooth plates has two-fold
axes parallel to y at θ = ±π/2, so half a coil with one crest carries the whole problem.
"""

from __future__ import annotations

import math

import numpy as np

from glandwise.mechanics import numeric as num

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(24)
# Two panels meet at the crest, where the internal force jumps.
_THETA = np.concatenate(((_NODES - 1.0), (_NODES + 1.0))) * (math.pi / 4.0)
_W = np.concatenate((_WEIGHTS, _WEIGHTS)) * (math.pi / 4.0)
_SIN, _COS = np.sin(_THETA), np.cos(_THETA)
_PAST_CREST = (_THETA > 0.0).astype(float)
_BLOCK = 512  # cases per pass: the working set of one pass stays in the processor cache


def _linear_core(
    aspect: num.Real, pitch: num.Real, tan_cant: num.Real, nu: num.Real, axial: num.Real, shear: num.Real
) -> num.Real:
    """F b³/(EI δ) of one coil; lengths in half heights b; ``axial`` = EI/(EA b²), ``shear`` = EI/(k GA b²)."""
    if isinstance(aspect, np.ndarray):
        aspect, pitch, tan_cant = aspect[:, None], pitch[:, None], tan_cant[:, None]
        nu, axial, shear = nu[:, None], axial[:, None], shear[:, None]
    x = pitch * (_THETA / (2.0 * math.pi)) + _COS * tan_cant
    y = aspect * _SIN
    z = _COS
    dx = pitch / (2.0 * math.pi) - _SIN * tan_cant
    dy = aspect * _COS
    dz = -_SIN
    speed2 = dx * dx + dy * dy + dz * dz
    speed = np.sqrt(speed2)
    ds = _W * speed
    # Moments per unit n_x: (0, -z, y); m_x: (1, 0, 0); m_z: (0, 0, 1); F: (u, v, 0). n_z = c F makes m_y vanish at
    # both two-fold axes.
    c = 2.0 * tan_cant / pitch - 0.5
    n_z = c + _PAST_CREST
    u = -n_z * y
    v = c * (x + 0.25 * pitch) + _PAST_CREST * (x - tan_cant)
    twist_n = y * dz - z * dy
    twist_f = u * dx + v * dy
    k = nu / speed2  # extra compliance of twist: EI/GJ - 1 = ν for a round wire

    def total(value: num.Real) -> num.Real:
        return (ds * value).sum(axis=-1)

    a11 = total(y * y + z * z + k * twist_n * twist_n + (axial - shear) * dx * dx / speed2 + shear)
    a12 = total(k * twist_n * dx)
    a13 = total(y + k * twist_n * dz)
    a22 = total(1.0 + k * dx * dx)
    a23 = total(k * dx * dz)
    a33 = total(1.0 + k * dz * dz)
    f1 = total(-z * v + k * twist_n * twist_f + (axial - shear) * n_z * dx * dz / speed2)
    f2 = total(u + k * dx * twist_f)
    f3 = total(k * dz * twist_f)
    ff = total(u * u + v * v + k * twist_f * twist_f + n_z * n_z * ((axial - shear) * dz * dz / speed2 + shear))
    # Eliminate the three redundants (symmetric positive definite).
    l21, l31 = a12 / a11, a13 / a11
    d2, s23 = a22 - l21 * a12, a23 - l21 * a13
    l32 = s23 / d2
    d3 = a33 - l31 * a13 - l32 * s23
    g2 = f2 - l21 * f1
    g3 = f3 - l31 * f1 - l32 * g2
    crest_drop = ff - f1 * f1 / a11 - g2 * g2 / d2 - g3 * g3 / d3
    return 0.5 / crest_drop


def _linear_coefficient(
    aspect: num.Real, pitch: num.Real, cant: num.Real, nu: num.Real, axial: num.Real = 0.0, shear: num.Real = 0.0
) -> num.Real:
    """F b³/(EI δ) in the small-deflection limit, ``nan`` where the geometry is none."""
    if not num.is_array(aspect, pitch, cant, nu, axial, shear):
        ok = aspect > 0.0 and pitch > 0.0 and 0.0 <= cant < math.pi / 2.0 and nu > -1.0 and axial >= 0.0 <= shear
        if not (ok and math.isfinite(aspect + pitch + nu + axial + shear)):
            return num.nan
        return float(_linear_core(aspect, pitch, math.tan(cant), nu, axial, shear))
    cases = np.broadcast_arrays(aspect, pitch, cant, nu, axial, shear)
    shape = cases[0].shape
    flat = [np.asarray(item, dtype=float).reshape(-1) for item in cases]
    ok = (flat[0] > 0.0) & (flat[1] > 0.0) & (flat[2] >= 0.0) & (flat[2] < math.pi / 2.0) & (flat[3] > -1.0)
    ok &= (flat[4] >= 0.0) & (flat[5] >= 0.0) & np.isfinite(sum(flat))
    result = np.full(ok.size, num.nan)
    chosen = np.flatnonzero(ok)
    for start in range(0, chosen.size, _BLOCK):
        block = chosen[start : start + _BLOCK]
        one, two, three, four, five, six = (item[block] for item in flat)
        result[block] = _linear_core(one, two, np.tan(three), four, five, six)
    return result.reshape(shape)


def canted_coil_linear_rate(
    pitch: num.Real,
    half_width: num.Real,
    half_height: num.Real,
    cant_angle: num.Real,
    wire_diameter: num.Real,
    elastic_modulus: num.Real,
    shear_modulus: num.Real,
    axial_flexibility: num.Real = 0.0,
    shear_flexibility: num.Real = 0.0,
) -> num.Real:
    r"""Small-deflection rate of one coil of a canted coil spring pressed across its axis.

    .. math::
        U^* = \tfrac12 \int_{-\pi/2}^{\pi/2} \Big[\frac{|m|^2 - (m\cdot t)^2}{EI} + \frac{(m\cdot t)^2}{GJ}
        + \epsilon_a \frac{(n\cdot t)^2}{EA} + \epsilon_s \frac{|n|^2 - (n\cdot t)^2}{GA}\Big] ds ,
        \qquad k = \frac{F}{\delta} = \frac{F}{2\,\partial U^*/\partial F}

    Parameters
    ----------
    pitch : float or array
        Distance p between equal points of neighbouring coils along the axis, > 0 [m].
    half_width : float or array
        Half width a of the wire centreline, across both axis and load, > 0 [m].
    half_height : float or array
        Half height b of the wire centreline, along the load, > 0; the free height is 2b + d [m].
    cant_angle : float or array
        Angle β between the plane of a coil and the plane square to the axis, 0 <= β < π/2 [rad].
    wire_diameter : float or array
        Diameter d of the round wire, > 0 [m].
    elastic_modulus : float or array
        Young's modulus E of the wire [Pa].
    shear_modulus : float or array
        Shear modulus G of the wire [Pa].
    axial_flexibility : float or array
        Weight ε_a of the stretch of the wire: 0 leaves it out, 1 counts it [-].
    shear_flexibility : float or array
        Form factor ε_s of the transverse shear: 0 leaves it out, 10/9 is usual for a round section [-].

    Returns
    -------
    float or array
        Load per coil over compression between the plates, F/δ; ``nan`` outside the ranges above [N/m].

    Notes
    -----
    Straight infinite row, smooth flat plates free to move along the axis, round elastic wire, load at the crest
    θ = 0. The half coil is statically indeterminate; n_z follows from the moment balance about y between the two
    two-fold axes and the redundants n_x, m_x, m_z are eliminated by least complementary energy. Quadrature: 24
    Gauss-Legendre points on each side of the crest. The stretch and shear terms are there to show that they are small
    (1 % and less in the cases checked); the finite-deflection model leaves them out.

    References
    ----------
    S. P. Timoshenko, Strength of Materials, part I, 3rd ed. 1955, strain energy and Castigliano's theorem
    (method; from memory; published). The application to the canted coil is derived here (derived).
    """
    with np.errstate(all="ignore"):
        inertia_radius = num.divide(wire_diameter, 4.0 * half_height)  # of the wire section, in half heights
        radius2 = inertia_radius * inertia_radius
        ratio = num.divide(elastic_modulus, shear_modulus)
        coefficient = _linear_coefficient(
            num.divide(half_width, half_height),
            num.divide(pitch, half_height),
            cant_angle,
            0.5 * ratio - 1.0,
            axial_flexibility * radius2,
            shear_flexibility * ratio * radius2,
        )
        rigidity = elastic_modulus * num.pi * wire_diameter**4 / 64.0
        return num.where(wire_diameter > 0.0, num.divide(coefficient * rigidity, half_height**3), num.nan)
