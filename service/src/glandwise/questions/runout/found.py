"""Allowed runout of a case at some speeds, by machine code."""

from __future__ import annotations

from collections.abc import Sequence
from math import nan
from typing import NamedTuple

import numpy as np

from glandwise.case import record
from glandwise.case.numbers import empty
from glandwise.case.ratings import tables_of
from glandwise.mechanics.choices import Governs
from glandwise.numerics.compiled import compiled, over_rows, ready
from glandwise.questions.arrays import Row, Table
from glandwise.questions.runout import kernel
from glandwise.rules.model import RuleSetData


class Point(NamedTuple):
    """Allowance at one speed, SI."""

    rotational_speed: float
    tir: float
    followed: float
    rated: float
    governs: Governs
    with_offset: float | None
    """What a stated offset leaves; ``None`` where none is stated."""


_kernel = compiled(kernel.runout)


def warm() -> None:
    """Compile, or read from disk, all that a request may need; nothing is compiled after that."""
    ready(_kernel, record.table(0), np.zeros(0, kernel.OUT), 0.0, empty())


def found_at(n: float, row: Row, rest: float | None) -> Point:
    """Return the allowance at a speed from a row that machine code found, and what an offset leaves."""
    return Point(n, float(row["tir"]), float(row["followed"]), float(row["rated"]), Governs(row["governs"]), rest)


class Subject(NamedTuple):
    """A case as machine code takes it."""

    data: RuleSetData
    row: Table
    compounds: Table | None
    time: float

    def at(self, speeds: Sequence[float], offset: float) -> Table:
        """Return what machine code finds at some rotational speeds with an offset, NaN for none."""
        cases = np.repeat(self.row, len(speeds))
        cases["rotational_speed"], cases["offset"] = speeds, offset
        out = np.zeros(len(cases), kernel.OUT)
        found: Table = over_rows(_kernel, (cases, out), self.time, tables_of(self.data, self.compounds))
        return found

    def points(self, speeds: Sequence[float], offset: float) -> list[Point]:
        """Return the allowances at some rotational speeds."""
        concentric = self.at(speeds, nan)
        left = self.at(speeds, offset)["tir"].tolist() if offset == offset else [None] * len(speeds)
        return [found_at(n, row, rest) for n, row, rest in zip(speeds, concentric, left, strict=True)]
