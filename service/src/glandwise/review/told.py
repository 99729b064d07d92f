"""The cases that a comparison tells of: in arrays, then as rows for people or as a table of columns."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from glandwise.case.flat_cells import rounded
from glandwise.questions.envelope import evaluation as batch
from glandwise.review.judged import BETTER, OUTCOMES, SAME, SHIFTED, WORSE

if TYPE_CHECKING:
    from glandwise.review.comparison import Compared

DIGITS = 10
"""Significant digits of a utilization that is told."""
_STATUSES = np.array([*batch.STATUSES, "refused"], dtype=object)
"""Words by code; the last one stands for -1."""
_OUTCOMES = np.array(OUTCOMES, dtype=object)


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
    cause: Any
    """Index into ``causes`` of each pair."""
    causes: Sequence[Sequence[str]]

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
            before.utilization[pair], after.utilization[pair], found.criterion_day[pair], found.causes.code[pair],
            [[item.change.key for item in changes] for changes in found.causes.sets],
        )  # fmt: skip

    def rows(self) -> list[dict[str, Any]]:
        """Write each case."""
        days, criteria = np.array(self.days, dtype=object), np.array(self.criteria, dtype=object)
        pairs = [
            {
                "id": name, "outcome": outcome, "status_before": before, "status_after": after,
                "utilization_before": u, "utilization_after": v, "margin_shift": shift, "as_of": day,
                "caused_by": list(self.causes[cause]),
            }
            for name, outcome, before, after, u, v, shift, day, cause in zip(
                criteria[self.criterion].tolist(), _OUTCOMES[self.criterion_outcome].tolist(),
                _STATUSES[self.status_before].tolist(), _STATUSES[self.status_after].tolist(),
                _numbers(self.used_before), _numbers(self.used_after), _numbers(self.used_before - self.used_after),
                days[self.criterion_day].tolist(), self.cause.tolist(), strict=True,
            )
        ]  # fmt: skip
        bounds = np.searchsorted(self.case, np.arange(len(self) + 1)).tolist()
        return [
            {
                "case_id": case_id, "outcome": outcome, "verdict_before": before, "verdict_after": after, "as_of": day,
                "fault": fault, "criteria": pairs[start:end],
            }
            for case_id, outcome, before, after, day, fault, start, end in zip(
                self.ids, _OUTCOMES[self.outcome].tolist(), _STATUSES[self.verdict_before].tolist(),
                _STATUSES[self.verdict_after].tolist(), days[self.day].tolist(), self.faults, bounds[:-1], bounds[1:],
                strict=True,
            )
        ]  # fmt: skip

    def table(self) -> Any:
        """Return a table of Arrow with one row for each case and criterion, one for a case of which no criterion is told."""
        import pyarrow as pa

        alone = np.setdiff1d(np.arange(len(self)), self.case)
        order = np.argsort(np.concatenate([self.case, alone]), kind="stable")
        case = np.concatenate([self.case, alone])[order]
        none = order >= len(self.case)

        def words(known: Sequence[str], codes: Any, empty: Any = None) -> Any:
            return pa.DictionaryArray.from_arrays(
                pa.array(codes, pa.int32(), mask=empty), pa.array(known, pa.string())
            ).cast(pa.string())

        def of_pair(codes: Any, fill: Any = 0) -> Any:
            return np.concatenate([codes, np.full(len(alone), fill, dtype=codes.dtype)])[order]

        def numbers(column: Any) -> Any:
            column = rounded(of_pair(column, np.nan), DIGITS)
            return pa.array(column, pa.float64(), mask=~np.isfinite(column))

        statuses = [*batch.STATUSES, "refused"]
        causes = pa.array(self.causes, pa.list_(pa.string()))
        return pa.table(
            {
                "case_id": pa.array(self.ids, pa.string()).take(pa.array(case)),
                "outcome": words(OUTCOMES, self.outcome[case]),
                "verdict_before": words(statuses, self.verdict_before[case] % len(statuses)),
                "verdict_after": words(statuses, self.verdict_after[case] % len(statuses)),
                "as_of": words(self.days, self.day[case]),
                "fault": pa.array(self.faults, pa.string()).take(pa.array(case)),
                "criterion": words(self.criteria, of_pair(self.criterion), none),
                "criterion_outcome": words(OUTCOMES, of_pair(self.criterion_outcome), none),
                "utilization_before": numbers(self.used_before),
                "utilization_after": numbers(self.used_after),
                "criterion_as_of": words(self.days, of_pair(self.criterion_day), none),
                "caused_by": causes.take(pa.array(of_pair(self.cause), pa.int32(), mask=none)),
            }
        )


def _numbers(column: Any) -> list[float | None]:
    """Return numbers to the digits that are told, ``None`` where there is none."""
    told: list[float | None] = rounded(column, DIGITS).tolist()
    for place in np.flatnonzero(~np.isfinite(column)).tolist():
        told[place] = None
    return told


_NONE = np.zeros(0, dtype=int)
_NO_NUMBER = np.zeros(0)
NOTHING = Told(
    [], _NONE, _NONE, _NONE, _NONE, [], [], [], _NONE, _NONE, _NONE, _NONE, _NONE, _NO_NUMBER, _NO_NUMBER, _NONE, _NONE, [[]],
)  # fmt: skip
"""No case at all."""
