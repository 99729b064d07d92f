"""Batches by the clients: numbered answers in order, faults that stop no other, messages that are not answered."""

from __future__ import annotations

import asyncio
import contextlib
import json
import socket
import threading
from collections.abc import AsyncIterator, Callable, Iterator
from typing import Any

import httpx
import pytest
from glandwise_client import (
    AnswerError,
    AsyncGlandwiseClient,
    BadRequest,
    BatchItem,
    ConnectionFailed,
    GlandwiseClient,
    InternalError,
    RequestError,
    RequestTimeout,
    RetryPolicy,
    TooBusy,
    UnknownName,
    models,
)
from glandwise_client._operations import OPERATIONS

from tests.client.support import DESIGN, DUTY, Script

REQUEST = {"duty": DUTY, "design": DESIGN}
ROWS: list[Any] = [
    REQUEST,
    {"duty": {**DUTY, "fluid": "unobtainium"}, "design": DESIGN},
    {"duty": {**DUTY, "pressure": "3 foo"}, "design": DESIGN},
    b"{",
    models.EnvelopeCheckRequest(**REQUEST),
    7,
]


def test_operations_that_take_a_batch_are_those_of_the_contract(document: dict[str, Any]) -> None:
    for item in document["paths"].values():
        for described in item.values():
            taken = described.get("x-batches", {})
            assert OPERATIONS[described["operationId"]].batch == ("application/x-ndjson" in taken)


@pytest.mark.parametrize("size", [1, 2, 4, 100])
def test_every_request_has_its_item(client: GlandwiseClient, size: int) -> None:
    found = list(client.batch("check_envelope", ROWS, size=size))
    assert [item.number for item in found] == [1, 2, 3, 4, 5, 6]
    assert [item.status for item in found] == [200, 422, None, 400, 200, None]
    alone = client.check_envelope(REQUEST)
    assert found[0].result == found[4].result == alone
    assert found[0].error is None
    for place, kind in ((1, UnknownName), (2, RequestError), (3, BadRequest), (5, RequestError)):
        error = found[place].error
        assert isinstance(error, kind)
        with pytest.raises(kind) as caught:
            _ = found[place].result
        assert caught.value is error
    assert found[1].error.errors[0].pointer == "/duty/fluid"  # type: ignore[union-attr]
    assert found[2].document is None
    assert found[1].document["type"] == "/problems/unknown-name"  # type: ignore[index]


def test_fields_replace_those_of_every_request(client: GlandwiseClient) -> None:
    other = {**DESIGN, "compound": "ptfe_unfilled"}
    found = list(client.batch("check_envelope", [REQUEST, REQUEST], units="us", design=other))
    alone = client.check_envelope(REQUEST, units="us", design=other)
    assert [item.result for item in found] == [alone, alone]
    assert alone != client.check_envelope(REQUEST)


def test_units_of_the_client_count(app: Any) -> None:
    with GlandwiseClient.in_process(app, units="us") as client:
        (item,) = client.batch("check_envelope", [REQUEST])
        assert item.result == client.check_envelope(REQUEST)


def test_the_asynchronous_client_answers_alike(client: GlandwiseClient, app: Any) -> None:
    async def ask() -> list[BatchItem[Any]]:
        async with AsyncGlandwiseClient.in_process(app) as other:
            return [item async for item in other.batch("check_envelope", ROWS, size=3)]

    for own, other in zip(client.batch("check_envelope", ROWS), asyncio.run(ask()), strict=True):
        assert (own.number, own.status) == (other.number, other.status)
        assert own.document is None or own.document == other.document or own.status != 200


def test_requests_are_taken_as_they_are_needed(client: GlandwiseClient) -> None:
    taken = []

    def source() -> Iterator[dict[str, Any]]:
        for number in range(1000):
            taken.append(number)
            yield REQUEST

    found = client.batch("check_envelope", source(), size=10)
    assert next(found).status == 200
    assert len(taken) == 10


def test_nothing_to_ask_is_nothing_sent() -> None:
    script = Script()
    with GlandwiseClient(transport=script.transport) as client:
        assert list(client.batch("check_envelope", [])) == []
        assert [item.status for item in client.batch("check_envelope", [7, b"", b"a\nb"])] == [None] * 3
    assert script.requests == []


@pytest.mark.parametrize("operation", ["audit_rule_set", "list_fluids", "nonsense"])
def test_operations_that_take_no_batch_are_refused_unsent(operation: str) -> None:
    script = Script()
    with GlandwiseClient(transport=script.transport) as client, pytest.raises(RequestError):
        list(client.batch(operation, [REQUEST]))
    assert script.requests == []


def lines(*rows: Any, media_type: str = "application/x-ndjson") -> httpx.Response:
    """An answer of some lines."""
    content = "".join(json.dumps(row) + "\n" for row in rows)
    return httpx.Response(200, content=content, headers={"content-type": media_type})


RESULT = {"line": 1, "status": 200, "result": {}}


@pytest.mark.parametrize(
    "answer",
    [
        lines(),
        lines(RESULT),
        lines({**RESULT, "line": 2}, RESULT),
        lines(RESULT, {**RESULT, "line": 2}, {**RESULT, "line": 3}),
        lines(RESULT, {**RESULT, "line": 2}, media_type="text/html"),
    ],
)  # fmt: skip
def test_an_answer_that_lost_lines_is_none(answer: httpx.Response) -> None:
    with (
        GlandwiseClient(transport=Script(answer).transport) as client,
        pytest.raises(AnswerError, match="for 2 requests"),
    ):
        list(client.batch("check_envelope", [REQUEST, REQUEST]))


@pytest.mark.parametrize(
    "content",
    [
        '{"line":1,"status":2',
        "[1]",
        "null",
        '"text"',
        "\x00",
        "[" * 100_000,
        '{"line":1,"result":{}}',
        '{"line":"1","status":200,"result":{}}',
        '{"line":1,"status":"200","result":{}}',
        '{"line":1,"status":null,"result":{}}',
        '{"line":1,"status":true,"result":{}}',
        '{"line":1,"status":302,"result":{}}',
        '{"line":1,"status":700,"problem":{}}',
        '{"line":1,"status":-1,"result":{}}',
        '{"line":1,"status":200}',
        '{"line":1,"status":200,"result":[]}',
        '{"line":1,"status":422,"result":{}}',
        '{"line":1,"status":422,"problem":"no"}',
        '{"status":200,"result":{}}',
    ],
)
def test_a_line_that_is_none_is_told_as_one(content: str) -> None:
    answer = httpx.Response(200, content=content, headers={"content-type": "application/x-ndjson"})
    with GlandwiseClient(transport=Script(answer).transport) as client, pytest.raises(AnswerError):
        list(client.batch("check_envelope", [REQUEST]))


def test_a_problem_of_another_make_is_an_error_all_the_same() -> None:
    with GlandwiseClient(transport=Script(lines({"line": 1, "status": 500, "problem": {}})).transport) as client:
        (item,) = client.batch("check_envelope", [REQUEST])
    assert isinstance(item.error, InternalError)


def nested(depth: int) -> dict[str, Any]:
    """An object so many levels deep."""
    found: dict[str, Any] = {}
    for _ in range(depth):
        found = {"a": found}
    return found


def test_a_request_nested_too_deep_stops_no_other() -> None:
    script = Script(lines(RESULT, {**RESULT, "line": 2}))
    with GlandwiseClient(transport=script.transport) as client:
        found = list(client.batch("check_envelope", [REQUEST, {**REQUEST, "design": nested(5000)}, REQUEST]))
    assert [item.status for item in found] == [200, None, 200]
    assert isinstance(found[1].error, RequestError)
    assert "nested" in found[1].error.detail


def test_a_batch_that_took_too_long_is_sent_once() -> None:
    script = Script(httpx.ReadTimeout(""), httpx.ReadTimeout(""))

    async def ask() -> None:
        async with AsyncGlandwiseClient(transport=script.transport) as client:
            _ = [item async for item in client.batch("check_envelope", [REQUEST])]

    with GlandwiseClient(transport=script.transport) as client, pytest.raises(RequestTimeout):
        list(client.batch("check_envelope", [REQUEST]))
    assert len(script.requests) == 1
    with pytest.raises(RequestTimeout):
        asyncio.run(ask())
    assert len(script.requests) == 2


def test_a_result_that_does_not_read_says_so() -> None:
    with GlandwiseClient(transport=Script(lines(RESULT)).transport) as client:
        (item,) = client.batch("check_envelope", [REQUEST])
        assert item.document == {}
        with pytest.raises(AnswerError, match="does not read as EnvelopeCheckResult"):
            _ = item.result


def test_a_message_is_tried_again_and_given_up() -> None:
    busy = httpx.Response(503, headers={"retry-after": "0"})
    policy = RetryPolicy(retries=1, first_delay=0.0, jitter=0.0)
    script = Script(busy, lines({"line": 1, "status": 500, "problem": {
        "type": "/problems/internal-error", "title": "t", "status": 500, "detail": "d"}}))  # fmt: skip
    with GlandwiseClient(transport=script.transport, retry=policy) as client:
        (item,) = client.batch("check_envelope", [REQUEST])
    assert isinstance(item.error, InternalError)
    assert [request.headers["content-type"] for request in script.requests] == ["application/x-ndjson"] * 2
    assert {request.headers["accept"] for request in script.requests} == {"application/x-ndjson"}
    assert script.requests[0].content == script.requests[1].content
    gone = Script(busy, busy)
    with GlandwiseClient(transport=gone.transport, retry=policy) as client, pytest.raises(Exception, match="503"):
        list(client.batch("check_envelope", [REQUEST]))


BUSY = {"type": "/problems/too-busy", "title": "t", "status": 503, "detail": "d"}


def row(line: int, n: int | None = None) -> dict[str, Any]:
    """A line of an answer: a result, or that it was put off."""
    return (
        {"line": line, "status": 503, "problem": BUSY}
        if n is None
        else {"line": line, "status": 200, "result": {"n": n}}
    )


def scripted(script: Script, other: bool, count: int, **options: Any) -> list[BatchItem[Any]]:
    """Ask a script for a batch of numbers, by either client."""
    policy = RetryPolicy(retries=2, first_delay=0.0, jitter=0.0)
    requests = [b"%d" % number for number in range(1, count + 1)]
    if not other:
        with GlandwiseClient(transport=script.transport, retry=policy) as client:
            return list(client.batch("check_envelope", requests, **options))

    async def ask() -> list[BatchItem[Any]]:
        async with AsyncGlandwiseClient(transport=script.transport, retry=policy) as client:
            return [item async for item in client.batch("check_envelope", requests, **options)]

    return asyncio.run(ask())


@pytest.mark.parametrize("other", [False, True], ids=["sync", "async"])
def test_lines_that_were_put_off_are_asked_again(other: bool) -> None:
    script = Script(
        lines(row(1, 1), row(2), row(3, 3), row(4)), lines(row(1, 2), row(2)), lines(row(1, 4)), lines(row(1, 5))
    )
    told: list[int] = []
    found = scripted(script, other, 5, size=4, progress=lambda done, _: told.append(done))
    assert [(item.number, item.status, (item.document or {}).get("n")) for item in found] == [
        (number, 200, number) for number in range(1, 6)
    ]
    assert [request.content for request in script.requests] == [b"1\n2\n3\n4", b"2\n4", b"4", b"5"]
    assert told == sorted(told)
    assert told[-1] == 5


@pytest.mark.parametrize("other", [False, True], ids=["sync", "async"])
def test_lines_that_are_put_off_again_and_again_keep_their_answer(other: bool) -> None:
    script = Script(lines(row(1), row(2, 2)), lines(row(1)), lines(row(1)))
    found = scripted(script, other, 2)
    assert [(item.number, item.status) for item in found] == [(1, 503), (2, 200)]
    assert isinstance(found[0].error, TooBusy)
    assert [request.content for request in script.requests] == [b"1\n2", b"1", b"1"]


@pytest.mark.parametrize("other", [False, True], ids=["sync", "async"])
def test_an_answer_to_what_was_put_off_is_held_to_it(other: bool) -> None:
    for wrong in (lines(row(2, 2)), lines(row(1, 1), row(2, 2)), lines(media_type="text/plain"), lines()):
        with pytest.raises(AnswerError):
            scripted(Script(lines(row(1), row(2, 2)), wrong), other, 2)


# ---------------------------------------------------------------------------------------------- answers that break off


class Breaking:
    """A server whose answer to a batch breaks off behind so many lines, message by message; then it answers all.

    A line of a request is a number in JSON, and its answer repeats it.
    """

    def __init__(self, *whole_lines: int, cut: bytes = b'{"line":') -> None:
        self.whole_lines, self.cut = list(whole_lines), cut
        self.asked: list[list[int]] = []
        """Numbers that each message asked for."""
        self._socket = socket.create_server(("127.0.0.1", 0))
        self.url = f"http://127.0.0.1:{self._socket.getsockname()[1]}"
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    def __enter__(self) -> Breaking:
        return self

    def __exit__(self, *_: object) -> None:
        self._socket.shutdown(socket.SHUT_RDWR)
        self._socket.close()
        self._thread.join(timeout=5.0)

    def _serve(self) -> None:
        with contextlib.suppress(OSError):
            while True:
                connection, _ = self._socket.accept()
                with connection:
                    self._answer(connection)

    def _answer(self, connection: socket.socket) -> None:
        received = b""
        while b"\r\n\r\n" not in received:
            received += connection.recv(65536)
        head, _, content = received.partition(b"\r\n\r\n")
        (length,) = (
            int(line.split(b":")[1]) for line in head.lower().split(b"\r\n") if line.startswith(b"content-length")
        )
        while len(content) < length:
            content += connection.recv(65536)
        numbers = [json.loads(line) for line in content.splitlines()]
        self.asked.append(numbers)
        whole = self.whole_lines.pop(0) if self.whole_lines else None
        head = b"HTTP/1.1 200 OK\r\ncontent-type: application/x-ndjson\r\nconnection: close\r\ntransfer-encoding: chunked\r\n\r\n"
        connection.sendall(head)
        for line, number in enumerate(numbers[:whole], start=1):
            said = json.dumps({"line": line, "status": 200, "result": {"n": number}}).encode() + b"\n"
            connection.sendall(b"%x\r\n%b\r\n" % (len(said), said))
        if whole is None:
            connection.sendall(b"0\r\n\r\n")
        elif self.cut:
            connection.sendall(b"%x\r\n%b\r\n" % (len(self.cut), self.cut))


def numbers(count: int) -> list[bytes]:
    """Requests of :class:`Breaking`."""
    return [b"%d" % number for number in range(1, count + 1)]


def note(found: list[tuple[int, Any]], item: BatchItem[Any]) -> None:
    """Note the number of an item, and what it was answered with."""
    found.append((item.number, (item.document or {}).get("n")))


AT_ONCE = RetryPolicy(retries=1, first_delay=0.0, jitter=0.0)
Asked = Callable[..., tuple[list[tuple[int, Any]], Exception | None]]


def _asked(
    url: str, retry: RetryPolicy, requests: Any, **options: Any
) -> tuple[list[tuple[int, Any]], Exception | None]:
    found: list[tuple[int, Any]] = []
    with GlandwiseClient(url, retry=retry) as client:
        try:
            for item in client.batch("check_envelope", requests, **options):
                note(found, item)
        except Exception as error:
            return found, error
    return found, None


def _asked_asynchronously(
    url: str, retry: RetryPolicy, requests: Any, **options: Any
) -> tuple[list[tuple[int, Any]], Exception | None]:
    found: list[tuple[int, Any]] = []

    async def ask() -> None:
        async with AsyncGlandwiseClient(url, retry=retry) as client:
            items: AsyncIterator[BatchItem[Any]] = client.batch("check_envelope", requests, **options)
            async for item in items:
                note(found, item)

    try:
        asyncio.run(ask())
    except Exception as error:
        return found, error
    return found, None


@pytest.fixture(params=[_asked, _asked_asynchronously], ids=["sync", "async"])
def ask(request: pytest.FixtureRequest) -> Asked:
    """Ask a batch of a server, and return the items and what it ended with."""
    asked: Asked = request.param
    return asked


def test_an_answer_that_breaks_off_is_taken_up_behind_its_last_line(ask: Asked) -> None:
    with Breaking(2, 3) as server:
        found, error = ask(server.url, AT_ONCE, numbers(9), size=6)
    assert error is None
    assert found == [(number, number) for number in range(1, 10)]
    assert server.asked == [[1, 2, 3, 4, 5, 6], [3, 4, 5, 6], [6], [7, 8, 9]]


@pytest.mark.parametrize("cut", [b"", b'{"line":2,"status":200,"result":{}}'], ids=["behind a line", "before its end"])
def test_a_line_without_its_end_is_none(ask: Asked, cut: bytes) -> None:
    with Breaking(1, cut=cut) as server:
        found, error = ask(server.url, AT_ONCE, numbers(3))
    assert (found, error) == ([(1, 1), (2, 2), (3, 3)], None)
    assert server.asked == [[1, 2, 3], [2, 3]]


def test_an_answer_that_breaks_off_again_and_again_without_a_line_is_given_up(ask: Asked) -> None:
    with Breaking(2, 0, 0, 0) as server:
        found, error = ask(server.url, AT_ONCE, numbers(5))
        assert isinstance(error, ConnectionFailed)
        assert found == [(1, 1), (2, 2)]
        assert server.asked == [[1, 2, 3, 4, 5], [3, 4, 5]]


def test_a_batch_is_taken_up_where_the_caller_says(ask: Asked) -> None:
    requests = [*numbers(2), b"", *numbers(6)[2:]]  # the third cannot be written
    with Breaking(2, 3) as server:
        once = RetryPolicy(retries=0)
        first, error = ask(server.url, once, requests)
        assert isinstance(error, ConnectionFailed)
        assert first == [(1, 1), (2, 2), (3, None)]
        second, error = ask(server.url, once, iter(requests), after=first[-1][0], size=100)
        assert isinstance(error, ConnectionFailed)
        assert second == [(4, 3), (5, 4), (6, 5)]
        last, error = ask(server.url, once, requests, after=second[-1][0])
        assert (last, error) == ([(7, 6)], None)
        assert server.asked == [[1, 2, 3, 4, 5, 6], [3, 4, 5, 6], [6]], "no request is asked again that was answered"
        assert ask(server.url, once, requests, after=7) == ([], None)
        assert len(server.asked) == 3


def test_the_progress_is_told_line_by_line(ask: Asked) -> None:
    told: list[tuple[int, int | None]] = []
    with Breaking(2) as server:
        _, error = ask(server.url, AT_ONCE, numbers(5), size=3, progress=lambda done, total: told.append((done, total)))
        assert error is None
        done = [one for one, _ in told]
        assert done == sorted(set(done))
        assert (done[0], done[-1]) == (0, 5)
        assert {1, 2} & set(done)
        assert {total for _, total in told} == {5}
        told.clear()
        ask(server.url, AT_ONCE, iter(numbers(5)), after=3, progress=lambda done, total: told.append((done, total)))
    assert told[0] == (3, None)
    assert told[-1] == (5, None)


def test_a_batch_is_not_taken_up_before_its_beginning() -> None:
    script = Script()
    with GlandwiseClient(transport=script.transport) as client, pytest.raises(RequestError, match="at least 0"):
        list(client.batch("check_envelope", [REQUEST], after=-1))
    assert script.requests == []


def test_a_batch_of_a_real_service_is_taken_up_where_the_caller_says(client: GlandwiseClient) -> None:
    found = list(client.batch("check_envelope", ROWS, size=2, after=3))
    whole = list(client.batch("check_envelope", ROWS))
    assert [(item.number, item.status) for item in found] == [(item.number, item.status) for item in whole[3:]]
    assert found[1].result == whole[4].result
