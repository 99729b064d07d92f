"""Compare rule sets over a corpus of past quotes in a file, in bounded memory.

The file is read block by block (Parquet by record batches, CSV and NDJSON by lines) and each block runs through
:mod:`glandwise.review.comparison`. Blocks do not depend on each other, so the same job runs on Dask workers, local or on a
cluster, with identical results: the work of a block is one function of plain values.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import nullcontext
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any, NamedTuple

import orjson
from pydantic import ValidationError

from glandwise.case import flat as corpus
from glandwise.case.flat_cells import Cells
from glandwise.contract.comparison import ComparedCase, ComparisonThresholds
from glandwise.engine import fault_in_words
from glandwise.review import comparison, pool
from glandwise.review.answers import ENVELOPE, OPERATIONS
from glandwise.review.told import NOTHING, Told
from glandwise.review.whole import Asked
from glandwise.rules.loader import RuleTree, today

BLOCK = 20_000
"""Rows of a block: large enough for the vectorised core, small enough for any memory."""

WHOLE_BLOCK = 40
"""The same where each case is answered whole: a second or a few of work, so that workers share it and progress is seen."""

Table = Mapping[str, Cells]


class Block(NamedTuple):
    """A part of a file."""

    table: Table
    documents: list[bytes | None]
    """Lines that state a whole case, by row; what they say beside the envelope has no column."""


class Sets(NamedTuple):
    """Two rule sets as plain values, to be sent to a worker."""

    base: dict[str, Any]
    candidate: dict[str, Any]
    since: date
    pinned: tuple[date, date] | None
    criteria: tuple[str, ...]


class BlockResult(NamedTuple):
    """What one block gives back: counts, and the rows that differ."""

    totals: comparison.Totals
    told: Told


@dataclass
class JobResult:
    """Counts of a whole corpus and how many rows were written."""

    totals: comparison.Totals = field(default_factory=comparison.Totals)
    written: int = 0


class CorpusError(Exception):
    """A corpus that cannot be read: the place and the fault."""


# -------------------------------------------------------------------------------------------------------------- reading


def _parquet(path: Path, size: int) -> Iterator[Block]:
    import pyarrow.parquet as pq

    for batch in pq.ParquetFile(path).iter_batches(batch_size=size):
        yield Block(batch.to_pydict(), [])


def _csv(path: Path, size: int) -> Iterator[Block]:
    import csv

    with path.open(newline="", encoding="utf-8-sig") as file:
        reader = csv.reader(file)
        head = next(reader, None)
        if head is None:
            raise CorpusError(f"{path.name}: the file is empty")
        block: list[list[str]] = []
        for number, line in enumerate(reader, start=2):
            if len(line) != len(head):
                raise CorpusError(f"{path.name}, line {number}: {len(line)} cells under {len(head)} headings")
            block.append(line)
            if len(block) == size:
                yield Block(_turned(head, block), [])
                block = []
        if block:
            yield Block(_turned(head, block), [])


def _turned(head: Sequence[str], lines: Sequence[Sequence[str]]) -> Table:
    return dict(zip(head, (list(column) for column in zip(*lines, strict=True)), strict=True))


def _ndjson(path: Path, size: int) -> Iterator[Block]:
    documents: list[bytes | None] = []
    rows: list[dict[str, Any]] = []
    headings: dict[str, str] = {}
    with path.open("rb") as file:
        for number, line in enumerate(file, start=1):
            if not line.strip():
                continue
            try:
                document, whole = orjson.loads(line), None
                if isinstance(document, dict) and "duty" in document:
                    case = ComparedCase.model_validate({"case_id": str(number), **document})
                    if case.design.compound_properties is not None:
                        raise CorpusError(f"{path.name}, line {number}: compound_properties do not depend on the rules")
                    document, whole = corpus.flatten(case.case_id, case.duty, case.design), line
                elif not isinstance(document, dict):
                    raise CorpusError(f"{path.name}, line {number}: not an object")
                for name in document.keys() - set(headings.values()):
                    field = corpus.header(name)[0]
                    if headings.setdefault(field, name) != name:
                        raise CorpusError(f"{path.name}, line {number}: {name!r} above was {headings[field]!r}")
                rows.append({**document, "case_id": document.get("case_id") or str(number)})
                documents.append(whole)
            except ValidationError as error:
                raise CorpusError(f"{path.name}, line {number}: {_fault(error)}") from None
            except (orjson.JSONDecodeError, corpus.ColumnError) as error:
                raise CorpusError(f"{path.name}, line {number}: {str(error).splitlines()[0]}") from None
            if len(rows) == size:
                yield Block(_columns(rows, headings), documents)
                rows, documents = [], []
    if rows:
        yield Block(_columns(rows, headings), documents)


def _fault(error: ValidationError) -> str:
    """Say the first fault of a case, without what stands there."""
    item, *others = error.errors(include_url=False, include_input=False)
    place = "/".join(map(str, item["loc"]))
    accepted = (item.get("ctx") or {}).get("accepted")
    hint = '; a quantity is {"value": 45, "unit": "mm"}' if item["type"] == "dict_type" else ""
    more = f" (and {len(others)} more)" if others else ""
    return f"/{place}: {fault_in_words(item)}{f' (accepted: {accepted})' if accepted else ''}{hint}{more}"


def _columns(rows: Sequence[Mapping[str, Any]], headings: Mapping[str, str]) -> Table:
    """Turn rows into columns; what is needed has one even where no row of this block fills it."""
    needed = (*corpus.REQUIRED, corpus.MOTION[0])
    names = dict.fromkeys(headings.get(field) or corpus.HEADINGS.get(field, (field,))[0] for field in needed)
    names.update(dict.fromkeys(name for row in rows for name in row))
    return {name: [row.get(name) for row in rows] for name in names}


READERS: Mapping[str, Callable[[Path, int], Iterator[Block]]] = {
    ".parquet": _parquet,
    ".csv": _csv,
    ".ndjson": _ndjson,
    ".jsonl": _ndjson,
}


def blocks(path: Path, size: int = BLOCK) -> Iterator[Block]:
    """Yield the parts of a file, block by block; the ending tells the format."""
    reader = READERS.get(path.suffix.lower())
    if reader is None:
        raise CorpusError(f"{path.name}: unknown ending; accepted: {', '.join(READERS)}")
    done = 0
    for table, documents in reader(path, size):
        count = len(next(iter(table.values()), ()))
        yield Block(corpus.numbered(table, done, count), documents)
        done += count


def length(path: Path) -> int | None:
    """Return the number of rows of a file where that is known without reading it."""
    if path.suffix.lower() != ".parquet":
        return None
    import pyarrow.parquet as pq

    return int(pq.ParquetFile(path).metadata.num_rows)


# -------------------------------------------------------------------------------------------------------------- working


_last: list[tuple[Sets, comparison.Candidate]] = []
"""The rule sets of the block before, and their comparison."""


def sets_of(
    base: RuleTree, candidate: RuleTree, since: date | None = None, pinned: tuple[date, date] | None = None
) -> Sets:
    """Write two rule sets as plain values; the dates are those of :func:`glandwise.review.comparison.pair`."""
    sets = Sets(base.tree, candidate.tree, since or today(), pinned, tuple(sorted(base.criteria)))
    _last[:] = [(sets, comparison.pair(base, candidate, sets.since, pinned))]  # here both have been read
    return sets


def pair_of(sets: Sets) -> comparison.Candidate:
    """Return the comparison of two rule sets, made once in each worker."""
    if not _last or _last[0][0] is not sets:
        base = RuleTree(sets.base, (), sets.criteria)
        candidate = RuleTree(sets.candidate, (), sets.criteria, base)
        _last[:] = [(sets, comparison.pair(base, candidate, sets.since, sets.pinned))]
    return _last[0][1]


def asked_of(operations: Sequence[str], thresholds: Mapping[str, float] | None = None) -> Asked:
    """Return what is asked of each case; thresholds that are not given are those of a request."""
    return Asked(
        tuple(name for name in OPERATIONS if name in operations), ComparisonThresholds.model_validate(thresholds or {})
    )


ENVELOPE_ALONE = asked_of([ENVELOPE])


def size_of(asked: Asked) -> int:
    """Return the rows of a block that suit what is asked."""
    return BLOCK if set(asked.operations) <= {ENVELOPE} else WHOLE_BLOCK


def work(sets: Sets, block: Block, attribute: bool = True, asked: Asked = ENVELOPE_ALONE) -> BlockResult:
    """Compare one block: a pure function of plain values."""
    cases = {}
    if set(asked.operations) - {ENVELOPE}:
        cases = {
            row: ComparedCase.model_validate({"case_id": str(row), **orjson.loads(line)})
            for row, line in enumerate(block.documents)
            if line is not None
        }
    try:
        found = comparison.compare_table(pair_of(sets), block.table, attribute, asked, cases)
    except corpus.ColumnError as error:
        raise CorpusError(str(error)) from None  # this one travels between processes
    totals = comparison.Totals()
    totals.add(found)
    return BlockResult(totals, Told.of(found))


def _work(sets: Sets, block: Sequence[Any], attribute: bool, asked: Asked) -> BlockResult:
    return work(sets, Block(*block), attribute, asked)


# -------------------------------------------------------------------------------------------------------------- writing


class RowWriter:
    """Write rows that differ as NDJSON, or as Parquet with one row per case and criterion (one for a refused case)."""

    def __init__(self, path: Path | None) -> None:
        self.path, self.count = path, 0
        self._file: Any = None
        self._parquet: Any = None
        if path is not None and path.suffix.lower() not in {".ndjson", ".jsonl", ".parquet"}:
            raise CorpusError(f"{path.name}: unknown ending; accepted: .ndjson, .jsonl, .parquet")

    def write(self, told: Told) -> None:
        """Write the cases of one block."""
        self.count += len(told)
        if self.path is None or not len(told):
            return
        if self.path.suffix.lower() == ".parquet":
            self._table(told.table())
            return
        if self._file is None:
            self._file = self.path.open("wb")
        self._file.writelines(orjson.dumps(row, option=orjson.OPT_APPEND_NEWLINE) for row in told.rows())

    def _table(self, table: Any) -> None:
        import pyarrow.parquet as pq

        if self._parquet is None:
            self._parquet = pq.ParquetWriter(self.path, table.schema)
        self._parquet.write_table(table)

    def close(self) -> None:
        """Finish the file; a file without rows is made all the same."""
        if self.path is not None and self.path.suffix.lower() == ".parquet":
            if self._parquet is None:
                self._table(NOTHING.table())
            self._parquet.close()
        elif self._file is not None:
            self._file.close()
        elif self.path is not None:
            self.path.write_bytes(b"")


def run(
    sets: Sets,
    path: Path,
    out: Path | None = None,
    *,
    size: int | None = None,
    attribute: bool = True,
    asked: Asked = ENVELOPE_ALONE,
    progress: Callable[[int], None] | None = None,
    each: Callable[[Sequence[Mapping[str, Any]]], None] | None = None,
) -> JobResult:
    """Compare a corpus in this process, block by block; ``each`` is given the rows that differ, block by block."""
    result, writer = JobResult(), RowWriter(out)
    try:
        for block in blocks(path, size or size_of(asked)):
            found = work(sets, block, attribute, asked)
            result.totals.merge(found.totals)
            writer.write(found.told)
            if each is not None:
                each(found.told.rows())
            if progress is not None:
                progress(found.totals.cases)
    finally:
        writer.close()
    result.written = writer.count
    return result


def run_on_dask(
    sets: Sets,
    path: Path,
    out: Path | None = None,
    *,
    size: int | None = None,
    attribute: bool = True,
    asked: Asked = ENVELOPE_ALONE,
    workers: int = 2,
    client: Any = None,
    progress: Callable[[int], None] | None = None,
    each: Callable[[Sequence[Mapping[str, Any]]], None] | None = None,
) -> JobResult:
    """Compare a corpus on Dask: local worker processes, or the cluster of a ``distributed.Client``.

    The results are those of :func:`run`, in the same order. Only a few blocks are under way at a time, so memory stays
    bounded; ``workers`` says how many there are. The file is read here: blocks are sent to the workers.
    """
    result, writer = JobResult(), RowWriter(out)
    # blocks whole: Dask looks for tasks in tuples
    items = ([[dict(block.table), block.documents], attribute, asked] for block in blocks(path, size or size_of(asked)))
    try:
        with pool.local(workers) if client is None else nullcontext(client) as there:
            for found in pool.in_order(there, _work, pool.given(there, sets), items, workers):
                result.totals.merge(found.totals)
                writer.write(found.told)
                if each is not None:
                    each(found.told.rows())
                if progress is not None:
                    progress(found.totals.cases)
    finally:
        writer.close()
    result.written = writer.count
    return result
