"""Comparison of rule trees: what changed, candidates, and one change taken back at a time."""

from __future__ import annotations

import copy
from datetime import date
from typing import Any

import orjson
import pytest
from glandwise.rules import compare
from glandwise.rules.loader import RuleError, RuleStore, RuleTree
from hypothesis import given
from hypothesis import strategies as st

SIGNED = {"source": "house-estimate", "evidence": "house_estimate", "valid_from": "2026-01-01"}
DENSITY = {"value": 2.2, "unit": "g/cm3", **SIGNED}
CURVE = {"x": [-254, 23, 260], "y": [4100, 550, 40], "x_unit": "degC", "y_unit": "MPa", **SIGNED}


@pytest.fixture(scope="module")
def base() -> RuleTree:
    return RuleStore().trees["baseline"]


def patched(base: RuleTree, patch: dict[str, Any]) -> RuleTree:
    """As it comes over HTTP: through JSON."""
    return compare.patched(base, compare.from_json(orjson.loads(orjson.dumps(patch))))


def test_a_set_does_not_differ_from_itself(base: RuleTree) -> None:
    assert compare.diff(base.tree, base.tree) == []
    assert compare.diff(base.tree, copy.deepcopy(base.tree)) == []


def test_how_a_set_is_called_is_no_change(base: RuleTree) -> None:
    candidate = patched(base, {"rule_set": {"name": "draft", "version": "2"}})
    assert compare.diff(base.tree, candidate.tree) == []
    assert (candidate.newest().name, candidate.digest != base.digest) == ("draft", True)


def test_every_kind_of_change_is_told_with_unit_and_source(base: RuleTree) -> None:
    candidate = patched(
        base,
        {
            "compounds": {
                "ptfe_unfilled": {"density": DENSITY, "elastic_modulus": CURVE},
                "ptfe_glass_15": {"fillers": ["glass", "graphite"], "friction": {"dry": None}, "note": "other words"},
            },
            "fluids": {"chlorine_gas": None, "steam": {**SIGNED, "compatibility": {"elastomers": {"EPDM": "caution"}}}},
            "shaft_materials": {"invented_steel": {**base.tree["shaft_materials"]["steel_soft"], "title": "Invented"}},
        },
    )
    changes = {change.key: change for change in compare.diff(base.tree, candidate.tree)}
    assert list(changes) == [
        "compounds.ptfe_glass_15.fillers",
        "compounds.ptfe_glass_15.friction.dry",
        "compounds.ptfe_glass_15.note",
        "compounds.ptfe_unfilled.density",
        "compounds.ptfe_unfilled.elastic_modulus",
        "fluids.chlorine_gas",
        "fluids.steam.compatibility.elastomers.EPDM",
        "fluids.steam.evidence",
        "fluids.steam.source",
        "shaft_materials.invented_steel",
    ]
    density = changes["compounds.ptfe_unfilled.density"]
    assert (density.kind, density.unit, density.source, density.evidence) == (
        "changed",
        "g/cm3",
        "house-estimate",
        "house_estimate",
    )
    assert (density.before["value"], density.after["value"]) == (2.17, 2.2)
    assert {"value", "evidence", "source"} <= set(density.fields)
    assert changes["compounds.ptfe_unfilled.elastic_modulus"].unit == "MPa"
    dry = changes["compounds.ptfe_glass_15.friction.dry"]
    assert (dry.kind, dry.after, dry.unit, dry.fields) == ("removed", None, "1", ())
    assert dry.source == base.tree["compounds"]["ptfe_glass_15"]["friction"]["dry"]["source"]
    fluid = changes["fluids.chlorine_gas"]
    assert (fluid.kind, fluid.source, fluid.before["title"]) == ("removed", "common-practice", "Chlorine gas, dry")
    epdm = changes["fluids.steam.compatibility.elastomers.EPDM"]
    assert (epdm.before, epdm.after, epdm.source) == ("compatible", "caution", "house-estimate")
    steel = changes["shaft_materials.invented_steel"]
    assert (steel.kind, steel.before, steel.after["title"]) == ("added", None, "Invented")
    without_effect = {key for key, change in changes.items() if not change.affects_results}
    assert without_effect == {"compounds.ptfe_glass_15.note", "fluids.steam.evidence", "fluids.steam.source"}


def test_a_new_remark_alone_affects_no_result(base: RuleTree) -> None:
    record = {
        **base.tree["compounds"]["ptfe_unfilled"]["poisson_ratio"],
        "note": "seen again",
        "valid_from": "2026-01-01",
    }
    [change] = compare.diff(base.tree, patched(base, {"compounds": {"ptfe_unfilled": {"poisson_ratio": record}}}).tree)
    assert (change.fields, change.affects_results) == (("note",), False)


def test_a_value_with_a_history_is_compared_by_date(base: RuleTree) -> None:
    later = {**DENSITY, "valid_from": "2026-07-01"}
    candidate = patched(base, {"compounds": {"ptfe_unfilled": {"density": later}}})
    [change] = compare.diff(base.tree, candidate.tree)
    assert (change.kind, len(change.after), "history" in change.fields) == ("changed", 2, True)
    june, july = date(2026, 6, 30), date(2026, 7, 1)
    assert compare.diff(compare.as_of(base, june), compare.as_of(candidate, june)) == []
    [change] = compare.diff(compare.as_of(base, july), compare.as_of(candidate, july))
    assert change.after["value"] == 2.2
    with pytest.raises(ValueError, match="in force from 2026-01-01"):
        compare.as_of(base, date(2025, 12, 31))


def test_a_candidate_may_be_a_whole_set(base: RuleTree) -> None:
    content = orjson.loads(orjson.dumps(base.tree))
    candidate = compare.whole(base, compare.from_json(content))
    assert candidate.digest == base.digest
    del content["fluids"]["chlorine_gas"]
    [change] = compare.diff(base.tree, compare.whole(base, compare.from_json(content)).tree)
    assert (change.key, change.kind) == ("fluids.chlorine_gas", "removed")


DENSITY_PATH = ("compounds", "ptfe_unfilled", "density")


def density(value: Any) -> dict[str, Any]:
    return {"compounds": {"ptfe_unfilled": {"density": value}}}


@pytest.mark.parametrize(
    ("patch", "path", "fault"),
    [
        (density({"value": 9}), (*DENSITY_PATH, "unit"), "is missing"),
        (density({**DENSITY, "unit": "kg"}), (*DENSITY_PATH, "unit"), "'kg' is not a unit"),
        (density({**DENSITY, "value": "2.2"}), (*DENSITY_PATH, "value"), "is not a number"),
        (density({**DENSITY, "valid_from": "soon"}), (*DENSITY_PATH, "valid_from"), "is not a date"),
        (density({**DENSITY, "source": "my-lab"}), (*DENSITY_PATH, "source"), "is not in sources"),
        (density(None), DENSITY_PATH, "is missing"),
        (density([DENSITY, DENSITY]), (*DENSITY_PATH, 1, "valid_from"), "is the date of another entry"),
        ({"fluids": {"steam": {"lubrication": "dry"}}}, ("fluids", "steam", "lubrication"), "without stating what the change rests on"),
        ({"criteria": {"pressure": None}}, ("criteria", "pressure"), "is missing"),
        ({"running": None}, ("running",), "is not a table"),
        ({"compound": {}}, ("compound",), "is not known here"),
        ({"rule_set": {"remove": ["fluids.steam"]}}, ("rule_set", "remove"), "cannot stand in a patch"),
    ],
)  # fmt: skip
def test_a_bad_patch_is_refused_with_its_place(base: RuleTree, patch: Any, path: tuple[Any, ...], fault: str) -> None:
    with pytest.raises(RuleError) as caught:
        patched(base, patch)
    found = {error.path: error.fault for error in (caught.value, *caught.value.also)}
    assert path in found
    assert fault in found[path]
    assert caught.value.accepted
    assert caught.value.line is None or not caught.value.file.startswith("candidate")


@pytest.mark.parametrize("missing", ["rule_set", "running"])
def test_a_whole_set_must_be_whole(base: RuleTree, missing: str) -> None:
    tree = {file: content for file, content in base.tree.items() if file != missing}
    with pytest.raises(RuleError, match="the file is missing"):
        compare.whole(base, tree)


def test_each_change_taken_back_by_itself(base: RuleTree) -> None:
    candidate = patched(
        base,
        {
            "compounds": {"ptfe_unfilled": {"density": DENSITY}},
            "fluids": {"chlorine_gas": None},
            "shaft_materials": {"invented_steel": {**base.tree["shaft_materials"]["steel_soft"], "title": "Invented"}},
        },
    )
    changes = compare.diff(base.tree, candidate.tree)
    assert [change.kind for change in changes] == ["changed", "removed", "added"]
    for change in changes:
        tree = compare.without(candidate.tree, change)
        assert compare.diff(base.tree, tree) == [other for other in changes if other != change]
        assert [back.key for back in compare.diff(tree, candidate.tree)] == [change.key]
        alone = compare.only(base.tree, change)
        assert compare.diff(base.tree, alone) == [change]
        # Usable as a rule set; and all that is not on the way to the change is the same object, not a copy.
        RuleTree(tree, (), base.criteria).newest()
        assert tree["sizing"] is candidate.tree["sizing"]
        assert tree["alloys"] is candidate.tree["alloys"]
    assert base.digest == RuleTree(base.tree, (), base.criteria).digest, "nothing given was changed"


def test_a_change_that_another_rests_on_cannot_go_alone(base: RuleTree) -> None:
    alloy = {**base.tree["alloys"]["S30200"], "title": "Invented"}
    fluid = {**SIGNED, "compatibility": {"alloys": {"X99999": "caution"}}}
    candidate = patched(base, {"alloys": {"X99999": alloy}, "fluids": {"steam": fluid}})
    changes = compare.diff(base.tree, candidate.tree)
    [tree] = [compare.without(candidate.tree, change) for change in changes if change.path[0] == "alloys"]
    with pytest.raises(RuleError, match="'X99999' is not known"):
        RuleTree(tree, (), base.criteria).newest()


# ------------------------------------------------------------------------------------------------- for any trees

names = st.sampled_from(["a", "b", "c", "source", "note"])
record = st.builds(
    lambda value, year: {"value": value, "unit": "1", "source": "s", "evidence": "e", "valid_from": date(year, 1, 1)},
    st.integers(0, 3),
    st.integers(2024, 2026),
)
leaf = st.one_of(st.integers(0, 3), st.text("xy", max_size=2), st.lists(st.integers(0, 2), max_size=2), record)
tables = st.recursive(leaf, lambda inner: st.dictionaries(names, inner, max_size=3), max_leaves=10)
trees = st.dictionaries(st.sampled_from(["file", "other"]), st.dictionaries(names, tables, max_size=3), max_size=2)


def forward(tree: Any, changes: list[compare.Change]) -> Any:
    for change in changes:
        tree = compare.only(tree, change)
    return tree


@given(trees, trees)
def test_the_changes_lead_from_one_tree_to_the_other_and_back(before: Any, after: Any) -> None:
    changes = compare.diff(before, after)
    assert forward(before, changes) == after
    back = after
    for change in changes:
        back = compare.without(back, change)
    assert back == before


@given(trees, trees)
def test_a_change_taken_back_is_the_only_one_that_is_gone(before: Any, after: Any) -> None:
    changes = compare.diff(before, after)
    keys = [change.path for change in changes]
    assert keys == sorted(keys)
    assert len(set(keys)) == len(keys)
    for change in changes:
        rest = [other.path for other in compare.diff(before, compare.without(after, change))]
        assert rest == [path for path in keys if path != change.path]
