"""What a change of rules does to cases: verdicts before and after, and which changed value caused each difference.

The core works on flat tables (:mod:`glandwise.checks.corpus`) of any length, so that a request of ten cases and a corpus
of a million run the same code. A cause is found by taking back one change at a time: if a criterion then stands as it
stood before, that change caused the difference; where no single one does, several act together and none is named.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

import numpy as np

from glandwise.checks import batch, corpus, flat_cells
from glandwise.checks.engine import Engine, refusal, unquoted
from glandwise.checks.report import general_cautions
from glandwise.contract.base import NAME
from glandwise.contract.comparison import NamedRuleSet, PatchedRuleSet, RuleSetComparisonRequest
from glandwise.rules import compare
from glandwise.rules.loader import RuleError, RuleSet, RuleTree
from glandwise.rules.model import RuleSetData

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


def judge(data: RuleSetData, table: Mapping[str, Sequence[Any]]) -> Judged:
    """Judge every row of a table; refused rows get the code ``REFUSED`` everywhere."""
    flat = corpus.read(data, table)
    n = len(flat.ids)
    status = {}
    utilization = {}
    verdict = np.full(n, REFUSED)
    found = batch.evaluate(data, flat.columns)
    for name in found.criteria:
        status[name] = np.full(n, REFUSED)
        status[name][flat.index] = found.status[name]
    for name, used in found.utilization.items():
        utilization[name] = np.full(n, np.nan)
        utilization[name][flat.index] = used
    verdict[flat.index] = found.verdict
    return Judged(flat.ids, found.criteria, status, utilization, verdict, flat.faults)


@dataclass
class Candidate:
    """Two rule sets to be compared, at a date each, and what differs between them."""

    base: RuleSet
    candidate: RuleSet
    base_tree: dict[str, Any]
    candidate_tree: dict[str, Any]
    changes: list[compare.Change]
    criteria: frozenset[str]
    _built: dict[str, RuleSetData | None] = field(default_factory=dict, repr=False)
    """Sets with one change taken back, kept for the next block of a corpus while they are few."""

    def without(self, change: compare.Change) -> RuleSetData | None:
        """Return the candidate's data with one change taken back; ``None`` when that set cannot be used."""
        if change.key in self._built:
            return self._built[change.key]
        tree = compare.without(self.candidate_tree, change)
        data: RuleSetData | None = None
        with contextlib.suppress(RuleError):
            data = RuleTree(tree, (), self.criteria).newest().data
        if len(self._built) < KEPT:
            self._built[change.key] = data
        return data


def pair(base: RuleTree, candidate: RuleTree, base_day: date | None, candidate_day: date | None) -> Candidate:
    """Set two rule sets up for comparison, each at its date (its newest values when ``None``)."""
    first, second = base_day or base.breakpoints[-1], candidate_day or candidate.breakpoints[-1]
    before, after = compare.as_of(base, first), compare.as_of(candidate, second)
    changes = [change for change in compare.diff(before, after) if change.affects_results]
    return Candidate(base.at(first), candidate.at(second), before, after, changes, base.criteria)


@dataclass
class Compared:
    """A table judged under both rule sets."""

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
    causes: dict[tuple[int, str], list[str]] = field(default_factory=dict)
    """Keys of the changes that caused the difference of a row in a criterion."""


def _names(table: Mapping[str, Sequence[Any]], name: str) -> list[str]:
    """Names by which cases are counted; what is longer than a name can be is cut."""
    cells = next(cells for heading, cells in table.items() if corpus.header(heading)[0] == name)
    return [flat_cells.text(cell)[: NAME.longest] for cell in cells]


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


def compare_table(sets: Candidate, table: Mapping[str, Sequence[Any]], attribute: bool = True) -> Compared:
    """Judge a table under both rule sets and say what caused each difference."""
    before, after = judge(sets.base.data, table), judge(sets.candidate.data, table)
    n = len(before.verdict)
    criteria = tuple(dict.fromkeys((*before.criteria, *after.criteria)))
    by_criterion = {name: _outcome(name, before, after, n) for name in criteria}
    stacked = np.array(list(by_criterion.values()))
    shifted = (stacked != OUTCOMES.index("same")).any(axis=0)
    outcome = np.where(shifted, OUTCOMES.index("shifted"), OUTCOMES.index("same"))
    outcome = np.where(after.verdict < before.verdict, OUTCOMES.index("better"), outcome)
    # a criterion that turns worse makes the case worse even where the verdict stays
    worse = (stacked == OUTCOMES.index("worse")).any(axis=0) | (after.verdict > before.verdict)
    better = (stacked == OUTCOMES.index("better")).any(axis=0) & (outcome == OUTCOMES.index("shifted"))
    outcome = np.where(better, OUTCOMES.index("better"), outcome)
    outcome = np.where(worse, OUTCOMES.index("worse"), outcome)
    refused = (before.verdict == REFUSED) | (after.verdict == REFUSED)
    outcome = np.where(refused, OUTCOMES.index("refused"), outcome)
    found = Compared(
        before.ids, _names(table, "family"), _names(table, "compound"), criteria, before, after, outcome, by_criterion,
    )  # fmt: skip
    if attribute:
        _attribute(sets, table, found)
    return found


def _attribute(sets: Candidate, table: Mapping[str, Sequence[Any]], found: Compared) -> None:
    """Find the cause of every difference by taking back one change at a time, on the rows that differ."""
    rows = np.flatnonzero((found.outcome != OUTCOMES.index("same")) & (found.outcome != OUTCOMES.index("refused")))
    if not rows.size:
        return
    some = {name: [cells[row] for row in rows.tolist()] for name, cells in table.items()}
    differs = {name: np.isin(found.criterion_outcome[name][rows], [1, 2, 3]) for name in found.criteria}
    before = _rows(found.before, rows)
    for change in sets.changes:
        data = sets.without(change)
        if data is None:
            continue
        without = judge(data, some)
        for name in found.criteria:
            if not differs[name].any():
                continue
            restored = _outcome(name, before, without, rows.size) == OUTCOMES.index("same")
            for position in np.flatnonzero(differs[name] & restored).tolist():
                found.causes.setdefault((int(rows[position]), name), []).append(change.key)
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
            for key in causes:
                rows_by_change.setdefault(key, set()).add(row)
        for key, rows in rows_by_change.items():
            self.by_change[key] = self.by_change.get(key, 0) + len(rows)

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
                    "caused_by": found.causes.get((row, name), []),
                }
            )
        yield {
            "case_id": case_id,
            "outcome": OUTCOMES[code],
            "verdict_before": _status(int(found.before.verdict[row])),
            "verdict_after": _status(int(found.after.verdict[row])),
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
    return tree


def candidate_tree(engine: Engine, base: RuleTree, candidate: Any) -> tuple[RuleTree, date | None]:
    """Return the rule tree a request proposes, and its date."""
    if isinstance(candidate, NamedRuleSet):
        return named_tree(engine, candidate.name, candidate.as_of, ("candidate",)), candidate.as_of
    field, build = ("patch", compare.patched) if isinstance(candidate, PatchedRuleSet) else ("rule_set", compare.whole)
    try:
        return build(base, compare.from_json(getattr(candidate, field))), None
    except RuleError as error:
        raise refusal(
            "out_of_domain",
            ("candidate", field, *error.path),
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


def written_changes(changes: Sequence[compare.Change], counts: Mapping[str, int]) -> list[dict[str, Any]]:
    """Write the changes between two rule sets."""
    return [
        {
            "key": change.key,
            "kind": change.kind,
            "before": _plain(change.before),
            "after": _plain(change.after),
            "unit": change.unit,
            "source": change.source,
            "evidence": change.evidence,
            "cases": counts.get(change.key, 0),
        }
        for change in changes
    ]


def verdict_of(outcomes: Mapping[str, int]) -> str:
    """Return the verdict on a change of rules from the cases by outcome."""
    if outcomes["worse"] or outcomes["refused"]:
        return "fail"
    return "caution" if outcomes["better"] or outcomes["shifted"] else "pass"


def summary(cases: int, changes: int, outcomes: Mapping[str, int]) -> str:
    """Say a comparison in one sentence."""
    parts = [f"{outcomes[name]} {word}" for name, word in _WORDS.items() if outcomes[name]]
    return f"{counted(changes, 'changed value')}, {counted(cases, 'case')}: {', '.join(parts)}."


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
    base = named_tree(engine, request.base.name, request.base.as_of, ("base",))
    other, other_day = candidate_tree(engine, base, request.candidate)
    sets = pair(base, other, request.base.as_of, other_day)
    if request.attribute and len(sets.changes) > MOST_ATTRIBUTED:
        raise refusal("out_of_domain", ("candidate",),
                      f"{len(sets.changes)} values differ, too many to take each back by itself",
                      f"at most {MOST_ATTRIBUTED} changed values, or attribute: false")  # fmt: skip
    for position, case in enumerate(request.cases):
        if case.design.compound_properties is not None:
            raise refusal("out_of_domain", ("cases", position, "design", "compound_properties"),
                          "properties of the caller's own do not depend on the rules", "a compound of the rule sets")  # fmt: skip
    table = corpus.table([corpus.flatten(case.case_id, case.duty, case.design) for case in request.cases])
    found = compare_table(sets, table, request.attribute)
    totals = Totals()
    totals.add(found)
    return {
        "verdict": verdict_of(totals.outcomes),
        "summary": summary(totals.cases, len(sets.changes), totals.outcomes),
        "base": rules_stamp(sets.base),
        "candidate": rules_stamp(sets.candidate),
        "changes": written_changes(sets.changes, totals.by_change),
        "counts": totals.outcomes,
        "by_criterion": dict(sorted(totals.by_criterion.items())),
        "by_family": dict(sorted(totals.by_family.items())),
        "by_compound": dict(sorted(totals.by_compound.items())),
        "cases": list(rows(found, request.include_unchanged)),
        "stamp": engine.stamp("compare_rule_sets", request, sets.base),
        "assumptions": [],
        "cautions": general_cautions(sets.base.data),
    }
