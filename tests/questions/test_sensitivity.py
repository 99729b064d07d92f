"""What decides a corpus of cases, against every case judged again by whole rule sets with one number changed."""

from __future__ import annotations

import copy
from datetime import date
from typing import Any

import numpy as np
import pytest
from glandwise.questions.envelope import evaluation as batch
from glandwise.review import sensitivity as review
from glandwise.review.judged import SAME, Table, outcomes
from glandwise.review.steps import Value, steps_of, values_of
from glandwise.rules.loader import RuleError, RuleStore, RuleTree

from tests.benchmarks.corpus import invented

BASE = RuleStore().trees["baseline"]
COUNT = 48
TABLE = invented(COUNT, 3)
CASES = review.read(BASE, [TABLE])
VALUES = list(values_of(CASES.data, CASES.tree))
STEP = 0.05


def of_many_kinds() -> list[Value]:
    """Values of every file that some case reads, of each kind one that a case of the corpus could read, and a few besides."""
    names = {TABLE["compound"][0], TABLE["fluid"][0]}
    some: dict[str, Value] = {}
    for value in VALUES:
        file, entry, *rest = value.path
        if file in {"designs", "running", "sizing", "criteria"}:
            some[value.key] = value
        elif file in {"compounds", "fluids"} and entry in names:
            some[".".join((file, *rest))] = value
    return list(some.values())


def changed(value: Value, stated: Any) -> RuleTree:
    """Return the whole rule set with one value changed, and with no history of it."""
    tree = copy.deepcopy(CASES.tree)
    place = tree
    for part in value.path[:-1]:
        place = place[part]
    place[value.path[-1]] = dict(stated)
    return RuleTree(tree, (), BASE.criteria)


def by_brute_force(value: Value, steps: list[Any]) -> dict[str, Any]:
    """Judge every case by each of the changed sets, whole."""
    before = Table(TABLE).under(BASE.newest().data).judged
    moved, worse, better, statuses = (np.zeros(COUNT, dtype=bool) for _ in range(4))
    for stated in steps:
        after = Table(TABLE).under(changed(value, stated).at(CASES.rules.as_of).data).judged.aligned(before.criteria)
        codes = outcomes(before.criteria, (before.status, before.utilization), (after.status, after.utilization))
        moved |= (codes != SAME).any(axis=0)
        worse |= after.verdict > before.verdict
        better |= after.verdict < before.verdict
        statuses |= (after.status != before.status).any(axis=0)
    return {
        "moved": int(moved.sum()), "worse": int(worse.sum()), "better": int(better.sum()),
        "turned": int((worse | better).sum()), "statuses": bool(statuses.any()),
    }  # fmt: skip


KINDS = of_many_kinds()
LOOKED_AT = KINDS[:: len(KINDS) // 11]
STEPPED = [value for value in LOOKED_AT if all(CASES.stepped([(value, value.times(f))]) for f in (1 - STEP, 1 + STEP))]


@pytest.mark.parametrize("value", STEPPED, ids=lambda value: value.key)
def test_a_step_does_what_whole_rule_sets_do(value: Value) -> None:
    """Only cases that read a value are judged again; the others stand as they stood."""
    try:
        told = by_brute_force(value, steps_of(value, "share", STEP))
    except RuleError:
        pytest.skip("nobody would believe such a rule set")
    found = review.moved_by(CASES, value, "share", STEP)
    counts = {name: getattr(found, name) for name in ("moved", "worse", "better", "turned")}
    assert counts == {name: told[name] for name in counts}
    assert (found.statuses > 0) == told["statuses"]
    assert found.moved <= found.read <= COUNT


def test_some_of_them_are_read_and_move_something() -> None:
    """What is compared with brute force is not always nothing."""
    moved = [review.moved_by(CASES, value, "share", STEP) for value in STEPPED]
    assert sum(bool(one.moved) for one in moved) > 3
    assert any(one.read < COUNT for one in moved)


def test_a_value_whose_use_is_proportional_moves_one_per_cent_for_each() -> None:
    """A hardness that a compound asks for is the demand of a criterion: each per cent of it is one of the use."""
    value = next(v for v in VALUES if v.key == f"compounds.{TABLE['compound'][0]}.shaft_hardness_min")
    found = review.moved_by(CASES, value, "share", 0.01)
    assert set(found.criteria) == {"shaft_hardness"}
    assert found.greatest == pytest.approx(1.0, rel=1e-6)


def test_a_range_is_walked_to_its_ends() -> None:
    value = next(v for v in VALUES if v.stated.get("low") not in (None, v.stated.get("value")))
    low, *high = steps_of(value, "range", STEP)
    assert low["value"] == value.stated["low"]
    assert [new["value"] for new in high] == [value.stated["high"]] * (value.stated["high"] != value.stated["value"])
    plain = next(v for v in VALUES if "low" not in v.stated and "high" not in v.stated)
    assert steps_of(plain, "range", STEP) == []


def test_a_temperature_counts_from_absolute_zero() -> None:
    value = next(v for v in VALUES if v.key == f"compounds.{TABLE['compound'][0]}.temperature_max")
    assert value.stated["unit"] == "degF"
    assert value.times(1.01)["value"] == pytest.approx((value.stated["value"] + 459.67) * 1.01 - 459.67)


def test_what_no_case_reads_is_found_together_as_by_itself() -> None:
    """Values of a few entries, some of them of no case: group by group as one by one."""
    fluids = list(CASES.data.fluids)
    used = TABLE["fluid"][0]
    unused = next(name for name in fluids if name not in TABLE["fluid"])
    some = [value for value in VALUES if value.path[:2] in {("fluids", used), ("fluids", unused), ("aims", "life")}]
    some += [value for value in VALUES if value.path[0] == "aims"]
    may, unread = review.divided(CASES, some)
    together = {value.key for group in unread for value in group.values}
    assert {group.key for group in unread} >= {f"fluids.{unused}", "aims"}
    assert together.isdisjoint(value.key for value in may)
    assert together | {value.key for value in may} == {value.key for value in some}
    for value in some:
        data = CASES.stepped([(value, value.times(1.01))])
        if data is not None and value.path[0] == "fluids":
            read = any(places.size for places in CASES.touched(data))
            assert read == (value.key not in together), value.key


def test_suggested_cases_see_what_they_say() -> None:
    """They are read as they are written, and what they reach is then read, governs, or is there."""
    unused = next(name for name in CASES.data.fluids if name not in TABLE["fluid"])
    found = review.examine(
        BASE, [TABLE], by="share", only=["designs.capacities.vacuum_flexible_lip", f"fluids.{TABLE['fluid'][0]}", "aims"],
        most=12, samples=256,
    )  # fmt: skip
    assert found["cases"] == COUNT
    assert found["refused"] == 0
    assert [item["key"] for item in found["beyond"]] == ["aims"]
    assert unused in found["missing"]["fluid"]
    rows = [item["case"] for item in found["suggestions"]]
    assert rows
    headings = dict.fromkeys(name for row in rows for name in row)
    again = review.read(BASE, [{name: [row.get(name) for row in rows] for name in headings}])
    (reading,) = again.readings
    assert len(reading.flat.index) == len(rows), reading.flat.faults
    options = review._options(again)
    for place, item in enumerate(found["suggestions"]):
        assert batch.STATUSES[reading.evaluation.verdict[place]] == item["verdict"]
        for reached in item["reaches"]:
            kind, _, name = reached.partition(" ")
            if kind == "criterion":
                assert reading.evaluation.criteria[reading.evaluation.governing[place]] == name
            elif name:
                assert options[kind][1][0][place] == options[kind][0].index(name)
    governed = {item["id"]: item["governs"] for item in found["criteria"]}
    assert sum(governed.values()) == COUNT


def test_values_are_ranked_and_boundaries_told() -> None:
    found = review.examine(BASE, [TABLE], step=STEP, within=0.1, only=["designs"], most=0, samples=64)
    turned = [value["turned"] for value in found["values"]]
    assert turned == sorted(turned, reverse=True)
    assert found["suggestions"] == []
    evaluation = CASES.readings[0].evaluation
    close = set()
    for name, used in evaluation.utilization.items():
        at = CASES.data.criteria[name].caution_at.si
        for row, one in enumerate(used.tolist()):
            if abs(one - 1.0) <= 0.1 or (0.0 < at < 1.0 and abs(one / at - 1.0) <= 0.1):
                close.add(row)
    assert close
    assert found["cases_near"] == len(close)
    assert {item["case_id"] for item in found["near"]} == {TABLE["case_id"][row] for row in close}
    away = [abs(item["distance"]) for item in found["near"]]
    assert away == sorted(away)


def test_blocks_do_not_matter() -> None:
    halves = [{name: cells[part] for name, cells in TABLE.items()} for part in (slice(0, 17), slice(17, None))]
    whole, parts = (
        review.examine(BASE, tables, step=STEP, only=["designs.capacities"], most=3, samples=64)
        for tables in ([TABLE], halves)
    )
    for one, two in zip(whole["values"], parts["values"], strict=True):
        assert one.pop("shift") == pytest.approx(two.pop("shift"))
        assert one.pop("greatest") == pytest.approx(two.pop("greatest"))
    assert whole == parts


def test_what_cannot_be_looked_at_is_said() -> None:
    with pytest.raises(review.Blind, match=r"there is no case to judge$"):
        review.examine(BASE, [])
    lost = {name: [*cells[:1]] for name, cells in TABLE.items()}
    lost["fluid"] = ["nectar"]
    with pytest.raises(review.Blind, match=r"none of 1 case can be judged; the first: .*fluid"):
        review.examine(BASE, [lost])
    with pytest.raises(review.Blind, match=r"nothing\.here: no number of the rule set"):
        review.examine(BASE, [TABLE], only=["nothing.here"])


def test_a_date_chooses_the_values() -> None:
    day = date(2026, 1, 1)
    assert review.read(BASE, [TABLE], day).rules.as_of == day
