"""Where things stand in a TOML text: the line of every key, table and array entry.

The parser of the standard library gives values without positions. This scanner gives positions without values: it
reads the structure only and leaves strings, numbers and dates uninterpreted. It runs when a fault has been found and
must be shown, on texts that may not even be TOML; then it gives what it read before the place where it stopped.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right
from functools import lru_cache
from typing import Final, NamedTuple, TypeAlias

Path: TypeAlias = tuple[str | int, ...]
"""Keys and, for entries of arrays, indices from 0."""

_BLANK: Final = re.compile(r"[ \t]*")
_GAP: Final = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_BARE_KEY: Final = re.compile(r"[A-Za-z0-9_-]+")
_BASIC: Final = re.compile(r'"(?:[^"\\\n]|\\.)*"')
_LITERAL: Final = re.compile(r"'[^'\n]*'")
_LONG_BASIC: Final = re.compile(r'"""(?:[^\\]|\\.)*?"""(?!"(?!""))"{0,2}', re.DOTALL)
_LONG_LITERAL: Final = re.compile(r"'''.*?'''(?!'(?!''))'{0,2}", re.DOTALL)
_SCALAR: Final = re.compile(r"[^,\[\]{}#\r\n]+")
DEEPEST: Final = 32
"""Levels of tables and arrays that are read: three times what any rule takes, far from what the parser cannot bear."""


class Duplicate(NamedTuple):
    """A key that is defined twice."""

    path: Path
    line: int
    first_line: int


class Positions(NamedTuple):
    """What a text holds and where."""

    lines: dict[Path, int]
    """Line of each key, table and entry, counted from 1."""
    duplicate: Duplicate | None
    """First key that is defined twice."""
    complete: bool
    """False where the scanner had to stop, for the text is not TOML or nests too deeply."""
    end: int
    """Line up to which it read."""

    def line(self, path: Path) -> int | None:
        """Return the line of the deepest part of a path that there is, ``None`` when there is none of it."""
        for end in range(len(path), 0, -1):
            if (line := self.lines.get(path[:end])) is not None:
                return line
        return None

    def last(self) -> Path:
        """Return the path of the last thing that begins in the text."""
        return next(reversed(self.lines), ())


class _StopError(Exception):
    """The text cannot be read on."""


class _Scanner:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.starts = [match.end() for match in re.finditer("\n", text)]
        self.lines: dict[Path, int] = {}
        self.assigned: dict[Path, int] = {}
        self.headers: dict[Path, int] = {}
        self.arrays: dict[Path, int] = {}
        self.duplicate: Duplicate | None = None

    def line(self) -> int:
        return bisect_right(self.starts, self.at) + 1

    def take(self, pattern: re.Pattern[str]) -> str:
        match = pattern.match(self.text, self.at)
        if match is None:
            raise _StopError
        self.at = match.end()
        return match[0]

    def peek(self, mark: str) -> bool:
        return self.text.startswith(mark, self.at)

    def expect(self, mark: str) -> None:
        if not self.peek(mark):
            raise _StopError
        self.at += len(mark)

    def note(self, path: Path, line: int) -> None:
        for end in range(1, min(len(path), DEEPEST) + 1):
            self.lines.setdefault(path[:end], line)
        if len(path) > DEEPEST:
            raise _StopError

    def defined(self, path: Path, line: int, *tables: dict[Path, int]) -> None:
        for table in tables:
            if path in table and self.duplicate is None:
                self.duplicate = Duplicate(path, line, table[path])
        tables[0].setdefault(path, line)

    def run(self) -> bool:
        table: Path = ()
        try:
            self.take(_GAP)
            while self.at < len(self.text):
                if self.peek("["):
                    table = self.header()
                else:
                    self.pair(table)
                self.take(_BLANK)
                if self.at < len(self.text) and self.text[self.at] not in "\r\n#":
                    return False
                self.take(_GAP)
        except _StopError:
            return False
        return True

    def key(self) -> list[str]:
        parts: list[str] = []
        while True:
            self.take(_BLANK)
            if self.peek('"'):
                try:
                    parts.append(next(iter(tomllib.loads(self.take(_BASIC) + " = 0"))))
                except tomllib.TOMLDecodeError:
                    raise _StopError from None
            elif self.peek("'"):
                parts.append(self.take(_LITERAL)[1:-1])
            else:
                parts.append(self.take(_BARE_KEY))
            self.take(_BLANK)
            if not self.peek("."):
                return parts
            self.at += 1

    def header(self) -> Path:
        line = self.line()
        many = self.peek("[[")
        self.expect("[[" if many else "[")
        parts = self.key()
        self.expect("]]" if many else "]")
        path: Path = ()
        if len(parts) > DEEPEST:
            self.note(tuple(parts), line)
        for part in parts[:-1]:
            path = (*path, part)
            if path in self.arrays:
                path = (*path, self.arrays[path] - 1)
        path = (*path, parts[-1])
        if many:
            index = self.arrays[path] = self.arrays.get(path, 0) + 1
            self.defined((*path, index - 1), line, self.headers)
            if path in self.assigned or path in self.headers:
                self.defined(path, line, self.headers, self.assigned)
            path = (*path, index - 1)
        else:
            self.defined(path, line, self.headers, self.assigned)
            if path in self.arrays and self.duplicate is None:
                self.duplicate = Duplicate(path, line, self.lines[path])
        self.note(path, line)
        return path

    def pair(self, table: Path) -> None:
        line = self.line()
        path = (*table, *self.key())
        self.note(path, line)
        self.expect("=")
        self.defined(path, line, self.assigned, self.headers)
        self.value(path)

    def value(self, path: Path) -> None:
        self.take(_BLANK)
        if self.peek("["):
            self.array(path)
        elif self.peek("{"):
            self.inline(path)
        elif self.peek('"""'):
            self.take(_LONG_BASIC)
        elif self.peek("'''"):
            self.take(_LONG_LITERAL)
        elif self.peek('"'):
            self.take(_BASIC)
        elif self.peek("'"):
            self.take(_LITERAL)
        else:
            self.take(_SCALAR)

    def array(self, path: Path) -> None:
        self.expect("[")
        index = 0
        self.take(_GAP)
        while not self.peek("]"):
            self.note((*path, index), self.line())
            self.value((*path, index))
            index += 1
            self.take(_GAP)
            if not self.peek("]"):
                self.expect(",")
                self.take(_GAP)
        self.expect("]")

    def inline(self, path: Path) -> None:
        self.expect("{")
        self.take(_GAP)
        while not self.peek("}"):
            self.pair(path)
            self.take(_GAP)
            if not self.peek("}"):
                self.expect(",")
                self.take(_GAP)
        self.expect("}")


@lru_cache(maxsize=16)
def scan(text: str) -> Positions:
    """Return where everything in a TOML text stands."""
    scanner = _Scanner(text)
    complete = scanner.run()
    return Positions(scanner.lines, scanner.duplicate, complete, scanner.line())
