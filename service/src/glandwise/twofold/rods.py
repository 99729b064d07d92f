"""Canted coil spring energizer: a closed-wound wire row leaning at an angle and compressed across its axis.

The wire is a slender elastic rod in bending and torsion. The centreline of one coil, with the angle θ along the wire,

    x = p θ/2π + b cos θ tan β,    y = a sin θ,    z = b cos θ

has the coil axis along x and the load along z. An infinite row of equal coils between two smooth plates has two-fold
axes parallel to y at θ = ±π/2, so half a coil with one crest carries the whole problem.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from glandwise.twofold import numeric as num
from glandwise.twofold.numeric import Array

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
    (with d/b = 0.2 together 0.4 to 1.7 % over 15° to 60°, but 5 % in an upright coil); the finite-deflection model
    leaves them out.

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


# --- Finite deflection ------------------------------------------------------------

_TABLE = Path(__file__).parent.parent / "mechanics" / "made" / "canted_coil.npz"
_QUANTITIES = 4  # load, resultant moment, equivalent moment, gap between turns


class _Table(NamedTuple):
    """Chebyshev coefficients in (β, a/b, p/b, ν, quantity, ξ = δ/2b) and the box they hold in."""

    low: Array
    high: Array
    coefficients: Array


@functools.cache
def _table() -> _Table:
    """Table from the file beside this module, read once."""
    with np.load(_TABLE) as data:
        return _Table(data["low"], data["high"], data["coefficients"].astype(float))


def _chebyshev(x: num.Real, count: int) -> num.Real:
    """T_0(x) .. T_{count-1}(x) along a new last axis."""
    terms = [0.0 * x + 1.0, x]
    for _ in range(count - 2):
        terms.append(2.0 * x * terms[-1] - terms[-2])
    return np.stack(terms, axis=-1) if isinstance(x, np.ndarray) else np.array(terms)


def _chebyshev_slope(x: num.Real, count: int) -> num.Real:
    """T_0'(x) .. T_{count-1}'(x) along a new last axis: T_n' = n U_{n-1}."""
    second = [0.0 * x + 1.0, 2.0 * x]
    for _ in range(count - 3):
        second.append(2.0 * x * second[-1] - second[-2])
    terms = [0.0 * x, *((n + 1.0) * u for n, u in enumerate(second))]
    return np.stack(terms, axis=-1) if isinstance(x, np.ndarray) else np.array(terms)


def _rows(cant: num.Real, aspect: num.Real, pitch: num.Real, nu: num.Real) -> num.Real:
    """Coefficients in ξ of the four quantities for coils inside the box: (..., quantity, ξ)."""
    table = _table()
    shape = table.coefficients.shape
    bases = [
        _chebyshev((2.0 * x - lo - hi) / (hi - lo), n)
        for x, lo, hi, n in zip(
            (cant, aspect, pitch, nu), table.low.tolist(), table.high.tolist(), shape[:4], strict=False
        )
    ]
    if not isinstance(cant, np.ndarray):
        rows = table.coefficients
        for basis in bases:
            rows = basis @ rows.reshape(basis.size, -1)
        return rows.reshape(shape[4:])
    product = bases[0]
    for basis in bases[1:]:
        product = (product[:, :, None] * basis[:, None, :]).reshape(cant.size, -1)
    return (product @ table.coefficients.reshape(product.shape[1], -1)).reshape(-1, *shape[4:])


def _inside(cant: num.Real, aspect: num.Real, pitch: num.Real, nu: num.Real) -> num.Real:
    """Whether the geometry lies in the box of the table (a rounding error beyond counts as in)."""
    inside: num.Real = True
    table = _table()
    for x, lo, hi in zip((cant, aspect, pitch, nu), table.low.tolist(), table.high.tolist(), strict=False):
        slack = 1e-9 * (hi - lo)
        inside = inside & (x >= lo - slack) & (x <= hi + slack)
    return inside


def _softening(rows: num.Real, xi: num.Real) -> tuple[num.Real, num.Real, num.Real]:
    """Secant and tangent rate over the small-deflection rate, and the basis in ξ."""
    table = _table()
    count, full = table.coefficients.shape[-1], float(table.high[4])
    x = 2.0 * xi / full - 1.0
    basis = _chebyshev(x, count)
    log_w = (rows[..., 0, :] * basis).sum(axis=-1)
    slope = (rows[..., 0, :] * _chebyshev_slope(x, count)).sum(axis=-1) * (2.0 / full)
    w = np.exp(log_w)
    secant = 1.0 / (1.0 + xi * w)
    return secant, (1.0 - xi * xi * w * slope) * secant * secant, basis


def _reduced(
    xi: num.Real, cant: num.Real, aspect: num.Real, pitch: num.Real, nu: num.Real
) -> tuple[num.Real, num.Real, num.Real, num.Real, num.Real]:
    """Secant and tangent rate over the linear one, resultant and equivalent moment b/EI, gap over b."""
    full = float(_table().high[4])
    if not num.is_array(xi, cant, aspect, pitch, nu):
        if not (_inside(cant, aspect, pitch, nu) and 0.0 <= xi <= full):
            return (num.nan,) * 5
        rows = _rows(cant, aspect, pitch, nu)
        secant, tangent, basis = _softening(rows, xi)
        _, moment, equivalent, gap = (rows @ basis).tolist()
        return float(secant), float(tangent), xi * moment, xi * equivalent, pitch * gap
    cases = np.broadcast_arrays(xi, cant, aspect, pitch, nu)
    shape = cases[0].shape
    flat = [np.asarray(item, dtype=float).reshape(-1) for item in cases]
    chosen = np.flatnonzero(_inside(*flat[1:]) & (flat[0] >= 0.0) & (flat[0] <= full))
    result = np.full((5, flat[0].size), num.nan)
    for start in range(0, chosen.size, _BLOCK):
        block = chosen[start : start + _BLOCK]
        some = flat[0][block]
        rows = _rows(*(item[block] for item in flat[1:]))
        secant, tangent, basis = _softening(rows, some)
        values = (rows * basis[:, None, :]).sum(axis=-1)
        result[:, block] = (secant, tangent, some * values[:, 1], some * values[:, 2], flat[3][block] * values[:, 3])
    one, two, three, four, five = result.reshape(5, *shape)
    return one, two, three, four, five


def _once_each(function: Callable[..., Any], *arguments: num.Real) -> Any:
    """``function`` of arrays, evaluated once for cases that are alike: coils of one shape in many alloys or duties."""
    if not num.is_array(*arguments):
        return function(*arguments)
    cases = np.broadcast_arrays(*arguments)
    columns = [np.asarray(item, dtype=float).reshape(-1) for item in cases]
    order = np.lexsort(columns)
    starts = np.ones(order.size, dtype=bool)
    starts[1:] = False
    for column in columns:
        ordered = column[order]
        starts[1:] |= ordered[1:] != ordered[:-1]
    which = np.empty(order.size, dtype=np.intp)
    which[order] = np.cumsum(starts) - 1
    found = function(*(column[order[starts]] for column in columns))
    if isinstance(found, tuple):
        return tuple(item[which].reshape(cases[0].shape) for item in found)
    return found[which].reshape(cases[0].shape)


class CantedCoilLoad(NamedTuple):
    """State of a canted coil spring at a given compression; each field a float or an array."""

    load_per_coil: num.Real
    """Force between the plates carried by one coil, F [N]."""
    load_per_length: num.Real
    """Force per unit circumference at the loaded radius, q [N/m]."""
    rate_per_length: num.Real
    """Tangent stiffness dq/dδ per unit circumference [N/m²]."""
    share_of_linear: num.Real
    """F over the small-deflection rate times δ: 1 at rest, falling as the coil leans over [-]."""
    flatness: num.Real
    """Log slope (δ/F) dF/dδ: 1 for a linear spring, 0 where the load is flat, negative where it falls [-]."""
    peak_moment: num.Real
    """Largest resultant of bending and torsion moment along the wire, |M| [N·m]."""
    equivalent_moment: num.Real
    """Largest √(M_bending² + ¾ M_torsion²) along the wire [N·m]."""
    stress_bound: num.Real
    """32 |M|/(π d³), an upper bound of the bending stress of a straight wire under ``peak_moment`` [Pa]."""
    equivalent_stress: num.Real
    """Von Mises stress 32 M_eq/(π d³) at the wire's surface, no curvature factor, no residual stress [Pa]."""
    turn_clearance: num.Real
    """Least clear distance between the wires of neighbouring turns; negative: they touched earlier [m]."""


def canted_coil_load(
    deflection: num.Real,
    pitch: num.Real,
    half_width: num.Real,
    half_height: num.Real,
    cant_angle: num.Real,
    wire_diameter: num.Real,
    elastic_modulus: num.Real,
    shear_modulus: num.Real,
    radius_ratio: num.Real = 1.0,
) -> CantedCoilLoad:
    r"""Load, stiffness and stress of a canted coil spring at a finite compression.

    .. math::
        F = \frac{k\,\delta}{1 + \xi\,e^{v(\xi;\,\beta,\,a/b,\,p/b,\,\nu)}}, \qquad \xi = \frac{\delta}{2b},
        \qquad q = \frac{F}{p}\,\frac{r_c}{r}

    with k the rate of :func:`canted_coil_linear_rate` and v a table of the geometrically exact rod.

    Parameters
    ----------
    deflection : float or array
        Compression δ between the plates from the free height, 0 <= δ <= 0.54·2b [m].
    pitch : float or array
        Distance p between equal points of neighbouring coils along the axis, 0.2 <= p/b <= 1.4 [m].
    half_width : float or array
        Half width a of the wire centreline, 0.8 <= a/b <= 1.8 [m].
    half_height : float or array
        Half height b of the wire centreline; the free height is 2b + d [m].
    cant_angle : float or array
        Cant angle β of the free coil, 15° to 60° [rad].
    wire_diameter : float or array
        Diameter d of the round wire, > 0 [m].
    elastic_modulus : float or array
        Young's modulus E of the wire [Pa].
    shear_modulus : float or array
        Shear modulus G of the wire, 0.2 <= E/2G - 1 <= 0.4 [Pa].
    radius_ratio : float or array
        Radius r_c of the coil axis over the radius r that the load is referred to: the 2π r_c/p coils of the ring then
        load 2π r; 1 for a straight row [-].

    Returns
    -------
    CantedCoilLoad
        ``nan`` in every field outside the ranges above.

    Notes
    -----
    Straight infinite row of equal coils (the ring's curvature enters through the number of coils only), smooth plates
    free to shift along the axis, elastic round wire, inextensible in the finite-deflection part. Left out: friction at
    the plates and between turns, walls beside the coil, plastic set, stress concentration by wire curvature, residual
    stress of winding. Once ``turn_clearance`` is negative the neighbours carry load on each other and the true load is
    higher than given.

    Interpolation against the solver at off-grid points: 0.01 % of the load, 0.06 % of the moments and 0.4 % of the
    centre distance of the turns at worst (400 random coils and all corners of the range, 28 deflections each).

    References
    ----------
    Rod: S. S. Antman, Nonlinear Problems of Elasticity, 2nd ed. 2005, ch. 8 (special Cosserat theory; method; from
    memory; published). No published load curve of a canted coil was found; the table is derived here and checked
    against a boundary-value solver and a discrete rod that share no code with it (derived).
    """
    with np.errstate(all="ignore"):
        aspect, lead = num.divide(half_width, half_height), num.divide(pitch, half_height)
        ratio = num.divide(elastic_modulus, shear_modulus)
        nu = 0.5 * ratio - 1.0
        valid = (wire_diameter > 0.0) & (half_height > 0.0) & (radius_ratio > 0.0) & (elastic_modulus > 0.0)
        xi = num.where(valid, num.divide(deflection, 2.0 * half_height), num.nan)
        secant, tangent, moment, equivalent, gap = _once_each(_reduced, xi, cant_angle, aspect, lead, nu)
        rigidity = num.where(valid, elastic_modulus * num.pi * wire_diameter**4 / 64.0, num.nan)
        rate = num.divide(_once_each(_linear_coefficient, aspect, lead, cant_angle, nu) * rigidity, half_height**3)
        per_length = num.divide(radius_ratio, pitch)
        load = rate * secant * deflection
        peak, peak_equivalent = (num.divide(value * rigidity, half_height) for value in (moment, equivalent))
        section = num.divide(32.0, num.pi * wire_diameter**3)
        return CantedCoilLoad(
            load_per_coil=load,
            load_per_length=load * per_length,
            rate_per_length=rate * tangent * per_length,
            share_of_linear=secant,
            flatness=num.divide(tangent, secant),
            peak_moment=peak,
            equivalent_moment=peak_equivalent,
            stress_bound=peak * section,
            equivalent_stress=peak_equivalent * section,
            turn_clearance=gap * half_height - wire_diameter,
        )
