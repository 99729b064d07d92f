"""Temperatures that a seal is looked at: those of its fits, and the highest that its contact may have."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from glandwise.case.numbers import Rules
    from glandwise.case.record import Case
    from glandwise.physics.strains import Parts

BY_COMPOUND = 0.0
BY_FLUID = 1.0
"""Codes of what sets the highest temperature of a contact."""


class HottestContact(NamedTuple):
    """The highest temperature that a contact may have, and what sets it."""

    temperature: float
    which: float


def hottest_contact(case: Case, rules: Rules) -> HottestContact:
    """Highest temperature of the contact: the top of the compound, or that from which the fluid at the lip leaves deposits.

    An oil that cokes on the lip lifts it and scores the shaft, long before the compound gives way.

    Returns
    -------
    T_max : K
        Highest temperature of the contact.
    which : -
        What sets it.
    """
    T_max = rules.compounds[case.compound].temperature_max
    if rules.fluids[case.lubricant].deposits_from < T_max:
        return HottestContact(rules.fluids[case.lubricant].deposits_from, BY_FLUID)
    return HottestContact(T_max, BY_COMPOUND)


def temperature_of(case: Case, hardware: Parts, k: int) -> float:
    """Temperature as assembled, and the least, normal and greatest of the duty."""
    if k == 0:
        return hardware.reference
    if k == 1:
        return case.temperature_min
    if k == 2:
        return case.temperature
    return case.temperature_max
