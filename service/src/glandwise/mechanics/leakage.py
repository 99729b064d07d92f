"""Leakage of gas through a contact, as if it were a slit of even height: an order, by which a class is chosen."""

from __future__ import annotations


def gas_leakage(h: float, b: float, L: float, p_1: float, p_2: float, eta: float) -> float:
    """Gas that a narrow slit lets through, as pressure times volume per time.

    Isothermal, laminar, continuum: where the height comes near the free path (0.1 to 0.2 µm for helium at one bar) slip lets
    more through. The height of a real contact is not known; it stands for its roughness.

    Parameters
    ----------
    h : m
        Height of the slit, >= 0.
    b : m
        Contact width, along the flow, > 0.
    L : m
        Length of the slit across the flow: the circumference of the shaft.
    p_1 : Pa
        Absolute pressure before it.
    p_2 : Pa
        Absolute pressure behind it.
    eta : Pa·s
        Viscosity of the gas, > 0.

    Returns
    -------
    Q : W
        Pressure times volume per time (1 mbar·l/s is 0.1 W).

    References
    ----------
    Plane flow between plates (Reynolds) of an ideal gas; derived.
    """
    return L * h**3 * (p_1**2 - p_2**2) / (24.0 * eta * b)
