"""Records as a table (RFC 4180): what each column is, and which rows cannot be taken, with the line and the reason.

A heading that cannot be read refuses the table; a row that cannot be read stops no other.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from math import nan
from typing import Any

import numpy as np

from glandwise import spelling, units
from glandwise.case import flat_cells
from glandwise.case.flat_cells import EMPTY, UNKNOWN
from glandwise.contract.faults import OUTSIDE, WORDS
from glandwise.contract.quantities import Measured
from glandwise.engine import no_such, one_of, refusal

MOST_ROWS = 20_000
"""Rows of a table of records; fits take whole specimens, of which no house has more."""
MOST_LETTERS = 64
"""Letters of the name of a specimen."""
MISSING, NO_NUMBER = WORDS["missing"][0], WORDS["float_type"][0]


@dataclass(frozen=True)
class Column:
    """A column of a kind of records: a number with its unit, one of some words, a name of the rules, or a label."""

    about: str
    """What stands in it, for the guide."""
    needed: bool = True
    measured: Measured | None = None
    words: tuple[str, ...] = ()
    names: str = ""
    """Table of the rules whose names are taken."""
    what: str = ""
    """What bears such a name, in words."""


@dataclass
class Row:
    """A row that was read: numbers in SI, NaN where a cell is empty; texts, empty where it is."""

    line: int
    numbers: dict[str, float] = field(default_factory=dict)
    texts: dict[str, str] = field(default_factory=dict)

    def __getitem__(self, name: str) -> float:
        return self.numbers.get(name, nan)


@dataclass
class Records:
    """A table of records: the rows that can be taken, and why the others cannot."""

    rows: list[Row]
    refused: dict[int, str]
    """Reason by the number of the line in the table."""
    count: int
    """Rows in all."""

    def refuse(self, row: Row, column: str, fault: str, accepted: str) -> None:
        """Refuse a row for what only the rows together can tell."""
        self.refused.setdefault(row.line, _said(column, fault, accepted))

    def taken(self) -> list[Row]:
        """Return the rows that nothing was found against."""
        return [row for row in self.rows if row.line not in self.refused]


def _said(column: str, fault: str, accepted: str) -> str:
    return f"{column}: {fault}; accepted: {accepted}"


def _refusal(detail: str, accepted: str) -> Exception:
    return refusal("out_of_domain", ("records",), detail, accepted)


def _lines(text: str) -> Iterator[tuple[int, list[str]]]:
    """Yield the rows of a table with the number of the line on which each begins."""
    reader = csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline=""), strict=True)
    done = 0
    try:
        for row in reader:
            if any(map(str.strip, row)):
                yield done + 1, row
            done = reader.line_num
    except csv.Error:
        raise _refusal(
            "a line that cannot be read as a row of a table", "rows of cells set apart by commas (RFC 4180)"
        ) from None


def heading(name: str, column: Column) -> str:
    """Write a heading as an example: with a unit where one is needed."""
    if column.measured is None or column.measured.dimension == "ratio":
        return name
    return f"{name} [{units.DIMENSIONS[column.measured.dimension].si_system}]"


def _columns(found: Sequence[str], columns: Mapping[str, Column]) -> dict[str, tuple[int, str]]:
    """Return the place and the unit of every column of a heading."""
    places: dict[str, tuple[int, str]] = {}
    every = ", ".join(heading(name, column) for name, column in columns.items())
    for place, text in enumerate(found):
        name, bracket, rest = text.strip().partition("[")
        name = name.strip()
        column = columns.get(name)
        where = f"heading {place + 1}: "
        if column is None:
            raise _refusal("a heading that is not known", f"{where}{every}")
        if name in places:
            raise _refusal("a heading that is there twice", f"{where}each column once")
        unit = ""
        if column.measured is None:
            if bracket:
                raise _refusal("a unit in the heading of a column that has none", f"{where}{name}")
        else:
            symbols = units.DIMENSIONS[column.measured.dimension].symbols
            ratio = column.measured.dimension == "ratio"
            unit = spelling.find_unit(rest.strip().removesuffix("]"), symbols) or ("1" if ratio and not bracket else "")
            if not unit:
                detail = "a unit that does not fit its column" if bracket else "a heading without its unit"
                said = ", ".join(f"{name} [{one}]" for one in spelling.listed(symbols).split(", "))
                raise _refusal(detail, f"{where}{said}")
        places[name] = place, unit
    for name, column in columns.items():
        if column.needed and name not in places:
            raise _refusal("a column that is needed is missing", heading(name, column))
    return places


def read(text: str, columns: Mapping[str, Column], rules: Mapping[str, Any]) -> Records:
    """Read a table of records. ``rules`` are the tables of the rules by their name.

    Raises
    ------
    ValidationError
        When the table as such cannot be read.
    """
    lines = iter(_lines(text))
    found = next(lines, None)
    if found is None:
        raise _refusal(
            "a table without a heading", ", ".join(heading(name, column) for name, column in columns.items())
        )
    places = _columns(found[1], columns)
    numbers: list[int] = []
    cells: list[list[str]] = []
    refused: dict[int, str] = {}
    width = len(found[1])
    for line, row in lines:
        numbers.append(line)
        if len(row) != width:
            refused[line] = _said("row", f"{len(row)} cells", f"{width}, as in the heading")
        cells.append([*row[:width], *[""] * (width - len(row))])
        if len(cells) > MOST_ROWS:
            raise _refusal("too many rows", f"at most {MOST_ROWS} rows")
    rows = [Row(line) for line in numbers]
    for name, (place, unit) in places.items():
        column = columns[name]
        stood = [row[place] for row in cells]
        if column.measured is not None:
            _numbers(name, column, column.measured, unit, stood, rows, refused)
        else:
            _texts(name, column, stood, rows, refused, rules)
    return Records(rows, refused, len(rows))


def _numbers(
    name: str, column: Column, measured: Measured, unit: str, stood: list[str], rows: list[Row], refused: dict[int, str]
) -> None:
    read_ = flat_cells.numbers(stood, measured, unit)
    accepted = measured.accepted(unit)
    for place, row in enumerate(rows):
        if read_.garbled[place]:
            refused.setdefault(row.line, _said(name, NO_NUMBER, accepted))
        elif read_.outside[place]:
            refused.setdefault(row.line, _said(name, OUTSIDE, accepted))
        elif not read_.filled[place]:
            if column.needed:
                refused.setdefault(row.line, _said(name, MISSING, accepted))
        else:
            row.numbers[name] = float(read_.si[place])


def _texts(
    name: str, column: Column, stood: list[str], rows: list[Row], refused: dict[int, str], rules: Mapping[str, Any]
) -> None:
    known = column.words or (tuple(rules[column.names]) if column.names else ())
    if known:
        code_of = {word: code for code, word in enumerate(known)}
        codes = flat_cells.codes(stood, lambda text: code_of.get(text, UNKNOWN) if text else EMPTY)
        accepted = one_of(known)
        fault = no_such(column.what) if column.names else WORDS["literal_error"][0]
    else:
        codes = np.array([_label(text.strip()) for text in stood], dtype=int)
        accepted, fault = f"a line of 1 to {MOST_LETTERS} letters", WORDS["line_form"][0]
    for row, code, text in zip(rows, codes.tolist(), stood, strict=True):
        if code == UNKNOWN:
            refused.setdefault(row.line, _said(name, fault, accepted))
        elif code == EMPTY:
            if column.needed:
                refused.setdefault(row.line, _said(name, MISSING, accepted))
        else:
            row.texts[name] = text.strip()


def _label(text: str) -> int:
    if not text:
        return EMPTY
    return 0 if len(text) <= MOST_LETTERS and text.isprintable() else UNKNOWN
