"""Against a server of its own on the loopback interface, and against what is none."""

from __future__ import annotations

import asyncio
import os
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator

import pytest
from glandwise_client import (
    AsyncGlandwiseClient,
    ConnectionFailed,
    GlandwiseClient,
    RequestTimeout,
    RetryPolicy,
    Timeouts,
    UnknownName,
    demo,
)

from tests.client.support import DESIGN, DUTY

ONCE = RetryPolicy(retries=0)


@pytest.fixture(scope="module")
def url() -> Iterator[str]:
    with demo.running_service() as url:
        yield url


def test_a_server_answers_as_the_service_in_process_does(url: str, client: GlandwiseClient) -> None:
    here = client.check_envelope(duty=DUTY, design=DESIGN)
    with GlandwiseClient(url, trust_env=False) as remote:
        assert remote.check_readiness().status == "ok"
        there = remote.check_envelope(duty=DUTY, design=DESIGN)
        with pytest.raises(UnknownName):
            remote.check_envelope(duty=DUTY, design={**DESIGN, "compound": "nobody"})
    assert there.answer.content == here.answer.content  # byte for byte


def test_the_async_client_asks_a_server_many_things_at_once(url: str) -> None:
    async def run() -> list[str]:
        async with AsyncGlandwiseClient(url, trust_env=False) as remote:
            pressures = [f"{psi} psi" for psi in (5, 45, 200)]
            calls = (remote.check_envelope(duty={**DUTY, "pressure": one}, design=DESIGN) for one in pressures)
            results = await asyncio.gather(*calls)
            return [next(c for c in result.criteria if c.id == "pressure").status for result in results]

    statuses = asyncio.run(run())
    assert statuses[0] == "pass"
    assert statuses[-1] == "fail"


def test_the_demonstration_reads_well(url: str) -> None:
    with GlandwiseClient(url, trust_env=False) as remote:
        text = demo.run(remote)
    assert max(len(line) for line in text.splitlines()) <= demo.WIDTH + 8
    for part in (
        "An invented enquiry",
        "FAIL    sealed pressure",
        "cures this",
        "Change:",
        "Stamp:",
        "licensed",
        "±10 %",
    ):
        assert part in text
    assert "None" not in text
    assert "e+0" not in text


def test_nobody_listens() -> None:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        address = f"http://127.0.0.1:{probe.getsockname()[1]}"
        with GlandwiseClient(address, retry=ONCE, trust_env=False) as remote, pytest.raises(ConnectionFailed):
            remote.check_health()


@pytest.fixture
def listener() -> Iterator[socket.socket]:
    with socket.create_server(("127.0.0.1", 0)) as server:
        server.settimeout(5)
        yield server


def test_a_server_that_keeps_silent(listener: socket.socket) -> None:
    address = f"http://127.0.0.1:{listener.getsockname()[1]}"
    begun = time.monotonic()
    with GlandwiseClient(address, timeout=Timeouts(read=0.2), retry=ONCE, trust_env=False) as remote:
        with pytest.raises(RequestTimeout):
            remote.check_health()
        with pytest.raises(RequestTimeout):
            remote.check_health(timeout=0.1)
    assert time.monotonic() - begun < 3


def test_a_server_that_hangs_up(listener: socket.socket) -> None:
    def hang_up() -> None:
        connection, _ = listener.accept()
        connection.recv(100)
        connection.close()

    thread = threading.Thread(target=hang_up)
    thread.start()
    address = f"http://127.0.0.1:{listener.getsockname()[1]}"
    with GlandwiseClient(address, retry=ONCE, trust_env=False) as remote, pytest.raises(ConnectionFailed):
        remote.check_health()
    thread.join(5)


def _alive(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True


def test_the_demonstration_stops_its_server_whatever_happens(monkeypatch: pytest.MonkeyPatch) -> None:
    started: list[int] = []
    real = subprocess.Popen

    def noting(*arguments: object, **options: object) -> subprocess.Popen[bytes]:
        process = real(*arguments, **options)  # type: ignore[call-overload]
        started.append(process.pid)
        return process

    monkeypatch.setattr(demo.subprocess, "Popen", noting)
    with pytest.raises(KeyboardInterrupt), demo.running_service():
        raise KeyboardInterrupt
    monkeypatch.setenv("GLANDWISE_DEFAULT_RULE_SET", "nobody")  # the service cannot start
    with pytest.raises(demo.ServiceNotStarted, match="ended with code"), demo.running_service():
        pytest.fail("the block ran without a service")
    monkeypatch.delenv("GLANDWISE_DEFAULT_RULE_SET")
    with pytest.raises(demo.ServiceNotStarted, match="not ready within"), demo.running_service(0.0):
        pytest.fail("the block ran before the service was ready")
    assert len(started) == 3
    assert not any(_alive(pid) for pid in started)


@pytest.mark.slow
def test_the_demonstration_runs_from_the_command_line() -> None:
    command = [sys.executable, "-m", "glandwise_client.demo"]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stdout.endswith("The service is stopped.\n")
    assert done.stderr == ""


@pytest.mark.slow
def test_a_terminated_demonstration_takes_its_server_along() -> None:
    code = (
        "import os, signal, sys, time\n"
        "from glandwise_client import demo\n"
        "def run(client):\n"
        "    print(client.base_url, flush=True)\n"
        "    os.kill(os.getpid(), signal.SIGTERM)\n"
        "    time.sleep(30)\n"
        "demo.run = run\n"
        "sys.exit(demo.main())\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 128 + signal.SIGTERM, done.stderr
    address = done.stdout.split()[-1]
    with GlandwiseClient(address, retry=ONCE, trust_env=False) as remote, pytest.raises(ConnectionFailed):
        remote.check_health()
