"""Objects of results as a table of HTML, for notebooks. Everything that came is escaped."""

from __future__ import annotations

from collections.abc import Iterator
from html import escape
from typing import Any, Final

from pydantic import BaseModel

from glandwise_client._base import Quantity

LONGEST: Final = 40
"""Rows of a list that are shown."""
DEEPEST: Final = 3
"""Objects within objects that are shown."""
_NOT_SHOWN: Final = ("assumptions", "stamp", "working")
"""Fields that are left to whoever asks for them."""


def _text(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return format(value, ".6g") if isinstance(value, float) else str(value)


def _is_plain(value: Any) -> bool:
    return isinstance(value, (Quantity, str, int, float))


def _plain(item: BaseModel, above: str, depth: int) -> Iterator[tuple[str, str]]:
    """Yield what an object says in a word or a number, and what the objects in it say."""
    for name, value in item:
        place = f"{above}{name}".replace("_", " ")
        if value is None or (name in _NOT_SHOWN and not above):
            continue
        if _is_plain(value):
            yield place, _text(value)
        elif isinstance(value, BaseModel) and depth < DEEPEST:
            yield from _plain(value, f"{above}{name}, ", depth + 1)
        elif isinstance(value, list) and value and all(isinstance(one, str) for one in value):
            yield place, ", ".join(value)


def _lists(item: BaseModel) -> Iterator[tuple[str, list[BaseModel]]]:
    for name, value in item:
        if (
            isinstance(value, list)
            and value
            and all(isinstance(one, BaseModel) for one in value)
            and name not in _NOT_SHOWN
        ):
            yield name, value


def _table(head: list[str], rows: list[list[str]]) -> str:
    def row(tag: str, cells: list[str]) -> str:
        return "<tr>" + "".join(f'<{tag} style="text-align:left">{escape(cell)}</{tag}>' for cell in cells) + "</tr>"

    return f"<table>{row('th', head) if head else ''}{''.join(row('td', cells) for cells in rows)}</table>"


def page(item: BaseModel) -> str:
    """Return an object as HTML: what it says by itself, then a table for each of its lists."""
    parts = [_table([], [[name, value] for name, value in _plain(item, "", 0)])]
    for name, entries in _lists(item):
        said = [{field: _text(value) for field, value in entry if _is_plain(value)} for entry in entries]
        head = list(dict.fromkeys(field for entry in said for field in entry))
        parts.append(f"<p>{escape(name.replace('_', ' '))}</p>")
        shown = [[entry.get(field, "") for field in head] for entry in said[:LONGEST]]
        parts.append(_table([field.replace("_", " ") for field in head], shown))
        if len(said) > LONGEST:
            parts.append(f"<p>and {len(said) - LONGEST} more</p>")
    return "".join(parts)
