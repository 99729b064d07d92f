"""Which numbers of a rule set decide a corpus of cases, and where the corpus is blind.

Each number is changed by itself, up and down, by a share of it or to the ends of its own range, and the envelope of those cases is
judged again that read it (:mod:`glandwise.review.attribution`). What no case reads is looked for in cases that are sampled over
the whole envelope: some that read it are suggested. What lies beyond the envelope is told of some cases that are answered whole
(:mod:`glandwise.review.whole_steps`).

A number that no case reads is found with others at once: where no case reads any number of a file or of an entry, none of
them is changed by itself. Each of them is changed by a share of its own then, so that nothing cancels out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import IntEnum
from functools import cached_property
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import orjson

from glandwise import units
from glandwise.case import flat as corpus
from glandwise.case import record
from glandwise.case.choices import Family
from glandwise.case.flat_cells import Cells
from glandwise.case.vocabulary import CHOICES, NAMES, NUMBERS
from glandwise.contract.comparison import ComparedCase
from glandwise.questions.envelope import evaluation as batch
from glandwise.questions.envelope import kernel
from glandwise.review import whole_steps
from glandwise.review.answers import case_of_row
from glandwise.review.attribution import Reach
from glandwise.review.comparison import counted, rules_stamp
from glandwise.review.corpus_job import Block, blocks
from glandwise.review.judged import SAME, Reading, Table, outcomes, stacked
from glandwise.review.sampling import sample, written_filled
from glandwise.review.steps import By, Group, Value, apart, grouped, stepped, steps_of, values_of
from glandwise.rules import compare
from glandwise.rules.loader import RuleSet, RuleTree
from glandwise.rules.model import RuleSetData
from glandwise.rules.overlay import Tree

CASES = 100_000
"""Cases at most; each is judged again for every number that it reads."""
SAMPLES = 512
"""Cases that are sampled over the envelope, of which some are suggested."""
NEAR = 200
"""Cases near a boundary that are listed, the nearest first."""
NAMED = 5
"""Cases that are named with a value whose step turns their verdict."""

_SETTLED = 1e-12
"""Utilization below which nothing relative is said of it."""


class Blind(Exception):  # noqa: N818 - says what is wrong
    """Cases of which nothing can be said."""


def parts(paths: Sequence[Path]) -> list[Block]:
    """Read the corpora in some files, block by block. Raises :class:`Blind` where there are too many cases to keep."""
    found: list[Block] = []
    count = 0
    for path in paths:
        for block in blocks(path):
            count += len(corpus.listed(next(iter(block.table.values()))))
            if count > CASES:
                raise Blind(f"{path}: more than {CASES} cases; a sample of them tells the same")
            found.append(block)
    return found


@dataclass
class Moved:
    """What the steps of one value do to the corpus."""

    value: Value
    read: int
    """Cases that read it."""
    moved: int
    """Cases of which a margin or a status moves."""
    turned: int
    """Cases whose verdict turns by one of the steps."""
    worse: int
    better: int
    statuses: int
    """Statuses of criteria that turn, of all cases, by the step that turns more."""
    criteria: dict[str, int]
    """Cases of which a criterion moves, by criterion."""
    shift: float
    """Relative change of the use of the governing criterion, the greater of both steps, in the mean of all judged cases."""
    greatest: float
    """The greatest relative change of any use."""
    named: list[str]
    """Some cases whose verdict turns."""


@dataclass
class Corpus:
    """Cases under one rule set of one date, in blocks."""

    rules: RuleSet
    tree: Tree
    """Content of the date alone."""
    names: frozenset[str]
    """Criteria that the engine judges by."""
    readings: list[Reading]
    ids: list[list[str]]

    @cached_property
    def reaches(self) -> list[Reach]:
        """What the cases read, block by block."""
        return [Reach(reading) for reading in self.readings]

    @property
    def data(self) -> RuleSetData:
        return self.rules.data

    def stepped(self, stated: Sequence[tuple[Value, Mapping[str, Any]]]) -> RuleSetData | None:
        """Return the rules with other numbers; ``None`` where no rule set could hold them."""
        return stepped(self.data, self.tree, self.names, stated)

    def touched(self, data: RuleSetData) -> list[Any]:
        """Return, block by block, the places of cases that read something else of other rules."""
        return [np.flatnonzero(reach.touched(data)) for reach in self.reaches]


def read(tree: RuleTree, tables: Sequence[Mapping[str, Cells]], day: date | None = None) -> Corpus:
    """Read tables of cases by a rule set, on a day or by its newest values."""
    rules = tree.newest() if day is None else tree.at(day)
    readings = [Table(cells).under(rules.data) for cells in tables]
    ids = [[str(name) for name in reading.flat.ids] for reading in readings]
    return Corpus(rules, compare.as_of(tree, rules.as_of), tree.criteria, readings, ids)


# ------------------------------------------------------------------------------------------------------------ the steps


def moved_by(cases: Corpus, value: Value, by: By, step: float) -> Moved:
    """Judge again the cases that read a value, with each of its steps."""
    sets = [cases.stepped([(value, new)]) for new in steps_of(value, by, step)]
    judged = sum(len(reading.flat.index) for reading in cases.readings)
    found = Moved(value, 0, 0, 0, 0, 0, 0, {}, 0.0, 0.0, [])
    statuses, total = [0] * len(sets), 0.0
    for reading, reach, ids in zip(cases.readings, cases.reaches, cases.ids, strict=True):
        count = len(reading.flat.index)
        marks = {name: np.zeros(count, dtype=bool) for name in ("read", "moved", "worse", "better")}
        shift = np.zeros(count)
        by_criterion = np.zeros((len(reading.evaluation.criteria), count), dtype=bool)
        for which, data in enumerate(sets):
            places = np.empty(0, dtype=int) if data is None else np.flatnonzero(reach.touched(data))
            if data is None or not places.size:
                continue
            marks["read"][places] = True
            before = reading.evaluation.take(places)
            after = batch.evaluate(data, record.chosen(reading.flat.rows, places))
            (a, u), (b, v) = stacked(before), stacked(after)
            codes = outcomes(before.criteria, (a, u), (b, v))
            moves = codes != SAME
            by_criterion[:, places] |= moves
            marks["moved"][places] |= moves.any(axis=0)
            marks["worse"][places] |= after.verdict > before.verdict
            marks["better"][places] |= after.verdict < before.verdict
            statuses[which] += int((a != b).sum())
            with np.errstate(invalid="ignore", divide="ignore"):
                relative = np.where(moves & (np.abs(u) > _SETTLED), np.abs(v - u) / np.abs(u), 0.0)
            relative = np.nan_to_num(relative, nan=0.0, posinf=0.0)
            governing = relative[before.governing, np.arange(len(places))]
            shift[places] = np.maximum(shift[places], governing)
            found.greatest = max(found.greatest, float(relative.max(initial=0.0)))
        turned = marks["worse"] | marks["better"]
        found.read += int(marks["read"].sum())
        found.moved += int(marks["moved"].sum())
        found.turned += int(turned.sum())
        found.worse += int(marks["worse"].sum())
        found.better += int(marks["better"].sum())
        for name, number in zip(reading.evaluation.criteria, by_criterion.sum(axis=1).tolist(), strict=True):
            if number:
                found.criteria[name] = found.criteria.get(name, 0) + number
        total += float(shift.sum())
        rows = reading.flat.index[np.flatnonzero(turned)[: NAMED - len(found.named)]]
        found.named += [ids[row] for row in rows.tolist()]
    found.statuses = max(statuses, default=0)
    scale = 1.0 if by == "range" else step
    found.shift, found.greatest = total / max(judged, 1) / scale, found.greatest / scale
    return found


# ------------------------------------------------------------------------------------------------------- what is not read


_LEVELS = (1, 2, 99)
"""Parts of a key by which values are looked at together: file, entry, value."""


def _reads(cases: Corpus, group: Group) -> list[Any] | None:
    """Return by block which cases read a value of a group; ``None`` where they cannot be changed together."""
    for sign in (1.0, -1.0):
        data = cases.stepped(apart(group.values, sign, 0.01))
        if data is not None:
            return cases.touched(data)
    return None


def divided(cases: Corpus, values: Sequence[Value], level: int = 0) -> tuple[list[Value], list[Group]]:
    """Return the values that may be read by a case, and the largest groups of those that are not."""
    may: list[Value] = []
    unread: list[Group] = []
    for group in grouped(values, _LEVELS[level]):
        touched = _reads(cases, group)
        if touched is not None and not any(places.size for places in touched):
            unread.append(group)
        elif level + 1 < len(_LEVELS):
            more, fewer = divided(cases, group.values, level + 1)
            may += more
            unread += fewer
        else:
            may += group.values
    return may, unread


# --------------------------------------------------------------------------------------------------------- suggested cases


def sampled(tree: RuleTree, rules: RuleSet, count: int, seed: int) -> tuple[Corpus, list[dict[str, Any]]]:
    """Return cases over the whole envelope, with sizes left open, and the flat rows that they are."""
    rows, _ = sample(rules.data, count, seed, 0)
    stated = [_row(rules.data, rows, place) for place in range(len(rows))]
    headings = dict.fromkeys(name for row in stated for name in row)
    cases = read(tree, [{name: [row.get(name) for row in stated] for name in headings}], rules.as_of)
    return cases, stated


_BESIDE = ("application", "machining_lead")


def _row(data: RuleSetData, rows: Any, place: int) -> dict[str, Any]:
    """Write a sampled case as a flat row, with what a customer states and without its sizes."""
    found: dict[str, Any] = {"case_id": f"suggested-{place + 1}"}
    for name, value in written_filled(data, rows[place]).items():
        if name in NUMBERS:
            if NUMBERS[name].place.startswith("duty."):
                dimension = corpus.NUMBERS[name].dimension
                unit = units.DIMENSIONS[dimension].si_system
                found[f"{name} [{unit}]"] = float(f"{units.from_si(value, dimension, unit):.6g}")
        elif name in corpus.COLUMN_NAMES:
            found[name] = value
    for name in _BESIDE:
        found[name] = CHOICES[name].codes(int(rows[CHOICES[name].field][place])).name
    return found


def _options(cases: Corpus) -> dict[str, tuple[list[str], list[Any]]]:
    """Return the options of each closed choice, and by block which of them each case has."""
    fields: dict[str, tuple[type[IntEnum], str]] = {
        "family": (Family, "family"),
        **{name: (item.codes, item.field) for name, item in CHOICES.items()},
    }
    return {
        name: (
            [code.name for code in codes],
            [np.asarray(reading.evaluation.rows[field]) for reading in cases.readings],
        )
        for name, (codes, field) in fields.items()
    }


def _used(cases: Corpus) -> dict[str, list[str]]:
    """Return what of each choice, and of each table of names, no case has."""
    missing: dict[str, list[str]] = {}
    for name, (options, held) in _options(cases).items():
        there = {int(code) for codes in held for code in np.unique(codes)}
        missing[name] = [option for code, option in enumerate(options) if code not in there]
    for name, named in NAMES.items():
        there = {int(code) for reading in cases.readings for code in np.unique(reading.evaluation.rows[named.field])}
        missing[name] = [entry for code, entry in enumerate(getattr(cases.data, named.table)) if code not in there]
    return {name: entries for name, entries in missing.items() if entries}


def _governing(cases: Corpus) -> dict[str, int]:
    """Return how many cases each criterion governs, with a number or without."""
    found = dict.fromkeys(cases.data.criteria, 0)
    for reading in cases.readings:
        codes, counts = np.unique(reading.evaluation.governing, return_counts=True)
        for code, number in zip(codes.tolist(), counts.tolist(), strict=True):
            found[reading.evaluation.criteria[code]] += number
    return found


class Suggested(NamedTuple):
    """A case that sees what the corpus does not."""

    case: dict[str, Any]
    reaches: list[str]
    """Keys of values, or ``criterion NAME`` where it governs, or ``FIELD OPTION``."""
    verdict: str


def suggestions(
    pool: Corpus,
    rows: Sequence[dict[str, Any]],
    unread: Sequence[Group],
    criteria: Sequence[str],
    missing: Mapping[str, Sequence[str]],
    most: int,
) -> tuple[list[Suggested], list[Group], list[Group]]:
    """Return cases that see the most of what is not seen, what they see, and what no sampled case reads either."""
    (reading,) = pool.readings
    count = len(reading.flat.index)
    targets: list[tuple[str, Any]] = []
    readable: list[Group] = []
    beyond: list[Group] = []
    for group in _finer(pool, unread, beyond):
        mask = np.zeros(count, dtype=bool)
        mask[group[1]] = True
        readable.append(group[0])
        targets.append((group[0].key, mask))
    names = reading.evaluation.criteria
    targets += [
        (f"criterion {name}", reading.evaluation.governing == names.index(name)) for name in criteria if name in names
    ]
    targets += [
        (f"{name} {option}", held[0] == options.index(option))
        for name, (options, held) in _options(pool).items()
        for option in missing.get(name, ())
    ]
    found: list[Suggested] = []
    open_ = [target for target in targets if target[1].any()]
    verdict = reading.evaluation.verdict
    while open_ and len(found) < most:
        score = np.sum([mask for _, mask in open_], axis=0)
        # of those that see the most, one that passes best: nobody quotes what fails anyway
        place = int(np.lexsort((np.arange(count), verdict, -score))[0])
        seen = [name for name, mask in open_ if mask[place]]
        found.append(Suggested(rows[int(reading.flat.index[place])], seen, batch.STATUSES[int(verdict[place])]))
        open_ = [target for target in open_ if not target[1][place]]
    return found, readable, beyond


def _finer(pool: Corpus, unread: Sequence[Group], beyond: list[Group]) -> Iterator[tuple[Group, Any]]:
    """Yield groups with the sampled cases that read them, files by their entries; others are put ``beyond``."""
    for group in unread:
        touched = _reads(pool, group)
        parts = grouped(group.values, 2)
        if touched is not None and not touched[0].size:
            beyond.append(group)
        elif touched is None and len(group.values) > 1:
            yield from _finer(pool, grouped(group.values, _LEVELS[-1]), beyond)
        elif "." not in group.key and len(parts) > 1:
            yield from _finer(pool, parts, beyond)
        elif touched is not None:
            yield group, touched[0]
        else:
            beyond.append(group)


# -------------------------------------------------------------------------------------------------------- near a boundary


def near(cases: Corpus, within: float) -> tuple[list[dict[str, Any]], dict[str, int], int]:
    """Return the cases within a share of a boundary, nearest first, how many by criterion, and how many cases in all."""
    listed: list[tuple[tuple[float, int], dict[str, Any]]] = []
    done = 0
    counts: dict[str, int] = {}
    total = 0
    for reading, ids in zip(cases.readings, cases.ids, strict=True):
        close = np.zeros(len(reading.flat.index), dtype=bool)
        for name in reading.evaluation.criteria:
            if name not in kernel.IDS:
                continue
            used = reading.evaluation.utilization[name]
            at = cases.data.criteria[name].caution_at.si
            here = np.zeros(len(used), dtype=bool)
            for boundary, bound in (("limit", 1.0), *((("caution", at),) if 0.0 < at < 1.0 else ())):
                with np.errstate(invalid="ignore"):
                    places = np.flatnonzero(np.abs(used / bound - 1.0) <= within)
                here[places] = True
                for place in places.tolist():
                    away = float(used[place] / bound - 1.0)
                    row = int(reading.flat.index[place])
                    listed.append(((abs(away), done + row), {
                        "case_id": ids[row], "criterion": name, "boundary": boundary,
                        "utilization": float(used[place]), "distance": away,
                        "governs": name == reading.evaluation.criteria[int(reading.evaluation.governing[place])],
                    }))  # fmt: skip
            if number := int(here.sum()):
                counts[name] = counts.get(name, 0) + number
            close |= here
        total += int(close.sum())
        done += reading.count
        listed = sorted(listed, key=lambda item: item[0])[:NEAR]
    return [item for _, item in listed], counts, total


# ------------------------------------------------------------------------------------------------------------- the report


def examine(
    tree: RuleTree, tables: Sequence[Mapping[str, Cells]], day: date | None = None, *, by: By = "share",
    step: float = 0.01, within: float = 0.05, only: Sequence[str] = (), most: int = 20, samples: int = SAMPLES,
    seed: int = 1, whole: whole_steps.Bounds | None = None, documents: Sequence[Sequence[bytes | None]] = (),
    progress: Callable[[int], None] | None = None,
) -> dict[str, Any]:  # fmt: skip
    """Say which values of a rule set decide some cases, and where the cases are blind; ``only`` are keys to look at alone.

    With ``whole``, some of the cases are answered by other operations as well; ``documents`` are, by table and row, the
    lines of those that state more than a table holds.
    """
    cases = read(tree, tables, day)
    total = sum(reading.count for reading in cases.readings)
    judged = sum(len(reading.flat.index) for reading in cases.readings)
    if not judged:
        faults = [fault for reading in cases.readings for fault in reading.flat.faults.values()]
        first = f", and none of {counted(total, 'case')} can be judged; the first: {faults[0]}" if faults else ""
        raise Blind(f"there is no case to judge{first}")
    values = list(values_of(cases.data, cases.tree))
    for key in only:
        if not any(value.under([key]) for value in values):
            raise Blind(f"{key}: no number of the rule set stands under this key; accepted: designs.capacities, say")
    values = [value for value in values if not only or value.under(only)]
    may, unread = divided(cases, values)
    moved: list[Moved] = []
    still: list[str] = []
    for value in may:
        found = moved_by(cases, value, by, step)
        if found.moved or found.turned:
            moved.append(found)
        else:
            still.append(value.key)
        if progress is not None:
            progress(1)
    moved.sort(key=lambda one: (-one.turned, -one.statuses, -one.shift, -one.greatest, one.value.path))
    governs = _governing(cases)
    never = [name for name, number in governs.items() if not number]
    missing = _used(cases)
    pool, rows = sampled(tree, cases.rules, samples, seed)
    proposed, readable, beyond = suggestions(pool, rows, unread, never, missing, most)
    listed, counts, close = near(cases, within)
    decide = sum(1 for one in moved if one.turned)
    blind = sum(len(group.values) for group in readable)
    step_words = "its own range" if by == "range" else f"{100 * step:g} % up and down"
    return {
        "summary": f"{counted(judged, 'case')} judged under {counted(len(values), 'value')}, each changed by {step_words}: "
        f"{decide} of them turn a verdict, {len(moved) - decide} more move a margin, {len(still)} are read and move nothing, "
        f"{blind} no case reads though one could; {counted(close, 'case')} within {100 * within:g} % of a boundary.",
        "rules": rules_stamp(cases.rules),
        "by": by,
        "step": None if by == "range" else step,
        "within": within,
        "cases": total,
        "refused": total - judged,
        "values": [_written(one) for one in moved],
        "without_effect": still,
        "unread": [_group(group) for group in readable],
        "beyond": [_group(group) for group in beyond],
        "criteria": [
            {"id": name, "governs": number, "near": counts.get(name, 0)}
            for name, number in sorted(governs.items(), key=lambda item: -item[1])
        ],
        "missing": missing,
        "near": listed,
        "cases_near": close,
        "suggestions": [item._asdict() for item in proposed],
        "whole": None if whole is None else _whole(tree, cases, tables, documents, values, whole, by, step, progress),
    }  # fmt: skip


def _whole(
    tree: RuleTree, cases: Corpus, tables: Sequence[Mapping[str, Cells]], documents: Sequence[Sequence[bytes | None]],
    values: Sequence[Value], bounds: whole_steps.Bounds, by: By, step: float, progress: Callable[[int], None] | None,
) -> dict[str, Any]:  # fmt: skip
    """Say which values decide the whole answers to some cases that stand for all that can be judged."""
    judged = [(part, int(row)) for part, reading in enumerate(cases.readings) for row in reading.flat.index]
    chosen = [judged[place] for place in whole_steps.spread(len(judged), bounds.sample)]
    some = [_case_of(tables[part], documents[part] if documents else (), row) for part, row in chosen]
    names = [cases.ids[part][row] for part, row in chosen]
    found = whole_steps.examine(tree, cases.rules, some, names, values, bounds, by=by, step=step, progress=progress)
    return {"summary": _said(found, len(judged), by, step), **found, "of_cases": len(judged)}


def _case_of(table: Mapping[str, Cells], documents: Sequence[bytes | None], row: int) -> ComparedCase:
    """Return a case whole: as its line states it, else as its row does."""
    line = documents[row] if documents else None
    if line is not None:
        return ComparedCase.model_validate({"case_id": str(row), **orjson.loads(line)})
    return case_of_row({name: corpus.listed(column)[row] for name, column in table.items()})


def _said(found: Mapping[str, Any], of: int, by: By, step: float) -> str:
    """Say what was found of the whole answers, and how much was looked at, in two sentences."""
    values, left = found["values"], found["left_out"]["values"]
    how = "the ends of its own range" if by == "range" else f"{100 * step:g} % up and down"
    designs = sum(1 for one in values if one["designs"])
    turned = sum(1 for one in values if one["turned"])
    limited = " of " + ", ".join(level.replace("_", " ") for level in found["evidence"]) if found["evidence"] else ""
    unread = sum(item["values"] for item in found["unread"])
    return (
        f"{found['cases']} of {counted(of, 'case')} answered whole under {counted(found['values_looked_at'], 'value')}{limited}, "
        f"each changed by {how}: {designs} of them change a proposed design, {turned - designs} more turn a verdict, "
        f"{len(values) - turned} more move an answer, {len(found['without_effect'])} are read and move nothing that is compared, "
        f"{unread} none of these cases reads. "
        + (
            f"{counted(left, 'value')} that they may read {'was' if left == 1 else 'were'} left out: "
            f"the limit of {counted(found['answers']['limit'], 'answer')} was reached."
            if left
            else "No value that they read was left out."
        )
    )


def _written(one: Moved) -> dict[str, Any]:
    stated = {key: one.value.stated.get(key) for key in ("value", "low", "high")}
    return {
        "key": one.value.key,
        **stated,
        "unit": one.value.unit,
        "evidence": one.value.stated["evidence"],
        "source": one.value.stated["source"],
        "read": one.read,
        "moved": one.moved,
        "turned": one.turned,
        "worse": one.worse,
        "better": one.better,
        "statuses": one.statuses,
        "criteria": dict(sorted(one.criteria.items(), key=lambda item: (-item[1], item[0]))),
        "shift": one.shift,
        "greatest": one.greatest,
        "turned_cases": one.named,
    }


def _group(group: Group) -> dict[str, Any]:
    return {"key": group.key, "values": len(group.values)}
