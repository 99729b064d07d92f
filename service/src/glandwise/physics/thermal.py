"""What temperature does to the fits of a seal: the lip on its shaft, and the energizer in its space.

Parts grow as if free, from the temperature at which they were measured; but the lip is held at its root, by a flange or a
case, or by the body once that is confined in its bore.
"""

from __future__ import annotations

from math import pi, sin
from typing import TYPE_CHECKING, NamedTuple

from glandwise.case.choices import LOOSEST, Energizer, Retention
from glandwise.case.lip_fit import lip_on_shaft, seal_strain
from glandwise.case.sizing import load_factor
from glandwise.mechanics.expansion import energizer_space
from glandwise.numerics.arithmetic import greatest, least
from glandwise.physics.energizer import spring_of
from glandwise.physics.lip import modulus, shape_of
from glandwise.physics.strains import alloy_strain, housing_strain, shaft_strain

if TYPE_CHECKING:
    from glandwise.case.gland_numbers import GlandRules
    from glandwise.case.hardware import Hardware
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case


class LipFit(NamedTuple):
    """The unstretched lip and the shaft at a temperature [m]."""

    shaft: float
    lip: float
    interference: float
    """Diametral."""


def lip_fit(case: Case, hardware: Hardware, rules: Rules, gland: GlandRules, T: float, end: int) -> LipFit:
    """Unstretched lip and shaft at a temperature; the interference as made holds on the nominal shaft.

    At the loosest: on the smallest shaft, with the smallest body in the largest bore; else all nominal.

    Parameters
    ----------
    T : K
        Temperature.

    Returns
    -------
    d_T : m
        Diameter of the shaft.
    d_lip : m
        Diameter of the unstretched lip.
    i_T : m
        Interference on the diameter.

    References
    ----------
    Lip held at its root (models/thermal_fit).
    """
    d_e, D_e, B_e = hardware.shaft, hardware.bore, hardware.body
    if end == LOOSEST:
        d_e, D_e, B_e = hardware.shaft_low, hardware.bore_high, hardware.body_low
    epsilon_d = shaft_strain(hardware, gland, T)  # strain of the shaft
    epsilon_s = seal_strain(case, rules, gland, hardware.reference, T)  # strain of the compound of the seal
    epsilon_root = housing_strain(hardware, gland, T)  # strain of what holds the root of the lip
    if hardware.retention == Retention.o_ring:
        epsilon_root = least(
            epsilon_s, D_e * (1.0 + epsilon_root) / B_e - 1.0
        )  # strain of the root until the bore stops it
    d_made = hardware.shaft - case.interference  # lip as made
    fit = lip_on_shaft(case, rules, d_e, d_made, epsilon_d, epsilon_s, epsilon_root)
    return LipFit(fit.inner_diameter, fit.outer_diameter, 2.0 * fit.interference)


def free_height(case: Case) -> float:
    """Free radial height of a V or a coil.

    Returns
    -------
    H_0 : m
        Free height of the energizer.
    """
    if case.energizer == Energizer.cantilever_v:
        return 2.0 * case.v_length * sin(case.v_angle)
    return case.coil_height


def closing_deflection(case: Case) -> float:
    """Deflection at which a V or a coil closes.

    Returns
    -------
    x_closed : m
        Deflection at which the energizer closes.
    """
    if case.energizer == Energizer.cantilever_v:
        return free_height(case)
    return case.coil_height - 2.0 * case.coil_wire


def deflection(
    case: Case, hardware: Hardware, rules: Rules, gland: GlandRules, T: float, d_e: float, D_e: float
) -> float:  # fmt: skip
    """Deflection of the energizer at a temperature between a shaft and a bore; stretch of the length for a garter.

    The deflection of the design holds between nominal shaft and bore at the reference temperature.

    Parameters
    ----------
    T : K
        Temperature.
    d_e : m
        Diameter of the shaft.
    D_e : m
        Diameter of the bore.

    Returns
    -------
    x : m
        Deflection of the energizer.

    References
    ----------
    Geometry (models/thermal_expansion).
    """
    epsilon_d = shaft_strain(hardware, gland, T)  # strain of the shaft
    epsilon_s = seal_strain(case, rules, gland, hardware.reference, T)  # strain of the compound of the seal
    epsilon_e = alloy_strain(case, hardware, gland, T)  # strain of the alloy of the energizer
    if case.energizer == Energizer.garter:
        t_seat = case.lip_thickness + 0.5 * (case.garter_coil + case.garter_wire)  # height of the axis of the garter
        r_T = 0.5 * d_e * (1.0 + epsilon_d) + t_seat * (1.0 + epsilon_s)  # radius of the axis of the garter
        return greatest(2.0 * pi * r_T - case.garter_length * (1.0 + epsilon_e), 0.0)
    epsilon_H = housing_strain(hardware, gland, T)  # strain of the housing
    x_made = case.coil_deflection
    if case.energizer == Energizer.cantilever_v:
        x_made = case.v_deflection
    H_0 = free_height(case)
    room = 0.5 * (hardware.bore - hardware.shaft)  # radial distance of shaft and bore
    # everything of the seal between bore and shaft that is not energizer
    t_w = greatest(room - (H_0 - x_made), 2.0 * case.lip_thickness)  # walls between energizer, bore and shaft
    H_1 = room - t_w + x_made  # height that the stated deflection leaves to be taken up
    t_o, t_i = t_w - case.lip_thickness, case.lip_thickness
    space = energizer_space(D_e, d_e, t_o, t_i, H_1, epsilon_H, epsilon_d, epsilon_s, 0.0)
    return greatest(space.deflection + H_0 * epsilon_e, 0.0)


def put_deflection(there: Case, x: float) -> None:
    """Make the deflection of the energizer of ``there``, a copy of a case, another one; a garter has its dimensions."""
    if there.energizer == Energizer.cantilever_v:
        there.v_deflection = x
    elif there.energizer == Energizer.canted_coil:
        there.coil_deflection = x


def energizer_load(
    case: Case, there: Case, hardware: Hardware, rules: Rules, gland: GlandRules, T: float
) -> float:  # fmt: skip
    """Load of the energizer at the lip at a temperature, between nominal shaft and bore.

    Parameters
    ----------
    there : Case
        A copy of the case, to be overwritten.
    T : K
        Temperature.

    Returns
    -------
    q_spring : N/m
        Load of the energizer at the lip.
    """
    x = deflection(case, hardware, rules, gland, T, hardware.shaft, hardware.bore)
    put_deflection(there, x)
    return load_factor(case, rules) * spring_of(there, rules, T).line_load


def lip_stiffness(case: Case, rules: Rules, T: float) -> float:
    """Stiffness of the lip at a temperature before it relaxes, per radial movement.

    Parameters
    ----------
    T : K
        Temperature.

    Returns
    -------
    k_lip : N/m²
        Stiffness of the lip.
    """
    E = modulus(case, rules, T)  # Young's modulus of the compound
    return shape_of(case, rules).stiffness * E


def energizer_reach(
    case: Case, there: Case, hardware: Hardware, rules: Rules, gland: GlandRules, T: float
) -> float:  # fmt: skip
    """Gap on the diameter that an energizer closes: twice its load over the stiffness of the lip.

    Parameters
    ----------
    there : Case
        A copy of the case, to be overwritten.
    T : K
        Temperature.

    Returns
    -------
    i_reach : m
        Gap on the diameter that the energizer closes; 0 where its load is not known.

    References
    ----------
    Load of the spring over the stiffness of the lip.
    """
    q_spring = energizer_load(case, there, hardware, rules, gland, T)
    k_lip = lip_stiffness(case, rules, T)
    if q_spring != q_spring:
        return 0.0 * hardware.shaft
    return 2.0 * q_spring / (k_lip * load_factor(case, rules))
