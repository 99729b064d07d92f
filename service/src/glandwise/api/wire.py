"""The HTTP protocol of the server, with what it leaves open: bounds on the head of a message and on how long it may take.

The server itself bounds only the idle time between two requests. Here a connection that does not bring the whole head of a
request in time is closed, as is one whose head is too large or whose answer nobody takes; and what is refused before the
application sees it gets a problem document like everything else. The time that a body takes is bounded where it is read
(:func:`glandwise.api.body.read_body`). A caller who is refused while it is still sending is not cut off, because a connection
that is closed on unread bytes is reset, and the answer lost with it: the answer goes out, and what still comes is thrown away.
"""

from __future__ import annotations

import asyncio
import os
from typing import Any, ClassVar, cast

import orjson
from starlette.requests import Request
from starlette.types import Receive, Scope, Send
from uvicorn.protocols.http.httptools_impl import HttpToolsProtocol

from glandwise.api import problems
from glandwise.api.access import PROBES
from glandwise.settings import Settings

_SEPARATORS = 4
"""Bytes between name and value of a header, and behind it."""
LINGER_BYTES = 32 * 1024 * 1024
"""Bytes that are thrown away of a caller who was refused and goes on sending; then the connection is closed on it."""
_MALFORMED = "the message is not one of HTTP/1.1"


class _HeadTooLargeError(Exception):
    """The head of a message is larger than is taken."""


async def _put_off(scope: Scope, receive: Receive, send: Send) -> None:
    """Answer that there are too many connections."""
    scope["glandwise.request_id"] = request_id = os.urandom(16).hex()
    headers = {"Connection": "close", "X-Request-Id": request_id, **problems.SAFETY_HEADERS}
    detail = "there are more connections than are answered at once"
    await problems.response("too-busy", detail, request=Request(scope), headers=headers)(scope, receive, send)


class _Answering:
    """A connection as an answer sees it: what ends it lets the caller read the answer first."""

    __slots__ = ("close", "is_closing", "write")

    def __init__(self, protocol: BoundedProtocol) -> None:
        self.write, self.is_closing = protocol.transport.write, protocol.transport.is_closing
        self.close = protocol.end


class BoundedProtocol(HttpToolsProtocol):
    """One connection."""

    header_seconds: ClassVar[float]
    body_seconds: ClassVar[float]
    stall_seconds: ClassVar[float]
    max_header_bytes: ClassVar[int]
    max_connections: ClassVar[int]

    _in_head = False
    """Whether the head of a message has begun and not ended."""
    _head_bytes = 0
    """Bytes of the head as far as it has been understood."""
    _raw_bytes = 0
    """Bytes that came while it had not ended: a header without end is understood only at its end."""
    _head_timer: asyncio.TimerHandle | None = None
    _stall_timer: asyncio.TimerHandle | None = None
    _linger_timer: asyncio.TimerHandle | None = None
    _discarded: int | None = None
    """Bytes thrown away after a refusal; ``None`` where the connection is not being ended."""

    # ---------------------------------------------------------------------------------------------- the head of a message

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Wait for a first message."""
        super().connection_made(transport)
        self._answering = cast(Any, _Answering(self))
        self._await_head()

    def data_received(self, data: bytes) -> None:
        """Take a part of a message."""
        if self.transport.is_closing():
            return
        if self._discarded is not None:
            self._discard(len(data))
            return
        was_in_head = self._in_head
        super().data_received(data)
        if self.transport.is_closing() or self._discarded is not None:
            return
        if self._in_head:
            self._raw_bytes += len(data) if was_in_head else 0
            if self._raw_bytes > self.max_header_bytes:
                self._refuse_head()
                return
        if self._in_head or (self._is_free() and self.timeout_keep_alive_task is None):
            self._await_head()

    def _start_asgi_task(self, cycle: Any, app: Any) -> None:
        """Answer a request, unless there are more connections than are answered."""
        crowded = len(self.connections) > self.max_connections and cycle.scope["path"] not in PROBES
        super()._start_asgi_task(cycle, cast(Any, _put_off) if crowded else app)

    def on_message_begin(self) -> None:
        """Begin a message."""
        super().on_message_begin()
        self._in_head, self._head_bytes, self._raw_bytes = True, 0, 0

    def on_url(self, url: bytes) -> None:
        """Take the target, or a part of it."""
        self._count(len(url))
        super().on_url(url)

    def on_header(self, name: bytes, value: bytes) -> None:
        """Take a header."""
        self._count(len(name) + len(value) + _SEPARATORS)
        super().on_header(name, value)

    def on_headers_complete(self) -> None:
        """End the head of a message."""
        self._in_head = False
        self._stop_head_timer()
        super().on_headers_complete()
        self.cycle.transport = self._answering

    def _count(self, size: int) -> None:
        self._head_bytes += size
        if self._head_bytes > self.max_header_bytes:
            raise _HeadTooLargeError  # which the parser gives back as a fault of its own

    def _is_free(self) -> bool:
        """Tell whether no request is being answered."""
        return self.cycle is None or self.cycle.response_complete

    def _await_head(self) -> None:
        if self._head_timer is None:
            self._head_timer = self.loop.call_later(self.header_seconds, self._head_is_late)

    def _stop_head_timer(self) -> None:
        if self._head_timer is not None:
            self._head_timer.cancel()
            self._head_timer = None

    def _head_is_late(self) -> None:
        self._head_timer = None
        if self.transport.is_closing() or self._discarded is not None:
            return
        if self.flow.read_paused or not self._is_free():
            self._await_head()  # it is not read while the request before it is answered
        elif self._in_head:
            self._refuse("request-timeout", f"the head of a request has to come within {self.header_seconds:g} s")
        else:
            self.transport.close()

    # ---------------------------------------------------------------------------------------------------------- answers

    def pause_writing(self) -> None:
        """Wait for the caller to take what has been written."""
        super().pause_writing()
        self._await_taking()

    def resume_writing(self) -> None:
        """Go on writing."""
        self._stop_stall_timer()
        super().resume_writing()

    def on_response_complete(self) -> None:
        """Wait for the next message, or for the caller to take what is left."""
        if self._discarded is not None:
            self.server_state.total_requests += 1
            return
        super().on_response_complete()
        self._close_in_time()

    def timeout_keep_alive_handler(self) -> None:
        """Close an idle connection."""
        super().timeout_keep_alive_handler()
        self._close_in_time()

    def connection_lost(self, exc: Exception | None) -> None:
        """Let go of everything."""
        self._stop_head_timer()
        super().connection_lost(exc)
        self._stop_stall_timer()
        if self._linger_timer is not None:
            self._linger_timer.cancel()
            self._linger_timer = None

    def _await_taking(self) -> None:
        if self._stall_timer is None:
            self._stall_timer = self.loop.call_later(self.stall_seconds, self.transport.abort)

    def _stop_stall_timer(self) -> None:
        if self._stall_timer is not None:
            self._stall_timer.cancel()
            self._stall_timer = None

    def end(self) -> None:
        """End the connection behind an answer, at once where its request has come whole."""
        if self.cycle.more_body:
            self._linger()
        else:
            self.transport.close()

    def _linger(self) -> None:
        """Say that no more will be sent, and throw away what comes, so much and for so long."""
        if self.transport.is_closing() or self._discarded is not None:
            return
        self._discarded = 0
        self._stop_head_timer()
        self._unset_keepalive_if_required()
        self.transport.write_eof()
        self.flow.resume_reading()
        self._linger_timer = self.loop.call_later(self.body_seconds, self._stop_lingering)

    def _discard(self, size: int) -> None:
        self._discarded = (self._discarded or 0) + size
        if self._discarded > LINGER_BYTES:
            self._stop_lingering()

    def _stop_lingering(self) -> None:
        self.transport.close()
        self._close_in_time()

    def _close_in_time(self) -> None:
        """See that a connection that is being closed does not wait for ever for what it has still to send."""
        if self.transport.is_closing() and self.transport.get_write_buffer_size():
            self._await_taking()

    # ---------------------------------------------------------------------------------------------------------- refusals

    def send_400_response(self, msg: str) -> None:
        """Refuse what the parser could not read."""
        del msg
        if self._head_bytes > self.max_header_bytes:
            self._refuse_head()
        else:
            self._refuse("bad-request", _MALFORMED)

    def _refuse_head(self) -> None:
        self._refuse("header-too-large", f"at most {self.max_header_bytes} bytes of target and headers are accepted")

    def _refuse(self, kind: str, detail: str) -> None:
        """Answer with a problem and close; where another answer is under way, only close."""
        if self._is_free():
            request_id = os.urandom(16).hex()
            content = problems.document(kind, detail, request_id=request_id)
            body = orjson.dumps(content)
            headers = {
                "content-type": problems.MEDIA_TYPE, "content-length": str(len(body)), "connection": "close",
                "x-request-id": request_id, **problems.SAFETY_HEADERS,
            }  # fmt: skip
            lines = [f"HTTP/1.1 {content['status']} ", *(f"{name}: {value}" for name, value in headers.items()), "", ""]
            self.transport.write("\r\n".join(lines).encode("latin-1") + body)
            self._linger()
            return
        self.transport.close()
        self._close_in_time()


def protocol(settings: Settings) -> type[BoundedProtocol]:
    """Return the protocol with the bounds of the settings."""
    bounds: dict[str, Any] = {
        name: getattr(settings, name)
        for name in ("header_seconds", "body_seconds", "stall_seconds", "max_header_bytes", "max_connections")
    }
    return type("ConfiguredProtocol", (BoundedProtocol,), bounds)
