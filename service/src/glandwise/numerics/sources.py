"""Digest of everything that the numbers of an answer are made by: sources of the formulas and their tables."""

from __future__ import annotations

import hashlib
from functools import cache
from pathlib import Path

PACKAGE = Path(__file__).parent.parent
ROOMS = ("numerics", "mechanics", "physics", "case")
"""Folders that hold formulas and their tables; what the questions have compiled counts as well."""
INTAKE = {
    "flat.py", "flat_cells.py", "hardware_intake.py", "intake.py", "names.py", "override.py", "rows.py", "vocabulary.py",
}  # fmt: skip
"""Files of :mod:`glandwise.case` that take requests in: nothing of them is compiled."""
COMPILED = ("criteria/*.py", "kernel.py", "measure.py")
"""Files of the questions that hold what is compiled."""


def _files() -> list[Path]:
    folders = [PACKAGE / room for room in ROOMS if (PACKAGE / room).is_dir()]
    kinds = {".py", ".npz", ".json"}
    files = [
        path for folder in folders for path in folder.rglob("*") if path.suffix in kinds and path.name not in INTAKE
    ]
    files += [path for pattern in COMPILED for path in (PACKAGE / "questions").glob(f"**/{pattern}")]
    return sorted(files)


@cache
def digest() -> str:
    """Return the digest of the sources of all formulas, whoever calls whom."""
    total = hashlib.sha256()
    for path in _files():
        content = path.read_bytes()
        total.update(f"{path.relative_to(PACKAGE).as_posix()}\0{len(content)}\0".encode() + content)
    return total.hexdigest()
