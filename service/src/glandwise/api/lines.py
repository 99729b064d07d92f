"""Many requests of one calculation in one message: a line each, answered line by line (``application/x-ndjson``).

Each line is what the operation takes alone and is answered with what it answers alone, or with the problem document it
would have got: one bad line stops no other. The whole message is read before the first answer leaves, because a caller
that is still sending may not be reading yet, and two that wait for each other wait for ever. Blocks of lines run in
worker processes, so that whoever asks a single question beside a batch is not kept waiting; a worker returns after a
while with what it has answered, so that batches take turns and one that nobody waits for is soon given up.
"""

from __future__ import annotations

import asyncio
import itertools
import logging
import time
from collections import deque
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from typing import Any, NamedTuple, Protocol, TypeAlias

import orjson
from pydantic import BaseModel, ConfigDict, Field
from starlette.responses import Response
from starlette.types import Receive, Scope, Send

from glandwise.api import problems
from glandwise.api.answering import calculation
from glandwise.api.body import RATE, read_json, too_large
from glandwise.api.desk import NO_WORKER, Desk, NoWorker, WorkerLost
from glandwise.api.lanes import hung_up
from glandwise.api.messages import DEFAULT
from glandwise.api.metrics import Metrics
from glandwise.api.problems import ProblemError
from glandwise.api.rates import Bill
from glandwise.engine import Engine
from glandwise.operations import LINES, Operation

log = logging.getLogger("glandwise")

BUDGET = 0.25
"""Seconds that a worker gives to a block; it returns with the lines answered by then, at least one."""
FIRST_BLOCK = 4
"""Lines of the first block; later ones are as long as the pace suggests."""
LARGEST_BLOCK = 1000
"""Lines of a block at most."""

Block: TypeAlias = list[tuple[int, bytes]]
"""Lines with their numbers."""


class Form(Protocol):
    """How the lines of a message are read, and how they are answered; a worker gets it as it is."""

    @property
    def media_type(self) -> str:
        """Media type of the answer."""

    @property
    def language(self) -> str:
        """Language of the sentences for people."""

    @property
    def head(self) -> bytes:
        """What stands before the first answer."""

    def read(self, line: bytes) -> Any:
        """Return the request of a line. Raises :class:`ProblemError`."""

    def answered(self, number: int, line: bytes, result: dict[str, Any]) -> bytes:
        """Write the answer to a line."""

    def refused(self, number: int, line: bytes, document: dict[str, Any]) -> bytes:
        """Write the problem of a line."""


class Source:
    """The lines of a message that hold something, with their numbers."""

    def __init__(self, lines: Iterator[tuple[int, bytes]]) -> None:
        self._lines = lines

    def take(self, count: int) -> Block:
        """Return the next ``count`` lines, fewer at the end."""
        return list(itertools.islice(self._lines, count))


@dataclass(frozen=True)
class JSONLines:
    """A line of JSON each."""

    language: str = DEFAULT
    media_type = LINES
    head = b""

    def read(self, line: bytes) -> Any:
        """Return the request of a line."""
        return read_json(line)

    def answered(self, number: int, _: bytes, result: dict[str, Any]) -> bytes:
        """Write the answer to a line."""
        return b'{"line":%d,"status":200,"result":%b}\n' % (number, orjson.dumps(result))

    def refused(self, number: int, _: bytes, document: dict[str, Any]) -> bytes:
        """Write the problem of a line."""
        return b'{"line":%d,"status":%d,"problem":%b}\n' % (number, document["status"], orjson.dumps(document))


_JSON_LINES = JSONLines()


class BatchLine(BaseModel):
    """One line of the answer to a batch: a result, or the problem that its line was refused for."""

    model_config = ConfigDict(extra="forbid")

    line: int = Field(ge=1, description="Number of the line in the request, from 1. Empty lines count and are skipped.")
    status: int = Field(ge=200, le=599, description="HTTP status that this request would have had alone.")
    result: dict[str, Any] | None = Field(default=None, description="The operation's result; where status is 200.")
    problem: problems.Problem | None = Field(default=None, description="The problem document; where it is not.")


class Lines(Source):
    """The lines of a text."""

    def __init__(self, body: bytes) -> None:
        super().__init__(_lines(body))


def _lines(body: bytes) -> Iterator[tuple[int, bytes]]:
    start, number = 0, 1
    while start < len(body):
        end = body.find(b"\n", start)
        end = len(body) if end < 0 else end
        line = body[start:end]
        if line.strip():
            yield number, line
        start, number = end + 1, number + 1


# ---------------------------------------------------------------------------------------------------- in the worker


class Answered(NamedTuple):
    """What a worker made of the first lines of a block."""

    content: bytes
    """Their answers, a line each."""
    lines: int
    """How many there are."""
    seconds: float
    """What they took."""
    told: tuple[tuple[int, str | None], ...] = ()
    """Status of each, and its verdict where it has one."""


def answer_block(
    engine: Engine, operation: Operation, max_line: int, block: Block, form: Form = _JSON_LINES
) -> Answered:
    """Answer lines of at most ``max_line`` bytes each, one at least, until the budget is used up."""
    begin = time.perf_counter()
    answers: list[bytes] = []
    told: list[tuple[int, str | None]] = []
    for number, line in block:
        answers.append(_answer(engine, operation, max_line, number, line, told, form))
        if time.perf_counter() - begin >= BUDGET:
            break
    return Answered(b"".join(answers), len(answers), time.perf_counter() - begin, tuple(told))


def _answer(
    engine: Engine, operation: Operation, max_line: int, number: int, line: bytes, told: list[tuple[int, str | None]],
    form: Form,
) -> bytes:  # fmt: skip
    try:
        if len(line) > max_line:
            raise too_large(max_line)
        result = calculation(operation)(form.read(line), engine)
        verdict = result.get("verdict")
        told.append((200, verdict if isinstance(verdict, str) else None))
        return form.answered(number, line, result)
    except ProblemError as error:
        document = problems.document(error.kind, error.detail, error.errors, language=form.language)
    except Exception:
        log.exception("line %d of a batch failed", number)
        document = problems.document("internal-error", problems.DEFECT, language=form.language)
    told.append((document["status"], None))
    return form.refused(number, line, document)


# --------------------------------------------------------------------------------------------------- in the service


class _Gone(Exception):  # noqa: N818 - what happened
    """The caller has hung up, or does not take the answer."""


class _Late(Exception):  # noqa: N818 - what happened
    """The batch has been worked at for as long as it may be, or the service is being stopped."""


Pieces: TypeAlias = "asyncio.Queue[bytes | None]"
"""The answers to a block as they come; ``None`` at the end."""


class BatchAnswer(Response):
    """The answer to a batch, sent piece by piece in the order of the lines; ``held`` is let go when it is sent."""

    def __init__(
        self,
        desk: Desk,
        operation: Operation,
        max_line: int,
        lines: Source,
        held: ExitStack,
        stall_seconds: float = 3600.0,
        seconds: float = 3600.0,
        bill: Bill | None = None,
        metrics: Metrics | None = None,
        form: Form = _JSON_LINES,
    ) -> None:
        super().__init__(media_type=form.media_type)
        del self.headers["content-length"]
        self.desk, self.lines, self.held = desk, lines, held
        self._with, self._form = (operation, max_line), form
        self._size = FIRST_BLOCK
        self._seconds, self._bill, self._metrics = seconds, bill, metrics
        self._until = time.monotonic() + seconds
        self._patience = self._most_patience = stall_seconds
        """Seconds that the caller may still keep us waiting; whoever takes the answer wins some back."""

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer; stop working when the caller hangs up."""
        del scope
        with self.held:
            try:
                async with asyncio.TaskGroup() as group:
                    watch = group.create_task(_watch(receive))
                    await self._begin(send)
                    if self._form.head:
                        await self._send(send, self._form.head)
                    under_way: deque[Pieces] = deque()
                    while True:
                        while len(under_way) < self.desk.at_once and (block := self.lines.take(self._size)):
                            under_way.append(asyncio.Queue())
                            group.create_task(self._work_off(block, under_way[-1]))
                        if not under_way:
                            break
                        if (piece := await under_way[0].get()) is None:
                            under_way.popleft()
                        else:
                            await self._send(send, piece)
                    watch.cancel()
                await self._end(send)
            except* _Gone:
                log.info("a caller hung up, or took nothing more, before its batch was answered")

    async def _begin(self, send: Send) -> None:
        await send({"type": "http.response.start", "status": 200, "headers": self.raw_headers})

    async def _end(self, send: Send) -> None:
        await send({"type": "http.response.body", "body": b""})

    async def _send(self, send: Send, piece: bytes) -> None:
        begin = time.monotonic()
        try:
            async with asyncio.timeout(self._patience):
                await send({"type": "http.response.body", "body": piece, "more_body": True})
        except TimeoutError:
            raise _Gone from None
        left = self._patience + len(piece) / RATE - (time.monotonic() - begin)
        self._patience = min(left, self._most_patience)

    async def _work_off(self, block: Block, pieces: Pieces) -> None:
        """Have a block answered, a budget at a time; where that costs a worker twice, line by line."""
        losses = 0
        try:
            while block and losses < 2:
                if self.desk.seconds_left(self._until - time.monotonic()) <= 0.0:
                    raise _Late
                try:
                    answered = await self.desk.run(answer_block, *self._with, block, self._form)
                except NoWorker:
                    raise
                except WorkerLost:
                    losses += 1
                    continue
                losses = 0
                pieces.put_nowait(answered.content)
                if self._metrics is not None:
                    self._metrics.block(self._with[0].name, answered.told)
                if self._bill is not None:
                    self._bill.add(answered.seconds * 1e3)
                block = block[answered.lines :]
                pace = answered.lines / max(answered.seconds, 1e-6)
                self._size = max(1, min(LARGEST_BLOCK, int(pace * BUDGET)))
            if block:
                await self._work_off_singly(block, pieces)
        except (NoWorker, _Late) as error:  # what is left may be sent again
            late = isinstance(error, _Late)
            why = self.desk.late(self._seconds) if late else ProblemError("unavailable", NO_WORKER)
            document = problems.document(why.kind, why.detail, language=self._form.language)
            pieces.put_nowait(b"".join(self._form.refused(number, line, document) for number, line in block))
        pieces.put_nowait(None)

    async def _work_off_singly(self, block: Block, pieces: Pieces) -> None:
        """Have the lines of a block answered one by one, by a worker apart; one that costs it has a defect.

        What has been answered is taken from the block.
        """
        async with self.desk.apart() as worker:
            while block:
                try:
                    pieces.put_nowait((await worker.run(answer_block, *self._with, block[:1], self._form)).content)
                except NoWorker:
                    raise
                except WorkerLost:
                    defect = problems.document("internal-error", problems.DEFECT, language=self._form.language)
                    pieces.put_nowait(self._form.refused(*block[0], defect))
                del block[0]


async def _watch(receive: Receive) -> None:
    await hung_up(receive)
    raise _Gone
