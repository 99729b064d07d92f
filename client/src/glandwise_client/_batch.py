"""Many requests in one message: a line each, answered line by line. No input or output here."""

from __future__ import annotations

import itertools
import json
from collections.abc import Callable, Iterable, Iterator, Sequence, Sized
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

PUT_OFF: Final = 503
"""Status of a line that the service did not come to."""

Row: TypeAlias = Any
"""A request model, a mapping, or the bytes of one line, sent as they are."""
Told: TypeAlias = Callable[[int, int | None], object]
"""Is told how many requests have been answered, and how many there are; ``None`` where that is not known."""


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


class Message:
    """Some requests of a batch, and what is known of each; those that have no answer yet may be sent (again)."""

    def __init__(
        self, operation: Operation[Any], chunk: Sequence[tuple[int, Row]], fields: Fields, units: Units | None
    ) -> None:
        self._operation, self._request_id = operation, new_request_id()
        self._lines: list[bytes] = []
        self._numbers: list[int] = []
        self.refused: list[BatchItem[Any]] = []
        """Those that could not be written."""
        self.taken = 0
        """Lines of answers that were read, those of a line that was asked again among them."""
        self._answer = Answer(0, {}, b"", None)
        self._due: list[int] = []
        """Places of the lines that are answered now, in their order."""
        self._read_of_due = 0
        self._rest = b""
        for number, row in chunk:
            try:
                line = self._written(row, fields, units)
            except RequestError as error:
                self.refused.append(BatchItem(number, operation, None, None, error))
                continue
            self._lines.append(line)
            self._numbers.append(number)
        self._found: list[BatchItem[Any] | None] = [None] * len(self._lines)
        self._again: set[int] = set()
        """Places of lines that were put off, and are asked again."""

    def _written(self, row: Row, fields: Fields, units: Units | None) -> bytes:
        if not isinstance(row, bytes):
            return encoded(body(self._operation.request, row, fields, units, self._request_id), self._request_id)
        line = row.strip()
        if not line or b"\n" in line:
            raise RequestError("bytes are one line with something on it", request_id=self._request_id)
        return line

    @property
    def answered(self) -> int:
        """How many lines have an answer."""
        return sum(item is not None for item in self._found)

    def _places(self) -> list[int]:
        return [place for place, item in enumerate(self._found) if item is None or place in self._again]

    @property
    def prepared(self) -> Prepared | None:
        """What is still to be sent: the lines that have no answer, or were put off; ``None`` where there are none."""
        lines = [self._lines[place] for place in self._places()]
        if not lines:
            return None
        return build(
            self._operation, request_id=self._request_id, accept=LINES, content=b"\n".join(lines), content_type=LINES
        )

    def begin(self, answer: Answer) -> None:
        """Take the head of an answer. Raises :class:`AnswerError` for one that is none."""
        self._answer, self._rest, self._due, self._read_of_due = answer, b"", self._places(), 0
        if answer.media_type != LINES:
            raise self._none_of_ours(f"no lines came back for {len(self._due)} requests")

    def take(self, piece: bytes) -> None:
        """Take the next bytes of the answer. Raises :class:`AnswerError` for a line that is none."""
        *lines, self._rest = (self._rest + piece).split(b"\n")
        for line in lines:
            self._read(line)

    def end(self) -> None:
        """Take the end of the answer. Raises :class:`AnswerError` where a line is missing."""
        last, self._rest = self._rest, b""
        if last.strip():
            self._read(last)
        if self._read_of_due < len(self._due):
            raise self._none_of_ours(f"{self._read_of_due} lines came back for {len(self._due)} requests")

    def put_off(self) -> bool:
        """Have those lines asked again that the service put off. Tell whether there are any."""
        self._again = {place for place, item in enumerate(self._found) if item is not None and item.status == PUT_OFF}
        return bool(self._again)

    def _read(self, line: bytes) -> None:
        try:
            row = _Row.model_validate_json(line)
        except ValidationError:
            raise self._none_of_ours("a line of the answer does not read as one of a batch") from None
        due = self._read_of_due + 1
        if row.line != due or due > len(self._due):
            detail = f"line {row.line} came back where line {due} was due, for {len(self._due)} requests"
            raise self._none_of_ours(detail)
        if row.document is None:
            raise self._none_of_ours(f"line {row.line} of the answer holds neither result nor problem")
        error = None
        if row.status != 200:
            content = json.dumps(row.document).encode("utf-8")
            error = _responses.problem(Answer(row.status, {}, content, self._answer.request_id))
        place = self._due[self._read_of_due]
        self._found[place] = BatchItem(self._numbers[place], self._operation, row.status, row.document, error)
        self._again.discard(place)
        self._read_of_due, self.taken = due, self.taken + 1

    def _none_of_ours(self, detail: str) -> AnswerError:
        return AnswerError(detail, status=self._answer.status, request_id=self._answer.request_id)

    def items(self) -> list[BatchItem[Any]]:
        """Return what became of the requests, in order, up to the first that has no answer."""
        left = [number for number, item in zip(self._numbers, self._found, strict=True) if item is None]
        known = [item for item in (*self._found, *self.refused) if item and (not left or item.number < left[0])]
        return sorted(known, key=lambda item: item.number)


class Batch:
    """A batch on its way, message by message; ``after`` requests of it are held already and are passed over."""

    def __init__(
        self, operation: Operation[Any], requests: Iterable[Row], size: int, after: int, progress: Told | None
    ) -> None:
        if size < 1:
            raise RequestError(f"a batch of {size} requests at a time; at least 1 is needed")
        if after < 0:
            raise RequestError(f"a batch cannot be taken up after item {after}; at least 0 is needed")
        if not operation.batch:
            raise RequestError(f"{operation.name} takes one request at a time")
        self._operation, self._size, self._progress = operation, size, progress
        self._total = len(requests) if isinstance(requests, Sized) else None
        self._rows = itertools.islice(enumerate(requests, start=1), after, None)
        self._before, self._said = after, -1

    def messages(self, fields: Fields, units: Units | None) -> Iterator[Message]:
        """Yield the messages, each when the one before is done with; ``fields`` replace those of every request."""
        while chunk := list(itertools.islice(self._rows, self._size)):
            sent = Message(self._operation, chunk, fields, units)
            self.tell(sent)
            yield sent
            self._before += len(chunk)

    def tell(self, sent: Message) -> None:
        """Tell how far the batch is, where that is asked for and has changed."""
        done = self._before + sent.answered + len(sent.refused)
        if self._progress is not None and done != self._said:
            self._said = done
            self._progress(done, self._total)
