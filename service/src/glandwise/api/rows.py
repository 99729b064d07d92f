"""Many cases as a table in one message: a row each, answered row by row (``text/csv``, RFC 4180).

The columns are those of a corpus of past quotes (:mod:`glandwise.case.flat`), units in their headings, and beside them the
plain fields of the request itself (a target life, say). What holds for every row, ``units``, ``rule_set`` and ``as_of``, stands
in the query. A heading that cannot be read refuses the table; a row that cannot be read, or is refused, is answered with its
fault and stops no other.
"""

from __future__ import annotations

import asyncio
import csv
import io
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any, NamedTuple

import orjson
from pydantic import ValidationError
from starlette.datastructures import QueryParams

from glandwise import spelling, units
from glandwise.api import problems
from glandwise.api.lines import Source
from glandwise.api.problems import ProblemError
from glandwise.api.render.table import cell
from glandwise.case import flat, flat_cells
from glandwise.contract.base import CalculationRequest
from glandwise.contract.faults import WORDS
from glandwise.contract.quantities import Measured, measured
from glandwise.engine import Engine
from glandwise.operations import CSV, Operation, Told

OPTIONS = ("units", "rule_set", "as_of")
"""Parameters of the query, which hold for every row."""
HEAD = ("line", "case_id", "status", "fault")
"""Columns of every answer, before those of the operation."""
_PLAIN = ("reference", "pieces")
"""Fields of a request, beside its numbers with a unit, that a column may hold."""


class Field(NamedTuple):
    """A column that is taken."""

    path: tuple[str, ...]
    """Where what stands in it has its place in a request."""
    measured: Measured | None = None
    """How its number is measured."""
    also: tuple[tuple[tuple[str, ...], str], ...] = ()
    """What a request says besides when something stands in it."""


def _leaves(case: Mapping[str, Any], above: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], Any]]:
    for name, value in case.items():
        if isinstance(value, dict) and set(value) != {"value", "unit"}:
            yield from _leaves(value, (*above, name))
        else:
            yield (*above, name), value


def _of_a_case(name: str) -> Field:
    """Find the place of a column of a case by writing a row that has it alone."""
    heading = flat.HEADINGS[name][0] if name in flat.HEADINGS else name
    leaves = dict(_leaves(flat.unflatten({heading: "1"})))
    (path,) = [path for path in leaves if path[-1] != "kind"]
    also = tuple((place, str(value)) for place, value in leaves.items() if place != path)
    return Field(path, flat.NUMBERS.get(name), also)


_OF_A_CASE: Mapping[str, Field] = {name: _of_a_case(name) for name in flat.COLUMN_NAMES}


@cache
def fields_of(operation: Operation) -> Mapping[str, Field]:
    """Return the columns that an operation takes: those of a case, and the plain fields of its own request."""
    request = operation.request
    own = {name: Field((name,), held) for name in request.model_fields if (held := measured(request, name)) is not None}
    plain = {name: Field((name,)) for name in _PLAIN if name in request.model_fields}
    return {**_OF_A_CASE, **own, **plain}


# ------------------------------------------------------------------------------------------------------------ reading


def _heading(text: str, fields: Mapping[str, Field]) -> tuple[str, str | None]:
    """Split a heading into field and unit. Raises :class:`ProblemError`."""
    name, _, rest = text.strip().partition("[")
    name, field = name.strip(), fields.get(name.strip())
    if field is None or name in flat.COLUMN_NAMES:
        try:
            return flat.header(text)
        except flat.ColumnError as error:
            accepted = error.accepted if field is not None else ", ".join(fields)
            raise problems.of_column(error.column, error.fault, accepted) from None
    if field.measured is None:
        if rest:
            raise problems.of_column(text, "this column has no unit", f"{name} without brackets")
        return name, None
    symbols = units.DIMENSIONS[field.measured.dimension].symbols
    unit = spelling.find_unit(rest.removesuffix("]"), symbols)
    if unit is None:
        said = ", ".join(f"{name} [{one}]" for one in spelling.listed(symbols).split(", "))
        raise problems.of_column(text, "the unit does not fit" if rest else "the heading has no unit", said)
    return name, unit


def options(given: QueryParams, engine: Engine) -> tuple[dict[str, Any], units.UnitSystem]:
    """Return what holds for every row, as fields of a request, and the units of the answer."""
    accepted = f"for a table of {CSV}: {', '.join(OPTIONS)}"
    if set(given) - set(OPTIONS):
        raise problems.unknown_parameters(given, OPTIONS, accepted)
    raw: dict[str, Any] = dict(given)
    if "units" in raw:
        raw["units"] = {"system": raw["units"]}
    try:
        options = CalculationRequest.model_validate(raw)
        engine.rules(options)
    except ValidationError as error:
        raise problems.from_validation(error, prefix=("query",)) from None
    return raw, options.units.system_of_units()


class Rows(Source):
    """The rows of a table, the cells of each as JSON."""

    def __init__(self, text: str) -> None:
        super().__init__((line, orjson.dumps(cells)) for line, cells in _rows(text))


def _rows(text: str) -> Iterator[tuple[int, list[str]]]:
    """Yield the rows behind the heading."""
    reader = csv.reader(io.StringIO(text, newline=""))
    head, line = False, 0
    for cells in reader:
        first, line = line + 1, reader.line_num
        if any(cell.strip() for cell in cells):
            if head:
                yield first, cells
            head = True


def _read(body: bytes) -> tuple[str, list[str], int]:
    """Return the text of a table, its headings and the number of its rows."""
    try:
        text = body.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise ProblemError("bad-request", "the table is not text in UTF-8") from None
    try:
        head = next((row for row in csv.reader(io.StringIO(text, newline="")) if any(map(str.strip, row))), [])
        return text, head, sum(1 for _ in _rows(text))
    except csv.Error:
        detail = "the table cannot be read as CSV: a cell is too long, or a quote or a line is not ended"
        raise ProblemError("bad-request", detail) from None


async def read(
    body: bytes, operation: Operation, given: QueryParams, engine: Engine, max_rows: int, language: str
) -> tuple[Rows, Table]:
    """Return the rows of a table, and how they are read and answered. Raises :class:`ProblemError`."""
    stated, system = options(given, engine)
    text, head, count = await asyncio.to_thread(_read, body)
    if count > max_rows:
        raise ProblemError("content-too-large", f"at most {max_rows} rows are accepted")
    if len(head) == 1 and ";" in head[0]:
        raise problems.of_column(
            "", "the cells are separated by semicolons", "commas between cells, and decimal points"
        )
    if operation.brief is not None:
        stated["detail"] = "verdict"
    return Rows(text), Table(operation, columns(operation, head), stated, system.units, language, operation.told)


def columns(operation: Operation, head: Sequence[str]) -> tuple[tuple[str, str | None], ...]:
    """Return field and unit of each heading. Raises :class:`ProblemError` for a heading that cannot be read, or is missing."""
    taken = fields_of(operation)
    found = tuple(_heading(name, taken) for name in head)
    names = [name for name, _ in found]
    for place, name in enumerate(names):
        if name in names[:place]:
            raise problems.of_column(head[place], "the column is there twice", "each column once")
    optional = () if operation.request.model_fields["design"].is_required() else ("family", "compound")
    for name in flat.REQUIRED:
        if name not in names and name not in optional:
            accepted = f"columns {', '.join(one for one in flat.REQUIRED if one not in optional)} and one of {', '.join(flat.MOTION)}"
            raise problems.of_column(name, "the column is missing", accepted)
    if not set(flat.MOTION) & set(names):
        raise problems.of_column(
            "rotational_speed", "no column says how the shaft moves", f"one of {', '.join(flat.MOTION)}"
        )
    return found


# ---------------------------------------------------------------------------------------------------------- answering


@dataclass(frozen=True)
class Table:
    """How the rows of a table are read, and what they are answered with; a worker gets it as it is."""

    operation: Operation
    columns: tuple[tuple[str, str | None], ...]
    """Field and unit of each column."""
    options: Mapping[str, Any]
    units: Mapping[str, str]
    language: str
    told: tuple[Told, ...]
    media_type = CSV

    @property
    def head(self) -> bytes:
        """The heading of the answer."""
        return self.line([*HEAD, *(told.heading(self.units) for told in self.told)])

    def read(self, line: bytes) -> dict[str, Any]:
        """Return the request that a row says. Raises :class:`ProblemError`."""
        cells = orjson.loads(line)
        if len(cells) != len(self.columns):
            raise problems.of_column(
                "", "the row has more or fewer cells than the heading", f"{len(self.columns)} cells"
            )
        taken = fields_of(self.operation)
        request: dict[str, Any] = {"duty": {}, "design": {}, **self.options}
        filled = []
        for (name, unit), written in zip(self.columns, cells, strict=True):
            text = written.strip()
            if not text or name == "case_id":
                continue
            filled.append(name)
            field = taken[name]
            _put(request, field.path, _value(name, field, unit, text))
            for path, value in field.also:
                _put(request, path, value)
        if not set(filled) & set(flat.MOTION):
            raise problems.of_column("rotational_speed", WORDS["missing"][0], f"one of {', '.join(flat.MOTION)}")
        if not request["design"] and not self.operation.request.model_fields["design"].is_required():
            del request["design"]
        return request

    def _case_id(self, line: bytes) -> str:
        cells = orjson.loads(line)
        found = next((text for (name, _), text in zip(self.columns, cells, strict=False) if name == "case_id"), "")
        return found if isinstance(found, str) else ""

    def answered(self, number: int, line: bytes, result: Mapping[str, Any]) -> bytes:
        """Write the answer to a row."""
        told = (one.of(result) for one in self.told)
        return self.line([number, self._case_id(line), 200, "", *told])

    def refused(self, number: int, line: bytes, document: Mapping[str, Any]) -> bytes:
        """Write why a row is refused: each of its faults with what is accepted there."""
        faults = " | ".join(map(self._fault, document["errors"])) or document["detail"]
        return self.line([number, self._case_id(line), document["status"], faults, *(None for _ in self.told)])

    def line(self, cells: Sequence[Any]) -> bytes:
        """Write a row of the answer."""
        stream = io.StringIO()
        csv.writer(stream).writerow(map(cell, cells))
        return stream.getvalue().encode("utf-8")

    def _fault(self, error: Mapping[str, Any]) -> str:
        """Say a fault of a field as one of its column."""
        path = tuple(error["pointer"].split("/")[1:])
        path = path[:-1] if path[-1:] in {("value",), ("unit",)} else path
        taken = fields_of(self.operation)
        exact = (name for name, field in taken.items() if field.path == path)
        needed = (name for name in flat.REQUIRED if path and taken[name].path[: len(path)] == path)  # of an object
        name = next(exact, None) or next(needed, None)
        head = name or (path[0] if len(path) == 1 else error["pointer"])
        accepted = "" if error["accepted"] is None else f"; accepted: {error['accepted']}"
        return f"{head}: {error['detail']}{accepted}" if head else f"{error['detail']}{accepted}"


def _put(request: dict[str, Any], path: Sequence[str], value: Any) -> None:
    *above, name = path
    for part in above:
        request = request.setdefault(part, {})
    request[name] = value


def _value(name: str, field: Field, unit: str | None, text: str) -> Any:
    """Return what a cell says as it stands in a request. Raises :class:`ProblemError`."""
    if field.measured is not None:
        assert unit is not None
        try:
            number = float(text)
        except ValueError:
            number = math.nan
        if not math.isfinite(number):
            raise problems.of_column(name, WORDS["float_type"][0], field.measured.accepted(unit))
        return {"value": number, "unit": unit}
    if name in flat.FLAGS:
        (found,) = flat_cells.flags([text]).tolist()
        if found == flat_cells.UNKNOWN:
            raise problems.of_column(name, WORDS["bool_type"][0], flat_cells.TRUE_OR_FALSE)
        return bool(found)
    if name == "pieces":
        return int(text) if text.isdecimal() and len(text) <= 12 else text  # what is no number, its own field refuses
    return text
