"""Quantities as people write them are taken where they can be read in one way, and refused with the reason where not."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi.testclient import TestClient
from glandwise.contract import reading
from glandwise.units import DIMENSIONS, to_si
from pydantic_core import PydanticCustomError

from tests.conftest import changed, example

REQUEST = example("check_envelope", "gearbox_input_shaft")
PATH = "/v1/envelope-checks"


@pytest.mark.parametrize(
    ("dimension", "text", "sign", "value", "unit"),
    [
        ("gauge_pressure", "8 bar", None, 8.0, "bar"),
        ("gauge_pressure", "8bar", None, 8.0, "bar"),
        ("gauge_pressure", "8,5 bar", "comma", 8.5, "bar"),
        ("gauge_pressure", "−0.5 bar", None, -0.5, "bar"),
        ("gauge_pressure", "116 lb/in²", None, 116.0, "psi"),
        ("gauge_pressure", "116 psig", None, 116.0, "psi"),
        ("gauge_pressure", "8 kgf/cm2", None, 8.0, "kgf/cm2"),
        ("gauge_pressure", "8 kp/cm²", None, 8.0, "kgf/cm2"),
        ("rotational_speed", "1450 1/min", None, 1450.0, "rpm"),
        ("rotational_speed", "1.450 rpm", "point", 1.45, "rpm"),
        ("temperature", "-10 °C", None, -10.0, "degC"),
        ("ratio", "0.3", None, 0.3, "1"),
        ("length", "0.125 mm", None, 0.125, "mm"),
        ("length", "1.7500 in", None, 1.75, "in"),
    ],
)
def test_what_can_be_read_in_one_way_is_taken(dimension: str, text: str, sign: Any, value: float, unit: str) -> None:
    assert reading.quantity(text, dimension, sign) == {"value": value, "unit": unit}


@pytest.mark.parametrize(
    ("dimension", "text", "sign", "kind"),
    [
        ("gauge_pressure", "8,5 bar", None, "ambiguous_number"),
        ("gauge_pressure", "8.5 bar", "comma", "ambiguous_number"),
        ("rotational_speed", "1.450 rpm", None, "ambiguous_number"),
        ("rotational_speed", "1,450 rpm", None, "ambiguous_number"),
        ("rotational_speed", "1.450,5 rpm", "comma", "ambiguous_number"),
        ("rotational_speed", "1 450 rpm", None, "ambiguous_number"),
        ("gauge_pressure", "100 psia", None, "absolute_pressure"),
        ("gauge_pressure", {"value": 100, "unit": "bara"}, None, "absolute_pressure"),
        ("gauge_pressure", "8", None, "missing_unit"),
        ("gauge_pressure", 8, None, "missing_unit"),
        ("gauge_pressure", 8.5, None, "missing_unit"),
        ("gauge_pressure", "8 mm", None, "unknown_unit"),
        ("gauge_pressure", "8-10 bar", None, "unknown_unit"),
        ("length", "1/2 in", None, "unknown_unit"),
        ("length", "some mm", None, "unreadable_quantity"),
        ("length", "", None, "unreadable_quantity"),
    ],
)
def test_what_cannot_is_refused_with_the_reason(dimension: str, text: Any, sign: Any, kind: str) -> None:
    with pytest.raises(PydanticCustomError) as caught:
        reading.quantity(text, dimension, sign)
    assert caught.value.type == kind
    assert caught.value.context
    assert caught.value.context["accepted"]


@pytest.mark.parametrize("dimension", DIMENSIONS)
def test_the_example_of_each_dimension_is_taken(dimension: str) -> None:
    found = reading.quantity(reading.example_of(dimension), dimension)
    assert to_si(found["value"], dimension, found["unit"]) == pytest.approx(
        to_si(found["value"], dimension, found["unit"])
    )
    assert found["unit"] in DIMENSIONS[dimension].symbols


def test_text_and_object_are_the_same_question(client: TestClient) -> None:
    plain = client.post(PATH, json=REQUEST).json()
    text = changed(REQUEST, "/duty/shaft_diameter", "{value:g} {unit}".format(**REQUEST["duty"]["shaft_diameter"]))
    assert client.post(PATH, json=text).json() == plain


def test_a_stated_sign_holds_for_the_request_and_changes_no_answer(client: TestClient) -> None:
    with_comma = changed(changed(REQUEST, "/duty/runout", "0,15 mm"), "/decimal_sign", "comma")
    point = client.post(PATH, json=changed(REQUEST, "/duty/runout", {"value": 0.15, "unit": "mm"})).json()
    assert client.post(PATH, json=with_comma).json() == point
    refused = client.post(PATH, json=changed(REQUEST, "/duty/runout", "0,15 mm")).json()
    assert refused["errors"][0]["code"] == "ambiguous_number"
    stored = {"operation": "check_envelope", "stored_request": with_comma, "stored_result": point}
    assert client.post("/v1/rechecks", json=stored).json()["same"]


@pytest.mark.parametrize("value", [{"value": 5, "unit": ["bar"]}, {"value": 5, "unit": {"a": 1}}, {"value": 5, "unit": None},
                                   {"value": ["5"], "unit": "bar"}, {"value": 5}, {}, [], ["8 bar"], True, "8 bar" * 100])  # fmt: skip
def test_what_is_no_quantity_at_all_is_refused(client: TestClient, value: Any) -> None:
    answer = client.post(PATH, json=changed(REQUEST, "/duty/pressure", value))
    assert answer.status_code == 422
    assert all(error["pointer"].startswith("/duty/pressure") for error in answer.json()["errors"])
