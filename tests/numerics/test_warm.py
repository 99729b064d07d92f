"""Machine code is ready before a request: nothing is compiled within one."""

from __future__ import annotations

import numpy as np
import pytest
from glandwise.case import record
from glandwise.questions.envelope import judge, kernel
from glandwise.questions.warm import warm

from tests.checks.support import energized, flexible, post, rules


def test_requests_of_every_kind_run_on_what_is_warm() -> None:
    warm()
    before = list(judge._kernel.signatures)
    for request in (
        flexible(),
        flexible(lip_tip="upturned_with_garter"),
        energized(),
        energized(energizer="canted_coil"),
    ):
        post("check_envelope", request)
    post("check_envelope", flexible(compound_properties={"poisson_ratio": {"value": 0.45, "unit": "1"}}))
    assert judge._kernel.signatures == before
    assert len(before) == 1


def test_what_would_have_to_be_compiled_is_refused() -> None:
    warm()
    rows = record.table(4)[::2]  # a table with gaps is another type
    with pytest.raises(TypeError, match="No matching definition"):
        judge._kernel(rows, np.zeros(2, kernel.OUT), *judge.numbers_of(rules().data).packed)
