"""Cases through machine code: one or a million, the same way."""

from __future__ import annotations

from typing import Any

import numpy as np

from glandwise.case import record
from glandwise.case.numbers import empty
from glandwise.case.ratings import RuleNumbers, tables_of
from glandwise.numerics.compiled import CHUNK, compiled, over_rows
from glandwise.questions.envelope import kernel
from glandwise.questions.workers import pool
from glandwise.rules.model import RuleSetData

Table = np.ndarray[Any, Any]

_kernel = compiled(kernel.envelope)


def measured(data: RuleSetData, rows: Table, compounds: Table | None = None) -> Table:
    """Measure every criterion of every row; what the rows leave open is filled in, in place.

    ``compounds`` are those of the caller in place of the rule set's.
    """
    out = np.zeros(len(rows), kernel.OUT)
    threads = pool() if len(rows) >= 4 * CHUNK else None
    result: Table = over_rows(_kernel, rows, out, tables_of(data, compounds), threads)
    return result


def warm() -> None:
    """Compile, or read from disk, all that a request may need; nothing is compiled after that."""
    _kernel(record.table(0), np.zeros(0, kernel.OUT), *empty())
    _kernel.disable_compile()


__all__ = ["RuleNumbers", "measured", "warm"]
