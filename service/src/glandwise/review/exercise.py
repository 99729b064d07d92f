"""Which changed values the criteria of some cases hang on.

Each change is taken back by itself, in the rule set as it is held: no file is read, nothing is checked anew. If then a single
digit of a demand, a limit or a use, or a status, of any case is another, the cases exercise the change. If none is, that no
case differs says nothing about it: another calculation reads the value, no case has the compound, something else governs, or
the change is one of a source only.
"""

from __future__ import annotations

import copy
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from glandwise.case import flat as corpus
from glandwise.case import record
from glandwise.case.ratings import numbers_of
from glandwise.case.rows import Table
from glandwise.questions.envelope import evaluation as batch
from glandwise.rules.compare import Change
from glandwise.rules.model import RuleSetData

_FIRST = 128
"""Cases, spread over all, to which a change is put before it is put to all."""
_ELSEWHERE = frozenset(
    {
        "rule_set",
        "sources",
        "bands",
        "aims",
        "audit",
        "cautions",
        "changes",
        "gland",
        "o_rings",
        "expansion",
        "blank",
        "alternatives",
        "requirements",
    }
)
"""Files that no criterion reads."""
_CODES: Mapping[str, str] = {
    "compounds": "compound",
    "fluids": "fluid",
    "elastomers": "elastomer",
    "shaft_materials": "shaft_material",
}
"""Field of the cases that says which entry of a table each uses; the alloy of a garter has none."""
_NAMED = frozenset({*_CODES, "alloys"})

Read = Callable[[RuleSetData], corpus.Flat]


def taken_back(after: RuleSetData, before: RuleSetData, path: Sequence[str]) -> RuleSetData:
    """Return a rule set with what stands at a path as it is in another; what does not change is shared."""
    result: RuleSetData = _taken_back(after, before, path)
    return result


def _taken_back(after: Any, before: Any, path: Sequence[str]) -> Any:
    name, *rest = path
    if isinstance(after, dict):
        result = dict(after)
        if name not in before:
            result.pop(name, None)
        else:
            result[name] = _taken_back(after[name], before[name], rest) if rest and name in after else before[name]
        return result
    mine, theirs = getattr(after, name), getattr(before, name)
    result = copy.copy(after)
    whole = not rest or mine is None or theirs is None
    object.__setattr__(result, name, theirs if whole else _taken_back(mine, theirs, rest))
    return result


def exercised(
    before: RuleSetData, after: RuleSetData, changes: Sequence[Change], flat: corpus.Flat, read: Read
) -> list[bool]:
    """Tell of each change from ``before`` to ``after`` whether some cases hang on it.

    ``flat`` are the cases as ``after`` reads them, ``read`` reads them under another rule set.
    """
    cases = _Cases(after, flat, read)
    return [cases.exercise(before, change) for change in changes]


class _Cases:
    """Cases judged once under a rule set, to be held against the same set with something taken back."""

    def __init__(self, data: RuleSetData, flat: corpus.Flat, read: Read) -> None:
        self.data, self.flat, self.rows, self.read = data, flat, flat.rows, read
        count = len(self.rows)
        self.first = np.unique(np.linspace(0, max(count - 1, 0), min(_FIRST, count)).astype(int))
        self._found: batch.Evaluation | None = None

    @property
    def found(self) -> batch.Evaluation:
        """The cases, filled in and judged."""
        if self._found is None:
            self._found = batch.evaluate(self.data, self.rows)
        return self._found

    def exercise(self, before: RuleSetData, change: Change) -> bool:
        """Tell whether the cases hang on a change."""
        if not change.affects_results or change.path[0] in _ELSEWHERE:
            return False
        other, cases = taken_back(self.data, before, change.path), self.rows
        if _renames(change):  # the codes of names, and what stands in for what is left out, may be others
            try:
                numbers_of(other)
            except ValueError:
                return False  # what is left does not hold together, so nothing can be told by it
            flat = self.read(other)
            if not np.array_equal(flat.index, self.flat.index):
                return True  # a case can be judged with the change only, or without it only
            cases = flat.rows
        rows = self._concerned(change)
        few = np.intersect1d(rows, self.first)
        rest = np.setdiff1d(rows, few, assume_unique=True)
        return any(part.size > 0 and self._differs(other, cases, part) for part in (few, rest))

    def _concerned(self, change: Change) -> Any:
        every = np.arange(len(self.rows))
        table, *rest = change.path
        if table not in _CODES or len(rest) < 2:
            return every
        names = list(getattr(self.data, table))
        code = names.index(rest[0]) if rest[0] in names else -1
        return np.flatnonzero(self.found.rows[_CODES[table]] == code)

    def _differs(self, other: RuleSetData, cases: Table, rows: Any) -> bool:
        one, two = self.found.take(rows), batch.evaluate(other, record.chosen(cases, rows))
        if one.criteria != two.criteria:
            return True
        return any(
            not np.array_equal(a[name], b[name], equal_nan=True)
            for a, b in (
                (one.demand, two.demand), (one.capacity, two.capacity), (one.utilization, two.utilization),
                (one.status, two.status),
            )
            for name in a
        )  # fmt: skip


def _renames(change: Change) -> bool:
    """Tell a change by which cases may be read otherwise: of names, or of what stands in for what is left out."""
    table, *rest = change.path
    if table in _NAMED:
        return len(rest) < 2 or rest[1] in {"lubrication", "hardness"}
    return table == "sizing" and rest[:1] != [] and rest[0] in {"energizer_alloy", "garter_alloy", "o_ring_elastomer"}
