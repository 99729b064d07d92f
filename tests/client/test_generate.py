"""The generator of models and methods, on a small contract that has what is difficult."""

from __future__ import annotations

import importlib.util
import sys
import types
from typing import Any

import pytest
from glandwise.openapi_growth import grown
from glandwise_client import Quantity, _operations
from pydantic import ValidationError

from tests.client.support import ROOT

REF = "#/components/schemas/"


def _load() -> types.ModuleType:
    spec = importlib.util.spec_from_file_location("client_generate", ROOT / "client" / "generate.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


generate = _load()


def quantity(title: str) -> dict[str, Any]:
    fields = {"value": {"type": "number"}, "unit": {"type": "string", "enum": ["mm", "in"]}}
    return {
        "title": title,
        "type": "object",
        "properties": fields,
        "required": ["value", "unit"],
        "additionalProperties": False,
    }


def contract() -> dict[str, Any]:
    """A contract with a schema both asked and answered, a union, and an answer that is no JSON."""
    kind = {"type": "string", "enum": ["round", "square"]}
    shared = {
        "type": "object",
        "properties": {"size": {"$ref": REF + "Length"}, "kind": kind, "note": {"type": "string", "maxLength": 3}},
        "required": ["size", "kind"],
        "additionalProperties": False,
    }
    members = {
        name: {
            "type": "object",
            "properties": {"tag": {"const": tag, "type": "string"}, "default": {"type": "boolean"}},
            "required": ["tag", "default"],
        }
        for name, tag in (("First", "first"), ("Second", "second"))
    }
    union = {
        "oneOf": [{"$ref": REF + "First"}, {"$ref": REF + "Second"}],
        "discriminator": {"propertyName": "tag", "mapping": {"first": REF + "First", "second": REF + "Second"}},
    }
    request = {
        "type": "object",
        "properties": {
            "part": {"$ref": REF + "Part"},
            "share": {"anyOf": [{"type": "number", "maximum": 1.0, "minimum": 0.0}, {"type": "null"}]},
            "lengths": {"type": "array", "items": {"$ref": REF + "Length"}, "maxItems": 2},
        },
        "required": ["part"],
    }
    result = {
        "type": "object",
        "properties": {"part": {"$ref": REF + "Part"}, "member": union, "extra": {"type": "object"}},
        "required": ["part", "member"],
    }
    problem = {"type": "object", "properties": {"type": {"type": "string"}}, "required": ["type"]}

    def json_of(name: str) -> dict[str, Any]:
        return {"content": {"application/json": {"schema": {"$ref": REF + name}}}}

    path = {"name": "name", "in": "path", "required": True, "schema": {"type": "string"}, "description": "Which."}
    query = {
        "name": "as_of",
        "in": "query",
        "schema": {"anyOf": [{"type": "string", "format": "date"}, {"type": "null"}]},
    }
    post = {
        "operationId": "check_part",
        "description": "Check a part.",
        "requestBody": json_of("PartRequest"),
        "responses": {"200": json_of("PartResponse"), "422": {}},
    }
    sheet = {
        "operationId": "print_sheet",
        "description": "Print a sheet.",
        "parameters": [path, query],
        "responses": {"200": {"content": {"text/html": {"schema": {"type": "string"}}}}},
    }
    schemas = {
        "Length": quantity("Length"),
        "Part": shared,
        **members,
        "PartRequest": request,
        "PartResponse": result,
        "Problem": problem,
    }
    paths = {"/parts": {"post": post}, "/sheets/{name}": {"get": sheet}}
    return grown({"paths": paths, "components": {"schemas": schemas}})


@pytest.fixture(scope="module")
def sources() -> dict[str, str]:
    made: dict[str, str] = generate.generate(contract())
    return made


@pytest.fixture
def models(sources: dict[str, str]) -> Any:
    module = types.ModuleType("generated_models")
    sys.modules[module.__name__] = module
    exec(compile(sources["_models.py"], "generated_models", "exec"), module.__dict__)
    yield module
    del sys.modules[module.__name__]


def test_requests_are_closed(models: Any) -> None:
    request = models.PartRequest(part={"size": "5 mm", "kind": "round", "note": "long text"}, lengths=["1 in"] * 3)
    assert request.part.size.unit == "mm"
    assert type(request.part.size) is models.Length
    for fault in ({"kind": "oval"}, {"further": 1}, {"size": "5 psi"}, {"size": 5}):
        with pytest.raises(ValidationError):
            models.PartRequest(part={"size": "5 mm", "kind": "round", **fault})


def test_results_are_open(models: Any) -> None:
    answer = {
        "part": {"size": {"value": 5, "unit": "furlong"}, "kind": "oval", "note": "long text", "further": 1},
        "member": {"tag": "second", "default": True, "further": 1},
        "further": 1,
    }
    result = models.PartResponse.model_validate(answer)
    assert result.part.size == Quantity(value=5, unit="furlong")
    assert type(result.part) is models.AnsweredPart  # the twin of the request's Part
    assert result.part.kind == "oval"
    assert type(result.member) is models.Second
    assert result.member.default is True


def test_methods_name_what_they_take_and_give(sources: dict[str, str]) -> None:
    text = " ".join(sources["_operations.py"].split())
    assert "part: m.Part | dicts.Part | Fields | None = None" in text
    assert "share: float | None = None" in text
    assert "lengths: QuantitiesLike | None = None" in text
    assert ') -> m.PartResponse: """Check a part.' in text
    assert "def print_sheet( self, name: str, *, as_of: date | str | None = None" in text
    assert ') -> Answer: """Print a sheet.' in text
    assert "PRINT_SHEET: Final[Operation[Answer]] = Operation(" in text
    compile(sources["_operations.py"], "_operations.py", "exec")


def test_constructors_and_dicts_name_what_they_take(sources: dict[str, str]) -> None:
    text = " ".join(sources["_models.py"].split())
    taken = 'size: QuantityLike, kind: Literal["round", "square"], note: str | None = None'
    assert "class Part(RequestModel)" in text
    assert text.count(taken) == 1  # not the twin of a result
    assert "part: Part | dicts.Part | Fields, share: float | None = None, lengths: QuantitiesLike | None = None" in text
    assert '_each = field_validator("lengths", mode="before")(each)' in text
    written = " ".join(sources["dicts.py"].split())
    assert 'class Part(TypedDict, total=False): """Part""" size: Required[QuantityLike]' in written
    assert "part: Required[Part | m.Part] share: float | None lengths: QuantitiesLike | None" in written
    compile(sources["dicts.py"], "dicts.py", "exec")


def test_generation_is_deterministic(sources: dict[str, str]) -> None:
    assert generate.generate(contract()) == sources


def test_names_that_would_collide_are_refused() -> None:
    document = contract()
    document["components"]["schemas"]["Quantity"] = {"type": "object", "properties": {}}
    document["components"]["schemas"]["PartResponse"]["properties"]["extra"] = {"$ref": REF + "Quantity"}
    with pytest.raises(SystemExit, match="Quantity"):
        generate.generate(document)
    document = contract()
    document["paths"]["/parts"]["post"]["operationId"] = "checkPart"
    with pytest.raises(SystemExit, match="checkPart"):
        generate.generate(document)


def test_every_method_has_a_text() -> None:
    for kind in (_operations.SyncOperations, _operations.AsyncOperations):
        for name in _operations.OPERATIONS:
            assert getattr(kind, name).__doc__.strip()
