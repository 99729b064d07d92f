"""``make bench``: throughput as a ratio of an empty endpoint in the same run, shares of the work, start-up time.

Never a test: figures of a shared machine wander. Ratios are taken pair by pair within a round and the median is quoted.
"""

from __future__ import annotations

import os
import socket
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import jiter
import orjson

from tests.benchmarks.load import load, request_bytes

ROOT = Path(__file__).parents[2]
ROUNDS = 5
SECONDS = 3.0
CONNECTIONS = 8
DISTINCT = 400
"""Distinct enquiries in the load, so that no cache answers for the mechanics."""


def enquiry(index: int) -> dict[str, Any]:
    """Return one of many invented enquiries; no two have the same numbers."""
    return {
        "duty": {
            "shaft_diameter": {"value": 20.0 + 0.25 * index, "unit": "mm"},
            "motion": {"kind": "rotation", "rotational_speed": {"value": 400.0 + 2.5 * index, "unit": "rpm"}},
            "pressure": {"value": 5.0 + 0.05 * index, "unit": "psi"},
            "temperature": {"normal": {"value": 40.0 + 0.1 * index, "unit": "degC"}},
            "fluid": "mineral_oil_gear",
            "runout": {"value": 0.05, "unit": "mm"},
            "offset": {"value": 0.05, "unit": "mm"},
            "shaft": {
                "hardness": {"value": 55, "unit": "HRC"},
                "roughness": {"value": 0.3, "unit": "um"},
                "machining_lead": "none",
            },
            "contaminants": "dusty",
        },
        "design": {"family": "flexible_lip", "compound": "ptfe_carbon_graphite_25"},
    }


@contextmanager
def server() -> Iterator[int]:
    """Serve the application with the empty endpoint on loopback and stop it by its own process id."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [
        sys.executable, "-m", "uvicorn", "--factory", "tests.benchmarks.application:build", "--host", "127.0.0.1",
        "--port", str(port), "--no-access-log", "--log-level", "warning", "--loop", "uvloop", "--http", "httptools",
    ]  # fmt: skip
    process = subprocess.Popen(command, cwd=ROOT)
    try:
        for _ in range(300):
            try:
                socket.create_connection(("127.0.0.1", port), timeout=1.0).close()
                break
            except OSError:
                time.sleep(0.05)
        yield port
    finally:
        process.terminate()
        process.wait(timeout=20)


def microseconds(function: Callable[[], Any], count: int = 300) -> float:
    """Median of the time of one call [us]."""
    times = []
    for _ in range(count):
        start = time.perf_counter()
        function()
        times.append(time.perf_counter() - start)
    return statistics.median(times) * 1e6


def http() -> None:
    """Print the throughput of single checks against the empty endpoint."""
    checks = [request_bytes("/v1/envelope-checks", orjson.dumps(enquiry(index))) for index in range(DISTINCT)]
    empty = [request_bytes("/empty", b"{}")]
    rows = []
    with server() as port:
        load(port, checks, 1.0, CONNECTIONS)
        for _ in range(ROUNDS):
            a = load(port, empty, SECONDS, CONNECTIONS)
            b = load(port, checks, SECONDS, CONNECTIONS)
            rows.append(
                (a.rate, b.rate, b.rate / a.rate, a.percentile(0.99) * 1e3, b.percentile(0.99) * 1e3, b.failures)
            )
    middle = [statistics.median(column) for column in zip(*rows, strict=True)]
    print(f"single envelope check over HTTP, {CONNECTIONS} connections, {DISTINCT} distinct enquiries, {ROUNDS} rounds")
    print(f"  empty FastAPI endpoint  {middle[0]:8.0f} /s   p99 {middle[3]:.1f} ms")
    print(
        f"  envelope check          {middle[1]:8.0f} /s   p99 {middle[4]:.1f} ms   failures {sum(row[5] for row in rows)}"
    )
    print(f"  ratio                   {middle[2]:8.2f}      by round {', '.join(f'{row[2]:.2f}' for row in rows)}")


def lines() -> None:
    """Print the rate of a batch of single checks beside that of the same checks one by one, on one connection."""
    import httpx2

    count = 4000
    requests = [orjson.dumps(enquiry(index % DISTINCT)) for index in range(count)]
    rates = []
    with server() as port, httpx2.Client(base_url=f"http://127.0.0.1:{port}", timeout=120.0) as client:
        path = "/v1/envelope-checks"
        headers = {"content-type": "application/x-ndjson"}
        client.post(path, content=requests[0], headers=headers).raise_for_status()  # the worker starts
        for _ in range(3):
            start = time.perf_counter()
            answer = client.post(path, content=b"\n".join(requests), headers=headers)
            assert answer.content.count(b"\n") == count
            batch = count / (time.perf_counter() - start)
            start = time.perf_counter()
            for request in requests[: count // 4]:
                client.post(path, content=request, headers={"content-type": "application/json"}).raise_for_status()
            rates.append((batch, count / 4 / (time.perf_counter() - start)))
    a, b = (statistics.median(column) for column in zip(*rates, strict=True))
    print(f"\nbatch of {count} lines: {a:.0f} checks/s; one by one on one connection: {b:.0f} /s; ratio {a / b:.1f}")


def columns() -> None:
    """Print the rate of a table of cases sent as an Arrow stream."""
    import httpx2
    import pyarrow as pa
    from glandwise.checks import corpus
    from glandwise.contract.envelope import EnvelopeCheckRequest

    models = [EnvelopeCheckRequest.model_validate(enquiry(index)) for index in range(DISTINCT)]
    rows = [corpus.flatten(str(index), one.duty, one.design) for index, one in enumerate(models)]
    table = pa.concat_tables([pa.table(corpus.table(rows))] * 125)
    sink = pa.BufferOutputStream()
    with pa.ipc.new_stream(sink, table.schema) as writer:
        writer.write_table(table)
    content, rates = sink.getvalue().to_pybytes(), []
    headers = {"content-type": "application/vnd.apache.arrow.stream"}
    with server() as port, httpx2.Client(base_url=f"http://127.0.0.1:{port}", timeout=120.0) as client:
        for _ in range(4):
            start = time.perf_counter()
            client.post("/v1/envelope-checks", content=content, headers=headers).raise_for_status()
            rates.append(len(table) / (time.perf_counter() - start))
    print(f"table of {len(table)} rows as an Arrow stream: {statistics.median(rates[1:]):,.0f} checks/s")


def shares() -> None:
    """Print what one check spends its time on, in process."""
    from glandwise.app import create_app
    from glandwise.checks import envelope
    from glandwise.checks.case import build
    from glandwise.contract.envelope import EnvelopeCheckRequest

    engine = create_app().state.engine
    document = enquiry(120)
    body = orjson.dumps(document)
    request = EnvelopeCheckRequest.model_validate(document)
    rules, units = engine.rules(request), request.units.system_of_units()
    result = envelope.check(request, engine)

    def mechanics() -> None:
        envelope.measure(build(request.duty, request.design, rules))

    def words() -> None:
        envelope.judge(build(request.duty, request.design, rules), request.duty, units)

    steps = {
        "parse JSON": microseconds(lambda: jiter.from_json(body, allow_inf_nan=False, catch_duplicate_keys=True)),
        "validate, to SI": microseconds(lambda: EnvelopeCheckRequest.model_validate(document)),
        "mechanics and rules": microseconds(mechanics),
        "reasons and result": 0.0,
        "serialise": microseconds(lambda: orjson.dumps(result)),
    }
    steps["reasons and result"] = microseconds(lambda: envelope.check(request, engine)) - steps["mechanics and rules"]
    total = sum(steps.values())
    print(f"\none check in process: {total:.0f} us ({len(body)} bytes in, {len(orjson.dumps(result))} out)")
    for name, value in steps.items():
        print(f"  {name:20} {value:7.1f} us  {100.0 * value / total:5.1f} %")


def long_work() -> None:
    """Print the time of a selection and the rate of the vectorised core."""
    import numpy as np
    from glandwise.app import create_app
    from glandwise.checks import batch, selection
    from glandwise.checks.case import build
    from glandwise.contract.envelope import EnvelopeCheckRequest
    from glandwise.contract.selection import SelectionRequest

    engine = create_app().state.engine
    request = SelectionRequest.model_validate({"duty": enquiry(120)["duty"]})
    evaluated = selection.select(request, engine)["counts"]["evaluated"]
    print(
        f"\nselection among {evaluated} designs, in process: p50 {microseconds(lambda: selection.select(request, engine), 15) / 1e3:.0f} ms"
    )
    many = [EnvelopeCheckRequest.model_validate(enquiry(index)) for index in range(DISTINCT)]
    rules = engine.rules(many[0])
    cases = [build(item.duty, item.design, rules) for item in many]
    columns = batch.columns(rules.data, cases, [item.duty for item in many], [item.design for item in many])
    big = columns.take(np.tile(np.arange(DISTINCT), 25))
    batch.evaluate(rules.data, big)
    seconds = microseconds(lambda: batch.evaluate(rules.data, big), 5) / 1e6
    print(f"batch of {len(big)} envelope checks, one core: {len(big) / seconds:,.0f} checks/s")


def start_up() -> None:
    """Print the seconds from starting the process to the application being built."""
    times = []
    code = "import glandwise.asgi"
    for _ in range(5):
        start = time.perf_counter()
        subprocess.run([sys.executable, "-c", code], check=True, cwd=ROOT, env=os.environ)
        times.append(time.perf_counter() - start)
    print(f"\nstart-up to a built application: {statistics.median(times):.2f} s (median of 5)")


def main() -> None:
    """Run every part."""
    http()
    lines()
    columns()
    shares()
    long_work()
    start_up()


if __name__ == "__main__":
    main()
