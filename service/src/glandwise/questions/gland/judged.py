"""What the words of a criterion of a gland are made of."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from glandwise.questions.arrays import Row
from glandwise.questions.envelope.measure import Measure, status_of

if TYPE_CHECKING:
    from glandwise.units import UnitSystem

RELATION = {"pass": "within", "caution": "close to", "fail": "beyond"}


class Found(NamedTuple):
    """A measure of a case with its hardware, with its status and what stands beside it."""

    dimension: str
    measure: Measure
    status: str
    temperatures: tuple[float, ...]
    """As assembled, and the least, normal and greatest of the duty [K]."""
    out: Row
    """Row of what machine code found."""
    retention: str
    medium: str
    margin: float
    """Least holding torque over lip torque."""
    units: UnitSystem

    @property
    def demand(self) -> str:
        """Demand as written."""
        return self.units.text(self.dimension, self.measure.demand)

    @property
    def capacity(self) -> str:
        """Capacity as written."""
        return self.units.text(self.dimension, self.measure.capacity)

    def at(self, k: int) -> str:
        """Temperature of a state as written."""
        return self.units.text("temperature", self.temperatures[k])


def percent(value: float) -> str:
    """Write a ratio in percent."""
    return f"{100.0 * value:.3g} %"


def usual_status(found: Measure, caution_at: float) -> str:
    """Return the status of a measure by its utilization alone."""
    return status_of(found.utilization, caution_at)
