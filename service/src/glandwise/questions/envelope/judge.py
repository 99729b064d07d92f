"""Cases through machine code: one or a million, the same way."""

from __future__ import annotations

import numpy as np

from glandwise.case import gland_numbers, record
from glandwise.case.choices import Retention
from glandwise.case.gland_numbers import gland_numbers_of
from glandwise.case.numbers import empty
from glandwise.case.ratings import tables_of
from glandwise.numerics.compiled import compiled, over_rows, ready
from glandwise.questions.arrays import Codes, Table
from glandwise.questions.envelope import kernel
from glandwise.rules.model import RuleSetData

_kernel = compiled(kernel.envelope)


def measured(data: RuleSetData, rows: Table, compounds: Table | None = None) -> Table:
    """Measure every criterion of every row; the rows are filled in (see :func:`glandwise.case.rows.fill`).

    ``compounds`` are those of the caller in place of the rule set's.
    """
    tables = rows, np.zeros(len(rows), kernel.OUT)
    result: Table = over_rows(_kernel, tables, tables_of(data, compounds), gland_numbers_of(data).packed)
    return result


_STATE = [at for at, name in enumerate(record.FIELDS)
          if name not in {"rating", "retention", "heel", "elastomer", "lead", "dirt", "food_contact"}]  # fmt: skip
"""Fields that friction, wear and the load of the energizer hang on; of the retention, whether it holds the root."""
_WHOLE = np.dtype(f"V{kernel.OUT.itemsize}")


def measured_in(order: Codes, data: RuleSetData, rows: Table) -> Table:
    """Measure every row in an order that brings those together that differ in what they are rated for only."""
    cases, out = record.chosen(rows, order), np.zeros(len(rows), kernel.OUT)
    bits = cases.view(np.int64).reshape(len(cases), -1)[:, _STATE]
    held = cases["retention"] == Retention.o_ring
    out["alike"][1:] = (bits[1:] == bits[:-1]).all(axis=1) & (held[1:] == held[:-1])
    over_rows(_kernel, (cases, out), tables_of(data), gland_numbers_of(data).packed)
    back = np.empty_like(order)
    back[order] = np.arange(len(order))
    placed: Table = out.view(_WHOLE).take(back).view(kernel.OUT)
    return placed


def warm() -> None:
    """Compile, or read from disk, all that a request may need; nothing is compiled after that."""
    ready(_kernel, record.table(0), np.zeros(0, kernel.OUT), empty(), gland_numbers.empty())
