"""Static shaft-to-bore offset against the rated one, or that at which the relaxed lip leaves the shaft if less."""

from __future__ import annotations

from typing import TYPE_CHECKING

from glandwise.mechanics.following import followed_offset
from glandwise.numerics.arithmetic import least
from glandwise.physics.ratings import rated
from glandwise.questions.envelope.measure import Judged, Measure, rated_words, used

if TYPE_CHECKING:
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case
    from glandwise.physics.state import State

DIMENSION = "length"
RATED = "offset"
MISSING = "The shaft-to-bore offset is not stated."
ZONE = ("#e6d2c0", "#7c5330", "-|")
FOLLOWED = 1.0


def measure(case: Case, rules: Rules, state: State) -> Measure:
    """Static offset against the rated one, or that at which the relaxed lip leaves the shaft if less.

    Returns
    -------
    a : m
        Static offset of shaft to bore.
    a_allowed : m
        Allowed offset.
    U_a : -
        Use of the allowed offset.
    which : -
        Whether the lip leaves the shaft before the rated offset is reached.
    """
    a_rated = rated(rules.ratings[case.rating].offset, case.surface_speed)
    a_lip = followed_offset(state.cold, state.hot)
    a_allowed = least(a_rated, a_lip)  # allowed offset
    which = FOLLOWED if a_lip < a_rated else 0.0
    return Measure(case.offset, a_allowed, used(case.offset, a_allowed), which)


def words(found: Judged) -> str:
    """Say how the offset lies to the allowed one."""
    if found.measure.which != FOLLOWED:
        return rated_words(found)
    return f"{found.demand} is {found.relation} the {found.capacity} at which the relaxed lip leaves the shaft."
