"""Lines of keys in TOML texts: complete against the parser, right by hand and by construction."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Callable, Iterator
from datetime import date
from random import Random
from typing import Any

import pytest
from glandwise.rules import positions
from hypothesis import given
from hypothesis import strategies as st

from .conftest import BASELINE


def paths(tree: Any, above: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    items = tree.items() if isinstance(tree, dict) else enumerate(tree) if isinstance(tree, list) else ()
    for key, value in items:
        yield (*above, key)
        yield from paths(value, (*above, key))


def assert_complete(text: str) -> positions.Positions:
    """The scanner finds exactly what the parser finds."""
    found = positions.scan(text)
    assert found.complete
    assert found.duplicate is None
    assert set(found.lines) == set(paths(tomllib.loads(text)))
    return found


@pytest.mark.parametrize("file", sorted(BASELINE.glob("*.toml")), ids=lambda file: file.stem)
def test_the_built_in_files_are_read_completely(file: Any) -> None:
    text = file.read_text(encoding="utf-8")
    found = assert_complete(text)
    # Every key stands, as it is written, on the line that is given for it.
    lines = text.splitlines()
    for path, line in found.lines.items():
        if isinstance(path[-1], str):
            assert path[-1] in lines[line - 1], path


def test_every_way_to_write_a_key() -> None:
    text = """\
# a comment with = and [brackets]
plain = 1
"quoted key" = 2
'literal.key' = 3
dotted . inner."with = sign" = 4
"esc\\u0061ped" = 5

[ table . sub ] # header with blanks
inline = { a = 1, b = { c = "}", d = [1, { e = 2 }] } }
list = [
  1, # first
  # nothing here
  "]", # second, 2 lines on
  [ "x",
    'y' ],
  { k = "v",
  },
]
text = \"\"\"
[not.a.table]
key = "not a key"
\"\"\"
after = '''
it's ''a'' trap = [''''
end = 2026-01-01 00:00:00

[[many]]
name = "first"
[many.part]
x = 1
[[many]]
name = "second"
[[many.deep]]
y = 1
[[many.deep]]
y = 2
"""
    found = positions.scan(text)
    assert found.complete
    lines = text.splitlines()

    def starts(path: tuple[str | int, ...], line_text: str) -> None:
        assert lines[found.lines[path] - 1].strip().startswith(line_text), path

    starts(("plain",), "plain")
    starts(("quoted key",), '"quoted key"')
    starts(("literal.key",), "'literal.key'")
    starts(("dotted", "inner", "with = sign"), "dotted . inner")
    starts(("escaped",), '"esc')
    starts(("table", "sub"), "[ table")
    starts(("table", "sub", "inline", "b", "d", 1, "e"), "inline")
    starts(("table", "sub", "list", 0), "1, # first")
    starts(("table", "sub", "list", 1), '"]", # second')
    starts(("table", "sub", "list", 2, 1), "'y' ]")
    starts(("table", "sub", "list", 3, "k"), '{ k = "v"')
    starts(("table", "sub", "text"), "text")
    starts(("table", "sub", "after"), "after")
    starts(("table", "sub", "end"), "end")
    starts(("many",), "[[many]]")
    starts(("many", 0, "name"), 'name = "first"')
    starts(("many", 0, "part", "x"), "x = 1")
    starts(("many", 1, "name"), 'name = "second"')
    starts(("many", 1, "deep", 0, "y"), "y = 1")
    starts(("many", 1, "deep", 1, "y"), "y = 2")
    assert ("not", "a", "table") not in found.lines
    assert ("table", "sub", "key") not in found.lines


def test_line_of_something_that_is_not_there_is_that_of_what_holds_it() -> None:
    found = positions.scan("[a]\nb = { c = 1 }\n")
    assert found.line(("a", "b", "d", "e")) == 2
    assert found.line(("a", "x")) == 1
    assert found.line(("z",)) is None


@pytest.mark.parametrize(
    ("text", "path", "line", "first"),
    [
        ("a = 1\nb = 2\na = 3\n", ("a",), 3, 1),
        ("[t]\na = 1\n[u]\n[t]\n", ("t",), 4, 1),
        ("t = { a = 1,\n a = 2 }\n", ("t", "a"), 2, 1),
        ("t = 1\n[t]\n", ("t",), 2, 1),
        ("[[t]]\n[t]\n", ("t",), 2, 1),
        ("[t]\n[[t]]\n", ("t",), 2, 1),
        ("a.b = 1\na.b = 2\n", ("a", "b"), 2, 1),
    ],
)
def test_a_second_definition_is_found(text: str, path: tuple[str, ...], line: int, first: int) -> None:
    with pytest.raises(tomllib.TOMLDecodeError):
        tomllib.loads(text)
    assert positions.scan(text).duplicate == positions.Duplicate(path, line, first)


@pytest.mark.parametrize(
    ("text", "last"),
    [
        ("a = 1\nb", ("b",)),
        ("a = 1\n[b", ("a",)),
        ("a = 1\nb = [1, 2", ("b", 1)),
        ('a = 1\nb = "open', ("b",)),
        ("a = [1] b = 2", ("a", 0)),
        ("a = { b = 1", ("a", "b")),
        ('a = 1\n"\\uD800" = 2', ("a",)),
        ("[[a]\n", ()),
    ],
)
def test_what_comes_before_the_end_of_sense_is_kept(text: str, last: tuple[str | int, ...]) -> None:
    found = positions.scan(text)
    assert not found.complete
    assert found.last() == last


class Writer:
    """Write a tree as TOML in one of many layouts, and keep the line on which each thing was begun."""

    def __init__(self, choose: Callable[[], bool]) -> None:
        self.choose = choose
        self.text = ""
        self.lines: dict[tuple[str | int, ...], int] = {}

    def note(self, path: tuple[str | int, ...]) -> None:
        for end in range(1, len(path) + 1):
            self.lines.setdefault(path[:end], self.text.count("\n") + 1)

    def gap(self) -> None:
        self.text += "\n  # [x] = 1\n  " if self.choose() else " "

    def key(self, key: str) -> str:
        return key if re.fullmatch("[A-Za-z0-9_-]+", key) and self.choose() else json.dumps(key, ensure_ascii=False)

    def value(self, path: tuple[str | int, ...], value: Any) -> None:
        if isinstance(value, dict):
            self.text += "{"
            for index, (key, item) in enumerate(value.items()):
                self.text += ", " if index else " "
                self.note((*path, key))
                self.text += f"{self.key(key)} = "
                self.value((*path, key), item)
            self.text += "}"
        elif isinstance(value, list):
            self.text += "["
            for index, item in enumerate(value):
                self.gap()
                self.note((*path, index))
                self.value((*path, index), item)
                self.gap()
                self.text += ","
            self.text += "]"
        elif isinstance(value, str) and "'" not in value and self.choose():
            self.text += f"'''\n{value}'''"
        else:
            self.text += json.dumps(value, ensure_ascii=False) if not isinstance(value, date) else str(value)

    def table(self, path: tuple[str | int, ...], content: dict[str, Any]) -> None:
        later = []
        for key, item in content.items():
            tables = isinstance(item, dict) or (
                isinstance(item, list) and item and all(isinstance(entry, dict) for entry in item)
            )
            if tables and self.choose():
                later.append((key, item))
                continue
            self.note((*path, key))
            self.text += f"{self.key(key)} = "
            self.value((*path, key), item)
            self.text += "\n"
        for key, item in later:
            names = ".".join(self.key(part) for part in (*path, key) if isinstance(part, str))
            for index, entry in enumerate(item) if isinstance(item, list) else ((None, item),):
                inner = (*path, key) if index is None else (*path, key, index)
                self.note(inner)
                self.text += f"[{names}]\n" if index is None else f"[[ {names} ]] # comment\n"
                self.table(inner, entry)


keys = st.text(st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"]), min_size=1, max_size=6)
scalars = st.one_of(
    st.integers(-1000, 1000),
    st.booleans(),
    st.dates(),
    st.text(st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"], include_characters="\n"), max_size=12),
)
values = st.recursive(
    scalars,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(keys, inner, max_size=3),
    max_leaves=12,
)


@given(st.dictionaries(keys, values, max_size=4), st.randoms(use_true_random=False))
def test_whatever_the_layout_every_line_is_right(tree: dict[str, Any], chance: Random) -> None:
    writer = Writer(lambda: chance.random() < 0.5)
    writer.table((), tree)
    assert tomllib.loads(writer.text) == tree
    found = positions.scan(writer.text)
    assert found.complete
    assert found.duplicate is None
    assert found.lines == writer.lines


@given(st.text(alphabet="ab.=[]{}\"'#\n, 1\\", max_size=40))
def test_the_scanner_reads_what_the_parser_reads_and_ends_on_anything_else(text: str) -> None:
    found = positions.scan(text)
    try:
        tree = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return
    assert found.complete
    assert found.duplicate is None
    assert set(found.lines) == set(paths(tree))
