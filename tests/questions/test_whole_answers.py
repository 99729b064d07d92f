"""Comparisons of whole answers: what counts as a change of an answer, and which changes of rules are behind it."""

from __future__ import annotations

import itertools
import json
from collections import Counter
from datetime import date
from typing import Any

import pytest
from glandwise.contract.comparison import ComparedCase, ComparisonThresholds, RuleSetComparisonRequest
from glandwise.engine import Engine
from glandwise.operations import OPERATIONS
from glandwise.review import comparison, corpus_job
from glandwise.review.answers import OPERATIONS as COMPARED
from glandwise.review.answers import Asker, Facts, all_turns, case_of_row
from glandwise.review.told import Told
from glandwise.rules import compare
from glandwise.rules.loader import RuleStore, RuleTree, today
from pydantic import ValidationError

from tests.questions import support
from tests.questions.test_comparison import datum, limit

BASE = RuleStore().trees["baseline"]
ENGINE = Engine(RuleStore(), "baseline")
USUAL = ComparisonThresholds()
COMPOUND = "ptfe_carbon_graphite_25"
RATED = "designs.capacities.pressure_flexible_lip.limit"


def quote(name: str, *, pressure: float = 20.0, compound: str = COMPOUND, **design: Any) -> dict[str, Any]:
    """An invented quote of a flexible lip on a 60 mm shaft."""
    return {
        "case_id": name,
        "duty": {
            "shaft_diameter": {"value": 60.0, "unit": "mm"},
            "motion": {"kind": "rotation", "rotational_speed": {"value": 300.0, "unit": "rpm"}},
            "pressure": {"value": pressure, "unit": "psi"},
            "temperature": {"normal": {"value": 45.0, "unit": "degC"}},
            "fluid": "mineral_oil_gear",
            "contaminants": "clean",
            "runout": {"value": 0.03, "unit": "mm"},
            "offset": {"value": 0.03, "unit": "mm"},
            "shaft": {"hardness": {"value": 60.0, "unit": "HRC"}, "roughness": {"value": 0.2, "unit": "um"},
                      "machining_lead": "none"},
        },
        "design": {"family": "flexible_lip", "compound": compound, "retention": "clamped_flange", "second_lip": "none",
                   **design},
    }  # fmt: skip


def ask(cases: list[dict[str, Any]], patch: dict[str, Any], operations: list[str], **more: Any) -> dict[str, Any]:
    """Compare the baseline with a patch of it; the answer is one that the contract takes."""
    request = {
        "base": {"kind": "name", "name": "baseline"}, "candidate": {"kind": "patch", "patch": patch}, "cases": cases,
        "operations": operations, **more,
    }  # fmt: skip
    row = OPERATIONS["compare_rule_sets"]
    answer = row.answer(RuleSetComparisonRequest.model_validate(request), ENGINE)
    row.result.model_validate(json.loads(json.dumps(answer)))
    return answer


def of_compound(**values: Any) -> dict[str, Any]:
    return {"compounds": {COMPOUND: values}}


# --------------------------------------------------------------------------------------------- what counts as a change


def facts(verdict: str = "pass", **more: Any) -> Facts:
    return Facts(**{"verdict": verdict, "evidence": "published", "criteria": {}, "numbers": {}, "design": None, **more})


REFUSED = facts(fault="nobody knows")


@pytest.mark.parametrize(
    ("operation", "before", "after", "told"),
    [
        ("check_gland", facts(), facts(), []),
        ("check_gland", facts("pass"), facts("fail"), [("verdict", None, "worse")]),
        ("check_gland", facts("fail"), facts("caution"), [("verdict", None, "better")]),
        ("check_gland", facts(), REFUSED, [("verdict", None, "worse")]),
        ("check_gland", REFUSED, facts("fail"), [("verdict", None, "worse")]),
        ("check_gland", REFUSED, facts("pass"), [("verdict", None, "better")]),
        ("check_gland", facts(criteria={"clamp": ("pass", 0.5)}), facts(criteria={"clamp": ("caution", 0.9)}),
         [("criterion", "clamp", "worse")]),
        # what failed before and fails after is not worse, whatever else fails
        ("check_gland", facts("fail", criteria={"clamp": ("pass", 0.5)}),
         facts("fail", criteria={"clamp": ("fail", 1.5)}), [("criterion", "clamp", "changed")]),
        ("check_gland", facts(criteria={"clamp": ("pass", 0.5)}), facts(criteria={"clamp": ("pass", 0.59)}), []),
        ("check_gland", facts(criteria={"clamp": ("pass", 0.5)}), facts(criteria={"clamp": ("pass", 0.61)}),
         [("margin", "clamp", "worse")]),
        ("check_gland", facts(), facts(criteria={"clamp": ("fail", 1.5)}), [("criterion", "clamp", "worse")]),
        ("check_gland", facts(), facts(evidence="house_estimate"), [("evidence", None, "worse")]),
        ("check_gland", facts(), facts(evidence="standard"), [("evidence", None, "better")]),
        ("estimate_wear", facts(numbers={"/life/nominal": (1000.0, "h")}), facts(numbers={"/life/nominal": (899.0, "h")}),
         [("life", "life.nominal", "worse")]),
        ("estimate_wear", facts(numbers={"/life/nominal": (1000.0, "h")}), facts(numbers={"/life/nominal": (901.0, "h")}), []),
        ("estimate_wear", facts(numbers={"/life/nominal": (1000.0, "h")}), facts(numbers={"/life/nominal": (1200.0, "h")}),
         [("life", "life.nominal", "better")]),
        ("estimate_friction", facts(numbers={"/levels/nominal/torque": (1.0, "N.m")}),
         facts(numbers={"/levels/nominal/torque": (1.2, "N.m")}), [("torque", "levels.nominal.torque", "worse")]),
        # a temperature counts from absolute zero; a list is told once
        ("estimate_friction", facts(numbers={"/limit": (10.0, "degC")}), facts(numbers={"/limit": (12.0, "degC")}), []),
        ("estimate_blank", facts(numbers={"/a/0/mass": (1.0, "kg"), "/a/1/mass": (1.0, "kg")}),
         facts(numbers={"/a/0/mass": (1.1, "kg"), "/a/1/mass": (1.5, "kg")}), [("quantity", "a.mass", "changed")]),
        ("estimate_blank", facts(numbers={"/mass": (1.0, "kg")}), facts(), [("quantity", "mass", "changed")]),
        ("select_design", facts(design="{}"), facts(design='{"heel":"extended"}'), [("design", None, "changed")]),
    ],
)  # fmt: skip
def test_what_counts_as_a_change(operation: str, before: Facts, after: Facts, told: list[Any]) -> None:
    assert [turn.about for turn in all_turns(operation, before, after, USUAL)] == told


def test_of_a_list_the_entry_that_differs_most_is_told() -> None:
    one = facts(numbers={"/a/0/mass": (1.0, "kg"), "/a/1/mass": (1.0, "kg")})
    two = facts(numbers={"/a/0/mass": (1.1, "kg"), "/a/1/mass": (1.5, "kg")})
    (turn,) = all_turns("estimate_blank", one, two, USUAL)
    assert (turn.value_before, turn.value_after, turn.unit) == (1.0, 1.5, "kg")


def test_a_threshold_of_the_request_counts() -> None:
    one, two = (facts(numbers={"/life/nominal": (value, "h")}) for value in (1000.0, 899.0))
    assert not all_turns("estimate_wear", one, two, ComparisonThresholds(life_change=0.2))


# --------------------------------------------------------------------------------------------------------- whole answers


@pytest.mark.parametrize("operation", ["estimate_wear", "answer_enquiry"])
def test_the_life_that_was_wanted_is_asked_for(operation: str) -> None:
    """Beside the duty of a quote as in it: it is the same question."""
    wanted = {"value": 2e5, "unit": "h"}
    beside, inside, without = {**quote("a"), "target_life": wanted}, quote("a"), quote("a")
    inside["duty"]["target_life"] = wanted
    cases = [ComparedCase.model_validate(stated) for stated in (beside, inside, without)]
    asker = Asker(BASE.newest().data, BASE.newest(), [operation])
    one, two, three = (asker.ask(case, [operation])[operation] for case in cases)
    assert one == two
    assert one.verdict != three.verdict


def test_what_no_envelope_shows_is_told_by_the_operation_that_shows_it() -> None:
    """A density moves no criterion; the mass on a quote moves with it."""
    cases = [quote("quote-1"), quote("quote-2", compound="ptfe_glass_15")]
    patch = of_compound(density=datum(2.4, "g/cm3"))
    held = BASE.newest().data.compounds[COMPOUND].density.si
    envelope = ask(cases, patch, ["check_envelope"])
    assert envelope["counts"]["same"] == 2
    assert not envelope["changes"][0]["exercised"]
    whole = ask(cases, patch, ["estimate_blank"])
    assert whole["counts"] == {"same": 1, "shifted": 1, "better": 0, "worse": 0, "refused": 0}
    assert whole["by_operation"]["estimate_blank"]["shifted"] == 1
    assert whole["changes"][0]["exercised"]
    assert whole["changes"][0]["cases"] == 1
    (case,) = whole["cases"]
    (answer,) = case["answers"]
    assert (case["case_id"], answer["operation"], answer["outcome"]) == ("quote-1", "estimate_blank", "shifted")
    density = next(item for item in answer["transitions"] if item["subject"] == "density")
    assert density["value_after"] / density["value_before"] == pytest.approx(2400.0 / held)
    key = f"compounds.{COMPOUND}.density"
    assert (density["alone"], density["caused_by"], density["jointly"]) == ([key], [key], [])
    told = {item["subject"]: item["cases"] for item in whole["transitions"] if item["operation"] == "estimate_blank"}
    assert told["finished.mass"] == 1
    assert case["trips"] == []


def test_another_proposed_design_trips_the_gate_of_designs() -> None:
    """A compound that asks for a harder shaft than there is comes first no more; the design that was quoted stands."""
    rules = BASE.newest()
    best = Asker(rules.data, rules, ["select_design"]).ask(case(quote("quote-1")), ["select_design"])
    proposed = json.loads(str(best["select_design"].design))
    harder = {"compounds": {proposed["compound"]: {"shaft_hardness_min": datum(68.0, "HRC")}}}
    other = next(name for name in rules.data.compounds if name not in (proposed["compound"], COMPOUND))
    found = ask([quote("quote-1", compound=other)], harder, ["select_design"])
    (transition,) = [item for item in found["transitions"] if item["kind"] == "design"]
    assert (transition["operation"], transition["effect"], transition["cases"]) == ("select_design", "changed", 1)
    assert transition["before"] is transition["after"] is None
    (told,) = found["cases"]
    assert "design" in told["trips"]
    turn = next(item for item in told["answers"][0]["transitions"] if item["kind"] == "design")
    assert json.loads(turn["before"]) == proposed != json.loads(turn["after"])
    assert turn["alone"] == [f"compounds.{proposed['compound']}.shaft_hardness_min"]
    assert found["trips"]["design"] == 1


def case(document: dict[str, Any]) -> ComparedCase:
    return ComparedCase.model_validate(document)


def test_the_whole_enquiry_tells_its_parts() -> None:
    found = ask([quote("quote-1")], of_compound(density=datum(2.4, "g/cm3")), [*COMPARED])
    assert list(found["by_operation"]) == list(COMPARED)
    (told,) = found["cases"]
    assert "estimate_blank" in {item["operation"] for item in told["answers"]}


def test_the_evidence_before_is_told() -> None:
    """The very same number, of which no more is claimed than that the house believes it."""
    held = BASE.newest().data.compounds["ptfe_unfilled"].density
    assert held.evidence == "published"
    weaker = {"compounds": {"ptfe_unfilled": {"density": datum(held.si / 1000.0, "g/cm3")}}}
    found = ask([quote("quote-1", compound="ptfe_unfilled")], weaker, ["estimate_blank"])
    (change,) = found["changes"]
    assert (change["evidence_before"], change["evidence"]) == ("published", "house_estimate")


def test_a_case_that_fails_before_and_after_is_not_worse() -> None:
    """90 psi on a lip rated 50 psi fails already; 45 psi fails once the rating is 40 psi."""
    cases = [quote("failing", pressure=90.0), quote("turning", pressure=45.0)]
    found = ask(cases, limit("pressure_flexible_lip", 40.0, "psi"), ["check_envelope"])
    assert {item["case_id"]: item["outcome"] for item in found["cases"]} == {"failing": "shifted", "turning": "worse"}
    assert {item["case_id"]: item["trips"] for item in found["cases"]} == {
        "failing": [], "turning": ["verdict", "design", "worse"],
    }  # fmt: skip
    assert found["trips"] == {"verdict": 1, "design": 1, "worse": 1}
    first = found["transitions"][0]
    assert (first["kind"], first["effect"], first["after"], first["cases"]) == ("verdict", "worse", "fail", 1)
    margin = next(item for item in found["transitions"] if item["effect"] == "changed")
    assert (margin["kind"], margin["subject"], margin["cases"]) == ("margin", "pressure", 1)


def test_a_margin_lost_trips_the_gate_from_the_threshold_on() -> None:
    cases = [quote("quote-1", pressure=20.0)]  # from 0.4 to 0.5 of the rating
    lower = limit("pressure_flexible_lip", 39.0, "psi")
    assert ask(cases, lower, ["check_envelope"])["trips"]["worse"] == 1
    assert ask(cases, lower, ["check_envelope"], thresholds={"margin_loss": 0.2})["trips"]["worse"] == 0


def test_too_many_cases_are_refused() -> None:
    cases = [quote(f"quote-{index}") for index in range(comparison.MOST_WHOLE + 1)]
    with pytest.raises(ValidationError, match="too many to answer each whole"):
        ask(cases, of_compound(density=datum(2.4, "g/cm3")), ["estimate_blank"])


# ------------------------------------------------------------------------------------------- rows of a file as requests


def test_a_flat_row_is_the_case_that_it_was_written_from() -> None:
    from glandwise.case import flat

    tried = 0
    for seed in range(40):
        request = support.random_request(seed)
        request["design"].pop("compound_properties", None)
        request["duty"].pop("bore", None)
        stated = case({"case_id": "row", "duty": request["duty"], "design": request["design"]})
        row = flat.flatten("Q-1", stated.duty, stated.design)
        again = case_of_row(row)
        assert again.model_dump(exclude_unset=True) == stated.model_dump(exclude_unset=True) or again == stated
        tried += 1
    assert tried == 40


# --------------------------------------------------------------------------------------------------- by brute force

CHEAP = ("estimate_friction", "estimate_wear", "estimate_blank")


def merged(*patches: dict[str, Any]) -> dict[str, Any]:
    result: dict[str, Any] = {}
    for patch in patches:
        stack = [(result, patch)]
        while stack:
            into, some = stack.pop()
            for name, value in some.items():
                if isinstance(value, dict) and isinstance(into.get(name), dict):
                    stack.append((into[name], value))
                else:
                    into[name] = json.loads(json.dumps(value))
    return result


def subsets(count: int) -> list[tuple[int, ...]]:
    return [some for size in range(count + 1) for some in itertools.combinations(range(count), size)]


def built(patches: list[dict[str, Any]]) -> dict[tuple[int, ...], RuleTree]:
    """Every rule set that some of the changes make, loaded and checked as any is."""
    return {
        some: compare.patched(BASE, compare.from_json(merged(*(patches[index] for index in some)))) if some else BASE
        for some in subsets(len(patches))
    }


ENVELOPE_CHANGES = [
    limit("pressure_flexible_lip", 44.0, "psi"),
    {"criteria": {"pressure": {"caution_at": datum(0.7, "1")}}},
    of_compound(temperature_max=datum(220.0, "degF")),
    {"compounds": {COMPOUND: {"shaft_hardness_min": datum(62.0, "HRC")}}},
]


def signed(before: Any, after: Any) -> dict[str, Any]:
    """Return what happens to each criterion of a case: a turn with its ends, or the sign of a moved margin."""
    result: dict[str, Any] = {}
    for name, (status, used) in after.items():
        held, was = before[name]
        if status != held:
            result[name] = "worse" if status > held else "better"
        elif used is not None and was is not None and abs(used - was) > 1e-6 * max(abs(was), 1.0):
            result[name] = used > was
    return result


def test_the_causes_of_envelopes_are_those_of_brute_force() -> None:
    """All sixteen rule sets that four changes make are loaded and asked; what each criterion is due to follows from them."""
    cases = [quote(f"quote-{psi}", pressure=psi) for psi in (20.0, 32.0, 36.0, 43.0, 45.0, 60.0)]
    sets = built(ENVELOPE_CHANGES)
    full = tuple(range(len(ENVELOPE_CHANGES)))
    order = {name: code for code, name in enumerate(("pass", "not_evaluated", "caution", "fail"))}

    def judged(tree: RuleTree) -> list[dict[str, Any]]:
        engine = comparison_engine(tree)
        row = OPERATIONS["check_envelope"]
        found = []
        for item in cases:
            answer = row.answer(row.request.model_validate({"duty": item["duty"], "design": item["design"]}), engine)
            found.append({one["id"]: (order[one["status"]], one["utilization"]) for one in answer["criteria"]})
        return found

    answers = {some: judged(tree) for some, tree in sets.items()}
    day = comparison.pair(BASE, sets[full], today()).days[-1]
    keys = {
        item.change.key: index
        for item in day.changes
        for index in full
        if _holds(ENVELOPE_CHANGES[index], item.change.path)
    }
    assert len(keys) == len(full)
    found = ask(cases, merged(*ENVELOPE_CHANGES), ["check_envelope"], include_unchanged=True)
    told, joint = 0, 0
    alone_count: Counter[int] = Counter()
    for place, item in enumerate(found["cases"]):
        before = answers[()][place]
        effect = {some: signed(before, answers[some][place]) for some in answers}
        for index in full:
            alone_count[index] += bool(effect[index,])
        assert {one["id"] for one in item["criteria"]} == set(effect[full])
        for one in item["criteria"]:
            what = effect[full][one["id"]]
            having = [some for some in subsets(4) if effect[some].get(one["id"]) == what]
            alone = {some[0] for some in having if len(some) == 1}
            assert {keys[key] for key in one["alone"]} == alone
            undone = {index for index in full if one["id"] not in effect[tuple(x for x in full if x != index)]}
            assert {keys[key] for key in one["caused_by"]} == undone
            least = min(map(len, having))
            smallest = set() if alone else {some for some in having if len(some) == least}
            assert {tuple(sorted(keys[key] for key in some)) for some in one["jointly"]} == smallest
            told, joint = told + 1, joint + bool(smallest)
    assert told > 8
    assert joint > 0
    assert {keys[change["key"]]: change["cases"] for change in found["changes"]} == {
        index: alone_count[index] for index in full
    }


def _holds(patch: Any, path: tuple[str, ...]) -> bool:
    for part in path:
        if not isinstance(patch, dict) or part not in patch:
            return False
        patch = patch[part]
    return True


def comparison_engine(tree: RuleTree) -> Engine:
    from glandwise.review.answers import Fixed

    rules = tree.at(today())
    return Fixed(rules.data, rules)


def test_the_causes_of_answers_are_those_of_brute_force() -> None:
    """The same of whole answers: of friction, wear and blank, over three changes."""
    patches = [
        of_compound(density=datum(2.4, "g/cm3")),
        of_compound(temperature_max=datum(215.0, "degF")),
        {"blank": {"reject_share": datum(0.3, "1")}},
    ]
    cases = [{**quote("quote-1"), "pieces": 40}, quote("quote-2", compound="ptfe_glass_15")]
    sets = built(patches)
    full = (0, 1, 2)
    answers = {
        some: [Asker(tree.at(today()).data, tree.at(today()), CHEAP).ask(case(item), CHEAP) for item in cases]
        for some, tree in sets.items()
    }
    day = comparison.pair(BASE, sets[full], today()).days[-1]
    keys = {
        item.change.key: index for item in day.changes for index in full if _holds(patches[index], item.change.path)
    }
    found = ask(cases, merged(*patches), [*CHEAP], include_unchanged=True)
    told = 0
    for place, item in enumerate(found["cases"]):
        for answer in item["answers"]:
            name = answer["operation"]
            before = answers[()][place][name]
            about = {
                some: {turn.about for turn in all_turns(name, before, answers[some][place][name], USUAL)}
                for some in sets
            }
            assert {(one["kind"], one["subject"], one["effect"]) for one in answer["transitions"]} == about[full]
            for one in answer["transitions"]:
                what = one["kind"], one["subject"], one["effect"]
                having = [some for some in subsets(3) if what in about[some]]
                alone = {some[0] for some in having if len(some) == 1}
                assert {keys[key] for key in one["alone"]} == alone
                undone = {i for i in full if what[:2] not in {x[:2] for x in about[tuple(y for y in full if y != i)]}}
                assert {keys[key] for key in one["caused_by"]} == undone
                least = min(map(len, having))
                smallest = set() if alone else {some for some in having if len(some) == least}
                assert {tuple(sorted(keys[key] for key in some)) for some in one["jointly"]} == smallest
                told += 1
    assert told > 5


def test_counts_of_transitions_are_those_of_the_rows(tmp_path: Any) -> None:
    """What is counted in arrays is what the rows tell, one by one."""
    from tests.benchmarks.corpus import invented

    other = compare.patched(BASE, compare.from_json(merged(*ENVELOPE_CHANGES)))
    sets = comparison.pair(BASE, other, today())
    asked = corpus_job.asked_of(["check_envelope", "estimate_blank"])
    found = comparison.compare_table(sets, invented(120, 5), True, asked)
    totals = comparison.Totals()
    totals.add(found)
    rows = Told.of(found).rows()
    counted: Counter[Any] = Counter()
    rank = {"pass": 0, "not_evaluated": 1, "caution": 2, "fail": 3}
    for row in rows:
        failing = row["verdict_before"] == row["verdict_after"] == "fail"
        if row["verdict_before"] != row["verdict_after"]:
            counted["check_envelope", "verdict", None, row["verdict_before"], row["verdict_after"]] += 1
        for one in row["criteria"]:
            a, b = one["status_before"], one["status_after"]
            if a != b:
                counted["check_envelope", "criterion", one["id"], a, b] += 1
                effect = "changed" if failing else "worse" if rank[b] > rank[a] else "better"
                assert any(
                    t.subject == one["id"] and (t.before, t.after, t.effect) == (a, b, effect)
                    for t in totals.transitions
                )
        for answer in row["answers"]:
            for turn in answer["transitions"]:
                counted[answer["operation"], turn["kind"], turn["subject"], turn["before"], turn["after"]] += 1
    held: Counter[Any] = Counter()
    for transition, count in totals.transitions.items():
        if transition.operation != "check_envelope" or transition.kind != "margin":
            held[transition.operation, transition.kind, transition.subject, transition.before, transition.after] += (
                count
            )
    assert held == counted
    for gate in ("verdict", "design", "worse"):
        assert totals.trips[gate] == sum(gate in row["trips"] for row in rows)
    assert isinstance(sets.since, date)
