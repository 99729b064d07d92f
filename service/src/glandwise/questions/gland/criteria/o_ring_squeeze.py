"""Squeeze of the O-ring against what it needs and what it stands, as assembled and in service."""

from __future__ import annotations

from typing import TYPE_CHECKING

from glandwise.case.choices import LOOSEST, TIGHTEST, End
from glandwise.physics.o_ring import seat_at
from glandwise.physics.o_ring_choice import used_loosest, used_tightest
from glandwise.physics.temperatures import temperature_of
from glandwise.questions.envelope.measure import Measure
from glandwise.questions.gland.judged import percent
from glandwise.questions.words import wanted

if TYPE_CHECKING:
    from glandwise.case.gland_numbers import GlandRules
    from glandwise.case.hardware import Hardware
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case
    from glandwise.questions.gland.judged import Found

DIMENSION = "ratio"
MISSING = "No O-ring of the series goes with this bore and body; state a ring by its dimensions and a groove."


def at(case: Case, hardware: Hardware, rules: Rules, gland: GlandRules, k: int, end: int) -> Measure:
    """Squeeze of the O-ring over its section at a temperature and an end of the tolerances.

    Returns
    -------
    C : -
        Squeeze over section.
    C_lim : -
        Least or greatest squeeze over section.
    U_squeeze : -
        Use of the limit of squeeze.
    which : -
        Temperature and end of the tolerances.
    """
    seat = seat_at(case, hardware, rules, gland, temperature_of(case, hardware, k), end)
    is_assembled = 1 if k == 0 else 0
    if end == End.loosest:
        found = used_loosest(gland.constants[0], seat.section, seat.squeeze_ratio, is_assembled)
        return Measure(found.value, found.bound, found.utilization, 2.0 * k)
    found = used_tightest(gland.constants[0], seat.squeeze_ratio, is_assembled)
    return Measure(found.value, found.bound, found.utilization, 2.0 * k + 1.0)


def measure(case: Case, hardware: Hardware, rules: Rules, gland: GlandRules) -> Measure:
    """Squeeze of the O-ring at the worst temperature and end of the tolerances."""
    worst = at(case, hardware, rules, gland, 0, LOOSEST)
    for k in range(4):
        loose = at(case, hardware, rules, gland, k, LOOSEST)
        if loose.utilization > worst.utilization:
            worst = loose
        tight = at(case, hardware, rules, gland, k, TIGHTEST)
        if tight.utilization > worst.utilization:
            worst = tight
    return worst


def place(which: float) -> tuple[int, ...]:
    """Return temperature and end of the tolerances."""
    return int(which) // 2, LOOSEST if which % 2 == 0 else TIGHTEST


def words(found: Found) -> str:
    """Say how the squeeze lies to its limit."""
    k, end = place(found.measure.which)
    bound = wanted("ratio", found.measure.capacity, "%", least=end == LOOSEST)
    return f"Squeeze at its {End(end).name} is {percent(found.measure.demand)} at {found.at(k)}; {bound}."
