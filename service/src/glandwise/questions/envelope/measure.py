"""What a criterion measures, and what it is when it has been judged."""

from __future__ import annotations

from typing import NamedTuple

from glandwise.units import UnitSystem


class Measure(NamedTuple):
    """Demand, capacity and utilization in SI; NaN where something is not known."""

    demand: float
    capacity: float
    utilization: float
    which: float
    """What the capacity comes from, as a code of the criterion; it also tells which rules were used."""


def used(demand: float, capacity: float) -> float:
    """Share of a capacity that a demand uses; no demand uses nothing, whatever the capacity."""
    if demand == 0.0:
        return 0.0
    return demand / capacity


SLACK = 1.0 + 1e-9
"""Factor on a limit for the noise of unit conversion: 50 psi asked of 50 psi rated is at the limit, not beyond it."""


def status_of(utilization: float, caution_at: float) -> str:
    """Turn one utilization into a status."""
    if utilization != utilization:
        return "not_evaluated"
    if utilization > SLACK:
        return "fail"
    return "caution" if utilization > caution_at * SLACK else "pass"


_RELATION = {"pass": "within", "caution": "close to", "fail": "beyond"}


class Judged(NamedTuple):
    """A measure with its status, for the words of a criterion."""

    dimension: str
    measure: Measure
    status: str
    titles: tuple[str, ...]
    """Rated capacity and the factors on it, where the capacity is a rated one."""
    units: UnitSystem

    @property
    def demand(self) -> str:
        """Demand as written."""
        return self.units.text(self.dimension, self.measure.demand)

    @property
    def capacity(self) -> str:
        """Capacity as written."""
        return self.units.text(self.dimension, self.measure.capacity)

    @property
    def relation(self) -> str:
        """How the demand lies to the capacity."""
        return _RELATION[self.status]


def rated_words(found: Judged) -> str:
    """Say how a demand lies to a rated capacity."""
    return f"{found.demand} is {found.relation} the {found.capacity} rated for: {', '.join(found.titles)}."
