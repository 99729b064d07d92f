"""What a refusal says: every fault at once, ranges that are true to the last digit, names, and null for what is left out."""

from __future__ import annotations

import copy
import json
import re
from collections.abc import Iterator
from typing import Annotated, Any, get_args, get_origin

import pytest
from fastapi.testclient import TestClient
from glandwise import units
from glandwise.case.names import names
from glandwise.contract.base import NameOf, RequestModel
from glandwise.contract.quantities import Measured, accepted_range
from glandwise.operations import ON_CASES, OPERATIONS
from glandwise.questions.words import wanted
from hypothesis import given
from hypothesis import strategies as st
from pydantic import BaseModel, TypeAdapter, ValidationError

from tests.conftest import assert_problem, changed, example, load_examples
from tests.laws import laws

EXAMPLES = load_examples()


def request_models(base: type[RequestModel] = RequestModel) -> Iterator[type[RequestModel]]:
    for model in base.__subclasses__():
        yield model
        yield from request_models(model)


MODELS = [model for model in request_models() if model.__module__.startswith("glandwise.")]


# -------------------------------------------------------------------------------------------------------------- ranges

NUMBER = r"-?[\d,]*\.?\d+(?:e[+-]\d+)?"
RANGE = re.compile(
    rf"(?:(?P<low>{NUMBER})(?: \S+)? to (?P<high>{NUMBER})(?: \S+)?|more than (?P<above>{NUMBER})(?: \S+)?, at most "
    rf"(?P<top>{NUMBER})(?: \S+)?|at least (?P<least>{NUMBER})(?: \S+)?|at most (?P<most>{NUMBER})(?: \S+)?)"
)


def ends(text: str) -> dict[str, float]:
    """Read a range as a caller would."""
    match = RANGE.fullmatch(text)
    assert match is not None, text
    return {name: float(number.replace(",", "")) for name, number in match.groupdict().items() if number is not None}


def held_in(annotation: Any) -> Iterator[Measured]:
    if get_origin(annotation) is Annotated:
        yield from (item for item in get_args(annotation)[1:] if isinstance(item, Measured))
    for item in get_args(annotation):
        yield from held_in(item)


def all_measured() -> list[Measured]:
    found: dict[Measured, None] = {}
    for model in MODELS:
        for field in model.model_fields.values():
            found.update(dict.fromkeys(item for item in field.metadata if isinstance(item, Measured)))
            found.update(dict.fromkeys(held_in(field.annotation)))
    return list(found)


MEASURED = all_measured()


def test_the_quantities_of_the_requests_are_found() -> None:
    assert len(MEASURED) > 30
    assert {item.dimension for item in MEASURED} > {"length", "temperature", "gauge_pressure", "ratio", "time"}


@pytest.mark.parametrize("held", MEASURED, ids=lambda item: f"{item.dimension} {item.sign} {item.low} {item.high}")
def test_both_ends_of_every_range_are_accepted_as_printed_in_every_unit(held: Measured) -> None:
    adapter: TypeAdapter[float] = TypeAdapter(Annotated[float, held])
    for unit in units.factors(held.dimension):
        found = ends(held.accepted(unit))
        for name, number in found.items():
            if name == "above":
                with pytest.raises(ValidationError):
                    adapter.validate_python({"value": number, "unit": unit})
            else:
                adapter.validate_python({"value": number, "unit": unit})
        # and what is printed tells the whole range to a thousandth
        for name, end in (("low", held.low), ("high", held.high), ("top", held.high)):
            if name in found and end is not None:
                written = units.from_si(end, held.dimension, unit)
                assert found[name] == pytest.approx(written, rel=1.001e-3, abs=1e-12)


@laws(400)
@given(
    st.sampled_from(sorted(units.DIMENSIONS)),
    st.floats(-1e12, 1e12).filter(lambda x: x == 0.0 or abs(x) > 1e-15),
    st.floats(1e-3, 1e3),
    st.sampled_from([3, 4, 6]),
    st.data(),
)
def test_what_a_range_says_is_within_it(dimension: str, low: float, span: float, digits: int, data: Any) -> None:
    high = low + span * max(abs(low), 1.0)
    unit = data.draw(st.sampled_from(units.DIMENSIONS[dimension].symbols))
    scale, offset = units.factor(dimension, unit)
    slack = 2e-12 * max(abs(low), abs(high), abs(offset))

    def si(number: float) -> float:
        return number * scale + offset

    for text in (
        accepted_range(dimension, low, high, unit, digits=digits),
        accepted_range(dimension, low, None, unit, digits=digits),
        accepted_range(dimension, None, high, unit, digits=digits),
        wanted(dimension, low, unit, least=True).removesuffix(" is needed"),
        wanted(dimension, high, unit, least=False).removesuffix(" is allowed"),
    ):
        found = ends(text)
        assert all(si(found[name]) >= low - slack for name in ("low", "least") if name in found), text
        assert all(si(found[name]) <= high + slack for name in ("high", "most") if name in found), text


@pytest.mark.parametrize("unit", ["degC", "degF", "K"])
@pytest.mark.parametrize(
    ("operation", "name", "pointer"),
    [
        ("check_envelope", "high_pressure_swivel", "/duty/temperature/maximum"),
        ("check_thermal_fit", "liquid_nitrogen_valve", "/duty/temperature/minimum"),
        ("check_thermal_fit", "liquid_nitrogen_valve", "/assembly_temperature"),
    ],
)
def test_the_range_of_a_refusal_is_accepted_by_the_service(
    client: TestClient, operation: str, name: str, pointer: str, unit: str
) -> None:
    path = next(item.path for item in EXAMPLES if item.operation == operation)
    value = {"K": 1.0, "degC": -272.0, "degF": -457.0}[unit] if "envelope" not in operation else 1e5
    problem = client.post(path, json=changed(example(operation, name), pointer, {"value": value, "unit": unit})).json()
    (error,) = (item for item in problem["errors"] if item["pointer"] == pointer)
    written = re.search(rf"{NUMBER} (\S+) to {NUMBER} (\S+)", error["accepted"])
    assert written is not None
    for end, number in ends(error["accepted"]).items():
        if (pointer.rpartition("/")[2], end) in {("minimum", "high"), ("maximum", "low")}:
            continue  # the normal temperature bounds it first
        answer = client.post(
            path, json=changed(example(operation, name), pointer, {"value": number, "unit": written[1]})
        )
        assert answer.status_code == 200 or all(item["pointer"] != pointer for item in answer.json()["errors"]), number


def test_stock_of_the_size_that_a_refusal_asks_for_is_taken(client: TestClient) -> None:
    request = example("estimate_blank", "prototypes_from_rod_us_units")
    for unit in ("in", "mm"):
        request = {**request, "units": {"system": "us" if unit == "in" else "si"}}
        for field, small in (("outer_diameter", 0.5), ("length", 0.1)):
            body = copy.deepcopy(request)
            body.setdefault("stock", {})[field] = {"value": small * (1.0 if unit == "in" else 25.0), "unit": unit}
            problem = assert_problem(
                client.post("/v1/blank-estimates", json=body), 422, "out-of-domain", f"/stock/{field}"
            )
            body["stock"][field]["value"] = ends(problem["errors"][0]["accepted"])["least"]
            answer = client.post("/v1/blank-estimates", json=body)
            assert answer.status_code == 200, answer.text


def test_a_number_of_the_wrong_sign_is_told_the_whole_range(client: TestClient) -> None:
    """Above zero is not all that is asked of a diameter."""
    request = changed(
        example("check_envelope", "high_pressure_swivel"), "/duty/shaft_diameter", {"value": 0, "unit": "in"}
    )
    problem = assert_problem(
        client.post("/v1/envelope-checks", json=request), 422, "invalid-request", "/duty/shaft_diameter/value"
    )
    assert problem["errors"][0]["accepted"] == "0.03938 in to 118.1 in"


# --------------------------------------------------------------------------------------------------------------- names


def test_all_unknown_names_are_told_together_with_every_other_fault(client: TestClient) -> None:
    request = example("check_gland", "pump_press_fit")
    for pointer, value in (
        ("/duty/fluid", "unobtainium"),
        ("/design/compound", "ptfe_carbon"),
        ("/duty/shaft", {"material": "stell_soft"}),
        ("/duty/pressure", {"value": 1e9, "unit": "bar"}),
        ("/duty/colour", "red"),
    ):
        request = changed(request, pointer, value)
    problem = assert_problem(client.post("/v1/gland-checks", json=request), 422, "invalid-request", "/duty/fluid")
    told = {item["pointer"]: item["accepted"] for item in problem["errors"]}
    assert set(told) == {"/duty/fluid", "/design/compound", "/duty/shaft/material", "/duty/pressure", "/duty/colour"}
    assert "steel_soft" in told["/duty/shaft/material"]
    assert len(problem["errors"]) == len(told)


def test_three_unknown_names_alone_are_three_unknown_names(client: TestClient) -> None:
    request = example("check_envelope", "high_pressure_swivel")
    for pointer in ("/duty/fluid", "/design/compound", "/design/energizer_alloy"):
        request = changed(request, pointer, "unobtainium")
    problem = assert_problem(client.post("/v1/envelope-checks", json=request), 422, "unknown-name")
    assert {item["pointer"] for item in problem["errors"]} == {
        "/duty/fluid", "/design/compound", "/design/energizer_alloy",
    }  # fmt: skip
    body = {
        "operation": "check_envelope",
        "stored_request": changed(request, "/duty/colour", "red"),
        "stored_result": {"stamp": {"fingerprint": "0" * 64}},
    }
    problem = client.post("/v1/rechecks", json=body).json()
    assert {item["pointer"] for item in problem["errors"]} == {
        f"/stored_request{pointer}"
        for pointer in ("/duty/fluid", "/design/compound", "/design/energizer_alloy", "/duty/colour")
    }


def test_unknown_rule_sets_are_told_together(client: TestClient) -> None:
    request = example("compare_rule_sets", "lower_rated_pressure")
    request = {
        **request,
        "base": {"kind": "name", "name": "none"},
        "candidate": {"kind": "name", "name": "neither"},
        "colour": 1,
    }
    problem = client.post("/v1/rule-set-comparisons", json=request).json()
    assert {item["pointer"] for item in problem["errors"]} == {"/base/name", "/candidate/name", "/colour"}


NAMED = {
    "fluids": ("no fluid of this name in the rule set", "fluid"),
    "compounds": ("no compound of this name in the rule set", "compound"),
    "alloys": ("no alloy of this name in the rule set", "alloy"),
    "elastomers": ("no elastomer of this name in the rule set", "elastomer"),
    "shaft_materials": ("no material of this name in the rule set", "material"),
}


@pytest.mark.parametrize("operation", sorted(row.name for row in ON_CASES))
def test_every_name_of_every_operation_is_among_those_told(client: TestClient, operation: str) -> None:
    """And what is offered for one comes from the table it is looked up in: no fluid for a compound."""
    tables = {
        name: set(client.get(f"/v1/{name.replace('_', '-')}").json()[name])
        for name in ("fluids", "compounds", "alloys", "elastomers", "shaft_materials")
    }
    tried = 0
    for item in (item for item in EXAMPLES if item.operation == operation):
        for location, name_of, _ in list(names(OPERATIONS[operation].request, item.request)):
            if name_of.table not in tables:
                continue
            pointer = "".join(f"/{part}" for part in location)
            for wrong in ("unobtainium_9", "a name", "9"):
                request = changed(item.request, pointer, wrong)
                problem = client.post(item.path, json=request).json()
                (error,) = (one for one in problem["errors"] if one["pointer"] == pointer)
                offered = set(re.sub(r"^(close names|one of): ", "", error["accepted"]).split(", ")[:-1])
                assert offered <= tables[name_of.table], error
                assert error["detail"] in {NAMED[name_of.table][0], "not a name"}
                tried += 1
    assert tried or operation == "estimate_energizer_load"


def test_every_field_that_holds_a_name_says_of_what() -> None:
    """So that none is left out when names are looked up."""
    free = {("Phase", "name")}
    for model in MODELS:
        for name, field in model.model_fields.items():
            for metadata in (list(field.metadata), *_metadata(field.annotation)):
                patterns = [getattr(item, "pattern", None) for item in metadata]
                if "^[A-Za-z][A-Za-z0-9_]*$" in patterns and (model.__name__, name) not in free:
                    assert any(isinstance(item, NameOf) for item in metadata), (model, name)


def _metadata(annotation: Any) -> Iterator[list[Any]]:
    if get_origin(annotation) is Annotated:
        yield list(get_args(annotation)[1:])
    for item in get_args(annotation):
        yield from _metadata(item)


# ---------------------------------------------------------------------------------------------------------------- null


@pytest.mark.parametrize("model", MODELS, ids=lambda model: model.__name__)
def test_null_stands_for_every_optional_field_that_is_left_out(model: type[RequestModel]) -> None:
    """One rule for scalars, choices, quantities and objects, in the service and in its contract."""
    optional = {name: field for name, field in model.model_fields.items() if not field.is_required()}

    def outcome(given: dict[str, Any]) -> Any:
        try:
            return model.model_validate(given)
        except ValidationError as error:
            return [(item["type"], item["loc"]) for item in error.errors()]

    assert outcome(dict.fromkeys(optional)) == outcome({})
    schema = model.model_json_schema()
    schema = schema.get("$defs", {}).get(model.__name__, schema) if "properties" not in schema else schema
    for name in optional:
        assert {"type": "null"} in schema["properties"][name]["anyOf"], name
    for name, field in model.model_fields.items():
        if field.is_required():
            with pytest.raises(ValidationError) as caught:
                model.model_validate({name: None})
            assert any(item["loc"][:1] == (name,) for item in caught.value.errors()), name


@pytest.mark.parametrize(
    "item", [item for item in EXAMPLES if OPERATIONS[item.operation] in ON_CASES], ids=lambda item: item.name
)
def test_null_anywhere_changes_nothing(item: Any) -> None:
    model: Any = OPERATIONS[item.operation].request
    plain = model.model_validate(item.request)

    def filled(made: Any, raw: Any) -> Any:
        """Write null for every field of a request that is left out, at every depth."""
        if isinstance(made, BaseModel) and isinstance(raw, dict):
            own = {name: filled(getattr(made, name), value) for name, value in raw.items()}
            return {**own, **{name: None for name in type(made).model_fields if name not in raw}}
        if isinstance(made, list):
            return [filled(*pair) for pair in zip(made, raw, strict=True)]
        return raw

    nulls = filled(plain, item.request)
    assert json.dumps(nulls).count("null") > json.dumps(item.request).count("null")
    assert model.model_validate(nulls) == plain


def test_the_contract_lets_every_optional_field_of_a_request_be_null(document: dict[str, Any]) -> None:
    schemas = document["components"]["schemas"]
    asked = {model.__name__ for model in MODELS} & set(schemas)
    assert len(asked) > 40
    for name in asked:
        for field, schema in schemas[name]["properties"].items():
            if field not in schemas[name].get("required", ()):
                assert {"type": "null"} in schema["anyOf"], (name, field)
