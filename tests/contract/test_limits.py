"""A caller who asks for much waits, others do not; batches end in time; connections are bounded."""

from __future__ import annotations

import asyncio
import json
import re
import threading
import time
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from glandwise.api import desk, lines
from glandwise.api.access import digest
from glandwise.api.lanes import Lane
from glandwise.api.problems import ProblemError
from glandwise.api.rates import MOST_CALLERS, READING, Rates, cost_of, who_by_address
from glandwise.app import create_app
from glandwise.operations import OPERATIONS
from glandwise.patience import go_on
from glandwise.settings import Settings

from tests.conftest import AnsweredBy, assert_problem, example

ROOT = Path(__file__).resolve().parents[2]
CHECK, SELECT = "/v1/envelope-checks", "/v1/selections"
REQUEST = example("check_envelope", "gearbox_input_shaft")
ENOUGH = 30.0


class Clock:
    """A clock that is set by hand."""

    now = 0.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


def wait_of(rates: Rates, who: str, cost: float = 1.0) -> int:
    """Ask, and return the seconds that the caller is to wait; 0 where it is let in."""
    try:
        rates.bill(who, cost)
    except ProblemError as error:
        return int((error.headers or {})["Retry-After"]) if error.kind == "too-many-requests" else -1
    return 0


def test_a_burst_is_let_in_and_then_the_rate(clock: Clock) -> None:
    rates = Rates(100.0, 1000.0, clock)
    for _ in range(11):
        assert wait_of(rates, "one", 100.0) == 0
    assert wait_of(rates, "one") == 1
    clock.now += 1.0
    assert wait_of(rates, "one", 100.0) == 0
    assert wait_of(rates, "one") == 1
    clock.now += 1000.0  # however long nothing was asked for, no more than a burst
    assert sum(wait_of(rates, "one", 100.0) == 0 for _ in range(20)) == 11


def test_whoever_waits_as_long_as_the_answer_says_is_let_in(clock: Clock) -> None:
    rates = Rates(100.0, 1000.0, clock)
    rates.bill("one", 20_000.0)  # one large piece is let in whole, and paid for afterwards
    seconds = wait_of(rates, "one")
    assert seconds == 190
    clock.now += seconds - 1.5
    assert wait_of(rates, "one") == 2
    clock.now += 1.5
    assert wait_of(rates, "one") == 0


def test_one_caller_costs_another_nothing(clock: Clock) -> None:
    rates = Rates(100.0, 1000.0, clock)
    rates.bill("greedy", 1e6)
    assert wait_of(rates, "greedy") > 0
    assert wait_of(rates, "modest") == 0


def test_what_took_longer_than_its_estimate_is_charged_afterwards(clock: Clock) -> None:
    rates = Rates(100.0, 1000.0, clock)
    bill = rates.bill("one", 50.0)
    bill.add(30.0)  # within the estimate
    bill.add(10.0)
    assert rates._until["one"] == pytest.approx(0.5)
    bill.add(20.0)
    assert rates._until["one"] == pytest.approx(0.6)
    bill.add(300.0)
    assert rates._until["one"] == pytest.approx(3.6)


def test_work_is_counted_even_when_it_fails(clock: Clock) -> None:
    rates = Rates(100.0, 1000.0, clock)

    def fails() -> None:
        until = time.thread_time() + 0.02
        while time.thread_time() < until:
            pass
        raise ValueError

    with pytest.raises(ValueError):
        rates.bill("one", 1.0).counted(fails)
    assert rates._until["one"] >= 0.2


def test_only_so_many_callers_are_remembered(clock: Clock) -> None:
    rates = Rates(100.0, 1000.0, clock)
    for number in range(MOST_CALLERS + 100):
        rates.bill(f"caller {number}", 1.0)
    assert len(rates._until) == MOST_CALLERS


def test_addresses_of_one_network_are_one_caller() -> None:
    assert who_by_address("2001:db8::1") == who_by_address("2001:db8::ffff") != who_by_address("2001:db8:0:1::1")
    assert who_by_address("192.0.2.1") != who_by_address("192.0.2.2")
    assert who_by_address("testclient") == "testclient"


def test_each_path_has_its_estimate() -> None:
    for row in OPERATIONS.values():
        assert cost_of(row.path) == row.cost
    assert cost_of("/v1/compounds") == cost_of("/nowhere") == READING


def served(**settings: Any) -> FastAPI:
    return create_app(Settings(batch_workers=0, rate=0.01, rate_burst=3.0, **settings))


def test_the_service_holds_off_by_address_and_says_for_how_long() -> None:
    app = served()
    with TestClient(app, client=("127.0.0.1", 1)) as session:
        statuses = [session.post(CHECK, json=REQUEST).status_code for _ in range(6)]
        assert statuses[:3] == [200, 200, 200]
        assert statuses[-1] == 429
        response = session.post(CHECK, json=REQUEST)
        problem = assert_problem(response, 429, "too-many-requests")
        assert response.headers["retry-after"] in problem["detail"]
        for path in ("/healthz", "/readyz"):
            assert session.get(path).status_code == 200
        assert_problem(session.get("/v1/compounds"), 429, "too-many-requests")
    with TestClient(app, client=("127.0.0.2", 1)) as other:
        assert other.post(CHECK, json=REQUEST).status_code == 200


def test_the_service_holds_off_by_token_wherever_it_comes_from(tmp_path: Path) -> None:
    path = tmp_path / "tokens.toml"
    path.write_text(
        "\n".join(f'[{name}]\nsha256 = "{digest(name)}"\nrights = ["judge"]' for name in ("one", "two")),
        encoding="utf-8",
    )
    app = served(tokens=path)

    def ask(token: str, address: str) -> int:
        with TestClient(app, client=(address, 1)) as session:
            return session.post(CHECK, json=REQUEST, headers={"authorization": f"Bearer {token}"}).status_code

    assert [ask("one", f"198.51.100.{number}") for number in range(6)][-1] == 429
    assert ask("two", "198.51.100.0") == 200


def test_a_batch_is_charged_with_what_it_took() -> None:
    app = create_app(Settings(batch_workers=0, rate=1.0, rate_burst=1000.0))
    body = "\n".join([json.dumps(REQUEST)] * 50)
    with TestClient(app) as session:
        answer = session.post(CHECK, content=body, headers={"content-type": "application/x-ndjson"})
        assert answer.status_code == 200
        (until,) = _until(app)
    assert until - time.monotonic() > 5.0  # fifty checks take more than 5 ms, at 1 ms a second


def _until(app: FastAPI) -> list[float]:
    """Return when each caller's work would be worked off."""
    layer: Any = app.middleware_stack
    while not hasattr(layer, "rates"):
        layer = layer.app
    return list(layer.rates._until.values())


# --------------------------------------------------------------------------------------------------------- ends in time


def test_a_batch_that_takes_too_long_says_which_lines_are_left(answered_by: AnsweredBy) -> None:
    def slow(*given: Any) -> Any:
        time.sleep(0.3)
        return check(*given)

    check = answered_by("check_envelope", slow)
    body = "\n".join([json.dumps(REQUEST)] * 8)
    with TestClient(create_app(Settings(batch_workers=0, batch_seconds=1.0))) as session:
        answer = session.post(CHECK, content=body, headers={"content-type": "application/x-ndjson"})
    assert answer.status_code == 200
    rows = [json.loads(line) for line in answer.text.splitlines()]
    assert [row["line"] for row in rows] == list(range(1, 9)), "each line is answered, once"
    statuses = [row["status"] for row in rows]
    assert statuses == sorted(statuses)
    assert set(statuses) == {200, 503}
    assert "at most 1 s" in rows[-1]["problem"]["detail"]


def test_a_batch_under_way_is_answered_whole_when_the_service_is_stopped(app: FastAPI) -> None:
    """What is left when the grace runs out is put off line by line: no line is lost, and the answer is whole."""
    at = desk.Desk(app.state.engine, 0, 4)
    sent: list[dict[str, Any]] = []

    async def scenario() -> None:
        async def receive() -> Any:
            await asyncio.Event().wait()

        async def send(message: Any) -> None:
            sent.append(message)
            if len(sent) == 2:
                at.drain(0.0)

        body = b"\n".join([json.dumps(REQUEST).encode()] * 2000)
        row = OPERATIONS["check_envelope"]
        await lines.BatchAnswer(at, row, 100_000, lines.Lines(body), ExitStack())({}, receive, send)

    asyncio.run(asyncio.wait_for(scenario(), ENOUGH))
    assert sent[-1] == {"type": "http.response.body", "body": b""}
    rows = b"".join(message.get("body", b"") for message in sent).splitlines()
    assert len(rows) == 2000
    assert b'"status":200' in rows[0]
    assert b"being stopped" in rows[-1]


def test_a_long_operation_is_put_off_when_the_grace_is_over() -> None:
    lane, begun = Lane("long operations", 1, 1, ENOUGH), threading.Event()

    def works() -> None:
        begun.set()
        while True:
            go_on()
            time.sleep(0.002)

    async def scenario() -> None:
        async def waits() -> Any:
            await asyncio.Event().wait()

        task = asyncio.create_task(lane.run(waits, works))
        await asyncio.to_thread(begun.wait, ENOUGH)
        lane.drain(0.05)
        with pytest.raises(ProblemError) as caught:
            await task
        assert caught.value.kind == "unavailable"
        assert "being stopped" in caught.value.detail

    asyncio.run(asyncio.wait_for(scenario(), ENOUGH))


# ----------------------------------------------------------------------------------------------------------- the page


def test_the_page_says_of_each_operation_what_the_table_does() -> None:
    page = (ROOT / "service" / "docs" / "limits.md").read_text(encoding="utf-8")
    said = re.findall(r"^\| `(\w+)` \| ([\d.]+) \| (event loop|thread) \|", page, re.MULTILINE)
    assert said == [(row.name, f"{row.cost:g}", "thread" if row.long else "event loop") for row in OPERATIONS.values()]
