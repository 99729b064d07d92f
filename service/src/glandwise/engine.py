"""The engine: rule sets and version behind every calculation, and the stamp on every result."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from difflib import get_close_matches
from functools import cache
from typing import Any, NamedTuple, TypeVar

import orjson
from pydantic import BaseModel, ValidationError
from pydantic_core import InitErrorDetails, PydanticCustomError

from glandwise import __version__
from glandwise.contract.base import NAME, RULE_SET, CalculationRequest
from glandwise.numerics import sources
from glandwise.rules.loader import RuleError, RuleSet, RuleStore
from glandwise.rules.model import Evidence, weakest

Record = TypeVar("Record")

REFUSAL = "refusal"
"""Title of the errors below, by which the API knows them from those of validation."""


def refusal(kind: str, location: Sequence[str | int], detail: str, accepted: str) -> ValidationError:
    """Return the error for a field that only the calculation could judge; the API answers it with a 422."""
    error = PydanticCustomError(kind, "{detail}", {"detail": detail, "accepted": accepted})  # type: ignore[arg-type, unused-ignore]
    return ValidationError.from_exception_data(REFUSAL, [InitErrorDetails(type=error, loc=tuple(location), input=None)])


class UnknownName(NamedTuple):
    """A name in a request that the rules do not know."""

    location: tuple[str | int, ...]
    detail: str
    accepted: str


_NO_OBJECT = {"dict_type", "model_type", "model_attributes_type"}


def fault_in_words(item: Mapping[str, Any]) -> str:
    """Say the fault of one of a validator's errors, without its names for JSON objects."""
    if item["type"] == "union_tag_invalid":  # whose own words repeat the tag
        return "not one of the kinds known here"
    return "not an object" if item["type"] in _NO_OBJECT else str(item["msg"])


_QUOTED = re.compile(r"""(?<!\w)'(?:[^'\\]|\\.)*'|"(?:[^"\\]|\\.)*\"""")


def unquoted(fault: str) -> str:
    """Return the fault of a rule set that was sent, without what it quotes of it."""
    return _QUOTED.sub("'…'", fault)


def prefixed(
    error: ValidationError, prefix: Sequence[str | int], raw: Any, usual: str = "see the schema of the operation",
    further: Iterable[UnknownName] = (),
) -> ValidationError:  # fmt: skip
    """Return the errors of an embedded request as refusals of the request around it.

    ``raw`` is the embedded request: a part of a location that leads nowhere in it is the tag of a union, not a field.
    ``usual`` says what is accepted where an error does not. ``further`` are unknown names, told where no error is yet.
    """
    details: list[InitErrorDetails] = []
    for item in error.errors(include_url=False, include_input=False):
        context: dict[str, Any] = item.get("ctx") or {}
        location: list[str | int] = []
        here: Any = raw
        last = len(item["loc"]) - 1
        for position, part in enumerate(item["loc"]):
            if (isinstance(here, dict) and part in here) or (
                isinstance(here, list) and isinstance(part, int) and part < len(here)
            ):
                here = here[part]  # type: ignore[index, unused-ignore]
            elif position < last or item["type"] != "missing":
                continue
            location.append(part)
        kind = item["type"] if item["type"] in {"out_of_domain", "unknown_name"} else "out_of_domain"
        accepted = str(context.get("accepted") or context.get("expected") or usual)
        text = {"detail": fault_in_words(item), "accepted": accepted}
        fault = PydanticCustomError(kind, "{detail}", text)  # type: ignore[arg-type, unused-ignore]
        details.append(InitErrorDetails(type=fault, loc=(*prefix, *location, *context.get("fields", ())), input=None))
    told = {item.get("loc") for item in details}
    for name in further:
        if (place := (*prefix, *name.location)) not in told:
            text = {"detail": name.detail, "accepted": name.accepted}
            fault = PydanticCustomError("unknown_name", "{detail}", text)  # type: ignore[arg-type, unused-ignore]
            details.append(InitErrorDetails(type=fault, loc=place, input=None))
    return ValidationError.from_exception_data(REFUSAL, details)


def known(table: Mapping[str, Record], name: str, location: Sequence[str | int], what: str) -> Record:
    """Return the record of a name, or refuse the name with the nearest known ones."""
    record = table.get(name)
    if record is None:
        raise refusal("unknown_name", location, *unknown(table, name, what))
    return record


def unknown(table: Mapping[str, object], name: str, what: str) -> tuple[str, str]:
    """Say of a name that is not in a table what is wrong, and what is accepted: the nearest known ones."""
    near = get_close_matches(name[: NAME.longest], table, n=5, cutoff=0.5)
    accepted = ("close names: " + ", ".join(near)) if near else one_of(table)
    return no_such(what), accepted


MOST_LISTED = 360
"""Letters of the names that are listed where none is close."""


def one_of(names: Iterable[str]) -> str:
    """List names, as many as can be read."""
    text, more = "", ""
    for name in sorted(names):
        if len(text) + len(name) > MOST_LISTED:
            more = " and others"
            break
        text += f", {name}" if text else name
    return f"one of: {text}{more}"


def no_such(what: str) -> str:
    """Say that nothing bears a name."""
    return f"no {what} of this name" + ("" if what == RULE_SET else " in the rule set")


class Trace:
    """Which sourced records a result rests on."""

    __slots__ = ("_records",)

    def __init__(self) -> None:
        self._records: list[Any] = []

    def add(self, *records: Any) -> None:
        """Note records; ``None`` is skipped."""
        self._records.extend(record for record in records if record is not None)

    def extend(self, records: Iterable[Any]) -> None:
        """Note several records."""
        self.add(*records)

    @property
    def records(self) -> tuple[Any, ...]:
        """Records noted so far."""
        return tuple(self._records)

    @property
    def sources(self) -> list[str]:
        """Sorted source ids."""
        return sorted({record.source for record in self._records})

    @property
    def evidence(self) -> Evidence | None:
        """Weakest evidence among the records."""
        return weakest({record.evidence for record in self._records})


_OF_THE_ANSWER = {"units", "decimal_sign", "detail", "parts", "reference", "working", "rule_set", "as_of"}
"""Fields of a request that change no number, or stand in the fingerprint by what they lead to."""


def question(operation: str, request: BaseModel, digest: str, as_of: date, engine: str) -> bytes:
    """Return the question under a rule set and an engine, in the form of which a fingerprint is the SHA-256.

    That is JSON in UTF-8 without white space, the keys of every object sorted: the operation, the request in SI with every
    default filled in, the digest and the date of the rules, the engine. Units and detail of the answer, the working and the
    name of the rule set do not enter, so that the same enquiry written in other units has the same fingerprint. Where numbers are
    stated with a range, the request has a further member ``ranges``: the ends by JSON pointer.
    """
    asked = request.model_dump(mode="json", exclude=_OF_THE_ANSWER)
    if isinstance(request, CalculationRequest) and request.ranges:
        asked["ranges"] = {"/" + "/".join(place): [known.low, known.high] for place, known in request.ranges.items()}
    return orjson.dumps([operation, asked, digest, as_of.isoformat(), engine], option=orjson.OPT_SORT_KEYS)


def fingerprint(operation: str, request: BaseModel, digest: str, as_of: date, engine: str) -> str:
    """Return the fingerprint of a question under a rule set and an engine."""
    return hashlib.sha256(question(operation, request, digest, as_of, engine)).hexdigest()


@cache
def identity() -> str:
    """Return what the engine is known by: its version, and a digest of the sources of all formulas and their tables.

    So an answer that another formula gave is told apart though nobody thought of the version.
    """
    return f"{__version__}+{sources.digest()[:12]}"


class Engine:
    """Stateless but for the rule sets, which never change while it lives."""

    def __init__(self, store: RuleStore, default_rule_set: str) -> None:
        self.store = store
        self.default_rule_set = default_rule_set
        if store.get(default_rule_set) is None:
            raise RuleError(
                "settings",
                None,
                "GLANDWISE_DEFAULT_RULE_SET",
                f"there is no rule set {default_rule_set!r}",
                ", ".join(sorted(store.trees)),
            )

    def rules(self, request: CalculationRequest) -> RuleSet:
        """Return the rule set a request asks for, at its date."""
        return self.rules_of(request.rule_set, request.as_of)

    def rules_of(self, rule_set: str | None, as_of: date | None) -> RuleSet:
        """Return a rule set, the default where it has no name, at a date, its newest values where there is none."""
        name = rule_set or self.default_rule_set
        tree = self.store.get(name)
        if tree is None:
            raise refusal("unknown_name", ("rule_set",), *unknown(self.store.trees, name, RULE_SET))
        if as_of is None:
            return tree.newest()
        if not tree.breakpoints or as_of < tree.breakpoints[0]:
            raise refusal(
                "out_of_domain", ("as_of",), "the rule set was not in force yet", f"{tree.breakpoints[0]} or later"
            )
        return tree.at(as_of)

    def stamp(self, operation: str, request: BaseModel, rules: RuleSet) -> dict[str, Any]:
        """Return the stamp of a result: engine, rule set, fingerprint."""
        known = self.stamp_of(rules)
        return {**known, "fingerprint": fingerprint(operation, request, rules.digest, rules.as_of, identity())}

    @staticmethod
    def stamp_of(rules: RuleSet) -> dict[str, Any]:
        """Return the part of a stamp that does not depend on the request: engine and rule set."""
        as_of = rules.as_of.isoformat()
        rule_set = {"name": rules.name, "version": rules.version, "digest": rules.digest, "as_of": as_of}
        return {"engine": identity(), "rule_set": rule_set}
