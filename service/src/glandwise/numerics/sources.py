"""Digest of everything that the numbers of an answer are made by: sources of the formulas and their tables."""

from __future__ import annotations

import hashlib
from functools import cache
from pathlib import Path

PACKAGE = Path(__file__).parent.parent
ROOMS = ("numerics", "formulas", "mechanics/tables", "physics", "case")
"""Folders that hold formulas and their tables; ``criteria`` folders of the questions count as well."""


def _files() -> list[Path]:
    folders = [PACKAGE / room for room in ROOMS if (PACKAGE / room).is_dir()]
    folders += sorted((PACKAGE / "questions").glob("**/criteria")) if (PACKAGE / "questions").is_dir() else []
    kinds = {".py", ".npz", ".json"}
    return sorted(path for folder in folders for path in folder.rglob("*") if path.suffix in kinds)


@cache
def digest() -> str:
    """Return the digest of the sources of all formulas, whoever calls whom."""
    total = hashlib.sha256()
    for path in _files():
        content = path.read_bytes()
        total.update(f"{path.relative_to(PACKAGE).as_posix()}\0{len(content)}\0".encode() + content)
    return total.hexdigest()
