"""Which cases a difference of two rule sets can touch, and a rule set with one change taken back."""

from __future__ import annotations

import copy
from typing import Any

import numpy as np
import pytest
from glandwise.case import flat as corpus
from glandwise.case.features import SORTS
from glandwise.case.flat_cells import Coded
from glandwise.case.ratings import numbers_of
from glandwise.engine import Engine
from glandwise.questions.envelope import evaluation as batch
from glandwise.review import comparison
from glandwise.review.attribution import Reach
from glandwise.review.judged import Reading, stacked
from glandwise.review.told import Told
from glandwise.rules import compare
from glandwise.rules.loader import RuleError, RuleStore, RuleTree, today
from glandwise.rules.mixed import mixed
from glandwise.rules.model import RuleSetData, walk
from glandwise.rules.values import Curve, Datum
from pydantic import ValidationError

from tests.benchmarks.corpus import invented

BASE = RuleStore().trees["baseline"]
DATA = BASE.newest().data
TABLE = invented(160, 11)
NOBODY_READS = {
    "rule_set",
    "sources",
    "bands",
    "aims",
    "audit",
    "cautions",
    "changes",
    "o_rings",
    "blank",
}


def larger(value: Any, path: list[str]) -> Any:
    """Return a record of the rules with a number at a path that is 3 % larger; what does not change is shared."""
    if not path:
        if isinstance(value, Datum):
            numbers = {"si": value.si * 1.03, "si_low": value.si_low * 1.03, "si_high": value.si_high * 1.03}
        else:
            numbers = {"si_y": tuple(y * 1.03 for y in value.si_y)}
    elif isinstance(value, dict):
        return {**value, path[0]: larger(value[path[0]], path[1:])}
    else:
        numbers = {path[0]: larger(getattr(value, path[0]), path[1:])}
    result = copy.copy(value)
    for name, number in numbers.items():
        object.__setattr__(result, name, number)
    return result


def kind(path: str) -> str:
    """Return a path without the name of an entry."""
    file, entry, *rest = path.split(".")
    return ".".join((file, *rest)) if isinstance(getattr(DATA, file), dict) else ".".join((file, entry, *rest))


NUMBERS = [path for path, record in walk(DATA) if isinstance(record, Datum | Curve) and not path.startswith("bands.")]
PATHS = [*{kind(path): path for path in NUMBERS}.values()]
"""One number of each kind."""


def test_a_case_that_a_difference_does_not_touch_stands_as_it_stood() -> None:
    """A number of each kind is made larger by turns; what no criterion reads touches no case."""
    reading = Reading(DATA, corpus.read(DATA, TABLE), 160)
    reach, before = Reach(reading), stacked(reading.evaluation)
    moved = 0
    for path in PATHS:
        other: RuleSetData = larger(DATA, path.split("."))
        if corpus.read_by(other) != corpus.read_by(DATA):
            continue
        touched = reach.touched(other)
        if path.split(".")[0] in NOBODY_READS:
            assert not touched.any(), path
            continue
        after = stacked(batch.evaluate(other, reading.flat.rows))
        for one, two in zip(before, after, strict=True):
            differs = ~((one == two) | (np.isnan(one) & np.isnan(two))).all(axis=0)
            moved += differs.any()
            assert not (differs & ~touched).any(), path
    assert moved > 50
    assert not reach.touched(copy.copy(DATA)).any()


def test_what_is_not_a_number_touches_as_well() -> None:
    reading = Reading(DATA, corpus.read(DATA, TABLE), 160)
    reach, rows = Reach(reading), reading.flat.rows
    compounds, fluids = list(DATA.compounds), list(DATA.fluids)
    names = compounds[int(rows["compound"][0])], fluids[int(rows["fluid"][0])]
    compound, fluid = DATA.compounds[names[0]], DATA.fluids[names[1]]
    for file, name, code, other in (
        ("compounds", names[0], rows["compound"], replaced(compound, fillers=[] if compound.fillers else ["carbon"])),
        ("compounds", names[0], rows["compound"], replaced(compound, food_contact=another(compound.food_contact,
            "not_evaluated", "filler_needs_clearance"))),
        ("fluids", names[1], rows["fluid"], replaced(fluid, category=another(fluid.category, "food", "water"))),
        ("fluids", names[1], rows["fluid"], replaced(fluid, phase=another(fluid.phase, "gas", "liquid"))),
    ):  # fmt: skip
        data = larger_file(file, {**getattr(DATA, file), name: other})
        touched = reach.touched(data)
        own = code == code[0]
        assert touched[0], name
        assert not touched[~own].any()


def another(value: str, one: str, two: str) -> str:
    return two if value == one else one


def replaced(record: Any, **values: Any) -> Any:
    result = copy.copy(record)
    for name, value in values.items():
        object.__setattr__(result, name, value)
    return result


def larger_file(file: str, content: Any) -> RuleSetData:
    data: RuleSetData = replaced(DATA, **{file: content})
    return data


class Noted:
    """A rule set that notes which of its files are read."""

    def __init__(self) -> None:
        self.read: set[str] = set()

    def __getattr__(self, name: str) -> Any:
        self.read.add(name)
        return getattr(DATA, name)


@pytest.mark.parametrize("kept", [batch.verdicts_of, numbers_of])
def test_what_is_shared_by_files_reads_no_other(kept: Any) -> None:
    """Rule sets that have these files in common share what is worked out: one more that is read would be missed."""
    noted: Any = Noted()
    made = kept._function(noted)
    if kept is numbers_of:
        made.ratings(np.arange(SORTS))
        made.leaves.compounds[0], made.leaves.ratings[0], made.leaves.lip_forms[0]
    assert noted.read <= set(kept._files)
    assert "compounds" in noted.read


# ------------------------------------------------------------------------------------------------- one change taken back


def datum(value: float, unit: str) -> dict[str, Any]:
    return {"value": value, "unit": unit, "source": "house-estimate", "evidence": "house_estimate",
            "valid_from": "2026-06-01"}  # fmt: skip


COMPOUND = "ptfe_carbon_graphite_25"


def changed(patch: dict[str, Any]) -> tuple[RuleTree, comparison.Day]:
    other = compare.patched(BASE, compare.from_json(patch))
    return other, comparison.pair(BASE, other, today()).days[-1]


@pytest.mark.parametrize(
    "patch",
    [
        {"compounds": {COMPOUND: {"friction": {"oil": datum(0.05, "1")}, "poisson_ratio": datum(0.44, "1")}}},
        {"designs": {"capacities": {"pressure_flexible_lip": {"limit": datum(40.0, "psi")}}},
         "running": {"nominal_time": datum(200.0, "h")}},
        {"sizing": {"flexible_lip": {"band_length_share": datum(0.6, "1")}}, "criteria": {"pressure": {"caution_at": datum(0.7, "1")}}},
        {"compounds": {COMPOUND: None}, "changes": {"fill_with_carbon_graphite": None}},
        {"bands": {"compounds.*.density": {**{name: value for name, value in datum(0.0, "g/cm3").items() if name != "value"},
                                           "high": 4.0, "low": 1.0, "reason": "invented for this test"}}},
    ],
)  # fmt: skip
def test_a_mixed_set_is_what_its_tree_says(patch: dict[str, Any]) -> None:
    other, day = changed(patch)
    assert day.candidate is not None
    for item in day.changes:
        tree = compare.without(day.candidate_tree, item.change)
        data = mixed(day.candidate.data, day.candidate_tree, [item.change], other.criteria)
        try:
            whole = RuleTree(tree, (), other.criteria).newest().data
        except RuleError:
            assert data is None
        else:
            assert repr(data) == repr(whole)  # arrays do not tell by themselves whether they are equal
            assert [*data.compounds] == [*whole.compounds]


def test_a_mixed_set_whose_names_do_not_hold_together_is_none() -> None:
    patch = {"compounds": {COMPOUND: None}, "changes": {"fill_with_carbon_graphite": None}}
    other, day = changed(patch)
    assert day.candidate is not None
    found = {
        item.change.key: mixed(day.candidate.data, day.candidate_tree, [item.change], other.criteria)
        for item in day.changes
    }
    assert found["changes.fill_with_carbon_graphite"] is None  # it would fill with a compound that is gone
    assert found[f"compounds.{COMPOUND}"] is not None


def test_a_change_is_named_though_nobody_would_believe_the_set_without_it() -> None:
    """Each alone, friction in oil would stand above that in water: a mixture is not proposed to anybody."""
    held = DATA.compounds[COMPOUND].friction
    assert held.oil is not None
    assert held.aqueous is not None
    share = 0.5 * held.oil.si / held.aqueous.si
    friction = {"oil": datum(held.oil.si * share, "1"), "aqueous": datum(held.aqueous.si * share, "1")}
    other, day = changed({"compounds": {COMPOUND: {"friction": friction}}})
    key = f"compounds.{COMPOUND}.friction.oil"
    (change,) = (item.change for item in day.changes if item.change.key == key)
    with pytest.raises(RuleError, match="oil_over_aqueous"):
        RuleTree(compare.without(day.candidate_tree, change), (), other.criteria).newest()
    found = comparison.compare_table(comparison.pair(BASE, other, today()), TABLE)
    causes = {key for row in Told.of(found).rows() for item in row["criteria"] for key in item["caused_by"]}
    assert key in causes


def test_names_that_come_as_codes_are_counted_as_cells() -> None:
    """A dictionary may hold texts that no row has; an empty cell is a name that is not stated."""
    plain = {**TABLE, "family": ["", *TABLE["family"][1:]]}
    texts = ["wooden_lip", "flexible_lip", "energized_lip"]
    places = np.array([-1, *(texts.index(name) for name in TABLE["family"][1:])])
    coded = {**TABLE, "family": Coded(texts, places)}
    sets = comparison.pair(BASE, BASE, today())
    totals = []
    for table in (plain, coded):
        totals.append(comparison.Totals())
        totals[-1].add(comparison.compare_table(sets, table))
    assert totals[0].plain() == totals[1].plain()
    assert set(totals[0].by_family) == {"", "flexible_lip", "energized_lip"}
    assert totals[0].by_family[""]["refused"] == 1


# ------------------------------------------------------------------------------------------------------------- requests


def test_a_candidate_that_is_sent_again_is_known_by_its_content() -> None:
    def sent(value: float) -> comparison.PatchedRuleSet:
        patch = {"designs": {"capacities": {"pressure_flexible_lip": {"limit": datum(value, "psi")}}}}
        return comparison.PatchedRuleSet(kind="patch", patch=patch)

    engine = Engine(RuleStore(), "baseline")
    first, _ = comparison.candidate_tree(engine, BASE, sent(41.0))
    assert comparison.candidate_tree(engine, BASE, sent(41.0))[0] is first
    assert comparison.candidate_tree(engine, BASE, sent(42.0))[0].digest != first.digest
    for _ in range(2):  # what is refused is refused each time
        with pytest.raises(ValidationError, match="no gauge pressure"):
            comparison.candidate_tree(engine, BASE, sent(-42.0e9))
