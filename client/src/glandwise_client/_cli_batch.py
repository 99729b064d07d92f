"""The command ``glandwise batch``: a request on each line in, an answer on each line out."""

from __future__ import annotations

import json
import sys
from collections import Counter
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Annotated, Any, BinaryIO

import typer

from glandwise_client._batch import SIZE, BatchItem
from glandwise_client._call import find_operation
from glandwise_client._cli_base import (
    FINE,
    PATIENCE,
    TRIPPED,
    Header,
    InProcess,
    Progress,
    Timeout,
    Units,
    Unusable,
    Url,
    Where,
    check_outputs,
    ended,
    parsed,
    whole,
)
from glandwise_client._errors import GlandwiseError
from glandwise_client._operations import OPERATIONS


def _lines(file: BinaryIO) -> Iterator[tuple[int, bytes]]:
    """Yield the lines that hold something, with their numbers."""
    for number, line in enumerate(file, start=1):
        text = line.removeprefix(b"\xef\xbb\xbf").strip() if number == 1 else line.strip()
        if text:
            yield number, text


def _row(line: bytes) -> Any:
    """Return a line as the client takes it; what is no request is left for the service to judge."""
    try:
        document = parsed(line)
    except ValueError:
        return line
    return document if isinstance(document, dict) else line


def _shown(item: BatchItem[Any], line: int) -> bytes:
    row: dict[str, Any] = {"line": line, "status": item.status}
    if item.error is None:
        row["result"] = item.document
    elif item.document is not None:
        row["problem"] = item.document
    else:  # it could not be written, and was not sent
        faults = [fault._asdict() for fault in item.error.errors]
        row["problem"] = {"title": item.error.title, "detail": item.error.detail, "errors": faults}
    return json.dumps(row, ensure_ascii=False, separators=(",", ":")).encode("utf-8") + b"\n"


Name = Annotated[str, typer.Argument(metavar="OPERATION", help="check_envelope, answer_enquiry, ...")]
File = Annotated[str, typer.Argument(metavar="FILE.ndjson", help="A JSON request on each line; - for standard input.")]
Out = Annotated[
    Path | None, typer.Option(metavar="FILE.ndjson", help="Where the answers go, if not to standard output.")
]
After = Annotated[
    int, typer.Option(metavar="LINE", min=0, help="Go on behind this line of the file: the last one that was answered.")
]
Size = Annotated[int, typer.Option(metavar="N", help="Requests sent in one message.")]


@ended
def batch(
    operation: Name, file: File, out: Out = None, units: Units = None, size: Size = SIZE, after: After = 0,
    url: Url = None, in_process: InProcess = False, timeout: Timeout = PATIENCE, header: Header = None,
) -> int:  # fmt: skip
    """Answer a file of requests, a line each; 1 when a line is refused or its verdict is fail."""
    where = Where.of(url, in_process, timeout, header)
    entry = find_operation(operation)
    if not entry.batch:
        takers = ", ".join(name for name, other in OPERATIONS.items() if other.batch)
        raise Unusable(f"{entry.name} takes one request at a time; a batch is for: {takers}")
    check_outputs({"out": out}, [file])
    counts: Counter[str] = Counter()
    progress = Progress(None, "lines")
    with ExitStack() as stack:
        source = sys.stdin.buffer if file == "-" else stack.enter_context(Path(file).open("rb"))
        client = stack.enter_context(where.connect())
        target: Any = sys.stdout.buffer
        if out is not None:
            target = stack.enter_context(stack.enter_context(whole(out)).open("wb"))
        numbers: list[int] = []

        def rows() -> Iterator[Any]:
            for number, line in _lines(source):
                if number > after:
                    numbers.append(number)
                    yield _row(line)

        last = after
        try:
            for item in client.batch(entry.name, rows(), size=size, units=units):
                last = numbers[item.number - 1]
                target.write(_shown(item, last))
                verdict = "refused" if item.error is not None else str((item.document or {}).get("verdict", "answered"))
                counts[verdict] += 1
                progress(1)
        except GlandwiseError:
            if out is None and last:  # what was written stays; a file of --out is written whole or not at all
                target.flush()
                sys.stderr.write(f"answered as far as line {last}: go on with --after {last}\n")
            raise
        progress.close()
        total = sum(counts.values())
        if not total and not after:
            raise Unusable(f"{file}: no line holds a request")
        target.flush()
    parts = ", ".join(f"{count} {verdict}" for verdict, count in sorted(counts.items()))
    sys.stderr.write(f"{total} lines: {parts}\n")
    return TRIPPED if counts["fail"] or counts["refused"] else FINE
