"""What requests leave behind: nothing that grows with their number."""

from __future__ import annotations

import gc

from glandwise.case.ratings import numbers_of
from glandwise.rules import once
from glandwise.rules.loader import RuleStore, RuleTree
from glandwise.rules.model import Capacity


def held() -> int:
    """Count the capacities that are still referred to."""
    gc.collect()
    return sum(isinstance(item, Capacity) for item in gc.get_objects())


def test_the_rule_sets_of_requests_past_are_let_go() -> None:
    base = RuleStore().trees["baseline"]
    each = len(base.newest().data.designs.capacities)
    before = held()
    for _ in range(2 * once._KEPT):
        numbers_of(RuleTree(base.tree, (), base.criteria).newest().data).rating(0)
    assert held() <= before + (once._KEPT + 1) * each
