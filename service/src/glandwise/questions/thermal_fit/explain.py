"""What a thermal fit was judged by: the formulas run once more on numbers that remember how they were made."""

from __future__ import annotations

from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

from glandwise.numerics.docstring import Quantity
from glandwise.numerics.trace import leaf, traced
from glandwise.questions.thermal_fit import kernel

if TYPE_CHECKING:
    from glandwise.questions.envelope.measure import Measure
    from glandwise.questions.gland.explain import Told

_at = {name: traced(module.at) for name, module in zip(kernel.IDS, kernel.MEASURED, strict=True)}
_WORST = Quantity("T_w", "K", "Worst temperature in the range of the duty")


def temperature_of(told: Told, T: float) -> Any:
    """Return a temperature of the duty or of the assembly, or one that a search over the duty's range found."""
    case = told.case
    for mark in (case.temperature_min, case.temperature, case.temperature_max, told.hardware.reference):
        if mark == T:
            return mark
    return leaf(T, _WORST, "found by a search over the range of the duty")


def measure(told: Told, name: str, T: float) -> Measure:
    """Measure a criterion at a temperature."""
    before = (told.case, SimpleNamespace(**vars(told.case))) if name == "lip_interference" else (told.case,)
    result: Measure = _at[name](*before, told.hardware, told.rules, told.gland, temperature_of(told, T))
    return result
