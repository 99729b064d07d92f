"""Files that sets have in common: read once, and looked at again beside other sources and other bands."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from glandwise.rules import compare
from glandwise.rules.loader import RuleError, RuleStore, RuleTree

LIMIT = {"value": 44.0, "unit": "psi", "source": "common-practice", "evidence": "common_practice"}


@pytest.fixture(scope="module")
def base() -> RuleTree:
    return RuleStore().trees["baseline"]


def patched(base: RuleTree, **patch: Any) -> RuleTree:
    return compare.patched(base, compare.from_json(patch))


def slightly(base: RuleTree, day: str = "2026-02-01") -> RuleTree:
    """Another rated pressure, from a day on."""
    return patched(base, designs={"capacities": {"pressure_flexible_lip": {"limit": {**LIMIT, "valid_from": day}}}})


def test_a_set_holds_what_it_would_hold_by_itself(base: RuleTree) -> None:
    other = slightly(base)
    alone = RuleTree(other.tree, (), other.criteria)
    assert other.breakpoints == alone.breakpoints == [date(2026, 1, 1), date(2026, 2, 1)]
    for day in other.breakpoints:
        assert other.as_of(day) == alone.as_of(day)
        assert repr(other.at(day).data) == repr(alone.at(day).data)
    assert repr(other.at(date(2026, 1, 1)).data) != repr(other.newest().data)


def test_files_that_stay_are_shared_and_others_are_not(base: RuleTree) -> None:
    mine, theirs = base.newest().data, slightly(base).newest().data
    assert all(theirs.fluids[name] is fluid for name, fluid in mine.fluids.items())
    assert theirs.sizing is mine.sizing
    assert theirs.designs is not mine.designs


def test_a_file_that_stays_is_looked_at_again_beside_other_sources(base: RuleTree) -> None:
    slightly(base)
    with pytest.raises(RuleError, match="of which no document was read"):
        patched(base, sources={"callister-rethwisch-app-b": {"read": "none"}})
    with pytest.raises(RuleError, match="is not in sources"):
        patched(base, sources={"callister-rethwisch-app-b": None})
    slightly(base)  # what is wrong beside those sources is right beside these


def test_a_file_that_stays_is_looked_at_again_beside_other_bands(base: RuleTree) -> None:
    slightly(base)
    narrow = {
        "low": 1.0, "high": 1.1, "unit": "g/cm3", "reason": "Narrower than anything (invented).", "source": "house-estimate",
        "evidence": "house_estimate", "valid_from": "2026-01-01",
    }  # fmt: skip
    with pytest.raises(RuleError, match=r"is outside the band of compounds\.\*\.density"):
        patched(base, bands={"compounds.*.density": narrow})
    slightly(base)


def test_what_is_refused_is_refused_again(base: RuleTree) -> None:
    """Nothing of a file at fault counts as read, and the place of the fault is told as ever."""
    said = []
    for _ in range(2):
        with pytest.raises(RuleError) as caught:
            patched(
                base, compounds={"ptfe_unfilled": {"density": {**LIMIT, "unit": "furlong", "valid_from": "2026-01-01"}}}
            )
        said.append(str(caught.value))
    assert said[0] == said[1]
    assert "ptfe_unfilled.density.unit" in said[0]
