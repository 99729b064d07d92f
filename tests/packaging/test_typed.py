"""Types say what they hold: no ``Any`` where seals are worked out and judged."""

from __future__ import annotations

import ast
from pathlib import Path

import glandwise

PACKAGE = Path(glandwise.__file__).parent
ROOMS = ("mechanics", "physics", "questions")


def says_any(source: str) -> bool:
    """Tell whether a source takes ``Any`` from :mod:`typing`, by name or through the module."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.ImportFrom) and node.module in {"typing", "typing_extensions"}:
            if any(name.name in {"Any", "*"} for name in node.names):
                return True
        elif isinstance(node, ast.Attribute) and node.attr == "Any":
            return True
    return False


def test_nothing_is_any() -> None:
    files = [path for room in ROOMS for path in (PACKAGE / room).rglob("*.py")]
    found = {path.relative_to(PACKAGE).as_posix() for path in files if says_any(path.read_text("utf-8"))}
    assert len(files) > 100
    assert not found


def test_any_is_seen() -> None:
    assert says_any("from typing import Any, NamedTuple")
    assert says_any("import typing\nx: typing.Any = 1")
    assert not says_any('"""Any."""\nfrom typing import NamedTuple\n# Any')
