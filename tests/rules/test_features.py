"""Which limit holds for a design: the most special one, decided by what the conditions mean and never by their order."""

from __future__ import annotations

import random
from collections.abc import Callable
from typing import Any

import pytest
from glandwise.case import ratings
from glandwise.rules import features, laws
from glandwise.rules.loader import RuleError, RuleStore, RuleTree
from hypothesis import given
from hypothesis import strategies as st

BASE = RuleStore().trees["baseline"]
DESIGNS = list(features.feature_sets())


def limit(name: str, value: float, when: str) -> str:
    return (
        f'[capacities.{name}]\ncriterion = "vacuum"\nwhen = {when}\ntitle = "{name}"\nlimit = {{ value = {value}, '
        'unit = "psi", source = "house-estimate", evidence = "house_estimate", valid_from = 2026-01-01 }\n'
    )


PLAIN, SINGLE, BOTH = (
    limit("plain", 2.0, '{ lip_tip = "plain", second_lip = "none" }'),
    limit("single", 6.0, '{ second_lip = "none", reinforcing_band = true }'),
    limit("both", 1.0, '{ lip_tip = "plain", second_lip = "none", reinforcing_band = true }'),
)


@pytest.mark.parametrize("text", [PLAIN + SINGLE, SINGLE + PLAIN])
def test_an_overlap_that_nothing_decides_is_refused_with_both_names_and_the_cure(
    text: str, load: Callable[..., RuleStore]
) -> None:
    with pytest.raises(RuleError) as caught:
        load({"designs": text})
    error = caught.value
    assert error.file == "house/designs.toml"
    assert error.line == text[: text.rindex("[capacities")].count("\n") + 1
    assert "plain" in error.fault
    assert "single" in error.fault
    for part in ('lip_tip = "plain"', 'second_lip = "none"', "reinforcing_band = true"):
        assert part in error.accepted
    assert error.also == ()


@pytest.mark.parametrize("text", [PLAIN + SINGLE + BOTH, BOTH + SINGLE + PLAIN, SINGLE + BOTH + PLAIN])
def test_a_limit_of_its_own_for_both_decides_in_any_order(text: str, load: Callable[..., RuleStore]) -> None:
    data = load({"designs": text}).trees["house"].newest().data
    for design in DESIGNS:
        if design.get("second_lip") != "none":
            continue
        plain, banded = design["lip_tip"] == "plain", design["reinforcing_band"]
        expected = {(True, True): "both", (True, False): "plain", (False, True): "single"}.get(
            (plain, banded), "vacuum_flexible_lip"
        )
        assert laws.chosen(data, "vacuum", design)[0] == expected
        found = ratings.found(data, design)["vacuum"].limit
        assert found is data.designs.capacities[expected]


def test_the_more_special_limit_holds_however_many_features_the_other_names(load: Callable[..., RuleStore]) -> None:
    special = limit("special", 6.0, '{ second_lip = "none", lip_tip = "plain" }')
    wordy = limit("wordy", 2.0, '{ family = "flexible_lip", second_lip = "none" }')  # two features as well
    for text in (special + wordy, wordy + special):
        data = load({"designs": text}).trees["house"].newest().data
        design = next(d for d in DESIGNS if d.get("second_lip") == "none" and d.get("lip_tip") == "plain")
        assert laws.chosen(data, "vacuum", design)[0] == "special"


def test_the_built_in_limits_leave_nothing_undecided() -> None:
    for criterion in {entry.criterion for entry in BASE.newest().data.designs.capacities.values()}:
        conditions = {
            name: entry.when
            for name, entry in BASE.newest().data.designs.capacities.items()
            if entry.criterion == criterion and entry.factor is None
        }
        assert list(features.undecided(conditions)) == []


def test_the_order_of_named_entries_moves_the_digest_and_that_of_fields_does_not() -> None:
    def turned(tree: dict[str, Any], *path: str) -> dict[str, Any]:
        if not path:
            return dict(reversed(tree.items()))
        return {**tree, path[0]: turned(tree[path[0]], *path[1:])}

    for path in (("compounds",), ("alloys",), ("criteria",), ("designs", "capacities"), ("changes",)):
        assert RuleTree(turned(BASE.tree, *path), (), BASE.criteria).digest != BASE.digest, path
    for path in ((), ("designs",), ("compounds", "ptfe_unfilled"), ("compounds", "ptfe_unfilled", "density")):
        assert RuleTree(turned(BASE.tree, *path), (), BASE.criteria).digest == BASE.digest, path


items = sorted({(key, value) for design in DESIGNS for key, value in design.items()}, key=str)
conditions = st.lists(st.sampled_from(items), max_size=3).map(dict)


@given(st.lists(conditions, min_size=1, max_size=5), st.integers(0, 2**31))
def test_what_is_decided_is_decided_for_every_design_and_in_any_order(found: list[dict[str, Any]], seed: int) -> None:
    named = {str(index): when for index, when in enumerate(found)}
    mixed = list(named.items())
    random.Random(seed).shuffle(mixed)
    decided = not list(features.undecided(named))
    assert decided == (not list(features.undecided(dict(mixed))))
    unique = True
    for design in DESIGNS:
        matching = {name: when for name, when in named.items() if when.items() <= design.items()}
        best = features.most_special(matching)
        assert best == features.most_special({name: when for name, when in mixed if name in matching})
        if best is not None:
            assert all(
                features.designs_with(matching[best]) & ~features.designs_with(when) == 0 for when in matching.values()
            )
        unique &= best is not None or not matching
    masks = [features.designs_with(when) for when in found]
    twice = any(mask and masks.count(mask) > 1 for mask in masks)
    assert decided == (unique and not twice)


def test_a_condition_stands_for_the_designs_that_have_it() -> None:
    for when in ({}, {"lip_tip": "plain"}, {"heel": "extended", "filled": True}, {"family": "no_such"}):
        mask = features.designs_with(when)
        assert [bool(mask >> bit & 1) for bit in range(len(DESIGNS))] == [
            all(design.get(key) == value for key, value in when.items()) for design in DESIGNS
        ]
