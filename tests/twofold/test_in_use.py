"""Which formulas answers use: what none uses stands in one list of the documentation, and nothing else does."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import glandwise

SERVICE = Path(glandwise.__file__).parent
PAGE = SERVICE.parents[1] / "docs" / "models" / "not_in_use.md"
Node = tuple[str, str]
"""Module of the mechanics and a name at its top level."""

MODULES = {path.stem: ast.parse(path.read_text("utf-8")) for path in sorted((SERVICE / "twofold").glob("*.py"))}


def names_of(tree: ast.AST) -> dict[str, Node]:
    """What names in a module stand for, of the mechanics; a whole module as ``(module, "")``."""
    found: dict[str, Node] = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("glandwise.twofold"):
            for item in node.names:
                whole = node.module == "glandwise.twofold"
                here = (item.name, "") if whole else (str(node.module).rpartition(".")[2], item.name)
                found[item.asname or item.name] = here
    return found


def references(node: ast.AST, known: dict[str, Node], own: str = "") -> Iterator[Node]:
    """Yield what a piece of code refers to in the mechanics."""
    for part in ast.walk(node):
        if isinstance(part, ast.Attribute) and isinstance(part.value, ast.Name) and part.value.id in known:
            yield known[part.value.id][0], part.attr
        elif isinstance(part, ast.Name):
            yield known.get(part.id, (own, part.id))


def unused() -> set[str]:
    """Public functions of the mechanics that neither an answer nor a table needs."""
    edges: dict[Node, set[Node]] = {}
    functions: set[Node] = set()
    waiting: list[Node] = [(name, "build_table") for name in MODULES]
    for path in SERVICE.rglob("*.py"):
        tree = ast.parse(path.read_text("utf-8"))
        if path.parent.name != "twofold":
            waiting += references(tree, names_of(tree))
    for module, tree in MODULES.items():
        known = names_of(tree)
        for item in tree.body:
            refers = set(references(item, known, module))
            if isinstance(item, ast.FunctionDef | ast.ClassDef):
                edges[module, item.name] = refers
                if isinstance(item, ast.FunctionDef) and not item.name.startswith("_"):
                    functions.add((module, item.name))
            elif isinstance(item, ast.Assign | ast.AnnAssign):
                for target in item.targets if isinstance(item, ast.Assign) else [item.target]:
                    for part in ast.walk(target):
                        if isinstance(part, ast.Name):
                            edges.setdefault((module, part.id), set()).update(refers)
    reached: set[Node] = set()
    while waiting:
        node = waiting.pop()
        if node not in reached:
            reached.add(node)
            waiting += edges.get(node, ())
    return {f"{module}.{name}" for module, name in functions - reached if module != "build_tables"}


def test_what_no_answer_uses_is_listed_and_nothing_else() -> None:
    listed = re.findall(r"^\| `(\w+\.\w+)` \|", PAGE.read_text("utf-8"), re.MULTILINE)
    assert len(listed) == len(set(listed))
    assert set(listed) == unused()
