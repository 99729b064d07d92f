"""Cases as rows for machine code, and what the rules supply in them: by the same machine code for one and for a million."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from glandwise.case import record, sizing
from glandwise.case.numbers import empty
from glandwise.case.ratings import numbers_of, tables_of
from glandwise.numerics.compiled import compiled, over_rows, ready
from glandwise.rules.model import RuleSetData
from glandwise.rules.once import OncePerRuleSet

if TYPE_CHECKING:
    from glandwise.case.intake import Case

Table = np.ndarray[Any, Any]
_kernel = compiled(sizing.fill)


def fill(data: RuleSetData, rows: Table, compounds: Table | None = None) -> Table:
    """Fill in what cases leave open, in place, and return them; what is filled in already stays as it is.

    ``compounds`` takes the place of those of the rules.
    """
    numbers = numbers_of(data)
    over_rows(_kernel, (rows,), tables_of(data, compounds))
    sorts = rows["rating"]
    if len(rows) == 1:
        sorts[0] = numbers.rating(sorts.item(0))
    else:
        sorts[:] = numbers.ratings(sorts)
    return rows


def warm() -> None:
    """Compile, or read from disk, all that a request may need."""
    ready(_kernel, record.table(0), empty())


def row_of(case: Case) -> tuple[Table, Table | None]:
    """Return a single case as a table of one row, and its compound where the caller has given properties of it."""
    return record.copied(case.row), case.own_compound


class Codes:
    """Codes of the names of a rule set: their place in its tables."""

    def __init__(self, data: RuleSetData) -> None:
        self.fluids = {name: code for code, name in enumerate(data.fluids)}
        self.compounds = {name: code for code, name in enumerate(data.compounds)}
        self.alloys = {name: code for code, name in enumerate(data.alloys)}
        self.elastomers = {name: code for code, name in enumerate(data.elastomers)}
        self.shaft_materials = {name: code for code, name in enumerate(data.shaft_materials)}
        self.records = {
            table: tuple(getattr(data, table).values())
            for table in ("fluids", "compounds", "alloys", "elastomers", "shaft_materials")
        }
        """Records of a table by code."""


codes_of = OncePerRuleSet(Codes)
