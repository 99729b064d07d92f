"""The page on threats names tests that there are."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def test_every_test_that_the_page_names_is_there() -> None:
    page = (ROOT / "service" / "docs" / "threat-model.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| ([0-9][0-9., ]+) \|.*\| `(tests/\S+)::(\w+)` \|$", page, re.MULTILINE)
    assert len(rows) == len(re.findall(r"^\| \d", page, re.MULTILINE)) >= 30
    for _, file, name in rows:
        assert re.search(rf"^def {name}\(", (ROOT / file).read_text(encoding="utf-8"), re.MULTILINE), f"{file}::{name}"
