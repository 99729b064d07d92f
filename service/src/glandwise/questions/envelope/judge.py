"""Cases through machine code: one or a million, the same way."""

from __future__ import annotations

from typing import Any

import numpy as np

from glandwise.case import record
from glandwise.case.numbers import empty
from glandwise.case.ratings import tables_of
from glandwise.numerics.compiled import compiled, over_rows, ready
from glandwise.questions.envelope import kernel
from glandwise.rules.model import RuleSetData

Table = np.ndarray[Any, Any]

_kernel = compiled(kernel.envelope)


def measured(data: RuleSetData, rows: Table, compounds: Table | None = None) -> Table:
    """Measure every criterion of every row; the rows are filled in (see :func:`glandwise.case.rows.fill`).

    ``compounds`` are those of the caller in place of the rule set's.
    """
    result: Table = over_rows(_kernel, (rows, np.zeros(len(rows), kernel.OUT)), tables_of(data, compounds))
    return result


def warm() -> None:
    """Compile, or read from disk, all that a request may need; nothing is compiled after that."""
    ready(_kernel, record.table(0), np.zeros(0, kernel.OUT), empty())
