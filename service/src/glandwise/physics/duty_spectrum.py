"""What the phases of a duty add up to: means over time, wear, life.

Phases add up linearly: their order does not count, nor what one does to the transfer film of the next. Standstill makes no
heat and no wear.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf, nan
from typing import NamedTuple, Protocol

from glandwise.numerics.arithmetic import greatest
from glandwise.physics.constants import THOUSAND_HOURS


class PhaseNumbers(Protocol):
    """A phase: its share of the time and its nominal running state."""

    share: float
    """tau [-]: Share of calendar time"""
    speed: float
    """v [m/s]: Mean surface speed"""
    wear_rate: float
    """h_dot [m/s]: Depth worn per second"""
    life: float
    """t_life [s]: Median life if it went on so"""
    spread: float
    """sigma [-]: Standard deviation of its logarithm"""
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


class Worn(NamedTuple):
    """Wear and life by calendar time."""

    rate: float
    """Depth per second [m/s]."""
    in_1000_h: float
    """Depth in a thousand hours [m]."""
    life: float
    """Median [s]."""
    spread: float
    """Standard deviation of its logarithm."""


def _rate(phases: Phases) -> float:
    total = 0.0
    for i in range(len(phases)):
        part = phases[i].share * phases[i].wear_rate
        total = part if i == 0 else total + part
    return total


def _used(phases: Phases) -> float:
    total = 0.0
    for i in range(len(phases)):
        part = phases[i].share / phases[i].life
        total = part if i == 0 else total + part
    return total


def _spread(phases: Phases) -> float:
    total = 0.0
    for i in range(len(phases)):
        part = phases[i].share / phases[i].life * phases[i].spread
        total = part if i == 0 else total + part
    return total


def worn_by(phases: Phases) -> Worn:
    """Wear and life of the phases that last: each uses up its share of the life that it would have alone.

    Returns
    -------
    h_dot : m/s
        Depth worn per calendar time, after running in.
    h_1000 : m
        Depth worn in 1000 h.
    t_life : s
        Calendar time that half of the seals reach; infinite where wear does not govern.
    sigma : -
        Standard deviation of its logarithm: that of the phases by what they use up.

    References
    ----------
    Shares of a life add up (Palmgren and Miner, from memory); as wear adds up, whose end is the same in each phase.
    """
    if len(phases) == 0:
        return Worn(0.0, 0.0, inf, 0.0)
    h_dot = _rate(phases)
    h_1000 = h_dot * THOUSAND_HOURS
    u = _used(phases)  # life used up per calendar time
    if u == 0.0:
        return Worn(h_dot, h_1000, inf, 0.0)
    return Worn(h_dot, h_1000, 1.0 / u, _spread(phases) / u)


def wear_share(tau: float, h_dot: float, phases: Phases) -> float:
    """Share of a phase in the wear of all; NaN where nothing wears.

    Parameters
    ----------
    tau : -
        Share of calendar time.
    h_dot : m/s
        Depth worn per second.

    Returns
    -------
    w : -
        Share of the phase in the wear.

    References
    ----------
    Archard, summed over the phases (models/wear).
    """
    return tau * h_dot / _rate(phases)
