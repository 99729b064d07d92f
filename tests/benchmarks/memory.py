"""``make bench-memory`` and ``make soak``: memory of the service under a load that is half hostile, after so many requests or minutes,
and how long single checks take meanwhile.

Never a test. Valid checks with numbers that do not repeat, long operations, sheets and plots, batches and tables stand
beside malformed messages, unknown names, deep and long JSON, wrong paths and callers who hang up. What counts is whether
the memory levels off: every figure is the resident set of the service alone, and beside it that of its workers with the
process whose copies they are, what they share counted once. Times are those of valid single checks since the mark before.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import math
import os
import random
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

from tests.benchmarks.__main__ import enquiry

ROOT = Path(__file__).parents[2]
CALLERS = 8
MARKS = (1_000, 2_000, 5_000, 10_000, 20_000, 50_000, 100_000)
"""Requests after which the memory is read."""
PATIENCE = 60.0
"""Seconds for an answer."""
JSON, LINES = "application/json", "application/x-ndjson"


def _examples() -> dict[str, dict[str, Any]]:
    """One example request of each calculation by its path."""
    document = json.loads((ROOT / "openapi" / "openapi.json").read_text(encoding="utf-8"))
    found: dict[str, dict[str, Any]] = {}
    for path, methods in document["paths"].items():
        shown = methods.get("post", {}).get("requestBody", {}).get("content", {}).get(JSON, {}).get("examples", {})
        for example in shown.values():
            found.setdefault(path, example["value"])
    return found


def message(path: str, body: bytes, content_type: str = JSON, accept: str = "*/*", method: str = "POST") -> bytes:
    """Write a request."""
    head = (
        f"{method} {path} HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: {content_type}\r\nAccept: {accept}\r\n"
        f"Content-Length: {len(body)}\r\n\r\n"
    )
    return head.encode("latin-1") + body


class Message(NamedTuple):
    """What a caller sends."""

    content: bytes
    hangs_up: bool = False
    """It does not read the answer."""
    is_check: bool = False
    """It is a valid single check."""


def hostile(draw: random.Random) -> Iterator[Message]:
    """Yield messages without end."""
    examples = _examples()
    check = "/v1/envelope-checks"
    quick = ["/v1/runout-allowances", "/v1/gland-checks", "/v1/friction-estimates", "/v1/wear-estimates",
             "/v1/blank-estimates"]  # fmt: skip
    long = ["/v1/selections", "/v1/operating-maps", "/v1/energizer-loads", "/v1/thermal-fits", "/v1/duty-spectra",
            "/v1/enquiries", "/v1/rechecks", "/v1/rule-set-comparisons"]  # fmt: skip
    plots = ["/v1/operating-maps", "/v1/runout-allowances", "/v1/energizer-loads"]
    while True:
        kind = draw.random()
        body = enquiry(draw.randrange(400))
        body["duty"]["pressure"]["value"] *= 0.5 + draw.random()
        word = "".join(draw.choices("abcdefghijklmnopqrstuvwxyz_", k=draw.randrange(3, 40)))
        valid = json.dumps(body).encode()
        if kind < 0.40:
            yield Message(message(check, valid), is_check=True)
        elif kind < 0.50:
            path = draw.choice(quick)
            yield Message(message(path, json.dumps(examples[path]).encode()))
        elif kind < 0.504:
            path = draw.choice(long)
            yield Message(message(path, json.dumps(examples[path]).encode()), hangs_up=draw.random() < 0.3)
        elif kind < 0.506:
            path = draw.choice(plots)
            yield Message(message(path, json.dumps(examples[path]).encode(), accept="image/svg+xml"))
        elif kind < 0.52:
            yield Message(message(check, valid, accept=draw.choice(["text/html", "text/csv"])))
        elif kind < 0.525:
            lines = b"\n".join([valid, b"{", valid, word.encode()])
            yield Message(message(check, lines, LINES), hangs_up=draw.random() < 0.2)
        elif kind < 0.60:
            body["duty"]["fluid"] = word
            yield Message(message(check, json.dumps(body).encode()))
        elif kind < 0.65:
            body["duty"][word] = word * draw.randrange(1, 50)
            yield Message(message(check, json.dumps(body).encode()))
        elif kind < 0.70:
            yield Message(message(check, valid[: draw.randrange(len(valid))]))
        elif kind < 0.73:
            yield Message(message(check, b"[" * draw.randrange(1, 100_000)))
        elif kind < 0.76:
            many = {f"{word}{number}": number for number in range(draw.randrange(3_000))}
            yield Message(message(check, json.dumps(many).encode()))
        elif kind < 0.80:
            yield Message(message(f"/v1/{word}", b"", method=draw.choice(["GET", "POST", "PUT", word.upper()])))
        elif kind < 0.84:
            path = f"/v1/compounds?{word}={word}&as_of=20{draw.randrange(99):02}-01-01"
            yield Message(message(path, b"", method="GET"))
        elif kind < 0.87:
            body["as_of"] = f"2026-{draw.randrange(1, 13):02}-{draw.randrange(1, 29):02}"
            body["rule_set"] = draw.choice(["baseline", word])
            yield Message(message(check, json.dumps(body).encode()))
        elif kind < 0.90:
            yield Message(message(check, os.urandom(draw.randrange(20_000)), draw.choice([JSON, LINES, word])))
        elif kind < 0.905:
            table = "application/vnd.apache.arrow.stream"
            yield Message(message(check, os.urandom(draw.randrange(20_000)), table))
        elif kind < 0.95:
            yield Message(os.urandom(draw.randrange(1, 500)), hangs_up=draw.random() < 0.5)
        elif kind < 0.97:
            yield Message(message(check, valid)[: draw.randrange(20, 400)], hangs_up=True)
        else:
            yield Message(message(check, b" " * draw.randrange(500_000) + valid))


class Caller:
    """One caller; it opens a connection anew whenever the service has closed it."""

    def __init__(self, port: int) -> None:
        self.port = port
        self.streams: tuple[asyncio.StreamReader, asyncio.StreamWriter] | None = None

    async def send(self, content: bytes, hangs_up: bool) -> int:
        """Send a message and return the status of its answer; 0 for none."""
        if self.streams is None:
            self.streams = await asyncio.open_connection("127.0.0.1", self.port, limit=2**26)
        reader, writer = self.streams
        status, kept = 0, False
        try:
            writer.write(content)
            await writer.drain()
            if not hangs_up:
                if not content.startswith((b"POST /", b"GET /", b"PUT /")):
                    writer.write_eof()
                status, kept = await asyncio.wait_for(self._answer(reader), PATIENCE)
        except (OSError, EOFError, asyncio.IncompleteReadError):
            pass
        if not kept:
            self.streams = None
            writer.close()
        return status

    @staticmethod
    async def _answer(reader: asyncio.StreamReader) -> tuple[int, bool]:
        head = (await reader.readuntil(b"\r\n\r\n")).lower()
        status = int(head.split(b" ", 2)[1])
        if b"content-length: " in head:
            await reader.readexactly(int(head.split(b"content-length: ")[1].split(b"\r\n")[0]))
        elif b"chunked" in head:
            while int(await reader.readuntil(b"\r\n"), 16):
                await reader.readuntil(b"\r\n")
            await reader.readexactly(2)
        return status, b"connection: close" not in head


def resident(pid: int) -> float:
    """Resident set of a process [MB]."""
    text = Path(f"/proc/{pid}/status").read_text(encoding="ascii")
    return int(text.split("VmRSS:")[1].split()[0]) / 1024.0


def share(pid: int) -> float:
    """Resident set of a process, of what it has in common with others its part [MB]."""
    text = Path(f"/proc/{pid}/smaps_rollup").read_text(encoding="ascii")
    return int(text.split("\nPss:")[1].split()[0]) / 1024.0


def children(pid: int) -> list[int]:
    """Processes that a process has started, from whichever of its threads."""
    tasks = Path(f"/proc/{pid}/task").glob("*/children")
    return [int(word) for task in tasks for word in task.read_text(encoding="ascii").split()]


def descendants(pid: int) -> list[int]:
    """Processes that a process has started, and those that they have."""
    found = children(pid)
    return found + [below for child in found for below in descendants(child)]


async def run(port: int, pid: int, requests: int, minutes: float, seed: int) -> None:
    """Load the service and print its memory, and the times of single checks, at each mark: of requests, or each minute."""
    messages = hostile(random.Random(seed))
    statuses: dict[int, int] = {}
    times: list[float] = []
    sent, begin = 0, time.perf_counter()

    async def call(goal: float, end: float) -> None:
        nonlocal sent
        caller = Caller(port)
        while sent < goal and time.perf_counter() < end:
            sent += 1
            following = next(messages)
            started = time.perf_counter()
            status = await caller.send(following.content, following.hangs_up)
            if following.is_check and status == 200:
                times.append(time.perf_counter() - started)
            statuses[status] = statuses.get(status, 0) + 1

    marks: list[tuple[float, float]] = [
        (goal, math.inf) for goal in (*(mark for mark in MARKS if mark < requests), requests)
    ]
    if minutes:
        marks = [(math.inf, begin + 60.0 * min(k + 1.0, minutes)) for k in range(math.ceil(minutes))]
    for goal, end in marks:
        times.clear()
        await asyncio.gather(*(call(goal, end) for _ in range(CALLERS)))
        beside = sum(share(child) for child in descendants(pid))
        spent = time.perf_counter() - begin
        ordered = sorted(times) or [math.nan]
        middle, most = (1e3 * ordered[int(share * (len(ordered) - 1))] for share in (0.5, 0.99))
        print(
            f"{sent:7} requests, {spent / 60.0:4.1f} min: {resident(pid):6.1f} MB, workers {beside:6.1f} MB; {sent / spent:.0f}/s; "
            f"checks p50 {middle:.1f} ms, p99 {most:.0f} ms",
            flush=True,
        )
    print(dict(sorted(statuses.items())))


def main() -> None:
    """Start a service, load it, stop it by its own process id."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--requests", type=int, default=100_000)
    parser.add_argument("--minutes", type=float, default=0.0, help="for so long, in place of so many requests")
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
    environment = {**os.environ, "GLANDWISE_HOST": "127.0.0.1", "GLANDWISE_PORT": str(port)}
    server = subprocess.Popen([sys.executable, "-m", "glandwise"], env=environment, stderr=subprocess.DEVNULL)
    try:
        for _ in range(600):
            with socket.socket() as probe:
                if probe.connect_ex(("127.0.0.1", port)) == 0:
                    break
            time.sleep(0.05)
        print(f"      0 requests: {resident(server.pid):6.1f} MB")
        asyncio.run(run(port, server.pid, options.requests, options.minutes, options.seed))
    finally:
        server.terminate()
        server.wait(timeout=30)


if __name__ == "__main__":
    main()
