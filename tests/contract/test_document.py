"""The OpenAPI document: in step with the service, valid, complete, and kept by every answer to an example."""

from __future__ import annotations

import asyncio
import hashlib
import json
import os
import re
import subprocess
import sys
import threading
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import jsonschema_rs
import pytest
from fastapi.testclient import TestClient
from glandwise import openapi_build, openapi_growth
from glandwise.api.reference import contract_route
from openapi_spec_validator import OpenAPIV31SpecValidator
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from tests.conftest import ROOT, Answers, Example, assert_problem, example, load_examples

OPENAPI = ROOT / "openapi"
EXAMPLES = load_examples()
VERBS = {
    "allow", "answer", "assess", "audit", "calibrate", "check", "compare", "convert", "cure", "describe",
    "draw", "estimate", "explain", "find", "fit", "get", "list", "map", "plan",
    "recheck", "render", "review", "run", "select", "simulate", "size", "solve", "sum",
}  # fmt: skip
"""First words of operations, and so of the client's methods."""


def operations(document: dict[str, Any]) -> Iterator[tuple[str, str, dict[str, Any]]]:
    """Yield path, method and operation."""
    for path, methods in document["paths"].items():
        for method, operation in methods.items():
            yield path, method, operation


# ------------------------------------------------------------------------------------------------------- in step


def test_committed_document_is_that_of_the_service(document: dict[str, Any]) -> None:
    committed = OPENAPI / "openapi.json"
    assert committed.is_file(), "openapi/openapi.json is missing; run: make openapi"
    assert committed.read_text(encoding="utf-8") == openapi_build.text(document), (
        "openapi/openapi.json is stale; run: make openapi"
    )


def test_served_document_is_the_committed_one(client: TestClient, document: dict[str, Any]) -> None:
    assert client.get("/openapi.json").json() == document


def test_whoever_holds_the_document_is_told_so(client: TestClient) -> None:
    first = client.get("/openapi.json")
    assert first.headers["cache-control"] == "public, max-age=0, must-revalidate"
    again = client.get("/openapi.json", headers={"if-none-match": first.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")


def test_others_are_answered_while_the_document_is_put_together() -> None:
    asked, built = threading.Event(), list[bool]()

    def build() -> dict[str, Any]:
        built.append(asked.wait(10.0))
        return {"openapi": "3.1.0"}

    async def other(request: Request) -> Response:
        asked.set()
        return Response()

    async def ask() -> list[httpx.Response]:
        app = Starlette(routes=[contract_route("/document", build), Route("/other", other)])
        async with httpx.AsyncClient(transport=httpx.ASGITransport(app), base_url="http://here") as caller:
            return await asyncio.gather(*(caller.get(path) for path in ("/document", "/document", "/other")))

    answers = asyncio.run(ask())
    assert built == [True]
    assert [answer.json() for answer in answers[:2]] == [{"openapi": "3.1.0"}] * 2


def test_every_example_that_is_tested_stands_in_the_document(document: dict[str, Any]) -> None:
    shown = [
        Example(operation["operationId"], name, path, shown["value"])
        for path, method, operation in operations(document)
        if method == "post"
        for name, shown in operation["requestBody"]["content"]["application/json"]["examples"].items()
    ]
    assert shown == EXAMPLES


def test_committed_examples_are_those_of_the_service(tmp_path: Path) -> None:
    openapi_build.write(tmp_path)
    fresh = {path.name: path.read_text(encoding="utf-8") for path in (tmp_path / "examples").glob("*.json")}
    committed = {path.name: path.read_text(encoding="utf-8") for path in (OPENAPI / "examples").glob("*.json")}
    assert sorted(committed) == sorted(fresh), "openapi/examples is stale; run: make openapi"
    stale = [name for name, text in fresh.items() if committed[name] != text]
    assert not stale, "openapi/examples is stale; run: make openapi"


# ------------------------------------------------------------------------------------------------------- complete


def test_document_is_valid_openapi(document: dict[str, Any]) -> None:
    assert document["openapi"].startswith("3.1.")
    OpenAPIV31SpecValidator(document).validate()


def test_every_operation_is_described(document: dict[str, Any]) -> None:
    tags = {tag["name"] for tag in document["tags"]}
    seen: set[str] = set()
    for path, _, operation in operations(document):
        name = operation["operationId"]
        assert re.fullmatch(r"[a-z]+(_[a-z0-9]+)+", name), name
        assert name.split("_")[0] in VERBS, f"{name} does not begin with a verb that is known here"
        assert name not in seen
        seen.add(name)
        assert operation["summary"], name
        assert operation["description"].rstrip().endswith("."), name
        assert len(operation["tags"]) == 1, name
        assert operation["tags"][0] in tags, name
        assert re.fullmatch(r"(/[a-z0-9{}_.-]+)+", path), path
        for parameter in operation.get("parameters", []):
            assert parameter["description"], (name, parameter["name"])


def test_every_calculation_has_examples(
    document: dict[str, Any],
) -> None:
    for path, method, operation in operations(document):
        if method != "post":
            continue
        examples = operation["requestBody"]["content"]["application/json"]["examples"]
        assert examples, f"{path} has no example"
        assert operation["requestBody"]["required"] is True
        for name, item in examples.items():
            assert re.fullmatch(r"[a-z][a-z0-9_]*", name), name
            assert "(invented)" in item["summary"], f"{path}: {name} does not say that it is invented"


PUT_OFF = {"429", "503"}
CALCULATION = {"200", "400", "406", "413", "415", "422", "default", *PUT_OFF}
REFERENCE = {"200", "304", "404", "406", "422", "default", *PUT_OFF}


def test_every_operation_declares_its_problems(document: dict[str, Any]) -> None:
    for path, method, operation in operations(document):
        responses = operation["responses"]
        health = operation["tags"] == ["health"]
        least = CALCULATION if method == "post" else {"200", "default", *PUT_OFF} if health else REFERENCE
        assert least <= set(responses), path
        for code, response in responses.items():
            assert response["description"], (path, code)
            if code in {"200", "304"}:
                continue
            assert response["content"] == {
                "application/problem+json": {"schema": {"$ref": "#/components/schemas/Problem"}}
            }, (path, code)
            assert set(response.get("headers", ())) == ({"Retry-After"} if code in PUT_OFF else set()), (path, code)


def test_every_property_of_every_schema_is_described(document: dict[str, Any]) -> None:
    text = json.dumps(document)

    def described(schema: dict[str, Any]) -> bool:
        # a schema that is used in one place describes that place
        reference = json.dumps(schema.get("$ref"))
        return bool(schema.get("description")) or ("$ref" in schema and text.count(reference) == 1)

    bare = [
        f"{name}.{key}"
        for name, schema in document["components"]["schemas"].items()
        for key, entry in schema.get("properties", {}).items()
        if not described(entry)
    ]
    assert not bare
    assert not [name for name, schema in document["components"]["schemas"].items() if not schema.get("description")]


def test_objects_are_closed_and_numbers_have_a_format(strict_document: dict[str, Any]) -> None:
    document = strict_document
    for name, schema in document["components"]["schemas"].items():
        if schema.get("type") == "object":
            assert schema.get("additionalProperties") is False, name

    def walk(value: Any, pointer: str) -> None:
        if isinstance(value, dict):
            if value.get("type") in ("number", "integer"):
                expected = {"number": {"double"}, "integer": {"int32", "int64"}}[value["type"]]
                assert value.get("format") in expected, pointer
            for key, entry in value.items():
                if key not in {"example", "examples", "default", "enum", "const"}:
                    walk(entry, f"{pointer}/{key}")
        elif isinstance(value, list):
            for index, entry in enumerate(value):
                walk(entry, f"{pointer}/{index}")

    walk(document["components"]["schemas"], "/components/schemas")


def test_requests_are_closed_and_results_open(document: dict[str, Any]) -> None:
    schemas = document["components"]["schemas"]
    calls = [operation for _, _, operation in operations(document)]
    asked = openapi_growth.reachable(schemas, [[call.get("requestBody"), call.get("parameters")] for call in calls])
    answered = openapi_growth.reachable(schemas, [call["responses"] for call in calls])
    assert len(asked) > 50
    assert len(answered) > 100
    assert not asked & answered
    for name in asked:
        if schemas[name].get("type") == "object":
            assert schemas[name]["additionalProperties"] is False, name
        assert all("default" not in field for field in schemas[name].get("properties", {}).values()), name
    for name in answered:
        schema = json.dumps(schemas[name])
        assert schemas[name].get("additionalProperties") is not False, name
        assert '"enum":' not in schema, name
        assert '"pattern":' not in schema, name
    assert schemas["Criterion"]["properties"]["status"]["x-extensible-enum"] == [
        "pass", "caution", "fail", "not_evaluated",
    ]  # fmt: skip


def test_a_grown_answer_is_one_of_the_contract(client: TestClient, document: dict[str, Any]) -> None:
    answer = client.post("/v1/envelope-checks", json=example("check_envelope", "gearbox_input_shaft")).json()
    answer["more"], answer["verdict"] = {"a": 1}, "passes_after_running_in"
    answer["criteria"].append({**answer["criteria"][0], "id": "new", "class": "x", "status": "unknown"})
    validator(document, json_schema(named(document, "check_envelope"))).validate(answer)


def test_the_title_makes_no_package_of_the_name_of_the_client(document: dict[str, Any]) -> None:
    # what generators choose: the title in small letters, and "client"
    chosen = re.sub(r"[^a-z0-9]+", "-", f"{document['info']['title']} client".lower())
    client = tomllib.loads((ROOT / "client" / "pyproject.toml").read_text(encoding="utf-8"))["project"]["name"]
    assert chosen == "glandwise-api-client" != client


def test_no_enumeration_has_members_that_differ_by_case_alone(document: dict[str, Any]) -> None:
    """A generator of clients that makes names in capitals of the members would make one name of the two."""
    seen = 0

    def walk(value: Any, pointer: str) -> None:
        nonlocal seen
        if isinstance(value, dict):
            members = value.get("enum", value.get("x-extensible-enum", []))
            names = {str(member).casefold() for member in members}
            assert len(names) == len(members), (pointer, members)
            seen += bool(members)
            for key, entry in value.items():
                if key not in {"examples", "example"}:
                    walk(entry, f"{pointer}/{key}")
        elif isinstance(value, list):
            for index, entry in enumerate(value):
                walk(entry, f"{pointer}/{index}")

    walk(document, "")
    assert seen > 100


def test_no_choice_of_objects_has_a_default(document: dict[str, Any]) -> None:
    """Of which a generator of clients would make nothing, and drop the operation."""
    for name, schema in document["components"]["schemas"].items():
        for field, entry in schema.get("properties", {}).items():
            assert not ("oneOf" in entry and "default" in entry), (name, field)


def test_what_is_taken_without_being_listed_is_said(document: dict[str, Any]) -> None:
    units_of_pressure = document["components"]["schemas"]["GaugePressure"]["properties"]["unit"]
    assert "KPA" not in units_of_pressure["enum"]
    assert units_of_pressure["description"].endswith("Taken as well, though not listed: KPA, MPA, BAR.")


def test_no_schema_is_named_after_a_module(document: dict[str, Any]) -> None:
    """Two models of one name would be told apart by where they stand in the code, and generators trip over that."""
    assert [name for name in document["components"]["schemas"] if "__" in name] == []


def test_no_schema_is_left_over(document: dict[str, Any]) -> None:
    text = json.dumps(document)
    left = [name for name in document["components"]["schemas"] if f'"#/components/schemas/{name}"' not in text]
    assert not left


# ------------------------------------------------------------------------------------------------------- kept


def validator(document: dict[str, Any], schema: dict[str, Any]) -> jsonschema_rs.Draft202012Validator:
    """Return a validator of a schema of the document, references and formats included."""
    whole = {**schema, "components": document["components"]}
    return jsonschema_rs.Draft202012Validator(whole, validate_formats=True)


def json_schema(operation: dict[str, Any], code: str = "200") -> dict[str, Any]:
    """Return the schema of an answer."""
    schema: dict[str, Any] = operation["responses"][code]["content"]["application/json"]["schema"]
    return schema


def named(document: dict[str, Any], name: str) -> dict[str, Any]:
    """Return an operation by its identifier."""
    return next(operation for _, _, operation in operations(document) if operation["operationId"] == name)


@pytest.mark.parametrize("item", EXAMPLES, ids=lambda item: f"{item.operation}-{item.name}")
@pytest.mark.parametrize("working", [False, True])
def test_example_is_answered_as_the_document_says(
    answer_to: Answers, document: dict[str, Any], strict_document: dict[str, Any], item: Example, working: bool
) -> None:
    operation = named(document, item.operation)
    schema = operation["requestBody"]["content"]["application/json"]["schema"]
    fields = document["components"]["schemas"][schema["$ref"].rpartition("/")[2]]["properties"]
    # what compares calculations has no working of its own to ask for
    request = {**item.request, "working": True} if working and "working" in fields else item.request
    validator(document, schema).validate(request)
    response = answer_to(item.path, request)
    assert response.status_code == 200, response.text
    assert response.headers["content-type"] == "application/json"
    assert response.headers["cache-control"] == "no-store"
    validator(document, json_schema(operation)).validate(response.json())
    validator(strict_document, json_schema(named(strict_document, item.operation))).validate(response.json())


def test_a_changed_answer_would_not_pass(client: TestClient, strict_document: dict[str, Any]) -> None:
    # the validation above can fail
    document = strict_document
    answer = client.post("/v1/envelope-checks", json=example("check_envelope", "gearbox_input_shaft")).json()
    check = validator(document, json_schema(named(document, "check_envelope")))
    for broken in (
        {**answer, "verdict": "good"},
        {**answer, "more": 1},
        {key: answer[key] for key in list(answer)[1:]},
    ):
        with pytest.raises(jsonschema_rs.ValidationError):
            check.validate(broken)
    answer["stamp"]["rule_set"]["as_of"] = "yesterday"
    with pytest.raises(jsonschema_rs.ValidationError):
        check.validate(answer)


def resources(document: dict[str, Any]) -> list[str]:
    """Return a path of every reference and health resource, parameters filled in."""
    known = {"{name}": "baseline", "{kind}": "out-of-domain"}
    fluid = "/v1/fluids/{name}"
    return [
        re.sub(r"\{\w+\}", lambda match: known[match[0]], path.replace(fluid, "/v1/fluids/water"))
        for path, method, _ in operations(document)
        if method == "get"
    ]


def test_every_reference_resource_is_as_the_document_says(client: TestClient, strict_document: dict[str, Any]) -> None:
    document = strict_document
    gets = [operation for _, method, operation in operations(document) if method == "get"]
    for path, operation in zip(resources(document), gets, strict=True):
        response = client.get(path)
        assert response.status_code == 200, path
        validator(document, json_schema(operation)).validate(response.json())


def test_reference_resources_are_cacheable_by_entity_tag(client: TestClient, document: dict[str, Any]) -> None:
    for path in resources(document):
        if path in {"/healthz", "/readyz"}:
            continue
        first = client.get(path)
        tag = first.headers["etag"]
        assert re.fullmatch(r'W/"[0-9a-f]{32}"', tag)
        assert "must-revalidate" in first.headers["cache-control"]
        for held in (tag, tag.removeprefix("W/"), f'"other", {tag}', "*"):
            again = client.get(path, headers={"if-none-match": held})
            assert (again.status_code, again.content) == (304, b""), (path, held)
            assert again.headers["etag"] == tag
            assert again.headers["cache-control"] == first.headers["cache-control"]
        for other in ('"other"', tag.strip('"'), ""):
            assert client.get(path, headers={"if-none-match": other}).content == first.content


def test_entity_tag_follows_the_content(client: TestClient) -> None:
    tags = {client.get(path).headers["etag"] for path in ("/v1/fluids", "/v1/alloys", "/v1/fluids?as_of=2026-06-01")}
    assert len(tags) == 3


def test_every_kind_of_problem_is_explained_where_its_type_leads(client: TestClient) -> None:
    from glandwise.api.problems import KINDS

    for kind, (status, title, _) in KINDS.items():
        document = client.get(f"/problems/{kind}").json()
        assert (document["type"], document["title"], document["status"]) == (f"/problems/{kind}", title, status)
        assert document["explanation"]
    assert_problem(client.get("/problems/none-such"), 404, "not-found")


# ------------------------------------------------------------------------------------------------------- deterministic


@pytest.mark.parametrize("item", EXAMPLES, ids=lambda item: f"{item.operation}-{item.name}")
def test_the_same_request_gives_the_same_bytes(client: TestClient, answer_to: Answers, item: Example) -> None:
    first = answer_to(item.path, item.request)
    backwards = dict(reversed(item.request.items()))
    spaced = json.dumps(backwards, indent=3)
    assert client.post(item.path, content=spaced, headers={"content-type": "application/json"}).content == first.content


_DIGESTS = """
import hashlib, json
from fastapi.testclient import TestClient
from tests.conftest import load_examples
from glandwise.app import create_app
with TestClient(create_app()) as client:
    contents = [client.post(item.path, json=item.request).content for item in load_examples()]
    contents.append(client.get("/openapi.json").content)
print(json.dumps([hashlib.sha256(content).hexdigest() for content in contents]))
"""


@pytest.mark.slow
def test_another_process_gives_the_same_bytes(client: TestClient, answer_to: Answers) -> None:
    # a different order of sets and dictionaries by hash must not show
    seed = "1" if os.environ.get("PYTHONHASHSEED") != "1" else "2"
    done = subprocess.run(
        [sys.executable, "-c", _DIGESTS], env={**os.environ, "PYTHONHASHSEED": seed}, cwd=ROOT, capture_output=True,
        text=True, check=True,
    )  # fmt: skip
    contents = [answer_to(item.path, item.request).content for item in EXAMPLES]
    contents.append(client.get("/openapi.json").content)
    for item, here, there in zip([*EXAMPLES, "the document"], contents, json.loads(done.stdout), strict=True):
        assert hashlib.sha256(here).hexdigest() == there, item


def test_fingerprint_covers_the_question_and_nothing_else(client: TestClient) -> None:
    request = example("check_envelope", "gearbox_input_shaft")

    def fingerprint(**changes: Any) -> str:
        answer = client.post("/v1/envelope-checks", json={**request, **changes})
        found: str = answer.json()["stamp"]["fingerprint"]
        return found

    plain = fingerprint()
    assert re.fullmatch(r"[0-9a-f]{64}", plain)
    assert fingerprint(units={"system": "us"}) == plain
    assert fingerprint(working=True) == plain
    assert fingerprint(rule_set="baseline") == plain
    assert fingerprint(as_of="2026-06-01") != plain
    assert fingerprint(duty={**request["duty"], "runout": {"value": 0.0500001, "unit": "mm"}}) != plain
