"""Which numbers of a rule set decide a corpus of cases, and where the corpus is blind.

Each number is changed by itself, up and down, by a share of it or to the ends of its own range, and the envelope of those cases is
judged again that read it (:mod:`glandwise.review.attribution`). What no case reads is looked for in cases that are sampled over
the whole envelope: some that read it are suggested.

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
from typing import Any, Literal, NamedTuple

import numpy as np

from glandwise import units
from glandwise.case import flat as corpus
from glandwise.case import record
from glandwise.case.choices import Family
from glandwise.case.flat_cells import Cells
from glandwise.case.vocabulary import CHOICES, NAMES, NUMBERS
from glandwise.questions.envelope import evaluation as batch
from glandwise.questions.envelope import kernel
from glandwise.review.attribution import Reach
from glandwise.review.comparison import counted, rules_stamp
from glandwise.review.corpus_job import blocks
from glandwise.review.judged import SAME, Reading, Table, outcomes, stacked
from glandwise.review.sampling import sample, written_filled
from glandwise.rules import compare
from glandwise.rules.loader import RuleSet, RuleTree
from glandwise.rules.mixed import mixed
from glandwise.rules.model import RuleSetData
from glandwise.rules.overlay import Tree, is_value
from glandwise.rules.values import Curve, Datum

CASES = 100_000
"""Cases at most; each is judged again for every number that it reads."""
SAMPLES = 512
"""Cases that are sampled over the envelope, of which some are suggested."""
NEAR = 200
"""Cases near a boundary that are listed, the nearest first."""
NAMED = 5
"""Cases that are named with a value whose step turns their verdict."""

By = Literal["share", "range"]
_SKIPPED = frozenset({"rule_set", "sources", "bands"})
"""Files whose numbers judge no case."""
_SETTLED = 1e-12
"""Utilization below which nothing relative is said of it."""


class Blind(Exception):  # noqa: N818 - says what is wrong
    """Cases of which nothing can be said."""


def tables(paths: Sequence[Path]) -> list[Mapping[str, Cells]]:
    """Read the corpora in some files, block by block. Raises :class:`Blind` where there are too many cases to keep."""
    found: list[Mapping[str, Cells]] = []
    count = 0
    for path in paths:
        for block in blocks(path):
            count += len(corpus.listed(next(iter(block.table.values()))))
            if count > CASES:
                raise Blind(f"{path}: more than {CASES} cases; a sample of them tells the same")
            found.append(block.table)
    return found


class Value(NamedTuple):
    """A number or a table of a rule set."""

    path: tuple[str, ...]
    stated: Mapping[str, Any]
    record: Datum | Curve

    @property
    def key(self) -> str:
        """The path as a dotted key."""
        return ".".join(self.path)

    def times(self, factor: float) -> dict[str, Any]:
        """Return it with its numbers multiplied in SI: a temperature counts from absolute zero."""
        curve = isinstance(self.record, Curve)
        unit = self.stated["y_unit" if curve else "unit"]
        dimension = self.record.y_dimension if isinstance(self.record, Curve) else self.record.dimension

        def of(number: float) -> float:
            return float(units.from_si(units.to_si(number, dimension, unit) * factor, dimension, unit))

        if curve:
            return {**self.stated, "y": [of(y) for y in self.stated["y"]]}
        numbers = {name: of(self.stated[name]) for name in ("value", "low", "high") if name in self.stated}
        return {**self.stated, **numbers}

    def at_end(self, end: Literal["low", "high"]) -> dict[str, Any] | None:
        """Return it at an end of its own range; ``None`` where it states none, or stands there."""
        if self.stated.get(end) is None or self.stated[end] == self.stated.get("value"):
            return None
        return {**self.stated, "value": self.stated[end]}


def values_of(data: RuleSetData, tree: Tree) -> Iterator[Value]:
    """Yield the numbers and tables of a rule set of one date, in its order."""
    for file, content in tree.items():
        if file not in _SKIPPED:
            yield from _values(getattr(data, file, None), content, (file,))


def _values(held: Any, content: Any, path: tuple[str, ...]) -> Iterator[Value]:
    if isinstance(held, Datum | Curve):
        if is_value(content):
            yield Value(path, content, held)
        return
    if isinstance(content, dict):
        for name, inner in content.items():
            under = held.get(name) if isinstance(held, dict) else getattr(held, str(name), None)
            if under is not None:
                yield from _values(under, inner, (*path, str(name)))


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
        changes = [
            compare.Change(value.path, "changed", value.stated, dict(new), None, None, None, None, ("value",))
            for value, new in stated
        ]
        return mixed(self.data, self.tree, [compare.inverse(change) for change in changes], self.names)

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


def steps_of(value: Value, by: By, step: float) -> list[Mapping[str, Any]]:
    """Return what is put in place of a value, down and up, as far as there is anything."""
    if by == "range":
        return [new for new in (value.at_end("low"), value.at_end("high")) if new is not None]
    return [value.times(1.0 - step), value.times(1.0 + step)]


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


class Group(NamedTuple):
    """Values under one key: those of a file, of an entry, or one alone."""

    key: str
    values: Sequence[Value]


def grouped(values: Sequence[Value], depth: int) -> list[Group]:
    """Return values by the first parts of their keys."""
    found: dict[str, list[Value]] = {}
    for value in values:
        found.setdefault(".".join(value.path[:depth]), []).append(value)
    return [Group(key, some) for key, some in found.items()]


_LEVELS = (1, 2, 99)
"""Parts of a key by which values are looked at together: file, entry, value."""


def _reads(cases: Corpus, group: Group) -> list[Any] | None:
    """Return by block which cases read a value of a group; ``None`` where they cannot be changed together."""
    for sign in (1.0, -1.0):
        # a share of its own for each, lest two of them cancel out
        shares = [0.01 * (1.0 + 0.37 * place / len(group.values)) for place in range(len(group.values))]
        data = cases.stepped(
            [(value, value.times(1.0 + sign * share)) for value, share in zip(group.values, shares, strict=True)]
        )
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
    seed: int = 1, progress: Callable[[int], None] | None = None,
) -> dict[str, Any]:  # fmt: skip
    """Say which values of a rule set decide some cases, and where the cases are blind; ``only`` are keys to look at alone."""
    cases = read(tree, tables, day)
    total = sum(reading.count for reading in cases.readings)
    judged = sum(len(reading.flat.index) for reading in cases.readings)
    if not judged:
        faults = [fault for reading in cases.readings for fault in reading.flat.faults.values()]
        first = f", and none of {counted(total, 'case')} can be judged; the first: {faults[0]}" if faults else ""
        raise Blind(f"there is no case to judge{first}")
    values = list(values_of(cases.data, cases.tree))
    for key in only:
        if not any(_under(value, [key]) for value in values):
            raise Blind(f"{key}: no number of the rule set stands under this key; accepted: designs.capacities, say")
    values = [value for value in values if not only or _under(value, only)]
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
    }  # fmt: skip


def _under(value: Value, keys: Sequence[str]) -> bool:
    return any(value.key == key or value.key.startswith(f"{key}.") for key in keys)


def _written(one: Moved) -> dict[str, Any]:
    stated = {key: one.value.stated.get(key) for key in ("value", "low", "high")}
    curve = isinstance(one.value.record, Curve)
    return {
        "key": one.value.key,
        **stated,
        "unit": one.value.stated.get("y_unit" if curve else "unit"),
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
