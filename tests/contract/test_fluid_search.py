"""A fluid is found by whatever it is called; it is offered, and never taken in place of what was sent."""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient
from glandwise.api import search

from tests.conftest import assert_problem, changed, example


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("caustic soda", "sodium_hydroxide"), ("Natronlauge", "sodium_hydroxide"), ("sodium hydroxid", "sodium_hydroxide"),
        ("ATF", "automatic_transmission_fluid"), ("Getriebeol", "mineral_oil_gear"), ("petrol", "gasoline"),
        ("diesel", "diesel_fuel"), ("LN2", "nitrogen_liquid"), ("WATER", "water"), ("sea water", "sea_water"),
        ("chocolat", "chocolate"), ("polyalphaolefin_oil", "polyalphaolefin_oil"),
    ],
)  # fmt: skip
def test_a_fluid_is_found_by_what_it_is_called(client: TestClient, text: str, name: str) -> None:
    found = client.get("/v1/fluids", params={"search": text}).json()
    assert found["matches"][0]["name"] == name
    assert list(found["fluids"]) == [match["name"] for match in found["matches"]]
    assert len(found["matches"]) <= search.MOST


@pytest.mark.parametrize("text", ["qqqqqq", "xx", "?", "-"])
def test_what_is_like_nothing_finds_nothing(client: TestClient, text: str) -> None:
    found = client.get("/v1/fluids", params={"search": text}).json()
    assert (found["matches"], found["fluids"]) == ([], {})


def test_without_a_search_all_are_listed(client: TestClient) -> None:
    found = client.get("/v1/fluids").json()
    assert found["matches"] is None
    assert set(search.other_names()) <= set(found["fluids"])


def test_no_two_fluids_go_by_one_name(client: TestClient) -> None:
    names = [word.casefold() for words in search.other_names().values() for word in words]
    assert len(names) == len(set(names))


def test_one_fluid_is_shown_by_its_name_only(client: TestClient) -> None:
    found = client.get("/v1/fluids/sodium_hydroxide").json()
    assert "caustic soda" in found["other_names"]
    assert found["fluid"] == client.get("/v1/fluids").json()["fluids"]["sodium_hydroxide"]
    problem = assert_problem(client.get("/v1/fluids/caustic_soda"), 404, "not-found")
    assert "close names: sodium_hydroxide" in problem["detail"]
    request = changed(example("check_envelope", "gearbox_input_shaft"), "/duty/fluid", "caustic_soda")
    assert_problem(client.post("/v1/envelope-checks", json=request), 422, "unknown-name", "/duty/fluid")


@pytest.mark.parametrize("params", [{"search": ""}, {"search": "a" * 65}, {"search": "a\nb"}, {"serch": "water"}])
def test_a_search_that_cannot_be_is_refused(client: TestClient, params: dict[str, str]) -> None:
    assert client.get("/v1/fluids", params=params).status_code == 422
