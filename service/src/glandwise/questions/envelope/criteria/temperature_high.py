"""Highest temperature against the part that stands least heat."""

from __future__ import annotations

from typing import TYPE_CHECKING

from glandwise.case.choices import Energizer
from glandwise.numerics.arithmetic import greatest
from glandwise.physics.constants import ROOM
from glandwise.questions.envelope.measure import Judged, Measure

if TYPE_CHECKING:
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case
    from glandwise.physics.state import State

DIMENSION = "temperature"
RATED = ""
MISSING = ""
ZONE = ("#f6cfc6", "#98341f", "---")
PARTS = ("compound", "energizer alloy", "O-ring")


def measure(case: Case, rules: Rules, state: State) -> Measure:
    """Highest temperature against the part that stands least heat, counted from room temperature.

    Returns
    -------
    T_high : K
        Highest temperature.
    T_lim : K
        Temperature that every part stands.
    U_T_high : -
        Use of the temperature range.
    which : -
        Part that sets the limit.
    """
    T_lim = rules.compounds[case.compound].temperature_max
    which = 0.0
    if case.energizer != Energizer.none and rules.alloys[case.alloy].temperature_max < T_lim:
        T_lim = rules.alloys[case.alloy].temperature_max
        which = 1.0
    if case.elastomer >= 0 and rules.elastomers[case.elastomer].temperature_max < T_lim:
        T_lim = rules.elastomers[case.elastomer].temperature_max
        which = 2.0
    U = greatest(case.temperature_max - ROOM, 0.0) / (T_lim - ROOM)
    return Measure(case.temperature_max, T_lim, U, which)


def words(found: Judged) -> str:
    """Say how the temperature lies to the limit."""
    part = PARTS[int(found.measure.which)]
    return f"{found.demand} is {found.relation} the limit of {found.capacity} set by the {part}."
