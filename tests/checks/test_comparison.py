"""What a change of rules does to cases: known effects, attributed to the value that caused them; rechecks."""

from __future__ import annotations

import copy
import json
from datetime import date
from importlib.resources import files
from typing import Any, get_args

import pytest
from fastapi.testclient import TestClient
from glandwise.app import create_app
from glandwise.checks.engine import fingerprint
from glandwise.checks.registry import OPERATIONS
from glandwise.contract.recheck import StoredOperation

client = TestClient(create_app())
EXAMPLES = files("glandwise.contract").joinpath("examples")


def example(operation: str, name: str) -> dict[str, Any]:
    document = json.loads(EXAMPLES.joinpath(operation, f"{name}.json").read_text(encoding="utf-8"))
    request: dict[str, Any] = document["request"]
    return request


def datum(value: float, unit: str) -> dict[str, Any]:
    return {
        "value": value,
        "unit": unit,
        "source": "house-estimate",
        "evidence": "house_estimate",
        "valid_from": "2026-06-01",
    }


def limit(name: str, value: float, unit: str) -> dict[str, Any]:
    return {"designs": {"capacities": {name: {"limit": datum(value, unit)}}}}


def merge(*patches: dict[str, Any]) -> dict[str, Any]:
    result: dict[str, Any] = {}
    for patch in patches:
        for name, content in patch["designs"]["capacities"].items():
            result.setdefault("designs", {}).setdefault("capacities", {})[name] = content
    return result


def ask(patch: dict[str, Any], **more: Any) -> dict[str, Any]:
    request = {
        **example("compare_rule_sets", "lower_rated_pressure"),
        "candidate": {"kind": "patch", "patch": patch},
        **more,
    }
    response = client.post("/v1/rule-set-comparisons", json=request)
    assert response.status_code == 200, response.text
    answer: dict[str, Any] = response.json()
    return answer


PRESSURE = "designs.capacities.pressure_flexible_lip.limit"
SPEED = "designs.capacities.surface_speed_flexible_lip.limit"


def test_nothing_changes_without_a_change() -> None:
    found = ask({}, include_unchanged=True)
    assert found["verdict"] == "pass"
    assert found["changes"] == []
    assert found["counts"]["same"] == 3
    assert [case["outcome"] for case in found["cases"]] == ["same"] * 3


def test_a_known_effect_is_attributed_to_the_value_that_caused_it() -> None:
    found = ask(
        merge(limit("pressure_flexible_lip", 40.0, "psi"), limit("surface_speed_flexible_lip", 4000.0, "ft/min"))
    )
    assert {change["key"] for change in found["changes"]} == {PRESSURE, SPEED}
    by_case = {case["case_id"]: {item["id"]: item for item in case["criteria"]} for case in found["cases"]}
    assert by_case["quote-2"]["pressure"]["caused_by"] == [PRESSURE]
    assert by_case["quote-2"]["pressure"]["status_after"] == "fail"
    assert by_case["quote-2"]["surface_speed"]["caused_by"] == [SPEED]
    assert by_case["quote-2"]["surface_speed"]["outcome"] == "shifted"
    # 45 psi of 50 is 0.9, of 40 it is 1.125
    assert by_case["quote-2"]["pressure"]["margin_shift"] == pytest.approx(0.9 - 1.125)
    assert "quote-3" not in by_case, "an energized lip is not rated by either"
    assert found["counts"] == {"same": 1, "shifted": 1, "better": 0, "worse": 1, "refused": 0}
    assert found["by_family"]["energized_lip"]["same"] == 1
    assert found["by_criterion"]["pressure"]["worse"] == 1


def test_two_changes_that_cancel_out_leave_nothing_to_tell() -> None:
    factor = {"designs": {"capacities": {"half_again": {"criterion": "pressure", "title": "invented", "when":
              {"family": "flexible_lip"}, "factor": datum(0.5, "1")}}}}  # fmt: skip
    found = ask(merge(limit("pressure_flexible_lip", 100.0, "psi"), factor), include_unchanged=True)
    pressure = [item for case in found["cases"] for item in case["criteria"] if item["id"] == "pressure"]
    assert pressure == []


def test_raising_a_rating_makes_cases_better_and_trips_no_gate() -> None:
    found = ask(limit("pressure_flexible_lip", 60.0, "psi"))
    assert found["verdict"] == "caution"
    assert found["counts"]["worse"] == 0


def test_a_compound_taken_away_refuses_its_cases() -> None:
    found = ask({"compounds": {"ptfe_carbon_graphite_25": None}, "changes": {"fill_with_carbon_graphite": None}})
    assert found["counts"]["refused"] == 3
    assert found["verdict"] == "fail"
    assert "compound is not known" in found["cases"][0]["fault"]


def test_a_whole_set_is_compared_like_a_patch() -> None:
    from glandwise.rules.loader import RuleStore

    tree = json.loads(json.dumps(copy.deepcopy(RuleStore().trees["baseline"].tree), default=str))
    tree["designs"]["capacities"]["pressure_flexible_lip"]["limit"] = datum(40.0, "psi") | {"valid_from": "2026-01-01"}
    request = {**example("compare_rule_sets", "lower_rated_pressure"), "candidate": {"kind": "whole", "rule_set": tree}}
    whole = client.post("/v1/rule-set-comparisons", json=request)
    assert whole.status_code == 200, whole.text
    patched = ask(limit("pressure_flexible_lip", 40.0, "psi"))
    assert whole.json()["cases"] == patched["cases"]


def test_attribution_can_be_left_out() -> None:
    found = ask(limit("pressure_flexible_lip", 40.0, "psi"), attribute=False)
    assert all(item["caused_by"] == [] for case in found["cases"] for item in case["criteria"])


def test_own_properties_of_a_compound_are_refused() -> None:
    request = example("compare_rule_sets", "lower_rated_pressure")
    request["cases"][1]["design"]["compound_properties"] = {"density": {"value": 2.1, "unit": "g/cm3"}}
    response = client.post("/v1/rule-set-comparisons", json=request)
    assert response.status_code == 422
    assert response.json()["errors"][0]["pointer"] == "/cases/1/design/compound_properties"


def test_the_same_comparison_as_lines_table_and_page() -> None:
    request = example("compare_rule_sets", "lower_rated_pressure")
    plain = client.post("/v1/rule-set-comparisons", json=request).json()

    def as_media(media: str) -> str:
        answer = client.post("/v1/rule-set-comparisons", json=request, headers={"Accept": media})
        assert answer.status_code == 200
        assert answer.headers["content-type"].startswith(media)
        return answer.text

    assert [json.loads(line) for line in as_media("application/x-ndjson").splitlines()] == plain["cases"]
    for media in ("text/csv", "text/html"):
        text = as_media(media)
        for case in plain["cases"]:
            assert case["case_id"] in text, media


# -------------------------------------------------------------------------------------------------------------- recheck


def stored() -> dict[str, Any]:
    request = example("check_envelope", "high_pressure_swivel")
    answer = client.post("/v1/envelope-checks", json=request).json()
    return {"operation": "check_envelope", "stored_request": request, "stored_result": answer}


def recheck(body: dict[str, Any]) -> dict[str, Any]:
    response = client.post("/v1/rechecks", json=body)
    assert response.status_code == 200, response.text
    answer: dict[str, Any] = response.json()
    return answer


def test_an_answer_of_today_holds() -> None:
    found = recheck(stored())
    assert found["same"]
    assert found["fingerprint_matches"]
    assert found["differences"] == []
    assert not found["engine_changed"]
    assert not found["rules_changed"]
    assert found["rules_of_then_held"]


@pytest.mark.parametrize(
    ("operation", "name", "path"),
    [
        ("answer_enquiry", "swivel_proposed", "enquiries"),
        ("map_operation", "rotary_union", "operating-maps"),
        ("assess_spectrum", "agitator_drive", "duty-spectra"),
        ("estimate_blank", "swivel_batch_with_rates", "blank-estimates"),
    ],
)
def test_every_calculation_on_a_case_can_be_verified(operation: str, name: str, path: str) -> None:
    request = example(operation, name)
    answer = client.post(f"/v1/{path}", json=request).json()
    body = {"operation": operation, "stored_request": request, "stored_result": answer}
    found = recheck(body)
    assert found["same"], found["differences"][:5]
    assert found["fingerprint_matches"]
    assert found["result"] == answer
    answer["summary"] = "another"
    assert [item["pointer"] for item in recheck(body)["differences"]] == ["/summary"]


def test_all_but_comparisons_audits_and_rechecks_can_be_rechecked() -> None:
    known = set(get_args(StoredOperation))
    assert known == set(OPERATIONS)
    single = {"compare_rule_sets", "audit_rule_set", "recheck_result"}
    posts = {
        operation["operationId"]
        for methods in client.get("/openapi.json").json()["paths"].values()
        for method, operation in methods.items()
        if method == "post"
    }
    assert posts - single == known


def test_the_stamps_of_the_parts_of_an_enquiry_are_no_difference() -> None:
    request = example("answer_enquiry", "swivel_proposed")
    answer = client.post("/v1/enquiries", json=request).json()
    for result in (answer, answer["check"], answer["friction"]):
        result["stamp"] = {**result["stamp"], "engine": "0.0.1", "fingerprint": "0" * 64}
    found = recheck({"operation": "answer_enquiry", "stored_request": request, "stored_result": answer})
    assert (found["same"], found["engine_changed"]) == (True, True)


def test_another_engine_is_named_as_the_reason() -> None:
    body = stored()
    body["stored_result"]["stamp"]["engine"] = "0.0.1"
    body["stored_result"]["stamp"]["fingerprint"] = "0" * 64
    body["stored_result"]["verdict"] = "pass"
    found = recheck(body)
    assert not found["same"]
    assert found["engine_changed"]
    assert found["verdict_before"] == "pass"
    assert found["differences"][0]["pointer"] == "/verdict"
    assert "because the engine changed" in found["summary"]


def test_a_tampered_answer_is_called_that() -> None:
    body = stored()
    body["stored_result"]["criteria"][0]["utilization"] = 0.001
    found = recheck(body)
    assert not found["same"]
    assert found["fingerprint_matches"]
    assert "not what was exchanged" in found["summary"]


@pytest.mark.parametrize("kept", [("verdict", "stamp"), ("stamp",), ("verdict", "summary", "criteria", "stamp")])
@pytest.mark.parametrize("whole_stamp", [True, False])
@pytest.mark.parametrize("pinned", [True, False])
def test_only_what_was_stored_is_compared(kept: tuple[str, ...], whole_stamp: bool, pinned: bool) -> None:
    body = stored()
    body["stored_result"] = {name: body["stored_result"][name] for name in kept}
    if not whole_stamp:
        body["stored_result"]["stamp"] = {"fingerprint": body["stored_result"]["stamp"]["fingerprint"]}
    if pinned and whole_stamp:
        body["pin_date"] = True
    found = recheck(body)
    assert (found["same"], found["differences"], found["summary"]) == (True, [], "The stored answer holds.")
    assert found["fingerprint_matches"]
    assert (found["engine_changed"], found["rules_changed"], found["rules_of_then_held"]) == (False, False, True)
    assert found["stamp_holds"] is (True if whole_stamp else None)
    assert found["verdict_before"] == ("caution" if "verdict" in kept else None)


def test_within_what_was_stored_only_what_is_there_is_compared() -> None:
    body = stored()
    criteria = [{"id": one["id"], "status": one["status"]} for one in body["stored_result"]["criteria"]]
    body["stored_result"]["criteria"] = criteria
    assert recheck(body)["same"]
    criteria[0]["status"] = "fail"
    body["stored_result"]["never_given"] = 1
    pointers = [item["pointer"] for item in recheck(body)["differences"]]
    assert sorted(pointers) == ["/criteria/0/status", "/never_given"]


def test_no_stored_verdict_is_no_turn() -> None:
    body = stored()
    body["stored_result"] = {"summary": "another", "stamp": body["stored_result"]["stamp"]}
    assert recheck(body)["summary"].startswith("1 stored value differs, though neither engine nor rules changed")
    body["stored_result"]["stamp"] = {"fingerprint": "0" * 64}
    found = recheck(body)
    assert "None" not in found["summary"]
    assert "the stored stamp does not tell" in found["summary"]
    assert (found["engine_changed"], found["rules_changed"], found["stamp_holds"]) == (None, None, None)


def test_a_stamp_alone_holds_only_by_its_fingerprint() -> None:
    body = stored()
    body["stored_result"] = {"stamp": {"fingerprint": "0" * 64}}
    found = recheck(body)
    assert (found["same"], found["difference_count"]) == (False, 0)
    assert found["summary"].startswith("Only a stamp was stored, and its fingerprint is another today")


@pytest.mark.parametrize("forged", [{"engine": "0.0.1"}, {"engine": "9.9.9"}, {"fingerprint": "0" * 64}])
def test_a_forged_stamp_is_noticed(forged: dict[str, Any]) -> None:
    """The fingerprint covers request, engine and rules, so none of them can be exchanged alone."""
    body = stored()
    body["stored_result"]["stamp"].update(forged)
    found = recheck(body)
    assert (found["same"], found["stamp_holds"], found["engine_changed"]) == (True, False, False)
    assert found["summary"].startswith("The stored answer holds. The stored stamp does not hold")


def test_a_forged_engine_is_noticed_when_the_rules_have_changed_as_well() -> None:
    """The fingerprint is recomputed under the rules that the stamp names, even where they are not held."""
    body = stored()
    stamp = body["stored_result"]["stamp"]
    stamp["rule_set"]["digest"] = "0" * 64
    model = OPERATIONS["check_envelope"].model.model_validate(body["stored_request"])
    day = date.fromisoformat(stamp["rule_set"]["as_of"])
    stamp["fingerprint"] = fingerprint("check_envelope", model, "0" * 64, day, stamp["engine"])
    found = recheck(body)
    assert (found["stamp_holds"], found["engine_changed"], found["rules_changed"]) == (True, False, True)
    assert found["summary"] == "The stored answer holds, though the rules changed."
    stamp["engine"] = "0.0.1"
    found = recheck(body)
    assert (found["stamp_holds"], found["engine_changed"], found["rules_changed"]) == (False, False, True)
    stamp["fingerprint"] = fingerprint("check_envelope", model, "0" * 64, day, "0.0.1")
    found = recheck(body)
    assert (found["stamp_holds"], found["engine_changed"], found["rules_changed"]) == (True, True, True)


def test_another_request_than_the_stamp_is_for_is_noticed() -> None:
    body = stored()
    body["stored_request"]["duty"]["pressure"]["value"] += 1
    found = recheck(body)
    assert not found["same"]
    assert found["stamp_holds"] is False
    assert "the stored request or stamp is not what was exchanged" in found["summary"]


def test_rules_that_are_not_held_any_more_are_said_to_be() -> None:
    body = stored()
    body["stored_result"]["stamp"]["rule_set"]["digest"] = "0" * 64
    body["stored_result"]["stamp"]["fingerprint"] = "0" * 64
    found = recheck(body)
    assert found["rules_changed"]
    assert not found["rules_of_then_held"]
    assert found["rule_changes"] == []


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"stored_result": {}}, "/stored_result/stamp"),
        ({"stored_result": {"stamp": {}}}, "/stored_result/stamp/fingerprint"),
        ({"stored_result": {"stamp": {"fingerprint": "abc"}}}, "/stored_result/stamp/fingerprint"),
        ({"stored_result": {"stamp": {"fingerprint": "0" * 64, "engine": 1}}}, "/stored_result/stamp/engine"),
        (
            {"stored_result": {"stamp": {"fingerprint": "0" * 64, "rule_set": {"name": "a", "digest": "b"}}}},
            "/stored_result/stamp/rule_set/as_of",
        ),
        ({"stored_result": {"stamp": {"fingerprint": "0" * 64}}, "pin_date": True}, "/stored_result/stamp/rule_set"),
        ({"stored_request": {"duty": {}}}, "/stored_request/duty/shaft_diameter"),
    ],
)
def test_what_cannot_be_rechecked_is_refused(change: dict[str, Any], pointer: str) -> None:
    response = client.post("/v1/rechecks", json={**stored(), **change})
    assert response.status_code == 422
    problem = response.json()
    assert problem["type"] == "/problems/out-of-domain"
    assert problem["errors"][0]["pointer"] == pointer
