"""Files of rule sets with their history, each read and checked once for all the sets that have it as it stands.

A set that extends another leaves most of its files as they are, and so does a patch: those are the very same objects there.
What is known of such a file on a date holds in every set: what was read of it, and, beside the same sources and the same bands,
that its records rest on what they name and that its numbers are believed. Trees are never changed, which all of this stands on.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any, get_origin, get_type_hints

from glandwise.rules.model import RuleSetData
from glandwise.rules.overlay import dates, is_date, is_history, newest

TABLES_OF_ENTRIES: tuple[tuple[str, ...], ...] = (
    *((name,) for name, kind in get_type_hints(RuleSetData).items() if get_origin(kind) is dict),
    ("designs", "capacities"),
)
"""Tables whose entries have names that a set may add to."""


class Read:
    """A file on a date, and what is known of it."""

    def __init__(self, content: Any) -> None:
        self.content = content
        """What it states; ``None`` where nothing of it is in force."""
        self.record: Any = None
        """The same as records, once it has been read without a fault."""
        self.rests_on: Read | None = None
        """The sources beside which every record rests on what it names."""
        self.believed: tuple[Read, frozenset[str]] | None = None
        """The bands in which all its numbers lie, with the keys of those that they fall under."""


class File:
    """What a rule set states in one file, with all its history."""

    def __init__(self, name: str, stated: Any) -> None:
        self.name, self.stated = name, stated
        self.dates = sorted(set(dates(stated)))
        self._read: dict[date | None, Read] = {}

    def on(self, day: date) -> Read:
        """Return the file as it stood on a day."""
        key = max((point for point in self.dates if point <= day), default=None)
        if key not in self._read:
            self._read[key] = Read(_in_force(self.name, self.stated, day))
        return self._read[key]


def files_of(tree: Mapping[str, Any], like: Mapping[str, File] | None = None) -> dict[str, File]:
    """Return the files of a tree; those that are the very same in another set are shared with it."""
    held = like or {}
    return {
        name: held[name] if name in held and held[name].stated is stated else File(name, stated)
        for name, stated in tree.items()
    }


def _in_force(name: str, stated: Any, day: date) -> Any:
    """Return a file as it stood on a day, without the named entries of which nothing was in force yet."""
    found = _at(stated, day)
    for file, *inside in TABLES_OF_ENTRIES:
        if file == name:
            found = _without_empty(found, stated, inside)
    return found


def _at(tree: Any, day: date) -> Any:
    """Return a tree as it stood on a day: histories resolved, values not yet in force left out; what stays is not copied."""
    if isinstance(tree, dict):
        if is_date(tree.get("valid_from")) and tree["valid_from"] > day:
            return None
        found = {
            key: there
            for key, value in tree.items()
            if (there := _at(value, day) if isinstance(value, dict | list) else value) is not None
        }
        same = len(found) == len(tree) and all(found[key] is value for key, value in tree.items())
        return tree if same else found
    if is_history(tree):
        in_force = [item for item in tree if item["valid_from"] <= day]
        return _at(newest(in_force), day) if in_force else None
    if isinstance(tree, list) and any(isinstance(value, dict | list) for value in tree):
        return [_at(value, day) for value in tree]
    return tree


def _without_empty(table: Any, stated: Any, inside: list[str]) -> Any:
    """Return a table of entries, or what holds it further inside, without the entries of which nothing is in force."""
    if not isinstance(table, dict) or not isinstance(stated, dict):
        return table
    if inside:
        first, *rest = inside
        held = table.get(first)
        kept = _without_empty(held, stated.get(first), rest)
        return table if kept is held else {**table, first: kept}
    found = {
        name: entry
        for name, entry in table.items()
        if any(True for _ in dates(entry)) or not any(True for _ in dates(stated[name]))
    }
    return table if len(found) == len(table) else found
