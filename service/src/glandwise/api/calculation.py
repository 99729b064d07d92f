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
from contextlib import ExitStack
from typing import Annotated, Any, NamedTuple

import orjson
from fastapi import Depends
from fastapi.routing import APIRoute
from starlette.requests import Request
from starlette.responses import Response
from starlette.types import Receive, Scope, Send

from glandwise import extras
from glandwise.api import lines, messages, negotiation, problems, spans
from glandwise.api.answering import Calculation, calculation
from glandwise.api.body import read_body, read_json
from glandwise.api.negotiation import COLUMNS, JSON
from glandwise.api.problems import ProblemError
from glandwise.api.rates import Bill
from glandwise.engine import Engine
from glandwise.operations import CSV, LINES, OPERATIONS, XLSX, Operation

_JSON = JSON.encode()


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


def _form(headers: _Headers, operation: Operation) -> str:
    """Return the media type that a request is written in, among those that the operation takes; refuse every other."""
    if headers.content_encoding.lower() != b"identity":
        raise ProblemError("unsupported-media-type", "a content coding was used; send the body as it is")
    if headers.content_type == _JSON:
        return JSON
    essence = headers.content_type.partition(b";")[0].strip().lower().decode("latin-1")
    taken = negotiation.takes(operation)
    if essence in taken:
        return essence
    if essence.startswith("application/") and essence.endswith("+json"):
        return JSON
    detail = "this Content-Type is not taken" if headers.content_type else "no Content-Type was sent"
    raise ProblemError("unsupported-media-type", f"{detail}; accepted: {', '.join(taken)}")


def _engine(request: Request) -> Engine:
    engine: Engine = request.app.state.engine
    return engine


EngineDep = Annotated[Engine, Depends(_engine)]
"""The engine as the framework's dependency; invisible to the contract."""


LARGE_BODY = 256 * 1024
"""Bytes from which on a body is read in a thread as well, whatever the operation."""


_FREE = Bill(None, "", 0.0)


def _bill(request: Request) -> Bill:
    """Return what a request is charged on."""
    found: Bill = request.scope.get("glandwise.bill", _FREE)
    return found


def _columns() -> Any:
    """Return what judges by column, whose library takes a while to load. Raises :class:`ProblemError` where it is not installed."""
    try:
        from glandwise.api import columns
    except ModuleNotFoundError as error:
        if (error.name or "").partition(".")[0] != "pyarrow":
            raise
        detail = f"{COLUMNS} is not installed with this service (its extra tables); accepted: {CSV}, {LINES}"
        raise ProblemError("unsupported-media-type", detail) from None
    return columns


def _read_and_answered(body: bytes, calculate: Calculation, engine: Engine) -> tuple[Any, dict[str, Any]]:
    raw = read_json(body)
    return raw, calculate(raw, engine)


def _takes_longer(raw: Any, body: bytes) -> bool:
    """Tell whether a request of a quick operation asks for what takes tens of milliseconds: a working, or what a range may change."""
    asks = isinstance(raw, dict) and any(raw.get(name) for name in ("working", "questions"))
    return asks or b'"low"' in body or b'"high"' in body


class JSONAnswer(Response):
    """A result, already serialised, with the headers that every one of them has."""

    def __init__(self, body: bytes) -> None:
        self.status_code, self.background, self.body = 200, None, body
        self.raw_headers = [(b"content-length", str(len(body)).encode()), (b"content-type", _JSON)]


Handler = Callable[[Request], Coroutine[Any, Any, Response]]


class CalculationRoute(APIRoute):
    """Route of one operation, which its ``operation_id`` names."""

    _handler: Handler | None = None

    @property
    def operation(self) -> Operation:
        """The operation."""
        return OPERATIONS[self.operation_id or self.name]

    def get_route_handler(self) -> Handler:
        """Return the handler that validates, calculates and answers."""
        if self._handler is None:
            self._handler = self._made()
        return self._handler

    def _made(self) -> Handler:
        operation = self.operation
        calculate = calculation(operation)

        async def handle(request: Request) -> Response:
            state = request.app.state
            if operation.extra and not extras.is_installed(operation.extra):
                raise ProblemError("not-installed", extras.missing(operation.extra))
            headers = _headers(request)
            form = _form(headers, operation)
            if request.scope["query_string"] and form not in {CSV, XLSX}:
                raise problems.unknown_parameters(request.query_params, (), "no parameter: put it into the body")
            if form != JSON:
                return await self._batch(request, headers, form)
            offer = negotiation.choose(headers.accept, operation)
            settings, bill = state.settings, _bill(request)
            body = await read_body(request, headers.content_length, settings.max_body_bytes, settings.body_seconds)
            if len(body) > LARGE_BODY:
                raw, result = await state.lanes.long.run(
                    request.receive, bill.counted, _read_and_answered, body, calculate, state.engine
                )
            else:
                raw = read_json(body)
                if operation.long or _takes_longer(raw, body):
                    result = await state.lanes.long.run(request.receive, bill.counted, calculate, raw, state.engine)
                else:
                    result = calculate(raw, state.engine)
            state.metrics.judged(operation.name, result)
            spans.judged(request.scope, result)
            if offer is None:
                return JSONAnswer(orjson.dumps(result))
            negotiation.require_words(offer, result)
            rendering: Response = await state.lanes.renderings.run(
                request.receive, bill.counted, negotiation.render, offer, operation, raw, result, state.engine
            )
            return rendering

        return handle

    async def _batch(self, request: Request, headers: _Headers, form: str) -> Response:
        """Read a message of many requests and return the answer, or the one that will work them off."""
        negotiation.require(form, headers.accept)
        columns = _columns() if form == COLUMNS else None
        state = request.app.state
        settings = state.settings
        request.scope["glandwise.form"] = {COLUMNS: "columns", CSV: "rows", XLSX: "rows"}.get(form, "lines")
        with ExitStack() as held:
            state.desk.require_turn()
            take = held.enter_context(state.desk.room())
            body = await read_body(
                request, headers.content_length, settings.max_batch_bytes, settings.body_seconds, take
            )
            held.enter_context(state.desk.turn())  # only now: whoever sends slowly keeps no other from being worked for
            if columns is not None:
                judged: Response = await columns.answer(
                    state.desk, body, settings.max_batch_lines, settings.max_table_bytes, settings.batch_seconds,
                    _bill(request),
                )  # fmt: skip
                return judged
            work, read_as = await self._lines(request, body, form)
            made: type[lines.BatchAnswer] = lines.BatchAnswer
            if form == XLSX:
                from glandwise.api.workbooks import WorkbookAnswer as made  # noqa: N813 - chosen by what was sent

            return made(
                state.desk, self.operation, settings.max_body_bytes, work, held.pop_all(), settings.stall_seconds,
                settings.batch_seconds, _bill(request), state.metrics, read_as,
            )  # fmt: skip

    async def _lines(self, request: Request, body: bytes, form: str) -> tuple[lines.Source, lines.Form]:
        """Return the lines of a message, and how they are read and answered."""
        most: int = request.app.state.settings.max_batch_lines
        language = messages.language_of(request.headers.get("accept-language"))
        if form == CSV:
            from glandwise.api import rows

            engine = request.app.state.engine
            return await rows.read(body, self.operation, request.query_params, engine, most, language)
        if form == XLSX:
            from glandwise.api import workbooks

            state = request.app.state
            bounds = most, state.settings.max_batch_bytes, state.settings.max_table_bytes
            return await workbooks.read(
                body, self.operation, request.query_params, state.engine, language, state.desk, _bill(request), *bounds
            )
        if not body.strip():
            raise ProblemError("invalid-json", "the batch has no line; send a request on each")
        if body.count(b"\n") > most:
            raise ProblemError("content-too-large", f"at most {most} lines are accepted")
        return lines.Lines(body), lines.JSONLines(language)

    async def answer(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request that is known to be for this route, past the router and what it wraps around a route."""
        request = Request(scope, receive, send)
        try:
            response = await self.get_route_handler()(request)
        except ProblemError as error:
            response = await problems.handle_problem(request, error)
        await response(scope, receive, send)
