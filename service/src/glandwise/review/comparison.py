"""What a change of rules does to cases: verdicts before and after, and which changed value caused each difference.

The core works on flat tables (:mod:`glandwise.case.flat`) of any length, so that a request of ten cases and a corpus
of a million run the same code. A cause is found by taking back one change at a time: if a criterion then stands as it
stood before, that change caused the difference; where no single one does, several act together and none is named.

Rules have dates. Two sets are compared on every date from a day on (today, as a rule) on which anything of either changes,
so that a value in force today is not hidden by one that is dated ahead. A case is told by the date on which it stands worst.

A changed value that no criterion of a judged case hangs on (:mod:`glandwise.review.attribution`) is told apart: that no case
differs says nothing about it.
"""

from __future__ import annotations

import marshal
from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache
from typing import Any, Literal, NamedTuple, TypeVar

import numpy as np

from glandwise.case import flat as corpus
from glandwise.case import flat_cells
from glandwise.case.flat_cells import EMPTY, Cells
from glandwise.contract.base import NAME
from glandwise.contract.comparison import (
    ComparedCase,
    ComparisonThresholds,
    NamedRuleSet,
    PatchedRuleSet,
    RuleSetComparisonRequest,
    WholeRuleSet,
)
from glandwise.engine import Engine, refusal, unquoted
from glandwise.questions.envelope import evaluation as batch
from glandwise.questions.report import general_cautions
from glandwise.review.answers import ENVELOPE, KINDS, OPERATIONS, case_of_row
from glandwise.review.attribution import Causes, Mixture, Reach, effects, taken_back
from glandwise.review.combinations import smallest
from glandwise.review.judged import (
    BETTER,
    LOST,
    OUTCOMES,
    REFUSED,
    SAME,
    SHIFTED,
    WORSE,
    Judged,
    Reading,
    Table,
    outcomes,
)
from glandwise.review.told import Told
from glandwise.review.whole import Asked, Whole, compare_cases
from glandwise.rules import compare
from glandwise.rules.loader import EARLIEST, RuleError, RuleSet, RuleTree, latest, today
from glandwise.rules.mixed import mixed
from glandwise.rules.model import RuleSetData
from glandwise.rules.overlay import Tree

KEPT = 40
"""Rule sets between two that are kept; building one costs as much as judging some hundred cases."""

MOST_WHOLE = 500
"""Cases of a request that are answered whole; each takes some ten milliseconds under each set."""

MOST_ATTRIBUTED = 200
"""Changed values of a request that are taken back one by one; each costs a rule set, and judging cases by it."""


def _out_of_force(like: Judged, start: date) -> Judged:
    """Return a table that a rule set cannot judge, for it is not in force yet."""
    n = len(like.verdict)
    said = f"the rule set is in force from {start} only"
    refused = np.full(like.status.shape, REFUSED)
    return Judged(
        like.criteria, refused, np.full(refused.shape, np.nan), np.full(n, REFUSED), dict.fromkeys(range(n), said)
    )


@dataclass(frozen=True)
class Change:
    """A value that differs between two rule sets, from a date on."""

    change: compare.Change
    as_of: date | None
    """First date looked at on which it differs so; ``None`` where it differs on none of them, but in the past."""
    label: str
    """The key, and the date where the same key differs otherwise on an earlier date."""


@dataclass
class Day:
    """Two rule sets on a date; a set that is not in force yet is ``None``."""

    date: date
    base: RuleSet | None
    candidate: RuleSet | None
    base_tree: Tree
    candidate_tree: Tree
    changes: list[Change]

    @property
    def differs(self) -> bool:
        """Whether anything differs that a criterion could read, or only one of the sets is in force."""
        alone = (self.base is None) != (self.candidate is None)
        return alone or any(item.change.affects_results for item in self.changes)


@dataclass
class Candidate:
    """Two rule sets to be compared, on every date that counts, and what differs between them."""

    base: RuleSet
    """On the first date on which it is in force."""
    candidate: RuleSet
    days: list[Day]
    changes: list[Change]
    criteria: frozenset[str]
    starts: tuple[date, date]
    """Dates from which the sets are in force."""
    since: date
    """First date looked at."""
    _built: dict[Any, RuleSetData] = field(default_factory=dict, repr=False)
    """Sets between the two, kept for the next block of a corpus while they are few."""

    @property
    def same_version(self) -> bool:
        """Whether the content differs though name and version are the same."""
        a, b = self.base, self.candidate
        return (a.name, a.version) == (b.name, b.version) and a.digest != b.digest

    def mixture(self, day: Day, kind: Literal["alone", "without"], changes: Sequence[Change]) -> RuleSetData:
        """Return the data of a day between the two sets.

        ``alone`` is the base with some changes made, ``without`` the candidate with some changes taken back. Where such a
        set could not be loaded (a remedy names a compound that is gone, say), its numbers are put together unchecked:
        nobody proposes to use it.
        """
        key = (day.date, kind, *(item.label for item in changes))
        if key in self._built:
            return self._built[key]
        assert day.base is not None, "a change is made in a set in force"
        assert day.candidate is not None, "a change is taken back from a set in force"
        some = [item.change for item in changes]
        a, b, tree = day.base.data, day.candidate.data, day.base_tree
        if kind == "without":
            a, b, tree = b, a, day.candidate_tree
        back = some if kind == "without" else [compare.inverse(item) for item in some]
        data = mixed(a, tree, back, self.criteria)
        if data is None:
            data = a
            for item in some:
                data = taken_back(data, b, item.path)
        if len(self._built) < KEPT:
            self._built[key] = data
        return data


def pair(
    base: RuleTree, candidate: RuleTree, since: date | None = None, pinned: tuple[date, date] | None = None
) -> Candidate:
    """Set two rule sets up for comparison.

    They are compared on every date from ``since`` on (today when ``None``) on which anything of either changes, and
    besides on the two dates of ``pinned``, the first for the base, the second for the candidate.
    """
    first = since or today()
    points = {first} | {point for tree in (base, candidate) for point in tree.breakpoints if point > first}
    pairs = {(point, point) for point in points} | ({pinned} if pinned is not None else set())
    days: list[Day] = []
    named: dict[str, list[Change]] = {}
    for base_day, day in sorted(pairs, key=lambda two: (two[1], two[0])):
        a = base.at(base_day) if base_day >= base.valid_from else None
        b = candidate.at(day) if day >= candidate.valid_from else None
        if a is None and b is None:
            continue
        before = {} if a is None else compare.as_of(base, base_day)
        after = {} if b is None else compare.as_of(candidate, day)
        found = [] if a is None or b is None else compare.diff(before, after)
        days.append(Day(day, a, b, before, after, [_dated(change, day, named) for change in found]))
    changes = [item for entries in named.values() for item in entries]
    changes += [Change(change, None, change.key) for change in _past(base, candidate, named)]
    return Candidate(
        next(day.base for day in days if day.base is not None) if any(day.base for day in days) else base.newest(),
        next(day.candidate for day in days if day.candidate is not None)
        if any(day.candidate for day in days)
        else candidate.newest(),
        days,
        sorted(changes, key=lambda item: (item.change.path, item.as_of or date.min)),
        base.criteria,
        (base.valid_from, candidate.valid_from),
        first,
    )


def _dated(change: compare.Change, day: date, named: dict[str, list[Change]]) -> Change:
    """Return a change as it was first met, so that one that stays over several dates is one."""
    held = named.setdefault(change.key, [])
    for item in held:
        if (item.change.kind, item.change.before, item.change.after) == (change.kind, change.before, change.after):
            return item
    held.append(Change(change, day, f"{change.key} from {day}" if held else change.key))
    return held[-1]


def _past(base: RuleTree, candidate: RuleTree, named: Mapping[str, Any]) -> Iterator[compare.Change]:
    """Yield what differs between the histories of two sets and on none of the dates they are compared on."""
    if base.valid_from != candidate.valid_from:
        yield compare.Change(
            ("rule_set", "valid_from"),
            "changed",
            base.valid_from,
            candidate.valid_from,
            None,
            None,
            None,
            None,
            ("valid_from",),
        )
    for change in compare.diff(base.tree, candidate.tree):
        inside = any(key.startswith(f"{change.key}.") or change.key.startswith(f"{key}.") for key in named)
        if change.key not in named and not inside:
            yield change


class Named(NamedTuple):
    """Names by which cases are counted, and which of them each row has; what is longer than a name can be is cut."""

    names: list[str]
    which: Any


@dataclass
class Compared:
    """A table judged under both rule sets, each case as on the date on which it stands worst."""

    ids: list[str]
    family: Named
    compound: Named
    criteria: tuple[str, ...]
    before: Judged
    after: Judged
    outcome: Any
    """Code into ``OUTCOMES``, row by row."""
    criterion_outcome: Any
    """The same by criterion and row."""
    days: list[date]
    day: Any
    """Index into ``days``, row by row."""
    criterion_day: Any
    """The same by criterion and row."""
    causes: Causes
    """Changes that caused the difference of a row in a criterion."""
    exercised: set[str] = field(default_factory=set)
    """Labels of the changes that a criterion or an answer read."""
    whole: Whole = field(default_factory=lambda: Whole(()))
    """Answers of other operations."""
    thresholds: ComparisonThresholds = field(default_factory=ComparisonThresholds)
    envelope: Any = None
    """Code into ``OUTCOMES`` of the envelope alone, row by row; ``None`` where nothing else was asked."""

    @property
    def failing(self) -> Any:
        """Whether the envelope failed before and fails after, row by row."""
        return (self.before.verdict == batch.FAIL) & (self.after.verdict == batch.FAIL)

    @property
    def verdict_effect(self) -> Any:
        """Row by row 1 where the verdict of the envelope turns worse or is lost, -1 where it turns better."""
        a, b = self.before.verdict, self.after.verdict
        effect = np.sign(b - a)
        effect = np.where((a == REFUSED) & (b != REFUSED), np.where(b == batch.FAIL, 1, -1), effect)
        return np.where((b == REFUSED) & (a != REFUSED), 1, effect)

    @property
    def criterion_effect(self) -> tuple[Any, Any]:
        """By criterion and row, whether a status is another, and whether only the margin is by more than the threshold."""
        judged = (self.before.status != REFUSED) & (self.after.status != REFUSED) & (self.outcome != LOST)
        turned = judged & (self.before.status != self.after.status)
        with np.errstate(invalid="ignore"):
            moved = np.abs(self.after.utilization - self.before.utilization) > self.thresholds.margin_loss
        return turned, judged & ~turned & moved

    def trips(self, gate: str) -> Any:
        """Return by row whether a case trips a gate."""
        count = len(self.ids)
        trips = (self.verdict_effect > 0) | self.whole.mask(count, "verdict_worse")
        if gate == "design":
            trips |= self.whole.mask(count, "design")
        if gate == "worse":
            turned, moved = self.criterion_effect
            worse = (turned & (self.after.status > self.before.status)) | (
                moved & (self.after.utilization > self.before.utilization)
            )
            trips |= (worse.any(axis=0) & ~self.failing) | self.whole.mask(count, "worse")
        return trips


def _named(table: Mapping[str, Cells], name: str) -> Named:
    cells = next(cells for heading, cells in table.items() if corpus.header(heading)[0] == name)
    places: dict[str, int] = {}
    which = flat_cells.codes(cells, lambda text: places.setdefault(text[: NAME.longest], len(places)))
    if (which == EMPTY).any():
        which = np.where(which == EMPTY, places.setdefault("", len(places)), which)
    return Named(list(places), which)


def compare_table(
    sets: Candidate, cells: Mapping[str, Cells], attribute: bool = True, asked: Asked | None = None,
    cases: Mapping[int, ComparedCase] | None = None,
) -> Compared:  # fmt: skip
    """Judge a table under both rule sets on every date and say what caused each difference.

    With ``asked``, each case is answered by other operations as well; ``cases`` are those that were not read from the table,
    by their rows.
    """
    table = Table(cells)
    ids = table.flat(sets.base.data).ids
    family, compound = _named(cells, "family"), _named(cells, "compound")
    days = [item.date for item in sets.days]
    found: Compared | None = None
    for place, day in enumerate(sets.days):
        if place and not day.differs:
            continue  # nothing could differ
        before, after = _judged(sets, day, table, None if found is None else found.criteria)
        now = _compare_judged(before, after, ids, family, compound, days, place)
        found = now if found is None else _worse_of(found, now)
    assert found is not None, "a comparison has a date"
    for place, day in enumerate(sets.days):
        if day.base is not None and day.candidate is not None and (not place or day.differs):
            _look_into(sets, place, day, table, found, attribute)
    if asked is not None:
        found.thresholds = asked.thresholds
        if set(asked.operations) - {ENVELOPE}:
            known = cases or {}
            refused = (found.before.verdict == REFUSED) & (found.after.verdict == REFUSED)
            cases = {
                row: known[row] if row in known else case_of_row({name: listed[row] for name, listed in rows.items()})
                for rows in ({name: corpus.listed(column) for name, column in cells.items()},)
                for row in np.flatnonzero(~refused).tolist()
            }
            found.whole = compare_cases(sets, cases, asked, attribute)
            found.exercised |= found.whole.exercised
            found.envelope, found.outcome = found.outcome, _overall(found)
    return found


def _overall(found: Compared) -> Any:
    """Return what happened to each case over all its answers: the worst."""
    rank = np.array([0, 1, 2, 3, 4])  # by code of OUTCOMES
    outcome = found.outcome
    for name in found.whole.operations:
        codes = found.whole.outcomes(name, len(found.ids), False)
        lost = found.whole.mask(len(found.ids), "verdict_worse")
        codes = np.where(codes == LOST, np.where(lost, WORSE, SHIFTED), codes)
        outcome = np.where(rank[codes] > rank[outcome], codes, outcome)
    return outcome


def _judged(sets: Candidate, day: Day, table: Table, criteria: tuple[str, ...] | None) -> tuple[Judged, Judged]:
    """Return a table as judged under both rule sets of a date, criteria in the order given, else of the base."""
    a = None if day.base is None else table.under(day.base.data).judged
    b = None if day.candidate is None else table.under(day.candidate.data).judged
    before = a if a is not None else _out_of_force(b, sets.starts[0]) if b is not None else None
    assert before is not None, "one of the sets is in force on a date that is looked at"
    after = b if b is not None else _out_of_force(before, sets.starts[1])
    criteria = criteria or tuple(dict.fromkeys((*before.criteria, *after.criteria)))
    return before.aligned(criteria), after.aligned(criteria)


def _compare_judged(
    before: Judged, after: Judged, ids: list[str], family: Named, compound: Named, days: list[date], place: int
) -> Compared:
    """Compare two judgements of a table on one date."""
    n, criteria = len(ids), before.criteria
    refused = (before.verdict == REFUSED) | (after.verdict == REFUSED)
    by_criterion = outcomes(criteria, (before.status, before.utilization), (after.status, after.utilization))
    by_criterion[:, refused] = LOST
    outcome = (by_criterion != SAME).any(axis=0).astype(np.int8)  # shifted, or the same
    outcome[after.verdict < before.verdict] = BETTER
    outcome[(by_criterion == BETTER).any(axis=0) & (outcome == SHIFTED)] = BETTER
    # a criterion that turns worse makes the case worse even where the verdict stays
    outcome[(by_criterion == WORSE).any(axis=0) | (after.verdict > before.verdict)] = WORSE
    # but for a case that failed already: whoever was told so is told nothing else
    failing = (before.verdict == batch.FAIL) & (after.verdict == batch.FAIL)
    outcome[failing & (outcome != SAME)] = SHIFTED
    outcome[refused] = LOST
    here = np.full(n, place)
    return Compared(
        ids, family, compound, criteria, before, after, outcome, by_criterion, days, here,
        np.broadcast_to(here, by_criterion.shape), Causes(len(criteria), n),
    )  # fmt: skip


def _badness(outcome: Any, before: Any, after: Any) -> Any:
    """Rank what happened, worst highest: no longer judged, worse (by where it ends), better, shifted, never judged, same."""
    order = np.array([0, 3, 4, 5, 1])  # by code of OUTCOMES
    lost = (outcome == LOST) & (before != REFUSED)
    gained = (outcome == LOST) & (before == REFUSED) & (after != REFUSED)
    rank = np.where(lost, 6, np.where(gained, 2, order[outcome]))
    return rank * 8 + np.maximum(after, 0)


def _worse_of(a: Compared, b: Compared) -> Compared:
    """Return of two dates, row by row and criterion by criterion, the one on which it stands worse; the earlier of equals."""
    row = _badness(b.outcome, b.before.verdict, b.after.verdict) > _badness(
        a.outcome, a.before.verdict, a.after.verdict
    )
    outcome = np.where(row, b.outcome, a.outcome)
    # a row that one of the dates refuses is told by the other, unless it is refused on the whole
    ranks = [
        np.where(one.criterion_outcome == LOST, -1, _badness(one.criterion_outcome, batch.PASS, one.after.status))
        for one in (a, b)
    ]
    later = ranks[1] > ranks[0]
    by_criterion = np.where(outcome == LOST, LOST, np.where(later, b.criterion_outcome, a.criterion_outcome))

    def judged(x: Judged, y: Judged) -> Judged:
        faults = {place: (y if row[place] else x).faults.get(place) for place in {**x.faults, **y.faults}}
        told = {place: fault for place, fault in faults.items() if fault is not None}
        return Judged(
            a.criteria, np.where(later, y.status, x.status), np.where(later, y.utilization, x.utilization),
            np.where(row, y.verdict, x.verdict), told,
        )  # fmt: skip

    return Compared(
        a.ids, a.family, a.compound, a.criteria, judged(a.before, b.before), judged(a.after, b.after), outcome, by_criterion,
        a.days, np.where(row, b.day, a.day), np.where(later, b.criterion_day, a.criterion_day), a.causes,
    )  # fmt: skip


def _look_into(sets: Candidate, place: int, day: Day, table: Table, found: Compared, attribute: bool) -> None:
    """Find what the differences that a date is told of are due to, and the changes that its criteria read."""
    assert day.base is not None
    assert day.candidate is not None
    changes = [item for item in day.changes if item.change.affects_results]
    if not changes:
        return
    base, candidate = table.under(day.base.data), table.under(day.candidate.data)
    reaches = Reach(base), Reach(candidate)
    criteria, every = found.criteria, np.arange(len(found.ids))
    before, after = ((one.status, one.utilization) for one in (x.judged.aligned(criteria) for x in (base, candidate)))
    whole = effects(criteria, before, after)
    days = np.vstack([found.criterion_day, found.day])
    told = np.where(days == place, whole, 0)
    rows = np.flatnonzero(told.any(axis=0)) if attribute else np.empty(0, dtype=int)
    open_ = told != 0
    for item in changes:
        alone = _mixture(sets, day, "alone", [item], base, table, reaches[0])
        if attribute and alone is not None:
            # with a single change, what it does alone is what is told
            does = whole if len(changes) == 1 else effects(criteria, before, alone.over(criteria, every))
            found.causes.note(item.label, does.any(axis=0))
            same = (told != 0) & (does == told)
            found.causes.alone.add(same, item.change.key)
            open_ &= ~same
        if attribute and rows.size:
            without = _mixture(sets, day, "without", [item], candidate, table, reaches[1])
            if without is not None:
                here = before[0][:, rows], before[1][:, rows]
                left = effects(criteria, here, without.over(criteria, rows))
                undone = np.zeros(told.shape, dtype=bool)
                undone[:, rows] = (told[:, rows] != 0) & (left == 0)
                found.causes.undone.add(undone, item.change.key)
                if without.differs:
                    found.exercised.add(item.label)
        if item.label not in found.exercised and alone is not None and alone.look():
            found.exercised.add(item.label)
    if attribute and len(changes) > 1 and open_.any():
        _look_for_combinations(sets, day, table, found, (before, told, open_), changes)


def _mixture(
    sets: Candidate, day: Day, kind: Literal["alone", "without"], changes: Sequence[Change], reading: Reading,
    table: Table, reach: Reach,
) -> Mixture | None:  # fmt: skip
    """Return a set between the two over a table, ``None`` where it does not hold together, so that nothing is told by it."""
    try:
        return Mixture(reading, table, reach, sets.mixture(day, kind, changes))
    except ValueError:
        return None


def _look_for_combinations(
    sets: Candidate, day: Day, table: Table, found: Compared, what: tuple[Any, Any, Any], changes: Sequence[Change]
) -> None:
    """Look for the smallest combinations of changes that have the effects that no change has alone."""
    assert day.base is not None
    before, told, open_ = what
    read = [item for item in changes if item.label in found.exercised]
    if len(read) < 2:
        return
    base = table.under(day.base.data)
    reach, criteria = Reach(base), found.criteria
    lines, rows = np.nonzero(open_)

    def judge(some: tuple[int, ...], items: Any) -> Any:
        mixture = _mixture(sets, day, "alone", [read[index] for index in some], base, table, reach)
        if mixture is None:
            return np.zeros(len(items), dtype=bool)
        here, inverse = np.unique(rows[items], return_inverse=True)
        does = effects(criteria, (before[0][:, here], before[1][:, here]), mixture.over(criteria, here))
        return does[lines[items], inverse] == told[lines[items], rows[items]]

    for item, several in smallest(range(len(read)), len(rows), judge).items():
        where = np.zeros(told.shape, dtype=bool)
        where[lines[item], rows[item]] = True
        for some in several:
            found.causes.jointly.add(where, tuple(read[index].change.key for index in some))


GATES = ("verdict", "design", "worse")
"""Gates that a case can trip."""


K = TypeVar("K")


def _add(mine: dict[K, int], theirs: Mapping[K, int]) -> None:
    for key, count in theirs.items():
        mine[key] = mine.get(key, 0) + count


@dataclass
class Totals:
    """Counts over any number of tables; tables may be added in any order."""

    cases: int = 0
    outcomes: dict[str, int] = field(default_factory=lambda: dict.fromkeys(OUTCOMES, 0))
    by_criterion: dict[str, dict[str, int]] = field(default_factory=dict)
    by_family: dict[str, dict[str, int]] = field(default_factory=dict)
    by_compound: dict[str, dict[str, int]] = field(default_factory=dict)
    by_change: dict[str, int] = field(default_factory=dict)
    """By label of the change."""
    exercised: set[str] = field(default_factory=set)
    """Labels of the changes that a criterion or an answer read."""
    by_operation: dict[str, dict[str, int]] = field(default_factory=dict)
    transitions: dict[Transition, int] = field(default_factory=dict)
    trips: dict[str, int] = field(default_factory=lambda: dict.fromkeys(GATES, 0))

    def add(self, found: Compared) -> None:
        """Count one table."""
        self.cases += len(found.ids)
        _count(self.outcomes, found.outcome)
        for criterion, codes in zip(found.criteria, found.criterion_outcome, strict=True):
            _count(self.by_criterion.setdefault(criterion, dict.fromkeys(OUTCOMES, 0)), codes)
        for named, totals in ((found.family, self.by_family), (found.compound, self.by_compound)):
            size = len(named.names), len(OUTCOMES)
            counts = np.bincount(named.which * size[1] + found.outcome, minlength=size[0] * size[1]).reshape(size)
            for name, some in zip(named.names, counts.tolist(), strict=True):
                if not any(some):
                    continue
                held = totals.setdefault(name, dict.fromkeys(OUTCOMES, 0))
                for outcome, count in zip(OUTCOMES, some, strict=True):
                    held[outcome] += count
        for label, count in found.causes.rows(found.whole.by_change).items():
            self.by_change[label] = self.by_change.get(label, 0) + count
        self.exercised |= found.exercised
        envelope = found.outcome if found.envelope is None else found.envelope
        _count(self.by_operation.setdefault(ENVELOPE, dict.fromkeys(OUTCOMES, 0)), envelope)
        refused = (found.before.verdict == REFUSED) & (found.after.verdict == REFUSED)
        for name in found.whole.operations:
            codes = found.whole.outcomes(name, len(found.ids), refused)
            _count(self.by_operation.setdefault(name, dict.fromkeys(OUTCOMES, 0)), codes)
        for transition, count in transitions(found):
            self.transitions[transition] = self.transitions.get(transition, 0) + count
        for gate in GATES:
            self.trips[gate] += int(found.trips(gate).sum())

    def merge(self, other: Totals) -> None:
        """Add the counts of another."""
        self.cases += other.cases
        for name, count in other.outcomes.items():
            self.outcomes[name] += count
        for mine, theirs in (
            (self.by_criterion, other.by_criterion),
            (self.by_family, other.by_family),
            (self.by_compound, other.by_compound),
            (self.by_operation, other.by_operation),
        ):
            for key, counts in theirs.items():
                held = mine.setdefault(key, dict.fromkeys(OUTCOMES, 0))
                for name, count in counts.items():
                    held[name] += count
        _add(self.by_change, other.by_change)
        _add(self.transitions, other.transitions)
        _add(self.trips, other.trips)
        self.exercised |= other.exercised

    def plain(self) -> dict[str, Any]:
        """Return the counts as a plain dict with sorted keys."""
        return {
            "cases": self.cases,
            "outcomes": dict(self.outcomes),
            **{
                name: {key: dict(value) for key, value in sorted(getattr(self, name).items())}
                for name in ("by_criterion", "by_family", "by_compound")
            },
            "by_operation": {name: self.by_operation[name] for name in OPERATIONS if name in self.by_operation},
            "transitions": [
                {**transition._asdict(), "cases": count}
                for transition, count in sorted(self.transitions.items(), key=lambda item: (item[0].gravity, -item[1]))
            ],
            "trips": dict(self.trips),
            "by_change": dict(sorted(self.by_change.items())),
            "exercised": sorted(self.exercised),
        }


class Transition(NamedTuple):
    """One way in which answers change."""

    operation: str
    kind: str
    subject: str | None
    effect: str
    before: str | None
    after: str | None

    @property
    def gravity(self) -> tuple[Any, ...]:
        """Order in which transitions are told, worst first."""
        order = {"worse": 0, "changed": 1, "better": 2}[self.effect]
        return order, KINDS.index(self.kind), OPERATIONS.index(self.operation), *(text or "" for text in self[2:])


_EFFECT = {-1: "better", 0: "changed", 1: "worse"}


def transitions(found: Compared) -> Iterator[tuple[Transition, int]]:
    """Yield in which ways the answers to the cases of a table change, and of how many cases."""
    words = (*batch.STATUSES, "refused")
    a, b = found.before.verdict, found.after.verdict
    yield from _pairs("verdict", None, a, b, found.verdict_effect, a != b, words)
    turned, moved = found.criterion_effect
    for place in np.flatnonzero((turned | moved).any(axis=1)).tolist():
        name = found.criteria[place]
        x, y = found.before.status[place], found.after.status[place]
        yield from _pairs("criterion", name, x, y, np.where(found.failing, 0, np.sign(y - x)), turned[place], words)
        u, v = found.before.utilization[place], found.after.utilization[place]
        with np.errstate(invalid="ignore"):
            lost = np.where(found.failing | np.isnan(u) | np.isnan(v), 0, np.sign(v - u)).astype(int)
        for effect, count in zip(*np.unique(lost[moved[place]], return_counts=True), strict=True):
            yield Transition(ENVELOPE, "margin", name, _EFFECT[int(effect)], None, None), int(count)
    counts: dict[Transition, int] = {}
    for some in found.whole.differences.values():
        for item in some:
            for told in item.turns:
                turn = told.turn
                ends = (None, None) if turn.kind == "design" else (turn.before, turn.after)
                key = Transition(item.operation, turn.kind, turn.subject, turn.effect, *ends)
                counts[key] = counts.get(key, 0) + 1
    yield from counts.items()


def _pairs(
    kind: str, subject: str | None, before: Any, after: Any, effect: Any, where: Any, words: Sequence[str]
) -> Iterator[tuple[Transition, int]]:
    """Count what differs by the words before and after, and by the effect."""
    if not where.any():
        return
    found = np.stack([before[where], after[where], effect[where]])
    ways, counts = np.unique(found, axis=1, return_counts=True)
    for (x, y, step), count in zip(ways.T.tolist(), counts.tolist(), strict=True):
        yield Transition(ENVELOPE, kind, subject, _EFFECT[step], words[x], words[y]), count


def _count(totals: dict[str, int], codes: Any) -> None:
    for name, count in zip(OUTCOMES, np.bincount(codes, minlength=len(OUTCOMES)).tolist(), strict=True):
        totals[name] += count


# -------------------------------------------------------------------------------------------------------------- request


def named_tree(engine: Engine, name: str, day: date | None, location: tuple[str, ...]) -> RuleTree:
    """Return a rule set by name, refused when it is not held or was not in force on the day."""
    tree = engine.store.get(name)
    if tree is None:
        raise refusal(
            "unknown_name",
            (*location, "name"),
            "no rule set of this name",
            "one of: " + ", ".join(sorted(engine.store.trees)),
        )
    if day is not None and day < tree.valid_from:
        raise refusal(
            "out_of_domain", (*location, "as_of"), "the rule set was not in force yet", f"{tree.valid_from} or later"
        )
    check_day(day, (*location, "as_of"))
    return tree


def check_day(day: date | None, location: tuple[str, ...]) -> None:
    """Refuse a date that cannot be meant."""
    if day is not None and not EARLIEST <= day <= latest():
        raise refusal("out_of_domain", location, "the date is too far from today", f"{EARLIEST} to {latest()}")


HELD = 4
"""Candidates of requests that are kept: a corpus comes in many requests, of which each sends the same one."""


class _Sent:
    """A candidate that was sent on a day, known again by its content; the day tells which dates can be meant."""

    def __init__(self, candidate: PatchedRuleSet | WholeRuleSet, day: date) -> None:
        self.candidate = candidate
        if isinstance(candidate, WholeRuleSet):
            stated: Any = candidate.rule_set, candidate.parents
        else:
            stated = candidate.patch
        self._content: Any = self
        with suppress(ValueError):  # of what nests so deeply that it is refused
            self._content = marshal.dumps(stated, 2)
        self._key = (type(candidate), day)

    def __eq__(self, other: object) -> bool:
        if self is other:
            return True
        return isinstance(other, _Sent) and self._key == other._key and self._content == other._content

    def __hash__(self) -> int:
        return hash((self._key, self._content if isinstance(self._content, bytes) else id(self)))


@lru_cache(maxsize=HELD)
def _sent_tree(base: RuleTree, sent: _Sent) -> RuleTree:
    """Return the rule tree that was sent, checked."""
    candidate = sent.candidate
    if isinstance(candidate, WholeRuleSet):
        parents = [compare.from_json(item) for item in candidate.parents]
        return compare.whole(base, compare.from_json(candidate.rule_set), parents)
    return compare.patched(base, compare.from_json(candidate.patch))


_held_pair = lru_cache(maxsize=HELD)(pair)


def candidate_tree(engine: Engine, base: RuleTree, candidate: Any) -> tuple[RuleTree, date | None]:
    """Return the rule tree a request proposes, and its date."""
    if isinstance(candidate, NamedRuleSet):
        return named_tree(engine, candidate.name, candidate.as_of, ("candidate",)), candidate.as_of
    try:
        return _sent_tree(base, _Sent(candidate, today())), None
    except RuleError as error:
        layer, _, index = error.file.partition("/")
        parent = layer == "parents"
        field = "rule_set" if isinstance(candidate, WholeRuleSet) else "patch"
        place = ("parents", int(index.partition("/")[0])) if parent else (field,)
        raise refusal(
            "out_of_domain",
            ("candidate", *place, *error.path),
            unquoted(error.fault),
            error.accepted or "see the schema of the file",
        ) from None


def _plain(value: Any) -> Any:
    """Write a rule value as JSON."""
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, dict):
        return {key: _plain(entry) for key, entry in value.items()}
    if isinstance(value, list):
        return [_plain(entry) for entry in value]
    return value


def rules_stamp(rules: RuleSet) -> dict[str, Any]:
    """Write which rules were used."""
    return {"name": rules.name, "version": rules.version, "digest": rules.digest, "as_of": rules.as_of.isoformat()}


def written_changes(
    changes: Sequence[Change], counts: Mapping[str, int], exercised: Collection[str] | None = None
) -> list[dict[str, Any]]:
    """Write the changes between two rule sets; ``exercised`` are the labels of those that a criterion read."""
    return [
        {
            "key": item.change.key,
            "kind": item.change.kind,
            "before": _plain(item.change.before),
            "after": _plain(item.change.after),
            "unit": item.change.unit,
            "source": item.change.source,
            "evidence": item.change.evidence,
            "evidence_before": item.change.evidence_before,
            "fields": list(item.change.fields),
            "as_of": None if item.as_of is None else item.as_of.isoformat(),
            "exercised": None if exercised is None else item.label in exercised,
            "cases": counts.get(item.label, 0),
        }
        for item in changes
    ]


def verdict_of(outcomes: Mapping[str, int], unexercised: int = 0) -> str:
    """Return the verdict on a change of rules from the cases by outcome and the changes that no criterion read."""
    if outcomes["worse"] or outcomes["refused"]:
        return "fail"
    return "caution" if outcomes["better"] or outcomes["shifted"] or unexercised else "pass"


def summary(cases: int, changes: int, outcomes: Mapping[str, int], unexercised: int = 0, dates: int = 1) -> str:
    """Say a comparison in one sentence."""
    parts = [f"{outcomes[name]} {word}" for name, word in _WORDS.items() if outcomes[name]]
    said = counted(changes, "changed value") + (f" ({unexercised} not exercised)" if unexercised else "")
    on = f" on {dates} dates" if dates > 1 else ""
    return f"{said}, {counted(cases, 'case')}{on}: {', '.join(parts)}."


def report(sets: Candidate, totals: Totals) -> dict[str, Any]:
    """Write what a comparison of any number of cases found, but for the cases."""
    unexercised = sum(item.label not in totals.exercised for item in sets.changes)
    counts = totals.plain()
    return {
        "verdict": verdict_of(totals.outcomes, unexercised),
        "summary": summary(totals.cases, len(sets.changes), totals.outcomes, unexercised, len(sets.days)),
        "base": rules_stamp(sets.base),
        "candidate": rules_stamp(sets.candidate),
        "same_version": sets.same_version,
        "from_date": sets.since.isoformat(),
        "dates": [day.date.isoformat() for day in sets.days],
        "changes": written_changes(sets.changes, totals.by_change, totals.exercised),
        "counts": counts["outcomes"],
        **{
            name: counts[name]
            for name in ("transitions", "trips", "by_operation", "by_criterion", "by_family", "by_compound")
        },
    }


def counted(number: int, noun: str) -> str:
    """Write a number with its noun."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


_WORDS = {
    "worse": "worse",
    "better": "better",
    "shifted": "shifted in margin",
    "same": "the same",
    "refused": "not judged",
}


def compare_sets(request: RuleSetComparisonRequest, engine: Engine) -> dict[str, Any]:
    """Answer a comparison of rule sets."""
    check_day(request.from_date, ("from_date",))
    base = named_tree(engine, request.base.name, request.base.as_of, ("base",))
    other, other_day = candidate_tree(engine, base, request.candidate)
    since = request.from_date or today()
    days = (request.base.as_of or other_day, other_day or request.base.as_of)
    sets = _held_pair(base, other, since, None if days[0] is None or days[1] is None else (days[0], days[1]))
    affecting = sum(item.change.affects_results for item in sets.changes)
    if request.attribute and affecting > MOST_ATTRIBUTED:
        raise refusal("out_of_domain", ("candidate",),
                      f"{affecting} values differ, too many to take each back by itself",
                      f"at most {MOST_ATTRIBUTED} changed values, or attribute: false")  # fmt: skip
    for position, case in enumerate(request.cases):
        if case.design.compound_properties is not None:
            raise refusal("out_of_domain", ("cases", position, "design", "compound_properties"),
                          "properties of the caller's own do not depend on the rules", "a compound of the rule sets")  # fmt: skip
    cases = request.cases
    table = corpus.tabled(
        [case.case_id for case in cases], [case.duty for case in cases], [case.design for case in cases]
    )
    whole = set(request.operations) - {ENVELOPE}
    if whole and len(cases) > MOST_WHOLE:
        raise refusal("out_of_domain", ("cases",), f"{len(cases)} cases, too many to answer each whole",
                      f"at most {MOST_WHOLE} cases, or operations: [\"{ENVELOPE}\"]")  # fmt: skip
    asked = Asked(tuple(name for name in OPERATIONS if name in request.operations), request.thresholds)
    found = compare_table(sets, table, request.attribute, asked, dict(enumerate(cases)))
    totals = Totals()
    totals.add(found)
    dated = request.model_copy(update={"from_date": since})  # the dates that are compared belong to the question
    return {
        **report(sets, totals),
        "cases": Told.of(found, request.include_unchanged).rows(),
        "stamp": engine.stamp("compare_rule_sets", dated, sets.base),
        "assumptions": [],
        "cautions": general_cautions(sets.base.data),
    }
