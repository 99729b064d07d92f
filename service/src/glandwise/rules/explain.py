"""What the validation of a rule tree found, in words: path of the fault, what is wrong, what is accepted."""

from __future__ import annotations

import types
from collections.abc import Iterator, Sequence
from dataclasses import fields, is_dataclass
from datetime import date
from difflib import get_close_matches
from functools import lru_cache
from typing import Annotated, Any, Literal, NamedTuple, Union, get_args, get_origin, get_type_hints

from pydantic import StringConstraints, ValidationError

from glandwise import units
from glandwise.rules.model import RuleSetData
from glandwise.rules.values import Curve, CurveIn, Datum, DatumIn

Path = tuple[str | int, ...]


class Finding(NamedTuple):
    """One fault of a rule tree."""

    path: Path
    """Keys from the file on; indices for entries of arrays."""
    fault: str
    """What is wrong."""
    accepted: str
    """What is accepted."""
    missing: bool = False
    """True when the path is of something that is not there."""
    needs: tuple[Path, ...] = ()
    """Paths of which one should be there, for it is used here."""
    others: tuple[Path, ...] = ()
    """Paths that have a part in the fault: shown is what the uppermost set states."""


@lru_cache
def _hints(kind: type) -> dict[str, Any]:
    return get_type_hints(kind, include_extras=True)


def _accepted_fields(kind: Any) -> list[str]:
    return [item.name for item in fields(kind) if item.init]


def _plain(annotation: Any) -> tuple[Any, tuple[Any, ...]]:
    """Return a type without ``Annotated`` and ``None``, and the metadata found on the way."""
    metadata: tuple[Any, ...] = ()
    while True:
        if get_origin(annotation) is Annotated:
            annotation, *more = get_args(annotation)
            metadata = (*metadata, *more)
        elif get_origin(annotation) in (Union, types.UnionType):
            options = [item for item in get_args(annotation) if item is not type(None)]
            if len(options) != 1:
                return annotation, metadata
            annotation = options[0]
        else:
            return annotation, metadata


def type_at(path: Sequence[str | int], annotation: Any = RuleSetData) -> Any:
    """Return the annotation of what stands at a path of a rule tree, ``None`` when nothing can."""
    for part in path:
        kind, _ = _plain(annotation)
        if is_dataclass(kind):
            if part not in _accepted_fields(kind):
                return None
            annotation = _hints(kind)[str(part)]  # type: ignore[arg-type]
        elif get_origin(kind) is dict:
            annotation = get_args(kind)[1]
        elif get_origin(kind) is list and isinstance(part, int):
            annotation = get_args(kind)[0]
        else:
            return None
    return annotation


def describe(annotation: Any) -> str:
    """Return in words what is accepted for an annotation."""
    kind, metadata = _plain(annotation)
    for item in (getattr(mark, "func", mark) for mark in metadata):
        if isinstance(item, DatumIn):
            symbols = ", ".join(units.DIMENSIONS[item.dimension].symbols)
            return (
                f"a table of {', '.join(_accepted_fields(Datum))}, with a unit of {symbols}; or an array of such tables"
            )
        if isinstance(item, CurveIn):
            return f"a table of {', '.join(_accepted_fields(Curve))}; or an array of such tables"
        if isinstance(item, StringConstraints) and item.pattern:
            return f"text that matches {item.pattern}"
    words = {float: "a finite number", int: "a whole number", bool: "true or false", str: "text in quotes"}
    if kind in words:
        return words[kind]
    if kind is date:
        return "a date without quotes, as in 2026-01-01"
    if get_origin(kind) is Literal:
        return ", ".join(f'"{item}"' if isinstance(item, str) else str(item).lower() for item in get_args(kind))
    if get_origin(kind) is list:
        return f"a list; each entry {describe(get_args(kind)[0])}"
    if get_origin(kind) is dict:
        return "a table"
    if is_dataclass(kind):
        return f"a table of {', '.join(_accepted_fields(kind))}"
    if get_origin(kind) in (Union, types.UnionType):
        return " or ".join(describe(item) for item in get_args(kind))
    return "something else"


def _names(kind: Any, wrong: str) -> str:
    known = _accepted_fields(kind) if is_dataclass(kind) else []
    near = get_close_matches(wrong, known, n=1)
    return (f"{near[0]}, perhaps; " if near else "") + ", ".join(known)


_FAULTS = {
    "float_type": "is not a number",
    "int_type": "is not a whole number",
    "finite_number": "is not a finite number",
    "string_type": "is not text",
    "string_pattern_mismatch": "is not text that can stand here",
    "bool_type": "is neither true nor false",
    "date_type": "is not a date",
    "list_type": "is not a list",
    "dict_type": "is not a table",
    "dataclass_type": "is not a table",
}


def _one(error: Any, above: Path) -> Finding:
    location: Path = (*above, *error["loc"])
    kind, context = error["type"], error.get("ctx") or {}
    is_key = bool(location) and location[-1] == "[key]"
    path = location[:-1] if is_key else location
    if is_key and kind == "string_pattern_mismatch":
        return Finding(path, "is not a name that can stand here", f"text that matches {context.get('pattern')}")
    if is_key and kind == "literal_error":
        return Finding(path, "is not known here", str(context["expected"]).replace("'", '"'))
    # A choice between kinds of scalars adds the kind to the location.
    while path and type_at(path) is None and kind not in ("unexpected_keyword_argument", "missing"):
        path = path[:-1]
    if kind == "missing":
        return Finding(path, "is missing", describe(type_at(path)), missing=True)
    if kind == "unexpected_keyword_argument":
        parent, _ = _plain(type_at(path[:-1]))
        return Finding(path, "is not known here", _names(parent, str(path[-1])))
    if kind == "literal_error":
        return Finding(path, f"{error['input']!r} is not one of those that are known", describe(type_at(path)))
    if kind == "dataclass_type" and error["input"] == []:
        return Finding(path, "is a history without an entry", describe(type_at(path)))
    if kind == "dataclass_type" and isinstance(error["input"], list):
        return Finding(path, "is an array in which not every entry has a date", "a valid_from in every entry")
    if "key" in context:
        extra: Path = tuple(part for part in str(context["key"]).split(".") if part)
        return Finding((*path, *extra), error["msg"], str(context["accepted"]))
    return Finding(path, _FAULTS.get(kind, str(error["msg"])), str(context.get("accepted") or describe(type_at(path))))


def findings(error: ValidationError, above: Path = ()) -> Iterator[Finding]:
    """Yield what a validation of :class:`RuleSetData`, or of the part of it at ``above``, found: each fault once."""
    seen: set[Path] = set()
    for item in error.errors(include_url=False):
        finding = _one(item, above)
        if finding.path not in seen:
            seen.add(finding.path)
            yield finding
