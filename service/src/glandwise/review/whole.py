"""Whole answers to cases under two rule sets: what customers were told before, what they would be told after, and why.

Each case is answered as a customer's question is, by every operation asked for. An answer that differs is told with what
changed of it, and each of those with the changes that have the effect alone, those that undo it when they are taken back, and,
where no change has it alone, the smallest combinations that have it.

Not answered again is a case that reads nothing that differs: what stands in one entry of a table of names is read by the
cases that name it, and by what chooses among all names. With a single change, what it does alone is what is told already.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from glandwise.patience import rest
from glandwise.review import answers, combinations
from glandwise.review.answers import BETTER, ENVELOPE, WORSE, Asker, Facts, Turn, all_turns, told_verdict
from glandwise.review.judged import BETTER as TURNED_BETTER
from glandwise.review.judged import LOST, SAME, SHIFTED
from glandwise.review.judged import WORSE as TURNED_WORSE

if TYPE_CHECKING:
    from glandwise.contract.comparison import ComparedCase, ComparisonThresholds
    from glandwise.review.comparison import Candidate, Change, Day

_NAMED: Mapping[str, tuple[str, ...]] = {
    "compounds": ("design", "compound"),
    "fluids": ("duty", "fluid"),
}
"""Tables of which a case with a design reads the entry that it names."""
_CHOOSES = frozenset({"select_design"})
"""Operations that read every entry of every table."""
TOGETHER = 8
"""Answers of which the causes are looked for together: what is worked out of a rule set serves all of them."""


class Asked(NamedTuple):
    """What is asked of each case beside the envelope."""

    operations: tuple[str, ...]
    thresholds: ComparisonThresholds


class ToldTurn(NamedTuple):
    """One thing that changed of an answer, and why."""

    turn: Turn
    alone: tuple[str, ...] = ()
    caused_by: tuple[str, ...] = ()
    jointly: tuple[tuple[str, ...], ...] = ()


@dataclass
class Difference:
    """An answer that differs."""

    operation: str
    outcome: int
    before: Facts
    after: Facts
    day: int
    """Index of the date on which it stands so."""
    turns: list[ToldTurn]

    @property
    def verdict_worse(self) -> bool:
        """Whether the verdict turns worse, or is lost."""
        return any(item.turn.kind == "verdict" and item.turn.effect == WORSE for item in self.turns)

    @property
    def worse(self) -> bool:
        """Whether anything turns worse."""
        return any(item.turn.effect == WORSE for item in self.turns)

    @property
    def design(self) -> bool:
        """Whether another design is proposed."""
        return any(item.turn.kind == "design" for item in self.turns)

    @property
    def badness(self) -> tuple[int, int]:
        """How bad it is, for choosing among dates."""
        rank = {LOST: 3, TURNED_WORSE: 3, TURNED_BETTER: 1, SHIFTED: 2 if self.worse else 1, SAME: 0}[self.outcome]
        if self.outcome == LOST and self.after.fault is None:
            rank = 3 if self.worse else 1
        return rank, answers.RANK[told_verdict(self.after)]


@dataclass
class Whole:
    """What was found of the answers to some cases."""

    operations: tuple[str, ...]
    differences: dict[int, list[Difference]] = field(default_factory=dict)
    """By row of the table, in the order of the operations."""
    answered: int = 0
    """Cases that were put to the operations."""
    exercised: set[str] = field(default_factory=set)
    """Labels of changes that an answer hangs on."""
    by_change: dict[str, set[int]] = field(default_factory=dict)
    """Rows of which a change, made alone, changes an answer."""

    def mask(self, count: int, which: str) -> Any:
        """Return by row whether an answer is of some kind; ``which`` is a property of a difference."""
        found = np.zeros(count, dtype=bool)
        for row, some in self.differences.items():
            found[row] = any(getattr(item, which) for item in some)
        return found

    def outcomes(self, operation: str, count: int, refused: Any) -> Any:
        """Return by row what happened to the answers of an operation; ``refused`` are rows that nobody can answer."""
        found = np.zeros(count, dtype=np.int8)
        for row, some in self.differences.items():
            for item in some:
                if item.operation == operation:
                    found[row] = item.outcome
        found[refused] = LOST
        return found


def outcome_of(before: Facts, after: Facts, turns: Sequence[Turn]) -> int:
    """Say what happened to an answer."""
    if (before.fault is None) != (after.fault is None):
        return LOST
    graver = {turn.effect for turn in turns if turn.kind in ("verdict", "criterion")}
    if WORSE in graver:
        return TURNED_WORSE
    if BETTER in graver:
        return TURNED_BETTER
    return SHIFTED


def same(before: Facts, after: Facts) -> bool:
    """Tell whether two answers tell the same."""
    return before == after or (before.fault is not None and after.fault is not None)


class _Sides:
    """Two rule sets of a date, and everything between them, asked about single cases."""

    def __init__(self, sets: Candidate, day: Day, operations: Sequence[str]) -> None:
        self.sets, self.day, self.operations = sets, day, operations
        self._askers: dict[Any, Asker | None] = {}

    def asker(self, which: Any) -> Asker | None:
        """Return who answers by the base, by the candidate, or by a mixture of both: ``None`` where it cannot be used."""
        if which not in self._askers:
            self._askers[which] = self._made(which)
        return self._askers[which]

    def _made(self, which: Any) -> Asker | None:
        day = self.day
        if which == "base":
            return None if day.base is None else Asker(day.base.data, day.base, self.operations)
        if which == "candidate":
            return None if day.candidate is None else Asker(day.candidate.data, day.candidate, self.operations)
        kind, *changes = which
        assert day.base is not None
        assert day.candidate is not None
        data = self.sets.mixture(day, kind, tuple(day.changes[index] for index in changes))
        return Asker(data, day.candidate, self.operations)


def _reads(change: Change, case: ComparedCase, operation: str) -> bool:
    """Tell whether an operation may read a changed value for a case."""
    file, *inside = change.change.path
    if operation in _CHOOSES or file not in _NAMED or not inside:
        return True
    part, name = _NAMED[file]
    return bool(getattr(getattr(case, part), name) == inside[0])


def compare_cases(sets: Candidate, cases: Mapping[int, ComparedCase], asked: Asked, attribute: bool = True) -> Whole:
    """Answer cases, by the row that each stands in, under both sets on every date, and say why answers differ."""
    operations = tuple(name for name in asked.operations if name != ENVELOPE)
    found = Whole(operations, answered=len(cases))
    held: dict[tuple[int, str], Difference] = {}
    for place, day in enumerate(sets.days):
        if day.base is None or day.candidate is None or not day.changes:
            continue  # the envelope tells that a set is not in force; equal sets answer alike
        sides = _Sides(sets, day, operations)
        for row, case in cases.items():
            some = [name for name in operations if any(_reads(item, case, name) for item in day.changes)]
            for item in _differences(sides, case, some, asked, place):
                key = row, item.operation
                if key not in held or item.badness > held[key].badness:
                    held[key] = item
    for place, day in enumerate(sets.days):
        here = {key: item for key, item in held.items() if item.day == place}
        if attribute and here:
            _Search(_Sides(sets, day, operations), cases, here, asked.thresholds, found).explain()
    for row, name in sorted(held, key=lambda key: (key[0], operations.index(key[1]))):
        found.differences.setdefault(row, []).append(held[row, name])
    return found


def _differences(
    sides: _Sides, case: ComparedCase, operations: Sequence[str], asked: Asked, place: int
) -> Iterable[Difference]:
    if not operations:
        return
    rest()
    base, candidate = sides.asker("base"), sides.asker("candidate")
    assert base is not None
    assert candidate is not None
    before, after = base.ask(case, operations), candidate.ask(case, operations)
    for name in operations:
        if name in before and name in after and not same(before[name], after[name]):
            turns = all_turns(name, before[name], after[name], asked.thresholds)
            outcome = outcome_of(before[name], after[name], turns)
            yield Difference(name, outcome, before[name], after[name], place, [ToldTurn(turn) for turn in turns])


class _Search:
    """Looks for the causes of differences of one date."""

    def __init__(
        self, sides: _Sides, cases: Mapping[int, ComparedCase], here: Mapping[tuple[int, str], Difference],
        thresholds: ComparisonThresholds, found: Whole,
    ) -> None:  # fmt: skip
        self.sides, self.cases, self.here, self.thresholds, self.found = sides, cases, here, thresholds, found
        self.changes = sides.day.changes
        self._facts: dict[tuple[Any, int, str], Facts | None] = {}

    def facts(self, which: Any, row: int, operation: str) -> Facts | None:
        """Answer a case by a mixture; ``None`` where that cannot be used."""
        key = which, row, operation
        if key not in self._facts:
            rest()
            asker = self.sides.asker(which)
            assert asker is not None, "both sets are in force on a date that is looked into"
            try:
                self._facts[key] = asker.ask(self.cases[row], [operation]).get(operation)
            except (KeyError, ValueError):  # a set that could not be loaded, whose names do not hold together
                self._facts[key] = None
        return self._facts[key]

    def explain(self) -> None:
        """Find what each difference is due to."""
        keys = list(self.here)
        for start in range(0, len(keys), TOGETHER):
            some = keys[start : start + TOGETHER]
            self._answer(some)
            for row, name in some:
                self._explain(row, name, self.here[row, name])
            self._facts.clear()

    def _may(self, row: int, name: str) -> list[int]:
        """Return which changes an operation may read for a case."""
        return [index for index, change in enumerate(self.changes) if _reads(change, self.cases[row], name)]

    def _answer(self, keys: Sequence[tuple[int, str]]) -> None:
        """Answer some cases with each change alone, and without it: all by one set before the next one is put together."""
        several = {key: may for key in keys if len(may := self._may(*key)) > 1}
        for index in range(len(self.changes)):
            for kind in ("alone", "without"):
                for (row, name), may in several.items():
                    if index in may:
                        self.facts((kind, index), row, name)

    def _explain(self, row: int, name: str, item: Difference) -> None:
        may = self._may(row, name)
        alone: dict[int, Facts | None] = {}
        without: dict[int, Facts | None] = {}
        for index in may:
            only = len(may) == 1
            alone[index] = item.after if only else self.facts(("alone", index), row, name)
            without[index] = item.before if only else self.facts(("without", index), row, name)
            label = self.changes[index].label
            if (one := alone[index]) is not None and not same(item.before, one):
                self.found.by_change.setdefault(label, set()).add(row)
                self.found.exercised.add(label)
            elif (one := without[index]) is not None and not same(item.after, one):
                self.found.exercised.add(label)
        effects = {index: self._about(name, item.before, facts) for index, facts in alone.items()}
        left = {index: self._about(name, item.before, facts, "left") for index, facts in without.items()}
        joint = self._joint(row, name, item, may, effects)
        item.turns = [
            ToldTurn(
                told.turn,
                self._keys(index for index in may if told.turn.about in effects[index]),
                self._keys(
                    index for index in may if left[index] is not None and told.turn.about[:2] not in left[index]
                ),
                joint.get(place, ()),
            )
            for place, told in enumerate(item.turns)
        ]

    def _about(self, name: str, before: Facts, facts: Facts | None, form: str = "") -> Any:
        """Return what differs from before; of a set that cannot be used nothing is known."""
        if facts is None:
            return None if form else frozenset()
        turns = all_turns(name, before, facts, self.thresholds)
        return frozenset(turn.about[:2] if form else turn.about for turn in turns)

    def _keys(self, indices: Iterable[int]) -> tuple[str, ...]:
        return tuple(self.changes[index].change.key for index in indices)

    def _joint(
        self, row: int, name: str, item: Difference, may: Sequence[int], effects: Mapping[int, Any]
    ) -> dict[int, tuple[tuple[str, ...], ...]]:
        """Return by place of a turn the smallest combinations that have its effect where no change has it alone."""
        if len(may) < 2:
            return {}
        open_ = [
            place
            for place, told in enumerate(item.turns)
            if not any(told.turn.about in effects[index] for index in may)
        ]

        def judge(some: tuple[int, ...], items: Any) -> list[bool]:
            about = self._about(name, item.before, self.facts(("alone", *some), row, name))
            return [item.turns[open_[one]].turn.about in about for one in items.tolist()]

        combined = combinations.smallest(may, len(open_), judge)
        return {open_[one]: tuple(self._keys(some) for some in several) for one, several in combined.items()}
