"""Film coefficients beyond the turning shaft in one phase: condensing steam, boiling, splash and mist, dense gas.

The turning shaft itself is in :mod:`glandwise.mechanics.heat`; with Becker's correlation and the fluid's own properties it
serves all liquids.
"""

from __future__ import annotations

from math import inf, log, nan

from glandwise.mechanics.heat import STANDARD_GRAVITY, Fluid
from glandwise.mechanics.viscoelastic import GAS_CONSTANT
from glandwise.mechanics.viscosity import sutherland_viscosity
from glandwise.numerics.arithmetic import greatest, least


def prandtl_number(c_p: float, eta: float, k: float) -> float:
    """Prandtl number of a fluid.

    Parameters
    ----------
    c_p : J/(kg·K)
        Heat capacity, > 0.
    eta : Pa·s
        Viscosity, > 0.
    k : W/(m·K)
        Conductivity, > 0.

    Returns
    -------
    Pr : -
        Prandtl number.

    References
    ----------
    Definition.
    """
    return c_p * eta / k


def liquid_properties(eta: float, rho: float, k: float, c_p: float, beta: float) -> Fluid:
    """Transport properties of a liquid as the film of a turning shaft takes them.

    Parameters
    ----------
    eta : Pa·s
        Viscosity at the film temperature, > 0.
    rho : kg/m³
        Density, > 0.
    k : W/(m·K)
        Conductivity, > 0.
    c_p : J/(kg·K)
        Heat capacity, > 0.
    beta : 1/K
        Volume expansion coefficient.

    Returns
    -------
    k : W/(m·K)
        Conductivity.
    nu : m²/s
        Kinematic viscosity.
    Pr : -
        Prandtl number.
    beta : 1/K
        Volume expansion coefficient.

    References
    ----------
    Definitions.
    """
    nu = eta / rho  # kinematic viscosity
    Pr = prandtl_number(c_p, eta, k)
    return Fluid(k, nu, Pr, beta)


def gas_properties(T: float, p: float, M: float, T_0: float, eta_0: float, S: float, c_p: float, Pr: float) -> Fluid:
    """Transport properties of an ideal gas under its pressure.

    Viscosity, conductivity and Prandtl number do not hang on pressure, the density does: that is how pressure cools.

    Parameters
    ----------
    T : K
        Film temperature, > 0.
    p : Pa
        Absolute pressure, > 0; to about a third of the critical one.
    M : kg/mol
        Molar mass, > 0.
    T_0 : K
        Temperature of the reference of the viscosity, > 0.
    eta_0 : Pa·s
        Viscosity there, > 0.
    S : K
        Sutherland's temperature of the gas, >= 0.
    c_p : J/(kg·K)
        Heat capacity, > 0.
    Pr : -
        Prandtl number, > 0.

    Returns
    -------
    k : W/(m·K)
        Conductivity.
    nu : m²/s
        Kinematic viscosity.
    Pr : -
        Prandtl number.
    beta : 1/K
        Volume expansion coefficient.

    References
    ----------
    Ideal gas; viscosity after Sutherland.
    """
    eta = sutherland_viscosity(T, T_0, eta_0, S)
    rho = p * M / (GAS_CONSTANT * T)  # density of the gas
    nu = eta / rho  # kinematic viscosity
    k = c_p * eta / Pr  # conductivity
    beta = 1.0 / T  # volume expansion coefficient of an ideal gas
    return Fluid(k, nu, Pr, beta)


def saturation_temperature(p: float, p_b: float, T_b: float, M: float, h_fg: float) -> float:
    """Temperature at which a liquid boils at a pressure, from its boiling point at another one.

    Heat of vaporization held constant, vapour ideal: water from its boiling point at 1 bar within 2 K from
    0.1 to 10 bar and 4 K at 30 bar, too low at both ends.

    Parameters
    ----------
    p : Pa
        Absolute pressure, > 0.
    p_b : Pa
        Absolute pressure at which the boiling point is known, > 0.
    T_b : K
        Boiling point there, > 0.
    M : kg/mol
        Molar mass, > 0.
    h_fg : J/kg
        Heat of vaporization at the known boiling point, > 0.

    Returns
    -------
    T_sat : K
        Boiling point; infinite where the law, beyond its range, has none.

    References
    ----------
    Clausius and Clapeyron, integrated; derived.
    """
    u = 1.0 / T_b - log(p / p_b) * GAS_CONSTANT / (M * h_fg)  # inverse of the boiling point
    if u <= 0.0:
        return inf
    return 1.0 / u


def condensing_film(d: float, k: float, eta: float, rho: float, rho_v: float, h_fg: float, Delta_T: float) -> float:
    """Film coefficient of pure vapour that condenses on a horizontal shaft at rest.

    Laminar film, still vapour without air: a hundredth part of air may halve it, turning throws the film off and raises it.
    It hangs little on the difference of temperature, so that the surface stands near the boiling point.

    Parameters
    ----------
    d : m
        Diameter of the shaft, > 0.
    k : W/(m·K)
        Conductivity of the condensate.
    eta : Pa·s
        Viscosity of the condensate, > 0.
    rho : kg/m³
        Density of the condensate.
    rho_v : kg/m³
        Density of the vapour, below that of the condensate.
    h_fg : J/kg
        Heat of vaporization, > 0.
    Delta_T : K
        Boiling point less temperature of the surface, > 0; the coefficient grows without end as it falls to 0.

    Returns
    -------
    h : W/(m²·K)
        Film coefficient; NaN where nothing condenses.

    References
    ----------
    Nusselt's film theory, horizontal cylinder, constant 0.729; Incropera and DeWitt, chapter 10 (published; from memory;
    held to a general-purpose library's vertical plate by the known ratio in the tests).
    """
    if Delta_T <= 0.0:
        return nan
    X = STANDARD_GRAVITY * rho * (rho - rho_v) * k**3 * h_fg / (eta * Delta_T * d)  # Nusselt's group
    return 0.729 * X**0.25


def condensing_share(T: float, T_b: float, Delta_T: float) -> float:
    """Share of a shaft that condensate wets: all of it up to the boiling point, less and less in superheated vapour.

    Parameters
    ----------
    T : K
        Temperature of the vapour.
    T_b : K
        Boiling point at its pressure; infinite where it is not known, and the vapour is then taken as saturated.
    Delta_T : K
        Superheat from which nothing condenses on a shaft that friction warms, > 0.

    Returns
    -------
    w : -
        Wetted share, 0 to 1.

    References
    ----------
    Proposal of this service (house estimate): a straight line between stated ends.
    """
    return greatest(least(1.0 - (T - T_b) / Delta_T, 1.0), 0.0)


def boiling_film(Delta_T: float, Delta_T_n: float, h_n: float, h_f: float) -> float:
    """Film coefficient of a boiling liquid by the superheat of the surface.

    Bubbles form and leave up to one superheat. Beyond it the heat flux stays at the greatest that they carry, until a film of
    vapour carries more. A surface that has boiled dry and is not wetted again carries less than that in between.

    Parameters
    ----------
    Delta_T : K
        Temperature of the surface over the boiling point; a colder surface counts as wetted.
    Delta_T_n : K
        Superheat to which bubbles form and leave, > 0.
    h_n : W/(m²·K)
        Coefficient up to there, > 0.
    h_f : W/(m²·K)
        Coefficient of film boiling, > 0.

    Returns
    -------
    h : W/(m²·K)
        Film coefficient.

    References
    ----------
    Proposal of this service (house estimate) between stated values, which are rule data; correlations for either regime
    bracket them in the tests.
    """
    if Delta_T <= Delta_T_n:
        return h_n
    return greatest(h_n * Delta_T_n / Delta_T, least(h_f, h_n))


def wetted_film(f_w: float, h_l: float, h_g: float) -> float:
    """Film coefficient of a surface that is wetted in part: splash, mist, half-filled housings.

    Parameters
    ----------
    f_w : -
        Wetted share, 0 to 1.
    h_l : W/(m²·K)
        Coefficient where the liquid floods it.
    h_g : W/(m²·K)
        Coefficient where gas is around it.

    Returns
    -------
    h : W/(m²·K)
        Mean film coefficient.

    References
    ----------
    Surfaces side by side; wetted shares are rule data.
    """
    return f_w * h_l + (1.0 - f_w) * h_g


def packed_film(k: float, t: float) -> float:
    """Film coefficient of grease or paste that stands still around the shaft: it conducts.

    Parameters
    ----------
    k : W/(m·K)
        Conductivity of the grease, > 0.
    t : m
        Thickness of what stands around the shaft, > 0.

    Returns
    -------
    h : W/(m²·K)
        Film coefficient.

    References
    ----------
    Fourier's law for a layer thin against the shaft.
    """
    return k / t
