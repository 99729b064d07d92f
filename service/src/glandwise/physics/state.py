"""State of a seal that several criteria look at, worked out once."""

from __future__ import annotations

from math import nan
from typing import TYPE_CHECKING, NamedTuple

from glandwise.mechanics.following import HeldLip
from glandwise.numerics.arithmetic import greatest
from glandwise.physics.energizer import Spring, spring_of
from glandwise.physics.following import ends
from glandwise.physics.heat_balance import Running, balance, surroundings
from glandwise.physics.lip import Shape, shape_of
from glandwise.physics.wear import Wearing, room_of, wearing_of

if TYPE_CHECKING:
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case


class State(NamedTuple):
    """The lip by its shape, the energizer in the fluid, the nominal running state, its wear, the relaxed lip cold and hot."""

    shape: Shape
    spring: Spring
    running: Running
    worn: Wearing
    cold: HeldLip
    hot: HeldLip


def state_of(case: Case, rules: Rules) -> State:
    """Return the state with nominal friction after running in; a vacuum, which takes load off, is not relied upon."""
    shape = shape_of(case, rules)
    spring = spring_of(case, rules, case.temperature)
    mu = rules.compounds[case.compound].friction[case.medium]
    C = rules.constants[0].film_friction
    p = greatest(case.pressure, 0.0)
    around = surroundings(case, rules)
    running = balance(case, rules, shape, around, spring.line_load, p, mu, C, rules.constants[0].nominal_time)
    constants = rules.constants[0]
    worn = wearing_of(case, rules, shape, spring, running, room_of(case, rules, nan), constants.nominal_time)
    cold, hot = ends(case, rules, shape, rules.constants[0].service_time)
    return State(shape, spring, running, worn, cold, hot)
