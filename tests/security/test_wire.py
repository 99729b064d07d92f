"""The served application on a loopback socket: what an in-process client cannot send must not hang it or bring it down."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import httpx
import httpx2
import pytest

from tests.conftest import assert_problem, example

REQUEST = json.dumps(example("estimate_energizer_load", "cantilever_v")).encode()
PATH = "/v1/energizer-loads"
LINES = {"content-type": "application/x-ndjson"}
GRACE = 20.0
"""Seconds that the container files give the service to end."""
PATIENCE = 5.0
"""Seconds within which every answer, or the end of the connection, must come."""


@contextlib.contextmanager
def served(**settings: str) -> Iterator[tuple[int, subprocess.Popen[bytes]]]:
    """Serve as in production, on a port of the system's choice."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        number: int = probe.getsockname()[1]
    settings = {f"GLANDWISE_{name.upper()}": value for name, value in {"grace_seconds": "5", **settings}.items()}
    environment = {**os.environ, "GLANDWISE_HOST": "127.0.0.1", "GLANDWISE_PORT": str(number), **settings}
    server = subprocess.Popen([sys.executable, "-m", "glandwise"], env=environment, stderr=subprocess.DEVNULL)
    try:
        until = time.monotonic() + 30.0
        while True:
            try:
                if httpx2.get(f"http://127.0.0.1:{number}/readyz").status_code == 200:
                    break
            except httpx2.TransportError:
                assert server.poll() is None, "the service ended at start"
                assert time.monotonic() < until, "the service did not start"
                time.sleep(0.05)
        yield number, server
    finally:
        server.terminate()
        assert server.wait(timeout=15.0) is not None


@pytest.fixture(scope="module")
def port() -> Iterator[int]:
    """The port of a service."""
    with served() as (number, _):
        yield number


@pytest.fixture(autouse=True)
def _still_serving(port: int) -> Iterator[None]:
    """After each attack the next caller is served."""
    yield
    response = httpx2.post(f"http://127.0.0.1:{port}{PATH}", content=REQUEST, headers={"content-type": "application/json"},
                           timeout=PATIENCE)  # fmt: skip
    assert response.status_code == 200


def exchange(port: int, message: bytes, *, close: bool = False) -> bytes:
    """Send bytes and return what comes back before the peer closes or two seconds pass without more."""
    received = b""
    with socket.create_connection(("127.0.0.1", port), timeout=PATIENCE) as connection:
        connection.settimeout(2.0)
        try:
            connection.sendall(message)
            if close:
                connection.shutdown(socket.SHUT_WR)
            while chunk := connection.recv(65536):
                received += chunk
                if b"\r\n\r\n" in received and not received.startswith(b"HTTP/1.1 100"):
                    break
        except (TimeoutError, ConnectionError):
            pass
    return received


def head(*headers: str, method: str = "POST", path: str = PATH) -> bytes:
    """Return the head of a request."""
    lines = [f"{method} {path} HTTP/1.1", "Host: 127.0.0.1", "Content-Type: application/json", *headers]
    return ("\r\n".join(lines) + "\r\n\r\n").encode("latin-1")


def test_ten_megabytes_declared_are_refused_before_they_are_sent(port: int) -> None:
    answer = exchange(port, head("Content-Length: 10000000"))
    assert answer.startswith(b"HTTP/1.1 413 ")
    assert b"application/problem+json" in answer


def _pieces(count: int) -> Iterator[bytes]:
    for _ in range(count):
        yield b" " * 100_000


@pytest.mark.parametrize("library", [httpx, httpx2])
@pytest.mark.parametrize("content", ["declared", "in chunks"])
def test_a_caller_who_goes_on_sending_can_read_that_it_is_too_much(port: int, library: Any, content: str) -> None:
    headers = {"content-type": "application/json"}
    for count in (50, 100, 250):  # of 100 kB
        body: Any = b" " * (100_000 * count) if content == "declared" else _pieces(count)
        with library.Client(base_url=f"http://127.0.0.1:{port}", timeout=PATIENCE) as client:
            assert_problem(client.post(PATH, content=body, headers=headers), 413, "content-too-large")


@pytest.mark.parametrize("path", [PATH, "/v1/envelope-checks"])
@pytest.mark.parametrize("options", [(), ("-H", "Expect:"), ("-H", "Expect:", "-H", "Transfer-Encoding: chunked")])
@pytest.mark.skipif(shutil.which("curl") is None, reason="curl is not installed")
def test_curl_shows_that_it_is_too_much(port: int, path: str, options: tuple[str, ...], tmp_path: Path) -> None:
    large = tmp_path / "large.json"
    large.write_bytes(b" " * 20_000_000)
    command = [
        "curl", "--silent", "--show-error", "--max-time", "20", "--write-out", "\n%{http_code}",
        "-H", "Content-Type: application/json", *options, "--data-binary", f"@{large}", f"http://127.0.0.1:{port}{path}",
    ]  # fmt: skip
    found = subprocess.run(command, capture_output=True, text=True, timeout=30.0, check=False)
    content, _, status = found.stdout.rpartition("\n")
    assert (found.returncode, status, found.stderr) == (0, "413", "")
    assert json.loads(content)["title"] == "The request is too large"


@pytest.mark.parametrize(
    ("message", "status"),
    [
        (head("Content-Length: 20000000") + b" " * 20_000_000, 413),
        (head("Transfer-Encoding: chunked") + (b"10000\r\n" + b" " * 65536 + b"\r\n") * 300, 413),
        (head("X-Long: " + "a" * 5_000_000), 431),
    ],
    ids=["declared", "in chunks", "head"],
)
def test_a_caller_who_reads_nothing_before_all_is_sent_is_not_cut_off(port: int, message: bytes, status: int) -> None:
    """As a client does that takes a broken connection for a failure."""
    received = b""
    with socket.create_connection(("127.0.0.1", port), timeout=PATIENCE) as connection:
        connection.sendall(message)
        while chunk := connection.recv(65536):
            received += chunk
    assert received.startswith(b"HTTP/1.1 %d " % status)
    assert b"connection: close" in received


def _send_until(connection: socket.socket, until: float) -> None:
    while time.monotonic() < until:
        connection.sendall(b" ")
        time.sleep(0.05)


def test_a_caller_who_never_ends_sending_is_closed_on(hasty: int) -> None:
    begin = time.monotonic()
    answer = trickled(hasty, head("Content-Length: 10000000"), b" ")
    assert answer.startswith(b"HTTP/1.1 413 ")
    received = b""
    with socket.create_connection(("127.0.0.1", hasty), timeout=PATIENCE) as connection:
        connection.sendall(head("Content-Length: 10000000"))
        while chunk := connection.recv(65536):  # the service says that it sends no more
            received += chunk
        assert received.startswith(b"HTTP/1.1 413 ")
        with pytest.raises(ConnectionError):  # and after a second, that it takes no more
            _send_until(connection, begin + 3 * PATIENCE)


def test_endless_chunks_are_cut_off(port: int) -> None:
    sent, answer = 0, b""
    chunk = b"10000\r\n" + b" " * 65536 + b"\r\n"
    with socket.create_connection(("127.0.0.1", port), timeout=PATIENCE) as connection:
        connection.sendall(head("Transfer-Encoding: chunked"))
        try:
            while sent < 64_000_000:
                connection.sendall(chunk)
                sent += 65536
        except (ConnectionError, TimeoutError):
            pass
        answer = connection.recv(65536)
    assert sent < 64_000_000
    assert answer.startswith(b"HTTP/1.1 413 ")


def test_ten_megabytes_in_chunks(port: int) -> None:
    chunk = b"10000\r\n" + b" " * 65536 + b"\r\n"
    answer = exchange(port, head("Transfer-Encoding: chunked") + chunk * 66)
    assert answer.startswith(b"HTTP/1.1 413 ")
    assert b"application/problem+json" in answer


def test_chunked_body_is_read(port: int) -> None:
    body = f"{len(REQUEST):x}\r\n".encode() + REQUEST + b"\r\n0\r\n\r\n"
    assert exchange(port, head("Transfer-Encoding: chunked") + body).startswith(b"HTTP/1.1 200 ")


@pytest.mark.parametrize(
    "message",
    [
        b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03",  # a TLS greeting
        b"GARBAGE\r\n\r\n",
        b"GET\r\n\r\n",
        b"GET /healthz HTTP/9.9\r\nHost: x\r\n\r\n",
        b"GET /healthz HTTP/1.1\r\nHost: x\r\nbad header\r\n\r\n",
        b"GET /healthz HTTP/1.1\r\nHost: x\r\nX-A: a\x00b\r\n\r\n",
        b"GET /a b HTTP/1.1\r\nHost: x\r\n\r\n",
        head("Content-Length: 5", "Content-Length: 6") + b"{}   ",
        head("Content-Length: -1") + b"{}",
        head("Content-Length: abc") + b"{}",
        head("Content-Length: 5", "Transfer-Encoding: chunked") + b"0\r\n\r\n",
        head("Transfer-Encoding: chunked") + b"zz\r\n{}\r\n0\r\n\r\n",
        head("Transfer-Encoding: chunked") + b"-1\r\n{}\r\n0\r\n\r\n",
        head("Transfer-Encoding: chunked") + b"ffffffffffffffffff\r\n{}\r\n0\r\n\r\n",
    ],
)
def test_malformed_message(port: int, message: bytes) -> None:
    begin = time.monotonic()
    answer = exchange(port, message, close=True)
    assert time.monotonic() - begin < PATIENCE
    assert answer == b"" or answer.startswith((b"HTTP/1.1 4", b"HTTP/1.0 4")), answer


def test_body_that_ends_before_its_declared_length(port: int) -> None:
    begin = time.monotonic()
    answer = exchange(port, head("Content-Length: 5000") + REQUEST[:100], close=True)
    assert time.monotonic() - begin < PATIENCE
    assert answer == b"" or answer.startswith(b"HTTP/1.1 400 ")


def test_callers_that_never_finish_do_not_keep_others_waiting(port: int) -> None:
    waiting = [socket.create_connection(("127.0.0.1", port), timeout=PATIENCE) for _ in range(50)]
    try:
        for number, connection in enumerate(waiting):
            connection.sendall(
                head("Content-Length: 5000")[: 20 + number] if number % 2 else head("Content-Length: 5000")
            )
        begin = time.monotonic()
        assert httpx2.get(f"http://127.0.0.1:{port}/healthz", timeout=PATIENCE).status_code == 200
        assert time.monotonic() - begin < 1.0
    finally:
        for connection in waiting:
            connection.close()


def wire_problem(answer: bytes, status: int, kind: str) -> None:
    """Assert that bytes are a problem document and the last of the connection."""
    start, *lines = answer.partition(b"\r\n\r\n")[0].decode("latin-1").split("\r\n")
    headers = dict(line.split(": ", 1) for line in lines)
    assert headers["connection"] == "close"
    content = answer.partition(b"\r\n\r\n")[2]
    assert int(headers["content-length"]) == len(content)
    assert start.split()[1] == str(status)
    assert_problem(httpx2.Response(status, headers=headers, content=content), status, kind)


@pytest.mark.parametrize(
    "message",
    [
        head("X-Long: " + "a" * 1_000_000),
        head("X-Long: " + "a" * 1_000_000)[:-4],  # a header that does not end
        head(*(f"X-{number}: {number}" for number in range(10_000))),
        head(path="/" + "a" * 1_000_000, method="GET"),
        b"GET /" + b"a" * 1_000_000,
        head("X-Long: " + "a" * 40_000),
    ],
    ids=["long", "endless", "many", "target", "endless target", "in one piece"],
)
def test_a_head_that_is_too_large_is_refused(port: int, message: bytes) -> None:
    wire_problem(exchange(port, message), 431, "header-too-large")


def test_a_head_of_many_kilobytes_is_taken(port: int) -> None:
    message = head("X-Long: " + "a" * 30_000, f"Content-Length: {len(REQUEST)}") + REQUEST
    assert exchange(port, message).startswith(b"HTTP/1.1 200 ")


def test_what_the_server_cannot_read_is_answered_with_a_problem(port: int) -> None:
    wire_problem(exchange(port, b"GARBAGE\r\n\r\n"), 400, "bad-request")


def test_the_server_does_not_tell_what_it_runs_on(port: int) -> None:
    answer = exchange(port, head(method="GET", path="/healthz")).lower()
    assert answer.startswith(b"http/1.1 200 ")
    assert b"\r\nserver:" not in answer
    assert b"python" not in answer


# ------------------------------------------------------------------------------------------------------- slow callers


@pytest.fixture(scope="module")
def hasty() -> Iterator[int]:
    """The port of a service that waits a second for a message, and no longer for an answer to be taken."""
    bounds = dict.fromkeys(("header_seconds", "body_seconds", "idle_seconds", "stall_seconds"), "1")
    with served(**bounds) as (number, _):
        yield number


def trickled(port: int, message: bytes, then: bytes = b"") -> bytes:
    """Send a message, then a byte ten times a second until the service has enough of it; return what it answers."""
    received = b""
    with socket.create_connection(("127.0.0.1", port), timeout=PATIENCE) as connection:
        connection.sendall(message)
        connection.settimeout(0.1)
        until = time.monotonic() + 2 * PATIENCE
        with contextlib.suppress(ConnectionError):
            while True:
                assert time.monotonic() < until, "the service waits for ever"
                try:
                    chunk = connection.recv(65536)
                except TimeoutError:
                    connection.sendall(then)
                    continue
                if not chunk:
                    break
                received += chunk
    return received


def test_a_caller_who_says_nothing_is_not_waited_for(hasty: int) -> None:
    assert trickled(hasty, b"") == b""


def test_a_caller_who_sends_empty_lines_is_not_waited_for(hasty: int) -> None:
    assert trickled(hasty, b"\r\n", b"\r\n") == b""


def test_a_head_that_trickles_is_refused(hasty: int) -> None:
    wire_problem(trickled(hasty, head("X-Slow: a")[:-4], b"a"), 408, "request-timeout")


@pytest.mark.parametrize(
    "content_type", ["application/json", "application/x-ndjson", "application/vnd.apache.arrow.stream"]
)
def test_a_body_that_trickles_is_refused(hasty: int, content_type: str) -> None:
    message = head("Content-Length: 100000").replace(b"application/json", content_type.encode())
    message = message.replace(PATH.encode(), b"/v1/envelope-checks")
    answer = trickled(hasty, message, b" ")
    assert answer.startswith(b"HTTP/1.1 408 ")
    assert b"/problems/request-timeout" in answer


def test_a_body_that_nobody_reads_is_not_waited_for(hasty: int) -> None:
    answer = trickled(hasty, head("Content-Length: 100000", path="/v1/nothing"), b" ")
    assert answer.startswith(b"HTTP/1.1 404 ")


def test_an_idle_connection_is_closed(hasty: int) -> None:
    message = head(f"Content-Length: {len(REQUEST)}") + REQUEST
    begin = time.monotonic()
    assert trickled(hasty, message).startswith(b"HTTP/1.1 200 ")
    assert time.monotonic() - begin < PATIENCE


def test_a_head_behind_a_request_under_way_has_its_time(hasty: int) -> None:
    """What is not read because the request before it takes long is not late."""
    slow = {**example("estimate_energizer_load", "canted_coil"), "sampling": {"samples": 100_000}}
    body = (json.dumps(slow).encode() + b"\n") * 2
    first = head(f"Content-Length: {len(body)}").replace(b"application/json", b"application/x-ndjson") + body
    message = first + head(f"Content-Length: {len(REQUEST)}", "Connection: close") + REQUEST
    received = b""
    with socket.create_connection(("127.0.0.1", hasty), timeout=60.0) as connection:
        connection.sendall(message)
        while chunk := connection.recv(65536):
            received += chunk
    assert received.count(b"HTTP/1.1 200 OK") == 2


def test_batches_that_come_byte_by_byte_hold_no_place(port: int) -> None:
    """With the bounds of the defaults: more of them than there are places."""
    address = f"http://127.0.0.1:{port}{PATH}"
    message = head("Content-Length: 100000").replace(b"application/json", b"application/x-ndjson") + b" "
    slow = [socket.create_connection(("127.0.0.1", port), timeout=PATIENCE) for _ in range(8)]
    try:
        for connection in slow:
            connection.sendall(message)
        time.sleep(0.2)
        answer = httpx2.post(address, content=REQUEST, headers=LINES, timeout=60.0)
        assert answer.status_code == 200
    finally:
        for connection in slow:
            connection.close()


def test_batches_whose_answer_nobody_takes_hold_no_place(hasty: int) -> None:
    address = f"http://127.0.0.1:{hasty}{PATH}"
    body = b"{}\n" * 50_000  # each is refused in words, which together no buffer holds
    message = head(f"Content-Length: {len(body)}").replace(b"application/json", b"application/x-ndjson")
    slow = [socket.socket() for _ in range(4)]
    try:
        for connection in slow:
            connection.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
            connection.settimeout(60.0)
            connection.connect(("127.0.0.1", hasty))
            connection.sendall(message + body)
        for connection in slow:
            connection.recv(100)  # and nothing more
        until = time.monotonic() + 60.0
        while httpx2.post(address, content=REQUEST, headers=LINES, timeout=60.0).status_code != 200:
            assert time.monotonic() < until, "they are waited for without end"
            time.sleep(0.2)
    finally:
        for connection in slow:
            connection.close()


# ------------------------------------------------------------------------------------------------------------ batches


def test_a_batch_larger_than_any_buffer_is_answered_whole(port: int) -> None:
    """Megabytes each way: a service that answered while it is still being told would wait for ever, and so would we."""
    count = 1200
    body = (REQUEST + b" " * 5000 + b"\n") * count
    response = httpx2.post(f"http://127.0.0.1:{port}{PATH}", content=body, headers=LINES, timeout=120.0)
    rows = response.content.splitlines()
    assert response.status_code == 200
    assert len(rows) == count
    assert [json.loads(row)["line"] for row in rows] == list(range(1, count + 1))
    assert min(len(body), len(response.content)) > 4_000_000


def test_a_single_question_is_answered_beside_a_batch(port: int) -> None:
    """A batch of seconds runs in a process of its own; the service goes on listening."""
    address = f"http://127.0.0.1:{port}{PATH}"
    body = (REQUEST + b"\n") * 6000
    with httpx2.stream("POST", address, content=body, headers=LINES, timeout=120.0) as answer:
        first = next(answer.iter_bytes(100))
        for _ in range(20):  # the batch in one piece would take longer than our patience
            single = httpx2.post(
                address, content=REQUEST, headers={"content-type": "application/json"}, timeout=PATIENCE
            )
            assert single.status_code == 200
        assert first.startswith(b'{"line":1,"status":200')


def test_a_batch_that_nobody_waits_for_is_given_up(port: int) -> None:
    address = f"http://127.0.0.1:{port}{PATH}"
    body = (REQUEST + b"\n") * 50_000
    with httpx2.stream("POST", address, content=body, headers=LINES, timeout=120.0) as answer:
        next(answer.iter_bytes(100))
    begin = time.monotonic()
    small = httpx2.post(address, content=REQUEST, headers=LINES, timeout=60.0)
    assert small.status_code == 200
    assert time.monotonic() - begin < 10.0  # fifty thousand lines take far longer


def _children(*pids: int) -> list[int]:
    command = ["ps", "-o", "pid=", "--ppid", ",".join(map(str, pids))]
    return [int(line) for line in subprocess.run(command, capture_output=True, text=True, check=False).stdout.split()]


def _descendants(pid: int) -> list[int]:
    """The processes that a service has, its workers among them: those are copies of one that is no worker."""
    children = _children(pid)
    return children + (_children(*children) if children else [])


def _alive(pids: list[int]) -> bool:
    listed = subprocess.run(
        ["ps", "-o", "stat=", "-p", ",".join(map(str, pids))], capture_output=True, text=True, check=False
    )
    return any(not state.startswith("Z") for state in listed.stdout.split())


@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGKILL])
def test_workers_end_with_the_service(how: signal.Signals) -> None:
    with served() as (number, server):
        body = REQUEST
        assert (
            httpx2.post(f"http://127.0.0.1:{number}{PATH}", content=body, headers=LINES, timeout=60.0).status_code
            == 200
        )
        children = _descendants(server.pid)
        assert _workers(server.pid)
        assert len(children) > len(_workers(server.pid))
        server.send_signal(how)
        server.wait(timeout=15.0)
    until = time.monotonic() + 10.0
    while _alive(children):
        assert time.monotonic() < until, "a worker outlived its service"
        time.sleep(0.05)


@pytest.mark.slow
def test_long_operations_that_nobody_waits_for_hold_up_nobody(port: int) -> None:
    """Forty callers ask for what takes a minute together, and hang up."""
    audit = json.dumps({"base": {"kind": "name", "name": "baseline"}, "samples": 16384}).encode()
    message = head(f"Content-Length: {len(audit)}", path="/v1/rule-set-audits") + audit
    select = json.dumps(example("select_design", "gearbox_input")).encode()
    waiting = [socket.create_connection(("127.0.0.1", port), timeout=PATIENCE) for _ in range(40)]
    try:
        for connection in waiting:
            connection.sendall(message)
        time.sleep(0.5)
        for _ in range(5):
            assert httpx2.get(f"http://127.0.0.1:{port}/healthz", timeout=PATIENCE).status_code == 200
        full = httpx2.post(f"http://127.0.0.1:{port}/v1/selections", content=select,
                           headers={"content-type": "application/json"}, timeout=PATIENCE)  # fmt: skip
        assert_problem(full, 503, "too-busy")
    finally:
        for connection in waiting:
            connection.close()
    until = time.monotonic() + PATIENCE
    while True:
        answer = httpx2.post(f"http://127.0.0.1:{port}/v1/selections", content=select,
                             headers={"content-type": "application/json", "accept": "text/html"}, timeout=PATIENCE)  # fmt: skip
        if answer.status_code == 200:
            break
        assert answer.status_code == 503
        assert time.monotonic() < until, "what nobody waits for is still worked on"
        time.sleep(0.1)


def _workers(pid: int) -> list[int]:
    """The copies that a child has made of itself; another child looks after shared resources."""
    children = _children(pid)
    return _children(*children) if children else []


@pytest.mark.slow
@pytest.mark.parametrize("after", [0.0, 0.5])
def test_a_worker_killed_while_it_starts_holds_up_nothing(after: float) -> None:
    """Neither the batch that had it started, nor the next ones, nor the end of the service."""
    with served() as (number, server), ThreadPoolExecutor(1) as beside:
        address = f"http://127.0.0.1:{number}{PATH}"
        body = (REQUEST + b"\n") * 20
        batch = beside.submit(httpx2.post, address, content=body, headers=LINES, timeout=60.0)
        until = time.monotonic() + 30.0
        while not (found := _workers(server.pid)):
            assert time.monotonic() < until, "no worker was started"
        time.sleep(after)
        os.kill(found[0], signal.SIGKILL)
        for answer in (batch.result(), httpx2.post(address, content=body, headers=LINES, timeout=60.0)):
            assert [json.loads(row)["status"] for row in answer.iter_lines()] == [200] * 20
        assert httpx2.get(f"http://127.0.0.1:{number}/readyz").status_code == 200
        # and one that is killed at once when the service is told to end
        os.kill(_workers(server.pid)[0], signal.SIGKILL)
        batch = beside.submit(httpx2.post, address, content=body * 1000, headers=LINES, timeout=60.0)
        time.sleep(0.3)
        server.terminate()
        server.wait(timeout=GRACE)
        with contextlib.suppress(httpx2.TransportError):
            batch.result()


@pytest.mark.slow
def test_what_workers_are_copies_of_may_be_killed_with_them() -> None:
    with served() as (number, server):
        address, body = f"http://127.0.0.1:{number}{PATH}", (REQUEST + b"\n") * 20
        for _ in range(2):
            answer = httpx2.post(address, content=body, headers=LINES, timeout=60.0)
            assert [json.loads(row)["status"] for row in answer.iter_lines()] == [200] * 20
            copied = [child for child in _children(server.pid) if _children(child)]
            assert copied
            for pid in (*copied, *_workers(server.pid)):
                os.kill(pid, signal.SIGKILL)
        assert httpx2.get(f"http://127.0.0.1:{number}/readyz").status_code == 200


def test_the_service_ends_soon_though_it_is_busy() -> None:
    """With a batch of minutes under way and callers who wait for it."""
    slow = {**example("estimate_energizer_load", "canted_coil"), "sampling": {"samples": 100_000}}
    body = (json.dumps(slow).encode() + b"\n") * 500
    with served() as (number, server):
        address = f"http://127.0.0.1:{number}{PATH}"
        with httpx2.stream("POST", address, content=body, headers=LINES, timeout=120.0) as answer:
            next(answer.iter_bytes(100))
            server.terminate()
            server.wait(timeout=15.0)


def test_a_batch_under_way_is_answered_whole_though_the_service_is_stopped() -> None:
    """Lines that the grace does not suffice for are put off, each by itself; nothing is cut."""
    slow = {**example("estimate_energizer_load", "canted_coil"), "sampling": {"samples": 20_000}}
    for count, grace, put_off in ((20, "60", False), (2000, "3", True)):
        body = (json.dumps(slow).encode() + b"\n") * count
        with served(grace_seconds=grace) as (number, server):
            address = f"http://127.0.0.1:{number}{PATH}"
            with httpx2.stream("POST", address, content=body, headers=LINES, timeout=120.0) as answer:
                pieces = answer.iter_bytes()
                received = next(pieces)
                server.terminate()
                received += b"".join(pieces)
            server.wait(timeout=GRACE)
        rows = [json.loads(line) for line in received.splitlines()]
        assert [row["line"] for row in rows] == list(range(1, count + 1))
        assert {row["status"] for row in rows} == ({200, 503} if put_off else {200})


def test_more_connections_than_are_answered_are_put_off_and_probes_are_not() -> None:
    with served(max_connections="3") as (number, _), contextlib.ExitStack() as held:
        for _ in range(3):
            held.enter_context(socket.create_connection(("127.0.0.1", number), timeout=PATIENCE))
        address = f"http://127.0.0.1:{number}"
        response = httpx2.post(f"{address}{PATH}", content=REQUEST, headers={"content-type": "application/json"})
        assert_problem(response, 503, "too-busy")
        assert int(response.headers["retry-after"]) > 0
        assert httpx2.get(f"{address}/readyz").status_code == 200
        held.close()
        until = time.monotonic() + PATIENCE
        while httpx2.get(f"{address}/v1/alloys").status_code != 200:
            assert time.monotonic() < until
            time.sleep(0.05)
