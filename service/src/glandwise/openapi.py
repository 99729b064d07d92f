"""The OpenAPI document: the framework's, with what it cannot say itself."""

from __future__ import annotations

import json
from importlib.resources import files
from typing import Any

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi

from glandwise.api.lines import BatchLine
from glandwise.api.negotiation import COLUMNS, representations, takes
from glandwise.api.problems import MEDIA_TYPE, Problem
from glandwise.openapi_growth import grown
from glandwise.operations import CSV, LINES, OPERATIONS, XLSX, Operation

DESCRIPTION = """\
Engineering of machined PTFE rotary shaft seals, stateless, for other people's tools.

Every quantity stands with its unit. Every verdict has a reason, the evidence it rests on, and its sources. Answers are
engineering estimates to be proved by test; local codes and a licensed engineer decide.

Every path answers `OPTIONS` with 204 and its methods under `Allow`, and any other method with 405, a problem document and the
same `Allow`. Whatever can be read can be asked for with `HEAD`. Every 429 and every 503 says under `Retry-After` when to ask
again. A message that is too large is refused by a 413 that can be read by a caller who is still sending.
"""

TAGS = [
    {
        "name": "calculations",
        "description": "Checks and estimates. All are pure: the same request gives the same answer.",
    },
    {"name": "reference", "description": "What the rules hold: materials, fluids, designs, sources."},
    {"name": "health", "description": "State of the service."},
]

_CALCULATION_PROBLEMS = {
    "400": "The body is not acceptable JSON, or the message is malformed.",
    "406": "No acceptable representation.",
    "413": "The request is too large: its body, its lines or rows, or what they unpack to.",
    "415": "The media type is not supported.",
    "422": "The request does not fit its schema, is unphysical, or uses a name the rule set does not know.",
}
_REFERENCE_PROBLEMS = {
    "404": "There is no such resource.",
    "406": "No acceptable representation.",
    "422": "A parameter does not fit its schema, or names what the rule set does not know.",
}
_PUT_OFF = {
    "429": "The caller has asked for too much, or a gateway says so.",
    "503": "Too much is under way, the answer took too long, or the service is not ready.",
}
_COMMON = {
    **_PUT_OFF,
    "default": "Any other problem: of access (401, 403), of time (408), a defect of the service (500), a part that this one lacks (501), "
    "or an answer of a gateway (401, 411).",
}


_REFERENCE = "#/components/schemas/{model}"


def examples(operation: str) -> dict[str, dict[str, Any]]:
    """Return the example requests of an operation by name: ``{"summary", "value"}``."""
    folder = files("glandwise.contract").joinpath("examples", operation)
    if not folder.is_dir():
        return {}
    found = {}
    for entry in sorted(folder.iterdir(), key=lambda item: item.name):
        if entry.name.endswith(".json"):
            document = json.loads(entry.read_text(encoding="utf-8"))
            found[entry.name.removesuffix(".json")] = {"summary": document["summary"], "value": document["request"]}
    return found


def _problem_responses(method: str) -> dict[str, Any]:
    codes = {**(_CALCULATION_PROBLEMS if method == "post" else _REFERENCE_PROBLEMS), **_COMMON}
    schema = {"$ref": "#/components/schemas/Problem"}
    found: dict[str, Any] = {
        code: {"description": text, "content": {MEDIA_TYPE: {"schema": schema}}} for code, text in codes.items()
    }
    for code in _PUT_OFF:
        found[code]["headers"] = _WAIT
    return found


_HEADERS = {
    "X-Request-Id": {
        "description": "Identifier of this request, the caller's own where one was sent.",
        "schema": {"type": "string"},
    }
}

_WAIT = {
    "Retry-After": {
        "description": "Seconds after which to ask again.",
        "required": True,
        "schema": {"type": "integer", "minimum": 0},
    }
}


_BEARER = {
    "type": "http",
    "scheme": "bearer",
    "description": "A token, where the service asks for one: of its own file, or signed by an identity provider. Its rights are "
    "`read` (reference), `judge` (calculations), `rules` (comparisons and audits of rule sets), `operate` (metrics, reloads).",
}


def build(app: FastAPI) -> dict[str, Any]:
    """Return the published OpenAPI document of the application."""
    if not app.openapi_schema:
        app.openapi_schema = grown(strict(app))
    return app.openapi_schema


def strict(app: FastAPI) -> dict[str, Any]:
    """Return the document that holds answers to what they are today: no other field, no other value."""
    document = get_openapi(
        title=f"{app.title} API",  # of which generators make the name of a package: glandwise-client is ours
        version=app.version,
        openapi_version="3.1.0",
        description=DESCRIPTION,
        routes=app.routes,
        tags=TAGS,
        contact={"name": "The Glandwise developers"},
        license_info={"name": "Proprietary"},
        servers=[{"url": "/", "description": "This service"}],
    )
    document["components"]["securitySchemes"] = {"bearer": _BEARER}
    document["security"] = [{"bearer": []}, {}]
    schemas = document["components"]["schemas"]
    for unused in ("HTTPValidationError", "ValidationError"):
        schemas.pop(unused, None)
    for model in (Problem, BatchLine):
        schema = model.model_json_schema(ref_template=_REFERENCE)
        schemas.update(schema.pop("$defs", {}))
        schemas[model.__name__] = schema
    _give_formats(schemas)
    _drop_choice_defaults(schemas)
    document["components"]["schemas"] = dict(sorted(schemas.items()))
    for path in document["paths"].values():
        for method, operation in path.items():
            name = operation["operationId"]
            success = operation["responses"]["200"]
            operation["responses"] = {"200": {**success, "headers": _HEADERS}, **_problem_responses(method)}
            if method == "get" and not path_is_health(name):
                operation["responses"]["304"] = {"description": "The caller holds this answer already."}
            elif method == "get":
                for code in _REFERENCE_PROBLEMS:
                    operation["responses"].pop(code)
            if name in OPERATIONS:
                row = OPERATIONS[name]
                if row.deprecated is not None:
                    operation["deprecated"] = True
                    operation["x-sunset"] = row.deprecated.sunset.isoformat()
                for media_type in representations(row):
                    success["content"][media_type] = {"schema": {"type": "string"}}
                asked = operation["requestBody"]["content"]
                asked["application/json"]["examples"] = examples(name)
                if COLUMNS in takes(row):
                    asked[COLUMNS] = {"schema": _binary("Cases by column, see the guide to the interface.", COLUMNS)}
                    success["content"][COLUMNS] = {"schema": _binary("Criteria of every case by column.", COLUMNS)}
                if CSV in takes(row):
                    asked[CSV] = {"schema": _rows(row)}
                if XLSX in takes(row):
                    asked[XLSX] = {"schema": _workbook(row)}
                    success["content"][XLSX] = {
                        "schema": _binary("A row for each case, a sentence among what it is told.", XLSX)
                    }
                if LINES in takes(row):
                    asked[LINES] = {"schema": _lines("A request on each line.", asked["application/json"]["schema"])}
                    answered = {"$ref": _REFERENCE.format(model="BatchLine")}
                    success["content"][LINES] = {"schema": _lines("The answer to a batch: a line for each.", answered)}
    return document


_FORMATS = {"number": "double", "integer": "int32"}


def _drop_choice_defaults(node: Any) -> None:
    """Leave out the default of a field that holds one of several objects: generators of clients cannot write it."""
    if isinstance(node, dict):
        if {"oneOf", "anyOf"} & node.keys() and isinstance(node.get("default"), dict):
            del node["default"]
        for entry in node.values():
            _drop_choice_defaults(entry)


def _give_formats(node: Any) -> None:
    """Give every number that has none its format: what crosses the wire are doubles and 32-bit integers."""
    if isinstance(node, dict):
        kind = node.get("type")
        if isinstance(kind, str) and kind in _FORMATS:
            node.setdefault("format", _FORMATS[kind])
        for key, entry in node.items():
            if key not in {"default", "enum", "const", "examples"}:
                _give_formats(entry)
    elif isinstance(node, list):
        for entry in node:
            _give_formats(entry)


def _lines(text: str, schema: dict[str, Any]) -> dict[str, Any]:
    """Return the schema of a message of many lines, each of a schema of its own."""
    return {
        "type": "string",
        "description": text,
        "pattern": r"\S",
        "contentMediaType": LINES,
        "contentSchema": schema,
    }


def _rows(row: Operation) -> dict[str, Any]:
    """Return the schema of a table of cases."""
    told = ", ".join(one.name for one in row.told)
    return {
        "type": "string",
        "description": "A row for each case under a line of headings with units, see the guide to the interface; in the query "
        f"`units` (`si`, `us`), `rule_set` and `as_of`. Each row is answered with `line`, `case_id`, `status`, `fault`, {told}.",
        "pattern": r"\S",
        "contentMediaType": CSV,
    }


def _workbook(row: Operation) -> dict[str, Any]:
    """Return the schema of a workbook of cases."""
    text = f"A workbook (.xlsx) of the same rows, without formulas; `GET /v1/templates/{row.name}` gives an empty one."
    return _binary(text, XLSX)


def _binary(text: str, media_type: str) -> dict[str, Any]:
    """Return the schema of a message that is no text."""
    return {"type": "string", "description": text, "contentMediaType": media_type}


def path_is_health(operation: str) -> bool:
    """Tell the health operations, which take no parameters and have no entity tag."""
    return operation in {"check_health", "check_readiness"}
