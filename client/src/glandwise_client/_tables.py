"""Tables of cases as pandas, polars and Arrow hold them: written as CSV, and given back with the answers beside them.

None of these libraries is needed, and none is imported but by who hands a table of it in. No input or output here.
"""

from __future__ import annotations

import csv
import io
import itertools
import math
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import date
from typing import Any, Final, Literal, NamedTuple, TypeAlias, TypeVar

from glandwise_client._base import Answer
from glandwise_client._batch import Told
from glandwise_client._errors import AnswerError, RequestError
from glandwise_client._requests import Operation, Prepared, build, shown
from glandwise_client._responses import check

CSV: Final = "text/csv"
SIZE: Final = 200
"""Rows sent in one message."""
Tabled: TypeAlias = Literal["check_envelope", "estimate_friction", "estimate_wear", "answer_enquiry"]
"""Operations that take a table of cases."""
PREFIXES: Final[Mapping[str, str]] = {
    "check_envelope": "envelope.",
    "estimate_friction": "friction.",
    "estimate_wear": "wear.",
    "answer_enquiry": "enquiry.",
}
"""What the names of the columns of an answer begin with, by operation."""
_OF_THE_MESSAGE: Final = ("line", "case_id", "status")
"""Columns of an answer that say which row it is of."""
_NUMBERS: Final = frozenset({"utilization"})
"""Columns of numbers without a unit."""

Values: TypeAlias = list[Any]
Frame = TypeVar("Frame")
"""A DataFrame of pandas or polars, or a Table of pyarrow."""


class _Frame(NamedTuple):
    """A table as its library has it: the names of its columns, their values, and how columns are put beside them."""

    names: list[Any]
    values: Callable[[Any], Values]
    joined: Callable[[Mapping[str, Values]], Any]
    rows: int


def _pandas(frame: Any) -> _Frame:
    def joined(columns: Mapping[str, Values]) -> Any:
        found = frame.copy()
        for name, values in columns.items():
            number = _is_number(name)
            found[name] = [math.nan if value is None else value for value in values] if number else values
            if number:
                found[name] = found[name].astype("float64")
        return found

    places = {name: place for place, name in enumerate(frame.columns)}
    return _Frame(list(frame.columns), lambda name: list(frame.iloc[:, places[name]].tolist()), joined, len(frame))


def _polars(frame: Any) -> _Frame:
    def joined(columns: Mapping[str, Values]) -> Any:
        import polars

        return frame.with_columns(
            polars.Series(name, values, dtype=polars.Float64 if _is_number(name) else polars.String)
            for name, values in columns.items()
        )

    return _Frame(list(frame.columns), lambda name: list(frame[name].to_list()), joined, frame.height)


def _arrow(table: Any) -> _Frame:
    def joined(columns: Mapping[str, Values]) -> Any:
        import pyarrow

        found = table
        for name, values in columns.items():
            kind = pyarrow.float64() if _is_number(name) else pyarrow.string()
            found = found.append_column(name, pyarrow.array(values, kind))
        return found

    return _Frame(list(table.column_names), lambda name: list(table.column(name).to_pylist()), joined, table.num_rows)


_KINDS: Final[Mapping[tuple[str, str], Callable[[Any], _Frame]]] = {
    ("pandas", "DataFrame"): _pandas,
    ("polars", "DataFrame"): _polars,
    ("pyarrow", "Table"): _arrow,
}


def _is_number(name: str) -> bool:
    return name.endswith("]") or name.rpartition(".")[2] in _NUMBERS


def _frame(table: Any) -> _Frame:
    """Find out what a table is, by the names of its class and of those that it is made from."""
    for kind in type(table).__mro__:
        read = _KINDS.get((kind.__module__.partition(".")[0], kind.__name__))
        if read is not None:
            return read(table)
    hint = "; collect a LazyFrame first" if type(table).__name__ == "LazyFrame" else ""
    raise RequestError(
        f"a table is a DataFrame of pandas or polars, or a Table of pyarrow, and not a {type(table).__name__}{hint}"
    )


def _cell(value: Any) -> str:
    """Write a cell; what stands for nothing in any of the libraries is empty."""
    if value is None or value != value or type(value).__name__ in {"NAType", "NaTType"}:
        return ""
    if type(value).__name__ in {"bool", "bool_"}:
        return "true" if value else "false"
    return value.isoformat() if isinstance(value, date) else str(value)


class Job:
    """A table on its way to the service and back."""

    def __init__(
        self,
        operation: Operation[Any],
        table: Any,
        *,
        size: int,
        keep: Sequence[str],
        prefix: str | None,
        query: Mapping[str, Any],
        units: Any,
        progress: Told | None,
    ) -> None:
        if operation.name not in PREFIXES:
            raise RequestError(f"{operation.name} takes no table; a table is for: {', '.join(PREFIXES)}")
        if size < 1:
            raise RequestError(f"a table of {size} rows at a time; at least 1 is needed")
        chosen = units if query.get("units") is None else query["units"]
        if chosen is not None and chosen not in ("si", "us"):
            raise RequestError('the answers to a table are in the units of a system: units="si" or units="us"')
        self._operation, self._frame, self._size = operation, _frame(table), size
        self._prefix = PREFIXES[operation.name] if prefix is None else prefix
        given = {**query, "units": chosen}
        self._query = {name: _cell(value) for name, value in given.items() if value is not None}
        self._sent = self._columns(keep)
        self._found: dict[str, Values] = {}
        self._progress, self._done = progress, 0
        self._lines: list[int] = []
        """Line of each row of the message sent last."""

    def _columns(self, keep: Sequence[str]) -> list[str]:
        """Name the columns that are sent: all but those to be kept as they are, and answers of before."""
        names = self._frame.names
        for name in names:
            if not isinstance(name, str):
                raise RequestError("a heading of the table is no text")
            if names.count(name) > 1:
                raise RequestError(f"the heading {shown(name)} is there twice")
        if missing := [name for name in keep if name not in names]:
            raise RequestError(f"the table has no column {', '.join(map(shown, missing))} to keep")
        before = tuple(PREFIXES.values())
        return [name for name in names if name not in keep and not name.startswith(before)]

    def messages(self) -> Iterator[Prepared]:
        """Yield the messages, each when the one before is answered."""
        columns = [[_cell(value) for value in self._frame.values(name)] for name in self._sent]
        self._tell()
        rows = zip(*columns, strict=True) if columns else iter([()] * self._frame.rows)
        for _ in range(0, max(1, self._frame.rows), self._size):
            stream = io.StringIO(newline="")
            writer = csv.writer(stream, lineterminator="\n", quoting=csv.QUOTE_ALL)  # an empty row keeps its line
            writer.writerow(self._sent)
            line, self._lines = 1 + _lines(self._sent), []
            for row in itertools.islice(rows, self._size):
                self._lines.append(line)
                writer.writerow(row)
                line += _lines(row)
            content = stream.getvalue().encode("utf-8", "replace")
            prepared = build(self._operation, accept=CSV, content=content, content_type=CSV)
            yield prepared._replace(query=self._query)

    def take(self, answer: Answer) -> None:
        """Read the answer to the message sent last. Raises the exception of an answer that is none."""
        check(answer)
        rows = list(csv.reader(io.StringIO(answer.text, newline=""))) if answer.media_type == CSV else []
        head = rows.pop(0) if rows else []
        if not set(_OF_THE_MESSAGE) <= set(head) or "fault" not in head or any(len(row) != len(head) for row in rows):
            detail = "the answer does not read as a table of answers"
            raise AnswerError(detail, status=answer.status, request_id=answer.request_id)
        place = head.index("line")
        answered = {int(row[place]): row for row in rows if row[place].isdecimal()}
        # a row in which nothing stands is passed over by the service
        empty = [NOTHING if name == "fault" else "" for name in head]
        told = [answered.get(line, empty) for line in self._lines]
        if len(answered) != sum(row is not empty for row in told):
            detail = f"{len(answered)} rows came back that are not those that were sent"
            raise AnswerError(detail, status=answer.status, request_id=answer.request_id)
        for own, name in enumerate(head):
            if name not in _OF_THE_MESSAGE:
                self._found.setdefault(self._prefix + name, []).extend(_read(name, row[own]) for row in told)

        self._done += len(self._lines)
        self._tell()

    def _tell(self) -> None:
        if self._progress is not None:
            self._progress(self._done, self._frame.rows)

    def joined(self) -> Any:
        """Return the table with the answers beside it."""
        if taken := set(self._found) & set(self._frame.names):
            raise RequestError(
                f"the table has a column {shown(min(taken))} already; name the answers by another prefix"
            )
        return self._frame.joined(self._found)


NOTHING: Final = "nothing stands in the row"
"""What is said of a row that is empty throughout."""


def _lines(cells: Iterable[str]) -> int:
    """Count the lines that a row takes."""
    return 1 + sum(len(re.findall("\r\n|\r|\n", cell)) for cell in cells)


def _read(name: str, text: str) -> Any:
    if not text:
        return None
    return float(text) if _is_number(name) else text
