"""The cases that a comparison tells of: in arrays, then as rows for people or as a table of columns."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from glandwise.case.flat_cells import rounded
from glandwise.questions.envelope import evaluation as batch
from glandwise.review.judged import BETTER, OUTCOMES, SAME, SHIFTED, WORSE

if TYPE_CHECKING:
    from glandwise.review.answers import Facts
    from glandwise.review.attribution import Named
    from glandwise.review.comparison import Compared
    from glandwise.review.whole import Difference

DIGITS = 10
"""Significant digits of a utilization that is told."""
_STATUSES = np.array([*batch.STATUSES, "refused"], dtype=object)
"""Words by code; the last one stands for -1."""
_OUTCOMES = np.array(OUTCOMES, dtype=object)
_DUE = ("caused_by", "alone", "jointly")


@dataclass
class Told:
    """Some cases, and of each the criteria that differ: a pair of case and criterion each, in the order of the cases."""

    ids: Sequence[str]
    outcome: Any
    verdict_before: Any
    verdict_after: Any
    day: Any
    faults: Sequence[str | None]
    days: Sequence[str]
    criteria: Sequence[str]
    case: Any
    """Case of each pair."""
    criterion: Any
    criterion_outcome: Any
    status_before: Any
    status_after: Any
    used_before: Any
    used_after: Any
    criterion_day: Any
    due: Mapping[str, tuple[Any, Sequence[Sequence[Any]]]]
    """What each pair is due to: of ``caused_by``, ``alone`` and ``jointly`` an index of each pair, and the lists by it."""
    case_due: Mapping[str, tuple[Any, Sequence[Sequence[Any]]]]
    """The same of each case, where it can be judged under one of the sets only."""
    answers: Sequence[Sequence[Difference]]
    """Answers of other operations that differ, of each case."""
    trips: Sequence[Sequence[str]]
    """Gates that each case trips."""

    def __len__(self) -> int:
        return len(self.ids)

    @classmethod
    def of(cls, found: Compared, unchanged: bool = False) -> Told:
        """Pick the cases that differ out of a comparison; all of them when ``unchanged`` is asked for."""
        rows = np.arange(len(found.ids)) if unchanged else np.flatnonzero(found.outcome != SAME)
        differing = np.isin(found.criterion_outcome[:, rows], (SHIFTED, BETTER, WORSE))
        case, criterion = np.nonzero(differing.T)
        pair = criterion, rows[case]
        before, after, places = found.before, found.after, rows.tolist()
        faults: Sequence[str | None] = [None] * len(places)
        if before.faults or after.faults:
            faults = [before.faults.get(place) or after.faults.get(place) for place in places]
        return cls(
            [found.ids[place] for place in places], found.outcome[rows], before.verdict[rows], after.verdict[rows],
            found.day[rows], faults, [day.isoformat() for day in found.days], found.criteria,
            case, criterion, found.criterion_outcome[pair], before.status[pair], after.status[pair],
            before.utilization[pair], after.utilization[pair], found.criterion_day[pair],
            {name: (held.code[pair], held.lists) for name, held in _due(found)},
            {name: (held.code[-1, rows], held.lists) for name, held in _due(found)},
            [found.whole.differences.get(place, ()) for place in places], _trips(found, rows),
        )  # fmt: skip

    def rows(self) -> list[dict[str, Any]]:
        """Write each case."""
        days, criteria = np.array(self.days, dtype=object), np.array(self.criteria, dtype=object)
        pairs = [
            {
                "id": name, "outcome": outcome, "status_before": before, "status_after": after,
                "utilization_before": u, "utilization_after": v, "margin_shift": shift, "as_of": day,
                "caused_by": list(undone), "alone": list(alone), "jointly": [list(some) for some in jointly],
            }
            for name, outcome, before, after, u, v, shift, day, undone, alone, jointly in zip(
                criteria[self.criterion].tolist(), _OUTCOMES[self.criterion_outcome].tolist(),
                _STATUSES[self.status_before].tolist(), _STATUSES[self.status_after].tolist(),
                _numbers(self.used_before), _numbers(self.used_after), _numbers(self.used_before - self.used_after),
                days[self.criterion_day].tolist(), *_lists(self.due), strict=True,
            )
        ]  # fmt: skip
        bounds = np.searchsorted(self.case, np.arange(len(self) + 1)).tolist()
        return [
            {
                "case_id": case_id, "outcome": outcome, "verdict_before": before, "verdict_after": after, "as_of": day,
                "fault": fault, "criteria": pairs[start:end], "answers": [self._answer(item) for item in answers],
                "trips": list(trips), "caused_by": list(undone), "alone": list(alone),
                "jointly": [list(some) for some in jointly],
            }
            for case_id, outcome, before, after, day, fault, start, end, answers, trips, undone, alone, jointly in zip(
                self.ids, _OUTCOMES[self.outcome].tolist(), _STATUSES[self.verdict_before].tolist(),
                _STATUSES[self.verdict_after].tolist(), days[self.day].tolist(), self.faults, bounds[:-1], bounds[1:],
                self.answers, self.trips, *_lists(self.case_due), strict=True,
            )
        ]  # fmt: skip

    def _answer(self, item: Difference) -> dict[str, Any]:
        """Write an answer that differs."""
        return {
            "operation": item.operation,
            "outcome": OUTCOMES[item.outcome],
            "verdict_before": _verdict(item.before),
            "verdict_after": _verdict(item.after),
            "as_of": self.days[item.day],
            "fault": item.before.fault or item.after.fault,
            "transitions": [
                {
                    **told.turn._asdict(),
                    "alone": list(told.alone),
                    "caused_by": list(told.caused_by),
                    "jointly": [list(some) for some in told.jointly],
                }
                for told in item.turns
            ],
        }

    def table(self) -> Any:
        """Return a table of Arrow with one row for each case and criterion, one for a case of which no criterion is told."""
        import pyarrow as pa

        alone = np.setdiff1d(np.arange(len(self)), self.case)
        order = np.argsort(np.concatenate([self.case, alone]), kind="stable")
        case = np.concatenate([self.case, alone])[order]
        none = order >= len(self.case)
        ids, faults = pa.array(self.ids, pa.string()), pa.array(self.faults, pa.string())
        trips = pa.array(list(map(list, self.trips)), _TEXTS())

        def words(known: Sequence[str], codes: Any, empty: Any = None) -> Any:
            return pa.DictionaryArray.from_arrays(
                pa.array(codes, pa.int32(), mask=empty), pa.array(known, pa.string())
            ).cast(pa.string())

        def of_pair(codes: Any, fill: Any = 0) -> Any:
            return np.concatenate([codes, np.full(len(alone), fill, dtype=codes.dtype)])[order]

        def numbers(column: Any) -> Any:
            column = rounded(of_pair(column, np.nan), DIGITS)
            return pa.array(column, pa.float64(), mask=~np.isfinite(column))

        def due(name: str) -> Any:
            """Return what a criterion is due to, or what the case is of which no criterion is told."""
            (codes, lists), (of_case, _) = self.due[name], self.case_due[name]
            known = pa.array([[_joined(item) for item in some] for some in lists], _TEXTS())
            return known.take(pa.array(np.where(none, of_case[case], of_pair(codes)), pa.int32()))

        statuses = [*batch.STATUSES, "refused"]
        count = len(case)

        def empty(kind: Any) -> Any:
            return pa.nulls(count, kind)

        envelope = pa.table(
            {
                "case_id": ids.take(pa.array(case)),
                "operation": pa.array(["check_envelope"] * count, pa.string()),
                "outcome": words(OUTCOMES, self.outcome[case]),
                "verdict_before": words(statuses, self.verdict_before[case] % len(statuses)),
                "verdict_after": words(statuses, self.verdict_after[case] % len(statuses)),
                "as_of": words(self.days, self.day[case]),
                "fault": faults.take(pa.array(case)),
                "criterion": words(self.criteria, of_pair(self.criterion), none),
                "criterion_outcome": words(OUTCOMES, of_pair(self.criterion_outcome), none),
                "utilization_before": numbers(self.used_before),
                "utilization_after": numbers(self.used_after),
                "criterion_as_of": words(self.days, of_pair(self.criterion_day), none),
                "transition": empty(pa.string()), "subject": empty(pa.string()), "effect": empty(pa.string()),
                "before": empty(pa.string()), "after": empty(pa.string()),
                "value_before": empty(pa.float64()), "value_after": empty(pa.float64()), "unit": empty(pa.string()),
                "caused_by": due("caused_by"), "alone": due("alone"), "jointly": due("jointly"),
                "trips": trips.take(pa.array(case)),
            }
        )  # fmt: skip
        rows = [
            row for place, some in enumerate(self.answers) for item in some for row in self._answer_rows(place, item)
        ]
        return pa.concat_tables([envelope, pa.Table.from_pylist(rows, schema=envelope.schema)])

    def _answer_rows(self, place: int, item: Difference) -> list[dict[str, Any]]:
        """Write an answer that differs as rows: one for each thing that changed, else one."""
        told = self._answer(item)
        head = {
            name: told[name] for name in ("operation", "outcome", "verdict_before", "verdict_after", "as_of", "fault")
        }
        head |= {"case_id": self.ids[place], "trips": list(self.trips[place])}
        return [
            {
                **head, **entry, "transition": entry["kind"],
                "jointly": [_joined(some) for some in entry["jointly"]],
            }
            for entry in told["transitions"]
        ] or [head]  # fmt: skip


def _joined(item: Any) -> str:
    """Write a change, or a combination of changes, in one text."""
    return item if isinstance(item, str) else " + ".join(item)


def _TEXTS() -> Any:  # noqa: N802 - a type
    import pyarrow as pa

    return pa.list_(pa.string())


def _due(found: Compared) -> tuple[tuple[str, Named], ...]:
    return tuple(zip(_DUE, (found.causes.undone, found.causes.alone, found.causes.jointly), strict=True))


def _lists(due: Mapping[str, tuple[Any, Sequence[Sequence[Any]]]]) -> list[list[Sequence[Any]]]:
    """Return of each column the list of each entry."""
    return [[lists[code] for code in codes.tolist()] for codes, lists in (due[name] for name in _DUE)]


def _verdict(facts: Facts) -> str | None:
    return "refused" if facts.fault is not None else facts.verdict


def _trips(found: Compared, rows: Any) -> Sequence[Sequence[str]]:
    """Return the gates that each of some cases trips."""
    gates = ("verdict", "design", "worse")
    masks = [found.trips(gate)[rows].tolist() for gate in gates]
    return [tuple(gate for gate, here in zip(gates, mask, strict=True) if here) for mask in zip(*masks, strict=True)]


def _numbers(column: Any) -> list[float | None]:
    """Return numbers to the digits that are told, ``None`` where there is none."""
    told: list[float | None] = rounded(column, DIGITS).tolist()
    for place in np.flatnonzero(~np.isfinite(column)).tolist():
        told[place] = None
    return told


_NONE = np.zeros(0, dtype=int)
_NO_NUMBER = np.zeros(0)
NOTHING = Told(
    [], _NONE, _NONE, _NONE, _NONE, [], [], [], _NONE, _NONE, _NONE, _NONE, _NONE, _NO_NUMBER, _NO_NUMBER, _NONE,
    dict.fromkeys(_DUE, (_NONE, [()])), dict.fromkeys(_DUE, (_NONE, [()])), [], [],
)  # fmt: skip
"""No case at all."""
