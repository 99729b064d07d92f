"""What a change of rules does to cases: verdicts before and after, and which changed value caused each difference.

The core works on flat tables (:mod:`glandwise.case.flat`) of any length, so that a request of ten cases and a corpus
of a million run the same code. A cause is found by taking back one change at a time: if a criterion then stands as it
stood before, that change caused the difference; where no single one does, several act together and none is named.

Rules have dates. Two sets are compared on every date from a day on (today, as a rule) on which anything of either changes,
so that a value in force today is not hidden by one that is dated ahead. A case is told by the date on which it stands worst.

A changed value that no criterion of a judged case hangs on (:mod:`glandwise.review.exercise`) is told apart: that no case
differs says nothing about it.
"""

from __future__ import annotations

import contextlib
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

import numpy as np

from glandwise.case import flat as corpus
from glandwise.case import flat_cells
from glandwise.case.flat_cells import Cells
from glandwise.contract.base import NAME
from glandwise.contract.comparison import NamedRuleSet, RuleSetComparisonRequest, WholeRuleSet
from glandwise.engine import Engine, refusal, unquoted
from glandwise.questions.envelope import evaluation as batch
from glandwise.questions.report import general_cautions
from glandwise.review.exercise import exercised
from glandwise.rules import compare
from glandwise.rules.loader import EARLIEST, RuleError, RuleSet, RuleTree, latest, today
from glandwise.rules.model import RuleSetData
from glandwise.rules.overlay import Tree

REFUSED = -1
"""Verdict code of a row that a rule set cannot judge."""
SHIFT = 1e-6
"""Difference of utilization from which a margin counts as shifted; below lies the noise of solving to a tolerance."""
SOLVED_SHIFT = 1e-3
"""The same for the contact temperature, which is solved to 0.01 K."""

KEPT = 32
"""Rule sets with one change taken back that are kept; building one costs as much as judging some hundred cases."""

MOST_ATTRIBUTED = 200
"""Changed values of a request that are taken back one by one; each costs a rule set, and judging cases by it."""

OUTCOMES = ("same", "shifted", "better", "worse", "refused")


@dataclass
class Judged:
    """A table judged under one rule set, row by row."""

    ids: list[str]
    criteria: tuple[str, ...]
    status: dict[str, Any]
    utilization: dict[str, Any]
    verdict: Any
    faults: dict[int, str]


def judge(data: RuleSetData, table: Mapping[str, Cells], flat: corpus.Flat | None = None) -> Judged:
    """Judge every row of a table, ``flat`` when it is read already; refused rows get the code ``REFUSED`` everywhere."""
    flat = corpus.read(data, table) if flat is None else flat
    n = len(flat.ids)
    status = {}
    utilization = {}
    verdict = np.full(n, REFUSED)
    found = batch.evaluate(data, flat.rows)
    for name in found.criteria:
        status[name] = np.full(n, REFUSED)
        status[name][flat.index] = found.status[name]
    for name, used in found.utilization.items():
        utilization[name] = np.full(n, np.nan)
        utilization[name][flat.index] = used
    verdict[flat.index] = found.verdict
    return Judged(flat.ids, found.criteria, status, utilization, verdict, flat.faults)


def _out_of_force(ids: Sequence[str], start: date) -> Judged:
    """Return a table that a rule set cannot judge, for it is not in force yet."""
    n = len(ids)
    said = f"the rule set is in force from {start} only"
    return Judged(list(ids), (), {}, {}, np.full(n, REFUSED), dict.fromkeys(range(n), said))


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
    _built: dict[tuple[date, str], RuleSetData | None] = field(default_factory=dict, repr=False)
    """Sets with one change taken back, kept for the next block of a corpus while they are few."""

    @property
    def same_version(self) -> bool:
        """Whether the content differs though name and version are the same."""
        a, b = self.base, self.candidate
        return (a.name, a.version) == (b.name, b.version) and a.digest != b.digest

    def without(self, day: Day, change: compare.Change) -> RuleSetData | None:
        """Return the candidate's data of a day with one change taken back; ``None`` when that set cannot be used."""
        key = (day.date, change.key)
        if key in self._built:
            return self._built[key]
        tree = compare.without(day.candidate_tree, change)
        data: RuleSetData | None = None
        with contextlib.suppress(RuleError):
            data = RuleTree(tree, (), self.criteria).newest().data
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
            ("valid_from",),
        )
    for change in compare.diff(base.tree, candidate.tree):
        inside = any(key.startswith(f"{change.key}.") or change.key.startswith(f"{key}.") for key in named)
        if change.key not in named and not inside:
            yield change


@dataclass
class Compared:
    """A table judged under both rule sets, each case as on the date on which it stands worst."""

    ids: list[str]
    family: list[str]
    compound: list[str]
    criteria: tuple[str, ...]
    before: Judged
    after: Judged
    outcome: Any
    """Code into ``OUTCOMES``, row by row."""
    criterion_outcome: dict[str, Any]
    """The same for each criterion."""
    days: list[date]
    day: Any
    """Index into ``days``, row by row."""
    criterion_day: dict[str, Any]
    """The same for each criterion."""
    causes: dict[tuple[int, str], list[Change]] = field(default_factory=dict)
    """Changes that caused the difference of a row in a criterion."""
    exercised: set[str] = field(default_factory=set)
    """Labels of the changes that a criterion read."""


def _names(table: Mapping[str, Cells], name: str) -> list[str]:
    """Names by which cases are counted; what is longer than a name can be is cut."""
    cells = next(cells for heading, cells in table.items() if corpus.header(heading)[0] == name)
    return [flat_cells.text(cell)[: NAME.longest] for cell in corpus.listed(cells)]


def _outcome(name: str, a: Judged, b: Judged, n: int) -> Any:
    """Outcome of one criterion, row by row."""
    none = np.full(n, batch.PASS)
    before, after = a.status.get(name, none), b.status.get(name, none)
    nothing = np.full(n, np.nan)
    u, v = a.utilization.get(name, nothing), b.utilization.get(name, nothing)
    with np.errstate(invalid="ignore"):
        moved = np.abs(v - u) > (SOLVED_SHIFT if name == "contact_temperature" else SHIFT) * np.maximum(np.abs(u), 1.0)
    # one of both without a number is a shift too, when the status stays
    moved |= np.isnan(u) != np.isnan(v)
    code = np.where(moved, OUTCOMES.index("shifted"), OUTCOMES.index("same"))
    code = np.where(after < before, OUTCOMES.index("better"), code)
    code = np.where(after > before, OUTCOMES.index("worse"), code)
    return np.where((before == REFUSED) | (after == REFUSED), OUTCOMES.index("refused"), code)


def compare_table(sets: Candidate, table: Mapping[str, Cells], attribute: bool = True) -> Compared:
    """Judge a table under both rule sets on every date and say what caused each difference."""
    held: dict[int, tuple[corpus.Flat, Judged]] = {}

    def read(rules: RuleSet) -> tuple[corpus.Flat, Judged]:
        if id(rules.data) not in held:
            flat = corpus.read(rules.data, table)
            held[id(rules.data)] = (flat, judge(rules.data, table, flat))
        return held[id(rules.data)]

    def judged(rules: RuleSet | None, start: date) -> Judged:
        return _out_of_force(ids, start) if rules is None else read(rules)[1]

    ids = read(sets.base)[0].ids
    found: Compared | None = None
    labels: set[str] = set()
    for place, day in enumerate(sets.days):
        if place and not day.differs:
            continue  # nothing could differ
        before, after = judged(day.base, sets.starts[0]), judged(day.candidate, sets.starts[1])
        now = _compare_judged(before, after, table, [item.date for item in sets.days], place)
        found = now if found is None else _worse_of(found, now)
        open_ = [item for item in day.changes if item.label not in labels]
        if day.base is not None and day.candidate is not None and open_:
            flat = read(day.candidate)[0]
            told = exercised(day.base.data, day.candidate.data, [item.change for item in open_], flat,
                             lambda data: corpus.read(data, table))  # fmt: skip
            labels |= {item.label for item, yes in zip(open_, told, strict=True) if yes}
    assert found is not None, "a comparison has a date"
    found.exercised = labels
    if attribute:
        for place, day in enumerate(sets.days):
            _attribute(sets, place, day, table, found, judged)
    return found


def _compare_judged(
    before: Judged, after: Judged, table: Mapping[str, Cells], days: list[date], place: int
) -> Compared:
    """Compare two judgements of a table on one date."""
    n = len(before.verdict)
    criteria = tuple(dict.fromkeys((*before.criteria, *after.criteria)))
    refused = (before.verdict == REFUSED) | (after.verdict == REFUSED)
    by_criterion = {
        name: np.where(refused, OUTCOMES.index("refused"), _outcome(name, before, after, n)) for name in criteria
    }
    stacked = np.array([np.zeros(n, dtype=int), *by_criterion.values()])
    shifted = (stacked != OUTCOMES.index("same")).any(axis=0)
    outcome = np.where(shifted, OUTCOMES.index("shifted"), OUTCOMES.index("same"))
    outcome = np.where(after.verdict < before.verdict, OUTCOMES.index("better"), outcome)
    # a criterion that turns worse makes the case worse even where the verdict stays
    worse = (stacked == OUTCOMES.index("worse")).any(axis=0) | (after.verdict > before.verdict)
    better = (stacked == OUTCOMES.index("better")).any(axis=0) & (outcome == OUTCOMES.index("shifted"))
    outcome = np.where(better, OUTCOMES.index("better"), outcome)
    outcome = np.where(worse, OUTCOMES.index("worse"), outcome)
    outcome = np.where(refused, OUTCOMES.index("refused"), outcome)
    here = np.full(n, place)
    return Compared(
        before.ids, _names(table, "family"), _names(table, "compound"), criteria, before, after, outcome, by_criterion,
        days, here, dict.fromkeys(criteria, here),
    )  # fmt: skip


def _badness(outcome: Any, before: Any, after: Any) -> Any:
    """Rank what happened, worst highest: no longer judged, worse (by where it ends), better, shifted, never judged, same."""
    order = np.array([0, 3, 4, 5, 1])  # by code of OUTCOMES
    lost = (outcome == OUTCOMES.index("refused")) & (before != REFUSED)
    gained = (outcome == OUTCOMES.index("refused")) & (before == REFUSED) & (after != REFUSED)
    rank = np.where(lost, 6, np.where(gained, 2, order[outcome]))
    return rank * 8 + np.maximum(after, 0)


def _worse_of(a: Compared, b: Compared) -> Compared:
    """Return of two dates, row by row and criterion by criterion, the one on which it stands worse; the earlier of equals."""
    n = len(a.ids)
    none, nothing = np.full(n, batch.PASS), np.full(n, np.nan)
    row = _badness(b.outcome, b.before.verdict, b.after.verdict) > _badness(
        a.outcome, a.before.verdict, a.after.verdict
    )
    outcome = np.where(row, b.outcome, a.outcome)
    refused = outcome == OUTCOMES.index("refused")
    criteria = tuple(dict.fromkeys((*a.criteria, *b.criteria)))
    same = np.zeros(n, dtype=int)
    by_criterion, days = {}, {}
    sides: dict[str, tuple[dict[str, Any], dict[str, Any]]] = {"before": ({}, {}), "after": ({}, {})}
    for name in criteria:
        first, second = a.criterion_outcome.get(name, same), b.criterion_outcome.get(name, same)
        # a row that one of the dates refuses is told by the other, unless it is refused on the whole
        ranks = [
            np.where(code == OUTCOMES.index("refused"), -1, _badness(code, none, one.after.status.get(name, none)))
            for code, one in ((first, a), (second, b))
        ]
        later = ranks[1] > ranks[0]
        by_criterion[name] = np.where(refused, OUTCOMES.index("refused"), np.where(later, second, first))
        days[name] = np.where(later, b.criterion_day.get(name, b.day), a.criterion_day.get(name, a.day))
        for side, (status, used) in sides.items():
            x, y = getattr(a, side), getattr(b, side)
            status[name] = np.where(later, y.status.get(name, none), x.status.get(name, none))
            used[name] = np.where(later, y.utilization.get(name, nothing), x.utilization.get(name, nothing))

    def judged(side: str) -> Judged:
        x, y = getattr(a, side), getattr(b, side)
        faults = {place: (y if row[place] else x).faults.get(place) for place in {**x.faults, **y.faults}}
        told = {place: fault for place, fault in faults.items() if fault is not None}
        return Judged(a.ids, criteria, *sides[side], np.where(row, y.verdict, x.verdict), told)

    return Compared(
        a.ids, a.family, a.compound, criteria, judged("before"), judged("after"), outcome, by_criterion,
        a.days, np.where(row, b.day, a.day), days,
    )  # fmt: skip


def _attribute(sets: Candidate, place: int, day: Day, table: Mapping[str, Cells], found: Compared, judged: Any) -> None:
    """Find the cause of every difference that a date is told of, by taking back one change at a time."""
    if day.base is None or day.candidate is None:
        return
    told = {
        name: np.isin(found.criterion_outcome[name], [1, 2, 3]) & (found.criterion_day[name] == place)
        for name in found.criteria
    }
    rows = np.flatnonzero(np.array([np.zeros(len(found.ids), dtype=bool), *told.values()]).any(axis=0))
    if not rows.size:
        return
    some = {
        name: [column[row] for row in rows.tolist()]
        for name, column in ((name, corpus.listed(cells)) for name, cells in table.items())
    }
    differs = {name: told[name][rows] for name in found.criteria}
    before = _rows(judged(day.base, sets.starts[0]), rows)
    for item in day.changes:
        if not item.change.affects_results:
            continue
        data = sets.without(day, item.change)
        if data is None:
            continue
        without = judge(data, some)
        for name in found.criteria:
            if not differs[name].any():
                continue
            restored = _outcome(name, before, without, rows.size) == OUTCOMES.index("same")
            for position in np.flatnonzero(differs[name] & restored).tolist():
                found.causes.setdefault((int(rows[position]), name), []).append(item)
    # what no single change explains, several do together: no cause is named
    for name in found.criteria:
        for position in np.flatnonzero(differs[name]).tolist():
            found.causes.setdefault((int(rows[position]), name), [])


def _rows(judged: Judged, rows: Any) -> Judged:
    return Judged(
        [judged.ids[row] for row in rows.tolist()],
        judged.criteria,
        {name: column[rows] for name, column in judged.status.items()},
        {name: column[rows] for name, column in judged.utilization.items()},
        judged.verdict[rows],
        {},
    )


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
    """Labels of the changes that a criterion read."""

    def add(self, found: Compared) -> None:
        """Count one table."""
        self.cases += len(found.ids)
        for code, name in enumerate(OUTCOMES):
            self.outcomes[name] += int((found.outcome == code).sum())
        for criterion, codes in found.criterion_outcome.items():
            _count(self.by_criterion.setdefault(criterion, dict.fromkeys(OUTCOMES, 0)), codes)
        for names, totals in ((found.family, self.by_family), (found.compound, self.by_compound)):
            places = {name: place for place, name in enumerate(dict.fromkeys(names))}
            which = np.fromiter(map(places.__getitem__, names), dtype=int, count=len(names))
            for name, place in places.items():
                _count(totals.setdefault(name, dict.fromkeys(OUTCOMES, 0)), found.outcome[which == place])
        rows_by_change: dict[str, set[int]] = {}
        for (row, _), causes in found.causes.items():
            for item in causes:
                rows_by_change.setdefault(item.label, set()).add(row)
        for key, rows in rows_by_change.items():
            self.by_change[key] = self.by_change.get(key, 0) + len(rows)
        self.exercised |= found.exercised

    def merge(self, other: Totals) -> None:
        """Add the counts of another."""
        self.cases += other.cases
        for name, count in other.outcomes.items():
            self.outcomes[name] += count
        for mine, theirs in (
            (self.by_criterion, other.by_criterion),
            (self.by_family, other.by_family),
            (self.by_compound, other.by_compound),
        ):
            for key, counts in theirs.items():
                held = mine.setdefault(key, dict.fromkeys(OUTCOMES, 0))
                for name, count in counts.items():
                    held[name] += count
        for key, count in other.by_change.items():
            self.by_change[key] = self.by_change.get(key, 0) + count
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
            "by_change": dict(sorted(self.by_change.items())),
            "exercised": sorted(self.exercised),
        }


def _count(totals: dict[str, int], codes: Any) -> None:
    for code, name in enumerate(OUTCOMES):
        totals[name] += int((codes == code).sum())


def _status(code: int) -> str:
    return "refused" if code == REFUSED else batch.STATUSES[code]


def _number(value: float) -> float | None:
    return float(f"{value:.10g}") if np.isfinite(value) else None


def rows(found: Compared, unchanged: bool = False) -> Iterator[dict[str, Any]]:
    """Write each case, those that differ only unless ``unchanged`` is asked for."""
    none = np.full(len(found.ids), batch.PASS)
    nothing = np.full(len(found.ids), np.nan)
    for row, case_id in enumerate(found.ids):
        code = int(found.outcome[row])
        if code == 0 and not unchanged:
            continue
        differing = []
        for name in found.criteria:
            outcome = int(found.criterion_outcome[name][row])
            if outcome in (0, OUTCOMES.index("refused")):
                continue
            before = float(found.before.utilization.get(name, nothing)[row])
            after = float(found.after.utilization.get(name, nothing)[row])
            differing.append(
                {
                    "id": name,
                    "outcome": OUTCOMES[outcome],
                    "status_before": _status(int(found.before.status.get(name, none)[row])),
                    "status_after": _status(int(found.after.status.get(name, none)[row])),
                    "utilization_before": _number(before),
                    "utilization_after": _number(after),
                    "margin_shift": _number(before - after),
                    "as_of": found.days[int(found.criterion_day[name][row])].isoformat(),
                    "caused_by": [item.change.key for item in found.causes.get((row, name), [])],
                }
            )
        yield {
            "case_id": case_id,
            "outcome": OUTCOMES[code],
            "verdict_before": _status(int(found.before.verdict[row])),
            "verdict_after": _status(int(found.after.verdict[row])),
            "as_of": found.days[int(found.day[row])].isoformat(),
            "fault": found.before.faults.get(row) or found.after.faults.get(row),
            "criteria": differing,
        }


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


def candidate_tree(engine: Engine, base: RuleTree, candidate: Any) -> tuple[RuleTree, date | None]:
    """Return the rule tree a request proposes, and its date."""
    if isinstance(candidate, NamedRuleSet):
        return named_tree(engine, candidate.name, candidate.as_of, ("candidate",)), candidate.as_of
    whole = isinstance(candidate, WholeRuleSet)
    field = "rule_set" if whole else "patch"
    try:
        tree = compare.from_json(getattr(candidate, field))
        if whole:
            return compare.whole(base, tree, [compare.from_json(item) for item in candidate.parents]), None
        return compare.patched(base, tree), None
    except RuleError as error:
        layer, _, index = error.file.partition("/")
        parent = layer == "parents"
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
        **{name: counts[name] for name in ("by_criterion", "by_family", "by_compound")},
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
    sets = pair(base, other, since, None if days[0] is None or days[1] is None else (days[0], days[1]))
    affecting = sum(item.change.affects_results for item in sets.changes)
    if request.attribute and affecting > MOST_ATTRIBUTED:
        raise refusal("out_of_domain", ("candidate",),
                      f"{affecting} values differ, too many to take each back by itself",
                      f"at most {MOST_ATTRIBUTED} changed values, or attribute: false")  # fmt: skip
    for position, case in enumerate(request.cases):
        if case.design.compound_properties is not None:
            raise refusal("out_of_domain", ("cases", position, "design", "compound_properties"),
                          "properties of the caller's own do not depend on the rules", "a compound of the rule sets")  # fmt: skip
    table = corpus.table([corpus.flatten(case.case_id, case.duty, case.design) for case in request.cases])
    found = compare_table(sets, table, request.attribute)
    totals = Totals()
    totals.add(found)
    asked = request.model_copy(update={"from_date": since})  # the dates that are compared belong to the question
    return {
        **report(sets, totals),
        "cases": list(rows(found, request.include_unchanged)),
        "stamp": engine.stamp("compare_rule_sets", asked, sets.base),
        "assumptions": [],
        "cautions": general_cautions(sets.base.data),
    }
