"""What docstrings declare: title, symbols with their units, references.

The form is numpydoc's; the type of a number is its unit: ``d : m`` is a symbol ``d`` in metres, ``pressure : Pa as p`` an
argument ``pressure`` with the symbol ``p``. Names of choices begin with a capital letter and have three letters or more.

A record class declares its fields by the text behind each: ``d [m]: shaft diameter``, or ``[Family]: family`` for a choice.
"""

from __future__ import annotations

import ast
import inspect
import re
import textwrap
from functools import cache
from typing import Any, NamedTuple


class Quantity(NamedTuple):
    """A symbol with its unit and what it is."""

    symbol: str
    unit: str = "-"
    title: str = ""
    is_curve: bool = False

    @property
    def is_choice(self) -> bool:
        """Whether this is a name chosen from a list rather than a number."""
        return self.unit[0].isupper() and self.unit.isalpha() and len(self.unit) > 2


class Declared(NamedTuple):
    """Declarations of a function or of a record."""

    title: str
    given: dict[str, Quantity]
    results: tuple[Quantity, ...]
    references: str
    sections: dict[str, str]


_ENTRY = re.compile(r"^(\w+) : (\S+)(?: as (\S+))?\n((?:    .*\n?)+)", re.MULTILINE)
_SECTION = re.compile(r"^(\w+)\n-{4,}\n", re.MULTILINE)


def _quantities(text: str) -> dict[str, Quantity]:
    found = {}
    for name, unit, symbol, words in _ENTRY.findall(text + "\n"):
        found[name] = Quantity(symbol or name, unit, " ".join(words.split()).rstrip("."))
    return found


@cache
def declared(thing: Any) -> Declared:
    """Read the declarations of a function or of a record class."""
    head, *rest = _SECTION.split(inspect.getdoc(thing) or "")
    sections = dict(zip(rest[::2], rest[1::2], strict=True))
    given = _quantities(sections.get("Parameters", sections.get("Attributes", "")))
    results = tuple(_quantities(sections.get("Returns", "")).values())
    title = head.strip().partition("\n")[0].rstrip(".")
    return Declared(title, given, results, " ".join(sections.get("References", "").split()), sections)


_FIELD = re.compile(r"^(?:(\S+) )?\[(.+?)\]: (.+)$", re.DOTALL)


@cache
def attributes(record: type) -> dict[str, Quantity]:
    """Read the fields of a record class: annotated names, each with a text behind it."""
    body = ast.parse(textwrap.dedent(inspect.getsource(record))).body[0]
    assert isinstance(body, ast.ClassDef)
    found: dict[str, Quantity] = {}
    for field, text in zip(body.body, body.body[1:], strict=False):
        match field, text:
            case (
                ast.AnnAssign(target=ast.Name(id=name), annotation=kind, value=None),
                ast.Expr(value=ast.Constant(value=str() as words)),
            ):
                parts = _FIELD.match(" ".join(words.split()))
                if parts is None:
                    raise ValueError(f"{record.__name__}.{name} declares no unit")
                is_curve = isinstance(kind, ast.Name) and kind.id == "CurveRecord"
                found[name] = Quantity(parts[1] or name, parts[2], parts[3], is_curve)
    return found
