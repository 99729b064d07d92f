"""Which changed value caused a difference, and which changed values the criteria of some cases hang on.

Each change is taken back by itself. Where a criterion then stands as it stood before, that change caused the difference;
where no single one does, several act together and none is named. If not a single digit of a demand, a limit or a use, and
no status, of any case is another, no case exercises the change: that no case differs says nothing about it.

Only such cases are judged again as can differ: those that read a number that differs between the packed tables of the two
rule sets. A number that stands elsewhere in a rule set is one that no criterion reads.
"""

from __future__ import annotations

import copy
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from glandwise.case import record
from glandwise.case.choices import Family
from glandwise.case.features import sort_of
from glandwise.case.flat import read_by
from glandwise.case.numbers import Rules
from glandwise.case.ratings import numbers_of
from glandwise.questions.envelope import evaluation as batch
from glandwise.review.judged import SAME, Judged, Reading, Table, outcomes, stacked
from glandwise.rules.model import RuleSetData

FIRST = 128
"""Cases, spread over all, to which a change is put before it is put to all."""

_BY_CODE = ("compounds", "alloys", "elastomers", "fluids", "shaft_materials", "lip_forms")
"""Tables of which a case reads one row."""
_FIELD = {"compounds": "compound", "alloys": "alloy", "elastomers": "elastomer", "fluids": "fluid",
          "shaft_materials": "shaft_material", "lip_forms": "lip_form"}  # fmt: skip
"""Field of a case that says which row it reads; -1 is the last one."""


def _rows_differ(one: Any, two: Any) -> Any:
    """Tell the rows of two tables of records apart, digit by digit; what is no number equals itself."""
    width = one.dtype.itemsize
    a, b = (np.ascontiguousarray(table).view(np.uint8).reshape(len(table), width) for table in (one, two))
    return (a != b).any(axis=1)


def _tables(packed: Rules) -> Mapping[str, Any]:
    return packed._asdict()


class Reach:
    """What some cases read of a rule set: which of them a difference to another can touch."""

    def __init__(self, reading: Reading) -> None:
        self.data, self.rows = reading.data, reading.evaluation.rows
        filled = numbers_of(self.data).packed._asdict()["compounds"]["filled"][self.rows["compound"]]
        cases: Any = self.rows.view(np.recarray)
        self.sorts, self.sort = np.unique(sort_of(cases, filled), return_inverse=True)

    def touched(self, other: RuleSetData) -> Any:
        """Return where a case reads something that is another under ``other``, which reads the table alike."""
        count = len(self.rows)
        numbers = numbers_of(self.data), numbers_of(other)
        rated = [each.ratings(self.sorts) for each in numbers]
        mine, theirs = (_tables(each.packed) for each in numbers)  # with the ratings that have just been asked for
        if (mine["constants"].tobytes() != theirs["constants"].tobytes()) or self._criteria_differ(other):
            return np.ones(count, dtype=bool)
        found = np.zeros(count, dtype=bool)
        for name, family in (("flexible", Family.flexible_lip), ("energized", Family.energized_lip)):
            if mine[name].tobytes() != theirs[name].tobytes():
                found |= self.rows["family"] == family
        for name in _BY_CODE:
            differ = _rows_differ(mine[name], theirs[name])
            if differ.any():
                found |= differ[self.rows[_FIELD[name]]]
        ratings = _rows_differ(mine["ratings"][rated[0]], theirs["ratings"][rated[1]])
        if ratings.any():
            found |= ratings[self.sort]
        return found | self._looked_up(other)

    def _criteria_differ(self, other: RuleSetData) -> bool:
        mine, theirs = self.data.criteria, other.criteria
        return [*mine] != [*theirs] or any(
            item.caution_at.si != theirs[name].caution_at.si for name, item in mine.items()
        )

    def _looked_up(self, other: RuleSetData) -> Any:
        """Return where a criterion without numbers looks up something else."""
        a, b = batch.verdicts_of(self.data), batch.verdicts_of(other)
        fluid, compound = self.rows["fluid"], self.rows["compound"]
        return (
            (a.on_compound != b.on_compound)[fluid, compound]
            | (a.on_alloy != b.on_alloy)[fluid, self.rows["alloy"]]
            | (a.on_elastomer != b.on_elastomer)[fluid, self.rows["elastomer"]]
            | ((a.coldest != b.coldest) | (a.hottest != b.hottest))[fluid]
            | ((a.is_food != b.is_food) | (a.is_abrasive != b.is_abrasive))[fluid]
            | (a.food != b.food)[compound]
        )


class TakenBack:
    """One change taken back, over the cases that it can touch; each is judged at most once."""

    def __init__(self, reading: Reading, table: Table, reach: Reach, data: RuleSetData) -> None:
        self.reading, self.data = reading, data
        numbers_of(data)  # raises ValueError for a set whose names do not hold together
        self.alike = read_by(data) == read_by(reading.data)
        self.flat = reading.flat if self.alike else table.flat(data, keep=False)
        self.shifted = not np.array_equal(self.flat.index, reading.flat.index)
        """Whether a case can be judged with the change only, or without it only."""
        every = np.arange(len(self.flat.index))
        self.touched = np.flatnonzero(reach.touched(data)) if self.alike else every
        """Places of cases that read something else, in the order of the table."""
        self.differs = self.shifted

    def judged(self, places: Any) -> batch.Evaluation:
        """Judge cases by their places, and note whether any digit is another."""
        found = batch.evaluate(self.data, record.chosen(self.flat.rows, places))
        if not self.differs:
            self.differs = _another_digit(self.reading.evaluation.take(places), found)
        return found

    def look(self, done: Any) -> bool:
        """Tell whether any case differs; ``done`` are places that have been judged."""
        if not self.differs:
            open_ = np.setdiff1d(self.touched, done, assume_unique=True)
            count = len(self.flat.index)
            first = np.unique(np.linspace(0, max(count - 1, 0), min(FIRST, count)).astype(int))
            few = np.intersect1d(open_, first)
            for part in (few, np.setdiff1d(open_, few, assume_unique=True)):
                if part.size and not self.differs:
                    self.judged(part)
        return self.differs


def _another_digit(one: batch.Evaluation, two: batch.Evaluation) -> bool:
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


def restored(taken: TakenBack, rows: Any, before: Judged, told: Any) -> tuple[Any, Any]:
    """Return by criterion and row where a difference is gone with the change taken back, and the places judged for it.

    ``told`` says by criterion and row which differences are looked at; ``rows`` are the rows of the table that have one.
    """
    places = np.full(len(before.verdict), -1)
    places[taken.flat.index] = np.arange(len(taken.flat.index))
    here = places[rows]
    can = np.zeros(len(taken.flat.index) + 1, dtype=bool)  # the last one stands for rows that cannot be judged
    can[taken.touched] = True
    rows, here = rows[can[here]], here[can[here]]
    found = np.zeros(told.shape, dtype=bool)
    if rows.size:
        evaluated = taken.judged(here)
        after = Judged(evaluated.criteria, *stacked(evaluated), evaluated.verdict, {}).aligned(before.criteria)
        code = outcomes(
            before.criteria, (before.status[:, rows], before.utilization[:, rows]), (after.status, after.utilization)
        )
        found[:, rows] = told[:, rows] & (code == SAME)
    return found, here


class Causes:
    """Which changes caused each difference, by criterion and row: a code for each combination of changes."""

    def __init__(self, criteria: int, rows: int) -> None:
        self.code = np.zeros((criteria, rows), dtype=np.int32)
        self.sets: list[tuple[Any, ...]] = [()]
        """Changes by code; the first code stands for none."""
        self._codes: dict[tuple[Any, ...], int] = {(): 0}
        self._rows: dict[str, Any] = {}

    def add(self, where: Any, change: Any) -> None:
        """Name a change as a cause where ``where`` says so, by criterion and row."""
        before, inverse = np.unique(self.code[where], return_inverse=True)
        codes = [self._code((*self.sets[code], change)) for code in before.tolist()]
        if codes:
            self.code[where] = np.array(codes, dtype=np.int32)[inverse]
            held = self._rows.get(change.label, False)
            self._rows[change.label] = held | where.any(axis=0)

    def rows(self) -> dict[str, int]:
        """Return how many rows each change caused a difference of, by its label."""
        return {label: int(rows.sum()) for label, rows in self._rows.items()}

    def _code(self, changes: tuple[Any, ...]) -> int:
        key = tuple(map(id, changes))
        if key not in self._codes:
            self._codes[key] = len(self.sets)
            self.sets.append(changes)
        return self._codes[key]


def taken_back(after: RuleSetData, before: RuleSetData, path: Sequence[str]) -> RuleSetData:
    """Return a rule set with what stands at a path as it is in another, unchecked; what does not change is shared."""
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
