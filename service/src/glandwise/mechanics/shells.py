"""The flexible lip as a clamped short cylindrical shell whose free edge is propped on the shaft."""

from __future__ import annotations

from math import cos, exp, factorial, nan, sin, sqrt
from typing import NamedTuple

from glandwise.numerics.lives import opaque

_SERIES_LIMIT = 1.0
"""Below this λL the hyperbolic forms cancel and the power series is exact to a double; above it exponentials decay."""

_TERMS = 7
_DEN = tuple(6.0 * 16.0**n / factorial(4 * n + 3) for n in range(_TERMS))
_STIFF = (1.0, *(0.5 * 16.0**n / factorial(4 * n) for n in range(1, _TERMS)))
_REACT = tuple((16.0 ** (n + 1) - 2.0 * (-4.0) ** (n + 1)) / factorial(4 * n + 4) for n in range(_TERMS))
_ROOT = tuple(6.0 * (16.0 ** (n + 1) - (-4.0) ** (n + 1)) / factorial(4 * n + 5) for n in range(_TERMS))
_DEN_SLOPE = tuple(n * _DEN[n] for n in range(1, _TERMS))
_STIFF_SLOPE = tuple(n * _STIFF[n] for n in range(1, _TERMS))


class LipShell(NamedTuple):
    """Response of a lip to interference and pressure; per unit circumference at its mean radius."""

    stiffness_per_modulus: float
    """Change of contact load with interference, over Young's modulus [-]."""
    pressure_length: float
    """Pressurised length that the contact carries: change of contact load with pressure [m]."""
    clamp_stress_per_pressure: float
    """Bending stress at the clamp over the pressure, edge held by the shaft [-]."""


def _is_shell(r: float, t: float, L: float, nu: float) -> bool:
    """Whether the arguments describe a shell at all."""
    return r > 0.0 and t > 0.0 and L > 0.0 and nu > -1.0 and nu < 1.0


def _is_positive(x: float) -> bool:
    """Whether a number is positive."""
    return x > 0.0


def _horner(coefficients: tuple[float, ...], z: float) -> float:
    """Value of a polynomial, coefficients in ascending powers."""
    total = 0.0 * z
    for i in range(len(coefficients)):
        total = total * z + coefficients[len(coefficients) - 1 - i]
    return total


def length_parameter(r: float, t: float, L: float, nu: float) -> float:
    """Free length of a lip in units of the decay length of its shell.

    Thin shell, axisymmetric load, free to shorten along the axis. Zero for a flat strip, NaN outside the ranges below.

    Parameters
    ----------
    r : m
        Mean radius of the lip, > 0, infinity gives the flat strip.
    t : m
        Wall thickness, > 0.
    L : m
        Free length from clamp to contact, > 0, finite.
    nu : -
        Poisson's ratio, -1 < nu < 1.

    Returns
    -------
    x : -
        Free length over decay length.

    References
    ----------
    Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed. 1959, art. 114; published, from memory.
    """
    if not _is_shell(r, t, L, nu):
        return nan
    return sqrt(sqrt(3.0 * (1.0 - nu**2)) / (r * t)) * L


def _end_words(x: float) -> tuple[str, str, str]:
    """Closed forms of the end functions."""
    by = ", by its power series" if x < _SERIES_LIMIT else ", with decaying exponentials"
    spread = "(sinh(2 * {0}) - sin(2 * {0}))"
    return (
        f"4 * {{0}}**3 * (cosh({{0}})**2 + cos({{0}})**2) / {spread}{by}",
        f"(cosh({{0}}) - cos({{0}}))**2 / ({{0}} * {spread}){by}",
        f"(sinh({{0}}) - sin({{0}})) * (cosh({{0}}) - cos({{0}})) / ({{0}}**2 * {spread}){by}",
    )


def _end_series(x: float) -> tuple[float, float, float]:
    """End functions by power series in x⁴."""
    z = x * x * x * x
    den = _horner(_DEN, z)
    return 3.0 * _horner(_STIFF, z) / den, 0.375 * _horner(_REACT, z) / den, 0.125 * _horner(_ROOT, z) / den


@opaque(words=_end_words, name=("phi_k", "phi_c", "phi_s"))
def end_functions(x: float) -> tuple[float, float, float]:
    """End functions of a propped shell.

    Power series in x⁴ below x = 1; above it numerator and denominator multiplied by 2 exp(-2x), so that nothing
    overflows.

    Parameters
    ----------
    x : -
        Free length over decay length, >= 0.

    Returns
    -------
    phi_k : -
        Stiffness of the edge over rigidity, times the length cubed.
    phi_c : -
        Share of the pressurised length that the contact carries.
    phi_s : -
        Moment at the clamp over pressure and square of the length.

    References
    ----------
    Hetényi, Beams on Elastic Foundation, 1946 (finite beam, one end clamped), published, from memory; closed forms
    derived from its equation.
    """
    if x < _SERIES_LIMIT:
        return _end_series(x)
    e = exp(-x)
    a = e * e
    c, s = cos(x), sin(x)
    cos2, sin2 = c * c - s * s, 2.0 * s * c
    den = 1.0 - a * a - 2.0 * a * sin2
    full = 1.0 + a * a + 2.0 * a * (2.0 + cos2)
    mixed = e * (s * (1.0 + a) + c * (1.0 - a))
    return (
        2.0 * x * x * x * full / den,
        (full - 4.0 * c * e * (1.0 + a)) / (2.0 * x * den),
        (1.0 - a * a + 2.0 * a * sin2 - 2.0 * mixed) / (2.0 * x * x * den),
    )


def lip_shell(r: float, t: float, L: float, nu: float) -> LipShell:
    """Response of a lip as a thin shell, clamped at one end and held by the shaft at the other.

    The contact load is stiffness times interference and pressurised length times pressure together:
    D y'''' + E t / r² y = -p with y(0) = y'(0) = 0, y(L) = δ, y''(L) = 0. Linear, thin, axisymmetric shell; small
    rotations (δ well below L); frictionless edge; one modulus; NaN outside the ranges below. Loads are per unit length of
    the mean circumference: multiply by mean radius over shaft radius for the load per unit length of shaft circumference.

    Parameters
    ----------
    r : m
        Mean radius of the lip, > 0, infinity gives the flat strip.
    t : m
        Wall thickness, > 0.
    L : m
        Free length from clamp to contact, > 0, finite.
    nu : -
        Poisson's ratio, -1 < nu < 1.

    Returns
    -------
    k_E : -
        Stiffness of the lip at its edge over Young's modulus.
    c_p : m
        Pressurised length that the contact carries.
    s_p : -
        Bending stress at the clamp over the pressure, tension on the outer face.

    References
    ----------
    Timoshenko and Woinowsky-Krieger 1959, art. 114; Hetényi 1946 (finite beam, one end clamped); published, from memory.
    Closed forms derived from that equation.
    """
    x = length_parameter(r, t, L, nu)
    phi_k, phi_c, phi_s = end_functions(x)
    D_E = t**3 / (12.0 * (1.0 - nu**2))  # flexural rigidity of the lip over its modulus
    return LipShell(phi_k * D_E / L**3, phi_c * L, 6.0 * phi_s * L**2 / t**2)


def _mass_words(x: float) -> str:
    """Closed form of the share of the mass."""
    spread, full = "(sinh(2 * {0}) - sin(2 * {0}))", "(cosh({0})**2 + cos({0})**2)"
    by = ", by its power series" if x < _SERIES_LIMIT else ", with decaying exponentials"
    less = f"{full} * (cosh(2 * {{0}}) - cos(2 * {{0}})) / (2 * {spread}**2)"
    return f"3 * {full} / (4 * {{0}} * {spread}) + 1 / 4 - {less}{by}"


@opaque(words=_mass_words, name="phi_m")
def mass_share(x: float) -> float:
    """Share of the mass of a lip that moves with its edge.

    Limits: 33/140 for a flat strip, 3/(8x) for a long shell.

    Parameters
    ----------
    x : -
        Free length over decay length, >= 0.

    Returns
    -------
    phi_m : -
        Share of the mass of the lip that moves with its edge.

    References
    ----------
    Rayleigh, Theory of Sound, 2nd ed. 1894, art. 88 (the principle), published, from memory; closed form derived.
    """
    if x < _SERIES_LIMIT:
        z = x * x * x * x
        den, full = _horner(_DEN, z), _horner(_STIFF, z)
        return 0.75 * (_horner(_STIFF_SLOPE, z) * den - full * _horner(_DEN_SLOPE, z)) / (den * den)
    a = exp(-2.0 * x)
    cos2, sin2 = cos(2.0 * x), sin(2.0 * x)
    den = 1.0 - a * a - 2.0 * a * sin2
    full = 1.0 + a * a + 2.0 * a * (2.0 + cos2)
    return 0.375 * full / (x * den) + 0.25 - 0.25 * full * (1.0 + a * a - 2.0 * a * cos2) / (den * den)


def moving_mass(r: float, t: float, L: float, nu: float, rho: float) -> float:
    """Mass of a lip as felt at its edge, per unit of its mean circumference.

    Rayleigh's method: the lip moves in the shape it takes when the edge is pushed, and the square of that shape is
    integrated over the length. Good up to about the first natural frequency of the propped lip; NaN outside the ranges
    below.

    Parameters
    ----------
    r : m
        Mean radius of the lip, > 0, infinity gives the flat strip.
    t : m
        Wall thickness, > 0.
    L : m
        Free length from clamp to contact, > 0, finite.
    nu : -
        Poisson's ratio, -1 < nu < 1.
    rho : kg/m³
        Density, > 0.

    Returns
    -------
    m_lip : kg/m
        Moving mass of the lip.

    References
    ----------
    Rayleigh, Theory of Sound, 2nd ed. 1894, art. 88 (the principle), published, from memory; closed form derived.
    """
    if not _is_positive(rho):
        return nan
    x = length_parameter(r, t, L, nu)
    phi_m = mass_share(x)
    return rho * t * L * phi_m


def held_root_share(r: float, t: float, L: float, nu: float) -> float:
    """Share of the strain of the root in that of the free edge of a lip that is held at its root and grows or shrinks.

    The edge has the strain φ ε_root + (1 - φ) ε_free. Thin shell, axisymmetric, root clamped without rotation, edge free
    of moment and shear, uniform temperature; the modulus does not matter. One for a short lip, which can only follow its
    root; zero for a long one, which does not feel it; below zero, down to -0.261, where the edge swings beyond its free
    strain. Zero first at x = π/2, lowest where tan x = -tanh x (x = 2.365). NaN outside the ranges below.

    Parameters
    ----------
    r : m
        Mean radius of the lip, > 0.
    t : m
        Wall thickness, > 0.
    L : m
        Free length from root to edge, > 0, finite.
    nu : -
        Poisson's ratio, -1 < nu < 1.

    Returns
    -------
    phi_root : -
        Share of the strain of the root in that of the edge.

    References
    ----------
    The equation of Timoshenko and Woinowsky-Krieger 1959, art. 114, published, from memory; solved here (derived).
    """
    x = length_parameter(r, t, L, nu)
    e = exp(-x)  # decay from the root to the edge
    c = 2.0 * e * cos(x) / (1.0 + e**2)  # cos x over cosh x
    return 2.0 * c / (1.0 + c**2)
