"""Formulas of a case in their uncompiled life, for tests that work a number out from the pieces."""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace
from typing import Any, TypeVar

import numpy as np
from glandwise.case.intake import Case
from glandwise.case.numbers import Rules
from glandwise.case.ratings import tables_of
from glandwise.case.rows import row_of
from glandwise.mechanics import viscoelastic
from glandwise.numerics.interpolation import curve_at
from glandwise.numerics.trace import calm
from glandwise.physics import energizer, lip

T = TypeVar("T")


def records(tables: Any) -> Any:
    """Return a table whose fields are attributes, as the uncompiled life asks for them."""
    rows = tables.view(np.recarray)
    if "flat" not in tables.dtype.names:
        return rows
    return [
        SimpleNamespace(**{name: row[name] for name in tables.dtype.names}) for row in rows
    ]  # NumPy has a flat, too


def run(formula: Callable[..., T], *arguments: Any) -> T:
    """Return what a formula gives in its uncompiled life, where nothing raises that machine code would answer."""
    with np.errstate(all="ignore"):
        result: T = calm(formula)(*(np.float64(x) if isinstance(x, float) else x for x in arguments))
        return result


class Plain:
    """A case with its rules."""

    def __init__(self, case: Case) -> None:
        rows, compounds = row_of(case)
        self.row = records(rows)[0]
        self.rules = Rules(*(records(table) for table in tables_of(case.data, compounds)))
        self.compound = self.rules.compounds[self.row.compound]

    @property
    def shape(self) -> lip.Shape:
        """What the shape of the lip gives."""
        return run(lip.shape_of, self.row, self.rules)

    def modulus(self, temperature: float) -> float:
        """Young's modulus of the compound [Pa]."""
        return run(curve_at, self.compound.elastic_modulus, temperature)

    def relaxed_share(self, temperature: float, time: float) -> float:
        """Share of its own load that the lip has left after a time [s]."""
        return run(viscoelastic.relaxed_share, self.compound.relaxation, temperature, time)

    def spring(self, temperature: float) -> energizer.Spring:
        """The energizer at a temperature."""
        return run(energizer.spring_of, self.row, self.rules, temperature)

    @property
    def load_factor(self) -> float:
        """Load of the form of the lip over that of the plain one."""
        return run(lip.load_factor, self.row, self.rules)
