"""An enquiry gathers what the single operations answer, and nothing that one part refuses stops the others."""

from __future__ import annotations

import json
from importlib.resources import files
from typing import Any

import pytest
from fastapi.testclient import TestClient
from glandwise.app import create_app

client = TestClient(create_app())
EXAMPLES = files("glandwise.contract").joinpath("examples")


def example(operation: str, name: str) -> dict[str, Any]:
    document = json.loads(EXAMPLES.joinpath(operation, f"{name}.json").read_text(encoding="utf-8"))
    request: dict[str, Any] = document["request"]
    return request


def ask(path: str, request: dict[str, Any]) -> dict[str, Any]:
    response = client.post(f"/v1/{path}", json=request)
    assert response.status_code == 200, response.text
    answer: dict[str, Any] = response.json()
    return answer


@pytest.mark.parametrize("name", ["bakery_mixer", "swivel_proposed"])
def test_each_part_is_what_its_own_operation_answers(name: str) -> None:
    request = example("answer_enquiry", name)
    found = ask("enquiries", request)
    common = {"duty": request["duty"], "design": found["design"], "units": request.get("units", {"system": "si"})}
    assert found["check"] == ask("envelope-checks", common)
    assert found["gland"] == ask("gland-checks", common)
    assert found["thermal_fit"] == ask("thermal-fits", common)
    assert found["friction"] == ask("friction-estimates", common)
    wear = common | ({"target_life": request["target_life"]} if "target_life" in request else {})
    assert found["wear"] == ask("wear-estimates", wear)
    # a bore that was not stated is the one of the gland
    duty = {
        **request["duty"],
        "bore": {"diameter": found["gland"]["bore"]["nominal"]} | request["duty"].get("bore", {}),
    }
    made = ask("blank-estimates", common | {"duty": duty, "pieces": request["pieces"]})
    assert {k: v for k, v in found["blank"].items() if k != "stamp"} == {k: v for k, v in made.items() if k != "stamp"}
    assert found["unanswered"] == []
    rank = ["pass", "not_evaluated", "caution", "fail"]
    judged = [found[part]["verdict"] for part in ("check", "gland", "thermal_fit", "friction")]
    if "target_life" in request:
        judged.append(found["wear"]["verdict"])
    assert found["verdict"] == max(judged, key=rank.index)


def test_the_choice_is_among_the_passing_designs_and_its_gland_holds() -> None:
    request = example("answer_enquiry", "bakery_mixer")
    found = ask("enquiries", request)
    assert found["chosen"] == "selected"
    assert found["check"]["verdict"] in {"pass", "caution"}
    assert found["gland"]["verdict"] != "fail"
    assert found["thermal_fit"]["verdict"] != "fail"
    assert found["wear"]["verdict"] != "fail"
    assert found["wear"]["life"]["nominal"]["value"] > request["target_life"]["value"]
    assert len(found["selection"]["ranked"]) == 5
    assert found["selection"]["counts"]["evaluated"] > 2000


def hours(answer: dict[str, Any], end: str = "nominal") -> float:
    return float(answer["wear"]["life"][end]["value"])


def test_a_design_that_lasts_as_long_as_is_wanted_is_chosen_where_one_passes() -> None:
    request = example("answer_enquiry", "bakery_mixer")
    short = ask("enquiries", {**request, "aims": {"life": 0.0}, "target_life": {"value": 50.0, "unit": "h"}})
    assert hours(short) < 500.0
    for target in (500.0, 3000.0, 10000.0):
        found = ask("enquiries", {**request, "aims": {"life": 0.0}, "target_life": {"value": target, "unit": "h"}})
        assert hours(found) >= target
        assert found["verdict"] != "fail"
        assert f"{target:,.0f} h are wanted" in found["summary"]


def test_where_no_design_lasts_long_enough_the_life_is_what_fails() -> None:
    request = {**example("answer_enquiry", "bakery_mixer"), "target_life": {"value": 90000.0, "unit": "h"}}
    found = ask("enquiries", request)
    assert found["verdict"] == found["wear"]["verdict"] == "fail"
    assert found["summary"].startswith("The chosen design does not pass (life): ")
    assert "less than the 90,000 h that are wanted" in found["summary"]
    assert "Passes" not in found["summary"]
    # as long as any that holds: no other listed design does better by much
    lives = [row["life"]["value"] for row in found["selection"]["ranked"] if row["life"] is not None]
    assert hours(found) > 0.99 * max(lives)
    assert {found["gland"]["verdict"], found["thermal_fit"]["verdict"]} <= {"pass", "caution"}


def test_the_life_is_always_named() -> None:
    for request in (
        example("answer_enquiry", "bakery_mixer"),
        {key: value for key, value in example("answer_enquiry", "bakery_mixer").items() if key != "target_life"},
    ):
        found = ask("enquiries", request)
        ends = [f"{hours(found, end):,.0f} h" for end in ("nominal", "short", "long")]
        assert f"Life {ends[0]} ({ends[1]} to {ends[2]}) of running" in found["summary"]


def test_a_short_life_is_conditional_where_none_is_asked_for() -> None:
    request = example("answer_enquiry", "bakery_mixer")
    del request["target_life"]
    proposed = {
        "family": "flexible_lip",
        "compound": "ptfe_unfilled",
        "second_lip": "excluder",
        "retention": "clamped_flange",
    }
    found = ask("enquiries", {**request, "design": proposed})
    assert hours(found) < 500.0
    assert all(found[part]["verdict"] == "pass" for part in ("check", "gland", "thermal_fit", "friction"))
    assert found["verdict"] == "caution"
    assert found["summary"].startswith("The given design passes with care (life): ")
    assert "which is short (below 500 h)" in found["summary"]
    # a life that is wanted takes the place of what is usual
    few = ask("enquiries", {**request, "design": proposed, "target_life": {"value": 5.0, "unit": "h"}})
    assert few["verdict"] == few["wear"]["verdict"] == "pass"
    assert "short" not in few["summary"]
    chosen = ask("enquiries", request)
    assert hours(chosen) > 500.0


def test_without_a_passing_design_the_nearest_is_judged() -> None:
    request = example("select_design", "nothing_passes")
    found = ask("enquiries", {"duty": request["duty"]})
    assert found["chosen"] == "nearest"
    assert found["verdict"] == "fail"
    assert found["selection"]["obstacles"]


def test_a_part_that_refuses_is_told_and_stops_no_other() -> None:
    request = example("answer_enquiry", "swivel_proposed")
    request["gland"] = {"bore_tolerance": {"kind": "class", "tolerance_class": "H8"}}
    request["duty"]["bore"] = {"diameter": {"value": 2.0, "unit": "m"}}
    response = client.post("/v1/enquiries", json=request)
    if response.status_code == 422:  # the field itself may be refused before anything is answered
        assert response.json()["errors"][0]["pointer"].startswith(("/gland", "/duty"))
        return
    found = response.json()
    assert {item["part"] for item in found["unanswered"]} <= {"gland", "thermal_fit", "blank", "wear", "friction"}
    assert found["unanswered"]
    assert found["check"]["criteria"]
    for item in found["unanswered"]:
        assert found[item["part"]] is None
        assert item["field"].startswith("/")
        assert item["detail"]


def test_a_design_with_dimensions_comes_back_ready_to_be_sent() -> None:
    request = example("answer_enquiry", "swivel_proposed")
    request["design"]["lip_thickness"] = {"value": 0.04, "unit": "in"}
    request["design"]["compound_properties"] = {
        "friction_coefficient": {
            k: {"value": v, "unit": "1"} for k, v in (("low", 0.04), ("nominal", 0.05), ("high", 0.06))
        }
    }
    found = ask("enquiries", request)
    assert found["design"]["lip_thickness"] == {"value": 1.016, "unit": "mm"}
    again = ask("envelope-checks", {"duty": request["duty"], "design": found["design"], "units": {"system": "us"}})
    assert again["verdict"] == found["check"]["verdict"]
    assert again["stamp"]["fingerprint"] == found["check"]["stamp"]["fingerprint"]
