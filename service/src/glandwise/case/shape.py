"""Records that questions ask about: rows of a table for machine code, namespaces of leaves for a trace."""

from __future__ import annotations

from collections.abc import Mapping
from types import SimpleNamespace
from typing import Any

import numpy as np

from glandwise.case import choices
from glandwise.numerics.docstring import attributes
from glandwise.numerics.trace import Choice, leaf

NOT_CHOSEN = frozenset({"Name"})
"""Kinds of a code that is -1 where nothing is chosen; the others begin at 0."""


class Shape:
    """The fields of a record class, as a row of a table and as leaves."""

    def __init__(self, record: type) -> None:
        self.fields = attributes(record)
        self.names = tuple(name for name, q in self.fields.items() if q.is_choice)
        """Fields that hold a code."""
        self.numbers = tuple(name for name in self.fields if name not in self.names)
        self.dtype = np.dtype([(name, "i8" if name in self.names else "f8") for name in self.fields], align=True)
        self._enums = {name: getattr(choices, self.fields[name].unit, None) for name in self.names}

    def table(self, count: int) -> np.ndarray[Any, Any]:
        """Return a table of records of which nothing is known: numbers are NaN."""
        rows = np.zeros(count, self.dtype)
        for name in self.numbers:
            rows[name] = np.nan
        for name in self.names:
            if self.fields[name].unit in NOT_CHOSEN:
                rows[name] = -1
        return rows

    def code(self, name: str, value: Any, words: str = "") -> Choice:
        """Return a code with its words."""
        enum = self._enums[name]
        spelled = words or (enum(value).name if enum else str(int(value)))
        return Choice(int(value), self.fields[name].title.lower(), spelled)

    def leaves(self, row: Any, sources: Mapping[str, str], words: Mapping[str, str]) -> SimpleNamespace:
        """Return one row as leaves of a trace.

        ``sources`` says of a number where it comes from if not from the request, ``words`` what a code stands for.
        """
        found: dict[str, Any] = {}
        for name, q in self.fields.items():
            if name in self.names:
                found[name] = self.code(name, row[name], words.get(name, ""))
            else:
                found[name] = leaf(float(row[name]), q, sources.get(name, "request"))
        return SimpleNamespace(**found)
