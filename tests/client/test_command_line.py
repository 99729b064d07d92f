"""The command ``glandwise``: exit codes, tables, reports that can be read back, and the gates."""

from __future__ import annotations

import csv
import io
import itertools
import json
import os
import shutil
import socket
import subprocess
import sys
import xml.etree.ElementTree as ET
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import httpx
import pyarrow.parquet as pq
import pytest
from glandwise.app import create_app
from glandwise.settings import Settings
from glandwise_client import ConnectionFailed, GlandwiseClient, GlandwiseError, _cli_base, _cli_rules, _http
from glandwise_client._cli import main
from glandwise_client._http import SyncAppTransport

from tests.client.support import DESIGN, DUTY, ROOT

EXAMPLES = ROOT / "service" / "src" / "glandwise" / "contract" / "examples"
BASELINE = ROOT / "service" / "src" / "glandwise" / "rules" / "data" / "baseline"
LIMIT = "designs.capacities.pressure_flexible_lip.limit"
FINE, TRIPPED, UNUSABLE, NO_ANSWER = 0, 1, 2, 3
FAR = "http://seals.invalid"
BY_ENVELOPE = ("--operation", "check_envelope")
"""For comparisons of which it does not matter by what the cases are judged."""


def example(operation: str, name: str) -> dict[str, Any]:
    """Return the request of an example of the contract."""
    request: dict[str, Any] = json.loads((EXAMPLES / operation / f"{name}.json").read_text(encoding="utf-8"))["request"]
    return request


COMPARISON = example("compare_rule_sets", "lower_rated_pressure")
CASES = COMPARISON["cases"]


@pytest.fixture(autouse=True)
def service(app: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """Answer from the application of the tests."""
    answer_from(app, monkeypatch)


def answer_from(app: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """Answer in process, and at one address, from one application."""

    class Known(GlandwiseClient):
        def __init__(self, base_url: str, **options: Any) -> None:
            if base_url == FAR:
                options["transport"] = SyncAppTransport(app)
            super().__init__(base_url, **options)

    monkeypatch.setattr(_http, "load_app", lambda: app)
    monkeypatch.setattr(_cli_base, "GlandwiseClient", Known)
    monkeypatch.delenv("GLANDWISE_URL", raising=False)


def saved(path: Path, content: Any) -> str:
    """Write JSON and return the path."""
    path.write_text(json.dumps(content), encoding="utf-8")
    return str(path)


@pytest.fixture
def cases(tmp_path: Path) -> str:
    path = tmp_path / "quotes.ndjson"
    path.write_text("".join(json.dumps(case) + "\n" for case in CASES), encoding="utf-8")
    return str(path)


@pytest.fixture
def patch(tmp_path: Path) -> str:
    return saved(tmp_path / "patch.json", COMPARISON["candidate"]["patch"])


# One request --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("pressure", "code"), [("29 psi", FINE), ("600 psi", TRIPPED)])
def test_check_prints_a_table_and_tells_a_failure_by_its_exit_code(
    pressure: str, code: int, tmp_path: Path, capsys: Any
) -> None:
    path = saved(tmp_path / "request.json", {"duty": {**DUTY, "pressure": pressure}, "design": DESIGN})
    assert main(["check", path]) == code
    printed = capsys.readouterr().out
    assert "sealed pressure" in printed
    assert ("FAIL" in printed) is (code == TRIPPED)
    assert "fingerprint" in printed
    assert max(len(line) for line in printed.splitlines()) <= 108


def test_check_prints_a_verdict_without_words(tmp_path: Path, capsys: Any) -> None:
    path = saved(tmp_path / "request.json", {"duty": DUTY, "design": DESIGN, "detail": "verdict"})
    assert main(["check", path]) == FINE
    printed = capsys.readouterr().out
    assert "contact_temperature" in printed
    assert "cautions" in printed


def test_units_and_json(tmp_path: Path, capsys: Any) -> None:
    path = saved(tmp_path / "request.json", {"duty": DUTY, "design": DESIGN})
    answers = {}
    for units in ("si", "us"):
        assert main(["check", path, "--units", units, "--json"]) == FINE
        answers[units] = json.loads(capsys.readouterr().out)
    pressure = {
        units: next(item for item in answer["criteria"] if item["id"] == "pressure")["demand"]
        for units, answer in answers.items()
    }
    assert pressure["us"] == {"value": pytest.approx(29.0), "unit": "psi"}
    assert pressure["si"]["value"] == pytest.approx(29.0 * 0.006894757)
    assert pressure["si"]["unit"] == "MPa"


def test_a_request_from_standard_input(capsys: Any, monkeypatch: Any) -> None:
    text = json.dumps({"duty": DUTY, "design": DESIGN}).encode()
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(text)))
    assert main(["check", "-", "--url", FAR]) == FINE
    assert "sealed pressure" in capsys.readouterr().out


@pytest.mark.parametrize(("name", "code"), [("gearbox_input", FINE), ("nothing_passes", TRIPPED)])
def test_select_lists_what_passes_or_says_what_stands_in_the_way(
    name: str, code: int, tmp_path: Path, capsys: Any
) -> None:
    path = saved(tmp_path / "request.json", example("select_design", name))
    assert main(["select", path]) == code
    printed = capsys.readouterr().out
    assert main(["select", path, "--json"]) == code
    answer = json.loads(capsys.readouterr().out)
    flat = " ".join(printed.split())
    for entry in answer["ranked"]:
        assert entry["title"] in flat
    for obstacle in answer["obstacles"]:
        assert obstacle["reason"] in flat
    assert bool(answer["ranked"]) is (code == FINE)


def test_enquire_tells_everything_on_one_screen(tmp_path: Path, capsys: Any) -> None:
    request = example("answer_enquiry", "bakery_mixer")
    assert main(["enquire", saved(tmp_path / "request.json", request)]) == FINE
    shown = capsys.readouterr().out
    for words in ("Enquiry", "Envelope", "Gland", "Thermal fit", "Friction", "Wear", "Blank", "Cautions", "Stamp:"):
        assert words in shown
    assert "drawing of the hardware" in shown
    brief = {**request, "detail": "verdict"}
    assert main(["enquire", saved(tmp_path / "brief.json", brief)]) == FINE
    assert "Gland  " not in capsys.readouterr().out


def test_enquire_writes_the_seal_as_a_shell(tmp_path: Path, capsys: Any) -> None:
    path, shell = saved(tmp_path / "request.json", example("answer_enquiry", "bakery_mixer")), tmp_path / "seal.json"
    assert main(["enquire", path, "--shell", str(shell), "--units", "us"]) == FINE
    assert "Gland" in capsys.readouterr().out
    content = json.loads(shell.read_bytes())
    assert content["submodels"][0]["idShort"] == "SealProposal"
    assert '"unit": "in"' in json.dumps(content)
    assert main(["enquire", path, "--shell", path]) == UNUSABLE
    assert "written over" in capsys.readouterr().err


@pytest.mark.parametrize("found", [True, False])
def test_open_shows_the_sheet(found: bool, tmp_path: Path, capsys: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    opened: list[str] = []
    monkeypatch.setattr("webbrowser.open", lambda url: opened.append(url) or found)
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    request = example("answer_enquiry", "bakery_mixer")
    assert main(["enquire", "--open", saved(tmp_path / "request.json", request)]) == FINE
    (url,) = opened
    (page,) = tmp_path.glob("glandwise-*.html")
    assert url == page.as_uri()
    assert "As fitted" in page.read_text("utf-8")
    assert (str(page) in capsys.readouterr().err) is not found


def test_recheck_of_a_fresh_result_is_the_same_and_of_an_old_one_is_not(tmp_path: Path, capsys: Any) -> None:
    request = example("check_envelope", "gearbox_input_shaft")
    main(["check", saved(tmp_path / "request.json", request), "--json"])
    result = json.loads(capsys.readouterr().out)
    stored = {"operation": "check_envelope", "stored_request": request, "stored_result": result}
    assert main(["recheck", saved(tmp_path / "stored.json", stored), "--pin-date"]) == FINE
    assert "same" in capsys.readouterr().out
    stored["stored_result"] = {"verdict": result["verdict"], "stamp": {"fingerprint": result["stamp"]["fingerprint"]}}
    assert main(["recheck", saved(tmp_path / "stored.json", stored)]) == FINE
    assert "stamp holds             not known" in capsys.readouterr().out
    stored["stored_result"] = {**result, "stamp": {**result["stamp"], "engine": "0.0.1"}}
    assert main(["recheck", saved(tmp_path / "stored.json", stored)]) == TRIPPED
    assert "The stored stamp does not hold" in " ".join(capsys.readouterr().out.split())
    stored["stored_result"] = {**result, "verdict": "pass"}
    assert main(["recheck", saved(tmp_path / "stored.json", stored)]) == TRIPPED
    assert "/verdict: pass -> fail" in capsys.readouterr().out
    old = example("recheck_result", "stored_quote")
    assert main(["recheck", saved(tmp_path / "old.json", old)]) == TRIPPED
    assert "engine changed          yes" in capsys.readouterr().out


# Many requests -----------------------------------------------------------------------------------------------------


def batch_file(path: Path) -> str:
    """Write a file of requests, some of which cannot be answered, and return its path."""
    rows: list[bytes] = [
        json.dumps({"duty": DUTY, "design": DESIGN}).encode(),
        b"",
        b"{",
        json.dumps({"duty": {**DUTY, "pressure": "3 foo"}, "design": DESIGN}).encode(),
        json.dumps({"duty": {**DUTY, "fluid": "unobtainium"}, "design": DESIGN}).encode(),
        b'{"duty": NaN}',
        json.dumps({"duty": {**DUTY, "pressure": "600 psi"}, "design": DESIGN}).encode(),
    ]
    path.write_bytes(b"\xef\xbb\xbf" + b"\r\n".join(rows))
    return str(path)


@pytest.mark.parametrize("where", [["--in-process"], ["--url", FAR]])
@pytest.mark.parametrize("size", [1, 2, 100])
def test_batch_answers_every_line(where: list[str], size: int, tmp_path: Path, capsys: Any, app: Any) -> None:
    path, out = batch_file(tmp_path / "requests.ndjson"), tmp_path / "answers.ndjson"
    command = ["batch", "check_envelope", path, "--out", str(out), "--units", "us", "--size", str(size), *where]
    assert main(command) == TRIPPED
    rows = [json.loads(line) for line in out.read_bytes().splitlines()]
    assert [(row["line"], row["status"]) for row in rows] == [
        (1, 200), (3, 400), (4, None), (5, 422), (6, 400), (7, 200),
    ]  # fmt: skip
    assert [row["result"]["verdict"] for row in (rows[0], rows[-1])] == ["caution", "fail"]
    assert rows[2]["problem"]["errors"] == [
        {"pointer": "/duty/pressure", "detail": "this unit does not fit", "accepted": "Pa, kPa, MPa, bar, psi, kgf/cm2"}
    ]
    assert rows[3]["problem"]["errors"][0]["pointer"] == "/duty/fluid"
    with GlandwiseClient.in_process(app) as client:
        alone = client.fetch("check_envelope", {"duty": DUTY, "design": DESIGN}, units="us")
    assert rows[0]["result"] == json.loads(alone.content)
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.splitlines()[-1] == "6 lines: 1 caution, 1 fail, 4 refused"


def test_batch_from_standard_input_to_standard_output(capsysbinary: Any, monkeypatch: Any) -> None:
    text = (json.dumps({"duty": DUTY, "design": DESIGN}) + "\n").encode() * 3
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(text)))
    assert main(["batch", "estimate_friction", "-"]) == FINE
    rows = [json.loads(line) for line in capsysbinary.readouterr().out.splitlines()]
    assert [row["line"] for row in rows] == [1, 2, 3]
    assert rows[0]["result"] == rows[2]["result"]


def test_a_batch_that_broke_off_goes_on_behind_the_line_that_was_answered(
    tmp_path: Path, capsysbinary: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = batch_file(tmp_path / "requests.ndjson")
    whole = GlandwiseClient.batch

    def broken(self: Any, *arguments: Any, **options: Any) -> Any:
        yield from itertools.islice(whole(self, *arguments, **{**options, "size": 1}), 3)
        raise ConnectionFailed("gone")

    assert main(["batch", "check_envelope", path, "--in-process"]) == TRIPPED
    everything = capsysbinary.readouterr().out
    with monkeypatch.context() as patched:
        patched.setattr(GlandwiseClient, "batch", broken)
        assert main(["batch", "check_envelope", path, "--in-process"]) == NO_ANSWER
        first = capsysbinary.readouterr()
        assert b"go on with --after 4" in first.err
        assert (
            main(["batch", "check_envelope", path, "--in-process", "--out", str(tmp_path / "out.ndjson")]) == NO_ANSWER
        )
        assert b"--after" not in capsysbinary.readouterr().err, "nothing of it is kept"
        assert not (tmp_path / "out.ndjson").exists()
    assert main(["batch", "check_envelope", path, "--in-process", "--after", "4"]) == TRIPPED
    second = capsysbinary.readouterr()
    assert first.out + second.out == everything
    assert second.err.splitlines()[-1] == b"3 lines: 1 fail, 2 refused"
    assert main(["batch", "check_envelope", path, "--in-process", "--after", "7"]) == FINE, "all is answered"
    assert capsysbinary.readouterr().out == b""


def test_batch_says_what_it_cannot_do(tmp_path: Path, capsys: Any) -> None:
    path = batch_file(tmp_path / "requests.ndjson")
    (tmp_path / "empty.ndjson").write_bytes(b"\n\n")
    for command, words in (
        (["audit_rule_set", path], "one request at a time; a batch is for: allow_runout"),
        (["list_fluids", path], "one request at a time"),
        (["check_seal", path], "there is no operation of this name; there are: allow_runout"),
        (["check_envelope", path, "--size", "0"], "at least 1 is needed"),
        (["check_envelope", str(tmp_path / "empty.ndjson")], "no line holds a request"),
        (["check_envelope", str(tmp_path / "missing.ndjson")], "missing.ndjson"),
    ):
        assert main(["batch", *command]) == UNUSABLE, command
        printed = capsys.readouterr()
        assert words in printed.err
        assert printed.out == ""
    assert main(["batch", "check_envelope", path, "--url", "http://127.0.0.1:9"]) == NO_ANSWER


def test_a_line_nested_too_deep_stops_no_other(tmp_path: Path, capsys: Any) -> None:
    good = json.dumps({"duty": DUTY, "design": DESIGN})
    deep = '{"duty":' + '{"a":' * 600 + "1" + "}" * 601
    path, out = tmp_path / "requests.ndjson", tmp_path / "answers.ndjson"
    path.write_text(f"{good}\n{deep}\n{good}\n", encoding="utf-8")
    assert main(["batch", "check_envelope", str(path), "--out", str(out)]) == TRIPPED
    rows = [json.loads(line) for line in out.read_bytes().splitlines()]
    assert [row["line"] for row in rows] == [1, 2, 3]
    assert [row["status"] == 200 for row in rows] == [True, False, True]
    assert main(["check", saved(tmp_path / "deep.json", json.loads(deep))]) == UNUSABLE
    assert "Traceback" not in capsys.readouterr().err


def test_a_key_that_is_there_twice_is_left_to_the_service(tmp_path: Path, capsys: Any) -> None:
    good = json.dumps({"duty": DUTY, "design": DESIGN})
    path, out = tmp_path / "requests.ndjson", tmp_path / "answers.ndjson"
    path.write_text(good[:-1] + ', "duty": {}}\n' + good, encoding="utf-8")
    assert main(["batch", "check_envelope", str(path), "--out", str(out), "--units", "us"]) == TRIPPED
    first, second = (json.loads(line) for line in out.read_bytes().splitlines())
    assert (first["status"], first["problem"]["type"]) == (400, "/problems/invalid-json")
    assert "twice" in first["problem"]["detail"]
    assert second["status"] == 200


# Files that must not be lost ----------------------------------------------------------------------------------------


@pytest.fixture
def same(request: Any, tmp_path: Path) -> Any:
    """Another path of the same file, in each way there is one."""

    def path_of(path: str | Path) -> str:
        path, other = Path(path), tmp_path / f"other{Path(path).suffix}"
        if request.param == "hard link":
            other.hardlink_to(path)
        elif request.param == "symbolic link":
            other.symlink_to(path)
        elif request.param == "other spelling":
            (tmp_path / "folder").mkdir()
            other = tmp_path / "folder" / ".." / path.name
        else:
            other = path
        return str(other)

    return path_of


SAME = pytest.mark.parametrize("same", ["path", "other spelling", "symbolic link", "hard link"], indirect=True)
WHERE_FILES = pytest.mark.parametrize("where", [["--in-process"], ["--url", FAR]], ids=["here", "there"])


@SAME
@WHERE_FILES
def test_a_batch_is_not_written_over_its_requests(same: Any, where: list[str], tmp_path: Path, capsys: Any) -> None:
    path = batch_file(tmp_path / "requests.ndjson")
    before = Path(path).read_bytes()
    assert main(["batch", "check_envelope", path, "--out", same(path), *where]) == UNUSABLE
    assert "written over" in capsys.readouterr().err
    assert Path(path).read_bytes() == before


def test_a_batch_is_not_written_over_standard_input(tmp_path: Path, capsys: Any, monkeypatch: Any) -> None:
    path = Path(batch_file(tmp_path / "requests.ndjson"))
    before = path.read_bytes()
    with path.open(encoding="utf-8") as source:
        monkeypatch.setattr(sys, "stdin", source)
        assert main(["batch", "check_envelope", "-", "--out", str(path)]) == UNUSABLE
    assert "standard input" in capsys.readouterr().err
    assert path.read_bytes() == before


@SAME
@WHERE_FILES
@pytest.mark.parametrize("option", ["--out", "--json", "--markdown", "--junit"])
@pytest.mark.parametrize("read", ["cases", "patch"])
def test_a_comparison_is_not_written_over_what_it_reads(
    read: str, option: str, same: Any, where: list[str], cases: str, patch: str, capsys: Any
) -> None:
    command = ["rules", "compare", "--base", "baseline", "--candidate", patch, "--cases", cases, *where]
    path = Path(cases if read == "cases" else patch)
    before = path.read_bytes()
    assert main([*command, option, same(path)]) == UNUSABLE
    assert "written over" in capsys.readouterr().err
    assert path.read_bytes() == before


def test_outputs_are_not_written_over_one_another(tmp_path: Path, cases: str, patch: str, capsys: Any) -> None:
    report = str(tmp_path / "report")
    compare_them = ["rules", "compare", "--base", "baseline", "--candidate", patch, "--cases", cases]
    assert main([*compare_them, "--json", report, "--junit", report]) == UNUSABLE
    assert "--json" in (said := capsys.readouterr().err)
    assert "--junit" in said
    assert main([*compare_them, "--json", f"{report}.ndjson", "--out", f"{report}.ndjson"]) == UNUSABLE
    assert main(["rules", "audit", "--candidate", patch, "--markdown", patch]) == UNUSABLE
    folder = tmp_path / "house"
    folder.mkdir()
    (folder / "rule_set.toml").write_text("name = 'house'\n", encoding="utf-8")
    command = ["rules", "audit", "--candidate", str(folder), "--json", str(folder / "rule_set.toml")]
    assert main(command) == UNUSABLE
    assert (folder / "rule_set.toml").read_text(encoding="utf-8") == "name = 'house'\n"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["house", "patch.json", "quotes.ndjson"]


@pytest.mark.skipif(os.name != "posix", reason="the null device has another name")
def test_devices_may_be_written_to(cases: str, patch: str, tmp_path: Path) -> None:
    path = batch_file(tmp_path / "requests.ndjson")
    assert main(["batch", "check_envelope", path, "--out", os.devnull]) == TRIPPED
    command = ["rules", "compare", "--base", "baseline", "--candidate", patch, "--cases", cases, *BY_ENVELOPE]
    assert main([*command, "--json", os.devnull, "--junit", os.devnull, "--fail-on", "none"]) == FINE
    assert not Path(os.devnull).is_file()


def test_an_earlier_answer_stays_until_there_is_a_whole_one(tmp_path: Path, capsys: Any, monkeypatch: Any) -> None:
    path, out = batch_file(tmp_path / "requests.ndjson"), tmp_path / "answers.ndjson"
    out.write_text("earlier", encoding="utf-8")
    out.chmod(0o640)
    link = tmp_path / "link.ndjson"
    link.symlink_to(out)
    (tmp_path / "empty.ndjson").write_bytes(b"")
    names = sorted(entry.name for entry in tmp_path.iterdir())
    assert main(["batch", "check_envelope", str(tmp_path / "empty.ndjson"), "--out", str(link)]) == UNUSABLE
    steps = iter(range(3))

    def failing(*_: Any) -> Any:
        if next(steps) == 1:
            raise GlandwiseError("gone")
        return send(*_)

    send = GlandwiseClient._exchange
    monkeypatch.setattr(GlandwiseClient, "_exchange", failing)
    command = ["batch", "check_envelope", path, "--out", str(link), "--size", "1"]
    assert main(command) == NO_ANSWER
    assert out.read_text(encoding="utf-8") == "earlier"
    assert sorted(entry.name for entry in tmp_path.iterdir()) == names
    monkeypatch.setattr(GlandwiseClient, "_exchange", send)
    assert main(command) == TRIPPED
    assert len(out.read_bytes().splitlines()) == 6
    assert (link.is_symlink(), out.stat().st_mode & 0o777) == (True, 0o640)
    assert sorted(entry.name for entry in tmp_path.iterdir()) == names


# What cannot be used, and no answer ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"{", "is not JSON"),
        (b"[1]", "an object is expected"),
        (b'{"a": NaN}', "not a number of JSON"),
        (b'{"duty": {"a": 1, "a": 2}}', 'the key "a" is there twice'),
        (b"\xff\xfe", "is not JSON"),
        (b"[" * 100_000, "is not JSON"),
        (b"{}", "/duty"),
        (json.dumps({"duty": {**DUTY, "fluid": "nectar"}, "design": DESIGN}).encode(), "/duty/fluid"),
        (json.dumps({"duty": {**DUTY, "pressure": 5}, "design": DESIGN}).encode(), "/duty/pressure"),
    ],
)
def test_unusable_requests(content: bytes, words: str, tmp_path: Path, capsys: Any) -> None:
    path = tmp_path / "request.json"
    path.write_bytes(content)
    assert main(["check", str(path)]) == UNUSABLE
    printed = capsys.readouterr()
    assert words in printed.err
    assert printed.out == ""


@pytest.mark.parametrize(
    "arguments",
    [
        [],
        ["check"],
        ["check", "nowhere.json"],
        ["select", "-", "--units", "furlong"],
        ["check", "a.json", "--url", FAR, "--in-process"],
        ["rules"],
        ["rules", "compare", "--base", "baseline"],
        ["rules", "audit", "--samples", "many"],
        *(["check", "-", "--timeout", text] for text in ("nan", "-1", "0", "inf", "1e300", "soon")),
    ],
)
def test_unusable_commands(arguments: list[str], capsys: Any) -> None:
    assert main(arguments) == UNUSABLE
    assert capsys.readouterr().err


def test_help_and_version(capsys: Any) -> None:
    for arguments in (["--help"], ["--version"], ["rules", "compare", "--help"]):
        assert main(arguments) == FINE
        assert "glandwise" in capsys.readouterr().out


def test_no_service_at_the_address(tmp_path: Path, capsys: Any, monkeypatch: Any) -> None:
    with socket.socket() as probe:  # bound and not listening: a connection is refused
        probe.bind(("127.0.0.1", 0))
        url = f"http://127.0.0.1:{probe.getsockname()[1]}"
        path = saved(tmp_path / "request.json", {"duty": DUTY, "design": DESIGN})
        monkeypatch.setattr("glandwise_client._client.time.sleep", lambda _: None)  # between the retries
        assert main(["check", path, "--url", url]) == NO_ANSWER
        assert "not reached" in capsys.readouterr().err
        monkeypatch.setenv("GLANDWISE_URL", url)
        assert main(["check", path]) == NO_ANSWER
        assert main(["check", path, "--in-process"]) == FINE  # stronger than the variable


@pytest.mark.parametrize("status", [401, 404, 500])
def test_an_answer_that_is_a_problem_of_the_service(status: int, tmp_path: Path, capsys: Any, monkeypatch: Any) -> None:
    class Failing(GlandwiseClient):
        def __init__(self, base_url: str, **options: Any) -> None:
            transport = httpx.MockTransport(lambda _: httpx.Response(status, text="no"))
            super().__init__(base_url, **{**options, "transport": transport})

    monkeypatch.setattr(_cli_base, "GlandwiseClient", Failing)
    path = saved(tmp_path / "request.json", {"duty": DUTY, "design": DESIGN})
    assert main(["check", path, "--url", FAR]) == NO_ANSWER
    assert str(status) in capsys.readouterr().err


def test_headers_go_along(tmp_path: Path, monkeypatch: Any, capsys: Any) -> None:
    seen: list[httpx.Request] = []

    class Noting(GlandwiseClient):
        def __init__(self, base_url: str, **options: Any) -> None:
            def answer(request: httpx.Request) -> httpx.Response:
                seen.append(request)
                return httpx.Response(401)

            super().__init__(base_url, **{**options, "transport": httpx.MockTransport(answer)})

    monkeypatch.setattr(_cli_base, "GlandwiseClient", Noting)
    path = saved(tmp_path / "request.json", {"duty": DUTY, "design": DESIGN})
    main(["check", path, "--url", FAR, "--header", "Authorization: Bearer x:y"])
    assert seen[0].headers["authorization"] == "Bearer x:y"
    assert main(["check", path, "--url", FAR, "--header", "Authorization"]) == UNUSABLE
    capsys.readouterr()
    for header in ("X: \u00e9", "\u00e9: x", "X: \u20ac"):
        assert main(["check", path, "--url", FAR, "--header", header]) == UNUSABLE
        assert "ASCII" in capsys.readouterr().err


def test_without_the_service_installed(tmp_path: Path, capsys: Any, monkeypatch: Any, cases: str, patch: str) -> None:
    def missing(*_: Any) -> Any:
        raise ImportError("install glandwise-service", name="glandwise")

    monkeypatch.setattr(_http, "load_app", missing)
    path = saved(tmp_path / "request.json", {"duty": DUTY, "design": DESIGN})
    assert main(["check", path, "--in-process"]) == NO_ANSWER
    assert "install glandwise-service" in capsys.readouterr().err

    def absent(name: str) -> Any:
        raise ModuleNotFoundError(name, name="glandwise")

    monkeypatch.setattr(_cli_rules.importlib, "import_module", absent)
    command = ["rules", "compare", "--base", "baseline", "--candidate", patch, "--cases", cases, "--in-process"]
    assert main(command) == NO_ANSWER
    assert "give --url instead" in capsys.readouterr().err


@pytest.mark.parametrize("missing", ["typer", "rich", "junitparser"])
def test_without_what_the_command_needs(missing: str) -> None:
    script = (
        f"import sys; sys.modules[{missing!r}] = None; from glandwise_client.__main__ import main; sys.exit(main())"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (
        UNUSABLE, f"glandwise: {missing} is not installed; install glandwise-client[cli]\n"
    )  # fmt: skip


def test_as_a_program(tmp_path: Path) -> None:
    path = saved(tmp_path / "request.json", {"duty": {**DUTY, "pressure": "600 psi"}, "design": DESIGN})
    command = [sys.executable, "-m", "glandwise_client", "check", path, "--json"]
    done = subprocess.run(command, capture_output=True, check=False, timeout=120)
    assert done.returncode == TRIPPED, done.stderr
    assert json.loads(done.stdout)["verdict"] == "fail"
    assert done.stderr == b""  # no bar where there is no terminal
    done = subprocess.run([*command[:4], "nowhere.json"], capture_output=True, check=False, timeout=120)
    assert done.returncode == UNUSABLE
    assert b"Traceback" not in done.stderr


# Comparison ---------------------------------------------------------------------------------------------------------


def compare(tmp_path: Path, candidate: str, cases: str, *more: str) -> tuple[int, dict[str, Any], ET.Element, str]:
    """Compare and read every report back; the envelope alone, unless other answers are asked for."""
    if "--operation" not in more:
        more = (*more, *BY_ENVELOPE)
    junit, markdown, report = tmp_path / "junit.xml", tmp_path / "summary.md", tmp_path / "report.json"
    code = main(["rules", "compare", "--base", "baseline", "--candidate", candidate, "--cases", cases, *more,
                 "--junit", str(junit), "--markdown", str(markdown), "--json", str(report)])  # fmt: skip
    root = ET.parse(junit).getroot()
    return code, json.loads(report.read_text(encoding="utf-8")), root, markdown.read_text(encoding="utf-8")


WHERE = pytest.mark.parametrize("where", [["--in-process"], ["--url", FAR]], ids=["in-process", "server"])


@WHERE
def test_a_known_change_is_found_counted_and_attributed(
    where: list[str], tmp_path: Path, cases: str, patch: str, capsys: Any
) -> None:
    code, report, junit, markdown = compare(tmp_path, patch, cases, *where)
    assert code == TRIPPED
    assert report["counts"] == {"same": 1, "shifted": 1, "better": 0, "worse": 1, "refused": 0}
    assert report["verdict"] == "fail"
    (change,) = report["changes"]
    assert (change["key"], change["before"]["value"], change["after"]["value"], change["cases"]) == (LIMIT, 50, 40, 2)
    worst = report["worst"][0]
    assert worst["case_id"] == "quote-2"
    assert worst["criteria"][0]["caused_by"] == [LIMIT]
    assert report["by_family"]["flexible_lip"]["worse"] == 1
    assert report["by_criterion"]["pressure"]["worse"] == 1
    # quote-1 loses 15 % of the capacity as margin, which is more than the thresholds let pass
    assert report["gate"] == {
        "fail_on": "worse",
        "tripped": True,
        "reason": "2 cases worse, 1 value on weaker evidence",
    }

    (suite,) = junit
    assert {name: suite.get(name) for name in ("tests", "failures", "errors", "skipped")} == {
        "tests": "3", "failures": "3", "errors": "0", "skipped": "0",
    }  # fmt: skip
    found = {case.get("name"): case for case in suite.iter("testcase")}
    assert set(found) == {"quote-1", "quote-2", LIMIT}  # what trips the gate without a case stands there, too
    failure = found["quote-2"].find("failure")
    assert failure is not None
    assert LIMIT in str(failure.text)

    assert f"| {LIMIT} | 50 psi -> 40 psi | {report['dates'][0]} | common practice -> house estimate | 2 |" in markdown
    assert worst["as_of"] == report["dates"][0]
    assert "| 1 | 1 | 0 | 1 | 0 | 0 |" in markdown
    assert "| quote-2 |" in markdown
    printed = capsys.readouterr().out
    assert f"{LIMIT}: 50 psi -> 40 psi" in printed
    assert "Gate (worse): tripped, 2 cases worse, 1 value on weaker evidence." in printed


def test_server_and_process_report_the_same(tmp_path: Path, cases: str, patch: str, monkeypatch: Any) -> None:
    monkeypatch.setattr(_cli_rules, "CHUNK", 2)  # so that answers have to be put together
    here = compare(tmp_path, patch, cases, "--in-process", "--out", str(tmp_path / "here.ndjson"))
    there = compare(tmp_path, patch, cases, "--url", FAR, "--out", str(tmp_path / "there.ndjson"))
    assert here[1] == there[1]
    for _, _, junit, _ in (here, there):
        junit[0].attrib.pop("timestamp")
    assert ET.tostring(here[2]) == ET.tostring(there[2])
    assert here[3] == there[3]
    rows = [
        [json.loads(line) for line in (tmp_path / name).read_text(encoding="utf-8").splitlines()]
        for name in ("here.ndjson", "there.ndjson")
    ]
    assert rows[0] == rows[1]
    assert [row["case_id"] for row in rows[0]] == ["quote-1", "quote-2"]


def capacity(value: float) -> dict[str, Any]:
    """Return a patch of the rated pressure of a plain flexible lip."""
    limit = {
        **COMPARISON["candidate"]["patch"]["designs"]["capacities"]["pressure_flexible_lip"]["limit"],
        "value": value, "source": "common-practice", "evidence": "common_practice",  # as it was
    }  # fmt: skip
    return {"designs": {"capacities": {"pressure_flexible_lip": {"limit": limit}}}}


@pytest.mark.parametrize(
    ("value", "mode", "code"),
    [
        (40.0, "worse", TRIPPED),
        (40.0, "any", TRIPPED),
        (40.0, "none", FINE),
        (60.0, "worse", FINE),  # margins shift for the better, no case turns worse
        (60.0, "any", TRIPPED),
        (60.0, "none", FINE),
        (50.0, "worse", FINE),
        (50.0, "any", TRIPPED),  # the same value with another date
    ],
)
def test_what_the_gate_trips_on(value: float, mode: str, code: int, tmp_path: Path, cases: str) -> None:
    candidate = saved(tmp_path / "candidate.json", capacity(value))
    found, report, _, _ = compare(tmp_path, candidate, cases, "--in-process", "--fail-on", mode)
    assert found == code
    assert report["gate"]["tripped"] is (code == TRIPPED)
    assert (report["counts"]["worse"] > 0) is (value == 40.0)


@WHERE
def test_a_set_compared_with_itself_differs_in_nothing(where: list[str], tmp_path: Path, cases: str) -> None:
    code, report, junit, _ = compare(tmp_path, "baseline", cases, *where, "--fail-on", "any")
    assert code == FINE
    assert report["changes"] == report["worst"] == []
    assert report["verdict"] == "pass"
    assert junit.find(".//testcase") is None


def copied(folder: Path, limit: str = "") -> Path:
    """Copy the baseline to a folder of its own, with another rated pressure if one is given."""
    folder.mkdir()
    for path in BASELINE.glob("*.toml"):
        text = path.read_text(encoding="utf-8")
        if path.name == "designs.toml" and limit:
            at = text.index("[capacities.pressure_flexible_lip]")
            head, tail = text[:at], text[at:]
            assert "value = 50.0" in tail
            text = head + tail.replace("value = 50.0", f"value = {limit}", 1)
        (folder / path.name).write_text(text, encoding="utf-8")
    return folder


@WHERE
def test_a_folder_is_a_candidate(where: list[str], tmp_path: Path, cases: str) -> None:
    code, report, _, _ = compare(tmp_path, str(copied(tmp_path / "stricter", "40.0")), cases, *where)
    assert code == TRIPPED
    assert [change["key"] for change in report["changes"]] == [LIMIT]
    assert report["worst"][0]["case_id"] == "quote-2"


HOUSE = """name = "house"
version = "1"
title = "House"
description = "Baseline with one number of our own."
extends = "baseline"
{remove}
"""
OWN = """[capacities.pressure_flexible_lip.limit]
value = 40.0
unit = "psi"
source = "house-estimate"
evidence = "house_estimate"
valid_from = 2026-06-01
note = "invented for this test"
"""


def house(folder: Path, remove: str = "") -> str:
    """Write a set that extends the baseline."""
    folder.mkdir()
    (folder / "rule_set.toml").write_text(HOUSE.format(remove=remove), encoding="utf-8")
    (folder / "designs.toml").write_text(OWN, encoding="utf-8")
    return str(folder)


@WHERE
def test_a_folder_that_extends_the_base_is_a_candidate(where: list[str], tmp_path: Path, cases: str) -> None:
    code, report, _, _ = compare(tmp_path, house(tmp_path / "house"), cases, *where)
    assert code == TRIPPED
    assert [change["key"] for change in report["changes"]] == [LIMIT]
    assert report["candidate"]["name"] == "house"


@WHERE
def test_a_folder_that_takes_something_away_is_a_candidate(where: list[str], tmp_path: Path, cases: str) -> None:
    folder = house(tmp_path / "house", 'remove = ["fluids.mineral_oil_hydraulic"]')
    running = 'lubricant = { name = "engine_oil", source = "house-estimate", evidence = "house_estimate", valid_from = 2026-01-01 }'
    Path(folder, "running.toml").write_text(running, encoding="utf-8")
    code, report, junit, markdown = compare(tmp_path, folder, cases, *where)
    assert code == TRIPPED  # quotes that were judged no longer can be
    assert report["newly_refused"] == report["counts"]["refused"] == len(CASES)
    assert report["gate"]["reason"] == f"{len(CASES)} cases no longer judged, 1 value on weaker evidence"
    assert len(junit.findall(".//error")) == len(CASES)
    assert "fluid: no fluid of this name in the rule set" in markdown


def limit(*entries: tuple[float, str], evidence: str = "house_estimate") -> str:
    """Write the rated pressure of a plain flexible lip with a history."""
    return "".join(
        f'[[capacities.pressure_flexible_lip.limit]]\nvalue = {value}\nunit = "psi"\nsource = "house-estimate"\n'
        f'evidence = "{evidence}"\nvalid_from = {day}\n'
        for value, day in entries
    )


def chained(folder: Path, designs: str, *, version: str = "1") -> Path:
    """Write a chain of rule sets, house on corp on the baseline, and return the folder of house."""
    for name, extends in (("corp", "baseline"), ("house", "corp")):
        (folder / name).mkdir(parents=True, exist_ok=True)
        header = (
            f'name = "{name}"\nversion = "{version}"\ntitle = "T"\ndescription = "Invented."\nextends = "{extends}"\n'
        )
        (folder / name / "rule_set.toml").write_text(header, encoding="utf-8")
    (folder / "corp" / "designs.toml").write_text(designs, encoding="utf-8")
    return folder / "house"


@pytest.fixture
def chain(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, request: Any) -> Any:
    """Compare a chain of sets with the one in force, whose parent rates a lip for 45 psi, here or on a server."""
    chained(tmp_path / "before", limit((45.0, "2026-02-01")))
    monkeypatch.setenv("GLANDWISE_RULES", str(tmp_path / "before"))
    answer_from(create_app(Settings(rules=tmp_path / "before")), monkeypatch)
    where = ["--url", FAR] if request.param == "server" else ["--in-process"]

    def run(designs: str, cases: str, *more: str, **options: str) -> tuple[int, dict[str, Any]]:
        folder = chained(tmp_path / "after", designs, **options)
        code, report, _, _ = compare(tmp_path, str(folder), cases, *where, "--base", "house", *more)
        return code, report

    run.where = where  # type: ignore[attr-defined]
    return run


BOTH = pytest.mark.parametrize("chain", ["in-process", "server"], indirect=True)


@BOTH
def test_the_parents_of_a_candidate_come_from_beside_it(chain: Any, cases: str) -> None:
    code, report = chain(limit((20.0, "2026-02-01")), cases)
    assert code == TRIPPED
    (change,) = report["changes"]
    assert (change["key"], change["before"]["value"], change["after"]["value"]) == (LIMIT, 45.0, 20.0)
    assert {row["case_id"] for row in report["worst"]} == {"quote-1", "quote-2"}


@BOTH
def test_a_parent_that_does_not_stand_beside_the_candidate_is_missed(
    chain: Any, cases: str, tmp_path: Path, capsys: Any
) -> None:
    folder = chained(tmp_path / "after", limit((45.0, "2026-02-01")))
    shutil.rmtree(tmp_path / "after" / "corp")
    for command in (["compare", "--cases", cases], ["audit", "--samples", "64"]):
        line = ["rules", *command, "--base", "house", "--candidate", str(folder), *chain.where]
        assert main(line) == UNUSABLE
        assert "there is no rule set" in capsys.readouterr().err


@BOTH
def test_an_audit_finds_the_parents_of_a_candidate(chain: Any, tmp_path: Path) -> None:
    banded = limit((40.0, "2026-02-01")).replace("flexible_lip.", "flexible_lip_band.")  # less than without a band
    folder = chained(tmp_path / "after", limit((45.0, "2026-02-01")) + banded)
    code, report, _, _ = audit(tmp_path, *chain.where, "--base", "house", "--candidate", str(folder))
    assert code == TRIPPED
    assert [law["id"] for law in report["laws"] if law["status"] == "fail"] == ["reinforced"]


TODAY = datetime.now(UTC).date()
AHEAD = f"{TODAY.year + 2}-01-01"


@BOTH
@pytest.mark.parametrize(
    ("designs", "day"),
    [
        (limit((20.0, "2026-02-01"), (45.0, AHEAD)), TODAY.isoformat()),
        (limit((45.0, "2026-02-01"), (20.0, AHEAD)), AHEAD),
    ],
    ids=["in force, hidden by what is dated ahead", "dated ahead"],
)
def test_a_verdict_turns_on_any_date_from_today(designs: str, day: str, chain: Any, cases: str) -> None:
    code, report = chain(designs, cases)
    assert code == TRIPPED
    assert report["dates"] == [TODAY.isoformat(), AHEAD]
    assert {row["case_id"] for row in report["worst"]} == {"quote-1", "quote-2"}
    assert {row["as_of"] for row in report["worst"]} == {day}
    assert {item["as_of"] for row in report["worst"] for item in row["criteria"]} == {day}
    assert LIMIT in {change["key"] for change in report["changes"] if change["as_of"] == day}


@BOTH
def test_a_past_date_is_looked_at_where_it_is_asked_for(chain: Any, cases: str) -> None:
    designs = limit((20.0, "2026-02-01"), (45.0, "2026-03-01"))
    code, report = chain(designs, cases)
    assert code == FINE
    (change,) = report["changes"]  # the history is another, and nothing was judged by it
    assert (change["key"], change["as_of"], change["exercised"]) == (LIMIT, TODAY.isoformat(), False)
    code, report = chain(designs, cases, "--as-of", "2026-02-15")
    assert code == TRIPPED
    assert report["worst"][0]["as_of"] == "2026-02-15"
    code, report = chain(designs, cases, "--from", "2026-02-10")
    assert code == TRIPPED
    assert report["dates"] == ["2026-02-10", "2026-03-01"]


@BOTH
@pytest.mark.parametrize("option", ["--as-of", "--from"])
def test_a_date_that_cannot_be_meant_is_refused(
    option: str, chain: Any, cases: str, tmp_path: Path, capsys: Any
) -> None:
    folder = chained(tmp_path / "after", limit((45.0, "2026-02-01")))
    line = ["rules", "compare", "--base", "house", "--candidate", str(folder), "--cases", cases, *chain.where]
    assert main([*line, option, "2126-01-01"]) == UNUSABLE
    assert "too far from today" in capsys.readouterr().err


OTHER = """[ptfe_polyimide.poisson_ratio]
value = 0.45
unit = "1"
source = "house-estimate"
evidence = "house_estimate"
valid_from = 2026-02-01
"""
REMARK = """[ptfe_carbon_graphite_25]
note = "Another remark."
"""


@BOTH
@pytest.mark.parametrize("compounds", [OTHER, REMARK], ids=["a compound of no case", "a remark only"])
def test_a_change_that_no_case_exercises_trips_the_strictest_gate(
    compounds: str, chain: Any, cases: str, tmp_path: Path, capsys: Any
) -> None:
    folder = chained(tmp_path / "after", limit((45.0, "2026-02-01")), version="2")
    (folder / "compounds.toml").write_text(compounds, encoding="utf-8")
    line = [str(folder), cases, *chain.where, "--base", "house"]
    code, report, _, markdown = compare(tmp_path, *line, "--fail-on", "any")
    assert code == TRIPPED
    assert [change["exercised"] for change in report["changes"]] == [False]
    assert report["verdict"] == "caution"
    assert report["gate"]["reason"] == "1 changed value not exercised"
    assert "not exercised" in markdown
    assert report["changes"][0]["key"] in capsys.readouterr().out.partition("Not exercised")[2]
    assert compare(tmp_path, *line)[0] == FINE


@BOTH
def test_evidence_alone_and_other_content_under_the_same_version_are_changes(chain: Any, cases: str) -> None:
    designs = limit((45.0, "2026-02-01"), evidence="common_practice")
    code, report = chain(designs, cases, "--fail-on", "any", version="2")
    assert code == TRIPPED
    (change,) = report["changes"]
    assert (change["fields"][0], change["exercised"], report["same_version"]) == ("evidence", False, False)
    assert report["gate"]["reason"] == "1 changed value not exercised"
    code, report = chain(designs, cases, "--fail-on", "any")
    assert report["same_version"]
    assert "other content under the same version" in report["gate"]["reason"]


def test_the_next_version_of_a_house_set_against_the_one_in_force(tmp_path: Path, cases: str, monkeypatch: Any) -> None:
    """The gate of a repository of rules: the main branch beside the proposal (the pages about CI)."""
    (tmp_path / "before").mkdir()
    house(tmp_path / "before" / "house")
    next_one = Path(house(tmp_path / "house"))
    designs = (next_one / "designs.toml").read_text(encoding="utf-8")
    (next_one / "designs.toml").write_text(designs.replace("value = 40.0", "value = 28.0"), encoding="utf-8")
    monkeypatch.setenv("GLANDWISE_RULES", str(tmp_path / "before"))
    code, report, _, _ = compare(tmp_path, str(next_one), cases, "--in-process", "--base", "house")
    assert code == TRIPPED
    (change,) = report["changes"]
    assert (change["key"], change["before"]["value"], change["after"]["value"]) == (LIMIT, 40, 28)
    assert [row["case_id"] for row in report["worst"]] == ["quote-1"]  # 30 psi; quote-2 failed before as well
    code, audited, _, _ = audit(tmp_path, "--in-process", "--candidate", str(next_one))
    assert audited["rule_set"]["name"] == "house"
    assert {law["id"]: law["status"] for law in audited["laws"]}["reinforced"] == "pass"


def flat(tmp_path: Path, **changes: str) -> str:
    """Write three flat rows as CSV."""
    heads = ["case_id", "shaft_diameter [mm]", "rotational_speed [rpm]", "pressure [psi]", "temperature [degC]", "fluid",
             "family", "compound"]  # fmt: skip
    rows = [[name, "60", "300", pressure, "60", "mineral_oil_hydraulic", "flexible_lip", "ptfe_carbon_graphite_25"]
            for name, pressure in (("low", "30"), ("between", "45"), ("high", "300"))]  # fmt: skip
    for name, value in changes.items():
        for row in rows:
            row[heads.index(name)] = value
    path = tmp_path / "quotes.csv"
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([heads, *rows])
    return str(path)


def test_flat_rows_in_this_process_and_not_against_a_server(
    tmp_path: Path, patch: str, capsys: Any, monkeypatch: Any
) -> None:
    out = tmp_path / "rows.parquet"
    code, report, _, _ = compare(tmp_path, patch, flat(tmp_path), "--in-process", "--out", str(out))
    assert code == TRIPPED
    assert [row["case_id"] for row in report["worst"]] == ["between", "low"]  # one fails, one loses margin
    assert {row["case_id"] for row in pq.read_table(out).to_pylist()} == {"low", "between", "high"}
    command = ["rules", "compare", "--base", "baseline", "--candidate", patch, "--cases", flat(tmp_path), "--url", FAR]
    assert main(command) == UNUSABLE
    assert "use --in-process" in capsys.readouterr().err
    rows = tmp_path / "flat.ndjson"
    rows.write_text('{"fluid": "water"}\n', encoding="utf-8")
    assert main([*command[:7], str(rows), "--url", FAR]) == UNUSABLE
    assert "line 1" in capsys.readouterr().err


def test_parquet_without_its_library(tmp_path: Path, patch: str, capsys: Any, monkeypatch: Any) -> None:
    """What is to be installed is said, before a long job where a file is to be written after it."""
    for name in [name for name in sys.modules if name.partition(".")[0] == "pyarrow"]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    quotes = tmp_path / "quotes.parquet"
    quotes.write_bytes(b"PAR1")
    command = ["rules", "compare", "--base", "baseline", "--candidate", patch, "--in-process", "--cases"]
    out = ["--out", str(tmp_path / "rows.parquet")]
    calibrate = ["rules", "calibrate", str(quotes), "--out", str(tmp_path / "rules"), "--in-process"]
    calibrate += ["--kind", "wear", "--rig", "Invented rig", "--closed-on", "2026-03-01"]
    for arguments in ([*command, str(quotes)], [*command, flat(tmp_path), *out], calibrate):
        code = main(arguments)
        assert (code, "install glandwise-service[tables]" in capsys.readouterr().err) == (UNUSABLE, True), arguments
    assert not (tmp_path / "rows.parquet").exists()


def test_a_gate_on_nothing_does_not_pass(tmp_path: Path, patch: str, capsys: Any) -> None:
    command = ["rules", "compare", "--base", "baseline", "--candidate", patch, "--in-process", "--cases"]
    empty = tmp_path / "empty.ndjson"
    empty.write_text("\n", encoding="utf-8")
    assert main([*command, str(empty)]) == UNUSABLE
    assert "holds no case" in capsys.readouterr().err
    assert main([*[*command, str(empty), "--url", FAR][:5], "--cases", str(empty), "--url", FAR]) == UNUSABLE
    capsys.readouterr()
    assert main([*command, flat(tmp_path, fluid="nectar")]) == UNUSABLE
    assert "fluid: no fluid of this name in the rule set" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("quotes.xlsx", b"PK", "unknown ending"),
        ("quotes.parquet", b"no parquet", "quotes.parquet"),
        ("quotes.csv", b"", "is empty"),
        ("quotes.csv", b"colour\nred\n", "no such column"),
        ("quotes.csv", b"fluid\nwater\n", "the column is missing"),
        ("quotes.csv", b"fluid\n\xff\n", "quotes.csv"),
        ("quotes.ndjson", b"nonsense\n", "line 1"),
        ("quotes.ndjson", b'{"duty": {}, "design": {}}\n', "line 1"),
    ],
)
def test_unreadable_cases(name: str, content: bytes, words: str, tmp_path: Path, patch: str, capsys: Any) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    command = ["rules", "compare", "--base", "baseline", "--candidate", patch, "--cases", str(path), "--in-process"]
    assert main(command) == UNUSABLE
    assert words in capsys.readouterr().err


@WHERE
@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"--base": "nowhere"}, "no rule set"),
        ({"--candidate": "nowhere"}, "no rule set"),
        ({"--cases": "nowhere.ndjson"}, "no such file"),
        ({"--junit": "nowhere/junit.xml"}, "no such folder"),
        ({"--fail-on": "sometimes"}, "--fail-on"),
    ],
)
def test_unusable_comparisons(
    where: list[str], change: dict[str, str], words: str, cases: str, patch: str, capsys: Any
) -> None:
    given = {"--base": "baseline", "--candidate": patch, "--cases": cases, **change}
    assert main(["rules", "compare", *where, *(part for pair in given.items() for part in pair)]) == UNUSABLE
    assert words in capsys.readouterr().err


@WHERE
def test_a_candidate_with_a_fault_is_refused_with_its_place(
    where: list[str], tmp_path: Path, cases: str, capsys: Any
) -> None:
    wrong = capacity(40.0)
    wrong["designs"]["capacities"]["pressure_flexible_lip"]["limit"]["unit"] = "furlong"
    command = ["rules", "compare", "--base", "baseline", "--cases", cases, *where, "--candidate"]
    assert main([*command, saved(tmp_path / "wrong.json", wrong)]) == UNUSABLE
    assert "pressure_flexible_lip" in capsys.readouterr().err
    folder = copied(tmp_path / "broken")
    (folder / "designs.toml").write_text("[capacities", encoding="utf-8")
    assert main([*command, str(folder)]) == UNUSABLE
    assert "designs.toml" in capsys.readouterr().err
    (tmp_path / "hollow").mkdir()
    assert main([*command, str(tmp_path / "hollow")]) == UNUSABLE
    assert "rule_set.toml" in capsys.readouterr().err


def test_a_refused_case_is_named_by_its_line(tmp_path: Path, patch: str, capsys: Any, monkeypatch: Any) -> None:
    monkeypatch.setattr(_cli_rules, "CHUNK", 2)
    wrong = json.loads(json.dumps(CASES[0]))
    wrong["duty"]["pressure"]["unit"] = "furlong"
    path = tmp_path / "quotes.ndjson"
    path.write_text("".join(json.dumps(case) + "\n\n" for case in [*CASES, wrong]), encoding="utf-8")
    command = ["rules", "compare", "--base", "baseline", "--candidate", patch, "--cases", str(path), *BY_ENVELOPE]
    for where in (["--in-process"], ["--url", FAR]):
        assert main([*command, *where]) == UNUSABLE
        assert "line 7" in capsys.readouterr().err


@pytest.mark.parametrize("ending", ["csv", "ndjson"])
def test_a_number_without_the_unit_of_its_heading_is_refused(
    ending: str, tmp_path: Path, patch: str, capsys: Any
) -> None:
    row = {"shaft_diameter [mm]": 60, "rotational_speed [rpm]": 300, "pressure": 8, "temperature [°C]": 60,
           "fluid": "mineral_oil_hydraulic", "family": "flexible_lip", "compound": "ptfe_carbon_graphite_25"}  # fmt: skip
    path = tmp_path / f"quotes.{ending}"
    content = json.dumps(row) if ending == "ndjson" else f"{','.join(row)}\n{','.join(map(str, row.values()))}"
    path.write_text(content, encoding="utf-8")
    command = ["rules", "compare", "--base", "baseline", "--candidate", patch, "--cases", str(path), "--in-process"]
    assert main(command) == UNUSABLE
    printed = capsys.readouterr().err
    assert "pressure: the heading has no unit; accepted: pressure [Pa], pressure [kPa], pressure [MPa]" in printed


def test_only_the_worst_cases_are_held_and_what_xml_cannot_hold_is_replaced(
    tmp_path: Path, patch: str, monkeypatch: Any
) -> None:
    rows = [
        "case_id,shaft_diameter [mm],rotational_speed [rpm],pressure [psi],temperature [degC],fluid,family,compound"
    ]
    rows += [f"a\x0b<|{number},60,300,{41 + 0.2 * number},60,mineral_oil_hydraulic,flexible_lip,ptfe_carbon_graphite_25"
             for number in range(30)]  # fmt: skip
    path = tmp_path / "quotes.csv"
    path.write_text("\n".join(rows), encoding="utf-8")
    _, report, junit, markdown = compare(tmp_path, patch, str(path), "--in-process")
    assert report["counts"]["worse"] == 30
    assert len(report["worst"]) == 20
    lost = [-row["criteria"][0]["margin_shift"] for row in report["worst"]]
    assert lost == sorted(lost, reverse=True)
    assert report["worst"][0]["case_id"].endswith("|29")  # most pressure, most margin lost
    cases = {case.get("name"): case for case in junit.iter("testcase")}
    assert len([name for name, case in cases.items() if case.find("failure") is not None]) == 31
    assert LIMIT in cases  # the value on weaker evidence
    assert "a?<|0" in {case.get("name") for case in junit.iter("testcase")}
    assert "and 10 more." in markdown
    assert "\\|29" in markdown


@pytest.mark.slow
@pytest.mark.filterwarnings("default")  # of Dask and what it stands on
def test_workers_report_the_same(tmp_path: Path, cases: str, patch: str, capsys: Any) -> None:
    pytest.importorskip("distributed")
    one = compare(tmp_path, patch, cases, "--in-process")
    two = compare(tmp_path, patch, cases, "--in-process", "--workers", "2")
    assert one[:2] == two[:2]
    assert main(["rules", "compare", "--base", "baseline", "--candidate", patch, "--cases", cases, "--url", FAR,
                 "--workers", "2"]) == UNUSABLE  # fmt: skip


def test_the_bar_is_for_a_terminal(monkeypatch: Any, capsys: Any, cases: str, patch: str) -> None:
    command = ["rules", "compare", "--base", "baseline", "--candidate", patch, "--cases", cases, *BY_ENVELOPE]
    main([*command, "--in-process"])
    assert capsys.readouterr().err == ""
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    main([*command, "--in-process"])
    assert "3 cases" in capsys.readouterr().err


# Audit --------------------------------------------------------------------------------------------------------------


def audit(tmp_path: Path, *more: str) -> tuple[int, dict[str, Any], ET.Element, str]:
    """Audit and read every report back."""
    files = {name: tmp_path / f"audit.{name}" for name in ("junit", "markdown", "json")}
    code = main(["rules", "audit", "--samples", "64", "--seed", "3", *more,
                 *(part for name, path in files.items() for part in (f"--{name}", str(path)))])  # fmt: skip
    return (
        code,
        json.loads(files["json"].read_text(encoding="utf-8")),
        ET.parse(files["junit"]).getroot(),
        files["markdown"].read_text(encoding="utf-8"),
    )


@WHERE
def test_an_audit_of_a_candidate_that_breaks_a_law(where: list[str], tmp_path: Path, capsys: Any) -> None:
    patch = example("audit_rule_set", "banded_below_plain")["candidate"]["patch"]
    code, report, junit, markdown = audit(tmp_path, *where, "--candidate", saved(tmp_path / "patch.json", patch))
    assert code == TRIPPED
    broken = {law["id"]: law for law in report["laws"] if law["status"] == "fail"}
    assert "reinforced" in broken
    cases = {case.get("name"): case for case in junit.iter("testcase")}
    assert set(cases) == {law["id"] for law in report["laws"]}
    assert {name for name, case in cases.items() if case.find("failure") is not None} == set(broken)
    example_text = broken["reinforced"]["counterexamples"][0]["text"]
    assert example_text in str(cases["reinforced"].find("failure").text)  # type: ignore[union-attr]
    assert f"| {broken['reinforced']['title']} | fail |" in markdown
    assert example_text in markdown
    assert example_text in capsys.readouterr().out


@pytest.mark.slow
def test_an_audit_of_a_set_that_holds(tmp_path: Path, capsys: Any) -> None:
    # 64 points are too few to reach every criterion, which is a law of its own
    code, report, junit, _ = audit(tmp_path, "--samples", "512", "--rule-set", "baseline")
    assert code == FINE, capsys.readouterr().out
    assert all(law["status"] == "pass" for law in report["laws"])
    assert junit.find(".//failure") is None


@pytest.mark.slow
def test_an_audit_of_a_folder_is_that_of_the_same_set_by_name(tmp_path: Path) -> None:
    by_name = audit(tmp_path, "--rule-set", "baseline")[1]["laws"]
    assert audit(tmp_path, "--candidate", str(copied(tmp_path / "copy")))[1]["laws"] == by_name


def test_an_unusable_audit(tmp_path: Path, capsys: Any) -> None:
    assert main(["rules", "audit", "--rule-set", "nowhere"]) == UNUSABLE
    assert main(["rules", "audit", "--samples", "1"]) == UNUSABLE
    assert "/samples" in capsys.readouterr().err
