"""Canted coil spring energizer: a closed-wound wire row leaning at an angle and compressed across its axis.

The wire is a slender elastic rod in bending and torsion. The centreline of one coil, with the angle θ along the wire,

    x = p θ/2π + b cos θ tan β,    y = a sin θ,    z = b cos θ

has the coil axis along x and the load along z. An infinite row of equal coils between two smooth plates has two-fold
axes parallel to y at θ = ±π/2, so half a coil with one crest carries the whole problem.

How the coil behaves at a finite compression is read from a table that a solver made of the geometrically exact rod:
Chebyshev series in the cant angle β, a/b, p/b, Poisson ratio and compression over free height of the centreline, δ/2b.
"""

from __future__ import annotations

from math import exp, inf, isfinite, nan, pi, sqrt, tan
from typing import NamedTuple

import numpy as np

from glandwise.mechanics import tables
from glandwise.mechanics.springs import shear_modulus
from glandwise.numerics.interpolation import Table
from glandwise.numerics.lives import opaque, with_arrays

# ----------------------------------------------------------------------------------------------------- small deflection

_POINTS, _WEIGHTS = np.polynomial.legendre.leggauss(24)
# Two panels meet at the crest, where the internal force jumps.
_THETA = np.concatenate((_POINTS - 1.0, _POINTS + 1.0)) * (pi / 4.0)
_WEIGHT = np.concatenate((_WEIGHTS, _WEIGHTS)) * (pi / 4.0)
_SIN, _COS = np.sin(_THETA), np.cos(_THETA)


def _linear_coefficient(aspect: float, pitch: float, tan_cant: float, nu: float) -> float:
    """F b³/(E I δ) of one coil in the limit of small deflection; lengths in half heights b."""
    theta, weight, sine, cosine = _THETA, _WEIGHT, _SIN, _COS
    # Moments per unit n_x: (0, -z, y); m_x: (1, 0, 0); m_z: (0, 0, 1); F: (u, v, 0). n_z = c F makes m_y vanish at
    # both two-fold axes.
    c = 2.0 * tan_cant / pitch - 0.5
    lead = pitch / (2.0 * pi)
    a11 = a12 = a13 = a22 = a23 = a33 = f1 = f2 = f3 = ff = 0.0
    for i in range(theta.size):
        past_crest = 1.0 if theta[i] > 0.0 else 0.0
        x, y, z = lead * theta[i] + cosine[i] * tan_cant, aspect * sine[i], cosine[i]
        dx, dy, dz = lead - sine[i] * tan_cant, aspect * cosine[i], -sine[i]
        speed2 = dx * dx + dy * dy + dz * dz
        ds = weight[i] * sqrt(speed2)
        n_z = c + past_crest
        u = -n_z * y
        v = c * (x + 0.25 * pitch) + past_crest * (x - tan_cant)
        twist_n = y * dz - z * dy
        twist_f = u * dx + v * dy
        k = nu / speed2  # extra compliance of twist: EI/GJ - 1 = ν for a round wire
        a11 += ds * (y * y + z * z + k * twist_n * twist_n)
        a12 += ds * (k * twist_n * dx)
        a13 += ds * (y + k * twist_n * dz)
        a22 += ds * (1.0 + k * dx * dx)
        a23 += ds * (k * dx * dz)
        a33 += ds * (1.0 + k * dz * dz)
        f1 += ds * (-z * v + k * twist_n * twist_f)
        f2 += ds * (u + k * dx * twist_f)
        f3 += ds * (k * dz * twist_f)
        ff += ds * (u * u + v * v + k * twist_f * twist_f)
    # Eliminate the three redundants (symmetric positive definite).
    l21, l31 = a12 / a11, a13 / a11
    d2, s23 = a22 - l21 * a12, a23 - l21 * a13
    l32 = s23 / d2
    d3 = a33 - l31 * a13 - l32 * s23
    g2 = f2 - l21 * f1
    g3 = f3 - l31 * f1 - l32 * g2
    crest_drop = ff - f1 * f1 / a11 - g2 * g2 / d2 - g3 * g3 / d3
    return 0.5 / crest_drop


@opaque(name="canted_coil_rate")
def canted_coil_rate(p: float, a: float, b: float, beta: float, d: float, E: float, G: float) -> float:
    """Small-deflection rate of one turn of a canted coil spring pressed across its axis.

    Straight infinite row, smooth flat plates free to move along the axis, round elastic wire that neither stretches nor
    shears, load at the crest. The half coil is statically indeterminate; one redundant follows from the balance of moments
    between the two two-fold axes, the others are eliminated by least complementary energy. Quadrature: 24 Gauss-Legendre
    points on each side of the crest. Stretch and shear, which are left out, take off 0.4 to 1.7 % for d/b = 0.2 and 15° to
    60°, but 5 % in an upright coil.

    Parameters
    ----------
    p : m
        Distance between equal points of neighbouring turns along the axis, > 0.
    a : m
        Half width of the wire centreline, across both axis and load, > 0.
    b : m
        Half height of the wire centreline, along the load, > 0; the free height is 2b + d.
    beta : rad
        Angle between the plane of a turn and the plane square to the axis, 0 to below a right angle.
    d : m
        Diameter of the round wire, > 0.
    E : Pa
        Young's modulus of the wire, > 0.
    G : Pa
        Shear modulus of the wire, > 0.

    Returns
    -------
    k : N/m
        Load of one turn over compression between the plates; not known outside the ranges above.

    References
    ----------
    S. P. Timoshenko, Strength of Materials, part I, 3rd ed. 1955, strain energy and Castigliano's theorem (method; from
    memory; published). The application to the canted coil is derived here (derived).
    """
    if not (p > 0.0 and a > 0.0 and b > 0.0 and beta >= 0.0 and beta < 0.5 * pi and d > 0.0 and E > 0.0 and G > 0.0):
        return nan
    aspect, pitch, nu = a / b, p / b, 0.5 * (E / G) - 1.0
    if not (aspect > 0.0 and pitch > 0.0 and isfinite(aspect + pitch + nu)):
        return nan
    rigidity = E * pi * (d * d) * (d * d) / 64.0
    return _linear_coefficient(aspect, pitch, tan(beta), nu) * rigidity / (b * b * b)


# ---------------------------------------------------------------------------------------------------- finite deflection

_TABLES = tables.read("canted_coil.npz")
_SHAPE = _TABLES["coefficients"].shape


def _series(*quantities: int) -> Table:
    """Coefficients of some quantities over (β; a/b, p/b, ν, ξ), to be summed up over their first axis."""
    return np.ascontiguousarray(_TABLES["coefficients"][..., quantities, :].reshape(_SHAPE[0], -1))


_SOFTENING, _GAP, _SOFTENING_AND_MOMENT = _series(0), _series(3), _series(0, 2)
"""logarithm of (linear load over load - 1)/ξ; gap between turns over p; the first with the equivalent moment b/(E I ξ)"""
_COUNT_CANT, _COUNT_ASPECT, _COUNT_PITCH, _COUNT_NU, _, _COUNT_XI = _SHAPE
_CANT_LOW, _ASPECT_LOW, _PITCH_LOW, _NU_LOW, _ = _TABLES["low"].tolist()
_CANT_HIGH, _ASPECT_HIGH, _PITCH_HIGH, _NU_HIGH, COMPRESSION_GREATEST = _TABLES["high"].tolist()
"""Extent of the table, and with it the validity of the model."""
_MOST = COMPRESSION_GREATEST + 1e-12
"""A compression on the limit stays inside after rounding."""


def _within(x: float, low: float, high: float) -> bool:
    """Whether a number lies within an axis of the table; a rounding error beyond counts as in."""
    slack = 1e-9 * (high - low)
    return x >= low - slack and x <= high + slack


def _covered(beta: float, aspect: float, pitch: float, nu: float) -> bool:
    """Whether the shape of a coil lies within the table."""
    return (
        _within(beta, _CANT_LOW, _CANT_HIGH)
        and _within(aspect, _ASPECT_LOW, _ASPECT_HIGH)
        and _within(pitch, _PITCH_LOW, _PITCH_HIGH)
        and _within(nu, _NU_LOW, _NU_HIGH)
    )


@with_arrays
def _chebyshev(x: float, low: float, high: float, count: int) -> Table:
    """Chebyshev polynomials from degree 0 at a place between two ends."""
    u = (2.0 * x - low - high) / (high - low)
    terms = np.empty(count)
    terms[0], terms[1] = 1.0, u
    for n in range(2, count):
        terms[n] = 2.0 * u * terms[n - 1] - terms[n - 2]
    return terms


@with_arrays
def _summed(terms: Table, coefficients: Table) -> Table:
    """Sum of the rows of a table, each by its term; without a library of linear algebra, which machine code would load for this alone."""
    total = np.zeros(coefficients.shape[1])
    for n in range(0, len(terms) - 1, 2):  # two at a time, so that the total is read half as often
        for k in range(len(total)):
            total[k] += terms[n] * coefficients[n, k] + terms[n + 1] * coefficients[n + 1, k]
    if len(terms) % 2 == 1:
        for k in range(len(total)):
            total[k] += terms[-1] * coefficients[-1, k]
    return total


@with_arrays
def _along(coefficients: Table, beta: float, aspect: float, pitch: float, nu: float) -> Table:
    """Coefficients in ξ alone, for one shape of coil."""
    by_aspect = _summed(_chebyshev(beta, _CANT_LOW, _CANT_HIGH, _COUNT_CANT), coefficients)
    by_pitch = _summed(
        _chebyshev(aspect, _ASPECT_LOW, _ASPECT_HIGH, _COUNT_ASPECT), by_aspect.reshape(_COUNT_ASPECT, -1)
    )
    by_nu = _summed(_chebyshev(pitch, _PITCH_LOW, _PITCH_HIGH, _COUNT_PITCH), by_pitch.reshape(_COUNT_PITCH, -1))
    return _summed(_chebyshev(nu, _NU_LOW, _NU_HIGH, _COUNT_NU), by_nu.reshape(_COUNT_NU, -1))


def _value(row: Table, xi: float) -> float:
    """Sum of a series at ξ."""
    u = 2.0 * xi / COMPRESSION_GREATEST - 1.0
    before, term, total = 1.0, u, row[0] + row[1] * u
    for n in range(2, row.size):
        before, term = term, 2.0 * u * term - before
        total += row[n] * term
    return total


def _slope(row: Table, xi: float) -> float:
    """Derivative of a series at ξ: that of the polynomial of degree n is n times the one of the second kind below it."""
    u = 2.0 * xi / COMPRESSION_GREATEST - 1.0
    before, second, total = 0.0, 1.0, 0.0
    for n in range(1, row.size):
        total += row[n] * (n * second)
        before, second = second, 2.0 * u * second - before
    return total * (2.0 / COMPRESSION_GREATEST)


class Turn(NamedTuple):
    """State of one turn at a finite compression."""

    share: float
    """load over that at the small-deflection rate [-]"""
    tangent: float
    """rate over the small-deflection rate [-]"""
    moment: float
    """greatest √(M_bending² + ¾ M_torsion²) along the wire, over its rigidity E I [1/m]"""


@opaque(name=("canted_coil_share", "canted_coil_tangent", "canted_coil_moment"))
@with_arrays
def canted_coil(delta: float, p: float, a: float, b: float, beta: float, nu: float) -> Turn:
    """Load, rate and moment of one turn of a canted coil spring at a finite compression.

    The geometrically exact rod, read from its table: within 0.01 % of the load and 0.06 % of the moments of the solver at
    worst (400 random coils and all corners of the range, 28 deflections each).

    Parameters
    ----------
    delta : m
        Compression between the plates from the free height, 0 to 0.54·2b.
    p : m
        Distance between equal points of neighbouring turns along the axis, 0.2 to 1.4 b.
    a : m
        Half width of the wire centreline, 0.8 to 1.8 b.
    b : m
        Half height of the wire centreline, > 0.
    beta : rad
        Cant angle of the free turn, 15 to 60 degrees.
    nu : -
        Poisson ratio of the round wire, 0.2 to 0.4.

    Returns
    -------
    w_turn : -
        Load over that at the small-deflection rate. This and all others are not known outside the ranges above.
    w_slope : -
        Rate over the small-deflection rate.
    m_turn : 1/m
        Equivalent moment over the rigidity of the wire.

    References
    ----------
    Rod: S. S. Antman, Nonlinear Problems of Elasticity, 2nd ed. 2005, ch. 8 (special Cosserat theory; method; from memory;
    published). No published load curve of a canted coil was found; the table is derived here and checked against a
    boundary-value solver and a discrete rod that share no code with it (derived).
    """
    if not b > 0.0:
        return Turn(nan, nan, nan)
    xi, aspect, pitch = delta / (2.0 * b), a / b, p / b
    if not (_covered(beta, aspect, pitch, nu) and xi >= 0.0 and xi <= _MOST):
        return Turn(nan, nan, nan)
    both = _along(_SOFTENING_AND_MOMENT, beta, aspect, pitch, nu)
    softening = both[:_COUNT_XI]
    moment = xi * _value(both[_COUNT_XI:], xi)
    w = exp(_value(softening, xi))
    share = 1.0 / (1.0 + xi * w)
    return Turn(share, (1.0 - xi * xi * w * _slope(softening, xi)) * share * share, moment / b)


@opaque(name="canted_coil_share")
@with_arrays
def canted_coil_share(delta: float, p: float, a: float, b: float, beta: float, nu: float) -> float:
    """Load of one turn at a finite compression over that at its small-deflection rate: the first of :func:`canted_coil`.

    Parameters
    ----------
    delta : m
        Compression between the plates from the free height, 0 to 0.54·2b.
    p : m
        Distance between equal points of neighbouring turns along the axis, 0.2 to 1.4 b.
    a : m
        Half width of the wire centreline, 0.8 to 1.8 b.
    b : m
        Half height of the wire centreline, > 0.
    beta : rad
        Cant angle of the free turn, 15 to 60 degrees.
    nu : -
        Poisson ratio of the round wire, 0.2 to 0.4.

    Returns
    -------
    w_turn : -
        Load over that at the small-deflection rate; not known outside the ranges above.

    References
    ----------
    As :func:`canted_coil` (derived).
    """
    if not b > 0.0:
        return nan
    xi, aspect, pitch = delta / (2.0 * b), a / b, p / b
    if not (_covered(beta, aspect, pitch, nu) and xi >= 0.0 and xi <= _MOST):
        return nan
    return 1.0 / (1.0 + xi * exp(_value(_along(_SOFTENING, beta, aspect, pitch, nu), xi)))


class CantedCoil(NamedTuple):
    """Load of a canted coil spring per unit circumference."""

    line_load: float
    """load between the plates per circumference at the loaded radius [N/m]"""
    stiffness: float
    """its slope in the compression [N/m²]"""
    stress: float
    """von Mises stress at the wire's surface, no curvature factor, no residual stress [Pa]"""


def canted_coil_load(
    Delta: float, p: float, w: float, h: float, beta: float, d: float, E: float, nu: float, f_r: float
) -> CantedCoil:
    """Load, stiffness and stress of a canted coil spring at a finite compression.

    Straight infinite row of equal coils (the ring's curvature enters through the number of coils only), smooth plates free
    to shift along the axis, elastic round wire, inextensible. Left out: friction at the plates and between turns, walls
    beside the coil, plastic set, stress concentration by wire curvature, residual stress of winding. Beyond the compression
    at which turns touch, neighbours carry load on each other and the true load is higher than given. Not known outside the
    ranges below.

    Parameters
    ----------
    Delta : m
        Compression between the plates from the free height, 0 to 0.54 (h - d).
    p : m
        Distance between equal points of neighbouring turns along the axis, 0.1 to 0.7 (h - d).
    w : m
        Width of the coil over the wire; that of the centreline 0.8 to 1.8 times its height.
    h : m
        Free height of the coil over the wire, > d.
    beta : rad
        Cant angle of the free coil, 15 to 60 degrees.
    d : m
        Diameter of the round wire, > 0.
    E : Pa
        Young's modulus of the wire, > 0.
    nu : -
        Poisson ratio of the wire, 0.2 to 0.4.
    f_r : -
        Radius of the coil axis over the radius that the load is referred to, > 0; 1 for a straight row.

    Returns
    -------
    q : N/m
        Load of the energizer per circumference.
    k_q : N/m²
        Stiffness of the energizer per circumference.
    sigma : Pa
        Equivalent stress of bending and torsion.

    References
    ----------
    Geometrically exact rod (derived); Antman, Nonlinear Problems of Elasticity, 2nd ed. 2005, ch. 8 (method; published, from
    memory).
    """
    turn = wound_turn(Delta, p, w, h, beta, d, nu)
    return load_of_turns(Delta, p, w, h, beta, d, E, nu, f_r, turn)


def line_load_of_coil(
    Delta: float, p: float, w: float, h: float, beta: float, d: float, E: float, nu: float, f_r: float
) -> float:
    """Load alone of a canted coil spring; see :func:`canted_coil_load`.

    Parameters
    ----------
    Delta : m
        Compression between the plates from the free height, 0 to 0.54 (h - d).
    p : m
        Distance between equal points of neighbouring turns along the axis, 0.1 to 0.7 (h - d).
    w : m
        Width of the coil over the wire; that of the centreline 0.8 to 1.8 times its height.
    h : m
        Free height of the coil over the wire, > d.
    beta : rad
        Cant angle of the free coil, 15 to 60 degrees.
    d : m
        Diameter of the round wire, > 0.
    E : Pa
        Young's modulus of the wire, > 0.
    nu : -
        Poisson ratio of the wire, 0.2 to 0.4.
    f_r : -
        Radius of the coil axis over the radius that the load is referred to, > 0; 1 for a straight row.

    Returns
    -------
    q : N/m
        Load of the energizer per circumference.

    References
    ----------
    Geometrically exact rod (derived).
    """
    a = (w - d) / 2.0  # half width of the wire centreline
    b = (h - d) / 2.0  # half height of the wire centreline
    w_turn = canted_coil_share(Delta, p, a, b, beta, nu)
    k, F = one_turn(Delta, p, a, b, beta, d, E, nu, w_turn)  # noqa: RUF059 - a bare _ would be a symbol of the working
    return F / p * f_r


def wound_turn(Delta: float, p: float, w: float, h: float, beta: float, d: float, nu: float) -> Turn:
    """State of one turn of a coil that is measured over its wire: the same at all temperatures.

    Parameters
    ----------
    Delta : m
        Compression between the plates from the free height, 0 to 0.54 (h - d).
    p : m
        Distance between equal points of neighbouring turns along the axis, 0.1 to 0.7 (h - d).
    w : m
        Width of the coil over the wire; that of the centreline 0.8 to 1.8 times its height.
    h : m
        Free height of the coil over the wire, > d.
    beta : rad
        Cant angle of the free coil, 15 to 60 degrees.
    d : m
        Diameter of the round wire, > 0.
    nu : -
        Poisson ratio of the wire, 0.2 to 0.4.

    Returns
    -------
    w_turn : -
        Load over that at the small-deflection rate.
    w_slope : -
        Rate over the small-deflection rate.
    m_turn : 1/m
        Equivalent moment over the rigidity of the wire.

    References
    ----------
    As :func:`canted_coil` (derived).
    """
    a = (w - d) / 2.0  # half width of the wire centreline
    b = (h - d) / 2.0  # half height of the wire centreline
    return canted_coil(Delta, p, a, b, beta, nu)


class OneTurn(NamedTuple):
    """One turn between the plates."""

    rate: float
    """rate at small deflection [N/m]"""
    load: float
    """load [N]"""


def one_turn(
    Delta: float, p: float, a: float, b: float, beta: float, d: float, E: float, nu: float, w_turn: float
) -> OneTurn:
    """Rate and load of one turn of a canted coil spring whose softening is known.

    Parameters
    ----------
    Delta : m
        Compression between the plates from the free height.
    p : m
        Distance between equal points of neighbouring turns along the axis.
    a : m
        Half width of the wire centreline.
    b : m
        Half height of the wire centreline.
    beta : rad
        Cant angle of the free turn.
    d : m
        Diameter of the round wire.
    E : Pa
        Young's modulus of the wire.
    nu : -
        Poisson ratio of the wire.
    w_turn : -
        Load over that at the small-deflection rate.

    Returns
    -------
    k : N/m
        Rate of one turn at small deflection.
    F : N
        Load of one turn.

    References
    ----------
    As :func:`canted_coil` (derived).
    """
    k = canted_coil_rate(p, a, b, beta, d, E, shear_modulus(E, nu))
    return OneTurn(k, k * w_turn * Delta)


def load_of_turns(
    Delta: float, p: float, w: float, h: float, beta: float, d: float, E: float, nu: float, f_r: float, turn: Turn
) -> CantedCoil:  # fmt: skip
    """Load, stiffness and stress of a canted coil spring whose turns are known; see :func:`canted_coil_load`.

    Parameters
    ----------
    Delta : m
        Compression between the plates from the free height, 0 to 0.54 (h - d).
    p : m
        Distance between equal points of neighbouring turns along the axis, 0.1 to 0.7 (h - d).
    w : m
        Width of the coil over the wire; that of the centreline 0.8 to 1.8 times its height.
    h : m
        Free height of the coil over the wire, > d.
    beta : rad
        Cant angle of the free coil, 15 to 60 degrees.
    d : m
        Diameter of the round wire, > 0.
    E : Pa
        Young's modulus of the wire, > 0.
    nu : -
        Poisson ratio of the wire, 0.2 to 0.4.
    f_r : -
        Radius of the coil axis over the radius that the load is referred to, > 0; 1 for a straight row.
    turn : Turn
        State of one turn at that compression.

    Returns
    -------
    q : N/m
        Load of the energizer per circumference.
    k_q : N/m²
        Stiffness of the energizer per circumference.
    sigma : Pa
        Equivalent stress of bending and torsion.

    References
    ----------
    Geometrically exact rod (derived); Antman, Nonlinear Problems of Elasticity, 2nd ed. 2005, ch. 8 (method; published, from
    memory).
    """
    a = (w - d) / 2.0  # half width of the wire centreline
    b = (h - d) / 2.0  # half height of the wire centreline
    w_turn = turn.share  # load over that at the small-deflection rate
    w_slope = turn.tangent  # rate over the small-deflection rate
    m_turn = turn.moment  # equivalent moment over the rigidity of the wire
    k, F = one_turn(Delta, p, a, b, beta, d, E, nu, w_turn)
    return CantedCoil(F / p * f_r, k * w_slope / p * f_r, m_turn * E * d / 2.0)


def canted_coil_mass(rho: float, d: float, w: float, h: float, p: float) -> float:
    """Mass of a canted coil that moves with the lip.

    Parameters
    ----------
    rho : kg/m³
        Density of the wire, > 0.
    d : m
        Diameter of the wire, > 0.
    w : m
        Width of the coil over the wire, > d.
    h : m
        Free height of the coil over the wire, > d.
    p : m
        Distance between equal points of neighbouring turns along the axis, > 0.

    Returns
    -------
    m : kg/m
        Moving mass of the energizer per circumference.

    References
    ----------
    A turn squeezed across moves half at its crest, and the squares of a linear fall of speed through its height average to
    a third (derived).
    """
    l_turn = pi * 0.5 * (w + h - 2.0 * d)  # length of wire in one turn
    return rho * pi * d**2 / 4.0 * l_turn / p / 3.0


# ------------------------------------------------------------------------------------------------------- range of working


@opaque(name="canted_coil_touching")
def canted_coil_touching(p: float, a: float, b: float, beta: float, d: float, nu: float) -> float:
    """Compression at which the wires of neighbouring turns touch.

    The centreline of the loaded coil is that of the exact rod, within 0.4 % of the distance of the turns; contact itself is
    not modelled. On a curved row the turns stand closer on the inside of the ring: not covered. The distance is read at 65
    even compressions and taken linear between them.

    Parameters
    ----------
    p : m
        Distance between equal points of neighbouring turns along the axis, 0.2 to 1.4 b.
    a : m
        Half width of the wire centreline, 0.8 to 1.8 b.
    b : m
        Half height of the wire centreline, > 0.
    beta : rad
        Cant angle of the free turn, 15 to 60 degrees.
    d : m
        Diameter of the round wire, > 0.
    nu : -
        Poisson ratio of the wire, 0.2 to 0.4.

    Returns
    -------
    delta_touch : m
        Compression at which turns touch: 0 where the free turns do, infinite where they are clear of each other up to the
        end of the table at 0.54·2b, not known outside the ranges above.

    References
    ----------
    Geometry of the exact rod (derived).
    """
    if not (b > 0.0 and d > 0.0):
        return nan
    wire, aspect, pitch = d / b, a / b, p / b
    if not _covered(beta, aspect, pitch, nu):
        return nan
    row = _along(_GAP, beta, aspect, pitch, nu)
    xi = gap = 0.0
    for i in range(65):
        xi_before, gap_before = xi, gap
        xi = COMPRESSION_GREATEST * (i / 64.0)
        gap = pitch * _value(row, xi)
        if gap <= wire:
            share = (gap_before - wire) / (gap_before - gap) if i > 0 else 0.0
            return 2.0 * b * (xi_before + share * (xi - xi_before))
    return inf


@opaque(name="canted_coil_band")
def canted_coil_band(f_q: float, delta: float, p: float, a: float, b: float, beta: float, nu: float) -> float:
    """Least compression from which up to a given one the load of a canted coil stays nearly flat.

    The greatest load met over the least is (1 + f_q)/(1 - f_q). The load is read at 129 even compressions and taken linear
    between them. Where the load has a maximum below the given compression (cant angles below about 30°) both its rising and
    its falling side are in the band.

    Parameters
    ----------
    f_q : -
        Allowed departure from the middle load of the band, 0 to 1, ends excluded.
    delta : m
        Largest compression of the band (from gland, stress or touching turns), > 0 to 0.54·2b.
    p : m
        Distance between equal points of neighbouring turns along the axis, 0.2 to 1.4 b.
    a : m
        Half width of the wire centreline, 0.8 to 1.8 b.
    b : m
        Half height of the wire centreline, > 0.
    beta : rad
        Cant angle of the free turn, 15 to 60 degrees.
    nu : -
        Poisson ratio of the wire, 0.2 to 0.4.

    Returns
    -------
    delta_low : m
        Least compression of the band; not known outside the ranges above.

    References
    ----------
    Definition; load of the exact rod (derived).
    """
    if not b > 0.0:
        return nan
    top, aspect, pitch = delta / (2.0 * b), a / b, p / b
    inside = f_q > 0.0 and f_q < 1.0 and top > 0.0 and top <= _MOST
    if not (inside and _covered(beta, aspect, pitch, nu)):
        return nan
    row = _along(_SOFTENING, beta, aspect, pitch, nu)
    allowed = (1.0 - f_q) / (1.0 + f_q)
    # From the top downwards: the band ends where the spread of the loads met so far is used up.
    most = low = ratio = depth = 0.0
    for i in range(129):
        ratio_before, depth_before = ratio, depth
        depth = top * (i / 128.0)
        xi = top * ((128.0 - i) / 128.0)
        load = xi / (1.0 + xi * exp(_value(row, xi)))
        most = load if i == 0 or load > most else most
        low = load if i == 0 or load < low else low
        ratio = low / most
        if ratio <= allowed:
            return (
                2.0
                * b
                * (top - (depth_before + (ratio_before - allowed) / (ratio_before - ratio) * (depth - depth_before)))
            )
    return nan
