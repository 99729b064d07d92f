"""Lubrication of a lip as a state: what share of its load solid contact bears, from dry to a full film, without a step.

The share is a proposal of this service: nobody has published one for PTFE lips. It has the properties that are known: at
rest and in gas all of the load is borne by solid contact, with rising duty number less and less, a small share stays. Wear
goes by the share; friction has a least value between boundary and film, as Stribeck found.
"""

from __future__ import annotations

from math import atan, log1p, nan, pi, sqrt

from glandwise.mechanics.choices import Motion
from glandwise.numerics.arithmetic import greatest, least
from glandwise.numerics.lives import opaque


def viscous_stress(f_G: float, eta: float, omega: float) -> float:
    """Viscosity times angular speed, as far as the lip is supplied: the duty number times the contact pressure.

    Parameters
    ----------
    f_G : -
        Factor of the supply: 1 where the lip is flooded, less for grease, mist or a starved lip; 0 in gas and vapour, which
        carry no lip.
    eta : Pa·s
        Viscosity of the fluid at the temperature of the contact, >= 0.
    omega : rad/s
        Angular speed, whose sense does not matter; of a swinging shaft the greatest.

    Returns
    -------
    S : Pa
        Viscosity times angular speed, as far as it is supplied.

    References
    ----------
    Definition; factors of the supply are rule data.
    """
    return f_G * eta * abs(omega)


def duty_number(S: float, q: float, b: float) -> float:
    """Duty number of a lip: viscosity times angular speed over mean contact pressure.

    Parameters
    ----------
    S : Pa
        Viscosity times angular speed, as far as it is supplied, >= 0.
    q : N/m
        Line load, > 0.
    b : m
        Contact width, > 0.

    Returns
    -------
    G : -
        Duty number; infinite without load.

    References
    ----------
    Hirano and Ishiwata, Proc. IMechE 180 (1965-66) 187, lip seals (published; from memory, written there with the load per
    circumference).
    """
    return S * b / q


def film_share(G: float, G_0: float, f_0: float) -> float:
    """Share of the load that solid contact bears at steady speed.

    1 at rest and in gas, half way down to the rest at the duty number ``G_0``. A steeper fall would let the share times the
    speed sink as the speed rises, so that a faster seal wore less.

    Parameters
    ----------
    G : -
        Duty number, >= 0.
    G_0 : -
        Duty number at which half of what a film may carry is carried, > 0.
    f_0 : -
        Share that solid contact bears in a full film, 0 to 1.

    Returns
    -------
    phi : -
        Share of the load borne by solid contact.

    References
    ----------
    Proposal of this service (house estimate), set by a crank seal's remembered wear. That mixed lubrication of seals joins
    oils and water in one curve: J. Tribol. 114 (1992) 116, abstract (published).
    """
    return f_0 + (1.0 - f_0) / (1.0 + G / G_0)


@opaque(name="swing")
def swing_mean(g: float) -> float:
    """Mean of 1/(1 + g cos) over a quarter turn, weighted by cos; 1 for 0, 0 for infinity.

    Parameters
    ----------
    g : -
        Greatest of a quantity that goes with the cosine, >= 0.

    Returns
    -------
    M : -
        Weighted mean.

    References
    ----------
    Integral in closed form; derived, checked by quadrature in the tests.
    """
    if g < 0.0:
        return nan
    if g < 0.02:  # the closed form loses its digits here; coefficients are integrals of cos, cos², ...
        deep = 3.0 * pi / 16.0 - g * (8.0 / 15.0 - g * (5.0 * pi / 32.0 - g * (16.0 / 35.0 - g * 35.0 * pi / 256.0)))
        return 1.0 - g * (0.25 * pi - g * (2.0 / 3.0 - g * deep))
    if g > 1.0e17:
        return 0.5 * pi / g
    if g < 1.0:
        inner = 2.0 * atan(sqrt((1.0 - g) / (1.0 + g))) / sqrt((1.0 - g) * (1.0 + g))
    elif g > 1.0:
        root = sqrt(g - 1.0) * sqrt(g + 1.0)
        inner = log1p(g - 1.0 + root) / root
    else:
        inner = g  # 1, or not known
    return (0.5 * pi - inner) / g


def swing_share(G: float, G_0: float, f_0: float) -> float:
    """Share of the load that solid contact bears on a shaft that swings to and fro like a sine, as a mean over the way.

    At each moment as at that speed lasting, so that at reversal all of the load is borne by solid contact: what is left of
    the film there (squeeze) is not counted.

    Parameters
    ----------
    G : -
        Duty number at the greatest speed of the swing, >= 0; that is pi/2 times the one at the mean speed.
    G_0 : -
        Duty number at which half of what a film may carry is carried, > 0.
    f_0 : -
        Share that solid contact bears in a full film, 0 to 1.

    Returns
    -------
    phi : -
        Share of the load borne by solid contact, mean over the way.

    References
    ----------
    Mean of the share over a swing; derived.
    """
    g = G / G_0  # greatest duty number of the swing over that of half a film
    return f_0 + (1.0 - f_0) * swing_mean(g)


def share_of(motion: int, G: float, G_0: float, f_0: float) -> float:
    """Share of the load that solid contact bears, by the motion of the shaft.

    Parameters
    ----------
    motion : Motion
        Motion of the shaft.
    G : -
        Duty number; of a swinging shaft at its greatest speed.
    G_0 : -
        Duty number at which half of what a film may carry is carried, > 0.
    f_0 : -
        Share that solid contact bears in a full film, 0 to 1.

    Returns
    -------
    phi : -
        Share of the load borne by solid contact.

    References
    ----------
    As the motion.
    """
    if motion == Motion.swinging:
        return swing_share(G, G_0, f_0)
    return film_share(G, G_0, f_0)


def slow_share(phi: float, v: float, v_r: float, f_r: float) -> float:
    """Share of the load that solid contact bears where a slow swing leaves little film: not below a floor.

    The floor stands up to the mean speed ``v_r`` and falls as 1/v beyond it, so that nothing jumps there.

    Parameters
    ----------
    phi : -
        Share by the duty number.
    v : m/s
        Mean sliding speed of the swing; the sense does not matter.
    v_r : m/s
        Mean speed up to which the floor stands, > 0.
    f_r : -
        Floor of the share, 0 to 1.

    Returns
    -------
    phi : -
        Share of the load borne by solid contact.

    References
    ----------
    Proposal of this service (house estimate).
    """
    f_v = f_r * least(v_r / abs(v), 1.0)  # floor at this speed
    return greatest(phi, f_v)


def boiling_share(T_c: float, T_sat: float, Delta_T: float) -> float:
    """How far a film is lost because the contact is near the boiling point of the fluid: 0 cold, 1 from boiling on.

    Without a corner at either end. A fluid that does not boil has an infinite boiling point.

    Parameters
    ----------
    T_c : K
        Temperature of the contact.
    T_sat : K
        Temperature at which the fluid boils at the sealed pressure.
    Delta_T : K
        Distance below it from which the film is lost, > 0.

    Returns
    -------
    w : -
        Share of the film that is lost.

    References
    ----------
    Proposal of this service (house estimate).
    """
    x = least(greatest(1.0 - (T_sat - T_c) / Delta_T, 0.0), 1.0)  # way into the range
    return x * x * (3.0 - 2.0 * x)


def floor_share(f_0: float, w: float) -> float:
    """Share that solid contact bears at the least, where part of the film is lost whatever the duty number is.

    With it in place of ``f_0`` the share becomes phi + (1 - phi) w.

    Parameters
    ----------
    f_0 : -
        Share that solid contact bears in a full film, 0 to 1.
    w : -
        Share of the film that is lost, 0 to 1.

    Returns
    -------
    f_w : -
        Share that solid contact bears at the least.

    References
    ----------
    Definition.
    """
    return f_0 + (1.0 - f_0) * w


def film_friction(C: float, G: float) -> float:
    """Coefficient of friction of a full film under a lip.

    Parameters
    ----------
    C : -
        Factor of the law, > 0.
    G : -
        Duty number, >= 0.

    Returns
    -------
    mu_f : -
        Coefficient of friction of the film.

    References
    ----------
    Hirano and Ishiwata, Proc. IMechE 180 (1965-66) 187 (published; the exponent 1/3 from memory, the factor is a house
    estimate in rule data).
    """
    return C * G ** (1.0 / 3.0)


def mixed_friction(phi: float, mu_b: float, mu_f: float) -> float:
    """Coefficient of friction where solid contact and film share the load.

    Over the duty number it falls from the boundary value to one least value and rises again with the film.

    Parameters
    ----------
    phi : -
        Share of the load borne by solid contact, 0 to 1.
    mu_b : -
        Coefficient of friction of the boundary, >= 0.
    mu_f : -
        Coefficient of friction of the film, >= 0.

    Returns
    -------
    mu : -
        Coefficient of friction.

    References
    ----------
    Loads shared side by side; the shape is Stribeck's (published; from memory).
    """
    return phi * mu_b + (1.0 - phi) * mu_f


def mixed_wear_rate(phi: float, K_b: float) -> float:
    """Specific wear rate where solid contact and film share the load: the film does not wear.

    Parameters
    ----------
    phi : -
        Share of the load borne by solid contact, 0 to 1.
    K_b : 1/Pa
        Specific wear rate where solid contact bears all of it, >= 0.

    Returns
    -------
    K : 1/Pa
        Specific wear rate.

    References
    ----------
    Proposal of this service (house estimate).
    """
    return phi * K_b
