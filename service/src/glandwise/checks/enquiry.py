"""One call for a quoting system: choose or check the design, and gather all that a quote needs."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from pydantic import TypeAdapter, ValidationError
from pydantic_core import PydanticCustomError

from glandwise import units
from glandwise.checks import blank, envelope, friction, gland, selection, wear
from glandwise.checks.engine import Engine
from glandwise.contract.blank import BlankRequest
from glandwise.contract.design import Design
from glandwise.contract.enquiry import EnquiryRequest
from glandwise.contract.envelope import EnvelopeCheckRequest
from glandwise.contract.gland import GlandCheckRequest, check_gland_fits
from glandwise.contract.quantities import written
from glandwise.contract.running import FrictionEstimateRequest, WearEstimateRequest
from glandwise.contract.selection import SelectionRequest
from glandwise.rules.model import weakest

OFFERED = 5
"""Passing designs listed beside the chosen one."""

LOOKED_AT = 200
"""Passing designs among which one is looked for whose gland holds too."""

_DESIGN: TypeAdapter[Any] = TypeAdapter(Design)


def _pointer(location: tuple[str | int, ...]) -> str:
    return "".join(f"/{str(part).replace('~', '~0').replace('/', '~1')}" for part in location)


def answer(request: EnquiryRequest, engine: Engine) -> dict[str, Any]:
    """Answer an enquiry."""
    rules = engine.rules(request)
    common: dict[str, Any] = {
        "units": request.units, "rule_set": request.rule_set, "as_of": request.as_of, "working": request.working, "duty": request.duty,
    }  # fmt: skip
    chosen, design, offered = "given", request.design, None
    if design is None:
        ask = SelectionRequest.model_construct(
            **common, restrict=request.restrict, aims=request.aims, limit=LOOKED_AT, near_miss_limit=OFFERED
        )
        offered = selection.select(ask, engine)
        chosen = "selected" if offered["ranked"] else "nearest"
        design = _choose(common, offered, request, engine)
        offered["ranked"] = offered["ranked"][:OFFERED]
    check = envelope.check(EnvelopeCheckRequest.model_construct(**common, design=design), engine)
    unanswered: list[dict[str, Any]] = []

    def part(name: str, ask: Callable[[], dict[str, Any]]) -> dict[str, Any] | None:
        """Answer one part; what it refuses is told, and stops none of the others."""
        try:
            return ask()
        except (ValidationError, PydanticCustomError) as error:
            if isinstance(error, ValidationError):
                item = error.errors(include_url=False, include_input=False)[0]
                location, detail, context = item["loc"], str(item["msg"]), dict(item.get("ctx") or {})
            else:
                location, detail, context = (), error.message(), dict(error.context or {})
            accepted = context.get("accepted")
            unanswered.append(
                {
                    "part": name,
                    "field": _pointer((*location, *context.get("fields", ()))),
                    "detail": detail,
                    "accepted": None if accepted is None else str(accepted),
                }
            )
            return None

    given = {**common, "design": design}
    held = part("gland", lambda: gland.check(_gland_request(given, request), engine))
    rubbing = part(
        "friction",
        lambda: friction.estimate(
            FrictionEstimateRequest.model_construct(**given, surroundings=request.surroundings), engine
        ),
    )
    worn = part(
        "wear",
        lambda: wear.estimate(
            WearEstimateRequest.model_construct(
                **given, surroundings=request.surroundings, target_life=request.target_life
            ),
            engine,
        ),
    )
    made = part("blank", lambda: blank.estimate(_blank_request(given, held, request), engine))
    parts = [result for result in (check, held, rubbing, worn, made) if result is not None]
    judged = [check["verdict"], *(result["verdict"] for result in (held, rubbing) if result is not None)]
    if worn is not None and request.target_life is not None:
        judged.append(worn["verdict"])
    verdict = max(judged, key=envelope.RANK.__getitem__)
    if verdict == "pass" and unanswered:
        verdict = "caution"
    title = selection.title(rules.data, design)
    return {
        "verdict": verdict,
        "summary": _summary(verdict, chosen, title, check, held),
        "chosen": chosen,
        "design": written(design),
        "title": title,
        "selection": offered,
        "check": check,
        "gland": held,
        "friction": rubbing,
        "wear": worn,
        "blank": made,
        "unanswered": unanswered,
        "assumptions": _distinct(parts, "assumptions", "field"),
        "cautions": _distinct(parts, "cautions", "id"),
        "evidence": weakest([result["evidence"] for result in parts if result["evidence"] is not None]),
        "stamp": engine.stamp("answer_enquiry", request, rules),
        "working": None,
    }


def _choose(common: dict[str, Any], offered: dict[str, Any], request: EnquiryRequest, engine: Engine) -> Any:
    """Return the best design whose gland does not fail, trying the best of each family and retention; else the best."""
    ranked = [_DESIGN.validate_python(row["design"]) for row in offered["ranked"] or offered["near_misses"][:1]]
    first: dict[tuple[str, str], Any] = {}
    for design in ranked:
        first.setdefault((design.family, design.retention), design)
    for design in first.values():
        try:
            held = gland.check(_gland_request({**common, "design": design}, request), engine)
        except (ValidationError, PydanticCustomError):
            continue
        if held["verdict"] != "fail":
            return design
    return ranked[0]


def _gland_request(given: dict[str, Any], request: EnquiryRequest) -> GlandCheckRequest:
    """Return the gland check; whether gland and design fit is judged here, as where it is asked alone."""
    ask = GlandCheckRequest.model_construct(**given, gland=request.gland)
    check_gland_fits(ask.duty, ask.design, ask.gland)
    return ask


def _blank_request(given: dict[str, Any], held: dict[str, Any] | None, request: EnquiryRequest) -> BlankRequest:
    """Return the blank estimate; a bore that was not stated is the one the gland check proposes."""
    duty = request.duty
    if duty.bore.diameter is None and held is not None:
        nominal = held["bore"]["nominal"]
        diameter = units.to_si(nominal["value"], "length", nominal["unit"])
        duty = duty.model_copy(update={"bore": duty.bore.model_copy(update={"diameter": diameter})})
    return BlankRequest.model_construct(**{**given, "duty": duty}, pieces=request.pieces)


def _distinct(parts: list[dict[str, Any]], name: str, key: str) -> list[dict[str, Any]]:
    """Gather entries of all parts, each once."""
    found: dict[str, dict[str, Any]] = {}
    for result in parts:
        for entry in result[name]:
            found.setdefault(entry[key], entry)
    return list(found.values())


_CHOSEN = {"given": "The given design", "selected": "The first choice", "nearest": "No design passes; the nearest"}


def _summary(verdict: str, chosen: str, title: str, check: dict[str, Any], held: dict[str, Any] | None) -> str:
    """Say an enquiry in one sentence."""
    word = {
        "pass": "passes",
        "caution": "passes with care",
        "fail": "does not pass",
        "not_evaluated": "cannot be judged",
    }[verdict]
    text = f"{_CHOSEN[chosen]} {word}: {title}. {check['summary']}"
    if held is not None and held["verdict"] == "fail":
        text += f" Gland: {held['summary']}"
    return text
