"""Rules in a request, as a patch or as a whole set: whatever stands in them, the answer is a verdict or a problem."""

from __future__ import annotations

import json
from typing import Any

import pytest
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given
from hypothesis import strategies as st

from tests.conftest import assert_problem, example
from tests.laws import laws
from tests.rules.test_fuzz import BASE, HOSTILE, PATHS, nested, put, values, whole_values

COMPARISON, AUDIT = "/v1/rule-set-comparisons", "/v1/rule-set-audits"
BASELINE = {"kind": "name", "name": "baseline"}
QUOTE = example("check_envelope", "gearbox_input_shaft")
CASES = [{"case_id": "1", "duty": QUOTE["duty"], "design": QUOTE["design"]}]
DENSITY = {"unit": "g/cm3", "source": "house-estimate", "evidence": "house_estimate", "valid_from": "2026-06-01"}
LONGEST = 1000
"""Characters of a detail or a pointer."""


def compare(client: TestClient, candidate: Any) -> Any:
    """Send a comparison with a candidate."""
    return client.post(COMPARISON, json={"base": BASELINE, "candidate": candidate, "cases": CASES})


def patched(patch: Any) -> dict[str, Any]:
    """Return a candidate that is a patch."""
    return {"kind": "patch", "patch": patch}


def density(value: Any) -> Any:
    """Return a patch of a density."""
    return {"compounds": {"ptfe_unfilled": {"density": {"value": value, **DENSITY}}}}


@pytest.mark.parametrize("value", [2**63, 2**64, -(2**63) - 1, 10**400], ids=["2**63", "2**64", "-2**63-1", "10**400"])
def test_a_whole_number_beyond_64_bits(client: TestClient, value: int) -> None:
    at = "/compounds/ptfe_unfilled/density/value"
    for kind, field in (("patch", "patch"), ("whole", "rule_set")):
        content = density(value) if kind == "patch" else {**density(value), "rule_set": {"name": "x"}}
        candidate = {"kind": kind, field: content}
        for response in (
            compare(client, candidate),
            client.post(AUDIT, json={"base": BASELINE, "candidate": candidate, "samples": 64}),
        ):
            problem = assert_problem(response, 422, "out-of-domain", f"/candidate/{field}{at}")
            (error,) = problem["errors"]
            assert error["detail"] == "is beyond what a whole number may be"
            assert error["accepted"] == "a whole number from -9223372036854775808 to 9223372036854775807"


def test_the_place_of_a_file_that_is_no_table(client: TestClient) -> None:
    assert_problem(compare(client, patched({"compounds": 5})), 422, "out-of-domain", "/candidate/patch/compounds")


@pytest.mark.parametrize("kind", [list, dict])
@pytest.mark.parametrize("depth", [30, 100, 150, 190, 5000])
def test_a_patch_that_nests(client: TestClient, depth: int, kind: type) -> None:
    place = {"compounds": {"ptfe_unfilled": {"fillers": "HERE"}}}
    text = json.dumps({"base": BASELINE, "candidate": patched(place), "cases": CASES})
    deep = "[" * depth + "]" * depth if kind is list else '{"a":' * depth + "1" + "}" * depth
    response = client.post(
        COMPARISON, content=text.replace('"HERE"', deep), headers={"content-type": "application/json"}
    )
    if response.status_code == 400:
        assert_problem(response, 400, "invalid-json")
    else:
        assert_problem(response, 422, "out-of-domain")


@pytest.mark.parametrize(
    "patch",
    [
        {"x" * 100_000: {}},
        {"compounds": {"x" * 100_000: {}}},
        {"compounds": {"ptfe_unfilled": {"x" * 100_000: 1}}},
        {"compounds": {"ptfe_unfilled": {"food_contact": "x" * 100_000}}},
        {"compounds": {"ptfe_unfilled": {"density": {"value": 2.2, **DENSITY, "unit": "x" * 100_000}}}},
        {"compounds": {"ptfe_unfilled": {"density": {"value": 2.2, **DENSITY, "source": "x" * 60}}}},
        {"changes": {"fill": {"title": "x", "criteria": ["x" * 100_000], "design": {"heel": "extended"}}}},
        {"changes": {"fill": {"title": "x", "criteria": [], "design": {"x" * 100_000: "extended"}}}},
        {"changes": {"fill": {"title": "x", "criteria": [], "design": {"compound": "x" * 100_000}}}},
        {
            "changes": {
                "fill": {"title": "x", "criteria": [], "family": "flexible_lip", "design": {"x" * 100_000: True}}
            }
        },
        {"rule_set": {"name": "x" * 100_000}},
    ],
    ids=range(11),
)
def test_a_name_without_end_is_not_repeated_without_end(client: TestClient, patch: Any) -> None:
    problem = assert_problem(compare(client, patched(patch)), 422, "out-of-domain")
    for error in problem["errors"]:
        assert len(error["detail"]) <= LONGEST
        assert len(error["pointer"]) <= LONGEST


FUZZ = laws(60, suppress_health_check=list(HealthCheck))


def assert_answered(response: Any) -> None:
    assert response.status_code in {200, 422}, response.text
    if response.status_code == 422:
        problem = response.json()
        assert_problem(response, 422, problem["type"].removeprefix("/problems/"))
        assert all(error["pointer"].startswith("/candidate") for error in problem["errors"])


def sendable(value: Any) -> bool:
    """Whether JSON can carry a value."""
    try:
        json.dumps(value, allow_nan=False).encode()
    except ValueError:
        return False
    return True


@FUZZ
@given(path=st.sampled_from(PATHS), value=values, whole=st.booleans())
def test_any_patch_is_compared_or_refused(client: TestClient, path: tuple[Any, ...], value: Any, whole: bool) -> None:
    patch = whole_values(path, value) if whole else put(path, value)
    if sendable(patch):
        assert_answered(compare(client, patched(patch)))


@FUZZ
@given(path=st.sampled_from(PATHS), value=values)
def test_any_whole_set_is_compared_or_refused(client: TestClient, path: tuple[Any, ...], value: Any) -> None:
    content = json.loads(json.dumps(BASE.tree, default=str))
    inside = content
    for part in path[:-1]:
        inside = inside[part]
    inside[path[-1]] = value
    if sendable(content):
        assert_answered(compare(client, {"kind": "whole", "rule_set": content}))


@pytest.mark.parametrize("value", [*HOSTILE, nested(20, list), nested(20, dict)], ids=range(len(HOSTILE) + 2))
def test_hostile_values_in_place_of_files(client: TestClient, value: Any) -> None:
    for patch in ({"compounds": value}, {"rule_set": value}, {"compounds": {"ptfe_unfilled": value}}, {"": value}):
        if sendable(patch):
            assert_answered(compare(client, patched(patch)))
