"""Wear of the lip: how fast, to which end, how long, and how sure that is.

A life is a median with a spread. Ranges of what goes into it are those of nine in ten; they are joined in logarithms.
"""

from __future__ import annotations

from enum import IntEnum
from math import inf, nan, tan
from typing import TYPE_CHECKING, NamedTuple

from glandwise.case.choices import Energizer, Lubrication, Medium
from glandwise.case.fluid_numbers import CHIPS, DOUGH, FUEL, POWDER, SLURRY, SOLVENT
from glandwise.case.lip_fit import effective_length, interference_at
from glandwise.case.sizing import load_factor, sealed, stated_or
from glandwise.mechanics.choices import Motion
from glandwise.mechanics.lubrication import boiling_share, floor_share, share_of, viscous_stress
from glandwise.mechanics.viscoelastic import relaxed_share
from glandwise.mechanics.wear import depth_rate
from glandwise.mechanics.wear_life import (
    Life,
    boundary_wear_rate,
    contact_width,
    finish_factor,
    joined_spread,
    life_quantile,
    lip_life,
    log_spread,
    mild_factor,
    probability_reached,
    solid_load,
    temperature_factor,
    worn_width,
)
from glandwise.numerics.arithmetic import greatest, least
from glandwise.numerics.interpolation import curve_at
from glandwise.physics.constants import FOUR_IN_FIVE, LEAST_SLOPE, NINE_IN_TEN, THOUSAND_HOURS
from glandwise.physics.lip import relaxed_modulus
from glandwise.physics.lubrication import angular_speed, boiling_at, least_share, motion_of, supply_factor

if TYPE_CHECKING:
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case
    from glandwise.physics.energizer import Spring
    from glandwise.physics.heat_balance import Running
    from glandwise.physics.lip import Shape


class EndedBy(IntEnum):
    """What ends a life."""

    nothing = 0
    """Within what is estimated."""
    lip = 1
    """The thickness of the lip that may wear."""
    energizer = 2
    """The travel of the energizer."""
    load = 3
    """The load: too little is left."""


class Room(NamedTuple):
    """Wear that a seal has to give [m]."""

    lip: float
    """By the thickness of the lip, or by the request."""
    energizer: float
    """By the travel of the energizer; infinite without one."""


class Rates(NamedTuple):
    """Specific wear rate of solid contact that bears all of the load, as this duty has it [1/Pa]."""

    low: float
    nominal: float
    high: float


class Wearing(NamedTuple):
    """Wear and life; NaN where not known, infinite times where another end comes before."""

    rate: float
    """Depth per second after running in [m/s]."""
    in_1000_h: float
    """Depth in the first thousand hours, at the rate after running in [m]."""
    pressure: float
    """Mean contact pressure after running in [Pa]."""
    share: float
    """Share of the load that solid contact bears after running in."""
    to_depth: float
    """[s]"""
    to_travel: float
    """[s]"""
    to_half_load: float
    """[s]"""
    to_lost_load: float
    """[s]"""
    life: float
    """Median life [s]."""
    spread: float
    """Standard deviation of its logarithm."""
    by: float
    """What ends it: a code of EndedBy."""


class Ends(NamedTuple):
    """Lives that stated shares of seals reach [s], and the probability of a target."""

    short: float
    """Nineteen in twenty live longer."""
    sure: float
    """Four in five live longer."""
    median: float
    long: float
    """One in twenty lives longer."""
    probability: float
    """That the target is reached."""


def room_of(case: Case, rules: Rules, stated: float) -> Room:
    """Radial wear at which the seal is taken as worn out; lost load ends it besides.

    Parameters
    ----------
    stated : m
        Depth that may wear as the request has it; NaN where it does not say.

    Returns
    -------
    h_a : m
        Depth that may wear.
    h_e : m
        Travel of the energizer that wear may use.

    References
    ----------
    House estimate (models/wear).
    """
    constants = rules.constants[0]
    if stated == stated:
        return Room(stated, inf)
    h_t = constants.lip_allowance_share * case.lip_thickness  # what the thickness of the lip gives
    if case.energizer == Energizer.cantilever_v:
        return Room(h_t, constants.energizer_allowance_share * case.v_deflection)
    if case.energizer == Energizer.canted_coil:
        return Room(h_t, constants.energizer_allowance_share * case.coil_deflection)
    return Room(h_t, inf)


def heat_factor(case: Case, rules: Rules, T_c: float) -> float:
    """Factor of the temperature of the contact on wear.

    Parameters
    ----------
    T_c : K
        Contact temperature.

    Returns
    -------
    f_T : -
        Factor of the temperature on wear.
    """
    c = rules.constants[0]
    f_1, f_2, f_3, f_4 = c.wear_unfilled_1, c.wear_unfilled_2, c.wear_unfilled_3, c.wear_unfilled_4
    if rules.compounds[case.compound].filled == 1:
        f_1, f_2, f_3, f_4 = c.wear_filled_1, c.wear_filled_2, c.wear_filled_3, c.wear_filled_4
    T_1, T_2, T_3, T_4 = c.wear_temperature_1, c.wear_temperature_2, c.wear_temperature_3, c.wear_temperature_4
    return temperature_factor(T_c, T_1, f_1, T_2, f_2, T_3, f_3, T_4, f_4)


def roughness_factor(case: Case, rules: Rules) -> float:
    """Factor of the finish of the shaft on wear; 1 where it is not stated.

    Returns
    -------
    f_R : -
        Factor of the finish on wear.
    """
    constants = rules.constants[0]
    R_a = stated_or(case.roughness, constants.finish_roughness)
    return finish_factor(R_a, constants.finish_roughness, constants.finish_exponent)


def crawl_factor(case: Case, rules: Rules) -> float:
    """Factor of a crawl on dry wear, which is mild there for unfilled PTFE alone.

    Returns
    -------
    f_v : -
        Factor of the speed on wear.
    """
    constants = rules.constants[0]
    if rules.compounds[case.compound].filled == 1 or case.medium != Medium.dry:
        return 1.0
    return mild_factor(case.surface_speed, constants.mild_speed, constants.severe_speed, constants.mild_factor)


def solids_factor(case: Case, rules: Rules) -> float:
    """Factor of solids in the fluid on wear.

    Returns
    -------
    f_s : -
        Factor of solids on wear.
    """
    constants, solids = rules.constants[0], rules.fluids[case.fluid].solids
    if solids == POWDER:
        return constants.solids_powder
    if solids == DOUGH:
        return constants.solids_dough
    if solids == CHIPS:
        return constants.solids_chips
    if solids == SLURRY:
        return constants.solids_slurry
    return 1.0


def solids_spread(case: Case, rules: Rules) -> float:
    """Spread of the factor of solids.

    Returns
    -------
    sigma_s : -
        Spread of the factor of solids.
    """
    constants, solids = rules.constants[0], rules.fluids[case.fluid].solids
    if solids == POWDER:
        return log_spread(constants.solids_powder_low, constants.solids_powder_high, NINE_IN_TEN)
    if solids == DOUGH:
        return log_spread(constants.solids_dough_low, constants.solids_dough_high, NINE_IN_TEN)
    if solids == CHIPS:
        return log_spread(constants.solids_chips_low, constants.solids_chips_high, NINE_IN_TEN)
    if solids == SLURRY:
        return log_spread(constants.solids_slurry_low, constants.solids_slurry_high, NINE_IN_TEN)
    return 0.0


def fluid_factor(case: Case, rules: Rules) -> float:
    """Factor on wear of what wets the lip without protecting it, and of crystals where it dries.

    Thin fuels carry little that sticks to a surface, solvents wash off what the lip lays down; neither has a wear rate that is
    known. Solutions of salts, lye and sugar dry to crystals at the edge of the lip.

    Returns
    -------
    f_l : -
        Factor of the fluid on wear.
    """
    constants, fluid = rules.constants[0], rules.fluids[case.lubricant]
    if case.medium == Medium.dry:
        return 1.0
    if fluid.lubricity == FUEL:
        return constants.wear_fuel
    if fluid.lubricity == SOLVENT:
        return constants.wear_solvent
    if fluid.crystallises == 1:
        return constants.wear_crystals
    return 1.0


def fluid_spread(case: Case, rules: Rules) -> float:
    """Spread of the factor of the fluid.

    Returns
    -------
    sigma_l : -
        Spread of the factor of the fluid.
    """
    constants, fluid = rules.constants[0], rules.fluids[case.lubricant]
    if case.medium == Medium.dry:
        return 0.0
    if fluid.lubricity == FUEL:
        return log_spread(constants.wear_fuel_low, constants.wear_fuel_high, NINE_IN_TEN)
    if fluid.lubricity == SOLVENT:
        return log_spread(constants.wear_solvent_low, constants.wear_solvent_high, NINE_IN_TEN)
    if fluid.crystallises == 1:
        return log_spread(constants.wear_crystals_low, constants.wear_crystals_high, NINE_IN_TEN)
    return 0.0


def gas_factor(case: Case, rules: Rules) -> float:
    """Factor of an inert gas without water on wear.

    Returns
    -------
    f_dry : -
        Factor of a dry inert gas on wear.
    """
    if rules.fluids[case.lubricant].dry_inert == 1:
        return rules.compounds[case.compound].dry_inert
    return 1.0


def rates_of(case: Case, rules: Rules, T_c: float) -> Rates:
    """Specific wear rate of solid contact that bears all of the load; one that the request measured as it is.

    Parameters
    ----------
    T_c : K
        Contact temperature.

    Returns
    -------
    K_low : 1/Pa
        Favourable specific wear rate of solid contact.
    K : 1/Pa
        Specific wear rate of solid contact.
    K_high : 1/Pa
        Unfavourable specific wear rate of solid contact.

    References
    ----------
    Factors taken as independent (models/wear).
    """
    compound, shaft = rules.compounds[case.compound], rules.shaft_materials[case.shaft_material]
    if compound.own_wear == 1:
        return Rates(compound.wear_low[case.medium], compound.wear[case.medium], compound.wear_high[case.medium])
    f_T = heat_factor(case, rules, T_c)
    f_R = roughness_factor(case, rules)
    f_l = fluid_factor(case, rules)
    f_s = solids_factor(case, rules) * f_l * gas_factor(case, rules) * crawl_factor(case, rules)
    K_low = boundary_wear_rate(compound.wear_low[case.medium], f_T, shaft.wear_factor, f_R, f_s)
    K = boundary_wear_rate(compound.wear[case.medium], f_T, shaft.wear_factor, f_R, f_s)
    K_high = boundary_wear_rate(compound.wear_high[case.medium], f_T, shaft.wear_factor, f_R, f_s)
    return Rates(K_low, K, K_high)


def film_ends(case: Case, rules: Rules) -> tuple[float, float]:
    """Ends of the share that solid contact bears in a full film.

    Returns
    -------
    f_low : -
        Low end of the share of solid contact in a full film.
    f_high : -
        High end of the share of solid contact in a full film.
    """
    fluid, constants = rules.fluids[case.lubricant], rules.constants[0]
    if fluid.film_floor == fluid.film_floor:
        return fluid.film_floor_low, fluid.film_floor_high
    if fluid.solids > 0:
        return constants.full_film_share_particles_low, constants.full_film_share_particles_high
    return constants.full_film_share_low, constants.full_film_share_high


def film_spread(case: Case, rules: Rules, G: float) -> float:
    """Spread of a life by what is not known of the film: its share, where it begins, the viscosity.

    Parameters
    ----------
    G : -
        Duty number after running in.

    Returns
    -------
    sigma_phi : -
        Spread by the film.

    References
    ----------
    Each share at the ends of what is known, joined in logarithms; derived.
    """
    if case.lubrication == Lubrication.dry:
        return 0.0
    constants, fluid, motion = rules.constants[0], rules.fluids[case.lubricant], motion_of(case)
    G_0, f_0 = constants.duty_number_half, least_share(case, rules)
    f_low, f_high = film_ends(case, rules)
    phi_low = share_of(motion, G, G_0, f_low)
    phi_high = share_of(motion, G, G_0, f_high)
    sigma_f = log_spread(phi_low, phi_high, NINE_IN_TEN)  # spread by the least share
    phi_early = share_of(motion, G, constants.duty_number_half_low, f_0)
    phi_late = share_of(motion, G, constants.duty_number_half_high, f_0)
    sigma_G = log_spread(phi_early, phi_late, NINE_IN_TEN)  # spread by where the film begins
    phi_thick = share_of(motion, G * fluid.viscosity_high, G_0, f_0)
    phi_thin = share_of(motion, G * fluid.viscosity_low, G_0, f_0)
    sigma_eta = log_spread(phi_thick, phi_thin, NINE_IN_TEN)  # spread by the viscosity
    return joined_spread(joined_spread(sigma_f, sigma_G), sigma_eta)


def rate_spread(case: Case, rules: Rules, K: Rates) -> float:
    """Spread of a life by what is not known of the wear rate and its factors.

    Returns
    -------
    sigma_K : -
        Spread by the wear rate and its factors.
    """
    compound, shaft = rules.compounds[case.compound], rules.shaft_materials[case.shaft_material]
    sigma_0 = log_spread(K.low, K.high, NINE_IN_TEN)  # spread of the rate of the compound
    if compound.own_wear == 1:
        return sigma_0
    sigma_c = log_spread(shaft.wear_factor_low, shaft.wear_factor_high, NINE_IN_TEN)  # spread by the shaft
    sigma_s = solids_spread(case, rules)
    sigma_l = fluid_spread(case, rules)
    sigma_f = joined_spread(joined_spread(sigma_c, sigma_s), sigma_l)
    if rules.fluids[case.lubricant].dry_inert == 1:
        sigma_g = log_spread(compound.dry_inert_low, compound.dry_inert_high, NINE_IN_TEN)  # spread by the dry gas
        sigma_f = joined_spread(sigma_f, sigma_g)
    return joined_spread(sigma_0, sigma_f)


def room_spread(rules: Rules, b_0: float, b: float) -> float:
    """Spread of a life by the depth that may wear: it goes with the depth to a power of one to two as the contact widens.

    Parameters
    ----------
    b_0 : m
        Contact width when new.
    b : m
        Contact width at that depth.

    Returns
    -------
    sigma_h : -
        Spread by the depth that may wear.

    References
    ----------
    Archard with a width that grows in proportion to the depth; derived.
    """
    constants = rules.constants[0]
    sigma_0 = log_spread(constants.lip_allowance_low, constants.lip_allowance_high, NINE_IN_TEN)  # spread of the share
    return sigma_0 * 2.0 * b / (b_0 + b)


def edge_slope(case: Case, rules: Rules, T_c: float) -> float:
    """Slope at which the lip stands off the shaft behind its edge: its bore, less what the interference bends.

    Parameters
    ----------
    T_c : K
        Contact temperature.

    Returns
    -------
    theta : -
        Slope of the loaded edge; next to none where the lip lies on the shaft.

    References
    ----------
    Cantilever with a load at its tip: 3/2 of deflection over length.
    """
    L_free = effective_length(case, rules)
    i_T = greatest(interference_at(case, rules, T_c), 0.0)  # radial interference
    return greatest(tan(case.bore_angle) - 1.5 * i_T / L_free, LEAST_SLOPE)


def edge_stiffness(case: Case, rules: Rules, T_c: float, t_load: float) -> float:
    """Bending stiffness of the lip behind its edge, per width.

    Parameters
    ----------
    T_c : K
        Contact temperature.
    t_load : s
        Time under load.

    Returns
    -------
    D : N·m
        Bending stiffness of the lip.

    References
    ----------
    Plate: Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed. (from memory).
    """
    nu = rules.compounds[case.compound].poisson_ratio
    return relaxed_modulus(case, rules, T_c, t_load) * case.lip_thickness**3 / (12.0 * (1.0 - nu**2))


def stiffnesses(
    case: Case, rules: Rules, shape: Shape, spring: Spring, T_c: float, t_load: float
) -> tuple[float, float]:
    """Load that lip and energizer lose per worn depth.

    Parameters
    ----------
    T_c : K
        Contact temperature.
    t_load : s
        Time under load.

    Returns
    -------
    k_l : N/m²
        Load that the lip loses per worn depth.
    k_e : N/m²
        Load that the energizer loses per worn depth.
    """
    compound = rules.compounds[case.compound]
    k_lip = shape.stiffness * curve_at(compound.elastic_modulus, T_c)  # stiffness of the lip, not relaxed
    f_t = relaxed_share(compound.relaxation, T_c, t_load)
    f_form = load_factor(case, rules)
    return k_lip * f_t * f_form, spring.stiffness * f_form


def slid_in_1000_h(v: float) -> float:
    """Sliding distance in a thousand hours.

    Parameters
    ----------
    v : m/s
        Mean surface speed.

    Returns
    -------
    s_1000 : m
        Sliding distance in 1000 h.

    References
    ----------
    Definition.
    """
    return v * THOUSAND_HOURS


def told_life(t_life: float, t_max: float) -> float:
    """Life as it is told: none longer than the longest that is estimated.

    Parameters
    ----------
    t_life : s
        Life.
    t_max : s
        Longest life that is estimated.

    Returns
    -------
    t_told : s
        Life as it is told.

    References
    ----------
    Definition.
    """
    return least(t_life, t_max)


def by_of(life: Life, t_life: float) -> float:
    """What ends a life, as a code."""
    if t_life == inf:
        return 0.0
    if life.to_depth <= t_life:
        return 1.0
    if life.to_travel <= t_life:
        return 2.0
    return 3.0


def unknown() -> Wearing:
    """Return what is said where no balance of heat was found."""
    return Wearing(nan, nan, nan, nan, nan, nan, nan, nan, nan, nan, 0.0)


def wearing_of(
    case: Case, rules: Rules, shape: Shape, spring: Spring, running: Running, room: Room, t_load: float
) -> Wearing:
    """Wear of a lip from its running state to its end: the contact widens, the load falls by wear and by relaxing.

    Parameters
    ----------
    t_load : s
        Time under load to which the running state belongs; it is also when the lip has run in.

    Returns
    -------
    h_dot : m/s
        Depth worn per second after running in.
    h_1000 : m
        Depth worn in 1000 h at that rate.
    p_m : Pa
        Mean contact pressure after running in.
    phi_m : -
        Share of the load that solid contact bears after running in.
    t_h : s
        Time to the depth that may wear.
    t_e : s
        Time to the travel of the energizer.
    t_50 : s
        Time to half of the load.
    t_x : s
        Time to the load that counts as lost.
    t_life : s
        Median life.
    sigma : -
        Standard deviation of its logarithm.
    by : -
        What ends it.

    References
    ----------
    Archard, integrated; ranges joined in logarithms (models/wear).
    """
    if running.temperature != running.temperature:
        return unknown()
    if running.load <= 0.0:  # nothing presses: nothing wears, and nothing seals
        return Wearing(0.0, 0.0, 0.0, 1.0, nan, nan, nan, nan, nan, nan, 0.0)
    constants, compound = rules.constants[0], rules.compounds[case.compound]
    T_c, v, b_0, t = running.temperature, case.surface_speed, running.width, case.lip_thickness
    K = rates_of(case, rules, T_c)
    k_l, k_e = stiffnesses(case, rules, shape, spring, T_c, t_load)
    theta = edge_slope(case, rules, T_c)
    L_free = effective_length(case, rules)
    p = sealed(case)
    V_0 = greatest(running.load - p * b_0, 0.0)  # load at the edge: what the pressure on the laid length does not press
    D = edge_stiffness(case, rules, T_c, t_load)
    motion = motion_of(case)
    S = viscous_stress(0.0, running.viscosity, angular_speed(case))
    f_0 = 1.0
    sigma_phi = 0.0
    if compound.own_wear == 0 and case.lubrication != Lubrication.dry:
        f_G = supply_factor(case, rules)
        S = viscous_stress(f_G, running.viscosity, angular_speed(case))
        f_0 = least_share(case, rules)
        T_sat = boiling_at(case, rules)
        if T_sat < inf:
            w = boiling_share(T_c, T_sat, constants.boiling_distance)  # share of the film lost by boiling
            f_0 = floor_share(f_0, w)
        if motion == Motion.swinging:
            f_0 = greatest(f_0, constants.reversal_floor * least(constants.reversal_speed / v, 1.0))
    life = lip_life(
        compound.relaxation, T_c, t_load, K.nominal, v, motion, S, constants.duty_number_half, f_0,
        greatest(running.pressure, 0.0), running.energizer, k_e, running.lip, k_l, p, b_0, theta, V_0,
        D, 0.0, L_free, constants.solid_load_floor, constants.lost_load_share, room.lip, room.energizer, t, t_load,
    )  # fmt: skip
    t_life = life.to_lost_load  # the first of the ends
    if life.to_depth < t_life:
        t_life = life.to_depth
    if life.to_travel < t_life:
        t_life = life.to_travel
    q_s = solid_load(life.load, p, life.width, constants.solid_load_floor)  # load that solid contact bears then
    p_m = q_s / life.width  # mean contact pressure after running in
    if compound.own_wear == 0:
        G_m = S / p_m  # duty number after running in
        sigma_phi = film_spread(case, rules, G_m)
    sigma_K = rate_spread(case, rules, K)
    w_end = worn_width(room.lip, theta, V_0, D)  # width gained at the depth that may wear
    b_end = contact_width(b_0, w_end, room.lip, 0.0, L_free)
    sigma_h = room_spread(rules, b_0, b_end)
    sigma_s = log_spread(1.0, constants.seal_scatter, NINE_IN_TEN)  # spread from seal to seal
    sigma = joined_spread(joined_spread(sigma_K, sigma_phi), joined_spread(sigma_h, sigma_s))
    h_dot = depth_rate(K.nominal * life.share, p_m, v)
    h_1000 = h_dot * THOUSAND_HOURS
    return Wearing(
        h_dot, h_1000, p_m, life.share, life.to_depth, life.to_travel, life.to_half_load, life.to_lost_load, t_life,
        sigma, by_of(life, t_life),
    )  # fmt: skip


def target_of(case: Case, rules: Rules) -> float:
    """Life that is wanted: the one stated, else that of the machine, else that of the rules.

    Returns
    -------
    t_want : s
        Life that is wanted.
    """
    if case.target_life == case.target_life:
        return case.target_life
    return rules.targets[case.application].life


def ends_of(t_life: float, sigma: float, t_want: float) -> Ends:
    """Lives that stated shares of seals reach, and the probability that a target is reached.

    Parameters
    ----------
    t_life : s
        Median life.
    sigma : -
        Standard deviation of its logarithm.
    t_want : s
        Life that is wanted.

    Returns
    -------
    t_short : s
        Life that nineteen in twenty reach.
    t_sure : s
        Life that four in five reach.
    t_median : s
        Life that half reach.
    t_long : s
        Life that one in twenty reaches.
    P : -
        Probability that the target is reached.

    References
    ----------
    Log-normal distribution (models/wear).
    """
    if t_life == inf:
        return Ends(inf, inf, inf, inf, 1.0)
    t_short = life_quantile(t_life, sigma, -NINE_IN_TEN)
    t_sure = life_quantile(t_life, sigma, -FOUR_IN_FIVE)
    t_long = life_quantile(t_life, sigma, NINE_IN_TEN)
    if t_life <= 0.0:
        return Ends(t_short, t_sure, t_life, t_long, 0.0)
    P = probability_reached(t_want, t_life, sigma)
    return Ends(t_short, t_sure, t_life, t_long, P)
