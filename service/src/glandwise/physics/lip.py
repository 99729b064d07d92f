"""The lip on the shaft: what its shape gives, its modulus and relaxation, its load by parts. Per shaft circumference."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from glandwise.case.choices import Family
from glandwise.case.sizing import load_factor
from glandwise.mechanics.shells import lip_shell, moving_mass
from glandwise.mechanics.viscoelastic import relaxed_share
from glandwise.numerics.arithmetic import greatest
from glandwise.numerics.interpolation import curve_at
from glandwise.physics.energizer import spring_of

if TYPE_CHECKING:
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case


class Shape(NamedTuple):
    """What the shape of the lip alone gives: linear in the modulus or in the pressure."""

    stiffness: float
    """Contact stiffness over Young's modulus [-]."""
    pressure_length: float
    """Line load per pressure [m]."""
    root_stress: float
    """Bending stress at the root per pressure, edge held by the shaft [-]."""
    mass: float
    """Moving mass of the lip [kg/m]."""


class LipLoad(NamedTuple):
    """Contact load of the main lip by its parts [N/m]."""

    lip: float
    energizer: float
    pressure: float
    total: float


def effective_length(case: Case, rules: Rules) -> float:
    """Free length of the lip: what a reinforcing band leaves of it.

    Returns
    -------
    L_free : m
        Free length of the lip.
    """
    if case.family == Family.flexible_lip and case.reinforcing_band == 1:
        return case.lip_length * rules.constants[0].band_length_share
    return case.lip_length


def shape_of(case: Case, rules: Rules) -> Shape:
    """Response of the lip of a case as a shell, referred to the shaft.

    Returns
    -------
    k_E : -
        Stiffness of the lip over its modulus.
    c_p : m
        Load of the lip over the pressure.
    s_p : -
        Bending stress at the root over the pressure.
    m_lip : kg/m
        Moving mass of the lip.
    """
    compound = rules.compounds[case.compound]
    r = 0.5 * case.shaft_diameter  # radius of the shaft
    t = case.lip_thickness
    r_lip = 0.5 * (case.shaft_diameter + t)  # mean radius of the lip on the shaft
    L_free = effective_length(case, rules)
    shell = lip_shell(r_lip, t, L_free, compound.poisson_ratio)
    m_own = moving_mass(r_lip, t, L_free, compound.poisson_ratio, compound.density)
    f_r = r_lip / r  # circumference of the lip over that of the shaft
    return Shape(
        shell.stiffness_per_modulus * f_r,
        shell.pressure_length * f_r,
        abs(shell.clamp_stress_per_pressure),
        m_own * f_r,
    )


def modulus(case: Case, rules: Rules, T: float) -> float:
    """Instantaneous Young's modulus of the compound."""
    return curve_at(rules.compounds[case.compound].elastic_modulus, T)


def load_by_pressure(case: Case, rules: Rules, shape: Shape, p: float) -> float:
    """Load by the sealed pressure.

    Parameters
    ----------
    p : Pa
        Pressure, gauge.

    Returns
    -------
    q_p : N/m
        Load by the sealed pressure.

    References
    ----------
    Equilibrium of the lip (models/contact_friction).
    """
    if case.family == Family.flexible_lip:
        return shape.pressure_length * p
    constants = rules.constants[0]
    L_p = case.lip_length * constants.energized_length_share + case.contact_width  # length that pressure loads
    return p * (L_p - constants.contact_pressure_share * case.contact_width)


def lip_load(case: Case, rules: Rules, shape: Shape, q_e: float, q_p: float, T: float, t_load: float) -> LipLoad:
    """Contact load of the main lip after a time at a temperature.

    Parameters
    ----------
    q_e : N/m
        Load of the energizer.
    q_p : N/m
        Load by the sealed pressure.
    T : K
        Temperature of the lip.
    t_load : s
        Time under load.

    Returns
    -------
    q_lip : N/m
        Load of the lip itself, relaxed.
    q_spring : N/m
        Load of the energizer at the lip.
    q_p : N/m
        Load by the sealed pressure.
    q : N/m
        Contact load of the main lip, never below zero.

    References
    ----------
    Equilibrium of the lip (models/contact_friction).
    """
    compound = rules.compounds[case.compound]
    E = curve_at(compound.elastic_modulus, T)
    f_t = relaxed_share(compound.relaxation, T, t_load)
    f_form = load_factor(case, rules)
    q_lip = shape.stiffness * E * (0.5 * case.interference) * f_t * f_form
    q_spring = q_e * f_form
    return LipLoad(q_lip, q_spring, q_p, greatest(q_lip + q_spring + q_p, 0.0))


def load_at(case: Case, rules: Rules, shape: Shape, T: float, t_load: float, p: float) -> float:
    """Contact load of the main lip with lip and energizer at one temperature.

    Parameters
    ----------
    T : K
        Temperature of lip and energizer.
    t_load : s
        Time under load.
    p : Pa
        Pressure, gauge.

    Returns
    -------
    q : N/m
        Contact load of the main lip.
    """
    q_e = spring_of(case, rules, T).line_load
    q_p = load_by_pressure(case, rules, shape, p)
    return lip_load(case, rules, shape, q_e, q_p, T, t_load).total
