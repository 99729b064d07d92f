"""Does the seal fit its gland, stay put in it, and bridge the gap behind it? See :mod:`glandwise.questions.gland`."""

from __future__ import annotations

from typing import Any

from glandwise.checks.engine import Engine
from glandwise.checks.envelope import Finding, criterion, governing, summary, verdict
from glandwise.checks.report import assumptions, cautions
from glandwise.contract.design import EnergizedLip, FlexibleLip
from glandwise.contract.duty import Duty
from glandwise.contract.gland import GlandCheckRequest
from glandwise.questions.gland.question import judge
from glandwise.questions.gland.write import gland_part
from glandwise.rules.model import weakest

__all__ = ["check", "judge"]


def check(request: GlandCheckRequest, engine: Engine) -> dict[str, Any]:
    """Answer a gland check."""
    rules, units = engine.rules(request), request.units.system_of_units()
    judged = judge(request.duty, request.design, request.gland, rules, units)

    def evaluate(duty: Duty, design: FlexibleLip | EnergizedLip) -> list[Finding]:
        return judge(duty, design, request.gland, rules, units).findings

    criteria = [
        criterion(finding, request.duty, request.design, rules, units, evaluate=evaluate) for finding in judged.findings
    ]
    worst, whole = governing(judged.findings), verdict(judged.findings)
    chosen = next(item for item in criteria if item["id"] == worst.id)
    return {
        "verdict": whole,
        "summary": summary(whole, chosen, criteria),
        "governing": {key: chosen[key] for key in ("id", "title", "status", "utilization")},
        "criteria": criteria,
        **gland_part(judged, units),
        "assumptions": assumptions(judged.case, units),
        "cautions": cautions(judged.case, request.duty.food_contact),
        "evidence": weakest([item["evidence"] for item in criteria if item["evidence"] is not None]),
        "stamp": engine.stamp("check_gland", request, rules),
        "working": judged.working() if request.working else None,
    }
