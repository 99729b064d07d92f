"""What each changed value does to some cases: made alone, taken back from all of them, and with others.

A change *has an effect alone* where the base with nothing but this change stands as the candidate does: turned the same way,
or, where no status turns, with its margin moved the same way. A change *undoes* a difference where the candidate without it
stands as the base does. Where no change has the effect alone, the smallest combinations of changes that have it are looked for.
A change that moves not a single digit of a demand, a limit or a use, and no status, of any case is exercised by none: that no
case differs says nothing about it.

Only such cases are judged again as can differ: those that read a number that differs between the packed tables of the two
rule sets. A number that stands elsewhere in a rule set is one that no criterion reads.
"""

from __future__ import annotations

import copy
from collections.abc import Collection, Mapping, Sequence
from typing import Any

import numpy as np

from glandwise.case import record
from glandwise.case.choices import Family, Retention
from glandwise.case.features import sort_of
from glandwise.case.flat import read_by
from glandwise.case.gland_numbers import gland_numbers_of
from glandwise.case.numbers import Rules
from glandwise.case.ratings import numbers_of
from glandwise.questions.envelope import evaluation as batch
from glandwise.review.judged import BETTER, REFUSED, SHIFTED, WORSE, Judged, Reading, Table, outcomes, stacked
from glandwise.rules.model import RuleSetData

FIRST = 128
"""Cases, spread over all, to which a change is put before it is put to all."""

_READ = (
    ("compounds", "compound"), ("alloys", "alloy"), ("fluids", "fluid"), ("fluids", "lubricant"),
    ("films", "fluid"), ("shaft_materials", "shaft_material"), ("lip_forms", "lip_form"), ("targets", "application"),
    ("metals", "shaft_material"),
)  # fmt: skip
"""Tables of which a case reads one row, with the field that says which; -1 is the last one."""
_UNSTATED_HOUSING = -2
"""Row of the metals for a housing that is not stated."""


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
        if (
            mine["constants"].tobytes() != theirs["constants"].tobytes()
            or mine["ptfe"].tobytes() != theirs["ptfe"].tobytes()
            or self._criteria_differ(other)
            or self._hardware_differs(other, ("constants", "metals", "throats"))
        ):
            return np.ones(count, dtype=bool)
        found = np.zeros(count, dtype=bool)
        for name, family in (("flexible", Family.flexible_lip), ("energized", Family.energized_lip)):
            if mine[name].tobytes() != theirs[name].tobytes():
                found |= self.rows["family"] == family
        for name, field in _READ:
            differ = _rows_differ(mine[name], theirs[name])
            if differ.any():
                found |= differ[self.rows[field]]
        # by the first an elastomer is chosen that is not stated, by the second a seal held by its O-ring may turn
        if any(
            mine[name].tobytes() != theirs[name].tobytes() for name in ("elastomers", "rings")
        ) or self._hardware_differs(other, ("rubbers", "ptfe", "bores")):
            found |= self.rows["retention"] == Retention.o_ring
        differ = _rows_differ(mine["metals"], theirs["metals"])
        if differ.any():
            housing = self.rows["housing_material"]
            found |= differ[np.where(housing >= 0, housing, _UNSTATED_HOUSING)]
        ratings = _rows_differ(mine["ratings"][rated[0]], theirs["ratings"][rated[1]])
        if ratings.any():
            found |= ratings[self.sort]
        return found | self._looked_up(other)

    def _criteria_differ(self, other: RuleSetData) -> bool:
        mine, theirs = self.data.criteria, other.criteria
        return [*mine] != [*theirs] or any(
            item.caution_at.si != theirs[name].caution_at.si for name, item in mine.items()
        )

    def _hardware_differs(self, other: RuleSetData, tables: tuple[str, ...]) -> bool:
        mine, theirs = gland_numbers_of(self.data).packed, gland_numbers_of(other).packed
        return any(getattr(mine, name).tobytes() != getattr(theirs, name).tobytes() for name in tables)

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


class Mixture:
    """A rule set that differs from another by some changes, over the cases that these can touch; each is judged once."""

    def __init__(self, reading: Reading, table: Table, reach: Reach, data: RuleSetData) -> None:
        self.reading, self.data = reading, data
        numbers_of(data)  # raises ValueError for a set whose names do not hold together
        self.alike = read_by(data) == read_by(reading.data)
        self.flat = reading.flat if self.alike else table.flat(data, keep=False)
        self.shifted = not np.array_equal(self.flat.index, reading.flat.index)
        """Whether a case can be judged with the changes only, or without them only."""
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

    def over(self, criteria: tuple[str, ...], rows: Any) -> tuple[Any, Any]:
        """Return status and utilization by criterion of some rows of the table; what is not touched stands as it stood."""
        held = self.reading.judged.aligned(criteria)
        status, used = held.status[:, rows].copy(), held.utilization[:, rows].copy()
        places = np.full(self.reading.count, -1)
        places[self.flat.index] = np.arange(len(self.flat.index))
        here = places[rows]
        status[:, here < 0], used[:, here < 0] = REFUSED, np.nan
        can = np.zeros(len(self.flat.index) + 1, dtype=bool)  # the last one stands for rows that cannot be judged
        can[self.touched] = True
        again = np.flatnonzero(can[here])
        if again.size:
            found = self.judged(here[again])
            after = Judged(found.criteria, *stacked(found), found.verdict, {}).aligned(criteria)
            status[:, again], used[:, again] = after.status, after.utilization
        return status, used

    def look(self) -> bool:
        """Tell whether any case differs, a few of them first."""
        if not self.differs:
            count = len(self.flat.index)
            first = np.unique(np.linspace(0, max(count - 1, 0), min(FIRST, count)).astype(int))
            few = np.intersect1d(self.touched, first)
            for part in (few, np.setdiff1d(self.touched, few, assume_unique=True)):
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


GAIN, NOTHING, LOSS = -1, 0, 1
TURN, REFUSAL = 2, 4
"""Sizes of an effect: below the first a margin moves; the last is that a case cannot be judged any more, or again."""


def effects(criteria: tuple[str, ...], before: tuple[Any, Any], after: tuple[Any, Any]) -> Any:
    """Return what happens to each criterion of each row, and in a last line to the row itself, as a signed size.

    Positive is a loss. Of a row that one of both refuses, only the last line tells.
    """
    (a, u), (b, v) = before, after
    code = outcomes(criteria, before, after)
    with np.errstate(invalid="ignore"):
        moved = np.nan_to_num(np.sign(v - u), nan=LOSS).astype(np.int8)
    effect = np.where(code == SHIFTED, moved, NOTHING).astype(np.int8)
    effect[code == BETTER], effect[code == WORSE] = TURN * GAIN, TURN * LOSS
    lost, gained = (((x == REFUSED) & (y != REFUSED)).any(axis=0) for x, y in ((b, a), (a, b)))
    effect[:, lost | gained] = NOTHING
    return np.vstack(
        [effect, np.where(lost, REFUSAL * LOSS, np.where(gained, REFUSAL * GAIN, NOTHING)).astype(np.int8)]
    )


class Named:
    """Which changes, or which combinations of changes, are named at each criterion and row: a code for each list of them."""

    def __init__(self, lines: int, rows: int) -> None:
        self.code = np.zeros((lines, rows), dtype=np.int32)
        self.lists: list[tuple[Any, ...]] = [()]
        """Lists by code; the first code stands for an empty one."""
        self._codes: dict[tuple[Any, ...], int] = {(): 0}

    def add(self, where: Any, entry: Any) -> None:
        """Name an entry where ``where`` says so, by line and row."""
        before, inverse = np.unique(self.code[where], return_inverse=True)
        codes = [self._code((*self.lists[code], entry)) for code in before.tolist()]
        if codes:
            self.code[where] = np.array(codes, dtype=np.int32)[inverse]

    def _code(self, entries: tuple[Any, ...]) -> int:
        if entries not in self._codes:
            self._codes[entries] = len(self.lists)
            self.lists.append(entries)
        return self._codes[entries]


class Causes:
    """What is due to which changes, by criterion and row; a last line is for the row itself.

    Changes are named by their keys, of which there is one on a date.
    """

    def __init__(self, criteria: int, rows: int) -> None:
        self.undone, self.alone, self.jointly = (Named(criteria + 1, rows) for _ in range(3))
        self._rows: dict[str, Any] = {}

    def note(self, label: str, rows: Any) -> None:
        """Note of which rows a change, made alone, changes anything."""
        self._rows[label] = self._rows.get(label, False) | rows

    def rows(self, further: Mapping[str, Collection[int]]) -> dict[str, int]:
        """Return of how many rows each change changes anything alone, by its label; ``further`` are rows found elsewhere."""
        counts = {label: int(rows.sum()) for label, rows in self._rows.items()}
        for label, rows in further.items():
            held = self._rows.get(label)
            more = rows if held is None else [row for row in rows if not held[row]]
            counts[label] = counts.get(label, 0) + len(more)
        return counts


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
