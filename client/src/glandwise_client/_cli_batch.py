"""The command ``glandwise batch``: a request on each line in, an answer on each line out."""

from __future__ import annotations

import argparse
import json
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any, BinaryIO

from glandwise_client._batch import SIZE, BatchItem
from glandwise_client._call import find_operation
from glandwise_client._cli_base import FINE, TRIPPED, Progress, Unusable, check_outputs, parsed, whole
from glandwise_client._client import GlandwiseClient
from glandwise_client._operations import OPERATIONS

Connect = Callable[[argparse.Namespace], GlandwiseClient]


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


def batch(arguments: argparse.Namespace, connect: Connect) -> int:
    """Answer a file of requests."""
    operation = find_operation(arguments.operation)
    if not operation.batch:
        takers = ", ".join(name for name, entry in OPERATIONS.items() if entry.batch)
        raise Unusable(f"{operation.name} takes one request at a time; a batch is for: {takers}")
    check_outputs({"out": arguments.out}, [arguments.file])
    counts: Counter[str] = Counter()
    progress = Progress(None, "lines")
    with ExitStack() as stack:
        source = sys.stdin.buffer if arguments.file == "-" else stack.enter_context(Path(arguments.file).open("rb"))
        client = stack.enter_context(connect(arguments))
        out = sys.stdout.buffer
        if arguments.out is not None:
            out = stack.enter_context(stack.enter_context(whole(arguments.out)).open("wb"))
        numbers: list[int] = []

        def rows() -> Iterator[Any]:
            for number, line in _lines(source):
                numbers.append(number)
                yield _row(line)

        for item in client.batch(operation.name, rows(), size=arguments.size, units=arguments.units):
            out.write(_shown(item, numbers[item.number - 1]))
            verdict = "refused" if item.error is not None else str((item.document or {}).get("verdict", "answered"))
            counts[verdict] += 1
            progress(1)
        progress.close()
        total = sum(counts.values())
        if not total:
            raise Unusable(f"{arguments.file}: no line holds a request")
        out.flush()
    parts = ", ".join(f"{count} {verdict}" for verdict, count in sorted(counts.items()))
    sys.stderr.write(f"{total} lines: {parts}\n")
    return TRIPPED if counts["fail"] or counts["refused"] else FINE


def add_command(commands: Any, where: argparse.ArgumentParser, connect: Connect) -> None:
    """Add the command to the parser."""
    text = "answer a file of requests, a line each; 1 when a line is refused or its verdict is fail"
    command = commands.add_parser("batch", parents=[where], help=text, description=text)
    command.add_argument("operation", metavar="OPERATION", help="check_envelope, answer_enquiry, ...")
    command.add_argument("file", metavar="FILE.ndjson", help="a JSON request on each line; - for standard input")
    command.add_argument("--out", type=Path, metavar="FILE.ndjson", help="where the answers go (standard output)")
    command.add_argument("--units", choices=("si", "us"), help="units of the answers")
    command.add_argument("--size", type=int, default=SIZE, metavar="N", help=f"requests sent in one message ({SIZE})")
    command.set_defaults(run=lambda arguments: batch(arguments, connect))
