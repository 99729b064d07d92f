"""How much runout the lip takes: the curve over speed, and the allowance at the speed of the duty."""

from __future__ import annotations

from typing import Any

import numpy as np

from glandwise.checks import following, lip, working
from glandwise.checks.case import build, capacity
from glandwise.checks.engine import Engine, refusal
from glandwise.checks.envelope import status_of
from glandwise.checks.report import assumptions, cautions
from glandwise.contract.runout import RunoutAllowanceRequest
from glandwise.rules.model import weakest
from glandwise.units import UnitSystem

POINTS = 25
"""Speeds of the curve when the request names none."""


def _point(
    units: UnitSystem, diameter: float, speed: float, found: following.Allowance, rest: float | None
) -> dict[str, Any]:
    return {
        "rotational_speed": units.quantity("rotational_speed", speed),
        "surface_speed": units.quantity("surface_speed", np.pi * diameter * speed),
        "allowed_runout": units.quantity("length", float(found.tir)),
        "followed_runout": units.quantity("length", float(found.followed_tir)),
        "rated_runout": units.optional("length", float(found.rated_tir)),
        "governs": str(found.governs),
        "allowed_with_offset": None if rest is None else units.quantity("length", rest),
    }


def allow(request: RunoutAllowanceRequest, engine: Engine) -> dict[str, Any]:
    """Answer a request for runout allowances."""
    rules, units = engine.rules(request), request.units.system_of_units()
    case = build(request.duty, request.design, rules)
    time, offset = request.service_time, request.duty.offset
    if case.energizer is not None and not lip.modelled(case):
        raise refusal("out_of_domain", ("design", case.energizer), lip.OUTSIDE, lip.ACCEPTED[case.energizer])
    d = case.shaft_diameter
    if request.rotational_speeds is None:
        rated = capacity(rules.data, "surface_speed", case.features, 0.0).value
        top = max(case.surface_speed, rated if rated == rated else 0.0) / (np.pi * d)
        speeds = np.linspace(0.0, top, POINTS)
    else:
        speeds = np.asarray(request.rotational_speeds, dtype=float)
    concentric = following.allowance(case, speeds, None, time)
    shifted = following.allowance(case, speeds, offset, time) if offset is not None else None
    curve = []
    for index, speed in enumerate(speeds.tolist()):
        found = following.Allowance(
            float(concentric.tir[index]), float(concentric.followed_tir[index]), float(concentric.rated_tir[index]),
            str(concentric.governs[index]), (), 0.0, 0.0,
        )  # fmt: skip
        curve.append(_point(units, d, speed, found, None if shifted is None else float(shifted.tir[index])))
    here = following.allowance(case, case.rotational_speed, None, time)
    left = following.allowance(case, case.rotational_speed, offset, time) if offset is not None else here
    used = None
    verdict = "not_evaluated"
    if request.duty.runout is not None:
        used = case.runout / left.tir if left.tir > 0.0 else (0.0 if case.runout == 0.0 else None)
        verdict = "fail" if used is None else status_of(used, rules.data.criteria["runout"].caution_at.si)
    allowed = units.text("length", float(left.tir))
    word = following.WORDS[str(left.governs)]
    text = f"{allowed} TIR is allowed at the speed of the duty; {word} governs."
    if request.duty.runout is not None:
        relation = {"pass": "is within it", "caution": "is close to it", "fail": "is beyond it"}[verdict]
        text = f"{text[:-1]}; the stated {units.text('length', case.runout)} {relation}."
    hold = rules.data.sizing.following.service_time.si if time is None else time
    return {
        "verdict": verdict,
        "summary": text,
        "at_duty": _point(units, d, case.rotational_speed, here, float(left.tir) if offset is not None else None),
        "utilization": None if used is None else float(f"{used:.10g}"),
        "curve": curve,
        "preload": units.quantity("line_load", float(here.preload)),
        "dynamic_stiffness": units.quantity("line_stiffness", float(here.stiffness)),
        "relaxed_share": float(f"{lip.relaxed_share(case, case.temperature_max, hold):.10g}"),
        "assumptions": assumptions(case, units),
        "cautions": cautions(case, request.duty.food_contact),
        "evidence": weakest([record.evidence for record in here.records]),
        "stamp": engine.stamp("allow_runout", request, rules),
        "working": working.runout(case, request.duty, request.design, time, here, left, used)
        if request.working
        else None,
    }
