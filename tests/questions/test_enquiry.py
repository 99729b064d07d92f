"""An enquiry gathers what the single operations answer, and nothing that one part refuses stops the others."""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from glandwise.app import create_app
from glandwise.contract.enquiry import EnquiryRequest
from glandwise.engine import Engine
from glandwise.questions.enquiry import operation
from glandwise.rules.loader import RuleStore

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
    wanted = {"target_life": request["target_life"]} if "target_life" in request else {}
    common = {
        "duty": {**request["duty"], **wanted},
        "design": found["design"],
        "units": request.get("units", {"system": "si"}),
    }
    assert found["check"] == ask("envelope-checks", common)
    assert found["gland"] == ask("gland-checks", common)
    assert found["thermal_fit"] == ask("thermal-fits", common)
    assert found["friction"] == ask("friction-estimates", common)
    assert found["wear"] == ask("wear-estimates", common)
    # a bore that was not stated is the one of the gland
    duty = {
        **request["duty"],
        "bore": {"diameter": found["gland"]["bore"]["nominal"]} | request["duty"].get("bore", {}),
    }
    order = {name: request[name] for name in ("pieces", "rates") if name in request}
    order |= {"pieces": request["quantity_breaks"][0]} if "quantity_breaks" in request else {}
    # as is a width, which has more digits in some units than in others
    width = ask("gland-checks", {**common, "units": {"system": "si"}})["seal_width"]
    made = ask("blank-estimates", common | {"duty": duty, "axial_width": width, **order})
    assert {k: v for k, v in found["blank"].items() if k != "stamp"} == {k: v for k, v in made.items() if k != "stamp"}
    assert found["unanswered"] == []
    rank = ["pass", "not_evaluated", "caution", "fail"]
    judged = [found[part]["verdict"] for part in ("check", "gland", "thermal_fit", "friction")]
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
    assert len(found["selection"]["ranked"]) == 5
    assert found["selection"]["counts"]["evaluated"] > 2000


def test_a_design_that_lasts_as_long_as_is_wanted_is_chosen_where_one_passes() -> None:
    request = example("answer_enquiry", "bakery_mixer")
    for target in (500.0, 2000.0):
        found = ask("enquiries", {**request, "aims": {"life": 0.0}, "target_life": {"value": target, "unit": "h"}})
        assert found["wear"]["life_probability"] >= 0.05
        assert f"Probability of the {target:,.0f} h that are wanted" in found["summary"]


def test_where_no_design_lasts_long_enough_the_life_is_what_fails() -> None:
    request = {**example("answer_enquiry", "bakery_mixer"), "target_life": {"value": 800000.0, "unit": "h"}}
    found = ask("enquiries", request)
    assert found["verdict"] == found["wear"]["verdict"] == "fail"
    assert found["chosen"] == "nearest"
    assert found["summary"].startswith("No design passes; the nearest does not pass (")
    assert "life" in found["summary"].partition(")")[0]
    assert "Probability of the 800,000 h that are wanted: about" in found["summary"]


UNION = {
    "duty": {
        "shaft_diameter": {"value": 40.0, "unit": "mm"},
        "motion": {"kind": "rotation", "rotational_speed": {"value": 100.0, "unit": "rpm"}},
        "pressure": {"value": 6.0, "unit": "bar"},
        "temperature": {"normal": {"value": 20.0, "unit": "degC"}},
        "fluid": "water",
        "shaft": {"material": "hard_chrome_plated", "machining_lead": "none"},
    },
    "target_life": {"value": 20000.0, "unit": "h"},
}
"""Longer than any design lasts there."""
ALIKE = 'alike_life = {{ value = {share}, unit = "1", source = "house-estimate", evidence = "house_estimate", valid_from = 2026-01-01 }}'


@pytest.mark.parametrize("share", [0.5, 1.0])
def test_lives_that_are_alike_stay_as_they_rank_where_none_is_long_enough(tmp_path: Path, share: float) -> None:
    (tmp_path / "house").mkdir()
    header = 'name = "house"\nversion = "1"\ntitle = "x"\ndescription = "x"\nextends = "baseline"\n'
    (tmp_path / "house" / "rule_set.toml").write_text(header)
    (tmp_path / "house" / "aims.toml").write_text(ALIKE.format(share=share))
    engine = Engine(RuleStore(tmp_path), "house")
    answer = operation.answer(EnquiryRequest.model_validate(UNION), engine)
    life = answer["wear"]["life"]["nominal"]["value"]
    ranked = answer["selection"]["ranked"]
    first, longest = ranked[0], max(item["life"]["value"] for item in ranked)
    assert longest < 20000.0  # h
    if share == 1.0:
        assert life > first["life"]["value"]
    else:
        assert answer["design"]["family"] == first["design"]["family"] == "energized_lip"
        assert life >= 0.5 * longest


def test_what_wear_was_not_measured_at_is_taken_where_it_is_likelier_to_last() -> None:
    """In the cold a lip presses harder than wear was measured at, and still lasts likelier than one that does not."""
    duty = {
        "shaft_diameter": {"value": 12.0, "unit": "mm"},
        "motion": {"kind": "rotation", "rotational_speed": {"value": 60.0, "unit": "rpm"}},
        "pressure": {"value": 2.0, "unit": "bar"},
        "temperature": {name: {"value": -190.0, "unit": "degC"} for name in ("minimum", "normal", "maximum")},
        "fluid": "nitrogen_liquid",
        "runout": {"value": 0.01, "unit": "mm"},
        "shaft": {
            "material": "hard_chrome_plated",
            "roughness": {"value": 0.2, "unit": "um"},
            "machining_lead": "none",
        },
    }
    found = ask("enquiries", {"duty": duty})
    measured = ask("enquiries", {"duty": duty, "restrict": {"compounds": ["ptfe_polyimide"]}})
    assert "presses harder than wear was ever measured at" in found["wear"]["summary"]
    assert "presses harder than wear was ever measured at" not in measured["wear"]["summary"]
    assert found["wear"]["life_probability"] > measured["wear"]["life_probability"]


def test_the_life_is_always_named() -> None:
    for request in (
        example("answer_enquiry", "bakery_mixer"),
        {key: value for key, value in example("answer_enquiry", "bakery_mixer").items() if key != "target_life"},
    ):
        found = ask("enquiries", request)
        assert found["wear"]["summary"] in found["summary"]
        assert "nine in ten between" in found["summary"]
        assert 0.0 <= found["wear"]["life_probability"] <= 1.0


def test_a_short_life_is_conditional_where_none_is_asked_for() -> None:
    request = example("answer_enquiry", "bakery_mixer")
    del request["target_life"]
    request["duty"]["runout"] = {"value": 0.05, "unit": "mm"}
    proposed = {
        "family": "flexible_lip",
        "compound": "ptfe_unfilled",
        "second_lip": "excluder",
        "retention": "clamped_flange",
    }
    found = ask("enquiries", {**request, "design": proposed})
    assert found["wear"]["life_probability"] < 0.5
    assert found["verdict"] == found["wear"]["verdict"] == "caution"
    assert "that are taken as wanted" in found["summary"]
    # a life that is wanted takes the place of what is usual
    few = ask("enquiries", {**request, "design": proposed, "target_life": {"value": 1.0, "unit": "h"}})
    assert few["wear"]["verdict"] == "pass"


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


# ------------------------------------------------------------------------------------------------ all that a price needs


def test_the_reference_is_repeated_and_changes_no_fingerprint() -> None:
    request = example("answer_enquiry", "swivel_proposed") | {"detail": "verdict"}
    plain, named = ask("enquiries", request), ask("enquiries", {**request, "reference": "Q-2207/3 Ä"})
    assert plain["reference"] is None
    assert named == {**plain, "reference": "Q-2207/3 Ä"}
    refused = client.post("/v1/enquiries", json={**request, "reference": "two\nlines"})
    assert refused.status_code == 422
    assert refused.json()["errors"][0] == {
        "pointer": "/reference",
        "detail": "not one line of text",
        "accepted": "text without line breaks and other control characters",
        "code": "not_a_line",
        "parameters": {},
        "message": "Reference must be one line of text.",
    }


def test_quantities_are_quoted_side_by_side_as_one_by_one() -> None:
    rates = {"currency": "EUR", "material": {"amount": 90.0, "per": "kg"}}
    request = {**example("answer_enquiry", "swivel_proposed"), "rates": rates, "parts": ["blank"]}
    request.pop("pieces", None)
    found = ask("enquiries", {**request, "quantity_breaks": [10, 3, 500]})
    assert [row["pieces"] for row in found["quantity_breaks"]] == [10, 3, 500]
    for row in found["quantity_breaks"]:
        alone = ask("enquiries", {**request, "pieces": row["pieces"]})
        assert row == {**alone["blank"]["allocation"], "cost": alone["blank"]["cost"]} == alone["quantity_breaks"][0]
        assert row["cost"]["per_piece"] == pytest.approx(row["cost"]["total"] / row["pieces"])
    assert found["blank"]["allocation"]["pieces"] == 10
    assert ask("enquiries", request)["quantity_breaks"][0]["pieces"] == 1


@pytest.mark.parametrize(
    ("fields", "pointer"),
    [
        ({"quantity_breaks": [5, 5]}, "/quantity_breaks"),
        ({"quantity_breaks": [0, 5]}, "/quantity_breaks/0"),
        ({"quantity_breaks": ["x"]}, "/quantity_breaks/0"),
        ({"quantity_breaks": []}, "/quantity_breaks"),
        ({"detail": "summary", "parts": ["wear"]}, "/parts"),
        ({"detail": "verdict", "working": True}, "/working"),
        ({"parts": ["price"]}, "/parts/0"),
        (
            {"axial_width": {"value": 9, "unit": "mm"}, "gland": {"seal_width": {"value": 8, "unit": "mm"}}},
            "/axial_width",
        ),
    ],
)
def test_what_contradicts_itself_is_refused_where_it_stands(fields: dict[str, Any], pointer: str) -> None:
    response = client.post("/v1/enquiries", json={**example("answer_enquiry", "swivel_proposed"), **fields})
    assert response.status_code == 422
    assert [item["pointer"] for item in response.json()["errors"]] == [pointer]
    assert response.json()["errors"][0]["accepted"]


DESIGNS: dict[str, dict[str, Any]] = {
    "garter in a flange": {"family": "flexible_lip", "lip_tip": "upturned_with_garter", "retention": "clamped_flange"},
    "coil and O-ring": {"family": "energized_lip", "energizer": "canted_coil", "heel": "extended"},
    "V in a flange": {"family": "energized_lip", "energizer": "cantilever_v", "retention": "clamped_flange"},
    "garter in a case": {"family": "flexible_lip", "lip_tip": "upturned_with_garter", "retention": "press_fit_case"},
}


def stated(field: str, value: Any) -> Any:
    """Return a supplied value in the form in which a request states it."""
    if field == "/gland/o_ring":
        return {"kind": "as568", "dash": int(value.removeprefix("AS568-"))}
    if field.endswith("_tolerance"):
        return {"kind": "class", "name": value}
    if field.rpartition("/")[2] in {"body_diameter", "throat_diameter"} or field in {
        "/gland/groove/diameter", "/gland/groove/width", "/gland/case/outer_diameter",
    }:  # fmt: skip
        return {"nominal": value}
    return value


@pytest.mark.parametrize("design", DESIGNS.values(), ids=DESIGNS)
def test_every_pointer_to_be_given_in_is_taken_there(design: dict[str, Any]) -> None:
    request: dict[str, Any] = json.loads(json.dumps(example("answer_enquiry", "bakery_mixer")))
    request["design"] = {"compound": "ptfe_polyimide", **design}
    first = ask("enquiries", request)
    assert first["unanswered"] == []
    for item in first["assumptions"]:
        *outer, last = item["field"].strip("/").split("/")
        here = request
        for name in outer:
            here = here.setdefault(name, {})
        here[last] = stated(item["field"], item["value"])
    again = ask("enquiries", request)
    assert again["unanswered"] == []
    assert [item["field"] for item in again["assumptions"]] == []
    # written in other digits, the same seal
    assert again["dimensions"]["lip_thickness"] == {
        **first["dimensions"]["lip_thickness"], "origin": "stated", "rule": None,
    }  # fmt: skip
    assert [name for name, item in again["dimensions"].items() if item and item.get("rule")] == []


@pytest.mark.parametrize("design", DESIGNS.values(), ids=DESIGNS)
def test_dimensions_are_those_of_the_single_operations(design: dict[str, Any]) -> None:
    request = {**example("answer_enquiry", "bakery_mixer"), "design": {"compound": "ptfe_polyimide", **design}}
    found = ask("enquiries", request)
    sizes, gland, rules = found["dimensions"], found["gland"], {i["field"]: i["rule"] for i in found["assumptions"]}
    for name, part in (("shaft_diameter", "shaft"), ("bore_diameter", "bore"), ("body_diameter", "body")):
        for end in ("nominal", "minimum", "maximum", "tolerance_class"):
            assert sizes[name][end] == gland[part][end]
    assert sizes["axial_width"]["nominal"] == gland["seal_width"]
    # the part ends before the wall of a case; the tip of a free lip may stand out of its body a little, more is noted
    wall = gland["press_fit"]["wall_thickness"]["value"] if gland["press_fit"] else 0.0
    more = found["blank"]["finished"]["axial_width"]["value"] - (gland["seal_width"]["value"] - wall)
    assert more > -1e-9
    noted = any("stands out of its face" in note for note in found["blank"]["notes"])
    assert noted or more < 0.5 * sizes["lip_thickness"]["nominal"]["value"]
    assert sizes["lip_bore"]["nominal"] == found["blank"]["finished"]["inner_diameter"]
    assert sizes["shaft_diameter"]["origin"] == "stated"
    for name in ("lip_thickness", "lip_length", "interference", "contact_width"):
        assert sizes[name]["given_in"] == f"/design/{name}"
        assert (sizes[name]["origin"], sizes[name]["rule"]) == ("rules", rules[f"/design/{name}"])
    held = {"o_ring": "o_ring", "press_fit_case": "case", "clamped_flange": "clamp"}
    retention = found["design"]["retention"]
    assert [name for name in held.values() if sizes[name] is not None] == [held[retention]]
    if sizes["o_ring"] is not None:
        assert sizes["o_ring"]["dash"] == gland["o_ring"]["dash"]
        for name in ("inner_diameter", "section", "groove_diameter", "groove_width"):
            for end in ("nominal", "minimum", "maximum"):
                assert sizes["o_ring"][name][end] == gland["o_ring"][name][end]
            assert sizes["o_ring"][name]["rule"] == "gland.o_ring_choice"
    kind = sizes["energizer"]["kind"]
    assert {item["given_in"] for item in sizes["energizer"]["numbers"]} == {
        field for field in rules if field.startswith(f"/design/{kind}/")
    }
    assert sizes["energizer"]["alloy"] is not None


def test_a_stated_width_is_that_of_seal_gland_and_blank() -> None:
    request = example("answer_enquiry", "bakery_mixer") | {"axial_width": {"value": 9.5, "unit": "mm"}}
    found = ask("enquiries", request)
    assert found["gland"]["seal_width"] == found["blank"]["finished"]["axial_width"] == {"value": 9.5, "unit": "mm"}
    assert found["dimensions"]["axial_width"]["origin"] == "stated"


def test_less_detail_says_the_same_of_what_it_says() -> None:
    request = example("answer_enquiry", "swivel_proposed")
    request.pop("working", None)
    full = ask("enquiries", request)
    parts = ("selection", "check", "gland", "thermal_fit", "friction", "wear", "blank")
    summary = ask("enquiries", {**request, "detail": "summary"})
    assert summary == {**full, "detail": "summary", **dict.fromkeys(parts)}
    some = ask("enquiries", {**request, "parts": ["wear", "blank"]})
    assert some == {**full, **{name: None for name in parts if name not in {"wear", "blank"}}}
    verdict = ask("enquiries", {**request, "detail": "verdict"})
    notice = verdict.pop("notice")
    assert "autions" in notice
    assert verdict == {name: full[name] for name in verdict} | {"detail": "verdict"}
    sizes = [len(json.dumps(answer)) for answer in (verdict, summary, full)]
    assert sizes[0] * 4 < sizes[1] < sizes[2] / 3


@pytest.mark.parametrize("fields", [{"detail": "verdict"}, {"detail": "summary"}, {"parts": ["blank"]}], ids=str)
def test_an_answer_of_less_detail_is_rechecked(fields: dict[str, Any]) -> None:
    request = {**example("answer_enquiry", "swivel_proposed"), **fields}
    stored = ask("enquiries", request)
    ask_again = {"operation": "answer_enquiry", "stored_request": request, "stored_result": stored}
    found = ask("rechecks", ask_again)
    assert found["same"]
    assert found["fingerprint_matches"]
    lean = ask("rechecks", {**ask_again, "detail": "differences"})
    assert lean == {**found, "result": None}
    turned = ask("rechecks", {**ask_again, "stored_result": {**stored, "verdict": "fail"}, "detail": "differences"})
    assert not turned["same"]
    assert turned["differences"] == [{"pointer": "/verdict", "before": "fail", "after": stored["verdict"]}]
