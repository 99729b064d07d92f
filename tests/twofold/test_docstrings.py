"""The docstrings of the mechanics are read by machine: names, units and sections must be there, and true."""

from __future__ import annotations

import ast
import importlib
import inspect
import pkgutil
import re
import typing
from typing import Any

import glandwise.twofold
import pytest

SECTIONS = ("Parameters", "Returns", "Raises", "Notes", "References")
UNIT = re.compile(r"\[[^\[\]]+\]")
ENDS_WITH_UNIT = re.compile(r"\[[^\[\]]+\]\.?$")
HEADER = re.compile(r"^(?P<names>\*{0,2}\w+(?:, \*{0,2}\w+)*)(?: : (?P<kind>.+))?$")

MODULES = {
    info.name: importlib.import_module(f"glandwise.twofold.{info.name}")
    for info in pkgutil.iter_modules(glandwise.twofold.__path__)
}


def _public_functions() -> dict[str, Any]:
    """Return every public function of the mechanics by ``module.name``, wrapped and generated ones included."""
    found = {}
    for module_name, module in MODULES.items():
        for name, value in vars(module).items():
            own = getattr(value, "__module__", None) == module.__name__
            if not name.startswith("_") and own and callable(value) and not inspect.isclass(value):
                found[f"{module_name}.{name}"] = inspect.unwrap(value)
    return found


def _tuples() -> dict[str, Any]:
    return {
        f"{module_name}.{name}": value
        for module_name, module in MODULES.items()
        for name, value in vars(module).items()
        if inspect.isclass(value) and value.__module__ == module.__name__ and hasattr(value, "_fields")
    }


FUNCTIONS = _public_functions()
TUPLES = _tuples()


class Docstring(typing.NamedTuple):
    """A docstring taken apart."""

    purpose: str
    between: str
    sections: dict[str, str]


def _read(text: str) -> Docstring:
    lines = inspect.cleandoc(text).splitlines()
    heads = [i for i in range(len(lines) - 1) if lines[i].strip() and set(lines[i + 1]) == {"-"}]
    sections = {}
    for head, end in zip(heads, [*heads[1:], len(lines)], strict=False):
        assert len(lines[head + 1]) == len(lines[head]), f"the rule under {lines[head]} has another length"
        sections[lines[head]] = "\n".join(lines[head + 2 : end]).strip("\n")
    return Docstring(lines[0], "\n".join(lines[1 : heads[0] if heads else len(lines)]), sections)


def _entries(section: str) -> list[tuple[list[str], str]]:
    """Return names and whole text of each entry of a Parameters section."""
    entries: list[tuple[list[str], str]] = []
    for line in section.splitlines():
        if line and not line.startswith(" "):
            match = HEADER.match(line)
            assert match, f"not a parameter: {line!r}"
            entries.append((match["names"].split(", "), match["kind"] or ""))
        elif line.strip():
            names, text = entries[-1]
            entries[-1] = (names, f"{text} {line.strip()}".strip())
    return entries


def _signature(function: Any) -> list[str]:
    stars = {inspect.Parameter.VAR_POSITIONAL: "*", inspect.Parameter.VAR_KEYWORD: "**"}
    return [stars.get(p.kind, "") + p.name for p in inspect.signature(function).parameters.values()]


def test_the_whole_of_mechanics_is_looked_at() -> None:
    sources = {
        f"{name}.{node.name}"
        for name, module in MODULES.items()
        for node in ast.parse(inspect.getsource(module)).body
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_")
    }
    assert sources <= FUNCTIONS.keys()
    assert len(FUNCTIONS) > 140


@pytest.mark.parametrize("name", FUNCTIONS)
def test_function_is_documented(name: str) -> None:
    function = FUNCTIONS[name]
    doc = _read(function.__doc__ or "")
    assert re.fullmatch(r"\S.*\.", doc.purpose), "the first line states the purpose in a sentence"
    assert not doc.between or doc.between.startswith("\n"), "the purpose takes one line"
    assert set(doc.sections) <= set(SECTIONS)
    assert list(doc.sections) == [section for section in SECTIONS if section in doc.sections], "order of the sections"
    assert all(text.strip() for text in doc.sections.values()), "an empty section"
    assert {"Notes", "References"} & doc.sections.keys(), "neither notes nor references"

    entries = _entries(doc.sections.get("Parameters", ""))
    assert [name for names, _ in entries for name in names] == _signature(function)
    for names, text in entries:
        assert ENDS_WITH_UNIT.search(text), f"{names}: no unit at the end of {text!r}"

    if name.split(".")[0] not in {"numeric", "build_tables"}:
        assert ".. math::" in doc.between, "no equation"
    assert "Returns" in doc.sections
    if inspect.signature(function).return_annotation not in {None, "None"}:
        assert UNIT.search(doc.sections["Returns"]) or _returned_tuple(function) is not None, "no unit of the result"


def _returned_tuple(function: Any) -> Any:
    """Return the named tuple that a function returns, if it is one of the mechanics, whose fields have units."""
    module = inspect.getmodule(function)
    result = getattr(module, str(inspect.signature(function).return_annotation), None)
    return result if result in TUPLES.values() else None


@pytest.mark.parametrize("name", [name for name, value in TUPLES.items() if not value.__name__.startswith("_")])
def test_every_field_of_a_result_has_a_unit(name: str) -> None:
    module_name, class_name = name.split(".")
    tree = ast.parse(inspect.getsource(MODULES[module_name]))
    body = next(node for node in tree.body if isinstance(node, ast.ClassDef) and node.name == class_name).body
    fields = {}
    for field, text in zip(body, [*body[1:], ast.Pass()], strict=True):
        if isinstance(field, ast.AnnAssign) and isinstance(field.target, ast.Name):
            value = text.value if isinstance(text, ast.Expr) else None
            fields[field.target.id] = (ast.unparse(field.annotation), value)
    assert tuple(fields) == TUPLES[name]._fields
    for field_name, (kind, value) in fields.items():
        if kind in {tuple_name.split(".")[1] for tuple_name in TUPLES}:
            continue  # its own fields have units
        assert isinstance(value, ast.Constant), f"{field_name} is not described"
        assert UNIT.search(str(value.value)), f"{field_name} has no unit"


def _example(x: float, *rest: float, y: float = 1.0) -> float:
    r"""State a purpose.

    Parameters
    ----------
    x
        First. [m]
    *rest : float
        More [m].
    y : float
        Last, without.

    Returns
    -------
    float
        Something. [-]
    """
    return x + y


def test_the_reader_reads() -> None:
    doc = _read(_example.__doc__ or "")
    assert doc.purpose == "State a purpose."
    assert list(doc.sections) == ["Parameters", "Returns"]
    entries = _entries(doc.sections["Parameters"])
    assert [name for names, _ in entries for name in names] == _signature(_example)
    assert [bool(ENDS_WITH_UNIT.search(text)) for _, text in entries] == [True, True, False]
