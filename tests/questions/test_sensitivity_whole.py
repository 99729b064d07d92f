"""What decides whole answers, against comparisons of whole rule sets with one value changed."""

from __future__ import annotations

import copy
import json
from collections import Counter
from functools import cache
from typing import Any

import pytest
from glandwise.contract.comparison import ComparedCase
from glandwise.review import comparison, corpus_job, sensitivity, whole, whole_steps
from glandwise.review.steps import Value, steps_of, values_of
from glandwise.rules import compare
from glandwise.rules.loader import RuleError, RuleStore, RuleTree

from tests.questions.test_whole_answers import COMPOUND, quote

pytestmark = pytest.mark.slow
BASE = RuleStore().trees["baseline"]
RULES = BASE.newest()
CONTENT = compare.as_of(BASE, RULES.as_of)
VALUES = list(values_of(RULES.data, CONTENT))
STEP = 0.2
OPERATIONS = ("estimate_wear", "select_design", "estimate_blank")
KEYS = (
    "aims.weights.margin", "aims.effort.energizer_canted_coil", "running.wear.lip_allowance_share", "blank.face_allowance",
    f"compounds.{COMPOUND}.wear.oil", "compounds.ptfe_bronze_60.thermal_conductivity", "audit.max_jump",
)  # fmt: skip
"""Of a choice, of a life, of a blank, of a compound that is quoted and of one that is not, and what no answer reads."""


def case(name: str, life: float, turns: float, pressure: float, **more: Any) -> dict[str, Any]:
    """An invented quote with a life that is wanted, at a speed."""
    stated = quote(name, pressure=pressure, **more)
    stated["duty"]["motion"]["rotational_speed"]["value"] = turns
    stated["duty"]["target_life"] = {"value": life, "unit": "h"}
    return {**stated, "pieces": 20}


# two designs are nearly as good for each of the first two duties
QUOTES = (
    case("slow", 340_000.0, 60.0, 20.0),
    case("fast", 6000.0, 900.0, 60.0, compound="ptfe_glass_15"),
    case("usual", 90_000.0, 300.0, 20.0, retention="o_ring"),
)
CASES = [ComparedCase.model_validate(stated) for stated in QUOTES]
NAMES = [stated["case_id"] for stated in QUOTES]


def value(key: str) -> Value:
    return next(one for one in VALUES if one.key == key)


def examined(keys: Any = KEYS, operations: Any = OPERATIONS, **more: Any) -> dict[str, Any]:
    bounds = whole_steps.Bounds(tuple(operations), **more)
    return whole_steps.examine(
        BASE, RULES, CASES, NAMES, [one for one in VALUES if one.under(keys)], bounds, by="share", step=STEP
    )


@cache
def as_it_stands() -> RuleTree:
    """The rules without a change, as content that was sent."""
    return RuleTree(CONTENT, (), BASE.criteria)


def by_comparison(one: Value) -> dict[str, Any]:
    """Compare the rules with each changed value put in, and count over both steps."""
    rows: dict[str, set[Any]] = {
        name: set() for name in ("moved", "designs", "worse", "better", "verdicts", "statuses")
    }
    life = [0.0] * len(CASES)
    for stated in steps_of(one, "share", STEP):
        tree = copy.deepcopy(dict(CONTENT))
        place: Any = tree
        for part in one.path[:-1]:
            place = place[part]
        place[one.path[-1]] = dict(stated)
        sets = comparison.pair(as_it_stands(), RuleTree(tree, (), BASE.criteria), RULES.as_of)
        found = whole.compare_cases(sets, dict(enumerate(CASES)), corpus_job.asked_of(OPERATIONS), attribute=False)
        for row, differences in found.differences.items():
            for item in differences:
                rows["moved"].add(row)
                if item.design:
                    rows["designs"].add(row)
                for told in item.turns:
                    if told.turn.kind == "verdict":
                        rows["verdicts"].add((item.operation, row))
                        rows[told.turn.effect].add(row)
                    if told.turn.kind == "criterion":
                        rows["statuses"].add((item.operation, row))
                if item.operation == "estimate_wear":
                    a, b = (facts.numbers["/life/nominal"][0] for facts in (item.before, item.after))
                    life[row] = max(life[row], abs(b / a - 1.0))
    return {
        **{name: len(rows[name]) for name in ("moved", "designs", "worse", "better")},
        "turned": len(rows["designs"] | {row for _, row in rows["verdicts"]}),
        "verdicts": dict(Counter(name for name, _ in rows["verdicts"])),
        "statuses": dict(Counter(name for name, _ in rows["statuses"])),
        "life": pytest.approx(sum(life) / len(CASES) / STEP),
    }


@pytest.fixture(scope="module")
def found() -> dict[str, Any]:
    return examined()


@pytest.mark.parametrize("key", KEYS)
def test_a_value_decides_what_comparisons_say_it_does(key: str, found: dict[str, Any]) -> None:
    """Only answers that may read a value are asked for again; all others stand as they stood."""
    told = next((item for item in found["values"] if item["key"] == key), None)
    try:
        wanted = by_comparison(value(key))
    except RuleError:
        pytest.skip("nobody would believe such a rule set")
    if told is None:
        assert not wanted["moved"]
        named = [*found["without_effect"], *(item["key"] for item in found["unread"]), *found["not_stepped"]]
        assert any(key == name or key.startswith(f"{name}.") for name in named)
    else:
        assert {name: told[name] for name in wanted} == wanted
        assert wanted["moved"] <= told["read"] <= len(CASES)
        assert len(told["turned_cases"]) == wanted["turned"]


def test_each_kind_is_among_them(found: dict[str, Any]) -> None:
    """What is held against comparisons is not always nothing."""
    values = found["values"]
    assert any(one["designs"] for one in values)
    assert any(one["verdicts"].get("estimate_wear") for one in values)
    assert any(one["moved"] and not one["turned"] for one in values)
    assert {"key": "audit", "values": 1} in found["unread"]
    turned = [one["turned"] for one in values]
    assert turned == sorted(turned, reverse=True)
    assert found["left_out"]["values"] == 0
    assert found["answers"]["given"] <= found["answers"]["limit"]


def test_what_the_limit_leaves_out_is_said() -> None:
    """A value goes to all of its cases or to none; nothing is lost on the way."""
    keys, operations = ("blank", "compounds.ptfe_glass_15.density", f"compounds.{COMPOUND}.density"), ["estimate_blank"]
    every, few = examined(keys, operations), examined(keys, operations, answers=20)
    assert every["left_out"] == {"values": 0, "evidence": {}, "entries": []}
    assert 0 < few["answers"]["given"] <= 20 < every["answers"]["given"] <= every["answers"]["limit"]
    told = {one["key"]: one for one in every["values"]}
    assert few["values"]
    assert all(one == told[one["key"]] for one in few["values"])
    left = few["left_out"]
    assert left["values"] == sum(left["evidence"].values()) == sum(item["values"] for item in left["entries"]) > 0
    unread = sum(item["values"] for item in few["unread"])
    known = unread + len(few["values"]) + len(few["without_effect"]) + len(few["not_stepped"])
    assert known + left["values"] == few["values_looked_at"]
    # the weakest evidence comes first
    assert {one["evidence"] for one in few["values"]} == {"house_estimate"}


def test_values_can_be_limited_to_an_evidence() -> None:
    found = examined(("blank", "compounds.ptfe_glass_15.density"), ["estimate_blank"], evidence=("published",))
    held = [one for one in VALUES if one.under(("blank", "compounds.ptfe_glass_15.density"))]
    assert found["values_looked_at"] == sum(one.stated["evidence"] == "published" for one in held)
    assert found["evidence"] == ["published"]


def test_processes_do_not_matter() -> None:
    keys = ("blank", f"compounds.{COMPOUND}.density")
    assert examined(keys, ["estimate_blank"]) == examined(keys, ["estimate_blank"], workers=2)


def test_cases_are_spread_evenly() -> None:
    assert whole_steps.spread(5, 8) == [0, 1, 2, 3, 4]
    assert whole_steps.spread(100, 1) == [0]
    assert whole_steps.spread(101, 5) == [0, 25, 50, 75, 100]


def test_a_range_is_walked_and_what_states_none_is_named() -> None:
    some = [one for one in VALUES if one.under(("blank",))]
    bounds = whole_steps.Bounds(("estimate_blank",))
    found = whole_steps.examine(BASE, RULES, CASES, NAMES, some, bounds, by="range", step=STEP)
    without = {one.key for one in some if not steps_of(one, "range", STEP)}
    assert without <= set(found["not_stepped"])
    assert found["values_looked_at"] == len(some) - len(without)


def test_a_corpus_is_answered_as_its_lines_state_it(tmp_path: Any) -> None:
    """A line says more than a table holds: how many pieces, which life."""
    path = tmp_path / "quotes.ndjson"
    path.write_text("".join(json.dumps(stated) + "\n" for stated in QUOTES), encoding="utf-8")
    parts = sensitivity.parts([path])
    keys = ("running.wear.lip_allowance_share", "blank.face_allowance")
    found = sensitivity.examine(
        BASE, [part.table for part in parts], documents=[part.documents for part in parts], only=keys, step=STEP,
        samples=64, most=0, whole=whole_steps.Bounds(("estimate_wear", "estimate_blank")),
    )["whole"]  # fmt: skip
    alone = examined(keys, ["estimate_wear", "estimate_blank"])
    assert found["summary"].startswith("3 of 3 cases answered whole under 2 values, each changed by 20 % up and down:")
    assert found["of_cases"] == 3
    assert {name: found[name] for name in alone} == alone
