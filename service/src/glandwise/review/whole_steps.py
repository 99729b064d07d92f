"""Which numbers of a rule set decide what customers were told beyond the envelope: every other operation's whole answer.

Cases are answered as the rules stand, and again with each number that they read changed by itself, and the answers are held
against each other as a comparison does (:mod:`glandwise.review.answers`). An answer takes up to a second, and a rule set has
thousands of numbers; so the work is bounded, and what is left out is told:

* some cases stand for the corpus, spread evenly over it;
* what a case reads is found by changing all numbers of a file at once, down and up, each by a share of its own, then halves of
  what is read: where not a digit of an answer moves, that operation reads none of them for this case;
* a number is either put to all cases that may read it or to none. Numbers on the weakest evidence come first, of
  these the ones that most cases and operations may read, until the answers are used up.

Each task is a function of plain values, so that the same work runs in this process and on workers.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date
from hashlib import blake2b
from typing import Any, NamedTuple

import numpy as np
import orjson

from glandwise.contract.comparison import ComparedCase, ComparisonThresholds
from glandwise.contract.selection import SelectionRequest
from glandwise.patience import rest
from glandwise.questions.selection import operation as selection
from glandwise.review import pool
from glandwise.review.answers import (
    BETTER,
    ENVELOPE,
    LIFE,
    OPERATIONS,
    OWN_KIND,
    TORQUE,
    WORSE,
    Asker,
    Facts,
    asked_by,
    turns,
)
from glandwise.review.steps import By, Group, Value, apart, grouped, stepped, steps_of, values_of
from glandwise.review.whole import same
from glandwise.rules import compare
from glandwise.rules.loader import RuleSet, RuleTree
from glandwise.rules.model import RuleSetData
from glandwise.rules.overlay import Tree
from glandwise.rules.values import EVIDENCE_ORDER

SAMPLE = 8
"""Cases that are answered whole, where nothing else is said."""
ANSWERS = 2000
"""Answers to changed numbers, where nothing else is said: half an hour of one processor, with all operations."""
TOGETHER = 3
"""Values that are not divided further to find what is read: each is changed by itself then."""
_WHOLE = 99
"""Parts of a key, all of them."""
NAMED = 5
"""Cases that are named with a value whose step turns their answer."""
_USUAL = ComparisonThresholds()

Places = Mapping[int, tuple[str, ...]]
"""Operations by case."""


class Bounds(NamedTuple):
    """How much work is done, and on what."""

    operations: tuple[str, ...]
    sample: int = SAMPLE
    """Cases at most."""
    answers: int = ANSWERS
    """Answers to changed numbers at most."""
    evidence: tuple[str, ...] = ()
    """Levels of evidence to which numbers are limited; all where none is named."""
    workers: int = 1
    """Processes."""


class Question(NamedTuple):
    """Cases and rules as plain values, to be sent to a worker."""

    tree: dict[str, Any]
    criteria: tuple[str, ...]
    as_of: date
    operations: tuple[str, ...]
    cases: tuple[ComparedCase, ...]
    by: By
    step: float


def spread(count: int, most: int) -> list[int]:
    """Return places spread evenly over some number of cases, all of them where they are few."""
    if count <= most:
        return list(range(count))
    return [(count - 1) * place // max(most - 1, 1) for place in range(most)]


# ---------------------------------------------------------------------------------------------------------- the answers


class Looking(Asker):
    """Answers questions as a comparison asks them, and keeps a mark of everything that stands in an answer."""

    def __init__(self, data: RuleSetData, like: RuleSet, operations: Sequence[str]) -> None:
        super().__init__(data, like, operations)
        self._seen: dict[str, bytes] = {}

    def told(self, name: str, case: ComparedCase) -> dict[str, Any]:
        """Answer a case by one operation; of a choice, note how every design that was looked at stands."""
        mark = blake2b()
        if name == "select_design":
            request = asked_by(SelectionRequest, case)
            ranking = selection.rank(request, self.engine.rules(request))
            found = ranking.found
            for table in (found.demand, found.capacity, found.utilization, found.status):
                for column in table.values():
                    mark.update(np.ascontiguousarray(column).tobytes())
            mark.update(ranking.scores.total.tobytes())
            answer = selection.select(request, self.engine, ranking)
        else:
            answer = super().told(name, case)
        mark.update(orjson.dumps({**answer, "stamp": None}, option=orjson.OPT_NON_STR_KEYS))
        self._seen[name] = mark.digest()
        return answer

    def look(self, case: ComparedCase, operations: Sequence[str]) -> dict[str, tuple[Facts, bytes]]:
        """Answer a case by some operations, with a mark of each answer that tells it from any other."""
        rest()
        self._seen = {}
        found = self.ask(case, operations)
        return {name: (facts, self._seen.get(name, b"") + repr(facts).encode()) for name, facts in found.items()}


class Held:
    """A question as a worker holds it: its rules, and the answers by them."""

    def __init__(self, question: Question) -> None:
        self.question = question
        self.tree: Tree = question.tree
        whole = RuleTree(question.tree, (), question.criteria)
        self.rules, self.criteria = whole.at(question.as_of), whole.criteria
        self.values = {value.key: value for value in values_of(self.rules.data, self.tree)}
        self._base = Looking(self.rules.data, self.rules, question.operations)
        self._answers: dict[tuple[int, tuple[str, ...]], dict[str, tuple[Facts, bytes]]] = {}

    def before(self, place: int, operations: tuple[str, ...]) -> dict[str, tuple[Facts, bytes]]:
        """Answer a case as the rules stand."""
        key = place, operations
        if key not in self._answers:
            self._answers[key] = self._base.look(self.question.cases[place], operations)
        return self._answers[key]

    def changed(self, stated: Sequence[tuple[Value, Mapping[str, Any]]]) -> Looking | None:
        """Return who answers by rules with other numbers; ``None`` where no rule set could hold them."""
        try:
            data = stepped(self.rules.data, self.tree, self.criteria, stated)
        except ValueError:
            return None
        return None if data is None else Looking(data, self.rules, self.question.operations)

    def after(self, asker: Looking, place: int, operations: tuple[str, ...]) -> dict[str, tuple[Facts, bytes]] | None:
        """Answer a case by other rules; ``None`` where their numbers cannot be put to use."""
        try:
            return asker.look(self.question.cases[place], operations)
        except (ArithmeticError, KeyError, ValueError):
            return None

    def together(self, values: Sequence[Value]) -> list[list[tuple[Value, Mapping[str, Any]]]]:
        """Return what is put in place of several values at once, down and up."""
        if self.question.by == "share":
            return [apart(values, sign, self.question.step) for sign in (-1.0, 1.0)]
        ends = [[(value, value.at_end(end)) for value in values] for end in ("low", "high")]
        return [[(value, new) for value, new in some if new is not None] for some in ends]


_last: list[Held] = []
"""The question that was asked last."""


def held_of(question: Question) -> Held:
    """Return a question with its rules read, once in each worker."""
    if not _last or _last[0].question is not question:
        _last[:] = [Held(question)]
    return _last[0]


# ------------------------------------------------------------------------------------------------------- what is read


class Read(NamedTuple):
    """Who reads any of some values, and what it took to know."""

    places: dict[int, tuple[str, ...]]
    answers: int
    sure: bool
    """Whether the values could be changed together; else nothing is known but who may read them."""


def reads(question: Question, keys: Sequence[str], places: Places) -> Read:
    """Tell which answers move when some values are changed together."""
    held = held_of(question)
    values = [held.values[key] for key in keys]
    moved: dict[int, set[str]] = {place: set() for place in places}
    answers, sure = 0, True
    for stated in held.together(values):
        asker = held.changed(stated) if stated else None
        for place, operations in places.items():
            if asker is None or len(moved[place]) == len(operations):
                continue
            before, after = held.before(place, operations), held.after(asker, place, operations)
            answers += 1
            sure &= after is not None
            if after is not None:
                moved[place] |= {name for name in operations if before[name][1] != after[name][1]}
        sure &= not stated or asker is not None
    found = {
        place: tuple(name for name in operations if name in moved[place])
        for place, operations in places.items()
        if moved[place]
    }
    return Read(found, answers, sure)


class _Reading(NamedTuple):
    """What is read of a rule set."""

    may: list[tuple[Value, Places]]
    """Values with who reads any of the few that they were changed with."""
    unread: list[Value]
    answers: int


def _read(run: Callable[..., Iterator[Any]], values: Sequence[Value], places: Places) -> _Reading:
    """Find by whom the values of a rule set are read: file by file, and halves of what is read."""
    may: list[tuple[Value, Places]] = []
    unread: list[Value] = []
    open_: list[tuple[Sequence[Value], Places]] = [(group.values, places) for group in grouped(values, 1)]
    answers = 0
    while open_:
        tasks = [[[value.key for value in some], here] for some, here in open_]
        inner: list[tuple[Sequence[Value], Places]] = []
        for (some, before), found in zip(open_, run(reads, tasks), strict=True):
            answers += found.answers
            # what could not be changed together is looked at by itself, and what cannot be changed has no steps either
            known = found.sure or len(some) == 1
            by = found.places if known else before
            if known and not by:
                unread += some
            elif len(some) > (TOGETHER if known else 1):
                half = len(some) // 2
                inner += [(some[:half], by), (some[half:], by)]
            else:
                may += [(value, by) for value in some]
        open_ = inner
    return _Reading(may, unread, answers)


def largest(some: Sequence[Value], every: Sequence[Value]) -> list[Group]:
    """Name some of all values by the fewest keys: a file or an entry of which all are among them, else each by itself."""
    counts = {depth: {group.key: len(group.values) for group in grouped(every, depth)} for depth in (1, 2)}
    found: list[Group] = []
    for depth in (1, 2, _WHOLE):
        left: list[Value] = []
        for group in grouped(some, depth):
            if depth == _WHOLE or len(group.values) == counts[depth][group.key]:
                found.append(group)
            else:
                left += group.values
        some = left
    order = {value.key: place for place, value in enumerate(every)}
    return sorted(found, key=lambda group: order[group.values[0].key])


# ----------------------------------------------------------------------------------------------------- what it decides


@dataclass
class Decided:
    """What the steps of one value do to the answers that may read it."""

    key: str
    steps: int = 0
    """Steps that a rule set could hold."""
    answers: int = 0
    read: int = 0
    """Cases with an answer of which any digit or word moves."""
    moved: int = 0
    """Cases of which anything moves that answers are compared by."""
    turned: int = 0
    """Cases with another design proposed or another verdict of an operation, by one of the steps."""
    designs: int = 0
    """Cases with another design proposed."""
    worse: int = 0
    """Cases with a verdict that turns worse."""
    better: int = 0
    verdicts: Counter[str] = field(default_factory=Counter)
    """Cases with another verdict, by operation."""
    statuses: Counter[str] = field(default_factory=Counter)
    """Cases with another status of a criterion, by operation."""
    life: float = 0.0
    """Relative change of the life, the greater of both steps, in the mean of all cases that are looked at."""
    torque: float = 0.0
    """The same of the torque."""
    named: list[int] = field(default_factory=list)
    """Some cases that turn."""


class _Case:
    """What the steps of a value do to one case."""

    def __init__(self) -> None:
        self.read, self.moved, self.design = False, False, False
        self.effects: set[str] = set()
        self.verdicts: set[str] = set()
        self.statuses: set[str] = set()
        self.shares: dict[str, float] = {}

    def add(self, operation: str, before: tuple[Facts, bytes], after: tuple[Facts, bytes]) -> None:
        """Hold an answer against the one of before."""
        self.read |= before[1] != after[1]
        (one, _), (two, _) = before, after
        for kind in (LIFE, TORQUE):
            by, where = OWN_KIND[kind]
            if by == operation and where in one.numbers and where in two.numbers and one.numbers[where][0]:
                share = abs(two.numbers[where][0] / one.numbers[where][0] - 1.0)
                self.shares[kind] = max(self.shares.get(kind, 0.0), share)
        if same(one, two):
            return
        self.moved = True
        for turn in turns(one, two, _USUAL):
            if turn.kind == "verdict":
                self.verdicts.add(operation)
                self.effects.add(turn.effect)
            elif turn.kind == "criterion":
                self.statuses.add(operation)
            self.design |= turn.kind == "design"


def decided(question: Question, key: str, places: Places) -> Decided:
    """Answer again whoever may read a value, with each of its steps."""
    held = held_of(question)
    found, cases = Decided(key), {place: _Case() for place in places}
    for new in steps_of(held.values[key], question.by, question.step):
        asker = held.changed([(held.values[key], new)])
        if asker is None:
            continue
        lost = 0
        for place, operations in places.items():
            before, after = held.before(place, operations), held.after(asker, place, operations)
            found.answers += 1
            if after is None:
                lost += 1
                continue
            for name in operations:
                cases[place].add(name, before[name], after[name])
        found.steps += lost < len(places)
    for place, case in cases.items():
        turned = bool(case.verdicts) or case.design
        found.read += case.read
        found.moved += case.moved
        found.turned += turned
        found.designs += case.design
        found.worse += WORSE in case.effects
        found.better += BETTER in case.effects
        found.verdicts.update(case.verdicts)
        found.statuses.update(case.statuses)
        if turned and len(found.named) < NAMED:
            found.named.append(place)
    found.life, found.torque = (
        sum(case.shares.get(kind, 0.0) for case in cases.values()) / len(question.cases) for kind in (LIFE, TORQUE)
    )
    return found


# ------------------------------------------------------------------------------------------------------------ the whole


@contextmanager
def _runner(question: Question, workers: int) -> Iterator[Callable[..., Iterator[Any]]]:
    """Give what runs a function over tasks, in this process or in some."""
    if workers <= 1:
        yield lambda work, tasks: (work(question, *task) for task in tasks)
        return
    with pool.local(workers) as client:
        held = pool.given(client, question)
        yield lambda work, tasks: pool.in_order(client, work, held, tasks, workers)


def _within(ordered: Sequence[tuple[Value, Places]], bounds: Bounds, by: By, step: float) -> int:
    """Return how many values can be put to all of their cases before the answers are used up."""
    spent = 0
    for count, (value, places) in enumerate(ordered):
        spent += len(steps_of(value, by, step)) * len(places)
        if spent > bounds.answers:
            return count
    return len(ordered)


def examine(
    tree: RuleTree, rules: RuleSet, cases: Sequence[ComparedCase], names: Sequence[str], values: Sequence[Value],
    bounds: Bounds, *, by: By, step: float, progress: Callable[[int], None] | None = None,
) -> dict[str, Any]:  # fmt: skip
    """Say which values decide the whole answers to some cases; ``names`` are those of the cases."""
    operations = tuple(name for name in OPERATIONS if name in bounds.operations and name != ENVELOPE)
    content = compare.as_of(tree, rules.as_of)
    question = Question(dict(content), tuple(sorted(tree.criteria)), rules.as_of, operations, tuple(cases), by, step)
    looked = [value for value in values if not bounds.evidence or value.stated["evidence"] in bounds.evidence]
    still = [value for value in looked if not steps_of(value, by, step)]
    looked = [value for value in looked if steps_of(value, by, step)]
    rank = {name: place for place, name in enumerate(EVIDENCE_ORDER)}
    found: list[tuple[Value, Decided, int]] = []
    with _runner(question, bounds.workers) as run:
        reading = _read(run, looked, dict.fromkeys(range(len(cases)), operations))
        ordered = sorted(reading.may, key=lambda item: (-rank[item[0].stated["evidence"]], -len(item[1]), item[0].path))
        count = _within(ordered, bounds, by, step)
        now, later = ordered[:count], ordered[count:]
        tasks = ([value.key, places] for value, places in now)
        for (value, places), one in zip(now, run(decided, tasks), strict=True):
            found.append((value, one, len(places)))
            if progress is not None:
                progress(1)
    moved = [item for item in found if item[1].moved]
    moved.sort(
        key=lambda item: (
            -item[1].turned, -item[1].designs, -sum(item[1].statuses.values()), -item[1].life,
            -item[1].torque, -item[1].moved, item[0].path,
        )
    )  # fmt: skip
    quiet = [(value, one) for value, one, _ in found if not one.moved]
    never = [value for value, one in quiet if one.steps and not one.read]
    unread = largest([*reading.unread, *never], looked)
    scale = 1.0 if by == "range" else step
    return {
        "operations": list(operations),
        "cases": len(cases),
        "case_ids": list(names),
        "values_looked_at": len(looked),
        "evidence": list(bounds.evidence),
        "answers": {
            "limit": bounds.answers, "given": sum(one.answers for _, one, _ in found), "to_find_what_is_read": reading.answers,
        },
        "values": [_written(value, one, names, scale) for value, one, _ in moved],
        "without_effect": [value.key for value, one in quiet if one.read],
        "unread": [{"key": group.key, "values": len(group.values)} for group in unread],
        "not_stepped": [*(value.key for value in still), *(value.key for value, one in quiet if not one.steps)],
        "left_out": {
            "values": len(later),
            "evidence": dict(Counter(str(value.stated["evidence"]) for value, _ in later)),
            "entries": [
                {"key": group.key, "values": len(group.values)} for group in grouped([value for value, _ in later], 2)
            ],
        },
    }  # fmt: skip


def _written(value: Value, one: Decided, names: Sequence[str], scale: float) -> dict[str, Any]:
    return {
        "key": value.key,
        **{name: value.stated.get(name) for name in ("value", "low", "high")},
        "unit": value.unit,
        "evidence": value.stated["evidence"],
        "source": value.stated["source"],
        "read": one.read,
        "moved": one.moved,
        "turned": one.turned,
        "designs": one.designs,
        "worse": one.worse,
        "better": one.better,
        "verdicts": {name: one.verdicts[name] for name in OPERATIONS if one.verdicts[name]},
        "statuses": {name: one.statuses[name] for name in OPERATIONS if one.statuses[name]},
        "life": one.life / scale,
        "torque": one.torque / scale,
        "turned_cases": [names[place] for place in one.named],
    }
