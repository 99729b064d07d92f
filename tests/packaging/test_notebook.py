"""The notebook of the designer: what it shows is what running it again shows."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import nbformat
import pytest

from service.docs.examples.notebook import build

AGAIN = "run it again: python service/docs/examples/notebook/build.py"


def shown(notebook: Any) -> list[Any]:
    """Return what the cells print and draw; pixels of a plotting library are told by their kind alone."""
    found: list[Any] = []
    for cell in notebook.cells:
        for output in cell.get("outputs", ()):
            data = output.get("data", {})
            found.append(output.get("text") or data.get("image/svg+xml") or sorted(data))
    return found


def test_the_notebook_is_its_source_and_shows_what_it_gives_today() -> None:
    held = nbformat.read(build.NOTEBOOK, as_version=4)
    nbformat.validate(held)
    made = build.run()
    assert [cell.source for cell in held.cells] == [cell.source for cell in made.cells], AGAIN
    assert shown(held) == shown(made), AGAIN
    assert sum((isinstance(item, str) and item.startswith("<?xml")) or "<svg" in item for item in shown(made)) >= 3
    assert not any(output.output_type == "error" for cell in made.cells for output in cell.get("outputs", ()))


def test_a_cell_that_raises_stops_it(tmp_path: Path) -> None:
    source = tmp_path / "source.py"
    source.write_text("# %%\nraise ValueError('no')\n", encoding="utf-8")
    with pytest.raises(Exception, match="ValueError"):
        build.run(source)
