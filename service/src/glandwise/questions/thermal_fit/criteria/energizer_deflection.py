"""Deflection of the energizer against what it must keep and where it closes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from glandwise.case.choices import Energizer
from glandwise.physics.thermal import closing_deflection, deflection
from glandwise.questions.envelope.measure import Measure, used
from glandwise.questions.words import wanted

if TYPE_CHECKING:
    from glandwise.case.gland_numbers import GlandRules
    from glandwise.case.hardware import Hardware
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case
    from glandwise.questions.thermal_fit.judged import Found

DIMENSION = "length"
NONE = "The lip has no energizer."
LOOSE = 1.0


def as_made(case: Case, hardware: Hardware, rules: Rules, gland: GlandRules) -> float:
    """Deflection of the energizer as assembled.

    Returns
    -------
    x_made : m
        Deflection of the energizer as made.
    """
    return deflection(case, hardware, rules, gland, hardware.reference, hardware.shaft, hardware.bore)


def at(case: Case, hardware: Hardware, rules: Rules, gland: GlandRules, T: float) -> Measure:
    """Deflection of the energizer at a temperature and the end of the tolerances that is worse.

    Parameters
    ----------
    T : K
        Temperature.

    Returns
    -------
    x : m
        Deflection of the energizer.
    x_lim : m
        Least or greatest deflection.
    U_x : -
        Use of the deflection.
    which : -
        Whether the loose end is the worse.
    """
    constants = gland.constants[0]
    x_least = constants.energizer_least * as_made(case, hardware, rules, gland)  # least deflection
    x_loose = deflection(case, hardware, rules, gland, T, hardware.shaft_low, hardware.bore_high)
    slack = used(x_least, x_loose)
    if case.energizer == Energizer.garter:  # it has no greatest stretch
        return Measure(x_loose, x_least, slack, LOOSE)
    x_most = constants.energizer_greatest * closing_deflection(case)  # greatest deflection
    x_tight = deflection(case, hardware, rules, gland, T, hardware.shaft_high, hardware.bore_low)
    closed = x_tight / x_most
    if slack >= closed:
        return Measure(x_loose, x_least, slack, LOOSE)
    return Measure(x_tight, x_most, closed, 0.0)


def words(found: Found) -> str:
    """Say how the deflection lies to its limit."""
    what = "stretch" if found.energizer == "garter" else "deflection"
    is_loose = found.measure.which == LOOSE
    end, unit = "least" if is_loose else "greatest", found.units.units["length"]
    bound = wanted("length", found.measure.capacity, unit, least=is_loose)
    return (
        f"The {what} of the energizer is {end} at {found.at}, {found.demand}; "
        f"{bound}; as made it is {found.length(found.made)}."
    )
