"""Wear of the lip: how fast at the start, how long to what it may give."""

from __future__ import annotations

import sys
from enum import IntEnum
from math import inf, nan
from typing import TYPE_CHECKING, NamedTuple

from glandwise.case.choices import Energizer
from glandwise.case.lip_fit import interference_at
from glandwise.case.sizing import load_factor
from glandwise.mechanics.viscoelastic import relaxed_share
from glandwise.mechanics.wear import depth_rate, relieved_distance, wear_rate
from glandwise.numerics.arithmetic import greatest, least
from glandwise.numerics.interpolation import curve_at
from glandwise.physics.constants import THOUSAND_HOURS

if TYPE_CHECKING:
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case
    from glandwise.physics.energizer import Spring
    from glandwise.physics.heat_balance import Running
    from glandwise.physics.lip import Shape
    from glandwise.physics.state import State


class AllowedBy(IntEnum):
    """What sets the wear that is allowed."""

    lip = 0
    energizer = 1
    interference = 2
    request = 3


class Room(NamedTuple):
    """Wear that a seal has to give, and what sets it."""

    depth: float
    """[m]"""
    by: AllowedBy


class Rates(NamedTuple):
    """Specific wear rate on the shaft of the case [1/Pa]."""

    low: float
    nominal: float
    high: float


class Worn(NamedTuple):
    """Depth worn per time [m/s] and in a thousand hours [m], and time to the allowance [s]; NaN where not known."""

    depth_low: float
    depth_nominal: float
    depth_high: float
    in_1000_h_low: float
    in_1000_h: float
    in_1000_h_high: float
    long: float
    nominal: float
    short: float


class Wearing(NamedTuple):
    """Nominal wear."""

    rate: float
    """Depth per second at the start [m/s]."""
    life: float
    """Time to the allowance [s]; infinite where nothing wears or the load is lost before."""


def room_of(case: Case, rules: Rules, stated: float) -> Room:
    """Radial wear at which the seal is taken as worn out: the least of what lip, energizer and fit can give.

    A garter presses on, but against a lip that is worn past its interference it soon presses in vain.

    Parameters
    ----------
    stated : m
        Depth that may wear as the request has it; NaN where it does not say.

    Returns
    -------
    h_a : m
        Depth that may wear.
    by : -
        What sets it.

    References
    ----------
    House estimate (models/wear).
    """
    if stated == stated:
        return Room(stated, AllowedBy.request)
    constants = rules.constants[0]
    h_t = constants.lip_allowance_share * case.lip_thickness  # what the thickness of the lip gives
    if case.energizer == Energizer.cantilever_v:
        h_e = constants.energizer_allowance_share * case.v_deflection  # what the travel of the energizer gives
        return Room(least(h_t, h_e), AllowedBy.lip if h_t <= h_e else AllowedBy.energizer)
    if case.energizer == Energizer.canted_coil:
        h_e = constants.energizer_allowance_share * case.coil_deflection  # what the travel of the energizer gives
        return Room(least(h_t, h_e), AllowedBy.lip if h_t <= h_e else AllowedBy.energizer)
    i_T = interference_at(case, rules, case.temperature)
    h_i = constants.interference_allowance_share * greatest(i_T, 0.0)  # what the interference gives
    return Room(least(h_t, h_i), AllowedBy.lip if h_t <= h_i else AllowedBy.interference)


def rates_of(case: Case, rules: Rules) -> Rates:
    """Specific wear rate of the compound against the shaft of the case.

    Returns
    -------
    K_low : 1/Pa
        Favourable specific wear rate on this shaft.
    K : 1/Pa
        Specific wear rate on this shaft.
    K_high : 1/Pa
        Unfavourable specific wear rate on this shaft.
    """
    compound, factor = rules.compounds[case.compound], rules.shaft_materials[case.shaft_material].wear_factor
    K_low = wear_rate(compound.wear_low[case.lubrication], factor)
    K = wear_rate(compound.wear[case.lubrication], factor)
    K_high = wear_rate(compound.wear_high[case.lubrication], factor)
    return Rates(K_low, K, K_high)


def lost_stiffness(case: Case, rules: Rules, shape: Shape, spring: Spring, T_c: float, t_load: float) -> float:
    """Load that lip and energizer lose per worn depth.

    Parameters
    ----------
    T_c : K
        Contact temperature.
    t_load : s
        Time under load.

    Returns
    -------
    k_w : N/m²
        Load lost per worn depth.
    """
    compound = rules.compounds[case.compound]
    k_lip = shape.stiffness * curve_at(compound.elastic_modulus, T_c)  # stiffness of the lip, not relaxed
    f_t = relaxed_share(compound.relaxation, T_c, t_load)
    return (k_lip * f_t + spring.stiffness) * load_factor(case, rules)


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


LARGEST = sys.float_info.max


def time_for(s: float, v: float) -> float:
    """Time for a distance, infinite only where the distance is or nothing slides; one that ends is no more than a float holds."""
    t = s / v
    if t == inf and (s < inf and v > 0.0):
        return LARGEST
    return t


def told_life(t_life: float, t_max: float) -> float:
    """Life as it is told: none longer than the longest that is estimated.

    Parameters
    ----------
    t_life : s
        Time to the allowance.
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


def worn(case: Case, running: Running, K: Rates, k_w: float, h_a: float) -> Worn:
    """Wear at the start and time to the allowance, the load falling as the lip wears.

    Parameters
    ----------
    k_w : N/m²
        Load lost per worn depth.
    h_a : m
        Depth that may wear.

    Returns
    -------
    h_dot_low : m/s
        Depth worn per second at the start, favourable.
    h_dot : m/s
        Depth worn per second at the start.
    h_dot_high : m/s
        Depth worn per second at the start, unfavourable.
    h_1000_low : m
        Depth worn in 1000 h, favourable.
    h_1000 : m
        Depth worn in 1000 h.
    h_1000_high : m
        Depth worn in 1000 h, unfavourable.
    t_life_long : s
        Time to the allowance, with the favourable rate.
    t_life : s
        Time to the allowance.
    t_life_short : s
        Time to the allowance, with the unfavourable rate.

    References
    ----------
    Archard; the load that falls as the lip wears (models/wear).
    """
    if running.temperature != running.temperature:
        return Worn(nan, nan, nan, nan, nan, nan, nan, nan, nan)
    v, q, b, p_c = case.surface_speed, running.load, running.width, running.contact_pressure
    h_dot_low = depth_rate(K.low, p_c, v)
    h_dot = depth_rate(K.nominal, p_c, v)
    h_dot_high = depth_rate(K.high, p_c, v)
    s_low = relieved_distance(K.low, q, k_w, b, h_a)
    s = relieved_distance(K.nominal, q, k_w, b, h_a)
    s_high = relieved_distance(K.high, q, k_w, b, h_a)
    return Worn(
        h_dot_low, h_dot, h_dot_high, h_dot_low * THOUSAND_HOURS, h_dot * THOUSAND_HOURS, h_dot_high * THOUSAND_HOURS,
        time_for(s_low, v), time_for(s, v), time_for(s_high, v),
    )  # fmt: skip


def wearing(case: Case, rules: Rules, state: State) -> Wearing:
    """Nominal wear in the nominal running state.

    Returns
    -------
    h_dot : m/s
        Depth worn per second at the start.
    t_life : s
        Time to the allowance.

    References
    ----------
    Archard; the load that falls as the lip wears (models/wear).
    """
    factor = rules.shaft_materials[case.shaft_material].wear_factor
    K = wear_rate(rules.compounds[case.compound].wear[case.lubrication], factor)
    h_a = room_of(case, rules, nan).depth
    T_c = state.running.temperature
    k_w = lost_stiffness(case, rules, state.shape, state.spring, T_c, rules.constants[0].nominal_time)
    s = relieved_distance(K, state.running.load, k_w, state.running.width, h_a)
    h_dot = depth_rate(K, state.running.contact_pressure, case.surface_speed)
    return Wearing(h_dot, s / case.surface_speed)
