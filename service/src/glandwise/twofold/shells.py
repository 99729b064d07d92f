"""The flexible lip as a clamped short cylindrical shell whose free edge is propped on the shaft."""

from __future__ import annotations

from collections.abc import Sequence
from math import factorial
from typing import Any, NamedTuple

import numpy as np

from glandwise.twofold import numeric as num

_SERIES_LIMIT = 1.0
"""Below this λL the hyperbolic forms cancel and the power series is exact to a double; above it exponentials decay."""

_TERMS = 7
_DEN = tuple(6.0 * 16.0**n / factorial(4 * n + 3) for n in range(_TERMS))
_STIFF = (1.0, *(0.5 * 16.0**n / factorial(4 * n) for n in range(1, _TERMS)))
_REACT = tuple((16.0 ** (n + 1) - 2.0 * (-4.0) ** (n + 1)) / factorial(4 * n + 4) for n in range(_TERMS))
_K1 = tuple((-4.0) ** n / factorial(4 * n) for n in range(_TERMS))
_K2 = tuple((-4.0) ** n / factorial(4 * n + 1) for n in range(_TERMS))
_K3 = tuple(2.0 * (-4.0) ** n / factorial(4 * n + 2) for n in range(_TERMS))
_K4 = tuple(6.0 * (-4.0) ** n / factorial(4 * n + 3) for n in range(_TERMS))
_ROOT = tuple(6.0 * (16.0 ** (n + 1) - (-4.0) ** (n + 1)) / factorial(4 * n + 5) for n in range(_TERMS))
_SHEAR = tuple(1.2 * (16.0 ** (n + 1) - (-4.0) ** (n + 1)) / factorial(4 * n + 4) for n in range(_TERMS))
_LOAD = tuple(6.0 * (-((-4.0) ** (n + 1))) / factorial(4 * n + 4) for n in range(_TERMS))
_DEN_SLOPE = tuple(n * _DEN[n] for n in range(1, _TERMS))
_STIFF_SLOPE = tuple(n * _STIFF[n] for n in range(1, _TERMS))

_STATIONS = np.linspace(0.0, 1.0, 33)


class LipResponse(NamedTuple):
    """Contact load, stiffness and end stresses of a lip; per unit circumference at the mean radius."""

    reaction: num.Real
    """Contact load on the shaft, never below zero [N/m]."""
    raw_reaction: num.Real
    """Contact load if the edge could also pull; negative means that contact is lost [N/m]."""
    stiffness: num.Real
    """Change of contact load with interference [N/m²]."""
    pressure_coefficient: num.Real
    """Change of contact load with pressure: the pressurised length that the contact carries [m]."""
    edge_deflection: num.Real
    """Radial deflection of the edge: the interference, or where the free edge comes to rest [m]."""
    clamp_bending_stress: num.Real
    """Axial bending stress at the clamp, inner face; positive is tension [Pa]."""
    edge_hoop_stress: num.Real
    """Hoop stress at the edge; positive is tension [Pa]."""
    length_parameter: num.Real
    """Free length in units of the shell's decay length, λL [-]."""


class LipProfile(NamedTuple):
    """State of the lip at one station of its length."""

    deflection: num.Real
    """Radial deflection, outward positive [m]."""
    bending_stress: num.Real
    """Axial bending stress on the inner face; the outer face carries the opposite [Pa]."""
    hoop_stress: num.Real
    """Hoop stress at mid-thickness [Pa]."""


class LipPeakStress(NamedTuple):
    """Greatest stresses over the length and both faces of the lip."""

    bending_stress: num.Real
    """Greatest magnitude of the axial bending stress [Pa]."""
    hoop_stress: num.Real
    """Greatest magnitude of the hoop stress, surface bending included [Pa]."""
    equivalent_stress: num.Real
    """Greatest von Mises stress at a face, plane stress [Pa]."""


class BandedLipResponse(NamedTuple):
    """Contact load, stiffness and bending stresses of a lip with a reinforcing band; per unit circumference."""

    reaction: num.Real
    """Contact load on the shaft, never below zero [N/m]."""
    raw_reaction: num.Real
    """Contact load if the edge could also pull [N/m]."""
    stiffness: num.Real
    """Change of contact load with interference [N/m²]."""
    pressure_coefficient: num.Real
    """Change of contact load with pressure [m]."""
    clamp_bending_stress: num.Real
    """Axial bending stress in the band at the clamp, inner face [Pa]."""
    step_bending_stress: num.Real
    """Axial bending stress in the lip at the end of the band, inner face [Pa]."""


def flexural_rigidity(modulus: num.Real, poisson_ratio: num.Real, thickness: num.Real) -> num.Real:
    r"""Flexural rigidity of a plate or shell wall per unit width.

    .. math:: D = \frac{E t^3}{12 (1 - \nu^2)}

    Parameters
    ----------
    modulus
        Young's modulus :math:`E`; float or array, > 0. [Pa]
    poisson_ratio
        Poisson's ratio :math:`\nu`; float or array, -1 < ν < 1. [-]
    thickness
        Wall thickness :math:`t`; float or array, > 0. [m]

    Returns
    -------
    float or array
        Flexural rigidity :math:`D`. [N m]

    Notes
    -----
    Thin wall, anticlastic bending suppressed (a ring cannot curl across its width).

    References
    ----------
    Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed. 1959, art. 2; published, from memory.
    """
    plate = 12.0 * (1.0 - poisson_ratio * poisson_ratio)
    return num.divide(modulus * thickness * thickness * thickness, plate)


def decay_parameter(poisson_ratio: num.Real, radius: num.Real, thickness: num.Real) -> num.Real:
    r"""Reciprocal decay length of an edge disturbance of a cylindrical shell.

    .. math:: \lambda = \left[ \frac{3 (1 - \nu^2)}{r^2 t^2} \right]^{1/4}

    Parameters
    ----------
    poisson_ratio
        Poisson's ratio :math:`\nu`; float or array, -1 < ν < 1. [-]
    radius
        Mean radius :math:`r`; float or array, > 0, infinity allowed. [m]
    thickness
        Wall thickness :math:`t`; float or array, > 0. [m]

    Returns
    -------
    float or array
        Decay parameter :math:`\lambda`; zero for an infinite radius. [1/m]

    Notes
    -----
    Thin shell, axisymmetric load, free to shorten along the axis.

    References
    ----------
    Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed. 1959, art. 114; published, from memory.
    """
    return num.sqrt(num.divide(num.sqrt(3.0 * (1.0 - poisson_ratio * poisson_ratio)), radius * thickness))


def lip_response(
    radius: num.Real,
    thickness: num.Real,
    free_length: num.Real,
    modulus: num.Real,
    poisson_ratio: num.Real,
    interference: num.Real,
    pressure: num.Real = 0.0,
) -> LipResponse:
    r"""Contact load, stiffness and end stresses of a lip under interference and pressure together.

    .. math::

        D y'''' + \frac{E t}{r^2} y = -p, \qquad y(0) = y'(0) = 0, \quad y(L) = \delta, \quad y''(L) = 0

        q = k \delta + c p, \qquad
        k = 2 D \lambda^3 \frac{2 + \cosh 2x + \cos 2x}{\sinh 2x - \sin 2x}, \qquad
        c = \frac{1}{2\lambda} \frac{2 + \cosh 2x + \cos 2x - 4 \cosh x \cos x}{\sinh 2x - \sin 2x}

        x = \lambda L

    Parameters
    ----------
    radius
        Mean radius :math:`r` of the lip; float or array, > 0, infinity gives the flat strip. [m]
    thickness
        Wall thickness :math:`t`; float or array, > 0. [m]
    free_length
        Free length :math:`L` from clamp to contact; float or array, > 0, finite. [m]
    modulus
        Young's modulus :math:`E` for the time and temperature asked for; float or array, > 0. [Pa]
    poisson_ratio
        Poisson's ratio :math:`\nu`; float or array, -1 < ν < 1. [-]
    interference
        Radial interference :math:`\delta` of the edge with the shaft; float or array, negative is a clearance. [m]
    pressure
        Pressure :math:`p` on the outside of the lip over its free length, less that inside; float or array. [Pa]

    Returns
    -------
    LipResponse
        Contact load (raw and unilateral), stiffness, pressure coefficient, edge deflection, clamp and edge stress.

    Notes
    -----
    Linear, thin, axisymmetric shell; small rotations (δ well below L); frictionless edge; one modulus. Arguments
    outside the ranges above give ``nan`` in every field. Where the raw reaction is negative the edge is free, the
    contact load is zero and the stresses are those of the free edge. Loads are per unit length of the mean
    circumference: multiply by mean radius over shaft radius for the load per unit length of shaft circumference.
    Power series in (λL)⁴ below λL = 1, decaying exponentials above: no cancellation and no overflow at either end.

    References
    ----------
    Equation: Timoshenko & Woinowsky-Krieger 1959, art. 114; Hetényi, Beams on Elastic Foundation, 1946 (finite beam,
    one end clamped); published, from memory. The closed forms of k and c: derived here from that equation.
    """
    ok = _geometry_ok(radius, thickness, free_length, modulus, poisson_ratio)
    radius, thickness, length = _kept(ok, radius, thickness, free_length)
    x = decay_parameter(poisson_ratio, radius, thickness) * length
    stiff, react, bend, root = _end_functions(x)
    rigidity = flexural_rigidity(modulus, poisson_ratio, thickness)
    stiffness = stiff * rigidity / (length * length * length)
    coefficient = react * length
    raw = stiffness * interference + coefficient * pressure
    contact = raw >= 0.0
    edge = num.where(contact, interference, -coefficient * pressure / stiffness)
    moment = bend * rigidity * edge / (length * length) - root * pressure * length * length
    return LipResponse(
        reaction=num.where(raw < 0.0, 0.0, raw),
        raw_reaction=raw,
        stiffness=stiffness,
        pressure_coefficient=coefficient,
        edge_deflection=num.where(ok, edge, num.nan),
        clamp_bending_stress=6.0 * moment / (thickness * thickness),
        edge_hoop_stress=modulus * edge / radius,
        length_parameter=x,
    )


def lip_profile(
    station: num.Real,
    radius: num.Real,
    thickness: num.Real,
    free_length: num.Real,
    modulus: num.Real,
    poisson_ratio: num.Real,
    interference: num.Real,
    pressure: num.Real = 0.0,
) -> LipProfile:
    r"""Deflection, bending stress and hoop stress at a station of the lip.

    .. math::

        y(\xi) = \delta \, Y_\delta(\xi; \lambda L) - \frac{p L^4}{D} Y_p(\xi; \lambda L), \qquad
        \sigma_b = \frac{6 D y''}{t^2}, \qquad \sigma_\theta = \frac{E y}{r}

    Parameters
    ----------
    station
        Place :math:`\xi` along the free length, 0 at the clamp, 1 at the edge; float or array, 0..1. [-]
    radius
        Mean radius of the lip; float or array, > 0. [m]
    thickness
        Wall thickness; float or array, > 0. [m]
    free_length
        Free length from clamp to contact; float or array, > 0. [m]
    modulus
        Young's modulus; float or array, > 0. [Pa]
    poisson_ratio
        Poisson's ratio; float or array, -1 < ν < 1. [-]
    interference
        Radial interference of the edge; float or array. [m]
    pressure
        Pressure on the outside of the lip; float or array. [Pa]

    Returns
    -------
    LipProfile
        Deflection [m], bending stress on the inner face [Pa], hoop stress at mid-thickness [Pa].

    Notes
    -----
    As `lip_response`; the edge is let go where contact is lost. A station outside 0..1 gives ``nan``.

    References
    ----------
    As `lip_response`.
    """
    response = lip_response(radius, thickness, free_length, modulus, poisson_ratio, interference, pressure)
    ok = (station >= 0.0) & (station <= 1.0)
    xi = num.where(ok, station, num.nan)
    return _profile(xi, response, radius, thickness, free_length, modulus, poisson_ratio, pressure)


def lip_peak_stress(
    radius: num.Real,
    thickness: num.Real,
    free_length: num.Real,
    modulus: num.Real,
    poisson_ratio: num.Real,
    interference: num.Real,
    pressure: num.Real = 0.0,
) -> LipPeakStress:
    r"""Greatest bending, hoop and equivalent stress over the length and both faces of the lip.

    .. math::

        \max_{\xi, \pm} |\sigma_b|, \quad
        \max_{\xi, \pm} \left| \frac{E y}{r} \pm \nu \sigma_b \right|, \quad
        \max_{\xi, \pm} \sqrt{\sigma_b^2 \mp \sigma_b \sigma_\theta^\pm + (\sigma_\theta^\pm)^2}

    Parameters
    ----------
    radius
        Mean radius of the lip; float or array, > 0. [m]
    thickness
        Wall thickness; float or array, > 0. [m]
    free_length
        Free length from clamp to contact; float or array, > 0. [m]
    modulus
        Young's modulus; float or array, > 0. [Pa]
    poisson_ratio
        Poisson's ratio; float or array, -1 < ν < 1. [-]
    interference
        Radial interference of the edge; float or array. [m]
    pressure
        Pressure on the outside of the lip; float or array. [Pa]

    Returns
    -------
    LipPeakStress
        Greatest magnitudes. [Pa]

    Notes
    -----
    Interference and pressure bend the clamp in opposite senses, so the greatest moment may lie in the span. Taken
    over 33 equal stations, ends included: measured against 2001 stations, a peak in the span is read at most 0.3 % low
    for λL up to 4 and 1.2 % low up to 8. The linear shell knows no contact radius and no fillet: no stress
    concentration is in these figures.

    References
    ----------
    As `lip_response`.
    """
    response = lip_response(radius, thickness, free_length, modulus, poisson_ratio, interference, pressure)
    x = response.length_parameter
    sound = x >= 0.0  # else every field of the response is nan, and so must these be
    radius, thickness = num.where(sound, radius, num.nan), num.where(sound, thickness, num.nan)
    length = num.where(sound, free_length, num.nan)
    rigidity = flexural_rigidity(modulus, poisson_ratio, thickness)
    constants = _shape_constants(x, response.edge_deflection, pressure * length**4 / rigidity)
    axial_scale = 6.0 * rigidity / (length * length * thickness * thickness)
    # stations run along a new last axis
    wide = tuple(None if form is None else tuple(_trail(value) for value in form) for form in constants)
    deflection, curvature = _shape(_STATIONS, _trail(x), wide)
    axial = num.absolute(_trail(axial_scale) * curvature)
    membrane = num.absolute(_trail(modulus / radius) * deflection)
    ratio = _trail(poisson_ratio)
    # surface bending adds to the hoop stress on one face and eases it on the other; signs matter only between them
    loaded, eased = membrane + ratio * axial, membrane - ratio * axial
    if_like = axial * axial + loaded * (loaded - axial)
    if_unlike = axial * axial + eased * (eased + axial)
    bending, hoop = _greatest(axial), num.maximum(_greatest(loaded), _greatest(eased))
    equivalent = num.sqrt(num.maximum(_greatest(if_like), _greatest(if_unlike)))
    return LipPeakStress(bending, hoop, equivalent)


def lip_effective_mass(
    radius: num.Real,
    thickness: num.Real,
    free_length: num.Real,
    poisson_ratio: num.Real,
    density: num.Real,
) -> num.Real:
    r"""Mass of the lip as felt at its edge, per unit circumference.

    .. math::

        m = \rho t \int_0^L \left( \frac{y}{\delta} \right)^2 \mathrm{d}x
          = \rho t L \left[ \frac{3 N}{8 x d} + \frac14 - \frac{N (\cosh 2x - \cos 2x)}{4 d^2} \right], \quad
        N = 2 + \cosh 2x + \cos 2x, \; d = \sinh 2x - \sin 2x, \; x = \lambda L

    Parameters
    ----------
    radius
        Mean radius of the lip; float or array, > 0, infinity allowed. [m]
    thickness
        Wall thickness; float or array, > 0. [m]
    free_length
        Free length from clamp to contact; float or array, > 0. [m]
    poisson_ratio
        Poisson's ratio; float or array, -1 < ν < 1. [-]
    density
        Density :math:`\rho`; float or array, > 0. [kg/m³]

    Returns
    -------
    float or array
        Effective mass :math:`m` per unit circumference. [kg/m]

    Notes
    -----
    Rayleigh's method: the lip moves in the shape it takes when the edge is pushed. The integral is the derivative of
    the stiffness k with respect to the hoop foundation Et/r². Limits: 33/140 of the mass for a flat strip,
    3/(8λL) of it for a long shell. Good up to about the first natural frequency of the propped lip.

    References
    ----------
    Rayleigh, Theory of Sound, 2nd ed. 1894, art. 88 (the principle); closed form derived here.
    """
    ok = _geometry_ok(radius, thickness, free_length, 1.0, poisson_ratio) & (density > 0.0)
    radius, thickness, length = _kept(ok, radius, thickness, free_length)
    x = decay_parameter(poisson_ratio, radius, thickness) * length
    return density * thickness * length * _two_branches(x, _mass_share_series, _mass_share_exponential)


def held_root_share(radius: num.Real, thickness: num.Real, free_length: num.Real, poisson_ratio: num.Real) -> num.Real:
    r"""Share of the root's strain in that of the free edge of a lip which is held at its root and grows or shrinks.

    .. math::

        \varphi = \frac{2 \cosh x \cos x}{\cosh^2 x + \cos^2 x}, \qquad x = \lambda L, \qquad
        \varepsilon_\mathrm{edge} = \varphi\, \varepsilon_\mathrm{root} + (1 - \varphi)\, \varepsilon_\mathrm{free}

    Parameters
    ----------
    radius
        Mean radius of the lip; float or array, > 0. [m]
    thickness
        Wall thickness; float or array, > 0. [m]
    free_length
        Free length from root to edge; float or array, > 0. [m]
    poisson_ratio
        Poisson's ratio; float or array, -1 < ν < 1. [-]

    Returns
    -------
    float or array
        Share :math:`\varphi`, from -0.261 to 1: one for a short lip, which can only follow its root; zero for a long one,
        which does not feel it; below zero where the edge swings beyond its free strain. ``nan`` outside the ranges
        above. [-]

    Notes
    -----
    Thin shell, axisymmetric, root clamped (no rotation), edge free of moment and shear, uniform temperature:
    :math:`w^{(4)} + 4 \lambda^4 (w - r \varepsilon_\mathrm{free}) = 0`. The modulus does not matter. Zero first at
    x = π/2, lowest where tan x = -tanh x (x = 2.365). Infinite radius is a flat strip, which follows its root.

    References
    ----------
    The equation of Timoshenko & Woinowsky-Krieger 1959, art. 114 (published, from memory); solved here (derived).
    """
    ok = _geometry_ok(radius, thickness, free_length, 1.0, poisson_ratio)
    radius, thickness, length = _kept(ok, radius, thickness, free_length)
    x = decay_parameter(poisson_ratio, radius, thickness) * length
    decayed = num.exp(-x)
    ratio = 2.0 * decayed * num.cos(x) / (1.0 + decayed * decayed)  # cos over cosh, without overflow
    return 2.0 * ratio / (1.0 + ratio * ratio)


def banded_free_length(free_length: num.Real, band_share: num.Real) -> num.Real:
    r"""Free length left beyond a reinforcing band that covers part of the lip from the clamp outward.

    .. math:: L_\mathrm{eff} = (1 - s) L

    Parameters
    ----------
    free_length
        Free length :math:`L` of the lip without the band; float or array, > 0. [m]
    band_share
        Share :math:`s` of that length which the band covers; float or array, 0 ≤ s < 1. [-]

    Returns
    -------
    float or array
        Effective free length; ``nan`` outside the ranges above. [m]

    Notes
    -----
    The band is taken as rigid: the clamp moves to the end of the band. That overstates the stiffness and understates
    the effect of pressure, little for a thick band of small share and a lot for a thin band of large share (the
    model's page has the figures); `banded_lip_response` takes the band as it is.

    References
    ----------
    Definition.
    """
    ok = (band_share >= 0.0) & (band_share < 1.0) & (free_length > 0.0)
    return num.where(ok, (1.0 - band_share) * free_length, num.nan)


def banded_lip_response(
    radius: num.Real,
    thickness: num.Real,
    free_length: num.Real,
    modulus: num.Real,
    poisson_ratio: num.Real,
    band_share: num.Real,
    band_thickness: num.Real,
    interference: num.Real,
    pressure: num.Real = 0.0,
) -> BandedLipResponse:
    r"""Contact load, stiffness and bending stresses of a lip that a band thickens from the clamp outward.

    .. math::

        \mathbf{s}(L) = \mathbf{T}_\mathrm{lip} \left[ \mathbf{T}_\mathrm{band} \, \mathbf{s}(0)
        + p \, \mathbf{t}_\mathrm{band} \right] + p \, \mathbf{t}_\mathrm{lip}, \qquad
        \mathbf{s} = (y, y', D y'', D y^{(3)})

        y(0) = y'(0) = 0, \qquad y(L) = \delta, \quad D y''(L) = 0, \qquad q = -D y^{(3)}(L)

    Parameters
    ----------
    radius
        Mean radius of lip and band; float or array, > 0, infinity allowed. [m]
    thickness
        Wall thickness of the lip beyond the band; float or array, > 0. [m]
    free_length
        Length from clamp to contact, band included; float or array, > 0, finite. [m]
    modulus
        Young's modulus of lip and band; float or array, > 0. [Pa]
    poisson_ratio
        Poisson's ratio; float or array, -1 < ν < 1. [-]
    band_share
        Share of the length which the band covers; float or array, 0 ≤ s < 1. [-]
    band_thickness
        Wall thickness where the band is; float or array, > 0. [m]
    interference
        Radial interference of the edge with the shaft; float or array. [m]
    pressure
        Pressure on the outside over the whole length; float or array. [Pa]

    Returns
    -------
    BandedLipResponse
        Contact load (raw and unilateral), stiffness, pressure coefficient, bending stress at clamp and step.

    Notes
    -----
    Two shells end to end by transfer matrices of Krylov's functions; assumptions as `lip_response`, one mean radius
    for both. A chain of matrices loses digits as exp(λL): the relative error stays under 2e-15 exp(λL), and beyond a
    λL of 20 for both together (and outside the ranges above) the answer is ``nan``.

    References
    ----------
    Equation: Timoshenko & Woinowsky-Krieger 1959, art. 114; transfer matrices: Pestel & Leckie, Matrix Methods in
    Elastomechanics, 1963; published, from memory.
    """
    ok = _geometry_ok(radius, thickness, free_length, modulus, poisson_ratio)
    ok = ok & (band_share >= 0.0) & (band_share < 1.0) & (band_thickness > 0.0)
    radius, length = num.where(ok, radius, num.nan), num.where(ok, free_length, num.nan)
    thickness, band_thickness = num.where(ok, thickness, num.nan), num.where(ok, band_thickness, num.nan)
    far = (1.0 - band_share) * length
    near = band_share * length
    x_far = decay_parameter(poisson_ratio, radius, thickness) * far
    x_near = decay_parameter(poisson_ratio, radius, band_thickness) * near
    x_far = num.where(x_far + x_near <= 20.0, x_far, num.nan)

    rigid_near = flexural_rigidity(modulus, poisson_ratio, band_thickness)
    rigid_far = flexural_rigidity(modulus, poisson_ratio, thickness)
    hoop_near = modulus * band_thickness / (radius * radius)
    hoop_far = modulus * thickness / (radius * radius)
    kernel_near, kernel_far = _krylov(x_near), _krylov(x_far)
    # columns for unit clamp moment, unit clamp shear and unit pressure
    step = [
        _transfer(column, load, near, rigid_near, hoop_near, kernel_near)
        for column, load in (((0.0, 0.0, 1.0, 0.0), 0.0), ((0.0, 0.0, 0.0, 1.0), 0.0), ((0.0, 0.0, 0.0, 0.0), 1.0))
    ]
    (ym, _, mm, qm), (yq, _, mq, qq), (yp, _, mp, qp) = (
        _transfer(column, load, far, rigid_far, hoop_far, kernel_far)
        for column, load in zip(step, (0.0, 0.0, 1.0), strict=True)
    )
    det = ym * mq - yq * mm
    stiffness = -(qm * mq - qq * mm) / det
    coefficient = -(qp + (qm * (yq * mp - yp * mq) + qq * (yp * mm - ym * mp)) / det)
    raw = stiffness * interference + coefficient * pressure
    edge = num.where(raw >= 0.0, interference, -coefficient * pressure / stiffness)
    moment = (mq * (edge - yp * pressure) + yq * mp * pressure) / det
    shear = -(mm * (edge - yp * pressure) + ym * mp * pressure) / det
    at_step = step[0][2] * moment + step[1][2] * shear + step[2][2] * pressure
    return BandedLipResponse(
        reaction=num.where(raw < 0.0, 0.0, raw),
        raw_reaction=raw,
        stiffness=stiffness,
        pressure_coefficient=coefficient,
        clamp_bending_stress=6.0 * moment / (band_thickness * band_thickness),
        step_bending_stress=6.0 * at_step / (thickness * thickness),
    )


def _transfer(
    state: tuple[num.Real, ...],
    pressure: num.Real,
    length: num.Real,
    rigidity: num.Real,
    hoop: num.Real,
    kernel: tuple[num.Real, ...],
) -> tuple[num.Real, num.Real, num.Real, num.Real]:
    """Deflection, slope, moment and shear at the far end of a segment from those at its near end."""
    y, slope, moment, shear = state
    k1, k2, k3, k4, k5 = kernel
    c1, c2, c3, c4 = length * k2, length**2 * k3 / 2.0, length**3 * k4 / 6.0, length**4 * k5 / 24.0
    return (
        k1 * y + c1 * slope + (c2 * moment + c3 * shear - c4 * pressure) / rigidity,
        k1 * slope + (c1 * moment + c2 * shear - c3 * (pressure + hoop * y)) / rigidity,
        k1 * moment + c1 * shear - c2 * (pressure + hoop * y) - hoop * c3 * slope,
        k1 * shear - c1 * (pressure + hoop * y) - hoop * (c2 * slope + c3 * moment / rigidity),
    )


def _krylov(x: num.Real) -> tuple[num.Real, ...]:
    """Krylov's functions K1..K4 and the load function, each over its leading power of x."""
    if num.is_array(x):
        low, high = _krylov_series(num.minimum(x, _SERIES_LIMIT)), _krylov_closed(num.maximum(x, _SERIES_LIMIT))
        return tuple(num.where(x < _SERIES_LIMIT, a, b) for a, b in zip(low, high, strict=True))
    return _krylov_series(x) if x < _SERIES_LIMIT else _krylov_closed(x)


def _krylov_series(x: num.Real) -> tuple[num.Real, ...]:
    """Power series, small λL."""
    z = x * x * x * x
    return tuple(num.polyval(series, z) for series in (_K1, _K2, _K3, _K4, _LOAD))


def _krylov_closed(x: num.Real) -> tuple[num.Real, ...]:
    """Closed forms, λL of 1 and more."""
    c, s, ch, sh = num.cos(x), num.sin(x), num.cosh(x), num.sinh(x)
    first = ch * c
    square = x * x
    return (
        first,
        (ch * s + sh * c) / (2.0 * x),
        sh * s / square,
        1.5 * (ch * s - sh * c) / (square * x),
        6.0 * (1.0 - first) / (square * square),
    )


def _geometry_ok(
    radius: num.Real, thickness: num.Real, length: num.Real, modulus: num.Real, poisson_ratio: num.Real
) -> num.Real:
    """Whether the arguments describe a shell at all."""
    return (
        (radius > 0.0)
        & (thickness > 0.0)
        & (length > 0.0)
        & (modulus > 0.0)
        & (poisson_ratio > -1.0)
        & (poisson_ratio < 1.0)
    )


def _kept(ok: num.Real, *values: num.Real) -> Sequence[num.Real]:
    """``values`` where ``ok`` holds, else ``nan``."""
    return values if ok is True else [num.where(ok, value, num.nan) for value in values]


def _two_branches(x: num.Real, series: num.Real, exponential: num.Real) -> num.Real:
    """Power series below the limit, exponential form above it; an array evaluates both within their own range."""
    if num.is_array(x):
        return num.where(
            x < _SERIES_LIMIT, series(num.minimum(x, _SERIES_LIMIT)), exponential(num.maximum(x, _SERIES_LIMIT))
        )
    return series(x) if x < _SERIES_LIMIT else exponential(x)


def _end_functions(x: num.Real) -> tuple[num.Real, num.Real, num.Real, num.Real]:
    """``k L³/D``, ``c/L``, clamp moment per ``D δ/L²`` and (reversed) per ``p L²``."""
    if num.is_array(x):
        low = _end_series(num.minimum(x, _SERIES_LIMIT))
        high = _end_exponential(num.maximum(x, _SERIES_LIMIT))
        small = x < _SERIES_LIMIT
        return (
            num.where(small, low[0], high[0]),
            num.where(small, low[1], high[1]),
            num.where(small, low[2], high[2]),
            num.where(small, low[3], high[3]),
        )
    return _end_series(x) if x < _SERIES_LIMIT else _end_exponential(x)


def _end_series(x: num.Real) -> tuple[num.Real, num.Real, num.Real, num.Real]:
    """End functions by power series in x⁴."""
    z = x * x * x * x
    den = num.polyval(_DEN, z)
    return (
        3.0 * num.polyval(_STIFF, z) / den,
        0.375 * num.polyval(_REACT, z) / den,
        3.0 * num.polyval(_K2, z) / den,
        0.125 * num.polyval(_ROOT, z) / den,
    )


def _end_exponential(x: num.Real) -> tuple[num.Real, num.Real, num.Real, num.Real]:
    """End functions with numerator and denominator multiplied by 2 exp(-2x)."""
    e = num.exp(-x)
    a = e * e
    c, s = num.cos(x), num.sin(x)
    cos2, sin2 = c * c - s * s, 2.0 * s * c
    den = 1.0 - a * a - 2.0 * a * sin2
    full = 1.0 + a * a + 2.0 * a * (2.0 + cos2)
    mixed = e * (s * (1.0 + a) + c * (1.0 - a))
    return (
        2.0 * x * x * x * full / den,
        (full - 4.0 * c * e * (1.0 + a)) / (2.0 * x * den),
        4.0 * x * x * mixed / den,
        (1.0 - a * a + 2.0 * a * sin2 - 2.0 * mixed) / (2.0 * x * x * den),
    )


def _mass_share_series(x: num.Real) -> num.Real:
    """Share of the lip's mass felt at the edge, small λL."""
    z = x * x * x * x
    den, full = num.polyval(_DEN, z), num.polyval(_STIFF, z)
    return 0.75 * (num.polyval(_STIFF_SLOPE, z) * den - full * num.polyval(_DEN_SLOPE, z)) / (den * den)


def _mass_share_exponential(x: num.Real) -> num.Real:
    """Share of the lip's mass felt at the edge, λL of 1 and more."""
    a = num.exp(-2.0 * x)
    cos2, sin2 = num.cos(2.0 * x), num.sin(2.0 * x)
    den = 1.0 - a * a - 2.0 * a * sin2
    full = 1.0 + a * a + 2.0 * a * (2.0 + cos2)
    return 0.375 * full / (x * den) + 0.25 - 0.25 * full * (1.0 + a * a - 2.0 * a * cos2) / (den * den)


def _trail(value: num.Real) -> num.Real:
    """``value`` with a new last axis for the stations; a float stays as it is."""
    return np.asarray(value)[..., None] if num.is_array(value) else value


def _greatest(values: num.Real) -> num.Real:
    """Maximum over the stations, which run along the last axis; a float where that is the only one."""
    return values.max(axis=-1) if values.ndim > 1 else float(values.max())


def _profile(
    xi: num.Real,
    response: LipResponse,
    radius: num.Real,
    thickness: num.Real,
    length: num.Real,
    modulus: num.Real,
    poisson_ratio: num.Real,
    pressure: num.Real,
) -> LipProfile:
    """State at station ``xi`` for the edge deflection already found."""
    x = response.length_parameter
    sound = x >= 0.0
    radius, thickness = num.where(sound, radius, num.nan), num.where(sound, thickness, num.nan)
    length = num.where(sound, length, num.nan)
    rigidity = flexural_rigidity(modulus, poisson_ratio, thickness)
    load = pressure * length * length * length * length / rigidity
    deflection, curvature = _shape(xi, x, _shape_constants(x, response.edge_deflection, load))
    return LipProfile(
        deflection,
        6.0 * rigidity * curvature / (length * length * thickness * thickness),
        modulus * deflection / radius,
    )


def _shape_constants(x: num.Real, edge: num.Real, load: num.Real) -> tuple[Any, Any]:
    """Constants of both forms of the deflection; ``None`` for the one that a float does not need."""
    if num.is_array(x):
        return (
            _series_constants(num.minimum(x, _SERIES_LIMIT), edge, load),
            _exponential_constants(num.maximum(x, _SERIES_LIMIT), edge, load),
        )
    if x < _SERIES_LIMIT:
        return _series_constants(x, edge, load), None
    return None, _exponential_constants(x, edge, load)


def _shape(xi: num.Real, x: num.Real, constants: tuple[Any, ...]) -> tuple[num.Real, num.Real]:
    """Deflection and curvature times L² at station ``xi``."""
    series, exponential = constants
    if exponential is None:
        return _shape_series(xi, x, *series)
    if series is None:
        return _shape_exponential(xi, x, *exponential)
    low = _shape_series(xi, num.minimum(x, _SERIES_LIMIT), *series)
    high = _shape_exponential(xi, num.maximum(x, _SERIES_LIMIT), *exponential)
    small = x < _SERIES_LIMIT
    return num.where(small, low[0], high[0]), num.where(small, low[1], high[1])


def _series_constants(x: num.Real, edge: num.Real, load: num.Real) -> tuple[num.Real, num.Real, num.Real]:
    """Clamp curvature and shear (each times its power of L) under edge deflection and pressure, small λL."""
    z = x * x * x * x
    den = num.polyval(_DEN, z)
    root = (3.0 * edge * num.polyval(_K2, z) - 0.125 * load * num.polyval(_ROOT, z)) / den
    shear = (3.0 * edge * num.polyval(_K1, z) - 0.625 * load * num.polyval(_SHEAR, z)) / den
    return root, shear, load


def _shape_series(
    xi: num.Real, x: num.Real, root: num.Real, shear: num.Real, load: num.Real
) -> tuple[num.Real, num.Real]:
    """Deflection and curvature times L² from Krylov's functions of the clamped end."""
    xi2 = xi * xi
    zeta = x * x * x * x * xi2 * xi2
    k3, k2 = num.polyval(_K3, zeta), num.polyval(_K2, zeta)
    deflection = xi2 * (
        root * k3 / 2.0 - shear * xi * num.polyval(_K4, zeta) / 6.0 - load * xi2 * num.polyval(_LOAD, zeta) / 24.0
    )
    return deflection, root * num.polyval(_K1, zeta) - shear * xi * k2 - load * xi2 * k3 / 2.0


def _exponential_constants(
    x: num.Real, edge: num.Real, load: num.Real
) -> tuple[num.Real, num.Real, num.Real, num.Real, num.Real]:
    """Amplitudes of the waves that decay from the clamp and from the edge, and the membrane deflection."""
    e = num.exp(-x)
    a = e * e
    c, s = num.cos(x), num.sin(x)
    cos2, sin2 = c * c - s * s, 2.0 * s * c
    membrane = load / (4.0 * x * x * x * x)
    total = edge + membrane
    # the clamp's two conditions, with the edge's amplitudes already eliminated
    a11, a12, b1 = 1.0 - a * cos2, -a * sin2, membrane - e * c * total
    a21, a22, b2 = 1.0 + a * (cos2 + sin2), -(1.0 + a * (cos2 - sin2)), e * (c + s) * total
    det = a11 * a22 - a12 * a21
    near_cos, near_sin = (b1 * a22 - a12 * b2) / det, (a11 * b2 - a21 * b1) / det
    far_cos, far_sin = total - e * (near_cos * c + near_sin * s), e * (near_cos * s - near_sin * c)
    return near_cos, near_sin, far_cos, far_sin, membrane


def _shape_exponential(
    xi: num.Real,
    x: num.Real,
    near_cos: num.Real,
    near_sin: num.Real,
    far_cos: num.Real,
    far_sin: num.Real,
    membrane: num.Real,
) -> tuple[num.Real, num.Real]:
    """Deflection and curvature times L² as waves that decay from either end."""
    near, far = x * xi, x * (1.0 - xi)
    en, cn, sn = num.exp(-near), num.cos(near), num.sin(near)
    ef, cf, sf = num.exp(-far), num.cos(far), num.sin(far)
    deflection = en * (near_cos * cn + near_sin * sn) + ef * (far_cos * cf + far_sin * sf) - membrane
    curvature = 2.0 * x * x * (en * (near_cos * sn - near_sin * cn) + ef * (far_cos * sf - far_sin * cf))
    return deflection, curvature
