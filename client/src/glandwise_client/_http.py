"""Sending: the only module that knows the HTTP library."""

from __future__ import annotations

import asyncio
import contextlib
import importlib
import os
import threading
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from typing import Any, TypeAlias

import httpx

from glandwise_client._base import Answer
from glandwise_client._errors import RequestError
from glandwise_client._requests import Prepared, Timeout, Timeouts
from glandwise_client._retry import Failure

SyncTransport: TypeAlias = httpx.BaseTransport
AsyncTransport: TypeAlias = httpx.AsyncBaseTransport
Begin: TypeAlias = Callable[[Answer], None]
"""Takes the head of an answer."""
Take: TypeAlias = Callable[[bytes], None]
"""Takes the next bytes of an answer."""


class SendFailure(Exception):  # noqa: N818
    """No answer came; ``kind`` says why."""

    def __init__(self, kind: Failure, text: str) -> None:
        super().__init__(text)
        self.kind: Failure = kind
        self.text = text


_KINDS: tuple[tuple[type[Exception], Failure], ...] = (
    (httpx.ConnectTimeout, "connect"),
    (httpx.TimeoutException, "timeout"),
    (httpx.ConnectError, "connect"),
    (httpx.UnsupportedProtocol, "unusable"),
    (httpx.LocalProtocolError, "unusable"),
    (httpx.InvalidURL, "unusable"),
    (httpx.RequestError, "disconnected"),
)
_WORDS: dict[Failure, str] = {
    "connect": "no connection",
    "timeout": "the time allowed is over",
    "disconnected": "the connection was lost",
}


@contextlib.contextmanager
def _failures() -> Iterator[None]:
    """Translate the library's exceptions."""
    try:
        yield
    except (httpx.RequestError, httpx.InvalidURL) as error:
        kind = next(kind for library, kind in _KINDS if isinstance(error, library))
        if kind == "unusable":  # its own words repeat the address or the header
            raise SendFailure(kind, _unusable(error)) from None
        raise SendFailure(kind, str(error) or _WORDS[kind]) from error
    except UnicodeEncodeError:
        raise SendFailure("unusable", "a header holds a character that is not ASCII") from None


def _unusable(error: Exception) -> str:
    if isinstance(error, httpx.UnsupportedProtocol):
        return "the address has to begin with http:// or https://"
    return "the address cannot be used" if isinstance(error, httpx.InvalidURL) else "a header cannot be sent"


def _timeout(timeout: float | Timeouts) -> httpx.Timeout:
    if isinstance(timeout, Timeouts):
        return httpx.Timeout(connect=timeout.connect, read=timeout.read, write=timeout.write, pool=timeout.pool)
    return httpx.Timeout(timeout)


def _headers(given: Mapping[str, str], trust_env: bool) -> dict[str, str]:
    """Return the headers of every request: those given, with the token of the environment where they hold no credentials."""
    token = os.environ.get("GLANDWISE_TOKEN", "").strip() if trust_env else ""
    held = token and "authorization" not in {name.lower() for name in given}
    return {**({"Authorization": f"Bearer {token}"} if held else {}), **given}


def _arguments(prepared: Prepared, timeout: Timeout) -> dict[str, Any]:
    arguments: dict[str, Any] = {
        "method": prepared.method,
        "url": prepared.path,
        "params": prepared.query or None,
        "headers": prepared.headers,
        "content": prepared.content,
    }
    if timeout is not None:
        arguments["timeout"] = _timeout(timeout)
    return arguments


def _answer(response: httpx.Response, prepared: Prepared) -> Answer:
    return replace(_head(response, prepared), content=response.content)


def _head(response: httpx.Response, prepared: Prepared) -> Answer:
    headers = {name.lower(): value for name, value in response.headers.items()}
    return Answer(response.status_code, headers, b"", headers.get("x-request-id") or prepared.request_id)


class SyncSender:
    """Sends prepared requests and waits for the answers."""

    def __init__(
        self,
        base_url: str,
        timeout: float | Timeouts,
        headers: Mapping[str, str],
        transport: SyncTransport | None,
        trust_env: bool,
    ) -> None:
        with _failures():
            self._client = httpx.Client(
                base_url=base_url,
                timeout=_timeout(timeout),
                headers=_headers(headers, trust_env),
                transport=transport,
                trust_env=trust_env,
            )

    def send(self, prepared: Prepared, timeout: Timeout) -> Answer:
        """Send once. Raises :class:`SendFailure`."""
        with _failures():
            return _answer(self._client.request(**_arguments(prepared, timeout)), prepared)

    def receive(self, prepared: Prepared, timeout: Timeout, begin: Begin, take: Take) -> Answer | None:
        """Send once, and hand an answer that is a success over as it comes; return any other. Raises :class:`SendFailure`."""
        with _failures(), self._client.stream(**_arguments(prepared, timeout)) as response:
            if not response.is_success:
                response.read()
                return _answer(response, prepared)
            begin(_head(response, prepared))
            for piece in response.iter_bytes():
                take(piece)
        return None

    def close(self) -> None:
        """Close the connections."""
        self._client.close()


class AsyncSender:
    """Sends prepared requests and awaits the answers."""

    def __init__(
        self,
        base_url: str,
        timeout: float | Timeouts,
        headers: Mapping[str, str],
        transport: AsyncTransport | None,
        trust_env: bool,
    ) -> None:
        with _failures():
            self._client = httpx.AsyncClient(
                base_url=base_url,
                timeout=_timeout(timeout),
                headers=_headers(headers, trust_env),
                transport=transport,
                trust_env=trust_env,
            )

    async def send(self, prepared: Prepared, timeout: Timeout) -> Answer:
        """Send once. Raises :class:`SendFailure`."""
        with _failures():
            return _answer(await self._client.request(**_arguments(prepared, timeout)), prepared)

    async def receive(self, prepared: Prepared, timeout: Timeout, begin: Begin, take: Take) -> Answer | None:
        """Send once, and hand an answer that is a success over as it comes; return any other. Raises :class:`SendFailure`."""
        with _failures():
            async with self._client.stream(**_arguments(prepared, timeout)) as response:
                if not response.is_success:
                    await response.aread()
                    return _answer(response, prepared)
                begin(_head(response, prepared))
                async for piece in response.aiter_bytes():
                    take(piece)
        return None

    async def close(self) -> None:
        """Close the connections."""
        await self._client.aclose()


# Without a server ---------------------------------------------------------------------------------------------------


def load_app() -> Any:
    """Return the service's application.

    The first time after an installation it takes minutes: the formulas are compiled, and kept on disk.

    Raises ``ImportError`` when the service is not installed, :class:`RequestError` when its settings or rules cannot be used.
    """
    try:
        module = importlib.import_module("glandwise.app")
        settings = importlib.import_module("glandwise.settings")
    except ModuleNotFoundError as error:
        if error.name not in {"glandwise", "glandwise.app"}:
            raise
        raise ImportError(
            "in_process() needs the service beside the client: install glandwise-service in this environment, or give "
            "the client the URL of a running service",
            name=error.name,
        ) from error
    loader = importlib.import_module("glandwise.rules.loader")
    # machine code is made, or read from disk, before a request waits for it
    importlib.import_module("glandwise.questions.warm").warm()
    try:
        # no processes of its own: they would begin by running the caller's script again
        return module.create_app(settings.Settings(batch_workers=0))
    except (settings.SettingsError, loader.RuleError) as error:
        raise RequestError(str(error), title="The service cannot start") from None


def async_app_transport(app: Any) -> AsyncTransport:
    """Return a transport that calls an ASGI application in the running event loop."""
    return _AppTransport(app=app, raise_app_exceptions=False)


class _AppTransport(httpx.ASGITransport):
    """Calls an application, whose answers go no way on which it would help to compress them."""

    async def handle_async_request(self, request: httpx.Request) -> httpx.Response:
        """Answer one request."""
        request.headers["accept-encoding"] = "identity"
        return await super().handle_async_request(request)


class SyncAppTransport(httpx.BaseTransport):
    """Calls an ASGI application from ordinary code, by an event loop in a thread of its own.

    The thread lets it work where a loop is already running, as in a notebook, and lets a read timeout release the caller.
    """

    def __init__(self, app: Any) -> None:
        self._inner = _AppTransport(app=app, raise_app_exceptions=False)
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._run, name="glandwise-in-process", daemon=True)
        self._thread.start()

    def _run(self) -> None:
        asyncio.set_event_loop(self._loop)
        try:
            self._loop.run_forever()
        finally:
            self._loop.close()

    async def _handle(self, request: httpx.Request) -> httpx.Response:
        response = await self._inner.handle_async_request(request)
        content = await response.aread()
        return httpx.Response(response.status_code, headers=response.headers, content=content, request=request)

    def handle_request(self, request: httpx.Request) -> httpx.Response:
        """Answer one request."""
        request.read()
        future = asyncio.run_coroutine_threadsafe(self._handle(request), self._loop)
        try:
            return future.result(request.extensions.get("timeout", {}).get("read"))
        except TimeoutError:
            future.cancel()
            raise httpx.ReadTimeout("the service did not answer in time", request=request) from None

    def close(self) -> None:
        """Stop the loop and its thread."""
        if not self._loop.is_closed():
            self._loop.call_soon_threadsafe(self._loop.stop)
            self._thread.join(timeout=5)
