"""Wear of a lip after Archard.

The specific wear rate is volume per load and distance, m³/(N·m) = 1/Pa. It scatters over decades with compound,
counterface and lubrication, so that lives are ranges and never one number: each formula is asked once per end.
"""

from __future__ import annotations

from math import log1p

from glandwise.numerics.arithmetic import least


def wear_rate(K_0: float, f_c: float) -> float:
    """Specific wear rate on a shaft.

    Parameters
    ----------
    K_0 : 1/Pa
        Specific wear rate of the compound as tested, > 0.
    f_c : -
        Factor of roughness and hardness of this shaft against that of the test, > 0.

    Returns
    -------
    K : 1/Pa
        Specific wear rate on this shaft.

    References
    ----------
    Convention of this service (house estimate); rates and factors are rule data with sources of their own.
    """
    return f_c * K_0


def depth_rate(K: float, p_c: float, v: float) -> float:
    """Depth worn per time.

    Steady wear after running in. The proportionality to pressure and speed holds in PTFE compounds within the mild and
    within the severe regime, with a far greater rate in the severe one: a rate belongs to a regime, and the change between
    them goes by pressure and surface temperature.

    Parameters
    ----------
    K : 1/Pa
        Specific wear rate, >= 0.
    p_c : Pa
        Mean contact pressure, >= 0.
    v : m/s
        Mean sliding speed, whose sense does not matter.

    Returns
    -------
    h_dot : m/s
        Depth worn per time.

    References
    ----------
    Archard, J. Appl. Phys. 24 (1953) 981 (published; from memory). The two regimes: ASME J. Eng. Ind. 89 (1967) 182,
    abstract (published).
    """
    return K * p_c * abs(v)


def relieved_distance(K: float, q_0: float, k: float, b: float, h_a: float) -> float:
    """Sliding distance to an allowance, the load falling as the lip wears.

    Loss of load linear with depth, constant contact width. A part of the load that comes from pressure does not fall with
    wear. An infinite distance is no endless life: the contact load is then what ends it.

    Parameters
    ----------
    K : 1/Pa
        Specific wear rate, >= 0.
    q_0 : N/m
        Line load at the start, >= 0.
    k : N/m²
        Line load lost per worn depth, by lip and energizer together, >= 0; 0 keeps the load.
    b : m
        Axial contact width, > 0.
    h_a : m
        Depth that may wear, > 0.

    Returns
    -------
    s : m
        Sliding distance to the allowance; infinite where the load is gone before it is worn.

    References
    ----------
    Derived from Archard's law; checked by numerical integration in the tests.
    """
    s_0 = h_a * b / (K * q_0)  # distance if the load stayed as it is
    x = least(k * h_a / q_0, 1.0)  # share of the load that goes with the allowance
    if x <= 0.0:
        return s_0
    return s_0 * (-log1p(-x) / x)
