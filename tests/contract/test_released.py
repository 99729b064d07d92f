"""The contract keeps what was released; what breaks a client of before is found; what goes says so in time."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime
from email.utils import parsedate_to_datetime
from typing import Any

import pytest
from fastapi.testclient import TestClient
from glandwise import app as wiring
from glandwise.operations import OPERATIONS, Deprecation, _checked

from tests.conftest import ROOT, example
from tests.contract.compatible import breaks

RELEASED = sorted((ROOT / "openapi" / "released").glob("*.json"))


def test_there_is_a_released_contract() -> None:
    assert RELEASED


@pytest.mark.parametrize("file", RELEASED, ids=lambda file: file.stem)
def test_the_contract_keeps_what_was_released(document: dict[str, Any], file: Any) -> None:
    assert breaks(json.loads(file.read_text(encoding="utf-8")), document) == []


def schema(document: dict[str, Any], name: str) -> dict[str, Any]:
    found: dict[str, Any] = document["components"]["schemas"][name]
    return found


def check(document: dict[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = document["paths"]["/v1/envelope-checks"]["post"]
    return found


Change = Callable[[dict[str, Any]], Any]
BREAKING: dict[str, tuple[Change, str]] = {
    "an operation goes": (lambda d: d["paths"].pop("/v1/envelope-checks"), "check_envelope: POST /v1/envelope-checks is gone"),
    "an operation is renamed": (lambda d: check(d).update(operationId="check_seal"), "is called check_seal"),
    "a field of a request goes": (lambda d: schema(d, "Duty")["properties"].pop("runout"), "/runout: is gone"),
    "a field becomes mandatory": (lambda d: schema(d, "Duty")["required"].append("runout"), "/runout: is mandatory"),
    "a value is taken no more": (
        lambda d: schema(d, "FlexibleLip")["properties"]["second_lip"]["anyOf"][0]["enum"].remove("redundant"),
        "takes no more than",
    ),
    "a unit is taken no more": (
        lambda d: schema(d, "GaugePressure")["properties"]["unit"]["enum"].remove("bar"), "takes no more than",
    ),
    "a bound is closer": (
        lambda d: schema(d, "BlankRequest")["properties"]["pieces"].update(maximum=10), "maximum is 10",
    ),
    "a form goes": (lambda d: check(d)["x-batches"].pop("application/x-ndjson"), "application/x-ndjson is gone"),
    "a representation goes": (lambda d: check(d)["x-representations"].remove("text/csv"), "in text/csv any more"),
    "a parameter goes": (lambda d: d["paths"]["/v1/fluids"]["get"]["parameters"].pop(1), "parameter as_of is gone"),
    "a field of a result goes": (lambda d: schema(d, "Criterion")["properties"].pop("reason"), "/reason: is gone"),
    "a field of a result may be missing": (
        lambda d: schema(d, "Criterion")["required"].remove("reason"), "/reason: may be missing",
    ),
    "a field of a result may be null": (
        lambda d: schema(d, "Criterion")["properties"].update(reason={"anyOf": [{"type": "string"}, {"type": "null"}]}),
        "/reason: may be null",
    ),
    "a field of a result is of another kind": (
        lambda d: schema(d, "Criterion")["properties"]["title"].update(type="integer"), "/title: may be integer",
    ),
    "values of a result are closed": (
        lambda d: schema(d, "Criterion")["properties"]["status"].update(enum=schema(d, "Criterion")["properties"]["status"].pop(
            "x-extensible-enum")), "takes no further values",
    ),
}  # fmt: skip


@pytest.mark.parametrize(("change", "said"), BREAKING.values(), ids=BREAKING)
def test_what_breaks_a_client_is_found(document: dict[str, Any], change: Change, said: str) -> None:
    after = copy.deepcopy(document)
    change(after)
    assert any(said in found for found in breaks(document, after)), breaks(document, after)


GROWING: dict[str, Change] = {
    "nothing": lambda d: d.copy(),
    "an operation": lambda d: d["paths"].update({"/v1/new": {"post": {**check(d), "operationId": "check_new"}}}),
    "an optional field": lambda d: schema(d, "Duty")["properties"].update(new={"type": "string"}),
    "a value that is taken": lambda d: schema(d, "FlexibleLip")["properties"]["second_lip"]["anyOf"][0]["enum"].append(
        "x"
    ),
    "a field of a result": lambda d: schema(d, "Criterion")["properties"].update(new={"type": "string"}),
    "a value of a result": lambda d: schema(d, "Criterion")["properties"]["status"]["x-extensible-enum"].append("x"),
    "a wider bound": lambda d: schema(d, "BlankRequest")["properties"]["pieces"].update(maximum=10**8),
    "an optional parameter": lambda d: d["paths"]["/v1/fluids"]["get"]["parameters"].append(
        {"in": "query", "name": "new", "schema": {"type": "string"}}
    ),
    "other words": lambda d: schema(d, "Criterion").update(description="Other."),
}


@pytest.mark.parametrize("change", GROWING.values(), ids=GROWING)
def test_what_grows_breaks_nothing(document: dict[str, Any], change: Change) -> None:
    after = copy.deepcopy(document)
    change(after)
    assert breaks(document, after) == []


# ------------------------------------------------------------------------------------------------------------- deprecated

LEAVING = Deprecation(date(2027, 1, 1), date(2028, 3, 1), "/v1/enquiries")


def test_an_operation_that_will_go_says_so_in_every_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    row = replace(OPERATIONS["allow_runout"], deprecated=LEAVING)
    monkeypatch.setattr(wiring, "OPERATIONS", {**OPERATIONS, "allow_runout": row})
    client = TestClient(wiring.create_app())
    for body in (example("allow_runout", "agitator_at_given_speeds"), {}):
        answer = client.post("/v1/runout-allowances", json=body)
        assert datetime.fromtimestamp(int(answer.headers["deprecation"].removeprefix("@")), UTC).date() == LEAVING.since
        assert parsedate_to_datetime(answer.headers["sunset"]).date() == LEAVING.sunset
        assert answer.headers["sunset"].endswith(" GMT")
        assert answer.headers["link"] == '</v1/enquiries>; rel="successor-version"'
    assert "deprecation" not in client.post("/v1/envelope-checks", json={}).headers


def test_an_operation_stays_for_the_time_that_is_promised() -> None:
    row = replace(OPERATIONS["allow_runout"], deprecated=replace(LEAVING, sunset=date(2027, 12, 1)))
    with pytest.raises(ImportError, match="stays 365 days at least"):
        _checked((row,))
