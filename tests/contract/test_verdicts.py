"""Verdicts alone: what the full answer says, without its words, the same bytes each time and by whatever way they come."""

from __future__ import annotations

import json
from typing import Any

import pytest
from fastapi.testclient import TestClient
from glandwise.app import create_app
from glandwise.contract.envelope import EnvelopeVerdict
from glandwise.settings import Settings

from tests.conftest import assert_problem, example, load_examples

PATH = "/v1/envelope-checks"
REQUESTS = {entry.name: entry.request for entry in load_examples() if entry.operation == "check_envelope"} | {
    "failing": {
        **example("check_envelope", "gearbox_input_shaft"),
        "design": {"family": "flexible_lip", "compound": "ptfe_unfilled"},
    }
}


def verdict_of(client: TestClient, request: dict[str, Any]) -> bytes:
    answer = client.post(PATH, json={**request, "detail": "verdict"})
    assert answer.status_code == 200, answer.text
    return answer.content


@pytest.mark.parametrize("request_of", REQUESTS.values(), ids=REQUESTS)
def test_a_verdict_says_what_the_full_answer_says(client: TestClient, request_of: dict[str, Any]) -> None:
    full = client.post(PATH, json=request_of).json()
    found = json.loads(verdict_of(client, request_of))
    EnvelopeVerdict.model_validate(found)
    brief = [{key: item[key] for key in ("id", "status", "utilization")} for item in full["criteria"]]
    assert found.pop("detail") == "verdict"
    assert "cautions" in found.pop("notice")
    assert found == {
        "verdict": full["verdict"],
        "governing": {key: full["governing"][key] for key in ("id", "status", "utilization")},
        "criteria": brief,
        "evidence": full["evidence"],
        "stamp": full["stamp"],
    }


def test_a_verdict_is_the_same_bytes_alone_and_among_lines(client: TestClient) -> None:
    asked = [{**request, "detail": "verdict"} for request in REQUESTS.values()]
    alone = [verdict_of(client, request) for request in asked]
    assert alone == [verdict_of(client, request) for request in asked]
    lines = b"\n".join(json.dumps(request).encode() for request in [*asked, REQUESTS["failing"]])
    # an application of its own: the workers of the shared one end with the first test that leaves its context
    with TestClient(create_app(Settings())) as own:
        answer = own.post(PATH, content=lines, headers={"content-type": "application/x-ndjson"})
    rows = [json.loads(line) for line in answer.content.splitlines()]
    for content, line in zip(alone, answer.content.splitlines(), strict=False):
        assert b'"result":' + content in line
    assert "cautions" in rows[-1]["result"]  # the detail is that of each line


def test_full_is_what_is_answered_where_no_detail_is_named(client: TestClient) -> None:
    request = REQUESTS["failing"]
    usual = client.post(PATH, json=request).content
    assert client.post(PATH, json={**request, "detail": "full"}).content == usual
    assert client.post(PATH, json={**request, "detail": None}).content == usual


def test_a_verdict_has_no_working_and_no_other_detail(client: TestClient) -> None:
    request = REQUESTS["failing"]
    problem = assert_problem(
        client.post(PATH, json={**request, "detail": "verdict", "working": True}), 422, "out-of-domain"
    )
    assert problem["errors"][0]["pointer"] == "/working"
    problem = assert_problem(client.post(PATH, json={**request, "detail": "short"}), 422, "invalid-request")
    assert problem["errors"][0]["pointer"] == "/detail"
    assert "verdict" in problem["errors"][0]["accepted"]


@pytest.mark.parametrize("accept", ["text/html", "text/csv"])
def test_no_page_is_made_of_a_verdict_alone(client: TestClient, accept: str) -> None:
    request = {**REQUESTS["failing"], "detail": "verdict"}
    problem = assert_problem(client.post(PATH, json=request, headers={"accept": accept}), 406, "not-acceptable")
    assert "full" in problem["detail"]


def test_a_stored_verdict_is_rechecked(client: TestClient) -> None:
    request = {**REQUESTS["failing"], "detail": "verdict"}
    stored = json.loads(verdict_of(client, request))
    ask = {"operation": "check_envelope", "stored_request": request, "stored_result": stored}
    found = client.post("/v1/rechecks", json=ask).json()
    assert found["same"], found
    assert found["fingerprint_matches"]
    assert found["result"] == stored
    stored["criteria"][0]["utilization"] = 0.5
    found = client.post("/v1/rechecks", json=ask).json()
    assert not found["same"]
    assert [item["pointer"] for item in found["differences"]] == ["/criteria/0/utilization"]
