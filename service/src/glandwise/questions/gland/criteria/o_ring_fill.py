"""How far the O-ring fills its gland."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

from glandwise.case.choices import TIGHTEST
from glandwise.physics.o_ring import seat_at
from glandwise.physics.temperatures import temperature_of
from glandwise.questions.envelope.measure import Measure
from glandwise.questions.gland.criteria.o_ring_squeeze import MISSING
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


def at(case: Case, hardware: Hardware, rules: Rules, gland: GlandRules, k: int) -> Measure:
    """Section area of the O-ring over the area of its gland, at the tightest tolerances and a temperature.

    Returns
    -------
    Phi : -
        Fill of the gland; infinite where the hot body closes it.
    Phi_most : -
        Greatest fill.
    U_fill : -
        Use of the greatest fill.
    which : -
        Temperature.
    """
    seat = seat_at(case, hardware, rules, gland, temperature_of(case, hardware, k), TIGHTEST)
    Phi_most = gland.constants[0].fill_max
    if seat.depth <= 0.0:
        return Measure(inf, Phi_most, inf, k + 0.0)
    return Measure(seat.fill, Phi_most, seat.fill / Phi_most, k + 0.0)


def measure(case: Case, hardware: Hardware, rules: Rules, gland: GlandRules) -> Measure:
    """Fill of the gland at the worst temperature."""
    worst = at(case, hardware, rules, gland, 0)
    for k in range(1, 4):
        found = at(case, hardware, rules, gland, k)
        if found.utilization > worst.utilization:
            worst = found
    return worst


def place(which: float) -> tuple[int, ...]:
    """Return the temperature."""
    return (int(which),)


def words(found: Found) -> str:
    """Say how the fill lies to its limit."""
    m = found.measure
    if m.demand == inf:
        return "The hot body closes the gland entirely."
    bound = wanted("ratio", m.capacity, "%", least=False)
    return f"The ring fills {percent(m.demand)} of its gland at {found.at(int(m.which))}; {bound}."
