"""Wear of a seal lip by Archard's law, as a range.

The specific wear rate K is volume per load and distance, m³/(N·m) = 1/Pa; the usual mm³/(N·m) is 1e-9 of it. It
scatters over decades with compound, counterface and lubrication, so lives are ranges and never one number.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from glandwise.twofold import numeric as num


class WearRate(NamedTuple):
    """Range of the specific wear rate."""

    low: num.Real
    """Slowest wear [1/Pa]"""
    nominal: num.Real
    """Geometric middle unless stated [1/Pa]"""
    high: num.Real
    """Fastest wear [1/Pa]"""


class Life(NamedTuple):
    """Range of time or distance to a wear allowance."""

    short: num.Real
    """At the highest wear rate [s or m]"""
    nominal: num.Real
    """At the nominal wear rate [s or m]"""
    long: num.Real
    """At the lowest wear rate [s or m]"""


class DutyWear(NamedTuple):
    """Wear over a duty of several phases."""

    depth_rate: num.Real
    """Time mean of the depth rate [m/s]"""
    contributions: tuple[num.Real, ...]
    """Share of each phase in the wear, summing to 1; nan if nothing wears [-]"""


def depth_rate(wear_rate: num.Real, contact_pressure: num.Real, surface_speed: num.Real) -> num.Real:
    r"""Depth worn per second.

    .. math:: \dot h = K\,p_c\,|v|

    Parameters
    ----------
    wear_rate : float or array
        Specific wear rate :math:`K`, >= 0. [1/Pa]
    contact_pressure : float or array
        Mean contact pressure :math:`p_c`, >= 0. [Pa]
    surface_speed : float or array
        Mean magnitude of the sliding speed :math:`v`. [m/s]

    Returns
    -------
    float or array
        :math:`\dot h`. [m/s]

    Notes
    -----
    Steady wear after running-in. In PTFE compounds the proportionality to pressure and speed holds within the mild
    and within the severe regime, with a far greater factor in the severe one: K belongs to a regime, and the change
    between them goes by pressure and surface temperature.

    References
    ----------
    Archard, J. Appl. Phys. 24 (1953) 981 (published; from memory). The two regimes: ASME J. Eng. Ind. 89 (1967) 182,
    abstract (published).
    """
    return wear_rate * contact_pressure * num.absolute(surface_speed)


def wear_depth(wear_rate: num.Real, contact_pressure: num.Real, distance: num.Real) -> num.Real:
    r"""Depth worn over a sliding distance at steady contact pressure.

    .. math:: h = K\,p_c\,s

    Parameters
    ----------
    wear_rate : float or array
        Specific wear rate :math:`K`, >= 0. [1/Pa]
    contact_pressure : float or array
        Mean contact pressure :math:`p_c`, >= 0. [Pa]
    distance : float or array
        Sliding distance :math:`s`, >= 0. [m]

    Returns
    -------
    float or array
        :math:`h`. [m]

    Notes
    -----
    As `depth_rate`.

    References
    ----------
    As `depth_rate`.
    """
    return wear_rate * contact_pressure * distance


def wear_distance(wear_rate: num.Real, contact_pressure: num.Real, allowance: num.Real) -> num.Real:
    r"""Sliding distance to a wear allowance at steady contact pressure.

    .. math:: s = \frac{h_a}{K\,p_c}

    Parameters
    ----------
    wear_rate : float or array
        Specific wear rate :math:`K`, >= 0. [1/Pa]
    contact_pressure : float or array
        Mean contact pressure :math:`p_c`, >= 0. [Pa]
    allowance : float or array
        Allowed depth :math:`h_a`, > 0. [m]

    Returns
    -------
    float or array
        :math:`s`; infinite where nothing wears. [m]

    Notes
    -----
    As `depth_rate`.

    References
    ----------
    As `depth_rate`.
    """
    return num.divide(allowance, wear_rate * contact_pressure)


def wear_rate_range(
    low: num.Real,
    high: num.Real,
    counterface_factor: num.Real = 1.0,
    lubrication_factor: num.Real = 1.0,
    nominal: num.Real | None = None,
) -> WearRate:
    r"""Range of the specific wear rate on a given counterface and in a given lubrication.

    .. math:: K_i = f_c\,f_l\,K_{i,0}, \qquad K_{\mathrm{nominal},0} = \sqrt{K_{\mathrm{low},0} K_{\mathrm{high},0}}

    Parameters
    ----------
    low : float or array
        Least specific wear rate of the compound as tested, > 0. [1/Pa]
    high : float or array
        Greatest, >= ``low``. [1/Pa]
    counterface_factor : float or array
        :math:`f_c` for roughness, hardness and lead of the shaft against the test's, > 0. [-]
    lubrication_factor : float or array
        :math:`f_l` for the lubrication against the test's, > 0. [-]
    nominal : float or array or None
        A stated middle value in place of the geometric mean. [1/Pa]

    Returns
    -------
    WearRate
        Low, nominal, high. [1/Pa]

    Notes
    -----
    The geometric mean is the middle of a range that spans decades; it is a convention and not a measurement. The two
    factors are taken as independent.

    References
    ----------
    Convention of this service (house estimate); the ranges and factors are rule data with their own sources.
    """
    factor = counterface_factor * lubrication_factor
    middle = num.sqrt(low * high) if nominal is None else nominal
    return WearRate(factor * low, factor * middle, factor * high)


def life(allowance: num.Real, wear_rate: WearRate, contact_pressure: num.Real, surface_speed: num.Real) -> Life:
    r"""Range of running time to a wear allowance at steady load.

    .. math:: t_i = \frac{h_a}{K_i\,p_c\,|v|}

    Parameters
    ----------
    allowance : float or array
        Allowed depth :math:`h_a`: a share of the lip thickness or of the energizer's travel, > 0. [m]
    wear_rate : WearRate
        Range of :math:`K`. [1/Pa]
    contact_pressure : float or array
        Mean contact pressure :math:`p_c`, >= 0. [Pa]
    surface_speed : float or array
        Mean magnitude of the sliding speed :math:`v`. [m/s]

    Returns
    -------
    Life
        Short, nominal, long; infinite where nothing slides. [s]

    Notes
    -----
    Load and contact width as at the start. A lip that loses load or gains width as it wears lasts longer:
    `relieved_distance`, `rounded_edge_depth`.

    References
    ----------
    As `depth_rate`.
    """
    return Life(
        num.divide(allowance, depth_rate(wear_rate.high, contact_pressure, surface_speed)),
        num.divide(allowance, depth_rate(wear_rate.nominal, contact_pressure, surface_speed)),
        num.divide(allowance, depth_rate(wear_rate.low, contact_pressure, surface_speed)),
    )


def duty_wear(time_shares: Sequence[num.Real], depth_rates: Sequence[num.Real]) -> DutyWear:
    r"""Wear over a duty of phases.

    .. math:: \dot h = \sum_j \tau_j \dot h_j, \qquad w_j = \frac{\tau_j \dot h_j}{\dot h}

    Parameters
    ----------
    time_shares : sequence of (float or array)
        Share of calendar time :math:`\tau_j` of each phase, 0..1, together at most 1; what is missing is standstill.
        [-]
    depth_rates : sequence of (float or array)
        Depth rate :math:`\dot h_j` in each phase, from `depth_rate` with that phase's K, pressure and speed. [m/s]

    Returns
    -------
    DutyWear
        Mean depth rate, ``nan`` if the shares exceed 1 or one is negative; share of each phase in it. [m/s], [-]

    Raises
    ------
    ValueError
        If the two sequences differ in length (a fault of the caller, not of a case).

    Notes
    -----
    Linear accumulation: the order of the phases does not count, nor does what one does to the transfer film of the
    next.

    References
    ----------
    Sum of `depth_rate` over time.
    """
    total: num.Real = 0.0
    elapsed: num.Real = 0.0
    least: num.Real = 0.0
    parts = []
    for share, rate in zip(time_shares, depth_rates, strict=True):
        part = share * rate
        parts.append(part)
        total = total + part
        elapsed = elapsed + share
        least = num.minimum(least, share)
    total = num.where((elapsed <= 1.0 + _ROUNDING) & (least >= 0.0), total, num.nan)
    return DutyWear(total, tuple(num.divide(part, total) for part in parts))


_ROUNDING = 1.0e-9
"""Shares written in decimals may sum to a little more than one."""


def relieved_depth(
    wear_rate: num.Real, line_load: num.Real, stiffness: num.Real, contact_width: num.Real, distance: num.Real
) -> num.Real:
    r"""Depth worn when the load falls as the lip wears.

    .. math:: \frac{\mathrm{d}h}{\mathrm{d}s} = \frac{K}{b}(q_0 - k h)
              \quad\Rightarrow\quad
              h = \frac{q_0}{k} \left( 1 - e^{-K k s/b} \right)

    Parameters
    ----------
    wear_rate : float or array
        Specific wear rate :math:`K`, >= 0. [1/Pa]
    line_load : float or array
        Contact line load at the start :math:`q_0`, >= 0. [N/m]
    stiffness : float or array
        Loss of line load per worn depth :math:`k`, of lip and energizer together, >= 0; 0 keeps the load. [N/m²]
    contact_width : float or array
        Axial contact width :math:`b`, > 0. [m]
    distance : float or array
        Sliding distance :math:`s`, >= 0. [m]

    Returns
    -------
    float or array
        :math:`h`, never more than :math:`q_0/k`. [m]

    Notes
    -----
    Linear loss of load, constant width. What part of the load comes from pressure does not fall with wear: put it
    into ``line_load`` with its share of the stiffness zero. Sealing ends before the load does; the allowance is the
    caller's.

    References
    ----------
    Derived from Archard's law; checked by numerical integration in the tests.
    """
    full = wear_rate * line_load * distance / contact_width
    exponent = wear_rate * stiffness * distance / contact_width
    # (1 - exp(-x))/x, whose limit without stiffness is one
    factor = num.where(exponent > 0.0, -num.expm1(-exponent) / num.where(exponent > 0.0, exponent, 1.0), 1.0)
    return full * factor


def relieved_distance(
    wear_rate: num.Real, line_load: num.Real, stiffness: num.Real, contact_width: num.Real, allowance: num.Real
) -> num.Real:
    r"""Sliding distance to a wear allowance when the load falls as the lip wears.

    .. math:: s = -\frac{b}{K k} \ln\!\left( 1 - \frac{k h_a}{q_0} \right)

    Parameters
    ----------
    wear_rate : float or array
        Specific wear rate :math:`K`, >= 0. [1/Pa]
    line_load : float or array
        Contact line load at the start :math:`q_0`, >= 0. [N/m]
    stiffness : float or array
        Loss of line load per worn depth :math:`k`, >= 0. [N/m²]
    contact_width : float or array
        Axial contact width :math:`b`, > 0. [m]
    allowance : float or array
        Allowed depth :math:`h_a`, > 0. [m]

    Returns
    -------
    float or array
        :math:`s`; infinite where the load is gone before the allowance. [m]

    Notes
    -----
    As `relieved_depth`. An infinite distance is no endless life: the contact load is then what ends it.

    References
    ----------
    Inverse of `relieved_depth`.
    """
    full = num.divide(allowance * contact_width, wear_rate * line_load)
    lost = num.minimum(num.divide(stiffness * allowance, line_load), 1.0)
    factor = num.where(lost > 0.0, -num.log1p(-lost) / num.where(lost > 0.0, lost, 1.0), 1.0)
    return full * factor


def rounded_edge_depth(wear_rate: num.Real, line_load: num.Real, edge_radius: num.Real, distance: num.Real) -> num.Real:
    r"""Depth worn off a rounded edge, whose contact widens as it wears flat.

    .. math:: b = 2\sqrt{2 R h} \quad\Rightarrow\quad
              h = \left( \frac{3 K q s}{4 \sqrt{2 R}} \right)^{2/3}

    Parameters
    ----------
    wear_rate : float or array
        Specific wear rate :math:`K`, >= 0. [1/Pa]
    line_load : float or array
        Contact line load :math:`q`, constant, >= 0. [N/m]
    edge_radius : float or array
        Radius :math:`R` of the edge in the axial plane, > 0. [m]
    distance : float or array
        Sliding distance :math:`s`, >= 0. [m]

    Returns
    -------
    float or array
        :math:`h`, for depths small beside the radius. [m]

    Notes
    -----
    Geometric width only: the elastic width of a new edge, which rules at the very start, is left out, so early wear
    is overstated. The chord of a circle is taken as a parabola, good to 1 % in width up to h = R/25.

    References
    ----------
    Derived from Archard's law; checked by numerical integration in the tests.
    """
    return num.power(0.75 * wear_rate * line_load * distance / num.sqrt(2.0 * edge_radius), 2.0 / 3.0)
