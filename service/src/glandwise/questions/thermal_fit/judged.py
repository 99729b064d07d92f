"""What the words of a criterion of a thermal fit are made of."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from glandwise.questions.arrays import Row

if TYPE_CHECKING:
    from glandwise.questions.envelope.measure import Measure
    from glandwise.units import UnitSystem


class Found(NamedTuple):
    """A measure at its worst temperature, with its status and what stands beside it, in SI."""

    dimension: str
    measure: Measure
    status: str
    temperature: float
    made: float
    """Interference or deflection as made [m]."""
    energizer: str | None
    out: Row
    """Row of what machine code found at that temperature."""
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
    def at(self) -> str:
        """Temperature as written."""
        return self.units.text("temperature", self.temperature)

    def length(self, value: float) -> str:
        """Write a length."""
        return self.units.text("length", float(value))
