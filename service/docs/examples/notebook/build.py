"""Run a notebook from its source and write it with its outputs: ``python service/docs/examples/notebook/build.py``.

The source is plain Python whose cells begin with ``# %%``; text is in cells marked ``[markdown]``.
"""

from __future__ import annotations

import re
from pathlib import Path

import nbformat
from nbclient import NotebookClient
from nbformat import NotebookNode
from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook

HERE = Path(__file__).parent
SOURCE, NOTEBOOK = HERE / "designer.py", HERE / "designer.ipynb"
SECONDS = 300


def cells(source: str) -> list[NotebookNode]:
    """Return the cells of a source, without outputs."""
    found = []
    for part in re.split(r"^# %%", source, flags=re.MULTILINE)[1:]:
        head, _, body = part.partition("\n")
        if "[markdown]" in head:
            text = "\n".join(line.removeprefix("#").removeprefix(" ") for line in body.strip().splitlines())
            found.append(new_markdown_cell(text, id=f"cell-{len(found)}"))
        else:
            found.append(new_code_cell(body.strip(), id=f"cell-{len(found)}"))
    return found


def run(source: Path = SOURCE) -> NotebookNode:
    """Run every cell in a fresh kernel; one that raises stops it."""
    made = new_notebook(cells=cells(source.read_text(encoding="utf-8")))
    made.metadata.kernelspec = {"name": "python3", "display_name": "Python 3", "language": "python"}
    NotebookClient(made, timeout=SECONDS, kernel_name="python3", resources={"metadata": {"path": str(HERE)}}).execute()
    for cell in made.cells:
        cell.metadata.pop("execution", None)  # when it ran
        for output in cell.get("outputs", ()):
            if "image/svg+xml" in output.get("data", {}):
                output.data.pop("text/plain", None)  # the same again
    made.metadata.pop("language_info", None)
    return made


if __name__ == "__main__":
    nbformat.write(run(), NOTEBOOK)
    print(f"written: {NOTEBOOK.name}")
