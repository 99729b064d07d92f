"""The quoting table of the examples: nothing asked twice, nothing lost, and told what turned; with SQLite and PostgreSQL."""

from __future__ import annotations

import hashlib
import importlib.util
import json
import re
import shlex
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import httpx
import pytest
from glandwise.app import create_app
from glandwise.settings import Settings
from glandwise_client import ConnectionFailed, GlandwiseClient, RetryPolicy, demo

from tests.client import postgresql
from tests.client.support import ROOT

FOLDER = ROOT / "service" / "docs" / "examples" / "quoting"
SCRIPT = FOLDER / "quoting_table.py"
PAGE = (FOLDER / "quoting_table.md").read_text(encoding="utf-8")
PROGRAMS = postgresql.programs()
LIMIT = "capacities.pressure_flexible_lip.limit"
ASKED = "/v1/enquiries"


def _script() -> ModuleType:
    spec = importlib.util.spec_from_file_location("quoting_table", SCRIPT)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


table: Any = _script()


@pytest.fixture(scope="module")
def server() -> Iterator[str]:
    if PROGRAMS is None:
        pytest.skip("PostgreSQL is not installed: the quoting table was tried with SQLite alone")
    with postgresql.running(PROGRAMS) as address:
        yield address


@pytest.fixture(params=["sqlite", "postgresql"])
def address(request: Any, tmp_path: Path, record_property: Any) -> str:
    """A database without tables."""
    if request.param == "sqlite":
        record_property("quoting table tried with", "SQLite")
        return str(tmp_path / "quotes.sqlite")
    found: str = request.getfixturevalue("server")
    with table.Database(found) as database:
        for name in ("quote_line", "quote_answer", "quote_recheck"):
            database.run(f"DROP TABLE IF EXISTS {name}")
        (version,) = database.run("SHOW server_version")
        database.commit()
    record_property("quoting table tried with", f"PostgreSQL {version['server_version'].split()[0]}")
    return found


@pytest.fixture
def database(address: str) -> Iterator[Any]:
    """A database with the invented lines."""
    with table.Database(address) as found:
        table.create(found)
        assert table.sample(found) == len(table.INVENTED) == table.sample(found)
        table.create(found)
        yield found


class Counted:
    """A transport to the service in this process that counts the messages by path, and may fail from one on."""

    def __init__(self, app: Any, fails_from: int | None = None) -> None:
        from glandwise_client._http import SyncAppTransport

        self.inner, self.fails_from = SyncAppTransport(app), fails_from
        self.paths: list[str] = []
        self.transport = httpx.MockTransport(self)

    def __call__(self, request: httpx.Request) -> httpx.Response:
        self.paths.append(request.url.path)
        if self.fails_from is not None and len(self.paths) >= self.fails_from:
            raise httpx.ConnectError("gone", request=request)
        return self.inner.handle_request(request)


def content(database: Any, name: str = "quote_answer") -> list[dict[str, Any]]:
    return [dict(row) for row in database.run(f"SELECT * FROM {name} ORDER BY reference, asked")]


def current(database: Any, reference: str) -> list[str]:
    rows = database.run(
        "SELECT asked FROM quote_answer WHERE is_current AND reference = :reference", reference=reference
    )
    return [row["asked"] for row in rows]


def house(folder: Path, *, header: str = "", designs: str = "") -> Any:
    """Return a service whose rules in force are those of a house, with a change."""
    (folder / "house").mkdir(parents=True)
    named = 'name = "house"\nversion = "1"\ntitle = "T"\ndescription = "Invented."\nextends = "baseline"\n'
    (folder / "house" / "rule_set.toml").write_text(named + header, encoding="utf-8")
    (folder / "house" / "designs.toml").write_text(designs, encoding="utf-8")
    return create_app(Settings(rules=folder, default_rule_set="house", batch_workers=0))


@pytest.fixture(scope="module")
def stricter(tmp_path_factory: Any) -> Any:
    """A service whose house rates a plain lip for less."""
    lowered = (
        f'[[{LIMIT}]]\nvalue = 4.0\nunit = "psi"\nsource = "house-estimate"\nevidence = "house_estimate"\n'
        "valid_from = 2026-02-01\n"
    )
    return house(tmp_path_factory.mktemp("stricter"), designs=lowered)


@pytest.fixture(scope="module")
def without_a_fluid(tmp_path_factory: Any) -> Any:
    """A service whose house knows a fluid less."""
    return house(tmp_path_factory.mktemp("less"), header='remove = ["fluids.white_oil_food_grade"]\n')


def test_every_line_is_answered_once(database: Any, app: Any) -> None:
    counted = Counted(app)
    with GlandwiseClient(transport=counted.transport) as client:
        counts = table.judge(database, client)
        held = content(database)
        assert len(held) == len(table.INVENTED) == sum(counts.values())
        assert all(row["is_current"] for row in held)
        by_reference = {row["reference"]: row for row in held}
        for row in held:
            request = json.loads(row["request"])
            assert row["asked"] == table.digest(request)
            answer = client.fetch("answer_enquiry", request) if row["status"] == 200 else None
            assert answer is None or json.loads(row["answer"]) == json.loads(answer.content)
        assert "/duty/fluid" in by_reference["Q-1004/10"]["summary"]
        assert "rotational_speed" in by_reference["Q-1005/10"]["summary"]
        assert {row["reference"] for row in held if row["verdict"] == "refused"} == {"Q-1004/10", "Q-1005/10"}

        sent = len(counted.paths)
        assert table.judge(database, client) == Counter(held=len(held))
        assert len(counted.paths) == sent, "a second run asks nothing"
        assert content(database) == held


def test_the_digest_does_not_hang_on_the_database(database: Any) -> None:
    """It is the SHA-256 of a text that anybody can write, and the numbers in it are the same from both."""
    (row,) = database.run("SELECT * FROM quote_line WHERE reference = 'Q-1002/10'")
    text = (
        '["answer_enquiry",{"design":{"compound":"ptfe_unfilled","family":"flexible_lip"},"detail":"summary","duty":{"fluid":'
        '"white_oil_food_grade","motion":{"kind":"rotation","rotational_speed":{"unit":"rpm","value":300.0}},"pressure":{"unit":'
        '"bar","value":0.2},"runout":{"unit":"mm","value":0.05},"shaft_diameter":{"unit":"mm","value":45.0},"temperature":'
        '{"normal":{"unit":"degC","value":45.0}}},"pieces":20,"reference":"Q-1002/10"}]'
    )
    assert table.digest(table.request_of(row)) == hashlib.sha256(text.encode("utf-8")).hexdigest()


def test_a_changed_line_is_asked_again_and_the_old_answer_stays(database: Any, client: GlandwiseClient) -> None:
    table.judge(database, client)
    before = content(database)
    (first,) = current(database, "Q-1001/20")
    database.run("UPDATE quote_line SET pressure_bar = 0.3 WHERE reference = 'Q-1001/20'")
    counts = table.judge(database, client)
    assert counts["held"] == len(before) - 1
    assert sum(counts.values()) == len(before)
    (second,) = current(database, "Q-1001/20")
    assert second != first
    assert len(content(database)) == len(before) + 1

    database.run("UPDATE quote_line SET pressure_bar = 2.0 WHERE reference = 'Q-1001/20'")
    assert table.judge(database, client) == Counter(held=len(before)), "it was answered before"
    assert current(database, "Q-1001/20") == [first]


def test_a_run_that_breaks_off_is_taken_up(database: Any, app: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(table.MESSAGE, "size", 2)
    broken = Counted(app, fails_from=3)
    with (
        GlandwiseClient(transport=broken.transport, retry=RetryPolicy(retries=0)) as client,
        pytest.raises(ConnectionFailed),
    ):
        table.judge(database, client)
    held = content(database)
    assert len(held) == 4
    counted = Counted(app)
    with GlandwiseClient(transport=counted.transport) as client:
        counts = table.judge(database, client)
    assert counts["held"] == 4
    assert counted.paths == [ASKED], "only the two that were left"
    assert len(content(database)) == len(table.INVENTED)


def test_what_the_service_puts_off_is_left_for_the_next_run(database: Any, client: GlandwiseClient) -> None:
    def busy(request: httpx.Request) -> httpx.Response:
        problem = {"type": "/problems/too-busy", "title": "Busy", "status": 503, "detail": "later", "errors": []}
        lines = [
            json.dumps({"line": number, "status": 503, "problem": problem})
            for number, _ in enumerate(request.content.splitlines(), start=1)
        ]
        return httpx.Response(200, text="\n".join(lines), headers={"Content-Type": "application/x-ndjson"})

    transport = httpx.MockTransport(busy)
    with GlandwiseClient(transport=transport, retry=RetryPolicy(retries=0)) as other:
        assert table.judge(database, other) == Counter({"put off": len(table.INVENTED)})
        assert content(database) == []
        table.judge(database, client)
        assert table.recheck(database, other) == Counter({"put off": len(table.INVENTED)})
    assert content(database, "quote_recheck") == []


def test_nothing_turns_while_the_rules_stay(database: Any, client: GlandwiseClient) -> None:
    table.judge(database, client)
    held = content(database)
    for _ in range(2):
        assert table.recheck(database, client) == Counter(stands=len(held))
        assert len(content(database, "quote_recheck")) == len(held), "a row an answer, however often it is checked"
        assert table.turned(database) == []
    assert content(database) == held


def test_a_quote_that_turned_is_told_with_the_rule_that_did_it(
    database: Any, client: GlandwiseClient, stricter: Any
) -> None:
    table.judge(database, client)
    held = content(database)
    with GlandwiseClient.in_process(stricter) as later:
        counts = table.recheck(database, later)
        assert counts["turned"] >= 1
        assert counts["stands"] >= 1
        rows = {row["reference"]: row for row in table.turned(database)}
        assert len(rows) == counts["turned"]
        row = rows["Q-1001/20"]  # 2 bar on a lip that is rated for 4 psi from now on
        assert row["verdict_after"] == "fail" != row["verdict_before"]
        assert LIMIT in row["why"]
        assert "is 4.0 psi" in row["why"]
        assert "rules changed" in row["why"]
        seen = row["turned_at"]
        assert content(database) == held, "what the customer was told stays as it is"

        table.recheck(database, later)
        assert {row["reference"]: row["turned_at"] for row in table.turned(database)}["Q-1001/20"] == seen

        # whoever looked at it asks anew: that is the answer from then on, and it holds
        counts = table.judge(database, later, again=["Q-1001/20"])
        assert counts == Counter(held=len(held) - 1, fail=1)
        assert "Q-1001/20" not in {row["reference"] for row in table.turned(database)}
        assert len(content(database)) == len(held), "the same was asked: the same row"
        table.recheck(database, later)
        assert "Q-1001/20" not in {row["reference"] for row in table.turned(database)}

    # rules that are taken back turn it back; a quote that is closed is nobody's business any more
    table.recheck(database, client)
    assert [row["reference"] for row in table.turned(database)] == ["Q-1001/20"]
    database.run("UPDATE quote_line SET is_open = false WHERE reference = 'Q-1001/20'")
    assert table.turned(database) == []
    assert table.judge(database, client)["held"] == len(held) - 1


def test_refused_then_or_now_is_a_turn(database: Any, client: GlandwiseClient, without_a_fluid: Any) -> None:
    with GlandwiseClient.in_process(without_a_fluid) as other:
        table.judge(database, client)
        assert table.recheck(database, other) == Counter(stands=len(table.INVENTED) - 1, turned=1)
        (row,) = table.turned(database)
        assert (row["reference"], row["verdict_after"]) == ("Q-1002/10", "refused")
        assert row["why"].startswith("The service refuses it now: /stored_request/duty/fluid")

        database.run("DELETE FROM quote_answer")
        database.run("DELETE FROM quote_recheck")
        assert table.judge(database, other)["refused"] == 3
    table.recheck(database, client)
    (row,) = table.turned(database)
    assert (row["reference"], row["verdict_before"]) == ("Q-1002/10", "refused")
    assert row["verdict_after"] in {"pass", "caution"}
    assert row["why"].startswith("It was refused and is answered now")


@pytest.fixture(scope="module")
def url() -> Iterator[str]:
    with demo.running_service() as url:
        yield url


@pytest.mark.slow
def test_the_script_runs_as_the_page_says(address: str, url: str, tmp_path: Path) -> None:
    """With one service for all that is asked, but for the first lines in SQLite, which the script answers by itself."""
    itself = address.endswith(".sqlite")

    def run(*arguments: str) -> subprocess.CompletedProcess[str]:
        command = [sys.executable, "-W", "error", str(SCRIPT), "--database", address, *arguments]
        return subprocess.run(command, capture_output=True, text=True, encoding="utf-8", timeout=120, cwd=tmp_path)

    there = ("--url", url)
    for command, where, says in (
        ("create", (), ""), ("sample", (), "6 invented lines"), ("judge", () if itself else there, "2 refused"),
        ("judge", there, "6 held"), ("recheck", there, "6 stands"), ("turned", (), ""),
    ):  # fmt: skip
        done = run(*where, command)
        assert (done.returncode, done.stderr) == (0, ""), command
        assert says in done.stdout
    done = run("--url", "http://127.0.0.1:9", "judge", "--again", "Q-1001/10")
    assert done.returncode == 2
    assert "run it again" in done.stderr


def test_the_page_says_what_is_so() -> None:
    columns = set()
    for statement in table.TABLES:
        name, _, body = statement.partition("CREATE TABLE IF NOT EXISTS ")[2].partition(" (")
        assert f"`{name}`" in PAGE
        columns |= set(re.findall(r"^\s+([a-z_]+) (?:text|boolean|double|integer|timestamp)", body, re.MULTILINE))
    named = set(re.findall(r"`([a-z]+_[a-z_]+)`", PAGE)) - {"quote_line", "quote_answer", "quote_recheck"}
    functions = {name for name in named if callable(getattr(table, name, None))}
    operations = {"answer_enquiry", "recheck_result"}
    assert named - functions - operations <= columns
    assert "request_of" in functions
    commands = [line for block in re.findall(r"```sh\n(.*?)```", PAGE, re.DOTALL) for line in block.splitlines()]
    calls = [
        shlex.split(line.partition("quoting_table.py ")[2], comments=True)
        for line in commands
        if "quoting_table.py" in line
    ]
    assert {table.parser().parse_args(call).command for call in calls} == {
        "create",
        "sample",
        "judge",
        "recheck",
        "turned",
    }
