"""The fits of a case with its hardware over temperatures, through machine code."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from glandwise.case import hardware, record
from glandwise.numerics.compiled import compiled
from glandwise.questions.gland import judge as gland
from glandwise.questions.thermal_fit import kernel

if TYPE_CHECKING:
    from glandwise.rules.model import RuleSetData

Table = np.ndarray[Any, Any]

_kernel = compiled(kernel.fits_over)


def measured(
    data: RuleSetData, temperatures: Table, cases: Table, hardware_rows: Table, compounds: Table | None = None
) -> Table:
    """Measure the fits of the first case at every temperature."""
    out = np.full(len(temperatures), np.nan, kernel.OUT)
    _kernel(temperatures, out, cases, hardware_rows, *gland.tables_of(data, compounds))
    return out


def warm() -> None:
    """Compile, or read from disk, all that a request may need."""
    none = np.zeros(0, kernel.OUT)
    _kernel(np.zeros(0), none, record.table(1), hardware.SHAPE.table(1), *gland.shapes())
    _kernel.disable_compile()
