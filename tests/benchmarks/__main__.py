"""``make bench``: throughput as a ratio of an empty endpoint in the same run, shares of the work, start-up time.

Never a test: figures of a shared machine wander. Ratios are taken pair by pair within a round and the median is quoted.
"""

from __future__ import annotations

import hashlib
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

from tests.benchmarks import greedy
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
def server(**settings: str) -> Iterator[int]:
    """Serve the application with the empty endpoint on loopback and stop it by its own process id."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [
        sys.executable, "-m", "uvicorn", "--factory", "tests.benchmarks.application:build", "--host", "127.0.0.1",
        "--port", str(port), "--no-access-log", "--log-level", "warning", "--loop", "uvloop", "--http", "httptools",
    ]  # fmt: skip
    process = subprocess.Popen(command, cwd=ROOT, env={**os.environ, **settings})
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


TABLE: list[tuple[str, float, str]] = []
"""What was measured against an empty request of the same run: what, ratio, aim."""


def http() -> float:
    """Print the throughput of single checks against the empty endpoint; return the seconds of an empty request."""
    checks = [request_bytes("/v1/envelope-checks", orjson.dumps(enquiry(index))) for index in range(DISTINCT)]
    brief = [{**enquiry(index), "detail": "verdict"} for index in range(DISTINCT)]
    verdicts = [request_bytes("/v1/envelope-checks", orjson.dumps(request)) for request in brief]
    empty = [request_bytes("/empty", b"{}")]
    rows = []
    with server() as port:
        load(port, checks, 1.0, CONNECTIONS)
        for _ in range(ROUNDS):
            a = load(port, empty, SECONDS, CONNECTIONS)
            b = load(port, checks, SECONDS, CONNECTIONS)
            c = load(port, verdicts, SECONDS, CONNECTIONS)
            rows.append((
                a.rate, b.rate, b.rate / a.rate, a.percentile(0.99) * 1e3, b.percentile(0.99) * 1e3,
                b.failures + c.failures, c.rate / a.rate,
            ))  # fmt: skip
    middle = [statistics.median(column) for column in zip(*rows, strict=True)]
    print(f"single envelope check over HTTP, {CONNECTIONS} connections, {DISTINCT} distinct enquiries, {ROUNDS} rounds")
    print(f"  empty FastAPI endpoint  {middle[0]:8.0f} /s   p99 {middle[3]:.1f} ms")
    print(
        f"  envelope check          {middle[1]:8.0f} /s   p99 {middle[4]:.1f} ms   failures {sum(row[5] for row in rows)}"
    )
    print(f"  ratio                   {middle[2]:8.2f}      by round {', '.join(f'{row[2]:.2f}' for row in rows)}")
    TABLE.append(("single envelope check over HTTP, full answer: rate over rate of empty", middle[2], "0.6"))
    TABLE.append(("single envelope check over HTTP, verdict alone: rate over rate of empty", middle[6], "0.9"))
    return 1.0 / middle[0]


def lines() -> None:
    """Print the rate of a batch of single checks, with two workers, beside that of the same checks one by one, on one connection."""
    import httpx2

    count = 4000
    requests = [orjson.dumps(enquiry(index % DISTINCT)) for index in range(count)]
    rates = []
    with (
        server(GLANDWISE_BATCH_WORKERS="2") as port,
        httpx2.Client(base_url=f"http://127.0.0.1:{port}", timeout=120.0) as client,
    ):
        path = "/v1/envelope-checks"
        headers = {"content-type": "application/x-ndjson"}
        client.post(path, content=b"\n".join(requests), headers=headers).raise_for_status()  # the workers start
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
    print(
        f"\nbatch of {count} lines, two workers: {a:.0f} checks/s; one by one on one connection: {b:.0f} /s; ratio {a / b:.1f}"
    )
    TABLE.append(("NDJSON batch of 4,000 checks: rate over one by one on one connection", a / b, "8"))


def columns(empty: float) -> None:
    """Print the rate of a table of cases sent as an Arrow stream."""
    import httpx2
    import pyarrow as pa
    from glandwise.case import flat as corpus
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
    rate = statistics.median(rates[1:])
    print(f"table of {len(table)} rows as an Arrow stream: {rate:,.0f} checks/s")
    TABLE.append(("Arrow table over HTTP: rows per second over empty requests per second", rate * empty, "80"))


def shares() -> None:
    """Print what one check spends its time on, in process."""
    from glandwise.app import create_app
    from glandwise.case.intake import build
    from glandwise.contract.envelope import EnvelopeCheckRequest
    from glandwise.questions.envelope import check
    from glandwise.questions.envelope import operation as envelope

    engine = create_app().state.engine
    document = enquiry(120)
    body = orjson.dumps(document)
    request = EnvelopeCheckRequest.model_validate(document)
    rules = engine.rules(request)
    result = check.check(request, engine)

    def mechanics() -> None:
        envelope.measure(build(request.duty, request.design, rules))

    def words() -> None:
        envelope.judge(build(request.duty, request.design, rules), request.duty)

    steps = {
        "parse JSON": microseconds(lambda: jiter.from_json(body, allow_inf_nan=False, catch_duplicate_keys=True)),
        "validate, to SI": microseconds(lambda: EnvelopeCheckRequest.model_validate(document)),
        "mechanics and rules": microseconds(mechanics),
        "reasons and result": 0.0,
        "serialise": microseconds(lambda: orjson.dumps(result)),
    }
    steps["reasons and result"] = microseconds(lambda: check.check(request, engine)) - steps["mechanics and rules"]
    total = sum(steps.values())
    print(f"\none check in process: {total:.0f} us ({len(body)} bytes in, {len(orjson.dumps(result))} out)")
    for name, value in steps.items():
        print(f"  {name:20} {value:7.1f} us  {100.0 * value / total:5.1f} %")


def long_work(empty: float) -> None:
    """Print the time of a selection and the rate of the vectorised core."""
    from glandwise.app import create_app
    from glandwise.case import record
    from glandwise.case.intake import build
    from glandwise.contract.enquiry import EnquiryRequest
    from glandwise.contract.envelope import EnvelopeCheckRequest
    from glandwise.contract.selection import SelectionRequest
    from glandwise.questions.enquiry import operation as enquiries
    from glandwise.questions.envelope import evaluation as batch
    from glandwise.questions.selection import operation as selection

    engine = create_app().state.engine
    request = SelectionRequest.model_validate({"duty": enquiry(120)["duty"]})
    evaluated = selection.select(request, engine)["counts"]["evaluated"]
    middle = microseconds(lambda: selection.select(request, engine), 15) / 1e6
    print(f"\nselection among {evaluated} designs, in process: p50 {middle * 1e3:.0f} ms")
    TABLE.append((f"selection of {evaluated:,} designs in process: time over time of empty", middle / empty, "40"))
    whole = EnquiryRequest.model_validate({"duty": enquiry(120)["duty"]})
    enquiries.answer(whole, engine)
    start = time.process_time()
    for _ in range(15):
        enquiries.answer(whole, engine)
    spent = (time.process_time() - start) / 15
    print(f"whole enquiry, in process: {spent * 1e3:.0f} ms of processor")
    TABLE.append(("whole enquiry in process: processor time over time of empty", spent / empty, "60"))
    many = [EnvelopeCheckRequest.model_validate(enquiry(index)) for index in range(DISTINCT)]
    rules = engine.rules(many[0])
    cases = [build(item.duty, item.design, rules) for item in many]
    big = record.joined([case.row for case in cases] * 25)
    batch.evaluate(rules.data, big)
    seconds = microseconds(lambda: batch.evaluate(rules.data, big), 5) / 1e6
    print(f"batch of {len(big)} envelope checks: {len(big) / seconds:,.0f} checks/s")


def comparison(empty: float) -> None:
    """Print the rate of a comparison of two rule sets, seven values changed, all criteria and causes."""
    from glandwise.app import create_app
    from glandwise.contract.comparison import RuleSetComparisonRequest
    from glandwise.review import comparison as compare
    from glandwise.rules.model import walk

    engine = create_app().state.engine
    compound = "compounds.ptfe_carbon_graphite_25"
    changed = (
        f"{compound}.friction.oil", f"{compound}.thermal_conductivity", "running.nominal_time",
        "running.shaft_length_ratio", "designs.capacities.pressure_flexible_lip.limit",
        "designs.capacities.surface_speed_flexible_lip.limit", "sizing.flexible_lip.band_length_share",
    )  # fmt: skip
    tree = engine.store.get("baseline")
    assert tree is not None
    held = dict(walk(tree.newest().data))
    patch: dict[str, Any] = {}
    for path in changed:
        *way, last = path.split(".")
        target = patch
        for part in way:
            target = target.setdefault(part, {})
        record = held[path]
        target[last] = {
            "value": record.value * 0.97, "unit": record.unit, "source": "house-estimate",
            "evidence": "house_estimate", "valid_from": "2026-06-01",
        }  # fmt: skip
    cases = [{"case_id": str(index), **enquiry(index)} for index in range(DISTINCT)]
    sets = {"base": {"kind": "name", "name": "baseline"}, "candidate": {"kind": "patch", "patch": patch}}
    request = RuleSetComparisonRequest.model_validate({**sets, "cases": cases})
    compare.compare_sets(request, engine)
    start = time.process_time()
    compare.compare_sets(request, engine)
    rate = DISTINCT / (time.process_time() - start)
    print(f"\ncomparison of rule sets, {len(changed)} values changed: {rate:,.0f} cases per second of processor")
    TABLE.append(
        ("comparison, seven changed values: cases per processor second over empty per second", rate * empty, "20")
    )


GREEDY = [*["batch"] * 3, *["selection"] * 4, *["enquiry"] * 3]
"""What ten greedy callers ask for."""
RATE, BURST = 100.0, 1000.0
"""Milliseconds of a core that a caller may ask for each second, and at once, where rates are bounded."""
PAUSE = 0.012
"""Seconds between two checks of a caller who stays within that bound."""


def _of_bounded_callers(folder: Path) -> dict[str, str]:
    """Return the settings of a service that knows eleven callers, and bounds what each may ask for."""
    tokens = folder / "tokens.toml"
    digests = [hashlib.sha256(greedy.token(index).encode()).hexdigest() for index in range(len(GREEDY) + 1)]
    tokens.write_text(
        "".join(f'[caller-{at}]\nsha256 = "{digest}"\nrights = ["judge"]\n' for at, digest in enumerate(digests))
    )
    return {"GLANDWISE_TOKENS": str(tokens), "GLANDWISE_RATE": str(RATE), "GLANDWISE_RATE_BURST": str(BURST)}


def beside() -> None:
    """Print how long single checks take while others ask for much: a batch and a selection, and ten greedy callers."""
    import multiprocessing
    import tempfile

    checks = [
        request_bytes("/v1/envelope-checks", orjson.dumps(enquiry(index)), greedy.token(len(GREEDY)))
        for index in range(DISTINCT)
    ]
    batch = b"\n".join(orjson.dumps(enquiry(index % DISTINCT)) for index in range(4000))
    duty = orjson.dumps({"duty": enquiry(120)["duty"]})
    asked = {
        "batch": ("/v1/envelope-checks", batch, "application/x-ndjson"),
        "selection": ("/v1/selections", duty, "application/json"),
        "enquiry": ("/v1/enquiries", duty, "application/json"),
    }
    spawn = multiprocessing.get_context("spawn")
    with tempfile.TemporaryDirectory() as folder:
        bounded = _of_bounded_callers(Path(folder))
        for who, names, settings, pause in (
            ("two processes that ask for nothing", ["nothing"] * 2, {}, 0.0),
            ("a batch and a selection", ["batch", "selection"], {}, 0.0),
            ("ten greedy callers", GREEDY, {}, 0.0),
            (f"ten greedy callers with GLANDWISE_RATE={RATE:g}", GREEDY, bounded, PAUSE),
        ):
            ratios, shown = [], []
            with server(**settings) as port:
                load(port, checks, 1.0, 1, pause)
                for _ in range(ROUNDS):
                    idle = load(port, checks, SECONDS, 1, pause).percentile(0.99)
                    others = [
                        spawn.Process(target=greedy.asks_on, args=(port, *asked[name], greedy.token(at)), daemon=True)
                        if name in asked
                        else spawn.Process(target=greedy.counts, daemon=True)
                        for at, name in enumerate(names)
                    ]
                    for other in others:
                        other.start()
                    time.sleep(3.0)  # they load their libraries
                    found = load(port, checks, SECONDS, 1, pause)
                    assert not found.failures
                    assert all(other.is_alive() for other in others)
                    ratios.append(found.percentile(0.99) / idle)
                    shown.append(f"{idle * 1e3:.1f} to {found.percentile(0.99) * 1e3:.1f} ms")
                    for other in others:
                        other.terminate()
                        other.join()
                    time.sleep(2.0)  # what they had asked for is given up
            print(
                f"\np99 of single checks beside {who} over idle: {statistics.median(ratios):.1f} ({', '.join(shown)})"
            )
            aim = "–" if "nothing" in names else "3"
            TABLE.append((f"p99 of single checks beside {who} over idle", statistics.median(ratios), aim))


def start_up() -> None:
    """Print the seconds from starting the process to being ready, and those of importing the libraries alone."""
    ready = (
        "import asyncio, glandwise.asgi as a\n"
        "async def up():\n"
        "    async with a.app.router.lifespan_context(a.app): pass\n"
        "asyncio.run(up())"
    )
    alone = "import fastapi, pydantic, numpy, numba"
    found = {}
    for name, code in (("ready", ready), ("libraries", alone)):
        times = []
        for _ in range(6):
            start = time.perf_counter()
            subprocess.run([sys.executable, "-c", code], check=True, cwd=ROOT, env=os.environ)
            times.append(time.perf_counter() - start)
        found[name] = statistics.median(times[1:])
    print(f"\nstart to ready: {found['ready']:.2f} s; importing the libraries alone: {found['libraries']:.2f} s")
    TABLE.append(
        ("start to ready, caches warm, over importing the libraries alone", found["ready"] / found["libraries"], "1.5")
    )


def main() -> None:
    """Run every part."""
    empty = http()
    lines()
    columns(empty)
    shares()
    long_work(empty)
    comparison(empty)
    beside()
    start_up()
    print(f"\nan empty request: {empty * 1e6:.0f} us\n")
    print("| what | measured | aim |\n|---|---|---|")
    for what, value, aim in TABLE:
        print(f"| {what} | {value:.3g} | {aim} |")


if __name__ == "__main__":
    main()
