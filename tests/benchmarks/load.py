"""A small closed-loop load generator over keep-alive connections, cheap enough not to be the bottleneck."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass
class LoadResult:
    """What one run of load measured."""

    requests: int
    seconds: float
    latencies: list[float]
    failures: int

    @property
    def rate(self) -> float:
        """Answers per second."""
        return self.requests / self.seconds

    def percentile(self, share: float) -> float:
        """Latency [s] below which ``share`` of the answers came."""
        ordered = sorted(self.latencies)
        return ordered[min(int(share * len(ordered)), len(ordered) - 1)]


class _Connection(asyncio.Protocol):
    def __init__(
        self, payloads: Sequence[bytes], offset: int, until: float, result: LoadResult, pause: float = 0.0
    ) -> None:
        self.payloads, self.index, self.until, self.result, self.pause = payloads, offset, until, result, pause
        self.buffer = b""
        self.expected = -1
        self.ok = True
        self.done: asyncio.Future[None] = asyncio.get_running_loop().create_future()

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        assert isinstance(transport, asyncio.Transport)
        self.transport = transport
        self._send()

    def _send(self) -> None:
        self.buffer, self.expected = b"", -1
        self.started = time.perf_counter()
        self.transport.write(self.payloads[self.index % len(self.payloads)])
        self.index += 1

    def data_received(self, data: bytes) -> None:
        self.buffer += data
        if self.expected < 0:
            end = self.buffer.find(b"\r\n\r\n")
            if end < 0:
                return
            head = self.buffer[:end].lower()
            self.ok = b" 200 " in head[:20]
            length = head.index(b"content-length:")
            self.expected = end + 4 + int(head[length + 15 :].split(b"\r\n", 1)[0])
        if len(self.buffer) >= self.expected:
            now = time.perf_counter()
            self.result.latencies.append(now - self.started)
            self.result.requests += 1
            self.result.failures += not self.ok
            if now < self.until and self.pause:
                asyncio.get_running_loop().call_later(self.pause, self._send)
            elif now < self.until:
                self._send()
            else:
                self.transport.close()

    def connection_lost(self, exc: Exception | None) -> None:
        del exc
        if not self.done.done():
            self.done.set_result(None)


async def _run(
    port: int, payloads: Sequence[bytes], seconds: float, connections: int, pause: float = 0.0
) -> LoadResult:
    loop = asyncio.get_running_loop()
    start = time.perf_counter()
    result = LoadResult(0, 0.0, [], 0)
    made = [
        await loop.create_connection(
            lambda i=i: _Connection(payloads, i * 7, start + seconds, result, pause), "127.0.0.1", port
        )  # type: ignore[misc]
        for i in range(connections)
    ]
    await asyncio.wait_for(asyncio.gather(*(protocol.done for _, protocol in made)), seconds + 30.0)
    result.seconds = time.perf_counter() - start
    return result


def request_bytes(path: str, body: bytes, token: str = "") -> bytes:
    """Return an HTTP/1.1 POST as it goes over the wire, with a bearer token where there is one."""
    head = (
        f"POST {path} HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\nContent-Length: {len(body)}\r\n"
    )
    known = f"Authorization: Bearer {token}\r\n" if token else ""
    return f"{head}{known}\r\n".encode() + body


def load(port: int, payloads: Sequence[bytes], seconds: float, connections: int = 8, pause: float = 0.0) -> LoadResult:
    """Load a loopback server for a bounded time; each connection pauses for some seconds after an answer."""
    return asyncio.run(_run(port, payloads, seconds, connections, pause))
