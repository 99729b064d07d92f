"""Long calculations and renderings have threads of their own: bounded, with a deadline, given up when nobody waits."""

from __future__ import annotations

import asyncio
import json
import subprocess
import sys
import threading
import time
from collections.abc import Awaitable, Callable, Iterator
from typing import Any

import pytest
from fastapi.testclient import TestClient
from glandwise.api.answering import calculation
from glandwise.api.lanes import Lane
from glandwise.api.problems import ProblemError
from glandwise.app import create_app
from glandwise.operations import OPERATIONS
from glandwise.patience import GivenUp, Patience, Turns, go_on, rest, within
from glandwise.review import comparison
from glandwise.rules.loader import RuleStore
from glandwise.settings import Settings

from tests.conftest import AnsweredBy, Example, assert_problem, example, load_examples

CHECK, SELECT = "/v1/envelope-checks", "/v1/selections"
COMPARE = "/v1/rule-set-comparisons"
REQUEST = example("check_envelope", "gearbox_input_shaft")
ENOUGH = 30.0
"""Seconds after which a test that should have ended long ago fails."""


async def stays() -> dict[str, Any]:
    """What is received from a caller who waits."""
    await asyncio.Event().wait()
    raise AssertionError


def until_given_up(seen: list[str]) -> None:
    """Work that ends only when it is given up."""
    seen.append("begun")
    try:
        for _ in range(int(ENOUGH / 0.002)):
            go_on()
            time.sleep(0.002)
    except GivenUp:
        seen.append("given up")
        raise


def wait_for(condition: Callable[[], bool]) -> None:
    """Wait until a condition holds."""
    until = time.monotonic() + ENOUGH
    while not condition():
        assert time.monotonic() < until
        time.sleep(0.005)


def run(scenario: Callable[[], Awaitable[None]]) -> None:
    """Run a scenario in an event loop of its own."""

    async def bounded() -> None:
        await asyncio.wait_for(scenario(), ENOUGH)

    asyncio.run(bounded())


def test_what_takes_too_long_is_given_up() -> None:
    lane, seen = Lane("long operations", 1, 4, 0.1), list[str]()

    async def scenario() -> None:
        with pytest.raises(ProblemError) as caught:
            await lane.run(stays, until_given_up, seen)
        assert caught.value.kind == "took-too-long"
        assert "0.1 s" in caught.value.detail
        assert await lane.run(stays, sum, [1, 2]) == 3  # its thread is free again

    run(scenario)
    assert seen == ["begun", "given up"]


def test_what_nobody_waits_for_is_given_up_or_never_begun() -> None:
    lane, seen, waited = Lane("long operations", 1, 4, ENOUGH), list[str](), list[str]()

    async def scenario() -> None:
        gone = asyncio.Event()

        async def hangs_up() -> dict[str, Any]:
            await gone.wait()
            return {"type": "http.disconnect"}

        first = asyncio.create_task(lane.run(hangs_up, until_given_up, seen))
        second = asyncio.create_task(lane.run(hangs_up, until_given_up, waited))
        await asyncio.to_thread(wait_for, lambda: bool(seen))
        gone.set()
        for task in (first, second):
            with pytest.raises(ProblemError):
                await task
        assert await lane.run(stays, sum, [1, 2]) == 3

    run(scenario)
    assert seen == ["begun", "given up"]
    assert waited == []


def test_a_place_is_free_only_when_its_thread_is() -> None:
    """Whoever hangs up again and again cannot pile up work that does not stop at once."""
    lane, stop = Lane("long operations", 1, 1, ENOUGH), threading.Event()

    async def scenario() -> None:
        async def gone() -> dict[str, Any]:
            await asyncio.sleep(0.05)
            return {"type": "http.disconnect"}

        with pytest.raises(ProblemError):
            await lane.run(gone, stop.wait, ENOUGH)  # asks nobody whether to go on
        with pytest.raises(ProblemError):
            await lane.run(gone, stop.wait, ENOUGH)  # waits for its turn, and is gone from the queue
        second = asyncio.create_task(lane.run(stays, sum, [1, 2]))
        await asyncio.sleep(0.05)
        with pytest.raises(ProblemError) as caught:
            await lane.run(stays, sum, [3, 4])
        assert "2 long operations" in caught.value.detail
        stop.set()
        assert await second == 3
        assert await lane.run(stays, sum, [3, 4]) == 7

    try:
        run(scenario)
    finally:
        stop.set()


def test_work_under_way_is_done_in_turn() -> None:
    """One calculates at a time, and whoever takes long lets others have their turn where it asks whether to go on."""
    lane, done = Lane("long operations", 2, 2, ENOUGH), list[str]()
    under_way = list[str]()

    def work(name: str, until: Callable[[], bool]) -> None:
        under_way.append(name)
        while True:
            assert under_way[-1] == name
            time.sleep(0.002)
            assert under_way[-1] == name, "another had its turn without being let in"
            go_on()  # as where a lock is held: the turn stays
            assert under_way[-1] == name
            if until():
                break
            rest()
            under_way.append(name)
        done.append(name)

    async def scenario() -> None:
        long = asyncio.create_task(lane.run(stays, work, "long", lambda: "short" in done))
        await asyncio.to_thread(wait_for, lambda: bool(under_way))
        await lane.run(stays, work, "short", lambda: under_way.count("short") > 3)
        await long

    run(scenario)
    assert done == ["short", "long"]


def test_turns_are_had_in_the_order_in_which_they_were_asked_for() -> None:
    turns, order = Turns(ENOUGH), list[int]()
    assert turns.take()

    def had(index: int) -> None:
        with Patience(ENOUGH, turns).in_turn():
            order.append(index)

    threads = []
    for index in range(5):
        threads.append(threading.Thread(target=had, args=(index,)))
        threads[-1].start()
        wait_for(lambda: len(turns._waiting) == len(threads))
    turns.leave()
    for thread in threads:
        thread.join(ENOUGH)
    assert order == list(range(5))
    assert turns.take(), "it is not free again"


def test_two_that_wait_for_each_other_go_on_all_the_same() -> None:
    """One rests though it holds a lock, which the other, whose turn it is, waits for."""
    turns, lock, order = Turns(0.3), threading.Lock(), list[str]()
    locked = threading.Event()

    def holds() -> None:
        patience = Patience(ENOUGH, turns)
        with patience.in_turn(), within(patience), lock:
            locked.set()
            wait_for(lambda: turns.are_due)
            rest()
            order.append("holds")

    def waits() -> None:
        with Patience(ENOUGH, turns).in_turn(), lock:
            order.append("waits")

    one, other = threading.Thread(target=holds), threading.Thread(target=waits)
    one.start()
    assert locked.wait(ENOUGH)
    other.start()
    for thread in (one, other):
        thread.join(ENOUGH)
    assert order == ["holds", "waits"]
    assert turns.take(), "it is not free again"


def test_work_under_way_is_given_up_when_the_lane_ends() -> None:
    lane, seen = Lane("long operations", 1, 1, ENOUGH), list[str]()

    async def scenario() -> None:
        task = asyncio.create_task(lane.run(stays, until_given_up, seen))
        await asyncio.to_thread(wait_for, lambda: bool(seen))
        lane.end()
        with pytest.raises(ProblemError):
            await task

    run(scenario)
    assert seen == ["begun", "given up"]


# ---------------------------------------------------------------------------------------------------- in the service


@pytest.fixture
def busy(answered_by: AnsweredBy) -> Iterator[tuple[TestClient, threading.Event]]:
    """A service that takes one long operation at once; it begins a selection that ends when the event is set."""
    begun, end = threading.Event(), threading.Event()

    def held_up(*given: Any) -> Any:
        begun.set()
        assert end.wait(ENOUGH)
        return select(*given)

    select = answered_by("select_design", held_up)
    settings = Settings(batch_workers=0, long_operations=1, long_waiting=0)
    with TestClient(create_app(settings)) as session:
        caller = threading.Thread(target=session.post, args=(SELECT,), kwargs={"json": {"duty": REQUEST["duty"]}})
        caller.start()
        try:
            assert begun.wait(ENOUGH)
            yield session, end
        finally:
            end.set()
            caller.join()


def test_one_more_is_put_off_and_everything_else_is_answered(busy: tuple[TestClient, threading.Event]) -> None:
    session, end = busy
    response = session.post(SELECT, json={"duty": REQUEST["duty"]})
    assert_problem(response, 503, "too-busy")
    assert int(response.headers["retry-after"]) > 0
    assert session.post(CHECK, json=REQUEST).status_code == 200
    assert session.post(CHECK, json=REQUEST, headers={"accept": "text/html"}).status_code == 200
    assert session.get("/healthz").status_code == 200
    end.set()
    wait_for(lambda: session.post(SELECT, json={"duty": REQUEST["duty"]}).status_code == 200)


@pytest.mark.parametrize("asked", ["working", "questions", "range"])
def test_a_check_that_asks_for_more_takes_a_thread_as_well(
    busy: tuple[TestClient, threading.Event], asked: str
) -> None:
    session, _ = busy
    request: dict[str, Any] = {**REQUEST, asked: True} if asked != "range" else json.loads(json.dumps(REQUEST))
    if asked == "range":
        pressure = request["duty"]["pressure"]
        request["duty"]["pressure"] = {**pressure, "low": 0.5 * pressure["value"], "high": 1.5 * pressure["value"]}
    assert_problem(session.post(CHECK, json=request), 503, "too-busy")
    assert session.post(CHECK, json={**REQUEST, "working": False, "questions": False}).status_code == 200


LONGEST = sorted(
    name
    for name, row in OPERATIONS.items()
    if row.long
    and name
    not in {"estimate_energizer_load", "estimate_friction", "check_gland", "check_thermal_fit", "estimate_blank"}
)
"""Long operations; those left out take some tens of milliseconds, and are not given up on their way."""
FIRST = {entry.operation: entry for entry in reversed(load_examples())}


@pytest.mark.parametrize("entry", [FIRST[name] for name in LONGEST], ids=LONGEST)
def test_each_long_operation_can_be_given_up(client: TestClient, entry: Example) -> None:
    engine = client.app.state.engine  # type: ignore[attr-defined]
    patience = Patience(ENOUGH)
    patience.end()
    with within(patience), pytest.raises(GivenUp):
        calculation(OPERATIONS[entry.operation])(entry.request, engine)


def test_a_rule_set_of_many_dates_can_be_given_up() -> None:
    tree = RuleStore().trees["baseline"]
    tree._cache.clear()
    patience = Patience(ENOUGH)
    patience.end()
    with within(patience), pytest.raises(GivenUp):
        tree.check()


def test_a_comparison_takes_so_many_changed_values_back_one_by_one(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(comparison, "MOST_ATTRIBUTED", 1)
    request = FIRST["compare_rule_sets"].request
    capacities = {
        name: {"limit": {"value": value, "unit": "psi", "source": "house-estimate", "evidence": "house_estimate",
                         "valid_from": "2026-06-01"}}
        for name, value in (("pressure_flexible_lip", 19.0), ("pressure_energized_lip", 900.0))
    }  # fmt: skip
    one = dict(list(capacities.items())[:1])
    for changed, attribute, status in ((one, True, 200), (capacities, True, 422), (capacities, False, 200)):
        candidate = {"kind": "patch", "patch": {"designs": {"capacities": changed}}}
        response = client.post(COMPARE, json={**request, "candidate": candidate, "attribute": attribute})
        assert response.status_code == status, response.text
        if status == 422:
            problem = assert_problem(response, 422, "out-of-domain", "/candidate")
            assert "attribute" in problem["errors"][0]["accepted"]


_NICE = """
import os, threading
from glandwise import process
from glandwise.numerics import compiled
own = lambda: os.getpriority(os.PRIO_PROCESS, threading.get_native_id())
begun = own()
process.settle()
assert compiled.niceness is None  # whoever embeds the service keeps its own settings
process.begin()
process.settle()
from glandwise.api.lanes import Lane
lane = Lane("long operations", 1, 1, 30.0)
nice = min(begun + process.YIELDS, 19)
assert lane._threads.submit(own).result() == nice
assert lane._threads.submit(lambda: compiled._threads().submit(own).result()).result() == nice  # no nicer than its parent
assert own() == begun
"""


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere a thread has no priority of its own")
def test_threads_of_long_work_give_way_to_single_questions() -> None:
    done = subprocess.run([sys.executable, "-c", _NICE], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
