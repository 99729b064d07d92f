"""What holds a seal in its bore, and what turns it: clamped flange, pressed-in case, O-ring against the torque of the lips."""

from __future__ import annotations

from math import nan, pi
from typing import TYPE_CHECKING, NamedTuple

from glandwise.case.choices import LOOSEST, End, Family, Lubrication, Retention, Start
from glandwise.case.lip_fit import interference_at, metal_strain, seal_strain
from glandwise.case.sizing import chosen_or
from glandwise.mechanics.choices import LipRoot
from glandwise.mechanics.contact import friction
from glandwise.mechanics.fits import interference_fit
from glandwise.mechanics.retention import clamp_holding_torque, o_ring_slip_torque, press_fit_holding_torque
from glandwise.mechanics.springs import gent_modulus, o_ring_load
from glandwise.mechanics.viscoelastic import relaxed_share
from glandwise.numerics.arithmetic import greatest, least
from glandwise.numerics.interpolation import curve_at, step_at
from glandwise.physics.energizer import spring_of
from glandwise.physics.heat_balance import balance, surroundings
from glandwise.physics.lip import modulus, relaxed_modulus, second_load, touching
from glandwise.physics.o_ring import ring_torque
from glandwise.physics.strains import housing_strain

if TYPE_CHECKING:
    from glandwise.case.gland_numbers import GlandRules
    from glandwise.case.hardware import Hardware
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case


class Pressed(NamedTuple):
    """A pressed-in case at one temperature and one end of the tolerances."""

    interference: float
    """Diametral [m]."""
    pressure: float
    """[Pa]"""
    case_stress: float
    """[Pa]"""
    bore_stress: float
    """[Pa]"""
    yields: float
    """1 where the case yields."""


class Face(NamedTuple):
    """A clamped face."""

    force: float
    pressure: float
    allowed: float


class Turning(NamedTuple):
    """Torque of the lips and torque that holds in one state [N m]."""

    torque: float
    holding: float


# ------------------------------------------------------------------------------------------------------------ press fit


def case_interference(hardware: Hardware, gland: GlandRules, T: float, end: int) -> float:
    """Interference of a pressed-in case at an end of the tolerances.

    Returns
    -------
    i_K : m
        Interference of the case on the diameter; negative where it is loose.

    References
    ----------
    Geometry (models/fits).
    """
    K_e, D_e = hardware.case, hardware.bore
    if end == End.loosest:
        K_e, D_e = hardware.case_low, hardware.bore_high
    if end == End.tightest:
        K_e, D_e = hardware.case_high, hardware.bore_low
    epsilon_K = metal_strain(gland.metals[hardware.case_metal], gland, hardware.reference, T)  # strain of the case
    epsilon_H = housing_strain(hardware, gland, T)  # strain of the housing
    return K_e * (1.0 + epsilon_K) - D_e * (1.0 + epsilon_H)


def pressed_case(hardware: Hardware, gland: GlandRules, T: float, end: int) -> Pressed:
    """Pressed-in case at a temperature and an end of the tolerances; where it yields that caps the contact pressure.

    Returns
    -------
    i_K : m
        Interference of the case on the diameter; negative where it is loose.
    p_K : Pa
        Contact pressure of the case, not above what makes it yield.
    sigma_K : Pa
        Hoop stress inside the case, elastic.
    sigma_H : Pa
        Hoop stress of the housing at the bore.
    yields : -
        Whether the case yields.

    References
    ----------
    Lame's thick-walled cylinders (models/fits).
    """
    i_K = case_interference(hardware, gland, T, end)
    metal, housing = gland.metals[hardware.case_metal], gland.metals[hardware.housing_metal]
    R, r_o, w_K = 0.5 * hardware.bore, 0.5 * hardware.housing, hardware.case_wall
    fit = interference_fit(
        0.5 * i_K, R, R - w_K, r_o, metal.elastic_modulus, metal.poisson_ratio,
        housing.elastic_modulus, housing.poisson_ratio,
    )  # fmt: skip
    # the inside of the case yields first, where the hoop stress is 2 p R²/(R² - r²)
    p_y = hardware.case_strength * (1.0 - (1.0 - w_K / R) ** 2) / 2.0  # pressure at which the case yields inside
    p_K = least(fit.pressure, p_y)  # contact pressure of the case
    yields = 1.0 if fit.pressure > p_y else 0.0
    if fit.pressure > 0.0:
        return Pressed(i_K, p_K, fit.inner_bore_hoop, p_K / fit.pressure * fit.outer_bore_hoop, yields)
    return Pressed(i_K, p_K, fit.inner_bore_hoop, 0.0 * p_K, yields)


# ---------------------------------------------------------------------------------------------------------------- clamp


def clamped_face(case: Case, hardware: Hardware, rules: Rules, gland: GlandRules) -> Face:
    """Clamped flange: its force, proposed where none is stated, its pressure and what the hot compound stands for long.

    Returns
    -------
    F_f : N
        Clamp force.
    p_f : Pa
        Pressure on the clamped face; not known where it has no width.
    p_long : Pa
        Pressure that the compound stands for long.
    """
    constants = gland.constants[0]
    D_f, d_f = hardware.clamp_outer, hardware.clamp_inner
    A_f = 0.25 * pi * greatest(D_f * D_f - d_f * d_f, 0.0)  # clamped area
    S = curve_at(rules.compounds[case.compound].yield_strength, case.temperature_max)
    p_long = S * constants.clamp_pressure_share  # pressure that the face stands for long
    F_f = hardware.clamp_force
    if F_f != F_f:
        F_f = constants.clamp_aim * p_long * A_f  # clamp force, proposed
    if A_f > 0.0:
        return Face(F_f, F_f / A_f, p_long)
    return Face(F_f, nan, p_long)


# --------------------------------------------------------------------------------------- an O-ring of the usual hardware


def radial_space(case: Case, rules: Rules, gland: GlandRules) -> float:
    """Radial distance of shaft and bore that is usual of a family: its section, or what a standard bore leaves if that is more.

    Returns
    -------
    w_usual : m
        Radial distance of shaft and bore.
    """
    if case.family == Family.flexible_lip:
        w_r = curve_at(rules.flexible[0].radial_section, case.shaft_diameter)
        w_std = step_at(gland.bores[0].flexible, case.shaft_diameter)
    else:
        w_r = curve_at(rules.energized[0].radial_section, case.shaft_diameter)
        w_std = step_at(gland.bores[0].energized, case.shaft_diameter)
    if w_std > w_r:  # not known beyond the standard bores
        return w_std
    return w_r


def thickest_ring_torque(case: Case, rules: Rules, gland: GlandRules, T: float) -> float:
    """Torque that the thickest O-ring of the series holds in a bore of usual size, squeezed as far as it may be.

    At nominal size and new: what no O-ring of a real gland surpasses by much.

    Parameters
    ----------
    T : K
        Temperature at which the shaft starts.

    Returns
    -------
    M_r : N·m
        Torque that the O-ring holds.

    References
    ----------
    Lindley 1967 (models/o_ring); Coulomb friction and elementary statics (models/retention).
    """
    constants, rubber, usual = gland.constants[0], gland.rubbers[case.elastomer], gland.throats[0]
    s_0 = gland.bores[0].thickest  # section of the thickest O-ring
    C_0 = least(constants.squeeze_max, constants.ring_model_limit)  # squeeze as assembled
    h_0 = s_0 * (1.0 - C_0)  # depth of the gland as assembled
    w_usual = radial_space(case, rules, gland)
    w_r = greatest(w_usual, h_0 / constants.depth_share)  # radial distance of shaft and bore that the O-ring needs
    r_o = 0.5 * case.shaft_diameter + w_r  # radius of the bore
    r_i = r_o - h_0  # radius of the bottom of the groove
    T_ref = constants.reference_temperature
    metal = gland.metals[chosen_or(case.housing_material, usual.housing_metal)]
    epsilon_H = metal_strain(metal, gland, T_ref, T)  # strain of the housing
    epsilon_s = seal_strain(case, rules, gland, T_ref, T)  # strain of the compound of the seal
    s_T = s_0 * (1.0 + rubber.mean_expansion * (T - T_ref))  # section at temperature
    h_T = r_o * (1.0 + epsilon_H) - r_i * (1.0 + epsilon_s)  # depth of the gland at temperature
    C_T = least(1.0 - h_T / s_T, constants.ring_model_limit)  # squeeze at temperature
    load = o_ring_load(s_T, C_T, gent_modulus(rubber.hardness), constants.ring_model_limit)
    mu_i, mu_o = constants.friction_ring_wet, rubber.friction_lubricated
    if case.lubrication == Lubrication.dry:
        mu_i, mu_o = constants.friction_ring, rubber.friction_dry
    return o_ring_slip_torque(load.line_load, mu_i, r_i, mu_o, r_i + h_T)


def dragging_torque(case: Case, rules: Rules, T: float, E_t: float, p: float, q_e: float, mu: float) -> float:
    """Torque of both lips that friction has not softened.

    Parameters
    ----------
    T : K
        Temperature of the lips.
    E_t : Pa
        Relaxed modulus.
    p : Pa
        Sealed pressure.
    q_e : N/m
        Load of the energizer.
    mu : -
        Friction coefficient.

    Returns
    -------
    M_lips : N·m
        Torque of the lips.
    """
    i_T = interference_at(case, rules, T)
    lip = touching(case, rules, T, i_T, E_t, p, q_e, LipRoot.elastic)
    q_2 = second_load(case, rules, T, i_T, E_t, p, q_e, LipRoot.elastic, lip)
    return friction(mu, lip.solid + q_2, case.shaft_diameter, case.rotational_speed).torque


def start_torque(case: Case, rules: Rules, gland: GlandRules, q_e: float, p: float) -> float:
    """Torque of the lips of a new seal as the shaft starts in the cold.

    Parameters
    ----------
    q_e : N/m
        Load of the energizer in the cold.
    p : Pa
        Sealed pressure.

    Returns
    -------
    M_lips : N·m
        Torque of the lips.
    """
    mu = start_friction(case, rules, gland, Start.cold_start)
    E_t = starting_modulus(case, rules, gland, Start.cold_start)
    return dragging_torque(case, rules, case.temperature_min, E_t, p, q_e, mu)


def seat_torque(case: Case, gland: GlandRules, p: float, r_b: float) -> float:
    """Torque that the seat of the body holds while the sealed pressure presses it on its shoulder.

    Parameters
    ----------
    p : Pa
        Sealed pressure.
    r_b : m
        Radius of the bore.

    Returns
    -------
    M_seat : N·m
        Torque that the seat holds.

    References
    ----------
    Coulomb friction on a ring (models/retention).
    """
    constants, r = gland.constants[0], 0.5 * case.shaft_diameter
    F_seat = constants.seating_share * p * pi * (r_b * r_b - r * r)  # thrust that seats the body
    return clamp_holding_torque(F_seat, constants.friction_face, r, r_b, 1.0)


def held_by_ring(case: Case, rules: Rules, gland: GlandRules, q_e: float, M_ring: float, p: float) -> Turning:
    """Torque of the lips at a cold start, and what the thickest O-ring and the seat of the body hold against it.

    Parameters
    ----------
    q_e : N/m
        Load of the energizer in the cold.
    M_ring : N·m
        Torque that the O-ring holds.
    p : Pa
        Sealed pressure.

    Returns
    -------
    M_lips : N·m
        Torque of the lips.
    M_hold : N·m
        Torque at which the seal turns in its bore.

    References
    ----------
    Coulomb friction and elementary statics (models/retention).
    """
    M_lips = start_torque(case, rules, gland, q_e, p)
    r_b = 0.5 * case.shaft_diameter + radial_space(case, rules, gland)  # radius of the bore
    return Turning(M_lips, M_ring + seat_torque(case, gland, p, r_b))


# ------------------------------------------------------------------------------------------------------------- rotation


def start_temperature(case: Case, state: int) -> float:
    """Temperature of a state."""
    if state == Start.hot_running:
        return case.temperature_max
    return case.temperature_min


def start_friction(case: Case, rules: Rules, gland: GlandRules, state: int) -> float:
    """Friction coefficient of the lips in a state.

    Returns
    -------
    mu : -
        Friction coefficient of the lips.
    """
    compound = rules.compounds[case.compound]
    if state == Start.hot_running:
        return compound.friction[case.medium]
    return compound.friction_high[case.medium] * gland.constants[0].breakaway


def starting_modulus(case: Case, rules: Rules, gland: GlandRules, state: int) -> float:
    """Relaxed modulus of a lip as the shaft starts: new, or relaxed in service at the normal temperature.

    At the end of its life the lip has relaxed there, not at the temperature of the cold start.

    Returns
    -------
    E_t : Pa
        Relaxed modulus at the start.
    """
    relaxation = rules.compounds[case.compound].relaxation
    f_t = relaxed_share(relaxation, case.temperature_min, gland.constants[0].fresh_time)
    if state == Start.end_of_life_start:
        f_t = relaxed_share(relaxation, case.temperature, rules.constants[0].service_time)
    return modulus(case, rules, case.temperature_min) * f_t


def put_into(there: Case, case: Case, state: int, p: float) -> None:
    """Make ``there``, a copy of a case, the case in a state under a pressure."""
    there.temperature = start_temperature(case, state)
    there.rotational_speed, there.peak_speed = case.rotational_speed, case.peak_speed
    if state != Start.hot_running:  # at rest no film carries the lip
        there.rotational_speed, there.peak_speed = 0.0 * case.rotational_speed, 0.0 * case.peak_speed
    there.pressure = p


def lip_torque(case: Case, there: Case, rules: Rules, gland: GlandRules, state: int) -> float:
    """Torque of the lips in a state; where the heat finds no balance, that of a lip which friction has not softened.

    A shaft that starts has made no heat yet.

    Returns
    -------
    M_lips : N·m
        Torque of the lips.
    """
    T, mu = there.temperature, start_friction(there, rules, gland, state)
    q_e = spring_of(there, rules, T).line_load
    if state != Start.hot_running:
        return dragging_torque(there, rules, T, starting_modulus(case, rules, gland, state), there.pressure, q_e, mu)
    C, t_load = rules.constants[0].film_friction, rules.constants[0].nominal_time
    running = balance(there, rules, surroundings(there, rules), q_e, there.pressure, mu, C, t_load, LipRoot.elastic)
    if running.torque == running.torque:
        return running.torque
    return dragging_torque(there, rules, T, relaxed_modulus(case, rules, T, t_load), there.pressure, q_e, mu)


def held_torque(case: Case, hardware: Hardware, rules: Rules, gland: GlandRules, state: int) -> float:
    """Torque that the means of retention holds in a state.

    Returns
    -------
    M_means : N·m
        Torque that the means of retention holds.

    References
    ----------
    Coulomb friction and elementary statics (models/retention).
    """
    constants = gland.constants[0]
    if hardware.retention == Retention.o_ring:
        return ring_torque(case, hardware, rules, gland, state)
    if hardware.retention == Retention.clamped_flange:
        face = clamped_face(case, hardware, rules, gland)
        M_f = clamp_holding_torque(
            face.force, constants.friction_face, 0.5 * hardware.clamp_inner, 0.5 * hardware.clamp_outer, 2.0
        )
        # the clamp creeps within days: what is left then is what holds in running as well
        return M_f * constants.clamp_kept
    pressed = pressed_case(hardware, gland, start_temperature(case, state), LOOSEST)
    return press_fit_holding_torque(
        pressed.pressure, constants.friction_case, 0.5 * hardware.bore, hardware.case_length
    )  # fmt: skip


def turning(
    case: Case, there: Case, hardware: Hardware, rules: Rules, gland: GlandRules, state: int, is_seated: int
) -> Turning:  # fmt: skip
    """Torque of the lips and holding torque in a state, without or with the sealed pressure.

    The pressure seats the body on its shoulder while it is on.

    Parameters
    ----------
    there : Case
        A copy of the case, to be overwritten.

    Returns
    -------
    M_lips : N·m
        Torque of the lips.
    M_hold : N·m
        Torque at which the seal turns in its bore.

    References
    ----------
    Coulomb friction and elementary statics (models/retention).
    """
    p_s = 0.0 * case.pressure  # pressure in this state
    if is_seated == 1:
        p_s = greatest(case.pressure, 0.0)  # pressure in this state
    put_into(there, case, state, p_s)
    M_lips = lip_torque(case, there, rules, gland, state)
    M_means = held_torque(case, hardware, rules, gland, state)
    if is_seated == 1:
        return Turning(M_lips, M_means + seat_torque(case, gland, p_s, 0.5 * hardware.bore))
    return Turning(M_lips, M_means)
