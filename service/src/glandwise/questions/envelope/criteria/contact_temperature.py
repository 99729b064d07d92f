"""Contact temperature with nominal friction after running in, against the top of the compound."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

from glandwise.numerics.arithmetic import greatest
from glandwise.physics.constants import HOTTEST, ROOM
from glandwise.questions.envelope.measure import Judged, Measure

if TYPE_CHECKING:
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case
    from glandwise.physics.state import State

DIMENSION = "temperature"
RATED = ""
MISSING = "No balance of frictional heat was found, or the friction is not known."
ZONE = ("#f2b8a0", "#b23a12", "\\\\\\")


def measure(case: Case, rules: Rules, state: State) -> Measure:
    """Contact temperature against the top of the compound, counted from room temperature.

    The rise by friction at the normal temperature is put on top of the hottest fluid. A vacuum, which takes load off the
    lip, and a shaft that cools the contact below the fluid are not relied upon, so that a harsher duty never looks
    better. A contact without a balance below the hottest temperature looked at fails.

    Returns
    -------
    T_hot : K
        Contact temperature in the hottest fluid.
    T_max : K
        Highest temperature of the compound.
    U_T : -
        Use of the temperature range.
    which : -
        Nothing to tell apart.
    """
    T_max = rules.compounds[case.compound].temperature_max
    running = state.running
    rise = greatest(running.temperature - running.sink, 0.0)  # rise by friction
    T_hot = greatest(greatest(running.sink, case.temperature), case.temperature_max) + rise
    if running.beyond > 0.0:
        return Measure(T_hot, T_max, inf, 0.0)
    return Measure(T_hot, T_max, greatest(T_hot - ROOM, 0.0) / (T_max - ROOM), 0.0)


def words(found: Judged) -> str:
    """Say how hot the contact gets."""
    if found.measure.demand != found.measure.demand:
        hottest = found.units.text("temperature", HOTTEST)
        return f"Friction makes more heat than is carried away even at {hottest}, where the lip rubs."
    return f"{found.demand} where the lip rubs is {found.relation} the {found.capacity} the compound stands."
