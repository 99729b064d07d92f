"""Tables that solvers made, read once when a module of formulas is loaded."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from glandwise.numerics.interpolation import Table

FOLDER = Path(__file__).parent / "made"


def read(file: str) -> dict[str, Table]:
    """Return the arrays of a file by name, in double precision and not to be written to: machine code holds a copy."""
    with np.load(FOLDER / file, allow_pickle=False) as data:
        tables: dict[str, Table] = {name: np.ascontiguousarray(data[name], dtype=np.float64) for name in data.files}
    for table in tables.values():
        table.flags.writeable = False
    return tables
