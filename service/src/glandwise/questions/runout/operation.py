"""How much runout the lip takes: the curve over speed, and the allowance at the speed of the duty."""

from __future__ import annotations

from math import isfinite, nan, pi
from typing import NamedTuple

import numpy as np

from glandwise.case import sizing
from glandwise.case.intake import Case, build
from glandwise.case.rows import row_of
from glandwise.contract.runout import RunoutAllowanceRequest
from glandwise.engine import Engine, refusal
from glandwise.json_values import JsonObject
from glandwise.mechanics.choices import Governs
from glandwise.mechanics.viscoelastic import relaxed_share
from glandwise.numerics.docstring import Quantity
from glandwise.numerics.trace import labelled, leaf, traced
from glandwise.numerics.worksheet import written
from glandwise.physics import following
from glandwise.physics.lip import shape_of
from glandwise.questions import told
from glandwise.questions.arrays import Row
from glandwise.questions.energizer_range import ACCEPTED, OUTSIDE
from glandwise.questions.envelope.measure import status_of
from glandwise.questions.report import assumptions, cautions
from glandwise.questions.runout.found import Point, Subject, found_at
from glandwise.questions.trees import Trees
from glandwise.rules.model import Evidence, weakest
from glandwise.rules.sourced import Records
from glandwise.units import UnitSystem

POINTS = 25
"""Speeds of the curve when the request names none."""
WORDS = {
    Governs.recovery: "the recovery of the lip",
    Governs.inertia: "the inertia of the lip",
    Governs.rated_cap: "the rated cap",
    Governs.nothing: "nothing",
}


class Answer(NamedTuple):
    """Allowances of a case, SI."""

    case: Case
    at_duty: Point
    curve: list[Point]
    verdict: str
    utilization: float | None
    """``None`` where no runout is stated, or where nothing is allowed."""
    governs: Governs
    """What sets the allowance at the speed of the duty, its offset counted."""
    preload: float
    stiffness: float
    relaxed_share: float
    evidence: Evidence | None
    working: list[JsonObject] | None


def answer(request: RunoutAllowanceRequest, engine: Engine) -> Answer:
    """Answer a request for runout allowances."""
    data = engine.rules(request).data
    case = build(request.duty, request.design, engine.rules(request))
    row, compounds = row_of(case)
    time = data.sizing.following.service_time.si if request.service_time is None else request.service_time
    subject = Subject(data, row, compounds, time)
    n, offset = float(case.rotational_speed), float(case.offset)
    here, left = subject.at([n], nan)[0], subject.at([n], offset)[0]
    if case.energizer is not None and not isfinite(here["spring_load"]):
        raise refusal("out_of_domain", ("design", case.energizer), OUTSIDE, ACCEPTED[case.energizer])
    if request.rotational_speeds is None:
        rated = float(here["rated_speed"])
        top = max(float(case.surface_speed), rated if rated == rated else 0.0) / (pi * case.shaft_diameter)
        speeds = np.linspace(0.0, top, POINTS).tolist()
    else:
        speeds = list(request.rotational_speeds)
    allowed = float(left["tir"])
    used = None
    verdict = "not_evaluated"
    if request.duty.runout is not None:
        used = request.duty.runout / allowed if allowed > 0.0 else (0.0 if request.duty.runout == 0.0 else None)
        verdict = "fail" if used is None else status_of(used, data.criteria["runout"].caution_at.si)
    evidence, working = _explained(request, case, row[0])
    return Answer(
        case=case,
        at_duty=found_at(n, here, allowed if offset == offset else None),
        curve=subject.points(speeds, offset),
        verdict=verdict,
        utilization=used,
        governs=Governs(left["governs"]),
        preload=float(here["preload"]),
        stiffness=float(here["stiffness"]),
        relaxed_share=float(here["relaxed_share"]),
        evidence=evidence,
        working=working,
    )


# ------------------------------------------------------------------------------------------------------ by a trace

_complete = traced(sizing.complete)
_shape_of = traced(shape_of)
_ends = traced(following.ends)
_allowed_runout = traced(following.allowed_runout)
_relaxed_share = traced(relaxed_share)
_runout_use = traced(following.runout_use)
_SERVICE_TIME = Quantity("t_service", "s", "Time for which the lip has to follow the shaft")


def explained(request: RunoutAllowanceRequest, case: Case, row: Row) -> Trees:
    """Return the numbers of an answer at the speed of the duty, each with the tree that it came from."""
    found, rules = told.leaves_of(case, request.duty, row)
    _complete(found, rules)
    time = rules.constants[0].service_time
    if request.service_time is not None:
        time = leaf(request.service_time, _SERVICE_TIME, "request")
    cold, hot = _ends(found, rules, _shape_of(found, rules), time)
    left = here = _allowed_runout(found, rules, cold, hot, found.rotational_speed, 0.0)
    if request.duty.offset is not None:
        left = labelled(
            "offset", lambda: _allowed_runout(found, rules, cold, hot, found.rotational_speed, found.offset)
        )
    share = _relaxed_share(rules.compounds[found.compound].relaxation, found.temperature_max, time)
    numbers = (here, left, share)
    if request.duty.runout is not None and left.tir > 0.0:
        return *numbers, _runout_use(found.runout, left.tir)
    return numbers


def _explained(
    request: RunoutAllowanceRequest, case: Case, row: Row
) -> tuple[Evidence | None, list[JsonObject] | None]:
    def find() -> Records:
        return told.rests_on(case, *explained(request, case, row))

    duty = request.duty
    branch = ("runout", request.service_time is None, duty.offset is None, duty.runout is None)
    evidence = weakest({item.evidence for item in told.kept(case, duty, row, branch, find)})
    return evidence, written(*explained(request, case, row)) if request.working else None


# ------------------------------------------------------------------------------------------------------- as a result


def _point(units: UnitSystem, diameter: float, point: Point) -> JsonObject:
    rest = point.with_offset
    return {
        "rotational_speed": units.quantity("rotational_speed", point.rotational_speed),
        "surface_speed": units.quantity("surface_speed", pi * diameter * point.rotational_speed),
        "allowed_runout": units.quantity("length", point.tir),
        "followed_runout": units.quantity("length", point.followed),
        "rated_runout": units.optional("length", point.rated),
        "governs": point.governs.name,
        "allowed_with_offset": None if rest is None else units.quantity("length", rest),
    }


def _summary(found: Answer, units: UnitSystem) -> str:
    point = found.at_duty
    allowed = units.text("length", point.tir if point.with_offset is None else point.with_offset)
    text = f"{allowed} TIR is allowed at the speed of the duty; {WORDS[found.governs]} governs."
    if not isfinite(found.case.runout):
        return text
    relation = {"pass": "is within it", "caution": "is close to it", "fail": "is beyond it"}[found.verdict]
    return f"{text[:-1]}; the stated {units.text('length', found.case.runout)} {relation}."


def write(found: Answer, request: RunoutAllowanceRequest, engine: Engine) -> JsonObject:
    """Write an answer as its contract has it, in the units of the request."""
    units, case = request.units.system_of_units(), found.case
    d = case.shaft_diameter
    return {
        "verdict": found.verdict,
        "summary": _summary(found, units),
        "at_duty": _point(units, d, found.at_duty),
        "utilization": None if found.utilization is None else float(f"{found.utilization:.10g}"),
        "curve": [_point(units, d, point) for point in found.curve],
        "preload": units.quantity("line_load", found.preload),
        "dynamic_stiffness": units.quantity("line_stiffness", found.stiffness),
        "relaxed_share": float(f"{found.relaxed_share:.10g}"),
        "assumptions": assumptions(case, units),
        "cautions": cautions(case, request.duty.food_contact),
        "evidence": found.evidence,
        "stamp": engine.stamp("allow_runout", request, engine.rules(request)),
        "working": found.working,
    }


def allow(request: RunoutAllowanceRequest, engine: Engine) -> JsonObject:
    """Answer a request for runout allowances."""
    return write(answer(request, engine), request, engine)
