"""Frictional heat: the ways it leaves by, as conductances to a temperature.

Ways join like electrical sources (Thévenin), so that a hot fluid on one side and cool air on the other need no mean.
"""

from __future__ import annotations

import json
from math import log, nan, pi, sqrt, tanh
from pathlib import Path
from typing import NamedTuple

import numpy as np

from glandwise.mechanics.choices import FilmCorrelation
from glandwise.numerics.arithmetic import greatest
from glandwise.numerics.interpolation import cubic_at, place
from glandwise.numerics.lives import Constant, opaque


class HeatPath(NamedTuple):
    """A way for heat to leave: a conductance to a temperature."""

    conductance: float
    temperature: float


class Fluid(NamedTuple):
    """Transport properties of a fluid at its film temperature."""

    conductivity: float
    viscosity: float
    prandtl: float
    expansion: float


# --------------------------------------------------------------------------------------------------------- conduction


def fin_conductance(d: float, k: float, h: float, L: float) -> float:
    """Conductance of one side of a solid shaft, from the contact to the fluid around it, the far end insulated.

    One-dimensional, constant properties: h d/(4 k) below about 0.1. A hollow shaft, steps, and a bearing or coupling that
    takes up heat are left out.

    Parameters
    ----------
    d : m
        Shaft diameter, > 0.
    k : W/(m·K)
        Conductivity of the shaft, > 0.
    h : W/(m²·K)
        Film coefficient of its surface, > 0.
    L : m
        Length of this side, > 0; may be infinite.

    Returns
    -------
    G : W/K
        Conductance of one side of the shaft.

    References
    ----------
    Incropera and DeWitt, Fundamentals of Heat and Mass Transfer, chapter 3, fin equations (published; form from memory,
    checked against a numerical boundary-value problem in the tests).
    """
    m = sqrt(4.0 * h / (k * d))  # fin parameter of the shaft
    return m * k * pi * d**2 / 4.0 * tanh(m * L)


_RING = json.loads((Path(__file__).parent / "made" / "heat.json").read_text("utf-8"))["ring"]
_RING_FIRST, _RING_LAST, _RING_COUNT = float(_RING["axis"][0]), float(_RING["axis"][1]), int(_RING["axis"][2])
_RING_FACTORS = np.array(_RING["rows"], dtype=np.float64)[:, 0].copy()
_RING_NARROWEST, _RING_WIDEST = 1.0e-5 * (1.0 - 1.0e-9), 1.0 + 1.0e-9


def _ring_words(epsilon: float) -> str:
    return f"read from the table of this factor at {epsilon:.6g}, cubic in the logarithm"


@opaque(name="ring_factor", words=_ring_words)
def ring_factor(epsilon: float) -> float:
    """Constriction factor of a contact ring, by its width over the radius of the shaft; NaN outside 1e-5 to 1."""
    if not (epsilon >= _RING_NARROWEST and epsilon <= _RING_WIDEST):
        return nan
    low, t = place(log(epsilon), _RING_FIRST, _RING_LAST, _RING_COUNT, 3)
    return cubic_at(_RING_FACTORS, low, t)


def ring_constriction(d: float, b: float, k: float) -> float:
    """Resistance between the contact ring on the shaft and the cross-section of the shaft.

    Long solid cylinder, even flux over the ring, the surface beside it insulated, so that nothing depends on the fin. It
    stands in a row with both sides of the shaft together. For a narrow ring it grows as ln(d/(2 b))/pi.

    Parameters
    ----------
    d : m
        Shaft diameter, > 0.
    b : m
        Contact width, > 0; 2 b/d from 1e-5 to 1.
    k : W/(m·K)
        Conductivity of the shaft, > 0.

    Returns
    -------
    R : K/W
        Mean rise of the contact over that of the cross-section by fin theory, per watt into the shaft.

    Notes
    -----
    The factor is (1/pi) times the integral over s from 0 of (sin(s e/2)/(s e/2))² (I0(s)/(s I1(s)) - 2/s²), with e the
    width of the ring over the radius.

    References
    ----------
    Fourier transform along the shaft, derived; checked against axisymmetric finite elements in the tests. The method:
    Carslaw and Jaeger, Conduction of Heat in Solids, 1959 (from memory).
    """
    epsilon = 2.0 * b / d  # width of the ring over the radius of the shaft
    Phi = ring_factor(epsilon)  # constriction factor of the ring
    return Phi / (pi * d * k)


def plane_wall_conductance(A: float, t: float, k: float) -> float:
    """Conductance through a plane wall, as a thin lip.

    Parameters
    ----------
    A : m²
        Area, >= 0.
    t : m
        Thickness, > 0.
    k : W/(m·K)
        Conductivity, > 0.

    Returns
    -------
    G : W/K
        Conductance of the wall.

    References
    ----------
    Fourier's law.
    """
    return k * A / t


def series(G_1: float, G_2: float) -> float:
    """Conductance of two in a row.

    Parameters
    ----------
    G_1 : W/K
        Conductance of one, >= 0; that of a surface is its film coefficient times its area.
    G_2 : W/K
        Conductance of the other, >= 0.

    Returns
    -------
    G : W/K
        Conductance of both in a row; 0 if either is.

    References
    ----------
    Definition.
    """
    return 1.0 / (1.0 / G_1 + 1.0 / G_2)


def join(G_1: float, T_1: float, G_2: float, T_2: float) -> HeatPath:
    """One way of the heat that stands for two from the same place.

    Parameters
    ----------
    G_1 : W/K
        Conductance of one.
    T_1 : K
        Its far temperature.
    G_2 : W/K
        Conductance of the other.
    T_2 : K
        Its far temperature.

    Returns
    -------
    G : W/K
        Conductance of both ways together.
    T_far : K
        Temperature behind both ways.

    References
    ----------
    Thévenin's theorem for a linear network.
    """
    G = G_1 + G_2  # conductance of both ways together
    return HeatPath(G, (G_1 * T_1 + G_2 * T_2) / G)


def behind(R: float, G: float) -> float:
    """Conductance of a way with a resistance in front of it.

    Parameters
    ----------
    R : K/W
        Resistance in front, >= 0.
    G : W/K
        Conductance of the way behind it, >= 0.

    Returns
    -------
    G_R : W/K
        Conductance from the near end.

    References
    ----------
    Definition.
    """
    return 1.0 / (R + 1.0 / G)


# --------------------------------------------------------------------------------------------------------- convection

STANDARD_GRAVITY = Constant(9.80665, "g_n", "m/s²", "3rd CGPM 1901, exact", "Standard acceleration of free fall")


def time_to_rise(P: float, d: float, b: float, k: float, rho: float, c: float, Delta_T: float) -> float:
    """Time in which a steady heat in the contact warms it by a difference, the shaft taking up all of it.

    The shaft is cold and endless on either side, nothing cools it: a lower bound of the time, and the narrow contact is as
    hot as its constriction makes it from the start.

    Parameters
    ----------
    P : W
        Heat made in the contact, > 0.
    d : m
        Shaft diameter, > 0.
    b : m
        Contact width, > 0; 2 b/d from 1e-5 to 1.
    k : W/(m·K)
        Conductivity of the shaft, > 0.
    rho : kg/m³
        Density of the shaft, > 0.
    c : J/(kg·K)
        Heat capacity of the shaft, > 0.
    Delta_T : K
        Rise of the contact.

    Returns
    -------
    t : s
        Time to that rise; 0 where the contact has it at once.

    References
    ----------
    Steady flux into a half-space, 2 q sqrt(k t/(pi rho c))/k; Carslaw and Jaeger, Conduction of Heat in Solids, 1959
    (published, from memory).
    """
    q = 2.0 * P / (pi * d**2)  # flux into each side of the shaft
    theta = greatest(Delta_T - P * ring_constriction(d, b, k), 0.0)  # rise of the cross-section
    return pi * k * rho * c * (theta / (2.0 * q)) ** 2


def shaft_film(
    d: float, n: float, k: float, nu: float, Pr: float, beta: float, Delta_T: float, correlation: int
) -> float:
    """Film coefficient of a shaft in a large volume of fluid, turning or at rest.

    The greater of both is a common choice for mixed convection and no measured law; it is on the low side where both are
    alike. The fluid in a gland swirls with the shaft and is confined: the wetted side of a seal is no large volume.

    Parameters
    ----------
    d : m
        Shaft diameter, > 0.
    n : rev/s
        Rotational speed; the sense does not matter.
    k : W/(m·K)
        Conductivity of the fluid at the mean of surface and bulk temperature.
    nu : m²/s
        Kinematic viscosity of the fluid there.
    Pr : -
        Prandtl number of the fluid there.
    beta : 1/K
        Volume expansion coefficient of the fluid there.
    Delta_T : K
        Temperature of the surface over that of the fluid; the sign does not matter.
    correlation : FilmCorrelation
        Film correlation.

    Returns
    -------
    h : W/(m²·K)
        Film coefficient of the shaft.

    References
    ----------
    The greater of both is common practice (no source).
    """
    Re = pi * abs(n) * d * d / nu  # Reynolds number of the surface speed on the diameter
    Gr = STANDARD_GRAVITY * beta * abs(Delta_T) * (d**3 / nu**2)  # Grashof number on the diameter
    Nu = turning_nusselt(Re, Gr, Pr, correlation)
    Nu_0 = still_nusselt(Gr, Pr)
    return greatest(Nu, Nu_0) * k / d


def turning_nusselt(Re: float, Gr: float, Pr: float, correlation: int) -> float:
    """Nusselt number of a turning shaft by one of six correlations.

    All but Becker's were measured in air; Becker's in water and carried over by its Prandtl number, so that it alone suits
    a liquid. They differ among themselves by about a fifth, which is the uncertainty to carry. Those without the Grashof
    number say nothing of a shaft that hardly turns, below Re = 1.09 sqrt(Gr).

    Parameters
    ----------
    Re : -
        Reynolds number of the surface speed on the diameter.
    Gr : -
        Grashof number on the diameter.
    Pr : -
        Prandtl number.
    correlation : FilmCorrelation
        Film correlation.

    Returns
    -------
    Nu : -
        Nusselt number of the turning shaft.

    References
    ----------
    As the correlation; agreement among the six speaks against a gross slip only.
    """
    if correlation == FilmCorrelation.anderson_saunders:
        return anderson_saunders_nusselt(Re)
    if correlation == FilmCorrelation.becker:
        return becker_nusselt(Re, Pr)
    if correlation == FilmCorrelation.etemad:
        return etemad_nusselt(Re, Gr, Pr)
    if correlation == FilmCorrelation.kays_bjorklund:
        return kays_bjorklund_nusselt(Re, Gr)
    if correlation == FilmCorrelation.dropkin_carmi:
        return dropkin_carmi_nusselt(Re)
    if correlation == FilmCorrelation.ozerdem:
        return ozerdem_nusselt(Re)
    return nan


def anderson_saunders_nusselt(Re: float) -> float:
    """Nusselt number of a shaft turning in air after Anderson and Saunders.

    Parameters
    ----------
    Re : -
        Reynolds number of the surface speed on the diameter.

    Returns
    -------
    Nu : -
        Nusselt number of the turning shaft.

    References
    ----------
    Anderson and Saunders, Proc. R. Soc. A 217 (1953) 555 (from memory).
    """
    return 0.10 * Re ** (2.0 / 3.0)


def becker_nusselt(Re: float, Pr: float) -> float:
    """Nusselt number of a shaft turning in a liquid or in air after Becker.

    Parameters
    ----------
    Re : -
        Reynolds number of the surface speed on the diameter, 800 to 1e5.
    Pr : -
        Prandtl number.

    Returns
    -------
    Nu : -
        Nusselt number of the turning shaft.

    References
    ----------
    Becker, Int. J. Heat Mass Transfer 6 (1963) 1053 (from memory).
    """
    return 0.133 * Re ** (2.0 / 3.0) * Pr ** (1.0 / 3.0)


def etemad_nusselt(Re: float, Gr: float, Pr: float) -> float:
    """Nusselt number of a shaft turning in air after Etemad.

    Some textbooks print it with the Prandtl number on the Grashof number alone, which in air is up to 13 % higher.

    Parameters
    ----------
    Re : -
        Reynolds number of the surface speed on the diameter.
    Gr : -
        Grashof number on the diameter.
    Pr : -
        Prandtl number.

    Returns
    -------
    Nu : -
        Nusselt number of the turning shaft.

    References
    ----------
    Etemad, Trans. ASME 77 (1955) 1283 (from memory).
    """
    return 0.11 * ((0.5 * Re**2 + Gr) * Pr) ** 0.35


def kays_bjorklund_nusselt(Re: float, Gr: float) -> float:
    """Nusselt number of a shaft turning in air after Kays and Bjorklund, without a flow along the shaft.

    Parameters
    ----------
    Re : -
        Reynolds number of the surface speed on the diameter.
    Gr : -
        Grashof number on the diameter.

    Returns
    -------
    Nu : -
        Nusselt number of the turning shaft.

    References
    ----------
    Kays and Bjorklund, Trans. ASME 80 (1958) 70 (from memory).
    """
    return 0.095 * (0.5 * Re**2 + Gr) ** 0.35


def dropkin_carmi_nusselt(Re: float) -> float:
    """Nusselt number of a shaft turning in air after Dropkin and Carmi.

    Parameters
    ----------
    Re : -
        Reynolds number of the surface speed on the diameter, above 15 000.

    Returns
    -------
    Nu : -
        Nusselt number of the turning shaft.

    References
    ----------
    Dropkin and Carmi, Trans. ASME 79 (1957) 741 (from memory).
    """
    return 0.073 * Re**0.7


def ozerdem_nusselt(Re: float) -> float:
    """Nusselt number of a shaft turning in air after Ozerdem.

    Parameters
    ----------
    Re : -
        Reynolds number of the surface speed on the diameter, 2 000 to 40 000.

    Returns
    -------
    Nu : -
        Nusselt number of the turning shaft.

    References
    ----------
    Ozerdem, Int. Comm. Heat Mass Transfer 27 (2000) 1015 (from memory).
    """
    return 0.318 * Re**0.571


def still_nusselt(Gr: float, Pr: float) -> float:
    """Nusselt number of a horizontal shaft at rest in a large volume of fluid.

    Parameters
    ----------
    Gr : -
        Grashof number on the diameter; times the Prandtl number up to 1e12.
    Pr : -
        Prandtl number.

    Returns
    -------
    Nu_0 : -
        Nusselt number of the shaft at rest.

    References
    ----------
    Churchill and Chu, Int. J. Heat Mass Transfer 18 (1975) 1049 (published; equal to a general-purpose heat transfer
    library's transcription in the tests).
    """
    f_Pr = (1.0 + (0.559 / Pr) ** (9.0 / 16.0)) ** (8.0 / 27.0)  # damping by the Prandtl number
    return (0.60 + 0.387 * (Gr * Pr) ** (1.0 / 6.0) / f_Pr) ** 2


_ATMOSPHERE = "U.S. Standard Atmosphere, 1976"
_VISCOSITY_FACTOR = Constant(1.458e-6, "C_mu", "Pa·s", _ATMOSPHERE, "Sutherland's factor of the viscosity")
_VISCOSITY_TEMPERATURE = Constant(110.4, "S_mu", "K", _ATMOSPHERE, "Sutherland's temperature of the viscosity")
_CONDUCTIVITY_FACTOR = Constant(2.64638e-3, "C_k", "W/(m·K)", _ATMOSPHERE, "Factor of the conductivity of air")
_CONDUCTIVITY_TEMPERATURE = Constant(245.4, "S_k", "K", _ATMOSPHERE, "Temperature in the conductivity of air")
_CONDUCTIVITY_EXPONENT = Constant(12.0, "T_k", "K", _ATMOSPHERE, "Temperature in the exponent of the conductivity")
_GAS_CONSTANT_AIR = Constant(287.05287, "R_air", "J/(kg·K)", f"{_ATMOSPHERE}: 8314.32/28.9644", "Gas constant of air")
_KELVIN = Constant(1.0, "T_1", "K", "Definition", "One kelvin")


def dry_air(T: float, p: float) -> Fluid:
    """Transport properties of dry air, an ideal gas.

    Meant for 200 to 600 K near atmospheric pressure; the heat capacity is fitted from 300 K and holds to 0.3 % at 250 K.
    Against Incropera's table A.4 (from memory), 250 to 600 K: viscosity within 0.7 % to 400 K and 1.4 % beyond, conductivity
    and Prandtl number within 0.8 %.

    Parameters
    ----------
    T : K
        Film temperature, > 0.
    p : Pa
        Absolute pressure, > 0.

    Returns
    -------
    k_air : W/(m·K)
        Conductivity of air.
    nu_air : m²/s
        Kinematic viscosity of air.
    Pr : -
        Prandtl number of air.
    beta_air : 1/K
        Volume expansion coefficient of air.

    References
    ----------
    U.S. Standard Atmosphere, 1976, equations 51 and 53, for viscosity and conductivity (standard; equal to a
    general-purpose library's transcription in the tests). Moran and Shapiro, Fundamentals of Engineering Thermodynamics,
    table A-21, for the heat capacity (published; from memory).
    """
    x = T / _KELVIN  # temperature in kelvins
    mu_air = _VISCOSITY_FACTOR * x**1.5 / (x + _VISCOSITY_TEMPERATURE / _KELVIN)  # dynamic viscosity of air
    T_e = _CONDUCTIVITY_TEMPERATURE * 10.0 ** (-_CONDUCTIVITY_EXPONENT / T)  # temperature beside that of the film
    k_air = _CONDUCTIVITY_FACTOR * x**1.5 / (x + T_e / _KELVIN)  # conductivity of air
    c = 3.653 - 1.337e-3 * x + 3.294e-6 * x**2 - 1.913e-9 * x**3 + 0.2763e-12 * x**4  # heat capacity over gas constant
    nu_air = mu_air * _GAS_CONSTANT_AIR * T / p  # kinematic viscosity of air
    return Fluid(k_air, nu_air, _GAS_CONSTANT_AIR * c * mu_air / k_air, 1.0 / T)
