"""What every answer carries, as one plain ASGI middleware."""

from __future__ import annotations

import re
import uuid

from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from glandwise.api.problems import SAFETY_HEADERS

_REQUEST_ID = re.compile(rb"[A-Za-z0-9._-]{1,64}")


class AnswerHeaders:
    """Give each request an id (the caller's own, when it is a plain token) and the answer its safety headers."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Run the application with the headers added."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        given = next((value for name, value in scope["headers"] if name == b"x-request-id"), None)
        request_id = given.decode() if given is not None and _REQUEST_ID.fullmatch(given) else uuid.uuid4().hex
        scope["glandwise.request_id"] = request_id

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                headers["x-request-id"] = request_id
                for name, value in SAFETY_HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        await self.app(scope, receive, send_with_headers)
