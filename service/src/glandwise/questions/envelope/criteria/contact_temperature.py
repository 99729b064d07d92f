"""Contact temperature with nominal friction after running in, against what the compound and the fluid at the lip stand."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

from glandwise.numerics.arithmetic import greatest
from glandwise.physics.constants import HOTTEST, ROOM
from glandwise.physics.temperatures import BY_FLUID, hottest_contact
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
    """Contact temperature against the top of the compound, or that from which the fluid leaves deposits, from room temperature.

    The rise by friction at the normal temperature is put on top of the hottest fluid. A vacuum, which takes load off the
    lip, and a shaft that cools the contact below the fluid are not relied upon, so that a harsher duty never looks
    better. A contact without a balance below the hottest temperature looked at fails.

    Returns
    -------
    T_hot : K
        Contact temperature in the hottest fluid.
    T_max : K
        Highest temperature of the contact.
    U_T : -
        Use of the temperature range.
    which : -
        What sets the limit.
    """
    highest = hottest_contact(case, rules)
    T_max = highest.temperature
    running = state.running
    rise = greatest(running.temperature - running.sink, 0.0)  # rise by friction
    T_hot = greatest(greatest(running.sink, case.temperature), case.temperature_max) + rise
    if running.beyond > 0.0:
        return Measure(T_hot, T_max, inf, highest.which)
    return Measure(T_hot, T_max, greatest(T_hot - ROOM, 0.0) / (T_max - ROOM), highest.which)


def words(found: Judged) -> str:
    """Say how hot the contact gets."""
    if found.measure.demand != found.measure.demand:
        hottest = found.units.text("temperature", HOTTEST)
        return f"Friction makes more heat than is carried away even at {hottest}, where the lip rubs."
    if found.measure.which == BY_FLUID:
        return (
            f"{found.demand} where the lip rubs is {found.relation} the {found.capacity} from which what wets it leaves hard "
            "deposits on lip and shaft."
        )
    return f"{found.demand} where the lip rubs is {found.relation} the {found.capacity} the compound stands."
