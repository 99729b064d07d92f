"""Thermal expansion: integrated strain of PTFE and metals, PTFE's room-temperature transitions, fits at temperature.

Strains are integrated from a stated reference temperature, never a coefficient times a difference: PTFE's coefficient
varies by a factor of two over its range and jumps at its transitions. Coefficient tables are rule data and arrive as
arguments.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from glandwise.twofold import numeric as num
from glandwise.twofold.numeric import Real

_ZERO_CELSIUS = 273.15

# Martin & Eby (1968): transition pressure (1e5 Pa) as a polynomial of temperature (deg C), ascending powers.
_TRANSITIONS = {"II-IV": (-820.0, 26.9, 0.68), "IV-I": (-91.0, -57.8, 1.99)}
_TRANSITION_PRESSURE_MAX = 68.6e6
_TRANSITION_TEMPERATURE_MAX = 50.0


class FitAtTemperature(NamedTuple):
    """A fit of two round parts at temperature."""

    interference: Real
    """Interference on the radius; negative is clearance [m]."""
    change: Real
    """Interference less that at the reference temperature [m]."""
    inner_diameter: Real
    """Outside diameter of the inner part [m]."""
    outer_diameter: Real
    """Inside diameter of the outer part [m]."""


class EnergizerSpace(NamedTuple):
    """Room for and deflection of an energizer at temperature."""

    height: Real
    """Radial height left for the energizer [m]."""
    deflection: Real
    """Free height less the height left, zero when it is loose [m]."""
    change: Real
    """Deflection less that at the reference temperature [m]."""


def _increasing_strain(
    temperatures: Sequence[float], coefficients: Sequence[float], reference_temperature: float
) -> tuple[list[float], list[float]]:
    """Table of strain, with the zero at the reference temperature put in its place."""
    points = {
        float(t): float(c) * (float(t) - reference_temperature) for t, c in zip(temperatures, coefficients, strict=True)
    }
    points[float(reference_temperature)] = 0.0
    ordered = sorted(points)
    return ordered, [points[t] for t in ordered]


def strain_from_mean_coefficients(
    temperature: Real,
    temperatures: Sequence[float],
    mean_coefficients: Sequence[float],
    reference_temperature: float,
) -> Real:
    r"""Return the thermal strain from a table of mean coefficients of linear expansion.

    .. math:: \varepsilon(T) = \bar\alpha(T_0, T)\,(T - T_0)

    Parameters
    ----------
    temperature : float or array
        Temperature :math:`T`. [K]
    temperatures : sequence of float
        Temperatures of the table, increasing. [K]
    mean_coefficients : sequence of float
        Mean coefficient :math:`\bar\alpha` between the reference temperature and each of them. [1/K]
    reference_temperature : float
        Reference temperature :math:`T_0`, where the strain is zero. [K]

    Returns
    -------
    float or array
        Strain; ``nan`` outside the table. [-]

    Notes
    -----
    Between rows the strain, not the coefficient, is linear, so the curve is continuous and increases wherever the
    tabulated lengths do. A table this coarse spreads PTFE's transitions at about 20 and 30 deg C over the two rows
    about them.

    References
    ----------
    R. K. Kirby, Thermal expansion of polytetrafluoroethylene from -190 to +300 C, J. Res. NBS 57 (1956) 91-94, RP2696,
    tabulates PTFE in this form (published).
    """
    ordered, strains = _increasing_strain(temperatures, mean_coefficients, reference_temperature)
    inside = (temperature >= ordered[0]) & (temperature <= ordered[-1])
    return num.where(inside, num.interp(temperature, ordered, strains), num.nan)


def strain_from_polynomial(
    temperature: Real, coefficients: Sequence[float], lowest: float, highest: float, flat_below: float = 0.0
) -> Real:
    r"""Return the thermal strain from a polynomial of absolute temperature (form of the NIST cryogenic fits).

    .. math:: \frac{L - L_{293}}{L_{293}} = \sum_{i=0}^{n} a_i T^i

    Parameters
    ----------
    temperature : float or array
        Temperature :math:`T`. [K]
    coefficients : sequence of float
        Coefficients :math:`a_i` in ascending powers (the printed ones times 1e-5). [1/K^i]
    lowest : float
        Lowest valid temperature. [K]
    highest : float
        Highest valid temperature. [K]
    flat_below : float
        Temperature below which the strain is held constant; 0 if nowhere. [K]

    Returns
    -------
    float or array
        Strain from 293 K; ``nan`` outside the valid range. [-]

    Notes
    -----
    A fit need not be zero at 293 K: PTFE's is -3.9e-5 there. Use differences (:func:`strain_between`). PTFE's has
    a negative slope below about 7 K.

    References
    ----------
    NIST Cryogenic Material Properties, PTFE, stainless steel 304, aluminium 6061-T6, alloy N07718 (published).
    """
    held = num.maximum(temperature, flat_below)
    inside = (temperature >= lowest) & (temperature <= highest)
    return num.where(inside, num.polyval(coefficients, held), num.nan)


def log_polynomial(temperature: Real, coefficients: Sequence[float], lowest: float, highest: float) -> Real:
    r"""Return a property from a polynomial in logarithms (form of the NIST fits of conductivity and specific heat).

    .. math:: \log_{10} y = \sum_{i=0}^{n} a_i (\log_{10} T)^i

    Parameters
    ----------
    temperature : float or array
        Temperature :math:`T`. [K]
    coefficients : sequence of float
        Coefficients :math:`a_i` in ascending powers. [-]
    lowest : float
        Lowest valid temperature. [K]
    highest : float
        Highest valid temperature. [K]

    Returns
    -------
    float or array
        The property in the unit of its fit; ``nan`` outside the valid range. [W/(m K) or J/(kg K)]

    Notes
    -----
    Stated curve-fit error for PTFE: 5 % for conductivity, 1.5 % for specific heat. The polynomial needs all its
    printed digits: terms of order 100 cancel.

    References
    ----------
    NIST Cryogenic Material Properties, PTFE (published).
    """
    inside = (temperature >= lowest) & (temperature <= highest)
    value = num.exp(num.log(10.0) * num.polyval(coefficients, num.log10(temperature)))
    return num.where(inside, value, num.nan)


def spliced_strain(
    temperature: Real,
    temperatures: Sequence[float],
    mean_coefficients: Sequence[float],
    reference_temperature: float,
    cryogenic_coefficients: Sequence[float],
    cryogenic_lowest: float,
    scale: Real = 1.0,
    flat_below: float = 0.0,
) -> Real:
    r"""Return the thermal strain from cryogenic temperatures to the top of a compound, from two sources joined.

    .. math:: \varepsilon(T) = s \begin{cases}
        \varepsilon_K(T) & T \ge T_j \\
        \varepsilon_K(T_j) + \varepsilon_N(T) - \varepsilon_N(T_j) & T < T_j \end{cases}

    Parameters
    ----------
    temperature : float or array
        Temperature :math:`T`. [K]
    temperatures : sequence of float
        Temperatures of the mean-coefficient table, increasing; the first is the join :math:`T_j`. [K]
    mean_coefficients : sequence of float
        Mean coefficients of linear expansion from the reference temperature. [1/K]
    reference_temperature : float
        Reference temperature. [K]
    cryogenic_coefficients : sequence of float
        Coefficients of the cryogenic polynomial, ascending powers, as strain. [1/K^i]
    cryogenic_lowest : float
        Lowest temperature of the polynomial to be used. [K]
    scale : float or array
        Strain of the compound over that of unfilled PTFE :math:`s`, above 0; 1 for unfilled PTFE or a metal. [-]
    flat_below : float
        Temperature below which the polynomial is held constant; 0 if nowhere. [K]

    Returns
    -------
    float or array
        Strain from the reference temperature; ``nan`` outside the two sources. [-]

    Notes
    -----
    The measured table rules over its whole range; below it the fit supplies increments only, so the curve has no step
    where the two disagree. They do, by 3 to 17 % in mean coefficient (the fit spreads the transitions). One scale for
    a filled compound at all temperatures is an estimate: give the compound's own curve where it is known. A metal with
    a cryogenic fit and one mean coefficient above room temperature goes through here too.

    References
    ----------
    R. K. Kirby, J. Res. NBS 57 (1956) 91-94 (published); NIST Cryogenic Material Properties, PTFE (published); the
    join is a house rule.
    """
    join = float(temperatures[0])
    warm = strain_from_mean_coefficients(
        num.maximum(temperature, join), temperatures, mean_coefficients, reference_temperature
    )
    held = num.maximum(num.minimum(temperature, join), flat_below)
    cold = num.polyval(cryogenic_coefficients, held) - num.polyval(cryogenic_coefficients, join)
    return num.where(temperature >= cryogenic_lowest, scale * (warm + cold), num.nan)


def strain_between(strain: Real, reference_strain: Real) -> Real:
    r"""Return the strain from one temperature to another, of two strains from a common third.

    .. math:: \varepsilon_{12} = \frac{1+\varepsilon_2}{1+\varepsilon_1} - 1

    Parameters
    ----------
    strain : float or array
        Strain :math:`\varepsilon_2` at the temperature of interest. [-]
    reference_strain : float or array
        Strain :math:`\varepsilon_1` at the temperature where the part was measured, above -1. [-]

    Returns
    -------
    float or array
        Strain from the second to the first. [-]

    Notes
    -----
    Exact.

    References
    ----------
    Definition; no constant used.
    """
    return (strain - reference_strain) / (1.0 + reference_strain)


def transition_pressure(temperature: Real, transition: str) -> Real:
    r"""Return the pressure at which PTFE changes phase at a temperature.

    .. math:: P_{\mathrm{II-IV}} = (-820 + 26.9\,t + 0.68\,t^2)\,10^5 \qquad
        P_{\mathrm{IV-I}} = (-91 - 57.8\,t + 1.99\,t^2)\,10^5

    Parameters
    ----------
    temperature : float or array
        Temperature (:math:`t` is in degrees Celsius), 273.15 to 323.15. [K]
    transition : str
        ``"II-IV"`` (about 20 deg C at one atmosphere) or ``"IV-I"`` (about 30 deg C). [-]

    Returns
    -------
    float or array
        Absolute pressure; ``nan`` outside 0 to 50 deg C and 0 to 68.6 MPa, where it was measured. [Pa]

    Raises
    ------
    KeyError
        If the transition is neither.

    Notes
    -----
    The transition volume change is 1.0 to 1.8 % (0.33 to 0.6 % of length) and depends on thermal history (from
    memory); it is part of a mean coefficient measured across it.

    References
    ----------
    G. M. Martin and R. K. Eby, J. Res. NBS 72A (1968) 467-470 (published).
    """
    celsius = temperature - _ZERO_CELSIUS
    pressure = 1.0e5 * num.polyval(_TRANSITIONS[transition], celsius)
    inside = (
        (celsius >= 0.0)
        & (celsius <= _TRANSITION_TEMPERATURE_MAX)
        & (pressure >= 0.0)
        & (pressure <= _TRANSITION_PRESSURE_MAX)
    )
    return num.where(inside, pressure, num.nan)


def transition_temperature(pressure: Real, transition: str) -> Real:
    r"""Return the temperature at which PTFE changes phase under a pressure.

    .. math:: t = \frac{-b + \sqrt{b^2 - 4c\,(a - P/10^5)}}{2c}

    Parameters
    ----------
    pressure : float or array
        Absolute pressure :math:`P`, 0 to 68.6 MPa. [Pa]
    transition : str
        ``"II-IV"`` or ``"IV-I"``. [-]

    Returns
    -------
    float or array
        Temperature; ``nan`` outside the measured range of pressure. [K]

    Raises
    ------
    KeyError
        If the transition is neither.

    Notes
    -----
    Inverse of :func:`transition_pressure` with a, b, c its coefficients. The pressure raises both transitions, by
    about 1.8 and 1.4 K per 10 MPa: a seal at pressure crosses them later than one at rest.

    References
    ----------
    G. M. Martin and R. K. Eby, J. Res. NBS 72A (1968) 467-470 (published).
    """
    a, b, c = _TRANSITIONS[transition]
    root = num.sqrt(b * b - 4.0 * c * (a - pressure * 1.0e-5))
    inside = (pressure >= 0.0) & (pressure <= _TRANSITION_PRESSURE_MAX)
    return num.where(inside, (root - b) / (2.0 * c) + _ZERO_CELSIUS, num.nan)


def crosses_transition(measured_temperature: Real, temperature: Real, pressure: Real, transition: str) -> Real:
    r"""Tell whether PTFE changes phase between the measuring room and the service temperature.

    .. math:: [T_m > T_{tr}(P_0)] \ne [T > T_{tr}(P)], \qquad P_0 = 101325\,\mathrm{Pa}

    Parameters
    ----------
    measured_temperature : float or array
        Temperature at which the part was measured, at one atmosphere. [K]
    temperature : float or array
        Service temperature. [K]
    pressure : float or array
        Absolute pressure in service, 0 to 68.6 MPa. [Pa]
    transition : str
        ``"II-IV"`` or ``"IV-I"``. [-]

    Returns
    -------
    float or array
        1 if crossed, 0 if not, ``nan`` outside the measured range of pressure. [-]

    Raises
    ------
    KeyError
        If the transition is neither.

    Notes
    -----
    The part is measured below its transition at one atmosphere and works above its transition at pressure, or the
    other way round.

    References
    ----------
    G. M. Martin and R. K. Eby, J. Res. NBS 72A (1968) 467-470 (published).
    """
    measured_above = measured_temperature > transition_temperature(101325.0, transition)
    limit = transition_temperature(pressure, transition)
    above = temperature > limit
    return num.where(limit == limit, num.where(measured_above != above, 1.0, 0.0), num.nan)


def fit_at_temperature(
    inner_diameter: Real, outer_diameter: Real, inner_strain: Real, outer_strain: Real
) -> FitAtTemperature:
    r"""Return the fit of one round part in another at temperature, each growing freely.

    .. math:: \delta = \tfrac12\left[d_i(1+\varepsilon_i) - d_o(1+\varepsilon_o)\right]

    Parameters
    ----------
    inner_diameter : float or array
        Outside diameter of the inner part at the reference temperature: the shaft, or the seal in its bore. [m]
    outer_diameter : float or array
        Inside diameter of the outer part: the free lip or the PTFE ring on the shaft, or the housing bore. [m]
    inner_strain : float or array
        Thermal strain of the inner part from the reference temperature. [-]
    outer_strain : float or array
        Thermal strain of the outer part from the reference temperature. [-]

    Returns
    -------
    FitAtTemperature
        Interference on the radius, its change, and both diameters. [m]

    Notes
    -----
    Lip or ring on a shaft: cold shrinks the PTFE onto it, heat loosens it. Seal in a bore: the other way round. Each
    part grows as if free; the load that an interference then makes is another model's.

    References
    ----------
    Geometry; no constant used.
    """
    inner = inner_diameter * (1.0 + inner_strain)
    outer = outer_diameter * (1.0 + outer_strain)
    change = 0.5 * (inner_diameter * inner_strain - outer_diameter * outer_strain)
    return FitAtTemperature(0.5 * (inner - outer), change, inner, outer)


def diameter_after_confined_heating(
    outer_diameter: Real, bore_diameter: Real, seal_strain: Real, bore_strain: Real, kept_share: Real
) -> Real:
    r"""Return the outside diameter, once cold again, of a PTFE body heated in a bore too tight for it.

    .. math:: D' = D\left[1 - \kappa \max\left(0,\; 1 - \frac{D_b(1+\varepsilon_b)}{D(1+\varepsilon_s)}\right)\right]

    Parameters
    ----------
    outer_diameter : float or array
        Outside diameter :math:`D` of the body at the reference temperature. [m]
    bore_diameter : float or array
        Bore diameter :math:`D_b` at the reference temperature. [m]
    seal_strain : float or array
        Thermal strain of the body at the hot end. [-]
    bore_strain : float or array
        Thermal strain of the bore at the hot end. [-]
    kept_share : float or array
        Share :math:`\kappa` of the compression that stays as set, 0 (elastic) to 1 (all creeps away). [-]

    Returns
    -------
    float or array
        Diameter after one hot cycle. [m]

    Notes
    -----
    Why a PTFE body that was tight when new is loose when cold again: what was squeezed hot does not come back. The
    share is an engineering estimate, to be proved by test.

    References
    ----------
    Kinematics; the share is the caller's.
    """
    squeezed = 1.0 - bore_diameter * (1.0 + bore_strain) / (outer_diameter * (1.0 + seal_strain))
    return outer_diameter * (1.0 - kept_share * num.maximum(squeezed, 0.0))


def energizer_space(
    bore_diameter: Real,
    shaft_diameter: Real,
    outer_wall: Real,
    inner_wall: Real,
    free_height: Real,
    bore_strain: Real,
    shaft_strain: Real,
    seal_strain: Real,
    energizer_strain: Real,
) -> EnergizerSpace:
    r"""Return the radial room for an energizer between shaft and bore, and its deflection, at temperature.

    .. math:: h = \tfrac12 D_b(1+\varepsilon_b) - \tfrac12 d(1+\varepsilon_d) - (t_o + t_i)(1+\varepsilon_s), \qquad
        \delta = \max\left(0,\; H_0(1+\varepsilon_e) - h\right)

    Parameters
    ----------
    bore_diameter : float or array
        Bore diameter :math:`D_b` at the reference temperature. [m]
    shaft_diameter : float or array
        Shaft diameter :math:`d`. [m]
    outer_wall : float or array
        Wall thickness :math:`t_o` of the seal between energizer and bore. [m]
    inner_wall : float or array
        Wall thickness :math:`t_i` of the lip between energizer and shaft. [m]
    free_height : float or array
        Free radial height :math:`H_0` of the energizer. [m]
    bore_strain, shaft_strain, seal_strain, energizer_strain : float or array
        Thermal strains from the reference temperature. [-]

    Returns
    -------
    EnergizerSpace
        Height, deflection and its change from the reference temperature. [m]

    Notes
    -----
    The energizer presses both walls out, onto the bore and onto the shaft, so the hardware sets the room and PTFE acts
    by its wall thickness only. With equal bore and shaft material the height scales with the hardware.

    References
    ----------
    Geometry; no constant used.
    """
    walls = outer_wall + inner_wall
    cold_height = 0.5 * (bore_diameter - shaft_diameter) - walls
    height = (
        0.5 * (bore_diameter * (1.0 + bore_strain) - shaft_diameter * (1.0 + shaft_strain))
        - (1.0 + seal_strain) * walls
    )
    deflection = num.maximum(free_height * (1.0 + energizer_strain) - height, 0.0)
    return EnergizerSpace(height, deflection, deflection - num.maximum(free_height - cold_height, 0.0))


def strain_curve(
    temperatures: Sequence[float], mean_coefficients: Sequence[float], reference_temperature: float
) -> tuple[num.Array, num.Array]:
    r"""Return the break points of the strain curve that a mean-coefficient table stands for.

    .. math:: \{(T_k, \varepsilon_k)\} \cup \{(T_0, 0)\}

    Parameters
    ----------
    temperatures : sequence of float
        Temperatures of the table, increasing. [K]
    mean_coefficients : sequence of float
        Mean coefficients from the reference temperature. [1/K]
    reference_temperature : float
        Reference temperature. [K]

    Returns
    -------
    tuple of array
        Temperatures [K] and strains. [-]

    Notes
    -----
    For plots, and for preparing a curve once where many evaluations follow.

    References
    ----------
    Definition; no constant used.
    """
    ordered, strains = _increasing_strain(temperatures, mean_coefficients, reference_temperature)
    return np.array(ordered), np.array(strains)
