"""What temperature does to the fits of a seal: see :mod:`glandwise.questions.thermal_fit`."""

from __future__ import annotations

from typing import Any

from glandwise.checks.engine import Engine
from glandwise.checks.envelope import Finding, criterion, governing, summary, verdict
from glandwise.checks.report import assumptions, cautions
from glandwise.contract.design import EnergizedLip, FlexibleLip
from glandwise.contract.duty import Duty
from glandwise.contract.thermal_fit import ThermalFitRequest
from glandwise.questions.gland.resolve import strain_range, unknown_strain
from glandwise.questions.thermal_fit import write
from glandwise.questions.thermal_fit.question import judged
from glandwise.rules.model import weakest


def check(request: ThermalFitRequest, engine: Engine) -> dict[str, Any]:
    """Answer a thermal fit."""
    rules, units = engine.rules(request), request.units.system_of_units()
    reference = request.assembly_temperature
    low, high = strain_range(rules.data)
    if reference is not None and not low <= reference <= high:
        raise unknown_strain(rules.data, ("assembly_temperature",))
    j = judged(request.duty, request.design, request.gland, reference, rules, units)

    def evaluate(duty: Duty, design: FlexibleLip | EnergizedLip) -> list[Finding]:
        return judged(duty, design, request.gland, reference, rules, units).findings

    criteria = [
        criterion(finding, request.duty, request.design, rules, units, evaluate=evaluate) for finding in j.findings
    ]
    worst, whole = governing(j.findings), verdict(j.findings)
    chosen = next(item for item in criteria if item["id"] == worst.id)
    return {
        "verdict": whole,
        "summary": summary(whole, chosen, criteria),
        "governing": {key: chosen[key] for key in ("id", "title", "status", "utilization")},
        "criteria": criteria,
        "assembly_temperature": units.quantity("temperature", j.temperatures.assembly),
        "points": write.points(j, request.temperatures, units),
        "transition": write.transition(j, units),
        "after_heat": write.after_heat(j, units),
        "assumptions": assumptions(j.case, units),
        "cautions": [*cautions(j.case, request.duty.food_contact), write.transition_caution(j, units)],
        "evidence": weakest([item["evidence"] for item in criteria if item["evidence"] is not None]),
        "stamp": engine.stamp("check_thermal_fit", request, rules),
        "working": j.working() if request.working else None,
    }
