"""A calculation answers alike straight away and through the router, whose way a gateway's root path takes."""

from __future__ import annotations

import asyncio
import os
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from glandwise.api import access, calculations, middleware
from glandwise.api.calculation import CalculationRoute
from glandwise.app import create_app
from glandwise.settings import Settings
from starlette.types import Message, Receive, Scope, Send

from tests.conftest import Example, changed, example, load_examples

PATH = "/v1/envelope-checks"
ROOT = "/gateway"


@pytest.mark.parametrize("item", load_examples(), ids=lambda item: f"{item.operation}-{item.name}")
def test_every_calculation_is_reached_straight_away(item: Example) -> None:
    assert item.path in calculations.by_path()


def test_both_ways_answer_alike(monkeypatch: pytest.MonkeyPatch) -> None:
    straight: list[str] = []
    answer = CalculationRoute.answer

    async def noted(self: CalculationRoute, scope: Any, receive: Any, send: Any) -> None:
        straight.append(scope["root_path"])
        await answer(self, scope, receive, send)

    monkeypatch.setattr(CalculationRoute, "answer", noted)
    app = create_app(Settings())
    request = example("check_envelope", "gearbox_input_shaft")
    bodies: list[dict[str, Any]] = [
        {"json": request},
        {"json": changed(request, "/duty/pressure/value", "high")},
        {"json": changed(request, "/duty/fluid", "unobtainium")},
        {"content": b"{"},
    ]
    with TestClient(app) as before, TestClient(app, root_path=ROOT) as behind:
        for body in bodies:
            headers = {"x-request-id": "one-and-the-same", "content-type": "application/json"}
            one, other = before.post(PATH, **body, headers=headers), behind.post(PATH, **body, headers=headers)
            assert (one.status_code, one.headers, one.content) == (other.status_code, other.headers, other.content)
            assert one.headers["x-request-id"] == "one-and-the-same"
    assert straight == [""] * len(bodies), "behind a root path the router is asked, without one it is not"


async def _of(body: bytes) -> tuple[list[Message], int]:
    """Return what is sent of a large answer, and how often another task had its turn meanwhile."""
    sent: list[Message] = []
    turns = 0

    async def answering(scope: Scope, receive: Receive, send: Send) -> None:
        del scope, receive
        await send({"type": "http.response.start", "status": 200, "headers": []})
        await send({"type": "http.response.body", "body": body, "more_body": True})
        await send({"type": "http.response.body", "body": b"end"})

    async def counting() -> None:
        nonlocal turns
        while True:
            turns += 1
            await asyncio.sleep(0)

    async def noted(message: Message) -> None:
        sent.append(message)

    async def received() -> Message:
        return {"type": "http.request", "body": b""}

    front = middleware.Front(answering, {}, access.guard(Settings()))
    scope = {"type": "http", "method": "GET", "path": "/healthz", "headers": [], "client": ("127.0.0.1", 1)}
    other = asyncio.create_task(counting())
    await front(scope, received, noted)
    other.cancel()
    return sent[1:], turns


@pytest.mark.parametrize("size", [0, 1, middleware.PIECE, middleware.PIECE + 1, 7 * middleware.PIECE, 10**6])
def test_a_large_answer_leaves_in_pieces_between_which_others_have_their_turn(size: int) -> None:
    body = os.urandom(size)
    sent, turns = asyncio.run(_of(body))
    assert b"".join(message["body"] for message in sent) == body + b"end"
    assert max(len(message["body"]) for message in sent) <= middleware.PIECE
    assert [message.get("more_body", False) for message in sent] == [True] * (len(sent) - 1) + [False]
    assert turns >= size // middleware.PIECE - 1


def test_a_defect_is_answered_alike(app: FastAPI, monkeypatch: pytest.MonkeyPatch) -> None:
    """Past the router or through it, an exception ends in the same problem document."""

    def broken(*_: Any) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("glandwise.questions.envelope.operation.build", broken)
    request = example("check_envelope", "gearbox_input_shaft")
    for root in ("", ROOT):
        with TestClient(app, root_path=root, raise_server_exceptions=False) as session:
            response = session.post(PATH, json=request, headers={"x-request-id": "defect"})
        assert response.status_code == 500
        assert response.json()["type"] == "/problems/internal-error"
        assert response.headers["x-request-id"] == response.json()["request_id"] == "defect"


def test_other_methods_of_a_calculation_go_to_the_router(client: TestClient) -> None:
    response = client.get(PATH)
    assert response.status_code == 405
    assert response.headers["allow"] == "POST, OPTIONS"
