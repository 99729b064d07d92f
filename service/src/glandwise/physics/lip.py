"""The lip on the shaft: its modulus and relaxation, what it presses with and how wide it lies. Per shaft circumference.

Interference, pressure and spring act together: the load of each is what it adds to that of those before.
"""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING, NamedTuple

from glandwise.case.choices import Energizer, Family, WidthBy
from glandwise.case.lip_fit import effective_length, interference_at
from glandwise.case.sizing import load_factor, second_lip_share, width_factor
from glandwise.mechanics.choices import FilmPressure, LipDirection, LipRoot, LipState
from glandwise.mechanics.lip_contact import LipContact, heel_bulge, lip_contact, root_compliance
from glandwise.mechanics.shells import moving_mass
from glandwise.mechanics.viscoelastic import relaxed_share
from glandwise.numerics.arithmetic import greatest, least
from glandwise.numerics.interpolation import curve_at
from glandwise.physics.constants import UNIT_LOAD, UNIT_MODULUS, UNIT_PRESSURE

if TYPE_CHECKING:
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case


class Shape(NamedTuple):
    """What the shape of the lip alone gives: linear in the modulus."""

    stiffness: float
    """Contact stiffness over Young's modulus [-]."""
    mass: float
    """Moving mass of the lip [kg/m]."""


class Pressed(NamedTuple):
    """Contact of the main lip as everything presses it on together."""

    load: float
    """[N/m]"""
    solid: float
    """Borne by solid contact, without the film under it [N/m]."""
    width: float
    """[m]"""
    peak: float
    """Greatest contact pressure [Pa]."""
    root_stress: float
    """Bending stress at the root, tension outside [Pa]."""
    state: LipState
    """How the lip stands."""


class Contact(NamedTuple):
    """Contact of the main lip with its load by parts [N/m]: each part is what it adds to those before."""

    lip: float
    energizer: float
    pressure: float
    load: float
    solid: float
    """Borne by solid contact, without the film under it [N/m]."""
    width: float
    """[m]"""
    peak: float
    """Greatest contact pressure [Pa]."""
    root_stress: float
    """Bending stress at the root, tension outside [Pa]."""
    state: LipState
    """How the lip stands."""


def shape_of(case: Case, rules: Rules) -> Shape:
    """What the shape of the lip of a case gives, referred to the shaft.

    The stiffness is the load by the interference as made over that interference: what a lip that stands on its edge loses
    as the shaft runs away from it.

    Returns
    -------
    k_E : -
        Stiffness of the lip over its modulus.
    m_lip : kg/m
        Moving mass of the lip.

    References
    ----------
    One-sided contact of a strip on hoop springs (models/lip_contact).
    """
    compound = rules.compounds[case.compound]
    d, t, nu = case.shaft_diameter, case.lip_thickness, compound.poisson_ratio
    r_lip = 0.5 * (d + t)  # mean radius of the lip on the shaft
    L_free = effective_length(case, rules)
    i = greatest(0.5 * case.interference, t / 100.0)  # radial interference as made
    no_load = 0.0 * UNIT_LOAD
    law = lip_contact(
        d, t, L_free, case.bore_angle, i, UNIT_MODULUS, nu, 0.0 * UNIT_PRESSURE, no_load, 0.0 * L_free,
        root_compliance(UNIT_MODULUS, nu, t), 0.0 * t, inf, case.lip_direction, FilmPressure.none,
    )  # fmt: skip
    m_own = moving_mass(r_lip, t, L_free, nu, compound.density)
    return Shape(law.load / (i * UNIT_MODULUS), m_own * r_lip / (0.5 * d))


def modulus(case: Case, rules: Rules, T: float) -> float:
    """Instantaneous Young's modulus of the compound."""
    return curve_at(rules.compounds[case.compound].elastic_modulus, T)


def relaxed_modulus(case: Case, rules: Rules, T: float, t_load: float) -> float:
    """Young's modulus that is left of a compound under a held strain.

    Parameters
    ----------
    T : K
        Temperature of the lip.
    t_load : s
        Time under load.

    Returns
    -------
    E_t : Pa
        Relaxed modulus.
    """
    f_t = relaxed_share(rules.compounds[case.compound].relaxation, T, t_load)
    return modulus(case, rules, T) * f_t


def pressing(case: Case) -> float:
    """Pressure that presses the lip on; one that lifts it is not relied upon.

    Returns
    -------
    p_on : Pa
        Pressure that presses the lip on, with its sign.
    """
    if case.lip_direction == LipDirection.toward:
        return greatest(case.pressure, 0.0)
    return least(case.pressure, 0.0)


def lifting(case: Case) -> float:
    """Pressure that lifts the lip, with its sign; none where it presses the lip on."""
    if case.lip_direction == LipDirection.toward:
        return least(case.pressure, 0.0)
    return greatest(case.pressure, 0.0)


def flow_width(case: Case, rules: Rules, T: float, q: float) -> float:
    """Width at which a hot compound just bears a load: it flows under more, and the contact widens.

    Parameters
    ----------
    T : K
        Temperature of the lip.
    q : N/m
        Contact load of the lip.

    Returns
    -------
    b_f : m
        Least width of the contact.

    References
    ----------
    Hardness of a plastic body, about three times its yield strength; Tabor, The Hardness of Metals, 1951 (from memory).
    """
    S = curve_at(rules.compounds[case.compound].yield_strength, T)
    return q / (S * rules.constants[0].plastic_ratio)


def held_by(
    case: Case, rules: Rules, T: float, i_T: float, E_t: float, p: float, q_e: float, root: int
) -> LipContact:  # fmt: skip
    """Contact of the lip by the law, with a root that is clamped, elastic or yielding.

    Parameters
    ----------
    T : K
        Temperature of the lip.
    i_T : m
        Radial interference at that temperature.
    E_t : Pa
        Relaxed modulus.
    p : Pa
        Pressure, gauge.
    q_e : N/m
        Load of the energizer.
    root : LipRoot
        What the root does.
    """
    d, t, nu = case.shaft_diameter, case.lip_thickness, rules.compounds[case.compound].poisson_ratio
    L_free = effective_length(case, rules)
    F = q_e * d / (d + t)  # load of the energizer on the circumference of the lip
    C_r, w_h, sigma_y = 0.0, 0.0, inf
    if root != LipRoot.clamped:
        C_r = root_compliance(E_t, nu, t)
        if case.family == Family.energized_lip and case.lip_direction == LipDirection.toward:
            h_heel = curve_at(rules.energized[0].radial_section, d)
            w_h = heel_bulge(greatest(p, 0.0), E_t, nu, h_heel)
    if root == LipRoot.yielding:
        sigma_y = curve_at(rules.compounds[case.compound].yield_strength, T)
    return lip_contact(
        d, t, L_free, case.bore_angle, i_T, E_t, nu, p, F, case.spring_place * L_free, C_r, w_h, sigma_y,
        case.lip_direction, FilmPressure.linear,
    )  # fmt: skip


def chosen_contact(
    case: Case, rules: Rules, T: float, i_T: float, E_t: float, p: float, q_e: float, root: int
) -> LipContact:  # fmt: skip
    """Contact of the lip by the law, with the root that is asked for or that gives the least or the greatest load.

    Parameters
    ----------
    T : K
        Temperature of the lip.
    i_T : m
        Radial interference at that temperature.
    E_t : Pa
        Relaxed modulus.
    p : Pa
        Pressure, gauge.
    q_e : N/m
        Load of the energizer.
    root : LipRoot
        What the root does.
    """
    if root != LipRoot.lightest and root != LipRoot.heaviest:
        return held_by(case, rules, T, i_T, E_t, p, q_e, root)
    clamped = held_by(case, rules, T, i_T, E_t, p, q_e, LipRoot.clamped)
    elastic = held_by(case, rules, T, i_T, E_t, p, q_e, LipRoot.elastic)
    if root == LipRoot.lightest:
        return clamped if clamped.load <= elastic.load else elastic
    stiff = clamped if clamped.load >= elastic.load else elastic
    yielding = held_by(case, rules, T, i_T, E_t, p, q_e, LipRoot.yielding)
    return yielding if yielding.load >= stiff.load else stiff


def touching(
    case: Case, rules: Rules, T: float, i_T: float, E_t: float, p: float, q_e: float, root: int
) -> Pressed:  # fmt: skip
    """Contact of the main lip with an interference, a relaxed modulus, a pressure and a spring.

    The contact is as wide as the law has it, or as a worn-in lip is if that is more, and never so narrow that the hot
    compound would flow; a lip that lies down with all its length is borne by the pressure behind it. A stated width stays,
    but for the flow.

    Parameters
    ----------
    T : K
        Temperature of the lip.
    i_T : m
        Radial interference at that temperature.
    E_t : Pa
        Relaxed modulus.
    p : Pa
        Pressure, gauge.
    q_e : N/m
        Load of the energizer.
    root : LipRoot
        What the root does.

    Returns
    -------
    q : N/m
        Contact load of the lip.
    q_s : N/m
        Load borne by solid contact.
    b : m
        Contact width.
    p_max : Pa
        Greatest contact pressure.
    sigma_r : Pa
        Bending stress at the root, tension outside.
    state : LipState
        How the lip stands.

    References
    ----------
    One-sided contact of a strip on hoop springs (models/lip_contact).
    """
    L_free = effective_length(case, rules)
    strip = chosen_contact(case, rules, T, i_T, E_t, p, q_e, root)
    q = strip.load * load_factor(case, rules)
    b_c = strip.width * width_factor(case, rules)
    b_run = case.contact_width if case.width_by == WidthBy.stated else greatest(b_c, case.contact_width)
    b_flow = least(flow_width(case, rules, T, q), L_free)  # width to which it flows, of no more than there is
    b = greatest(b_run, b_flow)
    q_s = greatest(q - 0.5 * abs(p) * b, 0.5 * q)  # load borne by solid contact
    p_max = strip.peak_pressure
    if b > 0.0:
        p_max = greatest(p_max, q / b)
    return Pressed(q, q_s, b, p_max, strip.root_stress, strip.state)


def pressed(case: Case, rules: Rules, T: float, t_load: float, p: float, q_e: float, root: int) -> Pressed:
    """Contact of the main lip after a time at a temperature.

    Parameters
    ----------
    T : K
        Temperature of the lip.
    t_load : s
        Time under load.
    p : Pa
        Pressure, gauge.
    q_e : N/m
        Load of the energizer.
    root : LipRoot
        What the root does.

    Returns
    -------
    q : N/m
        Contact load of the lip.
    q_s : N/m
        Load borne by solid contact.
    b : m
        Contact width.
    p_max : Pa
        Greatest contact pressure.
    sigma_r : Pa
        Bending stress at the root, tension outside.
    state : LipState
        How the lip stands.
    """
    i_T = interference_at(case, rules, T)
    E_t = relaxed_modulus(case, rules, T, t_load)
    return touching(case, rules, T, i_T, E_t, p, q_e, root)


def by_parts(
    case: Case, rules: Rules, T: float, i_T: float, E_t: float, p: float, q_e: float, root: int, whole: Pressed
) -> Contact:  # fmt: skip
    """Contact of the main lip with its load by parts: the same lip without the pressure, and without the energizer.

    Parameters
    ----------
    T : K
        Temperature of the lip.
    i_T : m
        Radial interference at that temperature.
    E_t : Pa
        Relaxed modulus.
    p : Pa
        Pressure, gauge.
    q_e : N/m
        Load of the energizer.
    root : LipRoot
        What the root of the lip does.
    whole : Pressed
        The contact with all of them.

    Returns
    -------
    q_lip : N/m
        Load of the lip alone.
    q_spring : N/m
        Load that the energizer adds.
    q_p : N/m
        Load that the pressure adds; negative where it lifts the lip.
    q : N/m
        Contact load of the lip.
    q_s : N/m
        Load borne by solid contact.
    b : m
        Contact width.
    p_max : Pa
        Greatest contact pressure.
    sigma_r : Pa
        Bending stress at the root, tension outside.
    state : LipState
        How the lip stands.

    References
    ----------
    Differences of one law (models/lip_contact).
    """
    both = without_pressure(case, rules, T, i_T, E_t, p, q_e, root, whole)
    alone = both
    if case.energizer != Energizer.none:
        alone = touching(case, rules, T, i_T, E_t, 0.0 * p, 0.0 * q_e, root)
    return Contact(
        alone.load, both.load - alone.load, whole.load - both.load, whole.load, whole.solid, whole.width,
        whole.peak, whole.root_stress, whole.state,
    )  # fmt: skip


def without_pressure(
    case: Case, rules: Rules, T: float, i_T: float, E_t: float, p: float, q_e: float, root: int, whole: Pressed
) -> Pressed:  # fmt: skip
    """Contact of the main lip as it is without the pressure, the same where there is none.

    Parameters
    ----------
    T : K
        Temperature of the lip.
    i_T : m
        Radial interference at that temperature.
    E_t : Pa
        Relaxed modulus.
    p : Pa
        Pressure, gauge.
    q_e : N/m
        Load of the energizer.
    root : LipRoot
        What the root of the lip does.
    whole : Pressed
        The contact with the pressure.
    """
    if p == 0.0:
        return whole
    return touching(case, rules, T, i_T, E_t, 0.0 * p, q_e, root)


def second_load(
    case: Case, rules: Rules, T: float, i_T: float, E_t: float, p: float, q_e: float, root: int, whole: Pressed
) -> float:  # fmt: skip
    """Contact load of the second lip: a share of that of the main lip without pressure.

    Parameters
    ----------
    T : K
        Temperature of the lip.
    i_T : m
        Radial interference at that temperature.
    E_t : Pa
        Relaxed modulus.
    p : Pa
        Pressure on the main lip, gauge.
    q_e : N/m
        Load of the energizer.
    root : LipRoot
        What the root of the lip does.
    whole : Pressed
        Contact of the main lip with the pressure.

    Returns
    -------
    q_2 : N/m
        Contact load of the second lip.
    """
    f_2 = second_lip_share(case, rules)
    if f_2 == 0.0:
        return 0.0 * q_e
    bare = without_pressure(case, rules, T, i_T, E_t, p, q_e, root, whole)
    return f_2 * bare.load
