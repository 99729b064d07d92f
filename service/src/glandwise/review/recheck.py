"""Does a stored result still hold? It is answered anew under today's rules and engine and held against what was stored."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache
from typing import Annotated, Any, NamedTuple, Protocol

import orjson
from pydantic import BeforeValidator, ConfigDict, ValidationError
from pydantic_core import PydanticCustomError

from glandwise import engine as known
from glandwise.case.names import unknown_names
from glandwise.contract.base import SYSTEMS, CalculationRequest, ResultModel, WrittenDate, read_as
from glandwise.contract.recheck import RecheckRequest
from glandwise.engine import Engine, fingerprint, identity, prefixed, refusal
from glandwise.patience import rest
from glandwise.questions.report import general_cautions
from glandwise.review.answers import Fixed
from glandwise.review.comparison import Change, written_changes
from glandwise.rules import compare
from glandwise.rules.loader import RuleSet, RuleTree
from glandwise.rules.mixed import mixed
from glandwise.rules.model import RuleSetData

MOST = 500
"""Differences listed at most."""


def differences(stored: Any, fresh: Any, pointer: str = "") -> Iterator[tuple[str, Any, Any]]:
    """Yield pointer, stored and new value of everything stored that differs; what was not stored is not compared."""
    if stored == fresh and isinstance(stored, bool) == isinstance(fresh, bool):
        return
    if isinstance(stored, dict) and isinstance(fresh, dict):
        for key, value in stored.items():
            step = f"{pointer}/{str(key).replace('~', '~0').replace('/', '~1')}"
            yield from differences(value, fresh.get(key), step)
    elif isinstance(stored, list) and isinstance(fresh, list):
        for index in range(max(len(stored), len(fresh))):
            a = stored[index] if index < len(stored) else None
            b = fresh[index] if index < len(fresh) else None
            yield from differences(a, b, f"{pointer}/{index}")
    else:
        yield pointer, stored, fresh


def _fingerprint_form(value: Any) -> Any:
    if isinstance(value, str) and re.fullmatch("[0-9a-f]{64}", value):
        return value
    raise PydanticCustomError("fingerprint_form", "not a fingerprint", {"accepted": "64 hexadecimal digits"})


class _StoredRules(ResultModel):
    model_config = ConfigDict(extra="ignore")
    name: str
    digest: str
    as_of: WrittenDate


class _StoredStamp(ResultModel):
    """What has to be known of a stored stamp. Others may have added to it."""

    model_config = ConfigDict(extra="ignore")
    fingerprint: Annotated[str, BeforeValidator(_fingerprint_form)]
    engine: str | None = None
    rule_set: _StoredRules | None = None


def _stored_stamp(result: Mapping[str, Any]) -> _StoredStamp:
    """Read the stamp of a stored result."""
    stamp = result.get("stamp")
    if not isinstance(stamp, dict):
        raise refusal("out_of_domain", ("stored_result", "stamp"), "the stored answer has no stamp that can be read",
                      "the stamp of the answer as it was received, or an object with its fingerprint")  # fmt: skip
    try:
        return _StoredStamp.model_validate(stamp)
    except ValidationError as error:
        raise prefixed(error, ("stored_result", "stamp"), stamp, "the stamp of the answer as it was received") from None


class _Origin(NamedTuple):
    """Where a stored answer comes from, as far as its stamp tells; ``None`` is not known."""

    same_question: bool
    """Whether the fingerprint is that of the stored request under the rules and the engine of now."""
    stamp_holds: bool | None
    engine_changed: bool | None
    rules_changed: bool | None


def _origin(stored: _StoredStamp, operation: str, body: CalculationRequest, stamp: Mapping[str, Any]) -> _Origin:
    """Hold a stored stamp against that of now. What a fingerprint proves counts more than what stands beside it."""
    rules = stamp["rule_set"]
    then = stored.rule_set
    same_rules = None if then is None else (then.digest, then.as_of.isoformat()) == (rules["digest"], rules["as_of"])
    same_engine = None if stored.engine is None else stored.engine == identity()
    if stored.fingerprint == stamp["fingerprint"]:
        named = [same for same in (same_rules, same_engine) if same is not None]
        return _Origin(True, all(named) if named else None, False, False)
    changed = None if same_rules is None else not same_rules

    def of(engine: str) -> bool:
        return then is not None and stored.fingerprint == fingerprint(operation, body, then.digest, then.as_of, engine)

    if stored.engine is not None and of(stored.engine):
        return _Origin(False, True, not same_engine, changed)
    if of(identity()):  # so the engine was this one, whatever is said of it
        return _Origin(False, None if stored.engine is None else False, False, changed)
    # another engine may have had other fields of the request to put into its fingerprint
    contradicted = same_engine is True and then is not None
    return _Origin(False, False if contradicted else None, None if same_engine is None else not same_engine, changed)


@dataclass(frozen=True)
class _Pair:
    """Rules of then and of now, on a date each, known again by their content."""

    digests: tuple[str, str]
    days: tuple[date, date]
    then: RuleTree = field(compare=False)
    now: RuleTree = field(compare=False)


class _Between:
    """What changed between the rules of then and of now, and the rules of now with each change taken back."""

    def __init__(self, pair: _Pair) -> None:
        then, now = pair.days
        self.data, self.criteria = pair.now.at(now).data, pair.now.criteria
        self.content = compare.as_of(pair.now, now)
        found = compare.diff(compare.as_of(pair.then, then), self.content)
        self.changes = [Change(change, now, change.key) for change in found if change.affects_results]
        self._without: dict[str, RuleSetData | None] = {}

    def without(self, change: Change) -> RuleSetData | None:
        """Return the rules with a change taken back; ``None`` where the value of then cannot stand among the others of now."""
        if change.label not in self._without:
            self._without[change.label] = mixed(self.data, self.content, [change.change], self.criteria)
        return self._without[change.label]


HELD = 4
"""Pairs of rules that are kept: after one change of the rules many stored answers are checked."""
_between = lru_cache(maxsize=HELD)(_Between)


def _changes_of_rules(engine: Engine, then: _StoredRules | None, now: RuleSet) -> _Between | None:
    """Return what changed in the rules between then and now, ``None`` when the rules of then are not held.

    They are known by their digest, wherever they are kept and whatever they are called.
    """
    if then is None:
        return None
    old, today = engine.store.of_digest(then.digest), engine.store.get(now.name)
    if old is None or today is None or then.as_of < old.valid_from:
        return None
    return _between(_Pair((old.digest, today.digest), (then.as_of, now.as_of), old, today))


MOST_EFFECTS = 40
"""Changed rule values whose effect on an answer is looked for; each asks the question once more."""
POINTERS = 20
"""Pointers listed of what a change moves."""


def _effects(
    between: _Between, now: RuleSet, fresh: Mapping[str, Any], ask: Callable[[Engine], Any]
) -> list[dict[str, Any]]:
    """Write the changes of the rules, each with what of the answer now it moves by itself."""
    written = written_changes(between.changes, {})
    for item, change in zip(written, between.changes, strict=True):
        item |= {"moves": None, "pointers": [], "verdict_without": None}
        if len(between.changes) > MOST_EFFECTS:
            continue
        rest()
        data = between.without(change)
        if data is None:
            continue
        try:
            other = orjson.loads(orjson.dumps(ask(Fixed(data, now))))
        except (ValidationError, PydanticCustomError):
            continue
        moved = [pointer for pointer, _, _ in differences(other, fresh) if "stamp" not in pointer.split("/")]
        item |= {"moves": len(moved), "pointers": moved[:POINTERS], "verdict_without": _verdict(other)}
    return written


class Question(Protocol):
    """An operation, as far as a recheck has to know it."""

    @property
    def request(self) -> type[CalculationRequest]:
        """The model of a request."""

    @property
    def answer(self) -> Callable[[Any, Engine], dict[str, Any]]:
        """What answers it."""


def recheck(request: RecheckRequest, engine: Engine, questions: Mapping[str, Question]) -> dict[str, Any]:
    """Answer a recheck of one of some questions."""
    stored = _stored_stamp(request.stored_result)
    operation = questions[request.operation]
    question: dict[str, Any] = {**request.stored_request}
    if request.pin_date:
        if stored.rule_set is None:
            raise refusal("out_of_domain", ("stored_result", "stamp", "rule_set"),
                          "the stored stamp does not tell the date of its rules, which pin_date is to keep",
                          "a stamp with its rule_set, or pin_date false")  # fmt: skip
        question["as_of"] = stored.rule_set.as_of.isoformat()
    if "units" not in question and (system := _system_of(request.stored_result)) is not None:
        question["units"] = {"system": system}  # a client may have asked for them of its own accord
    try:
        body = operation.request.model_validate(question, context=read_as(question))
        answer = operation.answer(body, engine)
    except ValidationError as error:
        further = unknown_names(operation.request, question, engine)
        raise prefixed(error, ("stored_request",), question, further=further) from None
    fresh = orjson.loads(orjson.dumps(answer))
    stamp = fresh["stamp"]
    found = [
        (pointer, before, after)
        for pointer, before, after in differences(request.stored_result, fresh)
        if "stamp" not in pointer.split("/")  # an enquiry holds those of its parts besides its own
    ]
    origin = _origin(stored, request.operation, body, stamp)
    rules = engine.rules(body)
    between = None if origin.same_question else _changes_of_rules(engine, stored.rule_set, rules)
    told = [] if between is None else _effects(between, rules, fresh, lambda other: operation.answer(body, other))
    stamp_alone = request.stored_result.keys() == {"stamp"}
    same = origin.same_question if stamp_alone else not found
    return {
        "same": same,
        "verdict_before": _verdict(request.stored_result),
        "verdict_after": _verdict(fresh),
        "fingerprint_matches": origin.same_question,
        "stamp_holds": origin.stamp_holds,
        "engine_changed": origin.engine_changed,
        "rules_changed": origin.rules_changed,
        "summary": _summary(request.stored_result, fresh, len(found), same, origin),
        "differences": [{"pointer": p, "before": b, "after": a} for p, b, a in found[:MOST]],
        "difference_count": len(found),
        "rule_changes": told,
        "rules_of_then_held": origin.same_question or between is not None,
        "result": fresh if request.detail == "full" else None,
        "question": known.question(request.operation, body, rules.digest, rules.as_of, identity()).decode(),
        "stamp": stamp,
        "cautions": general_cautions(rules.data),
    }


def _units_in(value: Any) -> Iterator[str]:
    """Yield the unit of every quantity of a JSON value."""
    if isinstance(value, dict):
        if value.keys() == {"value", "unit"} and isinstance(value["unit"], str):
            yield value["unit"]
        else:
            for entry in value.values():
                yield from _units_in(entry)
    elif isinstance(value, list):
        for entry in value:
            yield from _units_in(entry)


def _system_of(result: Mapping[str, Any]) -> str | None:
    """Tell the system of units of a stored answer by those that only one of them has; ``None`` where both occur."""
    si, us = (set(SYSTEMS[name].units.values()) for name in ("si", "us"))
    found = set(_units_in(dict(result)))
    if found & (us - si):
        return None if found & (si - us) else "us"
    return "si" if found & (si - us) else None


def _verdict(result: Mapping[str, Any]) -> str | None:
    value = result.get("verdict")
    return value if isinstance(value, str) else None


def _summary(before: Mapping[str, Any], after: Mapping[str, Any], count: int, same: bool, origin: _Origin) -> str:
    """Say a recheck in a sentence or two."""
    parts = (origin.engine_changed, "the engine"), (origin.rules_changed, "the rules")
    changed = " and ".join(name for is_so, name in parts if is_so)
    unknown = " or ".join(name for is_so, name in parts if is_so is None)
    if same:
        said = f"The stored answer holds, though {changed} changed." if changed else "The stored answer holds."
    else:
        said = f"{_turn(before, after, count)}, "
        if origin.same_question:
            said += "though neither engine nor rules changed: the stored answer is not what was exchanged."
        elif changed:
            said += f"because {changed} changed."
        elif unknown:
            said += f"because {unknown}, or the request, changed; which, the stored stamp does not tell."
        else:
            said += "though neither engine nor rules changed: the stored request or stamp is not what was exchanged."
    if origin.stamp_holds is False:
        said += " The stored stamp does not hold: its fingerprint is not that of the stored request, engine and rules."
    return said


def _turn(before: Mapping[str, Any], after: Mapping[str, Any], count: int) -> str:
    """Say what became of a stored answer that is not the same."""
    if not count:
        return "Only a stamp was stored, and its fingerprint is another today"
    values = "1 stored value differs" if count == 1 else f"{count} stored values differ"
    a, b = _verdict(before), _verdict(after)
    if a is None:
        return values[0].upper() + values[1:]
    return f"The verdict turns from {a} to {b}" if a != b else f"The verdict stays {b}, {values}"
