"""Stretch of the O-ring on its groove."""

from __future__ import annotations

from typing import TYPE_CHECKING

from glandwise.case.choices import LOOSEST, TIGHTEST, End
from glandwise.physics.o_ring import seat_at
from glandwise.physics.o_ring_choice import used_stretch
from glandwise.physics.temperatures import temperature_of
from glandwise.questions.envelope.measure import Measure
from glandwise.questions.gland.criteria.o_ring_squeeze import MISSING, place
from glandwise.questions.gland.judged import percent
from glandwise.questions.words import wanted

if TYPE_CHECKING:
    from glandwise.case.gland_numbers import GlandRules
    from glandwise.case.hardware import Hardware
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case
    from glandwise.questions.gland.judged import Found

DIMENSION = "ratio"
__all__ = ["DIMENSION", "MISSING", "at", "measure", "place", "words"]


def at(case: Case, hardware: Hardware, rules: Rules, gland: GlandRules, k: int, end: int) -> Measure:
    """Stretch of the O-ring at a temperature and an end of the tolerances: 0 in the middle of its window, 1 at its end.

    Returns
    -------
    s : -
        Stretch of the O-ring on the groove.
    s_lim : -
        Least or greatest stretch.
    U_stretch : -
        Use of the window of stretch.
    which : -
        Temperature and end of the tolerances.
    """
    seat = seat_at(case, hardware, rules, gland, temperature_of(case, hardware, k), end)
    found = used_stretch(gland.constants[0], seat.stretch, end)
    return Measure(found.value, found.bound, found.utilization, 2.0 * k + (0.0 if end == End.loosest else 1.0))


def measure(case: Case, hardware: Hardware, rules: Rules, gland: GlandRules) -> Measure:
    """Stretch of the O-ring: the least as assembled, the greatest at any temperature, whichever is the worse."""
    low = at(case, hardware, rules, gland, 0, LOOSEST)
    high = at(case, hardware, rules, gland, 0, TIGHTEST)
    for k in range(1, 4):
        hot = at(case, hardware, rules, gland, k, TIGHTEST)
        if hot.demand > high.demand:
            high = hot
    if high.utilization > low.utilization:
        return high
    return low


def words(found: Found) -> str:
    """Say how the stretch lies to its limit."""
    bound = wanted("ratio", found.measure.capacity, "%", least=place(found.measure.which)[1] == LOOSEST)
    return f"Stretch is {percent(found.measure.demand)}; {bound}."
