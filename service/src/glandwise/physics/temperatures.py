"""Temperatures that the fits of a seal are looked at: as assembled, and those of the duty."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from glandwise.case.record import Case
    from glandwise.physics.strains import Parts


def temperature_of(case: Case, hardware: Parts, k: int) -> float:
    """Temperature as assembled, and the least, normal and greatest of the duty."""
    if k == 0:
        return hardware.reference
    if k == 1:
        return case.temperature_min
    if k == 2:
        return case.temperature
    return case.temperature_max
