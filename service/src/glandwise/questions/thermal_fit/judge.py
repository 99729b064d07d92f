"""The fits of a case with its hardware over temperatures, through machine code."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from glandwise.case import gland_numbers, hardware, numbers, record
from glandwise.case.gland_numbers import gland_numbers_of
from glandwise.case.ratings import tables_of
from glandwise.numerics.compiled import compiled, ready
from glandwise.questions.arrays import Floats, Table
from glandwise.questions.thermal_fit import kernel

if TYPE_CHECKING:
    from glandwise.rules.model import RuleSetData

_kernel = compiled(kernel.fits_over)


def measured(
    data: RuleSetData, temperatures: Floats, cases: Table, hardware_rows: Table, compounds: Table | None = None
) -> Table:
    """Measure the fits of the first case at every temperature."""
    out = np.full(len(temperatures), np.nan, kernel.OUT)
    _kernel(
        temperatures,
        out,
        cases,
        record.copied(cases),
        hardware_rows,
        tables_of(data, compounds),
        gland_numbers_of(data).packed,
    )
    return out


def warm() -> None:
    """Compile, or read from disk, all that a request may need; nothing is compiled after that."""
    none = np.zeros(0, kernel.OUT)
    ready(
        _kernel,
        np.zeros(0),
        none,
        record.table(1),
        record.table(1),
        hardware.SHAPE.table(1),
        numbers.empty(),
        gland_numbers.empty(),
    )
