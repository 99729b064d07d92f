"""Machine code is ready before a request: nothing is compiled within one."""

from __future__ import annotations

import numpy as np
import pytest
from glandwise.case import record
from glandwise.case.gland_numbers import gland_numbers_of
from glandwise.case.ratings import tables_of
from glandwise.questions.duty_spectrum import found as spectra
from glandwise.questions.envelope import judge, kernel
from glandwise.questions.friction import states
from glandwise.questions.runout import found as runouts
from glandwise.questions.warm import warm
from glandwise.questions.wear import found as wearing

from tests.questions.support import energized, flexible, post, rules

KERNELS = (judge, runouts, states, wearing, spectra)
OPERATIONS = ("check_envelope", "allow_runout", "estimate_friction", "estimate_wear")


def test_requests_of_every_kind_run_on_what_is_warm() -> None:
    warm()
    before = [list(module._kernel.signatures) for module in KERNELS]
    for request in (
        flexible(),
        flexible(lip_tip="upturned_with_garter"),
        energized(),
        energized(energizer="canted_coil"),
    ):
        for operation in OPERATIONS:
            post(operation, request)
        post("assess_spectrum", {**request, "phases": [{"share": {"value": 0.4, "unit": "1"}}]})
    for operation in OPERATIONS:
        post(operation, flexible(compound_properties={"poisson_ratio": {"value": 0.45, "unit": "1"}}))
    tolerances = {"shaft_diameter": {"value": 0.05, "unit": "mm"}, "lip_bore": {"value": 0.05, "unit": "mm"}}
    post("estimate_friction", {**flexible(), "tolerances": tolerances})
    post("estimate_wear", {**flexible(), "wear_allowance": {"value": 0.1, "unit": "mm"}})
    post("allow_runout", {**flexible(), "service_time": {"value": 100, "unit": "h"}})
    assert [module._kernel.signatures for module in KERNELS] == before
    assert [len(signatures) for signatures in before] == [1] * len(KERNELS)


def test_what_would_have_to_be_compiled_is_refused() -> None:
    warm()
    rows = record.table(4)[::2]  # a table with gaps is another type
    with pytest.raises(TypeError, match="No matching definition"):
        judge._kernel(rows, np.zeros(2, kernel.OUT), tables_of(rules().data), gland_numbers_of(rules().data).packed)


def test_machine_code_is_not_named_by_all_that_it_takes() -> None:
    """Such names, some hundred times, would be most of what is kept on disk and read at each start."""
    warm()
    names = [found.fndesc.mangled_name for module in KERNELS for found in module._kernel.overloads.values()]
    assert len(names) == len(KERNELS)
    assert max(map(len, names)) < 3000
