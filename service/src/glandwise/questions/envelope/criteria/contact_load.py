"""Load of the hot relaxed lip without pressure against the least that is taken to touch."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

from glandwise.mechanics.choices import LipRoot
from glandwise.numerics.arithmetic import least
from glandwise.physics.lip import lifting, pressed
from glandwise.questions.envelope.measure import Judged, Measure

if TYPE_CHECKING:
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case
    from glandwise.physics.state import State

DIMENSION = "line_load"
RATED = ""
MISSING = "The load of the lip is not known."
ZONE = ("#e9d3e4", "#8a3f7c", "..")
LIFTED = 1.0


def measure(case: Case, rules: Rules, state: State) -> Measure:
    """Load of the lip at its hottest, relaxed in service, against the least that is taken to touch.

    Without the pressure that presses it on, since a machine starts without it; with one that lifts it. A lip that has grown
    off the shaft and that no spring holds has no load.

    Returns
    -------
    q_hot : N/m
        Load of the hot relaxed lip.
    q_least : N/m
        Least load that is taken to touch.
    U_q : -
        Least load over that of the lip.
    which : -
        Whether a pressure lifts the lip.
    """
    q_least = rules.constants[0].least_load
    q_hot = state.hot.load + state.hot.spring_load  # load of the hot relaxed lip
    p, which = lifting(case), 0.0
    if q_hot <= 0.0:
        return Measure(q_hot, q_least, inf, which)
    if p != 0.0:
        T = case.temperature_max
        q_e, t_load = state.hot_spring.line_load, rules.constants[0].service_time
        lifted = pressed(case, rules, T, t_load, p, q_e, LipRoot.elastic)
        q_hot = least(q_hot, lifted.load)  # load of the hot relaxed lip
        which = LIFTED
    if q_hot <= 0.0:
        return Measure(q_hot, q_least, inf, which)
    return Measure(q_hot, q_least, q_least / q_hot, which)


def words(found: Judged) -> str:
    """Say what is left of the load."""
    how = " under the pressure that lifts it" if found.measure.which == LIFTED else " without pressure"
    if not found.measure.demand > 0.0:
        return f"The hot relaxed lip does not touch the shaft{how}."
    tail = {"pass": "well above", "caution": "not far above", "fail": "below"}[found.status]
    return f"The hot relaxed lip presses with {found.demand}{how}, {tail} the {found.capacity} below which none is taken to touch."
