"""What a gland was judged by: the formulas run once more on numbers that remember how they were made."""

from __future__ import annotations

from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

from glandwise.checks import told
from glandwise.numerics.trace import traced
from glandwise.physics import sizing
from glandwise.questions.envelope.criteria import temperature_high, temperature_low
from glandwise.questions.gland import kernel, resolve

if TYPE_CHECKING:
    from glandwise.case.gland_numbers import GlandRules
    from glandwise.case.numbers import Rules
    from glandwise.checks.case import Case
    from glandwise.contract.duty import Duty
    from glandwise.contract.gland import Gland
    from glandwise.questions.envelope.measure import Measure

_complete = traced(sizing.complete)
_at = {name: traced(module.at) for name, module in zip(kernel.IDS, kernel.MEASURED, strict=True)}
_MODULES = dict(zip(kernel.IDS, kernel.MEASURED, strict=True))
_temperatures = {
    "temperature_low": traced(temperature_low.measure),
    "temperature_high": traced(temperature_high.measure),
}


class Told:
    """One case with its hardware as leaves of a trace."""

    def __init__(
        self, case: Case, duty: Duty, gland: Gland, reference: float | None, case_row: Any, hardware_row: Any
    ) -> None:
        self.case: SimpleNamespace
        self.rules: Rules
        self.case, self.rules = told.leaves_of(case, duty, case_row)
        _complete(self.case, self.rules)
        found = resolve.resolve(case, duty, gland, reference, self.case)
        resolve.put_chosen(case.data, found, hardware_row)
        self.hardware = found.leaves(tuple(case.data.shaft_materials))
        self.gland: GlandRules = resolve.traced_rules(case.data, found)

    def temperature(self, name: str) -> Measure:
        """Measure the use of the range of temperature."""
        result: Measure = _temperatures[name](self.case, self.rules, None)
        return result

    def measure(self, name: str, which: float) -> Measure:
        """Measure a criterion in the state that was the worst."""
        before = (self.case, SimpleNamespace(**vars(self.case))) if name == "seal_rotation" else (self.case,)
        result: Measure = _at[name](*before, self.hardware, self.rules, self.gland, *_MODULES[name].place(which))
        return result


def numbers(m: Measure) -> tuple[Any, ...]:
    """Return what a working of a criterion has to lead to."""
    return m.demand, m.capacity, m.utilization
