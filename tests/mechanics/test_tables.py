"""Tables are part of the machine code: one that changes has to end the code that was made of it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from glandwise.mechanics import tables
from glandwise.numerics import sources


def test_a_table_that_changes_is_seen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / tables.FOLDER.relative_to(sources.PACKAGE)
    folder.mkdir(parents=True)
    monkeypatch.setattr(sources, "PACKAGE", tmp_path)
    seen = set()
    for value in (1.0, 2.0):
        np.savez(folder / "beams.npz", tip=np.full(3, value))
        seen.add(sources.digest.__wrapped__())
    assert len(seen) == 2


def test_a_table_cannot_be_written_to() -> None:
    table = tables.read("beams.npz")["tip"]
    with pytest.raises(ValueError, match="read-only"):
        table[0, 0, 0] = 0.0
