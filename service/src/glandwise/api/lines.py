"""Many requests of one calculation in one message: a line each, answered line by line (``application/x-ndjson``).

Each line is what the operation takes alone and is answered with what it answers alone, or with the problem document it
would have got: one bad line stops no other. The whole message is read before the first answer leaves, because a caller
that is still sending may not be reading yet, and two that wait for each other wait for ever. Blocks of lines run in
worker processes, so that whoever asks a single question beside a batch is not kept waiting.
"""

from __future__ import annotations

import asyncio
import logging
from collections import deque
from collections.abc import Iterator
from typing import Any, TypeAlias

import orjson
from pydantic import BaseModel, ConfigDict, Field
from starlette.responses import Response
from starlette.types import Receive, Scope, Send

from glandwise.api import problems
from glandwise.api.answering import Endpoint, calculation
from glandwise.api.body import read_json, too_large
from glandwise.api.desk import Desk, WorkerLost
from glandwise.api.negotiation import LINES
from glandwise.api.problems import ProblemError
from glandwise.checks.engine import Engine

log = logging.getLogger("glandwise")

BLOCK = {"select_design": 8, "map_operation": 4, "assess_spectrum": 8, "answer_enquiry": 4}
"""Lines that a worker takes at a time, for the calculations that take tens of milliseconds each."""
USUAL_BLOCK = 200
"""The same for all others: a small part of a second, after which the first answers leave."""


Block: TypeAlias = list[tuple[int, bytes]]
"""Lines with their numbers."""


class BatchLine(BaseModel):
    """One line of the answer to a batch: a result, or the problem that its line was refused for."""

    model_config = ConfigDict(extra="forbid")

    line: int = Field(ge=1, description="Number of the line in the request, from 1. Empty lines count and are skipped.")
    status: int = Field(ge=200, le=599, description="HTTP status that this request would have had alone.")
    result: dict[str, Any] | None = Field(default=None, description="The operation's result; where status is 200.")
    problem: problems.Problem | None = Field(default=None, description="The problem document; where it is not.")


class Lines:
    """The lines of a message that hold something, with their numbers."""

    def __init__(self, body: bytes) -> None:
        self._lines = body.split(b"\n")

    def blocks(self, size: int) -> Iterator[Block]:
        """Yield them in blocks."""
        block: Block = []
        for number, line in enumerate(self._lines, start=1):
            if line.strip():
                block.append((number, line))
                if len(block) == size:
                    yield block
                    block = []
        if block:
            yield block


# ---------------------------------------------------------------------------------------------------- in the worker


def answer_block(engine: Engine, endpoint: Endpoint, max_line: int, block: Block) -> bytes:
    """Answer a block of lines of at most ``max_line`` bytes each."""
    return b"".join(_answer(engine, endpoint, max_line, number, line) for number, line in block)


def _answer(engine: Engine, endpoint: Endpoint, max_line: int, number: int, line: bytes) -> bytes:
    try:
        if len(line) > max_line:
            raise too_large(max_line)
        result = calculation(endpoint)(read_json(line), engine)
        return b'{"line":%d,"status":200,"result":%b}\n' % (number, orjson.dumps(result))
    except ProblemError as error:
        document = problems.document(error.kind, error.detail, error.errors)
    except Exception:
        log.exception("line %d of a batch failed", number)
        document = problems.document("internal-error", problems.KINDS["internal-error"][2])
    return _refused(number, document)


def _refused(number: int, document: dict[str, Any]) -> bytes:
    return b'{"line":%d,"status":%d,"problem":%b}\n' % (number, document["status"], orjson.dumps(document))


# --------------------------------------------------------------------------------------------------- in the service


async def _answered(desk: Desk, endpoint: Endpoint, max_line: int, block: Block) -> bytes:
    """Have a block answered; one whose worker is lost is a defect on each of its lines."""
    try:
        return await desk.run(answer_block, endpoint, max_line, block)
    except WorkerLost:
        document = problems.document("internal-error", problems.KINDS["internal-error"][2])
        return b"".join(_refused(number, document) for number, _ in block)


class _Gone(Exception):  # noqa: N818 - what happened
    """The caller has hung up."""


class BatchAnswer(Response):
    """The answer to a batch, sent block by block in the order of the lines."""

    media_type = LINES

    def __init__(self, desk: Desk, endpoint: Endpoint, max_line: int, lines: Lines) -> None:
        super().__init__()
        del self.headers["content-length"]
        self.desk, self.endpoint, self.max_line, self.lines = desk, endpoint, max_line, lines

    async def __call__(self, _: Scope, receive: Receive, send: Send) -> None:
        """Answer; stop working when the caller hangs up."""
        try:
            async with asyncio.TaskGroup() as group:
                watch = group.create_task(_watch(receive))
                await send({"type": "http.response.start", "status": 200, "headers": self.raw_headers})
                under_way: deque[asyncio.Task[bytes]] = deque()
                for block in self.lines.blocks(BLOCK.get(self.endpoint.__name__, USUAL_BLOCK)):
                    under_way.append(group.create_task(_answered(self.desk, self.endpoint, self.max_line, block)))
                    if len(under_way) > self.desk.at_once:
                        await _send(send, await under_way.popleft())
                while under_way:
                    await _send(send, await under_way.popleft())
                watch.cancel()
            await send({"type": "http.response.body", "body": b""})
        except* _Gone:
            log.info("a caller hung up before its batch was answered")


async def _send(send: Send, body: bytes) -> None:
    await send({"type": "http.response.body", "body": body, "more_body": True})


async def _watch(receive: Receive) -> None:
    while (await receive())["type"] != "http.disconnect":
        pass
    raise _Gone
