"""What a gland was judged by: the formulas run once more on numbers that remember how they were made."""

from __future__ import annotations

from types import SimpleNamespace
from typing import TYPE_CHECKING, NamedTuple

from glandwise.case import sizing
from glandwise.numerics.docstring import Quantity
from glandwise.numerics.trace import leaf, traced
from glandwise.physics.o_ring import Strains, strains_at
from glandwise.physics.temperatures import temperature_of
from glandwise.questions.envelope.criteria import temperature_high, temperature_low
from glandwise.questions.gland import kernel
from glandwise.questions.thermal_fit import kernel as thermal

if TYPE_CHECKING:
    from glandwise.case.gland_numbers import GlandRules
    from glandwise.case.numbers import Rules
    from glandwise.questions.envelope.measure import Measure

complete = traced(sizing.complete)
"""Fill in the dimensions of a case given as leaves."""
_MODULES = dict(zip(kernel.IDS, kernel.MEASURED, strict=True))
_gland = {name: traced(module.at) for name, module in _MODULES.items()}
_thermal = {name: traced(module.at) for name, module in zip(thermal.IDS, thermal.MEASURED, strict=True)}
_temperatures = {
    "temperature_low": traced(temperature_low.measure),
    "temperature_high": traced(temperature_high.measure),
}
_strains = traced(strains_at)
_WORST = Quantity("T_w", "K", "Worst temperature in the range of the duty")


class Told(NamedTuple):
    """One case with its hardware as leaves of a trace, its dimensions filled in."""

    case: SimpleNamespace
    hardware: SimpleNamespace
    rules: Rules
    gland: GlandRules

    @property
    def copy(self) -> SimpleNamespace:
        """A copy of the case, to be overwritten."""
        return SimpleNamespace(**vars(self.case))

    def strains(self, k: int) -> Strains:
        """Find the strains about the O-ring at one of the temperatures looked at."""
        case, hardware = self.case, self.hardware
        result: Strains = _strains(case, hardware, self.rules, self.gland, temperature_of(case, hardware, k))  # type: ignore[arg-type]
        return result

    def temperature(self, name: str) -> Measure:
        """Measure the use of the range of temperature."""
        result: Measure = _temperatures[name](self.case, self.rules, None)
        return result

    def measure(self, name: str, which: float) -> Measure:
        """Measure a criterion of a gland in the state that was the worst."""
        before = (self.case, self.copy) if name == "seal_rotation" else (self.case,)
        result: Measure = _gland[name](*before, self.hardware, self.rules, self.gland, *_MODULES[name].place(which))
        return result

    def fit(self, name: str, T: float) -> Measure:
        """Measure a criterion of a thermal fit at a temperature."""
        before = (self.case, self.copy) if name == "lip_interference" else (self.case,)
        result: Measure = _thermal[name](*before, self.hardware, self.rules, self.gland, self._of_the_duty(T))
        return result

    def _of_the_duty(self, T: float) -> float:
        """Return a temperature of the duty or of the assembly, or one that a search over the duty's range found."""
        case = self.case
        marks: tuple[float, ...] = (
            case.temperature_min,
            case.temperature,
            case.temperature_max,
            self.hardware.reference,
        )
        for mark in marks:
            if mark == T:
                return mark
        return leaf(T, _WORST, "found by a search over the range of the duty")


def numbers(m: Measure) -> tuple[float, float, float]:
    """Return what a working of a criterion has to lead to."""
    return m.demand, m.capacity, m.utilization
