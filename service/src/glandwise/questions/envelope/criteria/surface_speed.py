"""Peak surface speed against the rated one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from glandwise.physics.ratings import rated
from glandwise.questions.envelope.measure import Measure, rated_words, used

if TYPE_CHECKING:
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case
    from glandwise.physics.state import State

DIMENSION = "surface_speed"
RATED = "surface_speed"
MISSING = ""
ZONE = ("#f4d7a8", "#a86400", "")
words = rated_words


def measure(case: Case, rules: Rules, state: State) -> Measure:
    """Peak surface speed against the rated one.

    Returns
    -------
    v : m/s
        Peak surface speed.
    v_rated : m/s
        Rated surface speed of the design.
    U_v : -
        Use of the rated surface speed.
    which : -
        Nothing to tell apart.
    """
    v_rated = rated(rules.ratings[case.rating].surface_speed, case.peak_speed)
    return Measure(case.peak_speed, v_rated, used(case.peak_speed, v_rated), 0.0)
