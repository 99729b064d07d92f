"""What the rules supply where a case states nothing: names, numbers of the duty, usual dimensions.

A function that returns a dimension returns that of the case where it is stated (is a number) and else that of the sizing
rule.
"""

from __future__ import annotations

from math import pi, tan
from typing import TYPE_CHECKING

from glandwise.case.choices import Energizer, Family, Lubrication, Medium, Retention, SecondLip
from glandwise.case.features import sort_of
from glandwise.case.lip_fit import effective_length, interference_at, made_interference_at
from glandwise.mechanics import kinematics
from glandwise.mechanics.beams import cantilever_v
from glandwise.mechanics.choices import LipDirection
from glandwise.mechanics.lip_sizing import bore_angle as angle_of_bore
from glandwise.mechanics.lip_sizing import (
    cold_interference,
    energized_slenderness,
    even_in_logarithm,
    hot_interference,
    plain_slenderness,
    root_clearance,
    running_interference,
    scaled_section,
    sized_by_diameter,
    spring_load,
    thickness_by_modulus,
)
from glandwise.mechanics.rods import line_load_of_coil
from glandwise.mechanics.viscoelastic import relaxed_share
from glandwise.numerics.arithmetic import greatest, least
from glandwise.numerics.interpolation import curve_at

if TYPE_CHECKING:
    from typing import Any

    from glandwise.case.numbers import ElastomerNumbers, Rules
    from glandwise.case.record import Case


def facing(case: Case) -> float:
    """Pressure on the side to which the tip of the lip points, less that behind it.

    Returns
    -------
    p_tip : Pa
        Pressure that the tip points to, less that behind the lip.
    """
    if case.lip_direction == LipDirection.away:
        return -case.pressure
    return case.pressure


def sealed(case: Case) -> float:
    """Pressure for which a lip is sized; one from behind it counts as none."""
    return greatest(facing(case), 0.0)


def lip_length(case: Case, rules: Rules) -> float:
    """Length of the lip: by the shaft, and of an energized lip by the pressure.

    Returns
    -------
    L_lip : m
        Lip length.
    """
    if case.lip_length == case.lip_length:
        return case.lip_length
    d, d_0, n_L = case.shaft_diameter, rules.constants[0].size_reference, rules.constants[0].length_power
    if case.family == Family.flexible_lip:
        return sized_by_diameter(d, d_0, rules.flexible[0].lip_length, n_L)
    size = rules.energized[0]
    L_p = even_in_logarithm(
        sealed(case), size.light_pressure, size.lip_length_light, size.heavy_pressure, size.lip_length_heavy
    )  # length at the reference diameter
    return sized_by_diameter(d, d_0, L_p, n_L)


def lip_thickness(case: Case, rules: Rules) -> float:
    """Thickness of the lip: by what its root bears, so that a lip without pressure presses gently.

    Returns
    -------
    t : m
        Lip thickness.
    """
    if case.lip_thickness == case.lip_thickness:
        return case.lip_thickness
    if case.family == Family.energized_lip:
        size = rules.energized[0]
        s_p = energized_slenderness(
            sealed(case), size.light_pressure, size.slenderness_light, size.heavy_pressure, size.slenderness_heavy
        )  # slenderness by pressure
        return case.lip_length / s_p
    flexible, compound = rules.flexible[0], rules.compounds[case.compound]
    if case.reinforcing_band == 1:
        return effective_length(case, rules) / flexible.band_slenderness
    S_hot = curve_at(compound.yield_strength, case.temperature_max)
    s_p = plain_slenderness(
        sealed(case), S_hot, flexible.slenderness, flexible.slenderness_pressure, flexible.slenderness_strength,
        flexible.slenderness_min, flexible.slenderness_max,
    )  # fmt: skip
    E_room = curve_at(compound.elastic_modulus, rules.constants[0].reference_temperature)
    E_0 = rules.constants[0].reference_modulus
    t_E = thickness_by_modulus(
        case.lip_length, flexible.slenderness_max, E_room, E_0, flexible.thickness_share_max
    )  # thickness of a supple compound
    return greatest(t_E, case.lip_length / s_p)


def interference(case: Case, rules: Rules) -> float:
    """Interference of the free lip, on the diameter: what it runs with, and a part of what heat takes or cold brings.

    Returns
    -------
    i : m
        Interference on the diameter, free.
    """
    if case.interference == case.interference:
        return case.interference
    constants, d = rules.constants[0], case.shaft_diameter
    if case.family == Family.energized_lip:
        i_0 = rules.energized[0].interference
    elif case.reinforcing_band == 1:
        i_0 = rules.flexible[0].band_interference
    else:
        i_0 = rules.flexible[0].interference
    i_d = sized_by_diameter(d, constants.size_reference, 0.5 * i_0, constants.interference_power)
    i_run = i_d  # radial interference while running
    if case.family == Family.flexible_lip:
        f_t = relaxed_share(rules.compounds[case.compound].relaxation, case.temperature_max, constants.service_time)
        i_run = running_interference(i_d, constants.runout_share, stated_or(case.runout, 0.0 * d), f_t)
    i_left = made_interference_at(case, rules, 2.0 * i_run, case.temperature_max)  # what the heat would leave of it
    i_hot = hot_interference(constants.hot_share, i_run - i_left)
    if case.family == Family.flexible_lip:
        return 2.0 * (i_run + i_hot)
    usual = rules.energized[0]
    i_normal = made_interference_at(case, rules, 2.0 * i_run, case.temperature)  # what it would run with
    i_cold = cold_interference(usual.cold_share, i_normal - i_run, i_run, usual.least_share)
    return 2.0 * (i_run + i_hot - i_cold)


def bore_angle(case: Case, rules: Rules) -> float:
    """Angle of the bore of the free lip: so much that the root stays clear of the shaft.

    Returns
    -------
    alpha : rad
        Angle of the bore of the lip.
    """
    if case.bore_angle == case.bore_angle:
        return case.bore_angle
    constants, d = rules.constants[0], case.shaft_diameter
    i, L_free = 0.5 * case.interference, effective_length(case, rules)
    if case.family == Family.energized_lip:
        g_d = L_free * tan(rules.energized[0].bore_angle) - i  # clearance at the usual angle
    else:
        g_0d = rules.flexible[0].root_clearance
        if case.reinforcing_band == 1:
            g_0d = rules.flexible[0].band_clearance
        g_d = sized_by_diameter(d, constants.size_reference, g_0d, constants.clearance_power)
    w_cold = interference_at(case, rules, case.temperature_min) - i  # what the lip shrinks in the cold
    a, TIR = stated_or(case.offset, 0.0 * d), stated_or(case.runout, 0.0 * d)
    m_cold = constants.cold_margin + a + 0.5 * TIR  # margin of the cold lip, whose shaft wanders as well
    g_0 = root_clearance(g_d, a, TIR, constants.wander_margin, w_cold, m_cold)
    return least(angle_of_bore(i, g_0, L_free), constants.bore_angle_max)


def contact_width(case: Case, rules: Rules) -> float:
    """Width of the contact after a day of running: that of the rules, unless it is stated.

    Returns
    -------
    b_w : m
        Width of the worn-in contact.
    """
    if case.contact_width == case.contact_width:
        return case.contact_width
    if case.family == Family.flexible_lip:
        return curve_at(rules.flexible[0].contact_width, case.shaft_diameter)
    b_plain = curve_at(rules.energized[0].contact_width, case.shaft_diameter)  # contact width of a plain lip
    return b_plain * width_factor(case, rules)


def load_factor(case: Case, rules: Rules) -> float:
    """Load of the form of the lip over that of the plain one; 1 for a flexible lip."""
    if case.family == Family.flexible_lip:
        return 1.0
    return rules.lip_forms[case.lip_form].load_factor


def width_factor(case: Case, rules: Rules) -> float:
    """Contact width of the form of the lip over that of the plain one; 1 for a flexible lip."""
    if case.family == Family.flexible_lip:
        return 1.0
    return rules.lip_forms[case.lip_form].contact_width_factor


def second_lip_share(case: Case, rules: Rules) -> float:
    """Load of the second lip over that of the main lip without pressure; 0 without a second lip."""
    if case.second_lip == SecondLip.excluder:
        return rules.constants[0].excluder_load_share
    if case.second_lip == SecondLip.redundant:
        return rules.constants[0].redundant_load_share
    return 0.0


def stated_or(stated: float, usual: float) -> float:
    """Return what is stated, else what is usual."""
    if stated == stated:
        return stated
    return usual


def chosen_or(chosen: int, usual: int) -> int:
    """Return the code of what is chosen, else of what is usual; a code below zero chooses nothing."""
    if chosen >= 0:
        return chosen
    return usual


def garter_length(case: Case, rules: Rules) -> float:
    """Free developed length of a garter that is stretched as the sizing rule has it.

    Returns
    -------
    L_g : m
        Free developed length of the garter.
    """
    if case.garter_length == case.garter_length:
        return case.garter_length
    r_seat = (
        0.5 * case.shaft_diameter + case.lip_thickness + 0.5 * (case.garter_coil + case.garter_wire)
    )  # radius of the seat
    return 2.0 * pi * r_seat / (1.0 + rules.flexible[0].garter_stretch)


def garter_tension(case: Case, rules: Rules) -> float:
    """Initial tension of a close-wound garter.

    Returns
    -------
    F_i : N
        Initial tension of the garter.

    References
    ----------
    Torsion of the wire of a helical spring, 8 F D/(π d³), solved for the force.
    """
    if case.garter_tension == case.garter_tension:
        return case.garter_tension
    tau = rules.flexible[0].garter_initial_stress
    return tau * pi * case.garter_wire**3 / (8.0 * case.garter_coil)


def spring_place(case: Case, rules: Rules) -> float:
    """Place of the spring on the lip, from its root, over the free length.

    Returns
    -------
    f_F : -
        Place of the spring on the lip.
    """
    if case.energizer == Energizer.none:
        return 0.0
    if case.spring_place == case.spring_place:
        return case.spring_place
    if case.family == Family.flexible_lip:
        return rules.flexible[0].garter_place
    return rules.energized[0].spring_place


def wanted_load(case: Case, rules: Rules) -> float:
    """Load of the spring of an energized lip, by the class of its pressure.

    Returns
    -------
    F : N/m
        Load of the spring that is wanted.
    """
    size = rules.energized[0]
    return spring_load(
        sealed(case), size.light_pressure, size.heavy_pressure, size.spring_load_light, size.spring_load_medium,
        size.spring_load_heavy,
    )  # fmt: skip


def strip_thickness(case: Case, rules: Rules) -> float:
    """Thickness of the strip of a cantilever V that gives the load wanted.

    Returns
    -------
    t_v : m
        Strip thickness of the V energizer.
    """
    if case.v_thickness == case.v_thickness:
        return case.v_thickness
    F, alloy, T = wanted_load(case, rules), rules.alloys[case.alloy], rules.constants[0].reference_temperature
    E_e, S_e = curve_at(alloy.elastic_modulus, T), curve_at(alloy.yield_strength, T)
    x, L_v, phi_v, c_v = case.v_deflection, case.v_length, case.v_angle, case.v_coverage
    t_0 = curve_at(rules.energized[0].strip_thickness, case.shaft_diameter)
    t_1 = scaled_section(t_0, F, cantilever_v(x, t_0, L_v, phi_v, c_v, E_e, S_e).line_load)
    return scaled_section(t_1, F, cantilever_v(x, t_1, L_v, phi_v, c_v, E_e, S_e).line_load)


def coil_wire(case: Case, rules: Rules) -> float:
    """Wire of a canted coil that gives the load wanted, its pitch a multiple of the wire.

    Returns
    -------
    d_w : m
        Wire diameter of the canted coil.
    """
    if case.coil_wire == case.coil_wire:
        return case.coil_wire
    size, alloy = rules.energized[0], rules.alloys[case.alloy]
    F = wanted_load(case, rules) * size.coil_load_share  # load of the coil that is wanted
    E_e, nu_e = curve_at(alloy.elastic_modulus, rules.constants[0].reference_temperature), alloy.poisson_ratio
    r = 0.5 * case.shaft_diameter  # radius of the shaft
    h = case.coil_height
    f_coil = (r + case.lip_thickness + 0.5 * h) / r  # radius of the coil over that of the shaft
    d_0 = curve_at(size.coil_wire_diameter, case.shaft_diameter)
    x, w, phi = case.coil_deflection, case.coil_width, case.coil_angle
    q_0 = line_load_of_coil(x, size.coil_pitch_ratio * d_0, w, h, phi, d_0, E_e, nu_e, f_coil)
    d_1 = scaled_section(d_0, F, q_0)
    q_1 = line_load_of_coil(x, size.coil_pitch_ratio * d_1, w, h, phi, d_1, E_e, nu_e, f_coil)
    return scaled_section(d_1, F, q_1)


def complete(case: Case, rules: Rules) -> None:
    """Fill in the dimensions of a case that it does not state; those of other energizers than its own are NaN."""
    d = case.shaft_diameter
    if case.width_by == 0:  # else filled in before
        case.width_by = 2 if case.contact_width == case.contact_width else 1
    case.contact_width = contact_width(case, rules)
    case.lip_length = lip_length(case, rules)
    case.lip_thickness = lip_thickness(case, rules)
    case.interference = interference(case, rules)
    case.bore_angle = bore_angle(case, rules)
    case.spring_place = spring_place(case, rules)
    flexible, energized = rules.flexible[0], rules.energized[0]
    if case.energizer == Energizer.garter:
        case.garter_wire = stated_or(case.garter_wire, curve_at(flexible.garter_wire_diameter, d))
        case.garter_coil = stated_or(case.garter_coil, flexible.garter_coil_ratio * case.garter_wire)
        case.garter_length = garter_length(case, rules)
        case.garter_tension = garter_tension(case, rules)
        case.garter_coils = stated_or(case.garter_coils, case.garter_length / case.garter_wire)
    elif case.energizer == Energizer.cantilever_v:
        case.v_length = stated_or(case.v_length, least(curve_at(energized.finger_length, d), case.lip_length))
        case.v_angle = stated_or(case.v_angle, energized.finger_angle)
        case.v_coverage = stated_or(case.v_coverage, energized.finger_coverage)
        case.v_deflection = stated_or(case.v_deflection, curve_at(energized.finger_deflection, d))
        case.v_thickness = strip_thickness(case, rules)
    elif case.energizer == Energizer.canted_coil:
        case.coil_height = stated_or(case.coil_height, curve_at(energized.coil_height, d))
        case.coil_width = stated_or(case.coil_width, energized.coil_width_ratio * case.coil_height)
        case.coil_angle = stated_or(case.coil_angle, energized.coil_cant_angle)
        case.coil_deflection = stated_or(case.coil_deflection, energized.coil_deflection_share * case.coil_height)
        case.coil_wire = coil_wire(case, rules)
        case.coil_pitch = stated_or(case.coil_pitch, energized.coil_pitch_ratio * case.coil_wire)


def move(case: Case) -> None:
    """Fill in the speeds of a case, which states one motion."""
    d = case.shaft_diameter
    if case.half_amplitude == case.half_amplitude:
        case.surface_speed = kinematics.oscillation_mean_speed(d, case.half_amplitude, case.frequency)
        case.peak_speed = kinematics.oscillation_peak_speed(d, case.half_amplitude, case.frequency)
        case.rotational_speed = kinematics.rotation_speed(d, case.surface_speed)
    else:
        if case.rotational_speed == case.rotational_speed:
            case.surface_speed = kinematics.surface_speed(d, case.rotational_speed)
        else:
            case.rotational_speed = kinematics.rotation_speed(d, case.surface_speed)
        case.peak_speed = case.surface_speed


def unfitness(elastomer: ElastomerNumbers, attack: int, T_min: float, T_max: float) -> int:
    """Tell how badly an elastomer suits a duty, by what the fluid does to it; one that is too cold or too hot suits none.

    Parameters
    ----------
    T_min : K
        Lowest temperature.
    T_max : K
        Highest temperature.
    """
    if T_min < elastomer.temperature_min or T_max > elastomer.temperature_max:
        return 3
    return attack


def ring_elastomer(case: Case, rules: Rules) -> int:
    """Choose the elastomer of an O-ring: of those that suit the duty best the usual one, else the first in the rules."""
    elastomers, usual = rules.constants[0].elastomers, rules.constants[0].o_ring_elastomer
    chosen, least_bad = usual, 4
    for k in range(-1, elastomers):
        code = usual if k < 0 else k
        attack = rules.rings[case.fluid * elastomers + code].attack
        bad = unfitness(rules.elastomers[code], attack, case.temperature_min, case.temperature_max)
        if bad < least_bad:
            chosen, least_bad = code, bad
    return chosen


def supply(case: Case, rules: Rules) -> None:
    """Fill in what a case leaves open of its duty and its materials, and say which ratings its design has."""
    constants = rules.constants[0]
    fluid = rules.fluids[case.fluid]
    if case.lubrication < 0:
        case.lubrication = fluid.lubrication
    case.medium, case.lubricant = fluid.medium, case.fluid
    if case.lubrication == Lubrication.dry:
        case.medium = Medium.dry
    elif fluid.lubrication == Lubrication.dry:  # a gas carries no lip: something else wets it
        case.lubricant = constants.lubricant
        case.medium = rules.fluids[case.lubricant].medium
    case.temperature_min = stated_or(case.temperature_min, case.temperature)
    case.temperature_max = stated_or(case.temperature_max, case.temperature)
    if case.shaft_material >= 0:
        case.hardness = stated_or(case.hardness, rules.shaft_materials[case.shaft_material].hardness)
    if case.peak_speed != case.peak_speed:
        move(case)
    if case.energizer == Energizer.none:
        case.alloy = -1
    elif case.energizer == Energizer.garter:
        case.alloy = constants.garter_alloy
    elif case.alloy < 0:
        case.alloy = constants.energizer_alloy
    if case.retention != Retention.o_ring:
        case.elastomer = -1
    elif case.elastomer < 0:
        case.elastomer = ring_elastomer(case, rules)
    case.rating = sort_of(case, rules.compounds[case.compound].filled)


def fill(cases: Any, rules: Rules) -> None:
    """Fill in what cases leave open; the ratings of each stand for its sort of design."""
    for i in range(len(cases)):
        supply(cases[i], rules)
        complete(cases[i], rules)
