"""Speeds of a shaft surface."""

from __future__ import annotations

from math import pi


def surface_speed(d: float, n: float) -> float:
    """Speed of the shaft surface.

    Parameters
    ----------
    d : m
        Shaft diameter, > 0.
    n : 1/s
        Rotational speed in revolutions per second; the sense does not matter.

    Returns
    -------
    v : m/s
        Surface speed.

    References
    ----------
    Definition.
    """
    return pi * d * abs(n)


def rotation_speed(d: float, v: float) -> float:
    """Rotational speed that gives a surface speed.

    Parameters
    ----------
    d : m
        Shaft diameter, > 0.
    v : m/s
        Surface speed.

    Returns
    -------
    n : 1/s
        Rotational speed in revolutions per second.

    References
    ----------
    Definition.
    """
    return v / (pi * d)


def oscillation_mean_speed(d: float, theta: float, f: float) -> float:
    """Mean surface speed of an oscillating shaft.

    Holds for any motion that goes once from one end of the swing to the other and back in each cycle; it is the speed
    that wear and mean friction power follow.

    Parameters
    ----------
    d : m
        Shaft diameter, > 0.
    theta : rad
        Half of the total swing: the shaft turns between plus and minus this angle.
    f : 1/s
        Full cycles per second.

    Returns
    -------
    v_m : m/s
        Mean surface speed: the path of a cycle times the frequency.

    References
    ----------
    Definition.
    """
    return 2.0 * theta * d * f


def oscillation_peak_speed(d: float, theta: float, f: float) -> float:
    """Greatest surface speed of a shaft that oscillates as a sine.

    Other motions have other peaks.

    Parameters
    ----------
    d : m
        Shaft diameter, > 0.
    theta : rad
        Half of the total swing.
    f : 1/s
        Full cycles per second.

    Returns
    -------
    v_max : m/s
        Surface speed in the middle of the swing.

    References
    ----------
    Derivative of the angle with time, times the radius.
    """
    return pi * theta * d * f
