"""Viscosity against temperature: oils and other liquids by two or three points, gases by Sutherland's law.

A liquid is known by points of its dynamic viscosity. Between and beyond them a form is assumed, which holds for its kind of
liquid only: two points and the double logarithm for mineral and synthetic oils, three points and Vogel's form for water,
solutions and solvents, two points and Andrade's form where no third one is known.
"""

from __future__ import annotations

from math import exp, inf, log, log10, nan

from glandwise.mechanics.choices import ViscosityForm
from glandwise.numerics.lives import Constant

_D341 = "ASTM D341, simplified form of the double logarithm (standard; from memory)"
_UNIT_VISCOSITY = Constant(1.0e-6, "nu_0", "m²/s", _D341, "One square millimetre per second")


def walther_viscosity(T: float, T_1: float, nu_1: float, T_2: float, nu_2: float) -> float:
    """Kinematic viscosity of an oil between or near two temperatures at which it is known.

    For mineral oils and most synthetic ones, above the cloud point and below decomposition, from 2 mm²/s upward: the full
    form of the standard has further terms below that. Both points have to be above 0.3 mm²/s, else NaN. It runs to
    0.3 mm²/s at great heat. Far beyond the points it says the order only.

    Parameters
    ----------
    T : K
        Temperature, > 0.
    T_1 : K
        Temperature of the first point, > 0.
    nu_1 : m²/s
        Kinematic viscosity there, > 0.3e-6.
    T_2 : K
        Temperature of the second point, another one.
    nu_2 : m²/s
        Kinematic viscosity there, > 0.3e-6.

    Returns
    -------
    nu : m²/s
        Kinematic viscosity.

    References
    ----------
    ASTM D341, simplified form log log (nu + 0.7) = A - B log T with nu in mm²/s (standard; from memory, a worked example
    was read).
    """
    W_1 = log10(log10(nu_1 / _UNIT_VISCOSITY + 0.7))  # double logarithm at the first point
    W_2 = log10(log10(nu_2 / _UNIT_VISCOSITY + 0.7))  # double logarithm at the second point
    B = (W_1 - W_2) / log10(T_2 / T_1)  # fall of the double logarithm per decade of temperature
    W = W_1 - B * log10(T / T_1)  # double logarithm at this temperature
    return _UNIT_VISCOSITY * (10.0 ** (10.0**W) - 0.7)


def vogel_viscosity(T: float, T_1: float, eta_1: float, T_2: float, eta_2: float, T_3: float, eta_3: float) -> float:
    """Viscosity of a liquid by three temperatures at which it is known.

    The form exp(B/(T - T_0)) through the points, written without its constants, so that it has no gap where T_0 runs to
    minus infinity. Good for water, solutions, alcohols and most solvents; it knows no freezing: at T_0 and below it is
    infinite. A liquid whose logarithm does not bend upward in the cold is not of this form; beyond its warm end it may be NaN.

    Parameters
    ----------
    T : K
        Temperature, > 0.
    T_1 : K
        Coldest point.
    eta_1 : Pa·s
        Viscosity there, > 0.
    T_2 : K
        Point between.
    eta_2 : Pa·s
        Viscosity there, > 0.
    T_3 : K
        Warmest point.
    eta_3 : Pa·s
        Viscosity there, > 0.

    Returns
    -------
    eta : Pa·s
        Dynamic viscosity.

    References
    ----------
    Vogel's form, Physik. Z. 22 (1921) 645 (published; from memory), rearranged; derived.
    """
    r = log(eta_1 / eta_2) * (T_3 - T_2) / (log(eta_2 / eta_3) * (T_2 - T_1))  # bend of the logarithm of the viscosity
    w = r * (T - T_1) + T_3 - T  # distance from where it sets
    if w <= 0.0:
        return inf if T < T_1 else nan
    u = r * (T - T_1) / w  # way from the first to the third logarithm
    return eta_1 * exp(u * log(eta_3 / eta_1))


def andrade_viscosity(T: float, T_1: float, eta_1: float, T_2: float, eta_2: float) -> float:
    """Viscosity of a liquid by two temperatures at which it is known: its logarithm is straight over 1/T.

    For thin liquids between the points; beyond them it says the order only. Associated liquids (water, alcohols) bend.

    Parameters
    ----------
    T : K
        Temperature, > 0.
    T_1 : K
        Temperature of the first point, > 0.
    eta_1 : Pa·s
        Viscosity there, > 0.
    T_2 : K
        Temperature of the second point, another one.
    eta_2 : Pa·s
        Viscosity there, > 0.

    Returns
    -------
    eta : Pa·s
        Dynamic viscosity.

    References
    ----------
    Andrade, Nature 125 (1930) 309 (published; from memory).
    """
    u = (1.0 / T_1 - 1.0 / T) / (1.0 / T_1 - 1.0 / T_2)  # way from the first to the second point over 1/T
    return eta_1 * exp(u * log(eta_2 / eta_1))


def liquid_density(T: float, T_1: float, rho_1: float, beta: float) -> float:
    """Density of a liquid from that at one temperature.

    Parameters
    ----------
    T : K
        Temperature.
    T_1 : K
        Temperature at which it is known.
    rho_1 : kg/m³
        Density there, > 0.
    beta : 1/K
        Volume expansion coefficient, constant.

    Returns
    -------
    rho : kg/m³
        Density.

    References
    ----------
    Definition of a constant expansion coefficient.
    """
    return rho_1 * exp(-beta * (T - T_1))


def liquid_viscosity(
    form: int, T: float, T_1: float, eta_1: float, T_2: float, eta_2: float, T_3: float, eta_3: float, rho_1: float,
    beta: float,
) -> float:  # fmt: skip
    """Viscosity of a liquid by the form that suits it.

    Parameters
    ----------
    form : ViscosityForm
        Form of the law.
    T : K
        Temperature, > 0.
    T_1 : K
        First point, the coldest.
    eta_1 : Pa·s
        Viscosity there, > 0.
    T_2 : K
        Second point.
    eta_2 : Pa·s
        Viscosity there, > 0.
    T_3 : K
        Third point, the warmest; not read where two are enough.
    eta_3 : Pa·s
        Viscosity there; not read where two are enough.
    rho_1 : kg/m³
        Density at the first point, > 0; read by the double logarithm alone, which goes by the kinematic viscosity.
    beta : 1/K
        Volume expansion coefficient; read by the double logarithm alone.

    Returns
    -------
    eta : Pa·s
        Dynamic viscosity.

    References
    ----------
    As the form.
    """
    if form == ViscosityForm.walther:
        nu_1 = eta_1 / rho_1  # kinematic viscosity at the first point
        rho_2 = liquid_density(T_2, T_1, rho_1, beta)  # density at the second point
        nu_2 = eta_2 / rho_2  # kinematic viscosity at the second point
        nu = walther_viscosity(T, T_1, nu_1, T_2, nu_2)
        rho = liquid_density(T, T_1, rho_1, beta)
        return nu * rho
    if form == ViscosityForm.vogel:
        return vogel_viscosity(T, T_1, eta_1, T_2, eta_2, T_3, eta_3)
    if form == ViscosityForm.andrade:
        return andrade_viscosity(T, T_1, eta_1, T_2, eta_2)
    return nan


def sutherland_viscosity(T: float, T_0: float, eta_0: float, S: float) -> float:
    """Viscosity of a dilute gas; it does not hang on pressure.

    Within a few per cent over a few hundred kelvin from the reference, for air, nitrogen, oxygen, argon, carbon dioxide,
    and with less accuracy for helium, hydrogen and steam. Not near the critical point.

    Parameters
    ----------
    T : K
        Temperature, > 0.
    T_0 : K
        Temperature of the reference, > 0.
    eta_0 : Pa·s
        Viscosity there, > 0.
    S : K
        Sutherland's temperature of the gas, >= 0.

    Returns
    -------
    eta : Pa·s
        Dynamic viscosity of the gas.

    References
    ----------
    Sutherland, Phil. Mag. 36 (1893) 507 (published; from memory; equal to a general-purpose library's standard atmosphere
    in the tests).
    """
    return eta_0 * (T / T_0) ** 1.5 * (T_0 + S) / (T + S)
