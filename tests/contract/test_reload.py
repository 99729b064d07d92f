"""Rules are read anew while the service runs: checked first, and until they stand the old ones are served."""

from __future__ import annotations

import asyncio
import json
import logging
import os
import shutil
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx2
import pytest
from fastapi.testclient import TestClient
from glandwise.api import reload
from glandwise.api.access import digest
from glandwise.app import create_app
from glandwise.operations import OPERATIONS
from glandwise.rules import archive
from glandwise.rules.loader import RuleStore
from glandwise.settings import Settings

from tests.conftest import AnsweredBy, assert_problem, example

CHECK, RELOAD = "/v1/envelope-checks", "/v1/rule-set-reloads"
REQUEST = {**example("check_envelope", "gearbox_input_shaft"), "rule_set": "house"}
LINES = {"content-type": "application/x-ndjson"}
ENOUGH = 30.0


def write(folder: Path, version: str) -> None:
    """Write a house set that extends the built-in one."""
    (folder / "house").mkdir(parents=True, exist_ok=True)
    text = (
        f'name = "house"\nversion = "{version}"\ntitle = "House"\ndescription = "House rules of a test."\n'
        'extends = "baseline"\n'
    )
    (folder / "house" / "rule_set.toml").write_text(text, encoding="utf-8")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    write(tmp_path / "rules", "1")
    return tmp_path / "rules"


@pytest.fixture
def session(folder: Path) -> Iterator[TestClient]:
    with TestClient(create_app(Settings(rules=folder, batch_workers=0))) as found:
        yield found


def served(session: TestClient) -> tuple[str, str]:
    """Return version and digest of the house set, by an answer."""
    answer = session.post(CHECK, json=REQUEST)
    assert answer.status_code == 200, answer.text
    stamp = answer.json()["stamp"]["rule_set"]
    return stamp["version"], stamp["digest"]


def told(session: TestClient) -> set[str]:
    """Return the digest of the house set in all places that tell it."""
    (listed,) = [item["digest"] for item in session.get("/v1/rule-sets").json()["rule_sets"] if item["name"] == "house"]
    metric = session.get("/metrics").text
    (line,) = [
        item for item in metric.splitlines() if item.startswith("glandwise_rule_set{") and 'name="house"' in item
    ]
    return {listed, session.get("/readyz").json()["digests"]["house"], line.partition('digest="')[2].partition('"')[0]}


def test_new_rules_are_served_and_both_digests_told(
    session: TestClient, folder: Path, caplog: pytest.LogCaptureFixture
) -> None:
    version, before = served(session)
    assert version == "1"
    write(folder, "2")
    assert served(session) == ("1", before), "a file that has changed changes nothing by itself"
    with caplog.at_level(logging.INFO, "glandwise"):
        answer = session.post(RELOAD)
    assert answer.status_code == 200
    version, now = served(session)
    assert version == "2"
    assert now != before
    found = answer.json()
    assert (found["outcome"], found["before"]["house"], found["now"]["house"]) == ("taken", before, now)
    assert found["before"]["baseline"] == found["now"]["baseline"]
    assert told(session) == {now}
    (record,) = [record for record in caplog.records if record.__dict__.get("event") == "rules_taken"]
    assert (record.__dict__["before"], record.__dict__["digest"]) == (before, now)
    assert session.post(RELOAD).json()["outcome"] == "unchanged"


def test_the_archive_is_kept_and_read_anew_as_well(folder: Path, tmp_path: Path) -> None:
    """What was merged is kept first; then the service reads both, and knows what was in force before."""
    kept = tmp_path / "archive"
    kept.mkdir()
    settings = Settings(rules=folder, rule_archive=kept, batch_workers=0)
    with TestClient(create_app(settings)) as session:
        _, before = served(session)
        stored = session.post(CHECK, json=REQUEST).json()
        body = {"operation": "check_envelope", "stored_request": REQUEST, "stored_result": stored}
        archive.put(RuleStore(folder).trees["house"], kept)
        assert session.post(RELOAD).json()["outcome"] == "taken", "the rules are the same, the archive is not"
        assert session.post(RELOAD).json()["outcome"] == "unchanged"
        write(folder, "2")
        assert session.post(RELOAD).json()["outcome"] == "taken"
        assert served(session)[1] != before
        found = session.post("/v1/rechecks", json=body).json()
        assert (found["rules_changed"], found["rules_of_then_held"]) == (True, True)


@pytest.mark.parametrize("fault", ["not TOML", "version", "gone", "default"])
def test_rules_that_cannot_be_used_change_nothing(fault: str, folder: Path) -> None:
    with TestClient(create_app(Settings(rules=folder, default_rule_set="house", batch_workers=0))) as session:
        before = served(session)
        path = folder / "house" / "rule_set.toml"
        if fault == "not TOML":
            path.write_text("[", encoding="utf-8")
        elif fault == "version":
            path.write_text(path.read_text(encoding="utf-8").replace('version = "1"', "version = 1"), encoding="utf-8")
        elif fault == "gone":
            path.unlink()
        else:
            shutil.rmtree(folder / "house")
        problem = assert_problem(session.post(RELOAD), 409, "rules-refused")
        assert problem["errors"]
        assert served(session) == before
        assert told(session) == {before[1]}
        assert 'glandwise_rule_reloads_total{outcome="refused"} 1.0' in session.get("/metrics").text
        shutil.rmtree(folder / "house", ignore_errors=True)
        write(folder, "3")
        assert session.post(RELOAD).json()["outcome"] == "taken"
        assert served(session)[0] == "3"


def test_requests_are_answered_by_the_old_rules_while_the_new_ones_are_checked(
    session: TestClient, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun, end = threading.Event(), threading.Event()

    def slow(house: Path | None, *_: Path | None) -> RuleStore:
        begun.set()
        assert end.wait(ENOUGH)
        return RuleStore(house)

    monkeypatch.setattr(reload.archive, "store", slow)
    write(folder, "2")
    answers: list[Any] = []
    asking = threading.Thread(target=lambda: answers.append(session.post(RELOAD)))
    asking.start()
    try:
        assert begun.wait(ENOUGH)
        assert served(session)[0] == "1"
        again = session.post(RELOAD)
        assert_problem(again, 503, "too-busy")
        assert int(again.headers["retry-after"]) > 0
    finally:
        end.set()
        asking.join()
    assert answers[0].json()["outcome"] == "taken"
    assert served(session)[0] == "2"


def test_a_batch_is_answered_whole_by_the_rules_it_began_with(
    session: TestClient, folder: Path, answered_by: AnsweredBy
) -> None:
    begun, end = threading.Event(), threading.Event()

    def held_up(*given: Any) -> Any:
        begun.set()
        assert end.wait(ENOUGH)
        return check(*given)

    check = answered_by("check_envelope", held_up)
    body = b"\n".join([json.dumps(REQUEST).encode()] * 40)
    answers: list[Any] = []
    asking = threading.Thread(target=lambda: answers.append(session.post(CHECK, content=body, headers=LINES)))
    asking.start()
    try:
        assert begun.wait(ENOUGH)
        write(folder, "2")
        assert session.post(RELOAD).json()["outcome"] == "taken"
        assert session.app.state.desk.turns == 1, "the batch of before counts on"  # type: ignore[attr-defined]
    finally:
        end.set()
        asking.join()
    rows = [json.loads(line) for line in answers[0].text.splitlines()]
    assert {row["result"]["stamp"]["rule_set"]["version"] for row in rows} == {"1"}
    assert len(rows) == 40
    answer = session.post(CHECK, content=body[: body.index(b"\n")], headers=LINES)
    assert json.loads(answer.text)["result"]["stamp"]["rule_set"]["version"] == "2"


def test_workers_of_the_old_rules_end_and_new_ones_have_the_new(folder: Path) -> None:
    with TestClient(create_app(Settings(rules=folder, batch_workers=1))) as session:

        def version() -> str:
            answer = session.post(CHECK, content=json.dumps(REQUEST), headers=LINES)
            found: str = json.loads(answer.text)["result"]["stamp"]["rule_set"]["version"]
            return found

        assert version() == "1"
        (old,) = session.app.state.desk.processes  # type: ignore[attr-defined]
        write(folder, "2")
        assert session.post(RELOAD).json()["outcome"] == "taken"
        assert version() == "2"
        until = time.monotonic() + ENOUGH
        while Path(f"/proc/{old}").exists():
            assert time.monotonic() < until
            time.sleep(0.05)


def test_tokens_are_read_anew_as_well_and_the_right_is_asked_for(folder: Path, tmp_path: Path) -> None:
    path = tmp_path / "tokens.toml"

    def entry(name: str, *rights: str) -> str:
        return f'[{name}]\nsha256 = "{digest(name)}"\nrights = {json.dumps(rights)}\n'

    def bearer(name: str) -> dict[str, str]:
        return {"authorization": f"Bearer {name}"}

    path.write_text(entry("one", "read", "judge") + entry("runs", "operate"), encoding="utf-8")
    with TestClient(create_app(Settings(rules=folder, tokens=path, batch_workers=0))) as session:
        path.write_text(entry("two", "read") + entry("runs", "operate"), encoding="utf-8")
        assert_problem(session.post(RELOAD, headers=bearer("one")), 403, "forbidden")
        assert session.get("/v1/alloys", headers=bearer("one")).status_code == 200
        assert session.post(RELOAD, headers=bearer("runs")).status_code == 200
        assert session.get("/v1/alloys", headers=bearer("one")).status_code == 401
        assert session.get("/v1/alloys", headers=bearer("two")).status_code == 200
        path.write_text("[", encoding="utf-8")
        assert_problem(session.post(RELOAD, headers=bearer("runs")), 409, "rules-refused")
        assert session.get("/v1/alloys", headers=bearer("two")).status_code == 200


def test_behind_a_gateway_the_path_is_refused() -> None:
    with TestClient(create_app(Settings(behind_gateway=True, batch_workers=0))) as session:
        problem = assert_problem(session.post(RELOAD), 403, "forbidden")
        assert "SIGHUP" in problem["detail"]


@pytest.mark.skipif(not hasattr(signal, "SIGHUP"), reason="there is no such signal here")
def test_a_signal_has_the_rules_read_anew(folder: Path, tmp_path: Path) -> None:
    import socket

    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
    environment = {
        **os.environ,
        "GLANDWISE_PORT": str(port),
        "GLANDWISE_RULES": str(folder),
        "GLANDWISE_LOG_FORMAT": "json",
    }
    url, until = f"http://127.0.0.1:{port}", time.monotonic() + ENOUGH

    def digest_now() -> Any:
        return httpx2.get(f"{url}/readyz").json()["digests"]["house"]

    with (tmp_path / "log").open("wb") as log:
        server = subprocess.Popen([sys.executable, "-m", "glandwise"], env=environment, stderr=log)
        try:
            while True:
                try:
                    before = digest_now()
                    break
                except httpx2.TransportError:
                    assert server.poll() is None
                    assert time.monotonic() < until
                    time.sleep(0.05)
            write(folder, "2")
            server.send_signal(signal.SIGHUP)
            while digest_now() == before:
                assert time.monotonic() < until
                time.sleep(0.05)
        finally:
            server.terminate()
            server.wait(timeout=ENOUGH)
    told = [json.loads(line) for line in (tmp_path / "log").read_text(encoding="utf-8").splitlines()]
    assert [entry["rule_set"] for entry in told if entry.get("event") == "rules_taken"] == ["house"]


def test_the_desk_before_is_let_go() -> None:
    async def scenario() -> None:
        app = create_app(Settings(batch_workers=0))
        old = app.state.desk
        new = type(old)(old.engine, 0, old.max_batches, old.max_bytes, old)
        with old.turn():
            retiring = asyncio.create_task(app.state.reload._retire(old, new))
            await asyncio.sleep(3 * reload.POLL)
            assert not retiring.done()
            assert not old.closed
        await asyncio.wait_for(retiring, ENOUGH)
        assert old.closed
        assert new._before is None

    asyncio.run(scenario())


def test_the_path_is_no_operation() -> None:
    assert RELOAD not in {row.path for row in OPERATIONS.values()}
