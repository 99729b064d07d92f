"""``make chaos``: kill, restart, corrupt and crowd the service under load. Each case has to be answered once and right.

Right is what the undisturbed service says of it. Every fault has its own servers on free ports of loopback and lasts ``--seconds``;
``--cases`` different cases are asked by turns, or as one batch. What was started is ended by its id.
"""

from __future__ import annotations

import argparse
import asyncio
import contextlib
import itertools
import json
import os
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any, NamedTuple

import httpx
from glandwise_client import GlandwiseClient, GlandwiseError, RetryPolicy

from tests.benchmarks.memory import children

ROOT = Path(__file__).resolve().parents[2]
EXAMPLE = ROOT / "openapi" / "examples" / "check_envelope.dough_mixer_us_units.json"
PATH = "/v1/envelope-checks"
PATIENT = RetryPolicy(retries=30, first_delay=0.2, longest_delay=2.0)
"""Outlasts a restart, which takes ten seconds on a busy machine."""
CALLERS = 4
START = 120.0


class Told(NamedTuple):
    """What became of a fault."""

    fault: str
    asked: int
    failed: int
    """Cases without an answer."""
    wrong: int
    """Cases that were answered twice or otherwise than undisturbed."""
    slowest: float
    """Seconds that the slowest call took, waiting for the next try included."""
    said: str
    """How often the fault struck."""

    @property
    def holds(self) -> bool:
        """Whether each case was answered once and right."""
        return self.asked > 0 and not self.failed and not self.wrong


def case(number: int) -> dict[str, Any]:
    """Return a case; its answer names its number, by the pressure."""
    request: dict[str, Any] = json.loads(EXAMPLE.read_text(encoding="utf-8"))["request"]
    request["duty"]["pressure"] = {"value": 1.0 + number * 1e-3, "unit": "psi"}
    request["detail"] = "verdict"
    return request


class Service:
    """A server of its own, which can be killed and started again on its port."""

    def __init__(self, log: Any = subprocess.DEVNULL, **settings: str) -> None:
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port: int = probe.getsockname()[1]
        self.url, self._log = f"http://127.0.0.1:{self.port}", log
        self._settings = {f"GLANDWISE_{name.upper()}": value for name, value in settings.items()}
        self.start()

    def start(self) -> None:
        """Start it and wait until it is ready."""
        environment = {**os.environ, **self._settings, "GLANDWISE_PORT": str(self.port)}
        self.process = subprocess.Popen([sys.executable, "-m", "glandwise"], env=environment, stderr=self._log)
        until = time.monotonic() + START
        while True:
            try:
                if httpx.get(f"{self.url}/readyz", trust_env=False).status_code == 200:
                    return
            except httpx.TransportError:
                pass
            if self.process.poll() is not None or time.monotonic() > until:
                raise RuntimeError("a service did not start")
            time.sleep(0.05)

    def kill(self) -> None:
        """Kill it as the system does."""
        self.process.kill()
        self.process.wait()

    def workers(self) -> list[int]:
        """Return the ids of its workers: copies that a process of its own has made of itself."""
        return [worker for child in children(self.process.pid) for worker in children(child)]

    def end(self) -> None:
        """End it."""
        self.process.terminate()
        try:
            self.process.wait(timeout=30.0)
        except subprocess.TimeoutExpired:
            self.kill()


@contextlib.contextmanager
def service(**settings: Any) -> Iterator[Service]:
    """Have a service for a while."""
    found = Service(**settings)
    try:
        yield found
    finally:
        found.end()


class Balancer:
    """What stands before two replicas: connections by turns, to whichever can be reached."""

    def __init__(self, ports: list[int]) -> None:
        self._ports, self._turn = ports, 0
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._loop.run_forever, daemon=True)
        self._thread.start()
        made = asyncio.run_coroutine_threadsafe(asyncio.start_server(self._pass, "127.0.0.1", 0), self._loop)
        self.url = f"http://127.0.0.1:{made.result().sockets[0].getsockname()[1]}"

    async def _pass(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self._turn += 1
        for step in range(len(self._ports)):
            with contextlib.suppress(OSError):
                there = await asyncio.open_connection("127.0.0.1", self._ports[(self._turn + step) % len(self._ports)])
                await asyncio.gather(self._copy(reader, there[1]), self._copy(there[0], writer))
                return
        writer.close()

    @staticmethod
    async def _copy(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        with contextlib.suppress(OSError):
            while piece := await reader.read(65536):
                writer.write(piece)
                await writer.drain()
        writer.close()


class Load:
    """Callers who ask case by case through the client, with its retries, one case after the other and again from the first."""

    def __init__(self, url: str, right: dict[int, Any], seconds: float) -> None:
        self.url, self.right, self.until = url, right, time.monotonic() + seconds
        self.asked, self.failed, self.wrong, self.slowest = 0, 0, 0, 0.0
        self._lock = threading.Lock()
        self._next = itertools.cycle(sorted(right))

    def _calls(self) -> None:
        with GlandwiseClient(self.url, retry=PATIENT, trust_env=False, timeout=60.0) as client:
            while time.monotonic() < self.until:
                with self._lock:
                    number = next(self._next)
                begin, answer = time.monotonic(), None
                with contextlib.suppress(GlandwiseError):
                    answer = json.loads(client.fetch("check_envelope", case(number)).content)
                with self._lock:
                    self.asked += 1
                    self.slowest = max(self.slowest, time.monotonic() - begin)
                    self.failed += answer is None
                    self.wrong += answer is not None and answer != self.right[number]

    def run(self, strike: Callable[[], object], pause: float) -> int:
        """Ask, and have the fault strike every so many seconds meanwhile; return how often it struck."""
        struck = 0
        with ThreadPoolExecutor(CALLERS) as callers:
            calls = [callers.submit(self._calls) for _ in range(CALLERS)]
            while time.monotonic() + pause < self.until:
                time.sleep(pause)
                strike()
                struck += 1
            for call in calls:
                call.result()
        return struck


class Chaos:
    """All faults, with the answers of an undisturbed service."""

    def __init__(self, cases: int, seconds: float) -> None:
        self.cases, self.seconds = cases, seconds
        body = "\n".join(json.dumps(case(number)) for number in range(cases)).encode()
        with service() as undisturbed:
            rows = self._batch(undisturbed.url, body)
        self._body = body
        self.right = {row["line"] - 1: row["result"] for row in rows}

    def _batch(self, url: str, body: bytes) -> list[dict[str, Any]]:
        headers = {"content-type": "application/x-ndjson"}
        response = httpx.post(f"{url}{PATH}", content=body, headers=headers, timeout=600.0, trust_env=False)
        return [json.loads(line) for line in response.text.splitlines()]

    def _load(self, url: str, fault: str, strike: Callable[[], object], pause: float, said: str) -> Told:
        load = Load(url, self.right, self.seconds)
        struck = load.run(strike, pause)
        return Told(fault, load.asked, load.failed, load.wrong, load.slowest, said.format(struck))

    def workers_killed(self) -> Told:
        """Workers are killed while they work off a batch."""
        with service() as one, ThreadPoolExecutor(1) as caller:
            begin, struck = time.monotonic(), 0
            asked = caller.submit(self._batch, one.url, self._body)
            while not asked.done() and time.monotonic() - begin < self.seconds:
                time.sleep(
                    2.0
                )  # as long as a worker takes to start: a line that costs two by turns is taken for their end
                for worker in one.workers():
                    with contextlib.suppress(ProcessLookupError):
                        os.kill(worker, signal.SIGKILL)
                        struck += 1
                if struck >= 5:
                    break
            rows = asked.result()
            statuses = Counter(row["status"] for row in rows)
            put_off = [
                row["line"] - 1 for row in rows if row["status"] == 503
            ]  # to be sent again, as each of them says
            if put_off:
                again = self._batch(one.url, b"\n".join(json.dumps(case(number)).encode() for number in put_off))
                rows = [row for row in rows if row["status"] != 503]
                rows += [{**row, "line": put_off[row["line"] - 1] + 1} for row in again]
        lines = [row["line"] - 1 for row in rows]
        failed = len(set(range(self.cases)) - {row["line"] - 1 for row in rows if row["status"] == 200})
        wrong = len(lines) - len(set(lines))
        wrong += sum(row["status"] == 200 and row["result"] != self.right[row["line"] - 1] for row in rows)
        return Told(
            "workers killed within a batch",
            self.cases,
            failed,
            wrong,
            time.monotonic() - begin,
            f"{struck} killed; lines by status {dict(statuses)}",
        )

    def service_killed(self) -> Told:
        """The only replica is killed and started again."""
        with service() as one:

            def strike() -> None:
                one.kill()
                one.start()

            return self._load(one.url, "the only replica killed, started again", strike, 2.0, "{} times")

    def replica_killed(self) -> Told:
        """One of two replicas behind a balancer is killed and started again."""
        with service() as one, service() as other:
            balancer, turns = Balancer([one.port, other.port]), iter(range(10**6))

            def strike() -> None:
                victim = (one, other)[next(turns) % 2]
                victim.kill()
                victim.start()

            return self._load(balancer.url, "one of two replicas killed", strike, 1.0, "{} times")

    def rolled(self) -> Told:
        """Replicas are ended with a grace, one after the other, and started again."""
        with service() as one, service() as other:
            balancer, turns = Balancer([one.port, other.port]), iter(range(10**6))

            def strike() -> None:
                victim = (one, other)[next(turns) % 2]
                victim.end()
                victim.start()

            return self._load(balancer.url, "replicas rolled", strike, 1.0, "{} times")

    def rules_corrupted(self) -> Told:
        """Rules that cannot be used are to be read anew, again and again."""
        with tempfile.TemporaryDirectory() as folder:
            (Path(folder) / "house").mkdir()
            path = Path(folder) / "house" / "rule_set.toml"
            path.write_text('name = "house"\nversion = "1"\ntitle = "H"\ndescription = "H."\nextends = "baseline"\n')
            with service(rules=folder) as one:

                def strike() -> None:
                    path.write_bytes(os.urandom(200))
                    one.process.send_signal(signal.SIGHUP)

                return self._load(one.url, "corrupted rules read anew", strike, 0.5, "{} times")

    def disk_full(self) -> Told:
        """Nothing can be written: the log goes to a full device, and requests are logged."""
        with Path("/dev/full").open("wb") as full, service(log=full, log_requests="true", log_format="json") as one:
            return self._load(one.url, "log on a full disk", lambda: None, 1.0, "throughout")

    def crowded(self) -> Told:
        """A thousand connections that say nothing; they are closed in time and opened again."""
        held: list[socket.socket] = []
        with service(max_connections="2000") as one:

            def strike() -> None:
                for connection in held:
                    connection.close()
                held[:] = [socket.create_connection(("127.0.0.1", one.port)) for _ in range(1000)]

            try:
                strike()
                return self._load(
                    one.url, "1,000 connections that say nothing", strike, 5.0, "from the start, {} times anew"
                )
            finally:
                for connection in held:
                    connection.close()

    def slow_readers(self) -> Told:
        """Callers who ask for batches and take nothing of the answer."""
        held: list[socket.socket] = []
        with service(stall_seconds="2") as one:
            head = f"POST {PATH} HTTP/1.1\r\nHost: x\r\nContent-Type: application/x-ndjson\r\nContent-Length: {len(self._body)}\r\n\r\n"

            def strike() -> None:
                connection = socket.create_connection(("127.0.0.1", one.port))
                held.append(connection)
                with contextlib.suppress(OSError):
                    connection.settimeout(2.0)
                    connection.sendall(head.encode() + self._body)

            try:
                return self._load(one.url, "batches whose answer nobody takes", strike, 0.3, "{} of them")
            finally:
                for connection in held:
                    connection.close()


FAULTS = (
    "workers_killed",
    "service_killed",
    "replica_killed",
    "rolled",
    "rules_corrupted",
    "disk_full",
    "crowded",
    "slow_readers",
)


def main() -> int:
    """Print a row for each fault; return 1 where a case was not answered once and right."""
    parser = argparse.ArgumentParser(prog="python -m tests.chaos", description=__doc__)
    parser.add_argument("--cases", type=int, default=2000, help="different cases (default: %(default)s)")
    parser.add_argument("--seconds", type=float, default=20.0, help="time of each fault (default: %(default)s)")
    parser.add_argument("faults", nargs="*", help=f"of {', '.join(FAULTS)} (default: all)")
    given = parser.parse_args()
    if unknown := set(given.faults) - set(FAULTS):
        parser.error(f"unknown: {', '.join(sorted(unknown))}")
    chaos = Chaos(given.cases, given.seconds)
    print(
        "| fault | struck | cases asked | without an answer | answered wrong or twice | slowest call, s |\n|---|---|---:|---:|---:|---:|"
    )
    held = True
    for name in given.faults or FAULTS:
        told: Told = getattr(chaos, name)()
        held &= told.holds
        print(
            f"| {told.fault} | {told.said} | {told.asked} | {told.failed} | {told.wrong} | {told.slowest:.1f} |",
            flush=True,
        )
    return 0 if held else 1


if __name__ == "__main__":
    sys.exit(main())
