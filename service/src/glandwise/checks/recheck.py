"""Does a stored result still hold? It is answered anew under today's rules and engine and held against what was stored."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any

import orjson
from pydantic import ValidationError

from glandwise import __version__
from glandwise.checks.comparison import written_changes
from glandwise.checks.engine import Engine, prefixed, refusal
from glandwise.checks.registry import OPERATIONS
from glandwise.checks.report import general_cautions
from glandwise.contract.base import SYSTEMS
from glandwise.contract.recheck import RecheckRequest
from glandwise.rules import compare

MOST = 500
"""Differences listed at most."""


def differences(before: Any, after: Any, pointer: str = "") -> Iterator[tuple[str, Any, Any]]:
    """Yield pointer, stored and new value of everything that differs between two JSON values."""
    if before == after and isinstance(before, bool) == isinstance(after, bool):
        return
    if isinstance(before, dict) and isinstance(after, dict):
        for key in {**before, **after}:
            step = f"{pointer}/{str(key).replace('~', '~0').replace('/', '~1')}"
            yield from differences(before.get(key), after.get(key), step)
    elif isinstance(before, list) and isinstance(after, list):
        for index in range(max(len(before), len(after))):
            a = before[index] if index < len(before) else None
            b = after[index] if index < len(after) else None
            yield from differences(a, b, f"{pointer}/{index}")
    else:
        yield pointer, before, after


def _stored_stamp(result: Mapping[str, Any]) -> tuple[str, str, str, date, str]:
    """Return engine, rule set name, digest, date and fingerprint of a stored result."""
    stamp = result.get("stamp")
    try:
        assert isinstance(stamp, dict)
        rules = stamp["rule_set"]
        values = (str(stamp["engine"]), str(rules["name"]), str(rules["digest"]), date.fromisoformat(rules["as_of"]),
                  str(stamp["fingerprint"]))  # fmt: skip
    except (AssertionError, KeyError, TypeError, ValueError):
        raise refusal("out_of_domain", ("stored_result", "stamp"), "the stored answer has no stamp that can be read",
                      "the answer of a calculation as it was received") from None  # fmt: skip
    return values


def _rule_changes(
    engine: Engine, name: str, digest: str, then: date, now_name: str, now: date
) -> list[dict[str, Any]] | None:
    """Return what changed in the rules between then and now, ``None`` when the rules of then are not held."""
    held = [tree for tree in engine.store.trees.values() if tree.digest == digest]
    today = engine.store.get(now_name)
    if not held or today is None:
        return None
    old = next((tree for tree in held if tree.tree["rule_set"]["name"] == name), held[0])
    if then < old.valid_from:
        return None
    changes = compare.diff(compare.as_of(old, then), compare.as_of(today, now))
    return written_changes([change for change in changes if change.affects_results], {})


def recheck(request: RecheckRequest, engine: Engine) -> dict[str, Any]:
    """Answer a recheck."""
    old_engine, old_name, old_digest, then, old_fingerprint = _stored_stamp(request.stored_result)
    operation = OPERATIONS[request.operation]
    question: dict[str, Any] = {**request.stored_request}
    if request.pin_date:
        question["as_of"] = then.isoformat()
    if "units" not in question and (system := _system_of(request.stored_result)) is not None:
        question["units"] = {"system": system}  # a client may have asked for them of its own accord
    try:
        body = operation.model.model_validate(question)
        answer = operation.answer(body, engine)
    except ValidationError as error:
        raise prefixed(error, ("stored_request",), question) from None
    fresh = orjson.loads(orjson.dumps(answer))
    stamp = fresh["stamp"]
    found = [
        (pointer, before, after)
        for pointer, before, after in differences(request.stored_result, fresh)
        if "stamp" not in pointer.split("/")  # an enquiry holds those of its parts besides its own
    ]
    now = date.fromisoformat(stamp["rule_set"]["as_of"])
    engine_changed = old_engine != __version__
    rules_changed = (old_digest, then) != (stamp["rule_set"]["digest"], now)
    changes = _rule_changes(engine, old_name, old_digest, then, stamp["rule_set"]["name"], now)
    rules = engine.rules(body)
    return {
        "same": not found,
        "verdict_before": _verdict(request.stored_result),
        "verdict_after": _verdict(fresh),
        "fingerprint_matches": old_fingerprint == stamp["fingerprint"],
        "engine_changed": engine_changed,
        "rules_changed": rules_changed,
        "summary": _summary(
            request.stored_result,
            fresh,
            len(found),
            engine_changed,
            rules_changed,
            old_fingerprint == stamp["fingerprint"],
        ),
        "differences": [{"pointer": p, "before": b, "after": a} for p, b, a in found[:MOST]],
        "difference_count": len(found),
        "rule_changes": changes or [],
        "rules_of_then_held": changes is not None,
        "result": fresh,
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


def _summary(
    before: Mapping[str, Any], after: Mapping[str, Any], count: int, engine: bool, rules: bool, same_question: bool
) -> str:
    """Say a recheck in one sentence."""
    if not count:
        return (
            "The stored answer holds."
            if same_question
            else "The stored answer holds, under other rules or another engine."
        )
    reasons = [text for changed, text in ((engine, "the engine"), (rules, "the rules")) if changed]
    if not reasons:
        why = "though neither engine nor rules did: the stored request or answer is not what was exchanged"
    else:
        why = f"because {' and '.join(reasons)} changed"
    a, b = _verdict(before), _verdict(after)
    what = f"The verdict turns from {a} to {b}" if a != b else f"The verdict stays {b}, {count} values differ"
    return f"{what}, {why}."
