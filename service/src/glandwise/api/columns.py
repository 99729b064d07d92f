"""Many envelope checks as columns: an Arrow IPC stream in, one out, judged in one vectorised pass.

The columns are those of a corpus of past quotes (:mod:`glandwise.case.flat`). What differs from a single request, and
holds for all rows, stands as JSON under the key ``glandwise`` of the metadata of the schema; so does what the answer says
of itself.
"""

from __future__ import annotations

import asyncio
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from typing import Any, Literal

import numpy as np
import orjson
import pyarrow as pa
from pydantic import ValidationError
from starlette.responses import Response

from glandwise.api import problems
from glandwise.api.body import read_json
from glandwise.api.desk import NO_WORKER, Desk, NoWorker, WorkerLost, is_worker
from glandwise.api.memory import bounded
from glandwise.api.negotiation import COLUMNS
from glandwise.api.problems import ProblemError
from glandwise.api.rates import Bill
from glandwise.case import flat as corpus
from glandwise.case.flat_cells import Cells, Coded
from glandwise.contract.base import CalculationRequest
from glandwise.engine import Engine
from glandwise.questions import report
from glandwise.questions.envelope import evaluation as batch
from glandwise.questions.envelope import flat_check

KEY = b"glandwise"

BLOCK = 10_000
"""Rows judged at a time."""


class TableOptions(CalculationRequest):
    """What holds for every row of a table: units, rule set, date."""

    working: Literal[False] = False
    """A table has no room for it."""


async def answer(
    desk: Desk, body: bytes, max_rows: int, max_bytes: int, seconds: float = 3600.0, bill: Bill | None = None
) -> Response:
    """Answer a table of at most ``max_rows`` rows within ``seconds``; a worker may take ``max_bytes`` of memory for it."""
    work = _counted, body, max_rows, max_bytes
    try:
        async with asyncio.timeout(desk.seconds_left(seconds)):
            try:
                content, took = await desk.run(*work)
            except NoWorker:
                raise
            except WorkerLost:  # by this table, or by what another caller sent
                async with desk.apart() as worker:
                    content, took = await worker.run(*work)
        if bill is not None:
            bill.add(took * 1e3)
    except TimeoutError:
        raise desk.late(seconds) from None
    except NoWorker:
        raise ProblemError("unavailable", NO_WORKER) from None
    except WorkerLost:
        raise ProblemError("internal-error", problems.DEFECT) from None
    return Response(content, media_type=COLUMNS)


def _counted(engine: Engine, body: bytes, max_rows: int, max_bytes: int) -> tuple[bytes, float]:
    """Return the answer and what it took, in seconds."""
    begin = time.perf_counter()
    return judge_stream(engine, body, max_rows, max_bytes), time.perf_counter() - begin


def judge_stream(engine: Engine, body: bytes, max_rows: int, max_bytes: int) -> bytes:
    """Judge an Arrow IPC stream and return another. Raises :class:`ProblemError`."""
    if is_worker():
        pa.set_memory_pool(pa.system_memory_pool())  # the usual one wants a gigabyte of addresses at once
    try:
        with bounded(max_bytes):
            return _judge(engine, body, max_rows)
    except MemoryError:
        raise ProblemError("content-too-large", "the table unpacks to more memory than a request may take") from None
    finally:
        pa.default_memory_pool().release_unused()


def _judge(engine: Engine, body: bytes, max_rows: int) -> bytes:
    options, tables = _read(body, max_rows)
    try:
        rules = engine.rules(options)
    except ValidationError as error:
        raise problems.from_validation(error, prefix=("options",)) from None
    said = {**engine.stamp_of(rules), "cautions": {trigger.id: trigger.text for trigger in report.triggers(rules.data)}}
    units = options.units.system_of_units()
    sink, writer, done = pa.BufferOutputStream(), None, 0
    for table, count in tables:
        try:
            judged = flat_check.judge(rules.data, corpus.numbered(table, done, count), units)
        except corpus.ColumnError as error:
            raise problems.of_column(error.column, error.fault, error.accepted) from None
        done += count
        found = _written(judged, count).replace_schema_metadata({KEY: orjson.dumps(said)})
        writer = writer or pa.ipc.new_stream(sink, found.schema)
        writer.write_batch(found)
    if writer is None:
        raise problems.of_column("", "the table has no row", "at least one row")
    writer.close()
    content: bytes = sink.getvalue().to_pybytes()
    return content


_PLAIN: Sequence[Callable[[Any], bool]] = (
    pa.types.is_string, pa.types.is_large_string, pa.types.is_string_view, pa.types.is_floating, pa.types.is_integer,
    pa.types.is_boolean, pa.types.is_null,
)  # fmt: skip
"""Types of columns that are taken, plain or as a dictionary."""


def _read(body: bytes, max_rows: int) -> tuple[TableOptions, Iterator[tuple[dict[str, Cells], int]]]:
    """Return what a stream says for all rows, and its rows in blocks."""
    try:
        reader = pa.ipc.open_stream(pa.py_buffer(body))
        batches = list(reader)
        for item in batches:
            item.validate(full=True)
        names, metadata = reader.schema.names, reader.schema.metadata or {}
    except MemoryError:  # which its library's own is, too
        raise
    except (pa.ArrowException, OSError, ValueError, KeyError):
        raise ProblemError("bad-request", "the body is not a whole Arrow IPC stream") from None
    rows = sum(item.num_rows for item in batches)
    if rows > max_rows:
        raise ProblemError("content-too-large", f"at most {max_rows} rows are accepted")
    for name, count in Counter(names).items():
        if count > 1:
            raise problems.of_column(name, "the column is there twice", "each column once")
    for name, kind in zip(names, reader.schema.types, strict=True):
        if not any(test(kind.value_type if pa.types.is_dictionary(kind) else kind) for test in _PLAIN):
            raise problems.of_column(name, "a column of this type is not taken", "text, numbers, or true and false")
    raw = read_json(metadata.get(KEY, b"{}"))
    try:
        options = TableOptions.model_validate(raw)
    except ValidationError as error:
        raise problems.from_validation(error, raw, ("options",)) from None
    return options, _blocks(pa.Table.from_batches(batches, reader.schema))


def _blocks(whole: Any) -> Iterator[tuple[dict[str, Cells], int]]:
    """Yield the rows in blocks, whatever the batches they came in: a pass over seven costs what one over hundreds does."""
    for start in range(0, whole.num_rows, BLOCK):
        part = whole.slice(start, BLOCK)
        yield {name: _cells(name, part[name]) for name in part.column_names}, part.num_rows


def _cells(name: str, column: Any) -> Cells:
    """Return a column as it is read; texts stay as few as they are, and numbers need not become objects."""
    kind = column.type
    if pa.types.is_floating(kind) or (pa.types.is_integer(kind) and kind.bit_width <= 32):
        return column.cast(pa.float64()).to_numpy()  # type: ignore[no-any-return]
    if (pa.types.is_string(kind) or pa.types.is_large_string(kind)) and name.strip() != "case_id":
        column = column.dictionary_encode()
    elif not pa.types.is_dictionary(kind):
        return column.to_pylist()  # type: ignore[no-any-return]
    whole = column.unify_dictionaries().combine_chunks()
    return Coded(whole.dictionary.to_pylist(), whole.indices.fill_null(-1).to_numpy().astype(np.int64))


def _written(judged: flat_check.Judged, count: int) -> Any:
    """Return the columns of an answer; those of a refused row are null but for its fault."""
    judged_row = np.zeros(count, dtype=bool)
    judged_row[judged.index] = True
    faults: list[str | None] = [None] * count
    for row, said in judged.faults.items():
        faults[row] = said

    def spread(values: Any, fill: Any) -> Any:
        if len(values) == count:
            return values
        column = np.full(count, fill, dtype=np.asarray(values).dtype)
        column[judged.index] = values
        return column

    def named(codes: Any, names: Sequence[str]) -> Any:
        indices = pa.array(spread(codes, 0).astype(np.int8), mask=~judged_row)
        return pa.DictionaryArray.from_arrays(indices, pa.array(names))

    columns: dict[str, Any] = {
        "case_id": pa.array(judged.ids, pa.string()),
        "fault": pa.array(faults, pa.string()),
        "verdict": named(judged.verdict, batch.STATUSES),
        "governing": named(judged.governing, judged.criteria),
    }
    for name in judged.criteria:
        columns[f"{name}.status"] = named(judged.status[name], batch.STATUSES)
    for name, values in judged.numbers.items():
        column = spread(values, np.nan)
        columns[name] = pa.array(column, mask=~np.isfinite(column))
    for name, applies in judged.cautions.items():
        columns[f"caution.{name}"] = pa.array(spread(applies, False), mask=~judged_row)
    return pa.RecordBatch.from_pydict(columns)
