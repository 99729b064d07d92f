"""An envelope check in the detail that is asked for."""

from __future__ import annotations

from glandwise.contract.envelope import EnvelopeCheckRequest
from glandwise.engine import Engine
from glandwise.json_values import JsonObject
from glandwise.questions.envelope import operation
from glandwise.questions.unknowns.found import Asked, questions


def check(request: EnvelopeCheckRequest, engine: Engine) -> JsonObject:
    """Answer an envelope check in the detail that is asked for."""
    found = operation.answer(request, engine)
    if request.detail == "verdict":
        return operation.write_verdict(found, request, engine)
    result = operation.write(found, request, engine)
    if request.questions or request.ranges:
        units = request.units.system_of_units()
        rules = engine.rules(request)
        asked = Asked(found.case, request.duty, request.design, rules, found.findings, units, request.ranges)
        back, result["confidence"] = questions(asked)
        result["questions"] = back if request.questions else None
    return result
