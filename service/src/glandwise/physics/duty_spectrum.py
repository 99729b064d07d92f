"""What the phases of a duty add up to: means over time, wear, life.

Phases add up linearly: their order does not count, nor what one does to the transfer film of the next. Standstill makes no
heat and no wear.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import nan
from typing import NamedTuple, Protocol

from glandwise.mechanics.wear import relieved_distance
from glandwise.numerics.arithmetic import greatest, least
from glandwise.physics.constants import THOUSAND_HOURS
from glandwise.physics.wear import Rates, Worn, time_for


class PhaseNumbers(Protocol):
    """A phase: its share of the time and its nominal running state."""

    share: float
    """tau [-]: Share of calendar time"""
    speed: float
    """v [m/s]: Mean surface speed"""
    contact_pressure: float
    """p_c [Pa]: Mean contact pressure"""
    load: float
    """q [N/m]: Contact load"""
    width: float
    """b [m]: Contact width"""
    lost_stiffness: float
    """k_w [N/m²]: Load lost per worn depth"""
    power_low: float
    """P_low [W]: Frictional heat with low friction"""
    power: float
    """P [W]: Frictional heat"""
    power_high: float
    """P_high [W]: Frictional heat with high friction"""
    torque: float
    """M [N·m]: Friction torque"""
    torque_high: float
    """M_high [N·m]: Friction torque with high friction"""


Phases = Sequence[PhaseNumbers]


class Means(NamedTuple):
    """Means over calendar time; the torque while a phase lasts."""

    power_low: float
    power: float
    power_high: float
    torque: float
    greatest_torque: float
    """Of all phases, new and with high friction."""
    speed: float


def _power_low(phases: Phases) -> float:
    total = 0.0
    for i in range(len(phases)):
        part = phases[i].share * phases[i].power_low
        total = part if i == 0 else total + part
    return total


def _power(phases: Phases) -> float:
    total = 0.0
    for i in range(len(phases)):
        part = phases[i].share * phases[i].power
        total = part if i == 0 else total + part
    return total


def _power_high(phases: Phases) -> float:
    total = 0.0
    for i in range(len(phases)):
        part = phases[i].share * phases[i].power_high
        total = part if i == 0 else total + part
    return total


def _torque(phases: Phases) -> float:
    total = 0.0
    for i in range(len(phases)):
        part = phases[i].share * phases[i].torque
        total = part if i == 0 else total + part
    return total


def _share(phases: Phases) -> float:
    total = 0.0
    for i in range(len(phases)):
        total = phases[i].share if i == 0 else total + phases[i].share
    return total


def _greatest_torque(phases: Phases) -> float:
    most = nan
    for i in range(len(phases)):
        most = phases[i].torque_high if i == 0 else greatest(most, phases[i].torque_high)
    return most


def _speed(phases: Phases) -> float:
    total = 0.0
    for i in range(len(phases)):
        part = phases[i].share * phases[i].speed
        total = part if i == 0 else total + part
    return total


def means_of(lasting: Phases, every: Phases) -> Means:
    """Means of the phases that last, over all time, and the greatest torque of all phases, lasting or not.

    Returns
    -------
    P_mean_low : W
        Mean frictional heat with low friction.
    P_mean : W
        Mean frictional heat.
    P_mean_high : W
        Mean frictional heat with high friction.
    M_mean : N·m
        Mean torque while a phase lasts.
    M_most : N·m
        Greatest torque of a running lip, new and with high friction.
    v_all : m/s
        Mean surface speed over all time.

    References
    ----------
    Means over calendar time.
    """
    if len(lasting) == 0:
        return Means(0.0, 0.0, 0.0, nan, _greatest_torque(every), 0.0)
    return Means(
        _power_low(lasting), _power(lasting), _power_high(lasting), _torque(lasting) / _share(lasting),
        _greatest_torque(every), _speed(lasting),
    )  # fmt: skip


def _pressure_velocity(phases: Phases) -> float:
    total = 0.0
    for i in range(len(phases)):
        part = phases[i].share * phases[i].contact_pressure * phases[i].speed
        total = part if i == 0 else total + part
    return total


def _load(phases: Phases) -> float:
    total = 0.0
    for i in range(len(phases)):
        part = phases[i].share * phases[i].speed * phases[i].load
        total = part if i == 0 else total + part
    return total


def _loss(phases: Phases, h_a: float) -> float:
    total = 0.0
    for i in range(len(phases)):
        lost = least(phases[i].lost_stiffness, phases[i].load / h_a)
        part = phases[i].share * phases[i].speed * lost / phases[i].width
        total = part if i == 0 else total + part
    return total


def worn_by(phases: Phases, K: Rates, v_all: float, h_a: float) -> Worn:
    """Wear of the phases that last, the load falling as the lip wears.

    In each phase the lip loses load at its own stiffness. A phase whose load would be gone before the allowance is taken to
    lose it evenly up to there, so that it never counts as healing.

    Parameters
    ----------
    v_all : m/s
        Mean surface speed over all time.
    h_a : m
        Depth that may wear.

    Returns
    -------
    h_dot_low : m/s
        Depth worn per calendar time at the start, favourable.
    h_dot : m/s
        Depth worn per calendar time at the start.
    h_dot_high : m/s
        Depth worn per calendar time at the start, unfavourable.
    h_1000_low : m
        Depth worn in 1000 h, favourable.
    h_1000 : m
        Depth worn in 1000 h.
    h_1000_high : m
        Depth worn in 1000 h, unfavourable.
    t_life_long : s
        Calendar time to the allowance, with the favourable rate.
    t_life : s
        Calendar time to the allowance.
    t_life_short : s
        Calendar time to the allowance, with the unfavourable rate.

    References
    ----------
    Archard, summed over the phases; the load that falls as the lip wears (models/wear).
    """
    if len(phases) == 0:
        return Worn(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, nan, nan, nan)
    pv = _pressure_velocity(phases)  # contact pressure times speed, mean over all time
    q_all = _load(phases) / v_all  # contact load, mean over the way
    b = phases[0].width  # contact width
    if pv > 0.0:
        b = q_all * v_all / pv  # contact width at which the mean load gives the mean pressure
    k_all = _loss(phases, h_a) / v_all * b  # load lost per worn depth, mean over the way
    h_dot_low = K.low * pv
    h_dot = K.nominal * pv
    h_dot_high = K.high * pv
    s_low = relieved_distance(K.low, q_all, k_all, b, h_a)
    s = relieved_distance(K.nominal, q_all, k_all, b, h_a)
    s_high = relieved_distance(K.high, q_all, k_all, b, h_a)
    return Worn(
        h_dot_low, h_dot, h_dot_high, h_dot_low * THOUSAND_HOURS, h_dot * THOUSAND_HOURS, h_dot_high * THOUSAND_HOURS,
        time_for(s_low, v_all), time_for(s, v_all), time_for(s_high, v_all),
    )  # fmt: skip


def wear_share(tau: float, p_c: float, v: float, phases: Phases) -> float:
    """Share of a phase in the wear of all; NaN where nothing wears.

    Parameters
    ----------
    tau : -
        Share of calendar time.
    p_c : Pa
        Mean contact pressure.
    v : m/s
        Mean surface speed.

    Returns
    -------
    w : -
        Share of the phase in the wear.

    References
    ----------
    Archard, summed over the phases (models/wear).
    """
    return tau * p_c * v / _pressure_velocity(phases)
