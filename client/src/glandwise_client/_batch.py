"""Many requests in one message: a line each, answered line by line. No input or output here."""

from __future__ import annotations

import itertools
import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final, Generic, TypeAlias

from pydantic import StrictInt, ValidationError

from glandwise_client import _responses
from glandwise_client._base import Answer, ResultModel
from glandwise_client._errors import AnswerError, GlandwiseError, RequestError
from glandwise_client._requests import Fields, Operation, Prepared, R, Units, body, build, encoded, new_request_id

LINES: Final = "application/x-ndjson"
SIZE: Final = 100
"""Requests sent in one message: enough to make the way there cheap.

A server answers piece by piece, and the time allowed counts between the pieces. In process the answer comes whole, and the
time allowed is for the message: operations of a second and more want a smaller size or a longer time.
"""

Row: TypeAlias = Any
"""A request model, a mapping, or the bytes of one line, sent as they are."""


@dataclass(frozen=True)
class BatchItem(Generic[R]):
    """What became of one request of a batch."""

    number: int
    """Place of the request in the batch, from 1."""
    operation: Operation[R]
    status: int | None
    """HTTP status that the request would have had alone; ``None`` when it could not be written and was not sent."""
    document: dict[str, Any] | None
    """The result, or the problem document, as it came."""
    error: GlandwiseError | None
    """Why there is no result."""

    @property
    def result(self) -> R:
        """The result. Raises :attr:`error` where there is none."""
        if self.error is not None:
            raise self.error
        return _responses.read(self.operation, self.document, status=200, request_id=None)


def chunks(rows: Iterable[Row], size: int) -> Iterator[list[tuple[int, Row]]]:
    """Yield numbered requests, ``size`` at a time."""
    if size < 1:
        raise RequestError(f"a batch of {size} requests at a time; at least 1 is needed")
    numbered = enumerate(rows, start=1)
    while chunk := list(itertools.islice(numbered, size)):
        yield chunk


class _Row(ResultModel):
    """A line of an answer."""

    line: StrictInt
    status: StrictInt
    result: dict[str, Any] | None = None
    problem: dict[str, Any] | None = None

    @property
    def document(self) -> dict[str, Any] | None:
        """What the line holds; ``None`` where its status does not go with it."""
        if self.status == 200:
            return self.result
        return self.problem if 400 <= self.status <= 599 else None


@dataclass(frozen=True)
class Message:
    """Some requests ready to be sent, and those that could not be written."""

    prepared: Prepared | None
    """``None`` when none of them could be written."""
    numbers: Sequence[int]
    """Numbers of the requests that are sent, line by line."""
    refused: Sequence[BatchItem[Any]]


def message(
    operation: Operation[Any], chunk: Sequence[tuple[int, Row]], fields: Fields, units: Units | None
) -> Message:
    """Write some requests as the lines of one message; ``fields`` replace those of each. Raises :class:`RequestError`."""
    if not operation.batch:
        raise RequestError(f"{operation.name} takes one request at a time")
    request_id = new_request_id()
    lines: list[bytes] = []
    numbers: list[int] = []
    refused: list[BatchItem[Any]] = []
    for number, row in chunk:
        try:
            if isinstance(row, bytes):
                line = row.strip()
                if not line or b"\n" in line:
                    raise RequestError("bytes are one line with something on it", request_id=request_id)
            else:
                line = encoded(body(operation.request, row, fields, units, request_id), request_id)
        except RequestError as error:
            refused.append(BatchItem(number, operation, None, None, error))
            continue
        lines.append(line)
        numbers.append(number)
    prepared = None
    if lines:
        prepared = build(operation, request_id=request_id, accept=LINES, content=b"\n".join(lines), content_type=LINES)
    return Message(prepared, numbers, refused)


def items(operation: Operation[R], sent: Message, answer: Answer | None) -> list[BatchItem[R]]:
    """Return what became of each request of a message, in order. Raises the exception of an answer that is none."""
    found = list(sent.refused)
    if answer is not None:
        _responses.check(answer)
        lines = answer.content.splitlines() if answer.media_type == LINES else []
        try:
            rows = [_Row.model_validate_json(line) for line in lines]
        except ValidationError:
            raise _none_of_ours("a line of the answer does not read as one of a batch", answer) from None
        if [row.line for row in rows] != list(range(1, len(sent.numbers) + 1)):
            raise _none_of_ours(f"{len(rows)} lines came back for {len(sent.numbers)} requests", answer)
        for number, row in zip(sent.numbers, rows, strict=True):
            if row.document is None:
                raise _none_of_ours(f"line {row.line} of the answer holds neither result nor problem", answer)
            error = None
            if row.status != 200:
                content = json.dumps(row.document).encode("utf-8")
                error = _responses.problem(Answer(row.status, {}, content, answer.request_id))
            found.append(BatchItem(number, operation, row.status, row.document, error))
    return sorted(found, key=lambda item: item.number)


def _none_of_ours(detail: str, answer: Answer) -> AnswerError:
    return AnswerError(detail, status=answer.status, request_id=answer.request_id)
