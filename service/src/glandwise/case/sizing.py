"""What the rules supply where a case states nothing: names, numbers of the duty, usual dimensions.

A function that returns a dimension returns that of the case where it is stated (is a number) and else that of the sizing
rule.
"""

from __future__ import annotations

from math import pi
from typing import TYPE_CHECKING

from glandwise.case.choices import Energizer, Family, Lubrication, Medium, Retention, SecondLip
from glandwise.case.features import sort_of
from glandwise.mechanics import kinematics
from glandwise.numerics.interpolation import curve_at

if TYPE_CHECKING:
    from typing import Any

    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case


def lip_thickness(case: Case, rules: Rules) -> float:
    """Thickness of the lip.

    Returns
    -------
    t : m
        Lip thickness.
    """
    if case.lip_thickness == case.lip_thickness:
        return case.lip_thickness
    if case.family == Family.flexible_lip:
        return curve_at(rules.flexible[0].lip_thickness, case.shaft_diameter)
    return curve_at(rules.energized[0].lip_thickness, case.shaft_diameter)


def lip_length(case: Case, rules: Rules) -> float:
    """Length of the lip.

    Returns
    -------
    L_lip : m
        Lip length.
    """
    if case.lip_length == case.lip_length:
        return case.lip_length
    if case.family == Family.flexible_lip:
        return curve_at(rules.flexible[0].lip_length, case.shaft_diameter)
    return curve_at(rules.energized[0].lip_length, case.shaft_diameter)


def interference(case: Case, rules: Rules) -> float:
    """Interference of the free lip, on the diameter.

    Returns
    -------
    i : m
        Interference on the diameter, free.
    """
    if case.interference == case.interference:
        return case.interference
    if case.family == Family.flexible_lip:
        return curve_at(rules.flexible[0].interference, case.shaft_diameter)
    return curve_at(rules.energized[0].interference, case.shaft_diameter)


def contact_width(case: Case, rules: Rules) -> float:
    """Width of the contact.

    Returns
    -------
    b : m
        Contact width.
    """
    if case.contact_width == case.contact_width:
        return case.contact_width
    if case.family == Family.flexible_lip:
        return curve_at(rules.flexible[0].contact_width, case.shaft_diameter)
    b_plain = curve_at(rules.energized[0].contact_width, case.shaft_diameter)  # contact width of a plain lip
    return b_plain * rules.lip_forms[case.lip_form].contact_width_factor


def load_factor(case: Case, rules: Rules) -> float:
    """Load of the form of the lip over that of the plain one; 1 for a flexible lip."""
    if case.family == Family.flexible_lip:
        return 1.0
    return rules.lip_forms[case.lip_form].load_factor


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


def complete(case: Case, rules: Rules) -> None:
    """Fill in the dimensions of a case that it does not state; those of other energizers than its own are NaN."""
    d = case.shaft_diameter
    case.contact_width = contact_width(case, rules)
    case.lip_thickness = lip_thickness(case, rules)
    case.lip_length = lip_length(case, rules)
    case.interference = interference(case, rules)
    flexible, energized = rules.flexible[0], rules.energized[0]
    if case.energizer == Energizer.garter:
        case.garter_wire = stated_or(case.garter_wire, curve_at(flexible.garter_wire_diameter, d))
        case.garter_coil = stated_or(case.garter_coil, flexible.garter_coil_ratio * case.garter_wire)
        case.garter_length = garter_length(case, rules)
        case.garter_tension = garter_tension(case, rules)
        case.garter_coils = stated_or(case.garter_coils, case.garter_length / case.garter_wire)
    elif case.energizer == Energizer.cantilever_v:
        case.v_thickness = stated_or(case.v_thickness, curve_at(energized.strip_thickness, d))
        case.v_length = stated_or(case.v_length, curve_at(energized.finger_length, d))
        case.v_angle = stated_or(case.v_angle, energized.finger_angle)
        case.v_coverage = stated_or(case.v_coverage, energized.finger_coverage)
        case.v_deflection = stated_or(case.v_deflection, curve_at(energized.finger_deflection, d))
    elif case.energizer == Energizer.canted_coil:
        case.coil_wire = stated_or(case.coil_wire, curve_at(energized.coil_wire_diameter, d))
        case.coil_height = stated_or(case.coil_height, curve_at(energized.coil_height, d))
        case.coil_width = stated_or(case.coil_width, energized.coil_width_ratio * case.coil_height)
        case.coil_pitch = stated_or(case.coil_pitch, energized.coil_pitch_ratio * case.coil_wire)
        case.coil_angle = stated_or(case.coil_angle, energized.coil_cant_angle)
        case.coil_deflection = stated_or(case.coil_deflection, energized.coil_deflection_share * case.coil_height)


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
        case.elastomer = constants.o_ring_elastomer
    case.rating = sort_of(case, rules.compounds[case.compound].filled)


def fill(cases: Any, rules: Rules) -> None:
    """Fill in what cases leave open; the ratings of each stand for its sort of design."""
    for i in range(len(cases)):
        supply(cases[i], rules)
        complete(cases[i], rules)
