"""Tables of the numbers of a rule set, as formulas take them: rows for machine code, leaves for a trace."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Protocol, TypeVar

import numpy as np

from glandwise.numerics.docstring import Quantity, attributes
from glandwise.numerics.trace import TracedCurve, leaf
from glandwise.rules.model import Curve, Datum, RuleSetData
from glandwise.rules.values import MOST_BRANCHES, MOST_POINTS

POINTS, BRANCHES = MOST_POINTS, MOST_BRANCHES
CURVE = np.dtype([("x", "f8", (POINTS,)), ("y", "f8", (POINTS,)), ("n", "i8")])

Row = TypeVar("Row", covariant=True)


class Rows(Protocol[Row]):
    """A table of records."""

    def __getitem__(self, code: int, /) -> Row:
        """Return a row."""


def record_dtype(kind: type, *more: tuple[Any, ...]) -> np.dtype[Any]:
    """Return the type of a row for the fields of a record class."""
    fields = attributes(kind)
    return np.dtype([*((name, CURVE if q.is_curve else "f8") for name, q in fields.items()), *more], align=True)


def filled(values: Sequence[float], size: int) -> Any:
    """Return values with zeros up to a size."""
    return np.array([*values, *[0.0] * (size - len(values))])


def packed_curve(curve: Curve) -> Any:
    """Return a curve as the fields of a row."""
    return filled(curve.si_x, POINTS), filled(curve.si_y, POINTS), len(curve.si_x)


def fill(row: Any, kind: type, record: Any) -> None:
    """Write the fields of a record class into a row."""
    for name, q in attributes(kind).items():
        value = getattr(record, name)
        row[name] = packed_curve(value) if q.is_curve else value.si


def at_path(data: RuleSetData, path: str) -> Any:
    """Return what stands at a dotted path of a rule set."""
    found: Any = data
    for part in path.split("."):
        found = found[part] if isinstance(found, dict) else getattr(found, part)
    return found


# for the traced life


def source_of(path: str, record: Any) -> str:
    """Say where a value of the rules (or one given in their place) comes from."""
    if record.source == "request":
        return "request, in place of the rules"
    evidence = record.evidence.replace("_", " ")
    if record.source.replace("-", " ") == evidence:
        return f"rule {path}; {evidence}"
    return f"rule {path}; source {record.source}, {evidence}"


def traced_datum(q: Quantity, record: Datum, path: str) -> Any:
    """Return a value of the rules as a leaf."""
    return leaf(record.si, q, source_of(path, record), record)


def traced_record(kind: type, record: Any, path: str) -> dict[str, Any]:
    """Return the fields of a record class as leaves."""
    found: dict[str, Any] = {}
    for name, q in attributes(kind).items():
        value, where = getattr(record, name), f"{path}.{name}"
        if q.is_curve:
            found[name] = TracedCurve(q, value.si_x, value.si_y, source_of(where, value), value)
        else:
            found[name] = traced_datum(q, value, where)
    return found


class LazyRows:
    """A table whose rows are made when they are asked for."""

    def __init__(self, make: Callable[[int], Any]) -> None:
        self._make = make
        self._held: dict[int, Any] = {}

    def __getitem__(self, code: int) -> Any:
        at = int(code)
        if at not in self._held:
            self._held[at] = self._make(at)
        return self._held[at]


class OneRow:
    """A table of one row."""

    def __init__(self, row: Any) -> None:
        self._row = row

    def __getitem__(self, code: int) -> Any:
        return self._row
