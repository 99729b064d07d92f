"""Cases with their hardware through machine code."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from glandwise.case import gland_numbers, hardware, numbers, record
from glandwise.case.gland_numbers import gland_numbers_of
from glandwise.case.ratings import tables_of
from glandwise.numerics.compiled import compiled, over_rows, ready
from glandwise.questions.arrays import Table
from glandwise.questions.gland import kernel

if TYPE_CHECKING:
    from glandwise.rules.model import RuleSetData

_kernel = compiled(kernel.fitted)


def measured(data: RuleSetData, cases: Table, hardware_rows: Table, compounds: Table | None = None) -> Table:
    """Measure every criterion of every gland; what the rows leave open of ring, groove and clamp is filled in, in place."""
    out = np.full(len(cases), np.nan, kernel.OUT)
    out["beyond"] = 0.0
    result: Table = over_rows(
        _kernel,
        (cases, record.copied(cases), hardware_rows, out),
        tables_of(data, compounds),
        gland_numbers_of(data).packed,
    )
    return result


def warm() -> None:
    """Compile, or read from disk, all that a request may need; nothing is compiled after that."""
    none = np.zeros(0, kernel.OUT)
    ready(
        _kernel, record.table(0), record.table(0), hardware.SHAPE.table(0), none, numbers.empty(), gland_numbers.empty()
    )
