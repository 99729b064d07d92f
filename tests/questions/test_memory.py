"""What requests leave behind: nothing that grows with their number."""

from __future__ import annotations

import gc

from glandwise.case.intake import ratings
from glandwise.rules import once
from glandwise.rules.loader import RuleStore, RuleTree
from glandwise.rules.model import Capacity

FEATURES = {"family": "flexible_lip", "lubrication": "dry", "filled": True}


def held() -> int:
    """Count the capacities that are still referred to."""
    gc.collect()
    return sum(isinstance(item, Capacity) for item in gc.get_objects())


def test_the_rule_sets_of_requests_past_are_let_go() -> None:
    base = RuleStore().trees["baseline"]
    each = len(base.newest().data.designs.capacities)
    before = held()
    for _ in range(2 * once._KEPT):
        ratings(RuleTree(base.tree, (), base.criteria).newest().data, FEATURES)
    assert held() <= before + (once._KEPT + 1) * each
