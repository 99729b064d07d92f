"""Batches: a request on each line, each answered as it would be alone, none lost, none held up by another."""

from __future__ import annotations

import asyncio
import json
import os
import signal
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path
from typing import Any

import httpx2
import jsonschema_rs
import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from glandwise.api import desk, lines
from glandwise.app import create_app
from glandwise.operations import OPERATIONS, Operation
from glandwise.settings import Settings

from tests.conftest import AnsweredBy, Example, assert_problem, changed, example, load_examples
from tests.contract.at_work import broken, deadly, idle, names_and_digests

LINES = {"content-type": "application/x-ndjson"}
PATH = "/v1/envelope-checks"
SINGLE = sorted(name for name, row in OPERATIONS.items() if not row.lines)
EXAMPLES = [entry for entry in load_examples() if entry.operation not in SINGLE]
CHECK = OPERATIONS["check_envelope"]
REQUEST = example("check_envelope", "gearbox_input_shaft")


def written(*rows: Any) -> bytes:
    """Rows as lines; bytes stand as they are."""
    return b"\n".join(row if isinstance(row, bytes) else json.dumps(row).encode() for row in rows)


def answers(response: httpx2.Response) -> list[dict[str, Any]]:
    """The lines of an answer."""
    assert response.status_code == 200, response.text
    assert response.headers["content-type"] == "application/x-ndjson"
    assert response.content.endswith(b"\n")
    return [json.loads(line) for line in response.content.splitlines()]


@pytest.fixture(scope="module")
def threaded() -> Iterator[TestClient]:
    """A service that answers batches in a thread."""
    with TestClient(create_app(Settings(batch_workers=0))) as session:
        yield session


@pytest.fixture(scope="module")
def pooled() -> Iterator[TestClient]:
    """A service that answers batches in two processes."""
    with TestClient(create_app(Settings(batch_workers=2))) as session:
        yield session


@pytest.mark.parametrize("entry", EXAMPLES, ids=lambda entry: f"{entry.operation}-{entry.name}")
def test_each_line_is_answered_as_alone(threaded: TestClient, document: dict[str, Any], entry: Example) -> None:
    broken = {**entry.request, "surplus": 1}
    alone = threaded.post(entry.path, json=entry.request).json()
    refused = threaded.post(entry.path, json=broken).json()
    found = answers(threaded.post(entry.path, content=written(broken, entry.request), headers=LINES))
    assert found[1] == {"line": 2, "status": 200, "result": alone}
    assert found[0] == {"line": 1, "status": 422, "problem": {**refused, "request_id": None}}
    schema = {"$ref": "#/components/schemas/BatchLine", "components": document["components"]}
    fits = jsonschema_rs.Draft202012Validator(schema)
    for row in found:
        fits.validate(row)


def test_every_calculation_but_those_on_many_cases_takes_a_batch(document: dict[str, Any]) -> None:
    for methods in document["paths"].values():
        for method, operation in methods.items():
            if method == "post":
                forms = operation.get("x-batches", {})
                takes = "application/x-ndjson" in forms
                assert takes == (operation["operationId"] not in SINGLE)
                if takes:
                    request = operation["requestBody"]["content"]["application/json"]["schema"]
                    assert forms["application/x-ndjson"]["request"]["contentSchema"] == request
                    assert forms["application/x-ndjson"]["response"]["contentSchema"] == {
                        "$ref": "#/components/schemas/BatchLine"
                    }


FAULTS: list[tuple[bytes, int, str]] = [
    (b"{", 400, "invalid-json"),
    (b"\xff\xfe", 400, "invalid-json"),
    (b'{"duty":NaN}', 400, "invalid-json"),
    (b'{"duty":1,"duty":2}', 400, "invalid-json"),
    (b'{"units":"\\ud800"}', 400, "invalid-json"),
    (b"[" * 5000, 400, "invalid-json"),
    (b"[]", 422, "invalid-request"),
    (b"{}", 422, "invalid-request"),
    (written(changed(REQUEST, "/duty/fluid", "unobtainium")), 422, "unknown-name"),
    (written(changed(REQUEST, "/duty/shaft_diameter/value", -5)), 422, "invalid-request"),
    (b'"' + b"x" * Settings().max_body_bytes + b'"', 413, "content-too-large"),
]


def test_a_bad_line_stops_no_other(threaded: TestClient) -> None:
    rows = [row for fault, _, _ in FAULTS for row in (REQUEST, fault)]
    found = answers(threaded.post(PATH, content=written(*rows), headers=LINES))
    assert [row["line"] for row in found] == list(range(1, len(rows) + 1))
    for row, (_, status, kind) in zip(found[1::2], FAULTS, strict=True):
        assert (row["status"], row["problem"]["status"], row["problem"]["type"]) == (
            status,
            status,
            f"/problems/{kind}",
        )
        assert "result" not in row
    assert all(row == {**found[0], "line": row["line"]} for row in found[::2])


def test_empty_lines_count_and_are_skipped(threaded: TestClient) -> None:
    body = b"\n \t\r\n" + written(REQUEST) + b"\r\n\n" + written(REQUEST)
    assert [row["line"] for row in answers(threaded.post(PATH, content=body, headers=LINES))] == [3, 5]


@pytest.mark.slow
def test_nothing_is_lost_and_the_order_stays(pooled: TestClient) -> None:
    """More blocks than workers, of lines that differ in what they cost and answer."""
    count = 617
    rows = [changed(REQUEST, "/duty/pressure/value", 0.01 + 0.001 * place) for place in range(count)]
    rows[5] = b"{"
    found = answers(pooled.post(PATH, content=written(*rows), headers=LINES))
    assert [row["line"] for row in found] == list(range(1, count + 1))
    assert [row["status"] for row in found].count(200) == count - 1
    for place in (0, lines.FIRST_BLOCK, 299, count - 1):
        assert found[place]["result"] == pooled.post(PATH, json=rows[place]).json()


@pytest.mark.parametrize("budget", [0.0, 1e-3, 60.0])
def test_a_block_is_answered_in_as_many_goes_as_it_takes(
    threaded: TestClient, monkeypatch: pytest.MonkeyPatch, budget: float
) -> None:
    monkeypatch.setattr(lines, "BUDGET", budget)
    rows = [changed(REQUEST, "/duty/pressure/value", 0.01 + 0.01 * place) for place in range(11)]
    rows[4] = b"{"
    found = answers(threaded.post(PATH, content=written(*rows), headers=LINES))
    assert [row["line"] for row in found] == list(range(1, 12))
    assert found[10]["result"] == threaded.post(PATH, json=rows[10]).json()


def test_a_worker_returns_when_its_time_is_over(app: FastAPI, monkeypatch: pytest.MonkeyPatch) -> None:
    block = [(number, written(REQUEST)) for number in range(1, 6)]
    monkeypatch.setattr(lines, "BUDGET", 0.0)
    first = lines.answer_block(app.state.engine, CHECK, 10_000, block)
    assert (first.lines, first.content.count(b"\n")) == (1, 1)
    monkeypatch.setattr(lines, "BUDGET", 60.0)
    rest = lines.answer_block(app.state.engine, CHECK, 10_000, block[first.lines :])
    assert [json.loads(line)["line"] for line in rest.content.splitlines()] == [2, 3, 4, 5]


def test_a_defect_costs_its_line_only(threaded: TestClient, answered_by: AnsweredBy) -> None:
    def fragile(body: Any, engine: Any) -> Any:
        if body.duty.fluid == "water":
            raise ZeroDivisionError("secret")
        return check(body, engine)

    check = answered_by("check_envelope", fragile)
    rows = [REQUEST, changed(REQUEST, "/duty/fluid", "water"), REQUEST]
    response = threaded.post(PATH, content=written(*rows), headers=LINES)
    assert [row["status"] for row in answers(response)] == [200, 500, 200]
    assert b"secret" not in response.content


def test_behind_a_gateway_a_batch_is_answered_alike() -> None:
    app = create_app(Settings(batch_workers=0))
    body = written(REQUEST, b"{")
    with TestClient(app) as before, TestClient(app, root_path="/gateway") as behind:
        headers = {**LINES, "x-request-id": "same"}
        one, other = before.post(PATH, content=body, headers=headers), behind.post(PATH, content=body, headers=headers)
    assert (one.headers, one.content) == (other.headers, other.content)


# -------------------------------------------------------------------------------------------------- refused as a whole


@pytest.mark.parametrize("operation", SINGLE)
def test_operations_on_many_cases_take_one_request(
    client: TestClient, document: dict[str, Any], operation: str
) -> None:
    (path,) = (path for path, methods in document["paths"].items() if methods.get("post", {}).get("operationId") == operation)  # fmt: skip
    problem = assert_problem(client.post(path, content=b"{}", headers=LINES), 415, "unsupported-media-type")
    assert "x-ndjson" not in problem["detail"]


def test_other_media_types_are_refused_with_those_accepted(client: TestClient) -> None:
    response = client.post(PATH, content=b"{}", headers={"content-type": "text/plain"})
    problem = assert_problem(response, 415, "unsupported-media-type")
    assert "application/x-ndjson" in problem["detail"]


@pytest.mark.parametrize("body", [b"", b"\n\n \r\n"])
def test_a_batch_without_a_line_is_refused(client: TestClient, body: bytes) -> None:
    assert_problem(client.post(PATH, content=body, headers=LINES), 400, "invalid-json")


@pytest.mark.parametrize("accept", ["application/json", "text/html", "image/png;q=x/"])
def test_a_batch_is_answered_in_lines_only(client: TestClient, accept: str) -> None:
    response = client.post(PATH, content=b"{}", headers={**LINES, "accept": accept})
    problem = assert_problem(response, 406, "not-acceptable")
    assert "application/x-ndjson" in problem["detail"]


@pytest.mark.parametrize("accept", ["*/*", "application/x-ndjson", "application/*", "text/html, */*;q=0.1"])
def test_lines_are_acceptable(threaded: TestClient, accept: str) -> None:
    response = threaded.post(PATH, content=written(REQUEST), headers={**LINES, "accept": accept})
    assert answers(response)[0]["status"] == 200


def test_a_content_coding_is_refused(client: TestClient) -> None:
    response = client.post(PATH, content=b"{}", headers={**LINES, "content-encoding": "gzip"})
    assert_problem(response, 415, "unsupported-media-type")


def test_limits_of_a_batch_hold() -> None:
    with TestClient(create_app(Settings(batch_workers=0, max_batch_bytes=2048, max_batch_lines=3))) as session:
        assert len(answers(session.post(PATH, content=b"1\n2\n3\n", headers=LINES))) == 3
        problem = assert_problem(session.post(PATH, content=b"1\n2\n3\n4\n", headers=LINES), 413, "content-too-large")
        assert "3 lines" in problem["detail"]
        problem = assert_problem(session.post(PATH, content=b"1" * 2049, headers=LINES), 413, "content-too-large")
        assert "2048 bytes" in problem["detail"]


# ------------------------------------------------------------------------------------------------------- lost workers


DEADLY = replace(CHECK, answer=deadly)


WATER = changed(REQUEST, "/duty/fluid", "water")


async def replies(at: desk.Desk, body: bytes, operation: Operation = CHECK) -> list[dict[str, Any]]:
    """The lines that a desk answers a message with."""
    sent: list[bytes] = []

    async def receive() -> dict[str, Any]:
        await asyncio.Event().wait()
        raise AssertionError

    async def send(message: Any) -> None:
        sent.append(message.get("body", b""))

    await lines.BatchAnswer(at, operation, 10_000, lines.Lines(body), ExitStack())({}, receive, send)
    return [json.loads(line) for line in b"".join(sent).splitlines()]


@pytest.mark.slow
@pytest.mark.parametrize("workers", [1, 2])
def test_a_line_that_costs_a_worker_costs_no_other_line_and_no_other_caller(app: FastAPI, workers: int) -> None:
    at = desk.Desk(app.state.engine, workers, 4)

    async def scenario() -> list[list[dict[str, Any]]]:
        culprit = written(*[REQUEST] * 5, WATER, *[REQUEST] * 4)
        return await asyncio.gather(replies(at, culprit, DEADLY), replies(at, written(*[REQUEST] * 40)))

    try:
        own, other = asyncio.run(scenario())
    finally:
        at.close()
    assert [row["line"] for row in own] == list(range(1, 11))
    assert [row["status"] for row in own] == [200] * 5 + [500] + [200] * 4
    assert own[5]["problem"]["type"] == "/problems/internal-error"
    assert [row["status"] for row in other] == [200] * 40


def is_there(pid: int) -> bool:
    """Tell whether there is a process."""
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True


@pytest.mark.slow
def test_a_worker_that_ended_between_two_batches_costs_nothing() -> None:
    app = create_app(Settings(batch_workers=1))
    with TestClient(app) as session:
        assert answers(session.post(PATH, content=written(REQUEST), headers=LINES))[0]["status"] == 200
        (worker,) = app.state.desk.processes
        os.kill(worker, signal.SIGKILL)
        again = answers(session.post(PATH, content=written(REQUEST, REQUEST), headers=LINES))
        assert [row["status"] for row in again] == [200, 200]
        (worker,) = app.state.desk.processes
    until = time.monotonic() + 20.0
    while is_there(worker):  # it goes with the service, as soon as its parent takes note
        assert time.monotonic() < until, "the worker outlived its service"
        time.sleep(0.02)


class Doomed(desk._Worker):
    """A worker that is killed at some moment: the first two of them, or all."""

    moment, made, doomed = "", 0, 2

    def __init__(self, context: Any) -> None:
        super().__init__(context)
        type(self).made += 1
        self.dies = type(self).made <= type(self).doomed
        self._fall("start")

    def _fall(self, moment: str) -> None:
        if self.dies and self.moment == moment:
            self.process.kill()
            self.process.join()

    def begin(self, engine: bytes) -> None:
        """Take the engine."""
        if self.dies and self.moment == "greeting":
            self._pipe.poll(60.0)
            self._fall("greeting")
        super().begin(engine)
        self._fall("idle")

    def ask(self, function: Any, arguments: tuple[Any, ...]) -> Any:
        """Work."""
        if self.dies and self.moment == "work":
            threading.Timer(0.3, self.process.kill).start()
            function, arguments = idle, (600.0,)
        return super().ask(function, arguments)


@pytest.mark.slow
@pytest.mark.parametrize("moment", ["start", "greeting", "idle", "work"])
def test_a_worker_that_is_killed_at_any_moment_costs_no_line(
    app: FastAPI, monkeypatch: pytest.MonkeyPatch, moment: str
) -> None:
    monkeypatch.setattr(desk, "_Worker", Doomed)
    monkeypatch.setattr(Doomed, "moment", moment)
    monkeypatch.setattr(Doomed, "made", 0)
    at = desk.Desk(app.state.engine, 1, 4)
    try:
        # more than a pipe takes at once, each way: a worker that is killed has never read it
        body = written(*[{**REQUEST, "surplus": "x" * 5000}] * 30, *[REQUEST] * 10)
        found = asyncio.run(asyncio.wait_for(replies(at, body), 120.0))
    finally:
        at.close()
    assert [row["status"] for row in found] == [422] * 30 + [200] * 10
    assert Doomed.made > 2
    assert not at.lacks_workers
    assert at.processes == []


def test_where_no_worker_can_be_had_the_lines_and_the_readiness_say_so(monkeypatch: pytest.MonkeyPatch) -> None:
    app = create_app(Settings(batch_workers=1))
    with TestClient(app) as session:
        assert session.get("/readyz").status_code == 200
        with monkeypatch.context() as patch:
            patch.setattr(desk, "_Worker", Doomed)
            patch.setattr(Doomed, "moment", "start")
            patch.setattr(Doomed, "doomed", 10**9)
            found = answers(session.post(PATH, content=written(*[REQUEST] * 7), headers=LINES))
            assert [row["status"] for row in found] == [503] * 7
            assert {row["problem"]["type"] for row in found} == {"/problems/unavailable"}
            table = {"content-type": "application/vnd.apache.arrow.stream"}
            assert_problem(session.post(PATH, content=b"", headers=table), 503, "unavailable")
            response = session.get("/readyz")
            assert_problem(response, 503, "unavailable")
            assert int(response.headers["retry-after"]) > 0
            assert session.get("/healthz").status_code == 200
            assert session.post(PATH, json=REQUEST).status_code == 200
        until = time.monotonic() + 60.0
        while session.get("/readyz").status_code != 200:  # asking has a worker started
            assert time.monotonic() < until, "no worker came back"
            time.sleep(0.1)
        assert len(app.state.desk.processes) == 1
        assert answers(session.post(PATH, content=written(REQUEST), headers=LINES))[0]["status"] == 200


def test_where_a_process_cannot_be_started_the_lines_say_so(app: FastAPI, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(_: Any) -> None:
        raise BlockingIOError("no more processes")

    monkeypatch.setattr(desk, "_Worker", refuse)
    at = desk.Desk(app.state.engine, 1, 4)
    assert [row["status"] for row in asyncio.run(replies(at, written(REQUEST)))] == [503]
    assert at.lacks_workers


def test_where_nothing_can_be_copied_a_worker_loads_for_itself(app: FastAPI, monkeypatch: pytest.MonkeyPatch) -> None:
    class Nowhere:
        """A way of starting processes that fails, as where there is no place for a socket."""

        @staticmethod
        def Pipe() -> Any:  # noqa: N802 - its name there
            return desk._anew().Pipe()

        @staticmethod
        def Process(**_: Any) -> Any:  # noqa: N802
            raise OSError("AF_UNIX path too long")

    monkeypatch.setattr(desk, "_copying", Nowhere)
    at = desk.Desk(app.state.engine, 1, 4)
    try:
        assert [row["status"] for row in asyncio.run(replies(at, written(REQUEST)))] == [200]
        assert not at.lacks_workers
    finally:
        at.close()


# --------------------------------------------------------------------------------------------------------- the workers


@pytest.mark.slow
def test_a_worker_has_the_rules_of_the_service_whatever_became_of_their_files(tmp_path: Path) -> None:
    house = tmp_path / "house"
    house.mkdir()
    head = {"name": "house", "version": "1", "title": "Invented", "description": "Invented.", "extends": "baseline"}
    text = "".join(f"{name} = {json.dumps(value)}\n" for name, value in head.items())
    (house / "rule_set.toml").write_text(text, encoding="utf-8")
    at = create_app(Settings(batch_workers=1, rules=tmp_path)).state.desk
    (house / "rule_set.toml").unlink()
    try:
        assert asyncio.run(at.run(names_and_digests)) == names_and_digests(at.engine)
    finally:
        at.close()


def test_processes_are_started_off_the_event_loop(app: FastAPI, monkeypatch: pytest.MonkeyPatch) -> None:
    threads: set[int] = set()

    class Here:
        """Stands for a worker, in this process."""

        def __init__(self, _: Any) -> None:
            threads.add(threading.get_ident())

        def begin(self, _: bytes) -> None:
            threads.add(threading.get_ident())

        def ask(self, *_: Any) -> str:
            threads.add(threading.get_ident())
            return "done"

    monkeypatch.setattr(desk, "_Worker", Here)
    assert asyncio.run(desk.Desk(app.state.engine, 1, 4).run(names_and_digests)) == "done"  # type: ignore[comparison-overlap]
    assert threads
    assert threading.get_ident() not in threads


@pytest.mark.slow
def test_a_worker_passes_on_what_a_function_raises_and_works_on(app: FastAPI) -> None:
    at = desk.Desk(app.state.engine, 1, 4)

    async def scenario() -> None:
        with pytest.raises(ZeroDivisionError):
            await at.run(broken)
        (first,) = at.processes
        assert await at.run(names_and_digests)
        assert at.processes == [first]

    try:
        asyncio.run(scenario())
    finally:
        at.close()


@pytest.mark.slow
def test_a_busy_worker_is_ended_with_the_desk(app: FastAPI) -> None:
    at = desk.Desk(app.state.engine, 1, 4)

    async def scenario() -> None:
        await at.run(idle, 0.0)
        busy = asyncio.create_task(at.run(idle, 600.0))
        waiting = asyncio.create_task(at.run(idle, 600.0))
        await asyncio.sleep(0.2)
        await asyncio.to_thread(at.close)
        for task in (busy, waiting):
            with pytest.raises(desk.WorkerLost):
                await asyncio.wait_for(task, 30.0)
        with pytest.raises(desk.WorkerLost):  # and no other is started
            await at.run(idle, 0.0)
        at.open()
        await at.run(idle, 0.0)

    try:
        asyncio.run(asyncio.wait_for(scenario(), 120.0))
    finally:
        at.close()


# ------------------------------------------------------------------------------------------------------------- at once


def test_more_batches_than_are_taken_at_once_are_put_off_unread() -> None:
    app = create_app(Settings(batch_workers=0, max_batches=2))
    with TestClient(app) as session:
        for refused in (b"", b"1\n" * 200_000):  # these give their turn back
            assert session.post(PATH, content=refused, headers=LINES).status_code in {400, 413}
        with app.state.desk.turn():
            assert answers(session.post(PATH, content=written(REQUEST), headers=LINES))[0]["status"] == 200
            with app.state.desk.turn():
                response = session.post(PATH, content=written(REQUEST), headers=LINES)
                problem = assert_problem(response, 503, "too-busy")
                assert int(response.headers["retry-after"]) > 0
                assert "2 batches" in problem["detail"]
                assert session.post(PATH, json=REQUEST).status_code == 200
                table = {"content-type": "application/vnd.apache.arrow.stream"}
                assert_problem(session.post(PATH, content=b"", headers=table), 503, "too-busy")
                unread = []

                async def receive() -> Any:
                    unread.append("read")
                    return {"type": "http.request", "body": b""}

                async def send(message: Any) -> None:
                    unread.append(message.get("status"))

                scope = {"type": "http", "method": "POST", "path": PATH, "query_string": b"", "app": app,
                         "headers": [(b"content-type", b"application/x-ndjson")]}  # fmt: skip
                asyncio.run(app(scope, receive, send))
                assert unread == [503, None]
        assert answers(session.post(PATH, content=written(REQUEST), headers=LINES))[0]["status"] == 200
    assert app.state.desk.turns == 0


# ------------------------------------------------------------------------------------------------------------ hang up


class CountingDesk(desk.Desk):
    """A desk that takes its time and counts its blocks."""

    def __init__(self) -> None:
        self.workers, self.blocks = 0, 0

    async def run(self, *work: Any) -> Any:
        """Answer a block after a while."""
        self.blocks += 1
        await asyncio.sleep(0.01)
        *_, block, _form = work
        return lines.Answered(b"{}\n", len(block), 0.01)


@pytest.mark.parametrize("after", [0, 2])
def test_work_stops_when_the_caller_hangs_up(after: int) -> None:
    async def scenario() -> tuple[int, list[Any]]:
        counting, sent, gone = CountingDesk(), [], asyncio.Event()

        async def receive() -> dict[str, Any]:
            await gone.wait()
            return {"type": "http.disconnect"}

        async def send(message: Any) -> None:
            sent.append(message)
            if len(sent) > after:
                gone.set()

        body, held = lines.Lines(b"1\n" * 100 * lines.LARGEST_BLOCK), ExitStack()
        released: list[bool] = []
        held.callback(released.append, True)
        await asyncio.wait_for(lines.BatchAnswer(counting, CHECK, 100, body, held)({}, receive, send), 5.0)
        assert released == [True]
        return counting.blocks, sent

    blocks, sent = asyncio.run(scenario())
    assert blocks < 10
    assert sent[0]["type"] == "http.response.start"
    assert all(message.get("more_body") for message in sent[1:]), "an answer cut short does not look whole"
