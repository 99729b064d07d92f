"""Cases judged under two rule sets, in arrays: a row for each criterion, a column for each case."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from glandwise.case import flat as corpus
from glandwise.case.flat_cells import Cells
from glandwise.questions.envelope import evaluation as batch
from glandwise.rules.model import RuleSetData

REFUSED = -1
"""Verdict code of a row that a rule set cannot judge."""
SHIFT = 1e-6
"""Difference of utilization from which a margin counts as shifted; below lies the noise of solving to a tolerance."""
SOLVED_SHIFT = 1e-3
"""The same for the contact temperature, which is solved to 0.01 K."""

OUTCOMES = ("same", "shifted", "better", "worse", "refused")
SAME, SHIFTED, BETTER, WORSE, LOST = range(len(OUTCOMES))
"""Outcomes by code."""


@dataclass
class Judged:
    """A table judged under one rule set, row by row."""

    criteria: tuple[str, ...]
    status: Any
    """By criterion and row; ``REFUSED`` where a row cannot be judged."""
    utilization: Any
    """By criterion and row; ``nan`` where there is none."""
    verdict: Any
    """By row."""
    faults: Mapping[int, str]

    def aligned(self, criteria: tuple[str, ...]) -> Judged:
        """Return the same with the criteria in this order; one that is not judged passes."""
        if self.criteria == criteria:
            return self
        count = len(self.verdict)
        status, used = np.full((len(criteria), count), batch.PASS), np.full((len(criteria), count), np.nan)
        for place, name in enumerate(criteria):
            if name in self.criteria:
                here = self.criteria.index(name)
                status[place], used[place] = self.status[here], self.utilization[here]
        return Judged(criteria, status, used, self.verdict, self.faults)


def stacked(found: batch.Evaluation) -> tuple[Any, Any]:
    """Return status and utilization of some cases by criterion."""
    status = np.array([found.status[name] for name in found.criteria]).reshape(len(found.criteria), -1)
    used = np.full(status.shape, np.nan)
    for place, name in enumerate(found.criteria):
        if name in found.utilization:
            used[place] = found.utilization[name]
    return status, used


@dataclass
class Reading:
    """A table as a rule set reads it, and what was found under it."""

    data: RuleSetData
    flat: corpus.Flat
    count: int

    @cached_property
    def evaluation(self) -> batch.Evaluation:
        """What was found of the rows that can be judged."""
        return batch.evaluate(self.data, self.flat.rows)

    @cached_property
    def judged(self) -> Judged:
        """What was found, row by row of the table."""
        found, index = self.evaluation, self.flat.index
        status, used = stacked(found)
        verdict = found.verdict
        if len(index) != self.count:
            status, part = np.full((len(found.criteria), self.count), REFUSED), status
            status[:, index] = part
            used, part = np.full(status.shape, np.nan), used
            used[:, index] = part
            verdict, part = np.full(self.count, REFUSED), verdict
            verdict[index] = part
        return Judged(found.criteria, status, used, verdict, self.flat.faults)

    @cached_property
    def place(self) -> Any:
        """Place of each row of the table among those that can be judged, -1 for the others."""
        places = np.full(self.count, -1)
        places[self.flat.index] = np.arange(len(self.flat.index))
        return places


class Table:
    """A table to be judged under several rule sets; those that read it alike share the reading."""

    def __init__(self, cells: Mapping[str, Cells]) -> None:
        self.cells = cells
        self._flats: dict[corpus.ReadBy, corpus.Flat] = {}
        self._held: dict[int, Reading] = {}

    def flat(self, data: RuleSetData, keep: bool = True) -> corpus.Flat:
        """Return the table as a rule set reads it; it is kept for the next one, or not."""
        by = corpus.read_by(data)
        found = self._flats.get(by)
        if found is None:
            found = corpus.read(data, self.cells)
            if keep:
                self._flats[by] = found
        return found

    def under(self, data: RuleSetData) -> Reading:
        """Return the table as judged under a rule set."""
        if id(data) not in self._held:
            flat = self.flat(data)
            self._held[id(data)] = Reading(data, flat, len(flat.ids))
        return self._held[id(data)]


def outcomes(criteria: tuple[str, ...], before: tuple[Any, Any], after: tuple[Any, Any]) -> Any:
    """Return the outcome by criterion and row of two pairs of status and utilization."""
    (a, u), (b, v) = before, after
    least = np.array([SOLVED_SHIFT if name == "contact_temperature" else SHIFT for name in criteria])[:, None]
    with np.errstate(invalid="ignore"):
        moved = np.abs(v - u) > least * np.maximum(np.abs(u), 1.0)
    # one of both without a number is a shift too, when the status stays
    moved |= np.isnan(u) != np.isnan(v)
    code = moved.astype(np.int8)
    code[b < a] = BETTER
    code[b > a] = WORSE
    code[(a == REFUSED) | (b == REFUSED)] = LOST
    return code
