"""Friction of the lips: after how long, with which coefficient, and what each lip makes of it."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from glandwise.mechanics.contact import friction, mean_contact_pressure
from glandwise.physics.heat_balance import Running, Surroundings, balance

if TYPE_CHECKING:
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case
    from glandwise.physics.energizer import Spring


class LipFriction(NamedTuple):
    """Friction of one lip."""

    contact_pressure: float
    """[Pa]"""
    torque: float
    """[N m]"""
    power: float
    """[W]"""


class Level(NamedTuple):
    """Friction after a time with one coefficient."""

    running: Running
    main: LipFriction
    second: LipFriction


def lip_friction(case: Case, mu: float, q: float, b: float) -> LipFriction:
    """Friction of one lip by its load.

    Parameters
    ----------
    mu : -
        Friction coefficient.
    q : N/m
        Contact load of the lip.
    b : m
        Width of its contact.

    Returns
    -------
    p_c : Pa
        Mean contact pressure of the lip.
    M : N·m
        Friction torque of the lip.
    P : W
        Frictional heat of the lip.

    References
    ----------
    Coulomb friction (models/contact_friction).
    """
    made = friction(mu, q, case.shaft_diameter, case.rotational_speed)
    p_c = mean_contact_pressure(q, b)
    M = made.torque  # friction torque of the lip
    P = made.power  # frictional heat of the lip
    return LipFriction(p_c, M, P)


def both_lips(case: Case, running: Running) -> tuple[LipFriction, LipFriction]:
    """Friction of the main lip and of the second one, each with its own film.

    Returns
    -------
    main : LipFriction
        Friction of the main lip.
    second : LipFriction
        Friction of the second lip; without one it has none.
    """
    main = lip_friction(case, running.friction, running.solid_load, running.width)
    second = lip_friction(case, running.second_friction, running.second_load, case.contact_width)
    return main, second


def level(
    case: Case, rules: Rules, spring: Spring, around: Surroundings, mu_b: float, C: float, t_load: float, root: int
) -> Level:
    """Running state with one friction of solid contact and of a film after a time under load, and what each lip has of it.

    The energizer, which the fluid surrounds, has the normal temperature. A vacuum takes load off.

    Parameters
    ----------
    mu_b : -
        Friction coefficient where solid contact bears all of the load.
    C : -
        Friction of a full film over the cube root of the duty number.
    t_load : s
        Time under load.
    root : LipRoot
        What the root of the lip does.
    """
    running = balance(case, rules, around, spring.line_load, case.pressure, mu_b, C, t_load, root)
    main, second = both_lips(case, running)
    return Level(running, main, second)
