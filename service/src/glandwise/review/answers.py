"""What an answer tells a customer, in a form that two answers to one question can be held against each other by."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date
from math import isfinite
from typing import Any, NamedTuple

import orjson
from pydantic import ValidationError
from pydantic_core import PydanticCustomError

from glandwise.case import flat
from glandwise.contract.blank import BlankRequest
from glandwise.contract.comparison import ComparedCase
from glandwise.contract.enquiry import EnquiryRequest
from glandwise.contract.gland import GlandCheckRequest
from glandwise.contract.running import FrictionEstimateRequest, WearEstimateRequest
from glandwise.contract.selection import SelectionRequest
from glandwise.contract.thermal_fit import ThermalFitRequest
from glandwise.engine import Engine, fault_in_words
from glandwise.questions.blank import operation as blank
from glandwise.questions.enquiry import operation as enquiry
from glandwise.questions.friction import operation as friction
from glandwise.questions.gland import operation as gland
from glandwise.questions.selection import operation as selection
from glandwise.questions.thermal_fit import operation as thermal_fit
from glandwise.questions.wear import operation as wear
from glandwise.rules.loader import RuleSet
from glandwise.rules.model import RuleSetData
from glandwise.rules.values import EVIDENCE_ORDER

ENVELOPE = "check_envelope"
ENQUIRY = "answer_enquiry"
_ANSWERS: Mapping[str, tuple[type[Any], Callable[[Any, Engine], dict[str, Any]]]] = {
    "check_gland": (GlandCheckRequest, gland.check),
    "check_thermal_fit": (ThermalFitRequest, thermal_fit.check),
    "estimate_friction": (FrictionEstimateRequest, friction.estimate),
    "estimate_wear": (WearEstimateRequest, wear.estimate),
    "select_design": (SelectionRequest, selection.select),
    "estimate_blank": (BlankRequest, blank.estimate),
    ENQUIRY: (EnquiryRequest, enquiry.answer),
}
OPERATIONS = (ENVELOPE, *_ANSWERS)
"""Operations that can be compared, in the order in which they are told."""
_PARTS = {"gland": "check_gland", "thermal_fit": "check_thermal_fit", "friction": "estimate_friction",
          "wear": "estimate_wear", "blank": "estimate_blank"}  # fmt: skip
"""Parts of the answer to an enquiry, and the operation that each is the whole answer of."""
_READ = ("duty", "design", "gland", "surroundings", "target_life", "pieces")
"""Fields of a case that an operation may read."""

LIFE, TORQUE = "life", "torque"
_OWN_KIND = {("estimate_wear", "/life/nominal"): LIFE, ("estimate_friction", "/levels/nominal/torque"): TORQUE}
"""Quantities that have a kind of transition of their own."""
OWN_KIND: Mapping[str, tuple[str, str]] = {kind: where for where, kind in _OWN_KIND.items()}
"""The operation that tells such a quantity, and the place in its answer, by its kind."""
_NO_QUANTITY = frozenset(
    {"criteria", "assumptions", "cautions", "stamp", "working", "points", "iterations", "converged"}
)
"""What is told elsewhere, or is no number that anybody builds by."""


class Fixed(Engine):
    """An engine that answers everything by one rule set, whatever a request names."""

    def __init__(self, data: RuleSetData, like: RuleSet) -> None:
        self._fixed = RuleSet(data, like.name, like.version, like.digest, like.as_of)

    def rules_of(self, rule_set: str | None, as_of: date | None) -> RuleSet:  # noqa: ARG002 - whatever is named
        """Return the one rule set."""
        return self._fixed


class Facts(NamedTuple):
    """What an answer tells."""

    verdict: str | None
    evidence: str | None
    criteria: Mapping[str, tuple[str, float | None]]
    """Status and utilization by criterion."""
    numbers: Mapping[str, tuple[float, str]]
    """Value and unit by the place in the answer; where a list is told, with the places in it."""
    design: str | None
    """The design that is proposed, as JSON; ``None`` where none is."""
    fault: str | None = None
    """Why there is no answer."""


def _numbers(value: Any, place: str = "") -> Iterator[tuple[str, tuple[float, str]]]:
    """Yield the quantities of an answer."""
    if isinstance(value, dict):
        if value.keys() == {"value", "unit"}:
            if isinstance(value["value"], (int, float)):
                yield place, (float(value["value"]), str(value["unit"]))
            return
        for name, entry in value.items():
            if name not in _NO_QUANTITY:
                yield from _numbers(entry, f"{place}/{name}")
    elif isinstance(value, list):
        for index, entry in enumerate(value):
            name = (
                next((str(entry[key]) for key in ("id", "level") if key in entry), index)
                if isinstance(entry, dict)
                else index
            )
            yield from _numbers(entry, f"{place}/{name}")
    elif isinstance(value, (int, float)) and not isinstance(value, bool) and isfinite(value):
        yield place, (float(value), "1")


def subject_of(place: str) -> str:
    """Return the name of a quantity by its place in an answer: entries of a list share one."""
    return ".".join(part for part in place.split("/")[1:] if not part.isdigit())


def facts_of(operation: str, answer: Mapping[str, Any]) -> Facts:
    """Read an answer as its contract has it."""
    criteria = {item["id"]: (item["status"], item["utilization"]) for item in answer.get("criteria", ())}
    evidence = answer.get("evidence")
    if operation == "select_design":
        best = answer["ranked"][0]["design"] if answer["ranked"] else None
        design = None if best is None else orjson.dumps(best, option=orjson.OPT_SORT_KEYS).decode()
        return Facts(answer.get("verdict"), None, {}, {}, design)
    numbers = {} if operation == ENQUIRY else dict(_numbers(answer))
    return Facts(answer.get("verdict"), evidence, criteria, numbers, None)


_REFUSED = (ValidationError, PydanticCustomError)


def asked_by(model: type[Any], case: ComparedCase) -> Any:
    """Return the request of an operation about a case; its parts were read by the same models, so it is not read again."""
    more = {"limit": 1, "near_miss_limit": 0} if model is SelectionRequest else {}
    stated = {name: getattr(case, name) for name in _READ if name in model.model_fields}
    if stated.get("target_life") is not None:  # it stands in the duty of a request that has been read
        if case.duty.target_life is None:
            stated["duty"] = case.duty.model_copy(update={"target_life": case.target_life})
        stated["target_life"] = None
    return model.model_construct(**stated, **more)


def _refused(error: Exception) -> Facts:
    if isinstance(error, ValidationError):
        item = error.errors(include_url=False, include_input=False)[0]
        said = f"{'.'.join(map(str, item['loc']))}: {fault_in_words(item)}"
    else:
        said = str(error)
    return Facts(None, None, {}, {}, None, said)


class Asker:
    """Answers questions about a case under one rule set, those about parts of an enquiry as the enquiry does if it is asked."""

    def __init__(self, data: RuleSetData, like: RuleSet, operations: Sequence[str]) -> None:
        self.engine, self.as_parts = Fixed(data, like), ENQUIRY in operations

    def ask(self, case: ComparedCase, operations: Sequence[str]) -> dict[str, Facts]:
        """Answer a case by some operations."""
        found: dict[str, Facts] = {}
        if ENQUIRY in operations:
            found = self._enquiry(case)
        for name in operations:
            if name not in found and name != ENVELOPE:
                part = name == "estimate_blank" and self.as_parts
                found[name] = self._blank(case) if part else self._one(name, case)[0]
        return {name: found[name] for name in operations if name in found}

    def _blank(self, case: ComparedCase) -> Facts:
        """Answer the blank as a part of the enquiry: in the bore that the gland check proposes."""
        asked = enquiry.Asked(asked_by(EnquiryRequest, case), self.engine)
        try:
            held = asked.answer_gland(case.design).found
        except _REFUSED:
            held = None
        try:
            return facts_of("estimate_blank", asked.answer_blank(case.design, held).written)
        except _REFUSED as error:
            return _refused(error)

    def told(self, name: str, case: ComparedCase) -> dict[str, Any]:
        """Answer a case by one operation, as its contract has it."""
        model, answer = _ANSWERS[name]
        return answer(asked_by(model, case), self.engine)

    def _one(self, name: str, case: ComparedCase) -> tuple[Facts, dict[str, Any] | None]:
        try:
            told = self.told(name, case)
        except _REFUSED as error:
            return _refused(error), None
        return facts_of(name, told), told

    def _enquiry(self, case: ComparedCase) -> dict[str, Facts]:
        facts, told = self._one(ENQUIRY, case)
        found = {ENQUIRY: facts}
        if told is None:
            return found
        faults = {item["part"]: item["detail"] for item in told["unanswered"]}
        for part, name in _PARTS.items():
            answer = told[part]
            found[name] = (
                Facts(None, None, {}, {}, None, faults.get(part, "")) if answer is None else facts_of(name, answer)
            )
        return found


# ------------------------------------------------------------------------------------------------------- what changed

RANK = {"answered": 0, "pass": 0, "not_evaluated": 1, "caution": 2, "fail": 3, "refused": 4}
_EVIDENCE: Mapping[str, int] = {level: rank for rank, level in enumerate(EVIDENCE_ORDER)}
_TINY = 1e-9
WORSE, BETTER, CHANGED = "worse", "better", "changed"
_ORDER = {WORSE: 0, CHANGED: 1, BETTER: 2}
KINDS = ("verdict", "design", "criterion", LIFE, TORQUE, "evidence", "margin", "quantity")
"""Kinds of transitions, the gravest first."""


class Turn(NamedTuple):
    """One thing that changed of an answer."""

    kind: str
    subject: str | None
    effect: str
    before: str | None = None
    after: str | None = None
    value_before: float | None = None
    value_after: float | None = None
    unit: str | None = None

    @property
    def about(self) -> tuple[str, str | None, str]:
        """What of the answer, and to which effect."""
        return self.kind, self.subject, self.effect

    @property
    def gravity(self) -> tuple[int, int, str]:
        """Order in which it is told."""
        return _ORDER[self.effect], KINDS.index(self.kind), self.subject or ""


def _effect(step: float) -> str:
    return WORSE if step > 0 else BETTER if step < 0 else CHANGED


def told_verdict(facts: Facts) -> str:
    """Return the verdict of an answer, and of one without a verdict whether it could be given."""
    return "refused" if facts.fault is not None else facts.verdict or "answered"


def turns(before: Facts, after: Facts, thresholds: Any) -> list[Turn]:
    """Say what changed from one answer to another by more than the thresholds, worst first."""
    found: list[Turn] = []
    a, b = told_verdict(before), told_verdict(after)
    if a != b:
        step = RANK[b] - RANK[a]
        if a == "refused":  # what could not be judged is judged: bad news all the same where it fails
            step = 1 if b == "fail" else -1
        found.append(Turn("verdict", None, _effect(step), a, b))
    if "refused" in (a, b):
        return found
    failing = a == b == "fail"
    if before.design != after.design:
        found.append(Turn("design", None, CHANGED, before.design or "none", after.design or "none"))
    found.extend(_criteria(before, after, failing, thresholds.margin_loss))
    if before.evidence != after.evidence and None not in (before.evidence, after.evidence):
        step = _EVIDENCE[str(after.evidence)] - _EVIDENCE[str(before.evidence)]
        found.append(Turn("evidence", None, _effect(step), before.evidence, after.evidence))
    return sorted(found, key=lambda turn: turn.gravity)


def _criteria(before: Facts, after: Facts, failing: bool, margin: float) -> Iterator[Turn]:
    nothing: tuple[str, float | None] = ("not_asked", None)
    for name in {**before.criteria, **after.criteria}:
        (a, u), (b, v) = before.criteria.get(name, nothing), after.criteria.get(name, nothing)
        if a != b:
            known = a in RANK and b in RANK
            effect = CHANGED if failing or not known else _effect(RANK[b] - RANK[a])
            if not known and not failing and b == "fail":
                effect = WORSE
            yield Turn("criterion", name, effect, a, b, u, v, "1")
        elif u is not None and v is not None and abs(v - u) > margin:
            effect = CHANGED if failing else _effect(v - u)
            yield Turn("margin", name, effect, None, None, u, v, "1")


def quantity_turns(operation: str, before: Facts, after: Facts, thresholds: Any) -> list[Turn]:
    """Say which quantities of two answers differ by more than the thresholds; of a list, the entry that differs most."""
    if before.fault is not None or after.fault is not None:
        return []
    most: dict[tuple[str, str], tuple[float, Turn]] = {}
    for place in {**before.numbers, **after.numbers}:
        kind = _OWN_KIND.get((operation, place), "quantity")
        one, two = before.numbers.get(place), after.numbers.get(place)
        subject = subject_of(place)
        limit = {LIFE: thresholds.life_change, TORQUE: thresholds.torque_change}.get(kind, thresholds.quantity_change)
        if one is None or two is None or one[1] != two[1]:
            share, effect = float("inf"), CHANGED
        else:
            u, v = _absolute(*one), _absolute(*two)
            share = abs(v - u) / max(abs(u), _TINY) if abs(v - u) > _TINY * max(abs(u), abs(v)) else 0.0
            effect = _effect(u - v) if kind == LIFE else _effect(v - u) if kind == TORQUE else CHANGED
        if share <= limit:
            continue
        turn = Turn(kind, subject, effect, None, None, one and one[0], two and two[0], (two or one or (0.0, "1"))[1])
        held = most.get((kind, subject))
        if held is None or share > held[0]:
            most[kind, subject] = share, turn
    return [turn for _, turn in most.values()]


def _absolute(value: float, unit: str) -> float:
    return value + 273.15 if unit == "degC" else value


def all_turns(operation: str, before: Facts, after: Facts, thresholds: Any) -> list[Turn]:
    """Say everything that changed of an answer, worst first."""
    found = [*turns(before, after, thresholds), *quantity_turns(operation, before, after, thresholds)]
    return sorted(found, key=lambda turn: turn.gravity)


def case_of_row(row: Mapping[str, Any]) -> ComparedCase:
    """Return a flat row, by its headings, as the case that a request would state. Raises :class:`ValidationError`."""
    return ComparedCase.model_validate({**flat.unflatten(row), "case_id": "row"})  # whatever a row is called
