"""Many cases as a workbook (.xlsx): an empty one to be filled in, its rows read, their answers written as another.

It is the table of :mod:`glandwise.api.rows` in another dress: the same columns, the same requests, the same faults. The library
is an extra of the service and loaded when somebody sends or wants a workbook. What is sent is unpacked within bounds, in the
worker that answers batches: entries of the archive are counted and measured before any is read. A formula is never worked out,
and what it gave when the file was saved is not taken for a value: its row is refused.
"""

from __future__ import annotations

import io
import re
import time
import zipfile
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from datetime import time as clock
from typing import Any, TypeVar

import orjson
from starlette.datastructures import QueryParams
from starlette.requests import Request
from starlette.types import Receive, Scope, Send

from glandwise import described, spelling, units
from glandwise.api import problems, rows
from glandwise.api.desk import NO_WORKER, Desk, NoWorker, WorkerLost
from glandwise.api.lines import BatchAnswer, Source
from glandwise.api.memory import bounded
from glandwise.api.problems import ProblemError
from glandwise.api.rates import Bill
from glandwise.case import flat, flat_cells
from glandwise.engine import Engine
from glandwise.operations import CSV, XLSX, Operation, Told
from glandwise.rules.model import RuleSetData

T = TypeVar("T")

SHEET = "cases"
"""Sheet that is read where a workbook has several."""
MOST_ENTRIES = 500
"""Files that the archive of a workbook may have."""
MOST_COLUMNS = 256
"""Columns in which anything may stand."""
MOST_ROWS = 1_048_576
"""Rows of a sheet, which the format ends with."""
_WHOLE = 1e15
"""Numbers below are written as whole where they are."""
_EPOCH = (1980, 1, 1, 0, 0, 0)
"""Date of every file in an archive that is written: an answer does not hang on the day."""
_MODIFIED = re.compile(rb"(<dcterms:(created|modified)[^>]*>)[^<]*")

_ONE_OF = "one of these"
_TEXTS = {
    "case_id": "A name of your own, which comes back with the answer.",
    "family": "A light machined lip, or a section loaded by a spring.",
    "energizer": "Spring of an energized lip.",
    "lip_tip": "Tip of a flexible lip.",
}
"""Of columns that are no field of a request, or the tag of one."""

_FAULTS = {
    "formula": ("a formula stands here, which is not worked out", "the value itself"),
    "percent": ("the cell is shown as a percentage", "a plain number in the unit of the heading"),
}


def _library(kind: str = "unsupported-media-type") -> Any:
    """Return the library. Raises :class:`ProblemError` where it is not installed."""
    try:
        import openpyxl
    except ModuleNotFoundError:
        detail = f"{XLSX} is not installed with this service (its extra xlsx); accepted: {CSV}"
        raise ProblemError(kind, detail) from None
    return openpyxl


# ---------------------------------------------------------------------------------------------------- in the worker


def _timed(engine: Engine, function: Callable[..., T], *arguments: Any) -> tuple[T, float]:
    """Return what a function gives, and the seconds that it took."""
    del engine
    begin = time.perf_counter()
    return function(*arguments), time.perf_counter() - begin


def read_cells(
    body: bytes, max_rows: int, max_bytes: int, max_memory: int
) -> tuple[list[str], list[tuple[int, bytes]]]:
    """Return headings and rows of a workbook that unpacks to at most ``max_bytes``. Raises :class:`ProblemError`."""
    library = _library()
    try:
        with bounded(max_memory):
            _measure(body, max_bytes)
            book = library.load_workbook(io.BytesIO(body), read_only=True, data_only=False, keep_links=False)
            return _cells(_sheet(book), max_rows)
    except ProblemError:
        raise
    except MemoryError:
        raise ProblemError("content-too-large", "the workbook unpacks to more than a request may") from None
    except Exception:  # the library has none of its own for what a file can be
        raise ProblemError("bad-request", "the body is not a whole workbook (.xlsx, without a password)") from None


def _measure(body: bytes, max_bytes: int) -> None:
    with zipfile.ZipFile(io.BytesIO(body)) as archive:
        entries = archive.infolist()
    if len(entries) > MOST_ENTRIES or sum(entry.file_size for entry in entries) > max_bytes:
        detail = f"a workbook may unpack to {MOST_ENTRIES} files of {max_bytes} bytes in all"
        raise ProblemError("content-too-large", detail)


def _sheet(book: Any) -> Any:
    sheets = {sheet.title.strip().lower(): sheet for sheet in book.worksheets}
    if SHEET in sheets:
        return sheets[SHEET]
    if len(sheets) != 1:
        raise problems.of_column(
            "", "no sheet of the workbook is named for the cases", f"one sheet, or one named {SHEET}"
        )
    return next(iter(sheets.values()))


def _cells(sheet: Any, max_rows: int) -> tuple[list[str], list[tuple[int, bytes]]]:
    sheet.reset_dimensions()  # what a file says of them may be wrong, and cells would be left out
    head: list[str] = []
    found: list[tuple[int, bytes]] = []
    for number, row in enumerate(sheet.iter_rows(max_row=MOST_ROWS), start=1):
        if len(row) > MOST_COLUMNS:
            raise problems.of_column(
                "", "a row has more columns than are read", f"at most {MOST_COLUMNS} columns in row {number}"
            )
        cells = [_cell(cell) for cell in row]
        while cells and cells[-1] == "":
            cells.pop()
        if not any(cell if isinstance(cell, dict) else cell.strip() for cell in cells):
            continue
        if not head:
            if any(isinstance(cell, dict) for cell in cells):
                raise problems.of_column(
                    "", "a formula stands among the headings", f"the headings themselves in row {number}"
                )
            head = [str(cell) for cell in cells]
            continue
        if len(found) == max_rows:
            raise ProblemError("content-too-large", f"at most {max_rows} rows are accepted")
        found.append((number, orjson.dumps(cells + [""] * (len(head) - len(cells)))))
    return head, found


def _cell(cell: Any) -> str | dict[str, str]:
    """Return what stands in a cell as text; where that cannot be taken, its fault."""
    value = cell.value
    if value is None:
        return ""
    if cell.data_type == "f":
        return {"fault": "formula"}
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        if "%" in (cell.number_format or ""):
            return {"fault": "percent"}
        return str(int(value)) if value == int(value) and abs(value) < _WHOLE else repr(value)
    return value.isoformat() if isinstance(value, date | datetime | clock) else str(value)


def write_answers(content: bytes) -> bytes:
    """Write a workbook of lines of cells in JSON, the first of them the headings."""
    library = _library()
    book = library.Workbook(write_only=True)
    sheet = book.create_sheet("answers")
    sheet.freeze_panes = "A2"
    lines = content.splitlines()
    head = orjson.loads(lines[0])
    for place, name in enumerate(head, start=1):
        wide = name in {"fault", "summary"}
        letter = library.utils.get_column_letter(place)
        sheet.column_dimensions[letter].width = 60 if wide else max(10, len(name) + 2)
    sheet.append([_bold(_written(sheet, name)) for name in head])
    for line in lines[1:]:
        sheet.append([_written(sheet, value) for value in orjson.loads(line)])
    return _saved(book)


def _written(sheet: Any, value: Any) -> Any:
    """Return a cell; text that begins like a formula stays text."""
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

    if isinstance(value, str):
        value = ILLEGAL_CHARACTERS_RE.sub("?", value)
    cell = WriteOnlyCell(sheet, value)
    if isinstance(value, str):
        cell.data_type = "s"
    return cell


def _bold(cell: Any) -> Any:
    from openpyxl.styles import Font

    cell.font = Font(bold=True)
    return cell


def _saved(book: Any) -> bytes:
    """Return the bytes of a workbook, the same whenever it is written."""
    written, steady = io.BytesIO(), io.BytesIO()
    book.save(written)
    with zipfile.ZipFile(written) as before, zipfile.ZipFile(steady, "w", zipfile.ZIP_DEFLATED) as after:
        for name in before.namelist():
            content = before.read(name)
            if name == "docProps/core.xml":
                content = _MODIFIED.sub(rb"\g<1>1980-01-01T00:00:00Z", content)
            after.writestr(zipfile.ZipInfo(name, _EPOCH), content, zipfile.ZIP_DEFLATED)
    return steady.getvalue()


# --------------------------------------------------------------------------------------------------- in the service


async def _at_the_desk(desk: Desk, bill: Bill | None, function: Callable[..., T], *arguments: Any) -> T:
    """Have a function run where batches are answered, and charge what it took. Raises :class:`ProblemError`."""
    try:
        found, took = await desk.run(_timed, function, *arguments)
    except NoWorker:
        raise ProblemError("unavailable", NO_WORKER) from None
    except WorkerLost:
        raise ProblemError("internal-error", problems.DEFECT) from None
    if bill is not None:
        bill.add(took * 1e3)
    made: T = found
    return made


@dataclass(frozen=True)
class Sheet(rows.Table):
    """How the rows of a workbook are read, and what they are answered with."""

    media_type = XLSX

    def read(self, line: bytes) -> dict[str, Any]:
        """Return the request that a row says. Raises :class:`ProblemError`."""
        for (name, _), cell in zip(self.columns, orjson.loads(line), strict=False):
            if isinstance(cell, dict):
                raise problems.of_column(name, *_FAULTS[cell["fault"]])
        return super().read(line)

    def line(self, cells: Sequence[Any]) -> bytes:
        """Write a row of the answer, to be put into a workbook with the others."""
        return orjson.dumps(list(cells)) + b"\n"


async def read(
    body: bytes, operation: Operation, given: QueryParams, engine: Engine, language: str, desk: Desk, bill: Bill | None,
    max_rows: int, max_bytes: int, max_memory: int,
) -> tuple[Source, Sheet]:  # fmt: skip
    """Return the rows of a workbook, and how they are read and answered. Raises :class:`ProblemError`."""
    _library()
    options, system = rows.options(given, engine)
    head, found = await _at_the_desk(desk, bill, read_cells, body, max_rows, max_bytes, max_memory)
    columns = rows.columns(operation, head)
    if operation.brief is not None and not operation.words:
        options["detail"] = "verdict"
    return Source(iter(found)), Sheet(operation, columns, options, system.units, language, told(operation))


def told(operation: Operation) -> tuple[Told, ...]:
    """Return what a row of a workbook is told: that of a table, and a sentence where there is one."""
    return (*operation.told[:1], *operation.words, *operation.told[1:])


class WorkbookAnswer(BatchAnswer):
    """The answer to a workbook: it can be written when all of its rows have been answered."""

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer; stop working when the caller hangs up."""
        self._scope, self._receive, self._pieces = scope, receive, list[bytes]()
        await super().__call__(scope, receive, send)

    async def _begin(self, send: Send) -> None:
        """Send nothing yet."""

    async def _send(self, _: Send, piece: bytes) -> None:
        self._pieces.append(piece)

    async def _end(self, send: Send) -> None:
        try:
            content = await _at_the_desk(self.desk, self._bill, write_answers, b"".join(self._pieces))
        except ProblemError as error:
            refusal = await problems.handle_problem(Request(self._scope), error)
            await refusal(self._scope, self._receive, send)
            return
        headers = [*self.raw_headers, (b"content-length", str(len(content)).encode())]
        await send({"type": "http.response.start", "status": 200, "headers": headers})
        await send({"type": "http.response.body", "body": content})


# -------------------------------------------------------------------------------------------------- the empty workbook


@dataclass(frozen=True)
class _Column:
    """A column of the empty workbook."""

    heading: str
    needed: str
    text: str
    taken: str
    names: tuple[str, ...] = ()
    """What can be chosen."""


def _described(operation: Operation, system: units.UnitSystem, data: RuleSetData) -> Iterator[_Column]:
    taken = rows.fields_of(operation)
    design = operation.request.model_fields["design"].is_required()
    needed = [name for name in flat.REQUIRED if design or name not in {"family", "compound"}]
    own = [name for name in taken if name not in flat.COLUMN_NAMES]
    order = dict.fromkeys(["case_id", *needed, *flat.MOTION, *flat.REQUIRED, *own, *flat.COLUMN_NAMES])
    for name in order:
        held = taken[name].measured
        need = "needed" if name in needed else "one of these is needed" if name in flat.MOTION else ""
        text = _text(operation, name, taken[name].path)
        if held is not None:
            unit = system.units[held.dimension]
            others = spelling.listed(units.DIMENSIONS[held.dimension].symbols)
            yield _Column(
                f"{name} [{unit}]", need, text, f"{held.accepted(unit)}; other units in the heading: {others}"
            )
        elif name in flat.CHOICES:
            options = tuple(option for option in flat.CHOICES[name] if option)
            yield _Column(name, need, text, _ONE_OF, options)
        elif name in flat.NAMES:
            yield _Column(
                name,
                need,
                text,
                "a name of the rule set, see the sheet names",
                tuple(getattr(data, flat.NAMES[name].table)),
            )
        elif name in flat.FLAGS:
            yield _Column(name, need, text, flat_cells.TRUE_OR_FALSE, ("true", "false"))
        else:
            yield _Column(name, need, text, "a whole number" if name == "pieces" else "text")


def _text(operation: Operation, name: str, path: Sequence[str]) -> str:
    """Return the description of a column: the text of its field, or of what it is part of."""
    if name in _TEXTS:
        return _TEXTS[name]
    for end in range(len(path), 0, -1):
        for model in problems.models_at(operation.request, path[: end - 1]):
            if text := described.text_of(model, path[end - 1]):
                return text
    return ""


def template(operation: Operation, system: units.UnitSystem, data: RuleSetData) -> bytes:
    """Write the empty workbook of an operation: headings with units and notes, choices to be picked. Raises :class:`ProblemError`."""
    library = _library("not-acceptable")
    from openpyxl.comments import Comment
    from openpyxl.worksheet.datavalidation import DataValidation

    book = library.Workbook()
    cases, said, names = book.active, book.create_sheet("columns"), book.create_sheet("names")
    cases.title, cases.freeze_panes, said.freeze_panes = SHEET, "B2", "A2"
    taken = list(_described(operation, system, data))
    said.append(["column", "needed", "what it is", "what is taken"])
    for place, column in enumerate(taken, start=1):
        letter = library.utils.get_column_letter(place)
        cell = cases.cell(1, place, column.heading)
        if column.needed == "needed":
            _bold(cell)
        lines = (column.needed, column.text, column.taken if not column.names else "")
        cell.comment = Comment("\n".join(filter(None, lines))[:400], "Glandwise", height=160, width=320)
        cases.column_dimensions[letter].width = max(12, len(column.heading) + 2)
        if column.names:
            _list(names, place, column)
            where = f"'names'!${letter}$2:${letter}${len(column.names) + 1}"
            choice = DataValidation("list", formula1=where, allow_blank=True)
            choice.add(f"{letter}2:{letter}{MOST_ROWS}")
            cases.add_data_validation(choice)
        listed = f"one of these: {', '.join(column.names)}" if column.taken == _ONE_OF else column.taken
        said.append([column.heading, column.needed, column.text, listed])
    for letter, width in zip("ABCD", (34, 22, 70, 90), strict=True):
        said.column_dimensions[letter].width = width
    return _saved(book)


def _list(sheet: Any, place: int, column: _Column) -> None:
    values: Iterable[str] = (column.heading, *column.names)
    for row, value in enumerate(values, start=1):
        sheet.cell(row, place, value)
