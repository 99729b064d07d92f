"""What a docstring declares: title, symbols with their units, references.

The form is numpydoc's; the type of a number is its unit: ``d : m`` is a symbol ``d`` in metres, ``pressure : Pa as p`` an
argument ``pressure`` with the symbol ``p``. Names of choices begin with a capital letter and have three letters or more.
"""

from __future__ import annotations

import inspect
import re
from functools import cache
from typing import Any, NamedTuple


class Quantity(NamedTuple):
    """A symbol with its unit and what it is."""

    symbol: str
    unit: str = "-"
    title: str = ""

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
