"""The seal as an Asset Administration Shell: to the schema of the standard, readable by its library, with the numbers of the answer."""

from __future__ import annotations

import importlib.resources
import importlib.util
import io
import json
import sys
from collections.abc import Iterator
from functools import cache
from typing import Any

import jsonschema_rs
import pytest
from fastapi.testclient import TestClient

from tests.conftest import Example, assert_problem, changed, load_examples

AAS = "application/aas+json"
PATH = "/v1/enquiries"
ENQUIRIES = [
    one for one in load_examples() if one.operation == "answer_enquiry" and one.request.get("detail") != "verdict"
]
OWN = "urn:glandwise:aas:1:"
needs_library = pytest.mark.skipif(
    importlib.util.find_spec("basyx") is None, reason="basyx-python-sdk is not installed"
)
needs_schema = pytest.mark.skipif(
    importlib.util.find_spec("aas_compliance_tool") is None,
    reason="aas-compliance-tool, which has the schema, is not installed",
)
RETENTIONS: list[dict[str, Any]] = [
    {"family": "flexible_lip", "compound": "ptfe_carbon_graphite_25", "retention": "o_ring"},
    {"family": "flexible_lip", "compound": "ptfe_carbon_graphite_25", "retention": "press_fit_case"},
    {"family": "flexible_lip", "compound": "ptfe_carbon_graphite_25", "retention": "clamped_flange"},
]


def ask(client: TestClient, request: dict[str, Any], accept: str = AAS) -> Any:
    return client.post(PATH, json=request, headers={"accept": accept})


def requests() -> list[Any]:
    """Return enquiries of both families and of every retention."""
    found = [pytest.param(one.request, id=one.name) for one in ENQUIRIES]
    plain = next(one.request for one in ENQUIRIES if one.request["duty"]["motion"]["kind"] == "rotation")
    for design in RETENTIONS:
        request = {"duty": plain["duty"], "design": design, "detail": "summary", "reference": "Q-7 / 10"}
        found.append(pytest.param(request, id=design["retention"]))
    return found


@cache
def validator() -> Any:
    file = importlib.resources.files("aas_compliance_tool") / "schemas" / "aasJSONSchema.json"
    # letters beyond the first plane stand there as pairs of halves, which are no letters for this validator
    pairs = r"\\ud800[\\udc00-\\udfff]|[\\ud801-\\udbfe][\\udc00-\\udfff]|\\udbff[\\udc00-\\udfff]"
    text = file.read_text(encoding="utf-8")
    assert pairs in text
    return jsonschema_rs.Draft201909Validator(json.loads(text.replace(pairs, "[\U00010000-\U0010ffff]")))


def named(elements: list[dict[str, Any]]) -> dict[str, Any]:
    return {one["idShort"]: one for one in elements}


def groups(content: dict[str, Any]) -> dict[str, Any]:
    (submodel,) = content["submodels"]
    return named(submodel["submodelElements"])


def camel(name: str) -> str:
    return "".join(part[:1].upper() + part[1:] for part in name.split("_"))


def unit_of(element: dict[str, Any]) -> str:
    (embedded,) = element["embeddedDataSpecifications"]
    unit: str = embedded["dataSpecificationContent"]["unit"]
    return unit


def meanings(content: Any) -> Iterator[str]:
    if isinstance(content, dict):
        if "semanticId" in content:
            yield content["semanticId"]["keys"][0]["value"]
        for value in content.values():
            yield from meanings(value)
    elif isinstance(content, list):
        for value in content:
            yield from meanings(value)


@needs_library
@needs_schema
@pytest.mark.slow
@pytest.mark.parametrize("request_", requests())
def test_a_shell_fits_the_schema_and_reads_back(client: TestClient, request_: dict[str, Any]) -> None:
    from basyx.aas import model
    from basyx.aas.adapter.json import read_aas_json_file

    answer = ask(client, request_)
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"] == AAS
    assert ask(client, request_).content == answer.content
    content = answer.json()
    assert [error.message[:300] for error in validator().iter_errors(content)] == []

    store = read_aas_json_file(io.BytesIO(answer.content), failsafe=False)
    (shell,) = [one for one in store if isinstance(one, model.AssetAdministrationShell)]
    (reference,) = shell.submodel
    submodel = reference.resolve(store)
    assert shell.asset_information.asset_kind is model.AssetKind.TYPE
    full = ask(client, request_, "application/json").json()
    known = {one.name: one.value for one in shell.asset_information.specific_asset_id}
    assert known.pop("fingerprint") == full["stamp"]["fingerprint"]
    assert known.pop("reference", None) == full["reference"]
    assert not known
    provenance = submodel.get_referable("Provenance")
    assert provenance.get_referable("Digest").value == full["stamp"]["rule_set"]["digest"]
    assert provenance.get_referable("Engine").value == full["stamp"]["engine"]
    drawing = submodel.get_referable(["Documents", "CrossSection"])
    assert drawing.content_type == "image/svg+xml"
    assert drawing.value == ask(client, request_, "image/svg+xml").content
    sheet = submodel.get_referable(["Documents", "CalculationSheet"])
    assert sheet.value == ask(client, request_, "text/html").content


@needs_library
@pytest.mark.parametrize("units", ["si", "us"])
@pytest.mark.parametrize("request_", requests())
def test_every_number_is_that_of_the_answer(client: TestClient, request_: dict[str, Any], units: str) -> None:
    asked = {**request_, "units": {"system": units}}
    full = ask(client, asked, "application/json").json()
    content = groups(ask(client, asked).json())

    def compare(found: dict[str, Any], expected: dict[str, Any]) -> None:
        parts = named(found["value"])
        assert float(parts["Nominal"]["value"]) == expected["nominal"]["value"]
        assert unit_of(parts["Nominal"]) == expected["nominal"]["unit"]
        assert ("Limits" in parts) is (expected["minimum"] is not None)
        if "Limits" in parts:
            ends = [float(parts["Limits"][end]) for end in ("min", "max")]
            assert ends == [expected["minimum"]["value"], expected["maximum"]["value"]]
            assert unit_of(parts["Limits"]) == expected["minimum"]["unit"]
        texts = {name: parts[camel(name)]["value"] for name in ("origin", "rule", "given_in") if camel(name) in parts}
        assert texts == {name: expected[name] for name in ("origin", "rule", "given_in") if expected[name] is not None}

    dimensions = named(content["Dimensions"]["value"])
    given = {name: entry for name, entry in full["dimensions"].items() if entry is not None}
    assert set(dimensions) == {camel(name) for name in given}
    for name, entry in given.items():
        found = dimensions[camel(name)]
        if name == "energizer":
            numbers = named(found["value"])
            assert set(numbers) == {"Kind", *(camel(one["name"]) for one in entry["numbers"])}
            for one in entry["numbers"]:
                value = named(numbers[camel(one["name"])]["value"])["Nominal"]
                assert (float(value["value"]), unit_of(value)) == (one["value"]["value"], one["value"]["unit"])
        elif "nominal" in entry:
            compare(found, entry)
        else:
            parts = named(found["value"])
            inner = {part: value for part, value in entry.items() if isinstance(value, dict)}
            assert set(parts) - {"Dash"} == {camel(part) for part in inner}
            for part, value in inner.items():
                compare(parts[camel(part)], value)

    materials = {name: one["value"] for name, one in named(content["Materials"]["value"]).items()}
    assert materials["Compound"] == full["design"]["compound"]
    ring = full["dimensions"]["o_ring"]
    assert materials.get("ORingElastomer") == (ring and ring["elastomer"])
    required = [named(one["value"]) for one in content["Requirements"]["value"]]
    assert [one["Text"]["value"] for one in required] == [one["text"] for one in full["requirements"]]
    values = [float(one["Value"]["value"]) if "Value" in one else None for one in required]
    assert values == [one["value"] and one["value"]["value"] for one in full["requirements"]]
    cautions = [named(one["value"])["Text"]["value"] for one in content["Cautions"].get("value", [])]
    assert cautions == [one["text"] for one in full["cautions"]]


@needs_library
def test_the_same_seal_is_the_same_asset_and_another_answer_another_submodel(client: TestClient) -> None:
    request = ENQUIRIES[0].request

    def identifiers(**more: Any) -> tuple[str, str, str]:
        content = ask(client, {**request, **more}).json()
        (shell,), (submodel,) = content["assetAdministrationShells"], content["submodels"]
        return shell["assetInformation"]["globalAssetId"], shell["id"], submodel["id"]

    si, us = identifiers(units={"system": "si"}), identifiers(units={"system": "us"})
    assert si[0] == us[0]
    assert len({*si, *us}) == 5
    other = changed(request, "/duty/shaft_diameter", {"value": 33.0, "unit": "mm"})
    assert ask(client, other).json()["assetAdministrationShells"][0]["assetInformation"]["globalAssetId"] != si[0]


@needs_library
def test_meanings_are_the_services_own(client: TestClient) -> None:
    found = set(meanings(ask(client, ENQUIRIES[0].request).json()["submodels"]))
    assert len(found) > 20
    assert all(one.startswith(OWN) for one in found)


def test_a_verdict_alone_is_no_shell(client: TestClient) -> None:
    problem = assert_problem(ask(client, {**ENQUIRIES[0].request, "detail": "verdict"}), 406, "not-acceptable")
    assert "full" in problem["detail"]


def test_another_operation_says_what_it_offers(client: TestClient) -> None:
    other: Example = next(one for one in load_examples() if one.operation == "check_envelope")
    answer = client.post(other.path, json=other.request, headers={"accept": AAS})
    problem = assert_problem(answer, 406, "not-acceptable")
    assert AAS not in problem["detail"]


def test_a_service_without_the_library_says_so(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in [name for name in sys.modules if name == "basyx" or name.startswith("basyx.")]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setitem(sys.modules, "basyx", None)
    problem = assert_problem(ask(client, ENQUIRIES[0].request), 406, "not-acceptable")
    assert "extra aas" in problem["detail"]
    assert "application/json" in problem["detail"]
