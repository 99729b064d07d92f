"""The page about the client says what is so."""

from __future__ import annotations

import doctest
import re
from pathlib import Path
from typing import Any

import glandwise_client
import pytest
from glandwise_client import GlandwiseClient, _retry

from tests.client.support import ROOT

PAGE = (ROOT / "service" / "docs" / "client.md").read_text(encoding="utf-8")
README = (ROOT / "README.md").read_text(encoding="utf-8")
TUTORIAL = (ROOT / "service" / "docs" / "tutorial.md").read_text(encoding="utf-8")
BLOCKS = [block for page in (PAGE, README, TUTORIAL) for block in re.findall(r"```python\n(.*?)```", page, re.DOTALL)]


def test_every_example_runs(app: Any, monkeypatch: Any, capsys: Any) -> None:
    class Here(GlandwiseClient):
        """Stands in for a client of a running service."""

        def __init__(self, *_: Any, **options: Any) -> None:
            from glandwise_client._http import SyncAppTransport

            super().__init__(**{**options, "transport": SyncAppTransport(app)})

    class HereAsync(glandwise_client.AsyncGlandwiseClient):
        """The same for asyncio."""

        def __init__(self, *_: Any, **options: Any) -> None:
            from glandwise_client._http import async_app_transport

            super().__init__(**{**options, "transport": async_app_transport(app)})

    namespace: dict[str, Any] = {}
    monkeypatch.setattr(glandwise_client, "GlandwiseClient", Here)
    monkeypatch.setattr(glandwise_client, "AsyncGlandwiseClient", HereAsync)
    opened = []
    for block in BLOCKS:
        if re.search("^[^#\n]*in_process\\(\\)", block, re.MULTILINE):  # a client of its own, tested elsewhere
            continue
        client = namespace.get("client")
        if client is None or client._sender._client.is_closed:
            client = namespace["client"] = Here()
            opened.append(client)
        exec(compile(block, "client.md", "exec"), namespace)
        opened.append(namespace["client"])
    results = namespace["asyncio"].run(namespace["compare"](["ptfe_carbon_25", "ptfe_glass_15"]))
    assert len(results) == 2
    for client in opened:
        client.close()
    printed = capsys.readouterr().out
    assert "/duty/fluid" in printed
    assert "sealed pressure" in printed


def test_the_example_of_the_package_gives_what_it_says(app: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """Word for word, but for the network between client and service; no example of the client is left out."""

    def here(*_: Any, **__: Any) -> glandwise_client.GlandwiseClient:
        return in_process(app)

    in_process = glandwise_client.GlandwiseClient.in_process
    monkeypatch.setattr(glandwise_client, "GlandwiseClient", here)
    for source in Path(glandwise_client.__file__).parent.rglob("*.py"):
        assert "+SKIP" not in source.read_text(encoding="utf-8")
    found = doctest.testmod(glandwise_client)
    assert found.attempted >= 3
    assert found.failed == 0


def test_exceptions_and_statuses_of_the_page_exist() -> None:
    table = PAGE.partition("| exception | when |")[2].partition("`client.explain_problem")[0]
    named = set(re.findall(r"`([A-Z][A-Za-z]+)`", table)) - {"ValueError", "ConnectionError", "TimeoutError"}
    assert named
    assert named <= set(glandwise_client.__all__)
    assert {int(code) for code in re.findall(r"\b(?:408|429|50\d)\b", PAGE)} - {500} == set(_retry.RETRIED_STATUS)
