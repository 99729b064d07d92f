"""What makes the published contract one that may grow: results are open, requests are closed, nothing is mandatory by default.

A client that was generated yesterday has to read the answer of tomorrow: with a field more, and with a value that no list had.
So schemas of results take further fields, their bounds are left out, and where only certain texts can stand today, they are
listed as ``x-extensible-enum`` beside plain text. Requests stay closed: there an unknown field is a mistake of the caller.
"""

from __future__ import annotations

import copy
from collections.abc import Iterable
from typing import Any

PREFIX = "#/components/schemas/"
KNOWN = "x-extensible-enum"
"""Values of a text of a result that are known today."""
ANSWERED = "Answered"
"""What the name of a schema begins with that requests have as well, closed."""
BATCHES, REPRESENTATIONS = "x-batches", "x-representations"
"""Of an operation: the forms of many requests in one message, and the media types of an answer beside JSON.

They do not stand among the contents of the response: generators of clients make of two media types a union, and of a table or
a drawing a text, so that whoever reads a result would have to ask first whether it is one.
"""
_ALSO_ALONE = frozenset({"text/csv"})
"""Media types in which a single request is answered as well."""
_BOUNDS = frozenset(
    {"minimum", "maximum", "exclusiveMinimum", "exclusiveMaximum", "multipleOf", "minLength", "maxLength", "minItems",
     "maxItems", "pattern", "propertyNames", "default"}
)  # fmt: skip
_NAMED = frozenset({"properties", "$defs", "patternProperties"})
"""Keys whose entries are schemas by a name of their own."""
_DATA = frozenset({"enum", "const", "examples", "example"})


def _references(node: Any) -> set[str]:
    if isinstance(node, dict):
        own = {node["$ref"].removeprefix(PREFIX)} if isinstance(node.get("$ref"), str) else set()
        return own.union(*(_references(value) for value in node.values()))
    return set().union(*(_references(value) for value in node)) if isinstance(node, list) else set()


def reachable(schemas: dict[str, Any], nodes: Iterable[Any]) -> set[str]:
    """Return the names of the schemas that some parts of a document lead to."""
    found: set[str] = set()
    names = set().union(*(_references(node) for node in nodes))
    while names:
        found |= names
        names = set().union(*(_references(schemas[name]) for name in names)) - found
    return found


def _opened(node: Any, shared: set[str]) -> Any:
    """Return a schema of a result without bounds, its enumerations as texts with their known values."""
    if isinstance(node, list):
        return [_opened(item, shared) for item in node]
    if not isinstance(node, dict):
        return node
    kept: dict[str, Any] = {}
    for key, value in node.items():
        if key in _BOUNDS or (key == "additionalProperties" and value is False):
            continue
        if key == "$ref" and (name := value.removeprefix(PREFIX)) in shared:
            kept[key] = f"{PREFIX}{ANSWERED}{name}"
        elif key in _NAMED:
            kept[key] = {name: _opened(schema, shared) for name, schema in value.items()}
        else:
            kept[key] = value if key in _DATA else _opened(value, shared)
    if kept.get("type") == "string" and "enum" in kept:
        kept[KNOWN] = kept.pop("enum")
    return kept


def _say_defaults(node: Any) -> None:
    """Say what stands for a field that is left out in its description: of a default, some generators make a field that must be."""
    if isinstance(node, list):
        for entry in node:
            _say_defaults(entry)
        return
    if not isinstance(node, dict):
        return
    for key, value in node.items():
        if key in _NAMED:
            for schema in value.values():
                default = schema.pop("default", None)
                if isinstance(default, str | int | float | bool) and "when absent" not in schema.get("description", ""):
                    said = str(default).lower() if isinstance(default, bool) else default
                    schema["description"] = f"{schema.get('description', '')} Default: `{said}`.".strip()
                _say_defaults(schema)
        elif key not in _DATA:
            _say_defaults(value)


def grown(strict: dict[str, Any]) -> dict[str, Any]:
    """Return the published contract of a document in which results are as closed as they are today."""
    document = copy.deepcopy(strict)
    schemas: dict[str, Any] = document["components"]["schemas"]
    operations = [operation for path in document["paths"].values() for operation in path.values()]
    for operation in operations:
        _set_apart(operation)
    asked = reachable(
        schemas,
        [
            part
            for operation in operations
            for part in (
                operation.get("requestBody"),
                operation.get("parameters"),
                [form["request"] for form in operation.get(BATCHES, {}).values()],
            )
        ],
    )
    answers = [operation["responses"] for operation in operations]
    answers += [form["response"] for operation in operations for form in operation.get(BATCHES, {}).values()]
    answered = reachable(schemas, answers)
    shared = asked & answered
    if taken := {f"{ANSWERED}{name}" for name in shared} & schemas.keys():
        raise ValueError(f"names that the contract needs for itself: {', '.join(sorted(taken))}")
    for name in sorted(answered):
        schema = _opened(schemas[name], shared)
        if name in shared:
            schema["title"] = f"{ANSWERED}{name}"
            schemas[f"{ANSWERED}{name}"] = schema
        else:
            schemas[name] = schema
    for operation in operations:
        operation["responses"] = {code: _opened(answer, shared) for code, answer in operation["responses"].items()}
        for form in operation.get(BATCHES, {}).values():
            form["response"] = _opened(form["response"], shared)
    _say_defaults({"properties": {name: schemas[name] for name in asked}})
    document["components"]["schemas"] = dict(sorted(schemas.items()))
    return document


def _set_apart(operation: dict[str, Any]) -> None:
    """Take what is not JSON out of the contents of an operation."""
    asked = operation.get("requestBody", {}).get("content", {})
    success = operation["responses"]["200"].get("content", {})
    forms = {}
    for media_type in [name for name in asked if name != "application/json"]:
        answer = success[media_type] if media_type in _ALSO_ALONE else success.pop(media_type)
        forms[media_type] = {"request": asked.pop(media_type)["schema"], "response": copy.deepcopy(answer["schema"])}
    others = [name for name in success if name != "application/json"]
    for media_type in others:
        del success[media_type]
    if forms:
        operation[BATCHES] = forms
    if others:
        operation[REPRESENTATIONS] = others
