"""Parts that every result shares: assumptions and cautions."""

from __future__ import annotations

from typing import Any

from glandwise.checks.case import Assumed, Case
from glandwise.rules.model import CautionRule, RuleSetData
from glandwise.units import UnitSystem


def assumption(item: Assumed, units: UnitSystem) -> dict[str, Any]:
    """Write one supplied value."""
    value = item.value if item.dimension is None else units.quantity(item.dimension, float(item.value))
    return {"field": item.pointer, "value": value, "rule": item.rule}


def assumptions(case: Case, units: UnitSystem) -> list[dict[str, Any]]:
    """Write what the service supplied."""
    return [assumption(item, units) for item in case.assumed]


def _applies(rule: CautionRule, hazards: set[str], pressure: float, coldest: float, hottest: float, food: bool) -> bool:
    conditions = [
        bool(hazards.intersection(rule.hazards)),
        rule.food_contact and food,
        rule.pressure_above is not None and pressure > rule.pressure_above.si,
        rule.temperature_above is not None and hottest > rule.temperature_above.si,
        rule.temperature_below is not None and coldest < rule.temperature_below.si,
    ]
    unconditional = not (
        rule.hazards or rule.food_contact or rule.pressure_above or rule.temperature_above or rule.temperature_below
    )
    return unconditional or any(conditions)


def cautions(case: Case, food_contact: bool) -> list[dict[str, Any]]:
    """Return the cautions that apply to a case."""
    hazards: set[str] = set(case.fluid.hazards)
    return [
        {"id": name, "text": rule.text}
        for name, rule in case.data.cautions.items()
        if _applies(rule, hazards, float(abs(case.pressure)), case.temperature_min, case.temperature_max, food_contact)
    ]


def general_cautions(data: RuleSetData) -> list[dict[str, Any]]:
    """Return the cautions that always apply."""
    return [
        {"id": name, "text": rule.text}
        for name, rule in data.cautions.items()
        if _applies(rule, set(), 0.0, 293.15, 293.15, food=False)
    ]
