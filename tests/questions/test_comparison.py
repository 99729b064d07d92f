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
from glandwise.engine import fingerprint
from glandwise.operations import OPERATIONS, RecheckRequest
from glandwise.review import comparison
from glandwise.rules import compare
from glandwise.rules.loader import RuleStore, today

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
    assert "compound: no compound of this name in the rule set" in found["cases"][0]["fault"]


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


def test_all_but_what_judges_rules_and_rechecks_can_be_rechecked() -> None:
    known = set(get_args(RecheckRequest.model_fields["operation"].annotation))
    single = {"compare_rule_sets", "audit_rule_set", "review_rule_set", "recheck_result", "calibrate_rules"}
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
    model = OPERATIONS["check_envelope"].request.model_validate(body["stored_request"])
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


# ------------------------------------------------------------------------------------------------ dates and exercise

BASE = RuleStore().trees["baseline"]


def day_of(years: int) -> str:
    return f"{today().year + years}-01-01"


def pressures(*entries: tuple[float, str]) -> dict[str, Any]:
    history = [{**datum(value, "psi"), "valid_from": day} for value, day in entries]
    return {"designs": {"capacities": {"pressure_flexible_lip": {"limit": history}}}}


def found_on(found: dict[str, Any]) -> dict[str, tuple[str, str]]:
    return {case["case_id"]: (case["outcome"], case["as_of"]) for case in found["cases"]}


def test_the_sets_are_compared_on_every_date_from_the_first_on() -> None:
    patch = pressures((40.0, "2026-02-01"), (60.0, "2027-02-01"), (45.0, "2028-02-01"), (50.0, "2029-02-01"))
    found = ask(patch, from_date="2026-03-01")
    assert found["dates"] == ["2026-03-01", "2027-02-01", "2028-02-01", "2029-02-01"]
    assert [(c["before"]["value"], c["after"]["value"], c["as_of"]) for c in found["changes"]] == [
        (50, 40, "2026-03-01"), (50, 60, "2027-02-01"), (50, 45, "2028-02-01"), (50, 50, "2029-02-01"),
    ]  # fmt: skip
    assert found_on(found)["quote-2"] == ("worse", "2026-03-01")
    later = ask(patch, from_date="2027-03-01")
    assert later["dates"] == ["2027-03-01", "2028-02-01", "2029-02-01"]
    assert found_on(later)["quote-2"] == ("worse", "2028-02-01")
    assert ask(patch, from_date="2026-03-01")["stamp"] == found["stamp"]
    assert later["stamp"]["fingerprint"] != found["stamp"]["fingerprint"]


def test_a_case_is_told_by_the_date_on_which_it_stands_worst() -> None:
    # 45 psi: a caution at 48, a failure at 44; the later date says more
    patch = pressures((48.0, "2026-02-01"), (44.0, "2027-02-01"), (47.0, "2028-02-01"))
    found = ask(patch, from_date="2026-03-01")
    case = next(item for item in found["cases"] if item["case_id"] == "quote-2")
    assert (case["verdict_after"], case["as_of"]) == ("fail", "2027-02-01")
    (pressure,) = case["criteria"]
    assert (pressure["status_after"], pressure["as_of"]) == ("fail", "2027-02-01")
    assert pressure["utilization_after"] == pytest.approx(45.0 / 44.0)
    assert pressure["caused_by"] == [PRESSURE]
    by_date = {change["as_of"]: change["cases"] for change in found["changes"]}
    assert by_date["2027-02-01"] > 0


def test_without_a_first_date_today_is_it() -> None:
    found = ask({}, from_date=None)
    assert found["dates"] == [found["from_date"]] == [today().isoformat()]


def test_dates_that_are_asked_for_are_looked_at_besides() -> None:
    patch = pressures((40.0, "2026-02-01"), (50.0, "2026-03-01"))
    named = {"kind": "name", "name": "baseline"}
    assert ask(patch, from_date="2026-04-01")["verdict"] == "caution"  # nothing was judged by what differs
    found = ask(patch, from_date="2026-04-01", base={**named, "as_of": "2026-02-15"})
    assert found["dates"] == ["2026-02-15", "2026-04-01"]
    assert found_on(found)["quote-2"] == ("worse", "2026-02-15")


@pytest.mark.parametrize("field", ["from_date", "as_of"])
@pytest.mark.parametrize("day", ["1899-12-31", "2126-01-01"])
def test_a_date_that_cannot_be_meant_is_refused(field: str, day: str) -> None:
    request = example("compare_rule_sets", "lower_rated_pressure")
    (request if field == "from_date" else request["base"])[field] = day
    response = client.post("/v1/rule-set-comparisons", json=request)
    assert response.status_code == 422
    (error,) = response.json()["errors"]
    assert error["pointer"] == ("/from_date" if field == "from_date" else "/base/as_of")


def test_a_set_that_is_not_in_force_yet_judges_nothing() -> None:
    found = ask({"rule_set": {"valid_from": day_of(1)}}, from_date=None)
    assert found["dates"] == [today().isoformat(), day_of(1)]
    assert found["counts"]["refused"] == 3
    assert f"in force from {day_of(1)} only" in found["cases"][0]["fault"]
    assert "rule_set.valid_from" in {change["key"] for change in found["changes"]}


def test_what_differs_in_the_past_only_is_a_change() -> None:
    tree = json.loads(json.dumps(copy.deepcopy(BASE.tree), default=str))
    limit = tree["designs"]["capacities"]["pressure_flexible_lip"]["limit"]
    tree["designs"]["capacities"]["pressure_flexible_lip"]["limit"] = [
        {**limit, "value": 20.0, "valid_from": "2026-01-01"}, {**limit, "valid_from": "2026-02-01"},
    ]  # fmt: skip
    later = copy.deepcopy(tree)
    later["designs"]["capacities"]["pressure_flexible_lip"]["limit"][0]["value"] = 30.0
    base, other = (compare.whole(BASE, compare.from_json(item)) for item in (tree, later))
    sets = comparison.pair(base, other, today())
    assert [(item.change.key, item.as_of) for item in sets.changes] == [(PRESSURE, None)]


EXERCISE: list[tuple[dict[str, Any], bool]] = [
    (pressures((49.9, "2026-02-01")), True),
    (pressures((50.0, "2026-02-01")), False),  # another date, the same value
    ({"compounds": {"ptfe_carbon_graphite_25": {"wear": {"oil": datum(4e-7, "mm3/N/m")}}}}, True),
    # all three cases run in oil
    ({"compounds": {"ptfe_carbon_graphite_25": {"wear": {"aqueous": datum(4e-7, "mm3/N/m")}}}}, False),
    ({"compounds": {"ptfe_glass_15": {"poisson_ratio": datum(0.45, "1")}}}, False),
    ({"compounds": {"ptfe_carbon_graphite_25": {"poisson_ratio": datum(0.45, "1")}}}, True),
    ({"criteria": {"pressure": {"caution_at": datum(0.7, "1")}}}, True),
    ({"criteria": {"pressure": {"caution_at": datum(0.95, "1")}}}, False),  # no case stands between
]


@pytest.mark.parametrize(("patch", "read"), EXERCISE)
def test_a_changed_value_that_no_criterion_hangs_on_is_told(patch: dict[str, Any], read: bool) -> None:
    found = ask(patch)
    (change,) = found["changes"]
    assert change["exercised"] is read
    if not read:
        assert found["verdict"] == "caution"
        assert "(1 not exercised)" in found["summary"]
        assert found["counts"]["same"] == 3


def test_source_and_evidence_alone_are_changes() -> None:
    limit = BASE.tree["designs"]["capacities"]["pressure_flexible_lip"]["limit"]
    other = {**limit, "evidence": "house_estimate", "valid_from": "2026-02-01"}
    found = ask(
        {"designs": {"capacities": {"pressure_flexible_lip": {"limit": {**other, "valid_from": "2026-02-01"}}}}}
    )
    (change,) = found["changes"]
    assert (change["exercised"], "evidence" in change["fields"]) == (False, True)
    assert found["same_version"]
    assert found["verdict"] == "caution"
    assert not ask({"rule_set": {"version": "other"}, **pressures((40.0, "2026-02-01"))})["same_version"]


def test_a_compound_that_a_case_needs_is_exercised_when_it_goes() -> None:
    found = ask({"compounds": {"ptfe_carbon_graphite_25": None}, "changes": {"fill_with_carbon_graphite": None}})
    told = {change["key"]: change["exercised"] for change in found["changes"]}
    assert told["compounds.ptfe_carbon_graphite_25"] is True
    assert told["changes.fill_with_carbon_graphite"] is False


HOUSE = {"name": "house", "version": "1", "title": "T", "description": "Invented.", "extends": "corp"}
CORP = {**HOUSE, "name": "corp", "extends": "baseline"}


def whole(*parents: dict[str, Any], **files: Any) -> Any:
    request = {
        **example("compare_rule_sets", "lower_rated_pressure"),
        "candidate": {"kind": "whole", "rule_set": {"rule_set": HOUSE, **files}, "parents": list(parents)},
    }
    return client.post("/v1/rule-set-comparisons", json=request)


def test_a_set_is_sent_with_those_that_it_extends() -> None:
    response = whole({"rule_set": CORP, **limit("pressure_flexible_lip", 40.0, "psi")})
    assert response.status_code == 200, response.text
    assert [change["key"] for change in response.json()["changes"]] == [PRESSURE]
    assert response.json()["candidate"]["name"] == "house"


@pytest.mark.parametrize(
    ("parents", "pointer"),
    [
        ([], "/candidate/rule_set/rule_set/extends"),
        ([{"rule_set": {**CORP, "extends": "house"}}], "/candidate/parents/0/rule_set/extends"),
        ([{"rule_set": CORP}, {"rule_set": CORP}], "/candidate/parents/1/rule_set/name"),
        ([{"rule_set": CORP}, {"rule_set": {**CORP, "name": "other"}}], "/candidate/parents/1/rule_set/name"),
        ([{"rule_set": {**CORP, "name": "baseline"}}], "/candidate/parents/0/rule_set/name"),
        ([{"rule_set": CORP, "fluids": {"steam": {"phase": "gas"}}}], "/candidate/parents/0/fluids/steam/phase"),
        ([{"rule_set": CORP, **pressures((40.0, "1066-01-01"))}],
         "/candidate/parents/0/designs/capacities/pressure_flexible_lip/limit/0/valid_from"),
    ],
)  # fmt: skip
def test_a_chain_that_does_not_hold_is_refused_with_its_place(parents: list[dict[str, Any]], pointer: str) -> None:
    response = whole(*parents)
    assert response.status_code == 422
    assert response.json()["errors"][0]["pointer"] == pointer
