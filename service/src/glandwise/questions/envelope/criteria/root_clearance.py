"""Clearance at the root of the lip against what the cold and a shaft off centre take of it."""

from __future__ import annotations

from math import inf, tan
from typing import TYPE_CHECKING

from glandwise.case.lip_fit import effective_length, interference_at
from glandwise.case.sizing import stated_or
from glandwise.numerics.arithmetic import greatest, least
from glandwise.physics.constants import ROOM
from glandwise.questions.envelope.measure import Judged, Measure, used

if TYPE_CHECKING:
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case
    from glandwise.physics.state import State

DIMENSION = "length"
RATED = ""
MISSING = "The expansion of lip and shaft is not known there."
ZONE = ("#d3dfe9", "#3f5a8a", "=|")


def measure(case: Case, rules: Rules, state: State) -> Measure:
    """What cold, offset and runout take of the clearance at the root, against the clearance of the lip as made.

    A root without clearance shrinks the whole lip onto the shaft.

    Returns
    -------
    w : m
        Clearance that is taken.
    g_0 : m
        Radial clearance at the root as made.
    U_g : -
        Use of the clearance at the root.
    which : -
        Nothing to tell apart.
    """
    i = 0.5 * case.interference  # radial interference as made
    g_0 = effective_length(case, rules) * tan(case.bore_angle) - i  # clearance at the root as made
    T_cold = least(case.temperature_min, ROOM)  # coldest state of the lip
    w_cold = greatest(interference_at(case, rules, T_cold) - i, 0.0)  # what the lip shrinks in the cold
    w = w_cold + stated_or(case.offset, 0.0) + 0.5 * stated_or(case.runout, 0.0)  # clearance that is taken
    if g_0 <= 0.0:
        return Measure(w, g_0, inf, 0.0)
    return Measure(w, g_0, used(w, g_0), 0.0)


def words(found: Judged) -> str:
    """Say what is left of the clearance."""
    if found.measure.capacity <= 0.0:
        return "The lip as made has no clearance at its root: the whole lip is shrunk onto the shaft."
    if found.status == "fail":
        return (
            f"Cold, offset and runout take {found.demand} of the {found.capacity} of clearance at the root: the root touches, "
            "and the whole lip is shrunk onto the shaft."
        )
    return f"Cold, offset and runout take {found.demand} of the {found.capacity} of clearance at the root of the lip."
