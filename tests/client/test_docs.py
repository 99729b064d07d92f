"""The page about the client says what is so."""

from __future__ import annotations

import doctest
import re
from pathlib import Path
from typing import Any

import glandwise_client
import pytest
from glandwise_client import _retry

from tests.client.support import ROOT

PAGE = (ROOT / "service" / "docs" / "client.md").read_text(encoding="utf-8")


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
