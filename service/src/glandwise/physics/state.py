"""State of a seal that several criteria look at, worked out once."""

from __future__ import annotations

from math import nan
from typing import TYPE_CHECKING, NamedTuple

from glandwise.mechanics.choices import LipRoot
from glandwise.mechanics.following import HeldLip
from glandwise.mechanics.rods import Turn
from glandwise.physics.energizer import Spring, spring_at, turn_of
from glandwise.physics.following import coldest, sprung_ends
from glandwise.physics.heat_balance import Running, balance, surroundings
from glandwise.physics.lip import Pressed, Shape, pressed, pressing, shape_of
from glandwise.physics.wear import Wearing, room_of, wearing_of

if TYPE_CHECKING:
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case


class State(NamedTuple):
    """The lip by its shape, the energizer in the fluid, the nominal running state, its wear, the relaxed lip cold and hot."""

    shape: Shape
    turn: Turn
    """One turn of a canted coil, at all temperatures."""
    spring: Spring
    hot_spring: Spring
    """At the highest temperature."""
    running: Running
    worn: Wearing
    cold: HeldLip
    hot: HeldLip
    cold_contact: Pressed
    """The coldest lip under pressure after running in."""
    hot_contact: Pressed
    """The hottest lip under pressure, relaxed in service, its root clamped."""


def state_of(case: Case, rules: Rules) -> State:
    """Return the state with nominal friction after running in; a pressure that takes load off is not relied upon."""
    shape = shape_of(case, rules)
    turn = turn_of(case, rules)
    spring = spring_at(case, rules, turn, case.temperature)
    mu = rules.compounds[case.compound].friction[case.medium]
    C = rules.constants[0].film_friction
    around = surroundings(case, rules)
    t_run = rules.constants[0].nominal_time
    running = balance(case, rules, around, spring.line_load, pressing(case), mu, C, t_run, LipRoot.elastic)
    worn = wearing_of(case, rules, shape, spring, running, room_of(case, rules, nan), t_run)
    T_cold, T_hot, p_on = coldest(case), case.temperature_max, pressing(case)
    spring_cold, spring_hot = spring_at(case, rules, turn, T_cold), spring_at(case, rules, turn, T_hot)
    cold, hot = sprung_ends(case, rules, shape, spring_cold, spring_hot, rules.constants[0].service_time)
    cold_contact = pressed(case, rules, T_cold, t_run, p_on, spring_cold.line_load, LipRoot.elastic)
    hot_contact = pressed(
        case, rules, T_hot, rules.constants[0].service_time, p_on, spring_hot.line_load, LipRoot.clamped
    )
    return State(shape, turn, spring, spring_hot, running, worn, cold, hot, cold_contact, hot_contact)
