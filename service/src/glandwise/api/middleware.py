"""What stands before every answer, as one plain ASGI middleware."""

from __future__ import annotations

import asyncio
import logging
import os
import re
import time
from collections.abc import Mapping

from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from glandwise.api import spans
from glandwise.api.access import PROBES, Caller, Guard
from glandwise.api.deprecation import Headers
from glandwise.api.metrics import Metrics
from glandwise.api.problems import SAFETY_HEADERS, ProblemError, handle_problem
from glandwise.api.rates import Bill, Rates, cost_of, who_by_address
from glandwise.logs import Marks, marks, trace_of
from glandwise.operations import OPERATIONS

requests = logging.getLogger("glandwise.requests")
_METHODS = frozenset({"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"})
_OPERATIONS = {row.path: row.name for row in OPERATIONS.values()}


def operation_of(scope: Scope) -> str:
    """Return the operation that was asked for, ``other`` where there is none: a path that is made up is not repeated."""
    known = _OPERATIONS.get(scope["path"])
    return known or getattr(scope.get("route"), "operation_id", None) or "other"


log = logging.getLogger("glandwise.security")

_REQUEST_ID = re.compile(rb"[A-Za-z0-9._-]{1,64}")
_SAFETY = [(name.encode("latin-1"), value.encode("latin-1")) for name, value in SAFETY_HEADERS.items()]


PIECE = 16 * 1024
"""Bytes that are compressed and sent before others get a turn: of a batch, millions may be there at once, and compressing those
would keep every single question waiting for some 25 ms."""


async def _in_pieces(message: Message, body: bytes, send: Send) -> None:
    more = message.get("more_body", False)
    last = (len(body) - 1) // PIECE * PIECE
    for start in range(0, last, PIECE):
        await send({**message, "body": body[start : start + PIECE], "more_body": True})
        await asyncio.sleep(0)
    await send({**message, "body": body[last:], "more_body": more})


class Front:
    """Give each request an id (the caller's own, when it is a plain token) and the answer its safety headers.

    A ``POST`` to the path of a calculation goes straight there; everything else (and everything behind a root path, or
    with telemetry that wants to know the route) goes through the router. Whom the guard does not let in, or who has asked
    for too much, is refused before anything else of the request is read.
    """

    def __init__(
        self,
        app: ASGIApp,
        calculations: Mapping[str, ASGIApp],
        guard: Guard,
        rates: Rates | None = None,
        metrics: Metrics | None = None,
        log_requests: bool = False,
        deprecated: Mapping[str, Headers] | None = None,
    ) -> None:
        self.app, self.calculations, self.guard, self.rates = app, calculations, guard, rates
        self.metrics, self.log_requests, self.deprecated = metrics, log_requests, deprecated or {}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Run the application with the headers added."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        token = b""
        traced: tuple[str | None, str | None] = None, None
        for name, value in reversed(scope["headers"]):  # the first of each name counts
            if name == b"x-request-id":
                token = value if _REQUEST_ID.fullmatch(value) else b""
            elif name == b"traceparent":
                traced = trace_of(value)
        token = token or os.urandom(16).hex().encode()
        scope["glandwise.request_id"] = token.decode()
        marks.set(Marks(token.decode(), *traced))
        begin, status, size = time.perf_counter(), 500, 0
        method = scope.get("glandwise.method", scope["method"])

        async def send_with_headers(message: Message) -> None:
            nonlocal status, size
            if message["type"] == "http.response.start":
                headers = [header for header in message["headers"] if header[0] != b"x-request-id"]
                present = {name for name, _ in headers}
                headers.append((b"x-request-id", token))
                headers.extend(header for header in _SAFETY if header[0] not in present)
                headers.extend(self.deprecated.get(scope["path"], ()))
                message["headers"] = headers
                status = message["status"]
                spans.answered(scope, operation_of(scope), scope.get("glandwise.form", "json"), token.decode())
            else:
                body = message.get("body", b"")
                size += len(body)
                if len(body) > PIECE:
                    await _in_pieces(message, body, send)
                    return
            await send(message)

        try:
            await self._answer(scope, receive, send_with_headers)
        finally:
            self._tell(scope, method, status, size, time.perf_counter() - begin)

    async def _answer(self, scope: Scope, receive: Receive, send: Send) -> None:
        try:
            caller = scope["glandwise.caller"] = await self.guard.admit(scope)
            if self.rates is not None and scope["path"] not in PROBES:
                scope["glandwise.bill"] = self._bill(self.rates, scope, caller)
        except ProblemError as error:
            refusal = await handle_problem(Request(scope), error)
            await refusal(scope, receive, send)
            return

        app = self.app
        if scope["method"] == "POST" and not scope.get("root_path") and "fastapi.telemetry" not in scope:
            app = self.calculations.get(scope["path"], app)
        await app(scope, receive, send)

    def _tell(self, scope: Scope, method: str, status: int, size: int, seconds: float) -> None:
        """Count a request that has been answered, and log it where that is asked for."""
        operation, form = operation_of(scope), scope.get("glandwise.form", "json")
        if self.metrics is not None:
            self.metrics.answered(operation, form, status, seconds)
        if self.log_requests and scope["path"] not in PROBES:
            caller = scope.get("glandwise.caller")
            took = round(seconds * 1e3, 3)
            extra = {
                "event": "answered", "method": method if method in _METHODS else "other", "operation": operation, "form": form,
                "status": status, "milliseconds": took, "bytes": size, "caller": caller and caller.name,
            }  # fmt: skip
            requests.info("%s answered with %d in %s ms", operation, status, took, extra=extra)

    @staticmethod
    def _bill(rates: Rates, scope: Scope, caller: Caller | None) -> Bill:
        """Charge whoever asks with the estimate. Raises :class:`ProblemError` where the caller has to wait."""
        client = scope.get("client")
        address = who_by_address(client[0]) if client is not None else ""
        who = f"address {address}" if caller is None else f"token {caller.name}"
        try:
            return rates.bill(who, cost_of(scope["path"], scope["method"]))
        except ProblemError:
            extra = {"event": "held_off", "reason": "asks for too much", "caller": who, "address": address}
            log.warning("held off %s, who asks for too much", who, extra=extra)
            raise


class Headless:
    """Answer a ``HEAD`` as the ``GET`` it stands for, compressed or not, without the content."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Run the application."""
        if scope["type"] != "http" or scope["method"] != "HEAD":
            await self.app(scope, receive, send)
            return

        async def send_no_content(message: Message) -> None:
            await send({**message, "body": b""} if message["type"] == "http.response.body" else message)

        await self.app({**scope, "method": "GET", "glandwise.method": "HEAD"}, receive, send_no_content)
