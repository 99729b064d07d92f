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
