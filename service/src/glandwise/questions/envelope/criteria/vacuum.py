"""Pressure from behind the lip against what it stands without lifting: of a lip that points to the fluid, a vacuum."""

from __future__ import annotations

from typing import TYPE_CHECKING

from glandwise.case.sizing import facing
from glandwise.numerics.arithmetic import greatest
from glandwise.physics.ratings import rated
from glandwise.questions.envelope.measure import Judged, Measure, rated_words, used

if TYPE_CHECKING:
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case
    from glandwise.physics.state import State

DIMENSION = "gauge_pressure"
RATED = "vacuum"
MISSING = ""
ZONE = ("#cfe3ee", "#2f7595", "||")


def measure(case: Case, rules: Rules, state: State) -> Measure:
    """Pressure from behind the lip against what it stands without lifting.

    Returns
    -------
    p_vac : Pa
        Pressure from behind the lip.
    p_lift : Pa
        Rated pressure from behind the lip.
    U_vac : -
        Use of the rated pressure from behind the lip.
    which : -
        Nothing to tell apart.
    """
    p_lift = rated(rules.ratings[case.rating].vacuum, case.peak_speed)
    p_vac = greatest(-facing(case), 0.0)
    return Measure(p_vac, p_lift, used(p_vac, p_lift), 0.0)


def words(found: Judged) -> str:
    """Say how a vacuum lies to the rated one."""
    return "No pressure comes from behind the lip." if found.measure.demand == 0.0 else rated_words(found)
