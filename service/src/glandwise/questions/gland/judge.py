"""Cases with their hardware through machine code."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from glandwise.case import gland_numbers, hardware, numbers, record
from glandwise.case.gland_numbers import GlandRules, gland_numbers_of
from glandwise.case.numbers import Rules
from glandwise.case.ratings import numbers_of
from glandwise.numerics.compiled import CHUNK, compiled
from glandwise.questions.gland import kernel
from glandwise.questions.workers import pool

if TYPE_CHECKING:
    from glandwise.rules.model import RuleSetData

Table = np.ndarray[Any, Any]

_kernel = compiled(kernel.fitted)


def tables_of(data: RuleSetData, compounds: Table | None = None) -> tuple[Any, ...]:
    """Return the numbers of a rule set as a kernel over cases and hardware takes them.

    ``compounds`` are those of the caller in place of the rule set's.
    """
    rules = numbers_of(data).packed
    if compounds is not None:
        rules = rules._replace(compounds=compounds)
    return (*rules, *gland_numbers_of(data).packed)


def measured(data: RuleSetData, cases: Table, hardware_rows: Table, compounds: Table | None = None) -> Table:
    """Measure every criterion of every gland; what the rows leave open of ring, groove and clamp is filled in, in place."""
    out = np.full(len(cases), np.nan, kernel.OUT)
    out["beyond"] = 0.0
    tables = tables_of(data, compounds)
    starts = range(0, len(cases), CHUNK)

    def run(at: int) -> None:
        some = slice(at, at + CHUNK)
        _kernel(cases[some], hardware_rows[some], out[some], *tables)

    if len(starts) > 1:  # the kernel lets go of the interpreter
        list(pool().map(run, starts))
    elif len(cases):
        run(0)
    return out


def shapes() -> tuple[Any, ...]:
    """Return tables of one row each, as a kernel over cases and hardware takes them."""
    return (
        *(np.zeros(1, numbers.DTYPES[name]) for name in Rules._fields),
        *(np.zeros(1, gland_numbers.DTYPES[name]) for name in GlandRules._fields),
    )


def warm() -> None:
    """Compile, or read from disk, all that a request may need."""
    _kernel(record.table(0), hardware.SHAPE.table(0), np.zeros(0, kernel.OUT), *shapes())
    _kernel.disable_compile()
