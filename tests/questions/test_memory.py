"""What requests leave behind: nothing that grows with their number."""

from __future__ import annotations

import gc

import pytest
from glandwise.api.answering import calculation
from glandwise.case.ratings import numbers_of
from glandwise.engine import Engine
from glandwise.operations import OPERATIONS
from glandwise.rules import once
from glandwise.rules.loader import RuleStore, RuleTree
from glandwise.rules.model import Capacity

from tests.conftest import load_examples


@pytest.fixture(autouse=True)
def _apart() -> None:
    """Have the collector look at nothing that was there before."""
    gc.collect()
    gc.freeze()


def held() -> int:
    """Count the capacities that have been made since and are still referred to."""
    gc.collect()
    return sum(isinstance(item, Capacity) for item in gc.get_objects())


def test_the_rule_sets_of_requests_past_are_let_go() -> None:
    base = RuleStore().trees["baseline"]
    each = len(base.newest().data.designs.capacities)
    before = held()
    for _ in range(2 * once._KEPT):
        numbers_of(RuleTree(base.tree, (), base.criteria).newest().data).rating(0)
    assert held() <= before + (once._KEPT + 1) * each


@pytest.mark.parametrize("operation", ["answer_enquiry", "check_envelope", "check_gland", "check_thermal_fit"])
def test_an_answer_leaves_nothing_for_the_collector(operation: str) -> None:
    """Circles of traced numbers would keep all threads waiting while they are collected: some ten thousand objects an enquiry."""
    item = next(item for item in load_examples() if item.operation == operation)
    ask, engine = calculation(OPERATIONS[operation]), Engine(RuleStore(), "baseline")
    ask(item.request, engine)
    gc.collect()
    gc.disable()
    try:
        ask(item.request, engine)
        assert gc.collect() < 100
    finally:
        gc.enable()
