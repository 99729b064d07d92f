"""Interference that a pressed-in case keeps against what keeps it tight."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

from glandwise.case.choices import LOOSEST
from glandwise.physics.retention import case_interference
from glandwise.physics.temperatures import temperature_of
from glandwise.questions.envelope.measure import Measure

if TYPE_CHECKING:
    from glandwise.case.gland_numbers import GlandRules
    from glandwise.case.hardware import Hardware
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case
    from glandwise.questions.gland.judged import Found

DIMENSION = "length"
MISSING = "The table of interferences does not reach to this bore."


def at(case: Case, hardware: Hardware, rules: Rules, gland: GlandRules, k: int) -> Measure:
    """Interference of the case at its loosest and a temperature.

    Returns
    -------
    i_least : m
        Least interference.
    i_K : m
        Interference of the case at its loosest.
    U_press : -
        Use of the interference.
    which : -
        Temperature.
    """
    i_least = gland.constants[0].interference_min
    i_K = case_interference(hardware, gland, temperature_of(case, hardware, k), LOOSEST)
    if i_K <= 0.0:
        return Measure(i_least, i_K, inf, k + 0.0)
    return Measure(i_least, i_K, i_least / i_K, k + 0.0)


def measure(case: Case, hardware: Hardware, rules: Rules, gland: GlandRules) -> Measure:
    """Interference of the case at its loosest, at the worst temperature."""
    worst = at(case, hardware, rules, gland, 0)
    for k in range(1, 4):
        found = at(case, hardware, rules, gland, k)
        if found.capacity < worst.capacity:
            worst = found
    return worst


def place(which: float) -> tuple[int, ...]:
    """Return the temperature."""
    return (int(which),)


def words(found: Found) -> str:
    """Say what interference is left."""
    left, units = found.measure.capacity, found.units
    where = found.at(int(found.measure.which))
    if left > 0.0:
        text = f"The case keeps {found.capacity} of interference at its loosest, at {where}; {found.demand} is needed."
    else:
        text = f"The case is loose at {where}: {units.text('length', -left)} of clearance at its loosest."
    if (found.out["case_yields"] == 1.0).any():
        text += " At its tightest the case yields, which caps the contact pressure."
    return text
