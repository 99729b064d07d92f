"""Who answers for a rule set: approvals, versions that keep step, values to be looked at again, sources and evidence that moved."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import pytest
from glandwise.review import governance
from glandwise.rules import compare
from glandwise.rules.loader import RuleError, RuleStore, RuleTree, read_candidate

BASE = RuleStore().trees["baseline"]
DAY = date(2027, 3, 1)
LIMIT = "designs.capacities.pressure_flexible_lip.limit"


def value(number: float, day: str = "2026-02-01", evidence: str = "common_practice", more: str = "") -> str:
    source = evidence.replace("_", "-")
    return (
        f'{{ value = {number}, unit = "psi", source = "{source}", evidence = "{evidence}", valid_from = {day}{more} }}'
    )


def rated(*values: str) -> str:
    stated = values[0] if len(values) == 1 else f"[{', '.join(values)}]"
    return f"[capacities.pressure_flexible_lip]\nlimit = {stated}\n"


def folder(place: Path, name: str, version: str, extends: str = "baseline", more: str = "", **files: str) -> Path:
    found = place / name
    found.mkdir(parents=True)
    head = (
        f'name = "{name}"\nversion = "{version}"\ntitle = "T"\ndescription = "Invented."\nextends = "{extends}"\n{more}'
    )
    for file, text in {"rule_set": head, **files}.items():
        (found / f"{file}.toml").write_text(text, encoding="utf-8")
    return found


def house(place: Path, version: str = "1.0.0", more: str = "", **files: str) -> RuleTree:
    return read_candidate(folder(place, "house", version, more=more, **files), BASE)


def only(found: list[governance.Version]) -> governance.Version:
    (one,) = found
    return one


# ------------------------------------------------------------------------------------------------------------ versions


@pytest.mark.parametrize(
    ("before", "after", "step"),
    [
        ("1.2.3", "1.2.3", "none"), ("1.2.3", "1.2.4", "patch"), ("1.2.3", "1.3", "minor"), ("1.2.3", "2", "major"),
        ("2026.1", "2026.2", "minor"), ("1.2", "1.2.0", "none"), ("1.10", "1.9", "lowered"), ("spring", "summer", None),
        ("1.0", "spring", None), ("spring", "spring", "none"),
    ],
)  # fmt: skip
def test_the_part_of_a_version_that_was_raised(before: str, after: str, step: str | None) -> None:
    assert governance.raised(before, after) == step


REMARK = value(50.0, more=', note = "agreed"')
CHANGES: list[tuple[str, dict[str, Any], str]] = [
    ("nothing", {"designs": rated(value(50.0))}, "none"),
    ("a remark", {"designs": rated(REMARK)}, "patch"),
    ("a day of review", {"designs": rated(value(50.0, more=", review_by = 2027-01-01"))}, "patch"),
    ("evidence alone", {"designs": rated(value(50.0, evidence="house_estimate"))}, "patch"),
    ("a number", {"designs": rated(value(45.0))}, "minor"),
    ("a number ahead", {"designs": rated(value(50.0), value(45.0, "2028-01-01"))}, "minor"),
    ("a value that is the parent's again", {"designs": ""}, "minor"),
    ("a compound gone", {"designs": rated(value(50.0)), "more": 'remove = ["compounds.ptfe_mineral"]\n'}, "major"),
    ("an optional value gone", {"designs": rated(value(50.0)), "more": 'remove = ["compounds.ptfe_mineral.friction.dry"]\n'},
     "minor"),
    ("in force later", {"designs": rated(value(50.0)), "more": "valid_from = 2026-03-01\n"}, "major"),
]  # fmt: skip


@pytest.mark.parametrize(("what", "after", "needs"), CHANGES, ids=[what for what, _, _ in CHANGES])
def test_what_a_change_asks_of_the_version(what: str, after: dict[str, Any], needs: str, tmp_path: Path) -> None:
    before = house(tmp_path / "a", designs=rated(value(50.0)))
    for version, step in (("1.0.0", "none"), ("1.0.1", "patch"), ("1.1.0", "minor"), ("2.0.0", "major")):
        found = only(governance.versions(before, house(tmp_path / version, version, **after)))
        assert (found.needs, found.raised) == (needs, step)
        assert found.in_step == (governance.STEPS.index(step) >= governance.STEPS.index(needs))
        assert (found.fault() is None) == found.in_step
    lowered = only(governance.versions(before, house(tmp_path / "low", "0.9", **after)))
    assert not lowered.in_step
    assert "is lower" in str(lowered.fault())


def test_a_change_of_the_parent_asks_for_a_version_of_the_parent(tmp_path: Path) -> None:
    trees = []
    for place, rating in (("a", 50.0), ("b", 40.0)):
        folder(tmp_path / place, "corp", "1", designs=rated(value(rating)))
        trees.append(read_candidate(folder(tmp_path / place, "house", "7", "corp"), BASE))
    own, parent = governance.versions(*trees)
    assert (own.name, own.needs, own.in_step) == ("house", "none", True)
    assert (parent.name, parent.needs, parent.in_step, parent.changes) == ("corp", "minor", False, 1)
    # though what differs, differs in the set on top
    assert [change.key for change in compare.diff(trees[0].tree, trees[1].tree)] == [LIMIT]


def test_a_patch_belongs_to_the_set_that_it_is_laid_over(tmp_path: Path) -> None:
    number = {
        "value": 45.0,
        "unit": "psi",
        "source": "house-estimate",
        "evidence": "house_estimate",
        "valid_from": "2026-06-01",
    }
    patch = {"designs": {"capacities": {"pressure_flexible_lip": {"limit": number}}}}
    base = house(tmp_path)
    found = only(governance.versions(base, compare.patched(base, compare.from_json(patch))))
    assert (found.name, found.before, found.after, found.needs, found.in_step) == (
        "house",
        "1.0.0",
        "1.0.0",
        "minor",
        False,
    )
    patch["rule_set"] = {"version": "1.1"}
    assert only(governance.versions(base, compare.patched(base, compare.from_json(patch)))).in_step
    # a patch of what comes with the service is nobody's but the caller's
    assert only(governance.versions(BASE, compare.patched(BASE, compare.from_json(patch)))).name == "baseline"
    assert governance.versions(BASE, BASE) == []


# ----------------------------------------------------------------------------------------------------------- approvals


@pytest.mark.parametrize(
    ("more", "fault"),
    [
        ("", "nobody is named in approved_by"),
        ('approved_by = { who = "Owner", on = 2027-01-01, version = "0.9" }\n', "the approval is of version 0.9"),
        (
            'approved_by = { who = "Owner", on = 2027-03-02, version = "1.0.0" }\n',
            "the approval is dated ahead, 2027-03-02",
        ),
        ('approved_by = { who = "Owner", on = 2027-03-01, version = "1.0.0" }\n', None),
    ],
)
def test_an_approval_is_of_a_version_and_of_a_day(more: str, fault: str | None, tmp_path: Path) -> None:
    tree = house(tmp_path, more=more)
    assert only(governance.versions(BASE, tree)).unapproved(DAY) == fault
    told = governance.reviewed(BASE, tree, DAY)
    assert told["sets"][0]["approval_fault"] == fault
    assert told["verdict"] == ("pass" if fault is None else "caution")


def test_an_approval_is_not_inherited_and_no_difference_between_sets(tmp_path: Path) -> None:
    approved = 'approved_by = { who = "Owner", on = 2027-01-01, version = "1" }\n'
    folder(tmp_path, "corp", "1", more=approved)
    own, parent = governance.versions(BASE, read_candidate(folder(tmp_path, "house", "1", "corp"), BASE))
    assert own.unapproved(DAY) is not None
    assert parent.unapproved(DAY) is None
    one, two = house(tmp_path / "a"), house(tmp_path / "b", more=approved.replace('"1"', '"1.0.0"'))
    assert compare.diff(one.tree, two.tree) == []
    assert one.digest != two.digest


@pytest.mark.parametrize(
    ("more", "fault"),
    [
        ('approved_by = { who = "Owner", on = "2027-01-01", version = "1" }', "on.*accepted: a date without quotes"),
        ('approved_by = { who = "Owner", version = "1" }', "on"),
        ('approved_by = { who = " ", on = 2027-01-01, version = "1" }', "who"),
        ('approved_by = "Owner"', "approved_by"),
    ],
)
def test_an_approval_that_cannot_be_meant_is_refused(more: str, fault: str, tmp_path: Path) -> None:
    with pytest.raises(RuleError, match=fault):
        house(tmp_path, more=more + "\n")


# ------------------------------------------------------------------------------------------------------------- reviews


def test_values_are_due_by_their_day_or_by_their_age(tmp_path: Path) -> None:
    tree = house(
        tmp_path,
        designs=rated(value(50.0, "2026-02-01", "house_estimate"))
        + f"[capacities.pressure_flexible_lip_band]\nlimit = {value(120.0, more=', review_by = 2027-02-28')}\n",
    )
    band = LIMIT.replace("lip.", "lip_band.")
    stated = governance.due(tree, DAY, None, built_in=False)
    assert [(item.key, item.of, item.by, item.stated) for item in stated] == [(band, "house", date(2027, 2, 28), True)]
    aged = governance.due(tree, DAY, 365, built_in=False)
    assert [(item.key, item.by, item.stated) for item in aged] == [
        (LIMIT, date(2027, 2, 1), False), (band, date(2027, 2, 28), True),
    ]  # fmt: skip
    everything = governance.due(tree, DAY, 365, built_in=True)
    assert {item.of for item in everything} == {"house", "baseline"}
    assert len(everything) > 1000
    assert {item.value["evidence"] for item in everything if not item.stated} == {"house_estimate"}
    assert not any(item.key.startswith("bands.") for item in everything)


def test_overdue_is_the_day_after_and_soon_is_told_as_well(tmp_path: Path) -> None:
    tree = house(tmp_path, designs=rated(value(50.0, more=", review_by = 2027-03-01")))
    for day, overdue, told in (
        (date(2027, 2, 1), 0, 0), (date(2027, 2, 20), 0, 1), (date(2027, 3, 1), 0, 1), (date(2027, 3, 2), 1, 1),
    ):  # fmt: skip
        found = governance.reviewed(BASE, tree, day, within=10)
        assert (found["overdue"], len(found["reviews"])) == (overdue, told), day


def test_only_the_value_in_force_is_due(tmp_path: Path) -> None:
    history = rated(
        value(50.0, "2026-02-01", more=", review_by = 2026-12-31"),
        value(48.0, "2027-01-01", more=", review_by = 2027-12-31"),
    )
    tree = house(tmp_path, designs=history)
    assert [item.by for item in governance.due(tree, date(2026, 6, 1), None, built_in=False)] == [date(2026, 12, 31)]
    assert [item.by for item in governance.due(tree, DAY, None, built_in=False)] == [date(2027, 12, 31)]


@pytest.mark.parametrize(
    ("stated", "fault"),
    [
        (', review_by = "2027-01-01"', "review_by: is not a date"),
        (", review_by = 2026-01-31", "review_by: is before the value is in force; accepted: 2026-02-01 or later"),
        (", review_by = 2226-01-31", "too far from today"),
    ],
)
def test_a_day_of_review_that_cannot_be_meant_is_refused(stated: str, fault: str, tmp_path: Path) -> None:
    with pytest.raises(RuleError, match=fault):
        house(tmp_path, designs=rated(value(50.0, more=stated)))


def test_a_day_of_review_changes_no_answer(tmp_path: Path) -> None:
    one = house(tmp_path / "a", designs=rated(value(50.0)))
    two = house(tmp_path / "b", designs=rated(value(50.0, more=", review_by = 2027-01-01")))
    (change,) = compare.diff(compare.as_of(one, DAY), compare.as_of(two, DAY))
    assert (change.fields, change.affects_results) == (("review_by",), False)


# ------------------------------------------------------------------------------------------------- evidence and sources


def test_evidence_and_sources_are_counted_on_both_sides(tmp_path: Path) -> None:
    before = house(tmp_path / "a", "1", designs=rated(value(50.0, evidence="common_practice")))
    report = '[report-7]\ntext = "Test laboratory, report 7 (invented)"\nread = "read"\n'
    stated = value(50.0, evidence="published").replace('source = "published"', 'source = "report-7"')
    after = house(tmp_path / "b", "1.1", designs=rated(stated), sources=report)
    found = governance.reviewed(before, after, DAY)
    assert (found["stronger"], found["weaker"]) == (1, 0)
    back = governance.reviewed(after, before, DAY)
    assert (back["stronger"], back["weaker"], back["verdict"]) == (0, 1, "caution")
    counts = found["by_evidence"]
    assert counts["published"]["after"] == counts["published"]["before"] + 1
    assert counts["common_practice"]["after"] == counts["common_practice"]["before"] - 1
    assert sum(count["before"] for count in counts.values()) == sum(count["after"] for count in counts.values())
    sources = {item["id"]: item for item in found["sources"]}
    assert sources.keys() == {"common-practice", "report-7"}
    assert (sources["report-7"]["kind"], sources["report-7"]["values_before"], sources["report-7"]["values_after"]) == (
        "added", 0, 1,
    )  # fmt: skip
    assert sources["common-practice"]["kind"] == "same"
