"""Thermal expansion: strain of PTFE and metals, the transitions of PTFE near room temperature, fits at temperature.

A strain is read from a curve of lengths, never made of a coefficient times a difference: the coefficient of PTFE varies by
a factor of two over its range and jumps at its transitions.
"""

from __future__ import annotations

from math import nan, sqrt
from typing import NamedTuple

from glandwise.mechanics.choices import PtfeTransition
from glandwise.numerics.arithmetic import greatest
from glandwise.numerics.interpolation import CurveRecord, curve_at
from glandwise.numerics.lives import Constant, opaque


class FitAtTemperature(NamedTuple):
    """A fit of two round parts at temperature."""

    interference: float
    change: float
    inner_diameter: float
    outer_diameter: float


class EnergizerSpace(NamedTuple):
    """Room for an energizer and its deflection at temperature."""

    height: float
    deflection: float
    change: float


# ------------------------------------------------------------------------------------------------------------- strain


def _polynomial_words(fit: CurveRecord, T: float) -> str:  # noqa: ARG001
    terms = [f"{float(fit.y[i])!r} * {{0}}**{fit.x[i]:g}" for i in range(int(fit.n)) if fit.y[i] != 0.0]
    return " + ".join(terms).replace(" * {0}**0", "").replace("{0}**1 ", "{0} ").replace("+ -", "- ")


@opaque(words=_polynomial_words)
def polynomial_at(fit: CurveRecord, T: float) -> float:
    """Value of a polynomial fit: a curve whose points are the powers 0, 1, 2, ... and their coefficients."""
    value = 0.0 * T
    for i in range(fit.n - 1, -1, -1):
        value = value * T + fit.y[i]
    return value


def strain_between(epsilon: float, epsilon_0: float) -> float:
    """Strain from one temperature to another, of two strains from a common third.

    Parameters
    ----------
    epsilon : -
        Strain at the temperature of interest.
    epsilon_0 : -
        Strain at the temperature where the part was measured, above -1.

    Returns
    -------
    epsilon_T : -
        Strain from the temperature where the part was measured.

    References
    ----------
    Definition.
    """
    return (epsilon - epsilon_0) / (1.0 + epsilon_0)


def ptfe_strain(curve: CurveRecord, fit: CurveRecord, T_low: float, s: float, T: float) -> float:
    """Thermal strain of a PTFE compound from the reference temperature of a table of lengths.

    The measured table rules over its whole range. Below it a fit for low temperatures supplies increments alone, so that
    there is no step where both disagree; they do, by 3 to 17 % in mean coefficient, as the fit spreads the transitions. One
    scale for a filled compound at all temperatures is an estimate.

    Parameters
    ----------
    curve : CurveRecord
        Strain of unfilled PTFE by temperature. Linear between its points, which spread the transitions at about 20 and
        30 °C over the two about them.
    fit : CurveRecord
        Powers and coefficients of the polynomial of absolute temperature that the strain follows below the table.
    T_low : K
        Lowest temperature of the polynomial.
    s : -
        Expansion of the compound over that of unfilled PTFE, > 0.
    T : K
        Temperature.

    Returns
    -------
    epsilon : -
        Thermal strain of the compound; not known outside of both sources.

    References
    ----------
    R. K. Kirby, J. Res. NBS 57 (1956) 91-94, RP2696 (published), tabulates mean coefficients, whose lengths these are; NIST
    Cryogenic Material Properties, PTFE (published); the join is a house rule.
    """
    T_join = curve.x[0]
    if T < T_low:
        return nan
    if T > curve.x[curve.n - 1]:
        return nan
    if T >= T_join:
        return s * curve_at(curve, T)
    epsilon_join = curve_at(curve, T_join)
    return s * (epsilon_join + (polynomial_at(fit, T) - polynomial_at(fit, T_join)))


def lent_fit_scale(fit: CurveRecord, alpha: float, T_0: float, T_s: float) -> float:
    """Scale at which a metal borrows the shape of the low-temperature strain of another.

    Parameters
    ----------
    fit : CurveRecord
        Powers and coefficients of the polynomial of absolute temperature that the strain of the other metal follows.
    alpha : 1/K
        Mean coefficient of expansion of the metal near room temperature.
    T_0 : K
        Temperature where strains are zero.
    T_s : K
        Temperature to which the mean coefficients of both are the same.

    Returns
    -------
    f_lent : -
        Strain of the metal over that of the other.

    References
    ----------
    House rule, for metals that shrink a tenth of what PTFE does.
    """
    return alpha * (T_0 - T_s) / (polynomial_at(fit, T_0) - polynomial_at(fit, T_s))


HIGHEST_FOR_METALS = Constant(
    2000.0, "T_melt", "K", "choice of this service", "Temperature to which a mean coefficient is used"
)


def metal_strain(
    fit: CurveRecord, T_low: float, T_flat: float, f_lent: float, alpha: float, T_0: float, T: float
) -> float:
    """Thermal strain of a metal from room temperature: its mean coefficient above, a low-temperature fit below.

    Parameters
    ----------
    fit : CurveRecord
        Powers and coefficients of the polynomial of absolute temperature that the strain follows below room temperature.
    T_low : K
        Lowest temperature of the polynomial.
    T_flat : K
        Temperature below which it is held constant; 0 if nowhere.
    f_lent : -
        Scale of a fit that is another metal's; 1 for the metal's own.
    alpha : 1/K
        Mean coefficient of expansion above room temperature.
    T_0 : K
        Temperature where the strain is zero.
    T : K
        Temperature.

    Returns
    -------
    epsilon : -
        Thermal strain of the metal; not known below the fit.

    References
    ----------
    NIST Cryogenic Material Properties, stainless steel 304, aluminium 6061-T6, alloy N07718 (published); the join is a house
    rule.
    """
    if T < T_low:
        return nan
    if T > HIGHEST_FOR_METALS:
        return nan
    if T >= T_0:
        return alpha * (T - T_0)
    T_c = greatest(T, T_flat)  # temperature, not below that from which nothing shrinks further
    return f_lent * (polynomial_at(fit, T_c) - polynomial_at(fit, T_0))


# -------------------------------------------------------------------------------------------------------- transitions

_MARTIN = "G. M. Martin and R. K. Eby, J. Res. NBS 72A (1968) 467-470"
_II_IV_0 = Constant(-820.0e5, "a_0", "Pa", _MARTIN, "Pressure of the transition II-IV at 0 °C, by the fit")
_II_IV_1 = Constant(26.9e5, "a_1", "Pa/K", _MARTIN, "Rise of that pressure with temperature")
_II_IV_2 = Constant(0.68e5, "a_2", "Pa/K²", _MARTIN, "Rise of that pressure with the square of temperature")
_IV_I_0 = Constant(-91.0e5, "b_0", "Pa", _MARTIN, "Pressure of the transition IV-I at 0 °C, by the fit")
_IV_I_1 = Constant(-57.8e5, "b_1", "Pa/K", _MARTIN, "Rise of that pressure with temperature")
_IV_I_2 = Constant(1.99e5, "b_2", "Pa/K²", _MARTIN, "Rise of that pressure with the square of temperature")
_HIGHEST_PRESSURE = Constant(68.6e6, "p_top", "Pa", _MARTIN, "Greatest pressure at which transitions were measured")
_ZERO_CELSIUS = Constant(273.15, "T_ice", "K", "Definition", "Zero of the Celsius scale")
_ATMOSPHERE = Constant(101325.0, "p_atm", "Pa", "ISO 2533", "Standard atmosphere")


def transition_temperature(p: float, transition: int) -> float:
    """Temperature at which PTFE changes phase under a pressure.

    Pressure raises both transitions, by about 1.8 and 1.4 K per 10 MPa. The change of length at a transition, 0.33 to 0.6 %,
    depends on thermal history and is part of a mean coefficient measured across it.

    Parameters
    ----------
    p : Pa
        Absolute pressure, 0 to 68.6 MPa.
    transition : PtfeTransition
        Transition of PTFE.

    Returns
    -------
    T_tr : K
        Temperature of the transition; not known beyond the pressures at which it was measured.

    References
    ----------
    G. M. Martin and R. K. Eby, J. Res. NBS 72A (1968) 467-470 (published).
    """
    if p < 0.0:
        return nan
    if p > _HIGHEST_PRESSURE:
        return nan
    if transition == PtfeTransition.II_IV:
        return _ZERO_CELSIUS + (sqrt(_II_IV_1**2 - 4.0 * _II_IV_2 * (_II_IV_0 - p)) - _II_IV_1) / (2.0 * _II_IV_2)
    return _ZERO_CELSIUS + (sqrt(_IV_I_1**2 - 4.0 * _IV_I_2 * (_IV_I_0 - p)) - _IV_I_1) / (2.0 * _IV_I_2)


def crosses_transition(T_m: float, T: float, p: float, transition: int) -> float:
    """Whether PTFE changes phase between the measuring room and service: 1 if so, else 0.

    The part is measured below its transition at one atmosphere and works above its transition at pressure, or the other way
    round.

    Parameters
    ----------
    T_m : K
        Temperature at which the part was measured, at one atmosphere.
    T : K
        Temperature in service.
    p : Pa
        Absolute pressure in service, 0 to 68.6 MPa.
    transition : PtfeTransition
        Transition of PTFE.

    Returns
    -------
    crossed : -
        1 if the transition is crossed, 0 if not; not known beyond the pressures at which it was measured.

    References
    ----------
    G. M. Martin and R. K. Eby, J. Res. NBS 72A (1968) 467-470 (published).
    """
    T_rest = transition_temperature(_ATMOSPHERE, transition)  # temperature of the transition at one atmosphere
    T_tr = transition_temperature(p, transition)  # temperature of the transition in service
    if T_tr != T_tr:
        return nan
    if T_m > T_rest:
        return 0.0 if T > T_tr else 1.0
    return 1.0 if T > T_tr else 0.0


# --------------------------------------------------------------------------------------------------------------- fits


def fit_at_temperature(d_i: float, d_o: float, epsilon_i: float, epsilon_o: float) -> FitAtTemperature:
    """Fit of one round part in another at temperature, each growing as if free.

    Lip or ring on a shaft: cold shrinks the PTFE onto it, heat loosens it. Seal in a bore: the other way round.

    Parameters
    ----------
    d_i : m
        Outside diameter of the inner part at the reference temperature: of the shaft, or of the seal in its bore.
    d_o : m
        Inside diameter of the outer part: of the free lip on the shaft, or of the bore.
    epsilon_i : -
        Thermal strain of the inner part from the reference temperature.
    epsilon_o : -
        Thermal strain of the outer part from the reference temperature.

    Returns
    -------
    delta : m
        Interference on the radius; negative is clearance.
    Delta_delta : m
        Interference less that at the reference temperature.
    d_iT : m
        Outside diameter of the inner part.
    d_oT : m
        Inside diameter of the outer part.

    References
    ----------
    Geometry.
    """
    d_iT = d_i * (1.0 + epsilon_i)  # outside diameter of the inner part at temperature
    d_oT = d_o * (1.0 + epsilon_o)  # inside diameter of the outer part at temperature
    return FitAtTemperature(0.5 * (d_iT - d_oT), 0.5 * (d_i * epsilon_i - d_o * epsilon_o), d_iT, d_oT)


def diameter_after_confined_heating(D: float, D_b: float, epsilon_s: float, epsilon_b: float, kappa: float) -> float:
    """Outside diameter, once cold again, of a PTFE body heated in a bore too tight for it.

    Why a body that was tight when new is loose when cold again: what was squeezed hot does not come back.

    Parameters
    ----------
    D : m
        Outside diameter of the body at the reference temperature.
    D_b : m
        Bore diameter at the reference temperature.
    epsilon_s : -
        Thermal strain of the body at the hot end.
    epsilon_b : -
        Thermal strain of the bore at the hot end.
    kappa : -
        Share of the compression that stays as set, from 0 (elastic) to 1 (all creeps away).

    Returns
    -------
    D_set : m
        Outside diameter of the body after it has been hot once.

    References
    ----------
    Kinematics; the share is an engineering estimate, to be proved by test.
    """
    z = 1.0 - D_b * (1.0 + epsilon_b) / (D * (1.0 + epsilon_s))  # compression of the body by the bore when hot
    return D * (1.0 - kappa * greatest(z, 0.0))


def energizer_space(
    D_b: float, d: float, t_o: float, t_i: float, H_0: float,
    epsilon_b: float, epsilon_d: float, epsilon_s: float, epsilon_e: float,
) -> EnergizerSpace:  # fmt: skip
    """Radial room for an energizer between shaft and bore, and its deflection, at temperature.

    The energizer presses both walls of the seal out, onto the bore and onto the shaft: the hardware sets the room, and the
    seal acts by its walls alone.

    Parameters
    ----------
    D_b : m
        Bore diameter at the reference temperature.
    d : m
        Shaft diameter.
    t_o : m
        Wall of the seal between energizer and bore.
    t_i : m
        Wall of the lip between energizer and shaft.
    H_0 : m
        Free radial height of the energizer.
    epsilon_b : -
        Thermal strain of the bore from the reference temperature.
    epsilon_d : -
        Thermal strain of the shaft.
    epsilon_s : -
        Thermal strain of the seal.
    epsilon_e : -
        Thermal strain of the energizer.

    Returns
    -------
    h : m
        Radial height left for the energizer.
    Delta : m
        Deflection of the energizer; 0 where it is loose.
    Delta_T : m
        Deflection less that at the reference temperature.

    References
    ----------
    Geometry.
    """
    t_w = t_o + t_i  # both walls of the seal
    h_0 = 0.5 * (D_b - d) - t_w  # height left at the reference temperature
    h = 0.5 * (D_b * (1.0 + epsilon_b) - d * (1.0 + epsilon_d)) - (1.0 + epsilon_s) * t_w  # height left
    Delta = greatest(H_0 * (1.0 + epsilon_e) - h, 0.0)  # deflection of the energizer
    return EnergizerSpace(h, Delta, Delta - greatest(H_0 - h_0, 0.0))
