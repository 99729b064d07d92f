"""What the tests of the service share: the application, a client, the examples, and the shape of a problem."""

from __future__ import annotations

import copy
import gc
import json
import os
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from glandwise import openapi, units
from glandwise.api.problems import KINDS
from glandwise.app import create_app
from glandwise.operations import OPERATIONS
from glandwise.settings import Settings
from hypothesis import settings

if not os.environ.get("FUZZ"):
    # the same examples each time, so that a change is judged by what it did; ``make fuzz`` draws new ones
    settings.register_profile("steady", derandomize=True)
    settings.load_profile("steady")

ROOT = Path(__file__).parent.parent
EXAMPLES = ROOT / "service" / "src" / "glandwise" / "contract" / "examples"


class Example(NamedTuple):
    """An example request of an operation."""

    operation: str
    name: str
    path: str
    request: dict[str, Any]


def load_examples() -> list[Example]:
    """Return every example request of every operation; that these are those of the document is a test of its own."""
    return [
        Example(row.name, name, row.path, found["value"])
        for row in OPERATIONS.values()
        for name, found in openapi.examples(row.name).items()
    ]


def dimensions_of(symbol: str) -> tuple[str, ...]:
    """Name the dimensions in which a unit symbol occurs."""
    return tuple(name for name in units.DIMENSIONS if symbol in units.factors(name))


def example(operation: str, name: str) -> dict[str, Any]:
    """Return the request of one example, to be changed freely."""
    text = (EXAMPLES / operation / f"{name}.json").read_text(encoding="utf-8")
    request: dict[str, Any] = json.loads(text)["request"]
    return request


def changed(request: dict[str, Any], pointer: str, value: Any) -> dict[str, Any]:
    """Return a copy of a request with the value at a JSON pointer replaced or added; ``...`` removes it."""
    result = copy.deepcopy(request)
    *way, last = pointer.removeprefix("/").split("/")
    target: Any = result
    for part in way:
        target = target[int(part) if isinstance(target, list) else part]
    key: Any = int(last) if isinstance(target, list) else last
    if value is ...:
        del target[key]
    else:
        target[key] = value
    return result


@pytest.fixture(scope="session")
def app() -> FastAPI:
    """The application with its default settings."""
    return create_app(Settings())


@pytest.fixture(scope="session")
def client(app: FastAPI) -> Iterator[TestClient]:
    """A client of the application in this process; a defect of the service raises here."""
    with TestClient(app) as session:
        yield session


class Answers:
    """Answers to whole requests, each asked for once: that the same request gives the same bytes is a test of its own."""

    def __init__(self, client: TestClient) -> None:
        self._client = client
        self._held: dict[tuple[str, str, str], Any] = {}

    def __call__(self, path: str, request: dict[str, Any], accept: str = "application/json") -> Any:
        """Return the answer to a request."""
        key = path, json.dumps(request), accept
        if key not in self._held:
            self._held[key] = self._client.post(path, json=request, headers={"accept": accept})
        return self._held[key]


@pytest.fixture(scope="session")
def answer_to(client: TestClient) -> Answers:
    """The answers that tests share: ``answer_to(path, request, accept)``."""
    return Answers(client)


@pytest.fixture(scope="session")
def document(app: FastAPI) -> dict[str, Any]:
    """The OpenAPI document of the application."""
    return app.openapi()


@pytest.fixture(scope="session")
def strict_document(app: FastAPI) -> dict[str, Any]:
    """The document that holds answers to what they are today."""
    return openapi.strict(app)


class AnsweredBy:
    """Has operations answered by other functions, until the end of a test."""

    def __init__(self) -> None:
        self._own: dict[str, Any] = {}

    def __call__(self, name: str, function: Any) -> Any:
        """Have an operation answered by a function; return its own."""
        own = OPERATIONS[name].answer
        self._own.setdefault(name, own)
        object.__setattr__(OPERATIONS[name], "answer", function)  # a row is frozen for everybody else
        return own

    def restore(self) -> None:
        """Have all answered as ever."""
        for name, function in self._own.items():
            object.__setattr__(OPERATIONS[name], "answer", function)


@pytest.fixture
def answered_by() -> Iterator[AnsweredBy]:
    """Have operations answered by other functions: ``answered_by(name, function)``."""
    found = AnsweredBy()
    yield found
    found.restore()


_POINTER = re.compile(r"(/([^~/]|~[01])*)*")


def assert_problem(
    response: Any, status: int, kind: str, pointer: str | None = None, *, secret: str | None = None
) -> dict[str, Any]:
    """Assert that an answer is a problem document in its canonical shape, and return it.

    ``pointer`` must be among the fields at fault, with what is accepted there. ``secret`` is a part of the input that
    must not come back in any form.
    """
    assert response.status_code == status, response.text
    assert response.headers["content-type"] == "application/problem+json"
    assert response.headers["x-content-type-options"] == "nosniff"
    assert response.headers["cache-control"] == "no-store"
    assert response.content.decode("utf-8", "strict") == response.text
    problem: dict[str, Any] = response.json()
    assert list(problem) == ["type", "title", "status", "detail", "message", "request_id", "errors"]
    expected_status, title, _ = KINDS[kind]
    assert expected_status == status
    assert (problem["type"], problem["title"], problem["status"]) == (f"/problems/{kind}", title, status)
    assert problem["request_id"] == response.headers["x-request-id"]
    assert isinstance(problem["detail"], str)
    assert 0 < len(problem["detail"]) <= 1000
    assert len(problem["errors"]) <= 50
    for error in problem["errors"]:
        assert list(error) == ["pointer", "detail", "accepted", "code", "parameters", "message"]
        assert _POINTER.fullmatch(error["pointer"])
        assert error["detail"]
        assert re.fullmatch("[a-z0-9_]+", error["code"])
        assert error["message"].endswith((".", "?"))
        assert error["accepted"] is None or error["accepted"]
    if kind in {"invalid-request", "out-of-domain", "unknown-name"}:
        assert problem["errors"]
    if pointer is not None:
        named = {error["pointer"]: error["accepted"] for error in problem["errors"]}
        assert pointer in named, problem
        assert named[pointer], f"the problem does not say what is accepted at {pointer}: {problem}"
    if secret is not None:
        assert secret not in response.text
        assert not any(secret in value for value in response.headers.values())
    return problem


def pytest_collection_finish() -> None:
    """Have what is loaded looked through no more for what could go, as the service does: that took a fifth of the time."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(100_000, 20, 100)


def pytest_terminal_summary(terminalreporter: Any) -> None:
    """Say at the end what tests used that is not on every machine."""
    told = {
        f"{name}: {value}"
        for reports in terminalreporter.stats.values()
        for report in reports
        for name, value in getattr(report, "user_properties", ())
    }
    for line in sorted(told):
        terminalreporter.write_line(line)
