"""The route of a calculation: strict JSON in, validated model, result out as bytes.

FastAPI describes the operation (path, models, examples) and so writes the contract; this route class runs it. The
body is parsed and validated here rather than by the framework, because the contract is stricter than its parser (see
:func:`read_json`) and because the answer of a hot operation leaves as bytes. That answers still fit their published
schema is what the contract tests prove.

The router finds a calculation like any other path; :class:`glandwise.api.middleware.Front` takes the plain case to
:meth:`CalculationRoute.answer` at once, because router and wrappers cost as much as a small check.
"""

from __future__ import annotations

from collections.abc import Callable, Coroutine
from functools import cached_property
from typing import Annotated, Any, NamedTuple

import jiter
import orjson
from fastapi import Depends
from fastapi.routing import APIRoute
from pydantic import TypeAdapter, ValidationError
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.types import Receive, Scope, Send

from glandwise.api import lines, negotiation, problems
from glandwise.api.problems import ProblemError
from glandwise.checks.engine import REFUSAL, Engine

_JSON = b"application/json"
_LINES = lines.MEDIA_TYPE.encode()


class _Headers(NamedTuple):
    """The headers of a request that a calculation looks at; the first of each name counts."""

    content_type: bytes
    content_encoding: bytes
    content_length: bytes
    accept: str | None


def _headers(request: Request) -> _Headers:
    given: dict[bytes, bytes] = dict(reversed(list(request.scope["headers"])))
    accept = given.get(b"accept")
    return _Headers(
        given.get(b"content-type", b""),
        given.get(b"content-encoding", b"identity"),
        given.get(b"content-length", b""),
        None if accept is None else accept.decode("latin-1"),
    )


def _is_batch(headers: _Headers, operation: str) -> bool:
    """Tell a batch from a single request by the media type; refuse every other one."""
    batch = False
    if headers.content_type != _JSON:
        essence = headers.content_type.partition(b";")[0].strip().lower()
        batch = essence == _LINES and operation not in SINGLE_OPERATIONS
        if not batch and essence != _JSON and not (essence.startswith(b"application/") and essence.endswith(b"+json")):
            detail = "the Content-Type is not JSON" if headers.content_type else "no Content-Type was sent"
            also = "" if operation in SINGLE_OPERATIONS else f" (and {lines.MEDIA_TYPE} for a request on each line)"
            raise ProblemError("unsupported-media-type", f"{detail}; application/json is accepted{also}")
    if headers.content_encoding.lower() != b"identity":
        raise ProblemError("unsupported-media-type", "a content coding was used; send the body as it is")
    return batch


def too_large(limit: int) -> ProblemError:
    """Return the problem of a message of more than ``limit`` bytes."""
    detail = f"at most {limit} bytes are accepted"
    return ProblemError("content-too-large", detail, headers={"Connection": "close"})


async def read_body(request: Request, declared: bytes, limit: int) -> bytes:
    """Read the body, refusing more than ``limit`` bytes as soon as that is known; ``declared`` is its Content-Length."""
    if declared.isdigit() and int(declared) > limit:
        raise too_large(limit)
    chunks, size, more = [], 0, True
    while more:
        message = await request.receive()
        if message["type"] == "http.disconnect":
            raise ProblemError("bad-request", "the body ended before its declared length")
        chunk: bytes = message.get("body", b"")
        more = message.get("more_body", False)
        size += len(chunk)
        if size > limit:
            raise too_large(limit)
        chunks.append(chunk)
    return chunks[0] if len(chunks) == 1 else b"".join(chunks)


def read_json(body: bytes) -> Any:
    """Parse RFC 8259 JSON: no NaN or Infinity, no duplicate keys, no lone surrogates, bounded depth."""
    try:
        return jiter.from_json(body, allow_inf_nan=False, catch_duplicate_keys=True)
    except ValueError as error:
        text = str(error)
        fault, _, position = text.rpartition(" at line ")
        if fault.startswith("Detected duplicate key"):
            fault = "an object has the same key twice"
        elif fault in {"unexpected end of hex escape", "lone leading surrogate in hex escape"}:
            fault = "a \\u escape is cut short or is a lone surrogate"
        elif not body.strip():
            fault = "the body is empty"
        raise ProblemError("invalid-json", f"{fault} (line {position})" if position else fault or text) from None


def _engine(request: Request) -> Engine:
    engine: Engine = request.app.state.engine
    return engine


EngineDep = Annotated[Engine, Depends(_engine)]
"""The engine as the framework's dependency; invisible to the contract."""


LONG_OPERATIONS = frozenset({"select_design", "map_operation", "assess_spectrum", "answer_enquiry", "compare_rule_sets",
                             "audit_rule_set"})  # fmt: skip
"""Operations of tens of milliseconds and more: they run in a thread, off the event loop."""


SINGLE_OPERATIONS = frozenset({"compare_rule_sets", "audit_rule_set"})
"""Operations that take one request only: they judge many cases by themselves."""


class JSONAnswer(Response):
    """A result, already serialised, with the headers that every one of them has."""

    def __init__(self, body: bytes) -> None:
        self.status_code, self.background, self.body = 200, None, body
        self.raw_headers = [(b"content-length", str(len(body)).encode()), (b"content-type", _JSON)]


Handler = Callable[[Request], Coroutine[Any, Any, Response]]


class CalculationRoute(APIRoute):
    """Route of one calculation; the endpoint is ``def endpoint(body: RequestModel, engine: EngineDep) -> dict``."""

    _handler: Handler | None = None

    def get_route_handler(self) -> Handler:
        """Return the handler that validates, calculates and answers."""
        if self._handler is None:
            self._handler = self._made()
        return self._handler

    @cached_property
    def calculate(self) -> Callable[[Any, Engine], dict[str, Any]]:
        """The calculation on a parsed body. Raises :class:`ProblemError` for a body that it cannot answer."""
        assert self.body_field is not None
        model: Any = self.body_field.field_info.annotation
        adapter: TypeAdapter[Any] = TypeAdapter(model)
        validate, endpoint = adapter.validate_python, self.endpoint

        def calculate(raw: Any, engine: Engine) -> dict[str, Any]:
            try:
                result: dict[str, Any] = endpoint(validate(raw), engine)
            except ValidationError as error:
                # a refusal by the calculation names its field without the tags of unions on the way
                tagged = raw if error.title != REFUSAL else None
                raise problems.from_validation(error, tagged) from None
            return result

        return calculate

    def _made(self) -> Handler:
        calculate = self.calculate
        operation = self.operation_id or self.name
        is_long = operation in LONG_OPERATIONS

        async def handle(request: Request) -> Response:
            state = request.app.state
            headers = _headers(request)
            if _is_batch(headers, operation):
                return await self._batch(request, headers)
            offer = negotiation.choose(headers.accept, operation)
            raw = read_json(await read_body(request, headers.content_length, state.settings.max_body_bytes))
            if is_long:
                result = await run_in_threadpool(calculate, raw, state.engine)
            else:
                result = calculate(raw, state.engine)
            if offer is None:
                return JSONAnswer(orjson.dumps(result))
            return await run_in_threadpool(negotiation.render, offer, operation, raw, result)

        return handle

    async def _batch(self, request: Request, headers: _Headers) -> Response:
        """Read a message of many requests and return the answer that will work them off."""
        negotiation.require_lines(headers.accept)
        settings = request.app.state.settings
        body = await read_body(request, headers.content_length, settings.max_batch_bytes)
        if not body.strip():
            raise ProblemError("invalid-json", "the batch has no line; send a request on each")
        if body.count(b"\n") > settings.max_batch_lines:
            raise ProblemError("content-too-large", f"at most {settings.max_batch_lines} lines are accepted")
        operation = self.operation_id or self.name
        return lines.BatchAnswer(request.app.state.desk, operation, settings.max_body_bytes, lines.Lines(body))

    async def answer(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request that is known to be for this route, past the router and what it wraps around a route."""
        request = Request(scope, receive, send)
        try:
            response = await self.get_route_handler()(request)
        except ProblemError as error:
            response = await problems.handle_problem(request, error)
        await response(scope, receive, send)
