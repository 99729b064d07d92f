"""The energizer of a lip: load, stiffness, stress and mass as fitted, per shaft circumference."""

from __future__ import annotations

from math import nan
from typing import TYPE_CHECKING, NamedTuple

from glandwise.case.choices import Energizer
from glandwise.mechanics.beams import cantilever_v, finger_mass
from glandwise.mechanics.rods import Turn, canted_coil_mass, load_of_turns, wound_turn
from glandwise.mechanics.springs import garter_mass, garter_ring, shear_modulus
from glandwise.numerics.interpolation import curve_at

if TYPE_CHECKING:
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case


class Spring(NamedTuple):
    """What an energizer gives at its fitted deflection; zeros when there is none."""

    line_load: float
    """[N/m]"""
    stiffness: float
    """Per radial movement of the shaft surface [N/m²]."""
    stress: float
    """Greatest stress [Pa]."""
    yield_strength: float
    """At its temperature [Pa]; NaN when there is no energizer."""
    mass: float
    """Mass that moves with the lip [kg/m]."""


def turn_of(case: Case, rules: Rules) -> Turn:
    """State of one turn of a canted coil as fitted, whatever its temperature; not known of other energizers."""
    if case.energizer != Energizer.canted_coil:
        return Turn(nan, nan, nan)
    d_w, h_coil, w_coil, p_coil = case.coil_wire, case.coil_height, case.coil_width, case.coil_pitch
    nu_e = rules.alloys[case.alloy].poisson_ratio
    return wound_turn(case.coil_deflection, p_coil, w_coil, h_coil, case.coil_angle, d_w, nu_e)


def spring_of(case: Case, rules: Rules, T: float) -> Spring:
    """Energizer of a case at a temperature.

    Parameters
    ----------
    T : K
        Temperature of the energizer.

    Returns
    -------
    q_e : N/m
        Load of the energizer.
    k_e : N/m²
        Stiffness of the energizer; a shaft that runs out does not lengthen a garter.
    sigma_e : Pa
        Greatest stress of the energizer.
    S_e : Pa
        Yield strength of the energizer.
    m_e : kg/m
        Mass of the energizer that moves with the lip.
    """
    return spring_at(case, rules, turn_of(case, rules), T)


def spring_at(case: Case, rules: Rules, turn: Turn, T: float) -> Spring:
    """Energizer of a case at a temperature, where the state of a turn is known.

    Parameters
    ----------
    T : K
        Temperature of the energizer.

    Returns
    -------
    q_e : N/m
        Load of the energizer.
    k_e : N/m²
        Stiffness of the energizer; a shaft that runs out does not lengthen a garter.
    sigma_e : Pa
        Greatest stress of the energizer.
    S_e : Pa
        Yield strength of the energizer.
    m_e : kg/m
        Mass of the energizer that moves with the lip.
    """
    if case.energizer == Energizer.none:
        return Spring(0.0, 0.0, 0.0, nan, 0.0)
    alloy = rules.alloys[case.alloy]
    E_e = curve_at(alloy.elastic_modulus, T)
    S_e = curve_at(alloy.yield_strength, T)
    r = 0.5 * case.shaft_diameter  # radius of the shaft
    if case.energizer == Energizer.garter:
        G_e = shear_modulus(E_e, alloy.poisson_ratio)
        d_g, D_g, N_g = case.garter_wire, case.garter_coil, case.garter_coils
        r_seat = r + case.lip_thickness + 0.5 * (D_g + d_g)  # radius of the axis of the garter on its seat
        ring = garter_ring(d_g, D_g, G_e, N_g, case.garter_length, case.garter_tension, r_seat, r)
        return Spring(
            ring.line_load,
            0.0 * ring.line_load / r,
            ring.shear_stress,
            S_e,
            garter_mass(alloy.density, d_g, D_g, N_g, r),
        )
    if case.energizer == Energizer.cantilever_v:
        t_v, L_v, c_v = case.v_thickness, case.v_length, case.v_coverage
        v = cantilever_v(case.v_deflection, t_v, L_v, case.v_angle, c_v, E_e, S_e)
        return Spring(v.line_load, v.recovery_stiffness, v.root_stress, S_e, finger_mass(alloy.density, c_v, t_v, L_v))
    d_w, h_coil, w_coil, p_coil = case.coil_wire, case.coil_height, case.coil_width, case.coil_pitch
    nu_e = alloy.poisson_ratio
    f_coil = (r + case.lip_thickness + 0.5 * h_coil) / r  # radius of the coil over that of the shaft
    coil = load_of_turns(
        case.coil_deflection, p_coil, w_coil, h_coil, case.coil_angle, d_w, E_e, nu_e, f_coil, turn
    )  # fmt: skip
    return Spring(
        coil.line_load,
        coil.stiffness,
        coil.stress,
        S_e,
        canted_coil_mass(alloy.density, d_w, w_coil, h_coil, p_coil),
    )
