"""Every block of code of README and docs: taken as the language it says, run, sent or read; none is left out."""

from __future__ import annotations

import asyncio
import json
import re
import shutil
import subprocess
import tomllib
from collections import Counter
from collections.abc import Iterator
from datetime import date
from importlib.resources import files
from pathlib import Path
from string import Template
from typing import Any

import distributed
import glandwise_client
import httpx
import pyarrow.csv
import pyarrow.parquet
import pytest
from fastapi.testclient import TestClient
from glandwise_client import GlandwiseClient
from glandwise_client._http import SyncAppTransport, async_app_transport
from sybil import Example, Sybil
from sybil.parsers.markdown import CodeBlockParser

from tests.packaging.test_docs import DOCS, PAGES, VARIABLES, name

SAID_ELSEWHERE = {
    "service/docs/command-line.md": 3,  # tests/client/test_command_line.py
    "service/docs/ci.md": 1,  # a tree of files, tests/client/test_gate.py
    "service/docs/rules.md": 2,  # a tree of files and a fault, tests/rules/test_document.py
    "service/docs/examples/cryogenic_transfer_pump.md": 11,  # reports, tests/client/test_examples.py
    "service/docs/examples/food_mixer_gearbox.md": 12,
    "service/docs/examples/high_pressure_swivel.md": 14,
}
"""Blocks of text or no language by page: what a program prints, or a tree of files, which other tests hold to what is so."""


class Here(GlandwiseClient):
    """Stands in for a client of a running service."""

    def __init__(self, *_: Any, **options: Any) -> None:
        super().__init__(**{**options, "transport": SyncAppTransport(APP["app"])})


class HereAsync(glandwise_client.AsyncGlandwiseClient):
    """The same for asyncio."""

    def __init__(self, *_: Any, **options: Any) -> None:
        super().__init__(**{**options, "transport": async_app_transport(APP["app"])})


APP: dict[str, Any] = {}
CHANGELOG = Path(str(files("glandwise.rules"))) / "CHANGELOG.md"
Cluster = distributed.Client


def python(example: Example) -> None:
    """Run a block; those of one page one after another, with what the first ones made."""
    source = str(example.parsed)
    if re.search("^[^#\n]*in_process\\(\\)", source, re.MULTILINE):  # a client of its own, tests/client/test_clients.py
        return
    client = example.namespace.get("client")
    if not isinstance(client, Here) or client._sender._client.is_closed:
        example.namespace["client"] = Here()
    exec(compile(source, example.path, "exec"), example.namespace)


def toml(example: Example) -> None:
    """Read a block; that rules of a page make a set, and policies a gate, is tested with these."""
    tomllib.loads(str(example.parsed))


def as_json(example: Example) -> None:
    """Read a block, with the variables of the page of the interface."""
    assert isinstance(json.loads(Template(str(example.parsed)).substitute(VARIABLES)), dict)


def csv(example: Example) -> None:
    """Judge a table."""
    answer = TestClient(APP["app"]).post(
        "/v1/envelope-checks", content=str(example.parsed).encode(), headers={"content-type": "text/csv"}
    )
    assert answer.status_code == 200, answer.text
    assert answer.text.count("\n") == str(example.parsed).count("\n")


def sh(example: Example) -> None:
    """Read a block as a shell would; calls of the interface are sent by ``test_docs.py``."""
    found = subprocess.run(["bash", "-n"], input=str(example.parsed), text=True, capture_output=True, check=False)
    assert not found.stderr, found.stderr


def markdown(example: Example) -> None:
    """An entry of a changelog has the points of the one of the rules."""
    points = re.findall(r"^- (\w+):", str(example.parsed), re.MULTILINE)
    assert set(points) <= set(re.findall(r"^- (\w+):", CHANGELOG.read_text(encoding="utf-8"), re.MULTILINE))
    assert points


EVALUATORS = {"python": python, "toml": toml, "json": as_json, "csv": csv, "sh": sh, "markdown": markdown}
SYBIL = Sybil(parsers=[CodeBlockParser(language, evaluator) for language, evaluator in EVALUATORS.items()])
FENCES = re.compile(r"^```(\w*)[^\n]*\n.*?^```", re.DOTALL | re.MULTILINE)


@pytest.fixture
def place(app: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A folder with the files that blocks read, and a service in this process in place of the one that they call."""
    APP["app"] = app
    table = re.findall(
        r"^```csv\n(.*?)^```", (DOCS / "corpus.md").read_text(encoding="utf-8"), re.DOTALL | re.MULTILINE
    )[0]
    (tmp_path / "quotes.csv").write_text(table, encoding="utf-8")
    pyarrow.parquet.write_table(pyarrow.csv.read_csv(tmp_path / "quotes.csv"), tmp_path / "quotes.parquet")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(glandwise_client, "GlandwiseClient", Here)
    monkeypatch.setattr(glandwise_client, "AsyncGlandwiseClient", HereAsync)
    monkeypatch.setattr(distributed, "Client", lambda _: Cluster(processes=False, n_workers=1, dashboard_address=None))

    def post(url: str, **options: Any) -> Any:
        return TestClient(app).post(httpx.URL(url).path, **options)

    monkeypatch.setattr(httpx, "post", post)
    yield tmp_path
    APP.clear()


GIVEN = {"patch": {"aims": {"weights": {"friction": {
    "value": 1.5, "unit": "1", "source": "house-estimate", "evidence": "house_estimate", "valid_from": date(2026, 1, 1)}}}}}  # fmt: skip
"""What a page says that the reader has."""


@pytest.mark.skipif(shutil.which("bash") is None, reason="bash is not installed")
@pytest.mark.parametrize("page", PAGES, ids=name)
@pytest.mark.usefixtures("place")
def test_every_block_of_a_page_is_what_it_says(page: Path, capsys: pytest.CaptureFixture[str]) -> None:
    document = SYBIL.parse(page)
    document.namespace.update(GIVEN)
    examples = list(document)
    found = Counter(FENCES.findall(page.read_text(encoding="utf-8")))
    silent = found.pop("", 0) + found.pop("text", 0)
    assert set(found) <= set(EVALUATORS), "a language that nothing evaluates"
    assert silent == SAID_ELSEWHERE.get(name(page), 0), "a block without a language that no test knows"
    assert len(examples) == found.total()
    for example in examples:
        example.evaluate()
    if "compare" in document.namespace and asyncio.iscoroutinefunction(document.namespace["compare"]):
        assert len(asyncio.run(document.namespace["compare"](["ptfe_carbon_25", "ptfe_glass_15"]))) == 2
    if page.name == "client.md":
        printed = capsys.readouterr().out
        assert "/duty/fluid" in printed
        assert "sealed pressure" in printed
    for value in document.namespace.values():
        if isinstance(value, Here):
            value.close()


def test_the_test_sees_a_block_that_fails(tmp_path: Path) -> None:
    page = tmp_path / "page.md"
    for language, source in (
        ("python", "raise ValueError"),
        ("toml", "a = "),
        ("json", "{"),
        ("sh", "if"),
        ("markdown", "-"),
    ):
        page.write_text(f"```{language}\n{source}\n```\n", encoding="utf-8")
        (example,) = SYBIL.parse(page)
        APP["app"] = None
        example.namespace["client"] = None
        with pytest.raises((ValueError, AssertionError)):
            example.evaluate()
