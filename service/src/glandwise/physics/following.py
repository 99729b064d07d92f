"""How much runout the lip follows at speed.

The model (see :mod:`glandwise.mechanics.following`) is judged at its worst: the lip has relaxed at the highest
temperature for the service time, and what it can still give back holds it to the shaft at the coldest state (20 degC or
the lowest temperature) and at the hottest; the lesser allowance counts. Pressure, which would help to hold the lip, is
not counted: the seal must also follow while the machine starts up without it. So a harsher duty never looks
better (a wider span of temperature, by no more than the dip of a few hundredths that may lie between its ends).
"""

from __future__ import annotations

from math import pi
from typing import TYPE_CHECKING, NamedTuple

from glandwise.case.choices import Energizer
from glandwise.case.lip_fit import interference_at
from glandwise.mechanics.choices import Governs, LipRoot
from glandwise.mechanics.following import HeldLip, followed_runout, held_lip
from glandwise.mechanics.viscoelastic import relaxed_share
from glandwise.numerics.arithmetic import greatest, least
from glandwise.numerics.interpolation import curve_at
from glandwise.physics.constants import ROOM, UNIT_PRESSURE
from glandwise.physics.energizer import spring_at, turn_of
from glandwise.physics.lip import touching
from glandwise.physics.ratings import rated

if TYPE_CHECKING:
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case
    from glandwise.physics.energizer import Spring
    from glandwise.physics.lip import Shape


class Allowance(NamedTuple):
    """Allowed runout, total indicator reading, and what sets it."""

    tir: float
    """[m]"""
    followed: float
    """By the mechanics alone [m]."""
    rated: float
    """Rated cap [m]."""
    governs: Governs
    """Recovery, inertia or the rated cap."""
    stiffness: float
    """Greatest dynamic stiffness up to the speed [N/m²]."""
    preload: float
    """Contact load on the unloaded side [N/m]."""


def _held(case: Case, rules: Rules, shape: Shape, spring: Spring, T: float, f_t: float) -> HeldLip:
    """What holds the lip to the shaft at a temperature, with a share of its own load left."""
    compound = rules.compounds[case.compound]
    E = curve_at(compound.elastic_modulus, T)
    # what the cold adds of interference is not relied upon
    i_T = least(interference_at(case, rules, T), interference_at(case, rules, greatest(T, ROOM)))
    p_none = 0.0 * UNIT_PRESSURE
    lip = touching(case, rules, T, i_T, E * f_t, p_none, 0.0 * spring.line_load, LipRoot.elastic)
    q_own = lip.load  # load of the lip itself
    if q_own != q_own:  # drawn onto the shaft with all its length, it follows nothing
        q_own = 0.0 * spring.line_load
    q_spring = 0.0 * spring.line_load  # load that the energizer adds
    if case.energizer != Energizer.none:
        sprung = touching(case, rules, T, i_T, E * f_t, p_none, spring.line_load, LipRoot.elastic)
        if sprung.load == sprung.load:
            q_spring = sprung.load - q_own  # load that the energizer adds
    k_0 = shape.stiffness * E  # stiffness of the lip at once
    if k_0 != k_0:  # its root touches as made: it follows nothing, however stiff
        k_0 = E
    return held_lip(q_own, q_spring, k_0, T, shape.mass, spring.stiffness, spring.mass, compound.relaxation)


def coldest(case: Case) -> float:
    """Temperature of the lip at its coldest: that of a room, or below.

    Returns
    -------
    T_cold : K
        Coldest state of the lip.
    """
    return least(case.temperature_min, ROOM)


def ends(case: Case, rules: Rules, shape: Shape, t_load: float) -> tuple[HeldLip, HeldLip]:
    """The lip at its coldest and at its hottest, relaxed for a time at the hottest: either end can be the worse.

    Parameters
    ----------
    t_load : s
        Time under load, at the highest temperature.

    Returns
    -------
    lip_cold : HeldLip
        The lip at its coldest.
    lip_hot : HeldLip
        The lip at its hottest.
    """
    turn = turn_of(case, rules)
    spring_cold = spring_at(case, rules, turn, coldest(case))
    spring_hot = spring_at(case, rules, turn, case.temperature_max)
    return sprung_ends(case, rules, shape, spring_cold, spring_hot, t_load)


def sprung_ends(
    case: Case, rules: Rules, shape: Shape, spring_cold: Spring, spring_hot: Spring, t_load: float
) -> tuple[HeldLip, HeldLip]:
    """The same as :func:`ends`, with the energizer at both.

    Parameters
    ----------
    t_load : s
        Time under load, at the highest temperature.

    Returns
    -------
    lip_cold : HeldLip
        The lip at its coldest.
    lip_hot : HeldLip
        The lip at its hottest.
    """
    f_t = relaxed_share(rules.compounds[case.compound].relaxation, case.temperature_max, t_load)
    cold = _held(case, rules, shape, spring_cold, coldest(case), f_t)
    hot = _held(case, rules, shape, spring_hot, case.temperature_max, f_t)
    return cold, hot


def allowed_runout(case: Case, rules: Rules, lip_cold: HeldLip, lip_hot: HeldLip, n: float, a: float) -> Allowance:
    """Allowed runout at a rotational speed: the lesser of what the lip follows, cold and hot, and the rated cap.

    Parameters
    ----------
    n : rev/s
        Rotational speed.
    a : m
        Static offset of shaft to bore.

    Returns
    -------
    TIR_allowed : m
        Allowed runout.
    TIR_follow : m
        Runout that the lip follows, cold and hot.
    TIR_cap : m
        Rated runout.
    governs : Governs
        What sets the allowed runout.
    Z : N/m²
        Greatest dynamic stiffness on the way up.
    q_pre : N/m
        Load that holds the lip to the shaft.

    References
    ----------
    The lesser of both (models/following).
    """
    omega = 2.0 * pi * n  # angular frequency of the shaft
    relaxation = rules.compounds[case.compound].relaxation
    limit = followed_runout(lip_cold, lip_hot, omega, a, relaxation)
    TIR_cap = rated(rules.ratings[case.rating].runout, pi * case.shaft_diameter * n)  # rated runout
    TIR_follow = limit.tir  # runout that the lip follows
    governs = limit.governs if TIR_follow <= TIR_cap else Governs.rated_cap
    return Allowance(
        least(TIR_follow, TIR_cap), TIR_follow, TIR_cap, governs, limit.dynamic_stiffness, limit.preload
    )  # fmt: skip


def runout_use(TIR: float, TIR_allowed: float) -> float:
    """Share of the allowed runout that a stated one uses.

    Parameters
    ----------
    TIR : m
        Dynamic runout of the shaft.
    TIR_allowed : m
        Allowed runout, > 0.

    Returns
    -------
    U_TIR : -
        Use of the allowed runout.

    References
    ----------
    Definition.
    """
    return TIR / TIR_allowed
